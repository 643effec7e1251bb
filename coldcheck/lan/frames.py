"""Ethernet frames: sizes, what tunnels take, and how much of a line is left for what a TCP stream carries.

Sizes are octets. A frame runs from its header to its check sequence; preamble and gap are on the wire beside it.
"""

PREAMBLE = 8
"""Preamble and start delimiter [octet]. Source: IEEE 802.3, read (secondary)."""
GAP = 12
"""Least gap between frames [octet]. Source: IEEE 802.3, read (secondary)."""
HEADER = 14
"""Two addresses and the type [octet]. Source: IEEE 802.3, read (secondary)."""
FCS = 4
"""Frame check sequence [octet]. Source: IEEE 802.3, read (secondary)."""
TAG = 4
"""One VLAN tag [octet]. Source: IEEE 802.1Q, read (secondary)."""

SHORTEST = 64
"""Shortest frame [octet]; less is padded. Source: IEEE 802.3, read (secondary)."""
LONGEST = 1518
"""Longest frame without a tag [octet]. Source: IEEE 802.3, read (secondary)."""
LONGEST_TAGGED = 1522
"""Longest frame with one tag [octet]. Source: IEEE 802.3, read (secondary)."""
LONGEST_ENVELOPE = 2000
"""Longest frame with all its tags and envelopes [octet]. Source: IEEE 802.3as (from memory)."""

MTU = 1500
"""IP MTU of ordinary Ethernet [octet]. Source: IEEE 802.3; RFC 894 (from memory)."""
JUMBO_MTU = 9000
"""The IP MTU usual where frames are longer than any standard grants [octet]. Source: common practice."""
LEAST_LINK_MTU = {4: 68, 6: 1280}
"""The least MTU of a link [octet] by IP family. Source: RFC 791, RFC 8200, read (secondary)."""

IP_HEADER = {4: 20, 6: 40}
"""IP header without options [octet] by family. Source: RFC 791, RFC 8200."""
TCP_HEADER = 20
"""TCP header without options [octet]. Source: RFC 9293."""
TCP_TIMESTAMPS = 12
"""The timestamp option, padded [octet]. Source: RFC 7323 appendix A, read (secondary)."""
UDP_HEADER = 8
"""UDP header [octet]. Source: RFC 768."""

# Source: the layouts in the documents named (all from memory). VXLAN carries a whole frame without its check
# sequence: header 14, VXLAN 8, UDP 8. GRE is the header of four octets, without key and checksum. PPPoE is six
# octets and two of PPP.
TUNNELS = {
    "VXLAN over IPv4": HEADER + 8 + UDP_HEADER + IP_HEADER[4],
    "VXLAN over IPv6": HEADER + 8 + UDP_HEADER + IP_HEADER[6],
    "GRE over IPv4": 4 + IP_HEADER[4],
    "GRE over IPv6": 4 + IP_HEADER[6],
    "IP in IPv4": IP_HEADER[4],
    "IP in IPv6": IP_HEADER[6],
    "PPPoE": 6 + 2,
}
"""What a tunnel takes of the IP MTU it runs over [octet], inner frames untagged. Source: RFC 7348 (VXLAN), RFC 2784
(GRE), RFC 2003, RFC 4213, RFC 2473 (IP in IP), RFC 2516 (PPPoE), all from memory."""


def frame_of(packet: int, tags: int = 0) -> int:
    """The frame [octet] that carries an IP packet.

    packet [octet]: above 0, for the longest frame the IP MTU; tags [-]: VLAN tags in it, 0 to 2. A short one is
    padded to `SHORTEST`; that a tagged frame may be as short as that is from memory (IEEE 802.1Q).
    Errors: ValueError outside these ranges.
    Source: IEEE 802.3, IEEE 802.1Q: 18, 22, 26 octets more than the packet.
    """
    if packet <= 0:
        raise ValueError(f"a packet of {packet} octets is none")
    return max(SHORTEST, packet + _around(tags))


def mtu_of(frame: int, tags: int = 0) -> int:
    """The IP MTU [octet] that a longest frame leaves.

    frame [octet]: `SHORTEST` or more; tags [-]: VLAN tags in it, 0 to 2. The inverse of `frame_of`.
    Errors: ValueError outside these ranges. Source: as `frame_of`.
    """
    if frame < SHORTEST:
        raise ValueError(f"a frame of {frame} octets is shorter than {SHORTEST}")
    return frame - _around(tags)


def _around(tags: int) -> int:
    if not 0 <= tags <= 2:
        raise ValueError(f"{tags} tags: a frame has 0, 1 or 2")
    return HEADER + FCS + tags * TAG


def inner_mtu(outer_mtu: int, tunnel: str) -> int:
    """The IP MTU [octet] inside a tunnel; nothing is promised to be left: hold it against `LEAST_LINK_MTU`.

    outer_mtu [octet]: IP MTU of the path under the tunnel; tunnel [-]: a key of `TUNNELS`.
    Errors: ValueError for another tunnel. Source: `TUNNELS`.
    """
    return outer_mtu - _taken(tunnel)


def outer_mtu(inner_mtu: int, tunnel: str) -> int:
    """The IP MTU [octet] that the path under a tunnel needs, so that packets inside need no cutting.

    inner_mtu [octet]: IP MTU inside; tunnel [-]: a key of `TUNNELS`. The inverse of `inner_mtu`.
    Errors: ValueError for another tunnel. Source: `TUNNELS`.
    """
    return inner_mtu + _taken(tunnel)


def _taken(tunnel: str) -> int:
    octets = TUNNELS.get(tunnel)
    if octets is None:
        raise ValueError(f"{tunnel[:40]!r} is no tunnel known here; known are {', '.join(TUNNELS)}")
    return octets


def goodput_share(mtu: int = MTU, family: int = 4, *, timestamps: bool = False, tags: int = 0) -> float:
    """The share [1] of the bits on a line that a TCP stream of full packets carries for its user, one way.

    mtu [octet]: IP MTU; family [-]: 4 or 6; timestamps [-]: whether TCP sends them, as most systems do (common
    practice); tags [-]: VLAN tags, 0 to 2. Answers that go back, losses and a slow start are not counted, so this is
    the most that can be seen.
    Errors: ValueError where the MTU is below the least of the family, or for other tags.
    Formula: (mtu - IP header - TCP header - options) / (frame + preamble + gap).
    Source: IEEE 802.3, RFC 791, RFC 8200, RFC 9293, RFC 7323.
    """
    if mtu < LEAST_LINK_MTU[family]:
        raise ValueError(
            f"an MTU of {mtu} octets is below {LEAST_LINK_MTU[family]}, the least of IPv{family}"
        )
    carried = mtu - IP_HEADER[family] - TCP_HEADER - (TCP_TIMESTAMPS if timestamps else 0)
    return carried / wire_octets(frame_of(mtu, tags))


def goodput(
    bits: float, mtu: int = MTU, family: int = 4, *, timestamps: bool = False, tags: int = 0
) -> float:
    """What a TCP stream carries for its user [bit/s] at most.

    bits [bit/s]: speed of the line; the rest, errors and source as `goodput_share`.
    """
    return bits * goodput_share(mtu, family, timestamps=timestamps, tags=tags)


def wire_octets(frame: int) -> int:
    """The room [octet] that a frame takes on the wire: preamble and gap too. frame [octet]. Source: IEEE 802.3."""
    return frame + PREAMBLE + GAP


def frame_rate(bits: float, frame: int) -> float:
    """The most frames a line carries one way [1/s].

    bits [bit/s]: speed of the line; frame [octet]: `SHORTEST` or more.
    Errors: ValueError for a shorter frame. Source: RFC 2544, RFC 5180 appendix A, read (secondary).
    """
    if frame < SHORTEST:
        raise ValueError(f"a frame of {frame} octets is shorter than {SHORTEST}")
    return bits / (8 * wire_octets(frame))


def seconds_to_move(octets: float, bits: float) -> float:
    """The time [s] to move so many octets.

    octets [octet]: 0 or more; bits [bit/s]: what is carried, so the goodput and not the speed of the line.
    Errors: ValueError where nothing is carried.
    """
    if not bits > 0:
        raise ValueError("nothing is moved at 0 bit/s")
    return 8 * octets / bits


def octets_per_second(bits: float) -> float:
    """A rate in octets [octet/s], so MB/s after division by 10^6. bits [bit/s]."""
    return bits / 8


def mib_per_second(bits: float) -> float:
    """A rate in binary megabytes [MiB/s] of 2^20 octets. bits [bit/s]. Source: IEC 80000-13 (from memory)."""
    return bits / 8 / 2**20

"""Read, write and judge MAC addresses (EUI-48), and derive IPv6 interface ids from them.

A MAC address is an integer of 48 bits, the first octet on the wire being the highest.
"""

from math import expm1

from msgspec import Struct

from coldcheck.lan.address import BadAddress

BROADCAST = 0xFFFFFFFFFFFF
"""The address of every station on a LAN [-]."""

_GROUP_BIT = 0x01 << 40
_LOCAL_BIT = 0x02 << 40
_HEX = frozenset("0123456789abcdefABCDEF")


class MacRange(Struct, frozen=True):
    """MAC addresses set aside.

    first [-], last [-]: as integers, both included; use [-]: for what; source [-]: where said.
    """

    first: int
    last: int
    use: str
    source: str


SPECIAL_MACS = (
    MacRange(0x000000000000, 0x000000000000, "null, not a station", "common practice"),
    MacRange(
        0x00005E000100,
        0x00005E0001FF,
        "virtual router, IPv4: several hosts may show it",
        "RFC 5798 (from memory)",
    ),
    MacRange(
        0x00005E000200,
        0x00005E0002FF,
        "virtual router, IPv6: several hosts may show it",
        "RFC 5798 (from memory)",
    ),
    MacRange(0x00005E005300, 0x00005E0053FF, "documentation, unicast", "RFC 9542"),
    MacRange(0x01005E000000, 0x01005E7FFFFF, "IPv4 multicast", "RFC 1112 (from memory)"),
    MacRange(0x01005E901000, 0x01005E9010FF, "documentation, multicast", "RFC 9542 (from memory)"),
    MacRange(0x0180C2000000, 0x0180C200000F, "bridge control, never forwarded", "IEEE 802.1Q (from memory)"),
    MacRange(0x333300000000, 0x3333FFFFFFFF, "IPv6 multicast", "RFC 2464 (from memory)"),
    MacRange(BROADCAST, BROADCAST, "broadcast", "IEEE 802"),
)
"""Ranges that are no ordinary station address; none overlaps another."""


def read_mac(text: str) -> int:
    """Read a MAC address of 48 bits.

    text [-]: six groups of two hexadecimal digits, all joined by colons or all by hyphens.
    Errors: BadAddress for anything else: dotted triples, single digits, EUI-64, mixed joints.
    Source: IEEE 802-2014 section 8.1 (hyphens); RFC 7042 section 1 (from memory).
    """
    groups = text.split("-") if "-" in text else text.split(":")
    if len(groups) == 6:
        digits = "".join(groups)
        if len(digits) == 12 and _HEX.issuperset(digits) and all(len(group) == 2 for group in groups):
            return int(digits, 16)
    raise BadAddress(
        text, _why_no_mac(text, groups), "write six pairs of hex digits, for example 00:00:5e:00:53:01"
    )


def _why_no_mac(text: str, groups: list[str]) -> str:
    if "." in text:
        return "dots do not join a MAC address here"
    if ":" in text and "-" in text:
        return "colons and hyphens are mixed"
    if len(groups) != 6:
        return f"a MAC address has 6 groups, this has {len(groups)}"
    odd = next(group for group in groups if len(group) != 2 or not _HEX.issuperset(group))
    return f"{odd[:20]!r} is not two hexadecimal digits"


def mac_text(mac: int) -> str:
    """Write a MAC address in lower case with colons.

    mac [-]: 0 to 2^48 - 1. Errors: ValueError outside that range.
    """
    if not 0 <= mac <= BROADCAST:
        raise ValueError(f"{mac} is no MAC address")
    return ":".join([f"{mac >> shift & 255:02x}" for shift in range(40, -1, -8)])


def is_group(mac: int) -> bool:
    """Whether the address names a group of stations, never one of them.

    mac [-]: 48 bits. Source: IEEE 802, I/G bit.
    """
    return bool(mac & _GROUP_BIT)


def is_local(mac: int) -> bool:
    """Whether the address was given locally and not by a maker.

    mac [-]: 48 bits. Source: IEEE 802c-2017, U/L bit.
    """
    return bool(mac & _LOCAL_BIT)


def is_free_to_choose(mac: int) -> bool:
    """Whether an administrator may make this unicast address up: second hexadecimal digit 2.

    mac [-]: 48 bits. The digits 6, A and E are local too, but reserved, bought or left to standards.
    Source: IEEE 802c-2017 section 8.4.4 (from memory for the number), the quadrant "administratively
    assigned".
    """
    return mac >> 40 & 0x0F == 0x02


QUADRANTS = {
    0x2: "free to choose",
    0x6: "reserved for later",
    0xA: "derived from a company id that was bought",
    0xE: "given out by standards",
}
"""What a local unicast address is, by its second hexadecimal digit.

Source: IEEE 802c-2017 section 8.4.4 as coded in public source, read (secondary).
"""


def quadrant(mac: int) -> str:
    """What kind of local address a unicast address is, "" where a maker gave it.

    mac [-]: 48 bits. Source: `QUADRANTS`.
    """
    return QUADRANTS.get(mac >> 40 & 0x0F, "")


def random_clash(count: int, bits: int = 32) -> float:
    """The odds [1] that two of so many addresses drawn at random are the same.

    count [-]: from 0; bits [-]: drawn at random in each, above 0. High for a handful: two clash half as often.
    Errors: ValueError outside these ranges.
    Formula: 1 - exp(-count^2 / 2^(bits + 1)), near count^2 / 2^33 for 32 bits.
    Source: RFC 4193 section 3.2.3, read; a board manual for 32 bits, read.
    """
    if count < 0 or bits <= 0:
        raise ValueError(f"{count} addresses of {bits} random bits have no odds")
    return -expm1(-(count**2) / 2 ** (bits + 1))


def special_mac(mac: int) -> MacRange | None:
    """The range set aside that holds the address, or None.

    mac [-]: 48 bits. Source: each row of `SPECIAL_MACS`.
    """
    for row in SPECIAL_MACS:
        if row.first <= mac <= row.last:
            return row
    return None


def eui64_interface_id(mac: int) -> int:
    """The IPv6 interface id [-] of 64 bits that a station forms from its MAC address.

    mac [-]: 48 bits. FF-FE goes into the middle and the U/L bit is inverted, not set: a local address loses
    it.
    Source: RFC 4291 appendix A, RFC 2464 section 4.
    """
    return ((mac >> 24) << 40 | 0xFFFE << 24 | mac & 0xFFFFFF) ^ (0x02 << 56)


LOCAL_BIT_OF_ID = 0x02 << 56
"""The U/L bit in an interface id of 64 bits [-]. Source: RFC 4291 appendix A."""


def mac_in_interface_id(interface_id: int) -> int | None:
    """The MAC address [-] that an IPv6 interface id was formed from, or None where it was formed otherwise.

    interface_id [-]: 64 bits. Formed from a MAC address means that FF-FE stands in the middle.
    Source: as `eui64_interface_id`, read backwards.
    """
    if interface_id >> 24 & 0xFFFF != 0xFFFE:
        return None
    interface_id ^= LOCAL_BIT_OF_ID
    return interface_id >> 40 << 24 | interface_id & 0xFFFFFF

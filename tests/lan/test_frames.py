"""Frames and goodput against headers laid out octet by octet, and what is refused."""

from struct import calcsize

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lan import frames

# Layouts of RFC 791, 8200, 9293, 7323, 768, 7348, 2784, 2516, IEEE 802.3 and 802.1Q (from memory), as formats.
ETHERNET = "!6s6sH"
TAG = "!HH"
IP = {4: "!BBHHHBBH4s4s", 6: "!IHBB16s16s"}
TCP = "!HHIIHHHH"
TIMESTAMPS = "!BBBBII"
UDP = "!HHHH"
VXLAN = "!B3s3sB"
GRE = "!HH"
PPPOE = "!BBHHH"


def _sizes(*layouts: str) -> int:
    return sum(calcsize(layout) for layout in layouts)


def test_headers() -> None:
    """The sizes of headers are those of their fields, added up."""
    assert _sizes(ETHERNET) == frames.HEADER
    assert _sizes(TAG) == frames.TAG
    for family, layout in IP.items():
        assert _sizes(layout) == frames.IP_HEADER[family]
    assert _sizes(TCP) == frames.TCP_HEADER
    assert _sizes(TIMESTAMPS) == frames.TCP_TIMESTAMPS
    assert _sizes(UDP) == frames.UDP_HEADER


def test_tunnels() -> None:
    """A tunnel takes the headers it puts around a packet, field by field (RFC 7348, 2784, 2003, 2516)."""
    expected = {
        "VXLAN over IPv4": (IP[4], UDP, VXLAN, ETHERNET),
        "VXLAN over IPv6": (IP[6], UDP, VXLAN, ETHERNET),
        "GRE over IPv4": (IP[4], GRE),
        "GRE over IPv6": (IP[6], GRE),
        "IP in IPv4": (IP[4],),
        "IP in IPv6": (IP[6],),
        "PPPoE": (PPPOE,),
    }
    assert {name: _sizes(*layouts) for name, layouts in expected.items()} == frames.TUNNELS
    for name in frames.TUNNELS:
        assert frames.outer_mtu(frames.inner_mtu(1500, name), name) == 1500
    with pytest.raises(ValueError, match="no tunnel known here; known are VXLAN over IPv4, "):
        frames.inner_mtu(1500, "wormhole")
    with pytest.raises(ValueError, match="no tunnel known here"):
        frames.outer_mtu(1500, "vxlan")


@given(
    st.integers(1280, 65535),
    st.sampled_from((4, 6)),
    st.booleans(),
    st.integers(0, 2),
    st.floats(1e6, 4e11),
)
def test_goodput_by_counting_octets(mtu: int, family: int, timestamps: bool, tags: int, bits: float) -> None:
    """Of all octets on the wire in a second, those that are not preamble, gap, header or check sequence are goodput."""
    headers = _sizes(IP[family], TCP, *([TIMESTAMPS] if timestamps else []))
    around = 8 + _sizes(ETHERNET, *[TAG] * tags) + 4 + 12
    rate = frames.frame_rate(bits, frames.frame_of(mtu, tags))
    assert rate * 8 * (around + mtu) == pytest.approx(bits)
    carried = frames.goodput(bits, mtu, family, timestamps=timestamps, tags=tags)
    assert carried == pytest.approx(rate * 8 * (mtu - headers))
    assert 0 < carried < bits


@given(st.integers(46, 70000), st.integers(0, 2))
def test_mtu_and_frame_are_inverse(packet: int, tags: int) -> None:
    """The frame of an IP MTU leaves that IP MTU."""
    assert frames.mtu_of(frames.frame_of(packet, tags), tags) == packet


def test_short_packets_are_padded() -> None:
    """A packet of less than 46 octets makes the shortest frame; one of 47 makes one octet more."""
    assert [frames.frame_of(packet) for packet in (1, 40, 46, 47)] == [64, 64, 64, 65]


def test_refused() -> None:
    """Sizes and rates that do not exist are refused."""
    with pytest.raises(ValueError, match="octets is none"):
        frames.frame_of(0)
    for tags in (-1, 3):
        with pytest.raises(ValueError, match="0, 1 or 2"):
            frames.frame_of(1500, tags)
    with pytest.raises(ValueError, match="shorter than 64"):
        frames.mtu_of(63)
    with pytest.raises(ValueError, match="shorter than 64"):
        frames.frame_rate(1e9, 63)
    with pytest.raises(ValueError, match="below 1280, the least of IPv6"):
        frames.goodput_share(1279, 6)
    with pytest.raises(ValueError, match="below 68, the least of IPv4"):
        frames.goodput_share(67)
    with pytest.raises(ValueError, match="0 bit/s"):
        frames.seconds_to_move(1e12, 0.0)
    assert frames.goodput_share(68) > 0

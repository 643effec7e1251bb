"""VLAN ids and tags: every id, every tag, against bit fields laid out by the compiler's rules."""

from ctypes import BigEndianStructure, c_uint16, c_uint32

import pytest

from coldcheck.lan import vlan


class _Tag(BigEndianStructure):
    """A tag as its fields stand in IEEE 802.1Q: TPID 16 bits, PCP 3, DEI 1, VID 12."""

    _fields_ = (("tpid", c_uint16), ("pcp", c_uint16, 3), ("dei", c_uint16, 1), ("vid", c_uint16, 12))


def test_every_tag_by_bit_fields() -> None:
    """All tags are the octets that bit fields give, and read back as the same numbers."""
    seen = set()
    for number in range(4095):
        for priority in (0, 3, 7):
            for drop_first in (False, True):
                ours = vlan.tag(number, priority, drop_first)
                fields = _Tag(0x8100, priority, drop_first, number)
                assert c_uint32(ours).value.to_bytes(4, "big") == bytes(fields)
                assert vlan.read_tag(ours) == (number, priority, drop_first)
                seen.add(ours)
    assert len(seen) == 4095 * 3 * 2


def test_a_tag_on_the_wire() -> None:
    """VLAN 100 at priority 5 is 81 00 A0 64 (by hand: 101 0 0000 0110 0100)."""
    assert vlan.tag(100, 5) == 0x8100A064


def test_refused() -> None:
    """A reserved id, an odd priority and another type make no tag."""
    for number in (-1, 4095, 4096):
        with pytest.raises(ValueError, match="no id that is sent"):
            vlan.tag(number)
    for priority in (-1, 8):
        with pytest.raises(ValueError, match="no priority"):
            vlan.tag(1, priority)
    with pytest.raises(ValueError, match="does not begin with 0x8100"):
        vlan.read_tag(0x88A80001)
    assert vlan.read_tag(0x8100FFFF) == (4095, 7, True)


def test_problems_in_words() -> None:
    """What is wrong with an id is said for what it is."""
    assert "no VLAN" in str(vlan.problem_with_id(0))
    assert "reserved" in str(vlan.problem_with_id(4095))
    for number in (-1, 4096, 100000):
        assert "write 1 to 4094" in str(vlan.problem_with_id(number))

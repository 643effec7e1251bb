"""MAC addresses: forms taken and refused, the bits, the ranges set aside."""

import pytest

from coldcheck.lan import mac
from coldcheck.lan.address import BadAddress

REFUSED = {
    "": "has 6 groups, this has 1",
    "00:00:5e:00:53": "has 6 groups, this has 5",
    "00:00:5e:ff:fe:00:53:01": "has 6 groups, this has 8",
    "0:0:5e:0:53:1": "'0' is not two hexadecimal digits",
    "00:00:5e:00:53:0g": "'0g' is not two",
    "00:00:5e:00:530:1": "'530' is not two",
    "00:00:5e-00-53-01": "mixed",
    "0000.5e00.5301": "dots",
    "00005e005301": "this has 1",
    "00:00:5e:00:53:+1": "not two",
    "00:00:5e:00:53:01 ": "not two",
}


@pytest.mark.parametrize("text", REFUSED)
def test_refused_with_a_reason(text: str) -> None:
    """A text that is no MAC address is refused with a reason that names the fault."""
    with pytest.raises(BadAddress, match=REFUSED[text]):
        mac.read_mac(text)


def test_both_joints_and_both_cases() -> None:
    """Colons, hyphens, upper and lower case read as the same address."""
    for text in ("00:00:5e:00:53:af", "00-00-5E-00-53-AF", "00:00:5E:00:53:Af"):
        assert mac.read_mac(text) == 0x00005E0053AF
    assert mac.mac_text(0x00005E0053AF) == "00:00:5e:00:53:af"


def test_bits() -> None:
    """The lowest bit of the first octet marks a group, the next a local address (IEEE 802)."""
    for first in range(256):
        address = first << 40 | 0x5E005301
        assert mac.is_group(address) == bool(first % 2)
        assert mac.is_local(address) == bool(first // 2 % 2)
    assert mac.is_group(mac.BROADCAST)


def test_ranges_are_apart() -> None:
    """The ranges set aside are in order and do not overlap; an ordinary address is in none."""
    for low, high in zip(mac.SPECIAL_MACS, mac.SPECIAL_MACS[1:], strict=False):
        assert low.first <= low.last < high.first <= high.last
    assert mac.special_mac(0x020000000001) is None
    found = mac.special_mac(mac.BROADCAST)
    assert found is not None
    assert found.use == "broadcast"


def test_no_text_for_a_value_out_of_range() -> None:
    """A value beyond 48 bits has no text."""
    for value in (-1, 2**48):
        with pytest.raises(ValueError, match="no MAC"):
            mac.mac_text(value)

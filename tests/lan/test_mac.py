"""MAC addresses: forms taken and refused, the bits, the ranges set aside."""

from random import Random

import netaddr  # type: ignore[import-untyped]
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


def test_interface_ids_read_backwards() -> None:
    """The id that netaddr forms from a MAC address gives that address back, 10 000 times (RFC 4291 appendix A)."""
    random = Random(3)
    for _ in range(10_000):
        value = random.getrandbits(48)
        formed = int(netaddr.EUI(value, 48).modified_eui64())
        assert mac.mac_in_interface_id(formed) == value
        assert mac.mac_in_interface_id(formed ^ mac.LOCAL_BIT_OF_ID) == value ^ 0x02 << 40
        assert mac.mac_in_interface_id(formed ^ 1 << random.randrange(24, 40)) is None


def test_the_bit_is_inverted_not_set() -> None:
    """E22, E23: 34-56-78-9A-BC-DE and the local CE-75-73-26-2E-C2 come out of their ids (RFC 2464 section 4)."""
    assert mac.mac_in_interface_id(0x365678FFFE9ABCDE) == 0x3456789ABCDE
    assert mac.mac_in_interface_id(0xCC7573FFFE262EC2) == 0xCE7573262EC2
    # A bit that was set, or left alone, gives another address back.
    assert mac.mac_in_interface_id(0xCE7573FFFE262EC2) != 0xCE7573262EC2
    assert mac.mac_in_interface_id(0x345678FFFE9ABCDE) != 0x3456789ABCDE


def test_quadrants() -> None:
    """Only local unicast addresses have a quadrant, and only that of digit 2 is free (IEEE 802c-2017)."""
    for first in range(256):
        address = first << 40
        told = mac.quadrant(address)
        assert bool(told) == (mac.is_local(address) and not mac.is_group(address))
        assert (told == "free to choose") == mac.is_free_to_choose(address)


def test_virtual_routers_of_both_families() -> None:
    """The addresses of virtual routers, 00-00-5E-00-01-xx and -02-xx, are told apart (RFC 5798, from memory)."""
    for value, family in ((0x00005E000107, "IPv4"), (0x00005E000207, "IPv6")):
        row = mac.special_mac(value)
        assert row is not None
        assert f"virtual router, {family}" in row.use

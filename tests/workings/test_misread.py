"""What several addresses in one text mean, as `ipaddress` reads the parts."""

from __future__ import annotations

import ipaddress
from random import Random

import pytest

from coldcheck import ours
from coldcheck.plan.parts import Shelf
from coldcheck.workings.addresses import address_book
from coldcheck.workings.misread import meant_by

POOL = '[[subnet]]\nprefix = "{}"\n[[pool]]\nfor = "dhcp"\nrange = "{}"\n'


def test_a_mask_behind_a_blank_is_a_length() -> None:
    """Every netmask and every wildcard mask of IPv4 behind a blank gives the length that `ipaddress` has for it."""
    for length in range(1, 32):
        net = ipaddress.IPv4Network((0, length))
        for mask in (net.netmask, net.hostmask):
            meant = meant_by(f"10.20.0.0 {mask}", False)
            assert meant is not None
            assert meant[2] == f"10.20.0.0/{length}"


@pytest.mark.parametrize(
    "text",
    [
        "10.0.0.1 - 10.0.0.9",
        "10.0.0.1-9",
        "10.0.0.1..10.0.0.9",
        "10.0.0.1 to 10.0.0.9",
        "10.0.0.1\u201310.0.0.9",
    ],
)
def test_a_span_in_other_words(text: str) -> None:
    """However two ends are joined, the span is written with two dots and blanks."""
    meant = meant_by(text, True)
    assert meant is not None
    assert meant[2] == "10.0.0.1 .. 10.0.0.9"


@pytest.mark.parametrize(
    "text", ["10.0.0.300", "10.0.0.1/33", "fd00::1::2", "a host, and a name", "10.0.0.1,", "", "-"]
)
def test_what_is_no_two_addresses_means_nothing(text: str) -> None:
    """Where the parts are no addresses, nothing is guessed."""
    assert meant_by(text, True) is None


def test_a_list_is_a_list_where_one_is_allowed() -> None:
    """Several addresses are a list in brackets where the key takes one, else one of them."""
    assert '10.0.0.1", "fd00::1' in (meant_by("10.0.0.1, fd00::1", True) or ("", "", ""))[1]
    assert (meant_by("10.0.0.0/24 10.0.1.0/24", False) or ("", "", ""))[1] == "write one of them"


def test_a_pool_given_as_a_prefix_has_the_hosts_of_it() -> None:
    """The range offered holds exactly the addresses of the prefix that are hosts of its subnet, by `ipaddress`."""
    random = Random(5)
    for _ in range(200):
        net = ipaddress.IPv4Network(
            (random.randrange(1 << 16) << 8 | 10 << 24, random.choice((24, 25, 26))), strict=False
        )
        block = random.choice(list(net.subnets(new_prefix=random.randint(net.prefixlen, 29))))
        book = address_book(ours.read_plan("p.toml", POOL.format(net, block).encode(), Shelf()))
        hosts = sorted(set(net.hosts()) & set(block))
        assert not book.pools
        assert [bad.right for bad in book.bad] == [f"{hosts[0]} .. {hosts[-1]}"]

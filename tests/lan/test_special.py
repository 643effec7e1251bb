"""The registry of special prefixes: shape, gaps, laziness."""

import re
from random import Random

import pytest

from coldcheck.lan import special
from coldcheck.lan.address import read_address


def test_public_space_is_not_special() -> None:
    """Ordinary public addresses are in no registered prefix."""
    for text in ("9.255.255.255", "11.0.0.0", "172.32.0.0", "192.167.255.255", "2a00::1", "4000::1"):
        address = read_address(text)
        assert special.special(address.family, address.value) is None, text


def test_rows_are_well_formed() -> None:
    """Every row has a canonical prefix, an RFC, a month and a kind of one word, and rows are in order."""
    rows = special.registry()
    for row in rows:
        assert not row.prefix.host_bits_set
        assert re.fullmatch(r"RFC \d{3,4}", row.rfc)
        assert re.fullmatch(r"(19|20)\d\d-(0[1-9]|1[0-2])", row.since)
        assert re.fullmatch(r"[a-z-]+", row.kind)
    places = [(row.prefix.family, row.prefix.network, row.prefix.length) for row in rows]
    assert places == sorted(places)


def test_unique_local_edges() -> None:
    """fc00::/7 begins and ends where RFC 4193 says."""
    inside = ("fc00::", "fd12:3456:789a::1", "fdff:ffff:ffff:ffff:ffff:ffff:ffff:ffff")
    outside = ("fbff:ffff:ffff:ffff:ffff:ffff:ffff:ffff", "fe00::", "::")
    assert all(special.is_unique_local(read_address(text).value) for text in inside)
    assert not any(special.is_unique_local(read_address(text).value) for text in outside)


def test_flags_that_the_registry_leaves_open_are_none() -> None:
    """A deprecated or unlisted prefix answers None for its flags, never False."""
    for text in ("192.88.99.1", "224.0.0.1"):
        row = special.special(4, read_address(text).value)
        assert row is not None
        assert row.source_ok is None
        assert row.globally_reachable is None


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("fd00::", "all zeros"),
        ("fd11:1111:1111::", "one digit"),
        ("fdff:ffff:ffff::", "one digit"),
        ("fdab:abab:abab::", "one octet"),
        ("fd12:3456:789a::", "counts up"),
        ("fd01:2345:6789:5::1", "counts up"),
        ("fd00:0:1::", ""),
        ("fd12:3456:789b::", ""),
        ("fdab:abab:abac::", ""),
        ("fda9:8765:4321::", ""),
    ],
)
def test_global_ids_that_nobody_draws(text: str, why: str) -> None:
    """Zeros, one digit or octet throughout and digits that count up are told (RFC 4193 section 3.2); no other is."""
    found = special.picked_global_id(read_address(text).value)
    assert why in found
    assert bool(found) == bool(why)


def test_drawn_ids_are_never_told() -> None:
    """Of 100 000 ids drawn at random none is told, whatever stands behind it."""
    random = Random(4)
    for _ in range(100_000):
        assert not special.picked_global_id(0xFD << 120 | random.getrandbits(120))


def test_ids_told_are_counted() -> None:
    """1 + 15 + 240 + 7 ids are told: zeros, digits, octets of two digits, counts from 0 to 6; odds of 2.4 in 10^10."""
    ids = {digit * 0x1111111111 for digit in range(16)} | {octet * 0x0101010101 for octet in range(256)}
    ids |= {int("".join(f"{first + n:x}" for n in range(10)), 16) for first in range(7)}
    assert len(ids) == 1 + 15 + 240 + 7
    assert all(special.picked_global_id(0xFD << 120 | one << 80) for one in ids)
    assert len(ids) / 2**40 < 1e-9


def test_halves_of_unique_local_space() -> None:
    """fc00::/8 is the half without a use, fd00::/8 the one to draw from (RFC 4193 section 3.1)."""
    for text, undefined in (("fc00::", True), ("fcff:ffff::1", True), ("fd00::", False), ("fb00::", False)):
        assert special.is_undefined_local(read_address(text).value) is undefined


def test_the_copy_has_a_date() -> None:
    """No row of the registry is newer than the copy it was compared with, and each kind that is wrong has its words."""
    assert max(row.since for row in special.registry())[:4] <= special.COPIED
    fine = {"private", "unique-local"}
    assert {row.kind for row in special.registry()} - fine == set(special.UNWISE) | set(special.IMPOSSIBLE)


def test_the_registry_is_whole() -> None:
    """24 rows of IPv4 and 27 of IPv6: the two registries, multicast and site local with them."""
    families = [row.prefix.family for row in special.registry()]
    assert (families.count(4), families.count(6)) == (24, 27)

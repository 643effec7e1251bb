"""The registry of special prefixes: shape, gaps, laziness."""

import re

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

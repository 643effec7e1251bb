"""Our registry against the IANA special-purpose registries and the RFCs, rows in special.toml."""

import tomllib
from ipaddress import IPv4Network, ip_address, ip_network
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan import special
from coldcheck.lan.address import Prefix, read_address, read_prefix
from coldcheck.lan.dhcp import pool_size

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("special.toml").read_text(encoding="utf-8"))
REACH = {"yes": True, "no": False, "n/a": None}


def _value(text: str) -> int:
    return read_address(text).value


@pytest.mark.parametrize("row", ROWS["special"], ids=lambda row: row["prefix"])
def test_registry_rows(row: dict[str, Any]) -> None:
    """Every registered prefix is in our table with its RFC and flags (IANA registries, RFC 6890)."""
    prefix = read_prefix(row["prefix"])
    (ours,) = [one for one in special.registry() if one.prefix == prefix]
    assert ours.rfc.startswith("RFC ")
    assert not row["rfc"] or ours.rfc in row["rfc"]
    assert ours.globally_reachable is REACH[row["globally_reachable"]]
    assert ours.source_ok is row.get("source_ok")
    assert ours.destination_ok is row.get("destination_ok")
    assert ours.forwardable is row.get("forwardable")
    assert ours.reserved_by_protocol is row.get("reserved_by_protocol")


def test_registry_holds_nothing_else() -> None:
    """Our table has no row that the registries lack, and none twice."""
    tabled = sorted(str(ip_network(row["prefix"])) for row in ROWS["special"])
    assert sorted(str(ip_network(str(one.prefix))) for one in special.registry()) == tabled


def test_most_specific_entry_answers() -> None:
    """At both ends of every registered prefix the longest registered prefix answers, by brute force."""
    networks = [ip_network(row["prefix"]) for row in ROWS["special"]]
    for network in networks:
        for host in (network[0], network[-1]):
            around = [one for one in networks if one.version == host.version and host in one]
            best = max(around, key=lambda one: one.prefixlen)
            found = special.special(host.version, int(host))
            assert found is not None
            assert ip_network(str(found.prefix)) == best


@pytest.mark.parametrize("row", ROWS["private"], ids=lambda row: row["prefix"])
def test_private_blocks(row: dict[str, Any]) -> None:
    """The three private blocks have the published ends and sizes, and end there (RFC 1918 section 3)."""
    first, last = _value(row["first"]), _value(row["last"])
    block = read_prefix(row["prefix"])
    assert (block.network, block.last) == (first, last)
    assert pool_size(first, last) == row["addresses"]
    assert special.is_private_v4(first)
    assert special.is_private_v4(last)
    assert not special.is_private_v4(first - 1)
    assert not special.is_private_v4(last + 1)


def test_link_local_range() -> None:
    """E33: 169.254.1.0 to 169.254.254.255 are 65 024 addresses (RFC 3927 section 2.1)."""
    row = ROWS["E33"]
    first, last = _value(row["first"]), _value(row["last"])
    assert pool_size(first, last) == row["answer_addresses"] == ROWS["link_local"]["usable_addresses"]
    assert special.is_link_local(4, first)
    assert special.is_link_local(4, last)
    assert not special.is_link_local(4, _value("169.255.0.0"))


def test_shared_space_is_not_private() -> None:
    """100.64.0.0/10 has its published size and is not private (RFC 6598)."""
    block = read_prefix(ROWS["shared"]["prefix"])
    assert pool_size(block.network, block.last) == ROWS["shared"]["addresses"]
    found = special.special(4, block.last)
    assert found is not None
    assert found.kind == "shared"
    assert not special.is_private_v4(block.network)


def test_private_is_rfc_1918_only() -> None:
    """T01: documentation, benchmarking, loopback and reserved space is not private, as a library has it."""
    for text in ROWS["T01"]["is_private_true"] + ROWS["T01"]["is_private_false"]:
        assert not special.is_private_v4(_value(text)), text


def test_newer_ranges_are_known() -> None:
    """T02: 3fff::/20, 5f00::/16 and 64:ff9b:1::/48 are not globally reachable here."""
    for text in ROWS["T02"]["is_global_true"]:
        found = special.special(6, _value(text))
        assert found is not None
        assert found.globally_reachable is False


def test_quick_answers_agree_with_the_registry() -> None:
    """The tests by shifting bits agree with the table at, before and behind both ends of every prefix."""
    for row in ROWS["special"]:
        block = read_prefix(row["prefix"])
        top = (1 << 32 if block.family == 4 else 1 << 128) - 1
        for value in {block.network, block.last, max(block.network - 1, 0), min(block.last + 1, top)}:
            found = special.special(block.family, value)
            kind = found.kind if found else ""
            assert special.is_multicast(block.family, value) == (kind == "multicast")
            assert special.is_multicast(block.family, value) == ip_address(_text(block, value)).is_multicast
            assert special.is_link_local(block.family, value) == (kind == "link-local")
            assert special.is_documentation(block.family, value) == (kind == "documentation")
            if block.family == 4:
                assert special.is_private_v4(value) == (kind == "private")
            else:
                assert special.is_unique_local(value) == (kind == "unique-local")


def _text(block: Prefix, value: int) -> str:
    return str(Prefix(block.family, value, 0)).partition("/")[0]


def test_default_ranges() -> None:
    """The default ranges are the listed ones, and a prefix meets those it overlaps (list in public code)."""
    listed = sorted(text for row in ROWS["common_default"] for text in row["prefixes"])
    assert sorted(str(row.prefix) for row in special.default_ranges()) == listed
    for row in ROWS["common_default"]:
        for text in row["prefixes"]:
            (met,) = special.defaults_met(read_prefix(text))
            assert str(met.prefix) == text
            assert met.used_by.split()[0] == row["use"].split()[0]
    wide = IPv4Network("10.0.0.0/8")
    inside = [text for text in listed if IPv4Network(text).subnet_of(wide)]
    assert sorted(str(row.prefix) for row in special.defaults_met(read_prefix("10.0.0.0/8"))) == inside
    assert special.defaults_met(read_prefix("10.20.0.0/24")) == []
    assert len(special.defaults_met(read_prefix("172.17.3.0/24"))) == 1

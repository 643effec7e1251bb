"""Subnets of variable length against exercises with answers, rows in carving.toml and addresses.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan.address import Prefix, read_prefix
from coldcheck.lan.carving import first_fit, largest_first
from coldcheck.lan.prefixes import length_for, usable

HERE = Path(__file__)
ROWS: dict[str, Any] = tomllib.loads(HERE.with_name("carving.toml").read_text(encoding="utf-8"))
ADDRESSES: dict[str, Any] = tomllib.loads(HERE.with_name("addresses.toml").read_text(encoding="utf-8"))


def _lengths(hosts: list[int]) -> list[int]:
    lengths = [length_for(4, count) for count in hosts]
    return [length for length in lengths if length is not None]


def _texts(subnets: list[Prefix | None]) -> list[str]:
    return [str(one) for one in subnets]


def test_first_fit_of_the_clients() -> None:
    """E01: six clients in order get the blocks worked out in RFC 1519 section 5.1, holes and all."""
    row = ADDRESSES["E01"]
    block = read_prefix(row["block"])
    assert 1 << block.host_bits == row["block_addresses"]
    lengths = [33 - count.bit_length() for count in row["demand_addresses"]]
    assert _texts(first_fit(block, lengths)) == row["answer"]
    assert _texts(largest_first(block, lengths)) != row["answer"]


@pytest.mark.parametrize("key", ["E05", "E06", "E07"])
def test_largest_first(key: str) -> None:
    """E05, E06, E07: the subnets and hosts of exercises with answers (sources in the rows)."""
    row = ROWS[key]
    # The exercises give two hosts a /30; a /31 has room for them since RFC 3021.
    lengths = [min(length, 30) for length in _lengths(row["hosts_needed"])]
    subnets = largest_first(read_prefix(row["block"]), lengths)
    assert _texts(subnets) == row["answer"]
    assert [usable(one) for one in subnets if one is not None] == row["hosts_available"]


def test_as_many_small_subnets_as_fit() -> None:
    """E09: a /24 holds 16 subnets for 12 hosts each, and no more (quiz with solution)."""
    row = ADDRESSES["E09"]
    (length,) = _lengths(row["hosts_needed"])
    subnets = first_fit(read_prefix(row["block"]), [length] * (row["subnets_in_block"] + 1))
    assert [one is None for one in subnets] == [False] * row["subnets_in_block"] + [True]


def test_all_eight_subnets_fit() -> None:
    """T03: a /24 gives eight /27, the first and the last too, not six (RFC 1812 against the old rule)."""
    row = ADDRESSES["T03"]
    subnets = first_fit(read_prefix("10.0.0.0/24"), [row["prefix_bits"]] * 9)
    assert sum(one is not None for one in subnets) == row["modern_subnets"] != row["old_subnets"]

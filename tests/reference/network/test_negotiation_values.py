"""Autonegotiation and bundles against published rules, rows in negotiation.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan.negotiation import End, Settled, fixed, may_bundle, one_flow, port, settle

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("negotiation.toml").read_text(encoding="utf-8"))


def _end(text: str) -> End:
    if text == "auto":
        return port(100e6)
    mbps, duplex = text.split()
    return fixed(float(mbps) * 1e6, full=duplex == "full")


@pytest.mark.parametrize("row", ROWS["pair"], ids=lambda row: f"{row['one']} - {row['other']}")
def test_pairs_of_10_100_ports(row: dict[str, Any]) -> None:
    """Two 10/100 ports end in the tabled speed and duplex, and a mismatch is told (IEEE 802.3 clause 28)."""
    ours = settle(_end(row["one"]), _end(row["other"]))
    if not row["duplex"]:
        assert ours.up is False
        return
    assert ours.bits == row["speed_mbps"] * 1e6
    alike = len(set(row["duplex"])) == 1
    assert ours.full == (row["duplex"][0] == "full" if alike else None)
    assert ours.trouble == ("" if alike else "duplex mismatch")


def test_rules() -> None:
    """1000BASE-T needs two ends that negotiate, 10 Gbit/s has no half duplex (IEEE 802.3 clauses 28, 40)."""
    row = ROWS["autonegotiation"]
    by_hand = settle(port(1e9), fixed(1e9))
    assert (by_hand.trouble == "must negotiate") is row["mandatory_for_1000base_t"]
    half = settle(fixed(10e9, full=False), fixed(10e9, full=False))
    assert (half.trouble != "no half duplex") is row["half_duplex_exists_at_10g"]
    assert "mismatch" in row["auto_facing_fixed_full"]
    assert settle(port(100e6), fixed(100e6)).trouble == "duplex mismatch"


def test_bundles() -> None:
    """A bundle has one speed and one duplex, and one connection no more than one member (bonding text)."""
    row = ROWS["lag"]
    fast, slow = Settled(1e9, 1e9, True), Settled(100e6, 100e6, True)
    assert (may_bundle([fast, slow]) is False) is row["same_speed_required"]
    assert (may_bundle([slow, Settled(100e6, 100e6, False)]) is False) is row["same_duplex_required"]
    assert one_flow([1e9, 1e9]) == row["single_flow_max_links"] * 1e9

"""Speeds and lengths on copper against cabling tables, rows in cable.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan import cable

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("cable.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("row", ROWS["copper"], ids=lambda row: f"{row['phy']} on {row['cable_category']}")
def test_reach(row: dict[str, Any]) -> None:
    """Every speed reaches the tabled length on its category and bears its name (IEEE 802.3, TIA-568)."""
    bits = row["speed_mbps"] * 1e6
    assert cable.speed_name(bits) == row["phy"]
    assert cable.longest(bits, row["cable_category"]) == row["channel_length_max_m"]


def test_lesser_cable_reaches_nothing() -> None:
    """Below the lowest tabled category no speed is granted any length."""
    lowest: dict[float, str] = {}
    for row in ROWS["copper"]:
        lowest.setdefault(row["speed_mbps"] * 1e6, row["cable_category"])
    names = [category.name for category in cable.CATEGORIES]
    for bits, category in lowest.items():
        for name in names[: names.index(category)]:
            assert cable.longest(bits, name) is None


def test_lengths_at_risk() -> None:
    """10 Gbit/s on Cat 6 beyond 37 m and 5 Gbit/s on Cat 5e are only at risk (TIA TSB-155, TSB-5021)."""
    caveat = ROWS["caveat"]
    assert cable.longest(10e9, "6") == caveat["cat6_10g_should_work_m"]
    assert cable.longest_at_risk(10e9, "6") == caveat["cat6_10g_may_work_m"]
    assert cable.longest(5e9, "5e") is None
    assert cable.longest_at_risk(5e9, "5e") == 100
    assert "5e" in caveat["cat5e_5g_note"]

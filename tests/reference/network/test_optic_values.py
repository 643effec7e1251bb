"""Reach on fibre and direct-attach copper, rows in optics.toml; all of them from memory."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan import optics

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("optics.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("row", ROWS["reach"], ids=lambda row: f"{row['phy']} on {row['medium']}")
def test_reach(row: dict[str, Any]) -> None:
    """Every speed reaches the tabled length on its medium and bears its name (IEEE 802.3, SFF-8431)."""
    bits = row["speed_mbps"] * 1e6
    assert optics.longest(bits, row["medium"]) == row["length_max_m"]
    assert optics.speed_name(bits, row["medium"]) == row["phy"]


def test_reach_on_the_lesser_single_mode() -> None:
    """On OS1 every speed that single-mode carries reaches 2000 m (ISO/IEC 11801, from memory)."""
    row = ROWS["single_mode_1"]
    for bits in {one["speed_mbps"] * 1e6 for one in ROWS["reach"] if one["medium"] == "OS2"}:
        assert optics.longest(bits, row["medium"]) == row["length_max_m"]


def test_nothing_else_is_granted() -> None:
    """Every row of our table is a published one."""
    tabled = {(row["speed_mbps"] * 1e6, row["phy"], row["medium"]) for row in ROWS["reach"]}
    ours = {(row.bits, row.name, row.medium) for row in optics.OPTICS if row.medium != "OS1"}
    assert ours == tabled

"""Links, cords, bends and pulling against cabling summaries, rows in cords.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan import cords

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("cords.toml").read_text(encoding="utf-8"))


def test_limits() -> None:
    """Channel, link, cords and their extra loss are those of TIA-568 and ISO/IEC 11801 summaries."""
    row = ROWS["cabling"]
    assert row["channel_max_m"] == cords.CHANNEL_MAX
    assert row["permanent_link_max_m"] == cords.LINK_MAX
    assert row["cords_total_max_m"] == cords.CORDS_MAX
    expected = {"TIA": row["work_area_cord_max_tia_m"], "ISO": row["work_area_cord_max_iso_m"]}
    assert expected == cords.WORK_AREA_CORD_MAX
    assert cords.work_area_cord(50, 24) == row["work_area_cord_max_tia_m"]
    for awg, extra in cords.EXTRA_LOSS.items():
        assert 100 * extra == row[f"cord_attenuation_extra_{awg}awg_percent"]


def test_longer_cords() -> None:
    """E34: 15 m of cords leave 82.5 m of link by the quick rule, 84 m by the formula for 24 AWG."""
    row = ROWS["E34"]
    assert cords.link_by_rule(row["cords_m"]) == row["answer_link_by_rule_m"]
    assert cords.link_by_formula(row["cords_m"], 24) == pytest.approx(row["answer_link_by_formula_24awg_m"])
    slope = cords.link_by_rule(15) - cords.link_by_rule(16)
    assert slope == ROWS["cabling"]["extra_cord_rule_link_m_per_cord_m"]


def test_cord_formula() -> None:
    """(102 - H) / 1.2 gives 10, 14.17, 18.33, 22.5, 26.67 m of 24 AWG cords (TIA-568, from memory)."""
    row = ROWS["cord_formula"]
    for link, total in zip(row["horizontal_m"], row["cords_total_24awg_m"], strict=True):
        assert cords.cords_by_formula(link, 24) == pytest.approx(total, abs=0.005)
    for awg in (24, 26):
        assert cords.EXTRA_LOSS[awg] == row[f"d_{awg}awg"]
        assert cords.ROOM_CORDS[awg] == row[f"t_{awg}awg_m"]


@pytest.mark.parametrize("awg", [24, 26])
def test_open_office_table(awg: int) -> None:
    """Cords and work-area cords agree with the printed table, which gives whole metres (TIA-568, from memory)."""
    row = ROWS["open_office"]
    for place, link in enumerate(row["horizontal_m"]):
        total = cords.cords_by_formula(link, awg)
        assert total == pytest.approx(row[f"cords_total_{awg}awg_m"][place], abs=0.51)
        own = cords.work_area_cord(link, awg)
        assert 0 <= own - row[f"work_area_{awg}awg_m"][place] < 1 or own == pytest.approx(22, abs=0.4)


def test_bends_and_pull() -> None:
    """T10: a cord bends to 4 diameters since 2015, not 1; multipair 10, fibre 25 mm, pull 110 N."""
    row = ROWS["bend"]
    trap = ROWS["T10"]
    assert cords.bend_radius(6.0) == 6.0 * row["cord_x_od"] == 6.0 * trap["since_2015_x_od"]
    assert cords.bend_radius(6.0) != 6.0 * trap["before_x_od"]
    assert cords.bend_radius(6.0, "four-pair cable") == 6.0 * row["four_pair_cable_x_od"]
    assert cords.bend_radius(6.0, "multipair cable") == 6.0 * row["multipair_backbone_x_od"]
    assert row["fibre_cord_min_mm"] == cords.BEND_FIBRE_CORD
    assert row["pull_max_n"] == cords.PULL_MAX
    assert row["pull_max_lbf"] * 4.4482 == pytest.approx(cords.PULL_MAX, rel=0.02)

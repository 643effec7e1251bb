"""PoE against the published types, classes, worked examples and printed errors, rows in poe.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan import poe

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("poe.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("row", ROWS["type"], ids=lambda row: f"type {row['type']}")
def test_types(row: dict[str, Any]) -> None:
    """Every type has the published limits (IEEE 802.3 clauses 33, 145; Ethernet Alliance overview 2018)."""
    ours = poe.pse(row["type"])
    assert ours.pse_watts == row["pse_output_max_w"]
    assert ours.pd_watts == row["pd_input_max_w"]
    assert ours.pse_volts_min == row["pse_volts_min_v"]
    assert ours.pse_volts_max == row["pse_volts_max_v"]
    assert ours.pd_volts_min == row["pd_volts_min_v"]
    assert ours.loop_ohms == row["loop_resistance_per_pairset_max_ohm"]
    assert ours.amps == pytest.approx(row["nominal_current_per_pairset_ma"] / 1000, abs=1e-9)
    assert ours.amps_limit == pytest.approx(row["max_current_per_pairset_ma"] / 1000, abs=1e-9)
    assert ours.pair_sets == max(row["powered_pairs"]) // 2
    assert ours.category == str(row["min_cable_category"])


@pytest.mark.parametrize("row", ROWS["class"], ids=lambda row: f"class {row['class']}")
def test_classes(row: dict[str, Any]) -> None:
    """Every class has the published powers and, in the worst channel, the tabled current, loss and volts."""
    klass = row["class"]
    assert poe.reserved_watts(klass) == row["pse_output_w"]
    assert poe.poe_class(klass).pd_watts == row["pd_input_w"]
    assert poe.type_needed(klass) == row["type_min"]
    volts, ohms = poe.worst_channel(klass)
    assert (volts, ohms) == (row["pse_volts_min_v"], row["total_loop_resistance_ohm"])
    reached = poe.pd_watts_from(row["pse_output_w"], ohms, volts)
    assert reached == pytest.approx(row["pd_power_by_formula_w"], abs=1e-4)
    point = poe.feed(row["pd_power_by_formula_w"], ohms, volts)
    assert point is not None
    assert point.amps == pytest.approx(row["total_current_a"], abs=1e-4)
    assert point.loss == pytest.approx(row["cable_loss_w"], abs=2e-3)
    assert point.pd_volts == pytest.approx(row["pd_volts_by_formula_v"], abs=1e-3)


def test_highest_class_is_the_last_one_a_type_feeds() -> None:
    """The highest class of a type is the last that needs no higher type (Ethernet Alliance overview)."""
    for pse_type in poe.TYPES:
        fits = [row.klass for row in poe.CLASSES if row.type_needed <= pse_type]
        assert poe.highest_class(pse_type) == max(fits)
        assert poe.reserved_watts(max(fits)) == poe.pse(pse_type).pse_watts


def test_reservation_by_class() -> None:
    """Reservation by class sets 15.4, 4, 7, 15.4, 30 W aside for classes 0 to 4 (switch guides)."""
    tabled = ROWS["budget"]["class_reservation_w"]
    assert [poe.reserved_watts(klass) for klass in range(5)] == tabled


def test_one_formula_rebuilds_the_class_table() -> None:
    """E12: P - (P/V)^2 R turns all eight PSE powers into the published PD powers within 0.07 W."""
    row = ROWS["E12"]
    for place, klass in enumerate(row["classes"]):
        assert poe.worst_channel(klass) == (row["pse_v"][place], row["loop_ohm"][place])
        reached = poe.pd_watts_from(row["pse_w"][place], row["loop_ohm"][place], row["pse_v"][place])
        assert reached == pytest.approx(row["published_pd_w"][place], abs=row["tolerance_w"])


def test_loss_in_typical_cable() -> None:
    """E13: 100 m of 7 ohm conductors at 0.35 A lose 0.858 W and 2.45 V; four equal wires share the loss."""
    row = ROWS["E13"]
    ohms = poe.loop_ohms(100.0, pse_type=1, ohms_per_100m=row["conductor_ohm"])
    amps = 2 * row["current_per_conductor_a"]
    reached = poe.pd_watts_from(44.0 * amps, ohms, 44.0)
    assert reached is not None
    loss = 44.0 * amps - reached
    assert loss == pytest.approx(row["published_loss_total_w"], abs=1e-3)
    assert loss / 4 == pytest.approx(row["published_loss_per_wire_w"], abs=1e-3)
    assert amps * ohms == pytest.approx(row["exact_drop_v"], abs=1e-9)


def test_pd_side_to_pse_side() -> None:
    """E14: the quadratic gives 0.35, 0.6, 1.2, 1.7315 A for the PD limits of the four types."""
    row = ROWS["E14"]
    for place, pd_watts in enumerate(row["pd_w"]):
        point = poe.feed(pd_watts, row["loop_ohm"][place], row["pse_v"][place])
        assert point is not None
        assert point.amps == pytest.approx(row["answer_current_a"][place], abs=1e-4)
        assert point.pse_watts == pytest.approx(row["answer_pse_w"][place], abs=5e-3)


def test_budget_left() -> None:
    """E15: 4.4 W off 390 W and off 64 W leave 385.6 W and 59.6 W (two switch manuals)."""
    row = ROWS["E15"]
    for budget, draw, left in zip(row["budget_w"], row["draw_w"], row["answer_left_w"], strict=True):
        assert poe.share_budget(budget, [(0, 1, draw)])[2] == pytest.approx(left)


def test_class_reservation_against_measured() -> None:
    """E16: the same three PDs take 20.9 W measured and 67 W by class off 390 W (switch manual)."""
    row = ROWS["E16"]
    by_class = [poe.reserved_watts(klass) for klass in row["classes"]]
    assert sum(by_class) == row["answer_class_sum_w"]
    for watts, left in ((row["measured_w"], "answer_left_measured_w"), (by_class, "answer_left_class_w")):
        asked = [(0, port, watt) for port, watt in enumerate(watts)]
        assert poe.share_budget(row["budget_w"], asked)[2] == pytest.approx(row[left])


def test_all_ports_at_maximum() -> None:
    """E17: 130 W feed four of eight ports of 30 W, the four of the lowest numbers (switch instructions)."""
    row = ROWS["E17"]
    asked = [(0, port, row["per_port_w"]) for port in range(row["ports"], 0, -1)]
    fed, unfed, _ = poe.share_budget(row["budget_w"], asked)
    assert fed == [1, 2, 3, 4]
    assert len(fed) == row["answer_max_ports_full"]
    assert len(unfed) == row["ports"] - len(fed)


def test_a_pair_set_has_half_the_loop_of_two_conductors() -> None:
    """T06: 50 m of 23 AWG drop 2.0 V and lose 1.2 W at 0.6 A, not the 4.0 V and 2.4 W of one page."""
    row = ROWS["T06"]
    ohms = poe.loop_ohms(50.0, pse_type=2, ohms_per_100m=row["page_loop_ohm"])
    assert ohms == pytest.approx(row["pairset_loop_ohm"])
    assert 0.6 * ohms == pytest.approx(row["pairset_drop_v"], abs=2e-3)
    assert 0.6**2 * ohms == pytest.approx(row["pairset_loss_w"], abs=1e-3)
    assert abs(0.6 * ohms - row["page_drop_v"]) > 1.9


def test_printed_errors_are_not_ours() -> None:
    """T07, T11, T13, T14: 865 mA, 50 V, 30 W and 90 W hold, not 960 mA, 52 V, 34.2 W and 100 W."""
    type_4 = poe.pse(4)
    assert type_4.amps == pytest.approx(ROWS["T07"]["working_ma"] / 1000)
    assert type_4.amps == pytest.approx(90 / 52 / 2, abs=1e-3)
    assert type_4.amps_limit == pytest.approx(ROWS["T07"]["limit_ma"] / 1000)
    assert poe.pse(3).pse_volts_min == ROWS["T11"]["value_v"] != ROWS["T11"]["app_v"]
    assert poe.pse(2).pse_watts == ROWS["T13"]["value_w"] != ROWS["T13"]["printed_w"]
    assert type_4.pse_watts == ROWS["T14"]["value_w"] != ROWS["T14"]["printed_w"]

"""PoE against the published types, classes, worked examples and printed errors, rows in poe.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan import cable, poe
from coldcheck.plan.tables import Head

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


@pytest.mark.parametrize("row", ROWS["dual"], ids=lambda row: row["class"])
def test_dual_signature_classes(row: dict[str, Any]) -> None:
    """Each pair set of a dual-signature class has the tabled watts (802.3bt clause 145, from memory)."""
    ours = poe.DUAL_CLASSES[row["class"]]
    assert (ours.pse_watts, ours.pd_watts) == (row["pse_output_per_pairset_w"], row["pd_input_per_pairset_w"])
    assert poe.dual_watts(row["class"], "1D") == (ours.pse_watts + 4.0, ours.pd_watts + 3.84)


@pytest.mark.parametrize(("name", "kind"), [("1D", 1), ("2D", 1), ("3D", 1), ("4D", 2), ("5D", 4)])
def test_the_formula_rebuilds_the_dual_signature_table(name: str, kind: int) -> None:
    """The loss of ONE pair set at the worst channel of its type turns PSE watts into PD watts, within 0.07 W."""
    volts, ohms = poe.pse(kind).pse_volts_min, poe.pse(kind).loop_ohms
    row = poe.DUAL_CLASSES[name]
    assert poe.pd_watts_from(row.pse_watts, ohms, volts) == pytest.approx(row.pd_watts, abs=0.07)


def test_two_signatures_stay_within_their_type() -> None:
    """Two pair sets of one class take what a port of types 3 and 4 gives: 60 W for 4D, 90 W for 5D (same table)."""
    assert poe.dual_watts("4D", "4D") == (poe.pse(3).pse_watts, poe.pse(3).pd_watts)
    pse_watts, pd_watts = poe.dual_watts("5D", "5D")
    assert pse_watts == poe.pse(4).pse_watts
    assert pd_watts == pytest.approx(poe.pse(4).pd_watts, abs=0.15)


def test_each_class_begins_where_the_one_below_ends() -> None:
    """The lower edges 3.84, 6.49 and 12.95 W of classes 2 to 4 are the most of the class below (a switch manual)."""
    row = ROWS["pd_range"]
    for klass, edge in zip(row["classes"][1:], row["lower_edge_w"][1:], strict=True):
        assert poe.poe_class(klass - 1).pd_watts == edge
    assert row["lower_edge_w"][0] < poe.poe_class(1).pd_watts


def test_pins_of_the_alternatives() -> None:
    """Alternative A is on 1,2,3,6, B on 4,5,7,8 (table 145-3, as a kernel's documentation has it)."""
    row = ROWS["pins"]
    assert poe.PINS["A"] == ",".join(map(str, row["alternative_a"]))
    assert poe.PINS["B"] == ",".join(map(str, row["alternative_b"]))


@pytest.mark.parametrize(
    ("drawn", "asked"), [(0.0, 0.0), (8.34, 8.4), (20.9, 20.9), (12.95, 13.0), (0.01, 0.1)]
)
def test_the_step_of_lldp(drawn: float, asked: float) -> None:
    """By LLDP watts are asked for in steps of 0.1 W, never less than is drawn (clause 79, from memory)."""
    assert ROWS["lldp"]["step_w"] == poe.LLDP_STEP
    assert poe.lldp_watts(drawn) == pytest.approx(asked, abs=1e-9)


def test_a_plan_keeps_a_fifth() -> None:
    """At most 80 % of a budget is planned for, unless a plan says otherwise (common practice)."""
    assert 1 - Head().reserve == pytest.approx(ROWS["reserve"]["max_budget_use_percent"] / 100)


def test_conductors() -> None:
    """Category 6 has at most 9.38 ohm per 100 m and typically 7 (cabling quiz, loss note); a 26 AWG cord 14."""
    row = ROWS["cable"]
    assert cable.category("6").limit_ohms == row["conductor_max_ohm_per_100m"]
    assert cable.category("6").typical_ohms == row["conductor_typical_cat6_ohm_per_100m"]
    assert cable.category("5e").typical_ohms == row["conductor_24awg_copper_ohm_per_100m"]
    assert row["stranded_26awg_ohm_per_100m"] == cable.CORD_26AWG_OHMS


def test_no_class_reserves_more_than_a_port_stands() -> None:
    """A switch manual cuts a port off at 16.2, 4.2, 7.4, 16.2 and 31.6 W: a little above what each class reserves."""
    for klass, ceiling in enumerate(ROWS["budget"]["vendor_port_ceiling_w"]):
        assert 1.04 < ceiling / poe.reserved_watts(klass) < 1.06


@pytest.mark.parametrize("key", ["vendor_refuse_below_w", "vendor_startup_headroom_w"])
def test_nothing_new_is_fed_below_the_guard(key: str) -> None:
    """Switch manuals start nothing new with less than 7 W, or 17 W, left, whatever it asks for."""
    guard = ROWS["budget"][key]
    for left, fed in ((guard, [2]), (guard - 0.1, [])):
        shared = poe.share_budget(100.0, [(0, 1, 100.0 - left), (0, 2, 4.0)], guard)
        assert shared[0] == [1, *fed]


def test_order_of_service() -> None:
    """Critical, then high, then low; inside one priority the lower port number (PoE page of a switch)."""
    row = ROWS["budget"]
    assert list(poe.PRIORITIES) == row["priority_order"]
    assert row["priority_tie_break"] == "lower port number first"
    asked = [(rank, port, 1.0) for port, rank in ((5, 2), (4, 2), (3, 0), (2, 1), (1, 1))]
    assert poe.share_budget(9.0, asked)[0] == [3, 1, 2, 4, 5]


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

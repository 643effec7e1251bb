"""Worked examples of others, computed again; inputs, answers, sources and how sure are in examples.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.dc import contact, converter, drop, radial, steps, wire

EXAMPLES: dict[str, Any] = tomllib.loads(
    Path(__file__).with_name("examples.toml").read_text(encoding="utf-8"),
)
FOOT = 0.3048
KFT = 304.8


def draw(volts: float, amps: list[float]) -> float:
    """Give the watts that a stiff source gives constant currents through perfect wires, by the solver."""
    none = [0.0] * len(amps)
    return volts * radial.solve(volts, [-1] * len(amps), none, none, amps, none).total


def test_e1_drop_at_12_v() -> None:
    """E1: 20 m of 1.3 mm2 at 1 A lose 0.549 V, 4.58 %."""
    e = EXAMPLES["E1"]
    lost = drop.loop_drop(e["one_way_length_m"], e["current_a"], e["rho_ohm_mm2_per_m"] / e["area_mm2"])
    assert lost == pytest.approx(e["published_drop_v"], abs=0.0005)
    assert 100 * lost / e["supply_v"] == pytest.approx(e["published_drop_pct"], abs=0.005)


def test_e1_from_the_wire_itself() -> None:
    """E1 again from 16 AWG stranded copper: its resistivity is 3.5 % above ours, its area 0.7 % below."""
    e = EXAMPLES["E1"]
    one_way = wire.conductor_ohms(e["one_way_length_m"], wire.awg_area(16))
    assert 2 * one_way * e["current_a"] == pytest.approx(e["published_drop_v"], rel=0.025)


def test_e2_control_wiring() -> None:
    """E2: 100 ft of 16 AWG stranded at 75 degC lose 4.0 V at 4 A; the wire's 4.99 ohm/kft are ours too."""
    e = EXAMPLES["E2"]
    per_metre = e["resistance_ohm_per_kft"] / KFT
    lost = drop.loop_drop(e["one_way_length_ft"] * FOOT, e["current_a"], per_metre)
    assert lost == pytest.approx(e["published_drop_v"], abs=0.05)
    assert lost == pytest.approx(e["recomputed_drop_v"], rel=1e-9)
    assert 100 * lost / e["supply_v"] == pytest.approx(e["published_drop_pct"], abs=0.1)
    assert wire.conductor_ohms(1.0, wire.awg_area(16), temperature=75) == pytest.approx(per_metre, rel=3e-3)


def test_e3_drop_at_12_v() -> None:
    """E3: 50 ft of 12 AWG at 10 A lose 1.588 V, 13.23 %; the solver leaves 10.41 V at the load."""
    e = EXAMPLES["E3"]
    length = e["one_way_length_ft"] * FOOT
    lost = drop.loop_drop(length, e["current_a"], e["resistance_ohm_per_kft"] / KFT)
    assert lost == pytest.approx(e["published_drop_v"], rel=1e-9)
    assert 100 * lost / e["supply_v"] == pytest.approx(e["published_drop_pct"], abs=0.005)
    loop = 2 * wire.conductor_ohms(length, wire.awg_area(12), stranded=False)
    found = radial.solve(e["supply_v"], [-1], [loop], [0.0], [e["current_a"]], [0.0])
    assert found.volts[0] == pytest.approx(10.41, abs=0.005)


def test_e4_high_current() -> None:
    """E4: 15 ft at 100 A lose 0.75, 0.48 and 0.30 V in three sizes."""
    e = EXAMPLES["E4"]
    for per_kft, published in zip(e["resistance_ohm_per_kft"], e["published_drop_v"], strict=True):
        lost = drop.loop_drop(e["one_way_length_ft"] * FOOT, e["current_a"], per_kft / KFT)
        assert lost == pytest.approx(published, rel=1e-9)


def test_e5_by_circular_mils() -> None:
    """E5: 2 K I L / CM is the same law in other units: 4.97 V, 4.1 %; our hot stranded 10 AWG agrees."""
    e = EXAMPLES["E5"]
    length = e["one_way_length_ft"] * FOOT
    lost = drop.loop_drop(length, e["current_a"], e["k_ohm_cmil_per_ft"] / e["area_cmil"] / FOOT)
    assert lost == pytest.approx(e["published_drop_v"], abs=0.005)
    assert 100 * lost / e["supply_v"] == pytest.approx(e["published_drop_pct"], abs=0.05)
    ours = wire.conductor_ohms(1.0, wire.awg_area(10), temperature=75)
    assert drop.loop_drop(length, e["current_a"], ours) == pytest.approx(e["published_drop_v"], rel=4e-3)


def test_e6_structure_returns() -> None:
    """E6: where the airframe is the return, the length is not doubled."""
    e = EXAMPLES["E6"]
    table = zip(e["length_ft"], e["resistance_ohm_per_ft"], e["published_drop_v"], strict=True)
    for feet, per_foot, published in table:
        lost = drop.run_drop(feet * FOOT, e["current_a"], per_foot / FOOT)
        assert lost == pytest.approx(published, abs=0.0005)


def test_e7_choice_of_wire() -> None:
    """E7: of 50 ft in all at 20 A, No. 10 loses more than 1 V and No. 8 less, at the published worst."""
    e = EXAMPLES["E7"]
    lost = {
        gauge: e["current_a"] * wire.worst_ohms(e["total_length_ft"] * FOOT, gauge=gauge) for gauge in (8, 10)
    }
    assert lost[10] == pytest.approx(e["recomputed_drop_awg10_v"], rel=1e-9)
    assert lost[8] == pytest.approx(e["recomputed_drop_awg8_v"], rel=1e-9)
    assert lost[8] < e["limit_v"] < lost[10]
    assert e["published_awg"] == 8


def test_e8_hot_wire_shortens_the_run() -> None:
    """E8: for the same drop a run at 75 degC is 0.8223 of that at 20 degC."""
    e = EXAMPLES["E8"]
    cold, hot = (wire.conductor_ohms(1.0, 1e-6, temperature=at) for at in (20.0, e["conductor_temp_c"]))
    assert cold / hot == pytest.approx(e["recomputed_ratio"], rel=1e-4)


def test_e9_usb_cable() -> None:
    """E9: 166.7 mohm of supply and 83.3 mohm of ground make the allowed 0.5 V and 0.25 V at 3 A."""
    e = EXAMPLES["E9"]
    for mohm, volts in (("recomputed_vbus_mohm", "vbus_drop_v"), ("recomputed_gnd_mohm", "gnd_drop_v")):
        assert drop.run_drop(1.0, e["current_a"], e[mohm] * 1e-3) == pytest.approx(e[volts], rel=1e-4)


def test_e13_buck_input() -> None:
    """E13: two step-down converters take 0.93 A and 1.63 A."""
    e = EXAMPLES["E13"]
    table = zip(
        e["vin_v"],
        e["vout_v"],
        e["iout_a"],
        e["efficiency"],
        e["published_iin_a"],
        e["recomputed_iin_a"],
        strict=True,
    )
    for volts_in, volts, amps, efficiency, published, exact in table:
        found = converter.input_amps(volts * amps, volts_in, efficiency)
        assert found == pytest.approx(published, abs=0.005)
        assert found == pytest.approx(exact, abs=0.00005)


def test_e14_buck_heat() -> None:
    """E14: 12 V to 3.3 V 2 A at 90 % takes 7.33 W and 0.611 A, and 0.73 W stay as heat."""
    e = EXAMPLES["E14"]
    out = e["vout_v"] * e["iout_a"]
    assert converter.input_power(out, e["efficiency"]) == pytest.approx(e["published_pin_w"], abs=0.005)
    assert converter.input_amps(out, e["vin_v"], e["efficiency"]) == pytest.approx(
        e["published_iin_a"], abs=0.0005
    )
    assert converter.heat(out, e["efficiency"]) == pytest.approx(e["recomputed_loss_w"], abs=0.00005)
    assert converter.heat(out, e["efficiency"]) == pytest.approx(e["published_loss_w"], abs=0.005)


def test_e15_step_up() -> None:
    """E15: a step-up to 12 V 0.99 A at 79.75 % takes 14.90 W, 2.98 A at 5 V."""
    e = EXAMPLES["E15"]
    out = e["vout_v"] * e["iout_a"]
    assert converter.input_power(out, e["efficiency"]) == pytest.approx(e["published_pin_w"], abs=0.005)
    assert converter.input_amps(out, e["vin_v"], e["efficiency"]) == pytest.approx(
        e["published_iin_a"], abs=0.005
    )


def test_e16_buck_temperature() -> None:
    """E16: 5 V 1 A at 75 % leaves 1.67 W; at 65 K/W that is 108 K, which the source rounds up to 109 K."""
    e = EXAMPLES["E16"]
    lost = converter.heat(e["vout_v"] * e["iout_a"], e["efficiency"])
    assert lost == pytest.approx(e["published_loss_w"], abs=0.005)
    assert lost * e["theta_k_per_w"] == pytest.approx(e["published_rise_k"], abs=1.0)
    assert lost * e["theta_k_per_w"] == pytest.approx(e["recomputed_rise_k"], abs=0.005)


def test_e17_buck_from_its_data_sheet() -> None:
    """E17: 12 V to 5 V 3 A at 80 % leaves 3.75 W and takes 1.5625 A."""
    e = EXAMPLES["E17"]
    out = e["vout_v"] * e["iout_a"]
    assert converter.heat(out, e["efficiency"]) == pytest.approx(e["recomputed_loss_w"], rel=1e-9)
    assert converter.input_amps(out, e["vin_v"], e["efficiency"]) == pytest.approx(
        e["recomputed_iin_a"], rel=1e-9
    )


def test_e18_plug_power() -> None:
    """E18: a plug with 11 A on 12 V and on 5 V passes 187 W."""
    e = EXAMPLES["E18"]
    assert draw(12.0, [e["pin_a"]]) + draw(5.0, [e["pin_a"]]) == pytest.approx(e["published_w"], rel=1e-12)


def test_e19_parallel_contacts() -> None:
    """E19: 1, 2 and 4 pin pairs of 3 A carry 3, 4.8 and 7.68 A together."""
    e = EXAMPLES["E19"]
    for pairs, published in zip(e["pairs"], e["published_total_a"], strict=True):
        assert contact.shared_rating(e["pin_a"], pairs) == pytest.approx(published, rel=1e-12)


@pytest.mark.parametrize("name", ["E20", "E21"])
def test_e20_e21_drive_power(name: str) -> None:
    """E20, E21: currents on 5 V and 12 V make the power of the drive manuals, within their rounding."""
    e = EXAMPLES[name]
    for five, twelve, published, again in zip(
        e["i5_a"], e["i12_a"], e["published_w"], e["recomputed_w"], strict=True
    ):
        watts = draw(5.0, [five]) + draw(12.0, [twelve])
        assert watts == pytest.approx(published, abs=0.025)
        assert watts == pytest.approx(again, abs=0.0005)


def test_e22_spin_up() -> None:
    """E22: four drives started at once draw 8.12 A, one after another 2.63 A; by peaks 10.36 A at once."""
    e = EXAMPLES["E22"]
    count = e["drives"]

    def spin(start: float, amps: float) -> steps.Steps:
        return [(start, amps), (start + 10, e["idle_12v_a"])]

    at_once = steps.add([spin(0, e["start_12v_a"]) for _ in range(count)])
    assert steps.peak(at_once) == pytest.approx((0, e["recomputed_simultaneous_a"]), rel=1e-12)
    staggered = steps.add([spin(12 * i, e["start_12v_a"]) for i in range(count)])
    assert steps.peak(staggered) == pytest.approx((36, e["recomputed_staggered_a"]), rel=1e-12)
    by_peak = steps.add([spin(0, e["peak_12v_a"]) for _ in range(count)])
    assert steps.peak(by_peak)[1] == pytest.approx(e["recomputed_peak_simultaneous_a"], rel=1e-12)


def test_e23_supply_for_boards() -> None:
    """E23: eight boards of 3 A at 5 V ask 120 W."""
    e = EXAMPLES["E23"]
    assert draw(e["supply_v"], [e["current_a"]] * e["boards"]) == pytest.approx(e["published_w"], rel=1e-12)


def test_e24_hub_supply() -> None:
    """E24: four ports of 0.9 A are 18 W, 1.5 A from 12 V without loss."""
    e = EXAMPLES["E24"]
    watts = draw(5.0, [e["port_a"]] * e["ports"])
    assert watts == pytest.approx(e["published_w"], rel=1e-12)
    assert converter.input_amps(watts, 12.0, 1.0) == pytest.approx(e["published_12v_a"], rel=1e-12)


def test_e25_e26_combined_limits() -> None:
    """E25, E26: the rails of a supply, each at its limit, add up to more than the supply may give."""
    small, large = EXAMPLES["E25"], EXAMPLES["E26"]
    total = sum(draw(v, [a]) for v, a in zip(small["rail_v"], small["rail_a"], strict=True))
    assert total == pytest.approx(small["recomputed_w"], rel=1e-12)
    assert total == pytest.approx(small["published_w"], rel=0.01)
    total = sum(draw(v, [a]) for v, a in zip(large["rail_v"], large["rail_a"], strict=True))
    assert total == pytest.approx(large["recomputed_sum_w"], rel=1e-12)
    assert total > large["published_limit_w"]


def test_e32_whole_harness() -> None:
    """E32: 0.5 m of 20 AWG and four aged contacts leave 4.760 V of 5.10 V at 3 A; of 5.00 V too little."""
    e = EXAMPLES["E32"]
    runs = 2 * wire.conductor_ohms(e["one_way_length_m"], wire.awg_area(20), stranded=False)
    contacts = e["contacts_in_loop"] * e["contact_mohm"] * 1e-3
    assert runs * e["current_a"] == pytest.approx(e["recomputed_wire_drop_v"], rel=1e-3)

    def at_load(volts: float) -> float:
        none = [0.0, 0.0]
        return radial.solve(volts, [-1, 0], [runs, contacts], none, [0.0, e["current_a"]], none).volts[1]

    assert at_load(e["source_v"]) == pytest.approx(e["recomputed_load_v"], abs=0.0005)
    assert at_load(5.0) < 4.75 < at_load(e["source_v"])

"""Published values that are wrong: the code gives the right ones; both, with sources, are in wrong.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.dc import converter, drop, wire

WRONG: dict[str, Any] = tomllib.loads(Path(__file__).with_name("wrong.toml").read_text(encoding="utf-8"))
FOOT = 0.3048
KFT = 304.8


def test_x5_heat_of_a_buck_converter() -> None:
    """X5: heat comes from the power given out; the formula with the voltage difference says twice as much."""
    x = WRONG["X5"]
    found = converter.heat(x["vout_v"] * x["iout_a"], x["efficiency"])
    assert found == pytest.approx(x["right_w"], abs=0.00005)
    wrong = (x["vin_v"] - x["vout_v"]) * x["iout_a"] * (1 - x["efficiency"])
    assert wrong == pytest.approx(x["wrong_w"], rel=1e-9)
    assert found < 0.6 * wrong


@pytest.mark.parametrize("name", ["X6", "X7"])
def test_x6_x7_rows_of_the_faa_tables(name: str) -> None:
    """X6, X7: two printed products are wrong; ours are the factors multiplied."""
    x = WRONG[name]
    found = drop.run_drop(x["length_ft"] * FOOT, x["current_a"], x["resistance_ohm_per_ft"] / FOOT)
    assert found == pytest.approx(x["right_v"], abs=0.00005)
    assert abs(found - x["wrong_v"]) > 0.04


def test_x8_solid_is_not_stranded() -> None:
    """X8: stranded wire at 75 degC is nearer to the true stranded column than to the solid one so named."""
    x = WRONG["X8"]
    for gauge, wrong, right in zip(x["gauge"], x["wrong_ohm_per_kft"], x["right_ohm_per_kft"], strict=True):
        found = wire.conductor_ohms(KFT, wire.awg_area(gauge), temperature=75, stranded=True)
        assert abs(found - right) < abs(found - wrong) / 2


def test_x9_lay_and_maximum() -> None:
    """X9: stranded wire has 2 % more than solid wire, and as a published maximum up to 27 % more."""
    x = WRONG["X9"]
    solid = wire.conductor_ohms(1.0, wire.awg_area(12), stranded=False)
    stranded = wire.conductor_ohms(1.0, wire.awg_area(12), stranded=True)
    assert 100 * (stranded / solid - 1) == pytest.approx(x["lay_percent"], rel=1e-9)
    most = max(
        wire.worst_ohms(1.0, gauge=gauge) / wire.conductor_ohms(1.0, wire.awg_area(gauge), stranded=False)
        for gauge in range(10, 25, 2)
    )
    assert 100 * (most - 1) == pytest.approx(x["most_percent"], abs=0.1)


def test_x11_the_wire_can_be_weaker_than_the_pin() -> None:
    """X11: 18 AWG in a bundle carries 6 A, less than the 11 A of the pin it is crimped into."""
    x = WRONG["X11"]
    in_bundle = wire.ampacity(x["gauge"], "bundle")
    assert in_bundle == x["bundle_a"]
    assert in_bundle < x["pin_a"]


def test_x12_feet_are_exact() -> None:
    """X12: ohm/km over ohm/kft is 3.28084; the table that took 3.28 is 0.026 % low."""
    x = WRONG["X12"]
    area = wire.awg_area(20)
    ratio = wire.conductor_ohms(1000.0, area) / wire.conductor_ohms(1000 * wire.FOOT, area)
    assert ratio == pytest.approx(x["right_factor"], rel=1e-6)
    assert ratio / x["wrong_factor"] - 1 == pytest.approx(0.00026, rel=0.02)

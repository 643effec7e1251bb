"""Converters, derating and heat against published rows; rows and sources are in converters.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.dc import converter, curve, inrush, thermal

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("converters.toml").read_text(encoding="utf-8"))


def points(rows: list[list[float]]) -> list[tuple[float, float]]:
    """Give the points of a curve as pairs."""
    return [(x, y) for x, y in rows]


def test_e17_rise() -> None:
    """E17: 3.75 W warm a bare buck IC by 188 K, which it cannot bear; on much copper by 75 K."""
    e = ROWS["E17"]
    lost = converter.heat(e["vout_v"] * e["iout_a"], e["efficiency"])
    bare, cooled = (thermal.rise(lost, each) for each in e["k_per_w"])
    assert [bare, cooled] == pytest.approx(e["recomputed_rise_k"], rel=1e-9)
    room = 25.0
    may = [thermal.most_heat(room, e["hottest_junction_c"], each) for each in e["k_per_w"]]
    assert may[0] < lost < may[1]


def test_e27_derating() -> None:
    """E27: between 100 % at 50 degC and 60 % at 60 degC, 150 W become 120 W at 55 degC."""
    e = ROWS["E27"]
    sheet = points(e["points"])
    share = thermal.derated(sheet, e["at_c"])
    assert share is not None
    assert share * e["rated_w"] == pytest.approx(e["recomputed_w"], rel=1e-12)
    assert thermal.derated(sheet, 50.0) == 1.0
    assert thermal.derated(sheet, 60.0) == 0.6
    assert thermal.derated(sheet, 60.1) is None


def test_mounting() -> None:
    """One enclosed supply gives all its power at 45 degC lying; upright nothing is published there."""
    m = ROWS["mounting"]
    assert thermal.derated(points(m["lying"]), 45.0) == 1.0
    assert thermal.derated(points(m["upright"]), 45.0) is None


def test_low_mains() -> None:
    """At 100 V of mains a supply gives 90 %, at 230 V all; below 90 V nothing is published."""
    sheet = points(ROWS["low_mains"]["points"])
    assert curve.at(sheet, 100.0, flat_below=False) == pytest.approx(0.9, rel=1e-12)
    assert curve.at(sheet, 230.0, flat_below=False) == 1.0
    with pytest.raises(curve.BeyondCurveError, match=r"below 90\.0"):
        curve.at(sheet, 89.0, flat_below=False)


def test_drop_out_of_a_buck() -> None:
    """At its published least input a buck IC still regulates, by the greatest drop of its switch; at 6 V not."""
    b = ROWS["buck"]
    for lost in b["switch_drop_v"]:
        assert converter.dropped_out(b["least_input_v"], b["vout_v"], lost) == b["vout_v"]
        assert converter.dropped_out(6.0, b["vout_v"], lost) == pytest.approx(6.0 - lost, rel=1e-12)


def test_no_headroom() -> None:
    """A step-down fed with 12 V cannot make 12 V within 5 %."""
    h = ROWS["headroom"]
    assert converter.dropped_out(h["volts"], h["volts"], h["dropout_v"]) < h["least_v"]


def test_efficiency_of_a_buck_by_output() -> None:
    """Its published efficiencies over output power make 3.66 W and 3.75 W of heat."""
    b = ROWS["buck"]
    sheet = [
        (volts * b["iout_a"], share)
        for volts, share in zip(b["vout_by_efficiency_v"], b["efficiency"], strict=True)
    ]
    low, high = (converter.heat(out, converter.efficiency_at(sheet, out)) for out in (9.9, 15.0))
    assert low == pytest.approx(9.9 / 0.73 - 9.9, rel=1e-12)
    assert high == pytest.approx(3.75, rel=1e-12)
    assert converter.taken(sheet, 15.0, 12.0) == pytest.approx((18.75, 1.5625), rel=1e-12)


def test_pc_supply() -> None:
    """A PC supply that just meets the guide takes 429 W for 300 W, and at 105 W is half way, at 65 %."""
    p = ROWS["pc_supply"]
    sheet = [
        (share * p["rated_w"], efficiency)
        for share, efficiency in zip(p["share"], p["efficiency"], strict=True)
    ]
    assert converter.input_power(300.0, converter.efficiency_at(sheet, 300.0)) == pytest.approx(
        428.6, abs=0.05
    )
    assert converter.efficiency_at(sheet, 105.0) == pytest.approx(0.65, rel=1e-12)


def test_usb_inrush() -> None:
    """10 uF at 5 V are 50 uC."""
    u = ROWS["usb"]
    assert inrush.charge(u["farads"], u["volts"]) == pytest.approx(u["charge_c"], rel=1e-12)


@pytest.mark.parametrize("row", ROWS["ambient_correction"], ids=lambda row: f"{row['hottest_c']:.0f}-degC")
def test_ambient_correction(row: dict[str, Any]) -> None:
    """The square law of the rise gives the ambient correction factors of the code, to their two digits."""
    rated = row["hottest_c"] - 30.0
    for ambient, factor in zip(row["ambient_c"], row["factor"], strict=True):
        left = row["hottest_c"] - ambient
        assert thermal.amps_for_rise(left, 1.0, rated) == pytest.approx(factor, abs=0.0051)
        assert ambient + thermal.wire_rise(factor, 1.0, rated) == pytest.approx(row["hottest_c"], abs=0.5)

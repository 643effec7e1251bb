"""Batteries against figures of their class; rows and sources are in battery.toml."""

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.dc import battery

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("battery.toml").read_text(encoding="utf-8"))


def test_rates_of_a_lead_battery() -> None:
    """The exponent that joins the 20 h and the 1 h rate gives the rates between within 9 %, and is usual."""
    rates = ROWS["rates"]
    amps = [charge / hours for charge, hours in zip(rates["amp_hours"], rates["hours"], strict=True)]
    exponent = math.log(rates["hours"][0] / rates["hours"][-1]) / math.log(amps[-1] / amps[0])
    assert 1.1 < exponent < 1.3
    for taken, hours in zip(amps, rates["hours"], strict=True):
        found = battery.peukert_hours(rates["amp_hours"][0], rates["hours"][0], exponent, taken)
        assert found * taken == pytest.approx(hours * taken, rel=0.09)
    assert battery.peukert_hours(7.0, 20.0, exponent, amps[-1]) == pytest.approx(1.0, rel=1e-12)
    # the plain quotient promises two thirds too much in the shortest time
    assert 7.0 / amps[-1] > 1.6


def test_worn() -> None:
    """A worn battery has 80 % left."""
    assert battery.aged(100.0) == 100 * ROWS["worn"]["share"]


def test_watt_all_year() -> None:
    """One watt all year is 8.76 kWh, whether idle or busy."""
    for share in (0.0, 0.3, 1.0):
        found = battery.kilowatt_hours_per_year(1.0, 1.0, share)
        assert found == pytest.approx(ROWS["year"]["kwh_per_w"], rel=1e-12)


def test_small_ups() -> None:
    """550 W fit a UPS of 600 W and 1000 VA at a power factor of 0.6; at 0.5 its volt-amperes do not suffice."""
    ups = ROWS["small_ups"]
    assert battery.ups_use(550.0, 0.6, ups["watts"], ups["volt_amperes"]) == pytest.approx(
        550 / 600, rel=1e-12
    )
    assert battery.ups_use(550.0, 0.5, ups["watts"], ups["volt_amperes"]) == pytest.approx(1.1, rel=1e-12)

"""Batteries: energy is conserved, Peukert's law keeps its identity, cut-offs fit the circuit."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import battery, converter

shares = st.floats(0.05, 1)
loads = st.floats(0.1, 2000)


@given(energy=st.floats(1, 5000), usable=shares, watts=loads, efficiency=shares)
def test_energy_is_conserved(energy: float, usable: float, watts: float, efficiency: float) -> None:
    """What the load has got, over the efficiency, is the usable energy; charging puts as much back."""
    hours = battery.run_hours(energy, usable, watts, efficiency)
    assert hours * watts / efficiency == pytest.approx(energy * usable, rel=1e-12)
    back = battery.charge_hours(energy * usable, watts, efficiency)
    assert back * watts * efficiency == pytest.approx(energy * usable, rel=1e-12)


@given(amps=st.floats(5, 100), exponent=st.floats(1, 1.5))
def test_peukert_identity(amps: float, exponent: float) -> None:
    """Current to the exponent, times hours, is the same at every current from the rated one up."""
    rated = 5.0**exponent * 20
    assert amps**exponent * battery.peukert_hours(100, 20, exponent, amps) == pytest.approx(rated, rel=1e-9)


def test_peukert_worked() -> None:
    """100 Ah in 20 h, exponent 1.2: 20 h at 5 A; at 10 A 20/2^1.2 = 8.71 h, 87 Ah; at 1 A no more than 100 Ah."""
    assert battery.peukert_hours(100, 20, 1.2, 5) == pytest.approx(20, rel=1e-12)
    assert battery.peukert_hours(100, 20, 1.2, 10) == pytest.approx(8.7055, abs=0.0001)
    assert battery.peukert_hours(100, 20, 1.2, 1) == 100


def test_peukert_by_power() -> None:
    """By power at a steady voltage the run time is that by current: half of 8.71 h where half is usable."""
    assert battery.run_hours(1200, 0.5, 108, 0.9, 1.2, 20) == pytest.approx(8.7055 / 2, abs=0.0001)
    assert battery.run_hours(1200, 0.5, 108, 0.9) == pytest.approx(5, rel=1e-12)


@given(watts=st.floats(0, 200), ohms=st.floats(0, 0.2), cutoff=st.floats(6, 12))
def test_cut_off(watts: float, ohms: float, cutoff: float) -> None:
    """At the open voltage found the loaded battery is right at its cut-off, or at the point of collapse."""
    found = battery.open_volts_at_cutoff(watts, cutoff, ohms)
    just_above = battery.volts_under(watts, found * (1 + 1e-9), ohms)
    assert just_above is not None
    if cutoff * cutoff > ohms * watts * 1.001:
        assert just_above == pytest.approx(cutoff, rel=1e-4)
    else:
        assert just_above >= cutoff * (1 - 1e-9)
        assert battery.volts_under(watts, found * (1 - 1e-6), ohms) is None


def test_collapse_before_cut_off() -> None:
    """100 W through 1 ohm collapse at 20 V, long before a cut-off at 5 V is seen."""
    assert battery.open_volts_at_cutoff(100, 5, 1) == 20
    assert battery.volts_under(100, 20, 1) == 10
    assert battery.volts_under(100, 19.999, 1) is None


def test_volts_under() -> None:
    """A battery of 12 V and 0.1 ohm holds 11 V at 110 W: 10 A lose 1 V."""
    assert battery.volts_under(110, 12, 0.1) == pytest.approx(11, rel=1e-12)
    assert battery.volts_under(0, 12, 0.1) == 12
    assert battery.open_volts_at_cutoff(110, 11, 0.1) == pytest.approx(12, rel=1e-12)


@given(watts=st.floats(0, 1000), factor=shares)
def test_power_factor(watts: float, factor: float) -> None:
    """Watts made volt-amperes and back are the same."""
    assert battery.watts_of(battery.volt_amperes_of(watts, factor), factor) == pytest.approx(watts, rel=1e-12)


def test_ups() -> None:
    """Either rating of a UPS can be the one that decides."""
    assert battery.ups_use(500, 1.0, 600, 1000) == pytest.approx(500 / 600)
    assert battery.ups_use(500, 0.5, 600, 1000) == 1.0


def test_year_at_the_wall() -> None:
    """8 W and 2 W behind 80 % take 12.5 W; half a year of that and half of twice that is 164 kWh."""
    idle = converter.input_power(8.0 + 2.0, 0.8)
    assert idle == 12.5
    assert battery.kilowatt_hours_per_year(idle, 2 * idle, 0.5) == pytest.approx(164.25, rel=1e-12)
    assert battery.kilowatt_hours_per_year(10, 30, 0.25) == pytest.approx(131.4, rel=1e-12)
    assert converter.input_power(0.0, 0.8) == 0


def test_aged() -> None:
    """An aged battery runs for as much less as it has less energy."""
    old = battery.run_hours(battery.aged(100, 0.7), 0.8, 10)
    assert old == pytest.approx(0.7 * battery.run_hours(100, 0.8, 10), rel=1e-12)


@pytest.mark.parametrize(
    ("function", "args", "says"),
    [
        (battery.run_hours, (100, 0, 10), r"usable share 0 .*write 80 % as 0\.8"),
        (battery.run_hours, (100, 80, 10), "usable share"),
        (battery.run_hours, (100, 0.8, 0), "no such load"),
        (battery.run_hours, (-100, 0.8, 10), "no such load"),
        (battery.run_hours, (100, 0.8, 10, 1.1), "efficiency"),
        (battery.run_hours, (100, 0.8, 10, 1, 0.9), "exponent 0.9 is below 1"),
        (battery.peukert_hours, (100, 20, math.nan, 5), "exponent"),
        (battery.peukert_hours, (100, 0, 1.2, 5), "no such battery"),
        (battery.peukert_hours, (100, 20, 1.2, 0), "no such battery"),
        (battery.peukert_hours, (-100, 20, 1.2, 5), "no such battery"),
        (battery.volts_under, (-1, 12, 0.1), "no such circuit"),
        (battery.open_volts_at_cutoff, (10, 0, 0.1), "no such circuit"),
        (battery.open_volts_at_cutoff, (10, 10, -0.1), "no such circuit"),
        (battery.aged, (100, 1.2), "share left"),
        (battery.aged, (-100, 0.8), "negative energy"),
        (battery.charge_hours, (100, 0, 0.9), "no such charge"),
        (battery.charge_hours, (-100, 10, 0.9), "no such charge"),
        (battery.charge_hours, (100, 10, 0), "efficiency"),
        (battery.watts_of, (100, 1.1), "power factor"),
        (battery.watts_of, (-100, 0.9), "negative power"),
        (battery.volt_amperes_of, (100, 0), "power factor"),
        (battery.volt_amperes_of, (-100, 0.9), "negative power"),
        (battery.ups_use, (100, 0.9, 0, 1000), "no such UPS"),
        (battery.ups_use, (100, 0.9, 600, 0), "no such UPS"),
        (battery.kilowatt_hours_per_year, (10, 20, 1.1), "share"),
        (battery.kilowatt_hours_per_year, (-10, 20, 0.5), "negative power"),
        (battery.kilowatt_hours_per_year, (10, math.nan, 0.5), "negative power"),
    ],
)
def test_refused(function: Any, args: tuple[Any, ...], says: str) -> None:
    """Nonsense is refused by each function."""
    with pytest.raises(ValueError, match=says):
        function(*args)

"""Inrush: the closed forms against numerical integration, another program, and conservation of energy."""

import math
import subprocess
from pathlib import Path
from typing import Any

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import inrush

CIRCUITS = [(1000e-6, 12.0, 0.1), (10e-6, 5.0, 0.3), (4700e-6, 24.0, 0.05)]
"""Farads, volts, ohms."""


def charging(farads: float, volts: float, ohms: float, rise: float, until: float) -> Any:
    """Integrate an RC charge from a source that rises in some time: capacitor volts, I2t, and resistor heat."""
    from scipy.integrate import solve_ivp

    def change(time: float, state: Any) -> list[float]:
        source = volts if time >= rise else volts * time / rise
        amps = (source - state[0]) / ohms
        return [amps / farads, amps * amps, amps * amps * ohms]

    limits = [0.0, 0.0, 0.0]
    spans = [(0.0, rise), (rise, until)] if rise else [(0.0, until)]
    for start, end in spans:
        found = solve_ivp(change, (start, end), limits, rtol=1e-10, atol=1e-12)
        limits = [row[-1] for row in found.y]
        yield limits


@pytest.mark.parametrize(("farads", "volts", "ohms"), CIRCUITS)
def test_hard_switch_integrated(farads: float, volts: float, ohms: float) -> None:
    """After many time constants an integration has the charge, I2t and energy of the closed forms."""
    [(reached, squared, lost)] = charging(farads, volts, ohms, 0.0, 30 * inrush.time_constant(ohms, farads))
    assert reached * farads == pytest.approx(inrush.charge(farads, volts), rel=1e-8)
    assert squared == pytest.approx(inrush.amps_squared_seconds(farads, volts, ohms), rel=1e-7)
    # as much is lost in the path as is stored, whatever the resistance
    assert lost == pytest.approx(inrush.energy(farads, volts), rel=1e-7)


@pytest.mark.parametrize(("farads", "volts", "ohms"), CIRCUITS)
def test_time_until_integrated(farads: float, volts: float, ohms: float) -> None:
    """At the time found, the integrated current has come down to the current asked for."""
    for share in (0.9, 0.37, 0.01):
        amps = share * inrush.first_peak(volts, ohms)
        [(reached, _, _)] = charging(farads, volts, ohms, 0.0, inrush.time_until(amps, farads, volts, ohms))
        assert (volts - reached) / ohms == pytest.approx(amps, rel=1e-6)


@pytest.mark.parametrize("rises", [0.1, 1.0, 20.0])
@pytest.mark.parametrize(("farads", "volts", "ohms"), CIRCUITS)
def test_ramp_integrated(farads: float, volts: float, ohms: float, rises: float) -> None:
    """At the end of a rise, short or long beside the time constant, the integrated current is the closed form."""
    rise = rises * inrush.time_constant(ohms, farads)
    (reached, _, _), _ = charging(farads, volts, ohms, rise, 2 * rise)
    found = inrush.ramp_amps(farads, volts, rise, ohms)
    assert (volts - reached) / ohms == pytest.approx(found, rel=1e-6)
    assert found < min(inrush.ramp_amps(farads, volts, rise), inrush.first_peak(volts, ohms))


@pytest.mark.ngspice
@pytest.mark.parametrize(("farads", "volts", "ohms"), CIRCUITS)
def test_as_a_circuit_simulator(farads: float, volts: float, ohms: float, tmp_path: Path) -> None:
    """A transient of ngspice has the peak of a ramp, the I2t, and the time until a tenth of the peak."""
    tau = inrush.time_constant(ohms, farads)
    rise = tau / 2
    output = tmp_path / "amps.txt"
    (tmp_path / "charge.cir").write_text(
        f"* capacitor behind a resistance\nv1 in 0 pwl(0 0 {rise} {volts})\nr1 in out {ohms}\n"
        f"c1 out 0 {farads} ic=0\n.tran {tau / 500} {15 * tau} 0 {tau / 500} uic\n"
        f".control\nrun\nwrdata {output} i(v1)\nquit\n.endc\n.end\n",
        encoding="utf-8",
    )
    subprocess.run(["ngspice", "-b", tmp_path / "charge.cir"], check=True, capture_output=True, timeout=60)
    from scipy.integrate import trapezoid

    time, amps = numpy.loadtxt(output).T
    amps = -amps
    peak = inrush.ramp_amps(farads, volts, rise, ohms)
    assert amps.max() == pytest.approx(peak, rel=1e-3)
    # from the end of the rise on it is a hard switch of the volts that are still missing
    missing = peak * ohms
    after = time >= rise
    squared = trapezoid(amps[after] ** 2, time[after])
    assert squared == pytest.approx(inrush.amps_squared_seconds(farads, missing, ohms), rel=1e-2)
    below = time[after][numpy.argmax(amps[after] < peak / 10)] - rise
    assert below == pytest.approx(inrush.time_until(peak / 10, farads, missing, ohms), rel=5e-3)


@given(ohms=st.floats(1e-3, 10), farads=st.floats(1e-9, 1), volts=st.floats(0.1, 60))
def test_time_constant_is_one_e(ohms: float, farads: float, volts: float) -> None:
    """After one time constant 1/e of the first peak is left, and no time is needed for the peak itself."""
    peak = inrush.first_peak(volts, ohms)
    after = inrush.time_until(peak / math.e, farads, volts, ohms)
    assert after == pytest.approx(inrush.time_constant(ohms, farads), rel=1e-9)
    assert inrush.time_until(peak, farads, volts, ohms) == 0
    assert inrush.time_until(2 * peak, farads, volts, ohms) == 0


@given(farads=st.floats(1e-9, 1), volts=st.floats(0.1, 60), ohms=st.floats(1e-3, 10))
def test_shortest_ramp_is_a_hard_switch(farads: float, volts: float, ohms: float) -> None:
    """A rise of no time to speak of has the first peak of a hard switch, and loses no digits."""
    found = inrush.ramp_amps(farads, volts, 1e-12 * ohms * farads, ohms)
    assert found == pytest.approx(inrush.first_peak(volts, ohms), rel=1e-9)


def test_limited_source() -> None:
    """A source that holds 2 A charges 1000 uF to 12 V in 6 ms; over that time CV/t is its current again."""
    seconds = inrush.limited_seconds(1000e-6, 12.0, 2.0)
    assert seconds == pytest.approx(6e-3, rel=1e-12)
    assert inrush.ramp_amps(1000e-6, 12.0, seconds) == pytest.approx(2.0, rel=1e-12)


def test_no_capacitor() -> None:
    """Without capacitance nothing flows into it."""
    assert inrush.charge(0, 12) == 0
    assert inrush.energy(0, 12) == 0
    assert inrush.ramp_amps(0, 12, 1e-3, 0.1) == 0
    assert inrush.amps_squared_seconds(0, 12, 0.1) == 0


@pytest.mark.parametrize(
    ("function", "args", "says"),
    [
        (inrush.charge, (-1e-6, 12), "no such capacitor"),
        (inrush.charge, (1e-6, math.nan), "no such capacitor"),
        (inrush.energy, (1e-6, -12), "no such capacitor"),
        (inrush.ramp_amps, (-1e-6, 12, 1e-3), "no such capacitor"),
        (inrush.ramp_amps, (1e-6, 12, 0), "no such ramp"),
        (inrush.ramp_amps, (1e-6, 12, 1e-3, -1), "no such ramp"),
        (inrush.first_peak, (12, 0), "no such path"),
        (inrush.first_peak, (-12, 1), "no such path"),
        (inrush.time_constant, (-1, 1e-6), "no such path"),
        (inrush.time_constant, (1, -1e-6), "no such path"),
        (inrush.time_until, (0, 1e-6, 12, 1), "not positive"),
        (inrush.time_until, (1, -1e-6, 12, 1), "no such capacitor"),
        (inrush.time_until, (1, 1e-6, 12, 0), "no such path"),
        (inrush.amps_squared_seconds, (1e-6, 12, 0), "no such path"),
        (inrush.amps_squared_seconds, (-1e-6, 12, 1), "no such capacitor"),
        (inrush.limited_seconds, (1e-6, 12, 0), "not positive"),
        (inrush.limited_seconds, (-1e-6, 12, 1), "no such capacitor"),
    ],
)
def test_refused(function: Any, args: tuple[float, ...], says: str) -> None:
    """Nonsense is refused by each function."""
    with pytest.raises(ValueError, match=says):
        function(*args)

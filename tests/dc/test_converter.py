"""Converters: energy is conserved, and nonsense is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import converter

watts = st.floats(0, 1e4)
shares = st.floats(0.01, 1)


@given(out=watts, efficiency=shares, standing=st.floats(0, 10), volts=st.floats(1, 60))
def test_in_is_out_and_heat(out: float, efficiency: float, standing: float, volts: float) -> None:
    """What goes in is what comes out and what stays as heat, in watts and by the current at the input."""
    taken = converter.input_power(out, efficiency, standing)
    assert taken == pytest.approx(out + converter.heat(out, efficiency, standing), rel=1e-12)
    assert converter.input_amps(out, volts, efficiency, standing) * volts == pytest.approx(taken, rel=1e-12)


def test_standing_draw_alone() -> None:
    """With nothing connected the standing draw is all that is taken, and all of it is heat."""
    assert converter.input_power(0, 0.9, 0.3) == 0.3
    assert converter.heat(0, 0.9, 0.3) == 0.3


def test_perfect_converter() -> None:
    """A converter without loss makes no heat."""
    assert converter.heat(100, 1) == 0
    assert converter.input_power(100, 1) == 100


@pytest.mark.parametrize("efficiency", [0.0, -0.1, 1.0001, 92, math.nan])
def test_efficiency_outside_its_range(efficiency: float) -> None:
    """An efficiency outside (0, 1] is refused by all three, and a percentage is told how to be written."""
    with pytest.raises(ValueError, match=r"write 92 % as 0\.92"):
        converter.input_power(10, efficiency)
    with pytest.raises(ValueError, match="efficiency"):
        converter.input_amps(10, 12, efficiency)
    with pytest.raises(ValueError, match="efficiency"):
        converter.heat(10, efficiency)


@pytest.mark.parametrize(("out", "standing"), [(-1.0, 0.0), (1.0, -0.1), (math.nan, 0.0)])
def test_negative_power(out: float, standing: float) -> None:
    """A negative power is refused."""
    with pytest.raises(ValueError, match="negative power"):
        converter.input_power(out, 0.9, standing)


@pytest.mark.parametrize("volts", [0.0, -12.0, math.nan])
def test_no_input_voltage(volts: float) -> None:
    """An input voltage that is not positive is refused."""
    with pytest.raises(ValueError, match="not positive"):
        converter.input_amps(10, volts, 0.9)


SHEET = [(5.0, 0.80), (25.0, 0.92), (50.0, 0.90)]


@pytest.mark.parametrize(
    ("out", "efficiency"),
    [(0.0, 0.80), (5.0, 0.80), (15.0, 0.86), (25.0, 0.92), (37.5, 0.91), (50.0, 0.90), (60.0, 0.90)],
)
def test_efficiency_from_a_curve(out: float, efficiency: float) -> None:
    """Efficiency is straight between published points and held outside."""
    assert converter.efficiency_at(SHEET, out) == pytest.approx(efficiency, rel=1e-12)


@given(out=st.floats(0, 60), standing=st.floats(0, 5), volts=st.floats(1, 60))
def test_energy_along_a_curve(out: float, standing: float, volts: float) -> None:
    """Along a curve, too, what goes in is what comes out and what stays as heat."""
    watts, amps = converter.taken(SHEET, out, volts, standing)
    warms = converter.heat(out, converter.efficiency_at(SHEET, out), standing)
    assert watts == pytest.approx(out + warms, rel=1e-12)
    assert amps * volts == pytest.approx(watts, rel=1e-12)


@given(low=st.floats(0, 60), more=st.floats(0.001, 60))
def test_greater_load_takes_more(low: float, more: float) -> None:
    """A greater load takes more power in, wherever the two lie on the curve."""
    assert converter.taken(SHEET, low + more, 12.0)[0] > converter.taken(SHEET, low, 12.0)[0]


def test_lower_input_takes_more() -> None:
    """The lowest input makes the greatest current."""
    assert converter.taken(SHEET, 25.0, 10.0)[1] > converter.taken(SHEET, 25.0, 14.4)[1]


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([], "at least one"),
        ([(10.0, 0.9), (5.0, 0.8)], "must rise"),
        ([(10.0, 92.0)], r"write 92 % as 0\.92"),
        ([(0.0, 0.0), (10.0, 0.9)], "efficiency 0.0"),
        ([(-1.0, 0.5), (10.0, 0.9)], "negative power"),
        ([(10.0, 0.2), (20.0, 0.9)], "greater load would take no more"),
        ([(10.0, 0.45), (20.0, 0.9)], "greater load would take no more"),
    ],
)
def test_bad_curves(points: list[tuple[float, float]], says: str) -> None:
    """A curve of efficiency that cannot be one is refused, also where the load lies on a good point."""
    with pytest.raises(ValueError, match=says):
        converter.efficiency_at(points, 10.0)


@pytest.mark.parametrize("out", [-1.0, math.nan])
def test_negative_load_on_a_curve(out: float) -> None:
    """A negative load has no efficiency."""
    with pytest.raises(ValueError, match="negative power"):
        converter.efficiency_at(SHEET, out)


@pytest.mark.parametrize(
    ("volts_in", "left"),
    [(24.0, 5.0), (6.5, 5.0), (6.4, 4.9), (5.0, 3.5), (1.5, 0.0), (1.0, 0.0), (0.0, 0.0)],
)
def test_dropped_out(volts_in: float, left: float) -> None:
    """A step-down holds its output until its input is less than that and the dropout; then it follows."""
    assert converter.dropped_out(volts_in, 5.0, 1.5) == pytest.approx(left, abs=1e-12)


@pytest.mark.parametrize(
    "volts", [(-1.0, 5.0, 1.0), (12.0, -5.0, 1.0), (12.0, 5.0, -1.0), (math.nan, 5.0, 1.0)]
)
def test_dropped_out_refuses(volts: tuple[float, float, float]) -> None:
    """A negative voltage is refused."""
    with pytest.raises(ValueError, match="negative voltage"):
        converter.dropped_out(*volts)

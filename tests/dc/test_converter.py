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

"""The drop of one run, and one load of constant power at the end of one resistance."""

import math
from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import drop

volts_ = st.floats(1, 100)
ohms_ = st.floats(1e-12, 10)


def test_out_and_back() -> None:
    """A loop loses twice what one conductor loses."""
    assert drop.run_drop(2.0, 3.0, 0.05) == pytest.approx(0.3)
    assert drop.loop_drop(2.0, 3.0, 0.05) == pytest.approx(0.6)


@given(volts=volts_, ohms=ohms_, share=st.floats(0, 1))
def test_carried_is_the_upper_root(volts: float, ohms: float, share: float) -> None:
    """The load gets its power, the drop is Ohm's, and the load keeps at least half of the voltage."""
    watts = share * volts * volts / (4 * ohms)
    found = drop.carried(volts, ohms, watts)
    assert found is not None
    at_load, amps = found
    assert at_load * amps == pytest.approx(watts, rel=1e-12)
    assert at_load + ohms * amps == pytest.approx(volts, rel=1e-12)
    assert volts / 2 <= at_load <= volts


@given(volts=volts_, ohms=ohms_)
def test_most_that_a_path_carries(volts: float, ohms: float) -> None:
    """V²/4R is carried, at half of the voltage; a hair more is not: the maximum power transfer theorem."""
    most = volts * volts / (4 * ohms)
    found = drop.carried(volts, ohms, most)
    assert found is not None
    assert found[0] == pytest.approx(volts / 2, rel=1e-7)
    assert drop.carried(volts, ohms, most * (1 + 1e-12)) is None


@given(volts=volts_, ohms=st.floats(1e-15, 1e-3), watts=st.floats(1e-3, 1e3))
def test_small_resistance_loses_no_digits(volts: float, ohms: float, watts: float) -> None:
    """Current and drop agree with 60-digit arithmetic to 14 digits, however small the resistance."""
    found = drop.carried(volts, ohms, watts)
    v, r, p = Decimal(volts), Decimal(ohms), Decimal(watts)
    with localcontext() as context:
        context.prec = 60
        square = v * v - 4 * r * p
        if square < v * v / 100:
            return
        exact = p / ((v + square.sqrt()) / 2)
    assert found is not None
    assert found[1] == pytest.approx(float(exact), rel=1e-14)


def test_perfect_path() -> None:
    """Without resistance any power is carried at the full voltage."""
    assert drop.carried(12.0, 0.0, 1e6) == (12.0, 1e6 / 12)


@pytest.mark.parametrize(
    ("volts", "ohms", "watts"), [(0, 1, 1), (-5, 1, 1), (5, -1, 1), (5, 1, -1), (math.nan, 1, 1)]
)
def test_no_such_circuit(volts: float, ohms: float, watts: float) -> None:
    """A voltage that is not positive, a negative resistance or a negative power is refused."""
    with pytest.raises(ValueError, match="no such circuit"):
        drop.carried(volts, ohms, watts)

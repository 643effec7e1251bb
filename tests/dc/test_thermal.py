"""Heat: rises, what may be carried at an ambient, and the square law of a wire."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import thermal

positive = st.floats(0.01, 1e3)


@given(ambient=st.floats(-40, 60), rise=st.floats(0, 100), resistance=positive)
def test_most_heat_leads_to_the_hottest(ambient: float, rise: float, resistance: float) -> None:
    """The greatest heat warms a thing right up to its hottest."""
    hottest = ambient + rise
    heat = thermal.most_heat(ambient, hottest, resistance)
    assert ambient + thermal.rise(heat, resistance) == pytest.approx(hottest, rel=1e-9, abs=1e-9)


def test_no_heat_left() -> None:
    """Where it is too warm around a thing it may make no heat at all."""
    assert thermal.most_heat(70, 65, 10) == 0
    assert thermal.amps_for_rise(-5, 10, 30) == 0


@pytest.mark.parametrize(
    ("ambient", "share"),
    [(-40, 1.0), (40, 1.0), (50, 1.0), (55, 0.75), (60, 0.5), (70, 0.2), (70.01, None), (200, None)],
)
def test_derated(ambient: float, share: float | None) -> None:
    """A supply gives all below the first point, less between, and nothing is known beyond the last."""
    found = thermal.derated([(50, 1.0), (60, 0.5), (70, 0.2)], ambient)
    assert found == (None if share is None else pytest.approx(share, rel=1e-12))


def test_derated_to_nothing() -> None:
    """Where a curve comes down to nothing, nothing may be taken beyond it: that much is known."""
    assert thermal.derated([(50, 1.0), (70, 0.0)], 71) == 0
    assert thermal.derated([(50, 1.0), (70, 0.0)], 60) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("points", "says"),
    [([], "at least one"), ([(50, 100.0)], r"write 60 % as 0\.6"), ([(60, 1.0), (50, 0.5)], "must rise")],
)
def test_bad_derating(points: list[tuple[float, float]], says: str) -> None:
    """A curve that is none, or in percent, is refused."""
    with pytest.raises(ValueError, match=says):
        thermal.derated(points, 20)


def test_ambient_that_is_no_number() -> None:
    """An ambient that is no number is refused, not held to the first share."""
    with pytest.raises(ValueError, match="no number"):
        thermal.derated([(50, 1.0)], math.nan)


@given(ampacity=positive, rated=positive, allowed=positive)
def test_rise_and_current_of_a_wire(ampacity: float, rated: float, allowed: float) -> None:
    """The current for a rise makes that rise; the ampacity makes the rated one; half of it a quarter."""
    amps = thermal.amps_for_rise(allowed, ampacity, rated)
    assert thermal.wire_rise(amps, ampacity, rated) == pytest.approx(allowed, rel=1e-9)
    assert thermal.wire_rise(ampacity, ampacity, rated) == rated
    assert thermal.wire_rise(ampacity / 2, ampacity, rated) == pytest.approx(rated / 4, rel=1e-12)


@pytest.mark.parametrize("args", [(-1, 1), (1, -1), (math.nan, 1), (1, math.nan)])
def test_rise_refuses(args: tuple[float, float]) -> None:
    """A negative power or resistance is refused."""
    with pytest.raises(ValueError, match="no such heat path"):
        thermal.rise(*args)


@pytest.mark.parametrize("args", [(20, 80, 0), (20, 80, -1), (math.nan, 80, 1), (20, math.nan, 1)])
def test_most_heat_refuses(args: tuple[float, float, float]) -> None:
    """A resistance that is not positive and temperatures that are no numbers are refused."""
    with pytest.raises(ValueError, match="no such heat path"):
        thermal.most_heat(*args)


@pytest.mark.parametrize("args", [(-1, 5, 30), (1, 0, 30), (1, 5, 0), (math.nan, 5, 30)])
def test_wires_refused(args: tuple[float, float, float]) -> None:
    """A negative current, and an ampacity or a rated rise that is not positive, are refused."""
    with pytest.raises(ValueError, match="no such wire"):
        thermal.wire_rise(*args)


@pytest.mark.parametrize("args", [(math.nan, 5, 30), (10, 0, 30), (10, 5, 0)])
def test_rises_refused(args: tuple[float, float, float]) -> None:
    """A rise that is no number, and an ampacity or a rated rise that is not positive, are refused."""
    with pytest.raises(ValueError, match="no such wire"):
        thermal.amps_for_rise(*args)

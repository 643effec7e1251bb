"""Curves: exact at their points, straight between them, held or refused outside, nonsense refused."""

import math

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import curve

curves = st.lists(
    st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6)),
    min_size=1,
    max_size=6,
    unique_by=lambda point: point[0],
).map(sorted)
# far enough apart that numpy's slope keeps its digits
spaced = st.lists(
    st.tuples(st.integers(-(10**6), 10**6).map(float), st.floats(-1e6, 1e6)),
    min_size=1,
    max_size=6,
    unique_by=lambda point: point[0],
).map(sorted)


@given(points=curves)
def test_exact_at_its_points(points: list[tuple[float, float]]) -> None:
    """At a published point the published value comes back, to the last bit, outside allowed or not."""
    for x, y in points:
        assert curve.at(points, x) == y
        assert curve.at(points, x, flat_below=False, flat_above=False) == y


@given(points=spaced, x=st.floats(-2e6, 2e6))
def test_as_numpy(points: list[tuple[float, float]], x: float) -> None:
    """Between the points and outside them a curve is what numpy interpolates."""
    xs, ys = zip(*points, strict=True)
    scale = max(map(abs, ys))
    assert curve.at(points, x) == pytest.approx(
        numpy.interp(x, xs, ys), rel=1e-9, abs=max(1e-9 * scale, 1e-300)
    )


@given(points=curves, x=st.floats(-2e6, 2e6))
def test_within_its_values(points: list[tuple[float, float]], x: float) -> None:
    """A curve never leaves the range of its values, not even by rounding."""
    values = [y for _, y in points]
    assert min(values) <= curve.at(points, x) <= max(values)


@pytest.mark.parametrize("value", [0.9, 0.92, 0.7, 0.6])
def test_level_stays_level(value: float) -> None:
    """Between two equal values the value is theirs to the last bit: a limit of 0.7 is not missed by a hair."""
    for x in range(101):
        assert curve.at([(0.0, value), (100.0, value)], x) == value


def test_halfway() -> None:
    """Half way between two points lies their mean."""
    assert curve.at([(0, 1.0), (10, 2.0), (20, 0.0)], 15) == 1.0
    assert curve.at([(0, 1.0), (10, 2.0), (20, 0.0)], 5) == 1.5


def test_outside() -> None:
    """Each side is held or refused by itself, and a refusal names the side and its end."""
    points = [(10.0, 1.0), (20.0, 3.0)]
    assert curve.at(points, -math.inf, flat_above=False) == 1.0
    assert curve.at(points, math.inf, flat_below=False) == 3.0
    with pytest.raises(curve.BeyondCurveError, match=r"below 10\.0: asked at 9\.9") as below:
        curve.at(points, 9.9, flat_below=False)
    assert (below.value.x, below.value.end) == (9.9, 10.0)
    with pytest.raises(curve.BeyondCurveError, match=r"above 20\.0: asked at 20\.1"):
        curve.at(points, 20.1, flat_above=False)


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([], "at least one"),
        ([(1.0, 1.0), (1.0, 2.0)], "must rise"),
        ([(2.0, 1.0), (1.0, 2.0)], "must rise"),
        ([(math.nan, 1.0)], "no such point"),
        ([(1.0, math.nan)], "no such point"),
        ([(1.0, 2.0), (math.inf, 2.0)], "no such point"),
    ],
)
def test_bad_points(points: list[tuple[float, float]], says: str) -> None:
    """A curve without points, with points that do not rise, or that are no numbers, is refused."""
    with pytest.raises(ValueError, match=says):
        curve.at(points, 1.0)


def test_no_number() -> None:
    """There is no value at no number."""
    with pytest.raises(ValueError, match="no number"):
        curve.at([(0.0, 1.0)], math.nan)

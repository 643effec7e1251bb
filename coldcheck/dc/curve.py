"""Curves from data sheets: straight lines between published points."""

import math
from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise

Points = Sequence[tuple[float, float]]
"""(x, y), x rising."""


class BeyondCurveError(ValueError):
    """A value asked for where no point is published; carries it and the nearest published one."""

    def __init__(self, x: float, end: float) -> None:
        self.x = x
        self.end = end
        super().__init__(f"nothing is published {'below' if x < end else 'above'} {end}: asked at {x}")


def checked(points: Points) -> Points:
    """Refuse a curve that is none.

    points: (x, y), x rising [any, any]
    Gives: the points themselves.
    Errors: ValueError for no point, for an x that does not rise, and for what is not finite.
    """
    if not points:
        raise ValueError("a curve has at least one point")
    for point in points:
        if not all(map(math.isfinite, point)):
            raise ValueError(f"no such point of a curve: {point}")
    for (before, _), (after, _) in pairwise(points):
        if not before < after:
            raise ValueError(f"points of a curve must rise: {before}, then {after}")
    return points


def at(points: Points, x: float, flat_below: bool = True, flat_above: bool = True) -> float:
    """Value of a curve: straight between two points, exact at each, held or refused outside.

    points: (x, y), x rising [any, any]
    x: where [as in the points]
    flat_below: hold the first value below the first point, else refuse [-]
    flat_above: hold the last value above the last point, else refuse [-]
    Gives: [as in the points]
    Errors: ValueError for bad points (see `checked`) and for an x that is no number; BeyondCurveError
        outside where that is refused.
    Source: linear interpolation.
    """
    (first, low), (last, high) = checked(points)[0], points[-1]
    if math.isnan(x):
        raise ValueError("asked for the value of a curve at no number")
    if (x < first and not flat_below) or (x > last and not flat_above):
        raise BeyondCurveError(x, first if x < first else last)
    if x <= first or x >= last:
        return low if x <= first else high
    index = bisect_left(points, x, key=lambda point: point[0])
    (left, below), (right, above) = points[index - 1], points[index]
    share = (x - left) / (right - left)
    value = below * (1 - share) + above * share
    # rounding must not lead out of the two published values
    return min(max(value, min(below, above)), max(below, above))

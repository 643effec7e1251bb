"""Draws of parameters that are not exactly what they are meant to be: volts, ohms, watts within their spread.

One seed gives the same numbers on every machine (PCG64). Each parameter, and each group of parameters that move
together, has a unit draw of its own: evenly spread from 0 to 1, turned into a value by the parameter's law. All
laws rise with the unit draw, so members of one group are low together and high together.
"""

from collections.abc import Sequence
from typing import Any, Literal, TypeAlias

import numpy as np
from msgspec import Struct

Array: TypeAlias = np.ndarray[Any, np.dtype[np.float64]]

SIGMAS = 3.0
"""Standard deviations from the nominal value to either end of a normal spread (common practice)."""


class Spread(Struct, frozen=True):
    """What one parameter may be.

    nominal: as it should be
    low: the least it may be
    high: the most it may be
    law: "normal": the ends are three standard deviations away, and nothing lies beyond them; where the ends
        are not equally far from the nominal value, each side has its own deviation, and half of all draws.
        "uniform": any value between the ends is equally likely. "worst": one of the two ends, at equal chance.
    group: parameters of the same group share one unit draw; None moves alone
    """

    nominal: float
    low: float
    high: float
    law: Literal["normal", "uniform", "worst"] = "normal"
    group: str | None = None

    def __post_init__(self) -> None:
        if not (np.isfinite((self.low, self.high)).all() and self.low <= self.nominal <= self.high):
            raise ValueError(f"{self.nominal} does not lie between finite ends {self.low} and {self.high}")
        if self.law not in ("normal", "uniform", "worst"):
            raise ValueError(f'"{self.law}" is no law of a spread')


def draw(spreads: Sequence[Spread], count: int, seed: int | Sequence[int]) -> Array:
    """Draw every parameter a number of times.

    spreads: of the parameters [-]
    count: how many samples [-]
    seed: start of the random numbers; several numbers name a stream of their own, such as a part of a longer
        row of samples [-]
    Gives: values (parameters x samples), each in the unit of its spread. A spread without width gives its
        value throughout. Each parameter or group has a stream of numbers of its own: to widen a spread, or to
        add one at the end, leaves all others as they were.
    Errors: ValueError for a count below 1 or a negative seed.
    Valid: any spreads; parameters of different groups are independent of each other.
    Source: inversion of the distribution function (common practice); PCG64 as implemented in NumPy.
    """
    if count < 1:
        raise ValueError(f"{count} samples cannot be drawn")
    rows, number = _rows(spreads)
    streams = np.random.SeedSequence(seed).spawn(number)
    values = np.empty((len(spreads), count))
    drawn: dict[int, Array] = {}
    for value, spread, row in zip(values, spreads, rows, strict=True):
        if spread.low == spread.high:
            value.fill(spread.nominal)
            continue
        unit = drawn.get(row)
        if unit is None:
            unit = np.random.Generator(np.random.PCG64(streams[row])).random(count)
            if spread.group is not None:
                drawn[row] = unit
        _LAWS[spread.law](unit, spread, value)
        # a last digit lost in a sum must not put a value outside its ends
        np.clip(value, spread.low, spread.high, out=value)
    return values


def _rows(spreads: Sequence[Spread]) -> tuple[list[int], int]:
    """Give the row of unit draws of each parameter, and how many rows there are."""
    rows: list[int] = []
    groups: dict[str, int] = {}
    number = 0
    for spread in spreads:
        if spread.group in groups:
            rows.append(groups[spread.group])
            continue
        rows.append(number)
        if spread.group is not None:
            groups[spread.group] = number
        number += 1
    return rows, number


def _uniform(unit: Array, spread: Spread, value: Array) -> None:
    np.multiply(unit, spread.high - spread.low, out=value)
    value += spread.low


def _worst(unit: Array, spread: Spread, value: Array) -> None:
    value.fill(spread.high)
    value[unit < 0.5] = spread.low


def _normal(unit: Array, spread: Spread, value: Array) -> None:
    from scipy.special import ndtr, ndtri

    tail = float(ndtr(-SIGMAS))
    np.multiply(unit, 1.0 - 2.0 * tail, out=value)
    value += tail
    ndtri(value, out=value)
    value /= SIGMAS
    below = np.minimum(value, 0.0)
    below *= spread.nominal - spread.low
    np.maximum(value, 0.0, out=value)
    value *= spread.high - spread.nominal
    value += below
    value += spread.nominal


_LAWS = {"uniform": _uniform, "worst": _worst, "normal": _normal}

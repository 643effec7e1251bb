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
        value throughout, and draws what others would draw: to widen it leaves all others as they were. A
        parameter added at the end, in no group, does too.
    Errors: ValueError for a count below 1 or a negative seed.
    Valid: any spreads; parameters of different groups are independent of each other.
    Source: inversion of the distribution function (common practice); PCG64 as implemented in NumPy.
    """
    if count < 1:
        raise ValueError(f"{count} samples cannot be drawn")
    rows, number = _rows(spreads)
    generator = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed)))
    unit = generator.random((number, count))
    values = np.empty((len(spreads), count))
    deviates: dict[int, Array] = {}
    for value, spread, row in zip(values, spreads, rows, strict=True):
        if spread.low == spread.high:
            value.fill(spread.nominal)
        elif spread.law == "uniform":
            np.multiply(unit[row], spread.high - spread.low, out=value)
            np.add(value, spread.low, out=value)
        elif spread.law == "worst":
            value[...] = np.where(unit[row] < 0.5, spread.low, spread.high)
        else:
            if row not in deviates:
                deviates[row] = _deviates(unit[row])
            z = deviates[row]
            side = np.where(z < 0.0, spread.nominal - spread.low, spread.high - spread.nominal)
            value[...] = z * side + spread.nominal
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


def _deviates(unit: Array) -> Array:
    """Turn unit draws into normal ones between -1 and 1, where 1 is SIGMAS standard deviations."""
    from scipy.special import ndtr, ndtri

    tail = float(ndtr(-SIGMAS))
    found: Array = ndtri(tail + unit * (1.0 - 2.0 * tail)) / SIGMAS
    return found

"""Values that change in steps with time: start-up currents, and how long they stay above a limit.

A series is a list of (start [s], value). Each value holds from its start to the next start, the last one
for ever. Before the first start the value is zero; an empty series is zero for ever.
"""

import math
from collections.abc import Iterable
from itertools import pairwise

Steps = list[tuple[float, float]]
"""(start [s], value), starts rising."""


def _checked(steps: Steps) -> Steps:
    for (before, _), (after, _) in pairwise(steps):
        if not before < after:
            raise ValueError(f"starts of a series must rise: {before} s, then {after} s")
    return steps


def _grown(parts: list[float], value: float) -> list[float]:
    """Add a value to a sum kept as parts that do not overlap, without rounding (Shewchuk 1997)."""
    grown = []
    for part in parts:
        big, small = (value, part) if abs(value) >= abs(part) else (part, value)
        value = big + small
        rest = small - (value - big)
        if rest:
            grown.append(rest)
    if value:
        grown.append(value)
    return grown


def add(many: Iterable[Steps]) -> Steps:
    """Sum of several series. At every moment it is the exact sum rounded once: no drift, whatever the order.

    many: series of one unit [any]
    Gives: one series of the same unit; starts at which the sum stays the same are left out.
    Errors: ValueError when the starts of a series do not rise.
    Valid: finite values. n log n in the number of steps.
    """
    changes: list[tuple[float, float, float]] = []
    for steps in many:
        before = 0.0
        for start, value in _checked(steps):
            changes.append((start, before, value))
            before = value
    changes.sort()
    total: Steps = []
    parts: list[float] = []
    for place, (start, before, value) in enumerate(changes):
        parts = _grown(_grown(parts, -before), value)
        if place + 1 < len(changes) and changes[place + 1][0] == start:
            continue
        now = math.fsum(parts)
        if not total or total[-1][1] != now:
            total.append((start, now))
    return total


def peak(steps: Steps) -> tuple[float, float]:
    """Highest step of a series, and when it is first reached.

    steps: one series [any]
    Gives: (start [s], value); (0, 0) for an empty series.
    Errors: ValueError when the starts do not rise.
    """
    return max(_checked(steps), key=lambda step: step[1], default=(0.0, 0.0))


def spells_above(steps: Steps, limit: float) -> list[tuple[float, float, float]]:
    """Unbroken stretches of time in which a series is above a limit.

    steps: one series [any]
    limit: in the unit of the series; a value equal to it is not above it [any]
    Gives: for each stretch its start [s], end [s] (inf when it never ends) and highest value, in order of
        time.
    Errors: ValueError when the starts do not rise.
    Valid: limits of zero and more; the time before the first start is not looked at.
    """
    spells: list[tuple[float, float, float]] = []
    begun: float | None = None
    highest = 0.0
    for start, value in _checked(steps):
        if value > limit:
            highest = value if begun is None else max(highest, value)
            begun = start if begun is None else begun
        elif begun is not None:
            spells.append((begun, start, highest))
            begun = None
    if begun is not None:
        spells.append((begun, math.inf, highest))
    return spells


def longest_above(steps: Steps, limit: float) -> float:
    """Longest unbroken time that a series is above a limit; hold it against "30 A for 10 s".

    steps: one series [any]
    limit: in the unit of the series; a value equal to it is not above it [any]
    Gives: [s]; 0 when it never is, inf when it stays so for ever.
    Errors: as `spells_above`.
    """
    return max((end - start for start, end, _ in spells_above(steps, limit)), default=0.0)

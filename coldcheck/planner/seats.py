"""Seats: things of several entries, each to sit in one place of some group of like places: ports, bays, outlets.

How many of an entry sit in which group is decided by an integer program; which seat of the group each one takes, here:
members of an entry side by side where they can, in the order of the plan.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

__all__ = ["deal_out", "ordered"]

_DIGITS = re.compile(r"(\d+)")


def ordered(names: Sequence[str]) -> list[str]:
    """Return names in the order a person counts them: ``sw.2`` before ``sw.10``."""
    return sorted(names, key=lambda name: [int(p) if p.isdigit() else p for p in _DIGITS.split(name)])


def deal_out(counts: Sequence[tuple[str, int]], seats: Sequence[str]) -> dict[str, list[str]]:
    """Return the seats of every entry: ``counts`` has the entries, each with how many seats it takes of these.

    An entry takes the first run of seats that count on and are enough for it, else the first free ones. Raises
    ValueError where there are fewer seats than things.
    """
    free = ordered(seats)
    if sum(count for _, count in counts) > len(free):
        raise ValueError("there are fewer seats than things")
    found: dict[str, list[str]] = {}
    for entry, count in counts:
        start = next((i for i in range(len(free) - count + 1) if _counts_on(free[i : i + count])), 0)
        found[entry] = free[start : start + count]
        del free[start : start + count]
    return found


def _counts_on(names: list[str]) -> bool:
    return all(_after(a, b) for a, b in itertools.pairwise(names))


def _after(name: str, other: str) -> bool:
    a, b = _DIGITS.split(name), _DIGITS.split(other)
    differ = [i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y]
    return (
        len(a) == len(b)
        and len(differ) == 1
        and differ[0] % 2 == 1
        and int(b[differ[0]]) == int(a[differ[0]]) + 1
    )

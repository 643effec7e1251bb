"""A series of steps as columns of characters, with its limits as lines in between.

Each column stands for one stretch of time and shows the most that the series reaches in it, so a surge of a second is
never lost between two columns. A limit is a row of its own: a column comes through it, in a shade of its own, where and
only where the series is above the limit. The rows between two limits are shared out evenly, so that both lie exactly on
a row.
"""

from __future__ import annotations

from bisect import bisect_right
from itertools import pairwise
from math import ceil

import msgspec

__all__ = [
    "FLAT",
    "ROWS",
    "Axis",
    "Limit",
    "Pieces",
    "Ticks",
    "axis_of",
    "axis_rows",
    "highest",
    "plot",
    "plotted",
]

Steps = list[tuple[float, float]]
#: Pieces of one row: (role, text).
Pieces = list[tuple[str, str]]
#: Where the time axis is labelled: (column, moment [s]).
Ticks = list[tuple[int, float]]

#: How many rows a plot has, without the lines of its limits.
ROWS = 8
#: How many are enough for what never changes.
FLAT = 3
#: Columns that a quiet stretch keeps where it is cut short.
CUT = 4
_EIGHTHS = " ▁▂▃▄▅▆▇█"
_ROUGH = " ..::::##"


class Limit(msgspec.Struct, frozen=True):
    """A line in a plot: its value in the unit of the series, and what is written beside it."""

    value: float
    says: str


class Axis(msgspec.Struct, frozen=True):
    """Time as columns: ``edges`` [s] has one more than there are columns; ``cuts`` are stretches [s] cut short."""

    edges: tuple[float, ...]
    cuts: tuple[tuple[float, float], ...] = ()

    @property
    def width(self) -> int:
        """How many columns there are."""
        return len(self.edges) - 1

    def column(self, at: float) -> int:
        """Return the column that a moment [s] lies in, from 0."""
        return min(max(bisect_right(self.edges, at) - 1, 0), self.width - 1)


def axis_of(moments: list[float], width: int) -> Axis:
    """Return columns from 0 s to a while past the last moment at which something changes.

    A stretch without change that is longer than all others together is cut to a few columns.

    moments: when something changes [s]
    width: how many columns there are
    """
    last = max(moments, default=0.0)
    end = last + max(last * 0.15, 2.0)
    edges = sorted({0.0, *(at for at in moments if 0 <= at <= last), end})
    gaps = list(pairwise(edges[:-1]))
    cuts = tuple(gap for gap in gaps if gap[1] - gap[0] > 60.0 and _longest_by_far(gap, end))[:1]
    if not cuts or width < 4 * CUT:
        return Axis(tuple(end * i / width for i in range(width + 1)))
    (begun, ended), rest = cuts[0], width - CUT
    before = max(1, round(rest * begun / (end - (ended - begun)))) if begun > 0 else 0
    after = rest - before
    grid = [begun * i / before for i in range(before)]
    grid += [begun + (ended - begun) * i / CUT for i in range(CUT)]
    grid += [ended + (end - ended) * i / after for i in range(after + 1)]
    return Axis(tuple(grid), cuts)


def _longest_by_far(gap: tuple[float, float], end: float) -> bool:
    return gap[1] - gap[0] > end / 2


def highest(steps: Steps, axis: Axis) -> list[float]:
    """Return the most that a series reaches in each column; a value that only ends where one begins is not in it."""
    starts = [at for at, _ in steps]
    found = []
    for begin, end in pairwise(axis.edges):
        first = max(bisect_right(starts, begin) - 1, 0)
        found.append(max((value for at, value in steps[first:] if at < end), default=0.0))
    return found


def plotted(
    levels: list[float], limits: list[Limit], rows: int = ROWS, blocks: bool = True
) -> list[tuple[Limit | None, Pieces]]:
    """Return the rows of a plot, the highest first, without any axis; the line of a limit comes with that limit.

    levels: what each column shows
    limits: lines to draw; those far above every level only squeeze the plot and are better left out
    rows: how many rows there are, without the lines
    blocks: whether block characters may be used; plain ASCII otherwise
    """
    marks = sorted(limits, key=lambda limit: limit.value)
    top = max([*levels, *(limit.value for limit in marks)], default=0.0) or 1.0
    bounds = [0.0, *(limit.value for limit in marks)]
    shares = _shared_out([b - a for a, b in pairwise([*bounds, top])], rows)
    drawn: list[tuple[Limit | None, Pieces]] = []
    for place, (low, share) in enumerate(zip(bounds, shares, strict=True)):
        high = bounds[place + 1] if place + 1 < len(bounds) else top
        over = place > 0
        if over:
            drawn.append((marks[place - 1], _line(levels, low, blocks)))
        step = (high - low) / share if share else 0.0
        drawn += [(None, _row(levels, low + step * i, step, blocks, over)) for i in range(share)]
    return drawn[::-1]


def _shared_out(spans: list[float], rows: int) -> list[int]:
    """Return how many rows each stretch between two limits gets: none where it is empty, else at least one."""
    whole = sum(spans) or 1.0
    return [max(1, round(rows * span / whole)) if span > 1e-12 * whole else 0 for span in spans]


def _row(levels: list[float], low: float, step: float, blocks: bool, over: bool) -> Pieces:
    cells = []
    for level in levels:
        part = (level - low) / step if step else 0.0
        eighths = 8 if part >= 1 - 1e-9 else max(0, ceil(part * 8 - 1e-9))
        cells.append((_EIGHTHS if blocks else _ROUGH)[eighths])
    return [("error" if over else "", "".join(cells))]


def _line(levels: list[float], value: float, blocks: bool) -> Pieces:
    """Return the line of a limit, with the columns that come through it."""
    pieces: Pieces = []
    for level in levels:
        over = level > value * (1 + 1e-9)
        role, cell = ("error", "▓" if blocks else "+") if over else ("label", "┄" if blocks else "-")
        if pieces and pieces[-1][0] == role:
            pieces[-1] = role, pieces[-1][1] + cell
        else:
            pieces.append((role, cell))
    return pieces


def plot(
    steps: Steps,
    axis: Axis,
    limits: list[Limit],
    unit: str = "A",
    blocks: bool = True,
    margin: int = 8,
    rows: int = ROWS,
) -> list[Pieces]:
    """Return a whole plot: rows with their labels on the left, those of the limits named on the right.

    steps: the series
    axis: its columns
    limits: lines to draw
    unit: what stands behind a number on the left
    blocks: whether block characters may be used
    margin: columns on the left
    rows: how many rows there are, without the lines
    """
    levels = highest(steps, axis)
    wall = "│" if blocks else "|"
    top = max([*levels, *(limit.value for limit in limits)], default=0.0)
    drawn: list[Pieces] = []
    for limit, row in plotted(levels, limits, rows, blocks):
        value = limit.value if limit else top
        label = f"{_short(value)} {unit}" if limit or not drawn else ""
        told = [("label", f" {limit.says}")] if limit else []
        drawn.append([("label", f"{label:>{margin - 1}}{wall}"), *row, *told])
    return drawn


def _short(value: float) -> str:
    """Return a number of three figures, without an exponent."""
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def axis_rows(axis: Axis, blocks: bool = True, margin: int = 8) -> list[Pieces]:
    """Return the axis below a plot: its line, and the seconds under it; a stretch cut short is marked."""
    across, mark = ("─", "┴") if blocks else ("-", "+")
    line = [across] * axis.width
    text = [" "] * (axis.width + 8)
    free = 0
    for column, at in ticks(axis):
        label = f"{at:g}"
        if column >= free:
            line[column] = mark
            text[column : column + len(label)] = label
            free = column + len(label) + 1
    for begun, ended in axis.cuts:
        first = axis.column(begun + (ended - begun) / CUT)
        line[first : first + 2] = "//"
    corner = "└" if blocks else "+"
    return [
        [("label", " " * (margin - 1) + corner + "".join(line))],
        [("label", " " * margin + "".join(text).rstrip() + " s")],
    ]


def ticks(axis: Axis) -> Ticks:
    """Return where the axis is labelled: at round seconds, some ten columns apart."""
    found: Ticks = []
    pieces = [0.0, *(moment for cut in axis.cuts for moment in cut), axis.edges[-1]]
    for begin, end in list(pairwise(pieces))[::2]:
        columns = max(1, axis.column(end) - axis.column(begin))
        step = _round_step((end - begin) / max(1, columns // 10))
        first = ceil(begin / step - 1e-9)
        found += [
            (axis.column(n * step), n * step)
            for n in range(first, int((end - 1e-9) // step) + 1)
            if n * step < end
        ]
    return found


def _round_step(least: float) -> float:
    """Return 1, 2 or 5 times a power of ten, no less than ``least``."""
    power = 1.0
    while power * 10 <= least:
        power *= 10
    while power > least:
        power /= 10
    return next(power * n for n in (1, 2, 5, 10) if power * n >= least * (1 - 1e-9))

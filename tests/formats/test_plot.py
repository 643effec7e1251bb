"""Plots: a column shows the most of its stretch, a limit is come through only where it is passed."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.formats.plot import Axis, Limit, axis_of, axis_rows, highest, plot, plotted, ticks

values = st.one_of(st.integers(0, 100).map(lambda n: n / 4), st.sampled_from([0.01, 5.0, 10.0]))
gaps = st.lists(st.tuples(st.integers(1, 400), values), min_size=0, max_size=12)


def series(first: float, rest: list[tuple[int, float]]) -> list[tuple[float, float]]:
    """Return a series of steps from gaps in quarters of a second."""
    steps, at = [(0.0, first)], 0.0
    for gap, value in rest:
        at += gap / 4
        steps.append((at, value))
    return steps


def value_at(steps: list[tuple[float, float]], at: float) -> float:
    """Return a series at a moment, found the slow way."""
    return [value for start, value in steps if start <= at][-1]


def text(pieces: list[tuple[str, str]]) -> str:
    """Return one row as text."""
    return "".join(piece for _, piece in pieces)


@given(values, gaps, st.integers(4, 120))
def test_columns_show_the_most_of_their_stretch(
    first: float, rest: list[tuple[int, float]], width: int
) -> None:
    """Each column is the highest of all values at its beginning and at every step inside it."""
    steps = series(first, rest)
    axis = axis_of([at for at, _ in steps], width)
    levels = highest(steps, axis)
    assert len(levels) == axis.width == width
    for level, begin, end in zip(levels, axis.edges, axis.edges[1:], strict=False):
        moments = [begin, *(at for at, _ in steps if begin < at < end)]
        assert level == max(value_at(steps, at) for at in moments)
    assert max(levels) == max(value for _, value in steps)  # no surge is lost


@given(st.lists(values, min_size=1, max_size=60), st.lists(st.integers(1, 120), max_size=2, unique=True))
def test_a_limit_is_come_through_only_where_it_is_passed(levels: list[float], limits: list[int]) -> None:
    """In the line of a limit a column is drawn where it is above the limit, and nowhere else, whatever the scale."""
    marks = [Limit(n / 4, "x") for n in limits]
    levels += [mark.value for mark in marks]  # what only reaches a limit is not above it
    rows = plotted(levels, marks)
    lines = {limit.value: text(row) for limit, row in rows if limit is not None}
    assert set(lines) == {mark.value for mark in marks}
    for value, line in lines.items():
        assert [cell == "▓" for cell in line] == [level > value for level in levels]
    for limit, row in rows:
        if limit is None:
            assert len(text(row)) == len(levels)


@given(st.lists(values, min_size=1, max_size=40), st.lists(st.integers(1, 120), max_size=2, unique=True))
def test_higher_columns_are_drawn_higher(levels: list[float], limits: list[int]) -> None:
    """Of two columns the one with more never has less ink, and nothing is without ink but nothing."""
    rows = plotted(levels, [Limit(n / 4, "x") for n in limits])
    drawn = [text(row) for limit, row in rows if limit is None]
    ink = [sum(" ▁▂▃▄▅▆▇█".index(row[i]) for row in drawn) for i in range(len(levels))]
    ranked = sorted(zip(levels, ink, strict=True))
    assert all(a[1] <= b[1] for a, b in itertools.pairwise(ranked))
    assert all((amount == 0) == (level == 0) for level, amount in zip(levels, ink, strict=True))


def test_plain_letters() -> None:
    """Without block characters everything is ASCII, and reads the same."""
    rows = plot([(0.0, 3.0), (5.0, 1.0)], axis_of([0.0, 5.0], 20), [Limit(2.0, "rating")], blocks=False)
    page = "\n".join(text(row) for row in [*rows, *axis_rows(axis_of([0.0, 5.0], 20), blocks=False)])
    assert page.isascii()
    line = next(text(row) for row in rows if "rating" in text(row))
    assert line.strip().startswith("2 A|")
    assert "+++" in line
    assert "---" in line


def test_two_limits_keep_their_order() -> None:
    """The higher limit stands above, each with its number and name; the levels in between lie between them."""
    rows = [text(row) for row in plot([(0.0, 9.0), (5.0, 1.0)], axis_of([5.0], 20), [
        Limit(8.0, "rating"), Limit(10.0, "for 15 s"),
    ])]  # fmt: skip
    named = [row for row in rows if "rating" in row or "for 15 s" in row]
    assert [row.split("│")[0].strip() for row in named] == ["10 A", "8 A"]
    assert "▓" not in named[0]
    assert "▓" in named[1]
    between = rows[rows.index(named[0]) + 1 : rows.index(named[1])]
    assert between
    assert any("█" in row or "▄" in row for row in between)


def test_long_quiet_stretch_is_cut() -> None:
    """Ten quiet minutes become a few columns, marked in the axis, and all else keeps its room."""
    steps = [(0.0, 5.0), (10.0, 1.0), (610.0, 5.0), (620.0, 1.0)]
    axis = axis_of([at for at, _ in steps], 60)
    assert axis.cuts == ((10.0, 610.0),)
    assert axis.column(609.9) - axis.column(10.0) < 6
    assert axis.column(9.9) > 2
    levels = highest(steps, axis)
    assert levels[0] == levels[axis.column(615.0)] == 5.0
    assert levels[axis.column(300.0)] == 1.0
    assert "//" in text(axis_rows(axis)[0])
    assert axis_of([0.0, 10.0, 40.0], 60).cuts == ()


@pytest.mark.parametrize("end, width", [(46.0, 62), (10.0, 62), (3.0, 40), (700.0, 120), (0.0, 30)])
def test_ticks_are_round_and_in_place(end: float, width: int) -> None:
    """Labels are 1, 2 or 5 times a power of ten apart, begin at 0 and stand at the column of their moment."""
    axis = axis_of([0.0, end / 2, end], width)
    found = ticks(axis)
    assert found[0] == (0, 0.0)
    assert len(found) <= 14
    for column, at in found:
        assert axis.edges[column] <= at + 1e-9 < axis.edges[column + 1] + 1e-6
    if len(found) > 2 and not axis.cuts:
        step = found[1][1] - found[0][1]
        assert f"{step:e}"[0] in "125"


def test_one_column() -> None:
    """A plot is drawn however narrow it is."""
    assert highest([(0.0, 2.0)], Axis((0.0, 1.0))) == [2.0]
    assert plotted([0.0], [])
    assert plotted([1.0], [Limit(1.0, "x")])

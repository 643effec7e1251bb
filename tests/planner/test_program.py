"""Integer programs: the best is the best by trying all, bounds hold, and a contradiction is a small one."""

from __future__ import annotations

from itertools import combinations, product
from math import inf
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.planner.program import Contradiction, Give, Program

small = st.integers(-4, 6)
Case = tuple[list[tuple[int, int]], list[tuple[list[int], int]], list[int]]


@st.composite
def programs(draw: st.DrawFn) -> Case:
    """Return the ranges of a few whole numbers, rows (factors, most), and the factors of an aim."""
    count = draw(st.integers(1, 4))
    ranges = [(0, draw(st.integers(0, 3))) for _ in range(count)]
    rows = [
        (draw(st.lists(small, min_size=count, max_size=count)), draw(st.integers(-4, 8)))
        for _ in range(draw(st.integers(0, 4)))
    ]
    return ranges, rows, draw(st.lists(small, min_size=count, max_size=count))


def made(ranges: list[tuple[int, int]], rows: list[tuple[list[int], int]]) -> tuple[Program, list[int]]:
    """Return a program and its numbers."""
    program = Program()
    numbers = [program.number(low, high) for low, high in ranges]
    for i, (factors, most) in enumerate(rows):
        program.demand(dict(zip(numbers, map(float, factors), strict=True)), high=most, says=f"row {i}")
    return program, numbers


def able(ranges: list[tuple[int, int]], rows: list[tuple[list[int], int]]) -> list[tuple[int, ...]]:
    """Return every choice that meets all rows, by trying all."""
    every = product(*(range(low, high + 1) for low, high in ranges))
    return [
        c for c in every if all(sum(f * x for f, x in zip(fs, c, strict=True)) <= most for fs, most in rows)
    ]


@given(programs())
@settings(max_examples=200)
def test_the_best_is_the_best_by_trying_all(
    case: tuple[list[tuple[int, int]], list[tuple[list[int], int]], list[int]],
) -> None:
    """HiGHS and a loop over all choices find the same least value; what cannot be met is a contradiction for both."""
    ranges, rows, factors = case
    program, numbers = made(ranges, rows)
    choices = able(ranges, rows)
    aim = dict(zip(numbers, map(float, factors), strict=True))
    if not choices:
        with pytest.raises(Contradiction) as caught:
            program.solve([aim])
        core = [rows[int(says.removeprefix("row "))] for says in caught.value.demands]
        assert not able(ranges, core)
        for smaller in combinations(core, len(core) - 1):
            assert able(ranges, list(smaller))
        return
    (found,) = program.solve([aim])
    best = min(sum(f * x for f, x in zip(factors, c, strict=True)) for c in choices)
    assert found.value == pytest.approx(best, abs=1e-6)
    assert found.bound <= best + 1e-6
    assert tuple(found.of(n) for n in numbers) in choices


@given(programs(), st.lists(small, min_size=4, max_size=4))
@settings(max_examples=100)
def test_aims_count_one_after_the_other(case: Case, second: list[int]) -> None:
    """Among all that is best by the first aim, the best by the second is taken."""
    ranges, rows, first = case
    choices = able(ranges, rows)
    if not choices:
        return
    program, numbers = made(ranges, rows)
    aims = [dict(zip(numbers, map(float, factors), strict=False)) for factors in (first, second)]
    found = program.solve(aims)
    values = [
        tuple(sum(f * x for f, x in zip(fs, c, strict=False)) for fs in (first, second)) for c in choices
    ]
    assert tuple(s.value for s in found) == pytest.approx(min(values), abs=1e-5)


def packed(sizes: list[int], room: int) -> int:
    """Return how many bins of one room the program needs for things of some sizes."""
    program = Program()
    bins = range(len(sizes))
    used = [program.number(0, 1) for _ in bins]
    into = [[program.number(0, 1) for _ in bins] for _ in sizes]
    for row in into:
        program.demand(dict.fromkeys(row, 1.0), 1, 1, "each thing lies in one bin")
    for k in bins:
        program.demand(
            {**{row[k]: float(s) for row, s in zip(into, sizes, strict=True)}, used[k]: -float(room)},
            high=0.0,
        )
    (found,) = program.solve([dict.fromkeys(used, 1.0)])
    assert found.gap == pytest.approx(0)
    return round(found.value)


def test_bins_of_a_textbook() -> None:
    """Martello and Toth, Knapsack Problems (1990), chapter 8, example 8.1: nine things in bins of 100 take four."""
    # From memory; the numbers were worked out anew by the loop in `fewest_bins`.
    sizes = [70, 60, 50, 33, 33, 33, 11, 7, 3]
    assert fewest_bins(sizes, 100) == 4
    assert packed(sizes, 100) == 4


def fewest_bins(sizes: list[int], room: int) -> int:
    """Return the fewest bins, by trying every way to put one thing after the other."""
    best = len(sizes)

    def put(i: int, bins: list[int]) -> None:
        nonlocal best
        if len(bins) >= best:
            return
        if i == len(sizes):
            best = len(bins)
            return
        for k, level in enumerate(bins):
            if level + sizes[i] <= room:
                put(i + 1, [*bins[:k], level + sizes[i], *bins[k + 1 :]])
        put(i + 1, [*bins, sizes[i]])

    put(0, [])
    return best


@given(st.lists(st.integers(1, 9), min_size=1, max_size=7), st.integers(9, 14))
@settings(max_examples=40)
def test_bins_by_trying_all(sizes: list[int], room: int) -> None:
    """Every small packing is as tight as the tightest there is."""
    assert packed(sizes, room) == fewest_bins(sizes, room)


def test_an_assignment() -> None:
    """Four workers and four jobs: the same least cost as by SciPy's method for assignments (Jonker and Volgenant)."""
    from scipy.optimize import linear_sum_assignment

    costs = [[9, 2, 7, 8], [6, 4, 3, 7], [5, 8, 1, 8], [7, 6, 9, 4]]
    rows, columns = linear_sum_assignment(costs)
    best = sum(costs[r][c] for r, c in zip(rows, columns, strict=True))
    program = Program()
    x = [[program.number(0, 1) for _ in row] for row in costs]
    for i in range(4):
        program.demand(dict.fromkeys(x[i], 1.0), 1, 1)
        program.demand({row[i]: 1.0 for row in x}, 1, 1)
    (found,) = program.solve(
        [{n: float(c) for row, cs in zip(x, costs, strict=True) for n, c in zip(row, cs, strict=True)}]
    )
    assert found.value == pytest.approx(best) == pytest.approx(13)


def test_what_would_free_a_contradiction() -> None:
    """Six boards of 3 A on two rails of 7 A: four fit, so 2 A more on each is the least."""
    program = Program()
    a, b = program.number(0, 6), program.number(0, 6)
    program.demand({a: 1, b: 1}, 6, 6, "every board is fed")
    for number, name in ((a, "one"), (b, "two")):
        program.demand(
            {number: 3.0},
            high=7,
            says=f"rail {name} gives 7 A",
            give=Give(f"{{}} A more on rail {name}", whole=False),
        )
    program.demand({a: 1.0}, high=100, says="this has nothing to do with it")
    with pytest.raises(Contradiction) as caught:
        program.solve([{a: 1.0}])
    assert caught.value.demands == ["every board is fed", "rail one gives 7 A", "rail two gives 7 A"]
    assert sorted(caught.value.gives) == ["2 A more on rail one", "2 A more on rail two"]


def test_a_constant_stands_by_itself() -> None:
    """What no number changes is taken off the bounds, and counts in the value."""
    program = Program()
    x = program.number(0, 10)
    program.demand({x: 1.0, None: 4.0}, low=7.0)
    (found,) = program.solve([{x: 2.0, None: 100.0}])
    assert found.of(x) == 3
    assert found.value == pytest.approx(106.0)
    impossible = Program()
    impossible.demand({None: 4.0}, high=3.0, says="four is three")
    with pytest.raises(Contradiction):
        impossible.solve()


def test_a_solver_that_gives_up_is_asked_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """HiGHS fails now and then with its presolve: without it, it has an answer; where it has none, that is told."""
    import scipy.optimize

    real = scipy.optimize.milp
    asked: list[bool] = []

    def moody(*words: Any, options: dict[str, Any], **more: Any) -> Any:
        asked.append(options["presolve"])
        done = real(*words, options=options, **more)
        if options["presolve"] or len(asked) > 2:
            done.x, done.status, done.message = None, 4, "it failed"
        return done

    monkeypatch.setattr(scipy.optimize, "milp", moody)
    program = Program()
    x = program.number(2, 9)
    (found,) = program.solve([{x: 1.0}])
    assert (found.of(x), asked) == (2, [True, False])
    with pytest.raises(TimeoutError, match="it failed"):
        program.solve([{x: 1.0}])


def test_an_aim_that_is_not_reached_in_time_keeps_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the second of two aims finds nothing in time, the answer of the first serves, without a bound."""
    program = Program()
    x, y = program.number(2, 9), program.number(1, 9)
    search = program._search
    calls: list[int] = []

    def slow(aim: Any, demands: Any) -> Any:
        calls.append(1)
        if len(calls) > 1:
            raise TimeoutError
        return search(aim, demands)

    monkeypatch.setattr(program, "_search", slow)
    first, second = program.solve([{x: 1.0, y: 1.0}, {y: -1.0}])
    assert first.value == 3
    assert (second.numbers, second.value, second.bound) == (first.numbers, -1.0, -inf)

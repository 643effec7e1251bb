"""The radial solver against another method, conservation laws, closed forms and another proof of collapse."""

import math
import random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize

from coldcheck.dc import drop, radial

Tree = tuple[list[int], list[float], list[float], list[float], list[float]]
Array = np.ndarray[Any, np.dtype[np.float64]]
VOLTS = 12.0


def tree(seed: int, count: int, *, power: float = 1.0, linear: float = 1.0) -> Tree:
    """Make a random tree: parents, ohms, watts, amps, siemens; some branches without some kind of load."""
    rnd = random.Random(seed)
    bushy = rnd.random() < 0.5
    parent = [
        -1 if i == 0 or rnd.random() < 0.05 else rnd.randrange(i) if bushy else i - 1 for i in range(count)
    ]

    def some(scale: float, chance: float) -> list[float]:
        return [scale * rnd.random() if rnd.random() < chance else 0.0 for _ in range(count)]

    ohms = [rnd.uniform(1e-3, 0.05) for _ in range(count)]
    return (
        parent,
        ohms,
        some(power * 20 / count, 0.8),
        some(linear * 2 / count, 0.3),
        some(linear * 0.5 / count, 0.3),
    )


def path_matrix(parent: list[int], ohms: list[float]) -> Array:
    """Give the resistance that each pair of branches has in common on its way to the source."""
    count = len(parent)
    on_path = np.zeros((count, count))
    for i, on in enumerate(parent):
        if on >= 0:
            on_path[i] = on_path[on]
        on_path[i, i] = 1.0
    return on_path @ np.diag(ohms) @ on_path.T


def dense(volts: float, of: Tree) -> tuple[Array, Array]:
    """Eliminate the linear loads with dense matrices: v = base - transfer @ (watts / v)."""
    parent, ohms, _, amps, siemens = of
    shared = path_matrix(parent, ohms)
    inverse = np.linalg.inv(np.eye(len(parent)) + shared @ np.diag(siemens))
    return inverse @ (volts - shared @ np.array(amps)), inverse @ shared


def scaled(of: Tree, by: float) -> Tree:
    """Multiply the constant powers of a tree."""
    parent, ohms, watts, amps, siemens = of
    return parent, ohms, [by * p for p in watts], amps, siemens


def breaking_point(of: Tree) -> float:
    """Give the factor on the constant powers at which the tree collapses, by bisection to 1e-10."""
    low, high = 0.0, 1.0
    while radial.solve(VOLTS, *scaled(of, high)).collapsed is None:
        low, high = high, 2 * high
    while high - low > 1e-10 * high:
        middle = (low + high) / 2
        if radial.solve(VOLTS, *scaled(of, middle)).collapsed is None:
            low = middle
        else:
            high = middle
    return low


sizes = st.integers(1, 25)
seeds = st.integers(0, 10**6)


@settings(deadline=None)
@given(seeds, sizes)
def test_same_point_as_a_general_root_finder(seed: int, count: int) -> None:
    """A library's root finder on dense matrices, led up from no load, ends at the same voltages."""
    of = tree(seed, count)
    base, transfer = dense(VOLTS, of)
    watts = np.array(of[2])
    found: Array = base
    for load in (0.25, 0.5, 0.75, 1.0):
        answer = optimize.root(
            lambda v, load=load: v - base + transfer @ (load * watts / v),
            found,
            jac=lambda v, load=load: np.eye(count) - transfer * (load * watts / v**2),
            tol=1e-13,
        )
        found = answer.x
    ours = radial.solve(VOLTS, *of)
    assert ours.collapsed is None
    assert np.allclose(ours.volts, found, rtol=1e-9, atol=0)


@settings(deadline=None)
@given(seeds, sizes, st.floats(0.1, 0.999999))
def test_upper_point(seed: int, count: int, share: float) -> None:
    """Up to collapse the point obeys the circuit, and is the stable one: its spectral radius is below 1."""
    of = tree(seed, count)
    if not any(of[2]):
        return
    of = scaled(of, share * breaking_point(of))
    ours = radial.solve(VOLTS, *of)
    assert ours.collapsed is None
    v = np.array(ours.volts)
    base, transfer = dense(VOLTS, of)
    assert np.allclose(v, base - transfer @ (np.array(of[2]) / v), rtol=1e-9, atol=0)
    radius = max(abs(np.linalg.eigvals(transfer * (np.array(of[2]) / v**2))))
    assert radius < 1


@settings(max_examples=50, deadline=None)
@given(seeds, st.integers(2, 15))
def test_collapse_is_proved_another_way(seed: int, count: int) -> None:
    """0.1 % past the last load that is carried, weights exist that make any operating point impossible.

    With weights w ≥ 0, every solution would have Σ w (v - base + transfer (p / v)) = 0; but the least value
    of that sum over all v > 0 is Σ 2 √(w (transferᵀ w) p) - Σ w base. Where it is above zero there is none.
    """
    of = tree(seed, count)
    if not any(of[2]):
        return
    last = breaking_point(of)
    assert radial.solve(VOLTS, *scaled(of, last)).collapsed is None
    v = np.array(radial.solve(VOLTS, *scaled(of, last)).volts)
    base, transfer = dense(VOLTS, of)
    values, vectors = np.linalg.eig((transfer * (last * np.array(of[2]) / v**2)).T)
    weights = np.abs(np.real(vectors[:, np.argmax(np.real(values))]))

    def least(load: float) -> float:
        watts = load * np.array(of[2])
        return float(np.sum(2 * np.sqrt(weights * (transfer.T @ weights) * watts)) - weights @ base)

    assert least(last * 1.001) > 0
    assert radial.solve(VOLTS, *scaled(of, last * 1.001)).collapsed is not None
    assert least(last) == pytest.approx(0, abs=1e-4 * float(weights @ base))


@settings(deadline=None)
@given(seeds, sizes, st.floats(0.1, 0.9999))
def test_power_and_current_are_conserved(seed: int, count: int, share: float) -> None:
    """What the source gives is delivered or lost, to 1e-9; what enters a point leaves it; drops are Ohm's."""
    of = tree(seed, count)
    if any(of[2]):
        of = scaled(of, share * breaking_point(of))
    parent, ohms, watts, amps, siemens = of
    ours = radial.solve(VOLTS, *of)
    loads = [p / v + c + g * v for p, v, c, g in zip(watts, ours.volts, amps, siemens, strict=True)]
    delivered = sum(v * j for v, j in zip(ours.volts, loads, strict=True))
    assert ours.total * VOLTS == pytest.approx(delivered + ours.lost, rel=1e-9, abs=1e-15)
    for i, through in enumerate(ours.amps):
        onward = sum(j for j, on in zip(ours.amps, parent, strict=True) if on == i)
        assert through == pytest.approx(loads[i] + onward, rel=1e-9, abs=1e-15)
        near = ours.volts[parent[i]] if parent[i] >= 0 else VOLTS
        assert near - ours.volts[i] == pytest.approx(ohms[i] * through, rel=1e-9, abs=1e-13)
    assert ours.total == pytest.approx(sum(loads), rel=1e-9, abs=1e-15)


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 100)), max_size=30))
def test_star_is_the_closed_form(branches: list[tuple[float, float]]) -> None:
    """Each branch alone on the source settles where the closed form of one load says, or collapses too."""
    ohms, watts = [r for r, _ in branches], [p for _, p in branches]
    none = [0.0] * len(branches)
    ours = radial.solve(VOLTS, [-1] * len(branches), ohms, watts, none, none)
    alone = [drop.carried(VOLTS, r, p) for r, p in branches]
    fails = [i for i, one in enumerate(alone) if one is None]
    assert ours.collapsed == (fails[0] if fails else None)
    for i, one in enumerate(alone):
        assert (ours.volts[i], ours.amps[i]) == pytest.approx(one or (0.0, 0.0), rel=1e-9)


@given(
    r=st.floats(1e-4, 1), p=st.floats(0, 1), c=st.floats(0, 3), g=st.floats(0, 1), cut=st.floats(0.01, 0.99)
)
def test_a_run_cut_in_two_is_the_same_run(r: float, p: float, c: float, g: float, cut: float) -> None:
    """A branch solved in closed form and the same branch as two in a row, solved by Newton, agree."""
    watts = p * 30 * cut
    whole = radial.solve(VOLTS, [-1], [r], [watts], [c], [g])
    halves = radial.solve(VOLTS, [-1, 0], [r * cut, r * (1 - cut)], [0.0, watts], [0.0, c], [0.0, g])
    margin = (VOLTS - r * c) ** 2 / (4 * r * (1 + r * g)) - watts
    if abs(margin) < 1e-6 * (watts + 1):
        return
    assert (whole.collapsed is None) == (halves.collapsed is None) == (margin > 0)
    assert halves.volts[-1] == pytest.approx(whole.volts[0], rel=1e-9)
    assert halves.lost == pytest.approx(whole.lost, rel=1e-8)


@pytest.mark.parametrize("runs", [1, 2, 50])
@pytest.mark.parametrize("volts", [3.3, 5.0, 12.0, 48.0])
def test_maximum_power(volts: float, runs: int) -> None:
    """V²/4R is the bound of one path, whole or in pieces: just below it is carried, just above it is not."""
    ohms = 0.25
    most = volts**2 / (4 * ohms)
    shape = (list(range(-1, runs - 1)), [ohms / runs] * runs)
    none = [0.0] * runs

    def at(load: float) -> radial.Solution:
        return radial.solve(volts, *shape, [0.0] * (runs - 1) + [load], none, none)

    assert at(most * (1 - 1e-9)).volts[-1] == pytest.approx(volts / 2, rel=1e-4)
    assert at(most * (1 - 1e-9)).lost == pytest.approx(most, rel=1e-3)
    assert at(most * (1 + 1e-9)).collapsed == runs - 1
    assert at(most * 100).collapsed == runs - 1


@given(seeds, sizes)
def test_superposition(seed: int, count: int) -> None:
    """With constant currents alone the drops of two sets of loads add up to the drops of both together."""
    parent, ohms, _, one, _ = tree(seed, count)
    other = tree(seed + 1, count)[3]
    none = [0.0] * count

    def drops(amps: list[float]) -> Array:
        return VOLTS - np.array(radial.solve(VOLTS, parent, ohms, none, amps, none).volts)

    both = [a + b for a, b in zip(one, other, strict=True)]
    assert np.allclose(drops(both), drops(one) + drops(other), rtol=1e-9, atol=1e-12)


@given(seeds, sizes, st.integers(0, 24), st.floats(1e-6, 1))
def test_more_load_never_lifts_a_voltage(seed: int, count: int, where: int, extra: float) -> None:
    """One load more lowers every voltage of its tree or leaves it."""
    of = tree(seed, count)
    before = radial.solve(VOLTS, *of).volts
    of[2][where % count] += extra
    after = radial.solve(VOLTS, *of).volts
    assert all(a <= b * (1 + 1e-9) for a, b in zip(after, before, strict=True))


def test_voltage_gone_by_constant_current() -> None:
    """A current that its path cannot carry at any voltage collapses too, alone or behind others."""
    assert radial.solve(5.0, [-1], [1.0], [0.0], [5.1], [0.0]).collapsed == 0
    assert radial.solve(5.0, [-1], [1.0], [0.0], [4.9], [0.0]).volts == pytest.approx([0.1])
    found = radial.solve(5.0, [-1, 0], [0.5, 0.5], [0.0, 0.0], [0.0, 5.1], [0.0, 0.0])
    assert found.collapsed == 1


def test_the_load_that_fails_is_named() -> None:
    """Among many good loads behind one trunk, the one that could not be carried even alone is named."""
    good = 20
    parent = [-1] + [0] * (good + 1)
    ohms = [0.001] + [0.001] * good + [2.0]
    watts = [0.0] + [10.0] * good + [12.0**2 / 8 * 1.01]
    none = [0.0] * len(parent)
    assert radial.solve(12.0, parent, ohms, watts, none, none).collapsed == good + 1
    for seed in range(200):
        rnd = random.Random(seed)
        count = rnd.randrange(2, 30)
        line, runs, loads, currents, leaks = tree(seed, count, power=0.5)
        bad = rnd.randrange(count)
        runs[bad] += 1.0
        loads[bad] = 12.0**2 / 4 * 1.001
        assert radial.solve(12.0, line, runs, loads, currents, leaks).collapsed == bad


def test_collapse_stays_in_its_tree() -> None:
    """What hangs on the source by another branch is right all the same; the fallen tree reads 0."""
    none = [0.0] * 4
    found = radial.solve(12.0, [-1, 0, -1, 2], [0.1, 1.0, 0.1, 0.1], [0.0, 50.0, 0.0, 20.0], none, none)
    alone = radial.solve(12.0, [-1, 0], [0.1, 0.1], [0.0, 20.0], none[:2], none[:2])
    assert found.collapsed == 1
    assert found.volts == pytest.approx([0.0, 0.0, *alone.volts], rel=1e-12)
    assert (found.total, found.lost) == pytest.approx((alone.total, alone.lost), rel=1e-12)


def test_lowest_of_several() -> None:
    """When several trees fall, the lowest number is named."""
    none = [0.0] * 4
    many = [99.0] * 4
    assert radial.solve(12.0, [-1, 0, -1, -1], [1.0] * 4, many, none, none).collapsed == 1
    assert radial.solve(12.0, [-1, -1, 1, -1], [1.0] * 4, many, none, none).collapsed == 0
    assert radial.solve(12.0, [-1, -1, 1, -1], [1.0] * 4, [0.0, 99.0, 99.0, 99.0], none, none).collapsed == 2


def test_tiny_resistance_loses_no_digits() -> None:
    """Across a nano-ohm the current is exact, where (V - v) / R would have a few digits left."""
    for parent, ohms in (([-1], [1e-9]), ([-1, 0], [1e-9, 1e-9])):
        none = [0.0] * len(parent)
        watts = [0.0] * (len(parent) - 1) + [15.0]
        found = radial.solve(5.0, parent, ohms, watts, none, none)
        assert found.amps[-1] == pytest.approx(3.0 * (1 + 3.0 * sum(ohms) / 5.0), rel=1e-14)
        assert found.lost == pytest.approx(9.0 * sum(ohms), rel=1e-7)


def test_no_resistance() -> None:
    """Without resistance every point has the voltage of the source, and nothing is lost."""
    none = [0.0] * 3
    found = radial.solve(5.0, [-1, 0, 1], none, [10.0, 0.0, 5.0], [1.0, 0.0, 0.0], [0.0, 0.2, 0.0])
    assert found.volts == [5.0, 5.0, 5.0]
    assert (found.total, found.lost) == pytest.approx((5.0, 0.0))


def test_nothing_to_solve() -> None:
    """A source with nothing on it gives nothing."""
    assert radial.solve(5.0, [], [], [], [], []) == radial.Solution([], [], 0.0, 0.0, None)


def test_deep_chain() -> None:
    """A chain of 20 000 runs, far deeper than Python's stack, is solved; the drops add up."""
    count = 20_000
    none = [0.0] * count
    found = radial.solve(24.0, list(range(-1, count - 1)), [1e-5] * count, [1e-3] * count, none, none)
    assert found.collapsed is None
    assert 24.0 - found.volts[-1] == pytest.approx(1e-5 * math.fsum(found.amps), rel=1e-9)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"volts": 0.0}, "source of 0.0 V"),
        ({"volts": math.inf}, "source of inf V"),
        ({"volts": math.nan}, "source of nan V"),
        ({"parent": [-1, 1]}, "branch before it"),
        ({"parent": [0, 0]}, "branch before it"),
        ({"parent": [-2, 0]}, "branch before it"),
        ({"ohms": [0.1]}, "1 ohms for 2 branches"),
        ({"watts": [1.0, 2.0, 3.0]}, "3 watts for 2 branches"),
        ({"ohms": [0.1, -0.1]}, "ohms must be"),
        ({"watts": [-1.0, 1.0]}, "watts must be"),
        ({"amps": [math.nan, 1.0]}, "amps must be"),
        ({"amps": [1.0, math.nan]}, "amps must be"),
        ({"siemens": [0.0, math.inf]}, "siemens must be"),
    ],
)
def test_refused(change: dict[str, Any], text: str) -> None:
    """Values that are no circuit are refused, with the name of the quantity."""
    given_: dict[str, Any] = {
        "volts": 5.0,
        "parent": [-1, 0],
        "ohms": [0.1, 0.1],
        "watts": [1.0, 1.0],
        "amps": [0.0, 0.0],
        "siemens": [0.0, 0.0],
    }
    with pytest.raises(ValueError, match=text):
        radial.solve(**(given_ | change))

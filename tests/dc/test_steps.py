"""Series in steps: exact sums and stretches above a limit, checked by looking at every moment."""

import math
import random
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import steps

# few different times, so that starts often meet
series = st.dictionaries(
    st.integers(0, 20).map(float), st.floats(-1e6, 1e6, allow_subnormal=False), max_size=8
).map(lambda found: sorted(found.items()))
limits = st.floats(0, 1e6)


def value_at(of: steps.Steps, moment: float) -> float:
    """Give the value of a series at a moment, by walking along it."""
    value = 0.0
    for start, then in of:
        if start <= moment:
            value = then
    return value


@given(st.lists(series, max_size=6))
def test_sum_at_every_moment(many: list[steps.Steps]) -> None:
    """At every moment the sum is the exact sum of the values, rounded once."""
    total = steps.add(many)
    for moment in [0.5 * half for half in range(-1, 44)]:
        exact = sum((Fraction(value_at(one, moment)) for one in many), Fraction(0))
        assert value_at(total, moment) == float(exact)


@given(st.lists(series, max_size=6))
def test_sum_has_no_idle_step(many: list[steps.Steps]) -> None:
    """Starts of a sum rise, and each changes the value."""
    total = steps.add(many)
    assert all(a[0] < b[0] and a[1] != b[1] for a, b in pairwise(total))


def test_sum_does_not_drift() -> None:
    """After 20 000 loads of 0.1 A to 0.9 A have come and gone, nothing is left over."""
    rnd = random.Random(3)
    many: list[steps.Steps] = [[(i, rnd.choice([0.1, 0.3, 0.7, 0.9])), (i + 50, 0.0)] for i in range(20_000)]
    rnd.shuffle(many)
    total = steps.add(many)
    assert total[-1] == (20_049.0, 0.0)
    assert steps.add([[(0, 1e16)], [(1, 1.0)], [(2, -1e16)]])[-1] == (2.0, 1.0)


def test_sum_of_nothing() -> None:
    """No series, or empty ones, sum to an empty series."""
    assert steps.add([]) == []
    assert steps.add([[], []]) == []


@given(series, limits)
def test_spells_at_every_moment(one: steps.Steps, limit: float) -> None:
    """A moment is above the limit if and only if it is within a spell, and no spell touches the next."""
    spells = steps.spells_above(one, limit)
    for moment in [0.5 * half for half in range(44)]:
        within = any(start <= moment < end for start, end, _ in spells)
        assert within == (value_at(one, moment) > limit)
    assert all(a[1] < b[0] for a, b in pairwise(spells))


@given(series, limits)
def test_highest_of_each_spell(one: steps.Steps, limit: float) -> None:
    """Each spell carries its highest value, above the limit; the highest of all is the peak."""
    spells = steps.spells_above(one, limit)
    for start, end, highest in spells:
        assert highest == max(value for at, value in one if start <= at < end) > limit
    if spells:
        assert max(highest for _, _, highest in spells) == steps.peak(one)[1]


def test_surge_against_a_timed_rating() -> None:
    """35 A for 8 s, a pause, then 31 A for 9 s pass "30 A for 10 s"; without the pause they do not."""
    surge: steps.Steps = [(0, 35), (8, 20), (9, 31), (18, 5)]
    assert steps.spells_above(surge, 30) == [(0, 8, 35), (9, 18, 31)]
    assert steps.longest_above(surge, 30) == 9
    assert steps.longest_above([(0, 35), (8, 31), (18, 5)], 30) == 18


def test_equal_is_not_above() -> None:
    """A value equal to the limit is not above it."""
    assert steps.longest_above([(0, 30), (5, 0)], 30) == 0
    assert steps.spells_above([(0, 30)], 30) == []


def test_never_ends() -> None:
    """What is above the limit at the end stays so for ever."""
    assert steps.longest_above([(0, 40), (20, 0), (30, 31)], 30) == math.inf
    assert steps.spells_above([(30, 31)], 30) == [(30, math.inf, 31)]


def test_peak_is_the_first() -> None:
    """The peak is the highest value and the first time it is reached; of nothing it is zero."""
    assert steps.peak([(0, 1), (2, 9), (3, 4), (5, 9)]) == (2, 9)
    assert steps.peak([]) == (0, 0)


@pytest.mark.parametrize(
    "bad", [[(1.0, 1.0), (1.0, 2.0)], [(2.0, 1.0), (1.0, 2.0)], [(0.0, 1.0), (math.nan, 1.0)]]
)
def test_starts_must_rise(bad: steps.Steps) -> None:
    """Starts that do not rise are refused everywhere."""
    for function in (lambda: steps.add([bad]), lambda: steps.peak(bad), lambda: steps.longest_above(bad, 1)):
        with pytest.raises(ValueError, match="must rise"):
            function()

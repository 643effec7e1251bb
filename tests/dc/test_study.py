"""Yields, rankings and summaries against closed forms, worked values and simulation."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from coldcheck.dc.sampling import Spread, draw
from coldcheck.dc.study import Yield, enough, ranking, summary, yield_of

Array = np.ndarray[Any, np.dtype[np.float64]]


@given(st.integers(1, 5000), st.floats(0, 1), st.floats(0.5, 0.999), st.sampled_from(["wilson", "exact"]))
def test_intervals_of_another_library(count: int, share: float, confidence: float, method: Any) -> None:
    """Both intervals are those that SciPy has for a binomial test."""
    passed = round(share * count)
    ours = yield_of(passed, count, confidence, method)
    theirs = stats.binomtest(passed, count).proportion_ci(confidence, method)
    assert ours.low == pytest.approx(float(theirs.low), rel=1e-9, abs=1e-12)
    assert ours.high == pytest.approx(float(theirs.high), rel=1e-9, abs=1e-12)
    assert 0 <= ours.low <= ours.share <= ours.high <= 1


def test_exact_interval_by_its_definition() -> None:
    """At the ends of the exact interval, as few or as many as were seen have a chance of half of what is left."""
    found = yield_of(37, 50, 0.9, "exact")
    assert stats.binom.sf(36, 50, found.low) == pytest.approx(0.05, rel=1e-9)
    assert stats.binom.cdf(37, 50, found.high) == pytest.approx(0.05, rel=1e-9)


def test_none_and_all() -> None:
    """At none and at all, the interval ends at 0 and 1; the exact one at the closed form 1 - tail^(1/n)."""
    for method in ("wilson", "exact"):
        assert yield_of(0, 300, 0.95, method).low == 0
        assert yield_of(300, 300, 0.95, method).high == 1
    assert yield_of(0, 300, 0.95, "exact").high == pytest.approx(1 - 0.025 ** (1 / 300), rel=1e-9)
    assert yield_of(300, 300, 0.95, "exact").low == pytest.approx(0.025 ** (1 / 300), rel=1e-9)


@pytest.mark.parametrize("share", [0.5, 0.9, 0.97])
def test_coverage(share: float) -> None:
    """In 2000 studies of a known yield, the 95 % interval holds it in 94 to 97 of a hundred; the exact in no less."""
    passed = np.random.default_rng(11).binomial(400, share, 2000)
    held = {
        method: np.mean([(y := yield_of(int(k), 400, 0.95, method)).low <= share <= y.high for k in passed])
        for method in ("wilson", "exact")
    }
    assert 0.94 <= held["wilson"] <= 0.97
    assert 0.945 <= held["exact"] <= 0.985


def test_yield_of_a_divider() -> None:
    """The share of dividers within limits, linear in normal inputs, is that of the normal distribution.

    An output a + b of two normal parts is normal; the cut at 3 sigma takes 0.3 % of each, so its own yield is
    held against the interval widened by that.
    """
    low, high = draw([Spread(3.0, 2.7, 3.3), Spread(2.0, 1.8, 2.2)], 100_000, 12)
    deviation = math.hypot(0.1, 0.2 / 3)
    passed = int(np.sum(low + high < 5.0 + 1.3 * deviation))
    found = yield_of(passed, 100_000, 0.999)
    assert found.low - 0.003 <= stats.norm.cdf(1.3) <= found.high + 0.003


def test_resistive_divider() -> None:
    """A divider with small normal tolerances has the yield that its first-order law has by the normal distribution."""
    upper, lower = draw([Spread(1000.0, 997.0, 1003.0), Spread(1000.0, 997.0, 1003.0)], 200_000, 13)
    output = lower / (upper + lower)
    # d(output) = (d lower - d upper) / 4000; a deviation of 1 ohm each, but for the cut
    sigma = math.sqrt(2) * stats.truncnorm(-3, 3).std() / 4000
    for limit in (0.5, 1.0, 2.0):
        passed = int(np.sum(np.abs(output - 0.5) <= limit * sigma))
        assert passed / 200_000 == pytest.approx(2 * stats.norm.cdf(limit) - 1, abs=0.005)


def test_variance_shares_of_a_linear_law() -> None:
    """Shares of a linear law are its squared coefficients times the variances, with the right signs and order."""
    x = np.random.default_rng(14).normal(size=(4, 200_000)) * np.array([[1.0], [2.0], [0.5], [3.0]])
    found = ranking(x, 3 * x[0] - 2 * x[1] + 4 * x[2] + 7)
    assert [part.name for part in found.parts] == [1, 0, 2, 3]
    assert [part.share for part in found.parts] == pytest.approx([16 / 29, 9 / 29, 4 / 29, 0], abs=0.005)
    assert [part.sign for part in found.parts[:3]] == [-1, 1, 1]
    assert found.explained == pytest.approx(1)
    assert not found.by_rank
    assert found.note is None


def test_shares_without_chance() -> None:
    """With inputs that are uncorrelated in the samples themselves, shares are exact: a full factorial design."""
    x = np.array(np.meshgrid([-1, 1], [-1, 1], [-1, 1])).reshape(3, 8).astype(float)
    found = ranking(x, 5 * x[0] - x[1] + 2 * x[2])
    assert [(part.name, part.sign) for part in found.parts] == [(0, 1), (2, 1), (1, -1)]
    assert [part.share for part in found.parts] == pytest.approx([25 / 30, 4 / 30, 1 / 30], rel=1e-12)


def test_group_counts_as_one() -> None:
    """Parameters that move together add up before they are squared, though their columns are alike."""
    rng = np.random.default_rng(15)
    shared, alone = rng.normal(size=(2, 100_000))
    x = np.array([2 * shared, alone, 5 * shared + 3, np.full_like(alone, 9.0)])
    found = ranking(x, x[0] + 3 * x[1] + x[2], ["copper", None, "copper", None])
    assert [part.name for part in found.parts] == ["copper", 1, 3]
    assert [part.share for part in found.parts] == pytest.approx([49 / 58, 9 / 58, 0], abs=0.005)
    assert [part.sign for part in found.parts] == [1, 1, 0]
    down = ranking(x, -x[0] - x[2], ["copper", None, "copper", None])
    assert (down.parts[0].name, down.parts[0].sign) == ("copper", -1)


def test_bent_law_is_ranked() -> None:
    """A law that only rises but is far from straight is judged by ranks, and the note says so."""
    x = np.random.default_rng(16).uniform(size=(2, 20_000))
    found = ranking(x, np.exp(12 * x[0]) - 1e-6 * x[1])
    assert found.by_rank
    assert found.note is not None
    assert "ranks" in found.note
    assert found.parts[0].name == 0
    assert found.parts[0].share == pytest.approx(1, abs=1e-3)
    assert found.explained > 0.99


def test_joint_effect_is_owned_up_to() -> None:
    """Where neither values nor ranks explain the output, the note says that shares are not the whole."""
    x = np.random.default_rng(17).normal(size=(2, 20_000))
    found = ranking(x, x[0] * x[1])
    assert found.explained < 0.1
    assert found.note is not None
    assert "rest" in found.note


def test_output_that_never_changes() -> None:
    """An output that is always the same depends on nothing, and the note says it."""
    found = ranking(np.random.default_rng(18).normal(size=(2, 50)), np.full(50, 4.9))
    assert [part.share for part in found.parts] == [0, 0]
    assert found.note == "the output is always the same"


def test_summary_of_a_known_distribution() -> None:
    """Percentiles, mean and deviation of many normal values are those of the normal distribution."""
    values = np.random.default_rng(19).normal(12.0, 0.1, 400_000)
    found = summary(values)
    assert found.mean == pytest.approx(12.0, abs=1e-3)
    assert found.deviation == pytest.approx(0.1, rel=0.01)
    for percent, value in found.percentiles.items():
        assert value == pytest.approx(stats.norm.ppf(percent / 100, 12.0, 0.1), abs=4e-3)
    assert (found.count, found.low, found.high) == (400_000, values.min(), values.max())


def test_summary_by_hand() -> None:
    """Of 1, 2, 3, 4 the mean is 2.5, the deviation √(5/3), the median 2.5 and the quarter point 1.75."""
    found = summary(np.array([4.0, 1.0, 3.0, 2.0]), [25, 50])
    assert (found.mean, found.percentiles) == (2.5, {25: 1.75, 50: 2.5})
    assert found.deviation == pytest.approx(math.sqrt(5 / 3))
    assert summary(np.array([4.0])).deviation == 0


def test_enough() -> None:
    """Sampling stops at the first part whose interval is narrow enough, and tells of every part."""
    rng = np.random.default_rng(20)
    told: list[tuple[int, Yield]] = []
    count, found = enough(
        0.01,
        lambda part, size: int(rng.binomial(size, 0.9)),
        chunk=1000,
        told=lambda done, now: told.append((done, now)),
    )
    assert [done for done, _ in told] == list(range(1000, count + 1, 1000))
    assert found == told[-1][1]
    assert [now.high - now.low <= 0.01 for _, now in told] == [False] * (len(told) - 1) + [True]
    # the normal approximation: (2 × 1.96 / 0.01)² × 0.9 × 0.1 = 13 830
    assert 12_000 <= count <= 16_000
    assert found.low <= 0.9 <= found.high


def test_enough_stops_at_most() -> None:
    """Sampling ends at the most that was allowed, with a last part that fits, and each part has its number."""
    parts: list[tuple[int, int]] = []

    def run(part: int, size: int) -> int:
        parts.append((part, size))
        return size // 2

    count, found = enough(1e-6, run, chunk=400, most=1000)
    assert (count, parts) == (1000, [(0, 400), (1, 400), (2, 200)])
    assert found == yield_of(500, 1000)


def test_refusals() -> None:
    """Counts, confidences, widths and arrays that cannot be are refused."""
    for counts in ((-1, 5), (6, 5), (0, 0)):
        with pytest.raises(ValueError, match="cannot pass"):
            yield_of(*counts)
    for confidence in (0.0, 1.0, math.nan):
        with pytest.raises(ValueError, match="confidence"):
            yield_of(1, 2, confidence)
    with pytest.raises(ValueError, match="above zero"):
        enough(0.0, lambda part, size: size)
    with pytest.raises(ValueError, match="cannot pass"):
        enough(0.1, lambda part, size: size + 1)
    for values in ([], [1.0, math.nan], [math.inf]):
        with pytest.raises(ValueError, match="finite"):
            summary(np.array(values))
    x: Array = np.ones((2, 9))
    with pytest.raises(ValueError, match="a group a parameter"):
        ranking(x, np.ones(9), ["a"])
    with pytest.raises(ValueError, match="an output a sample"):
        ranking(x, np.ones(8))
    with pytest.raises(ValueError, match="too few"):
        ranking(x[:, :3], np.ones(3))
    with pytest.raises(ValueError, match="finite"):
        ranking(x, np.full(9, math.nan))

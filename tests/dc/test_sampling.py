"""Draws against the distributions they are drawn from, as another library has them."""

import math

import numpy as np
import pytest
from scipy import stats

from coldcheck.dc.sampling import Spread, draw

COUNT = 200_000


@pytest.mark.parametrize("sigmas", [0.5, 1.0, 2.0])
def test_normal_within_sigmas(sigmas: float) -> None:
    """As many draws lie within k sigma as a normal distribution cut off at 3 sigma has there."""
    drawn = draw([Spread(12.0, 11.4, 12.6)], COUNT, 1)[0]
    inside = float(np.mean(np.abs(drawn - 12.0) <= sigmas * 0.2))
    expected = (2 * stats.norm.cdf(sigmas) - 1) / (2 * stats.norm.cdf(3) - 1)
    assert inside == pytest.approx(expected, abs=4 * math.sqrt(expected * (1 - expected) / COUNT))


def test_laws_by_distribution() -> None:
    """Normal and uniform draws follow the distribution functions of another library (Kolmogorov-Smirnov)."""
    normal, uniform = draw([Spread(5.0, 4.7, 5.3), Spread(0.02, 0.01, 0.05, "uniform")], COUNT, 2)
    assert stats.kstest(normal, stats.truncnorm(-3, 3, 5.0, 0.1).cdf).pvalue > 0.01
    assert stats.kstest(uniform, stats.uniform(0.01, 0.04).cdf).pvalue > 0.01


def test_lopsided_normal() -> None:
    """Half of all draws lie on each side of the nominal value, each side with its own deviation."""
    drawn = draw([Spread(24.0, 21.0, 28.8)], COUNT, 3)[0]
    assert float(np.mean(drawn < 24.0)) == pytest.approx(0.5, abs=0.005)
    half = stats.truncnorm(0, 3)
    assert stats.kstest((drawn[drawn > 24.0] - 24.0) / 1.6, half.cdf).pvalue > 0.01
    assert stats.kstest((24.0 - drawn[drawn < 24.0]) / 1.0, half.cdf).pvalue > 0.01


def test_worst_gives_the_ends() -> None:
    """The worst-case law gives the combinations of the ends, all of them equally often, and nothing else."""
    drawn = draw([Spread(5, 4, 6, "worst"), Spread(2, 1, 9, "worst"), Spread(7, 7, 8, "worst")], COUNT, 4)
    found, times = np.unique(drawn, axis=1, return_counts=True)
    assert found.T.tolist() == [[a, b, c] for a in (4, 6) for b in (1, 9) for c in (7, 8)]
    assert stats.chisquare(times).pvalue > 0.01


def test_sum_of_uniforms_is_triangular() -> None:
    """Sum and difference of two equal uniform draws have triangular distributions."""
    a, b = draw([Spread(0.5, 0.0, 1.0, "uniform")] * 2, COUNT, 5)
    assert stats.kstest(a + b, stats.triang(0.5, 0, 2).cdf).pvalue > 0.01
    assert stats.kstest(a - b, stats.triang(0.5, -1, 2).cdf).pvalue > 0.01


def test_group_moves_together() -> None:
    """Members of a group are at the same share of their spread, whatever stands between; others are apart."""
    spreads = [
        Spread(1.0, 0.0, 2.0, "uniform", "copper"),
        Spread(1.0, 0.0, 2.0, "uniform"),
        Spread(30.0, 20.0, 40.0, "uniform", "copper"),
        Spread(5.0, 4.0, 6.0, "normal", "copper"),
    ]
    a, alone, b, normal = draw(spreads, 10_000, 6)
    assert np.allclose(a * 10 + 20, b, rtol=1e-12)
    assert np.all(np.diff(normal[np.argsort(a)]) >= 0)
    assert abs(np.corrcoef(a, alone)[0, 1]) < 0.04


def test_laws_never_leave_their_ends() -> None:
    """No draw lies outside its ends, even by a last digit."""
    spreads = [Spread(0.3, 0.1, 0.7, law) for law in ("normal", "uniform", "worst")]
    drawn = draw(spreads, COUNT, 7)
    assert drawn.min() >= 0.1
    assert drawn.max() <= 0.7


def test_no_width_is_constant() -> None:
    """A spread without width is its value in each sample, and leaves the draws of others as they were."""
    wide = [Spread(5.0, 4.0, 6.0), Spread(1.0, 0.5, 1.5), Spread(3.0, 2.0, 4.0)]
    narrow = [wide[0], Spread(1.0, 1.0, 1.0), wide[2]]
    a, b = draw(wide, 100, 8), draw(narrow, 100, 8)
    assert np.all(b[1] == 1.0)
    assert np.array_equal(a[[0, 2]], b[[0, 2]])


def test_same_seed_same_numbers() -> None:
    """One seed gives the same numbers again, another one or another stream others; a parameter more changes none."""
    spreads = [Spread(5.0, 4.0, 6.0), Spread(1.0, 0.5, 1.5, "uniform")]
    first = draw(spreads, 50, 9)
    assert np.array_equal(first, draw(spreads, 50, 9))
    assert np.array_equal(first, draw([*spreads, Spread(0, -1, 1)], 50, 9)[:2])
    assert not np.any(first == draw(spreads, 50, 10))
    assert not np.any(draw(spreads, 50, [9, 0]) == draw(spreads, 50, [9, 1]))


def test_first_numbers_of_the_generator() -> None:
    """The unit draws are those of PCG64, with a stream for each parameter that is spawned from the one seed."""
    streams = np.random.SeedSequence(7).spawn(2)
    expected = [np.random.Generator(np.random.PCG64(stream)).random(3).tolist() for stream in streams]
    assert draw([Spread(0.5, 0.0, 1.0, "uniform")] * 2, 3, 7).tolist() == expected


@pytest.mark.parametrize(
    "given",
    [(5.0, 5.5, 6.0), (5.0, 4.0, 4.5), (math.nan, 4.0, 6.0), (5.0, -math.inf, 6.0), (5.0, 4.0, math.nan)],
)
def test_refuses_spreads(given: tuple[float, float, float]) -> None:
    """A nominal value outside its ends, and ends that are not finite, are refused."""
    with pytest.raises(ValueError, match="does not lie between"):
        Spread(*given)


def test_refuses_other_words() -> None:
    """A law that does not exist and a count below one are refused."""
    with pytest.raises(ValueError, match="no law"):
        Spread(5.0, 4.0, 6.0, "gauss")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="cannot be drawn"):
        draw([Spread(5.0, 4.0, 6.0)], 0, 1)

"""What many samples say: how many pass, how sure that is, how far values spread, and what they depend on."""

import math
from collections.abc import Callable, Sequence
from typing import Any, Literal, TypeAlias

import numpy as np
from msgspec import Struct

Array: TypeAlias = np.ndarray[Any, np.dtype[np.float64]]

PERCENTS = (0.1, 1.0, 5.0, 25.0, 50.0, 75.0, 95.0, 99.0, 99.9)
"""Percentiles that a summary has where no others are asked for."""

STRAIGHT = 0.9
"""Share of the variance that a straight law must explain; below it, ranks take the place of values."""


class Yield(Struct, frozen=True):
    """Share of samples that pass, with the interval that holds the true share; each from 0 to 1."""

    share: float
    low: float
    high: float


class Part(Struct, frozen=True):
    """What one parameter, or one group of them, does to an output.

    name: of the group, or the parameter's number
    share: of the output's variance, from 0 to 1
    sign: 1 where the output rises with it, -1 where it falls, 0 where it does nothing
    """

    name: str | int
    share: float
    sign: int


class Ranking(Struct, frozen=True):
    """Parameters and groups, the most weighty first.

    parts: every parameter and group
    explained: share of the variance that they explain by a law that is straight in each of them (R²)
    by_rank: the shares are of the ranks of values, because the values themselves do not follow a straight law
    note: None, or what must be said beside the shares
    """

    parts: list[Part]
    explained: float
    by_rank: bool
    note: str | None


class Summary(Struct, frozen=True):
    """How the samples of one quantity spread, in its own unit; percentiles by percent."""

    count: int
    low: float
    high: float
    mean: float
    deviation: float
    percentiles: dict[float, float]


def yield_of(
    passed_count: int,
    count: int,
    confidence: float = 0.95,
    method: Literal["wilson", "exact"] = "wilson",
) -> Yield:
    """Give the share that passes, with the interval that holds the true one at the confidence asked.

    passed_count: samples that pass [-]
    count: all samples [-]
    confidence: chance that the interval holds the true share, above 0 and below 1 [-]
    method: "wilson", right on average over true shares, or "exact", never less sure than asked [-]
    Gives: Yield.
    Errors: ValueError for counts or a confidence that cannot be.
    Valid: independent samples, their number settled beforehand; see `enough` for one that is not.
    Source: Wilson 1927, J. Am. Stat. Assoc. 22, 209-212 (from memory); Clopper and Pearson 1934,
        Biometrika 26, 404-413 (from memory).
    """
    if not 0 <= passed_count <= count or count < 1:
        raise ValueError(f"{passed_count} of {count} samples cannot pass")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"a confidence of {confidence} is not between 0 and 1")
    share = passed_count / count
    if method == "exact":
        low, high = _exact(passed_count, count, 0.5 * (1.0 - confidence))
    else:
        low, high = _wilson(share, count, 0.5 * (1.0 - confidence))
    # at none and at all, the ends are the share itself, but for a last digit
    return Yield(share, 0.0 if passed_count == 0 else low, 1.0 if passed_count == count else high)


def _wilson(share: float, count: int, tail: float) -> tuple[float, float]:
    from scipy.special import ndtri

    z = float(ndtri(1.0 - tail))
    scale = 1.0 + z * z / count
    middle = (share + z * z / (2 * count)) / scale
    reach = z / scale * math.sqrt(share * (1.0 - share) / count + z * z / (4.0 * count * count))
    return middle - reach, middle + reach


def _exact(passed: int, count: int, tail: float) -> tuple[float, float]:
    from scipy.special import betaincinv

    low = float(betaincinv(passed, count - passed + 1, tail)) if passed else 0.0
    high = float(betaincinv(passed + 1, count - passed, 1.0 - tail)) if passed < count else 1.0
    return low, high


def enough(
    width: float,
    run: Callable[[int, int], int],
    *,
    chunk: int = 10_000,
    most: int = 1_000_000,
    confidence: float = 0.95,
    method: Literal["wilson", "exact"] = "wilson",
    told: Callable[[int, Yield], object] | None = None,
) -> tuple[int, Yield]:
    """Sample until the interval of the yield is no wider than asked.

    width: of the interval, from its low end to its high one [-]
    run: draws one part of the samples, from the number of the part and how many it has; gives how many pass [-]
    chunk: samples in one part [-]
    most: samples after which it stops, however wide the interval; the last part may be smaller [-]
    confidence: as of `yield_of` [-]
    method: as of `yield_of` [-]
    told: called after each part, with the samples so far and their yield [-]
    Gives: how many samples were drawn, and their Yield; its interval is wider than asked only at `most`.
    Errors: ValueError for a width, a chunk or a most that is not above zero, or a part with more passed than
        drawn.
    Valid: parts that are independent of each other. To stop when the interval is narrow costs it a little of
        its confidence: least with parts so large that only a few are looked at.
    Source: common practice.
    """
    if not width > 0.0 or chunk < 1 or most < 1:
        raise ValueError("width, chunk and most must be above zero")
    count = passed = part = 0
    while True:
        size = min(chunk, most - count)
        found = run(part, size)
        if not 0 <= found <= size:
            raise ValueError(f"{found} of {size} samples cannot pass")
        passed += found
        count += size
        part += 1
        now = yield_of(passed, count, confidence, method)
        if told is not None:
            told(count, now)
        if now.high - now.low <= width or count >= most:
            return count, now


def summary(values: Array, percents: Sequence[float] = PERCENTS) -> Summary:
    """Sum up how the samples of one quantity spread.

    values: of the samples [any unit]
    percents: of the samples below each percentile [%]
    Gives: Summary, in the unit of the values; the deviation is that of a sample (count - 1), 0 of one value.
    Errors: ValueError where there is no value, or one that is not finite: samples that could not be solved
        are left out by the caller, who says how many.
    Valid: any values; between two samples, percentiles are interpolated.
    Source: common practice.
    """
    values = np.asarray(values, dtype=float)
    if values.ndim != 1 or not values.size or not np.isfinite(values).all():
        raise ValueError("a summary needs at least one value, and finite ones only")
    found = np.percentile(values, list(percents))
    return Summary(
        values.size,
        float(values.min()),
        float(values.max()),
        float(values.mean()),
        float(values.std(ddof=1)) if values.size > 1 else 0.0,
        dict(zip(percents, map(float, found), strict=True)),
    )


def ranking(inputs: Array, output: Array, groups: Sequence[str | None] | None = None) -> Ranking:
    """Rank parameters by the share of an output's variance that each one brings about by itself.

    inputs: parameters x samples [any units]
    output: of the samples [any unit]
    groups: group of each parameter, which count as one, or None for one that moves alone [-]
    Gives: Ranking. Shares are squared standardized regression coefficients; of a group, the variance of the
        sum of its terms. Where a straight law explains less than 90 %, all is done again with ranks: right
        for laws that only rise or only fall, and the note says so. The shares add up to `explained`, but for
        chance correlation of the samples.
    Errors: ValueError for arrays that do not fit each other, values that are not finite, or too few samples
        (two more than parameters).
    Valid: parameters of different groups are independent of each other.
    Source: Saltelli et al., Sensitivity Analysis, 2000, chapter 6 (from memory).
    """
    x = np.asarray(inputs, dtype=float)
    y = np.asarray(output, dtype=float)
    if x.ndim != 2 or y.shape != x.shape[1:] or (groups is not None and len(groups) != len(x)):
        raise ValueError(
            "inputs must be parameters x samples, with an output a sample and a group a parameter"
        )
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise ValueError("inputs and output must be finite")
    if y.size < len(x) + 2:
        raise ValueError(f"{y.size} samples are too few for {len(x)} parameters")
    members = _members(groups if groups is not None else [None] * len(x))
    if not np.any(y != y[0]):
        return Ranking([Part(name, 0.0, 0) for name in members], 1.0, False, "the output is always the same")
    parts, explained = _shares(x, y, members)
    if explained >= STRAIGHT:
        return Ranking(parts, explained, False, None)
    from scipy.stats import rankdata

    straight = explained
    parts, explained = _shares(rankdata(x, axis=1), rankdata(y), members)
    note = f"a straight law explains {straight:.0%} of the variance: shares are of ranks"
    if explained < STRAIGHT:
        note += f", which explain {explained:.0%}; the rest is joint effects, or rises and falls"
    return Ranking(parts, explained, True, note)


def _members(groups: Sequence[str | None]) -> dict[str | int, list[int]]:
    members: dict[str | int, list[int]] = {}
    for i, group in enumerate(groups):
        members.setdefault(i if group is None else group, []).append(i)
    return members


def _standard(values: Array) -> Array:
    """Give values with mean 0 and deviation 1; what does not vary is 0."""
    centred = values - values.mean(axis=-1, keepdims=True)
    deviation = centred.std(axis=-1, keepdims=True)
    # a constant may differ from its mean by a last digit, which must not be blown up
    still = np.ptp(values, axis=-1, keepdims=True) == 0.0
    found: Array = centred / np.where(still, 1.0, deviation)
    return found


def _shares(x: Array, y: Array, members: dict[str | int, list[int]]) -> tuple[list[Part], float]:
    x, y = _standard(x), _standard(y)
    # the pseudo-inverse of the correlations: members of a group are often multiples of each other
    slopes = np.linalg.pinv(x @ x.T / y.size, rcond=1e-10, hermitian=True) @ (x @ y / y.size)
    explained = 1.0 - float(np.mean((y - slopes @ x) ** 2))
    parts = []
    for name, rows in members.items():
        term = slopes[rows] @ x[rows]
        lead = x[rows].sum(axis=0)
        parts.append(Part(name, float(np.mean(term**2)), int(np.sign(np.mean(term * lead)))))
    parts.sort(key=lambda part: -part.share)
    return parts, min(1.0, max(0.0, explained))

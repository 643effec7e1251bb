"""A tolerance study for people: how often each limit holds, how sure that is, what decides, and the tightest as a plot;
and the same as JSON.

The JSON document has ``format`` 1; keys are added to it, never changed. It holds ``plan``, ``samples``, ``seed``,
``law``, ``holds`` (share of samples in which every limit holds: ``share``, ``low`` and ``high`` of its interval at
95 %), ``limits``, ``left_out`` and ``assumed`` (each a list of texts), and ``faults`` (how many references cannot be
followed). A limit has ``what``, ``allowed``, ``unit``, ``least`` (whether the value must not fall below it),
``should_be``, ``holds`` as above, ``found`` (``low``, ``high``, ``mean``, ``deviation``, and ``percentiles`` by
percent), ``decided_by`` (``what``, ``share`` of the variance, ``sign``) and ``note``.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck.plan.quantities import Measure

from .text import Line

__all__ = ["LETTERS", "document", "lines"]

#: What the plot is drawn with, where the terminal can show it.
LETTERS = "█▌"
#: Bins of the plot.
BINS = 15
#: Limits of which all is told even where they always hold.
TOLD = 3
#: Tolerances that are named of each limit.
NAMED = 4


def lines(study: Any, title: str, width: int, blocks: bool, full: bool = False) -> Iterator[Line]:
    """Yield the lines of a study, the limit that holds least often first; ``full`` tells all of every limit.

    Else it is all of those that do not always hold, and of the tightest of the others.
    """
    yield [
        ("place", title),
        ("", f": {study.samples} samples, {study.law} spreads, seed {study.seed}; intervals at 95 %"),
    ]
    told = len(study.limits) if full else max(TOLD, sum(limit.held.share < 1 for limit in study.limits))
    for limit in study.limits[:told]:
        yield []
        yield from _limit(limit)
    if study.limits[told:]:
        yield []
    for limit in study.limits[told:]:
        yield [*_head(limit), ("", f"; {_measure(_worst(limit), limit)} at worst")]
    if study.limits:
        yield []
        yield from _plot(study.limits[0], width, blocks)
    yield []
    yield from _end(study)


def _head(limit: Any) -> Line:
    grade = "good" if limit.held.share == 1 else "error"
    least = "at least" if limit.floor else "at most"
    return [
        (grade, f"{_percent(limit.held.share):>9}  "),
        ("", f"{limit.says}: {least} {_measure(limit.allowed, limit)}"),
    ]


def _worst(limit: Any) -> float:
    """Return the worst value of all samples."""
    return float(limit.found.low if limit.floor else limit.found.high)


def _limit(limit: Any) -> Iterator[Line]:
    yield _head(limit)
    edge = limit.found.percentiles[1.0 if limit.floor else 99.0]
    rows = [
        ("sure", f"{_percent(limit.held.low)} .. {_percent(limit.held.high)} of all boxes built so"),
        (
            "found",
            f"{_measure(limit.nominal, limit)} with everything as planned; {_measure(edge, limit)} or "
            f"{'less' if limit.floor else 'more'} in one of 100; {_measure(_worst(limit), limit)} at worst",
        ),
        ("decides", _parts(limit)),
        ("note", limit.note or ""),
    ]
    for label, text in rows:
        if text:
            yield [("label", f"{'':11}{label:<9}"), ("", text)]


def _parts(limit: Any) -> str:
    named = [f"{part.name} {part.share:.0%}" for part in limit.parts[:NAMED]]
    return ", ".join(named)


def _measure(value: float, limit: Any) -> Measure:
    return Measure(round(value, 3) + 0.0, limit.unit)  # no minus before a zero


def _percent(share: float) -> str:
    """Return a share as text; what is not quite all or nothing is never rounded to it."""
    if share in (0.0, 1.0):
        return f"{share:.0%}"
    text = f"{100 * share:.3f}".rstrip("0").rstrip(".")
    return {"100": "> 99.999", "0": "< 0.001"}.get(text, text) + " %"


def _plot(limit: Any, width: int, blocks: bool) -> Iterator[Line]:
    """Yield a plot of the samples of one limit: a bar for each stretch of values, and where the limit lies."""
    import numpy as np

    low, high = min(limit.found.low, limit.allowed), max(limit.found.high, limit.allowed)
    if high <= low:
        return
    counts, edges = np.histogram(limit.values, BINS, (low, high))
    yield [("", f"{limit.says}, sample by sample; {_measure(limit.allowed, limit)} is the limit")]
    room = max(10, width - 24)
    full, half = (LETTERS[0], LETTERS[1]) if blocks else ("#", "")
    for k in range(BINS - 1, -1, -1):
        from_, to = edges[k], edges[k + 1]
        here = from_ <= limit.allowed < to or (k == BINS - 1 and limit.allowed == to)
        bad = to <= limit.allowed if limit.floor else from_ >= limit.allowed
        length = room * counts[k] / counts.max()
        bar = full * int(length) + (half if length % 1 >= 0.5 else "")
        bar = bar or ("." if counts[k] else "")
        yield [
            ("label", f"{Measure(round(float(from_), 4), limit.unit)!s:>12} {'>' if here else ' '} "),
            ("error" if bad else "", bar),
        ]


def _end(study: Any) -> Iterator[Line]:
    if study.assumed:
        yield [("label", "as one figure  "), ("", "; ".join(study.assumed))]
    if study.left_out:
        yield [("open", "not studied    "), ("", "; ".join(study.left_out))]
    if study.faults:
        many = "1 reference" if study.faults == 1 else f"{study.faults} references"
        yield [
            (
                "error",
                f"{many} of this plan cannot be followed, and what hangs on them is left out; see a lint",
            )
        ]
    if not study.limits:
        yield [("open", "nothing to study: no limit of this plan can be judged")]
        return
    yield [
        (
            "good" if study.whole.share == 1 else "error",
            f"{_percent(study.whole.share)} of boxes built so keep every limit",
        ),
        ("", f" ({_percent(study.whole.low)} .. {_percent(study.whole.high)})"),
        ("", ", of those studied" if study.left_out else ""),
    ]


def document(study: Any, name: str) -> str:
    """Return a study as JSON."""
    import msgspec

    found = {
        "format": 1,
        "plan": name,
        "samples": study.samples,
        "seed": study.seed,
        "law": study.law,
        "holds": _interval(study.whole),
        "limits": [_machine(limit) for limit in study.limits],
        "left_out": study.left_out,
        "assumed": study.assumed,
        "faults": study.faults,
    }
    return msgspec.json.format(msgspec.json.encode(found), indent=2).decode()


def _interval(held: Any) -> dict[str, float]:
    return {"share": held.share, "low": held.low, "high": held.high}


def _machine(limit: Any) -> dict[str, Any]:
    found = limit.found
    return {
        "what": limit.says,
        "allowed": limit.allowed,
        "unit": limit.unit,
        "least": limit.floor,
        "should_be": limit.nominal,
        "holds": _interval(limit.held),
        "found": {
            "low": found.low,
            "high": found.high,
            "mean": found.mean,
            "deviation": found.deviation,
            "percentiles": {f"{percent:g}": value for percent, value in found.percentiles.items()},
        },
        "decided_by": [{"what": p.name, "share": p.share, "sign": p.sign} for p in limit.parts],
        "note": limit.note,
    }

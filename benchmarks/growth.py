"""Growth: the whole lint in process against tomli's parse of the same text, from a thousand devices up.

Aim: the time for each device stays the same, and the lint within six times the parse. Both are measured as the command
`lint` runs them, with the collector of garbage off.
"""

from __future__ import annotations

import datetime
import gc
import time
from collections.abc import Callable
from statistics import median
from typing import Any
from unittest import mock

import tomli

from coldcheck import ours
from coldcheck.engine.running import judge
from coldcheck.formats.report import judged_report
from coldcheck.formats.text import lines, plain
from coldcheck.plan.linking import link
from coldcheck.plan.reading import read_tables

from .dissect import Dissection
from .plans import FAULTS, MIXED, RACK
from .plans import plan as generated
from .show import table
from .timing import Times, in_turn

__all__ = ["lint", "run"]

_AIM = 6
_DAY = datetime.date(2026, 1, 1)
#: Devices, and how many rounds.
_SIZES = ((1_000, 15), (10_000, 7), (100_000, 3))
_QUICK = ((1_000, 5), (10_000, 3))
_SINGLE = (1_000, 10_000)
_RUNS = 3
_LEAST = 0.05  # [µs]; what costs less for each device is shown in one sum


def run(quick: bool) -> None:
    """Print the ratios for clean and faulty plans, and below each the parts of one lint of every size."""
    sizes = _QUICK if quick else _SIZES
    gc.disable()  # as `coldcheck lint` does
    book = ours.rulebook(entry_points=False)
    shelf = ours.shelf(book)
    for kind, faults in (("clean", ()), ("1 % faulty", MIXED)):
        rows = []
        each: list[float] = []
        for devices, rounds in sizes:
            text = generated(devices, faults).encode()
            tasks: dict[str, Callable[[], object]] = {
                "parse": lambda text=text: tomli.loads(text.decode()),  # type: ignore[misc]
                "lint": lambda text=text: lint(text, book, shelf),  # type: ignore[misc]
            }
            times = in_turn(tasks, rounds)
            found = lint(text, book, shelf).count("\n    rule ")
            each.append(times["lint"].median / devices)
            parse = times["parse"].median / devices
            ratio = times["lint"].over(times["parse"])
            row = [
                _thousands(devices),
                _thousands(found),
                f"{parse * 1e6:.1f}",
                f"{each[-1] * 1e6:.1f}",
                ratio,
            ]
            rows.append([*row, f"{each[-1] / each[0]:.2f}", str(rounds)])
        head = [
            "devices",
            "findings",
            "parse, µs each",
            "lint, µs each",
            "ratio (middle half)",
            "growth",
            "rounds",
        ]
        table(f"growth, {kind} plans: aim {_AIM}, and growth of 1", head, rows)
        texts = {devices: generated(devices, faults).encode() for devices, _ in sizes}
        _parts(kind, texts, book, shelf)
    _single(3 if quick else 7, book, shelf)


def _single(rounds: int, book: Any, shelf: Any) -> None:
    """Print what one fault of each kind adds to the lint of an otherwise clean plan."""
    names = ["none", *FAULTS]
    columns: list[dict[str, Times]] = []
    for devices in _SINGLE:
        tasks: dict[str, Callable[[], object]] = {}
        for name in names:
            faults = (FAULTS[name],) if name in FAULTS else ()
            text = generated(devices, faults, every=devices // RACK).encode()
            tasks[name] = lambda text=text: lint(text, book, shelf)  # type: ignore[misc]
        columns.append(in_turn(tasks, rounds))
    rows = []
    for name in names:
        row = [name]
        for column in columns:
            row += [f"{column[name].median * 1e3:.0f}", column[name].over(column["none"])]
        rows.append(row)
    head = ["one fault"]
    for devices in _SINGLE:
        head += [f"{_thousands(devices)}: ms", "ratio (middle half)"]
    table(f"growth, one fault: whole lint against that of a clean plan, {rounds} rounds", head, rows)


def _thousands(number: int) -> str:
    return f"{number:,}".replace(",", " ")


def lint(text: bytes, book: Any, shelf: Any) -> str:
    """Return what a lint prints of a plan, all in this process."""
    plan = ours.read_plan("plan.toml", text, shelf.again())
    judgement = judge(plan, book, _DAY)
    return _printed(plan, judgement)


def _printed(plan: Any, judgement: Any) -> str:
    report = judged_report(plan.name, plan.places, judgement.findings, judgement.judged)
    return "\n".join(map(plain, lines([report])))


def _parts(kind: str, texts: dict[int, bytes], book: Any, shelf: Any) -> None:
    sizes = list(texts)
    columns = [_middle([_taken(text, book, shelf) for _ in range(_RUNS)]) for text in texts.values()]
    parse = columns[-1]["tomli"] / sizes[-1] * 1e6
    last = {name: seconds / sizes[-1] * 1e6 for name, seconds in columns[-1].items()}
    small = [name for name in last if name.startswith(("working ", "rule ")) and last[name] < _LEAST]
    rows = []
    for name in [n for n in last if n not in small]:
        each = [f"{c.get(name, 0.0) / n * 1e6:.2f}" for c, n in zip(columns, sizes, strict=True)]
        rows.append([name, *each, f"{last[name] / parse:.2f}"])
    sums = [sum(c.get(name, 0.0) for name in small) / n * 1e6 for c, n in zip(columns, sizes, strict=True)]
    rows.append(
        [f"{len(small)} workings and rules below {_LEAST}"] + [f"{s:.2f}" for s in (*sums, sums[-1] / parse)]
    )
    whole = [sum(c.values()) / n * 1e6 for c, n in zip(columns, sizes, strict=True)]
    rows.append(["all"] + [f"{s:.2f}" for s in (*whole, whole[-1] / parse)])
    head = [f"{kind}, µs for each device", *map(_thousands, sizes), "in parses"]
    table(f"growth, {kind} plans: where it goes, the middle of {_RUNS} runs", head, rows)


def _middle(runs: list[dict[str, float]]) -> dict[str, float]:
    """Return the middle time of each part over several runs [s]."""
    return {name: median(run[name] for run in runs) for name in runs[0]}


def _taken(text: bytes, book: Any, shelf: Any) -> dict[str, float]:
    """Return the seconds of each part of one lint, workings and rules dearest first."""
    taken: dict[str, float] = {}
    gc.collect()
    parse = tomli.loads

    def timed(document: str) -> dict[str, Any]:
        start = time.perf_counter()
        try:
            return parse(document)
        finally:
            taken["tomli"] = time.perf_counter() - start

    start = time.perf_counter()
    with mock.patch.object(tomli, "loads", timed):
        tables = read_tables("plan.toml", text, shelf.again())
    taken["tables"] = time.perf_counter() - start - taken["tomli"]
    start = time.perf_counter()
    plan = link(tables)
    taken["link"] = time.perf_counter() - start
    dissection = Dissection(book)
    judgement = dissection.judge(plan, _DAY)
    for word, found in (("working", dissection.workings), ("rule", dissection.rules)):
        taken |= {f"{word} {name}": s for name, s in sorted(found.items(), key=lambda pair: -pair[1])}
    taken["sort and fold"] = dissection.rest
    start = time.perf_counter()
    _printed(plan, judgement)
    taken["report"] = time.perf_counter() - start
    return taken

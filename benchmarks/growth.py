"""Growth: the whole lint in process against tomli's parse of the same text, from a thousand devices up.

Aim: the time for each device stays the same, and the lint within six times the parse.
"""

from __future__ import annotations

import datetime
import gc
import time
from collections.abc import Callable
from typing import Any
from unittest import mock

import tomli

from coldcheck import ours
from coldcheck.engine.running import judge
from coldcheck.formats.report import judged_report
from coldcheck.formats.text import lines, plain
from coldcheck.plan.model import link
from coldcheck.plan.reading import read_tables

from .dissect import Dissection
from .plans import plan as generated
from .show import table
from .timing import in_turn

__all__ = ["lint", "run"]

_AIM = 6
_DAY = datetime.date(2026, 1, 1)
#: Devices, and how many rounds.
_SIZES = ((1_000, 15), (10_000, 7), (100_000, 3))
_QUICK = ((1_000, 5), (10_000, 3))
_LEAST = 0.05  # of a microsecond: what costs less for each device is shown in one sum


def run(quick: bool) -> None:
    """Print the ratios for clean and faulty plans, and below each the parts of one lint of every size."""
    sizes = _QUICK if quick else _SIZES
    book = ours.rulebook(entry_points=False)
    shelf = ours.shelf(book)
    for faulty in (False, True):
        kind = "1 % faulty" if faulty else "clean"
        rows = []
        each: list[float] = []
        for devices, rounds in sizes:
            text = generated(devices, faulty).encode()
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
        _parts(kind, [devices for devices, _ in sizes], faulty, book, shelf)


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


def _parts(kind: str, sizes: list[int], faulty: bool, book: Any, shelf: Any) -> None:
    columns = [_taken(generated(devices, faulty).encode(), book, shelf) for devices in sizes]
    last = {name: seconds / sizes[-1] * 1e6 for name, seconds in columns[-1].items()}
    small = [name for name in last if name.startswith(("working ", "rule ")) and last[name] < _LEAST]
    rows = []
    for name in [n for n in last if n not in small]:
        rows.append(
            [name] + [f"{c.get(name, 0.0) / n * 1e6:.2f}" for c, n in zip(columns, sizes, strict=True)]
        )
    sums = [sum(c.get(name, 0.0) for name in small) / n * 1e6 for c, n in zip(columns, sizes, strict=True)]
    rows.append([f"{len(small)} workings and rules below {_LEAST}"] + [f"{s:.2f}" for s in sums])
    whole = [sum(c.values()) / n * 1e6 for c, n in zip(columns, sizes, strict=True)]
    rows.append(["all"] + [f"{s:.2f}" for s in whole])
    head = [f"{kind}, µs for each device", *map(_thousands, sizes)]
    table(f"growth, {kind} plans: where it goes, one run", head, rows)


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

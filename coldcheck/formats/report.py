"""What a lint has to tell, as data that every format starts from: one `PlanReport` for each plan."""

from __future__ import annotations

from collections import Counter

import msgspec

from coldcheck.engine.findings import Finding
from coldcheck.engine.running import Judged
from coldcheck.plan.places import Places
from coldcheck.plan.problems import PlanUnreadable

from .positions import Positions

__all__ = ["Located", "PlanReport", "judged_report", "unreadable_report"]


class Located(msgspec.Struct):
    """A finding with its line and column, and those of the places related to it."""

    finding: Finding
    line: int
    column: int
    related: list[tuple[int, int, str]]


class PlanReport(msgspec.Struct):
    """One plan: what was found, what was judged; or, where it cannot be read, only why."""

    name: str
    found: list[Located]
    judged: Judged | None
    unreadable: bool = False

    def count(self) -> Counter[str]:
        """Return how many findings there are of each level, and of ``open`` and ``review``; waived ones apart."""
        return Counter(
            "waived" if f.finding.waived else f.finding.level or f.finding.kind for f in self.found
        )


def judged_report(name: str, places: Places, findings: list[Finding], judged: Judged) -> PlanReport:
    """Return the report of a plan that was judged."""
    positions = Positions(places.text)

    def at(path: tuple[str | int, ...]) -> tuple[int, int]:
        return positions.of(places.start(path)) if path else (1, 1)

    found = [
        Located(f, *at(f.path), [(*at(r.path), r.says) for r in f.related if r.path]) for f in findings
    ]  # fmt: skip
    return PlanReport(name, found, judged)


def unreadable_report(error: PlanUnreadable) -> PlanReport:
    """Return the report of a plan whose form is wrong: its problems as error findings, in the order of the file."""
    places, positions = Places(error.text), Positions(error.text)
    found = []
    for problem in error.problems:
        offset = problem.offset if problem.offset is not None else places.start(problem.path)
        finding = Finding("error", problem.path, problem.says, remedy=problem.remedy, rule="plan.form")
        found.append(Located(finding, *positions.of(offset), []))
    found.sort(key=lambda f: (f.line, f.column))
    return PlanReport(error.name, found, None, unreadable=True)

"""Trials: a text of a plan judged as it would stand, and how two judgements differ.

What the planner proposes is read and linted by the same rules as a plan on disk before anybody sees it.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterable
from typing import Any

import msgspec

from coldcheck.engine.findings import LEVELS, Finding, Level
from coldcheck.engine.loading import Rulebook
from coldcheck.engine.running import judge
from coldcheck.plan.linking import link
from coldcheck.plan.model import Plan
from coldcheck.plan.parts import Shelf
from coldcheck.plan.reading import read_tables

__all__ = ["Bench", "Trial", "grade", "in_numbers", "made_worse"]

#: What is told of one thing by one rule: rule, thing, level or the level left open.
Verdict = tuple[str, str, str]


def grade(finding: Finding) -> Level | None:
    """Return the level of a finding, of an open one the level it leaves undecided; None for a review."""
    return finding.level or finding.leaves


class Trial(msgspec.Struct):
    """A text, the plan it makes and what a lint finds in it, waived findings left out."""

    text: bytes
    plan: Plan
    findings: list[Finding]

    def verdicts(self) -> Counter[Verdict]:
        """Count what is told of each thing by each rule."""
        return Counter(
            (finding.rule, subject, level)
            for finding in self.findings
            if (level := grade(finding)) is not None
            for subject in dict.fromkeys(finding.subjects)
        )

    def weight(self) -> tuple[int, ...]:
        """Count the errors, warnings and notes, what is open counted as the level it leaves; fewer is better."""
        counts = Counter(grade(finding) for finding in self.findings)
        return tuple(counts[level] for level in LEVELS)


class Bench:
    """Judges texts of one plan, each with the same rules, shelf and day, and remembers the last ones.

    Raises, where a text is tried: `coldcheck.plan.problems.PlanUnreadable`.
    """

    def __init__(self, name: str, book: Rulebook, shelf: Shelf, today: datetime.date) -> None:
        self.name, self.book, self.shelf, self.today = name, book, shelf, today
        self.trials = 0  #: how many texts were judged so far
        self._known: dict[tuple[bytes, tuple[str, ...]], Trial] = {}

    def read(self, text: bytes) -> Plan:
        """Return the plan that a text makes."""
        return link(read_tables(self.name, text, self.shelf.again()))

    def trial(self, text: bytes, only: Iterable[str] = ()) -> Trial:
        """Return a text judged by all rules, or by some of them or of their areas."""
        key = text, tuple(only)
        if key not in self._known:
            plan = self.read(text)
            findings = judge(plan, self.book, self.today, key[1]).findings
            if len(self._known) > _MOST_KEPT:
                self._known.clear()
            self._known[key] = Trial(text, plan, [f for f in findings if not f.waived])
            self.trials += 1
        return self._known[key]

    def working(self, plan: Plan, name: str, made: dict[str, Any] | None = None) -> Any:
        """Return a working of a plan; ``made`` keeps what was made for it on the way."""
        made = {"plan": plan} if made is None else made
        if name not in made:
            entry = self.book.workings[name]
            made[name] = entry.function(*[self.working(plan, need, made) for need in entry.needs])
        return made[name]


#: Each trial holds a whole plan.
_MOST_KEPT = 8


def made_worse(before: Trial, after: Trial, level: Level, gone: Iterable[Finding] = ()) -> list[Finding]:
    """Return the findings of ``after`` at or above a level that ``before`` has not.

    ``gone`` are findings of ``before`` that must not be there any more: one that is, is returned as well.
    """
    allowed = before.verdicts()
    for finding in gone:
        for subject in dict.fromkeys(finding.subjects):
            allowed[finding.rule, subject, grade(finding) or ""] -= 1
    found = after.verdicts()
    worse = {
        verdict
        for verdict, count in found.items()
        if LEVELS.index(verdict[2]) <= LEVELS.index(level) and count > allowed[verdict]
    }
    return [
        finding
        for finding in after.findings
        if any((finding.rule, subject, grade(finding)) in worse for subject in finding.subjects)
    ]


def in_numbers(trial: Trial) -> str:
    """Return what a lint finds, in words: "1 error, 2 warnings, 3 open"; "nothing found" where that is so."""
    counts: Counter[str] = Counter(finding.level or finding.kind for finding in trial.findings)
    told = [f"{count} {level}{'s' if count > 1 else ''}" for level in LEVELS if (count := counts[level])] + [
        f"{count} {word}"
        for kind, word in (("open", "open"), ("review", "to review"))
        if (count := counts[kind])
    ]
    return ", ".join(told) or "nothing found"

"""Waivers: findings accepted on purpose, each with a reason and a last day."""

from __future__ import annotations

import datetime
from typing import Any

from coldcheck.plan.problems import nearest

from .findings import Finding
from .loading import Rulebook

__all__ = ["weigh"]


def weigh(
    plan: Any, findings: list[Finding], book: Rulebook, today: datetime.date, partial: bool
) -> list[Finding]:
    """Mark the findings that a waiver accepts, and return what is to be said of the waivers themselves.

    ``partial`` says that only some rules ran: then a waiver that met nothing proves nothing.
    """
    said: list[Finding] = []
    covered: dict[int, set[str]] = {}
    for waiver in plan.table("waiver"):
        rule = book.former(waiver.rule)
        if rule not in book.rules:
            said.append(_unknown(waiver, book))
            continue
        met = [f for f in findings if f.rule == rule and _meets(waiver.at, f)]
        if waiver.until < today:
            if met:
                says = f"the waiver of {rule} ended on {waiver.until}; it accepts nothing any more"
                remedy = "mend what it covered, or set a new last day"
                said.append(_say("warning", "waivers.ended", (*waiver.path, "until"), says, remedy))
            continue
        for finding in met:
            names = covered.setdefault(id(finding), set())
            names.update(s for s in finding.subjects or ("",) if _covers(waiver.at, s))
            if names.issuperset(finding.subjects):
                finding.waived = waiver.reason
        if not met and not partial:
            says = (
                f"nothing is found by {rule} at {waiver.at or 'any place'}: this waiver is no longer needed"
            )
            said.append(_say("note", "waivers.idle", (*waiver.path, "rule"), says, "take it out"))
    return said


def _unknown(waiver: Any, book: Rulebook) -> Finding:
    near = nearest(waiver.rule, book.rules)
    remedy = f'did you mean "{near}"?' if near else "`coldcheck why` lists the rules"
    says = f"no rule is called {waiver.rule}, so this waiver accepts nothing"
    return _say("warning", "waivers.unknown_rule", (*waiver.path, "rule"), says, remedy)


def _say(level: Any, rule: str, path: Any, says: str, remedy: str) -> Finding:
    return Finding(level, path, says, remedy=remedy, rule=rule, path=path)


def _meets(at: str | None, finding: Finding) -> bool:
    return at is None or any(_covers(at, subject) for subject in finding.subjects)


def _covers(at: str | None, subject: str) -> bool:
    """Say whether a waiver for ``at`` covers a subject: a thing covers its points."""
    return at is None or subject == at or subject.partition(".")[0] == at

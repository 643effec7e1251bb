"""Waivers: findings accepted on purpose, each with a reason and a last day."""

from __future__ import annotations

import datetime
from typing import Any

from coldcheck.plan.problems import nearest

from .findings import Finding
from .loading import Rulebook

__all__ = ["weigh"]


def weigh(plan: Any, findings: list[Finding], book: Rulebook, today: datetime.date, partial: bool) -> list[Finding]:
    """Mark the findings that a waiver accepts, and return what is to be said of the waivers themselves.

    ``partial`` says that only some rules ran: then a waiver that met nothing proves nothing.
    """
    said: list[Finding] = []
    for waiver in plan.table("waiver"):
        rule = book.former(waiver.rule)
        path = waiver.path
        if rule not in book.rules:
            near = nearest(waiver.rule, book.rules)
            remedy = f'did you mean "{near}"?' if near else "`coldcheck why` lists the rules"
            says = f"no rule is called {waiver.rule}, so this waiver accepts nothing"
            said.append(_say("warning", "waivers.unknown_rule", (*path, "rule"), says, remedy))
            continue
        met = [f for f in findings if f.rule == rule and f.kind != "note" and _covers(waiver.at, f)]
        if waiver.until < today:
            if met:
                says = f"the waiver of {rule} ended on {waiver.until}; it accepts nothing any more"
                remedy = "mend what it covered, or set a new last day"
                said.append(_say("warning", "waivers.ended", (*path, "until"), says, remedy))
            continue
        for finding in met:
            finding.waived = waiver.reason
        if not met and not partial:
            says = f"nothing is found by {rule} at {waiver.at or 'any place'}: this waiver is no longer needed"
            said.append(_say("note", "waivers.idle", (*path, "rule"), says, "take it out"))
    return said


def _say(level: Any, rule: str, path: Any, says: str, remedy: str) -> Finding:
    return Finding(level, path, says, remedy=remedy, rule=rule, path=path)


def _covers(at: str | None, finding: Finding) -> bool:
    """Say whether a waiver for ``at`` covers all that a finding speaks of: a thing covers its points."""
    if at is None:
        return True
    return bool(finding.subjects) and all(s == at or s.partition(".")[0] == at for s in finding.subjects)

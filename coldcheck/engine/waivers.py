"""Waivers: findings accepted on purpose, each with the gravest level it accepts, a reason and a last day."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck.plan.problems import nearest

from .findings import LEVELS, Finding
from .loading import Rulebook

__all__ = ["LONGEST", "weigh"]

#: How far ahead a last day may lie before it is remarked on: a box changes, and what was meant is forgotten [d].
LONGEST = 731


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
        accepted = [f for f in met if _bears(waiver, f)]
        for finding in accepted:
            names = covered.setdefault(id(finding), set())
            names.update(s for s in finding.subjects or ("",) if _covers(waiver.at, s))
            if names.issuperset(finding.subjects):
                finding.waived = waiver.reason
        said += _too_grave(waiver, rule, [f for f in met if not _bears(waiver, f)])
        said += _far(waiver, today)
        if not met and not partial:
            said.append(_misplaced(plan, waiver) or _idle(waiver, rule))
    return said


def _idle(waiver: Any, rule: str) -> Finding:
    says = f"nothing is found by {rule} at {waiver.at or 'any place'}: this waiver is no longer needed"
    return _say("note", "waivers.idle", (*waiver.path, "rule"), says, "take it out")


def _bears(waiver: Any, finding: Finding) -> bool:
    """Say whether a finding is no graver than its waiver accepts; an open one counts by the level it leaves."""
    level = finding.level or finding.leaves
    return level is None or LEVELS.index(level) >= LEVELS.index(waiver.level)


def _too_grave(waiver: Any, rule: str, findings: list[Finding]) -> Iterator[Finding]:
    if findings:
        worst = min((f.level or f.leaves or "note" for f in findings), key=LEVELS.index)
        says = f"this waiver accepts no more than a {waiver.level} of {rule}; what is found there is graver"
        remedy = f'mend what is found, or write level = "{worst}" if it is accepted too'
        place = (*waiver.path, "level" if "level" in waiver.stated else "rule")
        yield _say("note", "waivers.too_grave", place, says, remedy)


def _far(waiver: Any, today: datetime.date) -> Iterator[Finding]:
    if (waiver.until - today).days > LONGEST:
        says = f"this waiver holds until {waiver.until}; one is looked at again at least every two years"
        yield _say("note", "waivers.far", (*waiver.path, "until"), says, "set an earlier last day")


def _misplaced(plan: Any, waiver: Any) -> Finding | None:
    """Return what is said of a waiver at a place that the plan does not have."""
    if waiver.at is None or waiver.at in _texts(plan):
        return None
    name, dot, point = waiver.at.partition(".")
    thing = plan.things.get(name)
    if thing is None:
        what, near = waiver.at, nearest(name, plan.things)
        near = f"{near}{dot}{point}" if near else ""
    else:
        points = _points(plan, thing)
        if not point or point.isdecimal() or point in points:
            return None
        what, near = waiver.at, nearest(point, points)
        near = f"{name}.{near}" if near else ""
    remedy = f'did you mean "{near}"?' if near else "name a thing of this plan"
    says = f"nothing is called {what}, so this waiver accepts nothing"
    return _say("warning", "waivers.unknown_place", (*waiver.path, "at"), says, remedy)


def _texts(plan: Any) -> set[str]:
    """Return every text in entries that have no name: what is found of them goes by one of these."""
    found: set[str] = set()
    for table, rows in plan.of.items():
        for row in rows if table != "waiver" else ():
            if not hasattr(row, "id"):
                for value in msgspec.structs.astuple(row):
                    texts = value if isinstance(value, tuple) else (value,)
                    found.update(text for text in texts if isinstance(text, str))
    return found


def _points(plan: Any, thing: Any) -> set[str]:
    """Return the names of the points of a thing: of its inner tables, and those that linking gave it."""
    found = {point.id for point in plan.ports.get(thing.id, ())}
    for value in msgspec.structs.astuple(thing):
        if isinstance(value, (tuple, list)):
            found.update(getattr(row, "id", "") for row in value)
    return found - {""}


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

"""Running the rules over one plan: workings are computed once, rules get them by name, verdicts are counted.

A rule or a working that raises becomes an error finding that names it; everything else still reports.
"""

from __future__ import annotations

import datetime
import traceback
from collections.abc import Callable, Iterable
from typing import Any, Protocol

import msgspec

from coldcheck.plan.problems import Path

from .findings import LEVELS, Finding, Open, Related
from .folding import counted, folded
from .loading import Rulebook
from .rules import Rule
from .waivers import weigh

__all__ = ["Judged", "Judgement", "judge"]


class Readable(Protocol):
    """What the engine asks of a plan."""

    name: str
    of: dict[str, list[Any]]
    things: dict[str, Any]
    places: Any

    def table(self, name: str) -> list[Any]:
        """Return the entries of one table."""

    def place(self, thing: Any, *keys: str) -> Path:
        """Return where a key of a thing stands."""


class Judged(msgspec.Struct):
    """What was done: ``rules`` that ran, ``verdicts`` they gave on single items, ``skipped`` rules, ``seconds``."""

    rules: int = 0
    verdicts: int = 0
    skipped: tuple[str, ...] = ()
    seconds: float = 0.0


class Judgement(msgspec.Struct):
    """The findings of one plan, in the order of the file, and what was judged."""

    findings: list[Finding]
    judged: Judged


class _Stopped(Exception):
    """A working that cannot be had: its own error is reported already."""


class _Run:
    def __init__(self, plan: Readable, book: Rulebook, made: dict[str, Any] | None = None) -> None:
        self.plan = plan
        self.book = book
        self.findings: list[Finding] = []
        self.judged = Judged()
        self._made = {"plan": plan} if made is None else made
        self._failed: set[str] = set()

    def working(self, name: str) -> Any:
        """Return a working, computed when it is first asked for."""
        try:
            return self._made[name]
        except KeyError:
            pass
        if name in self._failed:
            raise _Stopped
        working = self.book.workings[name]
        try:
            made = working.function(*[self.working(need) for need in working.needs])
        except _Stopped:
            self._failed.add(name)
            raise
        except (Exception, SystemExit) as error:
            self._failed.add(name)
            self._raised(f"working {name}", working.file, working.line, error)
            raise _Stopped from None
        self._made[name] = made
        return made

    def rule(self, rule: Rule) -> None:
        """Run one rule over everything it judges."""
        try:
            arguments = [self.working(need) for need in rule.needs]
            items = self._items(rule)
        except _Stopped:
            self.judged.skipped += (rule.name,)
            return
        self.judged.rules += 1
        self.judged.verdicts += len(items)
        self._over(rule, items, arguments)

    def _items(self, rule: Rule) -> Any:
        if rule.over == "plan":
            return (self.plan,)
        if rule.over in self.book.tables:
            return self.plan.table(rule.over)
        return self.working(rule.over)

    def _over(self, rule: Rule, items: Iterable[Any], arguments: list[Any]) -> None:
        function: Callable[..., Iterable[Finding] | None] = rule.function
        raised = 0
        for item in items:
            try:
                for finding in function(item, *arguments) or ():
                    self.findings.append(self._settle(finding, rule))
            except (Exception, SystemExit) as error:
                raised += 1
                if raised == 1:
                    self._raised(f"rule {rule.name}", rule.file, rule.line, error, item)

    def _settle(self, finding: Finding, rule: Rule) -> Finding:
        finding.rule = rule.name
        if not finding.subjects:
            finding.subjects = (_name(finding.at),)
        finding.path = finding.path or self._path(finding)
        finding.related = [Related(self._path_of(at), says) for at, says in finding.related]
        finding.basis = finding.basis or rule.source
        level = finding.level or finding.leaves
        if level is not None and LEVELS.index(level) < LEVELS.index(rule.level):
            raise ValueError(f'it gave level "{level}", but declares "{rule.level}" as its highest')
        return finding

    def _path(self, finding: Finding) -> Path:
        keys = (finding.place,) if isinstance(finding.place, str) else finding.place
        holder = finding.at
        if keys:
            for candidate in (getattr(holder, "spec", None), getattr(holder, "thing", None), holder):
                stated = getattr(candidate, "stated", ())
                for key in keys:
                    if key in stated and self._in_plan(candidate, holder):
                        return (*candidate.path, key)  # type: ignore[union-attr]
        return self._path_of(holder)

    @staticmethod
    def _in_plan(candidate: Any, holder: Any) -> bool:
        """Say whether a table is the thing's own: what its part says stands on the shelf, not in the plan."""
        thing = getattr(holder, "thing", None)
        return thing is None or candidate.path[: len(thing.path)] == thing.path

    def _path_of(self, at: Any) -> Path:
        if isinstance(at, tuple):
            return at
        thing = getattr(at, "thing", None)
        if thing is not None:
            path = getattr(at, "path", None)
            return path or self.plan.place(thing)
        if hasattr(at, "stated"):
            return self.plan.place(at)
        return getattr(at, "path", ())

    def _raised(self, what: str, file: str, line: int, error: BaseException, item: Any = None) -> None:
        last = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{last.filename}:{last.lineno}"
        judging = f" while judging {_name(item)}" if item is not None and item is not self.plan else ""
        self.findings.append(
            Finding(
                "error",
                (),
                f"{what} failed{judging}: {type(error).__name__}: {error}",
                because=f"raised at {where}; declared at {file}:{line}",
                remedy="mend the rule, or report it to whoever keeps it; what it judges is not judged",
                rule="engine.raised",
                subjects=(what,),
            )
        )


def _name(at: Any) -> str:
    if isinstance(at, tuple):
        return ""
    name = getattr(at, "name", None) or getattr(at, "id", None)
    return name if isinstance(name, str) else str(at)


def judge(
    plan: Readable,
    book: Rulebook,
    today: datetime.date,
    only: Iterable[str] = (),
    clock: Callable[[], float] = float,
    made: dict[str, Any] | None = None,
) -> Judgement:
    """Return the findings of every rule on one plan.

    Args:
        plan: a linked plan.
        book: the rules and workings.
        today: the day that waivers are held against.
        only: names of the rules to run, or of their areas, ``polarity`` for each ``polarity.*``; all where empty.
        clock: what tells the seconds that pass; the default stands still.
        made: workings of this plan by name, the plan itself among them; those that are made now are kept there.
    """
    start = clock()
    run = _Run(plan, book, made)
    for broken in book.broken:
        run.findings.append(_broken(broken))
    wanted = set(only)
    for rule in book.rules.values():
        if not wanted or rule.name in wanted or rule.area in wanted:
            run.rule(rule)
    if not any(rows for table, rows in plan.of.items() if table != "waiver"):
        run.findings.append(_empty())
    findings = folded(run.findings, plan.things)
    _guard_edits(plan, findings)
    findings += weigh(plan, findings, book, today, bool(wanted))
    _in_order(plan, findings)
    run.judged.seconds = clock() - start
    return Judgement(findings, run.judged)


def _empty() -> Finding:
    says = "the plan names no thing, so there was nothing to judge"
    remedy = "start with a [[feed]] and a [[node]]; the README shows a first plan"
    return Open("warning", (), says, ["things"], remedy=remedy, rule="plan.empty")


def _broken(broken: Any) -> Finding:
    where = f" ({broken.file}:{broken.line})" if broken.file else ""
    return Finding(
        "error",
        (),
        f"{broken.name} cannot be used: {broken.why}",
        because=f"it would have judged this plan{where}",
        remedy="mend or remove it; without it the plan is judged by fewer rules",
        rule="engine.cannot_load",
        subjects=(broken.name,),
    )


def _guard_edits(plan: Any, findings: list[Finding]) -> None:
    """Drop edits that would change more things than the finding speaks of: a span has one text for all its members."""
    edited = [f for f in findings if f.edits]
    if not edited:
        return
    members: dict[Path, set[str]] = {}
    for table in plan.of.values():
        for thing in table:
            members.setdefault(thing.path, set()).add(getattr(thing, "id", ""))
    for finding in edited:
        named = {subject.partition(".")[0] for subject in finding.subjects}
        for edit in finding.edits:
            dealt = members.get(edit.path[:2], set())
            if len(dealt) > 1 and not dealt <= named:
                finding.edits = ()


def _in_order(plan: Any, findings: list[Finding]) -> None:
    """Sort by place in the plan, then by gravity; what has no place comes first."""
    if len(findings) < 2:
        return
    start = plan.places.start

    def key(finding: Finding) -> tuple[Any, ...]:
        level = finding.level or finding.leaves
        grade = LEVELS.index(level) if level else len(LEVELS)
        return (
            start(finding.path) if finding.path else -1,
            grade + (0 if finding.level else 4),
            finding.rule,
            counted(finding.subjects[0]) if finding.subjects else [],
        )

    findings.sort(key=key)

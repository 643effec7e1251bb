"""The one test of every rule: its cases. It ships with the product, so that a site tests its rules the same way.

``python -m coldcheck.testing FOLDER...`` runs the cases of every rule in the folders, and needs nothing else. With
pytest at hand:

from coldcheck.testing import every_case

@pytest.mark.parametrize("case", every_case(["my_rules"]), ids=str)
def test_cases(case):
    case.check()
"""

from __future__ import annotations

import datetime
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.loading import Rulebook
from coldcheck.engine.rules import Case, Rule
from coldcheck.engine.running import judge
from coldcheck.plan.edit import apply
from coldcheck.plan.problems import PlanUnreadable

__all__ = ["Trial", "every_case", "main"]

#: The day on which cases are judged.
DAY = datetime.date(2026, 1, 1)


class Trial:
    """One case of one rule, ready to be checked."""

    def __init__(self, book: Rulebook, rule: Rule, case: Case, number: int, clean: bool) -> None:
        self.book, self.rule, self.case, self.clean = book, rule, case, clean
        self.label = f"{rule.name}-{'clean' if clean else 'flagged'}-{number}"

    def __str__(self) -> str:
        return self.label

    def check(self) -> None:
        """Judge the plan by this one rule; raises AssertionError where it says something else than the case does."""
        found = self._judge(self.case.plan)
        if self.clean:
            _hold(not found, f"{self.label} must be clean, but: {_told(found)}")
            return
        _hold(found, f"{self.label} must be flagged, but is clean")
        match = [f for f in found if self._fits(f)]
        if self.case.edits:
            _hold(all(f.edits for f in match), f"{self.label}: the finding carries no edits")
        _hold(match, f"{self.label}: nothing found fits {self._wanted()}; found: {_told(found)}")
        if self.case.mended:
            rest = self._judge(self.case.mended)
            _hold(not rest, f"{self.label}: the mended plan is still flagged: {_told(rest)}")
            self._mend(match[0])

    def _mend(self, finding: Finding) -> None:
        if not finding.edits:
            return
        mended = apply(self.case.plan.encode(), finding.edits).decode()
        same = mended.split() == self.case.mended.split()
        _hold(same, f"{self.label}: the edits give another plan:\n{mended}")

    def _judge(self, text: str) -> list[Finding]:
        parts = ours.shelf(self.book)
        try:
            plan = ours.read_plan("case.toml", text.encode(), parts)
        except PlanUnreadable as error:
            says = "; ".join(p.says for p in error.problems)
            raise AssertionError(f"{self.label}: the plan cannot be read: {says}") from None
        judgement = judge(plan, self.book, DAY, only=[self.rule.name])
        failed = [f for f in judgement.findings if f.rule.startswith("engine.")]
        _hold(not failed, f"{self.label}: {_told(failed)}")
        return [f for f in judgement.findings if f.rule == self.rule.name]

    def _fits(self, finding: Finding) -> bool:
        case = self.case
        return (
            (not case.at or case.at in finding.subjects or case.at in finding.says)
            and (not case.found or case.found == str(finding.found))
            and (not case.level or case.level == finding.level)
            and (not case.kind or case.kind == finding.kind)
        )

    def _wanted(self) -> str:
        case = self.case
        pairs = {"at": case.at, "found": case.found, "level": case.level, "kind": case.kind}
        return ", ".join(f"{name} {value!r}" for name, value in pairs.items() if value) or "anything"


def _hold(fact: object, says: str) -> None:
    """Raise AssertionError where a fact does not hold; unlike the statement, also under ``python -O``."""
    if not fact:
        raise AssertionError(says)


def _told(findings: list[Finding]) -> str:
    return "; ".join(f"{f.rule} {f.kind} {f.level}: {f.says} [found {f.found}]" for f in findings)


def every_case(folders: Iterable[Path | str] = (), own: bool = False) -> list[Trial]:
    """Return the cases of every rule in the folders given, or with ``own`` those of the built-in rules.

    Raises:
        AssertionError: a module cannot be loaded, or a rule has no clean or no flagged case.
    """
    paths = [Path(folder) for folder in folders]
    book = ours.rulebook(paths, entry_points=False)
    _hold(not book.broken, "; ".join(f"{b.name}: {b.why}" for b in book.broken))
    trials: list[Trial] = []
    for rule in book.rules.values():
        built_in = ours.folder("rules") in Path(rule.file).parents
        if built_in != own:
            continue
        _hold(rule.clean, f"{rule.name} needs at least one clean case")
        _hold(rule.flagged, f"{rule.name} needs at least one flagged case")
        trials += [Trial(book, rule, Case(text), i, True) for i, text in enumerate(rule.clean)]
        trials += [Trial(book, rule, case, i, False) for i, case in enumerate(rule.flagged)]
    return trials


def main(folders: Sequence[str]) -> int:
    """Run the cases of every rule in folders; print a line for each that fails, and a count. Returns the exit status.

    It is 0 where all hold, and 1 where one fails, a module cannot be loaded, or there is no case at all.
    """
    write = sys.stdout.write
    missing = [folder for folder in folders if not Path(folder).is_dir()]
    if missing or not folders:
        write(f"there is no folder {missing[0]}\n" if missing else "python -m coldcheck.testing FOLDER...\n")
        return 1
    try:
        trials = every_case(folders)
    except AssertionError as error:
        write(f"{error}\n")
        return 1
    failed = 0
    for trial in trials:
        try:
            trial.check()
        except AssertionError as error:
            failed += 1
            write(" ".join(str(error).split()) + "\n")
    rules = len({trial.rule.name for trial in trials})
    write(f"{len(trials)} cases of {rules} rules: {failed} failed\n")
    return 1 if failed or not trials else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

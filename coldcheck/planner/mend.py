"""Mending: the edits that remedies propose, made together, each proven by linting the plan as it would stand.

A remedy is made only where its finding is gone afterwards and nothing new at its level or above has come. Remedies that
change the same key exclude each other: of those, every set that can stand together is tried, and the one that leaves
least is taken. What one remedy brings to light is mended in a further round, so that mending twice is mending once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations

import msgspec

from coldcheck.engine.findings import LEVELS, Finding
from coldcheck.plan.edit import CannotEdit, Edit, apply
from coldcheck.plan.problems import PlanUnreadable

from .trial import Bench, Trial, grade, made_worse
from .writable import only_choices, only_sizes

__all__ = ["Mending", "Refused", "mend"]

#: More rounds than any plan has needed; what is still found then is left.
MOST_ROUNDS = 50
#: So many remedies are made in a row for one finding, each for what the one before brought to light.
MOST_CHAINED = 3
#: Of more remedies that exclude each other than this, not every set is tried: the gravest are taken first.
MOST_TOGETHER = 10


class Refused(msgspec.Struct, frozen=True):
    """A remedy that was not made, and why."""

    finding: Finding
    why: str


class Mending(msgspec.Struct):
    """What came of mending: the trial before and after, the findings that were mended, the remedies that were not."""

    before: Trial
    after: Trial
    made: list[Finding]
    refused: list[Refused]

    @property
    def changed(self) -> bool:
        """Whether the text is another one."""
        return self.before.text != self.after.text


def mend(bench: Bench, text: bytes, only: Iterable[str] = ()) -> Mending:
    """Return a plan with every remedy made that is exact and proves itself.

    ``only`` names the rules, or their areas, whose findings are mended; all where empty. Raises
    `coldcheck.plan.problems.PlanUnreadable` for a text that cannot be read.
    """
    wanted = frozenset(only)
    work = _Work(bench, bench.trial(text), wanted)
    for _ in range(MOST_ROUNDS):
        if not work.round():
            break
    return Mending(bench.trial(text), work.now, work.made, list(work.refused.values()))


class _Work:
    def __init__(self, bench: Bench, now: Trial, wanted: frozenset[str]) -> None:
        self.bench, self.now, self.wanted = bench, now, wanted
        self.made: list[Finding] = []
        self.refused: dict[tuple[str, tuple[Edit, ...]], Refused] = {}
        self._seen = {now.text}

    def round(self) -> bool:
        """Make what can be made now; False where nothing was."""
        before = self.now.text
        self._grow([f for group in _excluding(self._remedies()) for f in self._best(group)])
        if self.now.text in self._seen and self.now.text != before:
            return False  # remedies that undo each other
        self._seen.add(self.now.text)
        return self.now.text != before

    def _remedies(self) -> list[Finding]:
        """Return the findings with a remedy that can be made and was not refused yet, gravest first."""
        found = [
            f for f in self.now.findings if f.edits and self._is_wanted(f) and _mark(f) not in self.refused
        ]
        for finding in found:
            if not only_choices(finding.edits):
                self._refuse(finding, "it would assert a fact of hardware; if it is so, write it yourself")
        open_ = [f for f in found if _mark(f) not in self.refused]
        return sorted(open_, key=lambda f: LEVELS.index(grade(f) or "note"))

    def _is_wanted(self, finding: Finding) -> bool:
        return not self.wanted or not self.wanted.isdisjoint((finding.rule, finding.rule.partition(".")[0]))

    def _refuse(self, finding: Finding, why: str) -> None:
        self.refused[_mark(finding)] = Refused(finding, why)

    def _best(self, group: list[Finding]) -> list[Finding]:
        """Return those of the remedies that exclude each other which leave least when they are made together."""
        if len(group) == 1:
            return group
        best: list[Finding] = []
        least = self.now.weight()
        for chosen in _sets(group):
            after = self._tried(chosen)
            if isinstance(after, Trial) and after.weight() < least and not self._against(chosen, after):
                best, least = chosen, after.weight()
        return best or group[:1]

    def _grow(self, remedies: list[Finding]) -> None:
        """Make remedies all at once; where that goes wrong, one half and then the other, to find which does harm."""
        remedies = self._still(remedies)
        if not remedies:
            return
        after = self._tried(remedies)
        why = after if isinstance(after, str) else self._against(remedies, after)
        if not why:
            assert isinstance(after, Trial)
            self.now = after
            self.made += remedies
        elif len(remedies) == 1:
            if not self._chained(remedies[0], after):
                self._refuse(remedies[0], why)
        else:
            half = len(remedies) // 2
            self._grow(remedies[:half])
            self._grow(remedies[half:])

    def _chained(self, first: Finding, after: Trial | str) -> bool:
        """Make a remedy together with those of what it brings to light: a thicker wire, then the fuse in front of it.

        True where that leaves the finding gone and nothing new at its level.
        """
        made = [first]
        for _ in range(MOST_CHAINED):
            if isinstance(after, str) or not only_sizes(first.edits):
                return False
            keys = {edit.path for finding in made for edit in finding.edits}
            worse = made_worse(self.now, after, grade(first) or "note", [first])
            more = [
                f
                for f in worse
                if f.edits and only_sizes(f.edits) and keys.isdisjoint(edit.path for edit in f.edits)
            ]
            if not more:
                return False
            made.append(more[0])
            after = self._tried(made)
            if isinstance(after, Trial) and not self._against([first], after):
                self.now = after
                self.made += made
                return True
        return False

    def _still(self, remedies: list[Finding]) -> list[Finding]:
        """Return the remedies as the plan has them now: one made before may have mended another's finding, too."""
        current = {(f.rule, f.subjects, f.edits): f for f in self.now.findings}
        return [current[key] for f in remedies if (key := (f.rule, f.subjects, f.edits)) in current]

    def _tried(self, remedies: list[Finding]) -> Trial | str:
        """Return the plan with remedies made, or why they cannot be."""
        try:
            return self.bench.trial(apply(self.now.text, [edit for f in remedies for edit in f.edits]))
        except CannotEdit as error:
            return str(error)
        except PlanUnreadable as error:
            return f"the plan could not be read then: {error.problems[0].says}"

    def _against(self, remedies: list[Finding], after: Trial) -> str:
        """Return what speaks against a plan with remedies made; "" where each finding is gone and none has come."""
        level = max((grade(f) or "note" for f in remedies), key=LEVELS.index)
        worse = made_worse(self.now, after, level, remedies)
        own = [
            f for f in worse if any(f.rule == r.rule and set(f.subjects) & set(r.subjects) for r in remedies)
        ]
        new = [f for f in worse if f not in own]
        if new:
            return f"it would bring {new[0].level or 'an open finding'} {new[0].rule}: {new[0].says}"
        return f"it is not enough: {own[0].says}" if own else ""


def _mark(finding: Finding) -> tuple[str, tuple[Edit, ...]]:
    return finding.rule, finding.edits


def _excluding(remedies: list[Finding]) -> Iterator[list[Finding]]:
    """Yield the remedies in groups: those of one group exclude each other, directly or by others between them."""
    groups: list[list[Finding]] = []
    for finding in remedies:
        mine = [group for group in groups if any(_exclude(finding, other) for other in group)]
        groups = [group for group in groups if group not in mine]
        groups.append([*(f for group in mine for f in group), finding])
    yield from groups


def _exclude(one: Finding, other: Finding) -> bool:
    """Say whether two remedies change the same key, or one a part of what the other changes, in different ways."""
    if one.edits == other.edits:
        return False
    for a in one.edits:
        for b in other.edits:
            length = min(len(a.path), len(b.path))
            if a.path[:length] == b.path[:length] and a != b:
                return True
    return False


def _sets(group: list[Finding]) -> Iterator[list[Finding]]:
    """Yield every largest set of remedies that can stand together; of very many, one that takes the gravest first."""
    if len(group) > MOST_TOGETHER:
        yield _greedy(group)
        return
    found: list[set[int]] = []
    for size in range(len(group), 0, -1):
        for numbers in combinations(range(len(group)), size):
            chosen = set(numbers)
            if any(chosen <= larger for larger in found) or not _compatible([group[i] for i in numbers]):
                continue
            found.append(chosen)
            yield [group[i] for i in numbers]


def _greedy(group: list[Finding]) -> list[Finding]:
    chosen: list[Finding] = []
    for finding in group:
        if not any(_exclude(finding, other) for other in chosen):
            chosen.append(finding)
    return chosen


def _compatible(remedies: list[Finding]) -> bool:
    return not any(_exclude(a, b) for a, b in combinations(remedies, 2))

"""Folding: what is found alike of the members of one span becomes one finding that names them all.

Two findings are alike where they stand at one place and their sentences differ in nothing but the name of the thing
each speaks of, and in plain numbers: digits inside another name (``f1``, ``10.20.0.1``) name another cause.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable
from typing import Any

from coldcheck.plan.quantities import Measure
from coldcheck.plan.spans import listed

from .findings import Finding

__all__ = ["counted", "folded"]

#: Words of a sentence, and what parts them: a name or a number with its point, not the stop behind it.
_WORDS = re.compile(r"([^\s\"'(),;:?!]*[^\s\"'(),;:?!.])")
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?%?")
#: Units that may follow a number; a bare number before another word may be the name of a thing.
_UNIT = re.compile(r"[mkMGuµ]?(?:V|A|W|ohm|m|s|bit/s)|mm2|AWG|%|degC")
_MARK = "\0"
#: Things called by numbers, each with a cause of its own, are compared with so many others and no more.
_MOST = 50


class _Told:
    """One finding and the words of its sentence, each second one what stands between two words."""

    __slots__ = ("finding", "name", "thing", "words")

    def __init__(self, finding: Finding, name: str) -> None:
        self.finding = finding
        self.name = name
        self.thing = name.partition(".")[0]
        self.words = _WORDS.split(finding.says)

    def own(self, word: str) -> str | None:
        """Return what stands behind the thing's name in a word that names it or a point of it; None elsewhere."""
        if word == self.thing or word.startswith(self.thing + "."):
            rest = word[len(self.thing) :]
            # A thing called "1" is not meant by "1.25".
            return None if rest and _NUMBER.fullmatch(word) and word != self.name else rest
        return None

    def mask(self) -> str:
        """Return the sentence without what may differ among members of a span."""
        return "".join(
            _MARK + (own if own and not _NUMBER.fullmatch(w) else "")
            if i % 2 and ((own := self.own(w)) is not None or _NUMBER.fullmatch(w))
            else w
            for i, w in enumerate(self.words)
        )

    def like(self, other: _Told, names: Container[str]) -> bool:
        """Say whether two sentences of one mask differ in their own names and in plain numbers alone."""
        mine, theirs = self.words, other.words
        if len(mine) != len(theirs):
            return False
        for i in range(1, len(mine), 2):
            a, b = mine[i], theirs[i]
            if a == b or (self.own(a) is not None and self.own(a) == other.own(b)):
                continue
            measured = i + 2 < len(mine) and _UNIT.fullmatch(mine[i + 2])
            if not measured and (a in names or b in names):  # a thing that is called by a number
                return False
        return True


def folded(findings: list[Finding], names: Container[str] = ()) -> list[Finding]:
    """Return the findings with those of one span folded; ``names`` are the names of all things of the plan.

    The one whose number is furthest from its limit is told, and named as the worst where the numbers differ.
    """
    groups: dict[Any, list[list[_Told]]] = {}
    for finding in findings:
        name = finding.subjects[0] if len(finding.subjects) == 1 else ""
        told = _Told(finding, name)
        if not name or not finding.path or len(finding.path) < 2:
            groups[id(finding)] = [[told]]
            continue
        key = (finding.rule, finding.level, finding.kind, finding.path, finding.leaves, told.mask())
        alike = groups.setdefault(key, [])
        group = next((group for group in alike[-_MOST:] if told.like(group[0], names)), None)
        if group is None:
            alike.append([told])
        else:
            group.append(told)
    every = (group for alike in groups.values() for group in alike)
    return [group[0].finding if len(group) == 1 else _one(group) for group in every]


def _one(group: list[_Told]) -> Finding:
    """Return one finding for all of a group: every word that names a member names them all."""
    group.sort(key=lambda told: counted(told.name))
    worst = max(group, key=lambda told: _distance(told.finding))
    finding = worst.finding
    names = list(dict.fromkeys(told.name for told in group))
    if len(names) > 1:
        things = list(dict.fromkeys(told.thing for told in group))
        for i in range(1, len(worst.words), 2):
            rest = worst.own(worst.words[i])
            if rest is not None and all(told.own(told.words[i]) == rest for told in group):
                whole = worst.words[i] == worst.name
                worst.words[i] = listed(names if whole else [thing + rest for thing in things])
        finding.says = "".join(worst.words)
        if len({str(told.finding.found) for told in group}) > 1:
            finding.says += f" (worst at {worst.name})"
    finding.subjects = tuple(names)
    finding.missing = tuple(dict.fromkeys(m for told in group for m in told.finding.missing))
    # One edit serves the whole span where all agree on it; where they differ, none is right for all.
    if any(told.finding.edits != finding.edits for told in group):
        finding.edits = ()
    return finding


def counted(name: str) -> list[tuple[int, str]]:
    """Return a key that sorts names as people count: n2 before n10."""
    return [(int(piece), "") if piece.isdecimal() else (0, piece) for piece in _pieces(name)]


def _pieces(name: str) -> Iterable[str]:
    return (piece for piece in re.split(r"(\d+)", name) if piece)


def _distance(finding: Finding) -> float:
    found, allowed = finding.found, finding.allowed
    if isinstance(found, Measure) and isinstance(allowed, Measure):
        return abs(found.value - allowed.value)
    return 0.0

"""Findings: what a rule says of one place in a plan, as data.

The kinds and levels are those of SARIF 2.1.0 (OASIS), clauses 3.27.9 and 3.27.10: a ``fail`` has a level, ``open`` and
``review`` have none. An open finding says which level it leaves undecided.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import msgspec

from coldcheck.plan.edit import Edit
from coldcheck.plan.problems import Path
from coldcheck.plan.quantities import Measure

__all__ = ["LEVELS", "Finding", "Level", "Open", "Related", "Review", "reaches"]

Level = Literal["error", "warning", "note"]

#: Levels, gravest first.
LEVELS: tuple[Level, ...] = ("error", "warning", "note")


class Related(msgspec.Struct, frozen=True):
    """A further place that a finding speaks of, and what it is."""

    path: Path
    says: str


class Finding(msgspec.Struct):
    """One verdict.

    A rule gives ``at`` (a thing, a point, a link or a path), ``says`` (one sentence that names it and the numbers)
    and as much evidence as there is; the engine fills in ``rule``, ``path`` and ``subjects``.

    ``found`` and ``allowed`` hold the number beside its limit, ``because`` how it came about, ``remedy`` what to
    change in words, ``edits`` the same for a program where it can be exact, ``place`` the keys of ``at`` that state
    the broken limit, the first that is written being the place of the finding. ``related`` has pairs of a further
    place and what it is; the engine makes `Related` of them.
    """

    level: Level | None
    at: Any
    says: str
    kind: Literal["fail", "open", "review"] = "fail"
    found: Measure | str | None = None
    allowed: Measure | str | None = None
    because: str = ""
    remedy: str = ""
    basis: str = ""
    edits: tuple[Edit, ...] = ()
    place: tuple[str, ...] | str = ()
    related: Sequence[Any] = ()
    leaves: Level | None = None
    missing: tuple[str, ...] = ()
    rule: str = ""
    path: Path = ()
    subjects: tuple[str, ...] = ()
    waived: str = ""


def Open(leaves: Level, at: Any, says: str, missing: Sequence[str] = (), **more: Any) -> Finding:
    """Return a finding that cannot be judged: the plan does not say enough.

    ``leaves`` is the level left undecided, ``missing`` names the figures that would decide it.
    """
    return Finding(None, at, says, kind="open", leaves=leaves, missing=tuple(missing), **more)


def Review(at: Any, says: str, **more: Any) -> Finding:
    """Return a finding that no arithmetic decides: a person must look."""
    return Finding(None, at, says, kind="review", **more)


def reaches(finding: Finding, stop: Level) -> bool:
    """Say whether a finding is at or above the stop level; an open one counts by the level it leaves."""
    level = finding.level or finding.leaves
    return level is not None and not finding.waived and LEVELS.index(level) <= LEVELS.index(stop)

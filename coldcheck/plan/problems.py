"""What is wrong with the form of a plan: data first, text last."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

__all__ = ["Path", "PlanUnreadable", "Problem", "nearest"]

#: Where a value stands: table, number of the entry, key, number in a list ... as tomli counts them.
Path = tuple[str | int, ...]


class Problem(msgspec.Struct, frozen=True):
    """One thing that keeps a plan from being read.

    ``says`` is the sentence, ``remedy`` what to do; ``offset`` is a byte offset where the syntax itself is broken
    and no path exists yet.
    """

    says: str
    remedy: str = ""
    path: Path = ()
    offset: int | None = None


class PlanUnreadable(Exception):
    """A plan whose form is wrong: every problem found, in the order of the file."""

    def __init__(self, name: str, text: bytes, problems: list[Problem]) -> None:
        super().__init__(f"{name}: {len(problems)} problem(s)")
        self.name = name
        self.text = text
        self.problems = problems


#: A word of so few letters is near another one that shares half of them, its first among these: ``sv`` and ``sw``.
_SHORT = 3

#: Among more names than this, only those that look alike at first sight are compared.
_MANY = 2000


def nearest(word: str, known: Iterable[str]) -> str:
    """Return the known word most like ``word``, or ``""`` where none is near."""
    import difflib

    known = list(known)
    if len(known) > _MANY:
        # A slip seldom touches the first letter or adds two; to compare a hundred thousand names takes too long.
        known = [name for name in known if name[:1] == word[:1] and abs(len(name) - len(word)) <= 1][:_MANY]
    alike = next((name for name in known if name.casefold() == word.casefold()), "")
    near = [alike] if alike else difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if not near and len(word) <= _SHORT:
        known = [name for name in known if name[:1] == word[:1] and abs(len(name) - len(word)) <= 1]
        near = difflib.get_close_matches(word, known, n=1, cutoff=0.5)
    return near[0] if near else ""

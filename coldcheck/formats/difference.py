"""What would change in a plan, line by line: the unified form of ``diff -u`` (POSIX), each line with a role.

Colour repeats what the sign at the start of a line says, so that nothing is lost without it.
"""

from __future__ import annotations

from collections.abc import Iterator
from difflib import unified_diff

from .text import Line

__all__ = ["changes", "plain_changes"]

_ROLES = {"+": "added", "-": "removed", "@": "hunk"}
#: Lines around a change that are shown with it.
_AROUND = 2


def changes(name: str, before: bytes, after: bytes) -> Iterator[Line]:
    """Yield the lines that tell two texts of a plan apart; none where they are the same."""
    for line in _unified(name, before, after):
        heads = line.startswith(("+++ ", "--- "))
        yield [("place" if heads else _ROLES.get(line[:1], ""), line)]


def plain_changes(name: str, before: bytes, after: bytes) -> str:
    """Return the same as one text, for a program."""
    return "".join(f"{line}\n" for line in _unified(name, before, after))


def _unified(name: str, before: bytes, after: bytes) -> Iterator[str]:
    old, new = (text.decode(errors="replace").splitlines() for text in (before, after))
    # Line ends of two letters would show; none are changed by an edit.
    return unified_diff(old, new, name, f"{name}, changed", n=_AROUND, lineterm="")

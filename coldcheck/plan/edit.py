"""Edits to the text of a plan: comments, order and spelling stay as they are.

An edit names a path and what shall stand there. Edits are applied together to one text; the text that comes out is
read again by whoever asked, so a wrong edit shows before it is written.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from math import isfinite
from typing import Any

import msgspec

from .places import Places
from .problems import Path
from .tables import TABLES, Head, spec_of

__all__ = ["CannotEdit", "Edit", "Put", "Take", "apply"]


class CannotEdit(ValueError):
    """An edit that does not fit the text: its path names nothing, or two edits touch the same place."""


class Put(msgspec.Struct, frozen=True):
    """Give the key at ``path`` a value, adding it behind the other keys of its table where it is not written yet."""

    path: Path
    value: str | int | float | bool | tuple[str, ...] | tuple[int | str, ...]


class Take(msgspec.Struct, frozen=True):
    """Take out the key at ``path``, with its line."""

    path: Path


Edit = Put | Take


def apply(text: bytes, edits: Iterable[Edit]) -> bytes:
    """Return the text with all edits made; raises `CannotEdit` and then changes nothing."""
    places = Places(text)
    asked = list(dict.fromkeys(edits))
    if len({edit.path for edit in asked}) < len(asked):
        raise CannotEdit("two edits change the same key")
    # Keys that are put behind the same one come in the order of the language.
    cuts = sorted((_cut(text, places, edit) for edit in sorted(asked, key=_rank)), key=lambda cut: cut[:2])
    out, at = [], 0
    for start, end, new in cuts:
        if start < at:
            raise CannotEdit("two edits change the same place")
        out += [text[at:start], new]
        at = end
    return b"".join([*out, text[at:]])


def _rank(edit: Edit) -> tuple[int, str]:
    """Return where the key of an edit comes among those that its table may hold; what is no key there comes last."""
    struct: Any = Head if edit.path[:1] == ("plan",) else TABLES.get(str(edit.path[0])) if edit.path else None
    for word in edit.path[1:-1]:
        inner = spec_of(struct).inner.get(word) if struct is not None and isinstance(word, str) else None
        struct = inner[1].kind.struct if inner else None if isinstance(word, str) else struct  # type: ignore[attr-defined]
    last = str(edit.path[-1]) if edit.path else ""
    words = spec_of(struct).words() if struct is not None else []
    return (words.index(last) if last in words else len(words)), last


def _cut(text: bytes, places: Places, edit: Edit) -> tuple[int, int, bytes]:
    if isinstance(edit, Take):
        return _line(text, places, edit.path)
    value = places.value(edit.path)
    if value is not None:
        return value[0], value[1], _toml(edit.value)
    return _behind(text, places, edit)


def _line(text: bytes, places: Places, path: Path) -> tuple[int, int, bytes]:
    """Take out the line, or the lines, that hold a key and nothing else."""
    pair = places.pair(path)
    if pair is None or places.value(path) is None:
        raise CannotEdit(f"{_dotted(path)} is not written in the plan")
    start = text.rfind(b"\n", 0, pair[0]) + 1
    end = text.find(b"\n", pair[1])
    end = len(text) if end < 0 else end + 1
    behind = text[pair[1] : end].strip()
    if text[start : pair[0]].strip() or (behind and not behind.startswith(b"#")):
        raise CannotEdit(f"{_dotted(path)} shares its line with other keys")
    return start, end, b""


def _behind(text: bytes, places: Places, edit: Put) -> tuple[int, int, bytes]:
    """Put a new key on a line of its own behind the last one of its table."""
    end = places.end(edit.path[:-1]) if edit.path else None
    if end is None:
        raise CannotEdit(f"there is no table at {_dotted(edit.path[:-1])}")
    if places.pair(edit.path) is not None or places.header(edit.path) is not None:
        raise CannotEdit(f"{_dotted(edit.path)} is a table")
    newline = b"\r\n" if b"\r\n" in text else b"\n"
    line = _key(str(edit.path[-1])) + b" = " + _toml(edit.value)
    stop = text.find(b"\n", end) + 1
    if stop == 0:  # the last line of the file, and it does not end
        return len(text), len(text), newline + line
    return stop, stop, line + newline


def _toml(value: str | int | float | bool | tuple[str, ...] | tuple[int | str, ...]) -> bytes:
    if isinstance(value, tuple):
        return b"[" + b", ".join(_toml(x) for x in value) + b"]"
    if isinstance(value, bool):
        return b"true" if value else b"false"
    if isinstance(value, float) and not isfinite(value):
        raise CannotEdit(f"{value} is no value of a plan")
    import json  # late: a lint edits nothing

    # A JSON string is a TOML basic string but for DEL.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f").encode()


def _key(name: str) -> bytes:
    return name.encode() if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _toml(name)


def _dotted(path: Path) -> str:
    return ".".join(map(str, path)) or "the top of the plan"

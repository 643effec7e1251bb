"""Edits to the text of a plan: comments, order and spelling stay as they are.

An edit names a path and what shall stand there. Edits are applied together to one text; the text that comes out is
read again by whoever asked, so a wrong edit shows before it is written.
"""

from __future__ import annotations

import json
from collections.abc import Iterable

import msgspec

from .places import Places
from .problems import Path

__all__ = ["CannotEdit", "Edit", "Put", "Take", "apply"]


class CannotEdit(ValueError):
    """An edit that does not fit the text: its path names nothing, or two edits touch the same place."""


class Put(msgspec.Struct, frozen=True):
    """Give the key at ``path`` a value, adding it behind the other keys of its table where it is not written yet."""

    path: Path
    value: str | int | float | bool | tuple[str, ...]


class Take(msgspec.Struct, frozen=True):
    """Take out the key at ``path``, with its line."""

    path: Path


Edit = Put | Take


def apply(text: bytes, edits: Iterable[Edit]) -> bytes:
    """Return the text with all edits made; raises `CannotEdit` and then changes nothing."""
    places = Places(text)
    cuts = sorted({_cut(text, places, edit) for edit in edits})
    out, at = [], 0
    for start, end, new in cuts:
        if start < at:
            raise CannotEdit("two edits change the same place")
        out += [text[at:start], new]
        at = end
    return b"".join([*out, text[at:]])


def _cut(text: bytes, places: Places, edit: Edit) -> tuple[int, int, bytes]:
    if isinstance(edit, Take):
        pair = places.pair(edit.path)
        if pair is None:
            raise CannotEdit(f"{_dotted(edit.path)} is not written in the plan")
        start = text.rfind(b"\n", 0, pair[0]) + 1
        end = text.find(b"\n", pair[1])
        return start, len(text) if end < 0 else end + 1, b""
    value = places.value(edit.path)
    if value is not None:
        return value[0], value[1], _toml(edit.value)
    end = places.end(edit.path[:-1]) if edit.path else None
    if end is None:
        raise CannotEdit(f"there is no table at {_dotted(edit.path[:-1])}")
    stop = text.find(b"\n", end)
    stop = len(text) if stop < 0 else stop
    newline = b"\r\n" if text[max(0, stop - 1) : stop] == b"\r" else b"\n"
    stop -= len(newline) - 1
    return stop, stop, newline + str(edit.path[-1]).encode() + b" = " + _toml(edit.value)


def _toml(value: str | int | float | bool | tuple[str, ...]) -> bytes:
    if isinstance(value, tuple):
        return b"[" + b", ".join(_toml(x) for x in value) + b"]"
    if isinstance(value, bool):
        return b"true" if value else b"false"
    # A JSON string is a TOML basic string but for DEL, which no value of a plan holds.
    return json.dumps(value, ensure_ascii=False).encode()


def _dotted(path: Path) -> str:
    return ".".join(map(str, path)) or "the top of the plan"

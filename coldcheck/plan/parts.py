"""The parts shelf: kinds of thing with their ratings, each figure with its source.

A shelf is a folder of TOML files, each a list of ``[[part]]``. A part states the keys that a thing of its kind may
state; a thing that names it takes them over and may override any of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path as FilePath
from typing import Any

import msgspec
import tomli

from .problems import Path

__all__ = ["Part", "Shelf", "ShelfBroken"]


class ShelfBroken(Exception):
    """A file of the shelf that cannot be read: which, and why."""


class Part(msgspec.Struct, frozen=True):
    """A part as it is written: its raw keys, where they come from, and what it is a kind of."""

    id: str
    kind: str
    raw: dict[str, Any]
    source: dict[str, str]
    file: FilePath | None
    path: Path = ()


class Shelf:
    """The parts of several folders, and of a plan itself; the plan's own come first, later folders before earlier."""

    def __init__(self, folders: Iterable[FilePath] = ()) -> None:
        self.folders = list(folders)
        self._own: dict[str, Part] = {}
        self._texts: list[tuple[FilePath, bytes]] | None = None
        self._read: dict[FilePath, dict[str, Part]] = {}
        self._common = self  # the shelf that keeps the files for all that were made from it

    def again(self) -> Shelf:
        """Return the same shelf for another plan: files already read are shared, a plan's own parts are not."""
        other = Shelf(self.folders)
        other._texts, other._read = self._files(), self._read
        return other

    def apart(self) -> Shelf:
        """Return a shelf with the same folders and no parts of a plan: each plan adds its own to one of these."""
        shelf = Shelf(self.folders)
        shelf._read, shelf._common = self._read, self._common
        return shelf

    def put(self, part: Part) -> None:
        """Add a part that the plan itself describes."""
        self._own[part.id] = part

    def is_own(self, name: str) -> bool:
        """Say whether the plan itself describes a part of this name."""
        return name in self._own

    def find(self, name: str) -> Part | None:
        """Return the part called ``name``, reading only files that mention it; raises `ShelfBroken`."""
        if name in self._own:
            return self._own[name]
        mark = name.encode()
        for file, text in self._files():
            if mark in text and (part := self._parts(file, text).get(name)):
                return part
        return None

    def every(self) -> Iterator[Part]:
        """Yield every part of the folders, in the order of the files; raises `ShelfBroken`."""
        seen = set()
        for file, text in self._files():
            for name, part in self._parts(file, text).items():
                if name not in seen:
                    seen.add(name)
                    yield part

    def names(self, kind: str = "") -> list[str]:
        """Return the names of all parts, or of one kind."""
        parts = [*self._own.values(), *self.every()]
        return [part.id for part in parts if kind in ("", part.kind)]

    def _files(self) -> list[tuple[FilePath, bytes]]:
        if self._common is not self:
            return self._common._files()
        if self._texts is None:
            texts = []
            for folder in reversed(self.folders):
                for file in sorted(folder.glob("*.toml")):
                    try:
                        texts.append((file, file.read_bytes()))
                    except OSError as error:
                        raise ShelfBroken(f"{file}: {error.strerror}") from None
            self._texts = texts
        return self._texts

    def _parts(self, file: FilePath, text: bytes) -> dict[str, Part]:
        if file not in self._read:
            try:
                raw = tomli.loads(text.decode())
            except (ValueError, RecursionError) as error:
                raise ShelfBroken(f"{file}: {error}") from None
            self._read[file] = dict(self._named(file, raw))
        return self._read[file]

    def _named(self, file: FilePath, raw: dict[str, Any]) -> Iterator[tuple[str, Part]]:
        items = raw.get("part", [])
        if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
            raise ShelfBroken(f"{file}: each part stands under [[part]]")
        for i, item in enumerate(items):
            name, kind = item.get("id"), item.get("kind")
            if type(name) is not str or type(kind) is not str:
                raise ShelfBroken(f"{file}: part {i + 1} lacks its id or its kind")
            yield name, as_part(item, file, ("part", i))


def as_part(item: dict[str, Any], file: FilePath | None, path: Path) -> Part:
    """Return the part written as ``item``; ``kind`` and ``source`` are keys of parts alone."""
    source = item.get("source", {})
    raw = {k: v for k, v in item.items() if k not in ("id", "kind", "source")}
    return Part(
        item["id"], item["kind"], raw, source if isinstance(source, dict) else {"": source}, file, path
    )

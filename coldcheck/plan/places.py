"""Where a key stands in the text of a plan: from a path to byte offsets, by a TOML syntax tree.

A tree is built only when something has to be shown or changed, and only of the tables asked for: a clean lint builds
none, and a finding in a plan of a hundred thousand things costs the tree of one.
A path is what tomli's result is walked by, ``("node", 0, "lead")``; both must agree, and
`tests/plan/test_places.py` holds them together on generated documents.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any

from .problems import Path

if TYPE_CHECKING:
    from tree_sitter import Node as Leaf
    from tree_sitter import Parser

__all__ = ["Places"]

_SKIP = {"comment", "[", "]", "{", "}", ",", "[[", "]]", "=", ".", "\n"}
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", "e": "\x1b", '"': '"', "\\": "\\"}
_LENGTHS = {"x": 2, "u": 4, "U": 8}
# Escapes that tomli knows and the syntax tree does not: for the tree they become one that it knows, of equal length.
_NEWER = re.compile(rb"\\[ex]")


class Places:
    """The places of one text. ``start`` answers for every path; what does not exist answers for its parent."""

    def __init__(self, text: bytes) -> None:
        self.text = text
        self._tables: dict[Path, tuple[int, int]] | None = None  # those whose keys nobody has asked for yet
        self._pairs: dict[Path, tuple[int, int]] = {}
        self._values: dict[Path, tuple[int, int]] = {}
        self._headers: dict[Path, int] = {}
        self._above: dict[Path, int] = {}  # tables that are only named in the header of a table within
        self._ends: dict[Path, int] = {}
        self._by_tree = False

    def start(self, path: Path) -> int:
        """Return the byte offset where the key of ``path`` starts, or else of the nearest thing above it."""
        self._read(path)
        for length in range(len(path), 0, -1):
            part = path[:length]
            found = self._pairs.get(part)
            if found is not None:
                return found[0]
            for shelf, key in ((self._headers, part), (self._headers, (*part, 0)), (self._above, part)):
                if key in shelf:
                    return shelf[key]
            found = self._values.get(part)
            if found is not None:
                return found[0]
        return 0

    def value(self, path: Path) -> tuple[int, int] | None:
        """Return the byte offsets of the value at ``path``, or None where no value is written there."""
        self._read(path)
        return self._values.get(path)

    def pair(self, path: Path) -> tuple[int, int] | None:
        """Return the byte offsets of ``key = value`` at ``path``, or None."""
        self._read(path)
        return self._pairs.get(path)

    def header(self, path: Path) -> int | None:
        """Return the byte offset of the header ``[[node]]`` that opens ``path``, or None."""
        self._read(())
        return self._headers.get(path)

    def end(self, path: Path) -> int | None:
        """Return the byte offset behind the last key of the table at ``path``: where a further key is put."""
        self._read(path)
        return self._ends.get(path)

    def _read(self, path: Path) -> None:
        """Read the keys of every table on the way to ``path``; the others stay closed, since most are never shown."""
        if self._tables is None:
            self._cut()
        for length in range(len(path) + 1):
            part = path[:length]
            assert self._tables is not None
            stretch = self._tables.pop(part, None)
            if stretch is not None and not self._open(part, *stretch):
                self._by_tree = True  # a line that looked like a header was none
                self._cut()
                return self._read(path)
        return None

    def _cut(self) -> None:
        """Find where each table starts and ends: by its header line, or by the tree where that is not certain."""
        heads = None if self._by_tree else _heads(self.text)
        if heads is None:
            self._by_tree = True
            heads = self._tree_heads()
        for shelf in (self._pairs, self._values, self._headers, self._above, self._ends):
            shelf.clear()
        self._tables = {(): (0, heads[0][0] if heads else len(self.text))}
        counts: dict[Path, int] = {}
        for i, (start, keys, array) in enumerate(heads):
            end = heads[i + 1][0] if i + 1 < len(heads) else len(self.text)
            path = _counted(keys, array, counts)
            for length in range(1, len(path)):
                self._above.setdefault(path[:length], start)
            self._headers.setdefault(path, start)
            self._tables[path] = start, end

    def _tree_heads(self) -> list[tuple[int, list[str], bool]]:
        found = []
        for leaf in _parse(self.text).children:
            if leaf.type in ("table", "table_array_element"):
                name = leaf.child(1)
                assert name is not None
                found.append((leaf.start_byte, self._keys(name, 0), leaf.type == "table_array_element"))
        return found

    def _open(self, path: Path, start: int, end: int) -> bool:
        """Read the keys of one table; False where the stretch is not TOML by itself, so was cut in the wrong place."""
        root = _parse(self.text[start:end])
        if root.has_error and not self._by_tree:
            return False
        leaves = root.children
        last = None
        for leaf in leaves:
            if leaf.type in ("table", "table_array_element"):
                last = next(child for child in leaf.children if child.type in ("]", "]]"))
                leaves = leaf.children
                break
        for leaf in leaves:
            if leaf.type == "pair":
                self._pair(path, leaf, start)
                last = leaf
        if last is not None and path:
            self._ends[path] = start + last.end_byte
        return True

    def _pair(self, base: Path, leaf: Leaf, offset: int) -> None:
        path = base
        # A comment on the line belongs to the leaf: the pair ends with its value, the third child.
        stretch = leaf.start_byte + offset, leaf.children[2].end_byte + offset
        for key in self._keys(leaf.children[0], offset):
            path = (*path, key)
            self._pairs.setdefault(path, stretch)
        self._value(path, leaf.children[2], offset)

    def _value(self, path: Path, leaf: Leaf, offset: int) -> None:
        self._values[path] = leaf.start_byte + offset, leaf.end_byte + offset
        if leaf.type == "array":
            for i, child in enumerate(c for c in leaf.children if c.type not in _SKIP):
                self._value((*path, i), child, offset)
        elif leaf.type == "inline_table":
            for child in leaf.children:
                if child.type == "pair":
                    self._pair(path, child, offset)

    def _keys(self, leaf: Leaf, offset: int) -> list[str]:
        """Return the keys of ``a."b c".d``, one by one."""
        if leaf.type == "dotted_key":
            return [
                part for child in leaf.children if child.type in _KEYS for part in self._keys(child, offset)
            ]
        text = self.text[leaf.start_byte + offset : leaf.end_byte + offset].decode()
        if leaf.type == "bare_key":
            return [text]
        return [text[1:-1] if text[0] == "'" else _unescape(text[1:-1])]


_HEADER = re.compile(
    rb"^[ \t]*(\[\[?)[ \t]*([A-Za-z0-9_-]+(?:[ \t]*\.[ \t]*[A-Za-z0-9_-]+)*)[ \t]*\]", re.MULTILINE
)
_QUOTED_HEADER = re.compile(rb"^[ \t]*\[[^\n#]*[\"']", re.MULTILINE)


def _heads(text: bytes) -> list[tuple[int, list[str], bool]] | None:
    """Return (start, keys, whether it is one of an array) of every header line; None where lines do not tell.

    A line in a text of several lines, or in a list of several lines, may look like a header. Where such a text or a
    quoted header occurs the tree decides; a list that was cut shows as soon as one of its halves is read.
    """
    if b'"""' in text or b"'''" in text or _QUOTED_HEADER.search(text):
        return None
    found = []
    for match in _HEADER.finditer(text):
        mark, name = match.groups()
        keys = [name.decode()] if b"." not in name else [key.strip().decode() for key in name.split(b".")]
        found.append((match.start(1), keys, len(mark) == 2))
    return found


def _counted(keys: list[str], array: bool, counts: dict[Path, int]) -> Path:
    """Return the path that a header opens, counting the entries of arrays of tables."""
    path: Path = ()
    for key in keys[:-1]:
        path = (*path, key)
        if path in counts:
            path = (*path, counts[path])
    path = (*path, keys[-1])
    if array:
        counts[path] = counts.get(path, -1) + 1
        return (*path, counts[path])
    return (*path, counts[path]) if path in counts else path


@cache
def _parser() -> Parser:
    import tree_sitter
    import tree_sitter_toml

    return tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))


def _parse(text: bytes) -> Leaf:
    return _parser().parse(_NEWER.sub(rb"\\b", text)).root_node


_KEYS = ("bare_key", "quoted_key", "dotted_key")


def _unescape(text: str) -> str:
    if "\\" not in text:
        return text
    out: list[Any] = []
    i = 0
    while i < len(text):
        if text[i] != "\\":
            out.append(text[i])
            i += 1
        elif (mark := text[i + 1]) in _LENGTHS:
            size = _LENGTHS[mark]
            out.append(chr(int(text[i + 2 : i + 2 + size], 16)))
            i += 2 + size
        else:
            out.append(_ESCAPES[mark])
            i += 2
    return "".join(out)

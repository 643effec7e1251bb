"""Where a key stands in the text of a plan: from a path to byte offsets, by a TOML syntax tree.

The tree is built at most once, and only when something has to be shown or changed: a clean lint never builds it.
A path is what tomli's result is walked by, ``("node", 0, "lead")``; both must agree, and
`tests/plan/test_places.py` holds them together on generated documents.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from .problems import Path

if TYPE_CHECKING:
    from tree_sitter import Node as Leaf

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
        self._tables: dict[Path, Leaf] | None = None  # those whose keys nobody has asked for yet
        self._pairs: dict[Path, Leaf] = {}
        self._values: dict[Path, Leaf] = {}
        self._headers: dict[Path, Leaf] = {}
        self._above: dict[Path, Leaf] = {}  # tables that are only named in the header of a table within
        self._ends: dict[Path, int] = {}

    def start(self, path: Path) -> int:
        """Return the byte offset where the key of ``path`` starts, or else of the nearest thing above it."""
        self._read(path)
        for length in range(len(path), 0, -1):
            part = path[:length]
            leaf = self._pairs.get(part) or self._headers.get(part) or self._values.get(part)
            leaf = leaf or self._headers.get((*part, 0)) or self._above.get(part)
            if leaf is not None:
                return leaf.start_byte
        return 0

    def value(self, path: Path) -> tuple[int, int] | None:
        """Return the byte offsets of the value at ``path``, or None where no value is written there."""
        self._read(path)
        leaf = self._values.get(path)
        return (leaf.start_byte, leaf.end_byte) if leaf is not None else None

    def pair(self, path: Path) -> tuple[int, int] | None:
        """Return the byte offsets of ``key = value`` at ``path``, or None."""
        self._read(path)
        leaf = self._pairs.get(path)
        # A comment on the line belongs to the leaf: the pair ends with its value, the third child.
        return (leaf.start_byte, leaf.children[2].end_byte) if leaf is not None else None

    def header(self, path: Path) -> int | None:
        """Return the byte offset of the header ``[[node]]`` that opens ``path``, or None."""
        self._read(())
        leaf = self._headers.get(path)
        return leaf.start_byte if leaf is not None else None

    def end(self, path: Path) -> int | None:
        """Return the byte offset behind the last key of the table at ``path``: where a further key is put."""
        self._read(path)
        return self._ends.get(path)

    def _read(self, path: Path) -> None:
        """Read the keys of every table on the way to ``path``; the others stay closed, since most are never shown."""
        if self._tables is None:
            self._tables = {}
            self._build(self._tables)
        for length in range(len(path) + 1):
            leaf = self._tables.pop(path[:length], None)
            if leaf is not None:
                self._open(path[:length], leaf)

    def _build(self, tables: dict[Path, Leaf]) -> None:
        import tree_sitter
        import tree_sitter_toml

        language = tree_sitter.Language(tree_sitter_toml.language())
        root = tree_sitter.Parser(language).parse(_NEWER.sub(rb"\\b", self.text)).root_node
        counts: dict[Path, int] = {}
        for leaf in root.children:
            kind = leaf.type
            if kind == "pair":
                self._pair((), leaf)
            elif kind in ("table", "table_array_element"):
                path = self._header(leaf, kind, counts)
                tables[path] = leaf

    def _header(self, leaf: Leaf, kind: str, counts: dict[Path, int]) -> Path:
        name = leaf.child(1)
        assert name is not None
        keys = self._keys(name)
        path: Path = ()
        for key in keys[:-1]:
            path = (*path, key)
            if path in counts:
                path = (*path, counts[path])
        path = (*path, keys[-1])
        if kind == "table_array_element":
            counts[path] = counts.get(path, -1) + 1
            path = (*path, counts[path])
        elif path in counts:
            path = (*path, counts[path])
        for length in range(1, len(path)):
            self._above.setdefault(path[:length], leaf)
        self._headers.setdefault(path, leaf)
        return path

    def _open(self, path: Path, leaf: Leaf) -> None:
        last = next(child for child in leaf.children if child.type in ("]", "]]"))
        for child in leaf.children:
            if child.type == "pair":
                self._pair(path, child)
                last = child
        self._ends[path] = last.end_byte

    def _pair(self, base: Path, leaf: Leaf) -> None:
        path = base
        for key in self._keys(leaf.children[0]):
            path = (*path, key)
            self._pairs.setdefault(path, leaf)
        self._value(path, leaf.children[2])

    def _value(self, path: Path, leaf: Leaf) -> None:
        self._values[path] = leaf
        if leaf.type == "array":
            for i, child in enumerate(c for c in leaf.children if c.type not in _SKIP):
                self._value((*path, i), child)
        elif leaf.type == "inline_table":
            for child in leaf.children:
                if child.type == "pair":
                    self._pair(path, child)

    def _keys(self, leaf: Leaf) -> list[str]:
        """Return the keys of ``a."b c".d``, one by one."""
        if leaf.type == "dotted_key":
            return [part for child in leaf.children if child.type in _KEYS for part in self._keys(child)]
        text = self.text[leaf.start_byte : leaf.end_byte].decode()
        if leaf.type == "bare_key":
            return [text]
        return [text[1:-1] if text[0] == "'" else _unescape(text[1:-1])]


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

"""Where a key stands in the text of a plan: from a path to byte offsets, by a TOML syntax tree.

The tree is built at most once, and only when something has to be shown or changed: a clean lint never builds it.
A path is what tomli's result is walked by, ``("node", 0, "lead")``; both must agree, and
`tests/plan/test_places.py` holds them together on generated documents.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .problems import Path

if TYPE_CHECKING:
    from tree_sitter import Node as Leaf

__all__ = ["Places"]

_SKIP = {"comment", "[", "]", "{", "}", ",", "[[", "]]", "=", ".", "\n"}
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


class Places:
    """The places of one text. ``start`` answers for every path; what does not exist answers for its parent."""

    def __init__(self, text: bytes) -> None:
        self.text = text
        self._pairs: dict[Path, Leaf] | None = None
        self._values: dict[Path, Leaf] = {}
        self._headers: dict[Path, Leaf] = {}
        self._ends: dict[Path, int] = {}

    def start(self, path: Path) -> int:
        """Return the byte offset where the key of ``path`` starts, or else of the nearest thing above it."""
        self._build()
        assert self._pairs is not None
        for length in range(len(path), 0, -1):
            part = path[:length]
            leaf = self._pairs.get(part) or self._headers.get(part) or self._values.get(part)
            leaf = leaf or self._headers.get((*part, 0))
            if leaf is not None:
                return leaf.start_byte
        return 0

    def value(self, path: Path) -> tuple[int, int] | None:
        """Return the byte offsets of the value at ``path``, or None where no value is written there."""
        self._build()
        leaf = self._values.get(path)
        return (leaf.start_byte, leaf.end_byte) if leaf is not None else None

    def pair(self, path: Path) -> tuple[int, int] | None:
        """Return the byte offsets of ``key = value`` at ``path``, or None."""
        self._build()
        assert self._pairs is not None
        leaf = self._pairs.get(path)
        return (leaf.start_byte, leaf.end_byte) if leaf is not None else None

    def header(self, path: Path) -> int | None:
        """Return the byte offset of the header ``[[node]]`` that opens ``path``, or None."""
        self._build()
        leaf = self._headers.get(path)
        return leaf.start_byte if leaf is not None else None

    def end(self, path: Path) -> int | None:
        """Return the byte offset behind the last key of the table at ``path``: where a further key is put."""
        self._build()
        return self._ends.get(path)

    def _build(self) -> None:
        if self._pairs is not None:
            return
        import tree_sitter
        import tree_sitter_toml

        language = tree_sitter.Language(tree_sitter_toml.language())
        root = tree_sitter.Parser(language).parse(self.text).root_node
        self._pairs = {}
        counts: dict[Path, int] = {}
        for leaf in root.children:
            if leaf.type == "pair":
                self._pair((), leaf)
            elif leaf.type in ("table", "table_array_element"):
                self._table(leaf, counts)

    def _table(self, leaf: Leaf, counts: dict[Path, int]) -> None:
        keys = next(_key_parts(child) for child in leaf.children if child.type in _KEYS)
        path: Path = ()
        for key in keys[:-1]:
            path = (*path, key)
            if path in counts:
                path = (*path, counts[path])
        path = (*path, keys[-1])
        if leaf.type == "table_array_element":
            counts[path] = counts.get(path, -1) + 1
            path = (*path, counts[path])
        elif path in counts:
            path = (*path, counts[path])
        self._headers.setdefault(path, leaf)
        last = next(child for child in leaf.children if child.type in ("]", "]]"))
        for child in leaf.children:
            if child.type == "pair":
                self._pair(path, child)
                last = child
        self._ends[path] = last.end_byte

    def _pair(self, base: Path, leaf: Leaf) -> None:
        assert self._pairs is not None
        path = base
        for key in _key_parts(leaf.children[0]):
            path = (*path, key)
            self._pairs.setdefault(path, leaf)
        self._value(path, leaf.children[-1] if leaf.children[-1].type != "comment" else leaf.children[2])

    def _value(self, path: Path, leaf: Leaf) -> None:
        self._values[path] = leaf
        if leaf.type == "array":
            for i, child in enumerate(c for c in leaf.children if c.type not in _SKIP):
                self._value((*path, i), child)
        elif leaf.type == "inline_table":
            for child in leaf.children:
                if child.type == "pair":
                    self._pair(path, child)


_KEYS = ("bare_key", "quoted_key", "dotted_key")


def _key_parts(leaf: Leaf) -> list[str]:
    if leaf.type == "dotted_key":
        return [part for child in leaf.children if child.type in _KEYS for part in _key_parts(child)]
    text = (leaf.text or b"").decode()
    if leaf.type == "bare_key":
        return [text]
    return [text[1:-1] if text[0] == "'" else _unescape(text[1:-1])]


def _unescape(text: str) -> str:
    if "\\" not in text:
        return text
    out: list[Any] = []
    i = 0
    while i < len(text):
        if text[i] != "\\":
            out.append(text[i])
            i += 1
        elif (mark := text[i + 1]) in "uU":
            size = 4 if mark == "u" else 8
            out.append(chr(int(text[i + 2 : i + 2 + size], 16)))
            i += 2 + size
        else:
            out.append(_ESCAPES[mark])
            i += 2
    return "".join(out)

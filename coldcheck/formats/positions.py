"""Byte offsets turned into lines and columns, both counted from one; a column counts characters."""

from __future__ import annotations

from bisect import bisect_right

__all__ = ["Positions"]


class Positions:
    """The lines of one text."""

    def __init__(self, text: bytes) -> None:
        self.text = text
        self._starts: list[int] | None = None

    def of(self, offset: int) -> tuple[int, int]:
        """Return (line, column) of a byte offset."""
        if self._starts is None:
            starts, at = [0], self.text.find(b"\n")
            while at >= 0:
                starts.append(at + 1)
                at = self.text.find(b"\n", at + 1)
            self._starts = starts
        line = bisect_right(self._starts, offset)
        start = self._starts[line - 1]
        return line, len(self.text[start:offset].decode(errors="replace")) + 1

"""How results are printed: small tables, and the machine they are from."""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence

__all__ = ["machine", "table"]


def machine() -> str:
    """Return what the figures depend on: processors, kind of machine, Python."""
    python = f"{platform.python_implementation()} {platform.python_version()}"
    return f"{os.cpu_count()} processors, {platform.machine()}, {platform.system()}, {python}"


def table(title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print rows under their heads: the first column to the left, all others to the right."""
    widths = [max(len(row[i]) for row in (head, *rows)) for i in range(len(head))]
    print(f"\n{title}")
    for row in (head, *rows):
        cells = [
            cell.ljust(w) if i == 0 else cell.rjust(w)
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ]
        print("  " + "  ".join(cells).rstrip())

"""A schedule as rows of cells, and its forms: lines for people, CSV and rows for programs.

Every sheet that is a list is one or several of these, so that each form is made in one place and all agree.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck.formats.text import Line
from coldcheck.plan.quantities import Measure

__all__ = ["DEPTH", "Cell", "Column", "Table", "as_csv", "as_rows", "lines", "one_line", "shown"]

#: A text, a number in the unit of its column, or None for what is not known.
Cell = str | float | int | None

#: The key of a first column that says how far the second is indented: a tree, one row for each of its points.
DEPTH = "depth"

#: What a table program takes for the start of a formula, blanks before it or not; the wide letters in some, too.
_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")


class Column(msgspec.Struct, frozen=True):
    """One column: its key for programs, its title for people, and the unit of its numbers, "" for texts and counts.

    ``digits``: so many stand behind the point of each number, as with money.
    """

    key: str
    title: str
    unit: str = ""
    digits: int | None = None


class Table(msgspec.Struct):
    """A schedule: ``name`` for files and programs, one tuple of cells for each row; ``without`` is said of no rows."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: list[tuple[Cell, ...]]
    without: str = "nothing in this plan"


def shown(cell: Cell, column: Column) -> str:
    """Return a cell as people read it: a number with its unit, "?" for what is not known."""
    if cell is None:
        return "?"
    if isinstance(cell, str):
        return one_line(cell)
    if column.digits is not None:
        return f"{cell:.{column.digits}f}"
    return str(Measure(cell, column.unit)) if column.unit else f"{cell:g}"


def one_line(text: str) -> str:
    """Return a text without line ends or other control characters, which no cell and no comment may hold."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def lines(table: Table) -> Iterator[Line]:
    """Yield a table as aligned columns; columns in which nothing stands are left out."""
    if not table.rows:
        yield [("", f"  {table.without}")]
        return
    cells = [
        [shown(cell, column) for cell, column in zip(row, table.columns, strict=True)] for row in table.rows
    ]
    deep = table.columns[0].key == DEPTH
    if deep:
        for row in cells:
            row[1] = "  " * int(row[0]) + row[1]
    kept = [n for n in range(deep, len(table.columns)) if any(row[n] for row in cells)]
    widths = {n: max(len(table.columns[n].title), *(len(row[n]) for row in cells)) for n in kept}
    right = {n for n in kept if not any(isinstance(row[n], str) and row[n] for row in table.rows)}

    def joined(texts: list[str]) -> str:
        padded = [texts[n].rjust(widths[n]) if n in right else texts[n].ljust(widths[n]) for n in kept]
        return ("  " + "  ".join(padded)).rstrip()

    yield [("label", joined([column.title for column in table.columns]))]
    for row in cells:
        yield [("", joined(row))]


def as_rows(table: Table) -> list[dict[str, Cell]]:
    """Return the rows by the keys of their columns; lengths are in m, currents in A, as the columns' units say."""
    keys = [column.key for column in table.columns]
    return [dict(zip(keys, row, strict=True)) for row in table.rows]


def as_csv(table: Table) -> str:
    """Return a table as CSV (RFC 4180), headings with their unit; no text in it is taken for a formula."""
    file = io.StringIO()
    writer = csv.writer(file)
    writer.writerow(
        [f"{column.title} [{column.unit}]" if column.unit else column.title for column in table.columns]
    )
    for row in table.rows:
        writer.writerow([_harmless(cell) for cell in row])
    return file.getvalue()


def _harmless(cell: Cell) -> Any:
    if cell is None:
        return ""
    if not isinstance(cell, str):
        return f"{cell:.9g}" if isinstance(cell, float) and abs(cell) < 1e9 else int(cell)
    text = one_line(cell)
    return f"'{text}" if text.lstrip().startswith(_FORMULA) else text

"""Tables: what people, table programs and other programs get of them."""

import csv
import io

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from coldcheck.formats.text import plain
from coldcheck.sheets.table import Column, Table, as_csv, as_rows, lines

COLUMNS = (Column("name", "name"), Column("amps", "at most", "A"), Column("note", "note"))


def table(*rows: tuple[str | float | None, ...]) -> Table:
    """Make a table of three columns."""
    return Table("some", "some", COLUMNS, list(rows))


def test_lines_are_aligned() -> None:
    """Numbers stand right with their unit, what is not known is a question mark, an empty column is left out."""
    found = [plain(line) for line in lines(table(("a", 0.0824, ""), ("longer", 12.0, ""), ("c", None, "")))]
    assert found == [
        "  name    at most",
        "  a       82.4 mA",
        "  longer     12 A",
        "  c             ?",
    ]


def test_a_tree_is_indented() -> None:
    """A first column of depths moves the second in and is not shown itself."""
    tree = Table(
        "t", "t", (Column("depth", "depth"), Column("name", "point")), [(0, "a"), (1, "b"), (2, "c")]
    )
    assert [plain(line) for line in lines(tree)] == ["  point", "  a", "    b", "      c"]
    assert as_rows(tree)[2] == {"depth": 2, "name": "c"}


def test_nothing_is_said() -> None:
    """A table without rows says why."""
    assert [plain(line) for line in lines(table())] == ["  nothing in this plan"]


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+1", "-1", "@x", "\t=1", "  =1", "\r=1", '=cmd|" /c x"!A1', "\n=1", "\x1f=1", "＝1", "\u3000@"],
)
def test_no_formulas(text: str) -> None:
    """A text that a table program would compute gets a quotation mark before it (OWASP, CSV injection)."""
    rows = list(csv.reader(io.StringIO(as_csv(table((text, 1.0, ""))))))
    assert rows[1][0].startswith("'")
    assert rows[1][1] == "1"


def test_numbers_stay_numbers() -> None:
    """Numbers come bare, negative ones too, in the unit of the heading."""
    rows = list(csv.reader(io.StringIO(as_csv(table(("a", -0.1 - 0.2, ""), ("b", 1e9, ""))))))
    assert rows[0] == ["name", "at most [A]", "note"]
    assert [row[1] for row in rows[1:]] == ["-0.3", "1000000000"]


@example([("\x1f=", None, "")])  # what cannot be shown becomes a blank, and the blank is no shelter
@given(st.lists(st.tuples(st.text(), st.none() | st.floats(-1e6, 1e6), st.text()), max_size=5))
def test_every_text_comes_back(rows: list[tuple[str, float | None, str]]) -> None:
    """Whatever a text holds, a CSV reader finds as many rows and cells, and no cell begins like a formula."""
    found = list(csv.reader(io.StringIO(as_csv(table(*rows)))))
    assert [len(row) for row in found] == [3] * (len(rows) + 1)
    for row, given_row in zip(found[1:], rows, strict=True):
        assert not row[0].lstrip().startswith(("=", "+", "-", "@"))
        assert row[0].lstrip("'").strip() == "".join(
            c if c.isprintable() else " " for c in given_row[0]
        ).lstrip("'").strip() or given_row[0].startswith("'")
    for line in lines(table(*rows)):
        assert "\n" not in plain(line)

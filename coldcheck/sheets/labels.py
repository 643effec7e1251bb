"""Labels for cables and leads: one for each end, on common sheets of labels, with a QR code of what they say.

A label holds what it leads to, what it is, its volts and colours, and the identifier of the cable, made of its two
ends: the same on both, whatever else the plan becomes. Source: what ANSI/TIA-606 asks of the label of a cable, from
memory: the identifier at each end, near and far end told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from coldcheck.plan.model import Plan
from coldcheck.plan.quantities import Measure

from .table import Cell, Column, Table, one_line

__all__ = ["SHEETS", "Paper", "labels", "page"]

COLUMNS = (
    Column("cable", "cable"),
    Column("here", "this end"),
    Column("there", "other end"),
    Column("what", "what it is"),
    Column("carries", "carries"),
)


class Paper(msgspec.Struct, frozen=True):
    """A sheet of labels [mm]: paper, columns and rows, size of a label, margins left and top, gap between columns."""

    name: str
    paper: str
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    gap: float


#: Common sheets (common practice): 24 on A4 without a border, 30 on Letter.
SHEETS = (
    Paper("labels-a4", "A4", 3, 8, 70.0, 37.0, 0.0, 0.5, 0.0),
    Paper("labels-letter", "Letter", 3, 10, 66.675, 25.4, 4.7625, 12.7, 3.175),
)


def labels(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return the two labels of each data cable, each lead and each wire of a harness."""
    rows = [*_data(plan), *_power(get)]
    return [Table("labels", "labels", COLUMNS, rows, "the plan has no cables")]


def _pair(a: str, b: str, what: str, carries: str) -> Iterator[tuple[Cell, ...]]:
    name = f"{a}/{b}"
    yield name, a, b, what, carries
    yield name, b, a, what, carries


def _data(plan: Plan) -> Iterator[tuple[Cell, ...]]:
    for line in plan.links:
        if getattr(line.entry, "medium", None) == "radio":
            continue
        cable = line.cable
        kind = ""
        if cable is not None:
            kind = cable.medium or (f"cat {cable.category}" if cable.category else "")
        length = _metres(cable.length if cable is not None else None)
        far = line.b.name if line.b is not None else line.outside
        yield from _pair(line.a.name, far, _joined(kind or "data", length), "")


def _power(get: Callable[[str], Any]) -> Iterator[tuple[Cell, ...]]:
    schedule = get("schedule")
    for lead in schedule.leads:
        plus, back = lead.colours
        poles = _joined(plus and f"{plus} +", back and f"{back} \u2212")
        carries = ": ".join(filter(None, (_volts(lead.volts), poles)))
        yield from _pair(lead.a, lead.b, _joined(lead.size, _metres(lead.length)) or "lead", carries)
    for row in schedule.rows:
        what = f"{row.harness} {row.number}: {_joined(row.size, _metres(row.length))}"
        yield from _pair(row.a[0], row.b[0], what, _joined(_volts(row.volts), row.colour))


def _joined(*words: str) -> str:
    return ", ".join(filter(None, words))


def _volts(volts: float | None) -> str:
    return ("return" if volts == 0 else str(Measure(volts, "V"))) if volts is not None else ""


def _metres(length: float | None) -> str:
    return str(Measure(length, "m")) if length is not None else ""


@cache
def _template() -> Any:
    from jinja2 import Environment, StrictUndefined

    made = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return made.from_string((Path(__file__).parent / "labels.html").read_text(encoding="utf-8"))


def page(table: Table, title: str, paper: Paper, errors: int) -> str:
    """Return sheets of labels as one HTML page that prints at its true size, all margins of the printer off."""
    from markupsafe import Markup

    made = []
    for row in table.rows:
        name, here, there, what, carries = (one_line(str(cell)) for cell in row)
        # volts in large figures: plugs of other volts may fit
        large, _, rest = carries.partition(": " if ": " in carries else ", ")
        made.append(
            {
                "here": here,
                "there": there,
                "what": what,
                "large": large,
                "rest": rest,
                "code": Markup(_code(name)),
            }
        )
    many = paper.columns * paper.rows
    sheets = [made[n : n + many] for n in range(0, len(made), many)]
    return str(_template().render(title=one_line(title), paper=paper, sheets=sheets, errors=errors))


@cache
def _code(text: str) -> str:
    """Return the QR code (ISO/IEC 18004) of a text, as SVG; both ends of a cable have the same."""
    import segno

    code = segno.make(text, error="m", micro=False)
    return str(code.svg_inline(border=2, omitsize=True, light="#fff", dark="#000"))

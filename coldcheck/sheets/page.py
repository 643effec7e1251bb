"""All sheets of a plan as one HTML page that needs nothing else: it works from a disk, on a phone, and on paper.

Every text of a plan goes through the template's escaping; the page forbids itself to ask anything of any network. Each
thing has a place of its own, with its findings and each row that speaks of it; wherever a row names a thing, that is
a link to it.
"""

from __future__ import annotations

import datetime
import hashlib
import re
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from coldcheck.formats.report import Located
from coldcheck.plan.model import Plan
from coldcheck.workings.first_power import FirstPower, Step

from .bench import expect_text
from .drawing import RULES, printed
from .pack import Pack, Sheet
from .table import DEPTH, Cell, Column, Table, one_line, shown

__all__ = ["Source", "page"]

#: From so many columns on a table is printed across, and a drawing from this width on [px].
WIDE, WIDE_DRAWING = 10, 700.0

#: What a size of paper adds.
_PAPER = "@media print {{ @page {{ size: {0}; }} @page wide {{ size: {0} landscape; }} }}"

_HERE = Path(__file__).parent
#: The blank between a number and what it is of.
_UNIT = re.compile(r"(?<=\d) (?=[A-Za-z×%])")
_GRADES = {"error", "warning", "note", "open", "review"}


class Source(msgspec.Struct):
    """What a page is made of: the sheets, the plan, what a lint finds in it, and the steps of the first power."""

    pack: Pack
    plan: Plan
    found: Sequence[Located]
    first: FirstPower
    day: datetime.date
    version: str


def page(source: Source, paper: str = "") -> str:
    """Return the page; for a size of ``paper`` ("A4"), as that is printed, without what only a screen can do."""
    return str(_template().render(paper=paper, **_Page(source, paper).context()))


@cache
def _template() -> Any:
    from jinja2 import Environment, StrictUndefined

    made = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return made.from_string((_HERE / "page.html").read_text(encoding="utf-8"))


class _Page:
    def __init__(self, source: Source, paper: str = "") -> None:
        self.source = source
        self.paper = paper
        self.known = {thing.id for thing in source.plan.order}
        self.places: dict[str, dict[str, list[str]]] = {}  # thing, table, rows that speak of it

    def context(self) -> dict[str, Any]:
        """Return what the template asks for."""
        from markupsafe import Markup

        pack = self.source.pack
        # what is printed in another way comes last
        style = (
            (_HERE / "page.css")
            .read_text(encoding="utf-8")
            .replace("@media print", f"{RULES}@media print", 1)
        )
        if self.paper:
            style += _PAPER.format(self.paper)
        sheets = [self._sheet(sheet) for sheet in pack.sheets]
        return {
            "title": one_line(pack.title), "plan": one_line(pack.plan), "day": self.source.day.isoformat(),
            "version": self.source.version, "errors": pack.errors, "sheets": sheets, "cautions": pack.cautions,
            "things": [] if self.paper else list(self._things()),
            # our own files, not a word of a plan in them
            "style": Markup(style),
            "script": Markup((_HERE / "page.js").read_text(encoding="utf-8")),
        }  # fmt: skip

    def _sheet(self, sheet: Sheet) -> dict[str, Any]:
        from markupsafe import Markup

        first = sheet.name == "first-power"
        tables = [] if first else [self._table(table) for table in sheet.tables]
        return {
            "name": sheet.name, "title": sheet.title, "tables": tables,
            # made by a library that escapes, of texts that are data to it
            "drawings": [
                (drawing.title, Markup(printed(drawing) if self.paper else drawing.svg)) for drawing in sheet.drawings
            ],
            "steps": list(self._stages()) if first else [],
            "wide": any(len(table["columns"]) >= WIDE for table in tables)
            or any(drawing.width > WIDE_DRAWING for drawing in sheet.drawings)
            or (first and bool(self.paper)),
        }  # fmt: skip

    # --- tables ---------------------------------------------------------------------------------------------------

    def _table(self, table: Table) -> dict[str, Any]:
        deep = table.columns[0].key == DEPTH
        kept = [n for n in range(deep, len(table.columns)) if any(row[n] != "" for row in table.rows)]
        right = {n for n in kept if not any(isinstance(row[n], str) and row[n] for row in table.rows)}
        rows = []
        for number, row in enumerate(table.rows):
            place = f"{table.name}-{number}"
            depth = row[0] if deep else 0
            cells = [
                self._cell(row[n], table.columns[n], depth if n == deep else 0, n in right) for n in kept
            ]
            rows.append({"id": place, "cells": cells})
            about = {str(cell["thing"]).removeprefix("thing-") for cell in cells if cell["thing"]}
            for thing in about:
                self._told(thing, table.title, place)
        columns = [{"title": table.columns[n].title, "right": n in right} for n in kept]
        return {
            "name": table.name, "title": table.title, "without": table.without, "columns": columns, "rows": rows,
        }  # fmt: skip

    def _cell(self, cell: Cell, column: Column, depth: Any, right: bool) -> dict[str, Any]:
        text = self._kept(shown(cell, column))
        thing = self._thing(text) if isinstance(cell, str) and column.key != "part" else ""
        return {
            "text": text, "right": right, "depth": depth,
            "number": cell if isinstance(cell, (int, float)) else None,
            "grade": text if column.key == "grade" and text in _GRADES else "",
            "thing": f"thing-{thing}" if thing else "",
        }  # fmt: skip

    def _kept(self, text: str) -> str:
        """Return a text as it is; on paper no line ends between a number and its unit."""
        return _UNIT.sub("\u00a0", text) if self.paper else text

    def _thing(self, text: str) -> str:
        """Return the thing that a cell names, alone or by one of its points."""
        id = text.partition(".")[0]
        return id if id in self.known and " " not in text else ""

    def _told(self, thing: str, title: str, place: str) -> None:
        self.places.setdefault(thing, {}).setdefault(title, []).append(place)

    def _things(self) -> Iterator[dict[str, Any]]:
        found: dict[str, list[dict[str, Any]]] = {}
        numbers = {True: 0, False: 0}
        for each in self.source.found:
            waived = bool(each.finding.waived)
            place = f"{'accepted' if waived else 'findings'}-{numbers[waived]}"
            numbers[waived] += 1
            grade = "accepted" if waived else each.finding.level or each.finding.kind
            told = {"grade": grade, "id": place, "says": one_line(each.finding.says)}
            for id in {subject.partition(".")[0] for subject in each.finding.subjects} & self.known:
                found.setdefault(id, []).append(told)
        for thing in self.source.plan.order:
            places = [
                {"id": rows[0], "title": title, "more": f"({len(rows)} rows)" if len(rows) > 1 else ""}
                for title, rows in self.places.get(thing.id, {}).items()
            ]
            yield {
                "id": thing.id, "anchor": f"thing-{thing.id}", "what": getattr(thing, "title", None) or thing.table,
                "findings": found.get(thing.id, []), "places": places,
            }  # fmt: skip

    # --- first power ----------------------------------------------------------------------------------------------

    def _stages(self) -> Iterator[tuple[str, list[dict[str, Any]]]]:
        stages: dict[str, list[dict[str, Any]]] = {}
        for number, step in enumerate(self.source.first.steps, 1):
            stages.setdefault(step.stage, []).append(self._step(number, step))
        yield from stages.items()

    def _step(self, number: int, step: Step) -> dict[str, Any]:
        expect = self._kept(expect_text(step))
        told = (
            self.source.pack.title,
            step.stage,
            step.before,
            step.what,
            step.red,
            step.black,
            expect,
            step.stop,
        )
        return {
            "number": number, "id": f"step-{number}", "what": step.what, "before": step.before,
            "red": step.red, "black": step.black,
            "expect": expect, "unit": step.expect.unit, "amps": step.amps is not None, "stop": self._kept(step.stop),
            # a tick is for this very step: should what is expected change, it is to be measured again
            "key": hashlib.sha256("\n".join(told).encode()).hexdigest()[:24],
        }  # fmt: skip

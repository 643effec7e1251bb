"""The wires, the pieces to cut, what to buy and what to measure, as tables."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from coldcheck.plan.model import Plan
from coldcheck.workings.first_power import FirstPower
from coldcheck.workings.schedule import Schedule

from .table import Cell, Column, Table

__all__ = ["cuts", "first_power", "shopping", "wiring"]

WIRES = (
    Column("harness", "harness"),
    Column("number", "wire"),
    Column("from", "from"),
    Column("from_signal", "carries"),
    Column("to", "to"),
    Column("to_signal", "carries"),
    Column("colour", "colour"),
    Column("size", "size"),
    Column("length", "length", "m"),
    Column("cut", "cut", "m"),
    Column("from_plug", "contact at from"),
    Column("to_plug", "contact at to"),
    Column("from_housing", "housing at from"),
    Column("to_housing", "housing at to"),
    Column("from_strip", "strip at from", "m"),
    Column("to_strip", "strip at to", "m"),
    Column("amps", "at most", "A"),
)
LEADS = (
    Column("from", "from"),
    Column("to", "to"),
    Column("each_way", "conductors each way"),
    Column("size", "size"),
    Column("length", "length", "m"),
    Column("from_plug", "plug at from"),
    Column("to_plug", "plug at to"),
)
CUTS = (
    Column("count", "pieces"),
    Column("size", "size"),
    Column("colour", "colour"),
    Column("length", "length", "m"),
)
BUYS = (
    Column("count", "buy"),
    Column("unit", "unit"),
    Column("kind", "kind"),
    Column("what", "what"),
    Column("needed", "needed"),
    Column("note", "note"),
)
STEPS = (
    Column("step", "step"),
    Column("stage", "stage"),
    Column("what", "what"),
    Column("red", "red probe on"),
    Column("black", "black probe on"),
    Column("about", "about"),
    Column("low", "at least"),
    Column("high", "at most"),
    Column("unit", "unit"),
    Column("read", "read"),
    Column("stop", "stop at"),
    Column("missing", "not known for want of"),
)


def wiring(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return every wire of the harnesses, and every lead."""
    del plan
    made: Schedule = get("schedule")
    wires: list[tuple[Cell, ...]] = [
        (
            row.harness, row.number, *row.a, *row.b, row.colour or None, row.size or None, row.length, row.cut,
            *row.plugs, *row.housings, *row.strips, row.amps,
        )
        for row in made.rows
    ]  # fmt: skip
    leads: list[tuple[Cell, ...]] = [
        (lead.a, lead.b, lead.each_way, lead.size or None, lead.length, *lead.plugs) for lead in made.leads
    ]
    return [
        Table("wires", "wires of harnesses", WIRES, wires, "the plan lists no wires"),
        Table("leads", "leads, out and back", LEADS, leads, "the plan has no leads"),
    ]


def cuts(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return the pieces of wire to cut."""
    del plan
    rows: list[tuple[Cell, ...]] = [
        (cut.count, cut.size, cut.colour, cut.length) for cut in get("schedule").cuts
    ]
    return [Table("cuts", "cut list", CUTS, rows, "nothing to cut")]


def shopping(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return the wire, contacts and housings to buy."""
    del plan
    rows: list[tuple[Cell, ...]] = [
        (buy.count, buy.unit, buy.kind, buy.what, buy.needed, buy.note) for buy in get("schedule").buys
    ]
    return [Table("shopping", "wire, contacts and housings to buy", BUYS, rows, "nothing to buy")]


def first_power(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return what to measure at the first power, with a blank for each reading."""
    del plan
    made: FirstPower = get("first_power")
    rows: list[tuple[Cell, ...]] = [
        (
            number, step.stage, step.what, step.red, step.black, *_limits(step), step.expect.unit, "",
            step.stop, step.missing,
        )
        for number, step in enumerate(made.steps, 1)
    ]  # fmt: skip
    return [Table("first-power", "first power", STEPS, rows, "nothing to measure")]


def _limits(step: Any) -> tuple[Cell, Cell, Cell]:
    """Return the middle and the ends; "" for a side without a bound, None where a number ought to be."""
    expect = step.expect
    bounds = (expect.nominal, expect.low, expect.high)
    if step.missing or all(bound is None for bound in bounds):
        return None, None, None
    return tuple("" if bound is None else bound for bound in bounds)  # type: ignore[return-value]

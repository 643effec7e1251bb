"""The wires, the pieces to cut, what to buy and what to measure, as tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from coldcheck.plan.model import Plan
from coldcheck.plan.quantities import Measure
from coldcheck.plan.reading import plugs_of
from coldcheck.workings.crimps import Crimp, joins_returns
from coldcheck.workings.first_power import FirstPower
from coldcheck.workings.lead_ends import PAST
from coldcheck.workings.purchases import Line, Purchases
from coldcheck.workings.schedule import Lead, Schedule

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
    Column("amps", "at most", "A"),
)
ENDS = (
    Column("harness", "harness"),
    Column("number", "wire"),
    Column("pin", "end at"),
    Column("plug", "contact"),
    Column("housing", "housing"),
    Column("strip", "strip", "m"),
)
LEADS = (
    Column("from", "from"),
    Column("to", "to"),
    Column("pole", "pole"),
    Column("from_pins", "pin at from"),
    Column("to_pins", "pin at to"),
    Column("wires", "wires"),
    Column("colour", "colour"),
    Column("size", "size"),
    Column("length", "length", "m"),
    Column("from_plug", "plug at from"),
    Column("to_plug", "plug at to"),
)
CRIMPS = (
    Column("plug", "plug"),
    Column("wire", "wire"),
    Column("put", "what goes on the end"),
    Column("strip", "strip"),
    Column("count", "pieces"),
)
#: What is done to an end, in words, and how much insulation goes where no part of the shelf says it.
_PUT = {
    "contact": ("a contact, then into the housing", "as long as its barrel"),
    "ferrule": ("a ferrule", "as long as the ferrule"),
    "itself": ("the terminal itself", "as long as its barrel"),
    "joint": ("into the joint", "as the joint shows"),
    "past": ("the returns that go past, joined", "as the joint shows"),
    "clamped": ("a ferrule or a ring, as its terminal takes it", "as long as its barrel"),
    "whole": ("soldered, each pole in a sleeve of its own; or bought with its wires", "as its lug is long"),
    "unknown": (None, None),
}
CUTS = (
    Column("count", "pieces"),
    Column("size", "size"),
    Column("colour", "colour"),
    Column("length", "length", "m"),
    Column("wires", "for"),
)
BUYS = (
    Column("kind", "kind"),
    Column("what", "what"),
    Column("needed", "needed"),
    Column("spare", "spare"),
    Column("have", "in the drawer"),
    Column("buy", "buy"),
    Column("pack", "packs of"),
    Column("unit", "unit"),
    Column("price", "price", digits=2),
    Column("cost", "cost", digits=2),
    Column("currency", "currency"),
    Column("about", "for"),
    Column("note", "note"),
)
COSTS = (
    Column("currency", "currency"),
    Column("cost", "cost", digits=2),
    Column("without", "lines without a price"),
)
STEPS = (
    Column("step", "step"),
    Column("stage", "stage"),
    Column("before", "first"),
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
    Column("amps", "amps at most", "A"),
)


def wiring(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return every wire of the harnesses, both ends of each, and every lead by its poles."""
    made: Schedule = get("schedule")
    wires: list[tuple[Cell, ...]] = [
        (
            row.harness, row.number, *row.a, *row.b, row.colour or None, row.size or None, row.length, row.cut,
            row.amps,
        )
        for row in made.rows
    ]  # fmt: skip
    ends: list[tuple[Cell, ...]] = [
        (row.harness, row.number, end[0], row.plugs[n], row.housings[n], row.strips[n])
        for row in made.rows
        for n, end in enumerate((row.a, row.b))
    ]
    leads = [pole for lead in made.leads for pole in _poles(lead, plugs_of(plan.shelf))]
    return [
        Table("wires", "wires of harnesses", WIRES, wires, "the plan lists no wires"),
        Table("ends", "ends of these wires", ENDS, ends, "the plan lists no wires"),
        Table("leads", "leads, out and back", LEADS, leads, "the plan has no leads"),
        Table("crimps", "what goes on the ends", CRIMPS, list(_crimps(get("crimps"))), "nothing to crimp"),
    ]


def _crimps(crimps: list[Crimp]) -> Iterator[tuple[Cell, ...]]:
    for crimp in crimps:
        put, strip = _PUT[crimp.how]
        told = str(Measure(crimp.strip, "m")) if crimp.strip is not None else strip
        nowhere = "" if crimp.how == "past" else None
        yield (
            crimp.plug or nowhere,
            crimp.size or ("" if crimp.how == "joint" else None),
            put,
            told,
            crimp.count,
        )


def _poles(lead: Lead, part: Callable[[str], Any]) -> Iterator[tuple[Cell, ...]]:
    poles = zip(("plus", "return"), (lead.plus, lead.back), lead.colours, strict=True)
    for pole, pins, colour in poles:
        # a return that goes past an in-line thing is joined to the next one, and in no plug
        plugs = (
            plug if pin != PAST or (plug and joins_returns(part(plug))) else "joint"
            for pin, plug in zip(pins, lead.plugs, strict=True)
        )
        yield (
            lead.a, lead.b, pole, pins[0] or None, pins[1] or None, lead.each_way, colour or None, lead.size or None,
            lead.length, *plugs,
        )  # fmt: skip


def cuts(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return the pieces of wire to cut."""
    del plan
    rows: list[tuple[Cell, ...]] = [
        (cut.count, cut.size, cut.colour, cut.length, "; ".join(cut.wires)) for cut in get("schedule").cuts
    ]
    return [Table("cuts", "cut list", CUTS, rows, "nothing to cut")]


def shopping(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return all that is to be bought in real pieces and whole packs, and what it costs where prices are given."""
    del plan
    made: Purchases = get("purchases")
    rows = [_bought(line, bool(made.costs)) for line in made.lines]
    costs: list[tuple[Cell, ...]] = [
        (currency, cents / 100, made.unpriced) for currency, cents in made.costs.items()
    ]
    return [
        Table("shopping", "to buy", BUYS, rows, "nothing to buy"),
        Table("costs", "what it costs", COSTS, costs, "no prices are given: a [[buy]] gives them"),
    ]


def _bought(line: Line, priced: bool) -> tuple[Cell, ...]:
    """Return a line; a price that is not given is a gap only where others are."""
    need, price, cost = line.need, line.price, line.cost
    gap = None if priced and line.packs else ""
    return (
        need.kind, need.words, round(need.needed, 6), round(line.spare, 6), line.have or "", line.packs,
        line.pack if line.pack != 1.0 else "", need.unit,
        price.cents / 100 if price else gap, cost.cents / 100 if cost else gap,
        price.currency if price else "", need.about, (line.buy.note if line.buy else "") or "",
    )  # fmt: skip


def first_power(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return what to measure at the first power, with a blank for each reading."""
    del plan
    made: FirstPower = get("first_power")
    rows: list[tuple[Cell, ...]] = [
        (
            number, step.stage, step.before, step.what, step.red, step.black, *_limits(step), step.expect.unit, "",
            step.stop, step.missing, step.amps if step.amps is not None else "",
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

"""What the build is made of, in which order it goes together, and in which its things start and stop."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import zip_longest
from typing import Any

from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.hands import cut_words, on_words
from coldcheck.workings.needs import cable_kind, fuses_of
from coldcheck.workings.orders import Orders

from .table import Cell, Column, Table

__all__ = ["order", "parts_list"]

PARTS = (
    Column("count", "pieces"),
    Column("kind", "kind"),
    Column("part", "part"),
    Column("title", "what it is"),
    Column("things", "in the plan"),
    Column("there", "there already"),
)
FUSES = (Column("count", "pieces"), Column("fuse", "fuse"), Column("where", "where"))
CABLES = (
    Column("count", "pieces"),
    Column("kind", "cable"),
    Column("length", "length", "m"),
    Column("where", "from"),
)
ASSEMBLY = (
    Column("step", "step"),
    Column("done", "done"),
    Column("thing", "thing"),
    Column("what", "what it is"),
    Column("power", "power from"),
    Column("plug", "plug"),
    Column("data", "data cables"),
    Column("bay", "bay"),
)
UPS = (
    Column("step", "step"),
    Column("things", "what starts"),
    Column("how", "how"),
    Column("wait", "wait until"),
)
STOPS = (Column("step", "step"), Column("things", "what stops"), Column("how", "how"))
#: For each kind of thing, when it is up and how it goes down (common practice).
_UP = {
    "switch": "the lights of its ports show what is plugged in",
    "storage": "its disks are up and its shares answer",
    "drive": "it turns",
    "node": "it answers",
    "appliance": "it answers",
}
_DOWN = {
    "switch": "nothing to shut down: when all that is plugged into it is off",
    "storage": "shut down from inside; wait until the disks stand still and have parked",
    "drive": "wait until it stands still and has parked",
    "node": "shut down from inside; wait until it says that it is off",
    "appliance": "shut down from inside where it can be; else it goes off with its power",
}
#: Read in the order of the papers, this comes before the first power.
ASSEMBLED = (
    "order of assembly: put in their places without power; plugs and cables go in as the first power says"
)
STARTS = (Column("at", "after power-on", "s"), Column("things", "what starts"), Column("why", "why"))


def parts_list(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return every part with how many of it, every fuse and every data cable."""
    del get
    kinds: dict[tuple[str, str, str], list[Any]] = {}
    for thing in plan.order:
        part = getattr(thing, "part", None) or ""
        kinds.setdefault((thing.table, part, _title(plan, part, thing)), []).append(thing)
    rows: list[tuple[Cell, ...]] = []
    for (table, part, title), things in kinds.items():
        there = sum(getattr(thing, "built", None) is not None for thing in things)
        rows.append(
            (len(things), table, part or None, title, listed([thing.id for thing in things], None), there)
        )
    return [
        Table("parts", "parts", PARTS, rows, "the plan has no things"),
        Table("fuses", "fuses", FUSES, list(_fuses(plan)), "the plan names no fuses"),
        Table("data-cables", "data cables", CABLES, list(_cables(plan)), "the plan has no data cables"),
    ]


def _title(plan: Plan, part: str, thing: Any) -> str:
    found = plan.shelf.find(part) if part else None
    own = getattr(thing, "title", None) or getattr(thing, "what", None)
    return str((found.raw.get("title") if found is not None else None) or own or "")


def _fuses(plan: Plan) -> Iterator[tuple[Cell, ...]]:
    where: dict[str, list[str]] = {}
    for name, fuse, _ in fuses_of(plan):
        where.setdefault(fuse, []).append(name)
    for kind, names in sorted(where.items()):
        yield len(names), kind, listed(names, None)


def _cables(plan: Plan) -> Iterator[tuple[Cell, ...]]:
    where: dict[tuple[str | None, float | None], list[str]] = {}
    for line in plan.links:
        if getattr(line.entry, "medium", None) == "radio":
            continue
        cable = line.cable
        key = cable_kind(cable) or None, cable.length if cable is not None else None
        where.setdefault(key, []).append(str(line))
    for (kind, length), names in where.items():
        yield len(names), kind, length, "; ".join(names)


def order(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return the order in which things go in, what feeds a thing first, and in which they start and stop."""
    steps = {thing.id: step for step, thing in enumerate(plan.order, 1)}
    rows = [_assembly(plan, steps, thing) for thing in plan.order]
    return [
        Table("assembly", ASSEMBLED, ASSEMBLY, rows, "the plan has no things"),
        Table("ups", "order of starting", UPS, list(_ups(plan, get("orders"))), "the plan has no machines"),
        Table(
            "starts",
            "what starts when, once power is on",
            STARTS,
            _starts(get("starts")),
            "nothing in the plan has a start of its own",
        ),
        Table(
            "stops", "order of stopping", STOPS, list(_stops(plan, get("orders"))), "the plan has no machines"
        ),
    ]


def _assembly(plan: Plan, steps: dict[str, int], thing: Any) -> tuple[Cell, ...]:
    sources = [inlet.source.name for inlet in thing.inlets if inlet.source is not None]
    plugs = Counter(inlet.spec.plug for inlet in thing.inlets if getattr(inlet.spec, "plug", None))
    part = getattr(thing, "part", None) or ""
    named = getattr(thing, "title", None) or _title(plan, part, thing)
    what = named or getattr(thing, "what", None) or thing.table
    what += " (outside the box)" if getattr(thing, "in_box", None) is False else ""
    return (
        steps[thing.id], "[ ]", thing.id, what,
        ", ".join(dict.fromkeys(sources)), ", ".join(plugs), _data(plan, steps, thing),
        getattr(thing, "bay", None) or "",
    )  # fmt: skip


def _data(plan: Plan, steps: dict[str, int], thing: Any) -> str:
    """Return the data cables that go in with a thing: those to what stands already, and by which of its ports."""
    own, far = [], []
    for point in plan.ports.get(thing.id, ()):
        for line in point.links:
            other = line.other(point)
            if getattr(line.entry, "medium", None) == "radio":
                continue
            if other is None or steps.get(other.thing.id, 0) <= steps[thing.id]:
                own.append(point.name)
                far.append(other.name if other is not None else line.outside)
    return f"{listed(own, None)} to {listed(far, None)}" if own else ""


def _starts(starts: dict[str, Any]) -> list[tuple[Cell, ...]]:
    groups: dict[tuple[float, str], list[str]] = {}
    for name, start in starts.items():
        groups.setdefault((start.at, start.why), []).append(name)
    return [(at, listed(names, None), why) for (at, why), names in sorted(groups.items())]


def _ups(plan: Plan, orders: Orders) -> Iterator[tuple[Cell, ...]]:
    step = 0
    if plan.table("feed"):
        step = 1
        for feed in plan.table("feed"):
            yield step, feed.id, on_words(feed), "its volts stand, as on the first-power sheet"
    for things, switches in zip_longest(orders.steps, orders.switched, fillvalue=()):
        if switches:
            step += 1
            yield step, listed([one.id for one in switches], None), "switched on by hand", ""
        step += bool(things)
        for table, names in _by_table(things):
            yield step, listed(names, None), "by itself, as soon as it has power", _UP[table]


def _stops(plan: Plan, orders: Orders) -> Iterator[tuple[Cell, ...]]:
    step = 0
    for things, switches in reversed([*zip_longest(orders.steps, orders.switched, fillvalue=())]):
        step += bool(things)
        for table, names in _by_table(things):
            yield step, listed(names, None), _DOWN[table]
        if switches:
            step += 1
            yield step, listed([one.id for one in reversed(switches)], None), "switched off by hand"
    for feed in plan.table("feed"):
        yield step + 1, feed.id, cut_words(feed)


def _by_table(things: Sequence[Any]) -> list[tuple[str, list[str]]]:
    """Return the names of things by their kinds; drives go along with what they are in."""
    found: dict[str, list[str]] = {}
    for thing in things:
        if thing.table != "drive" or getattr(thing, "bay", None) is None:
            found.setdefault(thing.table, []).append(thing.id)
    return list(found.items())

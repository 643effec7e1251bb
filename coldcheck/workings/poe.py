"""Power over Ethernet: what feeds what, through which cable, and what each switch gives and takes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan import poe
from coldcheck.plan.model import InletPoint, LinkLine, Plan, PortPoint
from coldcheck.plan.tables import Networked, Switch

from .ports import class_of, poe_type_of

__all__ = ["PoeBudget", "PoeFeed", "PoeTake", "poe_budgets", "poe_feeds", "poe_rings", "poe_takes"]

_READS = ("plan", "node", "storage", "appliance", "switch", "link", "uplink")


class PoeFeed(msgspec.Struct):
    """A thing with a PoE class, and the port at the other end of its cable.

    ``pse_type`` [-] is 1 to 4, or None where the port is not said to feed PoE; ``assumed`` says that it is counted
    all the same, since its switch has a budget and says of no port which type it is. ``reserved`` [W] is what the
    class sets aside at the port, no more than the type gives. ``pd_watts`` [W] is what the thing takes at its end:
    its reading at work, else its peak, else the most of its class; ``stated`` names that figure, "" where it is the
    class's. ``drawn`` [W] is the same at the port, with the loss in the cable (lowest volts of the type), or None
    where the cable cannot carry it; ``pd_volts`` [V] is what is left at the thing. ``loop_ohms`` [ohm] is the worst
    channel that the type allows where ``cable_known`` is false. ``other`` is an inlet that is fed as well.
    """

    thing: Networked
    port: PortPoint
    line: LinkLine
    klass: int
    pse_type: int | None
    assumed: bool
    reserved: float
    pd_watts: float
    stated: str
    drawn: float | None
    pd_volts: float | None
    loop_ohms: float
    cable_known: bool
    other: InletPoint | None

    @property
    def fed(self) -> bool:
        """Whether the port feeds it, by what the plan says or for want of better knowledge."""
        return self.pse_type is not None or self.assumed

    @property
    def counted(self) -> float:
        """The watts at the port [W], the class's where the cable cannot carry what is drawn."""
        return self.reserved if self.drawn is None else self.drawn


class PoeBudget(msgspec.Struct):
    """What one switch gives by PoE.

    ``budget`` [W], None where it is not stated; ``mode`` is what counts: ``class`` or ``draw``; ``reserved`` [W] is
    the sum by class and ``drawn`` [W] the sum at the ports; ``limit`` [W] is the budget less the plan's reserve;
    ``by_class`` has how many things and how many watts [W] each class takes.
    """

    switch: Switch
    budget: float | None
    limit: float | None
    mode: str
    reserved: float
    drawn: float
    by_class: dict[int, tuple[int, float]]
    feeds: list[PoeFeed]

    @property
    def counts(self) -> float:
        """The sum that is held against the budget [W]."""
        return self.drawn if self.mode == "draw" else self.reserved


class PoeTake(msgspec.Struct):
    """What a switch takes from its own input for its PoE ports.

    ``watts`` [W] is the sum at the ports by the efficiency of its step-up; ``efficiency_known`` is false where that
    is counted as 1, so that the figure is too low; ``missing`` names the figures that are not stated.
    """

    watts: float
    efficiency_known: bool
    missing: tuple[str, ...]


@working(reads=_READS)
def poe_feeds(plan: Plan) -> list[PoeFeed]:
    """Return every thing that takes power by PoE and has a cable, with what its port gives and what it draws.

    A thing that is powered otherwise, and whose port feeds no PoE, is not among them.
    """
    found = []
    known: dict[Any, Any] = {}
    for table in ("node", "storage", "appliance", "switch"):
        for thing in plan.table(table):
            klass = class_of(thing)
            if klass is not None and (end := _pse_end(plan, thing)) is not None:
                feed = _feed(thing, klass, *end, known)
                if feed.fed or feed.other is None:
                    found.append(feed)
    return found


def _pse_end(plan: Plan, thing: Networked) -> tuple[PortPoint, LinkLine] | None:
    """Return the port that feeds a thing, or the first one it is plugged into, and the cable between."""
    first = None
    for other, line in _ends(plan, thing):
        if other.spec.poe is not None:
            return other, line
        first = first or (other, line)
    return first


def _ends(plan: Plan, thing: Networked) -> Iterator[tuple[PortPoint, LinkLine]]:
    """Yield the port at the other end of every cable of a thing, and the cable."""
    for own in plan.ports.get(thing.id, ()):
        for line in own.links:
            other = line.b if line.a is own else line.a
            if other is not None and other.thing is not thing:
                yield other, line


@working(reads=_READS)
def poe_rings(plan: Plan, poe_feeds: list[PoeFeed]) -> list[list[PoeFeed]]:
    """Return every ring of things that take their only power by PoE from each other, none from outside the ring."""
    hungry = {f.thing.id: f for f in poe_feeds if f.fed and f.other is None and not _fed_by_wire(f.thing)}
    sources = {
        name: {feed.port.thing.id}
        | {other.thing.id for other, _ in _ends(plan, feed.thing) if other.spec.poe is not None}
        for name, feed in hungry.items()
    }
    dark = set(hungry)
    while lit := {name for name in dark if not sources[name] <= dark}:
        dark -= lit
    rings, seen = [], set[str]()
    for start in hungry:
        way: list[str] = []
        name = start
        while name in dark and name not in seen:
            seen.add(name)
            way.append(name)
            name = hungry[name].port.thing.id
        if name in way:
            ring = way[way.index(name) :]
            first = ring.index(next(each for each in hungry if each in ring))  # however it was entered
            rings.append([hungry[each] for each in ring[first:] + ring[:first]])
    return rings


def _fed_by_wire(thing: Any) -> bool:
    """Say whether a thing names a source of power besides its data cable, even one that does not exist."""
    return bool(thing.from_) or any(inlet.from_ for inlet in thing.inlet)


class _Cabled(msgspec.Struct):
    """What one kind of thing meets behind one kind of cable; a plan repeats a few of them many times."""

    reserved: float
    pd_watts: float
    drawn: float | None
    pd_volts: float | None
    ohms: float


def _feed(thing: Networked, klass: int, port: PortPoint, line: LinkLine, known: dict[Any, Any]) -> PoeFeed:
    pse_type = poe_type_of(port.spec)
    assumed = pse_type is None and _assumes(port.thing, known)
    stated, watts = _draw(thing)
    cable = line.cable
    length, category = (cable.length, cable.category) if cable else (None, None)
    key = klass, pse_type, watts if stated else None, length, category
    met = known.get(key)
    if met is None:
        met = known[key] = _cabled(*key)
    return PoeFeed(
        thing, port, line, klass, pse_type, assumed, met.reserved, met.pd_watts, stated, met.drawn, met.pd_volts,
        met.ohms, length is not None, next((i for i in thing.inlets if i.source is not None), None),
    )  # fmt: skip


def _cabled(
    klass: int, pse_type: int | None, watts: float | None, length: float | None, category: str | None
) -> _Cabled:
    kind = pse_type or poe.type_needed(klass)
    granted = poe.CLASSES[min(klass, poe.highest_class(kind))]
    row = poe.TYPES[kind]
    pd_watts = granted.pd_watts if watts is None else watts
    pair_sets = min(poe.pair_sets_of(klass), row.pair_sets)
    ohms = poe.loop_ohms(length, pse_type=kind, category=category, pair_sets=pair_sets)
    point = poe.feed(pd_watts, ohms, row.pse_volts_min)
    drawn, volts = (point.pse_watts, point.pd_volts) if point else (None, None)
    return _Cabled(granted.pse_watts, pd_watts, drawn, volts, ohms)


def _assumes(switch: Any, known: dict[Any, Any]) -> bool:
    """Say whether a switch has a PoE budget and says of none of its ports what type it is."""
    if switch.id not in known:
        typed = any(port.poe for port in switch.port_)
        known[switch.id] = getattr(switch, "poe_budget", None) is not None and not typed
    return bool(known[switch.id])


def _draw(thing: Networked) -> tuple[str, float]:
    """Return which figure in watts says what a thing draws at work, and the watts [W]; ("", 0) where none does."""
    intake = thing.intake
    for reading in intake.measured:
        if reading.state == "busy" and reading.draw is not None and reading.draw.unit == "W":
            return "measured", reading.draw.value
    if intake.peak is not None and intake.peak.unit == "W":
        return "peak", intake.peak.value
    return "", 0.0


@working(reads=_READS)
def poe_budgets(plan: Plan, poe_feeds: list[PoeFeed]) -> list[PoeBudget]:
    """Return what each switch that feeds PoE gives, beside its budget less the reserve of the plan."""
    by_switch: dict[str, list[PoeFeed]] = {}
    for feed in poe_feeds:
        if feed.fed and isinstance(feed.port.thing, Switch):
            by_switch.setdefault(feed.port.thing.id, []).append(feed)
    return [_budget(feeds, plan.head.reserve) for feeds in by_switch.values()]


def _budget(feeds: list[PoeFeed], reserve: float) -> PoeBudget:
    switch: Any = feeds[0].port.thing
    mode = switch.poe_reserves or "class"
    by_class: dict[int, tuple[int, float]] = {}
    for feed in feeds:
        number, watts = by_class.get(feed.klass, (0, 0.0))
        by_class[feed.klass] = number + 1, watts + (feed.counted if mode == "draw" else feed.reserved)
    budget = switch.poe_budget
    return PoeBudget(
        switch, budget, None if budget is None else budget * (1 - reserve), mode,
        sum(feed.reserved for feed in feeds), sum(feed.counted for feed in feeds), by_class, feeds,
    )  # fmt: skip


@working(reads=_READS)
def poe_takes(poe_feeds: list[PoeFeed]) -> dict[str, PoeTake]:
    """Return, by the id of the thing whose ports feed PoE, what it takes from its own input for that.

    Formula: the sum of the watts at its ports / poe_efficiency; what is not stated is counted by class, and the
    efficiency as 1.
    """
    sums: dict[str, tuple[Any, float, list[str]]] = {}
    for feed in poe_feeds:
        if feed.fed:
            source = feed.port.thing
            _, watts, missing = sums.get(source.id, (source, 0.0, []))
            if not feed.stated:
                missing.append(f"{feed.thing.id} peak")
            sums[source.id] = source, watts + feed.counted, missing
    takes = {}
    for name, (source, watts, missing) in sums.items():
        efficiency = getattr(source, "poe_efficiency", None)
        unknown = [f"{name} poe_efficiency"] if efficiency is None else []
        takes[name] = PoeTake(watts / (efficiency or 1.0), not unknown, (*unknown, *missing))
    return takes

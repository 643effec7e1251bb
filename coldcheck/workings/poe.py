"""Power over Ethernet: what feeds what, through which cable, and what each switch gives and takes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan import poe
from coldcheck.plan.kinds import Draw
from coldcheck.plan.model import InletPoint, LinkLine, Plan, PortPoint
from coldcheck.plan.tables import Networked, Port, Switch

from .ports import class_of, poe_type_of

__all__ = [
    "PassiveEnd", "PoeBudget", "PoeFeed", "PoeTake", "passive_ends", "poe_budgets", "poe_feeds", "poe_rings",
    "poe_takes", "watts_at",
]  # fmt: skip

_PASSIVE = "passive"
_READS = ("plan", "node", "storage", "appliance", "switch", "link", "uplink")


class PoeFeed(msgspec.Struct):
    """A thing that takes power by its data cable, and the port at the other end of it.

    ``klass`` [-] is 0 to 8, or None where it takes what comes unasked (passive). ``pse_type`` [-] is 1 to 4, or None
    where the port is not said to feed so; ``assumed`` says that it is counted all the same, since its switch has a
    budget and says of no port which type it is. ``reserved`` [W] is what the class sets aside at the port, no more
    than the type gives; without a class it is what is drawn. ``pd_watts`` [W] is what the thing takes at its end: its
    reading at work, else its peak and what it hands on, else the most of its class; ``stated`` names that figure, ""
    where it is the class's or there is none. ``handed`` [W] is what it takes for its own PoE ports. ``volts`` [V] at
    the port are the lowest of the type or those stated, None where they are not known; ``drawn`` [W] is what the port
    then gives, with the loss in the cable, or None where that cannot be; ``pd_volts`` [V] is what is left at the thing.
    ``loop_ohms`` [ohm] is the worst channel allowed where ``cable_known`` is false. ``other`` is an inlet that is fed
    as well.
    """

    thing: Networked
    port: PortPoint
    line: LinkLine
    klass: int | None
    pse_type: int | None
    assumed: bool
    reserved: float
    pd_watts: float
    stated: str
    volts: float | None
    drawn: float | None
    pd_volts: float | None
    loop_ohms: float
    cable_known: bool
    other: InletPoint | None
    handed: float = 0.0

    @property
    def passive(self) -> bool:
        """Whether volts that nobody asks for come to a thing that takes them so."""
        return self.klass is None and self.port.spec.poe == _PASSIVE

    @property
    def fed(self) -> bool:
        """Whether the port feeds it, by what the plan says or for want of better knowledge."""
        return self.assumed or self.passive or (self.klass is not None and self.pse_type is not None)

    @property
    def alone(self) -> bool:
        """Whether it has no other power: an inlet that names a source, even one that does not exist, is other power."""
        own = self.other or self.thing.own_power
        return not (own or self.thing.from_ or any(inlet.from_ for inlet in self.thing.inlet))

    @property
    def counted(self) -> float:
        """The watts at the port [W], the reserved ones where the cable cannot carry what is drawn."""
        return self.reserved if self.drawn is None else self.drawn


class PassiveEnd(msgspec.Struct):
    """A port that puts volts on its pairs unasked, its cable, and the port they reach: None outside the plan."""

    port: PortPoint
    line: LinkLine
    meets: PortPoint | None


class PoeBudget(msgspec.Struct):
    """What one switch gives by PoE.

    ``budget`` [W], None where it is not stated; ``mode`` is what counts: ``class`` or ``draw``; ``reserved`` [W] is
    the sum by class and ``drawn`` [W] the sum at the ports; ``limit`` [W] is the budget less the plan's reserve;
    ``by_class`` has how many things and how many watts [W] each class takes, None being what has none. ``feeds`` are in
    the order in which they are served: by priority, then by port; ``dark`` are those that find no power then, or less
    than the guard. ``by_draw`` [W] is what would count by draw, in steps as asked for by LLDP, where the budget then
    feeds all; None where it does not, or counts so already.
    """

    switch: Switch
    budget: float | None
    limit: float | None
    mode: str
    reserved: float
    drawn: float
    by_class: dict[int | None, tuple[int, float]]
    feeds: list[PoeFeed]
    dark: list[PoeFeed]
    by_draw: float | None

    @property
    def counts(self) -> float:
        """The sum that is held against the budget [W]."""
        return self.drawn if self.mode == "draw" else self.reserved

    def asks(self, feed: PoeFeed) -> float:
        """Return what one port counts with [W]."""
        return feed.counted if self.mode == "draw" else feed.reserved


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
            if thing.poe is not None and (end := _pse_end(plan, thing)) is not None:
                feed = _feed(thing, class_of(thing), *end, known)
                if feed.fed or (feed.other is None and not thing.own_power):
                    found.append(feed)
    _hand_on(found)
    return found


def _pse_end(plan: Plan, thing: Networked) -> tuple[PortPoint, LinkLine] | None:
    """Return the port that feeds a thing as it wants it, else one that feeds at all, else any; and the cable."""
    passive = thing.poe == _PASSIVE
    best: tuple[PortPoint, LinkLine] | None = None
    least = 6
    for own, other, line in _ends(plan, thing):
        kind = other.spec.poe
        rank = 4 if kind is None else 0 if (kind == _PASSIVE) is passive else 2
        rank += own.spec.poe is not None  # a port that gives power is seldom the one that takes it
        if rank < least:
            best, least = (other, line), rank
    return best


def _ends(plan: Plan, thing: Networked) -> Iterator[tuple[PortPoint, PortPoint, LinkLine]]:
    """Yield every port of a thing that has a cable, the port at the other end, and the cable."""
    for own in plan.ports.get(thing.id, ()):
        for line in own.links:
            other = line.b if line.a is own else line.a
            if other is not None and other.thing is not thing:
                yield own, other, line


@working(reads=_READS)
def passive_ends(plan: Plan) -> list[PassiveEnd]:
    """Return every cabled port that puts volts on its pairs without a question asked, and what they reach."""
    return [
        PassiveEnd(end, line, line.other(end))
        for line in plan.links
        for end in (line.a, line.b)
        if end is not None and end.spec.poe == _PASSIVE
    ]


@working(reads=_READS)
def poe_rings(plan: Plan, poe_feeds: list[PoeFeed]) -> list[list[PoeFeed]]:
    """Return every ring of things that take their only power by PoE from each other, none from outside the ring."""
    hungry = {f.thing.id: f for f in poe_feeds if f.fed and f.alone}
    sources = {
        name: {feed.port.thing.id}
        | {
            other.thing.id
            for _, other, _ in _ends(plan, feed.thing)
            if other.spec.poe is not None and (other.spec.poe == _PASSIVE) is (feed.klass is None)
        }
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


class _Cabled(msgspec.Struct):
    """What one kind of thing meets behind one kind of cable; a plan repeats a few of them many times."""

    reserved: float
    pd_watts: float
    volts: float | None
    drawn: float | None
    pd_volts: float | None
    ohms: float


def _feed(
    thing: Networked, klass: int | None, port: PortPoint, line: LinkLine, known: dict[Any, Any]
) -> PoeFeed:
    pse_type = poe_type_of(port.spec)
    assumed = port.spec.poe is None and _assumes(port.thing, known)
    other = next((i for i in thing.inlets if i.source is not None), None)
    length, category = (line.cable.length, line.cable.category) if line.cable else (None, None)
    if klass is None:
        stated, draw = _figure(thing, ("W", "A"))
        met = _unasked(thing, port.spec, draw, length, category)
    else:
        stated, draw = _figure(thing, ("W",))
        key = klass, pse_type, draw.value if draw else None, length, category
        met = known.get(key) or _cabled(*key)
        known[key] = met
    return PoeFeed(
        thing, port, line, klass, pse_type, assumed, met.reserved, met.pd_watts, stated, met.volts, met.drawn,
        met.pd_volts, met.ohms, length is not None, other,
    )  # fmt: skip


def watts_at(thing: Networked, switch: Switch, port: Port) -> float:
    """Return what a switch would count for a thing of a PoE class behind one of its ports [W]: the watts of the class,
    or what the thing draws at most, with the loss in its cable, where the switch counts that.
    """
    klass = class_of(thing)
    if klass is None:
        return 0.0
    cable = thing.cable
    length, category = (cable.length, cable.category) if cable is not None else (None, None)
    _, draw = _figure(thing, ("W",))
    met = _cabled(klass, poe_type_of(port), draw.value if draw else None, length, category)
    return met.drawn if switch.poe_reserves == "draw" and met.drawn is not None else met.reserved


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
    return _Cabled(granted.pse_watts, pd_watts, row.pse_volts_min, drawn, volts, ohms)


def _unasked(
    thing: Networked, spec: Port, draw: Draw | None, length: float | None, category: str | None
) -> _Cabled:
    """Return what a passive thing meets; a cable of unknown figures counts as what types 2 to 4 allow.

    Amps that meet unknown volts count with the least that the thing works at: a sum of them is a lower bound.
    """
    volts = spec.poe_volts if spec.poe == _PASSIVE else None
    ohms = poe.loop_ohms(length, pse_type=2, category=category, pair_sets=2 if spec.poe_pins == "all" else 1)
    if draw is None:
        return _Cabled(0.0, 0.0, volts, None, None, ohms)
    least = volts or (thing.poe_volts[0] if thing.poe_volts else 0.0)
    watts = draw.value if draw.unit == "W" else draw.value * least
    point = None
    if volts:
        point = (poe.feed if draw.unit == "W" else poe.feed_amps)(draw.value, ohms, volts)
    if point is None:
        return _Cabled(watts, watts, volts, None, None, ohms)
    return _Cabled(
        point.pse_watts, point.pse_watts - point.loss, volts, point.pse_watts, point.pd_volts, ohms
    )


def _hand_on(feeds: list[PoeFeed]) -> None:
    """Count what things that live on PoE alone take for their own PoE ports, from the far end of each chain."""
    given: dict[str, list[PoeFeed]] = {}
    for feed in feeds:
        if feed.fed:
            given.setdefault(feed.port.thing.id, []).append(feed)
    todo = {feed.thing.id: feed for feed in feeds if feed.fed and feed.alone and feed.thing.id in given}
    while todo:
        _, first = todo.popitem()
        chain = [(first, iter(given[first.thing.id]))]  # each is fed by the one before it
        while chain:
            feed, fed = chain[-1]
            below = next((each for each in fed if each.thing.id in todo), None)
            if below is None:
                _take_more(feed, given)
                chain.pop()
            else:
                chain.append((todo.pop(below.thing.id), iter(given[below.thing.id])))


def _take_more(feed: PoeFeed, given: dict[str, list[PoeFeed]]) -> None:
    share = getattr(feed.thing, "poe_efficiency", None) or 1.0
    feed.handed = sum(each.counted for each in given[feed.thing.id]) / share
    if feed.stated == "measured":
        return  # a reading at work has it all
    feed.pd_watts = feed.pd_watts + feed.handed if feed.stated else max(feed.pd_watts, feed.handed)
    point = poe.feed(feed.pd_watts, feed.loop_ohms, feed.volts) if feed.volts else None
    feed.drawn, feed.pd_volts = (point.pse_watts, point.pd_volts) if point else (None, None)
    if feed.klass is None:
        feed.reserved = feed.pd_watts if feed.drawn is None else feed.drawn


def _assumes(switch: Any, known: dict[Any, Any]) -> bool:
    """Say whether a switch has a PoE budget and says of none of its ports what type it is."""
    if switch.id not in known:
        typed = any(port.poe for port in switch.port_)
        known[switch.id] = getattr(switch, "poe_budget", None) is not None and not typed
    return bool(known[switch.id])


def _figure(thing: Networked, units: tuple[str, ...]) -> tuple[str, Draw | None]:
    """Return which figure in one of the units says what a thing draws at work, and the figure; "" where none does."""
    intake = thing.intake
    for reading in intake.measured:
        if reading.state == "busy" and reading.draw is not None and reading.draw.unit in units:
            return "measured", reading.draw
    if intake.peak is not None and intake.peak.unit in units:
        return "peak", intake.peak
    return "", None


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
    feeds = sorted(feeds, key=lambda feed: (_priority(feed), _number(feed)))
    budget = switch.poe_budget
    total = PoeBudget(
        switch, budget, None if budget is None else budget * (1 - reserve), mode,
        sum(feed.reserved for feed in feeds), sum(feed.counted for feed in feeds), {}, feeds, [], None,
    )  # fmt: skip
    for feed in feeds:
        number, watts = total.by_class.get(feed.klass, (0, 0.0))
        total.by_class[feed.klass] = number + 1, watts + total.asks(feed)
    if budget is not None:
        total.dark = _unfed(total, [total.asks(feed) for feed in feeds])
        total.by_draw = _by_draw(total) if mode == "class" else None
    return total


def _unfed(total: PoeBudget, watts: list[float]) -> list[PoeFeed]:
    """Return who finds no power when the ports are served in their order, each asking for its watts [W]."""
    asked = ((0, i, each) for i, each in enumerate(watts))  # the feeds are in their order already
    _, unfed, _ = poe.share_budget(total.budget or 0.0, asked, total.switch.poe_guard or 0.0)
    return [total.feeds[i] for i in unfed]


def _by_draw(total: PoeBudget) -> float | None:
    watts = [poe.lldp_watts(feed.counted) for feed in total.feeds]
    return None if _unfed(total, watts) else sum(watts)


def _priority(feed: PoeFeed) -> int:
    return poe.PRIORITIES.index(feed.port.spec.poe_priority or "low")


def _number(feed: PoeFeed) -> tuple[int, str]:
    name = feed.port.id
    return (int(name), "") if name.isdecimal() else (1 << 30, name)


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

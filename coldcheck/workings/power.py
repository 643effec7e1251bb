"""Amps and volts: what every outlet gives in time, what arrives at every inlet, and which outlets share a limit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, OutletPoint, Plan, joined
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Feed

from .harness import Pair
from .net import Branch, Net, Steps, source_volts, stray_known, value_at

__all__ = [
    "SHORT",
    "Arrival",
    "Branch",
    "Loading",
    "Net",
    "Total",
    "arrivals",
    "inlets",
    "loading",
    "rails",
    "settled",
    "source_volts",
    "sources",
    "stray_known",
    "totals",
    "wired",
]

#: A surge that lasts longer than this counts as continuous [s].
SHORT = 60.0


def settled(steps: Steps) -> float:
    """Return the highest level that a series holds, unbroken, for longer than a short surge."""
    if len(steps) < 2:
        return steps[0][1] if steps else 0.0  # a group without members gives nothing
    starts = [start for start, _ in steps]
    ends = [*starts[1:], float("inf")]
    best = steps[-1][1]  # the last holds for ever
    for i, start in enumerate(starts):
        low = float("inf")
        for j in range(i, len(steps)):
            low = min(low, steps[j][1])
            if ends[j] - start > SHORT:
                best = max(best, low)
                break
            if low <= best:
                break
    return best


class Loading:
    """Every net of a plan by the name of its source, and answers about them."""

    def __init__(self, nets: dict[str, Net], missing: dict[str, list[str]], ambient: float = 30.0) -> None:
        self.nets = nets
        self.missing = missing
        self.ambient = ambient  #: of the plan [degC]
        self._branches: dict[str, tuple[Net, int]] | None = None

    def amps(self, outlet: OutletPoint) -> list[tuple[float, float]]:
        """Return the amps out of an outlet in time, in the corner where they are most: [(start [s], amps)]."""
        net = self.nets.get(outlet.name)
        if net is not None and net.root is outlet:
            return net.worst.total
        found = [place for taker in outlet.takers if (place := self.branch(taker)) is not None]
        found = [(net, i) for net, i in found if not net.branches[i].is_return]
        series = [net.worst.series(i) for net, i in found if net.worst.amps]
        if all(len(steps) == 1 for steps in series):
            return [(0.0, sum(steps[0][1] for steps in series))]
        from coldcheck.dc.steps import add

        return add(series)

    def watts(self, outlet: OutletPoint) -> Steps:
        """Return the watts out of an outlet in time, in the corner where they are most: [(start [s], watts)]."""
        net = self.nets.get(outlet.name)
        if net is not None and net.root is outlet:
            return net.worst.watts
        volts = source_volts(outlet)
        return [(at, amps * volts[0]) for at, amps in self.amps(outlet)] if volts else [(0.0, 0.0)]

    def branch(self, inlet: InletPoint) -> tuple[Net, int] | None:
        """Return the net an inlet hangs on and the number of its branch there."""
        if self._branches is None:
            self._branches = {
                branch.inlet.name: (net, i)
                for net in self.nets.values()
                for i, branch in enumerate(net.branches)
            }
        return self._branches.get(inlet.name)

    def story(self, outlet: OutletPoint, at: float) -> str:
        """Return who draws how much at a moment, largest share first."""
        net = self.nets.get(outlet.name)
        if net is None or net.root is not outlet:
            found = [place for t in outlet.takers if (place := self.branch(t)) and place[0].worst.amps]
        else:
            direct = enumerate(net.branches if net.worst.amps else ())
            found = [(net, i) for i, b in direct if b.parent == net.stem and i > net.stem]
        found = [(net, i) for net, i in found if not net.branches[i].is_return]
        return _told([(n.branches[i].inlet, value_at(n.worst.series(i), at)) for n, i in found])


def _told(shares: list[tuple[InletPoint, float]]) -> str:
    groups: dict[tuple[str, str, int], list[tuple[str, float]]] = {}
    for inlet, amps in shares:
        key = (inlet.thing.table, getattr(inlet.thing, "part", None) or "", round(amps * 1000))
        groups.setdefault(key, []).append((inlet.thing.id, amps))
    parts = []
    for members in sorted(groups.values(), key=lambda m: -sum(a for _, a in m)):
        names = listed([name for name, _ in members])
        each = members[0][1]
        parts.append(
            f"{names} {len(members)} × {each:.3g} A" if len(members) > 1 else f"{names} {each:.3g} A"
        )
    shown = parts if len(parts) <= 6 else [*parts[:5], f"{len(parts) - 5} smaller ones"]
    return ", ".join(shown)


@working(reads=("plan",))
def loading(plan: Plan, nets: dict[str, Net]) -> Loading:
    """Amps out of every outlet [A] in time, and volts at every inlet [V]."""
    return Loading(nets, {name: net.missing for name, net in nets.items()}, plan.head.ambient)


class Arrival:
    """What arrives at one inlet: the most amps [A], the lowest and the nominal volts [V], None where unknown.

    ``settled`` is the most that lasts longer than a short surge [A], ``steady`` the lowest volts that do [V].
    ``fed`` holds the nominal, lowest and highest volts of the source of its net, and is None where an inlet above it is
    fed wrongly already; ``lacks`` is what on the way to it the plan does not say; ``net`` and ``i`` are the net it
    hangs on and the number of its branch there.
    """

    __slots__ = (
        "amps",
        "fed",
        "i",
        "inlet",
        "lacks",
        "low",
        "name",
        "net",
        "nominal",
        "settled",
        "spec",
        "steady",
        "thing",
    )

    def __init__(
        self, inlet: InletPoint, net: Net, i: int, fed: tuple[float, float, float] | None, lacks: str
    ) -> None:
        self.inlet, self.net, self.i, self.fed, self.lacks = inlet, net, i, fed, lacks
        self.thing: Any = inlet.thing
        self.spec, self.name = inlet.spec, inlet.name
        self.amps: float | None = None
        self.settled: float | None = None
        self.low: float | None = None
        self.steady: float | None = None
        self.nominal: float | None = None

    def __str__(self) -> str:
        return self.name

    @property
    def path(self) -> Any:
        """Where the plan says what feeds it."""
        return self.inlet.path

    @property
    def numbers(self) -> list[int]:
        """The numbers of the branches from this inlet back to the source."""
        numbers, i = [], self.i
        while i >= 0:
            numbers.append(i)
            i = self.net.branches[i].parent
        return numbers

    @property
    def way(self) -> list[Branch]:
        """The branches from this inlet back to the source."""
        return [self.net.branches[i] for i in self.numbers]


@working(reads=("feed", "supply"))
def sources(plan: Plan) -> list[tuple[float, OutletPoint]]:
    """Every feed and rail with its nominal volts [V], lowest first; rails that hand volts on are left out."""
    found = [
        (volts[0], outlet)
        for thing in plan.order
        if thing.table in ("feed", "supply")
        for outlet in thing.outlets
        if outlet.via is None and (volts := source_volts(outlet))
    ]
    return sorted(found, key=lambda pair: pair[0])


@working(reads=())
def arrivals(nets: dict[str, Net]) -> list[Arrival]:
    """What arrives at every inlet that hangs on a net."""
    return [arrival for net in nets.values() for arrival in _arrivals(net)]


def _arrivals(net: Net) -> Iterator[Arrival]:
    worst, nominal = net.worst, net.nominal
    volts = source_volts(net.root)
    given: list[tuple[float, float, float] | None] = []
    lacks: list[str] = []
    wrong: list[bool] = []
    for i, branch in enumerate(net.branches):
        above = branch.parent
        lacks.append(branch.ohms.missing or (lacks[above] if above >= 0 else ""))
        astray = above >= 0 and wrong[above]
        window = branch.inlet.spec.volts
        fed = given[above] if above >= 0 else volts
        if net.group and fed is not None:
            fed = _fed_together(net, i, fed)
        given.append(_behind_diode(branch, fed))
        wrong.append(
            astray or (window is not None and fed is not None and not window[0] <= fed[0] <= window[1])
        )
        arrival = Arrival(branch.inlet, net, i, None if astray else fed, lacks[i])
        if (
            worst.volts and worst.volts[i] > 0
        ):  # a run that cannot be carried reads zero; rails.collapse tells it
            arrival.amps = worst.amps[i]
            arrival.settled = worst.amps[i] if not worst.history else settled(worst.series(i))
            if not lacks[i]:
                arrival.low, arrival.nominal = worst.volts[i], nominal.volts[i]
                arrival.steady = -settled([(at, -low) for at, low in worst.dips(i)])
        yield arrival


Volts = tuple[float, float, float]


def _behind_diode(branch: Branch, volts: Volts | None) -> Volts | None:
    """Return nominal, lowest and highest volts of a source as they are handed on behind a run: less a diode's drop."""
    drop = branch.diode
    return tuple(max(0.0, each - drop) for each in volts) if drop and volts is not None else volts  # type: ignore[return-value]


def _fed_together(net: Net, i: int, own: Volts) -> Volts:
    """Return what may reach an inlet in which sources meet: the highest of all of them, and the lowest of its own.

    The highest nominal volts carry, and the highest volts of any may arrive.
    """
    meeting = joined(net.branches[i].inlet.thing)
    if not meeting:
        return own
    all_of_them = [own, *(volts for inlet in meeting if (volts := _on_the_way(inlet)) is not None)]
    return max(v[0] for v in all_of_them), own[1], max(v[2] for v in all_of_them)


def _on_the_way(inlet: InletPoint) -> Volts | None:
    """Return the volts of the source of an inlet, less the diodes on its way."""
    drop, here = 0.0, inlet
    while here.source is not None and here.source.via is not None:
        here = here.source.via
        drop += getattr(here.thing, "drop", None) or 0.0
    volts = source_volts(here.source) if here.source is not None else None
    return (volts[0] - drop, volts[1] - drop, volts[2] - drop) if volts is not None else None


class Total(msgspec.Struct):
    """Outlets of one thing that share a limit, in amps or watts."""

    thing: Any
    name: str
    outlets: list[OutletPoint]
    amps: float | None
    watts: float | None
    spec: Any

    @property
    def path(self) -> Any:
        """Where the limit is stated."""
        own = self.spec.path[: len(self.thing.path)] == self.thing.path
        return self.spec.path if own else self.thing.path

    def __str__(self) -> str:
        return self.name


@working(reads=())
def totals(plan: Plan) -> list[Total]:
    """Every group of outlets that shares a limit, and every supply or feed that limits all its outlets together."""
    found = []
    things: list[Any] = [thing for thing in plan.order if thing.outlets]
    for thing in things:
        for group in getattr(thing, "group", ()):
            members = [o for o in thing.outlets if getattr(o.spec, "group", None) == group.id]
            found.append(Total(thing, f"{thing.id}.{group.id}", members, group.amps, group.watts, group))
        watts = getattr(thing, "watts", None)
        several = thing.table == "feed" and thing.outlet
        amps = thing.amps if several else None
        if (watts is not None and (thing.table == "supply" or several)) or amps is not None:
            found.append(Total(thing, thing.id, list(thing.outlets), amps, watts, thing))
    return found


@working(reads=())
def inlets(plan: Plan) -> list[InletPoint]:
    """Every inlet that is fed."""
    return [inlet for thing in plan.order for inlet in thing.inlets if inlet.source is not None]


@working(reads=("harness",))
def wired(inlets: list[InletPoint], pairs: dict[str, Pair]) -> list[InletPoint]:
    """Every inlet whose wires are listed pin by pin."""
    return [inlet for inlet in inlets if inlet.name in pairs] if pairs else []


@working(reads=())
def rails(plan: Plan) -> list[OutletPoint]:
    """Every feed, rail and outlet that feeds something, or has a limit."""
    return [o for thing in plan.order for o in thing.outlets if o.takers or isinstance(o.spec, Feed)]

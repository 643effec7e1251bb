"""Nets: what hangs on each stiff source, as a tree of runs; and the amps and volts that follow from it.

A feed and a regulated rail hold their volts; everything they feed without a converter in between is one tree, solved
by `coldcheck.dc.radial`. A converter is a constant-power load of the tree above it, so the trees are solved from the
last rail up to the feeds. Start-up is a chain of such points: one for each stretch in which nothing changes.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck.dc import radial
from coldcheck.dc.converter import input_power
from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Feed, Supply

from .draws import Drawn, Draws
from .harness import Pair
from .leads import Leads, Ohms
from .starts import Start

__all__ = [
    "Arrival",
    "Branch",
    "Corner",
    "SHORT",
    "Loading",
    "Net",
    "Total",
    "Worst",
    "inlets",
    "loading",
    "nets",
    "rails",
    "settled",
    "source_volts",
    "spell",
    "stray_known",
    "totals",
    "wired",
]


class Branch:
    """One run of a net: the inlet at its end, what it hangs on, its resistance, and what is drawn there."""

    __slots__ = ("draw", "extra", "inlet", "ohms", "parent", "steps")

    def __init__(self, inlet: InletPoint, parent: int, ohms: Ohms, draw: Drawn) -> None:
        self.inlet = inlet
        self.parent = parent  #: number of the branch it hangs on, -1 for the source
        self.ohms = ohms
        self.draw = draw
        self.extra: list[
            list[tuple[float, float]]
        ] = []  #: further watts: converters and PoE, as steps, per corner
        self.steps: list[tuple[float, float]] | None = None  #: own draw in time, where it is not constant


class Corner(msgspec.Struct):
    """One corner of a net, solved: per branch the lowest volts and the most amps; for the source amps in time.

    ``history`` holds the amps of every branch in each stretch of the start-up, where there is more than one.
    """

    volts: list[float]
    amps: list[float]
    total: list[tuple[float, float]]
    collapsed: int | None = None
    history: list[tuple[float, list[float]]] = []

    def series(self, i: int) -> list[tuple[float, float]]:
        """Return the amps of one branch in time: [(start [s], amps)]."""
        if not self.history:
            return [(0.0, self.amps[i])]
        return [(at, amps[i]) for at, amps in self.history]


#: A surge that lasts longer than this counts as continuous [s].
SHORT = 60.0


def settled(steps: list[tuple[float, float]]) -> float:
    """Return the most amps that last longer than a short surge."""
    ends = [start for start, _ in steps[1:]] + [float("inf")]
    return max(amps for (start, amps), end in zip(steps, ends, strict=True) if end - start > SHORT)


class Net:
    """What hangs on one source. ``nominal`` and ``worst`` are its solved corners; a net is solved when it is built."""

    def __init__(self, root: OutletPoint, branches: list[Branch]) -> None:
        self.root = root
        self.branches = branches
        self.starts: list[float] = [0.0]
        self.missing: list[str] = []
        self.nominal: Corner = _NO_CORNER
        self.worst: Corner = _NO_CORNER

    @property
    def name(self) -> str:
        """What its source is called."""
        return self.root.name

    @property
    def path(self) -> Any:
        """Where its source stands in the plan."""
        return self.root.path

    @property
    def thing(self) -> Any:
        """The thing its source belongs to."""
        return self.root.thing

    @property
    def spec(self) -> Any:
        """What the plan says of its source."""
        return self.root.spec

    def __str__(self) -> str:
        return self.name


_NO_CORNER = Corner([], [], [(0.0, 0.0)])


class Worst(msgspec.Struct):
    """The worst moment of an outlet against its limits: how much, when, for how long, and why."""

    amps: float
    at: float
    seconds: float
    story: str


class Loading:
    """Every net of a plan by the name of its source, and answers about them."""

    def __init__(self, nets: dict[str, Net], missing: dict[str, list[str]]) -> None:
        self.nets = nets
        self.missing = missing
        self._branches: dict[str, tuple[Net, int]] | None = None

    def amps(self, outlet: OutletPoint) -> list[tuple[float, float]]:
        """Return the amps out of an outlet in time, in the corner where they are most: [(start [s], amps)]."""
        net = self.nets.get(outlet.name)
        if net is not None and net.root is outlet:
            return net.worst.total
        found = [place for taker in outlet.takers if (place := self.branch(taker)) is not None]
        series = [net.worst.series(i) for net, i in found if net.worst.amps]
        if all(len(steps) == 1 for steps in series):
            return [(0.0, sum(steps[0][1] for steps in series))]
        from coldcheck.dc.steps import add

        return add(series)

    def branch(self, inlet: InletPoint) -> tuple[Net, int] | None:
        """Return the net an inlet hangs on and the number of its branch there."""
        if self._branches is None:
            self._branches = {
                branch.inlet.name: (net, i)
                for net in self.nets.values()
                for i, branch in enumerate(net.branches)
            }
        return self._branches.get(inlet.name)

    def worst(self, outlet: OutletPoint) -> Worst:
        """Return the moment when an outlet gives most, how long it gives more than its rating, and to whom."""
        steps = self.amps(outlet)
        at, amps = max(steps, key=lambda step: (step[1], -step[0]))
        return Worst(amps, at, spell(steps, at), self.story(outlet, at))

    def story(self, outlet: OutletPoint, at: float) -> str:
        """Return who draws how much at a moment, largest share first."""
        net = self.nets.get(outlet.name)
        if net is None or net.root is not outlet:
            found = [(t, place) for t in outlet.takers if (place := self.branch(t)) and place[0].worst.amps]
            return _told([(t, _value(net.worst.series(i), at)) for t, (net, i) in found], at)
        watts, amps, ohms = _loads_at(net, at, 1)
        solved = _solve(net, 1, watts, amps, ohms)
        shares = [(b.inlet, solved.amps[i]) for i, b in enumerate(net.branches) if b.parent < 0]
        return _told(shares, at)


def spell(steps: list[tuple[float, float]], at: float) -> float:
    """Return how long the value reached at ``at`` [s] lasts; for ever is infinite."""
    later = [start for start, _ in steps if start > at]
    return later[0] - at if later else float("inf")


def _told(shares: list[tuple[InletPoint, float]], at: float) -> str:
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


# --- corners of a source --------------------------------------------------------------------------------------------


def source_volts(outlet: OutletPoint) -> tuple[float, float, float] | None:
    """Return (nominal, lowest, highest) volts of a feed or rail [V]; None where the plan does not say."""
    spec: Any = outlet.spec
    volts = spec.volts
    if volts is None:
        if spec.low is not None and spec.high is not None:
            volts = (spec.low + spec.high) / 2
        else:
            return None
    spread = spec.spread or 0.0
    low = spec.low if spec.low is not None else volts * (1 - spread)
    high = spec.high if spec.high is not None else volts * (1 + spread)
    return volts, low, high


def stray_known(outlet: OutletPoint) -> bool:
    """Say whether the plan tells how far the volts of a source may stray."""
    spec: Any = outlet.spec
    return spec.spread is not None or (spec.low is not None and spec.high is not None)


# --- building -------------------------------------------------------------------------------------------------------


@working(reads=("feed", "supply", "inline", "node", "storage", "drive", "switch", "fan", "appliance"))
def nets(
    plan: Plan, draws: Draws, leads: Leads, starts: dict[str, Start], poe_takes: dict[str, Any]
) -> dict[str, Net]:
    """Every source with the tree that hangs on it, solved in both corners; last rails first."""
    return _Builder(plan, draws, leads, starts, poe_takes).run()


class _Builder:
    def __init__(
        self, plan: Plan, draws: Draws, leads: Leads, starts: dict[str, Start], poe_takes: dict[str, Any]
    ) -> None:
        self.plan, self.draws, self.leads, self.starts, self.poe = plan, draws, leads, starts, poe_takes
        self.nets: dict[str, Net] = {}
        self._alike: dict[Any, tuple[Corner, Corner]] = {}
        #: watts that the converters of a thing ask of its inlets, in time, nominal and worst
        self.asked: dict[str, tuple[list[tuple[float, float]], list[tuple[float, float]]]] = {}
        self.lacking: dict[str, list[str]] = {}

    def run(self) -> dict[str, Net]:
        for thing in reversed(self.plan.order):
            roots = [outlet for outlet in thing.outlets if outlet.via is None]
            solved = [net for outlet in roots if (net := self._net(outlet)) is not None]
            if solved and thing.table != "feed":
                self._ask(thing, solved)
        return self.nets

    def _net(self, root: OutletPoint) -> Net | None:
        branches: list[Branch] = []
        volts = source_volts(root)
        net = Net(root, branches)
        self._hang(net, root, -1, volts[0] if volts else 0.0)
        self.nets[root.name] = net
        if volts is None:
            net.missing.append(f"{root.name} volts")
        elif branches and volts[1] > 0:  # a rail below zero is left out, and `volts.unset` says so
            self._solve(net)
        return net

    def _solve(self, net: Net) -> None:
        """Solve a net, or take over the answer of one that is alike: racks are built of equal shelves."""
        branches = net.branches
        if len(net.starts) > 1 or any(branch.extra for branch in branches):
            _solve_all(net)
            return
        # Draws and leads are shared by equal runs, and kept for as long as the builder, so their ids name them.
        alike = (source_volts(net.root), *[(id(b.ohms), id(b.draw), b.parent) for b in branches])
        found = self._alike.get(alike)
        if found is None:
            _solve_all(net)
            self._alike[alike] = net.nominal, net.worst
        else:
            net.nominal, net.worst = found

    def _hang(self, net: Net, outlet: OutletPoint, parent: int, volts: float) -> None:
        """Put everything an outlet feeds without a converter in between on the net; no recursion: runs may be long."""
        todo = [(outlet, parent)]
        branches = net.branches
        while todo:
            source, above = todo.pop()
            for inlet in source.takers:
                draw = self.draws.of(inlet, volts)
                thing = inlet.thing
                branch = Branch(inlet, above, self._ohms(inlet, source), draw)
                self._events(net, branch)
                if draw.missing:
                    net.missing += [f"{inlet.name} {figure}" for figure in draw.missing]
                if thing.outlets:
                    for handed in thing.outlets:
                        if handed.via is inlet:
                            todo.append((handed, len(branches)))
                if thing.table == "supply" or thing.id in self.asked or thing.id in self.poe:
                    self._converters(net, branch, thing)
                branches.append(branch)

    def _ohms(self, inlet: InletPoint, source: OutletPoint) -> Ohms:
        ohms = self.leads.of(inlet)
        if getattr(source.thing, "drop", None):
            # The solver knows resistances only, so what lies behind a diode is not judged rather than judged wrong.
            return msgspec.structs.replace(ohms, missing=f"what {source.thing.id} drops at this current")
        return ohms

    def _events(self, net: Net, branch: Branch) -> None:
        """Lay out a draw in time: waiting, surge, settled."""
        draw = branch.draw
        if not draw.surge:
            return
        start = self.starts.get(branch.inlet.thing.id)
        at = start.at if start is not None else 0.0
        steps = [(0.0, draw.waiting)] if at > 0 else []
        for value, seconds in draw.surge:
            steps.append((at, value))
            at += seconds
        steps.append((at, draw.value))
        branch.steps = steps
        net.starts += [moment for moment, _ in steps]

    def _converters(self, net: Net, branch: Branch, thing: Any) -> None:
        asked = self.asked.get(thing.id)
        if asked is not None:
            branch.extra = [asked[0], asked[1]]
            net.starts += [moment for moment, _ in asked[0]]
        elif isinstance(thing, Supply) and thing.standing:
            branch.extra = [[(0.0, thing.standing)], [(0.0, thing.standing)]]
        net.missing += self.lacking.get(thing.id, [])
        take = self.poe.get(thing.id)
        if take is not None:
            more = [(0.0, take.watts)]
            branch.extra = [_added(series, more) for series in branch.extra] or [more, more]
            net.missing += take.missing

    def _ask(self, thing: Any, solved: list[Net]) -> None:
        """Turn what the converters of a thing give into what they take from its inlets."""
        lacking = [name for net in solved for name in net.missing]
        corners: list[list[tuple[float, float]]] = []
        for pick in ("nominal", "worst"):
            total: list[tuple[float, float]] = [(0.0, getattr(thing, "standing", None) or 0.0)]
            for net in solved:
                volts = source_volts(net.root)
                efficiency = getattr(net.root.spec, "efficiency", None) or getattr(thing, "efficiency", None)
                if volts is None:
                    continue
                taken = [
                    (at, input_power(amps * volts[0], efficiency or 1.0))
                    for at, amps in getattr(net, pick).total
                ]
                total = _added(total, taken)
                if efficiency is None and pick == "worst" and net.branches:
                    lacking.append(f"{net.root.name} efficiency")
            corners.append(total)
        self.asked[thing.id] = corners[0], corners[1]
        if lacking:
            self.lacking[thing.id] = lacking


def _added(a: list[tuple[float, float]], b: list[tuple[float, float]]) -> list[tuple[float, float]]:
    if len(a) == 1 and len(b) == 1:
        return [(0.0, a[0][1] + b[0][1])]
    from coldcheck.dc.steps import add

    return add([a, b])


# --- solving --------------------------------------------------------------------------------------------------------


def _value(steps: list[tuple[float, float]], at: float) -> float:
    """Return the value of a series at a moment: that of the last step not after it."""
    value = 0.0
    for start, level in steps:
        if start > at:
            break
        value = level
    return value


def _loads_at(net: Net, at: float, corner: int) -> tuple[list[float], list[float], list[float]]:
    """Return watts, amps and siemens of every branch at a moment."""
    n = len(net.branches)
    watts, amps, siemens = [0.0] * n, [0.0] * n, [0.0] * n
    for i, branch in enumerate(net.branches):
        draw = branch.draw
        value = draw.value if branch.steps is None else _value(branch.steps, at)
        if draw.unit == "W":
            watts[i] = value
        elif draw.unit == "A":
            amps[i] = value
        elif value > 0:
            siemens[i] = 1 / value
        if branch.extra:
            watts[i] += _value(branch.extra[corner], at)
    return watts, amps, siemens


def _solve(
    net: Net, corner: int, watts: list[float], amps: list[float], siemens: list[float]
) -> radial.Solution:
    volts = source_volts(net.root)
    assert volts is not None
    ohms = [b.ohms.worst if corner else b.ohms.nominal for b in net.branches]
    return radial.solve(volts[corner], [b.parent for b in net.branches], ohms, watts, amps, siemens)


def _solve_all(net: Net) -> None:
    """Solve both corners of a net in every stretch of its start-up."""
    starts = sorted(set(net.starts))
    for corner, name in ((0, "nominal"), (1, "worst")):
        n = len(net.branches)
        result = Corner([float("inf")] * n, [0.0] * n, [])
        for at in starts:
            solved = _solve(net, corner, *_loads_at(net, at, corner))
            if solved.collapsed is not None and result.collapsed is None:
                result.collapsed = solved.collapsed
            if len(starts) > 1:
                result.history = [*result.history, (at, solved.amps)]
            if len(starts) == 1:
                result.volts, result.amps = solved.volts, solved.amps
            else:
                result.volts = list(map(min, result.volts, solved.volts))
                result.amps = list(map(max, result.amps, solved.amps))
            if not result.total or result.total[-1][1] != solved.total:
                result.total.append((at, solved.total))
        setattr(net, name, result)


@working(reads=())
def loading(nets: dict[str, Net]) -> Loading:
    """Amps out of every outlet [A] in time, and volts at every inlet [V]."""
    return Loading(nets, {name: net.missing for name, net in nets.items()})


class Arrival:
    """What arrives at one inlet: the most amps [A], the lowest and the nominal volts [V], None where unknown.

    ``settled`` is the most that lasts longer than a short surge [A]. ``fed`` holds the nominal, lowest and highest
    volts of the source of its net, and is None where an inlet above it is fed wrongly already; ``lacks`` is what on the
    way to it the plan does not say; ``net`` and ``i`` are the net it hangs on and the number of its branch there.
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
        self.nominal: float | None = None

    def __str__(self) -> str:
        return self.name

    @property
    def path(self) -> Any:
        """Where the plan says what feeds it."""
        return self.inlet.path

    @property
    def way(self) -> list[Branch]:
        """The branches from this inlet back to the source."""
        way, i = [], self.i
        while i >= 0:
            way.append(self.net.branches[i])
            i = way[-1].parent
        return way


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
    solved = bool(worst.volts) and worst.collapsed is None
    volts = source_volts(net.root)
    lacks: list[str] = []
    wrong: list[bool] = []
    for i, branch in enumerate(net.branches):
        above = branch.parent
        lacks.append(branch.ohms.missing or (lacks[above] if above >= 0 else ""))
        astray = above >= 0 and wrong[above]
        window = branch.inlet.spec.volts
        wrong.append(
            astray or (window is not None and volts is not None and not window[0] <= volts[0] <= window[1])
        )
        arrival = Arrival(branch.inlet, net, i, None if astray else volts, lacks[i])
        if solved:
            arrival.amps = worst.amps[i]
            arrival.settled = worst.amps[i] if not worst.history else settled(worst.series(i))
            if not lacks[i]:
                arrival.low, arrival.nominal = worst.volts[i], nominal.volts[i]
        yield arrival


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

"""Nets: what hangs on each stiff source, as a tree of runs, solved in its corners and in time.

A feed and a regulated rail hold their volts; everything they feed without a converter in between is one tree, solved
by `coldcheck.dc.radial`. A converter is a constant-power load of the tree above it, so the trees are solved from the
last rail up to the feeds. Start-up is a chain of such points: one for each stretch in which nothing changes.

Three corners are solved. Nominal: source, copper and contacts as they should be. Low: the source at its lowest, every
run at its greatest resistance; volts are least there, and what takes constant power draws most. High: the source at
its highest through nominal runs, where resistances and converters of constant current draw most; it is solved where
something of that kind hangs on the net.
"""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.dc import radial
from coldcheck.dc.converter import input_power
from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.tables import Intake, Supply

from .draws import NOTHING, Drawn, Draws
from .leads import Leads, Ohms
from .starts import Start

__all__ = ["Branch", "Corner", "Net", "Steps", "nets", "solve_at", "source_volts", "stray_known", "value_at"]

#: A value in time: (start [s], value), each held until the next start, the last for ever.
Steps = list[tuple[float, float]]


class Branch:
    """One run of a net: the inlet at its end, what it hangs on, its resistance, and what is drawn there."""

    __slots__ = ("at", "draw", "extra", "inlet", "ohms", "parent", "steps")

    def __init__(self, inlet: InletPoint, parent: int, ohms: Ohms, draw: Drawn) -> None:
        self.inlet = inlet
        self.parent = parent  #: number of the branch it hangs on, -1 for the source
        self.ohms = ohms
        self.draw = draw
        self.extra: tuple[Steps, Steps] | None = None  #: watts of converters and PoE, nominal and most
        self.at = 0.0  #: when its motor starts [s]
        self.steps: Steps | None = None  #: own draw in time, where it is not constant


class Corner(msgspec.Struct):
    """One corner of a net, solved: per branch the lowest volts [V] and the most amps [A].

    ``total`` and ``watts`` are what the source gives in time [A, W]; ``history`` holds the amps of every branch in each
    stretch of the start-up, where there is more than one; ``collapsed`` is a branch that cannot be carried.
    """

    volts: list[float]
    amps: list[float]
    total: Steps
    watts: Steps
    collapsed: int | None = None
    history: list[tuple[float, list[float]]] = []

    def series(self, i: int) -> Steps:
        """Return the amps of one branch in time."""
        if not self.history:
            return [(0.0, self.amps[i])]
        return [(at, amps[i]) for at, amps in self.history]


_UNSOLVED = Corner([], [], [(0.0, 0.0)], [(0.0, 0.0)])


class Net:
    """What hangs on one source; solved when it is built.

    ``worst`` has the volts of the low corner and, at every moment, the most amps and watts of all corners. ``stem`` is
    the branch that everything hangs on: the lead moulded to an adapter, or -1 for the source itself.
    """

    def __init__(self, root: OutletPoint) -> None:
        self.root = root
        self.branches: list[Branch] = []
        self.stem = -1
        self.starts: list[float] = [0.0]
        self.missing: list[str] = []
        self.nominal: Corner = _UNSOLVED
        self.worst: Corner = _UNSOLVED

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


def source_volts(outlet: OutletPoint) -> tuple[float, float, float] | None:
    """Return (nominal, lowest, highest) volts [V] of the source behind an outlet; None where the plan does not say.

    What only hands power on has the volts of what feeds it, whatever is written on it.
    """
    while outlet.via is not None and outlet.via.source is not None:
        outlet = outlet.via.source
    spec: Any = outlet.spec
    volts = spec.volts
    if volts is None:
        if spec.low is not None and spec.high is not None:
            volts = (spec.low + spec.high) / 2
        else:
            return None
    spread = spec.spread or 0.0
    low = spec.low if spec.low is not None else volts - abs(volts) * spread
    high = spec.high if spec.high is not None else volts + abs(volts) * spread
    return volts, low, high


def stray_known(outlet: OutletPoint) -> bool:
    """Say whether the plan tells how far the volts of a source may stray."""
    spec: Any = outlet.spec
    return spec.spread is not None or (spec.low is not None and spec.high is not None)


@working(reads=("feed", "supply", "inline", "node", "storage", "drive", "switch", "fan", "appliance"))
def nets(
    plan: Plan, draws: Draws, leads: Leads, starts: dict[str, Start], poe_takes: dict[str, Any]
) -> dict[str, Net]:
    """Every source with the tree that hangs on it, solved in its corners; last rails first."""
    return _Builder(plan, draws, leads, starts, poe_takes).run()


class _Builder:
    def __init__(
        self, plan: Plan, draws: Draws, leads: Leads, starts: dict[str, Start], poe_takes: dict[str, Any]
    ) -> None:
        self.plan, self.draws, self.leads, self.starts, self.poe = plan, draws, leads, starts, poe_takes
        self.nets: dict[str, Net] = {}
        self._alike: dict[Any, tuple[Corner, Corner]] = {}
        #: watts that the converters of a thing ask of its inlets, nominal and most
        self.asked: dict[str, tuple[Steps, Steps]] = {}
        self.lacking: dict[str, list[str]] = {}

    def run(self) -> dict[str, Net]:
        for thing in reversed(self.plan.order):
            solved = [self._net(outlet) for outlet in thing.outlets if _is_source(outlet)]
            if solved and thing.table != "feed":
                self._ask(thing, solved)
        return self.nets

    def _net(self, root: OutletPoint) -> Net:
        net = self.nets[root.name] = Net(root)
        volts = source_volts(root)
        captive = getattr(root.spec, "lead", None)
        if captive is not None and root.takers:
            end = InletPoint(root.thing, "lead", _LEAD_END, captive)  # type: ignore[arg-type]
            end.source = root
            net.branches.append(Branch(end, -1, self.leads.bare(captive), NOTHING))
            net.stem = 0
        self._hang(net, root, volts[0] if volts else 0.0)
        if volts is not None and net.branches and min(volts) > 0:
            self._solve(net)
        return net

    def _solve(self, net: Net) -> None:
        """Solve a net, or take over the answer of one that is alike: racks are built of equal shelves."""
        branches = net.branches
        if any(branch.extra for branch in branches):
            net.nominal, net.worst = _solved(net)
            return
        # Draws and leads are shared by equal runs, and kept for as long as the builder, so their ids name them.
        alike = (source_volts(net.root), *[(id(b.ohms), id(b.draw), b.parent, b.at) for b in branches])
        found = self._alike.get(alike)
        if found is None:
            found = self._alike[alike] = _solved(net)
        net.nominal, net.worst = found

    def _hang(self, net: Net, root: OutletPoint, volts: float) -> None:
        """Put everything an outlet feeds without a converter in between on the net; no recursion: runs may be long."""
        todo = [(root, net.stem)]
        branches = net.branches
        while todo:
            source, above = todo.pop()
            for inlet in source.takers:
                thing = inlet.thing
                draw = self.draws.of(inlet, volts)
                branch = Branch(inlet, above, self._ohms(inlet, source), draw)
                if draw.surge:
                    self._events(net, branch)
                if draw.missing:
                    net.missing += [f"{inlet.name} {figure}" for figure in draw.missing]
                # Taken from the end: put in backwards, outlets come in the order they are written.
                todo += [(handed, len(branches)) for handed in thing.outlets[::-1] if handed.via is inlet]
                if thing.table == "supply" or thing.id in self.asked or thing.id in self.poe:
                    self._converters(net, branch, thing)
                branches.append(branch)

    def _ohms(self, inlet: InletPoint, source: OutletPoint) -> Ohms:
        ohms = self.leads.of(inlet)
        holder: Any = source.thing
        if getattr(holder, "drop", None) or getattr(holder, "what", None) == "diode":
            # The solver knows resistances only, so what lies behind a diode is not judged rather than judged wrong.
            return msgspec.structs.replace(ohms, missing=f"what {holder.id} drops at this current")
        return ohms

    def _events(self, net: Net, branch: Branch) -> None:
        """Lay out a draw in time: waiting, surge, settled."""
        draw = branch.draw
        start = self.starts.get(branch.inlet.thing.id)
        at = branch.at = start.at if start is not None else 0.0
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
            branch.extra = asked
            net.starts += [moment for steps in asked for moment, _ in steps]
        elif isinstance(thing, Supply) and thing.standing:
            branch.extra = [(0.0, thing.standing)], [(0.0, thing.standing)]
        net.missing += self.lacking.get(thing.id, [])
        take = self.poe.get(thing.id)
        if take is not None:
            more = [(0.0, take.watts)]
            nominal, most = branch.extra or ([(0.0, 0.0)], [(0.0, 0.0)])
            branch.extra = _added(nominal, more), _added(most, more)
            net.missing += take.missing

    def _ask(self, thing: Any, solved: list[Net]) -> None:
        """Turn what the converters of a thing give into what they take from its inlets."""
        lacking = [name for net in solved for name in net.missing]
        standing = getattr(thing, "standing", None) or 0.0
        nominal: Steps = [(0.0, standing)]
        most: Steps = [(0.0, standing)]
        for net in solved:
            efficiency = getattr(net.root.spec, "efficiency", None) or getattr(thing, "efficiency", None)
            share = efficiency or 1.0
            nominal = _added(nominal, [(at, input_power(watts, share)) for at, watts in net.nominal.watts])
            most = _added(most, [(at, input_power(watts, share)) for at, watts in net.worst.watts])
            if efficiency is None and net.branches:
                lacking.append(f"{net.root.name} efficiency")
        self.asked[thing.id] = nominal, most
        if lacking:
            self.lacking[thing.id] = lacking


_LEAD_END = Intake()


def _is_source(outlet: OutletPoint) -> bool:
    """Say whether an outlet holds its own volts; what hands power on does not, even where nothing feeds it."""
    kind = getattr(outlet.spec, "kind", None)
    return outlet.via is None and kind != "pass-through" and outlet.thing.table != "inline"


def _added(a: Steps, b: Steps) -> Steps:
    if len(a) == 1 or len(b) == 1:
        (constant, series) = (a, b) if len(a) == 1 else (b, a)
        more = constant[0][1]
        return [(at, value + more) for at, value in series]
    from coldcheck.dc.steps import add

    return add([a, b])


# --- solving --------------------------------------------------------------------------------------------------------


def value_at(steps: Steps, at: float) -> float:
    """Return the value of a series at a moment: that of the last step not after it."""
    value = 0.0
    for start, level in steps:
        if start > at:
            break
        value = level
    return value


#: (which of nominal, lowest and highest volts; greatest resistances; most watts of converters)
_NOMINAL, _LOW, _HIGH = (0, False, 0), (1, True, 1), (2, False, 1)


def _loads_at(net: Net, at: float, most: int) -> tuple[list[float], list[float], list[float]]:
    """Return watts, amps and siemens of every branch at a moment."""
    n = len(net.branches)
    watts, amps, siemens = [0.0] * n, [0.0] * n, [0.0] * n
    for i, branch in enumerate(net.branches):
        draw = branch.draw
        value = draw.value if branch.steps is None else value_at(branch.steps, at)
        if draw.unit == "W":
            watts[i] = value
        elif draw.unit == "A":
            amps[i] = value
        elif value > 0:
            siemens[i] = 1 / value
        if branch.extra:
            watts[i] += value_at(branch.extra[most], at)
    return watts, amps, siemens


def solve_at(net: Net, at: float, corner: tuple[int, bool, int] = _LOW) -> radial.Solution:
    """Return the operating point of a net at one moment [s] of its start-up, in one corner."""
    volts = source_volts(net.root)
    assert volts is not None
    ohms = [b.ohms.worst if corner[1] else b.ohms.nominal for b in net.branches]
    return radial.solve(
        volts[corner[0]], [b.parent for b in net.branches], ohms, *_loads_at(net, at, corner[2])
    )


def _solved(net: Net) -> tuple[Corner, Corner]:
    """Solve a net in every stretch of its start-up: the nominal corner, and the worst of the others."""
    nominal, low = _corner(net, _NOMINAL), _corner(net, _LOW)
    if all(branch.draw.unit == "W" or not branch.draw.value for branch in net.branches):
        return nominal, low
    high = _corner(net, _HIGH)
    pairs = zip(low.history, high.history, strict=True)
    worst = Corner(
        low.volts,
        _most(low.amps, high.amps),
        [(at, max(a, b)) for (at, a), (_, b) in zip(low.total, high.total, strict=True)],
        [(at, max(a, b)) for (at, a), (_, b) in zip(low.watts, high.watts, strict=True)],
        low.collapsed,
        [(at, _most(a, b)) for (at, a), (_, b) in pairs],
    )
    return nominal, worst


def _most(a: list[float], b: list[float]) -> list[float]:
    return list(map(max, a, b))


def _corner(net: Net, corner: tuple[int, bool, int]) -> Corner:
    volts = source_volts(net.root)
    assert volts is not None
    starts = sorted(set(net.starts))
    n = len(net.branches)
    result = Corner([float("inf")] * n, [0.0] * n, [], [])
    history = []
    for at in starts:
        solved = solve_at(net, at, corner)
        if solved.collapsed is not None and result.collapsed is None:
            result.collapsed = solved.collapsed
        result.volts = solved.volts if len(starts) == 1 else list(map(min, result.volts, solved.volts))
        result.amps = solved.amps if len(starts) == 1 else _most(result.amps, solved.amps)
        result.total.append((at, solved.total))
        result.watts.append((at, solved.total * volts[corner[0]]))
        history.append((at, solved.amps))
    if len(starts) > 1:
        result.history = history
    return result

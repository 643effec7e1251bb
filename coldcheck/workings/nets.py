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

from coldcheck.dc.converter import input_power
from coldcheck.engine.rules import working
from coldcheck.plan.kinds import Points
from coldcheck.plan.model import InletPoint, OutletPoint, Plan, joined
from coldcheck.plan.tables import Intake, Supply

from .converting import efficiency_at
from .corners import solved
from .draws import NOTHING, Draws
from .leads import Leads, Ohms, fuse_ohms
from .net import Branch, Corner, Net, Steps, source_volts
from .starts import Start, lay_out
from .units import units
from .webs import Webs

__all__ = ["added_up", "asked_by", "efficiency_at", "nets"]


@working(reads=("feed", "supply", "inline", "node", "storage", "drive", "switch", "fan", "appliance"))
def nets(
    plan: Plan, draws: Draws, leads: Leads, starts: dict[str, Start], poe_takes: dict[str, Any], webs: Webs
) -> dict[str, Net]:
    """Every source with the tree that hangs on it, solved in its corners; last rails first."""
    return _Builder(plan, draws, leads, starts, poe_takes, webs).run()


class _Builder:
    def __init__(
        self, plan: Plan, draws: Draws, leads: Leads, starts: dict[str, Start], poe_takes: dict[str, Any],
        webs: Webs,
    ) -> None:  # fmt: skip
        self.webs = webs
        self.plan, self.draws, self.leads, self.starts, self.poe = plan, draws, leads, starts, poe_takes
        self.nets: dict[str, Net] = {}
        self._inner: dict[tuple[float, float], Ohms] = {}
        self._alike: dict[Any, tuple[Corner, Corner]] = {}
        #: watts that the converters of a thing ask of its inlets, nominal and most
        self.asked: dict[str, tuple[Steps, Steps]] = {}
        self.lacking: dict[str, list[str]] = {}
        self._inside: set[str] = set()

    def run(self) -> dict[str, Net]:
        for unit in units(self.plan, self.webs):
            # Where a converter and what feeds it are solved as one, so are all of its rails.
            self._inside = {thing.id for thing in unit} if len(unit) > 1 else set()
            found = [
                (thing, self._net(outlet)) for thing in unit for outlet in thing.outlets if outlet.is_source
            ]
            together = [net for _, net in found if net.group]
            if self._inside:
                self._pass_up(together)
            if together:
                self._together(together, unit, self.webs)
            for thing in unit:
                own = [net for holder, net in found if holder is thing]
                if own and thing.table != "feed":
                    self._ask(thing, own)
        return self.nets

    def _pass_up(self, together: list[Net]) -> None:
        """Name on each net what is missing below the converters on it that are solved with it."""
        for _ in self._inside:  # a chain is no longer than the unit
            for net in together:
                for branch in net.branches:
                    thing = branch.inlet.thing
                    rails = [other for other in together if other.thing is thing and other is not net]
                    for rail in rails if thing.id in self._inside else ():
                        efficiency = getattr(rail.root.spec, "efficiency", None) or getattr(
                            thing, "efficiency", None
                        )
                        lacks = list(rail.missing)
                        lacks += [f"{rail.name} efficiency"] if efficiency is None and rail.branches else []
                        net.missing += [name for name in lacks if name not in net.missing]

    @staticmethod
    def _together(together: list[Net], unit: list[Any], webs: Webs) -> None:
        """Solve nets that hang together as one circuit."""
        from .circuits import Group

        loaded = [net for net in together if net.branches]
        for net in together:
            net.group = None
        # Where the volts of one are not known, or at or below zero, none is solved.
        if loaded and all(min(source_volts(net.root) or (0.0,)) > 0 for net in loaded):
            Group(loaded, [thing.id for thing in unit], webs).solve()

    def _net(self, root: OutletPoint) -> Net:
        net = self.nets[root.name] = Net(root)
        if self._inside:
            net.group = True
        volts = source_volts(root)
        own = getattr(root.spec, "ohms", None) or 0.0
        fuse = getattr(root.spec, "fuse", None)
        before = fuse_ohms(fuse) if fuse is not None else (0.0, 0.0)
        if (own or fuse is not None) and root.takers:
            end = InletPoint(root.thing, "source", _LEAD_END, None)  # type: ignore[arg-type]
            end.source = root
            inside = own + before[0], own + before[1]
            ohms = self._inner.setdefault(inside, Ohms(*inside))  # equal ones are one, as those of runs are
            net.branches.append(Branch(end, -1, ohms, NOTHING))
            net.stem = 0
        captive = getattr(root.spec, "lead", None)
        if captive is not None and root.takers:
            end = InletPoint(root.thing, "lead", _LEAD_END, captive)  # type: ignore[arg-type]
            end.source = root
            net.branches.append(Branch(end, net.stem, self.leads.bare(captive), NOTHING))
            net.stem = len(net.branches) - 1
        self._hang(net, root, volts[0] if volts else 0.0)
        if not net.group and volts is not None and net.branches and min(volts) > 0:
            self._solve(net)
        return net

    def _solve(self, net: Net) -> None:
        """Solve a net, or take over the answer of one that is alike: racks are built of equal shelves."""
        branches = net.branches
        if any(branch.extra for branch in branches):
            net.nominal, net.worst = solved(net)
            return
        # Draws and leads are shared by equal runs, and kept for as long as the builder, so their ids name them.
        alike = (
            source_volts(net.root),
            *[(id(b.ohms), id(b.draw), b.parent, tuple(b.steps or ())) for b in branches],
        )
        found = self._alike.get(alike)
        if found is None:
            found = self._alike[alike] = solved(net)
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
                meets = joined(thing) if len(thing.inlets) > 1 else ()
                if meets and inlet is not meets[0]:
                    draw = NOTHING  # the first inlet stands for the load that all of them share
                branch = Branch(inlet, above, self._ohms(inlet, source), draw)
                branch.way_back = thing.way_back
                if inlet.name in self.webs.of:
                    branch.web = self.webs.back(inlet.name)
                if meets or branch.way_back or branch.is_return or branch.diode is not None or branch.web:
                    net.group = True
                if draw.surge or thing.id in self.starts:
                    self._events(net, branch)
                if draw.missing:
                    net.missing += [f"{inlet.name} {figure}" for figure in draw.missing]
                # Taken from the end: put in backwards, outlets come in the order they are written.
                todo += [(handed, len(branches)) for handed in thing.outlets[::-1] if handed.via is inlet]
                converts = thing.table == "supply" or thing.id in self.asked or thing.id in self.poe
                if converts and not (meets and inlet is not meets[0]):
                    self._converters(net, branch, thing)
                branches.append(branch)

    def _ohms(self, inlet: InletPoint, source: OutletPoint) -> Ohms:
        ohms = self.leads.of(inlet)
        holder: Any = source.thing
        if (
            getattr(holder, "what", None) == "diode"
            and holder.drop is None
            and source.via is not None
            and source.via.spec.ohms is None
        ):
            return msgspec.structs.replace(ohms, missing=f"what {holder.id} drops at this current")
        return ohms

    def _events(self, net: Net, branch: Branch) -> None:
        lay_out(branch, self.starts.get(branch.inlet.thing.id))
        net.starts += [moment for moment, _ in branch.steps or ()]

    def _converters(self, net: Net, branch: Branch, thing: Any) -> None:
        asked = self.asked.get(thing.id)
        if asked is not None:
            branch.extra = asked
            net.starts += [moment for steps in asked for moment, _ in steps]
        elif isinstance(thing, Supply) and thing.standing and thing.id not in self._inside:
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
        nominal, most, unknown = asked_by(thing, solved)
        self.asked[thing.id] = nominal, most
        lacking = [*(name for net in solved for name in net.missing), *unknown]
        if lacking:
            self.lacking[thing.id] = lacking


def asked_by(thing: Any, rails: list[Net]) -> tuple[Steps, Steps, list[str]]:
    """Return what the converters of a thing take for what its rails give, nominal and most [W], and what is not known.

    A rail goes by its own efficiency; the others go together by that of the thing.
    """
    standing = getattr(thing, "standing", None) or 0.0
    nominal: Steps = [(0.0, standing)]
    most: Steps = [(0.0, standing)]
    whole = getattr(thing, "efficiency", None)
    unknown, rest = [], []
    for net in rails:
        efficiency = getattr(net.root.spec, "efficiency", None)
        if efficiency is None and whole is not None:
            rest.append(net)
            continue
        nominal = _added(nominal, _taken(net, net.nominal.watts, efficiency))
        most = _added(most, _taken(net, net.worst.watts, efficiency))
        if efficiency is None and net.branches:
            unknown.append(f"{net.root.name} efficiency")
    if whole is not None and rest:
        nominal = _added(nominal, _taken_by_all(rest, [net.nominal.watts for net in rest], whole))
        most = _added(most, _taken_by_all(rest, [net.worst.watts for net in rest], whole))
    return nominal, most, unknown


_LEAD_END = Intake()


def _taken(net: Net, watts: Steps, efficiency: Points | None) -> Steps:
    """Return what a converter takes for what one of its rails gives [W]; what is pushed in, it does not give back."""
    watts = [(at, max(0.0, out)) for at, out in watts]
    if efficiency is None:
        return watts
    volts = (source_volts(net.root) or (0.0,))[0]
    return [(at, input_power(out, efficiency_at(efficiency, out, volts))) for at, out in watts]


def _taken_by_all(nets: list[Net], watts: list[Steps], efficiency: Points) -> Steps:
    """Return what a converter takes for all of its rails, by one efficiency at what they give together [W].

    A curve over amps is that of each rail by itself.
    """
    if efficiency.unit == "A":
        taken = [_taken(net, steps, efficiency) for net, steps in zip(nets, watts, strict=True)]
        return added_up(taken)
    given = [[(at, max(0.0, out)) for at, out in steps] for steps in watts]
    return [(at, input_power(out, efficiency_at(efficiency, out, 0.0))) for at, out in added_up(given)]


def added_up(many: list[Steps]) -> Steps:
    """Return the sum of several values in time."""
    total = many[0]
    for steps in many[1:]:
        total = _added(total, steps)
    return total


def _added(a: Steps, b: Steps) -> Steps:
    if len(a) == 1 or len(b) == 1:
        (constant, series) = (a, b) if len(a) == 1 else (b, a)
        more = constant[0][1]
        return [(at, value + more) for at, value in series]
    from coldcheck.dc.steps import add

    return add([a, b])

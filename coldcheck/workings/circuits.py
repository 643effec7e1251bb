"""Nets that hang together, solved as one circuit with both conductors of every run in it.

Needed where a tree of pairs is not enough: sources whose power meets, a wire back that things of several rails share,
diodes. What flows back in a shared wire lifts the ground of all that share it, so the disks on 12 V move the volts of
the boards on 5 V.

Which corner is worst is not the same for every limit here: of two sources side by side, one carries most when it is at
its highest and the other at its lowest; of two ways to one thing, the one with the fresher contacts. So the corners are
enumerated: every source at its lowest or highest, all contacts worn or new, and each way fresh among worn ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product
from typing import Any

import msgspec

from coldcheck.plan.model import InletPoint, joined
from coldcheck.plan.spans import listed

from .converting import efficiency_at
from .corners import loads_at
from .net import Branch, Corner, Net, source_volts
from .webs import Element, Node, Webs

__all__ = ["Group", "Lost", "Setting"]

#: Less than any real run has: the solver needs a resistance to tell the current by [ohm].
LEAST = 1e-7
#: How often a circuit is solved at most until converters inside take what they give and lose. Each round comes nearer
#: by what the wires lose of their power, a few percent.
ROUNDS = 40
#: Volts that are none [V].
NOTHING = 1e-6
#: Up to so many sources, every combination of their lowest and highest volts is a corner.
MOST_SOURCES = 6
#: Of so many ways on which sources meet, each is tried as the only fresh one.
MOST_WAYS = 40


class Setting(msgspec.Struct, frozen=True):
    """One corner: by net the pick of its volts (0 nominal, 1 lowest, 2 highest), and which runs are worn.

    ``fresh`` is an inlet that is as new while all others are worn; ``most``: converters ask their most; ``off`` are the
    nets whose source gives nothing, so that what they meet must carry alone.
    """

    volts: tuple[int, ...]
    worn: bool
    fresh: str = ""
    most: int = 1
    off: tuple[int, ...] = ()

    def told(self, nets: list[Net]) -> str:
        """Return the corner in words."""
        parts = [f"{listed([nets[k].name for k in self.off])} off"] if self.off else []
        for pick, word in ((1, "lowest"), (2, "highest")):
            names = [
                net.name
                for k, (net, mine) in enumerate(zip(nets, self.volts, strict=True))
                if mine == pick and _strays(net) and k not in self.off
            ]
            names.reverse()  # nets come last rails first
            if names:
                parts.append(f"{listed(names)} at {'its' if len(names) == 1 else 'their'} {word}")
        if self.fresh:
            parts.append(f"every contact worn but those of {self.fresh}")
        else:
            parts.append("contacts worn" if self.worn else "contacts new")
        return ", ".join(parts)


class Lost(msgspec.Struct, frozen=True):
    """Volts lost on one piece of the way to an inlet or ``back``: where, amps [A], ohms [ohm], and in a diode [V]."""

    where: Branch
    amps: float
    ohms: float
    back: bool
    drop: float = 0.0

    @property
    def volts(self) -> float:
        """What is lost there [V]."""
        return self.amps * self.ohms + self.drop


def _blocks(inlet: InletPoint) -> bool:
    """Say whether nothing flows back out of an inlet: by a diode inside, or because its sheet says so."""
    return getattr(inlet.thing, "use", None) == "or-ed" or inlet.spec.backfeed == "blocked"


def _back_from(net: Net, i: int) -> Iterator[int]:
    """Yield the branches from one back to the source."""
    while i >= 0:
        yield i
        i = net.branches[i].parent


def _strays(net: Net) -> bool:
    volts = source_volts(net.root)
    return volts is not None and volts[2] > volts[1]


class Group:
    """Several nets as one circuit. ``inside`` has the ids of the things whose rails it holds.

    Nodes are numbers below ``count``: of each net its ``plus``, of each thing its ``ground`` by id, of each branch its
    ``ends`` (plus, minus, plus of what hangs on it). ``wires`` are (from, to, branch, net, whether on the way back),
    ``ties`` join two nodes, ``diodes`` are (from, to, volts), ``load_at`` says where a load sits that several inlets
    share; ``web`` has (from, to, element) of harnesses that branch; ``converters`` are (in plus, in minus, out plus,
    out minus, net, thing). ``ways`` are the inlets on which sources meet; ``apart`` has the nets of each such place
    where nothing flows back, ``linked`` those where it may and nothing is said of what is inside the sources.
    """

    def __init__(self, nets: list[Net], inside: list[str], webs: Webs | None = None) -> None:
        self.nets = nets
        self.inside = set(inside)
        self.webs = webs
        self.web: list[
            tuple[int, int, Element]
        ] = []  #: resistances of harnesses that branch, between two nodes
        self._nodes: dict[Node, int] = {}  #: nodes of the webs
        self.tried: list[
            Point
        ] = []  #: every point that was solved at the edges, for who asks for more than the worst
        self.count = 0
        self.ground: dict[str, int] = {}
        self.plus: list[int] = []
        self.ends: list[
            list[tuple[int, int, int]]
        ] = []  #: per net and branch: plus, minus, plus of what hangs on it
        self._bars: dict[str, int] = {}
        self._number()
        self._layout()

    def _node(self) -> int:
        self.count += 1
        return self.count - 1

    def _number(self) -> None:
        for net in self.nets:
            self.plus.append(self._node())
            if net.root.thing.id not in self.ground:
                self.ground[net.root.thing.id] = self._node()
            ends = []
            for branch in net.branches:
                plus, minus = self._node(), self._node()
                ends.append((plus, minus, self._node() if branch.diode is not None else plus))
                if branch.is_return:
                    self._bars[branch.inlet.name] = minus
            self.ends.append(ends)

    def _layout(self) -> None:
        """Lay out wires as (from, to, branch, net, back): a pair for each run, one wire for a shared way back."""
        self.wires: list[tuple[int, int, int, int, bool]] = []
        self._wire_of: dict[tuple[int, int, bool], int] = {}
        self.ties: list[tuple[int, int]] = []
        self.diodes: list[tuple[int, int, float]] = []
        self._meet()
        for k, net in enumerate(self.nets):
            for i, branch in enumerate(net.branches):
                self._run(k, i, net, branch)
        self._lay_webs()
        self._converters()

    def _run(self, k: int, i: int, net: Net, branch: Branch) -> None:
        plus, minus, beyond = self.ends[k][i]
        above = branch.parent
        near_plus = self.plus[k] if above < 0 else self.ends[k][above][2]
        near_minus = self.ground[net.root.thing.id] if above < 0 else self.ends[k][above][1]
        if branch.way_back is not None:
            near_minus = self._bars.get(branch.way_back.name, near_minus)
        if branch.web is not None:
            near_plus = self._web_node(("in", branch.inlet.name))
            near_minus = self._web_node(branch.web)
        if not branch.is_return:
            self._wire_of[k, i, False] = len(self.wires)
            self.wires.append((near_plus, plus, i, k, False))
        self._wire_of[k, i, True] = len(self.wires)
        self.wires.append((minus, near_minus, i, k, True))
        if branch.diode is not None:
            self.diodes.append((plus, beyond, branch.diode))

    def _web_node(self, node: Node) -> int:
        found = self._nodes.get(node)
        if found is None:
            found = self._nodes[node] = self._node()
        return found

    def _lay_webs(self) -> None:
        """Lay the harnesses that branch between what feeds them and what they feed."""
        laid = [
            web
            for web in (self.webs.all if self.webs is not None else ())
            if any(("in", name) in self._nodes for name in web.inlets)
        ]
        if not laid:
            return
        self._nodes |= {node: place for node, place in self._sources().items() if node not in self._nodes}
        for web in laid:
            self.web += [(self._web_node(e.a), self._web_node(e.b), e) for e in web.elements]

    def _sources(self) -> dict[Node, int]:
        """Return the nodes of all that gives power or hands it on, by what a web calls them."""
        found: dict[Node, int] = {}
        for k, net in enumerate(self.nets):
            thing, stem = net.root.thing, net.stem
            found["plus", thing.id, net.root.id] = self.plus[k] if stem < 0 else self.ends[k][stem][2]
            found.setdefault(
                ("ground", thing.id), self.ground[thing.id] if stem < 0 else self.ends[k][stem][1]
            )
            for i, branch in enumerate(net.branches):
                if i <= stem:
                    continue
                for outlet in branch.inlet.thing.outlets:
                    if outlet.via is branch.inlet:
                        found["plus", outlet.thing.id, outlet.id] = self.ends[k][i][2]
                if branch.inlet.thing.table == "inline":
                    found.setdefault(("ground", branch.inlet.thing.id), self.ends[k][i][1])
        return found

    def _meet(self) -> None:
        """Join the inlets of things in which several sources meet, through diodes where they are or-ed."""
        places = {b.inlet.name: (k, i) for k, net in enumerate(self.nets) for i, b in enumerate(net.branches)}
        self.load_at: dict[tuple[int, int], tuple[int, int]] = {}
        self.ways: list[str] = []
        self.apart: list[set[int]] = []
        self.linked: list[list[int]] = []
        for k, net in enumerate(self.nets):
            for i, branch in enumerate(net.branches):
                meeting = joined(branch.inlet.thing)
                if not meeting or meeting[0] is not branch.inlet:
                    continue
                mine = self.ends[k][i]
                guarded = {inlet.name for inlet in meeting if _blocks(inlet)}
                plus = self._node() if guarded else mine[0]
                for inlet in meeting:
                    self._join(inlet, places, plus, mine[1], inlet.name in guarded)
                self.load_at[k, i] = plus, mine[1]
                self._sharing([places[inlet.name] for inlet in meeting if inlet.name in places])

    def _sharing(self, ways: list[tuple[int, int]]) -> None:
        """Note how sources share that meet: kept apart, or joined with nothing said of what is inside them."""
        sides = {k for k, _ in ways}
        if len(sides) < 2:
            return
        if all(self._guarded(k, i) for k, i in ways):
            self.apart.append(sides)
            return
        unsaid = [k for k in sorted(sides) if getattr(self.nets[k].root.spec, "ohms", None) is None]
        if len(unsaid) > 1:
            self.linked.append(unsaid)

    def _guarded(self, k: int, i: int) -> bool:
        """Say whether nothing flows back by a way on which sources meet."""
        branches = self.nets[k].branches
        return _blocks(branches[i].inlet) or any(
            branches[j].diode is not None for j in _back_from(self.nets[k], i)
        )

    def _join(
        self, inlet: InletPoint, places: dict[str, tuple[int, int]], plus: int, minus: int, guarded: bool
    ) -> None:
        place = places.get(inlet.name)
        if place is None:
            return
        self.ways.append(inlet.name)
        own = self.ends[place[0]][place[1]]
        if guarded:
            self.diodes.append((own[0], plus, 0.0))
            # What hangs on the thing hangs behind its diodes.
            self.ends[place[0]][place[1]] = own[0], own[1], plus
        elif own[0] != plus:
            self.ties.append((own[0], plus))
        if own[1] != minus:
            self.ties.append((own[1], minus))

    def _converters(self) -> None:
        """Couple the converters that take from one net of the group and give to another."""
        self.converters: list[tuple[int, int, int, int, int, Any]] = []
        self._fed_by: dict[str, set[int]] = {}
        self._input_of: dict[str, tuple[int, int]] = {}
        given = {net.root.thing.id for net in self.nets} & self.inside
        for k, net in enumerate(self.nets):
            for i, branch in enumerate(net.branches):
                thing = branch.inlet.thing
                # the lead and the resistance of a feed itself stand first on its net, and feed no converter
                if i <= net.stem or thing.id not in given or not any(o.is_source for o in thing.outlets):
                    continue
                if (meeting := joined(thing)) and meeting[0] is not branch.inlet:
                    continue  # it takes once, from where its inlets meet
                plus, minus = self.load_at.get((k, i), self.ends[k][i][:2])
                names = {inlet.name for inlet in meeting} or {branch.inlet.name}
                self._input_of[thing.id] = k, i
                self._fed_by[thing.id] = {
                    j
                    for j, other in enumerate(self.nets)
                    if any(b.inlet.name in names for b in other.branches)
                }
                if not getattr(thing, "isolated", None):
                    self.ties.append((minus, self.ground[thing.id]))
                for j, other in enumerate(self.nets):
                    if other.root.thing is thing:
                        self.converters.append((plus, minus, self.plus[j], self.ground[thing.id], j, thing))

    # --- solving ------------------------------------------------------------------------------------------------------

    def _lacking(self) -> Iterator[str]:
        """Yield what must be known before it can be said how sources that meet share their load."""
        for net in self.nets:
            for branch in net.branches:
                if branch.inlet.name in self.ways and branch.ohms.missing:
                    yield f"{branch.inlet.name} {branch.ohms.missing}"

    def settings(self) -> Iterator[Setting]:
        """Yield the corners worth solving."""
        follow = {k: nets[0] for nets in self.linked for k in nets[1:]}
        straying = [k for k, net in enumerate(self.nets) if _strays(net) and k not in follow]
        laws = {b.draw.unit for net in self.nets for b in net.branches if b.draw.value}
        wear = (True, False) if self.ways or laws - {"W"} else (True,)

        def volts_of(picks: tuple[int, ...]) -> tuple[int, ...]:
            volts = [1] * len(self.nets)
            for k, pick in zip(straying, picks, strict=True):
                volts[k] = pick
            for k, leader in follow.items():
                volts[k] = volts[leader]
            return tuple(volts)

        for picks in self._picks(straying):
            yield from (Setting(volts_of(picks), worn) for worn in wear)
        # One way fresh among worn ones carries most where its own source is at its highest, or all are alike.
        for way in self.ways[:MOST_WAYS]:
            own = {k for k, net in enumerate(self.nets) if any(b.inlet.name == way for b in net.branches)}
            own |= {follow[k] for k in own if k in follow}
            high = tuple(2 if k in own else 1 for k in straying)
            for picks in dict.fromkeys(((1,) * len(straying), (2,) * len(straying), high)):
                yield Setting(volts_of(picks), True, way)
        for sides in self.apart:
            for k in sorted(sides):
                off = tuple(sorted(sides - {k}))
                if k in self._dead(off):
                    continue  # it lives on one of those that it would stand in for
                for pick, worn in ((1, True), (2, False)):
                    yield Setting((pick,) * len(self.nets), worn, off=off)

    @staticmethod
    def _picks(straying: list[int]) -> list[tuple[int, ...]]:
        n = len(straying)
        if n <= MOST_SOURCES:
            return list(product((1, 2), repeat=n))
        single = [tuple(a if j == i else b for j in range(n)) for a, b in ((2, 1), (1, 2)) for i in range(n)]
        return [(1,) * n, (2,) * n, *single]

    def solve(self, settings: Iterable[Setting] = ()) -> None:
        """Solve every corner, or only some, at every moment and put the answers into the nets.

        Where a way on which sources meet is not described, how they share the load is not known: the nets stay
        unsolved, and name what is missing.
        """
        lacking = [*self._lacking()]
        if lacking:
            for net in self.nets:
                net.group = self
                net.missing += lacking
            return
        starts = sorted({at for net in self.nets for at in net.starts})
        nominal = Setting((0,) * len(self.nets), False, "", 0)
        single = len(starts) == 1
        self.tried = []
        for k, net in self._backups():
            off = tuple(sorted(set().union(*(sides for sides in self.apart if k in sides)) - {k}))
            if k in self._dead(off):
                continue
            net.alone = self._corner(msgspec.structs.replace(nominal, off=off), starts)[k]
        answers = [self._corner(setting, starts) for setting in settings or self.settings()]
        for k, net in enumerate(self.nets):
            net.group = self
            net.nominal = self._corner(nominal, starts)[k]
            net.worst = _worst([answer[k] for answer in answers], single)

    def _backups(self) -> Iterator[tuple[int, Net]]:
        """Yield the nets whose source may have to carry alone what others carry with it."""
        for k, net in enumerate(self.nets):
            if any(k in sides for sides in self.apart):
                yield k, net

    def _corner(self, setting: Setting, starts: list[float]) -> list[Corner]:
        """Return the corner of every net in one setting."""
        corners = [
            Corner([float("inf")] * len(net.branches), [0.0] * len(net.branches), [], [], None, [], [],
                   [(setting, 0.0)] * len(net.branches))
            for net in self.nets
        ]  # fmt: skip
        for at in starts:
            point = self.point(setting, at)
            if setting.most:
                self.tried.append(point)
            for k, corner in enumerate(corners):
                self._keep(corner, k, setting, at, point)
        return corners

    def _keep(self, corner: Corner, k: int, setting: Setting, at: float, point: Any) -> None:
        net = self.nets[k]
        volts = [self.volts_at(point, k, i) for i in range(len(net.branches))]
        amps = [self.amps_at(point, k, i) for i in range(len(net.branches))]
        if setting.off:  # what nothing feeds then has no volts to be judged
            volts = [now if now > NOTHING else float("inf") for now in volts]
        for i, (now, before) in enumerate(zip(volts, corner.volts, strict=True)):
            if now < before:
                corner.deciding[i] = setting, at
        corner.volts = list(map(min, corner.volts, volts))
        corner.amps = list(map(max, corner.amps, amps))
        total = point.out[k]
        corner.total.append((at, total))
        corner.watts.append((at, total * (source_volts(net.root) or (0.0,) * 3)[setting.volts[k]]))
        corner.history.append((at, amps))
        corner.course.append((at, volts))
        if point.collapsed is not None and point.collapsed[0] == k and corner.collapsed is None:
            corner.collapsed = point.collapsed[1]

    def volts_at(self, point: Any, k: int, i: int) -> float:
        """Return the volts at the end of a branch; of a shared wire back, those between its bar and the source."""
        return 0.0 if (k, i) in point.fallen else float(self.volts_of(point.volts, k, i))

    def volts_of(self, volts: Any, k: int, i: int) -> Any:
        """Return the volts at the end of a branch from those of all nodes, be they numbers or rows of samples."""
        plus, minus, _ = self.ends[k][i]
        if self.nets[k].branches[i].is_return:
            plus = self.plus[k]
        return volts[plus] - volts[minus]

    def amps_at(self, point: Any, k: int, i: int) -> float:
        """Return the amps in a branch."""
        back = self.nets[k].branches[i].is_return
        return float(point.wires[self._wire_of[k, i, back]])

    def point(self, setting: Setting, at: float) -> Point:
        """Return the operating point of the circuit in one setting at one moment [s]."""
        wires = [(a, b, self._ohms(k, i, setting, back)) for a, b, i, k, back in self.wires]
        wires += [(a, b, 0.0) for a, b in self.ties]
        wires += [(a, b, max(LEAST, e.worst if setting.worn else e.nominal)) for a, b, e in self.web]
        volts = self._volts(setting)
        loads, owners = [], []
        for k, net in enumerate(self.nets):
            for i, load in enumerate(zip(*loads_at(net, at, setting.most), strict=True)):
                if any(load):
                    loads.append((*self.load_at.get((k, i), self.ends[k][i][:2]), *load))
                    owners.append((k, i))
        return self.solved_with(wires, volts, loads, owners, setting.off)

    def _volts(self, setting: Setting) -> list[float]:
        """Return the volts of each source in a setting.

        Sources that meet with nothing said of what is inside them count as equal: how far apart they are decides who
        carries what, and `supplies.side_by_side` tells that; here it must not drive made-up amps through the leads.
        """
        volts = [
            (source_volts(net.root) or (0.0,) * 3)[pick]
            for net, pick in zip(self.nets, setting.volts, strict=True)
        ]
        for nets in self.linked:
            own = [volts[k] for k in nets]
            pick = setting.volts[nets[0]]
            common = sum(own) / len(own) if pick == 0 else min(own) if pick == 1 else max(own)
            for k in nets:
                volts[k] = common
        return volts

    def solved_with(
        self,
        wires: list[tuple[int, int, float]],
        volts: list[float],
        loads: list[tuple[int, int, float, float, float]],
        owners: list[tuple[int, int]],
        off: tuple[int, ...] = (),
    ) -> Point:
        """Return the operating point with wires (from, to, ohms), volts by net and loads (plus, minus, W, A, S).

        A converter inside is a source at its rail and a constant power at its input, which follows from what the rail
        gives: the two are brought together round by round, as it needs no more than a source and a load of the solver.
        ``owners`` has the net and branch of each load, ``off`` the nets whose source gives nothing.
        """
        from coldcheck.dc import circuit, network

        dead = self._dead(off)
        given = [other for other in self.converters if other[4] not in dead]
        fed = [k for k in range(len(self.nets)) if k not in dead]
        grounds = [self.ground[net.root.thing.id] for net in self.nets]
        inputs = {other[5].id: other[:2] for other in given}
        taken = dict.fromkeys(inputs, 0.0)
        for _ in range(ROUNDS):
            found = network.solve(
                circuit.Circuit(
                    self.count,
                    [circuit.Wire(*wire) for wire in wires],
                    [circuit.Source(self.plus[k], grounds[k], volts[k]) for k in fed],
                    [circuit.Diode(a, b, drop, LEAST) for a, b, drop in self.diodes],
                    [
                        *(circuit.Load(*load) for load in loads),
                        *(circuit.Load(*inputs[name], watts) for name, watts in taken.items()),
                    ],
                )
            )
            amps = dict(zip(fed, found.source_amps, strict=True))
            last, taken = taken, self._taken(given, {k: max(0.0, amps[k]) * volts[k] for k in fed})
            if all(abs(taken[name] - last[name]) <= 1e-10 * max(1.0, last[name]) for name in taken):
                break
        totals = [amps.get(k, 0.0) for k in range(len(self.nets))]
        owners = [*owners, *(self._input_of[name] for name in inputs)]
        collapsed = owners[found.collapsed] if found.collapsed is not None else None
        return Point(found.volts, found.wire_amps, totals, collapsed, {owners[i] for i in found.fallen})

    def _taken(self, given: list[Any], watts: dict[int, float]) -> dict[str, float]:
        """Return what each converter inside takes for what its rails give, by net, with its loss and standing draw."""
        found: dict[str, float] = {}
        for converter in given:
            k, thing = converter[4], converter[5]
            own = found.setdefault(thing.id, getattr(thing, "standing", None) or 0.0)
            found[thing.id] = own + watts[k] / self._efficiency(converter, watts)
        return found

    def _dead(self, off: tuple[int, ...]) -> set[int]:
        """Return the nets that give nothing when some are off: those, and all rails of converters that live on them."""
        dead = set(off)
        for _ in self.converters if off else ():
            dead |= {other[4] for other in self.converters if self._fed_by[other[5].id] <= dead}
        return dead

    def _efficiency(self, converter: Any, watts: dict[int, float]) -> float:
        """Return the efficiency of one rail at what its net gives, by net [W].

        A curve of the whole supply over watts goes by what its rails give together.
        """
        k, thing = converter[4], converter[5]
        own = getattr(self.nets[k].root.spec, "efficiency", None)
        points = own or getattr(thing, "efficiency", None)
        volts = (source_volts(self.nets[k].root) or (0.0,))[0]
        rails = [other[4] for other in self.converters if other[5] is thing and other[4] in watts]
        together = own is None and points is not None and points.unit != "A"
        return efficiency_at(points, sum(watts[j] for j in rails) if together else watts[k], volts)

    def _ohms(self, k: int, i: int, setting: Setting, back: bool) -> float:
        branch = self.nets[k].branches[i]
        worn = setting.worn and branch.inlet.name != setting.fresh
        ohms = branch.ohms.worst if worn else branch.ohms.nominal
        return max(LEAST, ohms if branch.is_return else ohms / 2)

    def way(self, net: Net, i: int) -> tuple[Net, float, list[Lost]]:
        """Return the source that carries an inlet where its volts are lowest, its volts then, and what is lost between.

        Where sources meet on the way, it is the one that carries most.
        """
        setting, at = net.worst.deciding[i]
        point = self.point(setting, at)
        places = {
            b.inlet.name: (j, n) for j, other in enumerate(self.nets) for n, b in enumerate(other.branches)
        }
        step = self._carrying(point, places, (self.nets.index(net), i))
        found = [self._lost(point, setting, step, True)]
        out = [self._lost(point, setting, step, False)]
        here = step
        while (above := self._above(here)) is not None:
            here = self._carrying(point, places, above)
            out.insert(0, self._lost(point, setting, here, False, self._branch(here).diode or 0.0))
        source = here[0]
        while (lower := self._below(places, step)) is not None:
            step = self._carrying(point, places, lower)
            found.append(self._lost(point, setting, step, True))
        return self.nets[source], self._volts(setting)[source], out + found

    def _branch(self, place: tuple[int, int]) -> Branch:
        return self.nets[place[0]].branches[place[1]]

    def _above(self, place: tuple[int, int]) -> tuple[int, int] | None:
        """Return the run before one on the way out."""
        above = self._branch(place).parent
        return (place[0], above) if above >= 0 else None

    def _below(self, places: dict[str, tuple[int, int]], place: tuple[int, int]) -> tuple[int, int] | None:
        """Return the run behind one on the way back: a shared wire, or that of what it hangs on."""
        wire = self._branch(place).way_back
        return places.get(wire.name) if wire is not None else self._above(place)

    def _carrying(
        self, point: Point, places: dict[str, tuple[int, int]], place: tuple[int, int]
    ) -> tuple[int, int]:
        """Return the way of several that meet by which most flows; the run itself where none meet."""
        ways = [
            places[inlet.name] for inlet in joined(self._branch(place).inlet.thing) if inlet.name in places
        ]
        return (
            max(ways, key=lambda way: abs(self.amps_at(point, *way)), default=place)
            if place in ways
            else place
        )

    def _lost(
        self, point: Point, setting: Setting, place: tuple[int, int], back: bool, drop: float = 0.0
    ) -> Lost:
        k, i = place
        amps = float(point.wires[self._wire_of[k, i, back]])
        branch = self.nets[k].branches[i]
        ohms = self._ohms(k, i, setting, back)
        if branch.web is not None and amps > NOTHING:
            ohms = self._lost_in_web(point, place, back) / amps
        return Lost(branch, amps, ohms, back, drop)

    def _lost_in_web(self, point: Point, place: tuple[int, int], back: bool) -> float:
        """Return the volts between an inlet at the end of a web and what feeds it, out or back [V]."""
        k, i = place
        net, volts = self.nets[k], point.volts
        above = net.branches[i].parent
        if back:
            near = self.ground[net.root.thing.id] if above < 0 else self.ends[k][above][1]
            return float(volts[self.ends[k][i][1]] - volts[near])
        near = self.plus[k] if above < 0 else self.ends[k][above][2]
        return float(volts[near] - volts[self.ends[k][i][0]])


class Point(msgspec.Struct):
    """An operating point: volts of the nodes, amps of the wires and out of each net, what cannot be carried.

    ``collapsed`` is the load, as (net, branch), that cannot be carried; ``fallen`` has all that were left out with it.
    """

    volts: Any
    wires: Any
    out: list[float]
    collapsed: tuple[int, int] | None
    fallen: set[tuple[int, int]]


def _worst(corners: list[Corner], single: bool) -> Corner:
    """Return the lowest volts and the most amps of several corners, and which of them gave the volts."""
    first = corners[0]
    worst = Corner(
        list(first.volts), list(first.amps), first.total, first.watts, first.collapsed, first.history, first.course,
        list(first.deciding),
    )  # fmt: skip
    for other in corners[1:]:
        for i, volts in enumerate(other.volts):
            if volts < worst.volts[i]:
                worst.deciding[i] = other.deciding[i]
        worst.volts = list(map(min, worst.volts, other.volts))
        worst.amps = list(map(max, worst.amps, other.amps))
        worst.total = [(at, max(a, b)) for (at, a), (_, b) in zip(worst.total, other.total, strict=True)]
        worst.watts = [(at, max(a, b)) for (at, a), (_, b) in zip(worst.watts, other.watts, strict=True)]
        worst.history = _merged(worst.history, other.history, max)
        worst.course = _merged(worst.course, other.course, min)
        worst.collapsed = other.collapsed if worst.collapsed is None else worst.collapsed
    if single:
        worst.history, worst.course = [], []
    return worst


def _merged(one: list[Any], other: list[Any], pick: Any) -> list[Any]:
    return [(at, list(map(pick, a, b))) for (at, a), (_, b) in zip(one, other, strict=True)]

"""Wiring: what the wires of all harnesses join, judged as a whole.

A *knot* is all pins that wires and splices join; each is judged by what its pins carry, and each inlet by what its
knots bring it. An arrangement of wires is plain data here, so that a slip can be undone on trial: two ends exchanged,
a plug moved. What then heals the arrangement is what must have happened, and one slip is told once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, OutletPoint, Plan

from .pins import CROSSED, End, PinWire, agree, in_the_plus

__all__ = ["Ailment", "Knot", "Slot", "Wiring", "knots", "wiring"]

#: One end of a wire: the number of the wire, and 0 for its start or 1 for its end.
Slot = tuple[int, int]
#: What the ends of every wire stand on, by number of the wire.
State = list[tuple[End, End]]


class Knot(msgspec.Struct):
    """Pins joined by wires and splices: ``ends`` by slot. ``main`` has the slots whose pins agree, ``odd`` the
    others."""

    slots: list[Slot]
    ends: dict[Slot, End]
    main: list[Slot] = []
    odd: list[Slot] = []

    @property
    def pins(self) -> dict[str, End]:
        """The pins of the knot by name, splices left out."""
        return {end.ref: end for end in self.ends.values() if not end.splice}

    @property
    def sources(self) -> list[End]:
        """The pins that power comes out of."""
        return [end for end in self.pins.values() if end.is_source]

    def __str__(self) -> str:
        return next(iter(self.pins), "a splice")


class Ailment(msgspec.Struct, frozen=True):
    """What is wrong with an arrangement: its ``kind``, the slots in play, and the ends or the inlet that it concerns.

    ``joined``: pins that do not carry the same; ``a`` is the odd one of ``slots[0]``, ``b`` one it must not meet.
    ``unfed``: no plus of what feeds the inlet arrives; ``elsewhere``: that of another outlet, ``b``, does.
    ``no return``: no way back; ``strange return``: one to another thing, ``b``; ``borrowed return``: only one through
    ``b``, another thing that takes power, or through the metal of the box, where ``b`` is None. ``meeting``: wires
    join two sources, ``a`` and ``b``, of the same volts. ``useless``: a wire that joins a thing to itself, or ends
    where nothing else does.
    """

    kind: str
    slots: tuple[Slot, ...]
    a: End | None = None
    b: End | None = None
    inlet: InletPoint | None = None

    @property
    def key(self) -> tuple[Any, ...]:
        """What makes it the same ailment in another arrangement."""
        return (
            self.kind, self.inlet.name if self.inlet else "", self.a.ref if self.a else "", self.b.ref if self.b else
            "",
        )  # fmt: skip


class Wiring:
    """The wires of a plan as they are, and judgements of any arrangement of them."""

    def __init__(self, plan: Plan, wires: list[PinWire]) -> None:
        self.plan = plan
        self.wires = wires
        self.state: State = [(wire.a, wire.b) for wire in wires]
        self.inlets = self._wired_inlets()
        self._grounds: dict[str, str] = {}
        self._wanted: set[str] | None = None
        self._tied: dict[str, str] = {}  #: the name of the ground that several sources share, by each of them

    def _wired_inlets(self) -> dict[str, InletPoint]:
        """Return the inlets in use at whose sockets wires end, by name."""
        names = {name for pair in self.state for end in pair for name in end.inlets}
        return {
            inlet.name: inlet
            for thing in self.plan.things.values()
            for inlet in getattr(thing, "inlets", ())
            if inlet.name in names and inlet.source is not None
        }

    # --- knots ------------------------------------------------------------------------------------------------------

    def knots(self, state: State | None = None) -> list[Knot]:
        """Return what an arrangement joins; wires with an end that cannot be resolved are left out."""
        state = self.state if state is None else state
        group: dict[str, int] = {}
        members: list[list[Slot] | None] = []
        for i, (a, b) in enumerate(state):
            if a.unknown or b.unknown:
                continue
            one, other = group.get(a.ref), group.get(b.ref)
            if one is None and other is None:
                group[a.ref] = group[b.ref] = len(members)
                members.append([(i, 0), (i, 1)])
                continue
            into = one if one is not None else other
            assert into is not None
            slots = members[into]
            assert slots is not None
            slots += [(i, 0), (i, 1)]
            group[a.ref] = group[b.ref] = into
            if one is not None and other is not None and one != other:
                moved = members[other] or []
                slots += moved
                members[other] = None
                group.update((state[j][side].ref, into) for j, side in moved)
        return [self._knot(sorted(slots), state) for slots in members if slots]

    def _knot(self, slots: list[Slot], state: State) -> Knot:
        knot = Knot(slots, {slot: state[slot[0]][slot[1]] for slot in slots})
        known = [slot for slot in slots if knot.ends[slot].signal]
        sides = _sides(known, knot.ends)
        if len(sides) > 1:
            best = max(sides, key=lambda side: (_weight(side, knot.ends), -side[0][0]))
            knot.main, knot.odd = best, sorted(slot for side in sides if side is not best for slot in side)
        else:
            knot.main = known
        return knot

    # --- judging ----------------------------------------------------------------------------------------------------

    def ailments(self, state: State | None = None, whole: bool = False) -> list[Ailment]:
        """Return all that is wrong with an arrangement.

        What follows from pins that are joined wrongly is left out, unless the ``whole`` of it is asked for.
        """
        state = self.state if state is None else state
        knots = self.knots(state)
        self._tie_grounds(state)
        found = [*self._joined(knots), *self._meeting(knots), *self._useless(state)]
        bad = {
            name
            for one in found
            if one.kind == "joined"
            for slot in one.slots
            for name in _served(state, slot)
        }
        bad = set() if whole else bad
        open_ = self._open(state, knots)
        for inlet in self.inlets.values():
            if inlet.name not in open_:
                found += self._inlet(inlet, knots, inlet.name in bad)
        return found

    @staticmethod
    def _open(state: State, knots: list[Knot]) -> set[str]:
        """Return the inlets of which it cannot be said what reaches them: a wire ends nowhere, or on an unknown pin."""
        lost = {name for a, b in state if a.unknown or b.unknown for name in (*a.inlets, *b.inlets)}
        return lost | {
            name
            for knot in knots
            if any(end.blind for end in knot.ends.values())
            for end in knot.ends.values()
            for name in end.inlets
        }

    @staticmethod
    def _joined(knots: list[Knot]) -> Iterator[Ailment]:
        for knot in knots:
            told = set()
            for slot in knot.odd:
                end = knot.ends[slot]
                mate = next((s for s in knot.main if not agree(knot.ends[s], end)), knot.main[0])
                if end.ref not in told:
                    told.add(end.ref)
                    slots = tuple(s for s in knot.odd if knot.ends[s].ref == end.ref)
                    yield Ailment("joined", (*slots, mate), end, knot.ends[mate])

    def _inlet(self, inlet: InletPoint, knots: list[Knot], bad: bool) -> Iterator[Ailment]:
        """Yield what the knots of an inlet fail to bring it. What is joined wrongly is told already."""
        source = inlet.source
        assert source is not None
        mine = [(k, [s for s, e in k.ends.items() if inlet.name in e.inlets]) for k in knots]
        plus = [(k, s) for k, slots in mine if (s := [x for x in slots if k.ends[x].is_plus])]
        back = [(k, s) for k, slots in mine if (s := [x for x in slots if k.ends[x].is_return])]
        if not plus and inlet.name not in self._meant():
            return
        fed, others = self._feeds(source, plus)
        slots = tuple(x for _, several in (*plus, *back) for x in several)
        if others:
            yield Ailment("elsewhere", (others[0][1], *slots), None, others[0][0], inlet)
        elif not fed and not bad:
            yield Ailment("unfed", slots, None, None, inlet)
        if (fed or not others) and not (in_the_plus(inlet.thing) and not back):
            yield from self._return(inlet, source, back, slots, bad)

    def _meant(self) -> set[str]:
        """Return the inlets that are meant to be wired though no plus is: a return goes to what feeds them.

        The ground of a console cable, which comes with a lead for power elsewhere, is none. It is decided by the wires
        as they are, so that no trial can take an inlet out of the judgement.
        """
        if self._wanted is None:
            self._wanted = set()
            for knot in self.knots():
                giving = {
                    self._ground_of_end(e)
                    for e in knot.pins.values()
                    if e.is_return and not (e.takes or e.idle)
                }
                names = {name for end in knot.pins.values() if end.is_return for name in end.inlets}
                for name in names & self.inlets.keys():
                    inlet = self.inlets[name]
                    assert inlet.source is not None
                    if giving & self._right_grounds(inlet, inlet.source):
                        self._wanted.add(name)
        return self._wanted

    def _feeds(
        self, source: OutletPoint, plus: list[tuple[Knot, list[Slot]]]
    ) -> tuple[bool, list[tuple[End, Slot]]]:
        """Return whether the plus of the right outlet arrives, and the pins of others that do."""
        fed, others, handed = False, [], []
        mine = {knot.ends[slot].thing for knot, slots in plus for slot in slots}
        for knot, _ in plus:
            for slot, end in knot.ends.items():
                if end.splice or not end.is_plus or end.thing in mine:
                    continue
                if end.takes and not end.source:
                    handed.append((end, slot))
                elif end.thing == source.thing.id and (not end.outlet or end.outlet == source.id):
                    fed = True
                elif end.is_source and slot in knot.main:
                    others.append((end, slot))
        # Power from the pins of another board comes from elsewhere, too, unless the right source is there as well.
        return fed, others or ([] if fed else handed)

    def _return(
        self, inlet: InletPoint, source: OutletPoint, back: list[tuple[Knot, list[Slot]]], slots: tuple[Slot, ...],
        bad: bool,
    ) -> Iterator[Ailment]:  # fmt: skip
        grounds = self._right_grounds(inlet, source)
        found, strange, borrowed = False, None, None
        for knot, _ in back:
            for slot, end in knot.ends.items():
                if end.splice or not end.is_return or end.thing == inlet.thing.id:
                    continue
                ground = "" if end.takes or end.idle else self._joined_ground(end)
                if ground in grounds:
                    found = True
                elif ground:
                    strange = strange or (end, slot)
                else:
                    borrowed = borrowed or (end, slot)
        if strange and not bad:
            yield Ailment("strange return", (strange[1], *slots), None, strange[0], inlet)
        elif found or bad:
            return
        elif borrowed:
            yield Ailment("borrowed return", (borrowed[1], *slots), None, borrowed[0], inlet)
        elif inlet.thing.chassis and any(getattr(self.plan.things.get(g), "chassis", None) for g in grounds):
            yield Ailment("borrowed return", slots, None, None, inlet)
        else:
            yield Ailment("no return", slots, None, None, inlet)

    def _meeting(self, knots: list[Knot]) -> Iterator[Ailment]:
        """Yield sources of the same volts that wires join: in one knot, or through the pins of one inlet."""
        parent: dict[Any, Any] = {}

        def root(x: Any) -> Any:
            while parent.setdefault(x, x) != x:
                parent[x] = x = parent[parent[x]]
            return x

        known = [knot for knot in knots if not knot.odd]
        for n, knot in enumerate(known):
            for end in knot.pins.values():
                if end.is_plus and not end.is_source:
                    for name in end.inlets:
                        parent[root(n)] = root(name)
        first: dict[Any, tuple[str, End, Slot]] = {}
        for n, knot in enumerate(known):
            for slot, end in knot.ends.items():
                if not end.is_source:
                    continue
                name = self._root_of(end)
                other = first.setdefault(root(n), (name, end, slot))
                if other[0] != name:
                    yield Ailment("meeting", (slot, other[2]), end, other[1])

    def _root_of(self, end: End) -> str:
        """Return what holds back the power of a pin: its source, or the last fuse, switch or diode on the way to it."""
        thing = self.plan.things.get(end.thing)
        outlet = next((o for o in getattr(thing, "outlets", ()) if o.id == end.outlet), None)
        if outlet is None:
            return end.place
        for _ in range(1000):  # a chain of in-line things ends at a source, or nowhere
            if getattr(outlet.spec, "fuse", None) is not None and outlet.thing.table == "inline":
                return str(outlet.name)
            if getattr(outlet.thing, "what", None) in ("fuse", "switch", "diode"):
                return str(outlet.thing.id)
            if outlet.via is None or outlet.via.source is None:
                break
            outlet = outlet.via.source
        return str(outlet.name)

    def _useless(self, state: State) -> Iterator[Ailment]:
        for i, (a, b) in enumerate(state):
            if a.unknown or b.unknown or a.splice or b.splice:
                continue
            if a.ref == b.ref or (a.thing == b.thing and a.signal and b.signal and self._same_inside(a, b)):
                yield Ailment("useless", ((i, 0), (i, 1)), a, b)
        ends: dict[str, list[Slot]] = {}
        for i, pair in enumerate(state):
            for side, end in enumerate(pair):
                if end.splice:
                    ends.setdefault(end.ref, []).append((i, side))
        for slots in ends.values():
            if len(slots) == 1:
                yield Ailment(
                    "useless", (slots[0], (slots[0][0], 1 - slots[0][1])), state[slots[0][0]][slots[0][1]]
                )

    @staticmethod
    def _same_inside(a: End, b: End) -> bool:
        """Say whether a thing joins two of its pins itself, so that a wire between them does nothing."""
        if a.is_return and b.is_return:
            return True
        if {a.signal.casefold(), b.signal.casefold()} == CROSSED.keys():
            return True  # what a thing sends comes back to itself
        return a.is_plus and b.is_plus and a.outlet == b.outlet and (a.inlets == b.inlets)

    # --- grounds ----------------------------------------------------------------------------------------------------

    def ground_of(self, thing: Any) -> str:
        """Return the feed or supply whose ground a thing hands on; a thing that takes power hands on none."""
        found = self._grounds.get(thing.id)
        if found is None:
            found = self._grounds[thing.id] = self._find_ground(thing)
        return found

    @staticmethod
    def _find_ground(thing: Any) -> str:
        for _ in range(1000):  # a chain of in-line things ends at a source, or nowhere
            if thing.table != "inline":
                break
            source = next((i.source for i in thing.inlets if i.source is not None), None)
            if source is None:
                return ""
            thing = source.thing
        return str(thing.id)

    def _right_grounds(self, inlet: InletPoint, source: OutletPoint) -> set[str]:
        """Return where the return of an inlet may go: to what feeds its thing, or where its shared wire back leads."""
        fed = (
            [i.source for i in inlet.thing.inlets if i.source is not None]
            if self._one_ground(inlet)
            else [source]
        )
        found = {self._tied.get(g, g) for outlet in fed if (g := self.ground_of(outlet.thing))}
        back = inlet.thing.way_back
        if back is not None and back.source is not None:
            ground = self.ground_of(back.source.thing)
            found.add(self._tied.get(ground, ground))
        return found

    @staticmethod
    def _one_ground(inlet: InletPoint) -> bool:
        """Say whether several inlets of a thing share one socket, and so its returns."""
        plugs = [i.spec.plug for i in inlet.thing.inlets]
        return len(plugs) > 1 and len(set(plugs)) == 1 and plugs[0] is not None

    def _joined_ground(self, end: End) -> str:
        ground = self._ground_of_end(end)
        return self._tied.get(ground, ground)

    def _tie_grounds(self, state: State) -> None:
        """Note which sources have one ground, because wires join their returns, not by a pin of what takes power."""
        parent: dict[str, str] = {}

        def root(x: str) -> str:
            while parent.setdefault(x, x) != x:
                parent[x] = x = parent[parent[x]]
            return x

        names = {}
        for pair in state:
            nodes = []
            for end in pair:
                if end.splice:
                    nodes.append(end.ref)
                elif end.is_return and not (end.takes or end.idle) and (ground := self._ground_of_end(end)):
                    names[ground] = ground
                    nodes.append(ground)
            if len(nodes) == 2:
                parent[root(nodes[0])] = root(nodes[1])
        self._tied = {name: root(name) for name in names}

    def _ground_of_end(self, end: End) -> str:
        thing = self.plan.things.get(end.thing)
        return self.ground_of(thing) if thing is not None and hasattr(thing, "outlets") else ""


def _served(state: State, slot: Slot) -> Iterable[str]:
    return state[slot[0]][slot[1]].inlets


def _sides(slots: list[Slot], ends: dict[Slot, End]) -> list[list[Slot]]:
    """Return the slots in groups whose pins all agree with each other."""
    sides: list[list[Slot]] = []
    for slot in slots:
        fitting = next((side for side in sides if all(agree(ends[s], ends[slot]) for s in side)), None)
        if fitting is None:
            sides.append([slot])
        else:
            fitting.append(slot)
    return sides


def _weight(side: list[Slot], ends: dict[Slot, End]) -> tuple[int, int]:
    """Return how much speaks for a group being the right one: a source is what the others were wired to."""
    mine = [ends[slot] for slot in side]
    rank = 3 if any(e.is_source for e in mine) else 2 if any(e.carries and not e.takes for e in mine) else 1
    return rank if any(e.carries for e in mine) else 0, len({e.ref for e in mine})


@working(reads=())
def wiring(plan: Plan, pin_wires: list[PinWire]) -> Wiring:
    """The wires of all harnesses and what they join."""
    return Wiring(plan, pin_wires)


@working(reads=())
def knots(wiring: Wiring) -> list[Knot]:
    """Every set of pins that wires and splices join."""
    return wiring.knots() if wiring.wires else []

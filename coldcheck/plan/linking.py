"""Linking: every reference of a plan resolved to the point it names, power first, then data.

What cannot be resolved becomes a `Fault`, and what it concerns is left unconnected.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import msgspec

from .model import JOINED, Fault, InletPoint, LinkLine, OutletPoint, Plan, PortPoint
from .problems import Path, nearest
from .reading import Tables
from .spans import listed
from .tables import (
    Drawing,
    Fed,
    Feed,
    Intake,
    Networked,
    Outlet,
    Outside,
    Port,
    Storage,
    Supply,
    Switch,
    Thing,
)

__all__ = ["link"]

_DIGITS = re.compile(r"\d+")


def link(tables: Tables) -> Plan:
    """Return the plan with every reference resolved or listed among its faults."""
    plan = Plan(tables)
    _Linker(plan).run()
    first: dict[tuple[str, Path, str], Fault] = {}
    for fault in plan.faults:
        slip = _DIGITS.sub("#", fault.says)
        first.setdefault(
            (fault.rule, fault.path, slip), fault
        )  # a span that names nothing is one slip, not six
    plan.faults = list(first.values())
    return plan


_POINTS = ("rail", "outlet", "inlet", "connector")
_KINDS_WITH_POWER = ("supply", "inline", "node", "storage", "switch", "fan", "appliance", "drive")


_MOST_GUESSES = 100
_OF_BATTERIES = ("watt_hours", "usable", "cut_off", "charger", "hold")


class _Linker:
    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._outlets: dict[str, OutletPoint | None] = {}
        self._ports: dict[str, PortPoint | None] = {}
        self._slips: dict[str, Fault] = {}
        self._guesses = 0
        self._by_id: dict[str, dict[str, PortPoint]] = {}
        self._fills: dict[Any, tuple[Any, Any, Any]] = {}
        self._one: dict[Any, tuple[Any, Any, Any]] = {}
        self._spans: dict[str, dict[Path, list[Any]]] = {}

    def run(self) -> None:
        self._things()
        self._bare_outlets()
        for table in _KINDS_WITH_POWER:
            for thing in self.plan.table(table):
                self._feed_thing(thing)
        self._sort()
        self._ways_back()
        self._data()
        self._speaking_of_data()
        self._names_in_harnesses()
        for thing in self.plan.things.values():
            if not isinstance(thing, Thing):
                continue
            stated = thing.stated
            ports = "port" in stated and isinstance(thing, Networked) and not thing.port
            if ports or not stated.isdisjoint(_POINTS):
                self.points(thing)  # finds names that clash

    def fault(self, rule: str, path: Path, says: str, remedy: str, *related: tuple[Path, str]) -> None:
        self.plan.faults.append(Fault(rule, path, says, remedy, related))

    def _to_each(self, thing: Any, key: str) -> bool:
        """Tell of a list of names that every thing of a span gets whole; return whether it is one."""
        spans = self._spans.get(thing.table)
        if spans is None:
            spans = self._spans[thing.table] = {}
            for other in self.plan.table(thing.table):
                spans.setdefault(other.path, []).append(other)
        things = spans[thing.path]
        refs = [thing.port if key == "port" else thing.from_ for thing in things[:2]]
        if (
            len(things) < 2 or len(refs[0]) < 2 or refs[0] != refs[1]
        ):  # a list of spans has other names for each
            return False
        if thing is not things[0]:
            return True
        says = f"`{key}` lists {len(refs[0])} names, and each of {listed(t.id for t in things)} gets them all"
        remedy = "to deal out one each, write a span, or a table for each"
        if match := re.fullmatch(r"(.*\D)(\d{1,9})", refs[0][0]):
            last = f"{match[1]}{int(match[2]) + len(things) - 1}"
            remedy = f'to deal out one each, write a span, like {key} = "{refs[0][0]} .. {last}", or a table for each'
        self.fault("references.too_many", (*thing.path, key), says, remedy)
        return True

    # --- things and their points ---------------------------------------------------------------------------------

    def _things(self) -> None:
        things = self.plan.things
        for table in ("feed", *_KINDS_WITH_POWER, "outside", "harness"):
            for thing in self.plan.table(table):
                if isinstance(thing, Thing):
                    thing.table = table
                other = things.setdefault(thing.id, thing)
                if other is not thing:
                    says = f"two things are called {thing.id}"
                    first = (self.plan.place(other), "the first one")
                    self.fault(
                        "references.duplicate", self.plan.place(thing), says, "rename one of them", first
                    )

    def _names_in_harnesses(self) -> None:
        """Tell of ends and joints of a harness that are called alike, or like a thing, so that a wire may mean
        either."""
        for harness in self.plan.table("harness"):
            seen: set[str] = set()
            for one in (*harness.end, *harness.splice):
                path = (*one.path, "id") if one.path else harness.path
                if one.id in seen:
                    says = f"harness {harness.id} has two ends or joints called {one.id}"
                    self.fault("references.clash", path, says, "rename one of them")
                elif one.id in self.plan.things:
                    says = f"{one.id} is an end or a joint of harness {harness.id}, and a thing as well"
                    first = (self.plan.place(self.plan.things[one.id]), "the thing")
                    self.fault("references.clash", path, says, "rename the one in the harness", first)
                seen.add(one.id)

    def _bare_outlets(self) -> None:
        for feed in self.plan.table("feed"):
            if feed.battery is None and any(getattr(feed, key) is not None for key in _OF_BATTERIES):
                feed.battery = (
                    True  # only batteries have these, and what is not said must not make one harmless
                )
            outlets = [OutletPoint(feed, o.id, _with_volts_of(o, feed)) for o in feed.outlet]
            if outlets and "lead" in feed.stated:
                says = f"{feed.id} states its lead, but has outlets of its own: {', '.join(o.id for o in feed.outlet)}"
                remedy = "give the lead to the things that hang on each outlet"
                self.fault("references.which_inlet", (*feed.path, "lead"), says, remedy)
            if outlets and feed.ohms and sum(o.spec.ohms is None for o in outlets) > 1:
                says = f"{feed.id} states its ohms, but has several outlets: what one draws lowers the others, too"
                remedy = "let one outlet feed an [[inline]] block, with the outlets there; or give each outlet its ohms"
                self.fault("references.which_inlet", (*feed.path, "ohms"), says, remedy)
            feed.outlets = outlets or [OutletPoint(feed, "", feed)]

    def points(self, thing: Any) -> dict[str, Any]:
        """Return the points of a thing by name; built when first asked for, since most are never named."""
        found = self.plan.points.get(thing.id)
        if found is None:
            found = self.plan.points[thing.id] = {}
            for point in self._all_points(thing):
                if point.id in found:
                    says = f"{thing.id} has two points called {point.id}"
                    self.fault("references.clash", self.plan.place(thing), says, "rename one of them")
                found.setdefault(point.id, point)
            for connector in getattr(thing, "connector", ()):
                if connector.id in found:
                    says = f"{thing.id} has a connector and another point called {connector.id}"
                    self.fault("references.clash", self.plan.place(thing), says, "rename one of them")
                found.setdefault(connector.id, None)
        return found

    def _all_points(self, thing: Any) -> Iterator[Any]:
        yield from (o for o in thing.outlets if o.spec is not None and not o.handed_on)
        if isinstance(thing, Fed):
            named = {inlet.id for inlet in thing.inlets}
            yield from thing.inlets
            for inlet in thing.inlet:
                if inlet.id not in named:
                    yield InletPoint(thing, inlet.id, inlet, None)
        if isinstance(thing, Networked):
            yield from self.own_ports(thing)

    def own_ports(self, thing: Networked) -> list[PortPoint]:
        ports = self.plan.ports.get(thing.id)
        if ports is None:
            specs = thing.port_
            if isinstance(thing, Switch):
                described = {spec.id for spec in specs}
                numbers = map(str, range(1, (thing.ports or 0) + 1))
                specs = (*specs, *(Port(id=n) for n in numbers if n not in described))
            elif not specs:
                specs = (_ETH,)
            ports = self.plan.ports[thing.id] = [PortPoint(thing, spec.id, spec) for spec in specs]
        return ports

    def _named_port(self, thing: Networked, name: str) -> PortPoint | None:
        known = self._by_id.get(thing.id)
        if known is None:
            known = self._by_id[thing.id] = {port.id: port for port in reversed(self.own_ports(thing))}
        return known.get(name)

    # --- power ---------------------------------------------------------------------------------------------------

    def _feed_thing(self, thing: Any) -> None:
        thing.inlets = self._inlets(thing)
        if isinstance(thing, Supply):
            thing.outlets = [self._outlet(thing, rail) for rail in (*thing.rail, *thing.outlet)]
        elif thing.table == "inline":
            # A wire back feeds nothing.
            specs = () if thing.what == "return" else thing.outlet or (_THROUGH,)
            thing.outlets = [self._outlet(thing, spec, through=True) for spec in specs]
        elif thing.outlet:
            thing.outlets = [self._outlet(thing, spec) for spec in thing.outlet]

    def _outlet(self, thing: Fed, spec: Outlet, through: bool = False) -> OutletPoint:
        via = None
        if through or spec.kind == "pass-through":
            via = next((i for i in thing.inlets if i.id == spec.inlet), None)
            via = via or (thing.inlets[0] if thing.inlets else None)
        return OutletPoint(thing, spec.id, spec, via)

    def _inlets(self, thing: Any) -> list[InletPoint]:
        """Return the inlets in use; their sources are names yet, resolved by `_sort`."""
        specs: tuple[Any, ...] = thing.inlet
        leads = thing.lead
        if not specs:
            if thing.table == "inline" and len(thing.from_) > 1:
                return self._side_by_side(thing)
            return [InletPoint(thing, "", thing.intake, leads[0] if leads else None)]
        if len(thing.into) == len(thing.from_) == 1 and thing.stated.isdisjoint(_OVERRIDES):
            # The common case, a board of a part at one of its inlets, worked out once for each part and inlet.
            key = (id(specs), id(thing.intake), thing.into[0])
            filled = self._one.get(key)
            if filled is None and (spec := next((s for s in specs if s.id == thing.into[0]), None)):
                filled = self._one[key] = self._filled(spec, thing, True), specs, thing.intake
            if filled is not None:
                spec = filled[0]
                lead = spec.lead or (leads[0] if leads else None)
                return [InletPoint(thing, spec.id, spec, lead)]
        if not thing.from_ and not thing.into:
            used = [s for s in specs if s.from_] or (list(specs) if thing.use != "one" else [])
        else:
            used = self._used(thing, specs)
        self._unclear(thing, used)
        # Where several inlets are joined inside, the first stands for what the thing draws by all of them.
        first = len(used) == 1 or thing.use in JOINED
        return [self._inlet(thing, spec, i, first and i == 0) for i, spec in enumerate(used)]

    @staticmethod
    def _side_by_side(thing: Any) -> list[InletPoint]:
        """Return the inlets of an in-line thing on which several sources meet: in1, in2 and so on."""
        leads = thing.lead
        return [
            InletPoint(thing, f"in{i + 1}", thing.intake, lead)
            for i, lead in zip(range(len(thing.from_)), _dealt(leads, len(thing.from_)), strict=True)
        ]

    def _unclear(self, thing: Any, used: list[Any]) -> None:
        """A figure said of a thing with several inlets in use belongs to none, unless they are joined inside."""
        over = _OVERRIDES - set(_DRAWN) if thing.use in JOINED else _OVERRIDES
        if len(used) > 1 and (said := sorted(thing.stated & over)):
            names = ", ".join(spec.id for spec in used)
            says = f"{thing.id} states its {said[0]}, but takes power by several inlets: {names}"
            remedy = f"say it of one of them, under [[{thing.table}.inlet]] with its id"
            self.fault("references.which_inlet", (*thing.path, said[0]), says, remedy)

    def _inlet(self, thing: Any, spec: Any, i: int, alone: bool) -> InletPoint:
        lead = spec.lead or _dealt(thing.lead, i + 1)[i]
        return InletPoint(thing, spec.id, self._filled(spec, thing, alone), lead)

    def _filled(self, spec: Any, thing: Any, alone: bool) -> Intake:
        """Return an inlet with what its thing says: to fill it in, or over what its part says.

        What the thing itself states counts before what the part says of the inlet, where it uses one inlet alone.
        """
        intake = thing.intake
        over = thing.stated & _OVERRIDES if alone else frozenset()
        key = (id(spec), id(intake), alone, over)
        if key not in self._fills:
            names = _INTAKE + (_DRAWN if alone and isinstance(intake, Drawing) else ())
            written = frozenset() if spec.path[:2] != thing.path else spec.stated
            empty = [n for n in names if getattr(spec, n) in (None, ()) or (n in over and n not in written)]
            changed = {name: value for name in empty if (value := getattr(intake, name)) not in (None, ())}
            filled = msgspec.structs.replace(spec, **changed) if changed else spec
            self._fills[key] = (filled, spec, intake)  # the other two keep their ids from being used again
        return self._fills[key][0]  # type: ignore[no-any-return]

    def _used(self, thing: Any, specs: tuple[Any, ...]) -> list[Any]:
        by_id = {spec.id: spec for spec in specs}
        if thing.into:
            for name in thing.into:
                if name not in by_id:
                    says, remedy = f"{thing.id} has no inlet {name}", f"its inlets: {', '.join(by_id)}"
                    self.fault("references.unknown", self.plan.place(thing, "into"), says, remedy)
            used = [by_id[name] for name in thing.into if name in by_id]
        else:
            used = list(specs)
            if thing.use == "one" and len(specs) > 1:
                says = f"{thing.id} has {len(specs)} inlets and takes power by one of them; the plan does not say which"
                remedy = f'add into = "{specs[0].id}" ({", ".join(by_id)})'
                self.fault("references.which_inlet", self.plan.place(thing, "from"), says, remedy)
                return []
        # A name in `into` that is no inlet is told already.
        if len(thing.from_) > len(thing.into or used) and not self._to_each(thing, "from"):
            says = f"{thing.id} is fed {len(thing.from_)} times but has {len(used)} inlet(s)"
            self.fault(
                "references.too_many", self.plan.place(thing, "from"), says, "name one outlet for each inlet"
            )
        return used

    def _sort(self) -> None:
        """Resolve every `from`, then order the things so that a source comes before what it feeds."""
        for table in _KINDS_WITH_POWER:
            for thing in self.plan.table(table):
                self._resolve(thing)
        state: dict[int, int] = {}
        for feed in self.plan.table("feed"):
            state[id(feed)] = 2
            self.plan.order.append(feed)
        for table in _KINDS_WITH_POWER:
            for thing in self.plan.table(table):
                if id(thing) not in state:
                    self._visit(thing, state)

    def _ways_back(self) -> None:
        """Resolve every `back`: the one wire back that several things share."""
        for table in _KINDS_WITH_POWER:
            for thing in self.plan.table(table):
                if thing.back is None:
                    continue
                path = self.plan.place(thing, "back")
                wire = self.plan.things.get(thing.back)
                if wire is None:
                    self._unknown(thing.back, thing.back, path)
                elif getattr(thing, "what", None) == "return":
                    says = f"{thing.id} is a wire back itself, and leads to what it is `from`"
                    self.fault("references.unknown", path, says, "take `back` out")
                elif getattr(wire, "what", None) != "return":
                    says = f"{thing.id} goes back by {thing.back}, which is no wire back"
                    remedy = 'describe the shared wire: [[inline]] with what = "return" and what it is `from`'
                    self.fault("references.unknown", path, says, remedy)
                elif wire.inlets and wire.inlets[0].source is not None:
                    thing.way_back = wire.inlets[0]

    def _visit(self, start: Thing, state: dict[int, int]) -> None:
        """Depth first, without recursion: a chain of supplies may be long."""
        stack: list[tuple[Any, Iterator[InletPoint]]] = [(start, iter(start.inlets))]
        state[id(start)] = 1
        while stack:
            thing, rest = stack[-1]
            for inlet in rest:
                source = inlet.source
                if source is None or state.get(id(source.thing)) == 2:
                    continue
                if state.get(id(source.thing)) == 1:
                    self._cycle([t for t, _ in stack], inlet)
                    continue
                state[id(source.thing)] = 1
                stack.append((source.thing, iter(source.thing.inlets)))
                break
            else:
                stack.pop()
                state[id(thing)] = 2
                self.plan.order.append(thing)

    def _cycle(self, stack: list[Any], inlet: InletPoint) -> None:
        assert inlet.source is not None
        start = next(i for i, thing in enumerate(stack) if thing is inlet.source.thing)
        ring = [thing.id for thing in stack[start:]]
        says = f"{' is fed from '.join([*ring, ring[0]])}: no power ever enters this ring"
        remedy = f"feed {inlet.thing.id} from a feed, or from a supply above"
        self.fault("references.power_ring", inlet.path, says, remedy)
        inlet.source.takers.remove(inlet)
        inlet.source = None

    def _resolve(self, thing: Any) -> None:
        bay = getattr(thing, "bay", None)
        if bay is not None:
            self._bay(thing, bay)
        names = thing.from_
        sources = [self.outlet(name, (*thing.path, "from")) for name in names]
        single = len(thing.inlets)
        if len(sources) > 1 and single > 1 and not thing.into:
            sources = _by_volts(thing.inlets, sources)
        for i, inlet in enumerate(thing.inlets):
            own = getattr(inlet.spec, "from_", None)
            source = self.outlet(own, inlet.path) if own else (sources[i] if i < len(sources) else None)
            if source is not None:
                if inlet.source is not None:  # what is written counts before what the bay would give
                    inlet.source.takers.remove(inlet)
                inlet.source = source
                source.takers.append(inlet)
        if len(sources) > single == 1 and not thing.inlet and not self._to_each(thing, "from"):
            says = f"{thing.id} is fed {len(sources)} times but has one inlet"
            self.fault(
                "references.too_many",
                self.plan.place(thing, "from"),
                says,
                f"describe its inlets under [[{thing.table}.inlet]]; or name one outlet; or let the sources meet "
                'first, in an [[inline]] with what = "run" that is `from` both',
            )

    def _bay(self, drive: Any, ref: str) -> None:
        path = self.plan.place(drive, "bay")
        name, _, bay = ref.partition(".")
        holder = self.plan.things.get(name)
        if not isinstance(holder, Storage):
            near = self._near(name, [s.id for s in self.plan.table("storage")])
            says = f"{drive.id} sits in {ref}, but no storage is called {name}"
            self.fault(
                "references.unknown", path, says, f'did you mean "{near}"?' if near else "name a storage"
            )
            return
        if holder.bays is not None and not (bay.isdecimal() and 1 <= int(bay) <= holder.bays):
            says = f"{drive.id} sits in {ref}, but {name} has bays 1 to {holder.bays}"
            self.fault("references.unknown", path, says, "choose a bay that exists")
        for inlet in drive.inlets:
            source = self._from_carrier(holder, inlet)
            if source is not None:
                inlet.source = source
                source.takers.append(inlet)

    def _from_carrier(self, holder: Storage, inlet: InletPoint) -> OutletPoint | None:
        """Return what feeds a drive in a bay: a rail of the carrier with fitting volts, or its inlet handed on."""
        for outlet in holder.outlets:
            if _fits(outlet.spec.volts, inlet.spec.volts):
                return outlet  # type: ignore[no-any-return]
        for other in holder.inlets:
            if inlet.spec.volts and other.spec.volts and _overlap(inlet.spec.volts, other.spec.volts):
                if there := next((o for o in holder.outlets if o.via is other and o.id == other.id), None):
                    return there  # type: ignore[no-any-return]
                handed = OutletPoint(holder, other.id, Outlet(id=other.id, kind="pass-through"), other)
                holder.outlets = [*holder.outlets, handed]
                handed.spec.volts = sum(other.spec.volts) / 2
                return handed
        return None

    def outlet(self, ref: str, path: Path) -> OutletPoint | None:
        """Return the outlet a reference names; a fault where there is none."""
        found = self._outlets.get(ref)
        if found is None:
            self._refer(self._outlets, self._find_outlet, ref, path)
            found = self._outlets[ref]
        return found

    def _refer(self, known: dict[str, Any], find: Callable[[str, Path], Any], ref: str, path: Path) -> None:
        """Look for what ``ref`` names, once; a slip that is made in several places is a fault in each of them."""
        if ref in known:
            slip = self._slips[ref]
            self.fault(slip.rule, path, slip.says, slip.remedy)
            return
        known[ref] = find(ref, path)
        if known[ref] is None:
            self._slips[ref] = self.plan.faults[-1]

    def _near(self, name: str, known: Iterable[str]) -> str:
        """Return the known name nearest to ``name``; a plan with many slips gets no guesses, each walks all names."""
        self._guesses += 1
        return nearest(name, known) if self._guesses <= _MOST_GUESSES else ""

    def _find_outlet(self, ref: str, path: Path) -> OutletPoint | None:
        name, _, point = ref.partition(".")
        thing = self.plan.things.get(name)
        if thing is None or not isinstance(thing, Thing):
            self._unknown(ref, name, path)
            return None
        outlets = thing.outlets
        if getattr(thing, "what", None) == "return":
            says = f"{name} is a wire back: nothing is fed from it"
            remedy = f'name the outlet that feeds it, and say back = "{name}" for its way back'
            self.fault("references.unknown", path, says, remedy)
            return None
        if not point:
            if len(outlets) == 1:
                return outlets[0]  # type: ignore[no-any-return]
            names = ", ".join(o.name for o in outlets)
            says = f"{ref} has {len(outlets) or 'no'} outlets" + (
                "; the plan does not say which" if outlets else ""
            )
            remedy = f"write one of {names}" if outlets else f"describe its outlet: [[{thing.table}.outlet]]"
            self.fault("references.unknown", path, says, remedy)
            return None
        found = next((o for o in outlets if o.id == point), None)
        if found is None:
            near = self._near(point, [o.id for o in outlets])
            names = ", ".join(o.name for o in outlets) or "none"
            remedy = f'did you mean "{name}.{near}"?' if near else f"outlets of {name}: {names}"
            self.fault("references.unknown", path, f"{name} has no outlet or rail {point}", remedy)
        return found

    def _unknown(self, ref: str, name: str, path: Path) -> None:
        near = self._near(name, self.plan.things)
        says = f"nothing is called {name}" if ref == name else f"{ref}: nothing is called {name}"
        remedy = f'did you mean "{near}"?' if near else "name a thing of this plan, or add it"
        self.fault("references.unknown", path, says, remedy)

    # --- data ----------------------------------------------------------------------------------------------------

    def _data(self) -> None:
        several: list[Networked] = []
        for table in ("node", "storage", "switch", "appliance"):
            for thing in self.plan.table(table):
                if thing.port_:
                    self._named_cables(thing)
                if thing.port:
                    # A cable whose own end is not named takes a port that no other cable names.
                    if len(self.own_ports(thing)) > 1:
                        several.append(thing)
                    else:
                        self._cables(thing)
        self._entries()
        for thing in several:
            self._cables(thing)

    def _entries(self) -> None:
        for entry in self.plan.table("link"):
            ends = ((entry.from_, "from"), (entry.to, "to"))
            one, other = (self.port(ref, (*entry.path, key)) for ref, key in ends)
            if one and other:
                self._join(LinkLine(one, other, entry.cable, (*entry.path, "from"), entry=entry))
        for entry in self.plan.table("uplink"):
            thing = self.plan.things.get(entry.from_)
            a: PortPoint | None
            if entry.medium == "radio" and isinstance(thing, Networked):
                a = PortPoint(thing, "air", _AIR)  # a radio's link takes none of its sockets
            else:
                a = self.port(entry.from_, (*entry.path, "from"))
            if a:
                line = LinkLine(a, None, entry.cable, (*entry.path, "from"), entry.to, entry.speed, entry)
                self._join(line)

    def _speaking_of_data(self) -> None:
        """Look up what flows and pools name."""
        rows = [(flow, key, name) for flow in self.plan.table("flow")
                for key, name in (("from", flow.from_), ("to", flow.to))]  # fmt: skip
        rows += [(pool, "by", pool.by) for pool in self.plan.table("pool") if pool.by]
        for entry, key, name in rows:
            thing = self.plan.things.get(name)
            if thing is None:
                self._unknown(name, name, (*entry.path, key))
            elif not isinstance(thing, (Networked, Outside)):
                says = f"{name} has no data ports"
                self.fault(
                    "references.unknown", (*entry.path, key), says, "name a thing with ports, or an outside"
                )

    def _named_cables(self, thing: Networked) -> None:
        for port in self.own_ports(thing):
            if port.spec.to is not None and (other := self.port(port.spec.to, (*port.spec.path, "to"))):
                self._join(LinkLine(port, other, port.spec.cable, (*port.spec.path, "to")))

    def _cables(self, thing: Networked) -> None:
        ports, refs = self.own_ports(thing), thing.port
        if len(ports) == len(refs) == 1 and ports[0].spec.to is None:
            path = (*thing.path, "port")
            other = self._ports.get(refs[0]) or self.port(refs[0], path)
            if other:
                self._join(LinkLine(ports[0], other, ports[0].spec.cable or thing.cable, path))
            return
        own = sorted((p for p in self.own_ports(thing) if p.spec.to is None), key=lambda p: p.apart)
        free = [p for p in own if not p.links] if len(own) > 1 else own
        if self._to_each(thing, "port"):
            return  # a port takes one cable
        if len(thing.port) > len(free):
            says = f"{thing.id} has {len(free)} free data port(s), but {len(thing.port)} cables"
            self.fault(
                "references.too_many",
                self.plan.place(thing, "port"),
                says,
                f"describe its ports under [[{thing.table}.port]]",
            )
        path = (*thing.path, "port")
        for port, ref in zip(free, thing.port, strict=False):
            if other := self.port(ref, path):
                self._join(LinkLine(port, other, port.spec.cable or thing.cable, path))

    def _join(self, line: LinkLine) -> None:
        self.plan.links.append(line)
        line.a.links.append(line)
        if line.b is not None:
            line.b.links.append(line)

    def port(self, ref: str, path: Path) -> PortPoint | None:
        """Return the data port a reference names; a fault where there is none."""
        found = self._ports.get(ref)
        if found is None:
            self._refer(self._ports, self._find_port, ref, path)
            found = self._ports[ref]
        return found

    def _find_port(self, ref: str, path: Path) -> PortPoint | None:
        name, _, point = ref.partition(".")
        thing = self.plan.things.get(name)
        if thing is None:
            self._unknown(ref, name, path)
            return None
        if not isinstance(thing, Networked):
            self.fault(
                "references.unknown", path, f"{name} has no data ports", "name a switch or a thing with ports"
            )
            return None
        found = self._named_port(thing, point) if point else None
        if found is not None:
            return found
        own = self.own_ports(thing)
        if not point and len(own) == 1:
            return own[0]
        names = f"{own[0].name} .. {own[-1].name}" if len(own) > 3 else ", ".join(p.name for p in own)
        says = f"{name} has no data port {point}" if point else f"{name} has {len(own)} ports; which?"
        remedy = f"its ports: {names or 'none yet; say ports = 8'}"
        self.fault("ports.unknown", path, says, remedy)
        return None


def _dealt(leads: tuple[Any, ...], count: int) -> list[Any]:
    """Return one lead for each inlet: in order, or the only one for all."""
    if len(leads) == 1:
        return [leads[0]] * count
    return [leads[i] if i < len(leads) else None for i in range(count)]


_ETH = Port(id="eth")
_AIR = Port(id="air")
_THROUGH = Outlet(id="", kind="pass-through")

_INTAKE = ("volts", "survives", "backfeed", "plug", "centre", "amps", "ohms", "pins", "capacitance")
_DRAWN = ("load", "idle", "typical", "peak", "surge", "waiting", "stops", "asks", "measured")
_OVERRIDES = frozenset((*_INTAKE, *_DRAWN)) - {"asks", "backfeed"}


def _with_volts_of(outlet: Outlet, feed: Feed) -> Outlet:
    """Return an outlet of a feed with the volts that hold for all of them, where it does not state its own."""
    if outlet.volts is not None or outlet.low is not None:
        return outlet  # an outlet of other volts shares nothing
    names = ("volts", "spread", "low", "high", "plug", "centre")
    changed = {
        n: getattr(feed, n) for n in names if getattr(outlet, n) is None and getattr(feed, n) is not None
    }
    return msgspec.structs.replace(outlet, **changed) if changed else outlet


def _volts_behind(outlet: OutletPoint) -> float | None:
    """Return the nominal volts of the source behind an outlet that may only hand them on."""
    return outlet.root.spec.volts


def _fits(volts: float | None, window: tuple[float, float] | None) -> bool:
    return volts is not None and window is not None and window[0] <= volts <= window[1]


def _overlap(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return a[0] <= b[1] and b[0] <= a[1]


def _by_volts(inlets: list[InletPoint], sources: list[OutletPoint | None]) -> list[OutletPoint | None]:
    """Return the sources in the order of the inlets they fit, if there is such an order; else as written."""
    import itertools

    def fits(order: Iterable[OutletPoint | None]) -> bool:
        pairs = zip(inlets, order, strict=False)
        return all(s is None or _fits(_volts_behind(s), i.spec.volts) for i, s in pairs)

    if len(sources) != len(inlets) or len(sources) > 5 or fits(sources):
        return sources
    return next((list(order) for order in itertools.permutations(sources) if fits(order)), sources)

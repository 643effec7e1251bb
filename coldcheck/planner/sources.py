"""Which rail or outlet feeds what: the part of the placing program that shares the load out among sources.

Loads are what things draw once they are up, at most, in watts; converters ask their own source for what hangs on them.
What a start adds is judged by the lint afterwards, and held back by delays.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck.plan.model import InletPoint, OutletPoint
from coldcheck.plan.quantities import Measure
from coldcheck.plan.spans import listed
from coldcheck.workings.limits import limit_of, total_limit
from coldcheck.workings.power import source_volts
from coldcheck.workings.protection import share_of_rating

from .draft import Draft, Entry, entries
from .outlets import away, efficiency, wants_a_source
from .program import Contradiction, Give, Program, Sum, add

__all__ = ["Slot", "Sources"]

_TAKERS = ("supply", "inline", "node", "storage", "drive", "switch", "fan", "appliance")
_GIVERS = ("feed", "supply", "inline")


#: In a plan with more pairs of an entry and an outlet than this, so many outlets are looked at for each: the nearest.
LARGE, MANY = 2000, 6


class Slot(msgspec.Struct):
    """Things that may change places with each other, one inlet of each, to be fed: ``chosen`` has by the name of an
    outlet the number in the program that says how many of them hang on it."""

    entry: Entry
    things: list[Any]
    inlet: InletPoint
    place: int
    chosen: dict[str, int]

    @property
    def count(self) -> int:
        """How many things it has."""
        return len(self.things)


class Sources:
    """The slots that want a source, the outlets that may feed them, and what each of these gives and may give."""

    def __init__(self, draft: Draft, program: Program, narrow: bool = True) -> None:
        #: whether few of many outlets may be looked at, and whether they were
        self.narrow, self.narrowed = narrow, False
        self.entries = len(self.blank(draft))
        self.draft, self.plan, self.program = draft, draft.plan, program
        self.draws: Any = draft.working("draws")
        self.leads: Any = draft.working("leads")
        every = [o for o in self._outlets() if source_volts(o.root) is not None]
        self.by_name = {outlet.name: outlet for outlet in every}
        self.wired = self._wired()
        #: by the first of outlets that are alike, the names of all of them
        self.alike = self._alike_outlets(every)
        self.outlets = [self.by_name[name] for name in self.alike]
        self.slots: list[Slot] = []
        self.poe_load: dict[str, Sum] = {}  #: watts that switches take for their PoE ports, by switch
        self._asked: dict[str, Sum] = {}
        self._flows: dict[str, dict[str, int]] = {}
        self._whole = 0.0
        self.ranked: frozenset[str] = frozenset()  #: things that hand power on and may hang on each other
        self.utmost = program.number(whole=False)  #: the greatest share of any limit that is asked for

    def _outlets(self) -> Iterator[OutletPoint]:
        for table in _GIVERS:
            for thing in self.plan.table(table):
                yield from thing.outlets

    def _alike_outlets(self, every: list[OutletPoint]) -> dict[str, list[str]]:
        """Return free outlets of one block that are alike together, and every other outlet by itself."""
        wired = {name for names in self.wired.values() for name in names}
        found: dict[Any, list[str]] = {}
        for outlet in every:
            spec: Any = outlet.spec
            block = outlet.thing.table == "inline" and not outlet.takers and outlet.name not in wired
            same = (spec.path, spec.fuse, spec.amps, spec.plug) if block else outlet.name
            found.setdefault((outlet.thing.id, same), []).append(outlet.name)
        return {names[0]: names for names in found.values()}

    def _wired(self) -> dict[str, set[str]]:
        """Return by thing the outlets that the wires of a harness lead to it from: those are settled."""
        found: dict[str, set[str]] = {}
        for wire in self.draft.working("pin_wires") if self.plan.table("harness") else ():
            for mine, theirs in ((wire.a, wire.b), (wire.b, wire.a)):
                name = f"{theirs.thing}.{theirs.outlet}" if theirs.outlet else theirs.thing
                if (
                    mine.inlets
                    and mine.thing != theirs.thing
                    and name in self.by_name
                    and theirs.outlet in theirs.point
                ):
                    found.setdefault(mine.thing, set()).add(name)
        return found

    @staticmethod
    def blank(draft: Draft) -> list[Entry]:
        """Return the entries that nothing feeds."""
        by_cable = {feed.thing.id for feed in draft.working("poe_feeds") if feed.fed}
        return entries(
            thing
            for table in _TAKERS
            for thing in draft.plan.table(table)
            if thing.id not in by_cable and wants_a_source(thing)
        )

    def seat(self, entry: Entry, powered: Sum | None = None, early: float = 0.0) -> str:
        """Add the slots of an entry; returns why it stays blank, "" where it does not.

        ``powered`` is how many of its things take their power by a data cable, where that is to be decided, too;
        ``early`` is where it stands among its like in the plan, from 0 to 1.
        """
        first = entry.things[0]
        if not first.inlets:
            return "it has several inlets and uses one; say which by `into`"
        for thing in entry.things:
            self._pins_agree(thing)
        made: list[Slot] = []
        for place, _inlet in enumerate(first.inlets):
            for things in self._alike(entry):
                own = things[0].inlets[place]
                names = self._fitting(own, things)
                if not names:
                    return self._none_fits(own)
                names = self._narrowed(names, things, early)
                made.append(
                    Slot(entry, things, own, place, {n: self.program.number(0, len(things)) for n in names})
                )
        for slot in made:
            says = f"{listed([t.id for t in slot.things])} must be fed" + (
                f" at {slot.inlet.id}" if slot.inlet.id else ""
            )
            terms: Sum = dict.fromkeys(slot.chosen.values(), 1.0)
            share = slot.count / len(entry.things)
            self.program.demand(add(terms, powered or {}, share), slot.count, slot.count, says)
        self.slots += made
        return ""

    def _alike(self, entry: Entry) -> list[list[Any]]:
        """Return the things of an entry that may change places: what others hang on or is placed stands by itself."""
        alone = [t for t in entry.things if self._has_its_own(t)]
        rest = [t for t in entry.things if t not in alone]
        return [[thing] for thing in alone] + ([rest] if rest else [])

    def _has_its_own(self, thing: Any) -> bool:
        hands_on = thing.table in ("supply", "inline") or any(o.takers for o in thing.outlets)
        return hands_on or thing.at is not None or thing.id in self.wired

    def _fitting(self, inlet: InletPoint, things: list[Any]) -> list[str]:
        """Return the outlets whose volts lie inside the window of an inlet, at their lowest and at their highest."""
        window = _window(inlet)
        if window is None:
            return []
        settled = self.wired.get(things[0].id) if len(things) == 1 else None
        found = []
        for outlet in self.outlets:
            volts = source_volts(outlet.root)
            assert volts is not None
            fits = window[0] <= volts[1] and volts[2] <= window[1] and self._carries(outlet, things[0], inlet)
            if fits and not self._hangs_on(outlet, things) and (settled is None or outlet.name in settled):
                found.append(outlet.name)
        return found

    def _pins_agree(self, thing: Any) -> None:
        """Raise a contradiction where a wire of a harness leads to a thing from volts that none of its inlets takes."""
        windows = [inlet.spec.volts for inlet in thing.inlets]
        for name in sorted(self.wired.get(thing.id, ())):
            volts = source_volts(self.by_name[name].root)
            if volts is None or any(w is None or w[0] <= volts[0] <= w[1] for w in windows):
                continue
            takes = listed(
                [f"{Measure(w[0], 'V')} .. {Measure(w[1], 'V')}" for w in windows if w is not None]
            )
            raise Contradiction(
                [
                    f"a wire of a harness leads from {name}, which gives {Measure(volts[0], 'V')}, to {thing.id}",
                    f"{thing.id} takes {takes}",
                ],
                [f"another pin for that wire, at {name} or at {thing.id}"],
            )

    def _narrowed(self, names: list[str], things: list[Any], early: float) -> list[str]:
        """Return the outlets that are worth a choice: all of them, in a plan of usual size.

        In a large one, those that are near by place, or by order where no place is known, and of these the fused ones.
        """
        if not self.narrow or len(names) <= MANY or len(self.outlets) * self.entries <= LARGE:
            return names
        self.narrowed = True
        fused = [name for name in names if self.by_name[name].via is not None] or names
        ways = {name: away(things[0], self.by_name[name].thing) for name in fused}
        far = {name: abs(k / len(fused) - early) for k, name in enumerate(fused)}
        near = sorted(fused, key=lambda name: (ways[name] or 0.0, far[name]))[:MANY]
        return [name for name in names if name in near]

    def _carries(self, outlet: OutletPoint, thing: Any, inlet: InletPoint) -> bool:
        """Say whether one of several outlets that are alike carries what one thing draws for itself."""
        volts, most = source_volts(outlet.root), self.most(outlet)
        alone = len(self.alike[outlet.name]) == 1 or thing.table in ("supply", "inline")
        return alone or most is None or volts is None or self._own(inlet) <= most * volts[1]

    @staticmethod
    def _hangs_on(outlet: OutletPoint, things: list[Any]) -> bool:
        """Say whether an outlet is fed, directly or by others, by one of the things."""
        todo, seen = [outlet.thing], set()
        while todo:
            holder: Any = todo.pop()
            if holder in things:
                return True
            if id(holder) not in seen:
                seen.add(id(holder))
                todo += [i.source.thing for i in getattr(holder, "inlets", ()) if i.source is not None]
        return False

    def _none_fits(self, inlet: InletPoint) -> str:
        window = _window(inlet)
        if window is None:
            return "the volts that it works at are not known"
        rails = [
            f"{o} {Measure(v[1], 'V')} .. {Measure(v[2], 'V')}"
            for o in self.outlets[:6]
            if (v := source_volts(o.root))
        ]
        told = f"it works at {Measure(window[0], 'V')} .. {Measure(window[1], 'V')}"
        return f"{told}, and no source stays inside that: {listed(rails) or 'there is none'}"

    # --- what flows ---------------------------------------------------------------------------------------------------

    def asked(self, outlet: OutletPoint) -> Sum:
        """Return the watts that are asked of an outlet: of what hangs on it, and of what may."""
        known = self._asked.get(outlet.name)
        if known is None:
            known = self._asked[outlet.name] = {}  # what feeds itself in a ring is told by a rule
            for taker in outlet.takers:
                add(known, self.load(taker))
            for slot in self.slots:
                if (number := slot.chosen.get(outlet.name)) is not None:
                    add(known, self.share(slot, outlet, number))
        return known

    def share(self, slot: Slot, outlet: OutletPoint, number: int) -> Sum:
        """Return the watts that a slot asks of one of its outlets: so many times what one of its things does."""
        load = self.load(slot.inlet)
        if set(load) <= {None}:
            return {number: load.get(None, 0.0)}
        if len(slot.chosen) == 1:
            return load
        return {self._flow(slot, load)[outlet.name]: 1.0}

    def _flow(self, slot: Slot, load: Sum) -> dict[str, int]:
        """Return by outlet a number for the watts that flow to a slot whose load depends on other choices."""
        key = f"{slot.inlet.name} by"
        if key not in self._flows:
            flows = {name: self.program.number(whole=False) for name in slot.chosen}
            for name, number in slot.chosen.items():
                self.program.demand({flows[name]: 1.0, number: -self._utmost_watts()}, high=0.0)
            self.program.demand(add(dict.fromkeys(flows.values(), 1.0), load, -1.0), 0.0, 0.0)
            self._flows[key] = flows
        return self._flows[key]

    def _utmost_watts(self) -> float:
        """Return more than the whole plan can take [W]; not much more, since a solver counts in small fractions."""
        if not self._whole:
            things = [t for table in _TAKERS for t in self.plan.table(table)]
            own = sum(self._own(inlet) for thing in things for inlet in thing.inlets)
            poe = sum(getattr(thing, "poe_budget", None) or 0.0 for thing in things)
            standing = sum(getattr(thing, "standing", None) or 0.0 for thing in things)
            self._whole = 4.0 * (own + poe + standing) + 10.0
        return self._whole

    def _own(self, inlet: InletPoint) -> float:
        """Return what an inlet takes for its own thing [W]."""
        volts = self._volts(inlet)
        drawn = self.draws.of(inlet, volts)
        if drawn.unit == "ohm":
            return volts * volts / drawn.value if drawn.value else 0.0
        return float(drawn.value if drawn.unit == "W" else drawn.value * volts)

    def load(self, inlet: InletPoint) -> Sum:
        """Return the watts that an inlet takes, its own and for what hangs on its thing."""
        thing: Any = inlet.thing
        found: Sum = {None: self._own(inlet)}
        first = inlet is thing.inlets[0]
        if first and thing.table == "switch":
            add(found, self.poe_load.get(thing.id, {}), 1.0 / (thing.poe_efficiency or 1.0))
        for outlet in thing.outlets:
            if outlet.via is inlet:
                add(found, self.asked(outlet))
            elif outlet.via is None and first:
                add(found, self.asked(outlet), 1.0 / efficiency(thing, outlet))
        if first and (standing := getattr(thing, "standing", None)):
            add(found, {None: standing})
        return found

    def _volts(self, inlet: InletPoint) -> float:
        volts = source_volts(inlet.source.root) if inlet.source is not None else None
        window = inlet.spec.volts
        return (
            volts[0] if volts else sum(window) / 2 if window else getattr(inlet.thing, "rated", None) or 0.0
        )

    # --- limits and aims ----------------------------------------------------------------------------------------------

    def bound(self) -> None:
        """Hold every outlet, and those that share a limit, to what they may give; to be called when all is seated."""
        self._no_rings()
        reserve = self.plan.head.reserve
        for outlet in self.outlets:
            volts = source_volts(outlet.root)
            assert volts is not None
            free = reserve if outlet.via is None else 0.0
            names = self.alike[outlet.name]
            most = self.most(outlet)
            told = f"{listed(names)} give" if len(names) > 1 else f"{outlet} gives"
            whole = most * len(names) if most is not None else None
            self._held(told, self.asked(outlet), volts[1], whole, free, f"of {listed(names)}")
        for total in self.draft.working("totals"):
            watts = total_limit(total, self.plan).watts
            asked: Sum = {}
            for outlet in total.outlets:
                add(asked, self.asked(outlet))
            if watts is not None and asked:
                self._held(f"{total} gives", asked, 1.0, watts, reserve, f"of {total}", "W")

    def _no_rings(self) -> None:
        """Give all that hands power on a rank above what it hangs on, so that none feeds itself through others."""
        holders = {
            slot.things[0].id: slot for slot in self.slots if slot.things[0].outlets and slot.count == 1
        }
        ranks: dict[str, int] = {}
        most = float(len(holders) + 1)
        for slot in holders.values():
            for name, number in slot.chosen.items():
                above = self.by_name[name].root.thing.id
                if above not in holders or slot.things[0].id == above:
                    continue
                for name_of in (slot.things[0].id, above):
                    if name_of not in ranks:
                        ranks[name_of] = self.program.number(0, most, whole=False)
                mine, theirs = ranks[slot.things[0].id], ranks[above]
                says = f"{listed(sorted((slot.things[0].id, above)))} do not feed each other"
                self.program.demand({theirs: 1.0, mine: -1.0, number: most}, high=most - 1, says=says)
        self.ranked = frozenset(ranks)

    def most(self, outlet: OutletPoint) -> float | None:
        """Return the amps that an outlet may give for as long as you like: its rating, its fuse, its inlet's rating."""
        spec: Any = outlet.spec
        found = [limit_of(outlet, self.plan).amps]
        holders = [spec, outlet.thing if outlet.thing.table in ("feed", "inline") else None]
        found += [
            f.amps * share_of_rating(f.kind) for h in holders if (f := getattr(h, "fuse", None)) is not None
        ]
        if outlet.via is not None:
            found.append(outlet.via.spec.amps)
        return min((amps for amps in found if amps is not None), default=None)

    def _held(
        self, who: str, asked: Sum, volts: float, most: float | None, free: float, of: str, unit: str = "A"
    ) -> None:
        if most is None or not set(asked) - {None}:
            return
        terms = {key: watts / volts for key, watts in asked.items()}
        less = f" less the reserve of {Measure(100 * free, '%')}" if free else ""
        says = f"{who} {Measure(most, unit)}{less}"
        self.program.demand(
            terms, high=most * (1 - free), says=says, give=Give(f"{{}} {unit} more {of}", whole=False)
        )
        self.program.demand(add({self.utmost: -most}, terms), high=0.0)


def _window(inlet: InletPoint) -> tuple[float, float] | None:
    """Return the volts that an inlet works at; of a fan that states none, a fifth around those it is rated for."""
    rated = getattr(inlet.thing, "rated", None)
    if inlet.spec.volts is None and rated is not None:
        return 0.8 * rated, 1.2 * rated
    return inlet.spec.volts

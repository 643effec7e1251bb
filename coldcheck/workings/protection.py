"""What every fuse of a plan protects, what flows through it, and what it must break; and what has no fuse at all.

A wire, or a contact, is judged by what stands in front of it on the way from its sources: the smallest fuse, and what
the source says it gives at the most. A fuse that is smaller further up protects what hangs behind a larger one.

Each rail of a converter is a source of its own. A short behind it makes the converter take a little more from what
feeds it, and no fuse in front sees that; so its own limit protects what it feeds, if it is stated: a limit that nobody
states protects nothing. The same holds for adapters and bench supplies. A battery has no limit, whatever its label
says. An outlet of a board, a carrier or a switch that states its amps limits itself, as USB ports do; the amps of an
in-line thing are a rating. Where sources meet, what hangs behind gets what all of them let through together.

A source that limits itself is held to 1.45 times what a wire carries, as that which surely opens a fuse is: twice the
heat, so 60 K of rise where the table has 30 K, which common insulation stands.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import msgspec

from coldcheck.dc import fuse as gates
from coldcheck.dc import fuse_data
from coldcheck.dc import wire as copper
from coldcheck.dc.steps import add
from coldcheck.engine.rules import working
from coldcheck.plan.edit import Put
from coldcheck.plan.kinds import Fuse, Run
from coldcheck.plan.model import InletPoint, OutletPoint, Plan, joined
from coldcheck.plan.quantities import Measure

from .carried import carried
from .contacts import ends_of
from .harness import Pair
from .leads import Leads, fuses_before
from .net import Steps, source_volts
from .pins import PinWire
from .power import SHORT, Loading, Total, settled

if TYPE_CHECKING:
    from .rehearsal import Rehearsal

__all__ = [
    "STANDS", "Bare", "FuseAt", "Piece", "Protection", "fuse_text", "fused", "held", "protection", "resized",
    "share_of_rating", "unfused",
]  # fmt: skip

#: NEC 210.20(A): a fuse is at least 1.25 times the continuous load, so a load at most 80 % of the fuse.
CONTINUOUS = 0.8
#: A current that a wire stands until its protection acts, over what it carries for good. IEC 60364-4-43, from memory.
STANDS = 1.45
#: A PTC has no figures outside this air [degC].
PTC_AIR = (0.0, 85.0)
_ROUNDING = 1 + 1e-9


def share_of_rating(kind: str | None) -> float:
    """Return the share of its rating that a fuse may carry without end, by its kind.

    All of it where each class that the kind may be is rated for that (IEC; a PTC by what it holds), else 80 %: makers
    of blade and UL fuses ask for 75 %, the code for 80 %.
    """
    classes = fuse_data.KINDS.get(kind or "", ())
    return 1.0 if classes and all(fuse_data.LOADED[each] == 1 for each in classes) else CONTINUOUS


def held(fuse: Fuse, ambient: float) -> float:
    """Return what a fuse is rated for in the air of the plan [A]: a PTC holds less when it is warm."""
    if fuse.kind != "ptc":
        return fuse.amps
    return gates.ptc_hold(fuse.amps, min(max(ambient, PTC_AIR[0]), PTC_AIR[1]))


def fuse_text(amps: float, kind: str | None) -> str:
    """Return a fuse as it is written in a plan."""
    return " ".join(filter(None, (str(Measure(amps, "A")), kind)))


class Piece(msgspec.Struct, frozen=True):
    """A wire or a contact: what it is, what it carries [A], how that came about, the inlet it leads to.

    ``floor``: it carries at least that, and how much more is not known. ``gauge`` and ``run`` are those of a wire, of
    ``parallel`` side by side; ``flows`` is the most that flows through all of them as planned [A].
    """

    what: str
    amps: float
    how: str
    at: Any
    floor: bool = False
    gauge: float | None = None
    run: Run | None = None
    flows: float = 0.0
    parallel: int = 1

    def __str__(self) -> str:
        return self.what


class Root(msgspec.Struct, frozen=True):
    """A source in front, and the resistance of the way from it, out and back [ohm]: the least that is sure."""

    outlet: OutletPoint
    ohms: float

    @property
    def battery(self) -> bool:
        """Whether it gives far more than its rating."""
        return bool(getattr(self.outlet.thing, "battery", None))

    def into_a_short(self) -> float | None:
        """Return the most that it gives into a short behind that way [A]; None where that is not known."""
        volts = source_volts(self.outlet)
        own = getattr(self.outlet.spec, "ohms", None)
        ohms = self.ohms + (own or 0.0)
        bound = abs(volts[2]) / ohms if volts is not None and ohms > 0 else None
        stated = None if self.battery else _most(self.outlet)
        return min((x for x in (bound, stated) if x is not None), default=None)

    @property
    def known(self) -> bool:
        """Whether what it gives into a short follows from its own figures."""
        return not self.battery or getattr(self.outlet.spec, "ohms", None) is not None


class FuseAt:
    """One fuse: where it is, what flows through it, what is in front of it and behind it.

    ``steps`` are its amps in time, ``settled`` what lasts longer than a short surge [A], ``rated`` what it is rated for
    in the air of the plan [A]. ``roots`` are the sources in front, ``backed`` the name of a fuse in front of it,
    ``limit`` what something in front of it never exceeds [A], None where nothing limits itself.
    ``wires`` and ``contacts`` are what it protects, or should: it is the smallest in front of them. ``bare`` are the
    wires for which it is too large, ``loose`` those that its rating suits, but not what surely opens it, ``weak`` the
    contacts; ``meets`` names those that let current through to them as well.
    """

    def __init__(
        self, name: str, fuse: Fuse, holder: Any, spec: Any, steps: Steps, roots: tuple[Root, ...],
        backed: str, ambient: float, limit: float | None,
    ) -> None:  # fmt: skip
        self.name, self.fuse, self.holder, self.spec = name, fuse, holder, spec
        self.steps, self.roots, self.backed, self.limit = steps, roots, backed, limit
        self.settled = settled(steps)
        self.rated = held(fuse, ambient)
        self.wires: list[Piece] = []
        self.contacts: list[Piece] = []
        self.bare: list[Piece] = []
        self.loose: list[Piece] = []
        self.weak: list[Piece] = []
        self.meets: list[str] = []

    def __str__(self) -> str:
        return self.name

    @property
    def told(self) -> str:
        """What it is called in a sentence: ``the 15 A fuse of bank``."""
        return f"the {Measure(self.fuse.amps, 'A')} fuse of {self.name}"

    @property
    def volts(self) -> float | None:
        """The highest volts that it may have to interrupt [V]; None where the plan does not say."""
        found = [abs(volts[2]) for root in self.roots if (volts := source_volts(root.outlet))]
        return max(found, default=None)

    @property
    def battery(self) -> bool:
        """Whether a battery is in front of it."""
        return any(root.battery for root in self.roots)

    def prospective(self) -> tuple[float | None, bool]:
        """Return the most that flows into a short behind it [A], None where unknown, and whether all is stated."""
        found = [root.into_a_short() for root in self.roots]
        known = [amps for amps in found if amps is not None]
        sure = len(known) == len(found) and all(root.known for root in self.roots)
        return (sum(known) if known and len(known) == len(found) else None), sure

    def stands_start(self, amps: float, kind: str) -> bool:
        """Say whether a fuse of so many amps would surely stand what flows at the start."""
        return gates.standing(kind, amps, self.steps) <= _ROUNDING

    def sizes(self, kind: str | None) -> list[float]:
        """Return the usual sizes of a kind that carry what flows here, stand its start and protect all behind it."""
        if kind is None or kind == "ptc":
            return []
        wire = min((piece.amps for piece in self.wires), default=float("inf"))
        contact = min((piece.amps for piece in self.contacts), default=float("inf"))
        share = share_of_rating(kind)
        able = [
            size for size in gates.sizes(kind)
            if self.settled <= share * size * _ROUNDING and size <= wire * _ROUNDING and self.stands_start(size, kind)
        ]  # fmt: skip
        return [size for size in able if size <= contact * _ROUNDING] or able

    def opens_in_start(self) -> float | None:
        """Return the current at which it has surely opened before the start is over [A]; None where it has not."""
        kind, steps = self.fuse.kind, self.steps
        ends = [start for start, _ in steps[1:]] + [float("inf")]
        for i, (start, amps) in enumerate(steps):
            least = amps
            for j in range(i, len(steps)):
                least = min(least, steps[j][1])
                if kind is None or least <= self.rated:
                    break
                within = gates.opens_within(kind, self.rated, least)
                if within is not None and within <= ends[j] - start:
                    return least
        return None


class Bare(msgspec.Struct):
    """A source that gives more than wires behind it carry, with no fuse in front of them: its limit [A], the wires."""

    outlet: OutletPoint
    limit: float
    wires: list[Piece]
    sources: tuple[str, ...] = ()  #: what gives it together, where several meet


class Guard(msgspec.Struct, frozen=True):
    """What stands in front of a place: the smallest fuse, the stated limit of the source [A], and the sources.

    ``limiter`` is the outlet that states the limit; ``met`` has what stands in front of each side where sources meet.
    """

    fuse: FuseAt | None
    limit: float | None
    limiter: OutletPoint | None
    roots: tuple[Root, ...]
    met: tuple[Guard, ...] = ()

    def with_fuse(self, fuse: FuseAt) -> Guard:
        """Return the same behind one more fuse."""
        if self.fuse is not None and self.fuse.fuse.amps < fuse.fuse.amps:
            return self
        return msgspec.structs.replace(self, fuse=fuse)

    def with_limit(self, limit: float, outlet: OutletPoint) -> Guard:
        """Return the same behind an outlet that limits itself."""
        if self.limit is not None and self.limit <= limit:
            return self
        return msgspec.structs.replace(self, limit=limit, limiter=outlet)

    def behind(self, ohms: float) -> Guard:
        """Return the same at the end of a run."""
        return msgspec.structs.replace(self, roots=tuple(Root(r.outlet, r.ohms + ohms) for r in self.roots))

    @property
    def lets(self) -> float | None:
        """The most that a wire may get for good [A]: 1.45 times a fuse, or the limit; None where nothing limits it."""
        ways = [self.limit] if self.limit is not None else []
        if self.fuse is not None:
            ways.append(STANDS * self.fuse.fuse.amps)
        return min(ways, default=None)

    def blamed(self) -> FuseAt | None:
        """Return the fuse that has to protect what is behind: its own, else the first of those that meet."""
        return self.fuse or next((fuse for side in self.met if (fuse := side.blamed())), None)


def resized(fuse: FuseAt, amps: float) -> tuple[Put, ...]:
    """Return the edit that fits another size, where the plan itself states the fuse, and no figures of its sheet."""
    own = fuse.spec.path[:2] == getattr(fuse.holder, "thing", fuse.holder).path
    plain = fuse.fuse.volts is None and fuse.fuse.breaking is None
    if "fuse" not in fuse.spec.stated or not own or not plain:
        return ()
    return (Put((*fuse.spec.path, "fuse"), fuse_text(amps, fuse.fuse.kind)),)


def _names_of(guard: Guard) -> tuple[str, ...]:
    return tuple(dict.fromkeys(root.outlet.name for root in guard.roots))


def _meeting(sides: list[Guard]) -> Guard:
    lets = [side.lets for side in sides]
    whole = None if None in lets else sum(x for x in lets if x is not None)
    limiter = next((side.limiter for side in sides if side.limiter is not None), None)
    return Guard(None, whole, limiter, tuple(r for side in sides for r in side.roots), tuple(sides))


class Protection(msgspec.Struct):
    """Every fuse of a plan, and every source without one that gives more than the wires behind it carry."""

    fuses: list[FuseAt]
    bare: list[Bare]


@working(reads=("plan", "part", "harness", "feed", "supply", "inline"))
def protection(
    plan: Plan, loading: Loading, leads: Leads, pairs: dict[str, Pair], totals: list[Total]
) -> Protection:
    """Every fuse with what flows through it and what it protects; every source that gives too much without one."""
    return _Finder(plan, loading, leads, pairs, totals).run()


@working(reads=())
def fused(protection: Protection) -> list[FuseAt]:
    """Every fuse of a plan."""
    return protection.fuses


@working(reads=())
def fused_waking(
    plan: Plan,
    leads: Leads,
    pairs: dict[str, Pair],
    totals: list[Total],
    rehearsal: Rehearsal,
    fused: list[FuseAt],
) -> list[FuseAt]:
    """Every fuse with what flows through it while drives that sleep wake, where more does than at the start."""
    wake = rehearsal.wake if fused else None
    if wake is None:
        return []
    before = {fuse.name: max(amps for _, amps in fuse.steps) for fuse in fused}
    found = _Finder(plan, wake.loading, leads, pairs, totals).run().fuses
    return [
        fuse for fuse in found if max(amps for _, amps in fuse.steps) > before.get(fuse.name, 0.0) * _ROUNDING
    ]


@working(reads=())
def unfused(protection: Protection) -> list[Bare]:
    """Every source that gives more than wires behind it carry, with no fuse in between."""
    return protection.bare


class _Finder:
    def __init__(
        self, plan: Plan, loading: Loading, leads: Leads, pairs: dict[str, Pair], totals: list[Total]
    ) -> None:
        self.plan, self.loading, self.leads, self.pairs = plan, loading, leads, pairs
        self.totals: dict[str, list[Total]] = {}
        for total in totals:
            for outlet in total.outlets:
                self.totals.setdefault(outlet.name, []).append(total)
        self.fuses: dict[str, FuseAt] = {}
        self.bare: dict[str, Bare] = {}
        self._guards: dict[str, Guard] = {}
        self._seen: set[tuple[str, str, str]] = set()
        self._stood: dict[int, float] = {}

    def run(self) -> Protection:
        # In this order what feeds a thing comes before it, so a guard never waits for another: no recursion.
        for thing in self.plan.order:
            for outlet in thing.outlets:
                self._guards[outlet.name] = self._guard(outlet)
        for thing in self.plan.order:
            self._things_pieces(thing)
        return Protection(list(self.fuses.values()), list(self.bare.values()))

    # --- in front -----------------------------------------------------------------------------------------------------

    def _guard(self, outlet: OutletPoint) -> Guard:
        thing: Any = outlet.thing
        spec: Any = outlet.spec
        if outlet.via is None:
            guard = self._source(outlet)
        else:
            sides = joined(thing)
            # An outlet that names its inlet hands on that one alone, as in an adapter of 5 V and 12 V.
            sides = sides if outlet.via in sides and spec.inlet is None else [outlet.via]
            guards = [self._through(inlet) for inlet in sides if inlet.source is not None]
            guard = guards[0] if len(guards) == 1 else _meeting(guards)
            if thing.table == "inline":
                if thing.fuse is not None:
                    name = thing.id if len(thing.inlets) == 1 or len(sides) > 1 else outlet.via.name
                    guard = guard.with_fuse(
                        self._fuse(name, thing.fuse, thing, thing, guard, self._into(sides))
                    )
                elif thing.what == "fuse" and spec.fuse is None:
                    guard = msgspec.structs.replace(guard, limit=None)  # `fuses.unknown` asks for its rating
            elif spec.amps is not None and not outlet.handed_on:
                guard = guard.with_limit(spec.amps, outlet)
        own = getattr(spec, "fuse", None) if spec is not thing else None
        if own is not None:
            steps = self.loading.amps(outlet)
            guard = guard.with_fuse(self._fuse(outlet.name, own, outlet, spec, guard, steps))
        return guard

    def _source(self, outlet: OutletPoint) -> Guard:
        thing: Any = outlet.thing
        limit = None if getattr(thing, "battery", None) else self._lasting(outlet)
        guard = Guard(None, limit, outlet if limit is not None else None, (Root(outlet, 0.0),))
        fuse = getattr(thing, "fuse", None) if thing.table == "feed" else None
        if fuse is not None:
            steps = [self.loading.amps(each) for each in thing.outlets]
            whole = steps[0] if len(steps) == 1 else add(steps)
            guard = guard.with_fuse(self._fuse(thing.id, fuse, thing, thing, guard, whole))
        captive = getattr(outlet.spec, "lead", None)
        return guard.behind(self.leads.bare(captive).nominal) if captive is not None else guard

    def _through(self, inlet: InletPoint) -> Guard:
        """Return what stands in front of the far end of the run to an inlet."""
        assert inlet.source is not None
        guard = self._guards.get(inlet.source.name) or Guard(None, None, None, ())
        # the published ohms of a fuse are usual ones, and none that are sure to limit a short
        return guard.behind(self.leads.of(inlet).nominal - fuses_before(inlet)[0])

    def _lasting(self, outlet: OutletPoint) -> float | None:
        """Return what a source gives for longer than a short surge, as it is stated [A]; None where it is not."""
        spec: Any = outlet.spec
        volts = source_volts(outlet)
        least = abs(volts[1]) if volts else 0.0
        found = [spec.amps] if spec.amps is not None else []
        peak = spec.peak
        if peak is not None and (peak.seconds is None or peak.seconds > SHORT):
            found = [max(peak.amps, *found)] if found else [peak.amps]
        watts = [spec.watts, *(total.watts for total in self.totals.get(outlet.name, ()))]
        found += [each / least for each in watts if each is not None and least > 0]
        found += [total.amps for total in self.totals.get(outlet.name, ()) if total.amps is not None]
        return min(found, default=None)

    def _into(self, inlets: list[InletPoint]) -> Steps:
        found = [place for inlet in inlets if (place := self.loading.branch(inlet)) is not None]
        series = [net.worst.series(i) for net, i in found if net.worst.volts and net.worst.volts[i] > 0]
        return series[0] if len(series) == 1 else add(series) or [(0.0, 0.0)]

    def _fuse(self, name: str, fuse: Fuse, holder: Any, spec: Any, guard: Guard, steps: Steps) -> FuseAt:
        found = self.fuses.get(name)
        if found is None:
            backed = guard.fuse.name if guard.fuse is not None else ""
            ambient = self.plan.head.ambient
            found = self.fuses[name] = FuseAt(
                name, fuse, holder, spec, steps, guard.roots, backed, ambient, guard.limit
            )
        return found

    # --- behind -------------------------------------------------------------------------------------------------------

    def _things_pieces(self, thing: Any) -> None:
        if getattr(thing, "what", None) == "return":
            return  # it carries what those send back that go by it: `_inlet_pieces`
        for inlet in thing.inlets:
            if inlet.source is not None and inlet.source.name in self._guards:
                self._inlet_pieces(inlet, self._guards[inlet.source.name])
        for outlet in thing.outlets:
            captive = getattr(outlet.spec, "lead", None)
            if captive is not None and outlet.takers:
                flows = max((amps for _, amps in self.loading.amps(outlet)), default=0.0)
                for piece in _run(captive, f"the lead of {outlet}", outlet, flows):
                    self._wire(piece, self._guards[outlet.name])
        if thing.table == "inline":
            self._holders(thing)

    def _holders(self, thing: Any) -> None:
        """Judge what an in-line thing is rated for: the contacts of a switch, the holder of a fuse, a block."""
        for outlet in thing.outlets[:1] if thing.intake.amps is not None else ():
            flows = max((self._flows(inlet) for inlet in thing.inlets), default=0.0)
            piece = Piece(thing.id, thing.intake.amps, "its rating", thing, flows=flows)
            self._contact(piece, self._guards[outlet.name])
        for outlet in thing.outlets:
            if outlet.takers and outlet.spec.amps is not None and outlet.spec.fuse is not None:
                piece = Piece(f"the holder of {outlet}", outlet.spec.amps, "its rating", outlet)
                self._contact(piece, self._guards[outlet.name])

    def _plainly_kept(self, inlet: InletPoint, guard: Guard) -> bool:
        """Say at once that a lead without a fuse in front stands all that its source gives: so it is in most racks."""
        lead = inlet.lead
        if guard.fuse is not None or guard.limit is None or lead is None or guard.met:
            return False
        if inlet.thing.way_back is not None or inlet.name in self.pairs:
            return False
        most = self._stood.get(id(lead))  # equal leads are one, and live as long as the plan
        if most is None:
            amps = [piece.amps for piece in _run(lead, "", inlet, 0.0)]
            most = self._stood[id(lead)] = STANDS * amps[0] if amps else 0.0
        return guard.limit <= most * _ROUNDING

    def _inlet_pieces(self, inlet: InletPoint, guard: Guard) -> None:
        if self._plainly_kept(inlet, guard):
            return
        flows = self._flows(inlet)
        pair = self.pairs.get(inlet.name)
        if pair is not None:
            for side in pair.sides:
                for piece in _side(side, inlet, 0.0 if pair.web else flows):
                    self._wire(piece, guard)
        elif inlet.lead is not None:
            for piece in _run(inlet.lead, f"the lead to {inlet}", inlet, flows):
                self._wire(piece, guard)
        back = inlet.thing.way_back
        if back is not None and back.lead is not None:
            for piece in _run(back.lead, f"the shared way back {back.thing.id}", back, self._flows(back)):
                self._wire(piece, guard)
        in_bay = getattr(inlet.thing, "bay", None) is not None and inlet.lead is None
        if not in_bay and guard.fuse is not None:  # what is inside a carrier is its maker's affair
            ends = ends_of(inlet, self.leads, pair)
            source: Any = inlet.source
            if ends.ours is not None:
                name = f"the {inlet.spec.plug} of {inlet}"
                self._contact(Piece(name, ends.ours.amps, ends.ours.how, inlet, flows=flows), guard)
            if ends.theirs is not None and not ends.single:
                name = f"the {ends.plug} of {source} to {inlet}"
                self._contact(Piece(name, ends.theirs.amps, ends.theirs.how, inlet, flows=flows), guard)

    def _flows(self, inlet: InletPoint) -> float:
        place = self.loading.branch(inlet)
        return place[0].worst.amps[place[1]] if place is not None and place[0].worst.amps else 0.0

    def _wire(self, piece: Piece, guard: Guard) -> None:
        fuse = guard.blamed()
        key = piece.what, guard.fuse.name if guard.fuse else "", fuse.name if fuse else ""
        if key in self._seen:
            return  # a way back that several share
        self._seen.add(key)
        if guard.fuse is not None:
            guard.fuse.wires.append(piece)
        if piece.flows > piece.amps * _ROUNDING:
            return  # `leads.wire_current` speaks of a wire that is too thin for what flows
        if _kept(guard, piece):
            _loosely(guard, piece)
            return
        if fuse is not None:
            fuse.bare.append(piece)
            fuse.meets += [n for n in _names(guard) if n not in fuse.meets]
        elif guard.limit is not None and guard.limiter is not None:
            found = self.bare.setdefault(
                guard.limiter.name, Bare(guard.limiter, guard.limit, [], _names_of(guard))
            )
            found.wires.append(piece)

    @staticmethod
    def _contact(piece: Piece, guard: Guard) -> None:
        fuse = guard.fuse
        if fuse is None:
            return
        fuse.contacts.append(piece)
        if piece.flows <= piece.amps * _ROUNDING and not _kept(guard, piece):
            fuse.weak.append(piece)


def _kept(guard: Guard, piece: Piece) -> bool:
    """Say whether a fuse or the limit of the source keeps the current in a piece to what it stands."""
    if guard.limit is not None and guard.limit <= STANDS * piece.amps * _ROUNDING:
        return True
    return guard.fuse is not None and guard.fuse.fuse.amps <= piece.amps * _ROUNDING


def _loosely(guard: Guard, piece: Piece) -> None:
    """Note a piece that the rating of its fuse suits, but not the current that surely opens it."""
    fuse = guard.fuse
    by_limit = guard.limit is not None and guard.limit <= STANDS * piece.amps * _ROUNDING
    if fuse is None or fuse.fuse.kind is None or by_limit:
        return
    if not gates.wire_protected(fuse.fuse.kind, fuse.fuse.amps, piece.amps).opens_in_time:
        fuse.loose.append(piece)


def _names(guard: Guard) -> list[str]:
    """Return what lets current through side by side, where sources meet."""
    if guard.fuse is not None or not guard.met:
        return []
    return [(side.fuse.name if side.fuse else side.roots[0].outlet.name) for side in guard.met if side.roots]


def _most(outlet: OutletPoint) -> float | None:
    """Return the most that a source gives by its figures, be it for a short time [A]; None where none is stated."""
    spec: Any = outlet.spec
    volts = source_volts(outlet)
    found = [spec.amps] if spec.amps is not None else []
    found += [spec.peak.amps] if spec.peak is not None else []
    watts = spec.watts if spec.watts is not None else getattr(outlet.thing, "watts", None)
    if not found and watts is not None and volts is not None and volts[1]:
        found = [watts / abs(volts[1])]
    return max(found, default=None)


def _run(run: Run, what: str, at: Any, flows: float) -> Iterator[Piece]:
    gauge = run.gauge if run.gauge is not None else copper.awg_of_area(run.area * 1e-6) if run.area else None
    if gauge is None:
        return
    each = carried(gauge, run.metal, run.among)
    size = f"{run.gauge:g} AWG" if run.gauge is not None else f"{run.area:g} mm2"
    how = f"{run.parallel} × {size}" if run.parallel > 1 else size
    yield Piece(what, each.amps * run.parallel, how, at, each.floor, gauge, run, flows, run.parallel)


def _side(side: tuple[PinWire, ...], inlet: InletPoint, flows: float) -> Iterator[Piece]:
    """Yield the thinnest of wires side by side, for all of them: they share the current equally."""
    known = [wire for wire in side if wire.gauge is not None]
    if not known:
        return
    thin = max(known, key=lambda wire: wire.gauge or 0.0)
    gauge = thin.gauge or 0.0
    each = carried(gauge, thin.wire.metal or "copper")
    how = f"{len(side)} × {gauge:.3g} AWG" if len(side) > 1 else f"{gauge:.3g} AWG"
    what = f"the wire {thin.name}"
    yield Piece(what, each.amps * len(side), how, inlet, each.floor, gauge, None, flows, len(side))

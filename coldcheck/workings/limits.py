"""What a source may give where it stands, and every rating on the way to an inlet, the least of them first."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any, NamedTuple

import msgspec

from coldcheck.dc import thermal, wire
from coldcheck.engine.rules import working
from coldcheck.plan.kinds import Fuse, Points, Rate, Run
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.quantities import Measure

from .carried import Carried, carried
from .contacts import ends_of
from .harness import Pair
from .leads import Leads
from .net import source_volts
from .pins import PinWire
from .power import Total
from .protection import share_of_rating

__all__ = ["Limit", "Rating", "limit_of", "share_of", "total_limit", "warmest_for", "weakest"]


class Limit(msgspec.Struct, frozen=True):
    """What an outlet, or all outlets that share a limit, may give without end at the ambient of the plan.

    ``amps`` is the least of its rating in amps and of its watts at its nominal volts [A]; ``rated`` is the first alone
    [A], ``watts`` the second [W]; None where the plan does not say. ``peak`` is what it gives for a time. ``share`` of
    its rating is left at that ambient; it is in all the numbers. ``beyond``: in air so warm nothing is left of it, or
    nothing published, and all numbers are 0. ``how`` says how ``amps`` came about, "25 A, 80 % at 55 degC: 20 A".
    """

    amps: float | None
    rated: float | None
    watts: float | None
    peak: Rate | None = None
    share: float = 1.0
    beyond: bool = False
    how: str = ""


def share_of(thing: Any, ambient: float) -> float | None:
    """Return the share of its rating that a feed or supply keeps at an ambient [degC]; None beyond its curve."""
    curve: Points | None = getattr(thing, "derating", None)
    return thermal.derated(curve.points, ambient) if curve is not None else 1.0


def warmest_for(curve: Points, share: float) -> float | None:
    """Return the warmest air in which a share of the rating is left, by a derating curve [degC]; None where never."""
    points = curve.points
    for (cool, more), (warm, less) in reversed(list(pairwise(points))):
        if less >= share:
            return warm
        if more >= share:
            return cool + (warm - cool) * (more - share) / (more - less)
    return points[0][0] if points[0][1] >= share else None


def limit_of(outlet: OutletPoint, plan: Plan) -> Limit:
    """Return what one outlet may give at the ambient of the plan; a peak falls with the rating.

    What only hands power on is held to its own amps; the derating of its thing holds for all of its outlets.
    """
    spec: Any = outlet.spec
    return _limit(outlet.thing, spec.amps, spec.watts, spec.peak, source_volts(outlet), plan.head.ambient)


def total_limit(total: Total, plan: Plan, outlet: OutletPoint | None = None) -> Limit:
    """Return what outlets that share a limit may give together at the ambient of the plan.

    Its ``amps`` holds the watts at the nominal volts of ``outlet``, where one is given.
    """
    volts = source_volts(outlet) if outlet is not None else None
    return _limit(total.thing, total.amps, total.watts, None, volts, plan.head.ambient)


def _limit(
    thing: Any,
    amps: float | None,
    watts: float | None,
    peak: Rate | None,
    volts: tuple[float, float, float] | None,
    ambient: float,
) -> Limit:
    found = share_of(thing, ambient)
    share = found or 0.0
    by_watts = watts / abs(volts[0]) if watts is not None and volts is not None and volts[0] else None
    least = min((x for x in (amps, by_watts) if x is not None), default=None)
    return Limit(
        amps=least * share if least is not None else None,
        rated=amps * share if amps is not None else None,
        watts=watts * share if watts is not None else None,
        peak=Rate(peak.amps * share, peak.seconds) if peak is not None else None,
        share=share,
        beyond=not found,
        how=_how(thing, amps, watts, least, found, ambient),
    )


def _how(
    thing: Any,
    amps: float | None,
    watts: float | None,
    least: float | None,
    share: float | None,
    ambient: float,
) -> str:
    if least is None:
        return ""
    told = str(Measure(least, "A"))
    if amps is None or least < amps:
        told += f" by its {Measure(watts or 0.0, 'W')}"
    if not share:
        last = Measure(thing.derating.points[-1][0], "degC")
        return f"{told}, but nothing is {'published above' if share is None else 'left from'} {last}"
    if share == 1:
        return told
    percent, air = Measure(100 * share, "%"), Measure(ambient, "degC")
    return f"{told}, {percent} at {air}: {Measure(least * share, 'A')}"


class Rating(NamedTuple):
    """One rating on the way to an inlet: what it is the rating of, amps [A], and how the number came about.

    ``shared``: others draw through it too, so that more than the amps of the inlet flows there.
    """

    what: str
    amps: float
    how: str
    shared: bool = False


@working(reads=("plan", "part", "harness", "feed", "supply", "inline"))
def weakest(
    plan: Plan, leads: Leads, pairs: dict[str, Pair], totals: list[Total]
) -> Callable[[InletPoint], list[Rating]]:
    """Give for an inlet every rating on its way back to its source [A], least first: the first is its weakest link."""
    return _Ways(plan, leads, pairs, totals).of


class _Ways:
    def __init__(self, plan: Plan, leads: Leads, pairs: dict[str, Pair], totals: list[Total]) -> None:
        self.plan, self.leads, self.pairs = plan, leads, pairs
        self.totals: dict[str, list[Total]] = {}
        for total in totals:
            for outlet in total.outlets:
                self.totals.setdefault(outlet.name, []).append(total)

    def of(self, inlet: InletPoint) -> list[Rating]:
        """Return the ratings on the way of an inlet, least first."""
        found: list[Rating] = []
        here: InletPoint | None = inlet
        while here is not None:
            found += self._inlet(here)
            source = here.source
            if source is None:
                break
            found += self._run(here, source)
            found += self._back(here)
            found += self._outlet(source)
            here = source.via
        return sorted(found, key=lambda rating: rating.amps)

    @staticmethod
    def _inlet(inlet: InletPoint) -> Iterator[Rating]:
        if inlet.spec.amps is not None:
            yield Rating(f"inlet {inlet}", inlet.spec.amps, "its own rating")
        fuse = getattr(inlet.thing, "fuse", None) if inlet.thing.table == "inline" else None
        if fuse is not None:
            yield _fuse(inlet.thing.id, fuse)

    @staticmethod
    def _back(inlet: InletPoint) -> Iterator[Rating]:
        """Yield the rating of a wire back that is shared with others."""
        wire = inlet.thing.way_back
        if wire is not None and wire.lead is not None:
            for rating in _lead(wire.lead, f"wire back {wire}"):
                yield Rating(
                    rating.what, rating.amps, f"{rating.how}, shared by all that go back by it", True
                )

    def _run(self, inlet: InletPoint, source: OutletPoint) -> Iterator[Rating]:
        """Yield the ratings of the contacts at both ends and of the wire between them."""
        pair, lead = self.pairs.get(inlet.name), inlet.lead
        ends = ends_of(inlet, self.leads, pair)
        if ends.ours is not None:
            yield Rating(f"{inlet.spec.plug} of {inlet}", ends.ours.amps, ends.ours.how)
        if ends.theirs is not None and not ends.single:
            yield Rating(f"{ends.plug} of {source}", ends.theirs.amps, ends.theirs.how)
        moulded = getattr(source.spec, "lead", None)
        if moulded is not None:
            yield from _lead(moulded, f"lead of {source}")
        if pair is not None:
            for side in pair.sides:
                yield from _side(side, inlet)
        elif lead is not None:
            yield from _lead(lead, f"lead to {inlet}")

    def _outlet(self, outlet: OutletPoint) -> Iterator[Rating]:
        limit = limit_of(outlet, self.plan)
        several = len(outlet.takers) > 1
        among = f", shared by {len(outlet.takers)} that hang on it" if several else ""
        if limit.amps is not None:
            yield Rating(f"{outlet.noun} {outlet}", limit.amps, limit.how + among, several)
        for total in self.totals.get(outlet.name, ()):
            whole = total_limit(total, self.plan, outlet)
            if whole.amps is not None:
                names = f", for {len(total.outlets)} outlets together" if len(total.outlets) > 1 else ""
                yield Rating(f"limit of {total}", whole.amps, whole.how + names, True)
        fuses = {id(f): f for f in (getattr(outlet.spec, "fuse", None), self._main(outlet)) if f is not None}
        for fuse in fuses.values():
            own = fuse is getattr(outlet.spec, "fuse", None)
            yield _fuse(outlet.name if own else outlet.thing.id, fuse)

    @staticmethod
    def _main(outlet: OutletPoint) -> Any:
        """Return the fuse of a feed, which carries all of its outlets."""
        return getattr(outlet.thing, "fuse", None) if outlet.thing.table == "feed" else None


def _fuse(name: str, fuse: Fuse) -> Rating:
    share = share_of_rating(fuse.kind)
    told = f"{Measure(100 * share, '%')} of {Measure(fuse.amps, 'A')}, for what lasts"
    return Rating(f"fuse of {name}", fuse.amps * share, told)


def _lead(run: Run, name: str) -> Iterator[Rating]:
    gauge = run.gauge if run.gauge is not None else wire.awg_of_area(run.area * 1e-6) if run.area else None
    if gauge is None:
        return
    size = f"{run.gauge:g} AWG" if run.gauge is not None else f"{run.area:g} mm2"
    each = carried(gauge, run.metal, run.among)
    amps, how = each.amps * run.parallel, _size(size, each)
    if run.parallel > 1:
        how = f"{run.parallel} × {how}"
    yield Rating(name, amps, how)


def _side(side: tuple[PinWire, ...], inlet: InletPoint) -> Iterator[Rating]:
    """Yield the rating of wires side by side: they share the current equally, and the thinnest decides."""
    known = [w for w in side if w.gauge is not None]
    if not known:
        return
    thin = max(known, key=lambda w: w.gauge or 0.0)
    each = carried(thin.gauge or 0.0, thin.wire.metal or "copper")
    size = _size(f"{thin.gauge:.3g} AWG", each)
    how = f"{len(side)} × {size}" if len(side) > 1 else size
    yield Rating(f"wire {thin.name}", each.amps * len(side), how)


def _size(size: str, each: Carried) -> str:
    least = "at least " if each.floor else ""
    air = "" if "among" in each.how else " in free air"
    return f"{size}, {least}{Measure(each.amps, 'A')}{air}" + (f" ({each.how})" if each.how else "")

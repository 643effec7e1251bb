"""The resistance between an outlet and an inlet: wire out and back, contacts at both ends, fuses in between.

Nominal is copper at the ambient of the plan and contacts when new. The worst corner is the greatest resistance that
wire of this size may have, 30 K warmer, which is the rise that ratings of wire and contacts are given for, and
contacts at the end of their life.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

import msgspec

from coldcheck.dc import wire
from coldcheck.dc.contact import shared_rating
from coldcheck.engine.rules import working
from coldcheck.plan.kinds import Run
from coldcheck.plan.model import InletPoint, Plan
from coldcheck.plan.reading import plugs_of
from coldcheck.plan.tables import Plug

from .harness import RISE, Pair
from .pins import volts_of_signal

__all__ = [
    "UNKNOWN_CONTACT",
    "Leads",
    "Ohms",
    "contacts_for",
    "fuse_ohms",
    "fuses_before",
    "leads",
    "plug_rating",
]

#: What a contact whose kind the plan does not say is taken for in the worst corner [ohm]: the most that common
#: crimp contacts are allowed after ageing (catalogue pages of 2.0 mm and 2.5 mm families).
UNKNOWN_CONTACT = 0.020


class Ohms(msgspec.Struct, frozen=True):
    """The loop resistance of one run, nominal and in the worst corner [ohm].

    ``missing`` names what the plan leaves out; without a lead both numbers lack the wire. ``assumed`` is the part of
    the worst number that stands for contacts of unknown kind.
    """

    nominal: float
    worst: float
    missing: str = ""
    assumed: float = 0.0


def contacts_for(plug: Plug | None, side_by_side: int) -> int:
    """Return how many contacts of a socket carry each way of a lead with so many conductors side by side.

    A socket has no more contacts than pins of one voltage: two for 5 V on the 40-pin header, one on a barrel.
    """
    if plug is None:
        return 1
    least = plug.contacts or 1
    powered = Counter(s for s in (plug.pins or {}).values() if s == "+" or (volts_of_signal(s) or 0.0) > 0)
    return max(least, min(side_by_side, max(powered.values(), default=least)))


def plug_rating(plug: Plug, count: int) -> float | None:
    """Return what ``count`` contacts of a plug carry together [A]; None where the plug states no rating.

    Contacts that one plug joins are rated for all of them at once (SATA power: 3 × 1.5 A, USB-C: 4 × 1.25 A). Pins
    that a builder puts in parallel share less evenly: each doubling gives a fifth less than twice the rating.
    """
    if plug.amps is None:
        return None
    own = plug.contacts or 1
    return shared_rating(plug.amps * own, max(1, count // own))


class Leads:
    """The runs of a plan; equal ones are computed once."""

    def __init__(self, plan: Plan, pairs: dict[str, Pair]) -> None:
        self.plan = plan
        self.ambient = plan.head.ambient
        self._pairs = pairs
        self._plugs = plugs_of(plan.shelf)
        self._runs: dict[Run, tuple[float, float] | None] = {}
        self._memo: dict[Any, Ohms] = {}

    def of(self, inlet: InletPoint) -> Ohms:
        """Return the resistance between the outlet that feeds an inlet and the inlet itself."""
        if getattr(inlet.thing, "what", None) == "return":
            return self.one_way(inlet)
        source: Any = inlet.source
        spec = inlet.spec
        pair = self._pairs.get(inlet.name) if self._pairs else None
        plugs = (spec.plug, source.spec.plug if source is not None else None)
        inside = _inside(inlet)
        if pair is not None and pair.web:
            return Ohms(*inside, pair.missing)  # wires and contacts are in the web
        if pair is not None:
            plugs = spec.plug, pair.at_plug or plugs[1]
            counts = pair.side_by_side, pair.side_by_side
            return self._whole((pair.nominal, pair.worst), pair.missing, plugs, inside, counts)
        direct = inlet.lead is None and self._direct(inlet, source)
        key = (inlet.lead, plugs, inside, direct)
        found = self._memo.get(key)
        if found is None:
            found = self._memo[key] = self.with_run(inlet, inlet.lead)
        return found

    @staticmethod
    def _direct(inlet: InletPoint, source: Any) -> bool:
        """Say whether an inlet needs no lead: a drive in a bay, or a thing at the end of an adapter's own lead."""
        if source is None:
            return False
        in_bay = getattr(inlet.thing, "bay", None) is not None and source.thing.table == "storage"
        return in_bay or getattr(source.spec, "lead", None) is not None

    def with_run(self, inlet: InletPoint, run: Run | None) -> Ohms:
        """Return the resistance of the way to an inlet as it would be with another lead."""
        source: Any = inlet.source
        spec = inlet.spec
        if run is None:
            if self._direct(inlet, source):
                # One plug goes into one socket: a single mating, known by whichever side says what it is.
                theirs = source.spec.plug if getattr(source.spec, "lead", None) is not None else None
                return self._whole((0.0, 0.0), "", (spec.plug or theirs,), _inside(inlet), (1, 1))
            plugs = (spec.plug, source.spec.plug if source is not None else None)
            return self._whole((0.0, 0.0), "lead", plugs, _inside(inlet), (1, 1))
        ohms = self.run(run)
        missing = "" if ohms is not None else "gauge" if run.length is not None else "length"
        plugs = (spec.plug, source.spec.plug if source is not None else None)
        # Conductors side by side end in contacts of their own, as far as the socket has them.
        counts = contacts_for(self.plug(spec.plug), run.parallel), run.parallel
        return self._whole(ohms or (0.0, 0.0), missing, plugs, _inside(inlet), counts)

    def one_way(self, inlet: InletPoint) -> Ohms:
        """Return the resistance of a shared wire back: one conductor with a contact at each end.

        Where the plan gives plain ohms, they are those of this one wire.
        """
        return self.one_way_with(inlet, inlet.lead)

    def one_way_with(self, inlet: InletPoint, run: Run | None) -> Ohms:
        """Return the resistance of a shared wire back as it would be with another run."""
        loop = self.with_run(inlet, run)
        plain = (run.ohms or 0.0) if run is not None else 0.0
        nominal, worst = ((ohms - plain) / 2 + plain for ohms in (loop.nominal, loop.worst))
        return Ohms(nominal, worst, loop.missing, loop.assumed / 2)

    def bare(self, run: Run) -> Ohms:
        """Return the resistance of a run without contacts: a lead moulded to its source."""
        ohms = self.run(run)
        missing = "" if ohms is not None else "gauge" if run.length is not None else "length"
        return Ohms(*(ohms or (0.0, 0.0)), missing)

    def _whole(
        self,
        wire: tuple[float, float],
        missing: str,
        plugs: tuple[str | None, ...],
        inside: tuple[float, float],
        counts: tuple[int, int],
    ) -> Ohms:
        nominal, worst = wire
        assumed = 0.0
        for name, count in zip(plugs, counts, strict=False):
            new, aged = self._contacts(name, count)
            nominal += new or 0.0
            worst += aged
            assumed += aged if new is None else 0.0
        return Ohms(nominal + inside[0], worst + inside[1], missing, assumed)

    def plug(self, name: str | None) -> Plug | None:
        """Return what the shelf says of a plug, or None."""
        return self._plugs(name) if name else None

    def _contacts(self, plug: str | None, parallel: int) -> tuple[float | None, float]:
        """Return new and aged ohms of a mated pair, out and back; new is None where the plug is not known."""
        part = self.plug(plug)
        if part is None or part.ohms is None:
            return None, 2 * UNKNOWN_CONTACT
        count = max(part.contacts or 1, parallel)
        aged = part.aged if part.aged is not None else 2 * part.ohms
        return 2 * part.ohms / count, 2 * aged / count

    def run(self, run: Run) -> tuple[float, float] | None:
        """Return the loop resistance of a run without its contacts [ohm], or None where too little is said."""
        if run not in self._runs:
            self._runs[run] = self._run(run)
        return self._runs[run]

    def _run(self, run: Run) -> tuple[float, float] | None:
        if run.ohms is not None:
            return run.ohms, run.ohms
        if not run.known or run.length is None:
            return None
        stranded = run.form != "solid"
        area = wire.awg_area(run.gauge) if run.gauge is not None else (run.area or 0.0) * 1e-6
        one = wire.conductor_ohms(
            run.length,
            area,
            temperature=self.ambient,
            metal=run.metal,
            stranded=stranded,
            parallel=run.parallel,
        )
        most = wire.worst_ohms(
            run.length,
            gauge=run.gauge,
            area=None if run.gauge is not None else area,
            temperature=self.ambient + RISE,
            metal=run.metal,
            stranded=stranded,
            parallel=run.parallel,
        )
        return 2 * one, 2 * most


def _inside(inlet: InletPoint) -> tuple[float, float]:
    """Return what lies inside a thing on the way of its power, out and back, least and most [ohm].

    An in-line fuse that does not state its ohms has those published for its kind and rating; a holder may add its own.
    So has the fuse of the outlet that it comes from, if that hands power on: shared by several, as if each of them drew
    as much as this one.
    """
    stated = inlet.spec.ohms or 0.0
    cold, warm = fuses_before(inlet)
    return stated + cold, stated + warm


def fuses_before(inlet: InletPoint) -> tuple[float, float]:
    """Return what fuses add on the way to an inlet, where nobody states their ohms, least and most [ohm]."""
    fuse = getattr(inlet.thing, "fuse", None) if inlet.thing.table == "inline" else None
    own = fuse_ohms(fuse) if fuse is not None and inlet.spec.ohms is None else (0.0, 0.0)
    source = inlet.source
    if source is None or source.via is None or source.spec is source.thing:
        return own
    shared = getattr(source.spec, "fuse", None)
    before = fuse_ohms(shared, len(source.takers)) if shared is not None else (0.0, 0.0)
    return own[0] + before[0], own[1] + before[1]


def fuse_ohms(fuse: Any, takers: int = 1) -> tuple[float, float]:
    """Return what a fuse with its holder adds for each of those that share it, least and most [ohm]."""
    from coldcheck.dc import fuse as physics
    from coldcheck.dc.fuse_data import HOLDER_OHMS

    if not fuse.kind:
        return 0.0, HOLDER_OHMS[1] * takers
    cold, hot = physics.ohms(fuse.kind, fuse.amps), physics.hot_ohms(fuse.kind, fuse.amps)
    return (cold or 0.0) * takers, ((hot or 0.0) + HOLDER_OHMS[1]) * takers


@working(reads=("plan", "harness", "part"))
def leads(plan: Plan, pairs: dict[str, Pair]) -> Leads:
    """The loop resistance from outlet to inlet of every run [ohm]."""
    return Leads(plan, pairs)

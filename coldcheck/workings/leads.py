"""The resistance between an outlet and an inlet: wire out and back, contacts at both ends, fuses in between.

Nominal is copper at the ambient of the plan and contacts when new. The worst corner is the greatest resistance that
wire of this size may have, 30 K warmer, which is the rise that ratings of wire and contacts are given for, and
contacts at the end of their life.
"""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.dc import wire
from coldcheck.engine.rules import working
from coldcheck.plan.kinds import Run
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.reading import plugs_of
from coldcheck.plan.tables import Plug

from .harness import Pair

__all__ = ["RISE", "Leads", "Ohms", "leads"]

#: How much warmer than the ambient the copper is in the worst corner [K].
RISE = 30.0
#: What a contact whose kind the plan does not say is taken for in the worst corner [ohm]: the most that common
#: crimp contacts are allowed after ageing (catalogue pages of 2.0 mm and 2.5 mm families).
UNKNOWN_CONTACT = 0.020


class Ohms(msgspec.Struct, frozen=True):
    """The loop resistance of one run, nominal and in the worst corner [ohm].

    ``missing`` names what the plan leaves out; without a lead both numbers lack the wire. ``assumed`` says that a
    contact of unknown kind is in the worst number.
    """

    nominal: float
    worst: float
    missing: str = ""
    assumed: bool = False
    wire: float = 0.0


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
        source = inlet.source
        spec = inlet.spec
        pair = self._pairs.get(inlet.name) if self._pairs else None
        inside = spec.ohms
        if pair is not None:
            return self._whole(
                pair.nominal, pair.worst, pair.missing, source, spec.plug, inside, pair.side_by_side
            )
        plug_out = source.spec.plug if source is not None else None
        captive = getattr(source.spec, "lead", None) if source is not None else None
        in_bay = source is not None and inlet.lead is None and getattr(inlet.thing, "bay", None) is not None
        key = (inlet.lead, captive, plug_out, spec.plug, inside, in_bay)
        found = self._memo.get(key)
        if found is None:
            found = self._memo[key] = self._ohms(inlet, source, captive, in_bay)
        return found

    def _ohms(self, inlet: InletPoint, source: OutletPoint | None, captive: Run | None, in_bay: bool) -> Ohms:
        nominal = worst = 0.0
        missing = ""
        runs = [run for run in (inlet.lead, captive) if run is not None]
        for run in runs:
            ohms = self.run(run)
            if ohms is None:
                missing = "gauge" if run.length is not None else "length"
            else:
                nominal, worst = nominal + ohms[0], worst + ohms[1]
        if not runs and not in_bay:
            missing = "lead"
        # Conductors side by side end in contacts of their own.
        parallel = inlet.lead.parallel if inlet.lead is not None else 1
        source = None if in_bay else source
        return self._whole(nominal, worst, missing, source, inlet.spec.plug, inlet.spec.ohms, parallel)

    def _whole(
        self, nominal: float, worst: float, missing: str, source: OutletPoint | None, plug: str | None,
        inside: float | None, parallel: int = 1,
    ) -> Ohms:  # fmt: skip
        wire_only = nominal
        assumed = False
        for name in [plug] if source is None else [plug, source.spec.plug]:
            new, aged = self._contacts(name, parallel)
            assumed = assumed or new is None
            nominal += new or 0.0
            worst += aged
        if inside:
            nominal, worst = nominal + inside, worst + inside
        return Ohms(nominal, worst, missing, assumed, wire_only)

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


@working(reads=("plan", "harness", "part"))
def leads(plan: Plan, pairs: dict[str, Pair]) -> Leads:
    """The loop resistance from outlet to inlet of every run [ohm]."""
    return Leads(plan, pairs)

"""What a lead and a fuse may be made of, and a choice of all of them put on trial as a plan."""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.dc import fuse as gates
from coldcheck.dc import wire
from coldcheck.plan.edit import Put, apply
from coldcheck.plan.quantities import Measure
from coldcheck.plan.spans import listed
from coldcheck.workings.choices import GAUGES, SIDE_BY_SIDE, plugs_take
from coldcheck.workings.protection import fuse_text, share_of_rating

from .blanks import FuseSlot, LeadSlot
from .draft import Draft
from .program import Contradiction
from .trial import Trial

__all__ = ["AREAS", "CLOSE", "Design", "Size", "Sizer", "State"]

#: The rules that gauges and fuses are held to while they are chosen; the whole plan is linted at the end.
AREAS = ("leads", "volts", "plugs", "protection", "fuses", "rails", "inrush", "spinup")
#: The mass of copper [g/mm2/m].
_DENSITY = 8.96
CLOSE = 1 + 1e-9


class Size(msgspec.Struct, frozen=True):
    """One way to make a lead: its gauge, and how many conductors side by side."""

    gauge: int
    parallel: int

    @property
    def area(self) -> float:
        """The copper of one way [mm2]."""
        return float(wire.awg_area(self.gauge)) * 1e6 * self.parallel

    def thinner(self, other: Size) -> bool:
        """Say whether it is as thin as the other, or thinner, in every respect."""
        return self.area <= other.area and self.parallel <= other.parallel


class Design(msgspec.Struct, frozen=True):
    """One choice for every slot."""

    leads: tuple[Size, ...]
    fuses: tuple[float, ...]


class State(msgspec.Struct):
    """A design on trial: the plan it makes, what a lint finds in it, and the numbers behind that."""

    design: Design
    trial: Trial
    made: dict[str, Any]


class Sizer:
    """The leads and fuses that are to be chosen, what each may be, and designs of them put on trial."""

    def __init__(self, draft: Draft, leads: list[LeadSlot], fuses: list[FuseSlot]) -> None:
        self.draft, self.leads, self.fuses = draft, leads, fuses
        head = draft.plan.head
        stock = {round(gauge) for gauge in head.wires} or set(GAUGES)
        self.gauges = sorted(stock, reverse=True)
        self.kind = next((fuse.kind for fuse in head.fuses if fuse.kind), "blade")
        mine = [fuse.amps for fuse in head.fuses if fuse.kind in (None, self.kind)]
        self.amps = sorted(mine) or list(gates.sizes(self.kind))
        self.sizes = [self._sizes(slot) for slot in leads]
        self.spots = {inlet.name: i for i, slot in enumerate(leads) for inlet in slot.inlets}
        self.fused = {name: i for i, slot in enumerate(fuses) for name in slot.names}

    # --- what may be chosen -------------------------------------------------------------------------------------------

    def _sizes(self, slot: LeadSlot) -> list[Size]:
        """Return the sizes that the contacts at both ends take, thin to thick."""
        known = self.draft.working("leads")
        thick, thin = -3.0, 40.0
        for inlet in slot.inlets:
            a, b = plugs_take(known, inlet)
            thick, thin = max(thick, a), min(thin, b)
        counts = (slot.parallel,) if slot.parallel else range(1, SIDE_BY_SIDE + 1)
        found = [Size(g, n) for g in self.gauges if thick <= g <= thin for n in counts]
        if not found:
            first = slot.inlets[0]
            raise Contradiction(
                [f"the contacts at both ends of the lead to {first} take {thin:g} to {thick:g} AWG",
                 f"the wires at hand are {listed([f'{g} AWG' for g in self.gauges])}"],
                [f"a wire of {thin:g} to {thick:g} AWG"] if thin >= thick else ["another plug at one of its ends"],
            )  # fmt: skip
        return sorted(found, key=lambda size: (size.area, size.parallel))

    def copper(self, slot: LeadSlot, size: Size) -> float:
        """Return the copper of all leads of a slot, out and back [g]."""
        metres = sum((i.lead and i.lead.length) or slot.run.length or 0.0 for i in slot.inlets)
        return 2 * size.area * metres * _DENSITY

    # --- trials -------------------------------------------------------------------------------------------------------

    def puts(self, design: Design) -> list[Put]:
        """Return what a design writes into the plan."""
        found: list[Put] = []
        for slot, size in zip(self.leads, design.leads, strict=True):
            if slot.text:
                found.append(Put(slot.key, slot.written(size.gauge, size.parallel)))
            found += [Put(key, f"{size.gauge} AWG") for key in dict.fromkeys(slot.wires)]
        for fuse, amps in zip(self.fuses, design.fuses, strict=True):
            found.append(Put(fuse.key, fuse_text(amps, self.kind)))
        return found

    def tried(self, design: Design) -> State:
        """Return a design on trial, judged by the rules of `AREAS`."""
        bench = self.draft.bench
        trial = bench.trial(apply(self.draft.text, self.puts(design)), AREAS)
        return State(design, trial, {"plan": trial.plan})

    def working(self, state: State, name: str) -> Any:
        """Return a working of a plan on trial."""
        return self.draft.bench.working(state.trial.plan, name, state.made)

    def thickest(self) -> State:
        """Return the plan with the thickest leads that fit, and each fuse the smallest that carries what flows."""
        leads = tuple(sizes[-1] for sizes in self.sizes)
        state = self.tried(Design(leads, tuple(self.amps[-1] for _ in self.fuses)))
        fuses = []
        for slot, found in zip(self.fuses, self.fuse_choices(state), strict=True):
            if not found:
                raise self._no_fuse(slot, state)
            fuses.append(found[0])
        return self.tried(Design(leads, tuple(fuses)))

    def fuse_choices(self, state: State) -> list[list[float]]:
        """Return for each fuse the sizes that carry what flows through it for good and stand its start."""
        at: dict[str, Any] = {fuse.name: fuse for fuse in self.working(state, "fused")}
        found = []
        for slot in self.fuses:
            mine = [at[name] for name in slot.names if name in at]
            share = share_of_rating(self.kind)
            flows = max((fuse.settled for fuse in mine), default=0.0)
            able = [
                a
                for a in self.amps
                if flows <= share * a * CLOSE and all(f.stands_start(a, self.kind) for f in mine)
            ]
            found.append(able)
        return found

    def _no_fuse(self, slot: FuseSlot, state: State) -> Contradiction:
        at = {fuse.name: fuse for fuse in self.working(state, "fused")}
        flows = max((at[name].settled for name in slot.names if name in at), default=0.0)
        return Contradiction(
            [f"{Measure(round(flows, 3), 'A')} flows through the fuse of {listed(slot.names)}",
             f"the largest fuse at hand is {fuse_text(self.amps[-1], self.kind)}"],
            [f"a fuse of {Measure(round(flows / share_of_rating(self.kind), 2), 'A')} or more"],
        )  # fmt: skip

"""How warm each converter gets: the heat of its worst lasting load, and what that does to its hottest piece."""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.dc import converter, thermal
from coldcheck.engine.rules import working
from coldcheck.plan.model import OutletPoint, Plan

from .converting import efficiency_at
from .power import Loading, settled, source_volts

__all__ = ["Warmth", "warmth"]


class Warmth(msgspec.Struct):
    """The heat of one converter [W], and how far it warms its hottest piece, bare and with a heat sink [K].

    ``given`` is what its rails give [W]. ``least``: a figure is missing, so heat and rises are lower bounds;
    ``missing`` names those figures of the converter itself. A rise is None where its kelvin per watt are not stated.
    """

    given: float
    heat: float
    bare: float | None
    sunk: float | None
    least: bool
    missing: tuple[str, ...] = ()

    def rise(self, sink: bool) -> float | None:
        """Return how far its hottest piece warms [K], with a heat sink or without."""
        return self.sunk if sink else self.bare


@working(reads=("supply", "part"))
def warmth(plan: Plan, loading: Loading) -> dict[str, Warmth]:
    """The heat of every converter [W] at the most that lasts longer than a short surge, and its rise [K], by its id."""
    return {supply.id: _of(supply, loading) for supply in plan.table("supply")}


def _of(supply: Any, loading: Loading) -> Warmth:
    heat, given, together = supply.standing or 0.0, 0.0, 0.0
    missing: list[str] = []
    least = False
    for outlet in supply.outlets:
        if not outlet.is_source or not outlet.takers:
            continue
        out = _given(outlet, loading)
        least = least or out is None or bool(loading.missing.get(outlet.name))
        if not out:
            continue
        given += out
        efficiency = outlet.spec.efficiency
        if efficiency is None and supply.efficiency is not None and supply.efficiency.unit != "A":
            together += out  # one curve for all rails together
            continue
        efficiency = efficiency or supply.efficiency
        if efficiency is None:
            missing.append(f"{outlet} efficiency")
            continue
        volts = source_volts(outlet)
        heat += converter.heat(out, efficiency_at(efficiency, out, volts[0] if volts else 0.0))
    if together:
        heat += converter.heat(together, efficiency_at(supply.efficiency, together, 0.0))
    bare, sunk = (
        thermal.rise(heat, each) if each is not None else None
        for each in (supply.warms, supply.warms_with_sink)
    )
    return Warmth(given, heat, bare, sunk, least or bool(missing), tuple(missing))


def _given(outlet: OutletPoint, loading: Loading) -> float | None:
    """Return what a rail gives for longer than a short surge [W]; None where its net could not be solved."""
    net = loading.nets[outlet.name]
    return max(0.0, settled(net.worst.watts)) if net.worst.volts else None

"""What a wire may carry: the table of `coldcheck.dc.wire`, and how one goes beyond its ends and other metals."""

from __future__ import annotations

import math
from functools import lru_cache

import msgspec

from coldcheck.dc import wire

__all__ = ["TABLE", "Carried", "carried"]

#: The column for short single wires in free air; a thick bundle carries less, and then a thicker gauge is due.
TABLE = "chassis"
#: The thickest and the thinnest gauge of the table.
THICKEST, THINNEST = min(wire.AMPACITY), max(wire.AMPACITY)


class Carried(msgspec.Struct, frozen=True):
    """What one wire may carry [A]; ``how`` says what was computed, and is empty where the table says it.

    ``floor``: the wire is thicker than the table, so it carries at least this much, and how much more is not known.
    """

    amps: float
    how: str = ""
    floor: bool = False


@lru_cache(maxsize=4096)
def carried(gauge: float, metal: str = "copper", among: int | None = None) -> Carried:
    """Return what one wire may carry, in free air or among others in a bundle.

    Thinner than the table, the last row is scaled by area, as the table itself falls from 28 to 30 AWG (0.61, where the
    area falls to 0.63); the same heat for each surface would allow more, by area to the power of 0.75. Thicker than the
    table, the first row is a floor. Another metal carries less at the same heat: I² × resistivity stays.

    gauge: American gauge; of a metric wire, that of its area [-]
    metal: one of `coldcheck.dc.wire.METALS` [-]
    among: conductors of its bundle that carry current, itself among them; None for a wire by itself [-]
    Gives: [A]
    Errors: ValueError for a gauge beyond 56; UnknownChoiceError for a metal that is not known.
    Valid: gauges to 56; below 10 only as a floor.
    Source: Handbook of Electronic Tables and Formulas, column for chassis wiring; NEC 2014 table 310.15(B)(3)(a) for
        bundles; the rest is computed.
    """
    how = []
    gauge = round(gauge, 6)
    clipped = min(max(gauge, THICKEST), THINNEST)
    amps = wire.ampacity(clipped, TABLE) or 0.0
    if gauge > THINNEST:
        amps *= wire.awg_area(gauge) / wire.awg_area(THINNEST)
        how.append(f"scaled by area from {THINNEST} AWG")
    if metal != "copper":
        share = math.sqrt(wire.metal_named(metal).iacs)
        amps *= share
        how.append(f"{share:.2f} of copper for {metal}, at the same heat")
    if among is not None and (share := wire.bundle_factor(among)) < 1:
        amps *= share
        how.append(f"{share:g} of it among {among} conductors that carry current")
    return Carried(amps, " and ".join(how), gauge < THICKEST)

"""What contacts side by side carry together: from how unequally they age where that is known, else by a law."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from coldcheck.dc import wire as copper
from coldcheck.dc.contact import worst_share
from coldcheck.plan.model import InletPoint
from coldcheck.plan.quantities import Measure
from coldcheck.plan.tables import Plug

from .harness import Pair
from .leads import Leads, contacts_for, plug_rating
from .pins import PinWire

__all__ = ["Ends", "Together", "ends_of", "rated", "together_carry"]

#: Least and most ohms in series with each contact, up to where the conductors are joined.
Series = tuple[float, float]


class Together(msgspec.Struct, frozen=True):
    """What contacts carry together [A], and how that came about."""

    amps: float
    how: str


class Ends(msgspec.Struct, frozen=True):
    """The contacts at both ends of the way to an inlet: what they carry there; None where no plug says.

    ``ours`` is the plug of the inlet, ``theirs`` that of the outlet; ``single``: a plug straight in its socket, so that
    both are one mated pair. ``plug`` names that of the outlet.
    """

    ours: Together | None
    theirs: Together | None
    single: bool = False
    plug: str = ""


def rated(plug: Plug, gauge: float | None) -> float | None:
    """Return the rating of one contact of a plug with this wire in it [A]; None where the plug states none.

    Between two gauges of its table that of the thinner wire holds; a plain rating is never exceeded.
    """
    if plug.amps_at is None or gauge is None:
        return plug.amps
    points = plug.amps_at.points
    at = next((amps for size, amps in points if size >= gauge), points[-1][1])
    return at if plug.amps is None else min(at, plug.amps)


def together_carry(
    plug: Plug | None, count: int, series: Sequence[Series] = (), gauge: float | None = None
) -> Together | None:
    """Return what ``count`` contacts of a plug carry together; None where the plug states no rating.

    Contacts that one plug joins are rated for all at once. What a builder puts side by side shares unequally: where the
    ohms of a contact new and aged are stated, and those of the conductors are known (``series``, by side of the loop),
    the share of the only new one among aged ones is held to its own rating. Else each doubling gives a fifth less than
    twice. Never both: the law stands for the same inequality.
    """
    one = rated(plug, gauge) if plug is not None else None
    if plug is None or one is None:
        return None
    if one != plug.amps:
        plug = msgspec.structs.replace(plug, amps=one)
    own = plug.contacts or 1
    many = max(1, count // own)
    each = one * own
    if many > 1 and series and plug.ohms is not None and plug.aged is not None and plug.aged >= plug.ohms:
        share = max(
            worst_share(plug.ohms / own + least, plug.aged / own + most, 0.0, many) for least, most in series
        )
        new, aged, most_of = Measure(plug.ohms, "ohm"), Measure(plug.aged, "ohm"), Measure(100 * share, "%")
        told = f"{many} contacts of {Measure(each, 'A')}: a new one of {new} takes {most_of} beside aged ones of {aged}"
        return Together(each / share, told)
    amps = plug_rating(plug, count)
    assert amps is not None
    if many > 1:
        return Together(
            amps, f"{many} contacts of {Measure(each, 'A')}: a fifth less than twice for each doubling"
        )
    told = f"{own} contacts of {Measure(one, 'A')}" if own > 1 else "one contact for each side"
    return Together(amps, told)


def ends_of(inlet: InletPoint, leads: Leads, pair: Pair | None) -> Ends:
    """Return what the contacts at both ends of the way to an inlet carry."""
    source: Any = inlet.source
    lead = inlet.lead
    there_plug = (pair.at_plug if pair else None) or (source.spec.plug if source is not None else None)
    ours, theirs = leads.plug(inlet.spec.plug), leads.plug(there_plug)
    mine = pair.side_by_side if pair else contacts_for(ours, lead.parallel if lead else 1)
    there = pair.at_source if pair else lead.parallel if lead else 1
    if getattr(getattr(source, "spec", None), "lead", None) is not None:
        there = 1  # a moulded lead has one plug, and all flows through that
    single = (
        lead is None and pair is None and ours is not None and theirs is not None and ours.id == theirs.id
    )
    conductors = _conductors(inlet, leads, pair)
    gauge = _thinnest(inlet, pair)
    return Ends(
        together_carry(ours, _count(ours, mine), _with(conductors, theirs, there, mine), gauge),
        together_carry(theirs, _count(theirs, there), _with(conductors, ours, mine, there), gauge),
        single,
        there_plug or "",
    )


def _thinnest(inlet: InletPoint, pair: Pair | None) -> float | None:
    """Return the gauge of the thinnest wire in the contacts; None where it is not known."""
    if pair is not None:
        return max((g for w in (*pair.out, *pair.back) if (g := w.gauge) is not None), default=None)
    run = inlet.lead
    if run is None or (run.gauge is None and not run.area):
        return None
    return run.gauge if run.gauge is not None else copper.awg_of_area((run.area or 0.0) * 1e-6)


def _count(plug: Plug | None, wired: int) -> int:
    return max((plug.contacts or 1) if plug is not None else 1, wired)


def _with(conductors: list[Series], other: Plug | None, theirs: int, ours: int) -> list[Series]:
    """Add the contacts at the other end, where each conductor has one of its own there too."""
    if other is None or other.ohms is None or theirs != ours or (other.contacts or 1) > 1:
        return conductors
    aged = max(other.ohms, other.aged if other.aged is not None else other.ohms)
    return [(least + other.ohms, most + aged) for least, most in conductors]


def _conductors(inlet: InletPoint, leads: Leads, pair: Pair | None) -> list[Series]:
    """Return least and most ohms of a single conductor, of each side of the loop; cold copper evens out least."""
    if pair is not None:
        sides = [_side(side, leads.ambient) for side in (pair.out, pair.back)]
        return [side for side in sides if side is not None] if all(sides) else []
    run = inlet.lead
    loop = leads.run(run) if run is not None else None
    if run is None or loop is None:
        return []
    one = loop[0] / 2 * run.parallel
    return [(one, one)]


def _side(wires: tuple[PinWire, ...], ambient: float) -> Series | None:
    found = []
    for pin_wire in wires:
        length, gauge = pin_wire.wire.length, pin_wire.gauge
        if length is None or gauge is None:
            return None
        found.append(copper.conductor_ohms(length, copper.awg_area(gauge), temperature=ambient))
    return (min(found), max(found)) if found else None

"""Every wire of a plan as the bench needs it: where both ends go, and what to cut.

What the plan does not say is named as missing, never guessed. Harness wires come as they are listed; a coarse lead
stands for as many conductors out as back.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan
from coldcheck.plan.reading import plugs_of

from .lead_ends import LeadEnds
from .net import source_volts
from .pin_amps import PinAmps
from .pins import End, PinWire

__all__ = ["Cut", "Lead", "Row", "Schedule", "kind_of", "schedule", "size_of"]


class Row(msgspec.Struct, frozen=True):
    """One wire: its harness and number there, both ends, and what it is made of.

    ``a`` and ``b`` have the pin by name, and what it carries; ``plugs`` the kind of contact at each end, None where
    it is not known, ``housings`` the end of the harness, "" where none is declared. ``length`` is between the
    contacts, ``cut`` with its slack [m]; ``strips`` how much insulation goes at each end [m]; ``amps`` the most that
    flows [A]; ``volts`` what stands on it without load, 0 on a return, None where the plan does not say [V].
    """

    harness: str
    number: int
    a: tuple[str, str]
    b: tuple[str, str]
    size: str
    colour: str
    length: float | None
    cut: float | None
    plugs: tuple[str | None, str | None]
    housings: tuple[str, str]
    strips: tuple[float | None, float | None]
    amps: float | None
    missing: tuple[str, ...]
    volts: float | None = None


class Lead(msgspec.Struct, frozen=True):
    """A coarse lead: from an outlet to an inlet, so many conductors out and as many back.

    ``plus`` and ``back`` are the pins of both poles at ``a`` and at ``b``, in words; ``colours`` those of the
    conductors out and back, "" where the plan's colour code has none. ``volts`` is what it carries without load [V],
    None where the plan does not say.
    """

    a: str
    b: str
    size: str
    length: float | None
    each_way: int
    plugs: tuple[str | None, str | None]
    plus: tuple[str, str]
    back: tuple[str, str]
    colours: tuple[str, str]
    missing: tuple[str, ...]
    volts: float | None = None


class Cut(msgspec.Struct, frozen=True):
    """Equal pieces of wire: how many, of which size and colour, how long [m], and the wires or leads they are for."""

    count: int
    size: str
    colour: str
    length: float
    wires: tuple[str, ...] = ()


class Schedule(msgspec.Struct):
    """All wires, all coarse leads, and the pieces to cut."""

    rows: list[Row]
    leads: list[Lead]
    cuts: list[Cut]


@working(reads=("plan", "part"))
def schedule(
    plan: Plan, pin_wires: list[PinWire], lead_ends: dict[str, LeadEnds], pin_amps: PinAmps
) -> Schedule:
    """The wiring schedule and the cut list [m, pieces]."""
    plug = plugs_of(plan.shelf)
    rows = list(_rows(plan, pin_wires, pin_amps, plug))
    leads = [_lead(ends) for ends in lead_ends.values()]
    return Schedule(rows, leads, _cuts(rows, leads))


def _rows(plan: Plan, wires: list[PinWire], amps: PinAmps, plug: Any) -> Iterator[Row]:
    numbers: Counter[str] = Counter()
    for n, wire in enumerate(wires):
        numbers[wire.harness.id] += 1
        said = wire.wire
        size = size_of(said.gauge, said.area)
        cut = said.length + (said.slack or 0.0) if said.length is not None else None
        missing = [word for word, there in (("size", size), ("length", said.length)) if not there]
        if not said.colour:
            missing.append("colour")
        flow = amps.wires.get(n)
        ends = wire.a, wire.b
        kinds = [kind_of(end, wire) for end in ends]
        yield Row(
            wire.harness.id, numbers[wire.harness.id], _told(wire.a), _told(wire.b), size, said.colour or "",
            said.length, cut, (kinds[0], kinds[1]), (wire.a.housing, wire.b.housing),
            (_strip(kinds[0], plug), _strip(kinds[1], plug)), flow.most if flow is not None else None, tuple(missing),
            _volts(wire),
        )  # fmt: skip


def _told(end: End) -> tuple[str, str]:
    return end.ref, "joint" if end.splice else end.signal


def _volts(wire: PinWire) -> float | None:
    """Return the volts on a wire: those of the rail at either end, 0 on a return, None on a signal."""
    ends = [end for end in (wire.a, wire.b) if not end.splice]
    if any(end.is_return for end in ends):
        return 0.0
    return next((end.rail[0] for end in ends if end.rail is not None and end.is_plus), None)


def kind_of(end: End, wire: PinWire) -> str | None:
    """Return the kind of contact at an end: that of its housing, of its socket, or of its joint."""
    if end.splice:
        return next((s.plug for s in wire.harness.splice if s.id == end.pin), None)
    own = next((e.plug for e in wire.harness.end if f"{wire.harness.id}.{e.id}" == end.housing), None)
    return own or end.plug


def _strip(kind: str | None, plug: Any) -> float | None:
    part = plug(kind) if kind else None
    return part.strip if part is not None else None


def size_of(gauge: float | None, area: float | None) -> str:
    """Return the size of a wire in words, by its gauge or its area [mm2]; "" where neither is known."""
    return f"{gauge:g} AWG" if gauge is not None else f"{area:g} mm2" if area else ""


def _lead(ends: LeadEnds) -> Lead:
    run, source = ends.inlet.lead, ends.inlet.source
    assert run is not None
    assert source is not None
    size = size_of(run.gauge, run.area)
    both = ends.a, ends.b
    plus, back = [end.plus.words for end in both], [end.back.words for end in both]
    known = (
        ("size", size), ("length", run.length), ("colours", all(ends.colours)), ("pins", all((*plus, *back))),
    )  # fmt: skip
    missing = [word for word, there in known if not there]
    volts = source_volts(source.root)
    return Lead(
        source.name, ends.inlet.name, size, run.length, run.parallel, (ends.a.plug, ends.b.plug),
        (plus[0], plus[1]), (back[0], back[1]), ends.colours, tuple(missing),
        volts[0] if volts is not None else None,
    )  # fmt: skip


def _cuts(rows: list[Row], leads: list[Lead]) -> list[Cut]:
    """Return equal pieces together, by size and colour, the longest first."""
    pieces: Counter[tuple[str, str, float]] = Counter()
    wires: dict[tuple[str, str, float], dict[str, None]] = {}
    for row in rows:
        if row.size and row.cut is not None:
            key = row.size, row.colour, round(row.cut, 4)
            pieces[key] += 1
            wires.setdefault(key, {})[f"{row.a[0]}/{row.b[0]}"] = None
    for lead in leads:
        if lead.size and lead.length is not None:
            for colour in lead.colours:
                key = lead.size, colour, round(lead.length, 4)
                pieces[key] += lead.each_way
                wires.setdefault(key, {})[f"{lead.a}/{lead.b}"] = None
    found = [Cut(count, *key, tuple(wires[key])) for key, count in pieces.items()]
    return sorted(found, key=lambda cut: (cut.size, cut.colour, -cut.length))

"""Every wire of a plan as the bench needs it: where both ends go, what to cut, and what to buy for all of them.

What the plan does not say is named as missing, never guessed. Harness wires come as they are listed; a coarse lead
stands for as many conductors out as back.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from math import ceil
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, Plan
from coldcheck.plan.reading import plugs_of

from .harness import Pair
from .pin_amps import PinAmps
from .pins import End, Housing, PinWire

__all__ = ["Buy", "Cut", "Lead", "Row", "Schedule", "schedule"]

#: Wire bought beyond what is cut: a tenth, and no less than this [m], for what is crimped twice (common practice).
MORE, LEAST_MORE = 0.10, 0.3
#: Contacts bought beyond those needed: a tenth, and no fewer than these (common practice).
SPARE, LEAST_SPARE = 0.10, 2


class Row(msgspec.Struct, frozen=True):
    """One wire: its harness and number there, both ends, and what it is made of.

    ``a`` and ``b`` have the pin by name, and what it carries; ``plugs`` the kind of contact at each end, None where
    it is not known, ``housings`` the end of the harness, "" where none is declared. ``length`` is between the
    contacts, ``cut`` with its slack [m]; ``strips`` how much insulation goes at each end [m]; ``amps`` the most that
    flows [A].
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


class Lead(msgspec.Struct, frozen=True):
    """A coarse lead: from an outlet to an inlet, so many conductors out and as many back."""

    a: str
    b: str
    size: str
    length: float | None
    each_way: int
    plugs: tuple[str | None, str | None]
    missing: tuple[str, ...]


class Cut(msgspec.Struct, frozen=True):
    """Equal pieces of wire: how many, of which size and colour, how long [m]."""

    count: int
    size: str
    colour: str
    length: float


class Buy(msgspec.Struct, frozen=True):
    """Something to buy: ``count`` pieces with spares, or whole metres; ``needed`` is what the plan uses of it."""

    kind: str
    what: str
    count: int
    unit: str
    needed: float
    note: str = ""


class Schedule(msgspec.Struct):
    """All wires, all coarse leads, the pieces to cut and what to buy."""

    rows: list[Row]
    leads: list[Lead]
    cuts: list[Cut]
    buys: list[Buy]


@working(reads=("plan", "part"))
def schedule(
    plan: Plan, pin_wires: list[PinWire], housings: list[Housing], pairs: dict[str, Pair], pin_amps: PinAmps
) -> Schedule:
    """The wiring schedule, the cut list and what to buy for them [m, pieces]."""
    plug = plugs_of(plan.shelf)
    rows = list(_rows(plan, pin_wires, pin_amps, plug))
    leads = [_lead(inlet) for inlet in _coarse(plan, pairs)]
    cuts = _cuts(rows, leads)
    return Schedule(rows, leads, cuts, [*_wire(cuts), *_contacts(pin_wires), *_housings(pin_wires, housings)])


def _rows(plan: Plan, wires: list[PinWire], amps: PinAmps, plug: Any) -> Iterator[Row]:
    numbers: Counter[str] = Counter()
    for n, wire in enumerate(wires):
        numbers[wire.harness.id] += 1
        said = wire.wire
        size = _size(said.gauge, said.area)
        cut = said.length + (said.slack or 0.0) if said.length is not None else None
        missing = [word for word, there in (("size", size), ("length", said.length)) if not there]
        if not said.colour:
            missing.append("colour")
        flow = amps.wires.get(n)
        ends = wire.a, wire.b
        kinds = [_kind(end, wire) for end in ends]
        yield Row(
            wire.harness.id, numbers[wire.harness.id], _told(wire.a), _told(wire.b), size, said.colour or "",
            said.length, cut, (kinds[0], kinds[1]), (wire.a.housing, wire.b.housing),
            (_strip(kinds[0], plug), _strip(kinds[1], plug)), flow.most if flow is not None else None, tuple(missing),
        )  # fmt: skip


def _told(end: End) -> tuple[str, str]:
    return end.ref, "joint" if end.splice else end.signal


def _kind(end: End, wire: PinWire) -> str | None:
    """Return the kind of contact at an end: that of its housing, of its socket, or of its joint."""
    if end.splice:
        return next((s.plug for s in wire.harness.splice if s.id == end.pin), None)
    own = next((e.plug for e in wire.harness.end if f"{wire.harness.id}.{e.id}" == end.housing), None)
    return own or end.plug


def _strip(kind: str | None, plug: Any) -> float | None:
    part = plug(kind) if kind else None
    return part.strip if part is not None else None


def _size(gauge: float | None, area: float | None) -> str:
    return f"{gauge:g} AWG" if gauge is not None else f"{area:g} mm2" if area else ""


def _coarse(plan: Plan, pairs: dict[str, Pair]) -> Iterator[InletPoint]:
    for thing in plan.order:
        for inlet in thing.inlets:
            if inlet.source is not None and inlet.lead is not None and inlet.name not in pairs:
                yield inlet


def _lead(inlet: InletPoint) -> Lead:
    run, source = inlet.lead, inlet.source
    assert run is not None
    assert source is not None
    size = _size(run.gauge, run.area)
    missing = [word for word, there in (("size", size), ("length", run.length)) if not there]
    return Lead(
        source.name, inlet.name, size, run.length, run.parallel,
        (getattr(source.spec, "plug", None), inlet.spec.plug), tuple(missing),
    )  # fmt: skip


def _cuts(rows: list[Row], leads: list[Lead]) -> list[Cut]:
    """Return equal pieces together, by size and colour, the longest first."""
    pieces: Counter[tuple[str, str, float]] = Counter()
    for row in rows:
        if row.size and row.cut is not None:
            pieces[row.size, row.colour, round(row.cut, 4)] += 1
    for lead in leads:
        if lead.size and lead.length is not None:
            pieces[lead.size, "", round(lead.length, 4)] += 2 * lead.each_way
    found = [Cut(count, size, colour, length) for (size, colour, length), count in pieces.items()]
    return sorted(found, key=lambda cut: (cut.size, cut.colour, -cut.length))


def _wire(cuts: list[Cut]) -> Iterator[Buy]:
    metres: dict[tuple[str, str], float] = {}
    for cut in cuts:
        key = cut.size, cut.colour
        metres[key] = metres.get(key, 0.0) + cut.count * cut.length
    for (size, colour), needed in metres.items():
        more = max(MORE * needed, LEAST_MORE)
        yield Buy("wire", f"{size} {colour}".strip(), ceil(round(needed + more, 6)), "m", needed)


def _contacts(wires: list[PinWire]) -> Iterator[Buy]:
    """Yield the contacts to crimp: one for each pin of a plug, however many wires it holds; joints likewise."""
    pins = {}
    for wire in wires:
        for end in (wire.a, wire.b):
            kind = _kind(end, wire)
            if end.unknown:
                continue
            single = end.socket is not None and getattr(end.socket.plug, "single", None)
            key = (end.ref, wire.name) if single else (end.ref, "")
            pins[key] = "joint" if end.splice else "ferrule or ring" if single else "contact", kind or ""
    for (kind, what), needed in sorted(Counter(pins.values()).items()):
        spare = 0 if kind == "joint" else max(LEAST_SPARE, ceil(SPARE * needed))
        yield Buy(kind, what or "of a kind that the plan does not say", needed + spare, "", needed)


def _housings(wires: list[PinWire], housings: list[Housing]) -> Iterator[Buy]:
    declared = Counter(
        one.end.plug or (one.socket.plug.id if one.socket and one.socket.plug else "") for one in housings
    )
    for what, count in sorted(declared.items()):
        yield Buy("housing", what or "of a kind that the plan does not say", count, "", count)
    assumed = {
        (wire.harness.id, end.place, end.plug)
        for wire in wires
        for end in (wire.a, wire.b)
        if not (end.housing or end.splice or end.unknown)
        and not getattr(end.socket.plug, "single", None)
        and end.plug
    }
    for what, count in sorted(Counter(plug for _, _, plug in assumed).items()):
        yield Buy("housing", str(what), count, "", count, "one for each socket: the harness names none")

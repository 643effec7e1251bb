"""Everything that a plan is made of, in real pieces: things, fuses, data cables, wire, and what ends the wires.

What is there already (``built``) needs no buying. What the plan does not say enough of to be bought is named as such.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from math import ceil
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan
from coldcheck.plan.quantities import Measure
from coldcheck.plan.reading import plugs_of
from coldcheck.plan.spans import listed

from .crimps import Crimp
from .lead_ends import LeadEnds
from .pins import Housing, PinWire
from .protection import fuse_text
from .schedule import Schedule

__all__ = ["Need", "cable_kind", "fuse_words", "fuses_of", "needs"]

#: Wire wanted beyond what is cut: a tenth, and no less than this [m], for what is crimped twice (common practice).
MORE, LEAST_MORE = 0.10, 0.3
#: Contacts wanted beyond those needed: a tenth, and no fewer than these (common practice).
SPARE, LEAST_SPARE = 0.10, 2
#: Fuses of each rating wanted beyond those in their places: one for each so many (common practice).
PLACES_A_FUSE = 5

UNSAID = "of a kind that the plan does not say"


class Need(msgspec.Struct, frozen=True):
    """One line of what is needed: ``words`` name it as a [[buy]] does; ``unit`` is "m" for wire, else "".

    ``needed`` is what the plan uses of it, ``spare`` what is wanted beyond; ``about`` what it is or where it goes.
    """

    kind: str
    words: str
    needed: float
    spare: float = 0.0
    unit: str = ""
    about: str = ""


@working(reads=("plan", "part"))
def needs(
    plan: Plan,
    schedule: Schedule,
    pin_wires: list[PinWire],
    housings: list[Housing],
    lead_ends: dict[str, LeadEnds],
    crimps: list[Crimp],
) -> list[Need]:
    """Everything that the plan uses and that is not there already [pieces, m]."""
    return [
        *_things(plan), *_fuses(plan), *_cables(plan), *_wire(schedule),
        *_contacts(plan, crimps), *_housings(plan, pin_wires, housings, lead_ends),
    ]  # fmt: skip


def _things(plan: Plan) -> Iterator[Need]:
    kinds: dict[tuple[str, str], list[str]] = {}
    for thing in plan.order:
        if getattr(thing, "built", None) is None:
            kinds.setdefault((thing.table, _words(thing)), []).append(thing.id)
    for (table, words), ids in kinds.items():
        part = plan.shelf.find(words)
        title = str(part.raw.get("title") or "") if part is not None else ""
        yield Need(table, words, len(ids), about=f"{title}: {listed(ids)}" if title else listed(ids))


def _words(thing: Any) -> str:
    """Return what a thing is bought as: its part, else what the plan calls it, else its kind."""
    part = getattr(thing, "part", None)
    if part:
        return str(part)
    what = getattr(thing, "what", None) or thing.table
    return getattr(thing, "title", None) or f"{what} {UNSAID}"


def fuse_words(holder: Any) -> str:
    """Return the fuse that a thing or an outlet says it has, in words; "" for none."""
    fuse = getattr(holder, "fuse", None)
    return fuse_text(fuse.amps, fuse.kind) if fuse is not None else ""


def fuses_of(plan: Plan) -> Iterator[tuple[str, str, Any]]:
    """Yield every fuse of a plan: where it is, what it is in words, and its thing."""
    for thing in plan.order:
        inner = [(outlet.name, outlet.spec) for outlet in thing.outlets if outlet.spec is not thing]
        for name, holder in [(thing.id, thing), *inner]:
            fuse = fuse_words(holder)
            if fuse:
                yield name, fuse, thing


def _fuses(plan: Plan) -> Iterator[Need]:
    """Yield the fuses by their ratings; those of what is there already are there, too, but not their spares."""
    places: dict[str, list[tuple[str, bool]]] = {}
    for name, fuse, thing in fuses_of(plan):
        places.setdefault(fuse, []).append((name, getattr(thing, "built", None) is not None))
    for words, found in sorted(places.items()):
        needed = sum(not there for _, there in found)
        spare = ceil(len(found) / PLACES_A_FUSE)
        yield Need("fuse", f"fuse {words}", needed, spare, about=listed([name for name, _ in found]))


def cable_kind(cable: Any) -> str:
    """Return what kind of data cable it is, "" where the plan does not say."""
    if cable is None:
        return ""
    return cable.medium or (f"cat {cable.category}" if cable.category else "")


def _cables(plan: Plan) -> Iterator[Need]:
    found: dict[str, list[str]] = {}
    for line in plan.links:
        if getattr(line.entry, "medium", None) == "radio":
            continue
        cable = line.cable
        length = cable.length if cable is not None else None
        told = [cable_kind(cable), str(Measure(length, "m")) if length is not None else ""]
        words = ", ".join(filter(None, told))
        if not all(told):
            words = f"{words}, of which the plan does not say all" if words else UNSAID
        found.setdefault(words, []).append(line.a.name)
    for words, names in found.items():
        yield Need("cable", f"cable {words}", len(names), about=f"from {listed(names)}")


def _wire(schedule: Schedule) -> Iterator[Need]:
    metres: dict[tuple[str, str], float] = {}
    for cut in schedule.cuts:
        key = cut.size, cut.colour
        metres[key] = metres.get(key, 0.0) + cut.count * cut.length
    for (size, colour), needed in metres.items():
        words = f"wire {size} {colour}".strip()
        yield Need("wire", words, needed, max(MORE * needed, LEAST_MORE), "m")


#: What each way to end a wire is called on a list, with the plug and the size of the wire.
_PIECES = {
    "contact": ("contact", "contact {plug}"),
    "ferrule": ("ferrule", "ferrule {size}"),
    "itself": ("terminal", "{plug} for {size}"),
    "joint": ("joint", "{plug}"),
    "past": ("joint", "joint of {size}"),
    "clamped": ("ferrule or ring", "ferrule or ring {plug} for {size}"),
    "unknown": ("end of a lead", "end of a lead {plug}"),
}


def _contacts(plan: Plan, crimps: list[Crimp]) -> Iterator[Need]:
    """Yield what is put on the ends of wires; joints are not spoilt as contacts are."""
    found: Counter[tuple[str, str]] = Counter()
    about: dict[str, str] = {}
    for crimp in crimps:
        if crimp.how == "whole":
            continue  # it is bought as a plug
        kind, words = _PIECES[crimp.how]
        size = crimp.size or UNSAID
        words = words.format(plug=crimp.plug or UNSAID, size=size)
        words = f"joint {UNSAID}" if words == UNSAID else words
        found[kind, words] += crimp.count
        about[words] = _title(plan, crimp.plug) if crimp.how != "ferrule" else ""
    for (kind, words), needed in sorted(found.items()):
        spare = 0 if kind == "joint" else max(LEAST_SPARE, ceil(SPARE * needed))
        yield Need(kind, words, needed, spare, about=about[words])


def _title(plan: Plan, plug: str) -> str:
    """Return what a plug is, in words, and which wires it takes."""
    part = plan.shelf.find(plug) if plug else None
    raw = part.raw if part is not None else {}
    gauges = [str(raw[key]).removesuffix(" AWG") for key in ("gauge_from", "gauge_to") if key in raw]
    told = f"for {' to '.join(gauges)} AWG" if len(gauges) == 2 else ""
    return ", ".join(filter(None, (str(raw.get("title") or ""), told)))


def _housings(
    plan: Plan, wires: list[PinWire], housings: list[Housing], leads: dict[str, LeadEnds]
) -> Iterator[Need]:
    declared = Counter(
        one.end.plug or (one.socket.plug.id if one.socket and one.socket.plug else "") for one in housings
    )
    plug = plugs_of(plan.shelf)
    assumed = {
        (end.place, end.plug)
        for wire in wires
        for end in (wire.a, wire.b)
        if not (end.housing or end.splice or end.unknown) and end.plug and plug(end.plug) is not None
    }
    assumed |= {
        (end.place, end.plug)
        for ends in leads.values()
        for end in (ends.a, ends.b)
        if end.plug and plug(end.plug)
    }
    counted = Counter(kind for _, kind in assumed)
    for what in sorted({*declared, *counted}):
        part = plug(what) if what else None
        more = counted[what] if part is not None and not part.single else 0
        if declared[what] + more:
            kind = "housing" if part is None or part.pins or declared[what] else "plug"
            about = [_title(plan, what), "one for each socket" if more else ""]
            yield Need(
                kind, f"{kind} {what or UNSAID}", declared[what] + more, about="; ".join(filter(None, about))
            )

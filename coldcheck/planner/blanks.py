"""What of leads and fuses is blank: gauges of runs whose length is known, sizes of fuses that are said to be there."""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.plan.kinds import Run
from coldcheck.plan.model import InletPoint
from coldcheck.plan.problems import Path
from coldcheck.plan.quantities import Measure
from coldcheck.workings.reach import cut_for

from .draft import Draft
from .outlets import away

__all__ = ["FuseSlot", "LeadSlot", "fuse_slots", "lead_slots"]


class LeadSlot(msgspec.Struct):
    """A lead of an entry whose gauge is blank: one text for all of its things.

    ``key`` is where it is written, ``text`` what is said of it now, ``inlets`` those that it leads to, ``wires`` the
    keys of harness wires to them whose gauge is blank as well. ``parallel`` is None where it may be one conductor or
    several side by side.
    """

    key: Path
    text: str
    inlets: list[InletPoint]
    run: Run
    parallel: int | None
    wires: list[Path]

    @property
    def name(self) -> str:
        """What it is called."""
        first = self.inlets[0].thing.id
        return first if len(self.inlets) == 1 else f"{first} and others of its entry"

    def written(self, gauge: int, parallel: int) -> str:
        """Return the lead as it is written with a gauge."""
        side = f", {parallel} x" if parallel > 1 and self.run.parallel == 1 else ""
        return f"{gauge} AWG, {self.text}{side}"


class FuseSlot(msgspec.Struct):
    """A fuse that is there and whose size is blank: ``key`` is where it is written, ``names`` what they are called."""

    key: Path
    names: list[str]


def lead_slots(draft: Draft) -> list[LeadSlot]:
    """Return the leads whose gauge is blank; what has neither a length nor two places stays so, and is told."""
    found: dict[Path, LeadSlot] = {}
    pairs = draft.working("pairs")
    for thing in draft.plan.order:
        for i, inlet in enumerate(getattr(thing, "inlets", ())):
            if inlet.source is None or _needs_none(inlet):
                continue
            slot = _slot(draft, inlet, i, pairs)
            if slot is not None and slot.key in found:
                _join(found[slot.key], slot, "lead" in thing.stated)
            elif slot is not None:
                found[slot.key] = slot
    _tell_wires(draft, {key for slot in found.values() for key in slot.wires})
    return list(found.values())


def _join(slot: LeadSlot, other: LeadSlot, stated: bool) -> None:
    """Add to a slot what one text says of another inlet as well; of lengths by places, the longest serves."""
    slot.inlets += other.inlets
    slot.wires += other.wires
    slot.parallel = slot.parallel or other.parallel
    if not stated and (other.run.length or 0.0) > (slot.run.length or 0.0):
        slot.text, slot.run = other.text, other.run


def _tell_wires(draft: Draft, covered: set[Path]) -> None:
    """Say which wires of harnesses stay without a gauge: those that are no plain pair to one inlet."""
    for wire in draft.working("pin_wires") if draft.plan.table("harness") else ():
        if wire.gauge is None and wire.wire.path and (*wire.path, "gauge") not in covered:
            why = "it branches, or joins what is not known; write it by hand"
            draft.leave((wire.harness.id,), "gauge", f"{wire.name}: {why}")


def _needs_none(inlet: InletPoint) -> bool:
    """Say whether an inlet has no lead of its own: in a bay, or at the end of an adapter's own lead."""
    source: Any = inlet.source
    bay = getattr(inlet.thing, "bay", None) is not None and source.thing.table == "storage"
    return bay or getattr(source.spec, "lead", None) is not None


def _slot(draft: Draft, inlet: InletPoint, number: int, pairs: Any) -> LeadSlot | None:
    thing: Any = inlet.thing
    pair = pairs.get(inlet.name)
    blank = (
        [(*w.path, "gauge") for w in pair.wires if w.gauge is None and w.path[:1] == ("harness",)]
        if pair
        else []
    )
    key, text, run = _written(draft, inlet, number)
    if run is None:
        if blank:
            longest = max((w.wire.length or 0.0 for w in pair.wires), default=0.0)
            return LeadSlot((*thing.path, "wires"), "", [inlet], Run(length=longest), 1, blank)
        if pair is None and inlet.lead is None:
            draft.leave(
                (thing.id,),
                "lead",
                f'its length is not known: write lead = "300 mm", or say by `at` where {thing.id} and '
                f"{_giver(inlet)} stand",
            )
        return None
    if (run.gauge or run.area or run.ohms) or run.length is None:
        return None
    count = pair.side_by_side if pair is not None else None
    stated = run.parallel if run.parallel > 1 else None
    return LeadSlot(key, text, [inlet], run, count if count and count > 1 else stated, blank)


def _giver(inlet: InletPoint) -> str:
    source: Any = inlet.source
    return str(source.thing.id)


def _written(draft: Draft, inlet: InletPoint, number: int) -> tuple[Path, str, Run | None]:
    """Return where the lead of an inlet is written, its text and what that says; between two places it is made up."""
    thing: Any = inlet.thing
    key: Path = (*thing.path, "lead")
    own: Any = getattr(inlet.spec, "lead", None)
    if own is not None and inlet.spec.path[: len(thing.path)] == thing.path:
        key = (*inlet.spec.path, "lead")
    if inlet.lead is not None:
        if own is None and draft.plan.places.value((*key, 0)) is not None:
            key = (
                *key,
                min(number, len(thing.lead) - 1),
            )  # written as a list, one for each inlet or one for all
        return key, _text_at(draft, key), inlet.lead
    way = away(thing, inlet.source.thing) if inlet.source is not None else None
    if way is None:
        return key, "", None
    length = cut_for(way, draft.plan.head.slack)
    return key, str(Measure(round(length, 3), "m")), Run(length=length)


def _text_at(draft: Draft, key: Path) -> str:
    """Return the text of a value of the plan, without its quotes; "" where it stands on the shelf."""
    value = draft.plan.places.value(key)
    return draft.text[value[0] : value[1]].decode().strip("\"'") if value is not None else ""


def fuse_slots(draft: Draft) -> list[FuseSlot]:
    """Return the fuses whose size is blank: of in-line fuses, of fuse blocks, and the one a battery must have."""
    found: dict[Path, FuseSlot] = {}
    for inline in draft.plan.table("inline"):
        if inline.what != "fuse" or inline.fuse is not None:
            continue
        if not inline.outlet:
            found.setdefault((*inline.path, "fuse"), FuseSlot((*inline.path, "fuse"), [])).names.append(
                inline.id
            )
            continue
        for outlet in inline.outlets:
            if outlet.spec.fuse is None and outlet.spec.path[: len(inline.path)] == inline.path:
                key = (*outlet.spec.path, "fuse")
                found.setdefault(key, FuseSlot(key, [])).names.append(outlet.name)
    for feed in draft.plan.table("feed"):
        if feed.battery and feed.fuse is None and not any(o.spec.fuse for o in feed.outlets):
            found[*feed.path, "fuse"] = FuseSlot((*feed.path, "fuse"), [feed.id])
    return list(found.values())

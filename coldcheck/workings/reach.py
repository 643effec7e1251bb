"""Reach: how long a cable is, and how far apart the two things stand that it joins."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, dist
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.plan.model import InletPoint, LinkLine, Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed

from .harness import Pair
from .ports import cable_path, first_end

__all__ = ["Reach", "cut_for", "reaches"]

#: Cables are cut to lengths of so many millimetres.
STEP = 50


class Reach(msgspec.Struct):
    """One cable or lead between two things whose places are known.

    ``what`` names it for a sentence; ``holder`` is the thing whose entry says it, ``path`` where its length stands.
    ``length`` [m] is None where what is said of it leaves the length out. ``straight`` [m] is the way through the air;
    ``along`` [m] is the way along the walls, the sum of the three differences of place.
    """

    what: str
    holder: Any
    path: Path
    length: float | None
    straight: float
    along: float
    line: LinkLine | None = None


@working(
    reads=(
        "plan",
        "feed",
        "supply",
        "inline",
        "node",
        "storage",
        "drive",
        "switch",
        "fan",
        "appliance",
        "link",
    )
)
def reaches(plan: Plan, links: list[LinkLine], pairs: dict[str, Pair]) -> list[Reach]:
    """Return every cable, lead and harness of which something is said between two things that say where they stand."""
    placed = [thing for thing in plan.things.values() if getattr(thing, "at", None) is not None]
    if len(placed) < 2:
        return []
    found = list(_of_cables(links))
    for thing in placed:
        for inlet in getattr(thing, "inlets", ()):
            found += _of_lead(inlet, pairs)
    return found


def _of_cables(links: list[LinkLine]) -> Iterator[Reach]:
    """Yield the data cables; those of one thing that one key speaks of, going the same way, only once."""
    groups: dict[tuple[Any, ...], list[tuple[Reach, LinkLine]]] = {}
    for line in links:
        reach = _of_cable(line)
        if reach is not None:
            key = (line.a.thing.id, reach.path, reach.length, reach.straight, reach.along)
            groups.setdefault(key, []).append((reach, line))
    for group in groups.values():
        first = group[0][0]
        if len(group) > 1:
            first.what = f"each cable of {listed([first_end(line) for _, line in group])}"
        yield first


def _of_cable(line: LinkLine) -> Reach | None:
    if line.b is None or line.cable is None or line.a.thing is line.b.thing:
        return None
    ways = _ways(line.a.thing, line.b.thing)
    if ways is None:
        return None
    return Reach(
        f"the cable of {first_end(line)}", line.a.thing, cable_path(line), line.cable.length, *ways, line
    )


def _of_lead(inlet: InletPoint, pairs: dict[str, Pair]) -> Iterator[Reach]:
    source = inlet.source
    ways = None if source is None else _ways(source.thing, inlet.thing)
    if ways is None or source is None:
        return
    pair = pairs.get(inlet.name) if pairs else None
    moulded = getattr(source.spec, "lead", None)
    if pair is not None:
        # The shortest wire of a harness is the one that does not reach.
        lengths = [(wire.wire.length, wire.path) for wire in pair.wires if wire.wire.length is not None]
        if lengths:
            length, path = min(lengths, key=lambda known: known[0])
            yield Reach(f"the harness of {inlet}", inlet.thing, (*path, "length"), length, *ways)
    elif inlet.lead is not None or moulded is not None:
        runs = [run for run in (moulded, inlet.lead) if run is not None]
        if any(run.ohms is not None and run.length is None for run in runs):
            return  # measured as it lies: who knows its ohms had it in hand
        known = [run.length for run in runs if run.length is not None]
        total = sum(known) if len(known) == len(runs) else None
        yield Reach(f"the lead to {inlet}", inlet.thing, _lead_path(inlet), total, *ways)


def _lead_path(inlet: InletPoint) -> Path:
    """Return where the lead of an inlet is written: in its own table, at its thing, or at what feeds it."""
    thing, source = inlet.thing, inlet.source
    own = getattr(inlet.spec, "path", ())
    if getattr(inlet.spec, "lead", None) is not None and own[:2] == thing.path:
        return (*own, "lead")
    if "lead" in thing.stated:
        return (*thing.path, "lead")
    if source is not None and "lead" in source.thing.stated:
        return (*source.thing.path, "lead")
    return inlet.path


def _ways(one: Any, other: Any) -> tuple[float, float] | None:
    """Return the straight way and the way along the walls between two things [m]; None where a place is not said."""
    a, b = one.at, other.at
    if a is None or b is None:
        return None
    return dist(a, b), sum(abs(x - y) for x, y in zip(a, b, strict=True))


def cut_for(along: float, slack: float) -> float:
    """Return the length to cut [m]: the way along the walls and the slack [m], rounded up to the next 50 mm."""
    return ceil(round((along + slack) * 1000 / STEP, 6)) * STEP / 1000

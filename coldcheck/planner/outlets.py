"""What the planner asks of outlets and places: what stands in front of one, how far away it is, what is lost in it."""

from __future__ import annotations

from typing import Any

from coldcheck.plan.model import OutletPoint

__all__ = ["away", "efficiency", "fuse_before", "wants_a_source"]


def away(one: Any, other: Any) -> float | None:
    """Return the way along the walls between two things [m]; None where a place is not known."""
    if one.at is None or other.at is None:
        return None
    return float(sum(abs(a - b) for a, b in zip(one.at, other.at, strict=True)))


def wants_a_source(thing: Any) -> bool:
    """Say whether nothing is said of what feeds a thing, and something should."""
    if thing.from_ or getattr(thing, "own_power", None) or getattr(thing, "bay", None) is not None:
        return False
    return getattr(thing, "what", None) != "return" and not any(i.source is not None for i in thing.inlets)


def fuse_before(outlet: OutletPoint) -> float | None:
    """Return the smallest fuse on the way from its source to an outlet [A], 0 for one that is chosen yet; else None."""
    least = None
    here: OutletPoint | None = outlet
    while here is not None:
        thing: Any = here.thing
        fuse = getattr(here.spec, "fuse", None) or (thing.fuse if thing.table in ("inline", "feed") else None)
        if fuse is None and getattr(thing, "what", None) == "fuse":
            return 0.0
        if fuse is not None:
            least = fuse.amps if least is None else min(least, fuse.amps)
        here = here.via.source if here.via is not None else None
    return least


def efficiency(thing: Any, outlet: OutletPoint) -> float:
    """Return the least efficiency of a rail or of its supply [-]; 1 where neither is known."""
    curve = getattr(outlet.spec, "efficiency", None) or getattr(thing, "efficiency", None)
    return min((share for _, share in curve.points), default=1.0) if curve is not None else 1.0

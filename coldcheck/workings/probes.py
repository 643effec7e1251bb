"""Where the probes of a meter go, in words: pins by their names, poles where there are none."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from coldcheck.plan.model import InletPoint, OutletPoint

from .lead_ends import PAST, LeadEnd, Side
from .pins import End

__all__ = ["each_pin", "in_turn", "poles", "probes"]

PASSES = "the return that goes past"


def each_pin(side: Side, pole: str, point: InletPoint | OutletPoint) -> str:
    """Return all pins of a pole at one end, or the pole where they are not known."""
    if side.ends:
        return _refs(side.ends)
    return f"{PASSES} {point.thing.id}" if side.words == PAST else f"{side.words or pole} of {point.name}"


def _refs(ends: Sequence[End]) -> str:
    first, *more = (end.ref for end in ends)
    return " and ".join([first, *(f".{ref.rpartition('.')[2]}" for ref in more)])


def in_turn(ends: Sequence[End], one: str) -> str:
    """Return all pins of a pole to be probed in turn, where it has several."""
    several = list({end.ref: end for end in ends}.values())
    return f"{_refs(several)}, in turn" if len(several) > 1 else one


def probes(end: LeadEnd | None) -> tuple[str, str] | None:
    """Return the first pin of each pole at an end of a lead, if both are known."""
    if end is None or not end.plus.ends or not (end.back.ends or end.back.words == PAST):
        return None
    back = end.back.ends[0].ref if end.back.ends else f"{PASSES} {end.plus.ends[0].thing}"
    return end.plus.ends[0].ref, back


def poles(name: str, spec: Any) -> tuple[str, str]:
    """Return the poles of a plug whose pins the plan does not list."""
    plug = getattr(spec, "plug", None)
    if getattr(spec, "centre", None) is not None:
        poles = ("centre", "sleeve")
        first, second = poles if spec.centre == "positive" else poles[::-1]
        return f"{first} of the {plug} of {name}", f"{second} of the {plug} of {name}"
    of = f"the {plug} of {name}" if plug else name
    return f"plus of {of}", f"return of {of}"

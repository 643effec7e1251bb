"""When each thing starts, and what it does until then: a delay counts only where something keeps it.

A thing can be held back in two ways. What takes its power away, a switched rail or an in-line switch on its way, leaves
it off: it draws nothing until then. What only tells it to wait, a host, a carrier or a board manager, leaves it
powered: it draws what it does when `waiting`, else when `idle`.
"""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan

from .net import Branch

__all__ = ["KEEPERS", "POWER_KEEPERS", "Start", "can_keep", "delayed", "feeders", "lay_out", "starts"]

#: What may hold a thing back: its host or manager, the carrier it sits in, a switched rail.
KEEPERS = ("storage", "node", "appliance", "switch", "inline", "supply")
#: Those of them that do so by taking its power away.
POWER_KEEPERS = ("inline", "supply")


class Start(msgspec.Struct, frozen=True):
    """The start of one thing: ``at`` [s] after power-on, whether a delay written for it is ``kept``, and why.

    ``off``: until then it has no power at all, so it draws nothing. ``keeper`` is the id of what holds it back.
    """

    at: float
    kept: bool
    why: str
    off: bool = False
    keeper: str = ""


_WITH_POWER = Start(0.0, False, "starts with power")
_UNSAID = Start(0.0, False, "nothing says what starts it, so it starts with power")
_UNKEPT = Start(0.0, False, "a delay is written but nothing keeps it")
#: Drives that a word of their host starts, where nothing holds that word back.
_AT_ONCE = {
    "host": Start(0.0, False, "started by its host, which holds nothing back"),
    "pin": Start(0.0, False, "started by its pin, which nothing drives apart"),
    "standby": Start(0.0, False, "woken by its host, which holds nothing back"),
}


@working(reads=("node", "storage", "drive", "switch", "fan", "appliance", "inline", "supply", "feed"))
def starts(plan: Plan) -> dict[str, Start]:
    """The start of every drive with a motor, and of all else with a surge or a delay, by its id; times in seconds."""
    found = {}
    for thing in _takers(plan):
        motor = thing.table == "drive" and thing.motor is not False
        if motor or thing.delay or _surges(thing):
            found[thing.id] = _start(plan, thing, motor)
    return found


@working(reads=("node", "storage", "drive", "switch", "fan", "appliance"))
def delayed(plan: Plan) -> list[Any]:
    """Every thing for which a delay is written, or something that is to keep one."""
    return [thing for thing in _takers(plan) if thing.delay or thing.kept_by]


def _takers(plan: Plan) -> list[Any]:
    return [thing for thing in plan.order if hasattr(thing, "kept_by")]


def _surges(thing: Any) -> bool:
    return any(getattr(inlet.spec, "surge", None) is not None for inlet in thing.inlets)


def feeders(thing: Any) -> set[str]:
    """Return the ids of everything on the way of power to a thing."""
    found: set[str] = set()
    todo = [thing]
    while todo:
        for inlet in todo.pop().inlets:
            source = inlet.source.thing if inlet.source is not None else None
            if source is not None and source.id not in found:
                found.add(source.id)
                todo.append(source)
    return found


def can_keep(holder: Any, thing: Any) -> bool:
    """Say whether one thing may hold another back: as its host, its carrier, or a switch on its way of power."""
    if holder is None or holder is thing or holder.table not in KEEPERS:
        return False
    if holder.table == "inline" and holder.what not in (None, "switch"):
        return False  # a fuse or a bus bar lets power through at once
    return getattr(holder, "staggers", None) is not False and (
        holder.table not in POWER_KEEPERS or holder.id in feeders(thing)
    )


def _start(plan: Plan, thing: Any, motor: bool) -> Start:
    delay, how = thing.delay, thing.start if motor else None
    holder = plan.things.get(thing.kept_by.partition(".")[0]) if thing.kept_by else None
    if not delay:
        if not motor or how == "power":
            return _WITH_POWER
        return _AT_ONCE.get(how or "", _UNSAID)
    if not can_keep(holder, thing):
        return _UNKEPT
    off = holder.table in POWER_KEEPERS  # type: ignore[union-attr]
    if how == "power" and not off:
        return _UNKEPT  # power alone starts it, and it has power
    return Start(delay, True, f"held back by {thing.kept_by}", off, holder.id)  # type: ignore[union-attr]


def lay_out(branch: Branch, start: Start | None) -> None:
    """Lay out the draw of a branch in time as a start says: off or waiting until then, its surge, settled."""
    branch.start(start.at if start is not None else 0.0)
    if start is not None and start.off and start.at > 0 and branch.steps:
        branch.steps[0] = (0.0, float("inf") if branch.draw.unit == "ohm" else 0.0)

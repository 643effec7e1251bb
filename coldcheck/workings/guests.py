"""Things that no plug of their own feeds: drives in bays, and what takes power by its data cable.

At the first power they are tried at the thing that feeds them, whose plug can be probed.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, Plan

from .poe import PoeFeed
from .power import Arrival

__all__ = ["Guest", "guests"]


class Guest(msgspec.Struct, frozen=True):
    """A thing, the bay or port of its ``host`` where it gets its power, and the inlet of the host to probe."""

    thing: Any
    place: str
    host: str
    inlet: InletPoint
    by_cable: bool


@working(reads=("drive", "storage", "node", "appliance", "switch"))
def guests(plan: Plan, arrivals: list[Arrival], poe_feeds: list[PoeFeed]) -> list[Guest]:
    """Every guest whose host is fed in this plan, in the order of assembly.

    One that takes volts unasked (passive) is not among them: it is not to be tried, but measured before.
    """
    amps = {arrival.name: arrival.amps or 0.0 for arrival in arrivals}
    found = [*_in_bays(plan, amps), *_by_cable(poe_feeds, amps)]
    place = {thing.id: n for n, thing in enumerate(plan.order)}
    return sorted(found, key=lambda guest: place[guest.thing.id])


def _in_bays(plan: Plan, amps: dict[str, float]) -> Iterator[Guest]:
    """Yield what sits in bays, each with the inlet of its carrier that gives it the most amps."""
    for thing in plan.order:
        bay = getattr(thing, "bay", None)
        if bay is None:
            continue
        ways = [
            (amps.get(inlet.name, 0.0), inlet.source.via)
            for inlet in thing.inlets
            if inlet.source is not None and inlet.source.via is not None and inlet.source.via.name in amps
        ]
        if ways:
            _, via = max(ways, key=lambda way: way[0])
            yield Guest(thing, bay, via.thing.id, via, False)


def _by_cable(feeds: list[PoeFeed], amps: dict[str, float]) -> Iterator[Guest]:
    for feed in feeds:
        host = feed.port.thing
        inlet = next((inlet for inlet in host.inlets if inlet.name in amps), None)
        if inlet is not None and feed.fed and not feed.passive:
            yield Guest(feed.thing, feed.port.name, host.id, inlet, True)

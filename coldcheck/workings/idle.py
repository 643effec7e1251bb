"""The box at rest: what every inlet draws while nothing is to do, and what PoE ports give then.

A thing without an idle figure counts with what it draws at work, and the figure is named: that is more than it takes. A
fan has one level only.
"""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.lan import poe
from coldcheck.plan.kinds import Draw
from coldcheck.plan.model import InletPoint
from coldcheck.plan.tables import Drawing

from .draws import NOTHING, Drawn, Draws
from .poe import PoeFeed, PoeTake

__all__ = ["IdleDraws", "idle_takes"]


class IdleDraws(Draws):
    """The draws of a plan at rest: no start, no work."""

    def __init__(self) -> None:
        super().__init__()
        self._resting: dict[int, tuple[Drawing, Drawing, bool]] = {}
        self._idle: dict[tuple[int, float, str], Drawn] = {}

    def of(self, inlet: InletPoint, volts: float) -> Drawn:
        """Return what an inlet draws at rest when its source is nominally at ``volts`` [V]."""
        spec = inlet.spec
        if not isinstance(spec, Drawing) or super().of(inlet, volts) is NOTHING:  # it only hands power on
            return NOTHING
        key = id(spec), volts, inlet.thing.table
        found = self._idle.get(key)
        if found is None:
            _, resting, known = self._rest(spec, inlet.thing.table)
            drawn = super().of(InletPoint(inlet.thing, inlet.id, resting, inlet.lead), volts)
            missing = () if known else ("idle",)
            found = self._idle[key] = Drawn(drawn.unit, drawn.value, "idle" if known else "peak", missing)
        return found

    def _rest(self, spec: Drawing, table: str) -> tuple[Drawing, Drawing, bool]:
        """Return an inlet, the same with its draw at rest as its only one, and whether that is known."""
        kept = self._resting.get(id(spec))
        if kept is None:
            draw, known = _at_rest(spec, table)
            resting = msgspec.structs.replace(spec, peak=draw, surge=None, waiting=None, measured=())
            kept = self._resting[id(spec)] = spec, resting, known  # kept, so that its id stays its own
        return kept


def _at_rest(spec: Drawing, table: str) -> tuple[Draw | None, bool]:
    readings = {reading.state: reading.draw for reading in spec.measured}
    idle = readings.get("idle") or spec.idle
    if idle is not None:
        return idle, True
    draw = readings.get("busy") or (spec.typical if table == "fan" else None) or spec.peak or spec.typical
    return draw, table == "fan" and draw is not None


def idle_takes(feeds: list[PoeFeed]) -> dict[str, PoeTake]:
    """Return what each thing whose ports feed PoE takes from its own input for that while what it feeds is at rest."""
    takes: dict[str, PoeTake] = {}
    for feed in feeds:
        if not feed.fed:
            continue
        source: Any = feed.port.thing
        before = takes.get(source.id, PoeTake(0.0, True, ()))
        watts, missing = _at_port(feed)
        share = getattr(source, "poe_efficiency", None)
        if share is None and not before.missing:
            missing = (f"{source.id} poe_efficiency", *missing)
        takes[source.id] = PoeTake(
            before.watts + watts / (share or 1.0), share is not None, (*before.missing, *missing)
        )
    return takes


def _at_port(feed: PoeFeed) -> tuple[float, tuple[str, ...]]:
    """Return the watts at a port while the thing it feeds is at rest [W], and the figures that are not stated."""
    thing: Any = feed.thing
    readings = {reading.state: reading.draw for reading in thing.intake.measured}
    idle = readings.get("idle") or thing.intake.idle
    amps = idle is not None and idle.unit == "A" and feed.klass is None and feed.volts is not None
    if idle is None or not (amps or idle.unit == "W"):
        return feed.counted, (f"{thing.id} idle",)
    if feed.volts is None:
        return idle.value + feed.handed, ()
    if amps:
        return feed.volts * idle.value + feed.handed, ()
    watts = poe.pse_watts_for(idle.value + feed.handed, feed.loop_ohms, feed.volts)
    return (feed.counted if watts is None else watts), ()

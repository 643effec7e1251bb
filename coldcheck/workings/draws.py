"""What each inlet draws, and from which of its figures that follows.

The order of belief is measured, peak, typical, idle; what a maker *asks* for is never a load. Anything below a peak is
a lower bound: it may prove an overload, but never that there is none, so the missing figure is named.
"""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.kinds import Draw
from coldcheck.plan.model import InletPoint, Plan
from coldcheck.plan.tables import Drawing

__all__ = ["NOTHING", "Drawn", "Draws", "draws"]

#: A window wider than this says nothing of the volts at which a figure in amps was taken.
_NARROW = 1.3


class Drawn(msgspec.Struct):
    """What an inlet draws: one of ``watts``, ``amps``, ``siemens`` once it is up, by the figure called ``figure``.

    ``surge`` holds the steps (value, seconds) of its start in the unit of the settled draw, ``waiting`` the value
    before the start; ``missing`` names the figures without which this is only a lower bound.
    """

    unit: str
    value: float
    figure: str
    missing: tuple[str, ...] = ()
    surge: tuple[tuple[float, float], ...] = ()
    waiting: float = 0.0


#: An inlet that takes nothing for itself.
NOTHING = Drawn("A", 0.0, "none")


class Draws:
    """The draws of a plan, found once for each kind of inlet."""

    def __init__(self) -> None:
        self._memo: dict[tuple[int, float, str, bool], tuple[Drawn, Any]] = {}

    def of(self, inlet: InletPoint, volts: float) -> Drawn:
        """Return what an inlet draws when its source is nominally at ``volts`` [V]."""
        spec = inlet.spec
        thing: Any = inlet.thing
        table = thing.table
        motor = table == "drive" and thing.motor is not False
        key = (id(spec), volts, table, motor)
        found = self._memo.get(key)
        if found is None:
            own = isinstance(spec, Drawing) and table not in _CONVERTERS
            drawn = _drawn(spec, volts, table, motor) if own else NOTHING  # type: ignore[arg-type]
            found = self._memo[key] = drawn, spec  # the spec is kept so that its id stays its own
        return found[0]


@working(reads=("node", "storage", "drive", "switch", "fan", "appliance", "part"))
def draws(plan: Plan) -> Draws:
    """What every inlet draws [W, A or S]."""
    return Draws()


#: What these take follows from what hangs on them.
_CONVERTERS = ("supply", "inline")


def _drawn(spec: Drawing, volts: float, table: str, motor: bool) -> Drawn:
    figure, draw, missing = _settled(spec)
    if motor and spec.surge is None:
        missing = (*missing, "surge")
    if draw is None:
        if spec.surge is None:
            return Drawn("A", 0.0, "none", missing)
        draw = Draw(0.0, spec.surge.unit)  # at least its start is known
    at = _figure_volts(spec, volts)
    law = _law(spec, draw, table)
    surge = spec.surge
    steps = (
        tuple((_as(law, value, surge.unit, at), seconds) for value, seconds in surge.steps) if surge else ()
    )
    reading = next((m.draw for m in spec.measured if m.state == "start" and m.draw is not None), None)
    if reading is not None and steps:
        # The meter showed how much, the sheet says for how long.
        steps = ((_as(law, reading.value, reading.unit, at), sum(seconds for _, seconds in steps)),)
    waiting = spec.waiting or spec.idle or draw
    return Drawn(
        law,
        _as(law, draw.value, draw.unit, at),
        figure,
        missing,
        steps,
        _as(law, waiting.value, waiting.unit, at),
    )


def _settled(spec: Drawing) -> tuple[str, Draw | None, tuple[str, ...]]:
    for reading in spec.measured:
        if reading.state == "busy" and reading.draw is not None:
            return "measured", reading.draw, ()
    if spec.peak is not None:
        return "peak", spec.peak, ()
    for figure in ("typical", "idle"):
        draw = getattr(spec, figure)
        if draw is not None:
            return figure, draw, ("peak",)
    return "none", None, ("peak",)


def _law(spec: Drawing, draw: Draw, table: str) -> str:
    """Return the unit that stays constant while the volts change.

    Unstated: boards and switches convert inside, so their power stays; motors and fans are held to their amps.
    """
    if spec.load is not None:
        return {"power": "W", "current": "A", "resistance": "ohm"}[spec.load]
    if draw.unit in ("W", "ohm"):
        return draw.unit
    return "A" if table in ("drive", "fan") else "W"


def _figure_volts(spec: Drawing, volts: float) -> float:
    """Return the volts at which a figure was taken: the middle of a narrow window, else what it is fed with [V]."""
    if spec.volts is not None and spec.volts[0] > 0 and spec.volts[1] <= spec.volts[0] * _NARROW:
        return (spec.volts[0] + spec.volts[1]) / 2
    return volts


def _as(law: str, value: float, unit: str, volts: float) -> float:
    """Return a figure as constant power, current or resistance at ``volts`` [V]."""
    if law == unit or volts <= 0:
        return value
    watts = {"W": value, "A": value * volts, "ohm": volts * volts / value if value else 0.0}[unit]
    if law == "W":
        return watts
    amps = watts / volts
    return amps if law == "A" else (volts / amps if amps else float("inf"))

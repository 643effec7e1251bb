"""The efficiency of a converter at its load."""

from __future__ import annotations

from coldcheck.dc import curve
from coldcheck.plan.kinds import Points

__all__ = ["efficiency_at"]


def efficiency_at(efficiency: Points | None, watts: float, volts: float) -> float:
    """Return the share that comes out at a load [W] of a rail [V]; 1 where nothing is stated."""
    if efficiency is None:
        return 1.0
    return curve.at(efficiency.points, watts / volts if efficiency.unit == "A" and volts > 0 else watts)

"""When each motor starts: a delay counts only where something keeps it."""

from __future__ import annotations

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan

__all__ = ["KEEPERS", "Start", "starts"]


class Start(msgspec.Struct, frozen=True):
    """The start of one drive: ``at`` [s] after power-on, whether a delay written for it is ``kept``, and why."""

    at: float
    kept: bool
    why: str


_WITH_POWER = Start(0.0, False, "starts with power")
_UNSAID = Start(0.0, False, "nothing says what starts it, so it starts with power")
_UNKEPT = Start(0.0, False, "a delay is written but nothing keeps it")
_AT_ONCE = Start(0.0, False, "started by its host, which holds nothing back")


@working(reads=("drive", "storage"))
def starts(plan: Plan) -> dict[str, Start]:
    """The start of every drive with a motor, by its id; times in seconds after power-on."""
    return {drive.id: _start(plan, drive) for drive in plan.table("drive") if drive.motor is not False}


#: What may hold a drive back: its host, the carrier it sits in, a switched rail.
KEEPERS = ("storage", "node", "appliance", "switch", "inline", "supply")


def _can_keep(plan: Plan, drive: object, keeper: str | None) -> bool:
    holder = plan.things.get(keeper.partition(".")[0]) if keeper else None
    able = getattr(holder, "table", "") in KEEPERS and getattr(holder, "staggers", None) is not False
    return able and holder is not drive


def _start(plan: Plan, drive: object) -> Start:
    start, delay, keeper = drive.start, drive.delay, drive.kept_by  # type: ignore[attr-defined]
    if start == "power":
        return _UNKEPT if delay else _WITH_POWER
    if delay and not _can_keep(plan, drive, keeper):
        return _UNKEPT
    if start is None:
        return _UNSAID if not delay else Start(delay, True, f"held back by {keeper}")
    if not delay:
        return _AT_ONCE
    return Start(delay, True, f"held back by {keeper}")

"""Delays: drives that a carrier can hold back start in groups, so that all are up soonest with every limit kept."""

from __future__ import annotations

from typing import Any

from coldcheck.plan.model import OutletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.apart import (
    MOST_DRIVES,
    Apart,
    keepers_of,
    least_apart,
    motors_below,
    spread_out,
    starts_clean,
    written,
)
from coldcheck.workings.rehearsal import SPACING

from .blanks import fuse_slots, lead_slots
from .draft import Draft, Figure
from .program import Contradiction
from .sizes import Sizer

__all__ = ["fill_delays"]


def fill_delays(draft: Draft) -> None:
    """Put delays for drives that have none where their start together passes a limit, and say who keeps them.

    Only where the plan says already that a word of the host starts them and that their carrier holds it back: both are
    facts of hardware. Leads whose gauge is blank are taken as thick as they can be: what starts well by those is left
    to the choice of gauges.
    """
    plan, played = _played(draft)
    blank = [d for d in plan.table("drive") if d.delay is None and d.motor is not False and d.kept_by is None]
    if not blank:
        return
    delays: dict[str, float] = {}
    for rail in _tops(plan, blank):
        motors = [drive for drive in motors_below(rail) if drive in blank and drive.id not in delays]
        if len(motors) < 2 or starts_clean(played, rail, motors):
            continue
        names = [drive.id for drive in motors]
        if not keepers_of(played, motors) or any(drive.start is None for drive in motors):
            why = 'they start together beyond a limit; say start = "host" and a carrier that `staggers`, if it does'
            draft.leave(names, "delay", why)
            continue
        offer = least_apart(played, rail, motors) if len(motors) <= MOST_DRIVES else None
        if not isinstance(offer, Apart):
            draft.leave(names, "delay", f"not even one after the other: {offer or 'too many to try out'}")
            continue
        chosen = _as_makers_ask(played, rail, motors, offer)
        delays |= chosen
        what = f"last start among {listed(names)}, in equal groups evenly apart"
        draft.figures.append(Figure(what, max(chosen.values()), None, "s"))
    for put in written(plan, delays):
        draft.put(put.path, put.value)


def _played(draft: Draft) -> tuple[Plan, Any]:
    """Return the plan with the thickest leads that could be chosen, and its start played."""
    if not draft.plan.table("drive"):
        return draft.plan, None
    leads, fuses = lead_slots(draft), fuse_slots(draft)
    if leads or fuses:
        try:
            state = Sizer(draft, leads, fuses).thickest()
        except Contradiction:
            pass  # told when gauges and fuses are chosen
        else:
            return state.trial.plan, draft.bench.working(state.trial.plan, "rehearsal", state.made)
    return draft.plan, draft.working("rehearsal")


def _as_makers_ask(played: Any, rail: OutletPoint, motors: list[Any], offer: Apart) -> dict[str, float]:
    """Return the delays offered, no closer together than drive makers ask, if the limits are kept so as well."""
    wide = spread_out([drive.id for drive in motors], offer.size, max(offer.seconds, SPACING))
    return wide if starts_clean(played, rail, motors, wide) else offer.delays


def _tops(plan: Plan, blank: list[Any]) -> list[OutletPoint]:
    """Return the outlets at which power for some of the drives enters, those that feed most of them first."""
    found: dict[str, tuple[int, OutletPoint]] = {}
    for thing in plan.order:
        for outlet in thing.outlets:
            count = sum(drive in blank for drive in motors_below(outlet)) if outlet.is_source else 0
            if count:
                found[outlet.name] = count, outlet
    return [outlet for _, outlet in sorted(found.values(), key=lambda pair: -pair[0])]

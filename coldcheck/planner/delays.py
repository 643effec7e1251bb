"""Delays: drives that a carrier can hold back start in groups, so that all are up soonest with every limit kept."""

from __future__ import annotations

from typing import Any

from coldcheck.plan.model import OutletPoint
from coldcheck.plan.spans import listed
from coldcheck.workings.apart import (
    MOST_DRIVES,
    Apart,
    keepers_of,
    least_apart,
    motors_below,
    starts_clean,
    written,
)

from .draft import Draft, Figure

__all__ = ["fill_delays"]


def fill_delays(draft: Draft) -> None:
    """Put delays for drives that have none where their start together passes a limit, and say who keeps them.

    Only where the plan says already that a word of the host starts them and that their carrier holds it back: both are
    facts of hardware.
    """
    blank = [
        d for d in draft.plan.table("drive") if d.delay is None and d.motor is not False and d.kept_by is None
    ]
    if not blank:
        return
    played: Any = draft.working("rehearsal")
    delays: dict[str, float] = {}
    for rail in _tops(draft, blank):
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
        delays |= offer.delays
        what = f"last start among {listed(names)}, in equal groups evenly apart"
        draft.figures.append(Figure(what, offer.last, None, "s"))
    for put in written(draft.plan, delays):
        draft.put(put.path, put.value)


def _tops(draft: Draft, blank: list[Any]) -> list[OutletPoint]:
    """Return the outlets at which power for some of the drives enters, those that feed most of them first."""
    found: dict[str, tuple[int, OutletPoint]] = {}
    for thing in draft.plan.order:
        for outlet in thing.outlets:
            count = sum(drive in blank for drive in motors_below(outlet)) if outlet.is_source else 0
            if count:
                found[outlet.name] = count, outlet
    return [outlet for _, outlet in sorted(found.values(), key=lambda pair: -pair[0])]

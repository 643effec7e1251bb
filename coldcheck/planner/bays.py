"""Bays: each drive that sits nowhere gets a bay of a carrier whose rails have its volts."""

from __future__ import annotations

from typing import Any

from coldcheck.plan.spans import listed

from .draft import Draft, Entry, entries
from .program import Give, Program
from .seats import deal_out

__all__ = ["fill_bays"]


def fill_bays(draft: Draft) -> None:
    """Put a bay for every drive that has neither a bay nor a source of its own.

    Drives of one entry stay in one carrier where they can. Raises `coldcheck.planner.program.Contradiction` where
    there are more drives than bays.
    """
    plan = draft.plan
    carriers = [store for store in plan.table("storage") if store.bays]
    blank = entries(d for d in plan.table("drive") if d.bay is None and not d.from_ and not _fed(d))
    blank = [entry for entry in blank if any(_fits(store, entry.things[0]) for store in carriers)]
    if not blank:
        return  # what no carrier takes hangs on a lead of its own
    taken = {drive.bay for drive in plan.table("drive") if drive.bay}
    free = {
        store.id: [bay for n in range(1, store.bays + 1) if (bay := f"{store.id}.{n}") not in taken]
        for store in carriers
    }
    numbers = _chosen(draft, blank, carriers, free)
    seats = {}
    for store in carriers:
        counts = [(str(i), count) for i, chosen in enumerate(numbers) if (count := chosen.get(store.id, 0))]
        seats[store.id] = deal_out(counts, free[store.id])
    for i, entry in enumerate(blank):
        dealt = [bay for store in carriers for bay in seats[store.id].get(str(i), ())]
        draft.deal((*entry.path, "bay"), dealt)


def _fed(drive: Any) -> bool:
    return any(inlet.source is not None for inlet in drive.inlets)


def _chosen(
    draft: Draft, blank: list[Entry], carriers: list[Any], free: dict[str, list[str]]
) -> list[dict[str, int]]:
    """Return for each entry how many of its drives go to which carrier."""
    program = Program(draft.wish.seconds)
    rows: list[dict[str, int]] = []
    apart: dict[int | None, float] = {}
    late: dict[int | None, float] = {}
    for entry in blank:
        row = {s.id: program.number(0, len(entry.things)) for s in carriers if _fits(s, entry.things[0])}
        used = {name: program.number(0, 1) for name in row}
        for k, (name, number) in enumerate(row.items()):
            program.demand({number: 1.0, used[name]: -float(len(entry.things))}, high=0.0)
            apart[used[name]] = 1.0
            late[number] = float(k)
        says = f"each of {listed(entry.names)} sits in a bay of a carrier that has its volts"
        program.demand(dict.fromkeys(row.values(), 1.0), len(entry.things), len(entry.things), says)
        rows.append(row)
    for store in carriers:
        program.demand(
            {row[store.id]: 1.0 for row in rows if store.id in row},
            high=len(free[store.id]),
            says=f"{store.id} has {len(free[store.id])} free bays",
            give=Give(f"{{}} more in {store.id}, or a carrier beside it"),
        )
    found = program.solve([apart, late])[-1]
    return [{name: found.of(number) for name, number in row.items()} for row in rows]


def _fits(store: Any, drive: Any) -> bool:
    """Say whether a carrier has the volts of every inlet of a drive, as linking looks for them."""
    windows = [o.volts for o in store.outlet] + [i.spec.volts for i in store.inlets]
    return all(
        inlet.spec.volts is None or any(w is not None and _meet(w, inlet.spec.volts) for w in windows)
        for inlet in drive.inlets
    )


def _meet(volts: Any, window: tuple[float, float]) -> bool:
    low, high = volts if isinstance(volts, tuple) else (volts, volts)
    return bool(low <= window[1] and window[0] <= high)

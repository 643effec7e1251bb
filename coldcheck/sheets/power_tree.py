"""The way of power through a plan, from each feed down: volts that arrive, amps that flow, and what is allowed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.workings.limits import limit_of
from coldcheck.workings.needs import fuse_words
from coldcheck.workings.power import Arrival, Loading, source_volts

from .table import DEPTH, Cell, Column, Table

__all__ = ["power_tree"]

COLUMNS = (
    Column(DEPTH, "depth"),
    Column("name", "point"),
    Column("kind", "kind"),
    Column("source", "fed by"),
    Column("volts", "about", "V"),
    Column("low", "at least", "V"),
    Column("amps", "at most", "A"),
    Column("limit", "allowed", "A"),
    Column("fuse", "fuse"),
    Column("missing", "not known for want of"),
)


def power_tree(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return every outlet and every inlet of a plan, each below what feeds it."""
    rows = list(_Walk(plan, get("loading"), {a.name: a for a in get("arrivals")}).rows())
    return [Table("power", "power tree", COLUMNS, rows, "the plan feeds nothing")]


class _Walk:
    def __init__(self, plan: Plan, loading: Loading, arrivals: dict[str, Arrival]) -> None:
        self.plan, self.loading, self.arrivals = plan, loading, arrivals
        self.seen: set[str] = set()

    def rows(self) -> Iterator[tuple[Cell, ...]]:
        """Yield what nothing feeds first; each branch to its end before the next."""
        for thing in self.plan.order:
            if not any(inlet.source is not None for inlet in thing.inlets):
                yield from self._given(thing, 0)

    def _given(self, thing: Any, depth: int, inlet: InletPoint | None = None) -> Iterator[tuple[Cell, ...]]:
        """Yield what a thing gives, below the inlet that it comes by; below the first, what comes by no one inlet."""
        first = thing.id not in self.seen
        self.seen.add(thing.id)
        for outlet in thing.outlets:
            if not outlet.takers and outlet.noun == "outlet":
                continue
            if outlet.via is not inlet and not (first and (outlet.via is None or outlet.via.source is None)):
                continue
            yield self._outlet(outlet, depth)
            for taker in outlet.takers:
                yield self._inlet(taker, depth + 1)
                yield from self._given(taker.thing, depth + 2, taker)

    def _outlet(self, outlet: OutletPoint, depth: int) -> tuple[Cell, ...]:
        volts = source_volts(outlet) if outlet.is_source else None
        asked = max((amps for _, amps in self.loading.amps(outlet)), default=0.0)
        missing = self.loading.missing.get(outlet.name, [])
        held = not outlet.is_source  # what only hands power on may have no rating of its own
        limit = limit_of(outlet, self.plan).amps
        return (
            depth, outlet.name, outlet.noun, "",
            "" if held else volts[0] if volts else None, "" if held else volts[1] if volts else None,
            None if missing else asked, "" if held and limit is None else limit, fuse_words(outlet.spec),
            ", ".join(missing),
        )  # fmt: skip

    def _inlet(self, inlet: InletPoint, depth: int) -> tuple[Cell, ...]:
        arrival = self.arrivals.get(inlet.name)
        source = inlet.source.name if inlet.source is not None else ""
        if arrival is None:
            return depth, inlet.name, "inlet", source, None, None, None, "", "", ""
        most = getattr(inlet.spec, "amps", None)
        lacks = arrival.lacks if arrival.low is None else ""
        return (
            depth, inlet.name, "inlet", source, arrival.nominal, arrival.low, arrival.amps,
            "" if most is None else most, fuse_words(inlet.thing), lacks,
        )  # fmt: skip

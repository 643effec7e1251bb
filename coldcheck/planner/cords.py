"""Data cables: the category that carries the speed, in a length that is sold and reaches, where places are known."""

from __future__ import annotations

from typing import Any

from coldcheck.lan.cable import longest
from coldcheck.plan.model import LinkLine
from coldcheck.plan.quantities import Measure
from coldcheck.workings.ports import TWISTED

from .draft import Draft, Entry, entries
from .outlets import away

__all__ = ["LENGTHS", "fill_cords"]

#: Lengths in which made-up cables are sold [m]; common practice.
LENGTHS = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 5.0, 7.5, 10.0, 15.0, 20.0, 30.0, 50.0)
#: Categories that are sold, the plainest first.
_SOLD = ("5e", "6", "6A", "8")
#: Where neither end says how fast it is [bit/s].
_USUAL = 1e9


def fill_cords(draft: Draft) -> None:
    """Put a data cable for every entry that names a port and no cable, where both ends say where they stand.

    All cables of an entry are of one length: the longest that one of them needs.
    """
    lines: dict[str, list[LinkLine]] = {}
    for line in draft.plan.links:
        if line.cable is None and line.entry is None and line.b is not None:
            lines.setdefault(line.a.thing.id, []).append(line)
    named = (
        thing for table in ("node", "storage", "appliance", "switch") for thing in draft.plan.table(table)
    )
    for entry in entries(
        t for t in named if t.id in lines and "port" in t.stated and "cable" not in t.stated
    ):
        _choose(draft, entry, [line for thing in entry.things for line in lines[thing.id]])


def _choose(draft: Draft, entry: Entry, lines: list[LinkLine]) -> None:
    speeds: Any = draft.working("link_speeds")
    ways = [away(line.a.thing, line.b.thing) for line in lines if line.b is not None]
    copper = all(TWISTED in speeds[id(line)].kinds for line in lines)
    known = [way for way in ways if way is not None]
    if not copper or len(known) < len(lines):
        return  # how far it is, or what plugs in, nobody has said
    wanted = max(known) + draft.plan.head.slack
    length = next((sold for sold in LENGTHS if sold >= wanted - 1e-9), None)
    fastest = max(speeds[id(line)].most or _USUAL for line in lines)
    kind = next(
        (name for name in _SOLD if length is not None and (longest(fastest, name) or 0.0) >= length), None
    )
    if kind is None or length is None:
        draft.leave(
            entry.names,
            "cable",
            f"no cable that is sold carries its speed over {Measure(round(wanted, 3), 'm')}",
        )
        return
    draft.put((*entry.path, "cable"), f"cat {kind}, {Measure(length, 'm')}")

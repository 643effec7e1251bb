"""Connectors as they are seen, pin by pin: what each carries, the colour of its wire and where that goes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec

from coldcheck.pins.grid import Grid, grid
from coldcheck.plan.model import Plan
from coldcheck.plan.reading import plugs_of
from coldcheck.plan.spans import listed
from coldcheck.workings.lead_ends import PAST, LeadEnd, Side
from coldcheck.workings.needs import fuses_of
from coldcheck.workings.pins import End

from .drawing import Box, Drawing, boxes
from .table import Cell, Column, Table

__all__ = ["connectors", "drawings"]

COLUMNS = (
    Column("socket", "connector"),
    Column("plug", "plug"),
    Column("seen", "seen"),
    Column("pin", "pin"),
    Column("signal", "carries"),
    Column("colour", "colour"),
    Column("to", "wire to"),
)
_SEEN = {"mating": "onto the pins of the thing", "wires": "from behind the thing"}
#: A plug that sits on what is drawn looks from its wires as the thing looks from its pins, and the other way round.
_PLUG = {"mating": "from the side of its wires", "wires": "onto the face that goes in"}

#: So many columns of a connector are drawn at least, and so many beyond the last one with a wire.
FEWEST, BEYOND = 6, 2


class _Wired(msgspec.Struct):
    """One conductor on a pin: its colour, "" where none is said, and the pin or pole where its other end goes."""

    colour: str
    to: str


class _Socket(msgspec.Struct):
    """A connector that conductors end in: what each of its pins carries, and what they go on, by pin.

    ``poles``: its pins have no numbers, and are told apart by what they are for.
    """

    place: str
    plug: str | None
    pins: dict[str, str]
    wires: dict[str, list[_Wired]]
    poles: bool = False


def _sockets(get: Callable[[str], Any]) -> list[_Socket]:
    """Return every connector whose pins or poles are known, of harnesses first, then of leads."""
    found: dict[str, _Socket] = {}

    def put(own: End, plug: str | None, wired: _Wired) -> None:
        socket = found.setdefault(own.place, _Socket(own.place, plug, own.pins, {}))
        socket.wires.setdefault(own.pin, []).append(wired)

    for wire in get("pin_wires"):
        for own, other in ((wire.a, wire.b), (wire.b, wire.a)):
            if not (own.splice or own.unknown):
                put(own, own.plug, _Wired(wire.wire.colour or "", other.ref))
    for ends in get("lead_ends").values():
        many = ends.inlet.lead.parallel
        for own, other in ((ends.a, ends.b), (ends.b, ends.a)):
            for side, far, colour in (
                (own.plus, other.plus, ends.colours[0]),
                (own.back, other.back, ends.colours[1]),
            ):
                for n in range(many):
                    wired = _Wired(colour, _far(other, far, n))
                    if side.ends:
                        put(side.ends[min(n, len(side.ends) - 1)], own.plug, wired)
                    elif (pole := _pole(own, side)) is not None:
                        socket = found.setdefault(pole.place, pole)
                        socket.wires.setdefault(side.words, []).append(wired)
    return list(found.values())


def _fuses(plan: Plan) -> dict[str, str]:
    """Return the fuse that the wires of a connector sit behind, by the connector."""
    return {place: fuse for name, fuse, _ in fuses_of(plan) for place in (name, f"{name}.out")}


def _pole(own: LeadEnd, side: Side) -> _Socket | None:
    """Return the connector of a pole without a number, with nothing on it; None where nothing is known of it."""
    if side.words == PAST:
        return _Socket(_past(own), "joint", {PAST: "return"}, {}, True)
    if own.plug is None or own.plus.ends or not own.plus.words:
        return None
    return _Socket(own.place, own.plug, {own.plus.words: "plus", own.back.words: "return"}, {}, True)


def _past(end: LeadEnd) -> str:
    return f"the return past {end.point.thing.id}"


def _far(end: LeadEnd, side: Side, number: int) -> str:
    """Return where the other end of a conductor of a lead goes."""
    if side.ends:
        return side.ends[min(number, len(side.ends) - 1)].ref
    if side.words == PAST:
        return _past(end)
    return f"{end.place}: {side.words}" if side.words else end.place


def connectors(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return every pin that a wire or a lead ends in, connector by connector, in the order of its pins."""
    plug = plugs_of(plan.shelf)
    rows: list[tuple[Cell, ...]] = []
    for socket in _sockets(get):
        kind = socket.plug
        seen = "" if PAST in socket.pins else _seen(plug(kind) if kind else None, socket.poles)
        order = {pin: n for n, pin in enumerate(socket.pins)}
        for pin in sorted(socket.wires, key=lambda pin: (order.get(pin, len(order)), pin)):
            signal = socket.pins.get(pin)
            rows += [
                (socket.place, kind, seen, "" if pin == PAST else pin, signal, one.colour or None, one.to)
                for one in socket.wires[pin]
            ]
    return [
        Table(
            "connectors",
            "connectors",
            COLUMNS,
            rows,
            "the plan names no pins, and no plugs whose pins are known",
        )
    ]


def _seen(part: Any, poles: bool) -> str:
    if poles or getattr(part, "single", None):
        return "by its marks" if poles else "by the marks beside its terminals"
    return _SEEN.get(getattr(part, "seen", None) or "", "")


def drawings(plan: Plan, get: Callable[[str], Any]) -> list[Drawing]:
    """Draw each connector whose pins or poles are known; those that are wired alike are one drawing."""
    plug, fuses = plugs_of(plan.shelf), _fuses(plan)
    alike: dict[tuple[Any, ...], list[_Socket]] = {}
    for socket in _sockets(get):
        if not socket.pins or PAST in socket.pins:
            continue
        pins = socket.pins
        wired = sorted((pin, one.colour) for pin, several in socket.wires.items() for one in several)
        alike.setdefault(
            (socket.plug, tuple(pins.items()), tuple(wired), fuses.get(socket.place)), []
        ).append(socket)
    found: list[Drawing] = []
    for same in alike.values():
        kind = same[0].plug
        part = plug(kind) if kind else None
        drawn = _drawn(same, part, kind or "connector", len(found) + 1, fuses.get(same[0].place, ""))
        if drawn is not None:
            found.append(drawn)
    return found


def _drawn(same: list[_Socket], part: Any, kind: str, number: int, fuse: str) -> Drawing | None:
    socket = same[0]
    rows, numbered = getattr(part, "rows", None) or 1, getattr(part, "numbered", None) or "along"
    try:
        places = grid(list(socket.pins), rows, numbered)
    except ValueError:
        return None
    seen = _seen(part, socket.poles)
    side = _PLUG.get(getattr(part, "seen", None) or "")
    seen += f"; its plug looks the same {side}" if side else ""
    how = (
        f"seen {seen}"
        if seen
        else "in the order of their numbers; go by the numbers on it, not by left and right"
    )
    last = _last_column(socket, places)
    left = places.size[0] - last
    rest = f"; {left} columns to the right of these have no wire" if left else ""
    behind = f"; on the far side of its {fuse} fuse, never before it" if fuse else ""
    shown = _rows(socket, places, last)
    if _first_row_below(part):
        shown.reverse()
        how = how.replace("; its plug", f", pin {places.name_at((0, 0))} at the lower left; its plug")
    title = f"{listed([one.place for one in same])}: {kind}, {how}{rest}{behind}"
    return boxes(f"connector-{number}", title, shown)


def _first_row_below(part: Any) -> bool:
    """Say whether the row of pin 1 stands below that of pin 2 where one looks onto the pins and counts to the right.

    So it is on every header of two rows that is numbered across: turned upright, odd pins stand on the left, even ones
    on the right, counted down. From behind it is the other way round. Common practice.
    """
    return getattr(part, "numbered", None) == "across" and getattr(part, "seen", None) == "mating"


def _last_column(socket: _Socket, places: Grid) -> int:
    """Return how many columns are drawn: all with wires and a few more, so that it can be read on paper."""
    used = max((places.at(pin)[0] for pin in socket.wires if pin in places.spots), default=0)
    return min(places.size[0], max(FEWEST, used + 1 + BEYOND))


def _rows(socket: _Socket, places: Grid, columns: int) -> list[list[Box | None]]:
    rows = places.size[1]
    found: list[list[Box | None]] = []
    for y in range(rows):
        row: list[Box | None] = []
        for x in range(columns):
            pin = places.name_at((x, y))
            row.append(_pin(socket, pin) if pin is not None else None)
        found.append(row)
    return found


def _pin(socket: _Socket, pin: str) -> Box:
    wires = socket.wires.get(pin, [])
    colours = list(dict.fromkeys(one.colour for one in wires))
    words = [pin, socket.pins.get(pin, "") or "?"]
    if wires:
        many = f"{len(wires)} × " if len(wires) > 1 and len(colours) == 1 else ""
        words.append(many + " + ".join(colour or "?" for colour in colours))
    return Box(words, [colour for colour in colours if colour], used=bool(wires))

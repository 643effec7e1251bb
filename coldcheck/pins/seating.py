"""How a rigid housing can sit on a socket, and which move of it explains where its wires are.

A housing can be shifted along a bare row, and turned round; it cannot be mirrored. But who crimps it may count its ways
from the wrong side, and then its wires are mirrored.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

import msgspec

from .grid import Grid, Spot

__all__ = ["Move", "Seat", "explain", "fits", "seats", "told"]

_TURNS: dict[int, Callable[[int, int], Spot]] = {
    0: lambda x, y: (x, y),
    90: lambda x, y: (-y, x),
    180: lambda x, y: (-x, -y),
    270: lambda x, y: (y, -x),
}
_MIRRORS: dict[str, Callable[[int, int], Spot]] = {
    "across": lambda x, y: (-x, y),
    "along": lambda x, y: (x, -y),
}


class Seat(msgspec.Struct, frozen=True):
    """One way for a housing to sit: turned by ``turn`` degrees, its first way ``shift`` columns and rows off its place.

    ``touches`` has by way the pin it touches, None where it hangs beside the socket; ``right``: as it is meant.
    """

    turn: int
    shift: Spot
    touches: tuple[tuple[str, str | None], ...]
    right: bool = False

    @property
    def beside(self) -> int:
        """How many ways hang beside the socket."""
        return sum(pin is None for _, pin in self.touches)


def told(seat: Seat, ways: Mapping[str, str], socket: Grid) -> str:
    """Return how a seat differs from the one that is meant, as a phrase that follows "the plug sits".

    seat [-]: of a housing; ways [-]: by way, the pin that it is meant to touch; socket [-]: the pins.
    """
    spots = [socket.at(pin) for pin in ways.values()]
    turned = [_TURNS[seat.turn](x - spots[0][0], y - spots[0][1]) for x, y in spots]
    now = [(x + spots[0][0] + seat.shift[0], y + spots[0][1] + seat.shift[1]) for x, y in turned]
    off = _in_place(now, spots)
    kind = {0: "shifted", 180: "turned"}.get(seat.turn, "quartered")
    return Move(kind, off, {}).words()


def seats(ways: Mapping[str, str], socket: Grid, quarter: bool = False) -> list[Seat]:
    """Return every way for a housing to sit on a socket so that it touches at least one pin.

    ways [-]: by way, the pin it is meant to touch; quarter [-]: whether it may be turned by 90 degrees as well, as a
    single row on a wide field of pins. Seats of which the ways touch the same pins are one.
    """
    spots = [socket.at(pin) for pin in ways.values()]
    found: dict[tuple[tuple[str, str | None], ...], Seat] = {}
    for turn in (0, 90, 180, 270) if quarter else (0, 180):
        turned = [_TURNS[turn](x - spots[0][0], y - spots[0][1]) for x, y in spots]
        for dx, dy in sorted(_shifts(turned, socket)):
            at = [(x + dx, y + dy) for x, y in turned]
            touches = tuple((way, socket.name_at(spot)) for way, spot in zip(ways, at, strict=True))
            if any(pin is not None for _, pin in touches):
                shift = dx - spots[0][0], dy - spots[0][1]
                found.setdefault(touches, Seat(turn, shift, touches, touches == tuple(ways.items())))
    return list(found.values())


def _shifts(turned: Sequence[Spot], socket: Grid) -> set[Spot]:
    """Return where the first way may be so that some way is on a pin."""
    return {(px - x, py - y) for px, py in socket.names for x, y in turned}


def fits(housing: Grid, on: Sequence[str], socket: Grid) -> str:
    """Return "" where the ways of a housing can sit on these pins of a socket together, else in words why not.

    housing [-]: its ways, in order; on [-]: the pin for each of them; socket [-]: its pins.
    """
    unknown = [pin for pin in on if pin not in socket.spots]
    if unknown:
        return f"the socket has no pin {unknown[0]}"
    ways = list(housing.spots.values())
    if len(ways) != len(on):
        return f"the housing has {len(ways)} ways, but {len(on)} pins are named"
    if len(set(on)) != len(on):
        return "two ways cannot sit on one pin"
    pins = [socket.at(pin) for pin in on]
    if any(_same_shape(ways, pins, turn) for turn in _TURNS.values()):
        return ""
    if any(
        _same_shape([mirror(x, y) for x, y in ways], pins, turn)
        for mirror in _MIRRORS.values()
        for turn in _TURNS.values()
    ):
        return "it would have to be mirrored: the pins are counted as seen from the other side"
    return "these pins do not stand to each other as the ways of the housing do"


def _same_shape(ways: Sequence[Spot], pins: Sequence[Spot], turn: Callable[[int, int], Spot]) -> bool:
    turned = [turn(x, y) for x, y in ways]
    return len({(px - x, py - y) for (x, y), (px, py) in zip(turned, pins, strict=True)}) <= 1


class Move(msgspec.Struct, frozen=True):
    """How a plug sits wrongly: ``kind`` shifted, turned, quartered or mirrored, with ``shift`` in columns and rows.

    ``back`` has, by the pin where a wire is, the pin where it belongs.
    """

    kind: str
    shift: Spot
    back: dict[str, str]

    def words(self) -> str:
        """Return where the plug sits, as a phrase that follows "the plug sits"."""
        if self.kind == "shifted":
            return _way_off(self.shift)
        if self.kind == "mirrored":
            base = "mirrored, as if its ways had been counted from the other side"
        elif self.kind == "quartered":
            base = "turned by a quarter"
        else:
            base = "the wrong way round"
        return base + (f", and {_way_off(self.shift)}" if self.shift != (0, 0) else "")

    @property
    def cost(self) -> tuple[int, int]:
        """How unlikely it is: the smallest come first."""
        far = abs(self.shift[0]) + abs(self.shift[1])
        rank = {
            "shifted": 0 if far == 1 else 2,
            "turned": 1 if not far else 4,
            "mirrored": 3 if not far else 5,
            "quartered": 6,
        }
        return rank[self.kind], far


def _way_off(shift: Spot) -> str:
    words = []
    for steps, one, many, plus, minus in (
        (shift[0], "pin", "pins", "further along the row", "back along the row"),
        (shift[1], "row", "rows", "towards the last row", "towards the first row"),
    ):
        if steps:
            count = "one" if abs(steps) == 1 else str(abs(steps))
            words.append(f"{count} {one if abs(steps) == 1 else many} {plus if steps > 0 else minus}")
    return " and ".join(words) if words else "in its place"


def explain(now: Mapping[str, str], right: Mapping[str, set[str]], socket: Grid) -> list[Move]:
    """Return every move of a plug that puts all of its wires right, the likeliest first.

    now [-]: by wire, the pin it is on; right [-]: by wire, the pins it would be right on; socket [-]: the pins.
    A plug that is right where it is gives no move.
    """
    if all(pin in right[wire] for wire, pin in now.items()):
        return []
    wires = list(now)
    spots = [socket.at(now[wire]) for wire in wires]
    found: dict[tuple[tuple[str, str], ...], Move] = {}
    for kind, turn in _kinds():
        moved = [turn(x, y) for x, y in spots]
        still = _in_place(spots, moved)
        for target in sorted(right[wires[0]]):
            tx, ty = socket.at(target)
            dx, dy = tx - moved[0][0], ty - moved[0][1]
            names = [socket.name_at((x + dx, y + dy)) for x, y in moved]
            if all(name is not None and name in right[wire] for wire, name in zip(wires, names, strict=True)):
                back = {now[wire]: str(name) for wire, name in zip(wires, names, strict=True)}
                off = still[0] - dx, still[1] - dy
                key = tuple(back.items())
                move = Move(kind, off, back)
                if key not in found or move.cost < found[key].cost:
                    found[key] = move
    return sorted(found.values(), key=lambda move: move.cost)


def _kinds() -> Iterator[tuple[str, Callable[[int, int], Spot]]]:
    yield "shifted", _TURNS[0]
    yield "turned", _TURNS[180]
    yield "quartered", _TURNS[90]
    yield "quartered", _TURNS[270]
    for mirror in _MIRRORS.values():
        yield "mirrored", mirror


def _in_place(spots: Sequence[Spot], moved: Sequence[Spot]) -> Spot:
    """Return the shift that lays moved spots over the same field as before."""
    return (
        min(x for x, _ in spots) - min(x for x, _ in moved),
        min(y for _, y in spots) - min(y for _, y in moved),
    )

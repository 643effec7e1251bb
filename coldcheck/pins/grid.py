"""Where the pins of a socket, or the ways of a housing, stand: columns and rows of a grid."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

__all__ = ["Grid", "Spot", "blocks", "grid"]

#: A place of the grid: column and row, counted from 0.
Spot = tuple[int, int]


class Grid(msgspec.Struct, frozen=True):
    """Pins on a grid: ``spots`` by name, ``names`` by spot; ``size``: columns and rows."""

    spots: dict[str, Spot]
    names: dict[Spot, str]
    size: tuple[int, int]

    def at(self, name: str) -> Spot:
        """Return where a pin stands. Raises KeyError for a name that the grid does not have."""
        return self.spots[name]

    def name_at(self, spot: Spot) -> str | None:
        """Return the pin that stands at a spot, None beside the grid."""
        return self.names.get(spot)


def grid(names: Sequence[str], rows: int = 1, numbered: str = "along") -> Grid:
    """Return the grid of pins that are given in the order of their numbers.

    names [-]: of the pins; rows [-]: how many rows they stand in; numbered [-]: "across" puts 1 and 2 into the first
    column, as on the 40-pin header; "along" fills the first row before the second, as on the 24-pin supply plug.

    Raises ValueError where the pins do not fill the rows, two have one name, or the way of numbering is unknown.
    """
    if numbered not in ("along", "across"):
        raise ValueError(f'pins are numbered "along" or "across" the rows, not "{numbered}"')
    if len(set(names)) != len(names):
        raise ValueError("two pins have one name")
    if rows < 1 or len(names) % rows:
        raise ValueError(f"{len(names)} pins do not fill {rows} rows")
    columns = len(names) // rows
    spots = {
        name: (n % columns, n // columns) if numbered == "along" else (n // rows, n % rows)
        for n, name in enumerate(names)
    }
    return Grid(spots, {spot: name for name, spot in spots.items()}, (columns, rows))


def blocks(pins: Iterable[str], socket: Grid) -> list[list[str]]:
    """Return groups of pins that stand side by side, those that one housing would hold together.

    pins [-]: names of pins of the socket. Each group keeps the order in which its pins are given.
    """
    left = list(dict.fromkeys(pins))
    found = []
    while left:
        group, todo = {left[0]}, [left[0]]
        while todo:
            x, y = socket.at(todo.pop())
            near = {socket.name_at(spot) for spot in ((x - 1, y), (x + 1, y), (x, y - 1), (x, y + 1))}
            fresh = [pin for pin in left if pin in near and pin not in group]
            group.update(fresh)
            todo += fresh
        found.append([pin for pin in left if pin in group])
        left = [pin for pin in left if pin not in group]
    return found

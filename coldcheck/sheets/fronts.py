"""The front of each switch: its ports as they stand there, with what is plugged into each."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from coldcheck.pins.grid import grid
from coldcheck.plan.model import Plan

from .drawing import Box, Drawing, boxes
from .network import port_map
from .table import as_rows, shown

__all__ = ["fronts"]

#: So many ports stand side by side where the plan does not say in how many rows they are.
ACROSS = 8


def fronts(plan: Plan, get: Callable[[str], Any]) -> list[Drawing]:
    """Draw the ports of each switch as one sees them, or in the order of their numbers where that is not said."""
    table = port_map(plan, get)[0]
    units = {column.key: column for column in table.columns}
    switches: dict[str, list[Box]] = {}
    for row in as_rows(table):
        said = str(row["to"])
        words = [str(row["port"]), said]
        if row["watts"] not in ("", None):
            words.append(f"PoE {shown(row['watts'], units['watts'])}")
        if row["vlan"]:
            words.append(f"VLAN {row['vlan']}")
        switches.setdefault(str(row["switch"]), []).append(Box(words, used=said != "free"))
    return [
        boxes(f"switch-{number}", *_front(plan.things[switch], switch, ports))
        for number, (switch, ports) in enumerate(switches.items(), 1)
    ]


def _front(switch: Any, name: str, ports: list[Box]) -> tuple[str, list[list[Box | None]]]:
    """Return the title and the rows of a front; the last columns may be short of ports."""
    rows = getattr(switch, "rows", None)
    if rows is None:
        title = f"{name}: its ports in the order of their numbers; the plan does not say in how many rows they stand"
        return title, [list(ports[n : n + ACROSS]) for n in range(0, len(ports), ACROSS)]
    gaps = -len(ports) % rows
    places = grid([str(n) for n in range(len(ports) + gaps)], rows, switch.numbered or "along")
    front: list[list[Box | None]] = [[None] * places.size[0] for _ in range(rows)]
    for n, port in enumerate(ports):
        x, y = places.at(str(n))
        front[y][x] = port
    return f"{name}: its front, as one looks at it", front

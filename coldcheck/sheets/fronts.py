"""The front of each switch: its ports in their order, with what is plugged into each."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from coldcheck.plan.model import Plan

from .drawing import Box, Drawing, boxes
from .network import port_map
from .table import as_rows, shown

__all__ = ["fronts"]

#: So many ports stand side by side; which row a port is in on the real switch the plan does not say.
ACROSS = 8


def fronts(plan: Plan, get: Callable[[str], Any]) -> list[Drawing]:
    """Draw the ports of each switch in the order of their numbers."""
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
        boxes(
            f"switch-{number}", f"{switch}: its ports in the order of their numbers",
            [ports[n : n + ACROSS] for n in range(0, len(ports), ACROSS)],
        )
        for number, (switch, ports) in enumerate(switches.items(), 1)
    ]  # fmt: skip

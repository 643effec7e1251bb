"""All sheets of one plan: each a name, a title and its tables, in the order in which the bench uses them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import msgspec

from coldcheck.formats.report import PlanReport
from coldcheck.plan.model import Plan

from . import connectors, courses, fronts, labels, links, network, power_tree, things, tree, verdicts, wires
from .drawing import Drawing
from .table import Table

__all__ = ["NAMES", "Pack", "Sheet", "pack"]


class Sheet(msgspec.Struct):
    """One sheet: its name for commands and files, its title, its tables, and its drawings."""

    name: str
    title: str
    tables: list[Table]
    drawings: list[Drawing] = []


class Pack(msgspec.Struct):
    """The sheets of a plan. ``errors``: how many a lint finds; with any, nothing of it is for building."""

    plan: str
    title: str
    errors: int
    sheets: list[Sheet]
    cautions: list[str]


Make = Callable[[Plan, Callable[[str], Any]], list[Table]]

#: Each sheet with its title and what makes its tables.
_MADE: dict[str, tuple[str, Make]] = {
    "parts": ("parts, fuses and data cables", things.parts_list),
    "shopping": ("shopping list", wires.shopping),
    "power": ("power tree", power_tree.power_tree),
    "wiring": ("wiring schedule", wires.wiring),
    "connectors": ("connectors", connectors.connectors),
    "cuts": ("cut list", wires.cuts),
    "labels": ("labels for both ends of each cable", labels.labels),
    "order": ("assembly, starting, stopping", things.order),
    "start-up": ("start-up of each source", courses.start_up),
    "first-power": ("first power", wires.first_power),
    "ports": ("port map", network.port_map),
    "addresses": ("address schedule", network.addresses),
}

#: What draws for a sheet.
_DRAWN: dict[str, Callable[[Plan, Callable[[str], Any]], list[Drawing]]] = {
    "power": tree.trees,
    "start-up": courses.plots,
    "connectors": connectors.drawings,
    "ports": fronts.fronts,
    "addresses": links.networks,
}

#: The names of all sheets, in the order in which they are used.
NAMES = (*_MADE, "findings")


def pack(
    plan: Plan, get: Callable[[str], Any], report: PlanReport, errors: int, wanted: Iterable[str] = NAMES
) -> Pack:
    """Return the sheets asked for, in their own order.

    Args:
        plan: a plan that was read.
        get: gives a working by its name.
        report: what a lint finds in it.
        errors: how many of these are errors, or leave one undecided.
        wanted: names out of `NAMES`.
    """
    asked = set(wanted)
    made = [
        Sheet(name, title, make(plan, get), _DRAWN[name](plan, get) if name in _DRAWN else [])
        for name, (title, make) in _MADE.items()
        if name in asked
    ]
    if "findings" in asked:
        made.append(Sheet("findings", "findings", verdicts.findings(report.found)))
    cautions = list(get("first_power").cautions)
    return Pack(report.name, plan.head.title or report.name, errors, made, cautions)

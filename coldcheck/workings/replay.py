"""The nets as they would be with other starts: solved anew where something changes, and all that feeds those too."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .net import Branch, Net, Steps
from .nets import added_up, asked_by
from .what_if import variant

__all__ = ["replayed", "solvable"]


def solvable(net: Net) -> bool:
    """Say whether a net has answers: something hangs on it, and the volts of its source are known."""
    return bool(net.branches and net.worst.volts)


def replayed(
    nets: dict[str, Net],
    poe: dict[str, Any],
    touched: Callable[[Branch], bool],
    change: Callable[[Branch], None],
    above: Callable[[Branch], None] | None = None,
) -> dict[str, Net]:
    """Return the nets that differ after a change, by the names of their sources, those that feed others last.

    ``touched`` says which branches ``change`` concerns; a net without one is solved anew only if a converter on it asks
    for other watts than before. ``above`` is called with every other branch of the nets that are. ``poe`` has what each
    switch takes for its PoE ports.
    """
    new: dict[str, Net] = {}
    asked: dict[str, tuple[Steps, Steps]] = {}

    def changed(branch: Branch) -> None:
        name = branch.inlet.thing.id
        if touched(branch):
            change(branch)
        elif above is not None:
            above(branch)
        if name in asked and branch.extra is not None:
            more = [(0.0, poe[name].watts)] if name in poe else [(0.0, 0.0)]
            branch.extra = added_up([asked[name][0], more]), added_up([asked[name][1], more])

    for net in nets.values():
        group = net.together
        if net.name in new or not solvable(net):
            continue
        if not any(touched(b) or b.inlet.thing.id in asked for other in group for b in other.branches):
            continue
        for other in variant(net, changed).together:
            new[other.name] = other
        for thing in {other.thing.id: other.thing for other in group if other.thing.table != "feed"}.values():
            rails = [new.get(net.name, net) for net in nets.values() if net.thing is thing]
            nominal, most, _ = asked_by(thing, rails)
            asked[thing.id] = nominal, most
    return new

"""The nets as they would be with other starts: solved anew where something changes, and all that feeds those too."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from coldcheck.dc.converter import input_power
from coldcheck.dc.steps import add

from .net import Branch, Net, Steps, source_volts
from .nets import efficiency_at
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
            branch.extra = _sum([asked[name][0], more]), _sum([asked[name][1], more])

    for net in nets.values():
        group = net.together
        if net.name in new or not solvable(net):
            continue
        if not any(touched(b) or b.inlet.thing.id in asked for other in group for b in other.branches):
            continue
        for other in variant(net, changed).together:
            new[other.name] = other
        for thing in {other.thing.id: other.thing for other in group if other.thing.table != "feed"}.values():
            asked[thing.id] = _asked(thing, nets, new)
    return new


def _asked(thing: Any, nets: dict[str, Net], new: dict[str, Net]) -> tuple[Steps, Steps]:
    """Return what the converters of a thing take from its inlets for what they give, nominal and most [W]."""
    standing: Steps = [(0.0, getattr(thing, "standing", None) or 0.0)]
    nominal, most = [standing], [standing]
    for outlet in thing.outlets:
        net = new.get(outlet.name) or nets.get(outlet.name)
        if net is None or not outlet.is_source:
            continue
        efficiency = getattr(outlet.spec, "efficiency", None) or getattr(thing, "efficiency", None)
        volts = (source_volts(outlet) or (0.0,))[0]
        for kept, corner in ((nominal, net.nominal), (most, net.worst)):
            kept.append([(at, _taken(out, efficiency, volts)) for at, out in corner.watts])
    return _sum(nominal), _sum(most)


def _taken(out: float, efficiency: Any, volts: float) -> float:
    return out if efficiency is None else input_power(out, efficiency_at(efficiency, out, volts))


def _sum(series: list[Steps]) -> Steps:
    return add(series) or [(0.0, 0.0)]

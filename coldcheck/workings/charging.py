"""Charging: which empty capacitors a source, a switch or a fuse has to fill when power comes, and through what.

Every capacitor counts that a plan states (`capacitance` of an inlet). Empty, each is a short for a moment, so all that
lies behind one point are seen through one resistance: runs side by side and in a row, copper at the ambient, contacts
new, since that lets the most through. What loads take beside them is left out, for they start when their volts are up.
"""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.kinds import Fuse

from .net import Net, source_volts

__all__ = ["Charging", "behind", "chargings"]


class Charging(msgspec.Struct):
    """The capacitors behind one point: a source, a switch or a fuse.

    ``what`` is "source", "switch" or "fuse"; ``at`` the outlet or the thing, ``rated`` [A] what it stands without end.
    ``farads`` [F] are all of ``names`` together, ``volts`` [V] the highest of the source. ``hard``: a contact closes on
    them (a battery, a switch on the way), so nothing rises slowly. ``ohms`` [ohm] is what limits the first peak; 0
    where the plan states none, None where a lead is missing.
    """

    what: str
    at: Any
    net: Net
    names: list[str]
    farads: float
    volts: float
    ohms: float | None
    hard: bool
    rated: float | None = None
    fuse: Fuse | None = None


@working(reads=("feed", "supply", "inline", "node", "storage", "drive", "switch", "fan", "appliance"))
def chargings(nets: dict[str, Net]) -> list[Charging]:
    """The capacitors behind every source, switch and fuse [F], and the resistance they are filled through [ohm]."""
    found = []
    for net in nets.values():
        if any(branch.inlet.spec.capacitance for branch in net.branches):
            found += _Tree(net).chargings()
    return found


def behind(net: Net, i: int) -> float:
    """Return the capacitance at the end of one run and of all that hangs on it [F]."""
    inside = {i}
    for j in range(i + 1, len(net.branches)):  # what hangs on a run comes behind it
        if net.branches[j].parent in inside:
            inside.add(j)
    return sum(net.branches[j].inlet.spec.capacitance or 0.0 for j in inside)


class _Tree:
    """The runs of one net as its empty capacitors see them."""

    def __init__(self, net: Net) -> None:
        self.net = net
        self.branches = net.branches
        self.battery = bool(getattr(net.thing, "battery", None))
        n = len(net.branches)
        self.switched = [False] * n  #: whether a switch stands before the end of a run
        self.way = [0.0] * n  #: from the source to the end of a run [ohm]
        self.lacks = [False] * n
        self.runs: list[list[int]] = [
            [] for _ in range(n + 1)
        ]  #: what hangs on the end of a run; last, on the source
        for i, branch in enumerate(self.branches):
            above = branch.parent
            self.runs[above].append(i)
            self.switched[i] = _is_switch(branch.inlet.thing) or (above >= 0 and self.switched[above])
            self.way[i] = branch.ohms.nominal + (self.way[above] if above >= 0 else 0.0)
            self.lacks[i] = bool(branch.ohms.missing) or (above >= 0 and self.lacks[above])

    def chargings(self) -> list[Charging]:
        """Return the capacitors behind the source, and behind every switch and fuse of the net."""
        root, first = self.net.root, self.runs[-1]
        found = [self._charging("source", root, first, True)]
        if not self.battery:
            found.append(self._charging("source", root, first, False))
        found += self._fused(root, first, getattr(root.spec, "fuse", None))
        for i, branch in enumerate(self.branches):
            thing: Any = branch.inlet.thing
            if thing.table != "inline":
                continue
            if _is_switch(thing):
                found.append(self._charging("switch", thing, [i], True, branch.inlet.spec.amps))
            found += self._fused(thing, [i], thing.fuse)
            for outlet in thing.outlets:
                fed = [j for j in self.runs[i] if self.branches[j].inlet.source is outlet]
                found += self._fused(outlet, fed, getattr(outlet.spec, "fuse", None))
        return [charging for charging in found if charging.farads > 0]

    def _fused(self, at: Any, tops: list[int], fuse: Fuse | None) -> list[Charging]:
        return [] if fuse is None else [self._charging("fuse", at, tops, True, fuse.amps, fuse)]

    def _charging(
        self,
        what: str,
        at: Any,
        tops: list[int],
        hard: bool,
        rated: float | None = None,
        fuse: Fuse | None = None,
    ) -> Charging:
        """Return the capacitors at and behind some runs that begin at one place; with ``hard``, those closed on."""
        inside = list(tops)
        for j in inside:  # it grows while it is walked: each run is followed by what hangs on it
            inside += self.runs[j]
        filled = {
            j
            for j in inside
            if self.branches[j].inlet.spec.capacitance and (not hard or self.battery or self.switched[j])
        }
        volts = source_volts(self.net.root)
        return Charging(
            what,
            at,
            self.net,
            [self.branches[j].inlet.name for j in sorted(filled)],
            sum(self.branches[j].inlet.spec.capacitance or 0.0 for j in filled),
            volts[2] if volts else 0.0,
            None if any(self.lacks[j] for j in filled) else self._ohms(tops, inside, filled),
            hard,
            rated,
            fuse,
        )

    def _ohms(self, tops: list[int], inside: list[int], filled: set[int]) -> float:
        """Return the resistance from the source through some runs to all capacitors, each taken as a short [ohm]."""
        seen = dict.fromkeys(inside, 0.0)
        for j in reversed(inside):
            at_end = sum(seen[k] for k in self.runs[j])
            if j in filled or at_end:
                ohms = self.branches[j].ohms.nominal + (0.0 if j in filled else 1 / at_end)
                seen[j] = 1 / ohms if ohms > 0 else float("inf")
        siemens = sum(seen[j] for j in tops)
        above = self.branches[tops[0]].parent if tops else -1
        return (self.way[above] if above >= 0 else 0.0) + (1 / siemens if siemens else 0.0)


def _is_switch(thing: Any) -> bool:
    return getattr(thing, "what", None) == "switch"

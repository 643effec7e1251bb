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
from coldcheck.plan.model import OutletPoint

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
        self.hard_all = bool(getattr(net.thing, "battery", None))
        n = len(net.branches)
        self.switched = [False] * n  #: whether a switch stands before the end of a run
        self.way = [0.0] * n  #: from the source to the end of a run [ohm]
        self.lacks = [False] * n
        for i, branch in enumerate(self.branches):
            above = branch.parent
            self.switched[i] = _is_switch(branch.inlet.thing) or (above >= 0 and self.switched[above])
            self.way[i] = branch.ohms.nominal + (self.way[above] if above >= 0 else 0.0)
            self.lacks[i] = bool(branch.ohms.missing) or (above >= 0 and self.lacks[above])

    def chargings(self) -> list[Charging]:
        """Return the capacitors behind the source, and behind every switch and fuse of the net."""
        root = self.net.root
        found = [
            self._charging("source", root, -1, hard) for hard in ((True,) if self.hard_all else (False, True))
        ]
        found += self._fuse(root, -1, getattr(root.spec, "fuse", None))
        for i, branch in enumerate(self.branches):
            thing: Any = branch.inlet.thing
            if thing.table != "inline":
                continue
            if _is_switch(thing):
                found.append(self._charging("switch", thing, i, True, branch.inlet.spec.amps))
            found += self._fuse(thing, i, thing.fuse)
            for outlet in thing.outlets:
                if outlet.takers and outlet.via is branch.inlet:
                    found += self._fuse(outlet, i, getattr(outlet.spec, "fuse", None))
        return [charging for charging in found if charging.farads > 0]

    def _fuse(self, at: Any, i: int, fuse: Fuse | None) -> list[Charging]:
        return [] if fuse is None else [self._charging("fuse", at, i, True, fuse.amps, fuse)]

    def _charging(
        self, what: str, at: Any, i: int, hard: bool, rated: float | None = None, fuse: Fuse | None = None
    ) -> Charging:
        """Return the capacitors behind the end of one run, or behind the source; with ``hard``, those closed on."""
        top = None if i < 0 or not isinstance(at, OutletPoint) else {t.name for t in at.takers}
        inside = self._inside(i, top)
        filled = [
            j
            for j in inside
            if self.branches[j].inlet.spec.capacitance and (not hard or self.hard_all or self.switched[j])
        ]
        volts = source_volts(self.net.root)
        ohms = None if any(self.lacks[j] for j in filled) else self._ohms(i, inside, set(filled))
        return Charging(
            what, at, self.net, [self.branches[j].inlet.name for j in filled],
            sum(self.branches[j].inlet.spec.capacitance or 0.0 for j in filled),
            volts[2] if volts else 0.0, ohms, hard, rated, fuse,
        )  # fmt: skip

    def _inside(self, i: int, top: set[str] | None) -> list[int]:
        """Return the runs at and behind one, in order; with ``top``, only those that begin with an inlet named there."""
        if i < 0:
            return list(range(len(self.branches)))
        inside = {i}
        for j in range(i + 1, len(self.branches)):
            branch = self.branches[j]
            if branch.parent in inside and (branch.parent != i or top is None or branch.inlet.name in top):
                inside.add(j)
        return sorted(inside if top is None else inside - {i})

    def _ohms(self, i: int, inside: list[int], filled: set[int]) -> float:
        """Return the resistance from the source through all capacitors behind a point, each taken as a short [ohm]."""
        siemens: dict[int, float] = {}
        own = set(inside)
        for j in reversed(inside):
            if j in filled:
                ohms = self.branches[j].ohms.nominal
            elif siemens.get(j):
                ohms = self.branches[j].ohms.nominal + 1 / siemens[j]
            else:
                continue
            above = self.branches[j].parent if j != i else -2
            start = above if above in own or above == i else -2
            siemens[start] = siemens.get(start, 0.0) + (1 / ohms if ohms > 0 else float("inf"))
        tops = siemens.get(i if i >= 0 and i not in own else -2, 0.0)
        before = self._before(i, own)
        return before + (1 / tops if tops else 0.0)

    def _before(self, i: int, own: set[int]) -> float:
        """Return the resistance from the source to where the runs behind a point begin [ohm]."""
        if i < 0:
            return 0.0
        return self.way[i] - (self.branches[i].ohms.nominal if i in own else 0.0)


def _is_switch(thing: Any) -> bool:
    return getattr(thing, "what", None) == "switch"

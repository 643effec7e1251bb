"""Where the power of several sources meets, and how they share what hangs there, in every corner."""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, Plan, joined

from .circuits import Point, Setting
from .net import Net, stray_known
from .power import Loading

__all__ = ["Meeting", "Side", "meetings"]


class Side(msgspec.Struct):
    """One source of several that meet: the inlet it comes in by, its net, and what it gives over all corners [A].

    ``least`` is below zero where current is pushed into it. ``kept``: a diode, or an inlet that blocks, lets nothing
    back into it. ``ordinary`` is what it gives with everything as it should be.
    """

    inlet: InletPoint
    net: Net
    kept: bool
    most: float = 0.0
    least: float = 0.0
    ordinary: float = 0.0

    @property
    def stiff(self) -> bool:
        """Whether its own resistance is not stated, so that how it shares cannot be computed."""
        return getattr(self.net.spec, "ohms", None) is None

    @property
    def shares(self) -> bool:
        """Whether it is made to share a load."""
        return bool(getattr(self.net.spec, "shares", None))


class Meeting(msgspec.Struct):
    """Sources that meet in one thing; ``whole`` is the most that they give together [A]; None where not solved."""

    thing: Any
    sides: list[Side]
    whole: float | None = None

    @property
    def kept(self) -> bool:
        """Whether nothing can run back into any of them."""
        return all(side.kept for side in self.sides)

    @property
    def shared(self) -> bool:
        """Whether all of them are made to share."""
        return all(side.shares for side in self.sides)

    @property
    def lacking(self) -> list[str]:
        """The figures without which their shares are not known."""
        sides = [side for side in self.sides if not side.kept]
        strays = [f"{side.net} spread" for side in sides if not stray_known(side.net.root)]
        return [*(f"{side.net} ohms" for side in sides if side.stiff), *strays]


@working(reads=())
def meetings(plan: Plan, loading: Loading) -> list[Meeting]:
    """Every thing in which the power of several sources meets, with what each gives [A]."""
    found = []
    for thing in plan.order:
        sides: dict[str, Side] = {}
        for inlet in joined(thing):
            place = loading.branch(inlet)
            if place is not None:
                side = sides.setdefault(place[0].name, Side(inlet, place[0], True))
                side.kept = side.kept and _kept(inlet)
        if len(sides) > 1:
            found.append(_solved(Meeting(thing, list(sides.values()))))
    return found


def _kept(inlet: InletPoint) -> bool:
    """Say whether nothing can run back by an inlet: it blocks, its thing has diodes inside, or one is on its way."""
    if getattr(inlet.thing, "use", None) == "or-ed" or inlet.spec.backfeed == "blocked":
        return True
    here: InletPoint | None = inlet
    while here is not None and here.source is not None:
        if getattr(here.source.thing, "what", None) == "diode":
            return True
        here = here.source.via
    return False


def _solved(meeting: Meeting) -> Meeting:
    """Go through the corners again: the nets keep what flows most, not what flows least or back."""
    nets = [side.net for side in meeting.sides]
    group = nets[0].group
    if not group or any(net.group is not group or not net.nominal.volts for net in nets):
        return meeting
    starts = sorted({at for net in group.nets for at in net.starts})
    places = [[(group.nets.index(side.net), i) for i in _ways(side, meeting.thing)] for side in meeting.sides]

    def row(point: Point) -> list[float]:
        return [sum(group.amps_at(point, k, i) for k, i in ways) for ways in places]

    given = [row(point) for point in group.tried]
    ordinary = row(group.point(Setting((0,) * len(group.nets), False, "", 0), starts[-1]))
    for i, side in enumerate(meeting.sides):
        side.most, side.least = max(each[i] for each in given), min(each[i] for each in given)
        side.ordinary = ordinary[i]
    meeting.whole = max(map(sum, given))
    return meeting


def _ways(side: Side, thing: Any) -> list[int]:
    """Return the branches of a net by which it comes into a thing."""
    return [i for i, branch in enumerate(side.net.branches) if branch.inlet.thing is thing]

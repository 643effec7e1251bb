"""What a net is: its branches, its source, and the answers of its corners. Filled by `nets`, solved by `corners`."""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.plan.model import InletPoint, OutletPoint

from .draws import Drawn
from .leads import Ohms

__all__ = ["UNSOLVED", "Branch", "Corner", "Net", "Steps", "source_volts", "stray_known", "value_at"]

#: A value in time: (start [s], value), each held until the next start, the last for ever.
Steps = list[tuple[float, float]]


class Branch:
    """One run of a net: the inlet at its end, what it hangs on, its resistance, and what is drawn there."""

    __slots__ = ("at", "draw", "extra", "inlet", "ohms", "parent", "steps", "way_back", "web")

    def __init__(self, inlet: InletPoint, parent: int, ohms: Ohms, draw: Drawn) -> None:
        self.inlet = inlet
        self.parent = parent  #: number of the branch it hangs on, -1 for the source
        self.ohms = ohms
        self.draw = draw
        self.extra: tuple[Steps, Steps] | None = None  #: watts of converters and PoE, nominal and most
        self.at = 0.0  #: when its motor starts [s]
        self.steps: Steps | None = None  #: own draw in time, where it is not constant
        self.way_back: InletPoint | None = (
            None  #: the shared wire back that its current takes, if not its own
        )
        self.web: tuple[str, ...] | None = None  #: where its return enters a harness that branches

    def start(self, at: float) -> None:
        """Lay out its draw in time: waiting until ``at`` [s], the surge, settled."""
        draw = self.draw
        self.at = at
        steps = [(0.0, draw.waiting)] if at > 0 else []
        for value, seconds in draw.surge:
            steps.append((at, value))
            at += seconds
        steps.append((at, draw.value))
        self.steps = steps

    def again(self) -> Branch:
        """Return a copy that can be changed without changing this one."""
        copy = Branch(self.inlet, self.parent, self.ohms, self.draw)
        copy.extra, copy.at, copy.steps = self.extra, self.at, self.steps
        copy.way_back, copy.web = self.way_back, self.web
        return copy

    @property
    def is_return(self) -> bool:
        """Whether it is one shared wire back, and no pair."""
        return getattr(self.inlet.thing, "what", None) == "return"

    @property
    def diode(self) -> float | None:
        """What is lost in a diode at its end, on the way to what hangs on it [V]; None where there is none.

        An ideal diode states its ohms and drops nothing; one that states neither is taken for a run, and told of.
        """
        thing: Any = self.inlet.thing
        if getattr(thing, "what", None) != "diode":
            return getattr(thing, "drop", None)
        return thing.drop if thing.drop is not None else 0.0 if self.inlet.spec.ohms is not None else None


class Corner(msgspec.Struct):
    """One corner of a net, solved: per branch the lowest volts [V] and the most amps [A].

    ``total`` and ``watts`` are what the source gives in time [A, W]; ``history`` holds the amps of every branch in each
    stretch of the start-up, and ``course`` its lowest volts, where there is more than one; ``collapsed`` is a branch
    that cannot be carried. ``deciding`` says, for nets that are solved together, which corner gave a branch its lowest
    volts.
    """

    volts: list[float]
    amps: list[float]
    total: Steps
    watts: Steps
    collapsed: int | None = None
    history: list[tuple[float, list[float]]] = []
    course: list[tuple[float, list[float]]] = []
    deciding: list[Any] = []

    def dips(self, i: int) -> Steps:
        """Return the lowest volts at the end of one branch in time."""
        if not self.course:
            return [(0.0, self.volts[i])]
        return [(at, volts[i]) for at, volts in self.course]

    def series(self, i: int) -> Steps:
        """Return the amps of one branch in time."""
        if not self.history:
            return [(0.0, self.amps[i])]
        return [(at, amps[i]) for at, amps in self.history]


UNSOLVED = Corner([], [], [(0.0, 0.0)], [(0.0, 0.0)])


class Net:
    """What hangs on one source; solved when it is built.

    ``worst`` has the volts of the low corner and, at every moment, the most amps and watts of all corners. ``stem`` is
    the branch that everything hangs on: the lead moulded to an adapter, or -1 for the source itself. ``group`` is the
    circuit of several nets that it was solved in, where it is not a tree of pairs by itself.
    """

    def __init__(self, root: OutletPoint) -> None:
        self.root = root
        self.branches: list[Branch] = []
        self.stem = -1
        self.starts: list[float] = [0.0]
        self.missing: list[str] = []
        self.group: Any = None
        self.alone: Corner | None = (
            None  #: as nominal, but with the sources off that its own may have to stand in for
        )
        self.nominal: Corner = UNSOLVED
        self.worst: Corner = UNSOLVED

    @property
    def together(self) -> list[Net]:
        """The nets that it was solved with, itself among them."""
        return self.group.nets if self.group else [self]

    @property
    def name(self) -> str:
        """What its source is called."""
        return self.root.name

    @property
    def path(self) -> Any:
        """Where its source stands in the plan."""
        return self.root.path

    @property
    def thing(self) -> Any:
        """The thing its source belongs to."""
        return self.root.thing

    @property
    def spec(self) -> Any:
        """What the plan says of its source."""
        return self.root.spec

    def __str__(self) -> str:
        return self.name


def source_volts(outlet: OutletPoint) -> tuple[float, float, float] | None:
    """Return (nominal, lowest, highest) volts [V] of the source behind an outlet; None where the plan does not say.

    What only hands power on has the volts of what feeds it, whatever is written on it.
    """
    spec: Any = outlet.root.spec
    volts = spec.volts
    if volts is None:
        if spec.low is not None and spec.high is not None:
            volts = (spec.low + spec.high) / 2
        else:
            return None
    spread = spec.spread or 0.0
    low = spec.low if spec.low is not None else volts - abs(volts) * spread
    high = spec.high if spec.high is not None else volts + abs(volts) * spread
    return volts, low, high


def stray_known(outlet: OutletPoint) -> bool:
    """Say whether the plan tells how far the volts of a source may stray."""
    spec: Any = outlet.spec
    return spec.spread is not None or (spec.low is not None and spec.high is not None)


def value_at(steps: Steps, at: float) -> float:
    """Return the value of a series at a moment: that of the last step not after it."""
    value = 0.0
    for start, level in steps:
        if start > at:
            break
        value = level
    return value

"""The start-up played in time, as scenes: what happens when, and what every source gives meanwhile.

A scene is a chain of stretches in which nothing changes; each is solved, so nothing lies between its steps. The scene
``start`` is what the plan says: power comes, delays that something keeps are kept. The scene ``wake`` has every drive
that may sleep start again at once while all else is busy; only a carrier that staggers holds them back. The scene
``all at once`` is the start as it would be if every delay failed.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import Any

import msgspec

from coldcheck.dc.steps import longest_above, peak, spells_above
from coldcheck.engine.rules import working
from coldcheck.plan.kinds import Rate
from coldcheck.plan.model import OutletPoint, Plan
from coldcheck.plan.spans import listed

from .limits import Limit, limit_of
from .net import Branch, Net, Steps, source_volts, value_at
from .power import Loading, Total, _told, settled
from .replay import replayed, solvable
from .starts import Start, lay_out

__all__ = [
    "SCENES", "SPACING", "Breach", "Course", "Event", "Lowest", "Rehearsal", "Scene", "breach", "breach_of",
    "rehearsal", "sagging",
]  # fmt: skip

#: The scenes by the word that asks for each.
SCENES = {"start": "start", "wake": "wake", "all": "all at once"}

#: The spacing that drive makers recommend for several drives on one supply [s] (drive manual, section 4.2).
SPACING = 12.0
#: Less than this is not told as a share [A].
LEAST_TOLD = 0.0005
#: Things with a draw of their own; what others take follows from what hangs on them.
_TAKERS = ("node", "storage", "drive", "switch", "fan", "appliance")


class Breach(msgspec.Struct, frozen=True):
    """A surge beyond what its source gives: ``most`` [A] at ``at`` [s], ``lasting`` [s] above ``limit`` [A].

    ``kind`` is ``high`` (beyond its rating for a short time), ``long`` (longer than that is allowed) or ``unstated``
    (beyond its continuous rating, and none is stated for a short time).
    """

    kind: str
    most: float
    at: float
    lasting: float
    limit: float


def breach(given: Limit, steps: Steps) -> Breach | None:
    """Return the first surge of a series [A] that an outlet does not give; what lasts is judged as its load."""
    short = given.peak
    limit = short.amps if given.amps is None and short is not None else given.amps
    if limit is None or given.beyond or settled(steps) > limit:
        return None
    for start, end, most in spells_above(steps, limit * (1 + 1e-9)):
        lasting = end - start
        inside = short is not None and most <= short.amps * (1 + 1e-9)
        if short is not None and inside and lasting <= (short.seconds or float("inf")) + 1e-9:
            continue
        kind = "unstated" if short is None else "long" if inside else "high"
        return Breach(kind, most, next(at for at, amps in steps if amps == most), lasting, limit)
    return None


def breach_of(outlet: OutletPoint, loading: Loading, plan: Plan) -> Breach | None:
    """Return the first surge that an outlet does not give, by its amps or by its watts at its nominal volts."""
    limit, volts = limit_of(outlet, plan), source_volts(outlet)
    found = None
    if limit.rated is not None or limit.watts is None:
        found = breach(msgspec.structs.replace(limit, amps=limit.rated), loading.amps(outlet))
    if found is None and limit.watts is not None and volts is not None and volts[0] > 0:
        # Watts stay where volts stray, so they are not held against amps of another corner.
        steps = [(at, watts / volts[0]) for at, watts in loading.watts(outlet)]
        found = breach(msgspec.structs.replace(limit, amps=limit.watts / volts[0]), steps)
    return found


class Event(msgspec.Struct, frozen=True):
    """Something that happens: ``at`` [s], ``what`` (``on``, ``waits``, ``off``, ``starts``, ``up``), to whom."""

    at: float
    what: str
    who: tuple[str, ...]
    says: str


class Lowest(msgspec.Struct, frozen=True):
    """The lowest volts at any inlet of a source: ``volts`` [V] at ``inlet`` from ``at`` [s]; it needs ``least`` [V]."""

    volts: float
    inlet: str
    at: float
    least: float | None


class Course(msgspec.Struct):
    """What one source gives in a scene: ``amps`` [A] and ``watts`` [W] in time, in the corner where they are most.

    ``peak`` [A] is reached first at ``at`` [s]; ``story`` says who draws how much then. ``above`` [s] is how long, at
    most, it stays above ``rating`` [A], which it gives without end; ``short`` is what it gives for a time. ``settled``
    [A] is what remains. ``missing`` names the figures without which all this is only a lower bound.
    """

    source: OutletPoint
    amps: Steps
    watts: Steps
    peak: float
    at: float
    story: str
    rating: float | None
    short: Rate | None
    above: float
    settled: float
    lowest: Lowest | None
    missing: list[str]


class Scene:
    """One scene: its nets and what follows from them. ``played`` has the nets it is about, all where None."""

    def __init__(
        self, name: str, plan: Plan, nets: dict[str, Net], starts: dict[str, Start],
        played: dict[str, Net] | None = None,
    ) -> None:  # fmt: skip
        self.name = name
        self.plan = plan
        self.starts = starts
        self.nets = nets if played is None else {**nets, **played}
        self.played = self.nets if played is None else played
        self.loading = Loading(self.nets, {name: net.missing for name, net in self.nets.items()})

    def concerns(self, outlet: OutletPoint) -> bool:
        """Say whether what an outlet gives is played in this scene."""
        return outlet.root.name in self.played

    def breach(self, outlet: OutletPoint) -> Breach | None:
        """Return the first surge that an outlet does not give."""
        return breach_of(outlet, self.loading, self.plan)

    def story(self, outlet: OutletPoint, at: float) -> str:
        """Return who draws how much from an outlet at a moment, largest share first: what draws, not what hands on."""
        net = self.nets.get(outlet.name)
        if net is None or net.root is not outlet or not solvable(net):
            return self.loading.story(outlet, at)
        own = [value_at(net.worst.series(i), at) for i in range(len(net.branches))]
        for i, branch in enumerate(net.branches):
            if branch.parent >= 0 and not branch.is_return:
                own[branch.parent] -= value_at(net.worst.series(i), at)
        pairs = zip(net.branches, own, strict=True)
        return _told([(b.inlet, amps) for b, amps in pairs if amps > LEAST_TOLD and not b.is_return])

    @cached_property
    def courses(self) -> list[Course]:
        """What every feed and rail gives: what feeds others first, else in the order of the plan."""
        place = {thing.id: i for i, thing in enumerate(self.plan.order)}
        nets = sorted(self.played.values(), key=lambda net: place[net.thing.id])
        return [_course(net, self) for net in nets if solvable(net)]

    @cached_property
    def unknown(self) -> list[str]:
        """The sources that cannot be played, since their volts are not given."""
        return [net.name for net in self.played.values() if net.branches and not solvable(net)]

    @cached_property
    def end(self) -> float:
        """When everything has settled [s]."""
        return max((course.amps[-1][0] for course in self.courses), default=0.0)

    @cached_property
    def events(self) -> list[Event]:
        """What happens, in time."""
        return list(_events(self))


def _course(net: Net, scene: Scene) -> Course:
    outlet, amps = net.root, net.worst.total
    at, most = peak(amps)
    limit = limit_of(outlet, scene.plan)
    rating = limit.amps
    above = longest_above(amps, rating * (1 + 1e-9)) if rating is not None else 0.0
    lacks = list(dict.fromkeys(net.missing))
    return Course(
        outlet, amps, net.worst.watts, most, at, scene.story(outlet, at), rating, limit.peak, above,
        amps[-1][1], _lowest(net), lacks,
    )  # fmt: skip


def _lowest(net: Net) -> Lowest | None:
    """Return the lowest volts of a net at what draws; what hangs behind an unknown lead is left out."""
    lacks: list[bool] = []
    best: Lowest | None = None
    for i, branch in enumerate(net.branches):
        above = branch.parent
        lacks.append(bool(branch.ohms.missing) or (above >= 0 and lacks[above]))
        thing: Any = branch.inlet.thing
        if lacks[i] or branch.is_return or thing.table in ("feed", "inline"):
            continue
        at, volts = min(net.worst.dips(i), key=lambda step: step[1])
        if best is None or volts < best.volts:
            window = branch.inlet.spec.volts
            best = Lowest(volts, branch.inlet.name, at, window[0] if window else None)
    return best


def sagging(net: Net) -> Lowest | None:
    """Return the inlet that falls furthest below its window for a while, and not for good; None where none does."""
    best: tuple[float, Lowest] | None = None
    for i, branch in enumerate(net.branches if solvable(net) else ()):
        window = branch.inlet.spec.volts
        if window is None or branch.ohms.missing:
            continue
        dips = net.worst.dips(i)
        at, volts = min(dips, key=lambda step: step[1])
        short = window[0] * (1 - 1e-9) - volts
        if short > 0 and dips[-1][1] >= window[0] * (1 - 1e-9) and (best is None or short > best[0]):
            best = short, Lowest(volts, branch.inlet.name, at, window[0])
    return best[1] if best is not None else None


def _events(scene: Scene) -> Iterator[Event]:
    begun: dict[str, float] = {}
    up: dict[str, float] = {}
    for net in scene.played.values():
        for branch in net.branches:
            thing: Any = branch.inlet.thing
            if thing.table not in _TAKERS:
                continue
            at = branch.at if branch.steps else 0.0
            begun[thing.id] = max(at, begun.get(thing.id, 0.0))
            last = branch.steps[-1][0] if branch.steps else at
            up[thing.id] = max(last, up.get(thing.id, 0.0))
    moments: dict[tuple[float, int, str], list[str]] = {}
    for name in sorted(begun, key=_order(scene)):
        start = scene.starts.get(name)
        for at, what in _moments(begun[name], up[name], start):
            why = f", {start.why}" if start is not None and what in (_WAITS, _OFF) else ""
            moments.setdefault((at, what, why), []).append(name)
    for (at, what, why), names in sorted(moments.items()):
        word, one, many = _WHAT[what]
        yield Event(at, word, tuple(names), f"{listed(names)} {many if len(names) > 1 else one}{why}")


_ON, _WAITS, _OFF, _STARTS, _UP = range(5)
_WHAT = (
    ("on", "is on, with all it draws", "are on, with all they draw"),
    ("waits", "waits", "wait"),
    ("off", "is still off", "are still off"),
    ("starts", "starts", "start"),
    ("up", "is up", "are up"),
)


def _moments(begun: float, up: float, start: Start | None) -> Iterator[tuple[float, int]]:
    if begun > 0:
        yield 0.0, _OFF if start is not None and start.off else _WAITS
    if up > begun:
        yield begun, _STARTS
        yield up, _UP
    else:
        yield begun, _UP if begun > 0 else _ON


def _order(scene: Scene) -> Any:
    from coldcheck.engine.folding import counted

    return lambda name: (scene.starts[name].at if name in scene.starts else 0.0, counted(name))


class Rehearsal:
    """The scenes of a plan, each played when it is first asked for."""

    def __init__(
        self, plan: Plan, nets: dict[str, Net], starts: dict[str, Start], poe: dict[str, Any], totals: list[Total]
    ) -> None:  # fmt: skip
        self.plan, self.nets, self.starts, self.poe, self.totals = plan, nets, starts, poe, totals
        self.effort = 0  #: branches times moments solved in trials of other starts, see `apart`

    @cached_property
    def start(self) -> Scene:
        """The start as the plan says it."""
        late = {name: start for name, start in self.starts.items() if start.at > 0}
        astray = {
            branch.inlet.thing.id
            for net in (self.nets.values() if late else ())
            for branch in net.branches
            if branch.inlet.thing.id in late and not _laid_out(branch, late[branch.inlet.thing.id])
        }
        if not astray:
            return Scene("start", self.plan, self.nets, self.starts)
        changed = self.with_starts({name: late[name] for name in astray})
        return Scene("start", self.plan, {**self.nets, **changed}, self.starts)

    def with_starts(self, starts: dict[str, Start]) -> dict[str, Net]:
        """Return the nets that differ if some things start otherwise; the others start as they do."""
        return replayed(
            self.nets,
            self.poe,
            lambda branch: branch.inlet.thing.id in starts,
            lambda branch: lay_out(branch, starts[branch.inlet.thing.id]),
        )

    @cached_property
    def sleepers(self) -> list[str]:
        """The drives that may stop when idle, and so must start again."""
        return [
            drive.id
            for drive in self.plan.table("drive")
            if drive.motor is not False
            and (drive.sleeps or (drive.sleeps is None and drive.start == "standby"))
        ]

    @cached_property
    def wake(self) -> Scene | None:
        """All drives that may sleep start again while all else is busy; None where none may."""
        if not self.sleepers:
            return None
        starts = {name: self._waking(name) for name in self.sleepers}
        played = replayed(
            self.nets,
            self.poe,
            lambda branch: branch.inlet.thing.id in starts,
            lambda branch: lay_out(branch, starts[branch.inlet.thing.id]),
            _settle,
        )
        return Scene("wake", self.plan, self.nets, starts, played)

    def _waking(self, name: str) -> Start:
        start = self.starts[name]
        holder = self.plan.things.get(start.keeper)
        if start.kept and not start.off and getattr(holder, "staggers", None):
            return start
        return Start(0.0, False, "woken by the first access, and nothing holds it back then")

    @cached_property
    def all_at_once(self) -> Scene | None:
        """The start if every delay failed; None where the plan has no delay that is kept."""
        failed = Start(0.0, False, "its delay fails")
        starts = {name: failed for name, start in self.starts.items() if start.at > 0}
        if not starts:
            return None
        changed = self.with_starts(starts)
        return Scene("all at once", self.plan, {**self.nets, **changed}, {**self.starts, **starts})

    def scene(self, word: str) -> Scene | None:
        """Return a scene by the word that asks for it, of `SCENES`."""
        if word == "all":
            return self.all_at_once
        return self.wake if word == "wake" else self.start


def _laid_out(branch: Branch, start: Start) -> bool:
    """Say whether a branch starts as its start says already."""
    other = branch.again()
    lay_out(other, start)
    return branch.steps == other.steps


def _settle(branch: Branch) -> None:
    """Let a branch draw what remains once everything is up."""
    branch.steps = None
    branch.at = 0.0
    if branch.extra is not None:
        nominal, most = branch.extra
        branch.extra = [(0.0, nominal[-1][1])], [(0.0, most[-1][1])]


@working(reads=("node", "storage", "drive", "switch", "fan", "appliance", "inline", "supply", "feed"))
def rehearsal(
    plan: Plan, nets: dict[str, Net], starts: dict[str, Start], poe_takes: dict[str, Any], totals: list[Total]
) -> Rehearsal:
    """The start-up, the waking, and the start with every delay failed: amps, volts and events in time [s]."""
    return Rehearsal(plan, nets, starts, poe_takes, totals)

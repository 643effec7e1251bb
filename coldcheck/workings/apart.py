"""How far apart drives must start at least, in whole seconds: found by playing the start, one trial after the other."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, floor
from typing import Any

import msgspec

from coldcheck.dc.steps import add
from coldcheck.plan.edit import Put
from coldcheck.plan.model import OutletPoint, Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.quantities import Measure
from coldcheck.plan.spans import listed, spanned

from .limits import limit_of, total_limit
from .net import Net, Steps
from .power import Loading, Total, settled
from .rehearsal import SPACING, Rehearsal, breach_of, sagging
from .starts import Start

__all__ = [
    "MOST_DRIVES",
    "Apart",
    "keepers_of",
    "least_apart",
    "motors_below",
    "spread_out",
    "starts_clean",
    "told",
]

#: More drives than these are not tried out, and no more sizes of group.
MOST_DRIVES, MOST_SIZES = 64, 6
#: Branches times moments that all trials of one plan may solve: past it a lint would take seconds more.
MOST_EFFORT = 200_000


class Apart(msgspec.Struct, frozen=True):
    """Delays that are enough: ``size`` drives at a time, ``seconds`` apart [s]; ``delays`` [s] by the id of the drive.

    ``most`` [A] is what the outlet in question gives at most then.
    """

    size: int
    seconds: int
    delays: dict[str, float]
    most: float

    @property
    def last(self) -> float:
        """When the last group starts [s]."""
        return max(self.delays.values())


def motors_below(rail: OutletPoint) -> list[Any]:
    """Return the drives with a surge that hang on an outlet, directly or through converters, in their order."""
    found: dict[str, Any] = {}
    todo, seen = [rail], set()
    while todo:
        outlet = todo.pop()
        if outlet.name in seen:
            continue
        seen.add(outlet.name)
        for inlet in outlet.takers:
            thing: Any = inlet.thing
            if thing.table == "drive" and thing.motor is not False and getattr(inlet.spec, "surge", None):
                found[thing.id] = thing
            todo += [handed for handed in thing.outlets if handed.via in (None, inlet)]
    return sorted(found.values(), key=lambda drive: drive.path[1:2])


def keepers_of(played: Rehearsal, motors: list[Any]) -> list[Any]:
    """Return the carriers that these drives sit in, if each says that it staggers; else none."""
    holders = {}
    for drive in motors:
        holder = played.plan.things.get(str(drive.bay).partition(".")[0]) if drive.bay else None
        if holder is None or not getattr(holder, "staggers", None) or drive.start == "power":
            return []
        holders[holder.id] = holder
    return list(holders.values())


def spread_out(names: list[str], size: int, seconds: float) -> dict[str, float]:
    """Return the delay [s] of each drive: ``size`` at a time, ``seconds`` apart."""
    return {name: i // size * seconds for i, name in enumerate(names)}


def least_apart(played: Rehearsal, rail: OutletPoint, motors: list[Any]) -> Apart | str | None:
    """Return the delays by which drives below an outlet are up soonest with every limit kept.

    Held are the amps and watts of every outlet that the drives hang on, what shares a limit with those, and the volts
    at every inlet of the nets concerned; not fuses, of which `fuses.start` speaks. What no delay changes, since it is
    so once all are up, is not counted. One second less between the groups breaks a limit. Where none is enough, the
    answer says what breaks even then; it is None where the trials of a plan have taken too much already.
    """
    if played.effort > MOST_EFFORT:
        return None
    names = [drive.id for drive in motors]
    trials = _Trials(played, rail, motors)
    widest = max(int(SPACING), floor(trials.longest) + 1)
    best: Apart | None = None
    for size in _sizes(len(names)):
        groups = ceil(len(names) / size)
        most = widest if best is None else min(widest, ceil(best.last / (groups - 1)) - 1)
        broken = trials.broken(spread_out(names, size, most)) if most > 0 else "takes as long"
        if broken and best is None:
            return broken  # not even one at a time, as far apart as helps
        if not broken:
            seconds = _least(trials, names, size, most)
            delays = spread_out(names, size, seconds)
            best = Apart(size, seconds, delays, trials.most(delays))
    assert best is not None
    return best


def starts_clean(
    played: Rehearsal, rail: OutletPoint, motors: list[Any], delays: dict[str, float] | None = None
) -> bool:
    """Say whether drives below an outlet may start by delays [s] with every limit kept that `least_apart` holds; all
    at once where none are given.
    """
    return not _Trials(played, rail, motors).broken(delays or {drive.id: 0.0 for drive in motors})


def written(plan: Plan, delays: dict[str, float]) -> tuple[Put, ...]:
    """Return the edits that write delays [s], by the id of the drive, and the carrier that keeps each of them.

    None where the plan does not say that a word of its host starts a drive: that is a fact of the drive, which no edit
    makes true. A drive of the same entry that is not delayed starts at once.
    """
    entries: dict[Path, list[Any]] = {}
    for drive in plan.table("drive"):
        entries.setdefault(drive.path, []).append(drive)
    found: list[Put] = []
    for path, drives in entries.items():
        if not any(drive.id in delays for drive in drives):
            continue
        if any(drive.start in (None, "power") or drive.bay is None for drive in drives):
            return ()
        texts = [f"{delays.get(drive.id, 0.0):g} s" for drive in drives]
        holders = [str(drive.bay).partition(".")[0] for drive in drives]
        found.append(Put((*path, "delay"), spanned(texts) or tuple(texts)))
        found.append(Put((*path, "kept_by"), spanned(holders) or tuple(holders)))
    return tuple(found)


def told(offer: Apart, holders: list[Any]) -> str:
    """Return delays in words and as they are written."""
    step, names = f"{offer.seconds} s", listed([holder.id for holder in holders])
    at_a_time = "" if offer.size == 1 else f"{offer.size} at a time, "
    makers = ""
    if offer.seconds < SPACING:
        makers = f" (enough by this plan; drive makers ask for {SPACING:g} s)"
    kept = f'kept_by = "{names}"' if len(holders) == 1 else f"kept_by the one of {names} that holds each"
    return (
        f"start the {len(offer.delays)} drives {at_a_time}{step} apart{makers}, {_delays(offer)}, "
        f'start = "host", {kept}'
    )


def _delays(offer: Apart) -> str:
    """Return delays as they are written: a span, a short list, or group by group."""
    if offer.size == 1:
        return f'delay = "0 s .. {offer.last:g} s by {offer.seconds} s"'
    if len(offer.delays) <= 6:
        return "delay = [" + ", ".join(f'"{at:g} s"' for at in offer.delays.values()) + "]"
    groups: dict[float, list[str]] = {}
    for name, at in offer.delays.items():
        groups.setdefault(at, []).append(name)
    return "delay = " + ", ".join(f'"{at:g} s" for {listed(names)}' for at, names in groups.items())


def _sizes(count: int) -> list[int]:
    """Return the sizes of group worth a trial, each with fewer groups than the one before."""
    sizes: dict[int, int] = {}
    for size in range(1, count):
        sizes.setdefault(ceil(count / size), size)
    return list(sizes.values())[:MOST_SIZES]


def _least(trials: _Trials, names: list[str], size: int, most: int) -> int:
    """Return the fewest seconds that are clean, given that ``most`` are; one less is not."""
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        if trials.broken(spread_out(names, size, middle)):
            low = middle
        else:
            high = middle
    return high


class _Trials:
    """Starts tried out: whether they are clean, and what an outlet gives."""

    def __init__(self, played: Rehearsal, rail: OutletPoint, motors: list[Any]) -> None:
        self.played, self.rail = played, rail
        self.outlets = list(_feeding(motors))
        names = {outlet.name for outlet in self.outlets}
        self.totals = [t for t in played.totals if any(outlet.name in names for outlet in t.outlets)]
        surges = [
            inlet.spec.surge for drive in motors for inlet in drive.inlets if getattr(inlet.spec, "surge", None)
        ]  # fmt: skip
        self.longest = max((sum(s for _, s in surge.steps) for surge in surges), default=0.0)
        self._last: tuple[dict[str, float], Loading, dict[str, Net]] | None = None

    def _play(self, delays: dict[str, float]) -> tuple[Loading, dict[str, Net]]:
        if self._last is None or self._last[0] != delays:
            new = self.played.with_starts({name: Start(at, True, "tried") for name, at in delays.items()})
            self.played.effort += sum(len(net.branches) * len(net.starts) for net in new.values())
            self._last = delays, Loading({**self.played.start.nets, **new}, {}), new
        return self._last[1:]

    def most(self, delays: dict[str, float]) -> float:
        """Return the most that the outlet in question gives [A]."""
        return max(amps for _, amps in self._play(delays)[0].amps(self.rail))

    def broken(self, delays: dict[str, float]) -> str:
        """Say which limit is broken, in words; "" where every one is kept."""
        loading, new = self._play(delays)
        for outlet in self.outlets:
            plan = self.played.plan
            steps, limit = loading.amps(outlet), limit_of(outlet, plan)
            if breach_of(outlet, loading, plan) is not None or _lasts(steps, limit.amps, self._free(outlet)):
                return f"asks {outlet} for {Measure(max(a for _, a in steps), 'A')}"
        for total in self.totals:
            if self._beyond(total, loading):
                return f"asks all outlets of {total} for more than its limit"
        return next((told for net in new.values() if (told := _dips(net))), "")

    def _free(self, outlet: OutletPoint) -> float:
        return self.played.plan.head.reserve if outlet.via is None else 0.0

    def _beyond(self, total: Total, loading: Loading) -> bool:
        most = total_limit(total, self.played.plan)
        for limit, of in ((most.watts, loading.watts), (most.rated, loading.amps)):
            steps = add([of(outlet) for outlet in total.outlets]) if limit is not None else []
            if not steps or limit is None or steps[-1][1] > limit:
                continue
            over = max(value for _, value in steps) > limit * (1 + 1e-9)
            if over or _lasts(steps, limit, self.played.plan.head.reserve):
                return True
        return False


def _lasts(steps: Steps, limit: float | None, free: float) -> bool:
    """Say whether a row of surges becomes a lasting load beyond a limit, or beyond what is to stay free of it.

    What is beyond once all is up no delay changes: then only what it does not reach already counts.
    """
    if limit is None:
        return False
    last, lasting = steps[-1][1], settled(steps)
    return any(last <= most * (1 + 1e-9) < lasting for most in (limit * (1 - free), limit))


def _feeding(motors: list[Any]) -> Iterator[OutletPoint]:
    """Yield every outlet on the way of power to some drives."""
    todo, seen = list(motors), set()
    while todo:
        for inlet in todo.pop().inlets:
            outlet = inlet.source
            if outlet is not None and outlet.name not in seen:
                seen.add(outlet.name)
                yield outlet
                todo.append(outlet.thing)


def _dips(net: Net) -> str:
    """Say in words which inlet falls below its window for a while; "" where none does."""
    sag = sagging(net)
    return f"leaves {sag.inlet} with {Measure(round(sag.volts, 3), 'V')}" if sag is not None else ""

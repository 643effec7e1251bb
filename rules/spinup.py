"""Spin-up: the surge of motors that start together stays inside what each rail and feed gives for that long."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from typing import Any

from coldcheck import Case, Finding, Measure, Review, cases, rule
from coldcheck.dc.steps import add, spells_above
from coldcheck.plan.model import OutletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.power import Loading, Net, Total, settled, source_volts
from coldcheck.workings.starts import KEEPERS, Start

#: The spacing that drive makers recommend for several drives on one supply [s] (drive manual, section 4.2).
SPACING = 12.0


@rule(level="error", over="rails")
def rail_peak(rail: OutletPoint, plan: Plan, loading: Loading, starts: dict[str, Start]) -> Iterator[Finding]:
    """A surge stays within what its source gives for a time, and lasts no longer than that.

    A 3.5 in drive draws two to four times its running current for some ten seconds, all drives at once unless
    something holds them back; a delay counts only where something keeps it. Beyond the peak rating, or longer than its
    time, is an error. Above the continuous rating of a source that states no peak rating, it is a warning: many
    supplies bear it, some latch off.

    Formula: sum of the amps in every stretch between two starts.

    Source: 3.5 in server drive manual, table 4 (2.03 A mean, 2.59 A instantaneous on 12 V); a wide-input supply manual
    (peaks up to 60 s).
    """
    limit, peak = _continuous(rail), rail.spec.peak
    if limit is None and peak is not None:
        limit = peak.amps
    if limit is None or not rail.takers:
        return
    steps = loading.amps(rail)
    if settled(steps) > limit:
        return  # it lasts: rails.overload judges it
    for start, end, most in spells_above(steps, limit * (1 + 1e-9)):
        lasting = end - start
        inside = peak is not None and most <= peak.amps * (1 + 1e-9)
        if peak is not None and inside and lasting <= (peak.seconds or float("inf")) + 1e-9:
            continue
        at = _moment(steps, most)
        found, allowed = Measure(most, "A"), Measure(limit, "A")
        says = "that is its limit, and the plan states none for a short time"
        if peak is not None and inside:
            found, allowed = Measure(round(lasting, 3), "s"), Measure(peak.seconds or 0.0, "s")
            says = f"it gives more for {allowed} at most"
        elif peak is not None:
            allowed = Measure(peak.amps, "A")
            says = f"{allowed} is its limit for a short time"
        yield Finding(
            "warning" if peak is None else "error",
            rail,
            f"{rail.noun} {rail} is asked for {Measure(most, 'A')} at {Measure(round(at, 3), 's')}, and for more than "
            f"{Measure(limit, 'A')} during {Measure(round(lasting, 3), 's')}; {says}",
            found=found,
            allowed=allowed,
            because=_because(rail, loading, starts, at),
            remedy=_remedy(rail, loading, plan, limit)
            + ("" if peak is not None else '; or add peak = "... A for ... s" if its sheet states one'),
            place=("peak", "amps", "watts", "part"),
        )
        return


def _continuous(rail: OutletPoint) -> float | None:
    """Return what an outlet gives without end [A]: its amps, or its watts at nominal volts, whichever is less."""
    limits = [rail.spec.amps] if rail.spec.amps is not None else []
    if rail.spec.watts is not None and (volts := source_volts(rail)):
        limits.append(rail.spec.watts / volts[0])
    return min(limits, default=None)


def _moment(steps: list[tuple[float, float]], most: float) -> float:
    return next(at for at, amps in steps if amps == most)


def _because(rail: OutletPoint, loading: Loading, starts: dict[str, Start], at: float) -> str:
    story = loading.story(rail, at)
    net = loading.nets.get(rail.name)
    whys: dict[str, list[str]] = {}
    for branch in net.branches if net is not None else ():
        start = starts.get(branch.inlet.thing.id)
        if start is not None and branch.draw.surge:
            whys.setdefault(start.why, []).append(branch.inlet.thing.id)
    return "; ".join([story, *(f"{listed(names)}: {why}" for why, names in whys.items())])


def _motors(net: Net) -> list[Any]:
    return [b for b in net.branches if b.draw.surge and b.inlet.thing.table == "drive"]


def _remedy(rail: OutletPoint, loading: Loading, plan: Plan, limit: float) -> str:
    """Say what staggering would do, and by what; a delay is never written by itself, since hardware must keep it."""
    net = loading.nets.get(rail.name)
    motors = _motors(net) if net is not None else []
    larger = "choose a supply that gives more for that long"
    if net is None or len(motors) < 2:
        return f"start fewer things at once, or {larger}"
    longest = max(sum(s for _, s in b.draw.surge) for b in motors)
    spacing = max(SPACING, ceil(longest))
    peak = rail.spec.peak
    if peak is not None and longest <= (peak.seconds or float("inf")):
        limit = peak.amps
    volts = source_volts(net.root)
    amps = [(_amps(b, max(v for v, _ in b.draw.surge), volts), _amps(b, b.draw.value, volts)) for b in motors]
    base = net.worst.total[-1][1] - sum(settled for _, settled in amps)
    single = base + max(surge - settled for surge, settled in amps) + sum(settled for _, settled in amps)
    if single > limit:
        long = (
            f" for {Measure(longest, 's')}"
            if peak is not None and longest > (peak.seconds or longest)
            else ""
        )
        return f"even one at a time asks for {Measure(single, 'A')}{long}: {larger}"
    keeper = _keeper(plan, motors)
    how = f'start = "host", kept_by = "{keeper}"' if keeper else "by something that holds them back"
    last = spacing * (len(motors) - 1)
    return (
        f'start the {len(motors)} drives {spacing:g} s apart, delay = "0 s .. {last:g} s by {spacing:g} s", {how}: '
        f"then {Measure(single, 'A')} at most"
    )


def _amps(branch: Any, value: float, volts: tuple[float, float, float] | None) -> float:
    return value / volts[1] if branch.draw.unit == "W" and volts else value


def _keeper(plan: Plan, motors: list[Any]) -> str:
    """Return the carrier that can hold these drives back, if there is one and its part says so."""
    holders = {str(b.inlet.thing.bay).partition(".")[0] for b in motors if b.inlet.thing.bay}
    if len(holders) != 1:
        return ""
    holder = plan.things.get(holders.pop())
    return holder.id if holder is not None and getattr(holder, "staggers", None) else ""


_DISKS = """
[[feed]]
id = "bank"
volts = "24 V"
[[supply]]
id = "disks"
from = "bank"
[[supply.rail]]
id = "12v"
volts = "12 V"
amps = "8 A"
{peak}
[[storage]]
id = "store"
from = "disks.12v"
volts = "11.4 V .. 12.6 V"
peak = "0.4 A"
load = "current"
bays = 4
staggers = true
lead = "0 ohm"
[[storage.inlet]]
id = "12v"
[[drive]]
id = "d1 .. d4"
bay = "store.1 .. store.4"
{start}
[[drive.inlet]]
id = "12v"
volts = "11.4 V .. 12.6 V"
surge = "2.0 A for 10 s"
peak = "0.8 A"
waiting = "0.02 A"
"""
_APART = 'start = "host"\nkept_by = "store"\ndelay = "0 s .. 36 s by 12 s"'
_UNKEPT = 'delay = "0 s .. 36 s by 12 s"'
_FEED_OF_DISKS = (
    _DISKS.format(peak="", start="").replace(
        'volts = "24 V"', 'volts = "24 V"\namps = "3.6 A"\nplug = "soldered"'
    )
    + '[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
).replace('from = "bank"', 'from = "bank"\nefficiency = "100 %"\nplug = "soldered"\nlead = "0 ohm"')

cases(
    rail_peak,
    clean=[
        _DISKS.format(peak="", start=_APART),
        _DISKS.format(peak='peak = "9 A for 15 s"', start='start = "power"'),
    ],
    flagged=[
        # four starts of 2.0 A and the carrier's 0.4 A are 8.4 A
        Case(
            _DISKS.format(peak="", start=_UNKEPT),
            at="disks.12v",
            found="8.4 A",
            level="warning",
            mended=_DISKS.format(peak="", start=_APART),
        ),
        Case(
            _DISKS.format(peak='peak = "8.2 A for 15 s"', start=""),
            at="disks.12v",
            found="8.4 A",
            level="error",
        ),
        Case(
            _DISKS.format(peak='peak = "9 A for 5 s"', start=""), at="disks.12v", found="10 s", level="error"
        ),
        # drives ten seconds apart: two steps of ten seconds are one spell of twenty above 8 A
        Case(
            _DISKS.format(
                peak='peak = "9.5 A for 15 s"', start=_APART.replace("12 s", "10 s").replace("36 s", "30 s")
            ).replace('peak = "0.4 A"', 'peak = "4.79 A"'),
            at="disks.12v",
            found="20 s",
            level="error",
        ),
        # no amps but watts: 60 W at 12 V are 5 A
        Case(
            _DISKS.format(peak="", start="").replace('amps = "8 A"', 'watts = "60 W"'),
            at="disks.12v",
            found="8.4 A",
        ),
        # the feed sees the surge through the converter: 8.4 A × 12 V / 24 V
        Case(_FEED_OF_DISKS, at="bank", found="4.2 A", level="warning"),
    ],
)


@rule(level="warning", over="totals")
def together_peak(total: Total, loading: Loading) -> Iterator[Finding]:
    """The surge of all outlets that share a limit stays within it.

    No plan states a peak rating for a group, so a short surge above it is a warning: look it up.
    """
    checks = (
        (total.watts, "W", [loading.watts(o) for o in total.outlets]),
        (total.amps, "A", [loading.amps(o) for o in total.outlets]),
    )
    for limit, unit, series in checks:
        steps = add(series)
        if limit is None or not steps or settled(steps) > limit:
            continue  # what lasts is judged by rails.together
        most = max(value for _, value in steps)
        if most <= limit * (1 + 1e-9):
            continue
        yield Finding(
            "warning",
            total,
            f"{listed([o.name for o in total.outlets])} together are asked for {Measure(most, unit)} at "
            f"{Measure(round(_moment(steps, most), 3), 's')}; {Measure(limit, unit)} is the limit of {total}",
            found=Measure(most, unit),
            allowed=Measure(limit, unit),
            remedy="let fewer things start at the same time, or choose a supply whose sheet allows this peak",
            place=("watts" if unit == "W" else "amps", "part"),
        )


_TOTAL = _DISKS.replace('from = "bank"', 'from = "bank"\nwatts = "{watts}"', 1)

cases(
    together_peak,
    clean=[_TOTAL.format(peak="", start="", watts="101 W")],
    flagged=[Case(_TOTAL.format(peak="", start="", watts="100 W"), at="disks", found="100.8 W")],
)


@rule(level="warning", over="drive")
def unkept_delay(drive: Any, starts: dict[str, Start]) -> Iterator[Finding]:
    """A delay is written only where something keeps it.

    A drive whose power pin 11 is tied low starts with power, whatever a plan says; a delay needs a host, a carrier or a
    switched rail that holds the drive back.

    Source: SATA power connector, pin 11 (staggered spin-up).
    """
    start = starts.get(drive.id)
    if start is None or not drive.delay or start.kept or (drive.kept_by and drive.start != "power"):
        return  # what is wrong with a keeper, spinup.keeper tells
    yield Finding(
        "warning",
        drive,
        f"a delay is written for {drive.id}, but "
        + ("power alone starts it" if drive.start == "power" else "nothing holds it back"),
        remedy='say what keeps the delay: start = "host" and kept_by = "...", or take the delay out',
        place=("delay", "kept_by"),
    )


cases(
    unkept_delay,
    clean=[_DISKS.format(peak="", start=_APART)],
    flagged=[
        Case(_DISKS.format(peak="", start=_UNKEPT), at="d4", mended=_DISKS.format(peak="", start=_APART)),
        Case(_DISKS.format(peak="", start=_APART.replace("host", "power")), at="d4"),
    ],
)


@rule(level="error", over="drive")
def keeper(drive: Any, plan: Plan) -> Iterator[Finding]:
    """What is to hold a drive back can do so.

    A passive backplane hands power on; it holds nothing back.
    """
    if not drive.kept_by:
        return
    name = drive.kept_by.partition(".")[0]
    thing = plan.things.get(name)
    if thing is None:
        says, remedy = f"nothing is called {name}", "name the carrier or host that keeps the delay"
    elif thing is drive or getattr(thing, "table", "") not in KEEPERS:
        says, remedy = f"{name} cannot hold a drive back", "name its host, its carrier or a switched rail"
    elif getattr(thing, "staggers", None) is False:
        says = f"{name} cannot hold drives back"
        remedy = "choose a carrier that staggers, or plan for all drives starting at once"
    elif getattr(thing, "staggers", None) is None:
        told = f", then add staggers = true to {name}" if thing.table == "storage" else ""
        yield Review(
            drive,
            f"{drive.id} is held back by {name}: make sure that {name} can do it{told}",
            place="kept_by",
        )
        return
    else:
        return
    related = [(thing, f"{name} is here")] if thing is not None and thing is not drive else []
    yield Finding(
        "error",
        drive,
        f"{drive.id} is held back by {name}, but {says}",
        remedy=remedy,
        place="kept_by",
        related=related,
    )


_HELD = _DISKS.format(peak="", start=_APART)

cases(
    keeper,
    clean=[_HELD],
    flagged=[
        Case(_HELD.replace('kept_by = "store"', 'kept_by = "stor"'), at="stor", level="error"),
        Case(_HELD.replace("staggers = true", "staggers = false"), at="store", level="error"),
        Case(_HELD.replace('kept_by = "store"', 'kept_by = "bank"'), at="bank", level="error"),
        Case(_HELD.replace('kept_by = "store"', 'kept_by = "d1"'), at="d1", level="error"),
        Case(_HELD.replace("staggers = true\n", ""), at="store", kind="review"),
    ],
)

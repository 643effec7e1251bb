"""Spin-up: the surge of what starts together stays inside what each rail and feed gives for that long."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Review, cases, rule
from coldcheck.dc.steps import add, peak
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import OutletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.choices import most_lost, way_told
from coldcheck.workings.limits import limit_of, total_limit
from coldcheck.workings.power import Arrival, Total, settled
from coldcheck.workings.rehearsal import SPACING, Breach, Rehearsal, Scene, sagging
from coldcheck.workings.starts import KEEPERS, Start, can_keep


@rule(level="error", over="rails")
def rail_peak(rail: OutletPoint, rehearsal: Rehearsal) -> Iterator[Finding]:
    """A surge stays within what its source gives for a time, and lasts no longer than that.

    A 3.5 in drive draws two to four times its running current for some ten seconds, all drives at once unless
    something holds them back; a delay counts only where something keeps it. Beyond the peak rating, or longer than its
    time, is an error. Above the continuous rating of a source that states no peak rating, it is a warning: many
    supplies bear it, some latch off. The delay that is offered is the least, in whole seconds, by which amps,
    watts and volts all stay in their limits (fuses have rules of their own); makers of drives ask for 12 s.

    Formula: sum of the amps in every stretch between two starts.

    Source: 3.5 in server drive manual, table 4 (2.03 A mean, 2.59 A instantaneous on 12 V); a wide-input supply manual
    (peaks up to 60 s); drive manual, section 4.2 (12 s between starts).
    """
    if not rail.takers:
        return
    found = rehearsal.start.breach(rail)
    if found is not None:
        yield _told(rail, found, rehearsal.start, "is asked for", _remedy(rail, rehearsal))


def _told(
    rail: OutletPoint, it: Breach, scene: Scene, asked: str, cure: tuple[str, tuple[Edit, ...]]
) -> Finding:
    """Return the finding of a surge that is too high or too long; ``cure`` is what to do, in words and as edits."""
    remedy, edits = cure
    limit = limit_of(rail, scene.plan)
    short = limit.peak
    found, allowed = Measure(it.most, "A"), Measure(it.limit, "A")
    says = "that is its limit, and the plan states none for a short time"
    if it.kind == "long" and short is not None:
        found, allowed = Measure(round(it.lasting, 3), "s"), Measure(short.seconds or 0.0, "s")
        says = f"it gives more for {allowed} at most"
    elif it.kind == "high" and short is not None:
        allowed = Measure(short.amps, "A")
        says = f"{allowed} is its limit for a short time"
    return Finding(
        "warning" if it.kind == "unstated" else "error",
        rail,
        f"{rail.noun} {rail} {asked} {Measure(it.most, 'A')} at {Measure(round(it.at, 3), 's')}, and for more than "
        f"{Measure(it.limit, 'A')} during {Measure(round(it.lasting, 3), 's')}; {says}",
        found=found,
        allowed=allowed,
        because=_because(rail, scene, it.at) + (f"; {limit.how}" if limit.share < 1 else ""),
        remedy=remedy
        + ('; or add peak = "... A for ... s" if its sheet states one' if it.kind == "unstated" else ""),
        edits=edits,
        place=("peak", "amps", "watts", "part"),
    )


def _because(rail: OutletPoint, scene: Scene, at: float) -> str:
    from coldcheck.workings.apart import motors_below

    net = scene.nets.get(rail.name)
    names = [b.inlet.thing.id for b in net.branches if b.draw.surge] if net is not None else []
    whys: dict[str, list[str]] = {}
    for name in dict.fromkeys([*names, *(drive.id for drive in motors_below(rail))]):
        start = scene.starts.get(name)
        if start is not None:
            whys.setdefault(start.why, []).append(name)
    return "; ".join([scene.story(rail, at), *(f"{listed(who)}: {why}" for why, who in whys.items())])


_LARGER = "choose a supply that gives more for that long"


def _remedy(rail: OutletPoint, rehearsal: Rehearsal) -> tuple[str, tuple[Edit, ...]]:
    """Say what staggering would do, and by what; a delay is written by itself only where hardware keeps it."""
    from coldcheck.workings.apart import (
        MOST_DRIVES,
        Apart,
        keepers_of,
        least_apart,
        motors_below,
        told,
        written,
    )

    motors = motors_below(rail)
    offer = least_apart(rehearsal, rail, motors) if 2 <= len(motors) <= MOST_DRIVES else None
    holders = keepers_of(rehearsal, motors)
    if isinstance(offer, Apart) and holders:
        says = f"{told(offer, holders)}: then {Measure(offer.most, 'A')} at most"
        return says, written(rehearsal.plan, offer.delays)
    return _otherwise(motors, offer), ()


def _otherwise(motors: list[Any], offer: Any) -> str:
    """Say what to do where no carrier can hold the drives apart, or where that would not be enough."""
    from coldcheck.workings.apart import MOST_DRIVES

    if len(motors) < 2:
        return f"start fewer things at once, or {_LARGER}"
    if len(motors) > MOST_DRIVES:
        return f"spread the {len(motors)} drives over several supplies, or {_LARGER}"
    if offer is None:
        return f"start the {len(motors)} drives {SPACING:g} s apart, as drive makers ask, or {_LARGER}; " + (
            "less was not tried, since too much hangs together here"
        )
    if isinstance(offer, str):
        return f"even one at a time {offer}: {_LARGER}"
    return f"sit the drives in a carrier that holds them back (its part says staggers = true), or {_LARGER}"


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
#: A board that may keep delays; it draws nothing here.
_BOARD = '[[node]]\nid = "n1"\nfrom = "disks.12v"\npeak = "0 A"\n'
_SOLDERED = '[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
_UNKEPT = 'delay = "0 s .. 36 s by 12 s"'
_FEED_OF_DISKS = (
    _DISKS.format(peak="", start="").replace(
        'volts = "24 V"', 'volts = "24 V"\namps = "3.6 A"\nplug = "soldered"'
    )
    + _SOLDERED
).replace('from = "bank"', 'from = "bank"\nefficiency = "100 %"\nplug = "soldered"\nlead = "0 ohm"')

_WATTS = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "f"
volts = "{volts}"
low = "{low}"
high = "{volts}"
watts = "100 W"
plug = "soldered"
[[node]]
id = "n"
from = "f"
plug = "soldered"
lead = "0 ohm"
peak = "{peak}"
surge = "{surge} for 10 s"
"""

cases(
    rail_peak,
    clean=[
        # 95 W are 4.5 A at the lowest volts, and 95 W all the same
        _WATTS.format(volts="24 V", low="21 V", peak="20 W", surge="95 W"),
        _DISKS.format(peak="", start=_APART),
        _DISKS.format(peak='peak = "9 A for 15 s"', start='start = "power"'),
    ],
    flagged=[
        # the load stays in its watts and passes their amps at the lowest volts; the surge passes both
        Case(_WATTS.format(volts="12.8 V", low="10 V", peak="79 W", surge="500 W"), at="f", level="warning"),
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
        # what is offered: two at a time, ten seconds apart
        Case(
            _DISKS.format(peak="", start='start = "host"'),
            at="disks.12v",
            found="8.4 A",
            mended=_DISKS.format(
                peak="", start='start = "host"\nkept_by = "store"\ndelay = ["0 s", "0 s", "10 s", "10 s"]'
            ),
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


_AWAKE = _DISKS.replace("[[drive.inlet]]", "sleeps = true\n[[drive.inlet]]")


@rule(level="error", over="rails")
def wake(rail: OutletPoint, rehearsal: Rehearsal) -> Iterator[Finding]:
    """Drives that may sleep can all wake at once while everything else is busy.

    A drive that wakes takes as much as in a cold start, and a first access after a quiet night wakes all of them
    together. The delays of the start do not help, unless a carrier that staggers keeps them at each start of a motor.
    It is judged as the start is, and told only where the start itself passes.

    Source: 3.5 in server drive manuals (2.43 to 2.59 A on 12 V when waking from standby, as much as a cold start).
    """
    scene = rehearsal.wake
    if scene is None or not rail.takers or not scene.concerns(rail):
        return
    if rehearsal.start.breach(rail) is not None:
        return
    asleep = _asleep([rail], rehearsal)
    remedy = (
        "do not let the drives stop when idle (sleeps = false), let a carrier hold them back one by one each time "
        f"(staggers = true), or {_LARGER}"
    )
    found = scene.breach(rail)
    if found is not None:
        asked = f"starts well, but when {asleep} wake together it is asked for"
        yield _told(rail, found, scene, asked, (remedy, ()))
    elif rail.name in scene.played and sagging(rehearsal.start.nets[rail.name]) is None:
        yield from _sags(rail, scene, asleep)


def _asleep(outlets: list[OutletPoint], rehearsal: Rehearsal) -> str:
    """Return the sleeping drives that hang on some outlets; where none does, others share a wire back: all of them."""
    from coldcheck.workings.apart import motors_below

    sleepers = set(rehearsal.sleepers)
    below = [drive.id for outlet in outlets for drive in motors_below(outlet) if drive.id in sleepers]
    return listed(dict.fromkeys(below or rehearsal.sleepers))


def _sags(rail: OutletPoint, scene: Scene, asleep: str) -> Iterator[Finding]:
    """Yield the inlet that gets too few volts while drives wake."""
    net = scene.played[rail.name]
    sag = sagging(net)
    if sag is None or sag.least is None:
        return
    i = next(i for i, branch in enumerate(net.branches) if branch.inlet.name == sag.inlet)
    arrival = Arrival(net.branches[i].inlet, net, i, None, "")
    found, least = Measure(round(sag.volts, 3), "V"), Measure(sag.least, "V")
    yield Finding(
        "error",
        rail,
        f"{rail.noun} {rail} starts well, but when {asleep} wake together only {found} arrives at {sag.inlet}; "
        f"at least {least} is needed",
        found=found,
        allowed=least,
        because=f"{_because(rail, scene, sag.at)}; {way_told(arrival)}",
        remedy="do not let the drives stop when idle (sleeps = false), let a carrier hold them back one by one each "
        f"time (staggers = true), or use a thicker lead for {most_lost(arrival).thing.id}",
        place=("volts", "part"),
    )


#: Four drives of 2 A that wake together, with one wire back for all; a board keeps their delays at the start.
_SHARED = (
    """
[[feed]]
id = "f"
volts = "12 V"
spread = "0 %"
amps = "8 A"
plug = "soldered"
[[inline]]
id = "gnd"
what = "return"
from = "f"
plug = "soldered"
lead = "{lead}"
[[node]]
id = "n1"
from = "f"
plug = "soldered"
peak = "0 A"
lead = "0 ohm"
[[drive]]
id = "d1 .. d4"
from = "f"
back = "gnd"
plug = "soldered"
volts = "11.4 V .. 12.6 V"
surge = "2.0 A for 10 s"
peak = "0.8 A"
waiting = "0.02 A"
lead = "0 ohm"
start = "host"
kept_by = "n1"
delay = "0 s .. 36 s by 12 s"
sleeps = true
"""
    + _SOLDERED
)

_SLEEPY = _AWAKE.format(peak="", start=_APART)

cases(
    wake,
    clean=[
        _SLEEPY,  # the carrier holds them back each time
        _AWAKE.format(peak='peak = "9 A for 15 s"', start=""),
        _DISKS.format(peak="", start=_UNKEPT),  # they never sleep, and the start itself is told by rail_peak
        _AWAKE.format(peak="", start=""),
        # woken by their host, and a rail of 2.4 A more
        _AWAKE.format(peak="", start='start = "standby"').replace('amps = "8 A"', 'amps = "8.4 A"'),
    ],
    flagged=[
        # a board keeps the delays of the start and no others: four starts of 2.0 A and the carrier's 0.4 A
        Case(
            _BOARD + _AWAKE.format(peak="", start=_APART.replace("store", "n1")),
            at="disks.12v",
            found="8.4 A",
            level="warning",
            mended=_SLEEPY,
        ),
        Case(
            _BOARD + _AWAKE.format(peak='peak = "8.2 A for 15 s"', start=_APART.replace("store", "n1")),
            at="disks.12v",
            found="8.4 A",
            level="error",
            mended=_BOARD
            + _DISKS.format(peak='peak = "8.2 A for 15 s"', start=_APART.replace("store", "n1")),
        ),
        # drives that only their host wakes sleep until then, unless the plan says that they do not
        Case(
            _BOARD + _DISKS.format(peak="", start=_APART.replace("store", "n1").replace("host", "standby")),
            at="disks.12v",
            found="8.4 A",
            mended=_BOARD
            + _DISKS.format(
                peak="", start=_APART.replace("store", "n1").replace("host", "standby") + "\nsleeps = false"
            ),
        ),
        # the feed sees the waking through the converter: 8.4 A × 12 V / 24 V
        Case(
            _BOARD
            + _FEED_OF_DISKS.replace(
                "[[drive.inlet]]", _APART.replace("store", "n1") + "\nsleeps = true\n[[drive.inlet]]"
            ),
            at="bank",
            found="4.2 A",
            level="warning",
        ),
        # 8.4 A through 80 mohm lose 0.672 V of 12 V, where 11.4 V are needed
        Case(
            _BOARD
            + _AWAKE.format(peak='peak = "9 A for 15 s"', start=_APART.replace("store", "n1"))
            .replace('lead = "0 ohm"', 'lead = "80 mohm"\nplug = "soldered"')
            .replace('id = "12v"\nvolts', 'id = "12v"\nplug = "soldered"\nvolts', 1)
            .replace("[[drive.inlet]]", '[[drive.inlet]]\nplug = "soldered"')
            + _SOLDERED,
            at="store.12v",
            found="11.328 V",
            level="error",
        ),
        # 8 A lift the shared ground by 0.64 V where the wire back is of 80 mohm
        Case(_SHARED.format(lead="80 mohm"), at="f", found="11.36 V", mended=_SHARED.format(lead="70 mohm")),
    ],
)


@rule(level="warning", over="totals")
def together_peak(total: Total, rehearsal: Rehearsal) -> Iterator[Finding]:
    """The surge of all outlets that share a limit stays within it, at the start and when drives wake.

    No plan states a peak rating for a group, so a short surge above it is a warning: look it up.
    """
    scenes = [(rehearsal.start, "")]
    if rehearsal.wake is not None and any(rehearsal.wake.concerns(o) for o in total.outlets):
        scenes.append((rehearsal.wake, f" when {_asleep(total.outlets, rehearsal)} wake together"))
    for scene, when in scenes:
        found = list(_surges(total, scene, when))
        yield from found
        if found:
            return


def _surges(total: Total, scene: Scene, when: str) -> Iterator[Finding]:
    loading, given = scene.loading, total_limit(total, scene.plan)
    checks = (
        (given.watts, "W", [loading.watts(o) for o in total.outlets]),
        (given.rated, "A", [loading.amps(o) for o in total.outlets]),
    )
    for limit, unit, series in checks:
        steps = add(series)
        if limit is None or given.beyond or not steps or settled(steps) > limit:
            continue  # what lasts is judged by rails.together
        at, most = peak(steps)
        if most <= limit * (1 + 1e-9):
            continue
        yield Finding(
            "warning",
            total,
            f"{listed([o.name for o in total.outlets])} together are asked for {Measure(most, unit)} at "
            f"{Measure(round(at, 3), 's')}{when}; {Measure(limit, unit)} is the limit of {total}",
            found=Measure(most, unit),
            allowed=Measure(limit, unit),
            remedy="let fewer things start at the same time, or choose a supply whose sheet allows this peak",
            place=("watts" if unit == "W" else "amps", "part"),
        )


_TOTAL = _DISKS.replace('from = "bank"', 'from = "bank"\nwatts = "{watts}"', 1)

cases(
    together_peak,
    clean=[_TOTAL.format(peak="", start="", watts="101 W")],
    flagged=[
        Case(_TOTAL.format(peak="", start="", watts="100 W"), at="disks", found="100.8 W"),
        Case(
            _BOARD
            + _TOTAL.replace("[[drive.inlet]]", "sleeps = true\n[[drive.inlet]]").format(
                peak="", start=_APART.replace("store", "n1"), watts="100 W"
            ),
            at="disks",
            found="100.8 W",
        ),
    ],
)


@rule(level="warning", over="delayed")
def unkept_delay(thing: Any, starts: dict[str, Start]) -> Iterator[Finding]:
    """A delay is written only where something keeps it.

    A drive whose power pin 11 is tied low starts with power, whatever a plan says, and so does a board. A delay needs a
    host, a carrier or a board manager that gives the word, or a rail that is switched on later.

    Source: SATA power connector, pin 11 (staggered spin-up).
    """
    start = starts.get(thing.id)
    by_power = getattr(thing, "start", None) == "power"
    if start is None or not thing.delay or start.kept or (thing.kept_by and not by_power):
        return  # what is wrong with a keeper, spinup.keeper tells
    if thing.table == "drive":
        remedy = 'say what keeps the delay: start = "host" and kept_by = "...", or take the delay out'
    else:
        remedy = (
            'say what keeps the delay: kept_by = "...", a board manager or a switched rail, or take it out'
        )
    yield Finding(
        "warning",
        thing,
        f"a delay is written for {thing.id}, but "
        + ("power alone starts it" if by_power else "nothing holds it back"),
        remedy=remedy,
        place=("delay", "kept_by"),
    )


_LATE_BOARD = """
[[feed]]
id = "f"
volts = "5 V"
[[inline]]
id = "relay"
what = "switch"
from = "f"
[[fan]]
id = "fan"
from = "f"
[[node]]
id = "n1"
from = "relay"
peak = "1 A"
delay = "5 s"
kept_by = "{}"
"""

cases(
    unkept_delay,
    clean=[_DISKS.format(peak="", start=_APART)],
    flagged=[
        Case(_DISKS.format(peak="", start=_UNKEPT), at="d4", mended=_DISKS.format(peak="", start=_APART)),
        Case(_DISKS.format(peak="", start=_APART.replace("host", "power")), at="d4"),
        Case(
            _LATE_BOARD.format("relay").replace('kept_by = "relay"\n', ""),
            at="n1",
            mended=_LATE_BOARD.format("relay"),
        ),
    ],
)


@rule(level="error", over="delayed")
def keeper(thing: Any, plan: Plan) -> Iterator[Finding]:
    """What is to hold a thing back can do so.

    A passive backplane hands power on; it holds nothing back. A rail or an in-line switch holds back only what hangs on
    it, and a fuse nothing.
    """
    if not thing.kept_by:
        return
    name = thing.kept_by.partition(".")[0]
    holder = plan.things.get(name)
    told = _unable(thing, holder, name)
    if told is not None:
        yield Finding(
            "error",
            thing,
            f"{thing.id} is held back by {name}, but {told[0]}",
            remedy=told[1],
            place="kept_by",
            related=[(holder, f"{name} is here")] if holder is not None and holder is not thing else [],
        )
    elif getattr(holder, "staggers", None) is None:
        more = f", then add staggers = true to {name}" if getattr(holder, "table", "") == "storage" else ""
        yield Review(
            thing,
            f"{thing.id} is held back by {name}: make sure that {name} can do it{more}",
            place="kept_by",
        )


def _unable(thing: Any, holder: Any, name: str) -> tuple[str, str] | None:
    """Return why something cannot hold a thing back and what to do; None where it may."""
    if can_keep(holder, thing):
        return None
    table = getattr(holder, "table", "")
    whose = "its host, its carrier" if thing.table == "drive" else "its manager"
    if holder is None:
        return f"nothing is called {name}", f"name what keeps the delay: {whose} or a switched rail"
    if holder is thing or table not in KEEPERS:
        return f"{name} cannot hold a {thing.table} back", f"name {whose} or a switched rail"
    if getattr(holder, "staggers", None) is False:
        remedy = "choose a carrier that staggers, or plan for all drives starting at once"
        return f"{name} cannot hold drives back", remedy
    if table == "inline" and holder.what not in (None, "switch"):
        return (
            f"a {holder.what} lets power through at once",
            "put a switch there, or name what switches it on",
        )
    return f"{name} does not feed it", f"name the rail or switch that {thing.id} hangs on, or {whose}"


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
        # what takes power away must be on the way of power
        Case(_LATE_BOARD.format("relay").replace('from = "relay"', 'from = "f"'), at="relay", level="error"),
        Case(_LATE_BOARD.format("relay").replace('"switch"', '"fuse"'), at="relay", level="error"),
        Case(_LATE_BOARD.format("fan"), at="fan", level="error"),
        Case(_LATE_BOARD.format("n1"), at="n1", level="error"),
        Case(_LATE_BOARD.format("relay"), at="relay", kind="review"),  # it can, if something works it
    ],
)

"""Supplies: how warm converters and mains supplies may get, what a pass-through hands on, sources side by side."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.plan.model import OutletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.limits import limit_of, share_of, total_limit
from coldcheck.workings.meetings import Meeting, Side
from coldcheck.workings.power import Loading, Total, settled, source_volts
from coldcheck.workings.warmth import Warmth

#: Sources whose volts differ by more than this are not meant to work side by side.
UNLIKE = 1.1

#: Less than this flows through the leads of every meter and counts as nothing [A].
NOTHING = 1e-3


@rule(level="error", over="plan")
def ambient(plan: Plan) -> Iterator[Finding]:
    """A supply is used in no warmer air than its sheet gives a rating for.

    Beyond the last point of its derating nothing is published: it may shut down, or age in weeks. Between the points
    it gives less, and `rails.overload` counts with that.

    Source: output derating note of an enclosed supply (100 % to 50 degC, 60 % at 60 degC, nothing above).
    """
    air = plan.head.ambient
    for thing in (*plan.table("feed"), *plan.table("supply")):
        share = share_of(thing, air)
        if share or not any(outlet.takers for outlet in thing.outlets):
            continue
        last, least = thing.derating.points[-1]
        cooler = (
            f"{'below' if least == 0 else 'at'} {Measure(last, 'degC')}{'' if least == 0 else ' at most'}"
        )
        yield Finding(
            "error",
            thing,
            f"{thing.id} stands in air of {Measure(air, 'degC')}; its sheet gives nothing for that",
            found=Measure(air, "degC"),
            allowed=Measure(last, "degC"),
            because=f"{Measure(100 * least, '%')} of its rating is left at {Measure(last, 'degC')}",
            remedy=f"keep the air around it {cooler}, or choose one that is made for more",
            place=("derating", "part"),
        )


_AIR = """
[plan]
ambient = "{air}"
[[feed]]
id = "brick"
volts = "12 V"
watts = "150 W"
derating = "100 % at 50 degC, {last}"
[[node]]
id = "n1"
from = "brick"
peak = "10 W"
"""

cases(
    ambient,
    clean=[
        _AIR.format(air="60 degC", last="60 % at 60 degC"),
        _AIR.format(air="61 degC", last="60 % at 60 degC").replace('from = "brick"', ""),
    ],
    flagged=[
        Case(
            _AIR.format(air="60.5 degC", last="60 % at 60 degC"),
            at="brick",
            found="60.5 degC",
            level="error",
            mended=_AIR.format(air="60 degC", last="60 % at 60 degC"),
        ),
        Case(_AIR.format(air="70 degC", last="0 % at 70 degC"), at="brick"),
        Case(_AIR.format(air="75 degC", last="0 % at 70 degC"), at="brick"),
    ],
)


@rule(level="error", over="supply")
def heat(supply: Any, plan: Plan, warmth: dict[str, Warmth]) -> Iterator[Finding]:
    """The hottest piece of a converter stays below the temperature it may have, at the most it gives for good.

    What a converter does not hand on stays in it as heat. A small module is sold by the amps of its circuit, and gives
    them only with a heat sink. A result far beyond the limit says that it cannot run so, not how hot it gets: it shuts
    down, or lets go. A start of less than a minute is left out, since warming takes minutes.

    Formula: heat = watts out × (1 / efficiency - 1) + standing; temperature = ambient + heat × kelvin per watt.

    Source: conservation of energy; data sheet of a 3 A step-down circuit (12 V to 5 V 3 A at 80 %: 3.75 W, 188 K at
    50 K/W, 75 K at 20 K/W); note on an overheating one (18 V to 5 V 1 A at 75 %: 1.67 W, 108 K at 65 K/W).
    """
    if supply.hottest is None and supply.warms is None and supply.warms_with_sink is None:
        return
    if not any(outlet.takers and outlet.is_source for outlet in supply.outlets):
        return
    warm, air, sunk = warmth[supply.id], plan.head.ambient, bool(supply.sink)
    rise = warm.rise(sunk)
    if rise is not None and supply.hottest is not None and air + rise > supply.hottest * (1 + 1e-9):
        yield _too_hot(supply, warm, air)
        return
    lacking = [f"{supply.id} hottest"] if supply.hottest is None else []
    lacking += [f"{supply.id} {'warms_with_sink' if sunk else 'warms'}"] if rise is None else []
    lacking += warm.missing
    if lacking:
        yield Open(
            "warning",
            supply,
            f"how hot {supply.id} gets is not known: {_heat_told(warm)} in it",
            missing=lacking,
            found=Measure(warm.heat, "W"),
            remedy='add hottest = "125 degC", warms = "50 K/W" and its efficiency from its sheet; or run it under load '
            "and measure",
            place=("hottest", "warms", "part"),
        )


def _heat_told(warm: Warmth) -> str:
    return f"{'at least ' if warm.least else ''}{Measure(warm.heat, 'W')} of heat"


def _warm(degrees: float) -> Measure:
    return Measure(round(degrees, 1), "degC")


def _too_hot(supply: Any, warm: Warmth, air: float) -> Finding:
    ways = [
        f"{word} it warms by {Measure(round(rise, 1), 'K')} to {_warm(air + rise)}"
        for word, rise in (("bare", warm.bare), ("with a heat sink", warm.sunk))
        if rise is not None
    ]
    rise = warm.rise(bool(supply.sink))
    assert rise is not None
    hottest = Measure(supply.hottest, "degC")
    # What it takes standing stays; the rest of its heat goes with what it gives.
    standing = supply.standing or 0.0
    room = warm.heat * max(0.0, supply.hottest - air) / rise - standing
    most = Measure(warm.given * max(0.0, room) / max(warm.heat - standing, 1e-9), "W")
    bigger = (
        f"take a converter of more efficiency or with a cooler case, or ask no more than about {most} of it"
    )
    if not supply.sink and warm.sunk is not None and air + warm.sunk <= supply.hottest:
        remedy = f"put a heat sink on it and say so: sink = true; or {bigger}"
    elif not supply.sink and warm.sunk is not None:
        remedy = f"a heat sink alone is not enough: {bigger}"
    else:
        remedy = bigger
    return Finding(
        "error",
        supply,
        f"{supply.id} would reach {_warm(air + rise)}; its hottest piece may have {hottest}",
        found=_warm(air + rise),
        allowed=hottest,
        because=f"{_heat_told(warm)} for {Measure(warm.given, 'W')} given; {', '.join(ways)}",
        remedy=remedy,
        place=("hottest", "warms", "part"),
    )


_MODULE = """
[plan]
ambient = "25 degC"
[[feed]]
id = "b"
volts = "{volts}"
[[supply]]
id = "s"
from = "b"
{efficiency}
hottest = "125 degC"
{warms}
[[supply.rail]]
id = "5v"
volts = "5 V"
[[node]]
id = "n"
from = "s"
peak = "{amps}"
load = "current"
"""
_BARE = 'warms = "50 K/W"\nwarms_with_sink = "20 K/W"'
_EIGHTY = 'efficiency = "80 %"'

cases(
    heat,
    clean=[
        _MODULE.format(volts="12 V", efficiency=_EIGHTY, warms=_BARE + "\nsink = true", amps="3 A"),
        # 5 V × 1.6 A × 0.25 = 2 W: 100 K above 25 degC are just 125 degC
        _MODULE.format(volts="12 V", efficiency=_EIGHTY, warms=_BARE, amps="1.6 A"),
        _MODULE.format(volts="12 V", efficiency=_EIGHTY, warms="", amps="3 A").replace(
            'hottest = "125 degC"', ""
        ),
    ],
    flagged=[
        # E17: 3.75 W, 187.5 K bare
        Case(
            _MODULE.format(volts="12 V", efficiency=_EIGHTY, warms=_BARE, amps="3 A"),
            at="s",
            found="212.5 degC",
            level="error",
            mended=_MODULE.format(
                volts="12 V", efficiency=_EIGHTY, warms=_BARE + "\nsink = true", amps="3 A"
            ),
        ),
        # E16: 18 V to 5 V 1 A at 75 %, 65 K/W: 108.3 K
        Case(
            _MODULE.format(
                volts="18 V", efficiency='efficiency = "75 %"', warms='warms = "65 K/W"', amps="1 A"
            ),
            at="s",
            found="133.3 degC",
        ),
        Case(
            _MODULE.format(volts="12 V", efficiency=_EIGHTY, warms=_BARE, amps="1.61 A"), found="125.6 degC"
        ),
        # standing draw is heat too
        Case(
            _MODULE.format(
                volts="12 V", efficiency=_EIGHTY + '\nstanding = "0.5 W"', warms=_BARE, amps="1.6 A"
            ),
            found="150 degC",
        ),
        # the curve counts at its load: 90 % at 1 A, 70 % at 3 A, so 80 % at 2 A: 2.5 W
        Case(
            _MODULE.format(
                volts="12 V", efficiency='efficiency = "90 % at 1 A, 70 % at 3 A"', warms=_BARE, amps="2 A"
            ),
            found="150 degC",
        ),
        Case(_MODULE.format(volts="12 V", efficiency=_EIGHTY, warms="", amps="3 A"), at="s", kind="open"),
        Case(_MODULE.format(volts="12 V", efficiency="", warms=_BARE, amps="3 A"), at="s", kind="open"),
        Case(
            _MODULE.format(
                volts="12 V", efficiency=_EIGHTY, warms='warms = "50 K/W"\nsink = true', amps="1 A"
            ),
            at="s",
            kind="open",
        ),
        Case(
            _MODULE.format(volts="12 V", efficiency=_EIGHTY, warms=_BARE, amps="3 A").replace(
                'hottest = "125 degC"', ""
            ),
            at="s",
            kind="open",
        ),
    ],
)


@rule(level="warning", over="rails")
def passes_on(rail: OutletPoint) -> Iterator[Finding]:
    """A rail that only hands its input on claims no steadier volts than those of the input.

    The 12 V of a converter board for 12 V alone are its input behind a switch: on a battery they are 10 V to 14.6 V,
    whatever is printed beside the connector. What hangs there must stand the whole range of the input, and is judged
    by that.

    Source: articles on such boards: 5 V and 3.3 V are converted, 12 V is the input behind a MOSFET switch.
    """
    volts = source_volts(rail)
    if rail.via is None or rail.handed_on or rail.via.source is None or volts is None:
        return
    said = _said(rail)
    if said is None or (said[0] <= volts[1] + _hair(volts) and said[1] >= volts[2] - _hair(volts)):
        return
    least, most = Measure(round(volts[1], 3), "V"), Measure(round(volts[2], 3), "V")
    claimed = f"{Measure(round(said[0], 3), 'V')} .. {Measure(round(said[1], 3), 'V')}"
    yield Finding(
        "warning",
        rail,
        f"{rail} is said to give {claimed}, but hands on what comes in: {least} .. {most} of {rail.root}",
        found=claimed,
        allowed=f"{least} .. {most}",
        because=f"it is a pass-through of {rail.via}; nothing in it regulates",
        remedy='take spread, low and high out; or, if its sheet says that it regulates, kind = "regulated"',
        place=("spread", "low", "high", "kind"),
    )


def _said(rail: OutletPoint) -> tuple[float, float] | None:
    """Return the lowest and highest volts that an outlet claims by itself [V]; None where it claims no range."""
    spec: Any = rail.spec
    if spec.low is None and spec.high is None and spec.spread is None:
        return None
    middle = spec.volts if spec.volts is not None else (source_volts(rail) or (0.0,))[0]
    stray = abs(middle) * (spec.spread or 0.0)
    return (
        spec.low if spec.low is not None else middle - stray,
        spec.high if spec.high is not None else middle + stray,
    )


def _hair(volts: tuple[float, float, float]) -> float:
    return 1e-6 * abs(volts[0])


_THROUGH = """
[[feed]]
id = "bank"
volts = "12.8 V"
low = "10 V"
high = "14.6 V"
[[supply]]
id = "s"
from = "bank"
[[supply.rail]]
id = "12v"
volts = "12 V"
kind = "pass-through"
{said}
[[node]]
id = "n"
from = "s"
peak = "1 A"
"""

cases(
    passes_on,
    clean=[
        _THROUGH.format(said=""),
        _THROUGH.format(said='low = "10 V"\nhigh = "14.6 V"'),
        _THROUGH.format(said='spread = "5 %"').replace("pass-through", "regulated"),
    ],
    flagged=[
        Case(
            _THROUGH.format(said='spread = "5 %"'),
            at="s.12v",
            found="11.4 V .. 12.6 V",
            mended=_THROUGH.format(said=""),
        ),
        Case(_THROUGH.format(said='low = "10.1 V"\nhigh = "14.6 V"'), at="s.12v"),
        Case(_THROUGH.format(said='low = "10 V"\nhigh = "14.5 V"'), at="s.12v"),
    ],
)


@rule(level="note", over="rails")
def efficiency_curve(rail: OutletPoint, loading: Loading) -> Iterator[Finding]:
    """The load of a converter lies within the points that its efficiency is stated at.

    Beyond the last point nothing is published; the last one is used, and the true figure is lower as a rule.

    Source: common practice.
    """
    efficiency = getattr(rail.spec, "efficiency", None) or getattr(rail.thing, "efficiency", None)
    volts, net = source_volts(rail), loading.nets.get(rail.name)
    if rail.thing.table != "supply" or not rail.is_source or efficiency is None or not efficiency.unit:
        return
    if volts is None or volts[0] <= 0 or net is None or not net.worst.volts:
        return
    last, share = efficiency.points[-1]
    watts = settled(net.worst.watts)
    load = watts / volts[0] if efficiency.unit == "A" else watts
    if load <= last * (1 + 1e-9):
        return
    yield Finding(
        "note",
        rail,
        f"{rail} gives {Measure(load, efficiency.unit)}, but its efficiency is stated up to "
        f"{Measure(last, efficiency.unit)}: computed with the last, {Measure(100 * share, '%')}",
        found=Measure(load, efficiency.unit),
        allowed=Measure(last, efficiency.unit),
        because="heat and input current may be more",
        remedy="add a point for this load from its sheet",
        place=("efficiency", "part"),
    )


_CURVE = _MODULE.replace('hottest = "125 degC"', "")

cases(
    efficiency_curve,
    clean=[
        _CURVE.format(
            volts="12 V", efficiency='efficiency = "90 % at 1 A, 80 % at 3 A"', warms="", amps="3 A"
        ),
        _CURVE.format(
            volts="12 V", efficiency='efficiency = "90 % at 5 W, 80 % at 15 W"', warms="", amps="3 A"
        ),
        _CURVE.format(volts="12 V", efficiency=_EIGHTY, warms="", amps="30 A"),
    ],
    flagged=[
        Case(
            _CURVE.format(
                volts="12 V", efficiency='efficiency = "90 % at 1 A, 80 % at 3 A"', warms="", amps="3.1 A"
            ),
            at="s.5v",
            found="3.1 A",
            level="note",
        ),
        Case(
            _CURVE.format(
                volts="12 V", efficiency='efficiency = "90 % at 5 W, 80 % at 15 W"', warms="", amps="3.1 A"
            ),
            at="s.5v",
            found="15.5 W",
        ),
    ],
)


@rule(level="error", over="meetings")
def side_by_side(meeting: Meeting, plan: Plan, totals: list[Total]) -> Iterator[Finding]:
    """Two sources feed one thing only where something keeps them apart, or where both are made to share.

    No two supplies give the same volts. The higher one carries the load until it can give no more, and the lower one
    gives nothing, or is fed backwards: 5 % tolerance means that one takes all. Diodes keep them apart, so that either
    may carry all. Supplies that are made to share do so by a wire between them or a slope of their volts.

    Formula: nodal analysis with the lowest and highest volts of each, and the resistance of each up to where they meet.

    Source: common practice.
    """
    if meeting.whole is None:
        # A lead or a figure is not known, and told as open; that 12 V must not meet 5 V is known without.
        yield from _unlike(meeting)
        return
    most = {side.net.name: _gives(side, plan, totals) for side in meeting.sides}
    if meeting.kept:
        yield _kept_apart(meeting)
    elif meeting.shared:
        yield from _together(meeting, most, plan)
    elif meeting.lacking:
        yield _not_known(meeting, most)
    else:
        yield _unkept(meeting, most)


def _unlike(meeting: Meeting) -> Iterator[Finding]:
    """Tell of sources of different volts that meet with nothing in between, however they would share."""
    ranges = [(volts, side) for side in meeting.sides if (volts := source_volts(side.net.root))]
    least = min(ranges, key=lambda pair: pair[0][2], default=None)
    most = max(ranges, key=lambda pair: pair[0][1], default=None)
    if meeting.kept or least is None or most is None or most[0][1] <= least[0][2] * UNLIKE:
        return
    yield Finding(
        "error",
        meeting.thing,
        f"{Measure(most[0][0], 'V')} from {most[1].net} and {Measure(least[0][0], 'V')} from {least[1].net} meet in "
        f"{meeting.thing.id}, and nothing keeps them apart",
        found=Measure(most[0][0], "V"),
        allowed=Measure(least[0][0], "V"),
        because=f"{most[1].net} pushes current into {least[1].net}",
        remedy="feed it from one of them; two sources in parallel have the same volts, or a diode in the lead of each",
        place=("use", "from"),
    )


def _gives(side: Side, plan: Plan, totals: list[Total]) -> float | None:
    """Return the most a source may give for good, by itself and by what its thing gives in all [A]."""
    root = side.net.root
    limits = [limit_of(root, plan), *(total_limit(t, plan, root) for t in totals if root in t.outlets)]
    return min((limit.amps for limit in limits if limit.amps is not None), default=None)


def _names(meeting: Meeting) -> str:
    return listed([side.net.name for side in meeting.sides])


def _share(side: Side) -> str:
    ordinary, most = (Measure(round(amps, 4) + 0.0, "A") for amps in (side.ordinary, side.most))
    return f"{side.net} gives {ordinary}, at most {most}"


def _kept_apart(meeting: Meeting) -> Finding:
    first = max(meeting.sides, key=lambda side: side.ordinary)
    carries = f"; {first.net} carries {Measure(first.ordinary, 'A')} of it when all is as it should be"
    shares = "; ".join(map(_share, meeting.sides))
    return Finding(
        "note",
        meeting.thing,
        f"{_names(meeting)} feed {meeting.thing.id}, kept apart{carries}",
        because=shares,
        remedy="each is judged by the most it may have to carry; try each one alone on the bench",
        place=("use", "from"),
    )


def _together(meeting: Meeting, most: dict[str, float | None], plan: Plan) -> Iterator[Finding]:
    limits = [limit for limit in most.values() if limit is not None]
    whole, room = meeting.whole or 0.0, sum(limits)
    reserved = room * (1 - plan.head.reserve)
    if len(limits) < len(most) or whole <= reserved * (1 + 1e-9):
        return
    beyond = whole > room * (1 + 1e-9)
    yield Finding(
        "error" if beyond else "warning",
        meeting.thing,
        f"{_names(meeting)} share {Measure(whole, 'A')}; together they give {Measure(room, 'A')}"
        + ("" if beyond else f", and {plan.head.reserve * 100:g} % of it is to stay free"),
        found=Measure(whole, "A"),
        allowed=Measure(room if beyond else reserved, "A"),
        remedy="add a source that shares, or take load off",
        place=("from",),
    )


_APART = "put a diode in the lead of each, feed part of the load from one alone, or take sources that are made to share"


def _not_known(meeting: Meeting, most: dict[str, float | None]) -> Finding:
    whole = meeting.whole or 0.0
    small = [name for name, limit in most.items() if limit is not None and whole > limit * (1 + 1e-9)]
    alone = f"; {listed(small)} cannot carry it alone" if small else ""
    return Open(
        "error" if small else "warning",
        meeting.thing,
        f"{_names(meeting)} feed {meeting.thing.id} side by side, and how they share {Measure(whole, 'A')} is not known"
        f"{alone}",
        missing=meeting.lacking,
        found=Measure(whole, "A"),
        because="5 % tolerance means that one takes all; nothing says that they are made to share",
        remedy=f'{_APART}; state ohms = "..." of each to have the shares computed',
        place=("from",),
    )


def _unkept(meeting: Meeting, most: dict[str, float | None]) -> Finding:
    over = [
        side
        for side in meeting.sides
        if (limit := most[side.net.name]) is not None and side.most > limit * (1 + 1e-9)
    ]
    into = [side for side in meeting.sides if side.least < -NOTHING and not side.kept]
    told: list[str] = []
    found: Measure | None = None
    allowed: Measure | None = None
    for side in over:
        its = Measure(most[side.net.name] or 0.0, "A")
        told.append(f"{side.net} is asked for {Measure(side.most, 'A')} of {its}")
        found, allowed = found or Measure(side.most, "A"), allowed or its
    for side in into:
        told.append(f"{Measure(-side.least, 'A')} flows into {side.net}")
        found, allowed = found or Measure(-side.least, "A"), allowed or Measure(0.0, "A")
    if not told:
        worst = max(meeting.sides, key=lambda side: side.most)
        told = [f"{worst.net} may carry {Measure(worst.most, 'A')} of {Measure(meeting.whole or 0.0, 'A')}"]
        found = Measure(worst.most, "A")
    return Finding(
        "error" if over or into else "warning",
        meeting.thing,
        f"{_names(meeting)} feed {meeting.thing.id} side by side: {', and '.join(told)} in the worst case",
        found=found,
        allowed=allowed,
        because="; ".join(map(_share, meeting.sides)),
        remedy=_APART,
        place=("from",),
    )


_PAIR = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "a"
volts = "{a}"
spread = "0 %"
amps = "{amps}"
plug = "soldered"
{own}
[[feed]]
id = "b"
volts = "5 V"
spread = "0 %"
amps = "{amps}"
plug = "soldered"
{own}
[[inline]]
id = "bar"
what = "run"
from = ["a", "b"]
plug = "soldered"
lead = "70 mohm"
[[node]]
id = "n1"
from = "bar"
plug = "soldered"
lead = "0 ohm"
peak = "4 A"
load = "current"
"""
_KNOWN = 'ohms = "0 ohm"'
_SHARING = "shares = true"
_DIODES = _PAIR.format(a="5.2 V", amps="5 A", own="").replace(
    'from = ["a", "b"]', 'from = ["d1", "d2"]'
) + "".join(
    f'[[inline]]\nid = "d{i}"\nwhat = "diode"\ndrop = "0.3 V"\nfrom = "{source}"\n'
    'plug = "soldered"\nlead = "0 ohm"\n'
    for i, source in ((1, "a"), (2, "b"))
)
_TWO_INLETS = """
[[feed]]
id = "f1 .. f2"
volts = "12 V"
amps = "5 A"
[[node]]
id = "n1"
from = ["f1", "f2"]
lead = "20 mohm"
use = "{use}"
[[node.inlet]]
id = "one"
peak = "3 A"
[[node.inlet]]
id = "two"
"""

cases(
    side_by_side,
    clean=[
        _PAIR.format(a="5.2 V", amps="2.5 A", own=_SHARING),  # 4 A of 5 A, 20 % to stay free
        _PAIR.format(a="5.2 V", amps="5 A", own="").replace('from = ["a", "b"]', 'from = ["b", "b"]'),
        _TWO_INLETS.format(use="one"),
        _TWO_INLETS.format(use="shared").replace('lead = "20 mohm"', ""),  # volts.lead_unknown
    ],
    flagged=[
        # 0.2 V over twice 70 mohm: 2 A + 1.429 A and 2 A - 1.429 A
        Case(_PAIR.format(a="5.2 V", amps="5 A", own=_KNOWN), at="bar", found="3.429 A", level="warning"),
        Case(
            _PAIR.format(a="5.2 V", amps="3.4 A", own=_KNOWN),
            at="a is asked for",
            found="3.429 A",
            level="error",
        ),
        # 0.35 V: 2 A - 2.5 A
        Case(
            _PAIR.format(a="5.35 V", amps="5 A", own=_KNOWN), at="flows into b", found="0.5 A", level="error"
        ),
        Case(_PAIR.format(a="5.2 V", amps="5 A", own=""), at="bar", kind="open"),
        Case(_PAIR.format(a="5.2 V", amps="3 A", own=""), at="cannot carry it alone", kind="open"),
        Case(_PAIR.format(a="5.2 V", amps="2.4 A", own=_SHARING), at="bar", found="4 A", level="warning"),
        Case(_PAIR.format(a="5.2 V", amps="1.9 A", own=_SHARING), at="bar", found="4 A", level="error"),
        Case(_DIODES, at="a carries 3.429 A", level="note"),
        Case(
            _DIODES.replace("5.2 V", "6 V").replace('drop = "0.3 V"', 'ohms = "1 mohm"'),
            at="a carries 4 A",
            level="note",
        ),
        Case(_TWO_INLETS.format(use="shared"), at="n1", kind="open"),
        # leads not known, volts known to be unlike
        Case(
            '[[feed]]\nid = "a"\nvolts = "5 V"\n[[feed]]\nid = "b"\nvolts = "12 V"\n'
            '[[inline]]\nid = "bar"\nwhat = "splitter"\nfrom = ["a", "b"]\n',
            at="bar",
            found="12 V",
            level="error",
        ),
        Case(_TWO_INLETS.format(use="or-ed"), at="n1", level="note"),
    ],
)

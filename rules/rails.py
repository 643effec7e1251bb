"""Rails: every feed, rail and outlet carries what hangs on it, one by one and all together."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.dc.steps import add
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Taker
from coldcheck.workings.limits import Limit, limit_of, total_limit, warmest_for
from coldcheck.workings.meetings import Meeting
from coldcheck.workings.power import Loading, Net, Total, settled, source_volts


@rule(level="error", over="rails")
def overload(rail: OutletPoint, plan: Plan, loading: Loading, meetings: list[Meeting]) -> Iterator[Finding]:
    """What an outlet gives without end stays within its rating where it stands, less the reserve of the plan.

    Every thing is taken at its peak at once, since nothing in a plan keeps boards from being busy together; a drive
    past its start counts with what it draws when it seeks. Beyond the rating is an error. Between the rating less the
    reserve and the rating is a warning: ratings hold at the bench, with a cool supply and full mains. In warm air a
    supply gives less, as its derating says.

    Formula: sum of the amps of all that hangs on the outlet, at the volts that arrive there; rating × share that its
    derating leaves at the ambient of the plan, straight between published points.

    Source: conservation of charge; the reserve is common practice (screw terminals, for instance, are chosen at 150 %
    of the expected current); output derating note of an enclosed supply (100 % to 50 degC, 60 % at 60 degC).
    """
    limit = limit_of(rail, plan)
    if not rail.takers or limit.beyond or _shares(rail, meetings):
        return  # air too warm, and sources side by side, are told by the rules of supplies
    reserve = plan.head.reserve if rail.via is None else 0.0  # what only hands power on is no source
    pairs = (
        (settled(loading.amps(rail)), limit.rated, rail.spec.amps, "A"),
        (settled(loading.watts(rail)), limit.watts, rail.spec.watts, "W"),
    )
    for asked, most, rating, unit in pairs:
        if most is None or asked <= most * (1 - reserve) * (1 + 1e-9):
            continue
        beyond = asked > most * (1 + 1e-9)
        found, allowed = Measure(asked, unit), Measure(most, unit)
        if beyond:
            says = f"{rail.noun} {rail} is asked for {found}; {allowed} is its limit"
        else:
            share = round(100 * (1 - asked / most))
            left = f"{share} % is left, {_percent(plan)} is wanted"
            says = f"{rail.noun} {rail} is asked for {found} of {allowed}: {left}"
        derated = _derated(rating or 0.0, limit, unit, plan)
        yield Finding(
            "error" if beyond else "warning",
            rail,
            says,
            found=found,
            allowed=allowed if beyond else Measure(most * (1 - reserve), unit),
            because="; ".join(filter(None, (derated, loading.story(rail, float("inf"))))),
            remedy=_relief(rail, asked, most, unit, reserve, limit),
            place=("amps" if unit == "A" else "watts", "part"),
        )
        return


def _shares(rail: OutletPoint, meetings: list[Meeting]) -> bool:
    """Say whether an outlet gives side by side with another source that nothing keeps apart from it."""
    return any(side.net.root is rail for m in meetings if not m.kept for side in m.sides)


def _derated(rating: float, limit: Limit, unit: str, plan: Plan) -> str:
    if limit.share == 1:
        return ""
    share, air = Measure(100 * limit.share, "%"), Measure(plan.head.ambient, "degC")
    return f"of {Measure(rating, unit)}, {share} is left at {air}"


def _relief(rail: OutletPoint, asked: float, most: float, unit: str, reserve: float, limit: Limit) -> str:
    """Return what would bring an outlet within its limit: less on it, a larger one, or cooler air."""
    larger = f"give it at least {_next(asked / limit.share, reserve, unit)}"
    room = most * (1 - reserve)
    curve = getattr(rail.thing, "derating", None)
    cool = warmest_for(curve, asked * limit.share / room) if curve is not None and room > 0 else None
    if cool is not None:
        larger += f", or keep the air around it at {Measure(cool // 0.1 * 0.1, 'degC')} at most"
    if len(rail.takers) > 1:
        return f"move {Measure(asked - room, unit)} to another {rail.noun}, or {larger}"
    taker = rail.takers[0].thing
    what = f"what hangs on {taker.id}" if taker.outlets else taker.id
    return f"{what} alone is too much for it: {larger}, or feed it from elsewhere"


def _percent(plan: Plan) -> str:
    return f"{plan.head.reserve * 100:g} %"


def _next(asked: float, reserve: float, unit: str) -> str:
    """Return the rating that would do, with the reserve, rounded up to a tenth."""
    needed = asked / (1 - reserve) if reserve < 1 else asked
    return str(Measure(-(-needed // 0.1) * 0.1, unit))


_FIVE = """
[plan]
reserve = "20 %"
[[feed]]
id = "bank"
volts = "24 V"
amps = "20 A"
[[supply]]
id = "five"
from = "bank"
efficiency = "90 %"
[[supply.rail]]
id = "5v"
volts = "5 V"
amps = "{amps}"
[[node]]
id = "n1 .. n6"
from = "five.5v"
lead = "0 ohm"
volts = "4.75 V .. 5.25 V"
peak = "1.25 A"
load = "current"
"""
_SOLDERED = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
"""
_SIDE_BY_SIDE = """
[[feed]]
id = "a"
volts = "5.4 V"
{amps}
[[feed]]
id = "b"
volts = "5 V"
{amps}
[[inline]]
id = "bar"
what = "run"
from = ["a", "b"]
lead = "10 mohm"
[[node]]
id = "n1"
from = "bar"
lead = "0 ohm"
peak = "4 A"
load = "current"
"""
_WARM = (
    _SOLDERED
    + """
[plan]
ambient = "{air}"
reserve = "10 %"
[[feed]]
id = "brick"
volts = "12 V"
watts = "150 W"
plug = "soldered"
derating = "100 % at 50 degC, 60 % at 60 degC"
[[node]]
id = "n1"
from = "brick"
plug = "soldered"
lead = "0 ohm"
peak = "{asked}"
"""
)

cases(
    overload,
    clean=[
        _WARM.format(air="55 degC", asked="108 W"),  # 90 % of the 120 W that are left
        _WARM.format(air="20 degC", asked="135 W"),
        _WARM.format(air="60.1 degC", asked="140 W"),  # supplies.ambient tells
        _SIDE_BY_SIDE.format(amps='amps = "3 A"'),  # supplies.side_by_side tells
        _FIVE.format(amps="9.375 A"),  # 6 × 1.25 A = 7.5 A is exactly 80 %
        '[[feed]]\nid = "brick"\nvolts = "5 V"\nwatts = "20 W"\n[[node]]\nid = "n1"\nfrom = "brick"\npeak = "3 A"\n'
        'lead = "0 ohm"',
    ],
    flagged=[
        Case(_FIVE.format(amps="9 A"), at="five.5v", level="warning", mended=_FIVE.format(amps="9.4 A")),
        Case(_FIVE.format(amps="7 A"), at="five.5v", level="error", found="7.5 A"),
        Case(
            _SOLDERED + '[[feed]]\nid = "brick"\nvolts = "5 V"\namps = "3 A"\nplug = "soldered"\n'
            '[[node]]\nid = "n1"\nfrom = "brick"\npeak = "16 W"\nlead = "0 ohm"\nplug = "soldered"\n',
            at="brick",
            found="3.2 A",
        ),
        # a converter asks its feed for its own loss too: 7.5 A × 5 V / 0.9 / 24 V = 1.736 A
        Case(
            _SOLDERED
            + _FIVE.format(amps="25 A")
            .replace('amps = "20 A"', 'amps = "1.7 A"\nplug = "soldered"')
            .replace('efficiency = "90 %"', 'efficiency = "90 %"\nplug = "soldered"\nlead = "0 ohm"'),
            at="bank",
            found="1.736 A",
            level="error",
        ),
        # E27: 100 % at 50 degC and 60 % at 60 degC leave 120 W of 150 W at 55 degC
        Case(_WARM.format(air="55 degC", asked="121 W"), at="120 W", found="121 W", level="error"),
        Case(_WARM.format(air="55 degC", asked="120 W"), at="brick", level="warning"),
        Case(_WARM.format(air="60 degC", asked="91 W"), at="90 W is its limit", level="error"),
        Case(
            _WARM.format(air="55 degC", asked="121 W").replace('watts = "150 W"', 'amps = "12.5 A"'),
            at="10 A is its limit",
            found="10.083 A",
            mended=_WARM.format(air="50 degC", asked="121 W")
            .replace('watts = "150 W"', 'amps = "12.5 A"')
            .replace('"20 %"', '"0 %"')
            .replace('"10 %"', '"0 %"'),
        ),
    ],
)


@rule(level="error", over="totals")
def together(total: Total, plan: Plan, loading: Loading, meetings: list[Meeting]) -> Iterator[Finding]:
    """Outlets that share a limit stay within it together where they stand, less the reserve of the plan.

    Each rail of a supply may be inside its own limit while all together are beyond what the supply can give. In warm
    air it gives less, as its derating says. A rail below zero counts with what is drawn on it, at its nominal volts.

    Formula: sum over the outlets of volts × amps, or of amps.

    Source: combined limits of two wide-input supplies for boards (manuals): rails of 63.6 W on paper, 63 W allowed;
    543 W on paper, 500 W allowed.
    """
    reserve = 1 - plan.head.reserve
    whole = total_limit(total, plan)
    if whole.beyond or any(_shares(outlet, meetings) for outlet in total.outlets):
        return
    checks = []
    if whole.watts is not None:
        watts = settled(add([loading.watts(o) for o in total.outlets]))
        watts += sum(_below_zero(o, loading) for o in total.outlets)
        checks.append((watts, whole.watts, total.watts, "W"))
    if whole.rated is not None:
        checks.append((settled(add([loading.amps(o) for o in total.outlets])), whole.rated, total.amps, "A"))
    for value, limit, rating, unit in checks:
        if value <= limit * reserve * (1 + 1e-9):
            continue
        beyond = value > limit * (1 + 1e-9)
        found, most = Measure(value, unit), Measure(limit, unit)
        names = listed([o.name for o in total.outlets])
        parts = ", ".join(_part(o, loading) for o in total.outlets)
        yield Finding(
            "error" if beyond else "warning",
            total,
            f"{names} together are asked for {found}; {most} is the limit of {total}"
            + ("" if beyond else f", and {_percent(plan)} of it is to stay free"),
            found=found,
            allowed=most if beyond else Measure(limit * reserve, unit),
            because="; ".join(filter(None, (_derated(rating or 0.0, whole, unit, plan), parts))),
            remedy=f"move {Measure(value - limit * reserve, unit)} to another supply, or choose a larger one",
            place=("watts", "amps", "part"),
        )


def _below_zero(outlet: OutletPoint, loading: Loading) -> float:
    """Return what is drawn on a rail below zero [W]; it is not solved, so nothing is lost on the way."""
    net, volts = loading.nets.get(outlet.name), source_volts(outlet)
    if net is None or net.worst.volts or volts is None or volts[0] >= 0:
        return 0.0
    draws = [branch.draw for branch in net.branches]
    return sum({"W": draw.value, "A": draw.value * -volts[0]}.get(draw.unit, 0.0) for draw in draws)


def _part(outlet: OutletPoint, loading: Loading) -> str:
    watts = _below_zero(outlet, loading)
    return f"{outlet.name} {Measure(watts, 'W') if watts else Measure(settled(loading.amps(outlet)), 'A')}"


_BOTH = """
[[feed]]
id = "bank"
volts = "24 V"
[[supply]]
id = "disks"
from = "bank"
watts = "{watts}"
[[supply.rail]]
id = "5v"
volts = "5 V"
amps = "6 A"
[[supply.rail]]
id = "12v"
volts = "12 V"
amps = "8 A"
[[node]]
id = "a"
from = "disks.5v"
peak = "4 A"
load = "current"
[[node]]
id = "b"
from = "disks.12v"
peak = "5 A"
load = "current"
"""
_BOARD = (
    _SOLDERED
    + """
[plan]
reserve = "0 %"
[[feed]]
id = "f"
volts = "{volts}"
plug = "soldered"
[[supply]]
id = "atx"
part = "{part}"
from = "f"
plug = "soldered"
lead = "0 ohm"
"""
)


def _drawn(board: str, **draws: str) -> str:
    """Return the plan of a board with a load on each rail, by its name in the part."""
    names = {"v12": "12v", "v5": "5v", "v33": "3.3v", "sb": "5vsb", "below": "-12v"}
    for word, peak in draws.items():
        board += f"""
[[node]]
id = "on-{word}"
from = "atx.{names[word]}"
plug = "soldered"
lead = "0 ohm"
peak = "{peak}"
load = "current"
"""
    return board


_SMALL = _BOARD.format(part="dcdc-atx-60w", volts="12 V")
_WIDE = _BOARD.format(part="dcdc-atx-500w-wide", volts="24 V") + "".join(
    f'[[supply.rail]]\nid = "{name}"\nspread = "0 %"\n' for name in ("12v", "5v", "3.3v", "5vsb")
)

cases(
    together,
    clean=[
        _BOTH.format(watts="100 W"),
        _drawn(_SMALL, v12="2.45 A", v5="3 A", v33="3 A", sb="1.5 A", below="0.1 A"),
        _drawn(_WIDE, v12="40 A", v5="4 A"),
        # 80 W of what 80 % leave of 100 W; what is beyond the curve supplies.ambient tells
        _BOTH.format(watts="100 W").replace(
            'watts = "100 W"', 'watts = "100 W"\nderating = "90 % at 20 degC, 50 % at 25 degC"'
        ),
        _SIDE_BY_SIDE.format(amps='amps = "3 A"\n[[feed.outlet]]\nid = "1"'),
    ],
    flagged=[
        # E25: every rail of a 60 W board at its own limit is 63.6 W, 63 W are allowed
        Case(
            _drawn(_SMALL, v12="2.5 A", v5="3 A", v33="3 A", sb="1.5 A", below="0.1 A"),
            at="atx",
            found="63.6 W",
            level="error",
        ),
        # E26: those of a 500 W board are 542.9 W on paper
        Case(
            _drawn(_WIDE, v12="40 A", v5="6 A", v33="6 A", sb="2.5 A", below="0.05 A"),
            at="atx",
            found="542.9 W",
            level="error",
        ),
        Case(
            _BOTH.format(watts="100 W").replace(
                'watts = "100 W"', 'watts = "100 W"\nderating = "100 % at 20 degC, 60 % at 45 degC"'
            ),
            at="84 W is the limit",
            level="warning",
        ),
        Case(_BOTH.format(watts="75 W"), at="disks", found="80 W", level="error"),
        Case(_BOTH.format(watts="95 W"), at="disks", level="warning"),
    ],
)


@rule(level="error", over="rails")
def limit_unknown(rail: OutletPoint, loading: Loading, meetings: list[Meeting]) -> Iterator[Finding]:
    """Every outlet that feeds something states what it can give.

    Without a limit, no sum of loads proves anything.
    """
    spec, thing = rail.spec, rail.thing
    if not rail.takers or thing.table == "inline" or spec.amps is not None or spec.watts is not None:
        return
    if getattr(thing, "watts", None) is not None or source_volts(rail) is None or rail.handed_on:
        return
    groups = {g.id for g in getattr(thing, "group", ()) if g.amps is not None or g.watts is not None}
    if getattr(spec, "group", None) in groups:
        return
    amps = settled(loading.amps(rail))
    if _shares(rail, meetings):  # what runs between two sources is told by supplies.side_by_side
        amps = min([amps, *(m.whole for m in meetings if m.whole is not None and _shares(rail, [m]))])
    yield Open(
        "error" if rail.via is None else "warning",
        rail,
        f"{rail.noun} {rail} is asked for {Measure(amps, 'A')}, but the plan does not say what it can give",
        missing=[f"{rail} amps"],
        found=Measure(amps, "A"),
        remedy='add amps = "..." as its label or sheet states it, or name its part',
        place="part",
    )


cases(
    limit_unknown,
    clean=['[[feed]]\nid = "b"\nvolts = "5 V"\namps = "3 A"\n[[node]]\nid = "n"\nfrom = "b"\npeak = "1 A"'],
    flagged=[
        Case(
            '[[feed]]\nid = "b"\nvolts = "5 V"\n[[node]]\nid = "n"\nfrom = "b"\npeak = "1 A"',
            at="b",
            kind="open",
        ),
        # of 4 A that two share, the most that one has when its contacts are new and those of the other worn
        Case(_SIDE_BY_SIDE.format(amps=""), at="feed a is asked for 3.6 A", kind="open"),
    ],
)


@rule(level="error", over="plan")
def figure_missing(plan: Plan, loading: Loading) -> Iterator[Finding]:
    """Every figure that a sum of loads needs is stated.

    A sum with a hole in it is a lower bound: it can prove an overload, never that there is none. What a maker
    recommends as a supply is a purchase hint and does not fill the hole; taken as a load it raises false alarms.
    """
    told: dict[str, list[str]] = {}
    for name, missing in loading.missing.items():
        for figure in missing:
            told.setdefault(figure, []).append(name)
    for figure, nets in told.items():
        name, _, word = figure.rpartition(" ")
        thing, inlet = plan.things.get(name.partition(".")[0]), name.partition(".")[2]
        yield Open(
            "error",
            thing if thing is not None else (),
            f"{name}: its {word} is not given, so what {listed(dict.fromkeys(nets))} must carry is only a lower bound",
            missing=[figure],
            remedy=_figure_remedy(word, thing, inlet),
            place="part",
            subjects=(name,),
        )


_REMEDIES = {
    "surge": 'surge = "2.0 A for 10 s" from its sheet, or motor = false if it has none',
    "efficiency": 'efficiency = "85 %" or what its sheet states at this load',
    "peak": 'peak = "..." from its sheet, or what you measured when it was busy',
}


def _figure_remedy(word: str, thing: Any, inlet: str) -> str:
    what = _REMEDIES.get(word, f'{word} = "..."')
    if word != "efficiency" and inlet and thing is not None:
        return f'add it under [[{thing.table}.inlet]] with id = "{inlet}": {what}'
    return f"add {what}"


cases(
    figure_missing,
    clean=[
        '[[feed]]\nid = "b"\nvolts = "5 V"\n[[node]]\nid = "n"\nfrom = "b"\npeak = "1 A"',
        '[[feed]]\nid = "b"\nvolts = "5 V"\n[[drive]]\nid = "d"\nfrom = "b"\npeak = "1 A"\nmotor = false',
    ],
    flagged=[
        Case(
            '[[feed]]\nid = "b"\nvolts = "5 V"\n[[node]]\nid = "n"\nfrom = "b"\nasks = "3 A"',
            at="n",
            kind="open",
        ),
        Case(
            '[[feed]]\nid = "b"\nvolts = "5 V"\n[[drive]]\nid = "d"\nfrom = "b"\npeak = "1 A"',
            at="d",
            kind="open",
        ),
        Case(
            '[[feed]]\nid = "b"\nvolts = "12 V"\n[[supply]]\nid = "s"\nfrom = "b"\n[[supply.rail]]\nid = "5v"\n'
            'volts = "5 V"\n[[node]]\nid = "n"\nfrom = "s"\npeak = "1 A"',
            at="s.5v",
            kind="open",
        ),
    ],
)


@rule(level="error", over="plan")
def collapse(plan: Plan, loading: Loading) -> Iterator[Finding]:
    """Every load can be carried at all through the resistance in front of it.

    A load of constant power draws more as its volts fall. Past half the source's volts no current is enough, and the
    volts fall until the load stops.

    Formula: for one load on one run, P <= V² / (4 R).

    Source: maximum power transfer.
    """
    for net in loading.nets.values():
        if net.worst.collapsed is None:
            continue
        way = list(_whole_way(net, net.worst.collapsed))
        inlet, ohms = way[0][0], Measure(sum(ohms for _, ohms in way), "ohm")
        worst = max(way, key=lambda piece: piece[1])[0]
        yield Finding(
            "error",
            inlet,
            f"{inlet} cannot be carried: through {ohms} no current from {net} brings it its power",
            because="when hot and aged, "
            + ", ".join(f"{Measure(each, 'ohm')} to {where}" for where, each in reversed(way)),
            remedy=f"use a thicker or shorter lead to {worst}, or feed it with more volts",
            place="lead",
        )


def _whole_way(net: Net, i: int) -> Iterator[tuple[InletPoint, float]]:
    """Yield the inlets from one back to its source, each with the ohms of the run to it; shared ways back behind."""
    back: list[InletPoint] = []
    while i >= 0:
        branch = net.branches[i]
        yield branch.inlet, branch.ohms.worst
        back += [branch.way_back] if branch.way_back is not None else []
        i = branch.parent
    shared = {b.inlet.name: b for other in net.together for b in other.branches if b.is_return}
    yield from ((wire, shared[wire.name].ohms.worst) for wire in back if wire.name in shared)


_FAR = '[[feed]]\nid = "b"\nvolts = "5 V"\n[[node]]\nid = "n"\nfrom = "b"\nlead = "0.9 ohm"\npeak = "{}"'
_WIRE_BACK = '\n[[inline]]\nid = "g"\nwhat = "return"\nfrom = "b"\nlead = "2 ohm"\n'

cases(
    collapse,
    clean=[_FAR.format("6 W")],
    flagged=[
        Case(_FAR.format("7.1 W"), at="n"),
        # 0.45 ohm each, and the wire back of 2 ohm that two share
        Case(_FAR.format("2.5 W").replace('id = "n"\n', 'id = "n"\nback = "g"\n') + _WIRE_BACK, at="g"),
    ],
)


@rule(level="error", over="plan")
def unfed(plan: Plan) -> Iterator[Finding]:
    """Every inlet in use is fed: by an outlet, by the carrier a drive sits in, or by PoE.

    What is fed by nothing is in no sum, so the plan would look lighter than it is.
    """
    faulty = {fault.path[:2] for fault in plan.faults}
    if not plan.table("feed"):
        if names := [
            thing.id for thing in plan.order if _waits(plan, thing) and thing.path[:2] not in faulty
        ]:
            yield Open(
                "warning",
                (),
                f"no feed is described for {listed(names)}, so nothing about power is judged",
                missing=["a feed"],
                remedy="add a [[feed]] with its volts and amps, and say what each thing is fed from, "
                "or own_power = true of what brings its own",
            )
        return
    things: list[Any] = [thing for thing in plan.order if thing.table != "feed"]
    for thing in things:
        if thing.path[:2] in faulty or (getattr(thing, "poe", None) is not None and not thing.from_):
            continue
        if _own_power(plan, thing):
            continue
        if not thing.inlets:
            yield Open(
                "error",
                thing,
                f"nothing is said to feed {thing.id}, so it is in no sum",
                missing=[f"{thing.id} from"],
                remedy=f'add from = "..." and into = "{thing.inlet[0].id if thing.inlet else "..."}"{_or_own(thing)}',
                place=("into", "part"),
            )
        for inlet in thing.inlets:
            if inlet.source is None:
                yield Open(
                    "error",
                    inlet,
                    f"nothing is said to feed {inlet}, so it is in no sum",
                    missing=[f"{inlet} from"],
                    remedy=_feed_remedy(plan, thing),
                    place=("from", "bay"),
                )


def _waits(plan: Plan, thing: Any) -> bool:
    """Say whether a thing waits for a feed that is not there: it takes power or hands it on, and hangs on nothing."""
    takes = isinstance(thing, Taker) or any(outlet.takers for outlet in thing.outlets)
    if not takes or _own_power(plan, thing):
        return False
    return not (thing.from_ or getattr(thing, "bay", None) or getattr(thing, "poe", None))


def _own_power(plan: Plan, thing: Any) -> bool:
    """Say whether a thing brings its own power, or sits in one that does."""
    holder = plan.things.get(thing.bay.partition(".")[0]) if getattr(thing, "bay", None) else None
    return bool(getattr(thing, "own_power", None) or getattr(holder, "own_power", None))


def _or_own(thing: Any) -> str:
    return ", or own_power = true if it brings its own" if isinstance(thing, Taker) else ""


def _feed_remedy(plan: Plan, thing: Any) -> str:
    if not getattr(thing, "bay", None):
        return f'add from = "..." with the rail or feed it hangs on{_or_own(thing)}'
    holder: Any = plan.things.get(thing.bay.partition(".")[0])
    names = [_feeder(plan, holder, inlet) for inlet in thing.inlets]
    listed_names = ", ".join(f'"{name}"' if name else "..." for name in names)
    words = f"feed it by itself: from = [{listed_names}]"
    if any(name is None for name in names):
        words += " with the rails or feeds that give its volts"
    if all(
        spec.path[:2] == holder.path for spec in getattr(holder, "inlet", ())
    ):  # its part does not fix them
        words += ", or give the carrier an inlet of these volts"
    return words


def _feeder(plan: Plan, holder: Any, inlet: InletPoint) -> str | None:
    """Return an outlet whose volts an inlet takes: what feeds the carrier, else the strongest; None where none does."""
    fed = [other.source for other in getattr(holder, "inlets", ()) if other.source is not None]
    sources = [
        outlet for thing in plan.order if thing.table in ("feed", "supply") for outlet in thing.outlets
    ]
    for group in (fed, sources):
        fit = [outlet for outlet in group if _takes(inlet, outlet)]
        if fit:
            return str(max(fit, key=lambda outlet: outlet.spec.amps or 0.0).name)
    return None


def _takes(inlet: InletPoint, outlet: OutletPoint) -> bool:
    volts, window = source_volts(outlet), inlet.spec.volts
    return volts is not None and window is not None and window[0] <= volts[0] <= window[1]


_CARRIER = (
    '[[feed]]\nid = "b"\nvolts = "5 V"\n[[feed]]\nid = "t"\nvolts = "12 V"\n'
    '[[storage]]\nid = "s"\nfrom = "b"\nvolts = "5 V"\nbays = 1\n'
    '[[drive]]\nid = "d"\nbay = "s.1"\nvolts = "11 V .. 13 V"\n'
)

_NO_FEED = (
    '[[switch]]\nid = "sw"\nown_power = true\n[[appliance]]\nid = "cam"\npoe = "class 3"\n'
    '[[storage]]\nid = "s"\nbays = 1\n{}\n[[drive]]\nid = "d"\nbay = "s.1"\n'
)

cases(
    unfed,
    clean=[
        '[[feed]]\nid = "b"\nvolts = "5 V"\n[[node]]\nid = "n"\nfrom = "b"',
        '[[feed]]\nid = "b"\nvolts = "5 V"\n[[appliance]]\nid = "cam"\npoe = "class 3"',
        '[[feed]]\nid = "b"\nvolts = "5 V"\n[[node]]\nid = "laptop"\nown_power = true',
        _CARRIER.replace('id = "s"', 'id = "s"\nown_power = true').replace('from = "b"\n', ""),
        _CARRIER + 'from = "t"',
        _NO_FEED.format("own_power = true"),
        '[[supply]]\nid = "kept"\n[[supply.rail]]\nid = "5v"\nvolts = "5 V"\n',
    ],
    flagged=[
        Case(_NO_FEED.format(""), at="no feed is described for s,", kind="open"),
        Case(
            '[[supply]]\nid = "psu"\n[[supply.rail]]\nid = "5v"\nvolts = "5 V"\n'
            '[[node]]\nid = "n"\nfrom = "psu.5v"',
            at="no feed is described for psu,",
            kind="open",
        ),
        Case('[[feed]]\nid = "b"\nvolts = "5 V"\n[[node]]\nid = "n"', at="n", kind="open"),
        Case('[[node]]\nid = "n"', kind="open"),
        Case(
            '[[feed]]\nid = "b"\nvolts = "5 V"\n[[node]]\nid = "n"\npart = "board-4core-5v-3a"',
            at="n",
            kind="open",
        ),
        Case(
            '[[feed]]\nid = "b"\nvolts = "5 V"\n[[storage]]\nid = "s"\nfrom = "b"\nvolts = "5 V"\nbays = 1\n'
            '[[drive]]\nid = "d"\nbay = "s.1"\nvolts = "12 V"',
            at="d",
            kind="open",
        ),
        Case(_CARRIER, at="d", kind="open", mended=_CARRIER + 'from = "t"'),
    ],
)


@rule(level="warning", over="feed")
def total_unknown(feed: Any) -> Iterator[Finding]:
    """A feed with several outlets says what they give together.

    A charger with six ports of 2.4 A seldom gives 14.4 A; the limit of all ports hides behind that of each.

    Source: common practice.
    """
    used = [outlet for outlet in feed.outlets if outlet.takers]
    if len(used) < 2 or feed.amps is not None or feed.watts is not None:
        return
    limits = {g.id for g in feed.group if g.amps is not None or g.watts is not None}
    if all(outlet.spec.group in limits for outlet in used):
        return
    yield Open(
        "warning",
        feed,
        f"{feed.id} feeds {len(used)} outlets, but the plan does not say what it gives in all",
        missing=[f"{feed.id} amps or watts"],
        remedy='add watts = "..." or amps = "..." for all outlets together',
        place="part",
    )


_PORTS = """
[[feed]]
id = "c"
volts = "5 V"
{}
[[feed.outlet]]
id = "1 .. 2"
amps = "2.4 A"
[[node]]
id = "n1 .. n2"
from = "c.1 .. c.2"
peak = "1 A"
"""

cases(
    total_unknown,
    clean=[_PORTS.format('watts = "20 W"')],
    flagged=[Case(_PORTS.format(""), at="c", kind="open")],
)

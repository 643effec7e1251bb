"""Batteries: how long they carry the box, new and worn, down to which volts, and whether their charger keeps up.

Caution: a bank gives thousands of amps into a short. Its fuse stands close to the terminal and breaks direct current of
its volts and its fault current; take rings and watch off, cover both terminals, fit the fuse last. Charge lithium cells
only behind a board that guards each of them, and lead only where its gas can get away. What is behind a mains socket is
work for a licensed person.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.dc import battery as physics
from coldcheck.plan.model import Plan
from coldcheck.workings.energy import Energy, FeedEnergy
from coldcheck.workings.net import source_volts
from coldcheck.workings.power import Loading

#: Stored over taken, charger and battery together: lithium; lead has less. Common practice.
STORED = 0.9
#: Said with each larger bank or charger that is asked for.
CAUTION = (
    "caution: its fuse close to the terminal must break direct current of these volts; fit it last, and leave what you "
    "are not sure of, and all mains wiring, to a licensed person"
)
_HOUR = 3600.0
_WHAT_LACKS = {
    "watt_hours": 'watt_hours = "480 Wh", which is volts times ampere hours',
    "usable": 'usable = "50 %" for lead, or what its sheet allows',
}


def _hours(value: float) -> Measure:
    return Measure(round(value, 2), "h")


def _watts(value: float) -> Measure:
    return Measure(round(value, 1), "W")


def _volts(value: float) -> Measure:
    return Measure(round(value, 2), "V")


def _held(feed: Any, energy: Energy, share: float = 1.0) -> tuple[float, FeedEnergy] | None:
    """Return for how long a battery with a share of its energy left carries the load at work [h], and that load."""
    if feed.watt_hours is None or not feed.usable:
        return None
    load = energy.of(feed)
    if load is None or load.alone <= 0:
        return None
    return physics.run_hours(physics.aged(feed.watt_hours, share), feed.usable, load.alone), load


def _at_rest(feed: Any, load: FeedEnergy) -> str:
    """Return how long it is with the box at rest, as far as that is known."""
    if load.idle <= 0 or load.idle == load.alone:
        return ""
    hours = physics.run_hours(feed.watt_hours, feed.usable, load.idle)
    least = "at least " if load.missing_idle else ""
    return f"; with the box at rest ({_watts(load.idle)}) it is {least}{_hours(hours)}"


@rule(level="error", over="feed")
def run_time(feed: Any, energy: Energy) -> Iterator[Finding]:
    """A battery carries the box at work for as long as the plan asks, its `hold`.

    The load is that of every thing at its peak, with what is lost in copper and converters: boxes draw less, so the
    battery holds at least as long. Energy is that at room temperature and at a rate like the one it is rated at; cold
    takes a third and more, and lead gives less when it is emptied within few hours.

    Formula: hours = energy × usable share / watts.

    Source: conservation of energy; usable share of about half for lead and most for lithium, common practice.
    """
    if feed.hold is None or not any(outlet.takers for outlet in feed.outlets):
        return
    wanted = feed.hold / _HOUR
    missing = [f"{feed.id} {key}" for key in ("watt_hours", "usable") if not getattr(feed, key)]
    if missing:
        yield Open(
            "error",
            feed,
            f"{feed.id} is to carry the box for {_hours(wanted)}; how much energy it gives is not said",
            missing=missing,
            allowed=_hours(wanted),
            remedy="add "
            + " and ".join(_WHAT_LACKS[name.rpartition(".")[2].rpartition(" ")[2]] for name in missing),
            place=("hold", "part"),
        )
        return
    found = _held(feed, energy)
    if found is None or found[0] >= wanted * (1 - 1e-9):
        return
    hours, load = found
    yield Finding(
        "error",
        feed,
        f"{feed.id} carries the box at work for {_hours(hours)}; {_hours(wanted)} is asked",
        found=_hours(hours),
        allowed=_hours(wanted),
        because=f"{feed.watt_hours:g} Wh, {100 * feed.usable:g} % of it usable, at {_watts(load.alone)}"
        + _at_rest(feed, load),
        remedy=f"{_more(feed, load, wanted)}, or a box that draws less; {CAUTION}",
        place=("watt_hours", "hold", "part"),
    )


def _more(feed: Any, load: FeedEnergy, wanted: float, share: float = 1.0) -> str:
    needed = wanted * load.alone / (feed.usable * share)
    return f"a bank of at least {-(-needed // 10) * 10:g} Wh"


_BANK = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[plan]
{head}
[[feed]]
id = "bank"
volts = "12 V"
battery = true
plug = "soldered"
{bank}
[[node]]
id = "n1"
from = "bank"
plug = "soldered"
lead = "0 ohm"
idle = "10 W"
peak = "40 W"
load = "power"
"""


def _case(bank: str, head: str = "") -> str:
    return _BANK.format(head=head, bank=bank)


_STORE = 'watt_hours = "480 Wh"\nusable = "50 %"\n'

cases(
    run_time,
    clean=[
        _case(_STORE),
        _case(_STORE + 'hold = "6 h"'),  # 480 × 0.5 / 40 is the limit itself
        '[[feed]]\nid = "spare"\nvolts = "12 V"\nhold = "6 h"',  # nothing hangs on it
    ],
    flagged=[
        Case(
            _case(_STORE + 'hold = "6.01 h"'),
            at="bank",
            found="6 h",
            level="error",
            mended=_case(_STORE.replace("480", "490") + 'hold = "6.01 h"'),
        ),
        Case(_case('hold = "6 h"\nusable = "50 %"'), at="bank", kind="open"),
        Case(_case('hold = "6 h"\nwatt_hours = "480 Wh"'), at="bank", kind="open"),
        Case(_case('hold = "6 h"\nwatt_hours = "480 Wh"\nusable = "0 %"'), at="bank", kind="open"),
    ],
)


@rule(level="warning", over="feed")
def aged(feed: Any, energy: Energy) -> Iterator[Finding]:
    """A battery that is worn down to 80 % of its energy still carries the box for as long as the plan asks.

    That is what a battery at the end of its life has left, after some years; chosen to the last watt-hour it fails in
    its second winter.

    Source: common practice: worn out at 80 %.
    """
    new, worn = _held(feed, energy), _held(feed, energy, physics.WORN)
    if feed.hold is None or new is None or worn is None:
        return
    wanted = feed.hold / _HOUR
    if worn[0] >= wanted * (1 - 1e-9) or new[0] < wanted * (1 - 1e-9):
        return
    hours, load = worn
    yield Finding(
        "warning",
        feed,
        f"{feed.id} carries the box for {_hours(hours)} once it is worn; {_hours(wanted)} is asked",
        found=_hours(hours),
        allowed=_hours(wanted),
        because=f"{_hours(new[0])} when new, of which {100 * physics.WORN:g} % is left, at {_watts(load.alone)}",
        remedy=f"{_more(feed, load, wanted, physics.WORN)}; or a day in the plan on which it is measured and replaced; "
        f"{CAUTION}",
        place=("watt_hours", "hold", "part"),
    )


cases(
    aged,
    clean=[
        _case(_STORE + 'hold = "4.8 h"'),  # 80 % of 6 h
        _case(_STORE + 'hold = "7 h"'),  # told by run_time
        _case('hold = "5 h"'),
    ],
    flagged=[
        Case(
            _case(_STORE + 'hold = "4.81 h"'),
            at="bank",
            found="4.8 h",
            level="warning",
            mended=_case(_STORE.replace("480", "490") + 'hold = "4.81 h"'),
        ),
    ],
)


@rule(level="error", over="feed")
def cut_off(feed: Any, loading: Loading) -> Iterator[Finding]:
    """The volts at the terminals of a battery stay above its cut-off under the heaviest load.

    Its own resistance takes volts away while much is drawn, so it is cut off although it is not empty: an error where
    that comes at its nominal volts, a warning where it comes before the lowest volts that the plan counts with. A plan
    that counts with volts below the cut-off counts with what never comes.

    Formula: V = V0 / 2 + √(V0² / 4 - R × P), the upper of the two points that a load of constant power has.

    Source: Ohm's law; maximum power transfer theorem.
    """
    cut = feed.cut_off
    if cut is None or not any(outlet.takers for outlet in feed.outlets):
        return
    found = next((given for outlet in feed.outlets if (given := source_volts(outlet))), None)
    if found is None:
        return  # told by volts.stray_unknown and its like
    nominal, low, _ = found
    if low < cut * (1 - 1e-9):
        yield Finding(
            "warning",
            feed,
            f"{feed.id} is cut off at {_volts(cut)}, but the plan counts with {_volts(low)}",
            found=_volts(low),
            allowed=_volts(cut),
            because="below its cut-off a battery gives nothing: one of the two is wrong",
            remedy=f'set low to "{_volts(cut)}", or set its cut-off to what its cells stand',
            place=("low", "cut_off", "part"),
        )
    if feed.ohms is None:
        yield _ohms_unknown(feed)
        return
    corners = [("error", "nominal", nominal), *([("warning", "lowest", low)] if low >= cut else [])]
    for level, which, volts in corners:
        terminal = _terminal(feed, loading, volts, which == "lowest")
        if terminal is None or terminal[0] >= cut * (1 - 1e-9):
            continue
        under, watts = terminal
        yield Finding(
            level,  # type: ignore[arg-type]
            feed,
            f"{feed.id} at its {which} {_volts(volts)} falls to {_volts(under)} under load, below its cut-off",
            found=_volts(under),
            allowed=_volts(cut),
            because=f"{_watts(watts)} at {Measure(feed.ohms, 'ohm')} inside it: it is cut off with "
            f"{_volts(physics.open_volts_at_cutoff(watts, cut, feed.ohms))} left without load, and is not empty then",
            remedy=f"hold starts apart, take a bank with less resistance, or count with less of its energy; {CAUTION}",
            place=("cut_off", "ohms", "part"),
        )
        return


def _terminal(feed: Any, loading: Loading, volts: float, lowest: bool) -> tuple[float, float] | None:
    """Return the least volts at the terminals of a battery [V], and the watts taken there then [W].

    None where it cannot carry its load: `rails.collapse` tells that. With outlets of their own limits its resistance is
    in no net, so it is reckoned here.
    """
    outlets = [outlet for outlet in feed.outlets if outlet.takers]
    if outlets[0].spec is not feed:
        watts = sum(_most(loading.watts(outlet)) for outlet in outlets)
        fallen = physics.volts_under(watts, volts, feed.ohms)
        return None if fallen is None else (fallen, watts)
    net = loading.nets[outlets[0].name]
    solved = net.worst if lowest else net.nominal
    if solved.collapsed is not None or not solved.volts:
        return None
    under = solved.volts[0] if feed.ohms else volts  # its own resistance is the first run of its net
    return under, under * (volts - under) / feed.ohms if feed.ohms else 0.0


def _most(steps: list[tuple[float, float]]) -> float:
    return max((value for _, value in steps), default=0.0)


def _ohms_unknown(feed: Any) -> Finding:
    return Open(
        "warning",
        feed,
        f"how far {feed.id} falls under load is not known, so neither is whether it is cut off too early",
        missing=[f"{feed.id} ohms"],
        remedy='add ohms = "20 mohm": volts without load less volts under it, over the amps between',
        place=("cut_off", "part"),
    )


_CUT = 'cut_off = "10 V"\nlow = "{low}"\nhigh = "14.6 V"\nohms = "{ohms}"\n'

cases(
    cut_off,
    clean=[
        _case(""),
        # 40 W through 0.05 ohm: 10.2 V falls to 10 V at 4 A
        _case(_CUT.format(low="10.2 V", ohms="0.05 ohm")),
        _case(_CUT.format(low="10 V", ohms="0 ohm")),
        _case(_CUT.format(low="11.9 V", ohms="1 ohm")),  # told by rails.collapse
    ],
    flagged=[
        # with outlets of its own: the same 40 W, 10.1 V falls to 9.9 V
        Case(
            _case(_CUT.format(low="10.1 V", ohms="0.05 ohm") + '[[feed.outlet]]\nid = "1"\nplug = "soldered"').replace(
                'from = "bank"', 'from = "bank.1"'
            ),
            at="bank",
            found="9.9 V",
            level="warning",
        ),
        Case(
            _case(_CUT.format(low="10.1 V", ohms="0.05 ohm")),
            at="bank",
            found="9.9 V",
            level="warning",
            mended=_case(_CUT.format(low="10.2 V", ohms="0.05 ohm")),
        ),
        # at its nominal 12 V: 6 + sqrt(36 - 40 × 0.6) = 9.464 V
        Case(_case(_CUT.format(low="11.9 V", ohms="0.6 ohm")), at="bank", found="9.46 V", level="error"),
        Case(
            _case(_CUT.format(low="9.9 V", ohms="0.05 ohm")), at="bank", found="9.9 V", level="warning",
            mended=_case(_CUT.format(low="10.2 V", ohms="0.05 ohm")),
        ),
        Case(_case('cut_off = "10 V"\nlow = "10.5 V"\nhigh = "14.6 V"'), at="bank", kind="open"),
    ],
)  # fmt: skip


@rule(level="error", over="feed")
def charger(feed: Any, energy: Energy, plan: Plan) -> Iterator[Finding]:
    """The charger of a battery gives more than the box draws at work.

    Else the battery is emptied although mains is there, and the box stops in the middle of the day. Where the plan says
    how much of the year it is busy, a charger that only keeps up on the average is a warning: long work still empties
    the battery.

    Source: conservation of energy.
    """
    load = energy.of(feed) if feed.charger is not None else None
    if load is None or feed.charger > load.busy * (1 + 1e-9):
        return
    busy = plan.head.busy
    mean = load.busy if busy is None else load.idle * (1 - busy) + load.busy * busy
    yield Finding(
        "warning" if feed.charger > mean * (1 + 1e-9) else "error",
        feed,
        f"the charger of {feed.id} gives {_watts(feed.charger)}; the box takes {_watts(load.busy)} at work",
        found=_watts(feed.charger),
        allowed=_watts(load.busy),
        because=f"the battery is emptied although mains is there{_charging(feed, load, plan)}",
        remedy=f"a charger of more than {_watts(load.busy)}, with what the battery is to get on top; {CAUTION}",
        place=("charger", "part"),
    )


def _charging(feed: Any, load: FeedEnergy, plan: Plan) -> str:
    """Return how long charging takes at rest, and how much is drawn on the average."""
    said = ""
    if plan.head.busy is not None:
        mean = load.idle * (1 - plan.head.busy) + load.busy * plan.head.busy
        said = f"; {_watts(mean)} is drawn on the average"
    spare = feed.charger - load.idle
    if feed.watt_hours is not None and feed.usable and spare > 0:
        hours = physics.charge_hours(feed.watt_hours * feed.usable, spare, STORED)
        said += f"; with the box at rest it is full again after {_hours(hours)}"
    return said


cases(
    charger,
    clean=[
        _case(""),
        _case('charger = "40.1 W"'),
        _case('charger = "40.1 W"', 'busy = "30 %"'),
        '[[feed]]\nid = "spare"\nvolts = "12 V"\ncharger = "1 W"',
    ],
    flagged=[
        Case(
            _case('charger = "40 W"'),
            at="bank",
            found="40 W",
            level="error",
            mended=_case('charger = "41 W"'),
        ),
        # 10 W × 0.7 + 40 W × 0.3 = 19 W on the average
        Case(_case('charger = "20 W"', 'busy = "30 %"'), at="bank", level="warning"),
        Case(_case('charger = "19 W"', 'busy = "30 %"'), at="bank", level="error"),
    ],
)

"""Air: do the fans of a box carry its heat away? An example of rules that a site adds; copy it, and set its figures.

    coldcheck lint plan.toml --rules plugins
    coldcheck why air.flow --rules plugins

To make one of your own, copy this file into a folder of your own, change the constants below or the rules, and name the
folder: `--rules my_rules`. Its cases run by `python -m coldcheck.testing my_rules`. Nothing has to be registered, and
no hook is needed: a module that only declares has none. The two that there are serve a distribution that chooses what
it offers, or that brings parts of its own (`coldcheck/engine/hooks.py`).

What it shows: a working of its own, `box_heat`, computed once and read by both rules; built-in workings asked for by
name; physics left to `coldcheck.dc`; a finding that is an error, a warning or open, as the figures allow; cases.

The plan says how warm the box may get (`air_rise`, beside `ambient` and `height` in `[plan]`), what each fan is (`flow`
at its `rated` volts), and what stands outside (`in_box = false`).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck import Case, Finding, Measure, Open, Review, cases, rule, working
from coldcheck.dc import air, fan
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.draws import Draws
from coldcheck.workings.energy import Energy
from coldcheck.workings.net import Net
from coldcheck.workings.poe import PoeFeed
from coldcheck.workings.power import Arrival

#: What a closed box without a fan gets rid of through its walls [W]; common practice, a few watts.
WITHOUT_A_FAN = 5.0


class BoxHeat(msgspec.Struct, frozen=True):
    """The heat that stays in the box at work [W].

    ``taken`` [W] is what all feeds give, ``outside`` who takes how much [W] of it out of the box; ``missing`` names the
    figures without which ``watts`` is only a lower bound.
    """

    watts: float
    taken: float
    outside: tuple[tuple[str, float], ...]
    missing: tuple[str, ...]

    def told(self) -> str:
        """Return how the heat comes about."""
        if not self.outside:
            return f"{_watts(self.taken)} of electrical power, all of which stays"
        names = listed([name for name, _ in self.outside])
        return f"{_watts(self.taken)} of electrical power, less {_watts(self.taken - self.watts)} to {names} outside"


@working(reads=("plan", "feed", "supply", "inline", "node", "storage", "drive", "switch", "fan", "appliance"))
def box_heat(
    plan: Plan, energy: Energy, nets: dict[str, Net], poe_feeds: list[PoeFeed], draws: Draws
) -> BoxHeat:
    """The heat that stays in the box when everything is up and at work [W].

    All electrical power that the feeds give turns into heat in the box, losses of converters and wires included;
    nothing leaves by cable but what things outside take (`in_box = false`): at their inlet, or at the port that feeds
    them by PoE. What is lost in leads on the way to them counts as in the box. Feeds count as outside: a mains supply
    that sits in the box adds its own loss. What brings its own power counts where `in_box = true` says that it is here.
    """
    brought = list(_brought(plan, draws))
    outside = [*_led_out(plan, nets), *_by_poe(plan, poe_feeds)]
    missing = [figure for feed in energy.feeds for figure in feed.missing]
    missing += [f"{thing.id} from" for thing in _unfed(plan, poe_feeds)]
    missing += [f"{name} peak" for name, watts in brought if watts is None]
    taken = energy.busy + sum(watts for _, watts in brought if watts)
    left = max(0.0, taken - sum(watts for _, watts in outside))
    return BoxHeat(left, taken, tuple(outside), tuple(dict.fromkeys(missing)))


def _is_outside(plan: Plan, thing: Any) -> bool:
    """Say whether a thing stands outside the box; a drive goes with its carrier, unless it says otherwise."""
    stays = getattr(thing, "in_box", None)
    if stays is None and getattr(thing, "bay", None):
        stays = getattr(plan.things.get(thing.bay.partition(".")[0]), "in_box", None)
    return stays is False


def _brings_its_own(plan: Plan, thing: Any) -> bool:
    """Say whether a thing has power of its own; a drive has that of its carrier."""
    holder = plan.things.get(thing.bay.partition(".")[0]) if getattr(thing, "bay", None) else None
    return bool(getattr(thing, "own_power", None) or getattr(holder, "own_power", None))


def _brought(plan: Plan, draws: Draws) -> Iterator[tuple[str, float | None]]:
    """Yield what is said to be in the box and brings its own power, and its watts: None where these are not known."""
    for thing in plan.order:
        if not getattr(thing, "in_box", None) or not _brings_its_own(plan, thing):
            continue
        for inlet in (inlet for inlet in thing.inlets if inlet.source is None):
            window = inlet.spec.volts
            volts = sum(window) / 2 if window else 0.0
            drawn = draws.of(inlet, volts)
            by_volts = {"W": drawn.value, "A": drawn.value * volts, "ohm": volts**2 / (drawn.value or 1.0)}
            known = not drawn.missing and (drawn.unit == "W" or volts > 0)
            yield thing.id, by_volts[drawn.unit] if known else None


def _led_out(plan: Plan, nets: dict[str, Net]) -> Iterator[tuple[str, float]]:
    """Yield each thing outside that a wire feeds, and the watts that reach it; not what it hands on."""
    for net in nets.values():
        volts, amps = net.nominal.volts, net.nominal.amps
        for i, branch in enumerate(net.branches if volts else ()):
            if not _is_outside(plan, branch.inlet.thing):
                continue
            below = sum(amps[j] for j, other in enumerate(net.branches) if other.parent == i)
            yield branch.inlet.thing.id, volts[i] * max(0.0, amps[i] - below)


def _by_poe(plan: Plan, feeds: list[PoeFeed]) -> Iterator[tuple[str, float]]:
    """Yield each thing outside that a port inside feeds, and the watts that leave by its cable."""
    for feed in feeds:
        if feed.fed and _is_outside(plan, feed.thing) and not _is_outside(plan, feed.port.thing):
            yield feed.thing.id, feed.counted


def _unfed(plan: Plan, feeds: list[PoeFeed]) -> list[Any]:
    """Return what is in the box and in no sum."""
    by_cable = {feed.thing.id for feed in feeds if feed.fed}
    return [
        thing
        for thing in plan.order
        if hasattr(thing, "in_box")
        and not _is_outside(plan, thing)
        and thing.id not in by_cable
        and not _brings_its_own(plan, thing)
        and not any(inlet.source is not None for inlet in thing.inlets)
    ]


class Breeze(msgspec.Struct, frozen=True):
    """The air that fans move together with nothing in the way [m3/s]; ``missing``: what is not known of others."""

    free: float
    missing: tuple[str, ...]


def _breeze(arrivals: list[Arrival], fans: list[Any]) -> Breeze:
    """Add up the fans at the lowest volts that last, side by side: two in a row move no more than one.

    A fan on far too many volts, which another rule tells, counts at the most that such fans stand.
    """
    free, missing = 0.0, []
    at = {arrival.thing.id: arrival for arrival in arrivals if arrival.thing.table == "fan"}
    for each in fans:
        arrival = at.get(each.id)
        lacks = [f"{each.id} {key}" for key in ("flow", "rated") if getattr(each, key) is None]
        if arrival is None or arrival.steady is None or arrival.low is None:
            lacks.append(f"{each.id} volts that arrive")
        elif not lacks:
            start = (each.starts_at, each.starts_at) if each.starts_at is not None else fan.START_VOLTS
            usual = each.starts_at is None and each.rated != 12  # usual start volts hold for 12 V alone
            turns = True if usual else fan.starts(arrival.low, *start)
            if turns is None:
                lacks.append(f"{each.id} starts_at")
            elif turns:
                free += each.flow * fan.flow_ratio(
                    fan.speed_share(min(arrival.steady, fan.most_volts(each.rated)), each.rated)
                )
        missing += lacks
    return Breeze(free, tuple(missing))


@rule(level="error", over="plan")
def flow(plan: Plan, box_heat: BoxHeat, arrivals: list[Arrival]) -> Iterator[Finding]:
    """The air that the fans move carries the heat of the box at the rise that the plan allows.

    A fan in a box moves half to seven tenths of what its sheet states in free air; grilles, filters and cables take the
    rest. Too little even at seven tenths is an error, too little at half a warning. All fans are taken to blow side by
    side and the same way, each at the lowest volts that last; one that blows in and one that draws out move no more
    than one of them.

    Formula: flow = watts / (1005 J/(kg K) × rise × density), with the density of the air in the box at its height.

    Source: air flow articles (1.76 CFM for each watt and kelvin), fan laws page; ISO 2533 for height; 50 to 70 % of
    the free-air figure is common practice.
    """
    fans = [each for each in plan.table("fan") if not _is_outside(plan, each)]
    if not fans or box_heat.watts <= 0:
        return
    breeze = _breeze(arrivals, fans)
    if plan.head.air_rise is None:
        yield _rise_unsaid(plan, box_heat, breeze)
        return
    head = plan.head
    needed = air.flow_needed(box_heat.watts, head.air_rise or 0.0, head.ambient, head.height)
    least, _ = air.in_a_box(breeze.free)
    lacking = [*breeze.missing, *box_heat.missing]
    if breeze.missing and least < needed * (1 - 1e-9):
        yield _unsaid(plan, breeze, box_heat, needed, lacking)
    elif least < needed * (1 - 1e-9):
        yield _too_little(plan, box_heat, breeze, needed)
    elif box_heat.missing:
        yield _unsaid(plan, breeze, box_heat, needed, lacking)


def _too_little(plan: Plan, heat: BoxHeat, breeze: Breeze, needed: float) -> Finding:
    least, most = air.in_a_box(breeze.free)
    surely = most < needed * (1 - 1e-9)
    found = most if surely else least
    head = plan.head
    says = f"the fans move {_air(found)} at " + ("best" if surely else "worst")
    says += f"; {_air(needed)} is needed for {_watts(heat.watts)} at a rise of {Measure(head.air_rise or 0.0, 'K')}"
    remedy = f"fans of {_air(needed / air.IN_A_BOX[0])} in free air together"
    if least > 0:
        rise = air.rise_for(heat.watts, least, head.ambient, head.height)
        remedy += f", or a box that may get {Measure(round(rise, 1), 'K')} warmer than the room"
    return Finding(
        "error" if surely else "warning",
        plan.head,
        says,
        found=_per_hour(found),
        allowed=_per_hour(needed),
        because=f"{heat.told()}; {_air(breeze.free)} in free air, of which a box leaves "
        f"{air.IN_A_BOX[0] * 100:g} to {air.IN_A_BOX[1] * 100:g} %",
        remedy=remedy,
        place="air_rise",
        subjects=("box",),
    )


def _unsaid(plan: Plan, breeze: Breeze, heat: BoxHeat, needed: float, lacking: list[str]) -> Finding:
    more = "at least " if heat.missing else ""
    known = f", and {_air(breeze.free * air.IN_A_BOX[0])} at worst is known of" if breeze.free > 0 else ""
    return Open(
        "error",
        plan.head,
        f"whether the fans carry {more}{_watts(heat.watts)} away is not known: {more}{_air(needed)} is needed{known}",
        missing=list(dict.fromkeys(lacking)),
        allowed=_per_hour(needed),
        because=heat.told(),
        remedy='give each fan its flow = "60 m3/h" and its rated = "12 V" from its sheet, each thing its draw',
        place="air_rise",
        subjects=("box",),
    )


def _rise_unsaid(plan: Plan, heat: BoxHeat, breeze: Breeze) -> Finding:
    says = f"{_watts(heat.watts)} stays in the box; how much warmer than the room it may get is not given"
    if breeze.free > 0 and not breeze.missing:
        head = plan.head
        rises = [
            air.rise_for(heat.watts, each, head.ambient, head.height) for each in air.in_a_box(breeze.free)
        ]
        says += f"; its fans let it get {rises[1]:.1f} to {rises[0]:.1f} K warmer"
    return Open(
        "error",
        plan.head,
        says,
        missing=["plan air_rise", *breeze.missing, *heat.missing],
        because=heat.told(),
        remedy='add air_rise = "10 K" to [plan], from the coolest of what the things inside stand',
        subjects=("box",),
    )


def _watts(value: float) -> Measure:
    return Measure(round(value, 1), "W")


def _per_hour(value: float) -> Measure:
    return Measure(round(value * 3600, 1), "m3/h")


def _air(value: float) -> str:
    return f"{_per_hour(value)} ({value / air.CFM:.1f} CFM)"


_BOX = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[plan]
ambient = "20 degC"
height = "{height}"
{rise}
[[feed]]
id = "f"
volts = "12 V"
spread = "0 %"
plug = "soldered"
[[node]]
id = "n1"
from = "f"
plug = "soldered"
lead = "0 ohm"
peak = "{watts}"
load = "power"
"""
_FAN = """
[[fan]]
id = "fan1"
from = "f"
plug = "soldered"
lead = "0 ohm"
peak = "0 A"
{}
"""


def _box(
    watts: str, fan: str = 'rated = "12 V"\nflow = "60 m3/h"', rise: str = "10 K", height: str = "0 m"
) -> str:
    written = f'air_rise = "{rise}"' if rise else ""
    return _BOX.format(watts=watts, rise=written, height=height) + (_FAN.format(fan) if fan else "")


_OUTSIDE = (
    '[[node]]\nid = "n2"\nfrom = "f"\nplug = "soldered"\nlead = "0 ohm"\npeak = "100 W"\nin_box = false\n'
)

# 60 m3/h in free air are 30 to 42 in a box. At 20 degC and sea level 1 W at 10 K takes 0.29745 m3/h, so 30 m3/h carry
# 100.86 W and 42 m3/h carry 141.2 W.
cases(
    flow,
    clean=[
        _box("100.8 W"),
        _box("100.8 W") + _OUTSIDE,
        _box("201.6 W", rise="20 K"),
        _box("400 W", fan=""),  # told by no_fan
    ],
    flagged=[
        Case(_box("101 W"), at="box", found="30 m3/h", level="warning", mended=_box("101 W", rise="10.1 K")),
        Case(_box("141 W"), at="box", level="warning"),
        Case(_box("142 W"), at="box", found="42 m3/h", level="error"),
        # thin air: at 1500 m a room of 20 degC has 0.834 of the density
        Case(_box("100.8 W", height="1500 m"), at="box", level="warning"),
        Case(_box("142 W", height="1500 m"), at="box", level="error"),
        # 60 m3/h at 24 V are 29 at 12 V
        Case(
            _box("100.8 W", fan='rated = "24 V"\nflow = "60 m3/h"\nstarts_at = "8 V"'),
            at="box",
            level="error",
        ),
        # a 5 V fan on 12 V is counted at 5.5 V: 67.1 m3/h, and not 159
        Case(
            _box("115 W", fan='rated = "5 V"\nflow = "60 m3/h"'), at="box", found="33.5 m3/h", level="warning"
        ),
        # a fan that does not start moves nothing
        Case(
            _box("50 W", fan='rated = "24 V"\nflow = "60 m3/h"\nstarts_at = "13 V"'), at="box", found="0 m3/h"
        ),
        Case(_box("50 W", fan='rated = "12 V"'), at="box", kind="open"),
        Case(_box("50 W", fan='flow = "60 m3/h"'), at="box", kind="open"),
        Case(_box("50 W", rise=""), at="box", kind="open", mended=_box("50 W")),
        Case(_box("50 W").replace('peak = "50 W"', 'idle = "50 W"'), at="box", kind="open"),
    ],
)


@rule(level="note", over="plan")
def no_fan(plan: Plan, box_heat: BoxHeat) -> Iterator[Finding]:
    """A box with more than a few watts of heat has a fan, or somebody has seen that its air gets out.

    Through its walls a closed box of some decimetres loses a few watts for each kelvin or two; with slots above and
    below, several times that. No arithmetic on a plan tells how open a box is.

    Source: common practice.
    """
    if any(not _is_outside(plan, each) for each in plan.table("fan")) or not plan.table("feed"):
        return
    if box_heat.watts > WITHOUT_A_FAN * (1 + 1e-9):
        says = f"{_watts(box_heat.watts)} of heat stays in a box without a fan: see that its air gets out"
        remedy = "leave it open above and below, measure how warm it gets after an hour of work, or add a fan"
        yield Review(
            plan.head,
            says,
            found=_watts(box_heat.watts),
            because=box_heat.told(),
            remedy=remedy,
            subjects=("box",),
        )
    elif box_heat.missing:
        says = f"whether more than {_watts(WITHOUT_A_FAN)} of heat stays in a box without a fan is not known"
        yield Open(
            "note", plan.head, says, list(box_heat.missing), found=_watts(box_heat.watts), subjects=("box",)
        )


cases(
    no_fan,
    clean=[_box("5 W", fan=""), _box("100 W"), _box("5 W", fan="") + _OUTSIDE],
    flagged=[
        Case(_box("5.1 W", fan=""), at="box", found="5.1 W", kind="review", mended=_box("5.1 W")),
        Case(_box("3 W", fan="").replace("peak", "idle"), at="box", kind="open"),
    ],
)

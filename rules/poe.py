"""Power over Ethernet: the port feeds the class, the cable carries it, and the switch has enough for all.

Passive means volts on the pairs without a question asked: no class, no detection, and no standard behind it.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from coldcheck import Case, Finding, Level, Measure, Open, Put, Review, cases, rule
from coldcheck.lan import cable as copper
from coldcheck.lan import poe
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import PortPoint
from coldcheck.plan.quantities import show
from coldcheck.plan.spans import listed
from coldcheck.workings.poe import PassiveEnd, PoeBudget, PoeFeed
from coldcheck.workings.ports import LinkSpeed, PortOffers, SwitchPorts, cable_path, class_of, suits, top_of

#: Sums of tenths of watts are not exact in binary; what fits exactly must fit.
_NEAR = 1e-9

_as_good_as = lru_cache(maxsize=64)(copper.at_least)
_longest = lru_cache(maxsize=64)(copper.longest)


@rule(level="error", over="poe_feeds")
def type_too_low(
    feed: PoeFeed, switch_ports: list[SwitchPorts], port_offers: PortOffers
) -> Iterator[Finding]:
    """The port that feeds a thing is of a type that gives its class in full.

    A higher class on a lower type comes up at reduced power: the thing starts, and falls over at its first load.
    Where its stated draw fits what the lower type gives, that is a warning.

    Formula: type of the port >= type that the class needs: 1 to class 3, 2 to class 4, 3 to class 6, 4 to class 8.

    Source: IEEE 802.3-2018 clause 33, IEEE 802.3bt-2018 clause 145; class table of an Ethernet Alliance overview,
    April 2018.
    """
    if feed.klass is None or feed.pse_type is None or feed.pse_type >= poe.type_needed(feed.klass):
        return
    given = poe.pse(feed.pse_type)
    wanted = poe.poe_class(feed.klass)
    level: Level = "warning" if feed.stated and feed.pd_watts <= given.pd_watts + _NEAR else "error"
    says = (
        f"PoE class {feed.klass} of {feed.thing.id} means up to {show(wanted.pd_watts, 'W')}; "
        f"the port is type {feed.pse_type} and brings {show(given.pd_watts, 'W')}"
    )
    words, edits = _elsewhere(feed.port, feed.line, poe.type_needed(feed.klass), switch_ports, port_offers)
    yield Finding(
        level,
        feed.thing,
        says,
        found=Measure(wanted.pd_watts, "W"),
        allowed=Measure(given.pd_watts, "W"),
        remedy=words,
        edits=edits,
        path=feed.line.path,
        related=[(_port(feed.port), "the port")],
    )


def _port(port: PortPoint) -> Any:
    """Return where a port stands in the plan: its own table, or its switch where a part describes it."""
    return port.spec.path if port.spec.path[:2] == port.thing.path else port


def _elsewhere(
    port: PortPoint, line: Any, need: int, switch_ports: list[SwitchPorts], offers: PortOffers
) -> tuple[str, tuple[Edit, ...]]:
    """Return where a thing with a class could be plugged instead, in words and as an edit."""
    if id(line) in offers.moves:
        key, name = offers.moves[id(line)]
        return f"free and of type {need} or above: {name}", (Put(key, name),)
    fit = [name for name, spec in _free(port, switch_ports) if suits(spec, need)]
    if fit:
        return f"free ports of type {need} or above: {listed(fit)}", ()
    return f"use a switch with ports of type {need}, or feed it otherwise; no free port here would do", ()


def _free(port: PortPoint, switch_ports: list[SwitchPorts]) -> list[tuple[str, Any]]:
    """Return the free ports of the switch that a port belongs to, by name and with their figures."""
    return next((p.free for p in switch_ports if p.switch is port.thing), [])


def _passive_elsewhere(feed: PoeFeed, switch_ports: list[SwitchPorts]) -> str:
    """Return where a thing that takes passive PoE could be plugged instead."""
    fit = [name for name, spec in _free(feed.port, switch_ports) if spec.poe == "passive"]
    if fit:
        return f"free and passive: {listed(fit)}"
    return "put a passive feed of its volts in its cable, or feed it otherwise; no free port here is passive"


_SWITCH = """
[[switch]]
id = "sw"
poe_budget = "{}"
[[switch.port]]
id = "1 .. 4"
poe = "type 1"
[[switch.port]]
id = "5 .. 12"
poe = "type 2"
[[switch.port]]
id = "13 .. 14"
"""
_BIG = _SWITCH.format("400 W")
_CAM = '[[appliance]]\nid = "{}"\npoe = "class {}"\nport = "{}"\n'
_BRICK = '[[feed]]\nid = "brick"\nvolts = "5 V"\n'
_PAS = """
[[switch]]
id = "sw"
[[switch.port]]
id = "1 .. 2"
speed = "{0}"
poe = "passive"
{1}
[[switch.port]]
id = "3 .. 4"
speed = "{0}"
[[switch.port]]
id = "5"
poe = "type 2"
"""
_24V = _PAS.format("100 Mbit/s", 'poe_volts = "24 V"\npoe_pins = "4,5,7,8"')
_RADIO = '[[appliance]]\nid = "r1"\npoe = "passive"\npeak = "8 W"\nport = "sw.{}"\n'
_TAKES = 'poe_volts = "20 V .. 28 V"\n'

cases(
    type_too_low,
    clean=[
        _BIG + _CAM.format("c1 .. c4", 3, "sw.1 .. sw.4"),
        _BIG + _CAM.format("c1", 4, "sw.5"),
        _BIG + _CAM.format("c1", 0, "sw.1"),
    ],
    flagged=[
        Case(_BIG + _CAM.format("c1", 4, "sw.4"), at="c1", found="25.5 W", level="error",
             mended=_BIG + _CAM.format("c1", 4, "sw.5")),
        Case(_BIG + _CAM.format("c1 .. c3", 4, "sw.1 .. sw.3"), at="c1 .. c3", level="error",
             mended=_BIG + _CAM.format("c1 .. c3", 4, "sw.5 .. sw.7")),
        Case(_BIG + _CAM.format("c1", 5, "sw.5"), found="40 W"),
        Case(_BIG + _CAM.format("c1", 4, "sw.1") + 'peak = "12.95 W"\n', level="warning"),
        Case(_BIG + _CAM.format("c1", 4, "sw.1") + 'peak = "13 W"\n', level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="poe_feeds")
def not_a_poe_port(
    feed: PoeFeed,
    switch_ports: list[SwitchPorts],
    port_offers: PortOffers,
    link_speeds: dict[int, LinkSpeed],
) -> Iterator[Finding]:
    """What takes its power by its data cable alone is plugged into a port that feeds PoE.

    It stays dark otherwise. A port feeds PoE where its switch says so: poe = "type 1" to "type 4", or "passive".

    Source: IEEE 802.3-2018 clause 33.
    """
    if feed.fed or feed.port.spec.poe is not None:
        return  # a port that feeds in the other way: `never_answers` and `asks_first` have these
    if len(feed.port.links) > 1 or not link_speeds[id(feed.line)].kinds:
        return  # plugged in wrongly: `ports.double_booked` and `cables.plug` have these
    edits: tuple[Edit, ...] = ()
    if feed.klass is None:
        words = _passive_elsewhere(feed, switch_ports)
    else:
        words, edits = _elsewhere(
            feed.port, feed.line, poe.type_needed(feed.klass), switch_ports, port_offers
        )
    yield Finding(
        "error",
        feed.thing,
        f"PoE is the only power written for {feed.thing.id}, and the port feeds none",
        found="no PoE",
        allowed="passive" if feed.klass is None else f"type {poe.type_needed(feed.klass)}",
        remedy=words,
        edits=edits,
        path=feed.line.path,
        related=[(_port(feed.port), "the port")],
    )


cases(
    not_a_poe_port,
    clean=[
        _BIG + _CAM.format("c1", 3, "sw.4"),
        _BRICK + _BIG + _CAM.format("c1", 3, "sw.13") + 'from = "brick"\n',
        '[[switch]]\nid = "sw"\nports = 4\npoe_budget = "60 W"\n' + _CAM.format("c1", 3, "sw.1"),
        _24V + _RADIO.format(1),
        _24V + _CAM.format("c1", 3, "sw.1"),  # a port that feeds, but in another way
        _BRICK + _24V + _RADIO.format(3) + 'from = "brick"\n',
    ],
    flagged=[
        Case(_24V + _RADIO.format(3), at="r1", found="no PoE", level="error", mended=_24V + _RADIO.format(1)),
        Case(
            _BIG + _CAM.format("c1", 3, "sw.13"),
            at="c1",
            level="error",
            mended=_BIG + _CAM.format("c1", 3, "sw.1"),
        ),
        Case(
            '[[switch]]\nid = "sw"\nports = 4\n' + _CAM.format("c1 .. c2", 3, "sw.1 .. sw.2"), at="c1 and c2"
        ),
    ],
)


@rule(level="error", over="poe_feeds")
def beyond_class(feed: PoeFeed) -> Iterator[Finding]:
    """A thing draws no more than its PoE class allows.

    A port that gives more than its reservation is switched off. What takes its power by PoE and feeds others by PoE
    takes theirs as well, and what its step-up loses.

    Source: conservation of energy; class table of IEEE 802.3bt-2018 clause 145, power at the thing; switch guides for
    what a port does.
    """
    if not feed.fed or feed.klass is None or not (feed.stated or feed.handed):
        return
    most = poe.poe_class(feed.klass).pd_watts
    if feed.pd_watts <= most + _NEAR:
        return
    figure = {"measured": "its reading at work", "peak": "its peak"}.get(feed.stated, "no figure of its own")
    if feed.handed and feed.stated != "measured":
        figure += f", and {show(feed.handed, 'W')} for what it feeds by PoE"
    yield Finding(
        "error",
        feed.thing,
        f"draw of {feed.thing.id}: {show(feed.pd_watts, 'W')}, but PoE class {feed.klass} allows {show(most, 'W')}",
        found=Measure(feed.pd_watts, "W"),
        allowed=Measure(most, "W"),
        because=f"the figure is {figure}",
        remedy="give it the class its label says, or another supply",
        place="poe",
    )


_ON = """
[[switch]]
id = "b"
poe = "class 3"
peak = "7 W"
poe_efficiency = "100 %"
[[switch.port]]
id = "0"
to = "sw.{}"
[[switch.port]]
id = "1 .. 2"
poe = "type 1"
"""

cases(
    beyond_class,
    clean=[
        _BIG + _ON.format(1) + _CAM.format("c1", 1, "b.1"),
        _BIG + _CAM.format("c1", 3, "sw.1") + 'peak = "12.95 W"\n',
        _BIG
        + _CAM.format("c1", 3, "sw.1")
        + 'peak = "13 W"\nmeasured = [{ state = "busy", draw = "9 W" }]\n',
    ],
    flagged=[
        Case(_BIG + _CAM.format("c1", 3, "sw.1") + 'peak = "13 W"\n', at="c1", found="13 W"),
        Case(
            _BIG + _CAM.format("c1", 2, "sw.1") + 'measured = [{ state = "busy", draw = "6.5 W" }]\n',
            found="6.5 W",
        ),
        # 7 W of its own, and what a class 2 thing takes at the port at its most, behind 20 ohm of 44 V
        Case(_BIG + _ON.format(1) + _CAM.format("c1", 2, "b.1"), at="b", found="13.996 W"),
        Case(
            _BIG + _ON.format(1).replace('peak = "7 W"\n', "") + _CAM.format("c1", 3, "b.1"),
            at="b",
            found="15.4 W",
        ),
    ],
)


@rule(level="error", over="poe_feeds")
def port_watts(feed: PoeFeed) -> Iterator[Finding]:
    """No port is asked for more than its own maximum.

    Some switches cap a port below what its type allows. Where the switch reserves by class, a class above the cap
    may be refused even if the thing draws less, which is a warning.

    Formula: watts at the port = V I, with I = (V - sqrt(V^2 - 4 R P)) / (2 R), P at the thing, R of the cable and V
    the lowest of the type, or those of a passive port.

    Source: constant-power load behind a resistance; lowest volts of IEEE 802.3 clauses 33 and 145.
    """
    cap = feed.port.spec.poe_watts
    if cap is None or not feed.fed or feed.drawn is None or feed.drawn > feed.reserved + _NEAR:
        return
    by_class = getattr(feed.port.thing, "poe_reserves", None) != "draw"
    if feed.drawn > cap + _NEAR:
        says = f"PoE of {feed.thing.id} comes to {show(feed.drawn, 'W')}; its port gives {show(cap, 'W')} at most"
        because = f"{show(feed.pd_watts, 'W')} at its end, {show(feed.drawn - feed.pd_watts, 'W')} lost in the cable"
        yield _capped("error", feed, says, feed.drawn, cap, because)
    elif by_class and feed.reserved > cap + _NEAR:
        says = (
            f"class {feed.klass} of {feed.thing.id} reserves {show(feed.reserved, 'W')}, "
            f"and the port gives {show(cap, 'W')} at most"
        )
        yield _capped("warning", feed, says, feed.reserved, cap, "the switch reserves by class")


def _capped(level: Level, feed: PoeFeed, says: str, watts: float, cap: float, because: str) -> Finding:
    return Finding(
        level,
        feed.thing,
        says,
        found=Measure(watts, "W"),
        allowed=Measure(cap, "W"),
        because=because,
        remedy="use a port with a higher maximum",
        path=feed.line.path,
        related=[(_port(feed.port), "the port")],
    )


_CAP = '[[switch]]\nid = "sw"\n{}[[switch.port]]\nid = "1"\npoe = "type 2"\npoe_watts = "{}"\n'

cases(
    port_watts,
    clean=[
        _CAP.format("", "15.4 W") + _CAM.format("c1", 3, "sw.1"),
        _CAP.format('poe_reserves = "draw"\n', "10 W") + _CAM.format("c1", 3, "sw.1") + 'peak = "9 W"\n',
    ],
    flagged=[
        Case(_CAP.format("", "13 W") + _CAM.format("c1", 3, "sw.1"), at="c1", found="13.919 W", level="error"),
        Case(_CAP.format("", "10 W") + _CAM.format("c1", 3, "sw.1") + 'peak = "9 W"\n', found="15.4 W", level="warning",
             mended=_CAP.format("", "15.4 W") + _CAM.format("c1", 3, "sw.1") + 'peak = "9 W"\n'),
        Case(_CAP.format('poe_reserves = "draw"\n', "9 W") + _CAM.format("c1", 3, "sw.1") + 'peak = "9 W"\n',
             found="9.446 W", level="error"),
        Case(_24V.replace('"24 V"', '"24 V"\npoe_watts = "8 W"') + _RADIO.format(1) + 'cable = "cat 6, 30 m"\n',
             at="r1", found="8.34 W", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="poe_budgets")
def budget(total: PoeBudget) -> Iterator[Finding]:
    """All PoE of a switch together stays within its budget less the reserve.

    Ports times port maximum is often twice the budget. What comes last finds no power: ports are served by their
    priority, then by their number. Where the switch can count what is drawn instead of the class, more fits.

    Formula: sum over the ports <= budget (1 - reserve); by class the watts that each class sets aside, by draw the
    watts at the thing plus the loss in its cable, which is also what counts where there is no class.

    Source: class reservation of switch guides: 15.4, 4, 7, 15.4 and 30 W for classes 0 to 4; IEEE 802.3bt-2018 for 5
    to 8; order by priority and port of switch manuals. The reserve is common practice.
    """
    if total.budget is None or total.limit is None or total.counts <= total.limit + _NEAR:
        return
    over = total.counts > total.budget + _NEAR
    if total.dark and not over:
        return  # `guard` has these
    allowed = total.budget if over else total.limit
    parts = [_share(*row) for row in sorted(total.by_class.items(), key=lambda row: (row[0] is None, row[0]))]
    by_draw = total.mode == "draw" or set(total.by_class) == {None}
    way = "by what is drawn" if by_draw else "reserved by class"
    guessed = sum(1 for feed in total.feeds if not feed.stated and feed.klass is not None)
    if total.mode == "draw" and guessed:
        parts.append(f"{guessed} of them counted at the most of their class")
    dark = listed(dict.fromkeys(feed.thing.id for feed in total.dark))
    yield Finding(
        "error" if over else "warning",
        total.switch,
        f"PoE of {total.switch.id} comes to {show(total.counts, 'W')} of {show(total.budget, 'W')}, {way}",
        found=Measure(total.counts, "W"),
        allowed=Measure(allowed, "W"),
        because=", ".join(parts) + (f"; by priority and port {dark} would stay dark" if dark else ""),
        remedy="feed some of them otherwise, or use a switch with a larger budget" + _by_draw(total, allowed),
        place=("poe_budget", "part"),
    )


def _share(klass: int | None, taken: tuple[int, float]) -> str:
    number, watts = taken
    return f"{number} × {'passive' if klass is None else f'class {klass}'}: {show(watts, 'W')}"


def _by_draw(total: PoeBudget, allowed: float) -> str:
    """Return the advice to look for a setting, where what is drawn would fit."""
    if total.by_draw is None or total.by_draw > allowed + _NEAR:
        return ""
    guessed = sum(1 for feed in total.feeds if not feed.stated)
    most = f", {guessed} of them at the most of their class" if guessed else ""
    return (
        f"; drawn at the ports are {show(total.by_draw, 'W')}{most}: look whether the switch has a setting that counts "
        'this (poe_reserves = "draw")'
    )


_EVEN = _SWITCH.format("61.6 W") + _CAM.format("c1 .. c4", 3, "sw.1 .. sw.4")
_NONE = '[plan]\nreserve = "0 %"\n'
_THREE = '[[switch]]\nid = "sw"\npoe_budget = "{}"\n{}[[switch.port]]\nid = "1 .. 3"\npoe = "type 2"\n'
_THREE += _CAM.format("c1 .. c3", 4, "sw.1 .. sw.3") + 'peak = "{}"\ncable = "cat 6, 30 m"\n'
_FULL = '[[switch]]\nid = "sw"\npoe_budget = "130 W"\n[[switch.port]]\nid = "1 .. 8"\npoe = "type 2"\n'

cases(
    budget,
    clean=[
        _NONE + _EVEN,
        _SWITCH.format("77 W") + _CAM.format("c1 .. c4", 3, "sw.1 .. sw.4"),  # 61.6 W is 80 % of 77 W
    ],
    flagged=[
        Case(
            _SWITCH.format("76.9 W") + _CAM.format("c1 .. c4", 3, "sw.1 .. sw.4"),
            found="61.6 W",
            level="warning",
        ),
        Case(_EVEN, at="sw", found="61.6 W", level="warning"),
        Case(_SWITCH.format("61.5 W") + _CAM.format("c1 .. c4", 3, "sw.1 .. sw.4"), level="error"),
        # A switch guide: 130 W shared by 8 ports of 30 W; 240 W would be needed.
        Case(_FULL + _CAM.format("c1 .. c8", 4, "sw.1 .. sw.8"), at="sw", found="240 W", level="error"),
        Case(
            '[[switch]]\nid = "sw"\npoe_budget = "10 W"\npoe_reserves = "draw"\n[[switch.port]]\nid = "1"\n'
            'poe = "type 1"\n' + _CAM.format("c1", 3, "sw.1") + 'peak = "10 W"\n',
            found="11.325 W",
            level="error",
        ),
        # 20 W behind 2.814 ohm take 20.474 W of 50 V: three are 61.4 W of 77 W, and 90 W by class
        Case(_THREE.format("77 W", "", "20 W"), at="sw", found="90 W", level="error",
             mended=_THREE.format("77 W", 'poe_reserves = "draw"\n', "20 W")),
        Case(_24V.replace('"sw"', '"sw"\npoe_budget = "8.3 W"') + _RADIO.format(1) + 'cable = "cat 6, 30 m"\n',
             found="8.34 W", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="poe_budgets")
def guard(total: PoeBudget) -> Iterator[Finding]:
    """Whoever comes last still finds as much PoE power left as the switch wants before it feeds one more.

    Some switches start nothing new when little is left, even if the new thing asks for less than that.

    Formula: budget - what those served before take >= guard, by priority and then by port number.

    Source: PoE chapters of switch manuals, which print 7 W and 17 W.
    """
    least = total.switch.poe_guard
    if least is None or total.budget is None or not total.dark or total.counts > total.budget + _NEAR:
        return
    first = total.dark[0]
    before = total.feeds[: total.feeds.index(first)]
    left = total.budget - sum(total.asks(feed) for feed in before)
    dark = listed(dict.fromkeys(feed.thing.id for feed in total.dark))
    yield Finding(
        "error",
        total.switch,
        f"{show(left, 'W')} of the PoE of {total.switch.id} are left when it comes to {first.thing.id}; "
        f"it feeds one more only while {show(least, 'W')} are",
        found=Measure(left, "W"),
        allowed=Measure(least, "W"),
        because=f"served by priority and port; {dark} would stay dark, {show(total.asks(first), 'W')} asked for by "
        f"{first.thing.id}",
        remedy="feed some of them otherwise, or use a switch with a larger budget"
        + _by_draw(total, total.budget),
        place=("poe_guard", "poe_budget", "part"),
        related=[(_port(first.port), "the first that stays dark")],
    )


_GUARD = '[[switch]]\nid = "sw"\npoe_budget = "{}"\npoe_guard = "{}"\n[[switch.port]]\nid = "1 .. 4"\npoe = "type 2"\n'
_FOUR = _CAM.format("c1 .. c3", 3, "sw.1 .. sw.3") + _CAM.format("c4", 1, "sw.4")

cases(
    guard,
    clean=[
        _GUARD.format("53.2 W", "7 W") + _FOUR,  # 53.2 W less 3 x 15.4 W are 7 W
        _GUARD.format("49.9 W", "7 W") + _FOUR,  # 50.2 W asked for: `budget` has it
        _THREE.format("95 W", "", "20 W"),
    ],
    flagged=[
        Case(_GUARD.format("53.1 W", "7 W") + _FOUR, at="c4", found="6.9 W", level="error",
             mended=_GUARD.format("53.1 W", "6.9 W") + _FOUR),
        Case(_GUARD.format("60 W", "17 W") + _FOUR, at="c4", found="13.8 W", level="error"),
        Case(_GUARD.format("65 W", "50 W") + _FOUR, at="c2", found="49.6 W", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="poe_feeds")
def cable_loss(feed: PoeFeed, link_speeds: dict[int, LinkSpeed]) -> Iterator[Finding]:
    """The cable brings a thing the volts and watts that its class asks for.

    The power a cable loses grows with the square of the current, and a thing of constant power answers lower
    volts with more current. Judged at the lowest volts its port may give, where length or category is stated.

    Formula: V - I R at the thing, with I = (V - sqrt(V^2 - 4 R P)) / (2 R) and R the ohms of one conductor of that
    length (a pair set is two in parallel out and two back), half of it from class 5 on.

    Source: IEEE 802.3 clauses 33 and 145: 37 V at the thing on type 1, 42.5 V on types 2 and 3, 41.1 V on type 4;
    category 3 for type 1, category 5 for the others.
    """
    cable = feed.line.cable
    if not feed.fed or cable is None or feed.klass is None:
        return
    need = poe.type_needed(feed.klass)
    if (feed.pse_type or need) < need or feed.pd_watts > poe.poe_class(feed.klass).pd_watts + _NEAR:
        return  # `type_too_low` and `beyond_class` have these
    if _reach(feed, link_speeds) is not None:
        return  # `ports.cable_speed` has it; a cable that carries its speed brings a class what it needs
    own = poe.pse(need)
    if cable.category is not None and not _as_good_as(cable.category, own.category):
        says = f"the cable of {feed.thing.id} is category {cable.category}; class {feed.klass} needs {own.category}"
        yield Finding("error", feed.thing, says, found=f"category {cable.category}", path=cable_path(feed.line),
                      remedy=f"take category {own.category} or better")  # fmt: skip
        return
    if cable.length is None:
        return
    short = feed.pd_volts is not None and feed.pd_volts < own.pd_volts_min - _NEAR
    # The published class table is rounded: at the worst channel of its type class 5 takes 45.08 W, not 45 W.
    if feed.drawn is not None and not short and feed.drawn <= feed.reserved + 0.1:
        return
    name, behind = (
        feed.thing.id,
        f"{show(cable.length, 'm')} of cable ({show(feed.loop_ohms, 'ohm')} out and back)",
    )
    if feed.drawn is None or feed.pd_volts is None:
        says = f"{behind} cannot bring {show(feed.pd_watts, 'W')} to {name} at any current"
        found, allowed = Measure(feed.pd_watts, "W"), None
    elif short:
        least = show(own.pd_volts_min, "V")
        says = f"{show(feed.pd_volts, 'V')} arrive at {name} behind {behind}; {least} is the least"
        found, allowed = Measure(feed.pd_volts, "V"), Measure(own.pd_volts_min, "V")
    else:
        says = f"PoE for {name} takes {show(feed.drawn, 'W')} at the port before {behind}; its class reserves less"
        found, allowed = Measure(feed.drawn, "W"), Measure(feed.reserved, "W")
    remedy = "shorten the cable, or take thicker conductors (category 6A)"
    yield Finding(
        "error", feed.thing, says, found=found, allowed=allowed, remedy=remedy, path=cable_path(feed.line)
    )


def _reach(feed: PoeFeed, speeds: dict[int, LinkSpeed]) -> float | None:
    """Return how far [m] the cable of a thing carries the speed of its link, where it is longer or carries none."""
    cable, link = feed.line.cable, speeds[id(feed.line)]
    if cable is None or link.most is None or copper.speed_name(link.most) is None:
        return None
    reach = _longest(link.most, cable.category or copper.CATEGORIES[-1].name) or 0.0
    return reach if reach == 0 or (cable.length or 0.0) > reach else None


_WIDE = '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1"\npoe = "type {}"\n[[appliance]]\nid = "c1"\nport = "sw.1"\n'
_WIDE += 'poe = "class {}"\ncable = "{}"\n'
_FAR = _BIG + _CAM.format("c1", 4, "sw.5") + 'cable = "{}"\n'

_GIGA = _FAR.replace('id = "5 .. 12"', 'id = "5 .. 12"\nspeed = "1 Gbit/s"')

cases(
    cable_loss,
    clean=[
        _FAR.format("cat 6, 100 m"),
        _FAR.format("cat 5, 133 m"),  # 133 m of 9.38 ohm per 100 m are 12.48 ohm; type 2 allows 12.5 ohm
        _FAR.format("cat 5"),
        _WIDE.format(3, 5, "cat 5, 133 m"),
        _GIGA.format("cat 5e, 134 m"),  # `ports.cable_speed` has these
        _GIGA.format("cat 3"),
        _WIDE.format(4, 8, "cat 5, 133 m"),
        _BIG + _CAM.format("c1", 4, "sw.1") + 'peak = "20 W"\ncable = "cat 5, 200 m"\n',  # the port is the slip
        _BIG + _CAM.format("c1", 3, "sw.1") + 'cable = "cat 3, 100 m"\n',
    ],
    flagged=[
        Case(_FAR.format("cat 5, 134 m"), at="c1", found="42.45 V", level="error",
             mended=_FAR.format("cat 5, 100 m")),
        Case(_FAR.format("cat 3"), at="c1", found="category 3"),
        Case(_GIGA.replace("1 Gbit/s", "10 Mbit/s").format("cat 3, 50 m"), found="category 3"),
        Case(_FAR.format("cat 6, 300 m"), found="25.5 W"),
    ],
)  # fmt: skip


@rule(level="error", over="poe_budgets")
def budget_missing(total: PoeBudget) -> Iterator[Finding]:
    """A switch that feeds PoE says how much it can give, and which type its ports are.

    Neither follows from the other: eight ports of 30 W are sold with budgets from 60 W to 240 W.
    """
    if total.budget is not None and not any(feed.assumed for feed in total.feeds):
        return
    takers = listed(feed.thing.id for feed in total.feeds)
    way = "" if set(total.by_class) == {None} else " by class"
    says = f"PoE for {takers} comes to {show(total.reserved, 'W')}{way}, and {total.switch.id} does not say "
    if total.budget is None:
        remedy = 'say it: poe_budget = "65 W"'
        yield Open("error", total.switch, says + "how much it can give", ["poe_budget"], remedy=remedy)
    else:
        remedy = 'describe them: [[switch.port]] id = "1 .. 8", poe = "type 2"'
        yield Open("error", total.switch, says + "which type its ports are", ["poe"], remedy=remedy)


_BARE = '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1 .. 4"\npoe = "type 1"\n'

cases(
    budget_missing,
    clean=[_BIG + _CAM.format("c1", 3, "sw.1"), _BARE],
    flagged=[
        Case(_BARE + _CAM.format("c1", 3, "sw.1"), at="sw", kind="open"),
        Case(
            '[[switch]]\nid = "sw"\nports = 4\npoe_budget = "60 W"\n' + _CAM.format("c1", 3, "sw.1"),
            kind="open",
        ),
    ],
)


@rule(level="warning", over="poe_feeds")
def two_sources(feed: PoeFeed) -> Iterator[Finding]:
    """A board on a PoE port has no second supply that could meet it.

    No standard settles what a board does with two. Where the inlet does not block what comes back, the PoE
    converter of the board feeds the other supply, or is fed by it; and the switch still reserves the class.
    """
    inlet = feed.other
    if (
        inlet is None
        or not feed.fed
        or inlet.spec.backfeed == "blocked"
        or getattr(feed.thing, "use", None) == "or-ed"
    ):
        return
    yield Review(
        feed.thing,
        f"{inlet.source} and PoE of {feed.port.thing.id} feed {feed.thing.id} at once",
        because="nothing says that its inlet blocks what comes back, or that its supplies are or-ed",
        remedy='switch PoE off on that port, or say what protects it: backfeed = "blocked" or use = "or-ed"',
        path=inlet.path,
        related=[(feed.line.path, "the PoE port")],
    )


_BOTH = _BRICK + _BIG + '[[node]]\nid = "n1"\npoe = "class 4"\nport = "sw.{}"\nfrom = "brick"\n'

cases(
    two_sources,
    clean=[_BOTH.format(13), _BOTH.format(5) + 'backfeed = "blocked"\n', _BIG + _CAM.format("c1", 3, "sw.1")],
    flagged=[Case(_BOTH.format(5), at="n1", kind="review", mended=_BOTH.format(13))],
)


@rule(level="error", over="poe_rings")
def ring(ring: list[PoeFeed]) -> Iterator[Finding]:
    """What gives PoE has power itself, from a feed or from a PoE port that has.

    Two switches that take their power by PoE from each other start neither: no power ever enters.

    Source: conservation of energy.
    """
    names = [feed.thing.id for feed in ring]
    yield Finding(
        "error",
        ring[0].thing,
        f"{' takes PoE from '.join([*names, names[0]])}: no power ever enters this ring",
        remedy=f"feed {names[0]} from a feed, or from a PoE port outside the ring",
        path=ring[0].line.path,
        subjects=tuple(names),
        related=[(feed.line.path, f"the cable that feeds {feed.thing.id}") for feed in ring[1:]],
    )


_PAIR = (
    '[[switch]]\nid = "a"\npoe = "class 4"\n{}[[switch.port]]\nid = "1 .. 4"\npoe = "type 2"\n'
    '[[switch]]\nid = "b"\npoe = "class 4"\n[[switch.port]]\nid = "1 .. 4"\npoe = "type 2"\n'
    '[[link]]\nfrom = "a.1"\nto = "b.1"\n'
)

cases(
    ring,
    clean=[_BRICK + _PAIR.format('from = "brick"\n'), _BIG + _CAM.format("c1 .. c2", 3, "sw.1 .. sw.2")],
    flagged=[
        Case(
            _BRICK + _PAIR.format(""),
            at="a takes PoE from b takes PoE from a",
            level="error",
            mended=_BRICK + _PAIR.format('from = "brick"\n'),
        )
    ],
)


@rule(level="error", over="poe_feeds")
def outlets(feed: PoeFeed) -> Iterator[Finding]:
    """What hangs on the outlets of a board that lives on PoE is in its figure.

    The port gives what the class allows to the board and all that hangs on it, and no more. A reading at work has
    it all; a peak from a sheet is that of the bare board.
    """
    if not feed.fed or feed.other is not None or feed.stated == "measured":
        return
    takers = [taker.thing.id for outlet in feed.thing.outlets for taker in outlet.takers]
    if takers:
        most = "power" if feed.klass is None else show(poe.poe_class(feed.klass).pd_watts, "W")
        of = (
            "the peak of the board does not say whether that is in it"
            if feed.stated
            else "what it takes is in no sum"
        )
        yield Open(
            "error",
            feed.thing,
            f"the {most} that PoE brings to {feed.thing.id} must do for its outlets too",
            [f"{feed.thing.id} measured"],
            because=f"{listed(dict.fromkeys(takers))} hangs there, and {of}",
            remedy='measure the board with all of it at work: [[....measured]] state = "busy", draw = "9 W"',
            place=("outlet", "poe"),
        )


_USB = (
    _BIG
    + '[[node]]\nid = "n1"\npoe = "class 4"\nport = "sw.5"\npeak = "9 W"\n{}[[node.outlet]]\nid = "usb"\n'
)
_USB += 'volts = "5 V"\n'
_DISK = '[[fan]]\nid = "f1"\nfrom = "n1.usb"\npeak = "1 A"\n'
_READ = 'measured = [{ state = "busy", draw = "14 W" }]\n'

cases(
    outlets,
    clean=[_USB.format(""), _USB.format(_READ) + _DISK, _BRICK + _USB.format('from = "brick"\n') + _DISK],
    flagged=[
        Case(_USB.format("") + _DISK, at="n1", kind="open", mended=_USB.format(_READ) + _DISK),
        Case(_USB.format("").replace('peak = "9 W"\n', "") + _DISK, at="n1", kind="open"),
    ],
)


@rule(level="error", over="poe_feeds")
def passed_on(feed: PoeFeed) -> Iterator[Finding]:
    """What lives on PoE and feeds others by PoE says what it draws itself, and how much its step-up loses.

    Its class must do for itself and for all of them.

    Source: conservation of energy.
    """
    if not feed.handed or feed.stated == "measured":
        return
    if feed.klass is not None and feed.pd_watts > poe.poe_class(feed.klass).pd_watts + _NEAR:
        return  # `beyond_class` has it: more than is known would only make it worse
    lacks = (
        [] if feed.stated or feed.klass is None else ["peak"]
    )  # without a class `passive_volts` asks for the peak
    lacks += [] if getattr(feed.thing, "poe_efficiency", None) else ["poe_efficiency"]
    if lacks:
        yield Open(
            "error",
            feed.thing,
            f"{show(feed.handed, 'W')} or more of the PoE for {feed.thing.id} go on to other things; whether the rest "
            "will do is not known",
            [f"{feed.thing.id} {key}" for key in lacks],
            remedy=" and ".join(f'{key} = "..."' for key in lacks)
            + ", or a reading at work with all of it fed",
            place="poe",
        )


_LESS = _ON.format(1).replace('poe_efficiency = "100 %"\n', "")

cases(
    passed_on,
    clean=[
        _BIG + _ON.format(1) + _CAM.format("c1", 1, "b.1"),
        _BIG + _LESS + _CAM.format("c1", 2, "b.1"),  # 14 W of 12.95 W without any loss
        _BIG + _LESS,
    ],
    flagged=[
        Case(
            _BIG + _LESS + _CAM.format("c1", 1, "b.1"),
            at="b",
            kind="open",
            mended=_BIG + _ON.format(1) + _CAM.format("c1", 1, "b.1"),
        ),
        Case(
            _BIG + _ON.format(1).replace('peak = "7 W"\n', "") + _CAM.format("c1", 1, "b.1"),
            at="b",
            kind="open",
        ),
    ],
)


# --- passive: volts that come unasked --------------------------------------------------------------------------------


def _volts_of(port: PortPoint) -> str:
    """Return what a passive port puts on which pins, in words."""
    volts = "volts that are not stated" if port.spec.poe_volts is None else show(port.spec.poe_volts, "V")
    return (
        f"{volts} on pins {port.spec.poe_pins}"
        if port.spec.poe_pins
        else f"{volts} on pins that are not stated"
    )


@rule(level="error", over="passive_ends")
def asks_first(
    end: PassiveEnd, switch_ports: list[SwitchPorts], port_offers: PortOffers
) -> Iterator[Finding]:
    """A thing with a PoE class hangs on a port that asks before it feeds.

    It waits to be detected and classed. Volts that come without that may leave it dark, and may destroy it where they
    are beyond what its type allows.

    Source: IEEE 802.3-2018 clause 33 for detection; that passive feeds do without is common practice.
    """
    klass = class_of(end.meets.thing) if end.meets is not None else None
    if end.meets is None or klass is None or end.meets.spec.poe is not None:
        return
    need = poe.type_needed(klass)
    words, edits = _elsewhere(end.port, end.line, need, switch_ports, port_offers)
    yield Finding(
        "error",
        end.meets.thing,
        f"PoE class {klass} of {end.meets.thing.id} waits to be asked; the port puts {_volts_of(end.port)} unasked",
        found="passive",
        allowed=f"type {need}",
        remedy=words,
        edits=edits,
        path=end.line.path,
        related=[(_port(end.port), "the port")],
    )


cases(
    asks_first,
    clean=[_24V + _CAM.format("c1", 3, "sw.5"), _24V + _RADIO.format(1), _24V + _CAM.format("c1", 3, "sw.3")],
    flagged=[
        Case(_24V + _CAM.format("c1", 3, "sw.1"), at="c1", found="passive", level="error", edits=True,
             mended=_24V + _CAM.format("c1", 3, "sw.5")),
        Case(_BRICK + _24V + _CAM.format("c1", 3, "sw.1") + 'from = "brick"\n', at="c1", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="passive_ends")
def unasked(end: PassiveEnd, switch_ports: list[SwitchPorts]) -> Iterator[Finding]:
    """Volts that come unasked reach only what takes them.

    They drive a current through the transformers of a port and the resistors that end its pairs, which a port that was
    not made for it need not stand. Two ports that feed the same cable feed each other.

    Source: common practice; pins by IEEE 802.3 table 145-3, as quoted in the documentation of a kernel.
    """
    meets = end.meets
    if len(end.port.links) > 1:
        return  # `ports.double_booked` says that one of them goes elsewhere
    if meets is None:
        yield _leaving(end)
        return
    feeds = meets.spec.poe
    if feeds is None and meets.thing.poe is not None:
        return
    if feeds == "passive" and end.port is not end.line.a:
        return  # told from the other end
    says = (
        f"{meets.thing.id} never asked for power by the data cable; the port puts {_volts_of(end.port)}"
        if feeds is None
        else f"{end.port} puts {_volts_of(end.port)}, and {meets} feeds the same cable ({feeds})"
    )
    free = [name for name, spec in _free(end.port, switch_ports) if spec.poe is None]
    remedy = (
        "" if not free else f"free and without PoE: {listed(free)}; or "
    ) + "switch PoE off on that port"
    yield Finding(
        "error",
        meets.thing,
        says,
        found=None if end.port.spec.poe_volts is None else Measure(end.port.spec.poe_volts, "V"),
        allowed="no volts",
        remedy=remedy + ("" if feeds else '; if power is wanted there, say so: poe = "passive"'),
        path=end.line.path,
        related=[(_port(end.port), "the port")],
    )


def _leaving(end: PassiveEnd) -> Finding:
    return Review(
        end.line,
        f"{end.port} puts {_volts_of(end.port)}, and {end.line.outside} is not of this plan",
        because="nothing says whether what stands there takes them",
        remedy="look it up before you plug it in",
        path=end.line.path,
    )


_NODE = '[[node]]\nid = "n1"\nport = "sw.{}"\n'
_OUT = '[[uplink]]\nfrom = "sw.{}"\nto = "the house"\n'
_TWO = _24V + _24V.replace('"sw"', '"ws"') + '[[link]]\nfrom = "sw.{}"\nto = "ws.{}"\n'

cases(
    unasked,
    clean=[
        _24V + _NODE.format(3),
        _24V + _RADIO.format(1),
        _24V + _CAM.format("c1", 3, "sw.1"),
        _24V + _OUT.format(3),
        _TWO.format(3, 3),
    ],
    flagged=[
        Case(_24V + _NODE.format(1), at="n1", found="24 V", level="error", mended=_24V + _NODE.format(3)),
        Case(_TWO.format(1, 3), at="ws", found="24 V"),
        Case(_TWO.format(1, 1), at="ws.1 feeds the same cable", found="24 V"),
        Case(_TWO.format(5, 2), at="sw.5 feeds the same cable (type 2)"),
        Case(_24V + _OUT.format(1), at="the house", kind="review", mended=_24V + _OUT.format(3)),
    ],
)


@rule(level="error", over="poe_feeds")
def never_answers(feed: PoeFeed, switch_ports: list[SwitchPorts]) -> Iterator[Finding]:
    """A thing that takes passive PoE hangs on a port that feeds without asking.

    A port of type 1 to 4 gives power only to what answers its question, and this thing never answers.

    Source: IEEE 802.3-2018 clause 33 for detection.
    """
    if feed.klass is not None or feed.pse_type is None:
        return
    yield Finding(
        "error",
        feed.thing,
        f"a port of type {feed.pse_type} asks before it feeds, and no answer will come from {feed.thing.id}: passive",
        found=f"type {feed.pse_type}",
        allowed="passive",
        remedy=_passive_elsewhere(feed, switch_ports),
        path=feed.line.path,
        related=[(_port(feed.port), "the port")],
    )


cases(
    never_answers,
    clean=[
        _24V + _RADIO.format(1),
        _24V + _RADIO.format(3),
        _BRICK + _24V + _RADIO.format(5) + 'from = "brick"\n',
    ],
    flagged=[
        Case(_24V + _RADIO.format(5), at="r1", found="type 2", level="error", mended=_24V + _RADIO.format(2))
    ],
)


@rule(level="error", over="poe_feeds")
def passive_volts(feed: PoeFeed, link_speeds: dict[int, LinkSpeed]) -> Iterator[Finding]:
    """A passive port brings a thing volts that it works at, through the cable between them.

    No standard sets them: 24 V and 48 V look alike at the plug. With little drawn all of the volts arrive, with the
    most drawn the least. A cable whose length is not stated counts as the longest that carries Ethernet, 100 m of
    12.5 ohm; where only that decides, it is open.

    Formula: V - I R at the thing, with I = (V - sqrt(V^2 - 4 R P)) / (2 R) and R the ohms of one conductor of that
    length (two in parallel out, two back), half of it where all pairs carry power.

    Source: constant-power load behind a resistance; geometry of the pair set.
    """
    if not feed.passive:
        return
    window, most = feed.thing.poe_volts, feed.port.spec.poe_volts
    lacks = [f"{feed.port} poe_volts"] if most is None else []
    lacks += [f"{feed.thing.id} poe_volts"] if window is None else []
    if most is None or window is None:
        yield _not_known(feed, [*lacks, *_draw_lacks(feed)])
        return
    wrong = _wrong_volts(feed, most, *window)
    if wrong is not None:
        if not _told_by_speed(feed, window[0], link_speeds):
            yield wrong
    elif not feed.stated and (lacks := _draw_lacks(feed)):
        yield _not_known(feed, lacks)


def _told_by_speed(feed: PoeFeed, low: float, speeds: dict[int, LinkSpeed]) -> bool:
    """Say whether a cable is too long for its speed, and would bring enough volts if it were not: one slip."""
    reach, cable = _reach(feed, speeds), feed.line.cable
    if not reach or cable is None or not cable.length or feed.volts is None or feed.pd_volts is None:
        return False
    return feed.pd_volts < low <= feed.volts - (feed.volts - feed.pd_volts) * reach / cable.length


def _draw_lacks(feed: PoeFeed) -> list[str]:
    """Return the draw where it is missing; what hangs on a net by its switch is asked for by `rails.figure_missing`."""
    by_net = any(inlet.source is not None for inlet in feed.port.thing.inlets)
    return [] if feed.stated or by_net else [f"{feed.thing.id} peak"]


def _not_known(feed: PoeFeed, lacks: list[str]) -> Finding:
    words = {
        f"{feed.port} poe_volts": 'to the port poe_volts = "24 V"',
        f"{feed.thing.id} poe_volts": 'to the thing poe_volts = "20 V .. 28 V"',
        f"{feed.thing.id} peak": 'the most it draws: peak = "8 W"',
        f"{feed.thing.id} cable": 'the length of its cable: cable = "cat 6, 30 m"',
    }
    return Open(
        "error",
        feed.thing,
        f"whether passive PoE will do for {feed.thing.id} is not known",
        lacks,
        remedy="add " + ", ".join(words[lack] for lack in lacks),
        place="poe",
        related=[(_port(feed.port), "the port")],
    )


def _wrong_volts(feed: PoeFeed, most: float, low: float, high: float) -> Finding | None:
    """Return what is wrong with the volts at a passive thing, or None."""
    name, least = feed.thing.id, feed.pd_volts
    behind = f"behind {show(feed.loop_ohms, 'ohm')} of cable, out and back"
    remedy = "shorten the cable, take thicker conductors (category 6A), or feed it with more volts"
    if most > high + _NEAR or most < low - _NEAR:
        says = f"{show(most, 'V')} of passive PoE reach {name}; {show(low, 'V')} to {show(high, 'V')} are allowed"
        found, remedy = Measure(most, "V"), "feed it with volts that it takes"
    elif not feed.stated or (least is not None and least >= low - _NEAR):
        return None
    elif not feed.cable_known:
        return _not_known(feed, [f"{name} cable"])
    elif least is None:
        says = f"no current brings {name} its {show(feed.pd_watts, 'W')} {behind}, from {show(most, 'V')}"
        found = Measure(feed.pd_watts, "W")
    else:
        says = f"{show(least, 'V')} of passive PoE arrive at {name} {behind}; {show(low, 'V')} is the least"
        found = Measure(least, "V")
    window = f"{show(low, 'V')} .. {show(high, 'V')}"
    return Finding("error", feed.thing, says, found=found, allowed=window, remedy=remedy,
                   path=cable_path(feed.line), related=[(_port(feed.port), "the port")])  # fmt: skip


_FED = _24V + _RADIO.format(1)

cases(
    passive_volts,
    clean=[
        # 0.47382 A through 90 m of 9.38 ohm per 100 m leave 20 V of 24 V: 9.4764 W
        _FED.replace("8 W", "9.47 W") + _TAKES + 'cable = "cat 6, 90 m"\n',
        _FED + _TAKES + 'cable = "cat 6, 106.7 m"\n',  # `ports.cable_speed` has it
        _FED.replace("8 W", "5 W") + _TAKES,  # 100 m of 12.5 ohm leave it 21 V
        _FED.replace("8 W", "0.32 A") + _TAKES,  # 0.32 A through 12.5 ohm
        _FED + 'poe_volts = "20 V .. 24 V"\ncable = "cat 6, 30 m"\n',
        _24V + _RADIO.format(5),
    ],
    flagged=[
        Case(_FED.replace("8 W", "9.48 W") + _TAKES + 'cable = "cat 6, 90 m"\n', at="r1", found="19.998 V",
             level="error", mended=_FED.replace("8 W", "9.48 W") + _TAKES + 'cable = "cat 6, 80 m"\n'),
        Case(_FED + 'poe_volts = "20 V .. 23.9 V"\ncable = "cat 6, 30 m"\n', found="24 V", level="error"),
        Case(_FED + 'poe_volts = "24.1 V .. 57 V"\n', found="24 V", level="error"),
        Case(_FED + 'poe_volts = "9 V .. 28 V"\ncable = "cat 6, 200 m"\n', found="8 W", level="error"),
        Case(_FED + _TAKES, at="r1", kind="open", mended=_FED + _TAKES + 'cable = "cat 6, 50 m"\n'),
        Case(_FED, at="r1", kind="open", mended=_FED + _TAKES + 'cable = "cat 6, 50 m"\n'),
        Case(_FED.replace('poe_volts = "24 V"\n', "") + _TAKES, at="r1", kind="open"),
        Case(_FED.replace('peak = "8 W"\n', "") + _TAKES, at="r1", kind="open"),
    ],
)  # fmt: skip


@rule(level="error", over="passive_ends")
def passive_pins(end: PassiveEnd) -> Iterator[Finding]:
    """Passive volts on pins 4,5,7,8 meet no link of 1 Gbit/s or more.

    At 10 and 100 Mbit/s those pins carry no data, and volts are put on them directly, past the transformers. From
    1000BASE-T on all four pairs carry data, and the two do not go together.

    Source: documentation of a kernel on ports that feed power (IEEE 802.3 table 145-3 for the pins).
    """
    port, meets = end.port, end.meets
    if meets is None or meets.thing.poe != "passive" or meets.spec.poe is not None:
        return  # `unasked` and `asks_first` have these
    pins, speeds = port.spec.poe_pins, [top_of(port.spec), top_of(meets.spec)]
    if pins not in (None, poe.PINS["B"]) or any(speed is not None and speed < _GIGABIT for speed in speeds):
        return
    lacks = [f"{each} speed" for each, speed in zip((port, meets), speeds, strict=True) if speed is None]
    lacks = lacks if pins else [f"{port} poe_pins"]
    if lacks:
        yield Open(
            "error",
            meets.thing,
            f"whether the passive PoE of {meets.thing.id} leaves room for its data is not known",
            lacks,
            because=f"volts put directly on pins {poe.PINS['B']} and 1 Gbit/s do not go together",
            remedy='say which pins carry it: poe_pins = "1,2,3,6", "4,5,7,8" or "all"'
            if not pins
            else 'say how fast its ports are: speed = "..."',
            path=end.line.path,
            related=[(_port(port), "the port")],
        )
        return
    slower = min(speed for speed in speeds if speed is not None)
    yield Finding(
        "error",
        meets.thing,
        f"passive PoE for {meets.thing.id} lies on pins {pins}; its link at {show(slower, 'bit/s')} needs these",
        found=Measure(slower, "bit/s"),
        allowed="100 Mbit/s",
        remedy="use a feed that goes through the transformers (all pins, or 1,2,3,6), or hold the link to 100 Mbit/s",
        path=end.line.path,
        related=[(_port(port), "the port")],
    )


_GIGABIT = 1e9


_FAST = _PAS.format("1 Gbit/s", 'poe_volts = "24 V"\n{}')
_END = (
    '[[appliance]]\nid = "r1"\npoe = "passive"\n[[appliance.port]]\nid = "main"\nto = "sw.{}"\nspeed = "{}"\n'
)
_B = 'poe_pins = "4,5,7,8"\n'

cases(
    passive_pins,
    clean=[
        _FAST.format(_B) + _END.format(1, "100 Mbit/s"),
        _24V + _END.format(1, "1 Gbit/s"),
        _FAST.format('poe_pins = "all"\n') + _END.format(1, "1 Gbit/s"),
        _FAST.format('poe_pins = "1,2,3,6"\n') + _END.format(1, "1 Gbit/s"),
        _FAST.format("") + _END.format(1, "100 Mbit/s"),
        _FAST.format(_B) + _NODE.format(1),
        _FAST.format(_B) + _END.format(3, "1 Gbit/s"),
    ],
    flagged=[
        Case(_FAST.format(_B) + _END.format(1, "1 Gbit/s"), at="r1", found="1 Gbit/s", level="error",
             mended=_FAST.format('poe_pins = "all"\n') + _END.format(1, "1 Gbit/s")),
        Case(_FAST.format(_B) + _END.format(1, "2.5 Gbit/s"), found="1 Gbit/s", level="error"),
        Case(_FAST.format("") + _END.format(1, "1 Gbit/s"), at="r1", kind="open"),
        Case(_FAST.format(_B) + _RADIO.format(1), at="r1", kind="open"),
    ],
)  # fmt: skip

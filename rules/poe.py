"""Power over Ethernet: the port feeds the class, the cable carries it, and the switch has enough for all."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from coldcheck import Case, Finding, Level, Measure, Open, Put, Review, cases, rule
from coldcheck.lan import cable as copper
from coldcheck.lan import poe
from coldcheck.plan.edit import Edit
from coldcheck.plan.quantities import show
from coldcheck.plan.spans import listed
from coldcheck.workings.poe import PoeBudget, PoeFeed
from coldcheck.workings.ports import PortOffers, SwitchPorts, cable_path, suits

#: Sums of tenths of watts are not exact in binary; what fits exactly must fit.
_NEAR = 1e-9

_as_good_as = lru_cache(maxsize=64)(copper.at_least)


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
    need = poe.type_needed(feed.klass)
    if feed.pse_type is None or feed.pse_type >= need:
        return
    given = poe.pse(feed.pse_type)
    wanted = poe.poe_class(feed.klass)
    level: Level = "warning" if feed.stated and feed.pd_watts <= given.pd_watts + _NEAR else "error"
    says = (
        f"PoE class {feed.klass} of {feed.thing.id} means up to {show(wanted.pd_watts, 'W')}; "
        f"the port is type {feed.pse_type} and brings {show(given.pd_watts, 'W')}"
    )
    words, edits = _elsewhere(feed, need, switch_ports, port_offers)
    yield Finding(
        level,
        feed.thing,
        says,
        found=Measure(wanted.pd_watts, "W"),
        allowed=Measure(given.pd_watts, "W"),
        remedy=words,
        edits=edits,
        path=feed.line.path,
        related=[(_port(feed), "the port")],
    )


def _port(feed: PoeFeed) -> Any:
    """Return where the port stands in the plan: its own table, or its switch where a part describes it."""
    spec = feed.port.spec
    return spec.path if spec.path[:2] == feed.port.thing.path else feed.port


def _elsewhere(
    feed: PoeFeed, need: int, switch_ports: list[SwitchPorts], offers: PortOffers
) -> tuple[str, tuple[Edit, ...]]:
    """Return where the thing could be plugged instead, in words and as an edit."""
    if id(feed.line) in offers.moves:
        key, name = offers.moves[id(feed.line)]
        return f"free and of type {need} or above: {name}", (Put(key, name),)
    free = next((p.free for p in switch_ports if p.switch is feed.port.thing), [])
    fit = [name for name, spec in free if suits(spec, need)]
    if fit:
        return f"free ports of type {need} or above: {listed(fit)}", ()
    return f"use a switch with ports of type {need}, or feed it otherwise; no free port here would do", ()


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
    feed: PoeFeed, switch_ports: list[SwitchPorts], port_offers: PortOffers
) -> Iterator[Finding]:
    """What takes its power by its data cable alone is plugged into a port that feeds PoE.

    It stays dark otherwise. A port feeds PoE where its switch says so: poe = "type 1" to "type 4".

    Source: IEEE 802.3-2018 clause 33.
    """
    if feed.fed:
        return
    words, edits = _elsewhere(feed, poe.type_needed(feed.klass), switch_ports, port_offers)
    yield Finding(
        "error",
        feed.thing,
        f"PoE is the only power written for {feed.thing.id}, and the port feeds none",
        found="no PoE",
        allowed=f"type {poe.type_needed(feed.klass)}",
        remedy=words,
        edits=edits,
        path=feed.line.path,
        related=[(_port(feed), "the port")],
    )


cases(
    not_a_poe_port,
    clean=[
        _BIG + _CAM.format("c1", 3, "sw.4"),
        _BRICK + _BIG + _CAM.format("c1", 3, "sw.13") + 'from = "brick"\n',
        '[[switch]]\nid = "sw"\nports = 4\npoe_budget = "60 W"\n' + _CAM.format("c1", 3, "sw.1"),
    ],
    flagged=[
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

    A port that gives more than its reservation is switched off.

    Source: class table of IEEE 802.3bt-2018 clause 145, power at the thing; switch guides for what a port does.
    """
    most = poe.poe_class(feed.klass).pd_watts
    if not feed.fed or not feed.stated or feed.pd_watts <= most + _NEAR:
        return
    yield Finding(
        "error",
        feed.thing,
        f"draw of {feed.thing.id}: {show(feed.pd_watts, 'W')}, but PoE class {feed.klass} allows {show(most, 'W')}",
        found=Measure(feed.pd_watts, "W"),
        allowed=Measure(most, "W"),
        because=f"the figure is its {'reading at work' if feed.stated == 'measured' else 'peak'}",
        remedy="give it the class its label says, or another supply",
        place="poe",
    )


cases(
    beyond_class,
    clean=[
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
    ],
)


@rule(level="error", over="poe_feeds")
def port_watts(feed: PoeFeed) -> Iterator[Finding]:
    """No port is asked for more than its own maximum.

    Some switches cap a port below what its type allows. Where the switch reserves by class, a class above the cap
    may be refused even if the thing draws less, which is a warning.

    Formula: watts at the port = V I, with I = (V - sqrt(V^2 - 4 R P)) / (2 R), P at the thing, R of the cable and V
    the lowest of the type.

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
        related=[(_port(feed), "the port")],
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
    ],
)  # fmt: skip


@rule(level="error", over="poe_budgets")
def budget(total: PoeBudget) -> Iterator[Finding]:
    """All PoE of a switch together stays within its budget less the reserve.

    Ports times port maximum is often twice the budget. What comes last finds no power, and which port that is
    depends on the order in which they wake.

    Formula: sum over the ports <= budget (1 - reserve); by class the watts that each class sets aside, by draw the
    watts at the thing plus the loss in its cable.

    Source: class reservation of switch guides: 15.4, 4, 7, 15.4 and 30 W for classes 0 to 4; IEEE 802.3bt-2018 for 5
    to 8. The reserve is common practice.
    """
    if total.budget is None or total.limit is None or total.counts <= total.limit + _NEAR:
        return
    over = total.counts > total.budget + _NEAR
    parts = [f"{n} × class {k}: {show(watts, 'W')}" for k, (n, watts) in sorted(total.by_class.items())]
    way = "by what is drawn" if total.mode == "draw" else "reserved by class"
    guessed = sum(1 for feed in total.feeds if not feed.stated)
    if total.mode == "draw" and guessed:
        parts.append(f"{guessed} of them counted at the most of their class")
    dark = _dark(total) if over else ""
    yield Finding(
        "error" if over else "warning",
        total.switch,
        f"PoE of {total.switch.id} comes to {show(total.counts, 'W')} of {show(total.budget, 'W')}, {way}",
        found=Measure(total.counts, "W"),
        allowed=Measure(total.budget if over else total.limit, "W"),
        because=", ".join(parts) + (f"; {dark} would stay dark" if dark else ""),
        remedy="feed some of them otherwise, or use a switch with a larger budget",
        place=("poe_budget", "part"),
    )


def _dark(total: PoeBudget) -> str:
    """Return who is left without power when the ports are served in their order."""
    ordered = sorted(total.feeds, key=_number)
    asked = [
        (0, i, feed.counted if total.mode == "draw" else feed.reserved) for i, feed in enumerate(ordered)
    ]
    _, unfed, _ = poe.share_budget(total.budget or 0.0, asked)
    return listed(ordered[i].thing.id for i in unfed)


def _number(feed: PoeFeed) -> tuple[int, str]:
    name = feed.port.id
    return (int(name), "") if name.isdigit() else (1 << 30, name)


_EVEN = _SWITCH.format("61.6 W") + _CAM.format("c1 .. c4", 3, "sw.1 .. sw.4")
_NONE = '[plan]\nreserve = "0 %"\n'
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
    ],
)


@rule(level="error", over="poe_feeds")
def cable_loss(feed: PoeFeed) -> Iterator[Finding]:
    """The cable brings a thing the volts and watts that its class asks for.

    The power a cable loses grows with the square of the current, and a thing of constant power answers lower
    volts with more current. Judged at the lowest volts its port may give, where length or category is stated.

    Formula: V - I R at the thing, with I = (V - sqrt(V^2 - 4 R P)) / (2 R) and R the ohms of one conductor of that
    length (a pair set is two in parallel out and two back), half of it from class 5 on.

    Source: IEEE 802.3 clauses 33 and 145: 37 V at the thing on type 1, 42.5 V on types 2 and 3, 41.1 V on type 4;
    category 3 for type 1, category 5 for the others.
    """
    cable = feed.line.cable
    if not feed.fed or cable is None:
        return
    need = poe.type_needed(feed.klass)
    if (feed.pse_type or need) < need or feed.pd_watts > poe.poe_class(feed.klass).pd_watts + _NEAR:
        return  # `type_too_low` and `beyond_class` have these
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


_WIDE = '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1"\npoe = "type {}"\n[[appliance]]\nid = "c1"\nport = "sw.1"\n'
_WIDE += 'poe = "class {}"\ncable = "{}"\n'
_FAR = _BIG + _CAM.format("c1", 4, "sw.5") + 'cable = "{}"\n'

cases(
    cable_loss,
    clean=[
        _FAR.format("cat 6, 100 m"),
        _FAR.format("cat 5, 133 m"),  # 133 m of 9.38 ohm per 100 m are 12.48 ohm; type 2 allows 12.5 ohm
        _FAR.format("cat 5"),
        _WIDE.format(3, 5, "cat 5, 133 m"),
        _WIDE.format(4, 8, "cat 5, 133 m"),
        _BIG + _CAM.format("c1", 4, "sw.1") + 'peak = "20 W"\ncable = "cat 5, 200 m"\n',  # the port is the slip
        _BIG + _CAM.format("c1", 3, "sw.1") + 'cable = "cat 3, 100 m"\n',
    ],
    flagged=[
        Case(_FAR.format("cat 5, 134 m"), at="c1", found="42.45 V", level="error",
             mended=_FAR.format("cat 5, 100 m")),
        Case(_FAR.format("cat 3"), at="c1", found="category 3"),
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
    says = (
        f"PoE for {takers} comes to {show(total.reserved, 'W')} by class, and {total.switch.id} does not say "
    )
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
        most = poe.poe_class(feed.klass).pd_watts
        of = (
            "the peak of the board does not say whether that is in it"
            if feed.stated
            else "what it takes is in no sum"
        )
        yield Open(
            "error",
            feed.thing,
            f"the {show(most, 'W')} that PoE brings to {feed.thing.id} must do for its outlets too",
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

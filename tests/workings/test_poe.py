"""What is fed by PoE, through which cable, and what the switches give and take for it."""

import datetime
from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.running import judge
from coldcheck.plan.model import Plan
from coldcheck.plan.parts import Shelf
from coldcheck.workings import poe

SWITCH = '[[switch]]\nid = "sw"\n{}[[switch.port]]\nid = "1 .. 8"\npoe = "type {}"\n'
CAM = '[[appliance]]\nid = "{}"\npoe = "class {}"\nport = "{}"\n'


def read(text: str) -> Plan:
    """Return a plan without the parts shelf."""
    return ours.read_plan("plan.toml", text.encode(), Shelf())


def budget_of(text: str) -> poe.PoeBudget:
    """Return the budget of the only switch."""
    plan = read(text)
    (found,) = poe.poe_budgets(plan, poe.poe_feeds(plan))
    return found


# Class table of IEEE 802.3bt-2018 clause 145, as in an overview by the Ethernet Alliance, April 2018; class 0 as class
# 3 by the PoE guide of an 802.3af switch.
CLASSES = [(0, 15.4), (1, 4.0), (2, 7.0), (3, 15.4), (4, 30.0), (5, 45.0), (6, 60.0), (7, 75.0), (8, 90.0)]


@pytest.mark.parametrize(("klass", "watts"), CLASSES)
def test_reserved_by_class(klass: int, watts: float) -> None:
    """A port of type 4 sets aside what the published table gives for each class."""
    (feed,) = poe.poe_feeds(read(SWITCH.format("", 4) + CAM.format("cam", klass, "sw.1")))
    assert (feed.reserved, feed.pse_type, feed.stated, feed.cable_known) == (watts, 4, "", False)


# The same published formula from both sides: at the worst channel of its own type a class takes at the port what the
# table reserves for it (constant-power load, within 0.1 W; the printed watts of class 5 at the thing are rounded).
@pytest.mark.parametrize(("klass", "kind"), [(3, 1), (4, 2), (5, 3), (6, 3), (8, 4)])
def test_the_worst_channel_takes_what_is_reserved(klass: int, kind: int) -> None:
    """The most of a class, behind the longest cable its type allows, comes to its reservation at the port."""
    (feed,) = poe.poe_feeds(read(SWITCH.format("", kind) + CAM.format("cam", klass, "sw.1")))
    assert feed.drawn == pytest.approx(feed.reserved, abs=0.1)


def test_the_drop_of_a_hundred_metres() -> None:
    """A note on PoE loss prints 2.5 V for 0.35 A over 100 m of 7 ohm conductor; power balances at both ends."""
    (feed,) = poe.poe_feeds(
        read(SWITCH.format("", 1) + CAM.format("c", 3, "sw.1") + 'cable = "cat 6, 100 m"\n')
    )
    assert feed.loop_ohms == pytest.approx(9.38)  # the limit of the category; 7 ohm is the typical conductor
    assert feed.drawn is not None
    assert feed.pd_volts is not None
    amps = feed.drawn / 44.0
    assert amps * feed.pd_volts == pytest.approx(feed.pd_watts)
    assert 44.0 - feed.pd_volts == pytest.approx(amps * 9.38)
    assert feed.drawn - feed.pd_watts == pytest.approx(amps**2 * 9.38)


def test_two_pair_sets_halve_the_loop() -> None:
    """From class 5 on the current goes over two pair sets, unless the port has only one."""
    cable = 'cable = "cat 6, 50 m"\n'
    loops = [
        poe.poe_feeds(read(SWITCH.format("", kind) + CAM.format("c", klass, "sw.1") + cable))[0].loop_ohms
        for klass, kind in ((4, 4), (5, 4), (5, 2))
    ]
    assert loops == pytest.approx([4.69, 2.345, 4.69])


def test_a_cable_that_cannot_carry() -> None:
    """Beyond 4 R P = V^2 there is no point of operation: the class is counted and the draw is unknown."""
    (feed,) = poe.poe_feeds(
        read(SWITCH.format("", 2) + CAM.format("c", 4, "sw.1") + 'cable = "cat 6, 300 m"\n')
    )
    assert 4 * feed.loop_ohms * feed.pd_watts > 50.0**2
    assert (feed.drawn, feed.pd_volts, feed.counted) == (None, None, 30.0)


@pytest.mark.parametrize(
    ("keys", "stated", "watts"),
    [
        ("", "", 12.95),
        ('peak = "9 W"\n', "peak", 9.0),
        ('peak = "9 W"\nmeasured = [{ state = "busy", draw = "7 W" }]\n', "measured", 7.0),
        ('peak = "9 W"\nmeasured = [{ state = "idle", draw = "2 W" }]\n', "peak", 9.0),
        ('peak = "1 A"\n', "", 12.95),
        ('asks = "9 W"\n', "", 12.95),
    ],
)
def test_which_figure_counts(keys: str, stated: str, watts: float) -> None:
    """A reading at work counts before the peak, the peak before the class; amps and purchase hints never do."""
    (feed,) = poe.poe_feeds(read(SWITCH.format("", 1) + CAM.format("c", 3, "sw.1") + keys))
    assert (feed.stated, feed.pd_watts) == (stated, watts)


def test_a_class_above_its_port() -> None:
    """A class 4 thing on a type 1 port is granted class 3."""
    (feed,) = poe.poe_feeds(read(SWITCH.format("", 1) + CAM.format("c", 4, "sw.1")))
    assert (feed.reserved, feed.pd_watts) == (15.4, 12.95)


BRICK = '[[feed]]\nid = "brick"\nvolts = "12 V"\n'
PLAIN = '[[switch]]\nid = "sw"\nports = 4\n'


@pytest.mark.parametrize(
    ("switch", "more", "states"),
    [
        (SWITCH.format("", 1), "", [(True, False)]),
        (PLAIN, "", [(False, False)]),
        (PLAIN + 'poe_budget = "60 W"\n', "", [(True, True)]),
        (PLAIN, 'from = "brick"\n', []),
        (SWITCH.format("", 1), 'from = "brick"\n', [(True, False)]),
    ],
)
def test_who_is_fed(switch: str, more: str, states: list[tuple[bool, bool]]) -> None:
    """A typed port feeds, an untyped one of a switch with a budget is assumed to, other power needs none."""
    feeds = poe.poe_feeds(read(BRICK + switch + CAM.format("c", 3, "sw.1") + more))
    assert [(feed.fed, feed.assumed) for feed in feeds] == states


# --- budgets: worked examples of switch manuals; figures drawn are at the port, so the cables are 1 mm long -----------

LINE = '[[appliance]]\nid = "{}"\npoe = "class {}"\nport = "sw.{}"\npeak = "{} W"\ncable = "cat 6, 1 mm"\n'


@pytest.mark.parametrize(("budget", "left"), [(390, 385.6), (64, 59.6)])
def test_one_port_of_a_budget(budget: int, left: float) -> None:
    """PoE chapters of a 28-port and an 8-port switch manual: 4.4 W drawn of 390 W and of 64 W."""
    keys = f'poe_budget = "{budget} W"\npoe_reserves = "draw"\n'
    found = budget_of(SWITCH.format(keys, 2) + LINE.format("c", 3, 1, 4.4))
    assert budget - found.counts == pytest.approx(left, abs=1e-4)


def test_three_ports_of_a_budget() -> None:
    """A 28-port switch manual: classes 4, 2 and 4 drawing 7.3, 4.7 and 8.9 W are 20.9 W drawn, 67 W by class."""
    lines = LINE.format("a", 4, 1, 7.3) + LINE.format("b", 2, 2, 4.7) + LINE.format("c", 4, 3, 8.9)
    found = budget_of(SWITCH.format('poe_budget = "390 W"\n', 2) + lines)
    assert found.drawn == pytest.approx(20.9, abs=1e-4)
    assert (found.reserved, found.counts, found.mode) == (67.0, 67.0, "class")
    assert found.budget is not None
    assert found.budget - found.reserved == 323.0
    assert found.by_class == {4: (2, 60.0), 2: (1, 7.0)}


def test_ports_times_maximum_exceed_a_budget() -> None:
    """A switch operating guide: 8 ports of 30 W need 240 W and share 130 W; the reserve of a plan is taken off."""
    found = budget_of(SWITCH.format('poe_budget = "130 W"\n', 2) + CAM.format("c1 .. c8", 4, "sw.1 .. sw.8"))
    assert found.reserved == 240.0
    assert found.limit == pytest.approx(104.0)


# --- what the switch takes ------------------------------------------------------------------------------------------


def takes_of(text: str) -> dict[str, poe.PoeTake]:
    """Return what each switch takes for PoE."""
    return poe.poe_takes(poe.poe_feeds(read(text)))


def test_a_switch_takes_more_than_it_gives() -> None:
    """The watts at the ports are divided by the efficiency of the step-up."""
    take = takes_of(SWITCH.format('poe_efficiency = "80 %"\n', 1) + LINE.format("c", 3, 1, 8))["sw"]
    assert take.watts == pytest.approx(10.0, rel=1e-4)
    assert (take.efficiency_known, take.missing) == (True, ())


def test_what_is_missing_is_named() -> None:
    """Without an efficiency it is counted as 1, without a peak the class counts, and both are named."""
    take = takes_of(SWITCH.format("", 1) + CAM.format("c1 .. c2", 3, "sw.1 .. sw.2"))["sw"]
    assert take.watts == pytest.approx(2 * 15.4)
    assert (take.efficiency_known, take.missing) == (False, ("sw poe_efficiency", "c1 peak", "c2 peak"))


def test_what_is_missing_is_told_by_its_key() -> None:
    """A switch on a feed that does not state its efficiency is told to add that very key."""
    text = '[[feed]]\nid = "b"\nvolts = "54 V"\namps = "3 A"\n' + SWITCH.format(
        'from = "b"\npeak = "5 W"\n', 1
    )
    text += CAM.format("c1", 3, "sw.1") + 'peak = "9 W"\n'
    book = ours.rulebook(entry_points=False)
    found = judge(read(text), book, datetime.date(2026, 1, 1), only=["rails.figure_missing"]).findings
    (told,) = [f for f in found if "poe_efficiency" in f.says]
    assert told.subjects == ("sw",)
    assert told.says.startswith("sw: its poe_efficiency is not given")
    assert "add poe_efficiency" in told.remedy


RING = '[[switch]]\nid = "{0}"\npoe = "class 3"\n[[switch.port]]\nid = "1 .. 4"\npoe = "type 2"\n'
RINGS = RING.format("a") + RING.format("b") + '[[link]]\nfrom = "a.1"\nto = "b.1"\n'


def rings_of(text: str) -> list[list[str]]:
    """Return the names of the things in each ring."""
    plan = read(text)
    return [[feed.thing.id for feed in ring] for ring in poe.poe_rings(plan, poe.poe_feeds(plan))]


def test_a_ring_has_no_power_from_outside() -> None:
    """Two switches that feed each other are a ring; with one that is fed otherwise, however far off, they are none."""
    assert rings_of(RINGS) == [["a", "b"]]
    assert rings_of(RINGS + CAM.format("c", 3, "b.2")) == [["a", "b"]]
    third = RING.format("c") + '[[link]]\nfrom = "b.2"\nto = "c.1"\n'
    assert rings_of(RINGS + third) == [["a", "b"]]
    fed = '[[feed]]\nid = "f"\nvolts = "54 V"\n'
    assert rings_of(fed + RINGS + third.replace('poe = "class 3"', 'from = "f"')) == []
    assert rings_of(RINGS.replace('poe = "class 3"', 'from = "nothing"\npoe = "class 3"', 1)) == []
    other = (
        '[[switch]]\nid = "c"\n[[switch.port]]\nid = "1"\npoe = "{}"\n[[link]]\nfrom = "b.2"\nto = "c.1"\n'
    )
    assert rings_of(RINGS + other.format("passive")) == [
        ["a", "b"]
    ]  # volts of the wrong kind do not light it
    assert rings_of(RINGS + other.format("type 2")) == []


def test_no_poe_takes_nothing() -> None:
    """A switch that feeds nobody is not in the table."""
    assert takes_of(PLAIN + CAM.format("c", 3, "sw.1")) == {}


# --- passive: volts that come unasked ---------------------------------------------------------------------------------

PASSIVE = """
[[feed]]
id = "f"
volts = "24 V"
amps = "5 A"
[[switch]]
id = "sw"
from = "f"
lead = "0 ohm"
volts = "20 V .. 30 V"
peak = "5 W"
idle = "4 W"
poe_efficiency = "100 %"
[[switch.port]]
id = "1"
poe = "passive"
poe_volts = "24 V"
poe_pins = "{}"
[[appliance]]
id = "r1"
poe = "passive"
port = "sw.1"
{}
"""


def passive_of(pins: str, keys: str) -> poe.PoeFeed:
    """Return the only feed of a plan with one passive radio."""
    (feed,) = poe.poe_feeds(read(PASSIVE.format(pins, keys)))
    return feed


@pytest.mark.parametrize(("pins", "share"), [("4,5,7,8", 1.0), ("1,2,3,6", 1.0), ("all", 0.5)])
def test_passive_volts_through_a_cable(pins: str, share: float) -> None:
    """24 V, 100 m of 9.38 ohm and 8 W: power balances at both ends, and all pairs have half the ohms of one set."""
    feed = passive_of(pins, 'peak = "8 W"\ncable = "cat 6, 100 m"')
    assert (feed.klass, feed.pse_type, feed.fed, feed.volts) == (None, None, True, 24.0)
    assert feed.drawn is not None
    assert feed.pd_volts is not None
    amps = feed.drawn / 24.0
    assert 24.0 - feed.pd_volts == pytest.approx(amps * 9.38 * share)
    assert amps * feed.pd_volts == pytest.approx(8.0)
    assert feed.counted == feed.reserved == feed.drawn


def test_passive_amps() -> None:
    """A radio that states amps draws them whatever the cable takes: 0.4 A of 24 V are 9.6 W, 1.5 W of them lost."""
    feed = passive_of("4,5,7,8", 'peak = "0.4 A"\ncable = "cat 6, 100 m"')
    assert feed.drawn == pytest.approx(9.6)
    assert feed.pd_volts == pytest.approx(24.0 - 0.4 * 9.38)
    assert feed.pd_watts == pytest.approx(9.6 - 0.16 * 9.38)


def test_passive_power_is_in_every_sum(worked: Any) -> None:
    """What a passive port gives comes on top of what its switch draws: at work, at rest, and at the feed."""
    text = PASSIVE.format("all", 'peak = "0.5 A"\nidle = "0.25 A"\ncable = "cat 6, 10 m"')
    text = text.replace('from = "f"', 'from = "f"\nplug = "soldered"').replace(
        'id = "f"', 'id = "f"\nplug = "soldered"'
    )
    made = worked('[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n' + text)
    assert made.working("energy").busy == pytest.approx(5.0 + 12.0)
    assert made.working("energy").idle == pytest.approx(4.0 + 6.0)
    assert made.working("energy").missing == ["f efficiency", "plan busy"]


def test_amps_at_unknown_volts() -> None:
    """Without the volts of the port, amps count with the least volts of the thing: a sum of them is a lower bound."""
    text = PASSIVE.format("all", 'peak = "0.5 A"\npoe_volts = "20 V .. 28 V"').replace(
        'poe_volts = "24 V"\n', ""
    )
    (feed,) = poe.poe_feeds(read(text))
    assert (feed.volts, feed.drawn, feed.counted) == (None, None, 10.0)
    assert poe.poe_feeds(read(text.replace('\npoe_volts = "20 V .. 28 V"', "")))[0].counted == 0.0


def test_at_rest_what_is_handed_on_still_counts(worked: Any) -> None:
    """A switch on PoE takes at rest its idle draw and what its own ports give, behind the cable."""
    text = '[[feed]]\nid = "f"\nvolts = "54 V"\nplug = "soldered"\n'
    text += SWITCH.format(
        'from = "f"\nplug = "soldered"\nlead = "0 ohm"\npeak = "0 W"\npoe_efficiency = "100 %"\n', 4
    )
    text += HANDS_ON.format("a", "sw").replace('peak = "2 W"', 'peak = "2 W"\nidle = "1 W"')
    text += CAM.format("cam", 3, "a.2") + 'peak = "8 W"\ncable = "cat 6, 20 m"\n'
    made = worked('[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n' + text)
    feed = next(feed for feed in made.working("poe_feeds") if feed.thing.id == "a")
    idle, busy = made.working("energy").idle, made.working("energy").busy
    for own, watts in ((2.0, busy), (1.0, idle)):  # 20 m of 9.38 ohm per 100 m, two pair sets
        assert watts == pytest.approx(own + feed.handed + (watts / 52.0) ** 2 * 0.938)


def test_a_passive_draw_that_is_missing() -> None:
    """Without a draw nothing is counted, and the figure is named as missing; nothing is made up from a class."""
    feed = passive_of("all", 'asks = "9 W"')
    assert (feed.stated, feed.drawn, feed.counted) == ("", None, 0.0)
    assert poe.poe_takes([feed])["sw"].missing == ("r1 peak",)


def test_kinds_of_feeding_do_not_meet() -> None:
    """A passive thing on a typed port and a class on a passive port are not fed, nor counted in a budget."""
    swapped = PASSIVE.format("all", "")
    for text in (
        swapped.replace('poe = "passive"\npoe_volts = "24 V"\npoe_pins = "all"', 'poe = "type 2"'),
        swapped.replace('poe = "passive"\nport', 'poe = "class 3"\nport'),
    ):
        plan = read(text)
        (feed,) = poe.poe_feeds(plan)
        assert not feed.fed
        assert poe.poe_budgets(plan, [feed]) == []


def test_which_port_feeds() -> None:
    """Of several cables a thing is fed by the port of its own kind, wherever that stands; else by one that feeds."""
    ports = "".join(
        f'[[switch.port]]\nid = "{n}"\n{poe_key}'
        for n, poe_key in ((1, ""), (2, 'poe = "passive"\n'), (3, 'poe = "type 2"\n'))
    )
    for kind, order, port in (
        ("class 3", (1, 2, 3), "3"), ("class 3", (3, 2, 1), "3"), ("passive", (1, 3, 2), "2"),
        ("class 3", (1, 2), "2"), ("passive", (1, 3), "3"), ("passive", (1,), "1"),
    ):  # fmt: skip
        own = "".join(f'[[appliance.port]]\nid = "p{n}"\nto = "sw.{n}"\n' for n in order)
        text = f'[[switch]]\nid = "sw"\n{ports}[[appliance]]\nid = "a"\npoe = "{kind}"\n{own}'
        (feed,) = poe.poe_feeds(read(text))
        assert feed.port.id == port, (kind, order)


def test_what_it_feeds_does_not_feed_it() -> None:
    """A switch that takes PoE and gives PoE is told of the port upwards, not of a camera that hangs on it."""
    text = PLAIN + '[[switch]]\nid = "b"\npoe = "class 4"\n[[switch.port]]\nid = "1"\npoe = "type 1"\n'
    text += '[[switch.port]]\nid = "2"\nto = "sw.1"\n' + CAM.format("c", 3, "b.1")
    feeds = {feed.thing.id: feed for feed in poe.poe_feeds(read(text))}
    assert feeds["b"].port.name == "sw.1"


def test_passive_ends() -> None:
    """Every cabled passive port is listed with what it meets, from both ends, and None outside the plan."""
    text = PASSIVE.format("all", '[[uplink]]\nfrom = "ws.1"\nto = "the house"\n')
    text += '[[switch]]\nid = "ws"\n[[switch.port]]\nid = "1"\npoe = "passive"\n'
    ends = poe.passive_ends(read(text))
    assert [(end.port.name, end.meets and end.meets.thing.id) for end in ends] == [
        ("sw.1", "r1"),
        ("ws.1", None),
    ]


def test_an_untyped_port_may_be_passive() -> None:
    """Where a switch has a budget and says of no port what it feeds, a passive thing is assumed to be fed."""
    text = '[[switch]]\nid = "sw"\nports = 4\npoe_budget = "60 W"\n'
    (feed,) = poe.poe_feeds(read(text + '[[appliance]]\nid = "r"\npoe = "passive"\nport = "sw.1"\n'))
    assert (feed.assumed, feed.fed, feed.passive) == (True, True, False)


# --- who is served --------------------------------------------------------------------------------------------------


def test_service_by_priority_then_port() -> None:
    """Critical first, then high, then what says nothing; inside one priority by number, not by how it is spelt."""
    ports = "".join(
        f'[[switch.port]]\nid = "{n}"\npoe = "type 1"\n' + (f'poe_priority = "{rank}"\n' if rank else "")
        for n, rank in ((2, ""), (10, ""), (9, "low"), (4, "high"), (11, "critical"))
    )
    text = f'[[switch]]\nid = "sw"\npoe_budget = "40 W"\n{ports}'
    text += "".join(CAM.format(f"c{n}", 3, f"sw.{n}") for n in (10, 9, 2, 11, 4))
    found = budget_of(text)
    assert [feed.thing.id for feed in found.feeds] == ["c11", "c4", "c2", "c9", "c10"]
    assert [feed.thing.id for feed in found.dark] == ["c2", "c9", "c10"]  # 40 W less 30.8 W


def test_a_guard_and_a_draw() -> None:
    """Classes 4, 2 and 4 of a switch manual on 70 W: 67 W by class fit, with 7 W to be left only where draws count.

    Before the last 33 W are left, before nobody 70 W: a guard of 33 W lets all start, of 34 W leaves the last dark.
    By draw, 7.3, 4.7 and 8.9 W in steps of 0.1 W, 58 W are left for the last; the cables are 1 mm long, so the steps
    come out one higher.
    """
    lines = LINE.format("a", 4, 1, 7.3) + LINE.format("b", 2, 2, 4.7) + LINE.format("c", 4, 3, 8.9)
    for guard, dark in (("33 W", []), ("34 W", ["c"]), ("64 W", ["b", "c"])):
        found = budget_of(SWITCH.format(f'poe_budget = "70 W"\npoe_guard = "{guard}"\n', 2) + lines)
        assert [feed.thing.id for feed in found.dark] == dark
        assert found.by_draw == (pytest.approx(20.9, abs=0.31) if guard != "64 W" else None)
    assert budget_of(SWITCH.format('poe_budget = "20.8 W"\n', 2) + lines).by_draw is None
    draws = budget_of(
        SWITCH.format('poe_budget = "70 W"\npoe_reserves = "draw"\npoe_guard = "34 W"\n', 2) + lines
    )
    assert (draws.dark, draws.by_draw) == ([], None)


# --- chains ----------------------------------------------------------------------------------------------------

HANDS_ON = """
[[switch]]
id = "{0}"
poe = "class 8"
peak = "2 W"
poe_efficiency = "80 %"
[[switch.port]]
id = "0"
to = "{1}.1"
cable = "cat 6, 20 m"
[[switch.port]]
id = "1 .. 4"
poe = "type 4"
"""


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 0, 2), (1, 2, 0)])
def test_what_is_handed_on_is_taken(order: tuple[int, ...]) -> None:
    """Along a chain energy is kept: at each switch its own draw, what it gives by its efficiency, and its cable."""
    pieces = [HANDS_ON.format("a", "sw"), HANDS_ON.format("b", "a"), HANDS_ON.format("c", "b")]
    text = SWITCH.format("", 4) + "".join(pieces[i] for i in order)
    text += CAM.format("cam", 3, "c.2") + 'peak = "8 W"\ncable = "cat 6, 20 m"\n'
    feeds = {feed.thing.id: feed for feed in poe.poe_feeds(read(text))}
    behind = feeds["cam"]
    for name in ("c", "b", "a"):
        feed = feeds[name]
        assert behind.drawn is not None
        assert feed.drawn is not None
        assert feed.handed == pytest.approx(behind.drawn / 0.8)
        assert feed.pd_watts == pytest.approx(2.0 + feed.handed)
        amps = feed.drawn / 52.0
        assert feed.drawn == pytest.approx(feed.pd_watts + amps**2 * 9.38 * 0.2 / 2)
        behind = feed


def test_a_reading_at_work_has_what_is_handed_on() -> None:
    """A reading of the switch while it feeds has all of it; a ring comes to an end."""
    text = SWITCH.format("", 4) + HANDS_ON.format("a", "sw").replace(
        'peak = "2 W"', 'measured = [{ state = "busy", draw = "9 W" }]'
    )
    feeds = {f.thing.id: f for f in poe.poe_feeds(read(text + CAM.format("cam", 1, "a.2")))}
    assert feeds["a"].pd_watts == 9.0
    assert feeds["a"].handed > 4.0
    assert rings_of(HANDS_ON.format("a", "b") + HANDS_ON.format("b", "a")) == [["a", "b"]]


def test_other_power_takes_the_load_off() -> None:
    """A switch that is fed by a wire too takes what it hands on from there."""
    text = '[[feed]]\nid = "f"\nvolts = "54 V"\n' + SWITCH.format("", 4)
    text += HANDS_ON.format("a", "sw").replace('peak = "2 W"', 'peak = "2 W"\nfrom = "f"') + CAM.format(
        "cam", 1, "a.2"
    )
    feeds = {f.thing.id: f for f in poe.poe_feeds(read(text))}
    assert (feeds["a"].pd_watts, feeds["a"].handed) == (2.0, 0.0)

"""What is fed by PoE, through which cable, and what the switches give and take for it."""

import datetime

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


def test_no_poe_takes_nothing() -> None:
    """A switch that feeds nobody is not in the table."""
    assert takes_of(PLAIN + CAM.format("c", 3, "sw.1")) == {}

"""Energy of whole plans: sums by hand, published watts of drives, and what is named where a figure is not stated."""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest

SOLDERED = '[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
FEED = '[[feed]]\nid = "f"\nvolts = "12 V"\nplug = "soldered"\n{}\n'
BOARD = '[[{table}]]\nid = "{id}"\nfrom = "{source}"\nplug = "soldered"\nlead = "{lead}"\n{draw}\n'


@pytest.fixture(scope="module")
def energy(worked: Any) -> Any:
    """Give a function that reads a plan and returns its energy."""
    return lambda text: worked(SOLDERED + text).working("energy")


def board(draw: str, id: str = "n1", source: str = "f", lead: str = "0 ohm", table: str = "node") -> str:
    """Return a thing that draws; constant power where nothing else is said."""
    return BOARD.format(table=table, id=id, source=source, lead=lead, draw=draw)


DRAW = 'idle = "10 W"\npeak = "40 W"\n'


def test_a_feed_gives_what_is_drawn(energy: Any) -> None:
    """Without losses a feed gives the sum of idle draws at rest, of peaks at work; the start does not count."""
    found = energy(FEED.format("") + board(DRAW + 'surge = "90 W for 70 s"') + board(DRAW, "n2"))
    assert (found.idle, found.busy) == (pytest.approx(20), pytest.approx(80))
    (feed,) = found.feeds
    assert found.of(feed.feed) is feed
    assert (feed.idle, feed.busy) == (pytest.approx(20), pytest.approx(80))


def test_at_the_wall(energy: Any) -> None:
    """A feed takes watts over efficiency and its standing draw: 14.5 and 52 W; a year is 8.76 kWh for each watt."""
    found = energy(
        '[plan]\nbusy = "30 %"\n' + FEED.format('efficiency = "80 %"\nstanding = "2 W"') + board(DRAW)
    )
    assert (found.wall_idle, found.wall_busy) == (pytest.approx(14.5), pytest.approx(52))
    assert (found.kwh_idle, found.kwh_busy) == (pytest.approx(127.02), pytest.approx(455.52))
    assert found.kwh_mixed == pytest.approx((14.5 * 0.7 + 52 * 0.3) * 8.76)
    assert found.missing == []


def test_efficiency_is_that_of_the_load(energy: Any) -> None:
    """A feed, and a converter in between, have at rest the efficiency of the small load, not that of the large one."""
    curve = 'efficiency = "50 % at 10 W, 80 % at 40 W"'
    alone = energy(FEED.format(curve) + board(DRAW))
    assert (alone.wall_idle, alone.wall_busy) == (pytest.approx(20), pytest.approx(50))
    supply = f'[[supply]]\nid = "s"\nfrom = "f"\nplug = "soldered"\nlead = "0 ohm"\n{curve}\n'
    rail = '[[supply.rail]]\nid = "o"\nvolts = "5 V"\nplug = "soldered"\n'
    behind = energy(FEED.format("") + supply + rail + board(DRAW, source="s.o"))
    assert (behind.idle, behind.busy) == (pytest.approx(20), pytest.approx(50))


def test_copper_takes_its_share_at_either_load(energy: Any) -> None:
    """Through 0.5 ohm a feed gives V (V - √(V² - 4 R P)) / 2 R at rest and at work: the loss goes by the square."""
    found = energy(FEED.format("") + board(DRAW, lead="0.5 ohm"))
    for given, watts in ((found.idle, 10), (found.busy, 40)):
        assert given == pytest.approx(12 * (12 - sqrt(144 - 4 * 0.5 * watts)) / (2 * 0.5))
    assert (found.busy - 40) > 10 * (found.idle - 10)


def test_readings_go_first(energy: Any) -> None:
    """What a meter showed of the thing at rest counts before its idle figure, and only there."""
    read = '[[node.measured]]\nstate = "idle"\ndraw = "7 W"\n'
    found = energy(FEED.format("") + board(DRAW) + read)
    assert (found.idle, found.busy) == (pytest.approx(7), pytest.approx(40))


def test_a_drive_takes_the_published_watts(energy: Any) -> None:
    """5.33 W idle and 7.97 W at work: 3.5 in video-class drive manual, table 2 (read)."""
    feed = '[[feed]]\nid = "f"\n'
    for rail in ("5", "12"):
        feed += f'[[feed.outlet]]\nid = "{rail}v"\nvolts = "{rail} V"\nplug = "soldered"\n'
    drive = '[[drive]]\nid = "d"\npart = "hdd-3.5-in-video"\nfrom = ["f.5v", "f.12v"]\nlead = "0 ohm"\n'
    found = energy(feed + drive)
    assert found.idle == pytest.approx(5.33, rel=0.005)
    assert found.busy == pytest.approx(7.97, rel=0.005)


def test_a_fan_has_one_level(energy: Any) -> None:
    """A fan turns while the box is at rest, and needs no idle figure for that."""
    found = energy(FEED.format("") + board('typical = "0.5 A"\npeak = "0.5 A"', "fan1", table="fan"))
    assert found.idle == pytest.approx(found.busy)
    assert found.of(found.feeds[0].feed).missing_idle == ()


def test_poe_at_rest(energy: Any) -> None:
    """At rest a switch gives its ports what the things there take idle, by the efficiency of its step-up.

    A camera of 2 W behind 10 m of cable of 9.38 ohm for 100 m and pair loses less than 1 % there.
    """
    switch = board(DRAW + 'ports = 2\npoe_efficiency = "80 %"', "sw", table="switch")
    switch += '[[switch.port]]\nid = "1"\npoe = "type 1"\n'
    cam = '[[appliance]]\nid = "cam"\npoe = "class 2"\nport = "sw.1"\ncable = "cat 5e, 10 m"\n'
    found = energy(FEED.format("") + switch + cam + 'idle = "2 W"\npeak = "6 W"\n')
    assert found.idle - 10 == pytest.approx(2 / 0.8, rel=0.01)
    assert found.idle - 10 > 2 / 0.8
    assert found.busy - 40 == pytest.approx(6 / 0.8, rel=0.01)
    assert found.feeds[0].missing_idle == ()
    unsaid = energy(FEED.format("") + switch + cam + 'peak = "6 W"\n')
    assert unsaid.idle - 10 == pytest.approx(6 / 0.8, rel=0.01)
    assert "cam idle" in unsaid.missing


def test_what_is_not_stated_is_named(energy: Any) -> None:
    """An idle draw, a peak, an efficiency and the share of work are named; what has no idle counts as at work."""
    found = energy(FEED.format("") + board('peak = "40 W"') + board('idle = "1 W"', "n2"))
    assert found.missing == ["n2 peak", "n1 idle", "f efficiency", "plan busy"]
    assert found.idle == pytest.approx(41)
    assert found.kwh_mixed is None
    nothing = energy('[[feed]]\nid = "f"\n' + board(DRAW))
    assert "f volts" in nothing.missing


def test_what_no_sum_needs_is_not_asked_for(energy: Any) -> None:
    """A start that is not stated changes no watt-hour, and what only hands power on has no idle draw."""
    hub = '[[inline]]\nid = "bar"\nwhat = "run"\n[[inline.inlet]]\nid = "in"\nfrom = "f"\nplug = "soldered"\n'
    hub += 'lead = "0 ohm"\n[[inline.outlet]]\nid = "1"\nplug = "soldered"\n'
    found = energy(FEED.format("") + hub + board(DRAW, "d", "bar.1", table="drive"))
    assert found.busy == pytest.approx(40)
    assert found.missing == ["f efficiency", "plan busy"]


def test_nothing_is_solved_before_it_is_asked_for(energy: Any) -> None:
    """A lint that needs no energy does not pay for the box at rest; a feed without a load is none of its feeds."""
    found = energy(FEED.format("") + board(DRAW) + '[[feed]]\nid = "spare"\nvolts = "5 V"\n')
    assert "_idle" not in vars(found)
    assert [feed.feed.id for feed in found.feeds] == ["f"]

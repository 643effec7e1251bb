"""Sources side by side in whole plans: how they share, by hand and by the law of currents."""

from __future__ import annotations

from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.running import _Run
from coldcheck.workings.meetings import Meeting

BOOK = ours.rulebook(entry_points=False)
#: A source that holds its volts whatever flows, known to do so.
STIFF = 'ohms = "0 ohm"'

PLAN = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "a"
volts = "{a} V"
spread = "{spread} %"
plug = "soldered"
{own}
[[feed]]
id = "b"
volts = "{b} V"
spread = "{spread} %"
plug = "soldered"
{own}
[[inline]]
id = "bar"
what = "run"
from = ["a", "b"]
lead = "{ohms} mohm"
plug = "soldered"
[[node]]
id = "n"
from = "bar"
lead = "0 ohm"
plug = "soldered"
peak = "{amps} A"
load = "current"
"""


def met(a: float, b: float, ohms: float, amps: float, spread: float = 0, own: str = STIFF) -> Meeting:
    """Return the meeting of two sources behind equal runs."""
    text = PLAN.format(a=a, b=b, ohms=ohms, amps=amps, spread=spread, own=own)
    return meeting_of(text)


def meeting_of(text: str) -> Meeting:
    """Return the only meeting of a plan."""
    plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
    assert not plan.faults, plan.faults
    found: list[Meeting] = _Run(plan, BOOK).working("meetings")
    (meeting,) = found
    return meeting


@pytest.mark.parametrize(
    ("a", "b", "ohms", "amps"), [(5.2, 5.0, 70, 4), (5.0, 5.0, 20, 3), (12.3, 12.0, 50, 5)]
)
def test_two_sources_share_by_their_difference(a: float, b: float, ohms: float, amps: float) -> None:
    """By hand: half of the load each, and the difference of their volts over both runs on top, or off."""
    meeting = met(a, b, ohms, amps)
    across = (a - b) / (2 * ohms / 1000)
    first, second = meeting.sides
    assert [first.most, first.least, first.ordinary] == pytest.approx([amps / 2 + across] * 3)
    assert [second.most, second.least] == pytest.approx([amps / 2 - across] * 2)
    assert meeting.whole == pytest.approx(amps)


def test_their_own_resistance_counts() -> None:
    """Two runs of 50 mohm behind sources of 20 mohm share as two of 70 mohm behind stiff ones."""
    there, here = met(5.2, 5.0, 70, 4), met(5.2, 5.0, 50, 4, own='ohms = "20 mohm"')
    assert [side.most for side in here.sides] == pytest.approx([side.most for side in there.sides])
    assert [here.lacking, there.lacking] == [[], []]


def test_what_is_inside_is_not_made_up() -> None:
    """Where nothing is said of what is inside both, they count as equal, and what is lacking is named."""
    meeting = met(5.2, 5.0, 70, 4, own="")
    assert [side.most for side in meeting.sides] == pytest.approx([2.0, 2.0])
    assert meeting.lacking == ["a ohms", "b ohms"]


def test_the_worst_corner_has_one_high_and_one_low() -> None:
    """5 % of 5 V either way over twice 100 mohm: 1 A ± 2.5 A, so current flows into the lower one."""
    meeting = met(5.0, 5.0, 100, 2, spread=5)
    for side in meeting.sides:
        assert side.ordinary == pytest.approx(1.0)
        assert side.most == pytest.approx(3.5)
        assert side.least == pytest.approx(-1.5)


def test_what_is_asked_is_what_is_given() -> None:
    """Whatever runs between the two, together they give the load and no more: currents add up."""
    meeting = met(5.3, 5.0, 10, 4, spread=1)
    assert meeting.whole == pytest.approx(4.0)
    assert sum(side.ordinary for side in meeting.sides) == pytest.approx(4.0)


def test_one_source_by_two_ways_is_no_meeting() -> None:
    """Two leads from one feed are leads side by side."""
    text = PLAN.format(a=5, b=5, ohms=70, amps=4, spread=0, own="").replace('["a", "b"]', '["a", "a"]')
    plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
    assert _Run(plan, BOOK).working("meetings") == []


def test_a_way_that_is_not_described_is_not_solved() -> None:
    """Without a lead to where they meet, what each gives is not known."""
    text = PLAN.format(a=5, b=5, ohms=70, amps=4, spread=0, own="").replace('lead = "70 mohm"', "")
    assert meeting_of(text).whole is None


DIODE = '[[inline]]\nid = "d{0}"\nwhat = "diode"\ndrop = "0.4 V"\nfrom = "{0}"\nlead = "0 ohm"\nplug = "soldered"\n'


def diodes(*sources: str) -> Any:
    """Return a meeting of two sources of 12 V and 11 V, some of them behind a diode."""
    text = PLAN.format(a=12, b=11, ohms=50, amps=4, spread=0, own=STIFF)
    for source in sources:
        text = text.replace(f'"{source}"]', f'"d{source}"]').replace(f'["{source}"', f'["d{source}"')
        text += DIODE.format(source)
    return meeting_of(text)


def test_diodes_keep_sources_apart() -> None:
    """Behind diodes the higher source carries all, either may have to, and nothing runs back; without them it does."""
    apart = diodes("a", "b")
    assert apart.kept
    assert [side.ordinary for side in apart.sides] == pytest.approx([4.0, 0.0], abs=1e-6)
    assert [side.most for side in apart.sides] == pytest.approx([4.0, 4.0], abs=1e-6)
    assert min(side.least for side in apart.sides) > -1e-6
    bare = diodes()
    assert not bare.kept
    assert bare.sides[1].least < -5


def test_one_diode_keeps_one_source() -> None:
    """A diode in one lead keeps that source alone: the other is fed backwards by it."""
    half = diodes("a")
    assert not half.kept
    assert [side.kept for side in half.sides] == [True, False]
    assert half.sides[1].least < -1


INLETS = """
[[feed]]
id = "a"
volts = "12.2 V"
[[feed]]
id = "b"
volts = "12 V"
[[node]]
id = "n"
from = ["a", "b"]
lead = "50 mohm"
use = "{use}"
[[node.inlet]]
id = "one"
peak = "2 A"
backfeed = "{one}"
[[node.inlet]]
id = "two"
backfeed = "{two}"
"""


@pytest.mark.parametrize(
    ("use", "one", "two", "kept"),
    [
        ("shared", "open", "open", [False, False]),
        ("shared", "blocked", "open", [True, False]),
        ("shared", "blocked", "blocked", [True, True]),
        ("or-ed", "open", "open", [True, True]),
    ],
)
def test_an_inlet_may_keep_its_source(use: str, one: str, two: str, kept: list[bool]) -> None:
    """An inlet that blocks keeps its own source; diodes inside the thing keep both."""
    meeting = meeting_of(INLETS.format(use=use, one=one, two=two))
    assert [side.kept for side in meeting.sides] == kept
    assert meeting.kept == all(kept)

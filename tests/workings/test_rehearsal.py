"""The start-up played: sums of each stretch done by hand, the published example, and what must hold for any plan."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck import ours
from coldcheck.engine.running import _Run
from coldcheck.workings.power import Loading
from coldcheck.workings.rehearsal import Rehearsal

SOLDERED = '[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
CLEAR = 'plug = "soldered"\nlead = "0 ohm"\n'
FEED = '[[feed]]\nid = "f"\nvolts = "12 V"\nspread = "0 %"\namps = "50 A"\nplug = "soldered"\n'
HOST = '[[node]]\nid = "host"\nfrom = "f"\npeak = "0.4 A"\nidle = "0.1 A"\nload = "current"\n' + CLEAR
DRIVES = '[[drive]]\nid = "d1 .. d4"\nfrom = "f"\nvolts = "11.4 V .. 12.6 V"\n' + CLEAR
MADE_UP = (
    DRIVES
    + 'surge = ["3.0 A for 1 s", "2.0 A for 9 s"]\npeak = "0.8 A"\nidle = "0.5 A"\nwaiting = "0.02 A"\n'
)
KEPT = 'start = "host"\nkept_by = "host"\n'
BOOK = ours.rulebook(entry_points=False)


def played(text: str, name: str = "rehearsal") -> Any:
    """Return a working of a plan, the rehearsal as a rule."""
    plan = ours.read_plan("t.toml", (SOLDERED + text).encode(), ours.shelf(BOOK))
    assert not plan.faults, plan.faults
    return _Run(plan, BOOK).working(name)


def near(steps: list[tuple[float, float]]) -> list[tuple[float, Any]]:
    """Return a series that compares with rounding."""
    return [(at, pytest.approx(value)) for at, value in steps]


def merged(steps: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return a series without steps that change nothing."""
    kept: list[tuple[float, float]] = []
    for at, value in steps:
        if not kept or abs(kept[-1][1] - value) > 1e-9:
            kept.append((at, value))
    return kept


# --- the start --------------------------------------------------------------------------------------------------------


def test_every_stretch_by_hand() -> None:
    """Four drives twelve seconds apart beside 0.4 A: each stretch is the sum written beside it."""
    scene = played(FEED + HOST + MADE_UP + KEPT + 'delay = "0 s .. 36 s by 12 s"\n').start
    course = scene.courses[0]
    by_hand = [
        (0.0, 0.4 + 3.0 + 3 * 0.02),
        (1.0, 0.4 + 2.0 + 3 * 0.02),
        (10.0, 0.4 + 0.8 + 3 * 0.02),
        (12.0, 0.4 + 0.8 + 3.0 + 2 * 0.02),
        (13.0, 0.4 + 0.8 + 2.0 + 2 * 0.02),
        (22.0, 0.4 + 2 * 0.8 + 2 * 0.02),
        (24.0, 0.4 + 2 * 0.8 + 3.0 + 0.02),
        (25.0, 0.4 + 2 * 0.8 + 2.0 + 0.02),
        (34.0, 0.4 + 3 * 0.8 + 0.02),
        (36.0, 0.4 + 3 * 0.8 + 3.0),
        (37.0, 0.4 + 3 * 0.8 + 2.0),
        (46.0, 0.4 + 4 * 0.8),
    ]
    assert course.amps == near(by_hand)
    assert course.watts == near([(at, 12 * amps) for at, amps in by_hand])
    assert (course.peak, course.at) == (pytest.approx(5.8), 36.0)
    assert course.settled == pytest.approx(3.6)
    assert course.story == "d4 3 A, d1 .. d3 3 × 0.8 A, host 0.4 A"
    assert scene.end == 46.0


def test_published_example() -> None:
    """E22: 8.12 A at once, 2.63 A apart, 10.36 A at the instant (currents of a server drive manual; computed)."""
    rows = tomllib.loads(
        Path(__file__).parents[1].joinpath("reference/power/examples.toml").read_text("utf-8")
    )
    row = rows["E22"]
    surge = 'surge = "{} A for 10 s"\npeak = "0.20 A"\nwaiting = "0.20 A"\n'
    host = HOST.replace("0.4 A", "0 A")
    mean = FEED + host + DRIVES + surge.format(row["start_12v_a"]) + KEPT
    instant = FEED + host + DRIVES + surge.format(row["peak_12v_a"]) + KEPT
    apart = mean + 'delay = "0 s .. 36 s by 12 s"\n'
    assert played(mean).start.courses[0].peak == pytest.approx(row["recomputed_simultaneous_a"])
    assert played(apart).start.courses[0].peak == pytest.approx(row["recomputed_staggered_a"])
    assert played(instant).start.courses[0].peak == pytest.approx(row["recomputed_peak_simultaneous_a"])
    assert played(apart).all_at_once.courses[0].peak == pytest.approx(row["recomputed_simultaneous_a"])


def test_events_say_what_happens() -> None:
    """Each moment names who starts, who waits and who is up."""
    text = FEED + HOST + MADE_UP + KEPT + 'delay = ["0 s", "0 s", "12 s", "12 s"]\n'
    events = [(e.at, e.says) for e in played(text).start.events]
    assert events == [
        (0.0, "host is on, with all it draws"),
        (0.0, "d3 and d4 wait, held back by host"),
        (0.0, "d1 and d2 start"),
        (10.0, "d1 and d2 are up"),
        (12.0, "d3 and d4 start"),
        (22.0, "d3 and d4 are up"),
    ]


def test_switched_rail_is_off_until_its_time() -> None:
    """Boards behind a switch draw nothing for 5 s, then all they do."""
    relay = '[[inline]]\nid = "relay"\nwhat = "switch"\nfrom = "f"\n' + CLEAR
    boards = (
        '[[node]]\nid = "n1 .. n3"\nfrom = "relay"\npeak = "1 A"\nidle = "0.5 A"\nload = "current"\n' + CLEAR
    )
    scene = played(FEED + HOST + relay + boards + 'delay = "5 s"\nkept_by = "relay"\n').start
    assert scene.courses[0].amps == near([(0.0, 0.4), (5.0, 3.4)])
    assert [e.says for e in scene.events] == [
        "host is on, with all it draws", "n1 .. n3 are still off, held back by relay", "n1 .. n3 are up",
    ]  # fmt: skip


def test_story_names_what_draws() -> None:
    """What a carrier hands on is told of the drives, and of the carrier only what it takes itself."""
    carrier = '[[storage]]\nid = "c"\nbays = 4\nvolts = "11.4 V .. 12.6 V"\nfrom = "f"\npeak = "0.4 A"\n'
    drives = '[[drive]]\nid = "d1 .. d4"\nbay = "c.1 .. c.4"\nvolts = "11.4 V .. 12.6 V"\nplug = "soldered"\n'
    text = FEED + carrier + 'load = "current"\n' + CLEAR + drives + 'surge = "2 A for 10 s"\npeak = "0.8 A"\n'
    assert played(text).start.courses[0].story == "d1 .. d4 4 × 2 A, c 0.4 A"


def test_lowest_volts_and_when() -> None:
    """The second drive starts through 0.5 ohm at 12 s: 12 V less 3 A × 0.5 ohm arrive there, and nowhere less."""
    text = FEED + HOST + MADE_UP.replace("d1 .. d4", "d1 .. d2").replace('"0 ohm"', '"0.5 ohm"') + KEPT
    low = played(text + 'delay = "0 s .. 12 s by 12 s"\n').start.courses[0].lowest
    assert (low.volts, low.inlet, low.at, low.least) == (pytest.approx(10.5), "d1", 0.0, pytest.approx(11.4))


def test_time_above_the_rating() -> None:
    """Of 3.46 A, 2.46 A and 1.26 A in turn, a rating of 2.4 A is passed for the ten seconds of a start."""
    text = FEED.replace("50 A", "2.4 A") + HOST + MADE_UP.replace("d1 .. d4", "d1") + KEPT
    course = played(text).start.courses[0]
    assert (course.rating, course.above) == (pytest.approx(2.4), pytest.approx(1.0))
    course = played(text.replace("2.4 A", "2.39 A")).start.courses[0]
    assert course.above == pytest.approx(10.0)


def test_ratings_fall_in_warm_air() -> None:
    """At 55 degC a supply of 10 A that keeps 60 % at 60 degC gives 8 A, and 12 A of its 15 A for a time (E27)."""
    feed = FEED.replace(
        '"50 A"', '"10 A"\npeak = "15 A for 20 s"\nderating = "100 % at 50 degC, 60 % at 60 degC"'
    )
    rehearsal = played('[plan]\nambient = "55 degC"\n' + feed + HOST + MADE_UP)
    course = rehearsal.start.courses[0]
    assert (course.rating, course.short.amps) == (pytest.approx(8.0), pytest.approx(12.0))
    assert rehearsal.start.breach(course.source).kind == "high"  # 12.4 A


# --- the waking -------------------------------------------------------------------------------------------------------

ASLEEP = FEED + HOST + MADE_UP + KEPT + 'delay = "0 s .. 36 s by 12 s"\n'


def test_waking_all_at_once() -> None:
    """Drives that only a board delays wake together, with all else busy: 4 × 3 A and 0.4 A, then 4 × 2 A, 4 × 0.8 A."""
    scene = played(ASLEEP + "sleeps = true\n").wake
    assert scene.courses[0].amps == near([(0.0, 12.4), (1.0, 8.4), (10.0, 3.6)])


def test_all_else_is_busy_when_drives_wake() -> None:
    """What does not sleep is past its start, on the same feed and behind a converter of it: 0.8 A and 12 W / 12 V."""
    more = DRIVES.replace("d1 .. d4", "e") + 'surge = "3 A for 20 s"\npeak = "0.8 A"\n'
    more += '[[supply]]\nid = "s"\nfrom = "f"\nefficiency = "100 %"\n' + CLEAR
    more += '[[supply.rail]]\nid = "5v"\nvolts = "5 V"\nspread = "0 %"\nplug = "soldered"\n'
    more += (
        '[[fan]]\nid = "fan"\nfrom = "s.5v"\nsurge = "30 W for 5 s"\npeak = "12 W"\nload = "power"\n' + CLEAR
    )
    scene = played(ASLEEP + "sleeps = true\n" + more).wake
    assert merged(scene.courses[0].amps) == near([(0.0, 14.2), (1.0, 10.2), (10.0, 5.4)])


def test_waking_one_by_one() -> None:
    """A carrier that staggers holds them back each time they wake: never more than 0.4 A + 3 × 0.8 A + 3 A."""
    carrier = '[[storage]]\nid = "c"\nbays = 4\nstaggers = true\nvolts = "11.4 V .. 12.6 V"\nfrom = "f"\npeak = "0 A"\n'
    text = ASLEEP.replace('from = "f"\nvolts', 'bay = "c.1 .. c.4"\nvolts').replace(
        'kept_by = "host"', 'kept_by = "c"'
    )
    text = text.replace(
        'volts = "11.4 V .. 12.6 V"\nplug = "soldered"\nlead = "0 ohm"\n', 'volts = "11.4 V .. 12.6 V"\n'
    )
    course = played(carrier + CLEAR + text + "sleeps = true\n").wake.courses[0]
    assert course.peak == pytest.approx(5.8, abs=0.02)


@pytest.mark.parametrize(
    "says, sleepers",
    [
        ("", 0),
        ("sleeps = true", 4),
        ("sleeps = false", 0),
        ('start = "standby"', 4),
        ('start = "standby"\nsleeps = false', 0),
        ("motor = false\nsleeps = true", 0),
    ],
)
def test_which_drives_sleep(says: str, sleepers: int) -> None:
    """A drive may sleep where the plan says so, or where only its host wakes it; one without a motor never does."""
    rehearsal = played(FEED + HOST + MADE_UP + says + "\n")
    assert len(rehearsal.sleepers) == sleepers
    assert (rehearsal.wake is None) == (sleepers == 0)


def test_waking_reaches_the_feed_through_a_converter() -> None:
    """12.4 A of a 12 V rail at 80 % are 186 W of a 24 V feed, beside 24 W of its own."""
    rail = '[[feed]]\nid = "bank"\nvolts = "24 V"\nspread = "0 %"\nplug = "soldered"\n'
    rail += '[[supply]]\nid = "s"\nfrom = "bank"\nefficiency = "80 %"\n' + CLEAR
    rail += '[[supply.rail]]\nid = "f"\nvolts = "12 V"\nspread = "0 %"\nplug = "soldered"\n'
    rail += '[[node]]\nid = "own"\nfrom = "bank"\npeak = "24 W"\n' + CLEAR
    body = (HOST + MADE_UP + KEPT + 'delay = "0 s .. 36 s by 12 s"\nsleeps = true\n').replace('"f"', '"s.f"')
    scene = played(rail + body).wake
    bank = next(c for c in scene.courses if c.source.name == "bank")
    assert bank.watts == near(
        [(0.0, 12.4 * 12 / 0.8 + 24), (1.0, 8.4 * 12 / 0.8 + 24), (10.0, 3.6 * 12 / 0.8 + 24)]
    )


# --- what holds for every plan ----------------------------------------------------------------------------------------

amps = st.integers(1, 40).map(lambda n: n / 10)
drives = st.lists(st.tuples(amps, st.integers(1, 15), amps, st.integers(0, 60)), min_size=1, max_size=6)


def plan_of(rows: list[tuple[float, int, float, int]], kept: bool) -> str:
    """Return a plan of drives: surge, its length, settled (no more than the surge), delay."""
    text = FEED + HOST
    for i, (surge, seconds, settled, delay) in enumerate(rows):
        text += DRIVES.replace("d1 .. d4", f"d{i}")
        text += f'surge = "{max(surge, settled)} A for {seconds} s"\npeak = "{settled} A"\nwaiting = "0 A"\n'
        text += KEPT + f'delay = "{delay} s"\n' if kept and delay else 'start = "host"\n'
    return text


@given(drives)
def test_same_numbers_as_the_lint(rows: list[tuple[float, int, float, int]]) -> None:
    """The peak of every source is the most that the working of the rules has for it, and so is what remains."""
    plan = ours.read_plan("t.toml", (SOLDERED + plan_of(rows, True)).encode(), ours.shelf(BOOK))
    run = _Run(plan, BOOK)
    rehearsal: Rehearsal = run.working("rehearsal")
    loading: Loading = run.working("loading")
    for course in rehearsal.start.courses:
        series = loading.amps(course.source)
        assert course.peak == max(value for _, value in series)
        assert course.settled == series[-1][1]


@given(drives)
def test_staggering_never_raises_the_peak(rows: list[tuple[float, int, float, int]]) -> None:
    """Held back, drives ask at most for what they ask for at once, and the same once all are up."""
    apart, at_once = (played(plan_of(rows, kept)).start.courses[0] for kept in (True, False))
    assert apart.peak <= at_once.peak + 1e-9
    assert apart.settled == pytest.approx(at_once.settled)


@given(drives)
def test_failed_delays_are_the_start_without_any(rows: list[tuple[float, int, float, int]]) -> None:
    """All at once is what the plan would be had it no delays."""
    scene = played(plan_of(rows, True)).all_at_once
    plain = played(plan_of(rows, False)).start
    assert (scene is None) == all(delay == 0 for *_, delay in rows)
    if scene is not None:
        assert merged(scene.courses[0].amps) == near(merged(plain.courses[0].amps))


@given(drives, st.integers(1, 100), st.integers(1, 20))
def test_a_breach_is_a_surge_beyond_what_is_stated(
    rows: list[tuple[float, int, float, int]], rating: int, seconds: int
) -> None:
    """No breach means: never above the peak rating, and above the other for no longer than allowed, or for good."""
    feed = FEED.replace('"50 A"', f'"{rating / 4} A"\npeak = "{rating / 2} A for {seconds} s"')
    rehearsal = played(plan_of(rows, True).replace(FEED, feed))
    course = rehearsal.start.courses[0]
    if rehearsal.start.breach(course.source) is None and course.settled <= rating / 4:
        lasting = course.above > 60
        assert lasting or (course.peak <= rating / 2 + 1e-6 and course.above <= seconds + 1e-6)

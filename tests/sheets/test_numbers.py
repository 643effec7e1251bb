"""The numbers of the tables are those of the workings, cell by cell: a sheet computes none, and leaves none away."""

from __future__ import annotations

from math import inf, isfinite
from pathlib import Path

import pytest

from coldcheck.sheets import courses, power_tree
from coldcheck.sheets.table import as_rows
from coldcheck.workings.net import source_volts
from tests.sheets.plans import read

PLANS = ("gorse-hill", "otter-weir", "reed-marsh", "lantern-room", "sundial-court")


@pytest.mark.parametrize("name", PLANS)
def test_the_power_tree_says_what_arrives(root: Path, name: str) -> None:
    """An inlet: volts and amps that arrive. A source: its volts and what it may give. What hands on has no volts."""
    plan, get = read((root / "inventories" / f"{name}.toml").read_bytes())
    arrivals = {arrival.name: arrival for arrival in get("arrivals")}
    points = {outlet.name: outlet for thing in plan.order for outlet in thing.outlets}
    for row in as_rows(power_tree.power_tree(plan, get)[0]):
        if row["kind"] == "inlet":
            arrival = arrivals[str(row["name"])]
            assert (row["volts"], row["low"], row["amps"]) == (arrival.nominal, arrival.low, arrival.amps)
            assert row["missing"] == ("" if arrival.low is not None else arrival.lacks)
            continue
        outlet = points[str(row["name"])]
        volts = source_volts(outlet)
        if not outlet.is_source:
            assert (row["volts"], row["low"]) == ("", "")
        elif volts is None:
            assert (row["volts"], row["low"]) == (None, None)
        else:
            assert (row["volts"], row["low"]) == volts[:2]
        drawn = [arrivals[taker.name].amps or 0.0 for taker in outlet.takers if taker.name in arrivals]
        if row["amps"] is not None and drawn:  # no less than the most of what hangs on it, nor more than all
            assert max(drawn) * 0.999 <= float(str(row["amps"])) <= sum(drawn) * 1.001


TREE = """
[[feed]]
id = "f"
volts = "12 V"
low = "11 V"
high = "13 V"
amps = "5 A"
[[feed]]
id = "dark"
[[appliance]]
id = "a"
from = "f"
volts = "9 V .. 14 V"
peak = "1 A"
lead = "18 AWG, 1 m"
[[appliance]]
id = "b"
from = "dark"
volts = "9 V .. 14 V"
peak = "1 A"
lead = "18 AWG, 1 m"
[[inline]]
id = "hold"
what = "fuse"
fuse = "3 A blade"
amps = "10 A"
from = "f"
lead = "18 AWG, 1 m"
[[inline]]
id = "bare"
what = "splitter"
from = "hold"
lead = "18 AWG, 1 m"
[[appliance]]
id = "c"
from = "bare"
volts = "9 V .. 14 V"
peak = "1 A"
lead = "18 AWG, 1 m"
"""


def test_limits_and_gaps_of_a_small_tree() -> None:
    """What is allowed where it is said; "" where a thing that hands on has no rating, "?" where a source has none."""
    plan, get = read(TREE)
    rows = {(row["kind"], row["name"]): row for row in as_rows(power_tree.power_tree(plan, get)[0])}
    assert [rows["feed", name]["limit"] for name in ("f", "dark")] == [5.0, None]
    assert [(rows["feed", name]["volts"], rows["feed", name]["low"]) for name in ("f", "dark")] == [
        (12.0, 11.0),
        (None, None),
    ]
    assert [rows["inlet", name]["limit"] for name in ("hold", "bare", "c")] == [10.0, "", ""]
    assert rows["outlet", "bare"]["limit"] == ""
    assert rows["inlet", "hold"]["fuse"] == "3 A blade"
    assert rows["inlet", "b"]["volts"] is None
    assert [rows["inlet", name]["source"] for name in ("a", "b", "c")] == ["f", "dark", "bare"]


@pytest.mark.parametrize("name", PLANS)
def test_the_course_of_each_source(root: Path, name: str) -> None:
    """Each source of each scene once, with its peak, what it may give, how long it is above, and the lowest plug."""
    plan, get = read((root / "inventories" / f"{name}.toml").read_bytes())
    played = get("rehearsal")
    scenes = [("start", played.start)] + ([("drives wake", played.wake)] if played.wake is not None else [])
    told, events = courses.start_up(plan, get)
    rows = as_rows(told)
    expected = [(scene, course) for scene, one in scenes for course in one.courses]
    assert len(rows) == len(expected) > 0
    for row, (scene, course) in zip(rows, expected, strict=True):
        assert (row["scene"], row["source"], row["peak"]) == (scene, course.source.name, course.peak)
        assert (row["at"], row["rating"], row["settled"]) == (course.at, course.rating, course.settled)
        assert course.peak == pytest.approx(max(amps for _, amps in course.amps))
        short = course.short
        assert (row["short"], row["seconds"]) == (("", "") if short is None else (short.amps, short.seconds))
        lowest = course.lowest
        assert (row["volts"], row["inlet"]) == (
            (None, "") if lowest is None else (lowest.volts, lowest.inlet)
        )
    assert len(as_rows(events)) == sum(len(one.events) for _, one in scenes)


def test_a_source_that_is_above_what_it_gives() -> None:
    """For as long as the surge lasts, or without end."""
    plan = '[[feed]]\nid = "f"\nvolts = "12 V"\namps = "{} A"\n[[appliance]]\nid = "a"\nfrom = "f"\n'
    plan += 'volts = "9 V .. 14 V"\npeak = "2 A"\nsurge = "4 A for 3 s"\nlead = "18 AWG, 100 mm"\n'
    found: list[object] = []
    for amps in (5, 3, 1):
        made, get = read(plan.format(amps))
        (row,) = as_rows(courses.start_up(made, get)[0])
        (course,) = get("rehearsal").start.courses
        assert course.above == (0.0, 3.0, inf)[len(found)] or not isfinite(course.above)
        found.append(row["above"])
    assert found == ["", 3.0, "without end"]

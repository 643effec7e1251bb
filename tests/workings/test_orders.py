"""The order of starting, against what it must keep: each behind all that it waits for, and no step too late."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.plan.spans import members
from coldcheck.workings.orders import RANKS
from tests.sheets.plans import read

KINDS = ["switch", "storage", "node", "appliance"]


def plan_of(kinds: list[str], waits: set[tuple[int, int]]) -> str:
    """Write a plan of machines t0, t1 ... in which some wait for others."""
    rows = []
    for n, kind in enumerate(kinds):
        before = [f'"t{first}"' for one, first in sorted(waits) if one == n]
        rows.append(f'[[{kind}]]\nid = "t{n}"\n' + (f"after = [{', '.join(before)}]\n" if before else ""))
    return "".join(rows)


@given(
    st.lists(st.sampled_from(KINDS), min_size=1, max_size=7),
    st.sets(st.tuples(st.integers(0, 6), st.integers(0, 6)), max_size=9),
)
def test_order_keeps_what_waits(kinds: list[str], waits: set[tuple[int, int]]) -> None:
    """Levels are the longest chains, by another way: relaxed until nothing moves; circles are what networkx finds."""
    waits = {(n, first) for n, first in waits if max(n, first) < len(kinds)}
    _, get = read(plan_of(kinds, waits))
    found: Any = get("orders")
    step = {thing.id: n for n, things in enumerate(found.steps) for thing in things}
    assert sorted(step) == sorted(f"t{n}" for n in range(len(kinds)))
    graph = nx.DiGraph([(f"t{first}", f"t{n}") for n, first in waits])
    on_a_circle = {name for cycle in nx.simple_cycles(graph) for name in cycle}
    assert {thing.id for circle in found.circles for thing in circle} == on_a_circle
    within = [{thing.id for thing in circle} for circle in found.circles]
    edges = [edge for edge in graph.edges if not any(set(edge) <= ids for ids in within)]
    level = {f"t{n}": RANKS[kind] for n, kind in enumerate(kinds)}
    for _ in level:
        for before, behind in edges:
            level[behind] = max(level[behind], level[before] + 1)
    numbers = sorted(set(level.values()))
    assert step == {name: numbers.index(value) for name, value in level.items()}


def test_down_is_the_way_back() -> None:
    """What starts last stops first; feeds start first and stop last."""
    from coldcheck.sheets import things

    plan, get = read(
        '[[feed]]\nid = "f"\n[[node]]\nid = "n1 .. n2"\nafter = "store"\n[[storage]]\nid = "store"\nafter = "boss"\n'
        '[[node]]\nid = "boss"\n[[switch]]\nid = "sw"\n'
    )
    tables = {table.name: table.rows for table in things.order(plan, get)}
    up = [(row[0], row[1]) for row in tables["ups"]]
    assert up == [(1, "f"), (2, "sw"), (3, "boss"), (4, "store"), (5, "n1 and n2")]
    assert [row[1] for row in tables["stops"]] == [name for _, name in reversed(up)]


def test_without_a_word_what_serves_comes_first() -> None:
    """Switches, then storage with its drives, then what uses both (common practice)."""
    _, get = read(
        '[[node]]\nid = "n"\n[[appliance]]\nid = "cam"\n[[drive]]\nid = "d"\nbay = "store.1"\n'
        '[[storage]]\nid = "store"\nbays = 1\n[[switch]]\nid = "sw"\nafter = "nobody"\n'
    )
    found: Any = get("orders")
    steps = [sorted(thing.id for thing in things) for things in found.steps]
    assert steps == [["sw"], ["d", "store"], ["cam", "n"]]


def test_without_a_feed_and_with_a_drive_on_its_own() -> None:
    """Steps count from one whatever there is; a drive goes along with what it is in."""
    from coldcheck.sheets import things

    plan, get = read(
        '[[storage]]\nid = "store"\nbays = 1\n[[drive]]\nid = "d1"\nbay = "store.1"\n[[drive]]\nid = "d2"\n'
        '[[node]]\nid = "n"\n'
    )
    tables = {table.name: [(row[0], row[1]) for row in table.rows] for table in things.order(plan, get)}
    assert tables["ups"] == [(1, "store"), (1, "d2"), (2, "n")]
    assert tables["stops"] == [(1, "n"), (2, "store"), (2, "d2")]
    plan, get = read('[[feed]]\nid = "f"\n')
    tables = {table.name: [(row[0], row[1]) for row in table.rows] for table in things.order(plan, get)}
    assert (tables["ups"], tables["stops"]) == ([(1, "f")], [(1, "f")])


def test_the_way_out_serves_the_others() -> None:
    """What an uplink goes through starts first and stops last, so that someone far away is not cut off."""
    _, get = read(
        '[[node]]\nid = "n"\n[[appliance]]\nid = "radio"\n[[uplink]]\nfrom = "radio"\nto = "out"\n'
        '[[outside]]\nid = "out"\n[[storage]]\nid = "store"\n'
    )
    found: Any = get("orders")
    assert [[thing.id for thing in things] for things in found.steps] == [["radio"], ["store"], ["n"]]


def test_how_a_feed_comes_on() -> None:
    """A supply by its switch; a battery by its fuse, or as its maker says."""
    from coldcheck.sheets import things

    plan, get = read(
        '[[feed]]\nid = "a"\n[[feed]]\nid = "b"\nbattery = true\nfuse = "5 A blade"\n[[feed]]\nid = "c"\n'
        'battery = true\n[[node]]\nid = "n"\n'
    )
    ups = next(table.rows for table in things.order(plan, get) if table.name == "ups")
    assert [row[1:3] for row in ups] == [
        ("a", "switch a on"),
        ("b", "put the 5 A blade fuse of b in"),
        ("c", "connect c, as its maker says"),
        ("n", "by itself, as soon as it has power"),
    ]


SWITCHED = """
[[feed]]
id = "f"
[[inline]]
id = "both"
what = "switch"
from = "f"
[[inline]]
id = "late"
what = "switch"
from = "both"
[[inline]]
id = "timer"
what = "switch"
from = "both"
[[inline]]
id = "fuse"
what = "fuse"
from = "both"
[[storage]]
id = "store"
from = "fuse"
[[node]]
id = "n"
from = "late"
[[node]]
id = "m"
from = "timer"
delay = "5 s"
kept_by = "timer"
[[inline]]
id = "air"
what = "switch"
from = "f"
[[fan]]
id = "fan"
from = "air"
"""


def test_switches_go_on_before_what_they_feed() -> None:
    """By hand, each before the first machine on its way, and off behind the last; not one that keeps a delay itself."""
    from coldcheck.sheets import things

    plan, get = read(SWITCHED)
    tables = {table.name: [(row[0], row[1]) for row in table.rows] for table in things.order(plan, get)}
    assert tables["ups"] == [(1, "f"), (2, "both and air"), (3, "store"), (4, "late"), (5, "n and m")]
    assert tables["stops"] == [(1, "n and m"), (2, "late"), (3, "store"), (4, "air and both"), (5, "f")]
    plan, get = read('[[feed]]\nid = "f"\n[[inline]]\nid = "air"\nwhat = "switch"\nfrom = "f"\n')
    tables = {table.name: [(row[0], row[1]) for row in table.rows] for table in things.order(plan, get)}
    assert (tables["ups"], tables["stops"]) == ([(1, "f"), (2, "air")], [(1, "air"), (2, "f")])


@pytest.mark.parametrize("name", ["gorse-hill", "otter-weir", "sundial-court"])
def test_each_data_cable_goes_in_once(root: Path, name: str) -> None:
    """With the later of its two ends, so that what a row names stands already."""
    from coldcheck.sheets import things

    plan, get = read((root / "inventories" / f"{name}.toml").read_bytes())
    rows = next(table.rows for table in things.order(plan, get) if table.name == "assembly")
    placed: set[str] = set()
    seen: list[frozenset[str]] = []
    outside = {line.outside for line in plan.links if line.b is None}
    for row in rows:
        placed.add(str(row[2]))
        own, _, far = str(row[6] or "").partition(" to ")
        ends = [spelled(own), spelled(far)]
        assert len(ends[0]) == len(ends[1])
        for pair in zip(*ends, strict=True):
            assert all(end in outside or end.partition(".")[0] in placed for end in pair)
            seen.append(frozenset(pair))
    cables = [
        frozenset((line.a.name, line.b.name if line.b is not None else line.outside))
        for line in plan.links
        if getattr(line.entry, "medium", None) != "radio"
    ]
    assert sorted(map(sorted, seen)) == sorted(map(sorted, cables))


def spelled(text: str) -> list[str]:
    """Return the names of a list for people: the way back of `listed`."""
    pieces = [piece for piece in re.split(", | and ", text) if piece]
    return [name for piece in pieces for name in (members(piece) if " .. " in piece else [piece])]

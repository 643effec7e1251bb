"""Spanning tree: which links of a plan forward, held against squares done by hand and what must hold of a tree."""

from __future__ import annotations

import random

import networkx as nx  # type: ignore[import-untyped]
import pytest

from coldcheck.workings.spanning import SpanningTree, row_of_switches, unsaid_speeds

from .conftest import Worked

SWITCH = '[[switch]]\nid = "{}"\n{}[[switch.port]]\nid = "1 .. 8"\nspeed = "{}"\n'
LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
ON = "spanning_tree = true\n"


def square(words: dict[str, str] | None = None, speeds: dict[str, str] | None = None) -> str:
    """Return four switches a, b, c, d in a ring, with the first port towards the next; words by switch."""
    words, speeds = words or {}, speeds or {}
    text = "".join(SWITCH.format(s, words.get(s, ON), speeds.get(s, "1 Gbit/s")) for s in "abcd")
    return text + "".join(LINK.format(f"{s}.1", f"{t}.2") for s, t in ("ab", "bc", "cd", "da"))


def named(worked: Worked, text: str, places: str) -> list[str]:
    """Return the links at some places of the answer."""
    run = worked(text)
    found, network = run.working("spanning_tree"), run.working("network")
    return [str(network.bundles[place].lines[0]) for place in sorted(getattr(found, places))]


MACS = {s: f'{ON}mac = "02:00:00:00:00:0{i}"\n' for i, s in enumerate("abcd", 1)}


def test_the_far_side_of_a_square_is_blocked(worked: Worked) -> None:
    """Seen from the root, the third switch has two ways of one cost: the lower neighbour's counts (IEEE 802.1D)."""
    first = {**MACS, "a": MACS["a"] + "priority = 4096\n"}
    assert named(worked, square(first), "blocked") == ["c.1 to d.2"]
    # with the root at c, a is the far side: b is lower than d, so the link to d is blocked
    third = {**MACS, "c": MACS["c"] + "priority = 4096\n"}
    assert named(worked, square(third), "blocked") == ["d.1 to a.2"]
    # a lower priority beats a lower address, as root and as neighbour: d is the far side of b, and c the better way
    second = {**MACS, "b": MACS["b"] + "priority = 0\n"}
    assert named(worked, square(second), "blocked") == ["c.1 to d.2"]
    assert named(worked, square({**second, "c": third["c"]}), "blocked") == ["d.1 to a.2"]
    assert named(worked, square(MACS), "blocked") == ["c.1 to d.2"]
    assert named(worked, square(MACS), "undecided") == []
    assert worked(square(MACS)).working("spanning_tree").ties == []


def test_a_slow_link_is_the_one_that_is_blocked(worked: Worked) -> None:
    """The cost of a way counts before addresses: 100 Mbit/s costs 200 000, 1 Gbit/s 20 000 (IEEE 802.1D-2004)."""
    slow = (
        square(MACS)
        .replace('to = "c.2"', 'to = "c.3"')
        .replace(
            'id = "1 .. 8"\nspeed = "1 Gbit/s"\n[[switch]]\nid = "d"',
            'id = "1 .. 2"\nspeed = "1 Gbit/s"\n[[switch.port]]\nid = "3"\nspeed = "100 Mbit/s"\n[[switch]]\nid = "d"',
        )
    )
    assert named(worked, slow, "blocked") == ["b.1 to c.3"]


def test_a_bond_counts_by_the_speed_of_all_its_cables(worked: Worked) -> None:
    """Two cables of 1 Gbit/s in one bond cost less than one, so the single cable beside them is blocked."""
    text = "".join(SWITCH.format(s, MACS[s], "1 Gbit/s") for s in "ab") + LINK.format("a.1", "b.1")
    text += "".join(LINK.format(f"a.{p}", f"b.{p}") + 'bond = "x"\n' for p in "23")
    assert named(worked, text, "blocked") == ["a.1 to b.1"]
    assert named(worked, text, "active") == ["a.2 to b.2"]


def test_of_two_equal_cables_the_one_in_the_lower_port_forwards(worked: Worked) -> None:
    """The port number of the nearer switch decides, whatever the order in the plan and of both ends."""
    text = "".join(SWITCH.format(s, MACS[s], "1 Gbit/s") for s in "ab") + LINK.format("a.7", "b.1")
    assert named(worked, text + LINK.format("a.3", "b.8"), "blocked") == ["a.7 to b.1"]
    assert named(worked, text + LINK.format("b.8", "a.3"), "blocked") == ["a.7 to b.1"]


def test_one_running_switch_blocks_by_itself(worked: Worked) -> None:
    """Where one alone runs a spanning tree it finds its own word coming back, and blocks one of its own links."""
    one = dict.fromkeys("abcd", "spanning_tree = false\n") | {"a": ON}
    assert named(worked, square(one), "blocked") == ["d.1 to a.2"]
    assert named(worked, square(dict.fromkeys("abcd", "spanning_tree = false\n")), "blocked") == []
    assert len(named(worked, square(dict.fromkeys("abcd", "")), "active")) == 4


def test_a_switch_that_does_not_say_leaves_its_loop_undecided(worked: Worked) -> None:
    """It may become the root as well as not; a loop elsewhere, with all said, stays decided."""
    text = square({**MACS, "d": ""})
    assert len(named(worked, text, "undecided")) == 4
    assert named(worked, text, "blocked") == []
    assert worked(text).working("spanning_tree").missing == ["d spanning_tree"]
    other = "".join(
        SWITCH.format(s, f'{ON}mac = "02:00:00:00:01:0{i}"\n', "1 Gbit/s") for i, s in enumerate("ef")
    )
    other += LINK.format("e.1", "f.1") + LINK.format("e.2", "f.2")
    assert named(worked, text + other, "blocked") == ["e.2 to f.2"]
    # a part without a loop needs no root
    plain = "".join(SWITCH.format(s, ON, "1 Gbit/s") for s in "ef") + LINK.format("e.1", "f.1")
    assert worked(square(MACS) + plain).working("spanning_tree").ties == []
    # beside a loop, not in one: what hangs on it forwards in any case
    beside = square(MACS) + SWITCH.format("x", "", "1 Gbit/s") + LINK.format("a.8", "x.1")
    assert "a.8 to x.1" in named(worked, beside, "active")


def test_unknown_speeds_and_roots_leave_it_undecided(worked: Worked) -> None:
    """Without addresses the root is not known, without speeds the costs: what is missing is named."""
    boards = '[[node]]\nid = "n1 .. n3"\nport = "a.5 .. a.7"\n'  # their cables come first, and forward
    around = ["a.1 to b.2", "b.1 to c.2", "c.1 to d.2", "d.1 to a.2"]
    assert named(worked, square() + boards, "undecided") == around
    assert len(named(worked, square() + boards, "active")) == 3
    assert named(worked, square(MACS) + boards, "blocked") == ["c.1 to d.2"]
    tied: SpanningTree = worked(square()).working("spanning_tree")
    assert ([[s.id for s in t] for t in tied.ties], len(tied.undecided)) == ([["a", "b", "c", "d"]], 4)
    assert tied.missing == ["a priority", "b priority", "c priority", "d priority"]
    first = dict.fromkeys("abcd", ON) | {"a": ON + "priority = 4096\n"}
    found: SpanningTree = worked(square(first)).working("spanning_tree")
    assert not found.ties
    assert found.undecided
    assert {name.partition(" ")[2] for name in found.missing} == {"mac"}
    dark = square({**MACS, "a": MACS["a"] + "priority = 4096\n"}).replace(
        '"1 .. 8"\nspeed = "1 Gbit/s"\n', '"1 .. 8"\n', 1
    )
    assert worked(dark).working("spanning_tree").missing == ["a.1 speed", "a.2 speed"]
    bad = square({**MACS, "a": ON + 'mac = "not one"\n'})
    assert worked(bad).working("spanning_tree").ties


def test_a_port_that_takes_no_part_always_forwards(worked: Worked) -> None:
    """A link with such a port is left out of the tree, and so active; what it closes is told by `topology.loop`."""
    text = (
        "".join(SWITCH.format(s, MACS[s], "1 Gbit/s") for s in "ab")
        + LINK.format("a.9", "b.1")
        + LINK.format("a.2", "b.2")
    )
    text = text.replace(
        '[[switch]]\nid = "b"',
        '[[switch.port]]\nid = "9"\nspeed = "1 Gbit/s"\nspanning_tree = false\n[[switch]]\nid = "b"',
    )
    assert named(worked, text, "blocked") == []
    assert named(worked, text.replace("tree = false", "tree = true"), "blocked") == ["a.9 to b.1"]


@pytest.mark.parametrize("seed", range(40))
def test_what_forwards_is_a_tree_over_all_switches(worked: Worked, seed: int) -> None:
    """With every address and speed known nothing is undecided, and the active links are a spanning tree (networkx)."""
    pick = random.Random(seed)
    names = [f"s{i}" for i in range(pick.randint(2, 8))]
    text = "".join(SWITCH.format(s, f'{ON}mac = "02:00:00:00:00:{i:02x}"\npriority = {pick.choice([0, 4096, 32768])}\n',
                                 pick.choice(["1 Gbit/s", "10 Gbit/s"])) for i, s in enumerate(names))  # fmt: skip
    used = dict.fromkeys(names, 0)
    for _ in range(pick.randint(1, 12)):
        ends = pick.sample(names, 2)
        if all(used[e] < 8 for e in ends):
            for end in ends:
                used[end] += 1
            text += LINK.format(*(f"{end}.{used[end]}" for end in ends))
    run = worked(text)
    network, found = run.working("network"), run.working("spanning_tree")
    assert not found.undecided
    whole = nx.MultiGraph([(b.a, b.b) for b in network.bundles])
    tree = nx.MultiGraph([(network.bundles[i].a, network.bundles[i].b) for i in found.active])
    assert nx.is_forest(tree)
    assert {frozenset(c) for c in nx.connected_components(tree)} == {
        frozenset(c) for c in nx.connected_components(whole)
    }


def test_which_keys_would_say_a_speed(worked: Worked) -> None:
    """Of a cable the ports without one, of an uplink its own speed where it states none."""
    text = (
        '[[switch]]\nid = "a"\nports = 8\n'
        + '[[node]]\nid = "n"\n[[node.port]]\nid = "1"\nspeed = "1 Gbit/s"\nto = "a.1"\n'
    )
    text += "".join(
        f'[[uplink]]\nfrom = "a.{p}"\nto = "v{p}"\n{speed}'
        for p, speed in ((2, ""), (3, 'speed = "1 Gbit/s"\n'))
    )
    run = worked(text)
    lines = [bundle.lines[0] for bundle in run.working("network").bundles]
    assert [unsaid_speeds(line) for line in lines] == [["a.1 speed"], ["a.2 to v2: speed of the uplink"], []]
    assert [run.working("traffic").bits[place] for place in range(3)] == [None, None, 1e9]


def test_a_row_is_sought_where_a_spanning_tree_runs(worked: Worked) -> None:
    """Eight switches in a row without one do not count beside two that run one."""
    chain = "".join(SWITCH.format(f"s{i}", "", "1 Gbit/s") for i in range(8))
    chain += "".join(LINK.format(f"s{i}.1", f"s{i + 1}.2") for i in range(7))
    text = (
        chain
        + SWITCH.format("a", ON, "1 Gbit/s")
        + SWITCH.format("b", "", "1 Gbit/s")
        + LINK.format("a.1", "b.1")
    )
    network = worked(text).working("network")
    assert sorted(row_of_switches(network, {"a"})) == ["a", "b"]
    assert len(row_of_switches(network, {"s3"})) == 8
    assert row_of_switches(network, set()) == []

"""Topology: links and doors, loops held against spanning trees over every room, failures against taking things out."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from coldcheck.lan import spanning
from coldcheck.workings.topology import Bundle, Failure, Loop

from .conftest import Worked

SWITCH = '[[switch]]\nid = "{}"\nports = 8\n'
LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
NODE = '[[node]]\nid = "{}"\nport = "{}"\n'
PORTS = '[[{}]]\nid = "{}"\n[[{}.port]]\nid = "1 .. 2"\nto = ["{}", "{}"]\n'


# --- doors and links -------------------------------------------------------------------------------------------------


def test_cables_of_a_bond_are_one_link(worked: Worked) -> None:
    """A bond is one link with one door at a machine, whether a port, the thing or the link says it; others are not."""
    ports = '[[node]]\nid = "n"\n{}[[node.port]]\nid = "1"\n{}[[node.port]]\nid = "2"\n{}'
    to = ('to = "a.1"\n', 'to = "a.2"\n')
    alone = SWITCH.format("a") + ports.format("", *to)
    by_port = SWITCH.format("a") + ports.format("", *(f'bond = "b"\n{text}' for text in to))
    by_thing = SWITCH.format("a") + ports.format('bond = "b"\n', *to)
    links = "".join(LINK.format(f"n.{i}", f"a.{i}") + 'bond = "b"\n' for i in (1, 2))
    by_link = SWITCH.format("a") + ports.format("", "", "") + links
    assert [len(b.lines) for b in worked(alone).working("network").bundles] == [1, 1]
    for text in (by_port, by_thing, by_link):
        network = worked(text).working("network")
        assert [len(b.lines) for b in network.bundles] == [2]
        assert network.doors["n"] == ["n.b"]
        assert network.bundles[0].words == "n.1 to a.1 and 1 more"


def test_a_management_port_is_no_door_and_in_no_bond_of_its_thing(worked: Worked) -> None:
    """What leads to the management port of a machine or a switch ends there, even where the machine has a bond."""
    text = SWITCH.format("a") + SWITCH.format("m") + '[[node]]\nid = "n"\nbond = "b"\n'
    text += (
        '[[node.port]]\nid = "1 .. 2"\nto = ["a.1", "a.2"]\n[[node.port]]\nid = "bmc"\nfor = "management"\n'
    )
    text += 'to = "m.1"\n'
    network = worked(text).working("network")
    assert network.doors == {"n": ["n.b"], "a": ["a"], "m": ["m"]}
    assert [(b.a, b.b) for b in network.bundles] == [("n.b", "a"), ("n.bmc", "m")]
    port = '[[switch]]\nid = "c"\n[[switch.port]]\nid = "mgmt"\nfor = "management"\n'
    network = worked(text + port + LINK.format("c.mgmt", "m.2")).working("network")
    assert (network.bundles[-1].a, network.bundles[-1].b, network.doors["c"]) == ("c.mgmt", "m", [])


def test_a_cable_written_twice_is_one_and_one_to_its_own_switch_is_none(worked: Worked) -> None:
    """Both ends may name a cable; a cable from a switch to itself joins nothing."""
    text = SWITCH.format("a") + SWITCH.format("b") + LINK.format("a.1", "b.1") + LINK.format("b.1", "a.1")
    assert len(worked(text).working("network").bundles) == 1
    assert not worked(text).working("loops")
    assert not worked(SWITCH.format("a") + LINK.format("a.1", "a.2")).working("network").bundles


# --- loops -----------------------------------------------------------------------------------------------------------


class Wires:
    """Switches and the cables between them at random; ``edges`` are (bond or number, cables, ends)."""

    def __init__(self, seed: int) -> None:
        pick = random.Random(seed)
        self.switches = [f"s{i}" for i in range(pick.randint(3, 5))]
        self.runs = {s: pick.choice([True, False, None, None]) for s in self.switches}
        self.keeps = {s: pick.random() < 0.5 for s in self.switches} if pick.random() < 0.5 else {}
        self.ports: dict[str, list[dict[str, Any]]] = {s: [] for s in self.switches}
        self.bridge = f"ap{seed}" if pick.random() < 0.4 else ""
        things = [*self.switches, *([self.bridge] if self.bridge else [])]
        if self.bridge:
            self.runs[self.bridge], self.ports[self.bridge] = False, []
        self.edges: list[tuple[str, list[tuple[str, str]], str, str, dict[str, Any], dict[str, Any]]] = []
        for number in range(pick.randint(2, 7)):
            a, b = pick.sample(things, 2)
            facts = [self._facts(pick, one) for one in (a, b)]
            bond = f"bond{number}" if pick.random() < 0.2 else ""
            cables = [(self._port(a, facts[0]), self._port(b, facts[1])) for _ in range(2 if bond else 1)]
            self.edges.append((bond, cables, a, b, facts[0], facts[1]))
        self.boards = [pick.sample(self.switches, 2) for _ in range(2)]

    def _facts(self, pick: random.Random, thing: str) -> dict[str, Any]:
        facts: dict[str, Any] = {}
        if thing in self.switches and pick.random() < 0.15:
            facts["spanning_tree"] = False
        if self.keeps.get(thing):
            facts |= pick.choice(
                [{"vlan": 10}, {"vlan": 20}, {"tagged": [10, 20]}, {"vlan": 10, "tagged": [20]}]
            )
        return facts

    def _port(self, thing: str, facts: dict[str, Any]) -> str:
        self.ports[thing].append(facts)
        return f"{thing}.{len(self.ports[thing])}"

    def text(self) -> str:
        """Return the plan."""
        lines = []
        for board, (a, b) in enumerate(self.boards):
            ends = [self._port(one, {"vlan": 10} if self.keeps.get(one) else {}) for one in (a, b)]
            lines.append(PORTS.format("node", f"n{board}", "node", *ends))
        for thing, ports in self.ports.items():
            table = "switch" if thing in self.switches else "appliance"
            lines.append(f'[[{table}]]\nid = "{thing}"\n')
            lines.append("" if table == "switch" else "bridges = true\n")
            if table == "switch":
                lines.append(f"vlans = {str(self.keeps.get(thing, False)).lower()}\n")
                lines.append(
                    "" if self.runs[thing] is None else f"spanning_tree = {str(self.runs[thing]).lower()}\n"
                )
            for number, facts in enumerate(ports, 1):
                lines.append(f'[[{table}.port]]\nid = "{number}"\n')
                lines += [f"{key} = {str(value).lower()}\n" for key, value in facts.items()]
        for bond, cables, *_ in self.edges:
            lines += [LINK.format(*cable) + (f'bond = "{bond}"\n' if bond else "") for cable in cables]
        return "".join(lines)

    def rooms(self) -> list[tuple[int, tuple[str, int], tuple[str, int]]]:
        """Return the edges between (thing, VLAN), by the place of the link."""
        found: dict[tuple[int, tuple[str, int], tuple[str, int]], None] = {}
        for place, (_, _, a, b, x, y) in enumerate(self.edges):
            for tag in (0, 10, 20):
                ends = []
                for thing, facts in ((a, x), (b, y)):
                    if not self.keeps.get(thing):
                        ends.append((thing, tag))
                    elif not tag:
                        ends.append((thing, facts.get("vlan", 1)))
                    elif tag in facts.get("tagged", ()):
                        ends.append((thing, tag))
                if len(ends) == 2:
                    found[(place, min(ends), max(ends))] = None
        return list(found)

    def blind(self, place: int, runs: dict[str, bool]) -> bool:
        """Say whether a running switch takes no part at one end of a link."""
        _, _, a, b, x, y = self.edges[place]
        return any(runs[one] and facts.get("spanning_tree") is False for one, facts in ((a, x), (b, y)))

    def sayings(self) -> Iterator[dict[str, bool]]:
        """Yield what the switches may do, by every way of saying what is not said."""
        unsaid = [s for s, runs in self.runs.items() if runs is None]
        for answers in itertools.product((True, False), repeat=len(unsaid)):
            yield {s: bool(runs) for s, runs in self.runs.items()} | dict(zip(unsaid, answers, strict=True))

    def left(self, runs: dict[str, bool]) -> set[int]:
        """Return the edges between rooms that forward, by the spanning tree of `coldcheck.lan`."""
        edges = self.rooms()
        names = sorted({end for _, *ends in edges for end in ends})
        bridges = [spanning.Bridge(r, mac=i + 1, takes_part=runs[r[0]]) for i, r in enumerate(names)]
        seen = [i for i, (place, _, _) in enumerate(edges) if not self.blind(place, runs)]
        links = [spanning.Link(edges[i][1], edges[i][2], 1e9) for i in seen]
        blocked = {seen[place] for tree in spanning.trees(bridges, links) for place in tree.blocked}
        assert not any(tree.undecided for tree in spanning.trees(bridges, links))
        return set(range(len(edges))) - blocked


def has_cycle(edges: list[tuple[Any, Any]]) -> bool:
    """Say whether there is a cycle, by networkx, two edges side by side being one."""
    graph = nx.MultiGraph(edges)
    return bool(graph) and len(edges) - len(graph) + nx.number_connected_components(graph) > 0


def blocks(edges: list[tuple[int, Any, Any]]) -> list[set[int]]:
    """Return the biconnected parts with a cycle, by networkx: each edge has a vertex of its own in the middle."""
    graph = nx.Graph()
    for number, (_, a, b) in enumerate(edges):
        graph.add_edges_from([(a, ("edge", number)), (("edge", number), b)])
    found = [{v[1] for v in part if v[0] == "edge"} for part in nx.biconnected_components(graph)]
    return [part for part in found if len(part) > 1]


def is_ring(loop: Loop, once: bool) -> bool:
    """Say whether the cables of a loop lead round in one piece: each thing in two links, or ``once`` in each VLAN."""
    graph = nx.MultiGraph()
    bonds: dict[str, int] = {}
    for line in loop.ring:
        assert line.b is not None
        key = line.bond or str(line)
        if key not in bonds:
            bonds[key] = graph.add_edge(line.a.thing.id, line.b.thing.id)
    return nx.is_connected(graph) and all(d == 2 or not (once or d % 2) for _, d in graph.degree)


def test_loops_are_those_that_stay_whatever_is_said(worked: Worked) -> None:
    """In random plans a loop is sure where it stays for every way of saying what is not said, open where it depends."""
    seen = {"sure": 0, "open": 0, "clean": 0, "vlans": 0, "hidden": 0}
    for seed in range(350):
        wires = Wires(seed)
        edges = wires.rooms()
        found: list[Loop] = worked(wires.text()).working("loops")
        at = {(min(p, q), max(p, q)): place for place, edge in enumerate(wires.edges) for p, q in edge[1]}
        rings = [{at[min(str(x.a), str(x.b)), max(str(x.a), str(x.b))] for x in loop.ring} for loop in found]
        lefts = [wires.left(runs) for runs in wires.sayings()]
        parts = blocks(edges)
        # one link in two VLANs that leak into each other is a cycle of rooms, and no way round
        if any(len(part) > len({edges[i][0] for i in part}) for part in parts):
            continue
        sure: list[set[int]] = []
        unsure: list[set[int]] = []
        for part in parts:
            stays = [has_cycle([edges[i][1:] for i in part & left]) for left in lefts]
            (sure if all(stays) else unsure if any(stays) else []).append({edges[i][0] for i in part})
        errors = [ring for ring, loop in zip(rings, found, strict=True) if not loop.unknown]
        opens = [ring for ring, loop in zip(rings, found, strict=True) if loop.unknown]
        assert all(is_ring(loop, once=not wires.keeps) for loop in found), seed
        assert all(any(ring <= part for part in sure) for ring in errors), seed
        assert all(any(ring & part for ring in errors) for part in sure), seed
        assert all(any(ring <= part for part in sure + unsure) for ring in opens), seed
        assert all(any(ring & part for ring in rings) or any(part & s for s in sure) for part in unsure), seed
        assert len({frozenset(ring) for ring in rings}) == len(rings), (
            seed
        )  # told once, in however many VLANs
        assert not sure or errors
        assert all(loop.hidden for loop in found if any(wires.runs[e.thing.id] for x in loop.ring for e in (x.a, x.b)
                                                        if e is not None and not loop.unknown)), seed  # fmt: skip
        seen["sure"] += bool(errors)
        seen["open"] += bool(opens)
        seen["clean"] += not found
        seen["vlans"] += bool(found and wires.keeps)
        seen["hidden"] += any(loop.hidden for loop in found)
    assert min(seen.values()) > 15, seen


SQUARE = "".join(LINK.format(f"s{i}.8", f"s{i % 4 + 1}.7") for i in range(1, 5))


def four(*words: str) -> str:
    """Return four switches in a ring, each with some words."""
    return "".join(SWITCH.format(f"s{i}") + word for i, word in enumerate(words, 1)) + SQUARE


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        (["spanning_tree = true\n", "", "", ""], "broken"),
        (["spanning_tree = false\n"] * 4, "sure"),
        (["spanning_tree = false\n"] * 3 + [""], "open"),
        (["spanning_tree = true\n" + '[[switch.port]]\nid = "8"\nspanning_tree = false\n', "", "", ""], "sure"),
        # if it runs one, its port hides the loop; if it runs none, the loop is not broken
        (['[[switch.port]]\nid = "8"\nspanning_tree = false\n'] + ["spanning_tree = false\n"] * 3, "sure"),
        # if it runs one, its port hides the loop; else another switch breaks it
        (['[[switch.port]]\nid = "8"\nspanning_tree = false\n'] + ["spanning_tree = true\n"] * 3, "open"),
        # a port that takes no part means nothing on a switch that runs no spanning tree
        (["spanning_tree = false\n" + '[[switch.port]]\nid = "8"\nspanning_tree = false\n', "spanning_tree = true\n",
          "", ""], "broken"),
    ],
)  # fmt: skip
def test_who_breaks_a_square(worked: Worked, words: list[str], kind: str) -> None:
    """One switch is enough to break a ring, unless one of its ports in it takes no part; silence leaves it open."""
    words = [
        w + '[[switch.port]]\nid = "7"\n' + ("" if 'id = "8"' in w else '[[switch.port]]\nid = "8"\n')
        for w in words
    ]
    found = worked(four(*words).replace("ports = 8\n", "")).working("loops")
    if kind == "broken":
        assert not found
        return
    (loop,) = found
    assert bool(loop.unknown) is (kind == "open")
    assert len(loop.ring) == 4
    assert loop.more == 0
    unsaid = [f"s{i}" for i, word in enumerate(words, 1) if "spanning_tree = true" not in word.split("[[")[0]
              and "spanning_tree = false" not in word.split("[[")[0]]  # fmt: skip
    assert sorted(s.id for s in loop.unknown) == (unsaid if kind == "open" else [])


def test_a_ring_of_trunks_is_one_loop_however_many_vlans(worked: Worked) -> None:
    """Two VLANs over the same three cables are one loop; a cable more is counted as tangled up with it."""
    port = '[[switch.port]]\nid = "1 .. 4"\ntagged = [10, 20, 30]\n'
    ring = "".join(f'[[switch]]\nid = "{s}"\nspanning_tree = false\n{port}' for s in "abc")
    ring += LINK.format("a.1", "b.2") + LINK.format("b.1", "c.2") + LINK.format("c.1", "a.2")
    (loop,) = worked(ring).working("loops")
    assert (len(loop.ring), loop.more, loop.hidden, loop.unknown) == (3, 0, [], [])
    (loop,) = worked(ring + LINK.format("a.3", "b.3")).working("loops")
    assert len(loop.ring) + loop.more == 4


def test_a_ring_inside_what_is_told_in_another_vlan_is_not_told_again(worked: Worked) -> None:
    """One VLAN on three cables side by side, another on two of them: it is one tangle of cables, told once."""
    tags = ["tagged = [10]\n", "tagged = [10, 20]\n", "tagged = [10, 20]\n"]
    text = "".join(
        f'[[switch]]\nid = "{s}"\nspanning_tree = false\n'
        + "".join(f'[[switch.port]]\nid = "{p}"\nvlan = {p + 100}\n{tag}' for p, tag in enumerate(tags))
        for s in "ab"
    )
    text += "".join(LINK.format(f"a.{p}", f"b.{p}") for p in range(3))
    (loop,) = worked(text).working("loops")
    assert (len(loop.ring), loop.more) == (2, 1)


def test_a_vlan_with_and_without_a_tag_on_one_bond_is_one_link(worked: Worked) -> None:
    """Both ways through a cable join the same rooms: beside another cable the bond is half of a loop, of two cables."""
    port = '[[switch.port]]\nid = "1 .. 3"\nvlan = 10\ntagged = [10]\n'
    text = "".join(f'[[switch]]\nid = "{s}"\nspanning_tree = false\n{port}' for s in "ab")
    bond = "".join(LINK.format(f"a.{p}", f"b.{p}") + 'bond = "x"\n' for p in (1, 2))
    assert not worked(text + bond).working("loops")
    (loop,) = worked(text + bond + LINK.format("a.3", "b.3")).working("loops")
    assert sorted(map(str, loop.ring)) == ["a.1 to b.1", "a.2 to b.2", "a.3 to b.3"]


def test_frames_do_not_leave_by_the_port_they_came_in_by(worked: Worked) -> None:
    """Two trunks whose VLANs without a tag differ join two VLANs twice, but a way round would use each trunk twice."""
    ends = {"a": ("10",), "b": ("20", "10"), "c": ("20",)}
    text = "".join(
        f'[[switch]]\nid = "{s}"\nspanning_tree = false\n'
        + "".join(
            f'[[switch.port]]\nid = "{p}"\nvlan = {v}\ntagged = [10, 20]\n' for p, v in enumerate(native)
        )
        + ('[[switch.port]]\nid = "7 .. 8"\nvlan = 99\n' if s != "b" else "")
        for s, native in ends.items()
    )
    text += LINK.format("a.0", "b.0") + LINK.format("b.1", "c.0")
    assert not worked(text).working("loops")
    # another VLAN closes a loop elsewhere, so that loops are sought at all
    aside = text + LINK.format("a.7", "c.7") + LINK.format("a.8", "c.8")
    assert [sorted(map(str, loop.ring)) for loop in worked(aside).working("loops")] == [
        ["a.7 to c.7", "a.8 to c.8"]
    ]


def test_loops_that_share_no_cable_are_told_apart(worked: Worked) -> None:
    """Two pairs of cables are two loops, though one switch is in both."""
    text = "".join(SWITCH.format(s) + "spanning_tree = false\n" for s in "abc")
    for near, far, ports in (("a", "b", "12"), ("b", "c", "34")):
        text += "".join(LINK.format(f"{near}.{p}", f"{far}.{p}") for p in ports)
    assert [len(loop.ring) for loop in worked(text).working("loops")] == [2, 2]


def test_a_bond_that_leads_to_two_switches_is_not_told_as_a_loop(worked: Worked) -> None:
    """`bonds.apart` speaks of that bond; taken as two cables by mistake, it is one slip."""
    text = "".join(SWITCH.format(s) + "spanning_tree = false\n" for s in "abc")
    text += LINK.format("a.1", "b.1") + 'bond = "x"\n' + LINK.format("a.2", "c.2") + 'bond = "x"\n'
    text += LINK.format("b.3", "c.3")
    assert not worked(text).working("loops")
    assert worked(text.replace('bond = "x"\n', "")).working("loops")


def test_a_port_with_two_cables_closes_no_loop(worked: Worked) -> None:
    """`ports.double_booked` speaks of it: one of both cables finds its place taken."""
    text = "".join(SWITCH.format(s) + "spanning_tree = false\n" for s in "ab")
    assert not worked(text + LINK.format("a.1", "b.1") + LINK.format("a.1", "b.2")).working("loops")


def test_the_management_port_of_a_switch_closes_no_loop(worked: Worked) -> None:
    """A cable into a management port leads nowhere further."""
    text = "".join(SWITCH.format(s) + "spanning_tree = false\n" for s in "ab")
    text = text.replace('id = "a"\nports = 8\nspanning_tree = false\n', 'id = "a"\nports = 8\nspanning_tree = false\n'
                        '[[switch.port]]\nid = "mgmt"\nfor = "management"\n')  # fmt: skip
    assert not worked(text + LINK.format("a.1", "b.1") + LINK.format("a.mgmt", "b.2")).working("loops")


def test_two_uplinks_to_one_place_are_no_loop_of_ours(worked: Worked) -> None:
    """What happens beyond an uplink is not known, and no cable of the plan closes anything."""
    text = "".join(SWITCH.format(s) for s in "ab") + LINK.format("a.1", "b.1")
    text += "".join(f'[[uplink]]\nfrom = "{s}.2"\nto = "valley"\n' for s in "ab")
    assert not worked(text).working("loops")


# --- failures --------------------------------------------------------------------------------------------------------


class Site:
    """Switches, machines with one or two cables, storage and uplinks at random; ``cables`` are (door, door)."""

    def __init__(self, seed: int) -> None:
        pick = random.Random(seed)
        self.switches = [f"s{i}" for i in range(pick.randint(2, 6))]
        self.used = dict.fromkeys(self.switches, 0)
        self.cables: list[tuple[str, str]] = []
        self.words: list[str] = []
        for i, switch in enumerate(self.switches[1:], 1):
            if pick.random() < 0.9:
                self._link(switch, pick.choice(self.switches[:i]), "")
        for extra in range(pick.randint(0, 3)):
            one, other = pick.sample(self.switches, 2)
            self._link(one, other, f"x{extra}" if pick.random() < 0.5 else "")
        self.nodes = [f"n{i}" for i in range(pick.randint(1, 5))]
        self.stores = [f"d{i}" for i in range(pick.randint(0, 2))]
        self.doors: dict[str, list[str]] = {}
        for table, names in (("node", self.nodes), ("storage", self.stores)):
            for name in names:
                self.words.append(f'[[{table}]]\nid = "{name}"\n')
                self.doors[name] = []
                for port in range(pick.randint(1, 2)):
                    switch = pick.choice(self.switches)
                    self.words.append(f'[[{table}.port]]\nid = "{port}"\nto = "{self._port(switch)}"\n')
                    self.doors[name].append(f"{name}.{port}")
                    self.cables.append((f"{name}.{port}", switch))
        self.ways_out = {}
        for place in pick.sample(["valley", "hill"], pick.randint(0, 2)):
            for _ in range(pick.randint(1, 2)):
                switch = pick.choice(self.switches)
                self.words.append(f'[[uplink]]\nfrom = "{self._port(switch)}"\nto = "{place}"\n')
                self.cables.append((switch, f"to {place}"))
            self.ways_out[place] = f"to {place}"

    def _port(self, switch: str) -> str:
        self.used[switch] += 1
        return f"{switch}.{self.used[switch]}"

    def _link(self, a: str, b: str, bond: str) -> None:
        for _ in range(2 if bond else 1):
            self.words.append(
                LINK.format(self._port(a), self._port(b)) + (f'bond = "{bond}"\n' if bond else "")
            )
        self.cables.append((a, b))

    def text(self) -> str:
        """Return the plan."""
        return "".join(f'[[switch]]\nid = "{s}"\nports = 40\n' for s in self.switches) + "".join(self.words)

    def lost(self) -> dict[str, dict[str, set[str]]]:
        """Return what is lost by whom without each switch and each link, each taken out of the graph in turn."""
        graph = nx.MultiGraph()
        graph.add_nodes_from(self.switches)
        keys = [(a, b, graph.add_edge(a, b)) for a, b in self.cables]
        needs = {name: self.doors[name] for name in self.stores}
        if self.ways_out:
            needs[" and ".join(sorted(self.ways_out))] = list(self.ways_out.values())
        found: dict[str, dict[str, set[str]]] = {}
        for out in [*self.switches, *keys]:
            less = graph.copy()
            less.remove_node(out) if isinstance(out, str) else less.remove_edge(*out)
            for name, sources in needs.items():
                for node in self.nodes:
                    own = [graph, less]
                    had, has = (any(nx.has_path(g, d, s) for d in self.doors[node] for s in sources if s in g)
                                for g in own)  # fmt: skip
                    if had and not has:
                        key = out if isinstance(out, str) else " ".join(sorted(out[:2]))
                        found.setdefault(key, {}).setdefault(name, set()).add(node)
        # a cable of one machine alone is its own
        return {at: lost for at, lost in found.items() if at in self.switches
                or set().union(*lost.values()) - {word.partition(".")[0] for word in at.split()}}  # fmt: skip


def _at(failure: Failure) -> str:
    return (
        " ".join(sorted((failure.at.a, failure.at.b)))
        if isinstance(failure.at, Bundle)
        else str(failure.at.id)
    )


def test_failures_are_what_is_lost_when_things_are_taken_out(worked: Worked) -> None:
    """Who loses what without each switch and link is what is left in a graph without it, in random plans."""
    seen = 0
    for seed in range(300):
        site = Site(seed)
        found: list[Failure] = worked(site.text()).working("failures")
        told = {_at(f): {" and ".join(sorted(name.split(" and "))): {t.id for t in things}
                         for name, things in f.lost.items()} for f in found}  # fmt: skip
        assert told == site.lost(), seed
        assert len(told) == len(found)
        assert all([t.id for t in ts] == sorted(t.id for t in ts) for f in found for ts in f.lost.values())
        assert all(f.counts == {name: len(things) for name, things in f.lost.items()} for f in found)
        assert all(f.most == max(f.counts.values()) for f in found)
        assert all(len(f.who) == len({t.id for ts in f.lost.values() for t in ts}) for f in found)
        seen += len(found)
    assert seen > 300


def test_a_door_into_another_network_keeps_nothing(worked: Worked) -> None:
    """A node whose second cable leads where no storage is loses it by its first; a second way to storage saves it."""
    text = "".join(SWITCH.format(s) for s in "ab") + PORTS.format("node", "n1", "node", "a.1", "b.1")
    text += '[[storage]]\nid = "store"\nport = "a.2"\n'
    (failure,) = [f for f in worked(text).working("failures") if not isinstance(f.at, Bundle)]
    assert (failure.at.id, [t.id for t in failure.lost["store"]]) == ("a", ["n1"])
    assert failure.who == failure.lost["store"]
    both = text.replace('id = "store"\nport = "a.2"\n', 'id = "store"\n[[storage.port]]\nid = "1 .. 2"\n'
                        'to = ["a.2", "b.2"]\n')  # fmt: skip
    assert not worked(both).working("failures")


def test_storage_that_passes_frames_on_is_no_failure_of_its_own(worked: Worked) -> None:
    """That storage is lost when storage fails is no news; what is reached by way of it is lost with it."""
    text = (
        SWITCH.format("a")
        + NODE.format("n1", "a.1")
        + '[[storage]]\nid = "store"\nbridges = true\nport = "a.2"\n'
    )
    assert [f.at.id for f in worked(text).working("failures") if not isinstance(f.at, Bundle)] == ["a"]


def test_appliances_count_where_there_are_no_nodes(worked: Worked) -> None:
    """Cameras lose the way out as boards do; beside boards they are not counted."""
    text = SWITCH.format("a") + '[[appliance]]\nid = "cam1 .. cam2"\nport = "a.1 .. a.2"\n'
    text += '[[uplink]]\nfrom = "a.8"\nto = "valley"\n'
    found = {_at(f): [t.id for t in f.lost["valley"]] for f in worked(text).working("failures")}
    assert found == {"a": ["cam1", "cam2"], "a to valley": ["cam1", "cam2"]}
    found = {
        _at(f): [t.id for t in f.lost["valley"]]
        for f in worked(text + NODE.format("n1", "a.3")).working("failures")
    }
    assert found == {"a": ["n1"], "a to valley": ["n1"]}

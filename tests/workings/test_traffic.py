"""Traffic: ways, loads, shares and what could cross a link, held against networkx, brute force and linear programs."""

from __future__ import annotations

import random
import subprocess
import sys
from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import numpy as np
import pytest
from scipy.optimize import linprog

from coldcheck.workings.traffic import Demand, Load, Share

from .conftest import Worked

SWITCH = '[[switch]]\nid = "{}"\nspanning_tree = false\n[[switch.port]]\nid = "1 .. 30"\nspeed = "1 Gbit/s"\n'
LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
THING = '[[{}]]\nid = "{}"\n[[{}.port]]\nid = "{}"\nspeed = "{}"\nto = "{}"\n'
PORT = '[[{}.port]]\nid = "{}"\nspeed = "{}"\nto = "{}"\n'
FLOW = '[[flow]]\nfrom = "{}"\nto = "{}"\nspeed = "{}"\n'
GIGABIT = 1e9
SHARE = 1460 / 1538  # of full TCP frames; source: blog.a2o.si 2015-06-26, the layout of IEEE 802.3


def node(name: str, port: str, speed: str = "1 Gbit/s", table: str = "node") -> str:
    """Return a thing with one cable."""
    return THING.format(table, name, table, "eth", speed, port)


def words(run: Any, demand: Demand) -> list[str]:
    """Return the links on the way of a flow, in its order."""
    return [str(run.working("network").bundles[place].lines[0]) for place, _ in demand.hops]


def loads(run: Any) -> dict[str, float]:
    """Return what each link must carry."""
    return {str(load.bundle.lines[0]): load.bits for load in run.working("link_loads")}


# --- flows -----------------------------------------------------------------------------------------------------------


class Tree:
    """Switches in a random tree, machines on them, flows between these; ``graph`` has what each link joins."""

    def __init__(self, seed: int) -> None:
        self.pick = pick = random.Random(seed)
        self.graph = nx.Graph()
        self.words: list[str] = []
        self.used: dict[str, int] = {}
        self.machines: list[str] = []
        switches = [f"s{i}" for i in range(pick.randint(1, 6))]
        self.words += [f'[[switch]]\nid = "{s}"\n' for s in switches]
        self.ports: dict[str, list[str]] = {s: [] for s in switches}
        for i, switch in enumerate(switches[1:], 1):
            self._link(switch, switches[pick.randrange(i)])
        self.tables: dict[str, str] = {}
        for i in range(pick.randint(2, 9)):
            table = "storage" if i == 0 else pick.choice(["node", "node", "appliance"])
            self._machine(table, f"m{i}", pick.choice(switches))

    def _speed(self) -> str:
        return self.pick.choice(["1 Gbit/s", "2.5 Gbit/s", "10 Gbit/s"])

    def _port(self, switch: str, speed: str) -> str:
        self.ports[switch].append(speed)
        return f"{switch}.{len(self.ports[switch])}"

    def _link(self, a: str, b: str) -> None:
        speed, count = self._speed(), self.pick.choice([1, 1, 2])
        for _ in range(count):
            one, other = self._port(a, speed), self._port(b, speed)
            bond = f'bond = "{a}{b}"\n' if count > 1 else ""
            self.words.append(LINK.format(*self.pick.sample([one, other], 2)) + bond)
        self.graph.add_edge(a, b, bits=count * float(speed.split()[0]) * 1e9)

    def _machine(self, table: str, name: str, switch: str) -> None:
        speed = self._speed()
        self.words.append(node(name, self._port(switch, speed), speed, table))
        self.graph.add_edge(name, switch, bits=float(speed.split()[0]) * 1e9)
        self.machines.append(name)
        self.tables[name] = table

    def text(self) -> str:
        """Return the plan; the ports of each switch behind its own entry."""
        found = []
        for line in self.words:
            found.append(line)
            if line.startswith("[[switch]]"):
                switch = line.split('"')[1]
                found += [
                    f'[[switch.port]]\nid = "{i}"\nspeed = "{s}"\n'
                    for i, s in enumerate(self.ports[switch], 1)
                ]
        return "".join(found)


def _ends(load_or_crossing: Any) -> frozenset[str]:
    return frozenset(
        word.partition(".")[0] for word in (load_or_crossing.bundle.a, load_or_crossing.bundle.b)
    )


@pytest.mark.parametrize("seed", range(60))
def test_links_carry_what_goes_over_them(worked: Worked, seed: int) -> None:
    """Each link carries the flows whose shortest path (networkx) it is on, by direction, the greater of both told."""
    tree = Tree(seed)
    text, there = tree.text(), Counter[tuple[str, str]]()
    for _ in range(tree.pick.randint(1, 8)):
        a, b = tree.pick.sample(tree.machines, 2)
        megabits = tree.pick.randint(1, 900)
        text += FLOW.format(a, b, f"{megabits} Mbit/s")
        path = nx.shortest_path(tree.graph, a, b)
        for pair in pairwise(path):
            there[pair] += megabits
    expected = {frozenset(p): max(there[p], there[p[::-1]]) * 1e6 / SHARE for p in there}
    found: list[Load] = worked(text).working("link_loads")
    assert {_ends(load): pytest.approx(load.bits) for load in found} == expected
    assert {_ends(load): load.capacity for load in found} == {
        pair: pytest.approx(tree.graph.edges[tuple(pair)]["bits"]) for pair in expected
    }
    for load in found:  # in a tree, the flows that are named are those that make up the sum
        bits = [demand.bits for demand in load.demands]
        assert sum(bits) == pytest.approx(load.bits)
        assert bits == sorted(bits, reverse=True)


def _vlans(switch: str, ports: dict[str, str]) -> str:
    text = f'[[switch]]\nid = "{switch}"\nvlans = true\nspanning_tree = false\n'
    return text + "".join(f'[[switch.port]]\nid = "{p}"\nspeed = "1 Gbit/s"\n{w}' for p, w in ports.items())


TEN, TWENTY, TRUNK = "vlan = 10\n", "vlan = 20\n", "tagged = [10, 20]\n"
NETS = '[[subnet]]\nprefix = "10.0.10.0/24"\nvlan = 10\ngateway = "10.0.10.1"\n'
NETS += '[[subnet]]\nprefix = "10.0.20.0/24"\nvlan = 20\ngateway = "10.0.20.1"\n'
TWO = _vlans("a", {"1": TEN, "2": TWENTY, "3": TEN, "8": TRUNK}) + _vlans(
    "b", {"1": TWENTY, "7": TRUNK, "8": TRUNK}
)
TWO += (
    LINK.format("a.8", "b.8") + node("n1", "a.1") + node("n2", "a.2") + node("n3", "a.3") + node("n4", "b.1")
)
STICK = node("r", "b.7") + TRUNK + 'address = ["10.0.10.1", "10.0.20.1"]\n' + NETS


def test_a_router_on_one_cable_is_passed_both_ways(worked: Worked) -> None:
    """Between VLANs a flow goes over the trunk to the router and back; each direction carries it once."""
    run = worked(TWO + STICK + FLOW.format("n1", "n2", "400 Mbit/s"))
    (demand,) = run.working("demands")
    assert words(run, demand) == ["n1.eth to a.1", "a.8 to b.8", "r.eth to b.7", "r.eth to b.7", "a.8 to b.8",
                                  "n2.eth to a.2"]  # fmt: skip
    assert loads(run) == {name: pytest.approx(400e6 / SHARE) for name in set(words(run, demand))}
    # two such flows, one each way, fill both directions twice
    both = worked(TWO + STICK + FLOW.format("n1", "n2", "400 Mbit/s") + FLOW.format("n2", "n1", "100 Mbit/s"))
    assert loads(both)["a.8 to b.8"] == pytest.approx(500e6 / SHARE)
    assert loads(both)["n1.eth to a.1"] == pytest.approx(400e6 / SHARE)


def test_in_one_vlan_no_router_is_asked(worked: Worked) -> None:
    """Machines of one VLAN meet on the switch, even where a router is there; the router is reached directly."""
    run = worked(TWO + STICK + FLOW.format("n1", "n3", "1 Mbit/s") + FLOW.format("n4", "r", "1 Mbit/s"))
    first, second = run.working("demands")
    assert words(run, first) == ["n1.eth to a.1", "n3.eth to a.3"]
    assert words(run, second) == ["n4.eth to b.1", "r.eth to b.7"]


def test_without_a_router_no_way_leads_between_vlans(worked: Worked) -> None:
    """A machine with a door in both VLANs does not route, unless it has the address of a gateway."""
    for gate in ("", NETS):
        (demand,) = worked(
            TWO + node("r", "b.7") + TRUNK + gate + FLOW.format("n1", "n2", "1 Mbit/s")
        ).working("demands")
        assert (demand.legs, demand.hops, demand.unsure) == (None, [], [])


def test_a_gateway_that_lies_outside_is_reached_by_the_uplink(worked: Worked) -> None:
    """Where no thing of the plan has the address of the gateway, it is beyond the uplink; a router here comes first."""
    up = '[[uplink]]\nfrom = "b.7"\nto = "valley"\nspeed = "1 Gbit/s"\ntagged = [10, 20]\n'
    run = worked(TWO + up + NETS + FLOW.format("n1", "n2", "300 Mbit/s"))
    assert loads(run)["b.7 to valley"] == pytest.approx(300e6 / SHARE)
    named = '[[outside]]\nid = "valley"\naddress = ["10.0.10.1", "10.0.20.1"]\n'
    assert loads(worked(TWO + up + NETS + named + FLOW.format("n1", "n2", "300 Mbit/s"))) == loads(run)
    own = _vlans("b", {"1": TWENTY, "6": TRUNK, "7": TRUNK, "8": TRUNK})
    here = TWO.replace(_vlans("b", {"1": TWENTY, "7": TRUNK, "8": TRUNK}), own) + up
    run = worked(here + STICK.replace("b.7", "b.6") + FLOW.format("n1", "n2", "300 Mbit/s"))
    assert not any("valley" in name for name in loads(run))
    assert run.working("demands")[0].legs is not None


def test_of_two_ways_out_that_with_the_gateway_routes(worked: Worked) -> None:
    """The uplink to what has the address of the gateway is taken, and no other, nor any where a thing here has it."""
    ports = {"1": TWENTY, "5": TRUNK, "6": TRUNK, "7": TRUNK, "8": TRUNK}
    text = TWO.replace(_vlans("b", {"1": TWENTY, "7": TRUNK, "8": TRUNK}), _vlans("b", ports)) + NETS
    text += "".join(f'[[uplink]]\nfrom = "b.{p}"\nto = "{to}"\nspeed = "1 Gbit/s"\ntagged = [10, 20]\n'
                    for p, to in ((6, "alps"), (7, "valley")))  # fmt: skip
    flow = FLOW.format("n1", "n2", "300 Mbit/s")
    named = '[[outside]]\nid = "valley"\naddress = ["10.0.10.1", "10.0.20.1"]\n'
    assert {"b.7 to valley"} <= set(loads(worked(text + named + flow)))
    here = node("r", "b.5") + TRUNK + 'address = ["10.0.10.1", "10.0.20.1"]\n'
    assert {"r.eth to b.5"} <= set(loads(worked(text + here + flow)))


def test_a_way_by_two_routers_is_found(worked: Worked) -> None:
    """From the first network to the third goes by both routers; a default router of a machine's own counts as one."""
    text = _vlans(
        "a",
        {"1": TEN, "2": TWENTY, "3": "vlan = 30\n", "4": TEN, "5": TWENTY, "6": TWENTY, "7": "vlan = 30\n"},
    )
    text += node("n1", "a.1") + node("n3", "a.3")
    for name, ends, addresses in (
        ("r1", "45", ("10.0.10.1", "10.0.20.1")),
        ("r2", "67", ("10.0.20.2", "10.0.30.1")),
    ):
        text += f'[[appliance]]\nid = "{name}"\n' + "".join(
            PORT.format("appliance", i, "1 Gbit/s", f"a.{p}") + f'address = "{address}"\n'
            for i, (p, address) in enumerate(zip(ends, addresses, strict=True))
        )
    text += "".join(f'[[subnet]]\nprefix = "10.0.{v}.0/24"\nvlan = {v}\n{g}' for v, g in
                    ((10, ""), (20, ""), (30, 'gateway = "10.0.30.1"\n')))  # fmt: skip
    flow = FLOW.format("n1", "n3", "1 Mbit/s")
    assert worked(text + flow).working("demands")[0].legs is None  # nothing says that r1 routes
    run = worked(text.replace('id = "n1"\n', 'id = "n1"\ngateway = "10.0.10.1"\n') + flow)
    assert words(run, run.working("demands")[0]) == ["n1.eth to a.1", "r1.0 to a.4", "r1.1 to a.5", "r2.0 to a.6",
                                                     "r2.1 to a.7", "n3.eth to a.3"]  # fmt: skip


def test_two_cables_for_two_vlans_are_no_choice_of_ways(worked: Worked) -> None:
    """Each VLAN has its own cable between the switches: a flow takes that of its VLAN, and nothing is unsure."""
    text = _vlans("a", {"1": TEN, "2": TWENTY, "7": TEN, "8": TWENTY}) + _vlans(
        "b", {"1": TEN, "2": TWENTY, "7": TEN, "8": TWENTY}
    )
    text += LINK.format("a.7", "b.7") + LINK.format("a.8", "b.8")
    text += node("n1", "a.1") + node("n2", "a.2") + node("m1", "b.1") + node("m2", "b.2")
    run = worked(text + FLOW.format("n1", "m1", "1 Mbit/s") + FLOW.format("n2", "m2", "1 Mbit/s"))
    assert [words(run, d)[1] for d in run.working("demands")] == ["a.7 to b.7", "a.8 to b.8"]
    assert not any(d.unsure for d in run.working("demands"))


def test_of_a_way_with_a_loop_in_it_what_is_sure_counts(worked: Worked) -> None:
    """Which of two cables forwards is not known; the cables of the machines carry the flow in any case."""
    text = (SWITCH.format("a") + SWITCH.format("b")).replace("tree = false", "tree = true")
    text += LINK.format("a.29", "b.29") + LINK.format("a.30", "b.30") + node("n1", "a.1") + node("n2", "b.1")
    flow = FLOW.format("n1", "n2", "100 Mbit/s")
    run = worked(text + flow)
    (demand,) = run.working("demands")
    assert [run.working("network").bundles[place].words for place in demand.unsure] == ["a.29 to b.29"]
    assert words(run, demand) == ["n1.eth to a.1", "n2.eth to b.1"]
    assert set(loads(run)) == {"n1.eth to a.1", "n2.eth to b.1"}
    rooted = worked(text.replace("tree = true", "tree = true\npriority = 4096", 1) + flow)
    assert "a.29 to b.29" in loads(rooted)
    assert not rooted.working("demands")[0].unsure


def test_a_flow_by_mtu(worked: Worked) -> None:
    """What a flow takes on the line follows from the shorter MTU of both ends, of the port where that states it.

    Source: 8960 of 9038 octets at an MTU of 9000, 1460 of 1538 at 1500, computed from the layout of IEEE 802.3.
    """
    text = (
        SWITCH.format("a")
        + node("n1", "a.1")
        + "mtu = 9000\n"
        + node("n2", "a.2")
        + "{}"
        + FLOW.format("n1", "n2", "896 Mbit/s")
    )
    assert worked(text.format("mtu = 9000\n")).working("demands")[0].bits == pytest.approx(903.8e6)
    assert worked(text.format("")).working("demands")[0].bits == pytest.approx(896e6 / SHARE)
    by_thing = text.format("").replace('id = "n2"\n', 'id = "n2"\nmtu = 9000\n')
    assert worked(by_thing).working("demands")[0].bits == pytest.approx(903.8e6)
    other = text.format("mtu = 9000\n").replace(
        "[[flow]]", PORT.format("node", "spare", "1 Gbit/s", "a.3") + "mtu = 1500\n[[flow]]"
    )
    assert worked(other).working("demands")[0].bits == pytest.approx(903.8e6)
    # 576 octets, the datagram every host takes (RFC 791): 536 of 614
    small = worked(text.format("mtu = 576\n")).working("demands")[0].bits
    assert small == pytest.approx(896e6 * 614 / 536)


def test_both_directions_of_a_bond_written_both_ways(worked: Worked) -> None:
    """Two flows from one switch to the other add up, though the cable of the second is written from the far end."""
    text = _vlans("a", {"1": TEN, "2": TWENTY, "7": TEN, "8": TWENTY}) + _vlans(
        "b", {"1": TEN, "2": TWENTY, "7": TEN, "8": TWENTY}
    )
    text += LINK.format("a.7", "b.7") + 'bond = "x"\n' + LINK.format("b.8", "a.8") + 'bond = "x"\n'
    text += node("n1", "a.1") + node("n2", "a.2") + node("m1", "b.1") + node("m2", "b.2")
    run = worked(text + FLOW.format("n1", "m1", "100 Mbit/s") + FLOW.format("n2", "m2", "30 Mbit/s"))
    assert loads(run)["a.7 to b.7"] == pytest.approx(130e6 / SHARE)
    run = worked(text + FLOW.format("n1", "m1", "100 Mbit/s") + FLOW.format("m2", "n2", "30 Mbit/s"))
    assert loads(run)["a.7 to b.7"] == pytest.approx(100e6 / SHARE)


def test_no_data_goes_by_a_management_port(worked: Worked) -> None:
    """A node reaches storage by its data port alone, though its management port is on the network of the storage."""
    text = SWITCH.format("a") + SWITCH.format("m") + node("d", "m.1", table="storage") + node("n1", "a.1")
    text += '[[node.port]]\nid = "bmc"\nspeed = "1 Gbit/s"\nfor = "management"\nto = "m.2"\n'
    run = worked(text + FLOW.format("d", "n1", "1 Mbit/s"))
    assert run.working("demands")[0].legs is None
    assert run.working("storage_shares") == []


def test_odd_ends_of_flows(worked: Worked) -> None:
    """A flow to itself is left out; one to what has no cable or no uplink has no way; one to the outside has."""
    text = (
        SWITCH.format("a")
        + node("n1", "a.1")
        + '[[node]]\nid = "n2"\n[[outside]]\nid = "hill"\n[[outside]]\nid = "valley"\n'
    )
    text += '[[uplink]]\nfrom = "a.30"\nto = "valley"\nspeed = "100 Mbit/s"\n'
    for end, way in (("n1", None), ("n2", False), ("hill", False), ("valley", True)):
        found = worked(
            text + FLOW.format("n1", end, "1 Mbit/s") + FLOW.format(end, "n1", "1 Mbit/s")
        ).working("demands")
        assert [d.legs is not None for d in found] == ([] if way is None else [way, way]), end
    assert worked(FLOW.format("nobody", "noone", "1 Mbit/s"), faulty=True).working("demands") == []


def test_the_port_with_an_address_is_the_one_that_sends(worked: Worked) -> None:
    """Of two ports in one network that with an address counts, else the first."""
    text = (
        SWITCH.format("a")
        + node("n1", "a.1")
        + PORT.format("node", "two", "1 Gbit/s", "a.2")
        + "{}"
        + node("n2", "a.3")
    )
    text += FLOW.format("n2", "n1", "1 Mbit/s")
    for more, port in (("", "n1.eth to a.1"), ('address = "10.0.0.1/24"\n', "n1.two to a.2")):
        run = worked(text.format(more))
        assert words(run, run.working("demands")[0])[1] == port


def test_a_cable_without_a_switch_carries_a_flow(worked: Worked) -> None:
    """Storage may hang directly on a node."""
    text = '[[storage]]\nid = "d"\n[[storage.port]]\nid = "1"\nspeed = "1 Gbit/s"\n'
    text += '[[node]]\nid = "n"\n[[node.port]]\nid = "2"\nspeed = "1 Gbit/s"\nto = "d.1"\n'
    run = worked(text + FLOW.format("d", "n", "1 Mbit/s"))
    assert loads(run) == {"n.2 to d.1": pytest.approx(1e6 / SHARE)}
    (share,) = run.working("storage_shares")
    assert share.bits == GIGABIT


# --- shares ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(60))
def test_the_share_is_that_of_the_narrowest_link(worked: Worked, seed: int) -> None:
    """In a random tree each node gets the least of speed over nodes behind, counted link by link along paths."""
    tree = Tree(seed)
    nodes = [m for m in tree.machines if tree.tables[m] == "node"]
    found: list[Share] = worked(tree.text()).working("storage_shares")
    if not nodes:
        assert found == []
        return
    counts = Counter(frozenset(pair) for n in nodes for p in [nx.shortest_path(tree.graph, "m0", n)]
                     for pair in pairwise(p))  # fmt: skip
    each = {pair: tree.graph.edges[tuple(pair)]["bits"] / count for pair, count in counts.items()}
    (share,) = found
    assert share.bits == pytest.approx(min(each.values()))
    assert [n.id for n in share.nodes] == nodes
    assert share.least == share.bits
    tight = {frozenset(word.partition(".")[0] for word in (b.a, b.b)) for b in share.tight}
    assert tight == {pair for pair, bits in each.items() if bits == min(each.values())}


@pytest.mark.parametrize("seed", range(100))
def test_storage_with_two_ports_gives_what_a_linear_program_finds(worked: Worked, seed: int) -> None:
    """Two ports of storage, in two switches and in no bond, and nodes with one or two: what SciPy finds is bounded.

    Where every node has one port, both bounds are what the linear program finds.
    """
    tree = Tree(1000 + seed)
    several = ["m0", *(m for m in tree.machines[1:] if seed % 2 and tree.pick.random() < 0.3)]
    for name in several:
        switch, speed = tree.pick.choice(list(tree.ports)), tree._speed()
        line = PORT.format(tree.tables[name], "two", speed, tree._port(switch, speed))
        tree.words = [
            w + line if w.startswith(f'[[{tree.tables[name]}]]\nid = "{name}"\n') else w for w in tree.words
        ]
        tree.graph.add_edge(f"{name}.two", switch, bits=float(speed.split()[0]) * 1e9)
        tree.graph.add_edge(f"{name}.two", name, bits=1e12)
    nodes = [m for m in tree.machines if tree.tables[m] == "node"]
    found: list[Share] = worked(tree.text()).working("storage_shares")
    if not nodes:
        assert not found
        return
    directed = nx.DiGraph()  # data ends in a machine and does not pass through it
    for a, b, facts in tree.graph.edges(data=True):
        for one, other in ((a, b), (b, a)):
            if (
                (one == "m0" or one not in tree.tables)
                and other != "m0"
                and tree.tables.get(other, "node") == "node"
            ):
                directed.add_edge(one, other, bits=facts["bits"])
    (share,) = found
    best = _directed(directed, nodes)
    assert share.bits is not None
    assert share.least <= best * (1 + 1e-9)
    assert share.bits >= best * (1 - 1e-9)
    if not set(several) & set(nodes):
        assert share.least == share.bits == pytest.approx(best)
    assert share.least > 0


def _directed(graph: nx.DiGraph, sinks: list[str]) -> float:
    arcs = list(graph.edges)
    rows = {v: i for i, v in enumerate(v for v in graph if v != "m0")}
    balance = np.zeros((len(rows), len(arcs) + 1))
    for i, (a, b) in enumerate(arcs):
        if a in rows:
            balance[rows[a], i] -= 1
        if b in rows:
            balance[rows[b], i] += 1
    for sink in sinks:
        balance[rows[sink], -1] -= 1
    limits = [(0, graph.edges[arc]["bits"] / 1e9) for arc in arcs] + [(0, None)]
    answer = linprog([0] * len(arcs) + [-1], A_eq=balance, b_eq=np.zeros(len(rows)), bounds=limits)
    assert answer.success
    return float(-answer.fun) * 1e9


STORE = node("d", "a.30", "1 Gbit/s", "storage")


def test_machines_with_two_ports_need_no_graph_library(tmp_path: Path) -> None:
    """Where the cables form a forest, and one port of each node gives the share that is asked for, none is imported."""
    text = '[plan]\nshare = "{}"\n' + SWITCH.format("a") + SWITCH.format("b") + LINK.format("a.30", "b.30")
    for table, name, p in (("node", "n1", 1), ("node", "n2", 2), ("storage", "d", 3)):
        text += node(name, f"a.{p}", table=table) + PORT.format(table, "two", "1 Gbit/s", f"b.{p}")
    plan = tmp_path / "plan.toml"
    lint = "import sys; from coldcheck.cli import main\ntry: main(['lint', sys.argv[1]])\nfinally: print(*sys.modules)"
    for share, needed in (("900 Mbit/s", False), ("2 Gbit/s", True)):
        plan.write_text(text.format(share), encoding="utf-8")
        command = [sys.executable, "-c", lint, str(plan)]
        modules = subprocess.run(command, capture_output=True, text=True, check=False).stdout.split()
        assert ("networkx" in modules) is needed
        assert "coldcheck.workings.traffic" in modules


def test_unknown_speeds_are_named_where_they_matter(worked: Worked) -> None:
    """A link of unknown speed on the way leaves the share open; one that leads to a camera does not."""
    text = SWITCH.format("a") + STORE + node("n1", "a.1")
    dark = text.replace(
        'id = "n1"\n[[node.port]]\nid = "eth"\nspeed = "1 Gbit/s"\n', 'id = "n1"\n[[node.port]]\nid = "eth"\n'
    )
    (share,) = worked(dark).working("storage_shares")
    assert share.bits is None
    assert [b.words for b in share.unknown] == ["n1.eth to a.1"]
    camera = '[[appliance]]\nid = "cam"\nport = "a.9"\n'
    for more in ("", PORT.format("storage", "two", "1 Gbit/s", "a.29")):
        known = SWITCH.format("a") + STORE + more + node("n1", "a.1") + camera
        (share,) = worked(known).working("storage_shares")
        assert (share.bits, share.unknown) == (GIGABIT, [])


def test_a_share_over_links_that_may_be_blocked_is_the_most_there_can_be(worked: Worked) -> None:
    """With two cables of which one will be blocked, the bound is what both would carry, and not settled."""
    text = (SWITCH.format("a") + SWITCH.format("b")).replace("tree = false", "tree = true")
    text += (
        LINK.format("a.28", "b.28") + LINK.format("a.29", "b.29") + node("d", "a.30", "1 Gbit/s", "storage")
    )
    text += "".join(node(f"n{i}", f"b.{i}") for i in range(1, 5))
    (share,) = worked(text).working("storage_shares")
    assert (share.bits, share.least) == (GIGABIT / 4, 0.0)


def test_a_share_by_a_router_counts_the_trunk_twice(worked: Worked) -> None:
    """Nodes of another VLAN read by way of the router, whose one cable carries each share in and out."""
    ports = {"1": TEN, "2": TWENTY, "3": TWENTY, "8": TRUNK}
    text = (
        _vlans("a", ports) + node("d", "a.1", "1 Gbit/s", "storage") + node("n1", "a.2") + node("n2", "a.3")
    )
    text += (
        node("r", "a.8", "1 Gbit/s", "appliance") + TRUNK + 'address = ["10.0.10.1", "10.0.20.1"]\n' + NETS
    )
    (share,) = worked(text).working("storage_shares")
    assert share.bits == GIGABIT / 2
    assert sorted(b.words for b in share.tight) == ["d.eth to a.1", "r.eth to a.8"]


def test_nothing_to_share(worked: Worked) -> None:
    """Storage without nodes, without a cable, or in another network has no share; a switch alone is no trouble."""
    assert worked(SWITCH.format("a") + STORE).working("storage_shares") == []
    assert (
        worked(SWITCH.format("a") + '[[storage]]\nid = "d"\n' + node("n1", "a.1")).working("storage_shares")
        == []
    )
    apart = SWITCH.format("a") + SWITCH.format("b") + STORE + node("n1", "b.1")
    assert worked(apart).working("storage_shares") == []
    assert worked(SWITCH.format("a")).working("crossings") == []
    assert worked(SWITCH.format("a")).working("link_loads") == []


def test_vlans_keep_doors_apart(worked: Worked) -> None:
    """A node that is in one VLAN reads by the port of storage in that VLAN, however fast the other one is."""
    text = _vlans("a", {"1": TEN, "2": TWENTY, "3": TEN, "4": TEN, "5": TWENTY})
    text += node("d", "a.1", "1 Gbit/s", "storage") + PORT.format("storage", "two", "1 Gbit/s", "a.2")
    text += node("n1", "a.3") + node("n2", "a.4") + node("n3", "a.5")
    (share,) = worked(text).working("storage_shares")
    assert (share.bits, share.least) == (GIGABIT / 2, GIGABIT / 2)
    assert [b.words for b in share.tight] == ["d.eth to a.1"]


STORE_TWO = node("d", "a.1", table="storage") + PORT.format("storage", "two", "1 Gbit/s", "a.2")


def test_doors_in_several_vlans_promise_nothing_to_nodes_in_one(worked: Worked) -> None:
    """With nodes in both VLANs beside nodes in one, the most is bounded by both doors, and nothing is sure."""
    text = _vlans("a", {"1": TEN, "2": TWENTY, "3": TRUNK, "4": TEN, "5": TEN}) + STORE_TWO
    text += node("n1", "a.3") + TRUNK + node("n2", "a.4") + node("n3", "a.5")
    (share,) = worked(text).working("storage_shares")
    assert share.least == 0
    assert share.bits == pytest.approx(2 * GIGABIT / 3)


def test_several_doors_and_a_router_are_not_computed(worked: Worked) -> None:
    """Where a node reads through a router and storage has two doors on its side, the share is not known."""
    text = (
        _vlans("a", {"1": TEN, "2": TEN, "3": TEN, "4": TWENTY, "8": TRUNK})
        + STORE_TWO
        + node("n1", "a.3")
        + node("n2", "a.4")
    )
    text += node("r", "a.8", table="appliance") + TRUNK + 'address = ["10.0.10.1", "10.0.20.1"]\n' + NETS
    (share,) = worked(text).working("storage_shares")
    assert (share.least, share.bits, share.tight, share.unknown) == (0, None, [], [])
    assert [n.id for n in share.nodes] == ["n1", "n2"]


def test_a_cable_for_another_vlan_adds_nothing_to_a_share(worked: Worked) -> None:
    """Two doors of 1 Gbit/s feed one cable for their VLAN; that beside it is for another, and no loop with it."""
    ports = {"1": TEN, "2": TEN, "7": TEN, "8": TWENTY}
    text = (
        _vlans("a", ports)
        + _vlans("b", ports)
        + STORE_TWO
        + LINK.format("a.7", "b.7")
        + LINK.format("a.8", "b.8")
    )
    text += node("n1", "b.1") + PORT.format("node", "two", "1 Gbit/s", "b.2")
    (share,) = worked(text).working("storage_shares")
    assert (share.bits, share.least) == (GIGABIT, GIGABIT)
    assert [b.words for b in share.tight] == ["a.7 to b.7"]


def test_a_bond_said_by_links_carries_the_sum(worked: Worked) -> None:
    """Two cables of one bond are one link of twice the speed, at whichever end or link that is said."""
    store = '[[storage]]\nid = "d"\n[[storage.port]]\nid = "1 .. 2"\nspeed = "1 Gbit/s"\n'
    text = (
        SWITCH.format("a") + store + "".join(LINK.format(f"d.{p}", f"a.{p}") + 'bond = "x"\n' for p in "12")
    )
    text += node("n1", "a.3") + node("n2", "a.4") + node("n3", "a.5") + FLOW.format("d", "n1", "100 Mbit/s")
    run = worked(text)
    (share,) = run.working("storage_shares")
    assert share.bits == pytest.approx(2 * GIGABIT / 3)
    (load,) = [load for load in run.working("link_loads") if len(load.bundle.lines) == 2]
    assert load.capacity == 2 * GIGABIT


# --- crossings -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(60))
def test_what_could_cross_is_the_lesser_side(worked: Worked, seed: int) -> None:
    """Without each link between switches (networkx) the machines on either side are added up."""
    tree = Tree(seed)
    found = {_ends(c): (c.bits, c.side, c.machines) for c in worked(tree.text()).working("crossings")}
    expected = {}
    for a, b in tree.graph.edges:
        if not {a, b} <= set(tree.ports):
            continue
        less = tree.graph.copy()
        less.remove_edge(a, b)
        sides = []
        for part in nx.connected_components(less):
            speeds = [tree.graph.edges[m, s]["bits"] for m in part if m in tree.tables for s in tree.graph[m]]
            sides.append((sum(speeds), len(speeds)))
        expected[frozenset((a, b))] = (tree.graph.edges[a, b]["bits"], *min(sides))
    assert found == expected


def test_what_is_no_machine_does_not_cross(worked: Worked) -> None:
    """Uplinks and management ports count for nothing; a link in a loop is left out, one beside it is judged."""
    text = (
        SWITCH.format("a")
        + SWITCH.format("b")
        + LINK.format("a.30", "b.30")
        + node("n1", "a.1")
        + node("n2", "b.1")
    )
    text += '[[uplink]]\nfrom = "a.2"\nto = "valley"\nspeed = "1 Gbit/s"\n'
    bmc = '[[node.port]]\nid = "bmc"\nspeed = "1 Gbit/s"\nfor = "management"\nto = "b.2"\n'
    (crossing,) = worked(text + bmc).working("crossings")
    assert (crossing.side, crossing.machines) == (GIGABIT, 1)
    assert worked(text + LINK.format("a.29", "b.29")).working("crossings") == []
    beside = text + LINK.format("a.29", "b.29") + SWITCH.format("c") + LINK.format("b.28", "c.28")
    assert [c.bundle.words for c in worked(beside).working("crossings")] == ["b.28 to c.28"]

"""Redundancy: what fails with what, held against frames that are followed with each switch and cable taken out."""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from coldcheck.engine.running import _Run
from coldcheck.workings.topology import Bundle, failures

Worked = Callable[..., _Run]
SWITCH = '[[switch]]\nid = "{}"\nvlans = {}\nspanning_tree = true\n'
HEAD = "[plan]\nredundant = true\n"


def _name(at: Any) -> str:
    return str(at.lines[0]) if isinstance(at, Bundle) else str(at.id)


def told(found: list[Any]) -> dict[str, dict[str, list[str]]]:
    """Return failures in words: by what fails, who loses what."""
    return {_name(f.at): {need: [t.id for t in things] for need, things in f.lost.items()} for f in found}


def boxes(seed: int) -> str:
    """Return two or three switches with VLANs, machines with legs in several of them, storage and ways out."""
    rng = random.Random(seed)
    switches = [f"w{i}" for i in range(rng.choice((2, 2, 3)))]
    rows = {name: [SWITCH.format(name, "true")] for name in switches}
    ports = dict.fromkeys(switches, 0)
    rest = ""

    def port(name: str, words: str) -> str:
        ports[name] += 1
        rows[name].append(f'[[switch.port]]\nid = "{ports[name]}"\n{words}')
        return f"{name}.{ports[name]}"

    pairs = [*pairwise(switches), *([(switches[-1], switches[0])] if rng.random() < 0.5 else [])]
    for a, b in pairs:
        tags = [f"tagged = {rng.choice(([20], [20, 30], [30]))}\n" for _ in "ab"]
        tags = tags if rng.random() < 0.3 else [tags[0]] * 2
        rest += f'[[link]]\nfrom = "{port(a, tags[0])}"\nto = "{port(b, tags[1])}"\n'
    for table, count in (("node", 3), ("storage", 1)):
        for i in range(count):
            vlan = rng.choice((20, 20, 30))
            rest += f'[[{table}]]\nid = "{table[0]}{i}"\naddress = "10.0.{vlan}.{10 * (table == "node") + i + 1}"\n'
            for leg, name in enumerate(rng.sample(switches, rng.choice((1, 2, 2)))):
                end = port(name, f"vlan = {rng.choice((vlan, vlan, 20, 30))}\n")
                rest += f'[[{table}.port]]\nid = "{leg}"\nto = "{end}"\n'
    for vlan in (20, 30):
        rest += f'[[subnet]]\nprefix = "10.0.{vlan}.0/24"\nvlan = {vlan}\n'
    return HEAD + "".join(row for name in switches for row in rows[name]) + rest


@pytest.mark.parametrize("seed", range(150))
def test_who_loses_what_by_vlan(worked: Worked, seed: int) -> None:
    """Taking out one switch or one cable at a time, in a graph of VLANs, gives the same losers (networkx)."""
    run = worked(boxes(seed))
    plan, network, ends = run.plan, run.working("network"), run.working("vlan_ends")
    segments = ends.mended
    place = {id(line): i for i, bundle in enumerate(network.bundles) for line in bundle.lines}
    book = run.working("address_book")
    vlan = {h.thing.id: book.subnets[h.subnet].source.vlan for h in book.hosts}

    def reached(gone: str | None, link: int) -> set[str]:
        graph = nx.Graph()
        graph.add_nodes_from(range(len(segments.rooms)))
        for p in segments.passages:
            things = [segments.rooms[r].thing.id for r in (p.a, p.b)]
            if place[id(p.line)] != link and gone not in things:
                graph.add_edge(p.a, p.b)
        homes: dict[str, set[int]] = {}
        for number, room in enumerate(segments.rooms):
            if room.thing.id in vlan and vlan[room.thing.id] in segments.vlans[segments.segment[number]]:
                homes.setdefault(room.thing.id, set()).add(number)
        start = homes.get("s0", set())
        around = (
            set().union(*(nx.node_connected_component(graph, room) for room in start)) if start else set()
        )
        return {node.id for node in plan.table("node") if homes.get(node.id, set()) & around}

    whole = reached(None, -1)
    expected: dict[str, list[str]] = {}
    for switch in plan.table("switch"):
        expected[switch.id] = sorted(whole - reached(switch.id, -1))
    for i, bundle in enumerate(network.bundles):
        if not any(
            door.partition(".")[0] in {n.id for n in plan.table("node")} for door in (bundle.a, bundle.b)
        ):
            expected[str(bundle.lines[0])] = sorted(whole - reached(None, i))
    found = {at: sorted(lost["s0"]) for at, lost in told(run.working("weak_points")).items() if "s0" in lost}
    assert found == {at: lost for at, lost in expected.items() if lost}


@pytest.mark.parametrize("seed", range(40))
def test_in_one_vlan_it_is_what_the_cables_say(worked: Worked, seed: int) -> None:
    """Where every port carries one VLAN, walking VLAN by VLAN gives what the cut vertices and edges give."""
    text = boxes(seed)
    for word in ("[20]", "[20, 30]", "[30]"):
        text = text.replace(f"tagged = {word}", "vlan = 20")
    text = text.replace("vlan = 30", "vlan = 20")
    run = worked(text)
    plan: Any = run.plan
    plain = told(failures(plan, run.working("network")))
    names = {node.id for node in run.plan.table("node")}
    plain = {at: lost for at, lost in plain.items() if not any(at.startswith(f"{n}.") for n in names)}
    assert told(run.working("weak_points")) == plain

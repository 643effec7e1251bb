"""Segments: which frames meet where, held against frames that are followed one by one."""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Iterator
from typing import Any

import pytest

from coldcheck import ours
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.parts import Shelf
from coldcheck.workings.addresses import address_book
from coldcheck.workings.segments import Segments, segments, stands


def read(text: str) -> Plan:
    """Return a plan without the parts shelf."""
    return ours.read_plan("plan.toml", text.encode(), Shelf())


def of(text: str) -> tuple[Plan, Segments]:
    """Return a plan and its segments."""
    plan = read(text)
    return plan, segments(plan)


def port(plan: Plan, name: str) -> PortPoint:
    """Return the port of that name."""
    thing, _, point = name.partition(".")
    return next(p for p in plan.ports[thing] if point in ("", p.id))


_SWITCH = """
[[switch]]
id = "{}"
vlans = true
[[switch.port]]
id = "1 .. 2"
vlan = 10
[[switch.port]]
id = "3 .. 4"
vlan = 20
[[switch.port]]
id = "8"
tagged = [10, 20]
"""
TWO = _SWITCH.format("a") + _SWITCH.format("b") + '[[link]]\nfrom = "a.8"\nto = "b.8"\n'
for _name, _at in (("n1", "a.1"), ("n2", "a.3"), ("n3", "b.1"), ("n4", "b.3")):
    TWO += f'[[node]]\nid = "{_name}"\nport = "{_at}"\n'


def test_a_trunk_carries_each_vlan_by_itself() -> None:
    """Boards in one VLAN meet across a trunk; those in another VLAN on the same switches do not hear them."""
    plan, found = of(TWO)
    n1, n2, n3, n4 = (found.at(port(plan, f"n{i}")) for i in range(1, 5))
    assert n1 == n3
    assert n2 == n4
    assert n1 != n2
    assert n1 is not None
    assert found.vlans[n1] == [10]


def test_an_untagged_end_that_differs_lets_two_vlans_leak() -> None:
    """Frames without a tag that leave VLAN 10 and arrive in VLAN 20 make both one segment."""
    leak = TWO.replace('id = "8"\ntagged = [10, 20]', 'id = "8"\nvlan = 10', 1)
    leak = leak.replace('id = "8"\ntagged = [10, 20]', 'id = "8"\nvlan = 20', 1)
    plan, found = of(leak)
    number = found.at(port(plan, "n1"))
    assert number is not None
    assert sorted(found.vlans[number]) == [10, 20]
    assert number == found.at(port(plan, "n4"))


def test_without_vlans_all_that_is_cabled_is_one_segment() -> None:
    """Switches that know no VLANs join whatever is plugged into them, and a board joins nothing."""
    plan, found = of(
        '[[switch]]\nid = "a"\nports = 4\n[[switch]]\nid = "b"\nports = 4\n'
        '[[link]]\nfrom = "a.4"\nto = "b.4"\n[[node]]\nid = "n1"\nport = "a.1"\n[[node]]\nid = "n2"\nport = "b.1"\n'
        '[[node]]\nid = "r"\n[[node.port]]\nid = "1"\nto = "a.2"\n[[node.port]]\nid = "2"\nto = "n3"\n'
        '[[node]]\nid = "n3"\n'
    )
    assert found.at(port(plan, "n1")) == found.at(port(plan, "n2")) == found.at(port(plan, "r.1"))
    assert found.at(port(plan, "n3")) == found.at(port(plan, "r.2")) != found.at(port(plan, "r.1"))


def test_a_management_port_of_a_switch_is_apart() -> None:
    """What is plugged into the management port of a switch hears nothing of what its other ports carry."""
    plan, found = of(
        '[[switch]]\nid = "a"\nports = 4\n[[switch.port]]\nid = "mgmt"\nfor = "management"\n'
        '[[node]]\nid = "n1"\nport = "a.1"\n[[node]]\nid = "n2"\nport = "a.mgmt"\n'
    )
    assert found.at(port(plan, "n1")) != found.at(port(plan, "n2"))


def test_a_radio_passes_frames_on_and_a_router_does_not() -> None:
    """A thing with an uplink beside its cable bridges, unless it is the gateway of a subnet or denies it."""
    text = (
        '[[switch]]\nid = "a"\nports = 4\n[[appliance]]\nid = "radio"\naddress = "10.0.0.2"\nport = "a.1"\n'
        '[[uplink]]\nfrom = "radio"\nto = "valley"\nmedium = "radio"\n[[subnet]]\nprefix = "10.0.0.0/24"\n'
    )
    for words, passes in (("", True), ('gateway = "10.0.0.2"\n', False), ('gateway = "10.0.0.1"\n', True)):
        assert ("radio" in of(text + words)[1].clear) is passes
    assert "radio" not in of(text.replace('port = "a.1"\n', 'port = "a.1"\nbridges = false\n'))[1].clear


def test_an_address_stands_in_the_vlan_of_its_subnet() -> None:
    """A machine that tags has its address in the VLAN of the subnet; a switch has its own in that VLAN too."""
    plan, found = of(
        TWO.replace(
            'id = "n1"\nport = "a.1"',
            'id = "n1"\nport = "a.2"\naddress = ["10.0.10.1", "10.0.20.1"]\ntagged = 20',
        )
        .replace('id = "1 .. 2"\nvlan = 10', 'id = "1 .. 2"\nvlan = 10\ntagged = 20', 1)
        .replace('id = "b"\nvlans', 'id = "b"\naddress = "10.0.20.2"\nvlans')
        + '[[subnet]]\nprefix = "10.0.10.0/24"\nvlan = 10\n[[subnet]]\nprefix = "10.0.20.0/24"\nvlan = 20\n'
    )
    book = address_book(plan)
    where = stands(plan, found, book)
    ten, twenty = found.at(port(plan, "n3")), found.at(port(plan, "n4"))
    assert [where[id(host)] for host in book.hosts] == [[ten], [twenty], [twenty]]


# --- held against frames that are followed one by one ---------------------------------------------------------------


def _random_plan(seed: int) -> str:
    """Return switches with and without VLANs, machines that tag and that do not, and cables between them at random."""
    rng = random.Random(seed)
    vlans = [10, 20, 30]
    text, free = "", []
    for s in range(rng.randint(1, 5)):
        keeps = rng.random() < 0.6
        text += f'[[switch]]\nid = "s{s}"\nvlans = {str(keeps).lower()}\n'
        for p in range(6):
            text += f'[[switch.port]]\nid = "{p}"\n'
            free.append(f"s{s}.{p}")
            if keeps:
                own = rng.choice([None, *vlans])
                tagged = [v for v in vlans if v != own and rng.random() < 0.4]
                text += f"vlan = {own}\n" if own else ""
                text += f"tagged = {tagged}\n" if tagged else ""
    rng.shuffle(free)
    for n in range(rng.randint(2, 6)):
        tagged = [v for v in vlans if rng.random() < 0.3]
        text += f'[[node]]\nid = "n{n}"\nport = "{free.pop()}"\n' + (f"tagged = {tagged}\n" if tagged else "")
    for _ in range(rng.randint(0, len(free) // 3)):
        text += f'[[link]]\nfrom = "{free.pop()}"\nto = "{free.pop()}"\n'
    return text


def _heard(plan: Plan, start: PortPoint, tag: int) -> set[tuple[str, int]]:
    """Follow one broadcast, frame by frame; return which machines hear it, and with which tag."""
    heard: set[tuple[str, int]] = set()
    seen: set[tuple[str, int, str]] = set()
    wires: deque[tuple[LinkLine, PortPoint, int]] = deque((line, start, tag) for line in start.links)
    while wires:
        line, sender, tag = wires.popleft()
        at = line.b if line.a is sender else line.a
        if at is None or (at.name, tag, sender.name) in seen:
            continue
        seen.add((at.name, tag, sender.name))
        if at.thing.table != "switch":
            if not tag or tag in at.tagged:
                heard.add((at.thing.id, tag))
            continue
        for out, sent in _sent(plan, at, tag):
            wires.extend((line, out, sent) for line in out.links)
    return heard


def _sent(plan: Plan, at: PortPoint, tag: int) -> Iterator[tuple[PortPoint, int]]:
    """Yield by which ports a switch sends a frame that came in, and with which tag (IEEE 802.1Q, from memory)."""
    switch: Any = at.thing
    vlan = tag or (1 if at.vlan is None else at.vlan)
    if switch.vlans and tag and tag not in at.tagged:
        return
    for out in plan.ports[switch.id]:
        if out is at:
            continue
        if not switch.vlans:
            yield out, tag
        elif vlan == (1 if out.vlan is None else out.vlan):
            yield out, 0
        elif vlan in out.tagged:
            yield out, vlan


@pytest.mark.parametrize("seed", range(200))
def test_segments_are_who_hears_a_broadcast(seed: int) -> None:
    """Two ways of machines are in one segment exactly if a broadcast sent in one is heard in the other."""
    plan, found = of(_random_plan(seed))
    ways = [(p, tag) for n in plan.table("node") for p in plan.ports[n.id] for tag in (0, *p.tagged)]
    for sender, tag in ways:
        heard = _heard(plan, sender, tag)
        mine = found.at(sender, tag)
        for other, tag2 in ways:
            if other is not sender and mine is not None and found.at(other, tag2) is not None:
                assert ((other.thing.id, tag2) in heard) == (found.at(other, tag2) == mine), (
                    sender.name,
                    other.name,
                )

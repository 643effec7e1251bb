"""Packets: who talks with whom, how long their packets are, and what each switch on the way gets to see."""

from __future__ import annotations

import pytest

from coldcheck.workings.packets import Talk

from .conftest import Worked

SWITCH = '[[switch]]\nid = "{}"\n{}'
PORT = '[[{}.port]]\nid = "{}"\n{}'
NODE = '[[node]]\nid = "{}"\nport = "{}"\n{}'
LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
JUMBO = "mtu = 9000\n"


def vlans(name: str, ports: dict[str, str], words: str = "") -> str:
    """Return a switch whose ports have VLANs."""
    return SWITCH.format(name, words) + "".join(PORT.format("switch", p, w) for p, w in ports.items())


def told(talks: list[Talk]) -> list[tuple[list[tuple[str, int]], list[str], set[str]]]:
    """Return who sends how long packets, by which switches, and which of these see a tag."""
    return [
        (sorted({(s.name, s.mtu) for s in t.senders}), [w.id for w in t.switches], t.tagging) for t in talks
    ]


TWO = vlans("a", {"1": "vlan = 10\n", "2": "vlan = 20\n", "8": "tagged = [10, 20]\n"}) + vlans(
    "b", {"1": "vlan = 10\n", "2": "vlan = 20\n", "8": "tagged = [10, 20]\n"}
)
TWO += LINK.format("a.8", "b.8") + NODE.format("n1", "a.1", JUMBO) + NODE.format("n2", "a.2", "")
TWO += NODE.format("m1", "b.1", JUMBO) + NODE.format("m2", "b.2", "")


def test_each_vlan_talks_by_itself(worked: Worked) -> None:
    """Where one VLAN is jumbo and the other is not, only the first is told, with both switches and the tag between."""
    assert told(worked(TWO).working("talks")) == [([("m1", 9000), ("n1", 9000)], ["a", "b"], {"a", "b"})]
    (talk,) = worked(TWO).working("talks")
    assert talk.usual == 9000
    # source: 18 octets around a packet, 22 with one tag (router guide, IEEE 802.3 and 802.1Q)
    assert [talk.frame(switch) for switch in talk.switches] == [9022, 9022]


def test_a_switch_that_sees_no_tag_needs_no_room_for_one(worked: Worked) -> None:
    """An unmanaged switch behind an access port gets frames without a tag, the managed one before it with one."""
    text = TWO + SWITCH.format("u", "ports = 4\n") + NODE.format("x1 .. x2", "u.1 .. u.2", JUMBO)
    text = text.replace(
        'id = "2"\nvlan = 20\n', 'id = "2"\nvlan = 20\n[[switch.port]]\nid = "3"\nvlan = 10\n', 1
    )
    (talk,) = worked(text + LINK.format("a.3", "u.4")).working("talks")
    assert {switch.id: talk.frame(switch) for switch in talk.switches} == {"a": 9022, "b": 9022, "u": 9018}
    # tags go through an unmanaged switch as they are
    through = SWITCH.format("u", "ports = 4\n") + vlans("b", {"8": "tagged = 10\n", "1": "vlan = 10\n"})
    through += (
        NODE.format("n1", "u.1", JUMBO + "tagged = 10\n")
        + LINK.format("u.4", "b.8")
        + NODE.format("m1", "b.1", JUMBO)
    )
    assert all(
        "u" in t.tagging
        for t in worked(through).working("talks")
        if len(t.switches) == 2 and len(t.senders) == 2
    )


def test_a_machine_in_two_vlans_has_an_mtu_for_each_port(worked: Worked) -> None:
    """A port says its MTU for itself, else its thing does for all; a router between is on both segments."""
    text = vlans("a", {"1": "vlan = 10\n", "2": "vlan = 20\n", "3": "vlan = 10\n", "4": "vlan = 20\n"})
    text += '[[node]]\nid = "r"\nmtu = 9000\n' + PORT.format("node", "x", 'to = "a.1"\n')
    text += (
        PORT.format("node", "y", 'to = "a.2"\nmtu = 1500\n')
        + NODE.format("n1", "a.3", JUMBO)
        + NODE.format("n2", "a.4", "")
    )
    found = worked(text).working("talks")
    assert told(found) == [
        ([("n1", 9000), ("r.x", 9000)], ["a"], set()),
        ([("n2", 1500), ("r.y", 1500)], ["a"], set()),
    ]
    paths = {(s.name, s.mtu): s.path for t in found for s in t.senders}
    assert paths["r.x", 9000] == ("node", 0, "mtu")
    assert paths["r.y", 1500] == ("node", 0, "port", 1, "mtu")
    assert paths["n2", 1500] == ()


def test_nobody_states_an_mtu(worked: Worked) -> None:
    """Where none is stated there is nothing to judge; nor is one by a machine without a cable."""
    assert worked(TWO.replace(JUMBO, "")).working("talks") == []
    text = (
        SWITCH.format("a", "ports = 4\n") + '[[node]]\nid = "n"\nmtu = 9000\n' + NODE.format("m", "a.1", "")
    )
    assert worked(text).working("talks") == []


@pytest.mark.parametrize(("counts", "usual"), [((3, 1), 9000), ((1, 3), 1500), ((2, 2), 9000)])
def test_most_machines_decide_what_is_usual(worked: Worked, counts: tuple[int, int], usual: int) -> None:
    """Of as many machines with a long MTU as with a short one, the long one is taken for meant."""
    text = SWITCH.format("a", "ports = 8\n") + "".join(
        NODE.format(f"l{i}", f"a.{i + 1}", JUMBO) for i in range(counts[0])
    )
    text += "".join(NODE.format(f"s{i}", f"a.{i + 5}", "") for i in range(counts[1]))
    assert [t.usual for t in worked(text).working("talks")] == [usual]


def test_who_passes_on_or_lies_outside_counts_where_it_says_so(worked: Worked) -> None:
    """An access point and an uplink are senders with the MTU they state, and none where they state none."""
    text = SWITCH.format("a", "ports = 8\n") + NODE.format("n1 .. n2", "a.1 .. a.2", JUMBO)
    text += '[[appliance]]\nid = "ap"\nbridges = true\n{}port = "a.3"\n[[uplink]]\nfrom = "a.8"\nto = "valley"\n{}'
    both = [("n1", 9000), ("n2", 9000)]
    assert told(worked(text.format("", "")).working("talks")) == [(both, ["a"], set())]
    found = worked(text.format("mtu = 1500\n", "mtu = 1492\n")).working("talks")
    assert told(found) == [([("ap", 1500), *both, ("valley", 1492)], ["a"], set())]
    assert {s.name: s.path for s in found[0].senders}["valley"] == ("uplink", 0, "mtu")
    spare = '[[appliance.port]]\nid = "1"\nto = "a.3"\n[[appliance.port]]\nid = "2"\nmtu = 1400\n'  # no cable in it
    two = text.replace('{}port = "a.3"\n', "{}" + spare).format("", "")
    assert told(worked(two).working("talks")) == [(both, ["a"], set())]
    quiet = text.replace(JUMBO, "").format("", "mtu = 1492\n")
    assert [name for name, _ in told(worked(quiet).working("talks"))[0][0]] == ["n1", "n2", "valley"]


def test_a_leak_joins_talks_and_names_a_switch_once(worked: Worked) -> None:
    """Where a cable joins two VLANs all talk together, and each switch is there once."""
    text = vlans("a", {"1": "vlan = 10\n", "2": "vlan = 20\n", "3": "vlan = 10\n", "4": "vlan = 20\n"})
    text += SWITCH.format("u", "ports = 4\n") + LINK.format("a.3", "u.1") + LINK.format("a.4", "u.2")
    text += NODE.format("n1", "a.1", JUMBO) + NODE.format("n2", "a.2", "")
    (talk,) = worked(text).working("talks")
    assert sorted(switch.id for switch in talk.switches) == ["a", "u"]
    assert {(s.name, s.mtu) for s in talk.senders} == {("n1", 9000), ("n2", 1500)}


TAGS = vlans("a", {"1 .. 2": "vlan = 10\ntagged = 30\n", "3": "vlan = 10\n"})
TAGS += NODE.format("n1 .. n2", "a.1 .. a.2", "vlan = 10\ntagged = 30\n{}")
TAGS += 'address = ["10.0.10.1 .. 10.0.10.2", "10.0.30.1 .. 10.0.30.2"]\n'
TAGS += NODE.format("cam", "a.3", 'address = "10.0.10.9"\n')
LAN = '[[subnet]]\nprefix = "10.0.10.0/24"\nvlan = 10\n'
STORE = '[[subnet]]\nprefix = "10.0.30.0/24"\nvlan = 30\n'


def sent(worked: Worked, text: str) -> list[set[tuple[str, int]]]:
    """Return who sends how long packets, segment by segment."""
    return [{(s.name, s.mtu) for s in talk.senders} for talk in worked(text).working("talks")]


@pytest.mark.parametrize(
    ("machine", "lan", "store", "in_lan", "in_store"),
    [
        (JUMBO, "mtu = 1500\n", "", 1500, 9000),  # a port of several networks takes the longest of them
        ("", "", JUMBO, None, 9000),
        ("mtu = 1500\n", "", JUMBO, 1500, 1500),  # no network has longer packets than its port
        ("mtu = 4000\n", "mtu = 1500\n", JUMBO, 1500, 4000),
        (JUMBO, "mtu = 1500\n", "mtu = 8000\n", 1500, 8000),
    ],
)
def test_a_subnet_says_how_long_packets_are_in_its_vlan(
    worked: Worked, machine: str, lan: str, store: str, in_lan: int | None, in_store: int
) -> None:
    """One tagged port sends as long packets in each VLAN as its subnet states, and never longer than the port takes."""
    found = sent(worked, TAGS.format(machine) + LAN + lan + STORE + store)
    wanted = [{("n1", in_lan), ("n2", in_lan), ("cam", 1500)}] if in_lan else []
    assert found == [*wanted, {("n1", in_store), ("n2", in_store)}]


def test_what_subnets_state_is_usual(worked: Worked) -> None:
    """However many machines say less, the word of the subnet is what they are held against, unless subnets differ."""
    text = SWITCH.format("a", "ports = 8\n") + NODE.format("n1 .. n3", "a.1 .. a.3", "mtu = 1500\n{}")
    net = '[[subnet]]\nprefix = "{}"\nmtu = {}\n'
    four = text.format('address = "10.0.0.1 .. 10.0.0.3"\n') + net.format("10.0.0.0/24", 9000)
    (talk,) = worked(four).working("talks")
    assert (talk.stated, talk.usual, {s.mtu for s in talk.senders}) == (9000, 9000, {1500})
    both = text.format('address = ["10.0.0.1 .. 10.0.0.3", "fd2a:91c4:7b3e::1 .. fd2a:91c4:7b3e::3"]\n')
    both += net.format("10.0.0.0/24", 9000) + net.format("fd2a:91c4:7b3e::/64", "{}")
    assert worked(both.replace("{}", "9000")).working("talks")[0].stated == 9000
    (talk,) = worked(both.replace("{}", "8000")).working("talks")
    assert (talk.stated, talk.usual) == (None, 1500)


def test_a_longer_word_stands_where_it_can_mean_only_this_subnet(worked: Worked) -> None:
    """A machine of one plain port sends what it says; of two, what is said of it may be meant for the other network."""
    text = SWITCH.format("a", "ports = 4\n") + SWITCH.format("b", "ports = 4\n")
    text += '[[subnet]]\nprefix = "10.0.0.0/24"\nmtu = 1500\n' + NODE.format("m", "a.2", "{}")
    text = text.format('address = "10.0.0.2"\n')
    one = '[[node]]\nid = "n"\n{}[[node.port]]\nid = "x"\nto = "a.1"\naddress = "10.0.0.1"\n{}'
    two = PORT.format("node", "y", 'to = "b.1"\n')
    assert sent(worked, text + one.format(JUMBO, "")) == [{("n", 9000), ("m", 1500)}]
    assert sent(worked, text + one.format(JUMBO, "") + two) == [{("n", 1500), ("m", 1500)}, {("n", 9000)}]
    own = sent(worked, text + one.format("", JUMBO) + two)
    assert own == [{("n.x", 9000), ("m", 1500)}]


def test_a_subnet_without_a_vlan_is_where_most_of_its_addresses_are(worked: Worked) -> None:
    """A machine between two networks carries the word of one subnet into no other; an uplink may carry more."""
    text = SWITCH.format("a", "ports = 4\n") + SWITCH.format("b", "ports = 4\n")
    text += NODE.format("n1 .. n2", "a.1 .. a.2", 'address = "10.0.0.1 .. 10.0.0.2"\n')
    text += '[[node]]\nid = "r"\naddress = "10.0.0.3"\n' + PORT.format("node", "x", 'to = "a.3"\n')
    text += PORT.format("node", "y", 'to = "b.1"\n') + NODE.format("k", "b.2", "")
    text += '[[subnet]]\nprefix = "10.0.0.0/24"\nmtu = 8000\n'
    assert sent(worked, text) == [{("n1", 8000), ("n2", 8000), ("r", 8000)}]
    found = sent(worked, text + '[[uplink]]\nfrom = "a.4"\nto = "valley"\nmtu = 9000\n')
    assert ("valley", 8000) in found[0]


def test_a_vlan_has_the_word_of_its_subnet_whoever_has_addresses_in_it(worked: Worked) -> None:
    """Without an address in it a subnet speaks for its VLAN; one that is plugged in wrongly takes its word nowhere."""
    bare = TAGS.format("").replace('address = ["10.0.10.1 .. 10.0.10.2", "10.0.30.1 .. 10.0.30.2"]\n', "")
    assert sent(worked, bare + LAN + STORE + JUMBO) == [{("n1", 9000), ("n2", 9000)}]
    text = vlans("a", {"1 .. 3": "vlan = 10\n", "4": "vlan = 30\n"})
    text += NODE.format("n1 .. n2", "a.1 .. a.2", 'mtu = 1500\naddress = "10.0.10.1 .. 10.0.10.2"\n')
    text += NODE.format("x", "a.3", 'address = "10.0.30.1"\n') + LAN + STORE + JUMBO
    assert [talk.stated for talk in worked(text).working("talks") if talk.senders] == [None]

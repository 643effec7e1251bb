"""Islands: what no cable joins to the rest, held against components by networkx and plans as builders draw them."""

from __future__ import annotations

import random

import networkx as nx  # type: ignore[import-untyped]

from coldcheck.workings.islands import Island

from .conftest import Worked

SWITCH = '[[switch]]\nid = "{}"\nports = 20\n'
LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
NODE = '[[node]]\nid = "{}"\nport = "{}"\n'
AT = NODE + 'address = "{}"\n'
PORT = '[[node.port]]\nid = "{}"\nto = "{}"\n'
UPLINK = '[[uplink]]\nfrom = "{}"\nto = "{}"\n'
NET = '[[subnet]]\nprefix = "{}"\n'
PAIR = SWITCH.format("a") + SWITCH.format("b")


def islands(worked: Worked, text: str) -> list[Island]:
    """Return the islands of a plan."""
    return list(worked(text).working("islands"))


def names(found: list[Island]) -> list[list[str]]:
    """Return the ids of what is on each island."""
    return [sorted(thing.id for thing in island.things) for island in found]


def test_islands_are_the_other_components(worked: Worked) -> None:
    """In random plans the islands are all components but the main one (networkx), with what has no cable to that."""
    seen = 0
    for seed in range(200):
        pick = random.Random(seed)
        switches = [f"s{i}" for i in range(pick.randint(2, 6))]
        used = dict.fromkeys(switches, 0)
        graph = nx.Graph()
        owner = {}
        links = ""

        def port(switch: str, used: dict[str, int] = used) -> str:
            used[switch] += 1
            return f"{switch}.{used[switch]}"

        for i, switch in enumerate(switches[1:], 1):
            if pick.random() < 0.5:
                other = pick.choice(switches[:i])
                links += LINK.format(port(switch), port(other))
                graph.add_edge(switch, other)
        for i in range(pick.randint(1, 6)):
            links += f'[[node]]\nid = "n{i}"\n'
            for p in range(pick.randint(1, 2)):
                switch = pick.choice(switches)
                links += PORT.format(p, port(switch))
                graph.add_edge(f"n{i}.{p}", switch)
        owner = {v: v.partition(".")[0] for v in graph}
        parts = [{owner[v] for v in part} for part in nx.connected_components(graph)]
        found = islands(worked, "".join(SWITCH.format(s) for s in switches) + links)
        size = max(len(part) for part in parts)
        expected = []
        for main in (
            part for part in parts if len(part) == size
        ):  # of parts of one size any may be the main one
            expected.append(
                sorted(sorted(left) for part in parts if part is not main and (left := part - main))
            )
        assert sorted(names(found)) in expected, seed
        for island in found:
            machines = {
                n for part in parts if {t.id for t in island.things} <= part for n in part if n[0] == "n"
            }
            assert island.joined is bool(machines - {t.id for t in island.things})
            assert (island.addressed, island.leaves, island.shares) == (False, False, [])
        seen += len(found)
    assert seen > 100


def test_halves_of_one_subnet_share_it(worked: Worked) -> None:
    """A subnet with addresses in two parts is told of that with fewer, and of none where it lies in one part only."""
    half = PAIR + "".join(
        AT.format(f"n{i}", f"{s}.{i}", f"10.0.0.{i}") for i, s in ((1, "a"), (2, "a"), (3, "b"))
    )
    (island,) = islands(worked, half + NET.format("10.0.0.0/24"))
    assert names([island]) == [["b", "n3"]]
    assert [block.text for block in island.shares] == ["10.0.0.0/24"]
    assert (island.addressed, island.cable) == (True, ("b.20", "a.20"))
    own = half.replace("10.0.0.3", "10.0.1.3") + NET.format("10.0.0.0/24") + NET.format("10.0.1.0/24")
    (island,) = islands(worked, own)
    assert (island.shares, island.addressed) == ([], True)
    assert not islands(worked, half + NET.format("10.0.0.0/24") + LINK.format("a.9", "b.9"))


def test_one_missing_cable_between_two_small_parts_is_told_once(worked: Worked) -> None:
    """Where two parts share a subnet that the main one has no part in, only one of both is told to share it."""
    text = (
        SWITCH.format("a")
        + SWITCH.format("b")
        + SWITCH.format("c")
        + NET.format("10.0.0.0/24")
        + NET.format("10.0.1.0/24")
    )
    text += "".join(AT.format(f"n{i}", f"a.{i}", f"10.0.0.{i}") for i in range(1, 6))
    text += (
        AT.format("m1", "b.1", "10.0.1.1")
        + AT.format("m2", "b.2", "10.0.1.2")
        + AT.format("m3", "c.1", "10.0.1.3")
    )
    assert [(names([i])[0], bool(i.shares)) for i in islands(worked, text)] == [
        (["b", "m1", "m2"], False),
        (["c", "m3"], True),
    ]


def test_the_part_with_fewer_addresses_of_a_subnet_is_told(worked: Worked) -> None:
    """Beside the main part it is the other one, however many it has; between two others that with fewer."""
    text = (
        PAIR
        + NET.format("10.0.0.0/24")
        + NODE.format("k1 .. k4", "a.11 .. a.14")
        + AT.format("n1", "a.1", "10.0.0.1")
    )
    text += AT.format("m1", "b.1", "10.0.0.2") + AT.format("m2", "b.2", "10.0.0.3")
    assert [(names([i])[0], len(i.shares)) for i in islands(worked, text)] == [(["b", "m1", "m2"], 1)]
    three = PAIR + SWITCH.format("c") + NET.format("10.0.1.0/24") + NODE.format("k1 .. k6", "a.11 .. a.16")
    three += (
        AT.format("m1", "b.1", "10.0.1.1")
        + AT.format("x1", "c.1", "10.0.1.2")
        + AT.format("x2", "c.2", "10.0.1.3")
    )
    assert [(names([i])[0], len(i.shares)) for i in islands(worked, three)] == [
        (["b", "m1"], 1),
        (["c", "x1", "x2"], 0),
    ]


def test_an_address_that_may_be_in_either_part_is_in_none(worked: Worked) -> None:
    """It makes no subnet lie on both sides, whichever part comes first in the plan."""
    text = (
        SWITCH.format("b")
        + SWITCH.format("a")
        + NET.format("10.0.0.0/24")
        + NODE.format("k1 .. k4", "a.11 .. a.14")
    )
    text += AT.format("n1", "a.1", "10.0.0.1") + '[[node]]\nid = "r"\naddress = "10.0.0.9"\n'
    text += PORT.format(1, "a.7") + PORT.format(2, "b.7") + NODE.format("x", "b.1")
    (island,) = islands(worked, text)
    assert (names([island]), island.shares) == ([["b", "x"]], [])


def test_storage_with_a_network_of_its_own_is_not_cut_off(worked: Worked) -> None:
    """Boards with a second cable to storage are joined to the rest; so the storage network is one of its own."""
    text = PAIR + '[[storage]]\nid = "d"\nport = "b.1"\n' + NODE.format("k1 .. k3", "a.11 .. a.13")
    text += "".join(
        f'[[node]]\nid = "n{i}"\n' + PORT.format(1, f"a.{i}") + PORT.format(2, f"b.{i + 1}")
        for i in range(1, 4)
    )
    (island,) = islands(worked, text)
    assert (names([island]), island.joined) == ([["b", "d"]], True)
    with_way = islands(worked, text.replace('[[storage]]\nid = "d"\nport = "b.1"\n', ""))
    assert [(names([i])[0], i.joined) for i in with_way] == [(["b"], True)]


def test_management_networks_are_apart(worked: Worked) -> None:
    """Ports for management on switches of their own are no island, one switch or two."""
    text = SWITCH.format("a") + SWITCH.format("m") + SWITCH.format("k")
    text += "".join(
        f'[[node]]\nid = "n{i}"\n' + PORT.format(1, f"a.{i}")
        + f'[[node.port]]\nid = "bmc"\nfor = "management"\nto = "m.{i}"\n' for i in range(1, 4)
    )  # fmt: skip
    assert not islands(worked, text)
    assert not islands(worked, text + LINK.format("m.9", "k.9"))
    text += '[[node]]\nid = "x"\nport = "k.1"\n' + LINK.format("m.9", "k.9")
    assert names(islands(worked, text)) == [["k", "m", "x"]]


def test_a_part_with_a_way_out_of_its_own_leaves(worked: Worked) -> None:
    """Two parts with an uplink to one place are joined there; one with another uplink is not cut off from the world."""
    text = (
        PAIR
        + NODE.format("n1 .. n3", "a.1 .. a.3")
        + NODE.format("m1 .. m2", "b.1 .. b.2")
        + UPLINK.format("a.9", "valley")
    )
    assert not islands(worked, text + UPLINK.format("b.9", "valley"))
    (island,) = islands(worked, text + UPLINK.format("b.9", "hill"))
    assert (names([island]), island.leaves) == ([["b", "m1", "m2"]], True)
    (island,) = islands(worked, text)
    assert (names([island]), island.leaves) == ([["b", "m1", "m2"]], False)


def test_a_radio_that_nothing_joins_is_the_one_that_is_cut_off(worked: Worked) -> None:
    """The way out is at the radio, but the rest is not cut off from it: the radio lacks its cable."""
    text = SWITCH.format("a") + NODE.format("n1 .. n3", "a.1 .. a.3") + '[[appliance]]\nid = "radio"\n'
    text += '[[uplink]]\nfrom = "radio"\nto = "valley"\nmedium = "radio"\n'
    assert names(islands(worked, text)) == [["radio"]]
    # with a switch and a camera behind it, it is the larger part without a way out that is cut off
    text += (
        SWITCH.format("c") + '[[link]]\nfrom = "c.1"\nto = "radio"\n[[appliance]]\nid = "cam"\nport = "c.2"\n'
    )
    text = text.replace('id = "radio"\n', 'id = "radio"\n[[appliance.port]]\nid = "eth"\n', 1).replace(
        '"radio"\n[[app', '"radio"\n[[app'
    )
    assert names(islands(worked, text)) == [["a", "n1", "n2", "n3"]]


def test_addresses_of_things_with_several_ports(worked: Worked) -> None:
    """An address of a port counts in the part of that port; one of the thing may be at either, and shares nothing."""
    text = (
        PAIR
        + AT.format("n1", "a.1", "10.0.0.1")
        + AT.format("n2", "a.2", "10.0.0.2")
        + NET.format("10.0.0.0/24")
    )
    two = (
        '[[node]]\nid = "r"\n{}'
        + PORT.format(1, "a.7")
        + PORT.format(2, "b.7")
        + "{}"
        + NODE.format("x", "b.1")
    )
    (island,) = islands(worked, text + two.format("", 'address = "10.0.0.9"\n'))
    assert (len(island.shares), island.addressed) == (1, True)
    (island,) = islands(worked, text + two.format('address = "10.0.0.9"\n', ""))
    assert (len(island.shares), island.addressed) == (0, True)
    (island,) = islands(worked, text + two.format("", ""))
    assert (len(island.shares), island.addressed, island.cable) == (0, False, ("b.20", "a.20"))
    full = (
        (text + two.format("", ""))
        .replace("ports = 20", "ports = 7", 1)
        .replace('"a"\nports = 20', '"a"\nports = 3')
    )
    assert islands(worked, full)[0].cable
    none = (
        PAIR.replace("ports = 20", "ports = 3", 1)
        + NODE.format("n1 .. n3", "a.1 .. a.3")
        + NODE.format("m", "b.1")
    )
    assert islands(worked, none)[0].cable == ()


TRUNK = '[[switch.port]]\nid = "{}"\ntagged = {}\n'
ACCESS = '[[switch.port]]\nid = "1 .. 3"\nvlan = {}\n'


def _two(one: str, other: str, vlan: int) -> str:
    """Return two switches with a board each, both in one subnet of a VLAN."""
    text = "".join(
        f'[[switch]]\nid = "{name}"\n{ACCESS.format(vlan)}{trunk}[[switch.port]]\nid = "9"\n'
        for name, trunk in (("a", one), ("b", other))
    )
    text += AT.format("n1", "a.1", "10.0.0.1") + AT.format("n2", "b.1", "10.0.0.2")
    return text + NODE.format("n3", "a.2") + NET.format("10.0.0.0/24") + f"vlan = {vlan}\n"


def test_the_cable_offered_carries_what_both_sides_need(worked: Worked) -> None:
    """The two ports say the same of VLANs, carry that of the subnet, and have tags where some have; else none are."""
    ten, twenty = TRUNK.format(5, "[10, 20]"), TRUNK.format(6, "[10, 20]")
    assert islands(worked, _two(ten, twenty, 10))[0].cable == ("b.6", "a.5")
    # trunks that carry it not at all, or not at both ends, are none: a free port of VLAN 10 on each side does
    assert islands(worked, _two(TRUNK.format(5, "[20, 30]"), TRUNK.format(6, "[20, 30]"), 10))[0].cable == (
        "b.3",
        "a.3",
    )
    assert islands(worked, _two(ten, TRUNK.format(6, "10"), 10))[0].cable == ("b.3", "a.3")
    full = [_two(ten, TRUNK.format(6, words), 10).replace("1 .. 3", "1 .. 2") for words in ("10", "20")]
    assert [islands(worked, text)[0].cable for text in full] == [(), ()]
    sfp = twenty + 'media = "sfp"\n'
    assert islands(worked, _two(ten, sfp, 10))[0].cable == ("b.3", "a.3")  # nothing goes into both trunks
    assert islands(worked, _two(ten + 'media = "sfp"\n', sfp, 10))[0].cable == ("b.6", "a.5")
    kept = _two(ten + "unused = true\n", twenty, 10)  # said to stay free
    assert islands(worked, kept)[0].cable == ("b.3", "a.3")

"""Cables whose ends disagree in their VLANs, held against the same plan without the slip; where addresses stand."""

from __future__ import annotations

import random
from collections.abc import Iterable
from typing import Any

import msgspec
import pytest

from coldcheck import ours
from coldcheck.plan.model import Plan
from coldcheck.plan.parts import Shelf
from coldcheck.workings.addresses import address_book
from coldcheck.workings.placing import Placement, placement
from coldcheck.workings.segments import Segments, segments, stands
from coldcheck.workings.vlan_words import tags_text, tags_value, vlans_text, with_tags
from coldcheck.workings.vlans import VlanEnds, carried_ids, stated_vlans, vlan_ends


def read(text: str) -> Plan:
    """Return a plan without the parts shelf."""
    return ours.read_plan("plan.toml", text.encode(), Shelf())


def ends_of(plan: Plan) -> tuple[Segments, VlanEnds]:
    """Return the real segments of a plan, and what its cables say."""
    real = segments(plan)
    return real, vlan_ends(plan, real, stated_vlans(plan), address_book(plan))


def placed(text: str) -> Placement:
    """Return where the addresses of a plan stand."""
    plan = read(text)
    real, ends = ends_of(plan)
    book = address_book(plan)
    return placement(plan, real, stands(plan, real, book), book, ends)


# --- held against the plan without the slip ---------------------------------------------------------------------------


class Trunk(msgspec.Struct):
    """A cable between two switches: for either end its port, its VLAN without a tag (0: unsaid) and its tags."""

    ports: list[str]
    plain: list[int]
    tags: list[list[int]]


VLANS = [10, 20, 30]


def random_trunks(rng: random.Random) -> tuple[list[Trunk], str]:
    """Return trunks between switches whose ends agree, and the text of everything else: machines in VLANs."""
    count = rng.randint(2, 5)
    pairs = [(rng.randrange(s), s) for s in range(1, count)]
    pairs += [(a, b) for a, b in (rng.sample(range(count), 2) for _ in range(rng.randint(0, 2)))]
    trunks = []
    for i, (a, b) in enumerate(pairs):
        plain = rng.choice([0, 0, *VLANS])
        tags = [v for v in VLANS if v != plain and rng.random() < 0.7]
        trunks.append(Trunk([f"s{a}.t{i}", f"s{b}.t{i}"], [plain, plain], [tags, list(tags)]))
    text = ""
    for n in range(rng.randint(3, 9)):
        text += f'[[node]]\nid = "n{n}"\nport = "s{rng.randrange(count)}.{rng.choice(VLANS)}-{n}"\n'
    return trunks, text


def written(trunks: list[Trunk], machines: str) -> str:
    """Return the plan as text; the ports of machines carry the VLAN that their name begins with."""
    ports: dict[str, str] = {}
    for trunk in trunks:
        for name, plain, tags in zip(trunk.ports, trunk.plain, trunk.tags, strict=True):
            switch, _, port = name.partition(".")
            said = f"vlan = {plain}\n" if plain else ""
            said += f"tagged = {tags}\n" if tags else ""
            ports[switch] = ports.get(switch, "") + f'[[switch.port]]\nid = "{port}"\n{said}'
    for line in machines.splitlines():
        if line.startswith("port"):
            switch, _, port = line.split('"')[1].partition(".")
            vlan = port.partition("-")[0]
            ports[switch] = ports.get(switch, "") + f'[[switch.port]]\nid = "{port}"\nvlan = {vlan}\n'
    text = "".join(f'[[switch]]\nid = "{name}"\nvlans = true\n{said}' for name, said in sorted(ports.items()))
    links = "".join(f'[[link]]\nfrom = "{t.ports[0]}"\nto = "{t.ports[1]}"\n' for t in trunks)
    return text + links + machines


def slipped(rng: random.Random, trunks: list[Trunk]) -> list[Trunk]:
    """Return the trunks with one mistake at one end: tags left out, or another VLAN without a tag."""
    trunks = [msgspec.convert(msgspec.to_builtins(t), Trunk) for t in trunks]
    trunk, end = rng.choice(trunks), rng.randrange(2)
    tags = trunk.tags[end]
    if tags and rng.random() < 0.5:
        trunk.tags[end] = rng.sample(tags, rng.randrange(len(tags)))
    elif tags and rng.random() < 0.7:
        trunk.plain[end] = rng.choice(tags)
        tags.remove(trunk.plain[end])
    else:
        trunk.plain[end] = 99
    return trunks


def together(plan: Plan, lan: Segments) -> set[frozenset[str]]:
    """Return which machines are in one segment."""
    groups: dict[int | None, set[str]] = {}
    for node in plan.table("node"):
        groups.setdefault(lan.at(plan.ports[node.id][0]), set()).add(node.id)
    return {frozenset(names) for names in groups.values()}


@pytest.mark.parametrize("seed", range(300))
def test_mended_segments_are_those_without_the_slip(seed: int) -> None:
    """The mended segments are those before the slip, and it is grave exactly where the real ones differ from them."""
    rng = random.Random(seed)
    trunks, machines = random_trunks(rng)
    before = read(written(trunks, machines))
    assert ends_of(before)[1].slips == {}
    meant = together(before, segments(before))
    after = read(written(slipped(rng, trunks), machines))
    real, ends = ends_of(after)
    assert len(ends.slips) == 1
    assert together(after, ends.mended) == meant
    (slip,) = ends.slips.values()
    assert slip.grave == (together(after, real) != meant)


# --- single cases ---------------------------------------------------------------------------------------------------

SWITCH = '[[switch]]\nid = "{}"\nvlans = true\n'
PORT = '[[switch.port]]\nid = "{}"\n{}\n'
LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
PAIR = (
    SWITCH.format("a")
    + PORT.format("8", "{}")
    + SWITCH.format("b")
    + PORT.format("8", "{}")
    + LINK.format("a.8", "b.8")
)


def only(text: str) -> Any:
    """Return the one slip of a plan."""
    (slip,) = ends_of(read(text))[1].slips.values()
    return slip


def test_a_cable_back_to_the_same_switch_joins_nothing() -> None:
    """A cable from a switch to itself is told by `ports.self_link`; its VLANs are not told, and not run together."""
    plan = read(
        SWITCH.format("a")
        + PORT.format("1", "vlan = 10")
        + PORT.format("2", "vlan = 20")
        + LINK.format("a.1", "a.2")
    )
    _, ends = ends_of(plan)
    assert ends.slips == {}
    assert all(len(vlans) == 1 for vlans in ends.mended.vlans.values())


def test_what_each_end_lacks_is_listed() -> None:
    """Tags are compared as sets, both ways; the VLAN without a tag is 1 where none is said (IEEE 802.1Q, read)."""
    slip = only(PAIR.format("tagged = [10, 20]", "tagged = [30, 20]"))
    assert (slip.native, slip.a_lacks, slip.b_lacks) == (None, (30,), (10,))
    slip = only(PAIR.format("tagged = [10, 20]", "vlan = 20\ntagged = 10"))
    assert (slip.native, slip.a_lacks, slip.b_lacks) == ((1, 20), (), (20,))
    assert ends_of(read(PAIR.format("tagged = [10, 20]", "vlan = 1\ntagged = [20, 10]")))[1].slips == {}


def test_untagged_vlans_that_differ_join_the_two() -> None:
    """Frames without a tag cross from one VLAN to the other (networking course notes, read second-hand)."""
    plan = read(PAIR.format("vlan = 10", "vlan = 20"))
    real, ends = ends_of(plan)
    a, b = plan.things["a"], plan.things["b"]
    assert real.of_switch(a, 10) == real.of_switch(b, 20)
    assert ends.mended.of_switch(a, 10) != ends.mended.of_switch(b, 20)


def test_a_machine_takes_what_it_wants() -> None:
    """A port may carry tags that its machine does not take, but not the other way round."""
    text = SWITCH.format("a") + PORT.format("1", "{}") + '[[node]]\nid = "n"\nport = "a.1"\n{}'
    assert ends_of(read(text.format("tagged = [10, 20]", "tagged = 10\n")))[1].slips == {}
    slip = only(text.format("tagged = 10", "tagged = [10, 20]\n"))
    assert slip.machine
    assert slip.a_lacks + slip.b_lacks == (20,)


def test_a_machine_that_errs_stays_where_its_frames_go() -> None:
    """What a machine believes of its VLAN moves nobody: its frames are in that of the port."""
    text = (
        SWITCH.format("a")
        + PORT.format("1 .. 2", "vlan = 10")
        + '[[node]]\nid = "n"\nport = "a.1"\nvlan = 20\n'
    )
    plan = read(text + '[[node]]\nid = "m"\nport = "a.2"\n')
    _, ends = ends_of(plan)
    assert len(ends.slips) == 1
    assert ends.mended.at(plan.ports["n"][0]) == ends.mended.at(plan.ports["m"][0])


def test_a_management_port_has_no_vlan_of_its_switch() -> None:
    """What a switch says of its ports is not said of its own management, which is a machine like others."""
    text = SWITCH.format("a") + "vlan = 10\n" + PORT.format("m", 'for = "management"\nto = "b.1"')
    assert ends_of(read(text + SWITCH.format("b") + PORT.format("1", "vlan = 99")))[1].slips == {}


def test_a_bond_loses_what_one_of_its_cables_drops() -> None:
    """In a bond, a cable that lacks a VLAN is grave, though the other one carries it."""
    text = (
        SWITCH.format("a")
        + PORT.format("8", "tagged = 10")
        + PORT.format("9", "tagged = 10")
        + SWITCH.format("b")
    )
    text += PORT.format("8", "tagged = 10") + PORT.format("9", "") + "{}" + LINK.format("a.8", "b.8") + "{}"
    for bond, grave in (('bond = "t"\n', True), ("", False)):
        assert only(text.format("", "") + bond + LINK.format("a.9", "b.9") + bond).grave is grave


def test_an_uplink_of_which_nothing_is_said_fits() -> None:
    """What lies outside is taken to fit where the plan says nothing of it, and is held to its word where it does."""
    text = (
        SWITCH.format("a") + PORT.format("1", "tagged = [10, 20]") + '[[uplink]]\nfrom = "a.1"\nto = "x"\n{}'
    )
    assert ends_of(read(text.format("")))[1].slips == {}
    assert ends_of(read(text.format("tagged = [10, 20]\n")))[1].slips == {}
    assert only(text.format("tagged = [10, 20, 30]\n")).a_lacks == (30,)
    assert only(text.format("vlan = 10\n")).native == (1, 10)


def test_a_wrong_id_and_a_double_one_excuse_the_cable() -> None:
    """Where an id is none, or is said twice, that is the slip: the cable is mended, and nothing is said of it."""
    assert only(PAIR.format("tagged = [10, 4095]", "tagged = [10, 20]")).told
    assert only(PAIR.format("vlan = 10\ntagged = [10, 20]", "tagged = [10, 20]")).told


def test_a_switch_that_cannot_keep_vlans_muddles_its_segment() -> None:
    """Nothing can be said of the segment of a switch that is given VLANs and says that it knows none."""
    plan = read('[[switch]]\nid = "u"\nvlans = false\n' + PORT.format("1", "vlan = 10") + LINK.format("n", "u.1")
                + '[[node]]\nid = "n"\n')  # fmt: skip
    real, ends = ends_of(plan)
    assert ends.muddled == {real.at(plan.ports["n"][0])}


def test_what_is_carried_is_what_ports_and_uplinks_say() -> None:
    """A VLAN is carried where a port of a switch has it, without a tag or with one, or an uplink."""
    text = PAIR.format("tagged = [10, 20]", "vlan = 7\ntagged = [10, 20]") + PORT.format("9", "vlan = 30")
    text = text.replace('[[link]]\nfrom = "a.8"\nto = "b.8"\n', "")
    plan = read(text + '[[uplink]]\nfrom = "a.8"\nto = "x"\ntagged = 40\n')
    assert carried_ids(plan, ["a", "b"]) == {1, 7, 10, 20, 30, 40}


# --- where addresses stand --------------------------------------------------------------------------------------------

NODE = '[[node]]\nid = "{}"\naddress = "{}"\nport = "{}"\n'
NET = '[[subnet]]\nprefix = "{}"\nvlan = {}\n'
THREE = SWITCH.format("a") + PORT.format("1 .. 2", "vlan = 10") + PORT.format("3", "vlan = {}")
THREE += NODE.format("n1 .. n3", "10.0.10.1 .. 10.0.10.3", "a.1 .. a.3") + NET.format("10.0.10.0/24", "{}")


def blames(found: Placement) -> list[tuple[str, list[str], list[int], int]]:
    """Return of each misplaced group: whose slip, the things, the VLAN that is wanted and the one that is found."""
    return [(g.blame, [h.thing.id for h in g.hosts], g.wanted, g.found) for g in found.misplaced]


def test_whose_slip_it_is() -> None:
    """One port against two is the port's slip; all ports against the subnet is the subnet's."""
    assert blames(placed(THREE.format(10, 10))) == []
    assert blames(placed(THREE.format(20, 10))) == [("port", ["n3"], [10], 20)]
    assert blames(placed(THREE.format(10, 30))) == [("subnet", ["n1", "n2", "n3"], [30], 10)]


def test_ports_that_err_alike_and_do_not_meet_are_no_slip_of_the_subnet() -> None:
    """Two ports of two switches in a VLAN that nothing carries between them are two slips of ports."""
    text = (
        SWITCH.format("a")
        + PORT.format("1", "vlan = 11")
        + PORT.format("8", "tagged = 10")
        + SWITCH.format("b")
    )
    text += PORT.format("1", "vlan = 11") + PORT.format("8", "tagged = 10") + LINK.format("a.8", "b.8")
    text += (
        NODE.format("n", "10.0.10.1", "a.1")
        + NODE.format("m", "10.0.10.2", "b.1")
        + NET.format("10.0.10.0/24", 10)
    )
    assert blames(placed(text)) == [("port", ["n"], [10], 11), ("port", ["m"], [10], 11)]


def test_a_network_without_vlans_beside_is_no_wrong_one() -> None:
    """A machine in two networks has its address where others of the subnet are, and elsewhere where none is."""
    text = SWITCH.format("a") + PORT.format("1", "vlan = 10") + NET.format("10.0.30.0/24", 30) + PORT_OF_U
    text += '[[node]]\nid = "n"\naddress = "10.0.30.1"\n[[node.port]]\nid = "1"\nto = "a.1"\n'
    text += '[[node.port]]\nid = "2"\nto = "u.1"\n'
    assert blames(placed(text)) == [("subnet", ["n"], [30], 10)]
    assert blames(placed(text + NODE.format("m", "10.0.30.2", "u.2"))) == []


PORT_OF_U = '[[switch]]\nid = "u"\nvlans = false\nports = 4\n'


def test_another_address_vouches_for_the_port() -> None:
    """Where one address of a machine is right and the other is not, the port is not the slip."""
    text = SWITCH.format("a") + PORT.format("1 .. 2", "vlan = 10") + PORT.format("3", "vlan = 20")
    text += '[[node]]\nid = "n"\naddress = ["10.0.10.1", "10.0.20.1"]\nport = "a.1"\n' + NODE.format(
        "m", "10.0.20.2", "a.3"
    )
    text += NET.format("10.0.10.0/24", 10) + NET.format("10.0.20.0/24", 20)
    assert blames(placed(text)) == [("address", ["n"], [20], 10)]
    without = text.replace(NODE.format("m", "10.0.20.2", "a.3"), "")
    assert blames(placed(without)) == [("subnet", ["n"], [20], 10)]


def test_the_smaller_side_is_parted_and_the_cable_is_seen() -> None:
    """Where two switches have a VLAN and the cable between carries it at neither end, that cable is named."""
    text = SWITCH.format("a") + PORT.format("1 .. 2", "vlan = 10") + PORT.format("8", "tagged = {0}")
    text += (
        SWITCH.format("b")
        + PORT.format("1", "vlan = 10")
        + PORT.format("8", "tagged = {0}")
        + LINK.format("a.8", "b.8")
    )
    text += NODE.format("n1 .. n2", "10.0.10.1 .. 10.0.10.2", "a.1 .. a.2") + NODE.format(
        "n3", "10.0.10.3", "b.1"
    )
    text += NET.format("10.0.10.0/24", 10)
    assert placed(text.format("[10, 20]")).sides == []
    (side,) = placed(text.format("20")).sides
    assert [host.thing.id for host in side.hosts] == ["n3"]
    assert str(side.gap) == "a.8 to b.8"


def test_a_machine_that_tags_is_parted_like_others() -> None:
    """Where the subnet says its VLAN, a tag is no excuse: who cannot meet the others is parted."""
    text = SWITCH.format("a") + PORT.format("1 .. 2", "vlan = 10") + PORT.format("8", "tagged = 20")
    text += (
        SWITCH.format("b")
        + PORT.format("1", "tagged = 10")
        + PORT.format("8", "tagged = 20")
        + LINK.format("a.8", "b.8")
    )
    text += NODE.format("n1 .. n2", "10.0.10.1 .. 10.0.10.2", "a.1 .. a.2")
    found = placed(
        text + NODE.format("s", "10.0.10.3", "b.1") + "tagged = 10\n" + NET.format("10.0.10.0/24", 10)
    )
    assert [[host.thing.id for host in side.hosts] for side in found.sides] == [["s"]]
    assert found.untold == []


def test_things_without_a_cable_between_them_are_left_to_others() -> None:
    """Two halves that no cable joins are not parted by VLANs."""
    text = (
        SWITCH.format("a")
        + PORT.format("1", "vlan = 10")
        + SWITCH.format("b")
        + PORT.format("1", "vlan = 10")
    )
    text += (
        NODE.format("n1", "10.0.10.1", "a.1")
        + NODE.format("n2", "10.0.10.2", "b.1")
        + NET.format("10.0.10.0/24", 10)
    )
    assert placed(text).sides == []


@pytest.mark.parametrize(
    ("ids", "text"),
    [([20], "20"), ([10, 20], "[10, 20]"), ([10, 11], "[10, 11]"), ([10, 11, 12], '"10 .. 12"')],
)
def test_tags_as_they_are_written(ids: Iterable[int], text: str) -> None:
    """What is offered for `tagged` is read again as the same ids."""
    value = tags_value(list(ids))
    assert tags_text(list(ids)) == text
    plan = read('[[node]]\nid = "n"\ntagged = ' + text + "\n")
    assert plan.table("node")[0].tagged == tuple(ids)
    assert value == (tuple(ids) if text.startswith("[") else text.strip('"') if '"' in text else int(text))


def test_ids_in_words() -> None:
    """Ids are listed in their order, each once, runs as spans."""
    assert vlans_text([30, 10, 20]) == "10, 20 and 30"
    assert vlans_text(range(10, 15)) == "10 .. 14"
    assert with_tags((30, 10), [20, 10]) == (10, 20, 30)

"""Rules on topology, throughput and MTU where cases cannot tell: how many findings one slip makes, how they read."""

from __future__ import annotations

import datetime

import pytest

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import judge
from coldcheck.plan.parts import Shelf

SWITCH = '[[switch]]\nid = "{}"\n{}[[switch.port]]\nid = "1 .. 48"\nspeed = "1 Gbit/s"\n{}'
LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
THING = '[[{}]]\nid = "{}"\n[[{}.port]]\nid = "eth"\nspeed = "1 Gbit/s"\nto = "{}"\n'
FLOW = '[[flow]]\nfrom = "{}"\nto = "{}"\nspeed = "{}"\n'
OFF, ON = "spanning_tree = false\n", "spanning_tree = true\n"
FILES = ("topology.", "throughput.", "mtu.")


def found(text: str, *rules: str) -> list[Finding]:
    """Return what the rules of the three files say, or only some rules, folded as a lint shows it."""
    book = ours.rulebook(entry_points=False)
    plan = ours.read_plan("plan.toml", text.encode(), Shelf())
    told = judge(plan, book, datetime.date(2026, 1, 1)).findings
    assert not [f for f in told if f.rule.startswith("engine.")]
    return [f for f in told if f.rule.startswith(rules or FILES)]


def names(findings: list[Finding]) -> list[tuple[str, str, str]]:
    """Return the rule, the kind and the level of each."""
    return sorted((f.rule, f.kind, str(f.level or f.leaves)) for f in findings)


def machine(name: str, port: str, table: str = "node") -> str:
    """Return a thing, or a span of them, with one cable each."""
    return THING.format(table, name, table, port)


STAR = SWITCH.format("a", OFF, "") + machine("n1 .. n40", "a.1 .. a.40") + machine("store", "a.48", "storage")
HEAD = "[plan]\nredundant = false\n"


# --- loops -----------------------------------------------------------------------------------------------------------


def test_a_loop_is_told_once_and_nothing_else_follows_from_it() -> None:
    """Flows and shares over a loop that nothing breaks wait until it is gone; so do those over one that is open."""
    ask = '[plan]\nredundant = false\nshare = "1 Mbit/s"\n'
    for word, kind in ((OFF, "fail"), ("", "open")):
        text = ask + SWITCH.format("a", word, "") + SWITCH.format("b", word, "")
        text += "".join(LINK.format(f"a.{p}", f"b.{p}") for p in (47, 48)) + machine("n1 .. n3", "a.1 .. a.3")
        text += machine("store", "b.1", "storage") + FLOW.format("store", "n1", "100 Mbit/s")
        assert names(found(text)) == [("topology.loop", kind, "error")]
        assert names(found(text.replace(word, ON + "priority = 4096\n", 1) if word else text.replace(
            'id = "a"\n', 'id = "a"\nspanning_tree = true\npriority = 4096\n').replace(
            'id = "b"\n', 'id = "b"\nspanning_tree = true\n'))) == []  # fmt: skip


def test_a_flow_over_an_open_loop_waits_though_another_loop_is_undecided() -> None:
    """Which switch becomes the root elsewhere is no matter of a flow whose own loop is told already."""
    text = HEAD + "".join(SWITCH.format(s, w, "") for s, w in (("a", OFF), ("b", OFF), ("c", ON), ("d", ON)))
    text += "".join(
        LINK.format(f"{x}.{p}", f"{y}.{p + 2}")
        for x, y in ("ab", "bc", "cd")
        for p in (1, 2)
        if x + y != "bc" or p == 1
    )
    text = text.replace('from = "b.1"', 'from = "b.9"').replace('to = "c.3"', 'to = "c.9"')
    text += machine("n1", "a.11") + machine("n2", "b.11") + machine("n3", "d.11")
    told = [("topology.loop", "fail", "error"), ("topology.root", "fail", "note")]
    assert names(found(text + FLOW.format("n1", "n2", "1 Mbit/s"))) == told
    assert names(found(text + FLOW.format("n2", "n3", "1 Mbit/s"))) == [
        ("throughput.no_way", "open", "error"),
        *told,
    ]


def test_the_remedy_for_a_port_that_hides_a_loop() -> None:
    """Where the spanning tree runs, the port that takes no part is named and not the tree."""
    text = (
        HEAD
        + SWITCH.format("a", ON, '[[switch.port]]\nid = "49"\nspanning_tree = false\n')
        + SWITCH.format("b", ON, "")
    )
    (finding,) = found(text + LINK.format("a.49", "b.1") + LINK.format("a.2", "b.2"), "topology.loop")
    assert finding.remedy == "unplug one, or let a.49 take part: spanning_tree = true"
    assert finding.level == "error"
    assert "a.49 to b.1" in finding.says


def test_a_loop_says_what_is_tangled_up_with_it() -> None:
    """Three cables side by side are a loop of two and one more; a bond is offered for two switches only."""
    two = HEAD + SWITCH.format("a", OFF, "") + SWITCH.format("b", OFF, "")
    (finding,) = found(two + "".join(LINK.format(f"a.{p}", f"b.{p}") for p in (1, 2, 3)))
    assert finding.because == "1 more cables are tangled up with it"
    assert "bond" in finding.remedy
    three = (
        two
        + SWITCH.format("c", OFF, "")
        + LINK.format("a.1", "b.1")
        + LINK.format("b.2", "c.2")
        + LINK.format("c.1", "a.2")
    )
    (finding,) = found(three)
    assert "bond" not in finding.remedy
    assert finding.says.startswith("3 cables between a, b and c form a loop: ")


def test_a_spanning_tree_without_a_root_is_a_note_and_open_where_it_decides() -> None:
    """Which switch becomes the root is a note; a flow that depends on it is open and names what is missing."""
    text = (
        HEAD
        + SWITCH.format("a", ON, "")
        + SWITCH.format("b", ON, "")
        + LINK.format("a.1", "b.1")
        + LINK.format("a.2", "b.2")
    )
    assert names(found(text)) == [("topology.root", "fail", "note")]
    text += machine("n1", "a.3") + machine("n2", "b.3") + FLOW.format("n1", "n2", "1 Mbit/s")
    assert names(found(text)) == [("throughput.no_way", "open", "error"), ("topology.root", "fail", "note")]
    (finding,) = found(text, "throughput.no_way")
    assert list(finding.missing) == ["a priority", "b priority"]


def test_a_row_counts_switches_that_run_a_spanning_tree_with_their_timers() -> None:
    """Switches that pass its words on make them no older; longer timers allow more of them, shorter fewer."""

    def chain(words: list[str]) -> str:
        text = HEAD + "".join(SWITCH.format(f"s{i}", w, "") for i, w in enumerate(words))
        return text + "".join(LINK.format(f"s{i}.1", f"s{i + 1}.2") for i in range(len(words) - 1))

    assert names(found(chain([ON] * 7 + [OFF] * 3))) == []
    assert names(found(chain([ON] * 8 + [OFF] * 3))) == [("topology.in_a_row", "fail", "warning")]
    branch = SWITCH.format("x", ON, "") + LINK.format(
        "x.1", "s1.3"
    )  # eight run it, no more than seven in a row
    assert names(found(chain([ON] * 7 + [OFF] * 3) + branch)) == []
    # max_age = 4 hello + 2 d - 2: 22 s is for 8, 24 s for 9
    assert names(found(chain([ON + 'max_age = "22 s"\n'] + [ON] * 7))) == []
    (finding,) = found(chain([ON + 'max_age = "22 s"\n'] + [ON] * 8))
    assert (finding.found, finding.allowed) == ("9", "8")
    (finding,) = found(chain([ON + 'hello = "4 s"\nmax_age = "20 s"\n'] * 4))
    assert (finding.found, finding.allowed) == ("4", "3")
    # two that run it, in a part of their own
    beside = SWITCH.format("x", ON, "") + SWITCH.format("y", ON, "") + LINK.format("x.1", "y.1")
    assert names(found(chain([OFF] * 9) + beside, "topology.in_a_row")) == []


# --- cut off, and what fails with what -------------------------------------------------------------------------------


def test_a_network_of_its_own_is_no_island() -> None:
    """Storage behind second ports of boards, and a part with an uplink of its own, are silent; a lost cable is not."""
    text = (
        HEAD + SWITCH.format("a", OFF, "") + SWITCH.format("b", OFF, "") + machine("k1 .. k5", "a.11 .. a.15")
    )
    own = text + machine("store", "b.9", "storage") + "".join(
        machine(f"n{i}", f"a.{i}") + f'[[node.port]]\nid = "two"\nto = "b.{i}"\n' for i in (1, 2))  # fmt: skip
    assert names(found(own)) == []
    out = text + machine("cam1 .. cam3", "b.1 .. b.3", "appliance")
    ways = "".join(
        f'[[uplink]]\nfrom = "{s}.48"\nto = "{to}"\n' for s, to in (("a", "valley"), ("b", "hill"))
    )
    assert names(found(out + ways)) == []
    (finding,) = found(out)
    assert (finding.rule, finding.level) == ("topology.cut_off", "warning")
    assert finding.says == "no cable leads from b and cam1 .. cam3 to the rest"
    assert finding.remedy == 'join them: [[link]] from = "b.48", to = "a.48"'


def test_a_forgotten_cable_is_told_once() -> None:
    """Flows and shares across a gap wait for its cable; a flow without a way on one side of it is told all the same."""
    text = ask("1 Mbit/s") + SWITCH.format("a", OFF, "") + SWITCH.format("b", OFF, "")
    text += (
        '[[switch.port]]\nid = "50"\nvlan = 20\n'
        + machine("n1 .. n3", "a.1 .. a.3")
        + machine("m1 .. m2", "b.1 .. b.2")
    )
    text += machine("store", "b.3", "storage") + machine("x", "b.50")
    assert names(found(text + FLOW.format("store", "n1", "1 Mbit/s"))) == [
        ("topology.cut_off", "fail", "warning")
    ]
    told = names(found(text + FLOW.format("m1", "x", "1 Mbit/s")))
    assert told == [("throughput.no_way", "fail", "error"), ("topology.cut_off", "fail", "warning")]


def test_a_flow_into_a_network_of_its_own_has_no_way() -> None:
    """Where two parts are apart on purpose, no other rule speaks of the cable that a flow between them would need."""
    text = HEAD + SWITCH.format("a", OFF, "") + SWITCH.format("b", OFF, "")
    for s, net in (("a", 1), ("b", 2)):
        text += "".join(machine(f"{s}{i}", f"{s}.{i}") + f'address = "10.0.{net}.{i}"\n' for i in (1, 2))
        text += f'[[subnet]]\nprefix = "10.0.{net}.0/24"\n'
    assert names(found(text)) == []
    assert names(found(text + FLOW.format("a1", "b1", "1 Mbit/s"))) == [
        ("throughput.no_way", "fail", "error")
    ]


def test_a_single_point_reads_well_for_many() -> None:
    """Forty boards are named as a span, once for all that they lose, and the note goes where it is by design."""
    text = STAR + '[[uplink]]\nfrom = "a.47"\nto = "valley"\n'
    assert found(text) == []  # what a single switch means everyone sees
    (finding,) = found(text + SWITCH.format("b", OFF, "") + '[[link]]\nfrom = "a.46"\nto = "b.1"\n')
    assert (finding.says, finding.level) == ("n1 .. n40 would lose store and valley if a fails", "note")
    assert names(found(HEAD + text)) == []
    assert (
        names(found(STAR.replace("n1 .. n40", "n1").replace("a.1 .. a.40", "a.1"))) == []
    )  # one board alone
    must = found("[plan]\nredundant = true\n" + text)
    assert sorted(f.says for f in must) == sorted([
        "n1 .. n40 would lose store and valley if a fails",
        "n1 .. n40 would lose store if the link from store.eth to a.48 fails",
        "n1 .. n40 would lose valley if the link from a.47 to valley fails",
    ])  # fmt: skip
    assert {f.level for f in must} == {"error"}


# --- flows -----------------------------------------------------------------------------------------------------------


def test_a_flow_too_fast_for_all_its_cables_is_one_finding() -> None:
    """The same flow over three cables that are too slow is told at the narrowest, with the others beside it."""
    text = HEAD + SWITCH.format("a", OFF, "") + SWITCH.format("b", OFF, "") + LINK.format("a.48", "b.48")
    text += (
        machine("n1 .. n3", "b.1 .. b.3")
        + machine("store", "a.1", "storage")
        + FLOW.format("store", "n1", "950 Mbit/s")
    )
    (finding,) = found(text)
    assert (finding.rule, finding.level) == ("throughput.flow", "error")
    assert "must carry 1.001 Gbit/s one way; it has 1 Gbit/s" in finding.says
    assert len(finding.related) == 3
    slow = text.replace('speed = "1 Gbit/s"\nto = "a.1"', 'speed = "100 Mbit/s"\nto = "a.1"')
    (finding,) = found(slow, "throughput.flow")
    assert finding.says.startswith("the link of store must carry 1.001 Gbit/s")
    both = found(text + FLOW.format("store", "n2", "10 Mbit/s"), "throughput.flow")
    assert sorted(len(f.because.split(" and ")) for f in both) == [1, 2]


def test_many_flows_are_one_finding() -> None:
    """Forty flows that are each too fast fold into one finding for their cables, and one for that of the storage."""
    both = found(HEAD + STAR + FLOW.format("store", "n1 .. n40", "950 Mbit/s"))
    assert names(both) == [("throughput.flow", "fail", "error")] * 2
    assert sorted(f.says for f in both) == [
        "the link of n1 .. n40 must carry 1.001 Gbit/s one way; it has 1 Gbit/s",
        "the link of store must carry 40.03 Gbit/s one way; it has 1 Gbit/s",
    ]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (FLOW.format("n1", "n1", "1 Mbit/s"), "the flow from n1 to n1 has one end only"),
        ('[[outside]]\nid = "hill"\n' + FLOW.format("n1", "hill", "1 Mbit/s"), "no uplink goes to hill"),
        ('[[storage]]\nid = "s2"\n' + FLOW.format("s2", "n1", "1 Mbit/s"), "s2 is without a data cable"),
    ],
)
def test_flows_that_cannot_be(more: str, says: str) -> None:
    """What has no second end, no uplink or no cable is said as such, and once."""
    (finding,) = found(HEAD + STAR + more)
    assert (finding.rule, finding.level) == ("throughput.no_way", "error")
    assert says in finding.says


def test_a_vlan_whose_only_link_is_blocked() -> None:
    """Two cables for two VLANs are a loop to one spanning tree: the VLAN of the blocked one is cut, a warning."""
    text = HEAD
    for s, first in (("a", "priority = 4096\n"), ("b", "")):
        text += f'[[switch]]\nid = "{s}"\n{ON}{first}'
        text += "".join(
            f'[[switch.port]]\nid = "{p}"\nspeed = "1 Gbit/s"\nvlan = {10 * v}\n'
            for p, v in enumerate((1, 2, 1, 2))
        )
    text += LINK.format("a.2", "b.2") + LINK.format("a.3", "b.3")
    text += machine("n1", "a.0") + machine("n2", "a.1") + machine("m1", "b.0") + machine("m2", "b.1")
    for flow in ("", FLOW.format("n1", "m1", "1 Mbit/s"), FLOW.format("n2", "m2", "1 Mbit/s")):
        (finding,) = found(text + flow)
        assert (finding.rule, finding.level) == ("topology.blocked", "warning")
        assert "a.3 to b.3, and no other way carries VLAN 20" in finding.says


def test_flows_of_what_others_speak_of() -> None:
    """`ports.no_link` speaks of a board without a cable, `references.unknown` of an unknown name: no flow rule does."""
    assert names(found(HEAD + STAR + '[[node]]\nid = "x"\n' + FLOW.format("x", "n1", "1 Mbit/s"))) == []
    assert names(found(HEAD + STAR + FLOW.format("nobody", "n1", "1 Mbit/s"))) == []
    ask = '[plan]\nredundant = false\nshare = "1 Mbit/s"\n'
    assert names(found(ask + STAR + '[[node]]\nid = "x"\n')) == []


def test_a_node_that_reads_no_storage_misses_its_share() -> None:
    """With a share asked for, a node in another VLAN without a router is an error; without one asked it is not."""
    text = SWITCH.format("a", OFF, "").replace('speed = "1 Gbit/s"\n', 'speed = "1 Gbit/s"\nvlan = 10\n')
    text += '[[switch.port]]\nid = "50"\nspeed = "1 Gbit/s"\nvlan = 20\n'
    text += machine("store", "a.48", "storage") + machine("n1", "a.1") + machine("n2", "a.50")
    (finding,) = found('[plan]\nredundant = false\nshare = "1 Mbit/s"\n' + text)
    assert (finding.rule, finding.level, finding.subjects) == ("throughput.no_way", "error", ("n2",))
    assert names(found(HEAD + text)) == []


def test_a_speed_that_is_missing_is_named_where_it_is_missing() -> None:
    """Of a cable with one known end, the other is asked for; of an uplink its speed; what does not come up, nothing."""
    dark = '[[node]]\nid = "x"\n[[node.port]]\nid = "eth"\nto = "a.41"\n' + FLOW.format(
        "store", "x", "1 Mbit/s"
    )
    (finding,) = found(HEAD + STAR + dark)
    assert (finding.rule, finding.kind, list(finding.missing)) == ("throughput.flow", "open", ["x.eth speed"])
    up = '[[outside]]\nid = "hill"\n[[uplink]]\nfrom = "a.47"\nto = "hill"\n' + FLOW.format(
        "n1", "hill", "1 Mbit/s"
    )
    (finding,) = found(HEAD + STAR + up)
    assert list(finding.missing) == ["a.47 to hill: speed of the uplink"]
    never = dark.replace('id = "eth"\n', 'id = "eth"\nspeed = "10 Gbit/s"\nspeeds = ["10 Gbit/s"]\n')
    assert names(found(HEAD + STAR + never, "throughput.flow")) == []


def test_two_bonds_on_one_way_are_one_finding() -> None:
    """A connection too fast for one cable of either bond is told once, at the narrower one."""
    text = HEAD + "".join(SWITCH.format(s, OFF + "bonds = true\n", "") for s in "ab")
    text += "".join(LINK.format(f"a.{p}", f"b.{p}") + 'bond = "t"\n' for p in (46, 47, 48))
    text += '[[storage]]\nid = "store"\nbond = "s"\n'
    text += '[[storage.port]]\nid = "1 .. 2"\nspeed = "1 Gbit/s"\nto = "a.1 .. a.2"\n'
    text += '[[node]]\nid = "n1"\nbond = "n"\n[[node.port]]\nid = "1 .. 2"\nspeed = "1 Gbit/s"\nto = "b.1 .. b.2"\n'
    (finding,) = found(text + FLOW.format("store", "n1", "1.2 Gbit/s"))
    assert (finding.rule, str(finding.allowed)) == ("throughput.one_cable", "1 Gbit/s")
    assert names(found(text + FLOW.format("store", "n1", "1.2 Gbit/s") + "one = false\n")) == []
    assert names(found(text + FLOW.format("store", "n1", "2 Gbit/s"))) == [
        ("throughput.flow", "fail", "error")
    ]


def test_of_two_bonds_the_narrower_is_told() -> None:
    """2.95 Gbit/s are too much for one of 2.5 and for one of 1 Gbit/s: the second is what limits the connection."""
    port = '[[switch.port]]\nid = "{}"\nspeed = "{} Gbit/s"\n'
    text = HEAD + "".join(
        f'[[switch]]\nid = "{s}"\nbonds = true\n' + port.format("1 .. 2", 2.5) + port.format("6 .. 8", 1)
        for s in "ab"
    )
    text += "".join(LINK.format(f"a.{p}", f"b.{p}") + 'bond = "t"\n' for p in (6, 7, 8))
    for table, name, to in (("storage", "store", "a"), ("node", "n1", "b")):
        text += (
            f'[[{table}]]\nid = "{name}"\nbond = "s"\n[[{table}.port]]\nid = "1 .. 2"\nspeed = "2.5 Gbit/s"\n'
        )
        text += f'to = "{to}.1 .. {to}.2"\n'
    (finding,) = found(text + FLOW.format("store", "n1", "2.8 Gbit/s"))
    assert (finding.rule, str(finding.allowed)) == ("throughput.one_cable", "1 Gbit/s")


# --- shares ----------------------------------------------------------------------------------------------------------


def ask(share: str) -> str:
    """Return the head of a plan that asks for a share."""
    return f'[plan]\nredundant = false\nshare = "{share}"\n'


def test_a_share_with_long_packets() -> None:
    """With an MTU of 9000 everywhere 8960 of 9038 octets are carried (computed from the layout of IEEE 802.3)."""
    text = (
        SWITCH.format("a", OFF + "frame = 9216\n", "")
        + machine("n1", "a.1")
        + machine("store", "a.48", "storage")
    )
    long = text.replace('id = "n1"\n', 'id = "n1"\nmtu = 9000\n')
    long = long.replace('speed = "1 Gbit/s"\nto = "a.48"', 'speed = "1 Gbit/s"\nmtu = 9000\nto = "a.48"')
    assert names(found(ask("991.3 Mbit/s") + long)) == []
    assert names(found(ask("991.4 Mbit/s") + long)) == [("throughput.share", "fail", "error")]
    assert names(found(ask("949.4 Mbit/s") + text)) == [("throughput.share", "fail", "error")]


def test_a_share_that_depends_on_the_way_is_open() -> None:
    """Less than either way gives is an error, what one way gives is clean, and what lies between is open."""
    text = SWITCH.format("a", OFF, "") + SWITCH.format("b", OFF, "") + LINK.format("a.48", "b.48")
    text += "".join(
        machine(f"n{i}", f"a.{i}") + f'[[node.port]]\nid = "two"\nspeed = "1 Gbit/s"\nto = "b.{i}"\n'
        for i in (1, 2)
    )
    text += (
        machine("store", "a.47", "storage")
        + '[[storage.port]]\nid = "two"\nspeed = "1 Gbit/s"\nto = "b.47"\n'
    )
    assert names(found(ask("949 Mbit/s") + text)) == []
    assert names(found(ask("1 Gbit/s") + text)) == [("throughput.share", "fail", "error")]
    tree = (
        SWITCH.format("a", ON, "")
        + SWITCH.format("b", ON, "")
        + LINK.format("a.45", "b.45")
        + LINK.format("a.46", "b.46")
    )
    tree += machine("n1 .. n2", "b.1 .. b.2") + machine("store", "a.47", "storage")
    (finding,) = found(ask("100 Mbit/s") + tree, "throughput.")
    assert (finding.kind, list(finding.missing)) == ("open", ["a priority", "b priority"])


def test_a_fabric_with_a_speed_missing_is_open() -> None:
    """A cable with one known end brings no more than that; open is what is too much at most and fits at least."""
    text = (
        HEAD
        + STAR.replace(OFF, OFF + 'fabric = "{}"\n')
        + '[[node]]\nid = "x"\n[[node.port]]\nid = "eth"\nto = "a.41"\n'
    )
    assert names(found(text.format("84 Gbit/s"))) == []
    (finding,) = found(text.format("83.9 Gbit/s"))
    assert (finding.kind, list(finding.missing)) == ("open", ["x.eth speed"])
    assert names(found(text.format("81 Gbit/s"))) == [("throughput.fabric", "fail", "note")]
    dark = (
        text.format("84 Gbit/s")
        .replace('"a.41"', '"a.49"')
        .replace("[[node]]", '[[switch.port]]\nid = "49"\n[[node]]', 1)
    )
    (finding,) = found(dark)
    assert list(finding.missing) == ["x.eth speed", "a.49 speed"]
    bmc = '[[node]]\nid = "y"\n[[node.port]]\nid = "eth"\nspeed = "1 Gbit/s"\nto = "a.mgmt"\n'
    full = HEAD + STAR.replace(OFF, OFF + 'fabric = "82 Gbit/s"\n')
    full = full.replace(
        "[[node]]", '[[switch.port]]\nid = "mgmt"\nfor = "management"\nspeed = "1 Gbit/s"\n[[node]]', 1
    )
    assert names(found(full + bmc, "throughput.")) == []


# --- MTU -------------------------------------------------------------------------------------------------------------

TAGS = '[[switch]]\nid = "{}"\nspanning_tree = false\n{}[[switch.port]]\nid = "1 .. 48"\ntagged = [10, 20]\n'
MANY = '[[node]]\nid = "{}"\ntagged = [10, 20]\n{}port = "{}"\n'


def test_one_mtu_that_differs_is_one_finding_in_however_many_vlans() -> None:
    """Three boards without long packets on three networks with twenty others are told once, the switch not at all."""
    text = HEAD + TAGS.format("a", "frame = 9216\n") + MANY.format("n1 .. n20", "mtu = 9000\n", "a.1 .. a.20")
    text += MANY.format("m1 .. m3", "", "a.21 .. a.23")
    (finding,) = found(text)
    assert (finding.rule, finding.level) == ("mtu.differs", "error")
    assert finding.says == "m1 .. m3 on one network with n1 .. n20: an MTU of 1500, beside 9000"
    assert (str(finding.found), str(finding.allowed)) == ("1500 octets", "9000 octets")
    # one that alone sends long packets by mistake is no matter of the switch
    (finding,) = found(HEAD + TAGS.format("a", "") + MANY.format("n1 .. n20", "", "a.1 .. a.20")
                       + MANY.format("m1", "mtu = 9000\n", "a.21"))  # fmt: skip
    assert (finding.rule, finding.subjects) == ("mtu.differs", ("m1",))


def test_a_switch_is_told_once_by_the_longest_frame() -> None:
    """Without a tag and with two VLANs' tags a switch has one limit: the finding has the frame with a tag."""
    text = HEAD + TAGS.format("a", "frame = 9000\n") + MANY.format("n1 .. n3", "mtu = 9000\n", "a.1 .. a.3")
    (finding,) = found(text)
    assert (finding.rule, str(finding.found)) == ("mtu.switch_frame", "9022 octets")
    assert finding.remedy.startswith("mtu = 8978 at most")
    assert names(found(text.replace("frame = 9000", "frame = 9022"))) == []


def test_an_uplink_with_an_mtu_of_its_own() -> None:
    """What an uplink states is held against the machines on its network, and told at the uplink."""
    text = HEAD + STAR + '[[uplink]]\nfrom = "a.47"\nto = "valley"\nmtu = 1492\n'
    (finding,) = found(text)
    assert (finding.rule, finding.subjects) == ("mtu.differs", ("valley",))
    assert finding.path == ("uplink", 0, "mtu")
    port = HEAD + STAR.replace('to = "a.48"', 'mtu = 9000\nto = "a.48"')
    (finding,) = found(port)
    assert (finding.subjects, finding.path) == (("store",), ("storage", 0, "port", 0, "mtu"))


def test_an_mtu_too_small_for_its_family_where_a_port_states_it() -> None:
    """1280 octets are the least for IPv6, 68 for IPv4 (RFC 8200, RFC 791), whoever has the address and the MTU."""
    text = HEAD + SWITCH.format("a", OFF, "")
    port = '[[node]]\nid = "n1"\n{}[[node.port]]\nid = "eth"\nspeed = "1 Gbit/s"\nmtu = {}\nto = "a.1"\n{}'
    six = 'address = "fd2a:91c4:7b3e::1/64"\n'
    for words in ((six, 1279, ""), ("", 1279, six)):
        (finding,) = found(text + port.format(*words))
        assert (finding.rule, str(finding.allowed)) == ("mtu.too_small", "1280 octets")
    assert names(found(text + port.format(six, 1280, ""))) == []
    assert names(found(text + port.format('address = ["10.0.0.1/24"]\n', 1279, ""))) == []

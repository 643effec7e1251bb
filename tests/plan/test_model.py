"""Linking: references of every kind, what cannot be resolved, and what comes before what."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.plan.linking import link
from coldcheck.plan.model import Fault, Plan
from coldcheck.plan.parts import Shelf
from coldcheck.plan.reading import read_tables


def plan(text: str) -> Plan:
    """Return a plan, read and linked."""
    return link(read_tables("plan.toml", text.encode(), Shelf()))


def fault(text: str) -> Fault:
    """Return the one fault of a plan."""
    (found,) = plan(text).faults
    return found


def sources(text: str, thing: str) -> list[tuple[str, str | None]]:
    """Return the inlets of a thing with what feeds them; the plan has no fault."""
    linked = plan(text)
    assert linked.faults == []
    inlets = linked.things[thing].inlets
    return [(i.id, i.source.name if i.source else None) for i in inlets]


FIVE = '[[feed]]\nid = "brick"\nvolts = "5 V"\n'
BOX = """
[[supply]]
id = "box"
from = "brick"
[[supply.rail]]
id = "5v"
volts = "5 V"
[[supply.rail]]
id = "12v"
volts = "12 V"
"""
TWO = """
[[node.inlet]]
id = "usb"
volts = "4.5 V .. 5.5 V"
[[node.inlet]]
id = "jack"
volts = "9 V .. 15 V"
"""

# --- power ---------------------------------------------------------------------------------------------------------


def test_a_thing_is_fed_by_a_feed_a_rail_or_an_outlet() -> None:
    """A reference names a thing with one outlet, or one of its outlets."""
    text = FIVE + BOX + '[[feed]]\nid = "hub"\n[[feed.outlet]]\nid = "a"\n[[feed.outlet]]\nid = "b"\n'
    for ref in ("brick", "box.5v", "hub.b"):
        assert sources(text + f'[[node]]\nid = "n"\nfrom = "{ref}"\n', "n") == [("", ref)]


def test_an_outlet_knows_its_takers() -> None:
    """Each outlet lists the inlets it feeds, in the order of the plan."""
    linked = plan(FIVE + '[[node]]\nid = "n1 .. n3"\nfrom = "brick"\n')
    outlet = linked.things["brick"].outlets[0]
    assert [i.name for i in outlet.takers] == ["n1", "n2", "n3"]
    assert (outlet.name, outlet.noun, str(outlet)) == ("brick", "feed", "brick")


def test_things_hand_power_on() -> None:
    """What is in line, and a thing with an outlet, feeds what is behind it from its own inlet."""
    text = FIVE + (
        '[[inline]]\nid = "cut"\nfrom = "brick"\n[[node]]\nid = "n"\nfrom = "cut"\n'
        '[[node.outlet]]\nid = "usb"\nkind = "pass-through"\n[[fan]]\nid = "f"\nfrom = "n.usb"\n'
    )
    assert sources(text, "f") == [("", "n.usb")]
    linked = plan(text)
    assert linked.things["n"].outlets[0].via is linked.things["n"].inlets[0]
    assert linked.things["cut"].outlets[0].via is linked.things["cut"].inlets[0]


def test_several_sources_go_to_the_inlets_they_fit() -> None:
    """Where the volts say which inlet takes which rail, the order in the plan does not matter."""
    for order in ('["box.5v", "box.12v"]', '["box.12v", "box.5v"]'):
        text = FIVE + BOX + f'[[node]]\nid = "n"\nfrom = {order}\n' + TWO
        assert sources(text, "n") == [("usb", "box.5v"), ("jack", "box.12v")]


def test_sources_that_fit_nowhere_stay_in_order() -> None:
    """Volts that fit no inlet change nothing: a wrong rail is judged by the rules, not moved about."""
    text = (
        FIVE
        + BOX
        + '[[node]]\nid = "n"\nfrom = ["box.12v", "brick"]\n'
        + TWO.replace("9 V .. 15 V", "20 V .. 30 V")
    )
    assert sources(text, "n") == [("usb", "box.12v"), ("jack", "brick")]


def test_into_names_the_inlet() -> None:
    """`into` says which inlets are used, in the order of `from`; volts do not overrule it."""
    start = FIVE + BOX + '[[node]]\nid = "n"\nuse = "one"\n'
    assert sources(start + 'from = "box.5v"\ninto = "jack"\n' + TWO, "n") == [("jack", "box.5v")]
    both = start + 'from = ["box.5v", "box.12v"]\ninto = ["jack", "usb"]\n' + TWO
    assert sources(both, "n") == [("jack", "box.5v"), ("usb", "box.12v")]


def test_an_inlet_may_say_itself_what_feeds_it() -> None:
    """`from` in an inlet needs no `from` of the thing; inlets that name nothing are not in use."""
    text = (
        FIVE + '[[node]]\nid = "n"\nuse = "one"\n' + TWO.replace('id = "jack"', 'id = "jack"\nfrom = "brick"')
    )
    assert sources(text, "n") == [("jack", "brick")]


def test_which_inlet() -> None:
    """A thing that uses one of several inlets must say which."""
    found = fault(FIVE + '[[node]]\nid = "n"\nfrom = "brick"\nuse = "one"\n' + TWO)
    assert (found.rule, found.path) == ("references.which_inlet", ("node", 0, "from"))
    assert found.remedy == 'add into = "usb" (usb, jack)'


def test_leads_go_with_the_inlets() -> None:
    """One lead serves all inlets, several go in order, and an inlet's own lead counts first."""
    text = FIVE + '[[node]]\nid = "n"\nfrom = ["brick", "brick"]\nlead = {}\n' + TWO

    def lengths(lead: str, own: str = "") -> list[float]:
        linked = plan(text.format(lead).replace('id = "jack"', f'id = "jack"\n{own}'))
        return [i.lead.length for i in linked.things["n"].inlets]

    assert lengths('"1 m"') == [1.0, 1.0]
    assert lengths('["1 m", "2 m"]') == [1.0, 2.0]
    assert lengths('"1 m"', 'lead = "3 m"') == [1.0, 3.0]


def test_an_inlet_takes_over_what_its_thing_says() -> None:
    """The draw of a thing belongs to its one inlet; of several inlets each has its own."""
    one = (
        FIVE
        + '[[node]]\nid = "n"\nfrom = "brick"\npeak = "2 A"\nplug = "usb-c"\n[[node.inlet]]\nid = "usb"\n'
    )
    spec = plan(one).things["n"].inlets[0].spec
    assert (spec.peak.value, spec.plug) == (2.0, "usb-c")
    two = plan(one + '[[node.inlet]]\nid = "b"\nplug = "other"\n').things["n"].inlets
    assert [(i.spec.peak, i.spec.plug) for i in two] == [(None, "usb-c"), (None, "other")]


@pytest.mark.parametrize(
    ("text", "rule", "path", "says", "remedy"),
    [
        (
            '[[node]]\nid = "n"\nfrom = "brik"',
            "references.unknown",
            ("node", 0, "from"),
            "nothing is called brik",
            '"brick"?',
        ),
        (
            '[[node]]\nid = "n"\nfrom = "zzzz.a"',
            "references.unknown",
            ("node", 0, "from"),
            "zzzz.a: nothing is called zzzz",
            "name a thing of this plan",
        ),
        (
            '[[node]]\nid = "n"\nfrom = "brick.usb"',
            "references.unknown",
            ("node", 0, "from"),
            "brick has no outlet or rail usb",
            "outlets of brick: brick",
        ),
        (
            '[[node]]\nid = "n"\nfrom = "box.12"',
            "references.unknown",
            ("node", 0, "from"),
            "box has no outlet or rail 12",
            'did you mean "box.12v"?',
        ),
        (
            '[[node]]\nid = "n"\nfrom = "box"',
            "references.unknown",
            ("node", 0, "from"),
            "box has 2 outlets",
            "write one of box.5v, box.12v",
        ),
        (
            '[[node]]\nid = "n"\n[[fan]]\nid = "f"\nfrom = "n"',
            "references.unknown",
            ("fan", 0, "from"),
            "n has no outlets",
            "[[node.outlet]]",
        ),
        (
            '[[node]]\nid = "n"\nfrom = ["brick", "box.5v"]',
            "references.too_many",
            ("node", 0, "from"),
            "fed 2 times",
            "[[node.inlet]]",
        ),
        (
            '[[node]]\nid = "n"\nfrom = ["brick", "box.5v", "box.12v"]' + TWO,
            "references.too_many",
            ("node", 0, "from"),
            "fed 3 times but has 2",
            "one outlet for each",
        ),
        (
            '[[node]]\nid = "n"\nfrom = "brick"\ninto = "usc"' + TWO,
            "references.unknown",
            ("node", 0, "into"),
            "n has no inlet usc",
            "usb, jack",
        ),
        (
            '[[node]]\nid = "n"\n[[node.inlet]]\nid = "a"\nfrom = "brik"',
            "references.unknown",
            ("node", 0, "inlet", 0, "from"),
            "nothing is called brik",
            "brick",
        ),
        (
            '[[node]]\nid = "n"\n[[node]]\nid = "brick"',
            "references.duplicate",
            ("node", 1, "id"),
            "two things are called brick",
            "rename",
        ),
        (
            '[[outside]]\nid = "box"',
            "references.duplicate",
            ("outside", 0, "id"),
            "two things are called box",
            "rename",
        ),
        (
            '[[supply]]\nid = "s"\n[[supply.rail]]\nid = "a"\n[[supply.rail]]\nid = "a"',
            "references.clash",
            ("supply", 1, "id"),
            "s has two points called a",
            "rename",
        ),
        (
            '[[node]]\nid = "n"\n[[node.inlet]]\nid = "a"\n[[node.port]]\nid = "a"',
            "references.clash",
            ("node", 0, "id"),
            "n has two points called a",
            "rename",
        ),
        (
            '[[supply]]\nid = "s"\n[[supply.rail]]\nid = "a"\n[[supply.connector]]\nid = "a"',
            "references.clash",
            ("supply", 1, "id"),
            "s has a connector and another point called a",
            "rename",
        ),
        (
            '[[drive]]\nid = "d"\nbay = "stor.1"\n[[storage]]\nid = "store"',
            "references.unknown",
            ("drive", 0, "bay"),
            "no storage is called stor",
            '"store"?',
        ),
        (
            '[[drive]]\nid = "d"\nbay = "brick.1"',
            "references.unknown",
            ("drive", 0, "bay"),
            "no storage is called brick",
            "name a storage",
        ),
        (
            '[[drive]]\nid = "d"\nbay = "store.5"\n[[storage]]\nid = "store"\nbays = 4',
            "references.unknown",
            ("drive", 0, "bay"),
            "store has bays 1 to 4",
            "a bay that exists",
        ),
        (
            '[[drive]]\nid = "d"\nbay = "store"\n[[storage]]\nid = "store"\nbays = 4',
            "references.unknown",
            ("drive", 0, "bay"),
            "store has bays 1 to 4",
            "a bay that exists",
        ),
        (
            '[[drive]]\nid = "d"\nbay = "store.²"\n[[storage]]\nid = "store"\nbays = 4',
            "references.unknown",
            ("drive", 0, "bay"),
            "store has bays 1 to 4",
            "a bay that exists",
        ),
    ],
)
def test_slips_of_power_and_names(
    text: str, rule: str, path: tuple[Any, ...], says: str, remedy: str
) -> None:
    """Each slip is one fault of the rule that reports it, at its key, with what to do."""
    found = fault(FIVE + BOX + text + "\n")
    assert (found.rule, found.path) == (rule, path)
    assert says in found.says
    assert remedy in found.remedy


def test_a_ring_of_supplies_is_cut() -> None:
    """Supplies that feed each other are a fault; one link is cut, so that all else is still computed."""
    ring = "".join(
        f'[[supply]]\nid = "s{i}"\nfrom = "s{(i + 1) % 3}"\n[[supply.rail]]\nid = "a"\nvolts = "5 V"\n'
        for i in range(3)
    )
    linked = plan(ring)
    (found,) = linked.faults
    assert found.rule == "references.power_ring"
    assert "s0 is fed from s1 is fed from s2 is fed from s0" in found.says
    assert len([s for s in linked.table("supply") if s.inlets[0].source is None]) == 1
    assert sum(len(s.outlets[0].takers) for s in linked.table("supply")) == 2
    assert len(linked.order) == 3


def test_a_supply_that_feeds_itself() -> None:
    """The shortest ring is one supply."""
    found = fault('[[supply]]\nid = "s"\nfrom = "s"\n[[supply.rail]]\nid = "a"\n')
    assert found.rule == "references.power_ring"
    assert "s is fed from s" in found.says


@given(st.permutations(range(8)), st.lists(st.integers(0, 7), min_size=8, max_size=8))
def test_order_has_sources_first(written: list[int], picks: list[int]) -> None:
    """However a plan is written, each thing comes behind what feeds it, once."""
    body = {
        i: f'[[supply]]\nid = "s{i}"\nfrom = "{f"s{picks[i] % i}" if i else "bank"}"\n[[supply.rail]]\nid = "a"\n'
        for i in range(8)
    }
    linked = plan("".join(body[i] for i in written) + '[[feed]]\nid = "bank"\n')
    assert linked.faults == []
    names = [thing.id for thing in linked.order]
    assert sorted(names) == sorted(["bank", *(f"s{i}" for i in range(8))])
    for thing in linked.table("supply"):
        assert names.index(thing.inlets[0].source.thing.id) < names.index(thing.id)


def test_a_long_chain_is_no_recursion() -> None:
    """Thousands of things in line are put in order."""
    chain = "".join(f'[[inline]]\nid = "x{i}"\nfrom = "x{i + 1}"\n' for i in range(3000))
    linked = plan(chain + '[[feed]]\nid = "x3000"\n')
    assert linked.faults == []
    assert [t.id for t in linked.order[:3]] == ["x3000", "x2999", "x2998"]


# --- bays ----------------------------------------------------------------------------------------------------------

STORE = '[[storage]]\nid = "store"\nbays = 2\nfrom = "brick"\n'
DRIVES = '[[drive]]\nid = "d1 .. d2"\nbay = "store.1 .. store.2"\n'


def test_a_drive_is_fed_by_its_carrier() -> None:
    """A carrier's rail with fitting volts feeds the drive in its bay."""
    text = (
        FIVE
        + STORE
        + '[[storage.outlet]]\nid = "bays"\nvolts = "5 V"\n'
        + DRIVES
        + 'volts = "4.75 V .. 5.25 V"\n'
    )
    assert sources(text, "d2") == [("", "store.bays")]


def test_a_carrier_hands_its_inlet_on() -> None:
    """A carrier without rails hands on what its own inlet takes: one outlet for all drives, and no clash of names."""
    inlet = '[[storage.inlet]]\nid = "5v"\nvolts = "4.75 V .. 5.25 V"\n[[storage.port]]\nid = "e"\n'
    for volts in ("4.5 V .. 5.5 V", "5.1 V .. 5.5 V"):
        text = FIVE + STORE + inlet + DRIVES + f'volts = "{volts}"\n'
        assert sources(text, "d2") == [("", "store.5v")]
        (handed,) = plan(text).things["store"].outlets
        assert [i.name for i in handed.takers] == ["d1", "d2"]


def test_a_drive_with_both_is_fed_once() -> None:
    """What `from` says counts before the bay, and only one outlet has the drive among its takers."""
    text = (
        FIVE
        + STORE
        + '[[storage.outlet]]\nid = "bays"\nvolts = "5 V"\n'
        + DRIVES
        + 'from = "brick"\nvolts = "5 V"\n'
    )
    assert sources(text, "d1") == [("", "brick")]
    assert plan(text).things["store"].outlets[0].takers == []


# --- data ----------------------------------------------------------------------------------------------------------

SWITCH = '[[switch]]\nid = "sw"\nports = 4\n'


def cables(text: str) -> list[tuple[str, str]]:
    """Return both ends of every link of a plan without faults."""
    linked = plan(text)
    assert linked.faults == []
    return [(line.a.name, line.b.name if line.b else line.outside) for line in linked.links]


def test_ports_by_count_by_table_and_implied() -> None:
    """A switch has the ports it counts or names; another thing has those it names, or one called eth."""
    linked = plan(
        SWITCH
        + '[[switch]]\nid = "s2"\nports = 2\n[[switch.port]]\nid = "up"\n[[node]]\nid = "n"\nport = "sw.4"\n'
    )
    assert [p.name for p in [*linked.ports["sw"], *linked.ports["n"]]] == [
        "sw.1",
        "sw.2",
        "sw.3",
        "sw.4",
        "n.eth",
    ]
    assert cables(SWITCH + '[[node]]\nid = "n"\nport = "sw.4"\n') == [("n.eth", "sw.4")]
    named = '[[switch]]\nid = "s2"\n[[switch.port]]\nid = "up"\n[[node]]\nid = "n"\nport = "s2.up"\n'
    assert cables(named) == [("n.eth", "s2.up")]


def test_ports_of_a_part() -> None:
    """Ports that a part names are the ports of the thing."""
    part = (
        '[[part]]\nid = "p"\nkind = "switch"\nports = 2\n[[part.port]]\nid = "1 .. 2"\nspeed = "1 Gbit/s"\n'
    )
    linked = plan(part + '[[switch]]\nid = "sw"\npart = "p"\n[[node]]\nid = "n"\nport = "sw.2"\n')
    assert linked.faults == []
    assert [(p.id, p.spec.speed) for p in linked.ports["sw"]] == [("1", 1e9), ("2", 1e9)]


def test_several_cables_go_to_several_ports() -> None:
    """Cables go to the free ports in order; a port may say itself where its cable goes."""
    text = SWITCH + '[[node]]\nid = "n"\nport = ["sw.1", "sw.2"]\n'
    (found,) = plan(text).faults
    assert (found.rule, found.path) == ("references.too_many", ("node", 0, "port"))
    ports = '[[node.port]]\nid = "a"\nto = "sw.3"\n[[node.port]]\nid = "b"\n[[node.port]]\nid = "c"\n'
    of_part = ports.replace("node.", "part.").replace('to = "sw.3"\n', "")
    part = '[[part]]\nid = "p"\nkind = "node"\n' + of_part
    linked = plan(SWITCH + part + '[[node]]\nid = "n"\npart = "p"\nport = ["sw.1", "sw.2"]\n')
    assert [(x.a.name, x.b.name if x.b else "") for x in linked.links] == [("n.a", "sw.1"), ("n.b", "sw.2")]
    assert cables(SWITCH + '[[node]]\nid = "n"\n' + ports) == [("n.a", "sw.3")]


def test_links_and_uplinks() -> None:
    """A link joins two ports, an uplink one port and a place outside; both ends know the line."""
    text = (
        SWITCH
        + '[[node]]\nid = "n1 .. n2"\n[[link]]\nfrom = "sw.1 .. sw.2"\nto = ["n1", "n2.eth"]\ncable = "cat 6, 2 m"\n'
    )
    text += '[[uplink]]\nfrom = "sw.4"\nto = "hilltop radio"\nspeed = "1 Gbit/s"\n'
    assert cables(text) == [("sw.1", "n1.eth"), ("sw.2", "n2.eth"), ("sw.4", "hilltop radio")]
    linked = plan(text)
    cable = linked.links[0].cable
    assert cable is not None
    assert cable.length == 2.0
    assert linked.links[2].speed == 1e9
    assert linked.ports["sw"][0].links == [linked.links[0]] == linked.ports["n1"][0].links
    assert str(linked.links[2]) == "sw.4 to hilltop radio"


@pytest.mark.parametrize(
    ("text", "rule", "path", "says", "remedy"),
    [
        (
            '[[node]]\nid = "n"\nport = "sww.1"',
            "references.unknown",
            ("node", 0, "port"),
            "sww.1: nothing is called sww",
            '"sw"?',
        ),
        (
            '[[node]]\nid = "n"\nport = "sw.9"',
            "ports.unknown",
            ("node", 0, "port"),
            "sw has no data port 9",
            "sw.1 .. sw.4",
        ),
        (
            '[[node]]\nid = "n"\nport = "sw"',
            "ports.unknown",
            ("node", 0, "port"),
            "sw has 4 ports; which?",
            "sw.1 .. sw.4",
        ),
        (
            '[[node]]\nid = "n"\nport = "f"\n[[fan]]\nid = "f"',
            "references.unknown",
            ("node", 0, "port"),
            "f has no data ports",
            "name a switch",
        ),
        (
            '[[uplink]]\nfrom = "sw.9"\nto = "x"',
            "ports.unknown",
            ("uplink", 0, "from"),
            "sw has no data port 9",
            "its ports",
        ),
        (
            '[[link]]\nfrom = "sw.1"\nto = "nn"',
            "references.unknown",
            ("link", 0, "to"),
            "nothing is called nn",
            "name a thing",
        ),
        (
            '[[node]]\nid = "n"\nport = "s2.1"\n[[switch]]\nid = "s2"',
            "ports.unknown",
            ("node", 0, "port"),
            "no data port 1",
            "say ports = 8",
        ),
    ],
)
def test_slips_of_data(text: str, rule: str, path: tuple[Any, ...], says: str, remedy: str) -> None:
    """A cable that leads nowhere is one fault at its key."""
    found = fault(SWITCH + text + "\n")
    assert (found.rule, found.path) == (rule, path)
    assert says in found.says
    assert remedy in found.remedy


# --- faults --------------------------------------------------------------------------------------------------------


def test_a_span_that_names_nothing_is_one_fault() -> None:
    """Six things with one slip in their span are one fault, at the span."""
    assert fault('[[node]]\nid = "n1 .. n6"\nfrom = "x.1 .. x.6"\n').path == ("node", 0, "from")
    assert fault(SWITCH + '[[node]]\nid = "n1 .. n6"\nport = "sv.1 .. sv.6"\n').path == ("node", 0, "port")
    assert fault('[[node]]\nid = "n1 .. n6"\nfrom = "x"\n').path == ("node", 0, "from")


def test_the_same_slip_in_two_places_is_two_faults() -> None:
    """A wrong name is told wherever it is written."""
    linked = plan(
        '[[node]]\nid = "a"\nfrom = "x"\nport = "y.1"\n[[node]]\nid = "b"\nfrom = "x"\nport = "y.1"\n'
    )
    assert [f.path for f in linked.faults] == [
        ("node", 0, "from"),
        ("node", 1, "from"),
        ("node", 0, "port"),
        ("node", 1, "port"),
    ]
    assert len({f.says for f in linked.faults}) == 2


def test_a_plan_of_slips_is_linked_in_time() -> None:
    """Guessing what was meant is bounded: thousands of wrong names among thousands of things take no minutes."""
    import time

    text = '[[node]]\nid = "n1 .. n2000"\nfrom = "nx1 .. nx2000"\nport = "swx1.1 .. swx2000.1"\n'
    start = time.process_time()
    assert len(plan(text).faults) == 2
    assert time.process_time() - start < 10


def test_a_duplicate_names_the_first() -> None:
    """A name given twice points to where it was given first."""
    found = fault('[[node]]\nid = "n1 .. n3"\n[[fan]]\nid = "n2"\n')
    assert found.path == ("fan", 0, "id")
    assert found.related == ((("node", 0, "id"), "the first one"),)


def test_what_is_at_fault_is_left_unconnected() -> None:
    """The rest of a plan with a slip is linked as ever."""
    linked = plan(FIVE + '[[node]]\nid = "a"\nfrom = "x"\n[[node]]\nid = "b"\nfrom = "brick"\n')
    assert linked.things["a"].inlets[0].source is None
    assert linked.things["b"].inlets[0].source.name == "brick"


def test_place_is_the_first_key_written() -> None:
    """A finding stands at the first of the keys it is about that the plan writes, else at the id."""
    linked = plan('[[node]]\nid = "n"\nlead = "1 m"\n')
    node = linked.things["n"]
    assert linked.place(node, "peak", "lead") == ("node", 0, "lead")
    assert linked.place(node, "peak") == ("node", 0, "id")

"""Seats, numbers and bays: who takes which, in the order a person would."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

import pytest

from coldcheck.plan.edit import Put, Take
from coldcheck.planner.draft import Wish
from coldcheck.planner.fill import fill
from coldcheck.planner.numbering import starts_at
from coldcheck.planner.seats import deal_out, ordered
from coldcheck.planner.trial import Bench
from coldcheck.planner.writable import only_sizes

Make = Callable[[], Bench]


def put(bench: Make, text: str, **wish: Any) -> dict[str, Any]:
    """Return what a filling puts, by its key."""
    return {".".join(map(str, p.path)): p.value for p in fill(bench(), text.encode(), Wish(**wish)).puts}


def test_names_are_counted_as_a_person_counts() -> None:
    """Two comes before ten."""
    assert ordered(["sw.10", "sw.2", "a.1", "sw.1"]) == ["a.1", "sw.1", "sw.2", "sw.10"]


def test_members_sit_side_by_side_where_they_can() -> None:
    """An entry takes the first run that is long enough; what is left over serves the next."""
    seats = ["s.1", "s.3", "s.4", "s.5", "s.7"]
    assert deal_out([("a", 3), ("b", 1)], seats) == {"a": ["s.3", "s.4", "s.5"], "b": ["s.1"]}
    assert deal_out([("a", 4)], seats) == {"a": ["s.1", "s.3", "s.4", "s.5"]}
    assert deal_out([("a", 2)], ["x.1", "y.2"]) == {"a": ["x.1", "y.2"]}
    assert deal_out([], seats) == {}


def test_too_few_seats() -> None:
    """More things than seats is no question for dealing out."""
    assert deal_out([("a", 2)], ["s.1", "s.2"]) == {"a": ["s.1", "s.2"]}
    with pytest.raises(ValueError, match="fewer seats"):
        deal_out([("a", 3)], ["s.1", "s.2"])


def test_every_seat_is_dealt_once() -> None:
    """Whatever is asked for, nobody sits in another's seat, and all seats are of those given."""
    draw = Random(7)
    for _ in range(200):
        seats = [f"s.{n}" for n in draw.sample(range(40), draw.randint(1, 20))]
        counts: list[tuple[str, int]] = []
        left = len(seats)
        while left and draw.random() < 0.8:
            count = draw.randint(1, left)
            counts.append((str(len(counts)), count))
            left -= count
        dealt = deal_out(counts, seats)
        every = [name for names in dealt.values() for name in names]
        assert [len(dealt[name]) for name, _ in counts] == [count for _, count in counts]
        assert len(set(every)) == len(every)
        assert set(every) <= set(seats)


@pytest.mark.parametrize(
    ("free", "count", "digit", "first"),
    [
        (range(1, 255), 6, 1, 11),  # n1 .. n6
        (range(1, 255), 3, 3, 13),  # m3 .. m5
        (range(1, 255), 1, None, 10),
        (range(1, 255), 40, 1, 11),
        ([*range(1, 12), *range(17, 255)], 2, 1, 21),  # .12 .. .16 are taken, so the ten is begun
        ([*range(1, 11), *range(40, 60)], 2, 1, 41),
        (range(1, 9), 3, 1, 2),  # too narrow for tens; .1 is left to a router
        ([1, 2, 5, 6, 7], 3, 1, 5),
        ([1, 2, 3], 3, 1, 1),
        ([1, 3, 5], 2, 1, None),
        ([], 1, None, None),
    ],
)
def test_where_an_entry_starts(free: Any, count: int, digit: int | None, first: int | None) -> None:
    """The last digit goes with the name, the ten is the entry's own; else the first gap that is long enough."""
    assert starts_at(list(free), 0, count, digit) == first


DISKS = '[[storage]]\nid = "{}"\npart = "storage-carrier-{}bay"\nown_power = true\n'
DRIVES = '[[drive]]\nid = "{}"\npart = "hdd-3.5-in"\n'


def test_disks_of_one_entry_stay_together(bench: Make) -> None:
    """Two and three disks in carriers of two and four bays: each entry has a carrier of its own."""
    text = DISKS.format("a", 4) + DISKS.format("b", 2) + DRIVES.format("x1 .. x2") + DRIVES.format("y1 .. y3")
    found = put(bench, text)
    assert (found["drive.0.bay"], found["drive.1.bay"]) == ("b.1 .. b.2", "a.1 .. a.3")


def test_a_bay_that_is_taken_stays_taken(bench: Make) -> None:
    """What sits somewhere already is not moved; the free bays serve."""
    text = DISKS.format("a", 4) + DRIVES.format("x1") + 'bay = "a.2"\n' + DRIVES.format("y1 .. y3")
    assert put(bench, text) == {"drive.1.bay": "a.1, a.3 .. a.4"}


def test_a_disk_that_no_carrier_takes_has_a_lead(bench: Make) -> None:
    """Without a carrier, or with one of other volts, a disk hangs on a rail by itself."""
    feed = '[[feed]]\nid = "f"\nvolts = "5.1 V"\namps = "9 A"\n'
    disk = '[[drive]]\nid = "d"\npart = "ssd-2.5-in-sata"\nlead = "18 AWG, 100 mm"\n'
    assert put(bench, feed + disk) == {"drive.0.from": "f"}


@pytest.mark.parametrize(
    ("lead", "key", "value"),
    [
        ('"200 mm"', "node.0.lead", "22 AWG, 200 mm"),
        ('["200 mm"]', "node.0.lead.0", "22 AWG, 200 mm"),
        ("'200 mm, solid'", "node.0.lead", "22 AWG, 200 mm, solid"),
        ('"200 mm .. 300 mm by 100 mm"', "node.0.lead", "22 AWG, 200 mm .. 300 mm by 100 mm"),
        ('["200 mm .. 300 mm by 100 mm"]', "node.0.lead.0", "22 AWG, 200 mm .. 300 mm by 100 mm"),
    ],
)
def test_a_lead_is_written_where_it_stands(bench: Make, lead: str, key: str, value: str) -> None:
    """As a text, in a list, with other words, for a span of lengths: the gauge comes in front, the rest stays."""
    text = '[plan]\nwires = "22 AWG"\n[[feed]]\nid = "f"\nvolts = "12 V"\namps = "6 A"\n[[node]]\nid = "n1 .. n2"\n'
    text += f'from = "f"\nvolts = "9 V .. 15 V"\npeak = "1 A"\nlead = {lead}\n'
    assert put(bench, text) == {key: value}


BOTH = """
[[feed]]
id = "f"
volts = "5.1 V"
amps = "20 A"
[[switch]]
id = "sw"
ports = 8
own_power = true
poe_budget = "{} W"
[[switch.port]]
id = "1 .. 4"
poe = "type 2"
[[node]]
id = "n1 .. n3"
poe = "class 2"
volts = "4.75 V .. 5.25 V"
peak = "1 A"
lead = "16 AWG, 100 mm"
"""


def test_power_by_cable_or_by_lead(bench: Make) -> None:
    """Boards that take both have the cable alone where the budget feeds all of them, else a lead, and no PoE port."""
    assert put(bench, BOTH.format(60)) == {"node.0.port": "sw.1 .. sw.3"}
    assert put(bench, BOTH.format(20)) == {"node.0.from": "f", "node.0.port": "sw.5 .. sw.7"}


def test_a_harness_settles_its_source(bench: Make) -> None:
    """A board that a harness leads to an outlet hangs on that one, be another as good."""
    text = (
        '[[feed]]\nid = "f"\nvolts = "5.1 V"\namps = "20 A"\n'
        '[[inline]]\nid = "b"\nwhat = "fuse"\nfrom = "f"\nlead = "14 AWG, 100 mm"\n'
        '[[inline.outlet]]\nid = "1 .. 3"\nplug = "screw-2"\nfuse = "3 A blade"\n'
        '[[node]]\nid = "n1 .. n3"\npart = "board-4core-5v-3a"\ninto = "header"\nlead = "22 AWG, 200 mm, 2 x"\n'
        '[[harness]]\nid = "h"\n'
    )
    wire = '[[harness.wire]]\nfrom = "b.3.{}"\nto = "n1.header.{}"\ngauge = "22 AWG"\nlength = "200 mm"\n'
    wires = "".join(wire.format(*pins) for pins in ((1, 2), (1, 4), (2, 6), (2, 9)))
    assert put(bench, text)["node.0.from"] == "b.1 .. b.3"
    assert put(bench, text + wires)["node.0.from"] == "b.3, b.1 .. b.2"


def test_sizes_are_no_places() -> None:
    """What is larger or longer is a size; where a thing is plugged or what it is called is none."""
    assert only_sizes([Put(("node", 0, "lead"), "x"), Put(("feed", 0, "fuse"), "x")])
    assert not only_sizes([Put(("node", 0, "lead"), "x"), Put(("node", 0, "port"), "x")])
    assert not only_sizes([Take(("node", 0, "address", 1))])


PLACED = """
[[switch]]
id = "sw"
own_power = true
at = ["0 mm", "0 mm", "0 mm"]
[[switch.port]]
id = "1 .. 4"
speed = "{}"
[[node]]
id = "n1"
own_power = true
at = ["{} mm", "100 mm", "0 mm"]
[[node.port]]
id = "eth"
speed = "{}"
"""


@pytest.mark.parametrize(
    ("speed", "far", "cable"),
    [
        ("1 Gbit/s", 300, "cat 5e, 500 mm"),  # 300 + 100 along the walls, 100 of slack
        ("1 Gbit/s", 301, "cat 5e, 1 m"),
        ("10 Gbit/s", 900, "cat 6, 1.5 m"),
        ("10 Gbit/s", 39_000, "cat 6A, 50 m"),  # 37 m at most on category 6 (TIA TSB-155)
    ],
)
def test_cables_that_reach_and_carry(bench: Make, speed: str, far: int, cable: str) -> None:
    """The plainest category that carries the speed so far, in the next length that is sold."""
    text = PLACED.format(speed, far, speed)
    assert put(bench, text) == {"node.0.port.0.to": "sw.1", "node.0.cable": cable}


def test_a_cable_of_unknown_way_stays_blank(bench: Make) -> None:
    """Without places nobody knows how far it is."""
    text = PLACED.format("1 Gbit/s", 300, "1 Gbit/s").replace('at = ["300 mm", "100 mm", "0 mm"]\n', "")
    assert put(bench, text) == {"node.0.port.0.to": "sw.1"}


NUMBERED = '[[subnet]]\nprefix = "10.4.0.0/24"\n[[switch]]\nid = "sw"\nports = 24\nown_power = true\n'
ONE = '[[node]]\nid = "{}"\nown_power = true\n'


def addresses(bench: Make, *nodes: str) -> list[str]:
    """Return the last numbers that nodes get, each written by itself, in order."""
    found = put(bench, NUMBERED + "".join(nodes))
    return [v.replace("10.4.0.", "") for k, v in sorted(found.items()) if k.endswith("address")]


def test_names_that_count_on_are_a_family(bench: Make) -> None:
    """Boards of several entries count on as their names do; one that is missing leaves its number free."""
    assert addresses(bench, ONE.format("n1"), ONE.format("n2"), ONE.format("n4 .. n6")) == [
        "11",
        "12",
        "14 .. 16",
    ]
    assert addresses(bench, ONE.format("store"), ONE.format("n1"), ONE.format("door")) == ["20", "11", "21"]
    assert addresses(bench, ONE.format("n1"), ONE.format("n90"), ONE.format("n91")) == ["11", "12", "13"]
    assert addresses(bench, ONE.format("n1"), ONE.format("m3"), ONE.format("m4")) == ["11", "13", "14"]


def test_a_family_goes_on_where_it_stands(bench: Make) -> None:
    """A board that joins others of its name has the address behind theirs."""
    old = '[[node]]\nid = "n1 .. n3"\nown_power = true\nport = "sw.1 .. sw.3"\naddress = "10.4.0.101 .. 10.4.0.103"\n'
    assert addresses(bench, old, ONE.format("n4")) == ["104"]
    taken = ONE.format("x") + 'port = "sw.9"\naddress = "10.4.0.104"\n'
    assert addresses(bench, old, ONE.format("n4"), taken) == ["14"]

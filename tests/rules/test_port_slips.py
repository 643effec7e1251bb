"""Slips around ports, as a builder makes them: each is told once, by its name, with a remedy that can be followed."""

from __future__ import annotations

import datetime

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import judge

DAY = datetime.date(2026, 1, 1)
SWITCHES = '[[switch]]\nid = "sw1 .. sw2"\nports = 8\n'
JOINED = SWITCHES + '[[link]]\nfrom = "sw1.8"\nto = "sw2.8"\n'
NODES = '[[node]]\nid = "{}"\nport = "{}"\n'
_FEEDING = '[[switch]]\nid = "sw"\nports = 2\n[[switch.port]]\nid = "1"\npoe = "type 1"\n'
FEEDS = '[[feed]]\nid = "five"\nvolts = "5 V"\namps = "9 A"\n[[feed]]\nid = "twelve"\nvolts = "12 V"\namps = "9 A"\n'


def told(text: str, *only: str) -> list[Finding]:
    """Return what the named rules say of a plan."""
    book = ours.rulebook(entry_points=False)
    plan = ours.read_plan("plan.toml", text.encode(), ours.shelf(book))
    return judge(plan, book, DAY, only=list(only)).findings


def one(text: str, *only: str) -> Finding:
    """Return the one thing that the named rules say of a plan."""
    (found,) = told(text, *only)
    return found


def test_two_spans_in_the_same_ports_are_one_slip() -> None:
    """Both spans and all ports are named once, and the span that moves gets ports of any switch of the network."""
    spans = NODES.format("n1 .. n5", "sw1.1 .. sw1.5") + NODES.format("m1 .. m5", "sw1.1 .. sw1.5")
    found = one(JOINED + spans, "ports")
    assert found.says == "n1 .. n5 beside m1 .. m5: plugged into the same ports, sw1.1 .. sw1.5"
    assert found.remedy == 'deal out m1 .. m5 anew: port = "sw2.1 .. sw2.5"'
    # where the switches are not joined, the other one is no help
    apart = one(SWITCHES + spans, "ports.double_booked")
    assert (apart.edits, "too few free ports" in apart.remedy) == ((), True)


def test_spans_that_share_some_ports_are_named_by_these() -> None:
    """A span that runs into another one is told by the ports they share, and moves as a whole where it can."""
    spans = NODES.format("n1 .. n4", "sw1.1 .. sw1.4") + NODES.format("m1 .. m3", "sw1.3 .. sw1.5")
    found = one(JOINED + spans, "ports")
    assert found.says == "n3 and n4 beside m1 and m2: plugged into the same ports, sw1.3 and sw1.4"
    assert found.remedy == 'deal out m1 .. m3 anew: port = "sw2.1 .. sw2.3"'


def test_three_spans_in_the_same_ports_are_one_slip() -> None:
    """More than two entries that meet at the same ports are one finding too."""
    spans = "".join(NODES.format(f"{x}1 .. {x}2", "sw1.1 .. sw1.2") for x in "abc")
    assert one(JOINED + spans, "ports").says.startswith(
        "a1 and a2 beside b1 and b2 beside c1 and c2: plugged"
    )


def test_a_list_given_to_each_of_a_span_is_told_once() -> None:
    """Nothing is said of crowded ports, and a span is written out; a list of spans is what is right."""
    text = JOINED + NODES.replace('"{}"\n', "{}\n", 2).format('"n1 .. n2"', '["sw1.1", "sw1.2"]')
    found = one(text, "ports", "references")
    assert found.rule == "references.too_many"
    assert 'like port = "sw1.1 .. sw1.2"' in found.remedy


def test_fibre_in_copper_is_mended_by_copper() -> None:
    """Where no end is an SFP socket, no module is offered."""
    text = '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1"\nmedia = "copper"\n[[node]]\nid = "n"\n[[node.port]]\n'
    text += 'id = "e"\nto = "sw.1"\ncable = "OM3, 5 m"\nmedia = "{}"\n'
    assert one(text.format("copper"), "cables.plug").remedy == "take twisted pair, cat 5e or better"
    assert "copper module" in one(text.format("sfp"), "cables.plug").remedy


def test_a_drive_is_fed_by_itself_where_the_carrier_is_fixed() -> None:
    """A carrier whose part says what inlets it has is given none more; the feeds that fit are named, in their order."""
    part = '[[part]]\nid = "box"\nkind = "storage"\n[[part.inlet]]\nid = "12v"\nvolts = "11 V .. 13 V"\n'
    own = '[[storage]]\nid = "s"\nbays = 1\nfrom = "twelve"\n{}\n[[drive]]\nid = "d"\nbay = "s.1"\n'
    own += '[[drive.inlet]]\nid = "5v"\nvolts = "4.75 V .. 5.25 V"\n'
    own += '[[drive.inlet]]\nid = "12v"\nvolts = "11 V .. 13 V"\n'
    fixed = one(FEEDS + part + own.format('part = "box"'), "rails.unfed").remedy
    assert fixed == 'feed it by itself: from = ["five", "twelve"]'
    free = one(FEEDS + own.format('volts = "11 V .. 13 V"'), "rails.unfed").remedy
    assert free == fixed + ", or give the carrier an inlet of these volts"


def test_what_brings_its_own_power_says_so() -> None:
    """The open finding names the key, and with it a thing is in no sum, asks for no PoE, and nothing is open."""
    text = FEEDS + '[[node]]\nid = "laptop"\n'
    assert "own_power = true" in one(text, "rails.unfed").remedy
    assert told(text + "own_power = true\n", "rails", "volts", "leads") == []
    cam = '[[appliance]]\nid = "cam"\npoe = "class 3"\n{}'
    unplugged = one(JOINED + cam.format("own_power = true\n"), "ports.no_link")
    assert (unplugged.level, one(JOINED + cam.format(""), "ports.no_link").level) == ("warning", "error")
    plugged = JOINED + cam.format('port = "sw1.1"\n{}')
    assert told(plugged.format("own_power = true\n"), "poe") == []
    assert [found.rule for found in told(plugged.format(""), "poe")] == ["poe.not_a_poe_port"]
    # with power of its own it need not stay at a port that feeds, so a crowded one is left for any other
    crowd = (
        _FEEDING + cam.format('port = "sw.1"\n') + cam.replace('"cam"', '"c2"').format('port = "sw.1"\n{}')
    )
    assert one(crowd.format("own_power = true\n"), "ports.double_booked").remedy == "plug c2 into sw.2"
    drive = '[[storage]]\nid = "s"\nbays = 1\nown_power = true\n[[drive]]\nid = "d"\nbay = "s.1"\nvolts = "12 V"\n'
    assert told(FEEDS + drive, "rails.unfed") == []


def test_a_port_kept_free_is_offered_to_nobody() -> None:
    """It counts neither as forgotten nor as a place for another cable."""
    kept = '[[switch]]\nid = "sw"\nports = 4\n[[switch.port]]\nid = "2"\nunused = true\n'
    crowded = kept + NODES.format("a", "sw.1") + NODES.format("b", "sw.1")
    assert one(crowded, "ports.double_booked").remedy == "plug b into sw.3"
    two = '[[part]]\nid = "p"\nkind = "node"\n[[part.port]]\nid = "x"\n[[part.port]]\nid = "y"\n'
    node = '[[node]]\nid = "n"\npart = "p"\n[[node.port]]\nid = "x"\nunused = true\n'
    node += '[[node.port]]\nid = "y"\nto = "sw.3"\n'
    assert told(kept + two + node, "ports") == []


def test_only_the_flows_of_the_full_direction_are_named() -> None:
    """What goes the other way takes nothing from it; the largest comes first."""
    text = '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1 .. 4"\nspeed = "1 Gbit/s"\n'
    text += "".join(
        f'[[node]]\nid = "{name}"\n[[node.port]]\nid = "e"\nspeed = "1 Gbit/s"\nto = "sw.{port}"\n'
        for port, name in enumerate(("a", "b", "c", "s"), 1)
    )
    flow = '[[flow]]\nfrom = "{}"\nto = "{}"\nspeed = "{} Mbit/s"\n'
    text += flow.format("a", "s", 1) + flow.format("s", "b", 300) + flow.format("s", "c", 800)
    found = one(text, "throughput.flow")
    assert found.because == "flows: s to c and s to b"
    assert [place.path for place in found.related] == [("flow", 2), ("flow", 1)]

"""Harnesses: what pins carry, which wires make a pair, and that one slip in a wire is one finding."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

from coldcheck import ours
from coldcheck.dc import wire
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import _Run, judge
from coldcheck.plan.model import Plan
from coldcheck.workings.harness import Pair
from coldcheck.workings.pins import End, agree, volts_of_signal

BOOK = ours.rulebook(entry_points=False)


def read(text: str) -> Plan:
    """Return a plan."""
    plan: Plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
    return plan


def pairs(text: str) -> dict[str, Pair]:
    """Return the pairs of a plan."""
    found: dict[str, Pair] = _Run(read(text), BOOK).working("pairs")
    return found


def findings(text: str) -> list[Finding]:
    """Return all that every rule finds, but what a person must look at."""
    found = judge(read(text), BOOK, datetime.date(2026, 1, 1)).findings
    return [f for f in found if f.kind != "review"]


@pytest.mark.parametrize(
    ("signal", "volts"),
    [
        ("5v", 5.0),
        ("+12 V", 12.0),
        ("3.3V", 3.3),
        ("3v3", 3.3),
        ("-12v", -12.0),
        ("gnd", 0.0),
        ("GND", 0.0),
        ("0v", 0.0),
        ("0 V", 0.0),
        ("Ground", 0.0),
        ("-", 0.0),
        ("+", None),
        ("tach", None),
        ("5vsb", None),
        ("signal", None),
    ],
)
def test_volts_of_signal(signal: str, volts: float | None) -> None:
    """The name of a signal states its volts in any case of letters; a return is zero, a signal nothing."""
    assert volts_of_signal(signal) == volts


def end(signal: str, **more: Any) -> End:
    """Return an end that carries a signal."""
    return End("", "t", "p", "1", signal, **more)


@pytest.mark.parametrize(
    ("a", "b", "same"),
    [
        ("5v", "+5V", True),
        ("5v", "12v", False),
        ("3v", "3.3v", False),
        ("+", "12v", True),
        ("+", "-12v", False),
        ("+", "gnd", False),
        ("+", "signal", False),
        ("+", "TACH", False),
        ("GND", "0v", True),
        ("-", "ground", True),
        ("tach", "Tach", True),
        ("tach", "pwm", False),
        ("5v", "signal", False),
    ],
)
def test_agree(a: str, b: str, same: bool) -> None:
    """Pins agree by volts, returns by being returns, a plus with any volts above zero, signals by name."""
    assert agree(end(a), end(b)) is same
    assert agree(end(b), end(a)) is same


def test_a_rail_has_its_own_volts() -> None:
    """A pin that is called by a rail agrees with the volts of that rail, within what a rail is trimmed by."""
    assert agree(end("out", outlet="out", rail=(5.1, 5.1, 5.1)), end("5v"))
    assert not agree(end("out", outlet="out", rail=(12.0, 12.0, 12.0)), end("5v"))
    assert agree(end("+", rail=(12.8, 10.0, 14.6)), end("12v")), "a battery, within what it strays"
    assert not agree(end("+", rail=(12.8, 12.2, 14.6)), end("12v"))
    assert agree(end("out", outlet="out"), end("+")), "volts not stated"


PLAN = """
[plan]
ambient = "20 degC"
[[feed]]
id = "b"
volts = "5 V"
spread = "0 %"
amps = "10 A"
[[feed.connector]]
id = "out"
pins = {1 = "5v", 2 = "gnd", 3 = "5v", 4 = "gnd", 5 = "signal"}
[[node]]
id = "n1"
from = "b"
volts = "3 V .. 5.25 V"
peak = "3 A"
load = "current"
LEAD
pins = {1 = "5v", 2 = "gnd", 3 = "5v", 4 = "gnd", 5 = "signal"}
[[harness]]
id = "h"
"""
LEAD = 'lead = "20 AWG, 300 mm"'


def plan(*wires: str, lead: str = LEAD, gauge: str = "20 AWG") -> str:
    """Return a plan with wires, each written ``1-2``: from pin 1 of the feed to pin 2 of the node."""
    text = PLAN.replace("LEAD", lead)
    for ends in wires:
        a, _, b = ends.partition("-")
        text += f'[[harness.wire]]\nfrom = "b.out.{a}"\nto = "n1.{b}"\ngauge = "{gauge}"\nlength = "300 mm"\n'
    return text


def test_only_power_pins_make_the_pair() -> None:
    """Two out, one back and a signal: half a wire and a whole one in line (resistance as `dc.wire` has it)."""
    pair = pairs(plan("1-1", "3-3", "2-2", "5-5"))["n1"]
    one = wire.conductor_ohms(0.3, wire.awg_area(20))
    assert pair.nominal == pytest.approx(1.5 * one)
    assert (len(pair.out), len(pair.back), len(pair.wires)) == (2, 1, 4)
    assert pair.side_by_side == 1


def test_two_wires_on_one_pin_are_one_contact() -> None:
    """Contacts are counted by pin: two wires crimped into one pin share it."""
    assert pairs(plan("1-1", "3-1", "2-2", "4-2"))["n1"].side_by_side == 1
    assert pairs(plan("1-1", "3-3", "2-2", "4-4"))["n1"].side_by_side == 2
    assert pairs(plan("1-1", "1-3", "2-2", "2-4"))["n1"].at_source == 1


def test_signals_alone_are_no_pair() -> None:
    """A harness that carries no power leaves the lead as it is."""
    assert pairs(plan("5-5")) == {}


@pytest.mark.parametrize("lead", [LEAD, ""])
@pytest.mark.parametrize("slip", ["1-2", "1-5", "2-5", "1-9", "7-1"])
def test_one_slip_is_one_finding(slip: str, lead: str) -> None:
    """A wire on a wrong pin is told once, with or without a lead to fall back on, and nothing follows from it."""
    good = {"1-2": "2-2", "1-5": "2-2", "2-5": "1-1", "1-9": "2-2", "7-1": "2-2"}[slip]
    found = findings(plan(good, slip, lead=lead))
    rule = "pins.nowhere" if slip in ("1-9", "7-1") else "pins.joined"
    assert [f.rule for f in found] == [rule], [f.says for f in found]


def test_a_plan_without_slips_is_clean() -> None:
    """The same plan with its wires on the right pins is clean, so the test above tells slips."""
    assert [f.says for f in findings(plan("1-1", "2-2"))] == []


@pytest.mark.parametrize("lead", [LEAD, ""])
def test_a_wire_from_elsewhere_is_one_finding(lead: str) -> None:
    """A pair that comes from another feed is told once, not once a wire."""
    other = (
        '[[feed]]\nid = "c"\nvolts = "5 V"\nspread = "0 %"\namps = "9 A"\n[[feed.connector]]\nid = "out"\n'
    )
    other += 'pins = {1 = "5v", 2 = "gnd"}\n[[node]]\nid = "n2"\nfrom = "c"\nlead = "20 AWG, 300 mm"\npeak = "1 A"\n'
    other += 'volts = "3 V .. 5.25 V"\n'
    found = findings(plan("1-1", "2-2", lead=lead).replace('"b.out.', '"c.out.') + other)
    assert [f.rule for f in found] == ["pins.elsewhere"], [f.says for f in found]
    assert "n1 is fed from b, but its wire comes from c" in found[0].says


def test_power_handed_on_is_told_of_the_one_that_gets_it() -> None:
    """Where one board hands power on to the next, only the next is fed from elsewhere than its plan says."""
    text = plan("1-1", "2-2").replace('id = "n1"', 'id = "n1 .. n2"')
    for pin in (3, 4):
        text += f'[[harness.wire]]\nfrom = "n1.{pin}"\nto = "n2.{pin}"\ngauge = "20 AWG"\nlength = "1 m"\n'
    (found,) = findings(text)
    assert found.rule == "pins.elsewhere"
    assert found.says.startswith("n2 is fed from b, but its wire comes from n1")


def test_pins_that_would_do_are_named() -> None:
    """The remedy names the pins of both connectors that carry what the other end carries."""
    (found,) = findings(plan("2-2", "1-4"))
    assert "5 V into ground is a short circuit" in found.says
    assert "at n1 on pin 1 or 3 for 5v" in found.remedy
    assert "at b.out on pin 2 or 4 for gnd" in found.remedy


def test_outlets_have_pins_too() -> None:
    """A wire may start at an outlet by the pins of its plug, and come from that outlet and no other."""
    text = (
        '[[feed]]\nid = "b"\nplug = "screw-2"\nvolts = "5 V"\n[[node]]\nid = "n1"\nfrom = "b"\npeak = "1 A"\n'
    )
    text += 'pins = {1 = "5v", 2 = "gnd"}\n[[harness]]\nid = "h"\n'
    for pin in (1, 2):
        text += f'[[harness.wire]]\nfrom = "b.{pin}"\nto = "n1.{pin}"\ngauge = "20 AWG"\nlength = "1 m"\n'
    pair = pairs(text)["n1"]
    assert pair.missing == ""
    assert pair.nominal > 0


BLOCK = """
[[feed]]
id = "f"
plug = "terminal-5.08"
volts = "5.1 V"
amps = "9 A"
[[node]]
id = "n"
part = "board-4core-5v-3a"
from = "f"
into = "INTO"
lead = "22 AWG, 300 mm"
[[harness]]
id = "h"
"""


def block(*wires: str, into: str = "header") -> list[Finding]:
    """Return what rules of polarity and leads find in wires, ``1-6`` from terminal 1 to pin 6 of the header."""
    text = BLOCK.replace("INTO", into)
    for ends in wires:
        a, _, b = ends.partition("-")
        text += (
            f'[[harness.wire]]\nfrom = "f.{a}"\nto = "n.header.{b}"\ngauge = "22 AWG"\nlength = "300 mm"\n'
        )
    return [f for f in findings(text) if f.rule.startswith(("polarity.", "leads.", "pins."))]


def test_a_terminal_block_without_pins_is_not_passed_over() -> None:
    """Plus and ground may be exchanged at a terminal block that does not list its pins: an open that leaves error."""
    (found,) = block("1-6", "2-2")
    assert (found.rule, found.kind, found.leaves) == ("pins.unknown", "open", "error")
    assert found.says == (
        "what f.1 and f.2 carry is not given, so the wires to n.header.6 and n.header.2 are not judged"
    )
    assert found.missing == ("f pins",)
    assert "[[feed.connector]]" in found.remedy


def test_one_terminal_on_plus_and_ground_is_a_short_circuit() -> None:
    """Whatever terminal 1 carries, it joins pin 2 (5 V) and pin 6 (ground) of the header."""
    found = block("1-6", "1-2")
    assert [(f.rule, f.level) for f in found] == [("pins.joined", "error")]
    assert "short circuit" in found[0].says


def test_wires_to_an_inlet_that_is_not_in_use() -> None:
    """Wires at the header of a board that takes its power by another inlet are one error, pins known or not."""
    found = [f for f in block("1-2", "2-6", into="usb") if f.rule == "pins.elsewhere"]
    assert [f.says for f in found] == ["n takes power by usb, but wires go to n.header"]


def test_the_lead_of_a_span_stays() -> None:
    """Where one board of a span has a harness, taking the lead out would leave the others without one."""
    span = plan("1-1", "2-2", lead='lead = "20 AWG, 900 mm"').replace('id = "n1"', 'id = "n1 .. n5"')
    (found,) = [f for f in findings(span) if f.rule == "leads.two_accounts"]
    assert "write n1 apart" in found.remedy
    assert "n2 .. n5" in found.remedy
    (alone,) = findings(plan("1-1", "2-2", lead='lead = "20 AWG, 900 mm"'))
    assert alone.remedy == "take the lead out: the wires replace it"


def test_remedies_name_only_pins_of_the_same_volts() -> None:
    """A plus of 5 V, also behind a fuse, is never sent to a pin of 3.3 V; ends without a fitting pin stay unsaid."""
    pins = '{1 = "5v", 2 = "gnd", 3 = "3v3", 4 = "gnd"}'
    text = (
        '[[feed]]\nid = "b"\nvolts = "5 V"\n[[inline]]\nid = "f"\nwhat = "fuse"\nfrom = "b"\n'
        '[[inline.outlet]]\nid = "o"\nplug = "screw-2"\n'
        f'[[node]]\nid = "n1"\nfrom = "f.o"\npins = {pins}\n'
        '[[harness]]\nid = "h"\n[[harness.wire]]\nfrom = "f.o.1"\nto = "n1.{}"\n'
    )
    for pin in "24":
        (found,) = [f for f in findings(text.replace("{}", pin)) if f.rule == "pins.joined"]
        assert "at n1 on pin 1 for +" in found.remedy
    (found,) = [f for f in findings(text.replace("{}", "3")) if f.rule == "pins.joined"]
    assert found.remedy == "put its end at n1 on pin 1 for +"
    (lost,) = [f for f in findings(text.replace("{}", "9")) if f.rule == "pins.nowhere"]
    assert lost.says.endswith("n1 has no pin 9; it has 1 .. 4")

"""Pinouts of the shelf against published ones, right and wrong; all of them, with sources, in pinouts.toml."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.running import judge
from coldcheck.plan.reading import plugs_of
from coldcheck.plan.tables import Plug

TABLE: dict[str, Any] = tomllib.loads(Path(__file__).with_name("pinouts.toml").read_text(encoding="utf-8"))
PUBLISHED = [name for name in TABLE if name not in ("colours", "X1", "X2", "X10", "X13", "X14")]
BOOK = ours.rulebook(entry_points=False)
PLUGS = plugs_of(ours.shelf(BOOK))
#: Words of the shelf for pins that carry no power.
UNLISTED = {"signal", "sda", "scl", "txd", "rxd"}


def plug(name: str) -> Plug:
    """Return a plug of the shelf."""
    found = PLUGS(name)
    assert found is not None, name
    return found


def pins(name: str) -> dict[str, str]:
    """Return what the pins of a plug carry."""
    return plug(name).pins or {}


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_pinouts(name: str) -> None:
    """Each pin of the shelf carries what is published for it; what is not published is a signal."""
    published = {pin: signal for signal, at in TABLE[name].items() if isinstance(at, list) for pin in at}
    found = pins(name)
    assert {pin: found.get(pin) for pin in published} == published
    assert {signal for pin, signal in found.items() if pin not in published} <= UNLISTED


def test_the_longer_supply_plug_is_the_shorter_one_and_four_more() -> None:
    """Each row of the 24-pin plug is a row of the 20-pin one with two more at its end; only -5 V has gone since."""
    short, long = pins("atx-20"), pins("atx-24")
    for row in (0, 1):
        a = [short[str(n)] for n in range(10 * row + 1, 10 * row + 11)]
        b = [long[str(n)] for n in range(12 * row + 1, 12 * row + 13)]
        differ = [(x, y) for x, y in zip(a, b, strict=False) if x != y]
        assert differ == ([] if row == 0 else [("-5v", "nc")])


@pytest.mark.parametrize("name", TABLE["colours"]["atx"]["parts"])
def test_colours_of_supply_plugs(name: str) -> None:
    """The colours of a PC supply are those published, on every plug of it."""
    code = TABLE["colours"]["atx"]
    found = plug(name)
    for pin, signal in pins(name).items():
        if signal in code:
            assert (found.colours or {}).get(pin) == code[signal], pin
    assert {pin for pin in found.colours or {} if pins(name)[pin] not in code} == set()


@pytest.mark.parametrize("name", ["fan-3", "fan-4"])
def test_colours_of_fans(name: str) -> None:
    """Each colour that a fan pin may have by the shelf is of one of the two published sets."""
    for pin, colours in (plug(name).colours or {}).items():
        allowed = {one[pins(name)[pin]] for one in TABLE["colours"]["fans"]["sets"]}
        assert set(colours.split(" or ")) <= allowed, pin


@pytest.mark.parametrize("case", ["X1", "X2"])
def test_wrong_pinouts(case: str) -> None:
    """X1, X2: what is published wrongly is not what the shelf says: no pin list of these agrees with it."""
    wrong = TABLE[case]
    found = pins(wrong["part"])
    for claim in wrong["wrong"]:
        assert [pin for pin, signal in found.items() if signal == claim["signal"]] != claim["pins"]
        assert any(found[pin] != claim["signal"] for pin in claim["pins"])


def found_in(text: str) -> list[str]:
    """Return the rules that find an error or a warning in a plan."""
    plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
    return [
        f.rule
        for f in judge(plan, BOOK, datetime.date(2026, 1, 1)).findings
        if f.level in ("error", "warning")
    ]


_START = """
[[feed]]
id = "psu"
amps = "20 A"
volts = "12 V"
[[feed.connector]]
id = "main"
plug = "{plug}"
[[harness]]
id = "start"
[[harness.wire]]
from = "psu.main.{pin}"
to = "psu.main.{to}"
gauge = "22 AWG"
length = "60 mm"
"""


@pytest.mark.parametrize(("name", "pin"), TABLE["X10"]["parts"].items())
def test_x10_supply_is_started_by_ground(name: str, pin: str) -> None:
    """X10: PS_ON# is active low: a wire from its pin to ground starts the supply; 5 V there is wrong."""
    ground = next(p for p, signal in pins(name).items() if signal == "gnd")
    plus = next(p for p, signal in pins(name).items() if signal == "5v")
    assert not [
        rule for rule in found_in(_START.format(plug=name, pin=pin, to=ground)) if rule.startswith("pins.")
    ]
    assert [rule for rule in found_in(_START.format(plug=name, pin=pin, to=plus)) if rule.startswith("pins.")]


def test_x13_a_colour_is_never_read() -> None:
    """X13: yellow on +12 V and yellow on tach are both taken for what the pins say, not for the colour."""
    text = """
[[feed]]
id = "f"
volts = "12 V"
amps = "2 A"
[[feed.connector]]
id = "out"
pins = {{1 = "12v", 2 = "gnd", 3 = "tach"}}
[[fan]]
id = "fan"
part = "fan-80x25-12v"
from = "f"
[[harness]]
id = "h"
gauge = "22 AWG"
length = "100 mm"
[[harness.wire]]
from = "f.out.1"
to = "fan.2"
colour = "{}"
[[harness.wire]]
from = "f.out.2"
to = "fan.1"
colour = "black"
[[harness.wire]]
from = "f.out.3"
to = "fan.3"
colour = "{}"
"""
    right = [rule for rule in found_in(text.format("red", "yellow")) if rule.startswith("pins.")]
    assert (
        right == [rule for rule in found_in(text.format("yellow", "green")) if rule.startswith("pins.")] == []
    )
    wrong = text.replace("fan.3", "fan.9").replace("fan.2", "fan.3").replace("fan.9", "fan.2")
    assert [r for r in found_in(wrong.format("yellow", "yellow")) if r.startswith("pins.")] != []


def test_x14_a_fit_proves_nothing() -> None:
    """X14: the same coaxial plug with 5, 9 and 12 V in one box is told."""
    text = ""
    for n, volts in enumerate(TABLE["X14"]["volts"]):
        text += f'[[feed]]\nid = "f{n}"\nvolts = "{volts}"\nplug = "{TABLE["X14"]["part"]}"\ncentre = "positive"\n'
        text += (
            f'[[switch]]\nid = "s{n}"\nfrom = "f{n}"\nplug = "{TABLE["X14"]["part"]}"\ncentre = "positive"\n'
        )
    assert "polarity.mixed_plugs" in found_in(text)
    alike = text.replace('"9 V"', '"5 V"').replace('"12 V"', '"5 V"')
    assert "polarity.mixed_plugs" not in found_in(alike)

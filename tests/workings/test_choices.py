"""Where on a way most of the volts are lost, by hand."""

from __future__ import annotations

from typing import Any

from coldcheck.workings.choices import most_lost, way_told
from coldcheck.workings.power import Arrival

SOLDERED = '[[part]]\nid = "s"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
FEED = '[[feed]]\nid = "f"\nvolts = "12 V"\nspread = "0 %"\nplug = "s"\n'
BAR = '[[inline]]\nid = "bar"\nwhat = "{what}"\nfrom = "f"\nplug = "s"\nlead = "{lead}"\n'
OUT = '[[inline.outlet]]\nid = "out"\nplug = "s"\n'
NODE = '[[node]]\nid = "{id}"\n{hangs}\nplug = "s"\npeak = "{amps}"\nload = "current"\nlead = "{lead}"\n'


def arrival(worked: Any, text: str, name: str) -> Arrival:
    """Return what arrives at an inlet of a plan."""
    made = worked(SOLDERED + FEED + text)
    found: Arrival = next(a for a in made.working("arrivals") if a.name == name)
    return found


def test_own_lead_takes_most(worked: Any) -> None:
    """2 A through 10 mohm to the bar, 1 A through 50 mohm from there on."""
    text = BAR.format(what="switch", lead="10 mohm") + OUT
    text += "".join(NODE.format(id=n, hangs='from = "bar"', amps="1 A", lead="50 mohm") for n in ("a", "b"))
    assert most_lost(arrival(worked, text, "a")).name == "a"


def test_lead_before_takes_most(worked: Any) -> None:
    """10 A through 10 mohm to the bar lose 100 mV, and 1 A through 50 mohm only half of that."""
    text = (
        BAR.format(what="switch", lead="10 mohm")
        + OUT
        + NODE.format(id="a", hangs='from = "bar"', amps="1 A", lead="50 mohm")
    )
    text += NODE.format(id="b", hangs='from = "bar"', amps="9 A", lead="0 ohm")
    assert most_lost(arrival(worked, text, "a")).thing.id == "bar"


def test_wire_back_takes_most(worked: Any) -> None:
    """10 A through 10 mohm of the wire back lose 100 mV; 1 A through the 40 mohm of the lead loses 20 mV each way."""
    text = BAR.format(what="return", lead="10 mohm")
    text += NODE.format(id="a", hangs='from = "f"\nback = "bar"', amps="1 A", lead="40 mohm")
    text += NODE.format(id="b", hangs='from = "f"\nback = "bar"', amps="9 A", lead="0 ohm")
    found = arrival(worked, text, "a")
    assert most_lost(found).thing.id == "bar", way_told(found)

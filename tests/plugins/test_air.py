"""The plugin on air: the heat of a box by hand, the flow by published figures, and how a site loads it."""

from __future__ import annotations

from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.running import _Run
from coldcheck.testing import main

SOLDERED = '[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
FEED = '[[feed]]\nid = "f"\nvolts = "12 V"\nspread = "0 %"\namps = "90 A"\nplug = "soldered"\n'


@pytest.fixture(scope="module")
def heat() -> Any:
    """Give a function that reads a plan and returns the heat of its box."""
    book = ours.rulebook([ours.folder("plugins")], entry_points=False)
    assert not book.broken

    def make(text: str) -> Any:
        plan = ours.read_plan("t.toml", (SOLDERED + FEED + text).encode(), ours.shelf(book))
        assert not plan.faults, plan.faults
        return _Run(plan, book).working("box_heat")

    return make


def thing(id: str, draw: str, source: str = "f", table: str = "node", lead: str = "0 ohm") -> str:
    """Return a thing that hangs on a source."""
    return f'[[{table}]]\nid = "{id}"\nfrom = "{source}"\nplug = "soldered"\nlead = "{lead}"\n{draw}\n'


SUPPLY = (
    '[[supply]]\nid = "s"\nfrom = "f"\nplug = "soldered"\nlead = "0 ohm"\nefficiency = "80 %"\nstanding = "1 W"\n'
    '[[supply.rail]]\nid = "o"\nvolts = "5 V"\nplug = "soldered"\n'
)


def test_all_power_becomes_heat(heat: Any) -> None:
    """What feeds give stays as heat, loss of converters and wires included: 40 W behind 80 % and 1 W make 51 W."""
    found = heat(SUPPLY + thing("n1", 'peak = "40 W"', "s.o"))
    assert found.watts == pytest.approx(51)
    assert found.missing == ()


def test_work_counts_and_not_the_start(heat: Any) -> None:
    """A start of seconds does not warm a box: what is drawn once all is up counts, at its peak."""
    assert heat(thing("n1", 'peak = "40 W"\nsurge = "90 W for 9 s"')).watts == pytest.approx(40)


def test_what_stands_outside_takes_its_heat_with_it(heat: Any) -> None:
    """Outside, a thing takes what reaches it; what is lost before it, in converter and lead, stays.

    5 V at 1 A through 1 ohm: 4 W arrive, 1 W is lost in the lead, and 5 W cost 6.25 W and 1 W before the converter.
    """
    lamp = thing("lamp", 'peak = "1 A"\nload = "current"\nin_box = false', "s.o", "appliance", "1 ohm")
    found = heat(SUPPLY + lamp)
    assert found.taken == pytest.approx(7.25)
    assert found.watts == pytest.approx(3.25)
    assert found.outside == (("lamp", pytest.approx(4)),)


def test_what_it_hands_on_comes_back(heat: Any) -> None:
    """A thing outside that feeds one inside by a lead takes only its own share with it."""
    radio = thing("radio", 'peak = "4 W"\nin_box = false', "f", "appliance")
    radio += '[[appliance.outlet]]\nid = "o"\nkind = "pass-through"\nplug = "soldered"\n'
    assert heat(radio + thing("n1", 'peak = "6 W"', "radio.o")).watts == pytest.approx(6)


@pytest.mark.parametrize(("stays", "left"), [("true", 10 + 6 / 0.8), ("false", 10 + 6 * 0.2 / 0.8)])
def test_a_camera_takes_its_power_out(heat: Any, stays: str, left: float) -> None:
    """A thing fed by PoE from outside leaves the step-up's loss behind, and takes the rest along with its cable's."""
    switch = thing("sw", 'peak = "10 W"\nports = 2\npoe_efficiency = "80 %"', table="switch")
    switch += '[[switch.port]]\nid = "1"\npoe = "type 1"\n'
    cam = '[[appliance]]\nid = "cam"\npoe = "class 2"\nport = "sw.1"\ncable = "cat 5e, 1 m"\npeak = "6 W"\n'
    cam += f"in_box = {stays}\n"
    assert heat(switch + cam).watts == pytest.approx(left, rel=0.003)


def test_a_drive_goes_with_its_carrier(heat: Any) -> None:
    """Drives in a carrier that stands outside are outside, unless they say otherwise."""
    carrier = thing(
        "c", 'volts = "12 V"\npeak = "3 W"\nload = "power"\nbays = 2\nin_box = false', table="storage"
    )
    drive = '[[drive]]\nid = "d1"\nbay = "c.1"\nvolts = "12 V"\npeak = "5 W"\nload = "power"\nmotor = false\n'
    assert heat(carrier + drive).watts == pytest.approx(0, abs=0.1)
    assert heat(carrier + drive + "in_box = true\n").watts == pytest.approx(5, rel=0.02)


def test_what_brings_its_own_power_counts_where_it_is_said_to_be_inside(heat: Any) -> None:
    """A box with its own plug adds nothing, unless the plan puts it into the box; 2 A at 11 V to 13 V make 24 W."""
    base = thing("n1", 'peak = "40 W"')
    own = '[[node]]\nid = "n2"\nown_power = true\npeak = "2 A"\nload = "current"\nvolts = "11 V .. 13 V"\n'
    assert heat(base + own).watts == pytest.approx(40)
    assert heat(base + own).missing == ()
    assert heat(base + own + "in_box = true\n").watts == pytest.approx(64)
    found = heat(base + '[[node]]\nid = "n2"\nown_power = true\nin_box = true\n')
    assert (found.watts, found.missing) == (pytest.approx(40), ("n2 peak",))


def test_holes_are_named(heat: Any) -> None:
    """A draw that is not stated, and a thing that nothing feeds, make the heat a lower bound; outside they do not."""
    found = heat(thing("n1", 'idle = "4 W"') + '[[node]]\nid = "n2"\npeak = "5 W"\n')
    assert found.missing == ("n1 peak", "n2 from")
    assert found.watts == pytest.approx(4)
    assert heat(thing("n1", 'peak = "4 W"') + '[[node]]\nid = "n2"\nin_box = false\n').missing == ()


def judged(run: Any, write: Any, text: str, *more: str) -> str:
    """Return what a lint with the plugins says of a plan."""
    return str(run("lint", write(SOLDERED + text), "--only", "air", *more).stdout)


FAN = 'rated = "12 V"\nflow = "5 CFM"\npeak = "0 A"\n'


@pytest.mark.parametrize(("watts", "rise", "cfm"), [(100, 35, 5.02), (500, 15, 58.6)])
def test_the_flow_is_the_published_one(run: Any, write: Any, watts: int, rise: int, cfm: float) -> None:
    """100 W at 35 K take 5.02 CFM and 500 W at 15 K 58.6, not 2.64 and 30.86 (air flow articles, corrected)."""
    head = f'[plan]\nambient = "20 degC"\nair_rise = "{rise} K"\n'
    text = head + FEED + thing("n1", f'peak = "{watts} W"') + thing("fan1", FAN, table="fan")
    said = judged(run, write, text, "--rules", str(ours.folder("plugins")))
    needed = float(said.split(" CFM) is needed")[0].rpartition("(")[2])
    assert needed == pytest.approx(cfm, rel=0.02)


def test_fans_side_by_side_add_up(run: Any, write: Any) -> None:
    """Two fans do where one does not; and the finding says what would do instead."""
    head = '[plan]\nambient = "20 degC"\nair_rise = "35 K"\n'
    text = head + FEED + thing("n1", 'peak = "50 W"') + thing("fan1", FAN, table="fan")
    rules = ("--rules", str(ours.folder("plugins")))
    said = judged(run, write, text, *rules)
    assert "warning: the fans move 4.2 m3/h (2.5 CFM) at worst" in said
    assert "fans of 8.5 m3/h (5.0 CFM) in free air together" in said
    assert "air." not in judged(run, write, text + thing("fan2", FAN, table="fan"), *rules)


def test_it_runs_only_where_it_is_named(run: Any, write: Any) -> None:
    """The rules on air are a site's: without the folder they are not there."""
    result = run("lint", write(FEED + '[[node]]\nid = "n"\nfrom = "f"\npeak = "50 W"\n'))
    assert "air." not in result.stdout


def test_its_cases_run_as_a_site_runs_them(capsys: pytest.CaptureFixture[str]) -> None:
    """The folder passes by the command that a site uses for its own rules."""
    assert main([str(ours.folder("plugins"))]) == 0
    assert ": 0 failed" in capsys.readouterr().out

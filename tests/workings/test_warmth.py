"""Heat and rise of converters in whole plans, against published examples and the balance of power."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.running import _Run
from coldcheck.workings.power import Loading, settled
from coldcheck.workings.warmth import Warmth

FOLDER = Path(__file__).parents[1] / "reference" / "power"
CONVERTERS: dict[str, Any] = tomllib.loads((FOLDER / "converters.toml").read_text(encoding="utf-8"))
EXAMPLES: dict[str, Any] = tomllib.loads((FOLDER / "examples.toml").read_text(encoding="utf-8"))
BOOK = ours.rulebook(entry_points=False)

PLAN = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "f"
volts = "18 V"
plug = "soldered"
[[supply]]
id = "s"
from = "f"
plug = "soldered"
lead = "0 ohm"
{supply}
[[supply.rail]]
id = "out"
volts = "{volts} V"
{rail}
[[node]]
id = "n"
from = "s.out"
peak = "{amps} A"
load = "current"
{node}
"""


def run(supply: str, volts: float = 5.0, amps: float = 3.0, rail: str = "", node: str = "") -> _Run:
    """Return a plan of one converter with one load, ready for its workings."""
    text = PLAN.format(supply=supply, volts=volts, amps=amps, rail=rail, node=node)
    plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
    assert not plan.faults, plan.faults
    return _Run(plan, BOOK)


def warm(supply: str, volts: float = 5.0, amps: float = 3.0, rail: str = "", node: str = "") -> Warmth:
    """Return the warmth of the converter of such a plan."""
    found: dict[str, Warmth] = run(supply, volts, amps, rail, node).working("warmth")
    return found["s"]


def test_e17_a_step_down_by_its_data_sheet() -> None:
    """E17: 5 V 3 A at 80 % leave 3.75 W: 187.5 K at 50 K/W, which no part bears, and 75 K at 20 K/W."""
    row = CONVERTERS["E17"]
    found = warm('efficiency = "80 %"\nwarms = "50 K/W"\nwarms_with_sink = "20 K/W"')
    assert found.heat == pytest.approx(EXAMPLES["E17"]["recomputed_loss_w"])
    assert [found.bare, found.sunk] == pytest.approx(row["recomputed_rise_k"])
    assert found.rise(False) == found.bare
    assert found.rise(True) == found.sunk


def test_e16_an_overheating_step_down() -> None:
    """E16: 5 V 1 A at 75 % leave 1.67 W, 109 K at 65 K/W (published; 108.3 K by its own figures)."""
    row = EXAMPLES["E16"]
    found = warm('efficiency = "75 %"\nwarms = "65 K/W"', amps=1.0)
    assert found.heat == pytest.approx(row["published_loss_w"], abs=0.005)
    assert found.bare == pytest.approx(row["published_rise_k"], abs=1.0)
    assert found.sunk is None


def test_e14_heat_of_a_step_down() -> None:
    """E14: 3.3 V 2 A at 90 % leave 0.73 W."""
    row = EXAMPLES["E14"]
    found = warm('efficiency = "90 %"', volts=3.3, amps=2.0)
    assert found.heat == pytest.approx(row["published_loss_w"], abs=0.005)


@pytest.mark.parametrize(
    ("supply", "rail"),
    [
        ('efficiency = "80 %"\nstanding = "0.5 W"', ""),
        ('efficiency = "84 % at 1 A, 92 % at 10 A"', ""),
        ('efficiency = "70 % at 5 W, 90 % at 50 W"', ""),
        ("", 'efficiency = "70 % at 5 W, 90 % at 50 W"'),
    ],
)
def test_what_comes_in_goes_out_or_stays(supply: str, rail: str) -> None:
    """The feed gives what the rail gives and the heat, whatever the efficiency is a curve of, and whoever states it."""
    whole = run(supply, rail=rail)
    loading: Loading = whole.working("loading")
    found = whole.working("warmth")["s"]
    assert found.given == pytest.approx(15.0)
    assert settled(loading.nets["f"].worst.watts) == pytest.approx(found.given + found.heat)


def test_a_short_start_does_not_warm() -> None:
    """A surge of ten seconds is left out, one of two minutes counts."""
    short = warm('efficiency = "80 %"', node='surge = "6 A for 10 s"')
    long = warm('efficiency = "80 %"', node='surge = "6 A for 120 s"')
    assert [short.heat, long.heat] == pytest.approx([3.75, 7.5])


def test_a_missing_efficiency_is_named() -> None:
    """Without an efficiency the heat is a lower bound, the standing draw alone, and the figure is named."""
    found = warm('standing = "0.5 W"')
    assert found.heat == pytest.approx(0.5)
    assert found.least
    assert found.missing == ("s.out efficiency",)


def test_a_missing_draw_makes_a_lower_bound() -> None:
    """Where a board states no peak, the heat is a lower bound, though nothing of the converter is missing."""
    found = warm('efficiency = "80 %"', node='[[node]]\nid = "n2"\nfrom = "s.out"\nasks = "3 A"')
    assert found.least
    assert found.missing == ()


def test_volts_unknown_make_a_lower_bound() -> None:
    """A rail whose volts are not said is not solved: its heat is not known to be nothing."""
    text = PLAN.format(supply='efficiency = "80 %"', volts=5, amps=3, rail="", node="").replace(
        'volts = "5 V"', ""
    )
    plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
    found = _Run(plan, BOOK).working("warmth")["s"]
    assert found.least
    assert found.heat == 0.0

"""Nets, amps and volts of whole plans, against worked examples and sums done by hand."""

from __future__ import annotations

from math import isclose
from typing import Any

import pytest

from coldcheck import ours
from coldcheck.workings.power import Loading, Net

SOLDERED = '[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'


@pytest.fixture(scope="module")
def workings(worked: Any) -> Any:
    """Give a function that reads a plan and returns one of its workings."""
    return lambda text, name: worked(SOLDERED + text).working(name)


FEED = """
[[feed]]
id = "f"
volts = "{volts}"
amps = "50 A"
plug = "soldered"
"""

LOAD = """
[[node]]
id = "{id}"
from = "{source}"
plug = "soldered"
lead = "{lead}"
peak = "{peak}"
load = "{load}"
"""

CONVERTER = """
[[supply]]
id = "s"
from = "f"
lead = "0 ohm"
plug = "soldered"
efficiency = "{efficiency}"
[[supply.rail]]
id = "out"
volts = "{volts}"
plug = "soldered"
"""


def amps_of(loading: Loading, name: str) -> float:
    """Return the amps out of a source in the worst corner, once everything is up."""
    return loading.nets[name].worst.total[-1][1]


@pytest.mark.parametrize(
    ("volts_in", "volts_out", "amps", "efficiency", "expected"),
    [
        # E13: buck input current, 12 -> 5 V 2 A at 90 % and 24 -> 12 V 3 A at 92 % (engcal.online; read)
        ("12 V", "5 V", "2 A", "90 %", 0.9259),
        ("24 V", "12 V", "3 A", "92 %", 1.6304),
        # E14: 12 -> 3.3 V 2 A at 90 %: 0.611 A (theprimecalculator.com; read)
        ("12 V", "3.3 V", "2 A", "90 %", 0.6111),
        # E15: step-up 5 -> 12 V, 0.99 A at 79.75 %: 2.98 A (step-up module user manual p. 3; read)
        ("5 V", "12 V", "0.99 A", "79.75 %", 2.979),
        # E17: 12 -> 5 V 3 A at 80 %: 1.5625 A (data sheet of a 3 A step-down converter, 7.5; computed)
        ("12 V", "5 V", "3 A", "80 %", 1.5625),
    ],
)
def test_converter_input(
    workings: Any, volts_in: str, volts_out: str, amps: str, efficiency: str, expected: float
) -> None:
    """A converter asks its feed for what it gives, divided by its efficiency and the volts it gets."""
    plan = FEED.format(volts=volts_in) + CONVERTER.format(efficiency=efficiency, volts=volts_out)
    plan += LOAD.format(id="n", source="s.out", lead="0 ohm", peak=amps, load="current")
    assert amps_of(workings(plan, "loading"), "f") == pytest.approx(expected, rel=2e-4)


def test_eight_boards(workings: Any) -> None:
    """E23: eight boards of 3 A at 5 V want 120 W (public note on powering eight boards; read, second-hand)."""
    plan = FEED.format(volts="5 V") + LOAD.format(
        id="n1 .. n8", source="f", lead="0 ohm", peak="3 A", load="current"
    )
    assert amps_of(workings(plan, "loading"), "f") * 5 == pytest.approx(120.0)


def test_hub_supply(workings: Any) -> None:
    """E24: a hub of four 0.9 A ports wants 18 W, 1.5 A from 12 V (a hub maker's page on supplies; read)."""
    plan = FEED.format(volts="12 V") + CONVERTER.format(efficiency="100 %", volts="5 V")
    plan += LOAD.format(id="p1 .. p4", source="s.out", lead="0 ohm", peak="0.9 A", load="current")
    assert amps_of(workings(plan, "loading"), "f") == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("five", "twelve", "watts"),
    [
        # E20: drive power from its rails (3.5 in video-class SATA manual rev B table 2; read)
        (0.415, 0.272, 5.339),
        (0.641, 0.397, 7.969),
        # E21: start power (3.5 in server SATA manual rev D table 4; read)
        (0.36, 2.03, 26.16),
        (0.55, 2.59, 33.83),
    ],
)
def test_drive_power(workings: Any, five: float, twelve: float, watts: float) -> None:
    """A drive's power is the sum over its rails of volts times amps."""
    plan = "".join(
        FEED.format(volts=f"{volts} V").replace('"f"', f'"f{volts}"')
        + LOAD.format(id=f"d{volts}", source=f"f{volts}", lead="0 ohm", peak=f"{amps} A", load="current")
        for volts, amps in ((5, five), (12, twelve))
    )
    loading = workings(plan, "loading")
    assert amps_of(loading, "f5") * 5 + amps_of(loading, "f12") * 12 == pytest.approx(watts, abs=2e-3)


DRIVES = """
[[drive]]
id = "d1 .. d4"
from = "f"
plug = "soldered"
lead = "0 ohm"
surge = "2.03 A for 10 s"
peak = "0.20 A"
waiting = "0.20 A"
start = "host"
{delay}
"""


def test_spin_up_together_and_apart(workings: Any) -> None:
    """E22: four drives start with 8.12 A at once, with 2.63 A apart (currents of the server manual; computed)."""
    together = workings(FEED.format(volts="12 V") + DRIVES.format(delay=""), "loading")
    assert max(a for _, a in together.nets["f"].worst.total) == pytest.approx(8.12)
    keeper = '[[node]]\nid = "host"\nfrom = "f"\npeak = "0 A"\nplug = "soldered"\nlead = "0 ohm"\n'
    apart = 'delay = "0 s .. 36 s by 12 s"\nkept_by = "host"'
    staggered = workings(FEED.format(volts="12 V") + keeper + DRIVES.format(delay=apart), "loading")
    assert max(a for _, a in staggered.nets["f"].worst.total) == pytest.approx(2.63)


def test_whole_harness(workings: Any) -> None:
    """E32: 5.10 V, 0.5 m of solid 20 AWG, four aged contacts of 20 mohm, 3 A: 4.760 V arrive (computed there)."""
    plan = """
[plan]
ambient = "20 degC"
[[part]]
id = "aged"
kind = "plug"
ohms = "20 mohm"
aged = "20 mohm"
[[feed]]
id = "f"
volts = "5.1 V"
plug = "aged"
[[node]]
id = "n"
from = "f"
plug = "aged"
lead = "20 AWG, 500 mm, solid"
peak = "3 A"
load = "current"
"""
    net: Net = workings(plan, "nets")["f"]
    assert net.nominal.volts[0] == pytest.approx(4.760, abs=5e-4)
    assert net.worst.volts[0] < net.nominal.volts[0], "the worst corner is hotter"


def test_published_drop(workings: Any) -> None:
    """E1: 12 V, 20 m of 1.3 mm2 one way, 1 A: 0.549 V at 0.01785 ohm mm2/m (12 V drop page; read).

    Copper of IEC 60028 with 2 % for the strands has 0.01759 ohm mm2/m, so 1.5 % less is lost.
    """
    plan = '[plan]\nambient = "20 degC"\n' + FEED.format(volts="12 V")
    plan += LOAD.format(id="n", source="f", lead="1.3 mm2, 20 m", peak="1 A", load="current")
    net: Net = workings(plan, "nets")["f"]
    assert 12 - net.nominal.volts[0] == pytest.approx(0.549 * 0.017241 * 1.02 / 0.01785, rel=1e-3)


def test_power_balance_of_the_middling_plan(workings: Any) -> None:
    """What every source gives is what its loads take and its wires lose, in each corner, to 1e-9."""
    text = (ours.folder("inventories") / "gorse-hill.toml").read_text()
    for net in workings(text, "nets").values():
        for corner, at in ((0, float("inf")), (1, float("inf"))):
            watts, lost, taken = _balance(net, corner, at)
            assert isclose(watts, lost + taken, rel_tol=1e-9, abs_tol=1e-12), net.name


def _balance(net: Net, corner: int, at: float) -> tuple[float, float, float]:
    from coldcheck.workings.corners import LOW, NOMINAL, loads_at, solve_at
    from coldcheck.workings.net import source_volts

    pick = (NOMINAL, LOW)[corner]
    loads = loads_at(net, at, pick[2])
    solved = solve_at(net, at, pick)
    volts = source_volts(net.root)
    assert volts is not None
    ohms = [b.ohms.worst if corner else b.ohms.nominal for b in net.branches]
    lost = sum(a * a * r for a, r in zip(solved.amps, ohms, strict=True))
    taken = sum(w + a * v + s * v * v for w, a, s, v in zip(*loads, solved.volts, strict=True))
    return volts[corner] * solved.total, lost, taken


def test_shared_run(workings: Any) -> None:
    """Boards behind one shared run lower each other: 3 × 1 A through 0.1 ohm, then 1 A through 0.05 ohm."""
    plan = FEED.format(volts="5 V")
    plan += '[[inline]]\nid = "run"\nwhat = "run"\nfrom = "f"\nplug = "soldered"\nlead = "0.1 ohm"\n'
    plan += '[[inline.outlet]]\nid = "a"\nkind = "pass-through"\nplug = "soldered"\n'
    plan += LOAD.format(id="n1 .. n3", source="run.a", lead="0.05 ohm", peak="1 A", load="current")
    net: Net = workings(plan, "nets")["f"]
    volts = {b.inlet.thing.id: v for b, v in zip(net.branches, net.nominal.volts, strict=True)}
    assert volts["run"] == pytest.approx(5 - 0.3)
    assert volts["n2"] == pytest.approx(5 - 0.3 - 0.05)


def test_measured_counts_before_peak(workings: Any) -> None:
    """A reading of a busy board counts in place of its peak, one of an idle board does not."""
    plan = FEED.format(volts="5 V") + LOAD.format(
        id="n", source="f", lead="0 ohm", peak="3 A", load="current"
    )
    busy = '[[node.measured]]\nstate = "{}"\ndraw = "1.1 A"\n'
    assert amps_of(workings(plan + busy.format("busy"), "loading"), "f") == pytest.approx(1.1)
    assert amps_of(workings(plan + busy.format("idle"), "loading"), "f") == pytest.approx(3.0)


def test_recommendation_is_no_load(workings: Any) -> None:
    """What a maker recommends as a supply is never used as a load."""
    plan = FEED.format(volts="5 V") + '[[node]]\nid = "n"\nfrom = "f"\nasks = "3 A"\n'
    loading = workings(plan, "loading")
    assert amps_of(loading, "f") == 0.0
    assert loading.missing["f"] == ["n peak"]

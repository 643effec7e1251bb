"""Corners, moulded leads and surges of whole plans, against sums done by hand and an independent solution."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import optimize

from coldcheck import ours
from coldcheck.engine.running import _Run
from coldcheck.workings.net import Net, source_volts
from coldcheck.workings.power import settled

SOLDERED = '[[part]]\nid = "s"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
NODE = '[[node]]\nid = "{}"\nfrom = "{}"\nplug = "s"\nlead = "{}"\npeak = "{}"\nload = "{}"\n'


@pytest.fixture(scope="module")
def loaded(worked: Any) -> Any:
    """Give a function that reads a plan and returns its loading."""
    return lambda text: worked(SOLDERED + text).working("loading")


def lowest(net: Net, name: str) -> float:
    """Return the lowest volts at a thing."""
    return next(
        v
        for b, v in zip(net.branches, net.worst.volts, strict=True)
        if b.inlet.thing.id == name and b.inlet.id == ""
    )


def test_moulded_lead_is_shared(loaded: Any) -> None:
    """Three things of 2 A at the end of one moulded lead pull 6 A through it: 0.0625 ohm each way make 0.375 V × 3."""
    feed = '[[feed]]\nid = "f"\nvolts = "12 V"\nplug = "s"\nlead = "0.1875 ohm"\n'
    net = loaded(feed + NODE.format("n1 .. n3", "f", "0 ohm", "2 A", "current")).nets["f"]
    assert lowest(net, "n2") == pytest.approx(12 - 6 * 0.1875)


def test_resistance_draws_most_at_the_highest_volts(loaded: Any) -> None:
    """4 ohm on 11 .. 14 V take 3.5 A, not the 2.75 A of the lowest volts."""
    feed = '[[feed]]\nid = "f"\nvolts = "12 V"\nlow = "11 V"\nhigh = "14 V"\nplug = "s"\n'
    net = loaded(feed + NODE.format("n", "f", "0 ohm", "4 ohm", "resistance")).nets["f"]
    assert net.worst.total[-1][1] == pytest.approx(3.5)
    assert net.worst.watts[-1][1] == pytest.approx(49.0)
    assert lowest(net, "n") == pytest.approx(11.0)


def test_constant_power_is_constant_in_watts(loaded: Any) -> None:
    """95 W on 21 .. 28.8 V ask a source for 95 W in every corner, and for most amps at the lowest volts."""
    feed = '[[feed]]\nid = "f"\nvolts = "24 V"\nlow = "21 V"\nhigh = "28.8 V"\nplug = "s"\n'
    net = loaded(feed + NODE.format("n", "f", "0 ohm", "95 W", "power")).nets["f"]
    assert net.worst.watts[-1][1] == pytest.approx(95.0)
    assert net.worst.total[-1][1] == pytest.approx(95 / 21)


def test_fan_on_a_high_rail_loads_its_feed(loaded: Any) -> None:
    """2 A from a 5 V rail that strays by 4 % take 10.4 W, so 0.8667 A of a 12 V feed."""
    plan = '[[feed]]\nid = "f"\nvolts = "12 V"\nplug = "s"\n'
    plan += '[[supply]]\nid = "c"\nfrom = "f"\nplug = "s"\nlead = "0 ohm"\nefficiency = "100 %"\n'
    plan += '[[supply.rail]]\nid = "5v"\nvolts = "5 V"\nspread = "4 %"\nplug = "s"\n'
    net = loaded(plan + NODE.format("n", "c.5v", "0 ohm", "2 A", "current")).nets["f"]
    assert net.worst.total[-1][1] == pytest.approx(10.4 / 12)
    assert net.nominal.total[-1][1] == pytest.approx(10.0 / 12)


def test_what_an_inline_outlet_gives_is_known_in_time(loaded: Any) -> None:
    """Behind a block, two drives that start apart give 2 A + 0.5 A at the second start, and 1 A for good."""
    plan = '[[feed]]\nid = "f"\nvolts = "12 V"\nplug = "s"\n[[node]]\nid = "h"\nfrom = "f"\npeak = "0 A"\n'
    plan += '[[inline]]\nid = "b"\nwhat = "splitter"\nfrom = "f"\nplug = "s"\nlead = "0 ohm"\n'
    plan += '[[inline.outlet]]\nid = "a"\nkind = "pass-through"\nplug = "s"\n'
    plan += '[[drive]]\nid = "d1 .. d2"\nfrom = "b.a"\nplug = "s"\nlead = "0 ohm"\nsurge = "2 A for 10 s"\n'
    plan += 'peak = "0.5 A"\nwaiting = "0 A"\nstart = "host"\ndelay = "0 s .. 12 s by 12 s"\nkept_by = "h"\n'
    loading = loaded(plan)
    outlet = next(b.inlet.source for b in loading.nets["f"].branches if b.inlet.thing.id == "d1")
    assert loading.amps(outlet) == [(0.0, 2.0), (10.0, 0.5), (12.0, 2.5), (22.0, 1.0)]


def test_volts_behind_what_hands_them_on(loaded: Any) -> None:
    """An outlet that hands power on has the volts of its source, whatever is written on it."""
    plan = '[[feed]]\nid = "f"\nvolts = "19 V"\nplug = "s"\n'
    plan += '[[inline]]\nid = "b"\nwhat = "run"\nfrom = "f"\n[[inline.outlet]]\nid = "a"\nvolts = "12 V"\n'
    loading = loaded(plan + NODE.format("n", "b.a", "0 ohm", "1 A", "current"))
    outlet = next(b.inlet.source for b in loading.nets["f"].branches if b.inlet.thing.id == "n")
    assert source_volts(outlet) == (19.0, 19.0, 19.0)


@pytest.mark.parametrize(
    "steps, level",
    [
        ([], 0.0),
        ([(0.0, 5.0)], 5.0),
        ([(0.0, 9.0), (10.0, 5.0)], 5.0),
        ([(0.0, 9.0), (60.0, 5.0)], 5.0),  # exactly a minute is short
        ([(0.0, 9.0), (60.1, 5.0)], 9.0),
        # eight steps of ten seconds are one spell of eighty: the least of them lasts
        ([(10.0 * i, 9.0 + i / 10) for i in range(8)] + [(80.0, 7.0)], 9.1),
        ([(0.0, 1.0), (5.0, 9.0), (10.0, 2.0)], 2.0),
    ],
)
def test_settled(steps: list[tuple[float, float]], level: float) -> None:
    """The settled level is the highest that is held, unbroken, for more than a minute."""
    assert settled(steps) == pytest.approx(level)


def test_middling_plan_against_an_independent_solution() -> None:
    """Every net of the middling plan, solved as one dense system by a root finder of another library, agrees."""
    book = ours.rulebook(entry_points=False)
    text = (ours.folder("inventories") / "gorse-hill.toml").read_bytes()
    plan = ours.read_plan("gorse-hill.toml", text, ours.shelf(book))
    nets: dict[str, Net] = _Run(plan, book).working("nets")
    assert len(nets) >= 4
    for net in nets.values():
        volts = source_volts(net.root)
        assert volts is not None
        solved = _independent(net, volts[0])
        assert net.nominal.total[-1][1] == pytest.approx(solved, rel=1e-7), net.name


def _independent(net: Net, volts: float) -> float:
    """Return the amps out of a source once all is up, by Kirchhoff's current law at every node."""
    n = len(net.branches)
    ohms = np.array([max(b.ohms.nominal, 1e-9) for b in net.branches])

    def drawn(i: int, v: float) -> float:
        branch = net.branches[i]
        unit = branch.draw.unit
        value = branch.draw.value
        own = value / v if unit == "W" else value if unit == "A" else v / value
        return own + (branch.extra[0][-1][1] / v if branch.extra else 0.0)

    def balance(v: np.ndarray) -> np.ndarray:
        above = np.array([volts if b.parent < 0 else v[b.parent] for b in net.branches])
        into = (above - v) / ohms
        rest = into - np.array([drawn(i, v[i]) for i in range(n)])
        for i, branch in enumerate(net.branches):
            if branch.parent >= 0:
                rest[branch.parent] -= into[i]
        scaled: np.ndarray = rest * ohms.max()
        return scaled

    found = optimize.root(balance, np.full(n, volts), method="hybr", tol=1e-13)
    v = found.x
    return float(sum((volts - v[i]) / ohms[i] for i, b in enumerate(net.branches) if b.parent < 0))


@pytest.mark.parametrize(("fuse", "nominal", "worst"), [
    ("1 A iec-slow", 0.117, 0.155), ("2 A iec-slow", 0.045, 0.080), ("15 A blade", 0.0048, 0.0109),
])  # fmt: skip
def test_a_fuse_has_its_own_resistance(loaded: Any, fuse: str, nominal: float, worst: float) -> None:
    """An in-line fuse adds what is published (5 × 20 mm time-lag series 213; blades from memory), a holder 5 mohm.

    Warm it has more: 150 mV at 1 A and at 2 A, 102 mV at 15 A, of which three quarters flow. What it states
    counts before that. Of the holder: common practice.
    """
    text = '[[feed]]\nid = "f"\nvolts = "12 V"\nspread = "0 %"\nplug = "s"\n'
    text += f'[[inline]]\nid = "x"\nwhat = "fuse"\nfuse = "{fuse}"\nfrom = "f"\nplug = "s"\nlead = "0 ohm"\n'
    (branch,) = loaded(text).nets["f"].branches
    assert branch.ohms.nominal == pytest.approx(nominal, abs=6e-4)  # the table is rounded to a milliohm
    assert branch.ohms.worst == pytest.approx(worst, abs=6e-4)
    (branch,) = loaded(text + 'ohms = "7 mohm"\n').nets["f"].branches
    assert (branch.ohms.nominal, branch.ohms.worst) == (pytest.approx(0.007), pytest.approx(0.007))


FUSED = """
[[feed]]
id = "f"
volts = "12 V"
spread = "0 %"
plug = "s"
{feed}
[[inline]]
id = "block"
what = "fuse"
from = "f"
plug = "s"
lead = "0 ohm"
[[inline.outlet]]
id = "1"
plug = "s"
{outlet}
[[appliance]]
id = "a{many}"
from = "block.1"
plug = "s"
volts = "9 V .. 14 V"
peak = "1 A"
load = "current"
lead = "0 ohm"
"""


@pytest.mark.parametrize("many", ["", "1 .. a2"])
def test_the_fuse_of_an_outlet_loses_volts(loaded: Any, many: str) -> None:
    """3 A blade, cold 31.1 mohm, at 1 A: 31 mV nominally; two alike behind it lose twice as much, 62 mV."""
    net = loaded(FUSED.format(feed="", outlet='fuse = "3 A blade"', many=many)).nets["f"]
    amps = 2.0 if many else 1.0
    volts = net.nominal.volts[-1]
    assert 12.0 - volts == pytest.approx(amps * 0.0311, rel=1e-6)
    bare = loaded(FUSED.format(feed="", outlet="", many=many)).nets["f"]
    assert bare.nominal.volts[-1] == pytest.approx(12.0)
    warm = 0.0311 + (0.137 / 3 - 0.0311) * 0.75**2 + 0.005
    assert bare.worst.volts[-1] - net.worst.volts[-1] == pytest.approx(amps * warm, rel=1e-6)


def test_the_fuse_of_a_source_carries_all(loaded: Any) -> None:
    """5 A blade, cold 17.85 mohm, beside what the source has itself: 2 A through both."""
    two = FUSED.format(feed='fuse = "5 A blade"\nohms = "10 mohm"', outlet="", many="1 .. a2")
    net = loaded(two).nets["f"]
    assert 12.0 - net.nominal.volts[-1] == pytest.approx(2.0 * 0.02785, rel=1e-6)
    assert net.nominal.volts[-1] == net.nominal.volts[-2]

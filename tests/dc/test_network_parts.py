"""Diodes, converters, loads that let go, and collapse in the network solver."""

import itertools
import random
from typing import Any

import numpy as np
import pytest

from coldcheck.dc import drop, net_newton
from coldcheck.dc.circuit import Circuit, Columns, Converter, Diode, Load, Source, Wire
from coldcheck.dc.net_arrays import Arrays, Lists
from coldcheck.dc.net_columns import ArrayEquations
from coldcheck.dc.net_layout import Layout
from coldcheck.dc.net_lists import ListEquations
from coldcheck.dc.network import solve
from tests.dc import networks

METHODS = ("direct", "sparse")
pytestmark = pytest.mark.parametrize("method", METHODS)


def diode_circuit(seed: int) -> Circuit:
    """Make six nodes over one ground: sources and diodes between any of them, a linear load at each."""
    r = random.Random(seed)
    sources = [Source(i, 6, r.choice([5.0, 12.0, r.uniform(1, 12)]), r.uniform(0.05, 0.5)) for i in range(2)]
    ends = [r.sample(range(6), 2) for _ in range(r.randrange(1, 7))]
    diodes = [Diode(a, b, r.choice([0.0, 0.3, 0.7]), r.uniform(0.01, 0.2)) for a, b in ends]
    wires = [Wire(r.randrange(6), r.randrange(6), r.uniform(0.1, 1)) for _ in range(r.randrange(3))]
    loads = [Load(i, 6, siemens=r.uniform(0.01, 1)) for i in range(6)]
    return Circuit(7, wires, sources, diodes, loads)


def by_enumeration(c: Circuit) -> list[tuple[list[float], list[float]]]:
    """Try every set of conducting diodes, and keep the volts and diode amps of those that contradict nothing."""
    kept = []
    for on in itertools.product([False, True], repeat=len(c.diodes)):
        g, j = np.zeros((7, 7)), np.zeros(7)
        branches = [(w.a, w.b, 1 / w.ohms, 0.0) for w in c.wires]
        branches += [(s.plus, s.minus, 1 / s.ohms, s.volts) for s in c.sources]
        branches += [(d.plus, d.minus, d.siemens, 0.0) for d in c.loads]
        branches += [(d.anode, d.cathode, 1 / d.ohms, d.drop) for d, k in zip(c.diodes, on, strict=True) if k]
        for a, b, s, volts in branches:
            for at, to, sign in ((a, b, 1), (b, a, -1)):
                g[at, at] += s
                g[at, to] -= s
                j[at] += sign * s * volts
        v = [*np.linalg.solve(g[:6, :6], j[:6]), 0.0]
        amps = [(v[d.anode] - v[d.cathode] - d.drop) / d.ohms for d in c.diodes]
        if all((i > 0) == k for i, k in zip(amps, on, strict=True)):
            kept.append((v, [max(0.0, i) for i in amps]))
    return kept


def test_diodes_against_every_set_of_them(method: str) -> None:
    """Of all sets of conducting diodes just one contradicts nothing, and it is the one found."""
    conducting = blocking = 0
    for seed in range(150):
        c = diode_circuit(seed)
        expected = by_enumeration(c)
        assert len(expected) == 1
        s = solve(c, method)
        assert s.volts == pytest.approx(expected[0][0], abs=1e-6)
        assert s.diode_amps == pytest.approx(expected[0][1], abs=1e-6)
        conducting += sum(i > 1e-6 for i in s.diode_amps)
        blocking += sum(i <= 1e-6 for i in s.diode_amps)
    assert min(conducting, blocking) > 100


def thicket(seed: int) -> Circuit:
    """Make many diodes between few nodes, some without resistance, with wires and loads over four decades."""
    r = random.Random(seed)
    n = r.choice([4, 6, 8, 12])
    sources = [
        Source(i % n, n, r.uniform(1, 14), r.choice([0.01, r.uniform(0.05, 1.0)]))
        for i in range(r.randrange(1, 4))
    ]
    ends = [r.sample(range(n), 2) for _ in range(r.randrange(3, 3 * n))]
    diodes = [
        Diode(a, b, r.choice([0, 0.3, 0.7]), r.choice([0.0, 0.01, r.uniform(0.0, 0.3)])) for a, b in ends
    ]
    wires = [Wire(r.randrange(n), r.randrange(n), 10 ** r.uniform(-3, 1)) for _ in range(r.randrange(5))]
    loads = [Load(i, n, siemens=10 ** r.uniform(-3, 1)) for i in range(n)]
    return Circuit(n + 1, wires, sources, diodes, loads)


#: In these plain Newton goes round in circles for ever.
CIRCLES = (565, 1255, 1406, 1723, 1863, 2150, 2606, 3097, 4125, 4307)


def test_many_diodes_settle(method: str) -> None:
    """In thickets of diodes each obeys its law and Kirchhoff's holds, also where plain Newton goes in circles."""
    for seed in (*range(60), *CIRCLES):
        c = thicket(seed)
        s = solve(c, method)
        assert max(map(abs, networks.left_at_nodes(c, s))) < 1e-6
        for d, i in zip(c.diodes, s.diode_amps, strict=True):
            beyond = s.volts[d.anode] - s.volts[d.cathode] - d.drop
            assert i == pytest.approx(max(0.0, beyond) / max(d.ohms, 1e-6), abs=1e-6)


def test_or_ed_feeds(method: str) -> None:
    """Of two feeds over diodes the higher one carries alone, until its drop brings it to the lower one."""
    sources = [Source(0, 3, 12.0, 0.5), Source(1, 3, 11.0)]
    diodes = [Diode(0, 2, 0.3, 0.0), Diode(1, 2, 0.3, 0.0)]
    light = solve(Circuit(4, [], sources, diodes, [Load(2, 3, amps=1.0)]), method)
    assert light.source_amps == pytest.approx([1.0, 0.0], abs=1e-6)
    assert light.volts[2] == pytest.approx(11.2, abs=1e-5)
    heavy = solve(Circuit(4, [], sources, diodes, [Load(2, 3, amps=5.0)]), method)
    assert heavy.source_amps == pytest.approx([2.0, 3.0], abs=1e-4)
    assert heavy.volts[2] == pytest.approx(10.7, abs=1e-5)


def test_ideal_diodes_side_by_side_share(method: str) -> None:
    """Equal diodes without resistance of their own share alike, and lose their drop."""
    diodes = [Diode(0, 2, 0.3, 0.0), Diode(0, 2, 0.3, 0.0)]
    s = solve(Circuit(3, [], [Source(0, 1, 12.0)], diodes, [Load(2, 1, amps=6.0)]), method)
    assert s.diode_amps == pytest.approx([3.0, 3.0])
    assert s.lost == pytest.approx(0.3 * 6.0, rel=1e-4)


def test_converter_by_hand(method: str) -> None:
    """5 V 2 A at 80 % and 0.5 W standing take 13 W in: over 0.1 ohm from 12 V that is the root of a quadratic."""
    c = Circuit(
        4,
        [Wire(0, 2, 0.1)],
        [Source(0, 1, 12.0)],
        [],
        [Load(3, 1, amps=2.0)],
        [Converter(2, 1, 3, 1, 5.0, 0.8, 0.5)],
    )
    s = solve(c, method)
    at = (12 + (144 - 4 * 0.1 * 13) ** 0.5) / 2
    assert s.volts == pytest.approx([12.0, 0.0, at, 5.0])
    assert s.converter_in_amps == pytest.approx([13 / at])
    assert s.converter_out_amps == pytest.approx([2.0])
    assert s.lost == pytest.approx(13 - 10 + 0.1 * (13 / at) ** 2)


def test_converter_lifted_by_its_own_return(method: str) -> None:
    """Input and output share a return of 0.2 ohm: the output's current lowers the input, as solved by bisection."""
    c = Circuit(
        4,
        [Wire(2, 1, 0.2)],
        [Source(0, 1, 12.0)],
        [],
        [Load(3, 1, watts=10.0)],
        [Converter(0, 2, 3, 2, 5.0, 0.9)],
    )
    s = solve(c, method)

    def excess(ground: float) -> float:
        out = 10 / (5 + ground)
        taken = 5 * out / 0.9 / (12 - ground)
        # into the ground node: the input's current; out of it: the output's and the wire's
        return taken - out - ground / 0.2

    low, high = -1.0, 1.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if excess(middle) > 0 else (low, middle)
    assert s.volts[2] == pytest.approx(low, abs=1e-9)
    assert s.volts[3] == pytest.approx(5 + low)


def test_converter_in_a_row(method: str) -> None:
    """Efficiencies of supplies behind each other multiply, and what the first takes is the load over both."""
    converters = [Converter(3, 1, 4, 1, 5.0, 0.8), Converter(0, 1, 3, 1, 12.0, 0.9)]
    s = solve(Circuit(5, [], [Source(0, 1, 24.0)], [], [Load(4, 1, watts=7.2)], converters), method)
    assert s.source_amps == pytest.approx([7.2 / 0.72 / 24])


def test_input_across_nothing(method: str) -> None:
    """A supply with both ends of its input on one rail is dead, and its load gets nothing."""
    supply = Converter(0, 0, 2, 1, 5.0, 0.9, 0.5)
    s = solve(Circuit(3, [], [Source(0, 1, 12.0)], [], [Load(2, 1, watts=1.0)], [supply]), method)
    assert (s.dead, s.collapsed, s.converter_in_amps) == ([0], 0, [0.0])


def test_ring_of_supplies_stays_dark(method: str) -> None:
    """Two supplies that only feed each other are dead, also beside a live source; their loads get nothing."""
    ring = [Converter(2, 1, 3, 1, 12.0, 0.9), Converter(3, 1, 2, 1, 5.0, 0.9)]
    loads = [Load(0, 1, watts=1.0), Load(3, 1, watts=1.0, stops=9.0), Load(2, 1, watts=1.0)]
    s = solve(Circuit(4, [], [Source(0, 1, 24.0)], [], loads, ring), method)
    assert s.dead == [0, 1]
    assert (s.off, s.collapsed, s.fallen) == ([1], 2, [2])
    assert s.volts == pytest.approx([24.0, 0.0, 0.0, 0.0])


def fed_back(ohms: float, watts: float) -> Circuit:
    """Make a supply whose output of 12.1 V feeds its own input over a wire, beside a source of 12 V and 0.5 ohm."""
    load = Load(3, 1, watts=watts)
    supply = Converter(2, 1, 3, 1, 12.1, 0.9)
    return Circuit(4, [Wire(3, 2, ohms)], [Source(2, 1, 12.0, 0.5)], [], [load], [supply])


def test_ring_that_a_source_starts(method: str) -> None:
    """A supply beside a source on its own input: by hand where a point exists, refused where none does."""
    s = solve(fed_back(0.1, 0.0), method)
    # out amps J: input at v takes 12.1 J / 0.9 / v, J = (12.1 - v) / 0.1, and (12 - v) / 0.5 = 12.1 J / 0.9 / v - J
    v = s.volts[2] - s.volts[1]
    out = (12.1 - v) / 0.1
    assert s.converter_out_amps == pytest.approx([out])
    assert (12 - v) / 0.5 == pytest.approx(12.1 * out / 0.9 / v - out, abs=1e-9)
    with pytest.raises(ValueError, match="converters 0 feed their own inputs"):
        solve(fed_back(0.01, 1.0), method)
    heavy = solve(fed_back(0.1, 1000.0), method)
    assert (heavy.collapsed, heavy.starved) == (0, 0)
    assert max(map(abs, networks.left_at_nodes(fed_back(0.1, 1000.0), heavy))) < 1e-7


def test_starved_supply(method: str) -> None:
    """A supply whose input wire cannot carry what its load needs is named beside the load."""
    c = Circuit(
        4,
        [Wire(0, 2, 1.0)],
        [Source(0, 1, 12.0)],
        [],
        [Load(3, 1, watts=33.0)],
        [Converter(2, 1, 3, 1, 5.0, 0.9)],
    )
    s = solve(c, method)
    assert (s.collapsed, s.starved, s.fallen) == (0, 0, [0])
    assert s.converter_in_amps == [0.0]


def test_pushed_rail(method: str) -> None:
    """Current pushed into a regulated rail reads below zero and costs the input its standing draw alone."""
    c = Circuit(
        4,
        [Wire(3, 2, 0.1)],
        [Source(0, 1, 12.0), Source(3, 1, 5.2)],
        [],
        [],
        [Converter(0, 1, 2, 1, 5.0, 0.9, 0.6)],
    )
    s = solve(c, method)
    assert s.converter_out_amps == pytest.approx([-2.0])
    assert s.converter_in_amps == pytest.approx([0.05])


def test_loads_that_let_go(method: str) -> None:
    """What falls below its stop is off, and what is left is found again; a load above its stop stays."""
    wires = [Wire(0, 2, 0.1), Wire(2, 3, 0.1)]
    loads = [Load(2, 1, amps=4.0, stops=4.0), Load(3, 1, amps=4.0, stops=4.5)]
    s = solve(Circuit(4, wires, [Source(0, 1, 5.0)], [], loads), method)
    assert s.off == [1]
    assert s.load_volts == pytest.approx([4.6, 4.6])
    assert s.load_amps == pytest.approx([4.0, 0.0])


def test_letting_go_before_collapse(method: str) -> None:
    """A load that cannot be carried but lets go on the way down is off, and nothing collapses."""
    wires = [Wire(0, 2, 1.0)]
    loads = [Load(2, 1, watts=20.0, stops=5.0), Load(2, 1, watts=20.0, stops=7.0)]
    s = solve(Circuit(3, wires, [Source(0, 1, 12.0)], [], loads), method)
    assert (s.off, s.collapsed) == ([1], None)
    assert s.load_volts[0] == pytest.approx(10.0)


@pytest.mark.parametrize(("stops", "off"), [((11.0, 10.0), [0, 1]), ((4.0, 5.0), [1]), ((5.0, 4.0), [0])])
def test_order_of_letting_go(method: str, stops: tuple[float, float], off: list[int]) -> None:
    """Where the point ends, at 6 V, all below their stop are off; else the one whose stop comes first, alone."""
    loads = [Load(2, 1, watts=20.0, stops=stop) for stop in stops]
    s = solve(Circuit(3, [Wire(0, 2, 1.0)], [Source(0, 1, 12.0)], [], loads), method)
    assert (s.off, s.collapsed) == (off, None)


def test_the_load_that_fails_is_named(method: str) -> None:
    """Among good loads behind one trunk the one that could not be carried even alone is named."""
    good = 20
    wires = [Wire(0, 2, 0.001), Wire(3, 1, 0.001)]
    wires += [Wire(2, 4 + i, 0.001) for i in range(good)] + [Wire(2, 4 + good, 2.0)]
    loads = [Load(4 + i, 3, watts=10.0) for i in range(good)] + [Load(4 + good, 3, watts=144 / 8 * 1.01)]
    s = solve(Circuit(5 + good, wires, [Source(0, 1, 12.0)], [], loads), method)
    assert s.collapsed == good
    assert s.fallen == list(range(good + 1))


def test_one_large_part_collapses(method: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A part so large that its own collapse is sought by SciPy names the same load as a small one does."""
    monkeypatch.setattr("coldcheck.dc.network.MANY", 10)
    for seed in range(30):
        c = networks.circuit(seed, power=20.0, diodes=seed % 2 > 0)
        bad = Load(c.loads[0].plus, c.loads[0].minus, watts=1e6)
        worse = Circuit(c.nodes, c.wires, c.sources, c.diodes, [*c.loads, bad], c.converters)
        s = solve(worse, method)
        monkeypatch.setattr("coldcheck.dc.network.MANY", 10**9)
        small = solve(worse, "direct")
        monkeypatch.setattr("coldcheck.dc.network.MANY", 10)
        assert (s.collapsed, s.fallen, s.starved) == (small.collapsed, small.fallen, small.starved)
        assert s.volts == pytest.approx(small.volts, abs=1e-6)


def test_collapse_stays_in_its_part(method: str) -> None:
    """What a stiff source keeps apart from a collapse is right all the same; the lowest of several is named."""
    wires = [Wire(0, 2, 1.0), Wire(0, 3, 1.0), Wire(0, 4, 1.0)]
    loads = [Load(2, 1, watts=20.0), Load(3, 1, watts=40.0), Load(4, 1, watts=50.0)]
    s = solve(Circuit(5, wires, [Source(0, 1, 12.0)], [], loads), method)
    assert (s.collapsed, s.fallen) == (1, [1, 2])
    assert s.load_volts == pytest.approx([10.0, 0.0, 0.0])
    assert s.source_amps == pytest.approx([2.0])


def test_upper_point_before_a_lower_feed(method: str) -> None:
    """A feed of 5 V over a diode would hold a lower point too; the upper one is given as long as it exists."""
    sources = [Source(0, 1, 12.0), Source(3, 1, 5.0)]
    wires, diodes = [Wire(0, 2, 1.0)], [Diode(3, 2, 0.0, 0.01)]
    upper = solve(Circuit(4, wires, sources, diodes, [Load(2, 1, watts=35.9)]), method)
    assert upper.load_volts[0] == pytest.approx(6 + 0.1**0.5)
    assert upper.diode_amps[0] == pytest.approx(0.0, abs=1e-6)
    lower = solve(Circuit(4, wires, sources, diodes, [Load(2, 1, watts=36.1)]), method)
    assert lower.collapsed is None
    assert 4.9 < lower.load_volts[0] < 5.0


def test_nothing_feeds_it(method: str) -> None:
    """A load on a dead rail, or held backwards, is off where it lets go, else it cannot be carried."""
    loads = [Load(2, 3, watts=1.0), Load(1, 0, watts=1.0, stops=4.0), Load(0, 1, watts=1.0)]
    s = solve(Circuit(4, [], [Source(0, 1, 5.0)], [], loads), method)
    assert (s.collapsed, s.fallen, s.off) == (0, [0], [1])
    assert s.load_amps == pytest.approx([0.0, 0.0, 0.2])
    no_return = solve(Circuit(3, [], [Source(0, 1, 5.0)], [], [Load(0, 2, watts=1.0)]), method)
    assert no_return.collapsed == 0


def test_one_jump_ends_where_a_slow_climb_ends(method: str) -> None:
    """Newton's method from no load at once comes to the point that a slow rise of all loads comes to."""
    arrays: Any = {"direct": Lists, "sparse": Arrays}[method]
    kind: Any = {"direct": ListEquations, "sparse": ArrayEquations}[method]
    compared = 0
    for seed in range(120):
        c = networks.circuit(seed, power=random.Random(seed).choice([6.0, 12.0, 20.0]), diodes=seed % 3 > 0)
        equations = kind(Layout(Columns(c), arrays).system)
        rest = net_newton.at_rest(equations)
        if min(equations.held(rest), default=1.0) <= 0.0:
            continue
        jumped, climbed = net_newton.settle(equations, rest, 1.0), net_newton.climb(equations, rest)
        if jumped is not None:
            assert not isinstance(climbed, net_newton.Nose)
            assert list(jumped) == pytest.approx(list(climbed), abs=1e-6)
            compared += 1
    assert compared > 40


@pytest.mark.parametrize("ohms", [0.0, 1e-4, 1e-2])
def test_converters_in_a_chain_beside_what_feeds_them(method: str, ohms: float) -> None:
    """A load on 12 V or, through two converters, on 12.5 V, whichever is higher: both diodes find their sides at rest.

    By hand: 25 W at 50 % twice are 100 W at the first, which takes them through a resistance from 12 V.
    """
    # 0 ground, 1 source, 2 and 3 in and out of the first, 4 and 5 of the second, 6 where both meet
    whole = Circuit(
        7,
        [Wire(1, 2, ohms), Wire(3, 4, ohms)],
        [Source(1, 0, 12.0)],
        [Diode(1, 6, 0.0, 1e-6), Diode(5, 6, 0.0, 1e-6)],
        [Load(6, 0, amps=2.0)],
        [Converter(4, 0, 5, 0, 12.5, 0.5), Converter(2, 0, 3, 0, 24.0, 0.5)],
    )
    found = solve(whole, method)
    middle = drop.carried(24.0, ohms, 50.0)
    assert middle is not None
    first = drop.carried(12.0, ohms, middle[1] * 24.0 / 0.5)
    assert first is not None
    assert found.source_amps[0] == pytest.approx(first[1], rel=1e-6)
    assert found.load_volts[0] == pytest.approx(12.5, abs=1e-5)

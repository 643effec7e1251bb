"""The network solver against closed forms, hand-solved cases, SciPy's root finder, and conservation laws."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy import optimize

from coldcheck.dc import drop
from coldcheck.dc.circuit import Circuit, Converter, Load, Solution, Source, Wire
from coldcheck.dc.network import solve
from tests.dc import networks

Array = np.ndarray[Any, np.dtype[np.float64]]
METHODS = ("direct", "sparse")


def one(
    watts: float, ohms: float = 0.5, volts: float = 12.0, back: float = 0.5, stops: float = 0.0
) -> Circuit:
    """Make a source, a wire out, a wire back and a load."""
    wires = [Wire(0, 2, ohms), Wire(3, 1, back)]
    return Circuit(4, wires, [Source(0, 1, volts)], [], [Load(2, 3, watts=watts, stops=stops)])


def figures(s: Solution) -> list[float]:
    """Give every number of a solution."""
    return [
        *s.volts, *s.wire_amps, *s.source_amps, *s.diode_amps, *s.load_volts, *s.load_amps,
        *s.converter_in_amps, *s.converter_out_amps, s.lost,
    ]  # fmt: skip


def dense(c: Circuit) -> tuple[Array, Array, Array]:
    """Put a circuit without diodes, converters and 0-ohm wires into matrices.

    Gives G, J and B, so that G v + B (current of each load) = J; v are the volts of the nodes but the minus of
    the first source, then the amps of the stiff sources.
    """
    stiff = [s for s in c.sources if not s.ohms]
    size = c.nodes + len(stiff)
    g, j = np.zeros((size, size)), np.zeros(size)
    for a, b, ohms in [(w.a, w.b, w.ohms) for w in c.wires] + [
        (s.plus, s.minus, s.ohms) for s in c.sources if s.ohms
    ]:
        g[[a, b], [a, b]] += 1 / ohms
        g[[a, b], [b, a]] -= 1 / ohms
    for s in c.sources:
        if s.ohms:
            j[s.plus] += s.volts / s.ohms
            j[s.minus] -= s.volts / s.ohms
    for n, s in enumerate(stiff, c.nodes):
        g[[s.plus, n], [n, s.plus]] += [-1.0, 1.0]
        g[[s.minus, n], [n, s.minus]] += [1.0, -1.0]
        j[n] = s.volts
    at = np.zeros((size, len(c.loads)))
    for n, d in enumerate(c.loads):
        at[d.plus, n] += 1.0
        at[d.minus, n] -= 1.0
    kept = np.array([i for i in range(size) if i != c.sources[0].minus])
    return g[np.ix_(kept, kept)], j[kept], at[kept]


@pytest.mark.parametrize("method", ["radial", *METHODS])
@pytest.mark.parametrize("watts", [0.0, 1e-6, 10.0, 30.0, 35.0, 36.0 * (1 - 1e-9)])
def test_one_load_has_the_closed_form(method: str, watts: float) -> None:
    """One load at the end of a pair settles where the greater root of the quadratic is."""
    expected = drop.carried(12.0, 1.0, watts)
    assert expected is not None
    found = solve(one(watts), method)
    # at the bound itself the root is steep: half of the digits are left
    share = 1e-12 if watts < 35.5 else 1e-6
    assert (found.load_volts[0], found.load_amps[0]) == pytest.approx(expected, rel=share)
    assert found.method == method


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize(("volts", "ohms"), [(12.0, 1.0), (5.0, 0.3), (48.0, 7.0)])
def test_maximum_power_transfer(method: str, volts: float, ohms: float) -> None:
    """A load is carried up to V²/4R, where it has half the volts; beyond that it collapses."""
    most = volts**2 / (4 * ohms)
    below = solve(one(most * (1 - 1e-8), ohms / 3, volts, ohms * 2 / 3), method)
    assert below.collapsed is None
    assert below.load_volts[0] == pytest.approx(volts / 2, rel=2e-4)
    beyond = solve(one(most * (1 + 1e-8), ohms / 3, volts, ohms * 2 / 3), method)
    assert (beyond.collapsed, beyond.fallen) == (0, [0])
    assert (beyond.load_volts, beyond.load_amps) == ([0.0], [0.0])


@pytest.mark.parametrize("stops", [False, True])
@pytest.mark.parametrize("seed", range(100))
def test_three_methods_agree_on_trees(seed: int, stops: bool) -> None:
    """Radial, direct and sparse give the same numbers for every tree of pairs."""
    c = networks.radial_circuit(seed, stops=stops)
    radial, *others = [solve(c, method) for method in ("radial", *METHODS)]
    assert radial.method == "radial"
    assert bool(radial.off) <= stops
    for other in others:
        assert figures(other) == pytest.approx(figures(radial), rel=1e-8, abs=1e-8)
        assert other.off == radial.off


@pytest.mark.parametrize("power", [1.0, 6.0, 20.0])
@pytest.mark.parametrize("stops", [False, True])
def test_two_methods_agree_on_meshes(power: float, stops: bool) -> None:
    """Direct and sparse give the same numbers, switch the same loads off and name the same collapse."""
    seen = set()
    for seed in range(100 if power < 10 else 40):
        c = networks.circuit(seed, power=power, diodes=seed % 2 == 1, stops=stops)
        direct, sparse = [solve(c, method) for method in METHODS]
        assert figures(sparse) == pytest.approx(figures(direct), rel=1e-6, abs=1e-6)
        names = [(s.off, s.collapsed, s.fallen, s.starved, s.dead) for s in (direct, sparse)]
        assert names[0] == names[1]
        seen.add((bool(direct.off), direct.collapsed is not None))
    assert len(seen) >= (2 if power > 10 or stops else 1)


@given(st.integers(0, 10**6), st.sampled_from([1.0, 5.0, 20.0]), st.booleans(), st.sampled_from(METHODS))
@example(333315, 20.0, True, "direct")  # two diodes at one node, the one just below its bend
@example(333315, 20.0, True, "sparse")
def test_laws_of_kirchhoff_and_energy(seed: int, power: float, diodes: bool, method: str) -> None:
    """At each node the currents add up to zero, and what is delivered is taken or lost."""
    c = networks.circuit(seed, power=power, diodes=diodes)
    s = solve(c, method)
    assert max(map(abs, networks.left_at_nodes(c, s))) < 1e-7
    delivered, taken = networks.power(c, s)
    assert delivered == pytest.approx(taken + s.lost, rel=1e-9, abs=1e-8)
    for w, i in zip(c.wires, s.wire_amps, strict=True):
        assert s.volts[w.a] - s.volts[w.b] == pytest.approx(i * w.ohms, abs=1e-12)
    for d, i, u in zip(
        c.diodes, s.diode_amps, [s.volts[d.anode] - s.volts[d.cathode] for d in c.diodes], strict=True
    ):
        assert i >= 0 or i == pytest.approx(1e-9 * (u - d.drop), abs=1e-8)
    assert s.lost >= -1e-9


@given(st.integers(0, 10**6), st.sampled_from([1.0, 5.0, 15.0]))
def test_same_point_as_a_general_root_finder(seed: int, power: float) -> None:
    """SciPy's root finder on dense matrices, led up from no load, ends at the same volts, or nowhere as we do."""
    made = networks.circuit(seed, power=power)
    # only what hangs on the two nets: no converters
    most = 2 * min(s.minus for s in made.sources)
    loads = [d for d in made.loads if max(d.plus, d.minus) < most]
    c = Circuit(most, [w for w in made.wires if max(w.a, w.b) < most], made.sources, [], loads)
    g, j, b = dense(c)
    watts, amps, siemens = (np.array([getattr(d, k) for d in c.loads]) for k in ("watts", "amps", "siemens"))
    found = np.linalg.solve(g, j)
    ours = solve(c)
    reached = True
    for load in np.linspace(0.05, 1.0, 20):

        def left(v: Array, load: float = load) -> Array:
            u = b.T @ v
            return np.asarray(g @ v + b @ (load * (watts / u + amps + siemens * u)) - j)

        def slope(v: Array, load: float = load) -> Array:
            u = b.T @ v
            return np.asarray(g + (b * (load * (siemens - watts / u**2))) @ b.T)

        answer = optimize.root(left, found, jac=slope, tol=1e-13)
        reached = reached and bool(np.max(np.abs(left(answer.x))) < 1e-7 and (b.T @ answer.x > 1.0).all())
        found = answer.x
    assert reached == (ours.collapsed is None)
    if reached:
        expected = list(found[: most - 1])
        expected.insert(c.sources[0].minus, 0.0)
        assert ours.volts == pytest.approx(expected, abs=1e-6)


def test_upper_point_of_each_load() -> None:
    """Just below collapse the point is still the one that a slow rise of the load comes to."""
    for method in METHODS:
        risen = [solve(one(watts), method).load_volts[0] for watts in np.linspace(0, 35.9999, 40)]
        assert risen == sorted(risen, reverse=True)
        assert risen[-1] > 6.0


@pytest.mark.parametrize("method", METHODS)
def test_two_sources_share_by_their_ohms(method: str) -> None:
    """Two equal sources of 0.1 and 0.3 ohm on one node share 4 A as 3 to 1 (by hand)."""
    c = Circuit(2, [], [Source(0, 1, 12.0, 0.1), Source(0, 1, 12.0, 0.3)], [], [Load(0, 1, amps=4.0)])
    s = solve(c, method)
    assert s.source_amps == pytest.approx([3.0, 1.0])
    assert (s.load_volts[0], s.lost) == pytest.approx((11.7, 1.2))


@pytest.mark.parametrize("method", METHODS)
def test_unequal_sources_push_into_each_other(method: str) -> None:
    """12 V and 11 V behind 0.5 ohm each: 1 A runs round, and comes out of the lower one as -1 A (by hand)."""
    c = Circuit(2, [], [Source(0, 1, 12.0, 0.5), Source(0, 1, 11.0, 0.5)])
    s = solve(c, method)
    assert s.source_amps == pytest.approx([1.0, -1.0])
    assert (s.volts[0], s.lost) == pytest.approx((11.5, 1.0))


@pytest.mark.parametrize("method", METHODS)
def test_bridge_of_five_wires(method: str) -> None:
    """A bridge of 1, 2, 3, 4 ohm with 5 ohm across, on 10 V: nodes at 6.2916.. and 6.04.. V (two equations)."""
    wires = [Wire(0, 2, 1.0), Wire(0, 3, 2.0), Wire(2, 1, 3.0), Wire(3, 1, 4.0), Wire(2, 3, 5.0)]
    s = solve(Circuit(4, wires, [Source(0, 1, 10.0)]), method)
    # (1 + 1/3 + 1/5) a - 1/5 b = 10;  -1/5 a + (1/2 + 1/4 + 1/5) b = 5, by Cramer's rule
    p, q, r = 1 + 1 / 3 + 1 / 5, 1 / 2 + 1 / 4 + 1 / 5, 1 / 5
    a, b = (10 * q + 5 * r) / (p * q - r * r), (5 * p + 10 * r) / (p * q - r * r)
    assert s.volts == pytest.approx([10.0, 0.0, a, b])
    assert s.wire_amps[4] == pytest.approx((a - b) / 5)


@pytest.mark.parametrize("method", METHODS)
def test_shared_return_shifts_the_neighbour(method: str) -> None:
    """2 A and 1 A over a common return of 0.1 ohm: each load stands on 0.3 V (by hand)."""
    wires = [Wire(0, 2, 0.1), Wire(0, 3, 0.2), Wire(4, 1, 0.1)]
    loads = [Load(2, 4, amps=2.0), Load(3, 4, amps=1.0)]
    s = solve(Circuit(5, wires, [Source(0, 1, 5.0)], [], loads), method)
    assert s.volts[4] == pytest.approx(0.3)
    assert s.load_volts == pytest.approx([4.5, 4.5])


@pytest.mark.parametrize("method", METHODS)
def test_loads_in_series(method: str) -> None:
    """Two equal loads of constant power stacked on 24 V stand at 12 V each, if something holds their middle."""
    wires = [Wire(0, 2, 0.05), Wire(4, 1, 0.05), Wire(3, 1, 100.0), Wire(0, 3, 100.0)]
    loads = [Load(2, 3, siemens=0.1), Load(3, 4, siemens=0.1)]
    s = solve(Circuit(5, wires, [Source(0, 1, 24.0)], [], loads), method)
    assert s.load_volts[0] == pytest.approx(s.load_volts[1])
    hung = solve(Circuit(5, wires[:2], [Source(0, 1, 24.0)], [], loads), method)
    assert hung.load_volts == pytest.approx([24 * 10 / 20.1] * 2, rel=1e-6)


@pytest.mark.parametrize("method", ["radial", *METHODS])
def test_wires_without_resistance(method: str) -> None:
    """Wires of 0 ohm make one node; their currents follow from the nodes, and wires in a loop share alike."""
    wires = [Wire(0, 2, 0.0), Wire(2, 3, 0.0), Wire(4, 1, 0.0)]
    c = Circuit(5, wires, [Source(0, 1, 5.0)], [], [Load(2, 4, amps=1.0), Load(3, 4, amps=2.0)])
    s = solve(c, method)
    assert s.volts == pytest.approx([5.0, 0.0, 5.0, 5.0, 0.0])
    assert s.wire_amps == pytest.approx([3.0, 2.0, 3.0])
    turned = Circuit(
        5, [Wire(0, 1, 0.0), Wire(1, 2, 0.0), Wire(3, 4, 0.0)], [Source(2, 4, 5.0)], [], [Load(0, 3, 0, 1)]
    )
    assert solve(turned, method).wire_amps == pytest.approx([-1.0, -1.0, 1.0])
    if method != "radial":
        c = Circuit(5, [*wires, Wire(3, 2, 0.0), Wire(2, 2, 0.0)], c.sources, [], c.loads)
        assert solve(c, method).wire_amps == pytest.approx([3.0, 1.0, 3.0, -1.0, 0.0])


@pytest.mark.parametrize("method", METHODS)
def test_pieces_apart(method: str) -> None:
    """Pieces that do not touch have a reference each; a node that hangs on nothing reads 0 V."""
    wires = [Wire(0, 2, 1.0), Wire(3, 5, 1.0), Wire(6, 7, 1.0)]
    sources = [Source(0, 1, 5.0), Source(3, 4, 12.0)]
    loads = [Load(2, 1, amps=1.0), Load(5, 4, amps=1.0)]
    s = solve(Circuit(9, wires, sources, [], loads), method)
    assert s.volts == pytest.approx([5.0, 0.0, 4.0, 12.0, 0.0, 11.0, 0.0, 0.0, 0.0])


@pytest.mark.parametrize("method", METHODS)
def test_sources_in_series(method: str) -> None:
    """Stiff sources on top of each other add up, and a load across both draws from both; 0 V is the first's minus."""
    c = Circuit(4, [Wire(2, 3, 1.0)], [Source(1, 0, 5.0), Source(2, 1, 7.0)], [], [Load(3, 0, amps=2.0)])
    s = solve(c, method)
    assert s.volts == pytest.approx([0.0, 5.0, 12.0, 10.0])
    assert s.source_amps == pytest.approx([2.0, 2.0])


@pytest.mark.parametrize(
    ("sources", "text"),
    [
        ([Source(0, 1, 5.0), Source(0, 1, 5.2)], "source 1 and source 0 make a loop .* differ by 0.2 V"),
        ([Source(0, 1, 5.0), Source(0, 1, 5.0)], "source 1 and source 0 .* how they share is not determined"),
        ([Source(0, 0, 5.0)], "source 0 is shorted"),
        (
            [Source(0, 1, 5.0), Source(1, 2, 5.0), Source(0, 2, 9.0)],
            "source 2, source 0 and source 1 .* by 1 V",
        ),
    ],
)
@pytest.mark.parametrize("method", METHODS)
def test_stiff_loops_are_refused(sources: list[Source], text: str, method: str) -> None:
    """A loop of stiff sources is refused with the names of all in it, also where their volts agree."""
    with pytest.raises(ValueError, match=text):
        solve(Circuit(3, [], sources), method)


def test_stiff_loop_through_bare_wires_and_outputs() -> None:
    """Wires of 0 ohm close such a loop too, and outputs of converters count as sources."""
    with pytest.raises(ValueError, match="source 1 and source 0 make a loop"):
        solve(Circuit(4, [Wire(0, 2, 0.0), Wire(1, 3, 0.0)], [Source(0, 1, 5.0), Source(2, 3, 12.0)]))
    sources = [Source(0, 1, 12.0), Source(2, 1, 5.0)]
    with pytest.raises(ValueError, match="converter 0 and source 1 make a loop"):
        solve(Circuit(3, [], sources, [], [], [Converter(0, 1, 2, 1, 5.0, 0.9)]))


@pytest.mark.parametrize(
    ("circuit", "text"),
    [
        (Circuit(2, [Wire(0, 2, 1.0)]), "wire 0 is at node 2; nodes are 0 .. 1"),
        (Circuit(2, [], [Source(-1, 0, 1.0)]), "source 0 is at node -1"),
        (Circuit(2, [Wire(0, 1, -1.0)]), "wire 0 has -1.0 ohms"),
        (Circuit(2, [], [Source(0, 1, math.nan)]), "source 0 has nan volts"),
        (Circuit(2, [], [], [], [Load(0, 1), Load(0, 1, math.inf)]), "load 1 has inf watts"),
        (
            Circuit(4, [], [], [], [], [Converter(0, 1, 2, 3, 5.0, 1.1)]),
            "converter 0 has an efficiency of 1.1",
        ),
        (Circuit(4, [], [], [], [], [Converter(0, 1, 2, 4, 5.0, 0.9)]), "converter 0: .* is at node 4"),
    ],
)
def test_refused(circuit: Circuit, text: str) -> None:
    """What is no circuit is refused, with the part and the value."""
    with pytest.raises(ValueError, match=text):
        solve(circuit)


def test_refused_methods() -> None:
    """An unknown method, and "radial" for a mesh, are refused."""
    with pytest.raises(ValueError, match='no method "spars"'):
        solve(one(1.0), "spars")
    mesh = Circuit(3, [Wire(0, 2, 1.0), Wire(0, 2, 1.0)], [Source(0, 1, 5.0)], [], [Load(2, 1, amps=1.0)])
    with pytest.raises(ValueError, match="not radial"):
        solve(mesh, "radial")
    assert solve(mesh).method == "direct"


def test_nothing_to_solve() -> None:
    """A circuit of nothing has an answer of nothing."""
    for method in ("auto", *METHODS):
        s = solve(Circuit(0), method)
        assert (s.volts, s.lost, s.collapsed) == ([], 0, None)

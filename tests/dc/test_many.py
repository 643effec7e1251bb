"""Many samples at once against the solvers for one, closed forms, circuit laws and another method."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize

from coldcheck.dc import circuit, many, many_newton, network, radial
from coldcheck.dc.many import Many, radial_many
from coldcheck.dc.many_network import Loads, Points, Sources, Wires, network_many

Array = np.ndarray[Any, np.dtype[np.float64]]
seeds = st.integers(0, 10**6)


class Net:
    """A random tree with random values, some kinds of load missing, some values the same in all samples."""

    def __init__(self, seed: int, load: float, count: int = 40) -> None:
        rng = np.random.default_rng(seed)
        n = int(rng.integers(1, 16))
        bushy = rng.random() < 0.6
        root = [-1 if i == 0 or rng.random() < 0.15 else None for i in range(n)]
        self.parent = [
            on if on is not None else int(rng.integers(max(0, i - 4), i)) if bushy else i - 1
            for i, on in enumerate(root)
        ]
        self.count = count
        self.volts = rng.uniform(11, 13, count)

        def column(scale: float, chance: float) -> Array:
            on = rng.random(n) < chance
            if rng.random() < 0.3:
                return scale * rng.random(n) * on
            return scale * rng.random((n, count)) * on[:, None]

        self.columns = (
            column(0.05, 0.95),
            column(load * 60 / n, 0.8),
            column(min(load, 1.0) * 5 / n, 0.3),
            column(2 / n, 0.3 if rng.random() < 0.5 else 0.0),
        )

    def many(self, threads: int = 1) -> Many:
        """Solve all samples at once."""
        return radial_many(self.volts, self.parent, *self.columns, threads)

    def one(self, sample: int) -> radial.Solution:
        """Solve one sample by itself."""
        columns = [(c[:, sample] if c.ndim == 2 else c).tolist() for c in self.columns]
        return radial.solve(float(self.volts[sample]), self.parent, *columns)


def roots(parent: list[int]) -> list[int]:
    """Give the first branch that each branch hangs on."""
    found: list[int] = []
    for i, on in enumerate(parent):
        found.append(i if on < 0 else found[on])
    return found


def check(net: Net, found: Many) -> None:
    """Hold every sample against the solver for one."""
    assert np.isfinite(found.volts).all()
    assert np.isfinite(found.amps).all()
    for sample in range(net.count):
        one = net.one(sample)
        assert found.collapsed[sample] == (one.collapsed is not None)
        # near to collapse, either one is only as exact as the digits allow
        within = 1e-9 if min(one.volts) > 0.6 * net.volts[sample] else 1e-7
        assert np.allclose(found.volts[:, sample], one.volts, rtol=within, atol=0)
        assert np.allclose(found.amps[:, sample], one.amps, rtol=within, atol=within * max(one.amps))


@settings(deadline=None)
@given(seeds, st.sampled_from([0.1, 0.5, 1.0, 3.0]))
def test_same_as_one_by_one(seed: int, load: float) -> None:
    """Every sample of a random tree has the volts and amps that the solver for one gives it, within 1e-9."""
    net = Net(seed, load)
    check(net, net.many())


@settings(deadline=None)
@given(seeds, st.sampled_from([8.0, 15.0, 30.0]))
def test_same_verdict_where_loads_are_too_much(seed: int, load: float) -> None:
    """Where some samples collapse, the same ones do; those trees read 0, all else is right."""
    net = Net(seed, load)
    found = net.many()
    assert np.isfinite(found.volts).all()
    for sample in range(net.count):
        one = net.one(sample)
        assert found.collapsed[sample] == (one.collapsed is not None)
        assert np.allclose(found.volts[:, sample], one.volts, rtol=1e-7, atol=0)


def test_collapse_is_seen() -> None:
    """The random trees of the test above hold samples with a collapse and samples without in the same tree."""
    mixed = 0
    for seed in range(200):
        net = Net(seed, 15.0)
        lost = net.many().collapsed
        mixed += bool(lost.any() and not lost.all() and max(net.parent) >= 0)
    assert mixed >= 20


@settings(deadline=None, max_examples=30)
@given(seeds)
def test_obeys_the_circuit(seed: int) -> None:
    """Kirchhoff's and Ohm's laws hold in every sample: currents add up at each end, and drops are r × amps."""
    net = Net(seed, 2.0)
    found = net.many()
    r, p, c, g = [column if column.ndim == 2 else column[:, None] for column in net.columns]
    good = ~found.collapsed
    v, i = found.volts[:, good], found.amps[:, good]
    r, p, c, g = [(x[:, good] if x.shape[1] > 1 else x) for x in (r, p, c, g)]
    drawn = p / v + c + g * v
    for branch, on in enumerate(net.parent):
        below = [k for k, up in enumerate(net.parent) if up == branch]
        assert np.allclose(i[branch], drawn[branch] + i[below].sum(axis=0), rtol=1e-9, atol=1e-12)
        near = net.volts[good] if on < 0 else v[on]
        drop = np.broadcast_to(r[branch] * i[branch], near.shape)
        assert np.allclose(near - v[branch], drop, rtol=0, atol=1e-8)


def test_one_load_in_closed_form() -> None:
    """One load on one wire stands at V/2 + √(V²/4 - r p), and collapses just beyond p = V² / 4r."""
    most = 5.0**2 / (4 * 0.1)
    watts = most * np.array([0.0, 0.3, 0.999, 1 - 1e-12, 1 + 1e-12, 2.0])
    found = radial_many(5.0, [-1], [0.1], watts[None, :], [0.0], [0.0])
    assert found.collapsed.tolist() == [False] * 4 + [True] * 2
    exact = 2.5 + np.sqrt(2.5**2 - 0.1 * watts[:3])
    assert found.volts[0, :3] == pytest.approx(exact, rel=1e-12)
    assert found.amps[0, :3] == pytest.approx(watts[:3] / exact, rel=1e-12)
    assert found.volts[0, 4:].tolist() == found.amps[0, 4:].tolist() == [0, 0]


def test_near_collapse_in_a_tree() -> None:
    """Through two wires in line, samples up to the last load that is carried stand on the upper point, and no more.

    Newton's method needs many steps there, so samples that have settled are set apart from others that go on.
    """
    most = 12.0**2 / (4 * 0.25)
    share = np.array([0.0, 0.5, 0.9, 1 - 1e-3, 1 - 1e-6, 1 - 1e-9, 1 + 1e-9, 1 + 1e-3, 3.0])
    watts = np.array([np.zeros_like(share), most * share])
    found = radial_many(12.0, [-1, 0], [0.1, 0.15], watts, [0.0] * 2, [0.0] * 2)
    assert found.collapsed.tolist() == [False] * 6 + [True] * 3
    exact = 6.0 * (1 + np.sqrt(1 - share[:6]))
    assert found.volts[1, :4] == pytest.approx(exact[:4], rel=1e-9)
    assert found.volts[1, :6] == pytest.approx(exact, rel=1e-6)
    assert np.all(found.volts[:, 6:] == 0)


def test_steps_go_on_for_some(monkeypatch: pytest.MonkeyPatch) -> None:
    """Samples that settle early are the same whether or not others in their chunk go on for long."""
    share = np.concatenate([np.linspace(0.1, 0.9, 50), [1 - 1e-10, 1 - 1e-12]])
    watts = np.array([np.zeros_like(share), 144.0 * share])

    def solve(which: slice) -> Array:
        return radial_many(12.0, [-1, 0], [0.1, 0.15], watts[:, which], [0.0] * 2, [0.0] * 2).volts

    together = solve(slice(None))
    assert np.allclose(together[:, :50], solve(slice(0, 50)), rtol=1e-9, atol=0)
    assert np.allclose(together[1], 6 * (1 + np.sqrt(1 - share)), rtol=1e-6, atol=0)
    monkeypatch.setattr(many_newton, "APART", 1)
    assert np.allclose(together, solve(slice(None)), rtol=1e-7, atol=0)


@settings(deadline=None, max_examples=50)
@given(seeds, st.sampled_from([0.2, 1.0, 3.0]))
def test_planned_as_watched(seed: int, load: float) -> None:
    """A way settled beforehand ends at the same volts and amps as one that is watched at every step."""
    net = Net(seed, load)
    planned = net.many()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(many, "_planned", lambda *_: None)
        watched = net.many()
    assert np.array_equal(planned.collapsed, watched.collapsed)
    if not planned.collapsed.any():
        assert np.allclose(planned.volts, watched.volts, rtol=1e-9, atol=0)
        assert np.allclose(planned.amps, watched.amps, rtol=1e-9, atol=1e-9 * planned.amps.max())


@settings(deadline=None, max_examples=50)
@given(seeds, st.sampled_from([0.2, 1.0, 3.0]))
def test_bounds_of_a_plan(seed: int, load: float) -> None:
    """Whatever plan is taken, however short, every sample ends no further off than the bound it promises."""
    net = Net(seed, load)
    exact = net.many()
    for within in (1e-2, 1e-4, 1e-6):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(many, "WITHIN", within)
            rough = net.many()
        if not exact.collapsed.any():
            assert np.all(rough.volts >= exact.volts * (1 - 1e-8))
            # a voltage falls by a share of the least one in its tree; across trees it is only smaller
            assert np.all(rough.volts - exact.volts <= (within + 1e-8) * exact.volts.max())


def test_bounds_of_a_plan_near_collapse(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of samples that differ little, close to collapse, a plan promises no more than it keeps."""
    for share in (0.99, 0.999, 0.9999):
        watts = 144.0 * share * np.linspace(1 - 1e-5, 1.0, 9)
        columns = np.array([np.zeros(9), watts]), [0.0] * 2, [0.0] * 2
        exact = 6.0 * (1 + np.sqrt(1 - watts / 144.0))
        for within in (1e-3, 1e-5, 1e-7):
            monkeypatch.setattr(many, "WITHIN", within)
            rough = radial_many(12.0, [-1, 0], [0.24, 0.01], *columns).volts[1]
            assert np.all(np.abs(rough - exact) <= (within + 1e-9) * exact)


def test_amps_that_are_too_many() -> None:
    """Constant amps that leave no volts at an end collapse a tree as watts do; other trees stay."""
    amps = np.array([[0.0, 1.0, 5.0], [2.0, 11.0, 50.0], [1.0, 1.0, 1.0]])
    for watts in ([0.0] * 3, [0.1, 0.1, 0.0]):
        found = radial_many(12.0, [-1, 0, -1], [0.5, 0.5, 1.0], watts, amps, [0.0] * 3)
        assert found.collapsed.tolist() == [False, True, True] if watts[0] else [False, False, True]
        assert found.volts[2].tolist() == [11.0] * 3
        assert np.all(found.volts[:2, 2] == 0)
        assert np.all(found.amps[:2, 2] == 0)


def test_chunks_and_threads_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Small chunks, several threads and samples in another order give the same answers."""
    net = Net(3, 15.0, 3000)
    whole = net.many()
    assert whole.collapsed.any()
    monkeypatch.setattr(many, "CHUNK_VALUES", 1)
    for threads in (1, 2, 5):
        parts = net.many(threads)
        assert np.array_equal(parts.collapsed, whole.collapsed)
        assert np.allclose(parts.volts, whole.volts, rtol=1e-8, atol=0)
        assert np.allclose(parts.amps, whole.amps, rtol=1e-8, atol=0)


def test_into_an_earlier_answer() -> None:
    """An answer that is written over an earlier one holds nothing of it, and one of another shape is refused."""
    earlier, net = Net(3, 30.0, 100).many(), Net(3, 0.5, 100)
    assert earlier.collapsed.any()
    found = radial_many(net.volts, net.parent, *net.columns, into=earlier)
    assert found is earlier
    check(net, found)
    with pytest.raises(ValueError, match="cannot hold"):
        radial_many(12.0, [-1], [0.1], [1.0], [0.0], [0.0], into=earlier)


def test_values_that_do_not_vary() -> None:
    """One value for all samples is the same as that value repeated, whatever is given so; none at all is one sample."""
    one = radial_many(12.0, [-1, 0], [0.1, 0.1], [20.0, 30.0], [0.5, 0.0], [0.0, 0.01])
    assert one.volts.shape == (2, 1)
    for which in range(5):
        values: list[Any] = [12.0, [0.1, 0.1], [20.0, 30.0], [0.5, 0.0], [0.0, 0.01]]
        values[which] = np.repeat(np.atleast_1d(values[which])[:, None], 7, axis=1)
        values[0] = np.ravel(values[0])
        found = radial_many(values[0], [-1, 0], *values[1:])
        assert np.allclose(found.volts, one.volts, rtol=1e-12, atol=0)
    assert radial_many(np.full(4, 12.0), [], [], [], [], []).volts.shape == (0, 4)


@pytest.mark.parametrize(
    "given",
    [
        (0.0, [0.1], [1.0], [0.0], [0.0]),
        (math.nan, [0.1], [1.0], [0.0], [0.0]),
        (12.0, [-0.1], [1.0], [0.0], [0.0]),
        (12.0, [0.1], [math.nan], [0.0], [0.0]),
        (12.0, [0.1], [1.0], [math.inf], [0.0]),
        (12.0, [0.1], [1.0], [0.0], [[0.0, math.nan]]),
        (12.0, [0.1, 0.2], [1.0], [0.0], [0.0]),
        (12.0, [[0.1, 0.1]], [[1.0, 1.0, 1.0]], [0.0], [0.0]),
    ],
)
def test_refusals(given: Any) -> None:
    """Values that are negative or not finite, and arrays that do not fit each other, are refused."""
    volts, *columns = given
    columns = [np.array(column) for column in columns]
    with pytest.raises(ValueError, match=r"finite|samples|shape"):
        radial_many(volts, [-1], *columns)
    if columns[0].shape == (1,):
        wires, loads = Wires([1], [2], columns[0]), Loads([2], [0], *columns[1:])
        if volts != 0.0:
            with pytest.raises(ValueError, match=r"finite|samples|shape"):
                network_many(3, wires, Sources([1], [0], [volts], [0.0]), loads)


# --- circuits ---------------------------------------------------------------------------------------------------------


class Mesh:
    """A random circuit: both conductors, meshes, one to three sources, loads of all kinds between the two sides."""

    def __init__(self, seed: int, load: float, count: int = 8) -> None:
        rng = np.random.default_rng(seed)
        half = int(rng.integers(2, 6))
        self.nodes, self.count = 2 * half, count
        a, b = [], []
        for side in (0, 1):
            for k in range(1, half):
                a.append(2 * k + side)
                b.append(2 * int(rng.integers(0, k)) + side)
            for _ in range(int(rng.integers(0, 3))):
                pick = rng.choice(half, 2, replace=False)
                a.append(2 * int(pick[0]) + side)
                b.append(2 * int(pick[1]) + side)
        self.wires = Wires(a, b, rng.uniform(0.01, 0.1, (len(a), count)))
        fed = rng.choice(half, min(half, int(rng.integers(1, 4))), replace=False).tolist()
        ohms = rng.uniform(0.01, 0.05, (len(fed), count))
        ohms[0] *= rng.random() < 0.5
        plus = [2 * k + 1 for k in fed]
        self.sources = Sources(plus, [2 * k for k in fed], rng.uniform(11.9, 12.1, (len(fed), count)), ohms)
        n = 2 * half
        at = rng.integers(0, half, n).tolist()

        def some(scale: float, chance: float) -> Array:
            return scale * rng.random((n, count)) * (rng.random((n, 1)) < chance)

        columns = some(load * 50 / n, 0.8), some(4 / n, 0.3), some(1 / n, 0.3)
        self.loads = Loads([2 * k + 1 for k in at], [2 * k for k in at], *columns)

    def many(self) -> Points:
        """Solve all samples at once."""
        return network_many(self.nodes, self.wires, self.sources, self.loads)

    def one(self, sample: int) -> circuit.Solution:
        """Solve one sample by itself."""

        def column(values: Any) -> list[float]:
            return [float(value) for value in np.asarray(values)[:, sample]]

        wires = [circuit.Wire(*w) for w in zip(*self.wires[:2], column(self.wires.ohms), strict=True)]
        source = self.sources
        rows = zip(source.plus, source.minus, column(source.volts), column(source.ohms), strict=True)
        sources = [circuit.Source(*row) for row in rows]
        loads = [
            circuit.Load(*row)
            for row in zip(*self.loads[:2], *[column(values) for values in self.loads[2:]], strict=True)
        ]
        return network.solve(circuit.Circuit(self.nodes, wires, sources, loads=loads))


@settings(deadline=None)
@given(seeds, st.sampled_from([0.5, 2.0, 5.0]))
def test_circuit_as_the_solver_for_one(seed: int, load: float) -> None:
    """Every sample of a random circuit has the load volts, source amps and verdict that the solver for one gives."""
    mesh = Mesh(seed, load)
    found = mesh.many()
    for sample in range(mesh.count):
        one = mesh.one(sample)
        assert found.collapsed[sample] == (one.collapsed is not None)
        if one.collapsed is not None:
            assert not found.load_volts[:, sample].any()
            continue
        assert found.load_volts[:, sample] == pytest.approx(one.load_volts, abs=2e-6)
        assert found.load_amps[:, sample] == pytest.approx(one.load_amps, rel=1e-6)
        assert found.source_amps[:, sample] == pytest.approx(one.source_amps, abs=1e-4)


@settings(deadline=None, max_examples=50)
@given(seeds)
def test_circuit_laws(seed: int) -> None:
    """Currents add up to nothing at each node, and what the sources give is what loads, wires and sources take."""
    mesh = Mesh(seed, 2.0)
    found = mesh.many()
    net = np.zeros((mesh.nodes, mesh.count))
    ends = (
        (mesh.wires.a, mesh.wires.b, found.wire_amps),
        (mesh.sources.minus, mesh.sources.plus, found.source_amps),
        (mesh.loads.plus, mesh.loads.minus, found.load_amps),
    )
    for leaves, enters, amps in ends:
        np.add.at(net, np.array(leaves), amps)
        np.add.at(net, np.array(enters), -amps)
    assert np.abs(net).max() < 1e-8
    given_watts = (np.asarray(mesh.sources.volts) * found.source_amps).sum(axis=0)
    taken = (found.load_volts * found.load_amps).sum(axis=0)
    for ohms, amps in ((mesh.wires.ohms, found.wire_amps), (mesh.sources.ohms, found.source_amps)):
        taken += (np.asarray(ohms) * amps**2).sum(axis=0)
    assert np.allclose(np.where(found.collapsed, 0, given_watts), taken, rtol=1e-8, atol=1e-8)


@settings(deadline=None, max_examples=50)
@given(seeds, st.sampled_from([1.0, 3.0, 10.0]))
def test_circuit_as_the_tree(seed: int, load: float) -> None:
    """A tree laid out as a circuit, all of its resistance on the way out, is solved as by the method for trees."""
    net = Net(seed, load, 10)
    tree = net.many()
    n = len(net.parent)
    inner = [column if column.ndim == 2 else column[:, None] for column in net.columns]
    ohms = np.broadcast_to(inner[0], (n, net.count))
    wires = Wires([on + 2 for on in net.parent], [i + 2 for i in range(n)], ohms)
    source = Sources([1], [0], net.volts[None, :], [0.0])
    loads = Loads([i + 2 for i in range(n)], [0] * n, *inner[1:])
    found = network_many(n + 2, wires, source, loads)
    assert np.array_equal(found.collapsed, tree.collapsed)
    good = ~tree.collapsed
    assert np.allclose(found.load_volts[:, good], tree.volts[:, good], rtol=1e-7, atol=0)
    assert np.allclose(
        found.source_amps[0, good], tree.amps[[p < 0 for p in net.parent]][:, good].sum(axis=0)
    )


def test_bridge() -> None:
    """A load across a bridge, whose draw raises another's volts, is solved as by a general root finder."""
    ohms = [1.0, 3.0, 2.0, 1.0]
    wires = Wires([1, 1, 2, 3], [2, 3, 0, 0], ohms)
    loads = Loads([2, 2, 3], [3, 0, 0], np.array([[0.5, 1.0]] * 3), [0.0] * 3, [0.0] * 3)
    found = network_many(4, wires, Sources([1], [0], [12.0], [0.1]), loads)
    assert not found.collapsed.any()
    for sample, watts in enumerate((0.5, 1.0)):

        def balance(v: Array, watts: float = watts) -> list[float]:
            top, left, right = v
            across = watts / (left - right)
            return [
                (12.0 - top) / 0.1 - (top - left) / 1.0 - (top - right) / 3.0,
                (top - left) / 1.0 - left / 2.0 - across - watts / left,
                (top - right) / 3.0 - right / 1.0 + across - watts / right,
            ]

        expected = optimize.root(balance, [11.0, 7.0, 3.0], tol=1e-13).x
        assert found.volts[1:, sample] == pytest.approx(expected, rel=1e-9)


def test_two_sources_share_by_their_ohms() -> None:
    """Two equal sources side by side give a constant current in the inverse ratio of their resistances."""
    sources = Sources([1, 1], [0, 0], [12.0, 12.0], np.array([[0.1, 0.1], [0.1, 0.3]]))
    found = network_many(2, Wires([], [], []), sources, Loads([1], [0], [0.0], [4.0], [0.0]))
    assert found.source_amps.T.tolist() == [pytest.approx([2, 2]), pytest.approx([3, 1])]


def test_wire_without_ohms_in_some_samples() -> None:
    """A wire may have 0 ohm in some samples: its current is still known, and its ends are one node."""
    wires = Wires([1], [2], np.array([[0.0, 0.5]]))
    found = network_many(3, wires, Sources([1], [0], [12.0], [0.0]), Loads([2], [0], [0.0], [2.0], [0.0]))
    assert found.wire_amps[0].tolist() == pytest.approx([2.0, 2.0])
    assert found.load_volts[0].tolist() == pytest.approx([12.0, 11.0])


def test_circuits_that_are_none() -> None:
    """A node that hangs on nothing, stiff sources in a loop and ends that are no nodes are refused."""
    none = Loads([], [], [], [], [])
    source = Sources([1], [0], [12.0], [0.0])
    with pytest.raises(ValueError, match="hang"):
        network_many(4, Wires([1], [2], [0.1]), source, none)
    with pytest.raises(ValueError, match="hang"):
        network_many(4, Wires([3], [2], [0.1]), source, none)
    with pytest.raises(ValueError, match="loop"):
        network_many(2, Wires([], [], []), Sources([1, 1], [0, 0], [12.0, 11.0], [0.0, 0.0]), none)
    with pytest.raises(ValueError, match="nodes"):
        network_many(2, Wires([1], [2], [0.1]), source, none)

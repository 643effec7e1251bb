"""Operating points of one small circuit, with meshes and several sources, for many samples at once.

All that is linear is solved once for each sample, by dense nodal analysis with a current of its own for every
source and every wire without resistance. What is left are the loads of constant power: with u their voltages,
f(u) = u - open + Z (watts / u) = 0, where Z says how far one ampere drawn by a load lowers each load's voltage.

Where no entry of Z is negative (no load's draw raises another's volts: trees, shared returns, sources side by
side), Newton's method from the open voltages comes down to the upper point, as in `coldcheck.dc.radial`; and a
derivative J that is no M-matrix, or a voltage not above zero, proves that there is none. J, with no positive
entry off its diagonal, is one just when J x = 1 has a solution x above zero (Berman and Plemmons 1979, chapter
6; from memory). Where an entry is negative, as in a bridge, a point counts if its spectral radius is below 1,
which tells the upper point of a single load from the lower; and "collapsed" says that none was found.

Left out: diodes, converters, loads that switch themselves off.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from coldcheck.dc import radial

Array: TypeAlias = np.ndarray[Any, np.dtype[np.float64]]
Mask: TypeAlias = np.ndarray[Any, np.dtype[np.bool_]]
Values: TypeAlias = Array | Sequence[float]

CHUNK_VALUES = 262_144
"""Entries of all matrices of one chunk of samples."""


class Wires(NamedTuple):
    """Resistances between nodes a and b; ohms [ohm]: wires, or wires x samples."""

    a: Sequence[int]
    b: Sequence[int]
    ohms: Values


class Sources(NamedTuple):
    """Sources of volts [V] behind ohms [ohm], stiff where that is 0: sources, or sources x samples."""

    plus: Sequence[int]
    minus: Sequence[int]
    volts: Values
    ohms: Values


class Loads(NamedTuple):
    """Constant watts [W], amps [A] and siemens [S] side by side: loads, or loads x samples."""

    plus: Sequence[int]
    minus: Sequence[int]
    watts: Values
    amps: Values
    siemens: Values


class Points(NamedTuple):
    """Operating points of many samples; all arrays have a column for each.

    volts: of each node against node 0 [V]
    wire_amps: from a to b [A]
    source_amps: out of plus; below zero where current is pushed in [A]
    load_volts: plus against minus [V]
    load_amps: into plus [A]
    collapsed: samples without an operating point; all else reads 0 there
    """

    volts: Array
    wire_amps: Array
    source_amps: Array
    load_volts: Array
    load_amps: Array
    collapsed: Mask


def network_many(nodes: int, wires: Wires, sources: Sources, loads: Loads) -> Points:
    """Find the upper operating point of a circuit for many samples.

    nodes: how many there are; node 0 is the reference, and all others hang together with it [-]
    wires: between nodes, ends from 0 to nodes - 1 [ohm]
    sources: between nodes [V, ohm]
    loads: between nodes [W, A, S]
    Gives: Points, within 1e-9 of the greatest voltage; currents in wires of very small resistance lose the
        digits that their ends have in common.
    Errors: ValueError for arrays that do not fit each other, values that are negative or not finite, ends that
        are no nodes, nodes that do not hang on node 0, stiff sources or wires of 0 ohm in a loop.
    Valid: direct current; loads that keep to their law down to any voltage above zero.
    Source: see the module; modified nodal analysis (Ho, Ruehli and Brennan 1975; from memory).
    """
    ends = [list(side) for side in (*wires[:2], *sources[:2], *loads[:2])]
    if any(not 0 <= node < nodes for side in ends for node in side):
        raise ValueError(f"ends must be nodes from 0 to {nodes - 1}")
    counts = [len(ends[0]), len(ends[2]), len(ends[2]), *[len(ends[4])] * 3]
    given = [wires.ohms, sources.volts, sources.ohms, *loads[2:]]
    values, count = _values(given, counts)
    for of, names in zip((0, 2, 4), ("wire", "source", "load"), strict=True):
        if len(ends[of]) != len(ends[of + 1]):
            raise ValueError(f"each {names} has two ends")
    circuit = _Circuit(nodes, ends, [bool(np.any(row == 0.0)) for row in values[0]])
    size = max(16, CHUNK_VALUES // (circuit.size * (circuit.size + len(ends[4]) + 1)))
    parts = []
    for at in range(0, count, size):
        chunk = slice(at, min(at + size, count))
        some = [np.broadcast_to(v, (len(v), count))[:, chunk] for v in values]
        parts.append(circuit.solve(*some))
    return Points(*[np.concatenate(column, axis=-1) for column in zip(*parts, strict=True)])


def _values(given: Sequence[Values], counts: Sequence[int]) -> tuple[list[Array], int]:
    found = []
    names = ("ohms of wires", "volts", "ohms of sources", "watts", "amps", "siemens")
    for values, length, name in zip(given, counts, names, strict=True):
        array = np.asarray(values, dtype=float)
        array = array.reshape(-1, 1) if array.ndim == 1 else array
        if array.ndim != 2 or len(array) != length:
            raise ValueError(f"{name} of shape {array.shape} for {length}")
        if not (np.isfinite(array).all() and np.all(array >= 0.0)):
            raise ValueError(f"{name} must be finite and not negative")
        found.append(array)
    lengths = {array.shape[1] for array in found if array.size}
    count = max(lengths, default=1)
    if lengths - {1, count}:
        raise ValueError("each value must be one, or one for each sample, of as many samples as the others")
    return [a if a.size else np.empty((0, count)) for a in found], count


class _Circuit:
    """What all samples have in common. Unknown: volts of nodes 1 and up, amps of sources, of wires without ohms."""

    def __init__(self, nodes: int, ends: list[list[int]], bare: list[bool]) -> None:
        self.nodes = nodes
        self.wires = list(zip(ends[0], ends[1], strict=True))
        self.sources = list(zip(ends[2], ends[3], strict=True))
        self.loads = list(zip(ends[4], ends[5], strict=True))
        self.bare = [i for i, is_bare in enumerate(bare) if is_bare]
        self.size = nodes - 1 + len(self.sources) + len(self.bare)

    def _resistances(self, matrix: Array, pairs: list[tuple[int, int]], siemens: Array) -> None:
        for (a, b), value in zip(pairs, siemens, strict=True):
            for here, there in ((a, b), (b, a)):
                if here:
                    matrix[:, here - 1, here - 1] += value
                    if there:
                        matrix[:, here - 1, there - 1] -= value

    def _linear(
        self, wire_ohms: Array, volts: Array, source_ohms: Array, amps: Array, siemens: Array
    ) -> tuple[Array, Array]:
        """Give the matrix of each sample, and its right side with a column for each load's ampere after it."""
        count = volts.shape[1] if volts.size else wire_ohms.shape[1]
        matrix = np.zeros((count, self.size, self.size))
        right = np.zeros((count, self.size, 1 + len(self.loads)))
        bare = set(self.bare)
        kept = [i for i in range(len(self.wires)) if i not in bare]
        self._resistances(matrix, [self.wires[i] for i in kept], 1.0 / wire_ohms[kept])
        self._resistances(matrix, self.loads, siemens)
        own = [*self.sources, *[(b, a) for a, b in (self.wires[i] for i in self.bare)]]
        ohms = np.concatenate([source_ohms, wire_ohms[self.bare]])
        for k, ((plus, minus), r) in enumerate(zip(own, ohms, strict=True), self.nodes - 1):
            for node, sign in ((plus, 1.0), (minus, -1.0)):
                if node:
                    matrix[:, k, node - 1] += sign
                    matrix[:, node - 1, k] -= sign
            matrix[:, k, k] += r
        right[:, self.nodes - 1 : self.nodes - 1 + len(self.sources), 0] = volts.T
        for k, ((plus, minus), drawn) in enumerate(zip(self.loads, amps, strict=True)):
            for node, sign in ((plus, -1.0), (minus, 1.0)):
                if node:
                    right[:, node - 1, 0] += sign * drawn
                    right[:, node - 1, 1 + k] += sign
        return matrix, right

    def _across(self, answer: Array, pairs: list[tuple[int, int]]) -> Array:
        """Give the voltages between pairs of nodes (samples x pairs ...), from volts of nodes 1 and up."""
        ground = np.zeros_like(answer[:, :1])
        volts = np.concatenate([ground, answer[:, : self.nodes - 1]], axis=1)
        found: Array = volts[:, [a for a, _ in pairs]] - volts[:, [b for _, b in pairs]]
        return found

    def solve(
        self, wire_ohms: Array, volts: Array, source_ohms: Array, watts: Array, amps: Array, siemens: Array
    ) -> Points:
        """Solve one chunk of samples."""
        matrix, right = self._linear(wire_ohms, volts, source_ohms, amps, siemens)
        try:
            answer: Array = np.asarray(np.linalg.solve(matrix, right), dtype=float)
        except np.linalg.LinAlgError:
            answer = np.full_like(right, np.nan)
        # what is singular but for rounding gives huge numbers rather than an error
        if not np.all(np.abs(matrix @ answer - right) <= 1e-6 * (1.0 + np.abs(right).max(initial=0.0))):
            raise ValueError("a node does not hang on node 0, or stiff sources make a loop")
        across = self._across(answer, self.loads)
        drawn, collapsed = _carried(across[..., 0], -across[..., 1:], watts.T)
        answer = answer[..., 0] + np.einsum("sij,sj->si", answer[..., 1:], drawn)
        return self._points(answer, drawn.T, collapsed, wire_ohms, amps, siemens)

    def _points(
        self, answer: Array, drawn: Array, collapsed: Mask, wire_ohms: Array, amps: Array, siemens: Array
    ) -> Points:
        first = self.nodes - 1 + len(self.sources)
        source_amps = answer[:, self.nodes - 1 : first].T
        falls = self._across(answer, self.wires).T
        wire_amps = falls / np.where(wire_ohms > 0.0, wire_ohms, 1.0)
        # a bare wire stands as a source from b to a: out of its plus, at b, comes what goes in at a
        wire_amps[self.bare] = answer[:, first:].T
        load_volts = self._across(answer, self.loads).T
        load_amps = drawn + amps + siemens * load_volts
        node_volts = np.concatenate([np.zeros((1, len(answer))), answer[:, : self.nodes - 1].T])
        found = Points(node_volts, wire_amps, source_amps, load_volts, load_amps, collapsed)
        for array in found[:-1]:
            array[:, collapsed] = 0.0
        return found


def _carried(open_volts: Array, transfer: Array, watts: Array) -> tuple[Array, Mask]:
    """Give the amps that loads of constant power draw (samples x loads), and the samples that cannot carry them."""
    drawn = np.zeros_like(watts)
    collapsed = np.zeros(len(watts), dtype=bool)
    some = np.flatnonzero((watts > 0.0).any(axis=0))
    if not some.size:
        return drawn, collapsed
    takes, z = watts[:, some], transfer[:, some[:, None], some]
    on = takes > 0.0
    u = np.where(on, open_volts[:, some], 1.0)
    collapsed |= (u <= 0.0).any(axis=1)
    # a load that takes nothing in a sample is put aside there, wherever its voltage lies
    z = np.where(on[:, :, None] & on[:, None, :], z, 0.0)
    falling = (z >= -1e-12 * np.abs(z).max(axis=(1, 2), keepdims=True)).all(axis=(1, 2))
    opened = u.copy()
    going = np.flatnonzero(~collapsed)
    eye = np.eye(some.size)
    for _ in range(radial.STEPS):
        if not going.size:
            break
        v, p, t = u[going], takes[going], z[going]
        j = eye - t * (p / v**2)[:, None, :]
        f = v - opened[going] + np.einsum("sij,sj->si", t, p / v)
        step, test = _solved(j, np.stack([f, np.ones_like(f)], axis=-1))
        new = v - step
        none = ~(new > 0.0).all(axis=1) | (falling[going] & ~(test > 0.0).all(axis=1))
        collapsed[going[none]] = True
        u[going[~none]] = new[~none]
        settled = (np.abs(step) <= radial.SETTLED * new).all(axis=1)
        going = going[~none & ~settled]
    if falling[going].any():
        raise ArithmeticError(f"no operating point found or ruled out in {radial.STEPS} steps")
    collapsed[going] = True
    bridges = np.flatnonzero(~falling & ~collapsed)
    if bridges.size:
        slopes = z[bridges] * (takes[bridges] / u[bridges] ** 2)[:, None, :]
        collapsed[bridges] = np.abs(np.linalg.eigvals(slopes)).max(axis=1) >= 1.0
    drawn[:, some] = np.where(collapsed[:, None], 0.0, takes / u)
    return drawn, collapsed


def _solved(matrices: Array, right: Array) -> tuple[Array, Array]:
    """Solve two right sides for each matrix; where one is singular, the answer is not a number."""
    try:
        found: Array = np.asarray(np.linalg.solve(matrices, right), dtype=float)
    except np.linalg.LinAlgError:
        found = np.full_like(right, np.nan)
        for i, (matrix, columns) in enumerate(zip(matrices, right, strict=True)):
            try:
                found[i] = np.linalg.solve(matrix, columns)
            except np.linalg.LinAlgError:
                continue
    return found[..., 0], found[..., 1]

"""Operating points of one tree of wires for many samples at once.

The mathematics is that of `coldcheck.dc.radial`, done on rows of samples: Newton's method from above, one sweep
from the ends to the source and one back in each step. Samples are taken in chunks small enough to stay near the
processor; siblings whose numbers follow each other are done together.

The start. Newton's method needs one at or above the upper point of each sample (see radial). The upper point of
the *mildest* case is such a start: the highest source, and for every branch the least resistance and the least
load of all samples. For let w be the upper point of a sample. Currents at w are not negative, so with mildest
values f(w) ≤ 0, and Newton's method for the mildest case stays at or above every such w until it ends in that
case's upper point. If the mildest case has none, no sample has one.

The way. While loads lose little, the voltages that follow from the currents at the last ones come nearer faster
than by a derivative, for the work; currents at voltages too high are too low, so it stays above. What is left then
takes one step, or few, of Newton's method.

The end. Let d be the greatest share by which a step lowers any voltage, and u how far they are below the
source's. A load's line touches its curve where the step began, so the currents after the step are too small by
p d² / v at most; put through the sweeps once more, that moves no voltage by more than u (d / P)², where P is
the product of the least pivots on the way out. Where d or P leaves the range in which pivots hardly change over
what is left, the rule of radial is used instead.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from coldcheck.dc import radial
from coldcheck.dc.many_newton import Array, Columns, Group, Mask, Newton, Scratch, drawn

CHUNK_VALUES = 131_072
"""Branches times samples of one chunk: large enough that calls cost little, small enough for the cache."""


class Many(NamedTuple):
    """Operating points of many samples.

    volts: at the far end of each branch (branches x samples) [V]
    amps: in each branch (branches x samples) [A]
    collapsed: samples in which some load cannot be carried. All that hangs on the source by the same first
        branch then reads 0 V and 0 A; what hangs on other first branches is right.
    """

    volts: Array
    amps: Array
    collapsed: Mask


def radial_many(
    volts: Array | float,
    parent: Sequence[int],
    ohms: Array | Sequence[float],
    watts: Array | Sequence[float],
    amps: Array | Sequence[float],
    siemens: Array | Sequence[float],
    threads: int = 1,
    into: Many | None = None,
) -> Many:
    """Find the upper operating point of a tree of branches for many samples.

    volts: of the stiff source: of each sample, or of all [V]
    parent: branch that each branch hangs on, lower than its own number; -1 is the source [-]
    ohms: resistance of each branch, out and back: branches, or branches x samples [ohm]
    watts: constant power drawn at each far end: branches, or branches x samples [W]
    amps: constant current drawn at each far end: branches, or branches x samples [A]
    siemens: conductance across each far end: branches, or branches x samples [S]
    threads: how many share the work; each one has chunks of its own, so the answer is the same [-]
    into: an earlier answer of as many branches and samples that is no longer needed, to be overwritten: memory
        in use is quicker than fresh memory [-]
    Gives: Many, as exact as `radial.solve`.
    Errors: as of `radial.solve`; ValueError also for arrays that do not fit each other.
    Valid: as of `radial.solve`.
    Source: see the module and `coldcheck.dc.radial`.
    """
    columns, count = _columns(volts, len(parent), ohms, watts, amps, siemens)
    least = [column.min(axis=1) for column in columns[1:]]
    most = [column.max(axis=1) for column in columns[1:]]
    for low, high, name in zip(least, most, ("ohms", "watts", "amps", "siemens"), strict=True):
        # a value that is not a number fails either comparison
        if not (np.all(low >= 0.0) and np.all(high < np.inf)):
            raise ValueError(f"{name} must be finite and not negative")
    if not (np.all(columns.volts > 0.0) and np.all(columns.volts < np.inf)):
        raise ValueError("volts of the source must be positive and finite")
    mildest = radial.solve(float(columns.volts.max()), parent, *[low.tolist() for low in least])
    shape = len(parent), count
    many = into if into is not None else Many(np.empty(shape), np.empty(shape), np.empty(count, dtype=bool))
    if many.volts.shape != shape or many.amps.shape != shape or many.collapsed.shape != (count,):
        raise ValueError(f"an answer of shape {many.volts.shape} cannot hold one of shape {shape}")
    many.collapsed.fill(False)
    work = _Work(columns, list(parent), [column > 0.0 for column in most], np.array(mildest.volts), many)
    size = min(max(256, CHUNK_VALUES // max(1, len(parent))), -(-count // max(1, threads)))
    chunks = [slice(at, min(at + size, count)) for at in range(0, count, size)]
    threads = max(1, min(threads, len(chunks)))

    def share(first: int) -> None:
        scratch = Scratch(len(parent), size)
        # a sample that collapses may overflow before it is found out
        with np.errstate(all="ignore"):
            for chunk in chunks[first::threads]:
                work.solve(chunk, scratch)

    if threads == 1:
        share(0)
    else:
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(share, range(threads)))
    return many


def _columns(volts: Array | float, branches: int, *given: Array | Sequence[float]) -> tuple[Columns, int]:
    source = np.atleast_1d(np.asarray(volts, dtype=float))
    columns = [np.asarray(values, dtype=float) for values in given]
    columns = [c.reshape(-1, 1) if c.ndim == 1 else c for c in columns]
    lengths = {source.size} | {c.shape[-1] for c in columns}
    count = max(lengths)
    if source.ndim != 1 or lengths - {1, count} or 0 in lengths:
        raise ValueError("each value must be one, or one for each sample, of as many samples as the others")
    for name, column in zip(("ohms", "watts", "amps", "siemens"), columns, strict=True):
        if column.ndim != 2 or len(column) != branches:
            raise ValueError(f"{name} of shape {column.shape} for {branches} branches")
    return Columns(source, *columns), count


def _grouped(parent: list[int], kinds: list[Mask]) -> tuple[list[Group], list[list[Group]]]:
    """Split into groups: of branches alone on the source, and of each tree of several, parents first."""
    root = list(range(len(parent)))
    for i, on in enumerate(parent):
        if on >= 0:
            root[i] = root[on]
    sizes = np.bincount(root, minlength=len(parent)).tolist()

    def together(a: int, b: int) -> bool:
        alone = sizes[root[a]] == 1 and sizes[root[b]] == 1
        return parent[a] == parent[b] and (alone or parent[a] >= 0)

    starts = [i for i in range(len(parent)) if i == 0 or not together(i - 1, i)]
    leaves: list[Group] = []
    trees: dict[int, list[Group]] = {}
    for at, end in pairwise([*starts, len(parent)]):
        rows = slice(at, end)
        watts, amps, siemens = [bool(np.any(kind[rows])) for kind in kinds[1:]]
        group = Group(rows, parent[at], watts, amps, siemens)
        if sizes[root[at]] == 1:
            leaves.append(group)
        else:
            trees.setdefault(root[at], []).append(group)
    return leaves, list(trees.values())


class _Work:
    """One call: what is solved, where the answer goes."""

    def __init__(
        self, columns: Columns, parent: list[int], kinds: list[Mask], mildest: Array, many: Many
    ) -> None:
        self.columns = columns
        self.many = many
        # a hair above, since the mildest case is itself rounded; never above the highest source
        self.start = np.minimum(mildest * (1.0 + 1e-9), columns.volts.max())
        self.leaves, self.trees = _grouped(parent, kinds)

    def solve(self, chunk: slice, scratch: Scratch) -> None:
        """Solve one chunk of samples."""
        columns = self.columns.of(chunk)
        volts, amps = self.many.volts[:, chunk], self.many.amps[:, chunk]
        collapsed = self.many.collapsed[chunk]
        for group in self.leaves:
            bad = _alone(group, columns, volts[group.rows], amps[group.rows], scratch)
            if bad is not None:
                collapsed |= bad
        for tree in self.trees:
            rows = [i for group in tree for i in range(group.rows.start, group.rows.stop)]
            if not self.start[rows[0]] > 0.0:
                bad = np.ones_like(collapsed)
            else:
                bad = Newton(tree, columns, volts, amps, scratch).run(self.start[:, None])
            if bad is not None:
                collapsed |= bad
                where = np.ix_(np.array(rows), np.flatnonzero(bad))
                volts[where] = amps[where] = 0.0


def _alone(group: Group, columns: Columns, far: Array, flow: Array, scratch: Scratch) -> Mask | None:
    """Solve branches alone on the source: upper root of (1 + r g) v² - (volts - r c) v + r p = 0.

    Gives the samples in which one of them collapses, or None.
    """
    r, p, c, g = [column[group.rows] for column in columns[1:]]
    half, a, *_ = scratch.of(*far.shape)
    lost: list[Mask] = []
    if group.amps:
        np.multiply(r, c, out=half)
        np.subtract(columns.volts, half, out=half)
        half *= 0.5
        if not half.min() > 0.0:
            lost.append(~(half > 0.0))
    else:
        half = 0.5 * columns.volts
    if group.siemens:
        np.multiply(r, g, out=a)
        a += 1.0
    if group.watts:
        np.multiply(r, p, out=far)
        if group.siemens:
            far *= a
        np.subtract(half * half, far, out=far)
        if not far.min() >= 0.0:
            lost.append(~(far >= 0.0))
        np.sqrt(far, out=far)
        far += half
    else:
        np.add(half, half, out=far)
    if group.siemens:
        far /= a
    drawn(group, (p, c, g), far, flow, a)
    if not lost:
        return None
    none = np.logical_or.reduce(lost)
    far[none] = flow[none] = 0.0
    found: Mask = none.any(axis=0)
    return found

"""Operating points of one tree of wires for many samples at once.

The mathematics is that of `coldcheck.dc.radial`, done on rows of samples: Newton's method from above, one sweep
from the ends to the source and one back in each step. Samples are taken in chunks small enough to stay near the
processor; siblings whose numbers follow each other are done together.

The start. Newton's method needs one at or above the upper point of each sample (see radial). The upper point of
the *mildest* case is such a start: the highest source, and for every branch the least resistance and the least
load of all samples. For let w be the upper point of a sample. Currents at w are not negative, so with mildest
values f(w) ≤ 0, and Newton's method for the mildest case stays at or above every such w until it ends in that
case's upper point. If the mildest case has none, no sample has one.

The way. The *harshest* case, of lowest source, greatest resistances and greatest loads, lies below every sample by
the same reasoning. Where it is carried, so is everything between the two, and bounds that hold there hold for all
samples; so how to go is settled beforehand, and nothing is looked at on the way. Let e be how far voltages are above
the solution, and R the resistances shared by the paths of two loads. To take the currents at the last voltages
(too low, so what follows stays above) leaves R (p / v²) e at most. A step of Newton's method leaves the currents
short of p e² / v³; these are put through two more sweeps, and each divides by the pivots on the way at most.

Where the harshest case is not carried, every step is watched: pivots, voltages, and the greatest share d by which
one falls. With u how far voltages are below the source's, and P the product of the least pivots, what is left is no
more than u (d / P)²; where d or P leaves the range in which pivots hardly change over that, the rule of radial holds.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from coldcheck.dc import radial
from coldcheck.dc.many_newton import WITHIN, Array, Columns, Group, Mask, Newton, Plan, Scratch, drawn

CHUNK_VALUES = 65_536
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
    harshest = radial.solve(float(columns.volts.min()), parent, *[high.tolist() for high in most])
    shape = len(parent), count
    many = into if into is not None else Many(np.empty(shape), np.empty(shape), np.empty(count, dtype=bool))
    if many.volts.shape != shape or many.amps.shape != shape or many.collapsed.shape != (count,):
        raise ValueError(f"an answer of shape {many.volts.shape} cannot hold one of shape {shape}")
    many.collapsed.fill(False)
    work = _Work(columns, list(parent), most, (mildest.volts, harshest.volts), many)
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
        self,
        columns: Columns,
        parent: list[int],
        most: list[Array],
        ends: tuple[list[float], list[float]],
        many: Many,
    ) -> None:
        self.columns = columns
        self.many = many
        # a hair above, since the mildest case is itself rounded; never above the highest source
        self.start = np.minimum(np.array(ends[0]) * (1.0 + 1e-9), columns.volts.max())
        self.checked = min(ends[1], default=1.0) == 0.0  # something collapses in the harshest case
        self.leaves, trees = _grouped(parent, [column > 0.0 for column in most])
        self.trees = [(tree, _planned(tree, parent, most, self.start, ends[1])) for tree in trees]

    def solve(self, chunk: slice, scratch: Scratch) -> None:
        """Solve one chunk of samples."""
        columns = self.columns.of(chunk)
        volts, amps = self.many.volts[:, chunk], self.many.amps[:, chunk]
        collapsed = self.many.collapsed[chunk]
        for group in self.leaves:
            bad = _alone(group, columns, volts[group.rows], amps[group.rows], scratch, self.checked)
            if bad is not None:
                collapsed |= bad
        for tree, plan in self.trees:
            rows = [i for group in tree for i in range(group.rows.start, group.rows.stop)]
            if plan is not None:
                Newton(tree, columns, volts, amps, scratch).follow(self.start[:, None], plan)
                continue
            if not self.start[rows[0]] > 0.0:
                bad = np.ones_like(collapsed)
            else:
                bad = Newton(tree, columns, volts, amps, scratch).run(self.start[:, None])
            if bad is not None:
                collapsed |= bad
                where = np.ix_(np.array(rows), np.flatnonzero(bad))
                volts[where] = amps[where] = 0.0


def _planned(
    tree: list[Group], parent: list[int], most: list[Array], start: Array, harshest: list[float]
) -> Plan | None:
    """Give the cheapest plan that surely ends within WITHIN; None where the harshest case does not allow any."""
    rows = [i for group in tree for i in range(group.rows.start, group.rows.stop)]
    ohms, watts = most[0].tolist(), most[1].tolist()
    least = min(harshest[i] for i in rows) * (1.0 - 1e-8)
    if not least > 0.0:
        return None
    slope = {i: watts[i] / harshest[i] ** 2 for i in rows}
    below, bent, pivot = dict(slope), {i: slope[i] / harshest[i] for i in rows}, {}
    for i in reversed(rows):
        pivot[i] = 1.0 - ohms[i] * slope[i]
        if not pivot[i] > 0.0:
            return None
        if parent[i] >= 0:
            slope[parent[i]] += slope[i] / pivot[i]
            below[parent[i]] += below[i]
            bent[parent[i]] += bent[i]
    # at each far end: product of pivots on the way, and what is left of e and of e², before the pivots
    share, first, second = {-1: 1.0}, {-1: 0.0}, {-1: 0.0}
    for i in rows:
        on = parent[i]
        share[i] = share[on] * pivot[i]
        first[i] = first[on] + ohms[i] * below[i]
        second[i] = second[on] + ohms[i] * bent[i]
    linear, square = max(first.values()), max(second.values()) / min(share.values()) ** 2
    apart = max(float(start[i]) - harshest[i] for i in rows)
    # the line of a conductance is exact, but currents at voltages too high are too high with one
    most_approaches = 0 if any(group.siemens for group in tree) else 6
    plans: list[Plan] = []
    for approaches in range(most_approaches + 1):
        left = apart * linear**approaches
        for steps in range(1, 6):
            if left * square > 0.5:
                break
            left *= left * square
            if left <= WITHIN * least:
                plans.append(Plan(approaches, steps))
                break
    # a step of Newton's method passes three times as often over the samples
    return min(plans, key=lambda plan: plan.approaches + 3 * plan.steps, default=None)


def _alone(
    group: Group, columns: Columns, far: Array, flow: Array, scratch: Scratch, checked: bool
) -> Mask | None:
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
        if checked and not half.min() > 0.0:
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
        if checked and not far.min() >= 0.0:
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

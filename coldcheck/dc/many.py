"""Operating points of one tree of wires for many samples at once.

The mathematics is that of `coldcheck.dc.radial`, done on rows of samples: Newton's method from above, one sweep
from the ends to the source and one back in each step. Samples are taken in chunks small enough to stay near the
processor; siblings whose numbers follow each other are done together.

The start. Newton's method needs one at or above the upper point of each sample (see radial). The upper point of
the *mildest* case is such a start: the highest source, and for every branch the least resistance and the least
load of all samples. For let w be the upper point of a sample. Currents at w are not negative, so with mildest
values f(w) ≤ 0, and Newton's method for the mildest case stays at or above every such w until it ends in that
case's upper point. If the mildest case has none, no sample has one.

The end. Let d be the greatest share by which a step lowers any voltage, and u what the voltages are below the
source's. A load's line touches its curve where the step began, so the currents after the step are too small by
p d² / v at most; put through the sweeps once more, that moves no voltage by more than u (d / P)², where P is
the product of the least pivots on the way out. Where d or P leaves the range in which pivots hardly change over
what is left, the rule of radial is used instead.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from coldcheck.dc import radial

Array: TypeAlias = np.ndarray[Any, np.dtype[np.float64]]
Mask: TypeAlias = np.ndarray[Any, np.dtype[np.bool_]]

CHUNK_VALUES = 16_384
"""Branches times samples of one chunk: about a megabyte with all that is kept for each."""

APART = 8
"""After so many steps, samples that have not settled go on by themselves."""


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


class _Group(NamedTuple):
    """Branches of one parent whose numbers follow each other, and which kinds of load any of them has."""

    rows: slice
    parent: int
    watts: bool
    amps: bool
    siemens: bool
    parents: bool  # some other branch hangs on one of them


class _Columns(NamedTuple):
    """Values of all branches: branches x samples, or branches x 1 where all samples have the same."""

    volts: Array
    ohms: Array
    watts: Array
    amps: Array
    siemens: Array

    def of(self, samples: slice | Array) -> "_Columns":
        """Give the same of some samples."""
        return _Columns(*[c[..., samples] if c.shape[-1] > 1 else c for c in self])


def radial_many(
    volts: Array | float,
    parent: Sequence[int],
    ohms: Array | Sequence[float],
    watts: Array | Sequence[float],
    amps: Array | Sequence[float],
    siemens: Array | Sequence[float],
    threads: int = 1,
) -> Many:
    """Find the upper operating point of a tree of branches for many samples.

    volts: of the stiff source: of each sample, or of all [V]
    parent: branch that each branch hangs on, lower than its own number; -1 is the source [-]
    ohms: resistance of each branch, out and back: branches, or branches x samples [ohm]
    watts: constant power drawn at each far end: branches, or branches x samples [W]
    amps: constant current drawn at each far end: branches, or branches x samples [A]
    siemens: conductance across each far end: branches, or branches x samples [S]
    threads: how many share the work; each one has chunks of its own, so the answer is the same [-]
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
    many = Many(np.empty((len(parent), count)), np.empty((len(parent), count)), np.zeros(count, dtype=bool))
    work = _Work(columns, list(parent), [column > 0.0 for column in most], np.array(mildest.volts), many)
    size = max(256, CHUNK_VALUES // max(1, len(parent)))
    chunks = [slice(at, min(at + size, count)) for at in range(0, count, size)]
    threads = max(1, min(threads, len(chunks)))

    def share(first: int) -> None:
        scratch = _Scratch(len(parent), size)
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


def _columns(volts: Array | float, branches: int, *given: Array | Sequence[float]) -> tuple[_Columns, int]:
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
    return _Columns(source, *columns), count


def _grouped(parent: list[int], kinds: list[Mask]) -> tuple[list[_Group], list[list[_Group]]]:
    """Split into groups: of branches alone on the source, and of each tree of several, parents first."""
    root = list(range(len(parent)))
    for i, on in enumerate(parent):
        if on >= 0:
            root[i] = root[on]
    sizes = np.bincount(root, minlength=len(parent)).tolist()
    holds = set(parent)

    def together(a: int, b: int) -> bool:
        alone = sizes[root[a]] == 1 and sizes[root[b]] == 1
        return parent[a] == parent[b] and (alone or parent[a] >= 0)

    starts = [i for i in range(len(parent)) if i == 0 or not together(i - 1, i)]
    leaves: list[_Group] = []
    trees: dict[int, list[_Group]] = {}
    for at, end in zip(starts, [*starts[1:], len(parent)], strict=True):
        rows = slice(at, end)
        some = [bool(np.any(kind[rows])) for kind in kinds[1:]]
        group = _Group(rows, parent[at], *some, any(i in holds for i in range(at, end)))
        if sizes[root[at]] == 1:
            leaves.append(group)
        else:
            trees.setdefault(root[at], []).append(group)
    return leaves, list(trees.values())


class _Scratch:
    """Memory that is used again for every chunk: to have it afresh from the system costs more than the sums."""

    def __init__(self, branches: int, size: int) -> None:
        self._all = [np.empty(branches * size) for _ in range(5)]

    def of(self, branches: int, count: int) -> list[Array]:
        """Give five arrays (branches x count)."""
        if branches * count > self._all[0].size:
            return [np.empty((branches, count)) for _ in range(5)]
        return [part[: branches * count].reshape(branches, count) for part in self._all]


class _Work:
    """One call: what is solved, where the answer goes."""

    def __init__(
        self, columns: _Columns, parent: list[int], kinds: list[Mask], mildest: Array, many: Many
    ) -> None:
        self.columns = columns
        self.many = many
        # a hair above, since the mildest case is itself rounded; never above the highest source
        self.start = np.minimum(mildest * (1.0 + 1e-9), columns.volts.max())
        self.leaves, self.trees = _grouped(parent, kinds)

    def solve(self, chunk: slice, scratch: _Scratch) -> None:
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
                bad = _Newton(tree, columns, volts, amps, scratch).run(self.start[:, None])
            if bad is not None:
                collapsed |= bad
                where = np.ix_(rows, np.flatnonzero(bad))
                volts[where] = amps[where] = 0.0


def _alone(group: _Group, columns: _Columns, far: Array, flow: Array, scratch: _Scratch) -> Mask | None:
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
    _drawn(group, (p, c, g), far, flow, a)
    if not lost:
        return None
    none = np.logical_or.reduce(lost)
    far[none] = flow[none] = 0.0
    found: Mask = none.any(axis=0)
    return found


class _Rows(NamedTuple):
    """What Newton's method holds for one group of branches: views of the arrays of its chunk.

    What hangs on a branch is, in the voltage at its near end, the line (draw - fall × volts) / pivot.
    """

    group: _Group
    children: list[tuple[int, "_Rows"]]  # with the place of each one's parent in the group
    r: Array
    p: Array
    c: Array
    g: Array
    draw: Array
    fall: Array
    pivot: Array
    work: Array


class _Newton:
    """Newton's method on one tree, for one chunk of samples; arrays are branches x samples."""

    def __init__(
        self, tree: list[_Group], columns: _Columns, far: Array, flow: Array, scratch: _Scratch
    ) -> None:
        self.tree = tree
        self.far = far
        self.flow = flow
        self.spare, *self.arrays = scratch.of(*far.shape)
        self.curved = any(group.watts for group in tree)
        self.bad: Mask | None = None  # samples found to have no solution
        self.fresh: Mask | None = None  # of these, the ones that still have their loads
        self._lay_out(columns)

    def _lay_out(self, columns: _Columns) -> None:
        self.columns = columns
        self.high = float(columns.volts.max())
        views: list[_Rows] = []
        for group in reversed(self.tree):
            at = group.rows
            children = [
                (below.group.parent - at.start, below)
                for below in views
                if at.start <= below.group.parent < at.stop
            ]
            own = [array[at] for array in (*columns[1:], *self.arrays)]
            views.append(_Rows(group, children, *own))
        self.views = views  # from the ends to the source

    def run(self, start: Array, left: int = radial.STEPS) -> Mask | None:
        """Go down from voltages at or above the solution; give the samples that have none, or None.

        What the samples without a solution then hold is that of the tree without its loads.
        """
        before, after = start, self.spare
        for step in range(left):
            while True:
                share = self._inward(before)
                low, fell = self._outward(before, after, measured=step > 0)
                if self.fresh is None:
                    break
                self._unload(self.fresh)
            if self._settled(share, low, fell):
                break
            if step % APART == APART - 1 and self._apart(before, after, left - step - 1):
                return self.bad
            before, after = after, self.far if after is self.spare else self.spare
        else:
            raise ArithmeticError(f"no operating point found or ruled out in {radial.STEPS} steps")
        self._finish(after)
        return self.bad

    def _settled(self, share: float, low: float, fell: float) -> bool:
        """Say whether what is left is within SETTLED; see the module."""
        if not self.curved or fell <= radial.SETTLED:
            return True
        near = share > 0.1 and fell < 1e-3
        return near and 2.0 * (self.high - low) * (fell / share) ** 2 <= radial.SETTLED * low

    def _inward(self, volts: Array) -> float:
        """Sweep from the ends to the source; give the product of the least pivots."""
        share = 1.0
        for rows in self.views:
            draw, fall, pivot = rows.draw, rows.fall, rows.pivot
            _lines(rows, volts[rows.group.rows])
            for i, below in rows.children:
                _gather(below, draw[i], fall[i], rows.work[i])
            np.multiply(rows.r, fall, out=pivot)
            np.subtract(1.0, pivot, out=pivot)
            least = float(pivot.min())
            if not least > 0.0:
                self._mark(pivot)
            share *= min(1.0, least)
            np.divide(1.0, pivot, out=pivot)
        return share

    def _outward(self, before: Array, after: Array, measured: bool) -> tuple[float, float]:
        """Sweep from the source to the ends; give the least voltage, and the greatest share by which one fell."""
        low, fell = np.inf, 0.0 if measured else np.inf
        for rows in reversed(self.views):
            group, work = rows.group, rows.work
            volts = after[group.rows]
            np.multiply(rows.r, rows.draw, out=work)
            np.subtract(self._near(group, after), work, out=volts)
            volts *= rows.pivot
            least = float(volts.min())
            if not least > 0.0:
                self._mark(volts)
            low = min(low, least)
            if measured and group.watts and least > 0.0:
                np.subtract(before[group.rows], volts, out=work)
                fell = max(fell, float(work.max()) / least)
        return low, fell

    def _near(self, group: _Group, far: Array) -> Array:
        return self.columns.volts if group.parent < 0 else far[group.parent]

    def _mark(self, values: Array) -> None:
        """Note the samples in which a value is not above zero, and put it out of harm's way."""
        wrong = ~(values > 0.0)
        found = wrong.any(axis=0)
        self.fresh = found if self.fresh is None else self.fresh | found
        values[wrong] = 1.0

    def _unload(self, samples: Mask) -> None:
        """Take the loads off samples that were found to have no solution."""
        watts, amps = [np.array(np.broadcast_to(c, self.far.shape)) for c in self.columns[2:4]]
        watts[:, samples] = amps[:, samples] = 0.0
        self._lay_out(self.columns._replace(watts=watts, amps=amps))
        self.bad = samples if self.bad is None else self.bad | samples
        self.fresh = None

    def _apart(self, before: Array, after: Array, left: int) -> bool:
        """Where some samples have settled, let the others go on by themselves to their end."""
        going = np.zeros(after.shape[-1], dtype=bool)
        for group in self.tree:
            new = after[group.rows]
            going |= (before[group.rows] - new > radial.SETTLED * new).any(axis=0)
        samples = np.flatnonzero(going)
        if samples.size == going.size:
            return False
        start = after[:, samples]
        self._finish(after)
        if samples.size:
            far, flow = np.empty_like(start), np.empty_like(start)
            rest = _Newton(self.tree, self.columns.of(samples), far, flow, _Scratch(*start.shape))
            bad = rest.run(start, left)
            for group in self.tree:
                self.far[group.rows, samples] = far[group.rows]
                self.flow[group.rows, samples] = flow[group.rows]
            if bad is not None:
                self.bad = np.zeros_like(going) if self.bad is None else self.bad
                self.bad[samples] |= bad
        return True

    def _finish(self, after: Array) -> None:
        """Give the currents, and the voltages where they belong."""
        for rows in self.views:
            group = rows.group
            flow = self.flow[group.rows]
            if rows.children:
                np.multiply(rows.fall, self._near(group, after), out=flow)
                np.subtract(rows.draw, flow, out=flow)
                flow *= rows.pivot
            else:
                _drawn(group, (rows.p, rows.c, rows.g), after[group.rows], flow, rows.work)
            if after is not self.far:
                self.far[group.rows] = after[group.rows]


def _drawn(group: _Group, loads: tuple[Array, Array, Array], far: Array, flow: Array, work: Array) -> None:
    """Give what loads draw at their volts."""
    p, c, g = loads
    # not (near - far) / r: that loses every digit where r is tiny
    np.divide(p, far, out=flow) if group.watts else flow.fill(0.0)
    if group.amps:
        flow += c
    if group.siemens:
        np.multiply(g, far, out=work)
        flow += work


def _lines(rows: _Rows, volts: Array) -> None:
    """Lay the line that touches each load at these volts."""
    group, draw, fall = rows.group, rows.draw, rows.fall
    if not group.watts:
        draw.fill(0.0)
        fall.fill(0.0)
    elif volts.shape[-1] == 1:
        np.multiply(rows.p, 2.0 / volts, out=draw)
        np.multiply(rows.p, 1.0 / (volts * volts), out=fall)
    else:
        np.divide(rows.p, volts, out=draw)
        np.divide(draw, volts, out=fall)
        draw += draw
    if group.amps:
        draw += rows.c
    if group.siemens:
        fall -= rows.g


def _gather(below: _Rows, draw: Array, fall: Array, work: Array) -> None:
    """Add what hangs on the branches of one group to the line of their parent."""
    for line, total in ((below.draw, draw), (below.fall, fall)):
        if len(line) == 1:
            np.multiply(line[0], below.pivot[0], out=work)
        else:
            np.einsum("ij,ij->j", line, below.pivot, out=work)
        total += work

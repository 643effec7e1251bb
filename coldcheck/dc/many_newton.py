"""Newton's method on one tree of wires for a chunk of samples; `coldcheck.dc.many` says why it is right."""

from typing import Any, NamedTuple, TypeAlias

import numpy as np

from coldcheck.dc import radial

Array: TypeAlias = np.ndarray[Any, np.dtype[np.float64]]
Mask: TypeAlias = np.ndarray[Any, np.dtype[np.bool_]]

APART = 8
"""After so many steps, samples that have not settled go on by themselves."""

WITHIN = 5e-10
"""What may be left by the bound in `coldcheck.dc.many`, as a share of the voltage."""


class Group(NamedTuple):
    """Branches of one parent whose numbers follow each other, and which kinds of load any of them has."""

    rows: slice
    parent: int
    watts: bool
    amps: bool
    siemens: bool


class Plan(NamedTuple):
    """How often a tree is approached without derivatives, and how many steps of Newton's method come after."""

    approaches: int
    steps: int


class Columns(NamedTuple):
    """Values of all branches: branches x samples, or branches x 1 where all samples have the same."""

    volts: Array
    ohms: Array
    watts: Array
    amps: Array
    siemens: Array

    def of(self, samples: Any) -> "Columns":
        """Give the same of some samples."""
        return Columns(*[c[..., samples] if c.shape[-1] > 1 else c for c in self])


class Scratch:
    """Memory that is used again for every chunk: to have it afresh from the system costs more than the sums."""

    def __init__(self, branches: int, size: int) -> None:
        self._all = [np.empty(branches * size) for _ in range(5)]

    def of(self, branches: int, count: int) -> list[Array]:
        """Give five arrays (branches x count)."""
        if branches * count > self._all[0].size:
            return [np.empty((branches, count)) for _ in range(5)]
        return [part[: branches * count].reshape(branches, count) for part in self._all]


class _Rows(NamedTuple):
    """What Newton's method holds for one group of branches: views of the arrays of its chunk.

    What hangs on a branch is, in the voltage at its near end, the line (draw - fall × volts) / pivot.
    """

    group: Group
    children: list[tuple[int, "_Rows"]]  # with the place of each one's parent in the group
    r: Array
    p: Array
    c: Array
    g: Array
    draw: Array
    fall: Array
    pivot: Array
    work: Array


class Newton:
    """Newton's method on one tree, for one chunk of samples; arrays are branches x samples."""

    def __init__(
        self, tree: list[Group], columns: Columns, far: Array, flow: Array, scratch: Scratch
    ) -> None:
        self.tree = tree
        self.far = far
        self.flow = flow
        self.spare, *self.arrays = scratch.of(*far.shape)
        self.curved = any(group.watts for group in tree)
        self.bad: Mask | None = None  # samples found to have no solution
        self.fresh: Mask | None = None  # of these, the ones that still have their loads
        self._lay_out(columns)

    def _lay_out(self, columns: Columns) -> None:
        self.columns = columns
        self.high = float(columns.volts.max())
        self.views: list[_Rows] = []  # from the ends to the source
        hanging: dict[int, list[_Rows]] = {}
        for group in reversed(self.tree):
            at = group.rows
            children = [
                (i - at.start, below) for i in range(at.start, at.stop) for below in hanging.get(i, ())
            ]
            own = [array[at] for array in (*columns[1:], *self.arrays)]
            self.views.append(_Rows(group, children, *own))
            hanging.setdefault(group.parent, []).append(self.views[-1])

    def follow(self, start: Array, plan: Plan) -> None:
        """Go down from voltages above the solution, by a plan that needs no look at what comes of it."""
        before, after = start, self.spare
        for _ in range(plan.approaches):
            self._approach(before, after)
            before, after = after, self.far if after is self.spare else self.spare
        for _ in range(plan.steps):
            self._inward(before, checked=False)
            self._outward(before, after, checked=False)
            before, after = after, self.far if after is self.spare else self.spare
        self._finish(before)

    def run(self, start: Array, left: int = radial.STEPS) -> Mask | None:
        """Go down from voltages at or above the solution; give the samples that have none, or None.

        What the samples without a solution then hold is that of the tree without its loads.
        """
        before, after = start, self.spare
        for step in range(left):
            while True:
                share = self._inward(before)
                low, fell = self._outward(before, after)
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

    def _approach(self, volts: Array, after: Array) -> None:
        """Give the voltages that follow from the currents at others: a third of the work of a step."""
        for rows in self.views:
            group, draw = rows.group, rows.draw
            at = volts[group.rows]
            if not group.watts:
                draw.fill(0.0)
            elif at.shape[-1] == 1:
                np.multiply(rows.p, 1.0 / at, out=draw)
            else:
                np.divide(rows.p, at, out=draw)
            if group.amps:
                draw += rows.c
            for i, below in rows.children:
                _add(below.draw, draw[i], rows.work[i])
        for rows in reversed(self.views):
            np.multiply(rows.r, rows.draw, out=rows.work)
            np.subtract(self._near(rows.group, after), rows.work, out=after[rows.group.rows])

    def _settled(self, share: float, low: float, fell: float) -> bool:
        """Say whether what is left is little enough; see the module."""
        if not self.curved or fell <= radial.SETTLED:
            return True
        near = share > 0.1 and fell < 1e-3
        return near and 2.0 * (self.high - low) * (fell / share) ** 2 <= WITHIN * low

    def _inward(self, volts: Array, checked: bool = True) -> float:
        """Sweep from the ends to the source; give the product of the least pivots."""
        share = 1.0
        for rows in self.views:
            draw, fall, pivot = rows.draw, rows.fall, rows.pivot
            _lines(rows, volts[rows.group.rows])
            for i, below in rows.children:
                _gather(below, draw[i], fall[i], rows.work[i])
            np.multiply(rows.r, fall, out=pivot)
            np.subtract(1.0, pivot, out=pivot)
            if checked:
                least = float(pivot.min())
                if not least > 0.0:
                    self._mark(pivot)
                share *= min(1.0, least)
            np.divide(1.0, pivot, out=pivot)
        return share

    def _outward(self, before: Array, after: Array, checked: bool = True) -> tuple[float, float]:
        """Sweep from the source to the ends; give the least voltage, and the greatest share by which one fell."""
        low, fell = np.inf, 0.0
        for rows in reversed(self.views):
            group, work = rows.group, rows.work
            volts = after[group.rows]
            np.multiply(rows.r, rows.draw, out=work)
            np.subtract(self._near(group, after), work, out=volts)
            volts *= rows.pivot
            if not checked:
                continue
            least = float(volts.min())
            if not least > 0.0:
                self._mark(volts)
            low = min(low, least)
            if group.watts and least > 0.0:
                np.subtract(before[group.rows], volts, out=work)
                fell = max(fell, float(work.max()) / least)
        return low, fell

    def _near(self, group: Group, far: Array) -> Array:
        return self.columns.volts if group.parent < 0 else far[group.parent]

    def _mark(self, values: Array) -> None:
        """Note the samples in which a value is not above zero, and put it out of harm's way."""
        wrong = ~(values > 0.0)
        found: Mask = np.asarray(wrong.any(axis=0))
        if self.fresh is not None:
            found |= self.fresh
        self.fresh = found
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
            rest = Newton(self.tree, self.columns.of(samples), far, flow, Scratch(*start.shape))
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
            # not from the lines of the last step: those are too low by the square of what it changed
            drawn(group, (rows.p, rows.c, rows.g), after[group.rows], flow, rows.work)
            for i, below in rows.children:
                _add(self.flow[below.group.rows], flow[i], rows.work[i])
            if after is not self.far:
                self.far[group.rows] = after[group.rows]


def drawn(group: Group, loads: tuple[Array, Array, Array], far: Array, flow: Array, work: Array) -> None:
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


def _add(rows: Array, total: Array, work: Array) -> None:
    """Add the sum of some rows to another."""
    # unlike a plain sum, this lets other threads run meanwhile
    total += rows[0] if len(rows) == 1 else np.einsum("ij->j", rows, out=work)


def _gather(below: _Rows, draw: Array, fall: Array, work: Array) -> None:
    """Add what hangs on the branches of one group to the line of their parent."""
    for line, total in ((below.draw, draw), (below.fall, fall)):
        if len(line) == 1:
            np.multiply(line[0], below.pivot[0], out=work)
        else:
            np.einsum("ij,ij->j", line, below.pivot, out=work)
        np.add(total, work, out=total)

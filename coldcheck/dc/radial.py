"""Operating point of a tree of wires fed by one stiff source.

A load that takes constant power draws more current as its voltage falls, so a tree can have two operating
points, or none. The one reached when the loads are turned up from nothing is the upper one, and it is the
one given here.

How, and why "none" is a proof. Write f(v) = v - (voltages with every constant power replaced by the current
it takes at v). Each part of f is convex in v, and its derivative has no positive entry off the diagonal.
Newton's method started at or above a solution of such a system stays at or above every solution and never
rises (monotone Newton theorem; Ortega and Rheinboldt 1970, section 13.3). It starts here with the source's
voltage everywhere, which is above any solution. While there is a solution, the derivative at each step is a
non-singular M-matrix, which shows in elimination as pivots above zero. So a pivot or a voltage that is not
above zero proves that there is no operating point with every voltage above zero; nothing is concluded from
the number of steps. On a tree, each step is one sweep from the ends to the source and one back. It converges
quadratically, and close to collapse still halves the distance each time.

Left out on purpose: a voltage below which a load switches itself off, diodes, more than one source, loops.
"""

import math
from collections.abc import Sequence
from operator import ge, mul

from msgspec import Struct

SETTLED = 1e-10
"""Newton stops when no voltage falls by more than this share; what is left is then at most about as much."""

STEPS = 500
"""Far beyond what a tree needs; see `solve` for what happens there."""


class Solution(Struct, frozen=True):
    """Operating point of a tree.

    volts: at the far end of each branch [V]
    amps: in each branch [A]
    total: current out of the source [A]
    lost: power turned to heat in the branches [W]
    collapsed: None, or the branch whose load cannot be carried. All that hangs on the source by the same
        first branch then reads 0 V and 0 A and is left out of `total` and `lost`; what hangs on other first
        branches is right.
    """

    volts: list[float]
    amps: list[float]
    total: float
    lost: float
    collapsed: int | None


def solve(
    volts: float,
    parent: Sequence[int],
    ohms: Sequence[float],
    watts: Sequence[float],
    amps: Sequence[float],
    siemens: Sequence[float],
) -> Solution:
    """Find the upper operating point of a tree of branches, each with a load at its far end.

    volts: of the stiff source [V]
    parent: branch that each branch hangs on, lower than its own number; -1 is the source [-]
    ohms: resistance of each branch, out and back [ohm]
    watts: constant power drawn at each far end [W]
    amps: constant current drawn at each far end [A]
    siemens: conductance across each far end [S]
    Gives: Solution, within 1e-9 of its own size; nearer to collapse than 1e-12 of the load, within about
        1e-7. `collapsed` names one load for all that cannot be carried: of each tree that fails, the load
        that would by itself lose most on its path; of those, the lowest number.
    Errors: ValueError for lists of unequal length, a parent that is not before its branch, a value that is
        negative or not finite; ArithmeticError if rounding keeps Newton's method from settling (never
        seen).
    Valid: direct current; loads that keep to their law down to any voltage above zero.
    Source: see the module; a branch alone on the source has the closed form of a quadratic.
    """
    _check(volts, parent, ohms, watts, amps, siemens)
    trees, in_tree = _trees(parent)
    far, flow, collapsed = _leaves(volts, in_tree, (ohms, watts, amps, siemens))
    for tree, up in trees:
        loads = [(watts[i], amps[i], siemens[i]) for i in tree]
        runs = [ohms[i] for i in tree]
        found = _newton(volts, up, runs, loads)
        if found is None:
            failed = tree[_greediest(volts, up, runs, loads)]
            collapsed = failed if collapsed is None else min(failed, collapsed)
            continue
        for i, at_end, through in zip(tree, *found, strict=True):
            far[i] = at_end
            flow[i] = through
    total = sum([through for through, on in zip(flow, parent, strict=True) if on < 0])
    lost = sum(map(mul, map(mul, flow, flow), ohms))
    return Solution(far, flow, total, lost, collapsed)


def _check(volts: float, parent: Sequence[int], *columns: Sequence[float]) -> None:
    if not 0 < volts < math.inf:
        raise ValueError(f"source of {volts} V is not positive and finite")
    count = len(parent)
    for name, column in zip(("ohms", "watts", "amps", "siemens"), columns, strict=True):
        if len(column) != count:
            raise ValueError(f"{len(column)} {name} for {count} branches")
        # a sum is not finite as soon as one term is not, and takes one call
        if count and not (min(column) >= 0 and math.isfinite(sum(column))):
            raise ValueError(f"{name} must be finite and not negative")
    if count and (min(parent) < -1 or any(map(ge, parent, range(count)))):
        raise ValueError("each branch must hang on a branch before it, or on the source (-1)")


def _trees(parent: Sequence[int]) -> tuple[list[tuple[list[int], list[int]]], bytearray]:
    """Split into what hangs on the source by one first branch each: a stiff source keeps them apart.

    Gives the branches of each tree that has more than one, with the place of each one's parent in the tree;
    and a mark on every branch that is in one of them.
    """
    in_tree = bytearray(len(parent))
    if not parent or max(parent) < 0:
        return [], in_tree
    first = list(range(len(parent)))
    place = [0] * len(parent)
    trees: dict[int, tuple[list[int], list[int]]] = {}
    for i, on in enumerate(parent):
        if on < 0:
            continue
        root = first[i] = first[on]
        branches, up = trees.setdefault(root, ([root], [-1]))
        place[i] = len(branches)
        branches.append(i)
        up.append(place[on])
        in_tree[i] = in_tree[root] = 1
    return list(trees.values()), in_tree


def _leaves(
    volts: float, skip: Sequence[int], columns: tuple[Sequence[float], ...]
) -> tuple[list[float], list[float], int | None]:
    """Solve the branches alone on the source: upper root of (1 + r g) v² - (volts - r c) v + r p = 0."""
    far: list[float] = []
    flow: list[float] = []
    collapsed = None
    root = math.sqrt
    for r, p, c, g, skipped in zip(*columns, skip, strict=True):
        a = 1.0 + r * g
        half = 0.5 * (volts - r * c)
        square = half * half - a * r * p
        if half > 0.0 and square >= 0.0 and not skipped:
            at_end = (half + root(square)) / a
            far.append(at_end)
            # not (volts - at_end) / r: that loses every digit where r is tiny
            flow.append(p / at_end + c + g * at_end)
            continue
        if not skipped and collapsed is None:
            collapsed = len(far)
        far.append(0.0)
        flow.append(0.0)
    return far, flow, collapsed


def _newton(
    volts: float, up: list[int], ohms: list[float], loads: list[tuple[float, float, float]]
) -> tuple[list[float], list[float]] | None:
    """Solve one tree whose branch 0 hangs on the source; None when it has no operating point."""
    far = [volts] * len(up)
    inwards = range(len(up) - 1, -1, -1)
    for _ in range(STEPS):
        # each load as the straight line that touches it here: draw + slope × voltage
        draw = [c + 2.0 * p / v for (p, c, _), v in zip(loads, far, strict=True)]
        slope = [g - p / v / v for (p, _, g), v in zip(loads, far, strict=True)]
        for i in inwards:
            # all that hangs on branch i, as a line in the voltage at the branch's near end
            pivot = 1.0 + ohms[i] * slope[i]
            if not pivot > 0.0:
                return None
            draw[i] /= pivot
            slope[i] /= pivot
            if i:
                on = up[i]
                draw[on] += draw[i]
                slope[on] += slope[i]
        lower: list[float] = []
        flow: list[float] = []
        settled = True
        for on, r, d, s, before in zip(up, ohms, draw, slope, far, strict=True):
            near = lower[on] if on >= 0 else volts
            through = d + s * near
            at_end = near - r * through
            if not at_end > 0.0:
                return None
            if before - at_end > SETTLED * at_end:
                settled = False
            lower.append(at_end)
            flow.append(through)
        if settled:
            return lower, flow
        far = lower
    raise ArithmeticError(f"no operating point found or ruled out in {STEPS} steps")


def _greediest(
    volts: float, up: list[int], ohms: list[float], loads: list[tuple[float, float, float]]
) -> int:
    """Find the load that alone, at the source's voltage, would lose most on its path.

    A load that cannot be carried even by itself (4 R P > volts²) comes before every constant power that can.
    """
    path: list[float] = []
    for on, r in zip(up, ohms, strict=True):
        path.append(r + (path[on] if on >= 0 else 0.0))
    lost = [r * (p / volts + c + g * volts) for r, (p, c, g) in zip(path, loads, strict=True)]
    return lost.index(max(lost))

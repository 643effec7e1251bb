"""Newton's method for the upper operating point, and the way up to it from no load.

`settle` takes one factorisation for as many steps as it serves (the chord, or Shamanskii's method) and makes a
new one as soon as a step is not ten times smaller than the one before. Bends (diodes, converters) are taken by
the slopes of the side where the point is. Should the sides repeat, every further step goes down to where the
sum of (step × what is left over) changes sign. With no converter the equations are the slopes of one function,
the co-content; at no load it is convex with a bounded number of faces, so such steps lower it each time and
end on the face of the answer (a piecewise quadratic convex function; Katzenelson 1965 for the circuits).
Elsewhere `STEPS` bounds them.

Upper, and none: where every load lowers the volts of every other (all loads across one pair of stiff rails, for
example) Newton's steps from no load never pass the upper point, and a pivot or a voltage that is not above zero
proves that there is none (see `coldcheck.dc.radial`). A point where each load keeps more than half its volts
at no load is the upper one there: with Z the fall of each load's volts per ampere at each, D = diag(watts/u²)
and u > (volts at no load)/2, Z D u <= (volts at no load) - u < u, so Z D has no eigenvalue of 1 or more
(Collatz-Wielandt), here or with less load. In other circuits that does not follow. There each factorisation
on the way has to have pivots above zero; a point that is past a bend and below half the volts somewhere is not
taken; and where none was found, `climb` follows the point from no load in small steps. Tests hold both ways
against each other, on circuits with diodes, several sources and shared returns: they never differed.
"""

from typing import Any, Protocol

from msgspec import Struct

from coldcheck.dc.net_layout import KNEE

STEPS = 200
"""Newton's method gives up after so many steps [-]."""

SETTLED = 1e-12
"""It stops when no volts would move by more than this in the next step [V]; or, where rounding keeps them moving,
by 1000 times this four times."""

SLOW = 0.1
"""A factorisation is kept as long as each step is smaller than the last by this factor [-]."""

BALANCED = 1e-8
"""A point with more than this left over at a node has a diode just below its bend that only seems to carry it [A]."""

LEAST_SHARE = 1e-5
"""The way up ends when no rise of all loads by this share of what is reached can be made [-]."""

CATCHES = 20
"""So often a fall past the end of the way up is followed to where another feed holds it [-]."""


class Matrix(Protocol):
    """A factorised matrix of slopes."""

    positive: bool

    def solve(self, right: Any) -> Any:
        """Solve for one right-hand side."""


class Equations(Protocol):
    """What Newton's method asks of `net_lists.ListEquations` and `net_columns.ArrayEquations`."""

    system: Any

    def rest(self) -> Any:
        """Give the unknowns all 0."""

    def left(self, x: Any, share: float) -> Any:
        """Give what is left over of each equation."""

    def pull(self, x: Any) -> Any:
        """Give what all loads together add to what is left over."""

    def factor(self, x: Any, share: float, knee: float = KNEE) -> Matrix:
        """Take the matrix of slopes apart; what is less than `knee` below its bend has the slope above it."""

    def moved(self, x: Any, step: Any, length: float) -> Any:
        """Give x less a step of some length."""

    def along(self, step: Any, left: Any) -> float:
        """Give the product of a step and what is left over."""

    def size(self, step: Any) -> float:
        """Give the greatest change of any volts in a step, or the most that is left over at any node."""

    def alive(self, x: Any, share: float) -> bool:
        """Tell whether every load that draws has volts above zero."""

    def held(self, x: Any) -> Any:
        """Give the volts of each load that asks for power or a current, and of each input."""

    def sides(self, x: Any) -> bytes:
        """Tell on which side of each bend the point is."""

    def with_gain(self, share: float) -> "Equations":
        """Give the same equations, with converters taking in only a share of what they would for what they give."""

    def still(self, x: Any) -> bool:
        """Tell whether nothing at all flows at no load."""

    def lowest(self, x: Any, before: Any) -> float:
        """Give the least share of the volts before that any load or input has kept."""


class Nose(Struct):
    """Where the way up ends.

    x: the last point on it
    fall: how the unknowns move there when all loads rise
    share: of all loads that is carried
    """

    x: Any
    fall: Any
    share: float


def at_rest(equations: Equations) -> Any | None:
    """Give the unknowns with every load off; None where supplies feed themselves so that nothing holds them."""
    x = equations.rest()
    if equations.still(x):
        return x
    found = settle(equations, x, 0.0)
    if found is None and equations.system.gain:
        # Diodes that have not found their sides yet drive amps that converters would ask for without end: let the
        # diodes settle first, with nothing taken in for what is given.
        calm = settle(equations.with_gain(0.0), x, 0.0)
        found = None if calm is None else settle(equations, calm, 0.0)
    return found


def jump(equations: Equations, rest: Any) -> Any | None:
    """Go from no load to all loads at once; None where that does not surely end at the upper point."""
    found = settle(equations, rest, 1.0)
    if found is None:
        return None
    bent = equations.sides(found) != equations.sides(rest)
    return None if bent and equations.lowest(found, rest) <= 0.5 else found


def settle(equations: Equations, x: Any, share: float) -> Any | None:
    """Newton's method from x, with this share of all loads; None where it ends in no operating point."""
    matrix, before, fresh = None, 0.0, False
    seen: set[bytes] = set()
    sides = equations.sides(x)
    damped, idle = False, 0
    for _ in range(STEPS):
        if matrix is None:
            matrix, fresh = equations.factor(x, share), True
            if not matrix.positive:
                return None
        step = matrix.solve(equations.left(x, share))
        new = equations.moved(x, step, 1.0)
        alive = equations.alive(new, share)
        if not alive and not fresh:
            matrix = None
            continue
        if not alive and not sides:
            return None
        if damped or not alive:
            # past a bend another feed may hold what this step would let fall
            new = _shortened(equations, x, step, share)
        size = equations.size(step)
        now = equations.sides(new)
        bent = now != sides
        if bent:
            damped = damped or now in seen
            seen.add(now)
        x, sides = new, now
        idle = idle + 1 if size <= 1e3 * SETTLED and size > 0.5 * before > 0.0 else 0
        # away from bends steps shrink by about the same factor each time: this is what the next one would be
        following = size if now else size * min(1.0, size / before) if before else size
        if not bent and (following <= SETTLED or idle > 3):
            return _balanced(equations, x, share)
        # the first step of all has none before it, and says nothing of how the next will be
        if bent or size > SLOW * before > 0.0:
            matrix = None
        before, fresh = size, False
    return None


def _balanced(equations: Equations, x: Any, share: float) -> Any:
    """Let go of diodes that stand just below their bend, where the others would have to carry what they do not.

    Such a diode counts as one that conducts, so that a step made with its slope, however small, would take up in it
    what flows in from elsewhere; it is off, and the rest stays at the node.
    """
    if not equations.sides(x):
        return x
    left = equations.left(x, share)
    before = equations.size(left)
    for _ in range(STEPS):
        if before <= BALANCED:
            break
        matrix = equations.factor(x, share, 0.0)
        if not matrix.positive:
            break
        new = equations.moved(x, matrix.solve(left), 1.0)
        if not equations.alive(new, share):
            break
        left = equations.left(new, share)
        now = equations.size(left)
        if now >= before:
            break
        x, before = new, now
    return x


def _shortened(equations: Equations, x: Any, step: Any, share: float) -> Any:
    """Go along a step to where what is left over no longer points along it, by bisection."""
    low, high = 0.0, 1.0
    new = equations.moved(x, step, 1.0)
    if equations.alive(new, share) and equations.along(step, equations.left(new, share)) >= 0.0:
        return new
    for _ in range(50):
        middle = 0.5 * (low + high)
        new = equations.moved(x, step, middle)
        if equations.alive(new, share) and equations.along(step, equations.left(new, share)) >= 0.0:
            low = middle
        else:
            high = middle
    return equations.moved(x, step, high if low == 0.0 else low)


def climb(equations: Equations, rest: Any, least: float = LEAST_SHARE) -> Any | Nose:
    """Follow the operating point from no load; Nose where it ends before all loads are on.

    Each rise starts along the slope at the last point; one that loses a load more than a tenth of its volts
    is halved, down to a thousandth. Where the upper point ends and a diode lets a lower one take over, the
    lower one is given: the volts fall to it.
    """
    share, rise, x, fall, catches = 0.0, 0.25, rest, None, 0
    while share < 1.0:
        if fall is None:
            fall = equations.factor(x, share).solve(equations.pull(x))
        to = min(1.0, share + rise)
        found = _risen(equations, x, fall, share, to)
        if found is not None and (rise < 1e-3 * share or equations.lowest(found, x) > 0.9):
            x, share, rise, fall = found, to, 2.0 * rise, None
            continue
        rise /= 2.0
        if rise < least * share or rise < 1e-12:
            to = min(1.0, share + 3.0 * max(rise, least * share))
            catches += 1
            caught = _caught(equations, x, fall, to) if catches <= CATCHES else None
            if caught is None:
                return Nose(x, fall, share)
            x, share, rise, fall = caught, to, 0.01, None
    return x


def _caught(equations: Equations, x: Any, fall: Any, to: float) -> Any | None:
    """Let the volts fall past the end of the upper point, to where a diode may let another feed hold them."""
    if not equations.sides(x):
        return None
    length = 1e-6
    while length < 1e9:
        guess = equations.moved(x, fall, length)
        if not equations.alive(guess, to):
            return None
        found = settle(equations, guess, to)
        if found is not None:
            return found
        length *= 1.5
    return None


def _risen(equations: Equations, x: Any, fall: Any, share: float, to: float) -> Any | None:
    guess = equations.moved(x, fall, to - share)
    if not equations.alive(guess, to):
        guess = x
    return settle(equations, guess, to)

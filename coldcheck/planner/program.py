"""An integer program in words: numbers to choose, demands on them, and an aim; solved by HiGHS through SciPy.

A demand is a row, or several, that belong to one sentence; where the demands contradict each other, a few of them that
do are found by leaving out one after the other (Chinneck, Dravnieks, "Locating minimal infeasible constraint sets in
linear programs", ORSA Journal on Computing 3, 1991: the deletion filter; from memory), and the least amount by which
those that can give way would have to (an elastic program, the same).

SciPy is imported when a program is solved, and by nothing before that.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import inf
from typing import Any

import msgspec

__all__ = ["Contradiction", "Demand", "Give", "Program", "Solution", "Sum", "Terms", "add"]

#: A sum of numbers to choose: each by its number, with a factor; what stands by itself under None.
Sum = dict[int | None, float]
#: The same, to be read only.
Terms = Mapping[Any, float]
#: A solution that is this little worse is as good [-].
ROUNDING = 1e-6
#: So many ways to give way are told one by one.
MOST_GIVES = 4
#: What `scipy.optimize.milp` calls a program that no numbers meet.
_INFEASIBLE = 2


def add(into: Sum, other: Sum, factor: float = 1.0) -> Sum:
    """Add a sum to another, which is changed, and return that."""
    for key, value in other.items():
        into[key] = into.get(key, 0.0) + factor * value
    return into


class Give(msgspec.Struct, frozen=True):
    """How a demand could give way: by one of something, told by ``says`` with {} for how much; ``price`` of one."""

    says: str
    price: float = 1.0
    whole: bool = True


class Demand(msgspec.Struct):
    """One row: a sum between two bounds. ``says`` is what it asks, in words; "" where it only ties numbers together."""

    terms: Sum
    low: float
    high: float
    says: str = ""
    give: Give | None = None


class Solution(msgspec.Struct):
    """The numbers chosen, and what the aim came to: ``value``, and ``bound``, which no choice can be better than."""

    numbers: list[float]
    value: float
    bound: float

    @property
    def gap(self) -> float:
        """How far the value may be from the best one, as a share of it [-]."""
        return abs(self.value - self.bound) / max(abs(self.value), 1e-9)

    def of(self, number: int) -> int:
        """Return a whole number."""
        return round(self.numbers[number])

    def sum(self, terms: Terms) -> float:
        """Return what a sum comes to."""
        return sum(f if key is None else f * self.numbers[key] for key, f in terms.items())


class Contradiction(Exception):
    """No choice meets every demand: ``demands`` are a few that contradict each other, ``gives`` the least that helps.

    Without any one of the demands the others could be met.
    """

    def __init__(self, demands: Sequence[str], gives: Sequence[str]) -> None:
        super().__init__("; ".join(demands))
        self.demands = list(demands)
        self.gives = list(gives)


class Program:
    """Numbers to choose and demands on them. ``seconds`` bounds the time of one search."""

    def __init__(self, seconds: float = 10.0) -> None:
        self.seconds = seconds
        self.lows: list[float] = []
        self.highs: list[float] = []
        self.whole: list[int] = []
        self.demands: list[Demand] = []

    def number(self, low: float = 0.0, high: float = inf, whole: bool = True) -> int:
        """Add a number to choose and return its number."""
        self.lows.append(low)
        self.highs.append(high)
        self.whole.append(int(whole))
        return len(self.lows) - 1

    def demand(
        self, terms: Terms, low: float = -inf, high: float = inf, says: str = "",
        give: Give | None = None,
    ) -> None:  # fmt: skip
        """Ask that a sum lies between two bounds; what stands by itself in it is taken off the bounds."""
        rest: Sum = {**terms}
        alone = rest.pop(None, 0.0)
        rest = {key: factor for key, factor in rest.items() if factor}
        self.demands.append(Demand(rest, low - alone, high - alone, says, give))

    def solve(self, aims: Iterable[Terms] = ()) -> list[Solution]:
        """Return the best choice by the first aim, among those the best by the second, and so on: one for each aim.

        Raises:
            Contradiction: no choice meets every demand.
        """
        kept = list(self.demands)
        found: list[Solution] = []
        try:
            for aim in aims or ({},):
                best = self._search(aim, self.demands) if not found else self._further(aim, found[-1])
                if best is None:
                    raise self._contradiction(kept)
                found.append(best)
                alone = aim.get(None, 0.0)
                slack = ROUNDING * max(1.0, abs(best.value))
                self.demands.append(Demand({k: f for k, f in aim.items() if k is not None and f}, -inf,
                                           best.value - alone + slack))  # fmt: skip
        finally:
            self.demands = kept
        return found

    def _further(self, aim: Terms, before: Solution) -> Solution:
        """Return the best by a further aim; where that is not found in time, what is best so far serves."""
        try:
            best = self._search(aim, self.demands)
        except TimeoutError:
            best = None
        if best is not None:
            return best
        return Solution(before.numbers, before.sum(aim), -inf)

    def _search(self, aim: Terms, demands: Sequence[Demand]) -> Solution | None:
        """Return the numbers that make an aim least; None where no numbers meet the demands."""
        alone = aim.get(None, 0.0)
        if any(not d.terms and (d.low > ROUNDING or d.high < -ROUNDING) for d in demands):
            return None
        if not self.lows:
            return Solution([], alone, alone)
        done = self._run(aim, [d for d in demands if d.terms])
        if done.x is None:
            if done.status == _INFEASIBLE:
                return None
            raise TimeoutError(f"no choice was found in {self.seconds:g} s: {done.message}")
        numbers = [round(x) if whole else x for x, whole in zip(done.x.tolist(), self.whole, strict=True)]
        bound = done.mip_dual_bound if done.mip_dual_bound is not None else done.fun
        return Solution(numbers, float(done.fun) + alone, float(bound) + alone)

    def _run(self, aim: Terms, rows: Sequence[Demand]) -> Any:
        """Return what HiGHS says of an aim; where it gives up with its presolve, what it says without."""
        import numpy
        from scipy.optimize import Bounds, LinearConstraint, milp

        costs = numpy.zeros(len(self.lows))
        for key, factor in aim.items():
            if key is not None:
                costs[key] = factor
        matrix = _matrix(rows, len(costs)) if rows else None
        limits = [LinearConstraint(matrix, [d.low for d in rows], [d.high for d in rows])] if rows else []
        for presolve in (True, False):
            options = {"time_limit": self.seconds, "mip_rel_gap": 0.0, "presolve": presolve}
            bounds = Bounds(self.lows, self.highs)
            done: Any = milp(
                costs, integrality=self.whole, bounds=bounds, constraints=limits, options=options
            )
            if done.x is not None or done.status == _INFEASIBLE:
                break
        return done

    def _contradiction(self, demands: list[Demand]) -> Contradiction:
        """Return a few demands that contradict each other, and what would free them."""
        ties = [d for d in demands if not d.says]
        told: dict[str, list[Demand]] = {}
        for demand in demands:
            if demand.says:
                told.setdefault(demand.says, []).append(demand)
        left = dict(told)
        for says in told:
            without = [d for other, rows in left.items() if other != says for d in rows]
            if self._search({}, [*ties, *without]) is None:
                del left[says]
        return Contradiction(list(left), self._gives(demands))

    def _gives(self, demands: list[Demand]) -> list[str]:
        """Return by how much those demands that can must give way at least for all demands to be met."""
        soft = Program(self.seconds)
        soft.lows, soft.highs, soft.whole = list(self.lows), list(self.highs), list(self.whole)
        aim: dict[int | None, float] = {}
        more: list[tuple[int, Give]] = []
        rows: list[Demand] = []
        for demand in demands:
            terms = dict(demand.terms)
            if demand.give is not None:
                over = soft.number(whole=demand.give.whole)
                more.append((over, demand.give))
                aim[over] = demand.give.price
                if demand.high < inf:
                    terms[over] = -1.0
                else:
                    terms[over] = 1.0
            rows.append(Demand(terms, demand.low, demand.high))
        best = soft._search(aim, rows) if more else None
        if best is None:
            return []
        return [
            give.says.format(_amount(best.numbers[over]))
            for over, give in more
            if best.numbers[over] > ROUNDING
        ]


def _amount(value: float) -> str:
    return f"{value:.3g}"


def _matrix(rows: Sequence[Demand], width: int) -> Any:
    from scipy.sparse import csr_array

    data, columns, starts = [], [], [0]
    for row in rows:
        for key, factor in row.terms.items():
            assert key is not None
            columns.append(key)
            data.append(factor)
        starts.append(len(data))
    return csr_array((data, columns, starts), shape=(len(rows), width))

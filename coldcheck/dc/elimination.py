"""Sparse elimination in plain Python: for systems so small that importing a library would cost more."""

from collections.abc import Sequence

Rows = list[dict[int, float]]


class Factors:
    """A matrix taken apart once, to be solved for many right-hand sides.

    positive: whether every pivot was above zero; where one was not, nothing can be solved
    """

    __slots__ = ("_steps", "positive")

    def __init__(self, rows: Rows, order: Sequence[int]) -> None:
        """Eliminate along the diagonal; the rows are used up. Work: the sum of squares of the row lengths.

        rows: row → column → value; each diagonal is there, and so is (j, i) wherever (i, j) is
        order: in which the unknowns are eliminated; see `least_degree`
        """
        steps: list[tuple[int, float, list[tuple[int, float]], list[tuple[int, float]]]] = []
        self._steps = steps
        self.positive = False
        for k in order:
            row = rows[k]
            pivot = row.pop(k)
            if not pivot > 0.0:
                return
            right = list(row.items())
            below = []
            for j in row:
                other = rows[j]
                share = other.pop(k) / pivot
                below.append((j, share))
                # even where the share is 0, so that (j, i) stays there wherever (i, j) is
                for column, value in right:
                    other[column] = other.get(column, 0.0) - share * value
            steps.append((k, pivot, right, below))
        self.positive = True

    def solve(self, right: Sequence[float]) -> list[float]:
        """Solve for one right-hand side; it is kept as it is."""
        x = list(right)
        for k, _, _, below in self._steps:
            value = x[k]
            if value:
                for j, share in below:
                    x[j] -= share * value
        for k, pivot, row, _ in reversed(self._steps):
            value = x[k]
            for column, factor in row:
                value -= factor * x[column]
            x[k] = value / pivot
        return x


def least_degree(rows: Rows) -> list[int]:
    """Give an order in which each unknown has the fewest neighbours at its turn: little fills in.

    rows: as for `Factors`; kept as they are
    """
    from heapq import heapify, heappop, heappush

    beside = [set(row) for row in rows]
    for k, near in enumerate(beside):
        near.discard(k)
    heap = [(len(near), k) for k, near in enumerate(beside)]
    heapify(heap)
    order: list[int] = []
    done = bytearray(len(rows))
    while heap:
        degree, k = heappop(heap)
        near = beside[k]
        # each change of degree pushes a new entry; the old ones are passed over here
        if done[k] or degree != len(near):
            continue
        done[k] = 1
        order.append(k)
        for j in near:
            other = beside[j]
            other.discard(k)
            if degree > 1:
                other |= near
                other.discard(j)
            heappush(heap, (len(other), j))
    return order

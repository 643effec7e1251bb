"""Columns of numbers as lists, or as arrays of numpy: the same few operations in both.

Few loads are faster as lists, and need no heavy import; many are faster as arrays.
"""

from collections.abc import Sequence
from typing import Any

FEW = 2000
"""Below so many nodes a loop of Python finds what hangs together sooner than SciPy is called [-]."""


class Lists:
    """Columns as lists."""

    @staticmethod
    def column(values: Sequence[float]) -> Any:
        """Take values as a column."""
        return values if isinstance(values, list) else list(values)

    @staticmethod
    def take(values: Any, at: Any) -> Any:
        """Give the values at these places."""
        return [values[i] for i in at]

    @staticmethod
    def less(first: Any, second: Any) -> Any:
        """Give the differences of two columns."""
        return [a - b for a, b in zip(first, second, strict=True)]

    @staticmethod
    def differ(first: Any, second: Any) -> list[int]:
        """Give the places where two columns differ."""
        return [i for i, (a, b) in enumerate(zip(first, second, strict=True)) if a != b]

    @staticmethod
    def flagged(marks: bytearray, at: Any) -> list[int]:
        """Give the places of those numbers that are marked."""
        return [i for i, k in enumerate(at) if marks[k]]

    @staticmethod
    def components(count: int, first: Any, second: Any) -> tuple[Any, int]:
        """Label what hangs together: a label for each of `count` nodes, and how many labels there are."""
        up = list(range(count))
        for one, other in zip(first, second, strict=True):
            a, b = one, other
            while up[a] != a:
                up[a] = a = up[up[a]]
            while up[b] != b:
                up[b] = b = up[up[b]]
            if a < b:
                up[b] = a
            else:
                up[a] = b
        # each points at a lower one, or at itself
        found = 0
        for i, on in enumerate(up):
            if on == i:
                up[i] = found
                found += 1
            else:
                up[i] = up[on]
        return up, found

    @staticmethod
    def number(count: int, skipped: bytearray) -> tuple[Any, int]:
        """Number those that are not skipped; these get the number after the last. Gives how many as well."""
        size = count - sum(skipped)
        numbers = []
        at = 0
        for skip in skipped:
            numbers.append(size if skip else at)
            at += not skip
        return numbers, size

    @staticmethod
    def sums(count: int, first: Any, second: Any, values: Any) -> Any:
        """Add each value at its first place and take it away at its second."""
        total = [0.0] * count
        for a, b, value in zip(first, second, values, strict=True):
            total[a] += value
            total[b] -= value
        return total

    @staticmethod
    def join(*columns: Any) -> Any:
        """Put columns one after another."""
        return [value for column in columns for value in column]

    @staticmethod
    def plain(column: Any) -> list[Any]:
        """Give a column as a list."""
        return column if isinstance(column, list) else list(column)


class Arrays:
    """Columns as arrays of numpy."""

    @staticmethod
    def column(values: Sequence[float]) -> Any:
        """Take values as a column."""
        import numpy as np

        return np.asarray(values)

    @staticmethod
    def take(values: Any, at: Any) -> Any:
        """Give the values at these places."""
        import numpy as np

        return np.asarray(values)[np.asarray(at, dtype=np.intp)]

    @staticmethod
    def less(first: Any, second: Any) -> Any:
        """Give the differences of two columns."""
        return first - second

    @staticmethod
    def differ(first: Any, second: Any) -> list[int]:
        """Give the places where two columns differ."""
        import numpy as np

        return np.flatnonzero(np.asarray(first) != np.asarray(second)).tolist()

    @staticmethod
    def flagged(marks: bytearray, at: Any) -> list[int]:
        """Give the places of those numbers that are marked."""
        import numpy as np

        return np.flatnonzero(np.frombuffer(marks, np.uint8)[at]).tolist()

    @staticmethod
    def components(count: int, first: Any, second: Any) -> tuple[Any, int]:
        """Label what hangs together: a label for each of `count` nodes, and how many labels there are."""
        import numpy as np

        if count < FEW:
            labels, found = Lists.components(count, Arrays.plain(first), Arrays.plain(second))
            return np.asarray(labels, np.intp), found
        from scipy.sparse import coo_array
        from scipy.sparse.csgraph import connected_components

        graph = coo_array((np.ones(len(first), np.int8), (first, second)), shape=(count, count))
        many, label_array = connected_components(graph, directed=False)
        return label_array, int(many)

    @staticmethod
    def number(count: int, skipped: bytearray) -> tuple[Any, int]:
        """Number those that are not skipped; these get the number after the last. Gives how many as well."""
        import numpy as np

        kept = np.frombuffer(skipped, np.uint8) == 0
        size = int(np.count_nonzero(kept))
        return np.where(kept, np.cumsum(kept) - 1, size), size

    @staticmethod
    def sums(count: int, first: Any, second: Any, values: Any) -> Any:
        """Add each value at its first place and take it away at its second."""
        import numpy as np

        return np.bincount(first, values, count) - np.bincount(second, values, count)

    @staticmethod
    def join(*columns: Any) -> Any:
        """Put columns one after another."""
        import numpy as np

        return np.concatenate([np.asarray(c) for c in columns if len(c)] or [np.zeros(0)])

    @staticmethod
    def plain(column: Any) -> list[Any]:
        """Give a column as a list."""
        return list(column) if isinstance(column, (list, range)) else column.tolist()

"""How given currents spread over a network of resistances: wires and contacts side by side."""

from collections.abc import Hashable, Mapping, Sequence, Set
from typing import Any

__all__ = ["currents"]

#: A resistance that is none counts as this much, so that its current can be told [ohm].
LEAST = 1e-9


def currents(
    ends: Sequence[tuple[Hashable, Hashable]],
    ohms: Sequence[float],
    taken: Mapping[Any, float],
    sources: Set[Any],
) -> list[float]:
    """Return how given currents spread over a network of resistances.

    ends: the two nodes of each resistance [-]
    ohms: each resistance; none counts as a nano-ohm [ohm]
    taken: by node, the current that is taken out there [A]
    sources: the nodes that give all of it, at one potential [-]

    Gives: the current of each resistance, from its first end to its second; 0 where no way leads to a source [A]

    Formula: sum over the resistances at a node of (u - u') / R = - what is taken there
    Valid: linear networks; what is taken where no source is reached is left out.
    Source: Kirchhoff's laws; nodal analysis.

    >>> currents([("s", "a"), ("s", "a")], [1.0, 3.0], {"a": 4.0}, {"s"})
    [3.0, 1.0]
    """
    kept = _reached(ends, sources)
    nodes = [node for node in kept if node not in sources]
    number = {node: n for n, node in enumerate(nodes)}
    matrix = [[0.0] * len(nodes) for _ in nodes]
    right = [-taken.get(node, 0.0) for node in nodes]
    for (a, b), each in zip(ends, ohms, strict=True):
        if a not in kept or a == b:
            continue
        siemens = 1 / max(LEAST, each)
        for one, other in ((a, b), (b, a)):
            if one in number:
                matrix[number[one]][number[one]] += siemens
                if other in number:
                    matrix[number[one]][number[other]] -= siemens
    volts = _solved(matrix, right)
    at = {node: volts[n] for node, n in number.items()}
    return [
        (at.get(a, 0.0) - at.get(b, 0.0)) / max(LEAST, each) if a in kept and a != b else 0.0
        for (a, b), each in zip(ends, ohms, strict=True)
    ]


def _reached(ends: Sequence[tuple[Hashable, Hashable]], sources: Set[Hashable]) -> dict[Hashable, None]:
    """Return the nodes that some way leads to from a source, in a settled order."""
    near: dict[Hashable, list[Hashable]] = {}
    for a, b in ends:
        near.setdefault(a, []).append(b)
        near.setdefault(b, []).append(a)
    found: dict[Hashable, None] = {}
    todo = [node for node in near if node in sources]
    while todo:
        node = todo.pop()
        if node not in found:
            found[node] = None
            todo += near[node]
    return found


def _solved(matrix: list[list[float]], right: list[float]) -> list[float]:
    """Solve by elimination; the matrix of a network is diagonally dominant, so no pivots are sought."""
    n = len(right)
    for k in range(n):
        row, pivot = matrix[k], matrix[k][k]
        for i in range(k + 1, n):
            factor = matrix[i][k] / pivot
            if factor:
                below = matrix[i]
                for j in range(k, n):
                    if row[j]:
                        below[j] -= factor * row[j]
                right[i] -= factor * right[k]
    for k in reversed(range(n)):
        row = matrix[k]
        right[k] = (right[k] - sum(row[j] * right[j] for j in range(k + 1, n) if row[j])) / row[k]
    return right

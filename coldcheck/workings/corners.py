"""A net that is a tree, solved: in each corner, at every moment of its start-up."""

from __future__ import annotations

from coldcheck.dc import radial

from .net import Corner, Net, source_volts, value_at

__all__ = ["HIGH", "LOW", "NOMINAL", "Pick", "loads_at", "most", "solve_at", "solved"]

#: Which of nominal, lowest and highest volts; greatest resistances; most watts of converters.
Pick = tuple[int, bool, int]


NOMINAL, LOW, HIGH = (0, False, 0), (1, True, 1), (2, False, 1)


def loads_at(net: Net, at: float, most: int) -> tuple[list[float], list[float], list[float]]:
    """Return watts, amps and siemens of every branch at a moment."""
    n = len(net.branches)
    watts, amps, siemens = [0.0] * n, [0.0] * n, [0.0] * n
    for i, branch in enumerate(net.branches):
        draw = branch.draw
        value = draw.value if branch.steps is None else value_at(branch.steps, at)
        if draw.unit == "W":
            watts[i] = value
        elif draw.unit == "A":
            amps[i] = value
        elif value > 0:
            siemens[i] = 1 / value
        if branch.extra:
            watts[i] += value_at(branch.extra[most], at)
    return watts, amps, siemens


def solve_at(net: Net, at: float, pick: Pick = LOW) -> radial.Solution:
    """Return the operating point of a net at one moment [s] of its start-up, in one corner."""
    volts = source_volts(net.root)
    assert volts is not None
    ohms = [b.ohms.worst if pick[1] else b.ohms.nominal for b in net.branches]
    return radial.solve(volts[pick[0]], [b.parent for b in net.branches], ohms, *loads_at(net, at, pick[2]))


def solved(net: Net) -> tuple[Corner, Corner]:
    """Solve a net in every stretch of its start-up: the nominal corner, and the worst of the others."""
    nominal, low = _corner(net, NOMINAL), _corner(net, LOW)
    if all(branch.draw.unit == "W" or not branch.draw.value for branch in net.branches):
        return nominal, low
    high = _corner(net, HIGH)
    pairs = zip(low.history, high.history, strict=True)
    worst = Corner(
        low.volts,
        most(low.amps, high.amps),
        [(at, max(a, b)) for (at, a), (_, b) in zip(low.total, high.total, strict=True)],
        [(at, max(a, b)) for (at, a), (_, b) in zip(low.watts, high.watts, strict=True)],
        low.collapsed,
        [(at, most(a, b)) for (at, a), (_, b) in pairs],
        low.course,
    )
    return nominal, worst


def most(a: list[float], b: list[float]) -> list[float]:
    """Return the greater of two lists, number by number."""
    return list(map(max, a, b))


def _corner(net: Net, pick: Pick) -> Corner:
    volts = source_volts(net.root)
    assert volts is not None
    starts = sorted(set(net.starts))
    n = len(net.branches)
    result = Corner([float("inf")] * n, [0.0] * n, [], [], None, [], [])
    for at in starts:
        point = solve_at(net, at, pick)
        if point.collapsed is not None and result.collapsed is None:
            result.collapsed = point.collapsed
        result.volts = point.volts if len(starts) == 1 else list(map(min, result.volts, point.volts))
        result.amps = point.amps if len(starts) == 1 else most(result.amps, point.amps)
        result.total.append((at, point.total))
        result.watts.append((at, point.total * volts[pick[0]]))
        if len(starts) > 1:
            result.history.append((at, point.amps))
            result.course.append((at, point.volts))
    return result

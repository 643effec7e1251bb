"""The power tree, drawn from left to right: what is fed alike stands in one box, with the least and the most of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from math import inf
from typing import Any

import msgspec

from coldcheck.plan.model import Plan
from coldcheck.plan.quantities import Measure

from .drawing import Box, Drawing, Knot, in_few_words, tree
from .power_tree import power_tree
from .table import as_rows

__all__ = ["trees"]


class _Point(msgspec.Struct):
    """A point of the tree, or several that are alike: their rows, what hangs on them, and the amps of all [A].

    ``outs`` are the rows of what they only hand on, which is in the same box.
    """

    rows: list[dict[str, Any]]
    below: list[_Point] = []
    sign: tuple[Any, ...] = ()
    outs: list[dict[str, Any]] = []
    amps: float = 0.0


def trees(plan: Plan, get: Callable[[str], Any]) -> list[Drawing]:
    """Draw the way of power from each feed down."""
    roots: list[_Point] = []
    way: list[_Point] = []
    for row in as_rows(power_tree(plan, get)[0]):
        del way[int(row["depth"] or 0) :]
        if way and row["kind"] == "outlet" and row["name"] == way[-1].rows[0]["name"]:
            way[-1].outs.append(row)
            way.append(way[-1])  # what only hands on by its one outlet is one box
            continue
        point = _Point([row])
        (way[-1].below if way else roots).append(point)
        way.append(point)
    found: list[Drawing] = []
    for root in roots:
        if root.below:
            _sign(plan, root)
            name = str(root.rows[0]["name"])
            title = f"power from {name}: volts about and at least, amps at most and what is allowed; a line is as "
            title += "thick as its amps, a bar as long as its share of what is allowed"
            whole = _gathered(root)
            found.append(tree(f"power-{len(found) + 1}", title, _knot(whole, _flowing(whole))))
    return found


def _sign(plan: Plan, point: _Point) -> None:
    """Give a point what it has in common with those that may share its box: its kind, its part, what hangs on it."""
    for below in point.below:
        _sign(plan, below)
    row = point.rows[0]
    id, _, own = str(row["name"]).partition(".")
    thing = plan.things.get(id)
    # outlets are alike whatever their numbers, inlets where they are the same one of their things
    what = getattr(thing, "table", ""), getattr(thing, "part", None), "" if row["kind"] == "outlet" else own
    point.sign = (
        row["kind"],
        what,
        row["limit"],
        row["fuse"],
        row["missing"],
        tuple(b.sign for b in point.below),
    )


def _gathered(point: _Point) -> _Point:
    """Put points that are alike and hang on one point into one, and so on down."""
    groups: dict[tuple[Any, ...], list[_Point]] = {}
    for below in point.below:
        groups.setdefault(below.sign, []).append(below)
    return _Point(point.rows, [_gathered(_joined(same)) for same in groups.values()], outs=point.outs)


def _joined(same: list[_Point]) -> _Point:
    rows = [row for point in same for row in point.rows]
    below = [_joined(list(column)) for column in zip(*(point.below for point in same), strict=True)]
    return _Point(rows, below, same[0].sign, [row for point in same for row in point.outs])


def _flowing(point: _Point, above: float = inf) -> float:
    """Give each box the amps that flow into it [A] and return the most of all; ``above`` is what its source carries.

    Things that are fed together need not peak together. The rail of a converter carries other amps than its inlet.
    """
    most = inf if point.rows[0]["kind"] == "rail" else above
    point.amps = min(most, len(point.rows) * (_most(point.rows) or 0.0))
    amps = _most(point.outs or point.rows)
    out = inf if amps is None else len(point.outs or point.rows) * amps
    return max([point.amps, *(_flowing(below, out) for below in point.below)])


def _knot(point: _Point, whole: float) -> Knot:
    """Return the box of a point and all below; its line is as thick as the share of its amps in ``whole`` [A]."""
    amps, limit = _most(point.rows), point.rows[0]["limit"]
    share = amps / limit if amps is not None and isinstance(limit, float) and limit > 0 else None
    words = in_few_words([str(row["name"]) for row in point.rows])
    box = Box([words, *_figures(point.rows)], used=True, share=share)
    return Knot(box, [_knot(below, whole) for below in point.below], point.amps / whole if whole else 0.0)


def _most(rows: list[dict[str, Any]]) -> float | None:
    """Return the most amps of some rows [A]; None where those of one are not known, or none of them has any."""
    amps = [row["amps"] for row in rows]
    return None if None in amps else max((one for one in amps if isinstance(one, float)), default=None)


def _figures(rows: list[dict[str, Any]]) -> Iterator[str]:
    each = " each" if len(rows) > 1 else ""
    about, low = _ends(rows, "volts", "V"), _least(rows, "low", "V")
    if about or low:
        yield ", ".join(filter(None, (about, f"≥ {low}" if low else "")))
    unknown, amps = any(row["amps"] is None for row in rows), _most(rows)
    most = "? A" if unknown else f"{_short(amps, 'A')}{each}" if amps is not None else ""
    limit = rows[0]["limit"]
    if most:
        yield most + (f" of {Measure(limit, 'A')}" if isinstance(limit, float) else "")
    if rows[0]["fuse"]:
        yield f"fuse {rows[0]['fuse']}"
    if unknown and rows[0]["missing"]:
        yield "not known: see the table"


def _ends(rows: list[dict[str, Any]], key: str, unit: str) -> str:
    values = [row[key] for row in rows if isinstance(row[key], float)]
    if not values:
        return ""
    low, high = _short(min(values), unit), _short(max(values), unit)
    return low if low == high else f"{low} to {high}"


def _least(rows: list[dict[str, Any]], key: str, unit: str) -> str:
    values = [row[key] for row in rows if isinstance(row[key], float)]
    return _short(min(values), unit, ROUND_FLOOR) if values else ""


def _short(value: float, unit: str, way: str = ROUND_HALF_EVEN) -> str:
    """Return a number as far as it matters in a picture, "at least" never above what it is; the table has all of it."""
    exact = Decimal(f"{value:.9g}")
    digits = exact.adjusted() - 2
    return str(Measure(float(exact.quantize(Decimal(1).scaleb(digits), way)), unit))

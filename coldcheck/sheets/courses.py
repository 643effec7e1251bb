"""The start-up of each feed and rail, played in time: a plot and a row for each."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator
from math import isfinite
from typing import Any
from xml.etree import ElementTree as ET

from coldcheck.formats.plot import Axis, axis_of, ticks
from coldcheck.plan.model import Plan
from coldcheck.plan.quantities import Measure
from coldcheck.workings.rehearsal import Course, Rehearsal, Scene

from .drawing import Drawing, canvas, drawing
from .table import Cell, Column, Table, one_line

__all__ = ["plots", "start_up"]

COLUMNS = (
    Column("scene", "scene"),
    Column("source", "source"),
    Column("peak", "at most", "A"),
    Column("at", "first at", "s"),
    Column("rating", "allowed", "A"),
    Column("short", "allowed for a time", "A"),
    Column("seconds", "for", "s"),
    Column("above", "above what is allowed", "s"),
    Column("settled", "in the end", "A"),
    Column("volts", "lowest", "V"),
    Column("inlet", "lowest at"),
    Column("story", "who draws at the peak"),
    Column("missing", "not counted, for want of"),
)
EVENTS = (Column("scene", "scene"), Column("at", "at", "s"), Column("says", "what happens"))

_SCENES = {"start": "start", "wake": "drives wake"}

#: Size of a plot, and what is left around it for numbers [px].
WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 620.0, 150.0, 62.0, 150.0, 14.0, 34.0
#: Columns of the axis: about one number below it for each ten.
FINE = 80
#: Room that a number below the axis needs [px].
ROOM = 44.0


def _scenes(get: Callable[[str], Any]) -> Iterator[Scene]:
    played: Rehearsal = get("rehearsal")
    yield played.start
    if played.wake is not None:
        yield played.wake


def start_up(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return what each feed and rail gives in each scene, and what happens when."""
    del plan
    rows: list[tuple[Cell, ...]] = []
    events: list[tuple[Cell, ...]] = []
    for scene in _scenes(get):
        name = _SCENES[scene.name]
        rows += [_row(name, course) for course in scene.courses]
        events += [(name, event.at, event.says) for event in scene.events]
    return [
        Table("courses", "what each source gives", COLUMNS, rows, "nothing in the plan can be played"),
        Table("events", "what happens when", EVENTS, events, "nothing happens"),
    ]


def _row(scene: str, course: Course) -> tuple[Cell, ...]:
    short, lowest = course.short, course.lowest
    return (
        scene, course.source.name, course.peak, course.at, course.rating,
        "" if short is None else short.amps, "" if short is None else short.seconds,
        "" if not course.above else course.above if isfinite(course.above) else "without end", course.settled,
        None if lowest is None else lowest.volts, "" if lowest is None else lowest.inlet, course.story,
        ", ".join(course.missing),
    )  # fmt: skip


def plots(plan: Plan, get: Callable[[str], Any]) -> list[Drawing]:
    """Draw the amps of each feed and rail in time, with what is allowed."""
    del plan
    found: list[Drawing] = []
    for scene in _scenes(get):
        moments = sorted({at for course in scene.courses for at, _ in course.amps})
        axis = axis_of(moments, FINE)
        for course in scene.courses:
            name = f"start-up-{len(found) + 1}"
            found.append(_plot(name, _SCENES[scene.name], course, axis))
    return found


def _plot(name: str, scene: str, course: Course, axis: Axis) -> Drawing:
    title = f"{scene}, {course.source.name}: amps in time, at most {Measure(course.peak, 'A')}"
    lines: list[tuple[float, str]] = [(course.rating, "allowed")] if course.rating is not None else []
    if course.short is not None:
        lines.append((course.short.amps, _lasting(course.short.seconds)))
    most = 1.12 * max([course.peak, *(value for value, _ in lines)]) or 1.0
    root = canvas(title, (LEFT + WIDTH + RIGHT, TOP + HEIGHT + BOTTOM))
    _frame(root, axis)

    def height(amps: float) -> float:
        return TOP + HEIGHT * (1 - amps / most)

    labels: list[tuple[float, str]] = []
    for value, says in lines:
        y = height(value)
        ET.SubElement(root, "path", {"class": "limit", "d": f"M{LEFT:g} {y:.1f}h{WIDTH:g}"})
        labels.append((y, f"{Measure(float(f'{value:.4g}'), 'A')} {says}"))
    _beside(root, labels)
    _text(root, LEFT - 6, height(course.peak) + 4, f"{Measure(float(f'{course.peak:.3g}'), 'A')}", "end")
    if height(0.0) - height(course.peak) > 16:
        _text(root, LEFT - 6, height(0.0) + 4, "0", "end")
    ET.SubElement(root, "path", {"class": "course", "d": _way(course, axis, height)})
    return drawing(name, title, root)


def _lasting(seconds: float | None) -> str:
    return f"for {Measure(seconds, 's')}" if seconds is not None else "for a time that is not said"


def _way(course: Course, axis: Axis, height: Callable[[float], float]) -> str:
    """Return the line of a course: level from each moment to the next."""
    way = ""
    for at, amps in course.amps:
        step = f"H{_across(axis, at):.1f}V{height(amps):.1f}"
        way += step if way else f"M{_across(axis, at):.1f} {height(amps):.1f}"
    return f"{way}H{LEFT + WIDTH:g}"


def _across(axis: Axis, at: float) -> float:
    edges = axis.edges
    n = min(max(bisect_right(edges, at) - 1, 0), axis.width - 1)
    share = min(1.0, max(0.0, (at - edges[n]) / (edges[n + 1] - edges[n])))
    return LEFT + WIDTH * (n + share) / axis.width


def _frame(root: ET.Element, axis: Axis) -> None:
    """Draw the axis of time, its numbers as close as they have room."""
    bottom = TOP + HEIGHT
    ET.SubElement(root, "path", {"d": f"M{LEFT:g} {TOP:g}V{bottom:g}H{LEFT + WIDTH:g}"})
    free = 0.0
    for _, at in ticks(axis):
        x = _across(axis, at)
        if x >= free and x <= LEFT + WIDTH - ROOM / 2:
            ET.SubElement(root, "path", {"d": f"M{x:.1f} {bottom:g}v5"})
            _text(root, x, bottom + 18, f"{at:g} s", "middle")
            free = x + ROOM
    for begun, ended in axis.cuts:
        x = (_across(axis, begun) + _across(axis, ended)) / 2
        ET.SubElement(root, "path", {"d": f"M{x - 5:.1f} {bottom + 5:g}l4 -10m4 10l4 -10"})


def _beside(root: ET.Element, labels: list[tuple[float, str]]) -> None:
    """Write what lines mean to their right, none over another."""
    last = float("inf")
    for y, says in sorted(labels, reverse=True):
        at = min(y + 4, last - 14)
        _text(root, LEFT + WIDTH + 6, at, says, "start")
        last = at


def _text(root: ET.Element, x: float, y: float, says: str, anchor: str) -> None:
    text = ET.SubElement(root, "text", {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor})
    text.text = one_line(says)

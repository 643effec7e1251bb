"""A start-up as it is shown: what happens, a table of every source, a plot of each; and the same as JSON.

The JSON document has ``format`` 1; keys are added to it, never changed. It holds

``plan``
    the name of the file.
``scenes``
    one for each scene played: ``scene`` (``start``, ``wake`` or ``all``), ``ends`` [s], ``events`` (``at`` [s],
    ``what``: ``on``, ``waits``, ``off``, ``starts`` or ``up``, ``who``, ``says``), ``unknown`` (sources whose volts are
    not given), and ``sources``: for each feed and rail its ``source``, ``kind`` (``feed``, ``rail`` or ``outlet``),
    ``peak`` (``amps``, ``at`` [s], ``story``), ``rating`` [A] or null, ``short`` (``amps``, ``seconds``) or null,
    ``above_rating`` [s], null where it stays there or has no rating, ``settled`` [A], ``lowest`` (``volts``,
    ``inlet``, ``at`` [s], ``least`` [V] or null) or null, ``missing`` (figures without which the amps are a lower
    bound), and ``amps`` and ``watts`` in time: pairs of a start [s] and the value from then on.
``energy``
    for each feed ``idle`` and ``busy`` [W], ``wall_idle`` and ``wall_busy`` [W] where its efficiency is given,
    ``hours_idle`` and ``hours_busy`` [h] of its battery; ``idle_missing`` names what is counted as when busy,
    ``busy_missing`` what is in neither sum, so that both are lower bounds.
``not_played``
    scenes that were asked for and that the plan does not have, each with why.
``ways``
    where they are asked for: of each inlet or span its ``way``, the most ``amps`` [A], and every rating on it, least
    first: ``what``, ``amps`` [A], ``how``.
``findings``
    how many findings of a lint concern the start: ``count``, ``waived``, and their ``rules``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from math import isfinite
from typing import Any

import msgspec

from coldcheck.engine.findings import Finding
from coldcheck.plan.spans import listed
from coldcheck.workings.energy import Energy, FeedEnergy
from coldcheck.workings.limits import Rating
from coldcheck.workings.power import Arrival
from coldcheck.workings.rehearsal import SCENES, Course, Rehearsal, Scene

from .plot import FLAT, ROWS, Axis, Limit, axis_of, axis_rows, plot
from .text import Line

__all__ = ["LETTERS", "Shown", "document", "lines"]

#: Columns left and right of a plot: the numbers, and what is written beside a limit.
LEFT, RIGHT = 8, 10
#: The narrowest and the widest page.
NARROW, WIDE = 50, 160

_TITLES = {
    "start": "the start, as planned",
    "wake": "the drives that sleep wake, with all else busy",
    "all at once": "what if every delay failed: all at once (not judged)",
}
_WHY_NOT = {
    "wake": 'no drive is let sleep (sleeps = true, or start = "standby")',
    "all": "no delay is kept, so the start is all at once already",
}

#: What a page is drawn with, where the terminal can show it.
LETTERS = "▁▂▃▄▅▆▇█▓┄│└─┴×"


class Way(msgspec.Struct):
    """The way to an inlet, or to all of a span: what flows at most there [A], and every rating on it, least first."""

    name: str
    amps: float
    ratings: list[Rating]


def ways_of(arrivals: Iterable[Arrival], ratings: Callable[[Any], list[Rating]]) -> list[Way]:
    """Return the way to every inlet that carries something; members of a span that are rated alike are one."""
    found: dict[Any, list[Arrival]] = {}
    for arrival in arrivals:
        if arrival.amps and arrival.thing.table != "inline":
            found.setdefault((arrival.thing.path, arrival.inlet.id), []).append(arrival)
    return [
        Way(listed([a.name for a in alike]), max(a.amps or 0.0 for a in alike), ratings(alike[0].inlet))
        for alike in found.values()
    ]


class Shown(msgspec.Struct):
    """What is shown of a rehearsal: which scenes, by the words of `SCENES`, of which source; the findings beside it."""

    plan: str
    played: Rehearsal
    energy: Energy
    words: tuple[str, ...]
    source: str = ""
    findings: list[Finding] = []
    ways: list[Way] | None = None

    @property
    def scenes(self) -> list[Scene]:
        """The scenes that the plan has."""
        return [scene for word in self.words if (scene := self.played.scene(word)) is not None]

    @property
    def lacking(self) -> dict[str, str]:
        """The scenes that the plan does not have, and why."""
        return {word: _WHY_NOT[word] for word in self.words if self.played.scene(word) is None}

    def courses(self, scene: Scene) -> list[Course]:
        """Return what is shown of a scene."""
        return [c for c in scene.courses if self.source in ("", c.source.name, c.source.thing.id)]


def lines(shown: Shown, width: int = 80, blocks: bool = True) -> Iterator[Line]:
    """Yield the page: each scene with its events, table and plots, the energy, and what a lint finds.

    width: columns of the page
    blocks: whether it may be drawn with block characters; plain ASCII otherwise
    """
    width = min(max(width, NARROW), WIDE)
    for line in _page(shown, width, blocks):
        yield line if blocks else [(role, text.replace("×", "x")) for role, text in line]


def _page(shown: Shown, width: int, blocks: bool) -> Iterator[Line]:
    for scene in shown.scenes:
        yield from _scene(shown, scene, width, blocks)
    for word, why in shown.lacking.items():
        yield [("place", SCENES[word]), ("", f": not played; {why}")]
        yield [("", "")]
    if shown.ways is not None:
        yield from _ways(shown.ways, width)
    if not shown.source:
        yield from _energy(shown.energy)
    if faults := len(shown.played.plan.faults):
        yield [("error", _astray(faults))]
    yield _last(shown)


def _astray(faults: int) -> str:
    """Say that a plan has references that lead nowhere: what they concern is not connected."""
    many = "1 reference" if faults == 1 else f"{faults} references"
    return f"{many} of this plan cannot be followed, and what hangs on them is left out; see a lint"


def _scene(shown: Shown, scene: Scene, width: int, blocks: bool) -> Iterator[Line]:
    yield [("place", f"{shown.plan}: {_TITLES[scene.name]}")]
    yield [("", "")]
    before = None
    for event in scene.events:
        label = "" if event.at == before else f"{_number(event.at)} s"
        before = event.at
        yield from _wrapped(label, event.says, width)
    courses = shown.courses(scene)
    if scene.events:
        yield [("", "")]
    if courses:
        yield from _table(courses)
    else:
        yield [("open", "nothing to play: no feed or rail of known volts feeds anything")]
    if scene.unknown:
        yield [("open", f"{listed(scene.unknown)}: volts not given, so not played")]
    axis = _axis(courses, width)
    for course in courses:
        yield [("", "")]
        yield from _picture(course, axis, width, blocks)
    if axis.cuts:
        begun, ended = axis.cuts[0]
        yield [
            ("label", f"        cut short at //: {_number(begun)} s to {_number(ended)} s, without a change")
        ]
    yield [("", "")]


def _axis(courses: list[Course], width: int) -> Axis:
    moments = sorted({at for course in courses for at, _ in course.amps})
    return axis_of(moments, width - LEFT - RIGHT)


def _picture(course: Course, axis: Axis, width: int, blocks: bool) -> Iterator[Line]:
    head = f"{course.source}: {_least(course)}{_amps(course.peak)} at {_number(course.at)} s"
    yield from _folded([("place", head)], f": {course.story}" if course.story else "", width)
    limits = []
    if course.rating is not None:
        limits.append(Limit(course.rating, "rating"))
    short = course.short
    if short is not None and (course.rating is None or course.peak > course.rating):
        limits.append(
            Limit(short.amps, f"for {_number(short.seconds)} s" if short.seconds else "for a while")
        )
    rows = ROWS if len({amps for _, amps in course.amps}) > 1 else FLAT
    yield from plot(course.amps, axis, limits, "A", blocks, LEFT, rows)
    yield from axis_rows(axis, blocks, LEFT)


def _least(course: Course) -> str:
    return "at least " if course.missing else ""


_HEADS = ("source", "most", "at", "rating", "above it", "settled", "least volts")


def _table(courses: Iterable[Course]) -> Iterator[Line]:
    """Yield one line for each source; numbers stand under each other."""
    rows = [_row(course) for course in courses]
    wide = [max(len(text) for text in column) for column in zip(_HEADS, *(r for r, _ in rows), strict=True)]
    yield [("label", "  ".join(_padded(i, text, wide[i]) for i, text in enumerate(_HEADS)).rstrip())]
    for row, roles in rows:
        line: Line = []
        for i, text in enumerate(row):
            line.append((roles.get(i, ""), _padded(i, text, wide[i])))
            line.append(("", "  "))
        yield line[:-1]


def _padded(i: int, text: str, wide: int) -> str:
    return f"{text:<{wide}}" if i in (0, 6) else f"{text:>{wide}}"


def _row(course: Course) -> tuple[list[str], dict[int, str]]:
    low = course.lowest
    volts = "not known"
    roles = {0: "place"}
    if low is not None:
        volts = f"{_number(low.volts, 2)} V at {low.inlet}"
        if low.least is not None and low.volts < low.least * (1 - 1e-9):
            roles[6] = "error"
            volts += f", too low: needs {_number(low.least)} V"
        elif low.least is not None:
            volts += f", needs {_number(low.least)} V"
    if course.above > 0:
        roles[4] = "warning"
    return [
        course.source.name,
        f"{'>= ' if course.missing else ''}{_amps(course.peak)}",
        f"{_number(course.at)} s",
        "not given" if course.rating is None else _amps(course.rating),
        _above(course),
        _amps(course.settled),
        volts,
    ], roles


def _above(course: Course) -> str:
    if course.rating is None:
        return ""
    if not isfinite(course.above):
        return "for good"
    return f"{_number(course.above)} s" if course.above > 0 else "never"


def _ways(ways: list[Way], width: int) -> Iterator[Line]:
    """Yield the weakest link on the way to each inlet, of those that it has for itself, and how much of it flows."""
    yield [("place", "the weakest link on each way")]
    for way in ways:
        weakest = next((rating for rating in way.ratings if not rating.shared), None)
        if weakest is None:
            text = f"{_amps(way.amps)}, and no rating on its way is known"
        else:
            text = f"{_amps(way.amps)} of {_amps(weakest.amps)}, {weakest.what}: {weakest.how}"
        yield from _folded([("place", f"  {way.name}  ")], text, width)
    yield [("", "")]


def _energy(energy: Energy) -> Iterator[Line]:
    """Yield what the feeds give when all is idle and when all is busy."""
    feeds = energy.feeds
    if not feeds:
        return
    wide = max(len(feed.feed.id) for feed in feeds)
    yield [("place", "power at the feeds, once all is up")]
    for feed in feeds:
        least = "at least " if feed.missing else ""
        yield [
            ("place", f"  {feed.feed.id:<{wide}}  "),
            ("", f"idle {_number(feed.idle, 1)} W, busy {least}{_number(feed.busy, 1)} W"),
        ]
        yield from _behind(feed)
        if feed.missing_idle:
            yield [("label", f"    not given, so counted as when busy: {listed(feed.missing_idle)}")]
        if feed.missing:
            yield [("label", f"    not given, so not in the sum: {listed(feed.missing)}")]
    if len(feeds) > 1:
        least = "at least " if any(feed.missing for feed in feeds) else ""
        both = f"idle {_number(energy.idle, 1)} W, busy {least}{_number(energy.busy, 1)} W"
        yield [("place", f"  {'in all':<{wide}}  "), ("", both)]
    if any(not feed.missing_wall for feed in feeds):
        yield from _year(energy)
    yield [("", "")]


def _behind(feed: FeedEnergy) -> Iterator[Line]:
    """Yield what stands behind a feed: the wall, or a battery and how long it lasts."""
    idle, busy = feed.hours(feed.idle), feed.hours(feed.alone)
    if idle is not None and busy is not None:
        yield [("", f"    its battery lasts {_number(busy, 1)} h busy, {_number(idle, 1)} h idle")]
    if not feed.missing_wall:
        yield [
            ("", f"    at the wall {_number(feed.wall_idle, 1)} W idle, {_number(feed.wall_busy, 1)} W busy")
        ]


def _year(energy: Energy) -> Iterator[Line]:
    """Yield the energy of a year at the wall."""
    unknown = [name for feed in energy.feeds for name in feed.missing_wall]
    mixed = energy.kwh_mixed
    text = f"  a year at the wall: {energy.kwh_idle:.0f} kWh idle, {energy.kwh_busy:.0f} kWh busy"
    if mixed is not None:
        text += f", {mixed:.0f} kWh as the plan has it"
    yield [("", text)]
    if unknown:
        yield [("label", f"    without the loss of feeds whose efficiency is not given: {listed(unknown)}")]


def _last(shown: Shown) -> Line:
    found = [finding for finding in shown.findings if not finding.waived]
    waived = len(shown.findings) - len(found)
    more = f" ({waived} more waived)" if waived else ""
    if not found:
        return [("good", f"lint has no finding on start-up or volts{more}")]
    rules = listed(sorted({finding.rule for finding in found}))
    many = "1 finding" if len(found) == 1 else f"{len(found)} findings"
    return [
        ("warning", f"lint has {many} on start-up or volts{more}: "),
        ("", f"{rules}; see `coldcheck lint {shown.plan}`"),
    ]


def _amps(value: float) -> str:
    return f"{_number(value, 2)} A"


def _number(value: float, places: int = 3) -> str:
    """Return a number with so many decimals at most."""
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _wrapped(label: str, text: str, width: int) -> Iterator[Line]:
    yield from _folded([("label", f"{label:>8}  ")], text, width, 10)


def _folded(head: Line, text: str, width: int, indent: int = 4) -> Iterator[Line]:
    """Yield a head and the text behind it, folded to the width."""
    import textwrap

    first = sum(len(piece) for _, piece in head)
    parts = textwrap.wrap(
        text, width, initial_indent="x" * first, subsequent_indent=" " * indent, break_on_hyphens=False
    ) or ["x" * first]  # fmt: skip
    yield [*head, ("", parts[0][first:])]
    for part in parts[1:]:
        yield [("", part)]


# --- for programs -----------------------------------------------------------------------------------------------------


def document(shown: Shown) -> str:
    """Return the rehearsal as one JSON document, indented by two; its keys stand at the top of this file."""
    words = {name: word for word, name in SCENES.items()}
    found = [finding for finding in shown.findings if not finding.waived]
    whole = {
        "format": 1,
        "plan": shown.plan,
        "scenes": [_scene_data(shown, scene, words[scene.name]) for scene in shown.scenes],
        "not_played": shown.lacking,
        "energy": [
            {
                "feed": feed.feed.id,
                "idle": feed.idle,
                "busy": feed.busy,
                "idle_missing": list(feed.missing_idle),
                "busy_missing": list(feed.missing),
                "wall_idle": None if feed.missing_wall else feed.wall_idle,
                "wall_busy": None if feed.missing_wall else feed.wall_busy,
                "hours_idle": feed.hours(feed.idle),
                "hours_busy": feed.hours(feed.alone),
            }
            for feed in shown.energy.feeds
        ],
        **({} if shown.ways is None else {"ways": [_way_data(way) for way in shown.ways]}),
        "findings": {
            "count": len(found),
            "waived": len(shown.findings) - len(found),
            "rules": sorted({finding.rule for finding in found}),
        },
    }
    return msgspec.json.format(msgspec.json.encode(whole), indent=2).decode()


def _way_data(way: Way) -> dict[str, Any]:
    ratings = [{"what": r.what, "amps": r.amps, "how": r.how} for r in way.ratings]
    return {"way": way.name, "amps": way.amps, "ratings": ratings}


def _scene_data(shown: Shown, scene: Scene, word: str) -> dict[str, Any]:
    return {
        "scene": word,
        "ends": scene.end,
        "events": [{"at": e.at, "what": e.what, "who": list(e.who), "says": e.says} for e in scene.events],
        "unknown": scene.unknown,
        "sources": [_course_data(course) for course in shown.courses(scene)],
    }


def _course_data(course: Course) -> dict[str, Any]:
    short, low = course.short, course.lowest
    return {
        "source": course.source.name,
        "kind": course.source.noun,
        "peak": {"amps": course.peak, "at": course.at, "story": course.story},
        "rating": course.rating,
        "short": None if short is None else {"amps": short.amps, "seconds": short.seconds},
        "above_rating": course.above if course.rating is not None and isfinite(course.above) else None,
        "settled": course.settled,
        "lowest": None
        if low is None
        else {"volts": low.volts, "inlet": low.inlet, "at": low.at, "least": low.least},
        "missing": course.missing,
        "amps": course.amps,
        "watts": course.watts,
    }

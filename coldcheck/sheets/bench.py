"""The wiring schedule, the cut list, what to buy, and the first-power sheet, as lines for people and as JSON.

The JSON document has ``format`` 1; keys are added to it, never changed. It holds ``plan``, ``title``, ``errors`` (how
many a lint finds: with any, nothing of it is for building), and of the sheets asked for: ``wiring`` (``wires`` and
``leads``), ``cuts``, ``shopping`` and ``first_power`` (``cautions`` and ``steps``), each row with the keys of
`workings.schedule` and `workings.first_power`; lengths are in m, currents in A.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck.formats.text import Line
from coldcheck.plan.quantities import Measure
from coldcheck.workings.first_power import FirstPower, Range, Step
from coldcheck.workings.schedule import Row, Schedule

__all__ = ["SHEETS", "Shown", "document", "lines"]

#: The sheets, in the order in which they are used.
SHEETS = ("wiring", "cuts", "shopping", "first-power")


class Shown(msgspec.Struct):
    """What is shown: the plan, how many errors it has, its workings, and the names of the sheets asked for."""

    plan: str
    title: str
    errors: int
    schedule: Schedule
    first: FirstPower
    wanted: tuple[str, ...] = SHEETS


def document(shown: Shown) -> str:
    """Return the sheets as a JSON document."""
    made: dict[str, Any] = {"format": 1, "plan": shown.plan, "title": shown.title, "errors": shown.errors}
    schedule = msgspec.to_builtins(shown.schedule)
    if "wiring" in shown.wanted:
        made["wiring"] = {"wires": schedule["rows"], "leads": schedule["leads"]}
    if "cuts" in shown.wanted:
        made["cuts"] = schedule["cuts"]
    if "shopping" in shown.wanted:
        made["shopping"] = schedule["buys"]
    if "first-power" in shown.wanted:
        made["first_power"] = msgspec.to_builtins(shown.first)
    return json.dumps(made, indent=2, ensure_ascii=False)


def lines(shown: Shown) -> Iterator[Line]:
    """Yield the sheets one after the other."""
    made = {"wiring": _wiring, "cuts": _cuts, "shopping": _shopping}
    for name in SHEETS:
        if name not in shown.wanted:
            continue
        yield [("place", f"{shown.title}: {_TITLES[name]}")]
        if shown.errors:
            many = "1 error" if shown.errors == 1 else f"{shown.errors} errors"
            yield [("error", f"NOT FOR BUILDING: a lint finds {many} in {shown.plan}")]
        yield []
        yield from made[name](shown.schedule) if name in made else _first_power(shown.first)
        yield []


_TITLES = {
    "wiring": "wiring schedule",
    "cuts": "cut list",
    "shopping": "wire, contacts and housings to buy",
    "first-power": "first power",
}


def _metres(length: float | None) -> str:
    return str(Measure(length, "m")) if length is not None else "?"


def _plain(text: str) -> Line:
    return [("", text)]


# --- wiring -----------------------------------------------------------------------------------------------------------


def _wiring(schedule: Schedule) -> Iterator[Line]:
    harness = None
    for row in schedule.rows:
        if row.harness != harness:
            harness = row.harness
            yield [("good", f"harness {harness}")]
        yield _plain(f"  {row.number:>3}  {row.a[0]} ({row.a[1]})  to  {row.b[0]} ({row.b[1]})")
        yield _plain(f"       {_made_of(row)}")
        if row.missing:
            yield [("warning", f"       not given: {', '.join(row.missing)}")]
    if schedule.leads:
        yield [("good", "leads, out and back")]
    for lead in schedule.leads:
        many = f"{lead.each_way} × " if lead.each_way > 1 else ""
        yield _plain(f"       {lead.a}  to  {lead.b}")
        plugs = " / ".join(plug or "?" for plug in lead.plugs)
        yield _plain(f"       {many}{lead.size or '?'} each way, {_metres(lead.length)}; {plugs}")
    if not (schedule.rows or schedule.leads):
        yield _plain("  the plan lists no wires and no leads")


def _made_of(row: Row) -> str:
    words = [f"{row.colour} {row.size or '?'}".strip(), _metres(row.length)]
    if row.cut is not None and row.cut != row.length:
        words.append(f"cut {_metres(row.cut)}")
    text = ", ".join(words) + f"; {' / '.join(plug or '?' for plug in row.plugs)}"
    if any(row.housings):
        text += f" in {' / '.join(name or '-' for name in row.housings)}"
    if any(strip is not None for strip in row.strips):
        text += f"; strip {' / '.join(_metres(strip) for strip in row.strips)}"
    return text + (f"; {Measure(row.amps, 'A')} at most" if row.amps is not None else "")


def _cuts(schedule: Schedule) -> Iterator[Line]:
    kind = None
    for cut in schedule.cuts:
        if (cut.size, cut.colour) != kind:
            kind = cut.size, cut.colour
            yield [("good", f"{cut.size} {cut.colour}".strip())]
        yield _plain(f"  {cut.count:>4} × {_metres(cut.length)}")
    left = [row for row in schedule.rows if not row.size or row.cut is None]
    if left:
        yield [("warning", f"not in it, for want of size or length: {len(left)} wires")]


def _shopping(schedule: Schedule) -> Iterator[Line]:
    for buy in schedule.buys:
        count = f"{buy.count} {buy.unit}".strip()
        needed = _metres(buy.needed) if buy.unit == "m" else f"{buy.needed:g}"
        note = f"; {buy.note}" if buy.note else ""
        yield _plain(f"  {count:>6}  {buy.kind} {buy.what}  (needed: {needed}{note})")


# --- first power ------------------------------------------------------------------------------------------------------


def _first_power(first: FirstPower) -> Iterator[Line]:
    for caution in first.cautions:
        yield [("warning", f"  ! {caution}")]
    stage = None
    for number, step in enumerate(first.steps, 1):
        if step.stage != stage:
            stage = step.stage
            yield []
            yield [("good", stage)]
        yield from _step(number, step)


def _step(number: int, step: Step) -> Iterator[Line]:
    yield _plain(f"  {number:>3}  {step.what}")
    yield _plain(f"       red on {step.red}, black on {step.black}")
    expect = _range(step.expect) if not step.missing else f"not known: {step.missing}"
    yield [("", f"       expect {expect}    read ________ {step.expect.unit}")]
    yield _plain(f"       stop at {step.stop}")


def _range(expect: Range) -> str:
    def told(value: float) -> str:
        return str(Measure(value, expect.unit))

    about = f"about {told(expect.nominal)}" if expect.nominal is not None else ""
    if expect.low is not None and expect.high is not None:
        limits = f"{told(expect.low)} to {told(expect.high)}"
    elif expect.low is not None:
        limits = f"at least {told(expect.low)}"
    else:
        limits = f"at most {told(expect.high)}" if expect.high is not None else ""
    return ", ".join(filter(None, (about, limits))) or "a number that nobody has given"

"""The sheets as lines for people and as JSON.

The JSON document has ``format`` 1; keys are added to it, never changed. It holds ``plan``, ``title``, ``errors`` (how
many a lint finds: with any, nothing of it is for building), and of the sheets asked for: ``wiring`` (``wires``,
``leads`` and ``crimps``), ``cuts``, ``shopping`` and ``first_power`` (``cautions`` and ``steps``), each row with the
keys of `workings.schedule` and `workings.first_power`; of the others ``power``, ``order``, ``ports``, ``addresses``,
``parts`` and ``findings``, each with its tables by name and their rows by the keys of the columns. Lengths are in m,
currents in A.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from math import ceil, floor, log10
from typing import Any

import msgspec

from coldcheck.formats.text import Line
from coldcheck.plan.quantities import Measure
from coldcheck.workings.first_power import FirstPower, Range, Step
from coldcheck.workings.schedule import Lead, Row, Schedule

from . import table
from .pack import Pack, Sheet

__all__ = ["Shown", "document", "expect_text", "lines"]


#: The least ohms that a hand meter tells from none [ohm] (common practice).
HAND = 0.15


class Shown(msgspec.Struct):
    """What is shown: the sheets asked for, and the workings of those that have a form of their own."""

    pack: Pack
    schedule: Schedule
    first: FirstPower


def document(shown: Shown) -> str:
    """Return the sheets as a JSON document."""
    pack = shown.pack
    made: dict[str, Any] = {"format": 1, "plan": pack.plan, "title": pack.title, "errors": pack.errors}
    schedule = msgspec.to_builtins(shown.schedule)
    own: dict[str, Any] = {
        "wiring": {
            "wires": schedule["rows"],
            "leads": schedule["leads"],
            **{
                one.name: table.as_rows(one)
                for sheet in pack.sheets
                for one in sheet.tables
                if one.name == "crimps"
            },
        },
        "cuts": schedule["cuts"],
        "first-power": msgspec.to_builtins(shown.first),
    }
    for sheet in pack.sheets:
        key = sheet.name.replace("-", "_")
        made[key] = own[sheet.name] if sheet.name in own else _rows(sheet)
    return json.dumps(made, indent=2, ensure_ascii=False)


def _rows(sheet: Sheet) -> dict[str, Any]:
    return {one.name.replace("-", "_"): table.as_rows(one) for one in sheet.tables}


def lines(shown: Shown) -> Iterator[Line]:
    """Yield the sheets one after the other."""
    pack = shown.pack
    own = {"wiring": _wiring, "cuts": _cuts}
    for sheet in pack.sheets:
        yield [("place", f"{table.one_line(pack.title)}: {sheet.title}")]
        if pack.errors:
            many = "1 error" if pack.errors == 1 else f"{pack.errors} errors"
            yield [("error", f"NOT FOR BUILDING: a lint finds {many} in {pack.plan}")]
        yield []
        if sheet.name in own:
            yield from own[sheet.name](shown.schedule)
            for one in sheet.tables:
                if one.name == "crimps" and one.rows:
                    yield [("good", one.title)]
                    yield from table.lines(one)
        elif sheet.name == "first-power":
            yield from _first_power(shown.first)
        else:
            yield from _tables(sheet)
        yield []


def _tables(sheet: Sheet) -> Iterator[Line]:
    for number, one in enumerate(sheet.tables):
        if number:
            yield []
        if len(sheet.tables) > 1:
            yield [("good", one.title)]
        yield from table.lines(one)


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
        yield from _lead(lead)
    if not (schedule.rows or schedule.leads):
        yield _plain("  the plan lists no wires and no leads")


def _lead(lead: Lead) -> Iterator[Line]:
    many = f"{lead.each_way} × " if lead.each_way > 1 else ""
    plugs = " / ".join(plug or "?" for plug in lead.plugs)
    yield _plain(f"       {lead.a}  to  {lead.b}: {_metres(lead.length)}; {plugs}")
    for pole, pins, colour in (("plus", lead.plus, lead.colours[0]), ("return", lead.back, lead.colours[1])):
        size = f"{colour or '?'} {lead.size or '?'}"
        yield _plain(f"         {pole:<6}  {many}{size}, pin {pins[0] or '?'}  to  pin {pins[1] or '?'}")


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
    if step.before:
        yield _plain(f"       {step.before}")
    yield _plain(f"  {number:>3}  {step.what}")
    yield _plain(f"       red on {step.red}, black on {step.black}")
    amps = ", ________ A" if step.amps is not None else ""
    yield [("", f"       expect {expect_text(step)}    read ________ {step.expect.unit}{amps}")]
    yield _plain(f"       stop at {step.stop}")


def expect_text(step: Step) -> str:
    """Return what the meter must show in a step, and what may flow, in words."""
    expect = range_text(step.expect) if not step.missing else f"not known: {step.missing}"
    # rounded up where it is rounded: nobody is to stop at what is still allowed
    return expect if step.amps is None else f"{expect}; at most {Measure(_up(step.amps), 'A')}"


def _up(amps: float) -> float:
    """Return amps in three digits, never less than they are."""
    digits = 2 - floor(log10(amps)) if amps > 0 else 0
    return float(ceil(amps * 10.0**digits - 1e-9) / 10.0**digits)


def range_text(expect: Range) -> str:
    """Return what a meter must show, in words."""

    def told(value: float) -> str:
        # nobody reads "mohm" as milli where a meter shows ohms and megohms
        return str(Measure(value, expect.unit)) if expect.unit != "ohm" or value >= 1 else f"{value:.3f} ohm"

    if expect.unit == "ohm" and expect.high is not None and expect.high < HAND:
        about = f"{expect.nominal:.3f}, " if expect.nominal is not None else ""
        return f"0.0 or 0.1 ohm by a hand meter; by four leads {about}at most {told(expect.high)}"
    about = f"about {told(expect.nominal)}" if expect.nominal is not None else ""
    if expect.low is not None and expect.high is not None:
        limits = f"{told(expect.low)} to {told(expect.high)}"
    elif expect.low is not None:
        limits = f"at least {told(expect.low)}"
    else:
        limits = f"at most {told(expect.high)}" if expect.high is not None else ""
    return ", ".join(filter(None, (about, limits))) or "a number that nobody has given"

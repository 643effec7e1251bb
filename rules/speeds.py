"""Speeds: both ends of a data cable settle on one speed and one duplex, and what is stored gets through."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, Take, cases, rule
from coldcheck.lan.negotiation import NEGOTIATES_FROM
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.quantities import show
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Port
from coldcheck.workings.ports import (
    ANY,
    SLOW,
    TWISTED,
    LinkSpeed,
    end_of,
    first_end,
    for_copper,
    takes,
    top_of,
)

#: From this speed there is no half duplex in any standard [bit/s].
FULL_FROM = 10e9


@rule(level="error", over="plan")
def set_by_hand(plan: Plan, links: list[LinkLine]) -> Iterator[Finding]:
    """A port is set by hand only to what exists: below 1 Gbit/s on twisted pair, and with full duplex above.

    From 1 Gbit/s on, both ends of a twisted pair settle by negotiation which of them gives the clock; a port that does
    not take part brings up no link, or one that drops frames. At 10 Gbit/s there is no half duplex.

    Source: IEEE 802.3 clauses 28 and 40 (autonegotiation is mandatory for 1000BASE-T), read in an encyclopaedia.
    """
    seen: set[int] = set()
    for line in links:
        for end in (line.a, line.b):
            if end is not None and id(end) not in seen and _set(end.spec):
                seen.add(id(end))
                yield from _impossible(end)


def _set(spec: Port) -> bool:
    return spec.negotiates is False or spec.duplex == "half"


def _impossible(end: PortPoint) -> Iterator[Finding]:
    spec, top = end.spec, top_of(end.spec)
    if top is None:
        return
    if spec.duplex == "half" and top >= FULL_FROM:
        says = f"half duplex at {show(top, 'bit/s')}, as set at {end}, does not exist"
        yield Finding("error", end, says, found=Measure(top, "bit/s"), place="duplex",
                      remedy='take out duplex = "half"', edits=_taken(end, "duplex"))  # fmt: skip
    elif spec.negotiates is False and top >= NEGOTIATES_FROM and for_copper(spec):
        says = f"{show(top, 'bit/s')} is set by hand at {end}; from {show(NEGOTIATES_FROM, 'bit/s')} on "
        says += "twisted pair needs both ends to negotiate"
        yield Finding("error", end, says, found=Measure(top, "bit/s"), allowed=Measure(NEGOTIATES_FROM, "bit/s"),
                      place="negotiates", remedy="take out negotiates = false",
                      edits=_taken(end, "negotiates"))  # fmt: skip


def _taken(end: PortPoint, key: str) -> tuple[Edit, ...]:
    """Return the edit that takes a key out of the table of one port, where the plan has such a table."""
    spec, thing = end.spec, end.thing
    alone = sum(1 for other in thing.port_ if other.path == spec.path) == 1
    return (Take((*spec.path, key)),) if alone and spec.path[:2] == thing.path and key in spec.stated else ()


_SW = '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1"\nspeed = "{}"\n'
_AT = '[[node]]\nid = "n1"\n[[node.port]]\nid = "e"\nto = "sw.1"\nspeed = "{}"\n'
_HAND = "negotiates = false\n"
_HALF = 'duplex = "half"\n'
_FULL = 'duplex = "full"\n'
_SFP = 'media = "sfp"\n'
_G = "1 Gbit/s"
_TENTH = "100 Mbit/s"
_TEN = "10 Gbit/s"

cases(
    set_by_hand,
    clean=[
        _SW.format(_TENTH) + _HAND + _FULL + _AT.format(_TENTH) + _HAND + _FULL,
        _SW.format(_TENTH) + _HALF + _AT.format(_TENTH),
        _SW.format(_G) + _SFP + _HAND + _AT.format(_G) + _SFP + _HAND,
        _SW.format(_G) + "negotiates = true\n" + _AT.format(_G),
    ],
    flagged=[
        Case(_SW.format(_G) + _HAND + _AT.format(_G), at="sw.1", found="1 Gbit/s", level="error", edits=True,
             mended=_SW.format(_G) + _AT.format(_G)),
        Case(_SW.format(_TEN) + _AT.format(_TEN) + _HAND, at="n1.e", found="10 Gbit/s", level="error"),
        Case(_SW.format(_TEN) + _SFP + _HALF + _AT.format(_TEN) + _SFP, at="sw.1", level="error", edits=True,
             mended=_SW.format(_TEN) + _SFP + _AT.format(_TEN) + _SFP),
        Case(_SW.format(_G) + _HAND + _SFP + 'module = "copper"\n' + _AT.format(_G), at="sw.1", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="links")
def settles(line: LinkLine, link_speeds: dict[int, LinkSpeed]) -> Iterator[Finding]:
    """Both ends of a cable have a speed in common, and the same duplex.

    Ends that negotiate take the highest speed that both can do. An end set by hand says nothing: the other one hears
    its speed and cannot hear its duplex, so it takes half; the link comes up and loses frames under load. Ports of 10
    Gbit/s often skip 2.5 and 5 Gbit/s, and then a board of 2.5 Gbit/s falls back to 1.

    Source: IEEE 802.3 clause 28; the mismatch of duplex read in an encyclopaedia; what ports do below their top speed
    is common practice.
    """
    found = link_speeds[id(line)]
    if line.b is None or not found.kinds or (found.settled and not found.trouble):
        return
    if TWISTED not in found.kinds and any(takes(end.spec) == ANY for end in (line.a, line.b)):
        return  # `cables.plug` asks first what plugs in
    known = [(end, made) for end in (line.a, line.b) if (made := end_of(end.spec)) is not None]
    if len(known) < 2:
        return  # a port that states no speed asks for none
    if found.trouble == "no common speed":
        yield _none_common(line)
    elif found.trouble == "duplex mismatch":
        yield _mismatch(line)
    elif found.trouble == "duplex not said":
        says = f"whether both ends of the link of {first_end(line)} have the same duplex is open: one is set by hand"
        yield Open("error", line.a.thing, says, ["duplex"], path=line.path,
                   remedy='say it of that port, duplex = "full", or let both negotiate')  # fmt: skip
    elif not found.settled and not found.trouble:
        yield _unsettled(line, found, [end for end, made in known if made.perhaps])


def _none_common(line: LinkLine) -> Finding:
    assert line.b is not None
    does = [f"{end} does {_speeds(end.spec)}" for end in (line.a, line.b)]
    says = f"{first_end(line)} and the port at the other end have no speed in common: no link comes up"
    tops = sorted(top for end in (line.a, line.b) if (top := top_of(end.spec)) is not None)
    return Finding("error", line.a.thing, says, found=Measure(tops[-1], "bit/s"), allowed=Measure(tops[0], "bit/s"),
                   because="; ".join(does), path=line.path,
                   remedy="use two ports that share a speed, or a module of the lower one")  # fmt: skip


def _speeds(spec: Port) -> str:
    end = end_of(spec)
    return listed(show(bits, "bit/s") for bits in (end.sure + end.perhaps if end else ()))


def _mismatch(line: LinkLine) -> Finding:
    hands = [end for end in (line.a, line.b) if end is not None and end.spec.negotiates is False]
    where = "both ends are set by hand, and differ"
    edits: tuple[Edit, ...] = ()
    if len(hands) == 1:
        where = "one end is set by hand to full duplex, so the one that negotiates takes half"
        edits = _taken(hands[0], "negotiates")
    says = f"the two ends of the link of {first_end(line)} run at different duplex: {where}"
    return Finding("error", line.a.thing, says, path=line.path, edits=edits,
                   remedy="let both ends negotiate: take out negotiates = false",
                   related=[(end.path, "this port is set by hand") for end in hands if end.path])  # fmt: skip


def _unsettled(line: LinkLine, found: LinkSpeed, vague: list[PortPoint]) -> Finding:
    who, most = first_end(line), show(found.most or 0.0, "bit/s")
    top = show(top_of(vague[0].spec) or 0.0, "bit/s")
    if found.least is None:
        says = f"whether {who} and the port at the other end share a speed is open: {most} at best"
    else:
        says = f"the link of {who} settles on {show(found.least, 'bit/s')} or more, {most} at best: "
        says += "one end does not say what it does below its top speed"
    return Open(
        "error" if found.least is None else "warning",
        line.a.thing,
        says,
        ["speeds"],
        path=line.path,
        because=f"not every port of its kind does what lies between: {listed(end.name for end in vague)}",
        remedy=f'say it of that port: speeds = ["1 Gbit/s", "{top}"]',
    )


_SPEEDS = 'speeds = ["1 Gbit/s", "{}", "10 Gbit/s"]\n'

cases(
    settles,
    clean=[
        _SW.format(_G) + _AT.format(_TENTH),
        _SW.format(_G) + _AT.format("2.5 Gbit/s"),
        _SW.format(_TEN) + _AT.format(_G),
        _SW.format(_TEN) + _AT.format(_TEN),
        _SW.format(_TEN) + _SPEEDS.format("2.5 Gbit/s") + _AT.format("2.5 Gbit/s"),
        _SW.format(_TEN) + _SFP + _AT.format(_TEN) + _SFP,
        _SW.format(_TEN) + _SFP + _AT.format(_G),  # its plug is the slip
        _SW.format(_TENTH) + _HAND + _FULL + _AT.format(_TENTH) + _HAND + _FULL,
        _SW.format(_TENTH) + _HAND + _HALF + _AT.format(_G),  # slow, and the same at both ends
        '[[switch]]\nid = "sw"\nports = 2\n' + _AT.format("25 Gbit/s"),
        _SW.format(_G) + _HAND + _AT.format(_G),  # `speeds.set_by_hand` has that
    ],
    flagged=[
        Case(_SW.format("25 Gbit/s") + _AT.format(_TENTH), at="n1", found="25 Gbit/s", level="error"),
        Case(_SW.format(_TEN) + _SFP + _AT.format("100 Mbit/s") + _SFP, at="n1", level="error"),
        Case(_SW.format(_TENTH) + _HAND + _FULL + _AT.format(_G), at="n1", level="error", edits=True,
             mended=_SW.format(_TENTH) + _FULL + _AT.format(_G)),
        Case(_SW.format(_TENTH) + _HAND + _FULL + _AT.format(_TENTH) + _HAND + _HALF, at="both ends", level="error"),
        Case(_SW.format(_TENTH) + _HAND + _AT.format(_G), at="n1", kind="open",
             mended=_SW.format(_TENTH) + _HAND + _HALF + _AT.format(_G)),
        Case(_SW.format(_TEN) + _AT.format("2.5 Gbit/s"), at="n1", kind="open",
             mended=_SW.format(_TEN) + _SPEEDS.format("2.5 Gbit/s") + _AT.format("2.5 Gbit/s")),
        Case(_SW.format(_TEN) + _SFP + _AT.format(_G) + _SFP, at="n1", kind="open"),
        Case(_SW.format("25 Gbit/s") + _AT.format(_TEN), at="n1", kind="open"),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def slow_storage(plan: Plan, link_speeds: dict[int, LinkSpeed]) -> Iterator[Finding]:
    """Storage is not reached through a port of 100 Mbit/s or less.

    Such a port carries 11.87 MB/s and one disk reads ten times as much, so every copy and every start from it waits for
    the port.

    Formula: speed x 1460 / 1538 / 8 octets a second >= the fastest of its drives; 1460 octets of 1538 on the wire are
    the user's.

    Source: the share of a full TCP frame, 94.93 %, read in an article on goodput; disks (from memory).
    """
    drives: dict[str, list[Any]] | None = None
    for storage in plan.table("storage"):
        slow = [
            (found.most, line, end)
            for end in plan.ports.get(storage.id, ())
            if not end.apart
            for line in end.links
            if line.b is not None and (found := link_speeds[id(line)]).most and found.most <= SLOW
        ]
        if slow:
            drives = _by_carrier(plan) if drives is None else drives
            yield from _waits(storage, *slow[0], drives.get(storage.id, []))


def _by_carrier(plan: Plan) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = {}
    for drive in plan.table("drive"):
        if drive.bay is not None:
            found.setdefault(drive.bay.partition(".")[0], []).append(drive)
    return found


def _waits(
    storage: Any, speed: float, line: LinkLine, own: PortPoint, drives: list[Any]
) -> Iterator[Finding]:
    from coldcheck.lan import frames

    most = round(frames.octets_per_second(frames.goodput(speed)) / 1e6, 2)
    reads = [drive.reads / 1e6 for drive in drives if drive.reads is not None]
    if drives and len(reads) == len(drives) and max(reads) <= most:
        return
    says = f"{show(speed, 'bit/s')} is all that leads to {storage.id}: {show(most, 'MB/s')} at most"
    if reads and max(reads) > most:
        says += f"; one of its drives reads {show(max(reads), 'MB/s')}"
    mine = top_of(own.spec)
    yield Finding(
        "warning",
        storage,
        says,
        found=Measure(most, "MB/s"),
        allowed=Measure(max(reads), "MB/s") if reads and max(reads) > most else None,
        path=line.path,
        remedy="plug it into a port of 1 Gbit/s"
        if mine is None or mine > SLOW
        else "take storage that has a port of 1 Gbit/s",
    )


_STORE = '[[storage]]\nid = "store"\nbays = 1\n[[storage.port]]\nid = "e"\nto = "sw.1"\nspeed = "{}"\n'
_DRIVE = '[[drive]]\nid = "d"\nbay = "store.1"\nreads = "{}"\n'

cases(
    slow_storage,
    clean=[
        _SW.format(_G) + _STORE.format(_G) + _DRIVE.format("200 MB/s"),
        _SW.format(_TENTH) + _STORE.format(_G) + _DRIVE.format("11.87 MB/s"),
        _SW.format(_TENTH) + _AT.format(_TENTH),
        _SW.format(_TENTH) + _STORE.format(_TENTH) + 'for = "management"\n',
        '[[switch]]\nid = "sw"\nports = 1\n' + _STORE.format(_G),
    ],
    flagged=[
        Case(_SW.format(_TENTH) + _STORE.format(_G), at="store", found="11.87 MB/s", level="warning",
             mended=_SW.format(_G) + _STORE.format(_G)),
        Case(_SW.format(_G) + _STORE.format(_TENTH), at="store", found="11.87 MB/s", level="warning"),
        Case(_SW.format(_TENTH) + _STORE.format(_TENTH) + _DRIVE.format("12 MB/s"), at="12 MB/s", found="11.87 MB/s"),
        Case('[[switch]]\nid = "sw"\nports = 1\n' + _STORE.format(_TENTH), at="store", level="warning"),
    ],
)  # fmt: skip

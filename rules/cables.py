"""Cables: both ends take the same plug, fibre reaches, and every cable is as long as its way."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Measure, Open, Put, cases, rule
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.quantities import show
from coldcheck.plan.tables import Port
from coldcheck.workings.ports import (
    ANY,
    DIRECT,
    TWISTED,
    LinkSpeed,
    Written,
    cable_kind,
    cable_path,
    first_end,
    takes,
)
from coldcheck.workings.reach import Reach, cut_for


def _socket(spec: Port) -> str:
    if spec.module is not None and spec.media in (None, "sfp"):
        return f"an SFP socket with a {spec.module} module"
    return {
        "copper": "a socket for copper",
        "fibre": "a socket for fibre",
        "sfp": "an SFP socket without a module",
    }[spec.media or "copper"]


@rule(level="error", over="plan")
def plug(plan: Plan, links: list[LinkLine], link_speeds: dict[int, LinkSpeed]) -> Iterator[Finding]:
    """The plugs of a cable go into the sockets at both of its ends.

    A copper plug looks as if it went into an SFP socket and does not; the two kinds of fibre share one plug and pass no
    light to each other. A module goes into an SFP socket alone. Which kind of cable it is follows from the cable, from
    the modules and from the sockets: one of them has to say it.

    Source: common practice; single-mode modules on single-mode fibre, IEEE 802.3 clauses 38 and 52 (from memory).
    """
    written = Written(plan)
    for line in links:
        kinds = link_speeds[id(line)].kinds
        ends = [end for end in (line.a, line.b) if end is not None]
        wrong = next((end for end in ends if _misplaced(end)), None)
        if wrong is not None:
            yield _no_socket(wrong)
        elif TWISTED in kinds or (line.b is None and line.entry.medium == "radio"):
            continue
        elif any(len(end.links) > 1 for end in ends):
            continue  # `ports.double_booked` says that one of them goes elsewhere
        elif not kinds:
            yield _clash(written, line)
        elif len(kinds) > 1 or any(takes(end.spec) == ANY for end in ends):
            yield _undecided(line, kinds, ends)


def _misplaced(end: PortPoint) -> bool:
    """Say whether a module is said to be in what is no SFP socket."""
    return end.spec.module is not None and end.spec.media in ("copper", "fibre")


def _no_socket(end: PortPoint) -> Finding:
    says = f"a module is said to be in {end}, a socket for {end.spec.media}: it goes into an SFP socket"
    return Finding(
        "error", end, says, place=("module", "media"), remedy='take the module out, or say media = "sfp"'
    )


def _clash(written: Written, line: LinkLine) -> Finding:
    kind, b, who = cable_kind(line.cable), line.b, first_end(line)
    far = _far_kinds(line.entry.medium) if b is None else takes(b.spec)
    there = (
        f"the uplink is said to be {line.entry.medium}"
        if b is None
        else f"the other end is {_socket(b.spec)}"
    )
    path = line.path
    if kind is None:
        says = f"no cable joins both ends of the link of {who}: one is {_socket(line.a.spec)}, {there}"
    else:
        path = cable_path(line)
        says = f"the cable of {who} is {kind}, but "
        says += f"the socket there is {_socket(line.a.spec)}" if kind not in takes(line.a.spec) else there
    edits = _module_of_copper(written, line)
    remedy = _fit(line, [k for k in takes(line.a.spec) if k in far], bool(edits))
    related = [(b.path, "the other end")] if b is not None and b.path else []
    return Finding(
        "error", line.a.thing, says, found=kind, path=path, remedy=remedy, edits=edits, related=related
    )


def _far_kinds(medium: str | None) -> tuple[str, ...]:
    """Return the kinds of cable that may be at the far end of an uplink."""
    return tuple(kind for kind in ANY if medium != "fibre" or kind not in (TWISTED, DIRECT))


def _fit(line: LinkLine, both: list[str], copper: bool) -> str:
    """Return what makes a cable fit, where ``both`` are the kinds that go into both ends."""
    ends = [end for end in (line.a, line.b) if end is not None]
    plain = [end for end in ends if takes(end.spec) == (TWISTED,)]
    empty = any(end.spec.media == "sfp" and end.spec.module is None for end in ends)
    kinds = " or ".join("twisted pair, cat 5e or better" if k == TWISTED else k for k in both)
    if copper or (empty and (plain or cable_kind(line.cable) == TWISTED)):
        instead = kinds or "two sockets of one kind"
        return f'put a copper module into the SFP socket (module = "copper"), or take {instead}'
    if kinds:
        return f"take {kinds}"
    if plain:
        return f"into {plain[0]} goes copper alone: take two sockets of one kind"
    return "take modules and fibre of one kind"


def _module_of_copper(written: Written, line: LinkLine) -> tuple[Edit, ...]:
    """Return the edit that makes a twisted pair fit, where one empty SFP socket alone is in its way."""
    ends = [end for end in (line.a, line.b) if end is not None]
    bare = [end for end in ends if end.spec.media == "sfp" and end.spec.module is None]
    others = [end for end in ends if end not in bare]
    if len(bare) != 1 or not others or any(takes(end.spec) != (TWISTED,) for end in others):
        return ()
    end, path = bare[0], bare[0].spec.path
    own = path[:2] == end.thing.path and written.alone(end.thing.path)
    if not own or cable_kind(line.cable) not in (None, TWISTED):
        return ()
    if sum(1 for spec in end.thing.port_ if spec.path == path) > 1:
        return ()
    return (Put((*path, "module"), "copper"),)


def _undecided(line: LinkLine, kinds: tuple[str, ...], ends: list[PortPoint]) -> Finding:
    who = first_end(line)
    if len(kinds) == 1 or any(takes(end.spec) == ANY for end in ends):
        says = f"whether {' or '.join(kinds)} goes into both ends of the link of {who} is open: one end does not say "
        says += "what plugs into it"
        return Open("error", line.a.thing, says, ["media"], path=line.path,
                    remedy='say it of the port: media = "copper", "fibre" or "sfp"')  # fmt: skip
    says = f"what joins both ends of the link of {who} is not said: {' or '.join(kinds)}"
    remedy = 'say it: cable = "direct, 1 m"' if DIRECT in kinds else 'say it: cable = "OM3, 5 m"'
    return Open("error", line.a.thing, says, ["cable", "module"], path=line.path,
                remedy=remedy + ', or give the modules: module = "multi-mode"')  # fmt: skip


_SW = """
[[switch]]
id = "sw"
[[switch.port]]
id = "1 .. 4"
speed = "1 Gbit/s"
media = "copper"
[[switch.port]]
id = "5"
speed = "10 Gbit/s"
media = "sfp"
[[switch.port]]
id = "6"
speed = "10 Gbit/s"
media = "sfp"
module = "single-mode"
"""
_AT = '[[node]]\nid = "n1"\n[[node.port]]\nid = "e"\nto = "sw.{}"\n'
_COPPER = _AT + 'media = "copper"\n'
_SFP = _AT + 'media = "sfp"\n'
_CABLE = 'cable = "{}"\n'
_MULTI = 'module = "multi-mode"\n'
_UP = '[[uplink]]\nfrom = "sw.{}"\nto = "the hall"\nmedium = "{}"\n'
_WITH_COPPER = _SW.replace(
    'media = "sfp"\n[[switch.port]]\nid = "6"', 'media = "sfp"\nmodule = "copper"\n[[switch.port]]\nid = "6"'
)

cases(
    plug,
    clean=[
        _SW + _COPPER.format(1),
        _SW + _COPPER.format(1) + _CABLE.format("cat 6, 2 m"),
        _SW + _AT.format(1) + _CABLE.format("2 m"),
        _SW + '[[node]]\nid = "n1"\nport = "sw.1"\n',
        '[[switch]]\nid = "sw"\nports = 4\n[[node]]\nid = "n1"\nport = "sw.1"\ncable = "cat 6"\n',
        _WITH_COPPER + _COPPER.format(5) + _CABLE.format("cat 6A, 2 m"),
        _SW + _SFP.format(5) + _CABLE.format("direct, 7 m"),
        _SW + _SFP.format(5) + _CABLE.format("OM3, 20 m"),
        _SW + _SFP.format(5) + _MULTI,
        _SW + _SFP.format(6) + 'module = "single-mode"\n' + _CABLE.format("OS2"),
        _SW + _AT.format(6) + 'media = "fibre"\n',
        _SW + _UP.format(6, "fibre"),
        _SW + _UP.format(1, "wired"),
        _SW + _UP.format(1, "radio"),
    ],
    flagged=[
        # A copper plug and an SFP socket, with the cable told and without.
        Case(_SW + _COPPER.format(5), at="n1", level="error", edits=True, mended=_WITH_COPPER + _COPPER.format(5)),
        Case(_SW + _COPPER.format(5) + _CABLE.format("cat 6, 2 m"), at="n1", level="error", edits=True,
             mended=_WITH_COPPER + _COPPER.format(5) + _CABLE.format("cat 6, 2 m")),
        Case(_SW + _SFP.format(5) + _CABLE.format("cat 6, 2 m"), at="twisted pair", level="error",
             mended=_SW + _SFP.format(5) + _CABLE.format("direct, 2 m")),
        # Fibre and copper, the two kinds of fibre, a direct cable and copper.
        Case(_SW + _SFP.format(1) + _MULTI, at="multi-mode module", level="error"),
        Case(_SW + _SFP.format(6) + _MULTI, at="single-mode module", level="error",
             mended=_SW + _SFP.format(5) + _MULTI),
        Case(_SW + _SFP.format(5) + _MULTI + _CABLE.format("OS2, 5 m"), at="single-mode fibre", level="error",
             mended=_SW + _SFP.format(5) + _MULTI + _CABLE.format("OM4, 5 m")),
        Case(_SW + _COPPER.format(1) + _CABLE.format("direct, 1 m"), at="a direct cable", level="error",
             mended=_SW + _COPPER.format(1) + _CABLE.format("cat 6, 1 m")),
        Case(_SW + _COPPER.format(1) + _CABLE.format("OM3, 5 m"), at="multi-mode fibre", level="error"),
        Case(_SW + _COPPER.format(1) + _MULTI, at="n1.e", level="error", mended=_SW + _COPPER.format(1)),
        Case(_SW + _UP.format(1, "fibre"), at="the uplink is said to be fibre", level="error"),
        Case(_SW + _UP.format(1, "wired") + _CABLE.format("OM3, 10 m"), at="multi-mode fibre", level="error",
             mended=_SW + _UP.format(1, "wired") + _CABLE.format("cat 5e, 10 m")),
        # What is not said.
        Case(_SW + _SFP.format(5), kind="open", at="n1", mended=_SW + _SFP.format(5) + _CABLE.format("direct, 1 m")),
        Case(_SW + '[[node]]\nid = "n1"\nport = "sw.5"\n', kind="open", at="n1"),
        Case(_SW + _AT.format(5) + _CABLE.format("OM3, 5 m"), kind="open",
             mended=_SW + _SFP.format(5) + _CABLE.format("OM3, 5 m")),
        Case(_SW + _UP.format(5, "fibre"), kind="open"),
    ],
)  # fmt: skip


@rule(level="error", over="links")
def fibre_length(line: LinkLine, link_speeds: dict[int, LinkSpeed]) -> Iterator[Finding]:
    """Fibre, or a direct cable, carries the speed of its link over its length.

    Multi-mode fibre blurs a signal the more, the farther and the faster it goes; passive copper loses it.

    Formula: length <= what the standard of that speed grants the kind of fibre; a direct cable <= 7 m.

    Source: IEEE 802.3 clauses 38, 52, 59 and 86 to 114; SFF-8431 for direct cables (all from memory).
    """
    cable, found = line.cable, link_speeds[id(line)]
    if cable is None or cable.medium is None or not found.kinds or found.trouble:
        return
    from coldcheck.lan import optics

    medium, length, who = cable.medium, cable.length, first_end(line)
    rows = {row.bits: optics.longest(row.bits, medium) for row in optics.OPTICS}
    reaches = {bits: reach for bits, reach in rows.items() if reach is not None}
    bits = found.speed
    if medium == optics.DIRECT and bits not in reaches:
        # Slower modules work on these cables, and no standard gives them a length of their own.
        reaches, bits = {0.0: max(reaches.values())}, 0.0
    if bits is not None and bits not in reaches:
        yield _no_standard(line, bits, {row.bits for row in optics.OPTICS})
        return
    low, high = (f(reaches.values() if bits is None else [reaches[bits]]) for f in (min, max))
    at = f"at {show(bits, 'bit/s')} " if bits else ""
    if length is None:
        if low < _LONG:
            says = (
                f"the cable of {who} does not say its length; {medium} reaches {show(low, 'm')} {at}".rstrip()
            )
            yield Open("error", line.a.thing, says, ["length"], path=cable_path(line),
                       remedy=f'say it: cable = "{medium}, 2 m"')  # fmt: skip
    elif length > high:
        says = f"the cable of {who} is {show(length, 'm')} long; {medium} reaches {show(high, 'm')} {at}".rstrip()
        yield Finding("error", line.a.thing, says, found=Measure(length, "m"), allowed=Measure(high, "m"),
                      path=cable_path(line), remedy="shorten it, or " + _farther(medium))  # fmt: skip
    elif length > low:
        says = f"whether the cable of {who} is too long is open: {medium} reaches {show(low, 'm')} to "
        says += f"{show(high, 'm')}, by its speed"
        yield Open("error", line.a.thing, says, ["speed"], path=cable_path(line),
                   found=Measure(length, "m"), remedy="state the speed of both ports")  # fmt: skip


#: Up to this length fibre need not say how long it is, as no copper need [m].
_LONG = 100.0


def _farther(medium: str) -> str:
    if medium == "direct":
        return "take modules and fibre"
    return "take single-mode fibre and modules" if medium.startswith("OM") else "put a switch in between"


def _no_standard(line: LinkLine, bits: float, known: set[float]) -> Finding:
    assert line.cable is not None
    who, medium = first_end(line), line.cable.medium
    if bits in known:
        says = f"the cable of {who} is {medium}, which does not carry {show(bits, 'bit/s')}"
        return Finding("error", line.a.thing, says, found=medium, path=cable_path(line),
                       remedy="take better fibre: OM4 or OS2")  # fmt: skip
    says = f"how far {show(bits, 'bit/s')} reaches on the {medium} of {who} is not known here"
    return Open("error", line.a.thing, says, ["reach"], path=cable_path(line),
                remedy="look up what its modules grant, and waive this")  # fmt: skip


_FAST = _SW + _SFP.format(5) + 'speed = "10 Gbit/s"\n' + _CABLE
_25G = _FAST.replace("10 Gbit/s", "25 Gbit/s")
_SLOW = _SW.replace("10 Gbit/s", "1 Gbit/s") + _SFP.format(5) + 'speed = "1 Gbit/s"\n' + _CABLE
_UNSAID = _SW.replace('speed = "10 Gbit/s"\n', "") + _SFP.format(5) + _CABLE

cases(
    fibre_length,
    clean=[
        _FAST.format("OM3, 300 m"),
        _FAST.format("OM4, 400 m"),
        _FAST.format("OM3"),
        _FAST.format("direct, 7 m"),
        _SLOW.format("OM2, 550 m"),
        _SLOW.format("direct, 7 m"),
        _UNSAID.format("OM3, 70 m"),
        _FAST.format("cat 6, 500 m"),  # its plug is the slip
    ],
    flagged=[
        Case(_FAST.format("OM3, 301 m"), at="n1", found="301 m", level="error", mended=_FAST.format("OM4, 301 m")),
        Case(_FAST.format("OM4, 401 m"), found="401 m", level="error"),
        Case(_FAST.format("direct, 7.1 m"), found="7.1 m", level="error", mended=_FAST.format("direct, 7 m")),
        Case(_SLOW.format("OM2, 551 m"), found="551 m", level="error"),
        Case(_SLOW.format("direct, 8 m"), found="8 m", level="error"),
        Case(_25G.format("OM2, 5 m"), found="OM2", level="error", mended=_25G.format("OM3, 5 m")),
        Case(_UNSAID.format("OM3, 71 m"), kind="open"),
        Case(_UNSAID.format("OM3, 551 m"), found="551 m", level="error"),
        Case(_SLOW.replace("1 Gbit/s", "2.5 Gbit/s").format("OM3, 5 m"), kind="open"),
        Case(_FAST.format("OM1"), kind="open", mended=_FAST.format("OM1, 33 m")),
        Case(_FAST.format("OM1, 34 m"), found="34 m", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="reaches")
def too_short(reach: Reach, plan: Plan) -> Iterator[Finding]:
    """A cable, a lead or a harness reaches from one thing to the other, along the walls and with some slack.

    What is shorter than the straight way cannot be plugged in; what is shorter than the way along the walls hangs
    across the box, pulls at its plugs and is in the way of hands and air.

    Formula: length >= |dx| + |dy| + |dz| + `slack`; in any case length >= sqrt(dx^2 + dy^2 + dz^2). Cut to a length
    rounded up to 50 mm.

    Source: geometry; that cables follow the walls is common practice.
    """
    slack = plan.head.slack
    wanted, cut = reach.along + slack, show(cut_for(reach.along, slack), "m")
    if reach.length is None:
        says = f"{reach.what} does not say its length; its way is {show(reach.along, 'm')} along the walls"
        yield Open("warning", reach.holder, says, ["length"], path=reach.path, remedy=f"cut it to {cut}")
        return
    length = reach.length
    if length >= wanted - _HAIR:
        return
    tight = length < reach.straight - _HAIR
    limit = reach.straight if tight else wanted
    says = f"{reach.what} is {show(length, 'm')} long; "
    if tight:
        says += f"the straight way is {show(limit, 'm')} already"
    else:
        says += f"along the walls and with {show(slack, 'm')} of slack it needs {show(limit, 'm')}"
    yield Finding(
        "error" if tight else "warning",
        reach.holder,
        says,
        found=Measure(length, "m"),
        allowed=Measure(limit, "m"),
        because=f"the way along the walls is {show(reach.along, 'm')}, the straight one {show(reach.straight, 'm')}",
        remedy=f"cut it to {cut}",
        edits=_longer(plan, reach, cut),
        path=reach.path,
    )


#: What sums of lengths may be off by, by the way computers count [m].
_HAIR = 1e-9


def _longer(plan: Plan, reach: Reach, cut: str) -> tuple[Edit, ...]:
    """Return the edit that writes the length to cut, where its key says it of this one data cable."""
    line = reach.line
    if (
        line is None
        or line.cable is None
        or reach.path[-1] != "cable"
        or not Written(plan).alone(reach.path[:2])
    ):
        return ()
    thing = line.a.thing
    others = [spec for spec in thing.port_ if spec.path == reach.path[:-1]]
    if len(others) > 1 or (reach.path[:-1] == thing.path and len(thing.port) > 1):
        return ()
    kind = line.cable.medium or (f"cat {line.cable.category}" if line.cable.category else None)
    return (Put(reach.path, f"{kind}, {cut}" if kind else cut),)


_PLACED = (
    '[plan]\nslack = "100 mm"\n[[switch]]\nid = "sw"\nports = 4\nat = ["0 mm", "0 mm", "0 mm"]\n'
    '[[node]]\nid = "n1"\nport = "sw.1"\nat = ["300 mm", "400 mm", "0 mm"]\n'
)
_FED = (
    '[[feed]]\nid = "dc"\nvolts = "12 V"\namps = "5 A"\nat = ["0 mm", "0 mm", "0 mm"]\n'
    '[[node]]\nid = "n1"\nfrom = "dc"\nat = ["0 mm", "300 mm", "400 mm"]\nlead = "{}"\n'
)
_HARNESS = """
[[supply]]
id = "psu"
at = ["0 mm", "0 mm", "0 mm"]
[[supply.rail]]
id = "5v"
volts = "5 V"
[[supply.connector]]
id = "j"
pins = { 1 = "5v", 2 = "gnd" }
[[node]]
id = "n1"
from = "psu.5v"
at = ["0 mm", "300 mm", "400 mm"]
[[node.inlet]]
id = "h"
pins = { 2 = "5v", 6 = "gnd" }
[[harness]]
id = "h"
[[harness.wire]]
from = "psu.j.1"
to = "n1.h.2"
gauge = "18 AWG"
length = "900 mm"
[[harness.wire]]
from = "psu.j.2"
to = "n1.h.6"
gauge = "18 AWG"
length = "800 mm"
"""

cases(
    too_short,
    clean=[
        _PLACED + _CABLE.format("cat 6, 800 mm"),
        _PLACED,
        _PLACED.replace('at = ["300 mm", "400 mm", "0 mm"]\n', "") + _CABLE.format("cat 6, 10 mm"),
        _FED.format("18 AWG, 800 mm"),
        _FED.format("0.1 ohm"),
        '[plan]\nslack = "1 mm"\n' + _FED.format("18 AWG, 701 mm"),
        _HARNESS,
    ],
    flagged=[
        Case(_PLACED + _CABLE.format("cat 6, 799 mm"), at="n1", found="799 mm", level="warning", edits=True,
             mended=_PLACED + _CABLE.format("cat 6, 800 mm")),
        Case(_PLACED + _CABLE.format("500 mm"), at="n1", found="500 mm", level="warning", edits=True,
             mended=_PLACED + _CABLE.format("800 mm")),
        Case(_PLACED + _CABLE.format("cat 6, 499 mm"), at="n1", found="499 mm", level="error",
             mended=_PLACED + _CABLE.format("cat 6, 800 mm")),
        Case(_PLACED + _CABLE.format("cat 6"), at="n1", kind="open", mended=_PLACED + _CABLE.format("cat 6, 800 mm")),
        Case(_FED.format("18 AWG, 799 mm"), at="the lead to n1", found="799 mm", level="warning",
             mended=_FED.format("18 AWG, 800 mm")),
        Case(_FED.format("18 AWG, 499 mm"), at="the lead to n1", found="499 mm", level="error"),
        Case(_FED.format("18 AWG"), at="the lead to n1", kind="open"),
        Case(_HARNESS.replace("800 mm", "799 mm"), at="the harness of n1.h", found="799 mm", level="warning",
             mended=_HARNESS),
    ],
)  # fmt: skip

"""Protection: no fuse is larger than what stands behind it, and no source gives more than a wire without one."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.dc import fuse as gates
from coldcheck.plan.edit import Put
from coldcheck.plan.model import InletPoint
from coldcheck.plan.spans import listed
from coldcheck.workings.carried import carried
from coldcheck.workings.choices import GAUGES, lead_resized
from coldcheck.workings.leads import Leads
from coldcheck.workings.protection import STANDS, Bare, FuseAt, Piece, fuse_text, resized, share_of_rating

_ROUNDING = 1 + 1e-9


@rule(level="error", over="fused")
def wire(fuse: FuseAt, leads: Leads) -> Iterator[Finding]:
    """A fuse is no larger than what each wire behind it carries, up to the next fuse that is smaller.

    Otherwise the wire burns before the fuse opens. Where the source limits itself to less than 1.45 times the wire, the
    fuse need not protect it; a converter starts anew, since a fuse in front of it sees little of a short behind it.
    Where sources meet, their fuses add up. The stricter rule also asks that the current at which the fuse has surely
    opened, 1.35 times a blade or UL fuse and 2.1 times an IEC one, be at most 1.45 times what the wire carries: where
    only that fails it is a note, since the wire must be overloaded for hours to be harmed.

    Formula: fuse <= ampacity; sure opening <= 1.45 × ampacity.

    Source: FAA AC 43.13-1B paragraph 11-48; IEC 60364-4-43 (from memory); ampacity from the Handbook of Electronic
    Tables and Formulas, column for chassis wiring.
    """
    bare = [piece for piece in fuse.bare if not piece.floor]
    if bare:
        yield _unprotected_wire(fuse, bare, leads)
    elif fuse.bare:
        thick = min(fuse.bare, key=lambda piece: piece.amps)
        yield Open(
            "warning",
            fuse.holder,
            f"what {thick} may carry, {thick.how}, stands in no table here: "
            f"{Measure(thick.amps, 'A')} at least, and "
            f"{fuse.told} is in front of it",
            missing=[f"{thick} ampacity of {thick.how}"],
            found=Measure(fuse.fuse.amps, "A"),
            remedy="look up what this very wire may carry, and waive this with the figure as the reason",
            place=("fuse", "part"),
        )
    elif fuse.loose:
        yield _loose(fuse)


def _unprotected_wire(fuse: FuseAt, bare: list[Piece], leads: Leads) -> Finding:
    worst = min(bare, key=lambda piece: piece.amps)
    remedy, edits = _for_wire(fuse, bare, worst, leads)
    whys = [f"the same holds for {listed([str(p.at) for p in bare if p is not worst])}"] if bare[1:] else []
    if len(fuse.meets) > 1:
        whys.append(f"{listed(fuse.meets)} feed it side by side, and each lets its own current through")
    greatest = gates.faa_fuse(worst.gauge) if worst.gauge is not None else None
    if greatest is not None and worst.parallel == 1:
        whys.append(f"in an aircraft {worst.how} has a fuse of at most {Measure(greatest, 'A')} (table 11-3)")
    return Finding(
        "error",
        fuse.holder,
        f"{fuse.told} does not protect {worst}: {worst.how} may carry {Measure(worst.amps, 'A')}",
        found=Measure(fuse.fuse.amps, "A"),
        allowed=Measure(worst.amps, "A"),
        because="; ".join(whys),
        remedy=remedy,
        edits=edits,
        place=("fuse", "part"),
        related=[(worst.at, "behind it")] if worst.at is not fuse.holder else [],
    )


def _for_wire(fuse: FuseAt, bare: list[Piece], worst: Piece, leads: Leads) -> tuple[str, tuple[Put, ...]]:
    kind = fuse.fuse.kind
    if len(fuse.meets) > 1:
        most = Measure(worst.amps, "A")
        return f"put a fuse of at most {most} behind the place where they meet, or use a thicker wire", ()
    gauge = _thicker(worst, fuse.fuse.amps)
    thicker = f"{gauge:g} AWG or thicker for {worst}" if gauge is not None else f"more copper for {worst}"
    if sizes := fuse.sizes(kind):
        text = fuse_text(sizes[-1], kind)
        return f'fuse = "{text}" carries what flows and protects it; or {thicker}', resized(fuse, sizes[-1])
    if kind is None or kind == "ptc":
        return f"a fuse of at most {Measure(worst.amps, 'A')}, or {thicker}", ()
    inlet, run = worst.at, worst.run
    lone = len(bare) == 1 and isinstance(inlet, InletPoint) and run is not None and inlet.lead == run
    edits = lead_resized(inlet, gauge, leads) if lone and gauge is not None else ()
    return f"{thicker}: no smaller fuse of this kind stands what flows through it", edits


def _thicker(piece: Piece, amps: float) -> int | None:
    """Return the thinnest gauge on sale that carries so much, as the wire is laid."""
    run, least = piece.run, piece.gauge or 0.0
    metal, among = (run.metal, run.among) if run else ("copper", None)
    return next(
        (g for g in GAUGES if g < least and carried(g, metal, among).amps * piece.parallel >= amps), None
    )


def _loose(fuse: FuseAt) -> Finding:
    kind = fuse.fuse.kind or ""
    worst = min(fuse.loose, key=lambda piece: piece.amps)
    strict = gates.wire_protected(kind, fuse.fuse.amps, worst.amps)
    able = [s for s in fuse.sizes(kind) if gates.wire_protected(kind, s, worst.amps).ok]
    gauge = _thicker(worst, strict.opens / STANDS)
    ways = [f'fuse = "{fuse_text(able[-1], kind)}"'] if able else []
    ways += [f"{gauge:g} AWG for {worst}"] if gauge is not None else []
    ways += ["a blade fuse, which opens sooner"] if strict.opens > 1.35 * fuse.fuse.amps * _ROUNDING else []
    return Finding(
        "note",
        fuse.holder,
        f"{fuse.told} suits {worst} by its rating, but has surely opened only at {Measure(strict.opens, 'A')}; "
        f"{Measure(strict.most, 'A')} is 1.45 times what {worst.how} may carry",
        found=Measure(strict.opens, "A"),
        allowed=Measure(strict.most, "A"),
        remedy="; or ".join(ways) or "a thicker wire",
        place=("fuse", "part"),
    )


_BEHIND = """
[[feed]]
id = "bank"
volts = "24 V"
battery = true
fuse = "{fuse}"
[[node]]
id = "n1"
from = "bank"
peak = "{amps}"
load = "current"
lead = "{lead}"
"""
_BLOCK = """
[[feed]]
id = "bank"
volts = "24 V"
battery = true
fuse = "{main}"
[[inline]]
id = "block"
what = "splitter"
from = "bank"
lead = "10 AWG, 300 mm"
[[inline.outlet]]
id = "1 .. 2"
fuse = "{each}"
[[node]]
id = "n1 .. n2"
from = "block.1 .. block.2"
peak = "3 A"
load = "current"
lead = "{lead}"
"""
_SIDES = """
[[feed]]
id = "a"
volts = "12 V"
spread = "1 %"
ohms = "20 mohm"
amps = "{amps}"
[[feed]]
id = "c"
volts = "12 V"
spread = "1 %"
ohms = "20 mohm"
amps = "{amps}"
[[inline]]
id = "fa"
what = "fuse"
fuse = "10 A blade"
from = "a"
lead = "14 AWG, 100 mm"
[[inline]]
id = "fc"
what = "fuse"
fuse = "10 A blade"
from = "c"
lead = "14 AWG, 100 mm"
[[inline]]
id = "bar"
what = "run"
from = ["fa", "fc"]
lead = ["14 AWG, 100 mm", "14 AWG, 100 mm"]
[[node]]
id = "n1"
from = "bar"
peak = "5 A"
load = "current"
lead = "{lead}"
"""

cases(
    wire,
    clean=[
        _BEHIND.format(fuse="15 A blade", amps="3 A", lead="18 AWG, 1 m"),  # 16 A
        _BEHIND.format(fuse="7.5 A blade", amps="3 A", lead="18 AWG, 1 m, among 12"),  # 8 A
        _BEHIND.format(fuse="10 A blade", amps="3 A", lead="0 ohm"),
        # 2.1 × 10 A is 1.45 × 14.5 A
        _BEHIND.format(fuse="10 A iec-fast", amps="3 A", lead="18 AWG, 1 m"),
        # the smaller fuse further down protects; so does a smaller one further up
        _BLOCK.format(main="50 A blade", each="5 A blade", lead="22 AWG, 1 m"),
        _BLOCK.format(main="5 A blade", each="20 A blade", lead="22 AWG, 1 m"),
        # a source that cannot give more than the wire stands: 10 A against 1.45 × 7 A
        _BEHIND.format(fuse="15 A blade", amps="3 A", lead="22 AWG, 100 mm").replace("battery = true", 'amps = "10 A"'),
        _SIDES.format(amps="30 A", lead="16 AWG, 100 mm"),  # 22 A for two fuses of 10 A
        # each source gives 5 A at the most
        _SIDES.format(amps="5 A", lead="22 AWG, 100 mm"),
        # behind a converter its own limit counts
        _BEHIND.format(fuse="15 A blade", amps="1 A", lead="18 AWG, 1 m")
        + '[[supply]]\nid = "s"\nfrom = "bank"\nlead = "18 AWG, 1 m"\nefficiency = "90 %"\n[[supply.rail]]\nid = "5v"\n'
        'volts = "5 V"\namps = "3 A"\n[[node]]\nid = "m"\nfrom = "s.5v"\npeak = "1 A"\nlead = "24 AWG, 1 m"\n',
        # thicker than the table, which ends at 380 A
        _BEHIND.format(fuse="350 A blade", amps="3 A", lead="120 mm2, 1 m"),
    ],
    flagged=[
        Case(
            _BEHIND.format(fuse="20 A blade", amps="3 A", lead="18 AWG, 1 m"),
            at="bank",
            found="20 A",
            level="error",
            edits=True,
            mended=_BEHIND.format(fuse="15 A blade", amps="3 A", lead="18 AWG, 1 m"),
        ),
        Case(_BEHIND.format(fuse="10 A", amps="3 A", lead="18 AWG, 1 m, among 12"), at="bank", level="error"),
        # no smaller blade carries 13 A: a thicker wire
        Case(
            _BEHIND.format(fuse="20 A blade", amps="13 A", lead="18 AWG, 1 m"),
            at="bank",
            level="error",
            edits=True,
            mended=_BEHIND.format(fuse="20 A blade", amps="13 A", lead="16 AWG, 1 m"),
        ),
        Case(_BEHIND.format(fuse="10 A slow", amps="3 A", lead="20 AWG, 1 m"), at="bank", level="note"),
        Case(_BEHIND.format(fuse="400 A blade", amps="3 A", lead="120 mm2, 1 m"), at="bank", kind="open"),
        Case(_BLOCK.format(main="50 A blade", each="10 A blade", lead="22 AWG, 1 m"), at="block.1", level="error"),
        Case(_BLOCK.format(main="10 A blade", each="20 A blade", lead="22 AWG, 1 m"), at="bank", level="error"),
        Case(_SIDES.format(amps="30 A", lead="18 AWG, 100 mm"), at="fa", found="10 A", level="error"),
    ],
)  # fmt: skip


@rule(level="warning", over="fused")
def contact(fuse: FuseAt) -> Iterator[Finding]:
    """A fuse is no larger than what each plug, switch and holder behind it carries, up to the next smaller fuse.

    A short opens the fuse at once. But a thing that fails slowly, or one plug more, may draw for hours what the fuse
    lets through, and a contact beyond its rating gets hot, loses its spring and gets hotter. Where wires are too thin
    for the fuse, `protection.wire` speaks; what is inside a carrier is its maker's affair.

    Formula: fuse <= what the contacts carry together, as in `plugs.current`.

    Source: contact ratings as stated by each part of the shelf; common practice.
    """
    if not fuse.weak or fuse.bare:
        return
    worst = min(fuse.weak, key=lambda piece: piece.amps)
    small = [size for size in fuse.sizes(fuse.fuse.kind) if size <= worst.amps * _ROUNDING]
    own = f"give it a fuse of its own, of at most {Measure(worst.amps, 'A')}, or take one that carries more"
    others = [str(piece) for piece in fuse.weak if piece is not worst]
    yield Finding(
        "warning",
        fuse.holder,
        f"{fuse.told} does not protect {worst}: it carries {Measure(worst.amps, 'A')}",
        found=Measure(fuse.fuse.amps, "A"),
        allowed=Measure(worst.amps, "A"),
        because="; ".join([worst.how, *([f"nor does it protect {listed(others)}"] if others else [])]),
        remedy=f'fuse = "{fuse_text(small[-1], fuse.fuse.kind)}" does; or {own}' if small else own,
        edits=resized(fuse, small[-1]) if small else (),
        place=("fuse", "part"),
        related=[(piece.at, "behind it") for piece in fuse.weak[:4] if piece.at is not fuse.holder],
    )


_SWITCHED = """
[[feed]]
id = "bank"
volts = "24 V"
battery = true
fuse = "{fuse}"
[[inline]]
id = "main"
what = "switch"
amps = "10 A"
from = "bank"
lead = "14 AWG, 300 mm"
[[node]]
id = "n1"
from = "main"
peak = "{amps}"
load = "current"
lead = "14 AWG, 300 mm"
"""
_HOLDER = """
[[feed]]
id = "b"
volts = "12 V"
[[inline]]
id = "f"
what = "fuse"
fuse = "{fuse}"
amps = "30 A"
from = "b"
lead = "10 AWG, 100 mm"
"""
_PINNED = _BEHIND.replace('lead = "{lead}"', 'lead = "22 AWG, 420 mm, 2 x"\nplug = "header-40"')

cases(
    contact,
    clean=[
        _SWITCHED.format(fuse="10 A blade", amps="3 A"),
        _HOLDER.format(fuse="30 A blade"),
        # two pins of 3 A, 20 mohm new and 40 mohm aged behind 23 mohm of wire each: 5.05 A
        _PINNED.format(fuse="5 A blade", amps="1.5 A"),
        # the wire is too thin as well: `protection.wire`
        _SWITCHED.format(fuse="40 A blade", amps="3 A"),
        # it carries more than it may already: `plugs.inlet`
        _SWITCHED.format(fuse="15 A blade", amps="11 A"),
    ],
    flagged=[
        Case(
            _SWITCHED.format(fuse="15 A blade", amps="3 A"),
            at="bank",
            found="15 A",
            edits=True,
            mended=_SWITCHED.format(fuse="10 A blade", amps="3 A"),
        ),
        Case(_SWITCHED.format(fuse="15 A blade", amps="9 A"), at="main", level="warning"),
        Case(_HOLDER.format(fuse="35 A blade"), at="f", level="warning"),
        Case(_PINNED.format(fuse="7.5 A blade", amps="1.5 A"), at="header-40", level="warning"),
    ],
)  # fmt: skip


@rule(level="warning", over="unfused")
def unprotected(bare: Bare) -> Iterator[Finding]:
    """A source that gives more than a wire stands has a fuse between the two.

    A supply of 25 A does not notice that a lead for 7 A is pinched: it goes on, and the lead glows. Each rail counts
    by what it states to give without end. A supply whose own limit is within 1.45 times what the wire carries needs no
    fuse: a fuse of the size of the wire would let as much through. A source without a stated limit is told by
    `rails.limit_unknown`, a battery by `fuses.battery`, a wire too thin for what flows by `leads.wire_current`.

    Formula: limit of the source <= 1.45 × ampacity.

    Source: IEC 60364-4-43 (from memory); ampacity from the Handbook of Electronic Tables and Formulas, column for
    chassis wiring.
    """
    sure = [piece for piece in bare.wires if not piece.floor]
    if not sure:
        return
    worst = min(sure, key=lambda piece: piece.amps)
    names = list(dict.fromkeys(str(piece.at) for piece in sure))
    gauge = _thicker(worst, bare.limit / STANDS)
    several = len(bare.sources) > 1
    gives = f"{listed(bare.sources)} together give" if several else f"{bare.outlet.noun} {bare.outlet} gives"
    blades = [
        s for s in gates.sizes("blade") if worst.flows <= s * share_of_rating("blade") and s <= worst.amps
    ]
    each = "in front of each" if len(names) > 1 else "in front of it"
    ways = [f'put a fuse {each}: what = "fuse", fuse = "{fuse_text(blades[-1], "blade")}"'] if blades else []
    ways += [f"{gauge:g} AWG or thicker for {worst}"] if gauge is not None else []
    yield Finding(
        "warning",
        bare.outlet,
        f"{gives} {Measure(bare.limit, 'A')} without end, and no fuse protects the "
        f"wires to {listed(names)}: {worst.how} may carry {Measure(worst.amps, 'A')}",
        found=Measure(bare.limit, "A"),
        allowed=Measure(STANDS * worst.amps, "A"),
        because="a short in such a wire does not stop the source, and 1.45 times what it carries is all it stands",
        remedy="; or ".join(ways) or "use a thicker wire, or a source that gives less",
        place=("amps", "part"),
        related=[(piece.at, "the wire") for piece in sure[:1]],
    )


_RUN = """
[[feed]]
id = "b"
volts = "12 V"
[[node]]
id = "n1"
from = "b"
peak = "{amps}"
load = "current"
lead = "{lead}"
"""
_LIMITED = _RUN.replace('volts = "12 V"', 'volts = "12 V"\n{limit}').replace("{amps}", "3 A")

cases(
    unprotected,
    clean=[
        _LIMITED.format(limit='amps = "10 A"', lead="22 AWG, 100 mm"),  # 1.45 × 7 A
        _LIMITED.format(limit='amps = "10 A"\npeak = "20 A for 10 s"', lead="22 AWG, 100 mm"),
        _LIMITED.format(limit='amps = "20 A"\nfuse = "30 A blade"', lead="22 AWG, 100 mm"),  # `protection.wire`
        _LIMITED.format(limit="", lead="22 AWG, 100 mm"),
        _LIMITED.format(limit='amps = "99 A"\nbattery = true', lead="22 AWG, 100 mm"),
        _LIMITED.format(limit='amps = "99 A"', lead="8 AWG, 100 mm"),
        # what flows is too much for the wire already
        _LIMITED.format(limit='amps = "20 A"', lead="26 AWG, 100 mm"),
        # an outlet of a board limits itself
        _LIMITED.format(limit='amps = "20 A"', lead="16 AWG, 100 mm")
        + '[[node.outlet]]\nid = "usb"\nkind = "pass-through"\namps = "1.2 A"\n[[appliance]]\nid = "x"\n'
        'from = "n1.usb"\npeak = "1 A"\nlead = "28 AWG, 300 mm"\n',
        # a fuse of unknown rating: `fuses.unknown`
        _LIMITED.format(limit='amps = "20 A"', lead="22 AWG, 100 mm").replace('from = "b"', 'from = "f"')
        + '[[inline]]\nid = "f"\nwhat = "fuse"\nfrom = "b"\nlead = "14 AWG, 100 mm"\n',
    ],
    flagged=[
        Case(
            _LIMITED.format(limit='amps = "10.2 A"', lead="22 AWG, 100 mm"),
            at="b",
            found="10.2 A",
            mended=_LIMITED.format(limit='amps = "10.2 A"', lead="20 AWG, 100 mm"),
        ),
        Case(_LIMITED.format(limit='watts = "240 W"', lead="22 AWG, 100 mm"), at="b", found="20 A"),
        Case(_LIMITED.format(limit='amps = "5 A"\npeak = "20 A"', lead="22 AWG, 100 mm"), at="b", found="20 A"),
        # the lead in front of an in-line fuse is not behind it
        Case(
            _LIMITED.format(limit='amps = "20 A"', lead="22 AWG, 100 mm").replace('from = "b"', 'from = "f"')
            + '[[inline]]\nid = "f"\nwhat = "fuse"\nfuse = "5 A blade"\nfrom = "b"\nlead = "24 AWG, 100 mm"\n',
            at="wires to f",
        ),
        Case(
            _LIMITED.format(limit='amps = "20 A"\nlead = "22 AWG, 1 m"', lead="16 AWG, 100 mm"), at="b", level="warning"
        ),
    ],
)  # fmt: skip

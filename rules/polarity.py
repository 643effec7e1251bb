"""Polarity notes: plugs that can be reversed or swapped, and what to check before power is applied."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, Review, cases, rule
from coldcheck.plan.model import InletPoint, Plan, joined
from coldcheck.plan.spans import listed
from coldcheck.workings.harness import Bundle
from coldcheck.workings.leads import Leads
from coldcheck.workings.power import Arrival, Loading, Net, source_volts


def _is_barrel(plug: str | None) -> bool:
    return bool(plug) and str(plug).startswith("barrel")


@rule(level="error", over="plan")
def unguarded(
    plan: Plan, arrivals: list[Arrival], leads: Leads, bundles: dict[str, Bundle]
) -> Iterator[Finding]:
    """Before power, a person checks every plug that can be connected the wrong way round.

    It concerns the inlets that would not survive it. On a bare row of pins a plug shifted by one puts 5 V on ground or
    on a signal pin, and power fed there bypasses the fuse and the reverse protection of the board. No arithmetic sees
    how a plug is held: measure between the two contacts of the plug, red lead on plus, before it goes in, and one
    board first. There is one finding for each kind of plug and source volts, whatever hangs on it. In-line things are
    left out: a fuse or a switch works either way round.

    Source: design guide of the 40-pin header (power at pins 2 and 4 joins behind fuse and diode); common practice.
    """
    groups: dict[tuple[str, float, float | None], list[InletPoint]] = {}
    for arrival in arrivals:
        inlet, volts = arrival.inlet, arrival.fed
        plug = leads.plug(inlet.spec.plug)
        if plug is None or plug.keyed is not False or volts is None or inlet.thing.table == "inline":
            continue
        if inlet.name in bundles and bundles[inlet.name].carries:
            continue  # `slips.seats` and `slips.terminals` compute what each slip there would do
        survives = inlet.spec.survives
        if survives is not None and survives[0] <= -volts[2]:
            continue
        key = (plug.id, volts[0], survives[0] if survives else None)
        groups.setdefault(key, []).append(inlet)
    for (name, nominal, least), found in groups.items():
        worst = f"no less than {Measure(least, 'V')} is survived" if least is not None else _UNSURVIVED
        yield Review(
            found[0],
            f"the {name} of {listed([i.name for i in found])} can be connected the wrong way round, and {worst}",
            because=f"{Measure(nominal, 'V')} is on it",
            remedy=f"before it goes in, measure {Measure(nominal, 'V')} between the contacts of each plug, the right "
            "way round; then connect one thing alone",
            place=("into", "plug", "part"),
            subjects=tuple(i.name for i in found),
            related=[(t, "and here") for t in _first_of_each_table(found)[1:4]],
        )


_UNSURVIVED = "nothing says that this is survived"


def _first_of_each_table(inlets: list[InletPoint]) -> list[InletPoint]:
    return list({inlet.thing.path: inlet for inlet in reversed(inlets)}.values())[::-1]


_HEADER = """
[[part]]
id = "row"
kind = "plug"
keyed = {keyed}
[[feed]]
id = "five"
volts = "5 V"
[[node]]
id = "n1"
from = "five"
plug = "row"
survives = "{survives}"
"""
_BEHIND = """
[[part]]
id = "row"
kind = "plug"
keyed = false
[[feed]]
id = "five"
volts = "5 V"
[[inline]]
id = "f"
what = "fuse"
from = "five"
{its}
[[node]]
id = "n1"
from = "f"
plug = "{plug}"
"""

cases(
    unguarded,
    clean=[
        _HEADER.format(keyed="true", survives="-0.3 V .. 5.5 V"),
        _HEADER.format(keyed="false", survives="-6 V .. 6 V"),
        _BEHIND.format(its='plug = "row"', plug="other"),
    ],
    flagged=[
        Case(_HEADER.format(keyed="false", survives="-0.3 V .. 5.5 V"), at="n1", kind="review"),
        # the volts come through an in-line thing
        Case(_BEHIND.format(its="", plug="row"), at="n1", kind="review"),
    ],
)


@rule(level="error", over="inlets")
def centre(inlet: InletPoint) -> Iterator[Finding]:
    """A barrel plug has the same polarity as the socket it goes into.

    Centre positive is usual, centre negative exists, and no standard settles it: read the sign on both labels.

    Source: maker pages on coaxial DC plugs; common practice.
    """
    source = inlet.source
    barrels = [_is_barrel(inlet.spec.plug), source is not None and _is_barrel(source.spec.plug)]
    if source is None or not any(barrels):
        return
    ours, theirs = inlet.spec.centre, source.spec.centre
    if not barrels[1]:
        theirs = theirs or ours  # a lead of one's own is crimped to suit the socket
    if not barrels[0]:
        ours = ours or theirs
    if ours and theirs and ours != theirs:
        yield Finding(
            "error",
            inlet,
            f"{inlet} wants its centre {ours}, but the plug of {source} has its centre {theirs}",
            found=f"centre {theirs}",
            allowed=f"centre {ours}",
            because="the pair is reversed at the inlet",
            remedy="use a plug of the other polarity, or cross the two wires of the lead and mark it",
            place=("centre", "from"),
            related=[(source, f"{source} is here")],
        )
    elif not (ours and theirs):
        side = inlet if not ours else source
        yield Open(
            "error",
            side,
            f"{side}: which way its barrel plug is poled is not given, so {inlet} may be reversed",
            missing=[f"{side} centre"],
            remedy='read the sign on the label and add centre = "positive" or "negative"',
            place=("plug", "part"),
            subjects=(str(side),),
        )


_BARREL = """
[[feed]]
id = "brick"
volts = "12 V"
plug = "barrel-5.5-2.1"
{theirs}
[[switch]]
id = "sw"
from = "brick"
plug = "barrel-5.5-2.1"
{ours}
"""
_PLUS, _MINUS = 'centre = "positive"', 'centre = "negative"'

cases(
    centre,
    clean=[_BARREL.format(ours=_PLUS, theirs=_PLUS)],
    flagged=[
        Case(
            _BARREL.format(ours=_PLUS, theirs=_MINUS),
            "sw",
            level="error",
            mended=_BARREL.format(ours=_PLUS, theirs=_PLUS),
        ),
        Case(_BARREL.format(ours="", theirs=_PLUS), at="sw", kind="open"),
        Case(_BARREL.format(ours=_PLUS, theirs=""), at="brick", kind="open"),
    ],
)


@rule(level="error", over="inlets")
def plug_mates(inlet: InletPoint) -> Iterator[Finding]:
    """A plug that goes straight into a thing fits its socket.

    A 2.5 mm plug on a 2.1 mm pin makes contact now and then; a 2.1 mm plug does not go on a 2.5 mm pin. Where a lead is
    given, it is crimped to suit both ends.

    Source: note on concentric barrel plugs.
    """
    source = inlet.source
    if source is None or inlet.lead is not None or inlet.thing.table == "drive":
        return
    ours, theirs = inlet.spec.plug, source.spec.plug
    captive = getattr(source.spec, "lead", None) is not None
    if ours and theirs and ours != theirs and captive:
        yield Finding(
            "error",
            inlet,
            f"the {theirs} plug of {source} does not fit the {ours} of {inlet}",
            found=theirs,
            allowed=ours,
            remedy="use an adapter ([[inline]]), another plug, or a lead of your own",
            place=("plug", "from"),
            related=[(source, f"{source} is here")],
        )


_MATES = """
[[feed]]
id = "brick"
volts = "12 V"
plug = "barrel-5.5-2.5"
lead = "18 AWG, 1.5 m"
[[switch]]
id = "sw"
from = "brick"
plug = "barrel-5.5-{}"
"""

cases(plug_mates, clean=[_MATES.format("2.5")], flagged=[Case(_MATES.format("2.1"), at="sw")])


@rule(level="warning", over="plan")
def mixed_plugs(plan: Plan, arrivals: list[Arrival], leads: Leads) -> Iterator[Finding]:
    """Plugs that may go into each other carry the same volts everywhere in the box.

    Plug fit proves nothing about volts: the one slip that a tired hand makes is the right plug in the wrong socket.

    Source: common practice.
    """
    families: dict[str, dict[float, list[InletPoint]]] = {}
    for arrival in arrivals:
        plug, volts = leads.plug(arrival.spec.plug), arrival.fed
        if plug is None or plug.family is None or volts is None:
            continue
        families.setdefault(plug.family, {}).setdefault(round(volts[0], 1), []).append(arrival.inlet)
    for family, by_volts in families.items():
        lowest = min(by_volts)
        apart = {v: found for v, found in by_volts.items() if v > lowest * 1.1}
        if not apart:
            continue
        parts = [
            f"{Measure(v, 'V')} at {listed([i.name for i in found])}" for v, found in sorted(by_volts.items())
        ]
        first = apart[max(apart)][0]
        yield Finding(
            "warning",
            first,
            f"plugs of the family {family} carry {' and '.join(parts)}: they may go into each other",
            because="plugs of one family look alike, and the wrong one may go in without force",
            remedy="use another plug for one of them, or mark both ends with the volts in large figures",
            place=("plug", "part"),
            related=[(by_volts[lowest][0], "the other volts")],
            subjects=tuple(i.name for found in apart.values() for i in found),
        )


_MIXED = """
[[part]]
id = "barrel-x"
kind = "plug"
family = "barrel 5.5 mm"
[[feed]]
id = "a"
volts = "5 V"
[[feed]]
id = "b"
volts = "{}"
[[switch]]
id = "s1"
from = "a"
plug = "barrel-x"
[[switch]]
id = "s2"
from = "b"
plug = "barrel-x"
"""

_SWITCHED = _MIXED.replace('from = "b"', 'from = "f"') + '[[inline]]\nid = "f"\nwhat = "switch"\nfrom = "b"\n'

cases(
    mixed_plugs,
    clean=[_MIXED.format("5.1 V")],
    flagged=[Case(_MIXED.format("12 V"), at="s2"), Case(_SWITCHED.format("12 V"), at="s2")],
)


@rule(level="error", over="plan")
def two_sources(plan: Plan, loading: Loading) -> Iterator[Finding]:
    """Two sources never meet on one board without something that keeps them apart.

    Some boards join header and plug with nothing in between: the higher source feeds the lower one backwards. An inlet
    that does not say what it blocks counts as open. Inlets of different volts do not meet, nor do those that a splitter
    hands on by outlets of their own. A thing whose inlets work one at a time (``use = "one"``) is fed by one, whatever
    the source; how sources share the load where they are meant to meet, `supplies.side_by_side` judges.

    Source: design guide of the 40-pin header; desktop board manual, section 2.6.1 (never both inputs).
    """
    for thing in plan.order:
        if len(thing.inlets) < 2 or getattr(thing, "use", None) == "or-ed":
            continue
        if joined(thing):
            continue  # sources are meant to meet there: supplies.side_by_side judges how they share
        fed: list[InletPoint] = [i for i in thing.inlets if i.source is not None]
        if len(fed) > 1 and getattr(thing, "use", None) == "one":
            yield _both_fed(thing, fed)
            continue
        for i, first in enumerate(fed):
            for second in fed[i + 1 :]:
                if _meet(thing, first, second, loading):
                    yield Finding(
                        "error",
                        second,
                        f"{first} and {second} are fed by {first.source} and {second.source}, "
                        "and nothing keeps them apart",
                        because='an inlet that does not say backfeed = "blocked" lets power out',
                        remedy='feed it once, put a diode in each lead, or state what blocks: backfeed, use = "or-ed"',
                        place=("from",),
                    )


def _both_fed(thing: Any, fed: list[InletPoint]) -> Finding:
    return Finding(
        "error",
        fed[1],
        f"{thing.id} takes power by one inlet at a time, but {listed([i.name for i in fed])} are fed",
        because="what the free inlet carries then comes out of it, past fuse and diode of the board",
        remedy=f'feed one of them: into = "{fed[0].id}"',
        place=("into", "from"),
    )


def _meet(thing: Any, first: InletPoint, second: InletPoint, loading: Loading) -> bool:
    if first.source is second.source or first.spec.backfeed == second.spec.backfeed == "blocked":
        return False
    a, b = first.spec.volts, second.spec.volts
    if a is not None and b is not None and not (a[0] <= b[1] and b[0] <= a[1]):
        return False
    nets = [place[0] for inlet in (first, second) if (place := loading.branch(inlet)) is not None]
    if len(nets) == 2 and nets[0] is nets[1]:
        return False  # two outlets of one source
    return not (_handed_on(thing, first, second) or ((a is None or b is None) and _unlike(nets)))


def _handed_on(thing: Any, first: InletPoint, second: InletPoint) -> bool:
    """Say whether a splitter or supply hands each of two inlets on by outlets of its own."""
    handed = {id(outlet.via) for outlet in thing.outlets}
    return thing.table in ("supply", "inline") and id(first) in handed and id(second) in handed


def _unlike(nets: list[Net]) -> bool:
    """Say whether two sources differ so much in volts that nobody would join them."""
    volts = [found[0] for net in nets if (found := source_volts(net.root)) is not None]
    return len(volts) == 2 and abs(volts[0] - volts[1]) > 0.1 * max(map(abs, volts))


_MEET = """
[[feed]]
id = "a"
volts = "5 V"
[[feed]]
id = "b"
volts = "{b}"
[[node]]
id = "n1"
from = ["a", "b"]
{use}
[[node.inlet]]
id = "usb"
{ours}
[[node.inlet]]
id = "header"
{volts}
"""


def _two(
    use: str = "", volts: str = "4.75 V .. 5.25 V", b: str = "5 V", ours: str = "4.75 V .. 5.25 V"
) -> str:
    ours, volts = (f'volts = "{text}"' if text else "" for text in (ours, volts))
    return _MEET.format(use=use, volts=volts, b=b, ours=ours)


_SPLIT = """
[[feed]]
id = "a"
volts = "5 V"
[[feed]]
id = "b"
volts = "12 V"
[[inline]]
id = "y"
from = ["a", "b"]
part = "splitter-sata-1-to-2"
"""
_BAR = """
[[feed]]
id = "a"
volts = "5 V"
[[inline]]
id = "bar"
part = "run-bus-bar"
from = "a"
[[node]]
id = "n1"
from = ["bar.1", "bar.2"]
[[node.inlet]]
id = "one"
[[node.inlet]]
id = "two"
"""
_ONE = 'use = "one"\ninto = ["usb", "header"]'

cases(
    two_sources,
    clean=[
        _two('use = "or-ed"'),
        _two(volts="11.4 V .. 12.6 V"),
        _two(volts="", ours="", b="12 V"),
        _two(_ONE).replace('["a", "b"]', '"a"').replace('["usb", "header"]', '"usb"'),
        _two('use = "shared"').replace('["a", "b"]', '["a", "a"]'),
        _SPLIT,
        _SPLIT.replace('"12 V"', '"5 V"'),  # each inlet has outlets of its own, whatever is fed to it
        _BAR,
    ],
    flagged=[
        Case(_two(), at="n1.header"),
        Case(_two(volts="", ours="", b="5.2 V"), at="n1.header"),
        Case(_two(_ONE), at="n1"),
        Case(_two(_ONE).replace('["a", "b"]', '["a", "a"]'), at="one inlet at a time"),
    ],
)

"""Fuses: each of known rating and kind, not loaded beyond 80 % of it, and close to every battery."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.dc.steps import add
from coldcheck.plan.model import InletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.power import Arrival, Loading, settled

#: NEC 210.20(A): a fuse is at least 1.25 times the continuous load, so a load at most 80 % of the fuse.
CONTINUOUS = 0.8
#: How far from the terminal of a battery its fuse may be [m]: 7 in. ABYC E-11, from memory.
CLOSE = 0.178


@rule(level="error", over="plan")
def current(plan: Plan, loading: Loading, arrivals: list[Arrival]) -> Iterator[Finding]:
    """What flows through a fuse for longer than a short surge stays within its rating, and within 80 % of it.

    A fuse at its rating runs hot and opens on a warm day. "5 A" alone says little: an IEC fuse may carry 7.5 A for an
    hour, a UL fuse must open within an hour at 6.75 A. A PTC holds only its hold current, less when warm.

    Formula: fuse >= 1.25 × continuous current.

    Source: NEC 210.20(A).
    """
    for what, fuse, amps, holder in _fused(plan, loading, arrivals):
        if amps <= fuse.amps * CONTINUOUS * (1 + 1e-9):
            continue
        beyond = amps > fuse.amps * (1 + 1e-9)
        yield Finding(
            "error" if beyond else "warning",
            holder,
            f"the {Measure(fuse.amps, 'A')} fuse of {what} carries {Measure(amps, 'A')} without end"
            + ("" if beyond else "; 80 % of its rating is what it is chosen for"),
            found=Measure(amps, "A"),
            allowed=Measure(fuse.amps if beyond else fuse.amps * CONTINUOUS, "A"),
            remedy=f"fit a fuse of at least {Measure(amps / CONTINUOUS, 'A')}, if the wire behind it carries that",
            place=("fuse", "part"),
        )


def _fused(plan: Plan, loading: Loading, arrivals: list[Arrival]) -> Iterator[tuple[str, Any, float, Any]]:
    for arrival in arrivals:
        if arrival.thing.table == "inline" and arrival.thing.fuse and arrival.settled is not None:
            yield arrival.thing.id, arrival.thing.fuse, arrival.settled, arrival.thing
    for thing in plan.order:
        whole = getattr(thing, "fuse", None) if thing.table == "feed" and len(thing.outlets) > 1 else None
        if whole is not None:
            # The fuse of a feed with several outlets carries them all.
            yield thing.id, whole, settled(add([loading.amps(o) for o in thing.outlets])), thing
        for outlet in thing.outlets:
            fuse = getattr(outlet.spec, "fuse", None)
            if fuse is not None and outlet.takers:
                yield outlet.name, fuse, settled(loading.amps(outlet)), outlet


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
_SURGE = _RUN.replace("load =", 'surge = "{surge}"\nload =')
_FUSED = _RUN.replace('volts = "12 V"', 'volts = "12 V"\nfuse = "{fuse}"').replace("{lead}", "14 AWG, 100 mm")
_FUSED_SURGE = _SURGE.replace('volts = "12 V"', 'volts = "12 V"\nfuse = "{fuse}"').replace(
    "{lead}", "14 AWG, 100 mm"
)
_OUTLETS = """
[[feed]]
id = "b"
volts = "12 V"
fuse = "10 A blade"
[[feed.outlet]]
id = "1 .. 2"
[[node]]
id = "n1 .. n2"
from = "b.1 .. b.2"
peak = "{}"
load = "current"
"""

cases(
    current,
    clean=[
        _OUTLETS.format("4 A"),
        _FUSED.format(fuse="10 A blade", amps="8 A"),
        _FUSED_SURGE.format(fuse="10 A blade", amps="8 A", surge="12 A for 10 s"),
    ],
    flagged=[
        # what is longer than a short surge counts, and not what is left at the end
        Case(_FUSED_SURGE.format(fuse="10 A blade", amps="1 A", surge="11 A for 90 s"), "b", found="11 A"),
        Case(_OUTLETS.format("4.1 A"), at="b", found="8.2 A", level="warning"),
        Case(_FUSED.format(fuse="10 A blade", amps="8.5 A"), at="b", level="warning"),
        Case(_FUSED.format(fuse="10 A blade", amps="11 A"), at="b", level="error", found="11 A"),
    ],
)


@rule(level="note", over="plan")
def kind(plan: Plan) -> Iterator[Finding]:
    """A fuse says of which kind it is.

    Its rating alone says neither how long it stands a start, nor what it carries for an hour, nor which short circuit
    it can break: a glass fuse breaks 35 A or ten times its rating, a blade fuse a thousand amps.

    Source: IEC 60127-2 (glass cartridges) and ISO 8820-3 (blades), breaking capacity, from memory.
    """
    things = [thing for thing in plan.order if thing.outlets]
    for thing in things:
        fuse = getattr(thing, "fuse", None)
        fuses = [(thing, fuse)] if fuse is not None else []
        fuses += [
            (outlet, outlet.spec.fuse)
            for outlet in thing.outlets
            if outlet.spec is not thing and getattr(outlet.spec, "fuse", None) is not None
        ]
        for holder, fuse in fuses:
            if fuse.kind is None:
                name = getattr(holder, "name", None) or thing.id
                yield Open(
                    "note",
                    holder,
                    f"of which kind the {Measure(fuse.amps, 'A')} fuse of {name} is, is not given",
                    missing=[f"{name} kind of fuse"],
                    remedy=f'write fuse = "{Measure(fuse.amps, "A")} blade", or glass, fast, slow or ptc',
                    place=("fuse", "part"),
                    subjects=(name,),
                )


cases(
    kind,
    clean=[_FUSED.format(fuse="10 A blade", amps="1 A")],
    flagged=[Case(_FUSED.format(fuse="10 A", amps="1 A"), at="b", kind="open")],
)


@rule(level="error", over="inline")
def unknown(inline: Any) -> Iterator[Finding]:
    """An in-line fuse states its rating.

    A holder is sold without one, and whatever lies in the drawer is fitted: too small it opens in the start, too large
    it lets the wire burn.
    """
    # The outlets of a block may each have their own.
    each = bool(inline.outlet) and all(outlet.fuse is not None for outlet in inline.outlet)
    if inline.what == "fuse" and inline.fuse is None and not each:
        yield Open(
            "error",
            inline,
            f"{inline.id} is a fuse, but its rating is not given: neither its load nor the wire behind it is judged",
            missing=[f"{inline.id} fuse"],
            remedy='add fuse = "10 A blade", as it is fitted',
            place=("what", "part"),
        )


_WHAT = '[[feed]]\nid = "b"\nvolts = "12 V"\n[[inline]]\nid = "x"\nfrom = "b"\n{}\n'

cases(
    unknown,
    clean=[
        _WHAT.format('what = "fuse"\nfuse = "10 A blade"'),
        _WHAT.format('what = "switch"'),
        _WHAT.format('what = "fuse"\n[[inline.outlet]]\nid = "1 .. 2"\nfuse = "5 A blade"'),
    ],
    flagged=[
        Case(_WHAT.format('what = "fuse"'), at="x", kind="open"),
        Case(_WHAT.format('part = "fuse-holder-blade"'), at="x", kind="open"),
    ],
)


@rule(level="warning", over="feed")
def battery(feed: Any) -> Iterator[Finding]:
    """A battery has a fuse close to its terminal, in each wire that leaves it.

    A bank gives thousands of amps into a short: a wire that is pinched anywhere before the first fuse glows, and
    nothing stops it until the wire has burnt through. The fuse must be made for DC of these volts and break the current
    of the bank. Caution: fit it last, work with insulated tools and no rings on the fingers, and leave a bank that you
    are not sure of to someone who is. An in-line fuse counts where its lead is no longer than 178 mm.

    Source: ABYC E-11, 7 in from the terminal (from memory); common practice.
    """
    if not feed.battery or feed.fuse is not None:
        return
    for outlet in feed.outlets:
        bare = [inlet for inlet in outlet.takers if not _is_fuse(inlet.thing)]
        far = [inlet for inlet in outlet.takers if inlet not in bare and _length(inlet) > CLOSE]
        if outlet.spec.fuse is not None or not (bare or far):
            continue
        wrong = bare or far
        names = listed([inlet.name for inlet in wrong])
        if bare:
            says = f"battery {outlet} feeds {names} without a fuse"
        else:
            says = f"battery {outlet} has its fuse {names} {Measure(_length(far[0]), 'm')} of wire away"
        yield Finding(
            "warning",
            outlet,
            says,
            found="no fuse" if bare else Measure(_length(far[0]), "m"),
            allowed="a fuse" if bare else Measure(CLOSE, "m"),
            because="nothing else ends a short circuit in the wire that leaves it",
            remedy='put a fuse for the thinnest wire behind it within 150 mm of the terminal: fuse = "15 A blade"',
            place=("fuse", "battery", "part"),
            related=[(inlet, "fed here") for inlet in wrong[:1]],
        )


def _is_fuse(thing: Any) -> bool:
    if thing.table != "inline":
        return False
    used = [outlet for outlet in thing.outlets if outlet.takers]
    block = bool(used) and all(outlet.spec.fuse is not None for outlet in used)
    return thing.fuse is not None or thing.what == "fuse" or block


def _length(inlet: InletPoint) -> float:
    return inlet.lead.length or 0.0 if inlet.lead is not None else 0.0


_BANK = """
[[feed]]
id = "bank"
volts = "24 V"
battery = {battery}
{fuse}
[[inline]]
id = "f"
what = "{what}"
from = "bank"
lead = "12 AWG, {far}"
[[node]]
id = "n1"
from = "{source}"
"""

cases(
    battery,
    clean=[
        _BANK.format(battery="true", fuse='fuse = "15 A blade"', what="switch", far="1 m", source="bank"),
        _BANK.format(battery="false", fuse="", what="switch", far="1 m", source="bank"),
        _BANK.format(battery="true", fuse="", what="fuse", far="178 mm", source="f"),
        '[[feed]]\nid = "spare"\npart = "battery-bus-24v"',
    ],
    flagged=[
        Case(_BANK.format(battery="true", fuse="", what="switch", far="10 mm", source="f"), at="bank"),
        Case(_BANK.format(battery="true", fuse="", what="fuse", far="10 mm", source="bank"), at="n1"),
        Case(_BANK.format(battery="true", fuse="", what="fuse", far="180 mm", source="f"), at="bank"),
        Case('[[feed]]\nid = "b"\npart = "battery-bus-12v-lead"\n[[node]]\nid = "n"\nfrom = "b"', at="b"),
    ],
)

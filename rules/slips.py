"""Slips of the hand: what a plug or a wire would do in a place where nothing stops it from going."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Measure, Review, cases, rule
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.hand_slips import OUTCOMES, Exchange, HandSlips, SeatedPlug

_WORDS = {
    "destroys": "{} destroy a part",
    "short": "{} are a short circuit",
    "sources": "{} join sources",
    "dead": "{} leave it dead",
    "harmless": "{} are harmless",
}


@rule(level="error", over="plan")
def seats(plan: Plan, hand_slips: HandSlips) -> Iterator[Finding]:
    """Before power, a person checks every plug that nothing keys: each place where it also fits has been tried.

    A housing on a bare row of pins goes on one pin off, on the other row, the wrong way round, and over the end of
    the row. Each of these seats is computed: what every wire would touch, and what that does. No arithmetic sees how
    a plug is held, so this stays to be looked at; there is one finding for each kind of socket and of wiring on it.

    Source: geometry of the socket as its plug on the shelf states it; 40-pin header tables (pin 6, ground, stands
    beside 4, 5 V, and 8, a signal).
    """
    places: dict[str, list[SeatedPlug]] = {}
    for one in hand_slips.seated:
        places.setdefault(one.place, []).append(one)
    groups: dict[tuple[object, ...], list[list[SeatedPlug]]] = {}
    for several in places.values():
        key = tuple((one.plug, one.pins, tuple(sorted(one.counts.items())), one.volts) for one in several)
        groups.setdefault(key, []).append(several)
    for found in groups.values():
        if any(one.counts.get(kind) for one in found[0] for kind in OUTCOMES[:2]):
            yield _seats_of(plan, found)


def _seats_of(plan: Plan, found: list[list[SeatedPlug]]) -> Finding:
    """Return what is to be looked at on sockets that are wired alike, each with one plug or several."""
    plugs = found[0]
    counts = {kind: sum(one.counts.get(kind, 0) for one in plugs) for kind in OUTCOMES}
    each = ", ".join(_WORDS[kind].format(counts[kind]) for kind in OUTCOMES if counts[kind])
    places = [several[0].place for several in found]
    pins = " and of pin ".join(listed(one.pins) for one in plugs)
    worst = min(plugs, key=lambda one: next((n for n, k in enumerate(OUTCOMES) if one.counts.get(k)), 9))
    how, why = worst.nearest
    volts = next((str(Measure(one.volts, "V")) for one in plugs if one.volts is not None), "the volts")
    assumed = "; wires side by side are taken for one plug" if any(one.assumed for one in plugs) else ""
    return Review(
        plan.things[worst.first.thing],
        f"nothing keys the plug of pin {pins} on {listed(places)}: of {sum(counts.values())} other seats, {each}",
        because=f"if it sits {how}: {why}{assumed}",
        remedy=f"before it goes on, measure {volts} between its ways, the right way round, and count the pins from the "
        "end of the row; a housing over both rows, one way blocked and the pin there cut off, fits one way only",
        place=("into", "part", "id"),
        subjects=tuple(places),
    )


@rule(level="error", over="plan")
def terminals(plan: Plan, hand_slips: HandSlips) -> Iterator[Finding]:
    """Before power, a person checks the wires of every terminal, where any two may change places.

    What the worst exchange would do is computed. There is one finding for each kind of terminal and outcome.

    Source: common practice.
    """
    groups: dict[tuple[str, str], list[Exchange]] = {}
    for one in hand_slips.clamped:
        groups.setdefault((one.plug, one.outcome), []).append(one)
    for (plug, outcome), found in groups.items():
        if outcome not in OUTCOMES[:2]:
            continue
        first = found[0]
        yield Review(
            plan.things[first.a.thing],
            f"two wires exchanged at the {plug} of {listed(dict.fromkeys(one.a.place for one in found))} "
            + ("destroy a part" if outcome == "destroys" else "are a short circuit"),
            because=f"{first.a.ref} and {first.b.ref}: {first.why}",
            remedy="before power, measure from each terminal to the far end of its wire, with both ends free",
            place=("plug", "part", "id"),
            subjects=tuple(one.a.place for one in found),
        )


@rule(level="warning", over="plan")
def wrong_socket(plan: Plan, hand_slips: HandSlips) -> Iterator[Finding]:
    """A plug that fits two sockets does no harm in the wrong one.

    Crimp plugs of one family have no standard order of pins, and a socket does not say what its pins carry. Where the
    volts differ, `polarity.mixed_plugs` tells it; this is the same volts in another order, or on other pins.

    Source: common practice (suppliers of ready-made leads differ).
    """
    for one in hand_slips.sockets:
        volts = [e.fed[0] if e.fed else None for e in (one.a, one.b)]
        if None not in volts and abs(volts[0] - volts[1]) > 0.1 * min(volts):  # type: ignore[operator,type-var]
            continue
        yield Finding(
            "warning",
            plan.things[one.b.thing],
            f"the plugs at {one.a.place} and {one.b.place} go into each other's socket, and there: {one.why}",
            found=one.plug,
            because="both are of one kind, and their pins carry the same in another order",
            remedy="use another kind of plug for one of them, or give both the same order, or mark both ends",
            place=("plug", "part", "id"),
            subjects=(one.a.place, one.b.place),
        )


_BOX = """
[[part]]
id = "row"
kind = "plug"
keyed = {keyed}
{rows}
pins = {{1 = "5v", 2 = "gnd", 3 = "signal", 4 = "signal"}}
[[part]]
id = "pair"
kind = "plug"
keyed = true
[[feed]]
id = "f"
volts = "5 V"
plug = "{source}"
[[node]]
id = "n1"
from = "f"
plug = "{plug}"
{survives}
[[node]]
id = "n2"
from = "f"
plug = "pair"
pins = {{1 = "{one}", 2 = "{two}"}}
[[node]]
id = "n3"
from = "f"
plug = "pair"
pins = {{1 = "5v", 2 = "gnd"}}
[[harness]]
id = "h"
"""
_WIRES = (("f.1", "n1.1"), ("f.2", "n1.2"))


def _box(
    *wires: tuple[str, str],
    keyed: str = "true",
    rows: str = "",
    source: str = "row",
    plug: str = "row",
    survives: str = "",
    order: tuple[str, str] = ("5v", "gnd"),
) -> str:
    box = _BOX.format(
        keyed=keyed, rows=rows, source=source, plug=plug, survives=survives, one=order[0], two=order[1]
    )
    return box + "".join(f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\n' for a, b in wires)


cases(
    seats,
    clean=[_box(*_WIRES)],
    flagged=[
        # 4 pins in a row, 2 ways: 5 shifts and 5 turned, less the right one; each counted by hand
        Case(_box(*_WIRES, keyed="false", source="screw-2"), at="of 9 other seats", kind="review"),
        Case(
            _box(*_WIRES, keyed="false", source="screw-2"), at="the plug of pin 1 and 2 on n1", kind="review"
        ),
    ],
)

cases(
    terminals,
    clean=[
        _box(*_WIRES),
        _box(*_WIRES, source="screw-2", survives='survives = "-6 V .. 6 V"'),
    ],
    flagged=[Case(_box(*_WIRES, source="screw-2"), at="screw-2 of f", kind="review")],
)

_PAIRS = (("f.1", "n3.1"), ("f.2", "n3.2"))

cases(
    wrong_socket,
    clean=[_box(*_PAIRS, ("f.1", "n2.1"), ("f.2", "n2.2"))],
    flagged=[
        Case(
            _box(*_PAIRS, ("f.1", "n2.2"), ("f.2", "n2.1"), order=("gnd", "5v")),
            at="n3 and n2",
            level="warning",
            mended=_box(*_PAIRS, ("f.1", "n2.1"), ("f.2", "n2.2")),
        ),
    ],
)

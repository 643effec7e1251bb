"""Fuses: each of known rating and kind; it carries its load, stands the start, and protects all that is behind it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.dc import fuse as gates
from coldcheck.dc import fuse_data
from coldcheck.dc.steps import spells_above
from coldcheck.plan.edit import Put
from coldcheck.plan.model import InletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.protection import FuseAt, fuse_text, resized, share_of_rating

#: How far from the terminal of a battery its fuse may be [m]: 7 in. ABYC E-11, from memory.
CLOSE = 0.178
#: What even a small bank gives into a short [A], and the most that a main fuse is asked to break [A]: common practice,
#: and ABYC E-11, main fuse of the largest banks, from memory.
BANK = (200.0, 5000.0)
#: No arc holds between copper below these volts [V]: least volts of a copper arc, from memory.
ARC = 13.0
_ROUNDING = 1 + 1e-9


@rule(level="error", over="fused")
def current(fuse: FuseAt, plan: Plan) -> Iterator[Finding]:
    """What flows through a fuse for longer than a short surge stays within what a fuse of its kind carries for good.

    A fuse at its rating runs hot and opens on a warm day. "5 A" alone says little: an IEC fuse is made to carry its
    rating, and 1.5 times that for an hour; a UL or blade fuse at 1.35 times opens within one. So IEC fuses are loaded
    up to their rating, all others, and those of unknown kind, up to 80 %; makers of blade fuses would rather see 75 %.
    A PTC is rated by what it holds, which falls when it is warm.

    Formula: fuse >= 1.25 × continuous current; PTC: hold × (1 - 0.30 × (ambient - 23 degC) / 37 K).

    Source: NEC 210.20(A); makers' rules for IEC (100 %) and UL fuses (75 %); PTC in warm air from memory.
    """
    amps, share = fuse.settled, share_of_rating(fuse.fuse.kind)
    if amps <= fuse.rated * share * _ROUNDING:
        return
    beyond = amps > fuse.rated * _ROUNDING
    warm = fuse.rated != fuse.fuse.amps
    says = f"{fuse.told} carries {Measure(amps, 'A')} without end"
    if warm:
        says += f"; it holds {Measure(fuse.rated, 'A')} at {Measure(plan.head.ambient, 'degC')}"
    elif not beyond:
        says += f"; {Measure(100 * share, '%')} of its rating is what it is chosen for"
    remedy, edits = _larger(fuse, amps / share)
    yield Finding(
        "error" if beyond else "warning",
        fuse.holder,
        says,
        found=Measure(amps, "A"),
        allowed=Measure(fuse.rated if beyond else fuse.rated * share, "A"),
        remedy=remedy,
        edits=edits,
        place=("fuse", "part"),
    )


def _larger(fuse: FuseAt, least: float) -> tuple[str, tuple[Put, ...]]:
    """Return the smallest size that carries what flows, stands the start and protects the wires, or what to do else."""
    sizes = fuse.sizes(fuse.fuse.kind)
    if sizes:
        text = fuse_text(sizes[0], fuse.fuse.kind)
        return f'fuse = "{text}" carries it, stands the start and protects the wires behind it', resized(
            fuse, sizes[0]
        )
    thin = min(fuse.wires, key=lambda piece: piece.amps, default=None)
    least_told = f"fit a fuse of at least {Measure(least, 'A')}"
    if thin is None or least <= thin.amps:
        return f"{least_told}, if the wire behind it carries that", ()
    thicker = f"{thin} carries {Measure(thin.amps, 'A')} only: use a thicker one there"
    return f"{least_told}; {thicker}, or spread the load over several fuses", ()


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
        _FUSED.format(fuse="5 A iec-slow", amps="5 A"),
        _FUSED.format(fuse="5 A glass", amps="5 A"),
        _FUSED.format(fuse="10 A", amps="8 A"),
        # at 60 degC 70 % of 2.5 A
        _FUSED.format(fuse="2.5 A ptc", amps="1.75 A") + '[plan]\nambient = "60 degC"\n',
    ],
    flagged=[
        # what is longer than a short surge counts, and not what is left at the end
        Case(_FUSED_SURGE.format(fuse="10 A blade", amps="1 A", surge="11 A for 90 s"), "b", found="11 A"),
        Case(_OUTLETS.format("4.1 A"), at="b", found="8.2 A", level="warning"),
        Case(
            _FUSED.format(fuse="10 A blade", amps="8.5 A"),
            at="b",
            level="warning",
            edits=True,
            mended=_FUSED.format(fuse="15 A blade", amps="8.5 A"),
        ),
        Case(_FUSED.format(fuse="10 A blade", amps="11 A"), at="b", level="error", found="11 A"),
        Case(_FUSED.format(fuse="10 A", amps="8.1 A"), at="b", level="warning"),
        Case(_FUSED.format(fuse="5 A fast", amps="4.1 A"), at="b", level="warning"),
        Case(_FUSED.format(fuse="5 A iec-fast", amps="5.1 A"), at="b", level="error"),
        Case(
            _FUSED.format(fuse="2.5 A ptc", amps="1.8 A") + '[plan]\nambient = "60 degC"\n',
            at="holds 1.75 A",
            level="error",
        ),
    ],
)


@rule(level="error", over="fused")
def start(fuse: FuseAt) -> Iterator[Finding]:
    """A fuse, cold before, stands what flows while everything starts.

    It surely stands a current for the shortest time that the gates of its kind publish, and has surely opened after the
    longest; shares of the heat of several spells add up. Between the two it depends on the very fuse, and that is a
    warning: a blade fuse surely stands only 1.1 times its rating for longer than a second, and a UL fuse hardly more,
    where an IEC fuse stands half as much again for an hour. What lasts longer than a minute is for `fuses.current`.

    Formula: sum of (amps / amps stood for that long)² <= 1.

    Source: ISO 8820-3 (blade) from memory; gates of IEC 60127-2 and UL 248-14 as quoted by makers; adding up shares is
    common practice.
    """
    yield from _stands(fuse, "in the start")


@rule(level="error", over="fused_waking")
def wake(fuse: FuseAt, fused: list[FuseAt]) -> Iterator[Finding]:
    """A fuse stands what flows while drives that may sleep wake at once, and everything else is busy.

    A start held back by a board does not help here: the first access wakes them all. A fuse that opens in the start
    already is told there.

    Formula: as of `fuses.start`.

    Source: as of `fuses.start`; 3.5 in server drive manuals (2.43 to 2.59 A on 12 V when
    waking, as much as at a start).
    """
    first = next((each for each in fused if each.name == fuse.name), None)
    if first is None or not list(_stands(first, "in the start")):
        yield from _stands(fuse, "when the drives wake")


def _stands(fuse: FuseAt, when: str) -> Iterator[Finding]:
    """Tell of a fuse that opens, or may open, while more flows than it is rated for."""
    kind, amps = fuse.fuse.kind, fuse.rated
    if kind is None or fuse.settled > amps * _ROUNDING:
        return
    share = gates.standing(kind, amps, fuse.steps)
    if share <= _ROUNDING:
        return
    begun, ended, most = max(spells_above(fuse.steps, amps * _ROUNDING), key=lambda spell: spell[2])
    stood = gates.stands(kind, amps, ended - begun)
    opens = fuse.opens_in_start()
    lasts = f"up to {Measure(most, 'A')} within {Measure(round(ended - begun, 3), 's')}"
    remedy, edits = _for_start(fuse)
    yield Finding(
        "error" if opens else "warning",
        fuse.holder,
        f"{fuse.told} {'opens' if opens else 'may open'} {when}: it carries {lasts}",
        found=Measure(most, "A"),
        allowed=Measure(stood, "A"),
        because=_gates_told(fuse, stood, ended - begun, share, opens),
        remedy=remedy,
        edits=edits,
        place=("fuse", "part"),
    )


def _gates_told(fuse: FuseAt, stood: float, seconds: float, share: float, opens: float | None) -> str:
    kind = fuse.fuse.kind or ""
    if kind == "ptc":
        told = f"it holds {Measure(fuse.rated, 'A')}; for how long it stands more is not published"
        return told if fuse.rated == fuse.fuse.amps else told.replace(";", " in this air;")
    told = f"of its kind it surely stands {Measure(stood, 'A')} for {Measure(round(seconds, 3), 's')}"
    if opens:
        within = gates.opens_within(kind, fuse.rated, opens)
        return f"{told}, and at {Measure(opens, 'A')} has surely opened within {Measure(within or 0.0, 's')}"
    heat = f"{Measure(share * 100, '%')} of the heat that it surely stands"
    sure = Measure(gates.surely_opens_at(kind) * fuse.rated, "A")
    return f"{told}, all spells together make {heat}; below {sure} it may stand for ever"


def _for_start(fuse: FuseAt) -> tuple[str, tuple[Put, ...]]:
    kind = fuse.fuse.kind or ""
    ways: list[str] = []
    edits: tuple[Put, ...] = ()
    if sizes := fuse.sizes(kind):
        least = min((piece.amps for piece in fuse.contacts), default=float("inf"))
        more = (
            "" if sizes[0] <= least * _ROUNDING else f", not the contacts, which carry {Measure(least, 'A')}"
        )
        ways.append(f'fuse = "{fuse_text(sizes[0], kind)}" stands it and protects the wires behind it{more}')
        edits = resized(fuse, sizes[0])
    if "slow" not in kind and (slow := fuse.sizes("iec-slow")):
        ways.append(f'a slow one does: fuse = "{fuse_text(slow[0], "iec-slow")}"')
    if not ways and fuse.wires:
        thin = min(fuse.wires, key=lambda piece: piece.amps)
        ways.append(
            f"none that stands it protects {thin} ({Measure(thin.amps, 'A')}): use a thicker wire and a larger fuse"
        )
    ways.append("let fewer things start at the same moment, by delays that something keeps")
    return "; or ".join(ways), edits


cases(
    start,
    clean=[
        # 1.1 times a blade fuse
        _FUSED_SURGE.format(fuse="10 A blade", amps="8 A", surge="11 A for 60 s"),
        # 1.35 times for three quarters of a second
        _FUSED_SURGE.format(fuse="10 A blade", amps="5 A", surge="13.5 A for 750 ms"),
        # half as much again for an hour
        _FUSED_SURGE.format(fuse="10 A iec-slow", amps="5 A", surge="15 A for 50 s"),
        # what lasts is for `current`
        _FUSED.format(fuse="5 A blade", amps="6 A"),
        _FUSED_SURGE.format(fuse="10 A", amps="5 A", surge="30 A for 10 s"),
    ],
    flagged=[
        Case(
            _FUSED_SURGE.format(fuse="10 A blade", amps="8 A", surge="11.1 A for 10 s"),
            at="b",
            found="11.1 A",
            level="warning",
            edits=True,
            mended=_FUSED_SURGE.format(fuse="15 A blade", amps="8 A", surge="11.1 A for 10 s"),
        ),
        # twice a blade fuse: open within 5 s
        Case(
            _FUSED_SURGE.format(fuse="10 A blade", amps="8 A", surge="20 A for 10 s"), at="b", level="error"
        ),
        Case(
            _FUSED_SURGE.format(fuse="10 A blade", amps="8 A", surge="20 A for 4 s"), at="b", level="warning"
        ),
        # two spells, each of which it would stand alone: 1.35 times for half a second, twice
        Case(
            _FUSED_SURGE.format(
                fuse="10 A blade", amps="5 A", surge='["13.5 A for 500 ms", "5 A for 1 s", "13.5 A for 500 ms"]'
            ).replace('"[', "[").replace(']"', "]"),
            at="b",
            level="warning",
        ),
        # an IEC fuse opens within 30 minutes at 2.1 times, a time-lag one within 2: one minute is not enough
        Case(_FUSED_SURGE.format(fuse="5 A iec-slow", amps="4 A", surge="10.5 A for 59 s"), level="warning"),
        Case(_FUSED_SURGE.format(fuse="5 A iec-fast", amps="4 A", surge="20 A for 1 s"), level="error"),
        Case(_FUSED_SURGE.format(fuse="2 A ptc", amps="1 A", surge="2.1 A for 1 s"), at="b", level="warning"),
    ],
)  # fmt: skip


_SLEEPERS = """
[[feed]]
id = "b"
volts = "12 V"
spread = "0 %"
fuse = "{fuse}"
[[node]]
id = "host"
from = "b"
peak = "1 A"
load = "current"
lead = "0 ohm"
[[drive]]
id = "d1 .. d3"
from = "b"
start = "host"
kept_by = "host"
delay = "0 s .. 40 s by 20 s"
sleeps = {sleeps}
surge = "2 A for 10 s"
peak = "0.5 A"
waiting = "0 A"
lead = "0 ohm"
"""

cases(
    wake,
    clean=[
        _SLEEPERS.format(fuse="5 A iec-fast", sleeps="false"),
        # 1 + 3 × 2 A are within what a 7.5 A fuse carries for good
        _SLEEPERS.format(fuse="7.5 A blade", sleeps="true"),
    ],
    flagged=[
        # the board holds them back at the start: 1 + 2 + 2 × 0.5 A; the first access wakes all
        Case(
            _SLEEPERS.format(fuse="3.15 A iec-fast", sleeps="true"),
            at="b",
            found="7 A",
            mended=_SLEEPERS.format(fuse="5 A iec-fast", sleeps="true"),
        ),
    ],
)


@rule(level="error", over="fused")
def volts(fuse: FuseAt) -> Iterator[Finding]:
    """A fuse is made for direct current of the highest volts in front of it.

    An arc of direct current has no zero to go out at. Above the rated volts of the fuse it burns on in the open link,
    and the fuse with it: a blade fuse is made for 32 V, so a bank of 48 V needs another kind. Cartridges are marked for
    250 V of alternating current, which says little: where the plan does not state their volts of direct current and a
    copper arc can burn, above 13 V, it is open; likewise for PTC fuses above 6 V, since they stay in the circuit.

    Source: type 287 blade fuse, 32 V DC (quoted in a design note); small PTC fuses, 6 V to 15 V (a maker's sheet);
    13 V is the least of a copper arc (from memory).
    """
    kind, highest = fuse.fuse.kind, fuse.volts
    if highest is None or (kind is None and fuse.fuse.volts is None):
        return
    rated = fuse.fuse.volts or gates.volts_rated(kind or "", fuse.fuse.amps)
    if rated is not None:
        if highest > rated * _ROUNDING:
            yield Finding(
                "error",
                fuse.holder,
                f"{fuse.told} is made for {Measure(rated, 'V')} of direct current; up to "
                f"{Measure(highest, 'V')} is in front of it",
                found=Measure(highest, "V"),
                allowed=Measure(rated, "V"),
                because="above its volts the arc in a fuse does not go out",
                remedy=f'fit one made for {Measure(highest, "V")} DC, and state it: "{_stated(fuse)}, 58 V, 2 kA"',
                place=("fuse", "part"),
            )
    elif highest > (min(each.volts for each in fuse_data.PTCS) if kind == "ptc" else ARC):
        yield Open(
            "warning",
            fuse.holder,
            f"for how many volts of direct current {fuse.told} is made, is not given; up to "
            f"{Measure(highest, 'V')} is in front of it",
            missing=[f"{fuse.name} volts of the fuse"],
            found=Measure(highest, "V"),
            remedy=f'add them from its sheet: fuse = "{_stated(fuse)}, 60 V"; or a blade fuse, up to 32 V',
            place=("fuse", "part"),
        )


def _stated(fuse: FuseAt) -> str:
    return fuse_text(fuse.fuse.amps, fuse.fuse.kind)


_HIGH = '[[feed]]\nid = "b"\nvolts = "{}"\nfuse = "{}"\n[[node]]\nid = "n1"\nfrom = "b"\npeak = "1 A"\n'

cases(
    volts,
    clean=[
        _HIGH.format("32 V", "5 A blade"),
        _HIGH.format("48 V", "5 A blade, 58 V"),
        _HIGH.format("13 V", "5 A glass"),
        _HIGH.format("24 V", "5 A glass, 60 V"),
        _HIGH.format("5 V", "2.5 A ptc"),
        _HIGH.format("48 V", "5 A"),
    ],
    flagged=[
        Case(_HIGH.format("32.5 V", "5 A blade"), at="b", found="32.5 V", level="error"),
        Case(_HIGH.format('30 V"\nhigh = "33 V', "5 A blade"), at="b", found="33 V", level="error"),
        Case(_HIGH.format("60 V", "5 A blade, 58 V"), at="b", level="error"),
        Case(_HIGH.format("60 V", "5 A, 58 V"), at="b", level="error"),
        Case(_HIGH.format("24 V", "5 A glass"), at="b", kind="open"),
        Case(_HIGH.format("12 V", "2.5 A ptc"), at="b", kind="open"),
        Case(_HIGH.format("12 V", "0.2 A ptc"), at="b", found="12 V", level="error"),  # made for 9 V
    ],
)


@rule(level="error", over="fused")
def breaking(fuse: FuseAt, fused: list[FuseAt]) -> Iterator[Finding]:
    """A fuse can break what its sources give into a short right behind it.

    Above its breaking capacity it may burst, or go on as an arc. A glass cartridge breaks 35 A, or ten times its
    rating; a blade fuse 1000 A at 32 V; a battery gives hundreds to thousands of amps. What a bank gives follows from
    its ohms and those of the way to the fuse; without them even a small bank is taken for 200 A, and a fuse that breaks
    5000 A is always enough. What lies between is open. Supplies give their peak, as they state it, and no more. Behind
    another fuse that can break it, it is a warning: the one in front may or may not be quicker.

    Formula: highest volts / (ohms of the source + ohms of the way), at most what a supply states.

    Source: IEC 60127-2, low breaking (a maker's sheet), UL 248-14 from memory; type 287 blade fuse (quoted in a design
    note); ABYC E-11, breaking capacity of the main fuse of large banks (from memory).
    """
    capacity = _capacity(fuse)
    most, sure = fuse.prospective()
    if fuse.volts is None:
        return  # `volts.unset` asks for them
    if capacity is None:
        if fuse.battery and fuse.fuse.kind is not None:
            yield _breaks_unknown(fuse, "what it breaks is not known", f"{fuse.name} breaking capacity")
        return
    if (most is not None and most <= capacity * _ROUNDING) or (not fuse.battery and most is None):
        return
    least = most if sure and most is not None else min(BANK[0], most or BANK[0])
    if least > capacity * _ROUNDING:
        front = next((other for other in fused if other.name == fuse.backed), None)
        backed = front is not None and (_capacity(front) or 0.0) >= least
        yield _bursts(fuse, capacity, least, sure, front.told if backed and front else "")
    elif capacity < BANK[1]:
        says = f"it breaks {Measure(capacity, 'A')}, and what gives into a short there is not known"
        bank = next((root.outlet.name for root in fuse.roots if not root.known), fuse.name)
        yield _breaks_unknown(fuse, says, f"{bank} ohms")


def _capacity(fuse: FuseAt) -> float | None:
    if fuse.fuse.breaking is not None or fuse.fuse.kind is None:
        return fuse.fuse.breaking
    return gates.breaking(fuse.fuse.kind, fuse.fuse.amps)


def _bursts(fuse: FuseAt, capacity: float, amps: float, sure: bool, front: str) -> Finding:
    gives = f"{Measure(round(amps), 'A')} flows into a short behind it"
    if not sure:
        gives = f"a bank gives {Measure(amps, 'A')} and more into a short"
    cartridge = fuse.fuse.breaking is None and fuse.fuse.kind not in ("blade", "ptc")
    whys = ["its figure is for alternating current, and for direct current less"] if cartridge else []
    whys += [f"{front} in front of it can break that, but may not be quicker"] if front else []
    return Finding(
        "warning" if front else "error",
        fuse.holder,
        f"{fuse.told} breaks {Measure(capacity, 'A')}; {gives}",
        found=Measure(round(amps), "A"),
        allowed=Measure(capacity, "A"),
        because="; ".join(whys),
        remedy=f'fit one that breaks it: a blade fuse breaks 1000 A at 32 V; or state its sheet: "{_stated(fuse)}, '
        f'60 V, 1.5 kA"'
        if capacity < fuse_data.BLADE_BREAKING
        else f'fit one that breaks it, and state that: "{_stated(fuse)}, 58 V, 10 kA"',
        place=("fuse", "part"),
    )


def _breaks_unknown(fuse: FuseAt, says: str, missing: str) -> Finding:
    return Open(
        "warning",
        fuse.holder,
        f"whether {fuse.told} can break a short is open: {says}",
        missing=[missing],
        remedy='state the ohms of the bank, from its sheet or a load test: ohms = "40 mohm"; and what the sheet of the '
        f'fuse states: "{_stated(fuse)}, 58 V, 2 kA"',
        place=("fuse", "part"),
    )


_SHORT = """
[[feed]]
id = "bank"
volts = "12 V"
battery = {battery}
{more}
[[inline]]
id = "f"
what = "fuse"
fuse = "{fuse}"
from = "bank"
lead = "{lead}"
"""
_BATTERY = _SHORT.replace("{battery}", "true").replace("{lead}", "16 AWG, 100 mm")

cases(
    breaking,
    clean=[
        # 12 V / 20 mohm is 600 A
        _BATTERY.format(fuse="5 A blade", more='ohms = "20 mohm"'),
        # a breaking capacity that serves every bank
        _SHORT.format(battery="true", fuse="5 A blade, 58 V, 5 kA", more="", lead="0 ohm"),
        # the way itself lets no more than 12 V / 0.5 ohm through
        _SHORT.format(battery="true", fuse="5 A glass", more="", lead="500 mohm"),
        # a supply gives its peak, not hundreds of amps
        _SHORT.format(battery="false", fuse="5 A glass", more='amps = "20 A"\npeak = "35 A for 1 s"', lead="0 ohm"),
        _SHORT.format(battery="false", fuse="5 A glass", more="", lead="0 ohm"),
        _BATTERY.format(fuse="5 A", more=""),
    ],
    flagged=[
        Case(_BATTERY.format(fuse="5 A glass", more=""), at="f", found="200 A", level="error"),
        Case(_BATTERY.format(fuse="5 A blade", more=""), at="f", kind="open"),
        Case(_SHORT.format(battery="true", fuse="5 A blade, 58 V, 4.9 kA", more="", lead="0 ohm"), kind="open"),
        Case(_BATTERY.format(fuse="5 A ptc", more=""), at="f", kind="open"),
        Case(_BATTERY.format(fuse="5 A blade", more='ohms = "5 mohm"'), at="f", level="error"),
        # with 12 V / 9 mohm more than the 1000 A of a blade fuse
        Case(_SHORT.format(battery="true", fuse="5 A blade", more='ohms = "9 mohm"', lead="0 ohm"), found="1333 A"),
        Case(
            _SHORT.format(battery="false", fuse="3 A glass", more='amps = "36 A"', lead="0 ohm"),
            at="f",
            found="36 A",
            level="error",
        ),
        Case(
            _BATTERY.format(fuse="5 A glass", more='ohms = "20 mohm"\nfuse = "20 A blade"'), at="f", level="warning"
        ),
    ],
)  # fmt: skip


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

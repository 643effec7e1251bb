"""Volts: what arrives at each inlet through its lead and contacts, out and back, lies inside its window."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Measure, Open, Put, cases, rule
from coldcheck.dc.converter import dropped_out
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.choices import better_lead, fitting_sources, lead_text, room_for, sole_lead, way_told
from coldcheck.workings.cures import Cures, starting
from coldcheck.workings.harness import Pair
from coldcheck.workings.leads import Leads
from coldcheck.workings.net import Net
from coldcheck.workings.power import Arrival, Loading, source_volts, stray_known

#: A loop resistance that no lead in a box reaches: ten metres of 20 AWG and old contacts [ohm].
PLENTY = 0.75
#: A source that keeps this far from the least volts needed may stray as fixed converters do.
FAR = 0.1


def _volts(value: float) -> Measure:
    return Measure(round(value, 3), "V")


def _window(window: tuple[float, float]) -> str:
    low, high = _volts(window[0]), _volts(window[1])
    return f"{low} .. {high}" if low != high else str(low)


def _fitting_source(inlet: Arrival) -> bool:
    """Say whether volts can be judged: windows known, and the right rail; `wrong_rail` speaks of the others."""
    window, volts = inlet.spec.volts, inlet.fed
    return window is not None and volts is not None and window[0] <= volts[0] <= window[1]


@rule(level="error", over="arrivals")
def wrong_rail(
    inlet: Arrival, sources: list[tuple[float, OutletPoint]], loading: Loading
) -> Iterator[Finding]:
    """A thing is fed with the volts it is made for.

    A plug that fits proves nothing: the same barrel carries 5, 9, 12 or 19 V, and 12 V on a 5 V input that survives
    5.5 V destroys it at once. What lies in between and only hands power on, a fuse or a bus bar, changes nothing.

    Source: absolute maximum ratings of a 3.5 in drive specification, section 6.3 (5 V input: -0.3 .. 5.5 V).
    """
    window, volts, survives = inlet.spec.volts, inlet.fed, inlet.spec.survives
    if volts is None or (window is not None and window[0] <= volts[0] <= window[1]):
        return
    deadly = survives is not None and volts[2] > survives[1]
    if window is None and not deadly:
        return
    meets = inlet.fed != source_volts(inlet.net.root)
    fits = fitting_sources(inlet, sources, loading) if window and not meets else []
    edits: tuple[Put, ...] = ()
    if len(fits) == 1 and len(inlet.thing.from_) == 1 and "from" in inlet.thing.stated:
        edits = (Put((*inlet.thing.path, "from"), fits[0].name),)
    made = f", made for {_window(window)}" if window else ""
    yield Finding(
        "error",
        inlet,
        f"{_volts(volts[0])} from {_givers(inlet) if meets else inlet.net} reaches {inlet}{made}"
        + (f"; no more than {_volts(survives[1])} is survived" if deadly and survives else ""),
        found=_volts(volts[0]),
        allowed=_window(window) if window else None,
        because="this would destroy it"
        if deadly
        else ""
        if survives
        else "nothing says that it survives that",
        remedy=_elsewhere(inlet, fits),
        edits=edits,
        place="from",
        related=[(inlet.net.root, f"{inlet.net} is here")],
    )


def _givers(inlet: Arrival) -> str:
    """Return the sources that may reach an inlet behind diodes, or where several meet."""
    return listed([net.name for net in reversed(inlet.net.together)])


def _consequence(inlet: Arrival, deadly: bool) -> str:
    window, volts = inlet.spec.volts, inlet.fed
    if deadly:
        return "this would destroy it"
    if window and volts and volts[0] < window[0]:
        return "it would not start, or not hold"
    return "" if inlet.spec.survives else "nothing says that it survives that"


def _elsewhere(inlet: Arrival, fits: list[OutletPoint]) -> str:
    window, volts = inlet.spec.volts, inlet.fed
    if fits:
        names = [o.name for o in fits]
        return "feed it from " + (", ".join(names[:-1]) + " or " + names[-1] if len(names) > 1 else names[0])
    if window and volts and volts[0] > 0 and 0.8 * window[0] <= volts[0] <= 1.2 * window[1]:
        most = window[1] * volts[0] / volts[2]
        if most >= window[0]:
            return f"set {inlet.net} to at most {_volts(most)}, if it can be set; or add a supply that fits"
    return "no rail of this plan fits: add a supply"


_TWO = """
[[feed]]
id = "box"
[[feed.outlet]]
id = "5v"
volts = "5 V"
[[feed.outlet]]
id = "12v"
volts = "12 V"
[[node]]
id = "n1"
from = "box.{rail}"
volts = "4.75 V .. 5.25 V"
survives = "-0.3 V .. 5.5 V"
"""

_BEHIND = """
[[feed]]
id = "bus"
volts = "12 V"
spread = "0 %"
[[inline]]
id = "run"
what = "run"
from = "bus"
lead = "0.1 ohm"
[[node]]
id = "n1"
from = "run"
volts = "11 V .. 13 V"
peak = "1 A"
load = "current"
lead = "0.1 ohm"
"""

_OR_ED = """
[[feed]]
id = "a"
volts = "5.2 V"
spread = "0 %"
[[feed]]
id = "b"
volts = "{other}"
spread = "0 %"
[[inline]]
id = "da"
what = "diode"
drop = "0.3 V"
from = "a"
lead = "10 mohm"
[[inline]]
id = "db"
what = "diode"
drop = "0.3 V"
from = "b"
lead = "10 mohm"
[[inline]]
id = "bar"
what = "run"
from = ["da", "db"]
lead = "10 mohm"
[[node]]
id = "n1"
from = "bar"
volts = "4.75 V .. 5.25 V"
survives = "-0.3 V .. 5.5 V"
peak = "0.1 A"
lead = "10 mohm"
"""

cases(
    wrong_rail,
    clean=[_TWO.format(rail="5v"), _BEHIND],
    flagged=[
        # behind the diodes of two sources it is the higher that arrives, whichever is named first
        Case(_OR_ED.format(other="12 V"), at="n1", found="11.7 V", mended=_OR_ED.format(other="5.3 V")),
        Case(_TWO.format(rail="12v"), at="n1", found="12 V", mended=_TWO.format(rail="5v"), edits=True),
        # a bus bar or a fuse in between changes nothing
        Case(_BEHIND.replace("11 V .. 13 V", "4.75 V .. 5.25 V"), at="n1", found="12 V"),
        Case(_TWO.format(rail="12v").replace('volts = "4.75 V .. 5.25 V"\n', ""), at="n1", found="12 V"),
    ],
)


@rule(level="error", over="arrivals")
def too_high(inlet: Arrival) -> Iterator[Finding]:
    """The highest volts of a source stay inside what the inlet takes.

    With nothing else drawing, nothing is lost in the wire: the inlet sees all that the source gives. A battery bus
    under charge is far above its nominal volts.
    """
    window, volts = inlet.spec.volts, inlet.fed
    if window is None or volts is None or volts[2] <= window[1] * (1 + 1e-9) or not _fitting_source(inlet):
        return
    above = [b.inlet.spec.volts for b in inlet.way[1:]]
    if any(other is not None and volts[2] > other[1] for other in above):
        return  # told of the inlet above, whose cure cures this one
    survives = inlet.spec.survives
    deadly = survives is not None and volts[2] > survives[1]
    yield Finding(
        "error",
        inlet,
        f"{_volts(volts[2])} can reach {inlet} from {inlet.net}; no more than {_volts(window[1])} is taken",
        found=_volts(volts[2]),
        allowed=_volts(window[1]),
        because=f"beyond {_volts(survives[1])} it does not survive" if deadly and survives else "",
        remedy=_lower(inlet, window, volts),
        place="from",
        related=[(inlet.net.root, f"{inlet.net} is here")],
    )


def _lower(inlet: Arrival, window: tuple[float, float], volts: tuple[float, float, float]) -> str:
    below = f"use a source that stays below {_volts(window[1])}, or a converter with a wider input"
    if getattr(inlet.net.spec, "low", None) is not None or volts[0] <= 0:
        return below
    most = window[1] * volts[0] / volts[2]
    # Rounded down, so that what is told passes.
    return f"set {inlet.net} to at most {_volts(most // 0.001 * 0.001)}, if it can be set; or {below}"


_BUS = """
[[feed]]
id = "bank"
volts = "24 V"
low = "21 V"
high = "28.8 V"
[[switch]]
id = "sw"
from = "bank"
volts = "18 V .. {}"
"""

cases(
    too_high,
    clean=[_BUS.format("30 V"), _BUS.format("28.8 V")],
    flagged=[
        Case(_BUS.format("28 V"), at="sw", found="28.8 V"),
        Case(
            _BUS.format("28 V").replace('from = "bank"', 'from = "f"')
            + '[[inline]]\nid = "f"\nwhat = "fuse"\nfrom = "bank"\nfuse = "5 A"\nlead = "0.01 ohm"',
            at="sw",
            found="28.8 V",
        ),
    ],
)


@rule(level="error", over="arrivals")
def too_low(inlet: Arrival, leads: Leads, cures: Cures) -> Iterator[Finding]:
    """The volts that arrive at an inlet, whenever it is up, stay inside its window.

    Volts are lost in the wire out and back, in every contact and fuse, and a run shared by several boards lowers all of
    them. The worst corner has the source at its lowest, copper at its greatest resistance and 30 K above the ambient,
    and contacts at the end of their life. What only dips while motors start, `volts.sags` judges.

    Formula: V = V_source - I × (2 × r × length + contacts + fuses), and for constant power I = P / V.

    Source: IEC 60028 (copper), ASTM B258 (gauges), FAA AC 43.13-1B table 11-9 and IEC 60228 (greatest resistance of
    real wire); fuses: sheets of their makers, that of blades from memory.
    """
    least, low, nominal = _least(inlet), inlet.steady, inlet.nominal
    if least is None or low is None or nominal is None or low >= least * (1 - 1e-9):
        return
    volts = source_volts(inlet.net.root)
    if not _fitting_source(inlet) or volts is None or _told_above(inlet):
        return
    says = f"{_volts(low)} arrives at {inlet} in the worst case; at least {_volts(least)} is needed"
    because = f"{way_told(inlet)}; nominally {_volts(nominal)} arrive"
    remedy, edits = _together(inlet, cures) if inlet.net.group else _thicker(inlet, leads, least)
    if _guessed(inlet, low, least):
        lacking = _plugs_unknown(inlet, leads)
        yield Open(
            "error",
            inlet,
            f"{says}, if its contacts age like common ones; what they are is not given",
            missing=lacking,
            found=_volts(low),
            allowed=_volts(least),
            because=because,
            remedy='add plug = "..." of a kind that states its ohms (`coldcheck parts plug`); or else: '
            + remedy,
            place=("plug", "lead"),
        )
        return
    yield Finding(
        "error",
        inlet,
        says,
        found=_volts(low),
        allowed=_volts(least),
        because=because,
        remedy=remedy,
        edits=edits,
        place="lead",
    )


def _least(inlet: Arrival) -> float | None:
    """Return the least volts that an inlet needs: of its window, or those below which it switches off."""
    window, stops = inlet.spec.volts, getattr(inlet.spec, "stops", None)
    return max(window[0], stops or window[0]) if window is not None else None


def _guessed(inlet: Arrival, low: float, least: float) -> bool:
    """Say whether only contacts of unknown kind, taken for common ones at the end of their life, make volts too low."""
    guessed = sum(inlet.net.worst.amps[i] * inlet.net.branches[i].ohms.assumed for i in inlet.numbers)
    return bool(guessed) and low + guessed >= least


def _told_above(inlet: Arrival) -> bool:
    """Say whether the volts are too low above already: that is told there, and its cure comes first."""
    net = inlet.net
    above = [(net.worst.volts[i], net.branches[i].inlet.spec.volts) for i in inlet.numbers[1:]]
    return any(window is not None and there < window[0] for there, window in above)


def _together(inlet: Arrival, cures: Cures) -> tuple[str, tuple[Put, ...]]:
    """Return what cures low volts where several nets hang together, each change proven by solving them anew."""
    least = _least(inlet)
    found = cures.of(inlet, least) if least is not None else []
    if not found:
        return (
            "no single change of wire or start is enough: shorten the ways, or feed it from a source of its own",
            (),
        )
    says = [
        f"{cure.says}: then {_volts(cure.volts)} arrives"
        + (", and enough at all that hangs together with it" if cure.whole else "")
        for cure in found
    ]
    return "; or ".join(says), next((cure.edits for cure in found if cure.edits), ())


def _plugs_unknown(inlet: Arrival, leads: Leads) -> list[str]:
    names = []
    for branch in inlet.way:
        source = branch.inlet.source
        ends = [(branch.inlet.name, branch.inlet.spec.plug)]
        if source is not None:
            bare = source.thing.table == "inline" and not source.id
            ends += [(f"{source.name} [[inline.outlet]]" if bare else source.name, source.spec.plug)]
        for name, plug in ends:
            part = leads.plug(plug)
            if branch.ohms.assumed and part is None:
                names.append(f"{name} plug")
            elif branch.ohms.assumed and part is not None and part.ohms is None:
                names.append(f"{plug} ohms")
    return list(dict.fromkeys(names))


def _lost_above(net: Net, above: InletPoint) -> str:
    """Return what to look at where too much is lost before a lead begins."""
    if above.thing is not net.thing:
        return f"too much is lost before it already: look at lead and contacts of {above}"
    if above.id == "source":
        return f"too much is lost inside {net} already, in its fuse or its own ohms: use another source"
    return f"the lead moulded to {net.thing.id} loses too much: use a source with more volts or its own lead"


def _thicker(inlet: Arrival, leads: Leads, least: float) -> tuple[str, tuple[Put, ...]]:
    """Return the smallest change of the lead that brings the volts up, in words and as an edit."""
    net, lead, thing = inlet.net, inlet.inlet.lead, inlet.thing
    volts = source_volts(net.root)
    if volts is not None and volts[1] < least:
        return (
            f"{net} falls to {_volts(volts[1])} by itself, so no lead cures this: use a converter or another source",
            (),
        )
    run = better_lead(inlet, leads, least)
    if run is not None:
        text = lead_text(run)
        single = sole_lead(thing) and not thing.built
        return f'lead = "{text}" is enough', (Put((*thing.path, "lead"), text),) if single else ()
    branch = net.branches[inlet.i]
    above = net.branches[branch.parent].inlet if branch.parent >= 0 else None
    if above is not None and room_for(inlet, least) <= 0:
        return _lost_above(net, above), ()
    what = "shorten the lead or use better contacts" if lead is not None else "use better contacts"
    window, lacking = inlet.spec.volts, least - (inlet.low or 0.0)
    settable = getattr(net.spec, "low", None) is None and net.thing.table in ("supply", "feed")
    if window and volts and settable and volts[2] + lacking <= window[1]:
        return f"{what}, or raise {net} by {Measure(round(lacking, 3), 'V')} if it can be set", ()
    return f"{what}, or use a source that strays less", ()


_LEAD = """
[[part]]
id = "pin"
kind = "plug"
ohms = "10 mohm"
aged = "20 mohm"
[[feed]]
id = "five"
volts = "{volts}"
spread = "0 %"
plug = "pin"
[[node]]
id = "n1"
from = "five"
plug = "pin"
volts = "4.75 V .. 5.25 V"
peak = "3 A"
load = "current"
lead = "{lead}"
"""

cases(
    too_low,
    clean=[
        # worked example E32 of the reference: 5.10 V, 0.5 m of 20 AWG, 4 aged contacts of 20 mohm: 4.760 V,
        # here with stranded wire 40 K warmer than in the example, so a little shorter
        _LEAD.format(volts="5.1 V", lead="20 AWG, 380 mm"),
        _LEAD.format(volts="5 V", lead="10 mohm").replace("3 A", "2 A"),
        _LEAD.format(volts="5 V", lead="0 ohm"),
    ],
    flagged=[
        # a 5 A blade, 17.85 mohm cold and 25.6 mohm at its rating, 22.2 mohm at three quarters of it, and 5 mohm of its
        # holder: 5.00 V less 3 A × (80 + 27.2 mohm)
        Case(
            _LEAD.format(volts="5 V", lead="0 ohm").replace('"0 %"', '"0 %"\nfuse = "5 A blade"'),
            at="n1",
            found="4.678 V",
        ),
        # 5.10 V - 0.24 V of contacts - 0.06 V: inside its window, but below where it switches off
        Case(
            _LEAD.format(volts="5.1 V", lead="20 mohm").replace(
                'peak = "3 A"', 'peak = "3 A"\nstops = "4.85 V"'
            ),
            at="4.85 V",
            found="4.8 V",
        ),
        Case(
            _LEAD.format(volts="5.1 V", lead="20 AWG, 500 mm"),
            at="n1",
            mended=_LEAD.format(volts="5.1 V", lead="18 AWG, 500 mm"),
        ),
        # 5.00 V less 3 A × (4 × 20 mohm + 20 mohm) is 4.70 V
        Case(_LEAD.format(volts="5 V", lead="20 mohm"), at="n1", found="4.7 V"),
        Case(_LEAD.format(volts="5 V", lead="20 mohm").replace('\nplug = "pin"', ""), at="n1", kind="open"),
    ],
)


@rule(level="error", over="arrivals")
def sags(inlet: Arrival, leads: Leads, cures: Cures) -> Iterator[Finding]:
    """While motors start and boards boot, the volts at every inlet stay inside its window, too.

    A board starts anew within milliseconds when its volts dip, so a start of ten seconds is long enough; what hangs on
    one wire back sags together, since all that flows in it lifts the ground of each, the 12 V of disks as well as the
    5 V of boards. Such a box runs for months and fails when the disks wake at once. Each remedy is proven by solving
    the changed plan.

    Formula: V = V_source - I × R_out - (sum of all I in the shared wire) × R_back.

    Source: Kirchhoff's laws; 3.5 in server drive manuals, table 4 (2.03 A mean at a start, 0.2 A idle on 12 V);
    supervisor thresholds of 5 V boards, 4.63 V (board documentation).
    """
    least, low, steady = _least(inlet), inlet.low, inlet.steady
    if (
        least is None
        or low is None
        or steady is None
        or low >= least * (1 - 1e-9)
        or steady < least * (1 - 1e-9)
    ):
        return
    volts = source_volts(inlet.net.root)
    if not _fitting_source(inlet) or volts is None or _told_above(inlet):
        return
    course = inlet.net.worst.dips(inlet.i)
    at = next(moment for moment, there in course if there == low)
    lasting = _below(course, least)
    who = starting(inlet, at)
    stops = getattr(inlet.spec, "stops", None)
    falls = f"; below {_volts(stops)} it switches off" if stops is not None and low < stops else ""
    remedy, edits = _together(inlet, cures)
    says = (
        f"the volts at {inlet} sag to {_volts(low)} for {Measure(round(lasting, 3), 's')} from "
        f"{Measure(round(at, 3), 's')} on, while {who}; at least {_volts(least)} is needed"
    )
    because = f"{way_told(inlet)}; once all is up, {_volts(steady)} arrives"
    if _guessed(inlet, low, least):
        yield Open(
            "error",
            inlet,
            f"{says}, if its contacts age like common ones; what they are is not given",
            missing=_plugs_unknown(inlet, leads),
            found=_volts(low),
            allowed=_volts(least),
            because=because,
            remedy='add plug = "..." of a kind that states its ohms (`coldcheck parts plug`); or else: '
            + remedy,
            place=("plug", "back", "lead"),
        )
        return
    yield Finding(
        "error",
        inlet,
        says + falls,
        found=_volts(low),
        allowed=_volts(least),
        because=because,
        remedy=remedy,
        edits=edits,
        place=("back", "lead"),
        related=[(inlet.net.branches[inlet.i].way_back, "the wire back that is shared")]
        if inlet.net.branches[inlet.i].way_back is not None
        else [],
    )


def _below(course: list[tuple[float, float]], least: float) -> float:
    """Return the longest time that volts stay below a limit [s]; the last stretch of a start is above it."""
    longest = start = 0.0
    below = False
    for at, volts in course:
        if volts < least and not below:
            start, below = at, True
        elif volts >= least and below:
            longest, below = max(longest, at - start), False
    return longest


_SHARED = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "box"
[[feed.outlet]]
id = "5v"
volts = "5 V"
spread = "0 %"
plug = "soldered"
[[feed.outlet]]
id = "12v"
volts = "12 V"
spread = "0 %"
plug = "soldered"
[[inline]]
id = "gnd"
what = "return"
from = "box.5v"
plug = "soldered"
lead = "{wire}"
[[node]]
id = "n1"
from = "box.5v"
plug = "soldered"
{back}
volts = "4.75 V .. 5.25 V"
peak = "1 A"
load = "current"
lead = "20 mohm"
[[drive]]
id = "d1 .. d3"
from = "box.12v"
plug = "soldered"
back = "gnd"
volts = "11.4 V .. 12.6 V"
surge = "2 A for 10 s"
peak = "0.5 A"
waiting = "0 A"
lead = "0 ohm"
{start}
"""
_BACK = 'back = "gnd"'
_APART = 'start = "host"\nkept_by = "n1"\ndelay = "0 s .. 20 s by 10 s"'

cases(
    sags,
    clean=[
        # one after the other: (1 + 2 + 2 × 0.5) A through 50 mohm and 1 A through 20 mohm leave 4.78 V
        _SHARED.format(wire="50 mohm", back=_BACK, start=_APART),
        # a way back of its own: 4.98 V whatever the disks do
        _SHARED.format(wire="50 mohm", back="", start=""),
        _SHARED.format(wire="30 mohm", back=_BACK, start=""),
    ],
    flagged=[
        # three starts of 2 A and its own 1 A through 50 mohm, its 1 A through 20 mohm: 5 - 0.35 - 0.02
        Case(
            _SHARED.format(wire="50 mohm", back=_BACK, start=""),
            at="n1",
            found="4.63 V",
            mended=_SHARED.format(wire="50 mohm", back=_BACK, start=_APART),
        ),
        # on one rail, by the run that all share; the contacts of its outlet are not stated: 40 mohm for the 1 A of n1
        Case(
            _SHARED.format(wire="1 ohm", back="", start="")
            .replace('from = "box.12v"', 'from = "run"')
            .replace('back = "gnd"\nvolts = "11.4 V .. 12.6 V"', 'volts = "4 V .. 6 V"')
            .replace('from = "box.5v"\nplug = "soldered"\n\nvolts', 'from = "run"\nplug = "soldered"\nvolts')
            + '[[inline]]\nid = "run"\nwhat = "run"\nfrom = "box.5v"\nplug = "soldered"\nlead = "50 mohm"\n',
            at="n1",
            found="4.59 V",
        ),
    ],
)


@rule(level="error", over="plan")
def stray_unknown(plan: Plan, loading: Loading) -> Iterator[Finding]:
    """Every source says how far its volts may stray.

    A drop that looks harmless from 5.00 V is too much from 4.90 V, and a fixed 5 V converter may give 4.80 V.

    Source: data sheet of a fixed 5 V step-down converter (4.80 .. 5.20 V at 25 degC, 4.75 .. 5.25 V over temperature).
    """
    for net in loading.nets.values():
        if stray_known(net.root) or not net.worst.volts or source_volts(net.root) is None:
            continue
        spare = [
            (net.worst.volts[i] - branch.inlet.spec.volts[0], branch.inlet)
            for i, branch in enumerate(net.branches)
            if branch.inlet.spec.volts and not branch.ohms.missing
        ]
        tight = min(spare, key=lambda pair: pair[0], default=None)
        if tight is not None and tight[0] >= 0:
            yield Open(
                "error" if tight[0] < FAR * abs(net.worst.volts[0]) else "note",
                net.root,
                f"{net} may stray from {_volts(net.spec.volts)} by an amount that the plan does not say; "
                f"{tight[1]} allows {_volts(tight[0])}",
                missing=[f"{net} spread"],
                remedy='add spread = "4 %" as its sheet states it, or low and high',
                place=("volts", "part"),
            )


cases(
    stray_unknown,
    clean=[_LEAD.format(volts="5.1 V", lead="20 mohm")],
    flagged=[
        Case(
            _LEAD.format(volts="5.1 V", lead="20 mohm").replace('spread = "0 %"\n', ""),
            at="five",
            kind="open",
        ),
    ],
)


@rule(level="error", over="arrivals")
def lead_unknown(inlet: Arrival, pairs: dict[str, Pair]) -> Iterator[Finding]:
    """Every lead is described well enough to say what is lost in it.

    Gauge or area and length are enough; so are plain ohms. What the lead may have at most is said, so that a builder
    who cannot measure it yet knows how much room there is.
    """
    branch = inlet.net.branches[inlet.i]
    lacks = branch.ohms.missing
    if not lacks or inlet.name in pairs:
        return
    window = inlet.spec.volts
    if window is None:
        if inlet.thing.table in ("inline", "feed"):
            yield Open(
                "error",
                inlet,
                f"{inlet}: {lacks} is not given, so the volts at all that hangs on it are not known",
                missing=[f"{inlet} {lacks}"],
                remedy="give the gauge and length of its lead, or plain ohms",
                place=("lead", "from"),
            )
        return
    if not _fitting_source(inlet) or inlet.amps is None:
        return
    allowed = room_for(inlet, window[0]) - branch.ohms.worst
    plenty = allowed > PLENTY
    most = "whatever is used in a box will do" if plenty else f"it may have {_room(allowed)} out and back"
    yield Open(
        "note" if plenty else "error",
        inlet,
        f"{inlet}: {lacks} is not given, so the volts that arrive are not known; {most}",
        missing=[f"{inlet} {lacks}"],
        remedy='add lead = "... AWG, ... mm" as you will cut it, or its ohms out and back',
        place=("lead", "from"),
    )


def _room(allowed: float) -> str:
    return f"at most {Measure(round(allowed, 4), 'ohm')}" if allowed > 0 else "no resistance at all"


cases(
    lead_unknown,
    clean=[_LEAD.format(volts="5 V", lead="20 AWG, 100 mm")],
    flagged=[
        Case(_LEAD.format(volts="5 V", lead="LEAD").replace('lead = "LEAD"', ""), at="n1", kind="open"),
        Case(_LEAD.format(volts="5 V", lead="20 AWG"), at="n1", kind="open"),
        Case(_LEAD.format(volts="5 V", lead="100 mm"), at="n1", kind="open"),
        # 12 V, 9 V needed, 60 W: (12 - 9) × 9 / 60 is 0.45 ohm, less 0.08 of its contacts
        Case(
            _LEAD.format(volts="12 V", lead="LEAD")
            .replace('lead = "LEAD"', "")
            .replace('peak = "3 A"\nload = "current"', 'peak = "60 W"')
            .replace("4.75 V .. 5.25 V", "9 V .. 13 V"),
            at="0.37 ohm",
            kind="open",
        ),
        Case(_BEHIND.replace("0.1 ohm", "18 AWG"), at="run", kind="open"),
    ],
)


@rule(level="error", over="inlets")
def window_unknown(inlet: InletPoint) -> Iterator[Finding]:
    """Every inlet states the volts it works at.

    Without them neither a wrong rail nor a thin lead can be seen.
    """
    if inlet.spec.volts is None and inlet.thing.table != "inline" and inlet.source is not None:
        yield Open(
            "error",
            inlet,
            f"{inlet}: the volts it works at are not given, so what arrives is not judged",
            missing=[f"{inlet} volts"],
            remedy='add volts = "4.75 V .. 5.25 V" as its sheet states it, or name its part',
            place=("part", "id"),
        )


cases(
    window_unknown,
    clean=[_LEAD.format(volts="5 V", lead="20 AWG, 100 mm")],
    flagged=[
        Case('[[feed]]\nid = "b"\nvolts = "5 V"\n[[node]]\nid = "n1"\nfrom = "b"', at="n1", kind="open")
    ],
)


@rule(level="error", over="rails")
def unset(rail: OutletPoint) -> Iterator[Finding]:
    """Every source states its volts; an adjustable one, what it is set to.

    An adjustable converter comes from its maker at any setting: it is set with a meter before anything is connected.
    """
    volts = source_volts(rail)
    if rail.via is None and volts is not None and rail.takers and _never_set(rail):
        yield Open(
            "error",
            rail,
            f"{rail.noun} {rail} feeds {listed([t.name for t in rail.takers])} and is adjustable; its part says "
            f"{_volts(volts[0])}, but the plan does not say what it is set to",
            missing=[f"{rail} volts"],
            remedy='add volts = "5.1 V" to it in the plan, and set it with a meter before anything is connected',
            place=("part",),
        )
    if rail.via is None and volts is not None and min(volts) <= 0 and rail.takers:
        yield Open(
            "error",
            rail,
            f"{rail.noun} {rail} gives {_volts(min(volts))}; what hangs on a rail at or below zero is not judged yet",
            missing=[f"{rail} above zero"],
            remedy="check by hand what hangs on it",
            place=("volts", "low", "part"),
        )
    if rail.via is None and volts is None and rail.takers:
        what = "set to" if getattr(rail.spec, "kind", None) == "adjustable" else "at"
        yield Open(
            "error",
            rail,
            f"{rail.noun} {rail} feeds {listed([t.name for t in rail.takers])}, but the plan does not say what volts "
            f"it is {what}",
            missing=[f"{rail} volts"],
            remedy='add volts = "5.1 V", and set it with a meter before anything is connected',
            place=("part",),
        )


def _never_set(rail: OutletPoint) -> bool:
    """Say whether an adjustable rail has the volts of its part alone: those it leaves its maker with, or its range."""
    spec, thing = rail.spec, rail.thing
    if getattr(spec, "kind", None) != "adjustable":
        return False
    written = spec.stated if spec.path[:2] == thing.path else frozenset()
    return written.isdisjoint(("volts", "low", "high"))


_TRIM = """
[[part]]
id = "trim"
kind = "supply"
[[part.rail]]
id = "out"
kind = "adjustable"
{part}
[[feed]]
id = "b"
volts = "12 V"
[[supply]]
id = "s"
part = "trim"
from = "b"
{plan}
[[node]]
id = "n"
from = "s"
"""

cases(
    unset,
    clean=[
        '[[feed]]\nid = "b"\nvolts = "5 V"\n[[node]]\nid = "n"\nfrom = "b"',
        _TRIM.format(part='volts = "5 V"', plan='[[supply.rail]]\nid = "out"\nvolts = "5.1 V"'),
        _TRIM.format(part='volts = "5 V"', plan="").replace("adjustable", "regulated"),
        _TRIM.format(part='volts = "5 V"', plan="").replace('from = "s"', ""),
    ],
    flagged=[
        Case('[[feed]]\nid = "b"\n[[node]]\nid = "n"\nfrom = "b"', at="b", kind="open"),
        Case('[[feed]]\nid = "b"\nvolts = "-12 V"\n[[node]]\nid = "n"\nfrom = "b"', at="b", kind="open"),
        Case(_TRIM.format(part="", plan=""), at="set to", kind="open"),
        # what its part says is how it leaves its maker, or the range of its trimmer
        Case(_TRIM.format(part='volts = "5 V"', plan=""), at="its part says 5 V", kind="open"),
        Case(_TRIM.format(part='low = "1 V"\nhigh = "30 V"', plan=""), at="s.out", kind="open"),
        Case(
            _TRIM.format(part='volts = "5 V"', plan='[[supply.rail]]\nid = "out"\namps = "2 A"'),
            at="s.out",
            kind="open",
        ),
    ],
)


@rule(level="warning", over="rails")
def stated(rail: OutletPoint) -> Iterator[Finding]:
    """An outlet that only hands power on states no other volts than what is handed on.

    The volts of the source count, whatever is written on the way; a figure that differs is a slip of one or the other.
    """
    said, volts = rail.spec.volts, source_volts(rail)
    if rail.via is None or said is None or volts is None or rail.handed_on:
        return
    if abs(said - volts[0]) > 0.1 * abs(volts[0]):
        yield Finding(
            "warning",
            rail,
            f"{rail} is said to give {_volts(said)}, but hands on {_volts(volts[0])}",
            found=_volts(said),
            allowed=_volts(volts[0]),
            remedy="correct the figure, or what feeds it",
            place=("volts", "part"),
        )


_SAID = _BEHIND + '[[inline.outlet]]\nid = "a"\nvolts = "{}"\n'

cases(
    stated,
    clean=[_SAID.replace('from = "run"', 'from = "run.a"').format("12.2 V")],
    flagged=[Case(_SAID.replace('from = "run"', 'from = "run.a"').format("9 V"), at="run.a", found="9 V")],
)


@rule(level="error", over="arrivals")
def headroom(inlet: Arrival, loading: Loading) -> Iterator[Finding]:
    """A step-down converter has its drop-out to spare between the volts that arrive and the volts it gives.

    Below that it no longer holds its output: what it gives follows its input, less the drop-out, and all that hangs on
    it sees that. 12 V out of a 12 V source is no job for a step-down converter. One that also steps up says so by an
    input range that begins below its output, and states no drop-out; it needs none.

    Formula: V_in, lowest >= V_out + drop-out; else V_out = V_in - drop-out.

    Source: 3 A step-down converter data sheet (7.0 V in for 5 V out; 1.5 V lost in its switch at most); common
    practice.
    """
    supply, low, window = inlet.thing, inlet.low, inlet.spec.volts
    if supply.table != "supply" or low is None or (window is not None and low < window[0] * (1 - 1e-9)):
        return  # below its own range volts.too_low tells
    rails = [(v[0], o) for o in supply.outlets if o.is_source and (v := source_volts(o))]
    if not rails:
        return
    volts, rail = max(rails, key=lambda pair: pair[0])
    if supply.dropout is None:
        if low < volts * (1 - 1e-9) and not _steps_up(rail, window, volts):
            yield _may_not_reach(inlet, low, rail, volts)
        return
    needed = volts + supply.dropout
    if low >= needed * (1 - 1e-9):
        return
    given = dropped_out(max(0.0, low), volts, supply.dropout)
    hungry, fine = _hungry(rail, given, loading)
    lost = f"its drop-out is {_volts(supply.dropout)}, so {rail} then gives {_volts(given)}"
    if hungry:
        lost += f"; {listed(hungry)} would get less than needed"
    yield Finding(
        "warning" if fine and not hungry else "error",
        inlet,
        f"{_volts(low)} arrives at {inlet} in the worst case; to give {_volts(volts)} it needs {_volts(needed)}",
        found=_volts(low),
        allowed=_volts(needed),
        because=lost + ("; all that hangs on it bears that, and every dip of the input" if fine else ""),
        remedy="feed it with more volts, use a thicker lead, or a converter that also steps up",
        place=("dropout", "part"),
    )


def _steps_up(rail: OutletPoint, window: tuple[float, float] | None, volts: float) -> bool:
    """Say whether a converter says by its input range that it gives more volts than it takes."""
    adjustable = getattr(rail.spec, "kind", None) == "adjustable"
    return window is not None and window[0] < volts and not adjustable


def _may_not_reach(inlet: Arrival, low: float, rail: OutletPoint, volts: float) -> Finding:
    return Open(
        "error",
        inlet,
        f"{_volts(low)} arrives at {inlet} in the worst case, and {rail} is to give {_volts(volts)}; nothing says that "
        "it steps up",
        missing=[f"{inlet.thing.id} volts", f"{inlet.thing.id} dropout"],
        found=_volts(low),
        allowed=_volts(volts),
        remedy="state the input range of one that steps up, or the dropout of one that does not",
        place=("volts", "part"),
    )


def _hungry(rail: OutletPoint, given: float, loading: Loading) -> tuple[list[str], bool]:
    """Return what gets too few volts if a rail gives only so much, and whether all else there is known to bear it."""
    net, volts = loading.nets[rail.name], source_volts(rail)
    if volts is None or not net.worst.volts:
        return [], False
    fallen = volts[1] - given
    windows = [
        (branch.inlet.name, branch.inlet.spec.volts, there - fallen)
        for branch, there in zip(net.branches, net.worst.volts, strict=True)
        if branch.inlet.thing.table not in ("inline", "feed") and branch.inlet.thing is not rail.thing
    ]
    hungry = [
        name for name, window, there in windows if window is not None and there < window[0] * (1 - 1e-9)
    ]
    return hungry, bool(windows) and not hungry and all(window is not None for _, window, _ in windows)


_STEP = """
[[part]]
id = "joint"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "b"
plug = "joint"
volts = "12 V"
low = "{low}"
high = "13 V"
[[supply]]
id = "s"
from = "b"
plug = "joint"
lead = "0 ohm"
{input}
[[supply.rail]]
id = "out"
volts = "{out}"
plug = "joint"
{kind}
[[node]]
id = "n1"
from = "s"
volts = "{least} .. 20 V"
peak = "1 W"
plug = "joint"
lead = "0 ohm"
"""


def _step(
    low: str, out: str = "5 V", input: str = 'dropout = "2 V"', kind: str = "", least: str = "4.95 V"
) -> str:
    return _STEP.format(low=low, out=out, input=input, kind=kind, least=least)


_ADJUSTABLE = 'kind = "adjustable"'

cases(
    headroom,
    clean=[
        _step("7 V"),
        # a converter that steps up, or up and down: its input range begins below its output
        _step("11 V", out="54 V", input='volts = "10 V .. 15 V"', least="50 V").replace(".. 20 V", ".. 57 V"),
        _step("11 V", out="12 V", input='volts = "9 V .. 36 V"', least="11 V"),
        # volts.too_low tells
        _step("11 V", out="12 V", input='volts = "14 V .. 36 V"\ndropout = "2 V"', least="11 V"),
    ],
    flagged=[
        Case(_step("6.9 V"), at="s", found="6.9 V", level="error"),
        # nothing drawn through no resistance: 6.9 V less 2 V are 4.9 V, and the board bears that
        Case(_step("6.9 V", least="4.8 V"), at="s", found="6.9 V", level="warning"),
        # 12 V from 12 V
        Case(_step("11.4 V", out="12 V", least="11.4 V"), at="s", level="error"),
        Case(
            _step("11.4 V", out="12 V", input='volts = "7 V .. 40 V"\ndropout = "2 V"', kind=_ADJUSTABLE),
            at="s",
            level="warning",
        ),
        Case(_step("11.4 V", out="12 V", input=""), at="s", kind="open"),
        Case(
            _step("11.4 V", out="12 V", input='volts = "7 V .. 40 V"', kind=_ADJUSTABLE), at="s", kind="open"
        ),
    ],
)

"""Inrush: what empty capacitors take when power comes, against what sources, switches and fuses stand for an instant.

Only what states its `capacitance` is counted. Plugging things in while power is on is another matter, and not judged.
Caution: a large capacitor stays charged after power is cut; measure before touching, and never short it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, Review, cases, rule
from coldcheck.dc import fuse as fuses
from coldcheck.dc import inrush as physics
from coldcheck.plan.spans import listed
from coldcheck.workings.charging import Charging, behind
from coldcheck.workings.power import Arrival

#: The quickest that volts of a source with a soft start come up [s]: guides for PC supplies allow 0.1 ms to 20 ms, from
#: memory.
QUICKEST = 1e-4
#: What is over sooner does not heat a contact: a spot of 0.05 mm in silver takes about (0.05 mm)² / 170 mm²/s = 15 µs
#: (computed) [s].
INSTANT = 1e-5
#: The share of its melting I²t that a fuse stands a thousand times; from memory of a fuse maker's guide.
OFTEN = 0.38
#: The most that a thing may put on a USB socket [F]: USB 2.0, 7.2.4.1, from memory.
USB_MOST = 10e-6


def _amps(value: float) -> Measure:
    return Measure(round(value, 1 if value >= 10 else 3), "A")


def _time(seconds: float) -> str:
    return f"{seconds * 1000:.3g} ms" if seconds >= 1e-3 else f"{seconds * 1e6:.3g} us"


def _farads(value: float) -> Measure:
    return Measure(round(value * 1e6, 3), "uF")


def _because(charging: Charging) -> str:
    volts = Measure(round(charging.volts, 2), "V")
    ohms = f" through {Measure(charging.ohms, 'ohm')}" if charging.ohms else ""
    return f"{_farads(charging.farads)} of {listed(charging.names)} at {volts}{ohms}"


def _beyond(charging: Charging, limit: float) -> tuple[float, float] | None:
    """Return the first peak of what a contact closes on [A] and how long it is beyond a limit [s], where it matters."""
    if not charging.ohms or charging.volts <= 0:
        return None
    peak = physics.first_peak(charging.volts, charging.ohms)
    seconds = physics.time_until(limit, charging.farads, charging.volts, charging.ohms)
    return (peak, seconds) if seconds > INSTANT else None


@rule(level="error", over="chargings")
def source(charging: Charging) -> Iterator[Finding]:
    """A source stands what empty capacitors take when it comes up, or when a switch closes on them.

    A supply that brings its volts up slowly gives its capacitors little. Where it has to give more than it can, it
    falls back and tries again, or stays off, and the box never starts. A battery brings nothing up slowly, nor does a
    switch: only wires and contacts limit the first peak, and guard boards of batteries take it for a short circuit.

    Formula: C × V / t for volts that rise in t; else V / R at once, and RC × ln(V / (R × limit)) until it is below a
    limit.

    Source: I = C dV/dt and the closed form of a charging capacitor.
    """
    if charging.what != "source" or charging.volts <= 0:
        return
    spec: Any = charging.net.spec
    peak = spec.peak
    if charging.hard:
        yield from _closed_on(charging, peak.amps if peak is not None else spec.amps)
        return
    rise = spec.rise
    seconds = max(rise or QUICKEST, INSTANT)
    holds = peak is not None and (peak.seconds is None or peak.seconds >= seconds)
    limit = peak.amps if holds else spec.amps
    if limit is None:
        return  # told by rails.limit_unknown
    amps = physics.ramp_amps(charging.farads, charging.volts, seconds, charging.ohms or 0.0)
    if amps <= limit * (1 + 1e-9):
        return
    root = charging.net.root
    if rise is None:
        yield Open(
            "warning",
            root,
            f"capacitors on {root} may take {_amps(amps)} while it comes up; how long that lasts is not given",
            missing=[f"{root} rise"],
            found=_amps(amps),
            allowed=_amps(limit),
            because=f"{_because(charging)} if it comes up in {_time(seconds)}",
            remedy='add rise = "5 ms" from its sheet, where it may be called soft start',
            place=("amps", "part"),
        )
        return
    slow = charging.farads * charging.volts / limit
    yield Finding(
        "error" if holds else "warning",
        root,
        f"capacitors on {root} take {_amps(amps)} while it comes up in {_time(seconds)}; it gives {_amps(limit)}",
        found=_amps(amps),
        allowed=_amps(limit),
        because=_because(charging)
        + ("" if holds else "; nothing says that it gives more for so short a time"),
        remedy=f"a source that comes up in {_time(slow)} or more, a larger one, or things switched on one by one",
        place=("rise", "peak", "amps", "part"),
    )


def _closed_on(charging: Charging, limit: float | None) -> Iterator[Finding]:
    root = charging.net.root
    if charging.ohms == 0:
        yield Open(
            "warning",
            root,
            f"nothing is said to limit what capacitors take from {root} at first",
            missing=[f"{root} ohms"],
            because=_because(charging),
            remedy='add ohms = "20 mohm" for what is inside it, and the leads as they are',
            place=("part",),
        )
    beyond = None if limit is None else _beyond(charging, limit)
    if beyond is None or limit is None:
        return
    peak, seconds = beyond
    yield Finding(
        "warning",
        root,
        f"capacitors take up to {_amps(peak)} from {root} at first, and more than {_amps(limit)} for {_time(seconds)}",
        found=_amps(peak),
        allowed=_amps(limit),
        because=f"{_because(charging)}; what it gives for so short a time is not stated",
        remedy="ask its sheet for how long it stands that, or add an inrush limiter, or a resistor bridged later",
        place=("peak", "amps", "part"),
    )


_BOX = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "f"
volts = "12 V"
spread = "0 %"
plug = "soldered"
{feed}
[[node]]
id = "n1 .. n2"
from = "{source}"
plug = "soldered"
lead = "{lead}"
peak = "1 W"
capacitance = "{each}"
"""
_SWITCH = """
[[inline]]
id = "x"
what = "{what}"
from = "f"
plug = "soldered"
lead = "50 mohm"
{more}
"""


def _box(feed: str, each: str, source: str = "f", lead: str = "100 mohm") -> str:
    return _BOX.format(feed=feed, each=each, source=source, lead=lead)


def _behind(what: str, more: str, each: str, feed: str = 'amps = "500 A"') -> str:
    return _box(feed, each, "x") + _SWITCH.format(what=what, more=more)


_SLOW = 'amps = "5 A"\nrise = "{}"\n'

cases(
    source,
    clean=[
        # 2 × 1000 uF × 12 V / 10 ms = 2.4 A
        _box(_SLOW.format("10 ms"), "1 mF"),
        _box('amps = "5 A"', "20 uF"),  # 4.8 A even in 0.1 ms
        _box('amps = "5 A"', "0 uF"),
        _box('amps = "5 A"\nbattery = true', "1 uF"),  # over within microseconds
        _box('amps = "5 A"\nbattery = true\npeak = "240 A for 1 s"', "1 mF"),
        _box(_SLOW.format("1 ms") + 'peak = "24 A for 10 ms"', "1 mF"),
        _box('rise = "1 ms"', "1 mF"),  # told by rails.limit_unknown
    ],
    flagged=[
        Case(
            _box(_SLOW.format("1 ms"), "1 mF"),
            at="f",
            found="24 A",  # 2 × 1 mF × 12 V / 1 ms
            level="warning",
            mended=_box(_SLOW.format("10 ms"), "1 mF"),
        ),
        Case(_box(_SLOW.format("1 ms") + 'peak = "20 A for 10 ms"', "1 mF"), at="f", level="error"),
        Case(_box(_SLOW.format("1 ms") + 'peak = "30 A for 0.1 ms"', "1 mF"), at="f", level="warning"),
        Case(_box('amps = "5 A"', "1 mF"), at="f", kind="open", mended=_box(_SLOW.format("10 ms"), "1 mF")),
        # two runs of 100 mohm side by side: 12 V / 50 mohm
        Case(_box('amps = "5 A"\nbattery = true', "1 mF"), at="f", found="240 A", level="warning"),
        Case(_box('amps = "5 A"\nbattery = true', "1 mF", lead="0 ohm"), at="f", kind="open"),
        # a switch closes on volts that are up: 12 V / (50 + 50) mohm
        Case(_behind("switch", "", "1 mF", _SLOW.format("10 ms")), at="f", found="120 A", level="warning"),
    ],
)


@rule(level="warning", over="chargings")
def switch(charging: Charging) -> Iterator[Finding]:
    """A switch is made for what empty capacitors take when it closes.

    Its rating is for what it carries and breaks. The first peak, many times that, meets contacts that bounce, and welds
    them; what is over within 10 us does not heat them.

    Formula: V / R at first, and RC × ln(V / (R × rating)) until it is below the rating.

    Source: closed form of a charging capacitor; time by the heat of a contact spot, computed.
    """
    if charging.what != "switch":
        return
    thing = charging.at
    if charging.rated is None:
        if charging.ohms and physics.time_constant(charging.ohms, charging.farads) > INSTANT:
            yield Open(
                "warning",
                thing,
                f"what {thing.id} may close on is not given, and capacitors are behind it",
                missing=[f"{thing.id} amps"],
                because=_because(charging),
                remedy='add amps = "10 A" as its label states it',
                place=("what", "part"),
            )
        return
    beyond = _beyond(charging, charging.rated)
    if beyond is None:
        return
    peak, seconds = beyond
    yield Finding(
        "warning",
        thing,
        f"{thing.id} closes on up to {_amps(peak)}, and more than its {_amps(charging.rated)} for {_time(seconds)}",
        found=_amps(peak),
        allowed=_amps(charging.rated),
        because=f"{_because(charging)}; what its contacts close on for so short a time is not stated",
        remedy="a switch rated for capacitors, an inrush limiter behind it, or switch the source itself",
        place=("amps", "part"),
    )


cases(
    switch,
    clean=[
        _behind("switch", 'amps = "10 A"', "1 uF"),
        _behind("switch", 'amps = "120 A"', "1 mF"),
        _behind("switch", "", "0 uF"),
        _behind("run", 'amps = "10 A"', "1 mF"),
    ],
    flagged=[
        Case(
            _behind("switch", 'amps = "10 A"', "1 mF"),
            at="x",
            found="120 A",
            level="warning",
            mended=_behind("switch", 'amps = "10 A"', "1 uF"),
        ),
        Case(_behind("switch", "", "1 mF"), at="x", kind="open"),
    ],
)


@rule(level="error", over="chargings")
def fuse(charging: Charging) -> Iterator[Finding]:
    """A fuse does not melt from what empty capacitors take, not even after many starts.

    In so short a time no heat leaves its wire: what counts is I²t, against what melts it. Of many kinds it is published
    only on the sheet of the very fuse, so a person must look. A PTC is too slow to notice.

    Formula: I²t = C × V² / (2 × R) at the most, for any number of capacitors behind R.

    Source: closed form; melting I²t of one series of 5 × 20 mm time-lag fuses (its sheet, read); a thousand starts at
    38 % of it, from memory of a fuse maker's guide.
    """
    rated = charging.fuse
    if rated is None or rated.kind in (None, "ptc") or not charging.ohms or charging.volts <= 0:
        return
    melts = fuses.melting(rated.kind or "", rated.amps)
    name = getattr(charging.at, "name", None) or charging.at.id
    heat = physics.amps_squared_seconds(charging.farads, charging.volts, charging.ohms)
    said = f"capacitors send up to {_heat(heat)} through the {_amps(rated.amps)} fuse of {name}"
    if melts is None:
        stands = fuses.stands(rated.kind or "", rated.amps, 0.0)
        beyond = _beyond(charging, stands)
        if beyond is not None:
            yield Review(
                charging.at,
                f"{said}: hold it against the melting I²t on its sheet",
                found=_heat(heat),
                because=f"{_because(charging)}: up to {_amps(beyond[0])}, more than {_amps(stands)} for "
                f"{_time(beyond[1])}",
                remedy=f"of its melting I²t, {100 * OFTEN:g} % is stood a thousand times",
                place=("fuse", "part"),
            )
        return
    if heat <= melts * OFTEN * (1 + 1e-9):
        return
    opens = heat > melts * (1 + 1e-9)
    yield Finding(
        "error" if opens else "warning",
        charging.at,
        said + (f", which melts at {_heat(melts)}" if opens else f"; {_heat(melts * OFTEN)} is stood often"),
        found=_heat(heat),
        allowed=_heat(melts if opens else melts * OFTEN),
        because=_because(charging),
        remedy="a slower or larger fuse, if the wire behind it carries that, or an inrush limiter",
        place=("fuse", "part"),
    )


def _heat(value: float) -> Measure:
    return Measure(round(value, 3), "A2s")


_FUSED = 'fuse = "{}"\nohms = "0 ohm"'

_BATTERY = "battery = true"

# 2 × 1 mF at 12 V through 50 + 50 mohm: 2e-3 × 144 / 0.2 = 1.44 A2s; a 1 A time-lag fuse melts at 19.2, 38 % is 7.296
cases(
    fuse,
    clean=[
        _behind("fuse", _FUSED.format("1 A iec-slow"), "5 mF", _BATTERY),
        _behind("fuse", _FUSED.format("1 A iec-slow"), "20 mF"),  # a feed that comes up slowly
        _behind("fuse", _FUSED.format("1 A ptc"), "1 mF", _BATTERY),
        _behind("fuse", _FUSED.format("50 A blade"), "1 mF", _BATTERY),
        _behind("fuse", _FUSED.format("5 A"), "1 mF", _BATTERY),  # told by fuses.kind
    ],
    flagged=[
        Case(
            _behind("fuse", _FUSED.format("1 A iec-slow"), "5.1 mF", _BATTERY),
            at="x",
            found="7.344 A2s",
            level="warning",
            mended=_behind("fuse", _FUSED.format("1.25 A iec-slow"), "5.1 mF", _BATTERY),
        ),
        Case(
            _behind("fuse", _FUSED.format("1 A iec-slow"), "14 mF", _BATTERY),
            at="x",
            found="20.16 A2s",
            level="error",
        ),
        Case(_behind("fuse", _FUSED.format("15 A blade"), "1 mF", _BATTERY), at="x", kind="review"),
        # 2 × 1 mF through two leads of 100 mohm side by side and a blade of 4.8 mohm: 2e-3 × 144 / 2 / 0.0548
        Case(_box('battery = true\nfuse = "15 A blade"', "1 mF"), at="f", found="2.628 A2s", kind="review"),
        # a block: each outlet its own fuse, of 123 mohm, and only what hangs on it, 1e-3 × 144 / 2 / 0.273
        Case(
            _box(_BATTERY, "1 mF", "x.1").replace('from = "x.1"', 'from = "x.1 .. x.2"')
            + _SWITCH.format(
                what="fuse", more='[[inline.outlet]]\nid = "1 .. 2"\nfuse = "1 A blade"\nplug = "soldered"'
            ),
            at="x.1",
            found="0.264 A2s",
            kind="review",
        ),
    ],
)


@rule(level="warning", over="arrivals")
def usb(inlet: Arrival) -> Iterator[Finding]:
    """What hangs on a USB socket has no more than 10 uF to charge.

    More pulls the socket down for a moment: a hub switches it off, and what hangs beside it starts anew.

    Source: USB 2.0, 7.2.4.1: 10 uF, and 44 ohm beside it, at the most; from memory.
    """
    source = inlet.inlet.source
    spec: Any = source.spec if source is not None else None
    if spec is None or spec.plug not in ("usb-a", "usb-c") or getattr(spec, "lead", None) is not None:
        return
    farads = behind(inlet.net, inlet.i)
    if farads <= USB_MOST * (1 + 1e-9):
        return
    yield Finding(
        "warning",
        inlet,
        f"{inlet} puts {_farads(farads)} on USB socket {source}; {_farads(USB_MOST)} is the most it is made for",
        found=_farads(farads),
        allowed=_farads(USB_MOST),
        remedy="a thing that limits its inrush, or feed it from an adapter of its own",
        place=("capacitance", "from"),
    )


_USB = """
[[feed]]
id = "hub"
volts = "5 V"
{more}
plug = "usb-{plug}"
[[node]]
id = "n1"
from = "hub"
capacitance = "{each}"
"""

cases(
    usb,
    clean=[
        _USB.format(plug="a", each="10 uF", more=""),
        _USB.format(plug="micro-b", each="100 uF", more=""),
        _USB.format(
            plug="c", each="100 uF", more='lead = "20 AWG, 1 m"'
        ),  # an adapter with a lead of its own
    ],
    flagged=[
        Case(
            _USB.format(plug="a", each="11 uF", more=""),
            at="n1",
            found="11 uF",
            mended=_USB.format(plug="a", each="10 uF", more=""),
        ),
        Case(
            _USB.format(plug="c", each="6 uF", more="")
            + '[[node.outlet]]\nid = "port"\nkind = "pass-through"\n[[drive]]\nid = "d"\nfrom = "n1.port"\n'
            'capacitance = "5 uF"',
            at="n1",
            found="11 uF",
        ),
    ],
)

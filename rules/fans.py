"""Fans: enough volts to start, and what is left of speed, flow and noise where one is run slow."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.dc import fan as physics
from coldcheck.plan.tables import Fan
from coldcheck.workings.power import Arrival

#: The volts of most fans; only for these is a usual start voltage known.
ORDINARY = 12.0
#: A fan fed with less than this share of its rated volts is run slow on purpose: less is lost in wires, and 4-wire fans
#: take 12 V, 5 % either way (their specification, clause 2.1.1, read).
SLOW = 0.95


def _volts(value: float) -> Measure:
    return Measure(round(value, 3), "V")


def _made_for(fan: Fan) -> float | None:
    """Return the volts a fan is made for [V]: its rated ones, else 12 V where they lie in its window; or None."""
    window = fan.intake.volts
    if fan.rated is not None:
        return fan.rated
    return ORDINARY if window is not None and window[0] <= ORDINARY <= window[1] else None


def _fits(inlet: Arrival) -> bool:
    """Say whether a fan is on a source inside its window; the rules on volts speak of the others."""
    window, fed = inlet.spec.volts, inlet.fed
    return fed is not None and (window is None or window[0] <= fed[0] <= window[1])


@rule(level="error", over="arrivals")
def starts(inlet: Arrival) -> Iterator[Finding]:
    """The volts that arrive at a fan in the worst case are enough to start it.

    A fan that runs at 5 V may still not start at 5 V: it stands, and nothing tells, since it is silent either way.
    Below 4.5 V no ordinary 12 V fan starts, from 7 V on each does; in between it is told by its sheet, or by trying it
    cold, a dozen times, with the box at its lowest volts. Fans for other volts are taken to start wherever their sheet
    lets them run.

    Source: fan maker note on low voltage (4.5 V) and common practice (7 V); one strong 120 mm fan needs 7.5 V (its
    sheet), so a stated `starts_at` goes first.
    """
    fan, low = inlet.thing, inlet.low
    if not isinstance(fan, Fan) or low is None or not _fits(inlet):
        return
    window = inlet.spec.volts
    if window is not None and low < window[0] * (1 - 1e-9):
        return  # told by volts.too_low
    stated, made = fan.starts_at, _made_for(fan)
    if stated is None and made != ORDINARY:
        # of a fan of which nothing is known volts.window_unknown tells
        if window is None and made is not None and low < made * SLOW:
            yield _unsaid(inlet, low, "what a fan of its kind needs is not known")
        return
    never, surely = (stated, stated) if stated is not None else physics.START_VOLTS
    verdict = physics.starts(low * (1 + 1e-9), never, surely)
    if verdict is False:
        yield Finding(
            "error",
            inlet,
            f"{_volts(low)} arrives at fan {fan.id} in the worst case; it does not start below {_volts(never)}",
            found=_volts(low),
            allowed=_volts(never),
            because="" if stated is not None else "no ordinary 12 V fan does",
            remedy="feed it with more volts, or take a fan that starts at less",
            place=("starts_at", "from"),
        )
    elif verdict is None:
        yield _unsaid(
            inlet, low, f"ordinary 12 V fans start somewhere from {_volts(never)} to {_volts(surely)}"
        )


def _unsaid(inlet: Arrival, low: float, because: str) -> Finding:
    name = inlet.thing.id
    return Open(
        "error",
        inlet,
        f"{_volts(low)} arrives at fan {name} in the worst case; from which volts on it starts is not given",
        missing=[f"{name} starts_at"],
        found=_volts(low),
        because=because,
        remedy='add starts_at = "5 V" from its sheet, or as found by starting it cold a dozen times',
        place=("part", "from"),
    )


_FAN = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "f"
volts = "{fed}"
spread = "0 %"
plug = "soldered"
[[fan]]
id = "fan1"
from = "f"
lead = "1 ohm"
plug = "soldered"
peak = "0.1 A"
load = "current"
{more}
"""


def _case(fed: str, more: str) -> str:
    return _FAN.format(fed=fed, more=more)


_WIDE = 'volts = "4 V .. 13.2 V"\n'
_RUNS_AT_7 = 'volts = "7 V .. 13.2 V"\n'
_FIVE = 'volts = "4.5 V .. 5.5 V"\n'

cases(
    starts,
    clean=[
        _case("12 V", _WIDE),
        _case("7.1 V", _WIDE),  # 0.1 V is lost in the lead
        _case("5.1 V", _WIDE + 'starts_at = "5 V"'),
        _case("5 V", _FIVE),  # a 5 V fan
        _case("5 V", 'rated = "5 V"'),
        _case("12 V", ""),  # told by volts.window_unknown
        _case("5 V", _RUNS_AT_7),  # told by volts.wrong_rail
        _case("7.05 V", _RUNS_AT_7 + 'starts_at = "7.5 V"'),  # told by volts.too_low
        '[[feed]]\nid = "f"\nvolts = "5 V"\n[[fan]]\nid = "fan1"\nfrom = "f"\nvolts = "4 V .. 13.2 V"',  # no lead
    ],
    flagged=[
        Case(
            _case("7.5 V", _RUNS_AT_7 + 'starts_at = "7.5 V"'),
            at="fan1",
            found="7.4 V",
            level="error",
            mended=_case("7.6 V", _RUNS_AT_7 + 'starts_at = "7.5 V"'),
        ),
        Case(_case("4.5 V", _WIDE), at="fan1", found="4.4 V", level="error"),
        Case(_case("4.5 V", 'rated = "12 V"'), at="fan1", found="4.4 V", level="error"),
        Case(_case("4.6 V", _WIDE), at="fan1", found="4.5 V", kind="open"),
        Case(_case("7.09 V", _WIDE), at="fan1", found="6.99 V", kind="open", mended=_case("7.1 V", _WIDE)),
        Case(_case("12 V", 'rated = "24 V"'), at="fan1", kind="open"),
    ],
)


@rule(level="note", over="arrivals")
def slow(inlet: Arrival) -> Iterator[Finding]:
    """A fan gets the volts that its flow and its noise are stated at, or what is left of them is known.

    Run on fewer volts on purpose, a fan is much quieter; the air it moves falls with its speed, and its pressure with
    the square of that, so a filter stops more of it.

    Formula: speed and flow as (V - 0.75 V) / (V_rated - 0.75 V); noise by 50 × log10 of that.

    Source: fan laws page ("about proportional to V - 0.5 to 1 V": 7 V makes 55 % of 12 V, not 58 %).
    """
    fan, volts = inlet.thing, inlet.nominal
    if not isinstance(fan, Fan) or volts is None or not _fits(inlet) or inlet.fed is None:
        return
    made = _made_for(fan)
    if made is None or inlet.fed[0] >= made * SLOW * (1 - 1e-9) or next(starts(inlet), None) is not None:
        return
    share = physics.speed_share(volts, made)
    if share <= 0:
        return
    yield Finding(
        "note",
        inlet,
        f"fan {fan.id} is made for {_volts(made)} and gets {_volts(volts)}: {100 * share:.0f} % of its speed is left",
        found=f"{100 * share:.0f} %",
        allowed="100 %",
        because=_left(fan, share),
        remedy="nothing, if it is meant so and the air is enough; else feed it from a rail of its rated volts",
        place="from",
    )


def _left(fan: Fan, share: float) -> str:
    """Return what a slower fan still does, with its own figures where they are stated."""
    told = []
    if fan.rpm is not None:
        told.append(f"{fan.rpm * share:.0f} of {fan.rpm:.0f} rpm")
    flow = physics.flow_ratio(share)
    if fan.flow is not None:
        told.append(f"{Measure(round(fan.flow * flow * 3600, 1), 'm3/h')} of {fan.flow * 3600:.1f} m3/h")
    else:
        told.append(f"{100 * flow:.0f} % of its air")
    told.append(f"{100 * physics.pressure_ratio(share):.0f} % of its pressure")
    quieter = physics.noise_change(share)
    if fan.noise is not None:
        told.append(f"{Measure(round(fan.noise + quieter, 1), 'dB')} of {Measure(fan.noise, 'dB')}")
    else:
        told.append(f"{Measure(round(-quieter, 1), 'dB')} quieter")
    return ", ".join(told)


_FIGURES = _WIDE + 'starts_at = "5 V"\nrated = "12 V"\nrpm = "2800 rpm"\nflow = "114 CFM"\nnoise = "45 dB"'

cases(
    slow,
    clean=[
        _case("12 V", _FIGURES),
        _case("11.4 V", _FIGURES),  # what a wire or a spread may take
        _case("5 V", _FIGURES),  # fans.starts tells it
        _case("5 V", _FIVE),
    ],
    flagged=[
        # 7 V: 6.25 / 11.25, the published 55 %
        Case(_case("7.1 V", _FIGURES), at="fan1", found="56 %", mended=_case("12 V", _FIGURES)),
        # 5 V: 4.25 / 11.25 of 2800 rpm
        Case(_case("5.1 V", _FIGURES), at="fan1", found="38 %"),
        Case(_case("7.1 V", _WIDE), at="fan1", found="56 %"),
        Case(_case("11.3 V", _FIGURES), at="fan1", found="93 %"),
    ],
)

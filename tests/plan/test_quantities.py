"""Quantities: every unit, every slip with its hint, the bounds, and the way there and back."""

from math import inf, isclose

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.plan import quantities as q
from coldcheck.plan.quantities import Dimension, Measure, Wrong, read_quantity, read_range, show

DIMENSIONS = [
    q.VOLTS, q.AMPS, q.RATING, q.WATTS, q.OHMS, q.LENGTH, q.AREA, q.GAUGE, q.SECONDS, q.SHARE, q.EFFICIENCY,
    q.TEMPERATURE, q.SPEED, q.KELVIN, q.KELVIN_PER_WATT, q.ENERGY, q.CAPACITANCE, q.TURNS, q.FLOW, q.NOISE, q.HEIGHT,
]  # fmt: skip


def wrong(dimension: Dimension, text: str) -> Wrong:
    """Return what the reader says of a text that it must refuse."""
    with pytest.raises(Wrong) as caught:
        read_quantity(dimension, text)
    return caught.value


@pytest.mark.parametrize("dimension", DIMENSIONS, ids=lambda d: d.name)
def test_the_example_of_a_dimension_reads(dimension: Dimension) -> None:
    """What a message shows as an example is itself readable."""
    assert isinstance(read_quantity(dimension, dimension.example), float)
    assert dimension.example in wrong(dimension, "rubbish").expected


@pytest.mark.parametrize(
    ("dimension", "text", "value"),
    [
        (q.VOLTS, "5 V", 5.0), (q.VOLTS, "5V", 5.0), (q.VOLTS, "-0.3 V", -0.3), (q.VOLTS, "500 mV", 0.5),
        (q.VOLTS, "0.4 kV", 400.0), (q.VOLTS, "  5   V ", 5.0), (q.VOLTS, ".5 V", 0.5), (q.VOLTS, "+5 V", 5.0),
        (q.AMPS, "3 A", 3.0), (q.AMPS, "250 mA", 0.25), (q.AMPS, "40 uA", 40e-6), (q.AMPS, "40 µA", 40e-6),
        (q.AMPS, "0 A", 0.0), (q.RATING, "1500 mA", 1.5), (q.WATTS, "65 W", 65.0), (q.WATTS, "20 mW", 0.02),
        (q.WATTS, "1.2 kW", 1200.0), (q.OHMS, "20 mohm", 0.02), (q.OHMS, "20 mΩ", 0.02), (q.OHMS, "47 Ω", 47.0),
        (q.OHMS, "47 ohm", 47.0), (q.OHMS, "300 uohm", 3e-4), (q.LENGTH, "420 mm", 0.42), (q.LENGTH, "42 cm", 0.42),
        (q.LENGTH, "1 m", 1.0), (q.LENGTH, "1.5 km", 1500.0),
        (q.LENGTH, "10 in", 0.254), (q.LENGTH, "1 ft", 0.3048),  # international inch and foot, exact since 1959
        (q.AREA, "0.75 mm2", 0.75), (q.AREA, "0.75 mm²", 0.75), (q.GAUGE, "18 AWG", 18.0), (q.SECONDS, "12 s", 12.0),
        (q.SECONDS, "5 ms", 5e-3), (q.SECONDS, "5 us", 5e-6), (q.SECONDS, "5 µs", 5e-6), (q.SECONDS, "2 min", 120.0),
        (q.SECONDS, "2 h", 7200.0), (q.SECONDS, "1 d", 86400.0), (q.SHARE, "20 %", 0.2), (q.SHARE, "20%", 0.2),
        (q.EFFICIENCY, "90 %", 0.9), (q.TEMPERATURE, "30 degC", 30.0), (q.TEMPERATURE, "-10 °C", -10.0),
        (q.SPEED, "1 Gbit/s", 1e9), (q.SPEED, "100 Mbit/s", 1e8), (q.SPEED, "9.6 kbit/s", 9600.0),
        (q.SPEED, "5 bit/s", 5.0), (q.KELVIN, "10 K", 10.0), (q.KELVIN_PER_WATT, "20 K/W", 20.0),
        (q.ENERGY, "480 Wh", 480.0), (q.ENERGY, "1.2 kWh", 1200.0), (q.CAPACITANCE, "2 F", 2.0),
        (q.CAPACITANCE, "1 mF", 1e-3), (q.CAPACITANCE, "470 uF", 470e-6), (q.CAPACITANCE, "470 µF", 470e-6),
        (q.CAPACITANCE, "100 nF", 1e-7), (q.TURNS, "2800 rpm", 2800.0), (q.FLOW, "36 m3/h", 0.01),
        (q.FLOW, "1 m3/min", 1 / 60), (q.FLOW, "2 m3/s", 2.0), (q.FLOW, "5 l/s", 0.005),
        (q.FLOW, "35.3146667 CFM", 1 / 60), (q.NOISE, "25 dB", 25.0), (q.NOISE, "25 dB(A)", 25.0),
        (q.HEIGHT, "600 m", 600.0), (q.HEIGHT, "1.5 km", 1500.0), (q.HEIGHT, "1000 ft", 304.8),
    ],
)  # fmt: skip
def test_units_read_into_the_unit_of_their_dimension(dimension: Dimension, text: str, value: float) -> None:
    """Each unit that may be written gives the value in the unit that is kept."""
    assert read_quantity(dimension, text) == pytest.approx(value, rel=1e-9)


def test_no_unit_goes_untested() -> None:
    """The list above holds every unit of every dimension."""
    marks = getattr(test_units_read_into_the_unit_of_their_dimension, "pytestmark", ())
    (mark,) = [m for m in marks if m.name == "parametrize"]
    tested = {(d.name, text.strip().lstrip("+-.0123456789").strip()) for d, text, _ in mark.args[1]}
    every = {(d.name, unit) for d in DIMENSIONS for unit in d.units}
    assert {x for x in every if x[0] != q.RATING.name} <= tested


@pytest.mark.parametrize(
    ("dimension", "text", "hint"),
    [
        (q.VOLTS, "5", 'the unit is missing: write "5 V"'),
        (q.VOLTS, "5 v", 'write "5 V"'),
        (q.VOLTS, "5 volts", 'write "5 V"'),
        (q.AMPS, "3 amps", 'write "3 A"'),
        (q.WATTS, "6 w", 'write "6 W"'),
        (q.OHMS, "20 mOhm", 'write "20 mohm"'),
        (q.GAUGE, "18 awg", 'write "18 AWG"'),
        (q.SECONDS, "12 seconds", 'write "12 s"'),
        (q.TEMPERATURE, "30 C", 'write "30 degC"'),
        (q.LENGTH, "30 MM", 'write "30 mm"'),
        (q.SPEED, "1 Gbps", 'write "1 Gbit/s"'),
        (q.SPEED, "1 GbE", 'write "1 Gbit/s"'),
        (q.SHARE, "20 percent", 'write "20 %"'),
        (q.AREA, "0.5 mm^2", 'write "0.5 mm2"'),
        (q.VOLTS, "1,5 V", "write the decimals after a point, not a comma"),
        (q.AMPS, "5 V", '"V" is no unit of amps: use A, mA or uA'),
        (q.SHARE, "20 A", '"A" is no unit of a share: use %'),
        (q.VOLTS, "1e3 V", '"e3 V" is no unit of volts: use V, mV or kV'),
        (q.RATING, "0 A", "it must be more than zero, and at most 10000 A"),
        (q.AMPS, "-1 A", "it must lie between 0 A and 10000 A"),
        (q.SHARE, "120 %", "it must lie between 0 % and 100 %"),
        (q.TEMPERATURE, "300 degC", "it must lie between -60 degC and 200 degC"),
        (q.VOLTS, "9" * 400 + " V", "it must lie between -1000 V and 1000 V"),
        (q.VOLTS, "", ""),
        (q.VOLTS, "five V", ""),
        (q.VOLTS, "nan V", ""),
    ],
)
def test_slips_are_refused_with_a_hint(dimension: Dimension, text: str, hint: str) -> None:
    """What is nearly right is refused, and the hint says what to write instead."""
    assert wrong(dimension, text).hint == hint


@pytest.mark.parametrize("slip", sorted(q._SLIPS))
def test_every_known_slip_leads_to_a_real_unit(slip: str) -> None:
    """No slip is a right unit of the dimension it is mended to, and what it is mended to can be read."""
    meant = q._SLIPS[slip]
    homes = [d for d in DIMENSIONS if meant in d.units]
    assert homes
    assert all(slip not in d.units for d in homes)
    assert wrong(homes[0], f"5 {slip}").hint == f'write "5 {meant}"'


@pytest.mark.parametrize("dimension", DIMENSIONS, ids=lambda d: d.name)
def test_bounds_hold(dimension: Dimension) -> None:
    """The bounds of a dimension are allowed, what lies past them is not; an open low end is itself refused."""
    unit = next(u for u, factor in dimension.units.items() if factor == (0.01 if not dimension.unit else 1.0))
    scale = dimension.units[unit]
    low, high = dimension.low / scale, dimension.high / scale
    assert read_quantity(dimension, f"{high:.0f} {unit}") == pytest.approx(dimension.high)
    wrong(dimension, f"{high + 1:.0f} {unit}")
    wrong(dimension, f"{low - 1:.0f} {unit}")
    if dimension.low_open:
        wrong(dimension, f"{low:.0f} {unit}")
    else:
        assert read_quantity(dimension, f"{low:.0f} {unit}") == dimension.low


SHOWN = [q.VOLTS, q.AMPS, q.WATTS, q.OHMS, q.LENGTH, q.SECONDS, q.SPEED, q.TEMPERATURE, q.AREA]


@given(dimension=st.sampled_from(SHOWN), share=st.floats(0, 1))
def test_what_is_shown_reads_back(dimension: Dimension, share: float) -> None:
    """`read_quantity(show(x))` is x, within the rounding of what is shown."""
    step = 1e-3 * 1e9 if dimension.unit == "bit/s" else 1e-3
    value = max(
        dimension.low + share * (dimension.high - dimension.low),
        step if dimension.low_open else dimension.low,
    )
    back = read_quantity(dimension, show(value, dimension.unit))
    assert abs(back - value) <= 0.5001 * step + 1e-12 * abs(value)


@given(st.floats(1e-6, 0.0999))
def test_small_amps_read_back(value: float) -> None:
    """Small currents are shown in milliamperes to one place, and read back so."""
    assert isclose(read_quantity(q.AMPS, show(value, "A")), value, abs_tol=0.5001e-4)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (8.4, "A", "8.4 A"), (0.25, "A", "0.25 A"), (0.05, "A", "50 mA"), (0.0, "A", "0 A"), (-0.3, "V", "-0.3 V"),
        (0.42, "m", "420 mm"), (1.5, "m", "1.5 m"), (1e9, "bit/s", "1 Gbit/s"), (1e8, "bit/s", "100 Mbit/s"),
        (5e3, "bit/s", "5 kbit/s"), (0.02, "ohm", "20 mohm"), (12.34567, "V", "12.346 V"), (3, "", "3"),
        (12.34, "%", "12.3 %"), (inf, "s", "inf s"), (-0.0001, "V", "0 V"), (1.0, "degC", "1 degC"),
    ],
)  # fmt: skip
def test_numbers_are_shown_as_people_write_them(value: float, unit: str, text: str) -> None:
    """Three decimals at most, a smaller prefix for what is small, no trailing zeros, no minus before zero."""
    assert show(value, unit) == text
    assert str(Measure(value, unit)) == text


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("4.75 V .. 5.25 V", 4.75, 5.25), ("-0.3 V .. 5.5 V", -0.3, 5.5), ("12 V +- 5 %", 11.4, 12.6),
        ("-12 V +- 10 %", -13.2, -10.8), ("5 V", 5.0, 5.0), ("5 V .. 5 V", 5.0, 5.0), ("5V+-5%", 4.75, 5.25),
    ],
)  # fmt: skip
def test_ranges_have_two_ends(text: str, low: float, high: float) -> None:
    """A range is read from two ends, from a middle with its spread, or from one quantity that is both ends."""
    assert read_range(q.VOLTS, text) == pytest.approx((low, high))


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("5 V .. 4 V", "swap the two ends"),
        ("5 .. 6 V", 'the unit is missing: write "5 V"'),
        ("5 V +- 5", 'the unit is missing: write "5 %"'),
        ("5 V .. 6 A", '"A" is no unit of volts: use V, mV or kV'),
    ],
)
def test_bad_ranges_are_refused(text: str, hint: str) -> None:
    """An end that cannot be read, or ends in the wrong order, are refused with a hint."""
    with pytest.raises(Wrong) as caught:
        read_range(q.VOLTS, text)
    assert caught.value.hint == hint

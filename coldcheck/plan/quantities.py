"""Quantities as a person writes them: ``"300 mm"``, ``"20 AWG"``, ``"12 V"``, ``"-0.3 V .. 5.5 V"``.

A quantity is read once into a plain float in the unit of its dimension and remembered by its text, since a plan
says the same few figures many times over. Temperatures stay in degrees Celsius; all else is SI.
"""

from __future__ import annotations

import re
from functools import lru_cache
from math import isfinite

import msgspec

__all__ = [
    "Dimension",
    "Measure",
    "Wrong",
    "read_quantity",
    "read_range",
    "show",
    "unit_meant",
    "unit_missing",
]


class Wrong(ValueError):
    """A value that cannot be read: what was expected instead, and a hint where the likely slip is known."""

    def __init__(self, expected: str, hint: str = "") -> None:
        super().__init__(expected, hint)
        self.expected = expected
        self.hint = hint


class Dimension(msgspec.Struct, frozen=True):
    """One kind of quantity: its name, the unit it is kept in, the units that may be written, bounds.

    ``low`` and ``high`` are the bounds of what is believable [unit]; ``low_open`` says that ``low`` itself is refused.
    """

    name: str
    unit: str
    units: dict[str, float]
    example: str
    low: float = float("-inf")
    high: float = float("inf")
    low_open: bool = False

    def __hash__(self) -> int:
        return hash(self.name)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Dimension) and self.name == other.name


_DEGREE = {"degC": 1.0, "°C": 1.0}
_SECONDS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "min": 60.0, "h": 3600.0, "d": 86400.0}

VOLTS = Dimension("volts", "V", {"V": 1.0, "mV": 1e-3, "kV": 1e3}, "5 V", -1e3, 1e3)
AMPS = Dimension("amps", "A", {"A": 1.0, "mA": 1e-3, "uA": 1e-6, "µA": 1e-6}, "3 A", 0.0, 1e4)
RATING = Dimension("a rating in amps", "A", {"A": 1.0, "mA": 1e-3}, "3 A", 0.0, 1e4, low_open=True)
WATTS = Dimension("watts", "W", {"W": 1.0, "mW": 1e-3, "kW": 1e3}, "65 W", 0.0, 1e5)
OHMS = Dimension(
    "ohms", "ohm", {"ohm": 1.0, "mohm": 1e-3, "Ω": 1.0, "mΩ": 1e-3, "uohm": 1e-6}, "20 mohm", 0.0, 1e6
)
LENGTH = Dimension(
    "a length", "m", {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "in": 0.0254, "ft": 0.3048}, "420 mm",
    0.0, 1e5, low_open=True,
)  # fmt: skip
AREA = Dimension("an area", "mm2", {"mm2": 1.0, "mm²": 1.0}, "0.75 mm2", 0.0, 1e3, low_open=True)
GAUGE = Dimension("a gauge", "AWG", {"AWG": 1.0}, "18 AWG", -3.0, 40.0)
SECONDS = Dimension("a time", "s", _SECONDS, "12 s", 0.0, 1e9)
SHARE = Dimension("a share", "", {"%": 1e-2}, "20 %", 0.0, 1.0)
EFFICIENCY = Dimension("an efficiency", "", {"%": 1e-2}, "90 %", 0.0, 1.0, low_open=True)
TEMPERATURE = Dimension("a temperature", "degC", _DEGREE, "30 degC", -60.0, 200.0)
KELVIN = Dimension("a difference of temperature", "K", {"K": 1.0}, "10 K", 0.0, 200.0, low_open=True)
KELVIN_PER_WATT = Dimension(
    "a rise of temperature for each watt", "K/W", {"K/W": 1.0}, "20 K/W", 0.0, 1e4, low_open=True
)
ENERGY = Dimension("an energy", "Wh", {"Wh": 1.0, "kWh": 1e3}, "480 Wh", 0.0, 1e7, low_open=True)
CAPACITANCE = Dimension(
    "a capacitance", "F", {"F": 1.0, "mF": 1e-3, "uF": 1e-6, "µF": 1e-6, "nF": 1e-9}, "1000 uF", 0.0, 1e3
)
TURNS = Dimension("a speed of rotation", "rpm", {"rpm": 1.0}, "2800 rpm", 0.0, 1e6, low_open=True)
FLOW = Dimension(
    "a flow of air",
    "m3/s",
    {"m3/h": 1 / 3600, "m3/min": 1 / 60, "m3/s": 1.0, "l/s": 1e-3, "CFM": 0.3048**3 / 60},
    "60 m3/h",
    0.0,
    100.0,
    low_open=True,
)
NOISE = Dimension("a noise level", "dB", {"dB": 1.0, "dB(A)": 1.0}, "25 dB", -20.0, 140.0)
HEIGHT = Dimension("a height above the sea", "m", {"m": 1.0, "km": 1e3, "ft": 0.3048}, "600 m", -430.0, 9e3)
SPEED = Dimension(
    "a speed", "bit/s", {"bit/s": 1.0, "kbit/s": 1e3, "Mbit/s": 1e6, "Gbit/s": 1e9}, "1 Gbit/s",
    0.0, 1e13, low_open=True,
)  # fmt: skip
BYTES_PER_SECOND = Dimension(
    "bytes a second", "B/s", {"B/s": 1.0, "kB/s": 1e3, "MB/s": 1e6, "GB/s": 1e9, "MiB/s": 2.0**20}, "180 MB/s",
    0.0, 1e12, low_open=True,
)  # fmt: skip

# Written for the unit that was meant, these are the slips that builders make.
_SLIPS = {
    "v": "V", "a": "A", "w": "W", "ma": "mA", "mv": "mV", "kv": "kV", "Volt": "V", "volt": "V", "volts": "V",
    "amp": "A", "amps": "A", "Amp": "A", "watt": "W", "watts": "W", "Ohm": "ohm", "ohms": "ohm", "mOhm": "mohm",
    "awg": "AWG", "sec": "s", "secs": "s", "seconds": "s", "minutes": "min", "C": "degC", "°": "degC", "ºC": "degC",
    "MM": "mm", "Mm": "mm", "inch": "in", "feet": "ft", "Gbit": "Gbit/s", "Mbit": "Mbit/s", "Gb/s": "Gbit/s",
    "Mb/s": "Mbit/s", "gbit/s": "Gbit/s", "mbit/s": "Mbit/s", "G": "Gbit/s", "GbE": "Gbit/s", "Gbps": "Gbit/s",
    "Mbps": "Mbit/s", "percent": "%", "mm^2": "mm2", "sqmm": "mm2", "hours": "h", "hour": "h",
    "k": "K", "wh": "Wh", "WH": "Wh", "RPM": "rpm", "cfm": "CFM", "dBA": "dB(A)", "m³/h": "m3/h", "uf": "uF",
}  # fmt: skip

_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d+)?|\.\d+))\s*(.*)", re.DOTALL)


def _units(dimension: Dimension) -> str:
    names = [u for u in dimension.units if u.isascii()]
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " or " + names[-1]


def _expected(dimension: Dimension) -> str:
    return f'{dimension.name}, written like "{dimension.example}"'


@lru_cache(maxsize=65536)
def read_quantity(dimension: Dimension, text: str) -> float:
    """Return the value of ``text`` in the unit of ``dimension``.

    Raises:
        Wrong: no number, no unit, a unit of something else, or a value past the bounds of the dimension.
    """
    found = _NUMBER.fullmatch(text.strip())
    if found is None or found[2].startswith(","):
        hint = "write the decimals after a point, not a comma" if found else ""
        raise Wrong(_expected(dimension), hint)
    number, unit = float(found[1]), found[2].strip()
    factor = dimension.units.get(unit)
    if factor is None:
        raise Wrong(_expected(dimension), _unit_hint(dimension, found[1], unit))
    value = number * factor
    if value < dimension.low or value > dimension.high or (dimension.low_open and value == dimension.low):
        raise Wrong(_expected(dimension), _bounds_hint(dimension))
    return value


def unit_meant(text: str) -> str:
    """Return the unit that ends a quantity, mended where a known slip stands for one; "" where there is none."""
    found = _NUMBER.fullmatch(text.strip())
    unit = found[2].strip() if found else ""
    return _SLIPS.get(unit, unit)


def unit_missing(dimension: Dimension, number: str) -> str:
    """Return a hint for a number that lacks its unit; of a speed nobody means bits."""
    if dimension is SPEED:
        return f'the unit is missing: write "{number} Mbit/s" or "1 Gbit/s"'
    return f'the unit is missing: write "{number} {next(iter(dimension.units))}"'


def _unit_hint(dimension: Dimension, number: str, unit: str) -> str:
    if not unit:
        return unit_missing(dimension, number)
    meant = _SLIPS.get(unit)
    if meant in dimension.units:
        return f'write "{number} {meant}"'
    return f'"{unit}" is no unit of {dimension.name}: use {_units(dimension)}'


def _bounds_hint(dimension: Dimension) -> str:
    low, high = _bare(dimension.low, dimension), _bare(dimension.high, dimension)
    if dimension.low_open and dimension.low == 0:
        return f"it must be more than zero, and at most {high}"
    return f"it must lie between {low} and {high}"


def _bare(value: float, dimension: Dimension) -> str:
    return f"{value * 100:g} %" if dimension.unit == "" else f"{value:g} {dimension.unit}"


@lru_cache(maxsize=16384)
def read_range(dimension: Dimension, text: str) -> tuple[float, float]:
    """Return (low, high) of ``"4.75 V .. 5.25 V"``, of ``"12 V +- 5 %"``, or of one quantity, which is both ends.

    Raises:
        Wrong: an end cannot be read, or the ends stand in the wrong order.
    """
    if " .. " in text:
        first, last = (read_quantity(dimension, end) for end in text.split(" .. ", 1))
        if first > last:
            raise Wrong(
                f'a range of {dimension.name} from low to high, like "4.75 V .. 5.25 V"', "swap the two ends"
            )
        return first, last
    middle, mark, spread = text.partition("+-")
    value = read_quantity(dimension, middle)
    if not mark:
        return value, value
    share = read_quantity(SHARE, spread)
    return value - abs(value) * share, value + abs(value) * share


class Measure(msgspec.Struct, frozen=True):
    """A number with its unit, as findings carry it: the number for machines, ``str()`` for people."""

    value: float
    unit: str

    def __str__(self) -> str:
        return show(self.value, self.unit)


# The prefixes a reader is used to, largest first, each with the least value it is used for.
_PREFIXES = {
    "A": (("", 1.0, 0.1), ("m", 1e-3, 0.0)),
    "W": (("", 1.0, 0.1), ("m", 1e-3, 0.0)),
    "ohm": (("", 1.0, 0.1), ("m", 1e-3, 0.0)),
    "m": (("", 1.0, 1.0), ("m", 1e-3, 0.0)),
    "bit/s": (("G", 1e9, 1e9), ("M", 1e6, 1e6), ("k", 1e3, 0.0)),
}


def show(value: float, unit: str) -> str:
    """Return a number with its unit as text: three decimals at most, a smaller prefix for what is small."""
    if value == 0 or not isfinite(value):
        return f"{value:g} {unit}".rstrip()
    for prefix, factor, least in _PREFIXES.get(unit, (("", 1.0, 0.0),)):
        if abs(value) >= least * (1 - 1e-9):
            places = 1 if prefix == "m" or unit == "%" else 3
            return f"{_trim(value / factor, places)} {prefix}{unit}".rstrip()
    raise AssertionError("the last prefix serves every value")


def _trim(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text

"""Copper data cable: categories, the length each speed reaches, and the resistance of a conductor.

Lengths are whole channels: the fixed link and the cords at both ends.
"""

from msgspec import Struct

CORD_26AWG_OHMS = 14.0
"""Resistance of one conductor of a 26 AWG stranded cord [ohm per 100 m].

Source: wire tables (from memory).
"""


class Category(Struct, frozen=True):
    """One category of balanced cable.

    name [-]; hertz [Hz]: bandwidth; typical_ohms [ohm per 100 m], limit_ohms [ohm per
    100 m]: one conductor at 20 degC.
    """

    name: str
    hertz: float
    typical_ohms: float
    limit_ohms: float


# In rising order. Source: TIA-568 for 5e to 8 (6 and 6A read, 5e and 8 from memory), ISO/IEC 11801 for 7
# and 7A (from memory). Ohms: limit 9.38 read (secondary) for Cat 6, from memory for 5, 5e, 6A and 8;
# typical 7 read (secondary) for Cat 6 and taken for all thicker conductors; typical 8.42 is 24 AWG copper
# (from memory). For Cat 3 the limit is what PoE Type 1 allows a pair set, 20. For 7 and 7A the limit is
# half of 190 ohm per km loop, IEC 61156-5 (from memory).
CATEGORIES = (
    Category("3", 16e6, 8.42, 20.0),
    Category("5", 100e6, 8.42, 9.38),
    Category("5e", 100e6, 8.42, 9.38),
    Category("6", 250e6, 7.0, 9.38),
    Category("6A", 500e6, 7.0, 9.38),
    Category("7", 600e6, 7.0, 9.5),
    Category("7A", 1000e6, 7.0, 9.5),
    Category("8", 2000e6, 7.0, 9.38),
)
_RANK = {category.name: rank for rank, category in enumerate(CATEGORIES)}
_SPELLINGS = {name.lower(): name for name in _RANK}


class Copper(Struct, frozen=True):
    """A speed on twisted pair, and how far it reaches.

    bits [bit/s]; name [-]: of the standard; reaches [-]: pairs (lowest category, metres [m]); risky [-]:
    the same where it may work but no standard says so.
    """

    bits: float
    name: str
    reaches: tuple[tuple[str, float], ...]
    risky: tuple[tuple[str, float], ...] = ()


# Source: IEEE 802.3 and TIA-568 tables. Read (secondary) but for 10BASE-T, 25GBASE-T and 40GBASE-T (from
# memory). 10GBASE-T on Cat 6: 37 m should work, to 55 m it depends on alien crosstalk, TIA TSB-155 (read).
# 5GBASE-T on Cat 5e: alien crosstalk is not specified, TIA TSB-5021 (read, secondary).
COPPER = (
    Copper(10e6, "10BASE-T", (("3", 100.0),)),
    Copper(100e6, "100BASE-TX", (("5", 100.0),)),
    Copper(1e9, "1000BASE-T", (("5e", 100.0),)),
    Copper(2.5e9, "2.5GBASE-T", (("5e", 100.0),)),
    Copper(5e9, "5GBASE-T", (("6", 100.0),), (("5e", 100.0),)),
    Copper(10e9, "10GBASE-T", (("6", 37.0), ("6A", 100.0)), (("6", 55.0),)),
    Copper(25e9, "25GBASE-T", (("8", 30.0),)),
    Copper(40e9, "40GBASE-T", (("8", 30.0),)),
)
_BY_BITS = {row.bits: row for row in COPPER}


def read_category(text: str) -> str:
    """The name of a category as this file spells it: "cat6a", "Cat. 6A" and "6a" are "6A".

    text [-]: with or without "cat" or "category". Errors: ValueError for a category that is not in
    `CATEGORIES`.
    """
    bare = text.strip().lower()
    for word in ("category", "cat.", "cat"):
        bare = bare.removeprefix(word)
    name = _SPELLINGS.get(bare.strip(" -"))
    if name is None:
        raise ValueError(f"{text[:40]!r} is no cable category; known are {', '.join(_RANK)}")
    return name


def category(name: str) -> Category:
    """The figures of a category.

    name [-]: any spelling. Errors: ValueError where unknown. Source: `CATEGORIES`.
    """
    return CATEGORIES[_RANK[read_category(name)]]


def at_least(name: str, lowest: str) -> bool:
    """Whether a category is as good as another or better.

    name [-], lowest [-]: any spelling. Errors: ValueError where unknown. Source: order of `CATEGORIES`, by
    bandwidth.
    """
    return _RANK[read_category(name)] >= _RANK[read_category(lowest)]


def speed_name(speed_bits: float) -> str | None:
    """The twisted-pair standard of a speed, as "1000BASE-T", or None.

    speed_bits [bit/s]. Source: IEEE 802.3.
    """
    row = _BY_BITS.get(speed_bits)
    return None if row is None else row.name


def longest(speed_bits: float, category: str) -> float | None:
    """The longest channel [m] that a standard grants a speed on a category; None where none does.

    speed_bits [bit/s]: exact, as in `COPPER`; category [-]: any spelling. Better cable reaches what lesser
    cable does.
    Errors: ValueError for an unknown category. Source: `COPPER`.
    """
    row = _BY_BITS.get(speed_bits)
    return None if row is None else _best(row.reaches, category)


def longest_at_risk(speed_bits: float, category: str) -> float | None:
    """The longest channel [m] on which a speed may work if alien crosstalk is kind; None where none is known.

    speed_bits [bit/s]: exact, as in `COPPER`; category [-]: any spelling. Never less than `longest`.
    Errors: ValueError for an unknown category. Source: TIA TSB-155, TIA TSB-5021, see `COPPER`.
    """
    row = _BY_BITS.get(speed_bits)
    return None if row is None else _best(row.reaches + row.risky, category)


def _best(reaches: tuple[tuple[str, float], ...], name: str) -> float | None:
    return max((metres for lowest, metres in reaches if at_least(name, lowest)), default=None)

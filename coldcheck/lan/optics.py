"""Fibre and direct-attach copper: how far each speed reaches on what."""

from msgspec import Struct

MULTIMODE = ("OM1", "OM2", "OM3", "OM4", "OM5")
"""Multimode fibre in rising order [-]: each reaches at least as far as those before it. Source: ISO/IEC 11801
(from memory)."""
SINGLE_MODE = ("OS1", "OS2")
"""Single-mode fibre in rising order [-]. Source: ISO/IEC 11801 (from memory)."""
DIRECT = "direct"
"""A passive copper cable with its plugs moulded on [-]."""

_LADDERS = (MULTIMODE, SINGLE_MODE, (DIRECT,))
_LADDER_OF = {medium: ladder for ladder in _LADDERS for medium in ladder}
_SPELLINGS = {medium.lower(): medium for medium in _LADDER_OF}


class Optic(Struct, frozen=True):
    """How far a speed reaches on one medium.

    bits [bit/s]; name [-]: of the standard; medium [-]: the least that reaches so far; metres [m].
    """

    bits: float
    name: str
    medium: str
    metres: float


# Source, all from memory: IEEE 802.3 clauses 38 and 59 (1 Gbit/s), 52 (10), 85 to 88 (40), 88, 92, 95 (100), 110, 112
# and 114 (25); SFF-8431 for passive copper at 10 Gbit/s. 2000 m on OS1: its loss may be 1 dB/km, ISO/IEC 11801 gives it
# a class of 2000 m. Left out: 1000BASE-LX on multimode, which needs a launch cord of its own; 100 Mbit/s; and 1 Gbit/s
# on direct-attach copper, which often works and is granted nowhere.
OPTICS = (
    Optic(1e9, "1000BASE-SX", "OM1", 275.0),
    Optic(1e9, "1000BASE-SX", "OM2", 550.0),
    Optic(1e9, "1000BASE-LX10", "OS1", 2000.0),
    Optic(1e9, "1000BASE-LX10", "OS2", 10000.0),
    Optic(10e9, "10GBASE-SR", "OM1", 33.0),
    Optic(10e9, "10GBASE-SR", "OM2", 82.0),
    Optic(10e9, "10GBASE-SR", "OM3", 300.0),
    Optic(10e9, "10GBASE-SR", "OM4", 400.0),
    Optic(10e9, "10GBASE-LR", "OS1", 2000.0),
    Optic(10e9, "10GBASE-LR", "OS2", 10000.0),
    Optic(10e9, "SFP+ passive copper", DIRECT, 7.0),
    Optic(25e9, "25GBASE-SR", "OM3", 70.0),
    Optic(25e9, "25GBASE-SR", "OM4", 100.0),
    Optic(25e9, "25GBASE-LR", "OS1", 2000.0),
    Optic(25e9, "25GBASE-LR", "OS2", 10000.0),
    Optic(25e9, "25GBASE-CR", DIRECT, 5.0),
    Optic(40e9, "40GBASE-SR4", "OM3", 100.0),
    Optic(40e9, "40GBASE-SR4", "OM4", 150.0),
    Optic(40e9, "40GBASE-LR4", "OS1", 2000.0),
    Optic(40e9, "40GBASE-LR4", "OS2", 10000.0),
    Optic(40e9, "40GBASE-CR4", DIRECT, 7.0),
    Optic(100e9, "100GBASE-SR4", "OM3", 70.0),
    Optic(100e9, "100GBASE-SR4", "OM4", 100.0),
    Optic(100e9, "100GBASE-LR4", "OS1", 2000.0),
    Optic(100e9, "100GBASE-LR4", "OS2", 10000.0),
    Optic(100e9, "100GBASE-CR4", DIRECT, 5.0),
)


def read_medium(text: str) -> str:
    """The name of a medium as this file spells it: "om3" and " OM3" are "OM3".

    text [-]. Errors: ValueError for a medium that is not known here.
    """
    name = _SPELLINGS.get(text.strip().lower())
    if name is None:
        raise ValueError(f"{text[:40]!r} is no fibre and not direct; known are {', '.join(_LADDER_OF)}")
    return name


def speed_name(speed_bits: float, medium: str) -> str | None:
    """The standard of a speed on a medium, as "10GBASE-SR", or None where there is none.

    speed_bits [bit/s]: exact, as in `OPTICS`; medium [-]: any case. Errors: ValueError for an unknown medium.
    Source: `OPTICS`.
    """
    row = _best(speed_bits, medium)
    return None if row is None else row.name


def longest(speed_bits: float, medium: str) -> float | None:
    """The longest run [m] that a standard grants a speed on a medium; None where none does.

    speed_bits [bit/s]: exact, as in `OPTICS`; medium [-]: "OM1" to "OM5", "OS1", "OS2", "direct", any case. Better
    fibre reaches what lesser fibre of its kind does.
    Errors: ValueError for an unknown medium. Source: `OPTICS`.
    """
    row = _best(speed_bits, medium)
    return None if row is None else row.metres


def _best(speed_bits: float, medium: str) -> Optic | None:
    name = read_medium(medium)
    ladder = _LADDER_OF[name]
    lesser = ladder[: ladder.index(name) + 1]
    rows = [row for row in OPTICS if row.bits == speed_bits and row.medium in lesser]
    return max(rows, key=lambda row: row.metres, default=None)

"""What is published of fuses: time-current gates, breaking capacity, resistance, sizes, fuse for each wire.

A gate says: at this multiple of its rating the fuse opens after at least so long, and within at most so
long. Between the gates nothing is published; `fuse` says how far one may reason.
"""

import math

from msgspec import Struct


class Gate(Struct, frozen=True):
    """At a multiple of the rating [-]: shortest and longest time until it opens [s], None where open."""

    multiple: float
    shortest: float | None
    longest: float | None


MINUTE = 60.0
HOUR = 3600.0

_CARRIES_IEC = Gate(1.5, 1 * HOUR, None)
_OPENS_IEC = Gate(2.1, None, 30 * MINUTE)
_CARRIES_UL = Gate(1.1, 4 * HOUR, None)
_OPENS_UL = Gate(1.35, None, 60 * MINUTE)

GATES: dict[str, tuple[tuple[float, tuple[Gate, ...]], ...]] = {
    # ISO 8820-3 / SAE J1284, from memory; one micro size (type 327), read second-hand, lies inside. Older
    # editions allow 1800 s at 1.35. At 3.5 some sizes have 0.08 s; at 6 no shortest time is sure.
    "blade": (
        (
            math.inf,
            (
                Gate(1.1, 100 * HOUR, None),
                Gate(1.35, 0.75, 600.0),
                Gate(2.0, 0.15, 5.0),
                Gate(3.5, 0.04, 0.5),
                Gate(6.0, None, 0.2),
            ),
        ),
    ),
    # IEC quick-acting, 0.125 to 10 A: read in a note that compares IEC and UL (CSDN).
    "iec-fast": (
        (
            math.inf,
            (_CARRIES_IEC, _OPENS_IEC, Gate(2.75, 0.05, 2.0), Gate(4.0, 0.01, 0.3), Gate(10.0, None, 0.02)),
        ),
    ),
    # IEC 60127-2 sheet 3, time-lag, low breaking: read in a sheet of 5 × 20 mm series 213 (LF213).
    "iec-slow": (
        (
            math.inf,
            (
                _CARRIES_IEC,
                Gate(2.1, None, 2 * MINUTE),
                Gate(2.75, 0.6, 10.0),
                Gate(4.0, 0.15, 3.0),
                Gate(10.0, 0.02, 0.3),
            ),
        ),
    ),
    # IEC 60127-2 sheet 5, time-lag, high breaking, 1 to 3.15 A and 4 to 6.3 A: read in a sheet (SCH).
    "iec-slow-high": (
        (
            3.99,
            (_CARRIES_IEC, _OPENS_IEC, Gate(2.75, 0.75, 80.0), Gate(4.0, 0.095, 5.0), Gate(10.0, 0.01, 0.15)),
        ),
        (
            math.inf,
            (_CARRIES_IEC, _OPENS_IEC, Gate(2.75, 0.75, 80.0), Gate(4.0, 0.15, 5.0), Gate(10.0, 0.02, 0.15)),
        ),
    ),
    # UL 248-14: read in the same note (CSDN).
    "ul-fast": ((math.inf, (_CARRIES_UL, _OPENS_UL, Gate(2.0, None, 120.0))),),
    "ul-slow": (
        (3.0, (_CARRIES_UL, _OPENS_UL, Gate(2.0, 5.0, 120.0))),
        (math.inf, (_CARRIES_UL, _OPENS_UL, Gate(2.0, 12.0, 120.0))),
    ),
    # Resettable: trip over hold is 2.1 to 3.0 in a sheet of small types (PTC), less in others; no times read.
    "ptc": ((math.inf, (Gate(1.0, math.inf, None), Gate(3.0, None, math.inf))),),
}
"""Gates by class, for ratings up to so many amperes, in order."""

KINDS: dict[str, tuple[str, ...]] = {
    "blade": ("blade",),
    "glass": ("iec-fast", "iec-slow"),
    "fast": ("iec-fast", "ul-fast"),
    "slow": ("iec-slow", "iec-slow-high", "ul-slow"),
    "iec-fast": ("iec-fast",),
    "iec-slow": ("iec-slow",),
    "iec-slow-high": ("iec-slow-high",),
    "ul-fast": ("ul-fast",),
    "ul-slow": ("ul-slow",),
    "ptc": ("ptc",),
}
"""Kinds of fuse by name, and which classes each may be. Of several, the least favourable answer counts.

"glass" is a 5 × 20 mm cartridge of unknown speed; "fast" and "slow" are cartridges of unknown standard.
"""

LOADED = {
    "blade": 0.75,
    "iec-fast": 1.0,
    "iec-slow": 1.0,
    "iec-slow-high": 1.0,
    "ul-fast": 0.75,
    "ul-slow": 0.75,
    "ptc": 1.0,
}
"""Share of its rating that a fuse may carry continuously at 25 degC, by class.

UL 75 % and IEC 100 %: read (FSO; rule of a component maker, DOC). Blade as UL, since it carries the same 1.1
times: common practice. A PTC is rated by what it holds.
"""

NEC_CONTINUOUS = 1 / 1.25
"""Share for a load of 3 hours and more: fuse 1.25 × the load. NEC 210.20(A), read (C125)."""

CHIP = 0.70
"""Share for a thin-film chip fuse, besides a factor for its ambient. Read (TAI)."""

UL_BREAKING = ((1.0, 35.0), (3.5, 100.0), (10.0, 200.0), (15.0, 750.0), (30.0, 1500.0))
"""Breaking capacity of UL 248-14 cartridges at 250 V AC: up to this rating, so many amperes. From memory."""

BLADE_BREAKING = 1000.0
"""At 32 V DC [A]. Data of type 287 quoted in a design note (ATO), read second-hand."""

HIGH_BREAKING = 1500.0
"""IEC 60127-2 sheet 5, at 250 V AC [A]. From memory."""

LOW_BREAKING = (35.0, 10.0)
"""IEC 60127-2 low breaking at 250 V AC: so many amperes, or so many times the rating if more. Read (LF213)."""

BLADE_VOLTS = 32.0
"""[V DC]. Read second-hand (ATO)."""

T_OHMS = {1.0: 0.1165, 1.25: 0.0817, 1.6: 0.0551, 2.0: 0.0452, 2.5: 0.0305, 3.15: 0.0231, 4.0: 0.017}
"""Cold resistance of 5 × 20 mm time-lag fuses, by rating [ohm]. Series 213 (LF213), read."""

T_DROP = {1.0: 0.15, 1.25: 0.15, 1.6: 0.15, 2.0: 0.15, 2.5: 0.12, 3.15: 0.1}
"""Greatest drop of the same fuses at their rated current [V]. Series 213 (LF213), read."""

T_MELTING = {1.0: 19.2, 1.25: 27.15, 1.6: 44.2, 2.0: 92.705, 2.5: 138.0, 3.15: 202.0}
"""Melting integral of the same fuses [A2 s]. Series 213 (LF213), read."""

BLADE_OHMS = {
    1.0: 0.123, 2.0: 0.0535, 3.0: 0.0311, 4.0: 0.0228, 5.0: 0.01785, 7.5: 0.01091, 10.0: 0.0077, 15.0: 0.0048,
    20.0: 0.00338, 25.0: 0.00252, 30.0: 0.00197, 35.0: 0.00161, 40.0: 0.00144,
}  # fmt: skip
"""Cold resistance of blade fuses of the middle size, by rating [ohm]. Sheet of one series, from memory."""

BLADE_DROP = {
    1.0: 0.176, 2.0: 0.141, 3.0: 0.137, 4.0: 0.136, 5.0: 0.128, 7.5: 0.116, 10.0: 0.109, 15.0: 0.102, 20.0: 0.098,
    25.0: 0.092, 30.0: 0.084, 35.0: 0.087, 40.0: 0.096,
}  # fmt: skip
"""Usual drop of the same fuses at their rated current, hot [V]. Sheet of one series, from memory."""

HOLDER_OHMS = (0.002, 0.005)
"""What a fuse holder adds, least and most [ohm]. Common practice."""


class Ptc(Struct, frozen=True):
    """A resettable fuse: holds and trips at [A], up to [V], least new and most after a trip [ohm]."""

    hold: float
    trip: float
    volts: float
    least_ohms: float
    tripped_ohms: float


PTCS = (Ptc(0.1, 0.3, 15.0, 0.7, 6.0), Ptc(0.2, 0.5, 9.0, 0.4, 3.5), Ptc(0.35, 0.75, 6.0, 0.25, 1.2))
"""Small surface-mounted types, by rising hold current. A sheet of size 0805 (PTC), read."""

FAA_11_3 = {
    # gauge: fuse, breaker
    8: (50.0, 50.0),
    10: (30.0, 40.0),
    12: (20.0, 30.0),
    14: (15.0, 20.0),
    16: (10.0, 15.0),
    18: (10.0, 10.0),
    20: (5.0, 7.5),
    22: (5.0, 5.0),
}
"""Greatest fuse and breaker for a copper wire, by gauge [A]. FAA AC 43.13-1B table 11-3, read."""

_R10 = (0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0)
_UL = (0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 15.0, 20.0, 25.0, 30.0)

SIZES: dict[str, tuple[float, ...]] = {
    # ranges read (BLS): mini 2 to 30 A, regular 1 to 40 A, maxi 20 to 80 A; the steps from memory
    "blade": (1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40, 50, 60, 70, 80),
    # IEC 60127, the R10 series, from memory; it goes on below 0.5 A
    "iec-fast": _R10,
    "iec-slow": _R10,
    # the ratings of the gates above
    "iec-slow-high": tuple(size for size in _R10 if 1.0 <= size <= 6.3),
    # usual steps of cartridges on sale, from memory
    "ul-fast": _UL,
    "ul-slow": _UL,
    "ptc": (),
}
"""Usual ratings by class [A]; of PTC fuses each maker has its own."""

"""Wire: size, resistance, published maximum resistance, current-carrying capacity.

Every resistance here is of ONE conductor. A circuit has two, out and back: count both, or use
`drop.loop_drop`.
"""

import math

from msgspec import Struct

CIRCULAR_MIL = math.pi / 4 * 25.4e-6**2
"""Area of a circle 0.001 in across [m2]."""

FOOT = 0.3048
"""[m]"""

LAY = 1.02
"""Stranded over solid resistance: strands are longer than the wire they make up. ASTM B496."""

TINNED = 1.03
"""Tinned over plain stranded copper, at most. Computed from IEC 60228 class 5: 1.026 to 1.030."""


class UnknownChoiceError(LookupError):
    """A name that is not among the choices; carries what was asked for, the name, and the choices."""

    def __init__(self, what: str, name: str, choices: tuple[str, ...]) -> None:
        self.what = what
        self.name = name
        self.choices = choices
        super().__init__(f"unknown {what} {name!r}; choices: {', '.join(choices)}")


class Metal(Struct, frozen=True):
    """What a conductor is made of: resistivity [ohm m] and temperature coefficient [1/K], both at 20 degC."""

    resistivity: float
    alpha: float

    @property
    def iacs(self) -> float:
        """Conductivity over that of annealed copper, the International Annealed Copper Standard [-]."""
        return COPPER.resistivity / self.resistivity


COPPER = Metal(1.7241e-8, 0.00393)
"""Annealed copper, 100 % IACS. IEC 60028: resistivity from memory; the coefficient read in a quotation."""

METALS = {
    "copper": COPPER,
    # 61 % IACS. IEC 60889, from memory.
    "aluminium": Metal(2.8264e-8, 0.00403),
    # Some 63 % IACS: ASTM B566 class 10, at most 0.02743 ohm mm2/m, from memory. Cheap wire may hold less
    # copper. Coefficient computed: both metals side by side, weighted by the current that each carries.
    "copper-clad-aluminium": Metal(2.743e-8, 0.00401),
}
"""Metals by name."""


def metal_named(name: str) -> Metal:
    """Look up a metal.

    name: one of METALS [-]
    Gives: its resistivity and temperature coefficient.
    Errors: UnknownChoiceError, which lists the choices.
    Source: beside each row of METALS.
    """
    try:
        return METALS[name]
    except KeyError:
        raise UnknownChoiceError("metal", name, tuple(METALS)) from None


def awg_diameter(gauge: float) -> float:
    """Diameter of a solid wire of an American wire gauge: 0.127 mm × 92^((36 - gauge)/39).

    gauge: number of the gauge; 0, 00, 000, 0000 are 0, -1, -2, -3; fractions are allowed [-]
    Gives: [m]
    Errors: ValueError outside -3 to 56, the range of the standard.
    Source: ASTM B258.
    """
    if not -3 <= gauge <= 56:
        raise ValueError(f"gauge {gauge} is outside -3 (0000) to 56")
    return 0.127e-3 * math.pow(92.0, (36 - gauge) / 39)


def awg_area(gauge: float) -> float:
    """Cross-section of a solid wire of an American wire gauge.

    gauge: as for `awg_diameter` [-]
    Gives: [m2]
    Errors: as `awg_diameter`.
    Source: ASTM B258.
    """
    return math.pi / 4 * awg_diameter(gauge) ** 2


def awg_of_area(area: float) -> float:
    """American wire gauge of a cross-section, usually between two whole numbers; undoes `awg_area`.

    area: cross-section of the metal [m2]
    Gives: number of the gauge, 0000 being -3 [-]
    Errors: ValueError when the area is not positive. Thicker than 0000 gives less than -3: the law goes on.
    Source: ASTM B258.
    """
    if not area > 0:
        raise ValueError(f"area {area} m2 is not positive")
    return 36 - 39 * math.log(math.sqrt(4 * area / math.pi) / 0.127e-3, 92)


def temperature_factor(temperature: float, metal: str = "copper") -> float:
    """Resistance at a temperature over that at 20 degC: 1 + alpha × (temperature - 20).

    temperature: of the conductor, not of the air [degC]
    metal: one of METALS [-]
    Gives: [-]
    Errors: ValueError where the straight line reaches zero (copper: -234.5 degC); UnknownChoiceError.
    Valid: about -50 to 200 degC.
    Source: IEC 60028; FAA AC 43.13-1B paragraph 11-66(4) writes the same law as (234.5 + T)/254.5.
    """
    factor = 1 + metal_named(metal).alpha * (temperature - 20)
    if not factor > 0:
        raise ValueError(f"{temperature} degC is below the range of the resistance law")
    return factor


def conductor_ohms(
    length: float,
    area: float,
    *,
    temperature: float = 20.0,
    metal: str = "copper",
    stranded: bool = True,
    parallel: int = 1,
) -> float:
    """Resistance of one conductor as its nominal area has it: resistivity × length / area.

    length: of the conductor, one way [m]
    area: cross-section of the metal [m2]
    temperature: of the conductor [degC]
    metal: one of METALS [-]
    stranded: strands add 2 % for their lay [-]
    parallel: equal conductors side by side [-]
    Gives: [ohm]
    Errors: ValueError for a negative length, an area that is not positive, no conductor; UnknownChoiceError.
    Valid: direct current. What is sold as this size may have less metal: see `worst_ohms`.
    Source: IEC 60028; ASTM B496 for the lay.
    """
    if not (length >= 0 and area > 0 and parallel >= 1):
        raise ValueError(f"no such conductor: length {length} m, area {area} m2, {parallel} in parallel")
    solid = metal_named(metal).resistivity * length / area
    return solid * temperature_factor(temperature, metal) * (LAY if stranded else 1.0) / parallel


FAA_11_9 = {8: 0.70, 10: 1.26, 12: 2.02, 14: 3.06, 16: 4.81, 18: 6.23, 20: 9.88, 22: 16.2, 24: 28.4}
"""Maximum resistance of tin-plated stranded hook-up wire at 20 degC, by gauge [ohm/1000 ft].

FAA AC 43.13-1B table 11-9. Row 8 is taken from the worked example of its page 11-26. Row 24 is an outlier:
30 % above what its own area gives, as a high-strength alloy would be.
"""

IEC_60228 = {
    # mm2: class 2 plain, class 2 tinned, class 5 plain, class 5 tinned
    0.5: (36.0, 36.7, 39.0, 40.1),
    0.75: (24.5, 24.8, 26.0, 26.7),
    1.0: (18.1, 18.2, 19.5, 20.0),
    1.5: (12.1, 12.2, 13.3, 13.7),
    2.5: (7.41, 7.56, 7.98, 8.21),
    4.0: (4.61, 4.70, 4.95, 5.09),
    6.0: (3.08, 3.11, 3.30, 3.39),
    10.0: (1.83, 1.84, 1.91, 1.95),
    16.0: (1.15, 1.16, 1.21, 1.24),
    25.0: (0.727, 0.734, 0.780, 0.795),
    35.0: (0.524, 0.529, 0.554, 0.565),
}
"""Maximum resistance of metric copper conductors at 20 degC, by nominal area in mm2 [ohm/km].

IEC 60228 tables 2 and 3. Up to 4 mm2 the plain columns and class 5 tinned were read in copies; class 2
tinned and every row from 6 mm2 are from memory.
"""


def iec_60228_max_ohms_per_metre(area: float, *, flexible: bool = True, tinned: bool = False) -> float | None:
    """Greatest resistance that a copper conductor sold as a metric size may have at 20 degC.

    area: nominal cross-section [m2]
    flexible: class 5, fine strands; else class 2, coarse strands [-]
    tinned: strands coated with tin [-]
    Gives: [ohm/m]; None where the table has no such size.
    Valid: the sizes of IEC_60228, 0.5 to 35 mm2.
    Source: IEC 60228; see IEC_60228 for how sure.
    """
    # 0.75e-6 × 1e6 is not exactly 0.75
    row = IEC_60228.get(round(area * 1e6, 6))
    return None if row is None else row[2 * flexible + tinned] * 1e-3


def faa_max_ohms_per_metre(gauge: float) -> float | None:
    """Greatest resistance of tin-plated stranded hook-up wire sold as an American gauge, at 20 degC.

    gauge: number of the gauge [-]
    Gives: [ohm/m]; None where the table has no such gauge.
    Valid: even gauges 8 to 24.
    Source: FAA AC 43.13-1B table 11-9.
    """
    per_thousand_feet = FAA_11_9.get(int(gauge)) if gauge == int(gauge) else None
    return None if per_thousand_feet is None else per_thousand_feet / (1000 * FOOT)


def worst_ohms(
    length: float,
    *,
    gauge: float | None = None,
    area: float | None = None,
    temperature: float = 20.0,
    metal: str = "copper",
    stranded: bool = True,
    tinned: bool = True,
    parallel: int = 1,
) -> float:
    """Greatest resistance of one conductor sold as a gauge or as a metric area: the worst corner for drop.

    The greater of `conductor_ohms` and the published maximum: FAA table 11-9 for stranded copper of a
    gauge, IEC 60228 class 5 (stranded) or class 2 (not) for copper of a metric area. Where nothing is
    published, tinned stranded copper gets 3 %; other metals stay as computed.

    length: of the conductor, one way [m]
    gauge: American gauge; give this or the area [-]
    area: nominal metric cross-section; give this or the gauge [m2]
    temperature: of the conductor [degC]
    metal: one of METALS [-]
    stranded: flexible, many strands; else solid [-]
    tinned: strands coated with tin, as most hook-up wire is [-]
    parallel: equal conductors side by side [-]
    Gives: [ohm]
    Errors: ValueError for both or neither of gauge and area, and as `conductor_ohms`; UnknownChoiceError.
    Source: FAA AC 43.13-1B table 11-9; IEC 60228.
    """
    if gauge is not None and area is None:
        metal_area = awg_area(gauge)
        published = faa_max_ohms_per_metre(gauge) if stranded else None
    elif area is not None and gauge is None:
        metal_area = area
        published = iec_60228_max_ohms_per_metre(area, flexible=stranded, tinned=stranded and tinned)
    else:
        raise ValueError("give a gauge or an area, not both")
    ohms = conductor_ohms(
        length, metal_area, temperature=temperature, metal=metal, stranded=stranded, parallel=parallel
    )
    if metal != "copper":
        return ohms
    if published is None:
        return ohms * TINNED if stranded and tinned else ohms
    return max(ohms, published * length * temperature_factor(temperature) / parallel)


THICKEST_BUNDLED = 10
"""The thickest gauge of the column for bundles."""

AMPACITY_TABLES = ("chassis", "transmission", "bundle")

AMPACITY = {
    -3: (380.0, 302.0, None),
    -2: (328.0, 239.0, None),
    -1: (283.0, 190.0, None),
    0: (245.0, 150.0, None),
    1: (211.0, 119.0, None),
    2: (181.0, 94.0, None),
    3: (158.0, 75.0, None),
    4: (135.0, 60.0, None),
    5: (118.0, 47.0, None),
    6: (101.0, 37.0, None),
    7: (89.0, 30.0, None),
    8: (73.0, 24.0, None),
    9: (64.0, 19.0, None),
    10: (55.0, 15.0, 17.0),
    11: (47.0, 12.0, None),
    12: (41.0, 9.3, 13.0),
    13: (35.0, 7.4, None),
    14: (32.0, 5.9, 10.0),
    15: (28.0, 4.7, None),
    16: (22.0, 3.7, 7.0),
    17: (19.0, 2.9, None),
    18: (16.0, 2.3, 6.0),
    19: (14.0, 1.8, None),
    20: (11.0, 1.5, 4.0),
    21: (9.0, 1.2, None),
    22: (7.0, 0.92, 3.0),
    23: (4.7, 0.729, None),
    24: (3.5, 0.577, 2.5),
    25: (2.7, 0.457, None),
    26: (2.2, 0.361, None),
    27: (1.7, 0.288, None),
    28: (1.4, 0.226, None),
    29: (1.2, 0.182, None),
    30: (0.86, 0.142, None),
}
"""Current a copper wire may carry, by gauge; one column for each of AMPACITY_TABLES [A].

chassis: single short wires in free air. Handbook of Electronic Tables and Formulas; its rows 0000 to 9 are
from memory, those of the column beside checked against its own law.
transmission: 700 circular mils for each ampere, which looks after the drop of long runs. Same handbook.
bundle: 33 and more wires together, a fifth of them loaded, 105 degC insulation, 70 degC around, thin air at
60 000 ft. FAA AC 43.13-1B table 11-9. It has its bundle built in: apply no `bundle_factor` on top.
"""


def ampacity(gauge: float, table: str) -> float | None:
    """Current that a copper wire may carry; between two rows the thinner one counts.

    gauge: American gauge; of a metric wire, `awg_of_area` [-]
    table: one of AMPACITY_TABLES; they differ up to eightfold, so say which was used [-]
    Gives: [A]; None for a wire thicker or thinner than the table.
    Errors: UnknownChoiceError, which lists the tables.
    Valid: copper, gauges 0000 to 30 (bundle: 10 to 24).
    Source: below AMPACITY, for each table.
    """
    if table not in AMPACITY_TABLES:
        raise UnknownChoiceError("ampacity table", table, AMPACITY_TABLES)
    # a gauge worked out from an area misses the whole number by rounding
    gauge = round(gauge, 6)
    if gauge < min(AMPACITY) or (table == "bundle" and gauge < THICKEST_BUNDLED):
        return None
    column = AMPACITY_TABLES.index(table)
    thinner = (row[column] for number, row in AMPACITY.items() if number >= gauge)
    return next((amps for amps in thinner if amps is not None), None)


NEC_BUNDLE = ((3, 1.0), (6, 0.8), (9, 0.7), (20, 0.5), (30, 0.45), (40, 0.4))
"""Up to so many conductors, this share of the ampacity; beyond the last, 0.35. NEC 310.15(B)(3)(a)."""


def bundle_factor(conductors: int) -> float:
    """Share of its free-air capacity that a wire keeps among others.

    conductors: that carry current at the same time; the return wire of a pair counts (common practice) [-]
    Gives: [-]
    Errors: ValueError for less than one.
    Source: NEC 2014 table 310.15(B)(3)(a).
    """
    if conductors < 1:
        raise ValueError(f"a bundle of {conductors} conductors")
    return next((factor for most, factor in NEC_BUNDLE if conductors <= most), 0.35)

"""Power over Ethernet: the limits of the types and classes, what a cable takes, and who is fed from a budget.

PSE is the feeding side, PD the fed side. A pair set is two pairs, out on one and back on the other; class 5
and above use two pair sets, which halves the resistance. Resistances are taken as given: figures of a cable
hold at 20 degC, and a warm bundle has 0.39 % more per degree; the loops of the types are limits at any time.
"""

from collections.abc import Iterable
from math import ceil, sqrt

from msgspec import Struct

from coldcheck.lan import cable


class PseType(Struct, frozen=True):
    """The limits of one PSE type, per port unless said otherwise.

    pse_type [-]: 1 to 4; standard [-]; pse_watts [W]: most at the port; pd_watts [W]: most at the PD;
    pse_volts_min [V], pse_volts_max [V]: at the port; pd_volts_min [V]: at the PD; loop_ohms [ohm]: most of
    one pair set; amps [A], amps_limit [A]: of one pair set, nominal and with imbalance; pair_sets [-]:
    powered at full power; category [-]: lowest cable; highest_class [-]: that is fed in full.
    """

    pse_type: int
    standard: str
    pse_watts: float
    pd_watts: float
    pse_volts_min: float
    pse_volts_max: float
    pd_volts_min: float
    loop_ohms: float
    amps: float
    amps_limit: float
    pair_sets: int
    category: str
    highest_class: int


class PoeClass(Struct, frozen=True):
    """One class.

    klass [-]: 0 to 8; type_needed [-]: lowest PSE type for full power; pse_watts [W]: at the
    port; pd_watts [W]: at the PD.
    """

    klass: int
    type_needed: int
    pse_watts: float
    pd_watts: float


class DualClass(Struct, frozen=True):
    """One class of a PD that asks on each pair set by itself (dual signature).

    name [-]: "1D" to "5D"; pse_watts [W], pd_watts [W]: of ONE pair set, at the port and at the PD.
    """

    name: str
    pse_watts: float
    pd_watts: float


class Feed(Struct, frozen=True):
    """A PD at the end of a cable.

    amps [A]: over all pair sets; pse_watts [W]: at the port; loss [W]: in the cable; pd_volts [V].
    """

    amps: float
    pse_watts: float
    loss: float
    pd_volts: float


# Source: IEEE 802.3af-2003 and 802.3at-2009 (clause 33), 802.3bt-2018 (clause 145), as in an overview by
# the Ethernet Alliance, April 2018, and a cable loss sheet; read (secondary). From memory: volts of type 3,
# ohms of types 3 and 4. The nominal current of type 4 is computed: 90 W / 52 V / 2.
TYPES = {
    1: PseType(1, "IEEE 802.3af", 15.4, 12.95, 44.0, 57.0, 37.0, 20.0, 0.350, 0.350, 1, "3", 3),
    2: PseType(2, "IEEE 802.3at", 30.0, 25.5, 50.0, 57.0, 42.5, 12.5, 0.600, 0.600, 1, "5", 4),
    3: PseType(3, "IEEE 802.3bt", 60.0, 51.0, 50.0, 57.0, 42.5, 12.5, 0.600, 0.600, 2, "5", 6),
    4: PseType(4, "IEEE 802.3bt", 90.0, 71.3, 52.0, 57.0, 41.1, 12.5, 0.865, 0.960, 2, "5", 8),
}

# Source: class table of the same overview and of switch manuals, read (secondary). Class 0 is treated as
# class 3.
CLASSES = (
    PoeClass(0, 1, 15.4, 12.95),
    PoeClass(1, 1, 4.0, 3.84),
    PoeClass(2, 1, 7.0, 6.49),
    PoeClass(3, 1, 15.4, 12.95),
    PoeClass(4, 2, 30.0, 25.5),
    PoeClass(5, 3, 45.0, 40.0),
    PoeClass(6, 3, 60.0, 51.0),
    PoeClass(7, 4, 75.0, 62.0),
    PoeClass(8, 4, 90.0, 71.3),
)

# Source: IEEE 802.3bt-2018 clause 145 (from memory). The worst channel of types 2 to 4 rebuilds 4D and 5D.
DUAL_CLASSES = {
    row.name: row
    for row in (
        DualClass("1D", 4.0, 3.84),
        DualClass("2D", 7.0, 6.49),
        DualClass("3D", 15.4, 12.95),
        DualClass("4D", 30.0, 25.5),
        DualClass("5D", 45.0, 35.6),
    )
}

PINS = {"A": "1,2,3,6", "B": "4,5,7,8"}
"""The pins of the two pair sets, by the name of the alternative. Source: IEEE 802.3 table 145-3, as quoted in the
documentation of an operating system kernel, read (secondary).
"""

PRIORITIES = ("critical", "high", "low")
"""Who is served first when a budget is short. Source: PoE pages of switch manuals, read."""

LLDP_STEP = 0.1
"""The step in which a PD asks for watts by LLDP [W]. Source: IEEE 802.3 clause 79 (from memory)."""

#: Sums of tenths of watts are not exact in binary: what fits exactly must fit.
_NEAR = 1e-9


def poe_class(klass: int) -> PoeClass:
    """The row of a class. klass [-]: 0 to 8. Errors: ValueError otherwise. Source: `CLASSES`."""
    if not 0 <= klass < len(CLASSES):
        raise ValueError(f"there is no PoE class {klass}; classes are 0 to 8")
    return CLASSES[klass]


def pse(pse_type: int) -> PseType:
    """The row of a PSE type. pse_type [-]: 1 to 4. Errors: ValueError otherwise. Source: `TYPES`."""
    if pse_type not in TYPES:
        raise ValueError(f"there is no PoE type {pse_type}; types are 1 to 4")
    return TYPES[pse_type]


def highest_class(pse_type: int) -> int:
    """The highest class [-] that a PSE type feeds in full.

    pse_type [-]: 1 to 4. A PD of a higher class works on it too, but only at reduced power: what is granted
    is the power of the highest class of the type, and the PD must get by with it. Errors: ValueError.
    Source: `TYPES`.
    """
    return pse(pse_type).highest_class


def type_needed(klass: int) -> int:
    """The lowest PSE type [-] that feeds a class in full; a lower one works only at reduced power.

    klass [-]: 0 to 8. Errors: ValueError. Source: `CLASSES`.
    """
    return poe_class(klass).type_needed


def reserved_watts(klass: int) -> float:
    """The watts [W] at the port that a switch sets aside for a class when it reserves by class.

    klass [-]: 0 to 8. Errors: ValueError. Source: switch guides for classes 0 to 4, read (secondary);
    `CLASSES` above.
    """
    return poe_class(klass).pse_watts


def dual_watts(one: str, other: str) -> tuple[float, float]:
    """The watts [W] of a PD with a signature on each pair set: at the port, and at the PD.

    one, other [-]: the class of each pair set, "1D" to "5D"; they need not be the same. Errors: ValueError for
    another name. Source: `DUAL_CLASSES`.
    """
    for name in (one, other):
        if name not in DUAL_CLASSES:
            raise ValueError(f"there is no dual-signature class {name}; classes are 1D to 5D")
    a, b = DUAL_CLASSES[one], DUAL_CLASSES[other]
    return a.pse_watts + b.pse_watts, a.pd_watts + b.pd_watts


def lldp_watts(watts: float) -> float:
    """Watts [W] that are asked for by LLDP where so much is drawn: the next step of 0.1 W.

    watts [W]: from 0. Errors: ValueError below. Source: `LLDP_STEP`.
    """
    if not watts >= 0:
        raise ValueError("watts start at 0")
    return ceil(watts / LLDP_STEP - _NEAR) * LLDP_STEP


def pair_sets_of(klass: int) -> int:
    """Pair sets [-] that carry a class: 2 from class 5.

    klass [-]: 0 to 8. Errors: ValueError. Source: IEEE 802.3bt.
    """
    return 2 if poe_class(klass).klass >= 5 else 1


def loop_ohms(
    length: float | None,
    *,
    pse_type: int,
    category: str | None = None,
    ohms_per_100m: float | None = None,
    pair_sets: int = 1,
) -> float:
    """Loop resistance [ohm], out and back, of the powered pairs of a cable.

    length [m]: None where unknown, then the worst channel that the type allows; category [-]: counts with
    the limit of its conductors; ohms_per_100m [ohm per 100 m]: one conductor, goes before the category;
    pair_sets [-]: 1 or 2; pse_type [-]: whose worst channel (20 ohm on 100 m for type 1, else 12.5) is
    taken where nothing is known. One pair set has the ohms of ONE conductor of that length: two in parallel
    out, two back.
    Errors: ValueError for a negative length or resistance, an unknown category or type, other pair sets.
    Source: IEEE 802.3 clauses 33 and 145; geometry of the pair set.
    """
    if pair_sets not in (1, 2):
        raise ValueError("power goes over 1 or 2 pair sets")
    worst = pse(pse_type).loop_ohms
    if length is None:
        return worst / pair_sets
    if ohms_per_100m is None:
        ohms_per_100m = worst if category is None else cable.category(category).limit_ohms
    if not (length >= 0 and ohms_per_100m >= 0):
        raise ValueError("length and resistance of a cable are not negative")
    return ohms_per_100m * length / 100 / pair_sets


def feed(pd_watts: float, loop_ohms: float, volts: float) -> Feed | None:
    """The point at which a PD of constant power settles, or None where the cable cannot carry it.

    pd_watts [W]: at the PD, from 0; loop_ohms [ohm]: from 0; volts [V]: at the PSE, above 0.
    I = (V - sqrt(V^2 - 4 R P)) / (2 R), the root of less current, written 2 P / (V + sqrt(...)) to hold for
    R = 0 too; there is none where 4 R P > V^2. Errors: ValueError outside the ranges.
    Source: quadratic of a constant-power load; its inverse in a cable loss sheet, steps 1 to 4.
    """
    _check(pd_watts, loop_ohms, volts)
    under_root = volts * volts - 4 * loop_ohms * pd_watts
    if under_root < 0:
        return None
    amps = 2 * pd_watts / (volts + sqrt(under_root))
    return Feed(amps, volts * amps, amps * amps * loop_ohms, volts - amps * loop_ohms)


def feed_amps(amps: float, loop_ohms: float, volts: float) -> Feed | None:
    """The point of a PD of constant current, or None where the cable takes all the volts.

    amps [A]: over all pair sets, from 0; loop_ohms [ohm]: from 0; volts [V]: at the port, above 0. Errors:
    ValueError outside the ranges. Source: law of Ohm.
    """
    _check(amps, loop_ohms, volts)
    left = volts - amps * loop_ohms
    return Feed(amps, volts * amps, amps * amps * loop_ohms, left) if left > 0 else None


def pse_watts_for(pd_watts: float, loop_ohms: float, volts: float) -> float | None:
    """Watts [W] that the port gives for a PD of a given power; None where the cable cannot carry it.

    pd_watts [W]; loop_ohms [ohm]; volts [V]. Ranges, errors and source as `feed`.
    """
    point = feed(pd_watts, loop_ohms, volts)
    return None if point is None else point.pse_watts


def pd_watts_from(pse_watts: float, loop_ohms: float, volts: float) -> float | None:
    """Watts [W] that reach the PD when the port gives its watts: P - (P / V)^2 R.

    pse_watts [W]: at the port, from 0; loop_ohms [ohm]: from 0; volts [V]: at the PSE, above 0. None beyond
    P = V^2 / (2 R), where more current brings less power and no PD can settle. Errors: ValueError outside
    the ranges.
    Source: cable loss sheet, steps 1 to 4: I = P / V, drop I R.
    """
    _check(pse_watts, loop_ohms, volts)
    amps = pse_watts / volts
    if 2 * amps * loop_ohms > volts:
        return None
    return pse_watts - amps * amps * loop_ohms


def worst_channel(klass: int) -> tuple[float, float]:
    """The lowest PSE volts [V] and the highest loop [ohm] a class may meet, over all its pair sets.

    klass [-]: 0 to 8. With these `pd_watts_from` turns the class's PSE watts into its PD watts, within 0.07
    W for every class: one formula rebuilds the published table. Errors: ValueError. Source: `TYPES`.
    """
    row = pse(type_needed(klass))
    return row.pse_volts_min, row.loop_ohms / pair_sets_of(klass)


def share_budget(
    budget: float, asked: Iterable[tuple[int, int, float]], guard: float = 0.0
) -> tuple[list[int], list[int], float]:
    """Which ports a budget feeds: (fed ports, unfed ports, watts left [W]), ports in the order served.

    budget [W]; asked [-]: (priority, port, watts [W] at the PSE) with 0 the most urgent priority; guard [W]: what
    must be left for one more to be fed, whatever it asks. Urgent first, inside one priority the lower port number
    first; a port that does not fit is passed over and a later, smaller one may fit.
    Errors: ValueError for negative watts or guard.
    Source: switch manuals for the order and the guard, read; that smaller ones are tried is common practice, not
    in any standard.
    """
    if not guard >= 0:
        raise ValueError("a guard starts at 0 W")
    fed: list[int] = []
    unfed: list[int] = []
    left = budget
    for _, port, watts in sorted(asked):
        if not watts >= 0:
            raise ValueError(f"port {port} asks for negative watts")
        if max(watts, guard) <= left + _NEAR:
            left -= watts
            fed.append(port)
        else:
            unfed.append(port)
    return fed, unfed, left


def _check(watts: float, ohms: float, volts: float) -> None:
    if not (watts >= 0 and ohms >= 0 and volts > 0):
        raise ValueError("watts and ohms start at 0, volts above 0")

"""Fixed links and the cords at their ends: how long together, how tightly bent, how hard pulled."""

CHANNEL_MAX = 100.0
"""Longest channel, link and cords [m]. Source: TIA-568, ISO/IEC 11801, read (secondary)."""
LINK_MAX = 90.0
"""Longest fixed link [m]. Source: TIA-568, ISO/IEC 11801, read (secondary)."""
CORDS_MAX = 10.0
"""All cords of a channel together, beside the longest link [m]. Source: as `LINK_MAX`."""
WORK_AREA_CORD_MAX = {"TIA": 22.0, "ISO": 20.0}
"""Longest cord from the outlet to a machine [m], however short the link. Source: TIA-568 and ISO/IEC 11801,
read (secondary)."""
EXTRA_LOSS = {24: 0.2, 26: 0.5}
"""How much more a stranded cord of that AWG loses than solid cable of its length [1]. Source: TIA-568, read
(secondary)."""
ROOM_CORDS = {24: 5.0, 26: 3.5}
"""Patch and equipment cords at the switch, taken off before the work area gets its own [m], by AWG. Source: TIA-568
open-office cabling (from memory)."""

BEND = {"four-pair cable": 4.0, "cord": 4.0, "multipair cable": 10.0}
"""Least bend radius of copper, in outer diameters [1]. A cord has 4 since 2015; before it was 1. Source: TIA-568.0-D,
for multipair installation practices, both read (secondary)."""
BEND_FIBRE_CORD = 25.0
"""Least bend radius of a fibre cord [mm]. Source: TIA-568.0-D, read (secondary)."""
PULL_MAX = 110.0
"""Most force to pull a four-pair cable in with [N], 25 lbf. Source: installation practices, read (secondary)."""


def link_by_rule(cords: float) -> float:
    """The longest fixed link [m] beside cords of a length, by the quick rule: 1.5 m for each metre over 10 m.

    cords [m]: all cords of the channel together, 0 or more. Where the cords use the link up, 0.
    Errors: ValueError below 0. Source: cabling note of a maker of outlets, read.
    """
    return max(0.0, LINK_MAX - 1.5 * max(0.0, _length(cords) - CORDS_MAX))


def link_by_formula(cords: float, awg: int) -> float:
    """The longest fixed link [m] beside cords of a length; never more than `LINK_MAX`, where they use it up 0.

    cords [m]: all cords of the channel together, 0 or more; awg [-]: of the cords, 24 or 26.
    Errors: ValueError outside these. Source: TIA-568 open-office cabling (from memory), H = 102 - C (1 + D).
    """
    return max(0.0, min(LINK_MAX, 102.0 - _length(cords) * (1.0 + _extra(awg))))


def cords_by_formula(link: float, awg: int) -> float:
    """How long all cords of a channel may be together [m] beside a fixed link.

    link [m]: 0 to 90; awg [-]: of the cords, 24 or 26.
    Errors: ValueError outside these. Source: TIA-568 open-office cabling (from memory), C = (102 - H) / (1 + D).
    """
    if _length(link) > LINK_MAX:
        raise ValueError(f"a fixed link of {link:g} m is longer than {LINK_MAX:g} m")
    return (102.0 - link) / (1.0 + _extra(awg))


def work_area_cord(link: float, awg: int) -> float:
    """How long the one cord from the outlet to a machine may be [m], with the usual cords at the switch.

    link [m]: 0 to 90; awg [-]: of the cords, 24 or 26.
    Errors: as `cords_by_formula`. Source: TIA-568 open-office cabling (from memory), W = C - T, at most 22 m.
    """
    return min(WORK_AREA_CORD_MAX["TIA"], cords_by_formula(link, awg) - ROOM_CORDS[awg])


def bend_radius(outer: float, kind: str = "cord") -> float:
    """The least radius [mm] to bend a copper cable or cord to.

    outer [mm]: outer diameter, above 0; kind [-]: a key of `BEND`.
    Errors: ValueError otherwise. Source: `BEND`.
    """
    if not outer > 0:
        raise ValueError("a cable has an outer diameter above 0 mm")
    if kind not in BEND:
        raise ValueError(f"{kind[:40]!r} has no figure here; known are {', '.join(BEND)}")
    return outer * BEND[kind]


def _length(metres: float) -> float:
    if not metres >= 0:
        raise ValueError(f"{metres:g} m is no length")
    return metres


def _extra(awg: int) -> float:
    extra = EXTRA_LOSS.get(awg)
    if extra is None:
        raise ValueError(f"cords of {awg} AWG have no figure here; known are 24 and 26")
    return extra

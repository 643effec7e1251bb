"""VLAN ids and the tag that carries one."""

ID_MAX = 4094
"""Highest id that a VLAN may have [-]; the lowest is 1. Source: IEEE 802.1Q, read (secondary)."""
DEFAULT_ID = 1
"""The id of untagged frames on a port of which nothing else is said [-]. Source: IEEE 802.1Q, read (secondary)."""
TPID = 0x8100
"""What stands where a type would, to say that a tag follows [-]. Source: IEEE 802.1Q, read (secondary)."""
TAKEN_BY_SOME_MAKERS = range(1002, 1006)
"""Ids that some switches keep for themselves [-]. Source: common practice, read (secondary)."""

_RESERVED = 4095


def problem_with_id(vlan: int) -> str | None:
    """Say in words why a number can be no VLAN's id, or None where it can.

    vlan [-]: any integer. Id 1 is lawful. Source: IEEE 802.1Q-1998, special VID values, read in a quotation.
    """
    if vlan == 0:
        return "0 marks a frame that has a priority and no VLAN"
    if vlan == _RESERVED:
        return f"{_RESERVED} is reserved and is never sent"
    if not 0 < vlan < _RESERVED:
        return f"the id has 12 bits: write 1 to {ID_MAX}"
    return None


def doubt_about_id(vlan: int) -> str | None:
    """Say in words why a lawful id may still be refused by a switch, or None.

    vlan [-]: any integer. Source: `TAKEN_BY_SOME_MAKERS`.
    """
    if vlan in TAKEN_BY_SOME_MAKERS:
        return "some makers keep 1002 to 1005 for themselves"
    return None


def tag(vlan: int, priority: int = 0, drop_first: bool = False) -> int:
    """The four octets of a tag [-], first octet highest.

    vlan [-]: 0 (priority only) to 4094; priority [-]: PCP, 0 to 7; drop_first [-]: DEI, may be dropped first.
    Errors: ValueError outside these ranges.
    Source: IEEE 802.1Q: TPID 16 bits, PCP 3, DEI 1, VID 12, read (secondary).
    """
    if not 0 <= vlan < _RESERVED:
        raise ValueError(f"{vlan} is no id that is sent: 0 to {ID_MAX}")
    if not 0 <= priority < 8:
        raise ValueError(f"{priority} is no priority: 0 to 7")
    return TPID << 16 | priority << 13 | drop_first << 12 | vlan


def read_tag(octets: int) -> tuple[int, int, bool]:
    """The id [-], priority [-] and drop bit [-] in a tag; the inverse of `tag`.

    octets [-]: four octets as an integer, first octet highest; the id is given as it stands, 4095 too.
    Errors: ValueError where this is no tag of this kind. Source: as `tag`.
    """
    if octets >> 16 != TPID:
        raise ValueError(f"{octets:#x} does not begin with {TPID:#x}")
    return octets & 0xFFF, octets >> 13 & 7, bool(octets >> 12 & 1)

"""What two ends of a cable settle on, speed and duplex; and what may be bundled.

What a port can do is known in three ways: surely, perhaps, not. A port of which only the top speed is known is such a
port, and what hangs on its "perhaps" is answered None.
"""

from collections.abc import Sequence
from typing import Literal

from msgspec import Struct

Trouble = Literal["", "no common speed", "duplex mismatch", "must negotiate", "no half duplex"]

NEGOTIATES_FROM = 1e9
"""From this speed on twisted pair needs autonegotiation [bit/s]. Source: IEEE 802.3 clauses 28, 40, read
(secondary)."""
FULL_ONLY_FROM = 1e9
"""From this speed there is no half duplex in use [bit/s]: none exists at 10 Gbit/s, IEEE 802.3, read (secondary);
that none is built at 1 Gbit/s is common practice."""

# Top speed: what such a port does surely, and perhaps. Source: common practice. 100 Mbit/s on ports of 2.5 and 5
# Gbit/s is usual; ports of 10 Gbit/s older than IEEE 802.3bz do 1 and 10 and skip what lies between.
_COPPER: dict[float, tuple[tuple[float, ...], tuple[float, ...]]] = {
    10e6: ((10e6,), ()),
    100e6: ((10e6, 100e6), ()),
    1e9: ((10e6, 100e6, 1e9), ()),
    2.5e9: ((100e6, 1e9, 2.5e9), (10e6,)),
    5e9: ((100e6, 1e9, 2.5e9, 5e9), (10e6,)),
    10e9: ((1e9, 10e9), (100e6, 2.5e9, 5e9)),
    25e9: ((25e9,), (1e9, 2.5e9, 5e9, 10e9)),
    40e9: ((40e9,), (1e9, 2.5e9, 5e9, 10e9, 25e9)),
}
# A cage takes a module, and may take one of a lower speed. Source: common practice.
_CAGE: dict[float, tuple[tuple[float, ...], tuple[float, ...]]] = {
    100e6: ((100e6,), ()),
    1e9: ((1e9,), (100e6,)),
    10e9: ((10e9,), (1e9,)),
    25e9: ((25e9,), (1e9, 10e9)),
    40e9: ((40e9,), (10e9,)),
    100e9: ((100e9,), (25e9, 40e9, 50e9)),
}


class End(Struct, frozen=True):
    """One end of a cable.

    sure [bit/s]: speeds it does; perhaps [bit/s]: speeds it may do as well; negotiates [-]: False where it was set by
    hand, to its one speed; full [-]: the duplex set by hand, or whether it offers full duplex below 1 Gbit/s.
    """

    sure: tuple[float, ...]
    perhaps: tuple[float, ...] = ()
    negotiates: bool = True
    full: bool = True


class Settled(Struct, frozen=True):
    """What two ends settle on.

    lowest, highest [bit/s]: the speed is one of the two or between; equal where it is known; lowest None where
    perhaps no link comes up, both None where surely none does. full [-]: full duplex at both ends; None where there
    is no link, where it is unknown, or where the ends differ. trouble [-]: what is wrong, "" where nothing surely is.
    """

    lowest: float | None
    highest: float | None
    full: bool | None
    trouble: Trouble = ""

    @property
    def bits(self) -> float | None:
        """The speed [bit/s] where it is known, else None."""
        return self.lowest if self.lowest == self.highest else None

    @property
    def up(self) -> bool | None:
        """Whether a link comes up; None where that is unknown."""
        return True if self.lowest is not None else None if self.highest is not None else False


_DOWN = Settled(None, None, None, "no common speed")


def port(top: float, *, cage: bool = False) -> End:
    """A port that negotiates, of which only the top speed is known.

    top [bit/s]; cage [-]: whether it takes modules; else twisted pair. A speed of no row does itself surely and
    nothing else. Source: common practice, see the tables in this file.
    """
    sure, perhaps = (_CAGE if cage else _COPPER).get(top, ((top,), ()))
    return End(sure, perhaps)


def fixed(bits: float, *, full: bool = True) -> End:
    """A port set by hand. bits [bit/s]; full [-]: the duplex it was set to."""
    return End((bits,), (), False, full)


def can(end: End, bits: float) -> bool | None:
    """Whether an end does a speed; None where that is unknown. bits [bit/s]: exact."""
    return True if bits in end.sure else None if bits in end.perhaps else False


def settle(one: End, other: End, *, twisted: bool = True) -> Settled:
    """What two ends settle on.

    one, other [-]: in any order; twisted [-]: twisted pair; else fibre or direct-attach copper, where both ends run
    at the speed of their modules, full duplex, and no speed is negotiated.
    Errors: ValueError where an end set by hand has not just one speed.

    Both negotiate: the highest common speed, full duplex if both offer it. One is set by hand: at 10 and 100 Mbit/s
    the other finds the speed by listening, never the duplex, and takes half. At 1 Gbit/s and more twisted pair needs
    two ends that negotiate; many a port "set" to such a speed offers just that one, so whether a link comes up is
    unknown.
    Source: IEEE 802.3 clauses 28, 40 and annex 28B (order of speeds, from memory), read (secondary).
    """
    for end in (one, other):
        if not end.negotiates and len(end.sure) + len(end.perhaps) != 1:
            raise ValueError("an end that is set by hand has one speed")
    certain, speeds = _common(one, other)
    if not speeds:
        return _DOWN
    lowest, highest = speeds[0] if certain else None, speeds[-1]
    if not twisted:
        return Settled(lowest, highest, True)
    if one.negotiates and other.negotiates:
        return Settled(lowest, highest, _negotiated(speeds, one.full and other.full))
    return _by_hand(one, other, lowest, highest)


def _common(one: End, other: End) -> tuple[bool, list[float]]:
    """Return whether a link surely comes up, and the speeds it may settle on, rising."""
    sure = max((bits for bits in one.sure if can(other, bits)), default=None)
    either = sorted(bits for bits in one.sure + one.perhaps if can(other, bits) is not False)
    return sure is not None, [bits for bits in either if sure is None or bits >= sure]


def _negotiated(speeds: list[float], both_offer_full: bool) -> bool | None:
    """Return the duplex of ends that both negotiate, by the speeds they may settle on, rising."""
    if both_offer_full or speeds[0] >= FULL_ONLY_FROM:
        return True
    return None if speeds[-1] >= FULL_ONLY_FROM else False


def _by_hand(one: End, other: End, lowest: float | None, highest: float) -> Settled:
    """Return what comes of a twisted pair of which one end or both are set by hand: `highest` is that speed."""
    hand = other if one.negotiates else one
    if highest >= FULL_ONLY_FROM and not (one.full and other.full):
        return Settled(None, highest, None, "no half duplex")
    if highest >= NEGOTIATES_FROM:
        return Settled(None, highest, None, "must negotiate")
    halves = (one.full and not one.negotiates, other.full and not other.negotiates)
    if halves[0] == halves[1]:
        return Settled(lowest, highest, hand.full)
    return Settled(lowest, highest, None, "duplex mismatch" if lowest is not None else "")


def may_bundle(members: Sequence[Settled]) -> bool | None:
    """Whether cables may work as one bundle: all of one speed and one duplex; None where that is unknown.

    members [-]: what the ends of each settle on. Source: a kernel's documentation of bonding, section 12.1.1, read;
    link aggregation of IEEE 802.1AX asks for full duplex (from memory), which is not judged here.
    """
    duplex = {member.full for member in members}
    if any(member.highest is None or member.trouble for member in members) or duplex >= {True, False}:
        return False
    least = max((member.lowest or 0.0 for member in members), default=0.0)
    most = min((member.highest or 0.0 for member in members), default=0.0)
    if least > most:
        return False
    known = None not in duplex and all(member.bits is not None for member in members)
    return True if known else None


def one_flow(members: Sequence[float]) -> float:
    """The most that one connection gets through a bundle [bit/s]: what one member carries, not the sum.

    members [bit/s]: speed of each, at least one. Errors: ValueError for none.
    Source: as `may_bundle`; only striping in turn does more, and it changes the order of frames.
    """
    return max(members)

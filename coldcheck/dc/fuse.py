"""Fuses: what they surely stand, when they surely open, which wire they protect, which one to take.

A rating alone says little: of two fuses marked 5 A one must carry 7.5 A for an hour, and the other must open
within an hour at 6.75 A. What holds between two published gates follows from two laws of heat, and is the
cautious end each time: a fuse at more current never opens later; and it needs no more I²t than at less
current, since less heat has time to leave. All gates are for still air at 23 to 25 degC.

A fuse limits damage and fire; it does not make work on a live or a charged circuit safe.
"""

import math
from collections.abc import Iterable

from msgspec import Struct

from coldcheck.dc import fuse_data as data
from coldcheck.dc.fuse_data import Gate
from coldcheck.dc.steps import Steps, spells_above
from coldcheck.dc.wire import UnknownChoiceError

# a current worked out as multiple × rating misses the gate by rounding
_ROUNDING = 1 + 1e-9


def _classes(kind: str) -> tuple[str, ...]:
    try:
        return data.KINDS[kind]
    except KeyError:
        raise UnknownChoiceError("kind of fuse", kind, tuple(data.KINDS)) from None


def gates(kind: str, rated: float) -> tuple[tuple[Gate, ...], ...]:
    """Published gates of every class of fuse that a kind may be.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    Gives: for each class its gates, by rising multiple of the rating.
    Errors: ValueError for a rating that is not positive; UnknownChoiceError, which lists the kinds.
    Valid: cartridges of IEC up to 10 A (high breaking 1 to 6.3 A); beyond, by the same gates.
    Source: beside each row of fuse_data.GATES.
    """
    if not 0 < rated < math.inf:
        raise ValueError(f"no such fuse: rated {rated} A")
    return tuple(
        next(found for most, found in data.GATES[each] if rated <= most * _ROUNDING)
        for each in _classes(kind)
    )


def carries(kind: str) -> float:
    """Multiple of its rating that a fuse carries at its first gate: IEC an hour, UL 4 h, blade 100 h.

    kind: one of fuse_data.KINDS [-]
    Gives: 1.5 for IEC, 1.1 for UL and blade, 1 for a PTC, which holds it for ever [-]
    Errors: UnknownChoiceError.
    Source: as `gates`. For ever any fuse carries its rating and no more.
    """
    return min(found[0].multiple for found in gates(kind, 1.0))


def surely_opens_at(kind: str) -> float:
    """Multiple of its rating at which a fuse surely opens, however long it takes.

    kind: one of fuse_data.KINDS [-]
    Gives: 1.35 for UL and blade, 2.1 for IEC, 3 for a PTC [-]
    Errors: UnknownChoiceError.
    Source: as `gates`.
    """
    return max(
        next(gate.multiple for gate in found if gate.longest is not None) for found in gates(kind, 1.0)
    )


def _multiple_stood(found: Iterable[Gate], seconds: float) -> float:
    most = 1.0
    for gate in found:
        if gate.shortest is None:
            continue
        if gate.shortest < seconds:
            return max(most, gate.multiple * math.sqrt(gate.shortest / seconds))
        most = gate.multiple
    return most


def stands(kind: str, rated: float, seconds: float) -> float:
    """Greatest current that a fuse, cold before, surely stands for so long.

    That of the last gate whose shortest time is not less, or as much more as the next gate allows by
    constant I²t. A straight line between the two gates in the log-log chart would promise more than they do.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    seconds: how long; inf for ever [s]
    Gives: never less than the rating, never more than the last gate that has a shortest time [A]
    Errors: ValueError for a negative time, and as `gates`.
    Valid: as `gates`. Times of a millisecond and less belong to `melting`.
    Source: the gates; constant I²t as the cautious end is common practice.
    """
    if not seconds >= 0:
        raise ValueError(f"a current cannot last {seconds} s")
    return rated * min(_multiple_stood(found, seconds) for found in gates(kind, rated))


def _opening(found: Iterable[Gate], multiple: float) -> float:
    reached, longest = 0.0, math.inf
    for gate in found:
        if gate.longest is None:
            continue
        if gate.multiple > multiple:
            # no less can be promised here than at the next gate
            return max(longest * (reached / multiple) ** 2, gate.longest) if reached else math.inf
        reached, longest = gate.multiple, gate.longest
    return longest


def opens_within(kind: str, rated: float, amps: float) -> float | None:
    """Longest time until a fuse has surely opened.

    Past a gate the time falls by constant I²t, but not below that of the next gate; past the last gate it
    stays, for the arc takes its time as well.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    amps: current through it [A]
    Gives: [s]; None where nothing is sure: below `surely_opens_at`, above `breaking`, for a PTC.
    Errors: ValueError for a negative current, and as `gates`.
    Valid: as `gates`; circuits within the voltage rating.
    Source: the gates; constant I²t as the cautious end is common practice.
    """
    if not amps >= 0:
        raise ValueError(f"no such current: {amps} A")
    limit = breaking(kind, rated)
    if limit is not None and amps > limit * _ROUNDING:
        return None
    longest = max(_opening(found, amps / rated * _ROUNDING) for found in gates(kind, rated))
    return longest if longest < math.inf else None


def holds(kind: str, rated: float, amps: float, seconds: float) -> bool | None:
    """Whether a fuse, cold before, stands a current for so long.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    amps: current through it [A]
    seconds: how long; inf for ever [s]
    Gives: True where it surely does, False where it has surely opened by then, None in between.
    Errors: as `stands` and `opens_within`.
    Valid: as `stands` and `opens_within`.
    Source: as `stands` and `opens_within`.
    """
    within = opens_within(kind, rated, amps)
    if amps <= stands(kind, rated, seconds) * _ROUNDING:
        return True
    return False if within is not None and seconds >= within else None


def _blocks(rated: float, profile: Steps) -> list[tuple[float, float, float]]:
    spells = spells_above(profile, rated * _ROUNDING)
    if not spells:
        return []
    last = spells[-1][1]
    ends = [start for start, _ in profile[1:]] + [math.inf]
    blocks: list[tuple[float, float, float]] = []
    for (start, amps), end in zip(profile, ends, strict=True):
        if start >= last:
            break
        quiet = amps <= rated and blocks and blocks[-1][2] <= rated
        if quiet:
            blocks[-1] = (blocks[-1][0], end, max(amps, blocks[-1][2]))
        else:
            blocks.append((start, end, amps))
    return blocks


def standing(kind: str, rated: float, steps: Steps) -> float:
    """Share of what a fuse surely stands that a start profile uses up: at most 1 is surely stood.

    Each block of the profile counts (amps / amps stood for its time)²: its share of the heat, and the same
    as time / opening time wherever I²t is constant, like Miner's sum of fatigue. The shares add up, and
    nothing cools in between. Neighbours may count as one block of their highest current where that gives
    less. What comes after the last spell above the rating cannot open the fuse any more.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    steps: start profile of a fuse that was cold before it; the last step holds for ever [s, A]
    Gives: 0 where the current never exceeds the rating [-]
    Errors: ValueError for a negative current or starts that do not rise, and as `stands`.
    Valid: as `stands`. Grows with the square of the number of spells above the rating.
    Source: the gates; adding up shares is common practice, no standard has it.
    """
    if any(not amps >= 0 for _, amps in steps):
        raise ValueError("a start profile has no negative current")
    blocks = _blocks(rated, steps)
    least = [0.0]
    for last, (_, end, _) in enumerate(blocks):
        highest, best = 0.0, math.inf
        for first in range(last, -1, -1):
            start, _, amps = blocks[first]
            highest = max(highest, amps)
            share = (highest / stands(kind, rated, end - start)) ** 2
            best = min(best, least[first] + share)
        least.append(best)
    return least[-1]


def _between(rows: dict[float, float], rated: float) -> tuple[float, float] | None:
    """Give the published ratings around one: twice itself where it is published."""
    if not min(rows) <= rated <= max(rows):
        return None
    return max(row for row in rows if row <= rated), min(row for row in rows if row >= rated)


def melting(kind: str, rated: float) -> float | None:
    """Melting integral I²t: what a very short surge must stay well below.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    Gives: [A2 s]; None where none is published. Between two ratings by the square of the rating.
    Errors: UnknownChoiceError.
    Valid: "iec-slow", 1 to 3.15 A; values of one series, not limits of the standard.
    Source: sheet of 5 × 20 mm time-lag series 213 (LF213), read.
    """
    around = _between(data.T_MELTING, rated) if _classes(kind) == ("iec-slow",) else None
    if around is None:
        return None
    low, high = around
    part = 0.0 if low == high else (rated**2 - low**2) / (high**2 - low**2)
    return data.T_MELTING[low] + part * (data.T_MELTING[high] - data.T_MELTING[low])


def _of_kind(kind: str, cartridge: dict[float, float], blade: dict[float, float]) -> dict[float, float]:
    classes = _classes(kind)
    return cartridge if classes == ("iec-slow",) else blade if classes == ("blade",) else {}


def ohms(kind: str, rated: float) -> float | None:
    """Cold resistance of a fuse; hot it has more, see `hot_ohms`.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    Gives: [ohm]; None where none is published. Between two ratings by a straight line in the log-log chart.
    Errors: UnknownChoiceError.
    Valid: "iec-slow", 1 to 4 A; "blade", 1 to 40 A. Its holder adds fuse_data.HOLDER_OHMS.
    Source: sheet of 5 × 20 mm time-lag series 213 (LF213), read; blades: sheet of one series, from memory.
    """
    rows = _of_kind(kind, data.T_OHMS, data.BLADE_OHMS)
    around = _between(rows, rated) if rows else None
    if around is None:
        return None
    low, high = around
    part = 0.0 if low == high else math.log(rated / low) / math.log(high / low)
    return rows[low] * math.pow(rows[high] / rows[low], part)


def greatest_drop(kind: str, rated: float) -> float | None:
    """Greatest drop over a fuse at its rated current, when it is hot; of a blade the usual one.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    Gives: [V]; None where none is published. Between two ratings the greater of both.
    Errors: UnknownChoiceError.
    Valid: "iec-slow", 1 to 3.15 A; "blade", 1 to 40 A.
    Source: sheet of 5 × 20 mm time-lag series 213 (LF213), read; blades: sheet of one series, from memory.
    """
    rows = _of_kind(kind, data.T_DROP, data.BLADE_DROP)
    around = _between(rows, rated) if rows else None
    return None if around is None else max(rows[around[0]], rows[around[1]])


def hot_ohms(kind: str, rated: float) -> float | None:
    """Resistance of a fuse that carries what it may for good: as warm as it gets in use.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    Gives: [ohm]; None where no cold one is published, the cold one where no drop is.
    Errors: UnknownChoiceError.
    Valid: as `ohms` and `greatest_drop`. A fuse warms by the square of its current: at the share of its rating that it
        may carry (fuse_data.LOADED), it is the square of that share on the way from cold to what it has at its rating.
    Source: as `greatest_drop`; the share: common practice.
    """
    cold, drop = ohms(kind, rated), greatest_drop(kind, rated)
    if cold is None or drop is None:
        return cold
    return cold + max(0.0, drop / rated - cold) * min(data.LOADED[name] for name in _classes(kind)) ** 2


def volts_rated(kind: str, rated: float | None = None) -> float | None:
    """Direct voltage that a fuse can interrupt.

    kind: one of fuse_data.KINDS [-]
    rated: of a PTC: its hold current [A]
    Gives: [V DC]; None where unknown. Cartridges are marked for 250 V AC, and stand far less DC.
    Errors: UnknownChoiceError.
    Valid: blade; small surface-mounted PTC of 0.1 to 0.35 A, between two types that of the lower.
    Source: blade: data of type 287 in a design note (ATO), read second-hand; PTC: a sheet (PTC), read.
    """
    if _classes(kind) == ("blade",):
        return data.BLADE_VOLTS
    if _classes(kind) != ("ptc",) or rated is None:
        return None
    limits = {each.hold: each.volts for each in data.PTCS}
    around = _between(limits, rated)
    return None if around is None else min(limits[around[0]], limits[around[1]])


def _breaking(each: str, rated: float) -> float | None:
    if each == "blade":
        return data.BLADE_BREAKING
    if each == "iec-slow-high":
        return data.HIGH_BREAKING
    if each in ("iec-fast", "iec-slow"):
        return max(data.LOW_BREAKING[0], data.LOW_BREAKING[1] * rated)
    if each in ("ul-fast", "ul-slow"):
        return next((amps for most, amps in data.UL_BREAKING if rated <= most), None)
    return None


def breaking(kind: str, rated: float) -> float | None:
    """Greatest current that a fuse can interrupt; above it, it may burst or go on as an arc.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    Gives: [A]; None where unknown.
    Errors: UnknownChoiceError.
    Valid: blade at 32 V DC; cartridges at 250 V AC, which says little about DC.
    Source: fuse_data: blade read second-hand (ATO), IEC low breaking read (LF213), the rest from memory.
    """
    found = [_breaking(each, rated) for each in _classes(kind)]
    known = [amps for amps in found if amps is not None]
    return min(known) if len(known) == len(found) else None


class Protection(Struct, frozen=True):
    """Whether a fuse protects a wire, by two rules, and the currents that the strict one compares [A].

    rated_within: the rating is at most what the wire may carry.
    opens_in_time: what surely opens the fuse (`opens`) is at most 1.45 × what the wire may carry (`most`).
    """

    rated_within: bool
    opens_in_time: bool
    opens: float
    most: float

    @property
    def ok(self) -> bool:
        """Both rules hold."""
        return self.rated_within and self.opens_in_time


def wire_protected(kind: str, rated: float, ampacity: float) -> Protection:
    """Whether a fuse opens before the thinnest wire behind it is harmed.

    kind: one of fuse_data.KINDS [-]
    rated: current marked on the fuse [A]
    ampacity: what the wire may carry, as laid [A]
    Gives: the two rules and the two currents of the strict one.
    Errors: ValueError for a rating or an ampacity that is not positive; UnknownChoiceError.
    Valid: overload. A short circuit also needs a source that gives enough current to open the fuse.
    Source: FAA AC 43.13-1B paragraph 11-48, read; 1.45: rule of IEC 60364-4-43 applied to the gates,
        from memory.
    """
    if not (rated > 0 and ampacity > 0):
        raise ValueError(f"no such fuse or wire: {rated} A, {ampacity} A")
    opens, most = rated * surely_opens_at(kind), 1.45 * ampacity
    return Protection(rated <= ampacity * _ROUNDING, opens <= most * _ROUNDING, opens, most)


def _faa(gauge: float) -> tuple[float, float] | None:
    gauge = round(gauge, 6)
    if gauge < min(data.FAA_11_3):
        return None
    return next((row for number, row in sorted(data.FAA_11_3.items()) if number >= gauge), None)


def faa_fuse(gauge: float) -> float | None:
    """Greatest fuse for a wire in an aircraft; between two rows the thinner wire counts.

    gauge: American gauge; of a metric wire, `wire.awg_of_area` [-]
    Gives: [A]; None for a wire thicker or thinner than the table.
    Valid: copper, gauges 8 to 22.
    Source: FAA AC 43.13-1B table 11-3, read.
    """
    row = _faa(gauge)
    return None if row is None else row[0]


def faa_breaker(gauge: float) -> float | None:
    """Greatest circuit breaker for a wire in an aircraft; between two rows the thinner wire counts.

    gauge: American gauge; of a metric wire, `wire.awg_of_area` [-]
    Gives: [A]; None for a wire thicker or thinner than the table.
    Valid: copper, gauges 8 to 22.
    Source: FAA AC 43.13-1B table 11-3, read.
    """
    row = _faa(gauge)
    return None if row is None else row[1]


def ptc_hold(rated_hold: float, ambient: float) -> float:
    """Current that a PTC fuse holds in warm or cold air: 100 % at 23 degC, 70 % at 60 degC, linear.

    rated_hold: at 23 degC [A]
    ambient: of the air around it [degC]
    Gives: [A]
    Errors: ValueError outside 0 to 85 degC, or for a negative current.
    Valid: types differ: 65 to 75 % at 60 degC; read its own sheet where it matters.
    Source: from memory.
    """
    if not (rated_hold >= 0 and 0 <= ambient <= 85):
        raise ValueError(f"no figure for a PTC of {rated_hold} A at {ambient} degC")
    return rated_hold * (1 - 0.30 * (ambient - 23) / (60 - 23))


def ptc_ohms(rated_hold: float) -> tuple[float, float] | None:
    """Resistance of a small PTC fuse: it does not come back all the way after a trip.

    rated_hold: at 23 degC [A]
    Gives: (least when new, most an hour after a trip) [ohm]; None where none is published. Between two types
        the least and the most of both.
    Valid: small surface-mounted types of 0.1 to 0.35 A.
    Source: a sheet of size 0805 (PTC), read.
    """
    known = {each.hold: each for each in data.PTCS}
    around = _between(dict.fromkeys(known, 0.0), rated_hold)
    if around is None:
        return None
    low, high = known[around[0]], known[around[1]]
    return min(low.least_ohms, high.least_ohms), max(low.tripped_ohms, high.tripped_ohms)


def least_for(
    continuous: float, kind: str, ambient_factor: float = 1.0, safety: float | None = None
) -> float:
    """Least rating of a fuse for a continuous load: load / (safety × ambient factor).

    continuous: greatest load that lasts for hours [A]
    kind: one of fuse_data.KINDS [-]
    ambient_factor: share of its rating that the fuse keeps in its air, from its sheet [-]
    safety: share of its rating that it may carry; None for that of the kind: IEC 1, UL and blade 0.75;
        fuse_data.NEC_CONTINUOUS and fuse_data.CHIP are others [-]
    Gives: not rounded to a size, see `size_for` [A]
    Errors: ValueError for a negative load, or a factor outside 0 to 1.5; UnknownChoiceError.
    Source: NEC 210.20(A) (C125), a chip fuse sheet (TAI), makers' rules (FSO, DOC), read.
    """
    share = min(data.LOADED[each] for each in _classes(kind)) if safety is None else safety
    if not (continuous >= 0 and 0 < share <= 1.5 and 0 < ambient_factor <= 1.5):
        raise ValueError(f"no such load or factor: {continuous} A, {share}, {ambient_factor}")
    return continuous / (share * ambient_factor)


def sizes(kind: str) -> tuple[float, ...]:
    """Usual ratings of a kind of fuse, rising.

    kind: one of fuse_data.KINDS [-]
    Gives: [A]; those of every class that it may be; none for a PTC.
    Errors: UnknownChoiceError.
    Source: blade: ranges read (BLS), steps from memory; IEC 60127 R10 series and UL, from memory.
    """
    return tuple(sorted({size for each in _classes(kind) for size in data.SIZES[each]}))


def size_for(least: float, kind: str) -> float | None:
    """Smallest usual rating that is not below a least one.

    least: as from `least_for` [A]
    kind: one of fuse_data.KINDS [-]
    Gives: [A]; None where no usual rating is as large.
    Errors: UnknownChoiceError.
    Source: as `sizes`.
    """
    return next((size for size in sizes(kind) if size * _ROUNDING >= least), None)

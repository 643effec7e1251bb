"""Bridges: priorities, the cost of a port, and the timers of spanning tree."""

from math import ceil

DEFAULT_PRIORITY = 32768
"""Priority of a bridge of which nothing is said [-]. Source: IEEE 802.1D; switch manual, read."""
PRIORITY_STEP = 4096
"""Priorities are multiples of this [-], 0 to 61440. Source: switch manual, read."""
PRIORITY_MAX = 61440
"""Highest, so least wanted, priority [-]. Source: switch manual, read."""
MOST_IN_A_ROW = 7
"""Bridges in a row that the usual timers are made for [-]. Source: course notes, read (secondary)."""
HELLO, MAX_AGE, FORWARD_DELAY = 2, 20, 15
"""The usual timers [s]. Source: IEEE 802.1D; switch manuals, read (secondary)."""
HELLO_RANGE, MAX_AGE_RANGE, FORWARD_DELAY_RANGE = (1, 10), (6, 40), (4, 30)
"""What each timer may be [s], both ends included. Source: as `HELLO`."""

# Source: IEEE 802.1D-1998, switch manuals and an encyclopaedia, read (secondary).
_COST_1998 = {10e6: 100, 100e6: 19, 1e9: 4, 10e9: 2}
_COST_MAX = 200_000_000


def path_cost(bits: float, *, short: bool = False) -> int | None:
    """What a port of a speed adds to the way to the root [-].

    bits [bit/s]: above 0; of a bundle, the sum; short [-]: the older values of 16 bits, None for a speed that has
    none.
    Errors: ValueError for no speed.
    Formula: 20 Tbit/s / speed, at least 1, at most 200 000 000 (both from memory).
    Source: IEEE 802.1D-2004, 802.1D-1998, read (secondary).
    """
    if not bits > 0:
        raise ValueError(f"{bits:g} bit/s is no speed of a link")
    if short:
        return _COST_1998.get(bits)
    return min(max(int(20e12 / bits), 1), _COST_MAX)


def problem_with_priority(priority: int) -> str | None:
    """Say in words why a number is no bridge priority, or None. priority [-]. Source: `PRIORITY_STEP`."""
    if not 0 <= priority <= PRIORITY_MAX:
        return f"a bridge priority is 0 to {PRIORITY_MAX}"
    if priority % PRIORITY_STEP:
        return f"a bridge priority is a multiple of {PRIORITY_STEP}"
    return None


def max_age_limits(hello: float = HELLO, forward_delay: float = FORWARD_DELAY) -> tuple[float, float]:
    """The least and the most [s] that max age may be beside the other two timers.

    hello [s], forward_delay [s]. Formula: 2 (hello + 1) <= max age <= 2 (forward delay - 1).
    Source: IEEE 802.1D; switch manuals, read.
    """
    return 2 * (hello + 1), 2 * (forward_delay - 1)


def timers_for(in_a_row: int, hello: int = HELLO) -> tuple[int, int]:
    """Max age and forward delay [s] that so many bridges in a row need.

    in_a_row [-]: bridges on the longest way, both ends counted, 2 or more; hello [s].
    Errors: ValueError for fewer than two.
    Formula: 4 hello + 2 d - 2, and (4 hello + 3 d) / 2 rounded up. Source: IEEE 802.1D annex (from memory).
    """
    if in_a_row < 2:
        raise ValueError("two bridges or more make a row")
    return 4 * hello + 2 * in_a_row - 2, ceil((4 * hello + 3 * in_a_row) / 2)


def slowest_recovery(max_age: float = MAX_AGE, forward_delay: float = FORWARD_DELAY) -> float:
    """How long a break may last [s]: the old way ages, then the new one listens and learns.

    max_age [s], forward_delay [s]. Source: IEEE 802.1D (from memory); the rapid kind is faster.
    """
    return max_age + 2 * forward_delay

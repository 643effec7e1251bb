"""How far a current goes beyond a limit: for good, or in a short surge only."""

from __future__ import annotations

from typing import Literal

from coldcheck import Measure

__all__ = ["Beyond", "beyond_limit"]


class Beyond:
    """What flows, beyond a limit: for good it is an error, in a short surge only a warning.

    ``amps`` flows where ``limit`` may [A]; ``surge`` follows a figure in a sentence and ``because`` gives the reason,
    both empty where it lasts.
    """

    def __init__(self, amps: float, limit: float, short: bool) -> None:
        self.level: Literal["error", "warning"] = "warning" if short else "error"
        self.amps, self.limit = Measure(amps, "A"), Measure(limit, "A")
        self.surge = " in a short surge" if short else ""
        self.because = "nothing says that it stands more for a short time" if short else ""


def beyond_limit(most: float | None, lasting: float | None, limit: float | None) -> Beyond | None:
    """Return by how much a limit is passed: by what lasts, else by a surge, else None.

    most: the greatest current, or None where it is not known [A]
    lasting: what flows longer than a short surge, or None where it is not known [A]
    limit: what may flow, or None where nothing is stated [A]
    """
    if most is None or lasting is None or limit is None or most <= limit * (1 + 1e-9):
        return None
    short = lasting <= limit * (1 + 1e-9)
    return Beyond(most if short else lasting, limit, short)

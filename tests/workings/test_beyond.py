"""How far a current goes beyond a limit."""

from __future__ import annotations

import pytest

from coldcheck.workings.beyond import beyond_limit


@pytest.mark.parametrize(
    "most, lasting, level, amps",
    [(6.0, 5.0, "warning", 6.0), (6.0, 5.5, "error", 5.5), (6.0, 6.0, "error", 6.0)],
)
def test_what_lasts_is_graver(most: float, lasting: float, level: str, amps: float) -> None:
    """A surge beyond 5 A warns and says so; what lasts beyond it is an error, and its own figure is told."""
    found = beyond_limit(most, lasting, 5.0)
    assert found is not None
    assert (found.level, found.amps.value, found.limit.value) == (level, amps, 5.0)
    assert bool(found.surge) == bool(found.because) == (level == "warning")


@pytest.mark.parametrize("most, lasting", [(5.0, 5.0), (5.0, 1.0), (None, None)])
def test_at_the_limit_and_unknown(most: float | None, lasting: float | None) -> None:
    """What is at the limit does not pass it, nor does what is not known."""
    assert beyond_limit(most, lasting, 5.0) is None

"""Bridge priorities, path costs, and timers of spanning tree: ranges and refusals."""

import pytest

from coldcheck.lan import bridging


def test_priorities() -> None:
    """Only the sixteen multiples of 4096 up to 61440 are priorities."""
    lawful = [number for number in range(-4096, 70000) if bridging.problem_with_priority(number) is None]
    assert lawful == [step << 12 for step in range(16)]
    assert "multiple of 4096" in str(bridging.problem_with_priority(100))
    assert "0 to 61440" in str(bridging.problem_with_priority(65536))


def test_costs_of_odd_speeds() -> None:
    """A faster port never costs more, a cost is never below 1 or above 200 000 000, and no speed is refused."""
    speeds = (1.0, 1e5, 1e6, 3e9, 2e13, 1e15)
    costs = [bridging.path_cost(bits) for bits in speeds]
    assert costs == [200_000_000, 200_000_000, 20_000_000, 6666, 1, 1]
    assert bridging.path_cost(2.5e9, short=True) is None
    for bits in (0.0, -1e9):
        with pytest.raises(ValueError, match="no speed"):
            bridging.path_cost(bits)


@pytest.mark.parametrize("in_a_row", range(2, bridging.MOST_IN_A_ROW + 1))
def test_timers_for_a_row_fit_together(in_a_row: int) -> None:
    """The timers that the formula gives for up to seven bridges obey the rule and the ranges of each timer."""
    for hello in (1, 2):
        age, delay = bridging.timers_for(in_a_row, hello)
        least, most = bridging.max_age_limits(hello, delay)
        assert least <= age <= most
        assert bridging.MAX_AGE_RANGE[0] <= age <= bridging.MAX_AGE_RANGE[1]
        assert bridging.FORWARD_DELAY_RANGE[0] <= delay <= bridging.FORWARD_DELAY_RANGE[1]


def test_one_bridge_is_no_row() -> None:
    """Fewer than two bridges have no timers of their own."""
    with pytest.raises(ValueError, match="two bridges"):
        bridging.timers_for(1)

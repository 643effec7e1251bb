"""PoE arithmetic: conservation, inverses, limits, refusals, sharing of a budget."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lan import poe

VOLTS = st.floats(40.0, 57.0)
OHMS = st.floats(0.0, 25.0)


@given(st.floats(0.0, 100.0), OHMS, VOLTS)
def test_power_is_conserved(pd_watts: float, ohms: float, volts: float) -> None:
    """The port gives what the PD takes and the cable loses; without a point none is feasible."""
    point = poe.feed(pd_watts, ohms, volts)
    if point is None:
        assert 4 * ohms * pd_watts > volts**2
        return
    assert point.pse_watts == pytest.approx(pd_watts + point.loss, rel=1e-9, abs=1e-9)
    assert point.pd_volts * point.amps == pytest.approx(pd_watts, rel=1e-9, abs=1e-9)
    assert point.pd_volts >= volts / 2 - 1e-6


@given(st.floats(0.1, 90.0), st.floats(0.1, 25.0), VOLTS)
def test_root_by_numpy(pd_watts: float, ohms: float, volts: float) -> None:
    """The current is the smaller root of R I^2 - V I + P = 0 as numpy finds it."""
    point = poe.feed(pd_watts, ohms, volts)
    roots = np.roots([ohms, -volts, pd_watts])
    if point is not None and point.pd_volts > 0.51 * volts:
        assert point.amps == pytest.approx(min(roots.real), rel=1e-6)


@given(st.floats(0.0, 60.0), OHMS, VOLTS)
def test_there_and_back(pse_watts: float, ohms: float, volts: float) -> None:
    """From the port to the PD and back gives the same watts, as far as any PD can settle."""
    reached = poe.pd_watts_from(pse_watts, ohms, volts)
    if reached is None:
        assert 2 * pse_watts * ohms > volts**2
    elif 2 * pse_watts * ohms < 0.99 * volts**2:
        assert poe.pse_watts_for(reached, ohms, volts) == pytest.approx(pse_watts, rel=1e-6, abs=1e-9)


def test_a_cable_too_long_has_no_answer() -> None:
    """Beyond V^2/4R there is no point, just below it half the volts are left."""
    most = 50.0**2 / (4 * 12.5)
    point = poe.feed(most * (1 - 1e-12), 12.5, 50.0)
    assert point is not None
    assert point.pd_volts == pytest.approx(25.0, rel=1e-5)
    assert poe.pse_watts_for(most * 1.0001, 12.5, 50.0) is None
    assert poe.pd_watts_from(2 * most, 12.5, 50.0) == pytest.approx(most)
    assert poe.pd_watts_from(2 * most * 1.0001, 12.5, 50.0) is None


def test_loop_from_what_is_known() -> None:
    """Stated ohms go before the category, the category before the worst of the type; two sets halve it."""
    assert poe.loop_ohms(100.0, pse_type=2, category="6", ohms_per_100m=7.0) == 7.0
    assert poe.loop_ohms(100.0, pse_type=2, category="Cat 6") == 9.38
    assert poe.loop_ohms(30.0, pse_type=4, category="6", pair_sets=2) == pytest.approx(9.38 * 0.3 / 2)
    assert poe.loop_ohms(50.0, pse_type=2) == 6.25
    assert poe.loop_ohms(50.0, pse_type=1) == 10.0
    assert poe.loop_ohms(None, pse_type=1) == 20.0
    assert poe.loop_ohms(None, pse_type=3, category="6", pair_sets=2) == 6.25
    assert poe.loop_ohms(0.0, pse_type=2) == 0.0


@pytest.mark.parametrize("category", ["5", "5e", "6", "6A", "8"])
def test_lawful_cable_stays_within_the_worst_channel(category: str) -> None:
    """100 m of any TIA category from 5 up stay below the loop that types 2 to 4 allow."""
    assert poe.loop_ohms(100.0, pse_type=2, category=category) <= poe.pse(2).loop_ohms


def test_current_limit_holds_in_the_worst_channel() -> None:
    """No class passes the nominal current of a pair set of its type, even in the worst channel."""
    for row in poe.CLASSES:
        volts, _ = poe.worst_channel(row.klass)
        amps = row.pse_watts / volts / poe.pair_sets_of(row.klass)
        assert amps <= poe.pse(row.type_needed).amps + 1e-3


def test_budget_by_priority_then_port() -> None:
    """Urgent ports come first, then lower numbers; one that does not fit leaves room for a smaller one."""
    fed, unfed, left = poe.share_budget(50.0, [(2, 1, 15.4), (0, 8, 30.0), (1, 3, 30.0), (1, 2, 4.0)])
    assert fed == [8, 2, 1]
    assert unfed == [3]
    assert left == pytest.approx(0.6)


def test_budget_used_to_the_last_tenth() -> None:
    """Three ports of 0.1 W fit a budget of 0.3 W although binary sums say otherwise."""
    assert poe.share_budget(0.3, [(0, port, 0.1) for port in range(3)])[1] == []


@given(
    st.integers(0, 600),
    st.lists(st.tuples(st.integers(0, 2), st.integers(1, 48), st.integers(1, 300)), unique_by=lambda a: a[1]),
    st.integers(0, 200),
)
def test_a_guard_only_ever_takes_away(budget: int, tenths: list[tuple[int, int, int]], guard: int) -> None:
    """In whole tenths of a watt, by exact sums: each is fed if and only if its turn finds its watts and the guard."""
    asked = [(rank, port, watts / 10) for rank, port, watts in tenths]
    fed, unfed, left = poe.share_budget(budget / 10, asked, guard / 10)
    assert sorted(fed + unfed) == sorted(port for _, port, _ in tenths)
    used = 0
    for _, port, watts in sorted(tenths):
        assert (port in fed) == (budget - used >= guard and budget - used >= watts)
        used += watts if port in fed else 0
    assert left == pytest.approx((budget - used) / 10, abs=1e-9)


@given(st.floats(0.0, 90.0))
def test_the_next_step_of_lldp(watts: float) -> None:
    """What is asked for covers what is drawn, by less than a step, and is a whole number of steps."""
    asked = poe.lldp_watts(watts)
    assert -1e-9 <= asked - watts < 0.1 + 1e-9
    assert round(asked * 10) == pytest.approx(asked * 10, abs=1e-9)


@given(st.floats(0.0, 3.0), OHMS, VOLTS)
def test_constant_amps_and_constant_watts_meet(amps: float, ohms: float, volts: float) -> None:
    """A thing that draws given amps takes the watts at which one of constant watts draws those amps."""
    point = poe.feed_amps(amps, ohms, volts)
    if point is None:
        assert amps * ohms >= volts
        return
    assert point.pse_watts == pytest.approx(amps * point.pd_volts + point.loss, abs=1e-9)
    if point.pd_volts > 0.51 * volts:
        same = poe.feed(amps * point.pd_volts, ohms, volts)
        assert same is not None
        assert same.amps == pytest.approx(amps, rel=1e-6, abs=1e-9)


def test_out_of_range_is_refused() -> None:
    """Classes, types, pair sets, negative lengths and watts out of range are refused."""
    for call in (
        lambda: poe.reserved_watts(9),
        lambda: poe.reserved_watts(-1),
        lambda: poe.highest_class(5),
        lambda: poe.loop_ohms(1.0, pse_type=2, pair_sets=3),
        lambda: poe.loop_ohms(-1.0, pse_type=2),
        lambda: poe.loop_ohms(1.0, pse_type=2, ohms_per_100m=-1.0),
        lambda: poe.loop_ohms(1.0, pse_type=2, category="9"),
        lambda: poe.feed(-1.0, 1.0, 50.0),
        lambda: poe.feed(1.0, 1.0, 0.0),
        lambda: poe.feed(1.0, float("nan"), 50.0),
        lambda: poe.share_budget(10.0, [(0, 1, -1.0)]),
        lambda: poe.share_budget(10.0, [], -1.0),
        lambda: poe.lldp_watts(-0.1),
        lambda: poe.dual_watts("6D", "1D"),
        lambda: poe.dual_watts("1D", "0D"),
        lambda: poe.feed_amps(-1.0, 1.0, 50.0),
        lambda: poe.feed_amps(1.0, 1.0, 0.0),
    ):
        with pytest.raises(ValueError, match=r"\w"):
            call()

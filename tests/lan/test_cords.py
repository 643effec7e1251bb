"""Cords and bends: monotone, inverse, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lan import cords

GAUGES = sorted(cords.EXTRA_LOSS)


@given(st.floats(0, 90), st.sampled_from(GAUGES))
def test_formula_and_its_inverse(link: float, awg: int) -> None:
    """The link that goes with the longest cords beside a link is that link."""
    assert cords.link_by_formula(cords.cords_by_formula(link, awg), awg) == pytest.approx(link, abs=1e-9)


@given(st.floats(0, 200), st.floats(0, 200), st.sampled_from(GAUGES))
def test_longer_cords_never_allow_a_longer_link(one: float, other: float, awg: int) -> None:
    """More cord leaves less link by rule and by formula, never less than none nor more than 90 m."""
    short, long = sorted((one, other))
    for link in (cords.link_by_rule, lambda length: cords.link_by_formula(length, awg)):
        assert 0 <= link(long) <= link(short) <= cords.LINK_MAX


@given(st.floats(0, 90), st.sampled_from(GAUGES))
def test_loss_is_kept(link: float, awg: int) -> None:
    """Link and cords together lose what 102 m of solid cable lose, a cord metre counting 1.2 or 1.5 (TIA-568)."""
    assert link + cords.cords_by_formula(link, awg) * {24: 1.2, 26: 1.5}[awg] == pytest.approx(102)


def test_usual_cords_take_nothing_off() -> None:
    """Ten metres of 24 AWG cord or less leave the whole 90 m by rule and by formula, and the channel is 100 m."""
    for length in (0.0, 3.0, 10.0):
        assert cords.link_by_rule(length) == 90
        assert cords.link_by_formula(length, 24) == 90
    assert cords.link_by_rule(10.1) < 90
    assert cords.link_by_formula(10.1, 24) < 90
    assert cords.LINK_MAX + cords.CORDS_MAX == cords.CHANNEL_MAX


def test_refused() -> None:
    """Lengths, gauges and diameters without a figure are refused."""
    for length in (-0.1, float("nan")):
        with pytest.raises(ValueError, match="no length"):
            cords.link_by_rule(length)
        with pytest.raises(ValueError, match="no length"):
            cords.cords_by_formula(length, 24)
    with pytest.raises(ValueError, match=r"90\.5 m is longer than 90 m"):
        cords.work_area_cord(90.5, 24)
    with pytest.raises(ValueError, match="known are 24 and 26"):
        cords.link_by_formula(10, 28)
    with pytest.raises(ValueError, match="diameter above 0"):
        cords.bend_radius(0)
    with pytest.raises(ValueError, match="known are four-pair cable, cord, multipair cable"):
        cords.bend_radius(6, "fibre")

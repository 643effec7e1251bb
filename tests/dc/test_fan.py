"""Fans: the laws fit each other, a fan that stands draws nothing, and nonsense is refused."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import fan

ratios = st.floats(0.1, 3)


@given(ratio=ratios)
def test_power_is_flow_times_pressure(ratio: float) -> None:
    """The power that air takes is flow times pressure, so the three laws fit each other."""
    assert fan.power_ratio(ratio) == pytest.approx(
        fan.flow_ratio(ratio) * fan.pressure_ratio(ratio), rel=1e-12
    )


@given(first=ratios, second=ratios)
def test_noise_of_two_changes_adds(first: float, second: float) -> None:
    """Two changes of speed, one after another, are one change by their product."""
    together = fan.noise_change(first) + fan.noise_change(second)
    assert fan.noise_change(first * second) == pytest.approx(together, abs=1e-9)


@given(count=st.integers(1, 64))
def test_equal_fans_add_as_powers(count: int) -> None:
    """Sound powers of equal fans add: their level over one is that of the sum."""
    assert 10 ** (fan.noise_of_equals(count) / 10) == pytest.approx(count, rel=1e-9)


def test_noise_everyone_knows() -> None:
    """Two fans are 3 dB louder than one, and at half of the speed a fan is 15 dB quieter."""
    assert fan.noise_of_equals(2) == pytest.approx(3.01, abs=0.005)
    assert fan.noise_change(0.5) == pytest.approx(-15.05, abs=0.005)
    assert fan.noise_of_equals(1) == 0


def test_speed() -> None:
    """A fan has its rated speed at rated volts, none at the offset and below, and more above."""
    assert fan.speed_share(12.0) == 1.0
    assert fan.speed_share(5.0, 5.0) == 1.0
    assert fan.speed_share(0.75) == 0.0
    assert fan.speed_share(0.0) == 0.0
    assert fan.speed_share(13.2) == pytest.approx(12.45 / 11.25, rel=1e-12)


@pytest.mark.parametrize(
    ("volts", "starts"), [(0.0, False), (4.49, False), (4.5, None), (6.99, None), (7.0, True), (12.0, True)]
)
def test_starts(volts: float, starts: bool | None) -> None:
    """An ordinary fan starts from 7 V, does not below 4.5 V, and between it depends on the fan."""
    assert fan.starts(volts) is starts


def test_starts_by_its_own_figure() -> None:
    """With a published start voltage there is no doubt left."""
    assert fan.starts(5.0, 5.0, 5.0) is True
    assert fan.starts(4.9, 5.0, 5.0) is False


@given(volts=st.floats(1, 13.2), amps=st.floats(0.01, 3))
def test_power_at_another_voltage(volts: float, amps: float) -> None:
    """Volts times amps go with the third power of the speed."""
    watts = volts * fan.amps_at(volts, amps)
    assert watts == pytest.approx(12 * amps * fan.speed_share(volts) ** 3, rel=1e-9)


def test_amps() -> None:
    """A fan draws its rated amps at rated volts, less at 7 V, more at 13.2 V, none where it stands."""
    assert fan.amps_at(12.0, 0.2) == pytest.approx(0.2, rel=1e-12)
    assert fan.amps_at(7.0, 0.2) == pytest.approx(0.0588, abs=0.0001)
    assert fan.amps_at(13.2, 0.2) == pytest.approx(0.2464, abs=0.0001)
    assert fan.amps_at(0.0, 0.2) == 0
    assert fan.amps_at(0.75, 0.2) == 0


@pytest.mark.parametrize(
    ("function", "args", "says"),
    [
        (fan.speed_share, (-1,), "no such fan"),
        (fan.speed_share, (math.nan,), "no such fan"),
        (fan.speed_share, (5, 0.75), "no such fan"),
        (fan.speed_share, (5, 12, -1), "no such fan"),
        (fan.starts, (-1,), "no such fan"),
        (fan.starts, (math.nan,), "no such fan"),
        (fan.starts, (5, 7, 4.5), "no such fan"),
        (fan.most_volts, (0,), "not positive"),
        (fan.amps_at, (12, -0.1), "negative current"),
        (fan.amps_at, (-12, 0.1), "no such fan"),
        (fan.flow_ratio, (-1,), "no such speed"),
        (fan.pressure_ratio, (-1,), "no such speed"),
        (fan.power_ratio, (math.nan,), "no such speed"),
        (fan.noise_change, (0,), "not positive"),
        (fan.noise_change, (-1,), "not positive"),
        (fan.noise_of_equals, (0,), "no fan"),
        (fan.tach_hertz, (-1,), "no such tach"),
        (fan.tach_hertz, (1000, 0), "no such tach"),
    ],
)
def test_refused(function: Any, args: tuple[float, ...], says: str) -> None:
    """Nonsense is refused by each function."""
    with pytest.raises(ValueError, match=says):
        function(*args)

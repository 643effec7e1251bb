"""Air: heat is conserved, the atmosphere carries itself, and nonsense is refused."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import air

watts_ = st.floats(0.1, 5000)
rooms = st.floats(-10, 50)
heights = st.floats(0, 5000)


@given(watts=watts_, rise=st.floats(1, 40), celsius=rooms, height=heights)
def test_flow_and_rise(watts: float, rise: float, celsius: float, height: float) -> None:
    """The flow needed for a rise makes that rise, and carries the heat: mass x heat capacity x rise."""
    flow = air.flow_needed(watts, rise, celsius, height)
    assert air.rise_for(watts, flow, celsius, height) == pytest.approx(rise, rel=1e-12)
    mass = flow * air.density(celsius, air.pressure(height))
    assert mass * air.HEAT_CAPACITY * rise == pytest.approx(watts, rel=1e-12)


@pytest.mark.parametrize("height", [-500.0, 1500.0, 3000.0, 8000.0])
def test_atmosphere_carries_itself(height: float) -> None:
    """Pressure falls with height by the weight of the air between, integrated from sea level."""
    from scipy.integrate import solve_ivp

    def weight(at: float, pascals: Any) -> Any:
        return -air.GRAVITY * pascals / (air.GAS_CONSTANT * (air.standard_celsius(at) + 273.15))

    found = solve_ivp(weight, (0, height), [air.SEA_LEVEL_PASCALS], rtol=1e-10, atol=1e-6)
    assert air.pressure(height) == pytest.approx(found.y[0][-1], rel=1e-8)


def test_thin_air_of_a_room() -> None:
    """Indoors at 1500 m a room of 20 degC has 0.834 of the air of one at the sea: less than outdoors' 0.864."""
    share = air.flow_needed(100, 10) / air.flow_needed(100, 10, altitude=1500)
    assert share == pytest.approx(0.8345, abs=0.0005)


def test_warm_air_is_thin() -> None:
    """Density falls as the absolute temperature grows, and grows with pressure."""
    assert air.density(0) / air.density(27.315) == pytest.approx(1.1, rel=1e-12)
    assert air.density(20, 2 * air.SEA_LEVEL_PASCALS) == pytest.approx(2 * air.density(20), rel=1e-12)


def test_box_gets_warmer_than_the_free_air_figure_says() -> None:
    """A fan of 50 CFM free air cools 100 W to between 5 K and 7 K in a box, not to 3.5 K."""
    free = 50 * air.CFM
    least, most = air.in_a_box(free)
    assert air.rise_for(100, free) == pytest.approx(3.5, abs=0.02)
    assert air.rise_for(100, most) == pytest.approx(5.0, abs=0.03)
    assert air.rise_for(100, least) == pytest.approx(7.0, abs=0.03)


def test_no_heat() -> None:
    """Without heat no air is needed, and none gets warmer."""
    assert air.flow_needed(0, 10) == 0
    assert air.rise_for(0, 0.01) == 0


@pytest.mark.parametrize(
    ("function", "args", "says"),
    [
        (air.standard_celsius, (11001,), "altitude"),
        (air.standard_celsius, (-1001,), "altitude"),
        (air.pressure, (math.nan,), "altitude"),
        (air.density, (-273.15,), "no such air"),
        (air.density, (20, 0), "no such air"),
        (air.density, (math.nan,), "no such air"),
        (air.mass_flow, (-1, 10), "no such air flow"),
        (air.mass_flow, (1, 0), "no such air flow"),
        (air.flow_needed, (1, -10), "no such air flow"),
        (air.rise_for, (1, 0), "no such air flow"),
        (air.rise_for, (-1, 0.1), "no such air flow"),
        (air.in_a_box, (-1,), "negative flow"),
    ],
)
def test_refused(function: Any, args: tuple[float, ...], says: str) -> None:
    """Nonsense is refused by each function."""
    with pytest.raises(ValueError, match=says):
        function(*args)

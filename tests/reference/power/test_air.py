"""Air flow against published laws, examples and the standard atmosphere; rows and sources are in air.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.dc import air

AIR: dict[str, Any] = tomllib.loads(Path(__file__).with_name("air.toml").read_text(encoding="utf-8"))
UNITS = {"CFM": air.CFM, "m3/min": 1 / 60}


def test_e29_mass_flow() -> None:
    """E29: 800 W at 3 K need 0.265 kg/s; at 35 degC and 98.066 kPa that is 0.2393 m3/s, 507 CFM."""
    e = AIR["E29"]
    assert e["cp_j_per_kg_k"] == air.HEAT_CAPACITY
    mass = air.mass_flow(e["heat_w"], e["rise_k"])
    assert mass == pytest.approx(e["published_mass_flow_kg_per_s"], abs=0.0005)
    assert mass == pytest.approx(e["recomputed_mass_flow_kg_per_s"], abs=5e-6)
    flow = mass / air.density(e["at_celsius"], e["at_pascals"])
    assert flow == pytest.approx(e["recomputed_flow_m3_per_s"], abs=0.00005)
    assert flow / air.CFM == pytest.approx(e["recomputed_flow_cfm"], abs=0.5)


@pytest.mark.parametrize("name", ["X3", "X4"])
def test_x3_x4_units_mixed_up(name: str) -> None:
    """X3, X4: the factor for Btu/h and degF, used with W and degC, finds a little over half of the flow."""
    x = AIR[name]
    found = air.flow_needed(x["heat_w"], x["rise_k"]) / air.CFM
    assert found == pytest.approx(x["right_cfm"], rel=0.005)
    assert x["heat_w"] / (1.08 * x["rise_k"]) == pytest.approx(x["wrong_cfm"], abs=0.01)
    assert found > 1.85 * x["wrong_cfm"]


def test_air_of_a_room() -> None:
    """Air at 20 degC has the published density, in both units, and heat capacity."""
    room = AIR["room"]
    assert air.density() == pytest.approx(room["density_kg_per_m3"], abs=0.005)
    assert air.density() * 0.3048**3 / 0.45359237 == pytest.approx(room["density_lb_per_ft3"], abs=0.0005)
    low, high = room["cp_j_per_kg_k"]
    assert low <= air.HEAT_CAPACITY <= high


@pytest.mark.parametrize("row", AIR["forms"], ids=lambda row: f"{row['factor']}-{row['unit']}")
def test_handbook_forms(row: dict[str, Any]) -> None:
    """Three handbooks' rules of flow for watts and kelvin agree with ours within their rounding."""
    assert air.flow_needed(1.0, 1.0) / UNITS[row["unit"]] == pytest.approx(row["factor"], rel=0.01)


def test_cubic_foot() -> None:
    """A cubic metre per minute is 35.31 CFM."""
    found = 1 / 60 / air.CFM
    assert found == pytest.approx(AIR["minute"]["cfm"], abs=0.005)


@pytest.mark.parametrize("row", AIR["atmosphere"], ids=lambda row: f"{row['altitude_m']:.0f}-m")
def test_standard_atmosphere(row: dict[str, Any]) -> None:
    """Pressure, temperature, density and density ratio of the standard atmosphere."""
    height = row["altitude_m"]
    celsius, pascals = air.standard_celsius(height), air.pressure(height)
    found = air.density(celsius, pascals)
    assert found / air.density(air.standard_celsius(0)) == pytest.approx(row["density_ratio"], abs=0.0005)
    if "pressure_pa" in row:
        assert pascals == pytest.approx(row["pressure_pa"], rel=1e-5)
        assert celsius == pytest.approx(row["celsius"], abs=1e-9)
        assert found == pytest.approx(row["density_kg_per_m3"], rel=1e-4)


def test_flow_in_a_box() -> None:
    """A fan in a box moves half to seven tenths of its free-air figure."""
    assert air.in_a_box(1.0) == (AIR["box"]["least"], AIR["box"]["most"])

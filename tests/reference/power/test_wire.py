"""Wire laws and tables against published tables; rows, sources and how sure are in wire.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.dc import wire

PUBLISHED: dict[str, Any] = tomllib.loads(
    Path(__file__).with_name("wire.toml").read_text(encoding="utf-8"),
)
KFT = 304.8


def rows(table: str) -> list[Any]:
    """Give the rows of one published table, each a test of its own."""
    return [pytest.param(row, id=f"{table}-{next(iter(row.values()))}") for row in PUBLISHED[table]["rows"]]


@pytest.mark.parametrize("row", rows("awg"))
def test_gauge_gives_size(row: dict[str, float]) -> None:
    """A gauge has the diameter and the area of ASTM B258, in millimetres and in circular mils."""
    assert wire.awg_diameter(row["gauge"]) == pytest.approx(row["diameter_mm"] * 1e-3, abs=5.1e-9)
    assert wire.awg_area(row["gauge"]) == pytest.approx(row["area_mm2"] * 1e-6, rel=1e-4)
    assert wire.awg_area(row["gauge"]) / wire.CIRCULAR_MIL == pytest.approx(row["area_cmil"], rel=1e-4)


@pytest.mark.parametrize("row", rows("thick"))
def test_thick_gauges_count_below_one(row: dict[str, float]) -> None:
    """0, 00, 000 and 0000 are 0, -1, -2 and -3: their diameters are the printed ones."""
    assert wire.awg_diameter(row["gauge"]) == pytest.approx(row["diameter_in"] * 0.0254, abs=0.00006 * 0.0254)


def test_law_is_that_of_the_standard() -> None:
    """36 AWG is 0.127 mm, and 39 gauges are a ratio of 92."""
    law = PUBLISHED["law"]
    assert wire.awg_diameter(36) == pytest.approx(law["diameter_mm_at_36"] * 1e-3, rel=1e-12)
    assert wire.awg_diameter(-3) / wire.awg_diameter(36) == pytest.approx(
        law["ratio_over_39_gauges"], rel=1e-12
    )


@pytest.mark.parametrize("row", rows("awg"))
def test_solid_copper_at_20(row: dict[str, float]) -> None:
    """Solid copper at 20 degC agrees with the published table within 0.1 %, per metre and per 1000 ft."""
    area = wire.awg_area(row["gauge"])
    per_metre = wire.conductor_ohms(1.0, area, stranded=False)
    assert per_metre == pytest.approx(row["mohm_per_m"] * 1e-3, rel=1e-3)
    assert wire.conductor_ohms(KFT, area, stranded=False) == pytest.approx(row["ohm_per_kft"], rel=1e-3)


@pytest.mark.parametrize("row", rows("nec_table_8"))
def test_copper_at_75(row: dict[str, float]) -> None:
    """At 75 degC solid copper agrees with NEC table 8 to its last digit, stranded within 0.6 %."""
    area = wire.awg_area(row["gauge"])
    hot = PUBLISHED["nec_table_8"]["temperature_degc"]
    solid = wire.conductor_ohms(KFT, area, temperature=hot, stranded=False)
    assert solid == pytest.approx(row["solid_ohm_per_kft"], abs=0.0075)
    stranded = wire.conductor_ohms(KFT, area, temperature=hot, stranded=True)
    assert stranded == pytest.approx(row["stranded_ohm_per_kft"], rel=6e-3)
    assert abs(solid / row["stranded_ohm_per_kft"] - 1) > 0.015


@pytest.mark.parametrize("row", rows("faa_11_9"))
def test_hook_up_wire_at_its_worst(row: dict[str, float]) -> None:
    """The worst of a gauge is the FAA maximum where that is more, never less than the law of the gauge."""
    worst = wire.worst_ohms(KFT, gauge=row["gauge"])
    nominal = wire.conductor_ohms(KFT, wire.awg_area(row["gauge"]))
    assert worst == pytest.approx(max(row["max_ohm_per_kft"], nominal), rel=1e-12)
    assert wire.faa_max_ohms_per_metre(row["gauge"]) == pytest.approx(row["max_ohm_per_kft"] / KFT, rel=1e-12)


@pytest.mark.parametrize("row", rows("faa_11_9"))
def test_hook_up_maximum_follows_from_its_own_area(row: dict[str, float]) -> None:
    """Each FAA maximum is 12 to 18 % above what its own area gives; 24 AWG, the outlier, about 30 %."""
    from_area = wire.conductor_ohms(KFT, row["area_cmil"] * wire.CIRCULAR_MIL, stranded=False)
    published = wire.faa_max_ohms_per_metre(row["gauge"])
    assert published is not None
    above = published * KFT / from_area - 1
    assert (0.28 < above < 0.32) if row["gauge"] == 24 else (0.12 < above < 0.185)


@pytest.mark.parametrize("row", rows("iec_60228"))
def test_metric_maximum(row: dict[str, float]) -> None:
    """Each metric size has the IEC 60228 maximum of its class; a flexible one has less metal than named."""
    area = row["area_mm2"] * 1e-6
    limit = wire.iec_60228_max_ohms_per_metre
    assert limit(area, flexible=False) == pytest.approx(row["class_2_plain"] * 1e-3, rel=1e-12)
    assert limit(area, flexible=True) == pytest.approx(row["class_5_plain"] * 1e-3, rel=1e-12)
    assert limit(area, tinned=True) == pytest.approx(row["class_5_tinned"] * 1e-3, rel=1e-12)
    effective = wire.COPPER.resistivity / (row["class_5_plain"] * 1e-3)
    assert effective == pytest.approx(row["effective_class_5_mm2"] * 1e-6, rel=1e-3)


def test_iec_temperature_factors() -> None:
    """The law agrees with the IEC 60228 factors as closely as 0.00393 and their rounder 0.004 allow."""
    table = PUBLISHED["temperature_to_20"]
    for degrees, factor in zip(table["temperature_degc"], table["factor"], strict=True):
        rounding = 0.0006
        coefficients = abs(degrees - 20) * (table["coefficient_per_k"] - wire.COPPER.alpha) * factor**2
        assert abs(1 / wire.temperature_factor(degrees) - factor) <= rounding + coefficients


def test_hot_over_cold() -> None:
    """Copper at 75 degC has 1.2162 times its resistance at 20 degC; at -234.5 degC the line is at zero."""
    ratio = PUBLISHED["temperature_ratio"]
    assert wire.temperature_factor(75) == pytest.approx(ratio["ratio_75_to_20"], rel=1e-5)
    assert 100 / wire.temperature_factor(75) == pytest.approx(ratio["nec_share_20_of_75_percent"], abs=0.5)
    zero = 20 - 1 / wire.COPPER.alpha
    assert zero == pytest.approx(ratio["zero_resistance_degc"], abs=0.06)


def test_k_factors() -> None:
    """The K of the trade, in ohm circular mil per foot, follows from resistivity, lay and temperature."""
    k = PUBLISHED["k_factor"]
    solid = wire.conductor_ohms(wire.FOOT, wire.CIRCULAR_MIL, stranded=False)
    assert solid == pytest.approx(k["solid_20_ohm_cmil_per_ft"], rel=1e-4)
    stranded = wire.conductor_ohms(wire.FOOT, wire.CIRCULAR_MIL, temperature=75)
    assert stranded == pytest.approx(k["stranded_75_ohm_cmil_per_ft"], rel=4e-3)


@pytest.mark.parametrize("row", rows("awg"))
def test_ampacity_columns(row: dict[str, float]) -> None:
    """The chassis and transmission currents are the handbook's; transmission is 700 circular mils per A."""
    assert wire.ampacity(row["gauge"], "chassis") == row["chassis_a"]
    assert wire.ampacity(row["gauge"], "transmission") == row["transmission_a"]
    assert wire.awg_area(row["gauge"]) / wire.CIRCULAR_MIL / 700 == pytest.approx(
        row["transmission_a"], rel=0.04
    )


@pytest.mark.parametrize("row", rows("faa_11_9"))
def test_bundle_column(row: dict[str, float]) -> None:
    """The currents in a bundle are those of the FAA table."""
    assert wire.ampacity(row["gauge"], "bundle") == row["bundle_a"]


@pytest.mark.parametrize("row", rows("nec_bundle"))
def test_bundle_factors(row: dict[str, float]) -> None:
    """Both ends of each span of conductors have the NEC factor."""
    assert wire.bundle_factor(int(row["least"])) == row["factor"]
    assert wire.bundle_factor(int(row["most"])) == row["factor"]


@pytest.mark.parametrize("row", rows("other_metals"))
def test_other_metals(row: dict[str, Any]) -> None:
    """Aluminium and copper-clad aluminium have the share of copper's conductivity recalled for them."""
    assert 100 * wire.metal_named(row["metal"]).iacs == pytest.approx(row["iacs_percent"], abs=0.5)

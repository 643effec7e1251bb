"""Wire: what holds beside the published tables, and what is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import wire


@given(st.floats(-3, 56))
def test_gauge_comes_back_from_its_area(gauge: float) -> None:
    """The gauge of the area of a gauge is that gauge."""
    assert wire.awg_of_area(wire.awg_area(gauge)) == pytest.approx(gauge, abs=1e-9)


@pytest.mark.parametrize("gauge", [-3.01, 56.5, math.nan])
def test_gauge_outside_the_standard(gauge: float) -> None:
    """A gauge outside the standard is refused."""
    with pytest.raises(ValueError, match="outside"):
        wire.awg_diameter(gauge)


@pytest.mark.parametrize("area", [0.0, -1e-6, math.nan])
def test_no_area_no_gauge(area: float) -> None:
    """An area that is not positive has no gauge."""
    with pytest.raises(ValueError, match="not positive"):
        wire.awg_of_area(area)


@given(
    length=st.floats(0, 1e3),
    area=st.floats(1e-8, 1e-4),
    temperature=st.floats(-50, 200),
    parallel=st.integers(1, 12),
    metal=st.sampled_from(sorted(wire.METALS)),
)
def test_ohms_scale(length: float, area: float, temperature: float, parallel: int, metal: str) -> None:
    """Twice the length doubles, twice the area or the conductors halves; ten degrees more never help."""
    ohms = wire.conductor_ohms(length, area, temperature=temperature, metal=metal, parallel=parallel)
    again = wire.conductor_ohms(2 * length, area, temperature=temperature, metal=metal, parallel=parallel)
    assert again == pytest.approx(2 * ohms, rel=1e-12)
    again = wire.conductor_ohms(length, 2 * area, temperature=temperature, metal=metal, parallel=parallel)
    assert again == pytest.approx(ohms / 2, rel=1e-12)
    again = wire.conductor_ohms(length, area, temperature=temperature, metal=metal, parallel=2 * parallel)
    assert again == pytest.approx(ohms / 2, rel=1e-12)
    hotter = wire.conductor_ohms(length, area, temperature=temperature + 10, metal=metal, parallel=parallel)
    assert hotter >= ohms


@pytest.mark.parametrize(
    ("length", "area", "parallel"), [(-1, 1e-6, 1), (1, 0, 1), (1, 1e-6, 0), (math.nan, 1e-6, 1)]
)
def test_no_such_conductor(length: float, area: float, parallel: int) -> None:
    """A negative length, no area or no conductor is refused."""
    with pytest.raises(ValueError, match="no such conductor"):
        wire.conductor_ohms(length, area, parallel=parallel)


def test_too_cold() -> None:
    """Below the zero of the straight line there is no resistance to give."""
    assert wire.temperature_factor(-234) > 0
    with pytest.raises(ValueError, match="below the range"):
        wire.temperature_factor(-235)


def test_unknown_metal() -> None:
    """An unknown metal is refused with the list of the known ones, in text and as data."""
    with pytest.raises(LookupError, match="copper, aluminium, copper-clad-aluminium") as refused:
        wire.conductor_ohms(1.0, 1e-6, metal="tin")
    assert isinstance(refused.value, wire.UnknownChoiceError)
    assert (refused.value.what, refused.value.name) == ("metal", "tin")
    assert refused.value.choices == tuple(wire.METALS)


def test_metals_in_order() -> None:
    """Copper conducts best, then copper-clad aluminium, then aluminium; so do their laws at 75 degC."""
    ohms = [
        wire.conductor_ohms(1.0, 1e-6, metal=metal, temperature=75)
        for metal in ("copper", "copper-clad-aluminium", "aluminium")
    ]
    assert ohms == sorted(ohms)
    assert ohms[1] > 1.5 * ohms[0]


def test_metric_table_is_in_order() -> None:
    """All sizes: class 5 above class 2, tin above plain, and all from 3 to 20 % above the nominal area."""
    for area in wire.IEC_60228:
        coarse, coarse_tinned, fine, fine_tinned = (
            wire.iec_60228_max_ohms_per_metre(area * 1e-6, flexible=flexible, tinned=tinned) or 0.0
            for flexible in (False, True)
            for tinned in (False, True)
        )
        assert 1.03 * 1.7241e-2 / area < coarse < coarse_tinned < fine < fine_tinned < 1.2 * 1.7241e-2 / area


def test_metric_size_that_is_not_in_the_table() -> None:
    """A size that the standard does not list has no maximum."""
    assert wire.iec_60228_max_ohms_per_metre(0.6e-6) is None


@pytest.mark.parametrize("gauge", [7, 9, 20.5, 26])
def test_gauge_that_is_not_in_the_table(gauge: float) -> None:
    """A gauge that the FAA table does not list has no maximum."""
    assert wire.faa_max_ohms_per_metre(gauge) is None


def test_worst_of_metric_wire() -> None:
    """The worst of a metric wire is its class: 5 tinned, 5 plain, or 2 for solid, at the temperature."""
    assert wire.worst_ohms(2.0, area=0.5e-6) == pytest.approx(2 * 40.1e-3)
    assert wire.worst_ohms(2.0, area=0.5e-6, tinned=False) == pytest.approx(2 * 39.0e-3)
    assert wire.worst_ohms(2.0, area=0.5e-6, stranded=False) == pytest.approx(2 * 36.0e-3)
    assert wire.worst_ohms(2.0, area=0.5e-6, temperature=75, parallel=2) == pytest.approx(40.1e-3 * 1.21615)


def test_worst_of_hook_up_wire() -> None:
    """The worst of 16 AWG is the FAA maximum when hot; of 20 AWG, whose maximum is low, the law's."""
    assert wire.worst_ohms(304.8, gauge=16, temperature=75, parallel=3) == pytest.approx(4.81 * 1.21615 / 3)
    law = wire.conductor_ohms(304.8, wire.awg_area(20))
    assert law > 9.88
    assert wire.worst_ohms(304.8, gauge=20) == pytest.approx(law)


def test_worst_where_nothing_is_published() -> None:
    """Beyond the tables, tinned strands get 3 %; solid, plain and other metals stay as computed."""
    area = wire.awg_area(28)
    law = wire.conductor_ohms(1.0, area)
    assert wire.worst_ohms(1.0, gauge=28) == pytest.approx(1.03 * law)
    assert wire.worst_ohms(1.0, gauge=28, tinned=False) == pytest.approx(law)
    solid = wire.worst_ohms(1.0, gauge=16, stranded=False)
    assert solid == pytest.approx(wire.conductor_ohms(1.0, wire.awg_area(16), stranded=False))
    clad = wire.worst_ohms(1.0, gauge=28, metal="copper-clad-aluminium")
    assert clad == pytest.approx(wire.conductor_ohms(1.0, area, metal="copper-clad-aluminium"))


@given(gauge=st.floats(-3, 40), stranded=st.booleans(), tinned=st.booleans(), temperature=st.floats(-40, 120))
def test_worst_is_never_better(gauge: float, stranded: bool, tinned: bool, temperature: float) -> None:
    """The worst of a wire, by gauge or by the same area, is at least what the law gives."""
    area = wire.awg_area(gauge)
    law = wire.conductor_ohms(1.0, area, stranded=stranded, temperature=temperature)
    for by_gauge, by_area in ((gauge, None), (None, area)):
        worst = wire.worst_ohms(
            1.0, gauge=by_gauge, area=by_area, stranded=stranded, tinned=tinned, temperature=temperature
        )
        assert worst >= law * (1 - 1e-12)


def test_gauge_or_area() -> None:
    """Both or neither of gauge and area is refused."""
    with pytest.raises(ValueError, match="not both"):
        wire.worst_ohms(1.0)
    with pytest.raises(ValueError, match="not both"):
        wire.worst_ohms(1.0, gauge=20, area=0.5e-6)


def test_ampacity_between_rows() -> None:
    """Between two rows the thinner wire counts; outside the table nothing is said."""
    assert wire.ampacity(20.1, "chassis") == wire.ampacity(21, "chassis")
    assert wire.ampacity(11, "bundle") == wire.ampacity(12, "bundle")
    assert wire.ampacity(25, "bundle") is None
    assert wire.ampacity(31, "chassis") is None
    assert wire.ampacity(9, "bundle") is None
    assert wire.ampacity(-3.1, "chassis") is None


@pytest.mark.parametrize("gauge", range(-3, 10))
def test_ampacity_of_thick_cable(gauge: int) -> None:
    """The rows from memory keep the law of their own column, 700 circular mils an ampere, and rise with the area."""
    chassis, transmission, _ = wire.AMPACITY[gauge]
    assert transmission == pytest.approx(wire.awg_area(gauge) / wire.CIRCULAR_MIL / 700, rel=0.04)
    assert chassis is not None
    assert chassis > (wire.AMPACITY[gauge + 1][0] or 0.0)


@pytest.mark.parametrize("gauge", range(10, 31))
def test_ampacity_by_area(gauge: int) -> None:
    """The area of a listed gauge finds the row of that gauge, whatever the rounding."""
    assert wire.ampacity(wire.awg_of_area(wire.awg_area(gauge)), "chassis") == wire.ampacity(gauge, "chassis")


def test_unknown_table() -> None:
    """An unknown table of ampacities is refused with the list of the known ones."""
    with pytest.raises(wire.UnknownChoiceError, match="chassis, transmission, bundle"):
        wire.ampacity(20, "free air")


def test_no_bundle() -> None:
    """A bundle of nothing is refused."""
    with pytest.raises(ValueError, match="bundle of 0"):
        wire.bundle_factor(0)

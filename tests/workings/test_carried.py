"""What wires carry: the table where it reaches, and what is computed beyond it, against published figures."""

from __future__ import annotations

import pytest

from coldcheck.workings.carried import carried


@pytest.mark.parametrize(("gauge", "amps"), [(10, 55.0), (18, 16.0), (22, 7.0), (28, 1.4), (30, 0.86)])
def test_table(gauge: int, amps: float) -> None:
    """Gauges of the table carry what it says, to the letter (Handbook of Electronic Tables, chassis wiring)."""
    found = carried(gauge)
    assert (found.amps, found.how, found.floor) == (amps, "", False)


@pytest.mark.parametrize(("gauge", "published"), [(32, 0.53), (34, 0.33), (36, 0.21)])
def test_thinner_than_the_table(gauge: int, published: float) -> None:
    """Below 30 AWG the scaled figure is the published one of longer copies of the table, to 5 % (from memory)."""
    found = carried(gauge)
    assert found.amps == pytest.approx(published, rel=0.05)
    assert "computed" in found.how or "scaled" in found.how


def test_thicker_than_the_table() -> None:
    """A wire thicker than the table carries at least what its thickest carries, and says that it is a floor."""
    assert carried(-4).amps == carried(-3).amps
    assert carried(-4).floor
    assert not carried(-3).floor


@pytest.mark.parametrize(("metal", "share"), [("aluminium", 0.61), ("copper-clad-aluminium", 0.63)])
def test_other_metals_make_the_same_heat(metal: str, share: float) -> None:
    """The heat I² × resistivity is that of copper at its rating (61 % IACS: IEC 60889; 63 %: ASTM B566)."""
    found = carried(18, metal)
    assert found.amps**2 / share == pytest.approx(carried(18).amps ** 2, rel=0.005)
    assert metal in found.how


def test_never_more_for_a_thinner_wire() -> None:
    """The thinner a wire the less it carries, over the whole range and across the ends of the table."""
    amps = [carried(gauge / 4).amps for gauge in range(0, 160)]
    assert amps == sorted(amps, reverse=True)


@pytest.mark.parametrize(("among", "share"), [(3, 1.0), (4, 0.8), (9, 0.7), (12, 0.5), (41, 0.35)])
def test_among_others(among: int, share: float) -> None:
    """In a bundle a wire keeps the share of the table (NEC 2014 table 310.15(B)(3)(a))."""
    assert carried(18, among=among).amps == pytest.approx(16.0 * share)

"""Fuses against published gates, tables and worked examples; rows, sources and how sure are in fuses.toml."""

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.dc import fuse, fuse_data, wire

PUBLISHED: dict[str, Any] = tomllib.loads(
    Path(__file__).with_name("fuses.toml").read_text(encoding="utf-8"),
)
BELOW, ABOVE = 1 - 1e-6, 1 + 1e-6


def gates(table: str) -> list[Any]:
    """Give each published gate at each rating of its row, a test of its own."""
    return [
        pytest.param(row["kind"], rated, *gate, id=f"{row['id']}, {rated} A at {gate[0]}")
        for row in PUBLISHED[table]
        for rated in row["rated_a"]
        for gate in zip(row["multiple"], row["min_s"], row["max_s"], strict=True)
    ]


def rows(table: str, key: str) -> list[Any]:
    """Give the rows of one published table that have a key, each a test of its own."""
    return [
        pytest.param(row, id=f"{table}-{next(iter(row.values()))}")
        for row in PUBLISHED[table]["rows"]
        if key in row
    ]


@pytest.mark.parametrize(("kind", "rated", "multiple", "shortest", "longest"), gates("gates"))
def test_gate(kind: str, rated: float, multiple: float, shortest: float, longest: float) -> None:
    """At a gate a fuse is surely held for the shortest time, surely open after the longest, unsure between."""
    amps = rated * multiple
    if shortest > 0:
        assert fuse.holds(kind, rated, amps, shortest) is True
        assert fuse.holds(kind, rated, amps, shortest * ABOVE) is None
        assert fuse.stands(kind, rated, shortest) == pytest.approx(amps, rel=1e-9)
    if longest > 0:
        assert fuse.opens_within(kind, rated, amps) == pytest.approx(longest, rel=1e-6)
        assert fuse.holds(kind, rated, amps, longest) is False
        assert fuse.holds(kind, rated, amps, longest * 0.999) is None
    else:
        assert fuse.opens_within(kind, rated, amps) is None


@pytest.mark.parametrize("row", PUBLISHED["gates"], ids=lambda row: row["id"])
def test_no_gate_is_added(row: dict[str, Any]) -> None:
    """The tables hold the published gates and no others."""
    for rated in row["rated_a"]:
        (found,) = fuse.gates(row["kind"], rated)
        assert [gate.multiple for gate in found] == row["multiple"]


@pytest.mark.parametrize("row", PUBLISHED["gates"], ids=lambda row: row["id"])
def test_nothing_is_stood_beyond_the_gates(row: dict[str, Any]) -> None:
    """Beyond the last gate that has a shortest time not even a microsecond is surely stood."""
    last = max(each for each, least in zip(row["multiple"], row["min_s"], strict=True) if least > 0)
    for rated in row["rated_a"]:
        assert fuse.holds(row["kind"], rated, 0.999 * last * rated, 1e-6) is True
        assert fuse.holds(row["kind"], rated, 1.001 * last * rated, 1e-6) is not True


@pytest.mark.parametrize(("kind", "rated", "multiple", "shortest", "longest"), gates("inside"))
def test_single_types_lie_inside(
    kind: str, rated: float, multiple: float, shortest: float, longest: float
) -> None:
    """What one maker publishes of one type never contradicts what is surely said of its kind."""
    amps = rated * multiple
    if shortest > 0:
        assert fuse.stands(kind, rated, shortest * ABOVE) <= amps * ABOVE
    within = fuse.opens_within(kind, rated, amps)
    if longest > 0 and within is not None:
        assert within >= longest * BELOW


@pytest.mark.parametrize("row", rows("opens_at", "kind"))
def test_surely_opens(row: dict[str, Any]) -> None:
    """A fuse surely opens at 1.35 (UL, blade) or 2.1 (IEC): it may be 1.07 or 0.69 of what its wire carries."""
    assert fuse.surely_opens_at(row["kind"]) == row["multiple"]
    ten = fuse.wire_protected(row["kind"], 10.0, 10.0)
    assert ten.most == pytest.approx(10 * PUBLISHED["opens_at"]["factor"], rel=1e-12)
    assert ten.opens == pytest.approx(10 * row["multiple"], rel=1e-12)
    assert ten.most / ten.opens == pytest.approx(row["ampacity_share"], abs=0.005)
    assert ten.opens_in_time == (row["ampacity_share"] > 1)
    assert ten.rated_within


def test_same_mark_two_fuses() -> None:
    """A 5 A fuse of IEC carries 7.5 A for an hour; one of UL opens within an hour at 6.75 A; unknown is neither."""
    e = PUBLISHED["same_mark"]
    for kind in ("iec-fast", "iec-slow", "iec-slow-high", "glass"):
        assert fuse.holds(kind, e["rated_a"], e["iec_carries_a"], e["iec_for_s"]) is True
        assert fuse.opens_within(kind, e["rated_a"], e["ul_opens_at_a"]) is None
    for kind in ("ul-fast", "ul-slow"):
        assert fuse.opens_within(kind, e["rated_a"], e["ul_opens_at_a"]) == pytest.approx(e["ul_within_s"])
        assert fuse.holds(kind, e["rated_a"], e["iec_carries_a"], e["iec_for_s"]) is False
    for kind in ("fast", "slow"):
        assert fuse.holds(kind, e["rated_a"], e["iec_carries_a"], e["iec_for_s"]) is None
        assert fuse.opens_within(kind, e["rated_a"], e["ul_opens_at_a"]) is None
        assert fuse.surely_opens_at(kind) == 2.1
        assert fuse.carries(kind) == 1.1


@pytest.mark.parametrize("row", rows("faa_11_3", "gauge"))
def test_faa_fuse_and_breaker(row: dict[str, float]) -> None:
    """Each gauge has the fuse and the breaker of FAA table 11-3."""
    assert fuse.faa_fuse(row["gauge"]) == row["fuse_a"]
    assert fuse.faa_breaker(row["gauge"]) == row["breaker_a"]


@pytest.mark.parametrize("row", rows("series_213", "cold_mohm"))
def test_cold_resistance(row: dict[str, float]) -> None:
    """Each rating of the time-lag series has its published cold resistance; hot it has no less."""
    found = fuse.ohms("iec-slow", row["rated_a"])
    assert found == pytest.approx(row["cold_mohm"] * 1e-3, rel=1e-9)
    if "max_drop_mv" in row:
        drop = fuse.greatest_drop("iec-slow", row["rated_a"])
        assert drop == pytest.approx(row["max_drop_mv"] * 1e-3, rel=1e-9)
        assert found is not None
        assert drop is not None
        assert found * row["rated_a"] < drop


@pytest.mark.parametrize("row", rows("series_213", "melting_a2s"))
def test_melting(row: dict[str, float]) -> None:
    """Each rating has its published melting integral; at ten times the rating it lies between the gates."""
    found = fuse.melting("iec-slow", row["rated_a"])
    assert found == pytest.approx(row["melting_a2s"], rel=1e-9)
    assert found is not None
    amps = 10 * row["rated_a"]
    seconds = found / amps**2
    assert fuse.stands("iec-slow", row["rated_a"], seconds) <= amps
    assert seconds <= (fuse.opens_within("iec-slow", row["rated_a"], amps) or 0)


def test_blade() -> None:
    """A blade fuse breaks 1 kA at 32 V DC; cartridges have no DC rating that is known."""
    assert fuse.volts_rated("blade") == PUBLISHED["blade"]["volts_dc"]
    assert fuse.breaking("blade", 15) == PUBLISHED["blade"]["breaking_a"]
    for kind in fuse_data.KINDS:
        if kind != "blade":
            assert fuse.volts_rated(kind) is None


@pytest.mark.parametrize("rated", [0.5, 1.0, 3.15, 3.5, 4.0, 10.0])
def test_glass_breaking(rated: float) -> None:
    """A glass cartridge breaks 35 A or 10 times its rating, and one of unknown standard is taken as no better."""
    e = PUBLISHED["glass"]
    most = max(e["least_breaking_a"], e["times_rating"] * rated)
    for kind in ("glass", "iec-fast", "iec-slow", "fast", "slow"):
        assert fuse.breaking(kind, rated) == most
    assert fuse.breaking("iec-slow-high", rated) == PUBLISHED["high_breaking"]["breaking_a"]
    assert (fuse.breaking("ul-fast", rated) or 0) >= e["least_breaking_a"]
    assert fuse.breaking("ptc", rated) is None
    assert fuse.breaking("ul-slow", 31) is None
    assert fuse.breaking("slow", 31) is None


def test_blade_sizes() -> None:
    """Blade sizes span the published ranges, and every end of a range is a size."""
    sizes = fuse.sizes("blade")
    e = PUBLISHED["blade_sizes"]
    ends = [end for name in ("mini_a", "regular_a", "maxi_a") for end in e[name]]
    assert set(ends) <= set(sizes)
    assert (min(sizes), max(sizes)) == (min(ends), max(ends))


def test_cartridge_sizes() -> None:
    """Sizes of IEC cartridges are the Renard series R10 from 0.5 to 10 A, rounded by at most 1.5 %."""
    exact = [10 ** (step / 10) for step in range(-3, 11)]
    for kind in ("iec-fast", "iec-slow", "glass"):
        assert fuse.sizes(kind) == pytest.approx(exact, rel=0.015)
    assert set(fuse.sizes("iec-slow-high")) < set(fuse.sizes("iec-slow"))


def test_holder() -> None:
    """A holder adds 2 to 5 mohm."""
    assert list(fuse_data.HOLDER_OHMS) == PUBLISHED["holder"]["ohms"]


@pytest.mark.parametrize("row", rows("ptc", "hold_a"))
def test_ptc(row: dict[str, float]) -> None:
    """A PTC holds and trips as published, up to its voltage; after a trip it has 4.8 to 8.8 times the ohms."""
    e = PUBLISHED["ptc"]
    hold = row["hold_a"]
    assert fuse.volts_rated("ptc", hold) == row["max_v"]
    assert fuse.ptc_ohms(hold) == (row["min_ohm"], row["post_trip_max_ohm"])
    new, tripped = fuse.ptc_ohms(hold) or (0.0, 0.0)
    low, high = e["tripped_over_new"]
    assert low - 0.05 <= tripped / new <= high + 0.05
    assert any(each.hold == hold and each.trip == row["trip_a"] for each in fuse_data.PTCS)
    assert fuse.holds("ptc", hold, hold, math.inf) is True
    assert fuse.holds("ptc", hold, row["trip_a"], 3600.0) is None


def test_ptc_trips() -> None:
    """No published PTC trips above the multiple at which one surely does, and some trip only there."""
    e, boards = PUBLISHED["ptc"], PUBLISHED["ptc_boards"]
    ratios = [row["trip_a"] / row["hold_a"] for row in e["rows"]]
    others = [trip / hold for hold, trip in zip(boards["hold_a"], boards["trip_a"], strict=True)]
    most = fuse.surely_opens_at("ptc")
    assert most == e["trip_over_hold"][1] == pytest.approx(max(ratios))
    assert all(fuse.carries("ptc") < ratio <= most * ABOVE for ratio in ratios + others)
    assert fuse.opens_within("ptc", 1.0, 3.0) is None


def test_ptc_between_types() -> None:
    """Between two published PTC types the worse figures count; outside there are none."""
    assert fuse.volts_rated("ptc", 0.3) == 6.0
    assert fuse.ptc_ohms(0.3) == (0.25, 3.5)
    assert fuse.volts_rated("ptc", 2.5) is None
    assert fuse.ptc_ohms(0.05) is None


def test_ptc_hold_in_the_heat() -> None:
    """A PTC holds all at 23 degC, 65 to 75 % at 60 degC, and more in the cold."""
    low, high = PUBLISHED["ptc"]["hold_share_at_60_degc"]
    assert fuse.ptc_hold(2.5, 23) == 2.5
    assert fuse.ptc_hold(1.0, 60) == pytest.approx((low + high) / 2, rel=1e-12)
    assert fuse.ptc_hold(1.0, 85) < low
    assert 1.1 < fuse.ptc_hold(1.0, 0) < 1.3


def test_e10_continuous_load() -> None:
    """E10: continuous loads of 16 A and 24 A take fuses of 20 A and 30 A, which are sizes."""
    e = PUBLISHED["E10"]
    for load, published in zip(e["load_a"], e["published_fuse_a"], strict=True):
        least = fuse.least_for(load, "ul-slow", safety=fuse_data.NEC_CONTINUOUS)
        assert least == pytest.approx(published, rel=1e-12)
        assert fuse.size_for(least, "ul-slow") == published


def test_e11_derated() -> None:
    """E11: 1.5 A at 40 degC need a chip fuse of more than 2.255 A."""
    e = PUBLISHED["E11"]
    assert e["safety_factor"] == fuse_data.CHIP
    least = fuse.least_for(e["load_a"], "fast", e["temperature_factor"], fuse_data.CHIP)
    assert least == pytest.approx(e["recomputed_min_rating_a"], abs=0.00005)
    assert least > e["published_min_rating_a"]


def test_e12_ul_rule() -> None:
    """E12: 7.5 A need a UL fuse of 10 A, an IEC fuse of 7.5 A; of unknown standard, as UL."""
    e = PUBLISHED["E12"]
    for kind in ("ul-fast", "ul-slow", "fast", "slow", "blade"):
        assert fuse.least_for(e["load_a"], kind) == pytest.approx(e["published_fuse_a"], rel=1e-12)
    for kind in ("iec-fast", "iec-slow", "iec-slow-high", "glass"):
        assert fuse.least_for(e["load_a"], kind) == e["load_a"]


def test_x11_fuse_for_the_pin_alone() -> None:
    """X11: a fuse of 10 A that suits a pin of 11 A does not protect 18 AWG in a bundle, 6 A."""
    e = PUBLISHED["X11"]
    assert wire.ampacity(e["gauge"], "bundle") == e["bundle_a"]
    found = fuse.wire_protected("blade", e["fuse_a"], e["bundle_a"])
    assert not found.ok
    assert not found.rated_within
    assert not found.opens_in_time
    assert fuse.wire_protected("blade", 5.0, e["bundle_a"]).ok

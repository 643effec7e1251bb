"""Fans against published laws and sheets; rows and sources are in fans.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.dc import fan

FANS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("fans.toml").read_text(encoding="utf-8"))


def test_e30_noise() -> None:
    """E30: a fan slowed to 7/12 and 9/12 of its speed is 11.7 dB and 6.25 dB quieter."""
    e = FANS["E30"]
    for volts, published, exact in zip(e["volts"], e["published_db"], e["recomputed_db"], strict=True):
        found = fan.noise_change(volts / e["nominal_v"])
        assert found == pytest.approx(published, abs=0.005)
        assert found == pytest.approx(exact, abs=0.0005)


def test_e31_tach() -> None:
    """E31: 6000 turns a minute make 200 Hz, by the two pulses that are assumed."""
    e = FANS["E31"]
    assert fan.tach_hertz(e["rpm"]) == e["published_hz"]
    assert fan.tach_hertz(e["rpm"], e["pulses_per_turn"]) == e["published_hz"]


def test_speed_at_7_v() -> None:
    """At 7 V a 12 V fan moves 55 % of its air, and not the 58 % of plain proportion."""
    s = FANS["speed"]
    found = fan.speed_share(s["volts"], s["rated_v"])
    assert found == pytest.approx(s["published_share"], abs=0.01)
    low, high = s["offset_v"]
    assert low <= fan.OFFSET_VOLTS <= high
    for offset in (low, high):
        assert fan.speed_share(s["volts"], s["rated_v"], offset) == pytest.approx(
            s["published_share"], abs=0.0155
        )
    assert fan.speed_share(s["volts"], s["rated_v"], 0.0) == pytest.approx(s["wrong_share"], abs=0.005)


def test_laws() -> None:
    """At twice the speed flow, pressure and power grow by the published powers of two."""
    laws = FANS["laws"]
    assert fan.flow_ratio(2.0) == 2 ** laws["flow"]
    assert fan.pressure_ratio(2.0) == 2 ** laws["pressure"]
    assert fan.power_ratio(2.0) == 2 ** laws["power"]


def test_start_and_over_voltage() -> None:
    """The voltages that are assumed where a fan publishes none are those of the maker's note."""
    least, most = FANS["start"]["least_v"], FANS["start"]["most_v"]
    assert least == fan.START_VOLTS[0]
    assert most == fan.START_VOLTS[1]
    assert fan.most_volts(FANS["over"]["rated_v"]) == pytest.approx(FANS["over"]["most_v"], rel=1e-12)


@pytest.mark.parametrize("row", FANS["fans"], ids=lambda row: row["what"])
def test_fans(row: dict[str, Any]) -> None:
    """No fan's lower limit is a voltage at which an ordinary fan surely stands; amps at rated volts are its own."""
    assert fan.starts(row["min_v"]) is True
    assert row["max_v"] == pytest.approx(fan.most_volts(row["rated_v"]), rel=0.05)
    if "rated_a" in row:
        amps = fan.amps_at(row["rated_v"], row["rated_a"], row["rated_v"])
        assert amps * row["rated_v"] == pytest.approx(row["rated_w"], rel=1e-9)
    if "start_v" in row:
        # the exception that the docstring warns of: its own figure decides
        assert fan.starts(7.2) is True
        assert fan.starts(7.2, row["start_v"], row["start_v"]) is False

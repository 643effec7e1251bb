"""Timers, priorities and path costs of spanning tree against switch manuals, rows in spanning.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan import bridging

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("spanning.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("row", ROWS["path_cost"], ids=lambda row: str(row["speed_mbps"]))
def test_path_costs(row: dict[str, Any]) -> None:
    """A port costs what the tables of 1998 and 2004 say (IEEE 802.1D, read in switch manuals)."""
    bits = row["speed_mbps"] * 1e6
    assert bridging.path_cost(bits) == row["cost_2004"]
    assert bridging.path_cost(bits, short=True) == row.get("cost_1998")


def test_usual_timers_and_priorities() -> None:
    """The usual timers, their ranges, and the priorities are those of switch manuals."""
    row = ROWS["stp"]
    assert row["hello_s"] == bridging.HELLO
    assert row["max_age_s"] == bridging.MAX_AGE
    assert row["forward_delay_s"] == bridging.FORWARD_DELAY
    assert tuple(row["hello_range_s"]) == bridging.HELLO_RANGE
    assert tuple(row["max_age_range_s"]) == bridging.MAX_AGE_RANGE
    assert tuple(row["forward_delay_range_s"]) == bridging.FORWARD_DELAY_RANGE
    assert row["priority_default"] == bridging.DEFAULT_PRIORITY
    assert row["priority_step"] == bridging.PRIORITY_STEP
    assert row["priority_max"] == bridging.PRIORITY_MAX


def test_timer_rule() -> None:
    """E31: hello 2 and delay 15 allow a max age of 6 to 28 s, so the usual 20 (IEEE 802.1D rules)."""
    row = ROWS["E31"]
    least, most = bridging.max_age_limits(row["hello_s"], row["forward_delay_s"])
    assert (least, most) == (row["answer_lower_s"], row["answer_upper_s"])
    assert (least <= row["max_age_s"] <= most) is row["answer_ok"]


def test_seven_in_a_row_give_the_usual_timers() -> None:
    """Seven bridges in a row need 20 and 15 s, the usual timers, and eight need more (formula from memory)."""
    row = ROWS["stp"]
    assert row["diameter_max_bridges"] == bridging.MOST_IN_A_ROW
    assert bridging.timers_for(row["diameter_max_bridges"]) == (row["max_age_s"], row["forward_delay_s"])
    age, delay = bridging.timers_for(row["diameter_max_bridges"] + 1)
    assert age > row["max_age_s"]
    assert delay > row["forward_delay_s"]


def test_slowest_recovery() -> None:
    """The usual timers let a break last 20 + 15 + 15 = 50 s (IEEE 802.1D, from memory)."""
    assert bridging.slowest_recovery() == ROWS["stp"]["worst_reconvergence_s"]

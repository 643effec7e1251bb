"""Rules on batteries where their cases cannot tell: how many findings one slip makes."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from click.testing import Result

BANK = """
[[feed]]
id = "bank"
volts = "12 V"
amps = "20 A"
battery = true
ohms = "50 mohm"
cut_off = "10 V"
{}
[[node]]
id = "n1"
from = "bank"
lead = "0 ohm"
peak = "40 W"
"""


@pytest.mark.parametrize(
    "bank, area",
    [
        ('low = "9.9 V"\nhigh = "14.6 V"', "batteries.cut_off"),  # below it, and so also under load
        ('low = "10.1 V"\nhigh = "14.6 V"', "batteries.cut_off"),
        (
            'watt_hours = "480 Wh"\nusable = "50 %"\nhold = "9 h"',
            "batteries.run_time",
        ),  # and so also once it is worn
        ('watt_hours = "480 Wh"\nusable = "50 %"\nhold = "5.5 h"', "batteries.aged"),
    ],
)
def test_one_slip_is_told_once(
    run: Callable[..., Result], write: Callable[..., str], bank: str, area: str
) -> None:
    """A bank that is wrong in one thing gives one finding, by the rule that comes first."""
    said = run("lint", write(BANK.format(bank)), "--only", "batteries").stdout
    assert said.count("rule     batteries.") == 1, said
    assert f"rule     {area}" in said

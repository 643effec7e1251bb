"""What remedies of supplies say is enough when it is done."""

from __future__ import annotations

import datetime
import re

from coldcheck import ours
from coldcheck.engine.running import judge

DAY = datetime.date(2026, 11, 1)
HOT = """
[plan]
ambient = "35 degC"
[[feed]]
id = "f"
volts = "12 V"
[[supply]]
id = "s"
from = "f"
efficiency = "90 %"
standing = "1 W"
warms = "30 K/W"
hottest = "105 degC"
[[supply.rail]]
id = "r"
volts = "5 V"
[[node]]
id = "n"
from = "s.r"
peak = "{} W"
lead = "0 ohm"
"""


def test_a_converter_may_give_what_the_remedy_says() -> None:
    """70 K at 30 K/W are 2.33 W, less 1 W standing; 1.33 W of loss at 90 % are 12 W given, and not too much."""
    book = ours.rulebook(entry_points=False)

    def hot(watts: str) -> list[str]:
        plan = ours.read_plan("t.toml", HOT.format(watts).encode(), ours.shelf(book))
        found = judge(plan, book, DAY, only=("supplies.heat",)).findings
        return [f.remedy for f in found if f.kind == "fail"]

    (remedy,) = hot("20")
    most = re.search(r"no more than about ([0-9.]+) W", remedy)
    assert most
    assert float(most[1]) == round(70 / 30 * 9 - 9, 3)
    assert hot("11.4") == []  # what is lost in contacts comes on top
    assert hot("12.1") != []

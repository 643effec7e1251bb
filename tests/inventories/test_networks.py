"""Networks that people build, each clean; and slips planted into them, each named once.

The plans of `networks` say nothing of power but PoE: that nothing feeds their boards is the one finding left aside.
"""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest
import tomli

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import judge

HERE = Path(__file__).parent
DAY = datetime.date(2026, 11, 1)
BOOK = ours.rulebook(entry_points=False)
SHELF = ours.shelf(BOOK)
PLANS = {path.stem: path.read_text(encoding="utf-8") for path in sorted((HERE / "networks").glob("*.toml"))}
SLIPS = tomli.loads((HERE / "networks-slips.toml").read_text(encoding="utf-8"))["slip"]


def lint(text: str) -> list[Finding]:
    """Return what is wrong, doubtful or open in a plan; notes and reviews are left out, and so is missing power."""
    found = judge(ours.read_plan("plan.toml", text.encode(), SHELF), BOOK, DAY).findings
    asked = (f for f in found if f.kind == "open" or (f.kind == "fail" and f.level != "note"))
    return [f for f in asked if f.rule != "rails.unfed"]


def planted(slip: dict[str, str], text: str) -> str:
    """Return a plan with a slip in it."""
    assert slip["before"] in text
    return text.replace(slip["before"], slip["after"], 1)


def told(found: list[Finding]) -> list[str]:
    """Return findings as words, for a failing test."""
    return [f"{f.rule} {f.kind} {f.level}: {f.says}" for f in found]


@pytest.mark.parametrize("name", PLANS)
def test_it_lints_clean(name: str) -> None:
    """A network that works has nothing to mend."""
    assert told(lint(PLANS[name])) == []


@pytest.mark.parametrize("slip", SLIPS, ids=[f"{n}-{slip['plan']}" for n, slip in enumerate(SLIPS)])
def test_each_slip_is_named_once(slip: dict[str, str]) -> None:
    """One slip in a network gives one finding, and it names the slip."""
    found = lint(planted(slip, PLANS[slip["plan"]]))
    assert [f.rule for f in found] == [slip["rule"]], told(found)
    assert slip["at"] in found[0].says, told(found)
    assert found[0].remedy or found[0].missing, told(found)


def test_they_are_many() -> None:
    """No slip is lost: forty networks and more, three slips each on the average and more, no two alike."""
    assert len(PLANS) >= 40
    assert (
        len({(slip["plan"], slip["before"], slip["after"]) for slip in SLIPS}) == len(SLIPS) >= 3 * len(PLANS)
    )

"""The example plans: the clean ones are clean, and each slip planted in the draft is named, once."""

from __future__ import annotations

import datetime

import pytest

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import judge

DAY = datetime.date(2026, 11, 1)


def findings(name: str) -> list[Finding]:
    """Return all that is found in an example plan."""
    book = ours.rulebook(entry_points=False)
    text = (ours.folder("inventories") / name).read_bytes()
    return judge(ours.read_plan(name, text, ours.shelf(book)), book, DAY).findings


@pytest.mark.parametrize("name", ["lantern-room.toml", "gorse-hill.toml"])
def test_clean(name: str) -> None:
    """A clean example leaves nothing but what a person must look at, and what a waiver accepts."""
    rest = [f for f in findings(name) if f.kind != "review" and not f.waived]
    assert rest == []


SLIPS = [
    ("fuses.current", "bank", "error"),
    ("polarity.centre", "mesh", "error"),
    ("rails.overload", "five.5v", "error"),
    ("spinup.rail_peak", "disks.12v", "error"),
    ("volts.too_low", "n7.header", "error"),
    ("ports.double_booked", "sw.6", "error"),
    ("addresses.duplicate", "n5", "error"),
    ("volts.wrong_rail", "n8.header", "error"),
    ("ports.unknown", "sw", "error"),
    ("addresses.not_a_host", "n8", "error"),
    ("poe.not_a_poe_port", "eye", "error"),
    ("pools.fixed_inside", "eye", "error"),
    ("spinup.unkept_delay", "d2 .. d4", "warning"),
    ("poe.budget", "sw", "error"),
    ("references.unknown", "bnak", "error"),
    ("polarity.pins_agree", "n1.header.6", "error"),
    ("polarity.pins_agree", "n1.header.4", "error"),
    ("subnets.gateway", "10.41.0.1", "error"),
]


@pytest.fixture(scope="module")
def draft() -> list[Finding]:
    """Give what is found in the draft."""
    return findings("tidepool-draft.toml")


@pytest.mark.parametrize(("rule", "at", "level"), SLIPS)
def test_slip(draft: list[Finding], rule: str, at: str, level: str) -> None:
    """A planted slip is named by its rule, once, at its level, with a remedy."""
    named = [f for f in draft if f.rule == rule and (at in f.says or at in f.subjects)]
    assert len(named) == 1, [f.says for f in draft]
    assert named[0].level == level
    assert named[0].remedy


def test_no_shower(draft: list[Finding]) -> None:
    """Errors that follow from a slip and are true as well stay few: fewer than the slips themselves."""
    slips = {(rule, level) for rule, _, level in SLIPS}
    others = [f for f in draft if f.level == "error" and (f.rule, f.level) not in slips]
    assert len(others) <= 3, [f"{f.rule}: {f.says}" for f in others]

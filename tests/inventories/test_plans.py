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
    ("pins.moved_plug", "n1.header", "error"),
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


FERRY = "ferry-cabin.toml"
APART = 'start = "host"\nkept_by = "store"\ndelay = ["0 s", "0 s", "{} s"]'


def ferry(change: str = "") -> list[Finding]:
    """Return what is found in the ferry cabin, its drives started as they are or otherwise."""
    book = ours.rulebook(entry_points=False)
    text = (ours.folder("inventories") / FERRY).read_text(encoding="utf-8")
    changed = (
        text.replace("# nothing holds them back: they start with power", "\n" + change) if change else text
    )
    found = judge(ours.read_plan(FERRY, changed.encode(), ours.shelf(book)), book, DAY).findings
    return [f for f in found if f.kind != "review" and not f.waived]


def test_brown_out() -> None:
    """The ferry cabin fails by one thing alone: its volts sag while three disks start, at boards and carrier."""
    found = ferry()
    assert {f.rule for f in found} == {"volts.sags"}
    assert {subject.partition(".")[0] for f in found for subject in f.subjects} == {
        "n1",
        "n2",
        "n3",
        "n4",
        "store",
    }
    assert all("3 drives start" in f.says and "gnd" in f.because for f in found)


def test_brown_out_cured() -> None:
    """With the delay that is offered nothing is found; the remedy says so, and a second less is too little."""
    offered = next(f.remedy for f in ferry() if "n1" in str(f.subjects))
    assert 'delay = ["0 s", "0 s", "10 s"]' in offered
    assert "enough at all that hangs together" in offered
    assert ferry(APART.format(10)) == []
    assert {f.rule for f in ferry(APART.format(9))} == {"volts.sags"}

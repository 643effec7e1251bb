"""The command `study`: its words, its numbers for programs, and what it says of a plan it cannot read."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from coldcheck.cli import main

PLAN = Path(__file__).parent.parent / "inventories" / "lantern-room.toml"


def study(*words: str) -> tuple[int, str]:
    """Run the command and return its exit status and what it prints."""
    done = CliRunner().invoke(main, ["study", *words])
    return done.exit_code, done.output


def test_people() -> None:
    """Every limit is told, the tightest in full with a plot, and the last line sums up."""
    status, said = study(str(PLAN), "--samples", "2000")
    assert status == 0
    assert "2000 samples, normal spreads, seed 1" in said
    assert "decides" in said
    assert "is the limit" in said
    assert "of boxes built so keep every limit" in said.splitlines()[-1]


def test_full_tells_all() -> None:
    """With --full, what decides is told of every limit."""
    short, full = (study(str(PLAN), "--samples", "2000", *more)[1] for more in ((), ("--full",)))
    assert full.count("sure ") > short.count("sure ")
    assert full.count("sure ") == full.count(": at least ") + full.count(": at most ")


def test_programs() -> None:
    """As JSON the same study has the limits with their numbers, and no word beside them."""
    status, said = study(str(PLAN), "--samples", "2000", "--as", "json", "--spread", "worst", "--seed", "7")
    found = json.loads(said)
    assert status == 0
    assert (found["format"], found["samples"], found["seed"], found["law"]) == (1, 2000, 7, "worst")
    for limit in found["limits"]:
        assert 0 <= limit["holds"]["low"] <= limit["holds"]["share"] <= limit["holds"]["high"] <= 1
        assert limit["found"]["low"] <= limit["found"]["percentiles"]["50"] <= limit["found"]["high"]


@pytest.mark.parametrize("text", ["[[node]\n", "[[node]]\nid = 5\n"])
def test_unreadable(tmp_path: Path, text: str) -> None:
    """A plan that cannot be read ends in 2 with a place, and nothing is studied."""
    plan = tmp_path / "p.toml"
    plan.write_text(text)
    status, said = study(str(plan))
    assert status == 2
    assert f"{plan}:1:" in said or f"{plan}:2:" in said


def test_nothing_to_study(tmp_path: Path) -> None:
    """A plan without a limit says so instead of a share."""
    plan = tmp_path / "p.toml"
    plan.write_text('[[feed]]\nid = "f"\nvolts = "5 V"\n')
    status, said = study(str(plan))
    assert status == 0
    assert "nothing to study" in said


def test_without_scipy(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where SciPy is not installed, one sentence says what to install."""
    monkeypatch.setitem(sys.modules, "scipy", None)
    status, said = study(str(PLAN))
    assert status == 1
    assert "needs NumPy and SciPy" in said

"""The command `sheets`: what it prints for people and programs, and of a plan that is wrong or cannot be read."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from coldcheck.cli import main

INVENTORIES = Path(__file__).parent.parent / "inventories"
WEIR = INVENTORIES / "otter-weir.toml"


def sheets(*words: str) -> tuple[int, str]:
    """Run the command and return its exit status and what it prints."""
    done = CliRunner().invoke(main, ["sheets", *words])
    return done.exit_code, done.output


def test_people() -> None:
    """All four sheets come in the order of use, each with its title."""
    status, said = sheets(str(WEIR))
    titles = ["wiring schedule", "cut list", "wire, contacts and housings to buy", "first power"]
    places = [said.index(f"Otter weir listening post: {title}") for title in titles]
    assert status == 0
    assert places == sorted(places)
    assert "NOT FOR BUILDING" not in said
    assert "  6 × 300 mm" in said
    assert "read ________ V" in said


def test_one_sheet() -> None:
    """With --sheet only that one is printed."""
    _, said = sheets(str(WEIR), "--sheet", "cuts")
    assert "cut list" in said
    assert "first power" not in said


def test_programs() -> None:
    """As JSON the same data come as rows, with numbers in plain units."""
    status, said = sheets(str(WEIR), "--as", "json")
    found = json.loads(said)
    assert status == 0
    assert (found["format"], found["errors"]) == (1, 0)
    assert len(found["wiring"]["wires"]) == 16
    assert found["wiring"]["wires"][0]["cut"] == pytest.approx(0.3)
    assert {"cautions", "steps"} == found["first_power"].keys()
    assert "cuts" not in json.loads(sheets(str(WEIR), "--as", "json", "--sheet", "wiring")[1])


def test_a_wrong_plan_is_not_for_building() -> None:
    """A plan with errors gives its sheets all the same, each marked."""
    status, said = sheets(str(INVENTORIES / "tidepool-draft.toml"))
    assert status == 0
    assert said.count("NOT FOR BUILDING: a lint finds ") == 4


def test_a_plan_without_wires(tmp_path: Path) -> None:
    """A plan that lists no wires and no leads says so."""
    plan = tmp_path / "p.toml"
    plan.write_text('[[feed]]\nid = "f"\n')
    status, said = sheets(str(plan), "--sheet", "wiring")
    assert status == 0
    assert "the plan lists no wires and no leads" in said


def test_what_cannot_be_read(tmp_path: Path) -> None:
    """A plan that is no TOML ends in 2, with its line."""
    plan = tmp_path / "p.toml"
    plan.write_text("[[feed]\n")
    status, said = sheets(str(plan))
    assert status == 2
    assert "p.toml:1" in said

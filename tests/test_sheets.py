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
    """All sheets come in the order of use, each with its title."""
    status, said = sheets(str(WEIR))
    titles = [
        "parts, fuses and data cables", "shopping list", "power tree", "wiring schedule",
        "connectors",
        "cut list",
        "labels for both ends of each cable",
        "assembly, starting, stopping",
        "start-up of each source", "first power", "port map", "address schedule", "findings",
    ]  # fmt: skip
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
    assert said.count("NOT FOR BUILDING: a lint finds ") == 13


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


def test_into_a_folder(tmp_path: Path) -> None:
    """All sheets as files: CSV for each table, text, JSON, address files; again, and nothing changes."""
    status, said = sheets(
        str(INVENTORIES / "gorse-hill.toml"), "--into", str(tmp_path / "out"), "--day", "2026-11-26"
    )
    found = {
        str(p.relative_to(tmp_path / "out")): p.read_bytes()
        for p in (tmp_path / "out").rglob("*")
        if p.is_file()
    }
    assert (status, said) == (0, f"{len(found)} files in {tmp_path / 'out'}\n")
    assert found["ports.csv"].startswith(b"switch,port,cable to,")
    assert b"10.20.0.11\tn1.gorse.home.arpa n1\n" in found["names/hosts"]
    assert json.loads(found["sheets.json"])["ports"]["ports"][0]["to"] == "n1.eth"
    assert (
        sheets(str(INVENTORIES / "gorse-hill.toml"), "--into", str(tmp_path / "out"), "--day", "2027-01-01")[
            0
        ]
        == 0
    )
    again = {
        str(p.relative_to(tmp_path / "out")): p.read_bytes()
        for p in (tmp_path / "out").rglob("*")
        if p.is_file()
    }
    dated = ("sheets.html", "made.json")  # the page says when it was made
    assert {name for name in found if again[name] != found[name]} == set(dated)


def test_a_file_that_was_changed_is_not_lost(tmp_path: Path) -> None:
    """What someone wrote into a schedule, or a file that was there before, stays; nothing is written then."""
    plan = tmp_path / "p.toml"
    plan.write_text('[[node]]\nid = "n1"\naddress = "10.0.0.1"\n')
    out = tmp_path / "out"
    assert sheets(str(plan), "--into", str(out))[0] == 0
    (out / "parts.csv").write_text("mine")
    plan.write_text('[[node]]\nid = "n1 .. n2"\naddress = "10.0.0.1 .. 10.0.0.2"\n')
    status, said = sheets(str(plan), "--into", str(out))
    assert status == 2
    assert f"{out / 'parts.csv'} was not made by coldcheck, or was changed since" in said
    assert "10.0.0.2" not in (out / "names" / "hosts").read_text()
    (out / "parts.csv").unlink()
    (out / "made.json").unlink()
    (out / "names" / "hosts").write_text("10.0.0.9 mine\n")
    assert f"{out / 'names' / 'hosts'} was not made" in sheets(str(plan), "--into", str(out))[1]


def test_an_address_file_is_made_anew_by_its_mark(tmp_path: Path) -> None:
    """Without the list of what was made, the first line of an address file tells that it is ours."""
    plan = tmp_path / "p.toml"
    plan.write_text('[[node]]\nid = "n1"\naddress = "10.0.0.1"\n')
    out = tmp_path / "out"
    assert sheets(str(plan), "--into", str(out))[0] == 0
    for file in out.glob("*.*"):
        file.unlink()
    plan.write_text('[[node]]\nid = "n1"\naddress = "10.0.0.2"\n')
    assert sheets(str(plan), "--into", str(out))[0] == 0
    assert "10.0.0.2\tn1" in (out / "names" / "hosts").read_text()

"""The command that plays a start-up, as a user meets it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from coldcheck import ours

PLANS = ("lantern-room", "gorse-hill", "tidepool-draft", "ferry-cabin")


def plan(name: str) -> Path:
    """Return an example plan."""
    return ours.folder("inventories") / f"{name}.toml"


@pytest.mark.parametrize("name", PLANS)
def test_example_plans_are_played(run: Any, name: str) -> None:
    """Every example is played as text and as JSON, and ends in 0, whatever a lint finds in it."""
    result = run("rehearse", plan(name))
    assert result.exit_code == 0
    assert max(len(row) for row in result.stdout.splitlines() if "│" in row) <= 80
    data = json.loads(run("rehearse", plan(name), "--as", "json").stdout)
    assert data["scenes"][0]["sources"]


def test_clean_plan_says_so(run: Any) -> None:
    """The last line of a plan whose start is clean says that nothing is found."""
    last = run("rehearse", plan("gorse-hill")).stdout.splitlines()[-1]
    assert last == "lint has no finding on start-up or volts"


def test_last_line_counts_findings(run: Any) -> None:
    """The last line says how many findings of a lint concern the start, and of which rules."""
    out = run("rehearse", plan("tidepool-draft"), "--as", "json").stdout
    found = json.loads(out)["findings"]
    last = run("rehearse", plan("tidepool-draft")).stdout.splitlines()[-1]
    assert last.startswith(f"lint has {found['count']} findings on start-up or volts: spinup.rail_peak")
    lint = json.loads(run("lint", plan("tidepool-draft"), "--as", "json").stdout)["plans"][0]["findings"]
    concerned = [f for f in lint if f["rule"].partition(".")[0] in ("spinup", "volts")]
    assert found["count"] == len(concerned)
    assert found["rules"] == sorted({f["rule"] for f in concerned})


def test_one_rail_and_one_scene(run: Any) -> None:
    """Only what is asked for is shown; the energy of all feeds is left out then."""
    out = run("rehearse", plan("gorse-hill"), "--rail", "disks.12v", "--scene", "all").stdout
    assert "what if every delay failed" in out
    assert "the start, as planned" not in out
    assert "disks.5v" not in out
    assert "power at the feeds" not in out
    assert (
        "disks.5v:" in run("rehearse", plan("gorse-hill"), "--rail", "disks").stdout
    )  # a supply: all of its rails


def test_unknown_rail(run: Any) -> None:
    """A rail that is not there is wrong use: 2, and the nearest name."""
    result = run("rehearse", plan("gorse-hill"), "--rail", "disks.12")
    assert result.exit_code == 2
    assert 'did you mean "disks.12v"' in result.stderr


@pytest.mark.parametrize(
    "text, says", [('[[feed]]\nid = "f"\nvolt = "5 V"\n', "volt"), ("[[feed", "")], ids=["form", "broken"]
)
def test_unreadable(run: Any, write: Any, text: str, says: str) -> None:
    """What cannot be read ends in 2, with what is wrong and where."""
    name = write(text)
    result = run("rehearse", name)
    assert result.exit_code == 2
    assert f"{name}:" in result.stdout
    assert says in result.stdout


def test_missing_file(run: Any) -> None:
    """A file that does not exist ends in 2."""
    result = run("rehearse", "nowhere.toml")
    assert result.exit_code == 2
    assert "there is no file" in result.stderr


def test_plan_without_power(run: Any, write: Any) -> None:
    """A plan with nothing to play is played all the same."""
    result = run("rehearse", write('[[node]]\nid = "n"\n'))
    assert result.exit_code == 0
    assert json.loads(run("rehearse", write('[[node]]\nid = "n"\n'), "--as", "json").stdout)["energy"] == []


def test_parts_and_rules_of_ones_own(run: Any, write: Any, tmp_path: Path) -> None:
    """Further shelves and rules are taken as by the other commands."""
    write('[[part]]\nid = "mine"\nkind = "feed"\nvolts = "5 V"\namps = "3 A"\n', "shelf/mine.toml")
    name = write('[[feed]]\nid = "f"\npart = "mine"\n[[node]]\nid = "n"\nfrom = "f"\npeak = "1 A"\n')
    assert run("rehearse", name).exit_code == 2
    assert run("rehearse", name, "--parts", tmp_path / "shelf").exit_code == 0


@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_pipe_that_shows_no_blocks(encoding: str) -> None:
    """Where the encoding has no block characters the plot is drawn in ASCII, not in escapes."""
    words = [sys.executable, "-m", "coldcheck", "rehearse", str(plan("gorse-hill"))]
    env = {**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    out = subprocess.run(words, capture_output=True, env=env, check=True).stdout
    assert out.isascii()
    assert b"\\u" not in out
    assert b"20 A|----" in out


SOLDERED = '[[part]]\nid = "s"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'


def test_wall_year_and_battery(run: Any, tmp_path: Path) -> None:
    """9 W busy and 4.5 W idle at 90 % and 1 W standing are 11 W and 6 W at the wall; 90 Wh of which 80 % last 8 h."""
    text = f"""[plan]
busy = "40 %"
{SOLDERED}
[[feed]]
id = "f"
volts = "12 V"
spread = "0 %"
plug = "s"
efficiency = "90 %"
standing = "1 W"
watt_hours = "90 Wh"
usable = "80 %"
[[node]]
id = "n"
from = "f"
plug = "s"
lead = "0 ohm"
peak = "9 W"
idle = "4.5 W"
"""
    (tmp_path / "p.toml").write_text(text)
    said = run("rehearse", tmp_path / "p.toml").stdout
    assert "its battery lasts 8 h busy, 16 h idle" in said
    assert "at the wall 6 W idle, 11 W busy" in said
    # 6 W and 11 W through 8760 h, and 0.4 of the second with 0.6 of the first
    assert "53 kWh idle, 96 kWh busy, 70 kWh as the plan has it" in said
    data = json.loads(run("rehearse", tmp_path / "p.toml", "--as", "json").stdout)["energy"][0]
    assert (data["wall_busy"], data["hours_busy"]) == (pytest.approx(11.0), pytest.approx(8.0))


def test_weakest_link_of_each_way(run: Any) -> None:
    """Asked for, the least rating that each thing has for itself is named, with what flows there."""
    said = run("rehearse", plan("ferry-cabin"), "--ways").stdout
    assert "n1.header .. n4.header  1.32 A of 4.99 A, header-40" in said
    data = json.loads(run("rehearse", plan("ferry-cabin"), "--ways", "--as", "json").stdout)
    for way in data["ways"]:
        amps = [rating["amps"] for rating in way["ratings"]]
        assert amps == sorted(amps)
    assert "ways" not in json.loads(run("rehearse", plan("ferry-cabin"), "--as", "json").stdout)


def test_a_plan_with_loose_ends_says_so(run: Any, tmp_path: Path) -> None:
    """What a reference that cannot be followed leaves out is told beside the play, and beside a study."""
    text = '[[feed]]\nid = "f"\nvolts = "12 V"\namps = "2 A"\n[[node]]\nid = "n1 .. n2"\nfrom = "g"\npeak = "1 A"\n'
    (tmp_path / "p.toml").write_text(text + '[[node]]\nid = "m"\nfrom = "f"\npeak = "1 A"\n')
    for command in ("rehearse", "study"):
        assert "1 reference of this plan cannot be followed" in run(command, tmp_path / "p.toml").stdout

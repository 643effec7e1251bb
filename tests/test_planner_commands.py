"""The commands `mend`, `fill` and `choose`: what they print and write, how they end, and what bad input comes to."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.planner.blanked import blanked

INVENTORIES = Path(__file__).parent.parent / "inventories"
DRAFT = INVENTORIES / "tidepool-draft.toml"
HILL = INVENTORIES / "gorse-hill.toml"
SLIP = """# mine
[[subnet]]
prefix = "10.20.0.0/24"
[[switch]]
id = "sw"
ports = 4
own_power = true
[[node]]
id = "n1" # the only one
own_power = true
port = "sw.1"
address = "10.20.0.255" # slip
"""
BLANK = SLIP.replace('port = "sw.1"\naddress = "10.20.0.255" # slip\n', "")


def saved(tmp_path: Path, text: str | bytes, name: str = "plan.toml") -> Path:
    """Write a plan and return where."""
    path = tmp_path / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def test_mend_shows_and_writes(run: Any, tmp_path: Path) -> None:
    """Without --write the change is shown and the file stays; with it the file is changed, and then nothing is left."""
    path = saved(tmp_path, SLIP)
    shown = run("mend", str(path))
    assert shown.exit_code == 1
    assert '-address = "10.20.0.255" # slip' in shown.output
    assert '+address = "10.20.0.254" # slip' in shown.output
    assert "mended   addresses.not_a_host: n1 cannot have 10.20.0.255" in shown.output
    assert "1 finding mended; nothing is written yet; --write does" in shown.output
    assert path.read_text() == SLIP
    written = run("mend", "--write", str(path))
    assert (written.exit_code, written.output.splitlines()[-1]) == (0, f"{path}: 1 finding mended; written")
    assert path.read_text() == SLIP.replace(".255", ".254")
    again = run("mend", "--write", str(path))
    assert (again.exit_code, again.output) == (0, f"{path}: nothing to change\n")


def test_mend_for_programs(run: Any, tmp_path: Path) -> None:
    """As JSON: the difference, each finding with its edits, and how many findings there are before and after."""
    found = json.loads(run("mend", "--as", "json", str(saved(tmp_path, SLIP))).output)
    assert (found["format"], found["changed"], found["written"]) == (1, True, False)
    assert found["mended"][0]["edits"] == [{"put": ["node", 0, "address"], "value": "10.20.0.254"}]
    assert found["before"]["error"] == 1
    assert found["after"]["error"] == 0
    assert found["difference"].startswith("--- ")


def test_mend_of_what_is_built_is_rework(run: Any, tmp_path: Path) -> None:
    """A change of what exists already is told as such."""
    built = SLIP.replace("own_power = true\nport", "own_power = true\nbuilt = 2026-05-01\nport")
    assert "rework   n1 exists already" in run("mend", str(saved(tmp_path, built))).output


def test_mend_says_what_it_keeps(run: Any) -> None:
    """A remedy that would bring another error is told, and why it is not made."""
    shown = run("mend", str(INVENTORIES / "ferry-cabin.toml")).output
    assert "kept     volts.sags" in shown
    assert "its remedy is not made: it would bring error volts.sags" in shown


def test_several_plans_are_mended_each(run: Any, tmp_path: Path) -> None:
    """Each file is mended by itself; the exit code is the worst."""
    good, bad = saved(tmp_path, SLIP.replace(".255", ".11"), "good.toml"), saved(tmp_path, SLIP, "bad.toml")
    assert run("mend", str(good), str(bad)).exit_code == 1
    assert run("mend", "--write", str(good), str(bad)).exit_code == 0
    assert run("mend", str(good), str(bad)).exit_code == 0


@pytest.mark.parametrize("command", ["mend", "fill"])
def test_what_cannot_be_read_or_written(
    run: Any, tmp_path: Path, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A broken plan, no plan, a plan changed meanwhile: 2, with one clear error, and the file as it was."""
    broken = saved(tmp_path, "[[node]]\nid = 5\n")
    done = run(command, "--write", str(broken))
    assert done.exit_code == 2
    assert f"{broken}:2:" in done.output
    assert broken.read_text() == "[[node]]\nid = 5\n"
    assert "there is no file" in run(command, str(tmp_path / "none.toml")).output
    from coldcheck import files

    text = SLIP if command == "mend" else BLANK
    path = saved(tmp_path, text, "other.toml")
    read = files.read
    monkeypatch.setattr(files, "read", lambda name, most: read(name, most).replace(b"mine", b"ours"))
    done = run(command, "--write", str(path))
    assert done.exit_code == 2
    assert "was changed meanwhile" in done.output
    assert path.read_text() == text


def test_fill_shows_and_writes(run: Any, tmp_path: Path) -> None:
    """Blanks are shown first, then written; a second time there is nothing to do."""
    path = saved(tmp_path, BLANK)
    shown = run("fill", str(path))
    assert shown.exit_code == 1
    assert '+port = "sw.1"' in shown.output
    assert '+address = "10.20.0.11"' in shown.output
    assert path.read_text() == BLANK
    assert run("fill", "--write", str(path)).exit_code == 0
    assert path.read_text() == BLANK + 'port = "sw.1"\naddress = "10.20.0.11"\n'
    assert run("fill", str(path)).output == f"{path}: nothing to change\n"


def test_the_middling_example(run: Any, tmp_path: Path) -> None:
    """With its blanks taken out, it is filled by the command to a plan for which a lint ends in 0."""
    path = saved(tmp_path, blanked(HILL.read_bytes()))
    assert run("lint", str(path)).exit_code == 1
    done = run("fill", "--write", str(path))
    assert done.exit_code == 0
    assert "copper of leads: " in done.output
    assert "proven the best" in done.output
    assert run("lint", str(path)).exit_code == 0


def test_fill_for_programs(run: Any, tmp_path: Path) -> None:
    """As JSON: edits, what was reached with its bound, what is left and what got worse."""
    found = json.loads(run("fill", "--as", "json", str(saved(tmp_path, blanked(HILL.read_bytes())))).output)
    assert {"put": ["node", 0, "from"], "value": "block.1 .. block.6"} in found["edits"]
    copper = next(f for f in found["reached"] if f["what"] == "copper of leads")
    assert copper["value"] == pytest.approx(copper["bound"])
    assert found["left"] == found["worse"] == found["moved"] == []


def test_fill_says_what_cannot_be(run: Any, tmp_path: Path) -> None:
    """What contradicts each other is told with what would free it; nothing is written, and the end is 1."""
    text = BLANK.replace('"n1"', '"n1 .. n9"')
    path = saved(tmp_path, text)
    done = run("fill", "--write", str(path))
    assert done.exit_code == 1
    assert "cannot be filled: sources and ports: these contradict each other" in done.output
    assert "    demand   n1 .. n9 must have a port each\n" in done.output
    assert "    demand   sw has 4 free ports\n" in done.output
    assert "    frees    5 more on sw, or a larger switch\n" in done.output
    assert done.output.endswith("nothing is written\n")
    assert path.read_text() == text
    found = json.loads(run("fill", "--as", "json", str(path)).output)
    assert (found["stage"], found["frees"]) == ("sources and ports", ["5 more on sw, or a larger switch"])


def test_fill_with_aims(run: Any, tmp_path: Path) -> None:
    """The aim and how many different gauges there may be are taken from the command line."""
    path = saved(tmp_path, blanked(HILL.read_bytes()))
    assert "different gauges: 2" in run("fill", "--aim", "kinds", str(path)).output
    assert "volts to spare" in run("fill", "--aim", "spare", str(path)).output
    many = run("fill", "--gauges", "1", str(path))
    assert many.exit_code == 1
    assert "at most 1 different gauges are asked for" in many.output


def test_standard_input_is_not_written(run: Any) -> None:
    """What comes in by a pipe can be shown, and not written."""
    assert run("mend", "-", stdin=SLIP.encode()).exit_code == 1
    refused = run("mend", "--write", "-", stdin=SLIP.encode())
    assert refused.exit_code == 2
    assert "standard input cannot be written" in refused.output


def test_choose(run: Any) -> None:
    """Parts that carry what hangs on a supply come first, with what they have to spare; the others say why not."""
    done = run("choose", str(HILL), "disks")
    lines = done.output.splitlines()
    assert done.exit_code == 0
    assert lines[0].endswith("parts carry what hangs on disks")
    first, second = lines[1].split()[0], lines[2].split()[0]
    assert (first, second) == ("dcdc-atx-500w-wide", "dcdc-24v-to-5v-12v")
    assert "in the plan now" in lines[2]
    assert any("3 A is its limit" in line for line in lines if "dcdc-atx-60w" in line)
    found = json.loads(run("choose", "--as", "json", str(HILL), "disks").output)
    assert [p["part"] for p in found["parts"]][:2] == [first, second]
    shares = [p["share"] for p in found["parts"] if not p["against"]]
    assert shares == sorted(shares, reverse=True)


def test_choose_of_nothing(run: Any) -> None:
    """A name that no thing has is wrong use."""
    done = run("choose", str(HILL), "nothing")
    assert done.exit_code == 2
    assert 'nothing in the plan is called "nothing"' in done.output


def test_without_scipy(tmp_path: Path) -> None:
    """Where SciPy is missing, filling says which extra has it; mending needs none."""
    path = saved(tmp_path, SLIP)
    hide = "import sys; sys.modules['scipy'] = None; sys.modules['numpy'] = None; "
    start = "from coldcheck.cli import main; main()"
    fill = subprocess.run(
        [sys.executable, "-c", hide + start, "fill", str(path)], capture_output=True, text=True, check=False
    )
    assert fill.returncode == 1
    assert "coldcheck[fill]" in fill.stderr
    mend = subprocess.run(
        [sys.executable, "-c", hide + start, "mend", str(path)], capture_output=True, text=True, check=False
    )
    assert mend.returncode == 1
    assert "1 finding mended" in mend.stdout


def test_an_unreadable_plan_is_told_on_the_terminal(tmp_path: Path) -> None:
    """What is wrong with a plan reaches standard output, though the solver's own is kept off it."""
    path = saved(tmp_path, "[[node]]\nid = 5\n")
    command = [sys.executable, "-m", "coldcheck", "fill", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert f"{path}:2:" in done.stdout

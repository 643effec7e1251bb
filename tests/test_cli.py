"""The commands as a user meets them: exit codes, what is said for each wrong input, options, colours."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from coldcheck import ours

CLEAN = """
[[part]]
id = "pin"
kind = "plug"
amps = "5 A"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "brick"
volts = "5 V"
spread = "0 %"
amps = "10 A"
plug = "pin"
[[fan]]
id = "f1"
from = "brick"
plug = "pin"
volts = "4.5 V .. 5.5 V"
peak = "0.1 A"
idle = "0.1 A"
surge = "0.1 A for 1 s"
survives = "-6 V .. 6 V"
lead = "22 AWG, 100 mm"
"""
WARNED = CLEAN.replace('"10 A"', '"0.11 A"')
FAULTY = CLEAN.replace('"10 A"', '"0.05 A"')
OPEN = CLEAN.replace('amps = "10 A"\n', "")


def seen(result: Any) -> str:
    """Return all that a command printed."""
    return str(result.stdout) + str(result.stderr)


# --- exit codes ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text, code", [(CLEAN, 0), (WARNED, 0), (FAULTY, 1), (OPEN, 1)])
def test_exit_code_of_a_readable_plan(run: Any, write: Any, text: str, code: int) -> None:
    """0 when nothing reaches the stop level, 1 when an error does, or what leaves an error undecided."""
    assert run("lint", write(text)).exit_code == code


@pytest.mark.parametrize(
    "text, says",
    [
        ("", "the plan is empty"),
        (" \n\n", "the plan is empty"),
        (b"\xff\xfe[plan]", "not UTF-8"),
        (b"\xef\xbb\xbf[plan]\n", "byte-order mark"),
        ("[plan\n", "not TOML"),
        ("a = " + "[" * 5000, "not TOML"),
        ("[nodes]\n", '"nodes" is no table of a plan'),
        ("[[node]]\n", "this node lacks its id"),
        ("[[node]]\nid = 5\n", "id = 5 is not"),
        ('[[node]]\nid = "a"\nvolt = "5 V"\n', 'has no key "volt"'),
        ('[[node]]\nid = "a"\npart = "no-such-part"\n', 'no part is called "no-such-part"'),
        ('[[node]]\nid = "a"\nvolts = "5"\n', "the unit is missing"),
        ("node = 1\n", '"node" is a list of tables'),
        ('[plan]\nformat = 2\n', "format = 2 is not"),
    ],
)  # fmt: skip
def test_a_plan_of_wrong_form(run: Any, write: Any, text: str | bytes, says: str) -> None:
    """A plan that cannot be read ends in 2 and is told as an error at a line."""
    name = write(text)
    result = run("lint", name)
    assert result.exit_code == 2
    assert says in result.stdout
    assert result.stdout.startswith(f"{name}:1:") or f"\n{name}:" in "\n" + result.stdout
    assert "1 plan cannot be read and not judged" in result.stdout


def test_a_missing_plan(run: Any) -> None:
    """A file that does not exist ends in 2 and is named."""
    result = run("lint", "no/such/plan.toml")
    assert result.exit_code == 2
    assert "there is no file no/such/plan.toml" in result.stderr
    assert "nothing found" not in result.stdout


def test_a_folder(run: Any, tmp_path: Path) -> None:
    """A folder is no plan."""
    result = run("lint", tmp_path)
    assert result.exit_code == 2
    assert "is a folder" in result.stderr


def test_a_name_too_long(run: Any) -> None:
    """A name that no file can have is told by the words of the system."""
    result = run("lint", "n" * 5000)
    assert result.exit_code == 2
    assert "cannot be read" in result.stderr


def test_a_plan_that_may_not_be_read(run: Any, write: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan whose permissions forbid it ends in 2; root may read all, so for root the refusal is played."""
    name = write(CLEAN)
    if os.geteuid() == 0:
        really = Path.open

        def refuse(self: Path, *words: Any, **named: Any) -> Any:
            if str(self) == name:
                raise PermissionError(13, "Permission denied", name)
            return really(self, *words, **named)

        monkeypatch.setattr(Path, "open", refuse)
    else:
        Path(name).chmod(0)
    result = run("lint", name)
    assert result.exit_code == 2
    assert "may not be read: its permissions forbid it" in result.stderr


def test_a_plan_that_is_too_large(run: Any, write: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan past the bound is refused before it is parsed, and no more than one byte beyond is read."""
    monkeypatch.setattr("coldcheck.cli.MOST_BYTES", 100)
    monkeypatch.setattr("coldcheck.plan.reading.MOST_BYTES", 100)
    result = run("lint", write("# " + "x" * 1000))
    assert result.exit_code == 2
    assert "100 is the most" in result.stdout


def test_several_plans(run: Any, write: Any) -> None:
    """All plans are judged, though one of them cannot be read; that one decides the exit code."""
    good, bad, faulty = write(CLEAN, "a.toml"), write("[plan\n", "b.toml"), write(FAULTY, "c.toml")
    result = run("lint", good, bad, faulty, "gone.toml")
    assert result.exit_code == 2
    assert "rails.overload" in result.stdout
    assert "judged 2 plans" in result.stdout
    assert "2 plans cannot be read" in result.stdout
    assert run("lint", good, faulty).exit_code == 1


def test_standard_input(run: Any) -> None:
    """A dash reads the plan from standard input."""
    assert run("lint", "-", stdin=CLEAN.encode()).exit_code == 0
    assert run("lint", "-", stdin=FAULTY.encode()).exit_code == 1
    assert run("lint", "-", stdin=b"").exit_code == 2


@pytest.mark.parametrize(
    "words",
    [
        (), ("lint",), ("lint", "--stop", "never", "-"), ("lint", "--only", "rails.overlod", "-"), ("nonsense",),
        ("lint", "--day", "tomorrow", "-"), ("lint", "--as", "xml", "-"), ("lint", "--parts", "no/such/folder", "-"),
        ("why", "rails.overlod"), ("parts", "no-such-part"),
    ],
)  # fmt: skip
def test_wrong_use(run: Any, words: tuple[str, ...]) -> None:
    """Wrong words end in 2 and say what is possible."""
    result = run(*words, stdin=CLEAN.encode())
    assert result.exit_code == 2
    assert "Usage:" in seen(result)


def test_a_misspelt_rule_is_guessed(run: Any) -> None:
    """A rule name with a slip in it gets the nearest one named."""
    assert 'did you mean "rails.overload"?' in run("why", "rails.overlod").stderr
    assert 'did you mean "rails.overload"?' in run("lint", "--only", "rails.overlod", "-").stderr


# --- options of lint -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text, stop, code",
    [
        (WARNED, "error", 0),
        (WARNED, "warning", 1),
        (WARNED, "note", 1),
        (CLEAN, "note", 0),
        (OPEN, "error", 1),
    ],
)
def test_stop(run: Any, write: Any, text: str, stop: str, code: int) -> None:
    """The stop level is the least grave level that ends in 1."""
    assert run("lint", "--stop", stop, write(text)).exit_code == code


def test_only(run: Any, write: Any) -> None:
    """With --only, the other rules are silent; it may be given again."""
    name = write(FAULTY)
    assert run("lint", "--only", "volts.too_low", name).exit_code == 0
    result = run("lint", "--only", "volts.too_low", "--only", "rails.overload", name)
    assert result.exit_code == 1
    assert "by 2 rules" in result.stdout


def test_only_an_area(run: Any, write: Any) -> None:
    """With --only and the name of an area, each of its rules runs, and no others."""
    name = write(FAULTY)
    rules = [rule for rule in ours.rulebook(entry_points=False).rules if rule.startswith("rails.")]
    result = run("lint", "--only", "rails", name)
    assert result.exit_code == 1
    assert f"by {len(rules)} rules" in result.stdout
    assert 'did you mean "rails"?' in run("lint", "--only", "rail", name).stderr


def test_a_plan_without_things(run: Any, write: Any) -> None:
    """A plan that names nothing is not told to be clean."""
    name = write('[plan]\ntitle = "x"\n')
    result = run("lint", name)
    assert "nothing found" not in result.stdout
    assert "plan.empty" in result.stdout
    assert run("lint", "--stop", "warning", name).exit_code == 1


WAIVED = (
    FAULTY
    + '[[waiver]]\nrule = "rails.overload"\nlevel = "error"\nreason = "a test load"\nuntil = 2026-06-30\n'
)


def test_waivers(run: Any, write: Any) -> None:
    """A waived finding is hidden and stops nothing until its last day; --waived shows it."""
    name = write(WAIVED)
    hidden = run("lint", "--day", "2026-06-30", name)
    assert hidden.exit_code == 0
    assert "rails.overload" not in hidden.stdout
    assert "1 waived" in hidden.stdout
    shown = run("lint", "--day", "2026-06-30", "--waived", name)
    assert shown.exit_code == 0
    assert "a test load" in shown.stdout
    late = run("lint", "--day", "2026-07-01", name)
    assert late.exit_code == 1
    assert "waivers.ended" in late.stdout


def test_a_waiver_of_a_warning_hides_no_error(run: Any, write: Any) -> None:
    """What was accepted while a feed had little left is an error again when it is overloaded."""
    waiver = '[[waiver]]\nrule = "rails.overload"\nreason = "9 % left will do"\nuntil = 2026-06-30\n'
    words = ("lint", "--day", "2026-06-30", "--stop", "warning")
    assert run(*words, write(WARNED + waiver)).exit_code == 0
    result = run(*words, write(FAULTY + waiver))
    assert result.exit_code == 1
    assert "error: feed brick is asked for" in result.stdout
    assert "waivers.too_grave" in result.stdout


def test_parts_of_ones_own(run: Any, write: Any, tmp_path: Path) -> None:
    """A folder of parts lies over the shelf: its parts are found and shown."""
    write('[[part]]\nid = "my-fan"\nkind = "fan"\ntitle = "My fan"\npeak = "0.2 A"\n', "shelf/fans.toml")
    plan = write('[[fan]]\nid = "f"\npart = "my-fan"\n')
    assert run("lint", plan).exit_code == 2
    assert run("lint", "--parts", tmp_path / "shelf", plan).exit_code != 2
    assert "0.2 A" in run("parts", "my-fan", "--parts", tmp_path / "shelf").stdout


@pytest.mark.parametrize("text", ["part = 1 = 2", "[[part]]\nkind = 'fan'", b"\xff"])
def test_a_broken_shelf(run: Any, write: Any, tmp_path: Path, text: str | bytes) -> None:
    """A file of parts that cannot be read is named, wherever it is met; nothing ends in a traceback."""
    write(text, "shelf/broken.toml")
    shelf = tmp_path / "shelf"
    unknown = run("lint", "--parts", shelf, write('[[fan]]\nid = "f"\npart = "no-such-fan"\n'))
    assert unknown.exit_code == 2
    listed = run("parts", "--parts", shelf)
    assert listed.exit_code != 0
    assert "broken.toml" in listed.stderr


# --- JSON ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["lantern-room", "gorse-hill", "tidepool-draft"])
def test_json_holds_what_the_text_holds(run: Any, root: Path, name: str) -> None:
    """Both forms tell the same findings at the same places, and end in the same code."""
    plan = root / "inventories" / f"{name}.toml"
    text = run("lint", "--waived", "--day", "2026-01-01", plan)
    data = run("lint", "--as", "json", "--day", "2026-01-01", plan)
    document = json.loads(data.stdout)
    assert document["format"] == 1
    assert text.exit_code == data.exit_code
    (report,) = document["plans"]
    heads = [line for line in text.stdout.splitlines() if line.startswith(f"{plan}:")]
    wanted = []
    for finding in report["findings"]:
        grade = f"open, {finding['leaves']} undecided" if finding["kind"] == "open" else None
        grade = grade or finding["level"] or finding["kind"]
        wanted.append(f"{plan}:{finding['line']}:{finding['column']}: {grade}: {finding['says']}")
    assert heads == wanted
    rules = [line.split()[1] for line in text.stdout.splitlines() if line.startswith("    rule ")]
    assert rules == [finding["rule"] for finding in report["findings"]]


def test_json_of_a_plan_that_cannot_be_read(run: Any, write: Any) -> None:
    """Problems of form are findings of ``plan.form``; a missing file has none; both say "readable": false."""
    result = run("lint", "--as", "json", write("[plan\n"), "gone.toml")
    assert result.exit_code == 2
    broken, gone = json.loads(result.stdout)["plans"]
    assert (broken["readable"], gone["readable"]) == (False, False)
    assert [f["rule"] for f in broken["findings"]] == ["plan.form"]
    assert gone["findings"] == []


def test_numbers_of_json_are_numbers(run: Any, write: Any) -> None:
    """A number found is a number with its unit, beside its text."""
    result = run("lint", "--as", "json", "--only", "rails.overload", write(FAULTY))
    (finding,) = json.loads(result.stdout)["plans"][0]["findings"]
    assert finding["found"] == {"value": pytest.approx(0.1), "unit": "A", "text": "0.1 A"}
    assert finding["allowed"]["value"] == pytest.approx(0.05)


# --- rules of one's own ----------------------------------------------------------------------------------------------

OWN = '''
from coldcheck import Finding, rule

@rule(level="warning", over="fan")
def named(fan):
    """A fan has a name of two letters.

    Because.
    """
    if len(fan.id) != 2:
        yield Finding("warning", fan, f"{fan.id} has not two letters")
'''


def test_own_rules_report(run: Any, write: Any, tmp_path: Path) -> None:
    """A folder of rules is judged by beside the built-in ones, and explained."""
    write(OWN, "rules/house.py")
    name = write(CLEAN.replace('"f1"', '"fan"'))
    result = run("lint", "--rules", tmp_path / "rules", name)
    assert result.exit_code == 0
    assert "house.named" in result.stdout
    assert "house.named" not in run("lint", name).stdout
    assert (
        "A fan has a name of two letters." in run("why", "house.named", "--rules", tmp_path / "rules").stdout
    )


@pytest.mark.parametrize(
    "source, rule, says",
    [
        ("1 / 0", "engine.cannot_load", "ZeroDivisionError"),
        ("raise SystemExit(0)", "engine.cannot_load", "SystemExit"),
        ("import sys; sys.exit()", "engine.cannot_load", "SystemExit"),
        ("x = (", "engine.cannot_load", "SyntaxError"),
        (
            OWN.replace("    if", "    fan.nothing\n    if"),
            "engine.raised",
            "house.named failed while judging f1",
        ),
        (OWN.replace("(fan)", "(fan, nix)"), "engine.cannot_load", 'asks for "nix", which is no working'),
        (OWN.replace('"fan"', '"fen"'), "engine.cannot_load", 'did you mean "fan"?'),
        (
            OWN + "\ndef coldcheck_ofers():\n    return []\n",
            "engine.cannot_load",
            "no @hookimpl stands above it",
        ),
    ],
)
def test_own_rules_that_fail(run: Any, write: Any, tmp_path: Path, source: str, rule: str, says: str) -> None:
    """A module that cannot load and a rule that raises are error findings, and the built-in rules still report."""
    write(source, "rules/house.py")
    result = run("lint", "--rules", tmp_path / "rules", write(WARNED))
    assert result.exit_code == 1
    assert rule in result.stdout
    assert says in result.stdout
    assert "rails.overload" in result.stdout


def test_a_rule_name_taken_twice(run: Any, write: Any, tmp_path: Path) -> None:
    """A rule of one's own cannot take the place of a built-in one."""
    source = OWN.replace("def named", "def overload")
    write(source, "rules/rails.py")
    result = run("lint", "--rules", tmp_path / "rules", write(FAULTY))
    assert result.exit_code == 1
    assert "the name rails.overload is taken by" in result.stdout
    assert "is its limit" in result.stdout  # the built-in one still judges


def test_a_folder_of_rules_that_does_not_exist(run: Any, write: Any) -> None:
    """A folder of rules that is not there is an error, not a lint by fewer rules."""
    result = run("lint", "--rules", "no/such/folder", write(CLEAN))
    assert result.exit_code == 1
    assert "there is no such file or folder" in result.stdout


# --- why and parts ---------------------------------------------------------------------------------------------------


def test_why_lists_every_rule(run: Any) -> None:
    """Without a name, `why` lists every rule with what it demands."""
    result = run("why")
    assert result.exit_code == 0
    for rule in ours.rulebook(entry_points=False).rules.values():
        assert rule.name in result.stdout
        assert rule.demands in result.stdout


@pytest.mark.parametrize("name", list(ours.rulebook(entry_points=False).rules))
def test_why_of_every_rule(run: Any, name: str) -> None:
    """Each rule can be asked why: its name, its demand, a plan it flags, a plan it passes."""
    result = run("why", name)
    assert result.exit_code == 0
    assert result.stdout.startswith(name)
    assert "a plan that it flags" in result.stdout
    assert "a plan that it passes" in result.stdout


def test_parts_lists_the_shelf(run: Any) -> None:
    """Without words, `parts` lists every part of the shelf; with words, those that fit all of them."""
    whole = run("parts")
    assert whole.exit_code == 0
    ids = [part.id for part in ours.shelf(ours.rulebook(entry_points=False)).every()]
    assert len(whole.stdout.splitlines()) == len(ids)
    drives = run("parts", "drive").stdout.splitlines()
    assert 0 < len(drives) < len(ids)
    narrower = run("parts", "drive", "2.5").stdout.splitlines()
    assert 0 < len(narrower) < len(drives)


@pytest.mark.parametrize("name", [part.id for part in ours.shelf(ours.rulebook(entry_points=False)).every()])
def test_detail_of_every_part(run: Any, name: str) -> None:
    """Each part can be shown by its name."""
    result = run("parts", name)
    assert result.exit_code == 0
    assert result.stdout.startswith(name)
    assert len(result.stdout.splitlines()) > 2


def test_help_and_version(run: Any) -> None:
    """Every command has help; the version is told."""
    from coldcheck import __version__

    for words in ((), ("lint",), ("why",), ("parts",)):
        for flag in ("-h", "--help"):
            result = run(*words, flag)
            assert result.exit_code == 0
            assert "Usage:" in result.stdout
    assert run("--version").stdout.strip() == f"coldcheck {__version__}"


# --- as a program ----------------------------------------------------------------------------------------------------


def program(*words: object, **more: Any) -> subprocess.CompletedProcess[bytes]:
    """Run the program in a process of its own, its output piped."""
    command = [sys.executable, "-m", "coldcheck", *map(str, words)]
    return subprocess.run(command, capture_output=True, check=False, timeout=60, **more)


def test_the_program_ends_as_the_command_does(write: Any) -> None:
    """``python -m coldcheck`` ends in 0, 1 and 2, and writes no traceback."""
    for text, code in ((CLEAN, 0), (FAULTY, 1), ("[plan\n", 2)):
        done = program("lint", write(text))
        assert done.returncode == code
        assert b"Traceback" not in done.stderr


def test_no_escape_codes_in_a_pipe(root: Path) -> None:
    """What goes into a pipe is plain text."""
    for words in (
        ("lint", root / "inventories" / "tidepool-draft.toml"),
        ("why", "rails.overload"),
        ("parts",),
    ):
        done = program(*words, env={**os.environ, "TERM": "xterm-256color"})
        assert done.stdout
        assert b"\x1b" not in done.stdout


def test_a_pipe_that_cannot_show_every_letter(write: Any) -> None:
    """A pipe of another encoding gets what it cannot show as an escape, not a traceback."""
    name = write(FAULTY.replace("brick", "stromquelle-Ω"))
    done = program("lint", name, env={**os.environ, "PYTHONIOENCODING": "latin-1"})
    assert done.returncode == 1
    assert rb"stromquelle-\u03a9" in done.stdout


def test_a_pipe_that_is_closed(root: Path) -> None:
    """A reader that stops early, like ``head``, gets no traceback thrown after it."""
    plan = root / "inventories" / "tidepool-draft.toml"
    with subprocess.Popen(
        [sys.executable, "-m", "coldcheck", "lint", str(plan)], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert b"Traceback" not in process.stderr.read()


def on_terminal(*words: object, **env: str) -> bytes:
    """Run the program on a pseudo-terminal and return what it wrote there."""
    import pty

    parent, child = pty.openpty()
    variables = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "FORCE_COLOR", "COLORTERM")}
    with subprocess.Popen(
        [sys.executable, "-m", "coldcheck", *map(str, words)],
        stdin=child, stdout=child, stderr=child, env={**variables, "TERM": "xterm-256color", **env}, close_fds=True,
    ) as process:  # fmt: skip
        os.close(child)
        written = b""
        while True:
            try:
                piece = os.read(parent, 65536)
            except OSError:  # Linux says so when the other end is closed
                break
            if not piece:
                break
            written += piece
        process.wait(timeout=60)
    os.close(parent)
    return written


def test_colours_on_a_terminal(write: Any) -> None:
    """On a terminal an error is red: SGR 31 of ECMA-48, section 8.3.117."""
    written = on_terminal("lint", write(FAULTY))
    assert b"\x1b[1;31m" in written
    assert b"rails.overload" in written


def test_no_colours_when_they_are_not_wanted(write: Any) -> None:
    """With NO_COLOR set a terminal gets none of the colours of SGR, and the same words."""
    import re

    name = write(FAULTY)
    written = on_terminal("lint", name, NO_COLOR="1")
    codes = {code for found in re.findall(rb"\x1b\[([\d;]*)m", written) for code in found.split(b";")}
    assert not {code for code in codes if code.isdigit() and 30 <= int(code) <= 107}
    words = re.sub(rb"\x1b\[[\d;]*m", b"", written).replace(b"\r\n", b"\n")
    seconds = rb"\d+\.\d+ s:"
    assert re.sub(seconds, b"", words).rstrip() == re.sub(seconds, b"", program("lint", name).stdout).rstrip()


def test_a_narrow_terminal_does_not_cut(write: Any) -> None:
    """Long lines are left to the terminal to wrap: an editor must find the place at the start of a line."""
    name = write(FAULTY)
    written = on_terminal("lint", name, COLUMNS="20", NO_COLOR="1", TERM="dumb")
    assert f"{name}:".encode() in written
    assert b"is asked for 0.1 A; 50 mA is its limit" in written

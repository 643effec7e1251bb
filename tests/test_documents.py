"""README and DEVELOPERS.md say what is so: their plans are linted, their rule is run, their commands exist."""

from __future__ import annotations

import contextlib
import re
import tempfile
from pathlib import Path

from click.testing import CliRunner

from coldcheck import ours
from coldcheck.cli import main
from coldcheck.plan.tables import TABLES
from coldcheck.testing import every_case

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()


def block(text: str, mark: str) -> str:
    """Return the fenced block behind a mark."""
    found = re.search(rf"<!-- {re.escape(mark)} -->\n```\w+\n(.*?)```", text, re.DOTALL)
    assert found, f"no block {mark}"
    return found[1]


def lint(plan: str) -> tuple[int, str]:
    """Return exit status and output of a lint, with its time blotted out."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        Path("plan.toml").write_text(plan)
        result = CliRunner().invoke(main, ["lint", "plan.toml"])
    return result.exit_code, re.sub(r"\d+\.\d+ s: ", "0.01 s: ", result.output)


def mended(plan: str) -> str:
    """Return the first plan with the changes that the README lists."""
    for line in block(README, "mends").strip().splitlines():
        old, arrow, new = line.partition("  ->  ")
        assert arrow, f"the mend has no new text: {line}"
        assert plan.count(old.strip()) == 1, old
        plan = plan.replace(old.strip(), new.strip())
    return plan


FERRY = "inventories/ferry-cabin.toml"


def ferry(*words: str) -> str:
    """Return what a command says of the ferry cabin."""
    with contextlib.chdir(ROOT):
        return CliRunner().invoke(main, [*words, FERRY]).output


def rehearsed() -> str:
    """Return the part of the rehearsal that the README shows: the table, and the plot of the 12 V rail."""
    head, _, rest = ferry("rehearse").partition("box.5v: ")
    _, mark, plot = rest.partition("box.12v: ")
    return head + mark + plot.partition("\npower at the feeds")[0]


def sags() -> str:
    """Return the finding that the README shows: that of the boards."""
    found = ferry("lint", "--only", "volts.sags").splitlines()
    return (
        "\n".join(found[: next(i for i, line in enumerate(found) if i and not line.startswith(" "))]) + "\n"
    )


#: The areas of rules that the README shows its network by.
NETWORK = ("topology", "vlans", "segments", "throughput", "ports", "addresses", "mtu", "names")


def networked() -> str:
    """Return what is said of the network that the README shows, without the line of sums."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        Path("plan.toml").write_text(block(README, "network"))
        words = [word for area in NETWORK for word in ("--only", area)]
        output = CliRunner().invoke(main, ["lint", *words, "plan.toml"]).output
    return output.rpartition("judged 1 plan")[0]


def wired(pins: str, area: str) -> str:
    """Return what an area of rules says of the harness that the README shows, with its housings on these pins."""
    plan = block(README, "harness").replace('on = ["6", "8"]', f"on = [{pins}]")
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        Path("plan.toml").write_text(plan)
        output = CliRunner().invoke(main, ["lint", "--only", area, "plan.toml"]).output
    return output.rpartition("judged 1 plan")[0]


def filled() -> str:
    """Return what filling the plan with blanks proposes."""
    with contextlib.chdir(ROOT):
        return (
            CliRunner().invoke(main, ["fill", "--day", "2026-01-01", "inventories/sundial-court.toml"]).output
        )


def rewrite() -> None:
    """Put the output of today into the README: ``python tests/test_documents.py``."""
    plan = block(README, "plan.toml")
    text = README
    outputs = {
        "output": lint(plan)[1],
        "last": lint(mended(plan))[1].splitlines()[-1] + "\n",
        "rehearse": rehearsed(),
        "sags": sags(),
        "network says": networked(),
        "harness says": wired('"6", "8"', "pins"),
        "fill": filled(),
        "seats say": wired('"4", "6"', "slips.seats"),
    }
    for mark, output in outputs.items():
        head, start, rest = text.partition(f"<!-- {mark} -->\n```text\n")
        text = head + start + output + rest[rest.index("```") :]
    (ROOT / "README.md").write_text(text)


def test_first_plan() -> None:
    """The first plan of the README gives the output printed below it, to the letter."""
    code, output = lint(block(README, "plan.toml"))
    assert code == 1
    assert output == block(README, "output")


def test_first_plan_mended() -> None:
    """With the changes that the README lists, the first plan ends in 0 and only a person's look is left."""
    code, output = lint(mended(block(README, "plan.toml")))
    assert code == 0, output
    assert output.splitlines()[-1] + "\n" == block(README, "last")


def test_power_of_the_readme() -> None:
    """The plan of batteries, fuses and a way back is read, refers to nothing unknown and has no error."""
    code, output = lint(block(README, "power"))
    assert code == 0, output
    assert "references." not in output


def test_rehearsal_of_the_readme() -> None:
    """The start of the ferry cabin is printed as it is played."""
    assert rehearsed() == block(README, "rehearse")


def test_sag_of_the_readme() -> None:
    """What the lint says of the boards of the ferry cabin is printed to the letter."""
    assert sags() == block(README, "sags")


def test_network_of_the_readme() -> None:
    """What the lint says of the network of the README is printed to the letter: two slips, two findings."""
    assert networked() == block(README, "network says")
    assert len(re.findall(r"^plan\.toml:", networked(), re.MULTILINE)) == 2


def test_filling_of_the_readme() -> None:
    """What the README shows of a filling is what the command prints, to the letter."""
    assert filled() == block(README, "fill")


def test_harness_of_the_readme() -> None:
    """The plug beside its place is one finding for both boards; in its place only looks are left."""
    assert wired('"6", "8"', "pins") == block(README, "harness says")
    assert wired('"4", "6"', "slips.seats") == block(README, "seats say")
    assert len(re.findall(r"^plan\.toml:", wired('"6", "8"', "pins"), re.MULTILINE)) == 1
    code, output = lint(block(README, "harness").replace('on = ["6", "8"]', 'on = ["4", "6"]'))
    assert code == 0, output
    assert "warning" not in output


def test_tables_of_the_readme() -> None:
    """The README names every table that a plan may hold."""
    assert {name for name in TABLES if f"[[{name}]]" not in README} == set()


def test_rule_of_the_developers_guide(tmp_path: Path) -> None:
    """The rule shown in DEVELOPERS.md loads as it stands and passes its own cases."""
    (tmp_path / "storage.py").write_text(block(DEVELOPERS, "rule"))
    trials = every_case([tmp_path])
    assert len(trials) == 2
    for trial in trials:
        trial.check()


def test_words_that_documents_name() -> None:
    """Workings, rules and commands that the documents name exist."""
    book = ours.rulebook(entry_points=False)
    for name in ("rails", "inlets", "links", "totals", "pin_wires"):
        assert name in book.workings
    text = README + DEVELOPERS
    files = {name.partition(".")[0] for name in book.rules}
    named = {n for n in re.findall(r"`([a-z]+\.[a-z_]+)`", text) if n.partition(".")[0] in files}
    assert named, "the documents name no rule"
    assert named <= set(book.rules)
    for command in re.findall(r"`coldcheck (\w+)", text):
        assert command in main.commands


if __name__ == "__main__":
    rewrite()

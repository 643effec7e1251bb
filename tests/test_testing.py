"""`python -m coldcheck.testing`: the cases of a site's own rules, run without pytest."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

RULE = '''"""Names."""
from coldcheck import Case, Finding, cases, rule

@rule(level="note", over="node")
def short(node):
    """Nodes have short names."""
    if len(node.id) > 3:
        yield Finding("note", node, f"{node.id} is long")

cases(short, clean=['[[node]]\\nid = "n1"\\n'], flagged=[Case('[[node]]\\nid = "NAME"\\n', at="NAME")])
'''


def run(*arguments: str, options: tuple[str, ...] = ()) -> tuple[int, list[str]]:
    """Return exit status and the lines that are printed."""
    command = [sys.executable, *options, "-m", "coldcheck.testing", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.stderr == ""
    return done.returncode, done.stdout.splitlines()


def test_cases_that_hold(tmp_path: Path) -> None:
    """Where every case holds, only the count is printed and the exit status is 0."""
    (tmp_path / "names.py").write_text(RULE.replace("NAME", "kitchen"))
    assert run(str(tmp_path)) == (0, ["2 cases of 1 rules: 0 failed"])


@pytest.mark.parametrize("options", [(), ("-O",)], ids=["plain", "optimized"])
def test_a_case_that_fails(tmp_path: Path, options: tuple[str, ...]) -> None:
    """A case that fails is a line of its own, and the exit status is 1, whatever Python is told to leave out."""
    (tmp_path / "names.py").write_text(RULE.replace("NAME", "n2"))
    code, lines = run(str(tmp_path), options=options)
    assert code == 1
    assert lines == ["names.short-flagged-0 must be flagged, but is clean", "2 cases of 1 rules: 1 failed"]


def test_a_rule_without_cases(tmp_path: Path) -> None:
    """A rule that has no case is not passed over."""
    (tmp_path / "names.py").write_text(RULE.partition("cases(short")[0])
    code, lines = run(str(tmp_path))
    assert code == 1
    assert lines == ["names.short needs at least one clean case"]


def test_nothing_to_run(tmp_path: Path) -> None:
    """A folder that is not there, an empty one, and none at all are no success."""
    assert run(str(tmp_path / "none"))[0] == 1
    assert run(str(tmp_path)) == (1, ["0 cases of 0 rules: 0 failed"])
    assert run()[0] == 1

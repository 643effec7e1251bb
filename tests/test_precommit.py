"""The hook for pre-commit: which files it takes, and the real program running it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture(scope="module")
def hook(root: Path) -> dict[str, str]:
    """Give the keys of the one hook, read as the flat YAML that it is."""
    text = (root / ".pre-commit-hooks.yaml").read_text(encoding="utf-8")
    pairs = re.findall(r"^[- ] (\w+): (.*)$", text, re.MULTILINE)
    assert text.count("\n- ") == 1
    return dict(pairs)


def test_the_hook_runs_a_command_that_exists(hook: dict[str, str], run: Any) -> None:
    """The entry is the program that the distribution installs, with a command it has."""
    assert hook["id"] == "coldcheck-lint"
    program, command = hook["entry"].split()
    assert program == "coldcheck"
    assert run(command, "--help").exit_code == 0


@pytest.mark.parametrize(
    "path, taken",
    [
        ("inventories/gorse-hill.toml", True),
        ("inventories/hill/one.toml", True),
        ("site/inventories/one.toml", True),
        ("inventories/parts/boards.toml", False),
        ("inventories/hill/parts/boards.toml", False),
        ("inventories/spare-parts/one.toml", True),
        ("pyproject.toml", False),
        ("my-inventories/one.toml", False),
        ("inventories/notes.md", False),
    ],
)
def test_which_files_are_taken(hook: dict[str, str], path: str, taken: bool) -> None:
    """Plans are taken, parts and other files are not; pre-commit searches with Python's ``re``."""
    found = re.search(hook["files"], path) is not None and re.search(hook["exclude"], path) is None
    assert found == taken


PLAN = '[[feed]]\nid = "brick"\nvolts = "5 V"\n[[fan]]\nid = "f"\nfrom = "{}"\n'


def test_the_real_program(root: Path, tmp_path: Path) -> None:
    """In a repository that keeps plans, pre-commit installs the hook and stops the commit of a faulty plan."""
    home = {
        "PRE_COMMIT_HOME": str(tmp_path / "cache"),
        "GIT_CONFIG_GLOBAL": os.devnull,
        "GIT_CONFIG_NOSYSTEM": "1",
    }
    env = {k: v for k, v in os.environ.items() if not k.startswith(("GIT_", "PYTHON", "VIRTUAL_ENV"))} | home

    def call(*words: object, cwd: Path, code: int = 0) -> str:
        command = [str(word) for word in words]
        done = subprocess.run(
            command, cwd=cwd, env=env, capture_output=True, text=True, check=False, timeout=300
        )
        assert done.returncode == code, done.stdout + done.stderr
        return done.stdout

    def committed(folder: Path) -> str:
        call("git", "init", "--quiet", cwd=folder)
        call("git", "add", "--all", cwd=folder)
        who = ("-c", "user.name=A Tester", "-c", "user.email=tester@example.org")
        call("git", *who, "commit", "--quiet", "--no-verify", "--message", "as it is", cwd=folder)
        return call("git", "rev-parse", "HEAD", cwd=folder).strip()

    # what is in the working tree is what is tested, committed or not
    source, site = tmp_path / "source", tmp_path / "site"
    left_out = shutil.ignore_patterns(
        ".git", ".venv", "*_cache", "__pycache__", ".hypothesis", "build", "dist"
    )
    shutil.copytree(root, source, ignore=left_out)
    revision = committed(source)

    (site / "inventories").mkdir(parents=True)
    config = f"repos:\n- repo: {source}\n  rev: {revision}\n  hooks:\n  - id: coldcheck-lint\n"
    (site / ".pre-commit-config.yaml").write_text(
        config + "    args: [--only, references.unknown]\n", encoding="utf-8"
    )
    (site / "inventories" / "good.toml").write_text(PLAN.format("brick"), encoding="utf-8")
    committed(site)
    program = (sys.executable, "-m", "pre_commit", "run", "--all-files", "--color", "never")
    assert "Passed" in call(*program, cwd=site)
    (site / "inventories" / "bad.toml").write_text(PLAN.format("brik"), encoding="utf-8")
    call("git", "add", "--all", cwd=site)
    shown = call(*program, cwd=site, code=1)
    assert "inventories/bad.toml:6:1: error: nothing is called brik" in shown

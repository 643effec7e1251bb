"""The wheel: built, installed in a fresh environment, it judges as the checkout does; and distributions extend it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import textwrap
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from coldcheck import ours

# One worker builds and installs; the tests below share what it made.
pytestmark = pytest.mark.xdist_group("wheel")

DAY = ("--day", "2026-01-01")


def call(*words: object, cwd: Path, code: int | None = 0) -> subprocess.CompletedProcess[str]:
    """Run a program outside the checkout, with nothing of this process's Python in its environment."""
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON") and k != "VIRTUAL_ENV"}
    done = subprocess.run(
        [str(word) for word in words],
        cwd=cwd,
        env=env,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert code is None or done.returncode == code, f"{words}\n{done.stdout}\n{done.stderr}"
    return done


def built(source: Path, into: Path) -> Path:
    """Build the wheel of a source tree, without isolation: the build backend is one of the tools of the tests."""
    call(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", into, source, cwd=into)
    (wheel,) = into.glob("*.whl")
    return wheel


@pytest.fixture(scope="module")
def wheel(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the wheel of this checkout."""
    return built(root, tmp_path_factory.mktemp("dist"))


@pytest.fixture(scope="module")
def place(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder outside the checkout with an environment ``env`` in which the wheel is installed."""
    folder = tmp_path_factory.mktemp("elsewhere")
    call(sys.executable, "-m", "venv", "env", cwd=folder)
    call(folder / "env/bin/python", "-m", "pip", "install", "--quiet", wheel, cwd=folder)
    return folder


def coldcheck(place: Path, *words: object, code: int | None = 0) -> subprocess.CompletedProcess[str]:
    """Run the installed program."""
    return call(place / "env/bin/coldcheck", *words, cwd=place, code=code)


def test_what_is_in_the_wheel(wheel: Path, root: Path) -> None:
    """The wheel carries the rules, the plugins, the plans and the shelf inside the package, and no tests."""
    inside = set(zipfile.ZipFile(wheel).namelist())
    for folder in ("rules", "plugins", "inventories"):
        for path in sorted((root / folder).rglob("*")):
            if path.suffix in (".py", ".toml"):
                assert f"coldcheck/{path.relative_to(root)}" in inside
    assert {name.split("/")[0].split("-")[0] for name in inside} == {"coldcheck"}
    assert not [name for name in inside if "test_" in name or "benchmark" in name or name.endswith(".pyc")]


def test_nothing_of_the_checkout_is_used(place: Path, root: Path) -> None:
    """The installed program runs what is in its environment, with its rules from there."""
    script = "from coldcheck import ours; print(ours.__file__); print(ours.folder('rules'))"
    lines = call(place / "env/bin/python", "-c", script, cwd=place).stdout.split()
    for line in lines:
        assert Path(line).is_relative_to(place / "env")
        assert not Path(line).is_relative_to(root)


@pytest.mark.parametrize("name, code", [("lantern-room", 0), ("gorse-hill", 0), ("tidepool-draft", 1)])
def test_the_same_findings(place: Path, root: Path, run: Any, name: str, code: int) -> None:
    """Findings of the installed program equal those of the checkout, number for number."""
    shutil.copy(root / "inventories" / f"{name}.toml", place)
    there = coldcheck(place, "lint", "--as", "json", *DAY, f"{name}.toml", code=code).stdout
    here = run("lint", "--as", "json", *DAY, root / "inventories" / f"{name}.toml").stdout
    (installed,), (checkout,) = json.loads(there)["plans"], json.loads(here)["plans"]
    assert installed["judged"]["rules"] == len(ours.rulebook(entry_points=False).rules)
    for report in (installed, checkout):
        del report["plan"], report["judged"]["seconds"]
    assert installed == checkout


def test_a_part_of_the_shelf(place: Path) -> None:
    """A plan of one's own that names a part of the shelf is judged by the figures of that part."""
    plan = place / "own.toml"
    text = '[[feed]]\nid = "brick"\nvolts = "5 V"\namps = "0.1 A"\n[[node]]\nid = "n1"\nfrom = "brick"\n'
    plan.write_text(text + 'into = "header"\npart = "board-4core-5v-3a"\n', encoding="utf-8")
    assert "rails.overload" in coldcheck(place, "lint", plan, code=1).stdout


def test_the_other_commands(place: Path, run: Any) -> None:
    """``parts`` and ``why`` show what they show in the checkout."""
    for words in (("parts",), ("parts", "board-4core-5v-3a"), ("why",), ("why", "rails.overload")):
        assert coldcheck(place, *words).stdout == run(*words).stdout
    python = place / "env/bin/python"
    assert call(python, "-m", "coldcheck", "--version", cwd=place).stdout.startswith("coldcheck ")


def test_the_papers(place: Path, root: Path, run: Any) -> None:
    """The installed program writes the same papers, its templates with it."""
    shutil.copy(root / "inventories" / "gorse-hill.toml", place)
    coldcheck(place, "sheets", "gorse-hill.toml", *DAY, "--into", "there")
    run("sheets", place / "gorse-hill.toml", *DAY, "--into", place / "here")
    there, here = [
        {str(file.relative_to(place / name)) for file in (place / name).rglob("*") if file.is_file()}
        for name in ("there", "here")
    ]
    assert there == here
    assert (place / "there" / "ports.csv").read_bytes() == (place / "here" / "ports.csv").read_bytes()


RULE = '''
from coldcheck import Finding, rule

@rule(level="warning", over="node")
def lower_case(node):
    """The name of a board is written in lower case."""
    if node.id != node.id.lower():
        yield Finding("warning", node, f"{node.id} is not in lower case")
'''
BROKEN = "import a_module_that_nobody_has\n"
PLAN = '[[node]]\nid = "LOUD"\n'


@pytest.fixture
def installed(place: Path, tmp_path: Path) -> Iterator[Any]:
    """Give a function that makes a distribution of one module and installs it; taken out again afterwards."""
    names: list[str] = []

    def install(name: str, source: str) -> None:
        folder = tmp_path / name
        folder.mkdir()
        (folder / f"{name}.py").write_text(source, encoding="utf-8")
        project = f"""
            [build-system]
            requires = ["hatchling"]
            build-backend = "hatchling.build"
            [project]
            name = "{name.replace("_", "-")}"
            version = "2.5"
            [project.entry-points."coldcheck.rules"]
            {name} = "{name}"
            [tool.hatch.build.targets.wheel]
            include = ["{name}.py"]
        """
        (folder / "pyproject.toml").write_text(textwrap.dedent(project), encoding="utf-8")
        (folder / "dist").mkdir()
        made = built(folder, folder / "dist")
        pip(place, "install", "--no-index", "--no-deps", made)
        names.append(name.replace("_", "-"))

    yield install
    for name in names:
        pip(place, "uninstall", "--yes", name)


def pip(place: Path, *words: object) -> None:
    """Run pip in the environment."""
    call(place / "env/bin/python", "-m", "pip", "--quiet", *words, cwd=place)


def test_an_installed_plugin(place: Path, installed: Any) -> None:
    """A distribution that names a module of rules by an entry point is judged by, and can be asked why."""
    plan = place / "loud.toml"
    plan.write_text(PLAN, encoding="utf-8")
    assert "lower_case" not in coldcheck(place, "lint", plan, code=None).stdout
    installed("house_names", RULE)
    result = coldcheck(place, "lint", plan, "--only", "house_names.lower_case")
    assert "LOUD is not in lower case" in result.stdout
    assert "The name of a board is written in lower case." in coldcheck(place, "why").stdout


def test_a_broken_plugin(place: Path, installed: Any) -> None:
    """A distribution whose module cannot be loaded is an error that names it and its version; the others still work."""
    plan = place / "loud.toml"
    plan.write_text(PLAN, encoding="utf-8")
    installed("house_names", RULE)
    installed("house_broken", BROKEN)
    result = coldcheck(place, "lint", "--as", "json", plan, code=1)
    findings = json.loads(result.stdout)["plans"][0]["findings"]
    broken = [f for f in findings if f["rule"] == "engine.cannot_load"]
    assert [(f["level"], f["subjects"]) for f in broken] == [("error", ["house-broken 2.5"])]
    assert "a_module_that_nobody_has" in broken[0]["says"]
    assert "house_names.lower_case" in {f["rule"] for f in findings}

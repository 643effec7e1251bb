"""The cold start: what a lint imports. Every module costs milliseconds each time an editor or a hook runs it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from coldcheck import files

HEAVY = {
    "importlib.metadata", "jinja2", "json", "netaddr", "networkx", "numpy", "pygments", "rich", "scipy",
}  # fmt: skip

CLEAN = '[[node]]\nid = "n1 .. n6"\nport = "sw.1 .. sw.6"\n[[switch]]\nid = "sw"\nports = 8\n'

LINT = """
import sys
from coldcheck.cli import main
try:
    main(["lint", *sys.argv[1:]], prog_name="coldcheck")
finally:
    sys.stderr.write("\\n".join(sys.modules))
"""


def imported(*words: object) -> tuple[int, set[str]]:
    """Return how a lint in a fresh process ended, and the modules it imported."""
    command = [sys.executable, "-c", LINT, *map(str, words)]
    # what a test run has in its environment (coverage, pytest) must not count
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60, env=env)
    assert "Traceback" not in done.stderr
    assert done.stdout
    return done.returncode, set(done.stderr.splitlines())


def test_a_lint_of_the_middling_plan_imports_nothing_heavy(root: Path) -> None:
    """No graph, number, address or template library is imported, nor rich when the output is piped."""
    code, modules = imported(root / "inventories" / "gorse-hill.toml")
    assert code == 0
    assert "coldcheck.workings.power" in modules
    assert not {name for name in modules if name.split(".")[0] in HEAVY or name in HEAVY}


def test_a_clean_lint_builds_no_syntax_tree(tmp_path: Path) -> None:
    """The parser that knows where each key stands is imported only when a place has to be shown."""
    only = ("--only", "references.unknown")
    plan = tmp_path / "plan.toml"
    plan.write_text(CLEAN, encoding="utf-8")
    code, modules = imported(*only, plan)
    assert code == 0
    assert "tree_sitter" not in modules
    plan.write_text(CLEAN.replace("ports = 8", 'from = "nowhere"'), encoding="utf-8")
    code, modules = imported(*only, plan)
    assert code == 1
    assert "tree_sitter" in modules


def test_json_output_imports_nothing_heavy_either(root: Path) -> None:
    """JSON is written without the json module."""
    _, modules = imported("--as", "json", root / "inventories" / "gorse-hill.toml")
    assert not {name for name in modules if name.split(".")[0] in HEAVY or name in HEAVY}


def test_the_format_of_one_kind_only(root: Path) -> None:
    """A lint as text does not import what writes JSON, and the other way round."""
    plan = root / "inventories" / "gorse-hill.toml"
    assert "coldcheck.formats.machine" not in imported(plan)[1]
    assert "coldcheck.formats.text" not in imported("--as", "json", plan)[1]


@pytest.mark.parametrize("name", ["argparse", "asyncio", "unittest", "sqlite3", "http", "multiprocessing"])
def test_a_lint_needs_little_of_the_standard_library(root: Path, name: str) -> None:
    """Large parts of the standard library that a lint has no use for stay out."""
    assert name not in imported(root / "inventories" / "lantern-room.toml")[1]


def test_the_package_itself_imports_no_command() -> None:
    """``import coldcheck``, which every rule module does, brings neither click nor the commands."""
    command = [sys.executable, "-c", "import sys, coldcheck; print(*sys.modules)"]
    modules = set(subprocess.run(command, capture_output=True, text=True, check=True).stdout.split())
    assert "coldcheck.engine.rules" in modules
    assert not {"click", "coldcheck.cli", files.__name__, "coldcheck.workings"} & modules

"""Who may import whom, and who may write files."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import tomli

FOLDERS = ("coldcheck", "rules", "plugins")


def sources(root: Path) -> Iterator[Path]:
    """Yield every file of Python that ships."""
    for folder in FOLDERS:
        yield from sorted((root / folder).rglob("*.py"))


def linted(folder: Path) -> subprocess.CompletedProcess[str]:
    """Check the contracts of pyproject.toml on the tree in ``folder``."""
    script = "from importlinter.cli import lint_imports; import sys; sys.exit(lint_imports(no_cache=True))"
    return subprocess.run(
        [sys.executable, "-c", script], cwd=folder, capture_output=True, text=True, check=False, timeout=120,
        env={"PYTHONPATH": str(folder), "PATH": "/usr/bin:/bin"},
    )  # fmt: skip


def copied(root: Path, folder: Path) -> Path:
    """Return a copy of all that the contracts speak of."""
    for name in FOLDERS:
        shutil.copytree(root / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(root / "pyproject.toml", folder)
    return folder


def test_the_layers_hold(root: Path, tmp_path: Path) -> None:
    """Every import of the tree leads down."""
    done = linted(copied(root, tmp_path))
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    "file, line, contract",
    [
        ("coldcheck/plan/spans.py", "from coldcheck.engine import findings", "Imports lead down"),
        ("coldcheck/plan/spans.py", "import coldcheck", "Imports lead down"),
        ("coldcheck/engine/rules.py", "from coldcheck.workings import power", "Imports lead down"),
        ("coldcheck/engine/rules.py", "import coldcheck.dc.wire", "know no trade"),
        ("coldcheck/workings/leads.py", "import rules.volts", "Imports lead down"),
        ("rules/volts.py", "from coldcheck.formats import text", "Imports lead down"),
        ("rules/volts.py", "import rules.leads", "A rule module imports no other"),
        ("rules/volts.py", "from coldcheck import files", "Only the commands touch files"),
        ("coldcheck/dc/wire.py", "from coldcheck import Measure", "nothing of ours is in them"),
        ("coldcheck/dc/wire.py", "import coldcheck.lan.mac", "do not know each other"),
        ("coldcheck/lan/mac.py", "import coldcheck.plan.spans", "nothing of ours is in them"),
        ("coldcheck/__init__.py", "from coldcheck import ours", "The façade shows"),
        ("coldcheck/ours.py", "import coldcheck.cli", "Imports lead down"),
    ],
)
def test_the_layers_can_break(root: Path, tmp_path: Path, file: str, line: str, contract: str) -> None:
    """An import that leads up, or aside, breaks the contract that forbids it."""
    path = copied(root, tmp_path) / file
    path.write_text(path.read_text(encoding="utf-8") + f"\n{line}\n", encoding="utf-8")
    done = linted(tmp_path)
    assert done.returncode == 1, done.stdout
    broken = [text for text in done.stdout.splitlines() if text.endswith("BROKEN")]
    assert any(contract in text for text in broken), done.stdout


def test_no_module_is_left_out_of_the_layers(root: Path) -> None:
    """Every module and folder of ``coldcheck`` is named in a contract: nothing new stands outside the layers."""
    contracts = tomli.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    named = {word for contract in contracts for value in contract.values() for word in str(value).split("'")}
    named = {word.strip("() ") for text in named for word in text.replace("|", ":").split(":")}
    here = {
        path.stem
        for path in (root / "coldcheck").iterdir()
        if path.suffix == ".py" or (path / "__init__.py").exists()
    }
    assert {f"coldcheck.{name}" for name in here - {"__init__"}} <= named


def writes(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Yield line and word of every call that writes, moves or removes files."""
    words = {
        "write_text", "write_bytes", "touch", "mkdir", "unlink", "rmdir", "rename", "replace_file", "symlink_to",
        "hardlink_to", "chmod", "rmtree", "copyfile", "copytree", "makedirs", "removedirs", "mkstemp", "mkdtemp",
        "NamedTemporaryFile", "TemporaryDirectory", "TemporaryFile",
    }  # fmt: skip
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        word = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        holder = getattr(getattr(node.func, "value", None), "id", "")
        if word in words or (
            holder in ("os", "shutil") and word in ("remove", "replace", "move", "copy", "open")
        ):
            yield node.lineno, word
        elif word == "open":
            # as a method of a path the mode comes first, as a function second; a mode that is no literal may be any
            place = 0 if isinstance(node.func, ast.Attribute) else 1
            given = [*node.args[place : place + 1], *(k.value for k in node.keywords if k.arg == "mode")]
            modes = [mode.value if isinstance(mode, ast.Constant) else "w" for mode in given]
            if any(set(str(mode)) & set("wax+") for mode in modes):
                yield node.lineno, word


@pytest.mark.parametrize("text", [
    "open('a', 'w')", "open('a', mode='ab')", "p.open('w')", "p.open(mode='r+')", "open('a', mode)", "p.write_text('')",
    "os.replace(a, b)", "shutil.move(a, b)", "p.unlink()", "tempfile.mkstemp()",
])  # fmt: skip
def test_writing_is_seen(text: str) -> None:
    """The check below knows the ways to write a file."""
    assert list(writes(ast.parse(text)))


@pytest.mark.parametrize("text", ["open('a')", "p.open('rb')", "text.replace('a', 'b')", "p.read_text()"])
def test_reading_is_not_taken_for_writing(text: str) -> None:
    """Reading, and words that only sound like it, pass."""
    assert not list(writes(ast.parse(text)))


def test_only_one_module_writes_files(root: Path) -> None:
    """Nothing but ``coldcheck/files.py`` writes, moves or removes a file."""
    found = [
        f"{path.relative_to(root)}:{line}: {word}"
        for path in sources(root)
        if path != root / "coldcheck" / "files.py"
        for line, word in writes(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert not found


def test_a_plan_never_runs_code(root: Path) -> None:
    """What reads a plan never calls eval, exec or an import by name."""
    for path in sorted((root / "coldcheck" / "plan").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                word = (
                    node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                )
                assert word not in {"eval", "exec", "__import__", "import_module", "system", "Popen"}, path

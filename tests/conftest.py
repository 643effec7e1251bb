"""What tests of all folders share: profiles for generated examples, a plan on disk, and the commands run in-process."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import settings

# `make test` runs the same examples every time; `make proof` looks for new ones, and for many more.
settings.register_profile("test", deadline=None, derandomize=True, database=None)
settings.register_profile("proof", deadline=None, max_examples=3000, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "test"))

Run = Callable[..., Result]
Write = Callable[..., str]


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip what needs another program where it is missing; where every check is asked for, that is a failure."""
    wanted = [mark.args[0] for mark in item.iter_markers("program")]
    if item.get_closest_marker("ngspice") is not None:
        wanted.append("ngspice")
    # Debian keeps servers out of the path of whoever is not root
    path = os.pathsep.join((os.environ.get("PATH", ""), "/usr/sbin"))
    for name in wanted:
        if shutil.which(name, path=path) is not None:
            continue
        if os.environ.get("EVERY_CHECK"):
            pytest.fail(f"{name} is not installed, and EVERY_CHECK is set", pytrace=False)
        pytest.skip(f"{name} is not installed")


@pytest.fixture(scope="session")
def root() -> Path:
    """Give the folder of the checkout."""
    return Path(__file__).parent.parent


@pytest.fixture(scope="session")
def proof() -> bool:
    """Say whether this is the long run."""
    return os.environ.get("HYPOTHESIS_PROFILE") == "proof"


@pytest.fixture
def run() -> Run:
    """Give a function that runs a command in this process, as ``run("lint", "plan.toml")``."""

    def command(*words: object, stdin: bytes | None = None) -> Result:
        from coldcheck.cli import main

        result = CliRunner().invoke(main, [str(word) for word in words], input=stdin, prog_name="coldcheck")
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise AssertionError(f"{words} ended in a traceback") from result.exception
        return result

    return command


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Give a function that writes a plan, or any text, and returns the name of the file."""

    def file(text: str | bytes, name: str = "plan.toml") -> str:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return str(path)

    return file

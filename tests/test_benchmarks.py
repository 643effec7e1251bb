"""The benchmarks still run: what they measure is theirs, that they measure is held here."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.proof
def test_verdict_runs(root: Path) -> None:
    """The smallest benchmark ends and prints its ratio."""
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks", "verdict", "--quick"],
        cwd=root, capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "pytest, a test" in done.stdout

"""The price of one verdict: a trivial rule in the engine, against the same checks as pytest tests.

Aim: two hundred times less. pytest runs one parametrised test, without plugins and with nothing to report: the
best for it. What it costs to start is measured with a single case and taken away.
"""

from __future__ import annotations

import datetime
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from coldcheck.engine.loading import load
from coldcheck.engine.running import judge

from .show import table
from .timing import Times, in_turn

__all__ = ["run"]

_AIM = 200
_ITEMS = 100_000
_TESTS = 2_000

_RULE = '''
from coldcheck import Finding, rule

@rule(level="error", over="lamp")
def overload(lamp):
    """A lamp draws no more than its limit."""
    if lamp.amps > lamp.limit:
        yield Finding("error", lamp, f"{lamp.name} draws {lamp.amps} A")
'''

_TEST = """
import pytest

@pytest.mark.parametrize("amps, limit", [(i % 7, 7) for i in range({count})])
def test_overload(amps, limit):
    assert amps <= limit
"""


class _Lamps:
    """All that the engine asks of a plan."""

    name = "lamps"
    places = None

    def __init__(self) -> None:
        self._lamps = [SimpleNamespace(name=f"l{i}", amps=i % 7, limit=7) for i in range(_ITEMS)]
        self.of = {"lamp": self._lamps}
        self.things: dict[str, Any] = {}

    def table(self, name: str) -> list[Any]:
        """Return the lamps."""
        return self._lamps if name == "lamp" else []

    def place(self, thing: Any, *keys: str) -> tuple[str | int, ...]:
        """Return no place."""
        return ()


def run(quick: bool) -> None:
    """Print what one verdict costs either way."""
    rounds = 3 if quick else 9
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "lamps.py")
        file.write_text(_RULE, encoding="utf-8")
        book = load(["lamp"], folders=[file], entry_points=False)
        assert not book.broken, book.broken
        lamps = _Lamps()
        verdicts = judge(lamps, book, datetime.date(2026, 1, 1)).judged.verdicts
        assert verdicts == _ITEMS
        for count in (1, _TESTS):
            Path(folder, f"test_{count}.py").write_text(_TEST.format(count=count), encoding="utf-8")
        tasks = {
            "engine": lambda: judge(lamps, book, datetime.date(2026, 1, 1)),
            "one": lambda: _pytest(folder, 1),
            "many": lambda: _pytest(folder, _TESTS),
        }
        times = in_turn(tasks, rounds)
    engine = Times([s / _ITEMS for s in times["engine"].seconds])
    pairs = zip(times["many"].seconds, times["one"].seconds, strict=True)
    tests = Times([(many - one) / (_TESTS - 1) for many, one in pairs])
    rows = [
        ["engine, a verdict", f"{engine.median * 1e6:.3f}", "1"],
        ["pytest, a test", f"{tests.median * 1e6:.1f}", tests.over(engine)],
    ]
    table(f"verdict: aim {_AIM}, {rounds} rounds", ["one check", "µs", "ratio (middle half)"], rows)


def _pytest(folder: str, count: int) -> None:
    words = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-p",
        "no:cacheprovider",
        "--rootdir",
        folder,
        f"test_{count}.py",
    ]
    environment = {**os.environ, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    done = subprocess.run(words, capture_output=True, check=False, cwd=folder, env=environment)
    if done.returncode:
        raise RuntimeError(done.stdout.decode())

"""The cold start: a lint of the middling plan as a whole process, against one that imports two libraries.

Aim: no more than three times ``python -c "import tomli, rich.console"``.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median

from coldcheck import ours

from .show import table
from .timing import in_turn, process

__all__ = ["run"]

_LINT = ("-c", "from coldcheck.cli import main; main(prog_name='coldcheck')", "lint")
_AIM = 3
_MOST_IMPORTS = 15


def run(quick: bool) -> None:
    """Print the ratio, where the time goes, and the dearest imports."""
    with tempfile.TemporaryDirectory() as folder:
        plan = str(ours.folder("inventories") / "gorse-hill.toml")
        environment = _installed(folder)
        _ratio(plan, 7 if quick else 25, environment)
        _phases(plan, 3 if quick else 11, environment)
        _imports(plan, environment)


def _installed(folder: str) -> dict[str, str]:
    """Return an environment in which all modules are compiled once and kept, as an installation has them."""
    environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(Path(folder, "compiled"))}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    return environment


def _ratio(plan: str, rounds: int, environment: dict[str, str]) -> None:
    python = sys.executable
    tasks = {
        "bare interpreter": process(python, "-c", "pass", environment=environment),
        "import tomli, rich.console": process(
            python, "-c", "import tomli, rich.console", environment=environment
        ),
        "coldcheck lint, piped": process(python, *_LINT, plan, environment=environment),
    }
    times = in_turn(tasks, rounds)
    base = times["import tomli, rich.console"]
    rows = [[name, f"{t.median * 1e3:.1f}", t.over(base)] for name, t in times.items()]
    table(f"cold: aim {_AIM}, {rounds} rounds", ["process", "ms", "ratio (middle half)"], rows)


def _phases(plan: str, rounds: int, environment: dict[str, str]) -> None:
    runs: list[dict[str, float]] = []
    for n in range(rounds + 1):  # the first one compiles
        words = [sys.executable, "-m", "benchmarks.phases", plan]
        root = Path(__file__).parent.parent
        done = subprocess.run(words, capture_output=True, check=True, cwd=root, env=environment)
        if n:
            runs.append(json.loads(done.stdout))
    total = sum(median(r[name] for r in runs) for name in runs[0])
    rows = []
    for name in runs[0]:
        seconds = median(r[name] for r in runs)
        rows.append([name, f"{seconds * 1e3:.1f}", f"{100 * seconds / total:.0f} %"])
    table("cold: inside the process, once Python is up", ["phase", "ms", "share"], rows)


def _imports(plan: str, environment: dict[str, str]) -> None:
    words = [sys.executable, "-X", "importtime", *_LINT, plan]
    said = subprocess.run(words, capture_output=True, check=False, env=environment).stderr.decode()
    found = re.findall(r"import time: +(\d+) \| +(\d+) \| +(\S+)", said)
    own = sorted(((int(mine), int(whole), name) for mine, whole, name in found), reverse=True)
    rows = [[name, f"{mine / 1e3:.2f}", f"{whole / 1e3:.2f}"] for mine, whole, name in own[:_MOST_IMPORTS]]
    rows.append([f"all {len(own)} modules", f"{sum(mine for mine, _, _ in own) / 1e3:.2f}", ""])
    table("cold: dearest imports, one run, -X importtime", ["module", "own ms", "with what it imports"], rows)

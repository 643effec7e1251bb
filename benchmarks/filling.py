"""Filling: how long it takes to fill a plan in which all is blank, against one lint of the plan that comes out.

Aim: 600 boards within 20 s on two processors, the gap between what is reached and its bound told.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from .blank import rack
from .show import table

__all__ = ["run"]


def run(quick: bool) -> None:
    """Print the time of a filling, its ratio to a lint, its memory and its gaps, for 6, 60 and 600 boards."""
    rows = []
    for boards in (6, 60) if quick else (6, 60, 600):
        with tempfile.TemporaryDirectory() as folder:
            plan = Path(folder) / "plan.toml"
            plan.write_text(rack(boards))
            seconds, told = _timed("fill", "--write", "--as", "json", str(plan))
            memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024  # of the largest so far
            lint, _ = _timed("lint", str(plan))
        found = json.loads(told)
        rows.append([
            str(boards), f"{seconds:.1f}", f"{seconds / lint:.0f}", f"{memory:.0f}",
            _gap(found, "copper of leads"), _gap(found, "greatest share of any limit"), str(found["after"]["error"]),
        ])  # fmt: skip
    head = [
        "boards",
        "fill, s",
        "over a lint",
        "peak, MB",
        "gap of copper",
        "gap of the share",
        "errors left",
    ]
    table("filling: a whole process, everything blank; aim: 600 boards within 20 s", head, rows)


def _timed(*words: str) -> tuple[float, str]:
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "coldcheck", *words], capture_output=True, text=True, check=False
    )
    if done.returncode > 1:
        raise RuntimeError(done.stderr)
    return time.perf_counter() - start, done.stdout


def _gap(found: dict[str, object], what: str) -> str:
    """Return how far a figure may be from the best one; "none" where no bound is told."""
    for figure in found["reached"]:  # type: ignore[attr-defined]
        if figure["what"] == what:
            bound, value = figure["bound"], figure["value"]
            return "none" if bound is None else f"{100 * abs(value - bound) / max(value, 1e-9):.1f} %"
    return "none"

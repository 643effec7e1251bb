"""Papers: how long the folder of a plan takes, with its page, against one lint of the same plan.

Aim: the page of 60 boards within 2 s, that of 600 within 10 s.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from .blank import rack
from .show import table

__all__ = ["run"]


def run(quick: bool) -> None:
    """Print the time of all papers, its ratio to a lint, and the size of the page, for 6, 60 and 600 boards."""
    rows = []
    for boards in (6, 60) if quick else (6, 60, 600):
        with tempfile.TemporaryDirectory() as folder:
            plan = Path(folder) / "plan.toml"
            plan.write_text(rack(boards))
            _timed("fill", "--write", str(plan))
            lint = min(_timed("lint", str(plan)) for _ in range(3))
            out = Path(folder) / "out"
            papers = _timed("sheets", "--into", str(out), str(plan))
            size = (out / "sheets.html").stat().st_size / 1e6
        rows.append([str(boards), f"{papers:.2f}", f"{papers / lint:.1f}", f"{size:.2f}"])
    head = ["boards", "all papers, s", "over a lint", "page, MB"]
    table("papers: a whole process; aim: 60 boards within 2 s, 600 within 10 s", head, rows)


def _timed(*words: str) -> float:
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "coldcheck", *words], capture_output=True, text=True, check=False
    )
    if done.returncode > 1:
        raise RuntimeError(done.stderr)
    return time.perf_counter() - start

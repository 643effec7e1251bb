"""Times that can be held against each other: taken in turn in one run: a slow minute hits all."""

from __future__ import annotations

import gc
import subprocess
import time
from collections.abc import Callable, Mapping, Sequence
from statistics import median, quantiles

__all__ = ["Times", "in_turn", "process"]


class Times:
    """The times of one task over several rounds [s]."""

    def __init__(self, seconds: Sequence[float]) -> None:
        self.seconds = list(seconds)

    @property
    def median(self) -> float:
        """The middle time [s]."""
        return median(self.seconds)

    def over(self, other: Times) -> str:
        """Return the middle of the ratios of single rounds, with the half of them around it."""
        pairs = [mine / theirs for mine, theirs in zip(self.seconds, other.seconds, strict=True)]
        low, middle, high = quantiles(pairs, n=4, method="inclusive") if len(pairs) > 1 else pairs * 3
        return f"{middle:.2f} ({low:.2f} .. {high:.2f})"


def in_turn(tasks: Mapping[str, Callable[[], object]], rounds: int) -> dict[str, Times]:
    """Return the times of every task by its name; each round does every task once, in the order given.

    Args:
        tasks: what is timed, by name; what a task returns is thrown away before the next.
        rounds: how often each is done [-]; at least 1. A round before them warms up and is not counted.
    """
    taken: dict[str, list[float]] = {name: [] for name in tasks}
    for n in range(rounds + 1):
        for name, task in tasks.items():
            gc.collect()
            start = time.perf_counter()
            result = task()
            seconds = time.perf_counter() - start
            del result
            if n:
                taken[name].append(seconds)
    return {name: Times(seconds) for name, seconds in taken.items()}


def process(*words: str, environment: Mapping[str, str] | None = None) -> Callable[[], object]:
    """Return a task that runs a whole process, its output piped; RuntimeError when it ends in more than 1."""

    def task() -> None:
        done = subprocess.run(words, capture_output=True, check=False, env=environment)
        if done.returncode not in (0, 1):
            raise RuntimeError(f"{' '.join(words)}: {done.stderr.decode(errors='replace')}")

    return task

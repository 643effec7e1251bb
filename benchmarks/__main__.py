"""``python -m benchmarks [name...] [--quick]``."""

from __future__ import annotations

import argparse

from benchmarks import cold, filling, growth, network, papers, solve, study, verdict
from benchmarks.show import machine

RUNS = {
    "cold": cold.run,
    "growth": growth.run,
    "network": network.run,
    "filling": filling.run,
    "papers": papers.run,
    "verdict": verdict.run,
    "solve": solve.run,
    "study": study.run,
}


def main() -> None:
    """Run the benchmarks named, or all."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks", description="What Coldcheck costs, as ratios."
    )
    parser.add_argument(
        "names", nargs="*", metavar="name", help=f"one of {', '.join(RUNS)}; all where none is named"
    )
    parser.add_argument("--quick", action="store_true", help="fewer rounds and no plan of 100 000 devices")
    words = parser.parse_args()
    for name in words.names:
        if name not in RUNS:
            parser.error(f'no benchmark is called "{name}"; there are {", ".join(RUNS)}')
    print(machine())
    for name in words.names or RUNS:
        RUNS[name](words.quick)


main()

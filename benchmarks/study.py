"""The price of one sample of a tolerance study: all nets of a plan in numpy, against one solve after another.

Aim: five hundred times less. Each net of the plan is taken as it stands once everything has started. The volts,
resistances and draws of every sample are drawn beforehand, for the loop also laid out as lists, so both sides are
timed at solving alone; the memory of the answer is used again. The loop is timed over a few hundred samples and
scaled. What it takes to draw the samples is shown by itself.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

import numpy as np

from coldcheck import files, ours
from coldcheck.dc import radial
from coldcheck.dc.many import radial_many
from coldcheck.dc.sampling import Spread, draw
from coldcheck.engine.running import _Run
from coldcheck.plan.linking import link
from coldcheck.plan.reading import MOST_BYTES, read_tables
from coldcheck.workings.corners import NOMINAL, loads_at
from coldcheck.workings.net import Net, source_volts

from .show import table
from .timing import Times, in_turn

__all__ = ["run"]

_AIM = 500
_PLAN = "gorse-hill.toml"
_SAMPLES = 100_000
_LOOP = 500
_STRAY = 0.1  # of every draw, to either side


class _Study:
    """One net with its samples."""

    def __init__(self, net: Net, count: int, seed: int) -> None:
        self.name = net.name
        self.parent = [branch.parent for branch in net.branches]
        volts = source_volts(net.root)
        assert volts is not None
        runs = [(branch.ohms.nominal, branch.ohms.worst) for branch in net.branches]
        loads = [value for column in loads_at(net, max(net.starts), NOMINAL[2]) for value in column]
        self.spreads = [
            Spread(*volts),
            # copper is hot for all wires or for none; they are never better than new
            *[Spread(least, least, most, "uniform", "copper") for least, most in runs],
            *[Spread(value, (1 - _STRAY) * value, (1 + _STRAY) * value) for value in loads],
        ]
        self.count, self.seed = count, seed
        n = len(self.parent)
        drawn = self.draw()
        columns = [drawn[1 + k * n : 1 + (k + 1) * n] for k in range(4)]
        # what no sample has needs no row for each
        self.values = drawn[0], [c if c.any() else np.zeros(n) for c in columns]
        self.lists = [
            (float(drawn[0, s]), self.parent, *[c[:, s].tolist() for c in columns]) for s in range(_LOOP)
        ]

    def draw(self) -> Any:
        """Draw all samples."""
        return draw(self.spreads, self.count, self.seed)

    def many(self, threads: int) -> Callable[[], object]:
        """Return the task of solving all samples at once."""
        volts, columns = self.values
        ohms, watts, amps, siemens = columns
        into = radial_many(volts, self.parent, ohms, watts, amps, siemens)
        return lambda: radial_many(volts, self.parent, ohms, watts, amps, siemens, threads, into)

    def loop(self) -> object:
        """Solve some samples one after the other."""
        return [radial.solve(*values) for values in self.lists]

    def check(self) -> float:
        """Return how far both answers are apart, as a share of the volts."""
        volts, columns = self.values
        found = radial_many(volts, self.parent, *columns)  # type: ignore[arg-type]
        ones = np.array([radial.solve(*values).volts for values in self.lists]).T
        return float(np.max(np.abs(found.volts[:, :_LOOP] / ones - 1.0)))


def run(quick: bool) -> None:
    """Print what one sample costs either way, for each net and for the whole plan."""
    rounds = 3 if quick else 9
    studies = [_Study(net, _SAMPLES, seed) for seed, net in enumerate(_nets())]
    threads = os.cpu_count() or 1
    rows = []
    loop, one, all_of_them = [0.0] * rounds, [0.0] * rounds, [0.0] * rounds
    apart = 0.0
    for study in studies:
        apart = max(apart, study.check())
        times = in_turn(
            {"loop": study.loop, "one": study.many(1), "all": study.many(threads), "draw": study.draw}, rounds
        )
        each = {
            name: Times([s / (_LOOP if name == "loop" else _SAMPLES) for s in taken.seconds])
            for name, taken in times.items()
        }
        rows.append(
            _row(f"{study.name}, {len(study.parent)} branches", each["loop"], each["one"], each["all"])
        )
        rows[-1].append(f"{each['draw'].median * 1e9:.0f}")
        for total, name in ((loop, "loop"), (one, "one"), (all_of_them, "all")):
            total[:] = [before + s for before, s in zip(total, each[name].seconds, strict=True)]
    rows.append([*_row("the whole plan", Times(loop), Times(one), Times(all_of_them)), ""])
    table(
        f"study: aim {_AIM}, {_SAMPLES} samples, {rounds} rounds; the loop: {_LOOP} samples, scaled",
        ["one sample", "loop µs", "numpy ns", "ratio", f"{threads} threads ns", "ratio", "draw ns"],
        rows,
    )
    print(f"  volts of both differ by {apart:.1e} at most")


def _row(name: str, loop: Times, one: Times, several: Times) -> list[str]:
    return [
        name,
        f"{loop.median * 1e6:.1f}",
        f"{one.median * 1e9:.1f}",
        loop.over(one),
        f"{several.median * 1e9:.1f}",
        loop.over(several),
    ]


def _nets() -> list[Net]:
    book = ours.rulebook()
    name = str(ours.folder("inventories") / _PLAN)
    plan = link(read_tables(name, files.read(name, MOST_BYTES), ours.shelf(book).again()))
    found = _Run(plan, book).working("nets")
    # what hangs together with another source is no tree
    return [net for net in found.values() if len(net.branches) > 1 and not net.group]

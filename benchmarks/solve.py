"""The solver of DC networks, against one factorisation of its own matrix and against ngspice.

Aim: from 10 to 100 000 loads a solution takes no more than four times one ``scipy.sparse.linalg.splu`` of the same
matrix, and at least five times less than ngspice takes for the same netlist: its own analysis, and the whole process.

The whole process reads the circuit as JSON, solves it and writes its volts; ngspice reads its netlist and writes its
own file. Both start from modules and pages that are warm.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from coldcheck.dc.circuit import Circuit, Columns, Load, Source, Wire
from coldcheck.dc.net_arrays import Arrays
from coldcheck.dc.net_columns import ArrayEquations
from coldcheck.dc.net_layout import Layout
from coldcheck.dc.network import solve

from .show import table
from .timing import Times, in_turn, process

__all__ = ["box", "run"]

_AIM_SPLU = 4
_AIM_SPICE = 5
#: Loads, rounds, and the seconds that ngspice may take.
_SIZES = ((10, 200, 60.0), (100, 100, 60.0), (1_000, 30, 60.0), (10_000, 7, 60.0), (100_000, 3, 120.0))
_QUICK = ((10, 30, 20.0), (100, 20, 20.0), (1_000, 7, 20.0), (10_000, 3, 20.0))
_RACK = 50  # loads on one supply
_PROCESS = """
import sys
import msgspec
from coldcheck.dc.circuit import Circuit
from coldcheck.dc.network import solve
with open(sys.argv[1], "rb") as file:
    circuit = msgspec.json.decode(file.read(), type=Circuit)
sys.stdout.buffer.write(msgspec.json.encode(solve(circuit).volts))
"""
_MESH = 10  # of so many boards one has a second return


def box(loads: int, seed: int = 1) -> Circuit:
    """Return 5 V supplies of fifty boards each: plus and return in trees, some returns meshed.

    Args:
        loads: how many boards [-], each of 1 to 4 W whatever its volts.
        seed: of the random lengths [-].
    """
    rnd = random.Random(seed)
    wires: list[Wire] = []
    sources: list[Source] = []
    boards: list[Load] = []
    nodes = 0
    for first in range(0, loads, _RACK):
        sources.append(Source(nodes, nodes + 1, 5.1, 0.002))
        trunk = [(nodes, nodes + 1)]
        nodes += 2
        for i in range(min(_RACK, loads - first)):
            plus, minus = nodes, nodes + 1
            nodes += 2
            wires.append(Wire(rnd.choice(trunk[-4:])[0], plus, rnd.uniform(0.001, 0.01)))
            wires.append(Wire(minus, rnd.choice(trunk[-4:])[1], rnd.uniform(0.001, 0.01)))
            if i % _MESH == 0:
                trunk.append((plus, minus))
            if i % _MESH == _MESH // 2:
                wires.append(Wire(minus, rnd.choice(trunk)[1], 0.01))
            boards.append(Load(plus, minus, watts=rnd.uniform(1.0, 4.0)))
    return Circuit(nodes, wires, sources, [], boards)


def run(quick: bool) -> None:
    """Print both ratios for each size."""
    rows: list[list[str]] = []
    others: list[list[str]] = []
    for loads, rounds, limit in _QUICK if quick else _SIZES:
        circuit = box(loads)
        matrix = _matrix(circuit)
        found = solve(circuit)
        assert found.collapsed is None
        tasks: dict[str, Callable[[], object]] = {
            "splu": lambda matrix=matrix: _splu(matrix),  # type: ignore[misc]
            "splu, symmetric": lambda matrix=matrix: _symmetric(matrix),  # type: ignore[misc]
            "solve": lambda circuit=circuit: solve(circuit),  # type: ignore[misc]
        }
        times = in_turn(tasks, rounds)
        mine = times["solve"]
        heat = found.lost / sum(u * i for u, i in zip(found.load_volts, found.load_amps, strict=True))
        rows.append(
            [
                f"{loads:,}".replace(",", " "),
                found.method,
                f"{100 * heat:.1f} %",
                f"{mine.median * 1e3:.2f}",
                f"{times['splu'].median * 1e3:.2f}",
                mine.over(times["splu"]),
                mine.over(times["splu, symmetric"]),
            ]
        )
        others.append(_against(circuit, mine, min(rounds, 5), limit))
    head = [
        "loads",
        "method",
        "lost",
        "solve, ms",
        "splu, ms",
        "ratio (middle half)",
        "splu along the diagonal",
    ]
    table(f"solve: aim {_AIM_SPLU} times one splu of the same matrix", head, rows)
    head = ["loads", "ngspice's analysis, ms", "times solve", "its process, ms", "ours, ms", "times ours"]
    table(f"solve: aim ngspice {_AIM_SPICE} times slower, inside and as a process", head, others)


def _matrix(circuit: Circuit) -> Any:
    equations = ArrayEquations(Layout(Columns(circuit), Arrays).system)
    return equations.matrix(equations.rest(), 1.0)


def _splu(matrix: Any) -> Any:
    from scipy.sparse.linalg import splu

    return splu(matrix)


def _symmetric(matrix: Any) -> Any:
    from scipy.sparse.linalg import splu

    return splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


def _against(circuit: Circuit, mine: Times, rounds: int, limit: float) -> list[str]:
    """Return a row for ngspice: what it says its analysis takes, and both whole processes."""
    from tests.dc import spice

    count = len(circuit.loads)
    loads = f"{count:,}".replace(",", " ")
    rest = [0.0] * circuit.nodes
    for node in [*(s.plus for s in circuit.sources), *(d.plus for d in circuit.loads)]:
        rest[node] = 5.1
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "circuit.json")
        file.write_bytes(msgspec.json.encode(circuit))
        text = spice.deck([(circuit, rest)])
        compiled = {**os.environ, "PYTHONPYCACHEPREFIX": str(Path(folder, "compiled"))}
        compiled.pop("PYTHONDONTWRITEBYTECODE", None)
        start = process(sys.executable, "-c", _PROCESS, str(file), environment=compiled)
        ours = in_turn({"ours": start}, rounds)["ours"]
        try:
            runs = [spice.run(text, Path(folder), limit) for _ in range(rounds if count < 10_000 else 1)]
        except subprocess.TimeoutExpired:
            longer = f"> {limit * 1e3:.0f}"
            inside, outside = f"> {limit / mine.median:.0f}", f"> {limit / ours.median:.0f}"
            return [loads, longer, inside, longer, f"{ours.median * 1e3:.0f}", outside]
    own, whole = Times([r.own for r in runs]), Times([r.whole for r in runs])
    return [
        loads,
        # its clock counts whole milliseconds
        f"{own.median * 1e3:.0f}" if own.median else "< 1",
        f"{own.median / mine.median:.1f}" if own.median else "-",
        f"{whole.median * 1e3:.0f}",
        f"{ours.median * 1e3:.0f}",
        f"{whole.median / ours.median:.2f}",
    ]

"""ngspice as another program for the same circuits: many netlists in one deck, one process."""

import re
import subprocess
import time
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import networkx  # type: ignore[import-untyped]
from msgspec import Struct

from coldcheck.dc.circuit import Circuit

__all__ = ["Ran", "deck", "run"]

_HEAD = """\
circuits
.options reltol=1e-7 vntol=1e-9 abstol=1e-10 gmin=1e-15 itl1=500
"""
_TAIL = """
.control
set filetype=ascii
set noaskquit
op
rusage all
{write}
quit
.endc
.end
"""


class Ran(Struct):
    """What one run of ngspice gave.

    values: by name, as in its raw file: v(node) and i(source) [V, A]
    own: seconds that it says it worked [s]
    whole: seconds of the whole process [s]
    """

    values: dict[str, float]
    own: float
    whole: float


def deck(circuits: Iterable[tuple[Circuit, Sequence[float]]], *, write: bool = True) -> str:
    """Write circuits as one deck; node 7 of circuit 3 is called c3n7.

    circuits: each with about the volts of its nodes at no load; below half of those a load of constant power
        takes no more current, so that the program can start from 0 V. Wires have some resistance; diodes are
        left out
    write: whether the answer is written to a file
    """
    lines = [_HEAD]
    for k, (circuit, volts) in enumerate(circuits):
        lines += _netlist(f"c{k}", circuit, volts)
    lines.append(_TAIL.format(write="write answer.raw" if write else ""))
    return "\n".join(lines)


def _netlist(name: str, c: Circuit, volts: Sequence[float]) -> Iterator[str]:
    grounds = _grounds(c)

    def n(node: int) -> str:
        return "0" if node in grounds else f"{name}n{node}"

    def held(plus: int, minus: int) -> str:
        return f"max(v({n(plus)},{n(minus)}),{(volts[plus] - volts[minus]) / 2:.6g})"

    yield from (f"R{name}w{i} {n(w.a)} {n(w.b)} {w.ohms!r}" for i, w in enumerate(c.wires))
    for i, s in enumerate(c.sources):
        inner = f"{name}s{i}" if s.ohms else n(s.plus)
        yield f"V{name}s{i} {inner} {n(s.minus)} {s.volts!r}"
        if s.ohms:
            yield f"R{name}s{i} {inner} {n(s.plus)} {s.ohms!r}"
    for i, d in enumerate(c.loads):
        across = f"{n(d.plus)} {n(d.minus)}"
        if d.watts:
            yield f"B{name}p{i} {across} I={d.watts!r}/{held(d.plus, d.minus)}"
        if d.amps:
            yield f"I{name}c{i} {across} {d.amps!r}"
        if d.siemens:
            yield f"R{name}g{i} {across} {1 / d.siemens!r}"
    for i, t in enumerate(c.converters):
        asked = f"({t.standing!r}+{t.volts / t.efficiency!r}*max(-i(V{name}t{i}),0))"
        yield f"V{name}t{i} {n(t.out_plus)} {n(t.out_minus)} {t.volts!r}"
        yield f"B{name}t{i} {n(t.in_plus)} {n(t.in_minus)} I={asked}/{held(t.in_plus, t.in_minus)}"


def _grounds(c: Circuit) -> set[int]:
    """Give one node of each piece: minus of its first source, else out_minus of its first converter, else any."""
    pieces = networkx.Graph()
    pieces.add_nodes_from(range(c.nodes))
    pieces.add_edges_from((w.a, w.b) for w in c.wires)
    pieces.add_edges_from((s.plus, s.minus) for s in c.sources)
    pieces.add_edges_from((t.out_plus, t.out_minus) for t in c.converters)
    first = [*(s.minus for s in c.sources), *(t.out_minus for t in c.converters)]
    ranks = {node: rank for rank, node in reversed(list(enumerate(first)))}
    return {
        min(piece, key=lambda node: (ranks.get(node, len(first)), node))
        for piece in networkx.connected_components(pieces)
    }


def run(text: str, folder: Path, seconds: float = 20.0) -> Ran:
    """Run a deck in one process.

    text: of the deck
    folder: for its files
    seconds: after these subprocess.TimeoutExpired is raised [s]
    """
    Path(folder, "circuits.cir").write_text(text, encoding="utf-8")
    answer = Path(folder, "answer.raw")
    start = time.perf_counter()
    done = subprocess.run(
        ["ngspice", "-b", "circuits.cir"], cwd=folder, capture_output=True, check=False, timeout=seconds
    )
    whole = time.perf_counter() - start
    said = done.stdout.decode(errors="replace")
    found = re.search(r"Total analysis time \(seconds\) = ([-+.0-9e]+)", said)
    if found is None or ("write" in text and not answer.exists()):
        raise RuntimeError(
            f"ngspice gave no answer:\n{said[-2000:]}\n{done.stderr.decode(errors='replace')[-2000:]}"
        )
    return Ran(_values(answer) if answer.exists() else {}, float(found[1]), whole)


def _values(file: Path) -> dict[str, float]:
    head, _, body = file.read_text(encoding="utf-8").partition("Values:\n")
    names = re.findall(r"^\t\d+\t(\S+)\t", head.partition("Variables:")[2], re.MULTILINE)
    numbers = body.split()[1:]
    return dict(zip(names, map(float, numbers), strict=True))

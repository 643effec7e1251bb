"""Circuits that are trees of pairs on stiff sources, put into the form of `coldcheck.dc.radial`.

Two ends of loads on the same pair of nodes are one. Where nothing but one wire and one pair meets at a node, the
wire is a branch of the tree, whether it is on the plus or the minus side, and the pair moves to its other end.
The circuit is radial when every pair comes to the terminals of a source in this way, and no wire is left.
"""

from coldcheck.dc import radial
from coldcheck.dc.circuit import Columns, Solution

Pair = tuple[int, int]


class _Tree:
    """The branches of a circuit, one for each wire, outermost first."""

    def __init__(self, columns: Columns) -> None:
        self.columns = columns
        self.branches: list[tuple[int, int, int, Pair, Pair]] = []
        """Wire, its outer and its inner node, the pair beyond it, the pair before it."""
        self.idle: list[tuple[int, int, int]] = []
        """Wires that lead to nothing: wire, outer and inner node."""
        self.wires_at: list[list[int]] = [[] for _ in range(columns.nodes)]
        for wire, (a, b) in enumerate(zip(columns.wire_a, columns.wire_b, strict=True)):
            self.wires_at[a].append(wire)
            self.wires_at[b].append(wire)
        self.pairs_at: list[set[Pair]] = [set() for _ in range(columns.nodes)]
        for pair in zip(columns.plus, columns.minus, strict=True):
            self.pairs_at[pair[0]].add(pair)
            self.pairs_at[pair[1]].add(pair)
        self.kept = {node for s in columns.sources for node in (s.plus, s.minus)}

    def peel(self) -> None:
        """Take off the outermost wires as long as there are any."""
        wires_at, pairs_at, kept = self.wires_at, self.pairs_at, self.kept
        a, b = self.columns.wire_a, self.columns.wire_b
        ready = [n for n, wires in enumerate(wires_at) if len(wires) == 1]
        while ready:
            node = ready.pop()
            if len(wires_at[node]) != 1 or len(pairs_at[node]) > 1 or node in kept:
                continue
            wire = wires_at[node][0]
            inner = a[wire] if b[wire] == node else b[wire]
            wires_at[node] = []
            wires_at[inner].remove(wire)
            ready.append(inner)
            if not pairs_at[node]:
                self.idle.append((wire, node, inner))
                continue
            beyond = pairs_at[node].pop()
            other = beyond[0] if beyond[1] == node else beyond[1]
            before = (inner, other) if beyond[0] == node else (other, inner)
            pairs_at[other].discard(beyond)
            pairs_at[other].add(before)
            pairs_at[inner].add(before)
            self.branches.append((wire, node, inner, beyond, before))
            ready.append(other)

    def rooted(self) -> bool:
        """Tell whether nothing is left but pairs on sources."""
        terminals = {(s.plus, s.minus) for s in self.columns.sources}
        return all(pairs <= terminals for pairs in self.pairs_at) and not any(self.wires_at)


def solve_radial(columns: Columns, asked: bool) -> Solution | None:
    """Solve a radial circuit; None where it is not radial, or where a load cannot be carried.

    columns: of the circuit [-]
    asked: whether a circuit that is not radial is refused [-]
    Gives: Solution, or None
    Errors: ValueError for a circuit that is not radial, where it was asked for.
    """
    tree = _tree(columns)
    if tree is None:
        if asked:
            raise ValueError("the circuit is not radial: not all of it is trees of pairs on stiff sources")
        return None
    drawn = [list(columns.watts), list(columns.amps), list(columns.siemens)]
    off: set[int] = set()
    while True:
        found = _point(columns, tree, drawn)
        if found is None:
            return None
        volts, wire_amps = found
        loads = [volts[a] - volts[b] for a, b in zip(columns.plus, columns.minus, strict=True)]
        low = [i for i, (u, stop) in enumerate(zip(loads, columns.stops, strict=True)) if u < stop]
        if off.issuperset(low):
            return _solution(columns, drawn, (volts, wire_amps, loads), sorted(off))
        off.update(low)
        for column in drawn:
            for i in low:
                column[i] = 0.0


def _tree(columns: Columns) -> _Tree | None:
    sources = columns.sources
    if columns.diodes or columns.converters or any(s.ohms or not s.volts for s in sources):
        return None
    pluses = {s.plus for s in sources}
    if len(pluses) < len(sources) or not pluses.isdisjoint(s.minus for s in sources):
        return None
    tree = _Tree(columns)
    tree.peel()
    return tree if tree.rooted() else None


def _point(columns: Columns, tree: _Tree, drawn: list[list[float]]) -> tuple[list[float], list[float]] | None:
    """Give the volts of each node and the amps of each wire; None where a load cannot be carried."""
    at: dict[Pair, list[float]] = {}
    for pair, *law in zip(zip(columns.plus, columns.minus, strict=True), *drawn, strict=True):
        total = at.setdefault(pair, [0.0, 0.0, 0.0])
        for k in range(3):
            total[k] += law[k]
    volts = [0.0] * columns.nodes
    wire_amps = [0.0] * len(columns.wire_a)
    inwards: dict[Pair, list[tuple[int, int, int, Pair, Pair]]] = {}
    for branch in tree.branches:
        inwards.setdefault(branch[4], []).append(branch)
    for source in columns.sources:
        volts[source.plus] = source.volts
        queue = [(-1, branch) for branch in inwards.get((source.plus, source.minus), ())]
        for n, (_, branch) in enumerate(queue):  # grows as it is read
            queue += [(n, further) for further in inwards.get(branch[3], ())]
        laws = [at.get(branch[3], (0.0, 0.0, 0.0)) for _, branch in queue]
        found = radial.solve(
            source.volts,
            [on for on, _ in queue],
            [columns.wire_ohms[branch[0]] for _, branch in queue],
            *([law[k] for law in laws] for k in range(3)),
        )
        if found.collapsed is not None:
            return None
        for (_, (wire, outer, inner, beyond, _)), amps in zip(queue, found.amps, strict=True):
            out = amps if outer == beyond[0] else -amps
            wire_amps[wire] = out if columns.wire_a[wire] == inner else -out
            volts[outer] = volts[inner] - columns.wire_ohms[wire] * out
    for _, outer, inner in reversed(tree.idle):
        volts[outer] = volts[inner]
    return volts, wire_amps


def _solution(
    columns: Columns,
    drawn: list[list[float]],
    found: tuple[list[float], list[float], list[float]],
    off: list[int],
) -> Solution:
    volts, wire_amps, load_volts = found
    load_amps = [p / u + c + g * u if p else c + g * u for u, p, c, g in zip(load_volts, *drawn, strict=True)]
    out = [0.0] * columns.nodes
    for a, b, amps in zip(columns.wire_a, columns.wire_b, wire_amps, strict=True):
        out[a] += amps
        out[b] -= amps
    for a, b, amps in zip(columns.plus, columns.minus, load_amps, strict=True):
        out[a] += amps
        out[b] -= amps
    return Solution(
        volts=volts,
        wire_amps=wire_amps,
        source_amps=[out[s.plus] for s in columns.sources],
        diode_amps=[],
        load_volts=load_volts,
        load_amps=load_amps,
        converter_in_amps=[],
        converter_out_amps=[],
        lost=sum([i * i * r for i, r in zip(wire_amps, columns.wire_ohms, strict=True)]),
        off=off,
        collapsed=None,
        fallen=[],
        starved=None,
        dead=[],
        method="radial",
    )

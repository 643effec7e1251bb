"""From a circuit to a system of equations: which volts are unknown, and what flows between them.

Nodes joined by wires of 0 ohm are one. Nodes held against each other by stiff sources or by outputs of
converters make a group with one unknown, as the differences are known; what hangs on the reference is known
altogether. Each node's volts are written as a constant, the same all along a rail, plus the unknown: so a small
drop keeps its digits beside a large voltage.
"""

from typing import Any

from msgspec import Struct

from coldcheck.dc.circuit import Columns, Converter, Source
from coldcheck.dc.net_arrays import Arrays, Lists

KNEE = 1e-9
"""So little below its bend a diode has the slope of one that conducts already: there it stands at rest [V]."""

LEAST_OHMS = 1e-6
"""A diode has at least this beyond its drop; so ideal diodes side by side share, and no loop is stiff [ohm]."""

LEAK = 1e-9
"""A diode leaks this times its volts less its drop, also backwards; and a load or an input that alone holds two
pieces together leaks as much: what would float then has definite volts [S]."""


class System(Struct):
    """Elements between unknowns, in the order wires, sources, diodes, loads, inputs of converters.

    An element's volts u are fixed + unknown(first) - unknown(second); unknown number `size` is always 0. What a
    source gives and what a diode drops is in `fixed` too. The current is linear × u, and besides for
        a diode: siemens × max(0, u)
        a load: share × (watts / u + amps + siemens × u)
        an input: (share × standing + gain × max(0, out amps)) / u
    Equations: at each group what flows out is zero; each converter's out amps are what flows out of one side
    of it, as `cuts` say: (element, unknown of the converter, +1 or -1).

    size: number of unknowns, the out amps of `converters` last
    """

    size: int
    converters: int
    first: Any
    second: Any
    fixed: Any
    linear: Any
    diodes: int
    """Place of the first diode among the elements."""
    diode_siemens: Any
    loads: int
    """Place of the first load."""
    watts: Any
    amps: Any
    siemens: Any
    inputs: int
    """Place of the first input."""
    gain: list[float]
    standing: list[float]
    cuts: list[tuple[int, int, float]]


class Joiner:
    """Sets of numbers that grow together."""

    def __init__(self, count: int) -> None:
        """Start with each number alone."""
        self._up = list(range(count))

    def find(self, i: int) -> int:
        """Give the number that stands for the set of i."""
        up = self._up
        while up[i] != i:
            up[i] = i = up[up[i]]
        return i

    def join(self, i: int, j: int) -> bool:
        """Make one set of two; False when they are one already."""
        i, j = self.find(i), self.find(j)
        self._up[max(i, j)] = min(i, j)
        return i != j


class _Hold(Struct, frozen=True):
    """A stiff source or output, that holds plus above minus, as merged nodes."""

    plus: int
    minus: int
    volts: float
    converter: bool
    index: int

    def __str__(self) -> str:
        return f"{'converter' if self.converter else 'source'} {self.index}"


class Layout:
    """What stands where, and how to read the answer back."""

    def __init__(self, columns: Columns, arrays: type[Lists] | type[Arrays]) -> None:
        """Lay a circuit out; ValueError for a loop of sources or outputs without resistance."""
        self.columns = columns
        self.arrays = arrays
        self.merged: Any
        self._wires()
        self._live()
        self._pieces()
        self._forest()
        self._unknowns()
        self.system = self._system()

    def _wires(self) -> None:
        c, arrays = self.columns, self.arrays
        self.wire_a, self.wire_b = arrays.column(c.wire_a), arrays.column(c.wire_b)
        self.plus, self.minus = arrays.column(c.plus), arrays.column(c.minus)
        self.rail, self.rails = arrays.components(c.nodes, self.wire_a, self.wire_b)
        self.bare = [i for i, ohms in enumerate(c.wire_ohms) if not ohms] if 0 in c.wire_ohms else []
        self.merged, self.count = range(c.nodes), c.nodes
        if self.bare:
            first, second = arrays.take(self.wire_a, self.bare), arrays.take(self.wire_b, self.bare)
            self.merged, self.count = arrays.components(c.nodes, first, second)

    def _live(self) -> None:
        """Find the converters that are fed by a source, or by one that is: the others stay dark."""
        c, rail = self.columns, self.rail
        self.live: list[int] = []
        if not c.converters:
            return
        fed = Joiner(self.rails)
        for d in c.diodes:
            fed.join(rail[d.anode], rail[d.cathode])
        lit = {fed.find(rail[node]) for s in c.sources for node in (s.plus, s.minus)}
        waiting: dict[int, list[int]] = {}
        ready = list(range(len(c.converters)))
        while ready:
            i = ready.pop()
            at = c.converters[i]
            ends = [fed.find(rail[at.in_plus]), fed.find(rail[at.in_minus])]
            dark = [end for end in ends if end not in lit]
            if dark:
                waiting.setdefault(dark[0], []).append(i)
            elif ends[0] != ends[1]:
                self.live.append(i)
                for end in {fed.find(rail[at.out_plus]), fed.find(rail[at.out_minus])} - lit:
                    lit.add(end)
                    ready += waiting.pop(end, [])
        self.live.sort()

    def _pieces(self) -> None:
        """Find the pieces, the load or input that alone joins two, and a reference for each."""
        c, rail, arrays = self.columns, self.rail, self.arrays
        pieces = Joiner(self.rails)
        for s in c.sources:
            pieces.join(rail[s.plus], rail[s.minus])
        for d in c.diodes:
            pieces.join(rail[d.anode], rail[d.cathode])
        lit = [c.converters[i] for i in self.live]
        for at in lit:
            pieces.join(rail[at.out_plus], rail[at.out_minus])
        labels = [pieces.find(i) for i in range(self.rails)]
        self.bridges: list[int] = []
        self.bridging = [False] * len(lit)
        if any(labels):
            of = arrays.take(labels, rail)
            self.bridges = arrays.differ(arrays.take(of, self.plus), arrays.take(of, self.minus))
            for i in self.bridges:
                pieces.join(rail[c.plus[i]], rail[c.minus[i]])
            self.bridging = [of[at.in_plus] != of[at.in_minus] for at in lit]
            for at in lit:
                pieces.join(rail[at.in_plus], rail[at.in_minus])
        self.references: dict[int, int] = {}
        for s in c.sources:
            self.references.setdefault(pieces.find(rail[s.minus]), s.minus)
        for at in lit:
            self.references.setdefault(pieces.find(rail[at.out_minus]), at.out_minus)
        bare = [label for label in range(self.rails) if pieces.find(label) not in self.references]
        if bare:
            lowest: dict[int, int] = {}
            for node, label in enumerate(arrays.plain(rail)):
                lowest.setdefault(label, node)
            for label in bare:
                self.references.setdefault(pieces.find(label), lowest[label])

    def _forest(self) -> None:
        """Hang the nodes that stiff sources and outputs hold on each other, from each reference outwards."""
        c, merged = self.columns, self.merged
        holds = [
            _Hold(int(merged[s.plus]), int(merged[s.minus]), s.volts, False, i)
            for i, s in enumerate(c.sources)
            if not s.ohms
        ]
        for i in self.live:
            at = c.converters[i]
            holds.append(_Hold(int(merged[at.out_plus]), int(merged[at.out_minus]), at.volts, True, i))
        beside: dict[int, list[_Hold]] = {}
        held = Joiner(self.count) if holds else None
        for hold in holds:
            if held is not None and not held.join(hold.plus, hold.minus):
                raise ValueError(_loop(hold, beside))
            beside.setdefault(hold.plus, []).append(hold)
            beside.setdefault(hold.minus, []).append(hold)
        self._bases(holds)
        self.shift: dict[int, float] = {}
        self.tree: list[tuple[_Hold, int, int, float]] = []
        """Hold, the node that hangs on it, the node it hangs on, +1 where the plus hangs: outwards."""
        self.grounds = {int(merged[node]) for node in self.references.values()}
        for root in (*(self.grounds & beside.keys()), *beside):
            if root not in self.shift:
                self._hang(root, beside)

    def _hang(self, root: int, beside: dict[int, list[_Hold]]) -> None:
        self.shift[root] = 0.0
        reach = [root]
        while reach:
            on = reach.pop()
            for hold in beside[on]:
                sign = 1.0 if hold.minus == on else -1.0
                hangs = hold.plus if hold.minus == on else hold.minus
                if hangs not in self.shift:
                    step = sign * hold.volts - (self.base_of[hangs] - self.base_of[on])
                    self.shift[hangs] = self.shift[on] + step
                    self.tree.append((hold, hangs, on, sign))
                    reach.append(hangs)

    def _bases(self, holds: list[_Hold]) -> None:
        """Give each rail the volts it has with no load, or about that: along stiff things first."""
        c, rail = self.columns, self.rail
        steps: list[tuple[int, int, float]] = []
        for s in c.sources:
            steps.append((rail[s.minus], rail[s.plus], s.volts))
        for i in self.live:
            at = c.converters[i]
            steps.append((rail[at.out_minus], rail[at.out_plus], at.volts))
        steps = [
            *(step for step, s in zip(steps, c.sources, strict=False) if not s.ohms),
            *steps[len(c.sources) :],
            *(step for step, s in zip(steps, c.sources, strict=False) if s.ohms),
            *((rail[d.anode], rail[d.cathode], -d.drop) for d in c.diodes),
        ]
        beside: dict[int, list[tuple[int, int, float]]] = {}
        for rank, (low, high, volts) in enumerate(steps):
            beside.setdefault(low, []).append((rank, high, volts))
            beside.setdefault(high, []).append((rank, low, -volts))
        from heapq import heappop, heappush

        base = [0.0] * self.rails
        known = {int(rail[node]) for node in self.references.values()}
        heap: list[tuple[int, int, float]] = []
        fresh = list(known)
        while True:
            for on in fresh:
                for rank, to, volts in beside.get(on, ()):
                    heappush(heap, (rank, to, base[on] + volts))
            if not heap:
                break
            _, to, volts = heappop(heap)
            fresh = []
            if to not in known:
                known.add(to)
                base[to] = volts
                fresh = [to]
        self.base = self.arrays.column(base)
        nodes = {node for hold in holds for node in (hold.plus, hold.minus)}
        self.base_of = self._base_of(nodes)

    def _base_of(self, nodes: set[int]) -> dict[int, float]:
        """Give the base of some merged nodes."""
        if not nodes:
            return {}
        if not self.bare:
            return {node: float(self.base[self.rail[node]]) for node in nodes}
        marks = bytearray(self.count)
        for node in nodes:
            marks[node] = 1
        at = self.arrays.flagged(marks, self.merged)
        return {int(self.merged[i]): float(self.base[self.rail[i]]) for i in at}

    def _unknowns(self) -> None:
        """Number the groups whose volts are unknown, and give each node its number and its constant."""
        arrays = self.arrays
        skipped = bytearray(self.count)
        for node in self.grounds:
            skipped[node] = 1
        for _, hangs, _, _ in self.tree:
            skipped[hangs] = 1
        numbers, self.groups = arrays.number(self.count, skipped)
        size = self.groups + len(self.live)
        if self.live:
            numbers = arrays.column([n if n < self.groups else size for n in arrays.plain(numbers)])
        for _, hangs, on, _ in self.tree:
            numbers[hangs] = numbers[on]
        self.size = size
        self.number = arrays.take(numbers, self.merged) if self.bare else numbers
        self.constant = arrays.take(self.base, self.rail)
        if any(self.shift.values()):
            shifts = [0.0] * self.count
            for node, shift in self.shift.items():
                shifts[node] = shift
            none = arrays.column([0.0] * self.columns.nodes)
            self.constant = arrays.less(self.constant, arrays.less(none, arrays.take(shifts, self.merged)))

    def _system(self) -> System:
        """Put the elements between the unknowns."""
        c, arrays = self.columns, self.arrays
        sources: list[Source] = [s for s in c.sources if s.ohms]
        lit: list[Converter] = [c.converters[i] for i in self.live]
        kept = self.bare
        wire_a, wire_b, ohms = self.wire_a, self.wire_b, c.wire_ohms
        self.runs: list[int] | range = range(len(ohms))
        if kept:
            self.runs = [i for i, r in enumerate(ohms) if r]
            wire_a, wire_b = arrays.take(wire_a, self.runs), arrays.take(wire_b, self.runs)
            ohms = [r for r in ohms if r]
        self.from_node = arrays.join(
            wire_a,
            [s.plus for s in sources],
            [d.anode for d in c.diodes],
            self.plus,
            [at.in_plus for at in lit],
        )
        self.to_node = arrays.join(
            wire_b,
            [s.minus for s in sources],
            [d.cathode for d in c.diodes],
            self.minus,
            [at.in_minus for at in lit],
        )
        fixed = arrays.less(
            arrays.take(self.constant, self.from_node), arrays.take(self.constant, self.to_node)
        )
        first_source = len(ohms)
        for i, s in enumerate(sources, first_source):
            fixed[i] -= s.volts
        diodes = first_source + len(sources)
        for i, d in enumerate(c.diodes, diodes):
            fixed[i] -= d.drop
        loads = diodes + len(c.diodes)
        inputs = loads + len(c.plus)
        linear = [1.0 / r for r in ohms] + [1.0 / s.ohms for s in sources] + [LEAK] * len(c.diodes)
        linear += [0.0] * len(c.plus)
        linear += [LEAK if bridging else 0.0 for bridging in self.bridging]
        for i in self.bridges:
            linear[loads + i] = LEAK
        return System(
            size=self.size,
            converters=len(lit),
            first=arrays.take(self.number, self.from_node),
            second=arrays.take(self.number, self.to_node),
            fixed=fixed,
            linear=arrays.column(linear),
            diodes=diodes,
            diode_siemens=arrays.column([1.0 / max(d.ohms, LEAST_OHMS) for d in c.diodes]),
            loads=loads,
            watts=arrays.column(c.watts),
            amps=arrays.column(c.amps),
            siemens=arrays.column(c.siemens),
            inputs=inputs,
            gain=[at.volts / at.efficiency for at in lit],
            standing=[at.standing for at in lit],
            cuts=self._cuts() if lit else [],
        )

    def _cuts(self) -> list[tuple[int, int, float]]:
        """Say for each live converter which elements cross from one side of it to the rest."""
        below: dict[int, list[int]] = {}
        for _, hangs, on, _ in self.tree:
            below.setdefault(on, []).append(hangs)
        rows: dict[int, list[tuple[int, float]]] = {}
        row = self.groups
        place = {i: self.groups + n for n, i in enumerate(self.live)}
        for hold, hangs, _, sign in self.tree:
            if hold.converter:
                row = place[hold.index]
                reach = [hangs]
                while reach:
                    node = reach.pop()
                    rows.setdefault(node, []).append((row, sign))
                    reach += below.get(node, ())
        marks = bytearray(self.count)
        for node in rows:
            marks[node] = 1
        cuts = []
        for ends, out in ((self.from_node, 1.0), (self.to_node, -1.0)):
            nodes = self.arrays.take(self.merged, ends) if self.bare else ends
            for element in self.arrays.flagged(marks, nodes):
                for at, sign in rows[int(nodes[element])]:
                    cuts.append((element, at, sign * out))
        return cuts


def _loop(hold: _Hold, beside: dict[int, list[_Hold]]) -> str:
    """Say which sources and outputs the new one makes a loop with."""
    way: dict[int, tuple[int, _Hold, float]] = {}
    reach = [hold.minus]
    seen = {hold.minus}
    while reach:
        on = reach.pop()
        for other in beside.get(on, ()):
            to, rise = (other.plus, other.volts) if other.minus == on else (other.minus, -other.volts)
            if to not in seen:
                seen.add(to)
                way[to] = (on, other, rise)
                reach.append(to)
    names, volts, node = [str(hold)], 0.0, hold.plus
    while node != hold.minus:
        node, other, rise = way[node]
        names.append(str(other))
        volts += rise
    several = f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]
    if len(names) == 1:
        return f"{several} is shorted: no resistance from its plus to its minus; give it or its wires some"
    if abs(volts - hold.volts) > 1e-12 * max(volts, hold.volts):
        return f"{several} make a loop without resistance and differ by {abs(volts - hold.volts):g} V"
    return f"{several} make a loop without resistance: how they share is not determined; give each its ohms"

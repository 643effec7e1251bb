"""From a circuit to a system of equations: which volts are unknown, and what flows between them.

Nodes joined by wires of 0 ohm are one. Nodes held against each other by stiff sources or by outputs of
converters make a group with one unknown, as the differences are known; what hangs on the reference is known
altogether. Each node's volts are written as a constant, the same all along a rail, plus the unknown: so a small
drop keeps its digits beside a large voltage.
"""

from collections.abc import Iterable
from typing import Any

from msgspec import Struct

from coldcheck.dc.circuit import Columns, Converter, Source
from coldcheck.dc.net_arrays import Arrays, Lists

LEAST_OHMS = 1e-6
"""A diode has at least this beyond its drop; so ideal diodes side by side share, and no loop is stiff [ohm]."""

LEAK = 1e-9
"""Each diode leaks this, and so does a load or an input that alone holds two pieces together [S]."""


class System(Struct):
    """Elements between unknowns, in the order wires, sources, diodes, loads, inputs of converters.

    An element's volts are fixed + unknown(first) - unknown(second); unknown number `size` is always 0. Its
    current at these volts u is linear × u, and besides for
        a diode: siemens × max(0, u - drop)
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
    diode_drop: Any
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
        self.bridging: list[bool] = []
        if any(labels):
            of = arrays.take(labels, rail)
            self.bridges = arrays.differ(arrays.take(of, self.plus), arrays.take(of, self.minus))
            for i in self.bridges:
                pieces.join(rail[c.plus[i]], rail[c.minus[i]])
            self.bridging = [bool(of[at.in_plus] != of[at.in_minus]) for at in lit]
            for at in lit:
                # an isolated converter has two pieces, unless its input is what holds one together
                if self._sourceless(of[at.in_plus]) or self._sourceless(of[at.in_minus]):
                    pieces.join(rail[at.in_plus], rail[at.in_minus])
        self.references: dict[int, int] = {}
        for s in c.sources:
            self.references.setdefault(pieces.find(rail[s.minus]), s.minus)
        for at in lit:
            self.references.setdefault(pieces.find(rail[at.out_minus]), at.out_minus)
        if len(self.references) < self.rails:
            lowest: dict[int, int] = {}
            for node, label in enumerate(arrays.plain(rail)):
                lowest.setdefault(label, node)
            for label in range(self.rails):
                self.references.setdefault(pieces.find(label), lowest[label])

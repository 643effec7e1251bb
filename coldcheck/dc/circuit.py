"""What a DC circuit is made of, for `coldcheck.dc.network`, and what its operating point says.

A circuit holds both conductors: what leaves a plus comes back to a minus through wires of its own. Nodes are
numbers from 0; everything else is numbered by its place in its list.
"""

import math
from collections.abc import Sequence

from msgspec import Struct


class Wire(Struct, frozen=True, gc=False):
    """A resistance between two nodes.

    a, b: its ends; current from a to b counts as positive
    ohms: of the wire; 0 makes one node of both ends [ohm]
    """

    a: int
    b: int
    ohms: float


class Source(Struct, frozen=True, gc=False):
    """A source of constant voltage behind a resistance; stiff where that is 0.

    plus, minus: its terminals
    volts: with no load [V]
    ohms: inside the source [ohm]
    """

    plus: int
    minus: int
    volts: float
    ohms: float = 0.0


class Diode(Struct, frozen=True, gc=False):
    """A diode: no current up to its drop, beyond it a resistance.

    anode, cathode: current flows from anode to cathode alone
    drop: voltage before it conducts [V]
    ohms: beyond the drop; less than `network.LEAST_OHMS` is taken as that [ohm]
    """

    anode: int
    cathode: int
    drop: float
    ohms: float


class Load(Struct, frozen=True, gc=False):
    """Constant power, constant current and a conductance side by side.

    plus, minus: where it is connected
    watts: drawn whatever the voltage [W]
    amps: drawn whatever the voltage [A]
    siemens: of its conductance [S]
    stops: below this voltage it takes nothing; 0 for a load that never lets go [V]
    """

    plus: int
    minus: int
    watts: float = 0.0
    amps: float = 0.0
    siemens: float = 0.0
    stops: float = 0.0


class Converter(Struct, frozen=True, gc=False):
    """A regulated converter: stiff at its output, constant power to what feeds it.

    In a chain of several whose ways back have a resistance of their own, the search may find no point where there is
    one; a source for each output and a load for each input, brought together in rounds, always find it.

    in_plus, in_minus, out_plus, out_minus: its terminals; where both sides share a ground, give both the
        same node
    volts: at the output [V]
    efficiency: power out over power in, standing draw left out [-]
    standing: power taken even with nothing connected [W]
    """

    in_plus: int
    in_minus: int
    out_plus: int
    out_minus: int
    volts: float
    efficiency: float
    standing: float = 0.0


class Circuit(Struct, frozen=True):
    """A whole circuit; it may be of several pieces that do not touch.

    nodes: how many there are; each end above is below this
    wires, sources, diodes, loads, converters: what is between them
    """

    nodes: int
    wires: list[Wire] = []
    sources: list[Source] = []
    diodes: list[Diode] = []
    loads: list[Load] = []
    converters: list[Converter] = []


class Solution(Struct):
    """Operating point of a circuit.

    volts: of each node against the reference of its piece. A piece is all that hangs together by wires,
        sources, outputs of converters and diodes (and by a load or an input that nothing else connects). Its
        reference is the minus of its first source; without a source the out_minus of its first live
        converter; without one, its lowest node. So a node that hangs on nothing reads 0 [V]
    wire_amps: from a to b. Wires of 0 ohm in a loop share as if each had the same small resistance [A]
    source_amps: out of plus; below zero where current is pushed into the source [A]
    diode_amps: from anode to cathode [A]
    load_volts: plus against minus; 0 for a load in `fallen` [V]
    load_amps: into plus; 0 for a load in `off` or `fallen` [A]
    converter_in_amps: into in_plus [A]
    converter_out_amps: out of out_plus; below zero where current is pushed into the rail, which costs the
        input nothing and gives it nothing back [A]
    lost: heat in wires, diodes, the resistance of sources, and converters [W]
    off: loads that switched off, lowest number first
    collapsed: None, or a load that cannot be carried
    fallen: loads left out because `collapsed`, or another load like it, is in their part of the circuit.
        They take nothing here; all other figures are those of the circuit without them
    starved: None, or the converter whose own input gives way first at the collapse
    dead: converters that nothing feeds, or that only feed each other: open at both sides here
    method: "radial", "direct" or "sparse": how it was found
    """

    volts: list[float]
    wire_amps: list[float]
    source_amps: list[float]
    diode_amps: list[float]
    load_volts: list[float]
    load_amps: list[float]
    converter_in_amps: list[float]
    converter_out_amps: list[float]
    lost: float
    off: list[int]
    collapsed: int | None
    fallen: list[int]
    starved: int | None
    dead: list[int]
    method: str


class Columns:
    """The fields of a circuit as columns: wires and loads are many, so each step is one pass over a list."""

    def __init__(self, circuit: Circuit) -> None:
        """Take the columns apart and refuse what is no circuit; ValueError names the part and the value."""
        self.nodes = circuit.nodes
        wires, loads = circuit.wires, circuit.loads
        self.wire_a = [w.a for w in wires]
        self.wire_b = [w.b for w in wires]
        self.wire_ohms = [w.ohms for w in wires]
        self.plus = [d.plus for d in loads]
        self.minus = [d.minus for d in loads]
        self.watts = [d.watts for d in loads]
        self.amps = [d.amps for d in loads]
        self.siemens = [d.siemens for d in loads]
        self.stops = [d.stops for d in loads]
        self.sources = circuit.sources
        self.diodes = circuit.diodes
        self.converters = circuit.converters
        self._check()

    def _check(self) -> None:
        self._ends("wire", self.wire_a, self.wire_b)
        self._ends("load", self.plus, self.minus)
        _amounts("wire", ohms=self.wire_ohms)
        _amounts("load", watts=self.watts, amps=self.amps, siemens=self.siemens, stops=self.stops)
        if self.sources:
            self._ends("source", [s.plus for s in self.sources], [s.minus for s in self.sources])
            _amounts("source", volts=[s.volts for s in self.sources], ohms=[s.ohms for s in self.sources])
        if self.diodes:
            self._ends("diode", [d.anode for d in self.diodes], [d.cathode for d in self.diodes])
            _amounts("diode", drop=[d.drop for d in self.diodes], ohms=[d.ohms for d in self.diodes])
        for i, c in enumerate(self.converters):
            self._ends(f"converter {i}:", [c.in_plus, c.out_plus], [c.in_minus, c.out_minus])
            _amounts(f"converter {i}:", volts=[c.volts], standing=[c.standing])
            if not 0 < c.efficiency <= 1:
                raise ValueError(
                    f"converter {i} has an efficiency of {c.efficiency}, not above 0 and up to 1"
                )

    def _ends(self, what: str, *ends: Sequence[int]) -> None:
        for column in ends:
            if column and not 0 <= min(column) <= max(column) < self.nodes:
                i = next(i for i, node in enumerate(column) if not 0 <= node < self.nodes)
                raise ValueError(f"{what} {i} is at node {column[i]}; nodes are 0 .. {self.nodes - 1}")


def _amounts(what: str, **columns: Sequence[float]) -> None:
    for name, column in columns.items():
        # a sum is not finite as soon as one term is not, and takes one call
        if column and not (min(column) >= 0 and math.isfinite(sum(column))):
            i = next(i for i, value in enumerate(column) if not 0 <= value < math.inf)
            raise ValueError(f"{what} {i} has {column[i]} {name}: must be finite and not negative")

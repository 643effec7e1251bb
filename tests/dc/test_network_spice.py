"""The network solver against ngspice, another program, on three hundred random circuits in one process."""

from pathlib import Path

import pytest

from coldcheck.dc.circuit import Circuit, Solution
from coldcheck.dc.network import solve
from tests.dc import networks, spice

pytestmark = pytest.mark.ngspice

CLOSE = 1e-4
"""0.01 %, of the volts at the node or the current in the branch; of 10 mV or 10 mA where that is more."""


def near(ours: float, theirs: float) -> bool:
    """Tell whether two values agree to 0.01 %."""
    return abs(ours - theirs) <= CLOSE * max(abs(theirs), 0.01)


def test_every_volt_and_ampere(tmp_path: Path) -> None:
    """Node volts and the currents of wires, sources, loads and converters agree with ngspice."""
    circuits = [networks.circuit(seed) for seed in range(300)]
    solutions = [solve(c) for c in circuits]
    # about what each node has at no load, from the circuits alone
    rests = [_rest(c) for c in circuits]
    found = spice.run(spice.deck(list(zip(circuits, rests, strict=True))), tmp_path).values
    compared = 0
    for k, (c, s) in enumerate(zip(circuits, solutions, strict=True)):
        volts = [found.get(f"v(c{k}n{i})", 0.0) for i in range(c.nodes)]
        assert s.collapsed is None
        pairs = [*zip(s.volts, volts, strict=True), *_currents(k, c, s, volts, found)]
        assert all(near(ours, theirs) for ours, theirs in pairs), k
        compared += len(pairs)
    assert compared > 15_000
    assert sum(len(c.converters) for c in circuits) > 300


def _rest(c: Circuit) -> list[float]:
    rest = [0.0] * c.nodes
    for load in c.loads:
        rest[load.plus] = 5.0
    for node in range(c.sources[0].minus):
        rest[node] = networks.VOLTS
    return rest


def _currents(
    k: int, c: Circuit, s: Solution, volts: list[float], found: dict[str, float]
) -> list[tuple[float, float]]:
    """Pair our currents with those that ngspice gives, or that follow from its volts by the parts' own laws."""
    pairs = []
    for w, i in zip(c.wires, s.wire_amps, strict=True):
        pairs.append((i, (volts[w.a] - volts[w.b]) / w.ohms))
    for n, i in enumerate(s.source_amps):
        pairs.append((i, -found[f"i(vc{k}s{n})"]))
    for d, i in zip(c.loads, s.load_amps, strict=True):
        u = volts[d.plus] - volts[d.minus]
        pairs.append((i, d.watts / u + d.amps + d.siemens * u))
    for n, (t, taken, given) in enumerate(
        zip(c.converters, s.converter_in_amps, s.converter_out_amps, strict=True)
    ):
        out = -found[f"i(vc{k}t{n})"]
        pairs.append((given, out))
        asked = t.standing + t.volts * max(0.0, out) / t.efficiency
        pairs.append((taken, asked / (volts[t.in_plus] - volts[t.in_minus])))
    return pairs


def test_a_wrong_wire_would_show(tmp_path: Path) -> None:
    """The comparison can fail: one wire longer by a tenth moves some volts by more than is allowed."""
    c = networks.circuit(4)
    wires = [w if i else type(w)(w.a, w.b, 1.1 * w.ohms) for i, w in enumerate(c.wires)]
    longer = Circuit(c.nodes, wires, c.sources, c.diodes, c.loads, c.converters)
    found = spice.run(spice.deck([(longer, _rest(c))]), tmp_path).values
    volts = [found.get(f"v(c0n{i})", 0.0) for i in range(c.nodes)]
    assert not all(near(ours, theirs) for ours, theirs in zip(solve(c).volts, volts, strict=True))


def test_no_answer_is_an_error(tmp_path: Path) -> None:
    """A deck that ngspice cannot read is an error, not an empty answer that everything agrees with."""
    with pytest.raises(RuntimeError, match="gave no answer"):
        spice.run("nothing\nB1 a\n.end\n", tmp_path)

"""From the unknowns of a system back to the volts and amps of a circuit."""

from typing import Any

from coldcheck.dc.circuit import Solution
from coldcheck.dc.elimination import Factors, Rows, least_degree
from coldcheck.dc.net_arrays import Lists
from coldcheck.dc.net_layout import Layout


def answer(layout: Layout, x: Any, flow: Any, search: Any) -> Solution:
    """Read the point back.

    layout: what stands where [-]
    x: the unknowns, and a 0 behind them [V, A]
    flow: current of each element [A]
    search: which loads are off or fallen, which collapsed or starved [-]
    Gives: Solution
    """
    c, arrays, s = layout.columns, layout.arrays, layout.system
    volts = arrays.plain(_plus(arrays, layout.constant, arrays.take(x, layout.number)))
    amps = arrays.plain(flow)
    wire_amps = amps[: len(layout.runs)]
    source_amps = [0.0] * len(c.sources)
    ohmic = [i for i, source in enumerate(c.sources) if source.ohms]
    for i, current in zip(ohmic, amps[len(layout.runs) : s.diodes], strict=True):
        source_amps[i] = -current
    diode_amps = amps[s.diodes : s.loads]
    in_amps, out_amps = [0.0] * len(c.converters), [0.0] * len(c.converters)
    for i, current in zip(layout.live, amps[s.inputs :], strict=True):
        in_amps[i] = current
    _held(layout, flow, source_amps, out_amps)
    if layout.bare:
        wire_amps = _bare(layout, flow, wire_amps, source_amps, out_amps)
    load_volts = _differences(volts, c.plus, c.minus)
    fallen = sorted(search.fallen)
    for i in fallen:
        load_volts[i] = 0.0
    lost = sum([i * i * r for i, r in zip(wire_amps, c.wire_ohms, strict=True)])
    lost += sum([i * i * source.ohms for i, source in zip(source_amps, c.sources, strict=True)])
    lost += sum([i * (volts[d.anode] - volts[d.cathode]) for i, d in zip(diode_amps, c.diodes, strict=True)])
    for at, taken, given in zip(c.converters, in_amps, out_amps, strict=True):
        lost += taken * (volts[at.in_plus] - volts[at.in_minus]) - given * at.volts if taken or given else 0.0
    return Solution(
        volts=volts,
        wire_amps=wire_amps,
        source_amps=source_amps,
        diode_amps=diode_amps,
        load_volts=load_volts,
        load_amps=amps[s.loads : s.inputs],
        converter_in_amps=in_amps,
        converter_out_amps=out_amps,
        lost=lost,
        off=sorted(search.off),
        collapsed=min(search.collapsed, default=None),
        fallen=fallen,
        starved=min(search.starved, default=None),
        dead=sorted(set(range(len(c.converters))) - set(layout.live)),
        method="sparse" if search.sparse else "direct",
    )


def _plus(arrays: Any, first: Any, second: Any) -> Any:
    if arrays is Lists:
        return [a + b for a, b in zip(first, second, strict=True)]
    return first + second


def _differences(volts: list[float], plus: list[int], minus: list[int]) -> list[float]:
    return [volts[a] - volts[b] for a, b in zip(plus, minus, strict=True)]


def _held(layout: Layout, flow: Any, source_amps: list[float], out_amps: list[float]) -> None:
    """Find the current of each stiff source and output: what flows out of all that hangs on one side of it."""
    if not layout.tree:
        return
    arrays = layout.arrays
    first, second = layout.from_node, layout.to_node
    if layout.bare:
        first, second = arrays.take(layout.merged, first), arrays.take(layout.merged, second)
    out = arrays.sums(layout.count, first, second, flow)
    for hold, hangs, on, sign in reversed(layout.tree):
        current = float(out[hangs])
        out[on] += current
        (out_amps if hold.converter else source_amps)[hold.index] = sign * current


def _bare(
    layout: Layout, flow: Any, through: list[float], source_amps: list[float], out_amps: list[float]
) -> list[float]:
    """Share the currents of nodes that are one among the wires of 0 ohm that make them so."""
    c, arrays = layout.columns, layout.arrays
    out = arrays.plain(arrays.sums(c.nodes, layout.from_node, layout.to_node, flow))
    for hold, *_ in layout.tree:
        at = c.converters[hold.index] if hold.converter else c.sources[hold.index]
        plus, minus = (at.out_plus, at.out_minus) if hold.converter else (at.plus, at.minus)  # type: ignore[union-attr]
        current = (out_amps if hold.converter else source_amps)[hold.index]
        out[plus] -= current
        out[minus] += current
    ends = [(c.wire_a[i], c.wire_b[i]) for i in layout.bare]
    first: dict[int, int] = {}
    number: dict[int, int] = {}
    for node in {node for pair in ends for node in pair}:
        # the first node of each set is its reference
        if first.setdefault(int(layout.merged[node]), node) != node:
            number[node] = len(number)
    rows: Rows = [{n: 0.0} for n in range(len(number))]
    for a, b in ends:
        if a != b:
            for near, far in ((a, b), (b, a)):
                if near in number:
                    row = rows[number[near]]
                    row[number[near]] += 1.0
                    if far in number:
                        row[number[far]] = row.get(number[far], 0.0) - 1.0
    height = Factors(rows, least_degree(rows)).solve([-out[node] for node in number])
    at_node = {node: height[n] for node, n in number.items()}
    shares = [at_node.get(a, 0.0) - at_node.get(b, 0.0) for a, b in ends]
    wires = [0.0] * len(c.wire_a)
    for i, current in zip(layout.runs, through, strict=True):
        wires[i] = current
    for i, current in zip(layout.bare, shares, strict=True):
        wires[i] = current
    return wires

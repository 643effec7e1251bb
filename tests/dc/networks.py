"""Random circuits for tests of the network solver, and the laws that every answer must keep."""

import random

from coldcheck.dc.circuit import Circuit, Converter, Diode, Load, Solution, Source, Wire

__all__ = ["circuit", "left_at_nodes", "power", "radial_circuit"]

VOLTS = 12.0


def circuit(
    seed: int, *, size: int = 0, power: float = 1.0, diodes: bool = False, stops: bool = False
) -> Circuit:
    """Make a circuit: two meshed nets, parallel sources, loads across them, converters with and without isolation.

    seed: of everything
    size: nodes on each side; 0 for 3 to 11
    power: factor on the constant powers
    diodes: whether some feeds are or-ed, and some runs have a diode
    stops: whether some loads let go
    """
    r = random.Random(seed)
    n = size or r.randrange(3, 12)
    wires: list[Wire] = []
    for base in (0, n):
        wires += [Wire(base + r.randrange(i), base + i, r.uniform(0.002, 0.05)) for i in range(1, n)]
        for _ in range(r.randrange(n)):
            a, b = r.sample(range(n), 2)
            wires.append(Wire(base + a, base + b, r.uniform(0.002, 0.1)))
    r.shuffle(wires)
    sources = [Source(0, n, VOLTS, r.choice([0.0, 0.01]))]
    for _ in range(r.randrange(3)):
        k = r.randrange(1, n)
        back = n + r.choice([k, r.randrange(n)])
        sources.append(Source(k, back, VOLTS + r.uniform(-0.1, 0.1), r.uniform(0.01, 0.05)))
    loads = [
        Load(
            r.randrange(n),
            n + r.randrange(n),
            watts=power * r.uniform(0, 60 / n) if r.random() < 0.8 else 0.0,
            amps=r.uniform(0, 5 / n) if r.random() < 0.3 else 0.0,
            siemens=r.uniform(0, 0.4 / n) if r.random() < 0.3 else 0.0,
            stops=r.choice([0.0, 10.0, 11.0, 11.8]) if stops else 0.0,
        )
        for _ in range(n)
    ]
    made = Circuit(2 * n, wires, sources, [], loads, [])
    if diodes:
        made = _with_diodes(made, n, r, power)
    return _with_converters(made, n, r, power)


def _with_diodes(c: Circuit, n: int, r: random.Random, power: float) -> Circuit:
    diodes: list[Diode] = []
    loads = list(c.loads)
    nodes = c.nodes

    def diode(cathode: int, drops: list[float]) -> Diode:
        return Diode(r.randrange(n), cathode, r.choice(drops), r.choice([0.0, 0.01, 0.05]))

    for _ in range(r.randrange(1, 5)):
        if r.random() < 0.5:
            diodes += [diode(nodes, [0.0, 0.3, 0.7]) for _ in range(2)]
            loads.append(Load(nodes, n + r.randrange(n), watts=power * r.uniform(0, 20)))
            nodes += 1
        else:
            diodes.append(diode(r.randrange(n), [0.0, 0.05, 0.3]))
    return Circuit(nodes, c.wires, c.sources, diodes, loads, [])


def _with_converters(c: Circuit, n: int, r: random.Random, power: float) -> Circuit:
    wires, loads, converters, nodes = list(c.wires), list(c.loads), [], c.nodes
    for _ in range(r.randrange(4)):
        ground = n + r.randrange(n)
        shared = r.random() < 0.7
        plus, minus = nodes, ground if shared else nodes + 1
        nodes += 1 if shared else 2
        back = ground if r.random() < 0.5 else n + r.randrange(n)
        efficiency, standing = r.uniform(0.8, 0.95), r.uniform(0, 0.5)
        converters.append(Converter(r.randrange(n), back, plus, minus, 5.0, efficiency, standing))
        for _ in range(r.randrange(1, 4)):
            wires.append(Wire(plus, nodes, r.uniform(0.005, 0.05)))
            at, to, nodes = nodes, n + r.randrange(n), nodes + 1
            if not shared or r.random() < 0.5:
                wires.append(Wire(minus, nodes, r.uniform(0.005, 0.05)))
                to, nodes = nodes, nodes + 1
            loads.append(Load(at, to, watts=power * r.uniform(0, 8)))
    return Circuit(nodes, wires, c.sources, c.diodes, loads, converters)


def radial_circuit(seed: int, *, stops: bool = False) -> Circuit:
    """Make a tree of pairs on one stiff source, or two beside each other: plus, minus or both go on at each step."""
    r = random.Random(seed)
    wires: list[Wire] = []
    sources: list[Source] = []
    loads: list[Load] = []
    nodes = 0
    for _ in range(r.choice([1, 1, 2])):
        pairs = [(nodes, nodes + 1)]
        sources.append(Source(nodes, nodes + 1, VOLTS))
        nodes += 2
        count = r.randrange(2, 30)
        for _ in range(count):
            pair = list(r.choice(pairs))
            for side in r.choice([(0,), (1,), (0, 1)]):
                ends = [pair[side], nodes]
                r.shuffle(ends)
                wires.append(Wire(ends[0], ends[1], r.choice([0.0, r.uniform(0.001, 0.03)])))
                pair[side] = nodes
                nodes += 1
            pairs.append((pair[0], pair[1]))
        for _ in range(count):
            plus, minus = r.choice(pairs)
            watts, amps, siemens = r.uniform(0, 200 / count), r.choice([0.0, 0.5]), r.choice([0.0, 0.02])
            loads.append(Load(plus, minus, watts, amps, siemens, r.choice([0.0, 11.8]) if stops else 0.0))
    r.shuffle(wires)
    return Circuit(nodes, wires, sources, [], loads)


def left_at_nodes(c: Circuit, s: Solution) -> list[float]:
    """Give the sum of the currents that leave each node: 0 by Kirchhoff [A]."""
    out = [0.0] * c.nodes
    flows = [(w.a, w.b, i) for w, i in zip(c.wires, s.wire_amps, strict=True)]
    flows += [(x.minus, x.plus, i) for x, i in zip(c.sources, s.source_amps, strict=True)]
    flows += [(d.anode, d.cathode, i) for d, i in zip(c.diodes, s.diode_amps, strict=True)]
    flows += [(d.plus, d.minus, i) for d, i in zip(c.loads, s.load_amps, strict=True)]
    flows += [(t.in_plus, t.in_minus, i) for t, i in zip(c.converters, s.converter_in_amps, strict=True)]
    flows += [(t.out_minus, t.out_plus, i) for t, i in zip(c.converters, s.converter_out_amps, strict=True)]
    for a, b, i in flows:
        out[a] += i
        out[b] -= i
    return out


def power(c: Circuit, s: Solution) -> tuple[float, float]:
    """Give the power that the sources deliver and the power that the loads take [W]."""
    delivered = sum(x.volts * i for x, i in zip(c.sources, s.source_amps, strict=True))
    return delivered, sum(u * i for u, i in zip(s.load_volts, s.load_amps, strict=True))

"""Every slip that a hand can make on a harness, as plans, and an oracle that knows nothing of how Coldcheck judges.

An arrangement is a list of wires, each a pair of pins by name. A device joins some of its pins inside: all returns of a
board, its two 5 V pins, the returns of the fuse block and of the converter it hangs on. The oracle is a graph of pins,
wires and these joints, in networkx. A slip is harmless if

- each thing that takes power is joined, by wires and by what sources join, and not through its neighbours, to the same
  terminals as in the right harness: the plus of its own fuse or rail, the return of its own converter; and
- all wires and joints together make the same nets, where the returns of both converters are one, by the bank.

That is the same net list up to a permutation of pins that a device joins itself. Everything else is harmful.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product
from pathlib import Path

import networkx as nx  # type: ignore[import-untyped]

Wire = tuple[str, str]
Wires = list[Wire]

PLAN = Path(__file__).parents[2] / "inventories" / "otter-weir.toml"
BOARDS = [f"n{n}" for n in range(1, 7)]
#: The joints inside each device, by the terminal that they make: what a thing takes, and what a source gives.
TAKES = {
    **{f"{n}.5v": [f"{n}.header.2", f"{n}.header.4"] for n in BOARDS},
    **{f"{n}.gnd": [f"{n}.header.{p}" for p in (6, 9, 14, 20, 25, 30, 34, 39)] for n in BOARDS},
    **{f"{n}.3v3": [f"{n}.header.{p}" for p in (1, 17)] for n in BOARDS},
    "store.12v": ["store.power.1"],
    "store.gnd": ["store.power.2", "store.power.3"],
    "store.5v": ["store.power.4"],
}
GIVES = {
    **{f"fuse {k}": [f"block.{k}.1"] for k in range(1, 7)},
    "five gnd": [f"block.{k}.2" for k in range(1, 7)],
    "disks 12v": ["disks.out.1"],
    "disks gnd": ["disks.out.2", "disks.out.3"],
    "disks 5v": ["disks.out.4"],
}


def right() -> Wires:
    """Return the sixteen wires as they are meant."""
    boards = [(f"block.{k}.{a}", f"n{k}.header.{b}") for k in range(1, 7) for a, b in ((1, 4), (2, 6))]
    return boards + [(f"disks.out.{p}", f"store.power.{p}") for p in range(1, 5)]


def text(wires: Wires) -> str:
    """Return the example plan with these wires in its harness."""
    plan = PLAN.read_text(encoding="utf-8")
    before, _, rest = plan.partition("# --- the harness")
    after = rest[rest.index("# --- network") :]
    rows = "".join(
        f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\ngauge = "{18 if "disks" in a + b else 22} AWG"\n'
        for a, b in wires
    )
    return f'{before}[[harness]]\nid = "main"\nlength = "280 mm"\n{rows}{after}'


# --- the oracle -------------------------------------------------------------------------------------------------------


def _graph(wires: Wires, joints: dict[str, list[str]]) -> nx.Graph:
    graph = nx.Graph()
    for terminal, pins in joints.items():
        graph.add_node(terminal)
        graph.add_edges_from((terminal, pin) for pin in pins)
    graph.add_edges_from(wires)
    return graph


def _reached(wires: Wires, terminal: str) -> frozenset[str]:
    """Return the terminals of sources that one of a taker is joined to, not through its neighbours."""
    given = {pin for pins in GIVES.values() for pin in pins}
    graph = _graph(
        [wire for wire in wires if not given.issuperset(wire)], {**GIVES, terminal: TAKES[terminal]}
    )
    return frozenset(nx.node_connected_component(graph, terminal) & GIVES.keys())


def _nets(wires: Wires) -> set[frozenset[str]]:
    """Return what is joined by everything: terminals, and pins that belong to none."""
    inside = {pin for pins in (*TAKES.values(), *GIVES.values()) for pin in pins}
    graph = _graph(wires, {**TAKES, **GIVES})
    graph.add_edge(
        "five gnd", "disks gnd"
    )  # neither converter is isolated: both stand on the minus of the bank
    parts = nx.connected_components(graph)
    nets = (frozenset(node for node in part if node not in inside) for part in parts)
    return {net for net in nets if len(net) > 1}


def harmless(wires: Wires) -> bool:
    """Say whether an arrangement is the right one by its nets."""
    meant = right()
    return _nets(wires) == _nets(meant) and all(_reached(wires, t) == _reached(meant, t) for t in TAKES)


# --- the slips --------------------------------------------------------------------------------------------------------


def _put(wires: Wires, slot: tuple[int, int], pin: str) -> None:
    pair = list(wires[slot[0]])
    pair[slot[1]] = pin
    wires[slot[0]] = pair[0], pair[1]


def swaps() -> Iterator[tuple[str, Wires]]:
    """Yield every swap of two wire ends: 32 over 2."""
    slots = [(i, side) for i in range(16) for side in (0, 1)]
    for s, t in combinations(slots, 2):
        wires = right()
        a, b = wires[s[0]][s[1]], wires[t[0]][t[1]]
        _put(wires, s, b)
        _put(wires, t, a)
        yield f"swap {a} and {b}", wires


def _header(pin: int) -> complex:
    return complex((pin - 1) // 2, (pin - 1) % 2)


_AT = {_header(pin): pin for pin in range(1, 41)}


def seats() -> Iterator[tuple[str, Wires]]:
    """Yield every shift and every turn, by quarters, of each housing on its header; a way beside it touches nothing."""
    for k in range(1, 7):
        plus, minus = 2 * (k - 1), 2 * (k - 1) + 1
        seen: set[tuple[int | None, int | None]] = {(4, 6)}
        for turn, dx, dy in product((1, 1j, -1, -1j), range(-20, 21), range(-2, 3)):
            spots = [_header(4) + complex(dx, dy), _header(4) + complex(dx, dy) + turn]
            pins = _AT.get(spots[0]), _AT.get(spots[1])
            if pins in seen or pins == (None, None):
                continue
            seen.add(pins)
            wires = right()
            for wire, pin in ((plus, pins[0]), (minus, pins[1])):
                _put(wires, (wire, 1), f"n{k}.header.{pin}")
            yield f"housing of n{k} on {pins}", [w for w in wires if not w[1].endswith("None")]


def crimps() -> Iterator[tuple[str, Wires]]:
    """Yield the keyed plug of the carrier with its contacts pushed in shifted, mirrored, or both, at either end."""
    for side, socket in ((0, "disks.out"), (1, "store.power")):
        for mirrored, shift in product((False, True), range(-3, 4)):
            if not mirrored and not shift:
                continue
            wires = right()
            kept = wires[:12]
            for n in range(1, 5):
                way = (5 - n if mirrored else n) + shift
                if 1 <= way <= 4:
                    _put(wires, (11 + n, side), f"{socket}.{way}")
                    kept.append(wires[11 + n])
            yield f"contacts at {socket} {'mirrored ' if mirrored else ''}off by {shift}", kept


def plugs() -> Iterator[tuple[str, Wires]]:
    """Yield every exchange of the housings of two boards."""
    for a, b in combinations(range(1, 7), 2):
        wires = right()
        for n in (0, 1):
            one, other = (2 * (a - 1) + n, 1), (2 * (b - 1) + n, 1)
            _put(wires, one, f"n{b}.header.{(4, 6)[n]}")
            _put(wires, other, f"n{a}.header.{(4, 6)[n]}")
        yield f"housings of n{a} and n{b} exchanged", wires


def lost() -> Iterator[tuple[str, Wires]]:
    """Yield every wire left out."""
    for i in range(16):
        wires = right()
        gone = wires.pop(i)
        yield f"without {gone[0]} to {gone[1]}", wires


def moved() -> Iterator[tuple[str, Wires]]:
    """Yield every wire end on every other pin of its socket, beside the wire that is there already."""
    for i, side in product(range(16), (0, 1)):
        pin = right()[i][side]
        socket, _, number = pin.rpartition(".")
        count = 40 if "header" in socket else 4 if socket in ("disks.out", "store.power") else 2
        for other in range(1, count + 1):
            if str(other) != number:
                wires = right()
                _put(wires, (i, side), f"{socket}.{other}")
                yield f"{pin} on {other}", wires


def strayed() -> Iterator[tuple[str, Wires]]:
    """Yield every wire end on each pin of power that another socket has."""
    pins = sorted(
        {pin for pins in (*TAKES.values(), *GIVES.values()) for pin in pins if not pin.endswith(("14", "20"))}
    )
    for i, side in product(range(16), (0, 1)):
        here = right()[i][side]
        for pin in pins:
            if pin.rpartition(".")[0] != here.rpartition(".")[0]:
                wires = right()
                _put(wires, (i, side), pin)
                yield f"{here} on {pin}", wires

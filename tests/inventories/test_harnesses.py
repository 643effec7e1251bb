"""Harnesses of every kind: each is clean as it is, and every swap of two wire ends is found or harmless by its nets.

Kinds: a trunk with joints, a daisy chain, two converters of equal volts with a console between their boards, disks by
shared sockets, in-line things in single wires, one harness cut three times. The oracle is that of the otter weir.
"""

from __future__ import annotations

import datetime
import tomllib
from itertools import combinations
from pathlib import Path
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import judge
from coldcheck.plan.spans import members

FOLDER = Path(__file__).parent / "harnesses"
PLANS = sorted(FOLDER.glob("*.toml"))
BOOK = ours.rulebook(entry_points=False)
SHELF = ours.shelf(BOOK)
TODAY = datetime.date(2026, 11, 26)

Wires = list[tuple[str, str]]
Pins = dict[str, list[str]]


def header(board: str) -> Pins:
    """Return the terminals of a board by its 40-pin header; each signal is one."""
    ground = [f"{board}.header.{pin}" for pin in (6, 9, 14, 20, 25, 30, 34, 39)]
    plus = [f"{board}.header.{pin}" for pin in (2, 4)]
    signals = {f"{board} {pin}": [f"{board}.header.{pin}"] for pin in (8, 10)}
    return {f"{board} 5v": plus, f"{board} gnd": ground, **signals}


def sata(drive: str) -> Pins:
    """Return the terminals of a disk by its SATA power plug."""
    rails = {"5v": (7, 8, 9), "12v": (13, 14, 15), "gnd": (4, 5, 6, 10, 12)}
    return {f"{drive} {rail}": [f"{drive}.power.{pin}" for pin in pins] for rail, pins in rails.items()}


#: What takes and what gives in each plan, by terminal. Grounds of one feed are one.
BOXES: dict[str, tuple[Pins, Pins]] = {
    "trunk": (
        {f"n{n} {word}": [f"n{n}.{pin}"] for n in range(1, 7) for pin, word in ((1, "5v"), (2, "gnd"))},
        {"f plus": ["f.1"], "f gnd": ["f.2"]},
    ),
    "chain": (
        {f"a{n} {word}": [f"a{n}.{pin}"] for n in range(1, 5) for pin, word in ((1, "gnd"), (2, "12v"), (3, "tach"))},
        {"f gnd": ["f.out.1"], "f plus": ["f.out.2"], "f tach": ["f.out.3"]},
    ),
    "rails": (
        {**header("e1"), **header("e2"), **header("w1")},
        {
            "e 1": ["ebar.1.1"], "e 2": ["ebar.2.1"], "w 1": ["wbar.1.1"],
            "east gnd": ["ebar.1.2", "ebar.2.2"], "west gnd": ["wbar.1.2"],
        },
    ),
    "drives": (
        {**sata("d1"), **sata("d2")},
        {"box 12v": ["box.out.1"], "box gnd": ["box.out.2", "box.out.3"], "box 5v": ["box.out.4"]},
    ),
    "inline": (
        {"fuse in": ["fuse.in.1"], "switch in": ["sw1.in.1"], "diode in": ["dio.in.1"], "radio plus": ["radio.1"],
         "radio gnd": ["radio.2"]},
        {"bat plus": ["bat.1"], "bat gnd": ["bat.2"], "fuse out": ["fuse.out.1"], "switch out": ["sw1.out.1"],
         "diode out": ["dio.out.1"]},
    ),
}  # fmt: skip
#: Grounds that stand on one feed: joining them is no harm, taking one's return to the other is.
ONE_FEED = {"rails": [("east gnd", "west gnd")]}


def wires_of(name: str) -> Wires:
    """Return the wires of a plan by its TOML, spans dealt out, ends of harnesses put into their sockets."""
    raw: dict[str, Any] = tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    found: Wires = []
    for harness in raw["harness"]:
        sockets = {end["id"]: end["into"] for end in harness.get("end", ())}
        for row in harness["wire"]:
            ends = []
            for key in ("from", "to"):
                value = row[key]
                several = value if isinstance(value, list) else members(value) if " .. " in value else [value]
                ends.append([_in_socket(ref, sockets) for ref in several])
            found += list(zip(*ends, strict=True))
    return found


def _in_socket(ref: str, sockets: dict[str, str]) -> str:
    first, _, rest = ref.partition(".")
    return f"{sockets[first]}.{rest}" if first in sockets else ref


def text_of(name: str, wires: Wires) -> str:
    """Return the plan with these wires, each of the harness, gauge and length that it has."""
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    head, *rest = text.split("[[harness]]\n")
    splices = "".join(part for part in "".join(rest).split("\n\n") if part.startswith("[[harness.splice]]"))
    splices = splices.replace("[[harness.splice]]", "\n[[harness.splice]]")
    rows = "".join(f'\n[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\n' for a, b in wires)
    return f'{head}[[harness]]\nid = "h"\ngauge = "22 AWG"\nlength = "100 mm"\n{splices}\n{rows}'


def nets(name: str, wires: Wires) -> set[frozenset[str]]:
    """Return what wires and joints inside things make one, as terminals."""
    takes, gives = BOXES[name]
    graph = nx.Graph(wires)
    for terminal, pins in {**takes, **gives}.items():
        graph.add_node(terminal)
        graph.add_edges_from((terminal, pin) for pin in pins)
    graph.add_edges_from(ONE_FEED.get(name, ()))
    terminals = takes.keys() | gives.keys()
    parts = (frozenset(terminals & part) for part in nx.connected_components(graph))
    return {part for part in parts if len(part) > 1}


def reached(name: str, wires: Wires, terminal: str) -> frozenset[str]:
    """Return the terminals of sources that a taker is joined to by wires of its own, not through its neighbours."""
    takes, gives = BOXES[name]
    given = {pin for pins in gives.values() for pin in pins}
    graph = nx.Graph(wire for wire in wires if not given.issuperset(wire))
    for word, pins in {**gives, terminal: takes[terminal]}.items():
        graph.add_node(word)
        graph.add_edges_from((word, pin) for pin in pins)
    return frozenset(nx.node_connected_component(graph, terminal) & gives.keys())


def harmless(name: str, wires: Wires) -> bool:
    """Say whether wires make the nets of the right ones."""
    meant = wires_of(name)
    return nets(name, wires) == nets(name, meant) and all(
        reached(name, wires, t) == reached(name, meant, t) for t in BOXES[name][0]
    )


def found(text: str) -> list[Finding]:
    """Return all that is found in a plan, but what a person must look at."""
    plan = ours.read_plan("h.toml", text.encode(), SHELF)
    return [f for f in judge(plan, BOOK, TODAY).findings if f.kind != "review"]


def swaps(name: str) -> list[tuple[str, Wires]]:
    """Return every swap of two wire ends, joints among them."""
    meant = wires_of(name)
    slots = [(i, side) for i in range(len(meant)) for side in (0, 1)]
    made = []
    for s, t in combinations(slots, 2):
        rows = [list(wire) for wire in meant]
        rows[s[0]][s[1]], rows[t[0]][t[1]] = rows[t[0]][t[1]], rows[s[0]][s[1]]
        made.append((f"{meant[s[0]][s[1]]} and {meant[t[0]][t[1]]}", [(a, b) for a, b in rows]))
    return made


def wrong(name: str, some: list[tuple[str, Wires]]) -> list[str]:
    """Return the swaps that are missed, or told of without harm."""
    bad = []
    for what, wires in some:
        told = [
            f for f in found(text_of(name, wires)) if f.rule.startswith("pins.") and f.rule != "pins.useless"
        ]
        if harmless(name, wires):
            bad += [f"{what}: harmless, but {f.rule}: {f.says}" for f in told]
        elif not told and not any(f.rule == "pins.useless" for f in found(text_of(name, wires))):
            bad.append(f"{what}: missed")
    return bad


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_each_is_clean(path: Path) -> None:
    """Nothing is found in a harness that is right."""
    assert [f.says for f in found(path.read_text(encoding="utf-8"))] == []


@pytest.mark.parametrize("name", BOXES)
def test_the_rows_are_the_plan(name: str) -> None:
    """The wires that the test reads make a plan without slips, so that what it finds comes of the swap."""
    assert [f.says for f in found(text_of(name, wires_of(name))) if f.rule.startswith("pins.")] == []


@pytest.mark.parametrize("name", BOXES)
def test_some_swaps(name: str) -> None:
    """Every so many-th swap is found, or harmless and not told."""
    every = swaps(name)
    assert wrong(name, every[:: max(1, len(every) // 30)]) == []


@pytest.mark.proof
@pytest.mark.parametrize("name", BOXES)
def test_every_swap(name: str) -> None:
    """Every swap is found, or harmless and not told."""
    assert wrong(name, swaps(name)) == []


def test_a_slip_in_a_template_is_one_finding() -> None:
    """A harness of the shelf with its two wires crossed is told once for all that are cut to it."""
    text = (FOLDER / "tails.toml").read_text(encoding="utf-8")
    part = '[[part]]\nid = "mine"\nkind = "harness"\ngauge = "22 AWG"\n[[part.end]]\nid = "a"\nplug = "screw-2"\n'
    part += '[[part.end]]\nid = "b"\nplug = "jumper-2.54"\non = ["4", "6"]\n'
    part += '[[part.wire]]\nfrom = "a.1"\nto = "b.2"\n[[part.wire]]\nfrom = "a.2"\nto = "b.1"\n'
    told = [f for f in found(part + text.replace("tail-terminal-to-header", "mine")) if f.level == "error"]
    assert [f.rule for f in told] == ["pins.moved_plug"]

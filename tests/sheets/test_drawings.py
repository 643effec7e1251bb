"""Drawings: valid SVG whose texts stay in their boxes, and connectors as they are really laid out."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from playwright.sync_api import Browser

from coldcheck.plan.spans import members
from coldcheck.sheets import connectors, courses, fronts, links, power_tree, tree
from coldcheck.sheets.drawing import Box, Drawing, boxes, standalone
from coldcheck.sheets.table import as_rows
from tests.sheets.plans import read

SVG = "{http://www.w3.org/2000/svg}"
MEASURE = """Array.from(document.querySelectorAll('text'), e => {
    const b = e.getBBox(); return [b.x, b.y, b.x + b.width, b.y + b.height, e.textContent]; })"""
RECTS = """Array.from(document.querySelectorAll('rect.used, rect.empty'), e => {
    const b = e.getBBox(); return [b.x, b.y, b.x + b.width, b.y + b.height]; })"""

Four = list[float]


def drawn(root: Path, name: str) -> list[Drawing]:
    """Make all drawings of an example."""
    plan, get = read((root / "inventories" / f"{name}.toml").read_bytes(), name)
    makers = connectors.drawings, fronts.fronts, tree.trees, links.networks
    return [drawing for make in makers for drawing in make(plan, get)]


def inside(text: Four, rect: Four) -> bool:
    """Say whether a text is in a box."""
    return text[0] >= rect[0] and text[1] >= rect[1] - 1 and text[2] <= rect[2] and text[3] <= rect[3] + 1


def meet(a: Four, b: Four) -> bool:
    """Say whether two texts cover each other."""
    # the boxes of two lines of type touch; half a pixel is not seen
    return a[0] < b[2] - 0.5 and b[0] < a[2] - 0.5 and a[1] < b[3] - 2.5 and b[1] < a[3] - 2.5


@pytest.mark.program("chromium")
@pytest.mark.xdist_group("browser")
@pytest.mark.parametrize("name", ["gorse-hill", "otter-weir", "reed-marsh", "tidepool-draft"])
def test_texts_stay_in_their_boxes(root: Path, browser: Browser, name: str, tmp_path: Path) -> None:
    """Measured in a browser: each text lies in one box, and none on another."""
    tab = browser.new_page()
    for drawing in [
        *drawn(root, name),
        boxes("w", "w", [[Box(["WWWWWWWWWWWWWWWW", "MMMMMMMM@@@@@@@@", "mmmm漢字漢字漢字", "ABDGOQ0189"])]]),
    ]:
        file = tmp_path / f"{drawing.name}.svg"
        file.write_text(standalone(drawing))
        tab.goto(file.as_uri())
        texts, rects = tab.evaluate(MEASURE), tab.evaluate(RECTS)
        assert texts
        for n, text in enumerate(texts):
            assert sum(inside(text, rect) for rect in rects) == 1, text
            assert not any(meet(text, other) for other in texts[:n]), text
    tab.close()


def test_the_header_as_boards_have_it(root: Path) -> None:
    """Odd pins in one row, even ones above them, pin 1 at the lower left (common practice); 4 is red, 6 black."""
    drawing = next(d for d in drawn(root, "otter-weir") if "header-40" in d.title)
    spots = {
        text.text: (float(text.get("x", "")), float(text.get("y", "")))
        for text in ET.fromstring(drawing.svg).iter(f"{SVG}text")
        if text.get("class") == "head"
    }
    for odd in (1, 3, 5, 7):
        assert spots[str(odd)][0] == spots[str(odd + 1)][0]
        assert spots[str(odd)][1] > spots[str(odd + 1)][1]
    assert turn(spots) > 0
    assert spots["1"][0] < spots["3"][0] < spots["5"][0]
    assert "n1.header .. n6.header" in drawing.title
    assert (
        "seen onto the pins of the thing, pin 1 at the lower left; its plug looks the same from the side of its wires"
        in drawing.title
    )
    used = [rect for rect in ET.fromstring(drawing.svg).iter(f"{SVG}rect") if rect.get("class") == "used"]
    assert len(used) == 2
    words = [text.text for text in ET.fromstring(drawing.svg).iter(f"{SVG}text")]
    assert words[words.index("4") : words.index("4") + 3] == ["4", "5v", "red"]
    assert words[words.index("6") : words.index("6") + 3] == ["6", "gnd", "black"]


def turn(spots: dict[str | None, tuple[float, float]]) -> float:
    """Return which way one turns from pin 2 by pin 1 to pin 3: above zero as on a header that one looks onto.

    Upright, odd pins stand on the left and even ones on the right, counted down (common practice), y grows downwards:
    from 1, 2 lies to the right and 3 below. No turn of the board changes the sign, a view from behind does.
    """
    (x, y), (x2, y2), (x3, y3) = (spots[pin] for pin in ("1", "2", "3"))
    return (x2 - x) * (y3 - y) - (y2 - y) * (x3 - x)


SIX = """
[[part]]
id = "six"
kind = "plug"
title = "six pins in two rows"
source = "invented"
rows = 2
numbered = "across"
seen = "{}"
pins = {{ 1 = "5v", 2 = "gnd", 3 = "a", 4 = "b", 5 = "c", 6 = "d" }}
[[feed]]
id = "f"
volts = "5 V"
plug = "screw-2"
[[node]]
id = "n"
from = "f"
volts = "5 V"
plug = "six"
lead = "22 AWG, 100 mm"
"""


@pytest.mark.parametrize(("seen", "sign"), [("mating", 1), ("wires", -1)])
def test_no_header_is_drawn_in_a_mirror(seen: str, sign: int) -> None:
    """Onto the pins as on boards; from behind, the other way round."""
    drawing = next(d for d in connectors.drawings(*read(SIX.format(seen))) if d.title.startswith("n.in"))
    heads = [t for t in ET.fromstring(drawing.svg).iter(f"{SVG}text") if t.get("class") == "head"]
    spots = {t.text: (float(t.get("x", "")), float(t.get("y", ""))) for t in heads}
    assert sign * turn(spots) > 0
    assert ("pin 1 at the lower left" in drawing.title) == (sign > 0)


def test_connectors_wired_otherwise_are_drawn_apart() -> None:
    """One board whose wires have other colours is not hidden among the rest."""
    plan = """
[[feed]]
id = "f"
volts = "5 V"
plug = "screw-2"
[[node]]
id = "n1 .. n3"
part = "board-4core-5v-3a"
into = "header"
from = "f"
[[harness]]
id = "h"
"""
    for node, colour in (("n1", "red"), ("n2", "red"), ("n3", "orange")):
        plan += f'[[harness.wire]]\nfrom = "f.1"\nto = "{node}.header.4"\ncolour = "{colour}"\n'
    made, get = read(plan)
    titles = [d.title.partition(":")[0] for d in connectors.drawings(made, get)]
    assert "n1.header and n2.header" in titles
    assert "n3.header" in titles


def heads(drawing: Drawing) -> list[tuple[str, str]]:
    """Return the head of each box of a drawing, with its kind of border."""
    parts = list(ET.fromstring(drawing.svg).iter())
    kinds = [
        part.get("class") or "" for part in parts if part.tag == f"{SVG}rect" and part.get("class") != "band"
    ]
    words = [part.text or "" for part in parts if part.tag == f"{SVG}text" and part.get("class") == "head"]
    return list(zip(words, kinds, strict=True))


def named(head: str) -> list[str]:
    """Return the names in the head of a box."""
    parts = head.split(" and ")
    return [name for part in parts for name in (members(part) if " .. " in part else [part])]


RING = """
[[switch]]
id = "s1 .. s4"
ports = 8
[[node]]
id = "n1 .. n4"
port = "s3.5 .. s3.8"
[[node]]
id = "lone"
port = "far.1"
[[switch]]
id = "far"
ports = 2
"""
for one, other in (("s1.1", "s2.2"), ("s2.1", "s3.2"), ("s3.1", "s4.2"), ("s4.1", "s1.2"), ("s1.3", "s3.3")):
    RING += f'[[link]]\nfrom = "{one}"\nto = "{other}"\n'


@pytest.mark.parametrize("name", ["gorse-hill", "otter-weir", "reed-marsh", "lantern-room", "ring"])
def test_every_cable_is_in_the_network(root: Path, name: str) -> None:
    """Each thing stands once with a whole border; pairs beside the tree stand once more, dashed; by counting alone."""
    text = RING if name == "ring" else (root / "inventories" / f"{name}.toml").read_text()
    plan, get = read(text)
    pairs = {
        frozenset((line.a.thing.id, line.b.thing.id if line.b else f"to {line.outside}"))
        for line in plan.links
    }
    group = {name: name for pair in pairs for name in pair}
    for a, b in (sorted(pair) for pair in pairs):  # what hangs together gets one name
        old, new = group[a], group[b]
        group = {name: new if one == old else one for name, one in group.items()}
    found = links.networks(plan, get)
    assert len(found) == len(set(group.values()))
    boxes_ = [head for drawing in found for head in heads(drawing)]
    whole = [name for head, kind in boxes_ if kind == "used" for name in named(head)]
    assert sorted(whole) == sorted(name.removeprefix("to ") for name in group)
    beside = [head for head, kind in boxes_ if kind == "empty"]
    assert all(head.endswith(" again") for head in beside)
    assert len(beside) == len(pairs) - len(group) + len(found)
    assert (len(beside) == 2) == (name == "ring")


PAIRED = """
[[switch]]
id = "sw"
ports = 8
address = "10.0.0.2"
[[switch]]
id = "away"
ports = 8
[[link]]
from = "sw.1"
to = "away.1"
cable = "cat 6, 2 m"
[[link]]
from = "sw.2"
to = "away.2"
cable = "cat 6, 2 m"
[[node]]
id = "n1 .. n2"
port = "sw.7 .. sw.8"
cable = "cat 5e, 500 mm"
address = "10.0.0.11 .. 10.0.0.12"
[[node]]
id = "other"
port = "sw.3"
address = "10.0.0.20"
[[uplink]]
from = "sw.4"
to = "the house"
[[subnet]]
prefix = "10.0.0.0/24"
"""


def test_what_a_box_of_the_network_says() -> None:
    """Ports at both ends of each of two cables side by side, cable, address; those that hang alike are together."""
    plan, get = read(PAIRED)
    (drawing,) = links.networks(plan, get)
    told = [text.text for text in ET.fromstring(drawing.svg).iter(f"{SVG}text")]
    for block in (
        ["away", "at sw.1 and sw.2", "by away.1 and away.2", "cat 6, 2 m"],
        ["n1 and n2", "at sw.7 and sw.8", "cat 5e, 500 mm", "10.0.0.11 and 10.0.0.12"],
        ["other", "at sw.3", "by other.eth", "cable?", "10.0.0.20"],
        ["the house"],
        ["sw", "by sw.4", "cable?", "10.0.0.2"],
    ):
        at = [n for n, word in enumerate(told) if word == block[0]]
        assert any(told[n : n + len(block)] == block for n in at), (block, told)


def test_texts_are_data() -> None:
    """Markup in a text stays a text; what cannot be shown becomes a blank."""
    drawing = boxes(
        "x", '"><script>', [[Box(["<script>alert(1)</script>", "a\x00b\n&amp;"], ['red"/><x', "red"])]]
    )
    for svg in (drawing.svg, standalone(drawing)):
        root = ET.fromstring(svg)
        assert not list(root.iter(f"{SVG}script"))
        assert [t.text for t in root.iter(f"{SVG}text")] == ["<script>alert(1)</script>", "a b &amp;"]
        assert [r.get("style") for r in root.iter(f"{SVG}rect")] == [None, "fill: none", "fill: #d3202a"]


def test_every_port_is_drawn(root: Path) -> None:
    """As many boxes as the switch has ports, the free ones dashed."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    (front,) = fronts.fronts(plan, get)
    rects = [rect.get("class") for rect in ET.fromstring(front.svg).iter(f"{SVG}rect")]
    assert rects == ["used"] * 10
    plan, get = read('[[switch]]\nid = "s"\nports = 5\n[[node]]\nid = "n"\nport = "s.2"\n')
    (front,) = fronts.fronts(plan, get)
    rects = [rect.get("class") for rect in ET.fromstring(front.svg).iter(f"{SVG}rect")]
    assert rects == ["empty", "used", "empty", "empty", "empty"]


@pytest.mark.parametrize(
    ("rows", "numbered", "expected"),
    [
        (1, "along", [["1", "2", "3", "4", "5"]]),
        (2, "along", [["1", "2", "3"], ["4", "5"]]),
        (2, "across", [["1", "3", "5"], ["2", "4"]]),
        (3, "across", [["1", "4"], ["2", "5"], ["3"]]),
    ],
)
def test_ports_stand_as_on_the_front(rows: int, numbered: str, expected: list[list[str]]) -> None:
    """Ports are drawn in the rows that the plan gives, one row after the other or pair by pair."""
    plan, get = read(f'[[switch]]\nid = "s"\nports = 5\nrows = {rows}\nnumbered = "{numbered}"\n')
    (front,) = fronts.fronts(plan, get)
    heads: dict[float, list[tuple[float, str]]] = {}
    for text in ET.fromstring(front.svg).iter(f"{SVG}text"):
        if text.get("class") == "head":
            heads.setdefault(float(text.get("y", 0)), []).append((float(text.get("x", 0)), text.text or ""))
    assert [[name for _, name in sorted(row)] for _, row in sorted(heads.items())] == expected


def test_leads_are_drawn_at_their_connectors(root: Path) -> None:
    """A lead that says no pins is drawn on those that it goes on; a harness that is wired alike shares the drawing."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    drawn = {one.title.partition(":")[0]: one for one in connectors.drawings(plan, get)}
    header = ET.fromstring(drawn["n1.header .. n6.header"].svg)
    words = [text.text for text in header.iter(f"{SVG}text")]
    used = {pin: words[words.index(pin) : words.index(pin) + 3][2] for pin in ("2", "4", "6", "9")}
    assert used == {"2": "red", "4": "red", "6": "black", "9": "black"}
    assert [rect.get("class") for rect in header.iter(f"{SVG}rect")].count("used") == 4
    clamped = [text.text for text in ET.fromstring(drawn["disks.12v"].svg).iter(f"{SVG}text")]
    assert clamped == ["1", "+", "4 × yellow", "2", "gnd", "4 × black"]


TEN = """[[part]]
id = "ten"
kind = "plug"
title = "ten in a row"
source = "invented"
ohms = "10 mohm"
seen = "wires"
[part.pins]
1 = "+"
2 = "gnd"
3 = "signal"
4 = "signal"
5 = "signal"
6 = "signal"
7 = "signal"
8 = "signal"
9 = "signal"
10 = "signal"
[[feed]]
id = "f"
volts = "5 V"
plug = "screw-2"
[[node]]
id = "n"
from = "f"
volts = "5 V"
plug = "ten"
[[node]]
id = "m"
from = "f"
volts = "5 V"
plug = "ten"
[[node]]
id = "q"
from = "f"
volts = "5 V"
[[harness]]
id = "h"
[[harness.splice]]
id = "j"
plug = "joint-lever-12awg"
[[harness.wire]]
from = "f.1"
to = "j"
colour = "red"
[[harness.wire]]
from = "j"
to = "n.1"
colour = "red"
[[harness.wire]]
from = "j"
to = "m.1"
[[harness.wire]]
from = "f.2"
to = "n.2"
colour = "black"
[[harness.wire]]
from = "f.2"
to = "m.2"
colour = "blue"
[[harness.wire]]
from = "f.1"
to = "q.7"
colour = "red"
"""


def test_a_plug_of_ones_own_with_a_joint_and_a_socket_that_is_not_known() -> None:
    """Columns without wires are counted; colours that differ are told; a joint is no connector, a pin unknown "?"."""
    plan, get = read(TEN)
    drawn = {d.title.partition(":")[0]: d for d in connectors.drawings(plan, get)}
    assert list(drawn) == ["f", "n", "m"]
    told = "seen from behind the thing; its plug looks the same onto the face that goes in; 4 columns to the right"
    assert drawn["n"].title == f"n: ten, {told} of these have no wire"
    words = {
        name: [text.text for text in ET.fromstring(d.svg).iter(f"{SVG}text")] for name, d in drawn.items()
    }
    assert words["f"] == ["1", "+", "2 × red", "2", "gnd", "black + blue"]
    assert words["m"][:6] == ["1", "+", "?", "2", "gnd", "blue"]
    assert [word for word in words["m"] if str(word).isdigit()] == ["1", "2", "3", "4", "5", "6"]
    rows = as_rows(connectors.connectors(plan, get)[0])
    assert {row["socket"] for row in rows} == {"f", "n", "m", "q"}
    assert [(row["to"], row["colour"]) for row in rows if row["socket"] == "m"] == [
        ("h.j", None),
        ("f.2", "blue"),
    ]
    assert [row["signal"] for row in rows if row["socket"] == "q"] == [None]
    wide = TEN.replace('to = "m.2"', 'to = "m.6"')
    titles = [d.title for d in connectors.drawings(*read(wide))]
    assert any(title.startswith("m: ") and "2 columns to the right" in title for title in titles)
    one_less = (
        TEN.replace('10 = "signal"\n', "").replace('9 = "signal"\n', "").replace('to = "m.2"', 'to = "m.6"')
    )
    assert not any(
        "columns" in d.title for d in connectors.drawings(*read(one_less)) if d.title.startswith("m: ")
    )


def test_a_return_past_a_fuse_is_told_but_not_drawn(root: Path) -> None:
    """It has no pins: one joint, a row for each wire."""
    titles = [d.title for d in drawn(root, "gorse-hill")]
    assert not any("past" in title for title in titles)


def test_poles_without_numbers_are_connectors_too(root: Path) -> None:
    """A ring, a barrel, a plug with marks: drawn by pole; returns past an in-line thing are joined, wire by wire."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    drawn = {one.title: one for one in connectors.drawings(plan, get)}
    bank = next(one for title, one in drawn.items() if title.startswith("bank:"))
    behind = "; on the far side of its 20 A blade fuse, never before it"
    assert bank.title == f"bank: ring-m8, seen by its marks{behind}"
    fused = next(title for title in drawn if title.startswith("block.1 .. block.6:"))
    assert fused.endswith("; on the far side of its 3 A blade fuse, never before it")
    assert next(title for title in drawn if title.startswith("guard.out")).endswith("never before it")
    assert next(title for title in drawn if title.startswith("guard.in")).endswith("terminals")
    assert not any("fuse" in title for title in drawn if title.startswith(("n1", "five", "disks", "sw")))
    words = [text.text for text in ET.fromstring(bank.svg).iter(f"{SVG}text")]
    assert words == ["+", "plus", "3 × brown", "-", "return", "3 × black"]
    rows = as_rows(connectors.connectors(plan, get)[0])
    joined = [row for row in rows if row["socket"] == "the return past guard"]
    assert [(row["colour"], row["to"]) for row in joined] == [
        ("black", "bank: -"),
        ("black", "the return past main"),
    ]
    assert all(not row["pin"] and not row["seen"] for row in joined)


@pytest.mark.parametrize(
    ("centre", "pole"), [("positive", {"centre": "plus"}), ("negative", {"centre": "return"})]
)
def test_the_poles_of_a_barrel(centre: str, pole: dict[str, str]) -> None:
    """The plan says whether the centre is the plus, and the wires go there; each conductor is told at both ends."""
    plan, get = read(
        f"""
[[feed]]
id = "f"
volts = "12 V"
plug = "screw-2"
[[appliance]]
id = "a"
from = "f"
plug = "barrel-5.5-2.1"
centre = "{centre}"
lead = "18 AWG, 200 mm"
"""
    )
    rows = {(row["socket"], row["pin"]): row for row in as_rows(connectors.connectors(plan, get)[0])}
    assert {"centre": rows["a", "centre"]["signal"]} == pole
    plus = "centre" if centre == "positive" else "sleeve"
    assert rows["f.out", "1"]["to"] == f"a: {plus}"
    assert rows["a", plus]["to"] == "f.out.1"


def test_every_point_is_in_the_tree(root: Path) -> None:
    """Each point stands in one box, alone or with those that are alike; ends are the least and the most."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    (drawing,) = tree.trees(plan, get)
    words = [text.text or "" for text in ET.fromstring(drawing.svg).iter(f"{SVG}text")]
    for name in (
        "bank",
        "five",
        "five.5v",
        "block.1 .. block.6",
        "n1.header .. n6.header",
        "store.12v",
        "sw",
    ):
        assert name in words, name
    disks = words[words.index("d1.12v .. d4.12v") :][:3]
    # 12.038 V to 12.079 V, 11.548 V at least and 2.91 A at most: the rows of the table, rounded
    assert words[words.index("guard") :][3] == "fuse 5 A blade"
    assert disks[1:] == ["12 V to 12.1 V, ≥ 11.5 V", "2.91 A each"]


def bars(drawing: Drawing) -> list[float]:
    """Return how far each bar of a drawing is filled."""
    rects: dict[str, list[float]] = {"track": [], "bar": []}
    for rect in ET.fromstring(drawing.svg).iter(f"{SVG}rect"):
        if rect.get("class") in rects:
            rects[str(rect.get("class"))].append(float(rect.get("width", "")))
    return [bar / track for bar, track in zip(rects["bar"], rects["track"], strict=True)]


def test_bars_are_shares_of_what_is_allowed(root: Path) -> None:
    """As long as the table says amps over allowed, in the order of the tree; never longer than full."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    (drawing,) = tree.trees(plan, get)
    rows: list[dict[str, Any]] = [*as_rows(power_tree.power_tree(plan, get)[0])]
    shares = {r["name"]: r["amps"] / r["limit"] for r in rows if r["limit"] and r["amps"]}
    names = ("bank", "five.5v", "disks.5v", "disks.12v", "main")
    assert bars(drawing) == pytest.approx([shares[name] for name in names], rel=1e-3)
    text = CLOSE.replace('"10 A"\npeak = "10.2 A for 5 s"', '"3 A"').replace(
        "[[appliance]]", '[[appliance]]\namps = "5 A"'
    )
    assert bars(tree.trees(*read(text))[0]) == [1, 1]


def test_lines_are_as_thick_as_their_amps(root: Path) -> None:
    """The thickest is that of the most amps; disks that peak in turn take no more than their carrier hands on."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    (drawing,) = tree.trees(plan, get)
    rows: list[dict[str, Any]] = [*as_rows(power_tree.power_tree(plan, get)[0])]
    amps = {str(row["name"]): row["amps"] for row in reversed(rows)}  # the inlet where both are called so
    handed = {row["name"]: row["amps"] for row in rows if row["kind"] == "outlet"}
    names = [
        "five", "five.5v", "block", "block.1", "n1.header", "disks", "disks.5v", "store.5v", "d1.5v", "disks.12v",
        "store.12v", "d1.12v", "fan1", "radio", "guard", "main", "sw",
    ]  # fmt: skip
    many = {"block.1": 6, "n1.header": 6, "d1.5v": 4, "d1.12v": 4, "fan1": 2}
    carried = {name: amps[name] * many.get(name, 1) for name in names}
    assert carried["d1.12v"] > 1.5 * handed["store.12v"]
    carried["d1.5v"], carried["d1.12v"] = handed["store.5v"], handed["store.12v"]
    styles = [path.get("style", "") for path in ET.fromstring(drawing.svg).iter(f"{SVG}path")]
    whole = max(amps["bank"], *carried.values())
    expected = sorted(1.5 + 4.5 * one / whole for one in carried.values())
    assert sorted(float(style.partition(": ")[2]) for style in styles) == pytest.approx(expected, rel=5e-3)


def test_the_least_is_never_rounded_up(root: Path) -> None:
    """What a box says arrives at least is no more than the table says of any of its points."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    (drawing,) = tree.trees(plan, get)
    rows: list[dict[str, Any]] = [*as_rows(power_tree.power_tree(plan, get)[0])]
    low = {row["name"]: row["low"] for row in reversed(rows) if isinstance(row["low"], float)}
    words = [str(text.text) for text in ET.fromstring(drawing.svg).iter(f"{SVG}text")]
    seen = 0
    for name, line in pairwise(words):
        match = re.search(r"≥ ([\d.]+) V", line)
        if match and name.split(" ")[0] in low:
            of = low[name.split(" ")[0]]
            seen += 1
            assert of * 0.99 < float(match[1]) <= of, (name, line, of)
    assert seen > 12


def test_alike_is_what_hangs_alike() -> None:
    """A board behind another fuse is not put into one box with the rest."""
    plan, get = read("""
[[feed]]
id = "f"
volts = "5 V"
amps = "20 A"
[[inline]]
id = "b"
what = "fuse"
from = "f"
[[inline.outlet]]
id = "1 .. 2"
fuse = "3 A blade"
[[inline.outlet]]
id = "3"
fuse = "5 A blade"
[[node]]
id = "n1 .. n3"
from = "b.1 .. b.3"
volts = "4.7 V .. 5.3 V"
peak = "5 W"
lead = "20 AWG, 300 mm"
""")
    (drawing,) = tree.trees(plan, get)
    words = [text.text for text in ET.fromstring(drawing.svg).iter(f"{SVG}text")]
    assert "b.1 and b.2" in words
    assert "n1 and n2" in words
    assert "n3" in words
    assert words.count("fuse 3 A blade") == words.count("fuse 5 A blade") == 1


CLOSE = """
[[feed]]
id = "f"
volts = "12 V"
amps = "10 A"
peak = "10.2 A for 5 s"
[[appliance]]
id = "a"
from = "f"
volts = "9 V .. 14 V"
peak = "9.9 A"
"""


@pytest.mark.program("chromium")
@pytest.mark.xdist_group("browser")
@pytest.mark.parametrize("name", ["gorse-hill", "reed-marsh", "ferry-cabin", "tidepool-draft", "close"])
def test_plots_have_no_text_on_another(root: Path, browser: Browser, name: str, tmp_path: Path) -> None:
    """Measured in a browser: each number of a plot is within the picture and on no other."""
    text = CLOSE if name == "close" else (root / "inventories" / f"{name}.toml").read_text()
    plan, get = read(text, name)
    tab = browser.new_page()
    for drawing in courses.plots(plan, get):
        file = tmp_path / f"{drawing.name}.svg"
        file.write_text(standalone(drawing))
        tab.goto(file.as_uri())
        size = ET.fromstring(drawing.svg)
        whole = [0.0, 0.0, float(size.get("width", "")), float(size.get("height", ""))]
        texts = tab.evaluate(MEASURE)
        for n, text in enumerate(texts):
            assert inside(text, whole), text
            assert not any(meet(text, other) for other in texts[:n]), text
    tab.close()


def test_a_plot_shows_what_is_played(root: Path) -> None:
    """The line of disks.12v is as high at the last motor as its peak, and where the rehearsal steps, it steps."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    course = next(c for c in get("rehearsal").start.courses if c.source.name == "disks.12v")
    drawing = next(d for d in courses.plots(plan, get) if "disks.12v" in d.title)
    way = next(
        p.get("d", "") for p in ET.fromstring(drawing.svg).iter(f"{SVG}path") if p.get("class") == "course"
    )
    heights = [float(y) for y in re.findall(r"(?:V|^M[0-9.]+ )([0-9.]+)", way)]
    moments = [float(x) for x in re.findall(r"[MH]([0-9.]+)", way)][: len(course.amps)]
    assert len(heights) == len(course.amps)
    base, top = courses.TOP + courses.HEIGHT, min(heights)
    for y, x, (at, amps) in zip(heights, moments, course.amps, strict=True):
        assert (base - y) / (base - top) == pytest.approx(amps / course.peak, abs=2e-3)
        whole = course.amps[-1][0]
        first, last = moments[0], moments[-1]
        assert (x - first) / (last - first) == pytest.approx(at / whole, abs=2e-3)

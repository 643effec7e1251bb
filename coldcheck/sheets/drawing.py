"""Drawings as SVG: boxes with lines of text in a grid, made of data, safe whatever a text holds.

Colours come from classes, so that a page gives a drawing its own light and dark; a file by itself carries `STYLE`. What
a colour says stands there in words as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree as ET

import msgspec

from coldcheck.plan.spans import listed

from .table import one_line

__all__ = [
    "RULES",
    "STYLE",
    "Box",
    "Drawing",
    "Knot",
    "boxes",
    "canvas",
    "drawing",
    "printed",
    "standalone",
    "tree",
]

#: How wide letters are at most, as shares of the size of the type, in bold of a wide face: those of each row, capitals
#: and digits, all others that are ASCII, and what is neither (measured in a browser; a test holds them).
LETTERS = (("WM@%mw&", 1.15), ("ABCDEFGHIJKLNOPQRSTUVXYZ0123456789", 0.82))
SMALL, FOREIGN = 0.72, 1.25
#: Size of the type, of a line of it, and what is left around it [px].
TYPE, LINE, EDGE = 11, 15, 5
#: How wide a band of colour is [px].
BAND = 8
GAP = 4
#: How high the bar of a share is [px].
BAR = 6
#: The thickness of the lines of a tree, the thinnest and the thickest [px].
THIN, THICK = 1.5, 6.0

#: How a drawing looks, in the colours of whatever holds it.
RULES = """
.drawing text { fill: var(--ink); font: 11px system-ui, sans-serif; }
.drawing .head { font-weight: 600; }
.drawing rect { fill: none; stroke: var(--faint); }
.drawing .used { stroke: var(--ink); stroke-width: 2.5; }
.drawing .empty { stroke-dasharray: 3 3; }
.drawing path { fill: none; stroke: var(--ink); stroke-width: 1.5; }
.drawing .course { stroke-width: 2.5; }
.drawing .limit { stroke-dasharray: 8 4; }
.drawing .band { stroke: var(--ink); stroke-width: 0.75; }
.drawing .bar { fill: var(--ink); stroke: none; }
.drawing .track { stroke-width: 0.75; }
"""
#: The same with colours of its own, for a file by itself.
STYLE = f"""
.drawing {{ --paper: #fdfdfb; --ink: #1b1e23; --faint: #565d68; background: var(--paper); }}
@media (prefers-color-scheme: dark) {{ .drawing {{ --paper: #15181c; --ink: #e7e9ec; --faint: #a5adb8; }} }}
{RULES}"""

#: Colours of wires by their names in the trade; one that is not among them is named, and drawn as no colour.
_FILLS = {
    "black": "#111", "brown": "#7a4a21", "red": "#d3202a", "orange": "#f08a1d", "yellow": "#f4d52b",
    "green": "#2c9a45", "blue": "#2664c9", "purple": "#8a3fb0", "violet": "#8a3fb0", "grey": "#8c9197",
    "gray": "#8c9197", "white": "#fafafa", "pink": "#f0a0b8", "turquoise": "#35bdb2",
}  # fmt: skip


class Box(msgspec.Struct):
    """One box: lines of text, the first of them its head; the names of colours shown as bands; whether it is in use.

    ``share`` [-] is drawn as a bar at its foot, full at one; a line of text says the same. None: no bar.
    """

    lines: list[str]
    colours: list[str] = []
    used: bool = False
    share: float | None = None


class Knot(msgspec.Struct):
    """A box of a tree, what hangs on it, and how thick the line to it is, from 0 to 1."""

    box: Box
    below: list[Knot] = []
    thick: float = 0.0


class Drawing(msgspec.Struct):
    """A drawing: a name for its file, what it shows, in words, the SVG, and how wide it is [px]."""

    name: str
    title: str
    svg: str
    width: float


def boxes(name: str, title: str, rows: Sequence[Sequence[Box | None]]) -> Drawing:
    """Draw boxes in rows and columns; None leaves a place empty."""
    every = [box for row in rows for box in row if box is not None]
    most = max((_length(line) for box in every for line in box.lines), default=1.0)
    deep = max((len(box.lines) for box in every), default=1)
    bands = BAND + GAP if any(box.colours for box in every) else 0
    width = max(34.0, most * TYPE + 2 * EDGE) + bands
    height = deep * LINE + 2 * EDGE
    columns = max((len(row) for row in rows), default=0)
    whole = columns * (width + GAP) + GAP, len(rows) * (height + GAP) + GAP
    root = canvas(title, whole)
    for y, row in enumerate(rows):
        for x, box in enumerate(row):
            if box is not None:
                corner = GAP + x * (width + GAP), GAP + y * (height + GAP)
                _box(root, box, corner, (width, height), bands)
    return drawing(name, title, root)


def drawing(name: str, title: str, root: ET.Element) -> Drawing:
    """Return what is drawn on a canvas."""
    return Drawing(name, title, ET.tostring(root, encoding="unicode"), float(root.get("width", "0")))


def canvas(title: str, size: tuple[float, float]) -> ET.Element:
    """Return the root of a drawing of a size [px]."""
    width, height = f"{size[0]:g}", f"{size[1]:g}"
    return ET.Element("svg", {
        "xmlns": "http://www.w3.org/2000/svg", "class": "drawing", "role": "img", "aria-label": one_line(title),
        "viewBox": f"0 0 {width} {height}", "width": width, "height": height,
    })  # fmt: skip


#: Between the columns of a tree, for its lines [px].
LANE = 26


def tree(name: str, title: str, top: Knot) -> Drawing:
    """Draw a tree from left to right; each knot stands at the height of the first that hangs on it."""
    widths: list[float] = []
    heights: list[float] = []

    def measure(knot: Knot, depth: int) -> None:
        if depth == len(widths):
            widths.append(0.0)
        widths[depth] = max(widths[depth], *(_length(line) * TYPE + 2 * EDGE for line in knot.box.lines))
        bar = BAR + 2 if knot.box.share is not None else 0
        heights.append(len(knot.box.lines) * LINE + bar + 2 * EDGE)
        for below in knot.below:
            measure(below, depth + 1)

    measure(top, 0)
    height = max(heights)
    lefts = [GAP + sum(widths[:n]) + n * LANE for n in range(len(widths))]
    root = ET.Element("g")

    def draw(knot: Knot, depth: int, row: int) -> int:
        """Draw a knot in a row and all that hangs on it in that row and below; give how many rows that takes."""
        y = GAP + row * (height + 2 * GAP)
        _box(root, knot.box, (lefts[depth], y), (widths[depth], height), 0)
        taken = 0
        for below in knot.below:
            start, end = lefts[depth] + widths[depth], lefts[depth + 1]
            to = GAP + (row + taken) * (height + 2 * GAP) + height / 2
            bend = start + LANE / 2
            way = f"M{start:g} {y + height / 2:g}H{bend:g}V{to:g}H{end:g}"
            thick = THIN + (THICK - THIN) * below.thick
            ET.SubElement(root, "path", {"d": way, "style": f"stroke-width: {thick:.3g}"})
            taken += draw(below, depth + 1, row + taken)
        return max(1, taken)

    rows = draw(top, 0, 0)
    whole = canvas(title, (lefts[-1] + widths[-1] + GAP, rows * (height + 2 * GAP) + GAP))
    whole.extend(root)
    return drawing(name, title, whole)


def in_few_words(names: Sequence[str]) -> str:
    """Return names as they fit in a box: all of two, a span, or the first and the last of many."""
    told = listed(names)
    return (
        told
        if len(names) < 3 or (told.count(" .. ") == 1 and "," not in told)
        else f"{names[0]} to {names[-1]}"
    )


def _length(text: str) -> float:
    """Return how wide a text is at most, in sizes of the type."""

    def wide(letter: str) -> float:
        return next(
            (share for letters, share in LETTERS if letter in letters), SMALL if letter.isascii() else FOREIGN
        )

    return sum(map(wide, text))


def _box(
    root: ET.Element, box: Box, corner: tuple[float, float], size: tuple[float, float], bands: float
) -> None:
    (x, y), (width, height) = corner, size
    kind = "used" if box.used else "empty"
    ET.SubElement(root, "rect", {
        "class": kind, "x": f"{x:g}", "y": f"{y:g}", "width": f"{width:g}", "height": f"{height:g}", "rx": "3",
    })  # fmt: skip
    for n, colour in enumerate(box.colours):
        share = (height - 8) / len(box.colours)
        ET.SubElement(root, "rect", {
            "class": "band", "x": f"{x + 4:g}", "y": f"{y + 4 + n * share:g}", "width": f"{BAND:g}",
            "height": f"{share:g}", "style": f"fill: {_FILLS.get(colour.strip().lower(), 'none')}",
        })  # fmt: skip
    if box.share is not None:
        foot, room = y + height - EDGE - BAR, width - 2 * EDGE
        for kind, wide in (("track", room), ("bar", room * min(1.0, max(0.0, box.share)))):
            ET.SubElement(root, "rect", {
                "class": kind, "x": f"{x + EDGE:g}", "y": f"{foot:g}", "width": f"{wide:g}", "height": f"{BAR:g}",
            })  # fmt: skip
    for n, line in enumerate(box.lines):
        text = ET.SubElement(root, "text", {
            "x": f"{x + EDGE + bands:g}", "y": f"{y + EDGE + n * LINE + TYPE:g}", **({} if n else {"class": "head"}),
        })  # fmt: skip
        text.text = one_line(line)


def printed(drawing: Drawing) -> str:
    """Return the SVG with its style inside, black on white, for programs that know no colours by name."""
    root = ET.fromstring(drawing.svg)
    style = ET.Element("style")
    style.text = RULES.replace("var(--ink)", "#000").replace("var(--faint)", "#555")
    root.insert(0, style)
    ET.register_namespace("", "http://www.w3.org/2000/svg")
    return ET.tostring(root, encoding="unicode")


def standalone(drawing: Drawing) -> str:
    """Return the SVG as a file of its own, with its style and its title."""
    root = ET.fromstring(drawing.svg)
    style, title = ET.Element("style"), ET.Element("title")
    style.text, title.text = STYLE, one_line(drawing.title)
    root.insert(0, style)
    root.insert(0, title)
    ET.register_namespace("", "http://www.w3.org/2000/svg")
    return ET.tostring(root, encoding="unicode", xml_declaration=False) + "\n"

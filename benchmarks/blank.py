"""Plans left blank, to be filled: boards behind fuse blocks, each board 5 V at its header, and a switch to each box."""

from __future__ import annotations

import re

__all__ = ["FIVE", "boards_of", "rack", "span"]

#: A converter to 5 V with a fuse block behind it: number, lengths [mm], outlets.
FIVE = """
[[supply]] # boards
id = "five{n}"
part = "buck-24v-to-5v-25a"
plug = "screw-2"
lead = "{length} mm"

[[supply.rail]]
id = "5v"
volts = "5.14 V" # trimmed
spread = "1 %"

[[inline]]
id = "block{n}"
what = "fuse"
from = "five{n}.5v"
plug = "screw-2"
lead = "{short} mm"

[[inline.outlet]]
id = "1 .. {outlets}" # fused
plug = "screw-2"
"""
_BOARDS = """
[[node]]
id = "{name}1 .. {name}{count}" # boards of kind {name}
part = "{part}"
into = "header"
lead = "{length} mm"
{mac}"""
_MAINS = """
[[feed]] # behind a fused inlet; who is no electrician leaves the mains side alone
id = "mains{n}"
part = "enclosed-24v-10a"
"""


def boards_of(name: str, count: int, part: str, length: int, mac: str = "") -> str:
    """Return an entry of boards: their names start alike, their leads are ``length`` [mm] long."""
    return span(_BOARDS.format(name=name, count=count, part=part, length=length, mac=mac))


def span(text: str) -> str:
    """Return a table whose span of one thing is written as that thing."""
    return re.sub(r'"([\w-]+?)1 \.\. \1(1)"', r'"\g<1>1"', text)


def rack(boards: int) -> str:
    """Return a plan of many boards, in boxes of eight: a converter, a fuse block and a switch to each; three boxes to a
    supply, and all of them on one switch. All else is blank.
    """
    boxes = -(-boards // 8)
    pieces = ["[plan]\nformat = 1\n"]
    pieces += [_MAINS.format(n=n) for n in range(1, -(-boxes // 3) + 1)]
    pieces.append(f'\n[[switch]]\nid = "core"\nports = {boxes}\nown_power = true\n')
    for n in range(1, boxes + 1):
        count = min(8, boards - 8 * (n - 1))
        pieces.append(FIVE.format(n=n, length=400, short=80, outlets=count))
        pieces.append(boards_of(f"b{n}-", count, "board-4core-5v-3a", 340))
        pieces.append(f'\n[[switch]]\nid = "sw{n}"\nports = 9\nown_power = true\n')
        pieces.append(f'\n[[link]]\nfrom = "sw{n}.9"\nto = "core.{n}"\ncable = "cat 6, 2 m"\n')
    pieces.append('\n[[subnet]]\nprefix = "10.20.0.0/20"\n')
    return "".join(pieces)

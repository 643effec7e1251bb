"""House rules of one workshop: an example of rules that a site adds. Copy it, and change what your house wants.

    coldcheck lint plan.toml --rules plugins

It has all that a module of rules can have: a working of its own, rules that ask for it and for built-in workings, a
finding with an edit, and cases. Nothing has to be registered.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Put, cases, rule, working
from coldcheck.plan.model import InletPoint, Plan

#: A workshop that cuts leads in few lengths has fewer left over.
MOST_LENGTHS = 4


@working(reads=("supply", "node", "storage", "switch", "fan", "appliance"))
def lengths(inlets: list[InletPoint]) -> dict[float, list[InletPoint]]:
    """The inlets by the length of their lead [m]."""
    found: dict[float, list[InletPoint]] = defaultdict(list)
    for inlet in inlets:
        if inlet.lead is not None and inlet.lead.length is not None:
            found[inlet.lead.length].append(inlet)
    return dict(found)


@rule(level="note", over="plan")
def few_lengths(plan: Plan, lengths: dict[float, list[InletPoint]]) -> Iterator[Finding]:
    """Leads are cut in no more than four lengths.

    Each length is one more stop on the cutting board, one more bag of spares, one more chance to pick the wrong one.
    """
    if len(lengths) <= MOST_LENGTHS:
        return
    rarest = min(lengths, key=lambda length: (len(lengths[length]), length))
    nearest = min((x for x in lengths if x > rarest), default=max(x for x in lengths if x != rarest))
    yield Finding(
        "note",
        lengths[rarest][0],
        f"leads have {len(lengths)} lengths; {MOST_LENGTHS} are wanted",
        found=str(len(lengths)),
        allowed=str(MOST_LENGTHS),
        because=", ".join(f"{len(lengths[x])} × {Measure(x, 'm')}" for x in sorted(lengths)),
        remedy=f"make {Measure(rarest, 'm')} a {Measure(nearest, 'm')} too, if the volts allow it",
        place="lead",
    )


_BOX = """
[[feed]]
id = "five"
volts = "5 V"
[[node]]
id = "n1 .. n4"
from = "five"
lead = "20 AWG, 100 mm .. 400 mm by 100 mm"
[[node]]
id = "n5"
from = "five"
lead = "20 AWG, {} mm"
"""

cases(
    few_lengths,
    clean=[_BOX.format(400)],
    flagged=[Case(_BOX.format(500), found="5", mended=_BOX.format(400))],
)


@rule(level="warning", over="node")
def numbered_address(node: Any) -> Iterator[Finding]:
    """The number of a board ends its address: n3 is at .3, .13 or .103.

    At the bench a person reads the label on the board and types the address without looking it up.
    """
    number = re.search(r"(\d+)$", node.id)
    if number is None or len(node.address) != 1 or "." not in node.address[0]:
        return
    head, _, last = node.address[0].partition("/")[0].rpartition(".")
    if last.endswith(number[1]):
        return
    wanted = f"{head}.{100 + int(number[1])}" if int(number[1]) < 156 else ""
    yield Finding(
        "warning",
        node,
        f"{node.id} is at {node.address[0]}, which does not end in {number[1]}",
        found=node.address[0],
        allowed=wanted,
        remedy=f"give it {wanted}" if wanted else "give it an address that ends in its number",
        edits=(Put((*node.path, "address"), wanted),) if wanted else (),
        place="address",
    )


_NODE = '[[node]]\nid = "n3"\naddress = "{}"\n'

cases(
    numbered_address,
    clean=[_NODE.format("10.0.0.13"), _NODE.format("10.0.0.3"), _NODE.format("fd00::7")],
    flagged=[Case(_NODE.format("10.0.0.14"), at="n3", mended=_NODE.format("10.0.0.103"))],
)

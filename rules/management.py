"""Management ports: they have a cable of their own, and nobody takes them for data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, cases, rule
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.spans import listed

_NETWORKED = ("node", "storage", "switch", "appliance")


@rule(level="warning", over="plan")
def unplugged(plan: Plan) -> Iterator[Finding]:
    """A management port has a cable.

    It is the way in when the thing itself does not answer, and the day on which that shows is the wrong one to look for
    a cable and a free port.

    Source: common practice.
    """
    if not plan.links and not plan.table("switch"):
        return  # a plan without a network
    none: set[int] = set()  # the ports of a part are one tuple for all of its kind
    for table in _NETWORKED:
        for thing in plan.table(table):
            if id(thing.port_) in none:
                continue
            bare = [p.id for p in thing.port_ if p.for_ == "management" and p.to is None and not p.unused]
            if not bare:
                none.add(id(thing.port_))
            elif names := _without_cable(plan, thing, bare):
                yield Finding(
                    "warning",
                    thing,
                    f"no cable is written for the management port {listed(names)}",
                    place=("port", "part"),
                    remedy=_remedy(table),
                )


def _remedy(table: str) -> str:
    words = f'say where it leads: to = "..." under [[{table}.port]] with its id, or a [[link]]'
    return f"{words}; or unused = true there, if it stays free"


def _without_cable(plan: Plan, thing: Any, ids: list[str]) -> list[str]:
    points = {point.id: point for point in plan.ports.get(thing.id, ())}
    return [f"{thing.id}.{name}" for name in ids if name not in points or not points[name].links]


_SW = '[[switch]]\nid = "sw"\nports = 4\n'
_MANAGED = _SW + '[[switch.port]]\nid = "m"\nfor = "management"\n'
_NODE = '[[node]]\nid = "{}"\n[[node.port]]\nid = "e"\nto = "sw.{}"\n'
_OWN = '[[node.port]]\nid = "m"\nfor = "management"\n'
_OTHER = '[[switch]]\nid = "s2"\nports = 4\n'
_LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
_BOARD = _SW + '[[part]]\nid = "p"\nkind = "node"\n[[part.port]]\nid = "e"\n[[part.port]]\nid = "m"\n'
_BOARD += 'for = "management"\n[[node]]\nid = "n1"\npart = "p"\n[[node.port]]\nid = "e"\nto = "sw.1"\n'
_UPLINK = '[[uplink]]\nfrom = "{}"\nto = "the hall"\n'

cases(
    unplugged,
    clean=[
        _SW + _NODE.format("n1", 1),
        _SW + _NODE.format("n1", 1) + _OWN + 'to = "sw.2"\n',
        _MANAGED + _UPLINK.format("sw.m"),
        _SW + _NODE.format("n1", 1) + _OWN + 'to = "sw.9"\n',  # its cable is written, and leads nowhere
        '[[node]]\nid = "n1"\n' + _OWN,
        _MANAGED + "unused = true\n",
        _BOARD + '[[node.port]]\nid = "m"\nunused = true\n',
    ],
    flagged=[
        Case(_SW + _NODE.format("n1", 1) + _OWN, at="n1.m", level="warning",
             mended=_SW + _NODE.format("n1", 1) + _OWN + 'to = "sw.2"\n'),
        Case(_BOARD, at="n1.m", level="warning", mended=_BOARD + '[[node.port]]\nid = "m"\nunused = true\n'),
        Case(_MANAGED, at="sw.m", level="warning", mended=_MANAGED + _OTHER + _LINK.format("sw.m", "s2.1")),
        Case(_SW + _NODE.format("n1 .. n3", "1 .. sw.3") + _OWN, at="n1.m .. n3.m"),
    ],
)  # fmt: skip


@rule(level="error", over="links")
def used_for_data(line: LinkLine) -> Iterator[Finding]:
    """Nothing but management is plugged into the management port of a switch.

    The port leads to the switch's own computer and not to its other ports: what is plugged in there reaches nothing.

    Source: common practice.
    """
    for end, other in ((line.a, line.b), (line.b, line.a)):
        if end is None or other is None or not end.apart or end.thing.table != "switch":
            continue
        if other.apart or _passes_on(other):
            continue
        says = f"plugged into the management port {end}, which passes nothing on: {other}"
        yield Finding(
            "error", other.thing, says, path=line.path, remedy="plug it into another port of the switch"
        )


def _passes_on(port: PortPoint) -> bool:
    """Say whether a port is one of many behind which whoever manages may sit: that of a switch, or of what bridges."""
    return port.thing.table == "switch" or bool(port.thing.bridges)


cases(
    used_for_data,
    clean=[
        _MANAGED + _NODE.format("n1", 1),
        _MANAGED + _OTHER + _LINK.format("sw.m", "s2.1"),
        _MANAGED + _LINK.format("sw.m", "sw.1"),
        _MANAGED + _UPLINK.format("sw.m"),
        _MANAGED + _NODE.format("n1", 1) + _OWN + 'to = "sw.m"\n',
        _SW + _NODE.format("n1", 1) + 'for = "management"\n',
        _MANAGED + '[[appliance]]\nid = "ap"\nport = "sw.m"\nbridges = true\n',
    ],
    flagged=[
        Case(_MANAGED + _NODE.format("n1", "m"), at="n1", level="error", mended=_MANAGED + _NODE.format("n1", 2)),
        Case(_MANAGED + '[[storage]]\nid = "s"\n' + _LINK.format("sw.m", "s"), at="s", level="error"),
    ],
)  # fmt: skip

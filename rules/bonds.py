"""Bonds: cables that count as one link join the same two things, are alike, and end in what can bundle them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Open, cases, rule
from coldcheck.plan.model import Plan, PortPoint
from coldcheck.plan.quantities import show
from coldcheck.plan.spans import listed
from coldcheck.workings.bonds import Bond
from coldcheck.workings.ports import LinkSpeed, top_of
from coldcheck.workings.segments import Segments


@rule(level="error", over="bonds")
def apart(bond: Bond) -> Iterator[Finding]:
    """All cables of a bond join the same two things.

    A bond is one link to either side. Where its cables end in two switches, each of them sees half of a link that it
    knows nothing of: frames come back by the other one, or the two cables close a loop. Two switches that act as one
    can do it, and no key of a plan says that they do.

    Source: common practice; link aggregation, IEEE 802.1AX (from memory).
    """
    if bond.together:
        return
    first, last = bond.lines[0], bond.lines[-1]
    common = sorted(bond.common)
    ends = sorted({name for pair in bond.ends for name in pair} - set(common))
    if common:
        says = (
            f"the cables of the bond {bond.name} lead from {common[0]} to {listed(ends)}: a bond has two ends"
        )
        remedy = f"let all of them end in {ends[0]}, or make them links of their own; switches that act as one cannot "
        remedy += "be said here: waive this where they do"
    else:
        says = f"the cables of the bond {bond.name} join {listed(ends)}: a bond has two ends"
        remedy = "give each pair of things a bond of its own name"
    yield Finding("error", first.a.thing, says, found=str(len(set(bond.ends)) + 1), allowed="2", path=first.path,
                  remedy=remedy, related=[(last.path, "another of its cables")])  # fmt: skip


_SW = '[[switch]]\nid = "{}"\nbonds = true\n[[switch.port]]\nid = "1 .. 4"\nspeed = "{}"\n'
_NODE = (
    '[[node]]\nid = "n1"\nbond = "b"\n[[node.port]]\nid = "1"\nspeed = "1 Gbit/s"\nto = "{}"\n'
    '[[node.port]]\nid = "2"\nspeed = "1 Gbit/s"\nto = "{}"\n'
)
_LINK = '[[link]]\nfrom = "{}"\nto = "{}"\nbond = "trunk"\n'
_ONE, _TWO = _SW.format("sw", "1 Gbit/s"), _SW.format("s2", "1 Gbit/s")
_TRUNK = _LINK.format("sw.1", "s2.1") + _LINK.format("sw.2", "s2.2")
_LOST = '[[link]]\nfrom = "sw.2"\nto = "s2.9"\nbond = "trunk"\n'

cases(
    apart,
    clean=[
        _ONE + _NODE.format("sw.1", "sw.2"),
        _ONE + _TWO + _TRUNK,
        _ONE + _TWO + _LINK.format("sw.1", "s2.1") + _LINK.format("s2.2", "sw.2"),
        _ONE + _TWO + _NODE.format("sw.1", "s2.1").replace('bond = "b"\n', ""),
        # A management port has no part in the bond of its thing.
        _ONE + _TWO + _NODE.format("sw.1", "sw.2") + '[[node.port]]\nid = "m"\nfor = "management"\nto = "s2.1"\n',
    ],
    flagged=[
        Case(_ONE + _TWO + _NODE.format("sw.1", "s2.1"), at="from n1 to s2 and sw", found="3", level="error",
             mended=_ONE + _TWO + _NODE.format("sw.1", "sw.2")),
        Case(_ONE + _TWO + '[[node]]\nid = "n1"\n[[node]]\nid = "n2"\n' + _LINK.format("n1", "sw.1")
             + _LINK.format("n2", "s2.1"), at="join n1, n2, s2 and sw", level="error"),
        Case(_ONE + _NODE.format("sw.1", "sw.2") + '[[uplink]]\nfrom = "n1.3"\nto = "the hall"\n'
             + '[[node.port]]\nid = "3"\n', at="sw and the hall", level="error"),
    ],
)  # fmt: skip


@rule(level="warning", over="bonds")
def single(bond: Bond) -> Iterator[Finding]:
    """A bond has two cables or more.

    One cable carries no more for being called a bond, and outlasts nothing: the other was forgotten, or has another
    name.

    Source: common practice.
    """
    if len(bond.lines) == 1 and not bond.waits:
        line = bond.lines[0]
        says = f"one cable is all there is of the bond {bond.name}"
        yield Finding("warning", line.a.thing, says, found="1", allowed="2", path=line.path,
                      remedy="add the other cable, or take the bond out")  # fmt: skip


cases(
    single,
    clean=[
        _ONE + _NODE.format("sw.1", "sw.2"),
        _ONE + _TWO + _TRUNK,
        _ONE + _TWO + _LINK.format("sw.1", "s2.1") + _LOST,  # its other cable leads nowhere: that is the slip
    ],
    flagged=[
        Case(_ONE + _TWO + _LINK.format("sw.1", "s2.1"), at="trunk", found="1", level="warning",
             mended=_ONE + _TWO + _TRUNK),
        Case(_ONE + _NODE.format("sw.1", "sw.2").replace('bond = "b"\n', "") + 'bond = "b"\n', at="n1.b"),
    ],
)  # fmt: skip


@rule(level="error", over="bonds")
def unlike(bond: Bond, link_speeds: dict[int, LinkSpeed]) -> Iterator[Finding]:
    """All cables of a bond run at the same speed and the same duplex, and belong to one bond at both ends.

    What is dealt out among unlike cables comes in disorder, and most systems leave the slower ones out without a word.

    Source: text on bonding in the documentation of an operating system's kernel, section 12.1.1, read: all members have
    the same speed and duplex.
    """
    if not bond.together or len(bond.lines) < 2:
        return
    found = [link_speeds[id(line)] for line in bond.lines]
    if any(link.trouble or not link.kinds for link in found):
        return  # told by `speeds.settles` or `cables.plug`
    first, last = bond.lines[0], bond.lines[-1]
    speeds = sorted({link.speed for link in found if link.speed is not None})
    duplex = {link.full for link in found} - {None}
    if len(speeds) > 1 or len(duplex) > 1:
        what = (
            listed(show(bits, "bit/s") for bits in speeds) if len(speeds) > 1 else "half and at full duplex"
        )
        yield Finding("error", first.a.thing, f"the cables of the bond {bond.name} run at {what}", found=what,
                      path=first.path, remedy="use ports of one speed and duplex for all of them",
                      related=[(last.path, "another of its cables")])  # fmt: skip
    elif any(link.speed is None for link in found) and not _all_alike(bond):
        says = f"whether the cables of the bond {bond.name} run at one speed is open"
        yield Open("error", first.a.thing, says, ["speed"], path=first.path,
                   remedy="state the speed of the ports at both ends")  # fmt: skip
    yield from _two_names(bond)


def _all_alike(bond: Bond) -> bool:
    """Say whether all ports of an end are the same by what is stated: so then is their speed, whatever it is."""
    by_thing: dict[str, set[Any]] = {}
    for point in bond.points():
        spec = point.spec
        if top_of(spec) is None:
            return False
        facts = (spec.speed, spec.speeds, spec.negotiates, spec.duplex, spec.media, spec.module)
        by_thing.setdefault(point.thing.id, set()).add(facts)
    return all(len(facts) == 1 for facts in by_thing.values())


def _two_names(bond: Bond) -> Iterator[Finding]:
    """Tell of a bond whose ports belong to several bonds, by the word of the thing at one end."""
    names: dict[str, set[str]] = {}
    for point in bond.points():
        names.setdefault(point.thing.id, set()).add(point.bond or "")
    for thing, said in names.items():
        if len(said) > 1:
            others = listed(sorted(said - {""})) + (" and none" if "" in said else "")
            says = f"the cables of the bond {bond.name} belong to different bonds at {thing}: {others}"
            yield Finding("error", bond.lines[0].a.thing, says, path=bond.lines[0].path,
                          remedy="name the same bond at every port of that end")  # fmt: skip


_MIXED = _ONE + '[[switch.port]]\nid = "5"\nspeed = "100 Mbit/s"\n'
_HALF = _SW.format("sw", "100 Mbit/s") + '[[switch.port]]\nid = "5"\nspeed = "100 Mbit/s"\nduplex = "half"\n'
_UNSAID = '[[switch]]\nid = "sw"\nports = 4\nbonds = true\n'
_TENS = '[[switch.port]]\nid = "{}"\nspeed = "10 Gbit/s"\n'
_NAMED = _ONE.replace('"1 .. 4"', '"1"') + 'bond = "x"\n[[switch.port]]\nid = "2"\nspeed = "1 Gbit/s"\n'

cases(
    unlike,
    clean=[
        _ONE + _NODE.format("sw.1", "sw.2"),
        _ONE + _TWO + _TRUNK,
        _ONE + _TWO + _NODE.format("sw.1", "s2.1"),  # `bonds.apart` has that
        _UNSAID + _TENS.format("1 .. 2") + _NODE.format("sw.1", "sw.2").replace("1 Gbit/s", "2.5 Gbit/s"),
        _NAMED + 'bond = "x"\n' + _NODE.format("sw.1", "sw.2"),
    ],
    flagged=[
        Case(_MIXED + _NODE.format("sw.1", "sw.5"), at="n1.b", found="100 Mbit/s and 1 Gbit/s", level="error",
             mended=_MIXED + _NODE.format("sw.1", "sw.2")),
        Case(_HALF + _NODE.format("sw.1", "sw.5"), at="half", level="error"),
        Case(_UNSAID + _NODE.format("sw.1", "sw.2"), at="n1.b", kind="open",
             mended=_UNSAID.replace("ports = 4\n", "") + '[[switch.port]]\nid = "1 .. 2"\nspeed = "1 Gbit/s"\n'
             + _NODE.format("sw.1", "sw.2")),
        Case(_NAMED + 'bond = "y"\n' + _NODE.format("sw.1", "sw.2"), at="x and y", level="error",
             mended=_NAMED + 'bond = "x"\n' + _NODE.format("sw.1", "sw.2")),
        Case(_NAMED + _NODE.format("sw.1", "sw.2"), at="x and none", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def cannot(plan: Plan, bonds: list[Bond]) -> Iterator[Finding]:
    """A switch at the end of a bond can take several cables for one link.

    A switch that cannot treats each cable as a link of its own, and two of them to one place close a loop. Boards and
    storage can, by their software.

    Source: bridging without a spanning tree, IEEE 802.1D background (from memory); boards: common practice.
    """
    at: dict[int, tuple[Any, list[Bond]]] = {}
    for bond in bonds:
        if not bond.together:
            continue
        for thing in {id(p.thing): p.thing for p in bond.points() if p.thing.table == "switch"}.values():
            at.setdefault(id(thing), (thing, []))[1].append(bond)
    for switch, found in at.values():
        names, lines = listed(bond.name for bond in found), [line for bond in found for line in bond.lines]
        related = [(lines[0].path, "a cable of it")]
        if switch.bonds is False:
            says = f"no bond can end at {switch.id}, which takes each cable for a link of its own: {names}"
            yield Finding("error", switch, says, place=("bonds", "part"), related=related,
                          remedy="take a switch that can, or one cable of one faster port")  # fmt: skip
        elif switch.bonds is None:
            says = f"whether {switch.id} can take several cables for one link is not said: {names}"
            yield Open("error", switch, says, ["bonds"], related=related, remedy="say it: bonds = true")


_NOT = _ONE.replace("bonds = true", "bonds = false")

cases(
    cannot,
    clean=[
        _ONE + _NODE.format("sw.1", "sw.2"),
        _ONE + _TWO + _TRUNK,
        _NOT + _NODE.format("sw.1", "sw.2").replace('bond = "b"\n', ""),
        _NOT + _TWO + _NODE.format("sw.1", "s2.1"),  # `bonds.apart` has that
    ],
    flagged=[
        Case(_NOT + _NODE.format("sw.1", "sw.2"), at="sw", level="error", mended=_ONE + _NODE.format("sw.1", "sw.2")),
        Case(_NOT + _TWO + _TRUNK, at="sw", level="error", mended=_ONE + _TWO + _TRUNK),
        Case(_ONE.replace("bonds = true\n", "") + _NODE.format("sw.1", "sw.2"), at="sw", kind="open",
             mended=_ONE + _NODE.format("sw.1", "sw.2")),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def unsaid(plan: Plan, segments: Segments) -> Iterator[Finding]:
    """Two cables from a machine to one switch, in one network, are a bond, or have addresses of their own.

    Otherwise the machine answers by either for the other and sends by one alone: the second cable carries nothing, and
    what is behind it changes with the order in which the ports come up.

    Source: common practice; RFC 1122 section 3.3.4 on machines with several ports (from memory).
    """
    groups: dict[Any, list[tuple[Any, list[PortPoint]]]] = {}
    if plan.head.redundant:
        return  # `topology.single_point` speaks of what hangs on one switch
    for table in ("node", "storage", "appliance"):
        for thing in plan.table(table):
            if len(plan.ports.get(thing.id, ())) > 1 and thing.id not in segments.clear:
                for switch, points in _beside(plan, segments, thing):
                    groups.setdefault((thing.path, switch), []).append((thing, points))
    for (_, switch), found in groups.items():
        thing, points = found[0]
        names = tuple(each.id for each, _ in found)
        ports = listed(point.id for point in points)
        yield Finding(
            "warning",
            thing,
            f"{listed(names)}: ports {ports} with a cable to {switch} each, in one network and no bond",
            found=str(len(points)),
            allowed="1",
            remedy='say bond = "b" of these ports; or give each an address of its own subnet, or unplug one',
            path=points[-1].links[0].path,
            subjects=names,
        )


def _beside(plan: Plan, segments: Segments, thing: Any) -> Iterator[tuple[str, list[PortPoint]]]:
    """Yield the ports of a machine, without bond and address of their own, that share a switch and a segment."""
    found: dict[tuple[str, int | None], list[PortPoint]] = {}
    for point in plan.ports[thing.id]:
        if point.apart or point.spec.address or len(point.links) != 1:
            continue
        line = point.links[0]
        other = line.other(point)
        if other is None or other.thing.table != "switch" or len(other.links) > 1 or line.bond or point.bond:
            continue
        found.setdefault((other.thing.id, segments.at(point)), []).append(point)
    for (switch, _), points in found.items():
        if len(points) > 1:
            yield switch, points


_PLAIN = _ONE + _NODE.replace('bond = "b"\n', "")

cases(
    unsaid,
    clean=[
        _ONE + _NODE.format("sw.1", "sw.2"),
        _ONE + _TWO + _NODE.replace('bond = "b"\n', "").format("sw.1", "s2.1"),  # a cable to each of two switches
        _PLAIN.format("sw.1", "sw.2") + 'address = "10.20.0.5/24"\n',  # `addresses.two_ports` may have that
        _PLAIN.format("sw.1", "sw.2") + 'for = "management"\n',
        _PLAIN.format("sw.1", "sw.2").replace('id = "n1"\n', 'id = "n1"\nbridges = true\n'),
        _PLAIN.format("sw.1", "sw.1"),  # `ports.double_booked` has that
        # one in each VLAN
        _PLAIN.format("sw.1", "sw.5").replace(_ONE, _ONE + '[[switch.port]]\nid = "5"\nvlan = 20\n'),
    ],
    flagged=[
        Case(_PLAIN.format("sw.1", "sw.2"), at="n1", found="2", level="warning",
             mended=_ONE + _NODE.format("sw.1", "sw.2")),
    ],
)  # fmt: skip

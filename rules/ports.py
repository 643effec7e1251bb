"""Data ports: every cable has a port of its own, at both ends, and carries the speed that is asked of it."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Level, Measure, Open, Put, Take, cases, rule
from coldcheck.lan import cable as copper
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.problems import Path, nearest
from coldcheck.plan.quantities import show
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Networked, Switch
from coldcheck.workings.ports import (
    SLOW,
    TWISTED,
    Entry,
    LinkSpeed,
    PortOffers,
    Ref,
    SwitchPorts,
    Written,
    cable_path,
    for_copper,
    top_of,
)


@rule(level="error", over="plan")
def unknown(
    plan: Plan, lost_ports: dict[str, list[Ref]], switch_ports: list[SwitchPorts]
) -> Iterator[Finding]:
    """Every data port that is named exists.

    A cable that ends in no port is left out of every computation: of PoE, of speed, of what fails with what.
    """
    told = {ref.path for refs in lost_ports.values() for ref in refs}
    for refs in lost_ports.values():
        yield _lost(plan, refs, switch_ports)
    for fault in plan.faults:
        if fault.rule == "ports.unknown" and fault.path not in told:
            yield Finding("error", fault.path, fault.says, remedy=fault.remedy, related=list(fault.related))


def _lost(plan: Plan, refs: list[Ref], switch_ports: list[SwitchPorts]) -> Finding:
    """Return one finding for all ports that one thing is said to have and has not."""
    thing = refs[0].thing
    missing = sorted(
        dict.fromkeys(ref.id for ref in refs), key=lambda name: int(name) if name.isdecimal() else 0
    )
    own = [port.id for port in plan.ports.get(thing.id, ())]
    free = next(([name for name, _ in p.free] for p in switch_ports if p.switch is thing), [])
    near = nearest(missing[0], own) if len(missing) == 1 and not missing[0].isdecimal() else ""
    if not own:
        remedy = f"say how many ports it has: ports = 8, or describe them: [[{thing.table}.port]]"
    elif near:
        remedy = f'did you mean "{thing.id}.{near}"?'
    elif thing.table == "switch" and len(free) >= len(missing):
        remedy = f"free: {listed(free)}"
    elif thing.table == "switch":
        remedy = f"{'only ' + listed(free) if free else 'none'} of its {len(own)} ports is free: "
        remedy += "a larger switch, or one more"
    else:
        remedy = f"its ports: {listed(f'{thing.id}.{name}' for name in own)}"
    places: dict[Path, list[Ref]] = {}
    for ref in refs:
        places.setdefault(ref.path, []).append(ref)
    others = [(path, f"{listed(r.who for r in at)} would go into {listed(r.name for r in at)}")
              for path, at in places.items()][1:9]  # fmt: skip
    return Finding(
        "error",
        thing,
        f"{thing.id} has no data port {listed(missing)}",
        found=str(len(missing)),
        remedy=remedy,
        path=refs[0].path,
        subjects=(thing.id,),
        related=others,
    )


_FOUR = '[[switch]]\nid = "sw"\nports = 4\n'
_TWO = '[[switch]]\nid = "s2"\nports = 4\n'
_NODE = '[[node]]\nid = "{}"\nport = "{}"\n'

cases(
    unknown,
    clean=[_FOUR + _NODE.format("n1", "sw.4"), _FOUR + _NODE.format("n1 .. n4", "sw.1 .. sw.4")],
    flagged=[
        Case(_FOUR + _NODE.format("n1", "sw.5"), at="data port 5", level="error"),
        Case('[[switch]]\nid = "sw"\n' + _NODE.format("n1", "sw.1"), at="data port 1"),
        # A smaller switch than was planned for is one slip, whoever is plugged into it.
        Case(
            _FOUR + _NODE.format("n1 .. n4", "sw.1 .. sw.4") + _NODE.format("a", "sw.5")
            + '[[node]]\nid = "b"\nport = "sw.6"\n[[uplink]]\nfrom = "sw.8"\nto = "the hall"\n',
            at="no data port 5, 6 and 8", found="3",
            mended=_FOUR.replace("4", "8") + _NODE.format("n1 .. n4", "sw.1 .. sw.4") + _NODE.format("a", "sw.5")
            + '[[node]]\nid = "b"\nport = "sw.6"\n[[uplink]]\nfrom = "sw.8"\nto = "the hall"\n',
        ),
        Case(_FOUR + _NODE.format("n1 .. n6", "sw.1 .. sw.6"), at="data port 5 and 6", found="2"),
        Case('[[node]]\nid = "a"\n[[node]]\nid = "b"\nport = "a.etc"\n', at="a has no data port etc"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def double_booked(plan: Plan, links: list[LinkLine], port_offers: PortOffers) -> Iterator[Finding]:
    """A data port takes one cable.

    Two entries that name one port are a slip of counting: one of the cables will find its place taken on the
    bench, and every port after it is wrong in the same way.
    """
    seen: set[int] = set()
    pairs: dict[tuple[Path, ...], list[PortPoint]] = {}  # entries that meet at several ports are one slip
    for line in links:
        for point in (line.b, line.a):
            if point is None or len(point.links) < 2 or id(point) in seen:
                continue
            seen.add(id(point))
            entries = tuple(sorted((other.path for other in point.links), key=str))
            if isinstance(point.thing, Switch) and len(set(entries)) == len(entries) and _distinct(point):
                pairs.setdefault(entries, []).append(point)
            elif (found := _crowded(plan, point, port_offers, seen)) is not None:
                yield found
    for points in pairs.values():
        told = (
            _both(plan, points, port_offers) if points[1:] else _crowded(plan, points[0], port_offers, seen)
        )
        if told is not None:
            yield told


def _distinct(point: PortPoint) -> bool:
    """Say whether the cables in a port come from different things, and are what they seem."""
    ends = {_far(line, point) for line in point.links}
    return len(ends) == len(point.links) and not any(_by_namesake(line, point) for line in point.links)


def _both(plan: Plan, points: list[PortPoint], offers: PortOffers) -> Finding:
    """Return one finding for two entries, or more, that are plugged into the same ports."""
    columns: dict[Path, list[tuple[LinkLine, PortPoint]]] = {}
    for point in points:
        for line in point.links:
            columns.setdefault(line.path, []).append((line, point))
    who = {path: listed(_far(line, point) for line, point in lines) for path, lines in columns.items()}
    ports = listed(point.name for point in points)
    moved = next((p for p, lines in reversed(columns.items()) if id(lines[0][0]) in offers.moves), None)
    path = moved or list(columns)[-1]
    remedy = "too few free ports suit by VLAN, plug and PoE: unplug something, or set some up"
    edits: tuple[Edit, ...] = ()
    if moved is not None:
        key, text = offers.moves[id(columns[moved][0][0])]
        remedy, edits = f'deal out {listed(_entry(plan, moved))} anew: port = "{text}"', (Put(key, text),)
    return Finding(
        "error",
        columns[path][0][0].a.thing,
        f"{' beside '.join(who.values())}: plugged into the same ports, {ports}",
        found=str(len(columns)),
        allowed="1",
        remedy=remedy,
        edits=edits,
        path=path,
        subjects=_entry(plan, path),
        related=[(other, f"the cables of {who[other]}") for other in columns if other != path][:8],
    )


def _entry(plan: Plan, path: Path) -> tuple[str, ...]:
    """Return the things of one entry; an entry of links, and what leaves the box, has none."""
    return tuple(
        thing.id for thing in plan.table(str(path[0])) if thing.path == path[:2] and hasattr(thing, "id")
    )


def _crowded(plan: Plan, point: PortPoint, offers: PortOffers, seen: set[int]) -> Finding | None:
    lines = list({id(line): line for line in point.links if line.b is not line.a}.values())
    if any(_by_namesake(line, point) for line in lines):
        return None
    if len(lines) < 2:
        return None
    ends = [_far(line, point) for line in lines]
    if len(set(ends)) == 1 and lines[0].b is not None:
        seen |= {id(lines[0].a), id(lines[0].b)}
        return _twice(plan, lines)
    says = f"{len(lines)} cables are plugged into {point.name}: {listed(ends)}"
    words, edits, movers = _moves(plan, point, lines, offers)
    return Finding(
        "error",
        point,
        says,
        found=str(len(lines)),
        allowed="1",
        remedy=words,
        edits=edits,
        path=lines[-1].path,
        subjects=movers if len({line.path for line in lines}) == 1 else (point.name,),
        related=[(line.path, "the other cable") for line in lines[:-1][:8] if line.path != lines[-1].path],
    )


def _moves(
    plan: Plan, point: PortPoint, lines: list[LinkLine], offers: PortOffers
) -> tuple[str, tuple[Edit, ...], tuple[str, ...]]:
    """Return what to plug where, in words and as edits, and the things whose cables move."""
    movers = tuple(line.a.thing.id for line in lines)
    if point.thing.table != "switch":
        return (
            f"if {point.thing.id} has several ports, describe them: [[{point.thing.table}.port]]",
            (),
            movers,
        )
    found = {offers.moves[id(line)]: line for line in lines if id(line) in offers.moves}
    moved = sum(1 for line in lines if id(line) in offers.moves)
    if moved < len(lines) - 1:
        return (
            f"too few free ports of {point.thing.id} suit by VLAN, plug and PoE: unplug something, or set one up",
            (),
            movers,
        )
    if len(found) == 1 and moved > 1:  # one text for a whole span
        (key, text) = next(iter(found))
        return f'deal them out: port = "{text}"', (Put(key, text),), movers
    picked = list(found.items())[-(len(lines) - 1) :]
    words = ", ".join(
        f'deal out {listed(_entry(plan, key))} anew: port = "{port}"'
        if " .. " in port
        else f"plug {_far(line, point)} into {port}"
        for (key, port), line in picked
    )
    return words, tuple(Put(key, port) for (key, port), _ in picked), movers


def _by_namesake(line: LinkLine, point: PortPoint) -> bool:
    """Say whether a cable is that of another thing of the same name: that slip is a fault of its own."""
    return line.a is point and line.path[0] not in ("link", "uplink") and line.path[:2] != point.thing.path


def _far(line: LinkLine, point: PortPoint) -> str:
    if line.b is None:
        return f"the uplink to {line.outside}"
    end = line.b if line.a is point else line.a
    return end.name if len(end.thing.port_) > 1 or isinstance(end.thing, Switch) else end.thing.id


def _twice(plan: Plan, lines: list[LinkLine]) -> Finding:
    last = lines[-1]
    key = Written(plan).key(last, last.b) if last.b is not None else None
    edits: tuple[Edit, ...] = (
        (Take(key),) if len(lines) == 2 and key == last.path and key[0] != "link" else ()
    )
    return Finding(
        "error",
        last.b,
        f"the cable from {last.a.name} to {last.b} is written {len(lines)} times",
        because="each entry counts as a cable: two between the same ends would be a loop, or a crowded port",
        remedy="write it at one end only",
        edits=edits,
        path=last.path,
        related=[(line.path, "the first time") for line in lines[:1]],
    )


_LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
_UPLINK = '[[uplink]]\nfrom = "{}"\nto = "the hall"\n'
_POE = """
[[switch]]
id = "sw"
poe_budget = "65 W"
[[switch.port]]
id = "1 .. 2"
poe = "type 1"
[[switch.port]]
id = "3"
[[switch.port]]
id = "4"
poe = "type 1"
"""
_ONE_POE = """
[[switch]]
id = "sw"
poe_budget = "65 W"
[[switch.port]]
id = "1"
poe = "type 1"
[[switch.port]]
id = "2 .. 4"
"""
_CAMERAS = (
    '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1 .. 4"\nvlan = 20\n[[switch.port]]\nid = "5 .. 6"\nvlan = 10\n'
    '[[switch.port]]\nid = "7 .. 12"\n[[switch.port]]\nid = "13 .. 14"\nvlan = 10\n'
    '[[subnet]]\nprefix = "10.0.20.0/24"\nvlan = 20\n[[subnet]]\nprefix = "10.0.10.0/24"\nvlan = 10\n'
    '[[node]]\nid = "c1 .. c4"\nport = "{}"\naddress = "10.0.20.1 .. 10.0.20.4"\n'
)
_BOARDS = '[[node]]\nid = "n1 .. n2"\nport = "sw.5 .. sw.6"\naddress = "10.0.10.1 .. 10.0.10.2"\n'
_CAMERA = '[[appliance]]\nid = "{}"\npoe = "class 3"\nport = "{}"\n'

cases(
    double_booked,
    clean=[
        _FOUR + _NODE.format("n1 .. n4", "sw.1 .. sw.4"),
        _FOUR + _NODE.format("n1", "sw.1") + _UPLINK.format("sw.2"),
        _FOUR + _NODE.format("n1", "sw.1") + _NODE.format("n1", "sw.2"),  # `references.duplicate` has that
        # a list of ports for each of a span: `references.too_many` has that
        _FOUR + '[[node]]\nid = "n1 .. n2"\nport = ["sw.1", "sw.2"]\n',
    ],
    flagged=[
        Case(
            _FOUR + _NODE.format("n1", "sw.1") + _NODE.format("n2", "sw.1"),
            at="sw.1",
            found="2",
            mended=_FOUR + _NODE.format("n1", "sw.1") + _NODE.format("n2", "sw.2"),
        ),
        Case(  # the next free port that feeds PoE, not merely the next
            _POE + _CAMERA.format("c1", "sw.1") + _NODE.format("n1", "sw.2") + _CAMERA.format("c2", "sw.1"),
            at="sw.1",
            mended=_POE
            + _CAMERA.format("c1", "sw.1")
            + _NODE.format("n1", "sw.2")
            + _CAMERA.format("c2", "sw.4"),
        ),
        # the camera needs the one port with PoE, so the board that came first moves
        Case(
            _ONE_POE + _NODE.format("n1", "sw.1") + _CAMERA.format("cam", "sw.1"),
            at="sw.1",
            edits=True,
            mended=_ONE_POE + _NODE.format("n1", "sw.2") + _CAMERA.format("cam", "sw.1"),
        ),
        Case(
            _ONE_POE + _NODE.format("n1 .. n2", "sw.1 .. sw.2") + _CAMERA.format("cam", "sw.1"),
            at="sw.1",
            mended=_ONE_POE + _NODE.format("n1 .. n2", "sw.3 .. sw.4") + _CAMERA.format("cam", "sw.1"),
        ),
        # two cameras and one port with PoE: neither can move
        Case(
            _ONE_POE + _CAMERA.format("c1", "sw.1") + _CAMERA.format("c2", "sw.1"),
            at="sw.1",
        ),
        Case(
            _FOUR + _NODE.format("n1 .. n3", "sw.1") + _NODE.format("n4", "sw.4"),
            at="sw.1",
            found="3",
            mended=_FOUR + _NODE.format("n1 .. n3", "sw.1 .. sw.3") + _NODE.format("n4", "sw.4"),
        ),
        # two spans into the same ports are one slip; the ports of another switch of the network do as well
        Case(
            _FOUR + _TWO + _LINK.format("sw.4", "s2.4") + _NODE.format("n1 .. n3", "sw.1 .. sw.3")
            + _NODE.format("m1 .. m3", "sw.1 .. sw.3"),
            at="n1 .. n3 beside m1 .. m3: plugged into the same ports, sw.1 .. sw.3", found="2", edits=True,
            mended=_FOUR + _TWO + _LINK.format("sw.4", "s2.4") + _NODE.format("n1 .. n3", "sw.1 .. sw.3")
            + _NODE.format("m1 .. m3", "s2.1 .. s2.3"),
        ),
        # a switch that no cable joins is no place for them
        Case(
            _FOUR + _TWO + _NODE.format("n1 .. n3", "sw.1 .. sw.3") + _NODE.format("m1 .. m3", "sw.1 .. sw.3"),
            at="m1 .. m3",
        ),
        # the cameras came first, but by their addresses they are the ones to move
        Case(
            _CAMERAS.format("sw.5 .. sw.8") + _BOARDS,
            at="c1 and c2 beside n1 and n2", edits=True, mended=_CAMERAS.format("sw.1 .. sw.4") + _BOARDS,
        ),
        Case(_FOUR + _NODE.format("n1", "sw.2") + _UPLINK.format("sw.2"), at="the uplink to the hall"),
        Case(
            _FOUR + _LINK.format("n1", "sw.1") + _NODE.format("n1", "sw.1"),
            at="sw.1",
        ),
        Case(
            _FOUR + '[[node]]\nid = "n1"\n' + _LINK.format("n1", "sw.1") + _LINK.format("n1", "sw.2"),
            at="n1.eth",
        ),
    ],
)  # fmt: skip


@rule(level="warning", over="links")
def kept_free(line: LinkLine) -> Iterator[Finding]:
    """No cable goes into a port that is said to stay free.

    One of both is left over from an earlier plan; a port kept free is offered to nobody and missed by nobody.

    Source: common practice.
    """
    for end in (line.a, line.b):
        if end is not None and end.spec.unused:
            says = f"a cable is written for {end.name}, which is said to stay free"
            yield Finding(
                "warning", end, says, path=line.path, remedy="take `unused` out, or choose another port"
            )


_KEPT = '[[switch]]\nid = "sw"\nports = 3\n[[switch.port]]\nid = "2"\nunused = true\n'

cases(
    kept_free,
    clean=[_KEPT + _NODE.format("n1", "sw.1"), _KEPT.replace("true", "false") + _NODE.format("n1", "sw.2")],
    flagged=[
        Case(_KEPT + _NODE.format("n1", "sw.2"), at="sw.2", level="warning",
             mended=_KEPT.replace("unused = true\n", "") + _NODE.format("n1", "sw.2")),
        Case(_KEPT + '[[uplink]]\nfrom = "sw.2"\nto = "the hall"\n', at="sw.2"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def no_link(
    plan: Plan, uncabled: list[Entry], switch_ports: list[SwitchPorts], port_offers: PortOffers
) -> Iterator[Finding]:
    """What is on the network has a data cable.

    An address nobody can reach is an error; a node without an address may be meant to stand alone, so it is a
    warning. Where the plan speaks of no switch and no cable at all, one open finding says so.
    """
    if not plan.links and not switch_ports:
        first = next((thing for entry in uncabled for thing in entry.things if thing.address), None)
        if first is not None:
            says = f"{first.id} has an address, but the plan speaks of no data cable at all"
            yield Open(
                "warning", first, says, ["port"], remedy="add a [[switch]], and `port` to what is plugged in"
            )
        return
    for entry in uncabled:
        yield _unplugged(entry, port_offers)
    yield from _idle(plan, uncabled)
    if plan.links and not uncabled:
        for ports in switch_ports:
            if not ports.taken and (ports.free or ports.total):
                says = f"no data cable leads to {ports.switch.id}, while other things are linked"
                yield Finding(
                    "warning", ports.switch, says, remedy="plug something in, or take it out of the plan"
                )


def _idle(plan: Plan, uncabled: list[Entry]) -> Iterator[Finding]:
    """Tell of ports with an address of their own and no cable, of things that have another one."""
    if any(
        fault.rule.startswith("ports.") or fault.path[:1] in (("link",), ("uplink",)) for fault in plan.faults
    ):
        return  # the cable that leads nowhere may be theirs
    told = {id(thing) for entry in uncabled for thing in entry.things}
    groups: dict[tuple[object, str], list[PortPoint]] = {}
    for points in plan.ports.values():
        for point in points if len(points) > 1 else ():
            spec = point.spec
            if spec.address and not (
                point.links or point.apart or spec.to or spec.unused or id(point.thing) in told
            ):
                groups.setdefault((point.thing.path, point.id), []).append(point)
    for group in groups.values():
        names = tuple(point.name for point in group)
        yield Finding(
            "warning",
            group[0].thing,
            f"no data cable is written for {listed(names)}, whose address nothing can reach",
            remedy="say where it leads, by its `to` or a [[link]]; or write the address at the port that has a cable",
            path=group[0].path,
            subjects=names,
        )


def _unplugged(entry: Entry, offers: PortOffers) -> Finding:
    first = entry.things[0]
    powered = first.own_power or any(inlet.source is not None for inlet in first.inlets)
    why = ""
    level: Level = "warning"
    if first.address or any(port.address for port in first.port_):
        why, level = ", whose address nothing can reach", "error"
    elif first.poe and not powered:
        why, level = ", which takes its power by that cable", "error"
    offer = offers.entries.get(entry.path)
    names = tuple(thing.id for thing in entry.things)
    return Finding(
        level,
        first,
        f"no data cable is written for {listed(names)}{why}",
        remedy=f'plug in: port = "{offer}"' if offer else "say which port of which switch it goes to",
        edits=(Put(entry.whole, offer),) if offer and "port" not in first.stated else (),
        subjects=names,
    )


_WITH = '[[node]]\nid = "{}"\naddress = "{}"\n'
_TWO_PORTS = _FOUR + '[[node]]\nid = "r"\n[[node.port]]\nid = "a"\nto = "sw.1"\naddress = "10.0.0.1/24"\n'
_TWO_PORTS += '[[node.port]]\nid = "b"\n'
_PORTLESS = '[[part]]\nid = "bare"\nkind = "node"\n[[node]]\nid = "lone"\npart = "bare"\n'
_MANAGED = '[[switch]]\nid = "sw"\nports = 3\n[[switch.port]]\nid = "1"\nfor = "management"\n'
_MANAGED_NODE = (
    '[[node]]\nid = "n1"\n[[node.port]]\nid = "e"\n[[node.port]]\nid = "m"\nfor = "management"\nto = "sw.2"\n'
)
_VLANS = (
    '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1 .. 2"\nvlan = 10\n'
    '[[switch.port]]\nid = "3 .. 4"\nvlan = 20\n'
)

cases(
    no_link,
    clean=[
        _FOUR + _NODE.format("n1", "sw.1"),
        _FOUR + '[[node]]\nid = "n1"\n' + _LINK.format("n1", "sw.1"),
        _FOUR + _NODE.format("n1", "sw.1") + '[[appliance]]\nid = "lamp"\n',
        _FOUR + _NODE.format("n1", "sw.1") + '[[node]]\nid = "n2"\n[[node.port]]\nid = "e"\nunused = true\n',
        _FOUR + _WITH.format("n1", "10.0.0.5") + _LINK.format("n2", "sw.1"),  # the slip is in the link
        '[[node]]\nid = "n1"\n',
        _TWO_PORTS + 'to = "sw.2"\naddress = "10.0.1.1/24"\n',
        _TWO_PORTS,
        _TWO_PORTS + 'address = "10.0.1.1/24"\nunused = true\n',
        _FOUR + _NODE.format("n1", "sw.1") + _PORTLESS,  # a board that has no socket is meant to stand alone
    ],
    flagged=[
        Case(_TWO_PORTS + 'address = "10.0.1.1/24"\n', at="r.b", level="warning", mended=_TWO_PORTS),
        Case(
            _FOUR + _NODE.format("n1", "sw.1") + _PORTLESS + 'address = "10.0.0.5"\n',
            at="lone",
            level="error",
        ),
        Case(
            _FOUR + _NODE.format("n1", "sw.1") + _WITH.format("n2", "10.0.0.5"),
            at="n2",
            level="error",
            mended=_FOUR + _NODE.format("n1", "sw.1") + _WITH.format("n2", "10.0.0.5") + 'port = "sw.2"\n',
        ),
        Case(
            _FOUR + _NODE.format("n0", "sw.1") + '[[node]]\nid = "n1 .. n3"\n',
            at="n1 .. n3",
            level="warning",
            mended=_FOUR + _NODE.format("n0", "sw.1") + '[[node]]\nid = "n1 .. n3"\nport = "sw.2 .. sw.4"\n',
        ),
        Case(_POE + '[[appliance]]\nid = "c1"\npoe = "class 3"\n', at="c1", level="error"),
        Case(_TWO + _FOUR + _NODE.format("n1", "sw.1"), at="s2", level="warning"),
        Case(_WITH.format("n1", "10.0.0.5"), at="n1", kind="open"),
        # The cable of a management port is none for data, and no such port is offered.
        Case(_MANAGED + _NODE.format("n2", "sw.3") + _MANAGED_NODE, at="n1", level="warning"),
        Case(
            _MANAGED + _NODE.format("n2", "sw.2") + '[[node]]\nid = "n1"\n',
            at="n1",
            mended=_MANAGED + _NODE.format("n2", "sw.2") + '[[node]]\nid = "n1"\nport = "sw.3"\n',
        ),
        # Where ports have VLANs, one is offered that has what the thing states.
        Case(
            _VLANS + _NODE.format("n1", "sw.1") + '[[node]]\nid = "n2"\nvlan = 20\n',
            at="n2",
            mended=_VLANS + _NODE.format("n1", "sw.1") + '[[node]]\nid = "n2"\nvlan = 20\nport = "sw.3"\n',
        ),
    ],
)


@rule(level="error", over="plan")
def count(plan: Plan, switch_ports: list[SwitchPorts], uncabled: list[Entry]) -> Iterator[Finding]:
    """The switches have a port for every cable, and as many to spare as the plan wants.

    Ports are bought in fours and eights; the uplink and the cable between two switches are the ones forgotten.
    Things that name no port yet are counted too. Management ports are not, and a copper plug needs a socket for copper.

    Formula: cables that name a port + things that name none + `spare_ports` <= ports.
    """
    waiting = [thing for entry in uncabled for thing in entry.things]
    faulty = any(fault.rule == "ports.unknown" for fault in plan.faults)
    known = [ports for ports in switch_ports if ports.total]
    spare = {id(ports): _spare(plan, ports) for ports in switch_ports}
    for ports in switch_ports:
        if not ports.total and not faulty and (waiting or spare[id(ports)]):
            says = f"{ports.switch.id} does not say how many ports it has"
            yield Open(
                "error", ports.switch, says, ["ports"], remedy="add ports = 8, or whatever is printed on it"
            )
    if not known or len(known) < len(switch_ports):
        return
    free = sum(len(ports.free) for ports in known)
    if len(known) == 1:
        short = list(_full(known[0], len(waiting), spare[id(known[0])]))
    elif len(waiting) > free:
        says = f"{len(waiting)} things wait for a port, but {len(known)} switches have {free} free"
        short = [Finding("error", known[0].switch, says, found=str(len(waiting)), allowed=str(free),
                         place="ports", remedy="a larger switch, or one more")]  # fmt: skip
    else:
        short = [finding for ports in known for finding in _full(ports, 0, spare[id(ports)])]
    yield from short or _of_copper(known, waiting)


def _spare(plan: Plan, ports: SwitchPorts) -> int:
    own = ports.switch.spare_ports
    return plan.head.spare_ports if own is None else own


def _of_copper(known: list[SwitchPorts], waiting: list[Networked]) -> Iterator[Finding]:
    """Hold what waits with a copper plug against the free sockets for copper: the rest take modules."""
    plugs = sum(all(for_copper(port) for port in thing.port_) for thing in waiting)
    sockets = [for_copper(spec) for ports in known for _, spec in ports.free]
    free = sum(sockets)
    if plugs > free:
        says = (
            f"{plugs} things wait for a socket for copper, and {free} of {len(sockets)} free ports have one"
        )
        yield Finding(
            "error",
            known[0].switch,
            says,
            found=str(plugs),
            allowed=str(free),
            place=("ports", "part"),
            remedy="a larger switch, or copper modules in its SFP sockets",
        )


def _full(ports: SwitchPorts, waiting: int, spare: int) -> Iterator[Finding]:
    total = ports.total or 0
    needed = ports.taken + waiting + spare
    if needed <= total:
        return
    parts = [f"{number} to {kind}" for kind, number in ports.used.items()]
    parts += [f"without a port yet: {waiting}"] if waiting else []
    parts += [f"to spare: {spare}"] if spare else []
    short = ports.taken + waiting > total
    where = "in [plan]" if ports.switch.spare_ports is None else "of it"
    yield Finding(
        "error" if short else "warning",
        ports.switch,
        f"{ports.switch.id} has {total} ports, and {needed} are needed",
        found=str(needed),
        allowed=str(total),
        because=", ".join(parts),
        remedy="a larger switch, or one more" + ("" if short else f"; or fewer spare_ports {where}"),
        place=("ports", "part"),
    )


_SPARE = "[plan]\nspare_ports = {}\n"
_TWO_KINDS = '[[switch]]\nid = "sw"\nports = 4\n[[switch.port]]\nid = "3 .. 4"\nmedia = "sfp"\n'

cases(
    count,
    clean=[
        _FOUR + _NODE.format("n1 .. n3", "sw.1 .. sw.3") + _UPLINK.format("sw.4"),
        _SPARE.format(1) + _FOUR + _NODE.format("n1 .. n3", "sw.1 .. sw.3"),
        _FOUR + '[[node]]\nid = "n1 .. n3"\n' + _UPLINK.format("sw.4"),
        _FOUR + _TWO + '[[node]]\nid = "n1 .. n6"\n' + _LINK.format("sw.1", "s2.1"),
        _SPARE.format(9) + _FOUR + "spare_ports = 1\n" + _NODE.format("n1 .. n3", "sw.1 .. sw.3"),
        _MANAGED + '[[node]]\nid = "n1 .. n2"\n',
        _TWO_KINDS + '[[node]]\nid = "n1 .. n2"\n',
        _TWO_KINDS
        + '[[node]]\nid = "n1"\n[[node.port]]\nid = "e"\nmedia = "sfp"\n[[node]]\nid = "n2 .. n3"\n',
    ],
    flagged=[
        Case(
            _FOUR + '[[node]]\nid = "n1 .. n4"\n' + _UPLINK.format("sw.4"),
            at="sw",
            found="5",
            level="error",
            mended=_FOUR.replace("4", "5") + '[[node]]\nid = "n1 .. n4"\n' + _UPLINK.format("sw.4"),
        ),
        Case(
            _SPARE.format(2) + _FOUR + _NODE.format("n1 .. n3", "sw.1 .. sw.3"),
            at="sw",
            found="5",
            level="warning",
        ),
        Case(
            _FOUR + _TWO + '[[node]]\nid = "n1 .. n7"\n' + _LINK.format("sw.1", "s2.1"),
            found="7",
            level="error",
        ),
        Case('[[switch]]\nid = "sw"\n[[node]]\nid = "n1"\n', at="sw", kind="open"),
        Case(
            _FOUR + "spare_ports = 2\n" + _NODE.format("n1 .. n3", "sw.1 .. sw.3"),
            at="sw",
            found="5",
            level="warning",
            mended=_FOUR + "spare_ports = 1\n" + _NODE.format("n1 .. n3", "sw.1 .. sw.3"),
        ),
        Case(_MANAGED + '[[node]]\nid = "n1 .. n3"\n', at="sw has 2 ports", found="3", level="error"),
        Case(_TWO_KINDS + '[[node]]\nid = "n1 .. n3"\n', at="2 of 4 free ports", found="3", level="error"),
    ],
)


@rule(level="error", over="links")
def self_link(line: LinkLine) -> Iterator[Finding]:
    """No cable leads from a thing back to itself.

    Ethernet frames carry no hop count: a switch plugged into itself repeats one broadcast for ever. Its management port
    passes nothing on, so that may be plugged into one of its own ports.

    Source: bridging without a spanning tree, IEEE 802.1D background (from memory).
    """
    if line.b is None or line.a.thing is not line.b.thing:
        return
    thing = line.a.thing
    if line.a.apart != line.b.apart:
        return
    says = f"the cable from {line.a} to {line.b} leads back to {thing.id}"
    if line.a is line.b:
        says = f"the cable from {line.a} leads to the same port"
    loop = thing.table == "switch" or line.a is line.b
    yield Finding(
        "error" if loop else "warning",
        line.a,
        says,
        path=line.path,
        remedy="name the port of the other thing",
    )


cases(
    self_link,
    clean=[_FOUR + _TWO + _LINK.format("sw.1", "s2.1"), _MANAGED + _LINK.format("sw.1", "sw.2")],
    flagged=[
        Case(_FOUR + _LINK.format("sw.1", "sw.2"), at="sw.1", level="error"),
        Case(_FOUR + _LINK.format("sw.1", "sw.1"), at="sw.1", level="error"),
        Case(
            '[[node]]\nid = "n1"\n[[node.port]]\nid = "1 .. 2"\n' + _LINK.format("n1.1", "n1.2"),
            at="n1.1",
            level="warning",
        ),
    ],
)


@rule(level="warning", over="plan")
def no_uplink(plan: Plan) -> Iterator[Finding]:
    """A network whose subnet names a gateway has an uplink that leads to it.

    A gateway is the way out. Where no uplink is planned, the port for it is not either, and every machine waits
    for a router that is not there.
    """
    if plan.table("uplink"):
        return
    with_gateway = {s.gateway.partition("/")[0]: s for s in reversed(plan.table("subnet")) if s.gateway}
    if not with_gateway:
        return
    tables = ("node", "storage", "switch", "appliance")
    if any(text in with_gateway for table in tables for t in plan.table(table) for text in _plain(t)):
        return  # a thing of the box: `subnets.gateway` asks for its way out, `gateways.nobody` for other routers
    named = list(with_gateway.values())[-1]
    says = f"{named.gateway} is the gateway of {named.prefix}, but no link leaves the box"
    yield Finding(
        "warning",
        named,
        says,
        place="gateway",
        subjects=(named.prefix,),
        remedy="add an [[uplink]], or take the gateway out",
    )


def _plain(thing: object) -> Iterator[str]:
    for address in getattr(thing, "address", ()):
        yield address.partition("/")[0]
    for port in getattr(thing, "port_", ()):
        for address in port.address:
            yield address.partition("/")[0]


_SUBNET = '[[subnet]]\nprefix = "10.0.0.0/24"\ngateway = "10.0.0.1"\n'

cases(
    no_uplink,
    clean=[
        _FOUR + _SUBNET + _UPLINK.format("sw.4"),
        '[[subnet]]\nprefix = "10.0.0.0/24"\n',
        _FOUR + _SUBNET + _WITH.format("r1", "10.0.0.1/24"),
    ],
    flagged=[
        Case(
            _FOUR + _SUBNET, at="10.0.0.1", level="warning", mended=_FOUR + _SUBNET + _UPLINK.format("sw.4")
        ),
    ],
)


@rule(level="warning", over="links")
def speed_mismatch(line: LinkLine, link_speeds: dict[int, LinkSpeed]) -> Iterator[Finding]:
    """Storage and uplinks are plugged into ports as fast as they are.

    Both ends settle on the highest speed that both can do, so a fast port on a slow one is money spent for
    nothing. What all nodes share is judged harder than a single node. Storage behind 100 Mbit/s is told by
    `speeds.slow_storage`.

    Source: autonegotiation, IEEE 802.3 clause 28.
    """
    a, b, found = line.a, line.b, link_speeds[id(line)]
    if b is None:
        own = top_of(a.spec)
        if own and line.speed and line.speed > own:
            says = (
                f"the uplink to {line.outside} runs at {_speed(line.speed)}, its port at {_speed(own)} only"
            )
            yield _slower("warning", a, says, line, own, line.speed)
        return
    low = found.speed
    if low is None or a.spec.speed == b.spec.speed == low:
        return
    ends = [end for end in (a, b) if end.thing.table != "switch"] or [a, b]
    fast = max(
        ends, key=lambda end: (end.thing.table == "storage" and _over(end, low), top_of(end.spec) or 0.0)
    )
    shared = fast.thing.table == "storage"
    if not _over(fast, low) or (shared and low <= SLOW):
        return
    high = top_of(fast.spec) or 0.0
    says = f"{fast.thing.id} could run at {_speed(high)}, on a link of {_speed(low)}"
    yield _slower("warning" if shared else "note", fast, says, line, low, high)


def _over(end: PortPoint, bits: float) -> bool:
    return (top_of(end.spec) or 0.0) > bits


def _slower(level: Level, at: PortPoint, says: str, line: LinkLine, slow: float, fast: float) -> Finding:
    return Finding(
        level,
        at.thing,
        says,
        found=Measure(slow, "bit/s"),
        allowed=Measure(fast, "bit/s"),
        path=line.path,
        remedy="plug it into a faster port, or accept the lower speed",
    )


def _speed(bits: float) -> str:
    return show(bits, "bit/s")


_SPEEDS = """
[[switch]]
id = "sw"
[[switch.port]]
id = "1 .. 4"
speed = "1 Gbit/s"
[[switch.port]]
id = "5"
speed = "10 Gbit/s"
"""
_SKIPS = _SPEEDS + 'speeds = ["1 Gbit/s", "10 Gbit/s"]\n'
_STORE = '[[storage]]\nid = "store"\n[[storage.port]]\nid = "1"\nspeed = "10 Gbit/s"\nto = "{}"\n'
_FAST = '[[node]]\nid = "{}"\n[[node.port]]\nid = "1"\nto = "{}"\nspeed = "2.5 Gbit/s"\n'

cases(
    speed_mismatch,
    clean=[
        _SPEEDS + _STORE.format("sw.5"),
        _SKIPS.replace("speeds = [", 'speeds = ["2.5 Gbit/s", ') + _FAST.format("n1", "sw.5"),
        _SPEEDS + _UPLINK.format("sw.1") + 'speed = "1 Gbit/s"\n',
        _FOUR + _STORE.format("sw.1"),
        # `speeds.slow_storage` has that
        _SPEEDS.replace("1 Gbit/s", "100 Mbit/s") + _STORE.replace("10 Gbit/s", "1 Gbit/s").format("sw.1"),
        _SPEEDS.replace("1 Gbit/s", "2.5 Gbit/s") + _STORE.format("sw.1"),  # `speeds.settles` asks first
    ],
    flagged=[
        Case(_SPEEDS + _STORE.format("sw.1"), at="store", found="1 Gbit/s", level="warning",
             mended=_SPEEDS + _STORE.format("sw.5")),
        Case(_SPEEDS + _UPLINK.format("sw.1") + 'speed = "2.5 Gbit/s"\n', at="sw", found="1 Gbit/s"),
        Case(_SPEEDS + _FAST.format("n1 .. n3", "sw.1 .. sw.3"), at="n1 .. n3", level="note"),
        # A port of 10 Gbit/s that skips 2.5.
        Case(_SKIPS + _FAST.format("n1", "sw.5"), at="n1", found="1 Gbit/s", level="note",
             mended=_SKIPS.replace("speeds = [", 'speeds = ["2.5 Gbit/s", ') + _FAST.format("n1", "sw.5")),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def cable_speed(plan: Plan, links: list[LinkLine], link_speeds: dict[int, LinkSpeed]) -> Iterator[Finding]:
    """A copper cable carries the speed of its link over its length.

    The link comes up at a lower speed or drops frames under load, which looks like a slow disk.

    Formula: the length is at most what the standard grants the category at the lower speed of the two ends.

    Source: IEEE 802.3 and TIA-568 (100 m from category 5e for 1 Gbit/s); TIA TSB-155 for 10 Gbit/s on category
    6: 37 m, to 55 m at risk.
    """
    fine: set[tuple[str | None, float | None, float]] = (
        set()
    )  # a plan repeats a few kinds of cable many times
    for line in links:
        if line.cable is None:
            continue
        speed = link_speeds[id(line)]
        kind = (line.cable.category, line.cable.length, speed.most or 0.0)
        if kind in fine:
            continue
        found = list(_carries(line, kind[2])) if copper.speed_name(kind[2]) else []
        if not found:
            fine.add(kind)
        elif TWISTED in speed.kinds and (line.b is not None or line.entry.medium != "radio"):
            yield from found


#: The longest channel that any standard grants twisted pair below 25 Gbit/s [m].
_CHANNEL = 100.0


def _carries(line: LinkLine, speed: float) -> Iterator[Finding]:
    assert line.cable is not None
    category, length = line.cable.category, line.cable.length
    who, name = line.a.thing, copper.speed_name(speed)
    if category is None:
        reach = max((copper.longest(speed, c.name) or 0.0 for c in copper.CATEGORIES), default=0.0)
        if length is not None and length > reach:
            says = f"the cable of {who.id} is {show(length, 'm')} long; {name} reaches {show(reach, 'm')} at most"
            yield _too_far("error", line, says, length, reach)
        elif speed > 2.5e9:
            says = f"the cable of {who.id} carries {name} or not: its category is not said"
            yield Open(
                "error",
                who,
                says,
                ["category"],
                path=cable_path(line),
                remedy='say it: cable = "cat 6A, 2 m"',
            )
        return
    granted, risky = copper.longest(speed, category), copper.longest_at_risk(speed, category)
    if granted is None and (risky is None or (length is not None and length > risky)):
        says = f"the cable of {who.id} is category {category}, which does not carry {name}"
        yield Finding("error", who, says, found=f"category {category}", path=cable_path(line),
                      remedy=f"take {_better(speed, length)}, or a slower link")  # fmt: skip
    elif length is None:
        if granted is None:
            says = (
                f"category {category} carries {name} without a promise: the cable of {who.id} may drop frames"
            )
            yield Finding(
                "warning", who, says, path=cable_path(line), remedy=f"take {_better(speed, length)}"
            )
        elif granted < _CHANNEL:
            says = f"the cable of {who.id} does not say its length; category {category} carries {name} over "
            says += show(granted, "m")
            yield Open(
                "error", who, says, ["length"], path=cable_path(line), remedy='say it: cable = "cat 6, 2 m"'
            )
    elif length > (granted or 0.0):
        safe = risky is None or length > risky
        beyond = f"no further than {show(granted, 'm')}" if granted else "without a promise"
        says = (
            f"the cable of {who.id} is {show(length, 'm')} long; category {category} carries {name} {beyond}"
        )
        yield _too_far(
            "error" if safe else "warning", line, says, length, granted or 0.0, _better(speed, length)
        )


def _better(speed: float, length: float | None) -> str:
    """Return what carries a speed so far: the lowest category that does, else fibre."""
    wanted = _CHANNEL if length is None else length
    fit = [c.name for c in copper.CATEGORIES if (copper.longest(speed, c.name) or 0.0) >= wanted]
    return f"category {fit[0]}" if fit else "fibre"


def _too_far(
    level: Level, line: LinkLine, says: str, length: float, reach: float, better: str = "fibre"
) -> Finding:
    return Finding(
        level,
        line.a.thing,
        says,
        found=Measure(length, "m"),
        allowed=Measure(reach, "m"),
        path=cable_path(line),
        remedy=f"shorten it, or take {better}",
    )


_TEN = '[[node]]\nid = "n1"\n[[node.port]]\nid = "1"\nto = "sw.5"\ncable = "{}"\nspeed = "10 Gbit/s"\n'
_ONE = '[[node]]\nid = "n1"\nport = "sw.1"\ncable = "{}"\n'
_SFP = _SPEEDS + 'media = "sfp"\n'

cases(
    cable_speed,
    clean=[
        _SPEEDS + _ONE.format("cat 5e, 100 m"),
        _SPEEDS + _ONE.format("2 m"),
        _SPEEDS + _ONE.format("cat 5e"),
        _SPEEDS + _TEN.format("cat 6, 37 m"),
        _SPEEDS + _TEN.format("cat 6A"),
        _FOUR + _ONE.format("cat 3, 300 m"),
        _SFP + _TEN.format("cat 6, 60 m"),  # `cables.plug` has that
        _SFP + _TEN.format("OM1, 60 m") + 'media = "sfp"\n',  # `cables.fibre_length` has that
    ],
    flagged=[
        Case(_SPEEDS + _ONE.format("cat 5e, 101 m"), at="n1", found="101 m", level="error",
             mended=_SPEEDS + _ONE.format("cat 5e, 100 m")),
        Case(_SPEEDS + _TEN.format("cat 6, 38 m"), found="38 m", level="warning",
             mended=_SPEEDS + _TEN.format("cat 6A, 38 m")),
        Case(_SPEEDS + _TEN.format("cat 6, 56 m"), found="56 m", level="error"),
        Case(_SPEEDS + _TEN.format("cat 5e, 2 m"), found="category 5e", level="error"),
        Case(_SPEEDS + _ONE.format("101 m"), found="101 m", level="error"),
        Case(_SPEEDS + _TEN.format("cat 6"), kind="open"),
        Case(_SPEEDS + _TEN.format("2 m"), kind="open"),
        Case(_SFP + 'module = "copper"\n' + _TEN.format("cat 6, 56 m"), found="56 m", level="error"),
    ],
)  # fmt: skip

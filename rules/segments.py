"""Segments: addresses stand in the VLAN of their subnet, together, and in reach of their gateway."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Open, Put, cases, rule
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed
from coldcheck.workings.addresses import AddressBook, Host
from coldcheck.workings.hosts import by_key, names_of, spans_of
from coldcheck.workings.islands import Island
from coldcheck.workings.placing import Misplaced, Placement, Side
from coldcheck.workings.ports import PortOffers
from coldcheck.workings.reaching import OutOfReach
from coldcheck.workings.segments import Segments
from coldcheck.workings.vlan_words import (
    own_entry,
    tagged_only,
    tags_text,
    tags_value,
    vlans_text,
    with_tags,
)
from coldcheck.workings.vlans import VlanEnds

_SW = '[[switch]]\nid = "{}"\nvlans = true\n'
_PORT = '[[switch.port]]\nid = "{}"\n{}\n'
_LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
_NET = '[[subnet]]\nprefix = "{}"\nvlan = {}\n'
_NODE = '[[node]]\nid = "{}"\naddress = "{}"\nport = "{}"\n'


@rule(level="error", over="plan")
def wrong_vlan(
    plan: Plan, address_book: AddressBook, placement: Placement, port_offers: PortOffers
) -> Iterator[Finding]:
    """An address is in the VLAN that its subnet says.

    A machine with an address of one VLAN in another calls for neighbours that never hear it. Whose slip it is, the
    other addresses tell: those at the same port, and those of the same subnet.

    Source: IEEE 802.1Q, the VLAN of a frame without a tag is that of the port (from memory).
    """
    moving = {key for key, _ in port_offers.moves.values()}
    for group in placement.misplaced:
        if all((*host.thing.path, "port") in moving for host in group.hosts):
            continue  # the rule that moves them to other ports has it
        tagging = [port for port in group.ports if group.wanted and set(group.wanted) <= {*port.tagged}]
        if tagging and group.blame != "switch":  # ports and subnets say the same
            yield _untagged_slip(plan, address_book, group, tagging)
        elif group.blame == "port" and _says_tags(group):
            yield _tag_slip(plan, address_book, group)
        else:
            yield _TELL[group.blame](plan, address_book, group)


def _subnets_of(book: AddressBook, group: Misplaced) -> str:
    return listed(book.subnets[place].text for place in group.subnets)


def _ports_slip(plan: Plan, book: AddressBook, group: Misplaced) -> Finding:
    names, ports = names_of(group.hosts), listed(map(str, group.ports))
    first, wanted = group.ports[0], group.wanted[0]
    holder = own_entry(plan, group.ports)
    return Finding(
        "error",
        first,
        _stand(book, group, group.ports),
        found=str(group.found),
        allowed=str(wanted),
        remedy=f"write vlan = {wanted} at {ports}, or plug into ports of VLAN {wanted}"
        + (f", or give addresses of VLAN {group.found}" if _inhabited(book, group.found) else ""),
        edits=(Put((*holder, "vlan"), wanted),) if holder else (),
        path=first.path,
        subjects=names,
        related=_addresses_of(group.hosts),
    )


def _stand(book: AddressBook, group: Misplaced, ports: list[PortPoint]) -> str:
    """Return where addresses are that belong elsewhere, in words: a port that says only tags has no VLAN of its own."""
    where, tags = listed(map(str, ports)), tagged_only(ports[0])
    place = f"at {where}: the port takes {tags}" if tags else f"in VLAN {group.found} of {where}"
    wanted = vlans_text(group.wanted)
    return f"{listed(names_of(group.hosts))} with addresses of {_subnets_of(book, group)}, VLAN {wanted}, {place}"


def _says_tags(group: Misplaced) -> bool:
    """Say whether all ports of a group say tags alone, and machines are plugged into them."""
    return all(map(tagged_only, group.ports)) and all(host.thing.table != "switch" for host in group.hosts)


def _tag_slip(plan: Plan, book: AddressBook, group: Misplaced) -> Finding:
    """Return a finding for machines at ports that say only tags, and not that of their addresses."""
    first, holder = group.ports[0], own_entry(plan, group.ports)
    tags = with_tags(first.tagged, group.wanted)
    words = [f"write tagged = {tags_text(tags)} at {listed(map(str, group.ports))}"]
    edits: list[Edit] = [Put((*holder, "tagged"), tags_value(tags))]
    things = {host.thing.path: host.thing for host in group.hosts}
    for path, thing in things.items():
        tags = with_tags(_own_tags(plan, thing), group.wanted)
        words.append(
            f"{tags_text(tags)} at {listed(names_of(h for h in group.hosts if h.thing.path == path))}"
        )
        edits.append(Put((*path, "tagged"), tags_value(tags)))
    exact = holder and not any(thing.port_ for thing in things.values())
    return Finding(
        "error",
        first,
        _stand(book, group, group.ports),
        found=tagged_only(first),
        allowed=vlans_text(group.wanted),
        remedy=", and ".join(words),
        edits=tuple(edits) if exact else (),
        path=first.path,
        subjects=names_of(group.hosts),
        related=_addresses_of(group.hosts),
    )


def _own_tags(plan: Plan, thing: Any) -> tuple[int, ...]:
    return next((port.tagged for port in plan.ports[thing.id] if port.links and port.tagged), ())


def _inhabited(book: AddressBook, vlan: int) -> bool:
    return any(getattr(block.source, "vlan", None) == vlan for block in book.subnets)


def _addresses_of(hosts: list[Host]) -> list[tuple[Path, str]]:
    """Return where addresses are written, by entry."""
    return [(group[0].path, f"the address of {listed(names_of(group))}") for group in by_key(hosts)[:8]]


def _untagged_slip(plan: Plan, book: AddressBook, group: Misplaced, ports: list[PortPoint]) -> Finding:
    """Return a finding for machines that lack the tag which their ports have for them."""
    names, where = names_of(group.hosts), listed(map(str, ports))
    wanted, first = vlans_text(group.wanted), group.hosts[0].thing
    tags = with_tags(first.tagged, group.wanted)
    words = f"say tagged = {tags_text(tags)} of {listed(names)}"
    if len(group.wanted) == 1 and group.blame == "port" and not first.tagged:
        words += f", or write vlan = {wanted} at {where} in place of that tag"
    alone = all(host.thing.path == first.path and host.port is None for host in group.hosts)
    alone = alone and not any(port.tagged for port in first.port_)
    return Finding(
        "error",
        first,
        _stand(book, group, ports),
        found=tagged_only(ports[0]) or str(group.found),
        allowed=wanted,
        because=f"a tag of VLAN {wanted} goes through {where}, and no machine there has one",
        remedy=words,
        edits=(Put((*first.path, "tagged"), tags_value(tags)),) if alone else (),
        path=group.hosts[0].path,
        subjects=names,
        related=[(ports[0].path, "the port")],
    )


def _subnets_slip(plan: Plan, book: AddressBook, group: Misplaced) -> Finding:
    wanted = group.wanted[0]
    blocks = [book.subnets[place] for place in group.subnets]
    names = names_of(group.hosts)
    edits = tuple(Put((*block.source.path, "vlan"), group.found) for block in blocks)
    return Finding(
        "error",
        blocks[0],
        f"{listed(block.text for block in blocks)} put in VLAN {wanted}, and the addresses of {listed(names)} "
        f"are in VLAN {group.found}",
        found=str(wanted),
        allowed=str(group.found),
        remedy=f"write vlan = {group.found}, or give their ports VLAN {wanted}",
        edits=edits,
        path=(*blocks[0].source.path, "vlan"),
        subjects=tuple(block.text for block in blocks),
        related=_addresses_of(group.hosts),
    )


def _addresss_slip(plan: Plan, book: AddressBook, group: Misplaced) -> Finding:
    names, wanted = names_of(group.hosts), group.wanted[0]
    ports = f" of {listed(map(str, group.ports))}" if group.ports else ""
    return Finding(
        "error",
        group.hosts[0].thing,
        f"{listed(names)} with {spans_of(group.hosts)} of {_subnets_of(book, group)}, VLAN {wanted}, in VLAN "
        f"{group.found}{ports}",
        found=str(group.found),
        allowed=str(wanted),
        remedy=f"give an address of VLAN {group.found}, or plug into a port of VLAN {wanted}",
        path=group.hosts[0].path,
        subjects=names,
    )


def _switchs_slip(plan: Plan, book: AddressBook, group: Misplaced) -> Finding:
    names, wanted = names_of(group.hosts), group.wanted[0]
    return Finding(
        "error",
        group.hosts[0].thing,
        f"{listed(names)} with an address of {_subnets_of(book, group)}, VLAN {wanted}, carried by no port there",
        found="no port",
        allowed=f"VLAN {wanted}",
        remedy=f"carry VLAN {wanted} on the cable that leads to it, with a tag, at both ends",
        path=group.hosts[0].path,
        subjects=names,
    )


_TELL = {"port": _ports_slip, "subnet": _subnets_slip, "address": _addresss_slip, "switch": _switchs_slip}

_TWO = (
    _SW.format("sw") + _PORT.format("1 .. 2", "vlan = {}") + _PORT.format("3 .. 4", "vlan = 20")
    + _NODE.format("a1 .. a2", "10.0.10.1 .. 10.0.10.2", "sw.1 .. sw.2")
    + _NODE.format("b1 .. b2", "10.0.20.1 .. 10.0.20.2", "sw.3 .. sw.4")
    + _NET.format("10.0.10.0/24", "{}") + _NET.format("10.0.20.0/24", 20)
)  # fmt: skip
_SIX = (
    _NET.format("fd00:1::/64", 10)
    + '[[node]]\nid = "c"\naddress = ["10.0.10.9", "fd00:1::9"]\nport = "sw.5"\n'
)
_SIX += _NET.format("10.0.10.0/24", "{}") + _SW.format("sw") + _PORT.format("5", "vlan = 10")
_TAGS = _SW.format("sw") + _PORT.format("1", "vlan = 10\ntagged = 20") + _NET.format("10.0.20.0/24", 20)
_TAGS += '[[storage]]\nid = "s"\naddress = "10.0.20.9"\nport = "sw.1"\n{}'
_STORE = _SW.format("sw") + _PORT.format("1", "vlan = 10\ntagged = 20") + _NET.format("10.0.20.0/24", 20)
_STORE += _NET.format("10.0.10.0/24", 10) + '[[storage]]\nid = "s"\naddress = ["10.0.10.9", "10.0.20.9"]\n'
_STORE += 'port = "sw.1"\n{}'
# Two spans in the same ports: `ports.double_booked` moves that which does not belong there.
_CROWD = (
    _SW.format("sw") + _PORT.format("1 .. 4", "vlan = 20") + _PORT.format("5 .. 6", "vlan = 10")
    + _PORT.format("7 .. 8", "") + _NODE.format("c1 .. c4", "10.0.20.1 .. 10.0.20.4", "sw.5 .. sw.8")
    + _NODE.format("n1 .. n2", "10.0.10.1 .. 10.0.10.2", "sw.5 .. sw.6")
    + _NET.format("10.0.10.0/24", 10) + _NET.format("10.0.20.0/24", 20)
)  # fmt: skip
_STEM = _SW.format("sw") + _PORT.format("1", "tagged = {}") + _PORT.format("2", "vlan = 20")
_STEM += (
    _NET.format("10.0.10.0/24", 10) + _NET.format("10.0.20.0/24", 20) + _NODE.format("n", "10.0.20.9", "sw.2")
)
_STEM += '[[node]]\nid = "r"\naddress = ["10.0.10.1", "10.0.20.1"]\nport = "sw.1"\ntagged = {}\n'
_OWN = _SW.format("sw").replace("vlans", 'address = "10.0.20.2"\nvlans') + _PORT.format("1", "vlan = 10")
_OWN += _PORT.format("8", "tagged = {}") + _NET.format("10.0.20.0/24", 20) + _SW.format("s2")
_OWN += _PORT.format("1", "vlan = 20") + _PORT.format("8", "tagged = {}") + _LINK.format("sw.8", "s2.8")
_OWN += _LINK.format("n1", "sw.1") + '[[node]]\nid = "n1"\n'

cases(
    wrong_vlan,
    clean=[
        _TWO.format(10, 10),
        _SIX.format(10),
        _TAGS.format("tagged = 20\n"),
        _TWO.format(4095, 10),  # `vlans.bad_id` has that
        _STORE.format("tagged = 20\n"),
        _CROWD,
        _OWN.format(20, 20),
    ],
    flagged=[
        Case(_TWO.format(20, 10), at="in VLAN 20 of sw.1 and sw.2", found="20", level="error", edits=True,
             mended=_TWO.format(10, 10)),
        Case(_TWO.format(10, 11), at="10.0.10.0/24", found="11", level="error", edits=True, mended=_TWO.format(10, 10)),
        # the other address of the same machine says which of the two it is
        Case(_SIX.format(20), at="10.0.10.0/24", found="20", edits=True, mended=_SIX.format(10)),
        Case(_STORE.format(""), at="s", found="10", level="error", edits=True, mended=_STORE.format("tagged = 20\n")),
        Case(_TAGS.format(""), at="s", found="10", level="error", mended=_TAGS.format("tagged = 20\n")),
        # a port that says only tags is in no VLAN that a person chose, and both ends lack the id
        Case(_STEM.format("10", "10"), at="sw.1: the port takes 10 with a tag", found="10 with a tag", level="error",
             edits=True, mended=_STEM.format("[10, 20]", "[10, 20]")),
        Case(_STEM.format("[10, 20]", "10"), at="sw.1: the port takes 10 and 20 with a tag", level="error", edits=True,
             mended=_STEM.format("[10, 20]", "[10, 20]")),
        Case(_OWN.format(10, 10), at="sw", found="no port", level="error", mended=_OWN.format(20, 20)),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def parted(
    plan: Plan,
    address_book: AddressBook,
    vlan_ends: VlanEnds,
    placement: Placement,
    cut_offs: list[Island],
) -> Iterator[Finding]:
    """All addresses of one subnet can meet without a router.

    A machine takes its neighbours for being on its own wire: what it sends them is never passed on by a router.

    Formula: one segment for all, joined by cables that carry the VLAN; those who are not cabled at all are left out.

    Source: RFC 1122 section 3.3.1.1 (hosts of a connected network are sent to directly).
    """
    told = {id(block) for island in cut_offs for block in island.shares}
    for side in placement.sides:
        if not side.wired and side.blocks(address_book) <= told:
            continue  # `topology.cut_off` speaks of the cable
        yield _side(plan, address_book, vlan_ends.mended, side)
    for untold in placement.untold:
        block = address_book.subnets[untold.subnet]
        names = names_of(untold.hosts)
        yield Open(
            "error",
            block,
            f"{listed(names)} with the others of {block.text} or not: it says no VLAN, and these addresses need a tag",
            ["vlan"],
            remedy=f"say which it is: vlan = {untold.vlan}, where the others are",
            edits=(Put((*block.source.path, "vlan"), untold.vlan),),
            subjects=(block.text,),
            related=_addresses_of(untold.hosts),
        )


def _side(plan: Plan, book: AddressBook, lan: Segments, side: Side) -> Finding:
    names, others = names_of(side.hosts), names_of(side.others)
    here, main = _where(lan, side.here), _where(lan, side.main)
    places = dict.fromkeys(h.subnet for h in side.hosts if h.subnet is not None)
    subnets = listed(book.subnets[place].text for place in places)
    apart = f"{here} on one side, {main} on the other" if here != main else f"{main} on both sides"
    remedy = f"plug {listed(names)} into ports of {main}, or give addresses of another subnet"
    if not side.wired:
        apart = "no cable leads from one side to the other"
        remedy = f"plug {listed(names)} in where {listed(others)} are, or give addresses of another subnet"
    elif "no VLAN" in (here, main):
        remedy = "join both sides by a cable that carries that VLAN, or plug all of them in on one side"
    if side.gap is not None:
        vlan = vlans_text(n for n in lan.vlans[side.main])
        remedy = f"carry VLAN {vlan} on the cable from {side.gap}, with a tag, at both ends"
    return Finding(
        "error",
        side.hosts[0].thing,
        f"{listed(names)} with addresses of {subnets}, and no frame gets from there to {listed(others)}",
        found=f"{len(names)} apart",
        allowed="none",
        because=apart,
        remedy=remedy,
        path=side.hosts[0].path,
        subjects=names,
        related=[(side.gap.path, "the cable between both sides")] if side.gap is not None else [],
    )


def _where(lan: Segments, number: int) -> str:
    vlans = lan.vlans.get(number, [])
    return f"VLAN {vlans_text(vlans)}" if vlans else "no VLAN"


_PARTED = (
    _SW.format("a") + _PORT.format("1 .. 2", "vlan = 10") + _PORT.format("8", "{0}")
    + _SW.format("b") + _PORT.format("1", "vlan = 10") + _PORT.format("8", "{0}")
    + _NODE.format("n1 .. n2", "10.0.10.1 .. 10.0.10.2", "a.1 .. a.2") + _NODE.format("n3", "10.0.10.3", "b.1")
    + _LINK.format("a.8", "b.8")
)  # fmt: skip
_PLAIN = _SW.format("a") + _PORT.format("1 .. 2", "vlan = 10") + _PORT.format("3", "vlan = {}")
_PLAIN += (
    _NODE.format("n1 .. n3", "10.0.10.1 .. 10.0.10.3", "a.1 .. a.3") + '[[subnet]]\nprefix = "10.0.10.0/24"\n'
)
_ROUTED = '[[switch]]\nid = "a"\nports = 8\n[[switch]]\nid = "b"\nports = 8\n'
_ROUTED += _NODE.format("n1 .. n2", "10.0.10.1 .. 10.0.10.2", "a.1 .. a.2") + _NODE.format(
    "n3", "10.0.10.3", "b.1"
)
_ROUTED += '[[subnet]]\nprefix = "10.0.10.0/24"\n[[node]]\nid = "r"\n{}'
_ROUTED += '[[node.port]]\nid = "1"\nto = "a.8"\n[[node.port]]\nid = "2"\nto = "b.8"\n'

_TAGGER = _SW.format("a") + _PORT.format("1 .. 2", "vlan = 10") + _PORT.format("3", "tagged = 10")
_TAGGER += _NODE.format("n1 .. n2", "10.0.10.1 .. 10.0.10.2", "a.1 .. a.2") + _NODE.format(
    "s", "10.0.10.3", "a.3"
)
_TAGGER += 'tagged = 10\n[[subnet]]\nprefix = "10.0.10.0/24"\n{}'

cases(
    parted,
    clean=[
        _PARTED.format("tagged = 10") + _NET.format("10.0.10.0/24", 10),
        _PARTED.format("vlan = 10") + _NET.format("10.0.10.0/24", 10),
        _PARTED.format("vlan = 4095") + _NET.format("10.0.20.0/24", 10),
        _PLAIN.format(10),
        _ROUTED.format("bridges = true\n"),
        _ROUTED.format(""),  # a cable is missing: `topology.cut_off` has that
        _TAGGER.format("vlan = 10\n"),
        _PLAIN.replace("vlan = {}", "tagged = [10, 4095]"),  # `vlans.bad_id` has that
        _ROUTED.format("").replace('to = "b.8"\n', ""),  # no cable at all: whoever judges cables says that
    ],
    flagged=[
        Case(_PARTED.format("tagged = 20") + _NET.format("10.0.10.0/24", 10), at="n3", level="error",
             mended=_PARTED.format("tagged = 10") + _NET.format("10.0.10.0/24", 10)),
        Case(_PLAIN.format(20), at="n3", level="error", found="1 apart", mended=_PLAIN.format(10)),
        Case(_TAGGER.format(""), at="10.0.10.0/24", kind="open", edits=True, mended=_TAGGER.format("vlan = 10\n")),
        # a router has a subnet on either side, so they are apart on purpose, and an address is the slip
        Case(_ROUTED.format('address = ["10.0.10.8", "10.0.20.1"]\n') + '[[subnet]]\nprefix = "10.0.20.0/24"\n',
             at="n3", level="error",
             mended=_ROUTED.format('address = ["10.0.10.8", "10.0.20.1"]\n').replace("10.0.10.3", "10.0.20.3")
             + '[[subnet]]\nprefix = "10.0.20.0/24"\n'),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def leak(plan: Plan, segments: Segments, vlan_ends: VlanEnds) -> Iterator[Finding]:
    """No two VLANs run together.

    A switch without VLANs that is plugged into ports of two of them makes both one network: whoever is in one hears
    the other, and two DHCP servers answer.

    Source: IEEE 802.1Q, frames without a tag are in the VLAN of the port they come in by (from memory).
    """
    lan = vlan_ends.mended
    mixed = {number for number, vlans in lan.vlans.items() if len(vlans) > 1} - vlan_ends.muddled
    doors: dict[int, list[tuple[int, PortPoint, Any]]] = {}
    crowded: set[int] = set()
    for passage in lan.passages if mixed else ():
        number = lan.segment[passage.a]
        line = passage.line
        for end, other, place in ((line.a, line.b, passage.a), (line.b, line.a, passage.b)):
            if end is not None and len(end.links) > 1:
                crowded.add(number)  # `ports.double_booked` says that it is plugged in wrongly
            if number in mixed and end is not None and end.thing.id in lan.keeping and not end.apart:
                through = other.thing if other is not None else line.outside
                doors.setdefault(number, []).append((lan.rooms[place].vlan, end, through))
    for number in sorted(mixed - crowded):
        found = _joint(lan, number, doors.get(number, []))
        if found is not None:
            yield found


def _joint(lan: Segments, number: int, doors: list[tuple[int, PortPoint, Any]]) -> Finding | None:
    """Return a finding for what joins several VLANs: what passes all on, or a machine with ports in several."""
    clear = [door for door in doors if getattr(door[2], "id", None) in lan.clear]
    joints = clear or _several(doors)
    if not joints:
        return None
    names = tuple(dict.fromkeys(getattr(thing, "id", thing) for _, _, thing in joints))
    ports: dict[int, list[str]] = {}
    for vlan, point, _ in joints:
        ports.setdefault(vlan, []).append(str(point))
    plugged = "; ".join(f"{listed(dict.fromkeys(p))}: VLAN {vlan}" for vlan, p in sorted(ports.items()))
    return Finding(
        "error",
        joints[0][2] if not isinstance(joints[0][2], str) else joints[0][1],
        f"VLAN {vlans_text(lan.vlans[number])} run together through {listed(names)}: {plugged}",
        found=str(len(ports)),
        allowed="1",
        remedy="plug it into ports of one VLAN alone, or take a switch there that keeps VLANs",
        subjects=names,
        related=[(point.path, f"{point}, VLAN {vlan}") for vlan, point, _ in joints[:8]],
    )


def _several(doors: list[tuple[int, PortPoint, Any]]) -> list[tuple[int, PortPoint, Any]]:
    vlans: dict[str, set[int]] = {}
    for vlan, _, through in doors:
        vlans.setdefault(getattr(through, "id", ""), set()).add(vlan)
    return [door for door in doors if len(vlans[getattr(door[2], "id", "")]) > 1]


_LEAK = (
    _SW.format("sw")
    + _PORT.format("1", "vlan = 10")
    + _PORT.format("2", "vlan = {}")
    + _PORT.format("3", "vlan = 20")
)
_LEAK += '[[switch]]\nid = "u"\nports = 8\n' + _LINK.format("u.1", "sw.1") + _LINK.format("u.2", "sw.2")
_LEAK += _LINK.format("n3", "sw.3") + '[[node]]\nid = "n3"\n'
_BOND = _SW.format("sw") + _PORT.format("1", "vlan = 10") + _PORT.format("2", "vlan = {}")
_BOND += '[[storage]]\nid = "s"\nbond = "b"\n[[storage.port]]\nid = "1 .. 2"\nto = "sw.1 .. sw.2"\n'

cases(
    leak,
    clean=[
        _LEAK.format(10),
        _BOND.format(10),
        _LEAK.format(4095),
        # `ports.double_booked` has that
        _BOND.format(20) + '[[node]]\nid = "n"\nport = "sw.2"\n',
    ],
    flagged=[
        Case(_LEAK.format(20), at="u", found="2", level="error", mended=_LEAK.format(10)),
        Case(_BOND.format(20), at="s", found="2", level="error", mended=_BOND.format(10)),
    ],
)


@rule(level="error", over="plan")
def shared(
    plan: Plan, address_book: AddressBook, vlan_ends: VlanEnds, placement: Placement
) -> Iterator[Finding]:
    """Subnets that say different VLANs do not share one network.

    Where only switches without VLANs stand between them, what should be apart is one broadcast domain.

    Source: IEEE 802.1Q, a VLAN is kept apart by bridges that know it (from memory).
    """
    lan = vlan_ends.mended
    if not lan.keeping and any(switch.vlans is None for switch in plan.table("switch")):
        return  # `vlans.nobody` asks for what is not said
    inside: dict[int, dict[int, list[Host]]] = {}
    for place, hosts in placement.members.items():
        vlan = getattr(address_book.subnets[place].source, "vlan", None)
        if vlan is None:
            continue
        for host in hosts:
            where = placement.where[id(host)]
            if len(where) == 1 and not lan.vlans[where[0]]:  # else it may be at another of its ports
                inside.setdefault(where[0], {}).setdefault(vlan, []).append(host)
    for number, by_vlan in inside.items():
        if len(by_vlan) > 1:
            yield _one_network(address_book, lan, number, by_vlan)


def _one_network(book: AddressBook, lan: Segments, number: int, by_vlan: dict[int, list[Host]]) -> Finding:
    through = [
        room.thing.id
        for room, n in zip(lan.rooms, lan.segment, strict=True)
        if n == number and room.thing is not None and room.thing.id in lan.clear
    ]
    who = "; ".join(f"VLAN {vlan}: {listed(names_of(hosts))}" for vlan, hosts in sorted(by_vlan.items()))
    hosts = min(by_vlan.values(), key=len)
    return Finding(
        "error",
        hosts[0].thing,
        f"{len(by_vlan)} VLANs share one network{' of ' + listed(dict.fromkeys(through)) if through else ''}: {who}",
        found=str(len(by_vlan)),
        allowed="1",
        remedy="take a switch that keeps VLANs and give its ports theirs, or plug the two into switches apart",
        path=hosts[0].path,
        subjects=names_of(hosts),
    )


_SHARED = '[[switch]]\nid = "u"\nvlans = {}\nports = 8\n' + _NODE.format(
    "n1 .. n2", "10.0.10.1 .. 10.0.10.2", "u.1 .. u.2"
)
_SHARED += (
    _NODE.format("m", "10.0.20.1", "u.3")
    + _NET.format("10.0.10.0/24", 10)
    + _NET.format("10.0.20.0/24", "{}")
)

_STICK = _SW.format("sw") + _PORT.format("8", "tagged = [10, 20]") + _NET.format("10.0.10.0/24", 10)
_STICK += _NET.format("10.0.20.0/24", 20) + '[[node]]\nid = "r"\naddress = ["10.0.10.1", "10.0.20.1"]\n'
_STICK += '[[node.port]]\nid = "lan"\ntagged = [10, 20]\nto = "sw.8"\n[[node.port]]\nid = "wan"\n'
_STICK += '[[uplink]]\nfrom = "r.wan"\nto = "the hall"\n'

cases(
    shared,
    clean=[
        _SHARED.format("false", 10),
        _SHARED.replace("vlans = {}\n", "").format(20),
        # the addresses of a router are at one of its ports, and not at its way out
        _STICK.replace('24"\nvlan = 10', '24"\nvlan = 10\ngateway = "10.0.10.1"'),
    ],
    flagged=[
        Case(
            _SHARED.format("false", 20), at="m", found="2", level="error", mended=_SHARED.format("false", 10)
        )
    ],
)


@rule(level="error", over="plan")
def gateway(plan: Plan, address_book: AddressBook, out_of_reach: list[OutOfReach]) -> Iterator[Finding]:
    """A router outside is in the network of those who have it for a neighbour.

    It has an address of their subnet, so they send to it directly: the uplink must carry the VLAN of that subnet, with
    a tag or without.

    Source: RFC 1122 section 3.3.1.1 (a gateway is on a connected network); common practice for the VLAN.
    """
    groups: dict[int, list[OutOfReach]] = {}
    for lost in out_of_reach:
        groups.setdefault(id(lost.line), []).append(lost)
    for found in groups.values():
        yield _lost(plan, address_book, found)


def _lost(plan: Plan, book: AddressBook, found: list[OutOfReach]) -> Finding:
    line = found[0].line
    vlans = sorted({lost.vlan for lost in found if lost.vlan is not None})
    subnets = listed(dict.fromkeys(book.subnets[lost.subnet].text for lost in found))
    carried, door = found[0].carried, found[0].door
    dropped = [vlan for vlan in vlans if vlan not in carried]
    words = f"let {line.a} lead to where these addresses are"
    edits: tuple[Edit, ...] = ()
    if dropped and door is not None:
        addresses = [
            host for host in book.outside if host.thing.id == found[0].router and host.subnet is not None
        ]
        words, edits = _carry(plan, line, door, dropped, len(addresses) == len(found))
    elif vlans:
        words = f"carry VLAN {vlans_text(vlans)} on every cable between {line.a} and those addresses"
    return Finding(
        "error",
        line.a,
        f"{found[0].router} has addresses of {subnets}, but the uplink at {line.a} is not in that network",
        found=f"VLAN {vlans_text(carried)}" if carried else "another network",
        allowed=f"VLAN {vlans_text(vlans)}" if vlans else subnets,
        remedy=words,
        edits=edits,
        path=line.a.path,
        subjects=(line.a.name,),
        related=[
            (line.path, "the uplink"),
            *([(door.path, f"{door}")] if door not in (None, line.a) else []),
        ],
    )


def _carry(
    plan: Plan, line: LinkLine, door: PortPoint, vlans: list[int], alone: bool
) -> tuple[str, tuple[Edit, ...]]:
    """Return what lets VLANs through a switch port, in words and as an edit; ``alone``: its router needs no others."""
    tags, holder = with_tags(door.tagged, vlans), own_entry(plan, [door])
    plain = len(vlans) == 1 and alone
    if (
        plain and door is not line.a and not door.tagged
    ):  # what is plugged in there passes all on, and tags nothing
        return f"write vlan = {vlans[0]} at {door}", (Put((*holder, "vlan"), vlans[0]),) if holder else ()
    words = f"write tagged = {tags_text(tags)} at {door}"
    if plain:
        words += f"; or vlan = {vlans[0]}, where the router tags nothing"
    # A router that tags already, or that nobody speaks for, may have one tag more.
    exact = bool(holder) and bool(door.tagged)
    return words, (Put((*holder, "tagged"), tags_value(tags)),) if exact else ()


_GATE = (
    _SW.format("sw")
    + _PORT.format("1", "vlan = 10")
    + _PORT.format("2", "vlan = 20")
    + _PORT.format("8", "{}")
)
_GATE += _NODE.format("n1", "10.0.10.5", "sw.1") + _NODE.format("n2", "10.0.20.5", "sw.2")
_GATE += '[[subnet]]\nprefix = "10.0.10.0/24"\nvlan = 10\ngateway = "10.0.10.1"\n'
_GATE += '[[subnet]]\nprefix = "10.0.20.0/24"\nvlan = 20\ngateway = "10.0.20.1"\n'
_GATE += '[[outside]]\nid = "router"\naddress = ["10.0.10.1", "10.0.20.1"]\n[[uplink]]\nfrom = "sw.8"\nto = "router"\n'

_NO_ONE = _GATE.replace(_NODE.format("n2", "10.0.20.5", "sw.2"), "")
_U = '[[switch]]\nid = "u"\nvlans = false\nports = 4\n'
_MUDDLE = (
    '[[switch]]\nid = "u"\nvlans = false\n'
    + _PORT.format("1", 'to = "sw.8"')
    + _PORT.format("2", "vlan = 20")
)
_MAST = _SW.format("sw") + _PORT.format("1", "vlan = 99") + _PORT.format("2", "{}")
_MAST += _NODE.format("r", "10.0.99.2", "sw.1") + _NET.format("10.0.99.0/24", 99) + 'gateway = "10.0.99.1"\n'
_MAST += '[[appliance]]\nid = "radio"\nbridges = true\n[[appliance.port]]\nid = "eth"\nto = "sw.2"\n'
_MAST += '[[appliance.port]]\nid = "air"\n[[uplink]]\nfrom = "radio.air"\nto = "hut"\n'
_MAST += '[[outside]]\nid = "hut"\naddress = "10.0.99.1"\n'
_RADIO = _SW.format("sw") + _PORT.format("1 .. 2", "vlan = 10") + _NODE.format("n", "10.0.10.5", "sw.2")
_RADIO += '[[subnet]]\nprefix = "10.0.10.0/24"\nvlan = 10\ngateway = "10.0.10.1"\n[[subnet]]\nprefix = "10.0.7.0/24"\n'
_RADIO += '[[node]]\nid = "fw"\naddress = ["10.0.10.1", "10.0.7.2"]\nport = "sw.1"\n[[uplink]]\nfrom = "fw"\n'
_RADIO += 'to = "modem"\nmedium = "radio"\n[[outside]]\nid = "modem"\naddress = "10.0.7.1"\n'

cases(
    gateway,
    clean=[
        _GATE.format("tagged = [10, 20]"),
        _GATE.format("vlan = 10\ntagged = 20"),
        _GATE.format("tagged = 10") + "tagged = [10, 20]\n",  # `vlans.ends` has that
        _GATE.format("vlan = 10").replace('to = "router"', 'to = "the hall"'),
        _GATE.format("vlan = 10\ntagged = 20") + "vlan = 30\ntagged = 20\n",  # `vlans.ends` has that
        _GATE.format("vlan = 10\ntagged = 10"),  # `vlans.twice` has that
        _GATE.format("vlan = 10").replace('from = "sw.8"', 'from = "u.2"') + _MUDDLE,  # and `vlans.not_kept` this
        _GATE.format("vlan = 10").replace('from = "sw.8"', 'from = "u.1"') + _U,  # no cable leads there at all
        _RADIO,
    ],
    flagged=[
        Case(_GATE.format("tagged = 10"), at="sw.8", level="error", edits=True,
             mended=_GATE.format("tagged = [10, 20]")),
        Case(_GATE.format("vlan = 10"), at="10.0.20.0/24", found="VLAN 10", level="error",
             mended=_GATE.format("vlan = 10\ntagged = 20")),
        Case(_NO_ONE.format("vlan = 10"), at="10.0.20.0/24", level="error", mended=_NO_ONE.format("tagged = [10, 20]")),
        Case(_GATE.format(""), at="10.0.10.0/24 and 10.0.20.0/24", found="VLAN 1", level="error",
             mended=_GATE.format("tagged = [10, 20]")),
        # what passes all on has the uplink: the port that it is plugged into says the VLAN
        Case(_MAST.format("vlan = 10"), at="radio.air", found="VLAN 10", level="error", edits=True,
             mended=_MAST.format("vlan = 99")),
        Case(_MAST.format("vlan = 10\ntagged = 20"), at="radio.air", found="VLAN 10 and 20", level="error", edits=True,
             mended=_MAST.format("vlan = 10\ntagged = [20, 99]")),
    ],
)  # fmt: skip

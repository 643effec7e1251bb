"""VLANs: ids that can be one, the same word at both ends of a cable, and switches that keep them apart."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Level, Open, Put, cases, rule
from coldcheck.lan.vlan import doubt_about_id, problem_with_id
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan, PortPoint
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Switch
from coldcheck.workings.addresses import AddressBook
from coldcheck.workings.placing import Placement
from coldcheck.workings.reaching import OutOfReach
from coldcheck.workings.segments import DEFAULT_VLAN, Segments
from coldcheck.workings.vlan_words import (
    own_entry,
    tagged_only,
    tags_text,
    tags_value,
    vlans_text,
    with_tags,
)
from coldcheck.workings.vlans import EndSlip, Stated, VlanEnds, carried_ids, port_key, says_vlans

_TRUNK = '[[switch.port]]\nid = "{}"\n{}\n'
_SW = '[[switch]]\nid = "{}"\nvlans = true\n'
_LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
_NET = '[[subnet]]\nprefix = "{}"\nvlan = {}\n'


@rule(level="error", over="plan")
def bad_id(plan: Plan, stated_vlans: list[Stated]) -> Iterator[Finding]:
    """A VLAN has an id from 1 to 4094, and better none that some switches keep for themselves.

    A switch refuses any other number, or takes it for something else.

    Formula: 12 bits, without 0 (a priority and no VLAN) and 4095 (reserved).

    Source: IEEE 802.1Q-1998, special VID values, read in a quotation; 1002 to 1005: common practice.
    """
    places: dict[int, list[tuple[Stated, str]]] = {}
    for stated in stated_vlans:
        for number in dict.fromkeys((*stated.tagged, *(() if stated.vlan is None else (stated.vlan,)))):
            if problem_with_id(number) or doubt_about_id(number):
                places.setdefault(number, []).append((stated, "vlan" if number == stated.vlan else "tagged"))
    for number, found in places.items():  # one number is one slip, wherever it is written
        problem = problem_with_id(number)
        names = [stated.name for stated, _ in found]
        first, key = found[0]
        paths = dict.fromkeys((stated.path, key) for stated, key in found)
        yield Finding(
            "error" if problem else "note",
            first.at,
            f"{number} is {'no id of a VLAN' if problem else 'a doubtful id of a VLAN'}: "
            f"{problem or doubt_about_id(number)} ({listed(names)})",
            found=str(number),
            allowed="1 to 4094",
            remedy="choose another number, the same in all these places"
            if len(paths) > 1
            else "choose another",
            path=_written(first, key),
            subjects=tuple(names),
            related=[((*path, key), "and here") for path, key in list(paths)[1:9]],
        )


def _written(stated: Stated, key: str) -> Path:
    return (*stated.path, key)


_ACCESS = _SW.format("sw") + _TRUNK.format("1 .. 4", "vlan = {}")

cases(
    bad_id,
    clean=[_ACCESS.format(1), _ACCESS.format(4094), _ACCESS.format(1001), _ACCESS.format(1006)],
    flagged=[
        Case(_ACCESS.format(0), at="0 is no id", found="0", level="error", mended=_ACCESS.format(10)),
        Case(_ACCESS.format(4095), at="sw.1", found="4095", level="error", mended=_ACCESS.format(4094)),
        Case(_ACCESS.format(4096), found="4096", level="error"),
        Case(_ACCESS.format("10\ntagged = [20, 4095]"), found="4095", level="error"),
        Case(_ACCESS.format(1002), found="1002", level="note", mended=_ACCESS.format(1001)),
        Case(_ACCESS.format(1005), found="1005", level="note"),
        Case(_NET.format("10.0.0.0/24", 5000), at="subnet 10.0.0.0/24", found="5000", level="error"),
    ],
)


@rule(level="error", over="plan")
def twice(plan: Plan, stated_vlans: list[Stated]) -> Iterator[Finding]:
    """A VLAN passes a port without a tag or with one, not both.

    What the port sends can look one way only, and which it is differs from switch to switch.

    Source: IEEE 802.1Q, the untagged set of a VLAN's ports (from memory).
    """
    groups: dict[Path, list[Stated]] = {}
    for stated in stated_vlans:
        if stated.twice and not problem_with_id(stated.vlan or 0):
            groups.setdefault(stated.path, []).append(stated)
    for path, found in groups.items():
        first = found[0]
        names = [stated.name for stated in found]
        yield Finding(
            "error",
            first.at,
            f"VLAN {first.vlan} at {listed(names)} is said without a tag and with one",
            found=str(first.vlan),
            remedy="take it out of `vlan`, or out of `tagged`",
            path=(*path, "tagged"),
            subjects=tuple(names),
        )


cases(
    twice,
    clean=[_ACCESS.format("10\ntagged = [20, 30]"), _ACCESS.format("10")],
    flagged=[
        Case(_ACCESS.format("10\ntagged = [10, 20]"), at="sw.1 .. sw.4", found="10", level="error",
             mended=_ACCESS.format("10\ntagged = 20")),
        Case('[[node]]\nid = "n"\nvlan = 20\ntagged = 20\n', at="n", found="20"),
    ],
)  # fmt: skip


@rule(level="error", over="switch")
def not_kept(switch: Switch) -> Iterator[Finding]:
    """A switch whose ports are given VLANs can keep them apart.

    One that cannot passes every frame to every port: two networks that should be apart are one.

    Source: IEEE 802.1Q, VLAN-aware and VLAN-unaware bridges (from memory).
    """
    if switch.vlans is False and says_vlans(switch):
        ports = [f"{switch.id}.{p.id}" for p in switch.port_ if p.vlan is not None or p.tagged]
        yield Finding(
            "error",
            switch,
            f"VLANs given to {listed(ports) or switch.id}, where none are kept apart",
            found="vlans = false",
            remedy="take a switch that keeps VLANs, or write vlans = true if this one does",
            place=("vlans", "part"),
        )


_FALSE = '[[switch]]\nid = "sw"\n{}[[switch.port]]\nid = "1 .. 2"\nvlan = 10\n'

cases(
    not_kept,
    clean=[_FALSE.format("vlans = true\n"), _FALSE.format(""), '[[switch]]\nid = "sw"\nvlans = false\n'],
    flagged=[
        Case(
            _FALSE.format("vlans = false\n"), at="sw", level="error", mended=_FALSE.format("vlans = true\n")
        ),
        Case('[[switch]]\nid = "sw"\nvlans = false\ntagged = [10, 20]\n', at="sw", level="error"),
    ],
)


@rule(level="error", over="plan")
def nobody(
    plan: Plan,
    segments: Segments,
    stated_vlans: list[Stated],
    address_book: AddressBook,
    placement: Placement,
    vlan_ends: VlanEnds,
    out_of_reach: list[OutOfReach],
) -> Iterator[Finding]:
    """The VLAN of a subnet is one that a port of a switch carries, and none is left without while another has two.

    Otherwise nobody is in it. Two subnets of IPv4 in one VLAN may be meant; where a router that has an address in the
    second takes the tag of just one VLAN more, which has no subnet of IPv4, that is probably the one. Where no switch
    of the plan says a word of VLANs, that is open.

    Source: IEEE 802.1Q, a VLAN is the ports that are its members (from memory).
    """
    subnets: dict[int, list[Any]] = {}
    for subnet in plan.table("subnet"):
        if subnet.vlan is not None and problem_with_id(subnet.vlan) is None:
            subnets.setdefault(subnet.vlan, []).append(subnet)
    if not subnets:
        return
    switches = plan.table("switch")
    if not segments.keeping:
        unsaid = [switch.id for switch in switches if switch.vlans is None]
        if unsaid:
            first = next(iter(subnets.values()))[0]
            yield Open(
                "warning",
                first,
                f"VLAN {listed(map(str, subnets))} of the subnets kept apart or not: no port of {listed(unsaid)} "
                "says a VLAN",
                ["vlan"],
                remedy="give the ports their VLANs; or say vlans = false of a switch that knows none",
                place="vlan",
            )
        return
    known = carried_ids(plan, segments.keeping)
    for stated in stated_vlans:  # what a machine says and its port does not is told by `vlans.machine`
        if stated.table not in ("subnet", "switch"):
            known.update(stated.tagged, () if stated.vlan is None else (stated.vlan,))
    places = (place for group in placement.misplaced for place in group.subnets)
    blamed = {id(address_book.subnets[place].source) for place in places}
    blamed |= _told_elsewhere(plan, address_book, vlan_ends, out_of_reach)
    for vlan, found in subnets.items():
        if vlan in known or any(id(subnet) in blamed for subnet in found):
            continue
        prefixes = [subnet.prefix for subnet in found]
        yield Finding(
            "error",
            found[0],
            f"no port of a switch carries VLAN {vlan}, in which the plan puts {listed(prefixes)}",
            found=str(vlan),
            allowed=vlans_text(known),
            remedy="give it to the ports of those who shall be in it, or correct the number",
            place="vlan",
            subjects=tuple(prefixes),
        )
    if known >= subnets.keys() and not placement.misplaced:
        yield from _doubled(plan, address_book, segments)


def _doubled(plan: Plan, book: AddressBook, segments: Segments) -> Iterator[Finding]:
    """Yield a finding for a second subnet of IPv4 in one VLAN, where ports have one VLAN without any."""
    places: dict[int | None, list[int]] = {}
    for place, block in enumerate(book.subnets):
        if block.prefix.family == 4:
            places.setdefault(getattr(block.source, "vlan", None), []).append(place)
    several = [found for found in places.values() if len(found) == 2]
    if None in places or len(several) != 1 or len(places) + 1 != sum(map(len, places.values())):
        return  # a subnet that says no VLAN may be the one that is missed
    empty = _plain_vlans(plan, segments) - places.keys()
    if len(empty) != 1:
        return
    free = empty.pop()
    tagging = [place for place in several[0] if _all_take(plan, book, place, free)]
    if not tagging or _somebody(plan, book, free):
        return
    first, second = sorted(several[0], key=lambda place: (place == tagging[-1], place))
    block, vlan = book.subnets[second], getattr(book.subnets[second].source, "vlan", 0)
    yield Finding(
        "warning",
        block,
        f"{block.text} put in VLAN {vlan}, as is {book.subnets[first].text}; ports have VLAN {free}, and no subnet of "
        "IPv4 is in it",
        found=str(vlan),
        allowed=str(free),
        remedy=f"write vlan = {free}, if that is meant",
        path=(*block.source.path, "vlan"),
        subjects=(block.text,),
        related=[((*book.subnets[first].source.path, "vlan"), "the other subnet")],
    )


def _plain_vlans(plan: Plan, segments: Segments) -> set[int]:
    """Return the VLANs that ports of switches have without a tag, as the plan says."""
    switches = (switch for switch in plan.table("switch") if switch.id in segments.keeping)
    return {port.vlan for switch in switches for port in switch.port_ if port.vlan is not None}


def _all_take(plan: Plan, book: AddressBook, place: int, vlan: int) -> bool:
    """Say whether there are addresses in a subnet, all of things that take the tag of a VLAN."""
    things = [host.thing for host in book.hosts if host.subnet == place]
    return bool(things) and all(
        any(vlan in port.tagged for port in plan.ports.get(thing.id, ())) and thing.table != "switch"
        for thing in things
    )


def _somebody(plan: Plan, book: AddressBook, vlan: int) -> bool:
    """Say whether an uplink is at a port of a VLAN, or something without an address, of which others tell."""
    told = {host.thing.id for host in book.hosts}
    for line in plan.links:
        for own, other in ((line.a, line.b), (line.b, line.a)):
            at = own is not None and own.thing.table == "switch" and own.vlan == vlan
            if at and (other is None or other.thing.id not in told):
                return True
    return False


def _told_elsewhere(
    plan: Plan, book: AddressBook, ends: VlanEnds, out_of_reach: list[OutOfReach]
) -> set[int]:
    """Return the ``id()`` of the subnets whose router, or whose machines, are plugged into ports that are told of."""
    told = {id(book.subnets[lost.subnet].source) for lost in out_of_reach}  # by `segments.gateway`
    for host in book.hosts if ends.excused else ():
        for point in plan.ports.get(host.thing.id, ()):
            ports = [line.other(point) for line in point.links]
            if host.subnet is not None and any(id(port) in ends.excused for port in ports):
                told.add(id(book.subnets[host.subnet].source))
    return told


_DOUBLE = _SW.format("sw") + _TRUNK.format("1 .. 2", "vlan = 10") + _TRUNK.format("3", "vlan = 20")
_DOUBLE += (
    _TRUNK.format("4", "tagged = [10, 20]")
    + _NET.format("10.0.10.0/24", 10)
    + _NET.format("10.0.20.0/24", "{}")
)
_DOUBLE += '[[node]]\nid = "r"\naddress = ["10.0.10.1", "10.0.20.1"]\nport = "sw.4"\ntagged = [10, 20]\n'
_DOUBLE += '[[node]]\nid = "n"\naddress = "10.0.10.2"\nport = "sw.1"\n'

cases(
    nobody,
    clean=[
        # both are used in the one VLAN, so that is meant; the other one is that of the uplink; or of what has DHCP
        _DOUBLE.format(10) + '[[node]]\nid = "m"\naddress = "10.0.20.2"\nport = "sw.2"\n',
        _DOUBLE.format(10) + '[[uplink]]\nfrom = "sw.3"\nto = "the hall"\n',
        _DOUBLE.format(10) + '[[node]]\nid = "m"\nport = "sw.3"\n',
        _ACCESS.format(10) + _NET.format("10.0.10.0/24", 10),
        _ACCESS.format("10\ntagged = 20") + _NET.format("10.0.20.0/24", 20),
        '[[switch]]\nid = "sw"\nvlans = false\nports = 8\n' + _NET.format("10.0.10.0/24", 10),
        _NET.format("10.0.10.0/24", 10),
        _ACCESS.format(10) + _NET.format("10.0.10.0/24", 4095),
        # `vlans.bad_id` has that
        _ACCESS.format(4095) + _NET.format("10.0.20.0/24", 20)
        + '[[node]]\nid = "n"\naddress = "10.0.20.1"\nport = "sw.1"\n',
        # `vlans.machine` has that
        _ACCESS.format(10) + _NET.format("10.0.20.0/24", 20) + '[[node]]\nid = "n"\ntagged = 20\nport = "sw.1"\n',
    ],
    flagged=[
        Case(_ACCESS.format(10) + _NET.format("10.0.10.0/24", 11), at="10.0.10.0/24", found="11", level="error",
             mended=_ACCESS.format(10) + _NET.format("10.0.10.0/24", 10)),
        Case(_DOUBLE.format(10), at="10.0.20.0/24", found="10", level="warning", mended=_DOUBLE.format(20)),
        Case('[[switch]]\nid = "sw"\nports = 8\n' + _NET.format("10.0.10.0/24", 10), kind="open", at="sw",
             mended='[[switch]]\nid = "sw"\nvlans = false\nports = 8\n' + _NET.format("10.0.10.0/24", 10)),
    ],
)  # fmt: skip


# --- the two ends of a cable -----------------------------------------------------------------------------------------


@rule(level="error", over="plan")
def ends(plan: Plan, vlan_ends: VlanEnds) -> Iterator[Finding]:
    """Both ends of a cable between switches, or to what lies outside, carry the same VLANs in the same way.

    Frames without a tag that leave one VLAN and arrive in another join the two; a tag that the other end does not know
    is dropped there, and whoever is behind it is cut off. It is a warning where nobody is, yet.

    Source: networking courses (the untagged VLAN is the same at both ends of a trunk), read (secondary); IEEE 802.1Q,
    a port drops frames of a VLAN whose member it is not (from memory).
    """
    slips = [slip for slip in vlan_ends.slips.values() if not slip.machine and not slip.told]
    for alike in _alike(slips):
        yield _disagreement(plan, alike)


def _alike(slips: list[EndSlip]) -> Iterator[list[EndSlip]]:
    """Yield the slips, those together that are one: of a bond, of one entry, or of ports that one table describes."""
    left: list[list[EndSlip]] = [[slip] for slip in slips]
    for common in (_trunk, _first, _second):
        groups: dict[Any, list[EndSlip]] = {}
        for some in left:
            slip = some[0]
            key = (common(slip), slip.native, slip.a_lacks, slip.b_lacks, slip.grave, slip.line.b is None)
            groups.setdefault(key, []).extend(some)
        left = list(groups.values())
    yield from left


def _trunk(slip: EndSlip) -> Any:
    line = slip.line
    return (line.bond or line.path) if line.b is not None else line.path


def _first(slip: EndSlip) -> Any:
    return slip.line.a.spec.path or _trunk(slip)


def _second(slip: EndSlip) -> Any:
    end = slip.line.b
    return (end.spec.path if end is not None else ()) or _trunk(slip)


def _disagreement(plan: Plan, slips: list[EndSlip]) -> Finding:
    slip = slips[0]
    line = slip.line
    a = listed(dict.fromkeys(str(s.line.a) for s in slips))
    b = listed(dict.fromkeys(str(s.line.b) for s in slips)) if line.b is not None else line.outside
    words = []
    if slip.native is not None:
        words.append(f"without a tag VLAN {slip.native[0]} at {a} and {slip.native[1]} at {b}")
    for lacks, here, there, end in ((slip.b_lacks, b, a, slip.b), (slip.a_lacks, a, b, slip.a)):
        if lacks:
            how = ", which carries it without a tag" if end.untagged in lacks and len(lacks) == 1 else ""
            words.append(f"VLAN {vlans_text(lacks)} tagged at {there} and not at {here}{how}")
    what = "uplink" if line.b is None else "cable" if len(slips) == 1 else "cables"
    says = f"the two ends of the {what} from {a} to {b} disagree: {'; '.join(words)}"
    remedy, edits = _agree(plan, slips)
    level: Level = "error" if slip.grave else "warning"
    return Finding(
        level,
        line.a,
        says,
        found=_carries(slip.a),
        allowed=_carries(slip.b),
        because="" if slip.grave else "nobody is cut off by it, or let in, as the plan stands",
        remedy=remedy,
        edits=edits,
        path=line.a.path if line.b is not None else (*line.entry.path, _entry_key(slip)),
        subjects=tuple(dict.fromkeys(s.line.a.name for s in slips)),
        related=[(line.b.path, "the other end")] if line.b is not None else [(line.a.path, "the port")],
    )


def _entry_key(slip: EndSlip) -> str:
    stated = slip.line.entry.stated
    keys = ("vlan", "tagged") if slip.native is not None else ("tagged", "vlan")
    return next(key for key in (*keys, "to") if key in stated)


def _carries(end: Any) -> str:
    own = [] if end.untagged is None else [str(end.untagged)]
    return ", ".join([*own, *(f"{n} tagged" for n in end.tagged)]) or "nothing"


def _agree(plan: Plan, slips: list[EndSlip]) -> tuple[str, tuple[Edit, ...]]:
    """Return what to write so that both ends agree, in words, and as an edit where one end lacks what the other has."""
    slip = slips[0]
    if slip.native is not None:
        return "write the same `vlan` and the same `tagged` at both ends", ()
    if slip.a_lacks and slip.b_lacks:
        return "write the same `tagged` at both ends", ()
    end, tags = (slip.line.a, slip.a.tagged) if slip.a_lacks else (slip.line.b, slip.b.tagged)
    other = slip.line.b if slip.a_lacks else slip.line.a
    lacks = slip.a_lacks or slip.b_lacks
    name = str(end) if end is not None else "the uplink"
    source = str(other) if other is not None else "the uplink"
    wanted = with_tags(tags, lacks)
    words = f"{name} with tagged = {tags_text(wanted)}, or {source} without {vlans_text(lacks)}"
    if (
        not slip.grave
        or len(slips) > 1
        or (end is not None and (slip.a if slip.a_lacks else slip.b).untagged in lacks)
    ):
        return words, ()
    holder = slip.line.entry.path if end is None else own_entry(plan, [end])
    return words, (Put((*holder, "tagged"), tags_value(wanted)),) if holder else ()


_PAIR = (
    _SW.format("a") + _TRUNK.format("1", "vlan = 10") + _TRUNK.format("8", "{}")
    + _SW.format("b") + _TRUNK.format("1", "vlan = 10") + _TRUNK.format("2", "vlan = 20") + _TRUNK.format("8", "{}")
    + _LINK.format("a.8", "b.8") + _LINK.format("n1", "a.1") + _LINK.format("n2", "b.1") + _LINK.format("n3", "b.2")
    + '[[node]]\nid = "n1 .. n3"\n'
)  # fmt: skip
_OUT = (
    _SW.format("a") + _TRUNK.format("1", "vlan = 10") + _TRUNK.format("8", "{}") + _LINK.format("n1", "a.1")
)
_OUT += '[[node]]\nid = "n1"\n[[uplink]]\nfrom = "a.8"\nto = "the hall"\n{}'

cases(
    ends,
    clean=[
        _PAIR.format("tagged = [10, 20]", "tagged = [10, 20]"),
        _PAIR.format("vlan = 10", "vlan = 10"),
        _PAIR.format("vlan = 99\ntagged = 10", "vlan = 99\ntagged = 10"),
        _PAIR.format("tagged = [20, 10]", "tagged = [10, 20]"),
        _PAIR.format("tagged = [10, 4095]", "tagged = [10, 20]"),  # `vlans.bad_id` has that
        _OUT.format("tagged = 10", ""),
        _OUT.format("tagged = 10", "tagged = 10\n"),
        _OUT.format("vlan = 10", "vlan = 10\n"),
    ],
    flagged=[
        # nobody is in VLAN 20 at a: a word too many, and no one is cut off
        Case(_PAIR.format("tagged = 10", "tagged = [10, 20]"), at="VLAN 20 tagged at b.8 and not at a.8",
             level="warning", mended=_PAIR.format("tagged = [10, 20]", "tagged = [10, 20]")),
        Case(_PAIR.format("tagged = [10, 20]", "tagged = 20"), at="VLAN 10", level="error", edits=True,
             mended=_PAIR.format("tagged = [10, 20]", "tagged = [10, 20]")),
        Case(_PAIR.format("vlan = 10", "vlan = 20"), at="VLAN 10 at a.8 and 20 at b.8", level="error",
             mended=_PAIR.format("vlan = 10", "vlan = 10")),
        Case(_PAIR.format("tagged = 10", "vlan = 10"), at="which carries it without a tag", level="error"),
        Case(_PAIR.format("vlan = 99\ntagged = 10", "vlan = 98\ntagged = 10"), at="99 at a.8 and 98 at b.8",
             level="warning"),
        Case(_OUT.format("tagged = 20", "tagged = 10\n"), at="the uplink from a.8 to the hall", level="error"),
        Case(_OUT.format("vlan = 10", "vlan = 20\n"), at="a.8", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def machine(plan: Plan, vlan_ends: VlanEnds, placement: Placement) -> Iterator[Finding]:
    """What a machine says of VLANs is what its switch port carries.

    Frames with a tag that the port does not take are dropped; frames without one are in the VLAN of the port, whatever
    the machine believes.

    Source: IEEE 802.1Q, ingress rules of a port (from memory).
    """
    groups: dict[Any, list[EndSlip]] = {}
    for slip in vlan_ends.slips.values():
        if slip.machine and not slip.told:
            groups.setdefault(_entries(slip), []).append(slip)
    for slips in groups.values():
        yield _deaf(plan, slips, placement.meant)


def _entries(slip: EndSlip) -> Any:
    """Return what all machines of a span have in common that are plugged into a span of ports and disagree alike."""
    own, other = _sides(slip)
    there = port_key(other) if other is not None else slip.line.entry.path
    return port_key(own), there, slip.native, slip.a_lacks, slip.b_lacks


def _sides(slip: EndSlip) -> tuple[PortPoint, PortPoint | None]:
    """Return the end of the machine, and the other one."""
    line = slip.line
    if slip.a.role == "machine":
        return line.a, line.b
    assert line.b is not None
    return line.b, line.a


def _deaf(plan: Plan, slips: list[EndSlip], meant: set[tuple[str, int]]) -> Finding:
    slip = slips[0]
    own, _ = _sides(slip)
    swapped = own is not slip.line.a
    mine, theirs = (slip.b, slip.a) if swapped else (slip.a, slip.b)
    lacks = slip.a_lacks if swapped else slip.b_lacks
    names = tuple(dict.fromkeys(_sides(s)[0].thing.id for s in slips))
    ports = [point for s in slips if (point := _sides(s)[1]) is not None]
    there = listed(str(port) for port in ports) if ports else f"the uplink to {slip.line.outside}"
    only = tagged_only(ports[0]) if ports else ""
    words = []
    if slip.native is not None:
        carries = f"takes {only}" if only else f"carries {theirs.untagged}"
        words.append(f"VLAN {mine.untagged} without a tag, where {there} {carries}")
    if lacks:
        plain = theirs.untagged in lacks
        words.append(f"a tag of VLAN {vlans_text(lacks)}, {_not_so(plain, lacks)} {there}")
    wanted = lacks or (mine.untagged or 0,)
    # Only where the addresses of the machine say the same is it the port that errs.
    sure = all((name, vlan) in meant for name in names for vlan in wanted)
    holder = own_entry(plan, ports) if ports and sure else ()
    edits: tuple[Edit, ...] = ()
    if holder and lacks and slip.native is None and theirs.untagged not in lacks:
        edits = (Put((*holder, "tagged"), tags_value(with_tags(theirs.tagged, lacks))),)
    elif holder and not lacks and mine.untagged not in theirs.tagged:
        edits = (Put((*holder, "vlan"), mine.untagged or 0),)
    return Finding(
        "error",
        own.thing,
        f"{listed(names)} at the cable to {there}: {'; and '.join(words)}",
        found=_carries(mine),
        allowed=_carries(theirs),
        remedy=_same_words(there, mine, theirs, lacks, only, sure),
        edits=edits,
        path=own.path if len(own.path) > 3 else plan.place(own.thing, "tagged" if lacks else "vlan"),
        subjects=names,
        related=[(ports[0].path, "the port")] if ports else [(slip.line.entry.path, "the uplink")],
    )


def _not_so(plain: bool, lacks: tuple[int, ...]) -> str:
    if not plain:
        return "dropped at"
    return "carried without a tag at" if len(lacks) == 1 else "dropped, or carried without a tag, at"


def _same_words(there: str, mine: Any, theirs: Any, lacks: tuple[int, ...], only: str, sure: bool) -> str:
    """Return what to write: at the port alone where the addresses say that the machine is right (``sure``)."""
    words = []
    if mine.untagged is not None and mine.untagged != theirs.untagged:
        if mine.untagged in theirs.tagged:
            tags = with_tags(mine.tagged, (mine.untagged,))
            words.append(f"the machine with tagged = {tags_text(tags)} in place of vlan = {mine.untagged}")
        elif only and not mine.tagged and not sure:
            words.append(
                f"{there} with vlan = {mine.untagged}, or the machine with `tagged` in place of `vlan`"
            )
        else:
            other = "" if sure or only else f", or the machine with {theirs.untagged}"
            words.append(f"{there} with vlan = {mine.untagged}{other}")
    plain = theirs.untagged if theirs.untagged in lacks else None
    if plain is not None:
        words.append(f"the machine with vlan = {plain} in place of that tag")
    more = tuple(vlan for vlan in lacks if vlan != plain)
    if more:
        tags = with_tags(theirs.tagged, more)
        words.append(
            f"{there} with tagged = {tags_text(tags)}" + ("" if sure else ", or the machine without")
        )
    return "; ".join(words)


_MACHINE = (
    _SW.format("sw") + _TRUNK.format("1 .. 2", "{}") + '[[node]]\nid = "n1 .. n2"\nport = "sw.1 .. sw.2"\n{}'
)

_IN = 'address = "10.0.20.1 .. 10.0.20.2"\n' + _NET.format("10.0.20.0/24", 20)

cases(
    machine,
    clean=[
        _MACHINE.format("vlan = 20", "vlan = 20\n"),
        _MACHINE.format("vlan = 20", ""),
        _MACHINE.format("tagged = [20, 30]", "tagged = 20\n"),  # it takes what it wants
        _MACHINE.format("vlan = 10\ntagged = 20", "tagged = 20\n"),
        _MACHINE.format("vlan = 4095", "vlan = 20\n"),
    ],
    flagged=[
        Case(_MACHINE.format("vlan = 10", "tagged = 20\n" + _IN), at="n1 and n2", level="error", edits=True,
             mended=_MACHINE.format("vlan = 10\ntagged = 20", "tagged = 20\n" + _IN)),
        Case(_MACHINE.format("vlan = 10", "tagged = 20\n"), at="n1 and n2", level="error", found="20 tagged"),
        Case(_MACHINE.format("vlan = 20", "tagged = 20\n"), at="carried without a tag", level="error",
             mended=_MACHINE.format("vlan = 20", "vlan = 20\n")),
        Case(_MACHINE.format("vlan = 10", "vlan = 20\n" + _IN), at="sw.1 and sw.2 carries 10", found="20", edits=True,
             mended=_MACHINE.format("vlan = 20", "vlan = 20\n" + _IN)),
        Case(_MACHINE.format("tagged = 20", "vlan = 20\n"), at="takes 20 with a tag", level="error",
             mended=_MACHINE.format("tagged = 20", "tagged = 20\n")),
        Case(_MACHINE.format("tagged = [20, 30]", "vlan = 20\ntagged = 30\n"), at="takes 20 and 30 with a tag",
             mended=_MACHINE.format("tagged = [20, 30]", "tagged = [20, 30]\n")),
        Case(_MACHINE.format("", "vlan = 20\n"), at="carries 1"),
        Case(_MACHINE.format("vlan = 10", "bridges = true\nvlan = 10\ntagged = 20\n"), at="a tag of VLAN 20",
             mended=_MACHINE.format("vlan = 10\ntagged = 20", "bridges = true\nvlan = 10\ntagged = 20\n")),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def untold(plan: Plan, segments: Segments, vlan_ends: VlanEnds, placement: Placement) -> Iterator[Finding]:
    """A machine at a port with tags says which VLANs it takes.

    A machine that tags nothing hears only what comes without a tag; at a port of which only tags are said, that is
    VLAN 1, where the plan puts nobody on purpose.

    Source: IEEE 802.1Q, default PVID 1 (read).
    """
    told = {host.thing.id for group in placement.misplaced for host in group.hosts}
    groups: dict[Any, list[tuple[PortPoint, PortPoint]]] = {}
    for line in plan.links:
        for own, port in ((line.a, line.b), (line.b, line.a)):
            if own is None or port is None or port.apart or port.thing.id not in segments.keeping:
                continue
            plain = port.vlan is None and port.tagged and own.vlan is None and not own.tagged
            deaf = own.thing.id not in segments.clear and own.thing.table != "switch"
            known = own.thing.id in told or (own.thing.id, DEFAULT_VLAN) in placement.meant
            known = known or len(port.links) > 1 or not vlan_ends.excused.isdisjoint((id(own), id(port)))
            if plain and deaf and not known:
                groups.setdefault((port_key(own), port_key(port)), []).append((own, port))
    for found in groups.values():
        names = tuple(dict.fromkeys(own.thing.id for own, _ in found))
        ports = [port for _, port in found]
        tags = vlans_text(ports[0].tagged)
        yield Finding(
            "warning",
            found[0][0].thing,
            f"{listed(names)} at {listed(map(str, ports))}: the port takes {tagged_only(ports[0])}, and no `tagged` is "
            "said of the machine",
            found="no tag",
            allowed=tags,
            remedy="say which of them it takes, as `tagged`; or write `vlan` in place of `tagged` at the port",
            place=("port",),
            subjects=names,
            related=[(ports[0].path, "the port")],
        )


cases(
    untold,
    clean=[
        _MACHINE.format("tagged = 20", "tagged = 20\n"),
        _MACHINE.format("vlan = 10\ntagged = 20", ""),
        _MACHINE.format("vlan = 1\ntagged = 20", ""),
        _MACHINE.format("tagged = 20", "bridges = true\n"),
        _MACHINE.format("tagged = [20, 4095]", ""),  # `vlans.bad_id` has that
        _MACHINE.format("tagged = 20", 'address = "10.0.0.1 .. 10.0.0.2"\n') + _NET.format("10.0.0.0/24", 1),
        # `segments.wrong_vlan` has that
        _MACHINE.format("tagged = 20", 'address = "10.0.0.1 .. 10.0.0.2"\n') + _NET.format("10.0.0.0/24", 20),
    ],
    flagged=[
        Case(_MACHINE.format("tagged = 20", ""), at="n1 and n2", found="no tag", level="warning",
             mended=_MACHINE.format("vlan = 20", "")),
        Case(_MACHINE.format("tagged = [20, 30]", 'address = "10.0.0.1 .. 10.0.0.2"\n')
             + '[[subnet]]\nprefix = "10.0.0.0/24"\n', at="n1 and n2", level="warning"),
    ],
)  # fmt: skip

"""Routers: who leads on, the gateways that nobody has, and those that things name, each with what is wrong with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck import Level, working
from coldcheck.lan.address import Prefix
from coldcheck.lan.special import is_link_local
from coldcheck.plan.model import LinkLine, Plan

from .addresses import AddressBook, Host, lost_hosts, none_in, not_a_host
from .placing import Placement
from .reaching import uplink_segments
from .segments import Segments
from .vlans import VlanEnds

__all__ = [
    "ANYCAST", "NamedGateway", "Routers", "Unowned", "lost_gateways", "named_gateways", "routers", "sound_gateway",
    "unowned_gateways",
]  # fmt: skip

#: In the words of `not_a_host`: an address that every router has, so that it may work as a gateway.
ANYCAST = "of the routers"

_READS = ("node", "storage", "switch", "appliance", "subnet", "pool", "outside")


class NamedGateway(msgspec.Struct):
    """A gateway that a thing names: ``level`` says how grave it is and ``why`` what is wrong, None and "" where not.

    ``allowed`` names the prefixes that it would have to lie in, where that is what is wrong. ``told`` says that two
    have one address, which `addresses.duplicate` speaks of: one of them may be meant for the gateway.
    """

    host: Host
    level: Level | None = None
    why: str = ""
    allowed: str = ""
    told: bool = False


@working(reads=_READS)
def named_gateways(plan: Plan, address_book: AddressBook) -> list[NamedGateway]:
    """Return every gateway that a thing names for itself, judged by the addresses of the thing and of all others.

    Nothing is said of a link-local gateway, nor of a thing with an address that is none, nor of the subnet where
    that of the thing is not known.
    """
    book = address_book
    if not book.defaults:
        return []
    wanted = {id(host.thing) for host in book.defaults}
    own: dict[int, list[Host]] = {}
    for host in book.hosts:
        if id(host.thing) in wanted and not is_link_local(host.family, host.value):
            own.setdefault(id(host.thing), []).append(host)
    known = {(host.family, host.value) for host in book.every()}
    counts = Counter((host.family, host.value) for host in (*book.hosts, *book.outside))
    twice = {key for key, count in counts.items() if count > 1}
    unread = {id(bad.at) for bad in book.bad}
    unread |= {
        key for key, hosts in own.items() for host in hosts if host.subnet is None and not_a_host(book, host)
    }
    return [
        NamedGateway(gate)
        if is_link_local(gate.family, gate.value) or id(gate.thing) in unread
        else _judged(book, gate, own.get(id(gate.thing), []), known, twice)
        for gate in book.defaults
    ]


def _judged(
    book: AddressBook, gate: Host, own: list[Host], known: set[tuple[int, int]], twice: set[tuple[int, int]]
) -> NamedGateway:
    mine = [host for host in own if host.family == gate.family]
    if any(host.value == gate.value for host in mine):
        return NamedGateway(gate, "error", "is its own address", told=(gate.family, gate.value) in twice)
    prefixes = [_prefix_of(book, host) for host in mine]
    around = next((p for p in prefixes if p is not None and p.contains(gate.family, gate.value)), None)
    if around is None and prefixes and None not in prefixes:
        nets = dict.fromkeys(str(prefix) for prefix in prefixes)
        return NamedGateway(gate, "error", f"lies outside {' and '.join(nets)}", " or ".join(nets))
    if around is not None and (why := none_in(around, gate.value)):
        return NamedGateway(gate, "warning" if ANYCAST in why else "error", why)
    if (gate.family, gate.value) not in known and not book.bad:
        why = "is nobody's in this plan: no thing, no subnet and nothing outside has it"
        told = around is not None and any(around.contains(*key) for key in twice)
        return NamedGateway(gate, "warning", why, told=told)
    return NamedGateway(gate)


def _prefix_of(book: AddressBook, host: Host) -> Prefix | None:
    if host.subnet is not None:
        prefix = book.subnets[host.subnet].prefix
    elif host.length is not None:
        prefix = Prefix(host.family, host.value, host.length)
    else:
        return None
    return Prefix(prefix.family, prefix.network, prefix.length)


@working(reads=("node", "storage", "switch", "appliance", "link", "uplink", "subnet", "outside"))
def lost_gateways(
    plan: Plan, address_book: AddressBook, vlan_ends: VlanEnds, placement: Placement
) -> list[Host]:
    """Return the gateways of subnets that nobody has: no thing, and nothing outside to which an uplink leads.

    Left out are those that somebody outside may have: where an uplink to what states no address may lead to that
    subnet, unless a thing of the plan has another gateway of its VLAN, or of IPv6 like it. So are those without any
    uplink in the plan: `ports.no_uplink` asks for one; those of a subnet in which two have one address, of which one
    may be meant; and all while a router has an address in no subnet, which `addresses.no_subnet` tells.
    """
    book = address_book
    if not book.gateways or book.bad or book.bad_subnets:
        return []
    ways = [line for line in plan.links if line.b is None]
    linked = {line.outside for line in ways}
    held = {(host.family, host.value) for host in book.hosts}
    known = held | {(host.family, host.value) for host in book.outside if host.thing.id in linked}
    lost = [gate for gate in book.gateways if (gate.family, gate.value) not in known]
    if lost:
        counts = Counter((host.family, host.value) for host in (*book.hosts, *book.outside))
        twice = [key for key, count in counts.items() if count > 1]
        lost = [gate for gate in lost if _may_be(book, gate, twice)]
    if not lost or (not ways and not any((gate.family, gate.value) in held for gate in book.gateways)):
        return []
    if any(fault.path[:1] == ("uplink",) for fault in plan.faults):
        return []  # its uplink may be the one that leads nowhere
    adrift = {host.family for host in lost_hosts(book) if _may_route(plan, host, ways)}
    stated = {(host.thing.id, host.family) for host in book.outside}
    leads = uplink_segments(plan, vlan_ends)
    owned = [gate for gate in book.gateways if (gate.family, gate.value) in held]
    vlans = {_vlan_of(gate) for gate in owned} - {None}
    families = {gate.family for gate in owned if gate.family == 6}
    found = []
    for gate in lost:
        if gate.family in adrift:
            continue
        homes = _homes(gate, placement, vlan_ends.mended)
        unknown = (line for line in ways if (line.outside, gate.family) not in stated)
        inside = _vlan_of(gate) in vlans or gate.family in families
        if inside or not any(homes is None or homes & set(leads.get(id(line), ())) for line in unknown):
            found.append(gate)
    return found


def _vlan_of(gate: Host) -> int | None:
    """Return the VLAN that the subnet of a gateway says; None where it says none, or for what a thing names."""
    vlan: int | None = getattr(gate.thing, "vlan", None) if gate.role == "gateway" else None
    return vlan


def _homes(gate: Host, placement: Placement, mended: Segments) -> set[int] | None:
    """Return the segments in which the subnet of a gateway may be; None where it may be anywhere."""
    home, vlan = placement.homes.get(gate.subnet or 0), _vlan_of(gate)
    if home is not None:
        return {home}
    if vlan is None:
        return None
    return {number for number, vlans in mended.vlans.items() if not vlans or vlan in vlans} or None


def _may_route(plan: Plan, host: Host, ways: list[LinkLine]) -> bool:
    """Say whether what has an address could be a router: it has a way out, or several cables."""
    points = [point for point in plan.ports.get(host.thing.id, ()) if point.links and not point.apart]
    return len(points) > 1 or any(line.a.thing is host.thing for line in ways)


def _may_be(book: AddressBook, gate: Host, twice: list[tuple[int, int]]) -> bool:
    """Say whether a gateway is one by its address: others speak of one outside its subnet, or inside a pool."""
    if gate.subnet is None or gate.pool is not None or is_link_local(gate.family, gate.value):
        return False
    prefix = book.subnets[gate.subnet].prefix
    clash = any(prefix.contains(*key) for key in twice)
    return prefix.contains(gate.family, gate.value) and not clash and not not_a_host(book, gate)


class Routers(msgspec.Struct):
    """Who leads on from one subnet to another, or out of the box, as far as a plan says.

    ``here`` has, by the place of a subnet, the addresses that routers have in it: those outside to which an uplink
    leads, and things with a way out of their own. ``gates`` are the first addresses, by router and family, of those
    that have the gateway of some subnet. ``leading`` are the ids of the things that lead on; ``leaves`` says whether
    the plan has a way out.
    """

    here: dict[int, list[Host]]
    gates: list[Host]
    leading: set[str]
    leaves: bool


@working(reads=(*_READS, "link", "uplink"))
def routers(plan: Plan, address_book: AddressBook) -> Routers:
    """Return the routers of a plan; nothing where it has no gateway, since nobody asks for them then."""
    book = address_book
    if not book.gateways and not book.defaults:
        return Routers({}, [], set(), False)
    ways = [line for line in plan.links if line.b is None]
    reached = {line.outside for line in ways}
    outside = [host for host in book.outside if host.thing.id in reached]
    leaving = {line.a.thing.id for line in ways}
    out = {
        h.thing.id for h in book.hosts if h.thing.table != "switch" and leaving & set(_ways(plan, h.thing))
    }
    here: dict[int, list[Host]] = {}
    for host in (*outside, *(host for host in book.hosts if host.thing.id in out)):
        if host.subnet is not None:
            here.setdefault(host.subnet, []).append(host)
    leading = out | _leading(book, leaving, {h.subnet for h in outside})
    wanted = {(host.family, host.value) for host in book.gateways}
    gates: dict[tuple[int, int], Host] = {}
    for host in (*outside, *(host for host in book.hosts if host.thing.id in leading)):
        if (host.family, host.value) in wanted:
            gates.setdefault((id(host.thing), host.family), host)
    return Routers(here, list(gates.values()), leading, bool(ways))


def _leading(book: AddressBook, leaving: set[str], served: set[int | None]) -> set[str]:
    """Return the things with addresses in two subnets of one family, and the switches that may be a router with ports.

    A switch with the uplink is no router where one outside has an address beside its own.
    """
    homes: dict[str, set[int | None]] = {}
    switches: set[str] = set()
    for host in book.hosts:
        homes.setdefault(host.thing.id, set()).add(host.subnet)
        if host.thing.table == "switch" and host.thing.id in leaving:
            switches.add(host.thing.id)
    found = {name for name in switches if homes[name].isdisjoint(served)}
    for name, places in homes.items():
        if len(places) > len({book.subnets[i].prefix.family for i in places if i is not None}):
            found.add(name)
    return found


def _ways(plan: Plan, thing: Any) -> Iterator[str]:
    """Yield a thing itself and what its cables lead to; a switch is no way out, since it leads everywhere."""
    yield thing.id
    for port in plan.ports.get(thing.id, ()):
        for line in port.links:
            other = line.b if line.a is port else line.a
            if other is not None and other.thing.table != "switch":
                yield other.thing.id


class Unowned(msgspec.Struct):
    """A gateway of a subnet that nobody has, and who may be meant.

    ``here`` are the addresses that routers have in that subnet instead; where there are none, ``slip`` is one that lies
    in no subnet and differs from the gateway by a slip, and ``elsewhere`` are gateways of other subnets: those of the
    same VLAN where there are any, else all. ``sure`` says whether this is a slip beyond doubt.
    """

    gate: Host
    here: list[Host]
    slip: Host | None
    elsewhere: list[Host]
    sure: bool


@working(reads=(*_READS, "link", "uplink"))
def unowned_gateways(address_book: AddressBook, lost_gateways: list[Host], routers: Routers) -> list[Unowned]:
    """Return the gateways that nobody has, with the routers that may be meant to have them."""
    lost = [h for h in address_book.outside if h.subnet is None and not is_link_local(h.family, h.value)]
    leading = {id(host.thing) for host in routers.gates}
    inner: dict[int, list[Host]] = {}
    for host in address_book.hosts if lost_gateways else ():
        if host.subnet is not None and id(host.thing) in leading:
            inner.setdefault(host.subnet, []).append(host)
    found = []
    for gate in lost_gateways:
        here = routers.here.get(_place(gate)) or inner.get(_place(gate), [])
        slip = None if here else next((host for host in lost if _one_slip(host.text, gate.text)), None)
        lost = [host for host in lost if host is not slip]
        beside = _beside(address_book, gate)
        near = [] if here or slip else [h for h in address_book.hosts if (h.family, h.value) in beside]
        near = list({id(h.thing): h for h in near if id(h.thing) in leading}.values())
        elsewhere = [] if here or slip else near or routers.gates
        alike = bool(near) or any(host.family == gate.family for host in elsewhere)
        one = len({id(host.thing) for host in here}) == 1  # several may share an address that is not written
        sure = routers.leaves and (one or slip is not None or alike)
        found.append(Unowned(gate, here, slip, elsewhere, sure))
    return found


def _beside(book: AddressBook, gate: Host) -> set[tuple[int, int]]:
    """Return the other gateways in the VLAN of one: none where its subnet says no VLAN."""
    vlan = _vlan_of(gate)
    return {
        (g.family, g.value)
        for g in book.gateways
        if vlan is not None and _vlan_of(g) == vlan and g is not gate
    }


def _place(gate: Host) -> int:
    return -1 if gate.subnet is None else gate.subnet


def sound_gateway(book: AddressBook, gate: Host) -> bool:
    """Say whether the gateway of a subnet is an address of it that a machine can have."""
    if gate.subnet is None or is_link_local(gate.family, gate.value):
        return False
    prefix = book.subnets[gate.subnet].prefix
    return prefix.contains(gate.family, gate.value) and not not_a_host(book, gate)


def _one_slip(a: str, b: str) -> bool:
    """Say whether two texts differ by one letter more, one less, another one, or two that changed places."""
    short, long = sorted((a, b), key=len)
    if len(short) < len(long):
        return any(long[:i] + long[i + 1 :] == short for i in range(len(long)))
    odd = [i for i, (x, y) in enumerate(zip(a, b, strict=True)) if x != y]
    if len(odd) == 2:
        i, j = odd
        return j == i + 1 and a[i] == b[j] and a[j] == b[i]
    return len(odd) == 1

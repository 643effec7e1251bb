"""Islands: parts of the network to which no cable leads from the rest."""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck import working
from coldcheck.plan.model import Plan
from coldcheck.plan.tables import Port, Switch

from .addresses import AddressBook, Block, Host
from .placing import Placement
from .ports import SwitchPorts, takes
from .topology import Network

__all__ = ["Island", "cut_offs", "islands"]


class Island(msgspec.Struct):
    """Things that hang together, and not with the rest.

    ``things`` are those without another data cable that leads to the rest, switches first. ``shares`` are the subnets
    that have most of their addresses elsewhere and some here. ``addressed`` says whether anything here has an address,
    ``leaves`` whether a way out starts here, ``joined`` whether a machine here has a cable to the rest too; ``meant``,
    whether one of these has addresses of several subnets, so that it is apart on purpose.
    ``cable`` holds two free ports that could join it to the rest, empty where none are known.
    """

    things: list[Any]
    shares: list[Block]
    addressed: bool
    leaves: bool
    joined: bool
    meant: bool
    cable: tuple[str, str] | tuple[()]

    @property
    def cut_off(self) -> bool:
        """Whether a cable seems forgotten: a subnet lies on both sides, or nothing shows that it is meant so."""
        return bool(self.shares) or not (self.addressed or self.joined or self.leaves)


@working(reads=("node", "storage", "appliance", "switch", "link", "uplink", "subnet"))
def islands(
    plan: Plan, network: Network, address_book: AddressBook, switch_ports: list[SwitchPorts]
) -> list[Island]:
    """Return every part of the network but the main one: of those with a way out, else of all, that of most things.

    A switch without any cable is none. Neither is a network by which management ports are reached: that is often apart.
    """
    parts = [part for part in network.graph.components() if len(part) > 1]
    lost = any(f.rule == "ports.unknown" or f.path[:1] in (("link",), ("uplink",)) for f in plan.faults)
    if len(parts) < 2 or lost:  # a cable that leads nowhere may be the one that joins them
        return []
    where = {door: i for i, part in enumerate(parts) for door in part}
    reached = {name: {where[door] for door in own} for name, own in network.doors.items()}
    inside: list[list[str]] = [[] for _ in parts]
    for name, at in reached.items():
        for i in at:
            inside[i].append(name)
    leaves = [any(way in part for way in network.ways_out.values()) for part in map(set, parts)]
    # a radio that no cable joins to the rest is cut off itself, though the way out is there
    main = max(range(len(parts)), key=lambda i: (leaves[i] and len(inside[i]) > 1, len(inside[i]), -i))
    elsewhere, addressed = _subnets(network, address_book, where, main)
    free = {counted.switch.id: counted.free for counted in switch_ports}
    found = []
    for i, own in enumerate(inside):
        left = [plan.things[name] for name in own if main not in reached[name]]
        machines = [name for name in own if name not in network.passing]
        apart = not machines and any(door.partition(".")[0] not in own for door in parts[i])
        if i == main or not left or (apart and not leaves[i]):
            continue
        left.sort(key=lambda thing: thing.table != "switch")
        both = {name for name in machines if main in reached[name]}
        shares = [address_book.subnets[place] for place in sorted(elsewhere.get(i, ()))]
        vlans = {getattr(block.source, "vlan", None) for block in shares}
        cable = _cable(plan, free, parts[i], parts[main], vlans)
        meant = bool(both) and not both.isdisjoint(_in_several(address_book))
        found.append(Island(left, shares, i in addressed, leaves[i], bool(both), meant, cable))
    return found


def _in_several(book: AddressBook) -> set[str]:
    """Return the things that have addresses of several subnets of one family."""
    homes: dict[tuple[str, int], set[int]] = {}
    for host in book.hosts:
        if host.subnet is not None:
            homes.setdefault((host.thing.id, host.family), set()).add(host.subnet)
    return {name for (name, _), subnets in homes.items() if len(subnets) > 1}


@working(reads=("node", "storage", "appliance", "switch", "link", "uplink", "subnet"))
def cut_offs(islands: list[Island], address_book: AddressBook, placement: Placement) -> list[Island]:
    """Return the islands to which a cable seems forgotten.

    Where one is apart on purpose and addresses on one side alone are astray, what has these is plugged in wrongly, and
    no cable is missing: `segments.parted` has that.
    """
    return [island for island in islands if island.cut_off and not _astray(island, address_book, placement)]


def _astray(island: Island, book: AddressBook, placement: Placement) -> bool:
    shared = set(map(id, island.shares))
    sides = [side for side in placement.sides if not side.wired and shared & side.blocks(book)]
    return island.meant and len(sides) == 1


def _doors(network: Network, host: Host) -> list[str]:
    """Return the doors at which an address may be: that of its port, else all of its thing."""
    own, name = network.doors.get(host.thing.id, []), host.thing.id
    if host.port is None and isinstance(host.thing, Switch):  # its own address may be at its management port
        apart = [
            network.at.get(f"{name}.{port.id}") for port in host.thing.port_ if port.for_ == "management"
        ]
        doors = [door for door in apart if door is not None]
        return own + doors if len(doors) == len(apart) else []  # else `management.unplugged` has the cable
    if host.port is None or (name in network.passing and host.port.for_ != "management"):
        return own
    door = network.at.get(f"{name}.{host.port.id}")
    return [door] if door in own else []


def _subnets(
    network: Network, book: AddressBook, where: dict[str, int], main: int
) -> tuple[dict[int, set[int]], set[int]]:
    """Return the subnets that each part has some addresses of and another part more, and the parts with addresses.

    An address that may be in several parts is counted in none.
    """
    counts: dict[int, dict[int, int]] = {}
    addressed: set[int] = set()
    for host in book.hosts:
        at = {where[door] for door in _doors(network, host)}
        addressed |= at
        if host.subnet is not None and len(at) == 1:
            count = counts.setdefault(host.subnet, {})
            count[min(at)] = count.get(min(at), 0) + 1
    found: dict[int, set[int]] = {}
    for subnet, count in counts.items():
        home = max(count, key=lambda i: (i == main, count[i], -i))
        for i in count.keys() - {home}:
            found.setdefault(i, set()).add(subnet)
    return found, addressed


def _cable(
    plan: Plan,
    free: dict[str, list[tuple[str, Port]]],
    part: list[str],
    main: list[str],
    vlans: set[int | None],
) -> tuple[str, str] | tuple[()]:
    """Return two free ports that take one plug and say the same of VLANs, with those of the subnets on both sides.

    Ports with tags come before others, since a cable between switches has them.
    """
    here, there = _kinds(plan, free, part), _kinds(plan, free, main)
    both = [kind for kind in here if kind in there and vlans <= {None, kind[0] or 1, *kind[1]}]
    if not both:
        return ()
    kind = max(both, key=lambda kind: len(kind[1]))  # the first of those with most tags
    return here[kind], there[kind]


def _kinds(plan: Plan, free: dict[str, list[tuple[str, Port]]], side: list[str]) -> dict[Any, str]:
    """Return a free port of each kind, by its VLANs without a tag and with one, and by what plugs in."""
    found: dict[Any, str] = {}
    for switch in (plan.things[door] for door in side if isinstance(plan.things.get(door), Switch)):
        for name, spec in reversed(free.get(switch.id, [])):
            if spec.unused:
                continue
            vlan = switch.vlan if spec.vlan is None else spec.vlan
            found.setdefault((vlan, spec.tagged or switch.tagged, takes(spec)), name)
    return found

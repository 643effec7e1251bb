"""DHCP: who hands out addresses, from which pools, and in which segments it is heard."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.plan.model import Plan
from coldcheck.plan.tables import Outside

from .addresses import AddressBook, PoolRange
from .placing import Placement
from .reaching import uplink_segments
from .segments import Segments
from .vlans import VlanEnds

__all__ = ["DhcpServer", "PoolHome", "dhcp_pools", "dhcp_servers"]

_NETWORKED = ("node", "storage", "appliance", "switch")
_READS = (*_NETWORKED, "link", "uplink", "subnet", "pool", "outside")


class PoolHome(msgspec.Struct):
    """A DHCP pool that lies in one subnet, and the mended segments of that subnet; none where they are not known."""

    pool: PoolRange
    subnet: int
    segments: set[int]


class DhcpServer(msgspec.Struct):
    """What hands out addresses.

    ``at`` is a thing or what lies outside; ``says`` whether it is said to serve, not only that a pool is handed out by
    it. ``doors`` are the mended segments it has an end in, None where the plan does not say; ``pools`` are its own.
    """

    at: Any
    says: bool
    doors: set[int] | None
    pools: list[PoolHome]

    @property
    def id(self) -> str:
        """The name of the thing."""
        return str(self.at.id)

    def serves(self, family: int) -> set[int]:
        """Return the segments in which it answers for a family: those of its pools, or all where it has none."""
        if self.pools:
            return {n for home in self.pools if home.pool.family == family for n in home.segments}
        return (self.doors or set()) if family == 4 else set()


@working(reads=_READS)
def dhcp_pools(
    plan: Plan, address_book: AddressBook, vlan_ends: VlanEnds, placement: Placement
) -> list[PoolHome]:
    """Return the DHCP pools that lie in one subnet, with the segments of that subnet."""
    found = []
    for pool in address_book.pools:
        if pool.use != "dhcp" or len(pool.subnets) != 1:
            continue
        place = pool.subnets[0]
        vlan = getattr(address_book.subnets[place].source, "vlan", None)
        where = {placement.homes[place]} if place in placement.homes else set()
        if not where and vlan is not None and place not in placement.unsure:
            where = {number for number, vlans in vlan_ends.mended.vlans.items() if vlan in vlans}
        found.append(PoolHome(pool, place, where))
    return found


@working(reads=_READS)
def dhcp_servers(
    plan: Plan, segments: Segments, vlan_ends: VlanEnds, placement: Placement, dhcp_pools: list[PoolHome],
    address_book: AddressBook,
) -> list[DhcpServer]:  # fmt: skip
    """Return everything that is said to hand out addresses, things first."""
    own: dict[str, list[PoolHome]] = {}
    for home in dhcp_pools:
        if home.pool.pool.by:
            own.setdefault(home.pool.pool.by, []).append(home)
    serving = [thing for thing in _able(plan) if "dhcp" in thing.serves or thing.id in own]
    if not serving:
        return []
    addressed: dict[str, set[int]] = {}
    for host in address_book.hosts:
        if host.family == 4 and id(host) in placement.where:
            addressed.setdefault(host.thing.id, set()).update(placement.where[id(host)])
    leads = uplink_segments(plan, vlan_ends)
    found = []
    for thing in serving:
        if isinstance(thing, Outside):
            doors = _outside_doors(plan, thing, leads)
        else:
            doors = addressed.get(thing.id) or _doors(plan, thing, vlan_ends.mended)
        found.append(DhcpServer(thing, "dhcp" in thing.serves, doors, own.get(thing.id, [])))
    return found


def _able(plan: Plan) -> Iterator[Any]:
    for table in (*_NETWORKED, "outside"):
        yield from plan.table(table)


def _outside_doors(plan: Plan, outside: Outside, leads: dict[int, list[int]]) -> set[int] | None:
    lines = [line for line in plan.links if line.b is None and line.outside == outside.id]
    return {number for line in lines for number in leads.get(id(line), [])} if lines else None


def _doors(plan: Plan, thing: Any, lan: Segments) -> set[int]:
    points = [point for point in plan.ports.get(thing.id, ()) if point.links]
    ways = (lan.at(point, tag) for point in points for tag in (0, *point.tagged))
    return {number for number in ways if number is not None}

"""The network on paper: each switch port as it is cabled, each machine with its names and addresses, each subnet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from coldcheck.lan.address import text_of
from coldcheck.lan.prefixes import usable
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.tables import Port
from coldcheck.workings.addresses import AddressBook, Host
from coldcheck.workings.hosts import mac_of

from .table import Cell, Column, Table

__all__ = ["addresses", "port_map"]

PORTS = (
    Column("switch", "switch"),
    Column("port", "port"),
    Column("to", "cable to"),
    Column("host", "host name"),
    Column("cable", "cable"),
    Column("length", "length", "m"),
    Column("speed", "speed", "bit/s"),
    Column("watts", "PoE kept for it", "W"),
    Column("vlan", "VLAN"),
    Column("tagged", "tagged VLANs"),
    Column("bond", "bond"),
)
HOSTS = (
    Column("name", "host name"),
    Column("thing", "thing"),
    Column("address", "address"),
    Column("prefix", "subnet"),
    Column("gateway", "gateway"),
    Column("vlan", "VLAN"),
    Column("mac", "hardware address"),
    Column("port", "cable to"),
)
SUBNETS = (
    Column("prefix", "subnet"),
    Column("title", "for"),
    Column("vlan", "VLAN"),
    Column("gateway", "gateway"),
    Column("taken", "addresses given"),
    Column("room", "room for"),
    Column("pools", "set aside"),
)


def port_map(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return the ports of every switch, in the order in which they stand on its front."""
    names = {name.thing.id: name.full for name in get("host_names")}
    watts = {feed.port.name: feed.reserved for feed in get("poe_feeds")}
    free = {count.switch.id: count.free for count in get("switch_ports")}
    rows: list[tuple[Cell, ...]] = []
    for switch in plan.table("switch"):
        points = {point.id: point for point in plan.ports.get(switch.id, ())}
        bare = {name.rpartition(".")[2]: spec for name, spec in free.get(switch.id, ())}
        for number in sorted(dict.fromkeys([*points, *bare]), key=_place):
            point = points.get(number)
            if point is None or not point.links:
                rows.append(_free(switch, number, point.spec if point is not None else bare[number]))
            else:
                rows += [_cabled(point, line, names, watts) for line in point.links]
    return [Table("ports", "port map", PORTS, rows, "the plan has no switch")]


def _place(number: str) -> tuple[int, int]:
    """Return what puts ports in the order of their numbers, those with names behind them as they are listed."""
    return (0, int(number)) if number.isdecimal() else (1, 0)


def _free(switch: Any, number: str, spec: Port) -> tuple[Cell, ...]:
    return (
        switch.id,
        number,
        "free",
        "",
        "",
        "",
        spec.speed or "",
        "",
        spec.vlan or switch.vlan or "",
        _numbers(spec.tagged),
        "",
    )


def _cabled(
    point: PortPoint, line: LinkLine, names: dict[str, str], watts: dict[str, float]
) -> tuple[Cell, ...]:
    other, cable = line.other(point), line.cable
    return (
        point.thing.id, point.id, other.name if other is not None else line.outside,
        names.get(other.thing.id, "") if other is not None else "",
        _kind(line), cable.length if cable is not None else None, line.speed or point.spec.speed or "",
        watts.get(point.name, ""), point.vlan or "", _numbers(point.tagged), line.bond,
    )  # fmt: skip


def _kind(line: LinkLine) -> str | None:
    if line.cable is None:
        return None
    return line.cable.medium or (f"cat {line.cable.category}" if line.cable.category else None)


def _numbers(vlans: tuple[int, ...]) -> str:
    return ", ".join(map(str, vlans))


def addresses(plan: Plan, get: Callable[[str], Any]) -> list[Table]:
    """Return what each machine is called and has for an address, and what each subnet holds."""
    book: AddressBook = get("address_book")
    called = {name.thing.id: name.full for name in get("host_names")}
    of: dict[str, list[Host]] = {}
    for host in book.hosts:
        of.setdefault(host.thing.id, []).append(host)
    rows: list[tuple[Cell, ...]] = []
    for name in get("host_names"):
        some: list[Host | None] = [*of.get(name.thing.id, ())]
        rows += [_host(plan, book, name.thing, called, host) for host in some or [None]]
    rows += [
        (one.title or "", one.id, address, "", "", "", "", "not of this plan")
        for one in plan.table("outside")
        for address in one.address
    ]
    subnets = [_subnet(book, n) for n in range(len(book.subnets))]
    return [
        Table("hosts", "machines", HOSTS, rows, "no machine of the plan has a name or an address"),
        Table("subnets", "subnets", SUBNETS, subnets, "the plan has no subnets"),
    ]


def _host(
    plan: Plan, book: AddressBook, thing: Any, names: dict[str, str], host: Host | None
) -> tuple[Cell, ...]:
    cables = [(line.other(point), line) for point in plan.ports.get(thing.id, ()) for line in point.links]
    to = ", ".join(other.name if other is not None else line.outside for other, line in cables)
    mac = mac_of(plan, thing, host.port if host is not None else None)
    if host is None:
        return names[thing.id], thing.id, None, "", "", thing.vlan or "", mac, to
    block = book.subnets[host.subnet] if host.subnet is not None else None
    source: Any = block.source if block is not None else None
    named = (gate for gate in thing.gateway if (":" in gate) == (host.family == 6))
    gateway = next(named, None) or getattr(source, "gateway", None) or ""
    at = f"{thing.id}.{host.port.id}" if host.port is not None else thing.id
    return (
        names[thing.id], at, host.text, block.text if block is not None else None, gateway,
        getattr(source, "vlan", None) or thing.vlan or "", mac, to,
    )  # fmt: skip


def _subnet(book: AddressBook, number: int) -> tuple[Cell, ...]:
    block = book.subnets[number]
    source: Any = block.source
    taken = {host.value for host in book.every() if host.subnet == number}
    pools = [f"{pool.text} ({pool.use})" for pool in book.pools if number in pool.subnets]
    room = usable(block.prefix)
    return (
        f"{text_of(block.prefix.family, block.prefix.network)}/{block.prefix.length}",
        getattr(source, "title", None) or "", getattr(source, "vlan", None) or "",
        getattr(source, "gateway", None) or "", len(taken),
        room if room < 1 << 32 else f"2^{block.prefix.host_bits}", "; ".join(pools),
    )  # fmt: skip

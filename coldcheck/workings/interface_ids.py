"""IPv6 addresses that say which hardware address they were formed from, held against the one their thing has."""

from __future__ import annotations

import msgspec

from coldcheck import Put, working
from coldcheck.lan.address import text_of
from coldcheck.lan.mac import LOCAL_BIT_OF_ID, eui64_interface_id, mac_in_interface_id
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path

from .addresses import AddressBook, AddressOffers, Host, Station

__all__ = ["Formed", "formed_addresses", "put_values"]

_IDS = (1 << 64) - 1


class Formed(msgspec.Struct):
    """An address with an interface id that is not the one its own hardware address gives.

    ``right`` [-] is the whole address as an integer with the right id; ``bit_kept`` says that all but the U/L bit is
    right; ``other`` is the station whose hardware address it was formed from, where the plan has it, and ``of`` that
    hardware address [-] of 48 bits.
    """

    host: Host
    right: int
    bit_kept: bool
    of: int
    other: Station | None


@working(reads=("node", "storage", "switch", "appliance", "subnet", "pool", "outside"))
def formed_addresses(
    plan: Plan, address_book: AddressBook, address_offers: AddressOffers, stations: list[Station]
) -> list[Formed]:
    """Return the IPv6 addresses formed from another hardware address than that of their own thing or port.

    Only addresses with FF-FE in the middle of their id, of things whose own hardware address the plan states. What
    several things have is left to `addresses.duplicate`.
    """
    found: list[Formed] = []
    hosts = [(host, mac) for host in address_book.hosts if (mac := _formed_from(host)) is not None]
    if not hosts:
        return found
    macs = _Macs(stations)
    shared = {id(host) for clash in address_offers.clashes for host in clash}
    for host, mac in hosts:
        own = macs.of(host)
        if not own or mac in own or id(host) in shared:
            continue
        right = host.value & ~_IDS | eui64_interface_id(own[0])
        bit = (host.value ^ LOCAL_BIT_OF_ID) & _IDS in [eui64_interface_id(one) for one in own]
        if bit:
            right = host.value ^ LOCAL_BIT_OF_ID
        found.append(Formed(host, right, bit, mac, None if bit else macs.station.get(mac)))
    return found


def _formed_from(host: Host) -> int | None:
    return mac_in_interface_id(host.value & _IDS) if host.family == 6 else None


class _Macs:
    """Hardware addresses by who has them."""

    def __init__(self, stations: list[Station]) -> None:
        self.station: dict[int, Station] = {}
        self.named: dict[str, int] = {}
        self.all: dict[int, list[int]] = {}
        for station in stations:
            if station.value is not None and not station.reason:
                self.station.setdefault(station.value, station)
                self.named.setdefault(station.name, station.value)
                self.all.setdefault(id(station.thing), []).append(station.value)

    def of(self, host: Host) -> list[int]:
        """Return the hardware addresses that an address may be formed from; empty where the plan does not say.

        Of a port that states none, the thing's own is meant only where the thing has no other port.
        """
        if host.port is not None and host.name in self.named:
            return [self.named[host.name]]
        if host.port is not None and len(host.thing.port_) > 1:
            return []
        return self.all.get(id(host.thing), [])


def put_values(shared: dict[Path, int], hosts: list[Host], values: list[int]) -> tuple[Edit, ...]:
    """Return the edits that give addresses other values, key by key; none where one text cannot say it.

    ``shared`` says how many addresses are written at each path (`shared_paths`); ``values`` [-] are integers in the
    order of ``hosts``.
    """
    wanted: dict[Path, list[tuple[Host, int]]] = {}
    for host, value in zip(hosts, values, strict=True):
        wanted.setdefault(host.path, []).append((host, value))
    edits = []
    for path, rows in wanted.items():
        texts = [_text(host, value) for host, value in rows]
        counted = [value for _, value in rows] == list(range(rows[0][1], rows[0][1] + len(rows)))
        if shared.get(path) != len(rows) or len({host.length for host, _ in rows}) > 1:
            return ()
        if len(texts) > 1 and not counted and rows[0][0].several:
            return ()
        put: str | tuple[str, ...] = f"{texts[0]} .. {texts[-1]}" if counted else tuple(texts)
        edits.append(Put(path, texts[0] if len(texts) == 1 else put))
    return tuple(edits)


def _text(host: Host, value: int) -> str:
    return text_of(host.family, value) + ("" if host.length is None else f"/{host.length}")

"""The routers that things name for themselves, each with what is wrong with it."""

from __future__ import annotations

import msgspec

from coldcheck import Level, working
from coldcheck.lan.address import Prefix
from coldcheck.lan.special import is_link_local
from coldcheck.plan.model import Plan

from .addresses import AddressBook, Host, none_in

__all__ = ["NamedGateway", "named_gateways"]


class NamedGateway(msgspec.Struct):
    """A gateway that a thing names: ``level`` says how grave it is and ``why`` what is wrong, None and "" where not.

    ``allowed`` names the prefixes that it would have to lie in, where that is what is wrong.
    """

    host: Host
    level: Level | None = None
    why: str = ""
    allowed: str = ""


@working(reads=("node", "storage", "switch", "appliance", "subnet", "pool", "outside"))
def named_gateways(plan: Plan, address_book: AddressBook) -> list[NamedGateway]:
    """Return every gateway that a thing names for itself, judged by the addresses of the thing and of all others.

    Nothing is said of a link-local gateway, nor of the subnet where that of the thing is not known.
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
    return [_judged(book, gate, own.get(id(gate.thing), []), known) for gate in book.defaults]


def _judged(book: AddressBook, gate: Host, own: list[Host], known: set[tuple[int, int]]) -> NamedGateway:
    if is_link_local(gate.family, gate.value):
        return NamedGateway(gate)
    mine = [host for host in own if host.family == gate.family]
    if any(host.value == gate.value for host in mine):
        return NamedGateway(gate, "error", "is its own address")
    prefixes = [_prefix_of(book, host) for host in mine]
    around = next((p for p in prefixes if p is not None and p.contains(gate.family, gate.value)), None)
    if around is None and prefixes and None not in prefixes:
        nets = dict.fromkeys(str(prefix) for prefix in prefixes)
        return NamedGateway(gate, "error", f"lies outside {' and '.join(nets)}", " or ".join(nets))
    if around is not None and (why := none_in(around, gate.value)) and "of the routers" not in why:
        return NamedGateway(gate, "error", why)
    if (gate.family, gate.value) not in known and not book.bad:
        why = "is nobody's in this plan: no thing, no subnet and nothing outside has it"
        return NamedGateway(gate, "warning", why)
    return NamedGateway(gate)


def _prefix_of(book: AddressBook, host: Host) -> Prefix | None:
    if host.subnet is not None:
        prefix = book.subnets[host.subnet].prefix
    elif host.length is not None:
        prefix = Prefix(host.family, host.value, host.length)
    else:
        return None
    return Prefix(prefix.family, prefix.network, prefix.length)

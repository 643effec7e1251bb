"""Prefixes: subnets carved out of a block by size, around what is taken."""

from __future__ import annotations

from typing import Any

from coldcheck.lan.address import BadAddress, Prefix, read_prefix
from coldcheck.lan.prefixes import length_for
from coldcheck.workings.addresses import AddressBook

from .draft import Draft
from .program import Contradiction

__all__ = ["fill_prefixes"]

#: The longest IPv4 prefix that is carved [bit].
_LONGEST = 30


def fill_prefixes(draft: Draft) -> None:
    """Carve a prefix for every subnet that has none and says its hosts, the largest first, around what is taken.

    Sizes of subnets are powers of two and a block falls into aligned ones, so the largest first finds room whenever
    there is room (`coldcheck.lan.carving`). Raises `coldcheck.planner.program.Contradiction` where there is none.
    """
    plan = draft.plan
    blank = [subnet for subnet in plan.table("subnet") if "prefix" not in subnet.stated]
    for subnet in [s for s in blank if s.hosts is None]:
        draft.leave((_name(subnet),), "prefix", "say how many `hosts` it must have room for")
    blank = [subnet for subnet in blank if subnet.hosts is not None]
    if not blank:
        return
    try:
        block = read_prefix(plan.head.block or "")
    except BadAddress as error:
        why = (
            f"[plan] block: {error}"
            if plan.head.block
            else "say in [plan] the `block` that it is carved out of"
        )
        for subnet in blank:
            draft.leave((_name(subnet),), "prefix", why)
        return
    lengths = [_length(block.family, subnet.hosts) for subnet in blank]
    book: AddressBook = draft.working("address_book")
    found = _carved(block, lengths, book)
    if found is None:
        raise _too_small(block, blank, lengths, book)
    for subnet, prefix in zip(blank, found, strict=True):
        draft.put((*subnet.path, "prefix"), str(prefix))


def _name(subnet: Any) -> str:
    return subnet.title or (f"the subnet of VLAN {subnet.vlan}" if subnet.vlan is not None else "the subnet")


def _length(family: int, hosts: int) -> int:
    """Return the length of the smallest prefix for so many hosts [bit]; in IPv6 machines ask for 64.

    A /31 joins two routers (RFC 3021) and many a machine takes none, so 30 is the longest in IPv4.
    """
    return 64 if family == 6 else min(length_for(family, hosts) or 0, _LONGEST)


def _carved(block: Prefix, lengths: list[int], book: AddressBook) -> list[Prefix] | None:
    """Return prefixes of the lengths in what is free of a block; None where they have no room there."""
    free = _free_of(block, book)
    order = sorted(range(len(lengths)), key=lambda i: lengths[i])
    found: dict[int, Prefix] = {}
    for i in order:
        fits = [piece for piece in free if piece.length <= lengths[i]]
        if not fits:
            return None
        piece = max(fits, key=lambda p: (p.length, -p.network))  # the smallest hole that is enough
        chosen = Prefix(block.family, piece.network, lengths[i])
        free.remove(piece)
        free += _rest(piece, lengths[i])
        found[i] = chosen
    return [found[i] for i in range(len(lengths))]


def _rest(piece: Prefix, length: int) -> list[Prefix]:
    """Return what is left of a block when its first prefix of a length is taken."""
    width = piece.length + piece.host_bits
    return [
        Prefix(piece.family, piece.network + (1 << width - n), n) for n in range(length, piece.length, -1)
    ]


def _free_of(block: Prefix, book: AddressBook) -> list[Prefix]:
    """Return what of a block no subnet, pool or network outside touches, in aligned pieces."""
    import netaddr  # type: ignore[import-untyped]  # late: only a plan with a blank prefix needs it

    taken = netaddr.IPSet(
        [str(b.prefix) for b in (*book.subnets, *book.networks) if b.prefix.family == block.family]
    )
    for pool in book.pools:
        if pool.family == block.family:
            taken.add(netaddr.IPRange(pool.first, pool.last))
    left = netaddr.IPSet([str(block)]) - taken
    return [Prefix(block.family, int(piece.first), piece.prefixlen) for piece in left.iter_cidrs()]


def _too_small(block: Prefix, blank: list[Any], lengths: list[int], book: AddressBook) -> Contradiction:
    wanted = [
        f"{_name(s)} must have room for {s.hosts} hosts, a /{n}" for s, n in zip(blank, lengths, strict=True)
    ]
    free = sum(1 << piece.host_bits for piece in _free_of(block, book))
    taken = f", {free} of which are free" if free < 1 << block.host_bits else ""
    demands = [*wanted, f"[plan] block {block} holds {1 << block.host_bits} addresses{taken}"]
    wider = next(
        (
            wide
            for n in range(block.length - 1, -1, -1)
            if (wide := _widened(block, n)) and _carved(wide, lengths, book)
        ),
        None,
    )
    return Contradiction(demands, [f'block = "{wider}"'] if wider else [])


def _widened(block: Prefix, length: int) -> Prefix:
    shift = block.host_bits + block.length - length
    return Prefix(block.family, block.network >> shift << shift, length)

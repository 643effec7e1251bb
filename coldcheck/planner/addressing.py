"""Addresses and prefixes: subnets carved by size, and numbers a person can read, outside every pool."""

from __future__ import annotations

from typing import Any

from coldcheck.lan.address import BadAddress, Prefix, read_prefix, text_of
from coldcheck.lan.prefixes import length_for
from coldcheck.plan.spans import listed
from coldcheck.workings.addresses import AddressBook, FreeAddresses
from coldcheck.workings.hosts import unaddressed

from .draft import Draft, Entry, entries
from .program import Contradiction

__all__ = ["fill_addresses", "fill_prefixes", "starts_at"]

_TABLES = ("node", "storage", "appliance")


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
    """Return the length of the smallest prefix for so many hosts [bit]; in IPv6 machines ask for 64."""
    return 64 if family == 6 else length_for(family, hosts) or 0


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


def fill_addresses(draft: Draft) -> None:
    """Put an address for everything that has a data cable and none.

    An entry of several has addresses that count on, whose last digit is that of its names, in a ten of its own: ``n1 ..
    n6`` has ``.11 .. .16``. Raises `coldcheck.planner.program.Contradiction` where a subnet has too few that are free.
    """
    book: AddressBook = draft.working("address_book")
    if not book.subnets:
        return
    free = FreeAddresses(book)
    wanted: dict[int, list[Entry]] = {}
    for entry in entries(unaddressed(draft.plan, _TABLES)):
        place = _home(draft, book, entry.things[0])
        if place is None:
            draft.leave(entry.names, "address", "the plan does not say in which subnet it lives")
        else:
            wanted.setdefault(place, []).append(entry)
    for place, several in wanted.items():
        _number(draft, book, free, place, several)


def _home(draft: Draft, book: AddressBook, thing: Any) -> int | None:
    """Return the subnet of a thing: that of its VLAN, or the only one of the plan."""
    four = [i for i, b in enumerate(book.subnets) if b.prefix.family == 4] or list(range(len(book.subnets)))
    vlans = {_vlan(thing)} | {
        other.vlan
        for port in draft.plan.ports.get(thing.id, ())
        for line in port.links
        if (other := line.other(port)) is not None
    }
    same = [i for i in four if getattr(book.subnets[i].source, "vlan", None) in vlans - {None}]
    if not same:
        same = [i for i in four if getattr(book.subnets[i].source, "vlan", None) is None] or four
    return same[0] if len(same) == 1 else None


def _vlan(thing: Any) -> int | None:
    found: int | None = thing.vlan
    return found


def _number(draft: Draft, book: AddressBook, free: FreeAddresses, place: int, several: list[Entry]) -> None:
    prefix = book.subnets[place].prefix
    gaps = [list(range(a, min(b, a + _MOST) + 1)) for a, b in free.of(place)]
    left = [value for gap in gaps for value in gap]
    count = sum(len(entry.things) for entry in several)
    if count > len(left):
        raise _exhausted(book, place, several, len(left))
    taken: set[int] = set()
    for entry in sorted(several, key=lambda e: -len(e.things)):  # the long ones need the long gaps
        open_ = [value for value in left if value not in taken]
        first = starts_at(open_, prefix.network, len(entry.things), _digit(entry.names[0]))
        values = (
            list(range(first, first + len(entry.things))) if first is not None else open_[: len(entry.things)]
        )
        taken.update(values)
        draft.deal((*entry.path, "address"), [text_of(prefix.family, value) for value in values])


#: So many addresses of a gap are looked at: more than a plan may have things.
_MOST = 20_000


def starts_at(free: list[int], network: int, count: int, digit: int | None) -> int | None:
    """Return the first of ``count`` free addresses that count on; None where no gap is as long.

    ``free`` is in order. The last decimal digit of its place in the ``network`` is ``digit`` where one is given, else
    0, and the ten it starts in holds no taken address before it; where no such place is left, the first gap that is
    long enough serves.
    """
    runs = [value for value, length in _runs(free).items() if length >= count]
    has = set(free)
    wanted = (digit or 0) % 10
    for value in runs:
        place = value - network
        if place >= 10 and place % 10 == wanted and all(v in has for v in range(value - wanted, value)):
            return value
    # The first address of a subnet is often a router's, said or not.
    return next((value for value in runs if value - network > 1), runs[0] if runs else None)


def _runs(free: list[int]) -> dict[int, int]:
    """Return by each free address how many free ones start with it and count on."""
    found: dict[int, int] = {}
    for value in reversed(free):
        found[value] = found.get(value + 1, 0) + 1
    return dict(reversed(found.items()))


def _digit(name: str) -> int | None:
    """Return the number that a name ends in."""
    tail = name[len(name.rstrip("0123456789")) :]
    return int(tail) if tail else None


def _exhausted(book: AddressBook, place: int, several: list[Entry], left: int) -> Contradiction:
    block = book.subnets[place]
    count = sum(len(entry.things) for entry in several)
    names = listed([name for entry in several for name in entry.names])
    pools = [pool.text for pool in book.pools if place in pool.subnets]
    aside = f", pools {listed(pools)} and what is taken left aside" if pools else ", what is taken left aside"
    wide = length_for(
        block.prefix.family, count - left + sum(1 for _ in book.hosts) + (1 << block.prefix.host_bits)
    )
    gives = [f"{count - left} addresses fewer in the pools"] if pools else []
    gives += [f"a prefix of /{wide}"] if wide is not None else []
    return Contradiction(
        [f"{names} must have an address each, {count} in all", f"{block.text} has {left} free{aside}"], gives
    )

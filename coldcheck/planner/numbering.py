"""Addresses: numbers that a person can read, outside every pool, the same digit as the name where there is one."""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.lan.address import text_of
from coldcheck.lan.prefixes import length_for
from coldcheck.plan.spans import listed
from coldcheck.workings.addresses import AddressBook, FreeAddresses
from coldcheck.workings.hosts import unaddressed

from .draft import Draft, Entry, entries
from .program import Contradiction

__all__ = ["fill_addresses", "starts_at"]

_TABLES = ("node", "storage", "appliance")
#: So many addresses of a gap are looked at: more than a plan may have things.
_MOST = 20_000
#: A family whose numbers leave out more than this for each that they have is numbered without holes.
_SPARSE = 3


def fill_addresses(draft: Draft) -> None:
    """Put an address for everything that has a data cable and none.

    Things whose names count on are a family, be they of one entry or of several: their addresses count as their names
    do, the last digit being that of the name, in a ten of their own, or on from those of the family that have some
    already. What has no number follows in a ten that it shares. Raises `coldcheck.planner.program.Contradiction` where
    a subnet has too few addresses that are free.
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


class _Family(msgspec.Struct):
    """Things whose names are alike but for the number they end in: (number, id), in order."""

    stem: str
    members: list[tuple[int, str]]

    @property
    def steps(self) -> list[int]:
        """How far each is from the first: by its number, or one by one where numbers are sparse or come twice."""
        first, last = self.members[0][0], self.members[-1][0]
        once = len({number for number, _ in self.members}) == len(self.members)
        if once and last - first < (_SPARSE + 1) * len(self.members):
            return [number - first for number, _ in self.members]
        return list(range(len(self.members)))


def _number(draft: Draft, book: AddressBook, free: FreeAddresses, place: int, several: list[Entry]) -> None:
    prefix = book.subnets[place].prefix
    left = [value for a, b in free.of(place) for value in range(a, min(b, a + _MOST) + 1)]
    if sum(len(entry.things) for entry in several) > len(left):
        raise _exhausted(book, place, several, len(left))
    chosen: dict[str, int] = {}
    families, others = _families(several)
    for family in sorted(families, key=lambda f: -len(f.members)):  # the long ones need the long gaps
        open_ = _open(left, chosen)
        values = _beside(book, place, family, set(open_)) or _in_a_row(open_, prefix.network, family)
        chosen.update(zip((name for _, name in family.members), values, strict=True))
    open_ = _open(left, chosen)
    first = starts_at(open_, prefix.network, len(others), None) if others else None
    values = list(range(first, first + len(others))) if first is not None else open_[: len(others)]
    chosen.update(zip(others, values, strict=True))
    for entry in several:
        texts = [text_of(prefix.family, chosen[name]) for name in entry.names]
        draft.deal((*entry.path, "address"), texts)


def _open(left: list[int], chosen: dict[str, int]) -> list[int]:
    taken = set(chosen.values())
    return [value for value in left if value not in taken]


def _families(several: list[Entry]) -> tuple[list[_Family], list[str]]:
    """Return the things of some entries by the stem of their names, and those whose names end in no number."""
    found: dict[str, _Family] = {}
    others: list[str] = []
    for name in (name for entry in several for name in entry.names):
        stem, number = _parts(name)
        if number is None:
            others.append(name)
        else:
            found.setdefault(stem, _Family(stem, [])).members.append((number, name))
    for family in found.values():
        family.members.sort()
    return list(found.values()), others


def _parts(name: str) -> tuple[str, int | None]:
    """Return a name without the number it ends in, and that number."""
    stem = name.rstrip("0123456789")
    return stem, int(name[len(stem) :]) if len(stem) < len(name) else None


def _beside(book: AddressBook, place: int, family: _Family, free: set[int]) -> list[int]:
    """Return the addresses that continue those which others of a family have; none where they do not count alike."""
    offsets = set()
    for host in book.hosts:
        if host.subnet == place and host.port is None:
            stem, number = _parts(host.thing.id)
            if stem == family.stem and number is not None:
                offsets.add(host.value - number)
    values = [number + offset for offset in offsets for number, _ in family.members]
    return values if len(offsets) == 1 and free.issuperset(values) and len(set(values)) == len(values) else []


def _in_a_row(free: list[int], network: int, family: _Family) -> list[int]:
    """Return the addresses of a family in a gap of its own; the first that are free where no gap is long enough."""
    steps, digit = family.steps, family.members[0][0]
    first = starts_at(free, network, steps[-1] + 1, digit)
    if first is not None:
        return [first + step for step in steps]
    first = starts_at(free, network, len(steps), digit)
    return list(range(first, first + len(steps))) if first is not None else free[: len(steps)]


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

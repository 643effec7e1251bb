"""Host names: what each machine of a plan is called on its network, with the domain of the plan."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import msgspec

from coldcheck import Put, working
from coldcheck.lan.names import folded, lawful_label, problem_with_label, problem_with_name
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.quantities import Wrong
from coldcheck.plan.spans import listed, members

from .addresses import AddressBook

__all__ = [
    "HostName",
    "NameServer",
    "by_entry",
    "host_names",
    "in_words",
    "name_server",
    "put_names",
    "renamed",
    "shown_names",
]

_CALLED = ("node", "storage", "appliance", "switch")


class HostName(msgspec.Struct, gc=False):
    """What one machine is called: ``name`` as stated or its id, ``full`` with the domain of the plan behind it.

    ``stated`` says that the plan gives it a ``name``; without one its id is what it is called.
    """

    thing: Any
    name: str
    full: str
    stated: bool

    @property
    def key(self) -> Path:
        """The key that a name is written in, whether it is there or not."""
        return (*self.thing.path, "name")

    @property
    def path(self) -> Path:
        """The key that decides what it is called."""
        return self.key if self.stated else (*self.thing.path, "id")

    @property
    def domain(self) -> str:
        """What stands behind its first label, in the form in which names are compared."""
        return folded(self.full).partition(".")[2]


@working(reads=("plan", *_CALLED, "link", "uplink"))
def host_names(plan: Plan) -> list[HostName]:
    """Return what every machine with a network is called, in the order of the plan.

    A machine has a name of its own where one is stated, or where it has an address or a data cable. A switch without
    name and address has none: it passes frames on, and nobody calls it.
    """
    domain = (plan.head.domain or "").strip(".")
    tail, ending = f".{domain}", f".{folded(domain)}"
    found = []
    for table in _CALLED:
        for thing in plan.table(table):
            if thing.name is None and not _is_called(plan, thing):
                continue
            name = thing.id if thing.name is None else thing.name
            whole = not domain or name.endswith(".") or folded(name).endswith(ending)
            full = name.removesuffix(".") if whole else name + tail
            found.append(HostName(thing, name, full, thing.name is not None))
    return found


class NameServer(msgspec.Struct, frozen=True):
    """What answers for the names of a plan: its full name, or why there is none. Both are "" where none is stated."""

    full: str = ""
    why: str = ""


@working(reads=("plan", *_CALLED, "link", "uplink"))
def name_server(plan: Plan, host_names: list[HostName], address_book: AddressBook) -> NameServer:
    """Return the name server of the plan's domain: a machine of the plan, or a full name elsewhere."""
    stated = plan.head.name_server
    if stated is None:
        return NameServer()
    asked, domain = folded(stated), folded(plan.head.domain or "").strip(".")
    for name in host_names:
        if asked in {folded(name.full), folded(name.name), folded(name.thing.id)}:
            if not any(host.thing is name.thing for host in address_book.hosts):
                return NameServer(why="has no address, so nobody can ask it")
            return NameServer(folded(name.full))
    if problem_with_name(asked) is not None:
        return NameServer(why="cannot be a host name")
    if "." not in asked or (domain and asked.endswith(f".{domain}")):
        return NameServer(why="is no machine of the plan")
    return NameServer(asked)


def _is_called(plan: Plan, thing: Any) -> bool:
    if thing.address or any(port.address for port in thing.port_):
        return True
    return thing.table != "switch" and any(port.links for port in plan.ports.get(thing.id, ()))


def by_entry(names: Iterable[HostName]) -> Iterator[list[HostName]]:
    """Yield names grouped by the entry of the plan that states them: a span that is wrong is one slip."""
    groups: dict[Path, list[HostName]] = {}
    for name in names:
        groups.setdefault(name.path, []).append(name)
    yield from groups.values()


def shown_names(names: Iterable[HostName]) -> str:
    """Return what machines are called, as a person would list it."""
    return listed(dict.fromkeys(name.name[:64] for name in names))


def renamed(name: HostName) -> str:
    """Return a lawful name as near to the one it has as can be, its domain left as it is; "" where there is none."""
    first, dot, rest = name.name.partition(".")
    label = lawful_label(first)
    return label + dot + rest if label else ""


def put_names(names: list[HostName], wanted: list[str], taken: Iterable[str]) -> tuple[Edit, ...]:
    """Return the edit that gives all machines of an entry other names; none where one would clash or be unlawful.

    ``wanted`` are the names in the order of ``names``; ``taken`` what is taken already, folded.
    """
    own = {folded(name) for name in wanted}
    lawful = all(problem_with_label(name.partition(".")[0]) is None for name in wanted)
    if not lawful or len(own) < len(wanted) or not own.isdisjoint(taken):
        return ()
    return (Put(names[0].key, _as_written(wanted)),)


def _as_written(texts: list[str]) -> str | tuple[str, ...]:
    """Return texts as one value of a plan: a span where they count on, else a list."""
    if len(texts) == 1:
        return texts[0]
    span = f"{texts[0]} .. {texts[-1]}"
    try:
        return span if members(span) == texts else tuple(texts)
    except Wrong:
        return tuple(texts)


def in_words(texts: list[str]) -> str:
    """Return the line of a plan that gives names to all machines of an entry."""
    value = _as_written(texts)
    return (
        f'name = "{value}"'
        if isinstance(value, str)
        else "name = [" + ", ".join(f'"{x}"' for x in value) + "]"
    )

"""Which port each data cable goes to: the part of the placing program that shares out the ports of switches."""

from __future__ import annotations

from collections import Counter
from typing import Any

import msgspec

from coldcheck.plan.model import PortPoint
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Port
from coldcheck.workings.poe import watts_at
from coldcheck.workings.ports import SwitchPorts, poe_type_of, poe_type_wanted, suits

from .draft import Draft, Entry, entries
from .outlets import away
from .program import Give, Program, Sum
from .seats import deal_out, ordered

__all__ = ["Cables", "Group", "Plugged"]


class Group(msgspec.Struct):
    """Free ports of one switch that are alike: their names, and one of them for its figures."""

    switch: Any
    spec: Port
    names: list[str]


class Plugged(msgspec.Struct):
    """Things of an entry that may change places and want a port each.

    By the number of a group, ``chosen`` says how many go there, and ``fed`` how many of those are fed by it. ``home``
    is the port that one is plugged into already, "" where it has none yet.
    """

    entry: Entry
    things: list[Any]
    chosen: dict[int, int]
    fed: dict[int, int]
    home: str = ""


class Cables:
    """What wants a port, the ports there are, and how many of what go where.

    ``moving``: cables that are plugged in already may go elsewhere, as few as can be.
    """

    def __init__(self, draft: Draft, program: Program, moving: bool = False) -> None:
        self.draft, self.plan, self.program = draft, draft.plan, program
        self.counted: list[SwitchPorts] = draft.working("switch_ports")
        self.plugged: list[Plugged] = []
        self._homes: dict[str, set[int | None]] | None = None
        self.movable = self._movable() if moving else []
        self.groups = self._groups()
        self.powered: dict[str, Sum] = {}  #: by the first thing of an entry: how many are fed by their cable

    def _groups(self) -> list[Group]:
        found: dict[Any, Group] = {}
        for counted in self.counted:
            held = [
                (p.name, p.spec) for _, things in self.movable for p in things if p.thing is counted.switch
            ]
            for name, spec in [*counted.free, *held]:
                if spec.for_ == "management" or spec.unused:
                    continue
                key = (
                    counted.switch.id,
                    spec.poe,
                    spec.speed,
                    spec.media,
                    spec.module,
                    spec.vlan,
                    spec.tagged,
                    spec.poe_watts,
                )
                found.setdefault(key, Group(counted.switch, spec, [])).names.append(name)
        return list(found.values())

    def _movable(self) -> list[tuple[Entry, list[PortPoint]]]:
        """Return entries whose cables may be moved, with the ports they are in: one each, none of which feeds it."""
        found = []
        fed = {feed.thing.id for feed in self.draft.working("poe_feeds") if feed.fed}
        for table in ("node", "storage", "appliance"):
            for entry in entries(t for t in self.plan.table(table) if "port" in t.stated and t.id not in fed):
                ports = [self._only_port(thing) for thing in entry.things]
                if all(port is not None for port in ports):
                    found.append((entry, [port for port in ports if port is not None]))
        return found

    def _only_port(self, thing: Any) -> PortPoint | None:
        """Return the port of a switch that the only cable of a thing is in; None where that is not so."""
        lines = [line for port in self.plan.ports.get(thing.id, ()) for line in port.links]
        ends = [line.b if line.a.thing is thing else line.a for line in lines]
        end = ends[0] if len(ends) == 1 and len(thing.port) == 1 else None
        alone = end is not None and end.thing.table == "switch" and len(end.links) == 1
        return end if alone else None

    def plug_held(self) -> None:
        """Add what is plugged in already and may move."""
        for entry, ports in self.movable:
            for thing, port in zip(entry.things, ports, strict=True):
                media = next((p.media for p in thing.port_ if p.for_ != "management"), None)
                at = next(i for i, group in enumerate(self.groups) if port.name in group.names)
                fit = {
                    i
                    for i, g in enumerate(self.groups)
                    if suits(g.spec, 0, media) and self._same_vlan(g, thing)
                }
                chosen = {i: self.program.number(0, 1) for i in sorted(fit | {at})}
                self.program.demand(dict.fromkeys(chosen.values(), 1.0), 1, 1)
                self.plugged.append(Plugged(entry, [thing], chosen, {}, port.name))

    def moves(self) -> Sum:
        """Return how many cables move that are plugged in; one of a thing that is built counts as ten."""
        found: Sum = {}
        for p in self.plugged:
            for i, number in p.chosen.items():
                if p.home and p.home not in self.groups[i].names:
                    found[number] = 10.0 if p.things[0].built is not None else 1.0
        return found

    def blank(self) -> list[Entry]:
        """Return the entries that should have a data cable and name none."""
        found = [Entry(entry.path, entry.things) for entry in self.draft.working("uncabled")]
        leaving = {line.a.thing.id for line in self.plan.links if line.b is None}
        inside = {end.thing.id for line in self.plan.links if line.b is not None for end in (line.a, line.b)}
        lone = [
            thing
            for table in ("node", "storage", "appliance")
            for thing in self.plan.table(table)
            if thing.id in leaving - inside and not thing.port and "port" not in thing.stated
        ]
        return found + entries(lone)

    def plug(self, entry: Entry, by_lead: bool) -> str:
        """Add an entry; returns why it stays blank, "" where it does not. ``by_lead``: a lead could feed it as well."""
        first = entry.things[0]
        need = poe_type_wanted(first) or 0
        media = next((port.media for port in first.port_ if port.for_ != "management"), None)
        fit = [i for i, g in enumerate(self.groups) if suits(g.spec, 0, media) and self._same_vlan(g, first)]
        feeding = [i for i in fit if need and suits(self.groups[i].spec, need, media)]
        if not fit or (
            self._vlans() and first.vlan is None and not first.tagged and self._vlan_of(first) is None
        ):
            several = (
                "the ports of the switches are in several VLANs: say which it is in by `vlan` or its address"
            )
            none = (
                "no free port of a switch suits it" if self.groups else "there is no switch with a free port"
            )
            return several if self._vlans() else none
        if need and not by_lead and not feeding:
            return f"no free port feeds PoE of type {need} or above"
        whole: Sum = {}
        for things in self._alike(entry):
            chosen = {i: self.program.number(0, len(things)) for i in fit}
            fed = {i: self.program.number(0, len(things)) for i in feeding}
            for i, number in fed.items():
                self.program.demand({number: 1.0, chosen[i]: -1.0}, high=0.0)
                whole[number] = 1.0
            says = f"{listed([t.id for t in things])} must have a port each"
            self.program.demand(dict.fromkeys(chosen.values(), 1.0), len(things), len(things), says)
            self.plugged.append(Plugged(entry, things, chosen, fed))
        if need:
            self._power(entry, whole, by_lead)
        return ""

    def _vlans(self) -> bool:
        """Say whether free ports are in VLANs, so that what plugs in must say which it wants."""
        return any(g.spec.vlan is not None or g.switch.vlan is not None or g.spec.tagged for g in self.groups)

    def _power(self, entry: Entry, whole: Sum, by_lead: bool) -> None:
        """Feed all things of an entry by their cables, or none where a lead may do it."""
        count, names = len(entry.things), listed(entry.names)
        if not by_lead:
            self.program.demand(whole, count, count, f"{names} take their power by their cables")
            return
        by_cable = self.program.number(0, 1)
        self.program.demand({**whole, by_cable: -float(count)}, 0.0, 0.0)
        self.powered[entry.things[0].id] = {by_cable: float(count)}

    def _same_vlan(self, group: Group, thing: Any) -> bool:
        """Say whether a port carries what a thing is in: the VLANs that it states, else that of its addresses."""
        switch, spec = group.switch, group.spec
        vlan = switch.vlan if spec.vlan is None else spec.vlan
        known = self._vlan_of(thing)
        return (vlan, spec.tagged or switch.tagged) == (thing.vlan if known is None else known, thing.tagged)

    def _vlan_of(self, thing: Any) -> int | None:
        """Return the VLAN of the subnets that the addresses of a thing lie in; None where that is not one."""
        if self._homes is None:
            book = self.draft.working("address_book")
            self._homes = {}
            for host in book.hosts:
                if host.subnet is not None:
                    vlan = getattr(book.subnets[host.subnet].source, "vlan", None)
                    self._homes.setdefault(host.thing.id, set()).add(vlan)
        found = self._homes.get(thing.id, set())
        return next(iter(found)) if len(found) == 1 and thing.vlan is None else None

    def _alike(self, entry: Entry) -> list[list[Any]]:
        several = len({group.switch.id for group in self.groups}) > 1
        alone = [t for t in entry.things if t.at is not None] if several else []
        rest = [t for t in entry.things if t not in alone]
        return [[thing] for thing in alone] + ([rest] if rest else [])

    def bound(self) -> None:
        """Hold every switch to its ports, less those that are to stay free, and to its PoE budget."""
        kinds = Counter(group.switch.id for group in self.groups)
        for i, group in enumerate(self.groups):
            if kinds[group.switch.id] > 1:
                taken: Sum = {p.chosen[i]: 1.0 for p in self.plugged if i in p.chosen}
                names = listed(ordered(group.names))
                says = (
                    f"{names} {'are' if len(group.names) > 1 else 'is'} free on {group.switch.id}, and alike"
                )
                give = Give(f"{{}} more like {names}")
                self.program.demand(taken, high=len(group.names), says=says, give=give)
        for counted in self.counted:
            switch = counted.switch
            mine = [i for i, group in enumerate(self.groups) if group.switch is switch]
            taken = {p.chosen[i]: 1.0 for p in self.plugged for i in mine if i in p.chosen}
            free = sum(len(self.groups[i].names) for i in mine)
            spare = self.plan.head.spare_ports if switch.spare_ports is None else switch.spare_ports
            kept = f", {spare} of which must stay free" if spare else ""
            says = f"{switch.id} has {free} free ports{kept}"
            self.program.demand(
                taken,
                high=free - spare,
                says=says,
                give=Give(f"{{}} more on {switch.id}, or a larger switch"),
            )
        known = {budget.switch.id: budget.counts for budget in self.draft.working("poe_budgets")}
        for counted in self.counted:
            self._budget(counted.switch, known.get(counted.switch.id, 0.0))

    def _budget(self, switch: Any, now: float) -> None:
        """Hold a switch to its PoE budget, of which some is set aside already [W]."""
        asked = self.watts(switch.id)
        if switch.poe_budget is not None and asked:
            limit = switch.poe_budget * (1 - self.plan.head.reserve)
            self.program.demand(
                {**asked, None: now},
                high=limit,
                says=f"{switch.id} gives {limit:.3g} W of PoE, the reserve left free",
                give=Give(f"{{}} W more of PoE on {switch.id}", whole=False),
            )

    def watts(self, switch: str) -> Sum:
        """Return the PoE watts that are newly set aside on a switch."""
        found: Sum = {}
        for plugged in self.plugged:
            for i, number in plugged.fed.items():
                group = self.groups[i]
                if group.switch.id == switch:
                    found[number] = watts_at(plugged.things[0], group.switch, group.spec)
        return found

    def spread(self) -> Sum:
        """Return how many pairs of an entry and a kind of port there are: members side by side are found easily."""
        found: Sum = {}
        for entry in {id(p.entry): p.entry for p in self.plugged}.values():
            mine = [p for p in self.plugged if p.entry is entry]
            for i in {i for p in mine for i in p.chosen}:
                used = self.program.number(0, 1)
                for p in mine:
                    if i in p.chosen:
                        self.program.demand({p.chosen[i]: 1.0, used: -float(len(p.things))}, high=0.0)
                found[used] = 1.0
        return found

    def metres(self) -> Sum:
        """Return the metres of cable to switches, of all that have a place."""
        found: Sum = {}
        for p in self.plugged:
            for i, number in p.chosen.items():
                way = away(p.things[0], self.groups[i].switch)
                if way is not None:
                    found[number] = way
        return found

    def waste(self) -> Sum:
        """Return how many ports do not suit what is plugged in: PoE for what takes none, slow ones for storage."""
        found: Sum = {}
        top = max((group.spec.speed or 0.0 for group in self.groups), default=0.0)
        for p in self.plugged:
            for i, number in p.chosen.items():
                spec = self.groups[i].spec
                found[number] = 1.0 if poe_type_of(spec) else 0.0
                if p.things[0].table == "storage" and (spec.speed or top) < top:
                    found[number] += 2.0
            for number in p.fed.values():
                found[number] = -1.0
        return found

    def write(self, found: Any) -> None:
        """Deal out the ports that were chosen; what stays in its group stays in its port."""
        ports: dict[str, str] = {}
        for i, group in enumerate(self.groups):
            here = [(k, p, found.of(p.chosen[i])) for k, p in enumerate(self.plugged) if i in p.chosen]
            stay = {p.home: p.things[0].id for _, p, count in here if count and p.home in group.names}
            ports.update((thing, name) for name, thing in stay.items())
            counts = [(str(k), count) for k, p, count in here if count and p.home not in stay]
            for k, names in deal_out(counts, [name for name in group.names if name not in stay]).items():
                waiting = [t.id for t in self.plugged[int(k)].things if t.id not in ports]
                ports.update(zip(waiting, names, strict=False))
        moved = [p.things[0].id for p in self.plugged if p.home and ports[p.things[0].id] != p.home]
        kept = {id(p.entry) for p in self.plugged if p.home} - {
            id(p.entry) for p in self.plugged if p.things[0].id in moved
        }
        for entry in {id(p.entry): p.entry for p in self.plugged if id(p.entry) not in kept}.values():
            self.draft.deal(_key(entry), [ports[name] for name in entry.names])
        if moved:
            self.draft.moved += moved


def _key(entry: Entry) -> Path:
    """Return where the port that things of an entry are plugged into is written: at the first of their own ports that
    the plan describes and that is for data, else at the things themselves.
    """
    first = entry.things[0]
    own = [p for p in first.port_ if p.path[: len(first.path)] == first.path and p.for_ != "management"]
    free = [port for port in own if not port.unused and port.to is None]
    return (*free[0].path, "to") if free else (*entry.path, "port")

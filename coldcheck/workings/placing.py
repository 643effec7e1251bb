"""Where the addresses of a subnet stand: in its VLAN, together, or apart; and which slip it is where they do not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from typing import TypeVar

import msgspec

from coldcheck import working
from coldcheck.lan.vlan import problem_with_id
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.problems import Path
from coldcheck.plan.tables import Switch

from .addresses import AddressBook, Host
from .segments import Segments
from .vlans import VlanEnds, carried_ids, fixed_stands, port_key

__all__ = ["Misplaced", "Placement", "Side", "Untold", "placement"]

_READS = ("node", "storage", "appliance", "switch", "link", "uplink", "subnet")


class Misplaced(msgspec.Struct):
    """Addresses that stand in another VLAN than their subnet says, and whose slip that is.

    ``blame`` is ``port`` (what the switch port carries), ``subnet`` (what the subnet says), ``address`` (the port has
    others that are right) or ``switch`` (its own address, in a VLAN that no port of it carries). ``wanted`` are the
    VLANs of the subnets, several only where the port has them all with a tag; ``found`` is the one in which the
    addresses are; ``ports`` are the switch ports that let them in.
    """

    blame: str
    hosts: list[Host]
    wanted: list[int]
    found: int
    ports: list[PortPoint]

    @property
    def subnets(self) -> list[int]:
        """The places of their subnets, each once."""
        return list(dict.fromkeys(host.subnet for host in self.hosts if host.subnet is not None))


class Side(msgspec.Struct):
    """Addresses that cannot meet most others of their subnets: ``main`` and ``here`` number mended segments.

    ``gap`` is a cable that could carry them and does at neither end, where one is seen; ``wired`` says whether cables
    lead from one side to the other at all, whatever they carry, by things that pass frames on.
    """

    hosts: list[Host]
    others: list[Host]
    main: int
    here: int
    gap: LinkLine | None = None
    wired: bool = True

    def blocks(self, book: AddressBook) -> set[int]:
        """Return the ``id()`` of each subnet of these addresses."""
        return {id(book.subnets[host.subnet]) for host in self.hosts if host.subnet is not None}


class Untold(msgspec.Struct):
    """Addresses of things that tag, in a subnet that says no VLAN: they may be with the others, by the tag ``vlan``."""

    subnet: int
    hosts: list[Host]
    vlan: int


class Placement(msgspec.Struct):
    """Where addresses stand in the mended segments.

    ``where`` has, by ``id()`` of an address, its segments: only of those that can be judged. ``homes`` has, by the
    place of a subnet, the segment in which most of its addresses are, and ``members`` these addresses. ``unsure`` are
    the subnets of which nothing more is to be said. ``piece`` numbers the things that are cabled together. ``meant``
    has, of every thing with an address, its id with each VLAN that a subnet of it says. ``torn`` are the subnets whose
    addresses are not all together, ``doubtful`` the segments in which some address should not be.
    """

    where: dict[int, list[int]]
    misplaced: list[Misplaced]
    sides: list[Side]
    untold: list[Untold]
    homes: dict[int, int]
    members: dict[int, list[Host]]
    unsure: set[int]
    piece: dict[str, int]
    meant: set[tuple[str, int]]
    torn: set[int]
    doubtful: set[int]


@working(reads=_READS)
def placement(
    plan: Plan,
    segments: Segments,
    stands: dict[int, list[int]],
    address_book: AddressBook,
    vlan_ends: VlanEnds,
) -> Placement:
    """Return where the addresses of each subnet stand, which stand in a wrong VLAN, and which are parted."""
    return _Placer(plan, segments, stands, address_book, vlan_ends).run()


class _Placer:
    def __init__(
        self, plan: Plan, segments: Segments, real: dict[int, list[int]], book: AddressBook, ends: VlanEnds
    ) -> None:
        self.plan, self.book, self.ends, self.lan = plan, book, ends, ends.mended
        self.stands = fixed_stands(plan, segments, ends, book, real)
        self.excused = {
            (end.thing.id, port)
            for line in plan.links
            for end in (line.a, line.b)
            if end is not None and id(end) in ends.excused
            for port in ("", end.id)
        }
        self.vlan = [getattr(block.source, "vlan", None) for block in book.subnets]
        self.unsure = {i for i, v in enumerate(self.vlan) if v is not None and problem_with_id(v)}
        families = (block.prefix.family for block in book.subnets)
        self.claimed = set(zip(families, self.vlan, strict=True))
        self.where: dict[int, list[int]] = {}
        self.untold: list[Untold] = []
        self.crowd: Counter[tuple[int | None, int]] = Counter()
        self.entries: dict[int, list[PortPoint]] | None = None

    def run(self) -> Placement:
        hosts = [host for host in self.book.hosts if self._judged(host)]
        self.crowd.update((host.subnet, n) for host in hosts for n in self.where.get(id(host), ()))
        wrong = [host for host in hosts if self._in_wrong_vlan(host)]
        misplaced = list(self._misplaced(hosts, wrong)) if wrong else []
        away = {id(host) for host in wrong}
        members: dict[int, list[Host]] = {}
        for host in hosts:
            if id(host) not in away and host.subnet not in self.unsure and id(host) in self.where:
                members.setdefault(host.subnet or 0, []).append(host)
        homes = {place: self._home(found) for place, found in members.items()}
        piece = _pieces(self.plan)
        sides = list(self._sides(members, homes, piece))
        meant = {
            (host.thing.id, vlan)
            for host in self.book.hosts
            if host.subnet is not None and (vlan := self.vlan[host.subnet]) is not None
        }
        return Placement(
            self.where,
            misplaced,
            sides,
            self.untold,
            homes,
            members,
            self.unsure,
            piece,
            meant,
            {host.subnet or 0 for side in sides for host in side.hosts},
            {number for host in wrong for number in self.where.get(id(host), ())},
        )

    def _judged(self, host: Host) -> bool:
        """Note where an address stands; say whether that can be held against its subnet."""
        if host.subnet is None or host.subnet in self.unsure:
            return False
        if (host.thing.id, host.port.id if host.port is not None else "") in self.excused:
            return False
        if any(id(port) in self.ends.excused for port in self._plugged_into(host)):
            return False
        where = self.stands[id(host)]
        if any(number in self.ends.muddled for number in where):
            return False
        if where:
            self.where[id(host)] = where
        return bool(where) or self._own_vlan_missing(host)

    def _own_vlan_missing(self, host: Host) -> bool:
        """Say whether it is a switch's own address, in a VLAN that this switch does not have."""
        keeps = isinstance(host.thing, Switch) and host.port is None and host.thing.id in self.lan.keeping
        return keeps and self.vlan[host.subnet or 0] is not None and bool(self.plan.ports.get(host.thing.id))

    def _in_wrong_vlan(self, host: Host) -> bool:
        wanted, where = self.vlan[host.subnet or 0], self.where.get(id(host), [])
        if wanted is None:
            return False
        kept = [n for n in where if self.lan.vlans[n]]
        if any(wanted in self.lan.vlans[n] for n in kept) or (where and not kept):
            return False
        # Where no switch keeps VLANs the address may be meant to be, if others of its subnet are there.
        return all(self.crowd[host.subnet, n] < 2 for n in where if n not in kept)

    def _found(self, host: Host) -> int:
        """Return the VLAN in which an address is found."""
        return next(vlans[0] for n in self.where[id(host)] if (vlans := self.lan.vlans[n]))

    # --- whose slip it is ---------------------------------------------------------------------------------------

    def _misplaced(self, hosts: list[Host], wrong: list[Host]) -> Iterator[Misplaced]:
        missing = [host for host in wrong if id(host) not in self.where]
        wrong = [host for host in wrong if id(host) in self.where]
        carried = carried_ids(self.plan, self.lan.keeping)
        odd = {id(host) for host in wrong}
        sure = [h for h in hosts if id(h) not in odd and self._shows_vlan(h)]
        right = {host.subnet for host in sure}
        vouched = {_door(host) for host in sure}
        by_subnet: dict[int, list[Host]] = {}
        for host in wrong:
            by_subnet.setdefault(host.subnet or 0, []).append(host)
        claims = Counter(self.vlan[place] for place in by_subnet if place not in right)
        blamed = [
            place
            for place, found in by_subnet.items()
            if place not in right and self._is_subnets_slip(place, found, claims, vouched, carried)
        ]
        self.unsure |= set(blamed)
        yield from self._of_subnets(blamed, by_subnet)
        rest = [host for host in wrong if host.subnet not in blamed]
        yield from self._of_ports(rest, vouched, self._shared_doors(sure) if rest else set())
        alone = [h for h in missing if h.subnet not in self.unsure and self.vlan[h.subnet or 0] in carried]
        for vlan, found in _grouped(alone, lambda host: self.vlan[host.subnet or 0]):
            yield Misplaced("switch", found, [vlan or 0], 0, [])

    def _shows_vlan(self, host: Host) -> bool:
        """Say whether an address tells by its cable in which VLAN it is: one that is put there by a tag does not."""
        wanted = self.vlan[host.subnet or 0]
        if isinstance(host.thing, Switch) or wanted is None or not self.where.get(id(host)):
            return False
        return all(not point.tagged for point in self._points(host))

    def _is_subnets_slip(
        self,
        place: int,
        found: list[Host],
        claims: Counter[int | None],
        vouched: set[tuple[str, str]],
        carried: set[int],
    ) -> bool:
        """Weigh a subnet against the ports: its addresses stand together, and more than one thing speaks for them."""
        plain = [host for host in found if self._shows_vlan(host)] or found
        if len({tuple(self.where[id(host)]) for host in plain}) > 1:
            return False
        if any(self.vlan[place] in port.tagged for host in plain for port in self._let_in_by(host)):
            return False  # the port knows that VLAN, and the machine lacks its tag
        if any(_door(host) in vouched for host in plain):
            return True
        if (self.book.subnets[place].prefix.family, self._found(plain[0])) in self.claimed:
            return False  # that VLAN has a subnet of the family already
        ports = {port_key(port) for host in plain for port in self._let_in_by(host)}
        said = self.vlan[place]
        return len(ports) > claims[said] or (said not in carried and len(ports) == claims[said])

    def _of_subnets(self, blamed: list[int], by_subnet: dict[int, list[Host]]) -> Iterator[Misplaced]:
        rows: list[tuple[int, int]] = []
        for place in blamed:
            plain = [host for host in by_subnet[place] if self._shows_vlan(host)] or by_subnet[place]
            rows.append((place, self._found(plain[0])))
        for (wanted, found), group in _grouped(rows, lambda row: (self.vlan[row[0]] or 0, row[1])):
            yield Misplaced(
                "subnet", [h for place, _ in group for h in by_subnet[place]], [wanted], found, []
            )

    def _shared_doors(self, sure: list[Host]) -> set[Path]:
        """Return the ports of switches with VLANs that let in, through one without, somebody who is right there."""
        shared: set[Path] = set()
        if self._entries():
            for host in sure:
                if not any(self._plugged_into(host)):
                    shared.update(map(port_key, self._let_in_by(host)))
        return shared

    def _of_ports(
        self, wrong: list[Host], vouched: set[tuple[str, str]], shared: set[Path]
    ) -> Iterator[Misplaced]:
        groups: dict[tuple[str, Path, int, int], Misplaced] = {}
        for host in wrong:
            ports, wanted = self._let_in_by(host), self.vlan[host.subnet or 0] or 0
            if ports and id(ports[0]) in self.ends.excused:
                continue
            found = self._found(host)
            own = _door(host) in vouched or not ports or port_key(ports[0]) in shared
            blame, path = ("address", host.key) if own else ("port", port_key(ports[0]))
            tagged = not own and wanted in ports[0].tagged  # one machine that tags nothing is one slip
            group = groups.setdefault(
                (blame, path, 0 if tagged else wanted, found), Misplaced(blame, [], [], found, [])
            )
            group.hosts.append(host)
            group.ports.extend(port for port in ports if port not in group.ports)
            if wanted not in group.wanted:
                group.wanted.append(wanted)
        yield from groups.values()

    def _points(self, host: Host) -> Iterator[PortPoint]:
        for point in self.plan.ports.get(host.thing.id, ()):
            if point.links and (host.port is None or host.port.id == point.id):
                yield point

    def _let_in_by(self, host: Host) -> list[PortPoint]:
        """Return the ports of switches with VLANs by which the frames of an address come in."""
        found = list(self._plugged_into(host))
        if not found:
            for number in self.where.get(id(host), ()):
                found += self._entries().get(number, [])
        return found

    def _plugged_into(self, host: Host) -> Iterator[PortPoint]:
        for point in self._points(host):
            for line in point.links:
                other = line.other(point)
                if other is not None and other.thing.id in self.lan.keeping:
                    yield other

    def _entries(self) -> dict[int, list[PortPoint]]:
        """Return, for each segment, the ports of switches with VLANs that face what passes everything on."""
        if self.entries is None:
            self.entries = {}
            for passage in self.lan.passages:
                a, b = passage.line.a, passage.line.b
                for end, other, place in ((a, b, passage.a), (b, a, passage.b)):
                    if end is None or other is None or passage.tag:
                        continue
                    if end.thing.id in self.lan.keeping and other.thing.id in self.lan.clear:
                        self.entries.setdefault(self.lan.segment[place], []).append(end)
        return self.entries

    # --- who cannot meet ----------------------------------------------------------------------------------------

    def _home(self, hosts: list[Host]) -> int:
        """Return the segment in which most of the addresses stand; the first of them where several are equal."""
        return Counter(n for host in hosts for n in self.where[id(host)]).most_common(1)[0][0]

    def _sides(
        self, members: dict[int, list[Host]], homes: dict[int, int], piece: dict[str, int]
    ) -> Iterator[Side]:
        found: dict[tuple[int, int], Side] = {}
        for place, hosts in members.items():
            main = homes[place]
            away = [host for host in hosts if main not in self.where[id(host)]]
            if not away:
                continue
            others = [host for host in hosts if main in self.where[id(host)]]
            untold = [host for host in away if self._by_a_tag(host, place, main)]
            if untold:
                self.untold.append(Untold(place, untold, self.lan.vlans[main][0]))
                told = set(map(id, untold))
                away = [host for host in away if id(host) not in told]
            for host in away:
                if piece.get(host.thing.id) != piece.get(others[0].thing.id):
                    continue
                here = self.where[id(host)][0]
                side = found.setdefault((main, here), Side([], [], main, here))
                side.hosts.append(host)
                side.others = side.others or others
        gaps, wires = (self._gaps(), _wires(self.lan)) if found else ({}, {})
        for (main, here), side in found.items():
            side.wired = wires[main] == wires[here]
            side.gap = gaps.get((min(main, here), max(main, here)))
            yield side

    def _by_a_tag(self, host: Host, place: int, main: int) -> bool:
        """Say whether a thing takes the tag of the VLAN in which the others are, and the subnet does not say which."""
        vlans = self.lan.vlans[main]
        return (
            self.vlan[place] is None
            and len(vlans) == 1
            and any(vlans[0] in point.tagged for point in self._points(host))
        )

    def _gaps(self) -> dict[tuple[int, int], LinkLine]:
        """Return, by two segments, a cable between switches that have a VLAN on either side and do not carry it."""
        ids: dict[str, list[int]] = {}
        for name, port, vlan in self.lan.places:
            if not port and name in self.lan.keeping:
                ids.setdefault(name, []).append(vlan)
        found: dict[tuple[int, int], LinkLine] = {}
        at, segment = self.lan.places, self.lan.segment
        for line in self.plan.links:
            if (
                line.b is None
                or line.a.thing is line.b.thing
                or not {line.a.thing.id, line.b.thing.id} <= ids.keys()
            ):
                continue
            for vlan in ids[line.a.thing.id]:
                there = at.get((line.b.thing.id, "", vlan))
                if there is not None:
                    ends = sorted((segment[at[line.a.thing.id, "", vlan]], segment[there]))
                    if ends[0] != ends[1]:
                        found.setdefault((ends[0], ends[1]), line)
        return found


def _door(host: Host) -> tuple[str, str]:
    return host.thing.id, host.port.id if host.port is not None else ""


T = TypeVar("T")
K = TypeVar("K")


def _grouped(items: Iterable[T], key: Callable[[T], K]) -> Iterable[tuple[K, list[T]]]:
    groups: dict[K, list[T]] = {}
    for item in items:
        groups.setdefault(key(item), []).append(item)
    return groups.items()


def _wires(lan: Segments) -> dict[int, int]:
    """Return a number for each segment, the same where cables lead from one to another, whatever they carry."""
    parent = {number: number for number in lan.segment}

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = i = parent[parent[i]]
        return i

    first: dict[str, int] = {}
    for room, number in zip(lan.rooms, lan.segment, strict=True):
        if room.thing is not None and not room.port:
            parent[root(number)] = root(first.setdefault(room.thing.id, number))
    return {number: root(number) for number in parent}


def _pieces(plan: Plan) -> dict[str, int]:
    """Return a number for each thing with a data cable; things that hang together by cables have the same."""
    number: dict[str, int] = {}
    parent: list[int] = []

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = i = parent[parent[i]]
        return i

    for line in plan.links:
        ends = []
        for end in (line.a, line.b):
            if end is not None:
                if end.thing.id not in number:
                    number[end.thing.id] = len(parent)
                    parent.append(len(parent))
                ends.append(root(number[end.thing.id]))
        parent[ends[-1]] = ends[0]
    return {name: root(i) for name, i in number.items()}

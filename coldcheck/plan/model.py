"""A plan whose references are resolved: things, their inlets, outlets and ports, and what hangs on what.

What cannot be resolved becomes a `Fault`: it is reported as a finding, and what it concerns is left unconnected, so
that the rest of the plan is still judged.
"""

from __future__ import annotations

from typing import Any

import msgspec

from .kinds import Cable, Run
from .places import Places
from .problems import Path
from .reading import Tables
from .tables import Fed, Feed, Head, Intake, Networked, Outlet, Port, Thing

__all__ = ["JOINED", "Fault", "InletPoint", "LinkLine", "OutletPoint", "Plan", "PortPoint", "joined"]

#: How several inlets work together if the thing draws by all of them at once.
JOINED = ("shared", "or-ed")


class Fault(msgspec.Struct, frozen=True):
    """Something that a plan says of itself and that cannot be: ``rule`` names the rule that reports it."""

    rule: str
    path: Path
    says: str
    remedy: str
    related: tuple[tuple[Path, str], ...] = ()


def place_of(thing: Any, *keys: str) -> Path:
    """Return where the first of ``keys`` that is written for a thing stands, or else its id."""
    stated = thing.stated
    for key in keys:
        if key in stated:
            return (*thing.path, key)
    return (*thing.path, "id") if "id" in stated else thing.path


def _own_path(spec: Any, thing: Any) -> Path:
    """Return where an inner table stands if it is the thing's own; one of its part stands nowhere in the plan."""
    return spec.path if spec.path[:2] == thing.path else ()


class OutletPoint:
    """Where a thing gives power: a feed, a rail, an outlet, or what a carrier hands on to its bays."""

    __slots__ = ("id", "name", "spec", "takers", "thing", "via")

    def __init__(self, thing: Thing, id: str, spec: Outlet | Feed, via: InletPoint | None = None) -> None:
        self.thing = thing
        self.id = id
        self.name = f"{thing.id}.{id}" if id else thing.id  #: what it is called in a plan
        self.spec = spec
        self.via = via  #: the inlet whose volts it hands on; None for a feed or a converter
        self.takers: list[InletPoint] = []

    @property
    def handed_on(self) -> bool:
        """Whether it is no outlet of its own but an inlet's power, handed on to bays under the inlet's name."""
        return self.via is not None and self.thing.table == "storage" and not self.spec.path

    @property
    def is_source(self) -> bool:
        """Whether it holds volts of its own; what hands power on does not, even where nothing feeds it."""
        kind = getattr(self.spec, "kind", None)
        return self.via is None and kind != "pass-through" and self.thing.table != "inline"

    @property
    def root(self) -> OutletPoint:
        """The outlet whose volts it has: itself, or what feeds the inlet that it hands on."""
        outlet = self
        while outlet.via is not None and outlet.via.source is not None:
            outlet = outlet.via.source
        return outlet

    @property
    def noun(self) -> str:
        """What kind of thing gives the power: feed, rail or outlet."""
        return {"feed": "feed", "supply": "rail"}.get(self.thing.table, "outlet")

    @property
    def path(self) -> Path:
        """Where it stands in the plan: its own table, or else its thing."""
        return _own_path(self.spec, self.thing) or place_of(self.thing)

    def __str__(self) -> str:
        return self.name


class InletPoint:
    """Where a thing takes power, and the outlet it is fed from, if any."""

    __slots__ = ("id", "lead", "name", "source", "spec", "thing")

    def __init__(self, thing: Fed, id: str, spec: Intake, lead: Run | None) -> None:
        self.thing = thing
        self.id = id
        self.name = f"{thing.id}.{id}" if id else thing.id  #: what it is called in a plan
        self.spec = spec
        self.lead = lead
        self.source: OutletPoint | None = None

    @property
    def path(self) -> Path:
        """Where the plan says what feeds it."""
        if getattr(self.spec, "from_", None) and _own_path(self.spec, self.thing):
            return (*self.spec.path, "from")
        return place_of(self.thing, "from", "bay")

    def __str__(self) -> str:
        return self.name


def joined(thing: Any) -> list[InletPoint]:
    """Return the fed inlets of a thing that meet inside it, so that several sources share its load; else none.

    A bar that is simply fed from several outlets joins them; one that describes its inlets may hand each on by itself.
    """
    inlets = thing.inlets
    if len(inlets) < 2:
        return []
    bar = thing.table == "inline" and not thing.inlet
    if not bar and getattr(thing, "use", None) not in JOINED:
        return []
    fed = [inlet for inlet in inlets if inlet.source is not None]
    return fed if len(fed) > 1 else []


class PortPoint:
    """A data port, and the links that end in it."""

    __slots__ = ("id", "links", "name", "spec", "thing")

    def __init__(self, thing: Networked, id: str, spec: Port) -> None:
        self.thing = thing
        self.id = id
        self.name = f"{thing.id}.{id}"  #: what it is called in a plan
        self.spec = spec
        self.links: list[LinkLine] = []

    @property
    def vlan(self) -> int | None:
        """The VLAN of its frames without a tag, None where the plan says none: its own, else its thing's.

        What is said of a thing holds for its ports for data; one for management has its own words only.
        """
        return self.thing.vlan if self.spec.vlan is None and not self.apart else self.spec.vlan

    @property
    def tagged(self) -> tuple[int, ...]:
        """The VLANs whose frames carry a tag here: its own, else its thing's."""
        return self.spec.tagged or (() if self.apart else self.thing.tagged)

    @property
    def mtu(self) -> int | None:
        """The longest IP packet it sends [octet], None where the plan does not say: its own, else its thing's."""
        return self.spec.mtu or (None if self.apart else self.thing.mtu)

    @property
    def bond(self) -> str | None:
        """The bond its cable belongs to, by the word of this end: its own, else, unless for management, its thing's."""
        return self.spec.bond or (None if self.apart else self.thing.bond)

    @property
    def apart(self) -> bool:
        """Whether it is a management port: what enters a switch by it goes nowhere else."""
        return self.spec.for_ == "management"

    @property
    def path(self) -> Path:
        """Where it stands in the plan: its own table, or else its thing."""
        return _own_path(self.spec, self.thing) or place_of(self.thing)

    def __str__(self) -> str:
        return self.name


class LinkLine:
    """A data cable: two ports, or one port and what lies outside.

    ``bond`` names the bond it belongs to, "" where it is a link of its own; ``entry`` is its own table, ``link`` or
    ``uplink``, where it has one.
    """

    __slots__ = ("a", "b", "bond", "cable", "entry", "outside", "path", "speed")

    def __init__(
        self, a: PortPoint, b: PortPoint | None, cable: Cable | None, path: Path, outside: str = "",
        speed: float | None = None, entry: Any = None,
    ) -> None:  # fmt: skip
        self.a = a
        self.b = b
        self.cable = cable
        self.path = path
        self.outside = outside
        self.speed = speed
        self.entry = entry
        self.bond = _bond_of(a, b, entry)

    def other(self, end: PortPoint) -> PortPoint | None:
        """Return the port at the other end; None where that lies outside."""
        return self.b if end is self.a else self.a

    def __str__(self) -> str:
        return f"{self.a} to {self.b or self.outside}"


def _bond_of(a: PortPoint, b: PortPoint | None, entry: Any) -> str:
    """Return a name that no other bond has: those of a port belong to its thing."""
    if stated := getattr(entry, "bond", None):
        return str(stated)
    for end in (a, b):
        if end is not None and end.bond:
            return f"{end.thing.id}.{end.bond}"
    return ""


class Plan:
    """One plan, read and linked. ``order`` has every thing behind those that feed it."""

    def __init__(self, tables: Tables) -> None:
        self.name = tables.name
        self.text = tables.text
        self.head: Head = tables.head
        self.of = tables.of
        self.shelf = tables.shelf
        self.places = Places(tables.text)
        self.things: dict[str, Any] = {}
        self.order: list[Thing] = []
        self.links: list[LinkLine] = []
        self.faults: list[Fault] = []
        self.points: dict[str, dict[str, OutletPoint | InletPoint | PortPoint | None]] = {}
        self.ports: dict[str, list[PortPoint]] = {}

    def table(self, name: str) -> list[Any]:
        """Return the entries of one table, empty where the plan has none."""
        return self.of.get(name, [])

    def place(self, thing: Any, *keys: str) -> Path:
        """Return where the first of ``keys`` that is written for a thing stands, or else its id."""
        return place_of(thing, *keys)

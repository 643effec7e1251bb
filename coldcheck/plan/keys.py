"""What a key of a table is: its kind of value, its meaning, who may state it; how the keys of a struct are found."""

from typing import Annotated

import msgspec

from . import quantities as q
from .kinds import (
    Count,
    Curve,
    Inner,
    Kind,
    Numbers,
    Quantity,
    Range,
    Ref,
    Text,
    read_cable,
    read_draw,
    read_fuse,
    read_rate,
    read_run,
)
from .problems import Path

__all__ = [
    "ADDRESS",
    "CABLE",
    "DERATING",
    "DRAW",
    "EFFICIENCY",
    "EFFICIENCY_CURVE",
    "ENERGY",
    "FUSE",
    "HOST",
    "MAC",
    "OCTETS",
    "OHMS",
    "PIN",
    "PLUG",
    "PREFIX",
    "RATE",
    "RATING",
    "RATING_BY_GAUGE",
    "REF",
    "RUN",
    "SHARE",
    "SPEED",
    "TEXT",
    "TIME",
    "VLAN",
    "VLANS",
    "VOLTS",
    "VOLTS_RANGE",
    "WATTS",
    "WORD",
    "Flat",
    "Key",
    "Spec",
    "Table",
    "spec_of",
]


class Key(msgspec.Struct, frozen=True):
    """What one key of a table holds: its kind of value, its meaning, and who may state it.

    ``part``: a part on the shelf may state it. ``must``: it cannot be left out.
    """

    kind: Kind
    about: str
    part: bool = True
    must: bool = False

    def __hash__(self) -> int:
        return id(self)


VOLTS = Quantity(q.VOLTS)
VOLTS_RANGE = Range(q.VOLTS, "4.75 V .. 5.25 V")
RATING = Quantity(q.RATING)
RATING_BY_GAUGE = Curve(q.RATING, (q.GAUGE,), "4 A at 22 AWG, 3 A at 28 AWG", alone=False)
RATE = Kind(
    'a current, with the time it is allowed for if that is limited, like "30 A for 10 s"', read_rate, "30 A"
)
WATTS = Quantity(q.WATTS)
OHMS = Quantity(q.OHMS)
SHARE = Quantity(q.SHARE)
EFFICIENCY = Quantity(q.EFFICIENCY)
EFFICIENCY_CURVE = Curve(q.EFFICIENCY, (q.AMPS, q.WATTS), "84 % at 1 A, 92 % at 10 A", alone=True)
DERATING = Curve(q.SHARE, (q.TEMPERATURE,), "100 % at 50 degC, 60 % at 60 degC", alone=False)
ENERGY = Quantity(q.ENERGY)
SPEED = Quantity(q.SPEED)
TIME = Quantity(q.SECONDS)
DRAW = Kind('what it draws, written like "1.25 A" or "6 W"', read_draw, "1.25 A")
RUN = Kind('a lead, written like "18 AWG, 420 mm"', read_run, "18 AWG, 420 mm")
CABLE = Kind('a data cable, written like "cat 6, 2 m"', read_cable, "cat 6, 2 m")
FUSE = Kind('a fuse, written like "15 A blade"', read_fuse, "15 A blade")
REF = Ref()
TEXT = Text()
WORD = Kind("a word", str)
ADDRESS = Kind('an address, like "10.20.0.11"', str, "10.20.0.11", lists=True)
PREFIX = Kind('a prefix, like "10.20.0.0/24"', str, "10.20.0.0/24")
HOST = Kind('a host name, like "n1"', str, "n1", lists=True)
# What is no VLAN id is read all the same: a rule says why it is none.
VLAN = Count(0, 65_535, "a VLAN id", (1, 4094), 10)
VLANS = Numbers(0, 65_535, "VLAN ids", (1, 4094))
OCTETS = Count(1, 1_000_000, like=9000)
MAC = Kind('a hardware address, like "02:00:00:00:00:01"', str, "02:00:00:00:00:01", lists=True)
PIN = Kind('a pin, like "4"', str, "4")
PLUG = Kind("a plug of the parts shelf", str, "barrel-5.5-2.1")


class Table(msgspec.Struct, kw_only=True):
    """What every table has: ``path``, where it stands in the plan, and ``stated``, the keys written there."""

    path: Path = ()
    stated: frozenset[str] = frozenset()
    note: Annotated[str | None, Key(TEXT, "a remark for people")] = None


class Flat(msgspec.Struct, frozen=True):
    """Keys of another struct that stand in the table itself: the short form for a thing with one inlet."""

    struct: type[Table]

    def __hash__(self) -> int:
        return id(self)


# Words that are keywords of Python carry an underscore as attributes.
_KEYWORDS = {"from_": "from", "for_": "for", "port_": "port"}


class Spec(msgspec.Struct, frozen=True):
    """What the reader needs of one struct: every key with its attribute.

    ``keys`` hold values, ``inner`` hold tables of their own (``port`` may be either), ``flat_keys`` belong to the
    struct in the attribute ``flat``.
    """

    struct: type[Table]
    keys: dict[str, tuple[str, Key]]
    inner: dict[str, tuple[str, Key]]
    flat: tuple[str, type[Table]] | None
    flat_keys: dict[str, tuple[str, Key]]
    must: tuple[str, ...]

    def words(self) -> list[str]:
        """Return every key that may be written in this table, as it is written."""
        return list(dict.fromkeys([*self.keys, *self.inner, *self.flat_keys]))


_specs: dict[type[Table], Spec] = {}


def spec_of(struct: type[Table]) -> Spec:
    """Return the keys of a struct, found once from its annotations."""
    spec = _specs.get(struct)
    if spec is None:
        spec = _specs[struct] = _find(struct)
    return spec


def _find(struct: type[Table]) -> Spec:
    keys: dict[str, tuple[str, Key]] = {}
    inner: dict[str, tuple[str, Key]] = {}
    flat: tuple[str, type[Table]] | None = None
    for base in reversed(struct.__mro__):
        for name, hint in getattr(base, "__annotations__", {}).items():
            extra = getattr(hint, "__metadata__", (None,))[-1]
            if isinstance(extra, Flat):
                flat = name, extra.struct
            elif isinstance(extra, Key):
                shelf = inner if isinstance(extra.kind, Inner) else keys
                shelf[_KEYWORDS.get(name, name)] = name, extra
    flat_keys: dict[str, tuple[str, Key]] = {}
    if flat:
        below = spec_of(flat[1])
        flat_keys = {k: v for k, v in below.keys.items() if k not in keys}
        inner |= {k: (f"{flat[0]}.{attribute}", key) for k, (attribute, key) in below.inner.items()}
    must = tuple(name for name, (_, key) in keys.items() if key.must)
    return Spec(struct, keys, inner, flat, flat_keys, must)

"""A plan while it is being filled: the text so far, what was put into it and why, and what had to stay blank."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite
from typing import Any, Literal

import msgspec

from coldcheck.plan.edit import Put, apply
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import spanned

from .program import Solution
from .trial import Bench

__all__ = ["AIMS", "Aim", "Draft", "Entry", "Figure", "Left", "Wish", "entries"]

Aim = Literal["cost", "spare", "kinds", "short"]
#: What a filling may be best in: least copper and money, most head-room, fewest different wires and fuses and sources
#: in use, shortest cables.
AIMS: tuple[Aim, ...] = ("cost", "spare", "kinds", "short")


class Wish(msgspec.Struct, frozen=True):
    """What the person who fills a plan asks for: the ``aim``; ``most_gauges`` and ``most_fuses``, how many different
    ones at most, None for any number; ``seconds`` that one search may take [s]."""

    aim: Aim = "cost"
    most_gauges: int | None = None
    most_fuses: int | None = None
    seconds: float = 5.0


class Figure(msgspec.Struct, frozen=True):
    """What an aim came to, ``value``, and what no other choice can be better than, ``bound``, both in ``unit``.

    The bound is None where none was computed.
    """

    what: str
    value: float
    bound: float | None
    unit: str

    @classmethod
    def of(cls, what: str, solution: Solution, unit: str, bound: float | None = None) -> Figure:
        """Return the figure of a solution; ``bound`` counts in place of its own. Both are told without their sign."""
        least = solution.bound if bound is None else bound
        return cls(what, abs(solution.value), abs(least) if isfinite(least) else None, unit)


class Left(msgspec.Struct, frozen=True):
    """A blank that was not filled: the things, the key, and why."""

    things: tuple[str, ...]
    key: str
    why: str


class Entry(msgspec.Struct):
    """The things of one table of the plan: a span is one entry with several."""

    path: Path
    things: list[Any]

    @property
    def names(self) -> list[str]:
        """The ids of its things."""
        return [thing.id for thing in self.things]

    @property
    def stated(self) -> frozenset[str]:
        """The keys that are written there."""
        found: frozenset[str] = self.things[0].stated
        return found


def entries(things: Iterable[Any]) -> list[Entry]:
    """Return things by the entry that they are written in, in the order of the plan."""
    found: dict[Path, Entry] = {}
    for thing in things:
        found.setdefault(thing.path, Entry(thing.path, [])).things.append(thing)
    return list(found.values())


class Draft:
    """The text of a plan, what is to be put into it, and the plan that it makes so far."""

    def __init__(self, bench: Bench, text: bytes, wish: Wish, near: bool = False) -> None:
        self.bench, self.text, self.wish = bench, text, wish
        self.near = near  #: whether short leads count before the balance of sources
        self.far = False  #: whether the balance of sources led to longer leads than there need be
        self.plan: Plan = bench.read(text)
        self.puts: list[Put] = []  #: everything that was put in, in order
        self.figures: list[Figure] = []
        self.left: list[Left] = []
        self.moved: list[str] = []  #: things whose cable goes to another port than before
        self._new: dict[Path, Put] = {}
        self._made: dict[str, Any] = {"plan": self.plan}

    def working(self, name: str) -> Any:
        """Return a working of the plan as it stands."""
        return self.bench.working(self.plan, name, self._made)

    def put(self, path: Path, value: Any) -> None:
        """Put a value at a key when the draft is next settled."""
        self._new[path] = Put(path, value)

    def deal(self, path: Path, texts: Sequence[str]) -> bool:
        """Put the values of all things of an entry, in order; False where no text stands for them."""
        text = spanned(list(texts))
        if text is None:
            return False
        self.put(path, text)
        return True

    def leave(self, things: Sequence[str], key: str, why: str) -> None:
        """Say of a blank that it stays, and why."""
        blank = Left(tuple(things), key, why)
        if blank not in self.left:
            self.left.append(blank)

    def settle(self) -> None:
        """Write down what was put, and read the plan again."""
        if not self._new:
            return
        new = list(self._new.values())
        self.text = apply(self.text, new)
        self.puts += new
        self._new = {}
        self.plan = self.bench.read(self.text)
        self._made = {"plan": self.plan}

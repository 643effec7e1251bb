"""Bonds: cables that count as one link, and what their ends have in common."""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck import working
from coldcheck.plan.model import LinkLine, Plan, PortPoint

__all__ = ["Bond", "bonds"]


class Bond(msgspec.Struct):
    """The cables of one bond, in the order of the plan.

    ``name`` is what the plan calls it; ``ends`` has, for each cable, the things it joins, by id: one id where the other
    end lies outside, whose name then stands beside it. ``waits`` says that a cable of the plan leads nowhere which may
    be one of them.
    """

    name: str
    lines: list[LinkLine]
    ends: list[frozenset[str]]
    waits: bool

    @property
    def common(self) -> frozenset[str]:
        """The ids that every cable has at one of its ends."""
        return frozenset.intersection(*self.ends)

    @property
    def together(self) -> bool:
        """Whether all cables join the same two things."""
        return len(set(self.ends)) == 1

    def points(self) -> list[PortPoint]:
        """Return the ports of all its cables, those of a first, then those of b."""
        far = [line.b for line in self.lines if line.b is not None]
        return [*(line.a for line in self.lines), *far]


@working(reads=("node", "storage", "appliance", "switch", "link", "uplink"))
def bonds(plan: Plan, links: list[LinkLine]) -> list[Bond]:
    """Return every bond of the plan, in the order of its first cable.

    A cable that ends in a management port belongs to the bond of its thing only where the port itself says so.
    """
    members: dict[str, list[LinkLine]] = {}
    for line in links:
        if line.bond and not _beside(line):
            members.setdefault(line.bond, []).append(line)
    lost = {_holder(fault.path) for fault in plan.faults} if members else set()
    return [
        Bond(name, lines, [_ends(line) for line in lines], not lost.isdisjoint(_holders(lines)))
        for name, lines in members.items()
    ]


def _beside(line: LinkLine) -> bool:
    """Say whether a management port has a bond by the word of its thing alone."""
    if getattr(line.entry, "bond", None):
        return False
    points = [point for point in (line.a, line.b) if point is not None]
    return any(point.apart for point in points) and not any(point.spec.bond for point in points)


def _ends(line: LinkLine) -> frozenset[str]:
    return frozenset((line.a.thing.id, line.outside if line.b is None else line.b.thing.id))


def _holder(path: Any) -> Any:
    """Return the entry that a path stands in: cables of `link` and `uplink` may belong to any."""
    return path[:1] if path[:1] in (("link",), ("uplink",)) else path[:2]


def _holders(lines: list[LinkLine]) -> set[Any]:
    found: set[Any] = {("link",), ("uplink",)}
    for line in lines:
        found |= {end.thing.path for end in (line.a, line.b) if end is not None}
    return found

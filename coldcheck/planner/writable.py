"""What the planner may write by itself: how a thing is wired, plugged, named and set, never what it is.

A rating, a measured figure, a socket or a hardware address is a fact of hardware: no program can make it true by
writing it down. A remedy that needs one stays words.
"""

from __future__ import annotations

from collections.abc import Iterable

from coldcheck.plan.edit import Edit

__all__ = ["CHOICES", "SIZES", "only_choices", "only_sizes"]

#: Keys that say what the builder decides.
CHOICES = frozenset({
    "address", "back", "bay", "bond", "by", "cable", "colour", "delay", "domain", "duplex", "from", "fuse", "gateway",
    "gauge", "into", "kept_by", "lead", "length", "module", "mtu", "name", "negotiates", "port", "prefix", "priority",
    "range", "tagged", "to", "unused", "vlan",
})  # fmt: skip


#: Those of them that say how large something is made: changing one may ask for another beside it.
SIZES = frozenset({"cable", "delay", "fuse", "gauge", "kept_by", "lead", "length"})


def only_choices(edits: Iterable[Edit]) -> bool:
    """Say whether edits write nothing but what the builder decides."""
    return all(_key(edit) in CHOICES for edit in edits)


def only_sizes(edits: Iterable[Edit]) -> bool:
    """Say whether edits change nothing but sizes: no thing is plugged, fed or named otherwise."""
    return all(_key(edit) in SIZES for edit in edits)


def _key(edit: Edit) -> str:
    """Return the key that an edit writes; that of a list, for one of its values."""
    return next((part for part in reversed(edit.path) if isinstance(part, str)), "")

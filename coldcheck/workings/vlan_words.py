"""VLANs in words, and as what a plan would say: lists of ids, and the entries in which ports are described."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from coldcheck.plan.model import Plan, PortPoint
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed

__all__ = ["own_entry", "tagged_only", "tags_text", "tags_value", "vlans_text", "with_tags"]


def vlans_text(ids: Iterable[int]) -> str:
    """Return VLAN ids as a person would list them: ``10, 20 and 30 .. 34``."""
    return listed(map(str, sorted(ids)))


def tagged_only(port: PortPoint) -> str:
    """Return what a port takes that says tags and nothing without one: ``10 and 20 with a tag``; "" for any other."""
    return f"{vlans_text(port.tagged)} with a tag" if port.tagged and port.vlan is None else ""


def with_tags(tags: Iterable[int], more: Iterable[int]) -> tuple[int, ...]:
    """Return ids with further ones among them, in their order."""
    return tuple(sorted({*tags, *more}))


def tags_value(ids: Sequence[int]) -> Any:
    """Return what the key ``tagged`` would hold: one id, a run as text, or a list."""
    if len(ids) == 1:
        return ids[0]
    if len(ids) > 2 and ids[-1] - ids[0] == len(ids) - 1:
        return f"{ids[0]} .. {ids[-1]}"
    return tuple(ids)


def tags_text(ids: Sequence[int]) -> str:
    """Return the key ``tagged`` as it would be written."""
    value = tags_value(ids)
    if isinstance(value, tuple):
        return f"[{', '.join(map(str, value))}]"
    return f'"{value}"' if isinstance(value, str) else str(value)


def own_entry(plan: Plan, points: Sequence[PortPoint]) -> Path:
    """Return the table that describes these ports and no other one with a cable; () where there is none."""
    first = points[0]
    path = first.path
    if len(path) < 4 or any(point.path != path for point in points):
        return ()
    named = {(point.thing.id, point.id) for point in points}
    others = (port for name in {point.thing.id for point in points} for port in plan.ports[name])
    shared = any(
        port.links and port.path == path and (port.thing.id, port.id) not in named for port in others
    )
    return () if shared else path

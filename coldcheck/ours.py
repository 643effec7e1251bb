"""Where the things that come with Coldcheck lie, and the rulebook and shelf made of them.

A checkout and an editable install have ``rules``, ``plugins`` and ``inventories`` beside the package, a wheel has them
inside; this is the one place that knows.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from coldcheck.engine.loading import Rulebook, load
from coldcheck.plan.linking import link
from coldcheck.plan.model import Plan
from coldcheck.plan.parts import Shelf
from coldcheck.plan.reading import read_tables
from coldcheck.plan.tables import TABLES

__all__ = ["folder", "read_plan", "rulebook", "shelf"]

_PACKAGE = Path(__file__).parent


def folder(name: str) -> Path:
    """Return the folder ``rules``, ``plugins`` or ``inventories`` of this installation."""
    inside = _PACKAGE / name
    return inside if inside.is_dir() else _PACKAGE.parent / name


def rulebook(more: Iterable[Path] = (), entry_points: bool = True) -> Rulebook:
    """Return the built-in rules and workings, what installed distributions bring, and those of further folders."""
    return load(
        TABLES,
        packages=["coldcheck.workings"],
        folders=[folder("rules"), *more],
        entry_points=entry_points,
    )


def shelf(book: Rulebook, more: Iterable[Path] = ()) -> Shelf:
    """Return the built-in parts shelf with the shelves of plugins and of further folders laid over it."""
    return Shelf([folder("inventories") / "parts", *book.shelves(), *more])


def read_plan(name: str, text: bytes, parts: Shelf) -> Plan:
    """Return a plan read and linked; raises `coldcheck.plan.problems.PlanUnreadable`."""
    return link(read_tables(name, text, parts))

"""The two hooks of Coldcheck, for pluggy.

A module of rules needs neither: what it declares with ``@rule`` and ``@working`` is found. A distribution that wants to
offer more, or to choose what it offers, implements them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pluggy

__all__ = ["PROJECT", "hookimpl", "hookspec"]

PROJECT = "coldcheck"

hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def coldcheck_offers() -> Iterable[Callable[..., Any]]:  # type: ignore[empty-body]
    """Return the functions you declared with ``@rule`` or ``@working``. Asked once, when rules are loaded."""


@hookspec
def coldcheck_shelves() -> Iterable[str]:  # type: ignore[empty-body]
    """Return the folders of parts that you bring. Asked once, before a plan is read."""

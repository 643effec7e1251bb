"""What tests of sheets share: a plan read from text, and its workings by name."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from coldcheck import ours
from coldcheck.engine.loading import Rulebook
from coldcheck.plan.model import Plan

__all__ = ["Get", "read"]

Get = Callable[[str], Any]


@cache
def book() -> Rulebook:
    """Give the built-in rules and workings."""
    return ours.rulebook(())


def read(text: str | bytes, name: str = "plan.toml") -> tuple[Plan, Get]:
    """Read a plan; give it with what makes its workings."""
    plan = ours.read_plan(name, text.encode() if isinstance(text, str) else text, ours.shelf(book(), ()))
    made: dict[str, Any] = {"plan": plan}

    def get(name: str) -> Any:
        if name not in made:
            working = book().workings[name]
            made[name] = working.function(*[get(need) for need in working.needs])
        return made[name]

    return plan, get

"""Rules and workings as a module declares them: a decorator each, and cases beside them.

A rule's name is ``file.function``. Its first parameter is the item it judges, every other one the name of a working;
both are checked when the module is loaded.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from functools import cached_property
from pathlib import Path as FilePath
from typing import Any, TypeVar

import msgspec

from .findings import LEVELS, Finding, Level

__all__ = ["BadRule", "Case", "Rule", "Working", "cases", "rule", "rule_of", "working", "working_of"]

F = TypeVar("F", bound=Callable[..., Any])


class BadRule(Exception):
    """A rule or working that is declared wrongly: what is wrong, in words for its author."""


class Case(msgspec.Struct, frozen=True, kw_only=False):
    """A plan that a rule must flag.

    ``at`` is the name of what is flagged, ``found`` the number as text, ``mended`` the plan after the remedy: it must
    be clean, and where the finding carries edits they must lead to it. ``edits`` says that it must carry some.
    """

    plan: str
    at: str = ""
    found: str = ""
    level: str = ""
    kind: str = ""
    mended: str = ""
    edits: bool = False


class Rule:
    """A rule as the engine sees it."""

    def __init__(self, function: Callable[..., Any], level: Level, over: str, was: Sequence[str]) -> None:
        code = function.__code__
        names = code.co_varnames[: code.co_argcount]
        self.function = function
        self.level = level
        self.over = over
        self.was = tuple(was)
        self.name = f"{FilePath(code.co_filename).stem}.{function.__name__}"
        self.file = code.co_filename
        self.line = code.co_firstlineno
        self.needs = names[1:]
        self.clean: tuple[str, ...] = ()
        self.flagged: tuple[Case, ...] = ()
        if not names:
            raise BadRule(f"{self.name} takes no item: its first parameter is what it judges")
        if level not in LEVELS:
            raise BadRule(f'{self.name} has level "{level}"; levels are {", ".join(LEVELS)}')
        if not function.__doc__:
            raise BadRule(f"{self.name} has no docstring: its first sentence is what the rule demands")

    @property
    def area(self) -> str:
        """The file it stands in: the first word of its name."""
        return self.name.partition(".")[0]

    @property
    def demands(self) -> str:
        """The first paragraph of the docstring: what the rule demands."""
        return " ".join((self.function.__doc__ or "").split("\n\n", maxsplit=1)[0].split())

    @property
    def text(self) -> str:
        """The whole docstring, without its indent."""
        import inspect

        return inspect.cleandoc(self.function.__doc__ or "")

    @cached_property
    def source(self) -> str:
        """What stands behind ``Source:`` in the docstring."""
        match = re.search(r"^Source: (.*?)(?:\n\n|\Z)", self.text, re.DOTALL | re.MULTILINE)
        return " ".join(match[1].split()) if match else ""


class Working:
    """A computed result that rules ask for by name."""

    def __init__(self, function: Callable[..., Any], reads: Sequence[str]) -> None:
        code = function.__code__
        self.function = function
        self.name = function.__name__
        self.needs = code.co_varnames[: code.co_argcount]
        self.reads = tuple(reads)
        self.file = code.co_filename
        self.line = code.co_firstlineno
        if not function.__doc__:
            raise BadRule(f"working {self.name} has no docstring: say what it holds, with units")


def rule(*, level: Level, over: str, was: Sequence[str] = ()) -> Callable[[F], F]:
    """Declare a rule.

    Args:
        level: the highest level it may give.
        over: what it is called with, once for each: a table of the plan (``node``), a working that yields items
            (``rails``), or ``plan`` for a rule that judges everything at once.
        was: names the rule had before; waivers that use them still hold.
    """

    def declare(function: F) -> F:
        function.__rule__ = Rule(function, level, over, was)  # type: ignore[attr-defined]
        return function

    return declare


def working(*, reads: Sequence[str] = ()) -> Callable[[F], F]:
    """Declare a working; its parameters are other workings, or ``plan``.

    Args:
        reads: the tables of the plan it depends on, so that an editor knows when to compute it again.
    """

    def declare(function: F) -> F:
        function.__working__ = Working(function, reads)  # type: ignore[attr-defined]
        return function

    return declare


def cases(
    function: Callable[..., Iterable[Finding]], *, clean: Sequence[str], flagged: Sequence[Case | str]
) -> None:
    """Put plans beside a rule: those it must pass and those it must flag. They are plain text until tested."""
    declared = rule_of(function)
    if declared is None:
        raise BadRule(f"cases() of {function.__name__}, which is no rule: put @rule above it")
    declared.clean = tuple(clean)
    declared.flagged = tuple(Case(c) if isinstance(c, str) else c for c in flagged)


def rule_of(thing: Any) -> Rule | None:
    """Return the rule that a function was declared as, or None."""
    found = getattr(thing, "__rule__", None)
    return found if isinstance(found, Rule) else None


def working_of(thing: Any) -> Working | None:
    """Return the working that a function was declared as, or None."""
    found = getattr(thing, "__working__", None)
    return found if isinstance(found, Working) else None

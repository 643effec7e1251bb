"""The engine's own run with a clock on every working and every rule."""

from __future__ import annotations

import datetime
import time
from collections.abc import Callable
from typing import Any

from coldcheck.engine import running
from coldcheck.engine.loading import Rulebook
from coldcheck.engine.rules import Rule
from coldcheck.engine.running import Judgement

__all__ = ["Dissection"]


class Dissection:
    """Judges a plan and keeps the seconds of each working and each rule, without what they wait for.

    ``workings``, ``rules`` [s], and ``rest`` [s]: folding, waivers and sorting. The rulebook is left
    as it was.
    """

    def __init__(self, book: Rulebook) -> None:
        self.book = book
        self.workings: dict[str, float] = {}
        self.rules: dict[str, float] = {}
        self.rest = 0.0

    def judge(self, plan: Any, today: datetime.date) -> Judgement:
        """Judge a plan as `coldcheck.engine.running.judge` does, by that very function."""
        outer = self

        class Timed(running._Run):
            def rule(self, rule: Rule) -> None:
                start, before = time.perf_counter(), sum(outer.workings.values())
                super().rule(rule)
                waited = sum(outer.workings.values()) - before
                outer.rules[rule.name] = time.perf_counter() - start - waited

        functions = {name: working.function for name, working in self.book.workings.items()}
        original, start = running._Run, time.perf_counter()
        try:
            for name, working in self.book.workings.items():
                working.function = self._clocked(name, functions[name])
            running._Run = Timed  # type: ignore[misc]
            judgement = running.judge(plan, self.book, today)
        finally:
            running._Run = original  # type: ignore[misc]
            for name, function in functions.items():
                self.book.workings[name].function = function
        whole = time.perf_counter() - start
        self.rest = whole - sum(self.workings.values()) - sum(self.rules.values())
        return judgement

    def _clocked(self, name: str, function: Callable[..., Any]) -> Callable[..., Any]:
        def clocked(*needs: Any) -> Any:
            start = time.perf_counter()
            try:
                return function(*needs)
            finally:
                self.workings[name] = time.perf_counter() - start

        return clocked

"""Rule modules written for one test, and a plan judged by them alone."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from coldcheck.engine.loading import Rulebook, load
from coldcheck.engine.running import Judgement, judge
from coldcheck.plan.linking import link
from coldcheck.plan.parts import Shelf
from coldcheck.plan.reading import read_tables
from coldcheck.plan.tables import TABLES

Book = Callable[..., Rulebook]
Judge = Callable[..., Judgement]

HEAD = "from coldcheck import Finding, Open, Review, Measure, Put, Case, cases, rule, working\n"


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """Give a function that loads modules: ``book(alpha="source")`` is a module ``alpha.py``."""

    def loaded(**modules: str) -> Rulebook:
        folder = tmp_path / "rules"
        folder.mkdir(exist_ok=True)
        for name, source in modules.items():
            (folder / f"{name}.py").write_text(HEAD + textwrap.dedent(source), encoding="utf-8")
        return load(TABLES, folders=[folder], entry_points=False)

    return loaded


@pytest.fixture
def judged(book: Book) -> Judge:
    """Give a function that judges a plan by one module ``own.py``, on a day."""

    def run(
        source: str,
        plan: str,
        day: datetime.date = datetime.date(2026, 1, 1),
        only: Iterable[str] = (),
        made: dict[str, Any] | None = None,
    ) -> Judgement:
        read: Any = link(read_tables("plan.toml", plan.encode(), Shelf()))
        if made is not None:
            made["plan"] = read
        return judge(read, book(own=source), day, only, made=made)

    return run

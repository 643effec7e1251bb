"""A bench that judges plans of these tests by the built-in rules, made once."""

from __future__ import annotations

import datetime
from collections.abc import Callable

import pytest

from coldcheck import ours
from coldcheck.planner.trial import Bench

DAY = datetime.date(2026, 11, 1)


@pytest.fixture(scope="session")
def bench() -> Callable[[], Bench]:
    """Give a function that makes a new bench: the rules and the shelf are read once."""
    book = ours.rulebook(entry_points=False)
    shelf = ours.shelf(book)
    return lambda: Bench("plan.toml", book, shelf, DAY)

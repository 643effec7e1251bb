"""What tests of workings share: a plan, read and ready to give each of its workings."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from coldcheck import ours
from coldcheck.engine.running import _Run

Worked = Callable[..., _Run]


@pytest.fixture(scope="session")
def worked() -> Worked:
    """Give a function that reads a plan and returns what gives its workings by name, as ``made.working("nets")``.

    A plan with a fault is refused, unless it is called with ``faulty=True``.
    """
    book = ours.rulebook(entry_points=False)

    def make(text: str, faulty: bool = False) -> _Run:
        plan = ours.read_plan("t.toml", text.encode(), ours.shelf(book))
        assert faulty or not plan.faults, plan.faults
        return _Run(plan, book)

    return make

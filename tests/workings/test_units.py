"""The order of solving: what is fed comes before what feeds it, and what hangs together comes as one."""

from __future__ import annotations

from typing import Any

import pytest

from coldcheck import ours
from coldcheck.workings.units import units


@pytest.fixture(scope="module")
def plan() -> Any:
    """Give a function that reads a plan."""
    book = ours.rulebook(entry_points=False)
    return lambda text: ours.read_plan("t.toml", text.encode(), ours.shelf(book))


def ids(found: list[list[Any]]) -> list[set[str]]:
    """Return the ids of the things in each unit."""
    return [{thing.id for thing in unit} for unit in found]


CHAIN = '[[feed]]\nid = "f"\n[[supply]]\nid = "s"\nfrom = "f"\n[[supply.rail]]\nid = "r"\n'
CHAIN += '[[node]]\nid = "n"\nfrom = "s.r"\n'


def test_plain_plans_are_solved_from_the_last_rail_up(plan: Any) -> None:
    """Each thing is a unit of its own, and none comes before what it feeds."""
    assert ids(units(plan(CHAIN))) == [{"n"}, {"s"}, {"f"}]


def test_sources_that_meet_are_one_unit(plan: Any) -> None:
    """Two supplies on one bar are solved together, after what the bar feeds and before their feeds."""
    text = '[[feed]]\nid = "f"\n'
    text += '[[supply]]\nid = "s1 .. s2"\nfrom = "f"\n[[supply.rail]]\nid = "r"\n'
    text += '[[inline]]\nid = "bar"\nwhat = "splitter"\nfrom = ["s1.r", "s2.r"]\n'
    text += '[[supply]]\nid = "last"\nfrom = "bar"\n[[supply.rail]]\nid = "r"\n'
    found = ids(units(plan(text)))
    assert {"s1", "s2"} in found
    assert found.index({"last"}) < found.index({"s1", "s2"}) < found.index({"f"})


def test_a_wire_back_past_a_converter_makes_one_unit(plan: Any) -> None:
    """Where a load of a converter goes back to what feeds the converter, both are solved together."""
    wire = '[[inline]]\nid = "g"\nwhat = "return"\nfrom = "f"\n'
    text = CHAIN.replace('from = "s.r"\n', 'from = "s.r"\nback = "g"\n') + wire
    assert {"f", "s"} in ids(units(plan(text)))


def test_units_that_feed_each_other_become_one(plan: Any) -> None:
    """A supply fed by one source of a pair, and feeding a thing that meets the other of the pair, joins them."""
    text = '[[feed]]\nid = "a"\n[[feed]]\nid = "b"\n'
    text += '[[supply]]\nid = "s"\nfrom = "a"\n[[supply.rail]]\nid = "r"\n'
    text += '[[inline]]\nid = "x"\nwhat = "splitter"\nfrom = ["a", "b"]\n'
    text += '[[inline]]\nid = "y"\nwhat = "splitter"\nfrom = ["s.r", "b"]\n'
    assert {"a", "b", "s"} in ids(units(plan(text)))

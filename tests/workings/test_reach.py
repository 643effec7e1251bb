"""How far apart things stand, and whether their cables reach."""

from decimal import ROUND_CEILING, Decimal
from itertools import product

import networkx as nx  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.workings.reach import Reach, cut_for

from .conftest import Worked

SWITCH = '[[switch]]\nid = "sw"\nports = 4\nat = ["{} mm", "{} mm", "{} mm"]\n'
NODE = '[[node]]\nid = "n"\nport = "sw.1"\nat = ["{} mm", "{} mm", "{} mm"]\n{}'
FEED = '[[feed]]\nid = "dc"\nvolts = "12 V"\namps = "9 A"\nat = ["0 mm", "0 mm", "0 mm"]\n{}'
BOARD = '[[node]]\nid = "n"\nfrom = "dc"\nat = ["300 mm", "0 mm", "0 mm"]\n{}'


def of(worked: Worked, text: str) -> list[Reach]:
    """Return the reaches of a plan."""
    found = worked(text).working("reaches")
    assert isinstance(found, list)
    return found


@pytest.mark.parametrize("place", [(0, 0, 0), (3, 0, 0), (3, 4, 0), (1, 2, 2), (5, 5, 5), (2, 3, 6)])
def test_the_way_along_the_walls_is_the_shortest_on_a_grid(
    worked: Worked, place: tuple[int, int, int]
) -> None:
    """Along the walls it is as far as the shortest way on a grid of rods, found by networkx."""
    grid = nx.grid_graph([range(7)] * 3)
    steps = nx.shortest_path_length(grid, (0, 0, 0), place)
    (reach,) = of(worked, SWITCH.format(0, 0, 0) + NODE.format(*(x * 50 for x in place), 'cable = "1 m"\n'))
    assert reach.along == pytest.approx(steps * 0.05)


@pytest.mark.parametrize(
    ("place", "straight"), [((3, 4, 0), 5), ((1, 2, 2), 3), ((2, 3, 6), 7), ((4, 4, 7), 9)]
)
def test_the_straight_way_is_that_of_whole_boxes(
    worked: Worked, place: tuple[int, int, int], straight: int
) -> None:
    """Boxes whose sides and diagonal are whole numbers, 3-4-5, 1-2-2-3, 2-3-6-7 and 4-4-7-9, have their diagonal."""
    (reach,) = of(worked, SWITCH.format(-10, 0, 10) + NODE.format(
        place[0] * 10 - 10, place[1] * 10, place[2] * 10 + 10, 'cable = "cat 6, 1 m"\n'))  # fmt: skip
    assert reach.straight == pytest.approx(straight / 100)
    assert reach.straight <= reach.along


@given(st.integers(0, 20_000), st.integers(0, 2_000))
def test_what_is_cut_is_long_enough_and_no_step_too_long(along: int, slack: int) -> None:
    """The length to cut is the need rounded up to whole steps of 50 mm, as decimal arithmetic has it."""
    need = Decimal(along + slack)
    steps = (need / 50).to_integral_value(ROUND_CEILING)
    assert Decimal(repr(cut_for(along / 1000, slack / 1000))) * 1000 == steps * 50


@pytest.mark.parametrize(
    ("feed", "node", "length", "path"),
    [
        ("", 'lead = "18 AWG, 400 mm"\n', 0.4, ("node", 0, "lead")),
        ("", 'lead = "400 mm"\n', 0.4, ("node", 0, "lead")),
        ("", 'lead = "18 AWG"\n', None, ("node", 0, "lead")),
        ("", '[[node.inlet]]\nid = "a"\nlead = "18 AWG, 400 mm"\n', 0.4, ("node", 0, "inlet", 0, "lead")),
        ('lead = "18 AWG, 1 m"\n', "", 1.0, ("feed", 0, "lead")),
        ('lead = "18 AWG, 1 m"\n', 'lead = "18 AWG, 400 mm"\n', 1.4, ("node", 0, "lead")),
        ('lead = "18 AWG"\n', 'lead = "18 AWG, 400 mm"\n', None, ("node", 0, "lead")),
    ],
)
def test_length_of_a_lead(
    worked: Worked, feed: str, node: str, length: float | None, path: tuple[str | int, ...]
) -> None:
    """A lead has the length it states, with what is moulded to its feed; its place is where that is written."""
    (reach,) = of(worked, FEED.format(feed) + BOARD.format(node))
    assert reach.length == (None if length is None else pytest.approx(length))
    assert reach.path == path
    assert reach.along == pytest.approx(0.3)


@pytest.mark.parametrize("node", ["", 'lead = "0.1 ohm"\n'])
def test_leads_that_are_not_judged(worked: Worked, node: str) -> None:
    """A lead of which nothing is said, or ohms alone, as measured where it lies, has no length to hold to."""
    assert of(worked, FEED.format("") + BOARD.format(node)) == []


def test_only_what_has_a_place_at_both_ends_is_judged(worked: Worked) -> None:
    """Of four plans, each end with a place or without, the one with both places has a reach."""
    for one, other in product((True, False), repeat=2):
        text = SWITCH.format(0, 0, 0) + NODE.format(1, 2, 3, 'cable = "1 m"\n')
        lines = text.splitlines(keepends=True)
        places = [i for i, line in enumerate(lines) if line.startswith("at = ")]
        gone = {place for place, stays in zip(places, (one, other), strict=True) if not stays}
        kept = "".join(line for i, line in enumerate(lines) if i not in gone)
        assert len(of(worked, kept)) == (1 if one and other else 0)


def test_where_a_cable_is_written(worked: Worked) -> None:
    """A cable that is too short is told where its length stands, and called by its port where there are several."""
    text = (
        SWITCH.format(0, 0, 0) + '[[node]]\nid = "n"\nat = ["1 m", "0 m", "0 m"]\n[[node.port]]\nid = "a"\n'
    )
    text += '[[node.port]]\nid = "b"\nto = "sw.1"\ncable = "cat 6, 2 m"\n'
    (reach,) = of(worked, text)
    assert (reach.what, reach.path, reach.length) == (
        "the cable of n.b",
        ("node", 0, "port", 1, "cable"),
        2.0,
    )

"""The wiring schedule, the cut list and the first-power sheet, against the rows of the plan read by another reader."""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from coldcheck.plan.spans import members
from tests.workings.conftest import Worked

WEIR = Path(__file__).parents[2] / "inventories" / "otter-weir.toml"


@pytest.fixture(scope="module")
def made(worked: Worked) -> Any:
    """Give the example with a harness of sixteen wires."""
    return worked(WEIR.read_text(encoding="utf-8"))


def rows() -> list[tuple[str, str, str, str]]:
    """Return (from, to, gauge, colour) of each wire by the TOML itself, spans dealt out."""
    harness = tomllib.loads(WEIR.read_text(encoding="utf-8"))["harness"][0]
    found = []
    for row in harness["wire"]:
        ends = [members(row[key]) if " .. " in row[key] else [row[key]] for key in ("from", "to")]
        found += [
            (a, b, row.get("gauge", harness["gauge"]), row["colour"]) for a, b in zip(*ends, strict=True)
        ]
    return found


def test_every_wire_is_there_once(made: Any) -> None:
    """Each wire of the plan is one row, with its gauge and colour, numbered through."""
    schedule = made.working("schedule").rows
    assert [(r.size, r.colour) for r in schedule] == [(gauge, colour) for _, _, gauge, colour in rows()]
    assert [r.a[0] for r in schedule] == [a for a, _, _, _ in rows()]
    assert [r.number for r in schedule] == list(range(1, 17))
    assert {r.housings[1] for r in schedule} == {"main.s", *(f"main.b{n}" for n in range(1, 7))}


def cut(made: Any) -> Counter[tuple[str, str, float]]:
    """Return how many pieces are cut, by size, colour and length."""
    return Counter({(c.size, c.colour, c.length): c.count for c in made.working("schedule").cuts})


def test_wires_and_leads_are_cut(made: Any) -> None:
    """280 mm and 20 mm of slack are cut as 300 mm; a lead is a piece out and one back, in the colours of the code."""
    schedule = made.working("schedule")
    assert {r.length for r in schedule.rows} == {0.28}
    assert [r.cut for r in schedule.rows] == pytest.approx([0.30] * 16)
    expected = Counter((gauge, colour, 0.3) for _, _, gauge, colour in rows())
    for lead in schedule.leads:
        expected[lead.size, lead.colours[0], lead.length] += lead.each_way
        expected[lead.size, lead.colours[1], lead.length] += lead.each_way
    assert cut(made) == expected


def test_what_is_not_given_is_named(worked: Worked) -> None:
    """A wire without gauge or length is missing in the row, and in no piece that is cut."""
    text = WEIR.read_text(encoding="utf-8").replace('gauge = "22 AWG"\nlength = "280 mm"\n', "")
    schedule = worked(text).working("schedule")
    assert schedule.rows[0].missing == ("size", "length")
    assert schedule.rows[12].missing == ("length",)
    assert all(c.length != 0.3 or c.size != "22 AWG" or c.colour != "red" for c in schedule.cuts)


# --- first power ------------------------------------------------------------------------------------------------------


def test_nothing_comes_before_what_feeds_it(made: Any) -> None:
    """No plug is tested before the source behind it: the order is one of the graph of what feeds what."""
    steps = made.working("first_power").steps
    first: dict[str, int] = {}
    for n, step in enumerate(steps):
        if step.stage == "one thing at a time":
            name = (
                step.what.removeprefix("plug for ").removeprefix("feed ").removeprefix("rail ").split(",")[0]
            )
            first.setdefault(name.partition(".")[0], n)
    graph = nx.DiGraph(
        (inlet.source.thing.id, thing.id)
        for thing in made.plan.order
        for inlet in thing.inlets
        if inlet.source is not None and thing.id in first
    )
    assert nx.is_directed_acyclic_graph(graph)
    assert len(graph) == len(first) > 10
    assert all(first[a] < first[b] for a, b in graph.edges)


def test_every_wire_and_every_plug_is_measured(made: Any) -> None:
    """Each wire is rung through once; each inlet is measured by the pins that it is wired at."""
    steps = made.working("first_power").steps
    rung = [(s.red, s.black) for s in steps if s.what.startswith("wire ")]
    assert len(rung) == len(set(rung)) == 16
    plugs = [s for s in steps if s.what == "plug for n3.header, not plugged in"]
    assert [(s.red, s.black) for s in plugs] == [("n3.header.4", "n3.header.6")]
    barrel = next(s for s in steps if s.what == "plug for sw, not plugged in")
    assert barrel.red.startswith("centre of the barrel")
    assert barrel.black.startswith("sleeve")


def test_expected_volts(made: Any) -> None:
    """Unplugged: the rail with its 2 %. Plugged in: from the worst case of the lint to the most that the rail gives."""
    steps = {s.what: s for s in made.working("first_power").steps}
    rail = steps["rail five.5v, with nothing on it"].expect
    assert (rail.low, rail.nominal, rail.high) == pytest.approx((5.12 * 0.98, 5.12, 5.12 * 1.02))
    arrival = next(a for a in made.working("arrivals") if a.name == "n1.header")
    board = steps["n1.header, plugged in, by itself"]
    assert (board.expect.low, board.expect.high) == pytest.approx((arrival.low, 5.12 * 1.02))
    assert f"more than {arrival.amps:.3g} A" in board.stop


def test_ohms_of_a_wire(made: Any) -> None:
    """300 mm of 22 AWG (53.0 mohm/m at 20 degC by the AWG table, 2 % more for strands), a clamp and a crimp contact."""
    step = made.working("first_power").steps[0]
    warm = 1 + 0.00393 * 5  # the example stands at 25 degC
    assert step.expect.nominal == pytest.approx(0.3 * 0.0530 * 1.02 * warm + 0.002 + 0.020, rel=2e-3)
    assert step.expect.high > step.expect.nominal


def test_cautions_fit_the_plan(worked: Worked, made: Any) -> None:
    """A battery is warned of where there is one, the mains where there is none, high current only where it flows."""
    said = " ".join(made.working("first_power").cautions)
    assert "battery" in said
    assert "mains" not in said
    assert "10 A" not in said
    brick = (
        '[[feed]]\nid = "f"\nvolts = "5 V"\namps = "20 A"\n[[node]]\nid = "n"\nfrom = "f"\npeak = "11 A"\n'
    )
    said = " ".join(worked(brick).working("first_power").cautions)
    assert "licensed practice" in said
    assert "battery" not in said
    assert "10 A" in said


def test_unknown_numbers_say_what_is_missing(worked: Worked) -> None:
    """Where the volts of a source or a lead are not given, the step says so and shows no number."""
    text = '[[feed]]\nid = "f"\n[[node]]\nid = "n"\nfrom = "f"\npeak = "1 A"\n'
    steps = {s.what: s for s in worked(text).working("first_power").steps}
    assert steps["feed f, with nothing on it"].missing == "f volts"
    assert steps["plug for n, not plugged in"].missing == "volts of what feeds n"
    assert steps["n, plugged in, by itself"].expect.low is None
    assert steps["n, plugged in, by itself"].missing

"""The wiring schedule, the cut list and the first-power sheet, against the rows of the plan read by another reader."""

from __future__ import annotations

import re
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
            first.setdefault(name.partition(" at ")[0].partition(".")[0], n)
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
    assert board.amps == arrival.amps
    assert board.stop.startswith("volts or amps outside these limits")
    assert steps["plug for n1.header, not plugged in"].amps is None


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


EXAMPLES = ("gorse-hill", "otter-weir", "reed-marsh", "ferry-cabin", "lantern-room", "sundial-court")


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_hand_is_in_the_box_under_power(worked: Worked, name: str) -> None:
    """Played as a person would: whenever something goes in, power is cut first; whenever volts are read, it is on."""
    made = worked((WEIR.parent / f"{name}.toml").read_text(encoding="utf-8"))
    on = False
    inside: set[str] = set()
    steps = [s for s in made.working("first_power").steps if s.stage == "one thing at a time"]
    assert steps
    for step in steps:
        for act in filter(None, step.before.split("; ")):
            if act.startswith("cut the power"):
                on = False
            elif "power on" in act or ("with nothing on it" in step.before and act.startswith("put its")):
                on = True
            elif act.startswith("with the probes on it, set it"):
                assert on, step.what
                assert step.what.startswith("rail "), step.what
            else:
                assert not on, (step.what, act)
                if " connect " in act:
                    inside.add(act.rpartition(" connect ")[2].split(",")[0])
        assert on, step.what
        if step.what.endswith(", plugged in, by itself"):
            assert step.what.split(",")[0].split(".")[0] in inside, step.what
        if step.what.endswith(", not plugged in"):
            assert step.what.removeprefix("plug for ").split(",")[0].split(".")[0] not in inside, step.what


def test_fuses_go_in_where_they_are_needed(worked: Worked) -> None:
    """That of the feed before the feed is measured, of a holder with the holder, of an outlet before its plug."""
    made = worked((WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8"))
    before = {s.what: s.before for s in made.working("first_power").steps}
    assert "put its 20 A blade fuse in" in before["feed bank, with nothing on it"]
    assert "its 5 A blade fuse in" in before["guard, plugged in, by itself"]
    assert "switched on" in before["main, plugged in, by itself"]
    for n in range(1, 7):
        assert f"put the 3 A blade fuse of block.{n} in" in before[f"plug for n{n}.header, not plugged in"]
    assert "its bays empty" in before["store.5v, plugged in, by itself"]
    assert (
        before["store.12v, plugged in, by itself"] == before["plug for store.12v, not plugged in"] == ""
    )  # one plug
    last = next(s for s in made.working("first_power").steps if s.stage == "all together")
    assert "drives into their bays, data cables" in last.before
    said = " ".join(made.working("first_power").cautions)
    assert "take the 20 A blade fuse of bank out" in said


@pytest.mark.parametrize("name", EXAMPLES)
def test_what_is_connected_is_the_way_and_nothing_else(worked: Worked, name: str) -> None:
    """By the graph of what feeds what, searched by networkx: all that is above a thing, in the order of power."""
    made = worked((WEIR.parent / f"{name}.toml").read_text(encoding="utf-8"))
    plan: Any = made.plan
    graph = nx.DiGraph(
        (inlet.source.thing.id, thing.id)
        for thing in plan.order
        for inlet in thing.inlets
        if inlet.source is not None
    )
    seen = 0
    for step in made.working("first_power").steps:
        found = re.search(r"connected (?:are|is) (.+), and what leads to (\S+), its end free", step.before)
        if found is None:
            continue
        seen += 1
        names = [
            name
            for piece in re.split(", | and ", found[1])
            for name in (members(piece) if " .. " in piece else [piece])
        ]
        assert set(names) == nx.ancestors(graph, found[2]), step.before
        assert all(names.index(a) < names.index(b) for a, b in graph.subgraph(names).edges)
    assert seen


def test_a_thing_with_nothing_on_it_takes_next_to_nothing(worked: Worked) -> None:
    """A converter its standing watts at the lowest volts, a holder nothing; but no clamp tells less than 0.1 A."""
    made = worked((WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8"))
    steps = {s.what: s for s in made.working("first_power").steps}
    names = ("five", "disks", "guard", "main", "block", "fan1")  # 0.5 W and 1 W at 21 V, nothing, 82 mA
    assert [steps[f"{name}, plugged in, by itself"].amps for name in names] == [0.1] * 6
    assert steps["radio, plugged in, by itself"].amps == next(
        a.amps for a in made.working("arrivals") if a.name == "radio"
    )
    # a carrier with empty bays takes its stated amps at 12 V, of constant power; one drive adds its own
    part: Any = made.plan
    own = part.shelf.find("storage-carrier-4bay").raw
    arrivals = {a.name: a for a in made.working("arrivals")}
    empty = steps["store.12v, plugged in, by itself"].amps
    watts = 12.0 * next(float(i["peak"].split()[0]) for i in own["inlet"] if i["id"] == "12v")
    assert empty == pytest.approx(watts / arrivals["store.12v"].low)
    with_one = steps["store at store.12v, with d1 alone in bay store.1"].amps
    assert with_one == pytest.approx(empty + arrivals["d1.12v"].amps)
    assert with_one < arrivals["store.12v"].amps
    thirsty = (WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8")
    thirsty = thirsty.replace(
        'part = "buck-24v-to-5v-25a"\n', 'part = "buck-24v-to-5v-25a"\nstanding = "4.2 W"\n'
    )
    assert steps_of(worked, thirsty)["five, plugged in, by itself"].amps == pytest.approx(4.2 / 21.0)
    text = (
        RANGED.format("")
        + '[[supply]]\nid = "s"\nfrom = "f"\nvolts = "9 V .. 15 V"\nlead = "20 AWG, 300 mm"\n'
    )
    assert steps_of(worked, text)["s, plugged in, by itself"].amps is None


def test_what_a_switch_does_not_switch(worked: Worked) -> None:
    """A switch in one branch is named with what is behind it; one before everything needs no word."""
    made = worked((WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8"))
    assert "main takes the power from sw alone: all else stays live." in made.working("first_power").cautions
    text = '[[feed]]\nid = "f"\nvolts = "12 V"\n[[inline]]\nid = "q"\nwhat = "switch"\nfrom = "f"\n'
    text += '[[node]]\nid = "n"\nfrom = "q"\n'
    assert not any("stays live" in said for said in worked(text).working("first_power").cautions)
    text += '[[inline]]\nid = "r"\nwhat = "switch"\nfrom = "q"\n'
    assert not any("stays live" in said for said in worked(text).working("first_power").cautions)


@pytest.mark.parametrize(
    ("first", "battery", "told"),
    [("switch", "true", False), ("fuse", "true", True), ("switch", "false", False), ("fuse", "false", False)],
)
def test_a_bank_without_a_switch_for_all_of_it(worked: Worked, first: str, battery: str, told: bool) -> None:
    """A fuse is a poor switch; with a switch before everything, or a supply that has one, nothing is said."""
    text = f'[[feed]]\nid = "f"\nvolts = "12 V"\nfuse = "5 A blade"\nbattery = {battery}\n'
    text += '[[inline]]\nid = "guard"\nwhat = "fuse"\nfuse = "3 A blade"\nfrom = "f"\n'
    text += f'[[inline]]\nid = "q"\nwhat = "{first}"\nfrom = "guard"\n'
    text += '[[node]]\nid = "n1 .. n2"\nfrom = "q"\n'
    said = " ".join(worked(text).working("first_power").cautions)
    assert ("No switch takes all of f off" in said) == told
    beside = text + '[[node]]\nid = "m"\nfrom = "guard"\n'
    assert battery == "false" or "No switch takes all" in " ".join(
        worked(beside).working("first_power").cautions
    )


def test_what_can_be_exchanged_is_rung_through_where_it_sits(worked: Worked) -> None:
    """Loose ends after they are in, by single terminals; a header is counted; a keyed plug needs neither."""
    made = worked((WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8"))
    before = {
        s.what.removesuffix(", plugged in, by itself"): s.before for s in made.working("first_power").steps
    }
    for name in ("five", "disks", "guard", "main", "block", "sw"):
        assert "ring each end through again where it sits" in before[name], name
        assert "counted" not in before[name]
    for name in ("n1.header", "n2.header"):
        assert "its pins counted from the end of the row; then power on" in before[name]
    for name in ("store.5v", "fan1", "radio"):
        assert "ring" not in before[name]
        assert "counted" not in before[name]
    last = next(s.before for s in made.working("first_power").steps if s.stage == "all together")
    assert "rung through once more from its source to where it ends, main off; then power on" in last


def test_a_switch_that_keeps_a_delay_is_not_put_off(worked: Worked) -> None:
    """It goes on by itself, and no hand puts it off before all are on."""
    text = (
        RANGED.format("") + '[[inline]]\nid = "timer"\nwhat = "switch"\nfrom = "f"\n[[inline]]\nid = "hand"\n'
    )
    text += 'what = "switch"\nfrom = "f"\n[[node]]\nid = "m"\nfrom = "timer"\nvolts = "9 V .. 15 V"\npeak = "1 A"\n'
    text += 'delay = "5 s"\nkept_by = "timer"\nlead = "20 AWG, 100 mm"\n'
    last = next(s for s in steps_of(worked, text).values() if s.stage == "all together")
    assert ", hand off; then power on" in last.before


def test_two_drives_that_start_apart(worked: Worked) -> None:
    """What holds a drive back is set and seen with two, before all are in; nothing is said where nothing holds back."""
    text = (WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8")
    steps = steps_of(worked, text)
    step = steps["store at store.12v, with d1 and d2 in their bays, d2 to start 12 s after the other"]
    assert step.before == (
        "cut the power; set what holds back: d2 12 s, d3 24 s, d4 36 s; when it stands still, d4 comes out; d1 and d2 "
        "in their bays; then power on"
    )
    assert step.stop.startswith("d2 starting earlier, volts or amps")
    assert (
        list(steps).index(step.what)
        == list(steps).index("store at store.12v, with d4 alone in bay store.4") + 1
    )
    at_once = text.replace('delay = "0 s .. 36 s by 12 s"\nkept_by = "store"\n', "")
    assert at_once != text
    assert not any("to start" in what for what in steps_of(worked, at_once))
    alike = text.replace('"0 s .. 36 s by 12 s"', '"12 s"')
    assert not any("to start" in what for what in steps_of(worked, alike))


def test_pieces_say_what_they_are_for(made: Any) -> None:
    """Every wire and every lead is named with a piece of its own length, and with no other."""
    schedule = made.working("schedule")
    for row in schedule.rows:
        pieces = [c for c in schedule.cuts if f"{row.a[0]}/{row.b[0]}" in c.wires]
        assert [(c.size, c.colour, c.length) for c in pieces] == [
            (row.size, row.colour, pytest.approx(row.cut))
        ]
    for lead in schedule.leads:
        pieces = [c for c in schedule.cuts if f"{lead.a}/{lead.b}" in c.wires]
        assert {(c.size, c.colour) for c in pieces} == {(lead.size, colour) for colour in lead.colours}
        assert all(c.length == pytest.approx(lead.length) for c in pieces)


GUESTS = """
[[feed]]
id = "f"
volts = "48 V"
[[supply]]
id = "s"
from = "f"
[[supply.rail]]
id = "5v"
volts = "5 V"
[[supply.rail]]
id = "12v"
volts = "12 V"
[[storage]]
id = "box"
from = ["s.5v", "s.12v"]
bays = 2
inlet = [{ id = "5v", volts = "5 V" }, { id = "12v", volts = "12 V" }]
[[drive]]
id = "d1 .. d2"
bay = "box.1 .. box.2"
inlet = [{ id = "5v", volts = "5 V", peak = "0.5 A" }, { id = "12v", volts = "12 V", peak = "2 A" }]
[[switch]]
id = "sw"
from = "f"
volts = "44 V .. 57 V"
peak = "40 W"
poe_budget = "30 W"
[[switch.port]]
id = "2"
poe = "type 1"
[[switch.port]]
id = "3"
[[appliance]]
id = "cam"
poe = "class 2"
port = "sw.2"
[[appliance]]
id = "dark"
poe = "class 2"
port = "sw.3"
[[storage]]
id = "cold"
bays = 1
inlet = [{ id = "5v", volts = "5 V" }]
[[drive]]
id = "e"
bay = "cold.1"
inlet = [{ id = "5v", volts = "5 V", peak = "0.5 A" }]
[[storage]]
id = "void"
bays = 1
[[drive]]
id = "g"
bay = "void.1"
inlet = [{ id = "5v", volts = "5 V", peak = "0.5 A" }]
"""


def test_things_without_a_plug_are_tried_at_what_feeds_them(worked: Worked) -> None:
    """Each drive and each camera alone, at the plug of its host that gives it the most; the one before comes out."""
    made = worked((WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8"))
    tried = [s for s in made.working("first_power").steps if ", with " in s.what and "alone" in s.what]
    first = "store at store.12v, with d1 alone in bay store.1"
    assert [s.what.partition(", with ")[2].split()[0] for s in tried] == [
        "d1",
        "d2",
        "d3",
        "d4",
        "cam1",
        "cam2",
    ]
    assert tried[0].what == first
    assert (tried[0].red, tried[0].black) == ("store.power.1", "store.power.2")
    assert tried[0].before == "cut the power; d1 alone in bay store.1; then power on"
    assert tried[1].before.startswith(
        "cut the power; when it stands still, d1 comes out; d2 alone in bay store.2"
    )
    assert tried[5].before == "cut the power; cam1 comes off; cam2 alone on sw.8; then power on"
    steps = [s.what for s in made.working("first_power").steps]
    assert steps.index(first) == steps.index("store.12v, plugged in, by itself") + 1


def test_a_guest_needs_a_host_that_is_fed_here(worked: Worked) -> None:
    """A camera of a switch with power of its own, or one that takes its power elsewhere, is not tried at a plug."""

    def tried(text: str) -> list[str]:
        return [what for what in steps_of(worked, text) if ", with " in what and " alone " in what]

    assert [what.partition(", with ")[2].split()[0] for what in tried(GUESTS)] == ["d1", "d2", "cam"]
    assert all(
        what.startswith("box at box.12v") for what in tried(GUESTS)[:2]
    )  # the rail that gives it the most amps
    unknown = GUESTS.replace(', peak = "2 A"', "")
    assert all(what.startswith("box at box.5v") for what in tried(unknown)[:2])
    assert len(tried(GUESTS.replace('id = "sw"\nfrom = "f"', 'id = "sw"'))) == 2
    passive = GUESTS.replace('poe = "type 1"', 'poe = "passive"\npoe_volts = "24 V"').replace(
        "class 2", "passive"
    )
    assert len(tried(passive)) == 2


def test_how_power_is_cut(worked: Worked) -> None:
    """A supply has a switch or a plug; a battery has a fuse, or has to be taken off."""
    for keys, words in (
        ("", "switch f off"),
        ('fuse = "5 A blade"\n', "switch f off"),
        ("battery = true\n", "take f off, as its maker says"),
        ('battery = true\nfuse = "5 A blade"\n', "take the 5 A blade fuse of f out"),
    ):
        text = f'[[feed]]\nid = "f"\nvolts = "12 V"\n{keys}'
        assert f"cut like this: {words}." in " ".join(worked(text).working("first_power").cautions)


def test_leads_are_rung_through_from_end_to_end(worked: Worked) -> None:
    """Each pole of each lead once, all its pins named; each conductor shows its own ohms, not those of two in parallel.

    340 mm of 22 AWG (53.0 mohm/m at 20 degC by the AWG table, 2 % more for strands), a clamp and a header contact.
    """
    made = worked((WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8"))
    steps = {s.what: s for s in made.working("first_power").steps if " of the lead from " in s.what}
    assert len(steps) == 2 * len(made.working("lead_ends"))
    plus = steps["plus of the lead from block.2 to n2.header, each conductor by itself"]
    assert (plus.red, plus.black) == ("block.2.1", "n2.header.2 and .4")
    back = steps["return of the lead from block.2 to n2.header, each conductor by itself"]
    assert (back.red, back.black) == ("block.2.2", "n2.header.6 and .9")
    plan: Any = made.plan
    ohms = 0.34 * 0.0530 * 1.02 * (1 + 0.00393 * (plan.head.ambient - 20))
    contacts = sum(float(plan.shelf.find(p).raw["ohms"].split()[0]) / 1000 for p in ("screw-2", "header-40"))
    assert plus.expect.nominal == pytest.approx(ohms + contacts, rel=5e-3)
    past = steps["return of the lead from guard to main"]
    assert (past.red, past.black) == ("the return that goes past guard", "the return that goes past main")
    text = '[[feed]]\nid = "f"\nvolts = "5 V"\n[[node]]\nid = "n"\nfrom = "f"\nlead = "22 AWG"\n'
    step = next(s for s in worked(text).working("first_power").steps if "of the lead" in s.what)
    assert (step.red, step.black, step.missing) == ("+ of f", "+ of n", "its gauge or its length")


def steps_of(worked: Worked, text: str) -> dict[str, Any]:
    """Return the steps of a plan by what they measure."""
    return {s.what: s for s in worked(text).working("first_power").steps}


RANGED = '[[feed]]\nid = "f"\nvolts = "12 V"\nlow = "11 V"\nhigh = "14 V"\n{}[[node]]\nid = "n"\nfrom = "f"\n'
RANGED += 'volts = "9 V .. 15 V"\npeak = "1 A"\nlead = "20 AWG, 300 mm"\n'


def test_a_small_plan_from_step_to_step(worked: Worked) -> None:
    """Each limit is its own; a supply is connected switched off; bays and cables are told where they are."""
    steps = steps_of(worked, RANGED.format(""))
    for what in ("feed f, with nothing on it", "plug for n, not plugged in"):
        expect = steps[what].expect
        assert (expect.low, expect.nominal, expect.high) == (11, 12, 14)
    assert "connect f switched off; then power on" in steps["feed f, with nothing on it"].before
    assert steps["plug for n, not plugged in"].red == "plus of n"
    assert "fuse" not in " ".join(step.before for what, step in steps.items() if "lead" not in what)
    assert "bays" not in steps["n, plugged in, by itself"].before
    (last,) = (step for step in steps.values() if step.stage == "all together")
    assert "drives" not in last.before
    assert "data cables" not in last.before
    assert last.before == (
        "cut the power; everything goes in as the order of assembly has it, each plus and each return rung through "
        "once more from its source to where it ends; then power on, and start as the order of starting has it"
    )
    assert next(iter(steps.values())).before.startswith("no source is connected, every fuse is out")


def test_a_battery_and_its_fuse(worked: Worked) -> None:
    """It is connected as its maker says; its own fuse goes in once, with it, and not again for each plug."""
    steps = steps_of(worked, RANGED.format('battery = true\nfuse = "5 A blade"\n'))
    assert steps["feed f, with nothing on it"].before.endswith("as its maker says; put its 5 A blade fuse in")
    assert "fuse" not in steps["plug for n, not plugged in"].before
    assert "fuse" not in steps["n, plugged in, by itself"].before


def test_probes_in_turn_and_at_the_right_pole(worked: Worked) -> None:
    """Several pins of a pole are probed in turn before a plug goes in; a barrel says which pole is its centre."""
    steps = steps_of(worked, (WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8"))
    two = steps["plug for n2.header, not plugged in"]
    assert (two.red, two.black) == ("n2.header.2 and .4, in turn", "n2.header.6 and .9, in turn")
    wired = steps["plug for n1.header, not plugged in"]  # by a harness
    assert (wired.red, wired.black) == ("n1.header.2 and .4, in turn", "n1.header.6 and .9, in turn")
    assert steps["plug for store.12v, not plugged in"].red == "store.power.1"
    assert steps["rail disks.5v, with nothing on it"].red == "disks.5v.1"
    assert not any("plug for d1" in what for what in steps)  # a drive in a bay has no plug that a hand crimps
    barrel = 'plug = "barrel-5.5-2.1"\ncentre = "{}"\n'
    for centre, pole in (("positive", "centre"), ("negative", "sleeve")):
        found = steps_of(worked, RANGED.format("") + barrel.format(centre))
        assert found["plug for n, not plugged in"].red == f"{pole} of the barrel-5.5-2.1 of n"


def test_what_is_adjustable_is_set_first(worked: Worked) -> None:
    """A converter with a trimmer is set before anything hangs on it."""
    text = '[[feed]]\nid = "f"\nvolts = "24 V"\n[[supply]]\nid = "s"\nfrom = "f"\n[[supply.rail]]\nid = "r"\n'
    text += 'volts = "5 V"\nkind = "{}"\n[[node]]\nid = "n"\nfrom = "s.r"\n'
    for kind, set_first in (("adjustable", True), ("regulated", False)):
        before = steps_of(worked, text.format(kind))["rail s.r, with nothing on it"].before
        assert before.endswith("with the probes on it, set it to this") == set_first
    steps = steps_of(worked, (WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8"))
    for rail, comes in (
        ("five.5v", "5 V"),
        ("disks.5v", "5 V"),
        ("disks.12v", "12 V"),
    ):  # 5.14 V, 5.1 V, 12.2 V
        told = steps[f"rail {rail}, with nothing on it"].before
        assert told == f"with the probes on it, set it to this, from the {comes} that it comes with"
    as_it_comes = (WEIR.parent / "gorse-hill.toml").read_text(encoding="utf-8").replace('"5.14 V"', '"5.0 V"')
    assert steps_of(worked, as_it_comes)["rail five.5v, with nothing on it"].before == ""


def test_a_source_is_probed_at_its_own_pins(made: Any) -> None:
    """The 4-pin disk plug: 12 V on 1, ground on 2 and 3, 5 V on 4 (PC hardware book, read)."""
    steps = {s.what: (s.red, s.black) for s in made.working("first_power").steps}
    assert steps["rail disks.5v, with nothing on it"] == ("disks.out.4", "disks.out.2")
    assert steps["rail disks.12v, with nothing on it"] == ("disks.out.1", "disks.out.2")
    assert steps["rail five.5v, with nothing on it"] == ("five.5v.1", "five.5v.2")

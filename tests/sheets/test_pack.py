"""The schedules against the text of the plans: every port, machine, thing and wire is in its sheet, once."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck import cli
from coldcheck.sheets import connectors, network, pack, power_tree, things, wires
from coldcheck.sheets.bench import expect_text
from coldcheck.sheets.table import as_rows
from coldcheck.workings.first_power import Range, Step
from tests.sheets.plans import Get, read

PLANS = ("gorse-hill", "reed-marsh", "otter-weir", "lantern-room", "ferry-cabin", "tidepool-draft")


def plan_of(root: Path, name: str) -> tuple[Any, Get, dict[str, Any]]:
    """Read an example; give also the bare TOML of it."""
    text = (root / "inventories" / f"{name}.toml").read_bytes()
    return *read(text, name), tomllib.loads(text.decode())


def dealt(entry: dict[str, Any]) -> list[str]:
    """Give the ids of an entry, by another way than the plan's own: "n1 .. n6" counts its last number on."""
    ids = entry["id"] if isinstance(entry["id"], list) else [entry["id"]]
    found = []
    for text in ids:
        for part in re.split(r", *", text):
            span = re.fullmatch(r"(.*?)(\d+) \.\. (.*?)(\d+)", part)
            if span is None:
                found.append(part)
            else:
                found += [f"{span[1]}{n}" for n in range(int(span[2]), int(span[4]) + 1)]
    return found


def test_names_of_sheets() -> None:
    """The command knows every sheet, and no other."""
    assert cli._SHEETS == pack.NAMES


@pytest.mark.parametrize("name", PLANS)
def test_parts_are_those_of_the_plan(root: Path, name: str) -> None:
    """As many pieces of each part as the text of the plan has things of it."""
    plan, get, bare = plan_of(root, name)
    expected: dict[tuple[str, str], int] = {}
    for table, entries in bare.items():
        for entry in entries if isinstance(entries, list) else ():
            if "part" in entry and "id" in entry and table != "harness":
                key = table, entry["part"]
                expected[key] = expected.get(key, 0) + len(dealt(entry))
    rows = as_rows(things.parts_list(plan, get)[0])
    assert {(row["kind"], row["part"]): row["count"] for row in rows if row["part"]} == expected


@pytest.mark.parametrize("name", PLANS)
def test_every_thing_is_put_in_once_and_after_what_feeds_it(root: Path, name: str) -> None:
    """The order of assembly has every thing of the plan once, none before what gives it power."""
    plan, get, bare = plan_of(root, name)
    rows = as_rows(things.order(plan, get)[0])
    names = [str(row["thing"]) for row in rows]
    tables = ("feed", "supply", "inline", "node", "storage", "drive", "switch", "fan", "appliance")
    assert sorted(names) == sorted(id for t in tables for entry in bare.get(t, ()) for id in dealt(entry))
    for row in rows:
        for source in filter(None, str(row["power"]).split(", ")):
            assert names.index(source.partition(".")[0]) < names.index(str(row["thing"]))


def test_what_goes_in_is_called_by_its_name_and_its_data_goes_where_it_goes(root: Path) -> None:
    """Its own title before that of its part; its cables to ports of the box, and to what is outside."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    rows = {row["thing"]: row for row in as_rows(things.order(plan, get)[0])}
    assert rows["radio"]["data"] == "radio.eth to sw.10"  # the air to the valley is no cable
    assert rows["n1"]["data"] == ""  # its switch comes later, and takes the cable with it
    assert rows["sw"]["data"] == "sw.1 .. sw.6 and sw.9 to n1.eth .. n6.eth and store.eth"
    assert rows["guard"]["what"] == "in-line fuse holder"
    board: Any = plan.shelf.find("board-4core-5v-3a")
    assert rows["n1"]["what"] == board.raw["title"]
    parts = {row["part"]: row["title"] for row in as_rows(things.parts_list(plan, get)[0])}
    assert parts["board-4core-5v-3a"] == rows["n1"]["what"]
    bare = {
        row["things"]: row["title"] for row in as_rows(things.parts_list(plan, get)[0]) if not row["part"]
    }
    assert bare == {"guard": "in-line fuse holder", "block": "fuse block with a bar for the returns"}
    plan, get = read('[[node]]\nid = "gate"\n[[uplink]]\nfrom = "gate.eth"\nto = "the house"\n')
    assert as_rows(things.order(plan, get)[0])[0]["data"] == "gate.eth to the house"


@pytest.mark.parametrize("name", PLANS)
def test_every_cable_is_in_the_port_map(root: Path, name: str) -> None:
    """Each end of a cable in a switch is a row; each port is free or has a cable; no port is left out."""
    plan, get, _ = plan_of(root, name)
    rows = as_rows(network.port_map(plan, get)[0])
    switches = {switch.id for switch in plan.table("switch")}
    ends = [
        end.name
        for line in plan.links
        for end in (line.a, line.b)
        if end is not None and end.thing.id in switches
    ]
    assert sorted(f"{row['switch']}.{row['port']}" for row in rows if row["to"] != "free") == sorted(ends)
    for switch in plan.table("switch"):
        ports = {row["port"] for row in rows if row["switch"] == switch.id}
        assert len(ports) >= (switch.ports or 0)


@pytest.mark.parametrize("name", PLANS)
def test_every_point_is_in_the_power_tree(root: Path, name: str) -> None:
    """Each inlet that is fed is there once, directly below the outlet that feeds it."""
    plan, get, _ = plan_of(root, name)
    rows = as_rows(power_tree.power_tree(plan, get)[0])
    inlets = [inlet for thing in plan.order for inlet in thing.inlets if inlet.source is not None]
    told = [str(row["name"]) for row in rows if row["kind"] == "inlet"]
    assert sorted(told) == sorted(inlet.name for inlet in inlets)
    above: dict[int, str] = {}
    for row in rows:
        depth = int(row["depth"] or 0)
        above[depth] = str(row["name"])
        if row["kind"] == "inlet":
            assert above[depth - 1] == row["source"]


def test_currents_add_up() -> None:
    """What resistive things take, worked by hand: 12 V over two lots of 24 ohm is 1 A, and it falls along the leads."""
    plan, get = read("""
[[feed]]
id = "psu"
volts = "12 V"
amps = "5 A"
[[appliance]]
id = "lamp1 .. lamp2"
from = "psu"
peak = "24 ohm"
volts = "9 V .. 14 V"
lead = "18 AWG, 1 m"
""")
    rows = as_rows(power_tree.power_tree(plan, get)[0])
    assert [(row["name"], row["depth"]) for row in rows] == [("psu", 0), ("lamp1", 1), ("lamp2", 1)]
    lamps = [float(row["amps"] or 0.0) for row in rows[1:]]
    assert rows[0]["amps"] == pytest.approx(sum(lamps))
    # the most flows at the highest volts, and no wire adds to the 24 ohm where it is cold
    assert all(12.0 / 24.1 < amps <= 12.0 / 24.0 for amps in lamps)
    # 18 AWG is 20.95 ohm/km at 20 degC (AWG tables); 2 m of it at 0.5 A lose 21 mV, more when warm, less than a tenth
    assert 0.020 < 12.0 - float(rows[1]["volts"] or 0.0) < 0.1


def test_a_draw_that_is_not_given_is_not_nothing() -> None:
    """What is not known is no number, and says what would make it known."""
    plan, get = read("""
[[feed]]
id = "psu"
volts = "12 V"
[[appliance]]
id = "box"
from = "psu"
volts = "9 V .. 14 V"
""")
    psu, box = as_rows(power_tree.power_tree(plan, get)[0])
    assert psu["amps"] is None
    assert "box" in str(psu["missing"])
    assert psu["limit"] is None
    assert box["amps"] is None or box["missing"]


def test_a_gateway_of_its_own_family() -> None:
    """A machine with addresses of both families is shown the router of each beside the address."""
    plan, get = read("""
[[subnet]]
prefix = "10.0.0.0/24"
[[subnet]]
prefix = "fd12::/64"
[[node]]
id = "n"
address = ["10.0.0.2", "fd12::2"]
gateway = ["10.0.0.1", "fd12::1"]
""")
    rows = as_rows(network.addresses(plan, get)[0])
    assert [(row["address"], row["gateway"]) for row in rows] == [
        ("10.0.0.2", "10.0.0.1"),
        ("fd12::2", "fd12::1"),
    ]


def test_the_bench_needs_no_screen(root: Path) -> None:
    """The paper of the middling example has pins, colour, size, length and contacts of every wire, and every port."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    makers = (
        wires.wiring, wires.cuts, connectors.connectors, network.port_map, network.addresses, things.order,
        wires.first_power,
    )  # fmt: skip
    gaps = {
        (table.name, column.key, str(row[:3]))
        for make in makers
        for table in make(plan, get)
        for row in table.rows
        for cell, column in zip(row, table.columns, strict=True)
        if cell is None
    }
    assert gaps == set()


def test_ohms_that_a_hand_meter_cannot_tell_are_told_twice() -> None:
    """Below what it shows, the limit is one for four leads; above, it is for any meter."""
    low = Step("", "", "", "", Range("ohm", None, 0.0061, 0.0112), "")
    assert expect_text(low) == "0.0 or 0.1 ohm by a hand meter; by four leads 0.006, at most 0.011 ohm"
    high = Step("", "", "", "", Range("ohm", None, 0.35, 0.5), "")
    assert expect_text(high) == "about 0.350 ohm, at most 0.500 ohm"


@pytest.mark.parametrize(
    ("amps", "text"),
    [
        (5.685, "5.69 A"),
        (0.0824, "82.4 mA"),
        (0.08241, "82.5 mA"),
        (12.0, "12 A"),
        (123.4, "124 A"),
        (0.0, "0 A"),
    ],
)
def test_amps_to_stop_at_are_rounded_up(amps: float, text: str) -> None:
    """Three digits, and never less than what the lint allows: nobody stops at what is in order."""
    step = Step("", "", "", "", Range("V", 4.8, None, 5.2), "", amps=amps)
    assert expect_text(step) == f"4.8 V to 5.2 V; at most {text}"

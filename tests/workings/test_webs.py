"""Harnesses that branch, against ngspice: the netlist is written here from the rows of the plan, pin by pin."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.dc import wire
from tests.workings.conftest import Worked

HEAD = """
[plan]
ambient = "20 degC"
[[part]]
id = "pin"
kind = "plug"
amps = "3 A"
ohms = "20 mohm"
aged = "40 mohm"
keyed = true
[[feed]]
id = "f"
volts = "5.1 V"
spread = "0 %"
amps = "20 A"
[[feed.connector]]
id = "out"
plug = "pin"
pins = { 1 = "5v", 2 = "gnd", 3 = "5v", 4 = "gnd" }
"""
BOARD = """
[[node]]
id = "{}"
from = "f"
plug = "pin"
volts = "4 V .. 5.25 V"
peak = "{} A"
load = "current"
pins = {{ 1 = "5v", 2 = "gnd", 3 = "5v", 4 = "gnd" }}
"""


def plan(boards: dict[str, float], wires: list[tuple[str, str, int, int]], splices: str = "") -> str:
    """Return a plan of boards by what they draw [A], and wires as (from, to, gauge, length [mm])."""
    text = HEAD + "".join(BOARD.format(name, amps) for name, amps in boards.items())
    text += '[[harness]]\nid = "h"\n' + "".join(f'[[harness.splice]]\nid = "{s}"\n' for s in splices.split())
    for a, b, gauge, length in wires:
        text += f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\ngauge = "{gauge} AWG"\nlength = "{length} mm"\n'
    return text


#: A board on the other rail.
TWELVE = (
    BOARD.format("b", "LOAD").replace('"f"', '"g"').replace("4 V .. 5.25", "9 V .. 13").replace("5v", "12v")
)
STAR = plan(
    {"a": 1.0, "b": 0.7},
    [
        ("f.out.1", "a.1", 22, 300), ("f.out.1", "b.1", 24, 200), ("f.out.2", "a.2", 22, 300),
        ("f.out.2", "b.2", 24, 200),
    ],
)  # fmt: skip
TRUNK = plan(
    dict.fromkeys("abcdek", 0.8),
    [
        ("f.out.1", "p1", 16, 100), ("f.out.2", "m1", 16, 100),
        *[(f"p{n}", f"p{n + 1}", 18, 80) for n in range(1, 6)],
        *[(f"m{n}", f"m{n + 1}", 20, 80) for n in range(1, 6)],
        *[(f"p{n}", f"{name}.1", 22, 60 + 10 * n) for n, name in enumerate("abcdek", 1)],
        *[(f"m{n}", f"{name}.2", 24, 60 + 10 * n) for n, name in enumerate("abcdek", 1)],
    ],
    " ".join(f"p{n} m{n}" for n in range(1, 7)),
)  # fmt: skip
CHAIN = plan(
    dict.fromkeys("abcd", 0.5),
    [
        ("f.out.1", "a.1", 20, 200), ("a.1", "b.1", 20, 100), ("b.1", "c.1", 20, 100), ("c.1", "d.1", 20, 100),
        ("f.out.2", "a.2", 20, 200), ("a.2", "b.2", 20, 100), ("b.2", "c.2", 20, 100), ("c.2", "d.2", 20, 100),
    ],
)  # fmt: skip
DOUBLE = plan(
    {"a": 2.0, "b": 1.0},
    [
        ("f.out.1", "a.1", 22, 300), ("f.out.1", "a.3", 22, 200), ("f.out.3", "a.3", 22, 500),
        ("f.out.2", "a.2", 22, 300), ("f.out.4", "a.4", 22, 300), ("a.4", "b.2", 22, 100), ("f.out.3", "b.1", 24, 90),
    ],
)  # fmt: skip
PLANS = {"star": STAR, "trunk": TRUNK, "chain": CHAIN, "double": DOUBLE}


def value(text: str) -> float:
    """Return the number of a quantity."""
    return float(text.split(maxsplit=1)[0])


def netlist(text: str, worn: bool, fresh: str = "") -> tuple[str, list[str]]:
    """Return a deck and the elements whose current is asked: each wire, then each contact, as the rows have them."""
    raw: dict[str, Any] = tomllib.loads(text)
    lines, asked = ["harness", "V0 src 0 5.1"], []
    pins: dict[str, None] = {}
    splices = {s["id"] for s in raw["harness"][0].get("splice", [])}
    for n, row in enumerate(raw["harness"][0]["wire"]):
        gauge, length = value(row["gauge"]), value(row["length"]) / 1000
        ohms = wire.conductor_ohms(length, wire.awg_area(gauge), temperature=20)
        if worn:
            ohms = wire.worst_ohms(length, gauge=gauge, temperature=50)
        ends = [row["from"], row["to"]]
        lines.append(f"Rw{n} {name(ends[0])} {name(ends[1])} {ohms}")
        asked.append(f"w{n}")
        pins.update({end: None for end in ends if end not in splices})
    for pin in pins:
        thing, number = pin.split(".")[0], int(pin.rpartition(".")[2])
        plus = number % 2 == 1
        inside = ("src" if plus else "0") if thing == "f" else f"{thing}_{'plus' if plus else 'minus'}"
        ohms = 0.040 if worn and pin != fresh else 0.020
        lines.append(f"Rc_{name(pin)} {name(pin)} {inside} {ohms}")
        asked.append(f"c_{name(pin)}")
    for board in raw["node"]:
        lines.append(f"I{board['id']} {board['id']}_plus {board['id']}_minus {value(board['peak'])}")
    return "\n".join(lines), asked


def name(ref: str) -> str:
    """Return the name of a node."""
    return "n_" + ref.replace(".", "_")


def spice(
    deck: str, asked: list[str], boards: list[str], folder: Path
) -> tuple[dict[str, float], dict[str, float]]:
    """Return the volts at each board and the amps of each element by ngspice."""
    prints = [f"print v({b}_plus)-v({b}_minus)" for b in boards] + [f"print @r{a}[i]" for a in asked]
    (folder / "h.cir").write_text(
        deck
        + "\n.options reltol=1e-9\n.control\nset numdgt=12\nop\n"
        + "\n".join(prints)
        + "\nquit\n.endc\n.end\n"
    )
    ran = subprocess.run(["ngspice", "-b", "h.cir"], cwd=folder, capture_output=True, text=True, check=False)
    found = [float(x) for x in re.findall(r"^[v@].*= ([-+0-9.eE]+)$", ran.stdout, re.M)]
    assert len(found) == len(prints), ran.stdout + ran.stderr
    volts, amps = found[: len(boards)], found[len(boards) :]
    return dict(zip(boards, volts, strict=True)), dict(zip(asked, map(abs, amps), strict=True))


@pytest.mark.ngspice
@pytest.mark.parametrize("which", PLANS)
def test_volts_at_each_board(worked: Worked, which: str, tmp_path: Path) -> None:
    """The volts at every board, as new and worn, are those of ngspice."""
    text = PLANS[which]
    arrivals = {a.name: a for a in worked(text).working("arrivals")}
    for worn in (False, True):
        deck, asked = netlist(text, worn)
        volts, _ = spice(deck, asked, list(arrivals), tmp_path)
        for board, arrival in arrivals.items():
            found = arrival.low if worn else arrival.nominal
            assert found == pytest.approx(volts[board], abs=2e-6), (board, worn)


@pytest.mark.ngspice
@pytest.mark.parametrize("which", PLANS)
def test_amps_of_each_wire_and_contact(worked: Worked, which: str, tmp_path: Path) -> None:
    """Nominal currents are those of ngspice; the most is what it finds with each contact in turn as new."""
    text = PLANS[which]
    made = worked(text)
    boards = [a.name for a in made.working("arrivals")]
    found = made.working("pin_amps")
    flows = {f"w{n}": flow for n, flow in found.wires.items()}
    flows |= {f"c_{name(pin)}": flow for pin, flow in found.contacts.items()}
    deck, asked = netlist(text, False)
    _, nominal = spice(deck, asked, boards, tmp_path)
    assert {k: f.nominal for k, f in flows.items()} == pytest.approx(nominal, abs=1e-6)
    most: dict[str, float] = {}
    for fresh in ["", *found.contacts]:
        deck, asked = netlist_worn(text, fresh)
        _, amps = spice(deck, asked, boards, tmp_path)
        most = {k: max(most.get(k, 0.0), x) for k, x in amps.items()}
    assert {k: f.most for k, f in flows.items()} == pytest.approx(most, abs=1e-6)


def netlist_worn(text: str, fresh: str) -> tuple[str, list[str]]:
    """Return the deck with wires as new, since cold copper evens out least, and all contacts aged but one."""
    cold, asked = netlist(text, False)
    aged, _ = netlist(text, True, fresh)
    rows = {line.split()[0]: line for line in aged.splitlines() if line.startswith("Rc_")}
    return "\n".join(rows.get(line.split()[0], line) for line in cold.splitlines()), asked


def test_a_daisy_chain_of_equal_boards(worked: Worked) -> None:
    """Four boards of half an ampere: 2, 1.5, 1 and 0.5 A flow in the four wires, each way (sums, by hand)."""
    wires = worked(CHAIN).working("pin_amps").wires
    assert [round(wires[n].nominal, 9) for n in range(8)] == [2.0, 1.5, 1.0, 0.5] * 2


def test_wires_warm_by_the_square(worked: Worked) -> None:
    """A wire at its rating is 30 K above the air, one at half of it 7.5 K (heat grows by the square)."""
    text = plan({"a": 7.0, "b": 3.5}, [(f"f.out.{p}", f"{n}.{q}", 22, 100) for n, p, q in (
        ("a", 1, 1), ("a", 2, 2), ("b", 3, 1), ("b", 4, 2))])  # fmt: skip
    wires = worked(text).working("pin_amps").wires
    assert wires[0].warmer == pytest.approx(30.0)
    assert wires[2].warmer == pytest.approx(7.5)


def test_currents_sum_to_zero(worked: Worked) -> None:
    """In each joint of the trunk what comes in goes out (Kirchhoff)."""
    wires = worked(TRUNK).working("pin_amps").wires
    for n in range(1, 6):
        into, on, off = wires[0 if n == 1 else n], wires[n + 1 if n > 0 else 0], wires[11 + n]
        trunk_in = wires[0].nominal if n == 1 else wires[n].nominal
        assert trunk_in == pytest.approx(on.nominal + off.nominal), (n, into)


def test_one_wire_without_a_gauge_leaves_all_of_it_open(worked: Worked) -> None:
    """Where the length of one wire of a trunk is not given, no volts behind it are claimed, and it is named."""
    made = worked(TRUNK.replace('length = "100 mm"\n', "", 1))
    arrivals = made.working("arrivals")
    assert all(a.low is None for a in arrivals)
    assert all("f.out.1 to h.p1" in a.lacks for a in arrivals)
    assert set(made.working("pin_amps").missing) == set("abcdek")


def test_a_shared_return_lifts_its_neighbours(worked: Worked) -> None:
    """Two rails whose returns share one trunk are solved together: what one draws lowers the volts of the other."""
    text = (
        HEAD
        + '[[feed]]\nid = "g"\nvolts = "12 V"\nspread = "0 %"\namps = "9 A"\n[[feed.connector]]\nid = "out"\n'
        + 'plug = "pin"\npins = { 1 = "12v", 2 = "gnd" }\n'
        + BOARD.format("a", 1.0)
        + BOARD.format("b", "LOAD")
        .replace('from = "f"', 'from = "g"')
        .replace("4 V .. 5.25 V", "9 V .. 13 V")
        .replace("5v", "12v")
        + '[[harness]]\nid = "h"\n[[harness.splice]]\nid = "m"\n'
    )
    for a, b in (
        ("f.out.1", "a.1"),
        ("g.out.1", "b.1"),
        ("a.2", "m"),
        ("b.2", "m"),
        ("m", "f.out.2"),
        ("f.out.4", "g.out.2"),
    ):
        text += f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\ngauge = "20 AWG"\nlength = "500 mm"\n'
    volts = []
    for load in (0.0001, 3.0):
        arrivals = {x.name: x for x in worked(text.replace("LOAD", str(load))).working("arrivals")}
        volts.append(arrivals["a"].nominal)
    wire_ohms = wire.conductor_ohms(0.5, wire.awg_area(20), temperature=20)
    assert volts[0] - volts[1] == pytest.approx(2.9999 * (wire_ohms + 0.020), rel=1e-6)

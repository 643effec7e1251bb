"""When things start: who may hold what back, and what is drawn until then."""

from __future__ import annotations

from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.running import _Run
from coldcheck.workings.starts import Start

BASE = """
[[feed]]
id = "f"
volts = "12 V"
[[inline]]
id = "relay"
what = "switch"
from = "f"
[[inline]]
id = "fuse"
what = "fuse"
from = "relay"
fuse = "5 A"
[[inline]]
id = "other"
what = "switch"
from = "f"
[[node]]
id = "host"
from = "f"
peak = "0 A"
[[storage]]
id = "able"
bays = 2
staggers = true
volts = "12 V"
from = "fuse"
[[storage]]
id = "passive"
bays = 2
staggers = false
volts = "12 V"
from = "f"
"""
DRIVE = '[[drive]]\nid = "d"\nvolts = "12 V"\nsurge = "2 A for 10 s"\npeak = "1 A"\nwaiting = "0.1 A"\n'
BOARD = '[[node]]\nid = "b"\nfrom = "fuse"\npeak = "1 A"\nidle = "0.5 A"\n'


@pytest.fixture(scope="module")
def made() -> Any:
    """Give a function that returns a working of a plan."""
    book = ours.rulebook(entry_points=False)

    def make(text: str, name: str = "starts") -> Any:
        plan = ours.read_plan("t.toml", (BASE + text).encode(), ours.shelf(book))
        return _Run(plan, book).working(name)

    return make


@pytest.mark.parametrize(
    "says, at, off",
    [
        ("", 0.0, False),
        ('delay = "5 s"', 0.0, False),  # nothing keeps it
        ('delay = "5 s"\nkept_by = "able"', 5.0, False),
        ('delay = "5 s"\nkept_by = "able"\nstart = "host"', 5.0, False),
        ('delay = "5 s"\nkept_by = "able"\nstart = "pin"', 5.0, False),
        ('delay = "5 s"\nkept_by = "host"\nstart = "standby"', 5.0, False),
        ('delay = "5 s"\nkept_by = "able"\nstart = "power"', 0.0, False),  # it has power, so it starts
        ('delay = "5 s"\nkept_by = "relay"\nstart = "power"', 5.0, True),  # it has none until then
        ('delay = "5 s"\nkept_by = "relay"\nstart = "host"', 5.0, True),
        ('delay = "5 s"\nkept_by = "other"', 0.0, False),  # not on its way of power
        ('delay = "5 s"\nkept_by = "fuse"', 0.0, False),  # a fuse lets power through at once
        ('delay = "5 s"\nkept_by = "passive"', 0.0, False),
        ('delay = "5 s"\nkept_by = "d"', 0.0, False),
        ('delay = "5 s"\nkept_by = "nobody"', 0.0, False),
        ('start = "standby"', 0.0, False),
    ],
)
def test_when_a_drive_starts(made: Any, says: str, at: float, off: bool) -> None:
    """A delay counts where a host, a carrier or a switch on the way of power keeps it, and nowhere else."""
    start = made(DRIVE + f'bay = "able.1"\n{says}\n')["d"]
    assert (start.at, start.off, start.kept) == (at, off, at > 0)


def test_every_table_may_be_delayed(made: Any) -> None:
    """A board, a fan, a switch and an appliance have a start where they have a delay or a surge, else none."""
    text = BOARD + 'delay = "3 s"\nkept_by = "relay"\n'
    for table in ("fan", "switch", "appliance"):
        text += f'[[{table}]]\nid = "{table}"\nfrom = "f"\npeak = "1 A"\nsurge = "2 A for 1 s"\n'
    text += '[[fan]]\nid = "plain"\nfrom = "f"\npeak = "1 A"\n'
    starts = made(text)
    assert starts["b"] == Start(3.0, True, "held back by relay", True, "relay")
    assert all(starts[table].at == 0.0 for table in ("fan", "switch", "appliance"))
    assert "plain" not in starts


def test_solid_state_drives_have_no_motor_to_start(made: Any) -> None:
    """Without a motor, a surge or a delay there is no start."""
    assert made('[[drive]]\nid = "s"\nmotor = false\nvolts = "12 V"\npeak = "1 A"\nfrom = "f"\n') == {}


@pytest.mark.parametrize(
    "keeper, before",
    [("relay", 0.0), ("host", 6.0)],  # off; powered, at its idle 0.5 A of 12 V
)
def test_what_is_drawn_until_then(made: Any, keeper: str, before: float) -> None:
    """What a switched rail holds back is off; what is told to wait draws what it does when idle."""
    plan = BOARD + f'delay = "3 s"\nkept_by = "{keeper}"\n'
    net = made(plan, "rehearsal").start.nets["f"]
    branch = next(b for b in net.branches if b.inlet.thing.id == "b")
    assert branch.steps == [(0.0, pytest.approx(before)), (3.0, pytest.approx(12.0))]


def test_delayed_things_are_found(made: Any) -> None:
    """Every thing with a delay or a keeper is one to be judged, in every table."""
    text = BOARD + 'delay = "3 s"\n' + DRIVE + 'from = "f"\nkept_by = "host"\n'
    assert {thing.id for thing in made(text, "delayed")} == {"b", "d"}

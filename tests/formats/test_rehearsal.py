"""A rehearsal as it is shown: the same numbers in the table, the plots and the JSON."""

from __future__ import annotations

import json
from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.running import _Run
from coldcheck.formats.rehearsal import Shown, document, lines
from coldcheck.formats.text import plain

BOOK = ours.rulebook(entry_points=False)
PLAN = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "f"
volts = "12 V"
spread = "0 %"
amps = "{rating}"
plug = "soldered"
[[node]]
id = "host"
from = "f"
peak = "0.4 A"
load = "current"
plug = "soldered"
lead = "0 ohm"
volts = "11.4 V .. 12.6 V"
[[drive]]
id = "d1 .. d2"
from = "f"
volts = "11.4 V .. 12.6 V"
plug = "soldered"
lead = "0.25 ohm"
surge = "2.0 A for 10 s"
peak = "0.8 A"
idle = "0.5 A"
waiting = "0.1 A"
start = "host"
kept_by = "host"
delay = "0 s .. {delay} s by {delay} s"
sleeps = true
"""


def shown(
    words: tuple[str, ...] = ("start",), rating: str = "3 A", delay: int = 12, source: str = ""
) -> Shown:
    """Return what is shown of the plan."""
    text = PLAN.format(rating=rating, delay=delay)
    run = _Run(ours.read_plan("p.toml", text.encode(), ours.shelf(BOOK)), BOOK)
    return Shown("p.toml", run.working("rehearsal"), run.working("energy"), words, source)


def page(it: Shown, width: int = 80, blocks: bool = True) -> list[str]:
    """Return the page as text."""
    return [plain(line) for line in lines(it, width, blocks)]


def test_table_by_hand() -> None:
    """d2 starts at 12 s beside 0.8 A and 0.4 A: 3.2 A, above 3 A for 10 s; 12 V less 2 A × 0.25 ohm arrive."""
    rows = page(shown())
    head = next(i for i, row in enumerate(rows) if row.startswith("source"))
    assert rows[head + 1].split() == [
        "f", "3.2", "A", "12", "s", "3", "A", "10", "s", "2", "A", "11.5", "V", "at", "d1,", "needs", "11.4", "V",
    ]  # fmt: skip


def test_events_in_time() -> None:
    """What happens stands in order, each moment once."""
    rows = page(shown())
    assert [row.strip() for row in rows[2:9]] == [
        "0 s  host is on, with all it draws",
        "d2 waits, held back by host",
        "d1 starts",
        "10 s  d1 is up",
        "12 s  d2 starts",
        "22 s  d2 is up",
        "",
    ]


def test_limit_is_marked_and_come_through() -> None:
    """The line of the rating stands in the plot; columns come through it only while more is drawn."""
    rows = page(shown())
    (line,) = [row for row in rows if row.endswith(" rating")]
    assert line.startswith("    3 A│")
    assert "▓" in line
    assert "┄" in line
    (line,) = [row for row in page(shown(rating="3.2 A")) if row.endswith(" rating")]
    assert "▓" not in line


@pytest.mark.parametrize("width", [20, 50, 80, 120, 300])
@pytest.mark.parametrize("blocks", [True, False])
def test_no_row_of_a_plot_is_wider_than_the_page(width: int, blocks: bool) -> None:
    """The plots fill the page and no more, within bounds; without block characters all is ASCII."""
    rows = page(shown(("start", "wake", "all")), width, blocks)
    plots = [row for row in rows if "│" in row or "|" in row]
    assert max(len(row) for row in plots) <= min(max(width, 50), 160)
    assert max(len(row) for row in plots) > min(max(width, 50), 160) - 12
    assert blocks or all(row.isascii() for row in rows)


def test_long_quiet_stretch_is_told() -> None:
    """Where the axis is cut the page says which seconds are left out."""
    rows = page(shown(delay=900))
    assert any("cut short at //: 10 s to 900 s, without a change" in row for row in rows)


def test_json_has_the_same_numbers() -> None:
    """The document holds the keys that its docstring names, with the numbers of the table."""
    data: Any = json.loads(document(shown(("start", "wake", "all"))))
    assert list(data) == ["format", "plan", "scenes", "not_played", "energy", "findings"]
    assert [scene["scene"] for scene in data["scenes"]] == ["start", "wake", "all"]
    (source,) = data["scenes"][0]["sources"]
    assert source["peak"] == {
        "amps": pytest.approx(3.2), "at": 12.0, "story": "d2 2 A, d1 0.8 A, host 0.4 A",
    }  # fmt: skip
    assert source["above_rating"] == pytest.approx(10.0)
    assert source["settled"] == pytest.approx(2.0)
    assert source["amps"] == [
        [0.0, pytest.approx(2.5)], [10.0, pytest.approx(1.3)], [12.0, pytest.approx(3.2)], [22.0, pytest.approx(2.0)],
    ]  # fmt: skip
    assert source["lowest"] == {
        "volts": pytest.approx(11.5), "inlet": "d1", "at": 0.0, "least": pytest.approx(11.4),
    }  # fmt: skip
    assert data["scenes"][1]["sources"][0]["peak"]["amps"] == pytest.approx(4.4)
    assert data["energy"] == [
        {
            "feed": "f", "idle": pytest.approx(12 * 1.4), "busy": pytest.approx(24.0), "idle_missing": ["host idle"],
            "busy_missing": [], "wall_idle": None, "wall_busy": None, "hours_idle": None, "hours_busy": None,
        }
    ]  # fmt: skip


def test_what_never_ends_is_null() -> None:
    """A load above its rating for good has no seconds in JSON, which knows no infinity, and says so in the table."""
    data = json.loads(document(shown(rating="1.9 A")))
    assert data["scenes"][0]["sources"][0]["above_rating"] is None
    assert any("for good" in row for row in page(shown(rating="1.9 A")))


def test_scene_that_a_plan_does_not_have() -> None:
    """A scene that is asked for and cannot be played is told, with why."""
    text = PLAN.format(rating="3 A", delay=12).replace("sleeps = true\n", "")
    run = _Run(ours.read_plan("p.toml", text.encode(), ours.shelf(BOOK)), BOOK)
    it = Shown("p.toml", run.working("rehearsal"), run.working("energy"), ("wake",))
    assert any(row.startswith("wake: not played; no drive is let sleep") for row in page(it))
    assert list(json.loads(document(it))["not_played"]) == ["wake"]

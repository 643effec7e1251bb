"""Labels: one for each end, in their places on the sheet, with a code that reads back."""

from __future__ import annotations

import subprocess
from collections import Counter
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from coldcheck.sheets.labels import SHEETS, Paper, labels, page
from coldcheck.sheets.table import Table, as_rows
from tests.sheets.plans import read

#: CSS px in a millimetre: 96 to the inch.
MM = 96 / 25.4


@pytest.fixture(scope="module")
def table(root: Path) -> Table:
    """Make the labels of the middling plan."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    return labels(plan, get)[0]


def test_both_ends_of_every_cable(root: Path, table: Table) -> None:
    """Each data cable but what goes by radio, each lead and each wire has two labels, one the other's mirror."""
    plan, get = read((root / "inventories" / "gorse-hill.toml").read_bytes())
    rows = as_rows(table)
    by_wire = sum(line.outside != "valley" for line in plan.links)
    schedule = get("schedule")
    assert len(rows) == 2 * (by_wire + len(schedule.leads) + len(schedule.rows))
    ends = Counter((row["cable"], row["here"], row["there"]) for row in rows)
    assert all(ends[cable, there, here] == count for (cable, here, there), count in ends.items())
    assert {
        "cable": "n1.eth/sw.1",
        "here": "sw.1",
        "there": "n1.eth",
        "what": "cat 5e, 500 mm",
        "carries": "",
    } in rows


def test_a_label_says_volts_and_colours(table: Table) -> None:
    """A lead says its volts and the colour of each pole, a wire of a harness its own; the numbers are the plan's."""
    said = {(row["here"], row["there"]): row["carries"] for row in as_rows(table)}
    assert said["bank", "five"] == "24 V: brown +, black \u2212"
    assert said["store.12v", "disks.12v"] == "12.2 V: yellow +, black \u2212"
    assert said["n1.header.2", "block.1.1"] == "5.14 V, red"
    assert said["block.1.2", "n1.header.9"] == "return, black"


def test_a_label_does_not_guess() -> None:
    """Without a colour code there is no colour, and without the volts of the source there are none."""
    text = """
[plan]
format = 1
[[feed]]
id = "s"
[[node]]
id = "n"
from = "s"
volts = "5 V"
lead = "18 AWG, 100 mm"
"""
    plan, get = read(text.encode())
    assert {row["carries"] for row in as_rows(labels(plan, get)[0])} == {""}


@pytest.mark.program("chromium")
@pytest.mark.xdist_group("browser")
@pytest.mark.parametrize("paper", SHEETS, ids=lambda paper: paper.name)
def test_labels_stand_where_the_sheet_has_them(
    browser: Browser, table: Table, paper: Paper, tmp_path: Path
) -> None:
    """Measured in a browser: each label in its place, nothing of it cut off, the sheet no wider than the paper."""
    file = tmp_path / "labels.html"
    file.write_text(page(table, "title", paper, 0))
    tab = browser.new_page(
        viewport={"width": round({"A4": 210, "Letter": 215.9}[paper.paper] * MM), "height": 1200}
    )
    tab.goto(file.as_uri())
    tab.emulate_media(media="print")
    found = tab.evaluate(
        "Array.from(document.querySelector('main').querySelectorAll('.label'), e => { const b = "
        "e.getBoundingClientRect(); return [b.x, b.y, b.width, b.height, e.scrollWidth, e.scrollHeight]; })"
    )
    assert len(found) == min(len(table.rows), paper.columns * paper.rows)
    for n, (x, y, width, height, whole_width, whole_height) in enumerate(found):
        row, column = divmod(n, paper.columns)
        assert x == pytest.approx((paper.left + column * (paper.width + paper.gap)) * MM, abs=0.6)
        assert y == pytest.approx((paper.top + row * paper.height) * MM, abs=0.6)
        assert (width, height) == pytest.approx((paper.width * MM, paper.height * MM), abs=0.6)
        assert whole_width <= width + 1
        assert whole_height <= height + 1
    assert paper.left + paper.columns * paper.width + (paper.columns - 1) * paper.gap <= 216
    tab.close()


@pytest.mark.program("chromium")
@pytest.mark.program("zbarimg")
@pytest.mark.xdist_group("browser")
def test_codes_read_back(browser: Browser, table: Table, tmp_path: Path) -> None:
    """A reader of codes finds, in a picture of the first sheet, the cable of each of its labels."""
    paper = SHEETS[0]
    file, picture = tmp_path / "labels.html", tmp_path / "labels.png"
    file.write_text(page(table, "title", paper, 0))
    tab = browser.new_page(viewport={"width": 794, "height": 1123}, device_scale_factor=3)
    tab.goto(file.as_uri())
    tab.screenshot(path=picture)
    done = subprocess.run(
        ["zbarimg", "--quiet", "--raw", picture], capture_output=True, text=True, check=True
    )
    expected = [str(row["cable"]) for row in as_rows(table)[: paper.columns * paper.rows]]
    # the reader tells a code that it sees twice only once
    assert set(done.stdout.splitlines()) == set(expected)
    tab.close()


def test_markup_in_a_label(table: Table) -> None:
    """A text of a plan is no markup on a label, and a plan with errors says so on each sheet."""
    rows: list[tuple[str | float | int | None, ...]] = [("<b>x</b>", "<b>", "</p>", "{{ 1 }}", "<b>y")]
    made = page(Table("labels", "labels", table.columns, rows), "<i>", SHEETS[0], 2)
    assert "<b>" not in made
    assert "&lt;b&gt;y</span>" in made
    assert "<i>" not in made
    assert "{{ 1 }}" in made
    assert "Not for building: a lint finds 2 errors" in made

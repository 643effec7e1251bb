"""Sheets as PDF, read back by Poppler: all of it is there, on the paper asked for, and nothing is cut off."""

from __future__ import annotations

import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from click.testing import CliRunner

from coldcheck.cli import main
from coldcheck.sheets import connectors, network, things, wires
from coldcheck.sheets.labels import SHEETS, labels
from coldcheck.sheets.prints import SIZES
from coldcheck.sheets.table import Table, shown
from tests.sheets.plans import read

#: Sizes in points (ISO 216, ANSI A), and what a printer leaves blank.
POINTS = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}
MARGIN = 12 / 25.4 * 72
MM = 72 / 25.4
PLANS = Path(__file__).parents[2] / "inventories"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make the PDFs of an example for both sizes of paper."""
    folder = tmp_path_factory.mktemp("pdf") / "out"
    words = ["sheets", str(PLANS / "gorse-hill.toml"), "--into", str(folder)]
    for size in SIZES:
        words += ["--paper", size]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    return folder


def told(file: Path, *words: str) -> str:
    """Return what Poppler reads in a PDF."""
    return subprocess.run(["pdftotext", *words, file, "-"], capture_output=True, text=True, check=True).stdout


def tables() -> list[Table]:
    """Return schedules of the example, as the sheets have them."""
    plan, get = read((PLANS / "gorse-hill.toml").read_bytes())
    makers = (
        things.parts_list, things.order, wires.wiring, wires.shopping, wires.cuts, connectors.connectors,
        network.port_map, network.addresses,
    )  # fmt: skip
    return [table for make in makers for table in make(plan, get)]


@pytest.mark.program("pdftotext")
@pytest.mark.parametrize("size", SIZES)
def test_every_cell_is_on_paper(made: Path, size: str) -> None:
    """Each cell of each schedule can be read, as often as it stands there, whatever lines it is broken into."""
    read_back = "".join(told(made / f"sheets-{size.lower()}.pdf", "-raw").split())
    wanted: Counter[str] = Counter()
    for table in tables():
        for row in table.rows:
            cells = (shown(cell, column) for cell, column in zip(row, table.columns, strict=True))
            wanted.update("".join(cell.split()) for cell in cells if len(cell) > 3)
    assert len(wanted) > 150
    assert {cell: many for cell, many in wanted.items() if read_back.count(cell) < many} == {}


@pytest.mark.program("pdftotext")
@pytest.mark.parametrize("size", SIZES)
def test_nothing_is_cut_off(made: Path, size: str) -> None:
    """Every page is of the size asked for, upright or across, and every word lies within its margins."""
    said = told(made / f"sheets-{size.lower()}.pdf", "-bbox")
    pages = re.findall(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', said, re.DOTALL)
    assert len(pages) > 10
    across = 0
    for width, height, words in pages:
        measured = float(width), float(height)
        across += measured[0] > measured[1]
        assert sorted(measured) == pytest.approx(sorted(POINTS[size]), abs=0.1)
        boxes = re.findall(r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)"', words)
        assert boxes
        for x0, y0, x1, y1 in boxes:
            assert MARGIN - 1 <= float(x0) < float(x1) <= measured[0] - MARGIN + 1
            assert 0 <= float(y0) < float(y1) <= measured[1]
    assert 0 < across < len(pages)


@pytest.mark.program("pdftotext")
@pytest.mark.parametrize("size", SIZES)
def test_contents_name_the_page(made: Path, size: str) -> None:
    """Each sheet begins on the page that the contents say."""
    pages = told(made / f"sheets-{size.lower()}.pdf", "-layout").split("\f")
    said = {
        title: int(page) for title, page in re.findall(r"\d+\. ([a-z][a-z ,-]+?) ?\.{2,} ?(\d+)", pages[0])
    }
    titles = re.findall("<h2>(.*?)</h2>", (made / "sheets.html").read_text(encoding="utf-8"))
    assert sorted(said) == sorted({*titles} - {"things"})
    for title, page in said.items():
        assert any(line.strip() == title for line in pages[page - 1].splitlines()), (title, page)


@pytest.mark.program("pdftotext")
@pytest.mark.parametrize("paper", SHEETS, ids=lambda paper: paper.name)
def test_labels_stand_at_their_places(made: Path, paper: object) -> None:
    """The bold text of each label begins within its own label, at its true size [mm]."""
    assert isinstance(paper, type(SHEETS[0]))
    plan, get = read((PLANS / "gorse-hill.toml").read_bytes())
    rows = labels(plan, get)[0].rows
    said = told(made / f"{paper.name}.pdf", "-bbox", "-l", "1")
    words = re.findall(r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">([^<]+)<', said)
    for n, row in enumerate(rows[: paper.columns * paper.rows]):
        left = (paper.left + n % paper.columns * (paper.width + paper.gap)) * MM
        top = (paper.top + n // paper.columns * paper.height) * MM
        inside = [
            word
            for x0, y0, x1, y1, word in words
            if left <= float(x0) and float(x1) <= left + paper.width * MM
            and top <= float(y0) and float(y1) <= top + paper.height * MM
        ]  # fmt: skip
        assert str(row[1]) in inside
        assert str(row[2]) in inside


@pytest.mark.program("pdftotext")
@pytest.mark.program("zbarimg")
def test_codes_of_printed_labels(made: Path, tmp_path: Path) -> None:
    """A reader of codes finds the cables of the first sheet in what is printed."""
    plan, get = read((PLANS / "gorse-hill.toml").read_bytes())
    cables = {str(row[0]) for row in labels(plan, get)[0].rows[:24]}
    subprocess.run(
        ["pdftoppm", "-r", "200", "-l", "1", "-png", made / "labels-a4.pdf", tmp_path / "l"], check=True
    )
    (picture,) = tmp_path.glob("l*.png")
    done = subprocess.run(
        ["zbarimg", "--quiet", "--raw", picture], capture_output=True, text=True, check=True
    )
    assert set(done.stdout.splitlines()) == cables


def test_without_what_sets_type(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Where WeasyPrint is missing, one error says what to install, and nothing is written."""
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    words = ["sheets", str(PLANS / "gorse-hill.toml"), "--into", str(tmp_path / "out"), "--paper", "a4"]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 2
    assert done.output.startswith("coldcheck: error: a PDF needs WeasyPrint")
    assert not (tmp_path / "out").exists()


def test_paper_needs_a_folder() -> None:
    """A size of paper alone is wrong use."""
    done = CliRunner().invoke(main, ["sheets", str(PLANS / "gorse-hill.toml"), "--paper", "A4"])
    assert done.exit_code == 2
    assert "--into FOLDER" in done.output


@pytest.mark.program("pdftotext")
def test_markup_is_text_and_nothing_is_fetched(tmp_path: Path) -> None:
    """What looks like a picture of a file is printed as written; a plan with errors says so on each sheet."""
    (tmp_path / "secret.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'><text>secret</text></svg>")
    plan = tmp_path / "plan.toml"
    bad = f"<img src='{(tmp_path / 'secret.svg').as_uri()}'>"
    plan.write_text(
        f'[plan]\ntitle = "{bad}"\n[[feed]]\nid = "f"\nvolts = "5 V"\namps = "1 A"\n'
        '[[node]]\nid = "n"\nfrom = "f"\npeak = "2 A"\nvolts = "4.75 V .. 5.25 V"\n'
    )
    done = CliRunner().invoke(main, ["sheets", str(plan), "--into", str(tmp_path / "out"), "--paper", "A4"])
    assert done.exit_code == 0, done.output
    said = told(tmp_path / "out" / "sheets-a4.pdf", "-raw")
    assert "<img src=" in said
    assert "\nsecret\n" not in said
    assert said.count("Not for building: a lint finds") >= 12

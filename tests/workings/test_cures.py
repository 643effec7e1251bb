"""Cures: each change that is offered brings the volts up when it is made, and the next smaller one does not."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from coldcheck.plan.edit import apply
from coldcheck.workings.cures import Cure, starting

FERRY = (Path(__file__).parents[2] / "inventories" / "ferry-cabin.toml").read_text(encoding="utf-8")


def low(working: Any, name: str) -> float:
    """Return the lowest volts at an inlet."""
    return next(a.low for a in working.working("arrivals") if a.name == name)  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def found(worked: Any) -> dict[str, Cure]:
    """Give the cures for the boards of the ferry cabin, by the word that tells them apart."""
    working = worked(FERRY)
    arrival = next(a for a in working.working("arrivals") if a.name == "n1.header")
    made = working.working("cures").of(arrival, 4.75)
    return {word: cure for cure in made for word in ("apart", "for gnd", "way back") if word in cure.says}


def test_boards_sag(worked: Any) -> None:
    """As it stands, the boards have less than 4.75 V while the disks start."""
    assert low(worked(FERRY), "n1.header") < 4.75


@pytest.mark.parametrize(
    ("moment", "says"),
    [(0.0, "2 drives start"), (10.0, "1 drive starts"), (19.0, "1 drive starts"), (20.0, "things start")],
)
def test_who_starts(worked: Any, moment: float, says: str) -> None:
    """Two disks start with power and the third after 10 s; each start takes 10 s by its sheet."""
    delay = '\nstart = "host"\nkept_by = "store"\ndelay = ["0 s", "0 s", "10 s"]'
    made = worked(FERRY.replace("# nothing holds them back: they start with power", delay))
    board = next(a for a in made.working("arrivals") if a.name == "n1.header")
    assert starting(board, moment) == says


def test_starting_apart(worked: Any, found: dict[str, Cure]) -> None:
    """The delay that is offered is enough, for all that hang together; a second less is not."""
    cure = found["apart"]
    offered = re.search(r'delay = \["0 s", "0 s", "(\d+) s"\]', cure.says)
    assert offered
    assert cure.whole
    for seconds, enough in ((int(offered[1]), True), (int(offered[1]) - 1, False)):
        delay = f'\nstart = "host"\nkept_by = "store"\ndelay = ["0 s", "0 s", "{seconds} s"]'
        working = worked(FERRY.replace("# nothing holds them back: they start with power", delay))
        fine = all(
            a.low >= a.spec.volts[0]
            for a in working.working("arrivals")
            if a.spec.volts and a.low is not None
        )
        assert fine is enough
        if enough:
            assert low(working, "n1.header") == pytest.approx(cure.volts, abs=1e-6)


def test_thicker_wire_back(worked: Any, found: dict[str, Cure]) -> None:
    """The gauge that is offered for the shared wire is enough when its edit is made; the next thinner is not."""
    cure = found["for gnd"]
    mended = apply(FERRY.encode(), cure.edits).decode()
    assert low(worked(mended), "n1.header") == pytest.approx(cure.volts, abs=1e-6)
    assert cure.volts >= 4.75
    gauge = int(re.search(r'"(\d+) AWG', cure.says)[1])  # type: ignore[index]
    thinner = mended.replace(f'"{gauge} AWG, 400 mm"', f'"{gauge + 2} AWG, 400 mm"')
    assert thinner != mended
    assert low(worked(thinner), "n1.header") < 4.75


def test_own_way_back(worked: Any, found: dict[str, Cure]) -> None:
    """Without the shared wire the boards have the volts that the cure promises."""
    own = FERRY.replace('into = "header"\nback = "gnd"', 'into = "header"')
    assert own != FERRY
    assert low(worked(own), "n1.header") == pytest.approx(found["way back"].volts, abs=1e-6)

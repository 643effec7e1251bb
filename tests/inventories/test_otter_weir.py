"""The harness of the otter weir: every slip on it is found, or the net list proves it harmless; none is told twice."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Iterator

import pytest

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import judge
from tests.inventories import otter_weir as weir

BOOK = ours.rulebook(entry_points=False)
SHELF = ours.shelf(BOOK)
TODAY = datetime.date(2026, 11, 26)
SLIPS: list[Callable[[], Iterator[tuple[str, weir.Wires]]]] = [
    weir.swaps, weir.seats, weir.crimps, weir.plugs, weir.lost, weir.moved, weir.strayed,
]  # fmt: skip


def found(wires: weir.Wires) -> list[Finding]:
    """Return all errors and warnings, and what is open, of the plan with these wires."""
    plan = ours.read_plan("weir.toml", weir.text(wires).encode(), SHELF)
    return [f for f in judge(plan, BOOK, TODAY).findings if f.kind != "review"]


def wrong(slips: list[tuple[str, weir.Wires]]) -> list[str]:
    """Return which slips are missed, told without cause, or told of by more findings than they are."""
    bad = []
    for name, wires in slips:
        findings = found(wires)
        told = [f for f in findings if f.rule.startswith("pins.")]
        if weir.harmless(wires):
            bad += [f"{name}: harmless, but {f.rule}: {f.says}" for f in findings if not _computed(f)]
        elif not told:
            bad.append(f"{name}: missed")
        elif len(told) > 1:
            bad.append(f"{name}: told {len(told)} times: {[f.rule + ': ' + f.says for f in told]}")
    return bad


def _computed(finding: Finding) -> bool:
    """Say whether a finding is true of harmless wires, too: fewer of them side by side are another resistance, two in
    one contact are held by neither crimp, and one between two returns of a thing does nothing."""
    return finding.rule.startswith(("volts.", "leads.", "plugs.", "rails.")) or finding.rule == "pins.useless"


def test_the_right_harness_is_clean() -> None:
    """Nothing is found in the example, nor in the same wires written pin by pin."""
    assert [f.says for f in found(weir.right())] == []
    plan = ours.read_plan("weir.toml", weir.PLAN.read_bytes(), SHELF)
    assert [f.says for f in judge(plan, BOOK, TODAY).findings if f.kind != "review"] == []


def test_the_oracle_tells_harm() -> None:
    """The oracle itself: returns of one converter may change places; plus and return, or two fuses, may not."""
    by_name = dict(weir.swaps())
    assert weir.harmless(weir.right())
    assert weir.harmless(by_name["swap block.1.2 and block.3.2"])
    assert weir.harmless(by_name["swap disks.out.2 and disks.out.3"])
    assert not weir.harmless(by_name["swap block.1.1 and block.1.2"])
    assert not weir.harmless(by_name["swap block.1.1 and block.2.1"])
    assert not weir.harmless(by_name["swap n1.header.6 and store.power.2"])
    assert weir.harmless(dict(weir.moved())["n1.header.4 on 2"])


def test_how_many_slips_there_are() -> None:
    """32 ends over 2 are 496 swaps; no slip is the right harness, and some of most kinds are harmless."""
    counts = Counter({kind.__name__: sum(1 for _ in kind()) for kind in SLIPS})
    assert counts["swaps"] == 32 * 31 // 2
    assert counts["plugs"] == 15
    assert counts["moved"] == 12 * 39 + 12 * 1 + 8 * 3
    assert sum(counts.values()) > 3000


@pytest.mark.parametrize("kind", SLIPS)
def test_some_slips(kind: Callable[[], Iterator[tuple[str, weir.Wires]]]) -> None:
    """Of each kind every so many-th slip is found once, or harmless and not told."""
    slips = list(kind())
    assert wrong(slips[:: max(1, len(slips) // 40)]) == []


@pytest.mark.proof
@pytest.mark.parametrize("kind", SLIPS)
def test_every_slip(kind: Callable[[], Iterator[tuple[str, weir.Wires]]]) -> None:
    """Every slip is found once, or harmless and not told."""
    assert wrong(list(kind())) == []

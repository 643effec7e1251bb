"""What is needed and bought: counted by hand and by the bare TOML, packs and money by whole numbers."""

from __future__ import annotations

from fractions import Fraction
from math import ceil
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.workings.conftest import Worked

PLANS = Path(__file__).parents[2] / "inventories"
LED = '[[feed]]\nid = "f"\nvolts = "5 V"\nbuilt = 2026-01-01\n'
LED += '[[node]]\nid = "n1 .. n{}"\nfrom = "f"\nlead = "22 AWG, {} mm"\n'


@pytest.fixture(scope="module")
def weir(worked: Worked) -> dict[str, Any]:
    """Give what the example with a harness of sixteen wires needs, by words."""
    made = worked((PLANS / "otter-weir.toml").read_text(encoding="utf-8"))
    return {need.words: need for need in made.working("needs")}


def test_contacts_and_housings(weir: dict[str, Any]) -> None:
    """Twelve pins on six boards and four on the storage, a tenth more and two at least; a housing for each."""
    assert (weir["contact jumper-2.54"].needed, weir["contact jumper-2.54"].spare) == (12, 2)
    assert (weir["contact peripheral-4"].needed, weir["contact peripheral-4"].spare) == (4, 2)
    assert weir["housing jumper-2.54"].needed == 6
    assert weir["housing peripheral-4"].needed == 1


def test_wire_covers_what_is_cut(worked: Worked) -> None:
    """A tenth more than is cut of each size and colour, 0.3 m at least."""
    made = worked((PLANS / "gorse-hill.toml").read_text(encoding="utf-8"))
    metres: dict[str, float] = {}
    for cut in made.working("schedule").cuts:
        words = f"wire {cut.size} {cut.colour}"
        metres[words] = metres.get(words, 0.0) + cut.count * cut.length
    found = {n.words: n for n in made.working("needs") if n.kind == "wire"}
    assert {words: need.needed for words, need in found.items()} == pytest.approx(metres)
    assert all(need.spare == pytest.approx(max(0.1 * need.needed, 0.3)) for need in found.values())
    assert metres["wire 22 AWG red"] == pytest.approx(12 * 0.34)  # by hand: six boards, two each


def test_what_is_there_is_not_bought(worked: Worked) -> None:
    """The feed is built; its fuse is there, and only its spare is bought; a radio link is no cable."""
    made = worked((PLANS / "gorse-hill.toml").read_text(encoding="utf-8"))
    found = {n.words: n for n in made.working("needs")}
    assert "battery-bus-24v" not in found
    assert (found["fuse 20 A blade"].needed, found["fuse 20 A blade"].spare) == (0, 1)
    assert (found["fuse 3 A blade"].needed, found["fuse 3 A blade"].spare) == (6, 2)
    assert found["cable cat 6, 30 m"].needed == 2
    assert (
        sum(n.needed for n in found.values() if n.kind == "cable") == 10
    )  # ten ports, none of them the radio's air
    assert found["fuse block with a bar for the returns"].needed == 1


def test_every_part_of_every_plan_is_needed(worked: Worked) -> None:
    """Each thing that is not built is counted once, by its part."""
    for name in ("gorse-hill", "otter-weir", "ferry-cabin", "sundial-court"):
        made = worked((PLANS / f"{name}.toml").read_text(encoding="utf-8"))
        plan: Any = made.plan
        wanted = [t for t in plan.order if getattr(t, "built", None) is None]
        tables = {t.table for t in plan.order}
        found = [n for n in made.working("needs") if n.kind in tables]
        assert sum(n.needed for n in found) == len(wanted), name
        by_part = {n.words: n.needed for n in found}
        for part in {t.part for t in wanted if t.part}:
            assert by_part[part] == sum(t.part == part for t in wanted)


def bought(worked: Worked, plan: str, words: str) -> Any:
    """Return one line of the shopping list of a plan."""
    return next(line for line in worked(plan).working("purchases").lines if line.need.words == words)


@given(
    st.integers(1, 40), st.integers(20, 900), st.integers(1, 250), st.integers(0, 300), st.integers(0, 99_999)
)
def test_packs_and_money(worked: Worked, many: int, mm: int, pack: int, have: int, cents: int) -> None:
    """Whole packs cover what is needed and spare, less what is there, and no pack more; money is exact."""
    words = "wire 22 AWG"
    price = f"{cents // 100}.{cents % 100:02d}"
    plan = LED.format(many, mm) + (
        f'[[buy]]\nwhat = "{words}"\npack = "{pack} dm"\nhave = "{have} dm"\nprice = "{price} EUR"\n'
    ).replace("dm", "cm")
    line = bought(worked, plan, words)
    needed = Fraction(2 * many * mm, 1000)
    wanted = max(Fraction(0), needed + max(needed / 10, Fraction(3, 10)) - Fraction(have, 100))
    assert line.packs == ceil(wanted / Fraction(pack, 100))
    assert line.cost.cents == line.packs * cents
    assert str(line.cost).endswith(" EUR")


def test_costs_by_currency_and_what_has_none(worked: Worked) -> None:
    """Sums stand by currency; lines to buy without a price are counted; the drawer may hold all of a line."""
    plan = LED.format(2, 500) + (
        '[[buy]]\nwhat = "wire 22 AWG"\nprice = "0.10 EUR"\n'
        '[[buy]]\nwhat = "screws"\ncount = 7\npack = 5\nprice = "1.05 EUR"\n'
        '[[buy]]\nwhat = "glue"\ncount = 1\nprice = "3 SEK"\n'
        '[[buy]]\nwhat = "tape"\ncount = 1\nhave = 1\n'
    )
    made = worked(plan).working("purchases")
    # 2 m and 0.3 m more make 3 m singly; two packs of screws
    assert made.costs == {"EUR": 30 + 210, "SEK": 300}
    without = [line.need.words for line in made.lines if line.packs and line.cost is None]
    assert made.unpriced == len(without)
    assert "tape" not in without
    assert [made.strange, made.unlike, made.again] == [[], [], []]

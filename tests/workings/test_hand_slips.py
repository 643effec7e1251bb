"""What each seat of a plug would do, counted again by hand: every placement on the header, by its published pins."""

from __future__ import annotations

from collections import Counter
from itertools import product

import pytest

from tests.workings.conftest import Worked

PLUS, GROUND, THREE = {2, 4}, {6, 9, 14, 20, 25, 30, 34, 39}, {1, 17}  # 40-pin header tables (HDR)

PLAN = """
[[feed]]
id = "f"
volts = "5 V"
amps = "3 A"
[[feed.connector]]
id = "out"
pins = {{1 = "5v", 2 = "gnd"}}
[[node]]
id = "n1 .. n2"
part = "board-4core-5v-3a"
from = "f"
into = "header"
{survives}
[[harness]]
id = "h"
[[harness.end]]
id = "b1 .. b2"
into = "n1.header .. n2.header"
plug = "jumper-2.54"
on = ["{plus}", "{minus}"]
[[harness.wire]]
from = ["f.out.1", "f.out.1"]
to = "b1.1 .. b2.1"
[[harness.wire]]
from = ["f.out.2", "f.out.2"]
to = "b1.2 .. b2.2"
"""


def role(pin: int | None) -> str:
    """Return what a pin of the header carries."""
    if pin is None:
        return "beside"
    return "5v" if pin in PLUS else "gnd" if pin in GROUND else "3v3" if pin in THREE else "signal"


def outcome(p: int | None, q: int | None) -> str:
    """Return what plus on one pin and return on another do to a board, reasoned case by case."""
    plus, back = role(p), role(q)
    if plus in ("signal", "3v3"):  # 5 V on what stands 3.3 V
        return "destroys"
    if plus == "gnd":  # reversed, or plus on the ground of a board whose neighbours hold it
        return "destroys" if back in ("5v", "3v3") else "short"
    if plus == "5v":
        return {"gnd": "harmless", "beside": "dead", "signal": "destroys"}.get(back, "short")
    return "dead"


def placements(plus: int, minus: int) -> list[tuple[int | None, int | None]]:
    """Return the pins that a two-way plug touches on every other seat, shifted and turned, one at least on a pin."""
    at = {((pin - 1) // 2, (pin - 1) % 2): pin for pin in range(1, 41)}
    spot = {pin: xy for xy, pin in at.items()}
    dx, dy = (spot[minus][0] - spot[plus][0], spot[minus][1] - spot[plus][1])
    found = set()
    for x, y, sign in product(range(-3, 24), range(-3, 5), (1, -1)):
        pins = at.get((x, y)), at.get((x + sign * dx, y + sign * dy))
        if pins not in ((None, None), (plus, minus)):
            found.add(pins)
    return sorted(found, key=str)


@pytest.mark.parametrize(("plus", "minus"), [(4, 6)])
def test_every_seat_of_a_two_way_plug(worked: Worked, plus: int, minus: int) -> None:
    """How many seats destroy, short, leave dead or do no harm is what each placement by itself does."""
    (first, second) = worked(PLAN.format(plus=plus, minus=minus, survives="")).working("hand_slips").seated
    expected = Counter(outcome(p, q) for p, q in placements(plus, minus))
    assert first.counts == dict(expected)
    assert second.counts == first.counts
    assert (first.place, second.place) == ("n1.header", "n2.header")
    assert not first.assumed


def test_the_published_danger_is_among_them() -> None:
    """Pin 6 stands beside 4 and 8: one pin further puts 5 V on ground, and ground on a signal (header tables)."""
    assert (6, 8) in placements(4, 6)
    assert (role(6), role(8), outcome(6, 8)) == ("gnd", "signal", "short")
    assert outcome(6, 4) == "destroys"
    assert outcome(2, 4) == "short"


def test_what_is_survived_destroys_nothing(worked: Worked) -> None:
    """A reversal that the inlet survives is no destroyer; 5 V on a signal pin stays one."""
    plan = PLAN.format(plus=4, minus=6, survives="")
    (bare, _) = worked(plan).working("hand_slips").seated
    text = PLAN.format(plus=4, minus=6, survives='survives = "-6 V .. 6 V"')
    (hardy, _) = worked(text).working("hand_slips").seated
    reversals = sum(role(p) == "gnd" and role(q) in ("5v", "3v3") for p, q in placements(4, 6))
    assert reversals > 0
    assert bare.counts["destroys"] - hardy.counts["destroys"] == reversals


def test_a_plug_that_is_wrong_already_is_not_tried(worked: Worked) -> None:
    """Where the plan itself is wrong, that is told, and nothing is said of what else the hand could do there."""
    seated = worked(PLAN.format(plus=6, minus=8, survives="")).working("hand_slips").seated
    assert seated == []

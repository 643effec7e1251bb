"""What wires join: knots against the connected components of networkx, and pins that only give."""

from __future__ import annotations

import random

import networkx as nx  # type: ignore[import-untyped]
import pytest

from tests.workings.conftest import Worked

BOX = """
[[feed]]
id = "f"
volts = "5 V"
[[feed.connector]]
id = "out"
pins = {1 = "5v", 2 = "gnd", 3 = "5v", 4 = "gnd", 5 = "signal", 6 = "signal"}
[[node]]
id = "n1 .. n4"
from = "f"
pins = {1 = "5v", 2 = "gnd", 3 = "signal", 4 = "tach", 5 = "txd", 6 = "rxd"}
[[harness]]
id = "h"
[[harness.splice]]
id = "s1 .. s3"
"""
PINS = [f"f.out.{pin}" for pin in range(1, 7)]
PINS += [f"n{n}.{pin}" for n in range(1, 5) for pin in range(1, 7)] + ["s1", "s2", "s3"]


@pytest.mark.parametrize("seed", range(40))
def test_knots_are_the_connected_components(worked: Worked, seed: int) -> None:
    """Whatever wires join, each knot is one connected component of the graph of pins and joints by networkx."""
    dice = random.Random(seed)
    wires = [tuple(dice.sample(PINS, 2)) for _ in range(dice.randrange(1, 25))]
    text = BOX + "".join(f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\n' for a, b in wires)
    graph = nx.Graph((f"h.{a}" if a[0] == "s" else a, f"h.{b}" if b[0] == "s" else b) for a, b in wires)
    expected = {frozenset(part) for part in nx.connected_components(graph)}
    knots = worked(text).working("knots")
    assert {frozenset(end.ref for end in knot.ends.values()) for knot in knots} == expected
    assert sorted(i for knot in knots for i, side in knot.slots if side) == list(range(len(wires)))


@pytest.mark.parametrize("seed", range(40))
def test_main_and_odd_pins_are_all_that_are_known(worked: Worked, seed: int) -> None:
    """The pins of a knot that agree and those that do not are apart, and together all that carry something known."""
    dice = random.Random(1000 + seed)
    wires = [tuple(dice.sample(PINS, 2)) for _ in range(12)]
    text = BOX + "".join(f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\n' for a, b in wires)
    for knot in worked(text).working("knots"):
        known = [slot for slot, end in knot.ends.items() if end.signal]
        assert sorted(knot.main + knot.odd) == sorted(known)
        assert not set(knot.main) & set(knot.odd)
        words = {knot.ends[slot].signal for slot in knot.main}
        assert not {"5v", "gnd"} <= words


@pytest.mark.parametrize(("signal", "told"), [("5v out", ["meeting"]), ("5v", [])])
def test_a_pin_that_only_gives_is_never_fed(worked: Worked, signal: str, told: list[str]) -> None:
    """A header whose 5 V pins are outputs meets the source that is wired to them (forum thread on such boards, X86)."""
    text = f"""
[[feed]]
id = "f"
volts = "5 V"
plug = "screw-2"
[[node]]
id = "n1"
from = "f"
[[node.inlet]]
id = "dc"
pins = {{1 = "5v", 2 = "gnd"}}
[[node.connector]]
id = "header"
pins = {{2 = "{signal}", 6 = "gnd"}}
[[harness]]
id = "h"
"""
    for a, b in (("f.1", "n1.dc.1"), ("f.2", "n1.dc.2"), ("f.1", "n1.header.2")):
        text += f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\n'
    assert [one.kind for one in worked(text).working("wiring").ailments()] == told


def test_three_ailments_of_one_hand_are_one_slip(worked: Worked) -> None:
    """Two boards whose plus runs from the one to the other, while the source is wired to itself: two ends exchanged."""
    wires = [("f.out.1", "f.out.3"), ("n1.1", "n2.1"), ("f.out.2", "n1.2"), ("f.out.4", "n2.2")]
    text = BOX + "".join(f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\n' for a, b in wires)
    found = worked(text).working("wire_slips")
    assert found.left == []
    (slip,) = found.slips
    moved = {end.ref.partition(".")[0] for end in slip.right.values()}
    assert len(slip.slots) == 2
    assert "f" in moved
    assert len(slip.healed) > 2

"""Which pins a lead goes on: held against the pins of published plugs, written out here."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.workings.conftest import Worked

PLANS = Path(__file__).parents[2] / "inventories"
CODE = '[plan]\n[plan.colours]\n5v = "red"\n12v = "yellow"\ngnd = "black"\n'
FIVE = '[[feed]]\nid = "f"\nvolts = "5 V"\nplug = "screw-2"\n'
BOARD = (
    '[[node]]\nid = "n"\nfrom = "f"\n[[node.inlet]]\nid = "header"\nplug = "{}"\nvolts = "4.75 V .. 5.25 V"\n'
)


def ends(worked: Worked, text: str, inlet: str) -> Any:
    """Return the ends of the lead to an inlet."""
    return worked(text).working("lead_ends")[inlet]


@pytest.mark.parametrize(("many", "plus", "back"), [(1, ["2"], ["6"]), (2, ["2", "4"], ["6", "9"])])
def test_pins_of_the_header(worked: Worked, many: int, plus: list[str], back: list[str]) -> None:
    """The 40-pin header has 5 V on 2 and 4, ground on 6, 9, 14, 20, 25, 30, 34, 39 (header tables, read).

    Pin 6 stands beside 4; 9 is three columns of 2.54 mm from it, 14 four.
    """
    text = CODE + FIVE + BOARD.format("header-40") + f'from = "f"\nlead = "22 AWG, 300 mm, {many} x"\n'
    found = ends(worked, text.replace('id = "n"\nfrom = "f"\n', 'id = "n"\n'), "n.header")
    assert [end.pin for end in found.b.plus.ends] == plus
    assert [end.pin for end in found.b.back.ends] == back
    assert found.b.back.others == 8 - many
    assert [end.pin for end in found.a.plus.ends] == ["1"]
    assert [end.pin for end in found.a.back.ends] == ["2"]
    assert found.colours == ("red", "black")


def test_two_inlets_of_one_plug_take_the_return_beside_each(worked: Worked) -> None:
    """The 4-pin disk plug: 12 V on 1, ground on 2 and 3, 5 V on 4 (PC hardware book, read)."""
    found = worked((PLANS / "gorse-hill.toml").read_text(encoding="utf-8")).working("lead_ends")
    pins = {
        name: [side.ends[0].pin for side in (found[name].b.plus, found[name].b.back)]
        for name in ("store.5v", "store.12v")
    }
    assert pins == {"store.5v": ["4", "3"], "store.12v": ["1", "2"]}


def test_a_fuse_in_the_plus_lets_the_return_go_past(worked: Worked) -> None:
    """A fuse, switch or diode has one pin each side; the return has none there."""
    found = worked((PLANS / "gorse-hill.toml").read_text(encoding="utf-8")).working("lead_ends")
    assert found["guard"].b.back.words == "past it"
    assert found["main"].a.back.words == found["main"].b.back.words == "past it"
    assert found["block"].b.back.words == "2 (gnd)"  # its bar takes the returns


def test_centre_and_sleeve(worked: Worked) -> None:
    """A barrel plug says which pole is its centre, and the two change places where it is negative."""
    plug = CODE + '[[feed]]\nid = "f"\nvolts = "12 V"\n[[switch]]\nid = "s"\nports = 5\nfrom = "f"\n'
    plug += 'plug = "barrel-5.5-2.1"\ncentre = "{}"\nlead = "20 AWG, 300 mm"\n'
    for centre, poles in (("positive", ("centre", "sleeve")), ("negative", ("sleeve", "centre"))):
        found = ends(worked, plug.format(centre), "s")
        assert (found.b.plus.words, found.b.back.words) == poles
        assert (found.a.plus.words, found.a.back.words) == ("+", "-")
        assert found.colours == ("yellow", "black")


def test_no_code_no_colours(worked: Worked) -> None:
    """Where the box has no colour code, none is made up, and the schedule names it as missing."""
    text = FIVE + '[[node]]\nid = "n"\nfrom = "f"\nlead = "22 AWG, 300 mm"\n'
    made = worked(text)
    assert made.working("lead_ends")["n"].colours == ("", "")
    assert made.working("schedule").leads[0].missing == ("colours",)


def test_a_harness_replaces_the_lead(worked: Worked) -> None:
    """What is wired pin by pin is in the harness, and not once more among the leads."""
    found = worked((PLANS / "gorse-hill.toml").read_text(encoding="utf-8")).working("lead_ends")
    assert "n1.header" not in found
    assert {f"n{n}.header" for n in range(2, 7)} <= found.keys()


ATX = '[[feed]]\nid = "f"\nvolts = "12 V"\nplug = "atx-24"\n'
ATX += '[[node]]\nid = "n"\nfrom = "f"\nlead = "20 AWG, 200 mm, 3 x"\n'


def test_returns_nearest_to_the_plus(worked: Worked) -> None:
    """The plug of 24 pins has 12 V on 10 and 11, ground on 3, 5, 7, 15, 17, 18, 19 and 24 (ATX pinout pages, read).

    In two rows of twelve, 24 stands across from 12: one column and one row from 11. Pin 7 is three columns from 10 in
    its row; 19 as far, and a row below.
    """
    found = ends(worked, CODE + ATX, "n")
    assert [end.pin for end in found.a.plus.ends] == ["10", "11"]  # and no pin of 3.3 V or 5 V
    assert [end.pin for end in found.a.back.ends] == ["24", "7", "19"]
    assert (found.a.plus.others, found.a.back.others) == (0, 5)
    inlet = ATX.replace('"12 V"\nplug = "atx-24"', '"12 V"').replace(
        '"n"', '"n"\nplug = "atx-24"\nvolts = "11 V .. 13 V"'
    )
    assert [end.pin for end in ends(worked, CODE + inlet, "n").b.plus.ends] == ["10", "11"]
    none = ATX.replace("12 V", "19 V")
    assert ends(worked, CODE + none, "n").a.plus.words == ""  # not known, rather than any pin
    assert (found.b.plus.words, found.b.back.words, found.b.plus.others) == ("+", "-", 0)


HOLDER = (
    '[[feed]]\nid = "f"\nvolts = "12 V"\n[[inline]]\nid = "q"\nwhat = "{}"\nfrom = "f"\nplug = "joint-lever-12awg"\n'
    'lead = "20 AWG, 100 mm"\n[[node]]\nid = "n"\nfrom = "q"\nlead = "20 AWG, 200 mm"\n'
)


def test_a_holder_is_alike_on_both_sides(worked: Worked) -> None:
    """Where a fuse, switch or diode says its plug once, both tails have it; a converter's way out is its own."""
    for what in ("fuse", "switch", "diode"):
        made = worked(HOLDER.format(what)).working("lead_ends")
        assert (made["q"].b.plug, made["n"].a.plug) == ("joint-lever-12awg", "joint-lever-12awg"), what
    supply = HOLDER.replace("inline", "supply").replace('what = "{}"\n', "")
    supply = supply.replace("[[node]]", '[[supply.rail]]\nid = "r"\nvolts = "5 V"\n[[node]]').replace(
        '"q"\nlead', '"q.r"\nlead'
    )
    assert worked(supply).working("lead_ends")["n"].a.plug is None
    # the side that takes has its plug from the plan, or none
    none = worked(HOLDER.format("fuse").replace('plug = "joint-lever-12awg"\n', "")).working("lead_ends")
    assert (none["q"].b.plug, none["n"].a.plug) == (None, None)


def test_colours_want_volts(worked: Worked) -> None:
    """Where the volts of a source are not known, no volts of the code are taken for them."""
    text = (
        CODE.replace("5v", "0v")
        + '[[feed]]\nid = "f"\n[[node]]\nid = "n"\nfrom = "f"\nlead = "22 AWG, 1 m"\n'
    )
    assert ends(worked, text, "n").colours[0] == ""
    spread = '[[feed]]\nid = "f"\nvolts = "12 V"\nlow = "5 V"\nhigh = "14 V"\n'
    text = CODE + spread + '[[node]]\nid = "n"\nfrom = "f"\nlead = "22 AWG, 1 m"\n'
    assert ends(worked, text, "n").colours == ("yellow", "black")  # by what it is called, not by its lowest


def test_a_colour_by_the_name_of_a_rail(worked: Worked) -> None:
    """A code may name a rail, which a lead keeps through what only hands it on."""
    text = '[plan]\n[plan.colours]\nDisks = "orange"\n5v = "red"\ngnd = "black"\n'
    text += '[[feed]]\nid = "f"\nvolts = "24 V"\n[[supply]]\nid = "s"\nfrom = "f"\n[[supply.rail]]\nid = "disks"\n'
    text += 'volts = "5 V"\n[[supply.rail]]\nid = "rest"\nvolts = "5 V"\n'
    text += '[[inline]]\nid = "q"\nwhat = "switch"\nfrom = "s.disks"\nlead = "20 AWG, 1 m"\n'
    text += '[[node]]\nid = "n1 .. n2"\nfrom = "{}"\nlead = "20 AWG, 1 m"\n'
    found = worked(text.format("q")).working("lead_ends")
    assert found["q"].colours == found["n1"].colours == ("orange", "black")
    found = worked(text.format("s.rest")).working("lead_ends")
    assert found["n1"].colours == ("red", "black")

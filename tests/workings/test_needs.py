"""What small plans need, counted by hand: ends of leads, contacts, ferrules, housings, data cables, fuses."""

from __future__ import annotations

from typing import Any

import pytest

from tests.workings.conftest import Worked

FEED = '[[feed]]\nid = "f"\nvolts = "5 V"\nbuilt = 2026-01-01\n'


def needed(worked: Worked, text: str, *kinds: str) -> dict[str, tuple[float, float]]:
    """Return needed and spare of each line of these kinds, by words."""
    return {n.words: (n.needed, n.spare) for n in worked(text).working("needs") if n.kind in kinds}


ENDS = ("contact", "ferrule or ring", "end of a lead", "housing", "plug")


@pytest.mark.parametrize("each_way", [1, 2])
def test_a_lead_from_screws_to_a_header(worked: Worked, each_way: int) -> None:
    """Each conductor takes a ferrule at the screws and a contact at the header: two poles, ``each_way`` of each."""
    text = FEED + 'plug = "screw-2"\n[[node]]\nid = "n"\n[[node.inlet]]\nid = "header"\nplug = "header-40"\n'
    text += f'volts = "4.75 V .. 5.25 V"\nfrom = "f"\nlead = "22 AWG, 300 mm, {each_way} x"\n'
    assert needed(worked, text, *ENDS) == {
        "ferrule or ring screw-2": (2 * each_way, 2),
        "contact header-40": (2 * each_way, 2),
        "housing header-40": (1, 0),
    }


def test_a_plug_bought_whole(worked: Worked) -> None:
    """A barrel plug comes whole, and nothing is crimped into it; bare ends at the feed are told to be unknown."""
    text = FEED + '[[node]]\nid = "n"\nfrom = "f"\nplug = "barrel-5.5-2.1"\nlead = "20 AWG, 1 m, 2 x"\n'
    assert needed(worked, text, *ENDS) == {
        "end of a lead of a kind that the plan does not say": (4, 2),
        "plug barrel-5.5-2.1": (1, 0),
    }


def test_the_ends_of_a_lead_that_passes_a_fuse(worked: Worked) -> None:
    """The return goes past a fuse: one end in each of its joints, two at the feed and two at the board."""
    text = FEED + 'plug = "screw-2"\n[[inline]]\nid = "q"\nwhat = "fuse"\nfuse = "5 A blade"\nfrom = "f"\n'
    text += 'plug = "joint-lever-12awg"\nlead = "14 AWG, 100 mm"\n'
    text += '[[node]]\nid = "n"\nfrom = "q"\nlead = "14 AWG, 200 mm"\nplug = "screw-2"\n'
    assert needed(worked, text, *ENDS) == {
        "ferrule or ring screw-2": (4, 2),
        "ferrule or ring joint-lever-12awg": (2, 2),
    }


def test_a_tenth_more_of_many_contacts(worked: Worked) -> None:
    """Thirty boards by header take sixty contacts and six more."""
    text = FEED + '[[node]]\nid = "n1 .. n30"\nfrom = "f"\nplug = "header-40"\nlead = "22 AWG, 300 mm"\n'
    assert needed(worked, text, "contact", "housing") == {
        "contact header-40": (60, 6),
        "housing header-40": (30, 0),
    }


def test_data_cables_by_kind_and_length(worked: Worked) -> None:
    """Cables of one kind and length are one line; what is not told of a cable is told to be missing."""
    text = '[[switch]]\nid = "sw"\nports = 8\n' + "".join(
        f'[[node]]\nid = "a{n}"\nport = "sw.{n}"\n{cable}'
        for n, cable in enumerate(
            [
                'cable = "cat 6, 300 mm"\n',
                'cable = "cat 6, 300 mm"\n',
                'cable = "300 mm"\n',
                'cable = "cat 5e"\n',
                "",
            ],
            start=1,
        )
    )
    assert needed(worked, text, "cable") == {
        "cable cat 6, 300 mm": (2, 0),
        "cable 300 mm, of which the plan does not say all": (1, 0),
        "cable cat 5e, of which the plan does not say all": (1, 0),
        "cable of a kind that the plan does not say": (1, 0),
    }


def test_what_a_line_is_about(worked: Worked) -> None:
    """A line says what its part is called on the shelf and which things are meant; without a part, only these."""
    text = '[[fan]]\nid = "b1 .. b2"\npart = "fan-80x25-12v"\n[[fan]]\nid = "other"\n'
    found: dict[str, Any] = {n.words: n for n in worked(text).working("needs")}
    assert found["fan of a kind that the plan does not say"].about == "other"
    assert all(not n.about.startswith(": ") for n in found.values())

"""What small plans need, counted by hand: ends of leads, contacts, ferrules, housings, data cables, fuses."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.workings.conftest import Worked

FEED = '[[feed]]\nid = "f"\nvolts = "5 V"\nbuilt = 2026-01-01\n'


def needed(worked: Worked, text: str, *kinds: str) -> dict[str, tuple[float, float]]:
    """Return needed and spare of each line of these kinds, by words."""
    return {n.words: (n.needed, n.spare) for n in worked(text).working("needs") if n.kind in kinds}


def shelf_title(file: str, part: str) -> str:
    """Return what the shelf calls a part, by the bare TOML."""
    folder = Path(__file__).parents[2] / "inventories" / "parts"
    shelf = tomllib.loads((folder / f"{file}.toml").read_text(encoding="utf-8"))
    return next(str(one["title"]) for one in shelf["part"] if one["id"] == part)


ENDS = ("contact", "ferrule", "ferrule or ring", "end of a lead", "joint", "terminal", "housing", "plug")


@pytest.mark.parametrize("each_way", [1, 2])
def test_a_lead_from_screws_to_a_header(worked: Worked, each_way: int) -> None:
    """Each conductor takes a ferrule at the screws and a contact at the header: two poles, ``each_way`` of each."""
    text = FEED + 'plug = "screw-2"\n[[node]]\nid = "n"\n[[node.inlet]]\nid = "header"\nplug = "header-40"\n'
    text += f'volts = "4.75 V .. 5.25 V"\nfrom = "f"\nlead = "22 AWG, 300 mm, {each_way} x"\n'
    assert needed(worked, text, *ENDS) == {
        "ferrule 22 AWG": (2 * each_way, 2),
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
    made = {(one.how, one.plug, one.size): one.count for one in worked(text).working("crimps")}
    assert made == {("unknown", "", "20 AWG"): 4, ("whole", "barrel-5.5-2.1", "20 AWG"): 4}


def test_what_a_contact_is_for(worked: Worked) -> None:
    """A contact, a housing and a plug say in words what they are, and which wires they take, as the shelf has it."""
    text = FEED + 'plug = "screw-2"\n[[node]]\nid = "n"\n[[node.inlet]]\nid = "header"\nplug = "header-40"\n'
    text += 'volts = "4.75 V .. 5.25 V"\nfrom = "f"\nlead = "22 AWG, 300 mm"\n'
    text += '[[node]]\nid = "m"\nfrom = "f"\nplug = "barrel-5.5-2.1"\nlead = "20 AWG, 1 m"\n'
    about = {n.words: n.about for n in worked(text).working("needs")}
    title = shelf_title("plugs", "header-40")
    assert about["contact header-40"] == f"{title}, for 22 to 28 AWG"
    assert about["housing header-40"] == f"{title}, for 22 to 28 AWG; one for each socket"
    assert about["plug barrel-5.5-2.1"] == f"{shelf_title('plugs', 'barrel-5.5-2.1')}; one for each socket"
    assert about["ferrule 22 AWG"] == ""


def test_no_end_is_forgotten(worked: Worked) -> None:
    """Of the middling example: two ends of each conductor, six of them in joints, the others each with a piece."""
    made = worked((Path(__file__).parents[2] / "inventories" / "gorse-hill.toml").read_text(encoding="utf-8"))
    schedule = made.working("schedule")
    ends = 2 * len(schedule.rows) + sum(2 * 2 * lead.each_way for lead in schedule.leads)
    in_joints = 2 + 2 * 2  # both tails of the holder; two wires where the return passes it, two at the switch
    pieces = sum(one.count for one in made.working("crimps") if one.how not in ("joint", "past"))
    assert pieces == ends - in_joints
    assert pieces > 50


def test_the_ends_of_a_lead_that_passes_a_fuse(worked: Worked) -> None:
    """The return goes past a fuse, joined to the next: three joints in all; two ferrules at each end."""
    text = FEED + 'plug = "screw-2"\n[[inline]]\nid = "q"\nwhat = "fuse"\nfuse = "5 A blade"\nfrom = "f"\n'
    text += 'plug = "joint-lever-12awg"\nlead = "14 AWG, 100 mm"\n'
    text += '[[node]]\nid = "n"\nfrom = "q"\nlead = "14 AWG, 200 mm"\nplug = "screw-2"\n'
    assert needed(worked, text, *ENDS) == {
        "ferrule 14 AWG": (4, 2),
        "joint-lever-12awg": (3, 0),
    }
    bare = text.replace('plug = "joint-lever-12awg"\n', 'plug = "blade-terminal"\n')
    assert needed(worked, bare, *ENDS) == {
        "ferrule 14 AWG": (4, 2),
        "blade-terminal for 14 AWG": (2, 2),
        "joint of 14 AWG and 14 AWG": (1, 0),
    }
    own = '[[part]]\nid = "mine"\nkind = "plug"\nsingle = true\n'
    assert needed(worked, own + bare.replace("blade-terminal", "mine"), "ferrule or ring") == {
        "ferrule or ring mine for 14 AWG": (2, 2)
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
    title = shelf_title("fans", "fan-80x25-12v")
    assert found["fan-80x25-12v"].about == f"{title}: b1 and b2"
    assert found["fan of a kind that the plan does not say"].about == "other"
    assert all(not n.about.startswith(": ") for n in found.values())


HARNESS = FEED + (
    'plug = "screw-2"\n[[node]]\nid = "n1 .. n2"\n[[node.inlet]]\nid = "header"\nplug = "header-40"\n'
    'volts = "4.75 V .. 5.25 V"\nfrom = "f"\n[[harness]]\nid = "h"\n'
)


def test_the_ends_of_wires(worked: Worked) -> None:
    """At screws each wire takes a ferrule, though two share a terminal; a contact is one for each pin of a plug.

    A wire that goes nowhere takes nothing at that end.
    """
    wires = ["f.1 n1.header.2", "f.2 n1.header.6", "f.1 n2.header.2", "f.2 n2.header.6", "f.2 n2.header.99"]
    text = HARNESS + "".join(
        '[[harness.wire]]\nfrom = "{}"\nto = "{}"\n'.format(*wire.split()) for wire in wires
    )
    assert needed(worked, text, *ENDS) == {
        "ferrule of a kind that the plan does not say": (5, 2),
        "contact header-40": (4, 2),
        "housing header-40": (2, 0),
    }
    shared = text.replace('"f.1"\nto = "n2.header.2"', '"f.2"\nto = "n1.header.2"').replace(
        "header.99", "header.9"
    )
    assert needed(worked, shared, "contact") == {"contact header-40": (4, 2)}


def test_a_declared_housing_is_of_its_own_plug_or_of_its_socket(worked: Worked) -> None:
    """An end that names a plug is that plug; one that names none is as the socket it goes into; else it is unknown."""
    for plug, words in (('plug = "jumper-2.54"\non = ["2"]\n', "jumper-2.54"), ("", "header-40")):
        text = HARNESS + f'[[harness.end]]\nid = "e"\ninto = "n1.header"\n{plug}'
        assert needed(worked, text, "housing") == {f"housing {words}": (1, 0)}, words
    text = HARNESS + '[[harness.end]]\nid = "e"\n'
    assert needed(worked, text, "housing") == {"housing of a kind that the plan does not say": (1, 0)}


def test_joints_of_a_harness_and_how_much_is_stripped(worked: Worked) -> None:
    """A splice is one joint, however many wires meet in it; the shelf says how much insulation a screw wants."""
    text = (
        HARNESS
        + '[[harness.splice]]\nid = "j"\nplug = "joint-lever-12awg"\n'
        + "".join(
            f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\ngauge = "22 AWG"\n'
            for a, b in (("f.1", "j"), ("j", "n1.header.2"), ("j", "n1.header.4"))
        )
    )
    assert needed(worked, text, "joint", "ferrule", "contact") == {
        "joint-lever-12awg": (1, 0),
        "ferrule 22 AWG": (1, 2),
        "contact header-40": (2, 2),
    }
    crimps = {(c.how, c.plug, c.size): c.strip for c in worked(text).working("crimps")}
    assert crimps == {
        ("joint", "joint-lever-12awg", ""): 0.011,
        ("ferrule", "screw-2", "22 AWG"): 0.006,
        ("contact", "header-40", "22 AWG"): 0.0025,
    }
    many = (
        FEED
        + 'plug = "screw-2"\n[[inline]]\nid = "q"\nwhat = "fuse"\nfrom = "f"\nplug = "joint-lever-12awg"\n'
    )
    many += 'lead = "14 AWG, 100 mm, 2 x"\n'
    assert needed(worked, many, "joint") == {
        "joint-lever-12awg": (1, 0)
    }  # one for the plus, nothing goes on from it


@pytest.mark.parametrize("name", ["gorse-hill", "otter-weir", "reed-marsh", "lantern-room", "sundial-court"])
def test_one_line_for_each_thing_to_buy(worked: Worked, name: str) -> None:
    """A [[buy]] speaks of a line by its words, so no two lines have the same, housings declared or not."""
    made = worked((Path(__file__).parents[2] / "inventories" / f"{name}.toml").read_text(encoding="utf-8"))
    words = [need.words for need in made.working("needs")]
    assert len(words) == len(set(words))
    if name == "gorse-hill":  # one declared for the first board, five that are taken for granted
        housing = next(need for need in made.working("needs") if need.words == "housing header-40")
        assert (housing.needed, housing.about.endswith("one for each socket")) == (6, True)

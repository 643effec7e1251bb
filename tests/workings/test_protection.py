"""What fuses protect, carry and break, and how contacts share, against sums by hand and a solution of the network."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from coldcheck.dc import fuse as gates
from coldcheck.engine.running import _Run
from coldcheck.plan.kinds import Fuse
from coldcheck.plan.tables import Plug
from coldcheck.workings.contacts import ends_of, together_carry
from coldcheck.workings.protection import (
    FuseAt,
    Protection,
    fuse_text,
    held,
    share_of_rating,
)

SOLDERED = '[[part]]\nid = "s"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
BANK = '[[feed]]\nid = "bank"\nvolts = "24 V"\nhigh = "28 V"\nlow = "20 V"\nbattery = true\nplug = "s"\n{}\n'
SUPPLY = '[[feed]]\nid = "f"\nvolts = "12 V"\nplug = "s"\n{}\n'
NODE = '[[node]]\nid = "{}"\nfrom = "{}"\nplug = "s"\nlead = "{}"\npeak = "{}"\nload = "current"\n{}\n'
INLINE = '[[inline]]\nid = "{}"\nwhat = "{}"\nfrom = {}\nplug = "s"\nlead = "{}"\n{}\n'


@pytest.fixture(scope="module")
def run(worked: Any) -> Any:
    """Give a function that reads a plan and returns what gives its workings."""
    return lambda text: worked(SOLDERED + text)


def protected(made: _Run) -> tuple[dict[str, FuseAt], Protection]:
    """Return the fuses of a plan by name, and all of the working."""
    found: Protection = made.working("protection")
    assert not made.findings
    return {fuse.name: fuse for fuse in found.fuses}, found


def names(pieces: list[Any]) -> set[str]:
    """Return what pieces are called, without their first words."""
    return {piece.what.rpartition(" ")[2] for piece in pieces}


def test_a_smaller_fuse_protects_what_is_behind_it(run: Any) -> None:
    """Of a main fuse and a smaller one further down each protects up to the next; the holder's lead is the main's."""
    text = BANK.format('fuse = "20 A blade"')
    text += INLINE.format("x", "fuse", '"bank"', "14 AWG, 1 m", 'fuse = "5 A blade"')
    text += NODE.format("n", "x", "22 AWG, 1 m", "2 A", "") + NODE.format(
        "m", "bank", "16 AWG, 1 m", "2 A", ""
    )
    fuses, _ = protected(run(text))
    assert names(fuses["bank"].wires) == {"x", "m"}
    assert names(fuses["x"].wires) == {"n"}
    assert not fuses["bank"].bare
    assert not fuses["x"].bare


def test_a_smaller_fuse_in_front_protects_behind_a_larger(run: Any) -> None:
    """A fuse of 20 A behind one of 5 A protects nothing: what it would have to is the affair of the 5 A."""
    text = BANK.format('fuse = "5 A blade"')
    text += INLINE.format("x", "fuse", '"bank"', "14 AWG, 1 m", 'fuse = "20 A blade"')
    fuses, _ = protected(run(text + NODE.format("n", "x", "22 AWG, 1 m", "2 A", "")))
    assert names(fuses["bank"].wires) == {"x", "n"}
    assert not fuses["x"].wires
    assert fuses["x"].backed == "bank"


def test_a_fuse_sees_no_further_than_a_converter(run: Any) -> None:
    """A rail is a source of its own: behind it only its stated limit counts, and 5 A on 28 AWG (1.4 A) is too much."""
    text = BANK.format('fuse = "10 A blade"')
    text += '[[supply]]\nid = "c"\nfrom = "bank"\nplug = "s"\nlead = "18 AWG, 1 m"\nefficiency = "90 %"\n'
    text += '[[supply.rail]]\nid = "5v"\nvolts = "5 V"\nplug = "s"\n{}\n'
    text += NODE.format("n", "c.5v", "28 AWG, 1 m", "1 A", "")
    fuses, found = protected(run(text.format('amps = "5 A"')))
    assert names(fuses["bank"].wires) == {"c"}
    assert [(bare.outlet.name, bare.limit) for bare in found.bare] == [("c.5v", 5.0)]
    assert names(found.bare[0].wires) == {"n"}
    assert not protected(run(text.format('amps = "2 A"')))[1].bare  # 1.45 × 1.4 A
    assert not protected(run(text.format("")))[1].bare  # not stated: rails.limit_unknown


@pytest.mark.parametrize(
    ("limit", "amps"),
    [
        ('amps = "30 A"', 30.0),
        ('amps = "30 A"\npeak = "50 A for 10 s"', 30.0),  # a short surge heats no wire
        ('amps = "30 A"\npeak = "50 A for 90 s"', 50.0),
        ('amps = "30 A"\npeak = "50 A"', 50.0),
        ('amps = "30 A"\nwatts = "300 W"', 25.0),
        ('spread = "50 %"\nwatts = "300 W"', 50.0),  # at its lowest volts
    ],
)
def test_limit_of_a_source(run: Any, limit: str, amps: float) -> None:
    """What a source gives for good: the least of its amps, and its watts at its lowest volts; a lasting peak counts."""
    _, found = protected(run(SUPPLY.format(limit) + NODE.format("n", "f", "26 AWG, 1 m", "1 A", "")))
    assert [bare.limit for bare in found.bare] == [pytest.approx(amps)]


def test_limit_of_outlets_together(run: Any) -> None:
    """Outlets that share 20 A give no more than that each, whatever they state."""
    text = '[[feed]]\nid = "f"\nvolts = "12 V"\namps = "20 A"\n[[feed.outlet]]\nid = "1 .. 2"\n'
    text += 'amps = "30 A"\nplug = "s"\n'
    text += NODE.format("n1 .. n2", "f.1 .. f.2", "26 AWG, 1 m", "1 A", "")
    _, found = protected(run(text))
    assert [(bare.outlet.name, bare.limit) for bare in found.bare] == [("f.1", 20.0), ("f.2", 20.0)]


def test_all_that_flows_goes_through_the_fuse(run: Any) -> None:
    """At every moment the amps of a fuse are the sum of what hangs behind it: 1 + 2 × 2 A, then 1 + 2 × 0.5 A."""
    text = SUPPLY.format('amps = "30 A"\nfuse = "10 A blade"')
    text += NODE.format("n", "f", "14 AWG, 1 m", "1 A", "")
    text += NODE.format("m1 .. m2", "f", "14 AWG, 1 m", "0.5 A", 'surge = "2 A for 5 s"')
    fuses, _ = protected(run(text))
    assert [at for at, _ in fuses["f"].steps] == [0.0, 5.0]
    assert [amps for _, amps in fuses["f"].steps] == pytest.approx([5.0, 2.0])
    assert fuses["f"].settled == pytest.approx(2.0)


def test_the_fuse_of_a_feed_carries_all_its_outlets(run: Any) -> None:
    """Two outlets of 3 A each, one with a fuse of its own: 6 A through the main one, 3 A through the other."""
    text = '[[feed]]\nid = "f"\nvolts = "12 V"\nfuse = "20 A blade"\n[[feed.outlet]]\nid = "a"\nplug = "s"\n'
    text += 'fuse = "5 A blade"\n[[feed.outlet]]\nid = "b"\nplug = "s"\n'
    text += NODE.format("n", "f.a", "22 AWG, 1 m", "3 A", "") + NODE.format(
        "m", "f.b", "22 AWG, 1 m", "3 A", ""
    )
    fuses, _ = protected(run(text))
    assert fuses["f"].settled == pytest.approx(6.0)
    assert fuses["f.a"].settled == pytest.approx(3.0)
    assert names(fuses["f"].bare) == {"m"}  # 7 A; n is behind the 5 A
    assert not fuses["f.a"].bare


def _sides(limit: str, lead: str, behind: str = "") -> str:
    text = "".join(
        f'[[feed]]\nid = "{x}"\nvolts = "12 V"\nspread = "1 %"\nohms = "10 mohm"\n{limit}\nplug = "s"\n'
        + INLINE.format(f"f{x}", "fuse", f'"{x}"', "0 ohm", 'fuse = "10 A blade"')
        for x in "ab"
    )
    text += INLINE.format("bar", "run", '["fa", "fb"]', "10 mohm", behind)
    return text + NODE.format("n", "bar", lead, "6 A", "")


def test_fuses_side_by_side_add_up(run: Any) -> None:
    """Two sources of 30 A meet behind 10 A each: 20 A may flow behind, past 16 A of 18 AWG, not past 22 A of 16 AWG."""
    fuses, _ = protected(run(_sides('amps = "30 A"', "18 AWG, 1 m")))
    assert names(fuses["fa"].bare) == {"n"}
    assert fuses["fa"].meets == ["fa", "fb"]
    assert not protected(run(_sides('amps = "30 A"', "16 AWG, 1 m")))[0]["fa"].bare
    # each source gives 5 A at the most; 10 A together
    assert not protected(run(_sides('amps = "5 A"', "22 AWG, 1 m")))[0]["fa"].bare
    # a fuse of 10 A behind the place where they meet
    fuses, _ = protected(run(_sides('amps = "30 A"', "20 AWG, 1 m", 'fuse = "10 A blade"')))
    assert not fuses["fa"].bare
    assert names(fuses["bar"].wires) == {"n"}


def test_what_meets_is_shared_by_the_fuses(run: Any) -> None:
    """12.12 V and 11.88 V through 20 mohm and two cold blades of 7.7 mohm each: half of 6 A, and the difference."""
    fuses, _ = protected(run(_sides('amps = "30 A"', "16 AWG, 1 m", 'fuse = "10 A blade"')))
    most = 6.0 / 2 + (12.12 - 11.88) / (2 * (0.020 + 2 * 0.0077))
    assert fuses["fa"].settled == pytest.approx(most, rel=1e-4)
    assert fuses["fb"].settled == pytest.approx(most, rel=1e-4)
    assert fuses["bar"].settled >= 6.0


def test_a_shared_way_back_is_behind_the_fuse(run: Any) -> None:
    """A thin wire back that a thing shares is held to the fuse in front of it like its own lead."""
    text = BANK.format('fuse = "10 A blade"\namps = "20 A"')
    text += INLINE.format("gnd", "return", '"bank"', "24 AWG, 300 mm", "")
    text += NODE.format("n1 .. n2", "bank", "18 AWG, 300 mm", "1 A", 'back = "gnd"')
    fuses, _ = protected(run(text))
    assert names(fuses["bank"].bare) == {"gnd"}
    assert len(fuses["bank"].bare) == 1


def test_bundles_metal_and_floors(run: Any) -> None:
    """A wire is taken as it is laid: 16 A of 18 AWG, half of it among 12, 0.78 of it in aluminium, two side by side."""
    text = BANK.format('fuse = "1 A blade"')
    for name, lead in (
        ("n1", "18 AWG, 1 m"), ("n2", "18 AWG, 1 m, among 12"), ("n3", "18 AWG, 1 m, aluminium"),
        ("n4", "18 AWG, 1 m, 2 x"), ("n5", "120 mm2, 1 m"), ("n6", "20 mohm"),
    ):  # fmt: skip
        text += NODE.format(name, "bank", lead, "0.1 A", "")
    wires = {piece.what: piece for piece in protected(run(text))[0]["bank"].wires}
    amps = {name.rpartition(" ")[2]: round(piece.amps, 2) for name, piece in wires.items()}
    assert amps == {"n1": 16.0, "n2": 8.0, "n3": 12.5, "n4": 32.0, "n5": 380.0}
    assert [name for name, piece in wires.items() if piece.floor] == ["the lead to n5"]


@pytest.mark.parametrize(
    ("more", "lead", "amps", "sure"),
    [
        ("", "0 ohm", None, False),
        ("", "500 mohm", 56.0, False),
        ('ohms = "50 mohm"', "0 ohm", 560.0, True),
        ('ohms = "50 mohm"', "150 mohm", 140.0, True),
    ],
)
def test_short_circuit_of_a_bank(run: Any, more: str, lead: str, amps: float | None, sure: bool) -> None:
    """A bank of 28 V gives 28 V over its own ohms and those of the way; without its own the way is an upper bound."""
    text = BANK.format(more) + INLINE.format("x", "fuse", '"bank"', lead, 'fuse = "5 A glass"')
    fuse = protected(run(text))[0]["x"]
    found, known = fuse.prospective()
    assert found == (pytest.approx(amps) if amps else None)
    assert known is sure
    assert fuse.battery
    assert fuse.volts == 28.0


def test_short_circuit_of_a_supply(run: Any) -> None:
    """A supply gives its peak into a short, less where the way does not let that through, and None unless stated."""
    tail = INLINE.format("x", "fuse", '"f"', "{}", 'fuse = "5 A glass"')
    text = SUPPLY.format('amps = "20 A"\npeak = "35 A for 1 s"') + tail
    assert protected(run(text.format("0 ohm")))[0]["x"].prospective() == (35.0, True)
    assert protected(run(text.format("1 ohm")))[0]["x"].prospective()[0] == pytest.approx(12.0)
    assert protected(run(SUPPLY.format("") + tail.format("0 ohm")))[0]["x"].prospective()[0] is None


def test_sizes_carry_stand_and_protect(run: Any) -> None:
    """Sizes that are proposed hold for all three, and the next smaller and larger ones do not."""
    text = BANK.format('fuse = "5 A blade"')
    text += NODE.format("n", "bank", "20 AWG, 1 m", "4 A", 'surge = "7.7 A for 5 s"')  # 11 A of wire
    fuse = protected(run(text))[0]["bank"]
    found = fuse.sizes("blade")
    assert found == [7.5, 10.0]
    for size in found:
        assert fuse.settled <= 0.8 * size
        assert gates.holds("blade", size, 7.7, 5.0) is True
        assert gates.wire_protected("blade", size, 11.0).rated_within
    assert gates.holds("blade", 5.0, 7.7, 5.0) is None
    assert not gates.wire_protected("blade", 15.0, 11.0).rated_within
    assert fuse.sizes("ptc") == fuse.sizes(None) == []


@pytest.mark.parametrize("amps", [12.0, 13.6, 15.0, 20.0, 36.0, 61.0])
@pytest.mark.parametrize("seconds", [0.1, 0.6, 6.0, 50.0])
@pytest.mark.parametrize("kind", ["blade", "iec-fast", "iec-slow", "ul-slow"])
def test_a_start_opens_a_fuse_where_its_gates_say_so(
    run: Any, amps: float, seconds: float, kind: str
) -> None:
    """A single spell opens a fuse of 10 A, may open it, or is stood, as the gates of the kind say of that spell."""
    text = SUPPLY.format(f'fuse = "10 A {kind}"')
    text += NODE.format("n", "f", "0 ohm", "5 A", f'surge = "{amps} A for {round(seconds * 1000)} ms"')
    fuse = protected(run(text))[0]["f"]
    holds = gates.holds(kind, 10.0, amps, seconds)
    assert (fuse.opens_in_start() is not None) == (holds is False)
    assert fuse.stands_start(10.0, kind) == (holds is True)


def test_a_step_inside_a_spell_does_not_hide_it(run: Any) -> None:
    """25 A for 3 s and then 20 A for 3 s are at least 20 A for 6 s, and that opens a blade fuse of 10 A within 5 s."""
    text = SUPPLY.format('fuse = "10 A blade"')
    fuse = protected(run(text + _surge('["20 A for 3 s", "21 A for 3 s"]')))[0]["f"]
    assert fuse.opens_in_start() == pytest.approx(20.0)
    fuse = protected(run(text + _surge('["20 A for 3 s", "5 A for 3 s", "21 A for 3 s"]')))[0]["f"]
    assert fuse.opens_in_start() is None


def _surge(steps: str) -> str:
    return NODE.format("n", "f", "0 ohm", "5 A", f"surge = {steps}")


def test_margins_and_warm_air() -> None:
    """IEC fuses and PTCs are loaded wholly, UL, blade and unknown ones to 80 %; a PTC holds 70 % of it at 60 degC."""
    whole = {kind for kind in ("blade", "glass", "fast", "slow", "iec-fast", "iec-slow", "iec-slow-high", "ul-fast",
                               "ul-slow", "ptc", None) if share_of_rating(kind) == 1}  # fmt: skip
    assert whole == {"glass", "iec-fast", "iec-slow", "iec-slow-high", "ptc"}
    assert share_of_rating("blade") == share_of_rating(None) == 0.8
    assert held(Fuse(2.0, "ptc"), 60.0) == pytest.approx(1.4)
    assert held(Fuse(2.0, "ptc"), 150.0) == held(Fuse(2.0, "ptc"), 85.0)
    assert held(Fuse(2.0, "blade"), 60.0) == 2.0
    assert fuse_text(7.5, "blade") == "7.5 A blade"
    assert fuse_text(7.5, None) == "7.5 A"


# --- contacts ---------------------------------------------------------------------------------------------------------


def worst_of(ohms: list[tuple[float, float, float]]) -> float:
    """Return the greatest share of any contact, by solving the network with each one new and the others aged."""
    best = 0.0
    for i in range(len(ohms)):
        conductance = np.array(
            [1 / (wire + (new if j == i else aged)) for j, (new, aged, wire) in enumerate(ohms)]
        )
        # two nodes: one ampere in at the first, out at the second
        volts = np.linalg.solve(np.array([[conductance.sum()]]), np.array([1.0]))
        best = max(best, float(volts[0] * conductance[i]))
    return best


@pytest.mark.parametrize(("count", "wire"), [(2, 0.0), (2, 0.023), (4, 0.01), (3, 0.5)])
def test_shares_come_from_the_network(count: int, wire: float) -> None:
    """Contacts of 20 to 40 mohm side by side carry the rating of one over the share that the network gives the new."""
    plug = Plug(amps=3.0, ohms=0.020, aged=0.040, contacts=1)
    found = together_carry(plug, count, [(wire, wire)])
    assert found is not None
    assert found.amps == pytest.approx(3.0 / worst_of([(0.020, 0.040, wire)] * count))


def test_the_law_serves_where_ohms_are_not_known() -> None:
    """Without ohms, aged ohms or conductors two contacts of 3 A carry 4.8 A, four 7.68 A; never both factors."""
    known = Plug(amps=3.0, ohms=0.020, aged=0.040, contacts=1)
    assert [together_carry(known, n).amps for n in (1, 2, 4)] == pytest.approx([3.0, 4.8, 7.68])  # type: ignore[union-attr]
    new_only = Plug(amps=3.0, ohms=0.020, contacts=1)
    assert together_carry(new_only, 2, [(0.01, 0.01)]).amps == pytest.approx(4.8)  # type: ignore[union-attr]
    # what one plug joins is rated for all at once
    assert together_carry(Plug(amps=1.5, contacts=3), 3).amps == pytest.approx(4.5)  # type: ignore[union-attr]
    assert together_carry(Plug(contacts=1), 2) is None
    assert together_carry(None, 2) is None


HEADER = NODE.replace('plug = "s"', 'plug = "header-40"').format("n", "f", "{}", "1 A", "")


def test_header_with_two_pins(run: Any) -> None:
    """Two pins of the 40-pin header behind 22 AWG, 420 mm share by 20 and 40 mohm and the wire: about 5.05 A of 6 A."""
    made = run(SUPPLY.format('amps = "3 A"') + HEADER.format("22 AWG, 420 mm, 2 x"))
    inlet = made.plan.things["n"].inlets[0]
    leads = made.working("leads")
    ends: Any = ends_of(inlet, leads, None)
    one_way = leads.run(inlet.lead)[0]  # the loop of two side by side: one conductor out
    share = worst_of([(0.020, 0.040, one_way)] * 2)
    assert ends.ours.amps == pytest.approx(3.0 / share)
    assert 4.8 < ends.ours.amps < 5.2


def test_wires_of_unequal_length_are_bounded(run: Any) -> None:
    """Pin by pin: the share of the shorter wire with a new contact is what is reckoned with."""
    text = SUPPLY.format('amps = "3 A"\n[[feed.connector]]\nid = "out"\npins = {1 = "+", 2 = "gnd"}').replace(
        "12 V", "5 V"
    )
    text += HEADER.format("22 AWG, 400 mm") + '[[harness]]\nid = "h"\n'
    for a, b, mm in ((1, 2, 300), (1, 4, 450), (2, 6, 300), (2, 9, 450)):
        text += (
            f'[[harness.wire]]\nfrom = "f.out.{a}"\nto = "n.in.{b}"\ngauge = "22 AWG"\nlength = "{mm} mm"\n'
        )
    text = text.replace('plug = "header-40"\n', "").replace(
        "[[harness]]", '[[node.inlet]]\nid = "in"\nplug = "header-40"\n[[harness]]'
    )
    made = run(text)
    inlet = made.plan.things["n"].inlets[0]
    pair = made.working("pairs")[inlet.name]
    assert pair.side_by_side == 2
    ends: Any = ends_of(inlet, made.working("leads"), pair)
    per_metre = 0.0530 * 1.02 * (1 + 0.00393 * 10)  # 22 AWG at 30 degC, of copper in strands
    real = worst_of([(0.020, 0.040, 0.3 * per_metre), (0.020, 0.040, 0.45 * per_metre)])
    assert 3.0 / ends.ours.amps == pytest.approx(real, rel=2e-3)


def test_contacts_at_the_other_end_share_too(run: Any) -> None:
    """Where both ends have a contact for each conductor, fresh and worn ones add up along it: a header to a header."""
    made = run(SUPPLY.format('amps = "3 A"').replace('"s"', '"header-40"') + HEADER.format("40 mohm, 2 x"))
    inlet = made.plan.things["n"].inlets[0]
    ends: Any = ends_of(inlet, made.working("leads"), None)
    assert ends.ours.amps == pytest.approx(3.0 / worst_of([(0.040, 0.080, 0.040)] * 2))
    assert ends.theirs.amps == pytest.approx(ends.ours.amps)


def test_a_moulded_lead_has_one_plug(run: Any) -> None:
    """However many conductors go on from a moulded lead, all flows through the one contact at its end."""
    text = SUPPLY.format('lead = "18 AWG, 1 m"').replace('"s"', '"header-40"')
    made = run(text + HEADER.format("22 AWG, 100 mm, 2 x"))
    ends: Any = ends_of(made.plan.things["n"].inlets[0], made.working("leads"), None)
    assert ends.theirs.amps == 3.0
    assert ends.ours.amps > 4.5

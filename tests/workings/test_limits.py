"""What sources may give in warm air, and every rating on a way, against published rows and plans worked by hand."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import _Run, judge
from coldcheck.plan.kinds import Points
from coldcheck.plan.model import Plan
from coldcheck.workings.limits import Limit, limit_of, share_of, total_limit, warmest_for

FOLDER = Path(__file__).parents[1] / "reference" / "power"
CONVERTERS: dict[str, Any] = tomllib.loads((FOLDER / "converters.toml").read_text(encoding="utf-8"))
EXAMPLES: dict[str, Any] = tomllib.loads((FOLDER / "examples.toml").read_text(encoding="utf-8"))
WRONG: dict[str, Any] = tomllib.loads((FOLDER / "wrong.toml").read_text(encoding="utf-8"))
BOOK = ours.rulebook(entry_points=False)
DAY = datetime.date(2026, 11, 1)

BRICK = """
[plan]
ambient = "{air} degC"
[[feed]]
id = "brick"
volts = "12 V"
{limits}
derating = "100 % at 50 degC, 60 % at 60 degC"
[[node]]
id = "n1"
from = "brick"
peak = "1 A"
"""


def planned(text: str) -> Plan:
    """Return a plan without faults."""
    plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
    assert not plan.faults, plan.faults
    return plan


def judged(text: str) -> list[Finding]:
    """Return all that the rules of power find in a plan."""
    return judge(planned(text), BOOK, DAY, only=("rails", "supplies", "volts", "plugs")).findings


def brick(air: float, limits: str) -> Limit:
    """Return what a derated supply may give in air of some warmth [degC]."""
    plan = planned(BRICK.format(air=air, limits=limits))
    return limit_of(plan.things["brick"].outlets[0], plan)


def ratings(text: str, thing: str, inlet: str = "") -> list[tuple[str, float]]:
    """Return the ratings on the way of an inlet, what and amps, in the order they come."""
    plan = planned(text)
    find = _Run(plan, BOOK).working("weakest")
    point = next(i for i in plan.things[thing].inlets if i.id == inlet)
    return [(rating.what, rating.amps) for rating in find(point)]


def test_e27_supply_in_warm_air() -> None:
    """E27: of 150 W, 80 % are left at 55 degC, 120 W: 10 A at 12 V, and the words say how."""
    row = CONVERTERS["E27"]
    limit = brick(row["at_c"], f'watts = "{row["rated_w"]:g} W"')
    assert limit.watts == pytest.approx(row["recomputed_w"])
    assert limit.amps == pytest.approx(row["recomputed_w"] / 12)
    assert limit.rated is None
    assert limit.how == "12.5 A by its 150 W, 80 % at 55 degC: 10 A"


def test_all_of_it_where_it_is_cool() -> None:
    """Up to the first point of the curve nothing is taken off, and nothing is said of it."""
    limit = brick(50, 'amps = "12.5 A"\npeak = "15 A for 10 s"')
    assert (limit.amps, limit.share, limit.how) == (12.5, 1.0, "12.5 A")
    assert limit.peak is not None
    assert (limit.peak.amps, limit.peak.seconds) == (15.0, 10.0)


def test_a_peak_falls_with_the_rating() -> None:
    """At 60 degC 60 % of amps and of peak are left; for how long it may last stays."""
    limit = brick(60, 'amps = "10 A"\npeak = "15 A for 10 s"')
    assert limit.amps == pytest.approx(6.0)
    assert limit.peak is not None
    assert limit.peak.amps == pytest.approx(9.0)
    assert limit.peak.seconds == 10.0


def test_nothing_is_promised_beyond_the_curve() -> None:
    """Beyond the last point the limit is nothing, says so, and one rule tells it, whatever hangs there."""
    limit = brick(61, 'amps = "10 A"')
    assert limit.beyond
    assert limit.amps == 0.0
    assert limit.how == "10 A, but nothing is published above 60 degC"
    gone = BRICK.format(air=71, limits='amps = "10 A"').replace("60 % at 60 degC", "0 % at 70 degC")
    plan = planned(gone)
    nothing = limit_of(plan.things["brick"].outlets[0], plan)
    assert (nothing.beyond, nothing.how) == (True, "10 A, but nothing is left from 70 degC")
    assert [f.rule for f in judged(gone) if f.level == "error"] == ["supplies.ambient"]
    told = [f.rule for f in judged(BRICK.format(air=61, limits='amps = "10 A"')) if f.level == "error"]
    assert told == ["supplies.ambient"]


def test_the_lesser_of_amps_and_watts() -> None:
    """5 A and 30 W at 12 V are 2.5 A; 2 A and 30 W are 2 A; without either nothing is known."""
    assert brick(30, 'amps = "5 A"\nwatts = "30 W"').amps == pytest.approx(2.5)
    assert brick(30, 'amps = "2 A"\nwatts = "30 W"').amps == pytest.approx(2.0)
    assert brick(30, "").amps is None


def test_a_total_is_derated_too() -> None:
    """100 W for two rails of a supply with 70 % at 45 degC are 70 W, 14 A of them at 5 V."""
    plan = planned(
        '[plan]\nambient = "45 degC"\n[[feed]]\nid = "f"\nvolts = "24 V"\n[[supply]]\nid = "s"\nfrom = "f"\n'
        'watts = "100 W"\nderating = "100 % at 30 degC, 40 % at 60 degC"\n'
        '[[supply.rail]]\nid = "a"\nvolts = "5 V"\n[[supply.rail]]\nid = "b"\nvolts = "12 V"\n'
    )
    (total,) = _Run(plan, BOOK).working("totals")
    whole = total_limit(total, plan, plan.things["s"].outlets[0])
    assert whole.watts == pytest.approx(70.0)
    assert whole.amps == pytest.approx(14.0)


@pytest.mark.parametrize(
    ("share", "expected"), [(1.0, 50.0), (0.9, 52.5), (0.8, 55.0), (0.6, 60.0), (0.3, 60.0)]
)
def test_the_warmest_air_for_a_share(share: float, expected: float) -> None:
    """The curve read the other way: where it passes a share, and its last point where all of it lies above."""
    assert warmest_for(Points(((50.0, 1.0), (60.0, 0.6)), "degC"), share) == pytest.approx(expected)


def test_the_warmest_air_undoes_the_derating() -> None:
    """In the warmest air for a share just that share is left, on a curve of three pieces; above all of it none is."""
    curve = Points(((20.0, 1.0), (40.0, 0.9), (50.0, 0.5), (70.0, 0.0)), "degC")
    thing = type("Supply", (), {"derating": curve})
    for percent in range(0, 101, 5):
        air = warmest_for(curve, percent / 100)
        assert air is not None
        assert share_of(thing, air) == pytest.approx(percent / 100)
    assert warmest_for(Points(((50.0, 0.9), (60.0, 0.6)), "degC"), 0.95) is None


WAY = """
[[part]]
id = "block"
kind = "plug"
amps = "8 A"
[[part]]
id = "small"
kind = "plug"
amps = "2 A"
[part.pins]
1 = "12v"
2 = "12v"
3 = "gnd"
4 = "gnd"
[[feed]]
id = "bank"
volts = "12 V"
amps = "20 A"
fuse = "15 A blade"
plug = "block"
[[inline]]
id = "f"
what = "fuse"
fuse = "7.5 A blade"
from = "bank"
lead = "18 AWG, 300 mm"
amps = "9 A"
[[node]]
id = "n1"
from = "f"
plug = "small"
amps = "{amps}"
lead = "{lead}"
peak = "1 A"
"""


def test_every_rating_on_a_way() -> None:
    """A way worked by hand: each rating is there once, least first, up to the source.

    Two pins of 2 A carry 3.2 A (a fifth off); a fuse counts with 80 %; 18 and 22 AWG may carry 16 and 7 A (Handbook of
    Electronic Tables and Formulas), two of the latter 14.
    """
    found = ratings(WAY.format(lead="22 AWG, 200 mm, 2 x", amps="5 A"), "n1")
    expected = [
        ("small of n1", 3.2),
        ("inlet n1", 5.0),
        ("fuse of f", 6.0),
        ("block of bank", 8.0),
        ("inlet f", 9.0),
        ("fuse of bank", 12.0),
        ("lead to n1", 14.0),
        ("lead to f", 16.0),
        ("feed bank", 20.0),
    ]
    assert [what for what, _ in found] == [what for what, _ in expected]
    assert [amps for _, amps in found] == pytest.approx([amps for _, amps in expected])


def test_a_bundle_counts() -> None:
    """Among 9 conductors a wire keeps 70 % of its 7 A (NEC 310.15(B)(3)(a))."""
    found = dict(ratings(WAY.format(lead="22 AWG, 200 mm, among 9", amps="9 A"), "n1"))
    assert found["lead to n1"] == pytest.approx(4.9)


SATA = """
[[feed]]
id = "pc"
[[feed.outlet]]
id = "12v"
volts = "12 V"
amps = "30 A"
plug = "peripheral-4"
[[feed.outlet]]
id = "5v"
volts = "5 V"
amps = "30 A"
plug = "peripheral-4"
[[inline]]
id = "y"
part = "adapter-4pin-to-sata"
from = ["pc.5v", "pc.12v"]
lead = "{lead}"
[[drive]]
id = "d1"
part = "hdd-3.5-in"
from = ["y.out-5v", "y.out-12v"]
"""


def test_x11_the_weakest_link_counts_and_not_the_plug() -> None:
    """X11: a 4-pin plug is worth 187 W, but its SATA end carries 4.5 A on each rail, 76.5 W in all."""
    plug = EXAMPLES["E18"]
    text = SATA.format(lead="18 AWG, 150 mm")
    watts = 0.0
    for inlet, volts in (("12v", 12.0), ("5v", 5.0)):
        found = ratings(text, "d1", inlet)
        assert (f"peripheral-4 of y.{inlet}", plug["pin_a"]) in found
        assert found[0][1] == pytest.approx(4.5)
        assert found[0][0].startswith("sata-power")
        watts += found[0][1] * volts
    assert watts == pytest.approx(76.5)
    assert watts < plug["published_w"]


def test_x11_a_wire_in_a_bundle_counts_and_not_the_plug() -> None:
    """X11: 18 AWG deep in a bundle of 40 carries about the 6 A of the FAA table, and not the 11 A of the plug."""
    row = WRONG["X11"]
    found = dict(ratings(SATA.format(lead=f"{row['gauge']} AWG, 150 mm, among 40"), "y", "12v"))
    assert found["lead to y.12v"] == pytest.approx(row["bundle_a"], rel=0.1)
    assert found["lead to y.12v"] < found["peripheral-4 of y.12v"] == row["pin_a"]


def test_a_moulded_lead_has_one_plug() -> None:
    """A lead moulded to its adapter: its wire and its one plug are on the way of all, the plug counted once."""
    text = (
        '[[feed]]\nid = "a"\npart = "adapter-12v-2a"\n[[switch]]\nid = "sw"\nfrom = "a"\nports = 5\n'
        'plug = "barrel-5.5-2.1"\ncentre = "positive"\n'
    )
    names = [what for what, _ in ratings(text, "sw")]
    assert names.count("lead of a") == 1
    assert len([name for name in names if name.startswith("barrel")]) == 1
    assert "feed a" in names
    doubled = dict(ratings(text + 'lead = "20 AWG, 100 mm, 2 x"\n', "sw"))
    assert doubled["barrel-5.5-2.1 of a"] == dict(ratings(text, "sw"))["barrel-5.5-2.1 of sw"]


HARNESS = """
[[feed]]
id = "b"
volts = "5 V"
amps = "20 A"
[[feed.connector]]
id = "out"
pins = {1 = "5v", 2 = "gnd", 3 = "5v"}
[[node]]
id = "n1"
from = "b"
peak = "1 A"
[[node.inlet]]
id = "in"
pins = {1 = "+", 2 = "gnd", 3 = "+"}
"""


def test_wires_side_by_side_share_by_the_thinnest() -> None:
    """Two wires out, 22 and 24 AWG, carry twice the 3.5 A of the thinner; one back, 22 AWG, its 7 A."""
    wire = '[[harness.wire]]\nfrom = "b.out.{}"\nto = "n1.in.{}"\ngauge = "{} AWG"\nlength = "100 mm"\n'
    text = HARNESS + '[[harness]]\nid = "h"\n' + wire.format(1, 1, 22) + wire.format(3, 3, 24)
    found = ratings(text + wire.format(2, 2, 20), "n1", "in")
    assert [amps for what, amps in found if what.startswith("wire")] == pytest.approx([7.0, 11.0])


def test_a_shared_limit_is_on_the_way() -> None:
    """The 120 W of a PC supply for 5 V and 3.3 V together are 24 A at 5 V, beyond the 20 A of the rail itself."""
    text = (
        '[[feed]]\nid = "pc"\npart = "pc-supply-300w"\n[[node]]\nid = "n1"\nfrom = "pc.5v"\npeak = "1 A"\n'
        'lead = "18 AWG, 100 mm"\n'
    )
    found = dict(ratings(text, "n1"))
    assert found["feed pc.5v"] == pytest.approx(20.0)
    assert found["limit of pc.low"] == pytest.approx(24.0)
    assert found["limit of pc"] == pytest.approx(60.0)


BOARD = """
[[feed]]
id = "bank"
part = "{bank}"
amps = "20 A"
fuse = "15 A blade"
[[supply]]
id = "atx"
part = "dcdc-atx-60w"
from = "bank"
lead = "18 AWG, 200 mm"
[[drive]]
id = "d1"
part = "hdd-3.5-in"
from = ["atx.5v", "atx.12v"]
lead = "18 AWG, 200 mm"
"""


@pytest.mark.parametrize(
    ("bank", "rule"), [("battery-bus-12v", "volts.wrong_rail"), ("battery-bus-12v-lead", "volts.too_high")]
)
def test_a_board_for_12_v_alone_is_not_fed_from_a_battery(bank: str, rule: str) -> None:
    """A converter board that needs regulated 11.4 .. 12.6 V is not fed from a bank of 10 .. 14.6 V.

    Its 12 V rail is the input behind a switch, so nothing regulates that for the disk either; told once, at the board.
    Articles on such boards (PICO, DIY); sheet of a 60 W board (TEK).
    """
    found = [f for f in judged(BOARD.format(bank=bank)) if f.rule in ("volts.wrong_rail", "volts.too_high")]
    assert [(f.rule, f.level, f.subjects) for f in found] == [(rule, "error", ("atx",))]


def test_a_pass_through_hands_on_the_whole_range() -> None:
    """A disk behind a pass-through that stands the battery itself sees all that the battery gives."""
    text = BOARD.format(bank="battery-bus-12v-lead").replace(
        'part = "dcdc-atx-60w"', 'part = "dcdc-atx-60w"\nvolts = "9 V .. 16 V"'
    )
    found = [f for f in judged(text) if f.rule == "volts.too_high"]
    assert [(f.subjects, str(f.found)) for f in found] == [(("d1.12v",), "14.4 V")]


INPUT = """
[[part]]
id = "soldered"
kind = "plug"
ohms = "0 ohm"
aged = "0 ohm"
[[feed]]
id = "bank"
volts = "24 V"
low = "{low} V"
high = "28.8 V"
amps = "20 A"
plug = "soldered"
[[supply]]
id = "s"
from = "bank"
volts = "18 V .. 32 V"
amps = "1.7 A"
efficiency = "90 %"
lead = "0 ohm"
plug = "soldered"
[[supply.rail]]
id = "12v"
volts = "12 V"
amps = "10 A"
plug = "soldered"
[[node]]
id = "n1"
from = "s"
volts = "11 V .. 13 V"
peak = "36 W"
lead = "0 ohm"
plug = "soldered"
"""


def test_an_input_is_held_to_its_rating_at_the_lowest_volts() -> None:
    """36 W at 90 % take 1.667 A at 24 V and 1.905 A at 21 V: beyond an inlet of 1.7 A, told once, at the inlet.

    A converter takes most at its lowest input (VB).
    """
    found = [f for f in judged(INPUT.format(low="21")) if f.level in ("error", "warning")]
    assert [(f.rule, f.subjects, str(f.found)) for f in found] == [("plugs.inlet", ("s",), "1.905 A")]
    assert [f for f in judged(INPUT.format(low="24")) if f.level in ("error", "warning")] == []

"""Rules on PoE where their cases cannot tell: how many findings one slip makes, chains, and one plan done by hand."""

from __future__ import annotations

import datetime

import pytest

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import judge
from coldcheck.plan.parts import Shelf

# Six cameras and a passive radio on one switch. By class 4 x 15.4 W and 2 x 30 W, and 8.34 W for the radio: 129.94 W
# of 165 W, less a fifth 132 W. Before the radio, which comes last, 43.4 W are left.
PLAN = """
[[feed]]
id = "mains"
volts = "54 V"
amps = "10 A"

[[switch]]
id = "sw"
from = "mains"
lead = "16 AWG, 300 mm"
volts = "48 V .. 57 V"
peak = "8 W"
poe_budget = "165 W"
poe_guard = "7 W"
poe_efficiency = "90 %"
[[switch.port]]
id = "1 .. 4"
speed = "1 Gbit/s"
poe = "type 2"
[[switch.port]]
id = "5"
speed = "1 Gbit/s"
poe = "type 2"
poe_watts = "30 W"
[[switch.port]]
id = "6 .. 8"
poe = "type 2"
[[switch.port]]
id = "9 .. 10"
speed = "1 Gbit/s"
poe = "passive"
poe_volts = "24 V"
poe_pins = "4,5,7,8"
poe_watts = "12 W"
[[switch.port]]
id = "11 .. 12"
speed = "1 Gbit/s"

[[appliance]]
id = "c1 .. c4"
poe = "class 3"
peak = "9 W"
port = "sw.1 .. sw.4"
cable = "cat 6, 30 m"
[[appliance]]
id = "c5"
poe = "class 4"
peak = "20 W"
port = "sw.5"
cable = "cat 6, 30 m"
[[appliance]]
id = "c6"
poe = "class 4"
peak = "15 W"
port = "sw.6"
cable = "cat 6, 40 m"

[[appliance]]
id = "r1"
poe = "passive"
poe_volts = "21 V .. 28 V"
peak = "8 W"
[[appliance.port]]
id = "main"
to = "sw.9"
speed = "100 Mbit/s"
cable = "cat 6, 30 m"
"""
OTHER = '[[switch]]\nid = "ws"\nports = 4\n[[link]]\nfrom = "sw.10"\nto = "ws.1"\n'
BRICK = '[[feed]]\nid = "brick"\nvolts = "12 V"\namps = "2 A"\n'


def told(text: str, only: tuple[str, ...] = ("poe",)) -> list[Finding]:
    """Return what the rules of one area say of a plan."""
    plan = ours.read_plan("plan.toml", text.encode(), Shelf())
    assert not plan.faults
    book = ours.rulebook(entry_points=False)
    found = judge(plan, book, datetime.date(2026, 1, 1), only=list(only)).findings
    return [finding for finding in found if finding.rule != "engine.cannot_load"]


def slipped(old: str, new: str) -> str:
    """Return the plan with one thing written otherwise."""
    assert old == "" or PLAN.count(old) == 1, old
    return PLAN.replace(old, new) if old else PLAN + new


def test_the_plan_without_a_slip() -> None:
    """The plan that the slips are planted into has nothing to tell about PoE."""
    assert told(PLAN) == []


SLIPS = [
    ("a camera on a port without PoE", 'port = "sw.5"', 'port = "sw.11"', "not_a_poe_port", "error"),
    ("a camera on a passive port", 'port = "sw.5"', 'port = "sw.10"', "asks_first", "error"),
    ("a radio on a port without PoE", 'to = "sw.9"', 'to = "sw.11"', "not_a_poe_port", "error"),
    ("a passive radio on a typed port", 'to = "sw.9"', 'to = "sw.8"', "never_answers", "error"),
    ("a budget that is too small", '"165 W"', '"120 W"', "budget", "error"),
    ("a budget without a reserve", '"165 W"', '"150 W"', "budget", "warning"),
    ("a guard that leaves the last one dark", '"7 W"', '"44 W"', "guard", "error"),
    ("a budget that is not stated", 'poe_budget = "165 W"\n', "", "budget_missing", None),
    ("a camera that draws more than its class", '"20 W"', '"26 W"', "beyond_class", "error"),
    ("a class above its port", 'poe = "class 4"\npeak = "20 W"', 'poe = "class 5"\npeak = "35 W"', "type_too_low",
     "error"),
    ("a cable that is too long", '"cat 6, 40 m"', '"cat 6, 300 m"', "cable_loss", "error"),
    ("a cable that is too thin", '"cat 6, 40 m"', '"cat 3, 40 m"', "cable_loss", "error"),
    ("a port capped below the class", '"30 W"', '"25 W"', "port_watts", "warning"),
    ("a port capped below the draw", '"30 W"', '"20 W"', "port_watts", "error"),
    ("a passive port capped below the draw", '"12 W"', '"8 W"', "port_watts", "error"),
    ("a radio for other volts", '"21 V .. 28 V"', '"36 V .. 57 V"', "passive_volts", "error"),
    ("a radio too far away", 'Mbit/s"\ncable = "cat 6, 30 m"', 'Mbit/s"\ncable = "cat 6, 95 m"', "passive_volts",
     "error"),
    ("passive volts that are not stated", 'poe_volts = "24 V"\n', "", "passive_volts", None),
    ("a radio that does not say its volts", 'poe_volts = "21 V .. 28 V"\n', "", "passive_volts", None),
    ("a gigabit link on powered pins", '"100 Mbit/s"', '"1 Gbit/s"', "passive_pins", "error"),
    ("a board on a passive port", "", '[[node]]\nid = "n1"\nport = "sw.10"\n', "unasked", "error"),
    ("a switch on a passive port", "", OTHER, "unasked", "error"),
    ("a second supply", 'peak = "20 W"', 'peak = "20 W"\nvolts = "12 V"\nfrom = "brick"', "two_sources", None),
    ("the same on the radio", 'peak = "8 W"\n[[app', 'peak = "8 W"\nvolts = "12 V"\nfrom = "brick"\n[[app',
     "two_sources", None),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "rule", "level"), [row[1:] for row in SLIPS], ids=[row[0] for row in SLIPS]
)
def test_one_slip_is_told_once(old: str, new: str, rule: str, level: str | None) -> None:
    """Each single slip in the plan gives one finding, by the rule that it belongs to."""
    text = slipped(old, new)
    found = told(text + BRICK if "brick" in new else text)
    assert [(f.rule, f.level) for f in found] == [(f"poe.{rule}", level)], [f.says for f in found]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('port = "sw.5"\ncable = "cat 6, 30 m"', 'port = "sw.5"\ncable = "cat 6, 300 m"'),
        ('port = "sw.5"\ncable = "cat 6, 30 m"', 'port = "sw.5"\ncable = "cat 3, 30 m"'),
        ('port = "sw.5"\ncable = "cat 6, 30 m"', 'port = "sw.5"\ncable = "300 m"'),
        ('Mbit/s"\ncable = "cat 6, 30 m"', 'Mbit/s"\ncable = "cat 6, 110 m"'),
    ],
)
def test_a_cable_that_is_wrong_for_both_is_told_once(old: str, new: str) -> None:
    """A cable that carries neither the speed of its link nor its PoE is one slip, told by its speed."""
    text = slipped(old, new).replace('"21 V .. 28 V"', '"20 V .. 28 V"')
    assert [f.rule for f in told(text, ("poe", "ports")) if f.rule != "ports.no_uplink"] == [
        "ports.cable_speed"
    ]


def test_a_cable_of_unknown_category_is_told_once() -> None:
    """110 m of an unknown category are too long for any: 17.8 V arrive, 18.4 V or more behind 100 m."""
    text = slipped('Mbit/s"\ncable = "cat 6, 30 m"', 'Mbit/s"\ncable = "110 m"').replace('"21 V', '"18.2 V')
    text = text.replace('"165 W"', '"180 W"')
    found = [f.rule for f in told(text, ("poe", "ports")) if f.rule != "ports.no_uplink"]
    assert found == ["ports.cable_speed"]


def test_a_cable_that_is_wrong_for_each_by_itself() -> None:
    """Where 100 m would do for the speed and not for the volts, both are told: mending one leaves the other."""
    text = slipped('Mbit/s"\ncable = "cat 6, 30 m"', 'Mbit/s"\ncable = "cat 6, 110 m"')
    found = [f.rule for f in told(text, ("poe", "ports")) if f.rule != "ports.no_uplink"]
    assert sorted(found) == ["poe.passive_volts", "ports.cable_speed"]


def test_a_draw_that_is_missing_is_asked_for_once() -> None:
    """The draw of a passive radio is asked for by the sum of the net; by PoE only where the switch hangs on none."""
    text = slipped('peak = "8 W"\n[[appliance.port]]', "[[appliance.port]]")
    found = told(text, only=("poe", "rails"))
    assert [(f.rule, f.missing) for f in found] == [("rails.figure_missing", ("r1 peak",))]
    text = text.replace('from = "mains"\nlead = "16 AWG, 300 mm"\n', "")
    assert [(f.rule, f.missing) for f in told(text)] == [("poe.passive_volts", ("r1 peak",))]


# --- who goes dark --------------------------------------------------------------------------------------------------


def test_the_last_port_goes_dark_first() -> None:
    """Of 120 W the cameras take 121.6 W: the last of them and then nobody else is without, since the radio fits."""
    (found,) = told(slipped('"165 W"', '"120 W"'))
    assert "by priority and port c6 would stay dark" in found.because


def test_priorities_decide_who_goes_dark() -> None:
    """With c6 critical and c5 high, both are fed before the four of class 3, of which then the last goes dark."""
    text = slipped('poe_watts = "30 W"\n', 'poe_watts = "30 W"\npoe_priority = "high"\n')
    text = text.replace(
        'id = "6 .. 8"\n',
        'id = "7 .. 8"\npoe = "type 2"\n[[switch.port]]\nid = "6"\npoe_priority = "critical"\n',
    )
    (found,) = told(text.replace('"165 W"', '"100 W"'))
    # 100 W less 30, 30, 15.4 and 15.4 W are 9.2 W: too little for c3 and c4, enough for the radio.
    assert "by priority and port c3 and c4 would stay dark" in found.because
    (found,) = told(text.replace('"165 W"', '"100 W"').replace('"7 W"', '"9.3 W"'))
    assert "by priority and port c3, c4 and r1 would stay dark" in found.because


def test_a_setting_is_named_where_it_would_help() -> None:
    """By class 129.94 W of 115 W, by draw 80.7 W: the setting is named as one to look for, and it does help.

    By hand, in steps of 0.1 W: 9 W behind 2.814 ohm of 50 V take 9.093 W, four times 9.1 W; 20 W take 20.472 W, so
    20.5 W; 15 W behind 3.752 ohm take 15.348 W, so 15.4 W; the radio 8.340 W, so 8.4 W. Together 80.7 W.
    """
    text = slipped('"165 W"', '"115 W"')
    (found,) = told(text)
    assert "drawn at the ports are 80.7 W: look whether the switch has a setting" in found.remedy
    assert told(text.replace('poe_guard = "7 W"', 'poe_guard = "7 W"\npoe_reserves = "draw"')) == []
    (found,) = told(slipped('"165 W"', '"80 W"'))  # not even by draw
    assert "setting" not in found.remedy


def test_a_guard_goes_before_the_reserve() -> None:
    """Of 131 W 9.4 W are left for the radio: with 10 W wanted it stays dark, and no reserve is spoken of."""
    text = slipped('"165 W"', '"131 W"')
    assert [(f.rule, f.level) for f in told(text)] == [("poe.budget", "warning")]
    assert [(f.rule, f.level) for f in told(text.replace('"7 W"', '"10 W"'))] == [("poe.guard", "error")]


def test_a_setting_that_helps_too_little_is_not_named() -> None:
    """80.7 W drawn fit 131 W but not 60 % of it, which the plan asks for: nothing is to be looked for."""
    (found,) = told('[plan]\nreserve = "40 %"\n' + slipped('"165 W"', '"131 W"'))
    assert found.level == "warning"
    assert "setting" not in found.remedy


def test_where_there_is_no_class_nothing_is_reserved() -> None:
    """A budget that only passive things use is said to be held against what they draw."""
    text = '[[switch]]\nid = "p"\npoe_budget = "8 W"\n[[switch.port]]\nid = "1"\npoe = "passive"\npoe_volts = "24 V"\n'
    text += 'poe_pins = "all"\n[[appliance]]\nid = "r"\npoe = "passive"\npeak = "8.5 W"\nport = "p.1"\n'
    (found,) = told(text + 'poe_volts = "20 V .. 28 V"\n')
    assert (found.rule, found.level) == ("poe.budget", "error")
    assert found.says.endswith("of 8 W, by what is drawn")


# --- one plan by hand -------------------------------------------------------------------------------------------------


def test_one_camera_by_hand() -> None:
    """Camera c5: 20 W behind 30 m of category 6 take 20.4717 W at the port, and 22.746 W of what feeds the switch.

    9.38 ohm per 100 m of one conductor are 2.814 ohm for 30 m, which is the loop: two out, two back. From 50 V, the
    lowest of type 2: 50² - 4 x 2.814 x 20 = 2274.88, its root 47.69570, so I = (50 - 47.69570) / 5.628 = 0.409435 A.
    The cable takes 0.409435 x 2.814 = 1.15215 V and 0.47173 W; 48.84785 V arrive, and 48.84785 x 0.409435 = 20.000 W.
    At the port 50 x 0.409435 = 20.4717 W; by the efficiency of 90 % the switch takes 22.7464 W for it.
    """
    from coldcheck.workings import poe

    plan = ours.read_plan("plan.toml", PLAN.encode(), Shelf())
    feeds = poe.poe_feeds(plan)
    (c5,) = [feed for feed in feeds if feed.thing.id == "c5"]
    assert c5.loop_ohms == pytest.approx(2.814)
    assert c5.volts == 50.0
    assert c5.drawn == pytest.approx(20.47173, abs=1e-5)
    assert c5.pd_volts == pytest.approx(48.84785, abs=1e-5)
    others = sum(feed.counted for feed in feeds if feed is not c5)
    assert poe.poe_takes(feeds)["sw"].watts - others / 0.9 == pytest.approx(22.7464, abs=1e-4)


# --- chains ----------------------------------------------------------------------------------------------------

INJECTOR = """
[[switch]]
id = "sw"
ports = 4
[[appliance]]
id = "inj"
bridges = true
[[appliance.port]]
id = "1"
to = "sw.1"
[[appliance.port]]
id = "2"
poe = "type 2"
poe_watts = "{}"
[[appliance]]
id = "cam"
poe = "class {}"
port = "inj.2"
cable = "cat 6, 30 m"
"""


def test_an_injector_feeds_what_is_behind_it() -> None:
    """An appliance that bridges feeds by its second port what its first port brings data for; its own limits hold."""
    assert told(INJECTOR.format("30 W", 4)) == []
    assert [f.rule for f in told(INJECTOR.format("30 W", 5))] == ["poe.type_too_low"]
    assert [f.rule for f in told(INJECTOR.format("15.4 W", 4))] == ["poe.port_watts"]
    wrong = INJECTOR.format("30 W", 4).replace('port = "inj.2"', 'port = "sw.2"')
    assert [f.rule for f in told(wrong)] == ["poe.not_a_poe_port"]


SPLITTER = """
[[switch]]
id = "sw"
poe_budget = "60 W"
[[switch.port]]
id = "1 .. 4"
poe = "type 2"
[[appliance]]
id = "sp"
poe = "class 3"
bridges = true
measured = [{ state = "busy", draw = "8 W" }]
[[appliance.outlet]]
id = "out"
volts = "5 V"
[[appliance.port]]
id = "in"
to = "sw.1"
[[appliance.port]]
id = "lan"
[[node]]
id = "n"
from = "sp.out"
volts = "5 V"
peak = "5 W"
"""


def test_a_splitter_feeds_a_board_by_its_outlet() -> None:
    """Behind a splitter the board has one supply, also if it could take PoE; with PoE of its own it has two."""
    board = SPLITTER + 'port = "sp.lan"\n'
    assert told(board) == []
    assert told(board + 'poe = "class 4"\n') == []
    both = SPLITTER + 'port = "sw.2"\npoe = "class 4"\n'
    assert [(f.rule, f.subjects) for f in told(both)] == [("poe.two_sources", ("n",))]
    assert told(SPLITTER + 'port = "sw.2"\n') == []
    bare = board.replace('measured = [{ state = "busy", draw = "8 W" }]\n', 'peak = "0.3 W"\n')
    assert [f.rule for f in told(bare)] == ["poe.outlets"]
    fed = BRICK + board.replace("bridges = true\n", 'bridges = true\nvolts = "12 V"\nfrom = "brick"\n')
    assert [(f.rule, f.subjects) for f in told(fed)] == [("poe.two_sources", ("sp",))]


PASSIVE_IN = """
[[appliance]]
id = "pin"
bridges = true
[[appliance.port]]
id = "lan"
to = "sw.1"
[[appliance.port]]
id = "out"
poe = "passive"
poe_volts = "24 V"
poe_pins = "all"
[[switch]]
id = "sw"
ports = 4
"""


def test_a_passive_injector() -> None:
    """It feeds the radio behind it, over all pairs with half the ohms; turned round it burns the switch."""
    radio = '[[appliance]]\nid = "r1"\npoe = "passive"\npoe_volts = "20 V .. 28 V"\npeak = "8 W"\nport = "pin.out"\n'
    cable = 'cable = "cat 6, 200 m"\n'
    assert told(PASSIVE_IN + radio + cable) == []
    one = told(PASSIVE_IN.replace('"all"', '"1,2,3,6"') + radio + cable)
    assert [f.rule for f in one] == ["poe.passive_volts"]
    text = PASSIVE_IN.replace('id = "lan"\nto = "sw.1"', 'id = "lan"').replace(
        'id = "out"', 'id = "out"\nto = "sw.1"'
    )
    assert [(f.rule, f.subjects) for f in told(text)] == [("poe.unasked", ("sw",))]


def test_two_ports_that_feed_each_other_are_told_once() -> None:
    """Passive against passive, against a typed port, and against one of a thing that takes PoE elsewhere."""
    ws = '[[switch]]\nid = "ws"\n{}[[switch.port]]\nid = "1"\npoe = "{}"\npoe_volts = "24 V"\n'
    ws += '[[switch.port]]\nid = "2"\nto = "sw.7"\n[[link]]\nfrom = "sw.10"\nto = "ws.1"\n'
    for keys, kind in (
        ("", "passive"),
        ("", "type 2"),
        ('poe = "class 1"\n', "type 2"),
        ('poe = "class 1"\n', "passive"),
    ):
        found = told(slipped('"165 W"', '"180 W"') + ws.format(keys, kind))
        assert [(f.rule, f.subjects) for f in found] == [("poe.unasked", ("ws",))], (keys, kind)
        assert f"ws.1 feeds the same cable ({kind})" in found[0].says


def test_where_to_plug_instead() -> None:
    """A thing that takes none is sent to ports without PoE, a passive one to passive ports, a class to typed ones."""
    (plain,) = told(slipped("", '[[node]]\nid = "n1"\nport = "sw.10"\n'))
    assert plain.remedy.startswith("free and without PoE: sw.11 and sw.12; ")
    (passive,) = told(slipped('to = "sw.9"', 'to = "sw.11"'))
    assert passive.remedy == "free and passive: sw.9 and sw.10"
    (typed,) = told(slipped('port = "sw.5"', 'port = "sw.10"'))
    assert typed.remedy == "free and of type 2 or above: sw.5"


def test_a_span_reads_well() -> None:
    """Radios of one span with the same slip are one finding that names them all."""
    radios = '[[appliance]]\nid = "r2 .. r3"\npoe = "passive"\nport = "sw.7 .. sw.8"\n'
    (found,) = told(PLAN + radios)
    assert found.subjects == ("r2", "r3")
    assert "no answer will come from r2 and r3" in found.says


def test_which_pins_is_asked_without_an_answer() -> None:
    """Where the pins of passive PoE are not said, all that can be said is named: one of them would be pasted unread."""
    text = '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1"\npoe = "passive"\npoe_volts = "24 V"\n'
    text += 'speed = "1 Gbit/s"\n[[appliance]]\nid = "r"\npoe = "passive"\n[[appliance.port]]\nid = "m"\nto = "sw.1"\n'
    text += 'speed = "1 Gbit/s"\n'
    (found,) = [f for f in told(text) if f.rule == "poe.passive_pins"]
    assert all(f'"{pins}"' in found.remedy for pins in ("1,2,3,6", "4,5,7,8", "all"))

"""Nets played anew: only what changes, and all that feeds it."""

from __future__ import annotations

from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.running import _Run
from coldcheck.workings.net import Branch
from coldcheck.workings.replay import replayed, solvable

BOOK = ours.rulebook(entry_points=False)
CLEAR = 'plug = "soldered"\nlead = "0 ohm"\n'
PLAN = (
    '[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
    '[[feed]]\nid = "bank"\nvolts = "24 V"\nspread = "0 %"\nplug = "soldered"\n'
    '[[feed]]\nid = "brick"\nvolts = "12 V"\nspread = "0 %"\nplug = "soldered"\n'
    '[[supply]]\nid = "s"\nfrom = "bank"\nefficiency = "50 %"\nstanding = "1 W"\n'
    + CLEAR
    + '[[supply.rail]]\nid = "5v"\nvolts = "5 V"\nspread = "0 %"\nplug = "soldered"\n'
    + '[[supply.rail]]\nid = "12v"\nvolts = "12 V"\nspread = "0 %"\nplug = "soldered"\n'
    + '[[node]]\nid = "a"\nfrom = "s.5v"\npeak = "10 W"\n'
    + CLEAR
    + '[[node]]\nid = "b"\nfrom = "s.12v"\npeak = "20 W"\n'
    + CLEAR
    + '[[node]]\nid = "c"\nfrom = "brick"\npeak = "5 W"\n'
    + CLEAR
)


def doubled(branch: Branch) -> None:
    """Let a branch draw 2 W more from 10 s on."""
    branch.steps = [(0.0, branch.draw.value), (10.0, branch.draw.value + 2)]


@pytest.fixture
def nets() -> Any:
    """Give the nets of the plan."""
    plan = ours.read_plan("t.toml", PLAN.encode(), ours.shelf(BOOK))
    return _Run(plan, BOOK).working("nets")


def test_what_feeds_a_change_follows_it(nets: Any) -> None:
    """2 W more behind a converter of 50 % are 4 W more of the feed: 2 × 10 W + 2 × 20 W + 1 W before, then 65 W."""
    new = replayed(nets, {}, lambda branch: branch.inlet.thing.id == "a", doubled)
    assert list(new) == ["s.5v", "bank"]
    assert [at for at, _ in new["bank"].worst.watts] == [0.0, 10.0]
    assert [watts for _, watts in new["bank"].worst.watts] == pytest.approx([61.0, 65.0])
    assert nets["bank"].worst.watts == [(0.0, pytest.approx(61.0))]  # the plan itself is as it was


def test_nothing_touched_is_nothing_played(nets: Any) -> None:
    """Where no branch changes there is nothing new."""
    assert replayed(nets, {}, lambda branch: False, doubled) == {}


def test_sources_without_volts_are_left_out() -> None:
    """A feed whose volts are not given has no answers, so it is passed over."""
    plan = ours.read_plan(
        "t.toml", b'[[feed]]\nid = "f"\n[[node]]\nid = "n"\nfrom = "f"\npeak = "1 W"\n', ours.shelf(BOOK)
    )
    nets = _Run(plan, BOOK).working("nets")
    assert not solvable(nets["f"])
    assert replayed(nets, {}, lambda branch: True, doubled) == {}


INSIDE = (
    '[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
    '[[feed]]\nid = "a"\nvolts = "12 V"\nspread = "2 %"\nplug = "soldered"\n'
    '[[inline]]\nid = "gnd"\nwhat = "return"\nfrom = "a"\nplug = "soldered"\nlead = "20 mohm"\n'
    '[[supply]]\nid = "c"\nfrom = "a"\nback = "gnd"\nefficiency = "50 %"\n'
    + CLEAR
    + '[[supply.rail]]\nid = "5v"\nvolts = "5 V"\nspread = "0 %"\nplug = "soldered"\n'
    + '[[node]]\nid = "n"\nfrom = "c.5v"\nback = "gnd"\npeak = "5 W"\n'
    + CLEAR
    + '[[drive]]\nid = "d"\nfrom = "a"\nback = "gnd"\nsurge = "2 A for 10 s"\npeak = "1 A"\n'
    + CLEAR
)


@pytest.mark.parametrize(
    "name", ["lantern-room", "gorse-hill", "tidepool-draft", "ferry-cabin", "converter inside"]
)
def test_no_change_is_the_plan_itself(name: str) -> None:
    """Every net played anew without a change gives the numbers of the plan: through converters, PoE, shared wires."""
    text = INSIDE.encode()
    if name != "converter inside":
        text = (ours.folder("inventories") / f"{name}.toml").read_bytes()
    run = _Run(ours.read_plan("t.toml", text, ours.shelf(BOOK)), BOOK)
    nets = run.working("nets")
    new = replayed(nets, run.working("poe_takes"), lambda branch: True, lambda branch: None)
    assert set(new) == {net.name for net in nets.values() if solvable(net)}
    for net in new.values():
        for mine, base in ((net.worst, nets[net.name].worst), (net.nominal, nets[net.name].nominal)):
            assert [at for at, _ in mine.total] == [at for at, _ in base.total]
            assert [amps for _, amps in mine.total] == pytest.approx([amps for _, amps in base.total])
            assert mine.volts == pytest.approx(base.volts)
            assert mine.amps == pytest.approx(base.amps)

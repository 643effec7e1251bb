"""Nets that hang together: whole plans against ngspice by a translation of their own, and against sums done by hand."""

from __future__ import annotations

import random
import subprocess
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from coldcheck.workings.circuits import Setting
from coldcheck.workings.net import Net, source_volts
from coldcheck.workings.what_if import variant

SOLDERED = '[[part]]\nid = "s"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
FERRY = Path(__file__).parents[2] / "inventories" / "ferry-cabin.toml"


def feed(name: str, volts: str, more: str = "") -> str:
    """Return a feed without spread."""
    spread = "" if "spread" in more or "low" in more else 'spread = "0 %"\n'
    more += "" if "ohms" in more else 'ohms = "0 ohm"\n'
    return f'[[feed]]\nid = "{name}"\nvolts = "{volts}"\nplug = "s"\n{spread}{more}'


def node(name: str, source: str, lead: str, peak: str, more: str = "", load: str = "current") -> str:
    """Return a board."""
    return (
        f'[[node]]\nid = "{name}"\nfrom = {source}\nplug = "s"\nlead = {lead}\npeak = "{peak}"\n'
        f'load = "{load}"\n{more}'
    )


def at(net: Net, name: str) -> int:
    """Return the number of the branch to an inlet."""
    return next(i for i, branch in enumerate(net.branches) if branch.inlet.name == name)


# --- against ngspice ------------------------------------------------------------------------------------------------


def deck(plan: Any, leads: Any, draws: Any, moment: float) -> str:
    """Write a plan of feeds, wires back and loads as a netlist: sources lowest, wires worn, both conductors.

    It walks the plan itself and knows nothing of nets, branches or circuits.
    """
    lines = ["a plan", ".options reltol=1e-9 vntol=1e-12 abstol=1e-12 gmin=1e-15 itl1=500"]
    for thing in plan.order:
        for outlet in thing.outlets:
            if thing.table == "feed":
                minus = "0" if thing.id == plan.order[0].id else f"{thing.id}_g"
                volts = source_volts(outlet)
                assert volts is not None
                name = node_of(outlet.name)
                lines.append(f"V_{name} p_{name} {minus} {volts[1]!r}")
        for inlet in thing.inlets:
            if inlet.source is None:
                continue
            lines += _leads(thing, inlet, leads.of(inlet).worst)
            source = inlet.source.root
            assert source_volts(source) is not None
            drawn = draws.of(inlet, source_volts(source)[0])  # type: ignore[index]
            value = drawn.surge[0][0] if drawn.surge and moment == 0 else drawn.value
            name = node_of(inlet.name)
            lines.append(f".nodeset v(p_{name})={source_volts(source)[1]!r}")  # type: ignore[index]
            across = f"p_{name} m_{name}"
            if drawn.unit == "W" and value:
                lines.append(f"B_{name} {across} I={value!r}/max(v(p_{name},m_{name}),1)")
            elif drawn.unit == "A" and value:
                lines.append(f"I_{name} {across} {value!r}")
    return "\n".join(lines) + "\n"


def node_of(name: str) -> str:
    """Return a name that ngspice takes for a node."""
    return name.replace(".", "_")


def _leads(thing: Any, inlet: Any, ohms: float) -> list[str]:
    """Return the two conductors of a lead, or the one of a shared wire back."""
    outlet, name = inlet.source, node_of(inlet.name)
    near = node_of(outlet.name if outlet.via is None else outlet.via.name)
    near_minus = "0" if outlet.via is None else f"m_{near}"
    if getattr(thing, "what", None) == "return":
        return [f"R_{name}_b m_{name} {near_minus} {ohms!r}"]
    if thing.way_back is not None:
        near_minus = f"m_{node_of(thing.way_back.name)}"
    half = max(ohms / 2, 1e-9)
    return [f"R_{name}_o p_{near} p_{name} {half!r}", f"R_{name}_b m_{name} {near_minus} {half!r}"]


def spice(text: str, inlets: list[str], folder: Path) -> dict[str, float]:
    """Run a netlist and return the volts across each inlet."""
    asked = "\n".join(f"print v(p_{node_of(n)})-v(m_{node_of(n)})" for n in inlets)
    (folder / "plan.cir").write_text(f"{text}.control\nset numdgt=12\nop\n{asked}\nquit\n.endc\n.end\n")
    done = subprocess.run(
        ["ngspice", "-b", "plan.cir"], cwd=folder, capture_output=True, check=False, timeout=60, text=True
    )
    found = [line.rpartition("=")[2] for line in done.stdout.splitlines() if line.startswith("v(p_")]
    assert len(found) == len(inlets), done.stdout + done.stderr
    return {name: float(value) for name, value in zip(inlets, found, strict=True)}


@pytest.mark.ngspice
def test_ferry_cabin_agrees_with_ngspice(worked: Any, tmp_path: Path) -> None:
    """Boards and disks on one wire back have the volts that ngspice gives, to 0.01 %, when the disks start together and
    when all is up; the boards have enough then, and too little in the start."""
    working = worked(FERRY.read_text(encoding="utf-8"))
    plan, leads, draws = working.plan, working.working("leads"), working.working("draws")
    nets: dict[str, Net] = working.working("nets")
    for moment in (0.0, 100.0):
        places = [
            (net, i)
            for net in nets.values()
            for i, branch in enumerate(net.branches)
            if not branch.is_return and branch.draw.value
        ]
        names = [net.branches[i].inlet.name for net, i in places]
        theirs = spice(deck(plan, leads, draws, moment), names, tmp_path)
        for net, i in places:
            low = Setting((1,) * len(net.together), worn=True)
            point = net.group.point(low, moment)
            ours_ = net.group.volts_at(point, net.together.index(net), i)
            assert ours_ == pytest.approx(theirs[net.branches[i].inlet.name], rel=1e-4)
        board = theirs["n1.header"]
        assert board < 4.75 if moment == 0 else board > 4.75


def random_plan(seed: int) -> str:
    """Return a plan of two rails with runs between, one or two wires back, and boards that go back by any of them."""
    r = random.Random(seed)

    def ohms(most: float) -> str:
        return f"{r.uniform(1, most):.3f} mohm"

    text = '[[feed]]\nid = "box"\n'
    for name, volts in (("lo", "5 V"), ("hi", "12 V")):
        text += (
            f'[[feed.outlet]]\nid = "{name}"\nvolts = "{volts}"\nspread = "{r.randint(0, 3)} %"\nplug = "s"\n'
        )
    places = ["box.lo", "box.hi"]
    for n in range(r.randint(1, 3)):
        text += f'[[inline]]\nid = "run{n}"\nwhat = "run"\nfrom = "{r.choice(places)}"\nplug = "s"\n'
        text += f'lead = "{ohms(20)}"\n[[inline.outlet]]\nid = "o"\nplug = "s"\n'
        places.append(f"run{n}.o")
    backs = []
    for n in range(r.randint(1, 2)):
        text += f'[[inline]]\nid = "back{n}"\nwhat = "return"\nfrom = "{r.choice(places)}"\nplug = "s"\n'
        text += f'lead = "{ohms(30)}"\n'
        backs.append(f'back = "back{n}"\n')
    for n in range(r.randint(2, 6)):
        draw = r.choice((f"{r.uniform(0.5, 4):.3f} W", f"{r.uniform(0.1, 1.5):.3f} A"))
        load = "power" if draw.endswith("W") else "current"
        text += node(f"n{n}", f'"{r.choice(places)}"', f'"{ohms(60)}"', draw, r.choice([*backs, ""]), load)
    return SOLDERED + text


@pytest.mark.ngspice
@pytest.mark.parametrize("seed", range(25))
def test_random_plans_agree_with_ngspice(worked: Any, tmp_path: Path, seed: int) -> None:
    """Whatever shares a run or a wire back, every board has the volts that ngspice gives, to 0.01 %."""
    working = worked(random_plan(seed))
    nets: dict[str, Net] = working.working("nets")
    places = [(net, i) for net in nets.values() for i, branch in enumerate(net.branches) if branch.draw.value]
    names = [net.branches[i].inlet.name for net, i in places]
    text = deck(working.plan, working.working("leads"), working.working("draws"), 100.0)
    theirs = spice(text, names, tmp_path)
    for net, i in places:
        if net.group:
            low = Setting((1,) * len(net.together), worn=True)
            ours = net.group.volts_at(net.group.point(low, 100.0), net.together.index(net), i)
        else:
            ours = net.worst.volts[i]
        assert ours == pytest.approx(theirs[net.branches[i].inlet.name], rel=1e-4)


# --- by hand --------------------------------------------------------------------------------------------------------

BOX = (
    '[[feed]]\nid = "box"\n[[feed.outlet]]\nid = "5v"\nvolts = "5 V"\nspread = "0 %"\nplug = "s"\n'
    '[[feed.outlet]]\nid = "12v"\nvolts = "12 V"\nspread = "0 %"\nplug = "s"\n'
    '[[inline]]\nid = "gnd"\nwhat = "return"\nfrom = "box.5v"\nplug = "s"\nlead = "50 mohm"\n'
)


def test_shared_way_back(worked: Any) -> None:
    """1 A on 5 V and 6 A on 12 V go back through 50 mohm: both lose 0.35 V there; 1 A loses 20 mV in its own lead."""
    text = SOLDERED + BOX + node("n", '"box.5v"', '"20 mohm"', "1 A", 'back = "gnd"\n')
    nets = worked(text + node("d", '"box.12v"', '"0 ohm"', "6 A", 'back = "gnd"\n')).working("nets")
    low, high = nets["box.5v"], nets["box.12v"]
    assert low.worst.volts[at(low, "n")] == pytest.approx(5 - 0.35 - 0.02, abs=1e-5)
    assert high.worst.volts[at(high, "d")] == pytest.approx(12 - 0.35, abs=1e-5)
    assert low.worst.amps[at(low, "gnd")] == pytest.approx(7.0)
    assert (low.worst.total[-1][1], high.worst.total[-1][1]) == pytest.approx((1.0, 6.0))


def test_lead_of_a_return_is_one_conductor(worked: Any) -> None:
    """A shared way back of 18 AWG, 1 m has half the resistance of a lead of 18 AWG, 1 m."""
    text = SOLDERED + BOX.replace("50 mohm", "18 AWG, 1 m") + node("n", '"box.5v"', '"18 AWG, 1 m"', "1 A")
    working = worked(text)
    leads, things = working.working("leads"), working.plan.things
    pair, single = leads.of(things["n"].inlets[0]), leads.of(things["gnd"].inlets[0])
    assert single.worst == pytest.approx(pair.worst / 2)
    assert single.nominal == pytest.approx(pair.nominal / 2)


BAR = '[[inline]]\nid = "bar"\nwhat = "splitter"\nfrom = ["a", "b"]\nplug = "s"\nlead = "0.1 ohm"\n'


def test_two_sources_share_by_resistance(worked: Any) -> None:
    """5 V through 0.1 ohm and 5 V through 0.1 ohm give 2 A each; with 5.1 V one gives 2.5 A and the other 1.5 A."""
    load = node("n", '"bar"', '"0 ohm"', "4 A")
    nets = worked(SOLDERED + feed("a", "5 V") + feed("b", "5 V") + BAR + load).working("nets")
    assert [nets[name].worst.total[-1][1] for name in "ab"] == pytest.approx([2.0, 2.0], abs=1e-5)
    nets = worked(SOLDERED + feed("a", "5.1 V") + feed("b", "5 V") + BAR + load).working("nets")
    # (5.1 - v) / 0.1 + (5 - v) / 0.1 = 4 gives v = 4.85
    assert [nets[name].worst.total[-1][1] for name in "ab"] == pytest.approx([2.5, 1.5], abs=1e-5)
    net = nets["a"]
    assert net.worst.volts[at(net, "bar.in1")] == pytest.approx(4.85, abs=1e-5)


def test_shares_are_enumerated(worked: Any) -> None:
    """Each of two sources of 4.9 .. 5.1 V carries most when it is high and the other low: (2 + 0.1 / 0.1) A = 3 A."""
    spread = 'spread = "2 %"\n'
    nets = worked(
        SOLDERED
        + feed("a", "5 V", spread)
        + feed("b", "5 V", spread)
        + BAR
        + node("n", '"bar"', '"0 ohm"', "4 A")
    ).working("nets")
    assert [nets[name].worst.total[-1][1] for name in "ab"] == pytest.approx([3.0, 3.0], abs=1e-5)
    net = nets["a"]
    assert net.worst.volts[at(net, "bar.in1")] == pytest.approx(4.9 - 0.2, abs=1e-5)
    setting, _ = net.worst.deciding[at(net, "bar.in1")]
    assert setting.told(net.together) == "a and b at their lowest, contacts worn"


def test_corners_are_the_worst_of_all(worked: Any) -> None:
    """What is kept as worst is the worst of every combination of source volts and wear, solved one by one."""
    text = SOLDERED + feed("a", "5 V", 'spread = "3 %"\n') + feed("b", "5 V", 'spread = "1 %"\n')
    text += BAR.replace('plug = "s"\n', "").replace('"0.1 ohm"', '["20 AWG, 1 m", "20 AWG, 2 m"]')
    net = worked(text + node("n", '"bar"', '"22 AWG, 300 mm"', "18 W", load="power")).working("nets")["a"]
    group, i = net.group, at(net, "n")
    every = []
    for a in (1, 2):
        for b in (1, 2):
            for worn, fresh in ((True, ""), (False, ""), (True, "bar.in1"), (True, "bar.in2")):
                volts = tuple(a if n is net else b for n in net.together)
                point = group.point(Setting(volts, worn, fresh), 0.0)
                k = net.together.index(net)
                every.append((group.volts_at(point, k, i), point.out[k]))
    assert net.worst.volts[i] == pytest.approx(min(volts for volts, _ in every), abs=1e-9)
    assert net.worst.total[-1][1] == pytest.approx(max(amps for _, amps in every), abs=1e-9)


def test_or_ed_sources_do_not_feed_each_other(worked: Any) -> None:
    """Of 5.2 V and 5 V through diodes the higher carries all while it stays above; nothing flows into the lower.

    Each may have to carry all by itself: 5 V behind 0.1 ohm then leaves 4.9 V at 1 A, with the other off.
    """
    inlets = "".join(
        f'[[node.inlet]]\nid = "{x}"\nplug = "s"\nvolts = "4 V .. 6 V"\nlead = "0.1 ohm"\n' for x in "uv"
    )
    text = SOLDERED + feed("a", "5.2 V") + feed("b", "5 V")
    text += f'[[node]]\nid = "n"\nfrom = ["a", "b"]\nuse = "or-ed"\npeak = "1 A"\nload = "current"\n{inlets}'
    nets = worked(text).working("nets")
    assert [nets[name].nominal.total[-1][1] for name in "ab"] == pytest.approx([1.0, 0.0], abs=1e-5)
    assert [nets[name].worst.total[-1][1] for name in "ab"] == pytest.approx([1.0, 1.0], abs=1e-5)
    assert [nets[name].alone.total[-1][1] for name in "ab"] == pytest.approx([1.0, 1.0], abs=1e-5)
    net = nets["a"]
    assert net.worst.volts[at(net, "n.u")] == pytest.approx(4.9, abs=1e-5)
    assert net.worst.deciding[at(net, "n.u")][0].told(net.together) == "a off, contacts worn"
    # 4 A: (5.2 - v) / 0.1 + (5 - v) / 0.1 = 4 gives v = 4.9, 3 A and 1 A
    nets = worked(text.replace('"1 A"', '"4 A"')).working("nets")
    assert [nets[name].nominal.total[-1][1] for name in "ab"] == pytest.approx([3.0, 1.0], abs=1e-4)


def test_diode_takes_its_drop(worked: Any) -> None:
    """Behind a diode of 0.5 V and 0.1 ohm of lead, 1 A leaves 4.4 V of 5 V, and 4.38 V at the end of 20 mohm more."""
    diode = '[[inline]]\nid = "x"\nwhat = "diode"\ndrop = "0.5 V"\nfrom = "a"\nplug = "s"\nlead = "0.1 ohm"\n'
    outlet = '[[inline.outlet]]\nid = "o"\nplug = "s"\n'
    net = worked(
        SOLDERED + feed("a", "5 V") + diode + outlet + node("n", '"x.o"', '"20 mohm"', "1 A")
    ).working("nets")["a"]
    assert net.worst.volts[at(net, "x")] == pytest.approx(4.9, abs=1e-5)
    assert net.worst.volts[at(net, "n")] == pytest.approx(4.38, abs=1e-5)


def test_converter_inside_a_group(worked: Any) -> None:
    """A converter and its load go back by one wire to the feed: 5 V × 2 A / 0.5 are taken from 24 V."""
    text = SOLDERED + feed("a", "24 V")
    text += '[[inline]]\nid = "gnd"\nwhat = "return"\nfrom = "a"\nplug = "s"\nlead = "0.1 ohm"\n'
    text += (
        '[[supply]]\nid = "c"\nfrom = "a"\nback = "gnd"\nplug = "s"\nlead = "0 ohm"\nefficiency = "50 %"\n'
    )
    text += '[[supply.rail]]\nid = "5v"\nvolts = "5 V"\nspread = "0 %"\nplug = "s"\n'
    nets = worked(text + node("n", '"c.5v"', '"0 ohm"', "2 A", 'back = "gnd"\n')).working("nets")
    wire = nets["a"].worst.amps[at(nets["a"], "gnd")]
    # the converter's own ground lies at the bar: all that comes back through the wire is what it takes in
    taken = nets["a"].worst.total[-1][1]
    assert wire == pytest.approx(taken)
    assert taken * (24 - 0.1 * taken) == pytest.approx(20.0)
    assert nets["c.5v"].worst.total[-1][1] == pytest.approx(2.0)


def test_a_block_with_inlets_of_its_own_joins_nothing(worked: Any) -> None:
    """A block that hands 5 V and 12 V on by outlets of their own is not taken for a bar on which they meet."""
    block = '[[inline]]\nid = "x"\nwhat = "splitter"\nfrom = ["a", "b"]\n'
    block += '[[inline.inlet]]\nid = "i"\n[[inline.inlet]]\nid = "j"\n'
    block += '[[inline.outlet]]\nid = "o"\ninlet = "i"\n[[inline.outlet]]\nid = "p"\ninlet = "j"\n'
    nets = worked(SOLDERED + feed("a", "5 V") + feed("b", "12 V") + block).working("nets")
    assert not nets["a"].group


def test_an_unknown_way_leaves_the_share_open(worked: Any) -> None:
    """Where the lead of one of two sources is not given, nothing is said to flow, and what is missing is named."""
    text = SOLDERED + feed("a", "5 V") + feed("b", "5.1 V") + BAR.replace('lead = "0.1 ohm"\n', "")
    nets = worked(text + node("n", '"bar"', '"0 ohm"', "4 A")).working("nets")
    assert not nets["a"].worst.volts
    assert "bar.in1 lead" in nets["a"].missing


def test_nothing_is_made_up_of_what_is_inside(worked: Any) -> None:
    """Two sources of which nothing is said but their volts count as equal: no current runs round by short leads."""
    text = SOLDERED + feed("a", "5 V") + feed("b", "5.1 V") + BAR.replace("0.1 ohm", "0 ohm")
    text = text.replace('plug = "s"\nspread = "0 %"\nohms = "0 ohm"\n', 'plug = "s"\nspread = "0 %"\n')
    text += node("n", '"bar"', '"0 ohm"', "4 A")
    nets = worked(text).working("nets")
    assert [nets[name].worst.total[-1][1] for name in "ab"] == pytest.approx([2.0, 2.0], abs=1e-4)
    own = 'ohms = "0.1 ohm"\n'
    text = SOLDERED + feed("a", "5 V", own) + feed("b", "5.1 V", own) + BAR.replace("0.1 ohm", "0 ohm")
    nets = worked(text + node("n", '"bar"', '"0 ohm"', "4 A")).working("nets")
    assert [nets[name].worst.total[-1][1] for name in "ab"] == pytest.approx([1.5, 2.5], abs=1e-4)


def test_nothing_flows_back_through_what_blocks(worked: Any) -> None:
    """Of 5.2 V and 5 V on inlets that are joined inside and let nothing out, the higher carries the 1 A alone."""
    text = SOLDERED + feed("a", "5.2 V") + feed("b", "5 V")
    text += '[[node]]\nid = "n"\nfrom = ["a", "b"]\nuse = "shared"\npeak = "1 A"\nload = "current"\n'
    for name in "uv":
        text += f'[[node.inlet]]\nid = "{name}"\nplug = "s"\nvolts = "4 V .. 6 V"\nlead = "0.05 ohm"\n'
        text += 'backfeed = "blocked"\n'
    nets = worked(text).working("nets")
    assert [nets[name].nominal.total[-1][1] for name in "ab"] == pytest.approx([1.0, 0.0], abs=1e-5)
    nets = worked(text.replace('backfeed = "blocked"', 'backfeed = "open"')).working("nets")
    assert nets["b"].nominal.total[-1][1] == pytest.approx(-1.5, abs=1e-4)


def test_way_adds_up(worked: Any) -> None:
    """What is lost on the way out and back, piece by piece, is what is missing at the inlet."""
    text = SOLDERED + BOX + node("n", '"box.5v"', '"20 mohm"', "1 A", 'back = "gnd"\n')
    net = worked(text + node("d", '"box.12v"', '"0 ohm"', "6 A", 'back = "gnd"\n')).working("nets")["box.5v"]
    i = at(net, "n")
    source, gives, way = net.group.way(net, i)
    assert (source, gives) == (net, 5.0)
    assert [(lost.where.inlet.name, lost.back) for lost in way] == [("n", False), ("n", True), ("gnd", True)]
    assert sum(lost.volts for lost in way) == pytest.approx(5 - net.worst.volts[i], abs=1e-9)


def test_what_if_leaves_the_net_as_it_is(worked: Any) -> None:
    """Trying a change returns another net: without the shared way back the board loses its own 20 mV alone."""
    text = SOLDERED + BOX + node("n", '"box.5v"', '"20 mohm"', "1 A", 'back = "gnd"\n')
    net = worked(text + node("d", '"box.12v"', '"0 ohm"', "6 A", 'back = "gnd"\n')).working("nets")["box.5v"]
    before = list(net.worst.volts)

    def change(branch: Any) -> None:
        if branch.inlet.name == "n":
            branch.way_back = None

    tried = variant(net, change)
    assert tried.worst.volts[at(tried, "n")] == pytest.approx(4.98, abs=1e-5)
    assert net.worst.volts == before
    assert net.branches[at(net, "n")].way_back is not None


# --- converters and what feeds them, solved as one ------------------------------------------------------------------

BANK = (
    feed("bank", "24 V")
    + '[[inline]]\nid = "gnd"\nwhat = "return"\nfrom = "bank"\nplug = "s"\nlead = "0 ohm"\n'
)


def supply(name: str, source: str, efficiency: str, more: str = "") -> str:
    """Return a converter without resistance at its input; its rails follow."""
    said = f'efficiency = "{efficiency}"\n' if efficiency else ""
    return f'[[supply]]\nid = "{name}"\nfrom = {source}\nplug = "s"\nlead = "0 ohm"\n{said}{more}'


def rail(name: str, volts: str) -> str:
    """Return a rail without spread."""
    return f'[[supply.rail]]\nid = "{name}"\nvolts = "{volts}"\nspread = "0 %"\nplug = "s"\nohms = "0 ohm"\n'


def test_every_rail_of_a_converter_in_a_group_counts(worked: Any) -> None:
    """5 V 2 A going back past the converter and 12 V 3 A that do not: (10 W + 36 W) / 0.5 are 3.833 A of 24 V."""
    text = SOLDERED + BANK + supply("c", '"bank"', "50 %") + rail("5v", "5 V") + rail("12v", "12 V")
    text += node("n", '"c.5v"', '"0 ohm"', "2 A", 'back = "gnd"\n') + node("m", '"c.12v"', '"0 ohm"', "3 A")
    nets = worked(text).working("nets")
    assert nets["bank"].worst.total[-1][1] == pytest.approx(46 / 0.5 / 24, rel=1e-4)


def test_a_chain_of_converters_with_a_way_around(worked: Any) -> None:
    """bank 12 V, mid 24 V, c 12.5 V and a thing on c or bank: while c carries, bank gives 25 W / 0.25 / 12 V."""
    text = SOLDERED + feed("bank", "12 V") + supply("mid", '"bank"', "50 %") + rail("r", "24 V")
    text += supply("c", '"mid.r"', "50 %") + rail("r", "12.5 V")
    text += '[[node]]\nid = "n"\nfrom = ["bank", "c.r"]\nuse = "or-ed"\npeak = "2 A"\nload = "current"\n'
    for name in "uv":
        text += f'[[node.inlet]]\nid = "{name}"\nplug = "s"\nvolts = "10 V .. 14 V"\nlead = "1 mohm"\n'
    nets = worked(text).working("nets")
    assert nets["bank"].nominal.total[-1][1] == pytest.approx(25 / 0.25 / 12, rel=1e-3)
    assert nets["mid.r"].nominal.total[-1][1] == pytest.approx(25 / 0.5 / 24, rel=1e-3)
    # with the bank off nothing is fed, and nothing is said to collapse
    assert all(net.worst.collapsed is None for net in nets.values())


def test_what_is_missing_below_is_named_above(worked: Any) -> None:
    """An efficiency that is not stated is missing on the net of the bank, too, in one group as in a tree."""
    text = SOLDERED + BANK + supply("c", '"bank"', "") + rail("5v", "5 V")
    text += node("n", '"c.5v"', '"0 ohm"', "2 A", 'back = "gnd"\n')
    assert "c.5v efficiency" in worked(text).working("nets")["bank"].missing


def test_an_or_ed_supply_takes_its_power_once(worked: Any) -> None:
    """60 W at 90 % from either of two banks of 24 V are 2.778 A in all, and at most that from each."""
    text = SOLDERED + feed("a", "24 V") + feed("b", "24 V")
    text += '[[supply]]\nid = "c"\nfrom = ["a", "b"]\nuse = "or-ed"\nefficiency = "90 %"\n'
    for name in "uv":
        text += f'[[supply.inlet]]\nid = "{name}"\nplug = "s"\nvolts = "20 V .. 30 V"\nlead = "1 mohm"\n'
    text += rail("r", "12 V") + node("n", '"c.r"', '"0 ohm"', "5 A")
    nets = worked(text).working("nets")
    assert sum(nets[name].nominal.total[-1][1] for name in "ab") == pytest.approx(60 / 0.9 / 24, rel=1e-3)
    assert [nets[name].worst.total[-1][1] for name in "ab"] == pytest.approx([60 / 0.9 / 24] * 2, rel=1e-3)
    assert all(net.worst.collapsed is None for net in nets.values())


def test_an_or_ed_supply_with_a_way_back_to_one_of_its_feeds(worked: Any) -> None:
    """It is one converter, whatever the number of its inlets: it takes 10 W / 0.5 from the higher of its feeds."""
    text = SOLDERED + feed("a", "24 V") + feed("b", "23 V")
    text += '[[inline]]\nid = "gnd"\nwhat = "return"\nfrom = "a"\nplug = "s"\nlead = "1 mohm"\n'
    text += '[[supply]]\nid = "c"\nfrom = ["a", "b"]\nuse = "or-ed"\nefficiency = "50 %"\n'
    for name in "uv":
        text += f'[[supply.inlet]]\nid = "{name}"\nplug = "s"\nvolts = "20 V .. 30 V"\nlead = "1 mohm"\n'
    text += rail("r", "5 V") + node("n", '"c.r"', '"0 ohm"', "2 A", 'back = "gnd"\n')
    nets = worked(text).working("nets")
    assert nets["a"].nominal.total[-1][1] == pytest.approx(20 / 24, rel=1e-3)


def test_standing_counts_once(worked: Any) -> None:
    """24 W standing and 10 W / 0.5 are 44 W, 1.833 A of 24 V."""
    text = SOLDERED + BANK + supply("c", '"bank"', "50 %", 'standing = "24 W"\n') + rail("5v", "5 V")
    nets = worked(text + node("n", '"c.5v"', '"0 ohm"', "2 A", 'back = "gnd"\n')).working("nets")
    assert nets["bank"].worst.total[-1][1] == pytest.approx(44 / 24, rel=1e-4)


@pytest.mark.parametrize("back", ['back = "gnd"\n', ""])
def test_a_curve_counts_at_its_load(worked: Any, back: str) -> None:
    """60, 90 and 80 % at 1, 10 and 50 W: 10 W are 10 / 0.9 W of the bank, in a group as in a tree."""
    text = (
        SOLDERED + BANK + supply("c", '"bank"', "60 % at 1 W, 90 % at 10 W, 80 % at 50 W") + rail("5v", "5 V")
    )
    nets = worked(text + node("n", '"c.5v"', '"0 ohm"', "2 A", back)).working("nets")
    assert nets["bank"].nominal.total[-1][1] == pytest.approx(10 / 0.9 / 24, rel=1e-4)


def test_a_curve_of_the_whole_supply_in_a_group(worked: Any) -> None:
    """Two rails of 50 W each go by the 90 % of 100 W, not twice by the 75 % of 50 W."""
    text = SOLDERED + BANK + supply("c", '"bank"', "60 % at 0 W, 90 % at 100 W")
    text += rail("a", "10 V") + rail("b", "5 V")
    text += node("n", '"c.a"', '"0 ohm"', "5 A", 'back = "gnd"\n') + node("m", '"c.b"', '"0 ohm"', "10 A")
    nets = worked(text).working("nets")
    assert nets["bank"].nominal.total[-1][1] == pytest.approx(100 / 0.9 / 24, rel=1e-4)


def test_five_straying_sources_by_brute_force(worked: Any) -> None:
    """Of five sources on two bars joined by a run, the worst amps of each run are those of all 32 combinations."""
    text = SOLDERED + "".join(feed(name, "5 V", 'spread = "2 %"\nohms = "0 ohm"\n') for name in "abcde")
    run = '[[inline]]\nid = "{}"\nwhat = "run"\nfrom = {}\nplug = "s"\nlead = "0.1 ohm"\n'
    text += run.format("p", '["a", "b", "c"]') + '[[inline.outlet]]\nid = "o"\nplug = "s"\n'
    text += run.format("q", '["p.o", "d", "e"]') + '[[inline.outlet]]\nid = "o"\nplug = "s"\n'
    nets = worked(text + node("n", '"q.o"', '"0 ohm"', "4 A")).working("nets")
    net = nets["a"]
    k, i = net.together.index(net), at(net, "q.in1")
    every = [
        net.group.amps_at(net.group.point(Setting(picks, True), 0.0), k, i)
        for picks in product((1, 2), repeat=5)
    ]
    assert net.worst.amps[i] == pytest.approx(max(every), rel=1e-6)
    assert max(every) > 2.0


def test_each_of_many_ways_may_be_the_fresh_one(worked: Any) -> None:
    """Of ten equal sources on one bar each may have the only fresh contacts, and then carries most."""
    names = "abcdefghij"
    text = '[[part]]\nid = "s"\nkind = "plug"\nohms = "5 mohm"\naged = "50 mohm"\n'
    text += "".join(feed(name, "5 V", 'ohms = "0 ohm"\n') for name in names)
    listed = ", ".join(f'"{name}"' for name in names)
    text += f'[[inline]]\nid = "bar"\nwhat = "run"\nfrom = [{listed}]\nplug = "s"\nlead = "0 ohm"\n'
    nets = worked(text + node("n", '"bar"', '"0 ohm"', "10 A")).working("nets")
    # 20 mohm beside nine times 200 mohm: 1/20 of (1/20 + 9/200) of 10 A
    assert [nets[name].worst.total[-1][1] for name in names] == pytest.approx(
        [10 * 0.05 / 0.095] * 10, rel=1e-3
    )

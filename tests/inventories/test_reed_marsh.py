"""Three switches, forty boards, two VLANs, PoE cameras, IPv6: judged as by hand, and each planted slip named once."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import pytest
import tomli

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import judge

PATH = ours.folder("inventories") / "reed-marsh.toml"
TEXT = PATH.read_text()
DAY = datetime.date(2026, 11, 1)
BOOK = ours.rulebook(entry_points=False)


def lint(text: str) -> list[Finding]:
    """Return every finding on a plan that asks for something to be done: reviews are left out."""
    plan = ours.read_plan("reed-marsh.toml", text.encode(), ours.shelf(BOOK))
    return [f for f in judge(plan, BOOK, DAY).findings if f.kind != "review" and not f.waived]


def working(name: str) -> Any:
    """Return one working of the plan as it stands."""
    from coldcheck.engine.running import _Run

    return _Run(ours.read_plan("reed-marsh.toml", TEXT.encode(), ours.shelf(BOOK)), BOOK).working(name)


def test_it_lints_clean() -> None:
    """The plan as it stands has nothing to mend."""
    assert lint(TEXT) == []


# --- by hand ---------------------------------------------------------------------------------------------------------


def test_poe_by_hand() -> None:
    """Six cameras of class 3 on 60 m of category 6.

    Reserved: 6 x 15.4 W = 92.4 W (IEEE 802.3 class table). A pair set of 60 m has the ohms of one conductor, 0.6 x 9.38
    = 5.628 ohm (category 6 limit). 12.95 W at the camera from 44 V: I = (44 - sqrt(44^2 - 4 x 5.628 x 12.95)) / (2 x
    5.628) = (44 - sqrt(1936 - 291.53)) / 11.256 = (44 - 40.552) / 11.256 = 0.3063 A at the type 1 minimum; the
    ports are type 2, 50 V: (50 - sqrt(2500 - 291.53)) / 11.256 = (50 - 46.9944) / 11.256 = 0.26702 A, so
    13.351 W at the port.
    """
    (budget,) = working("poe_budgets")
    assert budget.reserved == pytest.approx(92.4)
    assert budget.limit == pytest.approx(240 * 0.8)
    assert [feed.loop_ohms for feed in budget.feeds] == pytest.approx([5.628] * 6)
    assert budget.feeds[0].drawn == pytest.approx(13.351, abs=1e-3)


def test_share_by_hand() -> None:
    """Forty boards share the two cables of the archive: 2 Gbit/s x 1460 / 1538 / 40 = 47.46 Mbit/s each.

    Every other link has more: 10 Gbit/s for 20 boards is 500 Mbit/s, the port of a board 1 Gbit/s.
    """
    (share,) = working("storage_shares")
    assert share.bits == 2e9 / 40
    assert share.bits * 1460 / 1538 == pytest.approx(47.464e6, rel=1e-4)
    assert [str(bundle.lines[0]) for bundle in share.tight] == ["archive.eth1 to tower.1"]


def test_loads_by_hand() -> None:
    """Six cameras of 12 Mbit/s fill 75.8 Mbit/s of the bond; 200 Mbit/s go out, which are 210.7 on the line."""
    loads = {str(load.bundle.lines[0]): load.bits for load in working("link_loads")}
    assert loads["archive.eth1 to tower.1"] == pytest.approx(200e6 * 1538 / 1460)  # each direction by itself
    assert loads["tower.16 to warden"] == pytest.approx(210.685e6, rel=1e-4)
    assert loads["cam1.eth to tower.3"] == pytest.approx(12.641e6, rel=1e-4)


def test_segments_by_hand() -> None:
    """Two VLANs over three switches, the router and the archive: two segments with machines in them.

    Forty boards, two tagged doors of the archive (one bond), its management port, six cameras.
    """
    found = working("segments")
    by_vlan = {tuple(vlans): number for number, vlans in found.vlans.items() if vlans in ([10], [20])}
    rooms = [found.segment.count(by_vlan[vlan,]) for vlan in (10, 20)]
    assert rooms == [3 + 40 + 1 + 1 + 1, 3 + 6 + 1 + 1]  # switches, machines, archive, management, router


def test_what_fails_with_what_by_hand() -> None:
    """Without the tower all forty boards lose archive and router; without a hut's switch its twenty do."""
    lost = {getattr(f.at, "id", None) or str(f.at.lines[0]): len(f.who) for f in working("failures")}
    assert lost["tower"] == 40
    assert (lost["east"], lost["west"]) == (20, 20)
    assert lost["tower.17 to east.25"] == 20


# --- slips -----------------------------------------------------------------------------------------------------------

SLIPS = tomli.loads((Path(__file__).parent / "reed-marsh-slips.toml").read_text())["slip"]


@pytest.mark.parametrize("slip", SLIPS, ids=[slip["name"] for slip in SLIPS])
def test_each_slip_is_named_once(slip: dict[str, str]) -> None:
    """One slip in the plan gives one finding, and it names the slip."""
    assert slip["before"] in TEXT
    found = lint(TEXT.replace(slip["before"], slip["after"], 1))
    told = [f"{f.rule} {f.kind} {f.level}: {f.says}" for f in found]
    assert len(found) == 1, told
    assert found[0].rule == slip["rule"], told
    assert slip["at"] in found[0].says, told


def test_there_are_forty() -> None:
    """No slip is lost: forty and more, each of its own."""
    assert len({(slip["before"], slip["after"]) for slip in SLIPS}) == len(SLIPS) >= 40


#: Pairs in which one slip takes away the ground of the other, or is told in its place: the second name is not told.
EXCUSED = {
    ("two cables in one port", "the router without a tag"),
    ("two cables in one port", "too few spare ports"),
    ("a port that does not exist", "fibre too long"),
    ("a port that does not exist", "a board without a cable"),
    ("a port that does not exist", "too few spare ports"),
    ("the hut's cable forgotten", "too few spare ports"),
    ("a board without a cable", "the hut's cable forgotten"),
    ("cables of a bond in two switches", "the archive tags a VLAN its ports do not"),
    ("cables of a bond in two switches", "too few spare ports"),
    ("cables of a bond in two switches", "more than a link carries"),
    ("the archive tags a VLAN its ports do not", "more than a link carries"),
    ("the archive tags a VLAN its ports do not", "one stream wider than one cable"),
    ("a wildcard mask", "an address outside every subnet"),
    ("a wildcard mask", "an IPv6 address outside"),
    ("a wildcard mask", "a pool beyond its subnet"),
    ("a wildcard mask", "the gateway outside its subnet"),
    ("an address outside every subnet", "a prefix too long"),
    ("subnets that overlap", "an address outside every subnet"),
    ("subnets that overlap", "a pool beyond its subnet"),
    ("subnets that overlap", "the gateway outside its subnet"),
}
#: Nothing about the share of all boards can be told where some of them read nothing.
UNSHARED = ("a port that does not exist", "the hut's cable forgotten", "a board without a cable",
            "a copper cable in an SFP socket", "cables of a bond in two switches")  # fmt: skip


@pytest.mark.proof
@pytest.mark.parametrize("first", SLIPS, ids=[slip["name"] for slip in SLIPS])
def test_no_slip_hides_another(first: dict[str, str]) -> None:
    """Of two slips in one plan both are told, but for the pairs above; and they make no shower of findings."""
    once = TEXT.replace(first["before"], first["after"], 1)
    for second in SLIPS:
        if second is first or second["before"] not in once:
            continue
        text = once.replace(second["before"], second["after"], 1)
        if first["after"] not in text and second["after"] not in text:
            continue
        found = lint(text)
        told = {slip["name"] for slip in (first, second)
                if any(f.rule == slip["rule"] and slip["at"] in f.says for f in found)}  # fmt: skip
        both = {first["name"], second["name"]}
        for a, b in ((first["name"], second["name"]), (second["name"], first["name"])):
            if (a, b) in EXCUSED or (b == "more share than there is" and a in UNSHARED):
                both.discard(b)
        assert both <= told, (second["name"], [f"{f.rule}: {f.says}" for f in found])
        assert 1 <= len(found) <= 3, (second["name"], [f.rule for f in found])

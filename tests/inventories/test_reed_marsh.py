"""Three switches, forty boards, two VLANs, PoE cameras, IPv4 and IPv6: judged as by hand, and each planted slip once."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

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


# --- by hand -----------------------------------------------------------------------------------------------------------


def test_poe_by_hand() -> None:
    """Six cameras of class 3 on 60 m of category 6.

    Reserved: 6 x 15.4 W = 92.4 W (IEEE 802.3 class table). A pair set of 60 m has the ohms of one conductor, 0.6 x 9.38
    = 5.628 ohm (category 6 limit). 12.95 W at the camera from 44 V: I = (44 - sqrt(44^2 - 4 x 5.628 x 12.95)) / (2 x
    5.628) = (44 - sqrt(1936 - 291.53)) / 11.256 = (44 - 40.552) / 11.256 = 0.3063 A at the type 1 minimum; the ports are
    type 2, 50 V: (50 - sqrt(2500 - 291.53)) / 11.256 = (50 - 46.9944) / 11.256 = 0.26702 A, so 13.351 W at the port.
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
    """Six cameras of 12 Mbit/s fill 6 x 12 x 1538 / 1460 = 75.8 Mbit/s of the bond; 200 Mbit/s go out, 210.7 on the line."""
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


# --- slips ---------------------------------------------------------------------------------------------------------------

LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
HUT = 'to = "west.25"\ncable = "OM3, 240 m"\n'

#: What is planted: a name, what stands there, what is written instead, the rule that names it, and at what.
SLIPS = [
    ("two cables in one port", 'to = "tower.15"', 'to = "tower.16"', "ports.double_booked", "tower.16"),
    ("a port that does not exist", 'from = "tower.18"', 'from = "tower.19"', "ports.unknown", "tower"),
    ("the hut's cable forgotten", LINK.format("tower.18", "west.25") + 'cable = "OM3, 240 m"\n', "", "topology.cut_off", "west"),
    ("a cable back to its own switch", HUT, HUT + LINK.format("west.23", "west.24"), "ports.self_link", "west"),
    ("fibre too long", "OM3, 240 m", "OM3, 310 m", "cables.fibre", "310 m"),
    ("copper too long", "cat 6, 80 m", "cat 6, 101 m", "ports.cable_speed", "101 m"),
    ("a copper cable in an SFP socket", '"OM3, 120 m"', '"cat 6, 20 m"', "cables.plug", "tower.17"),
    ("wrong VLAN at the ports of a hut", 'id = "east"\npart = "switch-26-managed"\nfrom = "brick1"\nmac = '
     '"02:00:00:60:00:02"\n\n[[switch.port]]\nid = "1 .. 20"\nvlan = 10', 'id = "east"\npart = "switch-26-managed"\n'
     'from = "brick1"\nmac = "02:00:00:60:00:02"\n\n[[switch.port]]\nid = "1 .. 20"\nvlan = 20', "segments.", "e1 .. e20"),
    ("cameras in the wrong VLAN", 'id = "3 .. 8" # cameras\nvlan = 20', 'id = "3 .. 8" # cameras\nvlan = 10', "segments.", "cam"),
    ("a tag missing at one end of a trunk", 'id = "17 .. 18" # the two huts\ntagged = [10, 20]',
     'id = "17 .. 18" # the two huts\ntagged = [20]', "vlans.", "10"),
    ("untagged VLANs that differ", 'id = "17 .. 18" # the two huts\ntagged = [10, 20]',
     'id = "17 .. 18" # the two huts\nvlan = 30\ntagged = [10, 20]', "vlans.", "30"),
    ("a VLAN id beyond 4094", "vlan = 20\ntitle", "vlan = 4095\ntitle", "vlans.", "4095"),
    ("the router without a tag", 'speed = "1 Gbit/s"\ntagged = [10, 20]', 'speed = "1 Gbit/s"\ntagged = [10]', "vlans.", "20"),
    ("the archive tags a VLAN its ports do not", 'count as one\ntagged = [10, 20]', 'count as one\ntagged = [10]', "vlans.", "archive"),
    ("cables of a bond in two switches", 'to = "tower.1 .. tower.2"', 'to = ["tower.1", "east.21"]', "", "archive"),
    ("PoE budget", 'part = "switch-18-poe-plus-240w-54v"', 'part = "switch-18-poe-plus-240w-54v"\npoe_budget = "100 W"', "poe.budget", "tower"),
    ("cameras of a higher class", 'part = "camera-poe-class-3"', 'part = "camera-poe-class-3"\npoe = "class 5"', "poe.type_too_low", "cam1 .. cam6"),
    ("a board without a cable", 'port = "west.1 .. west.20"\n', "", "ports.no_link", "w1 .. w20"),
    ("an address twice", "10.60.10.31 .. 10.60.10.50", "10.60.10.30 .. 10.60.10.49", "addresses.duplicate", "10.60.10.30"),
    ("an address outside every subnet", "10.60.20.31 .. 10.60.20.36", "10.60.21.31 .. 10.60.21.36", "addresses.no_subnet", "10.60.21"),
    ("an IPv6 address outside", "fd5a:93c1:27e4:20::31 .. fd5a:93c1:27e4:20::36",
     "fd5a:93c1:27e4:2::31 .. fd5a:93c1:27e4:2::36", "addresses.no_subnet", "fd5a:93c1:27e4:2::31"),
    ("a fixed address inside the pool", "10.60.10.200 ..", "10.60.10.45 ..", "pools.fixed_inside", "10.60.10.45"),
    ("a pool beyond its subnet", "10.60.10.249", "10.60.11.9", "pools.outside", "10.60.11.9"),
    ("a leading zero", 'gateway = "10.60.20.1"\nvlan', 'gateway = "10.60.20.01"\nvlan', "addresses.unreadable", "leading zero"),
    ("a scoped address", '"fd5a:93c1:27e4:20::5"]', '"fe80::5%eth0"]', "addresses.unreadable", "fe80::5%eth0"),
    ("a wildcard mask", 'prefix = "10.60.20.0/24"', 'prefix = "10.60.20.0/0.0.0.255"', "addresses.unreadable", "wildcard"),
    ("a prefix off its boundary", 'prefix = "10.60.20.0/24"', 'prefix = "10.60.20.64/24"', "subnets.host_bits", "10.60.20.64/24"),
    ("a prefix too long", 'prefix = "10.60.20.0/24"', 'prefix = "10.60.20.0/27"', "", "10.60.20.0/27"),
    ("a LAN longer than /64", 'prefix = "fd5a:93c1:27e4:20::/64"', 'prefix = "fd5a:93c1:27e4:20::/80"', "", "/80"),
    ("subnets that overlap", 'prefix = "10.60.20.0/24"', 'prefix = "10.60.0.0/16"', "subnets.overlap", "10.60.0.0/16"),
    ("the gateway outside its subnet", 'gateway = "10.60.20.1"\nvlan', 'gateway = "10.60.21.1"\nvlan', "subnets.gateway", "10.60.21.1"),
    ("more hosts than fit", "hosts = 60", "hosts = 300", "sizes.", "300"),
    ("a MAC twice", '"02:00:00:60:00:03"', '"02:00:00:60:00:02"', "addresses.hardware", "02:00:00:60:00:02"),
    ("a group address for a MAC", '"02:00:00:60:00:03"', '"03:00:00:60:00:03"', "addresses.hardware", "west"),
    ("a name with an underscore", 'id = "archive"\nat', 'id = "archive"\nname = "the_archive"\nat', "names.", "archive"),
    ("a domain of multicast DNS", "marsh.internal", "marsh.local", "names.", "local"),
    ("a second server of leases", 'gateway = ["10.60.10.1", "fd5a:93c1:27e4:10::1"]',
     'gateway = ["10.60.10.1", "fd5a:93c1:27e4:10::1"]\nserves = "dhcp"', "dhcp.", "archive"),
    ("more than a link carries", 'speed = "200 Mbit/s"', 'speed = "960 Mbit/s"', "throughput.", ""),
    ("one stream wider than one cable", 'to = "archive"\nspeed = "12 Mbit/s"', 'to = "archive"\nspeed = "95 Mbit/s"', "throughput.flow", "cam"),
    ("more share than there is", '"47 Mbit/s"', '"48 Mbit/s"', "throughput.share", "40 nodes"),
    ("a priority that is none", "priority = 4096", "priority = 1000", "topology.priority", "1000"),
    ("long packets at one machine only", '[[storage.port]]\nid = "mgmt"', 'mtu = 9000\n\n[[storage.port]]\nid = "mgmt"', "mtu.differs", "archive"),
    ("too few spare ports", "priority = 4096", "spare_ports = 7\npriority = 4096", "ports.count", "tower"),
    ("a fixed speed against a negotiating port", 'id = "3 .. 8" # cameras\n', 'id = "3 .. 8" # cameras\nspeed = "100 Mbit/s"\nnegotiates = false\nduplex = "full"\n', "", "cam"),
    ("a cable that does not reach", "cat 6, 1 m", "cat 6, 0.5 m", "", "archive"),
]  # fmt: skip


@pytest.mark.parametrize(("before", "after", "rule", "at"), [s[1:] for s in SLIPS], ids=[s[0] for s in SLIPS])
def test_each_slip_is_named_once(before: str, after: str, rule: str, at: str) -> None:
    """One slip in the plan gives one finding, and it names the slip."""
    assert before in TEXT
    found = lint(TEXT.replace(before, after, 1))
    told = [f"{f.rule} {f.kind} {f.level}: {f.says}" for f in found]
    assert len(found) == 1, told
    assert found[0].rule.startswith(rule), told
    assert at in found[0].says, told

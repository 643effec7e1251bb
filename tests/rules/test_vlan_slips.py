"""Slips in VLANs: each single mistake in a plan with two of them is told once, by the rule that has its cause."""

from __future__ import annotations

import datetime
import re

import pytest

from coldcheck import ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.loading import Rulebook
from coldcheck.engine.running import judge
from coldcheck.plan.edit import apply

DAY = datetime.date(2026, 11, 1)

#: Two switches with two VLANs, a third that knows none, a store that tags, a router outside, both families, DHCP.
BOX = """
[[switch]]
id = "a"
vlans = true
address = "10.20.10.2"
ports = 16

[[switch.port]]
id = "1 .. 4"
vlan = 10

[[switch.port]]
id = "5 .. 8"
vlan = 20

[[switch.port]]
id = "9"
tagged = [10, 20]

[[switch.port]]
id = "15"
tagged = [10, 20]

[[switch.port]]
id = "16"
tagged = [10, 20]

[[switch]]
id = "b"
vlans = true
address = "10.20.10.3"
ports = 16

[[switch.port]]
id = "1 .. 2"
vlan = 20

[[switch.port]]
id = "3"
vlan = 10

[[switch.port]]
id = "4"
vlan = 20

[[switch.port]]
id = "16"
tagged = [10, 20]

[[switch]]
id = "u"
vlans = false
ports = 8

[[link]]
from = "a.16"
to = "b.16"

[[link]]
from = "u.8"
to = "b.3"

[[node]]
id = "n1 .. n4"
port = "a.1 .. a.4"
address = ["10.20.10.11 .. 10.20.10.14", "fd5a:8c31:7e42:10::11 .. fd5a:8c31:7e42:10::14"]

[[node]]
id = "m1 .. m4"
port = "a.5 .. a.8"
address = ["10.20.20.11 .. 10.20.20.14", "fd5a:8c31:7e42:20::11 .. fd5a:8c31:7e42:20::14"]

[[node]]
id = "m5"
port = "b.1"
address = "10.20.20.15"

[[node]]
id = "m6"
port = "b.2"
address = ["10.20.20.16", "fd5a:8c31:7e42:20::16"]

[[node]]
id = "n5"
port = "u.1"
address = ["10.20.10.15", "fd5a:8c31:7e42:10::15"]

[[node]]
id = "w1"
port = "u.2"

[[storage]]
id = "store"
port = "a.9"
tagged = [10, 20]
gateway = "10.20.10.1"
address = ["10.20.10.20", "10.20.20.20", "fd5a:8c31:7e42:10::20", "fd5a:8c31:7e42:20::20"]

[[subnet]]
prefix = "10.20.10.0/24"
gateway = "10.20.10.1"
vlan = 10

[[subnet]]
prefix = "10.20.20.0/24"
gateway = "10.20.20.1"
vlan = 20

[[subnet]]
prefix = "fd5a:8c31:7e42:10::/64"
vlan = 10

[[subnet]]
prefix = "fd5a:8c31:7e42:20::/64"
vlan = 20

[[pool]]
for = "dhcp"
range = "10.20.10.100 .. 10.20.10.149"
by = "router"

[[pool]]
for = "dhcp"
range = "10.20.20.100 .. 10.20.20.149"
by = "store"

[[outside]]
id = "router"
serves = "dhcp"
address = ["10.20.10.1", "10.20.20.1"]

[[uplink]]
from = "a.15"
to = "router"
tagged = [10, 20]
"""


@pytest.fixture(scope="module")
def book() -> Rulebook:
    """Give all built-in rules."""
    return ours.rulebook(entry_points=False)


def told(book: Rulebook, text: str) -> list[Finding]:
    """Return what the whole rulebook says of a plan at the level of errors and warnings, open ones included."""
    plan = ours.read_plan("box.toml", text.encode(), ours.shelf(book))
    found = judge(plan, book, DAY).findings
    return [f for f in found if (f.level or f.leaves) in ("error", "warning") and f.rule != "rails.unfed"]


def test_the_box_is_clean(book: Rulebook) -> None:
    """The plan in which the slips are planted has no error and no warning."""
    assert [f"{f.rule}: {f.says}" for f in told(book, BOX)] == []


def slip(*changes: str) -> str:
    """Return the box with texts replaced, in pairs of old and new; each old one stands there once."""
    text = BOX
    for old, new in zip(changes[::2], changes[1::2], strict=True):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


A_UP = 'id = "16"\ntagged = [10, 20]\n\n[[switch]]\nid = "b"'
B_UP = 'id = "16"\ntagged = [10, 20]\n\n[[switch]]\nid = "u"'
ROUTER = 'id = "15"\ntagged = [10, 20]'
STORE = 'id = "9"\ntagged = [10, 20]'
LAN4 = 'gateway = "10.20.10.1"\nvlan = 10'
LAN6 = 'prefix = "fd5a:8c31:7e42:10::/64"\nvlan = 10'
UPLINK = 'to = "router"\ntagged = [10, 20]'

OWN_ROUTER = (
    '[[outside]]\nid = "router"\nserves = "dhcp"\naddress = ["10.20.10.1", "10.20.20.1"]\n', "",
    '[[uplink]]\nfrom = "a.15"\nto = "router"\ntagged = [10, 20]\n',
    '[[node]]\nid = "fw"\nserves = "dhcp"\ntagged = [10, 20]\naddress = ["10.20.10.1", "10.20.20.1"]\n'
    '[[node.port]]\nid = "in"\nto = "a.15"\n[[node.port]]\nid = "out"\n[[uplink]]\nfrom = "fw.out"\nto = "the hall"\n',
    'by = "router"', 'by = "fw"',
)  # fmt: skip
PORTS, REST = BOX.split("[[link]]", 1)[0], "[[link]]" + BOX.split("[[link]]", 1)[1]
AP = '[[appliance]]\nid = "ap"\nbridges = true\naddress = "10.20.10.40"\nport = "a.10"\n'
MANAGED = (
    'address = "10.20.10.3"\n', "",
    B_UP, B_UP.replace("\n\n", '\n[[switch.port]]\nid = "mgmt"\nfor = "management"\naddress = "10.20.10.3"\n'
                       'to = "a.10"\n\n'),
)  # fmt: skip


def _two_cables(trunk: str) -> str:
    """Return the end of a trunk with a second port beside it, both of a known speed."""
    fast = 'speed = "1 Gbit/s"\ntagged = '
    second = f'\n[[switch.port]]\nid = "14"\n{fast}BOTH\n\n'
    return (
        trunk.replace("tagged = ", fast).replace("\n\n", second).replace('id = "b"', 'bonds = true\nid = "b"')
    )


BOND = (
    A_UP, _two_cables(A_UP),
    B_UP, _two_cables(B_UP),
    '[[switch]]\nid = "a"', '[[switch]]\nbonds = true\nid = "a"',
    'to = "b.16"\n', 'to = "b.16"\nbond = "t"\n[[link]]\nfrom = "a.14"\nto = "b.14"\nbond = "t"\n',
)  # fmt: skip

SLIPS = {
    "one board's port in the other VLAN": (
        slip('id = "1 .. 4"\nvlan = 10', 'id = "1 .. 3"\nvlan = 10\n[[switch.port]]\nid = "4"\nvlan = 20'),
        "segments.wrong_vlan", "n4", "error"),
    "a span of ports in the other VLAN": (
        slip('id = "1 .. 4"\nvlan = 10', 'id = "1 .. 4"\nvlan = 20'), "segments.wrong_vlan", "n1", "error"),
    "a span of ports in a VLAN of nobody": (
        slip('id = "1 .. 4"\nvlan = 10', 'id = "1 .. 4"\nvlan = 11'), "segments.wrong_vlan", "n1", "error"),
    "a span of ports without its VLAN": (
        slip('id = "1 .. 4"\nvlan = 10', 'id = "1 .. 4"'), "segments.wrong_vlan", "n1", "error"),
    "a single port in a VLAN of nobody": (
        slip('id = "1 .. 2"\nvlan = 20', 'id = "1"\nvlan = 20\n[[switch.port]]\nid = "2"\nvlan = 200'),
        "segments.wrong_vlan", "m6", "error"),
    "the port of the switch without VLANs in the other VLAN": (
        slip('id = "3"\nvlan = 10', 'id = "3"\nvlan = 20'), "segments.wrong_vlan", "n5", "error"),
    "a board plugged into a port of the other VLAN": (
        slip('id = "m5"\nport = "b.1"', 'id = "m5"\nport = "u.3"'), "segments.wrong_vlan", "m5", "error"),
    "a span of boards plugged into ports of the other VLAN": (
        slip('port = "a.1 .. a.4"', 'port = "a.5 .. a.8"', 'id = "m1 .. m4"\nport = "a.5 .. a.8"\n',
             'id = "m1 .. m4"\nport = "a.10 .. a.13"\n', 'id = "5 .. 8"\nvlan = 20',
             'id = "5 .. 8"\nvlan = 20\n[[switch.port]]\nid = "10 .. 13"\nvlan = 20'),
        "segments.wrong_vlan", "n1", "error"),
    "an address of the other VLAN": (
        slip('address = "10.20.20.15"', 'address = "10.20.10.35"'), "segments.wrong_vlan", "m5", "error"),
    "one of two addresses of the other VLAN": (
        slip('"10.20.20.16"', '"10.20.10.36"'), "segments.wrong_vlan", "m6", "error"),
    "a subnet in the other VLAN": (slip(LAN4, LAN4.replace("vlan = 10", "vlan = 20")), "segments.wrong_vlan",
                                   "10.20.10.0/24", "error"),
    "a subnet in a VLAN of nobody": (slip(LAN4, LAN4.replace("vlan = 10", "vlan = 30")), "segments.wrong_vlan",
                                     "10.20.10.0/24", "error"),
    "an IPv6 subnet in the other VLAN": (slip(LAN6, LAN6.replace("vlan = 10", "vlan = 20")), "segments.wrong_vlan",
                                         "fd5a:8c31:7e42:10::/64", "error"),
    "a subnet of nobody in a VLAN of nobody": (
        BOX + '[[subnet]]\nprefix = "10.20.30.0/24"\nvlan = 30\n', "vlans.nobody", "10.20.30.0/24", "error"),
    "a reserved id at ports": (
        slip('id = "1 .. 4"\nvlan = 10', 'id = "1 .. 4"\nvlan = 4095'), "vlans.bad_id", "a.1", "error"),
    "an id of thirteen bits in a trunk": (slip(A_UP, A_UP.replace("20", "4200")), "vlans.bad_id", "a.16", "error"),
    "a reserved id of a subnet": (
        slip(LAN4, LAN4.replace("vlan = 10", "vlan = 4095")), "vlans.bad_id", "subnet 10.20.10.0/24", "error"),
    "an id of none at a machine": (
        slip('port = "a.9"\ntagged = [10, 20]', 'port = "a.9"\ntagged = [10, 0]'), "vlans.bad_id", "store", "error"),
    "an id of none at the uplink": (
        slip(UPLINK, UPLINK.replace("20", "0")), "vlans.bad_id", "the uplink to router", "error"),
    "an id with a tag and without": (slip(A_UP, A_UP.replace("tagged", "vlan = 10\ntagged")), "vlans.twice", "a.16",
                                     "error"),
    "a tag missing at one end of the trunk": (slip(A_UP, A_UP.replace("[10, 20]", "10")), "vlans.ends", "a.16",
                                              "error"),
    "a tag missing at the other end": (slip(B_UP, B_UP.replace("[10, 20]", "20")), "vlans.ends", "a.16", "error"),
    "no tag at one end": (slip(B_UP, B_UP.replace("tagged = [10, 20]\n", "")), "vlans.ends", "a.16", "error"),
    "a tag for another one": (slip(B_UP, B_UP.replace("20", "30")), "vlans.ends", "a.16", "error"),
    "a tag missing at both ends": (
        slip(A_UP, A_UP.replace("[10, 20]", "10"), B_UP, B_UP.replace("[10, 20]", "10")), "segments.parted", "m5",
        "error"),
    "a tag too many at one end": (slip(B_UP, B_UP.replace("20", "20, 30")), "vlans.ends", "a.16", "warning"),
    "untagged VLANs that differ": (
        slip(A_UP, A_UP.replace("tagged = [10, 20]", "vlan = 10\ntagged = 20"), B_UP,
             B_UP.replace("tagged = [10, 20]", "vlan = 20\ntagged = 10")), "vlans.ends", "a.16", "error"),
    "untagged VLANs of nobody that differ": (
        slip(B_UP, B_UP.replace("tagged", "vlan = 99\ntagged")), "vlans.ends", "a.16", "warning"),
    "a trunk end that carries its VLAN untagged": (
        slip(B_UP, B_UP.replace("tagged = [10, 20]", "vlan = 10\ntagged = 20")), "vlans.ends", "a.16", "error"),
    "a port that lacks a tag of its machine": (slip(STORE, STORE.replace("[10, 20]", "10")), "vlans.machine", "store",
                                               "error"),
    "an untagged port before a machine that tags": (
        slip(STORE, STORE.replace("tagged = [10, 20]", "vlan = 10")), "vlans.machine", "store", "error"),
    "a machine that tags one VLAN of two": (
        slip('port = "a.9"\ntagged = [10, 20]', 'port = "a.9"\ntagged = 10'), "segments.wrong_vlan", "store", "error"),
    "a machine that tags nothing": (
        slip('port = "a.9"\ntagged = [10, 20]', 'port = "a.9"'), "segments.wrong_vlan", "store", "error"),
    "a machine that expects another VLAN": (
        slip('port = "b.1"', 'port = "b.1"\nvlan = 10'), "vlans.machine", "m5", "error"),
    "a board without an address at a port of tags": (
        BOX + '[[node]]\nid = "w2"\nport = "a.10"\n',
        "dhcp.unserved", "w2", "warning"),
    "a switch without VLANs in both": (BOX + '[[link]]\nfrom = "u.7"\nto = "b.4"\n', "segments.leak", "u", "error"),
    "a switch that keeps no VLANs": (slip('id = "b"\nvlans = true', 'id = "b"\nvlans = false'), "vlans.not_kept", "b",
                                     "error"),
    "an uplink that lacks a tag": (slip(UPLINK, UPLINK.replace("[10, 20]", "10")), "vlans.ends", "a.15", "error"),
    "the port of the uplink lacks a tag": (slip(ROUTER, ROUTER.replace("[10, 20]", "10")), "vlans.ends", "a.15",
                                           "error"),
    "the port of a silent uplink lacks a tag": (
        slip(ROUTER, ROUTER.replace("[10, 20]", "10"), UPLINK, 'to = "router"'), "segments.gateway", "a.15", "error"),
    "an uplink without tags": (
        slip(ROUTER, ROUTER.replace("tagged = [10, 20]", "vlan = 10"), UPLINK, 'to = "router"'),
        "segments.gateway", "a.15", "error"),
    "an uplink of another VLAN": (
        slip(ROUTER, ROUTER.replace("tagged = [10, 20]", "vlan = 10\ntagged = 20"), UPLINK,
             'to = "router"\nvlan = 1\ntagged = [10, 20]'), "vlans.ends", "a.15", "error"),
    "a second DHCP server": (
        slip('id = "m5"\nport', 'id = "m5"\nserves = "dhcp"\nport'), "dhcp.two_servers", "m5", "error"),
    "a DHCP server of the other VLAN": (slip('by = "store"', 'by = "n5"'), "pools.by_a_stranger", "10.20.20.100",
                                        "error"),
    "the management of a switch in a VLAN it lacks": (
        slip(A_UP, A_UP.replace("[10, 20]", "20"), B_UP, B_UP.replace("[10, 20]", "20"), 'id = "3"\nvlan = 10',
             'id = "3"\nvlan = 20', 'id = "n5"\nport = "u.1"', 'id = "n5"\nport = "a.10"', 'id = "w1"\nport = "u.2"',
             'id = "w1"\nport = "a.11"', 'id = "5 .. 8"\nvlan = 20',
             'id = "5 .. 8"\nvlan = 20\n[[switch.port]]\nid = "10 .. 11"\nvlan = 10'),
        "segments.wrong_vlan", "b", "error"),
    "the port of the switch without VLANs in a VLAN of nobody": (
        slip('id = "3"\nvlan = 10', 'id = "3"\nvlan = 30'), "segments.wrong_vlan", "n5", "error"),
    "an id of none among the tags of a board's port": (
        slip('id = "1 .. 4"\nvlan = 10', 'id = "1 .. 4"\ntagged = [10, 4095]'), "vlans.bad_id", "a.1", "error"),
    "an id of none among the tags of the port of the switch without VLANs": (
        slip('id = "3"\nvlan = 10', 'id = "3"\ntagged = [10, 4095]'), "vlans.bad_id", "b.3", "error"),
    "no cable between the two switches": (
        slip('[[link]]\nfrom = "a.16"\nto = "b.16"\n', ""), "topology.cut_off", "b", "error"),
    "a trunk in a port of which nothing is said": (
        slip('to = "b.16"', 'to = "b.9"'), "vlans.ends", "a.16", "error"),
    "an uplink in a port of which nothing is said": (
        slip('from = "a.15"', 'from = "a.10"'), "vlans.ends", "a.10", "error"),
    "a silent uplink in a port of which nothing is said": (
        slip('from = "a.15"\nto = "router"\ntagged = [10, 20]', 'from = "a.10"\nto = "router"'),
        "segments.gateway", "a.10", "error"),
    "an uplink whose far end expects a third VLAN": (
        slip(ROUTER, ROUTER.replace("tagged = [10, 20]", "vlan = 10\ntagged = 20"), UPLINK,
             'to = "router"\nvlan = 30\ntagged = 20'), "vlans.ends", "a.15", "error"),
    "the switch without VLANs in a port of the other VLAN": (
        slip('to = "b.3"', 'to = "b.4"'), "segments.wrong_vlan", "n5", "error"),
    "a VLAN given to the switch that knows none": (
        slip("vlans = false\n", "vlans = false\nvlan = 10\n"), "vlans.not_kept", "u", "error"),
    "a core switch that keeps no VLANs": (
        slip('id = "a"\nvlans = true', 'id = "a"\nvlans = false'), "vlans.not_kept", "a", "error"),
    "a machine that tags a VLAN of nobody": (
        slip('port = "a.9"\ntagged = [10, 20]', 'port = "a.9"\ntagged = [10, 21]'), "vlans.machine", "store", "error"),
    "two subnets in a VLAN of nobody": (
        slip(LAN4, LAN4.replace("vlan = 10", "vlan = 30"), LAN6, LAN6.replace("vlan = 10", "vlan = 30")),
        "segments.wrong_vlan", "10.20.10.0/24", "error"),
    "a subnet of switches in a VLAN of nobody": (
        slip('address = "10.20.10.2"', 'address = "10.20.99.2"', 'address = "10.20.10.3"', 'address = "10.20.99.3"')
        + '[[subnet]]\nprefix = "10.20.99.0/24"\nvlan = 99\n', "vlans.nobody", "10.20.99.0/24", "error"),
    "a server that says it serves, and has no pool": (
        slip('by = "router"', 'by = "store"'), "dhcp.two_servers", "router", "error"),
    "a cable back to the same switch": (
        slip(ROUTER, ROUTER + '\n[[switch.port]]\nid = "10"\nvlan = 10\n[[switch.port]]\nid = "11"\nvlan = 20')
        + '[[link]]\nfrom = "a.10"\nto = "a.11"\n', "ports.self_link", "a.10", "error"),
    "switches of which none keeps VLANs": (
        re.sub(r'(id = "[^"]*"\n)(vlan|tagged) = [^t\n]*\n', r"\1", PORTS).replace("true", "false")
        + REST.replace("tagged = [10, 20]\n", ""),
        "segments.shared", "m1", "error"),
    # a router of the box
    "a port that lacks a tag of the router": (
        slip(*OWN_ROUTER, ROUTER, ROUTER.replace("[10, 20]", "10")), "vlans.machine", "fw", "error"),
    "a router that tags one VLAN of two": (
        slip(*OWN_ROUTER).replace('serves = "dhcp"\ntagged = [10, 20]', 'serves = "dhcp"\ntagged = 10'),
        "segments.wrong_vlan", "fw", "error"),
    # an access point
    "an access point with its own address in the other VLAN": (
        slip(ROUTER, 'id = "10"\nvlan = 20\ntagged = 10\n[[switch.port]]\n' + ROUTER) + AP,
        "segments.wrong_vlan", "ap", "error"),
    "an access point without a VLAN for its own address": (
        slip(ROUTER, 'id = "10"\ntagged = [10, 20]\n[[switch.port]]\n' + ROUTER) + AP,
        "segments.wrong_vlan", "ap", "error"),
    # a management port
    "a management port in the other VLAN": (
        slip(*MANAGED, ROUTER, 'id = "10"\nvlan = 20\n[[switch.port]]\n' + ROUTER),
        "segments.wrong_vlan", "b.mgmt", "error"),
    # two cables in a bond
    "one cable of a bond that lacks a tag": (slip(*BOND).replace("BOTH", "10", 1).replace("BOTH", "[10, 20]"),
                                             "vlans.ends", "a.14", "error"),
}  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        slip(*OWN_ROUTER),
        slip(ROUTER, 'id = "10"\nvlan = 10\ntagged = 20\n[[switch.port]]\n' + ROUTER) + AP,
        slip(*MANAGED, ROUTER, 'id = "10"\nvlan = 10\n[[switch.port]]\n' + ROUTER),
        slip(*BOND).replace("BOTH", "[10, 20]"),
        slip("vlans = false\nports = 8", "ports = 8"),
        slip(UPLINK, 'to = "router"'),
    ],
    ids=[
        "a router of the box",
        "an access point",
        "a management port",
        "a bond",
        "a switch unsaid",
        "an uplink unsaid",
    ],
)
def test_what_is_right_is_clean(book: Rulebook, text: str) -> None:
    """Other ways to build the same network have no error and no warning."""
    assert [f"{f.rule}: {f.says}" for f in told(book, text)] == []


def test_a_subnet_without_a_vlan_leaves_a_machine_that_tags_open(book: Rulebook) -> None:
    """Where the subnet does not say its VLAN, it is open whether an address that needs a tag is with the others."""
    (finding,) = told(book, slip(LAN4, 'gateway = "10.20.10.1"'))
    assert (finding.rule, finding.kind, finding.missing) == ("segments.parted", "open", ("vlan",))
    mended = apply(slip(LAN4, 'gateway = "10.20.10.1"').encode(), finding.edits).decode()
    assert told(book, mended) == []


def test_where_subnets_say_no_vlan_the_parted_are_told_and_nothing_follows(book: Rulebook) -> None:
    """Boards in a wrong VLAN whose subnets say none: who is parted is told, and no DHCP finding follows from it."""
    text = slip('id = "1 .. 4"\nvlan = 10', 'id = "1 .. 4"\nvlan = 20')
    text = re.sub(r'(prefix = "[^"]*"\n(?:gateway = "[^"]*"\n)?)vlan = \d+\n', r"\1", text)
    assert {f.rule for f in told(book, text)} == {"segments.parted"}


@pytest.mark.parametrize("name", SLIPS)
def test_one_slip_gives_one_finding(book: Rulebook, name: str) -> None:
    """A single mistake gives one finding of all rules together, at its level, with a remedy."""
    text, rule, at, level = SLIPS[name]
    found = told(book, text)
    assert [f.rule for f in found] == [rule], [f"{f.rule}: {f.says}" for f in found]
    assert at in found[0].subjects
    assert found[0].level == level
    assert found[0].remedy


@pytest.mark.parametrize("name", SLIPS)
def test_what_can_be_mended_exactly_is_mended(book: Rulebook, name: str) -> None:
    """Where a finding carries edits, the plan with them has no error and no warning left."""
    (finding,) = told(book, SLIPS[name][0])
    if finding.edits:
        mended = apply(SLIPS[name][0].encode(), finding.edits).decode()
        assert [f"{f.rule}: {f.says}" for f in told(book, mended)] == [], mended


#: A router with one cable that tags, and machines of both VLANs; what its port says, and what the router says.
STEM = """
[[switch]]
id = "s"
vlans = true

[[switch.port]]
id = "1"
{}

[[switch.port]]
id = "2"
vlan = 10

[[switch.port]]
id = "3"
vlan = 20

[[node]]
id = "r"
port = "s.1"
{}
address = ["10.20.10.1", "10.20.20.1"]

[[node]]
id = "n1"
port = "s.2"
address = "10.20.10.11"

[[node]]
id = "n2"
port = "s.3"
address = "10.20.20.11"

[[subnet]]
prefix = "10.20.10.0/24"
vlan = 10

[[subnet]]
prefix = "10.20.20.0/24"
vlan = 20
"""

STEMS = {  # what the port says, what the router says, and what both say when the remedy is followed
    "both ends lack an id": ("tagged = 10", "tagged = 10", "tagged = [10, 20]", "tagged = [10, 20]"),
    "the router lacks an id": ("tagged = [10, 20]", "tagged = 10", "tagged = [10, 20]", "tagged = [10, 20]"),
    "the port lacks an id": ("tagged = 10", "tagged = [10, 20]", "tagged = [10, 20]", "tagged = [10, 20]"),
    "one id without its tag": (
        "tagged = [10, 20]", "vlan = 10\ntagged = 20", "tagged = [10, 20]", "tagged = [10, 20]",
    ),
    "one id with a tag too many": (
        "vlan = 10\ntagged = 20", "tagged = [10, 20]", "vlan = 10\ntagged = 20", "vlan = 10\ntagged = 20",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", STEMS)
def test_a_remedy_at_a_port_that_tags_leads_to_no_other_finding(book: Rulebook, name: str) -> None:
    """What the remedy says, written at both ends, leaves nothing to find by any rule."""
    port, router, port_after, router_after = STEMS[name]
    found = told(book, STEM.format(port, router))
    assert [f.rule.split(".")[0] in ("vlans", "segments") for f in found] == [True], [f.says for f in found]
    assert "VLAN 1 " not in found[0].says
    first = router_after.split("\n")[0]
    assert first in found[0].remedy, found[0].remedy
    assert [f.says for f in told(book, STEM.format(port_after, router_after))] == []


UPLINK = '\n[[outside]]\nid = "hut"\naddress = {}\n\n[[uplink]]\nfrom = "s.4"\nto = "hut"\n'


@pytest.mark.parametrize(
    ("addresses", "offered"), [('["10.20.10.1", "10.20.20.1"]', False), ('"10.20.20.1"', True)]
)
def test_a_router_with_several_networks_is_offered_no_vlan_in_place_of_another(
    book: Rulebook, addresses: str, offered: bool
) -> None:
    """Another `vlan` at the port of an uplink is offered only where its router has no address in that of today."""
    text = STEM.format("tagged = [10, 20]", "tagged = [10, 20]").replace('0.1"', '0.9"')
    text = text.replace(
        'id = "3"\nvlan = 20\n', 'id = "3"\nvlan = 20\n\n[[switch.port]]\nid = "4"\nvlan = 10\n'
    )
    found = told(book, text + UPLINK.format(addresses))
    assert [f.rule for f in found] == ["segments.gateway"], [f.says for f in found]
    assert ("or vlan = 20" in found[0].remedy) is offered, found[0].remedy

"""Port map, fronts and address schedule of a small plan, each row as a person would copy it out of the plan by hand."""

from __future__ import annotations

from datetime import date
from xml.etree import ElementTree as ET

import pytest

from coldcheck.sheets import fronts, network
from coldcheck.sheets.address_files import address_files
from coldcheck.sheets.table import Table, as_rows
from tests.sheets.plans import read

SVG = "{http://www.w3.org/2000/svg}"
PLAN = """
[plan]
domain = "hill.home.arpa"
[[switch]]
id = "sw"
ports = 10
poe_budget = "60 W"
vlan = 20
mac = "02:00:00:00:00:ee"
address = "10.1.0.2"
[[switch.port]]
id = "1"
poe = "type 1"
vlan = 30
[[switch.port]]
id = "2"
vlan = 20
tagged = [30, 40]
[[switch.port]]
id = "4"
vlan = 40
tagged = [20]
[[node]]
id = "a"
address = "10.1.0.11"
vlan = 20
[[node.port]]
id = "eth"
to = "sw.2"
mac = "02:00:00:00:00:0a"
cable = "OM3, 2 m"
[[appliance]]
id = "cam"
poe = "class 2"
port = "sw.1"
cable = "cat 6, 3 m"
address = "10.2.0.9"
gateway = "10.2.0.7"
[[node]]
id = "b"
address = ["10.1.0.12", "fd00:1::12"]
mac = "02:00:00:00:00:0b"
port = "sw.3"
[[appliance]]
id = "clock"
address = "10.9.0.1"
[[uplink]]
from = "sw.10"
to = "farm"
[[outside]]
id = "farm"
[[subnet]]
title = "boards"
prefix = "10.1.0.0/24"
gateway = "10.1.0.1"
vlan = 20
[[subnet]]
prefix = "10.2.0.0/28"
gateway = "10.2.0.1"
vlan = 30
[[subnet]]
prefix = "fd00:1::/64"
vlan = 20
[[pool]]
for = "dhcp"
range = "10.1.0.100 .. 10.1.0.199"
"""


def rows(table: Table, *keys: str) -> list[tuple[object, ...]]:
    """Return some columns of a table."""
    return [tuple(row[key] for key in keys) for row in as_rows(table)]


def test_the_ports_of_a_switch() -> None:
    """Every port once, in the order of their numbers, free ones too; what is on it, what it keeps and what it tags."""
    (table,) = network.port_map(*read(PLAN))
    assert table.name == "ports"
    found = rows(table, "port", "to", "host", "cable", "length", "watts", "vlan", "tagged")
    assert found == [
        ("1", "cam.eth", "cam.hill.home.arpa", "cat 6", 3.0, 7.0, 30, ""),
        ("2", "a.eth", "a.hill.home.arpa", "OM3", 2.0, "", 20, "30, 40"),
        ("3", "b.eth", "b.hill.home.arpa", None, None, "", 20, ""),
        ("4", "free", "", "", "", "", 40, "20"),
        *[(str(n), "free", "", "", "", "", 20, "") for n in range(5, 10)],
        ("10", "farm", "", None, None, "", 20, ""),
    ]
    named = PLAN.replace('id = "2"', 'id = "sfp1"').replace('"sw.2"', '"sw.sfp1"').replace("ports = 10", "")
    order = [row[0] for row in rows(network.port_map(*read(named))[0], "port")]
    assert order == ["1", "4", "sfp1"]


def test_the_front_of_a_switch() -> None:
    """Ports stand where their numbers say, whichever the plan speaks of first; a box says PoE and VLAN."""
    (front,) = fronts.fronts(*read(PLAN.replace("ports = 10", 'ports = 10\nrows = 2\nnumbered = "across"')))
    assert (front.name, front.title) == ("switch-1", "sw: its front, as one looks at it")
    root = ET.fromstring(front.svg)
    heads = {t.text: t for t in root.iter(f"{SVG}text") if t.get("class") == "head"}
    assert sorted(heads, key=str) == sorted(map(str, range(1, 11)), key=str)
    spots = {int(str(name)): (float(t.get("x", "")), float(t.get("y", ""))) for name, t in heads.items()}
    for odd in range(1, 10, 2):
        assert spots[odd][0] == spots[odd + 1][0]
        assert spots[odd][1] < spots[odd + 1][1]
        assert odd == 1 or spots[odd - 2][0] < spots[odd][0]
    words = [t.text for t in root.iter(f"{SVG}text")]
    assert words[words.index("1") :][:4] == ["1", "cam.eth", "PoE 7 W", "VLAN 30"]
    assert words[words.index("4") :][:3] == ["4", "free", "VLAN 40"]
    (front,) = fronts.fronts(*read(PLAN))
    root = ET.fromstring(front.svg)
    told = "its ports in the order of their numbers; the plan does not say in how many rows they stand"
    assert front.title == f"sw: {told}"
    lines: dict[str, list[str]] = {}
    for text in root.iter(f"{SVG}text"):
        if text.get("class") == "head":
            lines.setdefault(str(text.get("y")), []).append(str(text.text))
    assert list(lines.values()) == [[str(n) for n in range(1, 9)], ["9", "10"]]


def test_the_addresses_of_the_machines() -> None:
    """One row for each address, and one for a machine without; router, VLAN and hardware address are its own."""
    table, _ = network.addresses(*read(PLAN))
    assert rows(table, "name", "thing", "address", "prefix", "gateway", "vlan", "mac", "port") == [
        ("a.hill.home.arpa", "a", "10.1.0.11", "10.1.0.0/24", "10.1.0.1", 20, "02:00:00:00:00:0a", "sw.2"),
        ("b.hill.home.arpa", "b", "10.1.0.12", "10.1.0.0/24", "10.1.0.1", 20, "02:00:00:00:00:0b", "sw.3"),
        ("b.hill.home.arpa", "b", "fd00:1::12", "fd00:1::/64", "", 20, "02:00:00:00:00:0b", "sw.3"),
        ("cam.hill.home.arpa", "cam", "10.2.0.9", "10.2.0.0/28", "10.2.0.7", 30, "", "sw.1"),
        ("clock.hill.home.arpa", "clock", "10.9.0.1", None, "", "", "", ""),
        ("sw.hill.home.arpa", "sw", "10.1.0.2", "10.1.0.0/24", "10.1.0.1", 20, "02:00:00:00:00:ee",
         "cam.eth, a.eth, b.eth, farm"),
    ]  # fmt: skip
    bare = '[[node]]\nid = "n"\nname = "gate"\nvlan = 7\nmac = "02:00:00:00:00:01"\nport = "sw.1"\n'
    bare += '[[switch]]\nid = "sw"\nports = 4\n'
    first = rows(
        network.addresses(*read(bare))[0], "name", "address", "prefix", "gateway", "vlan", "mac", "port"
    )[0]
    assert first == ("gate", None, "", "", 7, "02:00:00:00:00:01", "sw.1")


def test_what_the_subnets_hold() -> None:
    """Addresses given count the router; the room is what is left without network and broadcast (RFC 1122)."""
    _, table = network.addresses(*read(PLAN))
    assert rows(table, "prefix", "title", "vlan", "gateway", "taken", "room", "pools") == [
        ("10.1.0.0/24", "boards", 20, "10.1.0.1", 4, 254, "10.1.0.100 .. 10.1.0.199 (dhcp)"),
        ("10.2.0.0/28", "", 30, "10.2.0.1", 2, 14, ""),
        ("fd00:1::/64", "", 20, "", 1, "2^64", ""),
    ]


TWO = """
[[switch]]
id = "sw"
ports = 4
[[node]]
id = "n"
address = "10.0.0.5"
[[node.port]]
id = "e0"
to = "sw.1"
mac = "02:00:00:00:00:01"
[[node.port]]
id = "e1"
mac = "02:00:00:00:00:02"
{}
[[subnet]]
prefix = "10.0.0.0/24"
"""


@pytest.mark.parametrize(
    ("keys", "mac"),
    [
        ("", "02:00:00:00:00:01"),
        ('to = "sw.2"', ""),
        ('for = "management"\nto = "sw.2"', "02:00:00:00:00:01"),
    ],
)
def test_the_hardware_address_of_the_only_cable(keys: str, mac: str) -> None:
    """An address of the machine is that of its one cable; with two, which it is is not guessed, nor reserved."""
    plan, get = read(TWO.format(keys))
    assert rows(network.addresses(plan, get)[0], "mac")[0] == (mac,)
    files = address_files(plan, get, date(2026, 5, 1), {}).files
    assert ("hardware ethernet 02:00:00:00:00:01" in files.get("dhcpd.conf", "")) == bool(mac)

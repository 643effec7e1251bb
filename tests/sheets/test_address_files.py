"""Address files, read by the programs that they are for, and what is left out of them."""

from __future__ import annotations

import datetime
import ipaddress
import json
import re
import subprocess
import tempfile
from pathlib import Path

import pytest

from coldcheck.sheets.address_files import MARK, AddressFiles, address_files
from tests.sheets.plans import read

DAY = datetime.date(2026, 11, 26)
PLAN = """
[plan]
domain = "gorse.home.arpa"
name_server = "store"
[[subnet]]
prefix = "10.20.0.0/24"
gateway = "10.20.0.1"
[[subnet]]
prefix = "10.21.16.0/20"
[[subnet]]
prefix = "fd12:3456:789a:1::/64"
[[pool]]
for = "dhcp"
range = "10.20.0.100 .. 10.20.0.199"
[[storage]]
id = "store"
address = ["10.20.0.20", "fd12:3456:789a:1::20"]
mac = "02:00:00:20:00:20"
[[node]]
id = "n1 .. n3"
address = "10.20.0.11 .. 10.20.0.13"
mac = "02:00:00:20:00:11 .. 02:00:00:20:00:13"
[[node]]
id = "far"
address = "10.21.17.5"
[[appliance]]
id = "Cam"
name = "yard-camera"
address = "10.20.0.31"
"""


def made(text: str = PLAN, former: dict[str, str] | None = None, day: datetime.date = DAY) -> AddressFiles:
    """Make the address files of a plan."""
    plan, get = read(text)
    return address_files(plan, get, day, former or {})


def written(folder: Path, text: str = PLAN) -> Path:
    """Write them into a folder."""
    for name, content in made(text).files.items():
        (folder / name).write_text(content)
    return folder


def run(*words: str | Path) -> str:
    """Run a program that must be content; give what it prints."""
    with tempfile.TemporaryDirectory() as home:  # some leave a folder of theirs there
        done = subprocess.run(
            [str(word) for word in words], capture_output=True, text=True, check=False,
            env={"PATH": "/usr/local/bin:/usr/bin:/bin:/usr/sbin", "HOME": home, "LC_ALL": "C.UTF-8"},
        )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


def test_which_files() -> None:
    """One of each form, a zone forward and one for each range of addresses backward; each begins with the mark."""
    found = made()
    assert list(found.files) == [
        "hosts", "ssh_config", "inventory.yaml", "dhcpd.conf", "gorse.home.arpa.zone", "0.20.10.in-addr.arpa.zone",
        "21.10.in-addr.arpa.zone", "1.0.0.0.a.9.8.7.6.5.4.3.2.1.d.f.ip6.arpa.zone",
    ]  # fmt: skip
    assert all(MARK in text.partition("\n")[0] for text in found.files.values())
    assert found.left == []


def test_hosts() -> None:
    """hosts(5): an address, then the name with its domain, then without."""
    lines = [line.split() for line in made().files["hosts"].splitlines() if not line.startswith("#")]
    assert ["10.20.0.31", "yard-camera.gorse.home.arpa", "yard-camera"] in lines
    assert {fields[1] for fields in lines if ":" in fields[0]} == {"store.gorse.home.arpa"}
    assert len(lines) == 7
    assert all(ipaddress.ip_address(fields[0]) for fields in lines)


@pytest.mark.program("named-checkzone")
def test_zones(tmp_path: Path) -> None:
    """The checker of a name server loads every zone; each address leads to a name that leads back to it."""
    forward: set[tuple[str, str]] = set()
    back: set[tuple[str, str]] = set()
    for file in sorted(written(tmp_path).glob("*.zone")):
        zone = file.name.removesuffix(".zone")
        told = run("named-checkzone", "-D", "-i", "local", "-o", "-", zone, file)
        for owner, _, _, kind, *rest in (
            line.split() for line in told.splitlines() if " IN " in line.replace("\t", " ")
        ):
            if kind in ("A", "AAAA"):
                forward.add((owner, ipaddress.ip_address(rest[0]).reverse_pointer + "."))
            if kind == "PTR":
                back.add((rest[0], owner))
    assert len(forward) == 7
    assert back == forward


@pytest.mark.program("named-checkzone")
def test_a_wrong_zone_is_refused(tmp_path: Path) -> None:
    """The checker would say so if a zone were wrong."""
    zone = written(tmp_path) / "gorse.home.arpa.zone"
    zone.write_text(zone.read_text().replace("10.20.0.11", "10.20.0.311"))
    with pytest.raises(AssertionError, match="bad dotted quad"):
        run("named-checkzone", "gorse.home.arpa", zone)


@pytest.mark.program("dhcpd")
def test_dhcp(tmp_path: Path) -> None:
    """dhcpd.conf(5) as its server reads it; a reservation for each machine with a hardware address."""
    file = written(tmp_path) / "dhcpd.conf"
    run("dhcpd", "-t", "-cf", file)
    text = file.read_text()
    assert re.findall(r"host (\S+) .*ethernet (\S+); fixed-address (\S+);", text) == [
        *((f"n{n}.gorse.home.arpa", f"02:00:00:20:00:1{n}", f"10.20.0.1{n}") for n in (1, 2, 3)),
        ("store.gorse.home.arpa", "02:00:00:20:00:20", "10.20.0.20"),
    ]
    assert "subnet 10.21.16.0 netmask 255.255.240.0 {" in text
    assert "  option routers 10.20.0.1;\n  range 10.20.0.100 10.20.0.199;\n" in text


@pytest.mark.program("ssh")
def test_ssh(tmp_path: Path) -> None:
    """ssh_config(5) as its client reads it: by the short name and by the whole."""
    file = written(tmp_path) / "ssh_config"
    for name in ("n2", "n2.gorse.home.arpa"):
        assert "hostname 10.20.0.12\n" in run("ssh", "-G", "-F", file, name)


@pytest.mark.program("ansible-inventory")
def test_inventory(tmp_path: Path) -> None:
    """The inventory as its program reads it: groups by table, each machine with its address."""
    file = written(tmp_path) / "inventory.yaml"
    told = run("ansible-inventory", "-i", file, "--list")
    found = json.loads(told[told.index("{") : told.rindex("}") + 1])
    assert sorted(found["nodes"]["hosts"]) == sorted(
        f"{n}.gorse.home.arpa" for n in ("n1", "n2", "n3", "far")
    )
    variables = found["_meta"]["hostvars"]["store.gorse.home.arpa"]
    assert variables["ansible_host"] == "10.20.0.20"


def serial(found: AddressFiles) -> int:
    """Give the serial number of the forward zone."""
    return int(found.files["gorse.home.arpa.zone"].split("; serial")[0].split()[-1])


def test_serial_numbers() -> None:
    """A zone in which nothing changed keeps its number; one that changed gets a higher one, whatever the day."""
    first = made()
    assert serial(first) == 2026112600
    assert made(former=first.files, day=DAY.replace(year=2027)).files == first.files
    changed = PLAN.replace("10.20.0.31", "10.20.0.32")
    assert serial(made(changed, first.files)) == 2026112601
    assert serial(made(changed, first.files, DAY.replace(year=2027))) == 2027112600
    assert serial(made(changed, first.files, DAY.replace(year=2020))) == 2026112601


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('name = "yard-camera"', 'name = "n1"', "n1 has the same name, n1.gorse.home.arpa"),
        ('"10.20.0.31"', '"10.20.0.11"', "n1 has the same address, 10.20.0.11"),
        ('address = "10.20.0.31"', "", "the plan gives it no address"),
        ('domain = "gorse.home.arpa"', "", "no zones: the plan names no domain"),
        ('name_server = "store"', "", "no zones: the plan names nothing that answers"),
        (
            'name_server = "store"',
            'name_server = "n9"',
            'no zones: the name server "n9" is no machine of the plan',
        ),
        ('"10.20.0.31"', '"192.168.7.9"', "192.168.7.9 is in no subnet, so in no reverse zone"),
        ('name = "yard-camera"', 'name = "cam.else.test."', "cam.else.test is not in gorse.home.arpa"),
    ],
)
def test_what_is_left_out(old: str, new: str, said: str) -> None:
    """What a file cannot hold is told, and the rest is made."""
    text = PLAN.replace(old, new)
    assert text != PLAN
    found = made(text)
    assert any(said in line for line in found.left), found.left
    assert "10.20.0.12" in found.files["hosts"]


@pytest.mark.parametrize(
    "name",
    ["x y", "x;id", "$(id)", "`id`", "x\\nHost *", "x{}", "{{ 1 }}", "x\\tIN A 1.2.3.4", '\\"', "*", "x#"],
)
def test_names_that_would_be_commands(name: str) -> None:
    """A name that no machine can have is in no file: neither a shell nor a server ever sees it."""
    found = made(PLAN.replace('"yard-camera"', f'"{name}"'))
    assert any(line.startswith("Cam: its name") for line in found.left)
    assert all("10.20.0.31" not in text for text in found.files.values())


def test_a_file_name_in_the_mark() -> None:
    """The name of a plan cannot end the comment that it stands in."""
    plan, get = read(PLAN, "x\nevil 10.0.0.1.toml")
    for text in address_files(plan, get, DAY, {}).files.values():
        assert "x evil 10.0.0.1.toml" in text.splitlines()[0]


def test_a_server_elsewhere(tmp_path: Path) -> None:
    """A full name outside the domain answers for it, and needs no address in the zone."""
    found = made(PLAN.replace('name_server = "store"', 'name_server = "ns.valley.test"')).files
    assert "\tNS\tns.valley.test.\n" in found["gorse.home.arpa.zone"]

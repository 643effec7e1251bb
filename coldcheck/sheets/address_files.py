"""The names and addresses of a plan in the forms that machines read: hosts(5), DNS zones, and others.

What no file may hold (a name that no machine can have, an address that two have) is left out and told, so that a file
that is made can be used as it is. Every file begins with a comment that holds `MARK`.

Sources: hosts(5); RFC 1035 section 5 (zones), RFC 1912 section 2.2 (times of a zone), RFC 2142 section 7 (its
mailbox), RFC 2308 section 5 (how long a refusal is kept), RFC 3596 section 2.5 (names of IPv6 addresses);
dhcpd.conf(5); ssh_config(5).
"""

from __future__ import annotations

import datetime
import json
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import msgspec

from coldcheck.lan.address import WIDTH, text_of
from coldcheck.lan.mac import mac_text, read_mac
from coldcheck.lan.names import folded, problem_with_name
from coldcheck.plan.model import Plan
from coldcheck.workings.addresses import AddressBook, Block, Host
from coldcheck.workings.hosts import mac_of
from coldcheck.workings.names import HostName, NameServer

from .table import one_line

__all__ = ["MARK", "AddressFiles", "address_files"]

#: A file whose first line holds this was made by us, and may be made anew.
MARK = "Made by coldcheck from"

#: Times of a zone: look again, look again after a failure, give up, keep a refusal [s].
REFRESH, RETRY, EXPIRE, REFUSED = 10_800, 3_600, 1_209_600, 3_600
#: How long an answer is kept [s].
KEPT = 3_600

#: Zones of these are made of the addresses, and no machine is called in one.
_ARPA = (".in-addr.arpa", ".ip6.arpa")

_GROUPS = {"node": "nodes", "storage": "storage", "appliance": "appliances", "switch": "switches"}
_SERIAL = re.compile(r"^\s*(\d+) +; serial$", re.MULTILINE)


class AddressFiles(msgspec.Struct):
    """Texts of files by name, and what was left out of them: a sentence each."""

    files: dict[str, str]
    left: list[str]


class _Entry(msgspec.Struct):
    """One machine with one address."""

    name: HostName
    host: Host
    mac: str

    @property
    def short(self) -> str:
        """The first label of its name."""
        return self.name.full.partition(".")[0]


def address_files(
    plan: Plan, get: Callable[[str], Any], day: datetime.date, former: Mapping[str, str]
) -> AddressFiles:
    """Return the address files of a plan.

    Args:
        plan: a plan that was read.
        get: gives a working by its name.
        day: today, of which the serial number of a zone is made.
        former: texts of files that were made before, by name: a zone in which nothing changed keeps its number.
    """
    made = _Files(plan, get, day, former)
    return AddressFiles(made.all(), made.left)


class _Files:
    def __init__(
        self, plan: Plan, get: Callable[[str], Any], day: datetime.date, former: Mapping[str, str]
    ) -> None:
        self.plan, self.day, self.former = plan, day, former
        self.book: AddressBook = get("address_book")
        self.server: NameServer = get("name_server")
        self.left: list[str] = []
        self.entries = list(self._entries(get("host_names")))
        self.count = Counter(e.name.thing.id for e in self.entries if e.host.family == 4)
        self.domain = folded(plan.head.domain or "").strip(".")

    def all(self) -> dict[str, str]:
        """Return every file that can be made."""
        found = {
            "hosts": self._hosts(),
            "ssh_config": self._ssh(),
            "inventory.yaml": self._inventory(),
            "dhcpd.conf": self._dhcp(),
        }
        found.update(self._zones())
        return {name: text for name, text in found.items() if text}

    def _head(self, comment: str = "#") -> str:
        return f"{comment} {MARK} {one_line(self.plan.name)}; what is changed here is lost when it is made anew.\n"

    def _entries(self, names: list[HostName]) -> Iterator[_Entry]:
        addresses: dict[str, list[Host]] = {}
        for host in self.book.hosts:
            addresses.setdefault(host.thing.id, []).append(host)
        taken_names: dict[str, str] = {}
        taken: dict[tuple[int, int], str] = {}
        for name in names:
            thing = name.thing
            if why := problem_with_name(name.full):
                self.left.append(f"{thing.id}: its name {json.dumps(name.full)} cannot be: {why}")
                continue
            if (other := taken_names.setdefault(folded(name.full), thing.id)) != thing.id:
                self.left.append(f"{thing.id}: {other} has the same name, {name.full}")
                continue
            if not addresses.get(thing.id):
                self.left.append(f"{thing.id}: the plan gives it no address")
            for host in addresses.get(thing.id, ()):
                if (other := taken.setdefault((host.family, host.value), thing.id)) != thing.id:
                    self.left.append(f"{thing.id}: {other} has the same address, {host.text}")
                    continue
                mac = mac_of(self.plan, thing, host.port)
                yield _Entry(name, host, mac_text(read_mac(mac)) if mac else "")

    # --- flat files -----------------------------------------------------------------------------------------------

    def _hosts(self) -> str:
        lines = []
        for entry in self.entries:
            short = f" {entry.short}" if entry.short != entry.name.full else ""
            lines.append(f"{entry.host.text}\t{entry.name.full}{short}\n")
        return self._head() + "".join(lines) if lines else ""

    def _ssh(self) -> str:
        blocks = []
        for entry in self._first_of_each():
            names = dict.fromkeys([entry.short, entry.name.full])
            blocks.append(f"\nHost {' '.join(names)}\n    HostName {entry.host.text}\n")
        return self._head() + "".join(blocks) if blocks else ""

    def _first_of_each(self) -> list[_Entry]:
        first: dict[str, _Entry] = {}
        for entry in self.entries:
            first.setdefault(entry.name.thing.id, entry)
        return list(first.values())

    def _inventory(self) -> str:
        groups: dict[str, list[str]] = {}
        for entry in self._first_of_each():
            lines = groups.setdefault(_GROUPS[entry.name.thing.table], [])
            # a JSON text is a YAML text as well, whatever letters it holds
            lines.append(f"        {json.dumps(entry.name.full)}:\n")
            lines.append(f"          ansible_host: {json.dumps(entry.host.text)}\n")
        if not groups:
            return ""
        body = "".join(f"    {name}:\n      hosts:\n{''.join(lines)}" for name, lines in groups.items())
        return f"{self._head()}all:\n  children:\n{body}"

    def _dhcp(self) -> str:
        blocks = []
        for number, block in enumerate(self.book.subnets):
            if block.prefix.family == 4:
                blocks.append(self._dhcp_subnet(number, block))
        if not any("host " in block or "range " in block for block in blocks):
            return ""
        for entry in self.entries:
            if entry.mac and entry.host.subnet is None:
                self.left.append(f"{entry.name.thing.id}: no reservation, {entry.host.text} is in no subnet")
        return self._head() + "".join(blocks)

    def _dhcp_subnet(self, number: int, block: Block) -> str:
        prefix = block.prefix
        mask = text_of(4, (1 << 32) - (1 << prefix.host_bits))
        lines = [f"\nsubnet {text_of(4, prefix.network)} netmask {mask} {{\n"]
        gateway = next((g.text for g in self.book.gateways if g.subnet == number), "")
        if gateway:
            lines.append(f"  option routers {gateway};\n")
        for pool in self.book.pools:
            if pool.use == "dhcp" and pool.within(prefix):
                lines.append(f"  range {text_of(4, pool.first)} {text_of(4, pool.last)};\n")
        for entry in self.entries:
            if entry.mac and entry.host.subnet == number:
                # one machine may have several addresses, and a statement needs a name of its own
                several = self.count[entry.name.thing.id] > 1
                label = f"{entry.name.full}-{entry.host.text}" if several else entry.name.full
                lines.append(
                    f"  host {label} {{ hardware ethernet {entry.mac}; fixed-address {entry.host.text}; }}\n"
                )
        return "".join([*lines, "}\n"])

    # --- zones ----------------------------------------------------------------------------------------------------

    def _zones(self) -> dict[str, str]:
        if not self.entries:
            return {}
        server = self._server()
        if not server:
            return {}
        found, inside = {}, []
        for entry in self.entries:
            if folded(entry.name.full).endswith(f".{self.domain}"):
                inside.append(entry)
            else:
                self.left.append(
                    f"{entry.name.thing.id}: {entry.name.full} is not in {self.domain}, nor in its zone"
                )
        records = [
            f"{folded(e.name.full).removesuffix('.' + self.domain)}\tIN\t{'A' if e.host.family == 4 else 'AAAA'}"
            f"\t{e.host.text}\n"
            for e in inside
        ]
        found[f"{self.domain}.zone"] = self._zone(f"{self.domain}.zone", self.domain, server, records)
        for zone, members in self._reverse().items():
            pointers = [f"{label}\tIN\tPTR\t{name}.\n" for label, name in members]
            found[f"{zone}.zone"] = self._zone(f"{zone}.zone", zone, server, pointers)
        return found

    def _server(self) -> str:
        """Return the full name of the name server; "" where none can be told, with the reason kept."""
        if not self.domain or problem_with_name(self.domain) or self.domain.endswith(_ARPA):
            self.left.append("no zones: the plan names no domain that a zone can have; give [plan] domain")
        elif self.server.why:
            stated = json.dumps(self.plan.head.name_server)
            self.left.append(f"no zones: the name server {stated} {self.server.why}")
        elif not self.server.full:
            self.left.append(
                "no zones: the plan names nothing that answers for them; give [plan] name_server"
            )
        else:
            return self.server.full
        return ""

    def _zone(self, file: str, zone: str, server: str, records: list[str]) -> str:
        def text(serial: int) -> str:
            return (
                f"{self._head(';')}$ORIGIN {zone}.\n$TTL {KEPT}\n"
                f"@\tIN\tSOA\t{server}. hostmaster.{self.domain}. (\n"
                f"\t{serial:<10} ; serial\n\t{REFRESH:<10} ; refresh\n\t{RETRY:<10} ; retry\n"
                f"\t{EXPIRE:<10} ; expire\n\t{REFUSED:<10} ) ; a refusal is kept\n@\tIN\tNS\t{server}.\n"
                + "".join(records)
            )

        former = self.former.get(file, "")
        before = _SERIAL.search(former)
        number = int(before.group(1)) if before else 0
        if number and text(number) == former:
            return former
        return text(max(number + 1, int(self.day.strftime("%Y%m%d00"))))

    def _reverse(self) -> dict[str, list[tuple[str, str]]]:
        """Return, by reverse zone, the label of each address there with the name it leads to."""
        found: dict[str, list[tuple[str, str]]] = {}
        for entry in self.entries:
            host = entry.host
            if host.subnet is None:
                self.left.append(f"{entry.name.thing.id}: {host.text} is in no subnet, so in no reverse zone")
                continue
            digits = _digits(host)
            step = 8 if host.family == 4 else 4
            # whole digits only: a prefix that ends within one shares the zone above it
            length = min(self.book.subnets[host.subnet].prefix.length, WIDTH[host.family] - step)
            cut = max(1, length // step)
            zone = ".".join([*reversed(digits[:cut]), "in-addr" if host.family == 4 else "ip6", "arpa"])
            found.setdefault(zone, []).append((".".join(reversed(digits[cut:])), folded(entry.name.full)))
        return found


def _digits(host: Host) -> list[str]:
    if host.family == 4:
        return host.text.split(".")
    return list(f"{host.value:032x}")

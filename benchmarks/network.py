"""Network: the rules of the network over many addresses and cables, held against themselves on a plan of a tenth.

Aim: 20 000 cables and 100 000 addresses judged with a growth that is linear, or n log n; overlap is found by sorting.
"""

from __future__ import annotations

import datetime
import gc
from collections.abc import Callable
from typing import Any

import tomli

from coldcheck import ours
from coldcheck.engine.running import judge

from .show import table
from .timing import in_turn

__all__ = ["AREAS", "plan", "run"]

_DAY = datetime.date(2026, 1, 1)
#: The files of rules that speak of the network.
AREAS = (
    "addresses", "bonds", "cables", "dhcp", "gateways", "macs", "management", "mtu", "names", "pools", "ports",
    "segments", "sizes", "speeds", "subnets", "throughput", "topology", "vlans",
)  # fmt: skip
_BOARDS = 20  # on each switch
_SWITCHES = 10  # to each group, which has a VLAN and five subnets of its own
_HEAD = '[plan]\ntitle = "many"\nredundant = false\ndomain = "many.internal"\nshare = "1 kbit/s"\n'
_CORE = '[[switch]]\nid = "core"\nvlans = true\nspanning_tree = true\nmax_age = "24 s"\nframe = 9216\n'
_CORE += '[[storage]]\nid = "store"\n'
_CORE += '[[storage.port]]\nid = "eth"\nto = "core.store"\nspeed = "10 Gbit/s"\ntagged = {tags}\n'


def plan(cables: int) -> str:
    """Return a plan with so many cables: groups of ten switches in a tree behind one core, a VLAN for each group.

    Every board has five addresses, a name and a MAC; of two hundred boards each group has two IPv4 and three IPv6
    subnets and a pool.
    """
    groups = max(1, cables // (_SWITCHES * (_BOARDS + 1)))
    return _HEAD + "".join(_group(g) for g in range(groups)) + _core(groups)


def _core(groups: int) -> str:
    ports = "".join(
        f'[[switch.port]]\nid = "{g}"\nspeed = "10 Gbit/s"\ntagged = [{g + 2}]\n' for g in range(groups)
    )
    own = '[[switch.port]]\nid = "store"\nspeed = "10 Gbit/s"\ntagged = {tags}\n'
    tags = str(list(range(2, groups + 2)))
    return _CORE.replace("[[storage]]", f"{ports}{own}[[storage]]").replace("{tags}", tags)


def _group(g: int) -> str:
    vlan = g + 2
    rows = [
        f'[[subnet]]\nprefix = "10.{g // 64}.{g % 64 * 4}.0/23"\nvlan = {vlan}\n',
        f'[[subnet]]\nprefix = "10.{g // 64}.{g % 64 * 4 + 2}.0/23"\nvlan = {vlan}\n',
        f'[[pool]]\nfor = "dhcp"\nrange = "10.{g // 64}.{g % 64 * 4 + 1}.0 .. 10.{g // 64}.{g % 64 * 4 + 1}.99"\n',
    ]
    rows += [f'[[subnet]]\nprefix = "fd5a:93c1:27e4:{g:x}{n}::/64"\nvlan = {vlan}\n' for n in (1, 2, 3)]
    for s in range(_SWITCHES):
        name = f"s{g}-{s}"
        rows.append(
            f'[[switch]]\nid = "{name}"\nvlans = true\nspanning_tree = true\nframe = 9216\n'
            f'[[switch.port]]\nid = "1 .. {_BOARDS}"\nspeed = "1 Gbit/s"\nvlan = {vlan}\n'
            f'[[switch.port]]\nid = "up"\nspeed = "10 Gbit/s"\ntagged = [{vlan}]\n'
            f'[[switch.port]]\nid = "down1 .. down2"\nspeed = "10 Gbit/s"\ntagged = [{vlan}]\n'
        )
        above = f"core.{g}" if s == 0 else f"s{g}-{(s - 1) // 2}.down{2 - s % 2}"
        rows.append(f'[[link]]\nfrom = "{name}.up"\nto = "{above}"\n')
        rows += [_board(g, s, n, name) for n in range(1, _BOARDS + 1)]
    return "".join(rows)


def _board(g: int, s: int, n: int, switch: str) -> str:
    host = s * _BOARDS + n
    texts = [f"10.{g // 64}.{g % 64 * 4}.{host}", f"10.{g // 64}.{g % 64 * 4 + 2}.{host}"]
    texts += [f"fd5a:93c1:27e4:{g:x}{k}::{host:x}" for k in (1, 2, 3)]
    mac = (0x02 << 40) + (g << 16) + host
    octets = ":".join(f"{mac >> shift & 255:02x}" for shift in range(40, -1, -8))
    quoted = ", ".join(f'"{text}"' for text in texts)
    return (
        f'[[node]]\nid = "b{g}-{s}-{n}"\nmac = "{octets}"\naddress = [{quoted}]\n'
        f'[[node.port]]\nid = "eth"\nspeed = "1 Gbit/s"\nto = "{switch}.{n}"\n'
    )


def run(quick: bool) -> None:
    """Print the time for each cable at several sizes, and how it grows."""
    sizes = ((1_050, 7), (4_200, 5)) if quick else ((2_100, 7), (6_300, 5), (21_000, 3))
    gc.disable()
    book = ours.rulebook(entry_points=False)
    shelf = ours.shelf(book)
    rows: list[list[str]] = []
    first = 0.0
    for cables, rounds in sizes:
        text = plan(cables).encode()
        tasks: dict[str, Callable[[], object]] = {
            "parse": lambda text=text: tomli.loads(text.decode()),  # type: ignore[misc]
            "read": lambda text=text: ours.read_plan("plan.toml", text, shelf.again()),  # type: ignore[misc]
            "judge": lambda text=text: _judged(text, book, shelf),  # type: ignore[misc]
        }
        times = in_turn(tasks, rounds)
        linked = ours.read_plan("plan.toml", text, shelf.again())
        count = len(linked.links)
        each = (times["judge"].median - times["read"].median) / count
        first = first or each
        rows.append(
            [
                f"{count:,}".replace(",", " "),
                f"{sum(len(node.address) for node in linked.table('node')):,}".replace(",", " "),
                f"{times['read'].median:.2f}",
                f"{each * 1e6:.1f}",
                f"{(times['judge'].median - times['read'].median) / times['parse'].median:.2f}",
                f"{each / first:.2f}",
            ]
        )
    head = ["cables", "addresses", "read, s", "judged, µs a cable", "judged over parse", "growth"]
    table("network: every rule of the network; aim: growth of 1, or that of n log n", head, rows)


def _judged(text: bytes, book: Any, shelf: Any) -> object:
    return judge(ours.read_plan("plan.toml", text, shelf.again()), book, _DAY, only=AREAS)

"""Plans of any size, for benchmarks: racks of fifty devices, each a table of its own, most of them parts.

A rack is a feed, five supplies with a rail of eight boards each, a converter for the switch and the drives, a
switch, a drive carrier with one drive, and forty boards of seven keys each; it has a subnet of its own.
Nothing is written as a span.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

__all__ = ["FAULTS", "MIXED", "RACK", "Fault", "plan"]

#: Turns the text of a board into one that has a fault; the number of its rack makes it differ from others.
Fault = Callable[[str, int], str]

#: Devices in a rack.
RACK = 50
_BOARDS = 40  # in a rack
_RAIL = 8  # boards on one rail

_HEAD = """\
[plan]
format = 1
title = "Generated racks"
reserve = "20 %"

[[part]]
id = "switch-48"
kind = "switch"
title = "48-port switch, 1 Gbit/s, 12 V"
ports = 48
volts = "12 V +- 10 %"
peak = "20 W"
load = "power"
plug = "peripheral-4"
[[part.port]]
id = "1 .. 48"
speed = "1 Gbit/s"
media = "copper"
"""

_RACK = """
[[feed]]
id = "r{r}bank"
volts = "24 V"
spread = "2 %"
amps = "30 A"
plug = "screw-2"

[[supply]]
id = "r{r}mixed"
part = "dcdc-24v-to-5v-12v"
from = "r{r}bank"
plug = "peripheral-4"
lead = "14 AWG, 500 mm"

[[switch]]
id = "r{r}sw"
part = "switch-48"
from = "r{r}mixed.12v"
lead = "18 AWG, 300 mm"

[[storage]]
id = "r{r}store"
part = "storage-carrier-4bay"
from = ["r{r}mixed.5v", "r{r}mixed.12v"]
lead = "16 AWG, 200 mm"
port = "r{r}sw.41"
address = "{net}.141"

[[drive]]
id = "r{r}disk"
part = "hdd-3.5-in"
from = ["r{r}mixed.5v", "r{r}mixed.12v"]
lead = "18 AWG, 200 mm"
start = "host"
delay = "12 s"
kept_by = "r{r}store"

[[uplink]]
from = "r{r}sw.48"
to = "row switch"
speed = "1 Gbit/s"

[[subnet]]
prefix = "{net}.0/24"
gateway = "{net}.1"
"""

_SUPPLY = """
[[supply]]
id = "r{r}five{s}"
part = "buck-24v-to-5v-25a"
from = "r{r}bank"
plug = "peripheral-4"
lead = "14 AWG, 500 mm"
"""

_BOARD = """
[[node]]
id = "r{r}n{n}"
part = "board-4core-5v-3a"
from = "r{r}five{s}.5v"
into = "usb"
lead = "16 AWG, 200 mm"
port = "r{r}sw.{n}"
address = "{net}.{host}"
"""


def _longer(board: str, number: int) -> str:
    """A lead so long and thin that too few volts arrive; each one has another length."""
    return board.replace("18 AWG, 200 mm", f"26 AWG, {900 + number % 400} mm")


def _open(board: str, number: int) -> str:
    """A lead that is not described."""
    return board.replace('lead = "18 AWG, 200 mm"\n', "")


def _taken(board: str, number: int) -> str:
    """A switch port that has a cable already: that of the uplink."""
    return "\n".join(
        line.partition("sw.")[0] + 'sw.48"' if line.startswith("port") else line for line in board.split("\n")
    )


def _wrong_rail(board: str, number: int) -> str:
    """A board of 5 V on 12 V."""
    head, _, rest = board.partition('from = "')
    rack = rest.partition("five")[0]
    return f'{head}from = "{rack}mixed.12v{rest[rest.index(chr(34)) :]}'


def _header(board: str, number: int) -> str:
    """A plug that may go in the wrong way round: a person must look."""
    return board.replace('into = "usb"', 'into = "header"')


def _slip(board: str, number: int) -> str:
    """A source that does not exist: a slip of the pen."""
    return board.replace("five", "fvie")


#: Every kind of fault, by what it is.
FAULTS: dict[str, Fault] = {
    "too few volts": _longer,
    "no lead": _open,
    "port taken": _taken,
    "wrong rail": _wrong_rail,
    "bare header": _header,
    "slip in a name": _slip,
}
#: The kinds in a faulty plan. A slip in a name costs what all names cost, so it is measured alone.
MIXED = tuple(fault for fault in FAULTS.values() if fault is not _slip)


def plan(devices: int, faults: Sequence[Fault] = (), every: int = 2) -> str:
    """Return the text of a plan.

    Args:
        devices: how many devices it has [-]; rounded up to whole racks.
        faults: what is wrong with one board, in turn; where there are none, nothing is to be found.
        every: how many racks have one faulty board [-]: two are a hundred devices.
    """
    pieces = [_HEAD]
    for r in range(-(-devices // RACK)):
        net = f"10.{120 + r // 250}.{r % 250}"  # not one of the prefixes that home routers come with
        pieces.append(_RACK.format(r=r, net=net))
        pieces += [_SUPPLY.format(r=r, s=s) for s in range(_BOARDS // _RAIL)]
        for n in range(1, _BOARDS + 1):
            board = _BOARD.format(r=r, n=n, s=(n - 1) // _RAIL, net=net, host=n + 10)
            if faults and r % every == every - 1 and n == _BOARDS // 2:
                board = faults[r // every % len(faults)](board, r)
            pieces.append(board)
    return "".join(pieces)

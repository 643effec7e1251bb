"""Plans with blanks, made up by a seed: boards, a carrier with disks, cameras, fans and switches on a battery bus."""

from __future__ import annotations

from random import Random

from benchmarks.blank import FIVE, boards_of, span

__all__ = ["blank_plan"]

_HEAD = """# plan {seed}: every comment of it must survive
[plan]
format = 1
title = "generated" # {seed}

[[feed]]
id = "bank" # a battery
part = "battery-bus-24v"
volts = "24 V"
low = "22 V"
high = "28.8 V"
amps = "20 A"
ohms = "40 mohm"
fuse = "20 A blade"
plug = "ring-m8"
"""
_GUARD = """
[[inline]]
id = "guard" # for the switches
what = "fuse"
from = "bank"
lead = "100 mm"

[[inline]]
id = "main"
what = "switch"
part = "switch-toggle-10a"
from = "guard"
lead = "{length} mm"
"""
_DISKS = """
[[supply]]
id = "disks"
part = "dcdc-24v-to-5v-12v"
plug = "screw-2"
lead = "{length} mm"

[[supply.rail]]
id = "12v"
volts = "12.2 V"
plug = "screw-2"
peak = "12 A for 15 s"

[[supply.rail]]
id = "5v"
volts = "5.1 V"
plug = "screw-2"

[[storage]]
id = "store"
part = "storage-carrier-4bay"
lead = "{short} mm" # both rails
mac = "02:00:00:00:ff:01"

[[drive]]
id = "d1 .. d{count}"
part = "hdd-3.5-in"
start = "host" # the carrier keeps it
"""
_FANS = """
[[fan]]
id = "fan1 .. fan{count}"
part = "fan-80x25-12v"
flow = "55 m3/h"
lead = "{length} mm"

[[waiver]]
rule = "polarity.mixed_plugs"
at = "fan1 .. fan{count}"
reason = "fan plugs are keyed"
until = 2027-12-31
"""
_CAMERAS = """
[[appliance]]
id = "cam1 .. cam{count}" # fed by the switch
part = "camera-poe-class-2"
in_box = false
cable = "cat 6, 20 m"
"""
_SWITCH = """
[[switch]]
id = "sw{n}"
part = "switch-10-poe-65w-18v-to-30v"
lead = "{length} mm"
"""
_LINK = """
[[link]]
from = "sw1.{port}"
to = "sw2.10"
cable = "cat 6, 0.5 m"
"""
_LAN = """
[[subnet]]
prefix = "10.{b}.0.0/24" # ours

[[pool]]
for = "dhcp"
range = "10.{b}.0.{low} .. 10.{b}.0.{high}"
"""


def blank_plan(seed: int) -> str:
    """Return a plan of a seed in which every source, port, address, bay, delay, gauge and fuse is blank.

    All that a filling needs is there: volts, ports and addresses are enough for what hangs on them.
    """
    draw = Random(seed)
    boards = draw.randint(1, 8)
    second = draw.randint(1, 4) if draw.random() < 0.4 else 0
    disks = draw.randint(1, 4) if draw.random() < 0.5 else 0
    cameras = draw.randint(1, 3) if draw.random() < 0.4 else 0
    supplies = 2 if boards + second > 6 else 1
    switches = 2 if boards + second + cameras + (disks > 0) > 7 else 1
    pieces = [_HEAD.format(seed=seed), _GUARD.format(length=_mm(draw))]
    each = -(-(boards + second) // supplies)
    for n in range(1, supplies + 1):
        pieces.append(FIVE.format(n=n, length=_mm(draw), short=draw.randint(5, 15) * 10, outlets=each))
    mac = (
        f'mac = "02:00:00:00:00:01 .. 02:00:00:00:00:{boards:02x}"\n'
        if boards > 1 and draw.random() < 0.3
        else ""
    )
    pieces.append(_boards("n", boards, draw, mac))
    if second:
        pieces.append(_boards("m", second, draw, ""))
    if disks:
        pieces.append(span(_DISKS.format(length=_mm(draw), short=_mm(draw), count=disks)))
        if draw.random() < 0.5:
            pieces.append(span(_FANS.format(count=draw.randint(1, 3), length=_mm(draw))))
    if cameras:
        pieces.append(span(_CAMERAS.format(count=cameras)))
    pieces += [_SWITCH.format(n=n, length=_mm(draw)) for n in range(1, switches + 1)]
    if switches == 2:
        pieces.append(_LINK.format(port=draw.choice([9, 10])))
    low = draw.choice([20, 50, 100])
    pieces.append(_LAN.format(b=draw.randint(0, 255), low=low, high=low + draw.choice([9, 50, 99])))
    return "".join(pieces)


def _boards(name: str, count: int, draw: Random, mac: str) -> str:
    part = draw.choice(["board-4core-5v-3a", "board-4core-5v-2a5", "board-1core-5v-2a"])
    return boards_of(name, count, part, _mm(draw), mac)


def _mm(draw: Random) -> int:
    return draw.randint(10, 60) * 10

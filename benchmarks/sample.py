"""The middling plan of `cold`, for as long as ``inventories/gorse-hill.toml`` is not there."""

__all__ = ["SAMPLE"]

SAMPLE = """\
[plan]
format  = 1
title   = "Gorse Hill meteor archive"
reserve = "20 %"            # head-room asked of every rating
ambient = "30 degC"

[[feed]]
id = "bank"                 # a battery bus
volts = "24 V"
low = "21 V"
high = "28.8 V"
amps = "20 A"
fuse = "15 A blade"         # close to the terminal; breaks the bank's fault current

[[supply]]
id = "five"
part = "buck-24v-to-5v-25a" # from the shelf: one rail, its limits, efficiency, drop-out
from = "bank"

[[supply]]
id = "disks"
part = "dcdc-24v-to-5v-12v" # two rails with a combined limit
from = "bank"

[[node]]
id = "n1 .. n6"
part = "board-4core-5v-3a"
from = "five.5v"
into = "header"             # nothing behind this inlet protects the board
lead = "18 AWG, 420 mm"
port = "sw.1 .. sw.6"
address = "10.20.0.11 .. 10.20.0.16"

[[appliance]]
id = "cam1 .. cam2"
part = "camera-poe-class-3"
port = "sw.7 .. sw.8"       # fed by the switch
address = "10.20.0.31 .. 10.20.0.32"

[[storage]]
id = "store"
part = "storage-carrier-4bay"
from = ["disks.5v", "disks.12v"]
port = "sw.9"
address = "10.20.0.20"

[[drive]]
id = "d1 .. d4"
part = "hdd-3.5-in"
bay = "store.1 .. store.4"
start = "host"              # power, host, pin or standby: what starts the motor
delay = "0 s .. 36 s by 12 s"
kept_by = "store"           # a delay counts only where something keeps it

[[switch]]
id = "sw"
part = "switch-10-poe-65w-18v-to-30v"   # its own step-up is inside
from = "bank"

[[uplink]]
from = "sw.10"
to = "hilltop radio"
speed = "1 Gbit/s"

[[subnet]]
prefix = "10.20.0.0/24"
gateway = "10.20.0.1"

[[pool]]
for = "dhcp"
range = "10.20.0.100 .. 10.20.0.199"

[[harness]]                 # only where pins matter
id = "main"
[[harness.wire]]
from = "five.out.1"
to = "n1.header.4"
colour = "red"
gauge = "18 AWG"
length = "420 mm"

[[waiver]]
rule = "topology.single_point"
at = "sw"
reason = "one switch by design"
until = 2027-06-30
"""

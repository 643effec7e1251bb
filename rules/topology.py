"""Topology: no loop, nothing cut off, and no surprise about what fails with what."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Level, Measure, Open, Put, cases, rule
from coldcheck.lan import bridging
from coldcheck.plan.model import LinkLine, Plan
from coldcheck.plan.quantities import show
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Switch
from coldcheck.workings.islands import Island
from coldcheck.workings.spanning import SpanningTree, row_of_switches
from coldcheck.workings.topology import Bundle, Failure, Loop, Network
from coldcheck.workings.traffic import Traffic

_SW = '[[switch]]\nid = "{}"\nports = 8\n'
_OFF = _SW + "spanning_tree = false\n"
_ON = _SW + "spanning_tree = true\n"
_LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
_TWO_OFF = _OFF.format("a") + _OFF.format("b") + _LINK.format("a.8", "b.8")
_NODE = '[[node]]\nid = "{}"\nport = "{}"\n'


@rule(level="error", over="loops")
def loop(ring: Loop) -> Iterator[Finding]:
    """No cables form a loop that nothing breaks.

    Ethernet frames carry no hop count: in a loop one broadcast goes round for ever, and in seconds nothing else gets
    through. A switch that runs a spanning tree finds the loop and blocks one cable. Two cables between two switches are
    a loop as well, unless they are one bond.

    Formula: cables - devices + parts that hang together, every cable counted, is 0; sought VLAN by VLAN.

    Source: bridging and the spanning tree, IEEE 802.1D (from memory).
    """
    lines = ring.ring
    ends = {end.thing.id: end.thing for line in lines for end in (line.a, line.b) if end is not None}
    things = sorted(ends, key=lambda name: ends[name].path)
    cables = "; ".join(str(line) for line in lines[:8]) + (" ..." if len(lines) > 8 else "")
    says = f"{len(lines)} cables between {listed(things)} form a loop: {cables}"
    because = f"{ring.more} more cables are tangled up with it" if ring.more else ""
    last = max(lines, key=lambda line: line.path)
    related = [(line.path, "another of its cables") for line in lines if line.path != last.path][:8]
    if ring.unknown:
        names = [f"{switch.id} spanning_tree" for switch in ring.unknown]
        yield Open("error", last, says, names, path=last.path, subjects=tuple(things), related=related,
                   because=because, remedy="say of each: spanning_tree = true or false; or unplug one")  # fmt: skip
        return
    bond = ", or make them one bond on switches that can (bond on both [[link]])" if len(things) == 2 else ""
    tree = f"unplug one, or turn the spanning tree on{bond}"
    if ring.hidden:
        tree = (
            f"unplug one, or let {listed(str(port) for port in ring.hidden)} take part: spanning_tree = true"
        )
    yield Finding("error", last, says, found=str(len(lines)), path=last.path, subjects=tuple(things), related=related,
                  because=because, remedy=tree)  # fmt: skip


_RING = _LINK.format("a.8", "b.7") + _LINK.format("b.8", "c.7") + _LINK.format("c.8", "a.7")

cases(
    loop,
    clean=[
        _TWO_OFF,
        _TWO_OFF.replace(_OFF.format("b"), _ON.format("b")) + _LINK.format("a.7", "b.7"),  # one of them is enough
        '[[switch]]\nid = "a"\nports = 8\n[[switch]]\nid = "b"\nports = 8\n'
        '[[link]]\nfrom = "a.7 .. a.8"\nto = "b.7 .. b.8"\nbond = "trunk"\n',
        _ON.format("a") + _OFF.format("b") + _OFF.format("c") + _RING,
        # a board in two switches passes nothing on
        _OFF.format("a") + _OFF.format("b") + _LINK.format("a.8", "b.8")
        + '[[node]]\nid = "n"\n[[node.port]]\nid = "1 .. 2"\nto = ["a.1", "b.1"]\n',
        # two cables, each for another VLAN
        "".join(f'[[switch]]\nid = "{s}"\nspanning_tree = false\n[[switch.port]]\nid = "7"\nvlan = 10\n'
                '[[switch.port]]\nid = "8"\nvlan = 20\n' for s in "ab")
        + _LINK.format("a.7", "b.7") + _LINK.format("a.8", "b.8"),
        _TWO_OFF + _LINK.format("b.8", "a.8"),  # written twice: `ports.double_booked` has that
    ],
    flagged=[
        Case(_TWO_OFF + _LINK.format("a.7", "b.7"), at="a and b", found="2", level="error", mended=_TWO_OFF),
        Case(_OFF.format("a") + _OFF.format("b") + _OFF.format("c") + _RING, at="a, b and c", found="3"),
        Case(_SW.format("a") + _SW.format("b") + _LINK.format("a.8", "b.8") + _LINK.format("a.7", "b.7"),
             at="a and b", kind="open"),
        # a port that takes no part hides the loop from the switch
        Case('[[switch]]\nid = "a"\nspanning_tree = true\n[[switch.port]]\nid = "7"\nspanning_tree = false\n'
             '[[switch.port]]\nid = "8"\n' + _OFF.format("b") + _LINK.format("a.8", "b.8") + _LINK.format("a.7", "b.7"),
             at="a and b", level="error"),
        # a trunk that carries both VLANs, and a cable for one of them
        Case("".join(f'[[switch]]\nid = "{s}"\nspanning_tree = false\n[[switch.port]]\nid = "7"\nvlan = 10\n'
                     '[[switch.port]]\nid = "8"\ntagged = [10, 20]\n' for s in "ab")
             + _LINK.format("a.7", "b.7") + _LINK.format("a.8", "b.8"), at="a and b", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="cut_offs")
def cut_off(island: Island) -> Iterator[Finding]:
    """Everything that belongs together hangs together.

    A cable between two switches is the one that is forgotten: each half works by itself, and no machine reaches the
    other. Where both halves have addresses of one subnet that is an error; where one has no addresses at all it may be
    meant, so it is a warning. A network of its own is fine where it has a subnet of its own, a way out of its own, or
    machines that have a cable to the rest as well.
    """
    things = island.things
    says = f"no cable leads from {listed(thing.id for thing in things)} to the rest"
    why = ""
    level: Level = "warning"
    if island.shares:
        level = "error"
        why = f"{listed(block.text for block in island.shares)} has addresses on both sides"
    words = "say how they are joined: a [[link]] with from and to; or bridges = true of what passes frames on between"
    if island.cable:
        words = f'join them: [[link]] from = "{island.cable[0]}", to = "{island.cable[1]}"'
    yield Finding(
        level, things[0], says, because=why, remedy=words, subjects=tuple(thing.id for thing in things)
    )


_NET = '[[subnet]]\nprefix = "{}"\n'
_AT = _NODE + 'address = "{}"\n'
_HALVES = (
    _SW.format("a")
    + _SW.format("b")
    + _AT.format("n1", "a.1", "10.0.0.1")
    + _AT.format("n2", "b.1", "10.0.0.2")
)
_HALVES += _AT.format("n3", "a.2", "10.0.0.3") + _NET.format("10.0.0.0/24")
_TRUNKS = "".join(
    f'[[switch]]\nid = "{switch}"\n[[switch.port]]\nid = "1 .. 2"\nvlan = 10\n'
    f'[[switch.port]]\nid = "{trunk}"\ntagged = [10, 20]\n[[switch.port]]\nid = "8"\n'
    for switch, trunk in (("a", 6), ("b", 7))
)
_TRUNKS += _HALVES.partition("[[node]]")[1] + _HALVES.partition("[[node]]")[2] + "vlan = 10\n"
_PAIR = _SW.format("a") + _SW.format("b") + _NODE.format("n1 .. n3", "a.1 .. a.3")

cases(
    cut_off,
    clean=[
        _HALVES + _LINK.format("a.8", "b.8"),
        _HALVES.replace("10.0.0.2", "10.0.1.2") + _NET.format("10.0.1.0/24"),  # a network of its own
        _PAIR,  # `ports.no_link` speaks of a switch without cables
    ],
    flagged=[
        Case(_HALVES, at="b and n2", level="error", mended=_HALVES + _LINK.format("a.8", "b.8")),
        Case(_PAIR + _NODE.format("n4 .. n5", "b.1 .. b.2"), at="b, n4 and n5", level="warning",
             mended=_PAIR + _NODE.format("n4 .. n5", "b.1 .. b.2") + _LINK.format("a.8", "b.8")),
        # only ports that carry the VLAN of both sides join them, not merely the next free ones
        Case(_TRUNKS, at="b and n2", level="error", mended=_TRUNKS + _LINK.format("b.7", "a.6")),
        # a board in both switches passes nothing on
        Case(_HALVES + '[[node]]\nid = "r"\n[[node.port]]\nid = "1 .. 2"\nto = ["a.7", "b.7"]\n', at="b and n2",
             level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def single_point(plan: Plan, weak_points: list[Failure]) -> Iterator[Finding]:
    """Nobody is surprised by what fails with what.

    Where [plan] says redundant = true, no switch and no cable may part a node from storage or from the way out: each
    that does is an error. Where it says nothing, one note names the worst of several switches. Where it says
    redundant = false, that is by design.

    Formula: cut vertices and cut edges of the graph of all cables, two cables side by side counted as two.

    Source: graph theory; the loss of one part at a time is common practice.
    """
    if plan.head.redundant:
        for failure in weak_points:
            yield _fails(failure)
        return
    switches = [f for f in weak_points if not isinstance(f.at, Bundle) and f.most > 1]
    if switches:
        worst = max(switches, key=lambda f: f.most)
        rest = [f for f in switches if f is not worst]
        because = "; ".join(f"without {f.at.id}: {len(f.who)}" for f in rest[:6])
        says = f"{_lose(worst)} if {worst.at.id} fails"
        yield Finding("note", worst.at, says, found=str(len(worst.who)), because=because,
                      remedy="if that is by design, say redundant = false in [plan]; "
                      "if it must not be, redundant = true shows all that is missing")  # fmt: skip


def _lose(failure: Failure) -> str:
    """Return who loses what, grouped by who."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for name, things in failure.lost.items():
        groups.setdefault(tuple(thing.id for thing in things), []).append(name)
    return "; ".join(f"{listed(names)} would lose {listed(lost)}" for names, lost in groups.items())


def _fails(failure: Failure) -> Finding:
    at: Any = failure.at
    if isinstance(at, Bundle):
        at, name = at.lines[0], f"the link from {at.words}"
        path = at.path
    else:
        name, path = at.id, ()
    says = f"{_lose(failure)} if {name} fails"
    return Finding("error", at, says, found=str(len(failure.who)), allowed="0", path=path,
                   remedy="a second way round it, over another switch and another cable")  # fmt: skip


_STORE = '[[storage]]\nid = "store"\nport = "{}"\n'
_AND_B = (
    _OFF.format("a") + _OFF.format("b") + _LINK.format("a.8", "b.8") + _NODE.format("n1 .. n3", "a.1 .. a.3")
)
_AND_B += _STORE.format("a.4")
_ONE = _OFF.format("a") + _NODE.format("n1 .. n3", "a.1 .. a.3") + _STORE.format("a.4")
_DOUBLE = "[plan]\nredundant = true\n" + _ON.format("a") + _ON.format("b") + _LINK.format("a.8", "b.8")
_DOUBLE += "".join(
    f'[[{table}]]\nid = "{name}"\n[[{table}.port]]\nid = "1 .. 2"\nto = ["a.{n}", "b.{n}"]\n'
    for n, (table, name) in enumerate([("node", "n1"), ("node", "n2"), ("storage", "store")], 1)
)
_HALF = _DOUBLE.replace('[[storage.port]]\nid = "1 .. 2"\nto = ["a.3", "b.3"]\n', 'port = "a.3"\n')

cases(
    single_point,
    clean=[
        "[plan]\nredundant = false\n" + _AND_B,
        _ONE,  # everyone sees what a single switch means
        _DOUBLE,
        _OFF.format("a") + _NODE.format("n1 .. n3", "a.1 .. a.3"),  # nothing that they could lose
    ],
    flagged=[
        Case(_AND_B, at="n1 .. n3 would lose store if a fails", found="3", level="note",
             mended="[plan]\nredundant = false\n" + _AND_B),
        Case(_HALF, at="a", level="error", mended=_DOUBLE),
        Case(_OFF.format("a") + _OFF.format("b") + _LINK.format("a.8", "b.8") + _NODE.format("n1 .. n3", "b.1 .. b.3")
             + _NODE.format("m", "a.1") + _STORE.format("a.4"), at="would lose store if a fails", found="4"),
    ],
)  # fmt: skip


@rule(level="error", over="switch")
def priority(switch: Switch) -> Iterator[Finding]:
    """A priority in the spanning tree is a multiple of 4096, from 0 to 61440.

    A switch refuses or rounds any other, and then another switch than was meant becomes the root.

    Source: IEEE 802.1D-2004 (four bits of priority), by a switch manual.
    """
    if switch.priority is None:
        return
    if switch.spanning_tree is False:
        says = f"{switch.id} has a priority in the spanning tree and runs none"
        yield Finding("warning", switch, says, place="priority",
                      remedy="take a switch that runs one, or take out priority")  # fmt: skip
        return
    why = bridging.problem_with_priority(switch.priority)
    if why:
        step = bridging.PRIORITY_STEP
        near = min(max(round(switch.priority / step) * step, 0), bridging.PRIORITY_MAX)
        yield Finding("error", switch, f"the priority of {switch.id} is {switch.priority}: {why}",
                      found=str(switch.priority), allowed=str(near), place="priority",
                      remedy=f"write priority = {near}", edits=(Put((*switch.path, "priority"), near),))  # fmt: skip


_FIRST = _ON.format("a") + "priority = {}\n"

cases(
    priority,
    clean=[_FIRST.format(0), _FIRST.format(4096), _FIRST.format(61440), _ON.format("a")],
    flagged=[
        Case(_FIRST.format(100), at="a", found="100", mended=_FIRST.format(0)),
        Case(_FIRST.format(4097), at="a", found="4097", edits=True, mended=_FIRST.format(4096)),
        Case(_FIRST.format(65536), at="a", found="65536", mended=_FIRST.format(61440)),
        Case(
            _OFF.format("a") + "priority = 4096\n",
            at="runs none",
            level="warning",
            mended=_FIRST.format(4096),
        ),
    ],
)


@rule(level="error", over="switch")
def timers(switch: Switch) -> Iterator[Finding]:
    """The timers of a spanning tree fit each other.

    Otherwise a switch gives up words of the root that are still under way, or forwards before the others have blocked.

    Formula: 2 (forward_delay - 1 s) >= max_age >= 2 (hello + 1 s).

    Source: IEEE 802.1D, by three switch manuals.
    """
    if switch.hello is None and switch.max_age is None and switch.forward_delay is None:
        return
    hello = bridging.HELLO if switch.hello is None else switch.hello
    age = bridging.MAX_AGE if switch.max_age is None else switch.max_age
    delay = bridging.FORWARD_DELAY if switch.forward_delay is None else switch.forward_delay
    low, high = bridging.max_age_limits(hello, delay)
    place = ("max_age", "forward_delay", "hello")
    if not low <= age <= high:
        limit = low if age < low else high
        says = (
            f"max_age of {switch.id} is {show(age, 's')}; beside hello {show(hello, 's')} and forward_delay "
        )
        says += f"{show(delay, 's')} it may be {show(low, 's')} to {show(high, 's')}"
        yield Finding("error", switch, says, found=Measure(age, "s"), allowed=Measure(limit, "s"), place=place,
                      remedy="leave all three at 2 s, 20 s and 15 s, unless the row of switches is long")  # fmt: skip


cases(
    timers,
    clean=[
        _ON.format("a") + 'hello = "2 s"\nmax_age = "20 s"\nforward_delay = "15 s"\n',
        _ON.format("a") + 'max_age = "28 s"\n',
        _ON.format("a") + 'max_age = "6 s"\n',
    ],
    flagged=[
        Case(_ON.format("a") + 'max_age = "28.1 s"\n', at="a", found="28.1 s", mended=_ON.format("a")),
        Case(_ON.format("a") + 'max_age = "5.9 s"\n', at="a", found="5.9 s"),
        Case(_ON.format("a") + 'forward_delay = "10 s"\n', at="a", found="20 s"),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def in_a_row(plan: Plan, network: Network) -> Iterator[Finding]:
    """No more than seven switches stand in a row where a spanning tree runs with its usual timers.

    The word of the root grows older by each switch that runs one. Behind the seventh it may be too old when the next
    one comes.

    Formula: max_age >= 4 hello + 2 d - 2, with d switches on the longest of all shortest ways.

    Source: IEEE 802.1D, by course notes (7 with the usual timers); the formula from memory.
    """
    running = {switch.id: switch for switch in plan.table("switch") if switch.spanning_tree}
    age = max((switch.max_age or bridging.MAX_AGE for switch in running.values()), default=0.0)
    hello = min((switch.hello or bridging.HELLO for switch in running.values()), default=0.0)
    most = int((age + 2 - 4 * hello) // 2)
    if len(running) <= most:
        return
    row = [name for name in row_of_switches(network, set(running)) if name in running]
    if row and len(row) > most:
        needed = 4 * hello + 2 * len(row) - 2
        says = f"{len(row)} switches stand in a row from {row[0]} to {row[-1]}: max_age must be {show(needed, 's')}, "
        says += f"and is {show(age, 's')}"
        yield Finding("warning", plan.things[row[0]], says, found=str(len(row)), allowed=str(max(most, 1)),
                      remedy="join them through one in the middle, or set max_age on the root")  # fmt: skip


def _chain(count: int) -> str:
    switches = "".join(_ON.format(f"s{n}") for n in range(1, count + 1))
    return switches + "".join(_LINK.format(f"s{n}.8", f"s{n + 1}.7") for n in range(1, count))


cases(
    in_a_row,
    clean=[_chain(7), _chain(8).replace("true", "false"), _chain(8).replace("true\n", 'true\nmax_age = "22 s"\n', 1)],
    flagged=[Case(_chain(8), at="8 switches", found="8", level="warning", mended=_chain(7))],
)  # fmt: skip


@rule(level="warning", over="plan")
def blocked(plan: Plan, traffic: Traffic, blocked_vlans: dict[int, list[int]]) -> Iterator[Finding]:
    """No cable that the spanning tree blocks is the only one that carries a VLAN.

    One tree is made for all VLANs, and does not ask what a cable carries: where two switches are joined twice, and each
    VLAN has its own cable, the VLAN of the blocked one is cut in two. Some switches make a tree for each VLAN, which a
    plan cannot say: so it is a warning.

    Source: IEEE 802.1D: one tree for a bridged network, whatever its VLANs (from memory).
    """
    for place, vlans in blocked_vlans.items():
        bundle = traffic.network.bundles[place]
        line = bundle.lines[0]
        what = "frames without a VLAN" if vlans == [0] else f"VLAN {listed(str(v) for v in vlans if v)}"
        says = f"the spanning tree blocks the link from {bundle.words}, and no other way carries {what}"
        yield Finding("warning", line, says, found="blocked", path=line.path, subjects=(line.a.thing.id,),
                      remedy="let both cables carry the same VLANs, or unplug the other one")  # fmt: skip


_BY_VLAN = (
    '[[switch]]\nid = "{0}"\nspanning_tree = true\nmac = "02:00:00:00:00:0{0}"\n[[switch.port]]\nid = "7"\n{1}\n'
    '[[switch.port]]\nid = "8"\n{2}\n'
)
_APART = _BY_VLAN.format("a", "vlan = 10", "{0}") + _BY_VLAN.format("b", "vlan = 10", "{0}")
_APART += _LINK.format("a.7", "b.7") + _LINK.format("a.8", "b.8")
for _port in "78":
    _APART = _APART.replace(f'id = "{_port}"\n', f'id = "{_port}"\nspeed = "1 Gbit/s"\n')

cases(
    blocked,
    clean=[
        _APART.format("vlan = 10"),
        _APART.format("vlan = 20").replace("spanning_tree = true", "spanning_tree = false"),
        _APART.format("vlan = 20").replace(_LINK.format("a.7", "b.7"), ""),
    ],
    flagged=[
        Case(_APART.format("vlan = 20"), at="a.8 to b.8, and no other way carries VLAN 20", level="warning",
             mended=_APART.format("vlan = 10")),
    ],
)  # fmt: skip


@rule(level="note", over="plan")
def root(plan: Plan, spanning_tree: SpanningTree) -> Iterator[Finding]:
    """Where a spanning tree blocks a cable, the plan says which switch is its root.

    With equal priorities the lowest hardware address decides, which as a rule is the oldest and slowest switch: then
    traffic goes round by it, and the fast cable is the one that is blocked.

    Source: IEEE 802.1D, by a switch manual: lowest priority, then lowest address.
    """
    for tied in spanning_tree.ties:
        says = f"any of {listed(switch.id for switch in tied)} may become the root of the spanning tree"
        yield Finding("note", tied[0], says, found=str(len(tied)), allowed="1", subjects=tuple(s.id for s in tied),
                      remedy="give the one in the middle priority = 4096, or state each mac")  # fmt: skip


_SQUARE = _ON.format("a") + "{}" + _ON.format("b") + _LINK.format("a.8", "b.8") + _LINK.format("a.7", "b.7")

cases(
    root,
    clean=[
        _SQUARE.format("priority = 4096\n"),
        _ON.format("a") + _ON.format("b") + _LINK.format("a.8", "b.8"),
    ],
    flagged=[
        Case(
            _SQUARE.format(""),
            at="a and b",
            found="2",
            level="note",
            mended=_SQUARE.format("priority = 4096\n"),
        )
    ],
)


@rule(level="warning", over="plan")
def to_nobody(plan: Plan, unused_uplinks: list[LinkLine]) -> Iterator[Finding]:
    """Somebody in the plan reaches every way out.

    A modem that stands there without its other cable, or an uplink in a VLAN in which nobody is, leads out for no one.
    """
    for line in unused_uplinks:
        stated = any(port.id == line.a.id for port in line.a.thing.port_)
        where = str(line.a) if stated or line.a.thing.table == "switch" else line.a.thing.id
        says = f"the uplink to {line.outside} at {where} is in a network of its own: no machine reaches it"
        yield Finding("warning", line.a, says, path=line.path, found="0 machines",
                      remedy="plug in the cable that leads to it, or give its port a VLAN with machines")  # fmt: skip


_MODEM = _OFF.format("a") + _NODE.format("n1 .. n3", "a.1 .. a.3") + '[[appliance]]\nid = "modem"\n'
_MODEM += '[[uplink]]\nfrom = "modem"\nto = "the hall"\n'
_OUT = (
    '[[switch]]\nid = "a"\n[[switch.port]]\nid = "1 .. 3"\nvlan = 10\n[[switch.port]]\nid = "8"\nvlan = {}\n'
)
_OUT += '[[uplink]]\nfrom = "a.8"\nto = "the hall"\n' + _NODE.format("n1 .. n3", "a.1 .. a.3")

cases(
    to_nobody,
    clean=[
        _MODEM + _LINK.format("modem", "a.8"),
        _OUT.format(10),
        _OUT.format("20\ntagged = 10"),
        _MODEM.replace("modem", "n3").replace('[[appliance]]\nid = "n3"\n', ""),  # a machine has its own way out
        _OFF.format("a") + '[[uplink]]\nfrom = "a.8"\nto = "the hall"\n',  # nobody has a cable yet
        _OFF.format("a") + '[[node]]\nid = "n1 .. n3"\n[[uplink]]\nfrom = "a.8"\nto = "the hall"\n',  # `ports.no_link`
        # a switch that routes: it is there itself
        _OUT.format(20).replace('id = "a"\n', 'id = "a"\naddress = ["10.0.10.1", "10.0.20.1"]\n', 1)
        + _NET.format("10.0.20.0/24") + "vlan = 20\n" + _NET.format("10.0.10.0/24") + "vlan = 10\n",
    ],
    flagged=[
        Case(_MODEM, at="the hall at modem", level="warning", mended=_MODEM + _LINK.format("modem", "a.8")),
        Case(_OUT.format(20), at="a.8", level="warning", mended=_OUT.format(10)),
    ],
)  # fmt: skip

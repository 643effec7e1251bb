"""MTU: packets are as long at every end of a network, and everything between passes them on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.lan import frames
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Networked, Subnet, Switch
from coldcheck.workings.addresses import AddressBook
from coldcheck.workings.packets import Sender, Talk

_SW = '[[switch]]\nid = "sw"\nports = 8\n{}'
_NODE = '[[node]]\nid = "{}"\nport = "{}"\n{}'
_JUMBO = "mtu = 9000\n"
_MANAGED = '[[storage]]\nid = "store"\nmtu = 9000\n[[storage.port]]\nid = "e"\nto = "sw.2"\n'
_MANAGED += '[[storage.port]]\nid = "m"\nfor = "management"\nto = "sw.3"\n{}'
_BOTH = _NODE.format("n1 .. n3", "sw.1 .. sw.3", _JUMBO) + '[[storage]]\nid = "store"\nport = "sw.4"\n{}'


@rule(level="error", over="plan")
def differs(plan: Plan, talks: list[Talk]) -> Iterator[Finding]:
    """All machines on one segment have the same MTU.

    Nothing on the way tells a sender that a packet is too long for its neighbour: the frame is dropped without a word,
    so small answers get through and large ones hang. What a subnet states holds for all machines in it that say
    nothing else, and for its own VLAN at a port that carries several. What states no MTU has 1500; of what lies outside
    only what its uplink states counts.

    Source: long frames are in no IEEE 802.3, and are never negotiated; common practice.
    """
    told: set[tuple[str, int]] = set()
    for talk in talks:
        if len({subnet.mtu for subnet in talk.subnets}) > 1:
            yield from _at_odds(talk.subnets)
            continue
        most = talk.usual
        groups: dict[int, dict[str, Sender]] = {}
        for sender in talk.senders:
            groups.setdefault(sender.mtu, {}).setdefault(sender.name, sender)
        for mtu, senders in groups.items():
            fresh = [name for name in senders if (name, mtu) not in told]
            if mtu == most or not fresh:
                continue
            told |= {(name, mtu) for name in fresh}
            first = senders[fresh[0]]
            says, remedy = _beside(plan, talk, fresh, mtu, groups.get(most, {}))
            yield Finding("error", first.at, says, found=Measure(mtu, "octets"), allowed=Measure(most, "octets"),
                          place="mtu", path=first.path, subjects=tuple(fresh), remedy=remedy)  # fmt: skip


def _at_odds(subnets: list[Subnet]) -> Iterator[Finding]:
    """Yield that subnets of one network state different MTUs; a leak between their VLANs is told by other rules."""
    if len({subnet.vlan for subnet in subnets} - {None}) > 1:
        return
    first = subnets[0]
    other = next(subnet for subnet in subnets if subnet.mtu != first.mtu)
    says = f"{other.prefix} on one network with {first.prefix}: an MTU of {other.mtu}, beside {first.mtu}"
    yield Finding("error", other, says, found=Measure(other.mtu or 0, "octets"), place="mtu",
                  allowed=Measure(first.mtu or 0, "octets"), related=[((*first.path, "mtu"), "the other subnet")],
                  remedy=f"set the same mtu at both: {first.mtu} or {other.mtu}")  # fmt: skip


def _beside(plan: Plan, talk: Talk, names: list[str], mtu: int, usual: Iterable[str]) -> tuple[str, str]:
    """Say beside what the MTU of some machines is another one, and what to do: the subnet's word goes before others."""
    if talk.stated is None:
        others = [name for name in usual if name not in names] or list(usual)
        says = f"{listed(names)} on one network with {listed(others)}: an MTU of {mtu}, beside {talk.usual}"
        remedy = f"set the same mtu on all of them: {talk.usual} or {mtu}"
        things = (sender.at.id for sender in talk.senders if isinstance(sender.at, Networked))
        if any(port.tagged for name in things for port in plan.ports.get(name, ())):
            remedy += "; where a port of several VLANs sends less in one, mtu at its subnet says so"
        return says, remedy
    subnets = listed(subnet.prefix for subnet in talk.subnets)
    says = f"{listed(names)} on the network of {subnets}: an MTU of {mtu}, beside {talk.usual} of the subnet"
    return says, f"say mtu = {talk.stated} of {listed(names)}, or mtu = {mtu} of the subnet"


_TAGS = (
    '[[switch]]\nid = "sw"\nframe = 9216\n[[switch.port]]\nid = "1 .. 2"\nvlan = 10\ntagged = 30\n'
    '[[switch.port]]\nid = "3"\nvlan = 10\n'
    + _NODE.format("n1 .. n2", "sw.1 .. sw.2", "vlan = 10\ntagged = 30\n{}")
    + 'address = ["10.0.10.1 .. 10.0.10.2", "10.0.30.1 .. 10.0.30.2"]\n'
    + _NODE.format("cam", "sw.3", 'address = "10.0.10.9"\n')
    + '[[subnet]]\nprefix = "10.0.10.0/24"\nvlan = 10\n{}[[subnet]]\nprefix = "10.0.30.0/24"\nvlan = 30\n{}'
)
_LEAK = (
    '[[switch]]\nid = "sw"\nframe = 9216\n[[switch.port]]\nid = "1 .. 2"\nvlan = 10\n'
    '[[switch.port]]\nid = "3 .. 4"\nvlan = 30\n[[link]]\nfrom = "sw.2"\nto = "sw.4"\n'
    + _NODE.format("n", "sw.1", 'address = "10.0.10.1"\n')
    + _NODE.format("m", "sw.3", 'address = "10.0.30.1"\n')
    + '[[subnet]]\nprefix = "10.0.10.0/24"\nvlan = 10\nmtu = 1500\n'
    + '[[subnet]]\nprefix = "10.0.30.0/24"\nvlan = 30\nmtu = 9000\n'
)
_SIX_MTU = (
    _NODE.format("m", "sw.5", 'address = "fd2a:91c4:7b3e::5"\n')
    + '[[subnet]]\nprefix = "fd2a:91c4:7b3e::/64"\nmtu = {}\n[[sub'
)
_PLAIN = _SW.format("frame = 9216\n") + _NODE.format("n1 .. n2", "sw.1 .. sw.2", "{}")
_PLAIN += 'address = "10.0.0.1 .. 10.0.0.2"\n[[subnet]]\nprefix = "10.0.0.0/24"\nmtu = {}\n'

cases(
    differs,
    clean=[
        _SW.format("frame = 9216\n") + _BOTH.format(_JUMBO),
        _SW.format("") + _BOTH.format("").replace(_JUMBO, ""),
        _SW.format("") + _NODE.format("n1", "sw.1", "mtu = 1500\n") + _NODE.format("n2", "sw.2", ""),
        # one tagged port, a long MTU in one VLAN of it
        _TAGS.format(_JUMBO, "mtu = 1500\n", ""),
        _TAGS.format("", "", _JUMBO),
        _LEAK,  # `segments.leak` has it
        _PLAIN.format("", 9000),
        _PLAIN.format(_JUMBO, 9000),
    ],
    flagged=[
        Case(_TAGS.format("mtu = 1500\n", "", _JUMBO), at="n1 and n2 on the network of 10.0.30.0/24",
             found="1500 octets", level="error", mended=_TAGS.format(_JUMBO, "mtu = 1500\n", _JUMBO)),
        # all machines alike, and not as the subnet says
        Case(_PLAIN.format("mtu = 8999\n", 9000), at="n1 and n2", found="8999 octets",
             mended=_PLAIN.format(_JUMBO, 9000)),
        Case(_PLAIN.format("", 9000).replace("[[sub", _SIX_MTU.format(8000), 1), at="10.0.0.0/24 on one network",
             found="9000 octets", mended=_PLAIN.format("", 9000).replace("[[sub", _SIX_MTU.format(9000), 1)),
        Case(_PLAIN.format(_JUMBO, 1500), at="n1 and n2", found="9000 octets", mended=_PLAIN.format("", 1500)),
        # a port for management has its own words only, and is named
        Case(_SW.format("") + _NODE.format("n1", "sw.1", _JUMBO) + _MANAGED.format(""), found="1500 octets",
             at="store.m on one network with n1 and store.e", mended=_SW.format("") + _NODE.format("n1", "sw.1", _JUMBO)
             + _MANAGED.format(_JUMBO)),
        Case(_SW.format("") + _BOTH.format(""), at="store on one network with n1 .. n3", found="1500 octets",
             level="error", mended=_SW.format("") + _BOTH.format(_JUMBO)),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def switch_frame(plan: Plan, talks: list[Talk]) -> Iterator[Finding]:
    """A switch passes on the longest frames of the machines that talk through it.

    A packet of 9000 octets makes a frame of 9018, of 9022 with a tag. A switch that passes on less drops it; one that
    says nothing may pass on no more than the standard asks. Where the machines of a segment differ, what the subnet
    states counts, else most of them: `mtu.differs` speaks of the others.

    Formula: MTU + 18, + 4 for a tag, <= frame.

    Source: IEEE 802.3 and 802.1Q: header 14, check sequence 4, tag 4 octets.
    """
    worst: dict[str, tuple[int, Switch, Talk]] = {}
    for talk in talks:
        for switch in talk.switches if talk.usual > frames.MTU else ():
            if talk.frame(switch) > worst.get(switch.id, (0,))[0]:
                worst[switch.id] = (talk.frame(switch), switch, talk)
    for frame, switch, talk in worst.values():
        sends = listed(dict.fromkeys(s.name for s in talk.senders if s.mtu == talk.usual))
        if not sends:
            continue  # nobody sends what the subnet states, so far
        if switch.frame is None:
            says = f"{sends} through {switch.id}: packets of {talk.usual} octets; "
            says += "the longest frame it passes on is not said"
            yield Open("error", switch, says, ["frame"], remedy="say it: frame = 9216, or what its sheet has")
        elif switch.frame < frame:
            says = f"{sends} through {switch.id}: frames of {frame} octets; it passes on {switch.frame}"
            most = frames.mtu_of(max(switch.frame, frames.SHORTEST), int(switch.id in talk.tagging))
            whose = "on all machines" if talk.stated is None else "at the subnet"
            words = f"mtu = {most} at most {whose}, or a switch that passes on longer frames"
            yield Finding("error", switch, says, found=Measure(frame, "octets"),
                          allowed=Measure(switch.frame, "octets"), place=("frame", "part"), remedy=words)  # fmt: skip


cases(
    switch_frame,
    clean=[
        _SW.format("frame = 9018\n") + _BOTH.format(_JUMBO),
        _SW.format("") + _NODE.format("n1 .. n2", "sw.1 .. sw.2", "mtu = 1500\n"),
        # `differs` has machines that send less than their subnet states
        _PLAIN.format("mtu = 1500\n", 9000).replace("frame = 9216\n", ""),
        # with a tag 4 octets more, and only for the VLAN of the long packets
        _TAGS.format("", "", _JUMBO).replace("9216", "9022"),
        _TAGS.format(_JUMBO, _JUMBO, "mtu = 1500\n").replace("9216", "9018"),
    ],
    flagged=[
        Case(_SW.format("frame = 9017\n") + _BOTH.format(_JUMBO), at="through sw", found="9018 octets", level="error",
             mended=_SW.format("frame = 9018\n") + _BOTH.format(_JUMBO)),
        Case(_SW.format("") + _BOTH.format(_JUMBO), at="sw", kind="open"),
        Case(_TAGS.format("", "", _JUMBO).replace("9216", "9021"), at="through sw", found="9022 octets",
             mended=_TAGS.format("", "", _JUMBO).replace("9216", "9022")),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def too_small(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A machine with an IPv6 address sends packets of 1280 octets or more; one with an IPv4 address, of 68 or more.

    IPv6 does not run on a link that carries less. What a subnet states is held against the same.

    Source: RFC 8200 section 5; RFC 791.
    """
    told: set[int] = set()
    for host in address_book.hosts:
        stated = [host.port] if host.port is not None else host.thing.port_
        mtu = min((port.mtu for port in stated if port.mtu), default=host.thing.mtu)
        least = frames.LEAST_LINK_MTU[host.family]
        if mtu is not None and mtu < least and id(host.thing) not in told:
            told.add(id(host.thing))
            says = f"{host.name} has an IPv{host.family} address and an MTU of {mtu}; {least} is the least"
            yield Finding("error", host.thing, says, found=Measure(mtu, "octets"), allowed=Measure(least, "octets"),
                          place="mtu", remedy=f"mtu = {frames.MTU}")  # fmt: skip
    for block in address_book.subnets:
        mtu, least = getattr(block.source, "mtu", None), frames.LEAST_LINK_MTU[block.prefix.family]
        if mtu is not None and mtu < least:
            says = f"{block.name} has IPv{block.prefix.family} addresses and an MTU of {mtu}; {least} is the least"
            yield Finding("error", block.source, says, found=Measure(mtu, "octets"), allowed=Measure(least, "octets"),
                          place="mtu", remedy=f"mtu = {frames.MTU}")  # fmt: skip


_SIX = _SW.format("") + '[[node]]\nid = "n1"\nport = "sw.1"\naddress = "fd2a:91c4:7b3e::1/64"\nmtu = {}\n'

_SIX_NET = '[[subnet]]\nprefix = "fd2a:91c4:7b3e::/64"\nmtu = {}\n'

cases(
    too_small,
    clean=[
        _SIX_NET.format(1280),
        _SIX.format(1280),
        _SIX.format(1000).replace("fd2a:91c4:7b3e::1/64", "10.0.0.1/24"),
    ],
    flagged=[
        Case(_SIX.format(1279), at="n1", found="1279 octets", level="error", mended=_SIX.format(1500)),
        Case(
            _SIX_NET.format(1279), at="fd2a:91c4:7b3e::/64", found="1279 octets", mended=_SIX_NET.format(1280)
        ),
    ],
)

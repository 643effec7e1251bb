"""MTU: packets are as long at every end of a network, and everything between passes them on."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.lan import frames
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Switch
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
    so small answers get through and large ones hang. What states no MTU has 1500; of what lies outside only what its
    uplink states counts.

    Source: long frames are in no IEEE 802.3, and are never negotiated; common practice.
    """
    told: set[tuple[str, int]] = set()
    for talk in talks:
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
            others = [name for name in groups[most] if name not in senders] or list(groups[most])
            says = f"{listed(fresh)} on one network with {listed(others)}: an MTU of {mtu}, beside {most}"
            yield Finding("error", first.at, says, found=Measure(mtu, "octets"), allowed=Measure(most, "octets"),
                          place="mtu", path=first.path, subjects=tuple(fresh),
                          remedy=f"set the same mtu on all of them: {most} or {mtu}")  # fmt: skip


cases(
    differs,
    clean=[
        _SW.format("frame = 9216\n") + _BOTH.format(_JUMBO),
        _SW.format("") + _BOTH.format("").replace(_JUMBO, ""),
        _SW.format("") + _NODE.format("n1", "sw.1", "mtu = 1500\n") + _NODE.format("n2", "sw.2", ""),
    ],
    flagged=[
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
    says nothing may pass on no more than the standard asks. Where the machines of a segment differ, most of them count:
    `mtu.differs` speaks of the others.

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
        if switch.frame is None:
            says = f"{sends} through {switch.id}: packets of {talk.usual} octets; "
            says += "the longest frame it passes on is not said"
            yield Open("error", switch, says, ["frame"], remedy="say it: frame = 9216, or what its sheet has")
        elif switch.frame < frame:
            says = f"{sends} through {switch.id}: frames of {frame} octets; it passes on {switch.frame}"
            most = frames.mtu_of(max(switch.frame, frames.SHORTEST), int(switch.id in talk.tagging))
            words = f"mtu = {most} at most on all machines, or a switch that passes on longer frames"
            yield Finding("error", switch, says, found=Measure(frame, "octets"),
                          allowed=Measure(switch.frame, "octets"), place=("frame", "part"), remedy=words)  # fmt: skip


cases(
    switch_frame,
    clean=[
        _SW.format("frame = 9018\n") + _BOTH.format(_JUMBO),
        _SW.format("") + _NODE.format("n1 .. n2", "sw.1 .. sw.2", "mtu = 1500\n"),
    ],
    flagged=[
        Case(_SW.format("frame = 9017\n") + _BOTH.format(_JUMBO), at="through sw", found="9018 octets", level="error",
             mended=_SW.format("frame = 9018\n") + _BOTH.format(_JUMBO)),
        Case(_SW.format("") + _BOTH.format(_JUMBO), at="sw", kind="open"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def too_small(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A machine with an IPv6 address sends packets of 1280 octets or more; one with an IPv4 address, of 68 or more.

    IPv6 does not run on a link that carries less.

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


_SIX = _SW.format("") + '[[node]]\nid = "n1"\nport = "sw.1"\naddress = "fd2a:91c4:7b3e::1/64"\nmtu = {}\n'

cases(
    too_small,
    clean=[_SIX.format(1280), _SIX.format(1000).replace("fd2a:91c4:7b3e::1/64", "10.0.0.1/24")],
    flagged=[Case(_SIX.format(1279), at="n1", found="1279 octets", level="error", mended=_SIX.format(1500))],
)

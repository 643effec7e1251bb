"""Hardware addresses: those that may be made up, and the IPv6 addresses that are formed from them."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, cases, rule
from coldcheck.lan.address import text_of
from coldcheck.lan.mac import mac_text, quadrant
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed
from coldcheck.workings.addresses import AddressBook, Station, span_text
from coldcheck.workings.hosts import names_of, shared_paths
from coldcheck.workings.interface_ids import Formed, put_values

_MAC = '[[node]]\nid = "{}"\nmac = "{}"\n'
_SIX = '[[node]]\nid = "{}"\nmac = "{}"\naddress = "{}"\n'


@rule(level="warning", over="plan")
def made_up(plan: Plan, stations: list[Station]) -> Iterator[Finding]:
    """A hardware address that is made up has 2 for its second digit.

    Of the addresses that no maker gave, those with 2 are free for whoever runs the network. With A they are formed
    from a company id that somebody bought, with E they are given out by standards, and with 6 their use is left to the
    future. Each works until something else on the network has it by right.

    Source: IEEE 802c-2017 section 8.4 (an extract, and public code that follows it).
    """
    groups: dict[tuple[str, Path], list[Station]] = {}
    for station in stations:
        if station.value is not None and not station.reason:
            kind = quadrant(station.value)
            if kind and kind != "free to choose":
                groups.setdefault((kind, station.path), []).append(station)
    for (kind, path), found in groups.items():
        names = tuple(dict.fromkeys(station.name for station in found))
        shown = listed(station.text for station in found)
        first = found[0].text
        yield Finding(
            "warning" if "reserved" in kind else "note",
            found[0].thing,
            f"hardware address of {listed(names)}, {shown}: local, but {kind}",
            found=shown,
            allowed=f"{first[0]}2{first[2:]}",
            remedy="if it is made up, write 2 for its second digit; if it is read from a label, accept it by a waiver",
            path=path,
            subjects=names,
        )


cases(
    made_up,
    clean=[
        _MAC.format("n1 .. n3", "02:00:00:00:00:01 .. 02:00:00:00:00:03") + _MAC.format("m", "F2-00-00-00-00-01"),
        _MAC.format("n1", "00:00:5e:00:53:01"),
        _MAC.format("n1", "07:00:00:00:00:01"),  # a group, which `addresses.hardware` has
    ],
    flagged=[
        Case(_MAC.format("n1 .. n3", "06:00:00:00:00:01 .. 06:00:00:00:00:03"), at="n1 .. n3", level="warning",
             mended=_MAC.format("n1 .. n3", "02:00:00:00:00:01 .. 02:00:00:00:00:03")),
        Case(_MAC.format("n1", "0a:00:00:00:00:01"), at="company id", level="note"),
        Case(_MAC.format("n1", "FE-00-00-00-00-01"), at="standards", level="note", found="FE-00-00-00-00-01"),
        Case('[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1"\nmac = "06:00:00:00:00:01"\n', at="sw.1"),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def interface_id(plan: Plan, address_book: AddressBook, formed_addresses: list[Formed]) -> Iterator[Finding]:
    """An IPv6 address that is formed from a hardware address is formed from that of its own thing.

    A machine forms such an address by itself, so what the plan says is not what it will have. The bit that tells a
    local address from a maker's is inverted on the way, not set: of a local address it goes off.

    Formula: ff:fe between the two halves of the hardware address, its bit 0x02 inverted.

    Source: RFC 4291 appendix A; RFC 2464 section 4.
    """
    if not formed_addresses:
        return
    shared = shared_paths(address_book)
    for rows in _slips(formed_addresses):
        hosts = [row.host for row in rows]
        names = names_of(hosts)
        right = [row.right for row in rows]
        shown = listed(text_of(6, value) for value in right)
        edits = put_values(shared, hosts, right)
        yield Finding(
            "warning",
            hosts[0].thing,
            f"{listed(names)}: address {span_text(hosts)}, {_reason(rows)}",
            found=span_text(hosts),
            allowed=shown,
            remedy=f"write {shown}, or correct the hardware address",
            edits=edits,
            path=hosts[0].path,
            subjects=names,
            related=[(path, "formed from this one") for path in _sources(rows)],
        )


def _slips(formed: list[Formed]) -> Iterator[list[Formed]]:
    """Yield what is wrong, one slip at a time: keys with addresses formed from each other's are one."""
    group_of: dict[Path, int] = {}
    groups: dict[int, list[Formed]] = {}
    wrong = {row.host.name: row for row in formed if row.other is not None}
    for row in formed:
        key = row.host.key
        mark = group_of.setdefault(key, len(group_of))
        groups.setdefault(mark, []).append(row)
        other = wrong.get(row.other.name) if row.other is not None else None
        if other is not None and other.other is not None and other.other.name == row.host.name:
            group_of.setdefault(other.host.key, mark)  # the two are swapped
    for rows in groups.values():
        for bit in (True, False):
            same = [row for row in rows if row.bit_kept == bit]
            if same:
                yield same


def _reason(rows: list[Formed]) -> str:
    if rows[0].bit_kept:
        return "formed with the bit 0x02 of the hardware address as it was; it is to be inverted"
    others = tuple(dict.fromkeys(row.other.name for row in rows if row.other is not None))
    if len(others) == 0:
        return f"formed from {mac_text(rows[0].of)}, which is not the hardware address there"
    return f"formed from the hardware address of {listed(others)}"


def _sources(rows: list[Formed]) -> list[Path]:
    own = {row.host.thing.path for row in rows}
    paths = dict.fromkeys(row.other.path for row in rows if row.other is not None)
    return [path for path in paths if path[:2] not in own][:4]


# E22 of RFC 2464 section 4: 34-56-78-9A-BC-DE gives 3656:78ff:fe9a:bcde. A local address from a public note on IPv6:
# CE-75-73-26-2E-C2 gives cc75:73ff:fe26:2ec2, the bit goes off.
_MAKER = _SIX.format("n1", "34-56-78-9A-BC-DE", "fe80::{}:78ff:fe9a:bcde")
_LOCAL = _SIX.format("n1", "CE-75-73-26-2E-C2", "fe80::{}:73ff:fe26:2ec2")
_TWO = _SIX.format("a", "00:00:5e:00:53:01", "fd5a:91c3:7e02::200:5eff:fe00:53{}/64")
_TWO += _SIX.format("b", "00:00:5e:00:53:02", "fd5a:91c3:7e02::200:5eff:fe00:53{}/64")
_SPAN = _SIX.format("n1 .. n3", "00:00:5e:00:53:01 .. 00:00:5e:00:53:03",
                    "fd5a:91c3:7e02:0:200:5eff:fe00:53{}/64 .. fd5a:91c3:7e02:0:200:5eff:fe00:53{}/64")  # fmt: skip

cases(
    interface_id,
    clean=[
        _MAKER.format("3656"),
        _LOCAL.format("cc75"),
        _TWO.format("01", "02"),
        _SPAN.format("01", "03"),
        '[[node]]\nid = "n1"\naddress = "fe80::200:5eff:fe00:5301"\n',  # the plan does not say what it was formed from
        _SIX.format("n1", "00:00:5e:00:53:01", "fd5a:91c3:7e02::11/64"),
        # an address of one port, the hardware address of another
        '[[node]]\nid = "n1"\n[[node.port]]\nid = "a"\nmac = "00:00:5e:00:53:01"\n[[node.port]]\nid = "b"\n'
        'address = "fe80::200:5eff:fe00:5302"\n',
    ],
    flagged=[
        Case(_MAKER.format("3456"), at="n1", level="warning", edits=True, mended=_MAKER.format("3656")),
        Case(_LOCAL.format("ce75"), at="inverted", edits=True, mended=_LOCAL.format("cc75")),
        Case(_TWO.format("02", "01"), at="a and b", edits=True,
             mended=_TWO.format("01", "02").replace("::200", ":0:200")),
        Case(_TWO.format("01", "03"), at="00:00:5e:00:53:03, which is not", found="fd5a:91c3:7e02:0:200:5eff:fe00:5303",
             mended=_TWO.format("01", "02").replace("::200", ":0:200").replace(":0:200", "::200", 1)),
        Case(_SPAN.format("11", "13"), at="n1 .. n3", edits=True, mended=_SPAN.format("01", "03")),
        Case('[[node]]\nid = "n1"\n[[node.port]]\nid = "a"\nmac = "00:00:5e:00:53:01"\n'
             'address = "fe80::200:5eff:fe00:5302"\n', at="n1.a", found="fe80::200:5eff:fe00:5302"),
    ],
)  # fmt: skip

"""Addresses formed from hardware addresses, against netaddr, and edits that put them right."""

import datetime
import ipaddress
from random import Random

import netaddr  # type: ignore[import-untyped]

from coldcheck import Put, ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import judge
from coldcheck.plan.edit import apply
from coldcheck.plan.parts import Shelf
from coldcheck.workings.addresses import address_book, address_offers, stations, strays
from coldcheck.workings.hosts import shared_paths
from coldcheck.workings.interface_ids import Formed, formed_addresses, put_values

SITE = "fd5a:91c3:7e02::/64"
NODE = '[[node]]\nid = "{}"\nmac = "{}"\naddress = "{}"\n'


def formed(text: str) -> list[Formed]:
    """Return the addresses of a plan that were formed from another hardware address."""
    plan = ours.read_plan("plan.toml", text.encode(), Shelf())
    book = address_book(plan)
    return formed_addresses(plan, book, address_offers(plan, book, strays(plan, book)), stations(plan))


def found(text: str) -> list[Finding]:
    """Return what the rules of hardware addresses say of a plan."""
    book = ours.rulebook(entry_points=False)
    plan = ours.read_plan("plan.toml", text.encode(), Shelf())
    return judge(plan, book, datetime.date(2026, 1, 1), only=["macs"]).findings


def by_netaddr(value: int) -> str:
    """Return the address that netaddr forms in the site (RFC 4291 appendix A)."""
    return str(ipaddress.IPv6Address(int(netaddr.EUI(value, 48).ipv6(netaddr.IPNetwork(SITE).first))))


def test_right_addresses_are_those_of_netaddr() -> None:
    """Of 300 random stations, those with the address that netaddr forms pass, and netaddr's is offered to the rest."""
    random = Random(5)
    macs = [random.getrandbits(48) & ~(1 << 40) for _ in range(300)]
    wrong = set(random.sample(range(300), 60))
    text = "".join(
        NODE.format(f"n{i}", str(netaddr.EUI(mac, 48)), by_netaddr(mac ^ 1 if i in wrong else mac))
        for i, mac in enumerate(macs)
    )
    rows = formed(text)
    assert {row.host.name for row in rows} == {f"n{i}" for i in wrong}
    for row in rows:
        assert ipaddress.IPv6Address(row.right) == ipaddress.IPv6Address(
            by_netaddr(macs[int(row.host.name[1:])])
        )
        assert (row.bit_kept, row.other) == (False, None)


def test_a_bit_that_was_not_inverted() -> None:
    """The id with the bit as it was is told as such, for a maker's address and for a local one (E22, E23)."""
    for mac, wrong, right in (
        ("34-56-78-9A-BC-DE", "fe80::3456:78ff:fe9a:bcde", "fe80::3656:78ff:fe9a:bcde"),
        ("CE-75-73-26-2E-C2", "fe80::ce75:73ff:fe26:2ec2", "fe80::cc75:73ff:fe26:2ec2"),
    ):
        (row,) = formed(NODE.format("n1", mac, wrong))
        assert row.bit_kept
        assert str(ipaddress.IPv6Address(row.right)) == right
        assert formed(NODE.format("n1", mac, right)) == []


def test_whose_hardware_address_counts() -> None:
    """A port counts by its own, a thing by any of its own; where the plan does not say, nothing is told."""
    port = '[[node]]\nid = "n1"\n[[node.port]]\nid = "a"\nmac = "00:00:5e:00:53:01"\n{}[[node.port]]\nid = "b"\n{}'
    one, two = 'address = "fe80::200:5eff:fe00:5301"\n', 'address = "fe80::200:5eff:fe00:5302"\n'
    assert formed(port.format(one, "")) == []
    assert [row.host.name for row in formed(port.format(two, ""))] == ["n1.a"]
    assert formed(port.format("", two)) == []
    assert [row.host.name for row in formed(port.format("", 'mac = "00:00:5e:00:53:03"\n' + two))] == ["n1.b"]
    thing = port.replace('id = "n1"\n', 'id = "n1"\n' + one)
    assert formed(thing.format("", "")) == []
    only = '[[node]]\nid = "n1"\nmac = "00:00:5e:00:53:01"\n[[node.port]]\nid = "a"\n'
    assert formed(only + one) == []
    assert [row.host.name for row in formed(only + two)] == ["n1.a"]


def test_swapped_addresses_are_one_slip() -> None:
    """Two things with each other's address are one finding whose edits put both right."""
    pair = [by_netaddr(0x00005E005301), by_netaddr(0x00005E005302)]
    text = NODE.format("a", "00:00:5e:00:53:01", pair[1]) + NODE.format("b", "00:00:5e:00:53:02", pair[0])
    (finding,) = found(text)
    assert finding.subjects == ("a", "b")
    assert finding.edits == (Put(("node", 0, "address"), pair[0]), Put(("node", 1, "address"), pair[1]))
    assert found(apply(text.encode(), finding.edits).decode()) == []


def test_a_span_that_is_one_off() -> None:
    """A span whose addresses are all one station further is one finding, with one text for the span."""
    texts = [by_netaddr(0x00005E005300 + n) for n in range(1, 7)]
    text = NODE.format("n1 .. n5", "00:00:5e:00:53:01 .. 00:00:5e:00:53:05", f"{texts[1]} .. {texts[5]}")
    (finding,) = found(text)
    assert finding.edits == (Put(("node", 0, "address"), f"{texts[0]} .. {texts[4]}"),)
    assert found(apply(text.encode(), finding.edits).decode()) == []


def test_an_address_that_two_have_is_left_to_its_own_rule() -> None:
    """What clashes is told by `addresses.duplicate`, and not here as well."""
    same = by_netaddr(0x00005E005301)
    assert (
        formed(NODE.format("a", "00:00:5e:00:53:01", same) + NODE.format("b", "00:00:5e:00:53:02", same))
        == []
    )


def test_one_text_for_a_span_changes_all_of_it() -> None:
    """Where one thing of a span is wrong, no edit is offered: its text belongs to the others as well."""
    texts = [by_netaddr(0x00005E005300 + n) for n in (1, 2)]
    text = NODE.format("n1 .. n2", "00:00:5e:00:53:01 .. 00:00:5e:00:53:02", f"{texts[0]} .. {texts[1]}")
    text = text.replace("00:53:02", "00:53:00")  # hardware addresses may count down
    plan = ours.read_plan("plan.toml", text.encode(), Shelf())
    book = address_book(plan)
    (row,) = formed(text)
    assert row.host.name == "n2"
    assert put_values(shared_paths(book), [row.host], [row.right]) == ()
    assert put_values(shared_paths(book), book.hosts, [host.value for host in book.hosts]) == (
        Put(("node", 0, "address"), f"{texts[0]} .. {texts[1]}"),
    )
    assert put_values(shared_paths(book), book.hosts, [host.value for host in book.hosts][::-1]) == (
        Put(("node", 0, "address"), (texts[1], texts[0])),
    )

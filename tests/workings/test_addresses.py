"""Every address of a plan read once, what it belongs to, and the free ones that are offered."""

import datetime
import ipaddress
import random
from typing import Any

import pytest

from coldcheck import Put, ours
from coldcheck.engine.running import judge
from coldcheck.lan.dhcp import leasable, pool_size
from coldcheck.plan.model import Plan
from coldcheck.plan.parts import Shelf
from coldcheck.workings import addresses
from coldcheck.workings.hosts import same_subnet

NET = '[[subnet]]\nprefix = "{}"\n'
NODE = '[[node]]\nid = "{}"\naddress = "{}"\n'
POOL = '[[pool]]\nfor = "{}"\nrange = "{} .. {}"\n'
LAN = NET.format("10.20.0.0/24")
#: The areas of rules that judge addresses, subnets and pools.
AREAS = ("addresses", "subnets", "pools")


def told_of(plan: Plan) -> addresses.AddressOffers:
    """Return what cannot stay in a plan, and what could be had instead."""
    book = addresses.address_book(plan)
    return addresses.address_offers(plan, book, addresses.strays(plan, book))


def read(text: str) -> Plan:
    """Return a plan without the parts shelf."""
    return ours.read_plan("plan.toml", text.encode(), Shelf())


def book_of(text: str) -> addresses.AddressBook:
    """Return the book of a plan."""
    return addresses.address_book(read(text))


def offers_of(text: str) -> dict[tuple[str | int, ...], str]:
    """Return what is offered, by the path of the key."""
    plan = read(text)
    found = told_of(plan)
    return {path: offer.text for path, offer in found.offers.items()}


def test_addresses_of_every_kind_are_found() -> None:
    """Things, their ports, gateways and outside routers are in the book, each with the key that states it."""
    text = LAN + 'gateway = "10.20.0.1"\n[[outside]]\nid = "router"\naddress = "10.20.0.1"\n'
    text += '[[node]]\nid = "n1"\naddress = ["10.20.0.2", "fd00::2"]\n[[node.port]]\nid = "a"\naddress = "10.20.0.3"\n'
    book = book_of(text)
    found = [(host.name, host.path, host.text) for host in book.every()]
    assert found == [
        ("n1", ("node", 0, "address", 0), "10.20.0.2"),
        ("n1", ("node", 0, "address", 1), "fd00::2"),
        ("n1.a", ("node", 0, "port", 0, "address"), "10.20.0.3"),
        ("the gateway of 10.20.0.0/24", ("subnet", 0, "gateway"), "10.20.0.1"),
        ("router", ("outside", 0, "address"), "10.20.0.1"),
    ]
    assert [host.subnet for host in book.every()] == [0, None, 0, 0, 0]


def test_what_cannot_be_read_is_kept() -> None:
    """Every text that is no address is in the book with its place, and nothing else is lost by it."""
    text = LAN + 'gateway = "10.20"\n' + NET.format("10.30.0.0/40") + NODE.format("n1", "10.20.0.07")
    text += NODE.format("n2", "10.20.0.8") + POOL.format("dhcp", "10.20.0.9", "x")
    text += '[[outside]]\nid = "o"\nprefix = ["10.9.0.0/16", "y"]\n'
    book = book_of(text)
    paths = [
        ("subnet", 1, "prefix"),
        ("pool", 0, "range"),
        ("outside", 0, "prefix", 1),
        ("node", 0, "address"),
    ]
    assert [bad.path for bad in book.bad] == [*paths, ("subnet", 0, "gateway")]
    assert (len(book.hosts), len(book.subnets), len(book.pools), len(book.networks)) == (1, 1, 0, 1)
    assert (book.bad_subnets, book.bad_pools) == (True, True)


def test_membership_agrees_with_a_search_through_all() -> None:
    """The subnet and the pool of 400 random addresses are those that ipaddress and a plain comparison give."""
    chance = random.Random(7)
    nets = [f"10.{n}.{chance.randrange(4) * 64}.0/{chance.choice([18, 20, 24])}" for n in range(30)]
    text = "".join(NET.format(net) for net in nets)
    pools = []
    for n in range(30):
        first = (10 << 24) + (n << 16) + chance.randrange(1 << 15)
        pools.append((first, first + chance.randrange(1 << 15)))
        ends = (ipaddress.IPv4Address(end) for end in pools[-1])
        text += POOL.format("dhcp", *ends)
    values = [(10 << 24) + chance.randrange(32 << 16) for _ in range(400)]
    text += "".join(NODE.format(f"n{i}", ipaddress.IPv4Address(v)) for i, v in enumerate(values))
    book = book_of(text)
    networks = [ipaddress.ip_network(net) for net in nets]
    inside = 0
    for host, value in zip(book.hosts, values, strict=True):
        expected = next((i for i, net in enumerate(networks) if ipaddress.IPv4Address(value) in net), None)
        assert host.subnet == expected
        holding = [i for i, (first, last) in enumerate(pools) if first <= value <= last]
        assert (host.pool is None) == (not holding)
        assert host.pool is None or host.pool in holding
        inside += expected is not None and bool(holding)
    assert inside > 10
    for pool, (first, last) in zip(book.pools, pools, strict=True):
        shared = [i for i, n in enumerate(networks) if int(n[0]) <= last and first <= int(n[-1])]
        assert pool.subnets == shared


def test_nested_subnets() -> None:
    """Where subnets are nested an address belongs to the one of its own length, else to the longest."""
    text = NET.format("10.0.0.0/8") + NET.format("10.20.0.0/16") + NET.format("10.20.0.0/24")
    text += NODE.format("a", "10.20.0.5") + NODE.format("b", "10.20.0.6/16") + NODE.format("c", "10.30.0.5")
    text += POOL.format("dhcp", "10.20.0.0", "10.20.0.9")
    book = book_of(text)
    assert [host.subnet for host in book.hosts] == [2, 1, 0]
    assert book.pools[0].subnets == [0, 1, 2]
    assert book_of(text.replace("10.20.0.0 .. 10.20.0.9", "10.20.1.0 .. 10.20.1.9")).pools[0].subnets == [
        0,
        1,
    ]


def test_nested_pools() -> None:
    """An address behind the end of an inner pool is still inside the outer one."""
    pools = POOL.format("dhcp", "10.20.0.10", "10.20.0.99") + POOL.format(
        "services", "10.20.0.20", "10.20.0.29"
    )
    book = book_of(LAN + pools + NODE.format("a", "10.20.0.50") + NODE.format("b", "10.20.0.100"))
    assert [host.pool for host in book.hosts] == [0, None]


def test_a_pool_that_is_handed_out_counts_first() -> None:
    """An address in a reserved and in a DHCP pool is noted for the latter, whichever is written first."""
    pools = [
        POOL.format("reserved", "10.20.0.1", "10.20.0.99"),
        POOL.format("dhcp", "10.20.0.50", "10.20.0.60"),
    ]
    for order in (pools, pools[::-1]):
        book = book_of(LAN + "".join(order) + NODE.format("n1", "10.20.0.55"))
        assert book.pools[book.hosts[0].pool or 0].use == "dhcp"


@pytest.mark.parametrize(
    ("net", "address", "why"),
    [
        # A router guide: 192.168.100.4/30 has the hosts .5 and .6 and the broadcast .7; as a /31, .4 and .5.
        ("192.168.100.4/30", "192.168.100.4", "network"),
        ("192.168.100.4/30", "192.168.100.5", ""),
        ("192.168.100.4/30", "192.168.100.6", ""),
        ("192.168.100.4/30", "192.168.100.7", "broadcast"),
        ("192.168.100.4/31", "192.168.100.4", ""),
        ("192.168.100.4/31", "192.168.100.5", ""),
        # RFC 4632: inside a prefix shorter than /24 these are hosts like any other.
        ("10.20.0.0/22", "10.20.1.0", ""),
        ("10.20.0.0/22", "10.20.1.255", ""),
        # RFC 4291 section 2.6.1 and RFC 6164.
        ("fd00:1::/64", "fd00:1::", "anycast"),
        ("fd00:1::/127", "fd00:1::", ""),
        ("10.20.0.0/24", "169.254.7.7", ""),
        ("10.20.0.0/24", "::1", "never leaves"),
        ("10.20.0.0/24", "255.255.255.255", "every machine"),
        ("10.20.0.0/24", "0.0.0.0", "no address"),
    ],
)
def test_what_no_machine_can_have(net: str, address: str, why: str) -> None:
    """Network, broadcast, anycast and never-used addresses are told from hosts."""
    book = book_of(NET.format(net) + NODE.format("n1", address))
    found = addresses.not_a_host(book, book.hosts[0])
    assert why in found
    assert bool(found) == bool(why)


# --- pools: worked examples of DHCP guides ---------------------------------------------------------------------------


def test_a_pool_of_a_household() -> None:
    """A guide: 192.168.1.0/24, .1 to .10 fixed, pool .11 to .254 (244), .46 and .110 fixed inside it: 242 are left."""
    text = NET.format("192.168.1.0/24") + POOL.format("dhcp", "192.168.1.11", "192.168.1.254")
    text += NODE.format("n1 .. n10", "192.168.1.1 .. 192.168.1.10")
    book = book_of(text + NODE.format("a", "192.168.1.46") + NODE.format("b", "192.168.1.110"))
    (pool,) = book.pools
    inside = [(host.value, host.value) for host in book.hosts if host.pool == 0]
    assert len(book.hosts) - len(inside) == 10
    assert pool_size(pool.first, pool.last) == 244
    assert leasable(pool.first, pool.last, inside) == 242


def test_a_pool_that_fills_its_subnet() -> None:
    """A vendor's note: 161.240.8.1 to 161.240.15.254 in a /21 are 2046 addresses."""
    book = book_of(NET.format("161.240.8.0/21") + POOL.format("dhcp", "161.240.8.1", "161.240.15.254"))
    (pool,) = book.pools
    assert pool.subnets == [0]
    assert pool_size(pool.first, pool.last) == 2046


def test_reservations_inside_a_subnet() -> None:
    """A server note: for 192.168.1.0/24, .25 and .200 may be reserved, 192.168.2.4 may not; only .25 is in the pool."""
    text = NET.format("192.168.1.0/24") + POOL.format("dhcp", "192.168.1.1", "192.168.1.150")
    for name, address in (("a", "192.168.1.25"), ("b", "192.168.1.200"), ("c", "192.168.2.4")):
        text += NODE.format(name, address)
    hosts = book_of(text).hosts
    assert [host.subnet for host in hosts] == [0, 0, None]
    assert [host.pool for host in hosts] == [0, None, None]


# --- offers ----------------------------------------------------------------------------------------------------------


def test_an_offer_is_the_next_free_address() -> None:
    """The first address behind the old one that nobody has and no pool holds is offered; else the one before it."""
    text = LAN + 'gateway = "10.20.0.12"\n' + POOL.format("reserved", "10.20.0.13", "10.20.0.19")
    text += NODE.format("a", "10.20.0.11") + NODE.format("b", "10.20.0.11") + NODE.format("c", "10.20.0.20")
    text += '[[outside]]\nid = "o"\naddress = "10.20.0.21"\n'
    assert offers_of(text) == {("node", 1, "address"): "10.20.0.22"}
    high = LAN + NODE.format("a", "10.20.0.254") + NODE.format("b", "10.20.0.254/25")
    assert offers_of(high) == {("node", 1, "address"): "10.20.0.253/24"}


def test_a_full_subnet_offers_nothing() -> None:
    """Where every address is had or in a pool nothing is offered."""
    full = NET.format("10.20.0.0/30") + NODE.format("a", "10.20.0.1") + NODE.format("b", "10.20.0.2")
    assert offers_of(full + NODE.format("c", "10.20.0.2")) == {}
    assert (
        offers_of(LAN + POOL.format("dhcp", "10.20.0.1", "10.20.0.254") + NODE.format("a", "10.20.0.7")) == {}
    )


def test_offers_mend_a_random_plan() -> None:
    """Written into the plan, the offers leave no address had twice, in a pool or barred, and are all different."""
    chance = random.Random(3)
    values = [chance.randrange(0, 128) for _ in range(60)]
    pool = POOL.format("dhcp", "10.20.0.40", "10.20.0.79")
    lines = {("node", i, "address"): f"10.20.0.{value}" for i, value in enumerate(values)}

    def text() -> str:
        return LAN + pool + "".join(NODE.format(f"n{key[1]}", value) for key, value in lines.items())

    offers = offers_of(text())
    assert len(offers) > 20
    assert len(set(offers.values())) == len(offers)
    for path, value in offers.items():
        lines[path] = value  # type: ignore[index]
    assert offers_of(text()) == {}
    assert len(set(lines.values())) == 60
    assert not any(40 <= int(value.rsplit(".", 1)[1]) <= 79 for value in lines.values())


def test_who_clashes_with_whom() -> None:
    """One thing may state an address twice, and an IPv6 address equals no IPv4 address with the same number."""
    text = '[[node]]\nid = "a"\naddress = "10.20.0.11"\n[[node.port]]\nid = "p"\naddress = "10.20.0.11"\n'
    for more, count in (("", 0), (NODE.format("b", "::10.20.0.11"), 0), (NODE.format("b", "10.20.0.11"), 1)):
        plan = read(text + more)
        clashes = told_of(plan).clashes
        assert len(clashes) == count


def test_one_address_for_a_span_is_dealt_out() -> None:
    """Where all things of a span have one address, the span is offered addresses that begin with it."""
    assert offers_of(LAN + NODE.format("n1 .. n3", "10.20.0.11")) == {
        ("node", 0, "address"): "10.20.0.11 .. 10.20.0.13"
    }


def test_an_offer_avoids_reserved_interface_ids() -> None:
    """In an IPv6 /64 the 128 ids of RFC 2526 are offered to nobody."""
    text = NET.format("fd00:1::/64") + NODE.format("a", "fd00:1::fdff:ffff:ffff:ff80")
    assert offers_of(text) == {("node", 0, "address"): "fd00:1:0:0:fe00::"}


def test_things_with_one_address_share_no_offer_with_a_router() -> None:
    """A gateway may be an outside router; two things with that address may not be."""
    plan = read(LAN + 'gateway = "10.20.0.1"\n[[outside]]\nid = "r"\naddress = "10.20.0.1"\n')
    assert told_of(plan).clashes == []


def test_addresses_that_count_on_are_listed_as_a_span() -> None:
    """Three or more in a row are a span, others are listed, at most five of them."""
    hosts = book_of(NODE.format("n1 .. n9", "10.0.0.1 .. 10.0.0.9")).hosts
    assert addresses.span_text(hosts) == "10.0.0.1 .. 10.0.0.9"
    assert addresses.span_text(hosts[:2]) == "10.0.0.1, 10.0.0.2"
    assert addresses.span_text(hosts[::-1]) == "10.0.0.9, 10.0.0.8, 10.0.0.7, 10.0.0.6, 10.0.0.5 and 4 more"


def test_one_slip_in_a_prefix_is_one_finding() -> None:
    """However many addresses a wrong prefix leaves out, with its gateway and pool, all its areas say it once."""
    things = "".join(f'[[node]]\nid = "n{n}"\naddress = "fd00:2::1{n}"\n' for n in range(1, 6))
    rest = 'gateway = "fd00:2::1"\n[[pool]]\nfor = "dhcp"\nrange = "fd00:2::100 .. fd00:2::1ff"\n' + things
    book = ours.rulebook(entry_points=False)
    for prefix in ("fd00:20::/64", "fd00:2::/126", "fd00:2:1::/64"):
        plan = read(f'[[subnet]]\nprefix = "{prefix}"\n' + rest)
        found = judge(plan, book, datetime.date(2026, 1, 1), only=AREAS).findings
        assert [(f.rule, f.path) for f in found] == [("addresses.no_subnet", ("subnet", 0, "prefix"))], prefix
        assert found[0].edits == (Put(("subnet", 0, "prefix"), "fd00:2::/64"),)
    bare = judge(
        read(NET.format("fd00:2::/126") + things), book, datetime.date(2026, 1, 1), only=AREAS
    ).findings
    assert [f.edits for f in bare] == [(Put(("subnet", 0, "prefix"), "fd00:2::/64"),)]
    good = read('[[subnet]]\nprefix = "fd00:2::/64"\n' + rest)
    assert not judge(good, book, datetime.date(2026, 1, 1), only=AREAS).findings


def test_hardware_addresses() -> None:
    """Each hardware address is read by the thing or port that states it; those of virtual routers may be shared."""
    text = '[[node]]\nid = "n1 .. n2"\nmac = "00:00:5e:00:53:01 .. 00:00:5e:00:53:02"\n'
    text += '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1"\nmac = "01:00:5e:00:00:01"\n'
    found = addresses.stations(read(text))
    assert [(s.name, s.value, bool(s.reason)) for s in found] == [
        ("n1", 0x00005E005301, False),
        ("n2", 0x00005E005302, False),
        ("sw.1", 0x01005E000001, True),
    ]
    assert addresses.shared_on_purpose(0x00005E000107)
    assert not addresses.shared_on_purpose(0x00005E005301)


# --- texts that can be read in no way, or in two ---------------------------------------------------------------------

#: Every key of a plan that holds an address, and the line it stands in behind two subnets of two lines each.
PLACES = {
    "thing": ('[[node]]\nid = "n1"\naddress = "{}"\n', 7),
    "port": ('[[node]]\nid = "n1"\n[[node.port]]\nid = "a"\naddress = "{}"\n', 9),
    "gateway of a thing": ('[[node]]\nid = "n1"\ngateway = "{}"\n', 7),
    "gateway of a subnet": ('[[subnet]]\nprefix = "10.30.0.0/24"\ngateway = "{}"\n', 7),
    "first of a pool": ('[[pool]]\nfor = "dhcp"\nrange = "{} .. 10.20.0.9"\n', 7),
    "last of a pool": ('[[pool]]\nfor = "dhcp"\nrange = "10.20.0.9 .. {}"\n', 7),
    "router outside": ('[[outside]]\nid = "o"\naddress = "{}"\n', 7),
    "prefix outside": ('[[outside]]\nid = "o"\nprefix = "{}"\n', 7),
    "prefix": ('[[subnet]]\nprefix = "{}"\n', 6),
}
#: Texts that `ipaddress` refuses as well, with what must be said of each.
UNREADABLE = {
    "10.20.0.07": "leading zero",
    "10.20.0.256": "beyond 255",
    "fe80::1%eth0": "names an interface of one machine",
    "10.20.0.5/33": "beyond the 32 bits",
    "fd5a:91c3:7e02::5/129": "beyond the 128 bits",
    "10.20.0.5/255.0.255.0": "not contiguous",
    "10.20.0": "too few",
    "10.20.0.5:80": "dotted quad stands before a colon",
    "[fd5a:91c3:7e02::5]": "brackets",
    "fd5a:91c3:7e02:::5": "stands for the missing groups once",
    "": "no address",
}


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("wrong", [*UNREADABLE, "10.20.0.5/0.0.0.255"])
def test_what_cannot_be_read_is_one_error_in_its_place(place: str, wrong: str) -> None:
    """Leading zeros, zones, lengths beyond the family, wildcard masks ... give one error, at the line they stand in."""
    if wrong.partition("/")[2] == "0.0.0.255":
        says = "wildcard mask"  # `ipaddress` takes it for a netmask (T09)
    else:
        says = UNREADABLE[wrong]
        with pytest.raises(ValueError, match=r"."):
            ipaddress.ip_interface(wrong.replace("%", "%%"))  # a zone it takes, and keeps
    template, line = PLACES[place]
    text = LAN + NET.format("fd5a:91c3:7e02::/64") + template.format(wrong)
    plan = read(text)
    book = ours.rulebook(entry_points=False)
    areas = [*AREAS, "names", "macs", "sizes", "gateways", "references"]
    (found,) = judge(plan, book, datetime.date(2026, 1, 1), only=areas).findings
    assert (found.rule, found.level) == ("addresses.unreadable", "error")
    assert says in found.says
    assert text[: plan.places.start(found.path)].count("\n") + 1 == line


@pytest.mark.parametrize(
    ("span", "says"),
    [
        ("10.20.0.1 .. fd5a:91c3:7e02::3", "is not a span"),
        ("10.20.0.01 .. 10.20.0.03", "is not IPv4 addresses"),
        ("10.20.0.1/24 .. 10.20.0.3/25", "is not a span"),
    ],
)
def test_a_span_that_cannot_be_read_is_one_problem(run: Any, write: Any, span: str, says: str) -> None:
    """Mixed families, octal octets and two lengths in one span stop the reading, with one line of the file."""
    result = run("lint", write(LAN + NODE.format("n1 .. n3", span)))
    output = str(result.stdout) + str(result.stderr)
    assert result.exit_code == 2
    assert output.count("plan.toml:5:") == 1
    assert says in output


def test_ways_out_are_kept_apart_from_addresses() -> None:
    """The gateway that a thing names is in the book with its key, and is nobody's address by that."""
    text = LAN + NODE.format("n1", "10.20.0.11") + 'gateway = ["10.20.0.1", "fe80::1"]\n'
    book = book_of(text)
    assert [(host.name, host.path, host.text) for host in book.defaults] == [
        ("n1", ("node", 0, "gateway", 0), "10.20.0.1"),
        ("n1", ("node", 0, "gateway", 1), "fe80::1"),
    ]
    assert [host.text for host in book.every()] == ["10.20.0.11"]


def test_registered_ranges_inside_a_wide_subnet() -> None:
    """A range that the subnet does not lie in is told of the address; one that holds the whole subnet is not."""
    text = NET.format("192.0.0.0/16") + NET.format("198.18.0.0/24") + NODE.format("a", "192.0.2.5")
    text += (
        NODE.format("b", "192.0.9.5") + NODE.format("c", "198.18.0.5") + NODE.format("d", "203.0.113.5/24")
    )
    book = book_of(text)
    found = [addresses.registered(book, host) for host in book.hosts]
    assert [row.kind if row else None for row in found] == ["documentation", None, None, "documentation"]
    assert book.mixed == {0}


def test_strays_are_found_once_for_each_subnet() -> None:
    """Of 300 small subnets with two addresses beside each, every one is told, and of its own two addresses alone."""
    text = "".join(
        NET.format(f"10.20.{n}.0/27")
        + NODE.format(f"a{n}", f"10.20.{n}.50")
        + NODE.format(f"b{n}", f"10.20.{n}.60")
        for n in range(250)
    )
    plan = read(text)
    found = addresses.strays(plan, addresses.address_book(plan))
    assert len(found) == 250
    for n, stray in enumerate(found):
        assert str(stray.prefix) == f"10.20.{n}.0/24"
        assert [host.text for host in stray.hosts] == [f"10.20.{n}.50", f"10.20.{n}.60"]


def test_what_lies_between_two_subnets_is_meant_for_neither() -> None:
    """Beside one small subnet addresses are meant for it; where another one begins near by, nobody knows."""
    first = NET.format("10.20.0.0/27") + NODE.format("a", "10.20.0.5")
    lost = NODE.format("b", "10.20.0.100") + NODE.format("c", "10.20.0.110")
    other = NET.format("10.20.0.32/27") + NODE.format("d", "10.20.0.40")
    for text, found in ((first + lost, ["10.20.0.0/24"]), (first + other + lost, []), (first + other, [])):
        plan = read(text)
        assert [str(stray.prefix) for stray in addresses.strays(plan, addresses.address_book(plan))] == found


def test_ports_in_one_subnet() -> None:
    """Of each port the first address counts, of a bond the first port; a management port is a computer of its own."""
    port = '[[node.port]]\nid = "{}"\naddress = "{}"\n{}'
    head = LAN + '[[switch]]\nid = "sw"\nports = 4\n[[node]]\nid = "n1"\n' + port.format("a", "10.20.0.1", "")
    for more, names in (
        (port.format("b", "10.20.0.2", ""), ["n1.a", "n1.b"]),
        (port.format("b", "10.20.0.2", 'for = "management"\n'), None),
        (port.format("b", "10.20.0.2", 'bond = "x"\n') + port.format("c", "10.20.0.3", 'bond = "x"\n'),
         ["n1.a", "n1.b"]),
        (port.format("b", "10.20.0.2", "") + port.format("c", "10.20.0.3", ""), ["n1.a", "n1.b", "n1.c"]),
        (port.format("b", "10.30.0.2/24", ""), None),
    ):  # fmt: skip
        plan = read(head + more)
        found = list(same_subnet(plan, addresses.address_book(plan)))
        assert [[host.name for host in hosts] for hosts in found] == ([names] if names else [])


def test_a_span_that_the_edge_of_a_subnet_cuts_tells_that_its_length_is_the_slip() -> None:
    """One span half inside a /27 and half beside it means a /24; the address on the edge is not told of as well."""
    text = '[[subnet]]\nprefix = "10.60.20.0/27"\n[[node]]\nid = "c1 .. c6"\naddress = "10.60.20.31 .. 10.60.20.36"\n'
    plan = ours.read_plan("plan.toml", text.encode(), Shelf())
    book = addresses.address_book(plan)
    (stray,) = addresses.strays(plan, book)
    assert (str(stray.prefix), len(stray.hosts)) == ("10.60.20.0/24", 5)
    assert addresses.address_offers(plan, book, [stray]).barred == []
    apart = text.replace("10.60.20.31 ..", "10.60.20.32 ..").replace("36", "37")
    other = ours.read_plan("p", apart.encode(), Shelf())
    assert addresses.strays(other, addresses.address_book(other)) == []

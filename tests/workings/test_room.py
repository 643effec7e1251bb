"""Room in subnets and free prefixes, by brute force with `ipaddress`."""

import datetime
import ipaddress
import subprocess
import sys
from random import Random

from coldcheck import ours
from coldcheck.engine.running import judge
from coldcheck.lan.address import Prefix, read_prefix
from coldcheck.plan.edit import apply
from coldcheck.plan.parts import Shelf
from coldcheck.workings.addresses import AddressBook, address_book
from coldcheck.workings.room import FreePrefixes, Layout, meant_network

NET = '[[subnet]]\nprefix = "{}"\n'
NODE = '[[node]]\nid = "{}"\naddress = "{}"\n'
POOL = '[[pool]]\nfor = "{}"\nrange = "{} .. {}"\n'


def book_of(text: str) -> AddressBook:
    """Return the address book of a plan."""
    return address_book(ours.read_plan("plan.toml", text.encode(), Shelf()))


def test_a_free_prefix_is_free_and_the_next() -> None:
    """In 192.168.0.0/16 with 60 random blocks, what is offered is aligned, meets nothing and is the next."""
    random = Random(6)
    for _ in range(20):
        area = ipaddress.IPv4Network("192.168.0.0/16")
        lengths = random.choices((20, 22, 24, 26), k=60)
        taken = [random.choice(list(area.subnets(new_prefix=length))) for length in lengths]
        free = FreePrefixes(book_of("".join(NET.format(net) for net in taken)))
        for length in (21, 24, 25):
            near = random.choice(taken)
            offer = free.take(read_prefix(str(near)), length)
            fits = [
                net for net in area.subnets(new_prefix=length) if not any(net.overlaps(one) for one in taken)
            ]
            behind = [net for net in fits if net.network_address > near.broadcast_address]
            if not fits:
                assert offer is None
                continue
            assert str(offer) == str((behind or fits)[0])
            taken.append(ipaddress.IPv4Network(str(offer)))  # given out once


def test_pools_and_outside_networks_are_not_free() -> None:
    """A range set aside and a prefix in use outside are passed over; in IPv6 the search stays inside the site."""
    text = NET.format("10.20.0.0/24") + POOL.format("containers", "10.20.1.5", "10.20.1.9")
    text += '[[outside]]\nid = "o"\nprefix = ["10.20.2.0/24", "fd5a:91c3:7e02:1::/64"]\n'
    free = FreePrefixes(book_of(text + NET.format("fd5a:91c3:7e02::/64")))
    assert str(free.take(read_prefix("10.20.0.0/24"), 24)) == "10.20.3.0/24"
    assert str(free.take(read_prefix("fd5a:91c3:7e02::/64"), 64)) == "fd5a:91c3:7e02:2::/64"
    assert free.take(read_prefix("198.18.0.0/24"), 24) is None
    assert free.take(read_prefix("10.20.0.0/24"), 4) is None


def test_unused_prefixes() -> None:
    """A prefix is unused where no address, gateway or pool lies in it."""
    free = FreePrefixes(book_of(NET.format("10.20.0.0/24") + NODE.format("n1", "10.20.0.128")
                                + POOL.format("reserved", "10.20.1.10", "10.20.1.20")))  # fmt: skip
    for text, unused in (
        ("10.20.0.0/25", True),
        ("10.20.0.128/25", False),
        ("10.20.1.0/28", False),
        ("10.20.1.16/28", False),
        ("10.20.1.32/28", True),
        ("10.20.0.0/16", False),
    ):
        assert free.unused(read_prefix(text)) is unused, text


def test_alone_by_brute_force() -> None:
    """A prefix around or inside a subnet is alone where `ipaddress` finds no other that it overlaps."""
    random = Random(7)
    told = {True: 0, False: 0}
    for _ in range(400):
        nets = [
            ipaddress.IPv4Network((random.randrange(64) << 4 + n, 28 - n))
            for n in random.choices(range(4), k=5)
        ]
        book = book_of("".join(NET.format(net) for net in nets))
        layout = Layout(book)
        for place, net in enumerate(nets):
            for length in (net.prefixlen - 1, net.prefixlen - 3, net.prefixlen + 1):
                wide = (
                    net.supernet(new_prefix=length)
                    if length < net.prefixlen
                    else next(net.subnets(new_prefix=length))
                )
                alone = not any(wide.overlaps(other) for i, other in enumerate(nets) if i != place)
                found = layout.alone(book.subnets[place], Prefix(4, int(wide.network_address), length))
                assert found == alone, (nets, net, wide)
                told[alone] += 1
    assert min(told.values()) > 200


def test_room_by_counting() -> None:
    """Room is what a count of the hosts leaves that lie in no pool set aside; DHCP pools leave theirs."""
    random = Random(8)
    for _ in range(100):
        net = ipaddress.ip_network((10 << 24, random.choice((24, 26, 29, 31))))
        pools = []
        for _ in range(3):
            first = (10 << 24) + random.randrange(net.num_addresses)
            last = random.randint(first, (10 << 24) + net.num_addresses - 1)
            pools.append(
                (random.choice(("dhcp", "reserved", "services", "containers", "overlay")), first, last)
            )
        text = NET.format(net) + "".join(
            POOL.format(use, ipaddress.IPv4Address(first), ipaddress.IPv4Address(last))
            for use, first, last in pools
        )
        aside = {
            v for use, first, last in pools for v in range(first, last + 1) if use not in ("dhcp", "reserved")
        }
        assert Layout(book_of(text)).room(0) == sum(int(host) not in aside for host in net.hosts())


def test_one_subnet_is_offered_one_prefix() -> None:
    """A subnet that meets two others gets one offer, and two subnets that meet get two; a mended plan has no clash."""
    book = ours.rulebook(entry_points=False)
    nets = ["10.20.0.0/25", "10.20.0.128/25", "10.20.0.0/24", "10.20.0.0/24"]
    text = "".join(NET.format(net) for net in nets)
    plan = ours.read_plan("plan.toml", text.encode(), Shelf())
    found = judge(plan, book, datetime.date(2026, 1, 1), only=["subnets.overlap"]).findings
    edits = {edit for finding in found for edit in finding.edits}
    assert len(found) == 5
    assert len(edits) == len({edit.path for edit in edits}) == 2
    mended = ours.read_plan("plan.toml", apply(text.encode(), edits), Shelf())
    assert judge(mended, book, datetime.date(2026, 1, 1), only=["subnets.overlap"]).findings == []


def test_a_clean_plan_needs_no_library() -> None:
    """Neither netaddr nor networkx is imported for a plan in which nothing clashes."""
    code = (
        "import sys, datetime\nfrom coldcheck import ours\nfrom coldcheck.engine.running import judge\n"
        "from coldcheck.plan.parts import Shelf\nbook = ours.rulebook(entry_points=False)\n"
        "plan = ours.read_plan('p', sys.argv[1].encode(), Shelf())\n"
        "areas = ['names', 'macs', 'addresses', 'subnets', 'sizes', 'gateways', 'pools']\n"
        "found = judge(plan, book, datetime.date(2026, 1, 1), only=areas).findings\n"
        "assert not found, found\n"
        "late = {'netaddr', 'unicodedata', 'networkx'} & set(sys.modules)\nassert not late, late\n"
    )
    text = (
        '[plan]\ndomain = "lab.internal"\n'
        + NET.format("10.20.0.0/24")
        + 'hosts = 200\ngateway = "10.20.0.1"\n'
    )
    text += NODE.format("n1", "10.20.0.11") + 'mac = "02:00:00:00:00:01"\ngateway = "10.20.0.1"\n'
    done = subprocess.run(
        [sys.executable, "-c", code, text], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr


def test_a_prefix_with_host_bits_means_a_network_that_begins_there() -> None:
    """What is offered for host bits is strict for `ipaddress`, and no shorter length than the usual one is."""
    random = Random(11)
    for _ in range(500):
        width, usual = random.choice(((32, 24), (128, 64)))
        base = random.getrandbits(20) << random.randrange(width - 20) or 1
        length = random.randrange(width)
        kind = ipaddress.IPv4Network if width == 32 else ipaddress.IPv6Network
        if kind((base, length), strict=False).network_address == kind((base, width)).network_address:
            continue
        book = book_of(NET.format(f"{kind((base, width)).network_address}/{length}"))
        meant = meant_network(book, book.subnets[0])
        fits = [n for n in range(usual, width + 1) if _is_strict(kind, base, n)]
        assert (meant.base, meant.length) == (base, fits[0])


def _is_strict(kind: type[ipaddress.IPv4Network | ipaddress.IPv6Network], base: int, length: int) -> bool:
    try:
        kind((base, length))
    except ValueError:
        return False
    return True


def test_the_usual_length_holds_all_and_meets_nobody() -> None:
    """Of 300 wide subnets with nets inside, the /24 offered is the one of all its addresses, apart from the others."""
    random = Random(12)
    offered = 0
    for _ in range(300):
        inside = random.sample(range(8), 3)
        nets = [ipaddress.IPv4Network(f"10.20.{i}.0/24") for i in inside]
        homes = random.choices(range(8), k=random.choice((1, 1, 2)))
        hosts = [ipaddress.IPv4Address(f"10.20.{i}.{9 + n}") for n, i in enumerate(homes)]
        text = NET.format("10.20.0.0/16") + "".join(NET.format(net) for net in nets)
        text += "".join(NODE.format(f"n{n}", host) for n, host in enumerate(hosts))
        right, _ = Layout(book_of(text)).of_usual_length(0)
        own = {
            ipaddress.IPv4Network((int(h) >> 8 << 8, 24)) for h in hosts if not any(h in net for net in nets)
        }
        own = own or {ipaddress.IPv4Network("10.20.0.0/24")}
        wanted = str(next(iter(own))) if len(own) == 1 and own.isdisjoint(nets) else "None"
        assert str(right) == wanted
        offered += wanted != "None"
    assert offered > 100


def test_the_usual_length_is_offered_first() -> None:
    """For host bits the network of the usual length comes first, and the wider one where only an address is left."""
    book = ours.rulebook(entry_points=False)
    for text, first in (
        ("10.20.1.0/16", "10.20.1.0/24"),
        ("10.20.1.5/24", "10.20.1.0/24"),
        ("fd00::1/64", "fd00::/64"),
    ):
        plan = ours.read_plan("plan.toml", NET.format(text).encode(), Shelf())
        found = judge(plan, book, datetime.date(2026, 1, 1), only=["subnets.host_bits"]).findings
        assert [finding.remedy.split('"')[1] for finding in found] == [first]

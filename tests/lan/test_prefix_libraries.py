"""Containment, overlap, and the smallest prefix for so many hosts, against `ipaddress` and netaddr on 10 000 cases."""

import ipaddress
from random import Random

import netaddr  # type: ignore[import-untyped]

from coldcheck.lan.address import WIDTH, Prefix, read_prefix, text_of
from coldcheck.lan.prefixes import PrefixIndex, length_for, overlaps, usable

CASES = 10_000


def _prefix(random: Random, family: int) -> Prefix:
    """Return a prefix in one small corner of its family, so that many of them meet."""
    bits = random.choice((4, 6, 8, 10, 12))
    base = random.getrandbits(14)
    return Prefix(family, base >> bits << bits, WIDTH[family] - bits)


def test_containment() -> None:
    """All prefixes that hold an address, shortest first, are those that netaddr finds; a set of 40, 250 times."""
    random = Random(11)
    found = 0
    for _ in range(CASES // 40):
        family = random.choice((4, 6))
        blocks = list({str(block): block for block in (_prefix(random, family) for _ in range(40))}.values())
        index = PrefixIndex(blocks)
        networks = [str(block) for block in blocks]
        for _ in range(40):
            value = random.getrandbits(14)
            theirs = netaddr.all_matching_cidrs(netaddr.IPAddress(value, family), networks)
            ours = [str(blocks[place]) for place in reversed(index.containing(family, value))]
            assert ours == [str(network) for network in theirs]
            found += len(ours)
    assert found > CASES / 4


def test_overlap() -> None:
    """Two prefixes share an address where `ipaddress` says that they overlap."""
    random = Random(12)
    met = 0
    for _ in range(CASES):
        a, b = _prefix(random, random.choice((4, 6))), _prefix(random, random.choice((4, 6)))
        ours = overlaps([(a.family, a.network, a.last, "a"), (b.family, b.network, b.last, "b")])
        one, other = ipaddress.ip_network(str(a)), ipaddress.ip_network(str(b))
        theirs = one.version == other.version and one.overlaps(other)
        assert bool(ours) == theirs
        met += theirs
    assert 200 < met < CASES / 2


def test_the_smallest_prefix() -> None:
    """The smallest prefix for so many hosts has room by the count of `ipaddress`, and one bit less has none."""
    random = Random(13)
    for _ in range(500):
        family, hosts = random.choice((4, 6)), random.randint(1, 1 << random.randint(0, 9))
        length = length_for(family, hosts)
        assert length is not None
        network = ipaddress.ip_network((0, length) if family == 4 else f"::/{length}")
        assert sum(1 for _ in network.hosts()) >= hosts
        if length < WIDTH[family]:
            narrow = ipaddress.ip_network((0, length + 1) if family == 4 else f"::/{length + 1}")
            assert sum(1 for _ in narrow.hosts()) < hosts
    assert length_for(4, 1 << 32) is None
    assert usable(Prefix(4, 0, 0)) == (1 << 32) - 2


def test_twelve_hosts_and_three() -> None:
    """E09: 12 hosts want a /28 (quiz with its solution); RFC 3021: two fit a /31, and three no /30."""
    assert [length_for(4, hosts) for hosts in (1, 2, 3, 6, 7, 12, 14, 15, 254, 255)] == [
        32, 31, 29, 29, 28, 28, 28, 27, 24, 23,
    ]  # fmt: skip


def test_texts_of_corners() -> None:
    """The prefixes of these tests are written and read alike."""
    random = Random(14)
    for _ in range(200):
        block = _prefix(random, random.choice((4, 6)))
        assert read_prefix(f"{text_of(block.family, block.base)}/{block.length}") == block

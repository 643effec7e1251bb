"""Our reading, writing and counting against `ipaddress` and netaddr on 10 000 seeded random cases."""

import ipaddress
from collections.abc import Iterator
from random import Random

import netaddr  # type: ignore[import-untyped]
import pytest

from coldcheck.lan import mac, prefixes
from coldcheck.lan.address import WIDTH, BadAddress, Prefix, read_address, read_prefix, text_of

CASES = 10_000
ODD = "0123456789abcdefABCDEF:.. :x-_+"


def _value(random: Random, family: int) -> int:
    """A value with many zero groups, so that '::' and short octets turn up."""
    parts, bits = (4, 8) if family == 4 else (8, 16)
    value = 0
    for _ in range(parts):
        value = value << bits | random.choice((0, 0, 1, random.getrandbits(bits), (1 << bits) - 1))
    return value


def _spelling(random: Random, family: int, value: int) -> str:
    if family == 4:
        return str(ipaddress.IPv4Address(value))
    six = ipaddress.IPv6Address(value)
    text = random.choice((six.compressed, six.exploded))
    if random.random() < 0.2:
        text = (
            six.exploded.rpartition(":")[0].rpartition(":")[0]
            + ":"
            + str(ipaddress.IPv4Address(value & 0xFFFFFFFF))
        )
    return text.upper() if random.random() < 0.3 else text


def _addresses(seed: int) -> Iterator[tuple[int, int, str]]:
    random = Random(seed)
    for _ in range(CASES):
        family = random.choice((4, 6))
        value = _value(random, family)
        yield family, value, _spelling(random, family, value)


def _prefixes(seed: int) -> Iterator[Prefix]:
    random = Random(seed)
    for _ in range(CASES):
        family = random.choice((4, 6))
        yield Prefix(family, _value(random, family), random.randint(0, WIDTH[family]))


def test_reading() -> None:
    """Every spelling of an address reads as the value that both libraries read."""
    for family, value, text in _addresses(1):
        ours = read_address(text)
        assert (ours.family, ours.value, ours.prefix) == (family, value, None), text
        assert int(ipaddress.ip_address(text)) == value
        assert netaddr.IPAddress(text).value == value


def test_writing() -> None:
    """An address is written as `ipaddress` writes it; IPv4-mapped ones end in a dotted quad (RFC 5952)."""
    for family, value, _ in _addresses(2):
        theirs = ipaddress.ip_address(value) if family == 4 else ipaddress.IPv6Address(value)
        if family == 6 and value >> 32 == 0xFFFF:
            assert text_of(6, value) == f"::ffff:{ipaddress.IPv4Address(value & 0xFFFFFFFF)}"
        else:
            assert text_of(family, value) == theirs.compressed
        assert read_address(text_of(family, value)).value == value
    for low in (0, 1, 0xC0A80001, 0xFFFFFFFF):
        mapped = 0xFFFF << 32 | low
        assert text_of(6, mapped) == str(netaddr.IPAddress(mapped, 6))


def test_refusing() -> None:
    """A spoilt text is refused exactly when `ipaddress` refuses it, else it reads the same."""
    random = Random(3)
    refused = 0
    for _, _, text in _addresses(4):
        spoilt = list(text)
        for _ in range(random.randint(1, 2)):
            place = random.randrange(len(spoilt))
            spoilt[place : place + random.randint(0, 1)] = random.choice(ODD)
        broken = "".join(spoilt)
        try:
            theirs: int | None = int(ipaddress.ip_address(broken))
        except ValueError:
            theirs = None
            refused += 1
        try:
            ours: int | None = read_address(broken).value
        except BadAddress:
            ours = None
        assert ours == theirs, broken
    assert CASES / 4 < refused < CASES


def test_prefix_arithmetic() -> None:
    """Network, last address, containment, host counts and netmasks agree with both libraries."""
    random = Random(5)
    for prefix in _prefixes(6):
        text = str(prefix)
        interface = ipaddress.ip_interface(f"{text_of(prefix.family, prefix.base)}/{prefix.length}")
        network = interface.network
        other = netaddr.IPNetwork(text)
        assert read_prefix(text) == prefix
        assert prefix.network == int(network.network_address) == other.first
        assert prefix.last == int(network.broadcast_address) == other.last
        assert prefix.host_bits_set == (interface.ip != network.network_address)
        probe = prefix.base ^ (1 << random.randrange(WIDTH[prefix.family]))
        there = ipaddress.ip_address(text_of(prefix.family, probe))
        assert (
            prefix.contains(prefix.family, probe)
            == (there in network)
            == (netaddr.IPAddress(str(there)) in other)
        )
        assert not prefix.contains(10 - prefix.family, probe)
        if prefix.family == 4:
            assert read_prefix(f"{text_of(4, prefix.base)}/{network.netmask}") == prefix


def test_host_counts() -> None:
    """Hosts of a prefix are those that `ipaddress` lists: number, first, last (RFC 3021, RFC 6164)."""
    random = Random(7)
    for _ in range(CASES):
        family = random.choice((4, 6))
        prefix = Prefix(family, _value(random, family), random.randint(WIDTH[family] - 5, WIDTH[family]))
        network = ipaddress.ip_network((text_of(family, prefix.base), prefix.length), strict=False)
        hosts = [int(host) for host in network.hosts()]
        assert prefixes.usable(prefix) == len(hosts)
        assert prefixes.usable_range(prefix) == (hosts[0], hosts[-1])
        for value in (prefix.network, prefix.last):
            special = prefixes.is_network_address(prefix, value) or prefixes.is_broadcast(prefix, value)
            assert special == (family == 4 and value not in hosts)
        anycast = prefixes.subnet_router_anycast(prefix)
        assert anycast == (prefix.network if family == 6 and prefix.network not in hosts else None)


def test_aggregation() -> None:
    """Merging random blocks gives what both libraries give."""
    random = Random(8)
    for _ in range(CASES // 20):
        blocks = [
            Prefix(family, random.getrandbits(9) << shift, WIDTH[family] - shift)
            for family, shift in random.choices(
                ((4, 0), (4, 1), (4, 3), (4, 8), (6, 0), (6, 2), (6, 64)), k=20
            )
        ]
        ours = [str(block) for block in prefixes.aggregate(blocks)]
        four = [ipaddress.IPv4Network(str(block), strict=False) for block in blocks if block.family == 4]
        six = [ipaddress.IPv6Network(str(block), strict=False) for block in blocks if block.family == 6]
        collapsed = [str(network) for network in ipaddress.collapse_addresses(four)]
        collapsed += [str(network) for network in ipaddress.collapse_addresses(six)]
        assert ours == collapsed
        assert ours == [str(one) for one in netaddr.cidr_merge([str(network) for network in [*four, *six]])]


def test_macs() -> None:
    """MAC addresses read, write and become interface ids as netaddr has it."""
    random = Random(9)
    for _ in range(CASES):
        value = random.getrandbits(48)
        theirs = netaddr.EUI(value, 48)
        assert mac.read_mac(str(theirs)) == value
        assert mac.read_mac(mac.mac_text(value)) == value
        assert mac.mac_text(value) == str(theirs).replace("-", ":").lower()
        assert mac.eui64_interface_id(value) == int(theirs.modified_eui64())
        assert fe80(value) == int(theirs.ipv6_link_local())


def fe80(value: int) -> int:
    """The link-local address that a MAC address gives."""
    return 0xFE80 << 112 | mac.eui64_interface_id(value)


@pytest.mark.parametrize("length", range(33))
def test_masks(length: int) -> None:
    """Every netmask reads as its length; a wildcard mask that is no netmask too is refused."""
    network = ipaddress.ip_network((0, length))
    assert read_prefix(f"10.0.0.0/{network.netmask}").length == length
    if length in (0, 32):
        assert read_prefix(f"10.0.0.0/{network.hostmask}").length == 32 - length
    else:
        with pytest.raises(BadAddress, match=f"wildcard mask.*/{length},"):
            read_prefix(f"10.0.0.0/{network.hostmask}")

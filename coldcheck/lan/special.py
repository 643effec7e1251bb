"""Prefixes with a meaning of their own: our registry, and default ranges that make trouble.

Own table because `ipaddress` of Python 3.11 lumps documentation, benchmarking and private space together
and does not know the newer IPv6 entries.
"""

from itertools import pairwise

from msgspec import Struct

from coldcheck.lan.address import Prefix, read_prefix
from coldcheck.lan.mac import random_clash
from coldcheck.lan.prefixes import PrefixIndex


class Special(Struct, frozen=True):
    """One registered prefix.

    prefix [-]: the block; kind [-]: one word to ask for; name [-]: as registered, in short; rfc [-]: where
    defined; since [-]: year and month of the entry; then the flags of RFC 6890, None where the registry says
    neither: source_ok [-], destination_ok [-], forwardable [-], globally_reachable [-],
    reserved_by_protocol [-].
    """

    prefix: Prefix
    kind: str
    name: str
    rfc: str
    since: str
    source_ok: bool | None
    destination_ok: bool | None
    forwardable: bool | None
    globally_reachable: bool | None
    reserved_by_protocol: bool | None


class DefaultRange(Struct, frozen=True):
    """A prefix that many things use out of the box. prefix [-]: the block; used_by [-]: what uses it."""

    prefix: Prefix
    used_by: str


COPIED = "2026"
"""The year of the newest copy of the registries that the table was compared with [-]; see its source below."""

# Columns: prefix, kind, name, RFC, since, flags. The five flags are source, destination, forwardable,
# globally reachable, reserved by protocol: T, F, or "-" where the registry says neither. Source: IANA IPv4
# and IPv6 Special-Purpose Address Registries as copied in public code, read (secondary); multicast and site
# local come from the address-space registries. The column "since" is from memory.
_ROWS = (
    ("0.0.0.0/8", "unspecified", "this host on this network", "RFC 1122", "1981-09", "TFFFT"),
    ("10.0.0.0/8", "private", "private use", "RFC 1918", "1996-02", "TTTFF"),
    ("100.64.0.0/10", "shared", "shared address space of providers", "RFC 6598", "2012-04", "TTTFF"),
    ("127.0.0.0/8", "loopback", "loopback", "RFC 1122", "1981-09", "FFFFT"),
    ("169.254.0.0/16", "link-local", "link local", "RFC 3927", "2005-05", "TTFFT"),
    ("172.16.0.0/12", "private", "private use", "RFC 1918", "1996-02", "TTTFF"),
    ("192.0.0.0/24", "protocol", "IETF protocol assignments", "RFC 6890", "2010-01", "FFFFF"),
    ("192.0.0.0/29", "protocol", "IPv4 service continuity", "RFC 7335", "2011-06", "TTTFF"),
    ("192.0.0.8/32", "protocol", "dummy address", "RFC 7600", "2015-03", "TFFFF"),
    ("192.0.0.9/32", "protocol", "port control anycast", "RFC 7723", "2015-10", "TTTTF"),
    ("192.0.0.10/32", "protocol", "relay anycast", "RFC 8155", "2017-02", "TTTTF"),
    ("192.0.0.170/31", "protocol", "NAT64 discovery", "RFC 7050", "2013-02", "FFFFT"),
    ("192.0.2.0/24", "documentation", "documentation 1", "RFC 5737", "2010-01", "FFFFF"),
    ("192.31.196.0/24", "protocol", "AS112-v4", "RFC 7535", "2014-12", "TTTTF"),
    ("192.52.193.0/24", "protocol", "AMT", "RFC 7450", "2014-12", "TTTTF"),
    ("192.88.99.0/24", "deprecated", "6to4 relay, ended 2015-03", "RFC 7526", "2001-06", "-----"),
    ("192.168.0.0/16", "private", "private use", "RFC 1918", "1996-02", "TTTFF"),
    ("192.175.48.0/24", "protocol", "AS112 direct delegation", "RFC 7534", "1996-01", "TTTTF"),
    ("198.18.0.0/15", "benchmarking", "benchmarking", "RFC 2544", "1999-03", "TTTFF"),
    ("198.51.100.0/24", "documentation", "documentation 2", "RFC 5737", "2010-01", "FFFFF"),
    ("203.0.113.0/24", "documentation", "documentation 3", "RFC 5737", "2010-01", "FFFFF"),
    ("224.0.0.0/4", "multicast", "multicast", "RFC 5771", "1989-08", "-----"),
    ("240.0.0.0/4", "reserved", "reserved", "RFC 1112", "1989-08", "FFFFT"),
    ("255.255.255.255/32", "broadcast", "limited broadcast", "RFC 8190", "1984-10", "FTFFT"),
    ("::/128", "unspecified", "unspecified", "RFC 4291", "2006-02", "TFFFT"),
    ("::1/128", "loopback", "loopback", "RFC 4291", "2006-02", "FFFFT"),
    ("::ffff:0:0/96", "mapped", "IPv4-mapped", "RFC 4291", "2006-02", "FFFFT"),
    ("64:ff9b::/96", "translation", "IPv4-IPv6 translation", "RFC 6052", "2010-10", "TTTTF"),
    ("64:ff9b:1::/48", "translation", "local translation", "RFC 8215", "2017-06", "TTTFF"),
    ("100::/64", "discard", "discard only", "RFC 6666", "2012-06", "TTTFF"),
    ("100:0:0:1::/64", "discard", "dummy prefix", "RFC 9780", "2025-04", "---F-"),
    ("2001::/23", "protocol", "IETF protocol assignments", "RFC 2928", "2000-09", "FFFFF"),
    ("2001::/32", "protocol", "Teredo", "RFC 4380", "2006-01", "TTT-F"),
    ("2001:1::1/128", "protocol", "port control anycast", "RFC 7723", "2015-10", "TTTTF"),
    ("2001:1::2/128", "protocol", "relay anycast", "RFC 8155", "2017-02", "TTTTF"),
    ("2001:1::3/128", "protocol", "service registration anycast", "RFC 9665", "2024-04", "---T-"),
    ("2001:2::/48", "benchmarking", "benchmarking", "RFC 5180", "2008-04", "TTTFF"),
    ("2001:3::/32", "protocol", "AMT", "RFC 7450", "2014-12", "TTTTF"),
    ("2001:4:112::/48", "protocol", "AS112-v6", "RFC 7535", "2014-12", "TTTTF"),
    ("2001:10::/28", "deprecated", "ORCHID, first version", "RFC 4843", "2007-03", "-----"),
    ("2001:20::/28", "protocol", "ORCHIDv2", "RFC 7343", "2014-07", "TTTTF"),
    ("2001:30::/28", "protocol", "drone remote id", "RFC 9374", "2022-12", "---T-"),
    ("2001:db8::/32", "documentation", "documentation", "RFC 3849", "2004-07", "FFFFF"),
    ("2002::/16", "protocol", "6to4", "RFC 3056", "2001-02", "TTT-F"),
    ("2620:4f:8000::/48", "protocol", "AS112 direct delegation", "RFC 7534", "2011-05", "TTTTF"),
    ("3fff::/20", "documentation", "documentation, larger", "RFC 9637", "2024-07", "---F-"),
    ("5f00::/16", "protocol", "segment ids of SRv6", "RFC 9602", "2024-04", "---F-"),
    ("fc00::/7", "unique-local", "unique local", "RFC 4193", "2005-10", "TTTFF"),
    ("fe80::/10", "link-local", "link local", "RFC 4291", "2006-02", "TTFFT"),
    ("fec0::/10", "deprecated", "site local", "RFC 3879", "2004-09", "-----"),
    ("ff00::/8", "multicast", "multicast", "RFC 4291", "2006-02", "-----"),
)

UNWISE = {
    "shared": "providers use it between themselves and their customers",
    "documentation": "it is set aside for examples in documents",
    "benchmarking": "it is set aside for measuring equipment",
    "deprecated": "its use has ended",
    "protocol": "protocols use it for themselves",
    "translation": "it stands for translated addresses",
    "link-local": "machines choose addresses in it for themselves, and no router passes them on",
}
"""Why a network of one's own has no place in a kind of range, in plain words. Source: the RFC of each row."""
IMPOSSIBLE = {
    "loopback": "it never leaves a machine",
    "multicast": "it names groups, not machines",
    "reserved": "most systems refuse it",
    "unspecified": "it stands for no address",
    "broadcast": "it stands for every machine",
    "mapped": "it exists inside programs only",
    "discard": "routers throw it away",
}
"""Why no network can be in a kind of range, in plain words. Source: the RFC of each row."""

# Source: a list of de-facto defaults in public code, read (secondary); the grouping is from memory.
_DEFAULTS = (
    (
        "home routers and modems",
        "192.168.0.0/24 192.168.1.0/24 192.168.2.0/24 192.168.100.0/24 192.168.178.0/24",
    ),
    ("home routers and modems", "10.0.0.0/24 10.0.1.0/24"),
    ("container and cluster software", "172.17.0.0/16 10.42.0.0/16 10.43.0.0/16 10.88.0.0/16 10.96.0.0/12"),
    ("container and cluster software", "10.244.0.0/16"),
)
_FLAG = {"T": True, "F": False, "-": None}


class _Tables:
    """The tables in use, read from text the first time they are asked for: some runs never ask."""

    registry: tuple[Special, ...] = ()
    index: PrefixIndex
    defaults: tuple[DefaultRange, ...] = ()


def registry() -> tuple[Special, ...]:
    """All special-purpose prefixes, IPv4 first, in the order of their addresses.

    Source: see the table in this file.
    """
    if not _Tables.registry:
        table = tuple(
            Special(read_prefix(text), kind, name, rfc, since, *[_FLAG[mark] for mark in flags])
            for text, kind, name, rfc, since, flags in _ROWS
        )
        _Tables.index = PrefixIndex([row.prefix for row in table])
        _Tables.registry = table
    return _Tables.registry


def special(family: int, value: int) -> Special | None:
    """The longest special-purpose prefix that contains an address, or None for ordinary public space.

    family [-]: 4 or 6; value [-]: the address as an integer. Source: RFC 6890 and the registries; a longer
    entry overrides the one around it.
    """
    table = registry()
    place = _Tables.index.longest(family, value)
    return None if place is None else table[place]


def is_private_v4(value: int) -> bool:
    """Whether an IPv4 address [-] is in one of the three private blocks and nowhere else.

    value [-]: the address as an integer. Source: RFC 1918 section 3: 10/8, 172.16/12 (to 172.31), 192.168/16.
    """
    return value >> 24 == 0x0A or value >> 20 == 0xAC1 or value >> 16 == 0xC0A8


def is_unique_local(value: int) -> bool:
    """Whether an IPv6 address is unique local.

    value [-]: as an integer. Source: RFC 4193 section 3.1: fc00::/7.
    """
    return value >> 121 == 0xFC >> 1


def is_undefined_local(value: int) -> bool:
    """Whether an IPv6 address is in the half of unique local space that nobody has defined yet.

    value [-]: as an integer. Source: RFC 4193 section 3.1: the L bit is 1 where the prefix
    is locally assigned; what 0 means is left to the future.
    """
    return value >> 120 == 0xFC


def picked_global_id(value: int) -> str:
    """Say in plain words why the global id of a unique local address was not drawn at random; "" otherwise.

    value [-]: the address as an integer. Told are only ids that chance gives less often than once in 10^9:
    one digit or one octet throughout, or digits that count up by one.
    Source: RFC 4193 section 3.2: the 40 bits must be pseudo-random; which ids tell is common practice.
    """
    digits = [value >> shift & 15 for shift in range(116, 76, -4)]
    if not any(digits):
        return "is all zeros"
    if len(set(digits)) == 1:
        return "is one digit throughout"
    if digits == digits[:2] * 5:
        return "is one octet throughout"
    if all(b - a == 1 for a, b in pairwise(digits)):
        return "counts up digit by digit"
    return ""


def unique_local_clash(sites: int) -> float:
    """The odds [1] that two of so many sites drew the same global id of 40 bits, so that they can never be joined.

    sites [-]: from 0, each with an id drawn at random. Errors: ValueError below.
    Source: RFC 4193 section 3.2.3, read.
    """
    return random_clash(sites, 40)


def is_link_local(family: int, value: int) -> bool:
    """Whether an address holds on one link only, 169.254.0.0/16 or fe80::/10.

    family [-]: 4 or 6; value [-]: as an integer. Source: RFC 3927 section 2.1; RFC 4291 section 2.5.6.
    """
    return value >> 16 == 0xA9FE if family == 4 else value >> 118 == 0xFE80 >> 6


def is_multicast(family: int, value: int) -> bool:
    """Whether an address names a group of hosts, 224.0.0.0/4 or ff00::/8.

    family [-]: 4 or 6; value [-]: as an integer. Source: RFC 5771 (from memory); RFC 4291 section 2.7.
    """
    return value >> 28 == 0xE if family == 4 else value >> 120 == 0xFF


def is_documentation(family: int, value: int) -> bool:
    """Whether an address is set aside for examples in documents.

    family [-]: 4 or 6; value [-]: as an integer. Source: RFC 5737, RFC 3849, RFC 9637.
    """
    row = special(family, value)
    return row is not None and row.kind == "documentation"


def default_ranges() -> tuple[DefaultRange, ...]:
    """The prefixes worth a warning because so many things use them. Source: see the table in this file."""
    if not _Tables.defaults:
        _Tables.defaults = tuple(
            DefaultRange(read_prefix(text), used_by) for used_by, texts in _DEFAULTS for text in texts.split()
        )
    return _Tables.defaults


def defaults_met(prefix: Prefix) -> list[DefaultRange]:
    """Default ranges that share an address with a prefix. prefix [-]: any. Source: as `default_ranges`."""
    return [
        row
        for row in default_ranges()
        if row.prefix.contains(prefix.family, prefix.network)
        or prefix.contains(row.prefix.family, row.prefix.network)
    ]

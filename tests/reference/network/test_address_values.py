"""Prefix arithmetic, longest match, interface ids, pools: published answers, rows in addresses.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan import mac, prefixes
from coldcheck.lan.address import BadAddress, Prefix, read_address, read_prefix, text_of
from coldcheck.lan.dhcp import leasable, lease_timers, pool_size

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("addresses.toml").read_text(encoding="utf-8"))


def _value(text: str) -> int:
    return read_address(text).value


def _texts(blocks: list[Prefix]) -> list[str]:
    return [str(block) for block in blocks]


def test_usable_hosts() -> None:
    """An IPv4 prefix holds 2^(32-p) - 2 hosts, a /31 two, a /32 one (RFC 1122, RFC 3021)."""
    row = ROWS["hosts"]
    for bits, hosts in zip(row["prefix_bits"], row["usable_hosts"], strict=True):
        assert prefixes.usable(read_prefix(f"10.0.0.0/{bits}")) == hosts


def test_summary_of_the_first_fit_blocks() -> None:
    """E02: the six blocks of RFC 1519 section 5.1 merge into 192.24.0.0/19 and 192.24.32.0/22."""
    merged = prefixes.aggregate(read_prefix(text) for text in ROWS["E01"]["answer"])
    assert _texts(merged) == ROWS["E02"]["answer"]


def test_masks_of_the_first_fit_blocks() -> None:
    """E01: the netmasks printed in RFC 1519 section 5.1 read as the lengths of the same blocks."""
    for text, mask in zip(ROWS["E01"]["answer"], ROWS["E01"]["answer_masks"], strict=True):
        assert read_prefix(f"{text.partition('/')[0]}/{mask}") == read_prefix(text)


def test_longest_match() -> None:
    """E03: each probe meets the longest prefix first, shorter ones behind (RFC 1519 section 5.2)."""
    row = ROWS["E03"]
    routes = [row["aggregate_a"], row["aggregate_b"], *row["more_specific"]]
    index = prefixes.PrefixIndex([read_prefix(text) for text in routes])
    for probe, answer in zip(row["probe"], row["answer"], strict=True):
        found = index.containing(4, _value(probe))
        assert routes[found[0]] == answer
        assert [routes[place] for place in found[1:]] == [
            one for one in (row["aggregate_a"], row["aggregate_b"]) if one != answer and _covers(one, probe)
        ]


def _covers(route: str, probe: str) -> bool:
    return read_prefix(route).contains(4, _value(probe))


def test_summary_of_eight_blocks() -> None:
    """E04: eight /24 side by side merge into one /21, twice (vendor page of sample class C blocks)."""
    row = ROWS["E04"]
    for first, last, answer in (
        (row["input_first"], row["input_last"], row["answer"]),
        (row["second_input_first"], row["second_input_last"], row["second_answer"]),
    ):
        low, high = read_prefix(first), read_prefix(last)
        blocks = [Prefix(4, base, 24) for base in range(low.base, high.base + 1, 256)]
        assert len(blocks) == 8
        assert _texts(prefixes.aggregate(reversed(blocks))) == answer


def test_eight_equal_subnets() -> None:
    """E08: a /24 in eight has the tabled networks, first and last hosts and broadcasts (router manual)."""
    row = ROWS["E08"]
    base = read_prefix(row["block"]).network
    for place, octet in enumerate(row["last_octet_network"]):
        subnet = Prefix(4, base + octet, row["new_prefix_bits"])
        first, last = prefixes.usable_range(subnet)
        assert not subnet.host_bits_set
        assert prefixes.is_network_address(subnet, base + octet)
        assert first == base + row["last_octet_first"][place]
        assert last == base + row["last_octet_last"][place]
        assert prefixes.is_broadcast(subnet, base + row["last_octet_broadcast"][place])


def test_all_eight_subnets_count() -> None:
    """T03: a /24 holds eight /27, not the six of the old minus-two rule (RFC 1812)."""
    bits = ROWS["T03"]["prefix_bits"]
    parts = [Prefix(4, base, bits) for base in range(0, 256, 1 << (32 - bits))]
    assert len(parts) == ROWS["T03"]["modern_subnets"]
    assert _texts(prefixes.aggregate(parts)) == ["0.0.0.0/24"]
    assert _texts(prefixes.aggregate(parts[1:-1])) != ["0.0.0.0/24"]


def test_smallest_subnet_for_twelve_hosts() -> None:
    """E09: /28 is 255.255.255.240, holds 14 hosts and is the smallest prefix for 12 (quiz with solution)."""
    row = ROWS["E09"]
    subnet = read_prefix(f"192.168.10.0/{row['answer_mask']}")
    assert subnet.length == row["answer_prefix_bits"]
    assert prefixes.usable(subnet) == row["hosts_available"][0] >= row["hosts_needed"][0]
    assert prefixes.usable(Prefix(4, subnet.base, subnet.length + 1)) < row["hosts_needed"][0]


def test_two_hosts_on_a_31() -> None:
    """E10, T04: a /30 has hosts .5 and .6 and broadcast .7; a /31 has two hosts, .4 and .5 (RFC 3021)."""
    row = ROWS["E10"]
    wide, narrow = read_prefix(row["block30"]), read_prefix(row["block31"])
    assert [text_of(4, value) for value in prefixes.usable_range(wide)] == row["hosts"]
    assert prefixes.is_network_address(wide, _value(row["network"]))
    assert prefixes.is_broadcast(wide, _value(row["broadcast"]))
    assert [text_of(4, value) for value in prefixes.usable_range(narrow)] == row["hosts31"]
    assert not prefixes.is_network_address(narrow, narrow.network)
    assert not prefixes.is_broadcast(narrow, narrow.last)
    assert prefixes.usable(narrow) == ROWS["T04"]["rfc3021_hosts"]
    assert prefixes.usable(narrow) not in (ROWS["T04"]["manual_hosts"], ROWS["T04"]["minus_two_rule_hosts"])


def test_subnet_fields() -> None:
    """E11: an address AND its mask is its subnet (RFC 950 appendix I, from memory)."""
    row = ROWS["E11"]
    for host, mask, net in (
        (row["host_a"], row["mask_a"], row["net_a"]),
        (row["host_b"], row["mask_b"], row["net_b"]),
    ):
        typed = read_prefix(f"{host}/{mask}")
        assert str(Prefix(4, typed.network, typed.length)) == net
        assert typed.host_bits_set
        assert text_of(4, typed.base) == host


@pytest.mark.parametrize("key", ["E22", "E23"])
def test_interface_id_from_mac(key: str) -> None:
    """E22, E23: FF-FE goes in and the U/L bit is inverted: on for a maker's address, off for a local one."""
    row = ROWS[key]
    interface_id = mac.eui64_interface_id(mac.read_mac(row["mac"]))
    assert f"{interface_id:016X}" == row["interface_id"].replace("-", "")
    assert text_of(6, _value("fe80::") | interface_id) == row["link_local"]


def test_local_macs_free_to_choose() -> None:
    """Second digits 2, 6, A, E are local unicast; only 2 is free to choose (IEEE 802c-2017)."""
    free = {row["second_hex_digit"]: row["generate_ok"] for row in ROWS["quadrant"]}
    local = []
    for digit in range(16):
        address = digit << 40
        if mac.is_local(address) and not mac.is_group(address):
            local.append(f"{digit:X}")
        assert mac.is_free_to_choose(address) == free.get(f"{digit:X}", False)
    assert local == ROWS["mac"]["unicast_local_second_hex_digits"]


def test_mac_ranges() -> None:
    """The MAC ranges set aside have the published ends (RFC 1112, 2464, 5798, 9542; IEEE 802.1Q)."""
    for row in ROWS["mac_range"]:
        start, _, bits = row["range"].partition("/")
        first = mac.read_mac(start)
        last = first | ((1 << (48 - int(bits))) - 1)
        found = mac.special_mac(first)
        assert found is not None
        assert (found.first, found.last) == (first, last)
        assert mac.special_mac(last) == found
    assert len(mac.SPECIAL_MACS) == len(ROWS["mac_range"]) + 1
    assert mac.mac_text(mac.BROADCAST) == ROWS["mac"]["broadcast"]


def test_reserved_interface_ids() -> None:
    """Ids fdff:ffff:ffff:ff80 to ...ffff of a /64 are anycast (RFC 2526, from memory)."""
    subnet = read_prefix("fd12:3456:789a:1::/64")
    low, high = ROWS["ipv6"]["reserved_iid_top_hex"].split(" to ")
    for text, reserved in ((low, True), (high, True)):
        assert prefixes.is_reserved_anycast(subnet, _value(f"fd12:3456:789a:1:{text}")) is reserved
    assert not prefixes.is_reserved_anycast(subnet, _value(f"fd12:3456:789a:1:{low}") - 1)
    assert not prefixes.is_reserved_anycast(subnet, _value(f"fd12:3456:789a:1:{high}") + 1)


def test_pool_with_statics_inside() -> None:
    """E24: a pool of 244 with two static addresses inside leases 242; ten statics lie before it."""
    row = ROWS["E24"]
    assert pool_size(_value(row["static_first"]), _value(row["static_last"])) == row["answer_static"]
    first, last = _value(row["pool_first"]), _value(row["pool_last"])
    assert pool_size(first, last) == row["answer_pool"]
    statics = [(_value(text), _value(text)) for text in row["statics_inside_pool"]]
    assert leasable(first, last, statics) == row["answer_leasable"]


def test_pool_with_exclusions() -> None:
    """E25: 2046 less ranges of 25, 4 and 68 leave 1949, less two reservations 1947 (server article)."""
    row = ROWS["E25"]
    first, last = _value(row["pool_first"]), _value(row["pool_last"])
    assert pool_size(first, last) == row["answer_pool"]
    starts = [first, first + 500, last - 67]
    excluded = [
        (start, start + count - 1) for start, count in zip(starts, row["excluded_counts"], strict=True)
    ]
    assert leasable(first, last, excluded) == row["answer_after_exclusion"]
    reserved = [(first + 300, first + 300), (first + 900, first + 900)]
    assert len(reserved) == row["reserved_count"]
    assert leasable(first, last, excluded + reserved) == row["answer_dynamic"]
    assert leasable(first, last, excluded + reserved + excluded) == row["answer_dynamic"]


def test_reservation_inside_the_subnet() -> None:
    """E26: a reservation may lie outside the pool, never outside the subnet (server article)."""
    row = ROWS["E26"]
    subnet = read_prefix(row["subnet"])
    allowed = [subnet.contains(4, _value(text)) for text in row["reservations"]]
    assert allowed == row["answer_allowed"]


def test_lease_timers() -> None:
    """E27: a lease of 800 s is renewed at 400 s and rebound at 700 s (RFC 2131 section 4.4.5)."""
    row = ROWS["E27"]
    assert lease_timers(row["lease_s"]) == (row["answer_t1_s"], row["answer_t2_s"])


def test_wildcard_mask_is_refused() -> None:
    """T09: 10.0.0.0/0.255.255.255 is refused as a wildcard mask, and the length meant is named."""
    row = ROWS["T09"]
    with pytest.raises(BadAddress, match="wildcard mask") as caught:
        read_prefix(row["text"])
    assert f"/{row['becomes'].partition('/')[2]}" in caught.value.hint

"""Carved subnets by brute force over `ipaddress`, and that largest first loses no room."""

from ipaddress import IPv4Network

from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lan.address import Prefix, read_prefix
from coldcheck.lan.carving import first_fit, largest_first

LENGTHS = st.lists(st.integers(23, 32), max_size=12)
BLOCK = read_prefix("10.20.0.77/24")


def _naive(lengths: list[int]) -> list[str | None]:
    """Try every subnet of each length from the bottom, as `ipaddress` lists them."""
    whole = IPv4Network("10.20.0.0/24")
    taken: list[IPv4Network] = []
    found: list[str | None] = []
    for length in lengths:
        subnets = whole.subnets(new_prefix=length) if length >= 24 else iter(())
        fits = next((one for one in subnets if not any(one.overlaps(other) for other in taken)), None)
        if fits is not None:
            taken.append(fits)
        found.append(None if fits is None else str(fits))
    return found


def _texts(subnets: list[Prefix | None]) -> list[str | None]:
    return [None if one is None else str(one) for one in subnets]


@given(LENGTHS)
def test_first_fit_by_brute_force(lengths: list[int]) -> None:
    """Each subnet is the lowest of its length that overlaps none before it."""
    assert _texts(first_fit(BLOCK, lengths)) == _naive(lengths)


@given(LENGTHS)
def test_largest_first_loses_no_room(lengths: list[int]) -> None:
    """The largest first, what adds up to the block or less fits, each with its length, in the order asked for."""
    found = largest_first(BLOCK, lengths)
    if sum(2 ** (32 - length) for length in lengths) <= 256:
        assert [one.length for one in found if one is not None] == lengths
    order = sorted(range(len(lengths)), key=lambda place: lengths[place])
    assert [_texts(found)[place] for place in order] == _naive([lengths[place] for place in order])


def test_ends() -> None:
    """A length beyond the family has no room; the block itself fits once; IPv6 is cut the same way."""
    assert _texts(first_fit(BLOCK, [33, 24, 24])) == [None, "10.20.0.0/24", None]
    site = read_prefix("fd12:3456:789a::/48")
    assert _texts(first_fit(site, [64, 64, 56, 129])) == [
        "fd12:3456:789a::/64",
        "fd12:3456:789a:1::/64",
        "fd12:3456:789a:100::/56",
        None,
    ]

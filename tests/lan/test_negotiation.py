"""What two ends settle on: every way that unknown abilities may turn out, by brute force; hands; bundles."""

from collections.abc import Iterator
from itertools import chain, combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lan.negotiation import End, Settled, can, fixed, may_bundle, one_flow, port, settle

# The order in which two ends take what both can do: IEEE 802.3 annex 28B.3 (from memory), best first.
ORDER = (
    (10e9, True),
    (5e9, True),
    (2.5e9, True),
    (1e9, True),
    (100e6, True),
    (100e6, False),
    (10e6, True),
    (10e6, False),
)
SPEEDS = sorted({bits for bits, _ in ORDER})


def _abilities(end: End) -> Iterator[set[tuple[float, bool]]]:
    """All sets of modes that an end may turn out to have."""
    some = chain.from_iterable(combinations(end.perhaps, size) for size in range(len(end.perhaps) + 1))
    for more in some:
        speeds = end.sure + more
        yield {
            (bits, full) for bits, full in ORDER if bits in speeds and (end.full or not full or bits >= 1e9)
        }


def _outcomes(one: End, other: End) -> list[tuple[float, bool] | None]:
    return [
        next((mode for mode in ORDER if mode in mine and mode in theirs), None)
        for mine, theirs in product(_abilities(one), _abilities(other))
    ]


ENDS = st.builds(
    lambda marks, full: End(
        tuple(bits for bits, mark in zip(SPEEDS, marks, strict=True) if mark == "sure"),
        tuple(bits for bits, mark in zip(SPEEDS, marks, strict=True) if mark == "perhaps"),
        True,
        full,
    ),
    st.lists(st.sampled_from(("sure", "perhaps", "no", "no")), min_size=len(SPEEDS), max_size=len(SPEEDS)),
    st.booleans(),
)


@given(ENDS, ENDS)
def test_two_that_negotiate_by_brute_force(one: End, other: End) -> None:
    """Speed and duplex are known where all ways end alike, and bounded by the ways they may end otherwise."""
    ways = _outcomes(one, other)
    up = [way for way in ways if way is not None]
    ours = settle(one, other)
    assert ours == settle(other, one)
    assert ours.trouble == ("" if up else "no common speed")
    assert ours.highest == max((bits for bits, _ in up), default=None)
    assert ours.lowest == (min(bits for bits, _ in up) if None not in ways else None)
    assert ours.up == (True if None not in ways else None if up else False)
    assert ours.full == (up[0][1] if len({full for _, full in up}) == 1 else None)
    assert ours.bits == (up[0][0] if len(set(ways)) == 1 and up else None)


def test_ports_of_which_the_top_is_known() -> None:
    """Ports meet at the lower top, but a 10 Gbit/s one may skip what lies between 1 and 10 Gbit/s (common practice)."""
    assert settle(port(1e9), port(100e6)) == Settled(100e6, 100e6, True)
    assert settle(port(10e9), port(1e9)) == Settled(1e9, 1e9, True)
    assert settle(port(10e9), port(2.5e9)) == Settled(1e9, 2.5e9, True)
    assert settle(port(10e9), port(10e6)) == Settled(None, None, None, "no common speed")
    assert settle(port(10e9), port(100e6)) == Settled(None, 100e6, True)
    assert settle(port(2.5e9), port(5e9)).bits == 2.5e9
    for top in (10e6, 100e6, 1e9, 2.5e9, 5e9, 10e9, 25e9, 40e9):
        assert settle(port(top), port(top)) == Settled(top, top, True)


def test_cages() -> None:
    """A cage surely does its top speed, with modules perhaps a lower one; no speed is negotiated there."""
    assert settle(port(10e9, cage=True), port(10e9, cage=True), twisted=False) == Settled(10e9, 10e9, True)
    assert settle(port(10e9, cage=True), port(1e9, cage=True), twisted=False) == Settled(None, 1e9, True)
    assert settle(port(100e9, cage=True), port(1e9, cage=True), twisted=False).up is False
    assert settle(fixed(10e9), port(10e9, cage=True), twisted=False).up is True


def test_can_is_one_of_three() -> None:
    """A 10 Gbit/s port does 1 Gbit/s, perhaps 2.5 Gbit/s, and not 10 Mbit/s; an odd speed does itself."""
    assert [can(port(10e9), bits) for bits in (1e9, 2.5e9, 10e6)] == [True, None, False]
    assert [can(port(10e9, cage=True), bits) for bits in (10e9, 1e9, 100e6)] == [True, None, False]
    assert port(7e9) == End((7e9,))


@pytest.mark.parametrize("full", [True, False])
@pytest.mark.parametrize("bits", [10e6, 100e6])
def test_set_by_hand(bits: float, full: bool) -> None:
    """An end that listens finds the speed and takes half duplex, so only full duplex by hand is a mismatch."""
    expected = Settled(bits, bits, None, "duplex mismatch") if full else Settled(bits, bits, False)
    assert settle(port(1e9), fixed(bits, full=full)) == expected
    assert settle(fixed(bits, full=full), port(1e9)) == expected
    assert settle(fixed(bits, full=full), fixed(bits, full=full)) == Settled(bits, bits, full)
    assert settle(fixed(bits, full=True), fixed(bits, full=False)).trouble == "duplex mismatch"
    assert settle(fixed(bits), fixed(110e6 - bits)).trouble == "no common speed"


def test_set_by_hand_against_an_end_that_perhaps_can() -> None:
    """Where the speed set by hand is perhaps not known to the other end, nothing is sure and no slip is told."""
    assert settle(port(10e9), fixed(100e6)) == Settled(None, 100e6, None)
    assert settle(port(10e9), fixed(100e6, full=False)) == Settled(None, 100e6, False)
    assert settle(port(10e9), fixed(10e6)).up is False


def test_fast_ends_set_by_hand() -> None:
    """From 1 Gbit/s twisted pair needs both ends to negotiate, and has no half duplex."""
    for bits in (1e9, 10e9):
        assert settle(port(10e9), fixed(bits)) == Settled(None, bits, None, "must negotiate")
        assert settle(fixed(bits), fixed(bits)) == Settled(None, bits, None, "must negotiate")
        assert settle(port(10e9), fixed(bits, full=False)).trouble == "no half duplex"


def test_a_hand_sets_one_speed() -> None:
    """An end that does not negotiate has one speed."""
    for sure, perhaps in (((), ()), ((1e9, 100e6), ()), ((1e9,), (100e6,))):
        with pytest.raises(ValueError, match="one speed"):
            settle(End(sure, perhaps, False), port(1e9))


def test_bundles() -> None:
    """Members of one speed and one duplex make a bundle; what is unknown is not called fine."""
    giga, slow, half = Settled(1e9, 1e9, True), Settled(100e6, 100e6, True), Settled(100e6, 100e6, False)
    perhaps, down = Settled(1e9, 2.5e9, True), Settled(None, None, None, "no common speed")
    wrong, maybe_up = Settled(100e6, 100e6, None, "duplex mismatch"), Settled(None, 1e9, True)
    assert may_bundle([giga, giga]) is True
    assert may_bundle([giga, slow]) is False
    assert may_bundle([slow, half]) is False
    assert may_bundle([giga, perhaps]) is None
    assert may_bundle([slow, perhaps]) is False
    assert may_bundle([giga, maybe_up]) is None
    assert may_bundle([giga, down]) is False
    assert may_bundle([slow, wrong]) is False


def test_one_connection_takes_one_member() -> None:
    """One connection gets what one member carries, not the sum of the members."""
    assert one_flow([1e9, 1e9, 1e9]) == 1e9

"""Odds that ids drawn at random clash, against RFC 4193, a board manual and the exact birthday product."""

import tomllib
from fractions import Fraction
from math import floor, log10
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan.address import Prefix, read_prefix
from coldcheck.lan.carving import first_fit
from coldcheck.lan.mac import is_free_to_choose, random_clash
from coldcheck.lan.special import is_unique_local, unique_local_clash

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("clash.toml").read_text(encoding="utf-8"))


def _cut(value: float) -> float:
    """Three digits of a number, cut and not rounded."""
    step = 10.0 ** (floor(log10(value)) - 2)
    return floor(value / step) * step


def test_unique_local_sites() -> None:
    """E21: 2 to 10 000 joined sites clash with the published odds, which are cut (RFC 4193 section 3.2.3)."""
    row = ROWS["E21"]
    for sites, published, exact in zip(row["networks"], row["published"], row["exact"], strict=True):
        assert _cut(unique_local_clash(sites)) == pytest.approx(published, rel=1e-9)
        assert unique_local_clash(sites) == pytest.approx(exact, rel=2e-5)


def test_random_macs() -> None:
    """Addresses with 32 random bits clash with odds of about n^2 / 2^33 (board manual)."""
    for count in (2, 50, 1000):
        assert random_clash(count, ROWS["mac"]["random_bits"]) == pytest.approx(count**2 / 2**33, rel=1e-3)
    assert random_clash(1000) == random_clash(1000, ROWS["mac"]["random_bits"])


def test_free_macs() -> None:
    """The quadrant that is free to choose has 2^44 addresses: 48 bits less 4 fixed ones (IEEE 802c-2017)."""
    first_octets = sum(is_free_to_choose(octet << 40) for octet in range(256))
    assert first_octets << 40 == ROWS["mac"]["addresses_per_quadrant"]


def test_unique_local_layout() -> None:
    """fd00::/8 is unique local; 40 random bits make a /48, which holds 65 536 subnets of /64 (RFC 4193)."""
    row = ROWS["ula"]
    whole, half = read_prefix(row["prefix"]), read_prefix(row["local_prefix"])
    assert is_unique_local(whole.network)
    assert not is_unique_local(whole.network - 1)
    assert half == Prefix(6, whole.network | row["l_bit"] << 120, whole.length + 1)
    assert row["site_prefix_bits"] == half.length + row["global_id_bits"]
    assert unique_local_clash(77) == random_clash(77, row["global_id_bits"])
    subnet = row["site_prefix_bits"] + row["subnet_id_bits"]
    site = Prefix(6, half.network, row["site_prefix_bits"])
    found = first_fit(site, [subnet] * (row["subnets_per_site"] + 1))
    assert found.index(None) == row["subnets_per_site"]
    assert subnet + row["interface_id_bits"] == 128


@pytest.mark.parametrize(("count", "bits"), [(100, 20), (300, 16), (40, 12), (500, 32), (2, 8)])
def test_birthday_product(count: int, bits: int) -> None:
    """The formula is the exact product of the birthday problem, but for the n of n (n - 1)."""
    apart = Fraction(1)
    for drawn in range(count):
        apart *= 1 - Fraction(drawn, 2**bits)
    exact = float(1 - apart)
    assert exact <= random_clash(count, bits) <= 1.05 * exact * count / (count - 1)


def test_ends() -> None:
    """Nothing drawn never clashes, a crowd surely does, and no bits have no odds."""
    assert random_clash(0) == 0
    assert random_clash(10**6) == pytest.approx(1)
    for count, bits in ((-1, 32), (2, 0)):
        with pytest.raises(ValueError, match="no odds"):
            random_clash(count, bits)

"""Reading and writing addresses: forms taken, forms refused with their reason, round trips."""

import pickle
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lan.address import Address, BadAddress, Prefix, read_address, read_prefix, text_of

REFUSED = {
    "": "no address",
    "/24": "no address",
    "10.0.0": "3 parts, too few",
    "167772161": "beyond 255",
    "10": "1 part, too few",
    "10.0.0.0.1": "5 parts, too many",
    "10.0.0.256": "256 is beyond 255",
    "10.0.0.010": "010 has a leading zero.*octal.*write 10 ",
    "00.0.0.1": "leading zero.*write 0 ",
    "10..0.1": "octet is empty",
    "10.0.0.1a": "'1a' is not a decimal number",
    "0x0a.0.0.1": "'0x0a' is not a decimal number",
    "10.0.0.\u0663": "is not a decimal number",
    "10.0.0.+1": "is not a decimal number",
    " 10.0.0.1": "blank",
    "10.0.0.1\n": "blank",
    "10.0.0.1/33": "33 is beyond the 32 bits of IPv4",
    "fd00::1/129": "129 is beyond the 128 bits of IPv6",
    "10.0.0.1/": "'' after the slash",
    "10.0.0.1/-1": "no prefix length",
    "10.0.0.1/024": "leading zero",
    "10.0.0.1/24/24": "'24/24' after the slash",
    "10.0.0.1/24 ": "no prefix length",
    "10.0.0.1/\u0662\u0664": "no prefix length",
    "10.0.0.1/0.0.0.255": "wildcard mask",
    "10.0.0.1/255.0.255.0": "not contiguous",
    "10.0.0.1/255.255.255": "netmask cannot be read: 3 parts",
    "10.0.0.1/255.255.255.0/24": "netmask cannot be read",
    "10.0.0.1/::1.2.3.4": "netmask cannot be read",
    "fd00::1/255.255.0.0": "no prefix length",
    "fe80::1%eth0": "zone 'eth0'.*one machine",
    "fe80::1%eth0/64": "zone 'eth0'",
    "[fd00::1]": "brackets",
    "10.0.0.1:80": "before a colon.*write 10.0.0.1 alone",
    "fd00::1::2": "once only",
    "fd00:::1": "once only",
    "fd00:1:2": "3 groups where IPv6 has 8",
    "1:2:3:4:5:6:7:8:9": "9 groups where IPv6 has 8",
    "1:2:3:4:5:6:7:8::": "8 groups leave nothing for '::'",
    "1:2:3:4:5:6:7:": "colon stands alone",
    ":1:2:3:4:5:6:7": "colon stands alone",
    "fd00::12345": "longer than four digits",
    "fd00::g": "'g' has no place",
    "fd00::-1": "'-' has no place",
    "fd00::1_2": "'_' has no place",
    "::ffff:10.0.0.256": "256 is beyond 255",
    "::ffff:10.0.0.01": "01 has a leading zero",
    "00:00:5e:00:53:01": "looks like a MAC address",
}


@pytest.mark.parametrize("text", REFUSED)
def test_refused_with_a_reason(text: str) -> None:
    """A text that is no address is refused, with a reason that names the fault and a hint."""
    with pytest.raises(BadAddress, match=REFUSED[text]) as caught:
        read_address(text)
    assert caught.value.text == text
    assert caught.value.hint
    assert str(caught.value) == f"{text!r}: {caught.value.reason}; {caught.value.hint}"


@given(st.text(alphabet="0123456789abcdefABCDEF:./% []xé-", max_size=40))
def test_any_text_reads_or_is_refused(text: str) -> None:
    """No text fails otherwise than by BadAddress; what reads, reads the same once written."""
    outcome: Address | BadAddress
    try:
        outcome = read_address(text)
    except BadAddress as bad:
        outcome = bad
    if isinstance(outcome, BadAddress):
        assert outcome.reason
        assert outcome.hint
    else:
        assert read_address(str(outcome)) == outcome


def test_host_bits_stay_as_typed() -> None:
    """The host part of an address with a length is kept, and its subnet knows first and last."""
    address = read_address("10.20.0.11/24")
    assert address == Address(4, 0x0A14000B, 24)
    subnet = address.subnet
    assert subnet == Prefix(4, 0x0A14000B, 24)
    assert (subnet.network, subnet.last) == (0x0A140000, 0x0A1400FF)
    assert subnet.host_bits_set
    assert str(address) == str(subnet) == "10.20.0.11/24"
    assert read_address("10.20.0.11").subnet is None
    assert not read_prefix("10.20.0.0/24").host_bits_set


def test_prefix_needs_its_length() -> None:
    """A prefix without a length is refused, and so is a mistyped address in it."""
    with pytest.raises(BadAddress, match="length is missing"):
        read_prefix("10.20.0.0")
    with pytest.raises(BadAddress, match="beyond 255"):
        read_prefix("10.20.0.300/24")


def test_the_widest_and_the_narrowest() -> None:
    """Prefixes of length 0 and of full length hold everything and one address."""
    for text, last in (
        ("0.0.0.0/0", 2**32 - 1),
        ("::/0", 2**128 - 1),
        ("10.0.0.1/32", 0x0A000001),
        ("::1/128", 1),
    ):
        prefix = read_prefix(text)
        assert prefix.last == last
        assert prefix.contains(prefix.family, last)
        assert not prefix.host_bits_set


@pytest.mark.parametrize(
    "typed, written",
    [
        ("2001:DB8::1", "2001:db8::1"),
        ("2001:db8:0:0:1:0:0:1", "2001:db8::1:0:0:1"),
        ("2001:0:0:1:0:0:0:1", "2001:0:0:1::1"),
        ("2001:db8:0:1:1:1:1:1", "2001:db8:0:1:1:1:1:1"),
        ("2001:db8::1:1:1:1:1", "2001:db8:0:1:1:1:1:1"),
        ("0:0:0:0:0:0:0:0", "::"),
        ("1:0:0:0:0:0:0:0", "1::"),
        ("0:0:0:0:0:ffff:192.0.2.1", "::ffff:192.0.2.1"),
        ("::192.0.2.1", "::c000:201"),
    ],
)
def test_one_form_of_ipv6(typed: str, written: str) -> None:
    """The examples of RFC 5952 sections 4 and 5 come out in their one form."""
    assert str(read_address(typed)) == written


@given(st.integers(0, 2**32 - 1), st.integers(0, 2**128 - 1))
def test_what_is_written_reads_back(four: int, six: int) -> None:
    """Any value of either family survives writing and reading."""
    assert read_address(text_of(4, four)) == Address(4, four)
    assert read_address(text_of(6, six)) == Address(6, six)


def test_no_text_for_a_value_out_of_range() -> None:
    """A value beyond its family has no text."""
    for family, value in ((4, -1), (4, 2**32), (6, -1), (6, 2**128)):
        with pytest.raises(ValueError, match="is no IPv"):
            text_of(family, value)


def test_a_long_text_is_cut_in_the_message() -> None:
    """The message of a refusal stays short, and the refusal can be sent between processes."""
    with pytest.raises(BadAddress) as caught:
        read_address("9" * 5000)
    assert len(str(caught.value)) < 250
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


def test_cold_start_is_light() -> None:
    """Importing every module of local networks adds nothing heavy to msgspec and the package root."""
    names = ["address", "cable", "dhcp", "mac", "names", "poe", "prefixes", "special"]
    code = (
        "import sys, msgspec, coldcheck; before = set(sys.modules); import "
        + ", ".join(f"coldcheck.lan.{name}" for name in names)
        + "; print(*sorted(set(sys.modules) - before))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    new = set(done.stdout.split())
    assert {f"coldcheck.lan.{name}" for name in names} <= new
    others = {name for name in new if not name.startswith("coldcheck")}
    assert others <= {"math", "bisect", "_bisect", "collections.abc", "typing"}

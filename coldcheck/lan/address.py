"""Read and write IPv4 and IPv6 addresses and prefixes.

An address is an integer with a family, so that a plan of thousands of addresses is compared by arithmetic.
Host bits stay as typed: "10.20.0.11/24" keeps .11 beside its length. Own code instead of `ipaddress`, for
the cold start and because that module takes wildcard masks for netmasks.
"""

from msgspec import Struct

WIDTH = {4: 32, 6: 128}
"""Bits of an address [bit] by family."""

# One look-up tells a good octet from a bad one: "07", "256", "+1" and digits of other scripts are not among
# the keys.
_NUMBER = {str(n): n for n in range(256)}
_HEX = frozenset("0123456789abcdefABCDEF:")
_MAPPED = 0xFFFF


class BadAddress(ValueError):
    """A text that is no address, no prefix or no MAC address.

    text [-]: what was typed; reason [-]: why it is refused; hint [-]: what to write instead. All plain words.
    """

    def __init__(self, text: str, reason: str, hint: str) -> None:
        super().__init__(text, reason, hint)
        self.text = text
        self.reason = reason
        self.hint = hint

    def __str__(self) -> str:
        shown = self.text if len(self.text) <= 60 else self.text[:57] + "..."
        return f"{shown!r}: {self.reason}; {self.hint}"


class Prefix(Struct, frozen=True, gc=False):
    """A block of addresses, with the base as typed.

    family [-]: 4 or 6; base [-]: the address before the slash, host bits kept; length [bit]: 0 to 32 or 128.
    """

    family: int
    base: int
    length: int

    @property
    def host_bits(self) -> int:
        """Bits left for hosts [bit]."""
        return WIDTH[self.family] - self.length

    @property
    def network(self) -> int:
        """The first address [-], host bits cleared."""
        return self.base >> self.host_bits << self.host_bits

    @property
    def last(self) -> int:
        """The last address [-], host bits set."""
        return self.base | ((1 << self.host_bits) - 1)

    @property
    def host_bits_set(self) -> bool:
        """Whether the base as typed is not the first address of the block."""
        return self.base != self.network

    def contains(self, family: int, value: int) -> bool:
        """Whether an address lies in the block. family [-]: 4 or 6; value [-]: the address as an integer."""
        return family == self.family and (value ^ self.base) >> self.host_bits == 0

    def __str__(self) -> str:
        return f"{text_of(self.family, self.base)}/{self.length}"


class Address(Struct, frozen=True, gc=False):
    """One address.

    family [-]: 4 or 6; value [-]: as an integer; prefix [bit]: the length typed after it, or None.
    """

    family: int
    value: int
    prefix: int | None = None

    @property
    def subnet(self) -> Prefix | None:
        """The block that the typed length puts the address in, or None where none was typed."""
        return None if self.prefix is None else Prefix(self.family, self.value, self.prefix)

    def __str__(self) -> str:
        plain = text_of(self.family, self.value)
        return plain if self.prefix is None else f"{plain}/{self.prefix}"


def read_address(text: str) -> Address:
    """Read an address, alone or with its prefix length or contiguous netmask.

    text [-]: "10.20.0.11", "10.20.0.11/24", "10.20.0.11/255.255.255.0", "fd12::11/64", "::ffff:10.20.0.11".
    Errors: BadAddress for anything else; blanks around the text count as part of it.
    Source: RFC 4291 section 2.2 for IPv6; RFC 6943 section 3.1.1 for why an octet has no leading zero; RFC
    4632 section 3.1 for the length.
    """
    head, slash, tail = text.partition("/")
    if ":" in head:
        family, value = 6, _read_v6(head, text)
    else:
        family, value = 4, _read_v4(head, text)
    return Address(family, value, _read_length(family, tail, text) if slash else None)


def read_prefix(text: str) -> Prefix:
    """Read a prefix; host bits are kept, so that a caller can complain of them.

    text [-]: "10.20.0.0/24", "10.20.0.0/255.255.255.0", "fd12:3456:789a::/48".
    Errors: BadAddress, also where the length is missing.
    Source: as `read_address`.
    """
    address = read_address(text)
    if address.prefix is None:
        raise BadAddress(
            text, "the prefix length is missing", "write it after a slash, for example /24 or /64"
        )
    return Prefix(address.family, address.value, address.prefix)


def text_of(family: int, value: int) -> str:
    """Write an address in its one recommended form.

    family [-]: 4 or 6; value [-]: 0 to 2^32 - 1 or 2^128 - 1.
    Errors: ValueError outside that range.
    Source: RFC 5952 section 4 (lower case, no leading zeros, the first longest run of two or more zero
    groups becomes "::") and section 5 (IPv4-mapped addresses end in a dotted quad).
    """
    if value < 0 or value >> WIDTH[family]:
        raise ValueError(f"{value} is no IPv{family} address")
    if family == 4:
        return f"{value >> 24}.{value >> 16 & 255}.{value >> 8 & 255}.{value & 255}"
    if value >> 32 == _MAPPED:
        return "::ffff:" + text_of(4, value & 0xFFFFFFFF)
    groups = [value >> shift & 0xFFFF for shift in range(112, -1, -16)]
    start, count = _longest_zero_run(groups)
    words = [f"{group:x}" for group in groups]
    if count < 2:
        return ":".join(words)
    return ":".join(words[:start]) + "::" + ":".join(words[start + count :])


def _longest_zero_run(groups: list[int]) -> tuple[int, int]:
    best = (0, 0)
    start = 0
    for place, group in enumerate(groups):
        if group:
            start = place + 1
        elif place + 1 - start > best[1]:
            best = (start, place + 1 - start)
    return best


def _read_v4(head: str, text: str) -> int:
    try:
        a, b, c, d = head.split(".")
        return _NUMBER[a] << 24 | _NUMBER[b] << 16 | _NUMBER[c] << 8 | _NUMBER[d]
    except (ValueError, KeyError):
        raise BadAddress(text, *_why_not_v4(head)) from None


def _read_length(family: int, tail: str, text: str) -> int:
    width = WIDTH[family]
    length = _NUMBER.get(tail)
    if length is not None and length <= width:
        return length
    if family == 4 and "." in tail:
        return _length_of_mask(tail, text)
    if tail.isascii() and tail.isdigit():
        if tail[0] == "0":
            raise BadAddress(text, f"the prefix length {tail} has a leading zero", "write it without")
        raise BadAddress(
            text,
            f"a prefix length of {tail[:20]} is beyond the {width} bits of IPv{family}",
            f"write 0 to {width}",
        )
    raise BadAddress(
        text, f"{tail[:20]!r} after the slash is no prefix length", f"write a whole number from 0 to {width}"
    )


def _length_of_mask(tail: str, text: str) -> int:
    try:
        mask = _read_v4(tail, text)
    except BadAddress as bad:
        raise BadAddress(text, f"the netmask cannot be read: {bad.reason}", bad.hint) from None
    hosts = mask ^ 0xFFFFFFFF
    if hosts & (hosts + 1) == 0:
        return 32 - hosts.bit_length()
    if mask & (mask + 1) == 0:
        raise BadAddress(
            text,
            f"{tail} is a wildcard mask, the inverse of a netmask",
            f"write the length: /{32 - mask.bit_length()}, or the netmask {text_of(4, hosts)}",
        )
    raise BadAddress(
        text, f"the netmask {tail} is not contiguous: a one follows a zero", "a netmask is ones, then zeros"
    )


def _why_not_v4(head: str) -> tuple[str, str]:
    """Say why a text without a colon is no IPv4 address: reason and hint."""
    if not head:
        return "there is no address", "write four numbers with dots, for example 10.20.0.11"
    if head != head.strip():
        return "a blank stands beside the address", "take it away"
    octets = head.split(".")
    for octet in octets:
        problem = _why_no_octet(octet)
        if problem is not None:
            return problem
    count = len(octets)
    few = "too few" if count < 4 else "too many"
    return f"{count} part{'s' if count > 1 else ''}, {few} for IPv4", "write four numbers with dots"


def _why_no_octet(octet: str) -> tuple[str, str] | None:
    if octet in _NUMBER:
        return None
    if not octet:
        return "an octet is empty", "write a number between the dots"
    if not (octet.isascii() and octet.isdigit()):
        return f"{octet[:20]!r} is not a decimal number", "write each octet with the digits 0 to 9"
    if octet[0] == "0":
        return (
            f"the octet {octet[:20]} has a leading zero, which some programs read as octal",
            f"write {octet.lstrip('0')[:20] or '0'} if decimal is meant",
        )
    return f"the octet {octet[:20]} is beyond 255", "write 0 to 255"


def _read_v6(head: str, text: str) -> int:
    body = _dotted_tail_in_hex(head, text) if "." in head else head
    left, gap, right = body.partition("::")
    before = left.split(":") if left else []
    after = right.split(":") if right else []
    missing = 8 - len(before) - len(after)
    if _HEX.issuperset(body) and (missing > 0 if gap else missing == 0):
        groups = [*before, *["0"] * missing, *after]
        if all(0 < len(group) <= 4 for group in groups):
            return int("".join([group.rjust(4, "0") for group in groups]), 16)
    raise BadAddress(text, *_why_not_v6(head, body))


def _dotted_tail_in_hex(head: str, text: str) -> str:
    """Turn the dotted quad at the end of an IPv6 address into two groups."""
    front, _, quad = head.rpartition(":")
    if "." in front:
        host = head.partition(":")[0]
        raise BadAddress(
            text, "a dotted quad stands before a colon", f"write {host[:40]} alone; no port belongs here"
        )
    if "." not in quad:
        raise BadAddress(
            text, "an address is mixed with something else", "write the address alone, without a port"
        )
    value = _read_v4(quad, text)
    return f"{front}:{value >> 16:x}:{value & 0xFFFF:x}"


def _why_not_v6(head: str, body: str) -> tuple[str, str]:
    """Say why a text with a colon is no IPv6 address: reason and hint."""
    if "%" in head:
        zone = head.partition("%")[2]
        return (
            f"the zone {zone[:20]!r} names an interface of one machine and means nothing in a plan",
            "write the address without % and what follows it",
        )
    if "[" in head or "]" in head:
        return "brackets belong to a URL", "write the address without brackets"
    if not _HEX.issuperset(body):
        odd = next(letter for letter in body if letter not in _HEX)
        return f"{odd!r} has no place in an IPv6 address", "write hexadecimal digits and colons"
    return _why_wrong_groups(body)


def _why_wrong_groups(body: str) -> tuple[str, str]:
    groups = body.split(":")
    for group in groups:
        if len(group) > 4:
            return (
                f"the group {group[:20]} is longer than four digits",
                "write at most four digits between colons",
            )
    if len(groups) == 6 and all(len(group) == 2 for group in groups):
        return "this looks like a MAC address", "write an IP address, or use the key for the MAC address"
    if body.count("::") > 1 or ":::" in body:
        return "'::' stands for the missing groups once only", "write the other zeros out"
    count = sum(1 for group in groups if group)
    if "::" in body:
        if count > 7:
            return f"{count} groups leave nothing for '::' to stand for", "take '::' or a group away"
    elif count != 8 and "" not in groups:
        return f"{count} groups where IPv6 has 8", "write all of them, or '::' for a run of zeros"
    return "a colon stands alone at an end", "write eight groups, or '::' for a run of zeros"

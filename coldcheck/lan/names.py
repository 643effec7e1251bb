"""Host names: what a label and a whole name may be, names no machine should have, domains set aside."""

from msgspec import Struct

LABEL_MAX = 63
"""Longest label [character]. Source: RFC 1035 section 2.3.4."""
NAME_MAX = 253
"""Longest name as text, no final dot [character]: 255 octets on the wire less two of lengths."""
OLD_TABLE_MAX = 24
"""Longest name of the old host table [character]; some programs still cut there. Source: RFC 952."""

_HEX = frozenset("0123456789abcdef")
_ALLOWED = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-")

MUST_HANDLE = 63
"""Longest name that every program must handle [character]; more is only asked of them. Source: RFC 1123 2.1."""

NEVER_A_MACHINE = frozenset(
    (
        "localhost",
        "localdomain",
        "broadcasthost",
        "ip6-localhost",
        "ip6-loopback",
        "ip6-allnodes",
        "ip6-allrouters",
        "wpad",
        "isatap",
    )
)
"""Names that hosts files or discovery protocols take for themselves. Source: hosts files, common practice."""


class SpecialDomain(Struct, frozen=True):
    """A domain set aside.

    domain [-], use [-], source [-]; zone_ok [-]: whether a LAN may have an ordinary zone of that name.
    """

    domain: str
    use: str
    source: str
    zone_ok: bool


# Source: list of special-use domain names and the documents named, read (secondary). Whether ".home",
# ".lan" and the like are wise is common practice: they are not reserved for us, so the answer given is no.
SPECIAL_DOMAINS = (
    SpecialDomain("local", "multicast DNS only", "RFC 6762", False),
    SpecialDomain("home.arpa", "homes, not unique", "RFC 8375", True),
    SpecialDomain("internal", "private use", "ICANN SAC113", True),
    SpecialDomain("test", "tests", "RFC 6761", True),
    SpecialDomain("localhost", "loopback", "RFC 6761", False),
    SpecialDomain("invalid", "always fails", "RFC 6761", False),
    SpecialDomain("example", "documentation", "RFC 6761", False),
    SpecialDomain("example.com", "documentation", "RFC 6761", False),
    SpecialDomain("example.net", "documentation", "RFC 6761", False),
    SpecialDomain("example.org", "documentation", "RFC 6761", False),
    SpecialDomain("onion", "not DNS", "RFC 7686", False),
    SpecialDomain("alt", "not DNS", "RFC 9476", False),
    SpecialDomain("home", "will not be delegated, not reserved either", "ICANN, 2018", False),
    SpecialDomain("corp", "will not be delegated, not reserved either", "ICANN, 2018", False),
    SpecialDomain("mail", "will not be delegated, not reserved either", "ICANN, 2018", False),
    SpecialDomain("lan", "in wide use, not reserved", "RFC 6762 appendix G", False),
    SpecialDomain("intranet", "in wide use, not reserved", "RFC 6762 appendix G", False),
    SpecialDomain("private", "in wide use, not reserved", "RFC 6762 appendix G", False),
)
_BY_DOMAIN = {row.domain: row for row in SPECIAL_DOMAINS}


def problem_with_label(text: str) -> str | None:
    """Say in plain words why a text cannot be one label of a host name; None where it can.

    text [-]: between two dots. 1 to 63 letters, digits and hyphens, no hyphen at an end; a digit may come
    first since 1989; hyphens in places 3 and 4 belong to "xn--" names.
    Source: RFC 952, RFC 1123 section 2.1, RFC 1035 section 2.3.4; RFC 5891 section 4.2.3.1 (from memory).
    """
    if not text:
        return "is empty"
    if len(text) > LABEL_MAX:
        return f"has {len(text)} characters; {LABEL_MAX} are allowed"
    if not _ALLOWED.issuperset(text):
        odd = next(letter for letter in text if letter not in _ALLOWED)
        return f"holds {odd!r}; only letters a to z, digits and hyphens are allowed"
    if text[0] == "-" or text[-1] == "-":
        return "begins or ends with a hyphen"
    if text[2:4] == "--" and text[:2].lower() != "xn":
        return "has hyphens in places 3 and 4, which only encoded names may have"
    return None


def problem_with_name(text: str) -> str | None:
    """Say in plain words why a text cannot be a host name, alone or with its domain; None where it can.

    text [-]: labels joined by dots, a final dot allowed; 253 characters without it. The last label is not
    all digits, so that no name reads as an address.
    Source: RFC 1123 section 2.1, RFC 1035 section 2.3.4.
    """
    bare = text.removesuffix(".")
    if len(bare) > NAME_MAX:
        return f"has {len(bare)} characters; {NAME_MAX} are allowed"
    labels = bare.split(".")
    for label in labels:
        problem = problem_with_label(label)
        if problem is not None:
            return problem if len(labels) == 1 else f"part {label[:LABEL_MAX]!r} {problem}"
    if labels[-1].isdigit():
        return "ends in a part of digits only, which reads as an address"
    return None


def reads_as_number(name: str) -> bool:
    """Whether programs that take addresses and names in one place take a name for an IPv4 address.

    name [-]: alone or with its domain, no final dot. The last part decides: digits, or "0x" and hexadecimal
    digits.
    Source: RFC 1123 section 2.1; the hexadecimal form is how many systems read addresses (from memory).
    """
    last = folded(name).rpartition(".")[2]
    if last.startswith("0x"):
        return _HEX.issuperset(last[2:])
    return last.isascii() and last.isdigit()


def lawful_label(text: str) -> str:
    """A label [-] as near to a text as the rules allow, "" where nothing is left of it.

    text [-]: any. Accents are taken off letters; what has no place in a label becomes a hyphen.
    Source: the rules of `problem_with_label`.
    """
    if not text.isascii():
        import unicodedata  # late: few plans have such names

        plain = unicodedata.normalize("NFKD", text.replace("ß", "ss"))
        text = "".join([letter for letter in plain if not unicodedata.combining(letter)])
    kept = "".join([letter if letter in _ALLOWED else "-" for letter in text]).strip("-")
    if kept[2:4] == "--" and kept[:2].lower() != "xn":
        kept = kept[:3] + kept[3:].lstrip("-")
    return kept[:LABEL_MAX].rstrip("-")


def wire_octets(name: str) -> int:
    """Octets [octet] that a name takes in a DNS message.

    name [-]: a lawful one. Source: RFC 1035 section 3.1.
    """
    bare = name.removesuffix(".")
    return len(bare) + 2 if bare else 1


def folded(name: str) -> str:
    """The form [-] in which two names are compared: lower case, no final dot.

    name [-]. Source: RFC 1035 section 2.3.3.
    """
    return name.removesuffix(".").lower()


def is_never_a_machine(name: str) -> bool:
    """Whether the first label of a name is one that no machine should have.

    name [-]. Source: `NEVER_A_MACHINE`.
    """
    return folded(name).partition(".")[0] in NEVER_A_MACHINE


def special_domain(name: str) -> SpecialDomain | None:
    """The longest domain set aside that a name lies in or is, or None.

    name [-]: with its domain, any case. Source: `SPECIAL_DOMAINS`.
    """
    rest = folded(name)
    while rest:
        if rest in _BY_DOMAIN:
            return _BY_DOMAIN[rest]
        rest = rest.partition(".")[2]
    return None

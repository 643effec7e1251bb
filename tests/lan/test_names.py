"""Host names: what is refused and why, comparison, domains set aside."""

import re
import socket
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lan import names

REFUSED_LABELS = {
    "": "is empty",
    "a" * 64: "has 64 characters",
    "node_1": "holds '_'",
    "node 1": "holds ' '",
    "näme": "holds 'ä'",
    "n\u0661": "holds",
    "n1.": r"holds '\.'",
    "-n1": "hyphen",
    "n1-": "hyphen",
    "-": "hyphen",
    "ab--c": "places 3 and 4",
}
REFUSED_NAMES = {
    "": "^is empty",
    ".": "^is empty",
    "n1..lan": "part '' is empty",
    "n1.node_2.internal": "part 'node_2' holds '_'",
    "10.20.0.11": "digits only",
    "n1.42": "digits only",
    "42": "digits only",
    ".".join(["a" * 63] * 4): "has 255 characters",
}


@pytest.mark.parametrize("text", REFUSED_LABELS)
def test_refused_labels(text: str) -> None:
    """A text that is no label is refused with a reason (RFC 952, RFC 1123 section 2.1, RFC 1035)."""
    with pytest.raises(AssertionError, match=REFUSED_LABELS[text]):
        raise AssertionError(names.problem_with_label(text))


@pytest.mark.parametrize(
    "text", ["n1", "N1", "1n", "3", "a", "a-b", "a--b", "xn--nme-qla", "XN--nme-qla", "a" * 63]
)
def test_lawful_labels(text: str) -> None:
    """Letters, digits and inner hyphens make a label, a digit may lead (RFC 1123 section 2.1)."""
    assert names.problem_with_label(text) is None


@pytest.mark.parametrize("text", REFUSED_NAMES)
def test_refused_names(text: str) -> None:
    """A name is refused for any part, its length, or a last part of digits (RFC 1123 section 2.1)."""
    with pytest.raises(AssertionError, match=REFUSED_NAMES[text]):
        raise AssertionError(names.problem_with_name(text))


@pytest.mark.parametrize(
    "text", ["n1", "n1.home.arpa", "n1.home.arpa.", "10.in-addr.arpa", "1.2.3.4.example"]
)
def test_lawful_names(text: str) -> None:
    """Names alone, with a domain and with a final dot are lawful."""
    assert names.problem_with_name(text) is None


def test_names_are_compared_without_case() -> None:
    """Case and a final dot make no other name (RFC 1035 section 2.3.3)."""
    assert names.folded("N1.Home.Arpa.") == names.folded("n1.home.arpa")
    assert names.folded("n1") != names.folded("n2")
    assert names.is_never_a_machine("LOCALHOST")
    assert names.is_never_a_machine("wpad.internal")
    assert not names.is_never_a_machine("n1.localhost")


def test_domains_end_at_a_dot() -> None:
    """A domain set aside covers names below it, not names that merely end alike; the longest answers."""
    for text, domain in (
        ("n1.local", "local"),
        ("local", "local"),
        ("n1.internal.", "internal"),
        ("a.b.example.com", "example.com"),
        ("n1.home.arpa", "home.arpa"),
    ):
        found = names.special_domain(text)
        assert found is not None
        assert found.domain == domain
    for text in ("n1", "", "mylocal", "n1.mylocal", "n1.arpa", "example.dev", "local.dev"):
        assert names.special_domain(text) is None


def test_octets_on_the_wire() -> None:
    """A name costs an octet a label and one for the root: 02 'n1' 03 'lan' 00 (RFC 1035 section 3.1)."""
    assert names.wire_octets("n1.lan") == names.wire_octets("n1.lan.") == 8
    assert names.wire_octets(".") == 1


#: RFC 952 with the change of RFC 1123 section 2.1 and the length of RFC 1035, as one pattern.
LABEL = re.compile(r"(?!-)[A-Za-z0-9-]{1,63}(?<!-)")
#: What random names are made of, so that every rule is broken now and then.
LETTERS = "aZ09-_ .é"


def test_labels_against_a_pattern() -> None:
    """On 10 000 seeded texts a label is lawful where a pattern written from the RFCs says so (RFC 5891 aside)."""
    random = Random(1)
    refused = 0
    for _ in range(10_000):
        text = "".join(
            random.choices(LETTERS, [8, 8, 4, 4, 3, 1, 1, 1, 1], k=random.choice((1, 2, 3, 5, 62, 63, 64)))
        )
        if text[2:4] == "--":
            continue
        expected = LABEL.fullmatch(text) is not None
        assert (names.problem_with_label(text) is None) == expected, text
        refused += not expected
    assert 2_000 < refused < 9_500


@given(st.text(max_size=80))
def test_a_label_that_is_offered_is_lawful(text: str) -> None:
    """What is offered instead of any text is a label, or nothing; what is lawful already stays as it is."""
    offered = names.lawful_label(text)
    assert not offered or names.problem_with_label(offered) is None, offered
    if names.problem_with_label(text) is None:
        assert offered == text


@pytest.mark.parametrize(
    ("text", "offered"),
    [
        ("n_1", "n-1"),
        ("_n_", "n"),
        ("küche", "kuche"),
        ("große_küche", "grosse-kuche"),
        ("ab__c", "ab-c"),
        ("a" * 70, "a" * 63),
        ("___", ""),
        ("", ""),
    ],
)
def test_labels_offered(text: str, offered: str) -> None:
    """An underscore becomes a hyphen, an accent is taken off, ends are trimmed; of nothing nothing is left."""
    assert names.lawful_label(text) == offered


def test_names_that_read_as_addresses() -> None:
    """Whatever `inet_aton` of the system takes for an address reads as a number here, as does #.#.#.# (RFC 1123)."""
    random = Random(2)
    taken = 0
    for _ in range(10_000):
        text = "".join(random.choices("0179xaf.n", [4, 4, 4, 4, 2, 1, 1, 3, 1], k=random.randint(1, 8)))
        try:
            socket.inet_aton(text)
        except OSError:
            continue
        taken += 1
        assert names.reads_as_number(text), text
    assert taken > 300
    for text in ("10.20.0.11", "7", "n1.42", "0x1f", "0X1F", "0x"):
        assert names.reads_as_number(text), text
    for text in ("n1", "1a", "10.20.0.11.internal", "0xn", "n0x1", "٣"):
        assert not names.reads_as_number(text), text

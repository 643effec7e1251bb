"""Spans: what they deal out, and what is refused."""

import ipaddress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.plan.quantities import Wrong
from coldcheck.plan.spans import MOST, is_list, is_span, listed, members, spanned


@pytest.mark.parametrize(
    ("text", "first", "last", "count"),
    [
        ("n1 .. n6", "n1", "n6", 6),
        ("n6 .. n1", "n6", "n1", 6),
        ("n8 .. n12", "n8", "n12", 5),
        ("n08 .. n12", "n08", "n12", 5),
        ("n007 .. n010", "n007", "n010", 4),
        ("sw.1 .. sw.6", "sw.1", "sw.6", 6),
        ("a1b2.c3 .. a1b9.c3", "a1b2.c3", "a1b9.c3", 8),
        ("1 .. 48", "1", "48", 48),
        ("n3 .. n3", "n3", "n3", 1),
        ("n1  ..  n2", "n1", "n2", 2),
        ("10.20.0.11 .. 10.20.0.16", "10.20.0.11", "10.20.0.16", 6),
        ("10.20.0.250 .. 10.20.1.5", "10.20.0.250", "10.20.1.5", 12),
        ("10.20.1.5 .. 10.20.0.250", "10.20.1.5", "10.20.0.250", 12),
        ("10.20.0.1/24 .. 10.20.0.3/24", "10.20.0.1/24", "10.20.0.3/24", 3),
        ("fd00::9 .. fd00::12", "fd00::9", "fd00::12", 10),
        ("fd00::ffff/64 .. fd00::1:2/64", "fd00::ffff/64", "fd00::1:2/64", 4),
        ("02:00:00:00:00:09 .. 02:00:00:00:00:10", "02:00:00:00:00:09", "02:00:00:00:00:10", 8),
        ("02-00-00-00-00-fe .. 02-00-00-00-01-01", "02-00-00-00-00-fe", "02-00-00-00-01-01", 4),
        ("0 s .. 36 s by 12 s", "0 s", "36 s", 4),
        ("36 s .. 0 s by -12 s", "36 s", "0 s", 4),
        ("0.5 s .. 2 s by 0.5 s", "0.5 s", "2 s", 4),
        ("0 % .. 100 % by 25 %", "0 %", "100 %", 5),
        ("1234567 s .. 1234569 s by 1 s", "1234567 s", "1234569 s", 3),
        ("0.00001 s .. 0.00003 s by 0.00001 s", "0.00001 s", "0.00003 s", 3),
        ("-1 V .. 1 V by 1 V", "-1 V", "1 V", 3),
    ],
)
def test_spans_deal_out_their_members(text: str, first: str, last: str, count: int) -> None:
    """A span has its two ends and everything between, as often as counted, each once."""
    found = members(text)
    assert (found[0], found[-1], len(found)) == (first, last, count)
    assert len(set(found)) == count


def test_members_between_the_ends() -> None:
    """Padding, the end of an octet, hexadecimal digits and steps are counted as written."""
    assert members("n08 .. n11") == ["n08", "n09", "n10", "n11"]
    assert members("10.0.0.254 .. 10.0.1.1") == ["10.0.0.254", "10.0.0.255", "10.0.1.0", "10.0.1.1"]
    assert members("fd00::9 .. fd00::c") == ["fd00::9", "fd00::a", "fd00::b", "fd00::c"]
    assert members("02:00:00:00:00:0e .. 02:00:00:00:00:10")[1] == "02:00:00:00:00:0f"
    assert members("0 s .. 36 s by 12 s") == ["0 s", "12 s", "24 s", "36 s"]
    assert members("0 s .. 0.3 s by 0.1 s") == ["0 s", "0.1 s", "0.2 s", "0.3 s"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("n1 .. m6", "must differ in one number and in nothing else"),
        ("a1b1 .. a2b2", "must differ in one number and in nothing else"),
        ("red .. blue", "must differ in one number"),
        ("n1 .. n1x2", "are not built alike"),
        ("n1 .. n2 .. n3", "are not built alike"),
        ("n1 .. n012", "are not filled up with zeros alike"),
        ("n012 .. n9", "are not filled up with zeros alike"),
        ("n1 .. n10001", "it has 10001 members; 10000 is the most"),
        ("n1 .. n" + "9" * 5000, "more than 18 digits"),
        ("10.0.0.0 .. 10.1.0.0", "it has 65537 members"),
        ("fd00::1 .. fd01::1", "is the most"),
        ("02:00:00:00:00:00 .. 02:00:00:01:00:00", "is the most"),
        ("0 s .. 1000000 s by 1 s", "it has 1000001 members"),
        ("10.0.0.1 .. 10.0.0.256", '"10.0.0.256" is none'),
        ("10.0.0.01 .. 10.0.0.9", '"10.0.0.01" is none'),
        ("10.0.0.1/24 .. 10.0.0.3/25", "both ends must carry the same prefix length"),
        ("10.0.0.1 .. 10.0.0.3/25", "both ends must carry the same prefix length"),
        ("fd00::1/64 .. fd00::2/65", "both ends must carry the same prefix length"),
        ("fd00::1 .. fd00::zz", "Only hex digits permitted"),
        ("0 s .. 36 s", 'say the step: "0 s .. 36 s by ..."'),
        ("0 s .. 36 s by 10 s", "do not end at 36 s"),
        ("0 s .. 36 s by 0 s", "never gets from 0 s to 36 s"),
        ("0 s .. 36 s by -12 s", "never gets from 0 s to 36 s"),
        ("0 s .. 36 min by 12 s", "a span of quantities in one unit"),
        ("n1 .. n6 by 2", "a span of quantities in one unit"),
        ("0 s .. " + "9" * 400 + " s by 1 s", "a span of quantities in one unit"),
        (" .. ", "lacks one of its ends"),
    ],
)
def test_bad_spans_are_refused(text: str, says: str) -> None:
    """What does not count from one end to the other is refused, and the message says why."""
    with pytest.raises(Wrong) as caught:
        members(text)
    assert says in f"{caught.value.expected} {caught.value.hint}"


def test_the_bound_itself_is_allowed() -> None:
    """A span may have as many members as the bound, and not one more."""
    assert len(members(f"n1 .. n{MOST}")) == MOST
    assert len(members(f"n{MOST} .. n1")) == MOST


@given(st.integers(0, 2**32 - 200), st.integers(0, 150))
def test_addresses_count_as_addresses(first: int, more: int) -> None:
    """IPv4 spans agree with another reading of addresses, Python's own."""
    ends = [str(ipaddress.IPv4Address(n)) for n in (first, first + more)]
    found = members(" .. ".join(ends))
    assert found == [str(ipaddress.IPv4Address(n)) for n in range(first, first + more + 1)]


@given(st.integers(0, 10**6), st.integers(1, 200), st.integers(1, 1000), st.sampled_from([1, 10, 1000]))
def test_steps_are_exact(low: int, steps: int, step: int, scale: int) -> None:
    """Spans of decimal quantities hold what exact integer arithmetic gives."""

    def text(thousandths: int) -> str:
        value = thousandths / scale
        return f"{value:.3f}".rstrip("0").rstrip(".")

    high = low + steps * step
    found = members(f"{text(low)} s .. {text(high)} s by {text(step)} s")
    assert found == [f"{text(low + i * step)} s" for i in range(steps + 1)]


def test_what_is_a_span() -> None:
    """Only two dots with a blank on either side make a span."""
    assert is_span("a1 .. a2")
    assert not is_span("a1..a2")
    assert not is_span("a.b")


@pytest.mark.parametrize(
    ("names", "text"),
    [
        (["n1", "n2", "n3"], "n1 .. n3"),
        (["n1", "n2"], "n1 and n2"),
        (["n1"], "n1"),
        (["n1", "n3", "n4"], "n1, n3 and n4"),
        (["sw.1", "sw.2", "sw.3"], "sw.1 .. sw.3"),
        ([f"x{n * 2}" for n in range(10)], "x0, x2, x4, x6, x8, x10, x12 and 3 more"),
        ([], ""),
    ],
)
def test_names_are_listed_as_people_do(names: list[str], text: str) -> None:
    """Names that count on are written as a span, few are listed, many are cut short."""
    assert listed(names) == text


@given(st.integers(0, 500), st.integers(2, 40))
def test_listing_undoes_dealing(first: int, more: int) -> None:
    """The members of a span, listed, are the span again."""
    span = f"n{first} .. n{first + more}"
    assert listed(members(span)) == span


@pytest.mark.parametrize(
    ("text", "texts"),
    [
        ("sw.1 .. sw.3, sw.7", ["sw.1", "sw.2", "sw.3", "sw.7"]),
        ("a.1, b.1", ["a.1", "b.1"]),
        ("n3 .. n1, n9 .. n10", ["n3", "n2", "n1", "n9", "n10"]),
        ("10.20.0.9, 10.20.0.255 .. 10.20.1.1", ["10.20.0.9", "10.20.0.255", "10.20.1.0", "10.20.1.1"]),
    ],
)  # fmt: skip
def test_a_list_of_names_has_the_members_of_its_pieces(text: str, texts: list[str]) -> None:
    """Pieces parted by commas follow one another, and the list is the shortest text of its members."""
    assert is_list(text)
    assert members(text) == texts
    assert spanned(texts) == text


@pytest.mark.parametrize(
    "text", ["22 AWG, 300 mm", "cat 6, 2 m", "n1,n2", "n1", "a, b c", "n1 .. n2 .. n3, n4", ", a"]
)
def test_quantities_are_no_list(text: str) -> None:
    """A figure has a blank before its unit, so its commas part no names."""
    assert not is_list(text)


def test_a_list_is_bounded() -> None:
    """Pieces that are each small enough are not too many together."""
    with pytest.raises(Wrong):
        members(", ".join(["n1 .. n9000"] * 2))


@given(
    st.lists(st.tuples(st.sampled_from("ab"), st.integers(0, 30)), min_size=1, max_size=40),
    st.sampled_from(["{}.{}", "10.20.{1}.7", "{}0{}", "{1}", "fd00::{1:x}"]),
)
def test_names_written_as_one_text_are_dealt_out_again(names: list[tuple[str, int]], form: str) -> None:
    """Whatever names there are, the text that stands for them deals out those names."""
    texts = [form.format(*name) for name in names]
    text = spanned(texts)
    assert text is not None
    assert len(set(texts)) == 1 or members(text) == texts


@pytest.mark.parametrize(
    ("texts", "text"),
    [
        (["0 s", "12 s", "24 s"], "0 s .. 24 s by 12 s"),
        (["0 s", "0.5 s", "1 s"], "0 s .. 1 s by 0.5 s"),
        (["9 s", "6 s"], "9 s .. 6 s by -3 s"),
        (["5 s", "5 s"], "5 s"),
        (["0 s", "0 s", "12 s"], None),
        (["0 s", "12 s", "20 s"], None),
        (["0 s", "12 mm"], None),
    ],
)
def test_quantities_written_as_one_text(texts: list[str], text: str | None) -> None:
    """Quantities count on by one step, or no text stands for them."""
    assert spanned(texts) == text

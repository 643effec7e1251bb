"""Places: every value that tomli reads has its place in the text, on documents made at random."""

import datetime
import json
from typing import Any

import pytest
import tomli
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coldcheck.plan.places import Places
from coldcheck.plan.problems import Path

# --- documents of every form TOML has, as text ---------------------------------------------------------------------

BLANK = st.sampled_from(["", " ", "  ", "\t"])
NAMES = st.sampled_from(
    ["a", "b", "c", "node", "x-1", "7", "a.b", "c d", "ü", "q'", 'q"', "tab\t", "", "\x1b"]
)
WORDS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=8)


def key_text(name: str, plain: bool) -> str:
    """Return a key as it is written: bare where it can be, else in one kind of quotes."""
    if plain and name and all(c.isascii() and (c.isalnum() or c in "-_") for c in name):
        return name
    if plain and "'" not in name and name.isprintable():
        return f"'{name}'"
    return json.dumps(name, ensure_ascii=not plain).replace("\\u001b", "\\x1b" if plain else "\\e")


@st.composite
def strings(draw: st.DrawFn) -> str:
    """A string in one of the four ways to write it."""
    text = draw(WORDS)
    way = draw(st.integers(0, 4))
    if way == 1 and "'" not in text:
        return f"'{text}'"
    if way == 2 and "'" not in text:
        return f"'''\n{text}\n# no comment = 1\n[no.table]'''"
    if way == 3:
        inner = json.dumps(text, ensure_ascii=True)[1:-1]
        return f'"""{inner}\n  "two"" \\\n  = [x] # not a comment """'
    if way == 4:
        return (
            '"'
            + draw(
                st.sampled_from(["\\e[1m", "\\x41\\xff", "\\\\e", "\\\\x41", "C:\\\\x", "\\u00e9\\U0001F600"])
            )
            + '"'
        )
    return json.dumps(text, ensure_ascii=False)


SCALARS = st.one_of(
    strings(),
    st.integers(-(2**63), 2**63 - 1).map(str),
    st.sampled_from(["0x1F", "0o17", "0b101", "1_000", "+7", "1.5e3", "-0.25", "inf", "-inf", "6.6_7E-1"]),
    st.sampled_from(["true", "false", "2027-06-30", "07:32:00", "1979-05-27T07:32:00Z", "1979-05-27 07:32:00.5-07:00"]),
)  # fmt: skip


@st.composite
def values(draw: st.DrawFn, depth: int = 0) -> str:
    """A scalar, an array or an inline table."""
    way = draw(st.integers(0, 9 if depth < 3 else 6))
    if way <= 6:
        return draw(SCALARS)
    if way <= 8:
        gap = draw(st.sampled_from(["", " ", "\n", " # [in] = {}\n  ", "\r\n"]))
        items = draw(st.lists(values(depth=depth + 1), max_size=3))
        tail = draw(st.sampled_from(["", ","])) if items else ""
        return "[" + gap + f",{gap}".join(items) + gap + tail + gap + "]"
    pairs = [f"{dotted(draw, key)} = {draw(values(depth=depth + 1))}" for key in draw_keys(draw)]
    return "{ " + ", ".join(pairs) + " }"


def draw_keys(draw: st.DrawFn) -> list[tuple[str, ...]]:
    """Return keys, dotted or not, none of which is the beginning of another."""
    keys = draw(st.lists(st.lists(NAMES, min_size=1, max_size=3).map(tuple), max_size=4, unique=True))
    return [k for k in keys if not any(k != o and o[: len(k)] == k for o in keys)]


def dotted(draw: st.DrawFn, key: tuple[str, ...]) -> str:
    """Return a dotted key as it is written, with blanks where TOML allows them."""
    gap = draw(BLANK)
    return f"{gap}.{gap}".join(key_text(name, draw(st.booleans())) for name in key)


@st.composite
def documents(draw: st.DrawFn) -> str:
    """A document: top keys, tables, arrays of tables and tables within them, comments, either line end."""
    lines: list[str] = []

    def keys() -> None:
        for key in draw_keys(draw):
            comment = draw(st.sampled_from(["", "  # said = 1", "# [[x]]"]))
            lines.append(f"{draw(BLANK)}{dotted(draw, key)} = {draw(values())}{comment}")
            lines.extend(draw(st.lists(st.sampled_from(["", "# c", "  "]), max_size=1)))

    keys()
    for _ in range(draw(st.integers(0, 5))):
        path = draw(st.lists(NAMES, min_size=1, max_size=3))
        head = dotted(draw, tuple(path))
        gap = draw(BLANK)
        lines.append(f"[[{gap}{head}{gap}]]" if draw(st.booleans()) else f"[{gap}{head}{gap}] # c")
        keys()
    return draw(st.sampled_from(["\n", "\r\n"])).join(lines) + draw(st.sampled_from(["", "\n"]))


def scalars(value: Any, path: Path = ()) -> list[tuple[Path, Any]]:
    """Return every scalar of a parsed document with its path."""
    if isinstance(value, dict):
        return [found for key, item in value.items() for found in scalars(item, (*path, key))]
    if isinstance(value, list):
        return [found for i, item in enumerate(value) for found in scalars(item, (*path, i))]
    return [(path, value)]


def check(text: str) -> int:
    """Hold `Places` against tomli on one text; return how many scalars were held."""
    raw = text.encode()
    places = Places(raw)
    found = scalars(tomli.loads(text))
    for path, value in found:
        span = places.value(path)
        assert span is not None, (path, text)
        again = tomli.loads("x = " + raw[span[0] : span[1]].decode())["x"]
        assert again == value, path
        assert type(again) is type(value)
        assert places.start(path) <= span[0]
    return len(found)


@settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)
@given(documents())
def test_every_scalar_has_its_place(text: str) -> None:
    """What tomli reads at a path is what stands at the place of that path, in any valid document."""
    try:
        tomli.loads(text)
    except tomli.TOMLDecodeError:
        return  # a table or key named twice: no document
    check(text)


def test_the_documents_are_worth_something() -> None:
    """Most random documents are valid, and together they hold many scalars, so the test above sees enough."""
    held, valid = 0, 0

    @settings(max_examples=100, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(documents())
    def count(text: str) -> None:
        nonlocal held, valid
        try:
            tomli.loads(text)
        except tomli.TOMLDecodeError:
            return
        valid += 1
        held += check(text)

    count()
    assert valid >= 50
    assert held >= 150


PLAN = """# a plan
[plan]
title = "x"  # said
[[node]]
id = "n1"
from = ["a", # first
        "b"]
[[node.inlet]]
id = "usb"
pins = {1 = "5v", 2.3 = "gnd"}
[[node]]
id = "n2"
[harness.main]
x = 1
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("plan",), "[plan]"),
        (("plan", "title"), 'title = "x"  # said'),
        (("plan", "missing"), "[plan]"),
        (("node",), "[[node]]"),
        (("node", 0, "id"), 'id = "n1"'),
        (("node", 0, "from", 1), '"b"]'),
        (("node", 0, "inlet", 0), "[[node.inlet]]"),
        (("node", 0, "inlet", 0, "pins", "1"), '1 = "5v", 2.3 = "gnd"}'),
        (("node", 0, "inlet", 0, "nothing"), "[[node.inlet]]"),
        (("node", 1, "id"), 'id = "n2"'),
        (("node", 9, "id"), "[[node]]"),
        (("harness",), "[harness.main]"),
        (("nowhere",), "# a plan"),
        ((), "# a plan"),
    ],
)
def test_a_path_starts_at_its_key(path: Path, line: str) -> None:
    """A path leads to its key; one that is not written leads to the nearest thing above it."""
    start = Places(PLAN.encode()).start(path)
    assert PLAN[start:].split("\n", maxsplit=1)[0] == line


def test_pairs_headers_and_ends() -> None:
    """A pair is key and value without its comment, a header is where its table opens, an end is behind the last key."""
    places = Places(PLAN.encode())
    pair = places.pair(("plan", "title"))
    assert pair is not None
    assert PLAN[slice(*pair)] == 'title = "x"'
    assert places.pair(("plan", "x")) is None
    assert places.value(("plan", "x")) is None
    header = places.header(("node", 1))
    assert header is not None
    assert PLAN[header:].startswith('[[node]]\nid = "n2"')
    assert places.header(("node", 2)) is None
    end = places.end(("node", 0))
    assert end is not None
    assert PLAN[:end].endswith('"b"]')
    assert places.end(("nothing",)) is None


def test_places_are_bytes() -> None:
    """Offsets count bytes, not characters."""
    text = '[plan]\ntitle = "Größe Ω"\nnote = "é"\n'
    span = Places(text.encode()).value(("plan", "note"))
    assert span is not None
    assert text.encode()[slice(*span)] == '"é"'.encode()


def test_newer_escapes_do_not_lose_the_rest() -> None:
    """Escapes of TOML 1.1 in one value leave every other value in its place."""
    assert check('[[a]]\nx = "\\e[0m \\x41"\n"\\x42" = 1\n[[a]]\nx = 2\n') == 3


def test_a_day_reads_as_a_day() -> None:
    """The place of a date holds the date."""
    text = "[[waiver]]\nuntil = 2027-06-30 # then\n"
    span = Places(text.encode()).value(("waiver", 0, "until"))
    assert span is not None
    assert datetime.date.fromisoformat(text[slice(*span)]) == datetime.date(2027, 6, 30)

"""Reading: every bad form gives one clear problem in the right place, with a remedy, all at once."""

import builtins
import io
from pathlib import Path
from typing import Any

import pytest
import tomli

from coldcheck.plan import reading
from coldcheck.plan.kinds import Run
from coldcheck.plan.parts import Shelf, ShelfBroken
from coldcheck.plan.places import Places
from coldcheck.plan.problems import PlanUnreadable, Problem
from coldcheck.plan.reading import Tables, plugs_of, read_tables

SHELF = Path(__file__).parents[2] / "inventories" / "parts"

BOARD = """
[[part]]
id = "board"
kind = "node"
title = "A board"
volts = "4.75 V .. 5.25 V"
peak = "1.25 A"
load = "power"
[[part.inlet]]
id = "usb"
volts = "4.5 V .. 5.5 V"
plug = "usb-c"
[[part.inlet]]
id = "header"
"""

#: A part of a kind with two inner tables of a kind.
RAILS = """
[[part]]
id = "p"
kind = "{0}"
[[part.{1}]]
id = "5v"
[[part.{1}]]
id = "12v"
"""


def read(text: str | bytes, shelf: Shelf | None = None) -> Tables:
    """Return the tables of a plan."""
    return read_tables("plan.toml", text if isinstance(text, bytes) else text.encode(), shelf or Shelf())


def problems(text: str | bytes, shelf: Shelf | None = None) -> list[Problem]:
    """Return what is wrong with a plan that must be refused."""
    with pytest.raises(PlanUnreadable) as caught:
        read(text, shelf)
    return caught.value.problems


# --- the file as a whole -------------------------------------------------------------------------------------------

WHOLE: list[tuple[bytes, int, str, str]] = [
    (b"", 0, "the plan is empty", "start with [plan]"),
    (b" \r\n\t\n", 0, "the plan is empty", "start with [plan]"),
    (b"\xef\xbb\xbf[plan]\n", 0, "byte-order mark", "plain UTF-8"),
    (b'[plan]\ntitle = "\xe9t\xe9"\n', 16, "not UTF-8", "save it as UTF-8"),
    (b"[plan]\ntitle = \n", 15, "not TOML: invalid value", "mend the syntax"),
    (b'[plan]\r\nt = "a"\r\nt = "b"\r\n', 24, "not TOML: cannot overwrite a value", "mend the syntax"),
    ('[plan]\ntitle = "Größe" x\n'.encode(), 25, "not TOML: expected newline", "mend the syntax"),
    (b"x = " + b"[" * 5000, 0, "nested", "mend the syntax"),
    (b"x = " + b"{a = " * 5000, 0, "nested", "mend the syntax"),
    (b"x = " + b"9" * 5000, 0, "digits", "mend the syntax"),
    (b"[plan]\nx = 1 \x00\n", 13, "not TOML", "mend the syntax"),
    (
        b'[[node]]\nid = "n"\nport = ["s.1"]\n[[node.port]] # one\nid = "a"\n',
        18,
        "`port` and [[node.port]] cannot both stand in one node",
        "write `to` in each [[node.port]]",
    ),
    (
        b'[[node]]\nid = "n"\ninlet = "usb"\n[[node.port]]\nid = "a"\n[[node.inlet]]\nid = "a"\n',
        18,
        "`inlet` and [[node.inlet]] cannot both stand",
        "say it in [[node.inlet]]",
    ),
    # the key of another node is none of this one's
    (
        b'[[node]]\nport = "s.1"\n[[node]]\n[[node.port]]\nid = "a"\n[node.port]\n',
        64,
        "not TOML: cannot declare",
        "mend the syntax",
    ),
]


@pytest.mark.parametrize(("text", "offset", "says", "remedy"), WHOLE, ids=[row[2][:24] for row in WHOLE])
def test_a_file_that_is_no_plan(text: bytes, offset: int, says: str, remedy: str) -> None:
    """What cannot be parsed at all is one problem, at the byte where it starts."""
    (problem,) = problems(text)
    assert says in problem.says
    assert remedy in problem.remedy
    assert problem.offset == offset
    assert problem.path == ()


def test_a_huge_file_is_refused_unparsed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file past the bound is refused before it is parsed."""
    monkeypatch.setattr(reading, "MOST_BYTES", 20)
    monkeypatch.setattr(tomli, "loads", lambda _: pytest.fail("it was parsed"))
    (problem,) = problems(b"x" * 21)
    assert problem.says == "the plan has 21 bytes; 20 is the most"
    assert problem.remedy


def test_a_plan_of_too_many_things_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Spans multiply what a small file says: the number of things is bounded too."""
    monkeypatch.setattr(reading, "MOST_THINGS", 50)
    (problem,) = problems('[[node]]\nid = "a1 .. a40"\n[[node]]\nid = "b1 .. b40"\n[[node]]\nid = "c"\n')
    assert problem.path == ("node", 1)
    assert "more than 50 things" in problem.says
    assert len(read('[[node]]\nid = "a1 .. a50"\n').of["node"]) == 50


def test_problems_are_bounded() -> None:
    """A file that is wrong throughout gives its first problems and no more, in reasonable time."""
    found = problems("[[node]]\nnonsense = 1\n" * 2000)
    assert len(found) == reading._MOST_PROBLEMS


def test_windows_line_ends_read_alike() -> None:
    """Line ends of two bytes change nothing."""
    text = '[[node]]\nid = "n1"\nlead = "18 AWG, 420 mm"\n'
    assert read(text).of == read(text.replace("\n", "\r\n")).of


# --- one key, one problem ------------------------------------------------------------------------------------------

NODE = '[[node]]\nid = "n1"\n'
FORMS: list[tuple[str, tuple[str | int, ...], str, str]] = [
    ("node = 3\n", ("node",), '"node" is a list of tables', "[[node]]"),
    ("[node]\nid = 'n1'\n", ("node",), '"node" is a list of tables', "[[node]]"),
    ("node = [{id = 'n1'}, 2]\n", ("node",), '"node" is a list of tables', "[[node]]"),
    ("[[plan]]\n", ("plan",), '"plan" is one table', "[plan]"),
    ("[part]\nid = 'p'\n", ("part",), '"part" is a list of tables', "[[part]]"),
    ("[[nodes]]\nid = 'n1'\n", ("nodes",), '"nodes" is no table of a plan', "write [[node]]"),
    ("[[zzzzz]]\n", ("zzzzz",), '"zzzzz" is no table of a plan', "tables: feed, supply"),
    ("title = 'x'\n", ("title",), '"title" is no table of a plan', "tables: feed"),
    (
        "[plan]\nreserv = '20 %'\n",
        ("plan", "reserv"),
        '[plan] has no key "reserv"',
        'did you mean "reserve"?',
    ),
    ("[plan]\nformat = 2\n", ("plan", "format"), "a whole number from 1 to 1", ""),
    ("[plan]\nreserve = ['20 %', '30 %']\n", ("plan", "reserve"), "a plan is one", "give one value"),
    ("[plan]\nreserve = '10 % .. 30 % by 10 %'\n", ("plan", "reserve"), "a plan is one", "give one value"),
    ("[[node]]\n", ("node", 0), "this node lacks its id", "add id"),
    ("[[node]]\nfrom = 'a1 .. a3'\n", ("node", 0), "this node lacks its id", "add id"),
    (
        "[[uplink]]\nfrom = 'sw.1'\n",
        ("uplink", 0),
        "this uplink lacks its to",
        "add to: text in quotes",
    ),
    ("[[waiver]]\nrule = 'a.b'\nreason = 'x'\n", ("waiver", 0), "this waiver lacks its until", "2027-06-30"),
    (NODE + "[[node.inlet]]\nvolts = '5 V'\n", ("node", 0, "inlet", 0), "this inlet lacks its id", "add id"),
    (
        NODE + "adress = '10.0.0.1'\n",
        ("node", 0, "adress"),
        'this node has no key "adress"',
        'did you mean "address"?',
    ),
    (NODE + "qqqqqq = 1\n", ("node", 0, "qqqqqq"), 'this node has no key "qqqqqq"', "keys: "),
    (NODE + "id_ = 1\n", ("node", 0, "id_"), 'no key "id_"', "did you mean"),
    (NODE + "peak = 2\n", ("node", 0, "peak"), "peak = 2 is not what it draws", 'like "1.25 A"'),
    (
        NODE + "peak = '2'\n",
        ("node", 0, "peak"),
        'peak = "2" is not what it draws',
        'the unit is missing: write "2 A"',
    ),
    (NODE + "lead = '18 AWG, 4 V'\n", ("node", 0, "lead"), "is not a lead", '"4 V" is not understood'),
    ("[[feed]]\nid = 'f'\nvolts = 5\n", ("feed", 0, "volts"), "volts = 5 is not volts", 'write "5 V"'),
    (
        "[[feed]]\nid = 'f'\nvolts = '5 A'\n",
        ("feed", 0, "volts"),
        'volts = "5 A" is not volts',
        "use V, mV or kV",
    ),
    (
        "[[feed]]\nid = 'f'\nvolts = {a = 1}\n",
        ("feed", 0, "volts"),
        "volts = a table is not volts",
        "does not fit",
    ),
    (
        NODE + "title = ['a', 'b']\n",
        ("node", 0, "title"),
        'title = ["a", "b"] is not text',
        "write one value, without brackets",
    ),
    (NODE + "built = '2026-05-01'\n", ("node", 0, "built"), "is not a day", ""),
    (
        NODE + "built = 2026-05-01T00:00:00\n",
        ("node", 0, "built"),
        "built = 2026-05-01 00:00:00 is not a day",
        "",
    ),
    (NODE + "use = 'shard'\n", ("node", 0, "use"), "is not one of", 'did you mean "shared"?'),
    (NODE + "from = ''\n", ("node", 0, "from"), "is not a thing or one of its points", ""),
    (NODE + "from = []\n", ("node", 0, "from"), "from = [] is not", "the list is empty"),
    ("[[node]]\nid = []\n", ("node", 0, "id"), "id = [] is not", "the list is empty"),
    ("[[node]]\nid = 'n.1'\n", ("node", 0, "id"), "is not a short name", "a dot parts a thing"),
    ("[[node]]\nid = 'n1 .. m3'\n", ("node", 0, "id"), "is not a span", "must differ in one number"),
    ("[[node]]\nid = 'n1 .. n99999'\n", ("node", 0, "id"), "is not a span", "10000 is the most"),
    (
        "[[node]]\nid = 'n1 .. n3'\nfrom = 'a1 .. a2'\n",
        ("node", 0, "from"),
        '"from" deals out 2 values, but "id" has 3',
        "make both 3 long",
    ),
    (
        "[[node]]\nid = 'n1 .. n3'\nmac = ['02:00:00:00:00:01']\n",
        ("node", 0, "mac"),
        "deals out 1 values",
        "make both 3",
    ),
    (
        NODE + "from = 'a1 .. a3'\n",
        ("node", 0, "from"),
        '"from" deals out 3 values over one thing',
        '"n11 .. n13"',
    ),
    (
        NODE + "from = ['a1 .. a3', 'b1 .. b2']\n",
        ("node", 0, "from"),
        "spans of one length",
        "2 and 3 members",
    ),
    (
        "[[node]]\nid = 'n1 .. n3'\n[[node.inlet]]\nid = 'x'\nfrom = 'a1 .. a3'\n"
        "[[node.inlet]]\nid = 'y'\nfrom = 'b1 .. b2'\n",
        ("node", 0, "inlet", 1, "from"),
        '"from" deals out 2 values, but "id" has 3',
        "make both 3 long",
    ),
    (
        NODE + "[[node.inlet]]\nid = 'x'\nfrom = 'a1 .. a3'\n",
        ("node", 0, "inlet", 0, "from"),
        "over one thing",
        "give the id",
    ),
    (NODE + "inlet = 'x'\n", ("node", 0, "inlet"), '"inlet" is a table', "[[node.inlet]]"),
    (NODE + "inlet = []\n", ("node", 0, "inlet"), '"inlet" is a table', "[[node.inlet]]"),
    (NODE + "[node.inlet]\nid = 'x'\n", ("node", 0, "inlet"), '"inlet" is a table', "[[node.inlet]]"),
    (NODE + "[node.port]\nid = 'x'\n", ("node", 0, "port"), '"port" is a table', "[[node.port]]"),
    (NODE + "inlet = [{id = 'x'}, 3]\n", ("node", 0, "inlet", 1), '"inlet" mixes tables', "as a table"),
    (
        NODE + "port = ['sw.1', {id = 'x'}]\n",
        ("node", 0, "port"),
        'port = ["sw.1", a table] is not',
        "a table does not fit here",
    ),
    (
        NODE + "part = 'bord'\n" + BOARD,
        ("node", 0, "part"),
        'no part is called "bord"',
        'did you mean "board"?',
    ),
    (NODE + "part = 'zzzzz'\n", ("node", 0, "part"), 'no part is called "zzzzz"', "coldcheck parts"),
    (
        "[[fan]]\nid = 'f'\npart = 'board'\n" + BOARD,
        ("fan", 0, "part"),
        "part board is a node, not a fan",
        "[[node]]",
    ),
    ("[[part]]\nkind = 'node'\n", ("part", 0), "this part has no id", "add id"),
    ("[[part]]\nid = 'p'\n", ("part", 0, "kind"), "part p must say its kind", "write kind"),
    (
        "[[part]]\nid = 'p'\nkind = 'nodes'\n",
        ("part", 0, "kind"),
        "part p must say its kind",
        'write kind = "node"',
    ),
    ("[[part]]\nid = 'p'\nkind = ['node']\n", ("part", 0, "kind"), "part p must say its kind", "write kind"),
    (
        "[[part]]\nid = 'p'\nkind = 'node'\nsource = 3\n",
        ("part", 0, "source"),
        "the source of part p is no text",
        "[part.source]",
    ),
    (
        "[[node]]\nid = 'a1 .. a2'\naddress = [['10.0.0.1', 'fd00::1'], ['10.0.0.2', 'fd00::2']]\n",
        ("node", 0, "address"),
        'address = [["10.0.0.1", "fd00::1"], ["10.0.0.2", "fd00::2"]] is not a list of values',
        'as in address = ["10.0.0.1 .. 10.0.0.3", "fd00::1 .. fd00::3"]',
    ),
    (
        "[[node]]\nid = 'a1 .. a3'\naddress = ['10.0.0.1 .. 10.0.0.3', 'fd00::1 .. fd00::2']\n",
        ("node", 0, "address"),
        'address = ["10.0.0.1 .. 10.0.0.3", "fd00::1 .. fd00::2"] is not a list of spans of one length',
        "they have 2 and 3 members: write each with one member for every thing",
    ),
    (
        "[[node]]\nid = 'a1 .. a20'\naddress = ['10.0.0.31 .. 10.0.0.50', 'fd00::31/64 .. fd00::50/64']\n",
        ("node", 0, "address"),
        "is not a list of spans of one length",
        "IPv6 counts in hexadecimal: 20 from fd00::31/64 end at fd00::44/64",
    ),
    (
        "[[node]]\nid = 'a1 .. a20'\naddress = 'fd00::31 .. fd00::50'\n",
        ("node", 0, "address"),
        '"address" deals out 32 values, but "id" has 20',
        "IPv6 counts in hexadecimal: 20 from fd00::31 end at fd00::44",
    ),
    (
        "[[node]]\nid = 'a1 .. a11'\nmac = '02:00:00:00:00:00 .. 02:00:00:00:00:10'\n",
        ("node", 0, "mac"),
        '"mac" deals out 17 values, but "id" has 11',
        "hardware addresses count in hexadecimal: 11 from 02:00:00:00:00:00 end at 02:00:00:00:00:0a",
    ),
    (
        NODE + f"use = {['one'] * 9}\n",
        ("node", 0, "use"),
        'use = ["one", "one", "one", "one", ...] is not one of',
        "write one value, without brackets",
    ),
    (NODE + "use = [[[['one']]]]\n", ("node", 0, "use"), "use = [[[...]]] is not", "without brackets"),
    (
        BOARD + "[[node]]\nid = 'n'\npart = 'board'\n[[node.inlet]]\nid = 'USB'\n",
        ("node", 0, "inlet", 0, "id"),
        "part board has no inlet USB; it has usb and header",
        'write id = "usb"',
    ),
    (
        BOARD + "[[node]]\nid = 'n1 .. n3'\npart = 'board'\n[[node.inlet]]\nid = 'heater'\n",
        ("node", 0, "inlet", 0, "id"),
        "part board has no inlet heater; it has usb and header",
        'write id = "header"',
    ),
    (
        RAILS.format("supply", "rail") + "[[supply]]\nid = 's'\npart = 'p'\n[[supply.rail]]\nid = '5V'\n",
        ("supply", 0, "rail", 0, "id"),
        "part p has no rail 5V; it has 5v and 12v",
        'write id = "5v"',
    ),
    (
        RAILS.format("inline", "outlet") + "[[inline]]\nid = 's'\npart = 'p'\n[[inline.outlet]]\nid = '7'\n",
        ("inline", 0, "outlet", 0, "id"),
        "part p has no outlet 7; it has 5v and 12v",
        "",
    ),
    (
        RAILS.format("switch", "port") + "[[switch]]\nid = 's'\npart = 'p'\nports = 6\n"
        "[[switch.port]]\nid = '6'\n[[switch.port]]\nid = '7'\n",
        ("switch", 0, "port", 1, "id"),
        "part p has no port 7; it has 5v and 12v",
        "",
    ),
    (BOARD + BOARD, ("part", 1, "id"), "two parts of this plan are called board", "rename"),
    (
        "[[part]]\nid = 'p'\nkind = 'node'\naddress = '10.0.0.1'\n",
        ("part", 0, "address"),
        "said of a thing, not of a part",
        "take it out",
    ),
    (
        "[[part]]\nid = 'p'\nkind = 'node'\n[[part.measured]]\nstate = 'idle'\ndraw = '1 A'\n",
        ("part", 0, "measured"),
        "said of a thing, not of a part",
        "take it out",
    ),
    (
        "[[part]]\nid = 'p'\nkind = 'node'\npek = '1 A'\n",
        ("part", 0, "pek"),
        'a part of this kind has no key "pek"',
        'did you mean "peak"?',
    ),
    (
        "[[part]]\nid = 'p'\nkind = 'node'\npeak = '1 A .. 3 A by 1 A'\n",
        ("part", 0, "peak"),
        "but part p is one",
        "one value",
    ),
]


@pytest.mark.parametrize(
    ("text", "path", "says", "remedy"), FORMS, ids=[f"{i}-{r[2][:30]}" for i, r in enumerate(FORMS)]
)
def test_a_bad_form_is_one_problem(text: str, path: tuple[str | int, ...], says: str, remedy: str) -> None:
    """Each slip is told once, in its place, with what to do."""
    found = problems(text)
    assert [p.path for p in found] == [path]
    assert says in found[0].says
    assert remedy in found[0].remedy
    assert found[0].remedy or " like " in found[0].says or "without quotes" in found[0].says


@pytest.mark.parametrize("row", FORMS, ids=[f"{i}-{r[2][:30]}" for i, r in enumerate(FORMS)])
def test_a_bad_form_has_a_line(row: tuple[str, tuple[str | int, ...], str, str]) -> None:
    """The place of each problem is found in the text: its key, or the header of its table."""
    text, path = row[0].encode(), row[1]
    start = Places(text).start(path)
    line = text[text.rfind(b"\n", 0, start) + 1 :].split(b"\n")[0]
    words = [x.encode() for x in path if isinstance(x, str)]
    assert (words[-1] if words[-1] in text else b"[[" + words[0]) in line


def test_all_problems_come_at_once() -> None:
    """One reading tells every slip of a file, each in its own place."""
    rows = [
        row
        for row in FORMS
        if row[0].startswith(NODE) and "[[part]]" not in row[0] and "title =" not in row[0]
    ]
    text = "".join(row[0].replace('"n1"', f'"n{i}x"') for i, row in enumerate(rows))
    expected = {(row[1][0], i, *row[1][2:]) for i, row in enumerate(rows)}
    assert {p.path for p in problems(text)} == expected
    assert len(rows) > 15


def test_no_problem_hides_another_of_the_same_table() -> None:
    """Several slips in one table are all told, in the order of the file."""
    found = problems('[[node]]\nid = "n 1"\npeak = 2\nadress = "x"\nuse = "shard"\n')
    assert [p.path[-1] for p in found] == ["id", "peak", "adress", "use"]


# --- dealing out ---------------------------------------------------------------------------------------------------


def test_spans_and_lists_are_dealt_out_side_by_side() -> None:
    """Things, references, addresses and quantities of one table go together in order; single values go to all."""
    (tables,) = [read(
        '[[drive]]\nid = "d1 .. d3"\nbay = "s.1 .. s.3"\ndelay = "0 s .. 24 s by 12 s"\nstart = "host"\n'
        'from = ["a", "b1 .. b3"]\ntitle = "a .. b"\n'
    )]  # fmt: skip
    drives = tables.of["drive"]
    assert [(d.id, d.bay, d.delay, d.start, d.from_, d.title) for d in drives] == [
        ("d1", "s.1", 0.0, "host", ("a", "b1"), "a .. b"),
        ("d2", "s.2", 12.0, "host", ("a", "b2"), "a .. b"),
        ("d3", "s.3", 24.0, "host", ("a", "b3"), "a .. b"),
    ]
    assert {d.path for d in drives} == {("drive", 0)}
    assert drives[0].stated == {"id", "bay", "delay", "start", "from", "title"}


def test_a_list_of_names_is_dealt_out_like_a_span() -> None:
    """Ports, addresses and ids that do not count on are listed in one text; a cable keeps its comma."""
    plan = read(
        '[[node]]\nid = "n1 .. n2, m1"\nport = "sw.1, sw.4, sw.9"\ncable = "cat5e,2m"\n'
        'address = ["10.20.0.1 .. 10.20.0.2, 10.20.0.9", "10.30.0.1, 10.30.0.7 .. 10.30.0.8"]\n'
    )
    nodes = plan.of["node"]
    assert [n.id for n in nodes] == ["n1", "n2", "m1"]
    assert [n.port for n in nodes] == [("sw.1",), ("sw.4",), ("sw.9",)]
    assert [n.address for n in nodes] == [
        ("10.20.0.1", "10.30.0.1"), ("10.20.0.2", "10.30.0.7"), ("10.20.0.9", "10.30.0.8"),
    ]  # fmt: skip
    assert {n.cable.length for n in nodes} == {2.0}


def test_lists_mean_several_values_where_the_key_takes_several() -> None:
    """A list of references is for one thing; a list of ids names several things."""
    tables = read('[[node]]\nid = ["a", "b"]\nfrom = ["x", "y"]\nmac = ["m1", "m2"]\n')
    assert [(n.id, n.from_, n.mac) for n in tables.of["node"]] == [
        ("a", ("x", "y"), "m1"),
        ("b", ("x", "y"), "m2"),
    ]


def test_ranges_are_kept_whole() -> None:
    """A range of volts or of addresses is one value, whatever stands beside it."""
    tables = read(
        '[[node]]\nid = "a1 .. a2"\nvolts = "4 V .. 6 V"\n[[pool]]\nfor = "dhcp"\nrange = "10.0.0.1 .. 10.0.0.9"\n'
    )
    assert [n.intake.volts for n in tables.of["node"]] == [(4.0, 6.0)] * 2
    assert tables.of["pool"][0].range == ("10.0.0.1", "10.0.0.9")


def test_tables_without_an_id_are_dealt_out_too() -> None:
    """Links and wires go from span to span; the wires of one harness are simply several."""
    tables = read(
        '[[link]]\nfrom = "a.1 .. a.3"\nto = "b1 .. b3"\n[[harness]]\nid = "h"\n'
        '[[harness.wire]]\nfrom = "x.o.1 .. x.o.4"\nto = "n1.h.2 .. n4.h.2"\ncolour = "red"\n'
        '[[harness.wire]]\nfrom = "x.o.9"\nto = "n1.h.6"\n'
    )
    assert [(x.from_, x.to) for x in tables.of["link"]] == [("a.1", "b1"), ("a.2", "b2"), ("a.3", "b3")]
    (harness,) = tables.of["harness"]
    assert [(w.from_, w.to, w.colour) for w in harness.wire] == [
        ("x.o.1", "n1.h.2", "red"),
        ("x.o.2", "n2.h.2", "red"),
        ("x.o.3", "n3.h.2", "red"),
        ("x.o.4", "n4.h.2", "red"),
        ("x.o.9", "n1.h.6", None),
    ]


def test_inner_spans_are_dealt_over_the_outer_things() -> None:
    """A span in an inner table goes to the things of the outer one; an id span makes several inner tables."""
    tables = read(
        '[[node]]\nid = "n1 .. n2"\n[[node.inlet]]\nid = "usb"\nfrom = "p1 .. p2"\n'
        '[[node.port]]\nid = "e0 .. e1"\nto = "sw.1 .. sw.2"\n'
    )
    first, second = tables.of["node"]
    assert [first.inlet[0].from_, second.inlet[0].from_] == ["p1", "p2"]
    assert [(p.id, p.to) for p in first.port_] == [("e0", "sw.1"), ("e1", "sw.2")]


# --- parts ---------------------------------------------------------------------------------------------------------


def test_a_part_fills_what_is_unsaid_and_is_overridden_in_place() -> None:
    """Keys of the thing count before keys of its part; inner tables are laid over each other by id."""
    text = BOARD + (
        '[[node]]\nid = "n1"\npart = "board"\n'
        '[[node]]\nid = "n2"\npart = "board"\npeak = "2 A"\ntitle = "Mine"\n'
        '[[node.inlet]]\nid = "usb"\nlead = "20 AWG, 1 m"\n[[node.inlet.measured]]\nstate = "idle"\ndraw = "0.5 A"\n'
    )
    plain, own = read(text).of["node"]
    assert (plain.title, plain.intake.peak.value, plain.intake.volts) == ("A board", 1.25, (4.75, 5.25))
    assert [i.id for i in plain.inlet] == ["usb", "header"]
    assert (own.title, own.intake.peak.value, own.intake.volts) == ("Mine", 2.0, (4.75, 5.25))
    assert [i.id for i in own.inlet] == ["usb", "header"]
    usb = own.inlet[0]
    assert (usb.volts, usb.plug, usb.lead) == ((4.5, 5.5), "usb-c", Run(gauge=20, length=1.0))
    assert usb.measured[0].draw.value == 0.5
    assert usb.path == ("node", 1, "inlet", 0)
    assert plain.inlet[0].lead is None


def test_what_a_part_lacks_may_be_added() -> None:
    """A thing may have outlets, connectors and groups that its part does not speak of."""
    text = (
        BOARD + '[[node]]\nid = "n"\npart = "board"\n[[node.outlet]]\nid = "usb1"\n[[node.group]]\nid = "g"\n'
    )
    (node,) = read(text).of["node"]
    assert [o.id for o in node.outlet] == ["usb1"]
    supply = (
        RAILS.format("supply", "connector")
        + '[[supply]]\nid = "s"\npart = "p"\n[[supply.connector]]\nid = "x"\n'
    )
    (made,) = read(supply).of["supply"]
    assert [c.id for c in made.connector] == ["5v", "12v", "x"]


def test_one_key_alone_overrides_its_part() -> None:
    """A thing that says one thing more than its part has that said, and all else from the part."""
    (node,) = read(BOARD + '[[node]]\nid = "n"\npart = "board"\ntitle = "Mine"\n').of["node"]
    assert (node.title, node.intake.peak.value, len(node.inlet)) == ("Mine", 1.25, 2)


def test_a_name_given_twice_stays_two_tables() -> None:
    """A thing that names one inlet twice is not quietly mended by its part: linking reports the clash."""
    text = (
        BOARD + '[[node]]\nid = "n"\npart = "board"\n[[node.inlet]]\nid = "usb"\n[[node.inlet]]\nid = "usb"\n'
    )
    assert [i.id for i in read(text).of["node"][0].inlet] == ["usb", "header", "usb"]


def test_parts_may_be_dealt_out() -> None:
    """Each thing of a table may be another part."""
    text = (
        BOARD
        + '[[part]]\nid = "other"\nkind = "node"\npeak = "9 A"\n[[node]]\nid = ["a", "b"]\npart = ["board", "other"]\n'
    )
    assert [n.intake.peak.value for n in read(text).of["node"]] == [1.25, 9.0]


def test_own_parts_stay_with_their_plan() -> None:
    """What one plan describes is unknown to the next plan that is read by the same shelf."""
    shelf = Shelf([SHELF])
    text = '[[node]]\nid = "n"\npart = "board"\n'
    assert read(BOARD + text, shelf).of["node"]
    (problem,) = problems(text, shelf)
    assert 'no part is called "board"' in problem.says


def test_own_parts_count_before_the_shelf() -> None:
    """A plan may describe a part that the shelf has too, and means its own."""
    text = '[[part]]\nid = "{0}"\nkind = "node"\ntitle = "Mine"\n[[node]]\nid = "n"\npart = "{0}"\n'
    text = text.format("board-4core-5v-3a")
    assert read(text, Shelf([SHELF])).of["node"][0].title == "Mine"


def test_later_folders_count_before_earlier_ones(tmp_path: Path) -> None:
    """A folder laid over the shelf replaces a part of it."""
    (tmp_path / "x.toml").write_text('[[part]]\nid = "board-4core-5v-3a"\nkind = "node"\ntitle = "Site"\n')
    text = '[[node]]\nid = "n"\npart = "board-4core-5v-3a"\n'
    assert read(text, Shelf([SHELF, tmp_path])).of["node"][0].title == "Site"
    assert read(text, Shelf([tmp_path, SHELF])).of["node"][0].title != "Site"


BROKEN: list[tuple[str, str]] = [
    ("part = 3 # p", "each part stands under [[part]]"),
    ('[part]\nid = "p"', "each part stands under [[part]]"),
    ('part = ["p"]', "each part stands under [[part]]"),
    ('[[part]]\nkind = "node" # p', "part 1 lacks its id or its kind"),
    ('[[part]]\nid = "p"', "part 1 lacks its id or its kind"),
    ('x = ["p"', "Unclosed array"),
    ("p = " + "[" * 5000, "nested"),
    ('[[part]]\nid = "p"\nkind = "node"\npeak = 3', "peak = 3 is not what it draws"),
    ('[[part]]\nid = "p"\nkind = "node"\nuse = "one"\nuze = 1', 'has no key "uze"'),
]


@pytest.mark.parametrize(("body", "says"), BROKEN, ids=[row[1][:20] for row in BROKEN])
def test_a_broken_shelf_is_told_at_the_part(tmp_path: Path, body: str, says: str) -> None:
    """A shelf file that cannot be read is a problem of the thing that needs it, and names the file."""
    (tmp_path / "bad.toml").write_text(body)
    (problem,) = problems(NODE + 'part = "p"\n', Shelf([tmp_path]))
    assert problem.path == ("node", 0, "part")
    assert says in problem.says
    assert "bad.toml" in problem.says


def test_a_broken_file_does_no_harm_elsewhere(tmp_path: Path) -> None:
    """A part that stands in a sound file is found though another file is broken; an unknown one is still told."""
    (tmp_path / "bad.toml").write_text("x = [")
    (tmp_path / "worse.toml").write_bytes(b"\xff\xfe")
    (tmp_path / "good.toml").write_text('[[part]]\nid = "p"\nkind = "node"\n')
    assert read(NODE + 'part = "p"\n', Shelf([tmp_path])).of["node"]
    (problem,) = problems(NODE + 'part = "q"\n', Shelf([tmp_path]))
    assert 'no part is called "q"' in problem.says
    with pytest.raises(ShelfBroken):
        list(Shelf([tmp_path]).every())


def test_plugs_are_looked_up_by_name() -> None:
    """A plug of the shelf is found; a part of another kind or an unknown name is none."""
    plug = plugs_of(Shelf([SHELF]))
    found = plug("header-40")
    assert found is not None
    assert found.id == "header-40"
    assert found.pins
    assert plug("board-4core-5v-3a") is None
    assert plug("no-such-plug") is None


# --- trust ---------------------------------------------------------------------------------------------------------


def test_a_plan_names_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Reading a plan runs nothing and opens nothing: a path in any key stays a text or is refused.

    Every key of every table is given the path of a Python file; none of it is opened, imported or run.
    """
    trap = tmp_path / "trap.py"
    trap.write_text(f"import pathlib\npathlib.Path({str(tmp_path / 'sprung')!r}).touch()\n")
    names = [str(trap), "trap", "trap.py", f"file://{trap}"]
    opened: list[Any] = []
    real = io.open

    def watch(file: Any, *args: Any, **kwargs: Any) -> Any:
        opened.append(file)
        return real(file, *args, **kwargs)

    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setattr(builtins, "open", watch)
    monkeypatch.setattr(io, "open", watch)
    from coldcheck.plan.tables import TABLES, spec_of

    for name in names:
        for table, struct in TABLES.items():
            keys = "".join(f'{word} = "{name}"\n' for word in spec_of(struct).words())
            problems(f"[[{table}]]\n{keys}include = '{name}'\nrules = '{name}'\n[plan]\nparts = '{name}'\n")
        problems(f"[[node]]\nid = 'n'\npart = '{name}'\n[[part]]\nid = 'p'\nkind = 'node'\nsource = 4\n")
    import sys

    assert opened == []
    assert not (tmp_path / "sprung").exists()
    assert "trap" not in sys.modules

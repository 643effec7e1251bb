"""Edits: exactly the change that was meant, and not one byte more."""

from typing import Any

import pytest
import tomli
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.plan.edit import CannotEdit, Edit, Put, Take, apply
from coldcheck.plan.problems import Path

PLAN = """# the build
[plan]
reserve = "20 %"   # head-room

[[node]]
id = "n1"
# why this port
port = "sw.1"      # the left one
pins = {1 = "5v", 2 = "gnd"}
from = [
  "a", # first
  "b",
]
[[node.inlet]]
id = "usb"

[[node]]
id = "n2" # the last"""


def edited(*edits: Edit, text: str = PLAN) -> str:
    """Return the text after the edits."""
    return apply(text.encode(), edits).decode()


def test_a_value_is_replaced_in_place() -> None:
    """Only the value changes: comments, blanks and order stay."""
    assert edited(Put(("node", 0, "port"), "sw.2")) == PLAN.replace('"sw.1"', '"sw.2"')
    assert edited(Put(("plan", "reserve"), "10 %")) == PLAN.replace('"20 %"', '"10 %"')


def test_a_list_is_replaced_as_a_whole() -> None:
    """A list over several lines becomes the value that is put."""
    after = edited(Put(("node", 0, "from"), ("x", "y")))
    assert '\nfrom = ["x", "y"]\n[[node.inlet]]\n' in after


def test_one_item_of_a_list_can_be_put() -> None:
    """A path may end in the number of an item; a key of an inline table is a value as well."""
    assert edited(Put(("node", 0, "from", 1), "c")) == PLAN.replace('"b"', '"c"')
    assert edited(Put(("node", 0, "pins", "2"), "nc")) == PLAN.replace('"gnd"', '"nc"')


def test_a_new_key_goes_behind_the_others_of_its_table() -> None:
    """A key that is not written yet gets a line of its own, in its table and not in the table below it."""
    assert edited(Put(("node", 0, "mac"), "m")) == PLAN.replace(
        "]\n[[node.inlet", ']\nmac = "m"\n[[node.inlet'
    )
    assert edited(Put(("plan", "title"), "x")) == PLAN.replace("# head-room\n", '# head-room\ntitle = "x"\n')
    assert edited(Put(("node", 0, "inlet", 0, "plug"), "p")) == PLAN.replace('"usb"\n', '"usb"\nplug = "p"\n')


def test_a_new_key_at_the_end_of_the_file() -> None:
    """A file whose last line does not end gets a line end first, of the kind it uses."""
    assert edited(Put(("node", 1, "port"), "sw.2")) == PLAN + '\nport = "sw.2"'
    windows = PLAN.replace("\n", "\r\n")
    assert edited(Put(("node", 1, "port"), "sw.2"), text=windows) == windows + '\r\nport = "sw.2"'


def test_a_new_key_in_a_table_without_keys() -> None:
    """A header alone is a table to put keys in."""
    assert (
        edited(Put(("node", 0, "id"), "n"), text="[[node]]\n[[node]]\n") == '[[node]]\nid = "n"\n[[node]]\n'
    )


def test_windows_line_ends_are_kept() -> None:
    """New lines end as the lines of the file do."""
    windows = PLAN.replace("\n", "\r\n")
    both = (Put(("node", 0, "port"), "sw.2"), Put(("node", 0, "mac"), "m"), Take(("plan", "reserve")))
    assert edited(*both, text=windows) == edited(*both).replace("\n", "\r\n")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("a", '"a"'), (3, "3"), (True, "true"), (False, "false"), (0.5, "0.5"), (("a", "b"), '["a", "b"]'),
        ('say "x"\\', '"say \\"x\\"\\\\"'), ("Ω", '"Ω"'), ("\x7f\n", '"\\u007f\\n"'), ((), "[]"),
    ],
)  # fmt: skip
def test_values_are_written_as_toml(value: Any, text: str) -> None:
    """Every kind of value is written so that it reads back."""
    after = edited(Put(("plan", "reserve"), value))
    assert after == PLAN.replace('"20 %"', text)
    read = tomli.loads(after)["plan"]["reserve"]
    assert read == (list(value) if isinstance(value, tuple) else value)


def test_a_key_is_taken_with_its_line() -> None:
    """Taking out a key takes its line and the comment on it, and leaves the comment above it."""
    assert edited(Take(("node", 0, "port"))) == PLAN.replace('port = "sw.1"      # the left one\n', "")
    assert edited(Take(("node", 0, "from"))) == PLAN.replace('from = [\n  "a", # first\n  "b",\n]\n', "")
    assert edited(Take(("node", 1, "id"))) == PLAN.replace('id = "n2" # the last', "")


def test_edits_are_made_together() -> None:
    """Several edits are made to the text as it was; their order does not matter."""
    edits: list[Edit] = [
        Take(("node", 0, "from")),
        Put(("node", 0, "a"), "1"),
        Put(("node", 0, "b"), "2"),
        Put(("plan", "reserve"), "5 %"),
    ]
    after = edited(*edits)
    assert edited(*reversed(edits)) == after
    node = tomli.loads(after)["node"][0]
    assert (node["a"], node["b"], "from" in node) == ("1", "2", False)
    assert edited() == PLAN


def test_the_same_edit_twice_is_one_edit() -> None:
    """Two findings may ask for the same change."""
    assert edited(*[Put(("node", 1, "port"), "x")] * 2) == edited(Put(("node", 1, "port"), "x"))
    assert edited(*[Take(("node", 0, "port"))] * 2) == edited(Take(("node", 0, "port")))


@pytest.mark.parametrize(
    "edits",
    [
        [Put(("node", 0, "port"), "a"), Put(("node", 0, "port"), "b")],
        [Put(("node", 1, "port"), "a"), Put(("node", 1, "port"), "b")],
        [Put(("node", 0, "port"), "a"), Take(("node", 0, "port"))],
        [Put(("node", 0, "from"), "a"), Put(("node", 0, "from", 0), "b")],
        [Put(("node", 0, "from", 0), "a"), Take(("node", 0, "from"))],
    ],
)
def test_two_edits_in_one_place_are_refused(edits: list[Edit]) -> None:
    """Edits that contradict each other are refused together, in either order."""
    for order in (edits, edits[::-1]):
        with pytest.raises(CannotEdit):
            edited(*order)


@pytest.mark.parametrize(
    ("edit", "says"),
    [
        (Take(("node", 0, "mac")), "node.0.mac is not written in the plan"),
        (Take(("node", 5, "id")), "node.5.id is not written in the plan"),
        (Take(("node", 0, "pins", "1")), "shares its line"),
        (Take(("node", 0)), "is not written in the plan"),
        (Put(("node", 5, "id"), "x"), "there is no table at node.5"),
        (Put(("switch", 0, "id"), "x"), "there is no table at switch.0"),
        (Put((), "x"), "there is no table at the top of the plan"),
        (Put(("node", 0, "pins", "3"), "x"), "there is no table at node.0.pins"),
        (Put(("plan", "reserve"), float("inf")), "is no value of a plan"),
    ],
)
def test_edits_that_do_not_fit_are_refused(edit: Edit, says: str) -> None:
    """An edit whose path names nothing is refused, in words."""
    with pytest.raises(CannotEdit, match=says):
        edited(edit)


def test_an_inline_table_is_not_torn() -> None:
    """A key that starts on the line of its table is not taken, though its own line ends behind it."""
    text = '[[node]]\npins = {1 = "a"\n}\n'
    assert tomli.loads(text)
    with pytest.raises(CannotEdit, match="shares its line"):
        edited(Take(("node", 0, "pins", "1")), text=text)


def test_no_key_is_put_over_a_table() -> None:
    """A dotted key stands for a table: it is neither taken nor written over."""
    text = "[a]\nb.c = 1\nb.d = 2\n[a.e]\n"
    for edit in (Take(("a", "b")), Put(("a", "b"), 3), Put(("a", "e"), 3)):
        with pytest.raises(CannotEdit):
            edited(edit, text=text)
    assert edited(Take(("a", "b", "c")), text=text) == "[a]\nb.d = 2\n[a.e]\n"


# --- at random -----------------------------------------------------------------------------------------------------

KEYS = ["id", "port", "note", "x y", "Ω"]
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=6)
WRITTEN = {
    '"a"': "a",
    "'b'": "b",
    "[1, # c\n 2]": [1, 2],
    '"""x\n[y]"""': "x\n[y]",
    "{ p = 1 }": {"p": 1},
    "7": 7,
}


@st.composite
def plans(draw: st.DrawFn) -> str:
    """A plan of a few tables with keys, comments and inner tables."""
    lines = draw(st.lists(st.just("# top"), max_size=1))

    def keys() -> None:
        for name in draw(st.lists(st.sampled_from(KEYS), unique=True, max_size=4)):
            word = name if name.isascii() and " " not in name else f'"{name}"'
            lines.append(
                f"{word} = {draw(st.sampled_from(list(WRITTEN)))}" + draw(st.sampled_from(["", " # said"]))
            )
            lines.extend(draw(st.lists(st.sampled_from(["", "  # between"]), max_size=1)))

    for _ in range(draw(st.integers(1, 3))):
        lines.append(draw(st.sampled_from(["[[node]]", "[[node]] # c"])))
        keys()
        for _ in range(draw(st.integers(0, 2))):
            lines.append("[[node.inlet]]")
            keys()
    text = "\n".join(lines) + draw(st.sampled_from(["", "\n"]))
    return text.replace("\n", draw(st.sampled_from(["\n", "\r\n"])))


def tables(document: dict[str, Any]) -> list[Path]:
    """Return the path of every table that has a header."""
    found: list[Path] = []
    for i, node in enumerate(document["node"]):
        found += [("node", i), *(("node", i, "inlet", j) for j in range(len(node.get("inlet", []))))]
    return found


def at(document: Any, path: Path) -> Any:
    """Return what stands at a path."""
    for step in path:
        document = document[step]
    return document


@settings(max_examples=300, deadline=None)
@given(plans(), st.data())
def test_an_edit_changes_what_it_names_and_nothing_else(text: str, data: st.DataObject) -> None:
    """After any edits tomli reads exactly the change that was meant; comments stay; again is the same as once."""
    before = tomli.loads(text)
    meant = tomli.loads(text)
    edits: list[Edit] = []
    for table in data.draw(st.lists(st.sampled_from(tables(before)), min_size=1, max_size=2, unique=True)):
        for key in data.draw(
            st.lists(st.sampled_from([*KEYS, "fresh"]), min_size=1, max_size=3, unique=True)
        ):
            if key in at(before, table) and data.draw(st.booleans()):
                edits.append(Take((*table, key)))
                del at(meant, table)[key]
            else:
                value = data.draw(st.one_of(TEXTS, st.integers(-9, 9), st.booleans(), st.floats(-1e9, 1e9)))
                edits.append(Put((*table, key), value))
                at(meant, table)[key] = value
    once = apply(text.encode(), edits)
    assert tomli.loads(once.decode()) == meant
    puts = [edit for edit in edits if isinstance(edit, Put)]
    assert apply(once, puts) == once
    kept = [part for part in (b"# top", b"# between", b"[[node]] # c") if part in text.encode()]
    assert [once.count(part) for part in kept] == [text.encode().count(part) for part in kept]
    if "\r\n" in text:
        assert b"\n" not in once.replace(b"\r\n", b"")

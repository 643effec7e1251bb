"""The published schema and the reader come from the same structs, and say the same of a plan."""

import datetime
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tomli
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, FormatChecker

from coldcheck import ours
from coldcheck.plan.kinds import Inner
from coldcheck.plan.parts import Shelf
from coldcheck.plan.problems import PlanUnreadable
from coldcheck.plan.reading import read_tables
from coldcheck.plan.schema import schema
from coldcheck.plan.tables import PART_KINDS, TABLES, Head, Key, Table, spec_of
from coldcheck.testing import every_case

SCHEMA = schema()
VALIDATOR = Draft202012Validator(SCHEMA, format_checker=FormatChecker())
FOLDER = ours.folder("inventories")
SHELF = Shelf([FOLDER / "parts"])


def as_json(value: Any) -> Any:
    """Return what TOML gave as JSON has it: a day is a text in ISO 8601 form."""
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    return value.isoformat() if isinstance(value, (datetime.date, datetime.time)) else value


def by_schema(text: str) -> list[str]:
    """Return what the schema says against a plan."""
    raw = as_json(tomli.loads(text))
    return [f"{'.'.join(map(str, e.absolute_path))}: {e.message[:120]}" for e in VALIDATOR.iter_errors(raw)]


def by_reader(text: str) -> list[str]:
    """Return what the reader says against a plan."""
    try:
        read_tables("plan.toml", text.encode(), SHELF)
    except PlanUnreadable as error:
        return [f"{'.'.join(map(str, p.path))}: {p.says}" for p in error.problems]
    return []


def test_the_schema_is_a_schema() -> None:
    """It is valid by the rules of its own draft, and every reference in it leads somewhere."""
    Draft202012Validator.check_schema(SCHEMA)
    names = {item["$ref"].removeprefix("#/$defs/") for item in nested(SCHEMA) if "$ref" in item}
    assert names == set(SCHEMA["$defs"])


def nested(value: Any) -> Iterator[dict[str, Any]]:
    """Yield every object within a schema."""
    if isinstance(value, dict):
        yield value
        value = list(value.values())
    for item in value if isinstance(value, list) else ():
        yield from nested(item)


# --- plans that are right ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("file", sorted(FOLDER.glob("**/*.toml")), ids=lambda file: str(file.name))
def test_plans_and_parts_of_the_tree_are_valid(file: Path) -> None:
    """Every plan that comes with Coldcheck, and every file of its parts shelf, keeps to the schema."""
    assert by_schema(file.read_text()) == []


def test_plans_of_the_rules_are_valid() -> None:
    """Every plan in a case of a rule keeps to the schema, before and after it is mended."""
    plans = {text for trial in every_case(own=True) for text in (trial.case.plan, trial.case.mended) if text}
    assert len(plans) > 50
    assert {text: errors for text in plans if (errors := by_schema(text))} == {}


FULL = """
[plan]
format = 1
reserve = "20 %"
[[feed]]
id = "f1 .. f2"
volts = ["5 V", "12 V"]
built = 2026-05-01
at = ["0 mm", "1 mm", "2 mm"]
[[feed.outlet]]
id = "a"
[[node]]
id = ["n1", "n2"]
from = ["a", "b1 .. b2"]
port = "sw.1 .. sw.2"
lead = "18 AWG, 420 mm"
surge = ["2 A for 1 s", "1 A for 2 s"]
pins = {1 = "+", 2 = "gnd"}
[[node.inlet]]
id = "usb"
[[node.inlet.measured]]
state = "idle"
draw = "1 A"
on = 2026-05-01
[[switch]]
id = "sw"
ports = 8
port = [{id = "1 .. 8", speed = "1 Gbit/s"}]
[[waiver]]
rule = "a.b"
reason = "x"
until = 2027-06-30
[[part]]
id = "p"
kind = "plug"
amps = "3 A"
pins = {1 = "5v"}
source = "data sheet"
[[part]]
id = "q"
kind = "switch"
ports = 2
[[part.port]]
id = "1 .. 2"
[part.source]
ports = "data sheet"
"port.1.speed" = "data sheet"
"""


def test_every_way_to_write_a_key_is_allowed() -> None:
    """Spans, lists, lists of tables, days, lists of steps and parts with their sources keep to schema and reader."""
    assert by_schema(FULL) == []
    assert by_reader(FULL) == []


# --- the same keys on both sides -----------------------------------------------------------------------------------


def structs() -> Iterator[tuple[str, type[Table], bool, bool]]:
    """Yield every definition of the schema with its struct: name, struct, whether of a part, whether within one."""
    seen = set()

    def walk(struct: type[Table], part: bool, within: bool) -> Iterator[tuple[str, type[Table], bool, bool]]:
        name = ("part." if part else "") + struct.__name__.lower()
        if name not in seen:
            seen.add(name)
            yield name, struct, part, within
            for _, key in spec_of(struct).inner.values():
                if key.part or not part:
                    yield from walk(key.kind.struct, part, True)  # type: ignore[attr-defined]

    structs: list[type[Table]] = [Head, *TABLES.values()]
    for struct in structs:
        yield from walk(struct, False, False)
    for struct in PART_KINDS.values():
        yield from walk(struct, True, False)


def keys_of(struct: type[Table], part: bool) -> dict[str, Key]:
    """Return the keys that may be written in a table, found without the schema's own code."""
    spec = spec_of(struct)
    entries = [*spec.inner.items(), *spec.flat_keys.items(), *spec.keys.items()]
    return {word: key for word, (_, key) in entries if key.part or not part}


def test_every_key_is_in_the_schema_and_no_other() -> None:
    """Each table has a definition with each of its keys, each with what it means; nothing else is defined."""
    every = list(structs())
    assert {name for name, *_ in every} == set(SCHEMA["$defs"])
    for name, struct, part, within in every:
        defined = SCHEMA["$defs"][name]
        keys = keys_of(struct, part)
        own = {"id", "kind", "source"} if part and not within else set()
        assert set(defined["properties"]) == set(keys) | own, name
        assert defined["additionalProperties"] is False
        assert defined["description"]
        for word, key in keys.items():
            if word not in own:
                assert key.about, f"{name}.{word}"
                assert defined["properties"][word]["description"].startswith(key.about), f"{name}.{word}"
        must = [word for word, key in keys.items() if key.must] if not own else []
        assert sorted(defined.get("required", [])) == sorted(must), name


def test_every_table_is_in_the_schema() -> None:
    """The top of the schema has each table of a plan, the head and the parts, and nothing else."""
    assert set(SCHEMA["properties"]) == {*TABLES, "plan", "part"}
    assert SCHEMA["additionalProperties"] is False
    kinds = SCHEMA["properties"]["part"]["items"]["properties"]["kind"]["enum"]
    assert kinds == list(PART_KINDS)


# --- plans that are wrong ------------------------------------------------------------------------------------------


def written(value: Any) -> str:
    """Return a value as TOML."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)


def slips() -> list[tuple[str, str]]:
    """Return wrong plans, each with a label: every key of every table with values of other types."""
    found: list[tuple[str, str]] = []
    for table, struct in TABLES.items():
        spec = spec_of(struct)
        must = {word: right(spec.keys[word][1]) for word in spec.must}
        for word in spec.must:
            body = "".join(f"{k} = {v}\n" for k, v in must.items() if k != word)
            found.append((f"{table} without {word}", f"[[{table}]]\n{body}"))
        start = f"[[{table}]]\n" + "".join(f"{k} = {v}\n" for k, v in must.items())
        found.append((f"{table} with zzz", start + "zzz = 1\n"))
        found.append((f"{table} as one table", start.replace("[[", "[").replace("]]", "]")))
        for word, key in keys_of(struct, False).items():
            for label, value in WRONG.items():
                if label not in fits(key, word in spec.inner):
                    body = "".join(f"{k} = {v}\n" for k, v in (must | {word: value}).items())
                    found.append((f"{table}.{word} = {label}", f"[[{table}]]\n{body}"))
        for word, (_, key) in spec.inner.items():
            inner = spec_of(key.kind.struct)  # type: ignore[attr-defined]
            head = f"{start}[[{table}.{word}]]\n"
            found += [(f"{table}.{word} without {k}", head) for k in inner.must[:1]]
            rest = "".join(f"{k} = {right(inner.keys[k][1])}\n" for k in inner.must)
            found.append((f"{table}.{word} with zzz", head + rest + "zzz = 1\n"))
            found.append(
                (
                    f"{table}.{word} as one table",
                    (head + rest).replace(f"[[{table}.{word}]]", f"[{table}.{word}]"),
                )
            )
    for kind, struct in PART_KINDS.items():
        start = f'[[part]]\nid = "p"\nkind = "{kind}"\n'
        found.append((f"part {kind} with zzz", start + "zzz = 1\n"))
        found += [
            (f"part {kind} with {word}", f"{start}{word} = {right(key)}\n")
            for word, (_, key) in spec_of(struct).keys.items()
            if not key.part and word != "id"
        ]
    return found


WRONG = {
    "number": "3", "float": "1.5", "yes": "true", "text": '"rubbish words"', "table": "{a = 1}", "numbers": "[1, 2]",
    "nothing": "[]", "day": "2026-05-01", "time": "07:32:00", "lists": '[["a"]]', "moment": "2026-05-01T07:32:00",
}  # fmt: skip


def right(key: Key) -> str:
    """Return a value that a key takes, as TOML."""
    shape = key.kind.schema()
    first = shape.get("anyOf", [{}])[0]
    shape = first if {"enum", "minimum"} & first.keys() else shape
    if "enum" in shape:
        return f'"{shape["enum"][0]}"'
    if shape.get("format") == "date":
        return "2027-06-30"
    if shape.get("type") == "integer":
        return str(shape["minimum"])
    if shape.get("type") in _RIGHT:
        return _RIGHT[shape["type"]]
    example = key.kind.example or shape.get("anyOf", [{}])[0].get("examples", ["x"])[0]
    return f'"{example}"'


_RIGHT = {"boolean": "true", "array": '["0 mm", "1 mm", "2 mm"]', "object": '{1 = "+"}'}


def fits(key: Key, inner: bool) -> set[str]:
    """Return which of the wrong values a key takes, or that the schema cannot tell from what it takes."""
    shape = key.kind.schema() if not isinstance(key.kind, Inner) else {}
    types = {way.get("type") for way in (shape, *shape.get("anyOf", ()))}
    found = set()
    if "string" in types and shape.get("format") != "date":
        found |= {"text", "day", "time", "moment"}  # JSON has texts for all of these
    if shape.get("format") == "date":
        found |= {"day"}
    whole = next((way for way in (shape, *shape.get("anyOf", ())) if way.get("type") == "integer"), None)
    if whole and whole["minimum"] <= 3 <= whole["maximum"]:
        found |= {"number"}
    if whole and whole["minimum"] <= 1:
        found |= {"numbers"}  # dealt out, where it fits
    if "boolean" in types:
        found |= {"yes"}
    return found


SLIPS = slips()


def test_reader_and_schema_refuse_the_same_slips() -> None:
    """Unknown keys, wrong types, missing ids and tables of the wrong form are refused by both, key by key."""
    assert len(SLIPS) > 1500
    assert [label for label, text in SLIPS if not by_reader(text)] == []
    assert [label for label, text in SLIPS if not by_schema(text)] == []


@pytest.mark.parametrize("table", TABLES)
def test_a_table_with_what_it_must_have_passes_both(table: str) -> None:
    """The plans that are spoilt above are right before: an entry with only what it must say."""
    spec = spec_of(TABLES[table])
    text = f"[[{table}]]\n" + "".join(f"{word} = {right(spec.keys[word][1])}\n" for word in spec.must)
    assert by_reader(text) == []
    assert by_schema(text) == []


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_random_plans_are_judged_alike(data: st.DataObject) -> None:
    """A plan of right and wrong keys at random is refused by both or by neither."""
    lines, sure = [], True
    for _ in range(data.draw(st.integers(1, 3))):
        table = data.draw(st.sampled_from(list(TABLES)))
        spec = spec_of(TABLES[table])
        keys = {word: right(spec.keys[word][1]) for word in spec.must}
        others = {
            w: k for w, k in keys_of(TABLES[table], False).items() if w not in spec.inner and w != "part"
        }
        for word in data.draw(st.lists(st.sampled_from(sorted(others)), unique=True, max_size=4)):
            label = data.draw(st.sampled_from(["right", *WRONG]))
            if label == "right" or label not in fits(others[word], False):
                keys[word] = right(others[word]) if label == "right" else WRONG[label]
                sure = sure and label == "right"
        lines += [f"[[{table}]]", *(f"{word} = {value}" for word, value in keys.items())]
    text = "\n".join(lines)
    assert bool(by_reader(text)) == (not sure)
    assert bool(by_schema(text)) == (not sure)


NODE = '[[node]]\nid = "n"\n'

# What the reader refuses and the schema lets pass: it sees types and words, not what a text means.
UNSEEN = {
    "an empty file": "",
    "a unit that is missing": NODE + 'peak = "2"\n',
    "a unit of something else": NODE + 'lead = "18 V"\n',
    "a value out of bounds": '[plan]\nreserve = "200 %"\n',
    "a range from high to low": NODE + 'volts = "6 V .. 5 V"\n',
    "spans of unequal length": '[[node]]\nid = "n1 .. n3"\nfrom = "a1 .. a2"\n',
    "lists of unequal length": '[[node]]\nid = ["a", "b"]\nmac = ["x", "y", "z"]\n',
    "a span over one thing": NODE + 'from = "a1 .. a2"\n',
    "a span that does not count": '[[node]]\nid = "n1 .. m2"\n',
    "a span in the head": '[plan]\nreserve = "10 % .. 20 % by 10 %"\n',
    "a span in a part": '[[part]]\nid = "p"\nkind = "node"\npeak = "1 A .. 2 A by 1 A"\n',
    "an id with a dot": '[[node]]\nid = "n.1"\n',
    "a reference with a blank": NODE + 'from = "a b"\n',
    "a part that is not on the shelf": NODE + 'part = "nothing"\n',
    "a part of another kind": '[[fan]]\nid = "f"\npart = "board-4core-5v-3a"\n',
    "two parts of one name": '[[part]]\nid = "p"\nkind = "fan"\n' * 2,
    "a day in quotes": '[[waiver]]\nrule = "a.b"\nreason = "x"\nuntil = "2027-06-30"\n',
    "a day where a text belongs": NODE + "title = 2027-06-30\n",
    "a whole number with a point": '[[switch]]\nid = "s"\nports = 8.0\n',
    "steps of a surge in mixed units": NODE + 'surge = ["1 A for 1 s", "1 W for 1 s"]\n',
}


@pytest.mark.parametrize("label", UNSEEN)
def test_what_the_schema_cannot_see(label: str) -> None:
    """The reader refuses these and the schema does not; what is not in this list, both see."""
    text = UNSEEN[label]
    if label == "an empty file":
        with pytest.raises(PlanUnreadable):
            read_tables("plan.toml", b"", SHELF)
    else:
        assert by_reader(text)
    assert by_schema(text) == []


def test_the_published_schema_is_fresh() -> None:
    """The file that editors are given says what the structs say: `python -m coldcheck.plan.schema` writes it anew."""
    published = ours.folder("inventories") / "plan.schema.json"
    assert json.loads(published.read_text()) == json.loads(json.dumps(SCHEMA))

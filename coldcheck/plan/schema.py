"""The published JSON Schema (draft 2020-12) of a plan, made from the same structs that the reader reads by.

It is for editors: it knows every key, what it means and what kind of value it takes. It cannot see what stands inside
a text (units, spans of unequal length, names that name nothing); `tests/plan/test_schema.py` lists that openly.
"""

from __future__ import annotations

from typing import Any

import msgspec

from .kinds import Inner, Kind, Several
from .tables import PART_KINDS, TABLES, Head, Key, Spec, Table, spec_of

__all__ = ["schema"]

Json = dict[str, Any]


def schema() -> Json:
    """Return the JSON Schema of a plan as it is written.

    A day, which TOML writes without quotes, is a text in ISO 8601 form here, since JSON knows no days.
    """
    book = _Book()
    tables = {name: _several(book.table(struct), struct) for name, struct in TABLES.items()}
    kinds = [
        {"if": {"properties": {"kind": {"const": name}}}, "then": book.table(struct, part=True)}
        for name, struct in PART_KINDS.items()
    ]
    part = {"type": "object", "required": ["id", "kind"], "properties": _of_part(), "allOf": kinds}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A plan of Coldcheck",
        "description": "The inventory of a hand-built cluster: what feeds it, what draws power, cables, addresses.",
        "type": "object",
        "properties": {
            "plan": book.table(Head),
            "part": {
                "description": "A part that this plan describes itself: ratings, each with its source.",
                "type": "array",
                "items": part,
            },
            **tables,
        },
        "additionalProperties": False,
        "$defs": book.defined,
    }


def _of_part() -> Json:
    """Return the keys that parts have and things have not."""
    text: Json = {"type": "string"}
    return {
        "id": {"type": "string", "minLength": 1, "description": "the name things name it by"},
        "kind": {"enum": list(PART_KINDS), "description": "the table that such a thing stands in"},
        "source": {
            "description": "where the figures come from: one text, or one for each key",
            "anyOf": [text, {"type": "object", "additionalProperties": text}],
        },
    }


def _several(items: Json, struct: type[msgspec.Struct]) -> Json:
    return {"description": _about(struct), "type": "array", "items": items}


def _about(struct: type[msgspec.Struct]) -> str:
    return (struct.__doc__ or "").partition("\n\n")[0]


class _Book:
    """The definitions of a schema, each struct written once as a table of a plan and once as it is in a part."""

    def __init__(self) -> None:
        self.defined: dict[str, Json] = {}

    def table(self, struct: type[Table], part: bool = False, within: bool = False) -> Json:
        """Return a reference to the definition of one table; ``within`` says that it stands in another one."""
        name = ("part." if part else "") + struct.__name__.lower()
        if name not in self.defined:
            self.defined[name] = {}  # the name is taken before the keys are walked: tables may hold tables
            self.defined[name] = self._define(struct, part, within)
        return {"$ref": f"#/$defs/{name}"}

    def _define(self, struct: type[Table], part: bool, within: bool) -> Json:
        spec = spec_of(struct)
        deals = struct is not Head and (within or not part)
        properties = {
            word: self._key(spec, word, part, deals) for word in spec.words() if _may(spec, word, part)
        }
        must = spec.must
        if part and not within:
            properties |= _of_part()
            must = ()  # `id` and `kind`, which every part must have, are asked for once
        shape: Json = {
            "description": _about(struct),
            "type": "object",
            "properties": properties,
            "additionalProperties": False,
        }
        return shape | ({"required": list(must)} if must else {})

    def _key(self, spec: Spec, word: str, part: bool, deals: bool) -> Json:
        """Return what may stand at one key: a value, inner tables, or for ``port`` either."""
        ways: list[Json] = []
        about = ""
        for _, key in _entries(spec, word):
            if part and not key.part:
                continue
            about = about or key.about
            if isinstance(key.kind, Inner):
                inner = self.table(key.kind.struct, part, within=True)  # type: ignore[arg-type]
                ways.append({"type": "array", "minItems": 1, "items": inner})
            else:
                ways.append(_value(key.kind, deals))
        if len(ways) > 1:
            return {"description": about, "anyOf": ways}
        expected = ways[0].get("description")
        return ways[0] | {"description": f"{about} ({expected})" if expected else about}


def _entries(spec: Spec, word: str) -> list[tuple[str, Key]]:
    places = (spec.keys, spec.inner, {} if word in spec.keys else spec.flat_keys)
    return [place[word] for place in places if word in place]


def _may(spec: Spec, word: str, part: bool) -> bool:
    return not part or any(key.part for _, key in _entries(spec, word))


def _value(kind: Kind, deals: bool) -> Json:
    """Return one value; where spans are dealt out, also a list with one value for each thing."""
    one = kind.schema()
    if not deals or not kind.deals or isinstance(kind, Several) or kind.several:
        return one
    return {"anyOf": [one, {"type": "array", "minItems": 1, "items": one}]}


if __name__ == "__main__":
    # python -m coldcheck.plan.schema > inventories/plan.schema.json
    print(msgspec.json.format(msgspec.json.encode(schema()), indent=1).decode())

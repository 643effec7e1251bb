"""From the text of a plan to its tables: every problem of form is found and reported at once.

The order is fixed: bytes, text, TOML, parts, tables. A table is read in one pass over its keys; spans are dealt out in
the same pass, and what a thing leaves unsaid is taken from its part.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import msgspec
import tomli

from .kinds import Kind, Several
from .parts import Part, Shelf, ShelfBroken, as_part
from .problems import Path, PlanUnreadable, Problem, nearest
from .quantities import Wrong
from .spans import is_span, members
from .tables import PART_KINDS, TABLES, Head, Key, Plug, Spec, Table, spec_of

__all__ = ["MOST_BYTES", "MOST_THINGS", "Tables", "plugs_of", "read_tables"]

#: A plan larger than this is refused before it is parsed.
MOST_BYTES = 64 * 1024 * 1024
#: A plan with more things than this is refused.
MOST_THINGS = 1_000_000
_MOST_PROBLEMS = 500


class Tables(msgspec.Struct):
    """What a plan says, table by table; nothing is linked yet."""

    name: str
    text: bytes
    head: Head
    of: dict[str, list[Any]]
    shelf: Shelf


class _Row(msgspec.Struct):
    """One table as read: values of its own keys, of its flat keys, and its inner tables."""

    values: dict[str, Any]
    flat: dict[str, Any]
    inner: dict[str, list[Any]]


_EMPTY = _Row({}, {}, {})


class _Spread(msgspec.Struct):
    """An inner table whose spans are dealt out over the things of the outer one: one struct for each."""

    word: str
    tables: list[Any]


def read_tables(name: str, text: bytes, shelf: Shelf) -> Tables:
    """Return the tables of the plan in ``text``; ``name`` is what messages call it.

    Raises:
        PlanUnreadable: with every problem of form, each with its path.
    """
    raw = _toml(name, text)
    reader = _Reader(shelf)
    tables = reader.plan(raw)
    if reader.problems:
        raise PlanUnreadable(name, text, reader.problems)
    return Tables(name, text, *tables, shelf)


def _toml(name: str, text: bytes) -> dict[str, Any]:
    def refuse(says: str, remedy: str, offset: int = 0) -> PlanUnreadable:
        return PlanUnreadable(name, text, [Problem(says, remedy, offset=offset)])

    if len(text) > MOST_BYTES:
        raise refuse(f"the plan has {len(text)} bytes; {MOST_BYTES} is the most", "split it into several plans")
    if text.startswith(b"\xef\xbb\xbf"):
        raise refuse("the plan starts with a byte-order mark", "save it as plain UTF-8 without one")
    try:
        document = text.decode()
    except UnicodeDecodeError as error:
        raise refuse("the plan is not UTF-8 text", "save it as UTF-8", error.start) from None
    if not document.strip():
        raise refuse("the plan is empty", "start with [plan] and a [[feed]]; the README shows a first plan")
    try:
        return tomli.loads(document)
    except tomli.TOMLDecodeError as error:
        says = f"not TOML: {_lower(error.msg)}"
        raise refuse(says, "mend the syntax here", _offset(text, error.lineno, error.colno)) from None
    except (RecursionError, ValueError) as error:
        raise refuse(f"not TOML: {_lower(str(error)) or 'nested too deep'}", "mend the syntax here") from None


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _offset(text: bytes, line: int, column: int) -> int:
    lines = text.split(b"\n")
    before = sum(len(x) + 1 for x in lines[: line - 1])
    here = lines[line - 1].decode(errors="replace") if line <= len(lines) else ""
    return min(before + len(here[: column - 1].encode()), len(text))


class _Reader:
    """Reads tables and gathers problems."""

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf
        self.problems: list[Problem] = []
        self._parts: dict[tuple[str, str], _Row] = {}
        self._things = 0

    def problem(self, path: Path, says: str, remedy: str = "") -> None:
        if len(self.problems) < _MOST_PROBLEMS:
            self.problems.append(Problem(says, remedy, path))

    def plan(self, raw: dict[str, Any]) -> tuple[Head, dict[str, list[Any]]]:
        self._own_parts(raw.get("part", []))
        head = self._head(raw.get("plan", {}))
        of: dict[str, list[Any]] = {}
        known = [*TABLES, "plan", "part"]
        for name, items in raw.items():
            if name in TABLES:
                of[name] = self.table(name, items)
            elif name not in ("plan", "part"):
                near = nearest(name, known)
                says = f'"{name}" is no table of a plan'
                listed = f"tables: {', '.join(known)}"
                self.problem((name,), says, f"write [[{near}]]" if near in TABLES else listed)
        return head, of

    def _head(self, raw: Any) -> Head:
        if not isinstance(raw, dict):
            self.problem(("plan",), '"plan" is one table', "write it once, as [plan]")
            return Head()
        rows = list(self.rows(spec_of(Head), raw, ("plan",)))
        return Head(path=("plan",), stated=frozenset(raw), **(rows[0].values if rows else {}))

    def _own_parts(self, items: Any) -> None:
        if not _is_tables(items):
            self.problem(("part",), '"part" is a list of tables', "write each one under [[part]]")
            return
        for i, item in enumerate(items):
            path: Path = ("part", i)
            name, kind = item.get("id"), item.get("kind")
            if type(name) is not str or not name:
                self.problem(path, "this part has no id", 'add id = "..."')
            elif kind not in PART_KINDS:
                near = nearest(str(kind), PART_KINDS)
                self.problem((*path, "kind"), f"part {name} must say its kind", f'write kind = "{near or "node"}"')
            else:
                self.shelf.put(as_part(item, None, path))
                self._part(name, kind, path)

    def table(self, name: str, items: Any) -> list[Any]:
        if not _is_tables(items):
            self.problem((name,), f'"{name}" is a list of tables', f"write each one under [[{name}]]")
            return []
        spec = spec_of(TABLES[name])
        found: list[Any] = []
        for i, item in enumerate(items):
            found.extend(self.items(name, spec, item, (name, i)))
            if len(found) + self._things > MOST_THINGS:
                self.problem((name, i), f"the plan holds more than {MOST_THINGS} things", "split it")
                break
        self._things += len(found)
        return found

    def items(self, kind: str, spec: Spec, raw: dict[str, Any], path: Path) -> Iterator[Any]:
        """Yield the structs of one table: one, or as many as its spans deal out."""
        stated = frozenset(raw)
        for row in self.rows(spec, raw, path):
            part_id = row.values.get("part")
            part = self._part(part_id, kind, (*path, "part")) if part_id else _EMPTY
            yield self._build(spec, path, stated, row, part)

    def _build(self, spec: Spec, path: Path, stated: frozenset[str], row: _Row, part: _Row) -> Any:
        values = part.values | row.values if part.values else row.values
        for key in spec.must:
            if spec.keys[key][0] not in values and key not in stated:
                self._missing(spec, key, path)
        inner = row.inner if not part.inner else _merge(part.inner, row.inner)
        if spec.flat:
            values = {**values, spec.flat[0]: self._flat(spec.flat, path, stated, row, part, inner)}
        for attribute, tables in inner.items():
            if "." not in attribute:
                values[attribute] = tuple(tables)
        return spec.struct(path=path, stated=stated, **values)

    def _flat(
        self,
        flat: tuple[str, type[Table]],
        path: Path,
        stated: frozenset[str],
        row: _Row,
        part: _Row,
        inner: dict[str, list[Any]],
    ) -> Table:
        below = {k.partition(".")[2]: tuple(v) for k, v in inner.items() if "." in k}
        if not row.flat and not below:
            shared = part.flat.get("")
            if shared is None:
                shared = part.flat[""] = flat[1](**part.flat)
            return shared if part is not _EMPTY else flat[1]()
        values = {k: v for k, v in part.flat.items() if k} | row.flat | below
        return flat[1](path=path, stated=stated, **values)

    def _missing(self, spec: Spec, key: str, path: Path) -> None:
        kind = spec.keys[key][1].kind
        example = f' = "{kind.example}"' if kind.example else f": {kind.expected}"
        self.problem(path, f"{_noun(path)} lacks its {key}", f"add {key}{example}")

    def _part(self, name: str, kind: str, path: Path) -> _Row:
        row = self._parts.get((name, kind))
        if row is not None:
            return row
        self._parts[name, kind] = _Row({}, {}, {})
        try:
            part = self.shelf.find(name)
        except ShelfBroken as error:
            self.problem(path, f"the parts shelf cannot be read: {error}", "mend that file")
            return _EMPTY
        if part is None:
            near = nearest(name, self.shelf.names(kind)) or nearest(name, self.shelf.names())
            remedy = f'did you mean "{near}"?' if near else ""
            remedy = f"{remedy} `coldcheck parts` lists the shelf".strip()
            self.problem(path, f'no part is called "{name}"', remedy)
        elif part.kind != kind:
            self.problem(path, f"part {name} is a {part.kind}, not a {kind}", f"put it under [[{part.kind}]]")
        else:
            self._parts[name, kind] = self._read_part(part, path)
        return self._parts[name, kind]

    def _read_part(self, part: Part, path: Path) -> _Row:
        where = part.path if part.file is None else path
        before = len(self.problems)
        rows = list(self.rows(spec_of(PART_KINDS[part.kind]), part.raw, where, of_part=True))
        if part.file is not None:
            self.problems[before:] = [
                Problem(f"part {part.id} in {part.file}: {p.says}", p.remedy, path) for p in self.problems[before:]
            ]
        return rows[0] if len(rows) == 1 else _Row({}, {}, {})

    def rows(self, spec: Spec, raw: dict[str, Any], path: Path, of_part: bool = False) -> Iterator[_Row]:
        """Yield the values of one table, dealt out over its spans."""
        values: dict[str, Any] = {}
        flat: dict[str, Any] = {}
        inner: dict[str, list[Any]] = {}
        dealt: dict[str, tuple[bool, str, list[Any]]] = {}
        keys, flat_keys = spec.keys, spec.flat_keys
        for word, value in raw.items():
            if type(value) is list and word in spec.inner and value and isinstance(value[0], dict):
                attribute, key = spec.inner[word]
                inner[attribute] = self._inner(key, word, value, path, of_part)
                continue
            entry = keys.get(word)
            target = values
            if entry is None:
                entry = flat_keys.get(word)
                target = flat
            if entry is None:
                self._unknown(spec, word, path, of_part)
                continue
            attribute, key = entry
            if of_part and not key.part:
                self.problem((*path, word), f'"{word}" is said of a thing, not of a part', "take it out")
                continue
            kind = key.kind
            try:
                if kind.deals and (type(value) is list or (type(value) is str and " .. " in value)):
                    column = _column(kind, value)
                    if column is not None:
                        dealt[word] = (target is flat, attribute, column)
                        continue
                target[attribute] = kind.read(value)
            except Wrong as wrong:
                self._wrong(path, word, value, wrong)
        for word, tables in inner.items():
            for spread in tables:
                if type(spread) is _Spread:
                    dealt[f"{word}.{spread.word}"] = (False, "", spread.tables)
        if not dealt:
            yield _Row(values, flat, inner)
        else:
            yield from self._deal(path, values, flat, inner, dealt)

    def _deal(
        self,
        path: Path,
        values: dict[str, Any],
        flat: dict[str, Any],
        inner: dict[str, list[Any]],
        dealt: dict[str, tuple[bool, str, list[Any]]],
    ) -> Iterator[_Row]:
        first = "id" if "id" in dealt else next(iter(dealt))
        count = len(dealt[first][2])
        uneven = {word: len(column) for word, (_, _, column) in dealt.items() if len(column) != count}
        for word, length in uneven.items():
            says = f'"{word}" deals out {length} values, but "{first}" has {count}'
            self.problem((*path, word), says, f"make both {count} long, or give one value for all")
        if "id" not in dealt and "id" in values and count > 1 and len(path) == 2:
            says = f'"{first}" deals out {count} values over one thing'
            self.problem((*path, first), says, f'give the id as a span too, like "{values["id"]}1 .. {count}"')
            return
        if uneven:
            return
        for i in range(count):
            picked = {
                word: [x.tables[i] if type(x) is _Spread else x for x in tables] for word, tables in inner.items()
            }
            row = _Row(dict(values), dict(flat), picked)
            for in_flat, attribute, column in dealt.values():
                if attribute:
                    (row.flat if in_flat else row.values)[attribute] = column[i]
            yield row

    def _inner(self, key: Key, word: str, items: list[Any], path: Path, of_part: bool) -> list[Any]:
        spec = spec_of(key.kind.struct)  # type: ignore[attr-defined]
        found: list[Any] = []
        for i, item in enumerate(items):
            here = (*path, word, i)
            if not isinstance(item, dict):
                self.problem(here, f'"{word}" mixes tables with other values', "write each one as a table")
                continue
            stated = frozenset(item)
            built = [self._build(spec, here, stated, row, _EMPTY) for row in self.rows(spec, item, here, of_part)]
            if len(built) > 1 and not is_span(str(item.get("id", ""))):
                found.append(_Spread(word, built))
            else:
                found.extend(built)
        return found

    def _unknown(self, spec: Spec, word: str, path: Path, of_part: bool) -> None:
        known = spec.words()
        near = nearest(word, known)
        if word in spec.inner:
            last = [x for x in path if type(x) is str]
            self.problem((*path, word), f'"{word}" is a table', f"write it as [[{'.'.join([*last, word])}]]")
            return
        noun = "a part of this kind" if of_part else _noun(path)
        remedy = f'did you mean "{near}"?' if near else f"keys: {', '.join(known)}"
        self.problem((*path, word), f'{noun} has no key "{word}"', remedy)

    def _wrong(self, path: Path, word: str, value: Any, wrong: Wrong) -> None:
        written = _shorten(value)
        self.problem((*path, word), f"{word} = {written} is not {wrong.expected}", wrong.hint)


def _column(kind: Kind, value: Any) -> list[Any] | None:
    """Return the values dealt out by a span or a list, one for each thing; None where nothing is dealt."""
    if type(value) is str:
        one = kind.kind if isinstance(kind, Several) else kind
        read = [one.read(text) for text in members(value)]
        return [(x,) for x in read] if isinstance(kind, Several) else read
    if not isinstance(kind, Several):
        return None if kind.several else [kind.read(x) for x in value]
    columns = [members(x) if type(x) is str and is_span(x) else None for x in value]
    counts = {len(c) for c in columns if c is not None}
    if not counts:
        return None
    if len(counts) != 1:
        raise Wrong("spans of one length", f"they have {' and '.join(map(str, sorted(counts)))} members")
    count = counts.pop()
    return [
        tuple(kind.kind.read(c[i] if c is not None else x) for c, x in zip(columns, value, strict=True))
        for i in range(count)
    ]


def _merge(below: dict[str, list[Any]], above: dict[str, list[Any]]) -> dict[str, list[Any]]:
    """Return the inner tables of a part with those of the thing laid over them, matched by id."""
    merged = dict(below)
    for attribute, tables in above.items():
        rows = {getattr(t, "id", i): t for i, t in enumerate(below.get(attribute, ()))}
        for i, table in enumerate(tables):
            name = getattr(table, "id", len(rows) + i)
            rows[name] = _over(rows[name], table) if name in rows else table
        merged[attribute] = list(rows.values())
    return merged


def _over(below: Any, above: Any) -> Any:
    stated = {spec_of(type(above)).keys[word][0] for word in above.stated if word in spec_of(type(above)).keys}
    changed = {name: getattr(above, name) for name in [*stated, "path", "stated"]}
    return msgspec.structs.replace(below, **changed)


def _is_tables(items: Any) -> bool:
    return isinstance(items, list) and all(isinstance(item, dict) for item in items)


def _noun(path: Path) -> str:
    names = [x for x in path if type(x) is str]
    if len(path) == 1:
        return f"[{names[0]}]"
    return f"this {names[-1]}" if type(path[-1]) is int else ".".join(names)


def _shorten(value: Any) -> str:
    import datetime

    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, (dict, list)):
        text = "a table" if isinstance(value, dict) else "a list"
    elif isinstance(value, (datetime.date, datetime.time)):
        text = str(value)
    else:
        text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."




def plugs_of(shelf: Shelf) -> Callable[[str], Plug | None]:
    """Return a look-up of plugs by name: None for a plug that no shelf describes."""
    known: dict[str, Plug | None] = {}

    def plug(name: str) -> Plug | None:
        if name not in known:
            known[name] = _plug(shelf, name)
        return known[name]

    return plug


def _plug(shelf: Shelf, name: str) -> Plug | None:
    part = shelf.find(name)
    if part is None or part.kind != "plug":
        return None
    rows = list(_Reader(shelf).rows(spec_of(Plug), part.raw, (), of_part=True))
    return Plug(id=name, **rows[0].values) if rows else None

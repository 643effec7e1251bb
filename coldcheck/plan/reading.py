"""From the text of a plan to its tables: every problem of form is found and reported at once.

The order is fixed: bytes, text, TOML, parts, tables. A table is read in one pass over its keys; spans are dealt out in
the same pass, and what a thing leaves unsaid is taken from its part.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import msgspec
import tomli

from .kinds import Kind, Several
from .parts import Part, Shelf, ShelfBroken, as_part
from .problems import Path, PlanUnreadable, Problem, nearest
from .quantities import Wrong
from .spans import in_decimal, is_list, is_span, listed, members
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
    """One table as read: values of its own keys, of its flat keys, and its inner tables.

    ``by`` is the key that dealt it out, if one did. ``whole`` holds all three as a struct takes them: made once for a
    part, so that a thing that only adds values of its own is built by one merge.
    """

    values: dict[str, Any]
    flat: dict[str, Any]
    inner: dict[str, list[Any]]
    by: str = ""
    whole: dict[str, Any] = {}


_EMPTY = _Row({}, {}, {})


class _Column(msgspec.Struct):
    """What one key deals out, one value for each thing; ``at`` is where it is written.

    ``attribute`` is empty for an inner table, which is dealt out where it stands among its like.
    """

    word: str
    at: Path
    flat: bool
    attribute: str
    values: list[Any]


class _Spread(msgspec.Struct):
    """An inner table whose spans are dealt out over the things of the outer one: one struct for each."""

    column: _Column


def read_tables(name: str, text: bytes, shelf: Shelf) -> Tables:
    """Return the tables of the plan in ``text``; ``name`` is what messages call it.

    Raises:
        PlanUnreadable: with every problem of form, each with its path.
    """
    raw = _toml(name, text)
    shelf = shelf.apart()  # the parts that this plan describes are no one else's
    reader = _Reader(shelf)
    tables = reader.plan(raw)
    if reader.problems:
        raise PlanUnreadable(name, text, reader.problems)
    return Tables(name, text, *tables, shelf)


def _toml(name: str, text: bytes) -> dict[str, Any]:
    def refuse(says: str, remedy: str, offset: int = 0) -> PlanUnreadable:
        return PlanUnreadable(name, text, [Problem(says, remedy, offset=offset)])

    if len(text) > MOST_BYTES:
        raise refuse(
            f"the plan has {len(text)} bytes; {MOST_BYTES} is the most", "split it into several plans"
        )
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
        clash = _clash(document, error.lineno)
        if clash is not None:
            raise refuse(*clash[:2], _offset(text, clash[2], 1)) from None
        says = f"not TOML: {_lower(error.msg)}"
        raise refuse(says, "mend the syntax here", _offset(text, error.lineno, error.colno)) from None
    except (RecursionError, ValueError) as error:
        raise refuse(f"not TOML: {_lower(str(error)) or 'nested too deep'}", "mend the syntax here") from None


_HEADER = re.compile(r"\s*\[{1,2}\s*(\w+)(?:\.([\w-]+))?\s*\]{1,2}\s*(?:#.*)?")


def _clash(document: str, lineno: int) -> tuple[str, str, int] | None:
    """Return message, remedy and line where a key has the name of an inner table that follows it; else None."""
    lines = document.split("\n")[:lineno]
    header = _HEADER.fullmatch(lines[-1])
    if header is None or header[2] is None:
        return None
    outer, word = header[1], header[2]
    key = re.compile(rf"\s*{re.escape(word)}\s*=")
    for number in range(len(lines) - 1, 0, -1):
        line = lines[number - 1]
        if key.match(line):
            says = f"`{word}` and [[{outer}.{word}]] cannot both stand in one {outer}"
            inside = (
                f"write `to` in each [[{outer}.port]]" if word == "port" else f"say it in [[{outer}.{word}]]"
            )
            return says, f"{inside}, and take `{word}` out here", number
        above = _HEADER.match(line)
        if above is not None and (above[1] != outer or above[2] is None):
            return None
    return None


def _lower(text: str) -> str:
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]  # "TOML ..." stays


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
        self._strangers: set[Path] = set()

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
        rows = self.rows(spec_of(Head), raw, ("plan",))
        self._only_one(rows, ("plan",), "a plan is one")
        return Head(path=("plan",), stated=frozenset(raw), **(rows[0].values if rows else {}))

    def _only_one(self, rows: list[_Row], path: Path, why: str) -> None:
        if rows and (by := rows[0].by):
            self.problem((*path, by), f'"{by}" deals out {len(rows)} value(s), but {why}', "give one value")

    def _own_parts(self, items: Any) -> None:
        if not _is_tables(items):
            self.problem(("part",), '"part" is a list of tables', "write each one under [[part]]")
            return
        for i, item in enumerate(items):
            path: Path = ("part", i)
            name, kind = item.get("id"), item.get("kind")
            if type(name) is not str or not name:
                self.problem(path, "this part has no id", 'add id = "..."')
            elif self.shelf.is_own(name):
                self.problem((*path, "id"), f"two parts of this plan are called {name}", "rename one of them")
            elif type(kind) is not str or kind not in PART_KINDS:
                near = nearest(str(kind), PART_KINDS)
                self.problem(
                    (*path, "kind"), f"part {name} must say its kind", f'write kind = "{near or "node"}"'
                )
            elif not _is_source(item.get("source", "")):
                self.problem((*path, "source"), f"the source of part {name} is no text", _SOURCE)
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

    def items(self, kind: str, spec: Spec, raw: dict[str, Any], path: Path) -> list[Any]:
        """Return the structs of one table: one, or as many as its spans deal out."""
        stated = frozenset(raw)
        self._missing(spec, raw, path)
        found = []
        for row in self.rows(spec, raw, path):
            part_id = row.values.get("part")
            part = self._part(part_id, kind, (*path, "part")) if part_id else _EMPTY
            found.append(self._build(spec, path, stated, row, part))
        return found

    def _build(self, spec: Spec, path: Path, stated: frozenset[str], row: _Row, part: _Row) -> Any:
        if not row.flat and not row.inner:  # most things say little that is not their part's
            return spec.struct(path=path, stated=stated, **{**part.whole, **row.values})
        inner = row.inner
        if part.inner and row.inner:
            self._overridden(row, part)
            inner = _merge(part.inner, row.inner)
        elif part.inner:
            inner = part.inner
        values = {**part.whole, **row.values}
        if spec.flat and (row.flat or any("." in attribute for attribute in row.inner)):
            values[spec.flat[0]] = _flat(spec.flat, {**part.flat, **row.flat}, inner, path, stated)
        return spec.struct(path=path, stated=stated, **values | _tuples(inner))

    def _overridden(self, row: _Row, part: _Row) -> None:
        """Tell of inner tables that should override one of the part's and name none that it has."""
        for attribute in _OF_THE_PART & row.inner.keys() & part.inner.keys():
            known = [table.id for table in part.inner[attribute]]
            count = row.values.get("ports", part.values.get("ports", 0)) if attribute == "port_" else 0
            for table in row.inner[attribute]:
                at = (*table.path, "id")
                if table.id in known or not table.id or at in self._strangers:
                    continue
                if table.id.isdecimal() and 1 <= int(table.id) <= count:
                    continue  # a port that its part counts and does not describe
                self._strangers.add(at)
                word = attribute.rstrip("_")
                near = nearest(table.id, known)
                says = f"part {row.values['part']} has no {word} {table.id}; it has {listed(known)}"
                remedy = f'write id = "{near}"' if near else "write the id of the one that is to be changed"
                self.problem(at, says, remedy)

    def _missing(self, spec: Spec, raw: dict[str, Any], path: Path) -> None:
        for word in spec.must:
            if word not in raw:
                kind = spec.keys[word][1].kind
                example = f' = "{kind.example}"' if kind.example else f": {kind.expected}"
                self.problem(path, f"{_noun(path)} lacks its {word}", f"add {word}{example}")

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
            near = self._near_part(name, kind)
            remedy = f'did you mean "{near}"?' if near else ""
            remedy = f"{remedy} `coldcheck parts` lists the shelf".strip()
            self.problem(path, f'no part is called "{name}"', remedy)
        elif part.kind != kind:
            self.problem(path, f"part {name} is a {part.kind}, not a {kind}", f"put it under [[{part.kind}]]")
        else:
            self._parts[name, kind] = self._read_part(part, path)
        return self._parts[name, kind]

    def _near_part(self, name: str, kind: str) -> str:
        try:
            return nearest(name, self.shelf.names(kind)) or nearest(name, self.shelf.names())
        except ShelfBroken:  # a file that does not hold the part may be broken too
            return ""

    def _read_part(self, part: Part, path: Path) -> _Row:
        spec = spec_of(PART_KINDS[part.kind])
        where = part.path if part.file is None else path
        before = len(self.problems)
        rows = self.rows(spec, part.raw, where, of_part=True)
        self._only_one(rows, where, f"part {part.id} is one")
        if part.file is not None:
            self.problems[before:] = [
                Problem(f"part {part.id} in {part.file}: {p.says}", p.remedy, path)
                for p in self.problems[before:]
            ]
        if not rows:
            return _Row({}, {}, {})
        row = rows[0]
        if part.file is not None:
            for tables in row.inner.values():
                for table in tables:
                    table.path = ()  # it stands on the shelf, nowhere in the plan
        row.whole = {**row.values, **_tuples(row.inner)}
        if spec.flat:
            row.whole[spec.flat[0]] = _flat(spec.flat, row.flat, row.inner)
        return row

    def rows(self, spec: Spec, raw: dict[str, Any], path: Path, of_part: bool = False) -> list[_Row]:
        """Return the values of one table, dealt out over its spans: none where the spans do not fit."""
        row = _Row({}, {}, {})
        columns: list[_Column] = []
        keys, values = spec.keys, row.values
        for word, value in raw.items():
            if type(value) is list and value and word in spec.inner and isinstance(value[0], dict):
                attribute, key = spec.inner[word]
                if self._may(key, word, path, of_part):
                    row.inner[attribute] = self._inner(key, word, value, path, of_part)
                continue
            target = values
            entry = keys.get(word)
            if entry is None:
                target = row.flat
                entry = spec.flat_keys.get(word)
                if entry is None:
                    self._unknown(spec, word, path, of_part)
                    continue
            attribute, key = entry
            if of_part and not self._may(key, word, path, of_part):
                continue
            kind = key.kind
            try:
                if kind.deals and (
                    type(value) is list or (type(value) is str and (" .. " in value or ", " in value))
                ):
                    dealt = _dealt(kind, value, _names_several(raw))
                    if dealt is not None:
                        columns.append(_Column(word, (*path, word), target is row.flat, attribute, dealt))
                        continue
                target[attribute] = kind.read(value)
            except Wrong as wrong:
                self._wrong(spec, path, word, value, wrong)
        if row.inner:
            self._spreads(row, columns)
        return self._deal(path, row, columns) if columns else [row]

    def _may(self, key: Key, word: str, path: Path, of_part: bool) -> bool:
        if of_part and not key.part:
            self.problem((*path, word), f'"{word}" is said of a thing, not of a part', "take it out")
            return False
        return True

    def _spreads(self, row: _Row, columns: list[_Column]) -> None:
        """Add the inner tables that are dealt out to the columns.

        Tables without a name of their own, the wires of a harness, are simply several where nothing else is dealt.
        """
        for attribute, tables in row.inner.items():
            spreads = [t.column for t in tables if type(t) is _Spread]
            if spreads and not columns and not hasattr(spreads[0].values[0], "id"):
                each = (t.column.values if type(t) is _Spread else [t] for t in tables)
                row.inner[attribute] = [table for several in each for table in several]
            else:
                columns += spreads

    def _deal(self, path: Path, row: _Row, columns: list[_Column]) -> list[_Row]:
        first = next((column for column in columns if column.word == "id"), columns[0])
        count = len(first.values)
        if first.word != "id" and "id" in row.values and count > 1 and len(path) == 2:
            says = f'"{first.word}" deals out {count} values over one thing'
            remedy = f'give the id as a span too, like "{row.values["id"]}1 .. {row.values["id"]}{count}"'
            self.problem(first.at, says, remedy)
            return []
        uneven = [column for column in columns if len(column.values) != count]
        for column in uneven:
            says = f'"{column.word}" deals out {len(column.values)} values, but "{first.word}" has {count}'
            hint = _decimal_hint([column.values], {count})
            self.problem(column.at, says, f"make both {count} long, or give one value for all{hint}")
        return [] if uneven else [_pick(row, columns, first.word, i) for i in range(count)]

    def _inner(self, key: Key, word: str, items: list[Any], path: Path, of_part: bool) -> list[Any]:
        spec = spec_of(key.kind.struct)  # type: ignore[attr-defined]
        found: list[Any] = []
        for i, item in enumerate(items):
            here = (*path, word, i)
            if not isinstance(item, dict):
                self.problem(here, f'"{word}" mixes tables with other values', "write each one as a table")
                continue
            stated = frozenset(item)
            self._missing(spec, item, here)
            rows = self.rows(spec, item, here, of_part)
            built = [self._build(spec, here, stated, row, _EMPTY) for row in rows]
            if len(built) > 1 and rows[0].by != "id":
                by = rows[0].by
                found.append(_Spread(_Column(by, (*here, by), False, "", built)))
            else:
                found.extend(built)
        return found

    def _unknown(self, spec: Spec, word: str, path: Path, of_part: bool) -> None:
        if len(self.problems) >= _MOST_PROBLEMS:
            return
        if word in spec.inner:
            last = [x for x in path if type(x) is str]
            self.problem((*path, word), f'"{word}" is a table', f"write it as [[{'.'.join([*last, word])}]]")
            return
        known = spec.words()
        near = nearest(word, known)
        noun = "a part of this kind" if of_part else _noun(path)
        remedy = f'did you mean "{near}"?' if near else f"keys: {', '.join(known)}"
        self.problem((*path, word), f'{noun} has no key "{word}"', remedy)

    def _wrong(self, spec: Spec, path: Path, word: str, value: Any, wrong: Wrong) -> None:
        if isinstance(value, dict) and word in spec.inner:
            self._unknown(spec, word, path, False)
            return
        written = _shorten(value)
        self.problem((*path, word), f"{word} = {written} is not {wrong.expected}", wrong.hint)


def _flat(
    flat: tuple[str, type[Table]],
    values: dict[str, Any],
    inner: dict[str, list[Any]],
    path: Path = (),
    stated: frozenset[str] = frozenset(),
) -> Table:
    """Return the struct of the keys that stand in another table, with the inner tables that are its own."""
    below = {word.partition(".")[2]: tuple(tables) for word, tables in inner.items() if "." in word}
    return flat[1](path=path, stated=stated, **values | below)


def _tuples(inner: dict[str, list[Any]]) -> dict[str, tuple[Any, ...]]:
    return {word: tuple(tables) for word, tables in inner.items() if "." not in word}


def _pick(row: _Row, columns: list[_Column], by: str, i: int) -> _Row:
    """Return the values of the thing number ``i`` of a table that is dealt out."""
    inner = {
        word: [t.column.values[i] if type(t) is _Spread else t for t in tables]
        for word, tables in row.inner.items()
    }
    picked = _Row({**row.values}, {**row.flat}, inner, by)
    for column in columns:
        if column.attribute:
            (picked.flat if column.flat else picked.values)[column.attribute] = column.values[i]
    return picked


def _names_several(raw: dict[str, Any]) -> bool:
    """Say whether a table is of several things by its id, so that names parted by commas are one for each."""
    name = raw.get("id")
    return type(name) is list or (type(name) is str and (is_span(name) or is_list(name)))


def _dealt(kind: Kind, value: Any, several: bool) -> list[Any] | None:
    """Return the values dealt out by a span or a list, one for each thing; None where nothing is dealt."""
    if type(value) is str:
        one = kind.kind if isinstance(kind, Several) else kind
        if not (is_span(value) or (several and one.lists and is_list(value))):
            return None
        read = [one.read(text) for text in members(value)]
        return [(x,) for x in read] if isinstance(kind, Several) else read
    if not isinstance(kind, Several):
        if not value:
            raise Wrong(kind.expected, "the list is empty: leave the key out instead")
        return None if kind.several else [kind.read(x) for x in value]
    one = kind.kind
    columns = [
        members(x) if type(x) is str and (is_span(x) or (several and one.lists and is_list(x))) else None
        for x in value
    ]
    counts = {len(c) for c in columns if c is not None}
    if not counts:
        return None
    if len(counts) != 1:
        lengths = " and ".join(map(str, sorted(counts)))
        hint = f"they have {lengths} members: write each with one member for every thing"
        hint += _decimal_hint([c for c in columns if c is not None], counts)
        raise Wrong("a list of spans of one length", hint)
    count = counts.pop()
    return [
        tuple(kind.kind.read(c[i] if c is not None else x) for c, x in zip(columns, value, strict=True))
        for i in range(count)
    ]


def _decimal_hint(columns: list[list[Any]], counts: set[int]) -> str:
    """Return more of a hint where the ends of hexadecimal addresses were counted in decimal; "" where they were not."""
    for column in columns:
        first, last = (x[0] if type(x) is tuple and x else x for x in (column[0], column[-1]))
        for count in counts - {len(column)} if type(first) is str and type(last) is str else ():
            if words := in_decimal(first, last, count):
                return f"; {words}"
    return ""


#: Tables that belong to a thing as it is made: where its part has some, a plan changes these and adds none.
_OF_THE_PART = {"rail", "outlet", "inlet", "port_", "end"}


def _merge(below: dict[str, list[Any]], above: dict[str, list[Any]]) -> dict[str, list[Any]]:
    """Return the inner tables of a part with those of the thing laid over them, matched by id."""
    merged = dict(below)
    for attribute, tables in above.items():
        rows = {getattr(t, "id", i): t for i, t in enumerate(below.get(attribute, ()))}
        again = []  # a name given twice by the plan itself stays two tables: linking reports the clash
        written = set()
        for i, table in enumerate(tables):
            name = getattr(table, "id", len(rows) + i)
            if name in written:
                again.append(table)
            else:
                rows[name] = _over(rows[name], table) if name in rows else table
            written.add(name)
        merged[attribute] = [*rows.values(), *again]
    return merged


def _over(below: Any, above: Any) -> Any:
    spec = spec_of(type(above))
    # A word that is no key is told where it is read; here it changes nothing.
    entries = (spec.keys.get(word) or spec.inner.get(word) for word in above.stated)
    stated = {entry[0] for entry in entries if entry}
    changed = {name: getattr(above, name) for name in [*stated, "path", "stated"]}
    return msgspec.structs.replace(below, **changed)


def _is_tables(items: Any) -> bool:
    return isinstance(items, list) and all(isinstance(item, dict) for item in items)


_SOURCE = 'write one text, or under [part.source] one for each key, as in volts = "data sheet"'


def _is_source(source: Any) -> bool:
    texts = source.values() if isinstance(source, dict) else (source,)
    return all(type(text) is str for text in texts)


def _noun(path: Path) -> str:
    names = [x for x in path if type(x) is str]
    if len(path) == 1:
        return f"[{names[0]}]"
    return f"this {names[-1]}" if type(path[-1]) is int else ".".join(names)


def _shorten(value: Any, depth: int = 0) -> str:
    import datetime

    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, dict):
        text = "a table"
    elif isinstance(value, list):
        shown = [_shorten(x, depth + 1) for x in value[:_SHOWN]] if depth < 2 else ["..."]
        text = f"[{', '.join(shown)}{', ...' if len(value) > _SHOWN else ''}]"
    elif isinstance(value, (datetime.date, datetime.time)):
        text = str(value)
    else:
        text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


#: So many values of a list are shown in a message.
_SHOWN = 4


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
    rows = _Reader(shelf).rows(spec_of(Plug), part.raw, (), of_part=True)
    return Plug(id=name, **rows[0].values) if rows else None

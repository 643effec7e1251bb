"""What `why` and `parts` show: rules and parts explained."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from coldcheck.engine.loading import Rulebook
from coldcheck.engine.rules import Rule
from coldcheck.plan.parts import Part
from coldcheck.plan.tables import TABLES, Head, Plug, Spec, Table, spec_of

from .text import Line

__all__ = ["EXPLAINED", "every_part", "every_rule", "one_part", "one_rule", "one_table"]

#: What can be asked for by the name of a table: those of a plan, its head, and plugs, which are parts only.
EXPLAINED: dict[str, type[Table]] = {"plan": Head, **TABLES, "plug": Plug}


def every_rule(book: Rulebook) -> Iterator[Line]:
    """Yield a line for each rule: its name and what it demands."""
    width = max((len(name) for name in book.rules), default=0)
    for name, rule in sorted(book.rules.items()):
        yield [("place", f"{name:<{width}}  "), ("", rule.demands)]
    for broken in book.broken:
        yield [("error", f"{broken.name} cannot be used: "), ("", broken.why)]


def one_rule(rule: Rule) -> Iterator[Line]:
    """Yield what a rule demands, why, by which formula and source, and plans that it flags and passes."""
    yield [("place", rule.name), ("label", f"  highest level {rule.level}, judges each of: {rule.over}")]
    yield [("", "")]
    for text in rule.text.splitlines():
        yield [("", text)]
    if rule.flagged:
        yield from _example("a plan that it flags", "error", rule.flagged[0].plan)
    good = next((case.mended for case in rule.flagged if case.mended), rule.clean[0] if rule.clean else "")
    if good:
        yield from _example("a plan that it passes", "good", good)


def one_table(name: str) -> Iterator[Line]:
    """Yield every key of a table, what it means and how it is written; tables inside it after that."""
    struct = EXPLAINED[name]
    brackets = "[plan]" if name == "plan" else "[[part]] of kind plug" if name == "plug" else f"[[{name}]]"
    yield from _keys(brackets, spec_of(struct), struct)


def _keys(title: str, spec: Spec, struct: type[Table]) -> Iterator[Line]:
    yield [("place", title), ("label", f"  {(struct.__doc__ or '').splitlines()[0]}")]
    keys = {**spec.keys, **spec.flat_keys}
    wide = max(len(word) for word in keys)
    for word, (_, key) in keys.items():
        must = " (must be given)" if key.must else ""
        yield [
            ("place", f"    {word:<{wide}}  "),
            ("", f"{key.about}{must}"),
            ("label", f"; {key.kind.expected}"),
        ]
    for word, (_, key) in spec.inner.items():
        inner = key.kind.struct  # type: ignore[attr-defined]
        yield [("", "")]
        yield from _keys(f"{title[:-2]}.{word}]]" if title.endswith("]]") else word, spec_of(inner), inner)


def _example(title: str, role: str, plan: str) -> Iterator[Line]:
    yield [("", "")]
    yield [(role, title)]
    for text in plan.strip().splitlines():
        yield [("", f"    {text}".rstrip())]


def every_part(parts: Iterable[Part]) -> Iterator[Line]:
    """Yield a line for each part: its name, kind and title."""
    parts = sorted(parts, key=lambda part: (part.kind, part.id))
    width = max(len(part.id) for part in parts)
    for part in parts:
        yield [
            ("place", f"{part.id:<{width}}  "),
            ("label", f"{part.kind:<10}"),
            ("", part.raw.get("title", "")),
        ]


def one_part(part: Part) -> Iterator[Line]:
    """Yield every figure of a part beside its source."""
    yield [("place", part.id), ("label", f"  {part.kind}")]
    yield [("", part.raw.get("title", ""))]
    if "note" in part.raw:
        yield [("", part.raw["note"])]
    rows = list(_rows(part.raw, "", part.source))
    wide = max((len(key) for key, _, _ in rows), default=0)
    value_wide = max((len(value) for _, value, _ in rows), default=0)
    for key, value, source in rows:
        yield [("place", f"    {key:<{wide}}  "), ("", f"{value:<{value_wide}}  "), ("label", source)]


def _rows(raw: dict[str, Any], base: str, source: dict[str, str]) -> Iterator[tuple[str, str, str]]:
    for key, value in raw.items():
        if key in ("title", "note", "id"):
            continue
        if isinstance(value, list) and value and isinstance(value[0], dict):
            for item in value:
                yield from _rows(item, f"{base}{key}.{item.get('id', '')}.", source)
            continue
        yield f"{base}{key}", _shown(value), source.get(f"{base}{key}", "")


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return ", ".join(map(_shown, value))
    if isinstance(value, dict):
        return ", ".join(f"{k} {_shown(v)}" for k, v in value.items())
    return str(value)

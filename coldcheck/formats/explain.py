"""What `why` and `parts` show: rules, tables and parts explained."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from typing import Any

from coldcheck.engine.loading import Rulebook
from coldcheck.engine.rules import Rule
from coldcheck.plan.parts import Part
from coldcheck.plan.tables import PART_KINDS, TABLES, Head, Plug, Spec, Table, spec_of

from .text import Line

__all__ = [
    "EXPLAINED", "OF_THE_ENGINE", "below", "every_part", "every_rule", "one_of_the_engine", "one_part", "one_rule",
    "one_table",
]  # fmt: skip

#: What can be asked for by the name of a table: those of a plan, its head, and plugs, which are parts only.
EXPLAINED: dict[str, type[Table]] = {"plan": Head, **TABLES, "plug": Plug}

#: Findings that no rule gives: what they mean and what to do. None of them can be waived.
OF_THE_ENGINE = {
    "plan.form": (
        "A plan can be read: it is TOML, every key exists, every value is of its kind.",
        "A plan with problems of form is not judged at all, and the exit status is 2. All problems are told at once. "
        "`coldcheck why node` lists the keys of a table and how each is written.",
    ),
    "plan.empty": (
        "A plan names at least one thing.",
        "Nothing is found in an empty plan, which proves nothing. Start with a [[feed]] and a [[node]].",
    ),
    "engine.raised": (
        "A rule or a working failed: it raised an error of its own.",
        "The fault is in the rule, not in the plan. All other rules have reported; what this one judges, and what "
        "needs its working, is not judged. Mend the rule, or report it to whoever keeps it.",
    ),
    "engine.cannot_load": (
        "A module of rules, a rule or a working could not be taken in.",
        "The plan is judged by fewer rules than it looks, so this is an error. Mend the module, or remove it.",
    ),
    "waivers.ended": (
        "A waiver is past its last day, and what it covered is still found.",
        "It accepts nothing any more. Mend what it covered, or look at it again and set a new last day.",
    ),
    "waivers.idle": (
        "A waiver meets nothing: what it accepted is no longer found.",
        "Take it out, so that it does not hide the same slip when that is made again.",
    ),
    "waivers.unknown_rule": (
        "A waiver names a rule that does not exist.",
        "It accepts nothing. `coldcheck why` lists the rules.",
    ),
    "waivers.unknown_place": (
        "A waiver is written for a place that the plan does not have.",
        "It accepts nothing. `at` names a thing, or one of its points; a thing covers its points.",
    ),
    "waivers.too_grave": (
        "What is found at the place of a waiver is graver than the waiver accepts.",
        'A waiver accepts a warning, and an open finding that leaves one, unless it says level = "error". What was '
        "written for 9 % left must not hide a rail that is overloaded later.",
    ),
    "waivers.far": (
        "The last day of a waiver lies more than two years ahead.",
        "A waiver is looked at again at least every two years: a box changes, and why something was accepted is "
        "forgotten. Two years is a choice of ours, not a standard's. The waiver holds all the same.",
    ),
}


def every_rule(book: Rulebook, area: str = "") -> Iterator[Line]:
    """Yield a line for each rule, or each of one area: its name and what it demands."""
    rules = {name: rule for name, rule in sorted(book.rules.items()) if area in ("", rule.area)}
    width = max((len(name) for name in rules), default=0)
    for name, rule in rules.items():
        yield [("place", f"{name:<{width}}  "), ("", rule.demands)]
    for broken in book.broken:
        yield [("error", f"{broken.name} cannot be used: "), ("", broken.why)]


def one_of_the_engine(name: str) -> Iterator[Line]:
    """Yield what a finding means that no rule gives."""
    says, more = OF_THE_ENGINE[name]
    yield [("place", name), ("label", "  told by the engine, not by a rule; it cannot be waived")]
    for paragraph in (says, more):
        yield [("", "")]
        for text in textwrap.wrap(paragraph, _WIDE, break_on_hyphens=False):
            yield [("", text)]


_WIDE = 110


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


def one_table(name: str) -> Iterator[Line] | None:
    """Return the lines on a table, on one inside it (``supply.rail``) or on parts; None where it is no table.

    They have every key, what it means and how it is written; tables inside it after that.
    """
    first, *inner = name.split(".")
    if first == "part":
        return _parts(inner)
    struct = EXPLAINED.get(first)
    brackets = f"[[{name}]]"
    for word in inner:
        entry = spec_of(struct).inner.get(word) if struct else None
        struct = entry[1].kind.struct if entry else None  # type: ignore[attr-defined]
    if struct is None:
        return None
    if not inner:
        brackets = {"plan": "[plan]", "plug": "[[part]] of kind plug"}.get(name, brackets)
    return _keys(brackets, spec_of(struct), struct)


_OF_PARTS = {
    "id": ("the name that things name it by (must be given)", "text"),
    "kind": ("the table that such a thing stands in (must be given)", "one of " + ", ".join(PART_KINDS)),
    "source": ("where the figures come from", "one text, or under [part.source] one for each key"),
}


def below(name: str) -> list[str]:
    """Return what can stand behind the first word of a name and a dot: inner tables, or kinds of part."""
    first = name.partition(".")[0]
    if first == "part":
        return list(PART_KINDS)
    return list(spec_of(EXPLAINED[first]).inner) if first in EXPLAINED else []


def _parts(kind: list[str]) -> Iterator[Line] | None:
    if not kind:
        return _every_kind()
    struct = PART_KINDS.get(kind[0]) if len(kind) == 1 else None
    return None if struct is None else _one_kind(kind[0], struct)


def _head_of_parts(title: str) -> Iterator[Line]:
    yield [("place", title), ("label", "  A part of your own: a kind of thing with its ratings.")]
    for word, (about, expected) in _OF_PARTS.items():
        yield [("place", f"    {word:<6}  "), ("", about), ("label", f"; {expected}")]


def _every_kind() -> Iterator[Line]:
    yield from _head_of_parts("[[part]]")
    yield [("", "")]
    yield [("", "and the keys of its kind; `coldcheck why part.supply` explains those of a supply:")]
    wide = max(map(len, PART_KINDS))
    for kind, struct in PART_KINDS.items():
        words = ", ".join(_of_a_part(spec_of(struct)))
        for i, text in enumerate(textwrap.wrap(words, _WIDE - wide - 6)):
            yield [("place", f"    {'' if i else kind:<{wide}}  "), ("", text)]


def _one_kind(kind: str, struct: type[Table]) -> Iterator[Line]:
    yield from _head_of_parts(f"[[part]] of kind {kind}")
    yield [("", "")]
    yield from _keys("and what a part of this kind may state", spec_of(struct), struct, of_part=True)


def _of_a_part(spec: Spec) -> list[str]:
    """Return the keys that a part may state."""
    places = (spec.keys, spec.inner, spec.flat_keys)
    return [w for w in spec.words() if any(w in place and place[w][1].part for place in places)]


def _keys(title: str, spec: Spec, struct: type[Table], of_part: bool = False) -> Iterator[Line]:
    yield [("place", title), ("label", f"  {(struct.__doc__ or '').splitlines()[0]}")]
    keys = {**spec.keys, **spec.flat_keys}
    if of_part:
        keys = {word: entry for word, entry in keys.items() if entry[1].part}
    wide = max((len(word) for word in keys), default=0)
    for word, (_, key) in keys.items():
        must = " (must be given)" if key.must else ""
        yield [
            ("place", f"    {word:<{wide}}  "),
            ("", f"{key.about}{must}"),
            ("label", f"; {key.kind.expected}"),
        ]
    for word, (_, key) in spec.inner.items():
        if of_part and not key.part:
            continue
        inner = key.kind.struct  # type: ignore[attr-defined]
        below = f"{title[:-2]}.{word}]]" if title.endswith("]]") else f"[[part.{word}]]" if of_part else word
        yield [("", "")]
        yield from _keys(below, spec_of(inner), inner, of_part)


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
    value_wide = min(_WIDEST_VALUE, max((len(value) for _, value, _ in rows), default=0))
    for key, value, source in rows:
        # A connector of forty pins is longer than any screen is wide.
        for i, text in enumerate(textwrap.wrap(value, _WIDEST_VALUE, break_on_hyphens=False) or [""]):
            yield [
                ("place", f"    {'' if i else key:<{wide}}  "),
                ("", f"{text:<{value_wide}}  "),
                ("label", "" if i else source),
            ]


_WIDEST_VALUE = 48


def _rows(raw: dict[str, Any], base: str, source: dict[str, str]) -> Iterator[tuple[str, str, str]]:
    for key, value in raw.items():
        if key in ("title", "note", "id"):
            continue
        if isinstance(value, list) and value and isinstance(value[0], dict):
            for n, item in enumerate(value, 1):
                yield from _rows(item, f"{base}{key}.{item.get('id', n)}.", source)
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

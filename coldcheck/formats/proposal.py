"""What the planner proposes, for people and for programs: the change line by line, what it came to, what is left."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck import __version__
from coldcheck.engine.findings import Finding
from coldcheck.plan.edit import Edit, Put
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.planner.choose import Choice
from coldcheck.planner.draft import Figure, Left
from coldcheck.planner.fill import Filling, Impossible
from coldcheck.planner.mend import Mending
from coldcheck.planner.trial import in_numbers

from .difference import changes, plain_changes
from .text import Line

__all__ = [
    "choices",
    "choices_document",
    "filled",
    "filled_document",
    "impossible",
    "mended",
    "mended_document",
]

_INDENT = " " * 4


def mended(name: str, mending: Mending, written: bool) -> Iterator[Line]:
    """Yield what mending a plan came to."""
    yield from changes(name, mending.before.text, mending.after.text)
    for finding in mending.made:
        yield _row("mended", f"{finding.rule}: {finding.says}", "good")
        if old := _built(mending.before.plan, finding.edits):
            yield _row("rework", f"{listed(old)} exists already; this changes how it is built", "warning")
    for refused in mending.refused:
        yield _row("kept", f"{refused.finding.rule}: {refused.finding.says}")
        yield _row("", f"its remedy is not made: {refused.why}")
    yield from _lint(mending.before, mending.after)
    yield _last(name, mending.changed, written, f"{_many(len(mending.made), 'finding')} mended")


def filled(name: str, filling: Filling, written: bool) -> Iterator[Line]:
    """Yield what filling a plan came to."""
    yield from changes(name, filling.before.text, filling.after.text)
    for figure in filling.figures:
        yield _row("reached", _figure(figure))
    if filling.moved:
        told = f"{listed(filling.moved)}: plugged into another port, so that all have one that suits"
        yield _row("moved", told, "warning")
    for left in filling.left:
        yield _row("left", f"{listed(list(left.things))}: {left.key}: {left.why}", "warning")
    for finding in filling.worse:
        yield _row("worse", f"{finding.rule}: {finding.says}", "error")
    yield from _lint(filling.before, filling.after)
    yield _last(name, filling.changed, written, f"{_many(len(filling.puts), 'blank')} filled")


def impossible(name: str, error: Impossible) -> Iterator[Line]:
    """Yield why the blanks of a plan cannot be filled."""
    yield [
        ("place", f"{name}: "),
        ("error", "cannot be filled: "),
        ("", f"{error.stage}: these contradict each other"),
    ]
    for demand in error.demands:
        yield _row("demand", demand)
    for give in error.gives:
        yield _row("frees", give, "good")
    yield [("", "nothing is written")]


def choices(name: str, thing: str, found: list[Choice]) -> Iterator[Line]:
    """Yield the parts that a thing could be, those that carry all first."""
    able = [choice for choice in found if not choice.against]
    yield [("place", f"{name}: "), ("", f"{len(able)} of {len(found)} parts carry what hangs on {thing}")]
    width = max((len(choice.part) for choice in found), default=0)
    for choice in found:
        share = (
            f"{100 * (1 - choice.share):5.0f} % to spare" if choice.share is not None else "   no limit known"
        )
        now = ", in the plan now" if choice.now else ""
        role, told = ("good", f"{share}{now}") if not choice.against else ("", f"no{now}: {choice.against}")
        yield [(role, f"{_INDENT}{choice.part:<{width}}  {told}")]


def _row(label: str, text: str, role: str = "") -> Line:
    return [("label", f"{_INDENT}{label:<9}"), (role, text)]


def _lint(before: Any, after: Any) -> Iterator[Line]:
    if before.text != after.text:
        yield _row("before", in_numbers(before))
        yield _row("after", in_numbers(after))


def _last(name: str, changed: bool, written: bool, what: str) -> Line:
    if not changed:
        return [("place", f"{name}: "), ("", "nothing to change")]
    how = "written" if written else "nothing is written yet; --write does"
    return [("place", f"{name}: "), ("good" if written else "", f"{what}; {how}")]


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _figure(figure: Figure) -> str:
    value = _amount(figure.value, figure.unit)
    if figure.bound is None:
        return f"{figure.what}: {value}"
    gap = abs(figure.value - figure.bound) / max(abs(figure.value), 1e-9)
    if gap <= 1e-6:
        return f"{figure.what}: {value}, proven the best"
    bound = _amount(figure.bound, figure.unit)
    return f"{figure.what}: {value}; the best is no better than {bound} ({100 * gap:.2g} % away)"


def _amount(value: float, unit: str) -> str:
    return f"{value:.4g} {unit}".rstrip()


def _built(plan: Plan, edits: tuple[Edit, ...]) -> list[str]:
    """Return the things that exist already and that edits change."""
    places = {edit.path[:2] for edit in edits}
    return [
        t.id for t in plan.things.values() if getattr(t, "built", None) is not None and t.path[:2] in places
    ]


# --- for programs -------------------------------------------------------------------------------------------------


def mended_document(name: str, mending: Mending, written: bool) -> str:
    """Return what mending a plan came to as JSON."""
    return _document({
        **_common(name, mending, written),
        "mended": [_finding(finding) for finding in mending.made],
        "kept": [{**_finding(r.finding), "why": r.why} for r in mending.refused],
    })  # fmt: skip


def filled_document(name: str, found: Filling | Impossible, written: bool) -> str:
    """Return what filling a plan came to as JSON, or why it cannot be filled."""
    if isinstance(found, Impossible):
        return _document({"plan": name, "stage": found.stage, "demands": found.demands, "frees": found.gives})
    return _document({
        **_common(name, found, written),
        "edits": [{"put": list(put.path), "value": put.value} for put in found.puts],
        "reached": [msgspec.to_builtins(figure) for figure in found.figures],
        "left": [_left(left) for left in found.left],
        "moved": found.moved,
        "worse": [_finding(finding) for finding in found.worse],
    })  # fmt: skip


def choices_document(name: str, thing: str, found: list[Choice]) -> str:
    """Return the parts that a thing could be as JSON."""
    return _document(
        {"plan": name, "thing": thing, "parts": [msgspec.to_builtins(choice) for choice in found]}
    )


def _document(whole: dict[str, Any]) -> str:
    data = msgspec.json.encode({"format": 1, "coldcheck": __version__, **whole})
    return msgspec.json.format(data, indent=2).decode()


def _common(name: str, found: Any, written: bool) -> dict[str, Any]:
    return {
        "plan": name,
        "changed": found.changed,
        "written": written,
        "difference": plain_changes(name, found.before.text, found.after.text),
        "before": dict(zip(("error", "warning", "note"), found.before.weight(), strict=True)),
        "after": dict(zip(("error", "warning", "note"), found.after.weight(), strict=True)),
    }


def _left(left: Left) -> dict[str, Any]:
    return {"things": list(left.things), "key": left.key, "why": left.why}


def _finding(finding: Finding) -> dict[str, Any]:
    shown = {
        "rule": finding.rule,
        "level": finding.level,
        "subjects": list(finding.subjects),
        "says": finding.says,
    }
    edits = [
        {"put": list(e.path), "value": e.value} if isinstance(e, Put) else {"take": list(e.path)}
        for e in finding.edits
    ]
    return {**shown, "edits": edits}

"""Findings for people: the GNU error form, so that an editor can jump to it, and what stands behind it below.

    plan.toml:31:1: error: rail disks.12v is asked for 8.4 A ...
        rule     spinup.rail_peak
        because  four drives start with power
        remedy   let the carrier hold the drives back

Lines are made once, as pieces with a role; a terminal gives each role a colour, a pipe gets them plain.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from coldcheck.engine.findings import Finding

from .report import Located, PlanReport

__all__ = ["Line", "lines", "plain", "styled"]

#: Pieces of one line: (role, text).
Line = list[tuple[str, str]]

_STYLES = {
    "error": "bold red",
    "warning": "bold yellow",
    "note": "bold cyan",
    "open": "bold magenta",
    "review": "bold blue",
    "place": "bold",
    "label": "dim",
    "waived": "dim",
    "good": "bold green",
    "added": "green",
    "removed": "red",
    "hunk": "cyan",
}
_INDENT = " " * 4


def lines(reports: Iterable[PlanReport], show_waived: bool = False) -> Iterator[Line]:
    """Yield the lines of a whole lint, the last one saying what was judged and what was not."""
    reports = list(reports)
    for report in reports:
        for located in report.found:
            if located.finding.waived and not show_waived:
                continue
            yield from _finding(report, located)
    yield from _last(reports)


def _finding(report: PlanReport, located: Located) -> Iterator[Line]:
    finding = located.finding
    grade = finding.level or finding.kind
    if finding.kind == "open":
        grade = "open"
    head = f"{report.name}:{located.line}:{located.column}: "
    yield [("place", head), (grade, f"{_grade(finding)}: "), ("", finding.says)]
    rows = [
        ("rule", finding.rule),
        ("waived", finding.waived),
        ("because", finding.because),
        ("lacking", ", ".join(finding.missing) if finding.kind == "open" else ""),
        ("remedy", finding.remedy),
        ("source", finding.basis),
    ]
    for label, text in rows:
        if text:
            yield [("label", f"{_INDENT}{label:<9}"), ("", text)]
    for line, column, says in located.related:
        yield [("label", f"{_INDENT}{'see':<9}"), ("", f"{report.name}:{line}:{column}: {says}")]


def _grade(finding: Finding) -> str:
    if finding.kind == "open":
        return f"open, {finding.leaves} undecided"
    return finding.level or finding.kind


def _last(reports: list[PlanReport]) -> Iterator[Line]:
    judged = [r for r in reports if not r.unreadable]
    unread = len(reports) - len(judged)
    counts: dict[str, int] = {}
    for report in reports:
        for grade, number in report.count().items():
            counts[grade] = counts.get(grade, 0) + number
    what = [_many(counts[g], g) for g in ("error", "warning", "note") if counts.get(g)]
    what += [f"{counts['open']} open"] if counts.get("open") else []
    what += [f"{counts['review']} to review"] if counts.get("review") else []
    what += [f"{counts['waived']} waived"] if counts.get("waived") else []
    pieces: Line = []
    if judged:
        rules = max(r.judged.rules for r in judged if r.judged)
        verdicts = sum(r.judged.verdicts for r in judged if r.judged)
        seconds = sum(r.judged.seconds for r in judged if r.judged)
        pieces.append(
            ("", f"judged {_many(len(judged), 'plan')} by {_many(rules, 'rule')}, {verdicts} verdicts, ")
        )
        pieces.append(("", f"{seconds:.2f} s: "))
    grave = next((g for g in ("error", "warning", "open", "note", "review") if counts.get(g)), "good")
    if what or judged:
        pieces.append((grave, ", ".join(what) if what else "nothing found"))
    if unread:
        pieces.append(
            ("error", f"{'; ' if pieces else ''}{_many(unread, 'plan')} cannot be read and not judged")
        )
    yield [*pieces, ("", _rest(judged))]


def _rest(judged: list[PlanReport]) -> str:
    missing = list(
        dict.fromkeys(m for r in judged for f in r.found if not f.finding.waived for m in f.finding.missing)
    )
    skipped = list(dict.fromkeys(s for r in judged if r.judged for s in r.judged.skipped))
    text = ""
    if missing:
        shown = missing if len(missing) <= 5 else [*missing[:4], f"{len(missing) - 4} more"]
        text += f"; open for want of {', '.join(shown)}"
    if skipped:
        text += f"; not judged: {', '.join(skipped)}"
    return text


def _many(number: int, noun: str) -> str:
    return f"{number} {noun}" + ("" if number == 1 else "s")


def plain(line: Line) -> str:
    """Return a line without colours."""
    return "".join(text for _, text in line).rstrip()


def styled(line: Line) -> Any:
    """Return a line for rich, whose import is paid only where there is a terminal."""
    from rich.text import Text

    text = Text()
    for role, piece in line:
        text.append(piece, style=_STYLES.get(role, ""))
    return text

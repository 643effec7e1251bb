"""Findings as JSON, for programs: everything a finding holds, with numbers as numbers.

The document says its own ``format``; keys are added to it, never changed.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import msgspec

from coldcheck import __version__
from coldcheck.plan.edit import Edit, Put
from coldcheck.plan.quantities import Measure

from .report import Located, PlanReport

__all__ = ["document"]


def document(reports: Iterable[PlanReport]) -> str:
    """Return the whole lint as one JSON document, indented by two."""
    whole = {
        "format": 1,
        "coldcheck": __version__,
        "plans": [_plan(report) for report in reports],
    }
    return msgspec.json.format(msgspec.json.encode(whole), indent=2).decode()


def _plan(report: PlanReport) -> dict[str, Any]:
    judged = report.judged
    return {
        "plan": report.name,
        "readable": not report.unreadable,
        "findings": [_finding(located) for located in report.found],
        "counts": dict(report.count()),
        "judged": None
        if judged is None
        else {
            "rules": judged.rules,
            "verdicts": judged.verdicts,
            "skipped": list(judged.skipped),
            "seconds": round(judged.seconds, 4),
        },
    }


def _finding(located: Located) -> dict[str, Any]:
    finding = located.finding
    return {
        "rule": finding.rule,
        "kind": finding.kind,
        "level": finding.level,
        "leaves": finding.leaves,
        "line": located.line,
        "column": located.column,
        "path": list(finding.path),
        "subjects": list(finding.subjects),
        "says": finding.says,
        "found": _number(finding.found),
        "allowed": _number(finding.allowed),
        "because": finding.because,
        "missing": list(finding.missing),
        "remedy": finding.remedy,
        "edits": [_edit(edit) for edit in finding.edits],
        "source": finding.basis,
        "related": [{"line": line, "column": column, "says": says} for line, column, says in located.related],
        "waived": finding.waived or None,
    }


def _number(value: Measure | str | None) -> dict[str, Any] | None:
    if value is None:
        return None
    if isinstance(value, Measure):
        return {"value": value.value, "unit": value.unit, "text": str(value)}
    return {"text": value}


def _edit(edit: Edit) -> dict[str, Any]:
    if isinstance(edit, Put):
        return {"path": list(edit.path), "put": edit.value}
    return {"path": list(edit.path), "take": True}

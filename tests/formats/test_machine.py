"""JSON for programs: everything a finding holds, in a form that any JSON parser takes."""

from __future__ import annotations

import json
from typing import Any

import pytest

from coldcheck.engine.findings import Finding, Open
from coldcheck.formats.machine import document
from coldcheck.formats.report import Located, PlanReport
from coldcheck.plan.edit import Put, Take
from coldcheck.plan.quantities import Measure


def told(finding: Finding) -> dict[str, Any]:
    """Return a finding as a program reads it."""
    whole = json.loads(document([PlanReport("a.toml", [Located(finding, 3, 5, [(9, 2, "there")])], None)]))
    assert whole["format"] == 1
    found: dict[str, Any] = whole["plans"][0]["findings"][0]
    return found


def test_every_field() -> None:
    """Place, numbers, edits and related places are data; what is absent is null or empty, never left out."""
    finding = Finding(
        "error", (), "too much", rule="a.b", path=("node", 0, "lead"), subjects=("n1",), found=Measure(8.4, "A"),
        allowed="8 A", edits=(Put(("node", 0, "lead"), "18 AWG"), Take(("node", 0, "fuse"))), basis="a table",
    )  # fmt: skip
    assert told(finding) == {
        "rule": "a.b", "kind": "fail", "level": "error", "leaves": None, "line": 3, "column": 5,
        "path": ["node", 0, "lead"], "subjects": ["n1"], "says": "too much",
        "found": {"value": 8.4, "unit": "A", "text": "8.4 A"}, "allowed": {"text": "8 A"}, "because": "",
        "missing": [], "remedy": "",
        "edits": [{"path": ["node", 0, "lead"], "put": "18 AWG"}, {"path": ["node", 0, "fuse"], "take": True}],
        "source": "a table", "related": [{"line": 9, "column": 2, "says": "there"}], "waived": None,
    }  # fmt: skip


def test_an_open_finding() -> None:
    """An open finding has no level; it says which it leaves undecided and what is missing."""
    data = told(Open("warning", (), "unknown", missing=["n1 volts"]))
    assert (data["kind"], data["level"], data["leaves"], data["missing"]) == (
        "open",
        None,
        "warning",
        ["n1 volts"],
    )


@pytest.mark.parametrize("value", [float("inf"), float("-inf"), float("nan")])
def test_a_number_without_end_is_null(value: float) -> None:
    """JSON (RFC 8259, section 6) has no infinity: such a number is null, and its text still says what it is."""
    found = told(Finding("error", (), "x", found=Measure(value, "A")))["found"]
    assert found["value"] is None
    assert found["text"].endswith(" A")


def test_no_plans() -> None:
    """Nothing linted is a whole document too."""
    assert json.loads(document([]))["plans"] == []

"""What a lint finds, as a table: also what was accepted on purpose, and until when."""

from __future__ import annotations

from collections.abc import Sequence

from coldcheck.formats.report import Located

from .table import Cell, Column, Table

__all__ = ["findings"]

COLUMNS = (
    Column("line", "line"),
    Column("grade", "level"),
    Column("rule", "rule"),
    Column("says", "finding"),
    Column("found", "found"),
    Column("allowed", "allowed"),
    Column("remedy", "remedy"),
    Column("waived", "accepted because"),
)


def findings(found: Sequence[Located]) -> list[Table]:
    """Return the findings in the order of the plan, and apart from them those that waivers accept."""
    open_ones = [_row(each) for each in found if not each.finding.waived]
    accepted = [_row(each) for each in found if each.finding.waived]
    return [
        Table("findings", "findings", COLUMNS, open_ones, "a lint finds nothing"),
        Table("accepted", "accepted on purpose", COLUMNS, accepted, "nothing is waived"),
    ]


def _row(each: Located) -> tuple[Cell, ...]:
    finding = each.finding
    return (
        each.line, finding.level or finding.kind, finding.rule, finding.says,
        str(finding.found) if finding.found is not None else "",
        str(finding.allowed) if finding.allowed is not None else "",
        finding.remedy, finding.waived,
    )  # fmt: skip

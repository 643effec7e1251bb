"""What people read: the GNU error form, the lines below it, the last line."""

from __future__ import annotations

from typing import Any

from coldcheck.engine.findings import Finding, Open, Review
from coldcheck.engine.running import Judged
from coldcheck.formats.report import Located, PlanReport
from coldcheck.formats.text import lines, plain, styled


def report(*findings: Finding, **judged: Any) -> PlanReport:
    """Return the report of a plan with findings at 3:1, 4:1 ..."""
    located = [Located(f, line, 1, [(9, 2, "the other end")]) for line, f in enumerate(findings, start=3)]
    return PlanReport("a.toml", located, Judged(rules=2, verdicts=10, seconds=0.5, **judged))


def shown(*reports: PlanReport, **more: Any) -> list[str]:
    """Return the lines as a pipe gets them."""
    return [plain(line) for line in lines(reports, **more)]


def test_a_finding() -> None:
    """A finding is its place, level and sentence, then what stands behind it, then related places."""
    finding = Finding("error", (), "too much", rule="a.b", because="of that", remedy="less", basis="a table")
    assert shown(report(finding)) == [
        "a.toml:3:1: error: too much",
        "    rule     a.b",
        "    because  of that",
        "    remedy   less",
        "    source   a table",
        "    see      a.toml:9:2: the other end",
        "judged 1 plan by 2 rules, 10 verdicts, 0.50 s: 1 error",
    ]


def test_open_and_review() -> None:
    """An open finding says which level it leaves and what is lacking; the last line says it again for all."""
    findings = Open("error", (), "unknown", missing=["n1 volts"]), Review((), "look")
    text = shown(report(*findings))
    assert text[0] == "a.toml:3:1: open, error undecided: unknown"
    assert "    lacking  n1 volts" in text
    assert "a.toml:4:1: review: look" in text
    assert text[-1].endswith(": 1 open, 1 to review; open for want of n1 volts")


def test_the_last_line_names_few_of_many() -> None:
    """Of many missing figures the last line names four and counts the rest."""
    findings = [Open("error", (), "unknown", missing=[f"n{i} volts"]) for i in range(9)]
    assert shown(report(*findings))[-1].endswith("n0 volts, n1 volts, n2 volts, n3 volts, 5 more")


def test_what_was_not_judged() -> None:
    """Rules that could not run are named in the last line."""
    assert shown(report(skipped=("a.b", "c.d")))[-1].endswith("0.50 s: nothing found; not judged: a.b, c.d")


def test_waived() -> None:
    """A waived finding is counted, and shown with its reason when asked for."""
    finding = Finding("error", (), "too much", rule="a.b", waived="on purpose")
    assert shown(report(finding)) == ["judged 1 plan by 2 rules, 10 verdicts, 0.50 s: 1 waived"]
    assert "    waived   on purpose" in shown(report(finding), show_waived=True)


def test_several_plans_are_counted_together() -> None:
    """The last line sums over plans; those that cannot be read are counted apart."""
    error, warning = Finding("error", (), "x"), Finding("warning", (), "y")
    unread = PlanReport("b.toml", [], None, unreadable=True)
    last = shown(report(error), report(error, warning), unread)[-1]
    assert last == (
        "judged 2 plans by 2 rules, 20 verdicts, 1.00 s: 2 errors, 1 warning; 1 plan cannot be read and not judged"
    )
    assert shown(unread) == ["1 plan cannot be read and not judged"]


def test_colours_change_no_letter() -> None:
    """A terminal gets the same text as a pipe, only styled."""
    findings = Finding("error", (), "x [red]y[/red]", rule="a.b"), Review((), "look")
    for line in lines([report(*findings)]):
        assert styled(line).plain.rstrip() == plain(line)

"""Waivers: what is accepted on purpose, until when, and what is said of the waivers themselves."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

EACH = '''
    @rule(level="error", over="node", was=["house.odd"])
    def each(node):
        """Each."""
        if node.id != "fine":
            yield Finding("error", node, f"{node.id} is wrong")
'''


def plan(waiver: str, nodes: str = '[[node]]\nid = "n1 .. n3"\n', level: str = 'level = "error"') -> str:
    """Return a plan with nodes and one waiver, its reason given; it accepts errors where nothing else is said."""
    return f'{nodes}[[waiver]]\nreason = "on purpose"\n{level}\n{waiver}\n'


def told(judgement: Any) -> list[tuple[str, str]]:
    """Return rule and waiver reason of each finding."""
    return [(f.rule, f.waived) for f in judgement.findings]


def test_a_waiver_holds(judged: Any) -> None:
    """A waiver without a place accepts every finding of its rule and keeps its reason beside it."""
    judgement = judged(EACH, plan('rule = "own.each"\nuntil = 2026-12-31'))
    assert told(judgement) == [("own.each", "on purpose")]


def test_a_waiver_holds_on_its_last_day(judged: Any) -> None:
    """The last day still counts; the day after it does not."""
    text = plan('rule = "own.each"\nuntil = 2026-12-31')
    assert told(judged(EACH, text, day=datetime.date(2026, 12, 31))) == [("own.each", "on purpose")]
    late = told(judged(EACH, text, day=datetime.date(2027, 1, 1)))
    assert late == [("own.each", ""), ("waivers.ended", "")]


def test_a_waiver_for_one_of_a_span_does_not_cover_the_rest(judged: Any) -> None:
    """A finding of three nodes is not accepted by a waiver for one of them."""
    judgement = judged(EACH, plan('rule = "own.each"\nat = "n1"\nuntil = 2026-12-31'))
    assert told(judgement) == [("own.each", "")]


def test_a_waiver_for_the_thing_covers_its_points(judged: Any) -> None:
    """A waiver at ``five`` covers what is found at ``five.5v``."""
    source = '''
        @rule(level="error", over="plan")
        def rail(plan):
            """Rail."""
            yield Finding("error", plan.table("supply")[0].outlets[0], "the rail")
    '''
    supply = '[[supply]]\nid = "five"\n[[supply.rail]]\nid = "5v"\n'
    for place in ("five", "five.5v"):
        judgement = judged(source, plan(f'rule = "own.rail"\nat = "{place}"\nuntil = 2026-12-31', supply))
        assert told(judgement) == [("own.rail", "on purpose")], place
    elsewhere = judged(source, plan('rule = "own.rail"\nat = "five.12v"\nuntil = 2026-12-31', supply))
    assert sorted(told(elsewhere)) == [("own.rail", ""), ("waivers.unknown_place", "")]


def test_an_idle_waiver(judged: Any) -> None:
    """A waiver that meets nothing is no longer needed, which is a note at its place."""
    judgement = judged(EACH, plan('rule = "own.each"\nuntil = 2026-12-31', '[[node]]\nid = "fine"\n'))
    (finding,) = judgement.findings
    assert (finding.rule, finding.level, finding.path) == ("waivers.idle", "note", ("waiver", 0, "rule"))


def test_an_idle_waiver_is_not_told_when_only_some_rules_ran(judged: Any) -> None:
    """When rules are chosen, a waiver that met nothing proves nothing."""
    source = EACH + EACH.replace("def each", "def other").replace(', was=["house.odd"]', "")
    judgement = judged(source, plan('rule = "own.each"\nuntil = 2026-12-31'), only=["own.other"])
    assert told(judgement) == [("own.other", "")]


def test_a_waiver_of_an_unknown_rule(judged: Any) -> None:
    """A waiver whose rule does not exist is warned of, with the nearest name."""
    judgement = judged(EACH, plan('rule = "own.eech"\nuntil = 2026-12-31'))
    (finding,) = [f for f in judgement.findings if f.rule == "waivers.unknown_rule"]
    assert finding.level == "warning"
    assert finding.remedy == 'did you mean "own.each"?'


def test_a_waiver_by_a_former_name(judged: Any) -> None:
    """A waiver written before a rule was renamed still holds."""
    assert told(judged(EACH, plan('rule = "house.odd"\nuntil = 2026-12-31'))) == [("own.each", "on purpose")]


GRADED = '''
    @rule(level="error", over="node")
    def graded(node):
        """Graded."""
        if node.id == "asked":
            yield Review(node, "asked")
        elif node.id == "open":
            yield Open("error", node, "open")
        else:
            yield Finding(node.id, node, "said")
'''


@pytest.mark.parametrize(
    "grade, level, accepted",
    [
        ("error", "", False), ("warning", "", True), ("note", "", True), ("asked", "", True), ("open", "", False),
        ("error", 'level = "error"', True), ("open", 'level = "error"', True), ("warning", 'level = "note"', False),
    ],
)  # fmt: skip
def test_a_waiver_is_bound_to_a_level(judged: Any, grade: str, level: str, accepted: bool) -> None:
    """What is graver than a waiver accepts stays, and the waiver is told; unstated it accepts a warning."""
    nodes = f'[[node]]\nid = "{grade}"\n'
    findings = judged(GRADED, plan('rule = "own.graded"\nuntil = 2026-12-31', nodes, level)).findings
    waived = next(f.waived for f in findings if f.rule == "own.graded")
    told_of = [(f.level, f.remedy) for f in findings if f.rule == "waivers.too_grave"]
    assert waived == ("on purpose" if accepted else "")
    worst = "warning" if grade == "warning" else "error"
    wanted = [("note", f'mend what is found, or write level = "{worst}" if it is accepted too')]
    assert told_of == ([] if accepted else wanted)


@pytest.mark.parametrize(
    "place, remedy",
    [
        ("fone", 'did you mean "fine"?'),
        ("fine.usbb", 'did you mean "fine.usb"?'),
        ("elsewhere", "name a thing of this plan"),
        ("fine", ""),
        ("fine.usb", ""),
        ("fine.7", ""),
        ("10.20.0.0/24", ""),
    ],
)
def test_a_waiver_at_a_place_that_is_not_there(judged: Any, place: str, remedy: str) -> None:
    """A waiver whose place names nothing is warned of with the nearest name; one at a thing is merely idle."""
    nodes = '[[node]]\nid = "fine"\n[[node.inlet]]\nid = "usb"\n[[subnet]]\nprefix = "10.20.0.0/24"\n'
    text = plan(f'rule = "own.each"\nat = "{place}"\nuntil = 2026-12-31', nodes)
    (finding,) = judged(EACH, text).findings
    if not remedy:
        assert (finding.rule, finding.level) == ("waivers.idle", "note")
        return
    assert (finding.rule, finding.level, finding.remedy) == ("waivers.unknown_place", "warning", remedy)
    assert finding.says == f"nothing is called {place}, so this waiver accepts nothing"
    assert finding.path == ("waiver", 0, "at")


def test_a_last_day_far_ahead(judged: Any) -> None:
    """A waiver holds at most two years without a remark; beyond that it still holds, with a note at its day."""
    near = judged(EACH, plan('rule = "own.each"\nuntil = 2028-01-02'))
    assert told(near) == [("own.each", "on purpose")]
    far = judged(EACH, plan('rule = "own.each"\nuntil = 2028-01-03'))
    assert told(far) == [("own.each", "on purpose"), ("waivers.far", "")]
    assert far.findings[1].path == ("waiver", 0, "until")

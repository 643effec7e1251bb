"""Waivers: what is accepted on purpose, until when, and what is said of the waivers themselves."""

from __future__ import annotations

import datetime
from typing import Any

EACH = '''
    @rule(level="error", over="node", was=["house.odd"])
    def each(node):
        """Each."""
        if node.id != "fine":
            yield Finding("error", node, f"{node.id} is wrong")
'''


def plan(waiver: str, nodes: str = '[[node]]\nid = "n1 .. n3"\n') -> str:
    """Return a plan with nodes and one waiver, its reason given."""
    return f'{nodes}[[waiver]]\nreason = "on purpose"\n{waiver}\n'


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
    assert sorted(told(elsewhere)) == [("own.rail", ""), ("waivers.idle", "")]


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

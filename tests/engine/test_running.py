"""Running: workings computed once, rules called with what they ask for, failures told, findings in order."""

from __future__ import annotations

from typing import Any

import pytest

from coldcheck.engine.findings import Finding, reaches

NODES = '[[node]]\nid = "n1 .. n6"\n[[node]]\nid = "solo"\n[[fan]]\nid = "f1"\n'


def said(judgement: Any) -> list[str]:
    """Return what each finding says."""
    return [finding.says for finding in judgement.findings]


def test_a_working_is_computed_once(judged: Any) -> None:
    """Two rules and another working ask for a working: it is computed one time."""
    source = '''
        calls = []

        @working()
        def counted(plan):
            """Counted."""
            calls.append(1)
            return len(calls)

        @working()
        def above(counted):
            """Above."""
            return counted

        @rule(level="note", over="node")
        def first(node, counted, above):
            """First."""
            yield Finding("note", node, f"{counted} {above}")

        @rule(level="note", over="plan")
        def second(plan, counted):
            """Second."""
            yield Finding("note", (), f"{counted} in bulk")
    '''
    assert set(said(judged(source, '[[node]]\nid = "a"\n'))) == {"1 1", "1 in bulk"}


def test_workings_are_kept_for_whoever_goes_on(judged: Any) -> None:
    """Those that are there already are used; those that are computed are there afterwards; one that failed is not."""
    source = '''
        @working()
        def known(plan):
            """Known."""
            return 1

        @working()
        def above(known):
            """Above."""
            return known + 1

        @working()
        def lost(plan):
            """Lost."""
            return 1 / 0

        @rule(level="note", over="plan")
        def told(plan, above):
            """Told."""
            yield Finding("note", (), str(above))

        @rule(level="note", over="plan")
        def untold(plan, lost):
            """Untold."""
    '''
    made: dict[str, Any] = {"known": 7}
    assert "8" in said(judged(source, '[[node]]\nid = "a"\n', made=made))
    assert {name: made[name] for name in made if name != "plan"} == {"known": 7, "above": 8}


def test_a_working_nobody_asks_for_is_not_computed(judged: Any) -> None:
    """A working that no rule needs costs nothing, not even its failure."""
    source = '''
        @working()
        def costly(plan):
            """Costly."""
            raise AssertionError

        @rule(level="note", over="node")
        def calm(node):
            """Calm."""
    '''
    judgement = judged(source, NODES)
    assert not judgement.findings
    assert judgement.judged.rules == 1
    assert judgement.judged.verdicts == 7


def test_over_a_table_a_working_and_the_plan(judged: Any) -> None:
    """A rule is called once for each entry of its table, each item of its working, or once with the plan."""
    source = '''
        @working()
        def pairs(plan):
            """Pairs."""
            nodes = plan.table("node")
            return list(zip(nodes, nodes[1:]))

        @rule(level="note", over="fan")
        def table(fan):
            """Table."""
            yield Finding("note", fan, f"fan {fan.id}")

        @rule(level="note", over="pairs")
        def items(pair):
            """Items."""
            yield Finding("note", pair[0], f"pair {pair[0].id} {pair[1].id}")

        @rule(level="note", over="plan")
        def bulk(plan):
            """Bulk."""
            yield Finding("note", (), f"plan with {len(plan.table('node'))} nodes")
    '''
    judgement = judged(
        source, '[[node]]\nid = "a"\n[[node]]\nid = "b"\n[[node]]\nid = "c"\n[[fan]]\nid = "f"\n'
    )
    assert sorted(said(judgement)) == ["fan f", "pair a b", "pair b c", "plan with 3 nodes"]
    assert judgement.judged.verdicts == 1 + 2 + 1


def test_a_rule_may_return_nothing_or_a_list(judged: Any) -> None:
    """A rule may be a generator, or return a list, or None."""
    source = '''
        @rule(level="note", over="node")
        def lists(node):
            """Lists."""
            return [Finding("note", node, f"{node.id} listed")]

        @rule(level="note", over="node")
        def nothing(node):
            """Nothing."""
            return None
    '''
    assert said(judged(source, '[[node]]\nid = "a"\n')) == ["a listed"]


def test_item_by_item_and_bulk_say_the_same(judged: Any) -> None:
    """A rule written for one item and the same rule in bulk give equal findings."""
    single = '''
        @rule(level="warning", over="node")
        def rows(node):
            """Rows."""
            yield Finding("warning", node, f"{node.id} is seen", found=Measure(1, "A"))
    '''
    bulk = '''
        @rule(level="warning", over="plan")
        def rows(plan):
            """Rows."""
            for node in plan.table("node"):
                yield Finding("warning", node, f"{node.id} is seen", found=Measure(1, "A"))
    '''
    one, other = judged(single, NODES).findings, judged(bulk, NODES).findings
    assert [(f.says, f.path, f.subjects) for f in one] == [(f.says, f.path, f.subjects) for f in other]


RAISES = '''
    @rule(level="error", over="node")
    def bad(node):
        """Bad."""
        yield Finding("error", node, f"{node.id} before it fails")
        FAILS

    @rule(level="note", over="fan")
    def good(fan):
        """Good."""
        yield Finding("note", fan, "the fan is judged")
'''


@pytest.mark.parametrize(
    "failure, why",
    [
        ("1 / 0", "rule own.bad failed while judging a: ZeroDivisionError: division by zero"),
        ("raise SystemExit(0)", "rule own.bad failed while judging a: SystemExit: 0"),
        ("yield 'no finding'", "rule own.bad failed while judging a: AttributeError"),
        ("yield Finding('grave', node, 'x')", "ValueError"),
    ],
)
def test_a_rule_that_raises(judged: Any, failure: str, why: str) -> None:
    """A rule that raises is itself an error finding; what it found before and all other rules still report."""
    judgement = judged(RAISES.replace("FAILS", failure), '[[node]]\nid = "a"\n[[fan]]\nid = "f"\n')
    raised = [f for f in judgement.findings if f.rule == "engine.raised"]
    assert len(raised) == 1
    assert why in raised[0].says
    assert raised[0].level == "error"
    assert {"a before it fails", "the fan is judged"} <= set(said(judgement))


def test_a_rule_that_raises_again_and_again_is_told_once(judged: Any) -> None:
    """A rule that fails on every item fills no screen: one finding names the first."""
    judgement = judged(RAISES.replace("FAILS", "1 / 0"), '[[node]]\nid = "a"\n[[node]]\nid = "b"\n')
    assert [f.rule for f in judgement.findings].count("engine.raised") == 1


def test_a_working_that_raises(judged: Any) -> None:
    """A working that raises is told once; the rules that need it are named as skipped, the others run."""
    source = '''
        @working()
        def lost(plan):
            """Lost."""
            return 1 / 0

        @working()
        def further(lost):
            """Further."""
            return lost

        @rule(level="error", over="node")
        def asks(node, further):
            """Asks."""

        @rule(level="error", over="further")
        def over_it(item):
            """Over it."""

        @rule(level="note", over="node")
        def runs(node):
            """Runs."""
            yield Finding("note", node, "judged")
    '''
    judgement = judged(source, '[[node]]\nid = "a"\n')
    assert said(judgement) == ["working lost failed: ZeroDivisionError: division by zero", "judged"]
    assert judgement.judged.skipped == ("own.asks", "own.over_it")
    assert judgement.judged.rules == 1


def test_a_level_above_the_declared_one(judged: Any) -> None:
    """A rule that declares "warning" cannot give an error, nor leave one undecided."""
    for given in ('Finding("error", node, "x")', 'Open("error", node, "x")'):
        source = f'''
            @rule(level="warning", over="node")
            def loud(node):
                """Loud."""
                yield {given}
        '''
        (finding,) = judged(source, '[[node]]\nid = "a"\n').findings
        assert finding.rule == "engine.raised"
        assert 'it gave level "error", but declares "warning" as its highest' in finding.says


def test_kinds(judged: Any) -> None:
    """An open finding leaves a level undecided and counts by it; a review has no level and stops nothing."""
    source = '''
        @rule(level="error", over="node")
        def kinds(node):
            """Kinds."""
            yield Finding("warning", node, "fails")
            yield Open("error", node, "open", missing=["a volts"])
            yield Review(node, "look")
    '''
    findings = {f.kind: f for f in judged(source, '[[node]]\nid = "a"\n').findings}
    assert set(findings) == {"fail", "open", "review"}
    assert (findings["open"].level, findings["open"].leaves, findings["open"].missing) == (
        None,
        "error",
        ("a volts",),
    )
    assert (findings["review"].level, findings["review"].leaves) == (None, None)
    assert reaches(findings["open"], "error")
    assert not reaches(findings["fail"], "error")
    assert reaches(findings["fail"], "warning")
    assert not reaches(findings["review"], "note")


def test_what_is_waived_reaches_nothing() -> None:
    """A waived finding is below every stop level."""
    finding = Finding("error", (), "x", waived="on purpose")
    assert not reaches(finding, "note")


def test_order(judged: Any) -> None:
    """Findings stand in the order of the plan; at one place the grave comes first; what has no place leads."""
    source = '''
        @rule(level="error", over="plan")
        def mixed(plan):
            """Mixed."""
            a, b = plan.table("node")
            yield Finding("note", b, "b note")
            yield Open("error", a, "a open")
            yield Finding("error", b, "b error")
            yield Finding("warning", a, "a warning", place="address")
            yield Finding("note", a, "a note")
            yield Finding("error", (), "of the whole")
    '''
    plan = '[[node]]\nid = "a"\naddress = "10.0.0.1"\n[[node]]\nid = "b"\n'
    wanted = ["of the whole", "a note", "a open", "a warning", "b error", "b note"]
    assert said(judged(source, plan)) == wanted


def test_place(judged: Any) -> None:
    """The place is the first of the keys that is written, else the id, else the table itself."""
    source = '''
        @rule(level="note", over="node")
        def where(node):
            """Where."""
            yield Finding("note", node, node.id, place=("mac", "address", "part"))
    '''
    plan = '[[node]]\nid = "a"\naddress = "10.0.0.1"\n[[node]]\nid = "b"\n'
    assert [f.path for f in judged(source, plan).findings] == [("node", 0, "address"), ("node", 1, "id")]


def test_source_of_a_rule_is_the_basis(judged: Any) -> None:
    """What stands behind "Source:" in the docstring goes with every finding, unless it names its own."""
    source = '''
        @rule(level="note", over="node")
        def based(node):
            """Based.

            Source: a published table,
            page 3.
            """
            yield Finding("note", node, "one")
            yield Finding("note", node, "two", basis="another table")
    '''
    findings = judged(source, '[[node]]\nid = "a"\n').findings
    assert {f.says: f.basis for f in findings} == {
        "one": "a published table, page 3.",
        "two": "another table",
    }


EACH = '''
    @rule(level="error", over="node")
    def each(node):
        """Each."""
        yield Finding("error", node, f"{node.id} is wrong", remedy=f"mend {node.id}")
'''


def test_a_span_is_folded(judged: Any) -> None:
    """What is found alike of n1 .. n6 is told once and names them all; another thing has its own finding."""
    findings = judged(EACH, NODES).findings
    assert [f.says for f in findings] == ["n1 .. n6 is wrong", "solo is wrong"]
    assert findings[0].subjects == ("n1", "n2", "n3", "n4", "n5", "n6")


def test_what_differs_is_not_folded(judged: Any) -> None:
    """Members of a span of which other words are said keep findings of their own."""
    source = '''
        @rule(level="error", over="node")
        def each(node):
            """Each."""
            yield Finding("error", node, f"{node.id} is {'hot' if node.id < 'n4' else 'cold'}")
    '''
    assert said(judged(source, '[[node]]\nid = "n1 .. n6"\n')) == ["n1 .. n3 is hot", "n4 .. n6 is cold"]


SAYS = '''
    @rule(level="error", over="node")
    def each(node):
        """Each."""
        says = node.mac.replace("ME", node.id)  # any text, one for each member of the span
        yield Finding("error", node, says, edits=(Put((*node.path, "lead"), "18 AWG"),))
'''


@pytest.mark.parametrize(
    "ids, notes, wanted",
    [
        # another's name is another cause, however little it differs
        ("n1 .. n2", ["ME works at 5 V, but f1 gives 12 V", "ME works at 5 V, but f2 gives 24 V"], None),
        ("n1 .. n2", ["ME is fed by n2.usb", "ME is fed by n3.usb"], None),
        ("n1 .. n2", ["ME has 10.0.0.1", "ME has 10.0.0.2"], None),
        ("n1 .. n2", ["ME needs class 5e", "ME needs class 6a"], None),
        ("1 .. 2", ["ME is fed by 8 alone", "ME is fed by 9 alone"], None),
        # a number is none
        ("n1 .. n2", ["ME: 4.6 V of 5 V", "ME: 4.5 V of 5 V"], "n1 and n2: 4.6 V of 5 V"),
        ("n1 .. n2", ["ME: 4 % left, -1 degC.", "ME: 12.5 % left, 3 degC."], "n1 and n2: 4 % left, -1 degC."),
        # points of its own, and its name said twice
        ("n1 .. n2", ["f1 feeds ME.usb; ME (ME.eth) is off"] * 2,
         "f1 feeds n1.usb and n2.usb; n1 and n2 (n1.eth and n2.eth) is off"),
        ("1 .. 6", ["ME lacks 1.25 A of 6 A; 2 tries"] * 6, "1 .. 6 lacks 1.25 A of 6 A; 2 tries"),
        ("1 .. 6", ["at ME.5v, 1 V"] * 6, "at 1.5v .. 6.5v, 1 V"),
        ("n9 .. n11", ["ME is off"] * 3, "n9 .. n11 is off"),
        ("n3 .. n1", ["ME is off"] * 3, "n1 .. n3 is off"),
    ],
)  # fmt: skip
def test_what_may_differ_in_a_folded_finding(
    judged: Any, ids: str, notes: list[str], wanted: str | None
) -> None:
    """Members of a span fold where their sentences differ in their own name and in plain numbers, and no more."""
    texts = ", ".join(f'"{note}"' for note in notes)
    findings = judged(SAYS, f'[[node]]\nid = "{ids}"\nmac = [{texts}]\n[[fan]]\nid = "8 .. 9"\n').findings
    if wanted is None:
        assert len(findings) == len(notes)
        assert not any(f.edits for f in findings)
    else:
        assert [f.says for f in findings] == [wanted]
        assert findings[0].edits


def test_members_of_a_span_are_told_in_their_order(judged: Any) -> None:
    """What is found at one place by one rule stands in the order of the names, as people count."""
    source = '''
        @rule(level="error", over="plan")
        def each(plan):
            """Each."""
            for node in reversed(plan.table("node")):
                yield Finding("error", node, f"{node.id} is next to x{node.id}")
    '''
    findings = judged(source, '[[node]]\nid = "n9 .. n11"\n').findings
    assert [f.subjects for f in findings] == [("n9",), ("n10",), ("n11",)]


def test_the_worst_of_a_span_is_told(judged: Any) -> None:
    """Where only the numbers of a span differ, the one furthest from its limit is told, and said to be the worst."""
    source = '''
        @rule(level="error", over="node")
        def each(node):
            """Each."""
            amps = Measure(float(node.id[1:]), "A")
            yield Finding("error", node, f"{node.id} takes {amps}", found=amps, allowed=Measure(0.5, "A"))
    '''
    (finding,) = judged(source, '[[node]]\nid = "n1 .. n3"\n').findings
    assert str(finding.found) == "3 A"
    assert finding.says == "n1 .. n3 takes 3 A (worst at n3)"


def test_open_findings_of_a_span_keep_all_that_is_missing(judged: Any) -> None:
    """A folded open finding names the missing figure of every member."""
    source = '''
        @rule(level="error", over="node")
        def each(node):
            """Each."""
            yield Open("error", node, f"{node.id} is unknown", missing=[f"{node.id} volts"])
    '''
    (finding,) = judged(source, '[[node]]\nid = "n1 .. n3"\n').findings
    assert finding.missing == ("n1 volts", "n2 volts", "n3 volts")


def test_an_edit_that_would_change_other_members_is_dropped(judged: Any) -> None:
    """An edit of a span's text is kept only where the finding speaks of all its members."""
    source = '''
        @rule(level="error", over="node")
        def each(node):
            """Each."""
            if node.id in ("n1", "a1", "a2"):
                edits = (Put((*node.path, "lead"), "18 AWG"),)
                yield Finding("error", node, f"{node.id} is wrong", edits=edits)
    '''
    plan = '[[node]]\nid = "n1 .. n2"\n[[node]]\nid = "a1 .. a2"\n'
    by_name = {f.subjects: len(f.edits) for f in judged(source, plan).findings}
    assert by_name == {("n1",): 0, ("a1", "a2"): 1}


def test_only(judged: Any) -> None:
    """With names given, those rules run and no others."""
    source = EACH + EACH.replace("def each", "def other").replace("is wrong", "is odd")
    assert said(judged(source, '[[node]]\nid = "a"\n', only=["own.other"])) == ["a is odd"]


def test_only_an_area(judged: Any) -> None:
    """The name of a file runs every rule in it, and no others."""
    source = EACH + EACH.replace("def each", "def other").replace("is wrong", "is odd")
    assert said(judged(source, '[[node]]\nid = "a"\n', only=["own"])) == ["a is wrong", "a is odd"]
    assert said(judged(source, '[[node]]\nid = "a"\n', only=["ow"])) == []


@pytest.mark.parametrize("text", ['[plan]\ntitle = "x"\n', '[[part]]\nid = "p"\nkind = "node"\n'])
def test_a_plan_without_things(judged: Any, text: str) -> None:
    """Where nothing stands in a plan, the answer is not that nothing is found: it leaves a warning open."""
    (finding,) = judged(EACH, text).findings
    assert (finding.rule, finding.kind, finding.leaves) == ("plan.empty", "open", "warning")
    assert finding.says == "the plan names no thing, so there was nothing to judge"


def test_a_broken_module_is_an_error_finding(judged: Any) -> None:
    """What could not be loaded is a finding of its own: fewer rules never look like a clean plan."""
    (finding,) = judged("1 / 0", '[[node]]\nid = "a"\n').findings
    assert (finding.rule, finding.level) == ("engine.cannot_load", "error")
    assert "ZeroDivisionError" in finding.says
    assert "own.py:2" in finding.because


def test_related_places(judged: Any) -> None:
    """Places related to a finding are told as paths."""
    source = '''
        @rule(level="error", over="plan")
        def pair(plan):
            """Pair."""
            a, b = plan.table("node")
            yield Finding("error", a, "a and b", related=[(b, "the other one")])
    '''
    (finding,) = judged(source, '[[node]]\nid = "a"\n[[node]]\nid = "b"\n').findings
    assert [(r.path, r.says) for r in finding.related] == [(("node", 1, "id"), "the other one")]

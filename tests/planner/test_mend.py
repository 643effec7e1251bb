"""Mending: each finding mended is gone, nothing new has come, and a second time changes nothing."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from pathlib import Path

import pytest

from coldcheck.engine.findings import LEVELS
from coldcheck.plan.edit import Put, Take
from coldcheck.planner.mend import Mending, mend
from coldcheck.planner.trial import Bench, grade, in_numbers, made_worse
from coldcheck.planner.writable import CHOICES, only_choices

Make = Callable[[], Bench]
INVENTORIES = Path(__file__).parents[2] / "inventories"

LAN = """
# ours
[[subnet]]
prefix = "10.20.0.0/24" # the lab

[[switch]]
id = "sw"
ports = 8
"""


def mended(bench: Make, text: str, *only: str) -> Mending:
    """Return what mending a plan comes to."""
    return mend(bench(), textwrap.dedent(text).encode(), only)


def rules(mending: Mending) -> list[str]:
    """Return the rules whose findings were mended, in order."""
    return [finding.rule for finding in mending.made]


def test_a_draft_full_of_slips(bench: Make) -> None:
    """All exact remedies of the faulty draft are made together; what stays is what no edit can mend."""
    text = (INVENTORIES / "tidepool-draft.toml").read_bytes()
    found = mend(bench(), text)
    assert set(rules(found)) >= {
        "fuses.current",
        "volts.too_low",
        "ports.double_booked",
        "addresses.duplicate",
    }
    before, after = found.before.weight(), found.after.weight()
    assert after[0] < before[0]
    assert after <= before
    assert not made_worse(found.before, found.after, "error")
    assert all(not f.edits for f in found.after.findings if f not in [r.finding for r in found.refused])
    for finding in found.made:
        assert (finding.rule, finding.subjects) not in {(f.rule, f.subjects) for f in found.after.findings}


@pytest.mark.parametrize(
    "name", ["tidepool-draft", "ferry-cabin", "gorse-hill", "lantern-room", "reed-marsh"]
)
def test_twice_is_once(bench: Make, name: str) -> None:
    """A plan that was mended has nothing more to mend."""
    once = mend(bench(), (INVENTORIES / f"{name}.toml").read_bytes())
    twice = mend(bench(), once.after.text)
    assert not twice.changed
    assert twice.made == []


def test_comments_and_order_stay(bench: Make) -> None:
    """Only the value that was wrong is another one: every other byte is as it was."""
    node = '\n[[node]] # first\nid = "a"   # spaced\nport = "sw.1"\naddress = "10.20.0.5" # slip\n'
    other = '[[node]]\nid = "b"\nport = "sw.2"\naddress = "10.20.0.5" # first come\n'
    found = mended(bench, LAN + other + node)
    assert rules(found) == ["addresses.duplicate"]
    text = found.after.text.decode()
    assert text.replace("10.20.0.6", "10.20.0.5") == LAN + other + node
    assert text.count("10.20.0.6") == 1


def test_windows_line_ends_stay(bench: Make) -> None:
    """A text with two letters at each line end has them afterwards."""
    text = (
        (LAN + '[[node]]\nid = "a"\nport = "sw.1"\naddress = "10.20.0.255"\n').replace("\n", "\r\n").encode()
    )
    found = mend(bench(), text)
    assert found.changed
    assert found.after.text.count(b"\r\n") == found.after.text.count(b"\n") == text.count(b"\n")


def test_only_what_is_asked_for(bench: Make) -> None:
    """With rules or areas named, the findings of others stay."""
    text = (
        LAN
        + '[[node]]\nid = "a"\nport = "sw.1"\naddress = "10.20.0.255"\n[[node]]\nid = "b_"\nport = "sw.1"\n'
    )
    assert not {rule.partition(".")[0] for rule in rules(mended(bench, text, "addresses"))} - {"addresses"}
    assert "ports.double_booked" in rules(mended(bench, text, "ports.double_booked"))
    assert len(rules(mended(bench, text))) > 1


#: A rule whose remedy is wrong in one way: what it would bring is an error of another rule.
HARMFUL = """
from coldcheck import Case, Finding, Put, cases, rule

@rule(level="{level}", over="node")
def told(node):
    \"\"\"A node has another {key}.\"\"\"
    if "{old}" in node.{key}:
        yield Finding("{level}", node, "it is wrong", remedy="that", edits=(Put((*node.path, "{key}"), "{new}"),))

cases(told, clean=["[[node]]\\nid = 'z'\\n"], flagged=[Case("[[node]]\\nid = 'z'\\n{key} = '{old}'\\n")])
"""


def with_rule(tmp_path: Path, **figures: str) -> Bench:
    """Return a bench that judges by a rule of this test as well."""
    from coldcheck import ours
    from tests.planner.conftest import DAY

    (tmp_path / "own.py").write_text(HARMFUL.format(**figures), encoding="utf-8")
    book = ours.rulebook([tmp_path], entry_points=False)
    assert not book.broken
    return Bench("plan.toml", book, ours.shelf(book), DAY)


NODE = '[[node]]\nid = "{}"\nport = "sw.{}"\naddress = "10.20.0.{}"\n'
TWO = LAN + NODE.format("a", 1, 5) + NODE.format("b", 2, 6)


def test_a_remedy_that_harms_is_refused(tmp_path: Path) -> None:
    """What would bring a finding as grave as the one it mends is not made, and why is told."""
    bench = with_rule(tmp_path, level="error", key="address", old="10.20.0.5", new="10.20.0.6")
    found = mend(bench, TWO.encode())
    assert not found.changed
    assert [r.finding.rule for r in found.refused] == ["own.told"]
    assert "addresses.duplicate" in found.refused[0].why


def test_a_graver_finding_may_leave_a_milder_one(tmp_path: Path) -> None:
    """A warning that comes instead of an error is taken, and then mended in its turn if it can be."""
    bench = with_rule(tmp_path, level="error", key="address", old="10.20.0.5", new="10.20.0.255")
    found = mend(bench, TWO.encode())
    assert not found.changed  # the broadcast address is an error, too
    milder = with_rule(tmp_path, level="error", key="name", old="x1", new="y_1")
    found = mend(milder, TWO.replace('id = "a"', 'id = "a"\nname = "x1"').encode())
    assert "y_1" not in found.after.text.decode() or found.after.weight() <= found.before.weight()


def test_a_remedy_that_does_not_help_is_refused(tmp_path: Path) -> None:
    """Where the finding is there still, the edit is not made."""
    bench = with_rule(tmp_path, level="warning", key="address", old="10.20.0.5", new="10.20.0.5")
    found = mend(bench, TWO.encode())
    assert not found.changed
    assert "not enough" in found.refused[0].why


def test_facts_of_hardware_stay_words(tmp_path: Path) -> None:
    """A remedy that writes a hardware address is not made."""
    bench = with_rule(tmp_path, level="error", key="mac", old="02:00:00:00:00:01", new="02:00:00:00:00:02")
    text = TWO.replace('id = "a"', 'id = "a"\nmac = "02:00:00:00:00:01"')
    found = mend(bench, text.encode())
    assert not found.changed
    assert "fact of hardware" in found.refused[0].why


def test_waived_findings_stay(bench: Make) -> None:
    """What somebody accepted is not mended."""
    slip = LAN + '[[node]]\nid = "a"\nport = "sw.1"\naddress = "10.20.0.255"\n'
    waiver = '[[waiver]]\nrule = "addresses.not_a_host"\nat = "a"\nlevel = "error"\n'
    waiver += 'reason = "tried"\nuntil = 2027-01-01\n'
    assert rules(mended(bench, slip)) == ["addresses.not_a_host"]
    assert not mended(bench, slip + waiver).changed


PICKY = """
from coldcheck import Case, Finding, Put, cases, rule

def told(node, bad, better):
    if node.address and node.address[0] in bad:
        edits = (Put((*node.path, "address"), better),)
        yield Finding("error", node, f"{node.address[0]} is not liked", remedy=better, edits=edits)

@rule(level="error", over="node")
def first(node):
    \"\"\"It dislikes .5 and wants .7.\"\"\"
    yield from told(node, ["10.20.0.5"], "10.20.0.7")

@rule(level="error", over="node")
def second(node):
    \"\"\"It dislikes .5 and .7 and wants .8.\"\"\"
    yield from told(node, ["10.20.0.5", "10.20.0.7"], "10.20.0.8")

@rule(level="error", over="node")
def third(node):
    \"\"\"It dislikes .5 and wants the address of another.\"\"\"
    yield from told(node, ["10.20.0.5"], "10.20.0.6")

for f in (first, second, third):
    cases(f, clean=["[[node]]\\nid = 'z'\\n"], flagged=[Case("[[node]]\\nid = 'z'\\naddress = '10.20.0.5'\\n")])
del f
"""


def test_conflicts_are_solved_together(tmp_path: Path) -> None:
    """Of three remedies that each write one address, the one that leaves nothing wrong is made, wherever it stands."""
    from coldcheck import ours
    from tests.planner.conftest import DAY

    (tmp_path / "picky.py").write_text(PICKY, encoding="utf-8")
    book = ours.rulebook([tmp_path], entry_points=False)
    assert not book.broken
    found = mend(Bench("plan.toml", book, ours.shelf(book), DAY), TWO.encode())
    assert b"10.20.0.8" in found.after.text
    assert [f.rule for f in found.made] == ["picky.second"]
    assert clean_of(found, "picky")


STEPS = """
from coldcheck import Case, Finding, Put, cases, rule

def told(level, node, bad, better):
    if node.address and node.address[0] == bad:
        yield Finding(level, node, f"{bad} is not liked", remedy=better, edits=(Put((*node.path, "address"), better),))

@rule(level="error", over="node")
def first(node):
    \"\"\"It wants .7 in place of .5.\"\"\"
    yield from told("error", node, "10.20.0.5", "10.20.0.7")

@rule(level="warning", over="node")
def second(node):
    \"\"\"It wants .8 in place of .7.\"\"\"
    yield from told("warning", node, "10.20.0.7", "10.20.0.8")

@rule(level="note", over="node")
def third(node):
    \"\"\"It wants .5 in place of .8, where the first began.\"\"\"
    yield from told("note", node, "10.20.0.8", "10.20.0.5")

for f, last in ((first, 5), (second, 7), (third, 8)):
    bad = f"[[node]]\\nid = 'z'\\naddress = '10.20.0.{last}'\\n"
    cases(f, clean=["[[node]]\\nid = 'z'\\n"], flagged=[Case(bad)])
del f
"""


def test_what_comes_to_light_is_mended_in_a_further_round(tmp_path: Path) -> None:
    """A warning that a remedy leaves is mended in its turn; a remedy that would bring an error back is not made."""
    from coldcheck import ours
    from tests.planner.conftest import DAY

    (tmp_path / "steps.py").write_text(STEPS, encoding="utf-8")
    book = ours.rulebook([tmp_path], entry_points=False)
    assert not book.broken
    found = mend(Bench("plan.toml", book, ours.shelf(book), DAY), TWO.encode())
    assert [f.rule for f in found.made] == ["steps.first", "steps.second"]
    assert b"10.20.0.8" in found.after.text
    assert [(r.finding.rule, "steps.first" in r.why) for r in found.refused] == [("steps.third", True)]


def clean_of(found: Mending, area: str) -> bool:
    """Say whether nothing of an area is found any more."""
    return not [f for f in found.after.findings if f.rule.startswith(f"{area}.")]


def test_fuse_and_wire_are_mended_together(bench: Make) -> None:
    """A wire too thin for its load and for the fuse before it: one change of each, and no error is left."""
    power = '[[feed]]\nid = "f"\nvolts = "24 V"\namps = "20 A"\nfuse = "{}"\n'
    inline = '[[inline]]\nid = "m"\nwhat = "switch"\nfrom = "f"\nlead = "{}, 1 m"\namps = "10 A"\n'
    node = '[[appliance]]\nid = "x"\nfrom = "m"\nvolts = "18 V .. 30 V"\npeak = "6 A"\nlead = "12 AWG, 1 m"\n'
    found = mended(bench, power.format("20 A blade") + inline.format("26 AWG") + node)
    assert found.after.weight()[0] < found.before.weight()[0]
    assert not [f for f in found.after.findings if f.level == "error" and f.edits]
    assert "26 AWG" not in found.after.text.decode()


def test_what_may_be_written() -> None:
    """Keys that say what a thing is are none of the builder's choices; of a list, its key counts."""
    assert only_choices([Put(("node", 0, "lead"), "x"), Take(("node", 0, "port", 1))])
    for key in (
        "mac",
        "volts",
        "amps",
        "peak",
        "staggers",
        "part",
        "survives",
        "backfeed",
        "surge",
        "measured",
        "poe",
    ):
        assert not only_choices([Put(("node", 0, key), "x")])
        assert key not in CHOICES


def test_numbers_in_words(bench: Make) -> None:
    """Findings are counted by level, then what is open and what a person must look at."""
    assert in_numbers(bench().trial(LAN.encode() + b'[[node]]\nid = "a"\nport = "sw.9"\n')).startswith(
        "1 error"
    )
    assert in_numbers(bench().trial(b'[[subnet]]\nprefix = "10.20.0.0/24"\n')) == "nothing found"


def test_grades() -> None:
    """Levels are ordered, gravest first, as a lint stops by them."""
    assert LEVELS == ("error", "warning", "note")
    assert grade.__doc__

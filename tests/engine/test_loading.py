"""Loading: what a module declares is found, and what cannot be used is told, never passed over."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.loading import Rulebook, load
from coldcheck.engine.rules import Rule
from coldcheck.plan.tables import TABLES

BUILT_IN = 221

RULE = '''
@rule(level="note", over="node")
def named(node):
    """Nodes have names."""
'''


def whys(book: Rulebook) -> list[str]:
    """Return why each thing that is broken cannot be used."""
    return [broken.why for broken in book.broken]


def test_number_of_built_in_rules() -> None:
    """All built-in rules are found; whoever adds or removes one says so here."""
    built_in = ours.rulebook(entry_points=False)
    assert not built_in.broken
    assert len(built_in.rules) == BUILT_IN


@pytest.mark.parametrize("rule", ours.rulebook(entry_points=False).rules.values(), ids=lambda rule: rule.name)
def test_every_rule_says_what_it_demands(rule: Rule) -> None:
    """The first paragraph of a rule's docstring is one sentence, shown beside its name, and ends in a full stop."""
    assert rule.demands.endswith(".")
    assert ". " not in rule.demands
    assert rule.demands[0].isupper()


def test_names(book: Any) -> None:
    """A rule is called by its file and its function."""
    assert list(book(alpha=RULE).rules) == ["alpha.named"]


def test_imported_rules_are_not_taken_twice(book: Any) -> None:
    """A module offers what it declares itself, not a rule it imported."""
    found = book(alpha=RULE + "\nfrom rules.rails import overload\n")
    assert list(found.rules) == ["alpha.named"]
    assert not found.broken


def test_files_with_an_underscore_are_left_out(book: Any) -> None:
    """A module whose name starts with an underscore holds helpers and is not loaded."""
    assert not book(_helpers=RULE).rules


def test_former_names(book: Any) -> None:
    """A rule answers to the names it had; an unknown name stays as it is."""
    found = book(alpha=RULE.replace('over="node"', 'over="node", was=["old.name"]'))
    assert found.former("old.name") == "alpha.named"
    assert found.former("alpha.named") == "alpha.named"
    assert found.former("nobody.knows") == "nobody.knows"


@pytest.mark.parametrize(
    "source, why",
    [
        ("1 / 0", "ZeroDivisionError: division by zero"),
        ("def broken(:", "SyntaxError: invalid syntax"),
        ("import no_such_module", "ModuleNotFoundError: No module named 'no_such_module'"),
        ("import sys\nsys.exit(0)", "SystemExit: 0"),
        (RULE.replace("node)", "node, volta)"), 'asks for "volta", which is no working'),
        (RULE.replace('"node"', '"nodes"'), 'is over "nodes", which is no working; did you mean "node"?'),
        (RULE.replace('"note"', '"grave"'), 'has level "grave"; levels are error, warning, note'),
        (RULE.replace('"""Nodes have names."""', "pass"), "has no docstring"),
        (RULE.replace("(node)", "()"), "takes no item"),
        ('@working()\ndef one(two):\n    """One."""\n@working()\ndef two(one):\n    """Two."""', "waits for itself"),
        ('@working()\ndef one(plan, lost):\n    """One."""', 'working one asks for "lost"'),
        ('@working()\ndef one(plan):\n    return 1', "working one has no docstring"),
        ('@working()\ndef plan():\n    """Mine."""', "the name plan is taken by the engine"),
        ("def plain(node): ...\ncases(plain, clean=[], flagged=[])", "cases() of plain, which is no rule"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_told(book: Any, source: str, why: str) -> None:
    """A module, rule or working that is wrong is kept as broken, with the reason and the file."""
    found = book(alpha=source, beta=RULE)
    assert any(why in text for text in whys(found)), whys(found)
    assert all(Path(broken.file).name == "alpha.py" for broken in found.broken)
    assert "beta.named" in found.rules


def test_line_of_what_cannot_load(book: Any) -> None:
    """The line told is that in the module itself, where the error passed through."""
    (broken,) = book(alpha="\n\nimport json\njson.loads('{')\n").broken
    assert broken.line == 5  # the fixture puts one line before the source
    (broken,) = book(alpha="\nx = = 1\n").broken
    assert broken.line == 3


def test_a_working_taken_twice(book: Any) -> None:
    """The second working of a name is refused, and the message says where the first one is."""
    one = '@working()\ndef same(plan):\n    """It."""\n    return [1]\n'
    found = book(alpha=one, beta=one)
    (why,) = whys(found)
    assert "the name same is taken by" in why
    assert "alpha.py:2" in why
    assert Path(found.workings["same"].file).name == "alpha.py"


def test_a_rule_taken_twice(tmp_path: Path) -> None:
    """A folder cannot put its own rule in the place of another one: the first stays, the second is told."""
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "same.py").write_text("from coldcheck import rule\n" + RULE, encoding="utf-8")
    found = load(TABLES, folders=[tmp_path / "one", tmp_path / "two"], entry_points=False)
    assert Path(found.rules["same.named"].file).parent.name == "one"
    assert "the name same.named is taken by" in whys(found)[0]


def test_a_missing_folder(tmp_path: Path) -> None:
    """A folder that does not exist is told; so is a file that is no Python."""
    note = tmp_path / "note.txt"
    note.write_text("no code", encoding="utf-8")
    found = load(TABLES, folders=[tmp_path / "gone", note], entry_points=False)
    assert whys(found) == ["there is no such file or folder", "not a Python file"]


HOOKED = """
from coldcheck.engine.hooks import hookimpl

@rule(level="note", over="node")
def offered(node):
    '''Offered.'''

@rule(level="note", over="node")
def kept_back(node):
    '''Kept back.'''

@hookimpl
def coldcheck_offers():
    return [offered]
"""


def test_a_module_chooses_what_it_offers(book: Any) -> None:
    """A module that implements the hook offers what the hook returns and nothing else."""
    found = book(alpha=HOOKED)
    assert list(found.rules) == ["alpha.offered"]
    assert not found.broken


def test_a_module_brings_a_shelf_and_rules(book: Any, tmp_path: Path) -> None:
    """A module that only implements the hook for shelves still offers the rules it declares."""
    found = book(
        alpha=RULE + "from coldcheck.engine.hooks import hookimpl\n"
        f"@hookimpl\ndef coldcheck_shelves():\n    return [{str(tmp_path)!r}]\n"
    )
    assert list(found.rules) == ["alpha.named"]
    assert found.shelves() == [tmp_path]
    assert not found.broken


@pytest.mark.parametrize(
    "wrong, why",
    [
        ("@hookimpl\ndef coldcheck_offer():\n    return []", "coldcheck_offer is no hook of Coldcheck"),
        ("def coldcheck_offers():\n    return []", "no @hookimpl stands above it"),
        ("def coldcheck_ofers():\n    return []", "no @hookimpl stands above it"),
        ("@hookimpl\ndef coldcheck_shelves(folder):\n    return []", "coldcheck_shelves"),
        ("@hookimpl\ndef coldcheck_shelves():\n    return 1 / 0", "ZeroDivisionError"),
        ("@hookimpl\ndef coldcheck_shelves():\n    return None", "TypeError"),
    ],
)
def test_a_misspelt_hook(book: Any, wrong: str, why: str) -> None:
    """What looks like a hook and is none, or fails, is told; the other modules still load."""
    found = book(alpha="from coldcheck.engine.hooks import hookimpl\n" + wrong, beta=RULE)
    found.shelves()
    assert any(why in text for text in whys(found)), whys(found)
    assert "beta.named" in found.rules


@pytest.mark.parametrize(
    "returned, why",
    [("[1 / 0]", "ZeroDivisionError"), ("None", "TypeError"), ("[len]", "neither a rule nor a working")],
)
def test_offers_that_fail(book: Any, returned: str, why: str) -> None:
    """A plugin whose offer fails is told; the other plugins are still asked."""
    found = book(alpha=HOOKED.replace("[offered]", returned), beta=RULE)
    assert any(why in text for text in whys(found)), whys(found)
    assert list(found.rules) == ["beta.named"]

"""What `why` and `parts` explain: tables and those inside them, parts, findings that no rule gives."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from coldcheck.formats.explain import OF_THE_ENGINE
from coldcheck.plan.tables import PART_KINDS, TABLES, spec_of


@pytest.mark.parametrize(
    "name, title, key",
    [
        ("supply.rail", "[[supply.rail]]", "efficiency"),
        ("harness.wire", "[[harness.wire]]", "gauge"),
        ("node.measured", "[[node.measured]]", "state"),
        ("node.inlet", "[[node.inlet]]", "backfeed"),
        ("node.inlet.measured", "[[node.inlet.measured]]", "draw"),
    ],
)
def test_a_table_inside_another(run: Any, name: str, title: str, key: str) -> None:
    """The keys of an inner table can be asked for by the name of both, joined by a dot."""
    result = run("why", name)
    assert result.exit_code == 0
    assert result.stdout.startswith(title)
    assert re.search(rf"^ +{key} ", result.stdout, re.MULTILINE)
    assert "bays" not in result.stdout


@pytest.mark.parametrize(
    "name", [f"{table}.{word}" for table, s in TABLES.items() for word in spec_of(s).inner]
)
def test_every_inner_table(run: Any, name: str) -> None:
    """Whatever stands inside a table of a plan is explained."""
    result = run("why", name)
    assert result.exit_code == 0
    assert result.stdout.startswith(f"[[{name}]]")


def test_parts_are_explained(run: Any) -> None:
    """`why part` has the keys of all parts, and the words of every kind; only what a part may state."""
    text = run("why", "part").stdout
    for word in ("id ", "kind ", "source "):
        assert f"\n    {word}" in text
    for kind in PART_KINDS:
        assert f"\n    {kind} " in text
    assert "efficiency" in text
    for word in ("from", "into", "measured", "address"):
        assert not re.search(rf"\b{word},", text), word


@pytest.mark.parametrize("kind", PART_KINDS)
def test_parts_of_a_kind_are_explained(run: Any, kind: str) -> None:
    """`why part.supply` explains each key that such a part may state, and no other."""
    text = run("why", f"part.{kind}").stdout
    assert text.startswith(f"[[part]] of kind {kind}")
    spec = spec_of(PART_KINDS[kind])
    for word, (_, key) in spec.keys.items():
        assert bool(re.search(rf"^    {word} ", text, re.MULTILINE)) or not key.part
        if word not in ("id", "kind") and not key.part and word not in spec.inner:
            assert not re.search(rf"^    {word} ", text.partition("\n\n[[")[0], re.MULTILINE), word


@pytest.mark.parametrize("name", ["supply.rial", "part.fann", "node.inlet.nothing"])
def test_a_table_that_is_not_there(run: Any, name: str) -> None:
    """Where there is no such inner table, those that there are get named."""
    result = run("why", name)
    assert result.exit_code == 2
    assert f"no table is called {name}; inside that one: " in result.stderr


def test_an_area_is_explained(run: Any) -> None:
    """The name of an area lists its rules alone."""
    lines = run("why", "polarity").stdout.splitlines()
    assert len(lines) > 2
    assert all(line.startswith("polarity.") for line in lines)


@pytest.mark.parametrize("name", OF_THE_ENGINE)
def test_findings_of_the_engine_are_explained(run: Any, name: str) -> None:
    """What no rule gives can be asked about all the same."""
    result = run("why", name)
    assert result.exit_code == 0
    assert result.stdout.startswith(name)
    assert OF_THE_ENGINE[name][0] in result.stdout


def test_every_finding_of_the_engine_is_explained(root: Path) -> None:
    """The table of findings that no rule gives names each that the code can give, and no other."""
    told = set()
    for file in [*(root / "coldcheck/engine").glob("*.py"), root / "coldcheck/formats/report.py"]:
        told |= set(re.findall(r'"((?:engine|waivers|plan)\.[a-z_]+)"', file.read_text()))
    assert told == set(OF_THE_ENGINE)


def test_a_long_value_of_a_part(run: Any) -> None:
    """The pins of a header are written over several lines; no line grows beyond its source."""
    lines = run("parts", "header-40").stdout.splitlines()
    rows = [line for line in lines if line.startswith("    ")]
    assert sum("signal" in line for line in rows) > 3
    assert max(map(len, rows)) < 180
    pins = " ".join(
        line.split("  40-pin")[0].strip()
        for line in rows[rows.index(next(line for line in rows if line.startswith("    pins"))) :]
    )
    assert "2 5v" in pins
    assert "40 signal" in pins

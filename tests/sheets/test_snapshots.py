"""Schedules as they were when someone last looked at them: a change of any cell is to be seen in a commit.

What physics computes is left out; that is checked from outside elsewhere. After a change that is meant, run
``UPDATE=1 .venv/bin/python -m pytest tests/sheets/test_snapshots.py`` and read the difference before it is committed.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from coldcheck.sheets import connectors, labels, network, power_tree, things, wires
from coldcheck.sheets.table import Table, as_csv
from tests.sheets.plans import read

HERE = Path(__file__).parent / "snapshots"
MAKERS = (
    things.parts_list, things.order, wires.cuts, wires.shopping, connectors.connectors, labels.labels,
    network.port_map, network.addresses, wires.wiring, power_tree.power_tree, wires.first_power,
)  # fmt: skip
#: What these columns hold is computed.
UNITS = {"V", "A", "ohm"}
LIMITS = {"about", "low", "high"}


def written(table: Table) -> Table:
    """Return a table without the columns that physics fills."""
    kept = [n for n, c in enumerate(table.columns) if c.unit not in UNITS and (c.unit or c.key not in LIMITS)]
    rows = [tuple(row[n] for n in kept) for row in table.rows]
    return Table(table.name, table.title, tuple(table.columns[n] for n in kept), rows, table.without)


@pytest.mark.parametrize("name", ["otter-weir", "gorse-hill"])
def test_schedules(root: Path, name: str) -> None:
    """Each schedule of an example, all in one file."""
    plan, get = read((root / "inventories" / f"{name}.toml").read_bytes(), name)
    tables = [table for make in MAKERS for table in make(plan, get)]
    text = "\n".join(f"{table.title}\n{as_csv(written(table))}" for table in tables).replace("\r\n", "\n")
    file = HERE / f"{name}.txt"
    if os.environ.get("UPDATE"):
        HERE.mkdir(exist_ok=True)
        file.write_text(text, encoding="utf-8")
    assert text == file.read_text(encoding="utf-8")

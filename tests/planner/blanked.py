"""A finished plan with its blanks taken out again: what a person would leave to `fill`."""

from __future__ import annotations

import re

import tomli

from coldcheck.plan.edit import Put, Take, apply

#: What is left out, by table. A lead keeps its length: that is measured on the box.
LEFT_OUT = {
    "node": ("from", "port", "address", "cable"),
    "appliance": ("from", "port", "address"),
    "storage": ("from", "port", "address", "cable"),
    "fan": ("from",),
    "switch": ("from",),
    "drive": ("bay", "delay", "kept_by"),
    "supply": ("from",),
    "inline": ("fuse",),
    "harness": ("gauge",),
}


def blanked(text: bytes, keep: tuple[str, ...] = ()) -> bytes:
    """Return a plan without ports, addresses, sources, bays, delays and fuses, and with leads of a length alone.

    Keys of ``keep`` stay as they are.
    """
    edits: list[Put | Take] = []
    for table, rows in tomli.loads(text.decode()).items():
        for i, row in enumerate(rows if isinstance(rows, list) else ()):
            edits += [
                Take((table, i, key))
                for key in LEFT_OUT.get(table, ())
                if _is_value(row.get(key)) and key not in keep
            ]
            if isinstance(row.get("lead"), str):
                edits.append(Put((table, i, "lead"), _length(row["lead"])))
            for j, outlet in enumerate(row.get("outlet", ()) if table == "inline" else ()):
                edits += [Take((table, i, "outlet", j, "fuse"))] if "fuse" in outlet else []
            for j, wire in enumerate(row.get("wire", ())):
                edits += [Take((table, i, "wire", j, "gauge"))] if "gauge" in wire else []
    return apply(text, edits)


def _is_value(value: object) -> bool:
    """Say whether a key is written and holds values: its tables stay."""
    return value is not None and not (isinstance(value, list) and isinstance(value[0], dict))


def _length(lead: str) -> str:
    found = re.search(r"[\d.]+ m?m\b", lead)
    assert found is not None
    return found[0]

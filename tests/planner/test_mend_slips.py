"""Mending held against the slips that are planted into whole networks: where it changes something, it is cured."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
import tomli

from coldcheck.planner.mend import mend
from coldcheck.planner.trial import Bench

Make = Callable[[], Bench]
HERE = Path(__file__).parents[1] / "inventories"
PLANS = {path.stem: path.read_text(encoding="utf-8") for path in sorted((HERE / "networks").glob("*.toml"))}
SLIPS = tomli.loads((HERE / "networks-slips.toml").read_text(encoding="utf-8"))["slip"]


@pytest.mark.parametrize("part", range(8))
def test_slips_in_networks(bench: Make, part: int) -> None:
    """No finding has come that was not there, no comment is lost, and a second mending changes nothing."""
    for slip in SLIPS[part::8]:
        text = PLANS[slip["plan"]].replace(slip["before"], slip["after"], 1)
        found = mend(bench(), text.encode())
        assert found.after.weight() <= found.before.weight(), slip
        came = found.after.verdicts() - found.before.verdicts()
        assert not [verdict for verdict in came if verdict[2] == "error"], slip
        after = found.after.text.decode()
        assert comments(after) == comments(text), slip
        assert not mend(bench(), found.after.text).changed, slip
        if found.made:
            gone = {(f.rule, f.subjects) for f in found.made}
            assert not gone & {(f.rule, f.subjects) for f in found.after.findings}, slip


def comments(text: str) -> Counter[str]:
    """Count the comments of a plan."""
    return Counter(line[line.index("#") :] for line in text.splitlines() if "#" in line)


def test_many_slips_are_mended(bench: Make) -> None:
    """A good part of them has an exact remedy: of every third slip, more than a fourth come back without a finding."""
    counts: Counter[str] = Counter()
    for slip in SLIPS[::3]:
        text = PLANS[slip["plan"]].replace(slip["before"], slip["after"], 1)
        found = mend(bench(), text.encode())
        left = [f for f in found.after.findings if f.rule == slip["rule"]]
        counts["mended" if found.changed and not left else "changed" if found.changed else "words"] += 1
    assert counts["mended"] > sum(counts.values()) / 4, counts

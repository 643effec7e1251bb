"""Plans mangled at random: whatever a file holds, a lint ends in 0, 1 or 2 and never in a traceback."""

from __future__ import annotations

import gc
import json
import random
import re
from collections import defaultdict
from pathlib import Path
from typing import Any

import pytest

from coldcheck import ours

MANY = 300
VERY_MANY = 20_000

#: Values that are at home nowhere, or at the edge of what is allowed.
ODD = [
    '"0 V"', '"-5 V"', '"-0.3 V .. 5.5 V"', '"1000 V"', "0", "-1", "true", '""', '" "', "[]", "{}", "[[]]",
    '["a", "b"]', '"n1 .. n6"', '"n6 .. n1"', '"n1 .. n20000"', '" .. "', '"a .. "', '"0 s .. 36 s by 12 s"',
    '"0 s .. by 12 s"', '"0 s .. 36 s by 0 s"', "1e400", "nan", "inf", "-inf", "1979-05-27", "07:32:00",
    "1979-05-27T07:32:00Z",
    '"0 A"', '"1 uA"', '"10000 A"', '"0 ohm"', '"0.0001 ohm"', '"1000000 ohm"', '"100 %"', '"0 %"', '"0.0001 %"',
    '"100 kW"', '"1 bit/s"', "99999999999999999999999", "0x7f", '"\\u0000"', '"\\U0010FFFF"', "'''\n'''", '"\u03a9"',
    '"10.20.0.1 .. 10.20.0.9"', '"255.255.255.255"', '"::1"', '"fd00::/129"', '"10.20.0.0/0"', '"02:00:00:00:00:01"',
    '"bank"', '"n1"', '"sw.1"', '"five.5v"', '"five.5v.6"', '"..."', '"."', '"class 8"', '"type 4"',
    "{ a = 1, b.c = 2 }", '"-40 AWG"', '"18 AWG, 420 mm, 9 x"', '"0 mm"', '"cat 6, 100000 m"',
    '"2 A for 0 s"', '"2 A for 1000000 s"', "4095", "20", "[20, 30]", '[10, "20 .. 29"]', '"OM3, 400 m"',
]  # fmt: skip


@pytest.fixture(scope="module")
def seeds(root: Path) -> list[str]:
    """Give plans to mangle: the examples, and every case of every built-in rule."""
    networks = root / "tests" / "inventories" / "networks"
    files = [*sorted((root / "inventories").glob("*.toml")), *sorted(networks.glob("*.toml"))]
    texts = [path.read_text(encoding="utf-8") for path in files]
    for rule in ours.rulebook(entry_points=False).rules.values():
        texts += rule.clean
        texts += [case.plan for case in rule.flagged]
    return texts


@pytest.fixture(scope="module")
def written(root: Path, seeds: list[str]) -> dict[str, list[str]]:
    """Give every value that is written for each key in the examples, the cases and the shelf."""
    found: dict[str, set[str]] = defaultdict(set)
    shelf = [
        path.read_text(encoding="utf-8") for path in sorted((root / "inventories" / "parts").glob("*.toml"))
    ]
    for line in "\n".join(seeds + shelf).splitlines():
        if match := re.fullmatch(r"(\w+) = (.*)", line):
            found[match[1]].add(match[2])
    return {key: sorted(values) for key, values in sorted(found.items())}


def mangled(rng: random.Random, seeds: list[str], written: dict[str, list[str]]) -> bytes:
    """Return a plan with one to five changes; most keep it TOML, some break its bytes."""
    text = rng.choice(seeds)
    for _ in range(rng.choice((1, 1, 2, 3, 5))):
        change = rng.choice((_line_gone, _line_twice, _lines_swapped, _blocks, _key_added, *[_value] * 6))
        text = change(rng, text, seeds, written)
    data = text.encode()
    if rng.random() < 0.1:
        at = rng.randrange(len(data) + 1)
        gone = rng.randrange(20)
        data = data[:at] + rng.randbytes(rng.randrange(4)) + data[at + gone :]
    return data


def _line_gone(rng: random.Random, text: str, *_: Any) -> str:
    lines = text.split("\n")
    del lines[rng.randrange(len(lines))]
    return "\n".join(lines)


def _line_twice(rng: random.Random, text: str, *_: Any) -> str:
    lines = text.split("\n")
    lines.insert(rng.randrange(len(lines)), rng.choice(lines))
    return "\n".join(lines)


def _lines_swapped(rng: random.Random, text: str, *_: Any) -> str:
    lines = text.split("\n")
    i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[i], lines[j] = lines[j], lines[i]
    return "\n".join(lines)


def _blocks(rng: random.Random, text: str, seeds: list[str], _: Any) -> str:
    """Take a table out, write it twice, shuffle all of them, or add those of another plan."""
    blocks = text.split("\n[[")
    i = rng.randrange(len(blocks))
    which = rng.randrange(4)
    if which == 0:
        del blocks[i]
    elif which == 1:
        blocks.append(blocks[i])
    elif which == 2:
        rng.shuffle(blocks)
    else:
        blocks += rng.choice(seeds).split("\n[[")[1:]
    return "\n[[".join(blocks)


def _key_added(rng: random.Random, text: str, _: Any, written: dict[str, list[str]]) -> str:
    lines = text.split("\n")
    key = rng.choice(list(written))
    lines.insert(rng.randrange(len(lines) + 1), f"{key} = {rng.choice(written[key])}")
    return "\n".join(lines)


def _value(rng: random.Random, text: str, _: Any, written: dict[str, list[str]]) -> str:
    """Give a key another value: one that is written for it elsewhere, or an odd one."""
    lines = text.split("\n")
    keyed = [i for i, line in enumerate(lines) if re.match(r"\w+ = ", line)]
    if keyed:
        i = rng.choice(keyed)
        key = lines[i].partition(" = ")[0]
        lines[i] = f"{key} = {rng.choice(written[key] if key in written and rng.random() < 0.6 else ODD)}"
    return "\n".join(lines)


def check(run: Any, plan: bytes, number: int) -> int:
    """Lint one plan as text and as JSON; return the exit code."""
    text = run("lint", "-", stdin=plan)
    assert text.exit_code in (0, 1, 2), number
    assert "Traceback" not in text.output, number
    assert "engine." not in text.stdout.replace("engine.toml", ""), f"plan {number}:\n{text.stdout}"
    data = run("lint", "-", "--as", "json", stdin=plan)
    assert data.exit_code == text.exit_code, number
    document = json.loads(data.stdout)
    shown = sum(not finding["waived"] for finding in document["plans"][0]["findings"])
    assert len([line for line in text.stdout.splitlines() if line.startswith("-:")]) == shown, number
    return int(text.exit_code)


def test_mangled_plans(run: Any, seeds: list[str], written: dict[str, list[str]], monkeypatch: Any) -> None:
    """Of many mangled plans each one is judged, or refused with its place; all three exit codes are met."""
    book = ours.rulebook(entry_points=False)
    monkeypatch.setattr(ours, "rulebook", lambda *_: book)  # loaded once: the plans are what is tested here
    codes = [check(run, mangled(random.Random(n), seeds, written), n) for n in range(MANY)]
    assert min(codes.count(code) for code in (0, 1, 2)) > MANY // 60


@pytest.mark.proof
def test_very_many_mangled_plans(
    run: Any, seeds: list[str], written: dict[str, list[str]], monkeypatch: Any
) -> None:
    """The same of very many, others every time; the number told makes the plan again."""
    book = ours.rulebook(entry_points=False)
    monkeypatch.setattr(ours, "rulebook", lambda *_: book)
    first = random.SystemRandom().randrange(10**9)
    for n in range(first, first + VERY_MANY):
        check(run, mangled(random.Random(n), seeds, written), n)
        if n % 200 == 0:
            gc.collect()  # a lint switches the collector off, since its process ends with it


SCRAPS = [
    b"\0", b"\r", b"=", b'"', b"[", b"[[", b"[[node", b"[[node]]\r\nid = 'a'\r\n", b"#\x7f", b"a.b.c = 1", b"[a.b]",
    b"[[node]]\n[node.inlet]\n", b"plan = []", b"part = {}", b"[[waiver]]", b"[[harness.wire]]",
]  # fmt: skip


@pytest.mark.parametrize("data", SCRAPS)
def test_scraps(run: Any, data: bytes) -> None:
    """The smallest scraps of TOML are refused or judged like any plan."""
    check(run, data, 0)


@pytest.mark.parametrize("text", [
    "[[node]]\nid = '0 s .. by 12 s'\n",
    "[[feed]]\nid = 'b'\nvolts = '-5 V'\n[[node]]\nid = 'n'\nfrom = 'b'\n",
    "[[part]]\nid = 'p'\nkind = 'supply'\n[[part.rail]]\nid = 'r'\nvolts = '5 V'\n"
    "[[supply]]\nid = 's'\npart = 'p'\n[[supply.rail]]\nid = 'r'\ntitle = 'no key of a rail'\n",
])  # fmt: skip
def test_found_before(run: Any, text: str) -> None:
    """Mangled plans that once ended in a traceback, cut down to what mattered."""
    check(run, text.encode(), 0)


def test_deep_and_long(run: Any) -> None:
    """Nesting without end, very long lines, names and numbers end in a clear refusal."""
    for text in (
        "a = " + "[" * 100_000,
        "a = " + "{a = " * 20_000,
        "[" + ".".join("a" * 20_000) + "]",
        "[[node]]\nid = '" + "n" * 1_000_000 + "'",
        "x = " + "9" * 100_000,
        "[plan]\nreserve = '" + "9" * 10_000 + " %'",
        "[[node]]\nid = 'n1 .. n" + "9" * 5_000 + "'",
        "\n".join(f"[[node]]\nid = 'n{i}'\nfrom = 'n{i - 1}'" for i in range(3000)),
    ):
        check(run, text.encode(), 0)

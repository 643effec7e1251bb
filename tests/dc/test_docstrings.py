"""The direct-current code says of every argument what it is and in which unit, and imports nothing heavy."""

import ast
import inspect
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from coldcheck.dc import (
    air,
    battery,
    contact,
    converter,
    curve,
    drop,
    fan,
    fuse,
    inrush,
    many,
    many_network,
    network,
    radial,
    sampling,
    spread,
    steps,
    study,
    thermal,
    wire,
)

#: What a lint never imports may need NumPy at its top.
SAMPLED = {"many", "many_network", "many_newton", "sampling", "study"}

FUNCTIONS = [
    function
    for module in (
        *(air, battery, contact, converter, curve, drop, fan, fuse, inrush, many, many_network, network),
        *(radial, sampling, spread, steps, study, thermal, wire),
    )
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__ and not name.startswith("_")
]


@pytest.mark.parametrize(
    "function", FUNCTIONS, ids=lambda function: f"{function.__module__}.{function.__name__}"
)
def test_every_argument_has_a_unit(function: Callable[..., Any]) -> None:
    """A docstring has one line for each argument, in order, that ends in a unit; and says what is given."""
    text = inspect.getdoc(function) or ""
    described = re.findall(r"^([a-z_]+): .*(?:\n    .*)*\[[^\]]+\]$", text, re.MULTILINE)
    assert described == list(inspect.signature(function).parameters)
    assert re.search(r"^Gives: ", text, re.MULTILINE)


@pytest.mark.parametrize("path", sorted(Path(wire.__file__).parent.glob("*.py")), ids=lambda path: path.stem)
def test_light_imports(path: Path) -> None:
    """Each module imports at its top only light parts of the standard library, msgspec and its neighbours."""
    taken = set()
    for line in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(line, ast.Import):
            taken |= {name.name for name in line.names}
        elif isinstance(line, ast.ImportFrom):
            taken.add(line.module or "")
    own = {name for name in taken if name.startswith("coldcheck.dc")}
    light = {
        "bisect",
        "collections.abc",
        "functools",
        "heapq",
        "itertools",
        "math",
        "operator",
        "typing",
        "msgspec",
    }
    more = {"concurrent.futures", "numpy"} if path.stem in SAMPLED else set()
    assert taken - own <= light | more
    assert path.stem in SAMPLED or not own & {f"coldcheck.dc.{name}" for name in SAMPLED}

"""Capacitors behind a point, against the network solved with NumPy: first peak, and I²t of the whole charge."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest

from coldcheck.dc import inrush

SOLDERED = '[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
FEED = '[[feed]]\nid = "f"\nvolts = "12 V"\nspread = "0 %"\nbattery = true\nplug = "soldered"\n'


@pytest.fixture(scope="module")
def chargings(worked: Any) -> Any:
    """Give a function that reads a plan and returns what is charged behind its points."""
    return lambda text: worked(SOLDERED + text).working("chargings")


def run(id: str, source: str, ohms: float, farads: float, what: str = "run") -> str:
    """Return an in-line run with a capacitor at its end."""
    return (
        f'[[inline]]\nid = "{id}"\nwhat = "{what}"\nfrom = "{source}"\nplug = "soldered"\n'
        f'lead = "{ohms * 1000:.6f} mohm"\ncapacitance = "{farads * 1e6:.6f} uF"\n'
    )


def tree(seed: int) -> tuple[str, list[int], list[float], list[float]]:
    """Return a random tree as a plan, and its parents (-1 for the source), ohms [ohm] and farads [F]."""
    draw = random.Random(seed)
    count = draw.randint(2, 8)
    parents = [-1, *(draw.randint(-1, i - 1) for i in range(1, count))]
    ohms = [draw.uniform(0.01, 0.2) for _ in parents]
    farads = [draw.choice([0.0, 1e-4, 1e-3]) for _ in parents]
    farads[-1] = 1e-3
    text = FEED
    for i, (parent, r, c) in enumerate(zip(parents, ohms, farads, strict=True)):
        text += run(f"r{i}", "f" if parent < 0 else f"r{parent}", r, c)
    return text, parents, ohms, farads


def played(parents: list[int], ohms: list[float], farads: list[float]) -> tuple[float, float]:
    """Return the first peak [A] out of a source of 12 V, and the I²t of the whole charge [A2 s], by the matrices.

    Nodes without a capacitor are taken out (Kron), the others are charged by modes: every current is a sum of
    exponentials, whose products are integrated in closed form.
    """
    n = len(parents)
    laplacian, into = np.zeros((n, n)), np.zeros(n)
    for i, (parent, r) in enumerate(zip(parents, ohms, strict=True)):
        laplacian[i, i] += 1 / r
        if parent < 0:
            into[i] += 1 / r
        else:
            laplacian[parent, parent] += 1 / r
            laplacian[i, parent] -= 1 / r
            laplacian[parent, i] -= 1 / r
    full = [i for i in range(n) if farads[i] > 0]
    bare = [i for i in range(n) if farads[i] == 0 and laplacian[i, i] > 0]
    away = laplacian[np.ix_(full, bare)] @ np.linalg.inv(laplacian[np.ix_(bare, bare)])
    reduced = laplacian[np.ix_(full, full)] - away @ laplacian[np.ix_(bare, full)]
    drive = into[full] - away @ into[bare]
    root = np.sqrt([farads[i] for i in full])
    rates, modes = np.linalg.eigh(reduced / np.outer(root, root))
    # What is left to go starts at 12 V everywhere and decays; the current is what the source drives of it.
    parts = (drive / root) @ modes * (modes.T @ (root * 12.0))
    return float(parts.sum()), float(sum(a * b / (p + q) for a, p in zip(parts, rates, strict=True)
                                         for b, q in zip(parts, rates, strict=True)))  # fmt: skip


@pytest.mark.parametrize("seed", range(25))
def test_a_tree_as_numpy_solves_it(chargings: Any, seed: int) -> None:
    """The first peak out of any tree is V over the resistance given; its I²t is at most CV² / 2R."""
    text, parents, ohms, farads = tree(seed)
    (source,) = [each for each in chargings(text) if each.what == "source"]
    peak, heat = played(parents, ohms, farads)
    assert source.farads == pytest.approx(sum(farads))
    assert inrush.first_peak(source.volts, source.ohms) == pytest.approx(peak)
    bound = inrush.amps_squared_seconds(source.farads, source.volts, source.ohms)
    assert bound / 10 < heat <= bound * (1 + 1e-6)


def test_one_capacitor_meets_the_bound(chargings: Any) -> None:
    """With one capacitor the bound on I²t is what flows: 1 mF at 12 V through 0.1 ohm gives 0.72 A2s."""
    (source,) = chargings(FEED + run("r", "f", 0.1, 1e-3))
    assert played([-1], [0.1], [1e-3])[1] == pytest.approx(0.72)
    assert inrush.amps_squared_seconds(source.farads, source.volts, source.ohms) == pytest.approx(0.72)


def test_only_what_a_contact_closes_on_is_hard(chargings: Any) -> None:
    """Of a feed that comes up slowly, only capacitors behind a switch are closed on; the others rise with it."""
    text = FEED.replace("battery = true\n", "") + run("r", "f", 0.1, 1e-3) + run("s", "f", 0.2, 0.0, "switch")
    text += run("t", "s", 0.3, 2e-3)
    found = {(each.what, each.hard): each for each in chargings(text)}
    assert set(found) == {("source", True), ("source", False), ("switch", True)}
    assert found["source", False].farads == pytest.approx(3e-3)
    assert found["source", True].names == found["switch", True].names == ["t"]
    assert found["switch", True].ohms == pytest.approx(0.5)


def test_a_fuse_in_between_sees_what_is_behind_it(chargings: Any) -> None:
    """A fuse sees the capacitors behind it through all that lies before it and itself, cold; the source at its most."""
    text = FEED.replace('spread = "0 %"', 'high = "14.4 V"\nlow = "11 V"')
    text += run("a", "f", 0.1, 0.0) + run("b", "a", 0.2, 0.0, "fuse") + 'fuse = "5 A blade"\n'
    text += run("c", "b", 0.3, 1e-3) + run("d", "a", 0.05, 1e-3)
    (fuse,) = [each for each in chargings(text) if each.what == "fuse"]
    assert (fuse.names, fuse.ohms, fuse.volts) == (["c"], pytest.approx(0.6 + 0.01785), 14.4)


def test_a_missing_lead_is_not_taken_for_nothing(chargings: Any) -> None:
    """Where a lead is not described, the resistance is not known, and no peak is computed from half of it."""
    text = FEED + '[[node]]\nid = "n"\nfrom = "f"\ncapacitance = "1 mF"\n'
    assert [each.ohms for each in chargings(text)] == [None]

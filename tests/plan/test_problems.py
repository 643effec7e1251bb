"""The nearest name: what was meant by a word with a slip in it."""

import pytest

from coldcheck.plan.problems import nearest


@pytest.mark.parametrize(
    ("word", "known", "wanted"),
    [
        ("brik", ["brick", "bank"], "brick"),
        ("sv", ["sw", "n1", "store"], "sw"),
        ("SW", ["sw", "SX"], "sw"),
        ("n9", ["n1"], "n1"),
        ("five", ["FIVE"], "FIVE"),
        ("5V", ["12v", "5v"], "5v"),
        # nothing is near
        ("sv", ["n1", "store", "switch"], ""),
        ("sv", ["xv"], ""),
        ("zzzz", ["sw", "brick"], ""),
        ("x", ["sw"], ""),
        ("x", [], ""),
    ],
)
def test_nearest(word: str, known: list[str], wanted: str) -> None:
    """A word is near another that shares most of it; one of few letters, that shares its first and half of all."""
    assert nearest(word, known) == wanted

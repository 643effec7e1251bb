"""Copper categories and lengths: spelling, order, better cable."""

import pytest

from coldcheck.lan import cable


def test_spellings() -> None:
    """A category is understood with or without its word, in any case."""
    for text in ("6A", "6a", "cat6a", "Cat 6A", "Cat. 6a", "CAT-6A", " category 6A "):
        assert cable.read_category(text) == "6A"
    for text in ("", "cat", "6b", "Cat 9", "fibre"):
        with pytest.raises(ValueError, match="no cable category; known are 3, 5, 5e"):
            cable.read_category(text)


def test_order() -> None:
    """Categories rise in bandwidth, only 5e equals 5, and typical copper is below its limit."""
    hertz = [category.hertz for category in cable.CATEGORIES]
    assert hertz == sorted(hertz)
    assert len(set(hertz)) == len(hertz) - 1
    for category in cable.CATEGORIES:
        assert 0 < category.typical_ohms < category.limit_ohms
        assert cable.category(category.name) is category


def test_better_cable_reaches_as_far() -> None:
    """A better category never reaches less, and what is at risk is never less than what is sure."""
    for row in cable.COPPER:
        reach = [cable.longest(row.bits, category.name) or 0.0 for category in cable.CATEGORIES]
        risky = [cable.longest_at_risk(row.bits, category.name) or 0.0 for category in cable.CATEGORIES]
        assert reach == sorted(reach)
        assert risky == sorted(risky)
        assert all(maybe >= sure for sure, maybe in zip(reach, risky, strict=True))
        assert reach[-1] > 0


def test_a_speed_without_a_standard() -> None:
    """A speed of no twisted-pair standard has no length and no name; bad cable is still refused."""
    assert cable.longest(2e9, "6A") is None
    assert cable.longest_at_risk(2e9, "6A") is None
    assert cable.speed_name(2e9) is None
    with pytest.raises(ValueError, match="no cable category"):
        cable.longest(1e9, "9")

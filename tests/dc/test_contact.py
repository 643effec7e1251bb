"""Contacts in parallel."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.dc import contact


@given(st.floats(0.1, 50), st.integers(1, 200))
def test_doubling_adds_sixty_percent(each: float, count: int) -> None:
    """Twice the contacts carry 1.6 times as much: doubled, less 20 %."""
    one, two = (contact.shared_rating(each, n) for n in (count, 2 * count))
    assert two == pytest.approx(1.6 * one, rel=1e-9)


@given(st.floats(0.1, 50), st.integers(1, 200))
def test_one_more_helps_less_than_one(each: float, count: int) -> None:
    """One more contact adds something, but less than its own rating."""
    more = contact.shared_rating(each, count + 1) - contact.shared_rating(each, count)
    assert 0 < more < each


@pytest.mark.parametrize(("each", "count"), [(-1.0, 1), (3.0, 0), (math.nan, 1)])
def test_no_such_contacts(each: float, count: int) -> None:
    """A negative rating or no contact is refused."""
    with pytest.raises(ValueError, match="no such contacts"):
        contact.shared_rating(each, count)

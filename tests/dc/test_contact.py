"""Contacts in parallel."""

import math

import numpy as np
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


ohms = st.floats(1e-4, 0.1)


@given(ohms, st.floats(1, 10), st.floats(0, 0.5), st.integers(1, 24))
def test_worst_share_is_the_solved_network(new: float, ageing: float, wire: float, count: int) -> None:
    """The share through the new contact is that of the node equations, solved by NumPy.

    Ten amperes enter a node; each branch leads over its wire to a node of its own and over its contact to
    the far end, which is held at 0 V.
    """
    contacts = np.array([new] + [new * ageing] * (count - 1))
    joined = max(wire, 1e-9)
    matrix = np.zeros((count + 1, count + 1))
    for branch, ohm in enumerate(contacts, 1):
        matrix[0, 0] += 1 / joined
        matrix[branch, branch] += 1 / joined + 1 / ohm
        matrix[0, branch] = matrix[branch, 0] = -1 / joined
    volts = np.linalg.solve(matrix, np.array([10.0] + [0.0] * count))
    currents = volts[1:] / contacts
    share = contact.worst_share(new, new * ageing, wire, count)
    assert share == pytest.approx(currents[0] / 10, rel=1e-3)
    assert share >= (1 - 1e-12) * max(currents) / sum(currents) * (1 - 1e-3)


@given(ohms, st.floats(1, 10), st.floats(0, 0.5), st.integers(1, 24))
def test_worst_share_in_closed_form(new: float, ageing: float, wire: float, count: int) -> None:
    """The share is the conductance of the new branch over the sum of all."""
    best, others = 1 / (new + wire), 1 / (new * ageing + wire)
    share = contact.worst_share(new, new * ageing, wire, count)
    assert share == pytest.approx(best / (best + (count - 1) * others), rel=1e-9)
    assert 1 / count * (1 - 1e-12) <= share <= 1


@pytest.mark.parametrize(("pins", "published"), [(1, 3.0), (2, 4.8), (4, 7.68)])
def test_worst_share_explains_the_published_derating(pins: int, published: float) -> None:
    """Contacts of 10 mohm new and 20 mohm aged, as sheets allow, explain 20 % less for each doubling.

    Connector sheets of the PH type: 10 and 20 mohm, 2 A; derating note (DER): 3, 4.8, 7.68 A of 3 A pins.
    """
    assert 3.0 / contact.worst_share(0.010, 0.020, 0.0, pins) == pytest.approx(published, rel=0.07)


def test_wire_evens_out() -> None:
    """Wire in series with each contact evens out the shares; perfect joints share alike."""
    shares = [contact.worst_share(0.01, 0.02, wire, 4) for wire in (0.0, 0.01, 0.1, 10.0)]
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] == pytest.approx(0.25, rel=1e-3)
    assert contact.worst_share(0.0, 0.0, 0.0, 4) == 0.25
    assert contact.worst_share(0.0, 0.02, 0.0, 4) == 1.0


@pytest.mark.parametrize(
    ("new", "aged", "wire", "count"),
    [(-0.01, 0.02, 0, 2), (0.02, 0.01, 0, 2), (0.01, 0.02, -1, 2), (0.01, 0.02, 0, 0), (math.nan, 1, 0, 1)],
)
def test_no_such_parallel_contacts(new: float, aged: float, wire: float, count: int) -> None:
    """Negative resistance, ageing that makes better, or no contact is refused."""
    with pytest.raises(ValueError, match="no such contacts"):
        contact.worst_share(new, aged, wire, count)


@given(st.floats(0, 20), st.floats(0.5, 20), st.floats(1, 60), st.floats(1e-4, 0.1))
def test_rise_follows_the_heat(amps: float, rated: float, kelvin: float, resistance: float) -> None:
    """The rise is to that at the rating as the heat I²R is to that at the rating."""
    heat, at_rated = amps**2 * resistance, rated**2 * resistance
    assert contact.rise(amps, rated, kelvin) == pytest.approx(kelvin * heat / at_rated, rel=1e-9)


def test_rise_at_the_rating() -> None:
    """At its rating a contact is 30 K warmer, as connector sheets define it; at half of it a quarter."""
    assert contact.rise(4.0, 4.0) == 30.0
    assert contact.rise(2.0, 4.0) == 7.5


@pytest.mark.parametrize(("amps", "rated", "kelvin"), [(-1.0, 3.0, 30.0), (1.0, 0.0, 30.0), (1.0, 3.0, -1.0)])
def test_no_such_rise(amps: float, rated: float, kelvin: float) -> None:
    """A negative current or rise, or no rating, is refused."""
    with pytest.raises(ValueError, match="no such load"):
        contact.rise(amps, rated, kelvin)

"""Contacts: what several of them carry together."""

import math


def shared_rating(each: float, count: int) -> float:
    """Current that equal contacts in parallel may carry together: 20 % less for each doubling.

    Contacts age unequally, so current does not divide evenly. Where a network with unequal contacts has
    been solved, hold each share against the rating of one contact instead; never both.

    each: rating of one contact alone [A]
    count: contacts in parallel [-]
    Gives: each × count × 0.8^log2(count) [A]
    Errors: ValueError for a negative rating or no contact.
    Valid: published for 1, 2 and 4; between and beyond by the same law.
    Source: connector pin derating note (DER), read; the law is common practice, not a standard.
    """
    if not (each >= 0 and count >= 1):
        raise ValueError(f"no such contacts: {count} of {each} A")
    return each * count * math.pow(0.8, math.log2(count))

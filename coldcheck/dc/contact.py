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


def worst_share(new: float, aged: float, wire: float, count: int) -> float:
    """Share of the total current through the only new one of contacts in parallel, the others being aged.

    The least resistance takes the most current: this is the network with unequal ageing. Hold total × share
    against the rating of one contact, and do not use `shared_rating` as well.

    new: resistance of a new contact [ohm]
    aged: resistance of an aged one, not less [ohm]
    wire: in series with each contact, up to where they are joined; 0 where pins are joined directly [ohm]
    count: contacts in parallel [-]
    Gives: 1/count where all are equal, towards 1 the more the others have aged [-]
    Errors: ValueError for a negative resistance, aged below new, or no contact.
    Valid: both ends joined without resistance of their own.
    Source: current divider (Kirchhoff).
    """
    if not (0 <= new <= aged and wire >= 0 and count >= 1):
        raise ValueError(f"no such contacts: {count} of {new} to {aged} ohm with {wire} ohm of wire")
    best, others = new + wire, aged + wire
    if others == 0:
        return 1 / count
    return others / (others + (count - 1) * best)


def rise(amps: float, rated: float, rise_at_rated: float = 30.0) -> float:
    """Temperature of a contact above its surroundings: it grows with the heat, the square of the current.

    amps: current through the contact [A]
    rated: current at which it reaches the given rise [A]
    rise_at_rated: at the rated current [K]
    Gives: [K]
    Errors: ValueError for a negative current or rise, or a rating that is not positive.
    Valid: lasting currents up to about twice the rating; resistance taken as constant.
    Source: common practice; 30 K at the rating is what connector sheets use (KK1, TE093).
    """
    if not (amps >= 0 and rated > 0 and rise_at_rated >= 0):
        raise ValueError(f"no such load: {amps} A of {rated} A, {rise_at_rated} K")
    return rise_at_rated * (amps / rated) ** 2

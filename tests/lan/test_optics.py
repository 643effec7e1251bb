"""Fibre and direct-attach copper: spelling, order, better fibre, what no standard grants."""

import pytest

from coldcheck.lan import optics

SPEEDS = sorted({row.bits for row in optics.OPTICS})


def test_spellings() -> None:
    """A medium is understood in any case; what is neither fibre nor direct is refused."""
    for text in ("OM3", "om3", " Om3 "):
        assert optics.read_medium(text) == "OM3"
    assert optics.read_medium("Direct") == "direct"
    for text in ("", "OM6", "OM", "6A", "fibre"):
        with pytest.raises(ValueError, match=r"no fibre and not direct; known are OM1, .*OS2, direct"):
            optics.read_medium(text)
        with pytest.raises(ValueError, match="no fibre"):
            optics.longest(1e9, text)


def test_better_fibre_reaches_as_far() -> None:
    """Along a kind of fibre no speed reaches less on better fibre, and single-mode reaches beyond multimode."""
    for bits in SPEEDS:
        many = [optics.longest(bits, medium) or 0.0 for medium in optics.MULTIMODE]
        single = [optics.longest(bits, medium) or 0.0 for medium in optics.SINGLE_MODE]
        assert many == sorted(many)
        assert single == sorted(single)
        assert 0 < many[-1] < single[0]


def test_faster_never_reaches_further() -> None:
    """From 1 to 25 Gbit/s over one pair of fibres no faster speed reaches further on a medium."""
    serial = [bits for bits in SPEEDS if bits <= 25e9]
    for medium in (*optics.MULTIMODE, *optics.SINGLE_MODE):
        reach = [optics.longest(bits, medium) or 0.0 for bits in serial]
        assert reach == sorted(reach, reverse=True), medium


def test_name_and_length_come_from_one_row() -> None:
    """The standard named for a speed on a medium is the one that grants the length."""
    for bits in SPEEDS:
        for medium in (*optics.MULTIMODE, *optics.SINGLE_MODE, optics.DIRECT):
            name = optics.speed_name(bits, medium)
            metres = optics.longest(bits, medium)
            assert (name is None) == (metres is None)
            assert name is None or any(
                (row.bits, row.name, row.metres) == (bits, name, metres) for row in optics.OPTICS
            )


def test_what_no_standard_grants() -> None:
    """1 Gbit/s on direct-attach copper, 25 Gbit/s on OM2, and speeds without a standard have no length."""
    for bits, medium in ((1e9, "direct"), (25e9, "OM2"), (2.5e9, "OM4"), (100e6, "OS2")):
        assert optics.longest(bits, medium) is None
        assert optics.speed_name(bits, medium) is None

"""Fuses between their gates, checked against fuses that heat, cool and melt by their own equation."""

import math
import random
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import Struct

from coldcheck.dc import fuse, fuse_data
from coldcheck.dc.steps import Steps
from coldcheck.dc.wire import UnknownChoiceError

KINDS = tuple(fuse_data.KINDS)
CARTRIDGES = tuple(kind for kind in KINDS if kind != "ptc")
kinds = st.sampled_from(KINDS)
ratings = st.floats(0.1, 30)


class Element(Struct, frozen=True):
    """A fuse of 1 A that melts at heat 1: least melting current, time constant, growth of its resistance.

    heat' = gain × amps² × (1 + growth × heat) - heat / constant: textbook heat balance of one body.
    """

    least: float
    constant: float
    growth: float

    def slopes(self, amps: float) -> tuple[float, float]:
        """Give heat' = first + second × heat at a current."""
        push = amps**2 / (self.constant * self.least**2 * (1 + self.growth))
        return push, self.growth * push - 1 / self.constant

    def opens(self, amps: float) -> float:
        """Give the time from cold to melting."""
        push, pull = self.slopes(amps)
        if push + pull <= 0:
            return math.inf
        return 1 / push if abs(pull) < 1e-12 else math.log1p(pull / push) / pull

    def survives(self, profile: Steps) -> bool:
        """Tell whether it goes through a start profile, from cold, without melting."""
        heat = 0.0
        for (start, amps), (end, _) in pairwise([*profile, (math.inf, 0.0)]):
            push, pull = self.slopes(amps)
            if end == math.inf:
                return heat < 1 and push + pull <= 0
            heat = heat * math.exp(pull * (end - start)) + push * math.expm1(pull * (end - start)) / pull
            if heat >= 1:
                return False
        return True


def meets(element: Element, gates: tuple[fuse_data.Gate, ...]) -> bool:
    """Tell whether an element passes every gate."""
    return all(
        (gate.shortest or 0.0) <= element.opens(gate.multiple) <= (gate.longest or math.inf) for gate in gates
    )


def elements(kind: str, rated: float, seed: int) -> list[Element]:
    """Give elements of all sorts that a maker may sell as this kind: they pass the gates of one class."""
    draw = random.Random(seed)
    found: list[Element] = []
    for gates in fuse.gates(kind, rated):
        passed: list[Element] = []
        for _ in range(20_000):
            element = Element(
                draw.uniform(1.05, 2.2), 10 ** draw.uniform(-3, 4), draw.choice((0.0, 0.5, 4.0))
            )
            if meets(element, gates):
                passed.append(element)
                if len(passed) == 60:
                    break
        assert len(passed) == 60
        found += passed
    return found


@pytest.mark.parametrize("kind", CARTRIDGES)
@pytest.mark.parametrize("rated", [2.0, 5.0])
def test_no_fuse_that_passes_the_gates_contradicts(kind: str, rated: float) -> None:
    """A melting element that passes the gates stands what is surely stood, and opens when it surely opens."""
    for element in elements(kind, rated, 1):
        for step in range(1, 60):
            multiple = 1.0 + 0.2 * step
            opened = element.opens(multiple)
            within = fuse.opens_within(kind, rated, multiple * rated)
            assert within is None or opened <= within * (1 + 1e-9)
            seconds = 10 ** (-3 + 0.12 * step)
            assert element.opens(fuse.stands(kind, rated, seconds) / rated * (1 - 1e-9)) >= seconds


def test_a_straight_line_would_promise_too_much() -> None:
    """An element passes the gates of sheet 3, and yet opens before the log-log line between 1.5 and 2.75."""
    element = Element(1.51, 8.0, 0.5)
    assert meets(element, fuse.gates("iec-slow", 1.0)[0])
    line = 3600 * (1.6 / 1.5) ** (math.log(0.6 / 3600) / math.log(2.75 / 1.5))
    assert element.opens(1.6) < line / 10
    assert fuse.holds("iec-slow", 1.0, 1.6, line / 2) is None


def test_plain_miner_sum_would_promise_too_much() -> None:
    """Half an hour at 1.5 A, then 9 ms at 10 A: times over opening times make 0.95, and yet an element melts."""
    element = Element(1.51, 8.0, 0.5)
    profile = [(0.0, 1.5), (1800.0, 10.0), (1800.009, 0.0)]
    assert 1800 / 3600 + 0.009 / 0.02 < 1
    assert not element.survives(profile)
    assert fuse.standing("iec-slow", 1.0, profile) > 1


def profiles(draw: random.Random, most: float) -> Steps:
    """Give a start profile with spells above 1 A, and an end that lasts."""
    start, profile = 0.0, []
    for _ in range(draw.randint(1, 6)):
        profile.append((start, draw.choice((draw.uniform(0, 1), draw.uniform(1, most)))))
        start += 10 ** draw.uniform(-2, 3)
    return [*profile, (start, draw.uniform(0, 1))]


@pytest.mark.parametrize("kind", CARTRIDGES)
def test_a_profile_surely_stood_melts_no_element(kind: str) -> None:
    """Whatever passes the gates goes through a start profile whose share is at most 1."""
    draw = random.Random(2)
    tried = elements(kind, 1.0, 3)
    stood = 0
    for _ in range(4000):
        profile = profiles(draw, 4.0 if draw.random() < 0.5 else 1.6)
        share = fuse.standing(kind, 1.0, profile)
        if 0 < share <= 1:
            stood += 1
            assert all(element.survives(profile) for element in tried)
    assert stood > 50


@given(kinds, ratings, st.floats(1.001, 12), st.floats(0.001, 1e5))
def test_one_spell_is_judged_as_holds_judges(
    kind: str, rated: float, multiple: float, seconds: float
) -> None:
    """A single spell uses at most all of the share exactly where the fuse surely holds it."""
    amps = multiple * rated
    share = fuse.standing(kind, rated, [(0.0, amps), (seconds, 0.0)])
    if abs(share - 1) > 1e-6:
        assert (share < 1) == (fuse.holds(kind, rated, amps, seconds) is True)


@given(st.lists(st.floats(0.151, 0.317), min_size=1, max_size=3))
def test_miner_sum_where_energy_counts(lasts: list[float]) -> None:
    """Where constant I²t rules, spells far apart add like Miner's sum: time over time to open.

    A fuse of 1 A of sheet 3 stands 0.15 s at 4 A, so 0.15 s × (4 / 3)² at 3 A.
    """
    profile: Steps = []
    for place, last in enumerate(lasts):
        profile += [(1000.0 * place, 3.0), (1000.0 * place + last, 0.0)]
    expected = sum(last / (0.15 * (4 / 3) ** 2) for last in lasts)
    # all of them as one long block of 3 A would be (3 / 1.5)²
    assert fuse.standing("iec-slow", 1.0, profile) == pytest.approx(min(expected, 4.0), rel=1e-6)


def test_many_equal_spells() -> None:
    """Ten spells of 0.02 s at 3.5 A are more than one of them, and more than a fuse of 1 A surely stands."""
    spells: Steps = []
    for place in range(10):
        spells += [(1000.0 * place, 3.5), (1000.0 * place + 0.02, 0.5)]
    one = fuse.standing("iec-slow", 1.0, spells[:2])
    assert one < 1 < fuse.standing("iec-slow", 1.0, spells)


def test_neighbours_count_as_one_block() -> None:
    """An hour of 1.4 A in a hundred pieces is no more than an hour of 1.4 A, which sheet 3 carries."""
    pieces: Steps = [(36.0 * place, 1.4 if place % 2 else 1.39) for place in range(100)]
    assert fuse.standing("iec-slow", 1.0, [*pieces, (3600.0, 0.9)]) == pytest.approx((1.4 / 1.5) ** 2)


@given(kinds, ratings, st.lists(st.floats(0, 1), max_size=5))
def test_nothing_above_the_rating_is_nothing(kind: str, rated: float, parts: list[float]) -> None:
    """A current that never exceeds the rating uses no share, and is held for ever."""
    assert fuse.standing(kind, rated, [(float(s), part * rated) for s, part in enumerate(parts)]) == 0
    assert all(fuse.holds(kind, rated, part * rated, math.inf) for part in parts)


@given(kinds, ratings, st.floats(1.001, 5))
def test_nothing_above_the_rating_lasts_for_ever(kind: str, rated: float, multiple: float) -> None:
    """More than the rating for ever is never surely held."""
    assert fuse.holds(kind, rated, multiple * rated, math.inf) is not True
    assert fuse.standing(kind, rated, [(0.0, multiple * rated)]) > 1


@given(kinds, ratings, st.lists(st.floats(0.001, 1e6), min_size=2, max_size=6))
def test_longer_is_never_more(kind: str, rated: float, times: list[float]) -> None:
    """The longer it lasts, the less current is surely stood; it never falls below the rating."""
    stood = [fuse.stands(kind, rated, seconds) for seconds in sorted(times)]
    assert all(later <= sooner for sooner, later in pairwise(stood))
    assert stood[-1] >= rated * (1 - 1e-12)


@given(kinds, ratings, st.lists(st.floats(0, 12), min_size=2, max_size=6))
def test_more_current_never_opens_later(kind: str, rated: float, multiples: list[float]) -> None:
    """The more current, the sooner it surely opens, up to what the fuse can interrupt."""
    limit = fuse.breaking(kind, rated) or math.inf
    currents = [each * rated for each in sorted(multiples) if each * rated <= limit]
    found = [fuse.opens_within(kind, rated, amps) or math.inf for amps in currents]
    assert all(later >= sooner for later, sooner in pairwise(found))


def test_just_below_a_gate_no_less_is_promised() -> None:
    """A blade fuse opens within 0.2 s at 6 times its rating, so no sooner at 5.9 times, whatever I²t says."""
    assert fuse.opens_within("blade", 10.0, 59.0) == fuse.opens_within("blade", 10.0, 60.0) == 0.2


@given(kinds, ratings, st.floats(0.01, 20), st.floats(0.001, 1e6))
def test_unsure_kinds_are_never_surer(kind: str, rated: float, multiple: float, seconds: float) -> None:
    """A kind that may be several classes never knows more than each of them."""
    amps = multiple * rated
    for each in fuse_data.KINDS[kind]:
        assert fuse.stands(kind, rated, seconds) <= fuse.stands(each, rated, seconds)
        surely = fuse.opens_within(kind, rated, amps)
        alone = fuse.opens_within(each, rated, amps)
        assert surely is None or (alone is not None and alone <= surely)
        assert fuse.surely_opens_at(kind) >= fuse.surely_opens_at(each)
        assert fuse.carries(kind) <= fuse.carries(each)


@given(st.sampled_from(CARTRIDGES), ratings)
def test_fault_beyond_breaking_capacity_is_not_surely_cleared(kind: str, rated: float) -> None:
    """Nothing is promised above the current that a fuse can interrupt."""
    limit = fuse.breaking(kind, rated)
    if limit is not None:
        assert fuse.opens_within(kind, rated, limit) is not None
        assert fuse.opens_within(kind, rated, 1.001 * limit) is None
        assert fuse.holds(kind, rated, 1.001 * limit, 1000.0) is None


@pytest.mark.parametrize("gauge", [7.9, 7, 0, 22.1, 24])
def test_no_row_for_the_gauge(gauge: float) -> None:
    """A wire thicker or thinner than the table has no fuse and no breaker in it."""
    assert fuse.faa_fuse(gauge) is None
    assert fuse.faa_breaker(gauge) is None


def test_between_two_gauges_the_thinner_counts() -> None:
    """A metric wire between 12 and 14 AWG gets the fuse of 14 AWG; one that is 14 AWG but for rounding, too."""
    assert fuse.faa_fuse(12.5) == fuse.faa_fuse(14) == fuse.faa_fuse(14.0000001)
    assert fuse.faa_breaker(12.5) == fuse.faa_breaker(14)


@given(kinds, ratings)
def test_limit_of_the_wire_itself_is_allowed(kind: str, rated: float) -> None:
    """A fuse at the very limit of a rule is allowed, and a hair less wire is not."""
    strict = rated * fuse.surely_opens_at(kind) / 1.45
    assert fuse.wire_protected(kind, rated, strict).opens_in_time
    assert not fuse.wire_protected(kind, rated, 0.999 * strict).opens_in_time
    assert fuse.wire_protected(kind, rated, rated).rated_within
    assert not fuse.wire_protected(kind, rated, 0.999 * rated).rated_within
    both = fuse.wire_protected(kind, rated, max(strict, rated))
    assert both.ok
    assert both.opens <= both.most * (1 + 1e-9)


def test_both_rules_are_asked() -> None:
    """7.5 A for a wire of 7.2 A: a blade fuse opens in time, yet its rating is above what the wire carries."""
    found = fuse.wire_protected("blade", 7.5, 7.2)
    assert found.opens_in_time
    assert not found.rated_within
    assert not found.ok


@given(st.sampled_from(CARTRIDGES), st.floats(0.1, 40), st.floats(0.5, 1))
def test_size_is_the_next_one(kind: str, load: float, factor: float) -> None:
    """The size taken is not below the least rating, and the one before it is."""
    least = fuse.least_for(load, kind, factor)
    size = fuse.size_for(least, kind)
    below = [each for each in fuse.sizes(kind) if each < least * (1 - 1e-9)]
    if size is None:
        assert least > max(fuse.sizes(kind))
    else:
        assert size >= least * (1 - 1e-9)
        assert fuse.sizes(kind).index(size) == len(below)


def test_a_size_itself_is_taken() -> None:
    """A least rating that is a size but for rounding is that size; a PTC has no sizes."""
    assert fuse.size_for(10 * (1 + 1e-12), "blade") == 10
    assert fuse.size_for(0.1, "ptc") is None


@pytest.mark.parametrize("kind", KINDS)
def test_figures_end_where_publication_ends(kind: str) -> None:
    """Resistance and drop are of the time-lag IEC cartridge and the blade, the melting integral of the former alone."""
    known = kind in ("iec-slow", "blade")
    ends = {"blade": (40, 40)}.get(kind, (4, 3.15))
    for figure, low, high in (
        (fuse.ohms, 1, ends[0]),
        (fuse.greatest_drop, 1, ends[1]),
        (fuse.melting, 1, 3.15),
    ):
        known = known and (figure is not fuse.melting or kind == "iec-slow")
        assert (figure(kind, low) is not None) == known
        assert (figure(kind, high) is not None) == known
        assert figure(kind, low - 0.01) is None
        assert figure(kind, high + 0.01) is None


def test_between_published_ratings() -> None:
    """Resistance falls and the melting integral rises from one published rating to the next."""
    for figure, table, up in ((fuse.ohms, fuse_data.T_OHMS, -1), (fuse.melting, fuse_data.T_MELTING, 1)):
        for low, high in pairwise(table):
            found = [figure("iec-slow", low + (high - low) * part / 4) for part in range(5)]
            values = [value for value in found if value is not None]
            assert len(values) == 5
            assert values[0] == table[low]
            assert values[4] == pytest.approx(table[high], rel=1e-12)
            assert all(up * after > up * before for before, after in pairwise(values))
    # halfway by the square of the rating; halfway in the log-log chart
    assert fuse.melting("iec-slow", math.sqrt((1 + 1.25**2) / 2)) == pytest.approx((19.2 + 27.15) / 2)
    assert fuse.ohms("iec-slow", math.sqrt(2.0 * 2.5)) == pytest.approx(math.sqrt(0.0452 * 0.0305))
    assert fuse.greatest_drop("iec-slow", 2.2) == 0.15


def test_blades_are_of_the_order_of_cartridges() -> None:
    """From memory, so held to what was read: 1 to 4 A as the 5 × 20 mm series, within a half more or less."""
    for rated in (1.0, 2.0, 3.0, 4.0):
        cartridge, blade = fuse.ohms("iec-slow", rated), fuse.ohms("blade", rated)
        assert cartridge is not None
        assert blade is not None
        assert 2 / 3 < blade / cartridge < 3 / 2
    cold = [
        value for value in (fuse.ohms("blade", rated) for rated in fuse_data.BLADE_OHMS) if value is not None
    ]
    assert all(before > after for before, after in pairwise(cold))
    # as with those, hot at its rating a blade has more than cold, and less than three times as much
    for rated, drop in fuse_data.BLADE_DROP.items():
        assert 1 < drop / rated / fuse_data.BLADE_OHMS[rated] < 3
    assert list(fuse_data.BLADE_OHMS) == list(fuse_data.BLADE_DROP)


def test_warm_fuses() -> None:
    """A cartridge at all of its rating, a blade at three quarters: cold and hot, mixed by the square."""
    assert fuse.hot_ohms("iec-slow", 2.0) == pytest.approx(0.15 / 2)
    assert fuse.hot_ohms("iec-slow", 4.0) == fuse.ohms("iec-slow", 4.0)  # no drop is published
    assert fuse.hot_ohms("blade", 3.0) == pytest.approx(0.0311 + (0.137 / 3 - 0.0311) * 0.5625)
    assert fuse.hot_ohms("blade", 50.0) is None
    assert fuse.hot_ohms("glass", 1.0) is None
    warm = [fuse.hot_ohms("blade", rated) or 0.0 for rated in fuse_data.BLADE_OHMS]
    assert all(before > after > 0 for before, after in pairwise(warm))  # a larger fuse never loses more


def test_refused() -> None:
    """What is no fuse, no current, no time or no kind is refused."""
    for rated in (0.0, -1.0, math.inf, math.nan):
        with pytest.raises(ValueError, match="no such fuse"):
            fuse.gates("blade", rated)
    with pytest.raises(ValueError, match="cannot last"):
        fuse.stands("blade", 5, -1.0)
    with pytest.raises(ValueError, match="no such current"):
        fuse.opens_within("blade", 5, math.nan)
    with pytest.raises(ValueError, match="no negative current"):
        fuse.standing("blade", 5, [(0.0, -1.0)])
    with pytest.raises(ValueError, match="must rise"):
        fuse.standing("blade", 5, [(1.0, 8.0), (1.0, 9.0)])
    with pytest.raises(ValueError, match="no such fuse or wire"):
        fuse.wire_protected("blade", 5, 0.0)
    for ambient in (-0.1, 85.1, math.nan):
        with pytest.raises(ValueError, match="no figure for a PTC"):
            fuse.ptc_hold(1.0, ambient)
    for load, factor, safety in ((-1.0, 1.0, 1.0), (1.0, 0.0, 1.0), (1.0, 1.0, 0.0), (1.0, 2.0, 1.0)):
        with pytest.raises(ValueError, match="no such load or factor"):
            fuse.least_for(load, "blade", factor, safety)
    with pytest.raises(UnknownChoiceError, match="iec-slow-high"):
        fuse.carries("melting wire")

"""The least delay: what is offered is clean when it is played, and one second less is not."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck import ours
from coldcheck.engine.running import _Run, judge
from coldcheck.workings.apart import Apart, keepers_of, least_apart, motors_below, spread_out

BOOK = ours.rulebook(entry_points=False)
SOLDERED = '[[part]]\nid = "soldered"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
CLEAR = 'plug = "soldered"\nlead = "0 ohm"\n'


def plan_of(
    rating: float,
    surge: str,
    settled: float,
    count: int = 4,
    delay: str = "",
    lead: str = "0 ohm",
    more: str = "",
) -> str:
    """Return a plan of a 12 V feed, a carrier that staggers, and drives in it."""
    return (
        SOLDERED
        + f'[[feed]]\nid = "f"\nvolts = "12 V"\nspread = "0 %"\namps = "{rating} A"\nplug = "soldered"\n{more}'
        + f'[[storage]]\nid = "c"\nbays = {count}\nstaggers = true\nfrom = "f"\npeak = "0 A"\nplug = "soldered"\n'
        + f'volts = "11.4 V .. 12.6 V"\nlead = "{lead}"\n'
        + f'[[drive]]\nid = "d1 .. d{count}"\nbay = "c.1 .. c.{count}"\nvolts = "11.4 V .. 12.6 V"\n'
        + f'plug = "soldered"\nload = "current"\nsurge = {surge}\npeak = "{settled} A"\nwaiting = "0 A"\n{delay}'
    )


def offered(text: str, source: str = "f") -> Any:
    """Return what is offered for one outlet of a plan."""
    plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
    run = _Run(plan, BOOK)
    rail = next(outlet for outlet in run.working("rails") if outlet.name == source)
    return least_apart(run.working("rehearsal"), rail, motors_below(rail))


def held(text: str, offer: Apart, seconds: int) -> str:
    """Return a plan with an offer written into it, or with other seconds between its groups."""
    delays = spread_out(list(offer.delays), offer.size, seconds)
    written = ", ".join(f'"{at:g} s"' for at in delays.values())
    return text + f'start = "host"\nkept_by = "c"\ndelay = [{written}]\n'


def breaches(text: str) -> bool:
    """Say whether a plan, read anew, breaks a limit of the start: a breach of a surge, or volts below a window."""
    plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
    run = _Run(plan, BOOK)
    start = run.working("rehearsal").start
    volts = [a for a in run.working("arrivals") if a.low is not None and a.spec.volts]
    low = any(a.low < a.spec.volts[0] * (1 - 1e-9) for a in volts)
    return low or any(start.breach(outlet) is not None for outlet in run.working("rails"))


def overloads(text: str) -> bool:
    """Say whether the lint of a plan finds a lasting load beyond a rating, or in the reserve that is to stay free."""
    plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
    return bool(judge(plan, BOOK, datetime.date(2026, 1, 1), only=["rails.overload"]).findings)


def test_by_hand() -> None:
    """3.2 A carry one start of 2 A beside three drives at 0.4 A, and not two: ten seconds, one at a time."""
    offer = offered(plan_of(3.2, '"2 A for 10 s"', 0.4))
    assert (offer.size, offer.seconds, offer.last) == (1, 10, 30.0)
    assert offer.most == pytest.approx(3.2)


def test_two_at_a_time_by_hand() -> None:
    """4.8 A carry two starts of 2 A beside two at 0.4 A: in two groups all are up in 20 s, one by one later."""
    offer = offered(plan_of(4.8, '"2 A for 10 s"', 0.4))
    assert (offer.size, offer.seconds) == (2, 10)
    assert offer.most == pytest.approx(4.8)


def test_only_the_instant_must_not_meet_another() -> None:
    """3 A for 1 s and 1 A for 9 s: within 6 A the instants may not coincide; four drives 1 s apart give 3 + 3 × 1 A."""
    offer = offered(plan_of(6.0, '["3 A for 1 s", "1 A for 9 s"]', 0.5))
    assert (offer.size, offer.seconds) == (1, 1)
    assert offer.most == pytest.approx(6.0)


def test_volts_count_too() -> None:
    """Amps are plenty, but 0.2 ohm leave 11.4 V only to 3 A: one start of 2 A beside two at 0.4 A, so 10 s apart."""
    offer = offered(plan_of(50.0, '"2 A for 10 s"', 0.4, 3, lead="0.2 ohm"))
    assert (offer.size, offer.seconds) == (1, 10)
    alone = offered(plan_of(50.0, '"3.2 A for 10 s"', 0.4, 3, lead="0.2 ohm"))
    assert alone == "leaves c with 11.2 V"


def test_a_limit_upstream_counts_too() -> None:
    """The rail allows two at a time, the feed behind its converter only one."""
    text = plan_of(4.8, '"2 A for 10 s"', 0.4)
    bank = '[[feed]]\nid = "bank"\nvolts = "24 V"\nspread = "0 %"\namps = "1.7 A"\nplug = "soldered"\n'
    bank += '[[supply]]\nid = "f"\nfrom = "bank"\nefficiency = "100 %"\n' + CLEAR
    rail = text.replace('[[feed]]\nid = "f"\n', bank + '[[supply.rail]]\nid = "12v"\n')
    offer = offered(rail, "f.12v")
    assert (offer.size, offer.seconds) == (1, 10)  # 3.2 A × 12 V / 24 V = 1.6 A
    assert offered(rail.replace("1.7 A", "2.4 A"), "f.12v").size == 2


def test_what_outlets_share_counts_too() -> None:
    """The rail allows two at a time, 36 W for all rails together only 3 A: one at a time beside two at 0.4 A."""
    text = plan_of(50.0, '"2 A for 10 s"', 0.4, 3)
    bank = '[[feed]]\nid = "bank"\nvolts = "24 V"\nplug = "soldered"\n'
    bank += '[[supply]]\nid = "f"\nfrom = "bank"\nefficiency = "100 %"\nwatts = "36 W"\n' + CLEAR
    rail = text.replace('[[feed]]\nid = "f"\n', bank + '[[supply.rail]]\nid = "12v"\n')
    assert (offered(rail, "f.12v").size, offered(rail, "f.12v").seconds) == (1, 10)
    # 72 W carry two at once, with the third later
    wide = offered(rail.replace("36 W", "72 W"), "f.12v")
    assert wide.last < 10


def test_a_row_of_surges_must_not_last() -> None:
    """Eight surges in a row would be 80 s above the rating: that is a load, so there must be a gap between them."""
    more = 'peak = "9 A for 15 s"\n'
    offer = offered(plan_of(4.0, '"4.5 A for 10 s"', 0.1, 8, more=more))
    assert (offer.size, offer.seconds) == (1, 11)


def test_a_row_of_surges_must_not_reach_the_reserve() -> None:
    """Six surges of 21 s in a row hold 0.9 A and more for over a minute, and of 1.1 A a fifth is to stay free."""
    text = plan_of(1.1, '["0.6 A for 9 s", "0.6 A for 12 s"]', 0.1, 6)
    offer = offered(text)
    assert (offer.size, offer.seconds) == (1, 22)
    assert not overloads(held(text, offer, 22))
    assert overloads(held(text, offer, 21))


def test_no_delay_helps() -> None:
    """One start alone asks for more than the feed gives: the answer says what it asks for even so."""
    assert offered(plan_of(1.9, '"2 A for 10 s"', 0.1)) == "asks f for 2.3 A"


def test_who_can_keep_delays() -> None:
    """Only a carrier whose part says that it staggers; not for drives that power alone starts."""
    text = plan_of(3.2, '"2 A for 10 s"', 0.4)

    def names(text: str) -> list[str]:
        plan = ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK))
        run = _Run(plan, BOOK)
        return [holder.id for holder in keepers_of(run.working("rehearsal"), plan.table("drive"))]

    assert names(text) == ["c"]
    assert names(text.replace("staggers = true", "staggers = false")) == []
    assert names(text.replace("staggers = true\n", "")) == []
    assert names(text + 'start = "power"\n') == []


@given(
    st.integers(2, 6),
    st.lists(st.tuples(st.integers(1, 30), st.integers(1, 12)), min_size=1, max_size=2),
    st.integers(1, 10),
    st.integers(4, 120),
    st.sampled_from(["0 ohm", "0.1 ohm"]),
)
def test_what_is_offered_is_enough_and_no_more(
    count: int, surge: list[tuple[int, int]], settled: int, rating: int, lead: str
) -> None:
    """Written into the plan and read anew, an offer breaks no limit; one second less breaks one."""
    steps = [f'"{max(a, settled) / 10} A for {s} s"' for a, s in surge]
    text = plan_of(rating / 10, f"[{', '.join(steps)}]", settled / 10, count, lead=lead)
    if not breaches(text) or count * settled > rating:
        return  # nothing to cure, or a load that lasts
    offer = offered(text)
    if isinstance(offer, str):
        assert breaches(
            held(text, Apart(1, 0, spread_out([f"d{i + 1}" for i in range(count)], 1, 0), 0.0), 40)
        ) or (rating * 0.8 < count * settled)
        return
    kept, less = (held(text, offer, seconds) for seconds in (offer.seconds, offer.seconds - 1))
    assert not breaches(kept)
    # what is too much once all are up no delay changes; a row of surges that lasts must not become too much
    assert overloads(kept) is (count * settled > rating * 0.8)
    if offer.seconds > 1:
        assert breaches(less) or overloads(less)


def test_trials_are_bounded() -> None:
    """Once the trials of a plan have taken too much, nothing more is offered: a lint must end."""
    text = plan_of(3.2, '"2 A for 10 s"', 0.4)
    run = _Run(ours.read_plan("t.toml", text.encode(), ours.shelf(BOOK)), BOOK)
    rail = next(outlet for outlet in run.working("rails") if outlet.name == "f")
    played = run.working("rehearsal")
    assert isinstance(least_apart(played, rail, motors_below(rail)), Apart)
    assert played.effort > 0
    played.effort = 10**9
    assert least_apart(played, rail, motors_below(rail)) is None

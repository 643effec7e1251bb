"""The order of starting: what a thing waits for exists, does not wait for it in turn, and is held to be first."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Measure, Put, Review, cases, rule
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path, nearest
from coldcheck.plan.spans import listed
from coldcheck.workings.orders import RANKS, Orders, Waiting
from coldcheck.workings.starts import Start

_STORE = '[[storage]]\nid = "store"\n'
_BOARD = '[[node]]\nid = "n1 .. n3"\nafter = {}\n'


@rule(level="error", over="plan")
def unknown(plan: Plan, orders: Orders) -> Iterator[Finding]:
    """What must be up before a thing is a machine of the plan.

    Machines are nodes, storage, drives, switches and appliances: things that are up, or not.
    """
    known = [thing.id for thing in plan.order if thing.table in RANKS]
    groups: dict[tuple[Path, str], list[Waiting]] = {}
    for wait in orders.waits:
        if wait.first is None:
            groups.setdefault(((*wait.thing.path, "after"), wait.word), []).append(wait)
    for (place, word), waits in groups.items():
        names = [wait.thing.id for wait in waits]
        meant = nearest(word, known)
        alone = len(waits[0].thing.after) == 1
        yield Finding(
            "error",
            waits[0].thing,
            f"{listed(names)} start{'s' if len(names) == 1 else ''} after {word}, and no machine is called that",
            found=word,
            allowed=meant,
            remedy=f'did you mean "{meant}"?'
            if meant
            else "name a node, storage, drive, switch or appliance",
            edits=(Put(place, meant),) if meant and alone else (),
            path=place,
            subjects=tuple(names),
        )


cases(
    unknown,
    clean=[_STORE + _BOARD.format('"store"'), _STORE + _BOARD.format('["store"]'), _BOARD.format('"n1"')],
    flagged=[
        Case(
            _STORE + _BOARD.format('"stroe"'),
            at="stroe",
            level="error",
            mended=_STORE + _BOARD.format('"store"'),
            edits=True,
        ),
        Case(
            '[[feed]]\nid = "f"\n' + _STORE + _BOARD.format('["f", "store"]'),
            at="after f",
            mended='[[feed]]\nid = "f"\n' + _STORE + _BOARD.format('["store"]'),
        ),
    ],
)


@rule(level="error", over="plan")
def circle(plan: Plan, orders: Orders) -> Iterator[Finding]:
    """No machine waits for one that waits for it.

    None of them would ever start; in the order of starting their words about each other do not count.
    """
    del plan
    for things in orders.circles:
        names = [thing.id for thing in things]
        yield Finding(
            "error",
            things[0],
            f"{listed(names)} wait for each other" if len(names) > 1 else f"{names[0]} waits for itself",
            found=listed(names),
            remedy="leave out one of these words of after",
            path=(*things[0].path, "after"),
            subjects=tuple(names),
        )


cases(
    circle,
    clean=[_STORE + _BOARD.format('"store"')],
    flagged=[
        Case(
            '[[storage]]\nid = "store"\nafter = "n2"\n' + _BOARD.format('"store"'),
            at="n2 and store",
            level="error",
            mended=_STORE + _BOARD.format('"store"'),
        ),
        Case('[[node]]\nid = "n"\nafter = "n"\n', at="waits for itself", mended='[[node]]\nid = "n"\n'),
    ],
)


@rule(level="error", over="plan")
def held(plan: Plan, orders: Orders, starts: dict[str, Start]) -> Iterator[Finding]:
    """Something holds a machine back until what must be up before it has started.

    An ``after`` is a wish. Where both get power at once, a person starts the one later by hand, or a machine must bear
    that the other is not there yet. A delay that something keeps is such a hold.
    """
    del plan
    groups: dict[tuple[Path, str], list[str]] = {}
    firsts: dict[tuple[Path, str], tuple[Waiting, float, float]] = {}
    for wait in orders.waits:
        if wait.first is None or wait.first is wait.thing:
            continue
        mine, theirs = (starts[one.id].at if one.id in starts else 0.0 for one in (wait.thing, wait.first))
        if mine <= theirs:
            key = (*wait.thing.path, "after"), wait.word
            groups.setdefault(key, []).append(wait.thing.id)
            firsts[key] = wait, mine, theirs
    for key, names in groups.items():
        wait, mine, theirs = firsts[key]
        yield Review(
            wait.thing,
            f"nothing holds {listed(names)} back until {wait.word} is up",
            because=f"{wait.thing.id} starts at {Measure(mine, 's')}, {wait.word} at {Measure(theirs, 's')}",
            remedy="start it later by hand, give it a delay that something keeps, or see that it waits by itself",
            path=(*wait.thing.path, "after"),
            subjects=tuple(names),
        )


_SWITCHED = (
    '[[feed]]\nid = "f"\nvolts = "5 V"\namps = "9 A"\n'
    '[[inline]]\nid = "q"\nwhat = "switch"\nfrom = "f"\n' + _STORE + 'from = "f"\n'
    '[[node]]\nid = "n"\nfrom = "q"\nafter = "store"\n'
)
cases(
    held,
    clean=[_SWITCHED + 'delay = "60 s"\nkept_by = "q"\n', _BOARD.format('"nobody"')],
    flagged=[
        Case(_STORE + _BOARD.format('"store"'), at="n1 .. n3", kind="review"),
        Case(
            _SWITCHED, at="holds n back", kind="review", mended=_SWITCHED + 'delay = "60 s"\nkept_by = "q"\n'
        ),
        Case(_SWITCHED + 'delay = "60 s"\n', at="holds n back", kind="review"),
    ],
)

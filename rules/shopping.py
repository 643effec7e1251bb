"""The shopping list: what a [[buy]] says is said of a line of the list, in its unit, and once."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Put, cases, rule
from coldcheck.plan.problems import nearest
from coldcheck.plan.tables import Buy
from coldcheck.workings.purchases import Purchases, known_as

_BOARDS = '[[node]]\nid = "n1 .. n3"\npart = "board-4core-5v-3a"\n'
_BUY = '[[buy]]\nwhat = "{}"\n'
_LED = '[[feed]]\nid = "f"\nvolts = "5 V"\n[[node]]\nid = "n"\nfrom = "f"\nlead = "22 AWG, 300 mm"\n'


@rule(level="warning", over="buy")
def strange(buy: Buy, purchases: Purchases) -> Iterator[Finding]:
    """A [[buy]] speaks of a line of the shopping list, or says how many of a thing of its own are needed.

    Its price, pack and stock would count for nothing, and the line that was meant is bought as if it were not there.
    The words of the lines stand in the column "what" of ``coldcheck sheets PLAN --sheet shopping``. A plan that has
    changed may need no more of the line: then the entry can go.
    """
    if not any(one is buy for one in purchases.strange):
        return
    words = [line.need.words for line in purchases.lines]
    meant = nearest(buy.what, words)
    yield Finding(
        "warning",
        buy,
        f'nothing on the shopping list is called "{buy.what}"',
        found=buy.what,
        allowed=meant,
        remedy=f'write what = "{meant}"'
        if meant
        else "take the words of the list, or say how many with count",
        edits=(Put((*buy.path, "what"), meant),) if meant else (),
        place="what",
    )


cases(
    strange,
    clean=[
        _BOARDS + _BUY.format("board-4core-5v-3a") + 'price = "60.00 EUR"\n',
        _BOARDS + _BUY.format("Board-4core-5V-3a"),
        _BOARDS + _BUY.format("stand-off M2.5, 12 mm") + "count = 12\n",
        _LED + _BUY.format("wire 22 AWG") + 'pack = "10 m"\n',
    ],
    flagged=[
        Case(
            _BOARDS + _BUY.format("board-4core-5v-3"),
            at="board-4core-5v-3",
            level="warning",
            mended=_BOARDS + _BUY.format("board-4core-5v-3a"),
            edits=True,
        ),
        Case(
            _BOARDS + _BUY.format("stand-offs"),
            at="stand-offs",
            mended=_BOARDS + _BUY.format("stand-offs") + "count = 12\n",
        ),
    ],
)


@rule(level="warning", over="buy")
def unit(buy: Buy, purchases: Purchases) -> Iterator[Finding]:
    """An amount of a [[buy]] is in the unit of its line: metres for wire, whole pieces for all else.

    One in another unit is not counted.
    """
    for one, key in purchases.unlike:
        if one is not buy:
            continue
        line = next(line for line in purchases.lines if known_as(line.need.words) == known_as(buy.what))
        metres = line.need.unit == "m"
        yield Finding(
            "warning",
            buy,
            f"{key} of {line.need.words} is in {'pieces' if metres else 'metres'}, and the list counts "
            f"{'metres' if metres else 'pieces'}",
            found=key,
            allowed='a length, like "10 m"' if metres else "whole pieces, like 10",
            remedy=f"write {key} as "
            + ('a length, like "10 m"' if metres else "a number of pieces, like 10"),
            place=key,
        )


cases(
    unit,
    clean=[
        _LED + _BUY.format("wire 22 AWG") + 'pack = "10 m"\nhave = "2 m"\nspare = "1 m"\n',
        _BOARDS + _BUY.format("board-4core-5v-3a") + "have = 1\nspare = 1\npack = 2\n",
    ],
    flagged=[
        Case(
            _LED + _BUY.format("wire 22 AWG") + "pack = 10\n",
            at="pack of wire 22 AWG",
            level="warning",
            found="pack",
            mended=_LED + _BUY.format("wire 22 AWG") + 'pack = "10 m"\n',
        ),
        Case(
            _BOARDS + _BUY.format("board-4core-5v-3a") + 'have = "1 m"\n',
            at="have of board-4core-5v-3a",
            mended=_BOARDS + _BUY.format("board-4core-5v-3a") + "have = 1\n",
        ),
    ],
)


@rule(level="warning", over="buy")
def again(buy: Buy, purchases: Purchases) -> Iterator[Finding]:
    """One [[buy]] speaks of each line of the shopping list.

    Of two, the first counts.
    """
    if any(one is buy for one in purchases.again):
        yield Finding(
            "warning",
            buy,
            f'another [[buy]] speaks of "{buy.what}" before; what this one says does not count',
            found=buy.what,
            remedy="make one of the two",
            place="what",
        )


cases(
    again,
    clean=[_BOARDS + _BUY.format("board-4core-5v-3a") + _BUY.format("stand-offs") + "count = 4\n"],
    flagged=[
        Case(
            _BOARDS + _BUY.format("board-4core-5v-3a") * 2,
            at="board-4core-5v-3a",
            level="warning",
            mended=_BOARDS + _BUY.format("board-4core-5v-3a"),
        )
    ],
)

"""What is to be bought: the needs of a plan, less what lies in the drawer, in whole packs, with what they cost."""

from __future__ import annotations

from math import ceil

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.kinds import Amount, Price
from coldcheck.plan.model import Plan
from coldcheck.plan.tables import Buy

from .needs import Need

__all__ = ["Line", "Purchases", "known_as", "purchases"]


class Line(msgspec.Struct, frozen=True):
    """One line of the shopping list; amounts in pieces, or in metres where ``need.unit`` is "m".

    ``packs`` is how many are bought of ``pack``, which is 1 where they come singly; ``price`` is that of one of these,
    ``cost`` that of all, None where the plan gives none. ``buy`` is the [[buy]] that speaks of it.
    """

    need: Need
    spare: float
    have: float
    pack: float
    packs: int
    price: Price | None
    cost: Price | None
    buy: Buy | None = None


class Purchases(msgspec.Struct):
    """The shopping list; its cost by currency, exact; how many lines to buy have no price; and what fits no line.

    ``strange`` are entries whose words name nothing that the plan needs, and that say no count of their own;
    ``unlike`` those with pieces where there are metres, or the other way round, with the key; ``again`` those whose
    line another one had before.
    """

    lines: list[Line]
    costs: dict[str, int]
    unpriced: int
    strange: list[Buy]
    unlike: list[tuple[Buy, str]]
    again: list[Buy]


def known_as(words: str) -> str:
    """Return words as they are compared: whatever their case and the blanks between them."""
    return " ".join(words.casefold().split())


@working(reads=("buy",))
def purchases(plan: Plan, needs: list[Need]) -> Purchases:
    """The shopping list in whole packs, with costs where prices are given."""
    found = Purchases([], {}, 0, [], [], [])
    said: dict[str, Buy] = {}
    for buy in plan.table("buy"):
        (found.again.append(buy) if known_as(buy.what) in said else said.setdefault(known_as(buy.what), buy))
    for need in needs:
        found.lines.append(_line(need, said.pop(known_as(need.words), None), found))
    for buy in said.values():
        if buy.count is None:
            found.strange.append(buy)
        else:
            found.lines.append(_line(Need("other", buy.what, 0.0, unit=buy.count.unit), buy, found))
    for line in found.lines:
        if line.cost is not None:
            found.costs[line.cost.currency] = found.costs.get(line.cost.currency, 0) + line.cost.cents
        elif line.packs:
            found.unpriced += 1
    return found


def _line(need: Need, buy: Buy | None, found: Purchases) -> Line:
    def amount(key: str, without: float) -> float:
        said: Amount | None = getattr(buy, key, None)
        if said is None:
            return without
        if said.unit != need.unit:
            assert buy is not None
            found.unlike.append((buy, key))
            return without
        return said.value

    more, spare, have = amount("count", 0.0), amount("spare", need.spare), amount("have", 0.0)
    pack = amount("pack", 1.0) or 1.0
    need = msgspec.structs.replace(need, needed=need.needed + more)
    packs = _whole(max(0.0, need.needed + spare - have) / pack)
    price = buy.price if buy is not None else None
    cost = Price(price.cents * packs, price.currency) if price is not None else None
    return Line(need, spare, have, pack, packs, price, cost, buy)


def _whole(packs: float) -> int:
    """Return how many whole packs that is; what a sum of decimals strays by buys no pack."""
    return ceil(round(packs, 6))

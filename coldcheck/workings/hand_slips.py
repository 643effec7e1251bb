"""What the hand can still do wrong with a harness that is right: every seat of every plug that nothing keys.

Each seat, each exchange of two clamped wires, and each plug in a socket that takes it as well, is tried on the wiring
and judged as a plan would be. What it would do is one of five, gravest first: it *destroys* a part, it is a *short*
circuit, two *sources* meet, the thing stays *dead*, or it is *harmless*.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import combinations
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.pins.grid import blocks
from coldcheck.pins.seating import Seat, seats, told
from coldcheck.plan.model import Plan
from coldcheck.plan.quantities import Measure

from .pins import End
from .wire_slips import grid_of
from .wiring import Ailment, Slot, State, Wiring

__all__ = ["OUTCOMES", "Exchange", "HandSlips", "SeatedPlug", "hand_slips", "outcome_of"]

#: Gravest first.
OUTCOMES = ("destroys", "short", "sources", "dead", "harmless")

#: An outcome, and in words what brings it about.
Outcome = tuple[str, str]


class SeatedPlug(msgspec.Struct, frozen=True):
    """A plug on a socket that does not key it: how many seats have which outcome, and the nearest that does harm.

    ``nearest`` is how it would sit then, and what that does. ``assumed``: the harness names no housing, so wires side
    by side are taken for one.
    """

    place: str
    plug: str
    pins: tuple[str, ...]
    counts: dict[str, int]
    nearest: tuple[str, str]
    assumed: bool
    first: End
    volts: float | None


class Exchange(msgspec.Struct, frozen=True):
    """Two wires, or two plugs, that can change places: what that does, and where."""

    a: End
    b: End
    plug: str
    outcome: str
    why: str


class HandSlips(msgspec.Struct):
    """All of a plan: plugs that can be moved, clamped wires and plugs that can be exchanged, each kind worst first."""

    seated: list[SeatedPlug]
    clamped: list[Exchange]
    sockets: list[Exchange]


@working(reads=("plan", "part"))
def hand_slips(plan: Plan, wiring: Wiring) -> HandSlips:
    """What can be done wrong with the plugs and terminals of all harnesses, by outcome."""
    if not wiring.wires:
        return HandSlips([], [], [])
    return _Hand(wiring).run()


def outcome_of(found: Iterable[Ailment], state: State) -> Outcome:
    """Return the gravest outcome of an arrangement, and what brings it about."""
    ailments = list(found)
    outcomes = [_of_joined(one, ailments) for one in ailments if one.kind == "joined" and one.a and one.b]
    outcomes += [_OTHERS[one.kind] for one in ailments if one.kind in _OTHERS]
    return min(outcomes, key=lambda o: OUTCOMES.index(o[0]), default=("harmless", "the same nets"))


_OTHERS: dict[str, Outcome] = {
    "meeting": ("sources", "two sources meet"),
    "elsewhere": ("sources", "power comes from another source"),
    "unfed": ("dead", "no plus arrives"),
    "no return": ("dead", "no way back"),
    "borrowed return": ("dead", "the way back is through a neighbour"),
    "strange return": ("dead", "the way back is to another source"),
}


def _of_joined(one: Ailment, found: list[Ailment]) -> Outcome:
    a, b = one.a, one.b
    assert a is not None
    assert b is not None
    plus, other = (a, b) if a.is_plus and not (a.takes and b.is_plus) else (b, a)
    if not plus.is_plus:
        return _of_return(a, b, found)
    volts = str(Measure(plus.volts, "V")) if plus.volts is not None else "the plus"
    if other.is_return:
        return _plus_on_ground(plus, other, volts, found)
    if other.is_plus:
        high = max(x for end in (a, b) for x in ((end.rail or (0, 0, 0))[2], end.volts or 0.0))
        return _stood(other if other.takes else plus, high, volts, f"{volts} on {other.ref} ({other.signal})")
    if other.stands is not None and plus.volts is not None and plus.volts <= other.stands:
        return "dead", f"{volts} on {other.ref} ({other.signal}), which it survives"
    return "destroys", f"{volts} on {other.ref} ({other.signal})"


def _plus_on_ground(plus: End, other: End, volts: str, found: list[Ailment]) -> Outcome:
    """Plus and return meet at a thing: reversed where both lie on each other's pin, else short where plus arrives."""
    taker = other if other.takes else plus
    joins = [
        (one.a, one.b) for one in found if one.kind == "joined" and one.a is not None and one.b is not None
    ]
    on_ground = any(_lies(a, b, taker.place, on_return=True) for a, b in joins)
    on_plus = any(_lies(a, b, taker.place, on_return=False) for a, b in joins)
    if on_ground and on_plus:
        least = _survives(taker)
        given = plus.rail[2] if plus.rail is not None else plus.volts
        if least is not None and given is not None and least[0] <= -given:
            return "dead", f"{volts} reversed at {taker.place}, which it survives"
        return "destroys", f"{volts} reversed at {taker.place}"
    unfed = {one.inlet.name for one in found if one.kind == "unfed" and one.inlet is not None}
    if taker.is_plus and unfed & set(taker.inlets):
        return "dead", f"ground on {taker.ref} ({taker.signal}), and no plus"
    wrong = "ground" if taker.is_plus else volts
    return "short", f"{wrong} on {taker.ref} ({taker.signal})"


def _lies(a: End, b: End, place: str, on_return: bool) -> bool:
    """Say whether the plus of a source lies on a return pin of a socket, or its return on a plus pin."""
    for given, taken in ((a, b), (b, a)):
        if given.takes or taken.place != place or not taken.takes:
            continue
        if (given.is_plus and taken.is_return) if on_return else (given.is_return and taken.is_plus):
            return True
    return False


def _of_return(a: End, b: End, found: list[Ailment]) -> Outcome:
    """A return on a pin without power: where plus arrives all the same, the whole current goes back by that pin."""
    pin = b if a.is_return else a
    if not (a.is_return or b.is_return):
        return "dead", f"{a.ref} ({a.signal}) on {b.ref} ({b.signal})"
    fed = not any(one.kind == "unfed" for one in found) and not any(
        one.kind == "joined" and one.a and one.b and (one.a.is_plus or one.b.is_plus) for one in found
    )
    if fed:
        return "destroys", f"all that flows goes back by {pin.ref} ({pin.signal})"
    return "dead", f"ground on {pin.ref} ({pin.signal})"


def _survives(end: End) -> tuple[float, float] | None:
    socket = None if end.gives else end.socket  # what is said of an inlet does not hold for a pin that gives
    for inlets in socket.served.values() if socket is not None else ():
        for inlet in inlets:
            if inlet.name in end.inlets and inlet.spec.survives is not None:
                found: tuple[float, float] = inlet.spec.survives
                return found
    return None


def _stood(taker: End, high: float, volts: str, what: str) -> Outcome:
    most = _survives(taker)
    if most is not None and most[1] >= high:
        return "dead", f"{what}, which it survives"
    return "destroys", what


class _Hand:
    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self._alike: dict[Any, tuple[dict[str, int], tuple[str, str]]] = {}

    def run(self) -> HandSlips:
        found = HandSlips([], [], [])
        plugs: dict[tuple[str, str, str], list[Slot]] = {}
        for i, pair in enumerate(self.wiring.state):
            if any(end.unknown or end.blind for end in pair):
                continue
            for side, end in enumerate(pair):
                if end.socket is not None:
                    plugs.setdefault((self.wiring.wires[i].harness.id, end.place, end.housing), []).append(
                        (i, side)
                    )
        sick = {slot for one in self.wiring.ailments() for slot in one.slots}
        sound = {key: slots for key, slots in plugs.items() if not sick & set(slots)}
        for slots in sound.values():
            plug = self._end(slots[0]).socket.plug
            if plug is None:
                continue
            if plug.single:
                found.clamped += self._clamped(slots)
            elif plug.keyed is False:
                found.seated += self._seated(slots)
        found.sockets = list(self._sockets(sound))
        return found

    def _end(self, slot: Slot) -> End:
        return self.wiring.state[slot[0]][slot[1]]

    def _tried(self, change: dict[Slot, End]) -> Outcome:
        """Return what the wires of some slots would do with other ends."""
        numbers = sorted({i for i, _ in change})
        more = self._around(numbers)
        small = Wiring(self.wiring.plan, [self.wiring.wires[i] for i in more])
        state = list(small.state)
        for (i, side), end in change.items():
            n = more.index(i)
            pair = list(state[n])
            pair[side] = end
            state[n] = pair[0], pair[1]
        return outcome_of(small.ailments(state, whole=True), state)

    def _around(self, numbers: list[int]) -> list[int]:
        """Return some wires with all that end at the inlets that they feed."""
        names = {name for i in numbers for end in self.wiring.state[i] for name in end.inlets}
        wanted = set(numbers)
        wanted |= {i for i, pair in enumerate(self.wiring.state) for end in pair if names & set(end.inlets)}
        return sorted(wanted)

    # --- plugs that nothing keys ------------------------------------------------------------------------------------

    def _seated(self, slots: list[Slot]) -> Iterator[SeatedPlug]:
        first = self._end(slots[0])
        where = grid_of(first.socket)
        if where is None:
            return
        pins = {slot: self._end(slot).pin for slot in slots}
        groups = [list(dict.fromkeys(pins.values()))] if first.housing else blocks(pins.values(), where)
        for group in groups:
            mine = [slot for slot in slots if pins[slot] in group]
            counts, nearest = self._outcomes(mine, {pin: pin for pin in group}, where)
            volts = next((e.volts for s in mine if (e := self._mate(s)).is_plus), None)
            plug = first.socket.plug.id
            yield SeatedPlug(
                first.place, plug, tuple(group), counts, nearest, not first.housing, self._end(mine[0]), volts
            )

    def _mate(self, slot: Slot) -> End:
        return self.wiring.state[slot[0]][1 - slot[1]]

    def _outcomes(
        self, slots: list[Slot], ways: dict[str, str], where: Any
    ) -> tuple[dict[str, int], tuple[str, str]]:
        """Return how many seats have which outcome, and the nearest of the gravest; equal plugs are tried once."""
        first = self._end(slots[0])
        key = (
            first.socket.plug.id, tuple(ways), self.wiring.plan.things[first.thing].path,
            tuple((self._end(s).pin, self._mate(s).signal, self._mate(s).rail) for s in slots),
        )  # fmt: skip
        if key in self._alike:
            return self._alike[key]
        counts: Counter[str] = Counter()
        best: tuple[tuple[int, int], tuple[str, str]] | None = None
        for seat in seats(ways, where):
            if seat.right:
                continue
            outcome, why = self._tried(self._moved(slots, seat))
            counts[outcome] += 1
            far = abs(seat.shift[0]) + abs(seat.shift[1]) + (seat.turn > 0)
            rank = OUTCOMES.index(outcome) if outcome in ("destroys", "short") else 9, far
            if best is None or rank < best[0]:
                best = rank, (told(seat, ways, where), why)
        assert best is not None
        self._alike[key] = dict(counts), best[1]
        return self._alike[key]

    def _moved(self, slots: list[Slot], seat: Seat) -> dict[Slot, End]:
        touches = dict(seat.touches)
        change = {}
        for slot in slots:
            end = self._end(slot)
            pin = touches[end.pin]
            beside = End(f"{end.ref} beside", end.thing, end.point, "", "", splice=True)
            change[slot] = end.socket.end(pin) if pin is not None else beside
        return change

    # --- exchanges --------------------------------------------------------------------------------------------------

    def _clamped(self, slots: list[Slot]) -> Iterator[Exchange]:
        """Yield the worst exchange of two wires of one terminal block, if any does harm."""
        worst: Exchange | None = None
        for s, t in combinations(slots, 2):
            a, b = self._end(s), self._end(t)
            if a.ref == b.ref or a.signal == b.signal:
                continue
            outcome, why = self._tried({s: b, t: a})
            if worst is None or OUTCOMES.index(outcome) < OUTCOMES.index(worst.outcome):
                worst = Exchange(a, b, a.socket.plug.id, outcome, why)
        if worst is not None and worst.outcome != "harmless":
            yield worst

    def _sockets(self, plugs: dict[tuple[str, str, str], list[Slot]]) -> Iterator[Exchange]:
        """Yield, for each kind of plug, the worst exchange of two plugs between sockets that take both."""
        kinds: dict[str, list[list[Slot]]] = {}
        for slots in plugs.values():
            end = self._end(slots[0])
            if end.socket.plug.single if end.socket.plug is not None else True:
                continue
            if any(self._end(slot).takes for slot in slots):
                kinds.setdefault(end.socket.plug.family or end.socket.plug.id, []).append(slots)
        for kind, several in kinds.items():
            tried: dict[Any, Exchange] = {}
            for one, other in combinations(self._unlike(several), 2):
                a, b = self._end(one[0]), self._end(other[0])
                if a.socket is b.socket or set(a.pins) != set(b.pins):
                    continue
                change = {s: b.socket.end(self._end(s).pin) for s in one}
                change |= {s: a.socket.end(self._end(s).pin) for s in other}
                outcome, why = self._tried(change)
                tried.setdefault(outcome, Exchange(a, b, kind, outcome, why))
            yield from (tried[outcome] for outcome in OUTCOMES[:2] if outcome in tried)

    def _unlike(self, several: list[list[Slot]]) -> list[list[Slot]]:
        """Return one plug of each arrangement of pins, signals and volts: like plugs may change places."""
        found: dict[Any, list[Slot]] = {}
        for slots in several:
            ends = [(self._end(s).pin, self._end(s).signal, self._mate(s).volts) for s in slots]
            found.setdefault((tuple(sorted(map(str, ends))), tuple(self._end(slots[0]).pins.values())), slots)
        return list(found.values())

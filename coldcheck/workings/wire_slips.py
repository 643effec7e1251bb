"""Slips of the hand that explain what is wrong with the wires: a plug moved or turned, two ends exchanged.

Each slip is undone on trial; what heals most and harms nothing is what must have happened. What no slip explains is
left as it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.pins.grid import Grid, grid
from coldcheck.pins.seating import Move, explain
from coldcheck.plan.model import Plan

from .pins import GROUNDED, End, agree
from .wiring import Ailment, Slot, State, Wiring

__all__ = ["Slip", "WireSlips", "grid_of", "wire_slips"]

#: Of more ends in trouble than these, only those of one socket are tried against each other.
MOST_ENDS = 60
#: Up to so many wires, an end in trouble is tried against every other, be that in trouble or not.
MOST_WIRES = 64
#: So many arrangements are tried at most: some seconds; what is left then is told ailment by ailment.
MOST_TRIES = 2000
#: A plug with more wires around it than these is not looked at by itself.
MOST_AROUND = 200


class Slip(msgspec.Struct, frozen=True):
    """A slip, the slots that it moved, and the ailments that are gone when it is undone.

    ``move``: how a plug sits wrongly on its socket, where that is the slip; ``plugs``: two plugs sit in each other's
    socket; else two ends are exchanged, or a single one is on a wrong pin. ``right`` has the pin where each end
    belongs, by slot.
    """

    slots: tuple[Slot, ...]
    right: dict[Slot, End]
    healed: tuple[Ailment, ...]
    move: Move | None = None
    plugs: bool = False


class WireSlips(msgspec.Struct):
    """The slips found, and the ailments that they do not explain."""

    slips: list[Slip]
    left: list[Ailment]


def grid_of(socket: Any) -> Grid | None:
    """Return where the pins of a socket stand; None where nobody says, or the rows do not come out even."""
    plug = socket.plug
    rows = (plug.rows if plug is not None else None) or 1
    names = list(socket.pins)
    if not names or len(names) % rows:
        return None
    return grid(names, rows, (plug.numbered if plug is not None else None) or "along")


@working(reads=())
def wire_slips(plan: Plan, wiring: Wiring) -> WireSlips:
    """What must have happened where the wires are wrong, told once each."""
    found = wiring.ailments() if wiring.wires else []
    return _Search(wiring, found).run() if found else WireSlips([], [])


def _with(state: State, right: dict[Slot, End]) -> State:
    """Return an arrangement with some ends elsewhere."""
    changed = list(state)
    for (i, side), end in right.items():
        a, b = changed[i]
        changed[i] = (end, b) if side == 0 else (a, end)
    return changed


def _tells(right: dict[Slot, End], healed: tuple[Ailment, ...]) -> bool:
    """Say whether what is healed is a sign of the slip, and not of something else as well."""
    if len(right) > 1:
        # A wire that does nothing is no sign of where it was to go.
        return any(one.kind != "useless" for one in healed)
    # One end alone: what the plan says of the inlet may be wrong as well.
    return len(healed) > 1 or healed[0].kind in ("joined", "useless")


class _Search:
    def __init__(self, wiring: Wiring, found: list[Ailment]) -> None:
        self._tries = 0
        self._done: set[Slot] = set()
        self.whole = wiring
        self.numbers = self._concerned(found)
        self.small = Wiring(wiring.plan, [wiring.wires[i] for i in self.numbers])
        kept = set(self.numbers)
        partly = {
            n for i, pair in enumerate(wiring.state) if i not in kept for end in pair for n in end.inlets
        }
        self.small.inlets = {n: inlet for n, inlet in self.small.inlets.items() if n not in partly}
        self.state: State = list(self.small.state)

    def _concerned(self, found: list[Ailment]) -> list[int]:
        """Return the numbers of the wires in trouble, and of all that share a knot or a socket of an inlet with
        them."""
        state = self.whole.state
        if len(state) <= MOST_WIRES:
            return list(range(len(state)))
        wanted = {i for one in found for i, _ in one.slots}
        knots = self.whole.knots()
        inlets = {name for i in wanted for end in state[i] for name in end.inlets}
        wanted |= {i for i, pair in enumerate(state) for end in pair if inlets & set(end.inlets)}
        for knot in knots:
            if any(i in wanted for i, _ in knot.slots):
                wanted |= {i for i, _ in knot.slots}
        return sorted(wanted)

    def run(self) -> WireSlips:
        slips: list[Slip] = []
        concerned: set[str] = set()
        now = self.small.ailments(self.state, whole=True)
        for slip in self._whole_plugs(now):
            self._take(slip, slips, concerned)
        if slips:
            now = self.small.ailments(self.state, whole=True)
        while now:
            best = self._best(now)
            if best is None:
                break
            slip, now = best
            self._take(slip, slips, concerned)
        left = [
            self._renumbered(one)
            for one in self.small.ailments(self.state)
            # What a plug lacks besides is told when it sits right.
            if not (
                one.kind in ("unfed", "no return") and one.inlet is not None and one.inlet.name in concerned
            )
        ]
        return WireSlips(slips, left)

    def _take(self, slip: Slip, slips: list[Slip], concerned: set[str]) -> None:
        """Note a slip, and put its ends where they belong."""
        for slot in slip.slots:
            for end in (*self.state[slot[0]], slip.right[slot]):
                concerned.update(end.inlets)
        self.state = _with(self.state, slip.right)
        slips.append(self._told(slip))

    def _whole_plugs(self, now: list[Ailment]) -> Iterator[Slip]:
        """Yield the plugs that sit wrongly and are right, with all their wires, when moved: each by itself.

        However many there are, each is looked at with the wires around it alone, so that a harness that is cut
        wrongly a hundred times is told of in a moment.
        """
        around = self._neighbours()
        for move, right, likely in list(self._moved_plugs(now, self._rest())):
            if not likely or any(slot in self._done for slot in right):
                continue
            numbers = sorted({n for i, _ in right for n in around[i]})
            if len(numbers) > MOST_AROUND:
                continue
            at = {n: k for k, n in enumerate(numbers)}
            few = Wiring(self.small.plan, [self.small.wires[n] for n in numbers])
            few.inlets = {name: few.inlets[name] for name in few.inlets if name in self.small.inlets}
            before = [self.state[n] for n in numbers]
            moved = {(at[i], side): end for (i, side), end in right.items()}
            wrong = few.ailments(before, whole=True)
            keys = {one.key for one in wrong}
            left = few.ailments(_with(before, moved), whole=True)
            mine = {at[i] for i, _ in right}
            if {one.key for one in left} <= keys and not any(i in mine for one in left for i, _ in one.slots):
                self._done.update(right)
                after = {one.key for one in left}
                healed = tuple(
                    msgspec.structs.replace(one, slots=tuple((numbers[i], side) for i, side in one.slots))
                    for one in wrong
                    if one.key not in after
                )
                yield Slip(tuple(right), right, healed, move)

    def _neighbours(self) -> dict[int, list[int]]:
        """Return, by wire, the wires that end at the inlets it serves, itself among them."""
        by_inlet: dict[str, list[int]] = {}
        for i, pair in enumerate(self.state):
            for end in pair:
                for name in end.inlets:
                    by_inlet.setdefault(name, []).append(i)
        return {
            i: sorted({i, *(n for end in pair for name in end.inlets for n in by_inlet[name])})
            for i, pair in enumerate(self.state)
        }

    def _told(self, slip: Slip) -> Slip:
        n = self.numbers
        return Slip(
            tuple((n[i], side) for i, side in slip.slots),
            {(n[i], side): end for (i, side), end in slip.right.items()},
            tuple(self._renumbered(one) for one in slip.healed),
            slip.move,
            slip.plugs,
        )

    def _renumbered(self, one: Ailment) -> Ailment:
        return msgspec.structs.replace(one, slots=tuple((self.numbers[i], side) for i, side in one.slots))

    def _best(self, now: list[Ailment]) -> tuple[Slip, list[Ailment]] | None:
        """Return the slip that explains most, and what is wrong without it; None where none does."""
        keys = {one.key for one in now}
        best: tuple[int, Slip, list[Ailment]] | None = None
        for move, right, plugs in self._candidates(now):
            self._tries += 1
            if self._tries > MOST_TRIES:
                break
            after = self.small.ailments(_with(self.state, right), whole=True)
            left = {one.key for one in after}
            if left <= keys and len(after) < len(now) and (best is None or len(after) < best[0]):
                healed = tuple(one for one in now if one.key not in left)
                if _tells(right, healed):
                    best = len(after), Slip(tuple(right), right, healed, move, plugs), after
            if best is not None and not best[0]:
                break
        return best[1:] if best is not None else None

    def _candidates(self, now: list[Ailment]) -> Iterator[tuple[Move | None, dict[Slot, End], bool]]:
        """Yield what may have happened, the likeliest first: plugs, then ends of one socket, then any two ends."""
        rest = self._rest()
        moves = list(self._moved_plugs(now, rest))
        likely = [(move, right) for move, right, wrong in moves if wrong]
        for move, right in likely:
            yield move, right, False
        for right in self._exchanged_plugs(now):
            yield None, right, True
        slots = self._in_trouble(now)
        pairs = [(s, t) for s, t in combinations(slots, 2) if s[0] != t[0]]
        if len(self.state) <= MOST_WIRES:
            ill = set(slots)
            others = [(i, side) for i in range(len(self.state)) for side in (0, 1) if (i, side) not in ill]
            pairs += [(s, t) for s in slots for t in others if s[0] != t[0] and self._movable(t)]
        if len(slots) > MOST_ENDS:
            pairs = [(s, t) for s, t in pairs if self._end(s).place == self._end(t).place]
        pairs.sort(key=lambda pair: self._distance(*pair))
        for s, t in pairs:
            a, b = self._end(s), self._end(t)
            if a.ref != b.ref and self._fits(b, s, t, rest) and self._fits(a, t, s, rest):
                yield None, {s: b, t: a}, False
        for slot in slots:
            for pin in self._other_pins(slot, rest):
                yield None, {slot: self._end(slot).at(pin)}, False
        for slot in slots:
            for end in self._elsewhere(slot, now, rest):
                yield None, {slot: end}, False
        for move, right, wrong in moves:
            if not wrong:
                yield move, right, False

    def _other_pins(self, slot: Slot, rest: dict[Slot, list[tuple[Slot, End]]]) -> Iterator[str]:
        """Yield a pin of the same socket for each thing it carries that agrees with what a slot is joined to.

        One that no wire has yet comes first: the others are taken.
        """
        end = self._end(slot)
        if end.socket is None or not rest.get(slot):
            return
        taken = {self._end((i, side)).ref for i in range(len(self.state)) for side in (0, 1)}
        seen = {(end.signal, end.outlet)}
        for pin in sorted(end.pins, key=lambda pin: end.at(pin).ref in taken):
            other = end.at(pin)
            if other.signal.casefold() in GROUNDED:
                continue  # ground does no harm there, and is seldom meant
            if (other.signal, other.outlet) not in seen and self._fits(other, slot, slot, rest):
                seen.add((other.signal, other.outlet))
                yield pin

    def _elsewhere(
        self, slot: Slot, now: list[Ailment], rest: dict[Slot, list[tuple[Slot, End]]]
    ) -> Iterator[End]:
        """Yield a pin of each other inlet that lacks something, and of what feeds it, where a slot may belong."""
        lacking = {one.inlet.name: one.inlet for one in now if one.inlet is not None}
        feeding = {inlet.source.thing.id for inlet in lacking.values() if inlet.source is not None}
        mine = self._end(slot)
        sockets = {
            id(end.socket): end.socket
            for pair in self.whole.state
            for end in pair
            if end.socket is not None and end.place != mine.place
            if end.thing in feeding or lacking.keys() & set(end.inlets)
        }
        for socket in sockets.values():
            seen: set[tuple[str, ...]] = set()
            for pin in socket.pins:
                end = socket.end(pin)
                key = (end.signal, *end.inlets)
                if key not in seen and end.carries and self._fits(end, slot, slot, rest):
                    seen.add(key)
                    yield end

    def _in_trouble(self, now: list[Ailment]) -> list[Slot]:
        """Return the slots of all wires that an ailment names, and of their knots."""
        wires = {i for one in now for i, _ in one.slots}
        for knot in self.small.knots(self.state):
            if any(i in wires for i, _ in knot.slots):
                wires |= {i for i, _ in knot.slots}
        return [(i, side) for i in sorted(wires) for side in (0, 1) if self._movable((i, side))]

    def _movable(self, slot: Slot) -> bool:
        end = self._end(slot)
        return not (end.splice or end.unknown)

    def _end(self, slot: Slot) -> End:
        return self.state[slot[0]][slot[1]]

    def _rest(self) -> dict[Slot, list[tuple[Slot, End]]]:
        """Return what else each slot is joined to by its own wire, were it taken off its pin."""
        at: dict[str, list[Slot]] = {}
        for i, pair in enumerate(self.state):
            for side, end in enumerate(pair):
                at.setdefault(end.ref, []).append((i, side))
        return {
            (i, side): self._beyond((i, side), at)
            for i, pair in enumerate(self.state)
            for side in (0, 1)
            if not pair[side].unknown
        }

    def _beyond(self, slot: Slot, at: dict[str, list[Slot]]) -> list[tuple[Slot, End]]:
        here = self._end(slot).ref
        seen, todo, found = {here}, [(slot[0], 1 - slot[1])], []
        while todo:
            other = todo.pop()
            end = self._end(other)
            if end.ref in seen:
                continue
            seen.add(end.ref)
            for i, side in at[end.ref]:
                found.append(((i, side), end))
                todo.append((i, 1 - side))
        return [(s, end) for s, end in found if end.signal]

    def _fits(self, end: End, slot: Slot, other: Slot, rest: dict[Slot, list[tuple[Slot, End]]]) -> bool:
        """Say whether a pin agrees with what a slot is joined to, the other slot apart, which moves as well."""
        return all(agree(end, e) for s, e in rest.get(slot, ()) if s != other)

    def _distance(self, s: Slot, t: Slot) -> tuple[int, int, int]:
        a, b = self._end(s), self._end(t)
        near = 0 if a.place == b.place else 1 if a.thing == b.thing else 2
        return near, 0 if s[1] == t[1] else 1, -max(s[1], t[1])

    def _moved_plugs(
        self, now: list[Ailment], rest: dict[Slot, list[tuple[Slot, End]]]
    ) -> Iterator[tuple[Move, dict[Slot, End], bool]]:
        """Yield how plugs may have moved, and whether that is likelier than that one or two ends are on wrong pins."""
        wrong = {slot for one in now for slot in one.slots}
        for slots in self._plugs():
            if len(slots) < 2 or not wrong & set(slots):
                continue
            socket = self._end(slots[0]).socket
            where = grid_of(socket)
            if where is None or getattr(socket.plug, "single", None):
                continue
            pins = {str(n): self._end(slot).pin for n, slot in enumerate(slots)}
            right = {
                str(n): {pin for pin in socket.pins if self._fits(socket.end(pin), slot, slot, rest)}
                for n, slot in enumerate(slots)
            }
            off = sum(pin not in right[n] for n, pin in pins.items())
            likely = off > (2 if getattr(socket.plug, "keyed", None) else 1)
            for move in explain(pins, right, where):
                yield (
                    move,
                    {slot: self._end(slot).at(move.back[self._end(slot).pin]) for slot in slots},
                    likely,
                )

    def _exchanged_plugs(self, now: list[Ailment]) -> Iterator[dict[Slot, End]]:
        """Yield the trials of two plugs of the same pins that sit in each other's socket."""
        wrong = {slot for one in now for slot in one.slots}
        by_pins: dict[tuple[str, ...], list[list[Slot]]] = {}
        for slots in self._plugs():
            if len(slots) > 1 and wrong & set(slots):
                by_pins.setdefault(tuple(sorted(self._end(slot).pin for slot in slots)), []).append(slots)
        for plugs in by_pins.values():
            for one, other in combinations(plugs, 2):
                a, b = self._end(one[0]).socket, self._end(other[0]).socket
                if a is not b and a.pins.keys() == b.pins.keys():
                    yield {
                        slot: socket.end(self._end(slot).pin)
                        for slots, socket in ((one, b), (other, a))
                        for slot in slots
                    }

    def _plugs(self) -> Iterable[list[Slot]]:
        """Return the slots of each plug: all that one harness brings to a socket, or one of its housings."""
        plugs: dict[tuple[str, str, str], list[Slot]] = {}
        for i, pair in enumerate(self.state):
            for side, end in enumerate(pair):
                if end.socket is not None and end.pins and not end.unknown:
                    key = self.small.wires[i].harness.id, end.place, end.housing
                    plugs.setdefault(key, []).append((i, side))
        return plugs.values()

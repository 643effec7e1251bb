"""Gauges and fuses, chosen together: the least copper that carries, arrives in tolerance and is protected.

The program knows the currents of the thickest leads there could be. Thinner leads lose more, so that what draws
constant power draws more: with those currents every demand on volts is milder than the truth, and what the program
finds is a bound that no choice of leads can be below. Each answer is linted as a plan; where volts fail, the answer
and everything thinner is ruled out, and the program runs again. An answer that passes is the best there is. Where that
takes too many rounds, the demands are made strict by the currents of the answers that failed, and the first answer that
passes is taken: then the value lies above the bound, and both are told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import inf
from typing import Any

import msgspec

from coldcheck.dc import fuse as gates
from coldcheck.engine.findings import Finding, Level
from coldcheck.plan.kinds import Fuse, Run
from coldcheck.plan.quantities import Measure
from coldcheck.workings.carried import carried
from coldcheck.workings.leads import contacts_for, fuse_ohms, plug_rating
from coldcheck.workings.protection import STANDS

from .blanks import fuse_slots, lead_slots
from .draft import Draft, Figure
from .program import Give, Program, Sum, Terms
from .sizes import CLOSE, Design, Size, Sizer, State
from .trial import made_worse

__all__ = ["fill_sizes"]

#: Rounds in which the best is looked for, and rounds after that in which anything that passes is taken.
EXACT_ROUNDS, STRICT_ROUNDS = 12, 12
#: With more leads than this, the best is looked for in a third of the rounds.
MANY = 60


def fill_sizes(draft: Draft) -> None:
    """Put a gauge for every lead and a size for every fuse that has none.

    Raises `coldcheck.planner.program.Contradiction` where no wire and no fuse that there is does it.
    """
    leads, fuses = lead_slots(draft), fuse_slots(draft)
    if not leads and not fuses:
        return
    sizer = Sizer(draft, leads, fuses)
    state, figures = Search(sizer, sizer.thickest()).best()
    for put in sizer.puts(state.design):
        draft.put(put.path, put.value)
    draft.figures += figures


class Search:
    """The program of sizes, and what was ruled out so far."""

    def __init__(self, sizer: Sizer, thick: State) -> None:
        self.sizer, self.thick = sizer, thick
        self.plan = thick.trial.plan
        self.program = Program(sizer.draft.wish.seconds)
        self.x = [[self.program.number(0, 1) for _ in sizes] for sizes in sizer.sizes]
        self.fuse_sizes = sizer.fuse_choices(thick)
        self.f = [[self.program.number(0, 1) for _ in sizes] for sizes in self.fuse_sizes]
        self.margin = self.program.number(0.0, 1e3, whole=False)
        self.arrivals = {a.inlet.name: a for a in sizer.working(thick, "arrivals")}
        self._paired: set[Any] = set()
        #: by a number that is one where a demand is not kept of which the lint only warns: the things, what to say
        self.soft: dict[int, tuple[list[str], str]] = {}
        self._one_each()
        self._carry()
        self._protect()
        # The largest fuses have the fewest ohms: with the thickest leads they give the mildest currents.
        self.mild = sizer.tried(Design(thick.design.leads, tuple(sizes[-1] for sizes in self.fuse_sizes)))
        self._arrive(self.mild)
        self._kinds()

    def _one_each(self) -> None:
        for numbers in self.x:
            self.program.demand(dict.fromkeys(numbers, 1.0), 1.0, 1.0)
        for numbers in self.f:
            self.program.demand(dict.fromkeys(numbers, 1.0), 1.0, 1.0)

    def _carry(self) -> None:
        """Rule out what carries less than flows: wires in free air or in their bundle, and contacts."""
        known = self.sizer.working(self.thick, "leads")
        for slot, sizes, numbers in zip(self.sizer.leads, self.sizer.sizes, self.x, strict=True):
            amps = max(
                (a.settled or 0.0 for i in slot.inlets if (a := self.arrivals.get(i.name))), default=0.0
            )
            too_thin: Sum = {}
            for size, number in zip(sizes, numbers, strict=True):
                able = carried(size.gauge, slot.run.metal, slot.run.among).amps * size.parallel
                plugs = [known.plug(i.spec.plug) for i in slot.inlets]
                rated = [
                    plug_rating(p, contacts_for(p, size.parallel))
                    for p in plugs
                    if p is not None and not p.amps_at
                ]
                if able * CLOSE < amps or any(r is not None and r * CLOSE < amps for r in rated):
                    too_thin[number] = 1.0
            says = (
                f"{Measure(round(amps, 3), 'A')} flows to {slot.name}, and its wire and contacts carry that"
            )
            self.program.demand(too_thin, high=0.0, says=says)

    def _protect(self) -> None:
        """Rule out pairs of a fuse and a wire behind it that the fuse does not protect, and fuses beyond contacts."""
        kind = self.sizer.kind
        thin = self.sizer.tried(
            Design(tuple(sizes[0] for sizes in self.sizer.sizes), self.thick.design.fuses)
        )
        for bare in self.sizer.working(thin, "unfused"):
            self._limited(bare)
        for fuse in self.sizer.working(self.thick, "fused"):
            i = self.sizer.fused.get(fuse.name)
            sizes = self.fuse_sizes[i] if i is not None else [fuse.fuse.amps]
            contact = min((piece.amps for piece in fuse.contacts), default=inf)
            if i is not None and sizes[0] <= contact * CLOSE:
                over = {n: 1.0 for amps, n in zip(sizes, self.f[i], strict=True) if amps > contact * CLOSE}
                self.program.demand(
                    over,
                    high=0.0,
                    says=f"the fuse of {fuse.name} protects contacts that carry {Measure(contact, 'A')}",
                )
            for piece in fuse.wires:
                s = self.sizer.spots.get(getattr(piece.at, "name", ""))
                if s is not None:
                    self._pair(fuse, i, s, sizes, kind if i is not None else fuse.fuse.kind or kind)
                elif i is not None:
                    over = {
                        n: 1.0 for amps, n in zip(sizes, self.f[i], strict=True) if amps > piece.amps * CLOSE
                    }
                    self.program.demand(over, high=0.0, says=f"the fuse of {fuse.name} protects {piece}")

    def _limited(self, bare: Any) -> None:
        """Rule out wires that a source without a fuse may overload for good: its limit is their only protection."""
        for piece in bare.wires:
            s = self.sizer.spots.get(getattr(piece.at, "name", ""))
            if s is None or (bare.outlet.name, s) in self._paired:
                continue
            self._paired.add((bare.outlet.name, s))
            slot = self.sizer.leads[s]
            terms: Sum = {
                number: 1.0
                for size, number in zip(self.sizer.sizes[s], self.x[s], strict=True)
                if STANDS * carried(size.gauge, slot.run.metal, slot.run.among).amps * size.parallel * CLOSE
                < bare.limit
            }
            why = f"no wire that fits stands the {Measure(bare.limit, 'A')} of {bare.outlet}: put a fuse in front"
            broken = self.program.number(0, 1)
            self.program.demand({**terms, broken: -1.0}, high=0.0)
            self.soft[broken] = [inlet.thing.id for inlet in slot.inlets], why

    def _pair(self, fuse: Any, i: int | None, s: int, amps: list[float], kind: str) -> None:
        if (i if i is not None else fuse.fuse, s) in self._paired:
            return  # fuses of one entry, and leads of one: once is enough
        self._paired.add((i if i is not None else fuse.fuse, s))
        slot = self.sizer.leads[s]
        says = f"the fuse of {fuse.name} protects the lead to {slot.name}"
        ables = [
            carried(z.gauge, slot.run.metal, slot.run.among).amps * z.parallel for z in self.sizer.sizes[s]
        ]
        # The stricter demand of IEC 60364-4-43 is a note of the lint: it is kept where it can be.
        strict = any(gates.wire_protected(kind, amps[0], able).opens_in_time for able in ables)
        for able, number in zip(ables, self.x[s], strict=True):
            if fuse.limit is not None and fuse.limit * CLOSE <= STANDS * able:
                continue  # the source protects it, whatever the fuse
            for k, each in enumerate(amps):
                loose = strict and not gates.wire_protected(kind, each, able).opens_in_time
                if each > able * CLOSE or loose:
                    terms: Sum = {number: 1.0}
                    if i is not None:
                        terms[self.f[i][k]] = 1.0
                    self.program.demand(terms, high=1.0 if i is not None else 0.0, says=says)

    def _kinds(self) -> None:
        """Count the different gauges and fuses, and hold them to what was asked for."""
        wish = self.sizer.draft.wish
        self.gauge_used = self._used(zip(self.sizer.sizes, self.x, strict=True), lambda size: size.gauge)
        self.fuse_used = self._used(zip(self.fuse_sizes, self.f, strict=True), lambda amps: amps)
        for used, most, what in (
            (self.gauge_used, wish.most_gauges, "gauges"),
            (self.fuse_used, wish.most_fuses, "fuses"),
        ):
            if most is not None:
                self.program.demand(
                    dict.fromkeys(used, 1.0), high=most, says=f"at most {most} different {what} are asked for"
                )

    def _used(self, rows: Iterable[tuple[list[Any], list[int]]], key: Any) -> list[int]:
        by_key: dict[Any, list[int]] = {}
        for sizes, numbers in rows:
            for size, number in zip(sizes, numbers, strict=True):
                by_key.setdefault(key(size), []).append(number)
        found = []
        for numbers in by_key.values():
            used = self.program.number(0, 1, whole=False)
            for number in numbers:
                self.program.demand({number: 1.0, used: -1.0}, high=0.0)
            found.append(used)
        return found

    # --- volts --------------------------------------------------------------------------------------------------------

    def _arrive(self, state: State, only: set[str] | None = None) -> None:
        """Demand that the volts of each inlet stay in its window, by the currents of a design."""
        known = self.sizer.working(state, "leads")
        for arrival in self.sizer.working(state, "arrivals"):
            window = arrival.spec.volts
            if (
                window is None
                or arrival.low is None
                or arrival.net.group
                or (only is not None and arrival.inlet.name not in only)
            ):
                continue
            lost, now = self._lost(arrival, known, state.design)
            if not lost:
                continue
            room = arrival.low - window[0] + now
            says = f"{Measure(window[0], 'V')} at least arrive at {arrival.inlet}"
            give = Give(
                f"{{}} V more from {arrival.net}, or as much less lost on the way to {arrival.inlet}",
                whole=False,
            )
            self.program.demand(lost, high=room + 1e-9, says=says, give=give)
            if arrival.low >= window[0] and only is None:
                self.program.demand({**lost, self.margin: 1.0}, high=room + 1e-9)

    def _lost(self, arrival: Any, known: Any, design: Design) -> tuple[Sum, float]:
        """Return the volts lost on the way to an inlet in the leads that are to be chosen, and what is lost now [V]."""
        lost: Sum = {}
        now = 0.0
        for b in arrival.numbers:
            inlet = arrival.net.branches[b].inlet
            amps = arrival.net.worst.amps[b]
            for i, takers in self._fuses_before(inlet):
                chosen = self._fuse_ohms(design.fuses[i], takers)
                for rated, number in zip(self.fuse_sizes[i], self.f[i], strict=True):
                    more = amps * (self._fuse_ohms(rated, takers) - chosen)
                    lost[number] = lost.get(number, 0.0) + more
            s = self.sizer.spots.get(inlet.name)
            if s is None:
                continue
            for size, number in zip(self.sizer.sizes[s], self.x[s], strict=True):
                lost[number] = (
                    lost.get(number, 0.0) + amps * known.with_run(inlet, self._run(s, inlet, size)).worst
                )
            now += amps * known.with_run(inlet, self._run(s, inlet, design.leads[s])).worst
        return lost, now

    def _fuses_before(self, inlet: Any) -> Iterator[tuple[int, int]]:
        """Yield the fuses to be chosen that lie just before an inlet, and how many share each."""
        if inlet.thing.table == "inline" and (i := self.sizer.fused.get(inlet.thing.id)) is not None:
            yield i, 1
        source = inlet.source
        if source is None or (i := self.sizer.fused.get(source.name)) is None:
            return
        if source.via is not None:
            if source.spec is not source.thing:
                yield i, len(source.takers)
        elif inlet.thing is source.thing:  # the way out of a source, which all that hangs on it share
            yield i, 1

    def _fuse_ohms(self, rated: float, takers: int) -> float:
        return fuse_ohms(Fuse(rated, self.sizer.kind), takers)[1]

    def _run(self, s: int, inlet: Any, size: Size) -> Run:
        slot = self.sizer.leads[s]
        length = (
            inlet.lead.length if inlet.lead is not None and inlet.lead.length is not None else slot.run.length
        )
        return msgspec.structs.replace(
            slot.run, gauge=float(size.gauge), parallel=size.parallel, length=length
        )

    # --- rounds -------------------------------------------------------------------------------------------------------

    def _aims(self) -> list[tuple[str, str, Terms]]:
        copper: Sum = {}
        for slot, sizes, numbers in zip(self.sizer.leads, self.sizer.sizes, self.x, strict=True):
            for size, number in zip(sizes, numbers, strict=True):
                copper[number] = self.sizer.copper(slot, size)
        fuses = {
            n: amps
            for sizes, numbers in zip(self.fuse_sizes, self.f, strict=True)
            for amps, n in zip(sizes, numbers, strict=True)
        }
        # One thicker wire is crimped sooner than two, and is the same copper or little more.
        more = {
            n: float(size.parallel - 1) * len(slot.inlets)
            for slot, sizes, numbers in zip(self.sizer.leads, self.sizer.sizes, self.x, strict=True)
            for size, n in zip(sizes, numbers, strict=True)
        }
        aims: list[tuple[str, str, Terms]] = [
            ("leads with conductors side by side", "", more),
            ("copper of leads", "g", copper),
            ("fuses, added up", "A", fuses),
        ]
        if self.sizer.draft.wish.aim == "kinds":
            aims.insert(0, ("different gauges", "", dict.fromkeys(self.gauge_used, 1.0)))
            aims.insert(1, ("different fuses", "", dict.fromkeys(self.fuse_used, 1.0)))
        if self.sizer.draft.wish.aim == "spare":
            aims.insert(0, ("volts to spare, where they are fewest", "V", {self.margin: -1.0}))
        aims.insert(0, ("", "", dict.fromkeys(self.soft, 1.0)))
        return [aim for aim in aims if aim[2]]

    def best(self) -> tuple[State, list[Figure]]:
        """Return the best design and what it came to; the thickest one where none of those tried passes."""
        bounds: dict[str, float] = {}
        exact = EXACT_ROUNDS if len(self.x) <= MANY else EXACT_ROUNDS // 3
        for k in range(exact + STRICT_ROUNDS):
            aims = self._aims()
            found = self.program.solve([aim for _, _, aim in aims])
            if k < exact:
                bounds = {what: best.bound for (what, _, _), best in zip(aims, found, strict=True)}
            state = self.sizer.tried(self._design(found[-1]))
            broken = [told for number, told in self.soft.items() if found[-1].of(number)]
            worse = self._worse(state, "error" if broken else "warning")
            if not worse:
                for things, why in broken:
                    self.sizer.draft.leave(things, "fuse", why)
                rows = zip(aims, found, strict=True)
                return state, [
                    Figure.of(what, best, unit, bounds[what]) for (what, unit, _), best in rows if what
                ]
            self._rule_out(state, worse, strict=k + 1 >= exact)
        sizer = self.sizer
        grams = sum(map(sizer.copper, sizer.leads, self.thick.design.leads))
        what = "copper of leads, the thickest that fit: no thinner ones passed"
        return self.thick, [Figure(what, grams, None, "g")]

    def _worse(self, state: State, level: Level) -> list[Finding]:
        """Return what neither the smallest fuses nor the largest, with the thickest leads, have against them."""
        after_small = made_worse(self.thick.trial, state.trial, level)
        after_large = made_worse(self.mild.trial, state.trial, level)
        return after_small + [finding for finding in after_large if finding not in after_small]

    def _design(self, found: Any) -> Design:
        leads = tuple(next(s for s, n in zip(sizes, numbers, strict=True) if found.of(n))
                      for sizes, numbers in zip(self.sizer.sizes, self.x, strict=True))  # fmt: skip
        fuses = tuple(next(a for a, n in zip(sizes, numbers, strict=True) if found.of(n))
                      for sizes, numbers in zip(self.fuse_sizes, self.f, strict=True))  # fmt: skip
        return Design(leads, fuses)

    def _rule_out(self, state: State, worse: list[Finding], strict: bool) -> None:
        """Add what a failed design taught: it, and what is worse in the same respect, is out."""
        low: set[str] = set()
        for bare in self.sizer.working(state, "unfused"):
            self._limited(bare)
        for finding in worse:
            names = set(finding.subjects)
            deep = finding.rule.startswith(("volts.", "rails.", "spinup."))
            inlets = list(self._inlets_of(state, names, deep))
            slots = {s for i in inlets if (s := self.sizer.spots.get(i.name)) is not None}
            on_the_way = {i for inlet in inlets if deep for i, _ in self._fuses_before(inlet)}
            fuses = {i for name, i in self.sizer.fused.items() if name in names}
            if finding.rule.startswith("volts."):
                low |= {
                    a.inlet.name
                    for a in self.sizer.working(state, "arrivals")
                    if names & {a.inlet.name, a.thing.id}
                }
            terms: Sum = {}
            for s in slots:
                mine = state.design.leads[s]
                terms.update(
                    {
                        n: 1.0
                        for size, n in zip(self.sizer.sizes[s], self.x[s], strict=True)
                        if not size.thinner(mine)
                    }
                )
            for i in on_the_way - fuses:
                chosen = state.design.fuses[i]
                larger = zip(self.fuse_sizes[i], self.f[i], strict=True)
                terms.update({n: 1.0 for amps, n in larger if amps > chosen})
            for i in fuses:
                chosen = state.design.fuses[i]
                terms.update(
                    {n: 1.0 for amps, n in zip(self.fuse_sizes[i], self.f[i], strict=True) if amps != chosen}
                )
            says = f"{finding.rule}: {finding.says}"
            self.program.demand(terms or self._all_but(state), low=1.0, says=says)
        if strict and low:
            self._arrive(state, low)

    def _inlets_of(self, state: State, names: set[str], deep: bool) -> Iterator[Any]:
        """Yield the inlets that a finding speaks of, and with ``deep`` all on the way to them."""
        for arrival in self.sizer.working(state, "arrivals"):
            if not names & {arrival.inlet.name, arrival.thing.id, str(arrival.inlet.source)}:
                continue
            nets = arrival.net.together if deep and arrival.net.group else [arrival.net]
            if len(nets) > 1:
                yield from (branch.inlet for net in nets for branch in net.branches)
            else:
                whole = arrival.numbers if deep else arrival.numbers[:1]
                yield from (arrival.net.branches[b].inlet for b in whole)

    def _all_but(self, state: State) -> Sum:
        """Return a sum that is at least one for every other design."""
        terms: Sum = {}
        for sizes, numbers, chosen in zip(self.sizer.sizes, self.x, state.design.leads, strict=True):
            terms.update({n: 1.0 for size, n in zip(sizes, numbers, strict=True) if size != chosen})
        for amps, numbers, fuse in zip(self.fuse_sizes, self.f, state.design.fuses, strict=True):
            terms.update({n: 1.0 for each, n in zip(amps, numbers, strict=True) if each != fuse})
        return terms

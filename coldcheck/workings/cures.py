"""What would bring the volts at an inlet up, each change proven by solving the changed nets: for nets that hang
together, and for volts that sag in a start."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.edit import Put
from coldcheck.plan.kinds import Run
from coldcheck.plan.spans import listed

from .apart import MOST_DRIVES, Apart, keepers_of, least_apart, motors_below, told, written
from .choices import GAUGES, contacts_take, lead_text, plugs_take, sole_lead
from .leads import Leads
from .net import Branch, Net, source_volts
from .power import Arrival
from .rehearsal import Rehearsal
from .starts import Start
from .what_if import variant

__all__ = ["Cure", "Cures", "cures", "starting"]

Change = Callable[[Branch], None]
#: In a plan where more than these sag, the first ones must be cured before the others are worth the time.
MOST_SEARCHES = 40


class Cure(msgspec.Struct, frozen=True):
    """A change in words, as edits where it can be exact, and the lowest volts that arrive at the inlet then [V].

    ``whole``: nothing else that hangs together with the inlet has too few volts then, either.
    """

    says: str
    volts: float
    edits: tuple[Put, ...] = ()
    whole: bool = False


class Outcome(msgspec.Struct, frozen=True):
    """What a change does: the lowest volts at the inlet [V], and by how much all that is wanted is reached [V]."""

    volts: float
    margin: float

    @property
    def enough(self) -> bool:
        """Whether all that is wanted is reached."""
        return self.margin >= 0


def starting(arrival: Arrival, at: float) -> str:
    """Return how many things of which kind start at a moment, on all nets solved with this one: "3 drives start".

    Their names are left out: of members of a span, each would name itself, and one sag would make many findings.
    """
    things = {
        branch.inlet.thing.id: branch.inlet.thing.table
        for net in arrival.net.together
        for branch in net.branches
        if branch.draw.surge
        and branch.at <= at < branch.at + sum(seconds for _, seconds in branch.draw.surge)
    }
    counts = Counter(things.values())
    many = [
        f"{n} {table}{'es' if table.endswith('ch') else 's'}" if n > 1 else f"1 {table}"
        for table, n in counts.items()
    ]
    return f"{listed(many) or 'things'} {'starts' if len(things) == 1 else 'start'}"


class Cures:
    """What brings volts up, by what is written in one place of the plan: a span changes as one, and is tried once."""

    def __init__(self, leads: Leads, rehearsal: Rehearsal) -> None:
        self.leads, self.rehearsal = leads, rehearsal
        self._found: dict[Any, list[Cure]] = {}

    def of(self, arrival: Arrival, least: float) -> list[Cure]:
        """Return the changes that each bring an inlet to ``least`` [V]: what cures its neighbours too comes first."""
        key = arrival.thing.path, arrival.inlet.id, arrival.net.name, least
        if key not in self._found and len(self._found) < MOST_SEARCHES:
            found = []
            for attempt in (_apart, _thicker_back, _own_back, _thicker_lead, _thicker_above):
                cure = attempt(_Search(arrival, self, least, whole=True))
                cure = cure or attempt(_Search(arrival, self, least, whole=False))
                found += [cure] if cure is not None else []
            self._found[key] = sorted(found, key=lambda cure: not cure.whole)
        return self._found.get(key, [])


@working(reads=())
def cures(leads: Leads, rehearsal: Rehearsal) -> Cures:
    """What would bring the volts at an inlet up, proven by solving the changed nets."""
    return Cures(leads, rehearsal)


class _Search:
    """A search for one kind of change: what is wanted at which inlets, and what a change would do."""

    def __init__(self, arrival: Arrival, known: Cures, least: float, whole: bool) -> None:
        self.arrival, self.least, self.whole = arrival, least, whole
        self.leads, self.rehearsal = known.leads, known.rehearsal
        self.nets: list[Net] = arrival.net.together
        self.wanted = list(self._wanted())

    def _wanted(self) -> Any:
        """Yield (net, branch, least volts) of every inlet that is to be cured."""
        for k, net in enumerate(self.nets):
            volts = source_volts(net.root)
            for i, branch in enumerate(net.branches):
                if self.alike(branch):
                    yield k, i, self.least
                elif self.whole and volts and not branch.ohms.missing:
                    window = branch.inlet.spec.volts
                    if window is not None and window[0] <= volts[0] <= window[1]:
                        yield k, i, window[0]

    def alike(self, branch: Branch) -> bool:
        """Say whether a branch is written in the same place of the plan as the inlet."""
        inlet, own = branch.inlet, self.arrival.inlet
        return inlet.thing.path == own.thing.path and inlet.id == own.id

    def outcome(self, change: Change) -> Outcome:
        """Return what a change would do: in the corners that decide now and, if that is enough, in all."""
        quick = self._outcome(change, quick=True)
        return self._outcome(change, quick=False) if quick.enough and self.arrival.net.group else quick

    def outcome_of(self, nets: dict[str, Net]) -> Outcome:
        """Return what nets do that were solved elsewhere, by their names; the others stay as they are."""
        return self._of([nets.get(net.name, net) for net in self.nets])

    def _outcome(self, change: Change, quick: bool) -> Outcome:
        return self._of(variant(self.arrival.net, change, quick).together)

    def _of(self, nets: list[Net]) -> Outcome:
        margins = [nets[k].worst.volts[i] - least for k, i, least in self.wanted]
        own = [nets[k].worst.volts[i] for k, i, _ in self.wanted if self.alike(self.nets[k].branches[i])]
        return Outcome(min(own), min(margins))

    def cure(self, says: str, outcome: Outcome, edits: tuple[Put, ...] = ()) -> Cure:
        """Return a change that is enough."""
        return Cure(says, outcome.volts, edits, self.whole)

    def thinnest(self, run: Run, change: Callable[[Run], Change], thick: float, thin: float) -> Any:
        """Return the thinnest run of the same length that is enough, and what it does; None where none is."""
        runs = [
            msgspec.structs.replace(run, gauge=float(gauge))
            for gauge in GAUGES
            if gauge < (run.gauge or 0.0) and thick <= gauge <= thin
        ]
        if not runs or not (best := self.outcome(change(runs[-1]))).enough:
            return None
        low, high = -1, len(runs) - 1
        while high - low > 1:
            middle = (low + high) // 2
            tried = self.outcome(change(runs[middle]))
            low, high, best = (low, middle, tried) if tried.enough else (middle, high, best)
        return runs[high], best


def _apart(search: _Search) -> Cure | None:
    """Start motors one after the other, or a few at a time, the closest together that keeps every limit."""
    rails = [net.root for net in search.nets]
    motors = list({drive.id: drive for rail in rails for drive in motors_below(rail)}.values())
    if not search.whole or not 1 < len(motors) <= MOST_DRIVES:
        return None
    offer = least_apart(search.rehearsal, search.arrival.net.root, motors)
    if not isinstance(offer, Apart):
        return None
    outcome = search.outcome_of(
        search.rehearsal.with_starts({name: Start(at, True, "tried") for name, at in offer.delays.items()})
    )
    if not outcome.enough:
        return None
    holders = keepers_of(search.rehearsal, motors)
    if holders:
        return search.cure(told(offer, holders), outcome, written(search.rehearsal.plan, offer.delays))
    at_a_time = "" if offer.size == 1 else f"{offer.size} at a time, "
    says = f"start the {len(motors)} drives {at_a_time}{offer.seconds} s apart, in a carrier that holds them back"
    return search.cure(says, outcome)


def _thicker_back(search: _Search) -> Cure | None:
    """Take a thicker wire for the way back that several share."""
    wire = search.arrival.net.branches[search.arrival.i].way_back
    if wire is None or wire.lead is None or wire.lead.gauge is None:
        return None

    def with_run(run: Run) -> Change:
        ohms = search.leads.one_way_with(wire, run)

        def change(branch: Branch) -> None:
            if branch.inlet is wire:
                branch.ohms = ohms

        return change

    found = search.thinnest(wire.lead, with_run, -3.0, 40.0)
    if found is None:
        return None
    text = lead_text(found[0])
    edits = (Put((*wire.thing.path, "lead"), text),) if "lead" in wire.thing.stated else ()
    return search.cure(f'lead = "{text}" for {wire.thing.id}', found[1], edits)


def _own_back(search: _Search) -> Cure | None:
    """Give a thing a way back of its own."""
    wire = search.arrival.net.branches[search.arrival.i].way_back
    source = search.arrival.inlet.source
    if wire is None or source is None:
        return None

    def change(branch: Branch) -> None:
        if search.alike(branch):
            branch.way_back = None

    outcome = search.outcome(change)
    if not outcome.enough:
        return None
    return search.cure(f"lead its way back to {source.thing.id} itself, and not by {wire.thing.id}", outcome)


def _thicker_lead(search: _Search) -> Cure | None:
    """Take a thicker lead to the thing itself."""
    inlet, thing = search.arrival.inlet, search.arrival.thing
    if inlet.lead is None or inlet.lead.gauge is None or inlet.lead.length is None:
        return None

    def with_run(run: Run) -> Change:
        ohms = search.leads.with_run(inlet, run)

        def change(branch: Branch) -> None:
            if search.alike(branch):
                branch.ohms = ohms

        return change

    found = search.thinnest(inlet.lead, with_run, *contacts_take(search.arrival, search.leads))
    if found is None:
        return None
    text = lead_text(found[0])
    single = sole_lead(thing)
    return search.cure(f'lead = "{text}"', found[1], (Put((*thing.path, "lead"), text),) if single else ())


def _thicker_above(search: _Search) -> Cure | None:
    """Take a thicker lead for the run that it shares with others, the one nearest to the source that is enough."""
    net = search.arrival.net
    for i in reversed(search.arrival.numbers[1:]):
        inlet = net.branches[i].inlet
        if inlet.lead is None or inlet.lead.gauge is None or inlet.lead.length is None or i <= net.stem:
            continue

        def with_run(run: Run, inlet: Any = inlet) -> Change:
            ohms = search.leads.with_run(inlet, run)

            def change(branch: Branch) -> None:
                if branch.inlet is inlet:
                    branch.ohms = ohms

            return change

        found = search.thinnest(inlet.lead, with_run, *plugs_take(search.leads, inlet))
        if found is not None:
            text = lead_text(found[0])
            return search.cure(f'lead = "{text}" for {inlet.thing.id}', found[1])
    return None

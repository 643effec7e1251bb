"""Choosing parts: which part of the shelf could a thing of the plan be, so that it carries what hangs on it?

Each part of the kind is put in its place, and the plan linted; what gets worse rules it out, and says why.
"""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.plan.edit import CannotEdit, Put, apply
from coldcheck.plan.problems import PlanUnreadable
from coldcheck.workings.limits import limit_of, total_limit
from coldcheck.workings.power import settled

from .draft import Draft, Wish, entries
from .trial import Bench, Trial, made_worse

__all__ = ["Choice", "NoSuchThing", "choose"]


class NoSuchThing(LookupError):
    """A name that no thing of the plan has, or one of a kind that the shelf has no parts of."""


class Choice(msgspec.Struct, frozen=True):
    """A part in the place of a thing: ``share`` of its limits that is asked for [-], the greatest of any; None where it
    states none. ``against`` says what an error would say of it then, "" where it carries all; ``now``: it is there."""

    part: str
    title: str
    share: float | None
    against: str = ""
    now: bool = False


def choose(bench: Bench, text: bytes, name: str) -> list[Choice]:
    """Return every part of the shelf that a thing could be, those that carry all first, the smallest of them first.

    Raises:
        NoSuchThing: no thing is called so, or no part is of its kind.
        PlanUnreadable: the text is no plan.
    """
    draft = Draft(bench, text, Wish())
    thing = draft.plan.things.get(name)
    if thing is None or not hasattr(thing, "table"):
        raise NoSuchThing(f'nothing in the plan is called "{name}"')
    entry = next(e for e in entries(draft.plan.table(thing.table)) if e.path == thing.path)
    found = [
        _tried(bench, text, draft, entry.names, part)
        for part in draft.plan.shelf.every()
        if part.kind == thing.table
    ]
    if not found:
        raise NoSuchThing(f"the shelf has no part that is a {thing.table}")
    return sorted(found, key=lambda c: (bool(c.against), -(c.share if c.share is not None else -1.0), c.part))


def _tried(bench: Bench, text: bytes, draft: Draft, names: list[str], part: Any) -> Choice:
    thing = draft.plan.things[names[0]]
    now = thing.part == part.id
    title = part.raw.get("title", "")
    try:
        trial = bench.trial(apply(text, [Put((*thing.path, "part"), part.id)]))
    except CannotEdit as error:
        return Choice(part.id, title, None, str(error), now)
    except PlanUnreadable as error:
        return Choice(part.id, title, None, error.problems[0].says, now)
    worse = made_worse(_without(draft, names), trial, "error")
    share = _share(bench, trial, names)
    return Choice(part.id, title, share, worse[0].says if worse else "", now)


def _without(draft: Draft, names: list[str]) -> Trial:
    """Return the plan as it is, with every finding that speaks of the thing left out: those may be the old part's."""
    trial = draft.bench.trial(draft.text)
    others = [f for f in trial.findings if not any(s.partition(".")[0] in names for s in f.subjects)]
    return msgspec.structs.replace(trial, findings=others)


def _share(bench: Bench, trial: Trial, names: list[str]) -> float | None:
    """Return the greatest share of any limit of a thing that is asked for once all is up."""
    made: dict[str, Any] = {"plan": trial.plan}
    loading: Any = bench.working(trial.plan, "loading", made)
    shares = []
    for name in names:
        for outlet in trial.plan.things[name].outlets:
            limit = limit_of(outlet, trial.plan)
            if limit.amps:
                shares.append(settled(loading.amps(outlet)) / limit.amps)
    for total in bench.working(trial.plan, "totals", made):
        most = total_limit(total, trial.plan).watts if total.thing.id in names else None
        if most:
            shares.append(sum(settled(loading.watts(outlet)) for outlet in total.outlets) / most)
    return max(shares, default=None)

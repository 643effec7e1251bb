"""Filling: everything that a plan leaves blank and that can be computed, each stage on what those before it chose.

Sources and ports are chosen together, then addresses, then the delays of starts, then gauges and fuses together. What
is written already is kept as it is, so a plan that is built moves nothing. Where sources chosen for balance are too far
away for any wire, near ones are chosen instead. The plan is linted before and after: what got worse is told, and a
filling that brings an error is not written.
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from coldcheck.engine.findings import Finding
from coldcheck.plan.edit import Put

from .bays import fill_bays
from .cords import fill_cords
from .delays import fill_delays
from .draft import Draft, Figure, Left, Wish
from .numbering import fill_addresses
from .placing import place
from .prefixes import fill_prefixes
from .program import Contradiction
from .sizing import fill_sizes
from .trial import Bench, Trial, made_worse

__all__ = ["STAGES", "Filling", "Impossible", "fill"]

#: What is filled in, in this order, and what each stage is called.
STAGES: tuple[tuple[str, Callable[[Draft], None]], ...] = (
    ("bays", fill_bays),
    ("sources and ports", place),
    ("data cables", fill_cords),
    ("prefixes", fill_prefixes),
    ("addresses", fill_addresses),
    ("delays", fill_delays),
    ("gauges and fuses", fill_sizes),
)


class Filling(msgspec.Struct):
    """What came of filling: the trials before and after, what was put, what it came to, what stays blank and why.

    ``worse`` are errors that the filled plan has and the one before did not have; ``moved`` are the things whose cables
    had to go to other ports, so that all have one.
    """

    before: Trial
    after: Trial
    puts: list[Put]
    figures: list[Figure]
    left: list[Left]
    worse: list[Finding]
    moved: list[str] = []

    @property
    def changed(self) -> bool:
        """Whether the text is another one."""
        return self.before.text != self.after.text


class Impossible(Exception):
    """A plan whose blanks cannot be filled: the stage, a few demands that contradict each other, what frees them."""

    def __init__(self, stage: str, demands: list[str], gives: list[str]) -> None:
        super().__init__(f"{stage}: {'; '.join(demands)}")
        self.stage, self.demands, self.gives = stage, demands, gives


def fill(
    bench: Bench, text: bytes, wish: Wish | None = None, told: Callable[[float], object] = bool
) -> Filling:
    """Return a plan with its blanks filled; ``told`` hears the share of the work that is done.

    Raises:
        Impossible: the blanks of one stage cannot be filled together, with the proof in words.
        PlanUnreadable: the text is no plan.
    """
    draft = Draft(bench, text, wish or Wish())
    try:
        _through(draft, told)
    except Impossible:
        if not draft.far:
            raise
        draft = Draft(bench, text, wish or Wish(), near=True)
        _through(draft, told)
    told(len(STAGES) / (len(STAGES) + 1))
    before, after = bench.trial(text), bench.trial(draft.text)
    worse = [f for f in made_worse(before, after, "error") if f.kind == "fail"]
    return Filling(before, after, draft.puts, draft.figures, draft.left, worse, draft.moved)


def _through(draft: Draft, told: Callable[[float], object]) -> None:
    """Fill a draft stage by stage."""
    for i, (stage, work) in enumerate(STAGES):
        told(i / (len(STAGES) + 1))
        try:
            work(draft)
        except Contradiction as error:
            raise Impossible(stage, error.demands, error.gives) from None
        draft.settle()

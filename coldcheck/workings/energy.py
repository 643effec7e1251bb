"""Energy: what every feed gives at rest and at work, what that takes at the wall, and what a year of it is.

At work is the nominal corner of the nets once everything is up: each thing at its peak at the same time, which whole
boxes hardly reach, so it is the most and not the mean. At rest the same nets are solved anew with idle draws: the
losses in copper, and the efficiency of every converter, are those of the lower load.

Nothing is computed before it is asked for: a lint of a plan without a battery needs none of it.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any

import msgspec

from coldcheck.dc import battery, converter
from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan

from .converting import efficiency_at
from .idle import IdleDraws, idle_takes
from .leads import Leads
from .net import Net, source_volts
from .nets import nets
from .poe import PoeFeed
from .webs import Webs

__all__ = ["Energy", "FeedEnergy", "energy"]


class FeedEnergy(msgspec.Struct, frozen=True):
    """One feed: what its outlets give at rest and at work, and what it takes from the wall for that [W].

    ``alone`` is what it gives at work with the sources off that it is to stand in for, if any.

    What is not stated counts as nothing lost and nothing drawn, or for an idle draw as at work; it is named:
    ``missing`` for the load at work, ``missing_idle`` at rest, ``missing_wall`` for what the feed itself needs.
    """

    feed: Any
    idle: float
    busy: float
    wall_idle: float
    wall_busy: float
    missing: tuple[str, ...]
    missing_idle: tuple[str, ...]
    missing_wall: tuple[str, ...]
    alone: float

    def hours(self, watts: float) -> float | None:
        """Return for how long its battery alone gives some watts [h]; None for what is no battery of known energy."""
        if self.feed.watt_hours is None or not self.feed.usable or watts <= 0:
            return None
        return battery.run_hours(self.feed.watt_hours, self.feed.usable, watts)


class Energy:
    """What the feeds of a plan give and take. Watts are sums over all feeds [W], ``kwh_...`` a year's energy [kWh]."""

    def __init__(
        self, plan: Plan, solved: dict[str, Net], leads: Leads, poe_feeds: list[PoeFeed], webs: Webs
    ) -> None:
        self._plan, self._busy, self._leads, self._poe, self._webs = plan, solved, leads, poe_feeds, webs

    @cached_property
    def feeds(self) -> list[FeedEnergy]:
        """Every feed that feeds something."""
        feeds = [feed for feed in self._plan.table("feed") if any(o.takers for o in feed.outlets)]
        return [self._of(feed) for feed in feeds]

    def of(self, feed: Any) -> FeedEnergy | None:
        """Return one feed, or None where nothing hangs on it."""
        return next((found for found in self.feeds if found.feed is feed), None)

    @property
    def idle(self) -> float:
        """What the feeds give at rest [W]."""
        return sum(feed.idle for feed in self.feeds)

    @property
    def busy(self) -> float:
        """What the feeds give at work [W]."""
        return sum(feed.busy for feed in self.feeds)

    @property
    def wall_idle(self) -> float:
        """What the feeds take from the wall at rest [W]."""
        return sum(feed.wall_idle for feed in self.feeds)

    @property
    def wall_busy(self) -> float:
        """What the feeds take from the wall at work [W]."""
        return sum(feed.wall_busy for feed in self.feeds)

    @property
    def kwh_idle(self) -> float:
        """A year at rest, at the wall [kWh]."""
        return battery.kilowatt_hours_per_year(self.wall_idle, self.wall_busy, 0.0)

    @property
    def kwh_busy(self) -> float:
        """A year at work, at the wall [kWh]."""
        return battery.kilowatt_hours_per_year(self.wall_idle, self.wall_busy, 1.0)

    @property
    def kwh_mixed(self) -> float | None:
        """A year at the plan's share of work, at the wall [kWh]; None where the plan states no ``busy``."""
        share = self._plan.head.busy
        if share is None:
            return None
        return battery.kilowatt_hours_per_year(self.wall_idle, self.wall_busy, share)

    @property
    def missing(self) -> list[str]:
        """Every figure that is not stated and that one of these numbers needs."""
        named = [m for f in self.feeds for m in (*f.missing, *f.missing_idle, *f.missing_wall)]
        if self._plan.head.busy is None:
            named.append("plan busy")
        return list(dict.fromkeys(named))

    @cached_property
    def _idle(self) -> dict[str, Net]:
        return nets(self._plan, IdleDraws(), self._leads, {}, idle_takes(self._poe), self._webs)

    def _of(self, feed: Any) -> FeedEnergy:
        busy, missing = _given(feed, self._busy)
        idle, missing_idle = _given(feed, self._idle)
        return FeedEnergy(
            feed, idle, busy, _at_wall(feed, idle), _at_wall(feed, busy), missing, missing_idle,
            () if feed.efficiency is not None else (f"{feed.id} efficiency",), _alone(feed, self._busy),
        )  # fmt: skip


def _given(feed: Any, solved: dict[str, Net]) -> tuple[float, tuple[str, ...]]:
    """Return what the outlets of a feed give once everything is up [W], and the figures that are not stated."""
    watts, missing = 0.0, []
    for outlet in feed.outlets:
        if not outlet.takers:
            continue
        net = solved[outlet.name]
        watts += max(0.0, net.nominal.watts[-1][1])  # what is pushed into a feed is no gain
        if source_volts(outlet) is None:
            missing.append(f"{outlet} volts")
        missing += [figure for figure in net.missing if not figure.endswith(" surge")]
    return watts, tuple(dict.fromkeys(missing))


def _alone(feed: Any, solved: dict[str, Net]) -> float:
    """Return what a feed gives at work with the sources off that it is to stand in for [W]."""
    found = (solved[outlet.name] for outlet in feed.outlets if outlet.takers)
    return sum(max(0.0, (net.alone or net.nominal).watts[-1][1]) for net in found)


def _at_wall(feed: Any, watts: float) -> float:
    """Return what a feed takes for what it gives [W]: the loss by its efficiency, and its standing draw."""
    volts = next((v[0] for outlet in feed.outlets if (v := source_volts(outlet))), 0.0)
    return converter.input_power(watts, efficiency_at(feed.efficiency, watts, volts), feed.standing or 0.0)


@working(reads=("plan", "feed", "supply", "inline", "node", "storage", "drive", "switch", "fan", "appliance"))
def energy(plan: Plan, nets: dict[str, Net], leads: Leads, poe_feeds: list[PoeFeed], webs: Webs) -> Energy:
    """What every feed gives at rest and at work [W], what that takes at the wall, and a year's energy [kWh]."""
    return Energy(plan, nets, leads, poe_feeds, webs)

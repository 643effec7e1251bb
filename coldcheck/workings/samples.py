"""A tolerance study of a plan: every net solved for many samples of its volts, resistances and draws at once.

What is drawn: the volts of each source between their lowest and highest; the resistance of each run between that of
copper at the ambient with new contacts and the greatest of the worst corner; what a thing draws between the least and
the most of its figures (idle, typical, peak). What each converter takes in follows, sample by sample, from what it
gives. NumPy is imported here and by nothing that a lint needs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Literal

import msgspec

from coldcheck.plan.kinds import Draw
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed

from .circuits import LEAST, Group
from .converting import efficiency_at
from .corners import loads_at
from .limits import limit_of
from .net import Branch, Net, source_volts, value_at

__all__ = ["Judged", "Law", "Study", "study"]

Law = Literal["normal", "uniform", "worst"]

#: Moments of a start that are sampled, those with most amps first; more would say nothing new.
MOST_MOMENTS = 12
#: Samples that the ranking of tolerances looks at.
RANKED = 20_000
#: Samples that are drawn where each is a solve of its own, a millisecond or more.
MOST_SINGLE = 2_000
#: Values that one array of samples may have; beyond, fewer samples are drawn.
MOST_VALUES = 60_000_000


class Judged(msgspec.Struct):
    """One limit, held in a share of the samples: with its interval at 95 %, what was found, and what decides.

    ``says`` names it, ``allowed`` is the limit and ``unit`` its unit; ``floor``: the value must not fall below it.
    ``nominal`` is the value with everything as it should be, ``found`` the summary of the samples, ``parts`` the
    tolerances by the share of the variance that each brings about, ``values`` the samples themselves.
    """

    says: str
    allowed: float
    unit: str
    floor: bool
    nominal: float
    held: Any
    found: Any
    parts: list[Any]
    note: str | None
    values: Any


class Study(msgspec.Struct):
    """What a study found: how many samples of which law and seed, every limit, the whole, and what was left out."""

    samples: int
    seed: int
    law: Law
    limits: list[Judged]
    whole: Any
    left_out: list[str]
    assumed: list[str]
    faults: int = 0


#: The number under which pieces of harnesses are drawn; those of nets count from 0.
_OF_WEBS = 1_000_003


class _Drawn(msgspec.Struct):
    """One parameter: what it is called, its members counting as one, and its samples."""

    name: str
    values: Any


class _Solved(msgspec.Struct):
    """One net solved for every sample: volts and amps of its branches and amps of its source, by moment."""

    net: Net
    moments: list[float]
    volts: list[Any]
    amps: list[Any]
    watts: list[Any]
    drawn: list[_Drawn]

    def keep(self, volts: Any, amps: Any, source: Any) -> None:
        """Keep the answer of one moment."""
        self.volts.append(volts)
        self.amps.append(amps)
        self.watts.append(amps * source)


def study(
    plan: Plan,
    nets: dict[str, Net],
    samples: int,
    seed: int,
    law: Law,
    told: Callable[[float], object] = lambda share: None,
) -> Study:
    """Return a study of a plan. ``told`` is called with the share of the work that is done."""
    size = max((len(net.branches) for net in nets.values()), default=1)
    samples = max(1000, min(samples, MOST_VALUES // max(1, size)))
    if any(net.group and net.worst.volts and _one_by_one(net.group) for net in nets.values()):
        samples = min(samples, MOST_SINGLE)
    return _Sampler(plan, nets, samples, seed, law, told).run()


def _one_by_one(group: Group) -> bool:
    """Say whether a group must be solved sample by sample: diodes and converters in it are not solved in rows."""
    return bool(group.diodes or group.converters)


class _Sampler:
    def __init__(
        self,
        plan: Plan,
        nets: dict[str, Net],
        samples: int,
        seed: int,
        law: Law,
        told: Callable[[float], object],
    ) -> None:
        self.plan, self.nets, self.samples, self.seed, self.law, self.told = (
            plan,
            nets,
            samples,
            seed,
            law,
            told,
        )
        self.asked: dict[str, list[Any]] = {}
        self._counted: dict[str, Any] = {}
        self.solved: dict[str, _Solved] = {}
        self.left_out: list[str] = []
        self.assumed: list[str] = []
        self.moments = self._moments()
        self._spans = self._by_span()

    def run(self) -> Study:
        todo = list(self.nets.values())
        owners: dict[str, list[Net]] = {}
        for net in todo:
            owners.setdefault(net.thing.id, []).append(net)
        for n, net in enumerate(todo):
            self._solve(net)
            own = owners[net.thing.id]
            if net is own[-1] and net.thing.table != "feed":
                self._ask(net.thing, own)
            self.told((n + 1) / (len(todo) + 1))
        limits, passed = self._judge()
        self.told(1.0)
        return Study(
            self.samples,
            self.seed,
            self.law,
            limits,
            self._yield(passed),
            self.left_out,
            sorted(set(self.assumed)),
            len(self.plan.faults),
        )

    # --- drawing ------------------------------------------------------------------------------------------------------

    def _moments(self) -> list[float]:
        """Return the moments that are sampled: the last, and those of the start with most watts from the feeds."""
        starts = sorted({at for net in self.nets.values() for at in net.starts})
        if len(starts) <= MOST_MOMENTS:
            return starts

        def most(at: float) -> float:
            return sum(value_at(net.worst.total, at) for net in self.nets.values())

        picked = sorted(starts[:-1], key=most, reverse=True)[: MOST_MOMENTS - 1]
        return sorted({*picked, starts[-1]})

    def _by_span(self) -> dict[str, str]:
        """Return for each inlet what the members of its span are called together."""
        groups: dict[Any, list[str]] = {}
        for net in self.nets.values():
            for branch in net.branches:
                inlet = branch.inlet
                groups.setdefault((inlet.thing.path, inlet.id), []).append(inlet.name)
        return {name: listed(list(dict.fromkeys(names))) for names in groups.values() for name in names}

    def _spread(self, nominal: float, low: float, high: float) -> Any:
        from coldcheck.dc.sampling import Spread

        return Spread(nominal, low, high, self.law)

    def _draw_net(self, net: Net, number: int) -> tuple[Any, Any, Any, list[_Drawn]]:
        """Return the samples of volts, of ohms by branch, of the factor of each draw, and all that varies."""
        from coldcheck.dc.sampling import draw

        volts = source_volts(net.root)
        assert volts is not None
        spreads = [self._spread(*volts)]
        for branch in net.branches:
            least, most = branch.ohms.nominal, max(branch.ohms.nominal, branch.ohms.worst)
            spreads.append(self._spread((least + most) / 2, least, most))
        for branch in net.branches:
            spreads.append(self._factor(branch))
        values = draw(spreads, self.samples, [self.seed, number])
        n = len(net.branches)
        names = [f"volts of {net.name}"]
        names += [f"way to {self._spans[b.inlet.name]}" for b in net.branches]
        names += [f"draw of {self._spans[b.inlet.name]}" for b in net.branches]
        drawn = [
            _Drawn(name, row) for name, row, s in zip(names, values, spreads, strict=True) if s.low < s.high
        ]
        return values[0], values[1 : 1 + n], values[1 + n :], drawn

    def _factor(self, branch: Branch) -> Any:
        """Return how a settled draw spreads, as a share of what a lint counts."""
        spec: Any = branch.inlet.spec
        figure = branch.draw.figure
        if figure == "measured" or not branch.draw.value:
            return self._spread(1.0, 1.0, 1.0)
        known = [getattr(spec, name, None) for name in ("idle", "typical", "peak")]
        figures = [draw for draw in known if isinstance(draw, Draw)]
        counted = getattr(spec, figure, None)
        same = [d.value for d in figures if isinstance(counted, Draw) and d.unit == counted.unit]
        if len(same) < 2 or not counted or counted.value <= 0 or counted.unit == "ohm":
            self.assumed.append(f"{self._spans[branch.inlet.name]}: drawn at its {figure} throughout")
            return self._spread(1.0, 1.0, 1.0)
        typical = getattr(spec, "typical", None)
        middle = (
            typical.value if typical is not None and typical.unit == counted.unit else sum(same) / len(same)
        )
        low, high = min(same) / counted.value, max(same) / counted.value
        return self._spread(min(max(middle / counted.value, low), high), low, high)

    # --- solving ------------------------------------------------------------------------------------------------------

    def _solve(self, net: Net) -> None:
        if net.name in self.solved or not net.branches:
            return
        group = net.group
        if not net.worst.volts:
            self.left_out.append(f"{net.name}: it is not solved by a lint either")
        elif group:
            self._solve_group(group)
        else:
            self._solve_tree(net)

    def _solve_tree(self, net: Net) -> None:
        import numpy as np

        from coldcheck.dc.many import radial_many

        volts, ohms, factors, drawn = self._draw_net(net, len(self.solved))
        parent = [branch.parent for branch in net.branches]
        firsts = [i for i, above in enumerate(parent) if above < 0]
        solved = _Solved(net, self.moments, [], [], [], drawn)
        for at in self.moments:
            many = radial_many(volts, parent, ohms, *self._loads(net, at, factors))
            solved.keep(many.volts, np.sum(many.amps[firsts], axis=0), volts)
        self.solved[net.name] = solved

    def _solve_group(self, group: Group) -> None:
        """Solve nets that hang together, both conductors of each run in the circuit."""
        import numpy as np

        from coldcheck.dc.many_network import Loads, Sources, network_many

        drawn = [self._draw_net(net, len(self.solved) + k) for k, net in enumerate(group.nets)]
        wires = self._wires(group, [ohms for _, ohms, _, _ in drawn])
        grounds = [group.ground[net.root.thing.id] for net in group.nets]
        volts = np.array([row for row, *_ in drawn])
        for linked in group.linked:  # as in a lint: see `Group._volts`
            volts[linked] = volts[linked].mean(axis=0)
        sources = Sources(group.plus, grounds, volts, np.zeros(len(group.nets)))
        solved = [
            _Solved(net, self.moments, [], [], [], every[3])
            for net, every in zip(group.nets, drawn, strict=True)
        ]
        places = [
            group.load_at.get((k, i), group.ends[k][i][:2])
            for k, net in enumerate(group.nets)
            for i in range(len(net.branches))
        ]
        for at in self.moments:
            columns = [self._loads(net, at, every[2]) for net, every in zip(group.nets, drawn, strict=True)]
            loads = Loads(
                [p for p, _ in places],
                [m for _, m in places],
                *(np.concatenate(column) for column in zip(*columns, strict=True)),
            )
            if _one_by_one(group):
                nodes, amps = self._each(group, wires, volts, loads)
            else:
                points = network_many(group.count, wires, sources, loads)
                nodes, amps = points.volts, points.source_amps
            for k, one in enumerate(solved):
                rows = [group.volts_of(nodes, k, i) for i in range(len(one.net.branches))]
                one.keep(np.array(rows), amps[k], volts[k])
        self.solved.update((one.net.name, one) for one in solved)

    def _each(self, group: Group, wires: Any, volts: Any, loads: Any) -> tuple[Any, Any]:
        """Solve a group sample by sample: volts of its nodes and amps out of its nets."""
        import numpy as np

        nodes, amps = np.zeros((group.count, self.samples)), np.zeros((len(group.nets), self.samples))
        owners = [(k, i) for k, net in enumerate(group.nets) for i in range(len(net.branches))]
        for sample in range(self.samples):
            point = group.solved_with(
                list(zip(wires.a, wires.b, wires.ohms[:, sample].tolist(), strict=True)),
                volts[:, sample].tolist(),
                [
                    (plus, minus, *values)
                    for plus, minus, *values in zip(
                        loads.plus, loads.minus, *(c[:, sample].tolist() for c in loads[2:]), strict=True
                    )
                ],
                owners,
            )
            nodes[:, sample], amps[:, sample] = point.volts, point.out
        return nodes, amps

    def _wires(self, group: Group, ohms: list[Any]) -> Any:
        """Return the wires of a group with their resistance by sample; what hangs on nothing is tied to its own end."""
        import numpy as np

        from coldcheck.dc.many_network import Wires

        ends = [(a, b) for a, b, *_ in group.wires]
        rows = [
            np.maximum(LEAST, ohms[k][i] if group.nets[k].branches[i].is_return else ohms[k][i] / 2)
            for _, _, i, k, _ in group.wires
        ]
        loose = [
            group.ends[k][i][:2]
            for k, net in enumerate(group.nets)
            for i, branch in enumerate(net.branches)
            if branch.is_return
        ]
        ends += [*group.ties, *loose]
        rows += [np.zeros(self.samples)] * len(group.ties) + [np.ones(self.samples)] * len(loose)
        ends += [(a, b) for a, b, _ in group.web]
        rows += [np.maximum(LEAST, row) for row in self._web_rows(group)]
        return Wires([a for a, _ in ends], [b for _, b in ends], np.array(rows))

    def _web_rows(self, group: Group) -> Any:
        """Return the resistance of each piece of a harness that branches, by sample [ohm]."""
        from coldcheck.dc.sampling import draw

        ranges = [(e.nominal, max(e.nominal, e.worst)) for _, _, e in group.web]
        spreads = [self._spread((least + most) / 2, least, most) for least, most in ranges]
        return draw(spreads, self.samples, [self.seed, _OF_WEBS]) if spreads else ()

    def _loads(self, net: Net, at: float, factors: Any) -> tuple[Any, Any, Any]:
        """Return watts, amps and siemens by branch and sample at one moment."""
        import numpy as np

        nominal = loads_at(net, at, 0)
        loads = [np.repeat(np.array(column)[:, None], self.samples, axis=1) for column in nominal]
        for i, branch in enumerate(net.branches):
            settled = branch.steps is None or at >= branch.steps[-1][0]
            extra = self._extra(branch, at)
            if settled:
                own = {"W": 0, "A": 1}.get(branch.draw.unit, 2)
                value = branch.draw.value
                base = value if own < 2 else (1 / value if value > 0 else 0.0)
                loads[own][i] = base * factors[i]
            else:
                # rounding must not leave a draw below zero
                loads[0][i] = np.maximum(0.0, loads[0][i] - self._nominal_extra(branch, at))
            if not settled or branch.draw.unit == "W":
                loads[0][i] += extra
            else:
                loads[0][i] = extra
        return loads[0], loads[1], loads[2]

    def _nominal_extra(self, branch: Branch, at: float) -> float:
        return value_at(branch.extra[0], at) if branch.extra else 0.0

    def _extra(self, branch: Branch, at: float) -> Any:
        """Return the watts that converters and PoE of the thing at the end of a branch ask, by sample."""
        asked = self.asked.get(branch.inlet.thing.id)
        fixed = self._nominal_extra(branch, at)
        if asked is None:
            return fixed
        watts, counted = asked[self.moments.index(at)], self._counted[branch.inlet.thing.id]
        return watts + max(0.0, fixed - value_at(counted, at))

    def _ask(self, thing: Any, own: list[Net]) -> None:
        """Turn what the converters of a thing give into what they take, sample by sample."""
        import numpy as np

        if any(net.name not in self.solved for net in own if net.branches):
            return
        standing = getattr(thing, "standing", None) or 0.0
        asked = []
        counted: list[tuple[float, float]] = []
        for m, at in enumerate(self.moments):
            watts: Any = np.full(self.samples, standing)
            nominal, together, nominal_together = standing, 0.0, 0.0
            whole = getattr(thing, "efficiency", None)
            for net in own:
                if net.name not in self.solved:
                    continue
                points = getattr(net.root.spec, "efficiency", None)
                volts = (source_volts(net.root) or (0.0,))[0]
                out, given = self.solved[net.name].watts[m], max(0.0, value_at(net.nominal.watts, at))
                if points is None and whole is not None and whole.unit != "A":
                    together, nominal_together = together + out, nominal_together + given
                    continue
                points = points or whole
                watts = watts + _taken(out, points, volts)
                nominal += given / efficiency_at(points, given, volts)
            if nominal_together:
                watts = watts + _taken(together, whole, 0.0)
                nominal += nominal_together / efficiency_at(whole, nominal_together, 0.0)
            asked.append(watts)
            counted.append((at, nominal))
        self.asked[thing.id] = asked
        self._counted[thing.id] = counted

    # --- judging ------------------------------------------------------------------------------------------------------

    def _judge(self) -> tuple[list[Judged], Any]:
        import numpy as np

        passed = np.ones(self.samples, dtype=bool)
        limits = []
        for solved in self.solved.values():
            for says, allowed, unit, floor, nominal, values in self._limits(solved):
                good = values >= allowed * (1 - 1e-9) if floor else values <= allowed * (1 + 1e-9)
                passed &= good
                limits.append(
                    self._judged(says, allowed, unit, floor, nominal, values, int(np.sum(good)), solved)
                )
        limits.sort(key=lambda limit: (limit.held.share, _room(limit)))
        return limits, int(np.sum(passed))

    def _yield(self, passed: int) -> Any:
        from coldcheck.dc.study import yield_of

        return yield_of(passed, self.samples)

    def _judged(
        self,
        says: str,
        allowed: float,
        unit: str,
        floor: bool,
        nominal: float,
        values: Any,
        good: int,
        solved: _Solved,
    ) -> Judged:
        import numpy as np

        from coldcheck.dc.study import ranking, summary

        drawn = self._all_drawn(solved)
        count = min(self.samples, RANKED)
        parts: list[Any] = []
        note = None
        if drawn and count >= len(drawn) + 2:
            inputs = np.array([d.values[:count] for d in drawn])
            ranked = ranking(inputs, values[:count], [d.name for d in drawn])
            parts, note = [part for part in ranked.parts if part.share >= 0.005], ranked.note
        return Judged(
            says, allowed, unit, floor, nominal, self._yield(good), summary(values), parts, note, values
        )

    def _all_drawn(self, solved: _Solved) -> list[_Drawn]:
        """Return what varies in a net, and in the nets of the converters that hang on it."""
        found, todo, seen = [], [solved.net], set()
        while todo:
            net = todo.pop()
            if net.name in seen or net.name not in self.solved:
                continue
            seen.add(net.name)
            found += self.solved[net.name].drawn
            things = {branch.inlet.thing.id for branch in net.branches}
            todo += net.together
            todo += [other for other in self.nets.values() if other.thing.id in things and other is not net]
        return found

    def _limits(self, solved: _Solved) -> Iterator[tuple[str, float, str, bool, float, Any]]:
        """Yield every limit of a net: (what, allowed, unit, whether it is the least, nominal value, samples)."""
        import numpy as np

        net = solved.net
        groups: dict[Any, list[int]] = {}
        for i, branch in enumerate(net.branches):
            if self._judgeable(net, branch, i):
                groups.setdefault((branch.inlet.thing.path, branch.inlet.id), []).append(i)
        last = len(self.moments) - 1
        for members in groups.values():
            window: Any = net.branches[members[0]].inlet.spec.volts
            name = self._spans[net.branches[members[0]].inlet.name]
            up = np.min(solved.volts[last][members], axis=0)
            nominal = min(net.nominal.dips(i)[-1][1] for i in members)
            yield f"volts at {name}, all up", window[0], "V", True, nominal, up
            if last and any(net.worst.course):
                low = np.min([volts[members].min(axis=0) for volts in solved.volts], axis=0)
                if float(low.min()) < float(up.min()) - 1e-6:
                    nominal = min(net.nominal.volts[i] for i in members)
                    yield f"volts at {name}, in the start", window[0], "V", True, nominal, low
        limit = limit_of(net.root, self.plan)
        if limit.amps is not None:
            nominal = net.nominal.total[-1][1]
            yield f"amps of {net.name}, all up", limit.amps, "A", False, nominal, solved.amps[last]
        if limit.peak is not None and last:
            most = np.max(solved.amps, axis=0)
            nominal = max(amps for _, amps in net.nominal.total)
            yield f"amps of {net.name}, in the start", limit.peak.amps, "A", False, nominal, most

    def _judgeable(self, net: Net, branch: Branch, i: int) -> bool:
        window, volts = branch.inlet.spec.volts, source_volts(net.root)
        if window is None or volts is None or not window[0] <= volts[0] <= window[1]:
            return False
        while i >= 0:
            if net.branches[i].ohms.missing:
                self.left_out.append(f"{branch.inlet.name}: {net.branches[i].ohms.missing} is not given")
                return False
            i = net.branches[i].parent
        return True


def _taken(out: Any, points: Any, volts: float) -> Any:
    """Return what a converter takes for what a rail gives, by sample [W]."""
    import numpy as np

    if points is None:
        return out
    x = out / volts if points.unit == "A" and volts > 0 else out
    share = np.interp(x, [p[0] for p in points.points], [p[1] for p in points.points])
    return out / share


def _room(limit: Judged) -> float:
    """Return how far the worst of the samples stays inside a limit, as a share of it; below zero beyond."""
    worst = limit.found.low if limit.floor else limit.found.high
    room: float = worst - limit.allowed if limit.floor else limit.allowed - worst
    return room / (abs(limit.allowed) or 1.0)

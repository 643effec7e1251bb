"""Operating point of any circuit of wires, sources, diodes, loads and converters, both conductors included.

Three methods give the same point: "radial" where all is trees of pairs on stiff sources
(`coldcheck.dc.radial`), "direct" by elimination in plain Python, "sparse" by SciPy. How the point is found and
why it is the upper one: `coldcheck.dc.net_newton`. How a circuit becomes equations: `coldcheck.dc.net_layout`.
"""

from typing import Any

from msgspec import Struct

from coldcheck.dc.circuit import Circuit, Columns, Solution
from coldcheck.dc.net_answer import answer
from coldcheck.dc.net_arrays import Arrays, Lists
from coldcheck.dc.net_columns import ArrayEquations
from coldcheck.dc.net_layout import Layout
from coldcheck.dc.net_lists import ListEquations
from coldcheck.dc.net_newton import LEAST_SHARE, Nose, at_rest, climb, jump
from coldcheck.dc.net_parts import Part, parts
from coldcheck.dc.net_radial import solve_radial

MANY = 8000
"""From so many wires and loads together on, importing SciPy costs less than it saves [-]."""

SOME = 200
"""From so many on, SciPy is quicker where it is imported already [-]."""

NO_VOLTS = 1e-9
"""A load with no more than this while all are off has nothing that feeds it [V]."""


def solve(circuit: Circuit, method: str = "auto") -> Solution:
    """Find the upper operating point of a circuit, reached by turning its loads up from nothing.

    A load whose volts fall below its `stops` is switched off, all such loads at once; then the point is found
    again, until none is below. Loads that were switched off stay off. Where no point exists,
    the loads are turned up to where it ends: those of that part that are below their stop there switch off, or
    else the one whose stop the falling volts come to first. When none with a stop is left, the load whose volts
    fall fastest there in proportion is `collapsed`, and all loads of its part are left out. Of several that
    collapse, the lowest number is named.

    circuit: what is connected to what [-]
    method: "radial", "direct", "sparse", or "auto" for the quickest of them: it depends on the size, and on
        whether the process has imported SciPy already [-]
    Gives: Solution, within 1 µV; nearer to collapse than 1e-9 of the loads, within about 1e-4 of its volts.
        With diodes, or loads that raise each other's volts, a point that is nearer to its end than 1e-5 of the
        loads (1e-3 in a part of `MANY` unknowns) may be taken for none.
    Errors: ValueError for a value that is negative or not finite, a node that is not there, an unknown method,
        "radial" for a circuit that is not; and for sources or outputs in a loop without any resistance, whether
        their volts agree or not: even then their shares are not determined; and for converters that feed their
        own inputs so that no point exists even without loads. ArithmeticError if rounding keeps
        Newton's method from settling with all loads off.
    Valid: direct current; sources and outputs hold their volts at any current, also one pushed into them.
    Source: nodal analysis; see `coldcheck.dc.net_newton` for the method.
    """
    if method not in ("auto", "radial", "direct", "sparse"):
        raise ValueError(f'no method "{method}"; there are "auto", "radial", "direct" and "sparse"')
    columns = Columns(circuit)
    sparse = method == "sparse" or (method == "auto" and _worth_scipy(columns))
    if method == "radial" or (method == "auto" and not sparse):
        found = solve_radial(columns, asked=method == "radial")
        if found is not None:
            return found
    return _Search(columns, sparse).solution()


def _worth_scipy(columns: Columns) -> bool:
    count = len(columns.wire_a) + len(columns.plus)
    if count < SOME:
        return False
    import sys
    from importlib.util import find_spec

    return "scipy.sparse.linalg" in sys.modules or (count >= MANY and find_spec("scipy") is not None)


class _Part(Struct):
    """Loads left out of one part, or of the whole."""

    fallen: list[int]
    collapsed: int | None
    starved: int | None


class _Search:
    """One circuit on its way to an operating point."""

    def __init__(self, columns: Columns, sparse: bool) -> None:
        self.columns = columns
        self.sparse = sparse
        self.layout = Layout(columns, Arrays if sparse else Lists)
        self.system = self.layout.system
        self.off: list[int] = []
        self.fallen: list[int] = []
        self.collapsed: list[int] = []
        self.starved: list[int] = []

    def solution(self) -> Solution:
        """Find the point, and give it by the circuit's own numbers."""
        make = ArrayEquations if self.sparse else ListEquations
        equations: Any = make(self.system)
        rest = at_rest(equations)
        if rest is None:
            raise self._restless()
        self._unfed(equations, rest)
        while True:
            x = jump(equations, rest)
            if x is None:
                x = self._by_parts(rest)
                equations.refresh()
            low = self._below(equations.volts(x))
            if not low:
                break
            for load in low:
                self._switch_off(load)
            equations.refresh()
        flow = equations.currents(x, 1.0)
        return answer(self.layout, x, flow, self)

    def _restless(self) -> Exception:
        """Say which supplies draw more for what they push back than they are fed."""
        for part in parts(self.system):
            if part.converters and at_rest(ListEquations(part.system)) is None:
                names = ", ".join(str(self.layout.live[n]) for n in part.converters)
                return ValueError(
                    f"no operating point even with every load off: converters {names} feed their own inputs"
                )
        return ArithmeticError("no operating point found with every load off")

    def _switch_off(self, load: int) -> None:
        self.off.append(load)
        self._drop(load)

    def _drop(self, load: int) -> None:
        self.system.watts[load] = self.system.amps[load] = self.system.siemens[load] = 0.0

    def _unfed(self, equations: Any, rest: Any) -> None:
        """Leave out the loads that nothing feeds."""
        s = self.system
        loads = Lists.plain(equations.volts(rest)[s.loads : s.inputs])
        if not loads or min(loads) > NO_VOLTS:
            return
        for load, volts in enumerate(loads):
            if volts > NO_VOLTS or not (s.watts[load] or s.amps[load]):
                continue
            if self.columns.stops[load] > 0.0:
                self._switch_off(load)
            else:
                self.fallen.append(load)
                self.collapsed.append(load)
                self._drop(load)
        equations.refresh()

    def _below(self, volts: Any) -> list[int]:
        """Find the loads that still draw below their stop."""
        stops, s = self.columns.stops, self.system
        if not any(stops):
            return []
        gone = {*self.off, *self.fallen}
        loads = Lists.plain(volts[s.loads : s.inputs])
        pairs = enumerate(zip(loads, stops, strict=True))
        return [i for i, (u, stop) in pairs if u < stop and i not in gone]

    def _by_parts(self, rest: Any) -> Any:
        """Find the point of each part that does not touch another; leave out the loads that cannot be."""
        x = rest.copy()
        for part in parts(self.system):
            found = self._one(part, [float(rest[i]) for i in part.unknowns])
            for i, value in zip(part.unknowns, found, strict=False):
                x[i] = value
        return x

    def _one(self, part: Part, start: list[float]) -> Any:
        system = part.system
        equations: Any = ListEquations(system)
        if self.sparse and system.size >= MANY:
            equations = ArrayEquations(system)
        rest = equations.moved(equations.rest(), start, -1.0)
        while True:
            found = jump(equations, rest)
            if found is None:
                found = climb(equations, rest, 1e-3 if system.size >= MANY else LEAST_SHARE)
            if not isinstance(found, Nose):
                return found
            out = self._first_to_stop(part, equations, found)
            if not out:
                self._give_up(part, equations, found)
                return rest
            for n in out:
                system.watts[n] = system.amps[n] = system.siemens[n] = 0.0
                self._switch_off(part.loads[n])
            equations.refresh()

    def _first_to_stop(self, part: Part, equations: Any, nose: Nose) -> list[int]:
        """Find the loads of a failing part that are below their stop, or else come to it first."""
        s = part.system
        stops = [self.columns.stops[i] for i in part.loads]
        volts = equations.volts(nose.x)[s.loads : s.inputs]
        fall = _fall(equations, nose)[s.loads : s.inputs]
        drawing = [n for n in range(len(stops)) if stops[n] and (s.watts[n] or s.amps[n] or s.siemens[n])]
        below = [n for n in drawing if volts[n] < stops[n]]
        if below or not drawing:
            return below
        times = [((volts[n] - stops[n]) / fall[n], n) for n in drawing if fall[n] > 0.0]
        return [min(times)[1]] if times else []

    def _give_up(self, part: Part, equations: Any, nose: Nose) -> None:
        """Leave out the loads of a part, and name the one whose volts fall fastest in proportion."""
        s = part.system
        volts, fall = equations.volts(nose.x), _fall(equations, nose)
        asking = [n for n in range(len(part.loads)) if s.watts[n] or s.amps[n]]
        places = [(s.loads + n, part.loads[n]) for n in asking]
        rates = [(fall[at] / volts[at], -load) for at, load in places if volts[at] > 0.0]
        inputs = range(s.inputs, s.inputs + s.converters)
        thirst = [(fall[at] / volts[at], at - s.inputs) for at in inputs if volts[at] > 0.0]
        if thirst and (not rates or max(thirst)[0] > max(rates)[0]):
            self.starved.append(self.layout.live[part.converters[max(thirst)[1]]])
        if rates:
            self.collapsed.append(-max(rates)[1])
        drawing = [n for n in range(len(part.loads)) if s.watts[n] or s.amps[n] or s.siemens[n]]
        for load in (part.loads[n] for n in drawing):
            self.fallen.append(load)
            self._drop(load)
        for n in part.converters:
            self.system.standing[n] = 0.0


def _fall(equations: Any, nose: Nose) -> list[float]:
    """Give how fast the volts of every element fall as the loads rise."""
    zero = equations.rest()
    before = equations.volts(zero)
    after = equations.volts(equations.moved(zero, nose.fall, 1.0))
    return [float(b - a) for a, b in zip(after, before, strict=True)]

"""The equations of a system as plain lists: currents, what is left over, and the matrix of their slopes."""

from msgspec import structs

from coldcheck.dc.elimination import Factors, Rows, least_degree
from coldcheck.dc.net_layout import KNEE, System

Vector = list[float]


class ListEquations:
    """A `System` whose columns are lists."""

    def __init__(self, system: System) -> None:
        """Take a system; its loads may be changed between two solutions."""
        self.system = system
        self.groups = system.size - system.converters
        self._order: list[int] | None = None
        self._ends = list(zip(system.first, system.second, strict=True))
        rows = list(zip(system.first, system.second, system.fixed, system.linear, strict=True))
        self._runs, self._taps = rows[: system.loads], rows[system.loads : system.inputs]
        self._bends = bool(system.converters or system.diode_siemens)

    def rest(self) -> Vector:
        """Give the unknowns all 0: what they are with no load, wherever the constants say it all."""
        return [0.0] * (self.system.size + 1)

    def volts(self, x: Vector) -> Vector:
        """Give the volts of every element."""
        return [u + x[a] - x[b] for u, (a, b) in zip(self.system.fixed, self._ends, strict=True)]

    def currents(self, x: Vector, share: float) -> Vector:
        """Give the current of every element."""
        s = self.system
        volts = self.volts(x)
        flow = [g * u for g, u in zip(s.linear, volts, strict=True)]
        for i, g in enumerate(s.diode_siemens, s.diodes):
            flow[i] += g * max(0.0, volts[i])
        if share:
            i = s.loads
            for p, c, g in zip(s.watts, s.amps, s.siemens, strict=True):
                u = volts[i]
                flow[i] += share * ((p / u if p else 0.0) + c + g * u)
                i += 1
        for n, (gain, standing) in enumerate(zip(s.gain, s.standing, strict=True)):
            watts = share * standing + gain * max(0.0, x[self.groups + n])
            if watts > 0.0:
                flow[s.inputs + n] += watts / volts[s.inputs + n]
        return flow

    def left(self, x: Vector, share: float) -> Vector:
        """Give what is left over of each equation."""
        s = self.system
        if not self._bends:
            return self._left_straight(x, share)
        flow = self.currents(x, share)
        total = [0.0] * (s.size + 1)
        for (a, b), i in zip(self._ends, flow, strict=True):
            total[a] += i
            total[b] -= i
        for n in range(self.groups, s.size):
            total[n] = x[n]
        for element, row, sign in s.cuts:
            total[row] -= sign * flow[element]
        del total[-1]
        return total

    def _left_straight(self, x: Vector, share: float) -> Vector:
        """Do the same without diodes and converters, in one pass."""
        s = self.system
        total = [0.0] * (s.size + 1)
        for a, b, u, g in self._runs:
            i = g * (u + x[a] - x[b])
            total[a] += i
            total[b] -= i
        for (a, b, u, leak), p, c, g in zip(self._taps, s.watts, s.amps, s.siemens, strict=True):
            v = u + x[a] - x[b]
            i = leak * v + (share * ((p / v if p else 0.0) + c + g * v) if share else 0.0)
            total[a] += i
            total[b] -= i
        del total[-1]
        return total

    def pull(self, x: Vector) -> Vector:
        """Give what all loads together add to what is left over."""
        return [a - b for a, b in zip(self.left(x, 1.0), self.left(x, 0.0), strict=True)]

    def factor(self, x: Vector, share: float, knee: float = KNEE) -> Factors:
        """Take the matrix of slopes apart; what is less than `knee` below its bend has the slope above it."""
        s = self.system
        volts = self.volts(x)
        slopes = list(s.linear)
        for i, g in enumerate(s.diode_siemens, s.diodes):
            if volts[i] > -knee:
                slopes[i] += g
        if share:
            i = s.loads
            for p, g in zip(s.watts, s.siemens, strict=True):
                if p:
                    u = volts[i]
                    slopes[i] -= share * p / (u * u)
                if g:
                    slopes[i] += share * g
                i += 1
        rows = self._rows(slopes)
        if s.converters:
            self._couple(rows, volts, slopes, x, share)
        if self._order is None:
            self._order = least_degree(rows)
        return Factors(rows, self._order)

    def _rows(self, slopes: Vector) -> Rows:
        size = self.system.size
        rows: Rows = [{i: 0.0} for i in range(size)]
        for (a, b), g in zip(self._ends, slopes, strict=True):
            if a < size:
                row = rows[a]
                row[a] += g
                if b < size:
                    row[b] = row.get(b, 0.0) - g
                    row = rows[b]
                    row[b] += g
                    row[a] = row.get(a, 0.0) - g
            elif b < size:
                rows[b][b] += g
        return rows

    def _couple(self, rows: Rows, volts: Vector, slopes: Vector, x: Vector, share: float) -> None:
        """Add the slopes of the inputs, and the rows and columns of the converters' out amps."""
        s, size = self.system, self.system.size
        by_out: dict[int, tuple[int, float]] = {}
        for n in range(s.converters):
            column, element = self.groups + n, s.inputs + n
            out, u = x[column], volts[element]
            watts = share * s.standing[n] + s.gain[n] * max(0.0, out)
            steep = s.gain[n] / u if out > -KNEE and u > 0.0 else 0.0
            by_out[element] = (column, steep)
            rows[column][column] += 1.0
            a, b = self._ends[element]
            if watts > 0.0:
                slopes[element] -= watts / (u * u)
            for end, sign in ((a, 1.0), (b, -1.0)):
                if end < size:
                    _add(rows, end, column, sign * steep)
                    for to, back in ((a, sign), (b, -sign)):
                        if to < size and watts > 0.0:
                            _add(rows, end, to, -back * watts / (u * u))
        for element, row, sign in s.cuts:
            a, b = self._ends[element]
            if a < size:
                _add(rows, row, a, -sign * slopes[element])
            if b < size:
                _add(rows, row, b, sign * slopes[element])
            if element in by_out:
                column, steep = by_out[element]
                _add(rows, row, column, -sign * steep)

    def moved(self, x: Vector, step: Vector, length: float) -> Vector:
        """Give x less a step of some length."""
        new = [a - length * b for a, b in zip(x, step, strict=False)]
        new.append(0.0)
        return new

    def along(self, step: Vector, left: Vector) -> float:
        """Give the product of a step and what is left over."""
        return sum([a * b for a, b in zip(step, left, strict=False)])

    def size(self, step: Vector) -> float:
        """Give the greatest change of any volts in a step, or the most that is left over at any node."""
        volts = step[: self.groups]
        return max(*volts, -min(volts)) if volts else 0.0

    def alive(self, x: Vector, share: float) -> bool:
        """Tell whether every load that draws has volts above zero."""
        return all(u > 0.0 for u in self.drawing(x, share))

    def drawing(self, x: Vector, share: float) -> Vector:
        """Give the volts of each load and input that draws power or a current."""
        s = self.system
        found = []
        if share:
            ends = self._ends[s.loads : s.inputs]
            found = [
                u + x[a] - x[b]
                for u, (a, b), p, c in zip(s.fixed[s.loads : s.inputs], ends, s.watts, s.amps, strict=True)
                if p or c
            ]
        for n in range(s.converters):
            if share * s.standing[n] + s.gain[n] * max(0.0, x[self.groups + n]) > 0.0:
                a, b = self._ends[s.inputs + n]
                found.append(s.fixed[s.inputs + n] + x[a] - x[b])
        return found

    def sides(self, x: Vector) -> bytes:
        """Tell which diodes conduct and which converters give: on which side of each bend the point is."""
        s = self.system
        if not self._bends:
            return b""
        volts = self.volts(x)
        on = [u > -KNEE for u in volts[s.diodes : s.loads]]
        return bytes(on + [out > -KNEE for out in x[self.groups : s.size]])

    def refresh(self) -> None:
        """Take the loads again, after some were changed in the system: here there is nothing to do."""

    def held(self, x: Vector) -> Vector:
        """Give the volts of each load that asks for power or a current, and of each input."""
        s = self.system
        volts = self.volts(x)
        loads = [u for u, p, c in zip(volts[s.loads :], s.watts, s.amps, strict=False) if p or c]
        return loads + volts[s.inputs :]

    def lowest(self, x: Vector, before: Vector) -> float:
        """Give the least share of the volts before that any load or input has kept."""
        shares = [u / v for u, v in zip(self.held(x), self.held(before), strict=True) if v > 0.0]
        return min(shares, default=1.0)

    def with_gain(self, share: float) -> "ListEquations":
        """Give the same equations, with converters taking in only a share of what they would for what they give."""
        return ListEquations(structs.replace(self.system, gain=[share * gain for gain in self.system.gain]))

    def still(self, x: Vector) -> bool:
        """Tell whether nothing at all flows at no load."""
        return not any(self.left(x, 0.0))


def _add(rows: Rows, i: int, j: int, value: float) -> None:
    rows[i][j] = rows[i].get(j, 0.0) + value
    rows[j].setdefault(i, 0.0)

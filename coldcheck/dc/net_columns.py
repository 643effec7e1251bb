"""The equations of a system as arrays of numpy, and the matrix of their slopes for SciPy: no loop over loads."""

from typing import Any

from msgspec import structs

from coldcheck.dc.net_layout import KNEE, System


class ArrayFactors:
    """A matrix taken apart by SciPy's SuperLU, along the diagonal."""

    def __init__(self, matrix: Any) -> None:
        """Factorise; a matrix that cannot be is not positive."""
        from scipy.sparse.linalg import splu

        self._found: bool | None = None
        try:
            self._lu = splu(
                matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
            )
        except RuntimeError:  # SuperLU's word for a pivot of exactly 0
            self._found = False

    @property
    def positive(self) -> bool:
        """Whether every pivot was on the diagonal and above zero."""
        if self._found is None:
            lu = self._lu
            self._found = bool((lu.perm_r == lu.perm_c).all() and (lu.U.diagonal() > 0.0).all())
        return self._found

    def solve(self, right: Any) -> Any:
        """Solve for one right-hand side."""
        return self._lu.solve(right)


class ArrayEquations:
    """A `System` whose columns are arrays, or are made so."""

    def __init__(self, system: System) -> None:
        """Take a system; its loads may be changed between two solutions."""
        import numpy as np

        self.system = s = system
        self.unknowns = s.size
        self.groups = s.size - s.converters
        self.first = np.asarray(s.first, np.intp)
        self.second = np.asarray(s.second, np.intp)
        self.fixed = np.asarray(s.fixed, float)
        self.linear = np.asarray(s.linear, float)
        self.diode_siemens = np.asarray(s.diode_siemens, float)
        self.gain = np.asarray(s.gain, float)
        self.outs = np.arange(self.groups, s.size)
        cuts = s.cuts
        self.cut_element = np.asarray([c[0] for c in cuts], np.intp)
        self.cut_row = np.asarray([c[1] for c in cuts], np.intp)
        self.cut_sign = np.asarray([c[2] for c in cuts], float)
        self.part_diodes = slice(s.diodes, s.loads)
        self.part_loads = slice(s.loads, s.inputs)
        self.part_inputs = slice(s.inputs, None)
        self.refresh()

    def refresh(self) -> None:
        """Take the loads again, after some were changed in the system."""
        import numpy as np

        s = self.system
        self.watts = np.asarray(s.watts, float)
        self.amps = np.asarray(s.amps, float)
        self.siemens = np.asarray(s.siemens, float)
        self.standing = np.asarray(s.standing, float)
        self.asking = (self.watts > 0.0) | (self.amps > 0.0)
        self.powered = self.watts > 0.0
        self.all_powered = bool(self.powered.all())

    def rest(self) -> Any:
        """Give the unknowns all 0: what they are with no load, wherever the constants say it all."""
        import numpy as np

        return np.zeros(self.unknowns + 1)

    def volts(self, x: Any) -> Any:
        """Give the volts of every element."""
        return self.fixed + (x[self.first] - x[self.second])

    def _over(self, above: Any, below: Any, where: Any) -> Any:
        """Divide where something is to be divided; 0 elsewhere."""
        import numpy as np

        return np.divide(above, below, out=np.zeros(len(below)), where=where)

    def currents(self, x: Any, share: float) -> Any:
        """Give the current of every element."""
        import numpy as np

        volts = self.volts(x)
        flow = self.linear * volts
        if len(self.diode_siemens):
            flow[self.part_diodes] += self.diode_siemens * np.maximum(0.0, volts[self.part_diodes])
        if share:
            u = volts[self.part_loads]
            flow[self.part_loads] += share * (
                self._over(self.watts, u, self.powered) + self.amps + self.siemens * u
            )
        if len(self.gain):
            watts = self._input_watts(x, share)
            flow[self.part_inputs] += self._over(watts, volts[self.part_inputs], watts > 0.0)
        return flow

    def _input_watts(self, x: Any, share: float) -> Any:
        import numpy as np

        return share * self.standing + self.gain * np.maximum(0.0, x[self.outs])

    def left(self, x: Any, share: float) -> Any:
        """Give what is left over of each equation."""
        import numpy as np

        flow = self.currents(x, share)
        count = self.unknowns + 1
        total = np.bincount(self.first, flow, count) - np.bincount(self.second, flow, count)
        if len(self.gain):
            total[self.outs] = x[self.outs]
            total -= np.bincount(self.cut_row, self.cut_sign * flow[self.cut_element], count)
        return total[:-1]

    def pull(self, x: Any) -> Any:
        """Give what all loads together add to what is left over."""
        return self.left(x, 1.0) - self.left(x, 0.0)

    def factor(self, x: Any, share: float, knee: float = KNEE) -> ArrayFactors:
        """Take the matrix of slopes apart; what is less than `knee` below its bend has the slope above it."""
        return ArrayFactors(self.matrix(x, share, knee))

    def matrix(self, x: Any, share: float, knee: float = KNEE) -> Any:
        """Give the matrix of slopes."""
        import numpy as np
        from scipy.sparse import coo_array

        volts = self.volts(x)
        slopes = self.linear.copy()
        if len(self.diode_siemens):
            slopes[self.part_diodes] += self.diode_siemens * (volts[self.part_diodes] > -knee)
        if share:
            u = volts[self.part_loads]
            slopes[self.part_loads] += share * (self.siemens - self._over(self.watts, u * u, self.powered))
        first, second, size = self.first, self.second, self.unknowns
        both = np.flatnonzero((first < size) & (second < size))
        near, far, cross = first[both], second[both], -slopes[both]
        diagonal = (np.bincount(first, slopes, size + 1) + np.bincount(second, slopes, size + 1))[:size]
        own = np.arange(size)
        rows, columns, values = [own, near, far], [own, far, near], [diagonal, cross, cross]
        if len(self.gain):
            self._couple((rows, columns, values), volts, slopes, x, share)
        row, column = np.concatenate(rows), np.concatenate(columns)
        keys = (np.concatenate(values), (row.astype(np.int32), column.astype(np.int32)))
        return coo_array(keys, shape=(size, size)).tocsc()

    def _couple(self, entries: Any, volts: Any, slopes: Any, x: Any, share: float) -> None:
        """Add the slopes of the inputs, and the rows and columns of the converters' out amps."""
        import numpy as np

        rows, columns, values = entries
        size = self.unknowns

        def put(row: Any, column: Any, value: Any) -> None:
            kept = (row < size) & (column < size)
            rows.append(row[kept])
            columns.append(column[kept])
            values.append(value[kept])

        u = volts[self.part_inputs]
        watts = self._input_watts(x, share)
        fed = watts > 0.0
        steep = self._over(self.gain, u, (u > 0.0) & (x[self.outs] > -KNEE))
        slope = -self._over(watts, u * u, fed)
        first, second = self.first[self.part_inputs], self.second[self.part_inputs]
        slopes[self.part_inputs] += slope
        put(self.outs, self.outs, np.ones(len(u)))
        for end, sign in ((first, 1.0), (second, -1.0)):
            put(end, self.outs, sign * steep)
            put(end, first, sign * slope)
            put(end, second, -sign * slope)
            put(self.outs, end, 0.0 * steep)
        at, row, signs = self.cut_element, self.cut_row, self.cut_sign
        for column, by in ((self.first[at], -1.0), (self.second[at], 1.0)):
            put(row, column, by * signs * slopes[at])
        inputs = at >= self.system.inputs
        n = at[inputs] - self.system.inputs
        put(row[inputs], self.outs[n], -signs[inputs] * steep[n])

    def moved(self, x: Any, step: Any, length: float) -> Any:
        """Give x less a step of some length."""
        import numpy as np

        new = x.copy()
        new[: self.unknowns] -= length * np.asarray(step)[: self.unknowns]
        return new

    def along(self, step: Any, left: Any) -> float:
        """Give the product of a step and what is left over."""
        return float(step @ left)

    def size(self, step: Any) -> float:
        """Give the greatest change of any volts in a step, or the most that is left over at any node."""
        volts = step[: self.groups]
        return float(max(volts.max(), -volts.min())) if len(volts) else 0.0

    def alive(self, x: Any, share: float) -> bool:
        """Tell whether every load that draws has volts above zero."""
        volts = self.volts(x)
        if share and not (volts[self.part_loads][self.asking] > 0.0).all():
            return False
        return not len(self.gain) or bool(
            (volts[self.part_inputs][self._input_watts(x, share) > 0.0] > 0.0).all()
        )

    def held(self, x: Any) -> Any:
        """Give the volts of each load that asks for power or a current, and of each input."""
        import numpy as np

        volts = self.volts(x)
        return np.concatenate([volts[self.part_loads][self.asking], volts[self.part_inputs]])

    def lowest(self, x: Any, before: Any) -> float:
        """Give the least share of the volts before that any load or input has kept."""
        now, then = self.held(x), self.held(before)
        fed = then > 0.0
        return float((now[fed] / then[fed]).min(initial=1.0))

    def sides(self, x: Any) -> bytes:
        """Tell which diodes conduct and which converters give: on which side of each bend the point is."""
        if not (len(self.diode_siemens) or len(self.gain)):
            return b""
        on = self.volts(x)[self.part_diodes] > -KNEE
        return bytes(on.tobytes() + (x[self.outs] > -KNEE).tobytes())

    def with_gain(self, share: float) -> "ArrayEquations":
        """Give the same equations, with converters taking in only a share of what they would for what they give."""
        return ArrayEquations(structs.replace(self.system, gain=[share * gain for gain in self.system.gain]))

    def still(self, x: Any) -> bool:
        """Tell whether nothing at all flows at no load."""
        return not self.left(x, 0.0).any()

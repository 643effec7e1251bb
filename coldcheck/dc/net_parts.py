"""Parts of a system that do not touch: one that collapses leaves the others as they are."""

from typing import Any

from msgspec import Struct

from coldcheck.dc.net_arrays import Lists
from coldcheck.dc.net_layout import System


class Part(Struct):
    """One part as a system of its own.

    system: with lists as columns
    unknowns: of the whole, for each of its own
    loads: numbers of its loads
    converters: places of its converters among the live ones
    """

    system: System
    unknowns: list[int]
    loads: list[int]
    converters: list[int]


def parts(system: System) -> list[Part]:
    """Take a system apart; what hangs on known volts at both ends is in no part."""
    s = _listed(system)
    size, groups = s.size, s.size - s.converters
    links = [(a, b) for a, b in zip(s.first, s.second, strict=True) if a < size and b < size]
    home = [min(a, b) for a, b in zip(s.first, s.second, strict=True)]
    for n in range(s.converters):
        links += [(groups + n, end) for end in (s.first[s.inputs + n], s.second[s.inputs + n]) if end < size]
        home[s.inputs + n] = groups + n
    for element, row, _ in s.cuts:
        links += [(row, end) for end in (s.first[element], s.second[element]) if end < size]
        if home[element] == size:
            home[element] = row
        else:
            links.append((row, home[element]))
    label, count = Lists.components(size, [a for a, _ in links], [b for _, b in links])
    unknowns: list[list[int]] = [[] for _ in range(count)]
    own = [0] * size
    for i, at in enumerate(label):
        own[i] = len(unknowns[at])
        unknowns[at].append(i)
    elements: list[list[int]] = [[] for _ in range(count)]
    for element, i in enumerate(home):
        if i < size:
            elements[label[i]].append(element)
    cuts: list[list[tuple[int, int, float]]] = [[] for _ in range(count)]
    for cut in s.cuts:
        cuts[label[cut[1]]].append(cut)
    return [_part(s, own, *each) for each in zip(unknowns, elements, cuts, strict=True)]


def _listed(s: System) -> System:
    names = (
        "first", "second", "fixed", "linear", "diode_siemens", "watts", "amps", "siemens",
    )  # fmt: skip
    columns: dict[str, Any] = {name: getattr(s, name) for name in s.__struct_fields__}
    return System(**columns | {name: _plain(columns[name]) for name in names})


def _part(
    s: System, own: list[int], unknowns: list[int], elements: list[int], cuts: list[tuple[int, int, float]]
) -> Part:
    size = len(unknowns)
    diodes = [i - s.diodes for i in elements if s.diodes <= i < s.loads]
    loads = [i - s.loads for i in elements if s.loads <= i < s.inputs]
    inputs = [i - s.inputs for i in elements if s.inputs <= i]
    place = {element: n for n, element in enumerate(elements)}
    first_input = len(elements) - len(inputs)

    def local(unknown: int) -> int:
        return own[unknown] if unknown < s.size else size

    return Part(
        system=System(
            size=size,
            converters=len(inputs),
            first=[local(s.first[i]) for i in elements],
            second=[local(s.second[i]) for i in elements],
            fixed=[s.fixed[i] for i in elements],
            linear=[s.linear[i] for i in elements],
            diodes=first_input - len(loads) - len(diodes),
            diode_siemens=[s.diode_siemens[i] for i in diodes],
            loads=first_input - len(loads),
            watts=[s.watts[i] for i in loads],
            amps=[s.amps[i] for i in loads],
            siemens=[s.siemens[i] for i in loads],
            inputs=first_input,
            gain=[s.gain[i] for i in inputs],
            standing=[s.standing[i] for i in inputs],
            cuts=[(place[element], own[row], sign) for element, row, sign in cuts],
        ),
        unknowns=unknowns,
        loads=loads,
        converters=inputs,
    )


def _plain(column: Any) -> list[Any]:
    return column if isinstance(column, list) else column.tolist()

"""The kinds of value that a key of a plan may hold: each reads what is written and says what it expected.

A kind knows three things: how to read a value (`Kind.read`), whether a span in it is dealt out over the things of its
table (`Kind.deals`) or a list means several values of one thing (`Kind.several`), and its JSON Schema.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import msgspec

from . import quantities as q
from .quantities import Dimension, Wrong, read_quantity, read_range, unit_meant, unit_missing

__all__ = [
    "Amount",
    "Bought",
    "Cable",
    "Choice",
    "Count",
    "Curve",
    "Date",
    "Draw",
    "Drawn",
    "Flag",
    "Fuse",
    "Id",
    "Inner",
    "Kind",
    "Numbers",
    "Pins",
    "Points",
    "Position",
    "Price",
    "Quantity",
    "Range",
    "Rate",
    "Ref",
    "Run",
    "Several",
    "Stretch",
    "Surge",
    "Text",
    "read_cable",
    "read_draw",
    "read_fuse",
    "read_price",
    "read_rate",
    "read_run",
    "read_surge",
]  # fmt: skip


#: An editor reads a plan anew after every stroke: what is remembered must not grow for ever.
_MOST_REMEMBERED = 65_536


class Kind:
    """A kind of value. Texts are remembered with what they mean: plans repeat themselves."""

    #: A span in the text stands for one value for each thing of the table.
    deals = True
    #: A list holds several values of one thing.
    several = False

    #: A text may list several, parted by commas, one for each thing: names and addresses, in which no comma stands.
    lists = False

    def __init__(
        self,
        expected: str,
        reader: Callable[[str], Any] | None = None,
        example: str = "",
        lists: bool = False,
    ) -> None:
        self.expected = expected
        self.example = example
        self.lists = lists
        self.memo: dict[str, Any] = {}
        self._reader = reader

    def read(self, raw: Any) -> Any:
        """Return the value written; raises `Wrong`."""
        if type(raw) is not str:
            raise Wrong(self.expected, self._not_text(raw))
        value = self.memo.get(raw)
        if value is None:
            value = self.from_text(raw)
            if len(self.memo) >= _MOST_REMEMBERED:
                self.memo.clear()
            self.memo[raw] = value
        return value

    def from_text(self, text: str) -> Any:
        """Return the value of a text; raises `Wrong`."""
        assert self._reader is not None
        return self._reader(text)

    def _not_text(self, raw: Any) -> str:
        if isinstance(raw, list):
            return "write one value, without brackets"
        if isinstance(raw, dict):
            return "a table does not fit here"
        return "write it in quotes" + (f', like "{self.example}"' if self.example else f': "{raw}"')

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema of one value."""
        shape: dict[str, Any] = {"type": "string", "description": self.expected}
        if self.example:
            shape["examples"] = [self.example]
        return shape


class Text(Kind):
    """Free text on one line or several."""

    def __init__(self, expected: str = "text in quotes") -> None:
        super().__init__(expected)

    deals = False

    def read(self, raw: Any) -> str:
        """Return the text as it stands."""
        if type(raw) is not str:
            raise Wrong(self.expected, self._not_text(raw))
        return raw


_ID = 'a short name without blanks or dots, like "n1"'


class Id(Kind):
    """The name of a thing or of one of its points: no dots, no blanks."""

    _FORM = re.compile(r"[^\s.\"'<>&|]{1,63}")

    def __init__(self, *, dots: bool = False) -> None:
        super().__init__('a short name without blanks, like "usb-2.0"' if dots else _ID, lists=True)
        self.dots = dots

    def read(self, raw: Any) -> str:
        """Return the name."""
        if type(raw) is not str:
            raise Wrong(self.expected, self._not_text(raw))
        if self._FORM.fullmatch(raw.replace(".", "") if self.dots else raw) is None:
            dotted = "." in raw and not self.dots
            hint = "a dot parts a thing from its point, so an id holds none" if dotted else ""
            raise Wrong(self.expected, hint)
        return raw


class Ref(Kind):
    """A reference: ``thing``, ``thing.point`` or ``thing.point.pin``."""

    _FORM = re.compile(r"[^\s\"'<>&|]+")

    def __init__(self, expected: str = 'a thing or one of its points, like "sw.1"') -> None:
        super().__init__(expected, self._reference, lists=True)

    def _reference(self, text: str) -> str:
        if self._FORM.fullmatch(text) is None:
            raise Wrong(self.expected)
        return text


class Stretch(Kind):
    """A range of addresses kept whole: ``first .. last``; read as a pair of texts."""

    deals = False

    def __init__(self) -> None:
        super().__init__('a range of addresses, like "10.20.0.100 .. 10.20.0.199"', self._pair)

    def _pair(self, text: str) -> tuple[str, str]:
        first, mark, last = text.partition(" .. ")
        return (first.strip(), last.strip()) if mark else (text.strip(), text.strip())


class Quantity(Kind):
    """A number with its unit, read as a float in the unit of its dimension."""

    def __init__(self, dimension: Dimension) -> None:
        super().__init__(f"{dimension.name}", lambda text: read_quantity(dimension, text), dimension.example)
        self.expected = f'{dimension.name}, written like "{dimension.example}"'
        self.dimension = dimension

    def _not_text(self, raw: Any) -> str:
        if type(raw) in (int, float):
            return unit_missing(self.dimension, str(raw))
        return super()._not_text(raw)


class Range(Quantity):
    """Two quantities of one dimension, low and high; kept whole. One quantity alone is both ends."""

    deals = False

    def __init__(self, dimension: Dimension, example: str) -> None:
        super().__init__(dimension)
        self._reader = lambda text: read_range(dimension, text)
        self.expected = f'a range of {dimension.name}, written like "{example}"'
        self.example = example


class Choice(Kind):
    """One of a few words."""

    deals = False

    def __init__(self, *words: str) -> None:
        self.words = words
        super().__init__("one of " + ", ".join(f'"{word}"' for word in words), self._word)

    def _word(self, text: str) -> str:
        if text not in self.words:
            from .problems import nearest

            near = nearest(text, self.words)
            raise Wrong(self.expected, self._numbered(text) or (f'did you mean "{near}"?' if near else ""))
        return text

    def _not_text(self, raw: Any) -> str:
        return (self._numbered(str(raw)) if type(raw) is int else "") or super()._not_text(raw)

    def _numbered(self, number: str) -> str:
        """Return a hint for the number of a word alone, as 3 of "class 3"; "" where no word ends in it."""
        meant = next((word for word in self.words if word.endswith(f" {number}")), None)
        return f'write "{meant}"' if meant else ""

    def schema(self) -> dict[str, Any]:
        """Return the words as an enumeration."""
        return {"enum": list(self.words), "description": self.expected}


class Flag(Kind):
    """Yes or no: TOML's ``true`` and ``false``."""

    def __init__(self) -> None:
        super().__init__("true or false, without quotes")

    def read(self, raw: Any) -> bool:
        """Return the flag."""
        if type(raw) is not bool:
            raise Wrong(self.expected)
        return raw

    def schema(self) -> dict[str, Any]:
        """Return the boolean type."""
        return {"type": "boolean", "description": self.expected}


class Count(Kind):
    """A whole number without a unit; ``noun`` and ``meant``, the bounds that are of use, say what it counts."""

    def __init__(
        self,
        low: int,
        high: int,
        noun: str = "a whole number",
        meant: tuple[int, int] | None = None,
        like: int = 0,
    ) -> None:
        first, last = meant or (low, high)
        super().__init__(f"{noun} from {first} to {last}, without quotes")
        self.low, self.high, self.like = low, high, like or first

    def read(self, raw: Any) -> int:
        """Return the number."""
        if type(raw) is not int or not self.low <= raw <= self.high:
            raise Wrong(self.expected, self._hint(raw))
        return raw

    def _hint(self, raw: Any) -> str:
        if type(raw) not in (str, float):
            return ""
        match = re.fullmatch(r"\s*(\d{1,9})(\.0)?\s*(k?)\s*", str(raw), re.IGNORECASE)
        number = int(match[1]) * (1000 if match[3] else 1) if match else self.like
        return (
            f"write a whole number without quotes: {number if self.low <= number <= self.high else self.like}"
        )

    def schema(self) -> dict[str, Any]:
        """Return the integer type with its bounds."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high, "description": self.expected}


class Amount(msgspec.Struct, frozen=True):
    """How much of a thing that is bought: pieces, or metres of it (``unit`` "m")."""

    value: float
    unit: str = ""


class Bought(Kind):
    """An amount of what is bought: whole pieces without quotes, or a length: ``100`` or ``"10 m"``."""

    def __init__(self) -> None:
        super().__init__('an amount: pieces, like 100, or a length, like "10 m"', example="10 m")

    def read(self, raw: Any) -> Amount:
        """Return the amount."""
        if type(raw) is int and 0 <= raw <= 1_000_000:
            return Amount(float(raw))
        found: Amount = super().read(raw)
        return found

    def from_text(self, text: str) -> Amount:
        """Return a length; raises `Wrong`."""
        try:
            return Amount(read_quantity(_BOUGHT, text), "m")
        except Wrong as wrong:
            number = re.fullmatch(r"\s*(\d{1,6})\s*(pieces?)?\s*", text)
            raise Wrong(
                self.expected, f"write it without quotes: {number[1]}" if number else wrong.hint
            ) from None

    def schema(self) -> dict[str, Any]:
        """Return a whole number or a text."""
        number = {"type": "integer", "minimum": 0, "maximum": 1_000_000}
        return {
            "description": self.expected,
            "anyOf": [number, {"type": "string"}],
            "examples": [100, self.example],
        }


class Price(msgspec.Struct, frozen=True):
    """Money in hundredths, which are exact, and its currency by three letters (ISO 4217)."""

    cents: int
    currency: str

    def __str__(self) -> str:
        return f"{self.cents / 100:.2f} {self.currency}"


def read_price(text: str) -> Price:
    """Read ``"4.20 EUR"``; raises `Wrong`."""
    match = re.fullmatch(r"(\d{1,9})(?:\.(\d{1,2}))? ([A-Z]{3})", text.strip())
    if match is None:
        found = re.search(r"\d{1,9}(?:[.,]\d{1,2})?(?!\d)", text)
        like = found[0].replace(",", ".") if found else "4.20"
        raise Wrong(_PRICE, f'its currency stands behind it by three letters, like "{like} EUR"')
    return Price(100 * int(match[1]) + int((match[2] or "0").ljust(2, "0")), match[3])


class Numbers(Kind):
    """Several whole numbers of one thing: one, a list, and runs of them as text: ``[10, "20 .. 29"]``.

    ``noun`` and ``meant``, the bounds that are of use, say what they are.
    """

    deals = False
    several = True

    def __init__(
        self, low: int, high: int, noun: str = "whole numbers", meant: tuple[int, int] | None = None
    ) -> None:
        first, last = meant or (low, high)
        super().__init__(f'{noun} from {first} to {last}, like 20 or [10, "20 .. 29"]')
        self.low, self.high = low, high

    def read(self, raw: Any) -> tuple[int, ...]:
        """Return every number, in the order they are written."""
        found: list[int] = []
        for item in raw if type(raw) is list and raw else [raw]:
            found += self._run(item) if type(item) is str else [item]
        if not all(type(n) is int and self.low <= n <= self.high for n in found):
            raise Wrong(self.expected)
        return tuple(found)

    def _run(self, text: str) -> range:
        match = re.fullmatch(r"(\d{1,9}) \.\. (\d{1,9})", text.strip())
        if match is None or int(match[1]) >= int(match[2]) or int(match[2]) > self.high:
            raise Wrong(self.expected, self._run_hint(text.strip()))
        return range(int(match[1]), int(match[2]) + 1)

    @staticmethod
    def _run_hint(text: str) -> str:
        if re.fullmatch(r"\d{1,9}(\s*[,; ]\s*\d{1,9})*", text):
            numbers = re.findall(r"\d+", text)
            return f"write [{', '.join(numbers)}]" if len(numbers) > 1 else f"write it without quotes: {text}"
        if not any(char.isdecimal() for char in text):
            return "write each one: [10, 20]"
        return f'"{text[:40]}" is no run that goes up, like "20 .. 29"'

    def schema(self) -> dict[str, Any]:
        """Return a number, a run, or a list of them."""
        number = {"type": "integer", "minimum": self.low, "maximum": self.high}
        one = {"anyOf": [number, {"type": "string", "pattern": r"^\s*\d+ \.\. \d+\s*$"}]}
        return {
            "description": self.expected,
            "anyOf": [*one["anyOf"], {"type": "array", "minItems": 1, "items": one}],
        }


class Date(Kind):
    """A day, as TOML writes it: ``2027-06-30`` without quotes."""

    def __init__(self) -> None:
        super().__init__("a day, written like 2027-06-30 without quotes")

    def read(self, raw: Any) -> datetime.date:
        """Return the day."""
        if type(raw) is not datetime.date:
            raise Wrong(self.expected)
        return raw

    def schema(self) -> dict[str, Any]:
        """Return a text that holds a date: JSON knows no days."""
        return {"type": "string", "format": "date", "description": self.expected}


class Position(Kind):
    """Where a thing stands in the box: three lengths from one corner, ``["0 mm", "120 mm", "40 mm"]``."""

    several = True

    def __init__(self) -> None:
        super().__init__('three lengths from one corner of the box, like ["0 mm", "120 mm", "40 mm"]')

    def read(self, raw: Any) -> tuple[float, ...]:
        """Return (x, y, z) [m]."""
        if not isinstance(raw, list) or len(raw) != 3 or not all(type(x) is str for x in raw):
            raise Wrong(self.expected)
        return tuple(read_quantity(_PLACE, x) for x in raw)

    def schema(self) -> dict[str, Any]:
        """Return a list of three texts."""
        return {
            "type": "array", "minItems": 3, "maxItems": 3, "items": {"type": "string"}, "description": self.expected,
        }  # fmt: skip


_PLACE = msgspec.structs.replace(q.LENGTH, name="a place", low=-1e3, high=1e3, low_open=False)


_LIKE = {
    "signal": 'a table of pins, like {1 = "5v", 2 = "gnd"}',
    "colour": 'a table of colours by pin, like {1 = "red", 2 = "black"}',
    "code": 'a table of colours by what they carry, like {5v = "red", gnd = "black"}',
}


class Pins(Kind):
    """What each pin of a connector carries: ``{1 = "5v", 2 = "gnd"}``; or the colour of each, by pin or by signal."""

    deals = False

    def __init__(self, what: str = "signal") -> None:
        super().__init__(_LIKE[what])

    def read(self, raw: Any) -> dict[str, str]:
        """Return the signal of each pin."""
        if not isinstance(raw, dict) or not all(type(v) is str and v for v in raw.values()):
            raise Wrong(self.expected)
        return raw

    def schema(self) -> dict[str, Any]:
        """Return a table of texts."""
        signal = {"type": "string", "minLength": 1}
        return {"type": "object", "additionalProperties": signal, "description": self.expected}


_NESTED = (
    "a list within a list deals nothing out; what differs from thing to thing is a span at each place, as in "
)
_NESTED += 'address = ["10.0.0.1 .. 10.0.0.3", "fd00::1 .. fd00::3"]'


class Several(Kind):
    """Several values of one thing: a list, or one value without brackets."""

    several = True

    def __init__(self, kind: Kind) -> None:
        super().__init__(kind.expected)
        self.kind = kind
        self.deals = kind.deals

    def read(self, raw: Any) -> tuple[Any, ...]:
        """Return the values as a tuple."""
        if type(raw) is str:
            return super().read(raw)  # type: ignore[no-any-return]
        if type(raw) is list:
            if not raw:
                raise Wrong(self.expected, "the list is empty: leave the key out instead")
            if any(type(x) is list for x in raw):
                raise Wrong(f"a list of values, each {self.expected}", _NESTED)
            return tuple(self.kind.read(x) for x in raw)
        return (self.kind.read(raw),)

    def from_text(self, text: str) -> tuple[Any, ...]:
        """Return the one value as a tuple."""
        return (self.kind.from_text(text),)

    def schema(self) -> dict[str, Any]:
        """Return one value, or a list of them."""
        one = self.kind.schema()
        return {"anyOf": [one, {"type": "array", "minItems": 1, "items": one}]}


class Inner(Kind):
    """A list of inner tables, ``[[node.inlet]]``; read by the reader of tables, not here."""

    deals = False
    several = True

    def __init__(self, struct: type[msgspec.Struct]) -> None:
        super().__init__("a table of its own, written with two pairs of brackets")
        self.struct = struct


# --- what is more than one number -----------------------------------------------------------------------------------


class Points(msgspec.Struct, frozen=True):
    """A share that depends on something: points (x, share) with x rising, and the unit of x.

    A share that is always the same has one point and no unit.
    """

    points: tuple[tuple[float, float], ...]
    unit: str = ""

    @property
    def least(self) -> float:
        """The least share of all points."""
        return min(share for _, share in self.points)


class Curve(Kind):
    """A share that may depend on something: ``"90 %"``, or ``"84 % at 1 A, 92 % at 10 A"``."""

    deals = False

    def __init__(self, share: Dimension, over: tuple[Dimension, ...], example: str, alone: bool) -> None:
        one = f'"{share.example}" or ' if alone else ""
        super().__init__(f'{share.name}, written like {one}"{example}"', self._points, example)
        self.share, self.over, self.alone = share, over, alone

    def _points(self, text: str) -> Points:
        if self.alone and " at " not in text:
            return Points(((0.0, read_quantity(self.share, text)),))
        found: list[tuple[float, float]] = []
        units = set()
        for piece in text.split(","):
            share, mark, at = piece.partition(" at ")
            unit = unit_meant(at)
            over = next((d for d in self.over if unit in d.units), None)
            if not mark or over is None:
                raise Wrong(self.expected, f'"{piece.strip()}" is not understood')
            found.append((read_quantity(over, at), read_quantity(self.share, share)))
            units.add(over.unit)
        if len(units) > 1:
            raise Wrong(self.expected, "give all points in one unit")
        if any(a >= b for (a, _), (b, _) in pairwise(found)):
            raise Wrong(self.expected, "write the points in rising order")
        return Points(tuple(found), units.pop())


class Draw(msgspec.Struct, frozen=True):
    """What a thing draws, as its figure was given: amps, watts or ohms (``unit`` says which)."""

    value: float
    unit: str


class Rate(msgspec.Struct, frozen=True):
    """A current that is allowed for a time [s]; ``seconds`` is None where no time was given."""

    amps: float
    seconds: float | None


class Surge(msgspec.Struct, frozen=True):
    """What is drawn at a start: steps of (amps or watts, seconds), one after the other."""

    steps: tuple[tuple[float, float], ...]
    unit: str

    @property
    def seconds(self) -> float:
        """How long the surge lasts [s]."""
        return sum(seconds for _, seconds in self.steps)


class Run(msgspec.Struct, frozen=True):
    """A run of wire out and back: what is printed on it, or plain ohms of the whole loop."""

    gauge: float | None = None
    area: float | None = None  # mm2
    length: float | None = None  # m, one way
    parallel: int = 1
    metal: str = "copper"
    form: str = "stranded"
    ohms: float | None = None  # loop
    among: int | None = None  # conductors that carry current in its bundle, itself and its return among them

    @property
    def known(self) -> bool:
        """Whether the resistance follows from what is said."""
        return self.ohms is not None or (self.length is not None and (self.gauge or self.area) is not None)


class Cable(msgspec.Struct, frozen=True):
    """A data cable: category ("6A") and length [m], each where it was given; ``medium`` where it is not twisted pair.

    ``medium`` is a kind of fibre ("OM3", "OS2"), or "direct": copper with a plug for an SFP socket at both ends.
    """

    category: str | None = None
    length: float | None = None
    medium: str | None = None


class Fuse(msgspec.Struct, frozen=True):
    """A fuse: rated amps and, where given, its kind, rated volts of direct current [V], breaking capacity [A]."""

    amps: float
    kind: str | None = None
    volts: float | None = None
    breaking: float | None = None


def read_draw(text: str) -> Draw:
    """Read ``"1.25 A"``, ``"6 W"`` or ``"47 ohm"``; raises `Wrong`."""
    unit = unit_meant(text)
    dimension = next((d for d in (q.AMPS, q.WATTS, q.OHMS) if unit in d.units), q.AMPS)
    try:
        return Draw(read_quantity(dimension, text), dimension.unit)
    except Wrong as wrong:
        hint = wrong.hint.replace("of amps: use A, mA or uA", "of a draw: use A, mA, W or ohm")
        raise Wrong(_DRAW, hint) from None


def read_surge(text: str) -> tuple[float, float, str]:
    """Read one step, ``"2.0 A for 10 s"``: (value, seconds, unit); raises `Wrong`."""
    amount, mark, seconds = text.partition(" for ")
    if not mark:
        raise Wrong(_SURGE, f'say for how long: "{text} for 10 s"')
    draw = read_draw(amount)
    if draw.unit == "ohm":
        raise Wrong(_SURGE)
    return draw.value, read_quantity(q.SECONDS, seconds), draw.unit


def read_rate(text: str) -> Rate:
    """Read ``"30 A for 10 s"`` or ``"30 A"``; raises `Wrong`."""
    amount, mark, seconds = text.partition(" for ")
    amps = read_quantity(q.RATING, amount)
    return Rate(amps, read_quantity(q.SECONDS, seconds) if mark else None)


_METALS = {"copper": "copper", "aluminium": "aluminium", "copper-clad": "copper-clad-aluminium"}
_FORMS = ("solid", "stranded", "flexible")


def read_run(text: str) -> Run:
    """Read a lead, ``"18 AWG, 420 mm"``: gauge or area, one-way length, and what else is known, parted by commas.

    Further words: ``2 x`` (conductors in parallel), ``among 12`` (so many conductors carry current in its bundle),
    ``solid``, ``stranded`` or ``flexible``, a metal, or the ohms of the whole loop instead. Raises `Wrong`.
    """
    found: dict[str, Any] = {}
    for piece in text.split(","):
        key, value = _run_piece(piece.strip())
        if key in found:
            raise Wrong(_RUN, f'"{piece.strip()}" says the same thing again')
        found[key] = value
    if "gauge" in found and "area" in found:
        raise Wrong(_RUN, "give the gauge or the area, not both")
    if not found.keys() & {"gauge", "area", "length", "ohms"}:
        raise Wrong(_RUN)
    return Run(**found)


def _run_piece(piece: str) -> tuple[str, Any]:
    if piece in _METALS:
        return "metal", _METALS[piece]
    if piece in _FORMS:
        return "form", piece
    if match := re.fullmatch(r"([1-9]\d?) ?x", piece):
        return "parallel", int(match[1])
    if match := re.fullmatch(r"among ([1-9]\d{0,2})", piece):
        return "among", int(match[1])
    unit = unit_meant(piece)
    pairs = (("gauge", q.GAUGE), ("area", q.AREA), ("length", q.LENGTH), ("ohms", q.OHMS))
    for key, dimension in pairs:
        if unit in dimension.units:
            try:
                return key, read_quantity(dimension, piece)
            except Wrong as wrong:
                raise Wrong(_RUN, wrong.hint) from None
    hint = 'the unit is missing: a length is written "420 mm"' if re.fullmatch(r"[\d.]+", piece) else ""
    raise Wrong(_RUN, hint or f'"{piece}" is not understood')


def read_cable(text: str) -> Cable:
    """Read ``"cat 6, 2 m"``, ``"OM3, 20 m"`` or ``"direct, 1 m"``: what it is, its length, or one; raises `Wrong`."""
    category: str | None = None
    length: float | None = None
    medium: str | None = None
    known: str | float | None
    for piece in (p.strip() for p in text.split(",")):
        if match := re.fullmatch(r"cat ?(3|5e?|6A?|7A?|8)", piece, re.IGNORECASE):
            known, category = category or medium, match[1].lower().replace("a", "A")
        elif match := re.fullmatch(r"OM[1-5]|OS[12]|direct", piece, re.IGNORECASE):
            known, medium = category or medium, piece.lower() if piece.lower() == "direct" else piece.upper()
        else:
            try:
                known, length = length, read_quantity(q.LENGTH, piece)
            except Wrong as wrong:
                raise Wrong(_CABLE, wrong.hint) from None
        if known is not None:
            raise Wrong(_CABLE, f'"{piece}" says the same thing again')
    return Cable(category, length, medium)


def read_fuse(text: str) -> Fuse:
    """Read ``"15 A blade"``: rated amps and, if said, the kind of fuse; raises `Wrong`.

    What its sheet states of direct current follows behind commas: ``"15 A blade, 58 V, 1 kA"``, volts and the greatest
    current that it breaks.
    """
    first, *more = text.split(",")
    match = re.fullmatch(r"(\S*\d\s*m?A)(?:\s+(\S.*))?", first.strip())
    rated, kind = (match[1], match[2]) if match else (first, None)
    if kind and kind not in _FUSES:
        raise Wrong(_FUSE, f"kinds of fuse: {', '.join(_FUSES)}")
    stated: dict[str, float] = {}
    try:
        amps = read_quantity(q.RATING, rated)
        for piece in more:
            key, value = _fuse_piece(piece.strip())
            if key in stated:
                raise Wrong(_FUSE, f'"{piece.strip()}" says the same thing again')
            stated[key] = value
    except Wrong as wrong:
        raise Wrong(_FUSE, wrong.hint) from None
    return Fuse(amps, kind, **stated)


def _fuse_piece(piece: str) -> tuple[str, float]:
    unit = unit_meant(piece)
    for key, dimension in (("volts", _FUSE_VOLTS), ("breaking", _BREAKING)):
        if unit in dimension.units:
            return key, read_quantity(dimension, piece)
    raise Wrong(_FUSE, f'"{piece}" is not understood: {_FUSE_MORE}')


_BOUGHT = msgspec.structs.replace(
    q.LENGTH, name="a length", example="10 m", low=0.0, high=1e5, low_open=False
)
_PRICE = 'a price, written like "4.20 EUR"'
_FUSE_VOLTS = msgspec.structs.replace(q.VOLTS, name="volts of a fuse", example="58 V", low=0.0, low_open=True)
_BREAKING = msgspec.structs.replace(
    q.RATING, name="a breaking capacity", units={"A": 1.0, "kA": 1e3}, example="1 kA", high=1e6
)
_FUSE_MORE = 'behind the fuse stand its volts of direct current and what it breaks, "15 A blade, 58 V, 1 kA"'

#: Kinds of fuse whose time-current gates are published: they differ in what "rated" means.
_FUSES = (
    "blade",
    "glass",
    "fast",
    "slow",
    "ptc",
    "iec-fast",
    "iec-slow",
    "iec-slow-high",
    "ul-fast",
    "ul-slow",
)

_DRAW = 'what it draws, written like "1.25 A" or "6 W"'
_SURGE = 'what it draws at the start and for how long, like "2.0 A for 10 s"'
_RUN = 'a lead, written like "18 AWG, 420 mm"'
_CABLE = 'a data cable, written like "cat 6, 2 m", "OM3, 20 m" or "direct, 1 m"'
_FUSE = 'a fuse, written like "15 A blade"'


class Drawn(Kind):
    """A start profile: one step or a list of them, all in one unit."""

    several = True

    def __init__(self) -> None:
        super().__init__(_SURGE)

    def read(self, raw: Any) -> Surge:
        """Return the profile."""
        steps = [self._step(x) for x in (raw if isinstance(raw, list) else [raw])]
        if not steps or len({unit for *_, unit in steps}) != 1:
            raise Wrong(self.expected, "give all steps in one unit")
        return Surge(tuple((value, seconds) for value, seconds, _ in steps), steps[0][2])

    def _step(self, raw: Any) -> tuple[float, float, str]:
        if type(raw) is not str:
            raise Wrong(self.expected)
        return read_surge(raw)

    def schema(self) -> dict[str, Any]:
        """Return one step, or a list of them."""
        one = {"type": "string", "description": self.expected, "examples": ["2.0 A for 10 s"]}
        return {"anyOf": [one, {"type": "array", "minItems": 1, "items": one}]}

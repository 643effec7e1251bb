"""Spans: ``"n1 .. n6"`` stands for six texts, ``"0 s .. 36 s by 12 s"`` for four,
``"22 AWG, 300 mm .. 450 mm by 50 mm"`` for four leads. Names that do not count on are listed in one text,
``"sw.1 .. sw.4, sw.7"``.

A span counts in one number: the two ends are alike but for it. Addresses count as addresses, so a span may run over
the end of an octet, and IPv6 and hardware addresses count in hexadecimal.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from .quantities import Wrong

__all__ = ["MOST", "in_decimal", "is_list", "is_span", "listed", "members", "spanned"]

#: The most members that one span may have.
MOST = 10_000

_MOST_DIGITS = 18
_DOTTED = re.compile(r"(\d{1,3})\.(\d{1,3})\.(\d{1,3})\.(\d{1,3})(/\d+)?")
_DIGITS = re.compile(r"(\d+)")
_QUANTITY = re.compile(r"([+-]?\d{1,15}(?:\.(\d{1,12}))?)(\s+\D.*|\s*%)")
_MAC = re.compile(r"([0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}")

# Names, addresses and spans of them, parted by commas; quantities have a blank before their unit and are none.
_NAME = r"[^\s,]+(?: \.\. [^\s,]+)?"
_LIST = re.compile(rf"{_NAME}(?:, {_NAME})+")

_EXPECTED = 'a span, written like "n1 .. n6"'


def is_span(text: str) -> bool:
    """Say whether the text is a span: two ends with `` .. `` between them."""
    return " .. " in text


def is_list(text: str) -> bool:
    """Say whether the text lists names, or spans of them: ``sw.1 .. sw.4, sw.7``."""
    return ", " in text and _LIST.fullmatch(text) is not None


def spanned(texts: list[str]) -> str | None:
    """Return the shortest text that `members` turns into these texts; None where there is none.

    Several quantities that do not count on have none: they are no names, so no text lists them.
    """
    if len(set(texts)) == 1:
        return texts[0]
    text = _by_steps(texts) or ", ".join(_pieces(texts))
    try:
        return text if members(text) == texts else None
    except Wrong:
        return None


def _by_steps(texts: list[str]) -> str | None:
    """Return the span that quantities may be: from the first to the last, by the step between the first two."""
    first, second = (_QUANTITY.fullmatch(text) for text in texts[:2])
    if not first or not second:
        return None
    decimals = max(len(m[2] or "") for m in (first, second))
    step = _plain(float(second[1]) - float(first[1]), decimals)
    return f"{texts[0]} .. {texts[-1]} by {step}{first[3]}"


def _pieces(texts: list[str]) -> list[str]:
    """Return the texts, each stretch that one span stands for, taken as long as can be, written as that span."""
    pieces: list[str] = []
    i = 0
    while i < len(texts):
        last = _last(texts, i)
        pieces.append(texts[i] if last == i else f"{texts[i]} .. {texts[last]}")
        i = last + 1
    return pieces


def _last(texts: list[str], first: int) -> int:
    """Return the number of the last text of the longest span that starts with the text number ``first``.

    Any start of a span is a span, so the step is doubled as long as it holds, and then halved.
    """
    last, step = first, 1
    while step:
        grows = last + step < len(texts) and _is_run(texts[first : last + step + 1])
        last, step = (last + step, 2 * step) if grows else (last, step // 2)
    return last


def _is_run(texts: list[str]) -> bool:
    try:
        return members(f"{texts[0]} .. {texts[-1]}") == texts
    except Wrong:
        return False


def members(text: str) -> list[str]:
    """Return the texts that a span, or a list of names and spans, stands for, first to last.

    Raises:
        Wrong: the ends do not belong together, the step does not fit, or there are more than `MOST`.
    """
    if ", " in text and _LIST.fullmatch(text):
        return _listed(text.split(", "))
    ends, _, step = text.partition(" by ")
    first, mark, last = (end.strip() for end in ends.partition(" .. "))
    if not (first and mark and last):
        raise Wrong(_EXPECTED, "it lacks one of its ends")
    quantity = _QUANTITY.fullmatch(first), _QUANTITY.fullmatch(last)
    if step and ", " in first:
        return _within(first, last, step)
    if step or (quantity[0] and quantity[1]):
        return _quantities(first, last, step)
    return _counted(first, last)


def _counted(first: str, last: str) -> list[str]:
    """Count from a name or an address to another."""
    if (a := _DOTTED.fullmatch(first)) and (b := _DOTTED.fullmatch(last)):
        return _dotted(a, b)
    if _MAC.fullmatch(first) and _MAC.fullmatch(last):
        return _macs(first, last)
    if first.count(":") > 1 and last.count(":") > 1:
        return _colons(first, last)
    return _texts(first, last)


def _listed(pieces: list[str]) -> list[str]:
    """Return the members of all pieces, one after the other."""
    found: list[str] = []
    for piece in pieces:
        found += members(piece) if " .. " in piece else [piece]
        if len(found) > MOST:
            raise Wrong(_EXPECTED, f"{MOST} members are the most")
    return found


def _within(first: str, last: str, step: str) -> list[str]:
    """Count in one figure of a list: ``22 AWG, 300 mm .. 450 mm by 50 mm, 2 x``."""
    head, _, low = first.rpartition(", ")
    by, comma, tail = step.partition(", ")
    return [f"{head}, {figure}{comma}{tail}" for figure in _quantities(low, last, by)]


def _count(first: int, last: int) -> range:
    if abs(last - first) >= MOST:
        raise Wrong(_EXPECTED, f"it has {abs(last - first) + 1} members; {MOST} is the most")
    return range(first, last + 1) if first <= last else range(first, last - 1, -1)


def _texts(first: str, last: str) -> list[str]:
    a, b = _DIGITS.split(first), _DIGITS.split(last)
    if len(a) != len(b):
        raise Wrong(_EXPECTED, f'"{first}" and "{last}" are not built alike')
    differ = [i for i, (x, y) in enumerate(zip(a, b, strict=True)) if x != y]
    if not differ and len(a) > 1:
        return [first]
    if len(differ) != 1 or differ[0] % 2 == 0:
        raise Wrong(_EXPECTED, f'"{first}" and "{last}" must differ in one number and in nothing else')
    i = differ[0]
    if max(len(a[i]), len(b[i])) > _MOST_DIGITS:
        raise Wrong(_EXPECTED, f"a number of more than {_MOST_DIGITS} digits is not counted")
    width = len(a[i]) if a[i].startswith("0") or b[i].startswith("0") else 0
    found = ["".join([*a[:i], str(n).zfill(width), *a[i + 1 :]]) for n in _count(int(a[i]), int(b[i]))]
    if found[-1] != last:
        raise Wrong(_EXPECTED, f'"{first}" and "{last}" are not filled up with zeros alike')
    return found


def _quantities(first: str, last: str, step: str) -> list[str]:
    found = [_QUANTITY.fullmatch(part.strip()) for part in (first, last, step)]
    if not step:
        raise Wrong(_EXPECTED, f'say the step: "{first} .. {last} by ..."')
    if not all(found) or len({m[3].strip() for m in found if m}) != 1:
        raise Wrong('a span of quantities in one unit, like "0 s .. 36 s by 12 s"')
    low, high, by = (float(m[1]) for m in found if m)
    unit = next(m[3] for m in found if m)
    decimals = max(len(m[2] or "") for m in found if m)
    if by == 0 or (high - low) / by < 0:
        raise Wrong(_EXPECTED, f'a step of "{step.strip()}" never gets from {first} to {last}')
    steps = round((high - low) / by)
    if abs(low + steps * by - high) > 1e-9 * max(1.0, abs(high)):
        raise Wrong(_EXPECTED, f'steps of "{step.strip()}" from {first} do not end at {last}')
    _count(0, steps)
    return [_plain(low + i * by, decimals) + unit for i in range(steps + 1)]


def _plain(value: float, decimals: int) -> str:
    """Return a number without an exponent: units are read by people."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if decimals else text
    return "0" if text == "-0" else text


def _dotted(a: re.Match[str], b: re.Match[str]) -> list[str]:
    if a[5] != b[5]:
        raise Wrong(_EXPECTED, "both ends must carry the same prefix length")
    ends = []
    for match in (a, b):
        octets = [int(match[i]) for i in range(1, 5)]
        if any(o > 255 for o in octets) or any(match[i] != str(int(match[i])) for i in range(1, 5)):
            raise Wrong('IPv4 addresses, written like "10.20.0.11 .. 10.20.0.16"', f'"{match[0]}" is none')
        ends.append(int.from_bytes(bytes(octets), "big"))
    tail = a[5] or ""
    return [".".join(map(str, n.to_bytes(4, "big"))) + tail for n in _count(ends[0], ends[1])]


def _macs(first: str, last: str) -> list[str]:
    mark = first[2]
    a, b = (int(re.sub("[:-]", "", end), 16) for end in (first, last))
    return [mark.join(re.findall("..", f"{n:012x}")) for n in _count(a, b)]


def _colons(first: str, last: str) -> list[str]:
    import ipaddress

    a, _, prefix = first.partition("/")
    b, _, other = last.partition("/")
    if prefix != other:
        raise Wrong(_EXPECTED, "both ends must carry the same prefix length")
    if "%" in first + last:
        hint = "a zone names an interface of one machine and means nothing in a plan: write the addresses without it"
        raise Wrong('IPv6 addresses, written like "fd00::11 .. fd00::16"', hint)
    try:
        ends = [int(ipaddress.IPv6Address(end)) for end in (a, b)]
    except ValueError as error:
        raise Wrong('IPv6 addresses, written like "fd00::11 .. fd00::16"', str(error)) from None
    tail = f"/{prefix}" if prefix else ""
    return [f"{ipaddress.IPv6Address(n)}{tail}" for n in _count(ends[0], ends[1])]


def in_decimal(first: str, last: str, wanted: int) -> str:
    """Return a hint where the ends of a span were counted in decimal and are hexadecimal; "" where they were not.

    ``wanted`` is how many members [-] were meant.
    """
    mark = "-" if first.count("-") > 1 else ":"
    if first.count(mark) < 2:
        return ""
    (head, _, low), (other, _, high) = first.rpartition(mark), last.rpartition(mark)
    (low, _, length), (high, _, _) = low.partition("/"), high.partition("/")
    decimal = low.isdecimal() and high.isdecimal() and head == other
    if not decimal or int(high) - int(low) + 1 != wanted:
        return ""
    mac = _MAC.fullmatch(first)
    end = f"{int(low, 16) + wanted - 1:0{2 if mac else 1}x}"
    tail = f"/{length}" if length else ""
    who = "hardware addresses count" if mac else "IPv6 counts"
    return f"{who} in hexadecimal: {wanted} from {first} end at {head}{mark}{end}{tail}"


def listed(names: Iterable[str], most: int | None = 8) -> str:
    """Return names as a person would list them: ``n1 .. n6 and store``, where three or more count on; "" for none.

    More than ``most`` of such pieces are cut short, and how many are left out is said; None lists them all.
    """
    pieces = _runs(list(names))
    if not pieces:
        return ""
    shown = pieces
    if most is not None and len(pieces) > most:
        shown = [*pieces[: most - 1], f"{len(pieces) - most + 1} more"]
    return ", ".join(shown[:-1]) + " and " + shown[-1] if len(shown) > 1 else shown[0]


def _runs(names: list[str]) -> list[str]:
    """Return the names with each run of three or more that count on written as one span."""
    pieces: list[str] = []
    i = 0
    while i < len(names):
        end, place = i, None
        while end + 1 < len(names):
            step = _next(names[end], names[end + 1])
            if step is None or (place is not None and step != place):
                break
            end, place = end + 1, step
        if end - i >= 2:
            pieces.append(f"{names[i]} .. {names[end]}")
            i = end + 1
        else:
            pieces.append(names[i])
            i += 1
    return pieces


def _next(name: str, other: str) -> int | None:
    """Return which piece of a name is a number that is one more in the other; None where they differ otherwise."""
    first, second = _DIGITS.split(name), _DIGITS.split(other)
    if len(first) != len(second):
        return None
    differ = [i for i, (x, y) in enumerate(zip(first, second, strict=True)) if x != y]
    if len(differ) != 1 or differ[0] % 2 == 0:
        return None
    a, b = first[differ[0]], second[differ[0]]
    width = len(a) if a.startswith("0") else 0
    return differ[0] if b == f"{int(a) + 1:0{width}d}" else None

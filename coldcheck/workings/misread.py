"""What a text is meant to say that is no address: several of them, a span, or a netmask behind a blank."""

from __future__ import annotations

import re

from coldcheck.lan.address import Address, BadAddress, read_address, text_of

__all__ = ["Meant", "meant_by"]

_SPAN = re.compile(r"\s*(?:\.\.\.?|[-\u2013]|\bto\b)\s*")
_LIST = re.compile(r"\s*[,;]\s*|\s+")

#: What is said in few words: the reason, what to write, and the text that could stand there, "" where it is no text.
Meant = tuple[str, str, str]


def meant_by(text: str, takes_list: bool) -> Meant | None:
    """Return what a text that cannot be read as one address means; None where that is not seen.

    ``takes_list`` says whether the key that it stands in may be a list.
    """
    text = text.strip()
    return _span(text) or _masked(text) or _several(text, takes_list)


def _read(text: str) -> Address | None:
    try:
        return read_address(text)
    except BadAddress:
        return None


def _span(text: str) -> Meant | None:
    ends = _SPAN.split(text)
    if len(ends) != 2 or not all(ends):
        return None
    first, last = ends
    if last.isascii() and last.isdigit() and "." in first:  # only the last octet is said of the second one
        last = first.rpartition(".")[0] + "." + last
    a, b = _read(first), _read(last)
    if a is None or b is None or a.family != b.family:
        return None
    right = f"{first} .. {last}"
    return (
        "two addresses with a stroke or a word between them",
        f'a span has dots and blanks: write "{right}"',
        right,
    )


def _masked(text: str) -> Meant | None:
    """Return a prefix for an IPv4 address with a netmask, or the inverse of one, behind a blank."""
    first, blank, last = text.partition(" ")
    base, mask = _read(first), _read(last.strip())
    if (
        not blank
        or base is None
        or mask is None
        or base.prefix is not None
        or mask.family != 4
        or base.family != 4
    ):
        return None
    hosts = min(mask.value, mask.value ^ 0xFFFFFFFF)
    if mask.prefix is not None or hosts & (hosts + 1) or mask.value in (0, 0xFFFFFFFF):
        return None
    right = f"{text_of(4, base.value)}/{32 - hosts.bit_length()}"
    return "an address and a mask with a blank between them", f'write the length: "{right}"', right


def _several(text: str, takes_list: bool) -> Meant | None:
    parts = _LIST.split(text)
    if len(parts) < 2 or len(parts) > 16 or not all(part and _read(part) is not None for part in parts):
        return None
    listed = ", ".join(f'"{part}"' for part in parts)
    hint = f"write a list: [{listed}]" if takes_list else "write one of them"
    return f"{len(parts)} addresses in one text", hint, ""

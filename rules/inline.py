"""In-line things: what a fuse or a diode is worth is said, since silence would count as nothing lost and no limit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Open, cases, rule


@rule(level="error", over="inline")
def fuse_unknown(inline: Any) -> Iterator[Finding]:
    """An in-line fuse states its rating.

    A holder is sold without one, and whatever lies in the drawer is fitted: too small it opens in the start, too large
    it lets the wire burn.
    """
    # The outlets of a block may each have their own.
    each = bool(inline.outlet) and all(outlet.fuse is not None for outlet in inline.outlet)
    if inline.what == "fuse" and inline.fuse is None and not each:
        yield Open(
            "error",
            inline,
            f"{inline.id} is a fuse, but its rating is not given: neither its load nor the wire behind it is judged",
            missing=[f"{inline.id} fuse"],
            remedy='add fuse = "10 A blade", as it is fitted',
            place=("what", "part"),
        )


_WHAT = '[[feed]]\nid = "b"\nvolts = "12 V"\n[[inline]]\nid = "x"\nfrom = "b"\n{}\n'

cases(
    fuse_unknown,
    clean=[
        _WHAT.format('what = "fuse"\nfuse = "10 A blade"'),
        _WHAT.format('what = "switch"'),
        _WHAT.format('what = "fuse"\n[[inline.outlet]]\nid = "1 .. 2"\nfuse = "5 A blade"'),
    ],
    flagged=[
        Case(_WHAT.format('what = "fuse"'), at="x", kind="open"),
        Case(_WHAT.format('part = "fuse-holder-blade"'), at="x", kind="open"),
    ],
)


@rule(level="error", over="inline")
def drop_unknown(inline: Any) -> Iterator[Finding]:
    """A diode states the volts it drops, or an ideal one its ohms.

    A plain diode takes 0.3 V to 1 V: on a 5 V rail that alone is more than all boards allow.
    """
    ohms = inline.intake.ohms is not None or any(inlet.ohms is not None for inlet in inline.inlet)
    if inline.what == "diode" and inline.drop is None and not ohms:
        yield Open(
            "error",
            inline,
            f"{inline.id} is a diode, but what it drops is not given, so the volts behind it are taken too high",
            missing=[f"{inline.id} drop"],
            remedy='add drop = "0.5 V" from its sheet at this current, or ohms = "10 mohm" of an ideal diode',
            place=("what", "part"),
        )


cases(
    drop_unknown,
    clean=[
        _WHAT.format('what = "diode"\ndrop = "0.5 V"'),
        _WHAT.format('part = "diode-ideal-10a"'),
        _WHAT.format('what = "switch"'),
    ],
    flagged=[Case(_WHAT.format('what = "diode"'), at="x", kind="open")],
)

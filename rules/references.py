"""What a plan says of itself: names that name something, things that are called by one name, power that arrives."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, cases, rule
from coldcheck.plan.model import Plan


def _faults(plan: Plan, name: str) -> Iterator[Finding]:
    for fault in plan.faults:
        if fault.rule == name:
            yield Finding("error", fault.path, fault.says, remedy=fault.remedy, related=list(fault.related))


@rule(level="error", over="plan")
def unknown(plan: Plan) -> Iterator[Finding]:
    """Every reference names a thing, outlet, rail, inlet or bay that exists.

    A slip in a name leaves a thing without power in the computation, and so without a verdict.
    """
    yield from _faults(plan, "references.unknown")


cases(
    unknown,
    clean=['[[feed]]\nid = "brick"\nvolts = "5 V"\n[[node]]\nid = "n1"\nfrom = "brick"'],
    flagged=[
        Case('[[feed]]\nid = "brick"\nvolts = "5 V"\n[[node]]\nid = "n1"\nfrom = "brik"', at="brik"),
        Case('[[feed]]\nid = "brick"\nvolts = "5 V"\n[[node]]\nid = "n1"\nfrom = "brick.usb"', at="usb"),
        Case('[[storage]]\nid = "store"\nbays = 2\n[[drive]]\nid = "d1"\nbay = "store.3"', at="store.3"),
    ],
)


@rule(level="error", over="plan")
def duplicate(plan: Plan) -> Iterator[Finding]:
    """No two things go by the same name.

    A reference to a name that two things bear means either of them.
    """
    yield from _faults(plan, "references.duplicate")


cases(
    duplicate,
    clean=['[[node]]\nid = "n1 .. n2"\n[[node]]\nid = "n3"'],
    flagged=[Case('[[node]]\nid = "n1 .. n3"\n[[node]]\nid = "n3"', at="n3")],
)


@rule(level="error", over="plan")
def clash(plan: Plan) -> Iterator[Finding]:
    """The outlets, inlets, rails, bays and ports of one thing have different names.

    They share one name space, so that ``thing.point`` is never ambiguous.
    """
    yield from _faults(plan, "references.clash")


_TWICE = """
[[supply]]
id = "box"
[[supply.rail]]
id = "5v"
[[supply.rail]]
id = "{}"
"""

cases(clash, clean=[_TWICE.format("12v")], flagged=[Case(_TWICE.format("5v"), at="box")])


@rule(level="error", over="plan")
def which_inlet(plan: Plan) -> Iterator[Finding]:
    """A thing that can take power by one of several inlets says which one is used.

    The inlets differ in what protects them: a guess would decide whether a slip destroys the board.
    """
    yield from _faults(plan, "references.which_inlet")


_BOARD = """
[[feed]]
id = "brick"
volts = "5 V"
[[node]]
id = "n1"
from = "brick"
use = "one"
{}
[[node.inlet]]
id = "usb"
[[node.inlet]]
id = "header"
"""

cases(which_inlet, clean=[_BOARD.format('into = "usb"')], flagged=[Case(_BOARD.format(""), at="n1")])


@rule(level="error", over="plan")
def too_many(plan: Plan) -> Iterator[Finding]:
    """A thing has an inlet for each outlet that feeds it, and a port for each cable.

    What has no place to go is left out of every computation.
    """
    yield from _faults(plan, "references.too_many")


cases(
    too_many,
    clean=['[[feed]]\nid = "a"\nvolts = "5 V"\n[[node]]\nid = "n1"\nfrom = "a"'],
    flagged=[
        Case('[[feed]]\nid = "a"\nvolts = "5 V"\n[[feed]]\nid = "b"\nvolts = "5 V"\n'
             '[[node]]\nid = "n1"\nfrom = ["a", "b"]', at="n1"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def power_ring(plan: Plan) -> Iterator[Finding]:
    """No supply is fed, directly or through others, by itself.

    Power must enter from a feed; a ring of supplies has none to give.
    """
    yield from _faults(plan, "references.power_ring")


_RING = """
[[feed]]
id = "bank"
volts = "24 V"
[[supply]]
id = "a"
from = "{}"
[[supply.rail]]
id = "12v"
volts = "12 V"
[[supply]]
id = "b"
from = "a"
[[supply.rail]]
id = "5v"
volts = "5 V"
"""

cases(power_ring, clean=[_RING.format("bank")], flagged=[Case(_RING.format("b"), at="a")])

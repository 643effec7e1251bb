"""What a plan says of itself: names that name something, things that are called by one name, power that arrives."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, Put, cases, rule
from coldcheck.plan.model import OutletPoint, Plan
from coldcheck.plan.problems import nearest
from coldcheck.plan.tables import Uplink
from coldcheck.workings.leads import Leads


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
    """The outlets, inlets, rails, bays and ports of one thing have different names, and so has all in a harness.

    They share one name space, so that ``thing.point`` is never ambiguous; nor is a wire that ends at ``a.1``, where
    an end of the harness and a thing would both be called ``a``.
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

_ENDS = """
[[feed]]
id = "box"
[[harness]]
id = "h"
[[harness.end]]
id = "{}"
into = "box"
[[harness.splice]]
id = "{}"
"""

cases(
    clash,
    clean=[_TWICE.format("12v"), _ENDS.format("a", "b")],
    flagged=[
        Case(_TWICE.format("5v"), at="box"),
        Case(_ENDS.format("a", "a"), at="two ends or joints called a", mended=_ENDS.format("a", "b")),
        Case(_ENDS.format("box", "b"), at="and a thing as well", mended=_ENDS.format("a", "b")),
    ],
)


@rule(level="error", over="plan")
def which_inlet(plan: Plan) -> Iterator[Finding]:
    """A thing that can take power by one of several inlets says which one is used.

    So does a figure that belongs to one of several inlets or outlets. The inlets differ in what protects them: a guess
    would decide whether a slip destroys the board.
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

_STRIP = """
[[feed]]
id = "f"
volts = "12 V"
{}
[[feed.outlet]]
id = "1 .. 2"
"""

cases(
    which_inlet,
    clean=[_BOARD.format('into = "usb"'), _STRIP.format("")],
    flagged=[
        Case(_BOARD.format(""), at="n1"),
        # a figure said of a thing with several inlets or outlets belongs to none of them
        Case(_STRIP.format('lead = "18 AWG, 1 m"'), at="its lead"),
    ],
)


@rule(level="error", over="plan")
def too_many(plan: Plan) -> Iterator[Finding]:
    """A thing has an inlet for each outlet that feeds it, and a port for each cable.

    What has no place to go is left out of every computation.
    """
    yield from _faults(plan, "references.too_many")


_PAIR = '[[switch]]\nid = "sw"\nports = 4\n[[node]]\nid = "n1 .. n2"\n'
_TWO_PORTS = (
    'part = "two"\n[[part]]\nid = "two"\nkind = "node"\n[[part.port]]\nid = "a"\n[[part.port]]\nid = "b"\n'
)

cases(
    too_many,
    clean=[
        '[[feed]]\nid = "a"\nvolts = "5 V"\n[[node]]\nid = "n1"\nfrom = "a"',
        _PAIR + 'port = ["sw.1 .. sw.2", "sw.3 .. sw.4"]\n' + _TWO_PORTS,
        '[[feed]]\nid = "f1 .. f2"\nvolts = "5 V"\n'
        '[[node]]\nid = "n1 .. n2"\nfrom = ["f1", "f2"]\n[[node.inlet]]\nid = "x"\n[[node.inlet]]\nid = "y"\n',
    ],
    flagged=[
        Case(_PAIR + 'port = ["sw.1", "sw.2"]\n', at="`port` lists 2 names, and each of n1 and n2",
             mended=_PAIR + 'port = "sw.1 .. sw.2"\n'),
        Case(_PAIR + 'port = ["sw.1", "sw.2"]\n' + _TWO_PORTS, at="`port` lists 2 names"),
        Case('[[feed]]\nid = "f1 .. f2"\nvolts = "5 V"\n[[node]]\nid = "n1 .. n2"\nfrom = ["f1", "f2"]\n',
             at="`from` lists 2 names",
             mended='[[feed]]\nid = "f1 .. f2"\nvolts = "5 V"\n[[node]]\nid = "n1 .. n2"\nfrom = "f1 .. f2"\n'),
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


@rule(level="error", over="plan")
def unknown_plug(plan: Plan, leads: Leads) -> Iterator[Finding]:
    """Every plug that is named stands on the shelf, or is described by the plan.

    Of a plug that nobody describes neither rating nor contacts, pins or polarity are known, so nothing is judged of it.
    """
    told: set[str] = set()
    for thing, holder, key in _plugged(plan):
        name = holder.plug
        if name in told or leads.plug(name) is not None:
            continue
        told.add(name)
        near = nearest(name, plan.shelf.names("plug"))
        yield Finding(
            "error",
            thing,
            f"no plug is called {name}",
            found=name,
            remedy=(f'did you mean "{near}"? ' if near else "")
            + "`coldcheck parts` lists the shelf; or describe it: "
            f'[[part]] id = "{name}", kind = "plug"',
            path=_own(holder, thing, key) or plan.place(thing, *_WHERE[key == "plug"]),
            subjects=(name, thing.id),
        )


_WHERE = (("part",), ("plug", "part"))
_PLUGGED = ("inlet", "outlet", "rail", "connector")


def _plugged(plan: Plan) -> Iterator[tuple[Any, Any, str]]:
    """Yield everything that names a plug: its thing, the table that does, its key; what things share comes once."""
    seen: set[int] = set()
    for table in plan.of.values():
        for thing in table:
            intake = getattr(thing, "intake", thing)
            if getattr(intake, "plug", None) is not None and id(intake) not in seen:
                seen.add(id(intake))
                yield thing, intake, "plug"
            for word in _PLUGGED:
                holders = getattr(thing, word, ())
                if not holders or id(holders) in seen or type(holders) is not tuple:
                    continue
                seen.add(id(holders))
                for holder in holders:
                    if getattr(holder, "plug", None) is not None:
                        yield thing, holder, word


def _own(holder: Any, thing: Any, key: str) -> Any:
    """Return where an inner table names its plug, or nothing where its part does."""
    if key == "plug" or holder.path[: len(thing.path)] != thing.path or "plug" not in holder.stated:
        return ()
    return (*holder.path, "plug")


_PLUGS = """
[[part]]
id = "vh-9"
kind = "plug"
[[feed]]
id = "b"
volts = "5 V"
plug = "{feed}"
[[feed.connector]]
id = "out"
plug = "{connector}"
[[node]]
id = "n1 .. n3"
plug = "{node}"
[[switch]]
id = "sw"
part = "switch-8-gigabit"
[[switch.inlet]]
id = "dc"
plug = "{inlet}"
[[supply]]
id = "s"
[[supply.rail]]
id = "5v"
plug = "{rail}"
"""


def _named(**plugs: str) -> str:
    holders = ("feed", "connector", "node", "inlet", "rail")
    return _PLUGS.format(**{holder: plugs.get(holder, "vh-3.96") for holder in holders})


cases(
    unknown_plug,
    clean=[_named(), _named(node="vh-9")],
    flagged=[
        Case(_named(**{holder: "vh-39.6"}), at="vh-39.6", mended=_named())
        for holder in ("feed", "connector", "node", "inlet", "rail")
    ]
    # a part that is no plug
    + [Case(_named(feed="switch-8-gigabit"), at="b")],
)


@rule(level="error", over="plan")
def bay_twice(plan: Plan) -> Iterator[Finding]:
    """A bay holds one drive.

    Two drives written for one bay means that one of them has no place, no power and no data.
    """
    first: dict[tuple[str, str], Any] = {}
    for drive in plan.table("drive"):
        name, _, bay = (drive.bay or "").partition(".")
        if not bay:
            continue
        other = first.setdefault((name, bay.lstrip("0")), drive)
        if other is not drive:
            yield Finding(
                "error",
                drive,
                f"{drive.id} sits in {drive.bay}, where {other.id} sits already",
                remedy="give it another bay",
                place="bay",
                related=[(plan.place(other, "bay"), f"{other.id} is here")],
                subjects=(drive.id, other.id),
            )


_BAYS = '[[storage]]\nid = "s"\nbays = 2\n[[storage]]\nid = "t"\nbays = 2\n'
_BAYS += '[[drive]]\nid = "d1"\nbay = "s.1"\n[[drive]]\nid = "d2"\nbay = "{}"\n'

cases(
    bay_twice,
    clean=[_BAYS.format("s.2"), _BAYS.format("t.1"), '[[drive]]\nid = "d1 .. d2"'],
    flagged=[
        Case(_BAYS.format("s.1"), at="d2", mended=_BAYS.format("s.2")),
        Case(_BAYS.format("s.01"), at="d1"),
    ],
)


def _outlets(plan: Plan) -> Iterator[tuple[Any, Any]]:
    """Yield every outlet and rail with its thing; what things of one part share comes once."""
    seen: set[tuple[int, int, int]] = set()
    things = [thing for thing in plan.order if thing.outlets]
    for thing in things:
        for word in ("outlet", "rail"):
            specs = getattr(thing, word, ())
            key = (id(specs), id(getattr(thing, "group", ())), id(getattr(thing, "inlet", ())))
            if specs and key not in seen:
                seen.add(key)
                for spec in specs:
                    yield thing, spec


def _at(plan: Plan, thing: Any, spec: Any, key: str) -> Any:
    own = spec.path[: len(thing.path)] == thing.path
    return (*spec.path, key) if own and key in spec.stated else plan.place(thing, "part")


@rule(level="error", over="plan")
def unknown_group(plan: Plan) -> Iterator[Finding]:
    """The group that an outlet belongs to is one of its thing.

    An outlet of a group that does not exist shares no limit with anything.
    """
    for thing, spec in _outlets(plan):
        if spec.group is None:
            continue
        groups = [group.id for group in thing.group]
        if spec.group not in groups:
            near = nearest(spec.group, groups)
            add = f'add [[{thing.table}.group]] id = "{spec.group}" with its amps or watts'
            yield Finding(
                "error",
                thing,
                f"{thing.id}.{spec.id} belongs to the group {spec.group}, but {thing.id} has no such group",
                found=spec.group,
                remedy=f'did you mean "{near}"? Or {add}' if near else add,
                path=_at(plan, thing, spec, "group"),
                subjects=(f"{thing.id}.{spec.id}",),
            )


_GROUP = """
[[feed]]
id = "pc"
[[feed.outlet]]
id = "5v"
volts = "5 V"
group = "{}"
[[feed.group]]
id = "low"
{}
"""

cases(
    unknown_group,
    clean=[_GROUP.format("low", 'watts = "120 W"')],
    flagged=[
        Case(
            _GROUP.format("lo", 'watts = "120 W"'),
            at="pc.5v",
            found="lo",
            mended=_GROUP.format("low", 'watts = "120 W"'),
        )
    ],
)


@rule(level="error", over="plan")
def group_unlimited(plan: Plan) -> Iterator[Finding]:
    """A group of outlets states the limit they share, in amps or watts.

    That is all a group is for: without it each outlet is judged alone, and the supply looks stronger than it is.
    """
    seen: set[int] = set()
    for thing in plan.order:
        groups = getattr(thing, "group", ())
        if not groups or id(groups) in seen:
            continue
        seen.add(id(groups))
        for group in groups:
            if group.amps is None and group.watts is None:
                yield Open(
                    "error",
                    thing,
                    f"the group {group.id} of {thing.id} has no limit, so its outlets are judged one by one only",
                    missing=[f"{thing.id}.{group.id} amps or watts"],
                    remedy='add amps = "..." or watts = "..." from its sheet',
                    path=_at(plan, thing, group, "id"),
                    subjects=(f"{thing.id}.{group.id}",),
                )


cases(
    group_unlimited,
    clean=[_GROUP.format("low", 'watts = "120 W"'), _GROUP.format("low", 'amps = "20 A"')],
    flagged=[Case(_GROUP.format("low", ""), at="pc.low", kind="open")],
)


@rule(level="error", over="plan")
def unknown_inlet(plan: Plan) -> Iterator[Finding]:
    """The inlet that an outlet hands on is one of its thing.

    Another one would be taken instead: the wrong rail, and the load on the wrong plug.
    """
    for thing, spec in _outlets(plan):
        if spec.inlet is None:
            continue
        inlets = [inlet.id for inlet in getattr(thing, "inlet", ())]
        if spec.inlet not in inlets:
            near = nearest(spec.inlet, inlets)
            known = f"its inlets: {', '.join(inlets)}" if inlets else f"describe it: [[{thing.table}.inlet]]"
            yield Finding(
                "error",
                thing,
                f"{thing.id}.{spec.id} hands on the inlet {spec.inlet}, but {thing.id} has none of that name",
                found=spec.inlet,
                remedy=f'did you mean "{near}"?' if near else known,
                path=_at(plan, thing, spec, "inlet"),
                subjects=(f"{thing.id}.{spec.id}",),
            )


_HANDED = """
[[inline]]
id = "y"
[[inline.inlet]]
id = "5v"
[[inline.inlet]]
id = "12v"
[[inline.outlet]]
id = "out"
kind = "pass-through"
inlet = "{}"
"""

cases(
    unknown_inlet,
    clean=[_HANDED.format("12v")],
    flagged=[
        Case(_HANDED.format("nope"), at="y.out", found="nope"),
        Case(_HANDED.format("12"), at="y.out", mended=_HANDED.format("12v")),
    ],
)


@rule(level="warning", over="plan")
def outside_astray(plan: Plan, stray_uplinks: list[tuple[Uplink, str]]) -> Iterator[Finding]:
    """An uplink that goes to a word like the name of something outside goes there.

    Words of several parts say where a cable goes for people alone. One word that is all but the id of an [[outside]] is
    a slip in that id: the router is then beyond no uplink, and nothing about it is judged.
    """
    for uplink, near in stray_uplinks:
        path = (*uplink.path, "to")
        says = f'an uplink goes to "{uplink.to}", and nothing outside has that id'
        yield Finding("warning", uplink, says, found=uplink.to, remedy=f'did you mean "{near}"?',
                      edits=(Put(path, near),), path=path, subjects=(uplink.to or "",))  # fmt: skip


_AWAY = '[[switch]]\nid = "sw"\nports = 4\n[[outside]]\nid = "router"\n[[uplink]]\nfrom = "sw.4"\nto = "{}"\n'

cases(
    outside_astray,
    clean=[
        _AWAY.format("router"),
        _AWAY.format("the router of the house"),
        _AWAY.format("the router"),
        _AWAY.format("hall"),  # a place, like no id
        _AWAY.format("router2") + '[[uplink]]\nfrom = "sw.3"\nto = "router"\n',  # each goes somewhere
    ],
    flagged=[
        Case(_AWAY.format("ruoter"), at="ruoter", found="ruoter", edits=True, mended=_AWAY.format("router")),
        Case(_AWAY.format("Router"), at="Router", level="warning", edits=True, mended=_AWAY.format("router")),
    ],
)


@rule(level="error", over="rails")
def volts_astray(rail: OutletPoint) -> Iterator[Finding]:
    """The lowest volts of a source are not above its highest, and its nominal volts lie between them.

    The lowest decide what arrives, the highest what destroys: exchanged, both verdicts are wrong.
    """
    low, nominal, high = rail.spec.low, rail.spec.volts, rail.spec.high
    if low is not None and high is not None and low > high:
        found, allowed = low, high
        wrong = f"its lowest volts, {Measure(low, 'V')}, are above its highest, {Measure(high, 'V')}"
    elif nominal is not None and low is not None and nominal < low:
        found, allowed = nominal, low
        wrong = f"its {Measure(nominal, 'V')} are below its lowest volts, {Measure(low, 'V')}"
    elif nominal is not None and high is not None and nominal > high:
        found, allowed = nominal, high
        wrong = f"its {Measure(nominal, 'V')} are above its highest volts, {Measure(high, 'V')}"
    else:
        return
    yield Finding(
        "error",
        rail,
        f"{rail.noun} {rail}: {wrong}",
        found=Measure(found, "V"),
        allowed=Measure(allowed, "V"),
        remedy="state the volts as low, nominal, high: a battery from its cut-off to the end of its charge",
        place=("low", "volts", "high", "part"),
    )


_RANGE = '[[feed]]\nid = "b"\nvolts = "{}"\nlow = "{}"\nhigh = "{}"\n'

cases(
    volts_astray,
    clean=[
        _RANGE.format("24 V", "24 V", "24 V"),
        _RANGE.format("24 V", "21 V", "28.8 V"),
        _RANGE.format("-12 V", "-13 V", "-11 V"),
        '[[feed]]\nid = "b"\nvolts = "-12 V"\nspread = "5 %"',
    ],
    flagged=[
        Case(
            _RANGE.format("24 V", "28.8 V", "21 V"),
            at="b",
            found="28.8 V",
            mended=_RANGE.format("24 V", "21 V", "28.8 V"),
        ),
        Case(_RANGE.format("28.9 V", "21 V", "28.8 V"), at="b", found="28.9 V"),
        Case(_RANGE.format("20.9 V", "21 V", "28.8 V"), at="b", found="20.9 V"),
        Case('[[feed]]\nid = "b"\nlow = "28 V"\nhigh = "21 V"', at="b"),
        Case('[[feed]]\nid = "b"\nvolts = "-12 V"\nlow = "-11 V"\nhigh = "-10 V"', at="b"),
    ],
)

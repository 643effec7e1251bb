"""What the hands do at the first power, in words: how power is cut, what goes in, what is set; and the cautions."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.quantities import VOLTS, read_quantity
from coldcheck.plan.spans import listed

from .needs import fuse_words
from .starts import feeders

__all__ = ["cautions", "cut_words", "first_on", "goes_in", "on_words", "ready", "set_words"]

#: From this current on a ring on the finger welds [A] (common practice).
HIGH = 10.0


def cautions(plan: Plan, most: float) -> Iterator[str]:
    """Yield the cautions that a plan asks for, in which so many amps flow at most [A]."""
    feeds = plan.table("feed")
    yield "One hand in the box, no rings, eye protection; someone who can cut the power stands by."
    if feeds:
        yield f"Power is cut like this: {'; '.join(map(cut_words, feeds))}. See that you can before anything is on."
    yield from _switches(plan)
    for feed in feeds:
        if feed.battery and fuse_words(feed) and not _switched(plan, feed):
            yield (
                f"No switch takes all of {feed.id} off: a fuse that goes in or out under load draws an arc, so all "
                "that can be off is off first. A switch or breaker for direct current behind it is the better way."
            )
    yield "Nothing is plugged or unplugged under power. Capacitors keep their charge: measure before you touch."
    yield (
        "What is measured under power ends in its plug or in a terminal strip, its poles apart: never in two bare "
        "ends. What comes off comes off at its source first."
    )
    yield (
        "A plug that is in is probed from behind, where its wires go in; one that hides its poles, as a barrel does, "
        "at the other end of its lead."
    )
    yield "Pull at each crimp before it is measured: what comes out now would have come out later."
    yield (
        "A hand meter shows the ohms of its own leads, too: touch the probes together first, and take that off. "
        "A good wire then shows 0.0 or 0.1 ohm; only a meter with four leads reads more finely."
    )
    yield (
        "Amps: by a clamp for direct current about the plus, or a supply that shows them. The most that a step "
        "names is that of a thing at its busiest; with nothing to do it takes far less."
    )
    if any(feed.battery for feed in feeds):
        yield (
            "A battery cannot be switched off and melts what shorts it: a fuse at its terminal, insulated tools, "
            "its maker's order of connecting it. Leave what you are not sure of to licensed practice."
        )
    if any(not feed.battery for feed in feeds):
        yield (
            "The mains side of any supply is not part of this sheet: leave it closed, to local codes and licensed "
            "practice."
        )
    if most > HIGH:
        yield "More than 10 A flows in this box: loose terminals burn. Tighten each; a minute later none is warm."


def _switched(plan: Plan, feed: Any) -> bool:
    """Say whether one in-line switch takes the power from all that a feed gives it to."""
    behind = {thing.id: feeders(thing) for thing in plan.order if feed.id in feeders(thing)}
    return any(
        all(switch.id in above for id, above in behind.items() if id not in {switch.id, *behind[switch.id]})
        for switch in plan.table("inline")
        if switch.what == "switch" and switch.id in behind
    )


def _switches(plan: Plan) -> Iterator[str]:
    """Yield what an in-line switch takes the power from, where it is not all that there is."""
    for switch in plan.table("inline"):
        if switch.what != "switch":
            continue
        behind = [thing.id for thing in plan.order if switch.id in feeders(thing)]
        before = feeders(switch)
        fed = [thing.id for thing in plan.order if any(inlet.source is not None for inlet in thing.inlets)]
        if behind and set(fed) - {*behind, *before, switch.id}:
            yield f"{switch.id} takes the power from {listed(behind, None)} alone: all else stays live."


def cut_words(feed: Any) -> str:
    """Return how the power of a feed is cut: a battery has no switch, but a fuse."""
    if not feed.battery:
        return f"switch {feed.id} off"
    fuse = fuse_words(feed)
    return f"take the {fuse} fuse of {feed.id} out" if fuse else f"take {feed.id} off, as its maker says"


def on_words(feed: Any) -> str:
    """Return how the power of a feed comes on: the way back of `cut_words`."""
    if not feed.battery:
        return f"switch {feed.id} on"
    fuse = fuse_words(feed)
    return f"put the {fuse} fuse of {feed.id} in" if fuse else f"connect {feed.id}, as its maker says"


def first_on(feed: Any) -> str:
    """Return what is done before a source is measured for the first time; "" for one that has been fed already."""
    if feed.table != "feed":
        fed = any(inlet.source is not None for inlet in feed.inlets)
        return (
            ""
            if fed
            else f"cut the power; connect {feed.id} to what feeds it, which the plan does not say; then power on"
        )
    fuse = fuse_words(feed)
    how = "as its maker says" if feed.battery else "switched off"
    then = f"put its {fuse} fuse in" if fuse else "then power on"
    return f"cut the power; with nothing on it, connect {feed.id} {how}; {then}"


def ready(plan: Plan, inlets: list[InletPoint]) -> str:
    """Return what is done before the plugs of a thing are measured: all the way to them carries power, nothing else."""
    thing = inlets[0].thing
    way = feeders(thing)
    on = [one.id for one in plan.order if one.id in way]
    words = [
        f"cut the power; connected {'are' if len(on) > 1 else 'is'} {listed(on, None)}, and what leads to {thing.id}, "
        "its end free: nothing else"
    ]
    for source in dict.fromkeys(inlet.source for inlet in inlets):
        if source is not None and source.spec is not source.thing and fuse_words(source.spec):
            words.append(f"put the {fuse_words(source.spec)} fuse of {source.name} in")
    return "; ".join([*words, "then power on"])


def goes_in(thing: Any, inlets: list[InletPoint], plug: Callable[[str], Any]) -> str:
    """Return what is done before a thing is measured by itself.

    Ends that go in one by one, and are told by nothing but marks, can be exchanged after they were measured.
    """
    parts = [plug(inlet.spec.plug) for inlet in inlets if inlet.spec.plug]
    again = ""
    if any(part is not None and part.single for part in parts):
        again = (
            "ring each end through again where it sits, from its source to its own terminal and to no other; "
        )
    words = ["its bays empty"] if thing.table == "storage" else []
    if thing.table == "inline" and fuse_words(thing):
        words.append(f"its {fuse_words(thing)} fuse in")
    if getattr(thing, "what", None) == "switch":
        words.append("switched on")
    if any(part is not None and part.keyed is False and part.pins and not part.single for part in parts):
        words.append("its pins counted from the end of the row")
    told = ", ".join([f"connect {thing.id}", *words])
    return f"cut the power; when its plug shows less than 1 V, {told}; {again}then power on"


def set_words(plan: Plan, outlet: OutletPoint) -> str:
    """Return that a source is set first: an adjustable one, or one that comes with other volts."""
    spec: Any = outlet.spec
    part = plan.shelf.find(getattr(outlet.thing, "part", None) or "")
    rails = part.raw.get("rail", ()) if part is not None else ()
    comes = next((rail.get("volts") for rail in rails if rail.get("id") == outlet.id), None)
    own = comes is not None and spec.volts is not None and read_quantity(VOLTS, comes) != spec.volts
    if getattr(spec, "kind", None) != "adjustable" and not own:
        return ""
    return "with the probes on it, set it to this" + (f", from the {comes} that it comes with" if own else "")

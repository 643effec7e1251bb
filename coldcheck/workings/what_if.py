"""A net as it would be after a change: what a remedy is proven by before it is offered."""

from __future__ import annotations

from collections.abc import Callable

from .corners import solved
from .net import Branch, Net

__all__ = ["variant"]


def variant(net: Net, change: Callable[[Branch], None], quick: bool = False) -> Net:
    """Return a net, and all that it is solved with, after ``change`` was called with a copy of every branch.

    What the converters below ask stays as it is: a change of one net moves the volts of what feeds it, not its own.
    ``quick`` solves nets that hang together only in the corners that decide now, so that what fails there fails.
    """
    copies = [_changed(other, change) for other in net.together]
    if net.group:
        from .circuits import Group

        deciding = {setting for other in net.together for setting, _ in other.worst.deciding} if quick else ()
        Group(copies, list(net.group.inside)).solve(deciding)
    else:
        copies[0].nominal, copies[0].worst = solved(copies[0])
    return copies[net.together.index(net)]


def _changed(net: Net, change: Callable[[Branch], None]) -> Net:
    copy = Net(net.root)
    copy.stem, copy.missing = net.stem, net.missing
    copy.branches = [branch.again() for branch in net.branches]
    for branch in copy.branches:
        change(branch)
    moments = {0.0}
    for branch in copy.branches:
        moments.update(at for at, _ in branch.steps or ())
        moments.update(at for steps in branch.extra or () for at, _ in steps)
    copy.starts = sorted(moments)
    return copy

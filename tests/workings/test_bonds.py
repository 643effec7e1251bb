"""Bonds: which cables count as one link."""

import networkx as nx  # type: ignore[import-untyped]
import pytest

from coldcheck.workings.bonds import Bond

from .conftest import Worked

SWITCH = '[[switch]]\nid = "{}"\nports = 8\n'
TWO = SWITCH.format("s1") + SWITCH.format("s2")
LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
NAMED = LINK + 'bond = "{}"\n'
NODE = '[[node]]\nid = "{}"\n{}[[node.port]]\nid = "a"\nto = "{}"\n[[node.port]]\nid = "b"\nto = "{}"\n'


def of(worked: Worked, text: str, faulty: bool = False) -> list[Bond]:
    """Return the bonds of a plan."""
    found = worked(text, faulty=faulty).working("bonds")
    assert isinstance(found, list)
    return found


def test_cables_of_one_name_are_one_bond(worked: Worked) -> None:
    """Every cable with a bond is in one bond, those of a node by the node's name for it, and the rest in none."""
    text = (
        TWO
        + NODE.format("n1", 'bond = "b"\n', "s1.1", "s1.2")
        + NODE.format("n2", 'bond = "b"\n', "s1.3", "s1.4")
    )
    text += (
        NAMED.format("s1.5", "s2.5", "t") + NAMED.format("s1.6", "s2.6", "t") + LINK.format("s1.7", "s2.7")
    )
    found = of(worked, text)
    assert [(bond.name, len(bond.lines)) for bond in found] == [("n1.b", 2), ("n2.b", 2), ("t", 2)]
    assert len({id(line) for bond in found for line in bond.lines}) == 6


def test_whether_they_join_the_same_two_things(worked: Worked) -> None:
    """Cables join the same two things just where a simple graph of them, by networkx, has one edge."""
    texts = [
        NAMED.format("s1.5", "s2.5", "t") + NAMED.format("s2.6", "s1.6", "t"),
        NODE.format("n1", 'bond = "b"\n', "s1.1", "s2.1"),
        '[[node]]\nid = "n1 .. n2"\n' + NAMED.format("n1", "s1.1", "t") + NAMED.format("n2", "s2.2", "t"),
    ]  # fmt: skip
    for text in texts:
        for bond in of(worked, TWO + text):
            graph = nx.Graph([tuple(sorted(ends)) for ends in bond.ends])
            assert bond.together == (graph.number_of_edges() == 1)
            assert bond.common == {n for n, degree in nx.MultiGraph([tuple(e) for e in bond.ends]).degree
                                   if degree == len(bond.ends)}  # fmt: skip


@pytest.mark.parametrize(
    ("own", "size"), [("", 2), ('bond = "b"\n', 3)], ids=["by its thing alone", "by its own word"]
)
def test_a_management_port_in_a_bond(worked: Worked, own: str, size: int) -> None:
    """A management port is in the bond of its thing only where it says so itself."""
    text = TWO + NODE.format("n1", 'bond = "b"\n', "s1.1", "s1.2")
    text += '[[node.port]]\nid = "m"\nfor = "management"\nto = "s2.1"\n' + own
    (bond,) = of(worked, text)
    assert len(bond.lines) == size


def test_ports_of_a_switch_name_a_bond(worked: Worked) -> None:
    """Where the switch says it of two of its ports, what is plugged in there is one bond of the switch."""
    text = (
        SWITCH.format("sw")
        + '[[switch.port]]\nid = "1 .. 2"\nbond = "x"\n'
        + NODE.format("n1", "", "sw.1", "sw.2")
    )
    (bond,) = of(worked, text)
    assert (bond.name, bond.ends) == ("sw.x", [frozenset(("n1", "sw"))] * 2)
    assert [point.name for point in bond.points()] == ["n1.a", "n1.b", "sw.1", "sw.2"]


@pytest.mark.parametrize(
    ("more", "waits"),
    [
        (NAMED.format("s1.6", "s2.99", "t"), True),
        (NODE.format("n1", "", "s1.1", "s1.99"), False),
        ("", False),
    ],
)
def test_a_bond_may_wait_for_a_cable(worked: Worked, more: str, waits: bool) -> None:
    """A bond waits for a cable where a link of the plan leads nowhere, not where another thing's cable does."""
    (bond,) = of(worked, TWO + NAMED.format("s1.5", "s2.5", "t") + more, faulty=True)
    assert bond.waits == waits


def test_a_bond_that_leaves_the_box(worked: Worked) -> None:
    """An uplink in a bond has the name of where it goes as its other end."""
    text = '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1 .. 2"\nbond = "x"\n'
    text += "".join(f'[[uplink]]\nfrom = "sw.{n}"\nto = "the hall"\n' for n in (1, 2))
    (bond,) = of(worked, text)
    assert bond.together
    assert bond.common == {"sw", "the hall"}

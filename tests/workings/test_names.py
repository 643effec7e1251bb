"""What machines are called, and the names that are offered instead of unlawful ones."""

import datetime

import pytest

from coldcheck import Put, ours
from coldcheck.engine.findings import Finding
from coldcheck.engine.running import judge
from coldcheck.plan.edit import apply
from coldcheck.plan.model import Plan
from coldcheck.plan.parts import Shelf
from coldcheck.workings import names

NODE = '[[node]]\nid = "{}"\naddress = "{}"\n'
LAB = '[plan]\ndomain = "lab.internal"\n'


def read(text: str) -> Plan:
    """Return a plan without the parts shelf."""
    return ours.read_plan("plan.toml", text.encode(), Shelf())


def called(text: str) -> list[tuple[str, str]]:
    """Return every host name of a plan, alone and with its domain."""
    return [(name.name, name.full) for name in names.host_names(read(text))]


def found(text: str) -> list[Finding]:
    """Return what the rules of host names say of a plan."""
    book = ours.rulebook(entry_points=False)
    return judge(read(text), book, datetime.date(2026, 1, 1), only=["names"]).findings


def test_who_has_a_name() -> None:
    """Things with an address, at a port too, or a cable, or a name; a switch by address or name; no fan, no loner."""
    text = '[[switch]]\nid = "sw"\nports = 8\n[[switch]]\nid = "core"\naddress = "10.20.0.2"\n'
    text += '[[node]]\nid = "n1"\nport = "sw.1"\n[[node]]\nid = "n2"\n[[node]]\nid = "n3"\nname = "web"\n'
    text += '[[storage]]\nid = "st"\n[[storage.port]]\nid = "a"\naddress = "10.20.0.3"\n[[fan]]\nid = "f1"\n'
    text += '[[appliance]]\nid = "cam"\nport = "sw.2"\n'
    assert sorted(name for name, _ in called(text)) == ["cam", "core", "n1", "st", "web"]


@pytest.mark.parametrize(
    ("name", "full"),
    [
        ("web", "web.lab.internal"),
        ("web.lab.internal", "web.lab.internal"),
        ("Web.LAB.Internal", "Web.LAB.Internal"),
        ("web.lab.internal.", "web.lab.internal"),
        ("web.shed.internal.", "web.shed.internal"),
        ("web.shed", "web.shed.lab.internal"),
        ("lab.internal", "lab.internal.lab.internal"),
    ],
)
def test_the_domain_stands_behind_a_name_once(name: str, full: str) -> None:
    """The domain of the plan is added unless it is there, or a dot closes the name (RFC 1034 section 3.1)."""
    text = LAB + NODE.format("n1", "10.20.0.11") + f'name = "{name}"\n'
    assert called(text) == [(name, full)]
    assert called(text.removeprefix(LAB)) == [(name, name.removesuffix("."))]


def test_a_domain_that_ends_in_a_dot() -> None:
    """A final dot of the domain is no part of it."""
    assert called('[plan]\ndomain = "lab.internal."\n' + NODE.format("n1", "10.20.0.11")) == [
        ("n1", "n1.lab.internal")
    ]


@pytest.mark.parametrize(
    ("ids", "value"),
    [
        ("n_1", "n-1"),
        ("n_1 .. n_4", "n-1 .. n-4"),
        ("n_01 .. n_04", "n-01 .. n-04"),
        ("a_8 .. a_11", "a-8 .. a-11"),
    ],
)
def test_one_edit_serves_a_span(ids: str, value: str) -> None:
    """Names with an underscore get one with a hyphen, as one text for a span; the plan is clean with it."""
    count = int(ids.rpartition("_")[2]) - int(ids.partition(" ")[0].rpartition("_")[2]) + 1
    text = NODE.format(ids, f"10.20.0.11 .. 10.20.0.{10 + count}" if count > 1 else "10.20.0.11")
    (finding,) = found(text)
    assert finding.edits == (Put(("node", 0, "name"), value),)
    assert found(apply(text.encode(), finding.edits).decode()) == []


def test_no_edit_makes_a_clash() -> None:
    """Where the name with a hyphen is another machine's name or id, or two would get one, no edit is offered."""
    text = NODE.format("n_1", "10.20.0.11")
    for other in (NODE.format("N-1", "10.20.0.12"), NODE.format("x", "10.20.0.12") + 'name = "n-1"\n'):
        finding = found(text + other)[0]
        assert (finding.rule, finding.edits) == ("names.label", ())
    two = '[[node]]\nid = ["a_-1", "a__1"]\naddress = ["10.20.0.11", "10.20.0.12"]\n'
    assert [finding.edits for finding in found(two) if finding.rule == "names.label"] in ([()], [(), ()])


def test_one_slip_is_one_finding() -> None:
    """Each slip in names is told once, by one rule, however many machines have it."""
    slips = {
        "names.label": NODE.format("n_1 .. n_9", "10.20.0.11 .. 10.20.0.19"),
        "names.number": NODE.format("1 .. 9", "10.20.0.11 .. 10.20.0.19"),
        "names.clash": NODE.format("n1 .. n9", "10.20.0.11 .. 10.20.0.19") + 'name = "n"\n',
        "names.reserved": LAB + NODE.format("localhost", "10.20.0.11"),
        "names.crossed": NODE.format("n1 .. n9", "10.20.0.11 .. 10.20.0.19") + 'name = "n2 .. n10"\n',
        "names.domain": NODE.format("n1 .. n9", "10.20.0.11 .. 10.20.0.19")
        + 'name = "n1.local .. n9.local"\n',
        "names.elsewhere": LAB + NODE.format("n1", "10.20.0.11") + 'name = "n1.shed.internal"\n',
    }
    for rule, text in slips.items():
        assert [finding.rule for finding in found(text)] == [rule], text
    local = LAB.replace("internal", "local") + NODE.format("n1", "10.20.0.11") + 'name = "n1.lab.local"\n'
    assert [(f.rule, f.path, f.edits) for f in found(local)] == [("names.domain", ("plan", "domain"), ())]
    bad = LAB.replace("lab", "my_lab") + NODE.format("n1", "10.20.0.11") + 'name = "n1.my_lab.internal"\n'
    assert [(f.rule, f.path) for f in found(bad)] == [("names.domain", ("plan", "domain"))]

"""Values that are more than one number: runs, cables, fuses, surges, rates, draws; and the plain kinds."""

import datetime
from collections.abc import Callable
from typing import Any

import pytest

from coldcheck.dc import fuse_data
from coldcheck.plan import kinds as k
from coldcheck.plan import quantities as q
from coldcheck.plan.keys import ADDRESS, OCTETS, RATE, SHARE, SPEED, VLAN, VLANS, VOLTS, VOLTS_RANGE, WORD
from coldcheck.plan.kinds import Cable, Draw, Fuse, Kind, Rate, Run
from coldcheck.plan.quantities import Wrong


def refused(read: Callable[[Any], Any], raw: Any) -> str:
    """Return what is said of a value that must be refused."""
    with pytest.raises(Wrong) as caught:
        read(raw)
    return f"{caught.value.expected}; {caught.value.hint}"


@pytest.mark.parametrize(
    ("text", "run"),
    [
        ("18 AWG, 420 mm", Run(gauge=18, length=0.42)),
        ("420 mm,18 AWG", Run(gauge=18, length=0.42)),
        ("18AWG, 420mm", Run(gauge=18, length=0.42)),
        ("0.75 mm2, 1 m, 2 x", Run(area=0.75, length=1, parallel=2)),
        (
            "0.75 mm², 1 m, 2x, solid, aluminium",
            Run(area=0.75, length=1, parallel=2, form="solid", metal="aluminium"),
        ),
        (
            "18 AWG, 1 m, copper-clad, flexible",
            Run(gauge=18, length=1, metal="copper-clad-aluminium", form="flexible"),
        ),
        ("20 mohm", Run(ohms=0.02)),
        ("20 AWG", Run(gauge=20)),
        ("1 m", Run(length=1)),
        ("18 AWG, 10 in", Run(gauge=18, length=0.254)),
    ],
)
def test_runs(text: str, run: Run) -> None:
    """A run is gauge or area, length, and what else is known, in any order; or plain ohms."""
    assert k.read_run(text) == run


def test_a_run_says_whether_its_resistance_is_known() -> None:
    """Ohms alone will do; else length and thickness must both be said."""
    known = [k.read_run(text).known for text in ("20 mohm", "18 AWG, 1 m", "0.5 mm2, 1 m", "18 AWG", "1 m")]
    assert known == [True, True, True, False, False]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("18 AWG, 20 AWG", '"20 AWG" says the same thing again'),
        ("18 AWG, 0.75 mm2", "give the gauge or the area, not both"),
        ("18 AWG, 420", 'the unit is missing: a length is written "420 mm"'),
        ("18 awg, 1 m", 'write "18 AWG"'),
        ("18 AWG, 1 mile", '"1 mile" is not understood'),
        ("18 AWG, 0 m", "it must be more than zero"),
        ("18 AWG, ", '"" is not understood'),
        ("copper", "a lead, written like"),
        ("2 x", "a lead, written like"),
        ("0 x, 1 m", '"0 x" is not understood'),
        ("50 AWG, 1 m", "it must lie between -3 AWG and 40 AWG"),
    ],
)
def test_bad_runs(text: str, says: str) -> None:
    """A run that repeats or contradicts itself, lacks a unit or is no run at all is refused."""
    said = refused(k.read_run, text)
    assert says in said
    assert 'a lead, written like "18 AWG, 420 mm"' in said


@pytest.mark.parametrize(
    ("text", "cable"),
    [
        ("cat 6, 2 m", Cable("6", 2.0)), ("cat6a", Cable("6A", None)), ("Cat 5E, 50 cm", Cable("5e", 0.5)),
        ("2 m", Cable(None, 2.0)), ("cat 8", Cable("8", None)), ("3 m, cat 7a", Cable("7A", 3.0)),
    ],
)  # fmt: skip
def test_cables(text: str, cable: Cable) -> None:
    """A cable is a category, a length, or both."""
    assert k.read_cable(text) == cable


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("cat 4, 2 m", "a data cable"),
        ("cat 6, 2", 'the unit is missing: write "2 m"'),
        ("cat 6, cat 5", '"cat 5" says the same thing again'),
        ("2 m, 3 m", '"3 m" says the same thing again'),
        ("", "a data cable"),
    ],
)
def test_bad_cables(text: str, says: str) -> None:
    """An unknown category, a bare number and a thing said twice are refused."""
    assert says in refused(k.read_cable, text)


@pytest.mark.parametrize(
    ("text", "fuse"),
    [
        ("15 A blade", Fuse(15, "blade")), ("15 A", Fuse(15)), ("15A blade", Fuse(15, "blade")),
        ("500 mA ptc", Fuse(0.5, "ptc")), ("7.5 A  slow", Fuse(7.5, "slow")),
        ("15 A blade, 58 V, 1 kA", Fuse(15, "blade", 58, 1000)), ("15 A,1kA", Fuse(15, None, None, 1000)),
        ("2 A iec-slow, 1500 A, 125V", Fuse(2, "iec-slow", 125, 1500)), ("15 A, 58 V", Fuse(15, None, 58)),
    ],
)  # fmt: skip
def test_fuses(text: str, fuse: Fuse) -> None:
    """A fuse is rated amps and, where said, one of the known kinds, its volts and what it breaks, in any order."""
    assert k.read_fuse(text) == fuse


def test_kinds_of_fuse_are_those_with_gates() -> None:
    """A plan names just the kinds of fuse that figures are published of; the reader does not import them for that."""
    assert set(k._FUSES) == set(fuse_data.KINDS)
    assert all(k.read_fuse(f"5 A {kind}").kind == kind for kind in fuse_data.KINDS)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("15 A bladder", "kinds of fuse: blade, glass, fast, slow, ptc"),
        ("15", 'the unit is missing: write "15 A"'),
        ("15 a", 'write "15 A"'),
        ("0 A blade", "it must be more than zero"),
        ("blade", "a fuse, written like"),
        ("15 V", '"V" is no unit'),
        ("15 A blade, 58", '"58" is not understood: behind the fuse stand its volts'),
        ("15 A blade, 58 W", '"15 A blade, 58 V, 1 kA"'),
        ("15 A blade,", '"" is not understood'),
        ("15 A blade, slow", '"slow" is not understood'),
        ("15 A blade, 58 v", 'write "58 V"'),
        ("15 A blade, 0 V", "it must be more than zero, and at most 1000 V"),
        ("15 A blade, 2000 kA", "it must be more than zero, and at most 1e+06 A"),
        ("15 A blade, 58 V, 32 V", '"32 V" says the same thing again'),
        ("58 V, 15 A blade", "a fuse, written like"),
    ],
)
def test_bad_fuses(text: str, says: str) -> None:
    """An unknown kind, a rating that is none, and what follows it in other units or twice are refused."""
    said = refused(k.read_fuse, text)
    assert says in said
    assert said.startswith("a fuse")


@pytest.mark.parametrize(
    ("text", "draw"),
    [
        ("1.25 A", Draw(1.25, "A")), ("1.25A", Draw(1.25, "A")), ("250 mA", Draw(0.25, "A")), ("6 W", Draw(6, "W")),
        ("47 ohm", Draw(47, "ohm")), ("0 W", Draw(0, "W")),
    ],
)  # fmt: skip
def test_draws(text: str, draw: Draw) -> None:
    """A draw is amps, watts or ohms, and says which."""
    assert k.read_draw(text) == draw


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2", 'the unit is missing: write "2 A"'),
        ("6 w", 'write "6 W"'),
        ("3 amps", 'write "3 A"'),
        ("5 V", '"V" is no unit of a draw: use A, mA, W or ohm'),
        ("-1 A", "it must lie between 0 A and 10000 A"),
        ("much", "what it draws"),
    ],
)
def test_bad_draws(text: str, says: str) -> None:
    """A draw in something else than amps, watts or ohms is refused, and a slip gets its hint."""
    assert says in refused(k.read_draw, text)


def test_rates() -> None:
    """A rate has a time only where one is said."""
    assert k.read_rate("30 A for 10 s") == Rate(30, 10)
    assert k.read_rate("30 A") == Rate(30, None)
    assert k.read_rate("30 A for 200 ms") == Rate(30, 0.2)
    assert "unit is missing" in refused(k.read_rate, "30 A for 10")
    assert "more than zero" in refused(k.read_rate, "0 A for 10 s")


def test_surges() -> None:
    """A surge is one step or several, all in one unit; together they say how long it lasts."""
    surge = k.Drawn().read(["2.0 A for 10 s", "1 A for 500 ms"])
    assert surge.steps == ((2.0, 10.0), (1.0, 0.5))
    assert surge.unit == "A"
    assert surge.seconds == 10.5
    assert k.Drawn().read("24 W for 5 s").unit == "W"


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        ("2 A", 'say for how long: "2 A for 10 s"'),
        (["2 A for 1 s", "3 W for 1 s"], "give all steps in one unit"),
        ([], "give all steps in one unit"),
        ("4 ohm for 1 s", "what it draws at the start"),
        ([2], "what it draws at the start"),
        ("2 A for 10", "the unit is missing"),
    ],
)
def test_bad_surges(raw: Any, says: str) -> None:
    """A surge without a time, in mixed units or in ohms is refused."""
    assert says in refused(k.Drawn().read, raw)


@pytest.mark.parametrize(
    ("kind", "raw", "value"),
    [
        (k.Flag(), True, True),
        (k.Count(1, 8), 8, 8),
        (k.Date(), datetime.date(2027, 6, 30), datetime.date(2027, 6, 30)),
        (k.Choice("one", "shared"), "one", "one"),
        (k.Position(), ["0 mm", "12 cm", "-1 m"], (0.0, 0.12, -1.0)),
        (k.Pins(), {"1": "5v"}, {"1": "5v"}),
        (k.Several(k.Ref()), "a.b", ("a.b",)),
        (k.Several(k.Ref()), ["a.b", "c"], ("a.b", "c")),
        (k.Stretch(), "10.0.0.1 .. 10.0.0.9", ("10.0.0.1", "10.0.0.9")),
        (k.Stretch(), "10.0.0.1", ("10.0.0.1", "10.0.0.1")),
        (k.Id(), "n1", "n1"),
        (k.Id(dots=True), "usb-2.0", "usb-2.0"),
        (VOLTS_RANGE, "4.75 V .. 5.25 V", (4.75, 5.25)),
        (RATE, "30 A", Rate(30, None)),
        (WORD, "", ""),
    ],
)
def test_plain_kinds(kind: Kind, raw: Any, value: Any) -> None:
    """Each kind reads what it is for, and reads it alike the second time, when it is remembered."""
    assert kind.read(raw) == value
    assert kind.read(raw) == value


@pytest.mark.parametrize(
    ("kind", "raw", "says"),
    [
        (k.Flag(), "true", "true or false, without quotes"),
        (k.Flag(), 1, "true or false, without quotes"),
        (k.Count(1, 8), 9, "a whole number from 1 to 8"),
        (k.Count(1, 8), True, "a whole number"),
        (k.Count(1, 8), 2.0, "a whole number"),
        (k.Count(1, 8), "2", "write a whole number without quotes: 2"),
        (OCTETS, "9k", "write a whole number without quotes: 9000"),
        (OCTETS, "9000", "without quotes: 9000"),
        (OCTETS, 9000.0, "without quotes: 9000"),
        (OCTETS, "jumbo", "without quotes: 9000"),
        (VLAN, 70000, "a VLAN id from 1 to 4094, without quotes"),
        (VLAN, "ten", "without quotes: 10"),
        (VLANS, "10, 20", "write [10, 20]"),
        (VLANS, "10", "write it without quotes: 10"),
        (VLANS, "all", "write each one: [10, 20]"),
        (VLANS, "10-20", '"10-20" is no run that goes up'),
        (VLANS, [10, "29 .. 20"], '"29 .. 20" is no run that goes up'),
        (k.Choice("class 2", "class 3"), 3, 'write "class 3"'),
        (k.Choice("class 2", "class 3"), "3", 'write "class 3"'),
        (SPEED, 20, 'write "20 Mbit/s" or "1 Gbit/s"'),
        (SPEED, "20", 'write "20 Mbit/s" or "1 Gbit/s"'),
        (k.Date(), "2027-06-30", "without quotes"),
        (k.Date(), datetime.datetime(2027, 6, 30), "a day"),
        (k.Choice("one", "shared"), "share", 'did you mean "shared"?'),
        (k.Choice("one", "shared"), 3, "write it in quotes"),
        (k.Position(), ["0 mm", "1 mm"], "three lengths"),
        (k.Position(), ["0 mm", "1 mm", 3], "three lengths"),
        (k.Position(), ["0 mm", "1 mm", "3 A"], "a place"),
        (k.Pins(), {"1": 5}, "a table of pins"),
        (k.Pins(), "5v", "a table of pins"),
        (k.Several(k.Ref()), [], "the list is empty"),
        (k.Several(k.Ref()), [["a"]], "a list within a list deals nothing out"),
        (k.Ref(), "", "a thing or one of its points"),
        (k.Ref(), "a b", "a thing or one of its points"),
        (k.Ref(), "a\tb", "a thing or one of its points"),
        (k.Id(), "n.1", "a dot parts a thing from its point"),
        (k.Id(), "n 1", "without blanks"),
        (k.Id(), "", "a short name"),
        (k.Id(), "n" * 64, "a short name"),
        (k.Id(), "<b>", "a short name"),
        (k.Id(dots=True), "...", "a short name"),
        (k.Text(), 5, 'write it in quotes: "5"'),
        (k.Text(), ["a"], "write one value, without brackets"),
        (VOLTS, {"a": 1}, "a table does not fit here"),
        (VOLTS, 5, 'the unit is missing: write "5 V"'),
        (VOLTS, 5.5, 'the unit is missing: write "5.5 V"'),
        (VOLTS, True, 'write it in quotes, like "5 V"'),
        (SHARE, 20, 'the unit is missing: write "20 %"'),
        (ADDRESS, 10, 'write it in quotes, like "10.20.0.11"'),
    ],
)
def test_plain_kinds_refuse(kind: Kind, raw: Any, says: str) -> None:
    """Each kind refuses what is not its own, with what it expects or what to write."""
    assert says in refused(kind.read, raw)


def test_a_dot_is_no_slip_where_dots_are_allowed() -> None:
    """A part's name may hold dots, so its refusal does not blame them."""
    assert "a dot parts" not in refused(k.Id(dots=True).read, "a b.c")


def test_what_is_remembered_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """A kind forgets all when it has remembered too much, and still reads right."""
    monkeypatch.setattr(k, "_MOST_REMEMBERED", 3)
    kind = k.Quantity(q.VOLTS)
    assert [kind.read(f"{n} V") for n in range(10)] == list(range(10))
    assert len(kind.memo) <= 3

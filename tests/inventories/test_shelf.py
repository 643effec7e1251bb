"""The parts shelf: every part reads, every figure says where it is from, and published sums come out."""

import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan import poe
from coldcheck.plan.keys import PLUG
from coldcheck.plan.kinds import Id, Ref, Text
from coldcheck.plan.parts import Part, Shelf
from coldcheck.plan.problems import PlanUnreadable
from coldcheck.plan.reading import read_tables
from coldcheck.plan.tables import PART_KINDS, TABLES, Key, Spec, spec_of

FOLDER = Path(__file__).parents[2] / "inventories" / "parts"
PARTS = {part.id: part for part in Shelf([FOLDER]).every()}
THINGS = sorted(part.id for part in PARTS.values() if part.kind in TABLES)

# A source ends with how sure it is; these are the only ways to say so.
MARKS = ("(read)", "(read, second-hand)", "(from memory)", "(computed)", "common practice")

# Plans and documents name these parts, so they stay.
PROMISED = re.findall(
    r"\S+",
    """
    board-1core-5v-1a board-4core-5v-2a5 board-4core-5v-3a board-4core-5v-5a board-8core-12v-2a
    mini-pc-12v-to-19v storage-carrier-4bay storage-carrier-2bay backplane-passive-4bay hdd-3.5-in
    hdd-3.5-in-server hdd-2.5-in-5v ssd-2.5-in-sata ssd-m2-nvme switch-5-gigabit switch-8-gigabit
    switch-10-poe-65w-18v-to-30v switch-8-poe-plus-120w-54v switch-16-gigabit switch-24-gigabit
    switch-8-2g5-2sfp switch-5-100m buck-24v-to-5v-25a buck-12v-to-5v-3a-module buck-12v-to-5v-10a
    dcdc-24v-to-5v-12v dcdc-atx-60w dcdc-atx-500w-wide boost-24v-to-54v-poe buck-adjustable-10a
    adapter-5v-3a adapter-12v-5a adapter-12v-2a brick-19v-90w battery-bus-24v battery-bus-12v
    bench-supply-30v-5a enclosed-5v-20a enclosed-12v-12a5 enclosed-24v-10a usb-hub-charger-5v-12a
    header-40 barrel-5.5-2.1 barrel-5.5-2.5 peripheral-4 peripheral-4-small sata-power screw-2
    terminal-5.08 ph-2.0 xh-2.5 vh-3.96 square-pin-2.54 usb-c usb-micro-b atx-24 atx-20 fan-3 fan-4
    blade-terminal genderless-30a fuse-holder-blade diode-schottky-15a splitter-barrel-1-to-4
    switch-toggle-10a run-bus-bar adapter-4pin-to-sata fan-40x10-12v fan-40x15-12v fan-40x28-12v
    fan-120x38-12v fan-80-12v-4wire fan-40-5v camera-poe-class-3 camera-poe-class-2 radio-12v-1a
    display-5v-2a access-point-poe-class-4
    """,
)


def thing(part_id: str) -> Any:
    """Return the thing of a plan that is nothing but this part."""
    kind = PARTS[part_id].kind
    text = f'[[{kind}]]\nid = "x"\npart = "{part_id}"\n'
    tables = read_tables("tiny.toml", text.encode(), Shelf([FOLDER]))
    (found,) = tables.of[kind]
    return found


def rows(part: Part) -> Iterator[tuple[str, Spec, dict[str, Any]]]:
    """Yield the part itself and each of its inner tables: how a source names it, its keys, what it says."""
    spec = spec_of(PART_KINDS[part.kind])
    yield "", spec, part.raw
    for word, (_, key) in spec.inner.items():
        written = part.raw.get(word, ())
        for n, row in enumerate(written if isinstance(written, list) else (), 1):
            yield f"{word}.{row.get('id', n)}.", spec_of(key.kind.struct), row  # type: ignore[attr-defined]


def figures(part: Part) -> set[str]:
    """Return every figure of a part as its sources name it; names, remarks and plugs are no figures."""
    return {
        before + word
        for before, spec, row in rows(part)
        for word in row
        if word not in spec.inner or not isinstance(row[word], list)
        if not _is_name(key_of(spec, word))
    }


def key_of(spec: Spec, word: str) -> Key:
    """Return what a key of a table holds."""
    return (spec.keys.get(word) or spec.flat_keys[word])[1]


def _is_name(key: Key) -> bool:
    return isinstance(key.kind, Text | Id | Ref) or key.kind is PLUG


def stated(part_id: str, key: str) -> list[Any]:
    """Return what the part itself and its inner tables state under one key."""
    return [row[key] for _, _, row in rows(PARTS[part_id]) if key in row]


def amps(thing: Any, inlet: str, figure: str) -> float:
    """Return one draw of one inlet [A]."""
    (value,) = [getattr(x, figure) for x in thing.inlet if x.id == inlet]
    assert value.unit == "A"
    return float(value.value)


def thing_pins(plug: str) -> dict[str, str]:
    """Return what each pin of a plug carries."""
    return dict(PARTS[plug].raw["pins"])


def where(pins: dict[str, str], signal: str) -> list[int]:
    """Return the numbers of the pins that carry a signal."""
    return sorted(int(pin) for pin, carries in pins.items() if carries == signal)


def test_there_is_enough_on_the_shelf() -> None:
    """At least 55 parts are there, of every kind, and each one that plans may count on."""
    assert len(PARTS) >= 55
    assert {part.kind for part in PARTS.values()} == set(PART_KINDS)
    assert not set(PROMISED) - set(PARTS)


def test_names_are_plain_and_given_once() -> None:
    """Every id is lower case with hyphens and dots, and no two parts share one, in one file or in two."""
    ids = re.findall(
        r'^\[\[part\]\]\nid = "(.*)"$', "\n".join(f.read_text() for f in FOLDER.glob("*.toml")), re.M
    )
    assert [name for name, times in Counter(ids).items() if times > 1] == []
    assert sorted(ids) == sorted(PARTS)
    assert [name for name in ids if not re.fullmatch(r"[a-z0-9][a-z0-9.-]*", name)] == []


def test_every_part_has_a_title() -> None:
    """People can read what each part is, and no two parts read alike."""
    titles = [part.raw.get("title", "") for part in PARTS.values()]
    assert all(titles)
    assert [title for title, times in Counter(titles).items() if times > 1] == []


@pytest.mark.parametrize("file", sorted(FOLDER.glob("*.toml")), ids=lambda file: file.name)
def test_every_file_is_read_as_parts_of_a_plan(file: Path) -> None:
    """Each file also reads as a plan that describes its parts itself: plugs are read this way only."""
    assert read_tables(file.name, file.read_bytes(), Shelf()).of == {}


def test_the_reader_does_refuse() -> None:
    """A plug with a key of something else is refused, so the test above can fail."""
    with pytest.raises(PlanUnreadable):
        read_tables("plan.toml", b'[[part]]\nid = "p"\nkind = "plug"\ntitle = "P"\nbays = 2\n', Shelf())


@pytest.mark.parametrize("part_id", THINGS)
def test_every_part_reads_as_a_thing(part_id: str) -> None:
    """A plan with nothing but this part reads, and the thing has what the part states."""
    found = thing(part_id)
    part = PARTS[part_id]
    assert found.title == part.raw["title"]
    for word in ("inlet", "outlet", "rail"):
        written = part.raw.get(word, [])
        assert len(getattr(found, word, ())) >= len(written)


@pytest.mark.parametrize("part_id", sorted(PARTS))
def test_every_figure_has_its_source(part_id: str) -> None:
    """Each figure has a source, no source stands without a figure, and each says how sure it is."""
    part = PARTS[part_id]
    assert set(part.source) == figures(part)
    assert [text for text in part.source.values() if not text.endswith(MARKS)] == []
    assert [text for text in part.source.values() if len(text.removesuffix("common practice")) < 10] == []


@pytest.mark.parametrize("part_id", sorted(PARTS))
def test_plugs_stand_on_the_shelf(part_id: str) -> None:
    """Every plug that a part names is a plug of the shelf."""
    plugs = set(stated(part_id, "plug"))
    assert {PARTS[plug].kind for plug in plugs} <= {"plug"}


@pytest.mark.parametrize("part_id", THINGS)
def test_points_have_names_of_their_own(part_id: str) -> None:
    """Rails, outlets, inlets, ports and connectors of a part share one name space without a clash."""
    found = thing(part_id)
    names = [
        p.id for word in ("inlet", "outlet", "rail", "connector", "port_") for p in getattr(found, word, ())
    ]
    names += [str(n) for n in range(1, (getattr(found, "bays", 0) or 0) + 1)]
    assert [name for name, times in Counter(names).items() if times > 1] == []


@pytest.mark.parametrize("part_id", THINGS)
def test_inner_references_lead_somewhere(part_id: str) -> None:
    """A pass-through names an inlet, an outlet its group, a pin of a connector a rail or the return."""
    found = thing(part_id)
    outlets = [*getattr(found, "outlet", ()), *getattr(found, "rail", ())]
    inlets = {x.id for x in getattr(found, "inlet", ())}
    assert {x.inlet for x in outlets if x.inlet} <= inlets
    assert {x.group for x in outlets if x.group} <= {x.id for x in getattr(found, "group", ())}
    for connector in found.connector if hasattr(found, "connector") else ():
        assert set((connector.pins or {}).values()) <= {x.id for x in outlets} | {"gnd"}


@pytest.mark.parametrize("part_id", THINGS)
def test_draws_rise_from_idle_to_peak(part_id: str) -> None:
    """Idle is not above typical, nor typical above peak, where all are given in one unit."""
    found = thing(part_id)
    for taker in [
        x for x in (getattr(found, "intake", None), *getattr(found, "inlet", ())) if hasattr(x, "idle")
    ]:
        draws = [d for d in (taker.idle, taker.typical, taker.peak) if d is not None]
        if len({d.unit for d in draws}) == 1:
            assert [d.value for d in draws] == sorted(d.value for d in draws)


@pytest.mark.parametrize("part_id", THINGS)
def test_ports_are_as_many_as_counted(part_id: str) -> None:
    """A switch names each of the ports it counts, 1 to n."""
    found = thing(part_id)
    if PARTS[part_id].kind == "switch":
        assert [x.id for x in found.port_] == [str(n) for n in range(1, found.ports + 1)]


@pytest.mark.parametrize("part_id", THINGS)
def test_every_draw_says_how_it_follows_the_volts(part_id: str) -> None:
    """Wherever a part draws, its load is said: power, current or resistance."""
    for before, spec, row in rows(PARTS[part_id]):
        if "load" in spec.words() and row.keys() & {"idle", "typical", "peak", "surge"}:
            assert "load" in row, before


def test_the_header_is_as_published() -> None:
    """5 V, 3.3 V and ground stand on the pins of the published 40-pin header tables; pin 40 is a signal."""
    pins = thing_pins("header-40")
    assert len(pins) == 40
    assert where(pins, "5v") == [2, 4]
    assert where(pins, "3.3v out") == [1, 17]
    assert where(pins, "gnd") == [6, 9, 14, 20, 25, 30, 34, 39]


def test_the_sata_plug_is_as_published() -> None:
    """3.3 V on 1 to 3, 5 V on 7 to 9, 12 V on 13 to 15, pin 11 for the start (SATA power connector tables).

    Three pins of 1.5 A make the published 4.5 A of a rail, 54 W at 12 V.
    """
    pins = thing_pins("sata-power")
    assert where(pins, "3.3v") == [1, 2, 3]
    assert where(pins, "5v") == [7, 8, 9]
    assert where(pins, "12v") == [13, 14, 15]
    assert where(pins, "spin_up") == [11]
    raw = PARTS["sata-power"].raw
    assert float(raw["amps"].split()[0]) * raw["contacts"] * 12 == pytest.approx(54)


def test_the_large_and_the_small_peripheral_plug_are_reversed() -> None:
    """The small 4-pin plug has the order of the large one backwards (from memory); 187 W pass the large one.

    11 A a pin on 12 V and on 5 V: PC hardware book, published 187 W.
    """
    large, small = thing_pins("peripheral-4"), thing_pins("peripheral-4-small")
    assert [large[str(n)] for n in (1, 2, 3, 4)] == [small[str(n)] for n in (4, 3, 2, 1)]
    assert float(PARTS["peripheral-4"].raw["amps"].split()[0]) * (12 + 5) == pytest.approx(187)


def test_the_atx_plugs_are_as_published() -> None:
    """The 24-pin plug is the 20-pin one with a 12 V, a 3.3 V, a 5 V and a ground more (ATX12V guide 2.x)."""
    more = Counter(thing_pins("atx-24").values()) - Counter(thing_pins("atx-20").values())
    assert more == {"12v": 1, "3.3v": 1, "5v": 1, "gnd": 1, "nc": 1}
    assert where(thing_pins("atx-20"), "3.3v") == [1, 2, 11]


@pytest.mark.parametrize(
    ("part_id", "figure", "watts"),
    [
        ("hdd-3.5-in", "idle", 9.30),  # 3.5 in desktop drive manual, table 6
        ("hdd-3.5-in", "typical", 13.0),  # the same: operating
        ("hdd-3.5-in-video", "idle", 5.33),  # 3.5 in video-class drive manual, table 2
        ("hdd-3.5-in-video", "typical", 7.97),  # the same: operating
        ("hdd-3.5-in-server", "idle", 3.74),  # 3.5 in server drive manual, table 4
        ("hdd-2.5-in-server", "idle", 2.71),  # 2.5 in server drive manual, table 2
    ],
)
def test_drive_watts_are_as_published(part_id: str, figure: str, watts: float) -> None:
    """The amps of both rails make the watts that the same manual gives, within its rounding."""
    drive = thing(part_id)
    sum_of_rails = 5 * amps(drive, "5v", figure) + 12 * amps(drive, "12v", figure)
    assert sum_of_rails == pytest.approx(watts, abs=0.1)


def test_a_drive_starts_with_the_watts_published() -> None:
    """The 500 GB server drive starts with 26.1 W on average, 34.2 W at the instant (its manual, table 4)."""
    inlets = {x.id: x.surge.steps for x in thing("hdd-3.5-in-server").inlet}
    instant, mean = (5 * inlets["5v"][i][0] + 12 * inlets["12v"][i][0] for i in (0, 1))
    assert mean == pytest.approx(26.14, abs=0.05)
    assert instant == pytest.approx(34.24, abs=0.05)


@pytest.mark.parametrize(
    ("part_id", "paper", "limit"), [("dcdc-atx-60w", 63.6, 63.0), ("dcdc-atx-500w-wide", 542.9, 500.0)]
)
def test_rails_together_exceed_the_limit_of_the_board(part_id: str, paper: float, limit: float) -> None:
    """The rails of both converter boards add up to the published sum, more than their limit.

    Worked examples from the sheet of the 60 W board and the manual of the 500 W board.
    """
    supply = thing(part_id)
    assert sum(abs(x.volts) * x.amps for x in supply.rail) == pytest.approx(paper, abs=0.3)
    assert supply.watts == limit


@pytest.mark.parametrize(
    ("part_id", "idle", "typical", "peak", "asks"),
    [
        ("board-1core-5v-1a", 0.10, 0.23, 0.35, 1.2),
        ("board-1core-5v-2a", 0.20, 0.32, 0.35, 1.8),
        ("board-4core-5v-2a", 0.22, 0.75, 0.82, 1.8),
        ("board-4core-5v-2a5", 0.30, 0.85, 1.34, 2.5),
        ("board-4core-5v-3a", 0.60, 1.20, 1.25, 3.0),
    ],
)
def test_boards_draw_what_is_published(
    part_id: str, idle: float, typical: float, peak: float, asks: float
) -> None:
    """Idle, mean and most under stress, and the supply asked for [A], are as the board documentation says."""
    intake = thing(part_id).intake
    assert [x.value for x in (intake.idle, intake.typical, intake.peak, intake.asks)] == [
        idle,
        typical,
        peak,
        asks,
    ]


def test_poe_parts_agree_with_the_classes() -> None:
    """What a PoE device draws at most is the power of its class, and no port gives more than its type.

    IEEE 802.3 clauses 33 and 145, class and type tables.
    """
    fed = [part.id for part in PARTS.values() if part.kind == "appliance" and "poe" in part.raw]
    assert len(fed) >= 4
    for part_id in fed:
        device = thing(part_id)
        most = poe.CLASSES[int(device.poe.removeprefix("class "))].pd_watts
        own = device.intake.peak.value
        assert own <= most if device.outlet else own == most
    for part in PARTS.values():
        for port in getattr(thing(part.id), "port_", ()) if part.kind == "switch" else ():
            if port.poe:
                assert port.poe_watts == poe.TYPES[int(port.poe.removeprefix("type "))].pse_watts


def test_usb_cables_have_the_ohms_their_clause_allows() -> None:
    """0.5 V out and 0.25 V back at the rated current make 250 mohm at 3 A, 150 at 5 A (USB Type-C 4.4.1)."""
    for part_id in ("cable-usb-c-3a", "cable-usb-c-5a"):
        intake = thing(part_id).intake
        assert intake.ohms == pytest.approx((0.5 + 0.25) / intake.amps)


def test_every_battery_says_that_it_is_one() -> None:
    """A bank gives far more than its rating into a short: its part says so, and no adapter does."""
    banks = {part.id for part in PARTS.values() if part.raw.get("battery")}
    assert banks == {part.id for part in PARTS.values() if part.id.startswith("battery-")}
    assert len(banks) >= 3


def test_diodes_and_fuses_say_what_they_lose() -> None:
    """A diode of the shelf has its drop or its ohms; a fuse its rating, unless it is a holder for one."""
    for part in PARTS.values():
        raw = part.raw
        if raw.get("what") == "diode":
            assert raw.keys() & {"drop", "ohms"}, part.id
        if raw.get("what") == "fuse" and "holder" not in part.id:
            assert "fuse" in raw, part.id

"""The commands. Thin: each reads its words, calls what does the work, and prints."""

from __future__ import annotations

import contextlib
import datetime
import gc
import importlib.util
import io
import shutil
import sys
import time
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from coldcheck import __version__, files, ours
from coldcheck.engine.findings import LEVELS, reaches
from coldcheck.engine.running import judge
from coldcheck.plan.parts import ShelfBroken
from coldcheck.plan.problems import PlanUnreadable, nearest
from coldcheck.plan.reading import MOST_BYTES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from coldcheck.engine.loading import Rulebook
    from coldcheck.formats.report import PlanReport
    from coldcheck.formats.text import Line
    from coldcheck.plan.model import Plan
    from coldcheck.plan.parts import Shelf
    from coldcheck.planner.trial import Bench
    from coldcheck.sheets.page import Source

__all__ = ["main"]

CLEAN, FOUND, WRONG = 0, 1, 2

_FOLDER = click.Path(path_type=Path)
_rules = click.option(
    "--rules",
    "folders",
    multiple=True,
    type=_FOLDER,
    metavar="FOLDER",
    help="Rules of your own, besides the built-in.",
)
_parts = click.option(
    "--parts",
    "shelves",
    multiple=True,
    type=_FOLDER,
    metavar="FOLDER",
    help="Parts of your own, besides the shelf.",
)

_form = click.option(
    "--as", "form", type=click.Choice(["text", "json"]), default="text", help="For people, or for programs."
)
#: What `--sheet` may name. Written out here, so that no other command has to import the sheets; a test holds it.
_SHEETS = (
    "parts", "shopping", "power", "wiring", "connectors", "cuts", "labels", "order", "start-up", "first-power",
    "ports", "addresses", "findings",
)  # fmt: skip
#: What `--paper` may name, likewise.
_PAPERS = ("A4", "Letter")
_write = click.option("--write", is_flag=True, help="Make the changes in the file.")


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="coldcheck %(version)s")
def main() -> None:
    """Judge the plan of a hand-built cluster before power is applied."""
    for stream in (sys.stdout, sys.stderr):
        # A plan may hold letters that a terminal or a pipe of another encoding cannot show.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


@main.command()
@click.argument("plans", nargs=-1, required=True, metavar="PLAN...")
@click.option(
    "--as", "form", type=click.Choice(["text", "json"]), default="text", help="For people, or for programs."
)
@click.option(
    "--stop",
    type=click.Choice(LEVELS),
    default="error",
    show_default=True,
    help="The least grave level that ends in 1.",
)
@click.option(
    "--only", multiple=True, metavar="RULE", help="Judge by this rule, or all of an area; may be given again."
)
@click.option("--waived", is_flag=True, help="Show what waivers accept, too.")
@click.option(
    "--day", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Hold waivers against this day."
)
@_rules
@_parts
def lint(
    plans: tuple[str, ...], form: str, stop: Any, only: tuple[str, ...], waived: bool,
    day: datetime.datetime | None, folders: tuple[Path, ...], shelves: tuple[Path, ...],
) -> None:  # fmt: skip
    """Judge plans by every rule.

    Ends in 0 when nothing reaches the stop level, in 1 when something does, in 2 when a plan cannot be read. What is
    open reaches the level that it leaves undecided.
    """
    gc.disable()  # a lint makes many objects, keeps nearly all of them, and ends
    book = ours.rulebook(folders)
    only = tuple(book.former(name) for name in only)
    _known(book, only)
    shelf = _shelf(book, shelves)
    today = day.date() if day else datetime.date.today()
    reports = [_judged(name, book, shelf, today, only) for name in plans]
    _print_reports(reports, form, waived)
    gc.freeze()  # the last search at the end of the process would walk them all for nothing
    if any(report.unreadable for report in reports):
        sys.exit(WRONG)
    found = any(reaches(located.finding, stop) for report in reports for located in report.found)
    sys.exit(FOUND if found else CLEAN)


def _judged(
    name: str, book: Rulebook, shelf: Shelf, today: datetime.date, only: tuple[str, ...]
) -> PlanReport:
    from coldcheck.formats.report import PlanReport, judged_report, unreadable_report

    try:
        text = files.read(name, MOST_BYTES)
        plan = ours.read_plan(name, text, shelf.again())
    except files.CannotRead as error:
        click.echo(f"coldcheck: error: {error}", err=True)
        return PlanReport(name, [], None, unreadable=True)
    except ShelfBroken as error:
        click.echo(f"coldcheck: error: the parts shelf cannot be read: {error}", err=True)
        return PlanReport(name, [], None, unreadable=True)
    except PlanUnreadable as error:
        return unreadable_report(error)
    judgement = judge(plan, book, today, only, time.perf_counter)
    return judged_report(name, plan.places, judgement.findings, judgement.judged)


def _known(book: Rulebook, names: Iterable[str]) -> None:
    areas = book.areas()
    for name in names:
        if name not in book.rules and name not in areas:
            near = nearest(name, [*book.rules, *areas])
            hint = f'; did you mean "{near}"?' if near else "; `coldcheck why` lists them"
            raise click.UsageError(f'no rule is called "{name}"{hint}')


def _shelf(book: Rulebook, folders: tuple[Path, ...]) -> Shelf:
    for folder in folders:
        if not folder.is_dir():
            raise click.UsageError(f"there is no folder of parts {folder}")
    return ours.shelf(book, folders)


def _print_reports(reports: list[PlanReport], form: str, waived: bool) -> None:
    if form == "json":
        from coldcheck.formats.machine import document

        click.echo(document(reports))
        return
    from coldcheck.formats.text import lines

    _print(lines(reports, waived))


def _print(lines: Iterable[Line]) -> None:
    from coldcheck.formats.text import plain, styled

    if not sys.stdout.isatty():
        for line in lines:
            click.echo(plain(line))
        return
    from rich.console import Console

    console = Console(highlight=False)
    for line in lines:
        console.print(styled(line), soft_wrap=True)


@main.command()
@click.argument("name", required=False, metavar="[RULE]")
@_rules
def why(name: str | None, folders: tuple[Path, ...]) -> None:
    """Say what a rule demands and why, with a bad and a good plan; without a name, list the rules.

    The name of a table, like node or supply.rail, lists the keys that may be written in it; that of an area, like
    polarity, lists its rules.
    """
    from coldcheck.formats import explain

    lines = explain.one_table(name) if name else None
    if lines is None and name in explain.OF_THE_ENGINE:
        lines = explain.one_of_the_engine(name)
    if lines is not None:
        _print(lines)
        return
    book = ours.rulebook(folders)
    if name is None:
        _print(explain.every_rule(book))
        return
    name = book.former(name)
    if name not in book.rules and (inside := explain.below(name)):
        raise click.UsageError(f"no table is called {name}; inside that one: {', '.join(inside)}")
    _known(book, [name])
    one = book.rules.get(name)
    _print(explain.one_rule(one) if one is not None else explain.every_rule(book, name))


@main.command()
@click.argument("words", nargs=-1, metavar="[WORD...]")
@_parts
def parts(words: tuple[str, ...], shelves: tuple[Path, ...]) -> None:
    """List the parts shelf, or what fits all the words: a kind, or a piece of a name or title.

    A whole name shows that part: its ratings, each with its source.
    """
    from coldcheck.formats.explain import every_part, one_part

    book = ours.rulebook()
    shelf = _shelf(book, shelves)
    try:
        whole = shelf.find(words[0]) if len(words) == 1 else None
        if whole is not None:
            _print(one_part(whole))
            return
        found = [part for part in shelf.every() if _fits(part, words)]
    except ShelfBroken as error:
        raise click.ClickException(f"the shelf cannot be read: {error}") from None
    if not found:
        raise click.UsageError(f"no part fits {' '.join(words)}; `coldcheck parts` lists all")
    _print(every_part(found))


def _fits(part: Any, words: Iterable[str]) -> bool:
    text = f"{part.id} {part.raw.get('title', '')}".lower()
    return all(word == part.kind or word.lower() in text for word in words)


@main.command()
@click.argument("plan", metavar="PLAN")
@click.option(
    "--scene",
    "words",
    multiple=True,
    type=click.Choice(["start", "wake", "all"]),
    help="Only this scene: the start; the waking of drives that sleep; all at once, as if every delay failed. "
    "May be given again.",
)
@click.option("--rail", metavar="NAME", default="", help="Only this feed, supply or rail.")
@click.option("--ways", is_flag=True, help="Also name the weakest link on the way to each inlet.")
@click.option(
    "--as", "form", type=click.Choice(["text", "json"]), default="text", help="For people, or for programs."
)
@_rules
@_parts
def rehearse(
    plan: str, words: tuple[str, ...], rail: str, ways: bool, form: str, folders: tuple[Path, ...],
    shelves: tuple[Path, ...],
) -> None:  # fmt: skip
    """Play the start-up of a plan in time: what each feed and rail gives, as a table and a plot.

    Without a scene it plays the start, and the waking where drives may sleep. It judges nothing itself; the last line
    says what a lint finds. Ends in 0 when it was played, in 2 when the plan cannot be read.
    """
    from coldcheck.formats import rehearsal as shows

    book = ours.rulebook(folders)
    read = _read_whole(plan, book, _shelf(book, shelves))
    made: dict[str, Any] = {"plan": read}
    played, energy = _made(book, made, "rehearsal"), _made(book, made, "energy")
    wanted = words or (("start", "wake") if played.sleepers else ("start",))
    shown = shows.Shown(plan, played, energy, tuple(dict.fromkeys(wanted)), rail)
    _known_source(shown, rail)
    if ways:
        shown.ways = shows.ways_of(_made(book, made, "arrivals"), _made(book, made, "weakest"))
    found = judge(read, book, datetime.date.today(), ("spinup", "volts")).findings
    shown.findings = [f for f in found if f.rule.partition(".")[0] in ("spinup", "volts", "engine")]
    if form == "json":
        click.echo(shows.document(shown))
        return
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else 80
    _print(shows.lines(shown, width, _can_show(shows.LETTERS)))


@main.command()
@click.argument("plan", metavar="PLAN")
@click.option(
    "--sheet",
    "wanted",
    multiple=True,
    type=click.Choice(_SHEETS),
    help="Only this sheet; may be given again.",
)
@click.option(
    "--as", "form", type=click.Choice(["text", "json"]), default="text", help="For people, or for programs."
)
@click.option(
    "--into",
    type=_FOLDER,
    metavar="FOLDER",
    help="Write all into files there: a page, CSV of each table, text and JSON of all, and the address files.",
)
@click.option(
    "--paper",
    "sizes",
    multiple=True,
    type=click.Choice(_PAPERS, case_sensitive=False),
    help="With --into: a PDF of all sheets and one of the labels for this paper, too; may be given again.",
)
@click.option(
    "--day", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Hold waivers against this day."
)
@_rules
@_parts
def sheets(
    plan: str, wanted: tuple[str, ...], form: str, into: Path | None, sizes: tuple[str, ...],
    day: datetime.datetime | None, folders: tuple[Path, ...], shelves: tuple[Path, ...],
) -> None:  # fmt: skip
    """Print what the bench needs, from parts and wiring schedule to the first-power sheet and the findings.

    A plan with errors gives sheets as well, each marked as not for building. Ends in 0 when they were made, in 2 when
    the plan cannot be read.
    """
    from coldcheck.sheets import bench

    if sizes and into is None:
        raise click.UsageError("--paper makes files: say where with --into FOLDER")
    book = ours.rulebook(folders)
    read = _read_whole(plan, book, _shelf(book, shelves))
    made: dict[str, Any] = {"plan": read}
    source, get = _sheets_of(read, book, made, day, wanted), partial(_made, book, made)
    shown = bench.Shown(source.pack, get("schedule"), get("first_power"))
    if into is not None:
        _write_folder(into, shown, source, get, dict.fromkeys(sizes))
    elif form == "json":
        click.echo(bench.document(shown))
    else:
        _print(bench.lines(shown))


def _sheets_of(
    plan: Plan, book: Rulebook, made: dict[str, Any], day: datetime.datetime | None,
    wanted: tuple[str, ...] = (),
) -> Source:  # fmt: skip
    """Return the sheets of a plan with all that a page is made of; ``made`` keeps workings."""
    from coldcheck.formats.report import judged_report
    from coldcheck.sheets.pack import NAMES, pack
    from coldcheck.sheets.page import Source

    today = day.date() if day else datetime.date.today()
    judgement = judge(plan, book, today, made=made)
    report = judged_report(plan.name, plan.places, judgement.findings, judgement.judged)
    get = partial(_made, book, made)
    errors = sum(reaches(finding, "error") for finding in judgement.findings)
    papers = pack(plan, get, report, errors, wanted or NAMES)
    return Source(papers, plan, report.found, get("first_power"), today, __version__)


def _tell(doing: str) -> None:
    """Say what takes a while, to a person who waits."""
    if sys.stderr.isatty():
        click.echo(f"coldcheck: {doing}", err=True)


def _write_folder(
    into: Path, shown: Any, source: Any, get: Callable[[str], Any], sizes: Iterable[str]
) -> None:
    from coldcheck.sheets import folder
    from coldcheck.sheets.address_files import address_files
    from coldcheck.sheets.page import page
    from coldcheck.sheets.prints import CannotPrint, prints

    try:
        listed = into / folder.LIST
        former = folder.former_of(files.read(str(listed), MOST_BYTES) if listed.is_file() else None)
        zones = [path for path in (into / folder.NAMES).glob("*.zone") if path.is_file()]
        texts = {path.name: files.read(str(path), MOST_BYTES).decode(errors="replace") for path in zones}
        addresses = address_files(source.plan, get, source.day, texts)
        printed: dict[str, bytes] = {}
        for size in sizes:
            _tell(f"setting type for {size}")
            printed.update(prints(source, size))
        made = folder.folder_of(shown, addresses, page(source), printed)
        files.write_all(str(into), made, folder.ours_by(former))
    except (files.CannotRead, files.CannotWrite, CannotPrint) as error:
        click.echo(f"coldcheck: error: {error}", err=True)
        sys.exit(WRONG)
    for line in addresses.left:
        click.echo(f"coldcheck: left out of {into / folder.NAMES}: {line}", err=True)
    click.echo(f"{len(made)} files in {into}")


@main.command()
@click.argument("plan", metavar="PLAN")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, help="On this port; without it, on one that is free."
)
@click.option(
    "--day", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Hold waivers against this day."
)
@_rules
@_parts
def view(
    plan: str, port: int, day: datetime.datetime | None, folders: tuple[Path, ...], shelves: tuple[Path, ...]
) -> None:
    """Show the page of all sheets in a browser on this machine, made anew each time the plan is saved.

    So it is when parts or rules of your own are saved. While a plan cannot be read, the last good page stays, with what
    is wrong above it. Ends with an interrupt; in 2 when the port is taken.
    """
    from coldcheck import view as live_page

    if importlib.util.find_spec("watchfiles") is None:
        raise click.ClickException(
            "to see a plan being saved needs watchfiles: install it, or coldcheck[view]"
        )
    book = ours.rulebook(folders)
    live = live_page.Live()

    def remake() -> None:
        page, broken = _page_of(plan, book, shelves, day)
        live.put(page, broken)
        if broken:
            click.echo(broken.rstrip("\n"), err=True)

    def watch() -> None:
        from watchfiles import watch as changes

        nonlocal book
        own = Path(plan).resolve()
        parts, rules = ({folder.resolve() for folder in several} for several in (shelves, folders))
        places = {place for place in {own.parent} | parts | rules if place.exists()}
        for changed in changes(*places, debounce=60, step=20, recursive=False, raise_interrupt=False):
            paths = {Path(name).resolve() for _, name in changed}
            ruled = any(path.suffix == ".py" and rules & {path, path.parent} for path in paths)
            if ruled:
                book = ours.rulebook(folders)
            if ruled or own in paths or any(path.parent in parts for path in paths):
                remake()

    remake()
    try:
        live_page.serve(live, port, lambda address: click.echo(f"{plan}: {address} until interrupted"), watch)
    except KeyboardInterrupt:
        pass  # it may come before there is anything that waits for it: that is the end that was asked for, too
    except OSError as error:
        click.echo(f"coldcheck: error: port {port} cannot be used: {error.strerror}", err=True)
        sys.exit(WRONG)


def _page_of(
    plan: str, book: Rulebook, shelves: tuple[Path, ...], day: datetime.datetime | None
) -> tuple[str | None, str]:
    """Return the page of a plan as it stands, or None and why there is none."""
    from coldcheck.formats.report import unreadable_report
    from coldcheck.formats.text import lines, plain
    from coldcheck.sheets.page import page

    try:
        read = ours.read_plan(plan, files.read(plan, MOST_BYTES), _shelf(book, shelves))
        return page(_sheets_of(read, book, {"plan": read}, day)), ""
    except files.CannotRead as error:
        return None, f"{error}\n"
    except ShelfBroken as error:
        return None, f"the parts shelf cannot be read: {error}\n"
    except PlanUnreadable as error:
        return None, "".join(f"{plain(line)}\n" for line in lines([unreadable_report(error)], False))


@main.command()
@click.argument("plan", metavar="PLAN")
@click.option(
    "--samples", type=click.IntRange(1000, 10_000_000), default=100_000, show_default=True, help="How many."
)
@click.option(
    "--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed, the same numbers."
)
@click.option(
    "--spread",
    "law",
    type=click.Choice(["normal", "uniform", "worst"]),
    default="normal",
    show_default=True,
    help="How values lie between their ends: about the middle, evenly, or at the ends alone.",
)
@click.option(
    "--as", "form", type=click.Choice(["text", "json"]), default="text", help="For people, or for programs."
)
@click.option("--full", is_flag=True, help="Tell all of every limit, not of the tightest alone.")
@_rules
@_parts
def study(
    plan: str,
    samples: int,
    seed: int,
    law: Any,
    form: str,
    full: bool,
    folders: tuple[Path, ...],
    shelves: tuple[Path, ...],
) -> None:
    """Say how likely each limit is kept, when volts, resistances and draws are spread as they are in real boxes.

    Ends in 0 when the plan could be studied, in 2 when it cannot be read. What decides is named for each limit.
    """
    from coldcheck.formats import study as shows
    from coldcheck.workings import samples as sampling

    _needs_scipy("study", "a study")
    book = ours.rulebook(folders)
    read = _read_whole(plan, book, _shelf(book, shelves))
    nets = _made(book, {"plan": read}, "nets")
    with _progress() as told:
        found = sampling.study(read, nets, samples, seed, law, told)
    if form == "json":
        click.echo(shows.document(found, plan))
        return
    width = shutil.get_terminal_size((80, 24)).columns if sys.stdout.isatty() else 80
    _print(shows.lines(found, read.head.title or plan, width, _can_show(shows.LETTERS), full))


@main.command()
@click.argument("plans", nargs=-1, required=True, metavar="PLAN...")
@_write
@click.option("--only", multiple=True, metavar="RULE", help="Mend what this rule finds, or all of an area.")
@_form
@click.option(
    "--day", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Hold waivers against this day."
)
@_rules
@_parts
def mend(
    plans: tuple[str, ...], write: bool, only: tuple[str, ...], form: str, day: datetime.datetime | None,
    folders: tuple[Path, ...], shelves: tuple[Path, ...],
) -> None:  # fmt: skip
    """Make the changes that remedies propose, each proven by a lint of the plan as it would stand.

    Shown line by line; --write makes them. A remedy that would assert a fact of hardware stays words. Ends in 0 when
    there is nothing to change or it was written, in 1 when something is shown that --write would make, in 2 when a plan
    cannot be read or written.
    """
    from coldcheck.formats import proposal
    from coldcheck.planner.mend import mend as mended

    book = ours.rulebook(folders)
    only = tuple(book.former(name) for name in only)
    _known(book, only)
    ends = []
    for name in plans:
        bench, text = _bench(name, book, shelves, day)
        found = _in_form(partial(mended, bench, text, only))
        ends.append(_settled(name, found, write))
        if form == "json":
            click.echo(proposal.mended_document(name, found, write and found.changed))
        else:
            _print(proposal.mended(name, found, write))
    sys.exit(max(ends))


@main.command()
@click.argument("plan", metavar="PLAN")
@_write
@click.option(
    "--aim",
    type=click.Choice(["cost", "spare", "kinds", "short"]),
    default="cost",
    show_default=True,
    help="Least copper, most head-room, fewest different wires and fuses, or shortest cables.",
)
@click.option("--gauges", type=click.IntRange(1), metavar="N", help="At most so many different gauges.")
@click.option("--fuses", type=click.IntRange(1), metavar="N", help="At most so many different fuses.")
@click.option(
    "--seconds", type=click.FloatRange(0.1), default=5.0, show_default=True, help="Most for one search."
)
@_form
@click.option(
    "--day", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Hold waivers against this day."
)
@_rules
@_parts
def fill(
    plan: str, write: bool, aim: Any, gauges: int | None, fuses: int | None, seconds: float, form: str,
    day: datetime.datetime | None, folders: tuple[Path, ...], shelves: tuple[Path, ...],
) -> None:  # fmt: skip
    """Fill what a plan leaves blank: sources, ports, addresses, bays, delays, gauges, fuses.

    What is written stays as it is. Each part of the answer is told with what it came to and the bound that no other
    answer can pass; where there is none, the demands that contradict each other are. Ends in 0 when nothing is blank or
    it was written, in 1 when something is shown that --write would make or no answer exists, in 2 when the plan cannot
    be read or written.
    """
    from coldcheck.formats import proposal

    _needs_scipy("fill", "filling")
    from coldcheck.planner import fill as planner
    from coldcheck.planner.draft import Wish

    book = ours.rulebook(folders)
    bench, text = _bench(plan, book, shelves, day)
    wish = Wish(aim, gauges, fuses, seconds)
    try:
        with _progress("filling") as told:
            found = _in_form(partial(_quietly, planner.fill, bench, text, wish, told))
    except planner.Impossible as error:
        if form == "json":
            click.echo(proposal.filled_document(plan, error, False))
        else:
            _print(proposal.impossible(plan, error))
        sys.exit(FOUND)
    except TimeoutError as error:
        raise click.ClickException(f"{error}; allow more by --seconds") from None
    end = _settled(plan, found, write and not found.worse)
    written = write and found.changed and not found.worse
    if form == "json":
        click.echo(proposal.filled_document(plan, found, written))
    else:
        _print(proposal.filled(plan, found, written))
    sys.exit(FOUND if found.worse else end)


@main.command()
@click.argument("plan", metavar="PLAN")
@click.argument("thing", metavar="THING")
@_form
@_rules
@_parts
def choose(plan: str, thing: str, form: str, folders: tuple[Path, ...], shelves: tuple[Path, ...]) -> None:
    """Say which parts of the shelf a thing of a plan could be, and how much each has to spare.

    Each is put in its place and the plan linted. Ends in 0 when at least one carries all, in 1 when none does.
    """
    from coldcheck.formats import proposal
    from coldcheck.planner.choose import NoSuchThing
    from coldcheck.planner.choose import choose as chosen

    book = ours.rulebook(folders)
    bench, text = _bench(plan, book, shelves, None)
    try:
        found = _in_form(lambda: chosen(bench, text, thing))
    except NoSuchThing as error:
        raise click.UsageError(str(error)) from None
    if form == "json":
        click.echo(proposal.choices_document(plan, thing, found))
    else:
        _print(proposal.choices(plan, thing, found))
    sys.exit(CLEAN if any(not choice.against for choice in found) else FOUND)


def _bench(
    name: str, book: Rulebook, shelves: tuple[Path, ...], day: datetime.datetime | None
) -> tuple[Bench, bytes]:
    """Return what judges texts of a plan, and the text on disk; say why it cannot be read and end in 2 otherwise."""
    from coldcheck.planner.trial import Bench

    shelf = _shelf(book, shelves)
    try:
        return Bench(name, book, shelf, day.date() if day else datetime.date.today()), files.read(
            name, MOST_BYTES
        )
    except files.CannotRead as error:
        click.echo(f"coldcheck: error: {error}", err=True)
        sys.exit(WRONG)


def _in_form(work: Callable[[], Any]) -> Any:
    """Return what some work on a plan gives; say what is wrong with a plan that cannot be read and end in 2."""
    from coldcheck.formats.report import unreadable_report

    try:
        return work()
    except PlanUnreadable as error:
        _print_reports([unreadable_report(error)], "text", False)
    except ShelfBroken as error:
        click.echo(f"coldcheck: error: the parts shelf cannot be read: {error}", err=True)
    sys.exit(WRONG)


def _quietly(work: Callable[..., Any], *words: Any) -> Any:
    with files.silenced():
        return work(*words)


def _settled(name: str, found: Any, write: bool) -> int:
    """Write a changed plan where that is asked for; returns the exit status."""
    if not found.changed:
        return CLEAN
    if not write:
        return FOUND
    if name == "-":
        raise click.UsageError("standard input cannot be written; name a file")
    try:
        files.replace(name, found.before.text, found.after.text)
    except files.CannotWrite as error:
        click.echo(f"coldcheck: error: {error}", err=True)
        sys.exit(WRONG)
    return CLEAN


def _needs_scipy(extra: str, what: str) -> None:
    if importlib.util.find_spec("scipy") is None:
        raise click.ClickException(f"{what} needs NumPy and SciPy: install them, or coldcheck[{extra}]")


@contextlib.contextmanager
def _progress(what: str = "sampling") -> Iterator[Callable[[float], object]]:
    """Give a function that is told the share of a long work that is done; a bar on a terminal, nothing elsewhere."""
    if not sys.stderr.isatty():
        yield lambda share: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=1.0)
        yield lambda share: bar.update(task, completed=share)


def _read_whole(name: str, book: Rulebook, shelf: Shelf) -> Plan:
    """Return a plan, or say why it cannot be read and end in 2."""
    from coldcheck.formats.report import unreadable_report

    try:
        return ours.read_plan(name, files.read(name, MOST_BYTES), shelf)
    except files.CannotRead as error:
        click.echo(f"coldcheck: error: {error}", err=True)
    except ShelfBroken as error:
        click.echo(f"coldcheck: error: the parts shelf cannot be read: {error}", err=True)
    except PlanUnreadable as error:
        _print_reports([unreadable_report(error)], "text", False)
    sys.exit(WRONG)


def _made(book: Rulebook, made: dict[str, Any], name: str) -> Any:
    """Return a working of a plan and keep it, with all that it needs, in ``made``."""
    if name not in made:
        working = book.workings[name]
        made[name] = working.function(*[_made(book, made, need) for need in working.needs])
    return made[name]


def _known_source(shown: Any, rail: str) -> None:
    names = [course.source.name for scene in shown.scenes for course in scene.courses]
    if rail and not any(shown.courses(scene) for scene in shown.scenes):
        near = nearest(rail, names)
        hint = f'; did you mean "{near}"?' if near else f"; there are {', '.join(dict.fromkeys(names))}"
        raise click.UsageError(f'no feed or rail that is played is called "{rail}"{hint}')


def _can_show(letters: str) -> bool:
    """Say whether standard output can show some letters."""
    try:
        letters.encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True

"""The page in a real browser: what it shows, finds, sorts, keeps and prints; and what it never does."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from msgspec import structs
from playwright.sync_api import Browser, Page

from coldcheck.engine.findings import reaches
from coldcheck.engine.running import judge
from coldcheck.formats.report import judged_report
from coldcheck.sheets.pack import NAMES, pack
from coldcheck.sheets.page import Source, page
from coldcheck.sheets.power_tree import power_tree
from coldcheck.sheets.table import as_rows
from coldcheck.workings.first_power import FirstPower
from tests.sheets import plans
from tests.sheets.test_address_files import DAY

pytestmark = [pytest.mark.program("chromium"), pytest.mark.xdist_group("browser")]

#: Width of A4 and of Letter less the margins of the page, upright and across [CSS px, 96 to the inch].
PAPER = {"A4": (703, 1032), "Letter": (725, 965)}


def made(text: str | bytes, name: str = "plan.toml") -> str:
    """Make the page of a plan."""
    plan, get = plans.read(text, name)
    judgement = judge(plan, plans.book(), DAY)
    report = judged_report(name, plan.places, judgement.findings, judgement.judged)
    errors = sum(reaches(finding, "error") for finding in judgement.findings)
    sheets = pack(plan, get, report, errors)
    return page(Source(sheets, plan, report.found, get("first_power"), DAY, "0"))


@pytest.fixture(scope="module")
def files(root: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Write the pages of the middling plan and of the wrong one."""
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for name in ("gorse-hill", "tidepool-draft"):
        found[name] = folder / f"{name}.html"
        found[name].write_text(made((root / "inventories" / f"{name}.toml").read_bytes(), name))
    return found


class Watch:
    """What a page says on its console, and what it asks of any network."""

    def __init__(self, tab: Page) -> None:
        self.said: list[str] = []
        self.asked: list[str] = []
        tab.on("console", lambda message: self.said.append(message.text))
        tab.on("pageerror", lambda error: self.said.append(str(error)))
        tab.on("request", lambda request: self.asked.append(request.url))


def opened(
    browser: Browser, file: Path, width: int = 1280, height: int = 900, **more: str
) -> tuple[Page, Watch]:
    """Open a file; give the tab and what is heard of it."""
    tab = browser.new_page(viewport={"width": width, "height": height}, **more)  # type: ignore[arg-type]
    watch = Watch(tab)
    tab.goto(file.as_uri())
    return tab, watch


def test_it_asks_for_nothing(browser: Browser, files: dict[str, Path]) -> None:
    """The page asks for itself alone, and has nothing to say on the console."""
    for file in files.values():
        tab, watch = opened(browser, file)
        assert watch.asked == [file.as_uri()]
        assert watch.said == []
        tab.close()


def test_every_link_leads_somewhere(browser: Browser, files: dict[str, Path]) -> None:
    """Each link is to a place on the page; no two places have one name."""
    for file in files.values():
        tab, _ = opened(browser, file)
        names = tab.evaluate("Array.from(document.querySelectorAll('[id]'), e => e.id)")
        links = tab.evaluate("Array.from(document.querySelectorAll('a'), e => e.getAttribute('href'))")
        assert len(names) == len(set(names))
        assert {link.removeprefix("#") for link in links} <= set(names)
        tab.close()


def test_search(browser: Browser, files: dict[str, Path]) -> None:
    """Only rows with all the words stay; a link to one that is hidden shows all again."""
    tab, _ = opened(browser, files["gorse-hill"])
    tab.fill("#find", "sw.3 N3")
    shown = tab.evaluate("Array.from(document.querySelectorAll('tr.row:not([hidden])'), e => e.textContent)")
    assert shown
    assert all("sw.3" in text and "n3" in text for text in shown)
    assert re.fullmatch(r"\d+ of \d+ rows", tab.inner_text("#count"))
    tab.evaluate("location.hash = 'thing-d1'")
    tab.wait_for_function("!document.getElementById('thing-d1').hidden")
    assert tab.input_value("#find") == ""


def test_sorting(root: Path, browser: Browser, files: dict[str, Path]) -> None:
    """A column sorts upward, downward and back; numbers by their size, whatever unit they are shown in."""
    tab, _ = opened(browser, files["gorse-hill"])
    plan_of = plans.read((root / "inventories" / "gorse-hill.toml").read_bytes())
    table = "table[data-name=power]"
    head = tab.locator(f"{table} th", has_text="at most")

    def column() -> list[float]:
        texts = tab.evaluate(
            f"Array.from(document.querySelectorAll('{table} tbody tr'), r => r.cells[5].textContent)"
        )
        return [float(t.split()[0]) / (1000.0 if t.endswith("mA") else 1.0) for t in texts]

    before = column()
    assert before != sorted(before)
    head.get_by_role("button").click()
    assert column() == sorted(before)
    assert head.get_attribute("aria-sort") == "ascending"
    head.get_by_role("button").click()
    assert column() == sorted(before, reverse=True)
    head.get_by_role("button").click()
    assert column() == before
    about = tab.locator(f"{table} th", has_text="about").get_by_role("button")
    blanks = [row["volts"] == "" for row in as_rows(power_tree(*plan_of)[0])]
    for _ in range(2):  # what holds no volts of its own stays behind, upward and downward
        about.click()
        texts = tab.evaluate(
            f"Array.from(document.querySelectorAll('{table} tbody tr'), r => r.cells[3].textContent)"
        )
        assert [text == "" for text in texts] == sorted(blanks)


def test_ticks_and_readings_stay(browser: Browser, files: dict[str, Path]) -> None:
    """What is ticked and read at the bench is there after the page is loaded again, until it is forgotten."""
    tab, watch = opened(browser, files["gorse-hill"], 360, 740)
    # far parts of a page are laid out when they are come to, and move what is there
    tab.locator("#step-2").scroll_into_view_if_needed()
    tab.wait_for_timeout(300)
    tab.check("#step-2 [type=checkbox]")
    tab.fill("#step-2-read", "0.041")
    amps = "#" + str(tab.get_attribute(".step:has-text('five, plugged in')", "id"))
    tab.fill(f"{amps}-amps", "1.21")
    total = tab.locator(".step").count()
    assert tab.inner_text("#done") == f"1 of {total} done"
    # a reload may go to another process of the browser, which sees what is kept a moment later
    tab.wait_for_timeout(500)
    tab.reload()
    assert tab.is_checked("#step-2 [type=checkbox]")
    assert not tab.is_checked("#step-3 [type=checkbox]")
    assert tab.input_value("#step-2-read") == "0.041"
    assert tab.input_value(f"{amps}-read") == ""
    assert tab.input_value(f"{amps}-amps") == "1.21"
    assert tab.locator("#step-2-amps").count() == 0  # nothing flows where nothing has power
    tab.once("dialog", lambda dialog: dialog.accept())
    tab.click("#forget")
    tab.wait_for_timeout(500)
    tab.reload()
    assert not tab.is_checked("#step-2 [type=checkbox]")
    assert tab.input_value(f"{amps}-amps") == ""
    assert watch.said == []


def test_a_changed_step_is_to_be_done_again(root: Path) -> None:
    """Other limits make another step, so that an old tick does not count for them."""
    text = (root / "inventories" / "gorse-hill.toml").read_text()
    keys = [
        set(re.findall(r'data-key="(\w+)"', made(t))) for t in (text, text.replace('"5.14 V"', '"5.15 V"'))
    ]
    assert keys[0] != keys[1]
    assert keys[0] & keys[1]


def test_what_is_expected_is_part_of_a_step() -> None:
    """A step of which nothing but the limit changes is another step."""
    plan, get = plans.read('[[feed]]\nid = "f"\nvolts = "12 V"\n[[node]]\nid = "n"\nfrom = "f"\n')
    judgement = judge(plan, plans.book(), DAY)
    report = judged_report("p", plan.places, judgement.findings, judgement.judged)
    first = get("first_power")
    other = [*first.steps]
    other[1] = structs.replace(other[1], expect=structs.replace(other[1].expect, high=99.0))
    keys = []
    for steps in (first.steps, other):
        source = Source(
            pack(plan, get, report, 0), plan, report.found, FirstPower(first.cautions, steps), DAY, "0"
        )
        keys.append(re.findall(r'data-key="(\w+)"', page(source)))
    assert [a == b for a, b in zip(*keys, strict=True)] == [n != 1 for n in range(len(other))]


@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_no_sideways_scrolling(browser: Browser, files: dict[str, Path], width: int) -> None:
    """The page is as wide as the window, on a phone too; what is wider scrolls by itself."""
    for file in files.values():
        tab, _ = opened(browser, file, width, 740)
        assert tab.evaluate("document.documentElement.scrollWidth") <= width
        tab.close()


@pytest.mark.parametrize("paper", PAPER)
def test_paper(browser: Browser, files: dict[str, Path], paper: str) -> None:
    """No table is wider than the paper, none is cut at a row, headings come again on each sheet of paper."""
    upright, across = PAPER[paper]
    for file in files.values():
        tab, _ = opened(browser, file, upright)
        tab.emulate_media(media="print")
        for wide, width in ((False, upright), (True, across)):
            tab.set_viewport_size({"width": width, "height": 900})
            chosen = ".sheet.wide table" if wide else ".sheet:not(.wide) table"
            for name, right in tab.evaluate(
                f"Array.from(document.querySelectorAll('{chosen}'), t => [t.dataset.name,"
                " Math.max(t.getBoundingClientRect().right, ...Array.from(t.querySelectorAll('td, th'),"
                " c => c.getBoundingClientRect().left + c.scrollWidth))])"
            ):
                assert right <= width + 1, f"{name} on {paper}"
        styles = "e => [getComputedStyle(e).breakInside, getComputedStyle(e.closest('table').tHead).display]"
        found = tab.evaluate(f"Array.from(document.querySelectorAll('tbody tr'), {styles})")
        assert {tuple(pair) for pair in found} == {("avoid", "table-header-group")}
        assert not tab.is_visible("nav")
        assert len(tab.pdf(format=paper, prefer_css_page_size=True)) > 10_000
        tab.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_accessibility(browser: Browser, files: dict[str, Path], scheme: str) -> None:
    """axe-core finds nothing: names, contrast, headings, labels, landmarks."""
    for file in files.values():
        tab, _ = opened(browser, file, color_scheme=scheme)
        found = Axe().run(tab)
        assert found.violations_count == 0, found.generate_report()
        tab.close()


def test_a_wrong_plan_is_marked(browser: Browser, files: dict[str, Path]) -> None:
    """Each sheet of a plan with errors says that it is not for building, on paper too; one without says nothing."""
    tab, _ = opened(browser, files["tidepool-draft"])
    tab.emulate_media(media="print")
    assert tab.locator(".not:visible").count() == len(NAMES) + 1
    tab.close()
    tab, _ = opened(browser, files["gorse-hill"])
    assert tab.locator(".not").count() == 0


EVIL = '<script>document.title = "evil"</script><img src=x onerror=alert(1)>"\\\' onload=alert(1) {{ 7 * 7 }}'


def test_markup_in_a_plan_is_text(browser: Browser, tmp_path: Path) -> None:
    """Markup, quotes and braces in titles and reasons are shown as they are written, and do nothing."""
    text = (
        f"[plan]\ntitle = '''{EVIL}'''\n[[feed]]\nid = 'f'\ntitle = '''{EVIL}'''\nvolts = '12 V'\n"
        f"[[appliance]]\nid = 'a'\nfrom = 'f'\ntitle = '''{EVIL}'''\nname = '''{EVIL}'''\n"
    ).replace("\\'", "’")
    file = tmp_path / "evil.html"
    file.write_text(made(text))
    tab, watch = opened(browser, file)
    assert watch.asked == [file.as_uri()]
    assert watch.said == []
    assert tab.title().startswith("<script>document.title")
    assert tab.locator("h1").inner_text().startswith("<script>document.title")
    assert "{{ 7 * 7 }}" in (tab.locator("table[data-name=assembly]").text_content() or "")
    assert tab.locator("img").count() == 0
    assert tab.locator("script").count() == 1


class Tags(HTMLParser):
    """The tags that are open."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open a tag."""
        if tag not in ("meta", "input", "br", "img"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Close the last."""
        assert self.open.pop() == tag


def test_well_formed(files: dict[str, Path]) -> None:
    """Each tag is closed in its place."""
    for file in files.values():
        tags = Tags()
        tags.feed(file.read_text())
        assert tags.open == []

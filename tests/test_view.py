"""The command `view`: a page in a real browser that follows the plan as it is saved, and outlasts a broken one."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect, sync_playwright

from coldcheck.view import Live

PLAN = '[plan]\ntitle = "First"\n[[node]]\nid = "n1 .. n40"\naddress = "10.0.0.1 .. 10.0.0.40"\n'


class Shown:
    """A plan that is being viewed: its file, the address of its page, and the process."""

    def __init__(self, file: Path, address: str, process: subprocess.Popen[str]) -> None:
        self.file, self.address, self.process = file, address, process

    @property
    def port(self) -> int:
        """Give the port."""
        return int(self.address.rstrip("/").rpartition(":")[2])


RULE = """from coldcheck import Finding, rule
from coldcheck.plan.tables import Node


@rule(level="warning", over="node")
def greeting(node: Node):
    \"\"\"No node is called n3.\"\"\"
    if node.id == "n3":
        yield Finding("warning", node, "{}")
"""


@pytest.fixture
def shown(tmp_path: Path) -> Iterator[Shown]:
    """View a plan, with a folder of rules."""
    file = tmp_path / "plan.toml"
    file.write_text(PLAN)
    rules = tmp_path / "own"
    rules.mkdir()
    (rules / "site.py").write_text(RULE.format("hello there"))
    process = subprocess.Popen(
        [sys.executable, "-m", "coldcheck", "view", "--rules", str(rules), "--rules", "missing", str(file)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    assert process.stdout is not None
    said = process.stdout.readline()
    match = re.search(r"http://127\.0\.0\.1:\d+/", said)
    assert match, said
    yield Shown(file, match[0], process)
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=10)
    assert process.returncode == 0
    assert "Traceback" not in errors


@pytest.fixture
def tab(shown: Shown) -> Iterator[Page]:
    """Open the page in the Chromium of the system."""
    with sync_playwright() as driver:
        flags = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync"]
        started = driver.chromium.launch(executable_path="/usr/bin/chromium", args=flags)
        page = started.new_page(viewport={"width": 900, "height": 600})
        page.goto(shown.address)
        yield page
        started.close()


def replaced(file: Path, text: str) -> None:
    """Save as careful editors do: beside, then in its place."""
    beside = file.with_suffix(".new")
    beside.write_text(text)
    beside.replace(file)


@pytest.mark.program("chromium")
@pytest.mark.xdist_group("browser")
def test_it_follows_the_plan(shown: Shown, tab: Page) -> None:
    """A saved plan is on the page soon, with the search and the place on the page as they were."""
    expect(tab.locator("h1")).to_have_text("First")
    tab.fill("#find", "n3")
    tab.evaluate("scrollTo(0, 300)")
    before = tab.evaluate("scrollY")
    assert before > 0
    shown.file.write_text(PLAN.replace("First", "Second"))
    expect(tab.locator("h1")).to_have_text("Second")
    assert tab.input_value("#find") == "n3"
    tab.wait_for_function(f"scrollY === {before}")
    replaced(shown.file, PLAN.replace("First", "Third"))
    expect(tab.locator("h1")).to_have_text("Third")


@pytest.mark.program("chromium")
@pytest.mark.xdist_group("browser")
def test_a_broken_plan_leaves_the_last_good_page(shown: Shown, tab: Page) -> None:
    """What is wrong stands above the page that was good; once it is mended, a new page is there."""
    evil = '[plan]\ntitle = "Broken\n<img src=x onerror=alert(1)></script>'
    shown.file.write_text(evil)
    expect(tab.locator(".broken")).to_contain_text("plan.toml:")
    expect(tab.locator("h1")).to_have_text("First")
    assert tab.locator("img").count() == 0
    tab.reload()
    expect(tab.locator(".broken")).to_contain_text("plan.toml:")
    shown.file.unlink()
    expect(tab.locator(".broken")).to_contain_text("there is no file")
    shown.file.write_text(PLAN.replace("First", "Mended"))
    expect(tab.locator("h1")).to_have_text("Mended")
    expect(tab.locator(".broken")).to_have_count(0)


@pytest.mark.program("chromium")
@pytest.mark.xdist_group("browser")
def test_it_follows_the_rules(shown: Shown, tab: Page) -> None:
    """A saved rule judges at once; one that cannot be loaded is told, and judges again when it is mended."""
    expect(tab.locator("body")).to_contain_text("hello there")
    rule = shown.file.parent / "own" / "site.py"
    rule.write_text(RULE.format("good evening"))
    expect(tab.locator("body")).to_contain_text("good evening")
    expect(tab.locator("body")).not_to_contain_text("hello there")
    rule.write_text("def (")
    expect(tab.locator("body")).to_contain_text("site cannot be used")
    replaced(rule, RULE.format("good night"))
    expect(tab.locator("body")).to_contain_text("good night")


def ask(shown: Shown, path: str, host: str = "") -> tuple[int, str]:
    """Ask the server."""
    connection = http.client.HTTPConnection("127.0.0.1", shown.port, timeout=10)
    connection.request("GET", path, headers={"Host": host} if host else {})
    answer = connection.getresponse()
    return answer.status, answer.read().decode()


def test_for_this_machine_alone(shown: Shown) -> None:
    """Another name for this address gets nothing; nor does any path but the page's."""
    assert ask(shown, "/")[0] == 200
    assert ask(shown, "/", "localhost")[0] == 200
    assert ask(shown, "/", "evil.test") == (403, "this page is for this machine alone\n")
    assert ask(shown, "/../plan.toml")[0] == 404
    assert ask(shown, "/plan.toml")[0] == 404
    assert json.loads(ask(shown, "/changes?after=x")[1])["number"] == 1


def test_a_port_that_is_taken(shown: Shown) -> None:
    """It is told, and ends in 2."""
    done = subprocess.run(
        [sys.executable, "-m", "coldcheck", "view", "--port", str(shown.port), str(shown.file)],
        capture_output=True, text=True, check=False, timeout=30,
    )  # fmt: skip
    assert done.returncode == 2
    assert f"port {shown.port} cannot be used" in done.stderr


def test_who_waits_is_told() -> None:
    """A question for changes is answered when one comes, or when all ends."""
    live = Live()
    live.put("<body></body>", "")
    answers: list[int] = []
    waiting = threading.Thread(target=lambda: answers.append(live.after(1)["number"]))
    waiting.start()
    live.put(None, "broken")
    waiting.join(5)
    assert answers == [2]
    assert live.after(1) == {"number": 2, "page": 1, "broken": "broken"}
    waiting = threading.Thread(target=lambda: answers.append(live.after(2)["number"]))
    waiting.start()
    live.end()
    waiting.join(5)
    assert answers == [2, 2]

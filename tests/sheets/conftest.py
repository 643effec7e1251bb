"""The Chromium of the system, for all tests of pages and drawings."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start it, cut off from all but this machine."""
    with sync_playwright() as driver:
        started = driver.chromium.launch(
            executable_path="/usr/bin/chromium",
            args=[
                "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
                "--disable-background-networking", "--disable-component-update",
            ],
        )  # fmt: skip
        yield started
        started.close()

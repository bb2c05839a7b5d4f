"""What a browser test may ask for: one browser, servers on free ports, and tablets that tell on pages."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.browser.kit import EXPECTED_REFUSALS, NOT_REACHED, UPRIGHT, Served, Watch, serving
from tests.web.fitted_demo import copy_fitted_demo

CHROMIUM = shutil.which("chromium")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
LONGEST_WAIT_MS = 30_000
LONGEST_FIRST_ANSWER_MS = 120_000  # of a server that has worked out nothing yet, on a busy machine
OpenTablet = Callable[..., Page]
# what a page shows in the end is tested, not how soon: CI's machine may be busy, and benches hold the speed
expect.set_options(timeout=LONGEST_WAIT_MS)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("CI is set, and there is no chromium to run the browser tests with")
        pytest.skip("browser tests not run: there is no chromium on this machine")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def new_book(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server on an empty logbook, shared by the tests of one file."""
    with serving(tmp_path_factory.mktemp("book")) as served:
        yield served


@pytest.fixture(scope="session")
def demo(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server on the fitted demo, batch 17 started from its plan; for tests that only look."""
    with serving(tmp_path_factory.mktemp("demo"), copy_fitted_demo) as served:
        page = browser.new_page(base_url=served.url)
        page.set_default_timeout(LONGEST_FIRST_ANSWER_MS)
        page.goto("/plans/1")
        page.get_by_role("button", name="Start this batch").click()
        page.wait_for_url("**/batches/17")
        page.close()
        yield served


@pytest.fixture
def own_book(browser: Browser, tmp_path: Path) -> Iterator[Served]:
    """A server on an empty logbook of one test's own."""
    with serving(tmp_path / "own") as served:
        yield served


@pytest.fixture
def tablet(browser: Browser) -> Iterator[OpenTablet]:
    """Opens tablets: `tablet(served.url)`; the test fails if any page on one complains."""
    watch = Watch()
    with ExitStack() as opened:

        def open_tablet(
            url: str,
            size: tuple[int, int] = UPRIGHT,
            script: bool = True,
            loses_server: bool = False,
            touched: bool = False,
            dots_per_px: float = 1.0,
            more_refusals: tuple[str, ...] = (),
        ) -> Page:
            width, height = size
            context = opened.enter_context(
                closing(
                    browser.new_context(
                        base_url=url,
                        viewport={"width": width, "height": height},
                        java_script_enabled=script,
                        has_touch=touched,
                        is_mobile=touched,
                        device_scale_factor=dots_per_px,
                        timezone_id="UTC",
                    )
                )
            )
            context.set_default_timeout(LONGEST_WAIT_MS)
            page = context.new_page()
            watch.over(page, (*EXPECTED_REFUSALS, *more_refusals, *(NOT_REACHED if loses_server else ())))
            return page

        yield open_tablet
    assert watch.complaints == []

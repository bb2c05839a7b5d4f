"""A picture of every page, for anyone to look at: `pytest -m screenshots --into FOLDER`."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.browser.conftest import OpenTablet
from tests.browser.kit import SIZES, THEMES, Served, set_theme, settled
from tests.browser.looks import LOOKS, Look

pytestmark = [pytest.mark.browser, pytest.mark.screenshots]


@pytest.fixture(scope="session")
def folder(pytestconfig: pytest.Config) -> Path:
    chosen = pytestconfig.getoption("--into")
    if not chosen:
        pytest.fail("say where the pictures go: --into FOLDER")
    return Path(chosen)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("look", LOOKS, ids=lambda look: look.address)
def test_a_picture_is_taken(
    demo: Served, tablet: OpenTablet, folder: Path, look: Look, size: tuple[int, int], theme: str
) -> None:
    page = tablet(demo.url, size)
    set_theme(page, demo.url, theme)
    page.goto(look.address)
    settled(page)
    name = re.sub(r"\W+", "-", look.address).strip("-") or "today"
    picture = folder / f"{size[0]}x{size[1]}-{theme}" / f"{name}.png"
    page.screenshot(path=picture, full_page=True)
    assert picture.stat().st_size > 0

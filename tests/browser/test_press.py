"""A press counts for what lay under the finger as it came down, though the page moves before it is lifted."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager

import pytest
from playwright.sync_api import Locator, Page, Route, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import Served
from webapp.resources import static_folder

pytestmark = pytest.mark.browser
Held = Callable[[Locator], AbstractContextManager[None]]
PUSH = "document.body.style.paddingTop = '300px'"
# One button above another, under words; what is pressed is counted, and no button is drawn as pressed.
BENCH = """<meta name="viewport" content="width=device-width"><style>button { height: 60px }</style>
<body><div style="height: 240px"><p>Words.</p></div><div><button name="first">First</button></div>
<div style="height: 238px"></div><div><button name="second">Second</button></div>"""
COUNT = "pressed = []; addEventListener('click', (e) => pressed.push(e.target.name ?? ''))"
ANEW = "(e, words) => { const its = e.cloneNode(true); its.append(words); e.replaceWith(its); }"


def middle(target: Locator) -> tuple[float, float]:
    box = target.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def mouse_of(page: Page) -> Held:
    """Return what holds a mouse's button down on a thing while the block runs."""

    @contextmanager
    def held(target: Locator) -> Iterator[None]:
        page.mouse.move(*middle(target))
        page.mouse.down()
        yield
        page.mouse.up()

    return held


def finger_of(page: Page) -> Held:
    """Return what holds a finger on a thing while the block runs."""
    tab = page.context.new_cdp_session(page)

    @contextmanager
    def held(target: Locator) -> Iterator[None]:
        x, y = middle(target)
        tab.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        yield
        tab.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    return held


both_hands = pytest.mark.parametrize("hand_of", [mouse_of, finger_of])


def bench_of(tablet: OpenTablet, touched: bool = False) -> Page:
    """Return a small page with two buttons and the app's script for presses."""
    page = tablet("http://nowhere.invalid", touched=touched)
    page.set_content(BENCH)
    page.add_script_tag(path=static_folder() / "js" / "press.js")
    page.evaluate(COUNT)
    return page


def counted(page: Page) -> list[str]:
    """Return what was pressed since it was asked last."""
    page.evaluate("new Promise(requestAnimationFrame)")  # a tap's click comes after its finger
    names: list[str] = page.evaluate("pressed.splice(0)")
    return names


def test_the_step_is_noted_though_the_page_moves_under_the_press(demo: Served, tablet: OpenTablet) -> None:
    page, sent = tablet(demo.url), list[str]()

    def take(route: Route) -> None:
        sent.append(route.request.url.rpartition("/")[2])
        route.fulfill(status=204)

    page.goto("/batches/17")
    page.route("**/steps/*", take)
    go = page.get_by_role("button", name="Box in the fire")
    with mouse_of(page)(go):
        before = middle(go)
        page.evaluate("scrollTo(0, document.body.scrollHeight)")
        assert before[1] - middle(go)[1] > 100
    expect(go).to_be_enabled()
    assert sent == ["box_in"]


@both_hands
def test_what_slides_under_a_press_is_not_pressed(
    tablet: OpenTablet, hand_of: Callable[[Page], Held]
) -> None:
    page = bench_of(tablet, touched=hand_of is finger_of)
    held = hand_of(page)
    with held(page.get_by_text("Second")):
        page.evaluate(PUSH)
    assert counted(page) == ["second"]
    with held(page.get_by_text("Words")):
        page.evaluate("document.body.style.paddingTop = 0; document.querySelector('p').remove()")
        page.evaluate("document.querySelector('div').style.height = 0")
    assert counted(page) in ([], [""])
    with held(page.get_by_text("First")):
        pass
    assert counted(page) == ["first"]


@both_hands
def test_a_button_fetched_anew_under_a_press_counts_if_it_is_the_same(
    tablet: OpenTablet, hand_of: Callable[[Page], Held]
) -> None:
    page = bench_of(tablet, touched=hand_of is finger_of)
    held, first = hand_of(page), page.get_by_text("First")
    with held(first):
        first.evaluate(ANEW, "")
    assert counted(page) == ["first"]
    with held(first):
        first.evaluate(ANEW, " and another")
    assert counted(page) == []


def test_a_press_taken_off_its_button_is_none(tablet: OpenTablet) -> None:
    page = bench_of(tablet)
    held, first = mouse_of(page), page.get_by_text("First")
    with held(first):
        page.evaluate(PUSH)
        page.mouse.move(middle(first)[0], 10)
    assert counted(page) in ([], [""])


def test_a_button_is_pressed_by_keys_as_ever(tablet: OpenTablet) -> None:
    page = bench_of(tablet)
    with mouse_of(page)(page.get_by_text("Words")):
        page.get_by_text("First").focus()
        page.evaluate(PUSH)
        page.keyboard.press("Enter")
        assert counted(page) == ["first"]

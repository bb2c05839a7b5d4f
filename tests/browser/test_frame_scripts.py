"""The frame's own scripts and style sheets in a real browser, under the app's real content policy.

A small server of the test's own shows one form and one chart, so that nothing depends on a page of the app.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Annotated

import pytest
import uvicorn
from jinja2 import ChoiceLoader, DictLoader
from playwright.sync_api import Browser, Page, expect
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from model.ranges import Range
from webapp import templating
from webapp.charts import Axis, Band, Chart, Column, Line, Points, Rule, Table
from webapp.forms.kit import Ask, Doubtful, Form, Units, blank_form, raw_of, read_form
from webapp.resources import static_folder
from webapp.security import SafeHeaders
from webapp.templating import Shell, environment

pytestmark = pytest.mark.browser
SIZES = ((820, 1180), (1180, 820), (390, 844))
SMALLEST_TARGET_PX = 48
PAGE = """{% extends "base.html" %}
{% from "parts/_form.html" import form, fields, actions %}
{% from "parts/_pieces.html" import slider, run_clock %}
{% from "parts/_chart.html" import chart, chart_scripts %}
{% block scripts %}{{ chart_scripts() }}{% endblock %}
{% block title %}A page{% endblock %}
{% block content %}{{ run_clock("1:00", until=until) }}{{ chart(picture) }}
{% call form(state, "/things", "thing-new") %}{{ fields(state) }}
{{ slider(state.field("heat_K"), 700, 1100, 5) }}
{{ actions("Save it") }}{% endcall %}{% endblock %}"""
DEPTHS = (0.0, 0.5, 1.0)
PICTURE = Chart(
    "case", "Case", "Falls from 800 to 200.", Axis("Depth", "mm"), Axis("Hardness", "HV", digits=0),
    Table("Case", (Column("Depth"),), (("0.5",),)),
    lines=(Line("here", DEPTHS, (800.0, 500.0, 200.0)),),
    bands=(Band("give or take", DEPTHS, (780.0, 450.0, 190.0), (820.0, 550.0, 210.0)),),
    points=(Points("readings", (0.5,), (520.0,), (480.0,), (560.0,), ("coupon a",)),),
    rules=(Rule("550 HV", 550.0), Rule("wanted", 0.6, "x")),
)  # fmt: skip


class Thing(Form):
    """A small form with a stepper and a number of which the shop may be unsure."""

    name: Annotated[str, Ask("Name")]
    heat_K: Annotated[
        float,
        Ask("Heat", quantity="temperature", kind="stepper", step=5, range=Range(700, 1100, "C", "Try 925.")),
    ]
    soak_s: Annotated[Doubtful, Ask("Soak", quantity="duration")] = Doubtful(None, "unknown")


@dataclass
class Bench:
    """The little server and what it was sent."""

    url: str = ""
    saved: list[Thing] = field(default_factory=list)

    def page(self, state, status=200) -> Response:
        now = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)
        shell = Shell("Shed", now, here="plan", is_demo=True)
        until = now.replace(hour=13, minute=30)
        return templating.page("bench.html", shell, status, state=state, picture=PICTURE, until=until)

    async def show(self, _request: Request) -> Response:
        return self.page(blank_form(Thing, Units(), {"heat_K": 1198.15}))

    async def save(self, request: Request) -> Response:
        state = read_form(Thing, raw_of(await request.form()), Units())
        if state.value is None:
            return self.page(state, 422)
        self.saved.append(state.value)
        return Response(status_code=204, headers={"HX-Redirect": "/?done=1"})

    def app(self) -> Starlette:
        routes = [
            Route("/", self.show),
            Route("/things", self.save, methods=["POST"]),
            Mount("/static", StaticFiles(directory=static_folder())),
        ]
        return Starlette(routes=routes, middleware=[Middleware(SafeHeaders)])


@pytest.fixture(scope="module")
def bench() -> Iterator[Bench]:
    made, shared = Bench(), environment()
    loader = shared.loader
    assert loader is not None
    shared.loader = ChoiceLoader([DictLoader({"bench.html": PAGE}), loader])
    server = uvicorn.Server(uvicorn.Config(made.app(), port=0, log_level="warning"))
    started = threading.Event()
    startup = server.startup

    async def startup_and_tell(sockets=None) -> None:
        await startup(sockets)
        started.set()

    server.startup = startup_and_tell  # type: ignore[method-assign]
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    assert started.wait(20)
    made.url = f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}/"
    yield made
    server.should_exit = True
    thread.join(20)
    shared.loader = loader


@pytest.fixture
def complaints() -> list[str]:
    return []


@pytest.fixture
def tab(browser: Browser, bench: Bench, complaints: list[str]) -> Iterator[Page]:
    bench.saved.clear()
    context = browser.new_context(viewport={"width": 820, "height": 1180})
    page = context.new_page()
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(bench.url)
    yield page
    context.close()


def test_a_chart_is_drawn_under_the_content_policy_without_a_complaint(tab: Page, complaints):
    drawing = tab.locator(".draw svg.cw-plot")
    expect(drawing).to_be_visible()
    expect(drawing).to_have_attribute("aria-label", "Falls from 800 to 200.")
    assert tab.locator("style").count() == 0
    assert complaints == []


def test_the_content_policy_does_bite(tab: Page, complaints):
    tab.evaluate("document.head.append(Object.assign(document.createElement('style'), {textContent: 'a{}'}))")
    expect(tab.locator("style")).to_have_count(1)
    assert any("Content Security Policy" in complaint for complaint in complaints)


def test_touching_a_chart_reads_it_out(tab: Page):
    box = tab.locator("svg.cw-plot").bounding_box()
    assert box is not None
    tab.mouse.move(box["x"] + 0.25 * box["width"], box["y"] + 10)
    expect(tab.locator(".readout")).to_contain_text("here")
    expect(tab.locator(".readout")).to_contain_text("give or take")


def test_a_chart_is_drawn_anew_when_the_tablet_is_turned(tab: Page):
    expect(tab.locator("svg.cw-plot")).to_have_count(1)
    before = tab.locator("svg.cw-plot").get_attribute("width")
    tab.set_viewport_size({"width": 390, "height": 844})
    expect(tab.locator("svg.cw-plot")).not_to_have_attribute("width", before or "")


def test_what_was_typed_is_restored_after_a_reload_and_can_be_dropped(tab: Page):
    tab.fill("#name", "Tube")
    tab.reload()
    expect(tab.locator("#name")).to_have_value("Tube")
    expect(tab.locator(".restored")).to_contain_text("Restored what you typed")
    tab.click("text=Start afresh")
    expect(tab.locator("#name")).to_have_value("")


def test_a_refused_form_comes_back_filled_in_with_its_summary_in_focus(tab: Page, bench: Bench):
    tab.fill("#name", "Tube")
    tab.fill("#heat_K", "1700")
    tab.click("text=Save it")
    expect(tab.locator("[data-error-summary]")).to_be_focused()
    expect(tab.locator("#heat_K-error")).to_contain_text("Did you mean 1700 °F")
    expect(tab.locator("#name")).to_have_value("Tube")
    expect(tab.locator("svg.cw-plot")).to_be_visible()
    assert bench.saved == []


def test_a_saved_form_leads_on_and_its_draft_is_forgotten(tab: Page, bench: Bench):
    tab.fill("#name", "Tube")
    tab.click("text=Save it")
    tab.wait_for_url("**/?done=1")
    assert [thing.name for thing in bench.saved] == ["Tube"]
    assert tab.evaluate("localStorage.length") == 0
    expect(tab.locator(".restored")).to_have_count(0)


def test_a_lost_server_is_told_and_the_next_press_saves_once(tab: Page, bench: Bench):
    tab.fill("#name", "Tube")
    tab.route("**/*", lambda route: route.abort())
    tab.click("text=Save it")
    expect(tab.locator(".bar.lost")).to_contain_text("not saved yet")
    expect(tab.locator("#name")).to_have_value("Tube")
    tab.unroute_all()
    tab.dblclick("text=Save it")
    tab.wait_for_url("**/?done=1")
    assert [thing.name for thing in bench.saved] == ["Tube"]


def test_what_was_pressed_without_a_network_is_sent_by_itself_once_there_is_one(tab: Page, bench: Bench):
    tab.fill("#name", "Tube")
    tab.context.set_offline(True)
    tab.click("text=Save it")
    expect(tab.locator(".bar.lost")).to_contain_text("sent by itself")
    assert bench.saved == []
    tab.context.set_offline(False)
    tab.wait_for_url("**/?done=1")
    assert [thing.name for thing in bench.saved] == ["Tube"]


def test_a_form_that_means_now_waits_for_a_hand_when_the_network_is_back(tab: Page, bench: Bench):
    form = "document.querySelector('form[data-draft]')"
    tab.evaluate(f"{form}.insertAdjacentHTML('beforeend', '<input type=datetime-local name=at>')")
    tab.clock.install()
    tab.fill("#name", "Tube")
    tab.context.set_offline(True)
    tab.click("text=Save it")
    expect(tab.locator(".bar.lost")).to_contain_text("Press the button again when it is back")
    tab.context.set_offline(False)
    tab.clock.run_for(20_000)
    expect(tab.locator("#name")).to_have_value("Tube")
    assert bench.saved == []


def test_a_save_that_the_disk_did_not_take_is_told_in_the_servers_words(tab: Page, bench: Bench):
    said = (
        "<aside class=caution><strong>Not saved: the disk is full; make room and try again.</strong></aside>"
    )
    tab.route("**/things", lambda route: route.fulfill(status=503, body=said, content_type="text/html"))
    tab.fill("#name", "Tube")
    tab.click("text=Save it")
    told = expect(tab.locator(".bar.lost"))
    told.to_contain_text("the disk is full; make room and try again. What you typed is kept on this tablet.")
    expect(tab.locator("#name")).to_have_value("Tube")
    tab.unroute_all()
    tab.click("text=Save it")
    tab.wait_for_url("**/?done=1")
    assert [thing.name for thing in bench.saved] == ["Tube"]


def test_closing_the_bar_keeps_a_form_from_being_sent_by_itself(tab: Page, bench: Bench):
    tab.clock.install()
    tab.fill("#name", "Tube")
    tab.context.set_offline(True)
    tab.click("text=Save it")
    tab.click(".bar.lost button")
    tab.context.set_offline(False)
    tab.clock.run_for(20_000)
    expect(tab.locator("#name")).to_have_value("Tube")
    assert bench.saved == []


def test_plus_steps_the_number_and_the_slider_follows(tab: Page):
    tab.click("[data-by='1']")
    expect(tab.locator("#heat_K")).to_have_value("930")
    expect(tab.locator("[data-slider]")).to_have_value("930")
    tab.locator("[data-slider]").fill("900")
    expect(tab.locator("#heat_K")).to_have_value("900")
    tab.fill("#heat_K", "900,5 C")
    tab.click("[data-by='-1']")
    expect(tab.locator("#heat_K")).to_have_value("895,5 C")


def test_enter_moves_on_and_does_not_send(tab: Page, bench: Bench):
    tab.press("#name", "Enter")
    expect(tab.locator("#heat_K")).to_be_focused()
    assert bench.saved == []


def test_a_number_and_do_not_know_exclude_each_other(tab: Page):
    tab.fill("#soak_s", "4")
    tab.locator("input[value=unknown]").check(force=True)
    expect(tab.locator("#soak_s")).to_have_value("")
    tab.locator("input[value=about]").check(force=True)
    expect(tab.locator("#soak_s")).to_have_value("4")


def test_the_run_clock_counts_by_the_servers_clock(tab: Page):
    expect(tab.locator("[role=timer]")).to_have_text("1:29")


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_nothing_is_wider_than_the_screen_or_too_small_for_a_glove(tab: Page, width, height):
    tab.set_viewport_size({"width": width, "height": height})
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    for target in tab.locator("a:not(.skip), button, select, summary, .chip, input[inputmode]").all():
        box = target.bounding_box()
        if box is not None:
            assert min(box["width"], box["height"]) >= SMALLEST_TARGET_PX, target.evaluate("e => e.outerHTML")

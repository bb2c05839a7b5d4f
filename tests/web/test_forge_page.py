"""The forge's page: what it says with no coupon, with one and with many, and what stands out in a fit."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.web.fitted_demo import fit_again, speaking_to_demo, store_of
from tests.web.page_forms import begin, read_page_form, text_of
from webapp.fit_keeper import FitState
from webapp.services.fit_job import run_fit
from webapp.services.fitting import newest_summary
from webapp.services.forge_rows import view_groups
from webapp.services.observations import tell
from webapp.services.odd_fires import odd_fires
from webapp.services.showing import Showing
from webapp.settings import Settings
from webapp.store.engine import read, strict_json
from webapp.store.tables import Batch, Fit, Instrument, Item, Reading, Shop
from webapp.store.unit_of_work import Actor, write

UNSURE = re.compile(r"unsure by (\d+)\s%")
BOOK_WORDS = ("posterior", "prior", "residual", "sigma", "covariance", "variational")


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


def summary_of(client: TestClient) -> dict[str, Any]:
    with read(store_of(client)) as session:
        newest = newest_summary(session)
    assert newest is not None
    return newest.summary


def say(client: TestClient) -> str:
    return text_of(client.get("/forge").text)


def unsure_percent(words: str) -> int:
    found = UNSURE.search(words)
    assert found, words
    return int(found[1])


def payload(html: str, key: str) -> dict[str, Any]:
    found = re.search(rf'<script type="application/json" id="{key}-data">(.*?)</script>', html, re.DOTALL)
    assert found
    drawn: dict[str, Any] = json.loads(found[1])
    return drawn


def change_summary(client: TestClient, **changes: Any) -> None:
    with write(store_of(client), Actor("test bench"), client.app.state.context.clock.now()) as work:  # type: ignore[attr-defined]
        fit = work.session.exec(select(Fit)).one()
        fit.summary = {**fit.summary, **changes}
        fit.fingerprint += "'"  # a fit is never changed once it stands: this is another


def test_without_a_coupon_it_says_the_books_alone_and_how_unsure_they_are(client: TestClient) -> None:
    begin(client)
    words = say(client)
    assert "Nothing is learnt of your forge yet: plans go by the books" in words
    assert unsure_percent(words) > 25
    assert "No coupon has taught anything yet" in words
    assert "not yet learnt" in words
    assert "Learnt from" not in words
    assert "slower" not in words.replace("Slower means less deep", "")
    assert "faster" not in words


def test_before_there_is_a_shop_it_makes_no_number_up(client: TestClient) -> None:
    words = say(client)
    assert "Nothing is known of this forge yet" in words
    assert "%" not in words


def test_the_headline_is_the_standard_job_over_the_books(demo: TestClient) -> None:
    ratio, words = summary_of(demo)["standard"][0], say(demo)
    percent = round(100 * (ratio["median"] - 1))
    said = re.search(r"carburizes (?:(\d+)\s% (slower|faster) than|(as fast as)) the books say", words)
    assert said
    assert int(said[1] or 0) == abs(percent)
    assert said[2] == ({-1: "slower", 1: "faster"}[(percent > 0) - (percent < 0)] if percent else None)
    assert unsure_percent(words) == round(50 * (ratio["high"] - ratio["low"]) / ratio["median"])
    assert f"Learnt from {summary_of(demo)['coupons']} coupons." in words


def test_one_coupon_teaches_a_little_and_many_teach_more(demo: TestClient) -> None:
    many = unsure_percent(say(demo))
    fit_again(store_of(demo), readings=2)
    words = say(demo)
    assert "Learnt from 1 coupon." in words
    assert unsure_percent(words) > many


def test_each_thing_learnt_stands_beside_what_the_books_say(demo: TestClient) -> None:
    words = say(demo)
    row = next(row for row in summary_of(demo)["rows"] if row["of"].startswith("rockwell"))
    high = "high" if row["now"]["median"] > 0 else "low"
    expected = f"Bench Rockwell tester reads {abs(row['now']['median']):.1f} points {high} give or take"
    assert expected in words
    assert "the books say: reads true, give or take 1.6 learnt" in words
    assert "Square tube box: warm-up" in words
    assert not any(word in words.lower() for word in BOOK_WORDS)


def test_an_odd_fire_is_named_with_what_was_noted_and_a_way_to_set_it_aside(demo: TestClient) -> None:
    words = say(demo)
    assert "Batch 6 odd one out It came out shallower or softer" in words
    assert "You noted: seal cracked" in words
    assert "Check the seal" in words
    html = demo.get("/forge").text
    assert "You noted a cracked seal on batch 6: that is the likeliest" in words
    assert 'href="/batches/6/set-aside?why=the+seal+cracked"' in html
    assert "the seal cracked" in demo.get("/batches/6/set-aside?why=the+seal+cracked").text


def test_every_depth_that_was_used_is_a_point_and_a_row_that_leads_to_its_piece(demo: TestClient) -> None:
    with read(store_of(demo)) as session:
        used = {int(key) for key in summary_of(demo)["used"]}
        depths = [row for row in session.exec(select(Reading)) if row.kind == "depth" and row.id in used]
        items = {row.id for row in session.exec(select(Item))}
    html = demo.get("/forge").text
    drawn = payload(html, "depths")
    points = [(x, y) for series in drawn["points"] for x, y in zip(series["x"], series["y"], strict=True)]
    assert sorted(x for x, _ in points) == pytest.approx(sorted(row.value * 1000 for row in depths))
    (equal,) = drawn["lines"]
    assert equal["x"] == equal["y"]
    figure = html.partition('id="depths"')[2].partition("</figure>")[0]
    leads_to = [int(found) for found in re.findall(r'<td><a href="/items/(\d+)">', figure)]
    assert sorted(leads_to) == sorted(row.item_id for row in depths)
    assert set(leads_to) <= items


def test_points_carry_their_give_or_take(demo: TestClient) -> None:
    for series in payload(demo.get("/forge").text, "hardness")["points"]:
        for low, middle, high in zip(series["low"], series["y"], series["high"], strict=True):
            assert low < middle < high


def test_readings_that_were_not_used_stand_there_with_the_reason(demo: TestClient) -> None:
    assert "Set aside because the bar does not harden at all" in say(demo)


def test_while_it_is_worked_out_again_the_page_says_so_and_asks_for_the_end(demo: TestClient) -> None:
    keeper = demo.app.state.context.fit_keeper  # type: ignore[attr-defined]
    keeper.state = FitState(is_working=True)
    page = demo.get("/forge").text
    assert "Working it out again" in text_of(page)
    assert 'hx-get="/forge/state?was=working"' in page
    assert 'href="">Look again</a>' in page
    assert "js/anew.js" in page
    waiting = demo.get("/forge/state")
    assert 'hx-get="/forge/state?was=working"' in waiting.text
    assert "data-anew" not in waiting.text
    keeper.state = FitState(is_refining=True)
    assert "New figures are in." in demo.get("/forge/state?was=working").text
    page = demo.get("/forge").text
    assert "What you see is the quick answer" in text_of(page)
    assert 'hx-get="/forge/state?was=refining"' in page
    assert "data-anew" not in demo.get("/forge/state?was=refining").text
    keeper.state = FitState()
    assert "data-anew" in demo.get("/forge/state?was=refining").text
    keeper.state = FitState(trouble="LinAlgError: singular")
    ended = demo.get("/forge/state?was=refining").text
    assert "data-anew" in ended
    assert "New figures" not in ended
    keeper.state = FitState()
    assert "Working it out again" not in say(demo)


def test_the_first_time_it_does_not_say_that_no_coupon_taught(client: TestClient) -> None:
    begin(client)
    keeper = client.app.state.context.fit_keeper  # type: ignore[attr-defined]
    keeper.close()  # it would say soon that it has nothing to work out
    keeper.state = FitState(is_working=True, is_first=True)
    words = say(client)
    assert "Your readings are being worked out. Until then plans go by the books." in words
    assert "No coupon has taught anything yet" not in words
    assert "Nothing is learnt" not in words
    assert "being worked out" in words.partition("The books say, your forge says")[2]
    assert "no coupon yet" not in words
    assert "the last result stands" not in words


def test_which_sums_stand_is_told_where_it_is_not_the_careful_ones(demo: TestClient) -> None:
    assert "These are the quick sums" in say(demo)
    change_summary(demo, careful=True, diagnostics={"method": "quick", "r_hat": 1.2})
    assert "came to no rest on these coupons, so the quick ones stand" in say(demo)
    change_summary(demo, diagnostics={"method": "quick", "r_hat": 0.0})
    assert "too large for the careful sums" in say(demo)
    change_summary(demo, diagnostics={"method": "slow", "r_hat": 1.01})
    assert "quick" not in say(demo)


def test_trouble_is_told_in_plain_words_and_the_last_result_stands(demo: TestClient) -> None:
    before = say(demo)
    demo.app.state.context.fit_keeper.state = FitState(trouble="LinAlgError: singular")  # type: ignore[attr-defined]
    words = say(demo)
    assert "What was learnt before still stands" in words
    assert UNSURE.findall(words) == UNSURE.findall(before)


def test_a_fit_that_has_not_settled_says_so(demo: TestClient) -> None:
    assert "This has not settled" not in say(demo)
    change_summary(demo, settled=False)
    assert "This has not settled" in say(demo)


def test_fahrenheit_and_inches_are_used_where_the_shop_uses_them(demo: TestClient) -> None:
    with write(store_of(demo), Actor("test bench"), demo.app.state.context.clock.now()) as work:  # type: ignore[attr-defined]
        shop = work.session.get(Shop, 1)
        assert shop is not None
        work.change(shop, temperature_unit="F", length_unit="in")
    html = demo.get("/forge").text
    assert payload(html, "depths")["x"]["unit"] == "in"
    assert max(payload(html, "depths")["points"][0]["x"]) < 0.1
    assert "°F" in text_of(html)


def test_what_the_worker_sends_back_can_be_stored_even_with_a_file_that_only_skates(demo: TestClient) -> None:
    with read(store_of(demo)) as session:
        told = tell(session, demo.app.state.context.clock.now())  # type: ignore[attr-defined]
    skates = [one for one in told.observations if getattr(one.reading, "high_HRC", 0) is None]
    assert skates
    assert '"measured_high": null' in strict_json(run_fit(skates, (), None, told.jobs).summary)


@pytest.mark.parametrize(
    ("score", "surprise", "seal", "how"),
    [
        (-3.1, 3.1, 0.3, "shallow"),
        (-1.9, 2.0, 0.6, "shallow"),
        (2.6, 2.6, 0.0, "deep"),
        (0.5, 4.1, 0.0, "disagree"),
        (-2.4, 2.4, 0.4, None),
    ],
)
def test_a_fire_is_odd_by_its_score_by_its_seal_or_by_its_coupons(
    score: float, surprise: float, seal: float, how: str | None
) -> None:
    fires = [{"fire": "7", "score": score, "surprise": surprise, "seal": seal}]
    assert odd_fires({"fires": fires}).get(7) == how


@pytest.mark.parametrize(
    ("add_K", "unit", "words"),
    [
        (8.0, "C", "reads 8 °C low"),
        (-8.0, "C", "reads 8 °C high"),
        (10.0, "F", "reads 18 °F low"),
        (0.2, "C", "reads true"),
    ],
)
def test_a_thermometer_to_which_something_must_be_added_reads_low(
    add_K: float, unit: str, words: str
) -> None:
    books = {"median": 0.0, "low": -17.0, "high": 17.0}
    now = {"median": add_K, "low": add_K - 10.0, "high": add_K + 10.0}
    row = {"kind": "temperature_bias", "of": "thermocouple:1", "books": books, "now": now}
    (group,) = view_groups(
        [{**row, "learnt": True, "coupons": 4}],
        {"instrument": {1: "Probe"}},
        Showing(unit, "mm", ZoneInfo("UTC")),
    )
    assert group.rows[0].mine.replace("\u00a0", " ") == words


@pytest.mark.parametrize(
    ("kind", "middle", "is_far"),
    [
        ("temperature_bias", 19.0, False),
        ("temperature_bias", -23.0, True),
        ("transfer", 2.5e-7, False),
        ("transfer", 5.0e-8, True),
    ],
)
def test_what_lies_far_from_the_books_is_told_of(kind: str, middle: float, is_far: bool) -> None:
    by_books = {"temperature_bias": (0.0, -17.0, 17.0), "transfer": (1.5e-7, 0.75e-7, 3.0e-7)}
    books = dict(zip(("median", "low", "high"), by_books[kind], strict=True))
    now = {"median": middle, "low": middle - abs(middle) / 4, "high": middle + abs(middle) / 4}
    row = {"kind": kind, "of": "1", "books": books, "now": now, "learnt": True, "coupons": 4}
    (group,) = view_groups(
        [row], {"instrument": {1: "Probe"}, "mix": {1: "Plain"}}, Showing("C", "mm", ZoneInfo("UTC"))
    )
    assert ("far from what the books hold likely" in group.rows[0].taught_by) == is_far


def test_a_thing_that_is_gone_from_the_shop_keeps_its_name(demo: TestClient) -> None:
    with write(store_of(demo), Actor("test bench"), demo.app.state.context.clock.now()) as work:  # type: ignore[attr-defined]
        row = work.session.exec(select(Instrument).where(Instrument.name == "Bench Rockwell tester")).one()
        work.remove(row)
    assert "Bench Rockwell tester" in say(demo)


def test_the_page_compares_every_depth_with_the_rules_and_links_each_point(demo: TestClient) -> None:
    html = demo.get("/forge").text
    words = text_of(html)
    summary = summary_of(demo)
    assert len(summary["rules"]) >= 25
    assert f"On {len(summary['rules'])} depths" in words
    for rule in (
        "k times the root of the time",
        "Harris’s law times one factor",
        "0.1 mm (0.004 in) an hour",
    ):
        assert rule in words
    drawn = payload(html, "rules-chart")
    with read(store_of(demo)) as session:
        for series in drawn["points"]:
            for link in series["links"]:
                assert session.get(Item, int(link.rpartition("/")[2])) is not None
    assert payload(html, "misses-depth-mix")["x"]["names"]


def test_a_fit_stored_before_there_were_rules_leaves_the_panel_out(demo: TestClient) -> None:
    summary = summary_of(demo)
    older = [
        {name: value for name, value in row.items() if name != "foretold"} for row in summary["predictions"]
    ]
    change_summary(demo, rules=[], predictions=older)
    page = demo.get("/forge")
    assert page.status_code == 200
    assert "Against simple rules" not in page.text
    assert "Where it misses" not in page.text


def test_a_single_coupon_is_compared_with_what_needs_no_fit(demo: TestClient) -> None:
    fit_again(store_of(demo), readings=2)
    words = text_of(demo.get("/forge").text)
    assert "One fire alone" in words
    assert "k times the root" not in words
    assert 'id="hardness"' not in demo.get("/forge").text  # only files: nothing to draw
    assert "Where it misses" not in words


def test_a_coupon_is_left_out_from_the_page_with_its_reason_and_taken_back_by_the_undo(
    demo: TestClient,
) -> None:
    page = demo.get("/forge").text
    address = re.findall(r'href="(/items/\d+/set-aside)\?to=forge"', page)[0]
    form = demo.get(f"{address}?to=forge").text
    fields = read_page_form(form, f"{address}?to=forge") | {"why": ["dropped on the floor"]}
    answer = demo.post(f"{address}?to=forge", data=fields)
    assert answer.headers["location"] == "/forge"
    after = demo.get("/forge").text
    assert "dropped on the floor" in text_of(after)
    undo = address.replace("set-aside", "take-in") + "?to=forge"
    assert after.count(f'action="{undo}"') == 2  # the undo of the save, and the switch itself
    back = demo.post(undo, data=read_page_form(after, undo))
    assert back.headers["location"] == "/forge"
    assert "dropped on the floor" not in text_of(demo.get("/forge").text)


def test_a_switch_does_not_lead_away_to_another_site(demo: TestClient) -> None:
    form = demo.get("/items/1/set-aside?to=//elsewhere.example").text
    assert "elsewhere" not in form


def test_every_piece_that_can_teach_stands_there_once_and_one_of_a_batch_left_out_has_no_switch(
    demo: TestClient,
) -> None:
    with read(store_of(demo)) as session:
        (item,) = {
            row.item_id for row in session.exec(select(Reading)) if row.id == int(summary_of(demo)["used"][0])
        }
        batch = session.get(Batch, session.get(Item, item).batch_id)  # type: ignore[union-attr]
        assert batch is not None
        number = batch.id
    section = demo.get("/forge").text.partition('aria-labelledby="coupons"')[2].partition("</section>")[0]
    assert section.count(f'href="/items/{item}"') == 1
    address = f"/batches/{number}/set-aside"
    fields = read_page_form(demo.get(address).text, address) | {"why": ["wet pack"]}
    assert demo.post(address, data=fields).status_code == 303
    section = demo.get("/forge").text.partition('aria-labelledby="coupons"')[2].partition("</section>")[0]
    assert f"/items/{item}/set-aside" not in section
    assert "with its batch: wet pack" in section


def test_the_doubt_narrows_on_the_page_from_the_books_to_the_headline(demo: TestClient) -> None:
    html, summary = demo.get("/forge").text, summary_of(demo)
    drawn = payload(html, "narrowed")
    fires = len(summary["fires"])
    assert drawn["lines"][0]["x"][0] == 0
    assert drawn["lines"][0]["x"][-1] == fires
    widths = [
        high - low for low, high in zip(drawn["bands"][0]["low"], drawn["bands"][0]["high"], strict=True)
    ]
    assert widths[-1] < 0.6 * widths[0]
    ratio = summary["standard"][0]
    assert widths[-1] == pytest.approx(100 * (ratio["high"] - ratio["low"]))
    assert html.count('class="narrowed" viewBox="0 0 240 32"') >= 5


def test_each_constant_names_the_coupons_that_taught_it(demo: TestClient) -> None:
    row = next(row for row in summary_of(demo)["rows"] if row["kind"] == "rim_carbon")
    assert len(row["by"]) == row["coupons"] > 20
    told = demo.get("/forge").text.partition("Where an eye sees the case end")[2].partition("</ul>")[0]
    assert re.findall(r'href="/items/(\d+)"', told) == row["by"]


def test_a_fit_stored_before_there_was_a_course_leaves_the_chart_out(demo: TestClient) -> None:
    rows = [{name: value for name, value in row.items() if name != "by"} for row in summary_of(demo)["rows"]]
    change_summary(demo, course=None, rows=rows)
    page = demo.get("/forge")
    assert page.status_code == 200
    assert 'id="narrowed"' not in page.text

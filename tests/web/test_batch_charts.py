"""The charts of a printed batch say what was told and read of it, in the shop's own units."""

from __future__ import annotations

from dataclasses import replace

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from tests.web.batch_steps import start
from tests.web.page_forms import begin, text_of
from tests.web.proved_book import add_job
from webapp.services.batch_charts import batch_charts
from webapp.services.batch_rows import load_batch
from webapp.services.sheets import showing_of
from webapp.services.shop_view import view_shop
from webapp.store.engine import Store


@pytest.fixture
def shop(client: TestClient) -> TestClient:
    begin(client)
    return client


def test_the_fire_the_case_and_the_skin_are_drawn_with_their_numbers(
    shop: TestClient, app_store: Store
) -> None:
    add_job(app_store, {"hours": 4.0, "depth_mm": 0.8, "HRC": 60.5}, grind_m=0.0001)
    with Session(app_store.reader) as session:
        rows, showing = load_batch(session, 1), showing_of(view_shop(session))
        fire, case, skin = batch_charts(rows, showing)
        inches = batch_charts(rows, replace(showing, length_unit="in", temperature_unit="F"))
    soak = fire.lines[0]
    assert (soak.name, soak.x, soak.y) == ("Soak", [0.5, 4.5], pytest.approx([920.0, 920.0]))
    assert fire.table.rows[0] == ("Soak", "08:30", "0.5", "920")
    assert case.points[0].y == pytest.approx([0.8])
    assert [rule.at for rule in case.rules] == pytest.approx([0.7, 1.1])
    assert skin.points[0].y == [60.5]
    assert skin.rules[0].at == 60.0
    assert inches[0].lines[0].y == pytest.approx([1688.0, 1688.0])
    assert inches[1].points[0].y == pytest.approx([0.8 / 25.4])
    page = shop.get("/batches/1/print").text
    assert page.count('class="chart"') == 3
    assert "0.80 mm on a break after the quench, middle" in text_of(page)


def test_a_batch_that_waits_has_no_charts_and_still_prints(shop: TestClient) -> None:
    batch = start(shop)
    page = shop.get(f"{batch}/print")
    assert page.status_code == 200
    assert 'class="chart"' not in page.text

"""A traverse on the page of its piece: its band by hand, every dent with its give or take, why no band."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from model.belief import handbook_belief
from model.forecast import forecast
from model.learnt import standard_job
from model.process import Keys
from model.readings import Observation, TraverseReading
from tests.conftest import A_SPRING_DAY
from tests.web.fitted_demo import speaking_to_demo, store_of
from tests.web.page_forms import text_of
from webapp.services.showing import Showing
from webapp.services.traverse_chart import Dent, Profile, traverse_chart
from webapp.services.traverse_view import foretell_traverse
from webapp.settings import Settings
from webapp.store.engine import read
from webapp.store.tables import Reading
from webapp.store.unit_of_work import Actor, write

METRIC = Showing("C", "mm", ZoneInfo("UTC"))
DEPTHS_M = (0.1e-3, 0.4e-3, 0.8e-3, 1.5e-3)


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


def traverse_of(client: TestClient) -> Reading:
    with read(store_of(client)) as session:
        return session.exec(select(Reading).where(Reading.kind == "traverse")).one()


def test_the_band_holds_the_middle_forecast_and_a_dents_scatter_widens_it() -> None:
    job = standard_job(Keys(mix="1", heat_method="colour:1"))
    reading = TraverseReading(DEPTHS_M, (800.0, 700.0, 500.0, 300.0))
    dents, profile = foretell_traverse(Observation("1", job, reading), handbook_belief())
    assert profile is not None
    made = forecast(job, handbook_belief().point(job))
    assert made.hardness_HV is not None
    for depth_m, dent in zip(DEPTHS_M, dents, strict=True):
        middle_HV = float(np.interp(depth_m, made.depth_m, made.hardness_HV[0]))
        low, high = (float(np.interp(depth_m, profile.depth_m, ends)) for ends in (profile.low, profile.high))
        assert low < middle_HV < high
        assert dent.low is not None
        assert dent.high is not None
        assert dent.high - dent.low > high - low
        assert dent.half >= 1.64 * 25.0
    assert dents[1].half > dents[0].half  # steeper there, and where it lies is doubted
    assert profile.depth_m[-1] > DEPTHS_M[-1]


def test_a_dent_is_held_against_what_was_foretold_of_it() -> None:
    dents = (
        Dent(0.1e-3, 800.0, 41.0, 700.0, 780.0, 850.0),
        Dent(0.5e-3, 600.0, 45.0, 610.0, 680.0, 750.0),
        Dent(0.9e-3, 500.0, 45.0, 350.0, 400.0, 450.0),
    )
    profile = Profile((0.0, 1e-3), (700.0, 300.0), (780.0, 350.0), (850.0, 420.0))
    chart = traverse_chart("t", "after the quench", dents, profile, METRIC)
    assert [row[-1] for row in chart.table.rows] == ["within", "softer", "harder"]
    assert chart.table.rows[0] == ("0.10 mm", "800 HV", "41 HV", "780 HV", "700 to 850 HV", "within")
    (points,) = chart.points
    assert (points.low[1], points.high[1]) == (555.0, 645.0)
    assert points.words[1] == "0.50 mm deep, give or take 45 HV, foretold 610 to 750 HV (softer), read"
    assert "3 dents, 1 of them as foretold, from 800 HV at 0.10 mm to 500 HV at 0.90 mm" in chart.says


def test_a_traverse_with_no_forecast_still_shows_its_dents() -> None:
    chart = traverse_chart("t", "after the quench", (Dent(0.1e-3, 800.0, 41.0),), None, METRIC)
    assert (chart.bands, chart.lines) == ((), ())
    assert chart.table.rows == (("0.10 mm", "800 HV", "41 HV", "–", "–", "–"),)


def test_the_piece_asks_for_its_traverse_and_every_dent_is_drawn(demo: TestClient) -> None:
    row = traverse_of(demo)
    href = f"/items/{row.item_id}"
    assert f'hx-get="{href}/traverse"' in demo.get(href).text
    html = demo.get(f"{href}/traverse").text
    found = re.search(rf'id="traverse-{row.id}-data">(.*?)</script>', html, re.DOTALL)
    assert found
    drawn = json.loads(found[1])
    assert drawn["points"][0]["y"] == [value for _, value in row.details["points"]]
    assert len(drawn["bands"][0]["x"]) == len(drawn["bands"][0]["low"]) > 20
    assert "this fire’s own left out" in text_of(html)


def test_one_set_aside_is_drawn_without_a_band_and_says_why(demo: TestClient) -> None:
    row = traverse_of(demo)
    with write(store_of(demo), Actor("test bench"), A_SPRING_DAY) as work:
        kept = work.session.get(Reading, row.id)
        assert kept is not None
        work.change(kept, left_out_why="the cut was crooked")
    html = demo.get(f"/items/{row.item_id}/traverse").text
    assert "No forecast: the cut was crooked." in text_of(html)
    assert '"bands": []' in html


def test_a_piece_without_one_says_so_and_its_page_asks_for_none(demo: TestClient) -> None:
    assert "/traverse" not in demo.get("/items/1").text
    assert "No traverse was read" in text_of(demo.get("/items/1/traverse").text)
    assert demo.get("/items/9999/traverse").status_code == 404

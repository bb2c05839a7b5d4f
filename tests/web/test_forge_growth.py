"""Case depth over the hours and hardness by bath: the lines by hand, every reading drawn, tables beneath."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from fastapi.testclient import TestClient

from model.belief import handbook_belief
from model.learnt import standard_job
from model.look import look
from model.process import Carburize, Keys, Quench
from model.readings import HardnessReading
from model.sight import signed_depth
from tests.web.fitted_demo import speaking_to_demo, store_of
from tests.web.page_forms import text_of
from webapp.charts import Chart
from webapp.services.bath_chart import ReadHardness, bath_chart
from webapp.services.fitting import newest_summary
from webapp.services.forge_growth import in_HRC
from webapp.services.growth_chart import ReadDepth, growth_chart
from webapp.services.growth_sums import GrowthLines, Hardness, growth_lines, hardness_in, job_at
from webapp.services.plan_sums import Believed
from webapp.services.showing import Showing
from webapp.settings import Settings
from webapp.store.engine import read
from webapp.store.tables import Reading

METRIC, INCH = Showing("C", "mm", ZoneInfo("UTC")), Showing("F", "in", ZoneInfo("UTC"))
JOB = standard_job(Keys(mix="1", heat_method="colour:1"))
BOOKS = Believed.of(handbook_belief())
HEAT_K = 1193.15
LINES = GrowthLines(
    (0.0, 1.0, 4.0), (0.0, 2e-4, 4e-4), (0.0, 3e-4, 6e-4), (0.0, 4e-4, 8e-4), (0.0, 2e-4, 5e-4)
)


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


def payload(html: str, key: str) -> dict[str, Any]:
    found = re.search(rf'<script type="application/json" id="{key}-data">(.*?)</script>', html, re.DOTALL)
    assert found
    drawn: dict[str, Any] = json.loads(found[1])
    return drawn


def test_the_line_is_that_of_a_forecast_at_any_hour_and_the_books_meet_themselves() -> None:
    lines = growth_lines(BOOKS, JOB, 6.0)
    assert lines.middle_m == lines.books_m
    assert all(low < middle < high for low, middle, high in zip(*lines_of(lines), strict=True))
    hours = 3.0  # not one of those worked out
    soak = JOB.steps[0]
    assert isinstance(soak, Carburize)
    held = replace(JOB, steps=(replace(soak, history=soak.history.hold(1198.15, hours * 3600.0)),))
    seen = look([held], BOOKS.belief.inputs(held, 400, seed=3)[None])[0]
    depth_m = float(np.median(signed_depth(seen.depth_m, seen.carbon_wt, seen.rim_carbon_wt)))
    assert lines.at(hours, lines.middle_m) == pytest.approx(depth_m, rel=0.06)  # 96 draws against 400
    root = lines.at(4.0, lines.middle_m) / lines.at(1.0, lines.middle_m)
    assert 1.8 < root < 2.8  # twice, and what the skin takes to fill up


def lines_of(lines: GrowthLines) -> tuple[tuple[float, ...], ...]:
    return lines.low_m[1:], lines.middle_m[1:], lines.high_m[1:]


def test_a_hotter_job_grows_a_deeper_case() -> None:
    hot, cool = (growth_lines(BOOKS, job_at(JOB, heat_K), 4.0).middle_m[-1] for heat_K in (1223.15, 1173.15))
    assert hot > 1.3 * cool


def test_water_is_foretold_harder_than_oil() -> None:
    water, oil = hardness_in(BOOKS, JOB, (("1", Quench("water")), ("2", Quench("vegetable oil", 323.15))))
    assert water.middle > oil.middle + 5.0
    assert 60.0 < water.middle < 69.0  # a full-carbon martensite; common practice, no source
    assert water.low < water.middle < water.high


def depth(words: str, depth_mm: float, heat_K: float = HEAT_K, is_odd: bool = False) -> ReadDepth:
    return ReadDepth(words, f"/items/{words[0]}", depth_mm / 1000.0, heat_K, 2.25, is_odd)


def test_depths_stand_as_read_told_apart_by_heat_and_beside_the_three_lines() -> None:
    read = [depth("1 A", 0.5), depth("2 A", 0.7, HEAT_K + 20.0), depth("3 A", 0.3, HEAT_K - 20.0),
            depth("4 A", 0.1, is_odd=True)]  # fmt: skip
    chart = growth_chart(read, LINES, HEAT_K, "a rod", METRIC)
    assert chart.x.by_root
    assert [line.name for line in chart.lines] == ["this forge", "the books", "0.1 mm (0.004 in) an hour"]
    assert len({(line.dashed, line.dotted) for line in chart.lines}) == 3
    assert list(chart.lines[2].y) == [0.0, 0.1, 0.4]
    assert {points.shape: list(points.y) for points in chart.points} == {
        "circle": [0.5], "triangle": [0.7], "square": [0.3], "diamond": [0.1],
    }  # fmt: skip
    assert chart.points[0].words == ["1 A, 2.2 h at 920 °C"]
    # 2.25 h lies half way from 1 to 4 h in the root of the time
    assert chart.table.rows[0] == ("1 A", "0.50 mm", "920 °C", "2.2", "0.45 mm", "0.35 mm", "0.23 mm")
    assert chart.table.rows[3][0] == "4 A, odd one out"
    assert chart.table.links == tuple(one.href for one in read)
    assert "4 h at 920 °C give 0.60 mm in this forge (0.40 to 0.80 in nine fires of ten)" in chart.says


def test_depths_in_inches_and_fahrenheit() -> None:
    chart = growth_chart([depth("1 A", 0.508)], LINES, HEAT_K, "a rod", INCH)
    assert chart.table.rows[0][1:3] == ("0.020 in", "1688 °F")
    assert list(chart.points[0].y) == [0.02]


def hardness(value: float | None, bath: str = "Barrel", tempered: bool = False, turned: bool = False) -> Any:
    return ReadHardness("1 A", "/items/1", bath, f"{value}", value, tempered, turned)


def test_every_hardness_stands_by_its_bath_and_none_hides_another() -> None:
    read = [
        hardness(64.0),
        hardness(61.0),
        hardness(58.0, tempered=True),
        hardness(None),
        hardness(66.0, "Tank"),
    ]
    chart = bath_chart(
        read, {"Tank": Hardness(60.0, 63.0, 66.0), "Oil": Hardness(30.0, 40.0, 50.0)}, [60, 60], "a rod"
    )
    assert isinstance(chart, Chart)
    assert chart.x.names == ("Barrel", "Tank", "Oil")
    quenched, tempered, foretold = chart.points
    assert list(quenched.y) == [64.0, 61.0, 66.0]
    assert list(tempered.y) == [58.0]
    places = [*quenched.x, *tempered.x, *foretold.x]
    assert len(set(places)) == len(places)
    assert (list(foretold.low), list(foretold.high)) == ([60.0, 30.0], [66.0, 50.0])
    assert [line.name for line in chart.lines] == ["wanted of a part: 60 HRC"]
    assert chart.table.rows[3][4] == "beyond the table"
    assert chart.table.rows[-1][1:] == ("Oil", "as quenched", "–", "40 (30 to 50)")
    assert bath_chart([], {}, [], "a rod") is None


def test_another_scale_is_said_to_be_turned_and_only_then() -> None:
    plain, mixed = (
        bath_chart(read, {}, [], "a rod") for read in ([hardness(64.0)], [hardness(60.0, turned=True)])
    )
    assert plain is not None
    assert mixed is not None
    assert "another scale" not in plain.note
    assert "another scale is turned into HRC" in mixed.note
    assert mixed.table.rows[0][-1] == "60.0 (turned)"


def test_many_wants_are_told_by_their_ends() -> None:
    chart = bath_chart([hardness(64.0)], {}, [58.0, 60.0, 62.0, 60.0], "a rod")
    assert chart is not None
    assert [line.name for line in chart.lines] == ["the softest wanted: 58 HRC", "the hardest wanted: 62 HRC"]


@pytest.mark.parametrize(
    ("scale", "value", "turned"),
    # ASTM E140-12b table 1, from memory: 60 HRC is 697 HV, 81.2 HRA and 90.2 HR15N
    [
        ("HRC", 71.0, 71.0),
        ("HV", 697.0, 60.0),
        ("HRA", 81.2, 60.0),
        ("HR15N", 90.2, 60.0),
        ("HV", 990.0, None),
    ],
)
def test_other_scales_are_turned_into_HRC_as_far_as_the_table_goes(
    scale: Any, value: float, turned: float | None
) -> None:
    found = in_HRC(HardnessReading(scale, value))
    assert found == (None if turned is None else pytest.approx(turned, abs=0.3))


def test_the_page_draws_every_depth_and_hardness_that_the_fit_learnt_from(demo: TestClient) -> None:
    html = demo.get("/forge/charts").text
    with read(store_of(demo)) as session:
        newest = newest_summary(session)
        assert newest is not None
        used = [session.get(Reading, int(key)) for key in newest.summary["used"]]
    kinds = [row.kind for row in used if row is not None]
    growth, baths = payload(html, "case-growth"), payload(html, "bath-hardness")
    assert sum(len(points["y"]) for points in growth["points"]) == kinds.count("depth") > 20
    assert sum(len(points["y"]) for points in baths["points"][:-1]) == kinds.count("hardness") > 20
    assert all(link.startswith("/items/") for points in growth["points"] for link in points["links"])
    words = text_of(html)
    assert "6 A Standard pin, odd one out" in words
    assert "Rapeseed oil, lidded tank" in words


def test_the_forge_page_asks_for_its_charts_once_it_stands(demo: TestClient) -> None:
    html = demo.get("/forge").text
    assert 'hx-get="/forge/charts"' in html
    assert 'id="case-growth-data"' not in html


def test_an_empty_shop_says_what_is_missing(client: TestClient) -> None:
    response = client.get("/forge/charts")
    assert response.status_code == 200
    assert "Shop page" in text_of(response.text) or "yet" in text_of(response.text)

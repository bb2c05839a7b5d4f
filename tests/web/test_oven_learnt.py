"""The shop's oven: its checks and readings after a temper reach the fit, what is learnt reaches the plan."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from model.belief import handbook_belief
from model.calibration import fit
from model.evidence import InstrumentCheck
from tests.conftest import A_SPRING_DAY
from tests.web.batch_steps import rows, start, walk
from tests.web.conftest import Save
from tests.web.fitted_demo import fit_again, speaking_to_demo
from tests.web.page_forms import begin, send, text_of
from webapp.forms.plans import PlanForm
from webapp.services.batch_rows import row_id
from webapp.services.observations import tell
from webapp.services.plan_rows import first_values, goal_of, process_of, rows_for
from webapp.services.plan_sums import Believed, settle
from webapp.services.plan_temper import temper_figures, usual_oven
from webapp.services.processes import was_tempered_so
from webapp.settings import Settings
from webapp.store.engine import Store, read
from webapp.store.tables import Fit, Instrument, Reading, Step

PIN = "/items/1"
FIRST = f"{PIN}/readings/new?kind=first"


def oven_of(store: Store) -> Instrument:
    return next(row for row in rows(store, Instrument) if row.role == "oven")


@pytest.fixture
def tempered(client: TestClient, app_store: Store, save: Save) -> None:
    """A batch that soaked four hours, was quenched, and tempered in the shop's oven."""
    begin(client)
    start(client)
    walk(client, "/batches/1", "box_in", "at_heat", "box_out", "reheat", "quench", "temper")
    soak = next(step for step in rows(app_store, Step) if step.kind == "soak")
    with save() as work:
        work.change(work.get(Step, row_id(soak)), seconds=4 * 3600.0)


def test_a_reading_after_the_temper_enters_the_fit(
    client: TestClient, tempered: None, app_store: Store
) -> None:
    assert send(client, FIRST, FIRST, hardness="59", after="temper_1").status_code == 303
    fit_again(app_store)
    (reading,) = rows(app_store, Reading)
    with read(app_store) as session:
        (observation,) = tell(session, A_SPRING_DAY).observations
        newest = session.get(Fit, 1)
    assert newest is not None
    assert newest.reading_ids == [reading.id]
    assert observation.reading.after == "temper"  # type: ignore[union-attr]
    assert observation.process.temper_doubt_K >= 0.0
    assert was_tempered_so(observation.process, "temper_1")
    assert not was_tempered_so(observation.process, "temper_2")


def test_a_reading_after_a_second_temper_that_was_not_noted_is_set_aside_with_the_reason(
    client: TestClient, tempered: None, app_store: Store, save: Save
) -> None:
    with save() as work:
        work.add(
            Reading(
                item_id=1, kind="hardness", value=58.0, unit="HRC", after="temper_2", measured_at=A_SPRING_DAY
            )
        )
    with read(app_store) as session:
        told = tell(session, A_SPRING_DAY)
    assert told.observations == ()
    assert told.untold == {"1": "it was read after a temper that has not been noted"}


def test_the_checks_of_an_oven_and_what_is_stated_of_it_are_told(
    client: TestClient, app_store: Store, save: Save
) -> None:
    begin(client)
    oven = oven_of(app_store)
    checks = f"/shop/ovens/{oven.id}/checks"
    send(client, checks, checks, against="oven thermometer", known="172", reading="180")
    with read(app_store) as session:
        (check,) = tell(session, A_SPRING_DAY).checks
    assert (check.instrument, check.sd) == (f"oven:{oven.id}", 7.0)
    assert check.known - check.reading == pytest.approx(-8.0)
    with save() as work:
        work.change(work.get(Instrument, row_id(oven)), spread=3.0)
    with read(app_store) as session:
        stated, _ = tell(session, A_SPRING_DAY).checks
    # an owner's 3 K: with the 12 K of the books it comes to 3 K again
    assert (12.0**-2 + stated.sd**-2) ** -0.5 == pytest.approx(3.0)
    assert stated.known == stated.reading


def test_the_temper_of_a_plan_goes_with_what_is_known_of_the_oven(
    client: TestClient, app_store: Store
) -> None:
    begin(client)
    send(client, "/parts/new", "/parts", name="Pin", size_m="12", wanted_hardness_HRC="60")
    with read(app_store) as session:
        plan = rows_for(session, form := PlanForm(**first_values(session, 1)))
        oven = usual_oven(session)
    assert oven is not None
    assert plan.oven == oven
    cool = fit([], [InstrumentCheck(f"oven:{oven.id}", 440.0, 465.0, 2.0)]).belief
    settings_K = []
    for belief in (handbook_belief(), cool):
        believed = Believed.of(belief)
        found = settle(goal_of(plan.part), process_of(plan, form), 4 * 3600.0, believed)
        temper = temper_figures(found, believed, oven, 60.0, 3600.0)
        assert temper is not None
        settings_K.append(temper.best_K)
    assert temper.oven == oven.name
    assert temper.runs_K == pytest.approx(-25.0 * 144.0 / 148.0)
    assert settings_K[1] - settings_K[0] == pytest.approx(25.0, abs=15.0)


def test_the_page_of_the_forge_says_how_the_oven_runs(settings: Settings) -> None:
    with speaking_to_demo(settings) as client:
        words = text_of(client.get("/forge").text).replace("\N{NO-BREAK SPACE}", " ")
    assert "The oven" in words
    assert re.search(r"Bench oven.{0,40}runs about \d+ °C cool", words)

"""Plans: worked out from what a part must stand, live under the steppers, and kept as they were."""

from __future__ import annotations

import re
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import col, select

from model import MODEL_VERSION
from model.arrow import Covariance
from model.belief import ShopBelief, handbook_belief
from model.priors import prior_for
from model.units import celsius_to_kelvin
from tests.conftest import A_SPRING_DAY
from tests.web.conftest import Save
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.fit_keeper import FitState
from webapp.forms.plans import PlanForm
from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_rows import first_values, goal_of, process_of, rows_for
from webapp.services.plan_sums import Believed, settle, sketch
from webapp.services.plan_view import view_plan
from webapp.services.showing import Showing
from webapp.store.engine import Store, read
from webapp.store.tables import Bar, Bath, Fit, Mix, Part, Plan, Shop

NEW = "/plans/new?part=1"
PREVIEW = "/plans/preview"
IN_MM = Showing("C", "mm", ZoneInfo("UTC"))


@pytest.fixture(autouse=True)
def _begun(client: TestClient) -> None:
    begin(client)


@pytest.fixture
def pin(client: TestClient) -> None:
    """A pin of 12 mm that wants 0.4 to 0.8 mm after 0.1 mm of grinding."""
    send(client, "/parts/new", "/parts", name="Pivot pin", size_m="12", grind_m="0.1")


def fields(client: TestClient, address: str = NEW) -> dict[str, list[str]]:
    return read_page_form(client.get(address).text, "/plans")


def preview(client: TestClient, **typed: str) -> str:
    answer = client.post(PREVIEW, data={**fields(client), **typed})
    assert answer.status_code == 200
    return " ".join(re.sub(r"<script.*?</script>|<[^>]+>", " ", answer.text, flags=re.S).split())


def saved_plan(store: Store, plan_id: int = 1) -> Plan:
    with read(store) as session:
        found = session.get(Plan, plan_id)
        assert found is not None
        return found


def test_without_a_part_the_page_teaches_and_offers_parts_to_start_from(client: TestClient) -> None:
    page = client.get("/plans")
    assert "What do you want to make?" in text_of(page.text)
    answer = client.post("/plans/suggested", data={"form_id": "one-use-1", "key": "lever"})
    assert answer.headers["location"] == NEW
    assert "Plan: Lever" in text_of(client.get(NEW).text)
    assert "Plan a part Lever" in text_of(client.get("/plans").text)


def test_a_shop_without_a_bath_is_told_what_to_write_down(client: TestClient, pin: None, save: Save) -> None:
    with save() as work:
        for mix in list(work.session.exec(select(Mix))):
            work.remove(mix)
    assert client.get(NEW).headers["location"] == "/plans"
    assert "a pack mix" in text_of(client.get("/plans").text)


def test_a_new_plan_has_its_hours_and_odds_worked_out(client: TestClient, pin: None) -> None:
    page = client.get(NEW)
    found = read_page_form(page.text, "/plans")
    assert 1.0 < float(found["soak_s"][0]) < 20.0
    words = text_of(page.text)
    assert re.search(r"\d in 10 to land between 0.4 and 0.8 mm", words)
    assert "Case after grinding" in words
    assert "A Rockwell test would show" in words
    assert "The soak clock starts at the working heat. Before it, allow about" in words
    assert re.search(r"In the fire [^.]*, at heat [^.]*\.", words)
    said = re.search(
        r"Of the carbon, (\d+) % comes in on the way up, (\d+) % in the soak, (\d+) % while the box cools",
        words,
    )
    assert said is not None
    assert sum(int(share) for share in said.groups()) == pytest.approx(100, abs=1)
    assert int(said[2]) > 80
    assert "Worked out from the books only" in words
    assert "0.1 mm (0.004 in) an hour" in words
    assert "Harris 1943" in words
    assert "Which bath?" in words
    assert page.text.count("<table") == 3


def test_the_odds_in_ten_sum_to_ten(client: TestClient, pin: None) -> None:
    page = client.get(NEW).text
    assert len(re.findall(r'<li class="(?:shallow|inside|deep)">', page)) == 10


def test_more_hours_go_deeper_and_a_hotter_soak_too(client: TestClient, pin: None) -> None:
    def case(**typed: str) -> float:
        return float(re.search(r"Case after grinding ([\d.]+)", preview(client, **typed))[1])

    usual = case(soak_s="4")
    assert case(soak_s="9") > 1.2 * usual
    assert case(soak_s="4", temperature_K="950") > 1.2 * usual


def test_the_quick_answer_stays_near_the_full_one(client: TestClient, pin: None, app_store: Store) -> None:
    believed = Believed.of(handbook_belief())
    with read(app_store) as session:
        form = PlanForm(**first_values(session, 1))
        rows = rows_for(session, form)
        goal, process = goal_of(rows.part), process_of(rows, form)
        settle(goal, process, 4 * 3600.0, believed)
        hotter = process_of(rows, form.model_copy(update={"temperature_K": celsius_to_kelvin(920.0)}))
        quick = sketch(goal, hotter, 5 * 3600.0, believed)
        full = settle(goal, hotter, 5 * 3600.0, believed)
    quick_m = quick.settled.middle_case_m + goal.grinding_allowance_m
    full_m = full.middle_case_m + goal.grinding_allowance_m
    assert quick.deeper * quick_m == pytest.approx(full_m, rel=1e-9)


def test_the_settled_answer_replaces_the_quick_one(client: TestClient, pin: None) -> None:
    sent = {**fields(client), "soak_s": "7"}
    quick = client.post(PREVIEW, data=sent).text
    assert "load delay" in quick
    full = client.post(PREVIEW, data={**sent, "settled": "yes"}).text
    assert "load delay" not in full
    assert "Best odds at this heat" in full


def test_without_script_a_button_works_it_out_and_blank_hours_are_filled_in(
    client: TestClient, pin: None
) -> None:
    sent = fields(client)
    answer = client.post("/plans/new", data={**sent, "soak_s": "", "temperature_K": "930"})
    again = read_page_form(answer.text, "/plans")
    assert answer.status_code == 200
    assert again["temperature_K"] == ["930"]
    assert 0.0 < float(again["soak_s"][0]) < float(sent["soak_s"][0])
    best = client.post("/plans/new", data={**sent, "soak_s": "9", "hours": "best"})
    assert read_page_form(best.text, "/plans")["soak_s"] == sent["soak_s"]


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("temperature_K", "1700", "Did you mean 1700 °F (927 °C)?"),
        ("temperature_K", "", "Heat is needed"),
        ("temperature_K", "nan", "not a number"),
        ("soak_s", "0", "Soak"),
        ("soak_s", "-3", "less than nothing"),
        ("soak_s", "NaN", "not a number"),
        ("soak_s", "401", "too much here"),
        ("soak_s", "1,2,3", "read two ways"),
        ("temper_K", "750", "too much here"),
        ("temper_K", "-400", "below absolute zero"),
        ("reheat_K", "2000", "hotter than steel survives"),
        ("mix_id", "999", "no longer in the shop"),
        ("mix_id", "", "pick one"),
        ("clock_from", "whenever", "not in the list"),
    ],
)
def test_bad_input_is_said_beside_its_field_and_the_rest_is_kept(
    client: TestClient, pin: None, app_store: Store, field: str, typed: str, said: str
) -> None:
    sent = {**fields(client), "note": "oil the seal", field: typed}
    answer = client.post("/plans", data=sent)
    assert answer.status_code == 422
    assert said in text_of(answer.text)
    assert read_page_form(answer.text, "/plans")["note"] == ["oil the seal"]
    assert f'id="{field}-error"' in answer.text
    shown = client.post(PREVIEW, data=sent)
    assert shown.status_code == 200
    assert said in text_of("<main" + shown.text + "</main>")
    with read(app_store) as session:
        assert session.exec(select(Plan)).all() == []


def test_a_temper_hotter_than_its_steel_turns_is_refused_beside_the_temper(
    client: TestClient, pin: None, save: Save
) -> None:
    # nickel lowers Ac1 (Andrews 1965): 9310 turns at about 690 C
    with save() as work:
        work.change(work.get(Bar, 1), grade="9310", carbon_low_wt=0.08, carbon_high_wt=0.13)
    answer = client.post("/plans", data={**fields(client), "temper_K": "695"})
    assert answer.status_code == 422
    assert "hotter than the steel's Ac1" in text_of(answer.text)
    assert 'id="temper_K-error"' in answer.text


def test_a_mix_that_names_a_poison_brings_a_stop_and_no_forecast(
    client: TestClient, pin: None, save: Save
) -> None:
    with save() as work:
        work.change(work.get(Mix, 2), name="old mix, 20 % barium carbonate")
    sent = {**fields(client), "mix_id": "2"}
    words = preview(client, **{name: texts[0] for name, texts in sent.items()})
    assert words.startswith("Stop")
    assert "in 10" not in words
    answer = client.post("/plans", data=sent)
    assert answer.status_code == 422
    assert "No plan is made with this mix" in text_of(answer.text)


def test_a_case_deeper_than_the_part_has_metal_says_so_with_the_nearest(
    client: TestClient, pin: None, save: Save
) -> None:
    with save() as work:
        part = work.get(Part, 1)
        work.change(part, size_m=3e-3, wanted_depth_low_m=2e-3, wanted_depth_high_m=2.5e-3)
    words = text_of(client.get(NEW).text)
    assert "deeper than the part has metal" in words
    assert "The nearest that can be had this way" in words


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"temperature_K": "700"}, "there will be no case"),
        ({"temperature_K": "790", "mix_id": "1"}, "expect almost no case"),
        ({"temperature_K": "1000", "soak_s": "20"}, "weigh the gas and the box"),
        ({"temperature_K": "980", "soak_s": "10", "reheat_K": ""}, "The grain may grow"),
    ],
)
def test_warnings_come_in_plain_words_with_what_to_do(
    client: TestClient, pin: None, typed: dict[str, str], said: str
) -> None:
    assert said in preview(client, **typed)


def test_a_case_too_deep_for_its_section_is_warned_of(client: TestClient, pin: None, save: Save) -> None:
    with save() as work:
        work.change(work.get(Part, 1), size_m=4e-3)
    assert "no soft core is left" in preview(client, temperature_K="950", soak_s="8")
    assert "the core no longer carries" in preview(client, temperature_K="900", soak_s="3")


def test_a_bath_brings_its_own_cautions_and_air_is_said_not_to_harden(
    client: TestClient, pin: None, save: Save
) -> None:
    assert "Steam burns" in preview(client)
    assert "Oil can catch fire" in preview(client, bath_id="3")
    with save() as work:
        work.change(work.get(Bath, 3), medium="air")
    assert "Still air does not harden" in preview(client, bath_id="3")


def test_a_saved_plan_keeps_its_figures_and_starts_a_batch(
    client: TestClient, pin: None, app_store: Store
) -> None:
    sent = fields(client)
    answer = client.post("/plans", data=sent)
    assert answer.headers["location"] == "/plans/1"
    plan = saved_plan(app_store)
    figures = PlanFigures.from_dict(plan.result)
    assert figures.model_version == MODEL_VERSION
    assert PlanFigures.from_dict(figures.to_dict()) == figures
    assert 0.0 < figures.depth.low < figures.depth.middle < figures.depth.high
    assert plan.soak_s == pytest.approx(figures.soak_s)
    assert plan.fit_id is None
    page = client.get("/plans/1").text
    assert 'action="/batches?plan=1"' in page
    assert view_plan(figures, IN_MM).headline in text_of(page)
    assert "no coupon of this forge had taught anything yet" in text_of(page)
    assert "Plan it again with what the forge knows now" in text_of(page)


def test_while_the_first_readings_are_worked_out_a_plan_says_so(
    app: FastAPI, client: TestClient, pin: None
) -> None:
    sent = fields(client)
    client.post("/plans", data=sent)
    app.state.context.fit_keeper.close()  # it would say soon that it has nothing to work out
    app.state.context.fit_keeper.state = FitState(is_working=True, is_first=True)
    shown = text_of(client.get(NEW).text), preview(client, **sent), text_of(client.get("/plans/1").text)
    for words in shown:
        assert "your readings are being worked out just now" in words
        assert "no coupon" not in words


def test_a_double_tap_keeps_one_plan(client: TestClient, pin: None, app_store: Store) -> None:
    sent = fields(client)
    first, second = (client.post("/plans", data=sent) for _ in range(2))
    assert first.headers["location"] == second.headers["location"] == "/plans/1"
    with read(app_store) as session:
        assert len(session.exec(select(Plan)).all()) == 1


def test_an_old_plan_keeps_its_figures_when_the_forge_learns(
    app: FastAPI, client: TestClient, pin: None, save: Save, app_store: Store
) -> None:
    app.state.context.fit_keeper.close()  # it would fit the empty book over the invented fit below
    client.post("/plans", data=fields(client))
    before = saved_plan(app_store).result
    with save() as work:
        work.add(a_hot_forge())
    words = text_of(client.get("/plans/1").text)
    assert "The forge knows more now" in words
    assert saved_plan(app_store).result == before
    again = client.get("/plans/new?part=1&again=1").text
    assert "Learnt from 9 coupons of this forge." in text_of(again)
    assert "the books alone" in text_of(again)
    # 40 K hotter than it reads: the same case takes less time
    assert float(read_page_form(again, "/plans")["soak_s"][0]) < before["soak_s"] / 3600.0
    client.post("/plans", data=read_page_form(again, "/plans"))
    with read(app_store) as session:
        newest = session.exec(select(Fit.id).order_by(col(Fit.id).desc())).first()
    assert saved_plan(app_store, 2).fit_id == newest


def test_a_plan_is_removed_and_put_back(client: TestClient, pin: None, app_store: Store) -> None:
    client.post("/plans", data=fields(client))
    gone = client.post("/plans/1/remove", data={"form_id": "remove-it-1", "version": "1"})
    assert gone.headers["location"] == "/plans"
    assert "The plan was removed." in client.get("/plans").text
    assert client.get("/plans/1").status_code == 404
    back = client.post("/plans/1/put-back", data={"form_id": "put-it-back"})
    assert back.headers["location"] == "/plans/1"
    assert client.get("/plans/1").status_code == 200


def test_a_plan_changed_on_another_tablet_is_not_removed_from_here(
    client: TestClient, pin: None, save: Save
) -> None:
    client.post("/plans", data=fields(client))
    with save() as work:
        work.change(work.get(Plan, 1), note="for Thursday")
    answer = client.post("/plans/1/remove", data={"form_id": "remove-it-1", "version": "1"})
    assert answer.status_code == 409
    assert client.get("/plans/1").status_code == 200


def test_a_shop_in_inches_and_fahrenheit_reads_its_own_units(
    client: TestClient, pin: None, save: Save
) -> None:
    with save() as work:
        work.change(work.get(Shop, 1), temperature_unit="F", length_unit="in")
    found = fields(client)
    assert found["temperature_K"] == ["1697"]
    words = text_of(client.get(NEW).text)
    assert "to land between 0.016 and 0.031 in" in words
    assert "1652 °F" in words


def test_a_part_that_is_gone_has_no_plan(client: TestClient, pin: None) -> None:
    sent = fields(client)
    for part_id in ("77", "x", "9" * 30):
        assert client.post("/plans", data={**sent, "part_id": part_id}).status_code in (404, 422)
    assert client.get("/plans/new?part=77").status_code == 404
    assert client.get("/plans/new").status_code == 422
    assert client.get("/plans/5").status_code == 404


def test_no_page_of_a_plan_speaks_of_statistics(client: TestClient, pin: None) -> None:
    words = text_of(client.get(NEW).text).lower()
    for word in ("posterior", "residual", "prior ", "potential", "severity", "sigma", "variational"):
        assert word not in words


def a_hot_forge() -> Fit:
    """Return a fit that found the eye 40 K too low, from nine coupons."""
    belief = ShopBelief(
        names=("temperature_bias/colour:1",),
        mean=np.array([40.0 / prior_for("temperature_bias/colour:1").sd]),
        covariance=Covariance.whole(np.array([[0.05]])),
        coupons=9,
    )
    return Fit(
        created_at=A_SPRING_DAY,
        model_version=MODEL_VERSION,
        fingerprint="invented",
        belief=belief.to_dict(),
    )

"""The shop page and its forms: what is kept, what is refused and in which words, and what is never lost."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.services.shop_cautions import CAUTION_GROUPS
from webapp.store.engine import Store, read
from webapp.store.tables import Bath, Box, Forge, Instrument, InstrumentCheck, Mix

NEW_BOX = ("/shop/boxes/new", "/shop/boxes")
NEW_MIX = ("/shop/mixes/new", "/shop/mixes")
BOX = {"name": "Flat box", "inner_length_m": "300", "inner_width_m": "90", "inner_height_m": "60"}


@pytest.fixture(autouse=True)
def _begun(client: TestClient) -> None:
    begin(client)


def kept(store: Store, kind: type) -> list:
    with read(store) as session:
        return list(session.exec(select(kind).where(kind.deleted_at.is_(None))))


def test_every_page_of_the_shop_opens(client: TestClient) -> None:
    for kind in ("forges", "heats", "boxes", "mixes", "baths", "ovens", "testers"):
        assert client.get(f"/shop/{kind}/new").status_code == 200, kind
    for address in ("/shop", "/shop/colours", "/shop/settings", "/cautions", "/bars", "/bars/new", "/parts"):
        assert client.get(address).status_code == 200, address


def test_a_box_is_kept_in_si_with_the_text_as_typed_beside_it(client: TestClient, app_store: Store) -> None:
    answer = send(client, *NEW_BOX, **{**BOX, "inner_length_m": "12 in", "wall_m": "1/8 in"})
    assert answer.headers["location"] == "/shop#boxes"
    box = kept(app_store, Box)[-1]
    assert box.inner_length_m == pytest.approx(0.3048)
    assert box.wall_m == pytest.approx(0.003175)
    assert box.typed["inner_length_m"] == "12 in"
    assert "304.8 × 90 × 60 mm" in text_of(client.get("/shop").text)
    assert 'value="12 in"' in client.get(f"/shop/boxes/{box.id}").text


def test_a_comma_is_a_decimal_mark(client: TestClient, app_store: Store) -> None:
    send(client, *NEW_BOX, **{**BOX, "wall_m": "3,2"})
    assert kept(app_store, Box)[-1].wall_m == pytest.approx(0.0032)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("nan", "not a number"),
        ("inf", "not a number"),
        ("1e999", "too large"),
        ("-80", "less than nothing"),
        ("", "Inside length is needed"),
        ("eighty", "not a number"),
        ("1,234.5", "two ways"),
        ("80000", "too much"),
    ],
)
def test_a_size_that_is_none_is_refused_beside_its_field_and_the_rest_is_kept(
    client: TestClient, app_store: Store, typed: str, said: str
) -> None:
    before = len(kept(app_store, Box))
    answer = send(client, *NEW_BOX, **{**BOX, "inner_length_m": typed})
    assert answer.status_code == 422
    assert said in text_of(answer.text)
    assert 'id="inner_length_m-error"' in answer.text
    assert read_page_form(answer.text, "/shop/boxes")["name"] == ["Flat box"]
    assert len(kept(app_store, Box)) == before


def test_a_round_box_is_as_high_as_it_is_wide(client: TestClient, app_store: Store) -> None:
    answer = send(client, *NEW_BOX, **{**BOX, "shape": "round"})
    assert "A round box is as high as it is wide" in text_of(answer.text)
    send(client, *NEW_BOX, **{**BOX, "shape": "round", "inner_height_m": ""})
    assert kept(app_store, Box)[-1].inner_height_m == pytest.approx(0.09)


def test_marks_in_a_name_are_shown_as_typed_and_never_run(client: TestClient) -> None:
    send(client, *NEW_BOX, **{**BOX, "name": "<script>alert(1)</script>"})
    page = client.get("/shop").text
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_a_note_of_a_megabyte_is_refused_without_cutting_it(client: TestClient, app_store: Store) -> None:
    before = len(kept(app_store, Box))
    answer = send(client, *NEW_BOX, **{**BOX, "note": "x" * 1_000_000})
    assert answer.status_code in (413, 422)
    assert "1,000,000" in answer.text or answer.status_code == 413
    assert len(kept(app_store, Box)) == before


def test_a_double_tap_saves_one_record(client: TestClient, app_store: Store) -> None:
    before = len(kept(app_store, Box))
    filled = {**read_page_form(client.get(NEW_BOX[0]).text, NEW_BOX[1]), **BOX}
    first, second = (client.post(NEW_BOX[1], data=filled) for _ in range(2))
    assert first.headers["location"] == second.headers["location"] == "/shop#boxes"
    assert len(kept(app_store, Box)) == before + 1


def test_a_second_tablet_sees_both_versions_and_may_then_save_its_own(
    client: TestClient, app_store: Store
) -> None:
    mine = read_page_form(client.get("/shop/boxes/1").text, "/shop/boxes/1")
    send(client, "/shop/boxes/1", "/shop/boxes/1", inner_length_m="250")
    answer = client.post("/shop/boxes/1", data={**mine, "inner_length_m": "230"})
    assert answer.status_code == 409
    words = text_of(answer.text)
    assert "Changed meanwhile" in words
    assert "250" in words
    assert "230" in words
    assert kept(app_store, Box)[0].inner_length_m == pytest.approx(0.25)
    again = read_page_form(answer.text, "/shop/boxes/1")
    assert client.post("/shop/boxes/1", data=again).status_code == 303
    assert kept(app_store, Box)[0].inner_length_m == pytest.approx(0.23)


def test_a_removed_record_leaves_the_page_and_comes_back_by_undo(
    client: TestClient, app_store: Store
) -> None:
    answer = send(client, "/shop/baths/2", "/shop/baths/2/remove")
    assert answer.status_code == 303
    page = client.get("/shop").text
    assert "Brine was removed." in text_of(page)
    assert client.get("/shop/baths/2").status_code == 404
    assert client.post(
        "/shop/baths/2/put-back", data=read_page_form(page, "/shop/baths/2/put-back")
    ).is_redirect
    assert [bath.name for bath in kept(app_store, Bath)] == ["Water", "Brine", "Vegetable oil"]


def test_a_record_of_a_sister_list_is_not_found(client: TestClient) -> None:
    heat, oven = client.get("/shop/heats/1"), client.get("/shop/ovens/1")
    assert (heat.status_code, oven.status_code) == (200, 404)
    assert client.post("/shop/ovens/1/put-back", data={"form_id": "some-form-id"}).status_code == 404


def test_fahrenheit_typed_as_celsius_is_asked_about(client: TestClient) -> None:
    answer = send(
        client, "/shop/heats/1/checks", "/shop/heats/1/checks", against="ice", known="0", reading="1700"
    )
    assert answer.status_code == 422
    assert "Did you mean 1700 °F" in text_of(answer.text)


@pytest.mark.parametrize(
    ("substance", "percent", "said"),
    [
        ("soda ash", "5", "5 % carbonate by weight"),
        ("washing-soda crystals", "10", "3.7 % carbonate by weight"),
        ("baking soda", "10", "6.3 % carbonate by weight"),
        ("none", "0", "no carbonate"),
    ],
)
def test_a_mix_is_weighed_by_its_carbonate(
    client: TestClient, substance: str, percent: str, said: str
) -> None:
    # crystals 106.0/286.1 = 37 %, baking soda 106.0/(2 x 84.0) = 63 %: molar masses, exact
    send(client, *NEW_MIX, name="Trial", substance=substance, substance_percent=percent)
    assert said in text_of(client.get("/shop").text).partition("Trial")[2]


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ("barium carbonate", "other_substance"),
        ("BaCO3", "other_substance"),
        ("yellow prussiate of potash", "other_substance"),
        ("sodium cyanide", "note"),
        ("potassium ferrocyanide", "name"),
    ],
)
def test_poison_anywhere_in_a_mix_brings_a_stop_and_keeps_nothing(
    client: TestClient, app_store: Store, typed: str, field: str
) -> None:
    filled = {"name": "Old recipe", "substance": "something else", "substance_percent": "10", field: typed}
    answer = send(client, *NEW_MIX, **filled)
    assert answer.status_code == 422
    assert 'class="caution stop"' in answer.text
    assert "No plan is made" in text_of(answer.text)
    assert len(kept(app_store, Mix)) == 2


def test_laundry_powder_is_explained_and_refused(client: TestClient, app_store: Store) -> None:
    answer = send(
        client,
        *NEW_MIX,
        name="Kitchen mix",
        substance="something else",
        other_substance="laundry powder",
        substance_percent="10",
    )
    words = text_of(answer.text)
    assert answer.status_code == 422
    assert "soap" in words
    assert "washing soda" in words
    assert len(kept(app_store, Mix)) == 2


def test_a_substance_without_its_amount_is_asked_for(client: TestClient) -> None:
    answer = send(client, *NEW_MIX, name="Trial", substance="chalk", substance_percent="")
    assert "How much chalk?" in text_of(answer.text)


def test_brine_without_salt_is_water(client: TestClient, app_store: Store) -> None:
    answer = send(client, "/shop/baths/new", "/shop/baths", name="Tub", medium="brine", salt_percent="0")
    assert "Brine without salt is water" in text_of(answer.text)
    send(client, "/shop/baths/new", "/shop/baths", name="Tub", medium="brine", volume_litres="20")
    tub = kept(app_store, Bath)[-1]
    assert (tub.salt_percent, tub.volume_m3) == (8.0, pytest.approx(0.020))


def test_a_blank_give_or_take_is_the_usual_one_of_its_way(client: TestClient, app_store: Store) -> None:
    send(client, "/shop/heats/new", "/shop/heats", name="Probe", method="thermocouple")
    probe = kept(app_store, Instrument)[-1]
    assert (probe.role, probe.spread) == ("heat", 7.0)
    assert "Give or take 7 °C" in text_of(client.get("/shop").text)
    send(client, f"/shop/heats/{probe.id}", f"/shop/heats/{probe.id}", spread="18 F")
    assert kept(app_store, Instrument)[-1].spread == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("typed", "said"),
    [("40", "two files or more"), ("40 hard", "not a file's hardness"), ("40 95", "not a file's hardness")],
)
def test_a_file_set_needs_the_hardness_of_its_files(client: TestClient, typed: str, said: str) -> None:
    answer = send(
        client, "/shop/testers/new", "/shop/testers", name="Files", method="file_set", files_HRC=typed
    )
    assert answer.status_code == 422
    assert said in text_of(answer.text)


def test_a_file_set_is_kept_softest_first(client: TestClient, app_store: Store) -> None:
    send(
        client, "/shop/testers/new", "/shop/testers", name="Files", method="file_set", files_HRC="65, 40; 50"
    )
    assert kept(app_store, Instrument)[-1].settings == {"files_HRC": [40.0, 50.0, 65.0]}


def test_a_check_is_kept_listed_and_taken_back(client: TestClient, app_store: Store) -> None:
    checks = "/shop/heats/1/checks"
    send(client, checks, checks, against="magnet point", known="770", reading="745")
    check = kept(app_store, InstrumentCheck)[0]
    assert (check.known, check.reading) == (pytest.approx(1043.15), pytest.approx(1018.15))
    page = text_of(client.get(checks).text)
    assert "3 Apr 2026" in page
    assert "25 °C too low" in page
    assert "Checks last 3 Apr 2026 of By eye" in text_of(client.get("/shop").text)
    send(client, checks, f"{checks}/{check.id}/remove")
    assert kept(app_store, InstrumentCheck) == []
    client.post(f"{checks}/{check.id}/put-back", data={"form_id": "a-form-id-of-its-own"})
    assert len(kept(app_store, InstrumentCheck)) == 1


def test_a_testers_check_is_in_rockwell(client: TestClient, app_store: Store) -> None:
    checks = "/shop/testers/3/checks"
    send(client, checks, checks, against="test block", known="62.5", reading="61")
    assert kept(app_store, InstrumentCheck)[0].known == 62.5
    assert "1.5 HRC too low" in text_of(client.get(checks).text)
    answer = send(client, checks, checks, against="test block", known="95", reading="61")
    assert answer.status_code == 422


def test_a_box_that_no_forge_takes_is_said_so_on_the_shop_page(client: TestClient, app_store: Store) -> None:
    send(client, *NEW_BOX, **{**BOX, "name": "Trunk", "inner_width_m": "200", "inner_height_m": "200"})
    page = text_of(client.get("/shop").text)
    assert "“Trunk” is" in page
    assert "25 mm all round" in page
    assert len(kept(app_store, Forge)) == 1


def test_the_cautions_page_gathers_every_caution_with_its_source(client: TestClient) -> None:
    page = text_of(client.get("/cautions").text)
    for words in ("carbon monoxide", "weld", "galvanised", "Barium", "Cyanide", "flash", "Brine"):
        assert words in page, words
    assert "common practice, no source" in page
    assert "OSHA" in page
    assert "Local fire, gas and building rules come first" in page


def test_every_caution_of_the_work_is_there_with_a_source() -> None:
    listed = [caution for group in CAUTION_GROUPS for caution in group.cautions]
    assert len({caution.key for caution in listed}) == len(listed)
    assert all(caution.source for caution in listed)
    said = " ".join(f"{caution.title} {caution.text}".lower() for caution in listed)
    for words in (
        "where people sleep", "until the charcoal is cold", "never leave a lit forge", "galvanised",
        "steam blows",
        "weld", "barium", "goggles when you crush", "opened hot", "flash point",
        "no water in the oil", "brine",
        "glass-hard", "bottles stand upright", "linseed", "engine oil", "deep, lidded metal tank",
        "no water on a hot box", "lidded metal bin", "forge lining", "dry clay", "etching acids",
        "heavier than it looks", "inside a stripped tube", "burns back",
    ):  # fmt: skip
        assert words in said, words


def test_the_settings_change_how_numbers_are_shown_not_what_is_kept(
    client: TestClient, app_store: Store
) -> None:
    kept_before = kept(app_store, Box)[0].inner_length_m
    send(client, "/shop/settings", "/shop/settings", length_unit="in", temperature_unit="F")
    assert kept(app_store, Box)[0].inner_length_m == kept_before
    assert "7.874 × 2.913 × 2.913 in" in text_of(client.get("/shop").text)

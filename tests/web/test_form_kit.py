"""The form kit: what a shop types is understood, refused in plain words, and never lost."""

from datetime import UTC, date, datetime
from typing import Annotated, Self

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field, field_validator, model_validator
from starlette.datastructures import FormData

from model.ranges import Range
from webapp.forms.kit import (
    Ask,
    Choice,
    Doubtful,
    FieldProblem,
    Form,
    Units,
    blank_form,
    form_of,
    raw_of,
    read_form,
)

METRIC = Units()
INCH = Units(temperature="F", length="in", mass="oz")
BERLIN = Units(zone="Europe/Berlin")
SEALS = (Choice("fireclay", "Fireclay"), Choice("lid", "Lid only"))
BOX_INSIDE = Range(40.0, 900.0, "mm", "Measure between the inner faces.")
SOAK = Range(700.0, 1100.0, "C", "A soak is usually 850 to 950 C.")


class BoxForm(Form):
    """Every kind of field once."""

    name: Annotated[str, Ask("Name")]
    length_m: Annotated[float, Ask("Inside length", quantity="length", range=BOX_INSIDE)]
    bore_m: Annotated[float | None, Ask("Bore", quantity="length")] = None
    heat_K: Annotated[
        float | None, Ask("Heat", quantity="temperature", range=SOAK, kind="stepper", step=5)
    ] = None
    soak_s: Annotated[Doubtful, Ask("Soak", quantity="duration")] = Doubtful(None, "unknown")
    hardness_HRC: Annotated[
        float | None, Ask("Hardness", quantity="number", unit="HRC", range=Range(20, 68, "HRC", "Try again."))
    ] = None
    count: Annotated[int, Ask("How many", quantity="number")] = 1
    seal: Annotated[str, Ask("Seal", choices=SEALS)] = "fireclay"
    mixes: Annotated[list[str], Ask("Mixes", choices=SEALS), Field(default_factory=list)]
    is_full: Annotated[bool, Ask("Filled?")] = False
    lit_at: Annotated[datetime | None, Ask("Lit at")] = None
    bought: Annotated[date | None, Ask("Bought")] = None
    mix_id: Annotated[int | None, Ask("Mix", dynamic=True)] = None
    note: Annotated[str, Ask("Notes", kind="notes", folded=True)] = ""

    @field_validator("name")
    @classmethod
    def _not_taken(cls, name: str) -> str:
        if name == "taken":
            raise ValueError("There is a box of this name.")
        return name

    @model_validator(mode="after")
    def _bore_fits(self) -> Self:
        if self.bore_m is not None and self.bore_m >= self.length_m:
            raise FieldProblem("bore_m", "The bore must be smaller than the box.")
        return self


GOOD = {"name": "Tube", "length_m": "250"}


def read(units: Units = METRIC, **raw):
    return read_form(BoxForm, {**GOOD, **raw}, units)


def error(field: str, units: Units = METRIC, **raw) -> str:
    state = read(units, **raw)
    assert state.value is None
    assert set(state.errors) == {field}, state.errors
    assert state.field(field).error == state.errors[field]
    return state.errors[field]


@pytest.mark.parametrize(
    ("typed", "units", "metres"),
    [
        ("250", METRIC, 0.25),
        ("62,5", METRIC, 0.0625),
        ("62.5 mm", METRIC, 0.0625),
        ("10", INCH, 0.254),
        ("9 1/4", INCH, 0.23495),
        ('9 1/4"', METRIC, 0.23495),
        ("250 mm", INCH, 0.25),
        ("  25 cm ", METRIC, 0.25),
    ],
)
def test_a_size_is_read_in_the_shops_unit_or_in_the_one_written_behind_it(typed, units, metres):
    state = read(units, length_m=typed)
    assert state.errors == {}
    assert state.value is not None
    assert state.value.length_m == pytest.approx(metres, abs=1e-12)


def test_1700_typed_as_celsius_is_asked_about_in_both_units():
    message = error("heat_K", heat_K="1700")
    assert "1700 °C is hotter than steel survives." in message
    assert "Did you mean 1700 °F (927 °C)? Then type 1700 F." in message
    assert "700 to 1100 °C" in message


def test_925_typed_as_fahrenheit_is_asked_about_too():
    assert "Did you mean 925 °C (1697 °F)? Then type 925 C." in error(
        "heat_K", INCH, length_m="10", heat_K="925"
    )


def test_a_written_unit_that_is_plausible_is_taken_at_its_word():
    state = read(heat_K="1700 F")
    assert state.value is not None
    assert state.value.heat_K == pytest.approx(1199.817, abs=1e-3)
    assert state.field("heat_K").understood == "927 °C"


@pytest.mark.parametrize("typed", ["nan", "inf", "-inf", "1e999", "abc", "1,234.5", "1/0", "12 kg", "२" * 50])
def test_what_is_no_number_is_refused_and_kept_as_typed(typed):
    state = read(length_m=typed)
    assert state.value is None
    assert len(state.errors["length_m"]) > 20
    assert state.field("length_m").text == typed


def test_a_negative_size_is_refused_with_the_allowed_range_and_what_to_do():
    message = error("length_m", length_m="-5")
    assert message == "-5 mm is less than nothing. Allowed: 40 to 900 mm. Measure between the inner faces."


def test_the_allowed_range_is_given_in_the_unit_that_was_typed():
    assert "Allowed: 1.575 to 35.433 in." in error("length_m", INCH, length_m="0.25")


def test_a_number_a_hair_outside_its_range_is_the_end_of_it():
    assert read(bore_m="-2.583e-196").value.bore_m == 0.0


def test_a_number_without_a_range_is_still_held_to_sense():
    assert "Allowed: 0 to 20000 mm" in error("bore_m", bore_m="-1")


def test_an_HRC_of_95_is_refused_with_its_scale():
    assert error("hardness_HRC", hardness_HRC="95") == (
        "95 HRC is too much here. Allowed: 20 to 68 HRC. Try again."
    )


def test_a_plain_number_may_carry_its_own_label():
    state = read(hardness_HRC="61.5 hrc")
    assert state.value is not None
    assert state.value.hardness_HRC == 61.5


def test_a_count_must_be_whole():
    assert error("count", count="2.5") == "Type a whole number."


@pytest.mark.parametrize("blank", ["", "   ", "\t\r\n"])
def test_a_needed_field_left_blank_is_asked_for(blank):
    assert error("name", name=blank) == "Name is needed. Fill it in."
    assert error("length_m", length_m=blank) == "Inside length is needed. Type a number."


def test_a_blank_field_with_a_default_takes_it():
    state = read(count="", note=" ")
    assert state.value is not None
    assert (state.value.count, state.value.note) == (1, "")


def test_every_field_that_is_wrong_is_named_at_once_and_the_rest_is_kept():
    state = read(name="", length_m="x", heat_K="5", note="smelt of gas", seal="lid")
    assert {view.name for view in state.wrong} == {"name", "length_m", "heat_K"}
    assert state.field("note").text == "smelt of gas"
    assert [c.value for c in state.field("seal").choices if c.picked] == ["lid"]


def test_a_megabyte_of_notes_is_refused_and_not_cut_off():
    novel = "x" * 1_000_000
    state = read(note=novel)
    assert "1,000,000 characters long; 20,000 fit" in state.errors["note"]
    assert state.field("note").text == novel


@pytest.mark.parametrize("hidden", ["\x00", "\x1b", "\x7f", "\ud800"])
def test_a_hidden_character_is_refused(hidden):
    assert "hidden character" in error("name", name=f"Tu{hidden}be")


def test_notes_keep_their_lines_and_a_name_becomes_one_line():
    state = read(name="Tube\r\nbox", note="one\r\ntwo\rthree")
    assert state.value is not None
    assert (state.value.name, state.value.note) == ("Tube box", "one\ntwo\nthree")


def test_a_choice_that_is_not_offered_is_refused():
    assert "not in the list" in error("seal", seal="chewing gum")
    assert "not in the list" in error("mixes", mixes=["lid", "gum"])


def test_several_choices_come_back_as_a_list():
    for sent in ("lid", ["lid"]):
        state = read(mixes=sent)
        assert state.value is not None
        assert state.value.mixes == ["lid"]


def test_a_validator_may_blame_a_field():
    assert error("bore_m", bore_m="300") == "The bore must be smaller than the box."
    assert error("name", name="taken") == "There is a box of this name."


@pytest.mark.parametrize(
    ("typed", "sure", "expected"),
    [
        ("4", "sure", Doubtful(14400.0, "sure")),
        ("4:30", "about", Doubtful(16200.0, "about")),
        ("90 min", "", Doubtful(5400.0, "sure")),
        ("", "unknown", Doubtful(None, "unknown")),
        ("", "sure", Doubtful(None, "unknown")),
    ],
)
def test_a_number_is_kept_with_how_sure_the_shop_is(typed, sure, expected):
    state = read(soak_s=typed, soak_s_sure=sure)
    assert state.value is not None
    assert state.value.soak_s == expected


def test_a_number_with_do_not_know_is_asked_about():
    assert "clear the number" in error("soak_s", soak_s="4", soak_s_sure="unknown")
    assert "how sure" in error("soak_s", soak_s="4", soak_s_sure="perhaps")


def test_a_time_is_on_the_shops_clock_and_kept_in_utc():
    state = read(BERLIN, lit_at="2026-07-01T09:10")
    assert state.value is not None
    assert state.value.lit_at == datetime(2026, 7, 1, 7, 10, tzinfo=UTC)


def test_an_hour_that_the_clocks_skipped_is_refused():
    assert "never came. Type 03:30 or later." in error("lit_at", BERLIN, lit_at="2026-03-29T02:30")


def test_an_hour_that_came_twice_is_the_first_and_says_so():
    state = read(BERLIN, lit_at="2026-10-25T02:30")
    assert state.value is not None
    assert state.value.lit_at == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert "first of the two" in state.field("lit_at").understood


@pytest.mark.parametrize(
    "typed", ["yesterday", "2026-02-30T09:00", "9999-12-31T23:59", "2026-03-01T09:00+02:00"]
)
def test_what_is_no_time_on_the_shops_clock_is_refused(typed):
    assert "2026-03-31 14:05" in error("lit_at", BERLIN, lit_at=typed)


def test_a_day_is_read_as_a_day():
    state = read(bought="2026-03-01")
    assert state.value is not None
    assert state.value.bought == date(2026, 3, 1)
    assert "2026-03-31" in error("bought", bought="1 March")


def test_what_was_typed_comes_back_when_the_record_is_edited():
    state = read(INCH, length_m="9 1/4", heat_K="1700")
    assert state.value is not None
    assert state.typed == {"length_m": "9 1/4 in", "heat_K": "1700 F"}
    again = form_of(BoxForm, dict(state.value), INCH, typed=state.typed)
    assert (again.field("length_m").text, again.field("heat_K").text) == ("9 1/4", "1700")


def test_typed_text_is_never_read_in_another_unit_after_the_shop_changed_its_units():
    state = read(METRIC, length_m="250", heat_K="925")
    assert state.value is not None
    edited = form_of(BoxForm, dict(state.value), INCH, typed=state.typed)
    assert edited.field("length_m").text == "250 mm"
    again = read_form(BoxForm, edited.raw, INCH)
    assert again.value == state.value


def test_typed_text_that_no_longer_means_the_value_gives_way_to_the_value():
    edited = form_of(BoxForm, {"name": "a", "length_m": 0.3}, METRIC, typed={"length_m": "250 mm"})
    assert edited.field("length_m").text == "300"


def test_an_edited_record_read_back_is_the_same_record():
    state = read(
        BERLIN, lit_at="2026-07-01T09:10", bought="2026-01-02", is_full="yes", mixes="lid", mix_id="3",
        soak_s="4", soak_s_sure="about", count="6",
    )  # fmt: skip
    assert state.value is not None
    edited = form_of(BoxForm, dict(state.value), BERLIN, typed=state.typed)
    assert read_form(BoxForm, edited.raw, BERLIN).value == state.value


@pytest.mark.property
@given(st.floats(0.041, 0.899), st.sampled_from([METRIC, INCH]))
def test_a_stored_size_survives_editing_to_what_is_worth_showing(length_m, units):
    edited = form_of(BoxForm, {"name": "a", "length_m": length_m}, units)
    again = read_form(BoxForm, edited.raw, units)
    assert again.value is not None
    assert again.value.length_m == pytest.approx(length_m, abs=13e-6)


@pytest.mark.property
@given(st.dictionaries(st.sampled_from(sorted(BoxForm.model_fields)), st.text(max_size=60)))
def test_no_text_at_all_breaks_a_form(raw):
    state = read_form(BoxForm, raw, METRIC)
    assert (state.value is None) == bool(state.errors)
    assert {view.name: view.text for view in state.fields if view.name in raw} == raw


def test_a_blank_form_offers_defaults_and_a_fresh_id_each_time():
    one, two = (blank_form(BoxForm, METRIC, {"heat_K": 1198.15}) for _ in range(2))
    assert one.field("heat_K").text == "925"
    assert one.form_id != two.form_id
    assert one.errors == {}
    assert [choice.value for choice in one.field("soak_s").sure if choice.picked] == ["sure"]


def test_form_id_and_version_come_back_with_a_refused_form_and_odd_ones_do_not():
    state = read(name="", form_id="abcDEF_123-xyz", version="7")
    assert (state.form_id, state.version) == ("abcDEF_123-xyz", 7)
    odd = read(form_id="<script>", version="-1")
    assert odd.form_id != "<script>"
    assert odd.version is None


def test_choices_of_the_logbook_and_refusals_of_a_service_reach_the_field():
    offered = [Choice(str(number), f"mix {number}") for number in range(6)]
    state = (
        read(mix_id="3").with_choices({"mix_id": offered}).with_errors({"mix_id": "That mix was removed."})
    )
    view = state.field("mix_id")
    assert [choice.value for choice in view.choices if choice.picked] == ["3"]
    assert not view.chips
    assert view.error == "That mix was removed."
    assert state.value is None


def test_a_field_describes_itself_to_a_screen_reader_by_what_it_shows():
    assert read(length_m="x").field("length_m").described_by == "length_m-error"
    assert read().field("length_m").described_by == ""


def test_a_field_without_a_question_is_a_mistake_of_ours():
    class Careless(Form):
        name: str = ""

    with pytest.raises(TypeError, match=r"Careless\.name has no Ask"):
        read_form(Careless, {}, METRIC)


def test_posted_forms_become_texts_and_files_are_left_out():
    posted = FormData([("name", "a"), ("mixes", "lid"), ("mixes", "fireclay")])
    assert raw_of(posted) == {"name": "a", "mixes": ["lid", "fireclay"]}

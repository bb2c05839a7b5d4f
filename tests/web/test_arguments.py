"""The page of the arguments: which side each batch is on, what may be said, honesty where nothing is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from model.argument_trial import Scatter
from model.arguments import Effect
from model.readings import DepthReading, Observation
from tests.model.logbooks import job
from tests.web.batch_steps import rows, start, step, walk
from tests.web.fitted_demo import speaking_to_demo, store_of
from tests.web.page_forms import begin, send, text_of
from tests.web.test_forge_page import BOOK_WORDS, change_summary, summary_of
from webapp.services.argument_book import BatchFacts, PieceFacts
from webapp.services.argument_counts import view_counts, view_seals
from webapp.services.argument_differs import what_differs
from webapp.services.argument_list import ARGUMENTS, BY_KEY
from webapp.services.argument_sides import FIRST, SECOND, sides_of_batch, sides_of_item, sides_of_readings
from webapp.services.argument_words import trial_words, view_effect
from webapp.services.batch_rows import BatchRows
from webapp.services.fit_news import fingerprint_of
from webapp.services.observations import tell
from webapp.services.showing import Showing
from webapp.settings import Settings
from webapp.store.engine import Store, read
from webapp.store.tables import Batch, Bath, Box, Fire, Forge, Instrument, Item, Mix, Reading, Step

MM = Showing("C", "mm", ZoneInfo("UTC"))
INCH = Showing("F", "in", ZoneInfo("UTC"))
GAP = BY_KEY["fill"]
SCATTER = Scatter(0.07, 0.04, 0.06)
BATHS = {
    1: Bath(id=1, name="Weak", medium="brine", salt_percent=4.0),
    2: Bath(id=2, name="Strong", medium="brine", salt_percent=10.0),
    3: Bath(id=3, name="Water", medium="water"),
}


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


def say(client: TestClient) -> str:
    answer = client.get("/forge/arguments")
    assert answer.status_code == 200
    return text_of(answer.text)


def card_of(html: str, key: str) -> str:
    """Return the words of one argument's card."""
    inside = html.partition(f'id="{key}"')[2].partition("</article>")[0]
    return text_of(f"<main {inside}</main>")


def effect(middle: float, sd: float, **changes: object) -> Effect:
    usual = Effect("fill", "depth", middle, sd, 0.0, (4, 5), (8, 9), 0, ())
    return replace(usual, **changes)  # type: ignore[arg-type]


def box_of(*steps: Step, mix: Mix | None = None, own: list[Step] | None = None) -> BatchRows:
    """Return a batch of one coupon in a box of clay, filled; `own` is what the coupon went through itself."""
    inside = {"inner_length_m": 0.2, "inner_width_m": 0.1, "inner_height_m": 0.1}
    forge = {"inside_length_m": 0.5, "inside_width_m": 0.3, "inside_height_m": 0.3}
    soda = Mix(id=1, name="M", charcoal="lump", grain_m=0.005, substance="soda ash", substance_percent=5.0)
    pin = Item(id=1, batch_id=1, kind="coupon", name="pin", bar_id=1, shape="rod", size_m=0.01)
    pin.own_path = bool(own)
    return BatchRows(
        batch=Batch(id=1, number=1, state="measured", fire_id=1, box_id=1, mix_id=1, day=date(2026, 5, 1)),
        fire=Fire(id=1, forge_id=1, heat_instrument_id=1),
        forge=Forge(id=1, name="F", fuel="propane", **forge),
        box=Box(id=1, name="B", wall_m=0.003, seal="fireclay", fill="filled", **inside),
        mix=mix or soda,
        heat=Instrument(id=1, name="T", role="heat", method="thermocouple", spread=7.0),
        plan=None,
        steps=list(steps),
        item_steps={1: own} if own else {},
        items=[pin],
        readings={},
        heat_notes=[],
        events=[],
    )


def quench(bath_id: int = 3, **settings: str) -> Step:
    return Step(batch_id=1, kind="quench", bath_id=bath_id, settings=settings)


def facts(number: int, side: int, box: str = "A", hours: float = 4.0, **changes: object) -> BatchFacts:
    sides = {argument.key: frozenset([FIRST]) for argument in ARGUMENTS} | {"fill": frozenset([side])}
    ran_with = {"box": box, "mix": "M", "heat": "T", "bath": "Water", "bar": "Rod"}
    made = BatchFacts(number, number, sides, ran_with, hours, 1193.0, "fireclay", False)
    return replace(made, **changes)  # type: ignore[arg-type]


def test_an_empty_logbook_is_told_how_to_settle_each_argument_and_no_number(client: TestClient) -> None:
    begin(client)
    words = say(client)
    for argument in ARGUMENTS:
        assert argument.question in words
        assert argument.how in words
    assert words.count("Nothing in the log says which way it was done.") == len(ARGUMENTS)
    assert "may be a difference" not in words.replace("“may be”", "")
    assert "is told once a few coupons are in the book" in words
    assert " mm" not in words


def test_before_there_is_a_shop_the_page_stands(client: TestClient) -> None:
    assert "Clay or mortar round the lid?" in say(client)


def test_the_demo_shows_what_its_fit_found_and_leads_to_the_batches(demo: TestClient) -> None:
    argued = summary_of(demo)["argued"]
    found = {one["argument"]: one for one in argued["effects"]}
    assert set(found) == {"seal", "carbonate", "much", "motion"}
    html, words = demo.get("/forge/arguments").text, say(demo)
    one = found["carbonate"]
    fires, coupons = one["fires"], one["coupons"]
    assert (
        f"{coupons[0]} coupons of {fires[0]} fires against {coupons[1]} coupons of {fires[1]} fires" in words
    )
    assert "only one pack mix is plain charcoal: it may be that pack mix" in words
    assert "Nothing to compare: filled to the lid in all 16 batches." in words
    assert "Fireclay luting 0 of 5 0 % 0 to 31 %" in words
    assert "Air-drying clay 1 of 3 33 % 6 to 76 %" in words
    assert "5 pieces read both ways on one tester The temper took" in words
    assert 'href="/batches/6" aria-label="Batch 6"' in html
    assert 'href="/plans/new"' in html
    assert not any(word in words.lower() for word in BOOK_WORDS)
    assert "/forge/arguments" in demo.get("/forge").text


def test_the_demo_has_a_difference_none_and_two_that_are_mixed_up(demo: TestClient) -> None:
    """Its true forge knows nothing of lids or of moving (`demo/habits.py`); its mixes differ."""
    html = demo.get("/forge/arguments").text
    card = {key: card_of(html, key) for key in ("seal", "carbonate", "motion", "temper")}
    assert "No difference seen, and none bigger than" in card["seal"]
    assert "tell it from that one pack mix" in card["carbonate"]
    assert "always another bath: Rain-water barrel against Brine bucket" in card["motion"]
    assert "Nor could this log tell it from the other bath." in card["motion"]
    assert all("mixed up with something else" in card[key] for key in ("carbonate", "motion"))
    assert "The temper took" in card["temper"]


def test_no_trial_is_offered_of_what_nobody_should_try(demo: TestClient) -> None:
    html = demo.get("/forge/arguments").text
    card = html.partition('id="oil"')[2].partition("</article>")[0]
    assert "Do not try it." in card
    assert "/plans/new" not in card


def test_a_fit_stored_before_the_arguments_were_asked_leaves_the_page_standing(demo: TestClient) -> None:
    change_summary(demo, argued={})
    assert "Both ways are in the log; what their readings say is still to be worked out." in say(demo)
    change_summary(demo, argued={"effects": [], "scatter": {}})
    assert "Both ways are in the log, but nothing was read on both that would tell." in say(demo)


def test_a_box_packed_otherwise_than_usual_is_noted_with_the_box_in(
    client: TestClient, app_store: Store
) -> None:
    begin(client)
    batch = start(client)
    assert step(client, batch, "box_in", fill="gap", seal="refractory mortar").status_code == 303
    (noted,) = rows(app_store, Step)
    assert noted.settings == {"fill": "gap", "seal": "refractory mortar"}
    words = text_of(client.get(batch).text)
    assert "a gap above the part, refractory mortar" in words
    # put right afterwards: as usual after all
    correct = f"/steps/{noted.id}"
    assert send(client, correct, correct, fill="", seal="").status_code == 303
    assert rows(app_store, Step)[0].settings == {}


def test_a_box_that_is_closed_otherwise_from_now_on_leaves_past_batches_on_their_side(
    client: TestClient, app_store: Store
) -> None:
    begin(client)
    walk(client, start(client), "box_in", "at_heat", "box_out")
    walk(client, start(client), "box_in")
    (first, second) = rows(app_store, Batch)
    assert first.box_id == second.box_id
    edit = f"/shop/boxes/{first.box_id}"
    noted = next(one for one in rows(app_store, Step) if one.batch_id == second.id and one.kind == "box_in")
    page = f"/steps/{noted.id}"
    assert send(client, page, page, fill="gap").status_code == 303
    assert send(client, edit, edit, seal="refractory mortar", fill="gap").status_code == 303
    packed = {one.batch_id: one.settings for one in rows(app_store, Step) if one.kind == "box_in"}
    assert packed == {
        first.id: {"seal": "fireclay", "fill": "filled"},
        second.id: {"seal": "fireclay", "fill": "gap"},
    }
    walk(client, start(client), "box_in")
    assert {one.batch_id: one.settings for one in rows(app_store, Step) if one.kind == "box_in"}[3] == {}


def test_a_batch_that_was_only_begun_counts_for_its_box_and_not_for_its_seal(client: TestClient) -> None:
    begin(client)
    walk(client, start(client), "box_in", "at_heat")
    words = say(client)
    assert "Nothing to compare: filled to the lid in the one batch." in words
    assert "Leaked" not in words


@pytest.mark.parametrize(
    ("key", "rows_of", "side"),
    [
        ("fill", box_of(), FIRST),
        ("fill", box_of(Step(batch_id=1, kind="box_in", settings={"fill": "gap"})), SECOND),
        ("seal", box_of(), FIRST),
        ("seal", box_of(Step(batch_id=1, kind="box_in", settings={"seal": "refractory mortar"})), SECOND),
        ("seal", box_of(Step(batch_id=1, kind="box_in", settings={"seal": "lid only"})), None),
        ("charcoal", box_of(), FIRST),
        ("carbonate", box_of(), SECOND),
        ("much", box_of(), FIRST),
        ("reused", box_of(), FIRST),
        ("oil", box_of(), FIRST),
        ("oil", box_of(Step(batch_id=1, kind="box_in", settings={"extra": "engine_oil"})), SECOND),
    ],
)
def test_a_box_stands_on_the_side_that_was_noted(key: str, rows_of: BatchRows, side: int | None) -> None:
    assert sides_of_batch(rows_of).get(key) == side


def test_a_mix_stands_by_its_charcoal_its_carbonate_and_its_age() -> None:
    old = Mix(id=1, name="Old", charcoal="briquettes", grain_m=0.005, substance="none", substance_percent=0.0,
              fresh_share=0.2)  # fmt: skip
    sides = sides_of_batch(box_of(mix=old))
    assert (sides["charcoal"], sides["carbonate"], sides["reused"]) == (SECOND, FIRST, SECOND)
    assert "much" not in sides
    strong = Mix(id=1, name="S", charcoal="lump", grain_m=0.005, substance="chalk", substance_percent=20.0)
    assert sides_of_batch(box_of(mix=strong))["much"] == SECOND


def test_a_piece_stands_by_its_own_quench_and_not_its_neighbours() -> None:
    drawn = [
        Step(item_id=1, kind="drawn", settings={"then": "quench"}),
        Step(item_id=1, kind="quench", bath_id=1, settings={"motion": "side_to_side"}),
    ]
    out = Step(batch_id=1, kind="box_out", settings={"then": "slow_cool"})
    temper = Step(batch_id=1, kind="temper")
    with_batch = box_of(out, quench(2, motion="up_and_down"), temper)
    sides = sides_of_item(with_batch, with_batch.items[0], BATHS)
    assert [sides[key] for key in ("cool", "motion", "brine", "temper")] == [FIRST, FIRST, SECOND, SECOND]
    own_way = box_of(out, quench(2, motion="up_and_down"), temper, own=drawn)
    sides = sides_of_item(own_way, own_way.items[0], BATHS)
    assert [sides[key] for key in ("cool", "motion", "brine", "temper")] == [SECOND, SECOND, FIRST, FIRST]
    water = box_of(out, quench(3))
    sides = sides_of_item(water, water.items[0], BATHS)
    assert "brine" not in sides
    assert "motion" not in sides


def test_a_change_of_side_asks_the_fit_again(demo: TestClient) -> None:
    clock = demo.app.state.context.clock  # type: ignore[attr-defined]
    with read(store_of(demo)) as session:
        told = tell(session, clock.now())
    other = {**told.sides, "fill": {**told.sides["fill"], next(iter(told.sides["fill"])): SECOND}}
    assert fingerprint_of(told) != fingerprint_of(replace(told, sides=other))
    depths = set(told.sides["fill"])
    assert depths
    assert not depths & set(told.sides["cool"]), "a depth says nothing of hardness"


def test_readings_of_a_later_life_stand_on_no_side() -> None:
    batch = box_of(Step(batch_id=1, kind="box_out", settings={"then": "slow_cool"}), quench())
    batch.readings[1] = [
        Reading(id=k, item_id=1, kind="depth", life=k, measured_at=None, value=5e-4) for k in (1, 2)
    ]
    told = {k: Observation(str(k), job(), DepthReading("break", 5e-4)) for k in (1, 2)}
    assert sides_of_readings(batch, told, BATHS)["fill"] == {"1": FIRST}


def test_what_is_said_follows_the_rule_and_names_what_it_may_be_instead() -> None:
    def words(one: Effect, looks: int = 5, *instead: str) -> str:
        return view_effect(one, GAP, looks, instead, MM).words

    likely = words(effect(-0.15, 0.03))
    assert likely == (
        "There is likely a difference: with a gap above the part the case is 0.15 mm shallower "
        "(0.10 to 0.20) than with filled to the lid."
    )
    assert words(effect(0.15, 0.08)).startswith(
        "There may be a difference: with a gap above the part the case is"
    )
    assert words(effect(0.0, 0.03)) == "No difference seen, and none bigger than 0.05 mm."
    assert words(effect(0.02, 0.2)).startswith("Not told yet.")
    assert words(effect(0.0, 0.03), 5, "the other box").endswith("0.05 mm, unless the other box hides one.")
    mixed = view_effect(effect(-0.15, 0.03), GAP, 5, ("the other box",), MM)
    assert "this log cannot tell it from the other box" in mixed.words
    assert mixed.tag == "mixed up with something else"
    hard = view_effect(effect(0.3, 0.5, outcome="hardness"), GAP, 5, (), MM)
    assert hard.words == "No difference seen, and none bigger than 1.2 HRC."


def test_an_inch_shop_reads_inches_and_a_bound_is_never_rounded_down() -> None:
    assert view_effect(effect(0.0, 0.03), GAP, 5, (), INCH).words == (
        "No difference seen, and none bigger than 0.002 in."
    )
    assert "0.06 mm" in view_effect(effect(0.001, 0.0325), GAP, 5, (), MM).words


def test_the_drawing_holds_the_band_within_its_frame() -> None:
    for middle, sd in ((0.0, 0.01), (-0.9, 0.3), (0.4, 0.02)):
        drawn = view_effect(effect(middle, sd), GAP, 5, (), MM).drawing
        assert 0.0 < float(drawn.low) <= float(drawn.middle) <= float(drawn.high) < 320.0
        assert drawn.nothing == "160.0"


def test_a_trial_counts_what_is_known_unless_it_is_mixed_up() -> None:
    def often(one: Effect | None, is_mixed: bool = False, scatter: Scatter | None = SCATTER) -> str:
        return trial_words(GAP, "depth", one, scatter, is_mixed, MM)

    assert often(effect(0.0, 0.03)) == "The log knows it to better than give or take 0.1 mm already."
    assert often(effect(0.0, 0.03), is_mixed=True).startswith("Done 3 times, with two coupons in each box")
    assert often(None) == often(effect(0.0, 0.3), is_mixed=True)
    assert "more than 30 times" in often(None, scatter=Scatter(0.5, 0.3, 0.3))
    assert "once a few coupons" in often(None, scatter=None)


def test_what_else_differed_is_named_with_how_far() -> None:
    first, second = [facts(k, FIRST) for k in (1, 2, 3)], [facts(k, SECOND, "B", hours=6.0) for k in (4, 5)]
    found = what_differs(GAP, first, second, MM)
    assert [one.words for one in found] == [
        "always another box: A against B",
        "soaked 4.0 h against 6.0 h on average",
    ]
    assert found[0].is_always
    assert found[0].instead == "the other box"
    assert what_differs(GAP, first, [facts(4, SECOND)], MM) == ()
    assert what_differs(GAP, first, [], MM) == ()


def test_another_argument_that_changed_with_it_is_named() -> None:
    mortar = {**facts(4, SECOND).sides, "seal": frozenset([SECOND])}
    found = what_differs(GAP, [facts(1, FIRST)], [facts(4, SECOND, sides=mortar)], MM)
    assert [(one.words, one.instead) for one in found] == [
        ("always clay against refractory mortar", "clay or refractory mortar")
    ]


def test_what_differs_by_nature_is_told_only_where_there_is_one_of_it() -> None:
    carbonate = BY_KEY["carbonate"]
    plain = [facts(1, FIRST, ran_with={**facts(1, FIRST).ran_with, "mix": "Plain"})]
    two = [
        facts(k, FIRST, ran_with={**facts(1, FIRST).ran_with, "mix": name})
        for k, name in ((2, "S"), (3, "C"))
    ]
    (one,) = what_differs(carbonate, plain, two, MM)
    assert one.words == "only one pack mix is plain charcoal: it may be that pack mix"
    assert one.instead == "that one pack mix"


def test_leaks_are_counted_by_kind_and_by_side_with_few_numbers_said_honestly() -> None:
    book = [
        *(facts(k, FIRST) for k in range(1, 10)),
        facts(10, SECOND, seal="refractory mortar", leaked=True),
        facts(11, SECOND, seal="refractory mortar", leaked=None),
    ]
    (clay, mortar) = view_seals(book)
    assert (clay.counted, clay.share, clay.band) == ("0 of 9", "0\u00a0%", "0 to 19\u00a0%")
    assert (mortar.counted, mortar.share) == ("1 of 1", "100\u00a0%")
    (count,) = view_counts(GAP, book, MM)
    assert count.lines[1] == "a gap above the part: 1 of 1 box, so 23 to 100 in 100"
    assert count.words == "There may be a difference: oftener with a gap above the part."
    assert view_counts(GAP, [facts(1, FIRST, leaked=None)], MM) == ()


def test_cracks_bows_and_tempers_are_counted_by_piece() -> None:
    temper, motion = BY_KEY["temper"], BY_KEY["motion"]
    pieces = (
        PieceFacts({"temper": FIRST, "motion": FIRST}, "pin", True, (0.0001,), None),
        PieceFacts({"temper": SECOND, "motion": SECOND}, "pin", False, (0.0002, 0.0003), -2.0),
        PieceFacts({"temper": SECOND}, "pin", None, (), -3.0),
    )
    cracks, pairs = view_counts(temper, [facts(1, FIRST, pieces=pieces)], MM)
    assert cracks.lines[0].startswith("as quenched: 1 of 1 piece")
    assert cracks.words.startswith("No difference seen: with tempered it may be anything from")
    assert pairs.words == "The temper took 2.5 HRC off (0.0 to 5.0)."
    bows = view_counts(motion, [facts(1, FIRST, pieces=pieces)], MM)[-1]
    assert bows.lines == ("up and down: 0.1 mm (1 piece)", "side to side: 0.2 to 0.3 mm (2 pieces)")
    assert bows.words.startswith("No difference seen, part against like part: 0.15 mm less to 0.45 mm more")
    apart = (pieces[0], replace(pieces[1], part="plate"))
    (*_, alone) = view_counts(motion, [facts(1, FIRST, pieces=apart)], MM)
    assert (alone.words, alone.needed[:30]) == ("", "No part of one size was quench")

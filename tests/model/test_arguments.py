"""What a book says of an argument: planted differences found with honest bands, and none where none is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import beta, binom

from model.argument_columns import argument_priors, columns_of
from model.argument_solve import solve
from model.argument_trial import Scatter, trial_variance, trials_needed
from model.arguments import LEAST_DIFFERENCE, Argued, Effect, argue, verdict
from model.calibration import fit
from model.evidence import Evidence
from model.level_difference import USUAL_SD_M, WORTH, Level, level_difference
from model.likelihood import LATENT_FREEDOM, LATENT_SCALE, READING_FREEDOM
from model.linearised import Linearised, at_point
from model.rates import jeffreys_rate, rate_difference, times_needed
from model.readings import DepthReading, HardnessReading, Observation
from tests.model.argued import NAMES, book_of, deepened
from tests.model.invented import InventedShop
from tests.model.logbooks import job, logbook, unread
from tests.model.test_calibration_referee import quick_look

TRUE_MM = -0.15
SCATTER = Scatter(reading=0.07, box=0.04, fire=0.06)


def effect(middle: float, sd: float, outcome: str = "depth") -> Effect:
    return Effect("gap", outcome, middle, sd, 0.0, (4, 4), (8, 8), 0, ())  # type: ignore[arg-type]


def found_of(seeds: range, fires: int) -> list[dict[tuple[str, str], Effect]]:
    return [book_of(seed, fires, {"gap": TRUE_MM}).effects() for seed in seeds]


def assert_honest(books: list[dict[tuple[str, str], Effect]]) -> None:
    """Hold bands and false differences to what chance allows, 1 of 200 runs on one side (exact binomial)."""
    covers = [band[0] <= TRUE_MM <= band[1] for book in books if (band := book["gap", "depth"].band())]
    assert sum(covers) >= binom.ppf(0.005, len(books), 0.9), sum(covers)
    others = [(one, len(book)) for book in books for key, one in book.items() if key != ("gap", "depth")]
    false = sum(verdict(one, looks) in ("likely", "may_be") for one, looks in others)
    assert false <= binom.ppf(0.995, len(others), 0.1), (false, len(others))
    certain = sum(
        any(verdict(one, len(book)) == "likely" for key, one in book.items() if key[0] != "gap")
        for book in books
    )
    assert certain <= binom.ppf(0.995, len(books), 0.1), certain


@pytest.mark.property
def test_bands_hold_a_planted_difference_and_show_none_where_there_is_none() -> None:
    """Whole fits of a few books; the next test asks many books of the sums alone."""
    books = found_of(range(6), 12)
    assert_honest(books)
    assert np.mean([book["gap", "depth"].middle for book in books]) == pytest.approx(TRUE_MM, abs=0.06)


def _read(
    observations: list[Observation], shown: np.ndarray, line: Linearised, rng: np.random.Generator
) -> list[Observation]:
    """Return readings of stated values, each with its own scatter."""
    found = []
    for place, one in enumerate(observations):
        blank = replace(one.reading, value=0.0) if isinstance(one.reading, HardnessReading) else one.reading
        sd = float(np.ravel(blank.spread(shown[place, None], line.doubt[place, None]))[0])  # type: ignore[union-attr]
        value = float(shown[place] + sd * rng.standard_t(READING_FREEDOM))
        name = "value" if isinstance(one.reading, HardnessReading) else "value_m"
        found.append(replace(one, reading=replace(one.reading, **{name: value})))  # type: ignore[arg-type]
    return found


@pytest.mark.property
@pytest.mark.parametrize("true_mm", [0.0, TRUE_MM])
def test_the_sums_cover_as_often_as_they_say_in_many_books(true_mm: float) -> None:
    """Readings drawn from the books' own shops about one design, where everything is straight."""
    design = book_of(4, 12)
    evidence = Evidence(design.observations, [], quick_look)
    count = len(evidence.names)
    line = at_point(evidence, np.zeros(count))
    columns = columns_of(evidence, line, design.sides)
    gap = next(c for c in columns if (c.kind, c.of, c.outcome) == ("effect", "gap", "depth"))
    covers, certain, books = 0, 0, 100
    for seed in range(books):
        rng = np.random.default_rng([seed, 5])
        own = sum(c.moves * c.sd * rng.standard_normal() for c in columns if c.kind == "own")
        latents = np.where(evidence.is_latent, LATENT_SCALE * rng.standard_t(LATENT_FREEDOM, count), 0.0)
        shop = np.where(evidence.is_latent, latents, rng.standard_normal(count))
        shown = line.value + line.jacobian @ shop + own + true_mm * gap.moves
        told = Evidence(_read(design.observations, shown, line, rng), [], quick_look)
        found = solve(told, line, np.zeros(count), unread(told.layout), columns)
        ones = {name: (found.mean[k], found.sd(k)) for k, name in enumerate(found.names)}
        middle, sd = ones["depth/gap"]
        covers += abs(middle - true_mm) < 1.6449 * sd
        others = [effect(*ones[name]) for name in ("depth/mortar", "depth/reused")]
        certain += any(verdict(one, len(NAMES)) == "likely" for one in others)
    assert binom.ppf(0.005, books, 0.9) <= covers <= binom.ppf(0.999, books, 0.94), covers
    assert certain <= binom.ppf(0.995, books, 0.1), certain


@pytest.mark.long
@pytest.mark.property
@pytest.mark.parametrize("fires", [6, 12, 30])
def test_bands_hold_a_planted_difference_in_many_books(fires: int) -> None:
    assert_honest(found_of(range(1000, 1200), fires))


@pytest.mark.property
def test_a_box_that_always_went_with_one_side_is_named_and_widens_the_band() -> None:
    free = book_of(3, 10, {"gap": TRUE_MM}).effects()["gap", "depth"]
    tied = book_of(3, 10, {"gap": TRUE_MM}, {0: "1", 1: "2"}).effects()["gap", "depth"]
    assert "box" not in free.mixed_with
    assert "box" in tied.mixed_with
    assert tied.sd > 1.2 * free.sd


@pytest.mark.property
def test_two_arguments_that_always_changed_together_are_named_and_share_what_was_seen() -> None:
    book = book_of(5, 10, {"gap": TRUE_MM})
    together = replace(book, sides={"gap": book.sides["gap"], "mortar": dict(book.sides["gap"])})
    found = together.effects()
    gap, mortar = found["gap", "depth"], found["mortar", "depth"]
    assert (gap.mixed_with[0], mortar.mixed_with[0]) == ("mortar", "gap")
    assert gap.middle == pytest.approx(mortar.middle, abs=1e-6)
    assert gap.sd > 2.0 * book.effects()["gap", "depth"].sd


@pytest.mark.property
def test_two_coupons_in_one_box_settle_more_than_two_fires() -> None:
    """What the fire and the box did is the same for both, so only the readings' own scatter is left."""
    shop = InventedShop(11)
    fires = [job(f"f{fire}", 4.0, heat_method="colour:1") for fire in range(6)]
    read = {
        (fire, side): deepened(
            shop.note(Observation(f"{fire} {side}", process, DepthReading("break", 5e-4), f"{fire} {side}")),
            TRUE_MM * side,
        )
        for fire, process in enumerate(fires)
        for side in (0, 1)
    }
    within = {key: one for key, one in read.items() if key[0] < 3}
    across = {key: one for key, one in read.items() if key[1] == key[0] % 2}
    sd = {}
    for name, chosen in (("within", within), ("across", across)):
        told = list(chosen.values())
        sides = {"gap": {one.key: side for (_, side), one in chosen.items()}}
        found = fit(told, [], look=quick_look)
        (one,) = argue(found.evidence, found.fitted, sides).effects
        sd[name] = one.sd
        assert one.shared_fires == (3 if name == "within" else 0)
        assert one.coupons == (3, 3)
    assert sd["within"] < 0.9 * sd["across"]


def test_what_the_books_say_of_a_livelier_mix_is_put_back_in() -> None:
    """A plain pack and one with carbonate differ by the books' own law; the whole difference is shown."""
    shop = InventedShop(2, {"ln_transfer/mix:plain": 0.0, "ln_transfer/mix:soda": 0.0})
    told, side_of = [], {}
    for fire in range(8):
        side = fire % 2
        process = job(f"f{fire}", 4.0, mix=("plain", "soda")[side], carbonate_percent=(0.0, 10.0)[side])
        told.append(shop.note(Observation(str(fire), process, DepthReading("break", 5e-4), str(fire))))
        side_of[str(fire)] = side
    found = fit(told, [], look=quick_look)
    sides = {"carbonate": side_of, "gap": {one.key: int(one.key > "3") for one in told}}
    one, gap = argue(found.evidence, found.fitted, sides, of_pack=("carbonate",)).effects
    plain, soda = ([o.reading.value_m * 1e3 for o in told if side_of[o.key] == k] for k in (0, 1))  # type: ignore[union-attr]
    assert one.counted > 0.05
    assert gap.counted == 0.0
    assert one.band()[0] < np.mean(soda) - np.mean(plain) < one.band()[1]
    assert "mix" in one.mixed_with


def test_nothing_is_said_where_one_side_has_no_reading() -> None:
    told = logbook(InventedShop(1), 4)
    fitted = fit(told, [], look=quick_look)
    for sides in ({"gap": {one.key: 0 for one in told}}, {}):
        found = argue(fitted.evidence, fitted.fitted, sides)
        assert found.effects == ()
        assert 0.0 < found.scatter["depth"].box < found.scatter["depth"].fire
    nothing = fit([], [])
    assert argue(nothing.evidence, nothing.fitted, {"gap": {}}) == Argued((), {})


def test_what_an_argument_may_be_called_follows_the_stated_rule() -> None:
    assert verdict(effect(-0.15, 0.02), 11) == "likely"
    assert verdict(effect(-0.15, 0.07), 11) == "may_be"
    assert verdict(effect(-0.15, 0.08), 1) == "may_be"
    assert verdict(effect(-0.15, 0.07), 2) == "likely"
    assert verdict(effect(0.01, 0.04), 11) == "none"
    assert verdict(effect(0.02, 0.10), 11) == "open"
    assert verdict(effect(-0.15, 0.07), 1) == verdict(effect(0.15, 0.07), 1)


def test_a_band_of_the_books_alone_is_as_wide_as_the_table_says() -> None:
    wide = effect(0.0, argument_priors()["effect", "depth"])
    assert wide.band()[1] == pytest.approx(0.493, abs=0.001)
    assert verdict(wide, 1) == "open"
    assert LEAST_DIFFERENCE["depth"] < wide.band()[1]


def test_trials_are_counted_from_the_scatter() -> None:
    one_box, one_fire, two_fires = (
        trial_variance(SCATTER, kind) for kind in ("one_box", "one_fire", "two_fires")
    )
    assert one_box == pytest.approx(0.07**2)
    assert one_fire == pytest.approx(0.07**2 + 2 * 0.04**2)
    assert two_fires == pytest.approx(one_fire + 2 * 0.06**2)
    needed = trials_needed(SCATTER, "one_fire", 0.1, 0.3)
    # after that many the band is as narrow as wanted, and with one less it is not
    for count, is_enough in ((needed, True), (needed - 1, False)):
        sd = (1.0 / 0.3**2 + count / one_fire) ** -0.5
        assert (1.6449 * sd <= 0.1001) is is_enough
    assert trials_needed(SCATTER, "one_fire", 0.1, 0.05) == 0


@pytest.mark.property
def test_bows_are_held_part_against_like_part_and_the_band_covers() -> None:
    """Batches whose scatter is drawn as the usual one has it (scaled inverse chi square of four)."""
    covers, books = 0, 400
    for seed in range(books):
        rng = np.random.default_rng([seed, 9])
        sd = USUAL_SD_M * (WORTH / rng.chisquare(WORTH)) ** 0.5
        levels = [
            Level(part, side, base + 0.1e-3 * side + sd * rng.standard_normal())
            for part, base in (("pin", 0.1e-3), ("plate", 0.4e-3))
            for side in (0, 0, 1)
        ]
        # a part on one side only tells nothing, however far out
        found = level_difference([*levels, Level("ring", 1, 9e-3)])
        assert found is not None
        assert found.batches == len(levels)
        covers += found.low_m <= 0.1e-3 <= found.high_m
    assert binom.ppf(0.005, books, 0.9) <= covers <= binom.ppf(0.995, books, 0.9), covers
    assert level_difference([Level("pin", 0, 1e-4), Level("plate", 1, 2e-4)]) is None
    assert level_difference([]) is None


@pytest.mark.published
def test_rates_are_jeffreys_intervals() -> None:
    """Against scipy's quantiles of Beta; closed ends after Brown, Cai & DasGupta 2001 (from memory)."""
    rate = jeffreys_rate(1, 9)
    assert (rate.low, rate.high) == pytest.approx(beta.ppf([0.05, 0.95], 1.5, 8.5))
    assert jeffreys_rate(0, 12).low == 0.0
    assert jeffreys_rate(3, 3).high == 1.0
    nothing = jeffreys_rate(0, 0)
    assert (nothing.low, nothing.high) == (0.0, 1.0)


@pytest.mark.property
def test_rate_bands_cover_small_numbers_on_average() -> None:
    """Jeffreys' band holds the true share nine times in ten on average over shares, as it is meant to."""
    times = 10
    bands = [jeffreys_rate(k, times) for k in range(times + 1)]
    shares = np.linspace(0.02, 0.98, 97)
    covers = [
        sum(binom.pmf(k, times, share) for k, band in enumerate(bands) if band.low <= share <= band.high)
        for share in shares
    ]
    assert np.mean(covers) == pytest.approx(0.9, abs=0.02)


@pytest.mark.property
def test_a_difference_of_rates_agrees_with_draws_and_turns_round() -> None:
    first, second = jeffreys_rate(1, 8), jeffreys_rate(4, 7)
    found, turned = rate_difference(first, second), rate_difference(second, first)
    rng = np.random.default_rng(5)
    drawn = rng.beta(4.5, 3.5, 200_000) - rng.beta(1.5, 7.5, 200_000)
    assert (found.low, found.middle, found.high) == pytest.approx(
        np.quantile(drawn, [0.05, 0.5, 0.95]), abs=0.01
    )
    assert (turned.low, turned.high) == pytest.approx((-found.high, -found.low), abs=1e-9)
    assert 50 < times_needed(first, second, 0.15) < 60

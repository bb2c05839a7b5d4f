import json
from dataclasses import fields, replace

import numpy as np
import pytest

from model.arrow import Covariance, Layout
from model.belief import Constants, ShopBelief, constants_of, handbook_belief
from model.errors import NotPossible
from model.inputs import LOCAL_INPUTS, links
from model.look import look
from model.packed import ROUGH, packed
from model.priors import prior_for
from model.process import Keys, Process, Temper
from model.stored_belief import read_belief
from tests.model.logbooks import job


def known(names: tuple[str, ...], mean: float, variance: float) -> ShopBelief:
    return ShopBelief(
        names, np.full(len(names), mean), Covariance.whole(variance * np.eye(len(names))), coupons=3
    )


@pytest.mark.property
def test_every_field_of_the_constants_has_one_value_a_draw() -> None:
    constants = handbook_belief().constants(job(), draws=37)
    assert constants.draws == 37
    assert {getattr(constants, field.name).shape for field in fields(Constants)} == {(37,)}
    assert len(fields(Constants)) == len(LOCAL_INPUTS)


@pytest.mark.property
def test_a_key_never_seen_is_drawn_from_the_books() -> None:
    z = handbook_belief().drawn(["ln_transfer/mix:99"], draws=400, seed=1)[:, 0]
    assert abs(z.mean()) < 0.01
    assert z.std() == pytest.approx(1.0, abs=0.01)


@pytest.mark.property
def test_known_coordinates_are_drawn_with_their_mean_and_covariance() -> None:
    covariance = np.array([[0.5, -0.3], [-0.3, 0.4]])
    belief = ShopBelief(("lag/shop", "lag/box:1"), np.array([0.7, -0.4]), Covariance.whole(covariance))
    z = belief.drawn(["lag/box:1", "ln_transfer/shop", "lag/shop"], draws=4000, seed=2)
    assert z.mean(axis=0) == pytest.approx([-0.4, 0.0, 0.7], abs=0.02)
    assert np.cov(z.T)[np.ix_([2, 0], [2, 0])] == pytest.approx(covariance, abs=0.03)


@pytest.mark.property
def test_the_same_seed_gives_the_same_draws_and_a_name_behind_leaves_the_others_alone() -> None:
    belief = handbook_belief()
    both = belief.drawn(["lag/shop", "lag/box:1"], draws=50, seed=3)
    alone = belief.drawn(["lag/shop"], draws=50, seed=3)
    assert np.array_equal(both[:, 0], alone[:, 0])
    assert np.array_equal(both, belief.drawn(["lag/shop", "lag/box:1"], draws=50, seed=3))
    assert not np.array_equal(alone, belief.drawn(["lag/shop"], draws=50, seed=4))


def as_a_sum(belief: ShopBelief, process: Process, draws: int) -> tuple[float, float]:
    """Return the sd that a sum of all coordinates has among its draws, and the one that the belief gives it.

    The sum is that of a depth: as much of the fire's own luck as of all constants together.
    """
    linked = links(process)
    names = linked.names_in_turn()
    along = np.array([3.0 if name.startswith(("fire/", "load/")) else 1.0 for name in names])
    at = {name: place for place, name in enumerate(belief.names)}
    known = [place for place, name in enumerate(names) if name in at]
    own = [at[names[place]] for place in known]
    variance = along[known] @ belief.covariance.full()[np.ix_(own, own)] @ along[known]
    room = {latent: mean_square(belief, scale) for latent, scale, _ in linked.scatter}
    variance += sum(along[k] ** 2 * room.get(name, 1.0) for k, name in enumerate(names) if name not in at)
    return float((belief.drawn(names, draws, 0, linked.scatter) @ along).std()), float(variance**0.5)


def mean_square(belief: ShopBelief, scale: str) -> float:
    """Return the mean square of a log-normal scale that the belief knows."""
    place, prior = belief.names.index(scale), prior_for(scale)
    middle, sd = belief.mean[place], belief.covariance.full()[place, place] ** 0.5
    return float(np.exp(2.0 * (prior.mean + prior.sd * middle) + 2.0 * (prior.sd * sd) ** 2))


@pytest.mark.property
@pytest.mark.parametrize("is_drawn", [False, True])
@pytest.mark.parametrize(("draws", "within"), [(64, 0.05), (200, 0.03), (300, 0.02)])
def test_a_sum_of_draws_is_as_wide_as_believed_whatever_the_fire_is_called(
    draws: int, within: float, is_drawn: bool
) -> None:
    names = ("ln_transfer/shop", "temperature_bias/thermocouple:1", "rim_carbon/shop", "bath/water:1")
    loose = np.random.default_rng(4).normal(size=(5, 5))
    covariance = 0.7 * (loose @ loose.T / 5 + 0.1 * np.eye(5))
    covariance[4, :4] = covariance[:4, 4] = 0.0
    names = (*names, "scatter_scale/instrument")
    belief = ShopBelief(names, np.full(5, 0.3), Covariance.whole(covariance), coupons=3)
    if is_drawn:
        rng = np.random.default_rng(5)
        stored = rng.multivariate_normal(belief.mean, covariance, 1500)
        belief = replace(belief, draws=stored, covariance=Covariance.whole(np.cov(stored.T)))
    for fire in range(8):
        found, told = as_a_sum(belief, job(f"f{fire}"), draws)
        assert found == pytest.approx(told, rel=within), fire


@pytest.mark.property
@pytest.mark.parametrize("other", [Keys(bath="2"), Keys(bath="99"), Keys(bath="1", oven="7")])
def test_another_bath_or_temper_leaves_the_draws_of_all_the_rest_alone(other: Keys) -> None:
    quenched = job()
    tempered = replace(quenched, steps=(*quenched.steps, Temper(453.15, 3600.0)))

    def keyed(keys: Keys) -> Process:
        own = replace(quenched.keys, bath=keys.bath, oven=keys.oven)
        return replace(tempered if keys.oven else quenched, keys=own)

    first, second = Keys(bath="1", oven="1"), Keys(bath="2", oven="1")
    names = tuple(dict.fromkeys(name for one in (first, second) for name in links(keyed(one)).names()))
    loose = np.random.default_rng(4).normal(size=(len(names), len(names)))
    belief = ShopBelief(
        names, np.linspace(-1.0, 1.0, len(names)), Covariance.whole(loose @ loose.T / len(names)), coupons=3
    )
    one, two = (belief.constants(keyed(keys), 50) for keys in (first, other))
    moved = {name for name, own in vars(one).items() if not np.allclose(own, getattr(two, name), rtol=1e-12)}
    assert moved == {"oven_offset_K", "temper_loss_factor"} | (set() if other.oven else {"bath_severity"})


@pytest.mark.property
def test_the_fires_own_luck_can_be_left_out_of_the_draws() -> None:
    belief, process = handbook_belief(), job()
    with_luck = belief.constants(process, 400).temperature_bias_K.std()
    without = belief.constants(process, 400, include_fire_scatter=False).temperature_bias_K.std()
    assert without == pytest.approx(10.6, rel=0.05)
    assert with_luck == pytest.approx(np.hypot(10.6, 10.0), rel=0.05)


@pytest.mark.property
def test_doubt_in_the_record_widens_that_fire_only() -> None:
    belief = handbook_belief()
    doubted = belief.constants(job(record_doubt_K=30.0), 400).temperature_bias_K.std()
    assert doubted == pytest.approx(np.sqrt(10.6**2 + 10.0**2 + 30.0**2), rel=0.05)


@pytest.mark.property
def test_what_no_reading_spoke_of_stays_as_the_books_have_it_however_much_surprised() -> None:
    wide = replace(known(("lag/shop",), 0.0, 0.5), spread=2.0)
    for name in ("fire/new", "temper/new", "ln_transfer/shop"):
        assert wide.drawn([name], 400, 0).std() == pytest.approx(1.0, rel=0.02)


@pytest.mark.property
def test_the_bars_carbon_stays_within_its_stated_range() -> None:
    process = job()
    shift = handbook_belief().constants(process, 500).base_carbon_shift_wt
    half = 0.5 * (process.steel.carbon_high_wt - process.steel.carbon_low_wt)
    assert np.abs(shift).max() <= half
    assert shift.std() == pytest.approx(half / 3**0.5, rel=0.03)


@pytest.mark.property
def test_coordinates_that_no_shop_has_are_held_within_what_the_equations_take() -> None:
    process = job()
    linked = links(process)
    far = linked.offset + 40.0 * linked.matrix(linked.names()).sum(axis=1) * np.array([[1.0], [-1.0]])
    constants = constants_of(process, far)
    assert np.abs(constants.temperature_bias_K).max() <= 200.0
    seen = look([process], far[None])[0]
    assert np.isfinite(seen.carbon_wt).all()
    assert np.isfinite(seen.hardness_HV).all()


@pytest.mark.property
def test_the_point_is_the_middle_of_the_draws() -> None:
    belief = known(("ln_transfer/shop", "temperature_bias/thermocouple:1"), 0.8, 0.1)
    point, drawn = belief.point(job()), belief.constants(job(), 2000)
    for field in fields(Constants):
        middle = float(np.median(getattr(drawn, field.name)))
        assert getattr(point, field.name) == pytest.approx([middle], rel=0.05, abs=0.6), field.name


@pytest.mark.property
def test_empty_keys_share_nothing_with_a_known_shop_box_or_bar() -> None:
    names = links(replace(job(), keys=Keys(fire="9"))).names()
    belief = known(("lag/box:1", "ln_transfer/mix:1", "bar_carbon/1"), 1.0, 0.1)
    assert not set(names) & set(belief.names)


@pytest.mark.property
def test_a_belief_survives_storage_as_plain_text() -> None:
    belief = replace(known(("lag/shop", "lag/box:1"), 0.3, 0.6), spread=1.5, books=np.array([1.0, 0.5]))
    back = read_belief(json.loads(json.dumps(belief.to_dict())))
    assert back.names == belief.names
    assert np.array_equal(back.mean, belief.mean)
    assert np.array_equal(back.covariance.full(), belief.covariance.full())
    assert (back.spread, back.coupons) == (belief.spread, belief.coupons)
    assert np.array_equal(back.books, belief.books)
    empty = read_belief(json.loads(json.dumps(handbook_belief().to_dict())))
    assert empty.constants(job(), 5).draws == 5


@pytest.mark.property
def test_a_large_belief_is_stored_short_exactly_in_its_covariance_and_nearly_in_its_draws() -> None:
    rng = np.random.default_rng(5)
    names = tuple(f"fire/{k}" for k in range(200))
    root = rng.standard_normal((200, 200)) / 15.0
    drawn = rng.standard_normal((384, 200)) @ root.T
    belief = ShopBelief(names, drawn.mean(axis=0), Covariance.whole(root @ root.T), 1.0, 200, drawn)
    stored = json.dumps(belief.to_dict())
    assert (
        len(stored)
        < 450_000
        < 1_300_000
        < len(json.dumps([drawn.round(3).tolist(), (root @ root.T).tolist()]))
    )
    back = read_belief(json.loads(stored))
    assert back.covariance.shared == pytest.approx(belief.covariance.shared, rel=1e-15)
    assert np.array_equal(back.covariance.shared, back.covariance.shared.T)
    assert back.draws is not None
    assert (
        np.abs(back.draws - drawn).max() < 0.002
    )  # prior sds, a hundredth of the doubt of what is known best
    assert back.draws.std(axis=0) == pytest.approx(drawn.std(axis=0), rel=1e-4)


@pytest.mark.property
def test_a_stored_belief_grows_no_faster_than_its_fires() -> None:
    def stored(fires: int) -> int:
        own = 20 + np.arange(3 * fires).reshape(fires, 3)
        layout = Layout(20 + 3 * fires, np.arange(20), own)
        gain, alone = np.ones((fires, 3, 20)), np.tile(np.eye(3), (fires, 1, 1))
        names = tuple(f"{k:08}" for k in range(layout.size))
        covariance = Covariance(layout, np.eye(20), gain, alone)
        return len(json.dumps(ShopBelief(names, np.zeros(layout.size), covariance).to_dict()))

    assert stored(400) < 2.05 * stored(200) < 400_000


@pytest.mark.property
def test_what_is_read_of_some_fires_is_what_the_whole_says_of_them() -> None:
    rng = np.random.default_rng(6)
    names = ("fire/1", "lag/shop", "load/1|box:2", "fire/2", "ln_transfer/shop")
    layout = Layout(5, np.array([4, 1]), np.array([[0, 2], [3, 5]]))
    shared, gain, drawn = np.diag([0.5, 0.2]), rng.standard_normal((2, 2, 2)), rng.standard_normal((8, 5))
    gain[1, 1] = 0.0
    covariance = Covariance(
        layout, shared, gain, np.array([[[0.4, 0.1], [0.1, 0.3]], [[0.6, 0.0], [0.0, 0.0]]])
    )
    whole = ShopBelief(names, rng.standard_normal(5), covariance, 1.2, 4, drawn, rng.uniform(size=5))
    matrix = covariance.full()
    stored = read_belief(json.loads(json.dumps(whole.to_dict())))
    for fires, keep in ((("2",), [1, 3, 4]), ((), [1, 4]), (("1", "2"), [0, 1, 2, 3, 4])):
        found = stored.of_fires(*fires)
        assert found.names == tuple(names[place] for place in keep)
        assert np.array_equal(found.mean, whole.mean[keep])
        assert found.covariance.full() == pytest.approx(matrix[np.ix_(keep, keep)], rel=1e-15)
        assert (found.spread, found.coupons) == (1.2, 4)
        assert found.draws is not None
        assert found.draws == pytest.approx(drawn[:, keep], rel=1e-3)
        assert np.array_equal(found.books, np.asarray(whole.books)[keep])


@pytest.mark.property
@pytest.mark.parametrize(
    "spoilt",
    [
        {"mean": [0.1]},
        {"covariance": [[1.0, 0.0], [0.0, 1.0]]},
        {"covariance": packed(np.ones(3))},
        {"covariance": {}},
        {"covariance": {"shared": {"kind": "<f8", "shape": [1], "packed": "?"}}},
        {"covariance": {"shared": {"kind": "|O", "shape": [1], "packed": ""}}},
        {"covariance": {"shared": packed(np.array([np.nan]))}},
        {"covariance": {"shared": packed(np.ones(3))}},
        {"covariance": {"shared": 1.0}},
        {"covariance": {"by_fire": [[0, 1]]}},
        {"covariance": {"by_fire": [[2]]}},
        {"covariance": {"by_fire": [1]}},
        {"covariance": {"gain": packed(np.ones((2, 1)))}},
        {"covariance": {"alone": packed(np.ones((1, 2, 2)))}},
        {"covariance": {"alone": packed(np.array([[[np.inf]]]))}},
        {"draws": packed(np.full((2, 2), np.inf), ROUGH)},
        {"mean": [float("nan"), 0.0]},
    ],
)
def test_a_spoilt_belief_is_refused(spoilt: dict[str, object]) -> None:
    layout = Layout(2, np.array([0]), np.array([[1]]))
    covariance = Covariance(layout, np.eye(1), np.ones((1, 1, 1)), np.ones((1, 1, 1)))
    stored = ShopBelief(("lag/shop", "fire/1"), np.zeros(2), covariance).to_dict()
    assert read_belief(stored).covariance.full().tolist() == [[1.0, -1.0], [-1.0, 2.0]]
    told = spoilt.get("covariance")
    if isinstance(told, dict) and told and "packed" not in told:
        spoilt = {"covariance": stored["covariance"] | told}  # one piece of it
    with pytest.raises(NotPossible):
        read_belief(stored | spoilt)

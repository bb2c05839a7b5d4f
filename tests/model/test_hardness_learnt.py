"""What coupons teach of hardness: of a bar, of soft austenite, and of what a good case reads."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.belief import ShopBelief, handbook_belief
from model.calibration import fit
from model.hard_case import hard_case_rows
from model.inputs import ROW, links
from model.learnt import NOT_YET_LEARNT, ParameterRow, parameter_rows, standard_job
from model.look import look
from model.priors import bar_hardenability_prior
from model.process import Process
from model.readings import FilesReading, HardnessReading, Observation
from model.steels import mystery_steel, steel_of_composition, steel_of_grade
from tests.model.invented import InventedShop
from tests.model.logbooks import job, logbook, unwidened

pytestmark = pytest.mark.property

ROCKWELL = HardnessReading("HRC", 60.0, "rockwell:1")
MYSTERY = mystery_steel(0.05, 0.50)
SLOW, FAST = {"bar_hardenability/1": 1.5}, {"bar_hardenability/1": -1.5}


def oiled(fire: str, bar: str = "1") -> Process:
    """Return a thin mystery rod out of oil, where a bar's own hardenability shows."""
    process = job(fire, medium="oil", size_m=0.006, bar=bar)
    return replace(process, steel=MYSTERY, keys=replace(process.keys, bath="1"))


def noted(shop: InventedShop, processes: list[Process]) -> list[Observation]:
    return [shop.note(Observation(p.keys.fire, p, ROCKWELL, coupon=p.keys.fire)) for p in processes]


def learnt(told: list[Observation]) -> ShopBelief:
    """Return what was learnt without what surprises widen."""
    return unwidened(fit(told, []).belief)


def row_of(kind: str, of: str, observations: list[Observation], belief: ShopBelief) -> ParameterRow:
    rows = parameter_rows(observations, belief)
    return next(row for row in rows if (row.kind, row.of) == (kind, of))


def hrc_of(belief: ShopBelief, process: Process) -> np.ndarray:
    return ROCKWELL.predicted(look([process], belief.inputs(process, 300)[None])[0]).value[:, 0]


def test_a_bar_shared_by_batches_is_one_unknown_and_another_bar_another() -> None:
    batches = (("1", "1"), ("2", "1"), ("3", "2"))
    first, second, other = (links(oiled(fire, bar)).names() for fire, bar in batches)
    assert {"bar_carbon/1", "bar_hardenability/1"} <= set(first) & set(second)
    assert {"bar_carbon/1", "bar_hardenability/1"}.isdisjoint(other)


def test_it_moves_both_times_together_and_less_the_more_is_known_of_the_steel() -> None:
    known = steel_of_composition({"C": 0.2, "Mn": 0.8})
    sds = []
    for steel in (known, steel_of_grade("1018"), MYSTERY):
        process = replace(job(), steel=steel)
        names = links(process).names()
        moved = links(process).matrix(names)[:, names.index("bar_hardenability/1")]
        assert moved[ROW["ln_pearlite_time"]] == moved[ROW["ln_bainite_time"]]
        assert np.count_nonzero(moved) == 2
        sds.append(float(moved[ROW["ln_bainite_time"]]))
    assert sds[0] < sds[1] < sds[2]
    assert sds == [bar_hardenability_prior(kind).sd for kind in ("composition", "grade", "mystery")]


@pytest.mark.parametrize("truth", [SLOW, FAST])
def test_coupons_out_of_oil_teach_how_a_mystery_bar_hardens(truth: dict[str, float]) -> None:
    shop = InventedShop(5, truth | {"bainite_time/shop": 0.0, "grain_number/shop": 0.0, "bath/oil:1": 0.0})
    told = noted(shop, [oiled(str(n)) for n in range(4)])
    belief = learnt(told)
    row = row_of("hardenability", "1", told, belief)
    assert row.coupons == 4
    is_slow = truth is SLOW
    assert (row.now.median > row.books.median) == is_slow
    assert row.learnt or is_slow  # what hardens through only says that there was time enough
    books, mine = hrc_of(handbook_belief(), oiled("next")), hrc_of(belief, oiled("next"))
    assert mine.std() < 0.8 * books.std()
    true_HRC = float(ROCKWELL.predicted(shop.seen(oiled("next"))).value[0, 0])
    assert np.quantile(mine, 0.01) - 0.5 < true_HRC < np.quantile(mine, 0.99) + 0.5


def test_one_hardness_from_water_says_next_to_nothing_of_a_bar() -> None:
    process = replace(job("1"), steel=MYSTERY)
    told = noted(InventedShop(5), [process])
    assert not row_of("hardenability", "1", told, fit(told, []).belief).learnt


def test_what_a_good_case_reads_is_known_before_what_it_is_made_of() -> None:
    told = noted(InventedShop(7, {"tester/rockwell:1": -1.5}), [job(str(n), 8.0) for n in range(8)])
    belief = learnt(told)
    (row,) = hard_case_rows(told, belief, [standard_job(job().keys)])
    assert (row.kind, row.of, row.unit, row.coupons) == ("hard_case", "rockwell:1", "HRC", 8)
    assert row.learnt
    assert row.now.high - row.now.low < 0.6 * (row.books.high - row.books.low)
    places = [belief.names.index(name) for name in ("tester/rockwell:1", "martensite_shift/shop")]
    alone = np.sqrt(belief.covariance.diagonal)[places]
    summed = (row.now.high - row.now.low) / (row.books.high - row.books.low)
    assert summed < alone.min()
    assert alone[1] > NOT_YET_LEARNT  # the martensite's own part is not told from the tester's
    assert belief.covariance.full()[places[0], places[1]] < 0.0


def test_no_row_for_a_tester_that_told_of_no_skin_and_none_without_a_job() -> None:
    unnamed = Observation("a", job(), HardnessReading("HRC", 60.0))
    filed = Observation("b", job(), FilesReading(60.0, None, "files:2"))
    assert hard_case_rows([unnamed], handbook_belief(), [standard_job(job().keys)]) == ()
    assert hard_case_rows([filed], handbook_belief(), []) == ()
    (row,) = hard_case_rows([filed], handbook_belief(), [standard_job(job().keys)])
    assert row.of == "files:2"
    assert not row.learnt


def test_many_hard_skins_teach_the_soft_austenite_only_through_what_can_tell_it() -> None:
    shop = InventedShop(3, {"retained_austenite_factor/shop": 1.5})
    told = noted(shop, [job(str(n), hours=2.0 + n) for n in range(6)])
    belief = learnt(told)
    place = belief.names.index("retained_austenite_factor/shop")
    assert 0.5 < float(np.sqrt(belief.covariance.diagonal[place])) < 1.0
    rows = [row for row in parameter_rows(logbook(shop, 0), belief, [job()]) if row.kind == "retained"]
    assert len(rows) == 1

"""Every form of the app under abuse: refused in words or saved whole, never broken, nothing shown raw.

The forms are found by walking the pages, so a new one is thrown at without anybody naming it here. CI throws
some from a fixed seed; `ABUSE=10000 pytest -m long tests/abuse/test_forms.py -s` throws the nightly number.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.abuse.found_forms import addresses_without_a_form, forms_of_every_page
from tests.abuse.kept_values import is_whole, values_that_are_no_numbers
from tests.abuse.nasty import ABUSE
from tests.abuse.one_thread import one_thread, words_unmarked
from tests.abuse.page_walk import MOST_OF_A_KIND, Form, walk
from tests.abuse.storm import Storm
from tests.abuse.thrown import throw_each
from tests.web.fitted_demo import fit_again
from webapp.services.fitting import newest_summary
from webapp.settings import Settings
from webapp.store.engine import LOGBOOK_FILE, open_store, read

IN_CI = 1000  # and 500 of the interface: `test_interface.py`
A_ROUND = 1000
SHOWN_IN_CI = 2  # pages of each kind, of all that were kept
NIGHTLY = int(os.environ.get("ABUSE", "10000"))
Lively = tuple[Path, dict[str, Form]]


@pytest.fixture(scope="module")
def lively(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lively]:
    """The folder of a logbook with something in every state, and a form of each kind that its pages show."""
    folder = tmp_path_factory.mktemp("lively")
    with words_unmarked():
        forms = forms_of_every_page(folder)
    yield folder / "data", forms
    shutil.rmtree(folder)


def test_every_address_that_takes_a_form_is_thrown_at(lively: Lively) -> None:
    assert addresses_without_a_form(lively[1]) == []


def test_no_form_breaks_whatever_is_typed(lively: Lively, tmp_path: Path) -> None:
    storm = storm_over(lively, tmp_path, 1, IN_CI, SHOWN_IN_CI)
    assert storm.faults == {}
    assert sum(storm.sent.values()) == IN_CI
    assert min(storm.statuses[status] for status in (200, 303, 404, 409, 422)) > 0


@pytest.mark.long
def test_no_form_breaks_in_a_night_and_what_was_kept_can_be_fitted(lively: Lively, tmp_path: Path) -> None:
    faults = []
    for number in range(100, 100 + NIGHTLY // A_ROUND):
        storm = storm_over(lively, tmp_path / str(number), number, A_ROUND)
        faults += [f"round {number}: {fault} {sent}" for fault, sent in storm.faults.items()]
        slowest = sorted(((seconds, kind) for kind, seconds in storm.slowest.items()), reverse=True)[:5]
        print(number, dict(storm.statuses), len(storm.sent), slowest, storm.faults, flush=True)  # noqa: T201
    fit_what_was_kept(tmp_path / str(number))
    assert faults == []


def storm_over(
    lively: Lively, folder: Path, number: int, examples: int, shown: int = MOST_OF_A_KIND
) -> Storm:
    """Send abused forms to a copy of the lively logbook, look at what they left, and return how it went."""
    data_folder, forms = lively
    shutil.copytree(data_folder, folder / "data")
    with one_thread(Settings(data_folder=folder / "data")) as client:
        storm = Storm(client, dict(forms))
        throw_each(ABUSE, examples, number, storm.send_next)
        with words_unmarked():
            for _ in walk(client, most=shown):  # what was kept is shown by every page, and breaks none
                pass
    assert values_that_are_no_numbers(folder / "data" / LOGBOOK_FILE) == []
    assert is_whole(folder / "data" / LOGBOOK_FILE)
    return storm


def fit_what_was_kept(folder: Path) -> None:
    """Fit a logbook after the storm: the fit comes to an end, and stands."""
    with closing(open_store(folder / "data")) as store:
        fit_again(store)
        with read(store) as session:
            assert newest_summary(session) is not None
    assert values_that_are_no_numbers(folder / "data" / LOGBOOK_FILE) == []

"""The whole JSON interface as its own description has it, under data that fits it and data that does not.

CI throws some from a fixed seed; `ABUSE=10000 pytest -m long tests/abuse/test_interface.py -s` throws many.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Iterator
from time import process_time
from typing import Any

import pytest
import schemathesis
from hypothesis import strategies as st
from schemathesis import Case, GenerationMode
from schemathesis.checks import negative_data_rejection, positive_data_acceptance, unsupported_method

from tests.abuse.kept_values import all_finite, values_that_are_no_numbers
from tests.abuse.one_thread import OneThread, one_thread
from tests.abuse.thrown import throw_each
from tests.web.fitted_demo import copy_fitted_demo
from webapp.settings import Settings

IN_CI = 500
A_NIGHT = int(os.environ.get("ABUSE", "10000")) // 4
LONGEST_ANSWER_S = 15.0  # of processor time; 1,000 draws of twenty stages
TAKEN = ("method", "url", "headers", "params", "json")
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE")
# a description cannot say all that a forecast needs, such as a bore smaller than its tube
NOT_ASKED = [positive_data_acceptance, unsupported_method]


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OneThread]:
    folder = tmp_path_factory.mktemp("interface")
    copy_fitted_demo(folder)
    with one_thread(Settings(data_folder=folder)) as speaking:
        yield speaking


def throw(client: OneThread, examples: int, number: int) -> tuple[Counter[int], list[tuple[float, str]]]:
    """Send examples to every operation in turn; return the statuses and the slowest answers."""
    described = schemathesis.openapi.from_dict(client.get("/api/openapi.json").json())
    operations = [found.ok() for found in described.get_all_operations()]
    ways = [operation.as_strategy(mode) for operation in operations for mode in GenerationMode]
    coupons = [coupon["id"] for coupon in client.get("/api/coupons").json()["coupons"]]
    statuses, seconds = Counter[int](), list[tuple[float, str]]()

    def one(case: Case) -> None:
        aim(case, coupons)
        started = process_time()
        answer = send(client, case)
        seconds.append((process_time() - started, f"{case.method} {case.path} {case.body!r}"[:300]))
        statuses[answer.status_code] += 1
        case.validate_response(answer, excluded_checks=not_asked_of(case))
        assert_told(answer)

    throw_each(st.one_of(ways), examples, number, one)
    return statuses, sorted(seconds, reverse=True)[:5]


def aim(case: Case, coupons: list[int]) -> None:
    """Have every second write go to a coupon that is there, which no drawn number would find."""
    told = (case.path_parameters or {}).get("coupon_id")
    if isinstance(told, int) and told > 0 and told % 2:
        case.path_parameters["coupon_id"] = coupons[told % len(coupons)]


def not_asked_of(case: Case) -> list[Any]:
    """Return the checks that do not bind us: an empty filter is none, of a repeated one the last counts."""
    is_usual = any(value == "" or isinstance(value, list) for value in (case.query or {}).values())
    return [*NOT_ASKED, negative_data_rejection] if is_usual else NOT_ASKED


def send(client: OneThread, case: Case) -> Any:
    asked = case.as_transport_kwargs(base_url=str(client.base_url))
    known = {name: value for name, value in asked.items() if name in TAKEN}
    return client.request(**known, content=asked.get("data"))


def assert_told(answer: Any) -> None:
    """Hold an answer to what any must be: finite numbers, and a refusal that says what and where."""
    assert answer.status_code < 500
    assert "Traceback" not in answer.text
    if answer.headers["content-type"].startswith("application/json"):
        assert all_finite(answer.json())
    if answer.status_code == 422:
        assert all(len(error["what"]) > 5 for error in answer.json()["errors"])


def test_the_interface_breaks_on_nothing_and_keeps_to_its_description(client: OneThread) -> None:
    statuses, slowest = throw(client, IN_CI, 1)
    assert statuses[200] > 20
    assert statuses[422] > 20
    assert min(statuses[201], statuses[404]) > 3
    assert values_that_are_no_numbers(client.store.file) == []
    assert slowest[0][0] < LONGEST_ANSWER_S


@pytest.mark.long
def test_the_interface_breaks_on_nothing_in_a_night(client: OneThread) -> None:
    statuses, slowest = throw(client, A_NIGHT, 100)
    print(json.dumps([statuses, slowest], indent=1))  # noqa: T201
    assert slowest[0][0] < LONGEST_ANSWER_S


@pytest.mark.parametrize("method", METHODS)
def test_a_method_that_an_address_does_not_know_is_refused_in_words(client: OneThread, method: str) -> None:
    described = client.get("/api/openapi.json").json()["paths"]
    for path, known in described.items():
        if method.lower() not in known:
            answer = client.request(method, path)
            assert (answer.status_code, len(answer.text) > 15) == (405, True), path

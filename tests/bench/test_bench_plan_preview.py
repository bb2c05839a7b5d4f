"""How long the server takes to answer a stepper of the plan page, from the posted form to the picture."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import cycle
from time import perf_counter, process_time

import pytest
from fastapi.testclient import TestClient

from model.belief import handbook_belief
from model.cooling_table import cooling_table
from model.planner import Goal
from model.process import Carburize, History, PackSupply, Process, Quench, Section, Shape, Temper
from model.steels import steel_of_grade
from tests.web.page_forms import begin, read_page_form, send
from webapp.app import create_app
from webapp.clock import Clock
from webapp.services import plan_hardening
from webapp.services.plan_hardening import BathAsked, compared_baths, named_baths
from webapp.services.plan_sums import Believed, settle
from webapp.settings import Settings

pytestmark = pytest.mark.bench

LIVE_ANSWER_S = 0.060
COMPARED_WITHIN_S = 1.5  # three times the aim of half a second, for a busy machine; what it took is printed
ROUNDS = 25


@pytest.fixture
def client(settings: Settings, clock: Clock) -> Iterator[TestClient]:
    with TestClient(create_app(settings, clock), base_url=settings.url, follow_redirects=False) as speaking:
        begin(speaking)
        send(speaking, "/parts/new", "/parts", name="Pivot pin", size_m="12", grind_m="0.1")
        yield speaking


def shortest(work: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return min(times)


# processor time, the client's own share included: what else runs on the machine does not count against it
@pytest.mark.benchmark(timer=process_time)
def test_a_stepper_is_answered_within_sixty_milliseconds(client: TestClient, benchmark) -> None:
    # every answer is for a heat, hours or mix that was not asked before, so that none is remembered
    sent = read_page_form(client.get("/plans/new?part=1").text, "/plans")
    steps = cycle(range(1, 200))

    def step() -> None:
        k = next(steps)
        heat, hours, mix = str(880 + k), str(3 + k / 50), str(1 + k % 2)
        answer = client.post(
            "/plans/preview", data={**sent, "temperature_K": heat, "soak_s": hours, "mix_id": mix}
        )
        assert re.search(r"to land between", answer.text)

    benchmark.pedantic(step, rounds=ROUNDS, warmup_rounds=3)
    benchmark.extra_info.update(milliseconds=round(1e3 * benchmark.stats.stats.min, 1))
    assert benchmark.stats.stats.min < LIVE_ANSWER_S


def test_the_settled_answer_of_known_hours_is_read_not_worked_out_again(client: TestClient) -> None:
    sent = read_page_form(client.get("/plans/new?part=1").text, "/plans") | {"settled": ["yes"]}
    start = perf_counter()
    client.post("/plans/preview", data={**sent, "temperature_K": "911"})
    first_s = perf_counter() - start
    again_s = shortest(lambda: client.post("/plans/preview", data={**sent, "temperature_K": "911"}))
    assert again_s < 0.25 * first_s


@pytest.mark.benchmark(timer=process_time)
def test_four_baths_are_compared_within_three_times_half_a_second(benchmark) -> None:
    soak = Carburize(History.hold(1198.15, 4 * 3600.0), PackSupply("lump", 8.0))
    steps = (soak, Quench("water"), Temper(453.15, 3600.0))
    process = Process(steel_of_grade("1018"), Section(Shape.ROD, 12e-3), steps)
    believed = Believed.of(handbook_belief())
    found = settle(Goal("rim", 0.4e-3, 0.8e-3), process, 4 * 3600.0, believed)
    media = ("water", "brine", "oil")
    baths = named_baths(BathAsked(name, Quench(name), name, name == "water", True) for name in media)
    assert len(baths) == 4

    def forget() -> None:
        cooling_table.cache_clear()
        plan_hardening._quenched.cache_clear()

    benchmark.pedantic(lambda: compared_baths(found, believed, baths), setup=forget, rounds=5)
    benchmark.extra_info.update(milliseconds=round(1e3 * benchmark.stats.stats.min, 1))
    assert benchmark.stats.stats.min < COMPARED_WITHIN_S

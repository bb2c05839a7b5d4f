"""A shop that writes in Fahrenheit and inches reads nothing in Celsius, millimetres or kilograms alone."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from model.process import Quench, Step, Temper
from model.units import HOUR_s, celsius_to_kelvin, kelvin_to_fahrenheit
from tests.browser.looks import LOOKS
from tests.conftest import A_SPRING_DAY
from tests.model.hardened_cases import feed, heat, made, rod
from tests.web.fitted_demo import CHECKOUT, speaking_to_demo, store_of
from webapp.services.plan_figures import Warned
from webapp.services.plan_view import view_warning
from webapp.services.showing import Showing
from webapp.settings import Settings
from webapp.store.tables import Shop
from webapp.store.unit_of_work import Actor, write

METRIC = re.compile(
    r"(?<![\w.])(?:\d[\d.,]*|\{\})(?: (?:to|or) (?:\d[\d.,]*|\{\}))?[\s\u00a0](°C|C|mm|kg|g)\b(?!/)"
)
# within a few words the same stands in the other unit: 20 °C (35 °F), 10 mm or 1/2 in
BOTH = re.compile(r"[^.;:]{0,25}\([\d{-]| or |, \d+/\d+ in\b|, [\d to]+ °F")
# the load of a tester names its scale; labels are sold by the millimetre; the JSON interface is metric
SCALES = re.compile(r"pressed in by 150 kg|diamond with 60 kg|15 kg on the diamond")
METRIC_ROOMS = {
    "webapp/forms/forecast_input.py", "webapp/forms/json_error.py", "webapp/forms/reading_input.py",
    "webapp/services/forecast_request.py",
    "webapp/services/labels.py", "webapp/services/showing.py", "webapp/services/words.py", "model/warned.py",
    "model/rules.py",
}  # fmt: skip
ROOMS = ("forms", "services", "pages", "templates")
COOL_TEMPER = Temper(celsius_to_kelvin(60.0), HOUR_s)
INCHES, METRIC_SHOP = Showing("F", "in", ZoneInfo("UTC")), Showing("C", "mm", ZoneInfo("UTC"))


def metric_alone(text: str) -> list[str]:
    """Return each place of a text that says a heat, a length or a weight in metric units only."""
    return [
        text[max(0, found.start() - 40) : found.end() + 25]
        for found in METRIC.finditer(SCALES.sub("", text))
        if not BOTH.match(SCALES.sub("", text), found.end())
    ]


class Reader(HTMLParser):
    """Reads what a page says; what was typed stands in fields, which keep it as it is."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.unread = 0

    def handle_starttag(self, tag: str, _attrs: list[tuple[str, str | None]]) -> None:
        self.unread += tag in ("script", "style", "textarea")

    def handle_endtag(self, tag: str) -> None:
        self.unread -= tag in ("script", "style", "textarea")

    def handle_data(self, data: str) -> None:
        if not self.unread:
            self.words.append(data)


def test_what_is_said_in_metric_alone_is_found() -> None:
    assert metric_alone("Heat it to 780 to 800 °C, then quench.") != []
    assert metric_alone("It is 0.5 mm deep.") != []
    assert metric_alone(f"Below {'{}'} C nothing happens") != []
    assert metric_alone("780 to 800 °C (1440 to 1470 °F), 3 mm (1/8 in) of clay, 10 mm or 1/2 in") == []


def test_no_page_of_a_shop_in_inches_speaks_metric_alone(tmp_path: Path) -> None:
    found = {}
    with speaking_to_demo(Settings(data_folder=tmp_path / "demo")) as client:
        with write(store_of(client), Actor("tablet"), A_SPRING_DAY) as work:
            work.change(work.get(Shop, 1), temperature_unit="F", length_unit="in")
        for look in LOOKS:
            reader = Reader()
            reader.feed(client.get(look.address).text)
            # coupon C of batch 3 is no heat
            said = re.sub(r"\b\d+ C\b", "", " ".join(" ".join(reader.words).split()))
            if alone := metric_alone(said):
                found[look.address] = alone
    assert found == {}


def _strings(tree: ast.AST) -> Iterator[str]:
    """Yield the texts of a source file, with {} for what is filled in."""
    unread = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            unread |= {id(piece) for piece in node.values}
            yield "".join(str(p.value) if isinstance(p, ast.Constant) else "{}" for p in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in unread:
            yield node.value


@pytest.mark.parametrize(
    "room", ["model", "webapp/forms", "webapp/services", "webapp/pages", "webapp/templates"]
)
def test_no_words_kept_in_the_source_are_metric_alone(room: str) -> None:
    """Refusals, cautions and advice that no walk over the demo meets."""
    found = {}
    for file in sorted((CHECKOUT / room).rglob("*")):
        name = str(file.relative_to(CHECKOUT))
        if name in METRIC_ROOMS or file.suffix not in (".py", ".html"):
            continue
        source = file.read_text(encoding="utf-8")
        texts = _strings(ast.parse(source)) if file.suffix == ".py" else [re.sub(r"\{#.*?#\}", "", source)]
        if alone := [said for text in texts for said in metric_alone(text)]:
            found[name] = alone
    assert found == {}


@pytest.mark.parametrize(
    ("steps", "code"),
    [
        ((feed(700.0),), "below_ac1"),
        ((feed(), heat(690.0), Quench("water")), "quench_below_ac1"),
        ((feed(), heat(800.0), Quench("water", celsius_to_kelvin(60.0))), "hot_bath"),
        ((feed(), heat(800.0), Quench("water"), COOL_TEMPER), "temper_not_worked_out"),
    ],
)  # fmt: skip
def test_a_warning_names_its_heats_in_the_shop_s_own_degrees(steps: tuple[Step, ...], code: str) -> None:
    warned = next(one for one in made("1018", rod(12.0), *steps).warnings if one.code == code)
    said = view_warning(Warned(warned.code, warned.words, warned.heats_K), INCHES).text
    assert re.search(r"\d C\b", warned.text)
    assert metric_alone(said) == []
    meant_F = [kelvin_to_fahrenheit(heat_K) for heat_K in warned.heats_K.values()]
    assert [float(told_F) for told_F in re.findall(r"([\d.]+) °F", said)] == pytest.approx(meant_F, abs=0.51)


def test_a_heat_only_roughly_known_is_no_odd_fahrenheit() -> None:
    heat_K = celsius_to_kelvin(825.0)
    assert INCHES.temperature(heat_K) == "1517 °F"
    assert INCHES.temperature(heat_K, 15.0) == "about 1515 °F"
    assert METRIC_SHOP.temperature(heat_K, 15.0) == "about 825 °C"


def test_a_plan_of_before_keeps_the_words_it_was_saved_with() -> None:
    assert view_warning(Warned("x", "About 925 C."), INCHES).text == "About 925 C."

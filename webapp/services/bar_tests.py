"""The quick tests of a bar that nobody knows, one question at a time, each with what can hurt at it."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.forms.ask import Choice
from webapp.forms.bars import MYSTERY_GRADE, TESTS, BarForm
from webapp.services.bars import BARS, TEST_WORDS, bar_fields, bar_values
from webapp.services.sheets import NotAccepted, get_from_sheet
from webapp.services.words import label_of
from webapp.store.tables import Bar
from webapp.store.unit_of_work import UnitOfWork

NOT_TRIED = "not tried"


@dataclass(frozen=True)
class Question:
    """One quick test: what is asked, how it is done, what it tells, and what can hurt."""

    key: str
    title: str
    how: str
    cautions: tuple[str, ...] = ()


QUESTIONS = (
    Question(
        "coating",
        "What is on its skin?",
        "Look at it in daylight, and scrape a corner. Plated and galvanized bar is bright or grey where "
        "black bar is blue-black and bare bar is brown with rust.",
        (
            "Zinc smokes white when it is hot or ground, and the fume is poisonous: if it is zinc, test no "
            "further until it is off.",
        ),
    ),
    Question(
        "magnet",
        "Does a magnet stick?",
        "Any magnet, on the cold bar. Plain steel pulls hard. Common stainless hardly pulls, and takes no "
        "case in charcoal.",
    ),
    Question(
        "file_as_bought",
        "Does a good file bite it as it came?",
        "On a clean spot, with the corner of a fine file. It bites nearly all bar as it is sold, and then "
        "tells nothing; if it skates, the bar was hardened or cased before.",
    ),
    Question(
        "sparks",
        "What sparks does it throw?",
        "In dim light, with light pressure, beside a nail (few, long, plain lines) and an old file (many "
        "bushy bursts close to the wheel). Compare; do not trust memory.",
        (
            "Face shield, nothing that burns within reach of the sparks, and a wheel that is guarded and "
            "meant for steel.",
        ),
    ),
    Question(
        "quenched_scrap",
        "What does a file do on a quenched slip?",
        "Cut a slip 2 to 3 mm (1/8 in) thick. Heat it bright red, well past where a magnet lets go, "
        "and straight into cold water, moving it. Dry it, rub the scale off one spot, and try a good file "
        "there.",
        (
            "Water throws steam and hot drops: face shield, sleeves down, tongs dry, the slip in all at "
            "once.",
            "It may be glass hard: handle it as you would glass.",
        ),
    ),
    Question(
        "broken_slip",
        "How does the quenched slip give way?",
        "Hold half of the same slip in a vice, wrapped in cloth, and bend it with a length of pipe over "
        "the end.",
        ("A glass-hard slip throws shards: wrap it, face shield on, nobody in line with it.",),
    ),
)


NUMBER_OF = {question.key: number for number, question in enumerate(QUESTIONS)}


@dataclass(frozen=True)
class TestsView:
    """Which quick tests of a bar were made, and which comes next."""

    __test__ = False

    done: tuple[tuple[str, str, str], ...]
    next_href: str
    is_begun: bool


@dataclass(frozen=True)
class QuestionView:
    """One question as its page shows it."""

    question: Question
    bar_name: str
    number: int
    of: int
    href: str
    bar_href: str
    choices: tuple[Choice, ...]
    picked: str
    version: int


def view_tests(bar: Bar) -> TestsView:
    """Return how far the quick tests of a bar have come."""
    done = tuple(
        (TEST_WORDS[key], label_of(choices, bar.screening[key]), f"/bars/{bar.id}/tests/{key}")
        for key, choices in TESTS.items()
        if bar.screening.get(key)
    )
    open_keys = [one.key for one in QUESTIONS if not bar.screening.get(one.key)]
    return TestsView(done, f"/bars/{bar.id}/tests/{open_keys[0]}" if open_keys else "", bool(done))


def view_question(bar: Bar, key: str) -> QuestionView:
    """Return one question about a bar."""
    number = NUMBER_OF[key]
    return QuestionView(
        QUESTIONS[number],
        bar.name,
        number + 1,
        len(QUESTIONS),
        f"/bars/{bar.id}/tests/{key}",
        f"/bars/{bar.id}",
        (*TESTS[key], Choice(NOT_TRIED, "Not tried")),
        str(bar.screening.get(key) or ""),
        bar.version,
    )


def answer_question(work: UnitOfWork, bar_id: int, key: str, answer: str, version: int | None) -> str:
    """Keep what a test showed, narrow what is known of the bar, and return where the next question is."""
    number = NUMBER_OF[key]
    bar = get_from_sheet(work.session, BARS, bar_id)
    if bar.grade is not None:
        raise NotAccepted({"answer": "This bar has a grade; its tests are not used. Change its grade first."})
    if answer != NOT_TRIED and answer not in {choice.value for choice in TESTS[key]}:
        raise NotAccepted({"answer": "Pick one of the answers."})
    values = bar_values(bar) | {"grade": MYSTERY_GRADE, key: None if answer == NOT_TRIED else answer}
    fields = bar_fields(BarForm(**values))
    work.change(bar, version=version, **fields)
    ends = number + 1 == len(QUESTIONS) or (key == "coating" and answer == "zinc")
    return f"/bars/{bar_id}" if ends else f"/bars/{bar_id}/tests/{QUESTIONS[number + 1].key}"

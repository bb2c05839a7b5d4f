"""One answer read: raw text of a field in, its value or a message out."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any, cast

from model.errors import NumberProblem
from webapp.forms.ask import LONGEST_LINE, LONGEST_NOTES, SURE_WORDS, Ask, Doubtful, Sure, Units
from webapp.forms.numbers import read_number, understood, with_unit
from webapp.zone import to_utc, to_wall

Raw = Mapping[str, str | list[str]]
MOST_DIGITS = 18  # of a record's number; SQLite holds no more
SURE = {value for value, _ in SURE_WORDS}


class AnswerProblem(ValueError):
    """What is wrong with an answer and what to do, fit to show beside its field."""


class Blank(AnswerProblem):
    """Nothing was answered; the field's default holds, or the field is asked for."""


@dataclass(frozen=True)
class Answer:
    """A value, the text to keep beside it, and what was understood if the text alone does not show it."""

    value: Any
    typed: str = ""
    understood: str = ""


def first(raw: Raw, name: str) -> str:
    """Return the one text of a field; the last one wins if a browser sent several."""
    found = raw.get(name, "")
    if isinstance(found, list):
        return found[-1] if found else ""
    return found


def clean(text: str, ask: Ask) -> str:
    """Return text without idle space, refusing what no one can see and what is too long."""
    notes = ask.kind == "notes"
    longest = ask.longest or (LONGEST_NOTES if notes else LONGEST_LINE)
    if len(text) > longest:
        raise AnswerProblem(
            f"This is {len(text):,} characters long; {longest:,} fit. Shorten it; nothing has been cut off."
        )
    unified = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ").strip()
    unified = unified if notes else " ".join(unified.split("\n"))
    for character in unified:
        if character != "\n" and unicodedata.category(character) in ("Cc", "Cs"):
            raise AnswerProblem(
                f"There is a hidden character in it (number {ord(character)}). Clear it and type again."
            )
    return unified


def read_answer(name: str, kind: str, raw: Raw, ask: Ask, units: Units) -> Answer:
    """Return the answer to one question; raises Blank or AnswerProblem."""
    if kind == "many":
        return _many(name, raw, ask)
    text = clean(first(raw, name), ask)
    if kind == "doubtful":
        return _doubtful(name, text, first(raw, f"{name}_sure") or "sure", ask, units)
    if not text:
        raise Blank
    if kind in ("number", "stepper"):
        return _number(name, text, ask, units)
    if kind == "datetime":
        return _moment(text, units.zone)
    if kind == "date":
        return Answer(_day(text))
    if kind == "time":
        return Answer(_time_of_day(text))
    if kind == "yesno":
        if text not in ("yes", "no"):
            raise AnswerProblem("Pick yes or no.")
        return Answer(text == "yes")
    listed = {choice.value for choice in ask.choices}
    if kind == "choice" and (text not in listed if listed else len(text) > MOST_DIGITS and text.isdecimal()):
        raise AnswerProblem("That is not in the list. Pick one of the choices shown.")
    return Answer(text)


def _number(name: str, text: str, ask: Ask, units: Units) -> Answer:
    try:
        found = read_number(name, text, ask, units)
    except NumberProblem as problem:
        raise AnswerProblem(f"{problem.what} {problem.advice}") from None
    return Answer(found.value_si, with_unit(found), understood(found, ask, units))


def _doubtful(name: str, text: str, sure: str, ask: Ask, units: Units) -> Answer:
    if sure not in SURE:
        raise AnswerProblem("Pick how sure you are: sure, about, or don't know.")
    if sure == "unknown":
        if text:
            raise AnswerProblem('There is a number and a "don\'t know". Pick "about", or clear the number.')
        return Answer(Doubtful(None, "unknown"))
    if not text:
        raise Blank
    number = _number(name, text, ask, units)
    return Answer(Doubtful(number.value, cast(Sure, sure)), number.typed, number.understood)


def _many(name: str, raw: Raw, ask: Ask) -> Answer:
    found = raw.get(name, [])
    picked = [clean(text, ask) for text in ([found] if isinstance(found, str) else found)]
    picked = [text for text in picked if text]
    known = {choice.value for choice in ask.choices}
    if known and not known.issuperset(picked):
        raise AnswerProblem("One of these is not in the list. Pick from the choices shown.")
    if not picked:
        raise Blank
    return Answer(picked)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise AnswerProblem(f"'{text[:30]}' is not a date. Type it as 2026-03-31.") from None


def _time_of_day(text: str) -> time:
    try:
        return time.fromisoformat(text).replace(second=0, microsecond=0, tzinfo=None)
    except ValueError:
        raise AnswerProblem(f"'{text[:30]}' is not a time of day. Type it as 08:00.") from None


def _moment(text: str, zone: str) -> Answer:
    """Read the shop's wall clock; a time the clocks skipped is refused, one that came twice is the first."""
    try:
        naive = datetime.fromisoformat(text)
    except ValueError:
        raise AnswerProblem(f"'{text[:30]}' is not a date and time. Type it as 2026-03-31 14:05.") from None
    if naive.tzinfo is not None or not 1900 <= naive.year <= 2200:
        raise AnswerProblem("Give the shop's own date and time, as in 2026-03-31 14:05.")
    moment = to_utc(naive, zone)
    back = to_wall(moment, zone)
    if back != naive:
        raise AnswerProblem(
            f"The clocks went forward that night: {naive:%H:%M} never came. Type {back:%H:%M} or later."
        )
    twice = to_utc(naive.replace(fold=1), zone) != moment
    note = "The clocks went back then; the first of the two is meant." if twice else ""
    return Answer(moment, understood=note)

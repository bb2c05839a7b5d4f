"""Lines that are kept hold where the belief stays, and are read off anew where it moved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.belief import ShopBelief
from model.calibration import fit
from model.earlier import Earlier
from model.emulated import EmulatedEvidence
from model.evidence import LINE_KINDS, LOCAL, InstrumentCheck
from model.kept_forecasts import KeptForecasts
from model.kept_lines import KeptLines, Line, Same
from model.linearised import at_point, over_belief, value_at
from model.look import look
from model.part import Part
from model.reading_rows import ReadingRows
from model.readings import DepthReading, HardnessReading, Observation
from tests.model.logbooks import job

F = LOCAL - 1
HARD = HardnessReading("HRC", 60.0, "rockwell:1")


def noted(fire: str) -> list[Observation]:
    process = job(fire)
    return [
        Observation(f"{fire} depth", process, DepthReading("break", 5e-4)),
        Observation(f"{fire} hard", process, HARD),
    ]


def lines_of(book: list[Observation]) -> tuple[KeptLines, ReadingRows, np.ndarray]:
    """Return no lines yet, the readings and the process of each; a depth and a hardness of each process."""
    of = np.arange(len(book)) // 2
    rows = ReadingRows([one.reading for one in book])
    return KeptLines(book, of, rows.owner, LOCAL), rows, of


def read(lines: KeptLines, rows: ReadingRows, of: np.ndarray, asked: list[bool]) -> Line:
    """Keep random lines of some processes, all read about 0 where 1 sd of every input is 1."""
    part = Part.among(np.array(asked), of, rows)
    values = np.random.default_rng(5).standard_normal((len(part.values), LOCAL + 4))
    value, doubt, slope, curvature = values[:, :4].T
    line = Line(value, doubt, slope, curvature, values[:, 4:])
    lines.put(part, np.zeros((len(of), LOCAL)), np.tile(np.eye(F), (len(part.rows), 1, 1)), 1.0, line)
    return line


@pytest.mark.property
def test_lines_of_what_was_read_alike_go_over_to_the_next_logbook() -> None:
    book = [*noted("a"), *noted("b"), *noted("c")]
    lines, rows, of = lines_of(book)
    line = read(lines, rows, of, [True, True, True])
    later, _, _ = lines_of([*noted("d"), *noted("c"), *noted("a"), *noted("b")])
    later.observations[6] = replace(later.observations[6], reading=DepthReading("break", 6e-4))  # type: ignore[index]
    later.carry_over(lines, Same.among(later, lines))
    assert later.is_read.tolist() == [False, True, True, False]
    assert np.array_equal(later.line.local[2:6], line.local[[4, 5, 0, 1]])
    later.forget([1])
    assert later.is_read.tolist() == [False, False, True, False]


def test_a_first_reading_of_a_kind_and_the_loss_of_the_last_carry_nothing_over() -> None:
    book = noted("a")
    lines, rows, of = lines_of(book)
    read(lines, rows, of, [True])
    none = KeptLines([], of[:0], rows.owner[:0], LOCAL)
    none.carry_over(lines, Same.among(none, lines))
    later, _, _ = lines_of(book)
    later.carry_over(none, Same.among(later, none))
    assert none.is_read.tolist() == []
    assert later.is_read.tolist() == [False]


@pytest.mark.property
def test_a_line_holds_until_the_belief_of_its_piece_moves() -> None:
    lines, rows, of = lines_of([*noted("a"), *noted("b"), *noted("c"), *noted("d"), *noted("e")])
    read(lines, rows, of, [True, True, True, True, False])
    middle, root, sd = np.zeros((10, LOCAL)), np.tile(np.eye(F), (5, 1, 1)), np.ones(10)
    assert lines.moved_over(middle, root, sd).tolist() == [False, False, False, False, True]
    middle[0:2, 3], root[1, 2, 2], sd[5] = 0.2, 1.2, 1.2
    middle[6:8, 3] = 0.05
    assert lines.moved_over(middle, root, sd).all()  # most of them, so all
    sd[5] = 1.0
    assert lines.moved_over(middle, root, sd).all()
    root[1] = np.eye(F)
    assert lines.moved_over(middle, root, sd).tolist() == [True, False, False, False, True]


@pytest.mark.property
def test_a_line_goes_on_straight_and_what_its_reading_says_stays() -> None:
    lines, rows, of = lines_of(noted("a"))
    line = read(lines, rows, of, [True])
    away = np.linspace(-0.1, 0.1, 2 * LOCAL).reshape(2, LOCAL)
    on = lines.at(away)
    moved = (line.local * away).sum(axis=1)
    assert on.value == pytest.approx(line.value + moved)
    assert on.slope + on.curvature * moved == pytest.approx(line.slope)


@pytest.mark.property
def test_a_part_read_off_alone_is_what_it_is_among_all() -> None:
    book = [*noted("a"), *noted("b"), *noted("c")]
    kept = KeptForecasts()
    evidence = EmulatedEvidence(book, [], look, kept)
    size = len(evidence.names)
    known, mean = Earlier.of(ShopBelief(), evidence.names), 0.1 * np.sin(np.arange(size))
    evidence.emulate(mean, known)
    whole, point = over_belief(evidence, mean, known), at_point(evidence, mean)
    values, slopes = point.value.copy(), point.touching.slopes.copy()
    for kind in LINE_KINDS:
        evidence.lines(kind).forget([1])
        evidence.lines(kind).line.local[2:4] = np.nan
    again = over_belief(evidence, mean, known, only_new=True)
    assert again.value == pytest.approx(whole.value, rel=1e-12)
    assert again.touching.slopes == pytest.approx(whole.touching.slopes, rel=1e-9, abs=1e-12)
    assert at_point(evidence, mean).touching.slopes == pytest.approx(slopes, rel=1e-9, abs=1e-15)
    assert value_at(evidence, mean) == pytest.approx(values, rel=1e-12)


@pytest.mark.property
def test_a_fit_cut_short_amid_its_reading_leaves_no_line_half_written() -> None:
    lines, rows, of = lines_of([*noted("a"), *noted("b")])
    line = read(lines, rows, of, [True, True])
    cut = replace(line, local=np.full((3, 2), np.nan))
    with pytest.raises(ValueError, match="shape"):
        lines.put(Part.among(np.array([True, False]), of, rows), lines.middle, np.eye(F), 1.0, cut)
    assert lines.is_read.tolist() == [False, True]


@pytest.mark.property
def test_what_was_read_off_a_surface_goes_before_another_is_laid(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = KeptForecasts()
    evidence = EmulatedEvidence(noted("a"), [], look, kept)
    books = Earlier.of(ShopBelief(), evidence.names)
    evidence.emulate(np.zeros(len(evidence.names)), books)
    over_belief(evidence, np.zeros(len(evidence.names)), books)
    assert kept.lines["over a belief"].is_read.all()
    monkeypatch.setattr("model.emulator.lay", lambda _: (_ for _ in ()).throw(KeyboardInterrupt))
    with pytest.raises(KeyboardInterrupt):
        evidence.emulate(np.full(len(evidence.names), 2.0), books)
    assert not kept.lines["over a belief"].is_read.any()


@pytest.mark.property
def test_readings_that_come_and_go_leave_the_fit_that_they_alone_would_give() -> None:
    kept, check = KeptForecasts(), InstrumentCheck("rockwell:1", 60.0, 61.0, 0.5)
    depth, hard = noted("a")
    before = None
    for book in ([], [depth], [depth, hard], [hard], [], [hard, depth, *noted("b")]):
        before = fit(book, [check], previous=before, kept=kept).belief
    fresh = fit(book, [check], kept=kept).belief
    assert before.names == fresh.names
    assert before.mean == pytest.approx(fresh.mean, abs=0.05)

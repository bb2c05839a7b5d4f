"""Where labels stand on a sheet of paper, in millimetres; and words broken into lines that fit one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

PAPER_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # ISO 216; ANSI Y14.1 size A
SLACK_MM = 0.5
"""How much a column may overrun its margin: sizes on a packet are rounded; own choice."""
GLYPH_SHARE = 0.56  # width of a common letter over its height, with some to spare; own choice


@dataclass(frozen=True)
class LabelSheet:
    """A sheet of labels [mm]: paper by name, one label, the gaps, the margins on either side."""

    paper: str = "A4"
    width: float = 63.5
    height: float = 38.1
    gap_across: float = 2.5
    gap_down: float = 0.0
    left: float = 7.2
    top: float = 15.1

    @property
    def columns(self) -> int:
        """Return how many labels stand side by side."""
        return _fit(PAPER_MM[self.paper][0], self.left, self.width, self.gap_across)

    @property
    def rows(self) -> int:
        """Return how many labels stand one above the other."""
        return _fit(PAPER_MM[self.paper][1], self.top, self.height, self.gap_down)

    @property
    def on_a_page(self) -> int:
        """Return how many labels one sheet has."""
        return self.columns * self.rows

    def corner(self, place: int) -> tuple[int, float, float]:
        """Return the page of a label, counted from 0, and its upper left corner, across and down."""
        page, on_page = divmod(place, self.on_a_page)
        row, column = divmod(on_page, self.columns)
        across = self.left + column * (self.width + self.gap_across)
        return page, across, self.top + row * (self.height + self.gap_down)


def _fit(paper: float, margin: float, size: float, gap: float) -> int:
    return max(int((paper - 2.0 * margin + gap + SLACK_MM) / (size + gap)), 0)


def broken(words: str, width: float, letter: float) -> list[str]:
    """Return words in lines no wider than a width, both in mm; a word too long for a line is cut."""
    most = max(int(width / (GLYPH_SHARE * letter)), 1)
    lines: list[str] = []
    for word in words.split():
        piece = word[:most]
        if lines and len(lines[-1]) + 1 + len(piece) <= most:
            lines[-1] += f" {piece}"
        else:
            lines.append(piece)
    return lines


def lines_that_fit(
    texts: Sequence[str], width: float, height: float, letter: float, pitch: float
) -> list[str]:
    """Return as many lines of some texts as a height has room for."""
    lines = [line for text in texts if text for line in broken(text, width, letter)]
    return lines[: max(int(height / pitch), 0)]

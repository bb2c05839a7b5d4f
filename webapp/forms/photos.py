"""What is asked about a photo: what it shows, and how deep the case on it is."""

from __future__ import annotations

from typing import Annotated

from model.ranges import Range
from webapp.forms.kit import Ask, Choice, Form
from webapp.forms.readings import HOW_SEEN, ReadingForm

LONGEST_TAPS = 4000
KNOWN_LENGTH = Range(
    0.5, 300.0, "mm", "Type the length between the two points you set, as in 10 mm or 1/2 in."
)
OWN, OTHER = "own", "other"
SCALES = (Choice(OWN, "The piece itself"), Choice(OTHER, "Something else", "a rule, a coin, a drill"))


class CaptionForm(Form):
    """What a photo shows."""

    caption: Annotated[str, Ask("What it shows", help="as in: broken end, after the quench", longest=200)] = (
        ""
    )


class PhotoDepthForm(ReadingForm):
    """Case depth by points set on a photo: `taps` are [x, y] in pixels, two of the scale, then pairs."""

    taps: Annotated[str, Ask("Points", kind="hidden", longest=LONGEST_TAPS)] = "[]"
    reading_version: Annotated[int | None, Ask("Reading", kind="hidden")] = None
    scale_of: Annotated[str, Ask("Its size is known of", choices=SCALES)] = OWN
    length_m: Annotated[float | None, Ask("How long that is", quantity="length", range=KNOWN_LENGTH)] = None
    how: Annotated[str, Ask("What the photo shows", choices=HOW_SEEN)] = "break"

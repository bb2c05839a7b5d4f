"""The time line of a batch: steps, noted temperatures and events, in words and in order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from webapp.forms.shop import FILLS, SEALS
from webapp.forms.steps import AGITATION, EXTRAS, FLAMES, HELD, MOTION, WAY_IN, WRAPPING
from webapp.services.bare_work import bare_words
from webapp.services.batch_rows import BatchRows, aware, row_id
from webapp.services.cautions import cautions_for
from webapp.services.events import EVENT_WORDS
from webapp.services.heat_doubts import contradictions
from webapp.services.photos import href_of, small_src
from webapp.services.showing import Showing, say_duration
from webapp.services.soak_pauses import open_pause, pauses_of
from webapp.services.step_rules import CLOCK_FROM_WORDS, IN_THE_FIRE, STEP_WORDS
from webapp.services.words import label_of, weigh
from webapp.store.tables import Batch, Event, HeatNote, Photo, Step

THEN_WORDS = {
    "slow_cool": "left to cool shut",
    "open_air": "opened, cooled in air",
    "straight_to_bath": "straight into the bath",
    "quench": "straight into the bath",
    "air": "cooled in air",
    "with_box": "stayed with the box",
}


NEVER_LIT = (
    "Nobody noted that it was lit again, so it counts as out until the box came out. If it was lit, note "
    "when: Something happened, Lit again."
)


@dataclass(frozen=True)
class LineView:
    """One line of a time line; `undo_href` is blank where nothing can be taken back."""

    what: str
    when: str
    detail: str
    note: str = ""
    look: str = "step"
    href: str = ""
    undo_href: str = ""
    version: int = 1
    cautions: tuple[str, ...] = ()
    photo_src: str = ""
    photos: tuple[tuple[str, str, str], ...] = ()
    """Of an event: where each leads, its thumbnail, and what it shows."""
    photo_action: str = ""

    @property
    def short(self) -> str:
        """Return the line without its time."""
        return f"{self.what.lower()}, {self.detail}" if self.detail else self.what.lower()


def step_line(rows: BatchRows, step: Step, showing: Showing, undoable: bool = False) -> LineView:
    """Return a step of a batch, or of one of its pieces, as a line."""
    return LineView(
        what=STEP_WORDS[step.kind],
        when=showing.moment(step.started_at, rows.batch.day) if step.started_at else "",
        detail=_say_step(rows, step, showing),
        note=step.note,
        href=f"/steps/{step.id}",
        undo_href=f"/steps/{step.id}/undo" if undoable else "",
        version=step.version,
        cautions=bare_words([step]),
    )


def _say_step(rows: BatchRows, step: Step, showing: Showing) -> str:
    settings = step.settings
    pieces = []
    if step.temperature_K is not None:
        pieces.append(showing.temperature(step.temperature_K, step.temperature_spread_K))
    if step.seconds is not None:
        after = " into the soak" if step.kind == "drawn" else ""
        pieces.append(say_duration(step.seconds, step.seconds_spread) + after)
    elif step.kind == "soak":
        pieces.append("running")
    if step.bath_id is not None:
        pieces.append(f"in {rows.bath_names.get(step.bath_id, 'the bath')}")
    if "clock_from" in settings:
        pieces.append(f"clock from: {CLOCK_FROM_WORDS[settings['clock_from']]}")
    if settings.get("then"):
        pieces.append(THEN_WORDS[settings["then"]])
    for name, choices in (("wrapping", WRAPPING), ("fill", FILLS), ("seal", SEALS), ("extra", EXTRAS)):
        if settings.get(name):
            pieces.append(label_of(choices, settings[name]).lower())
    if settings.get("flame"):
        pieces.append(f"{label_of(FLAMES, settings['flame']).lower()} flame")
    if step.kind == "reheat" and step.instrument_id in rows.heat_names:
        pieces.append(f"judged by: {rows.heat_names[step.instrument_id]}")
    return ", ".join([*pieces, *_say_quench(step, showing)])


def _say_quench(step: Step, showing: Showing) -> Iterator[str]:
    """Yield how the work went into its bath, and what the bath did."""
    settings = step.settings
    if settings.get("seconds_to_bath") is not None:
        yield f"{say_duration(settings['seconds_to_bath'])} to the bath"
    if step.kind != "quench":
        return
    for name, choices in (("way_in", WAY_IN), ("held", HELD), ("agitation", AGITATION), ("motion", MOTION)):
        if settings.get(name):
            yield label_of(choices, settings[name]).lower()
    if settings.get("work_kg"):
        yield f"{weigh(settings['work_kg'], showing)} in all"
    before, after = settings.get("bath_before_K"), settings.get("bath_after_K")
    if before or after:
        known = {"before": before, "after": after}
        yield "bath " + ", ".join(f"{showing.temperature(at)} {when}" for when, at in known.items() if at)


def heat_line(note: HeatNote, showing: Showing, batch: Batch, doubt: str = "") -> LineView:
    """Return a noted temperature as a line, with what is doubtful about it."""
    return LineView(
        what=showing.temperature(note.temperature_K),
        when=showing.moment(note.noted_at, batch.day),
        detail="noted",
        note=doubt,
        look="heat",
        undo_href=f"/batches/{batch.id}/heat-notes/{note.id}/remove",
    )


def event_line(
    event: Event, showing: Showing, on: date, doubt: str = "", photos: Sequence[Photo] = ()
) -> LineView:
    """Return an event as a line, with what to mind, what is doubtful about it, and its photos."""
    what = EVENT_WORDS.get(event.kind, event.kind)
    return LineView(
        what=what,
        when=showing.moment(event.happened_at, on),
        detail="",
        note=" ".join(words for words in (event.note, doubt) if words),
        look="event",
        undo_href=f"/batches/{event.batch_id}/events/{event.id}/remove",
        cautions=cautions_for(event.kind),
        photos=tuple((href_of(one), small_src(one), one.caption or f"photo of: {what}") for one in photos),
        photo_action=f"/batches/{event.batch_id}/events/{event.id}/photos",
    )


def photo_line(photo: Photo, showing: Showing, on: date) -> LineView:
    """Return a photo of the batch as a line, at the moment it was added."""
    return LineView(
        what="Photo",
        when=showing.moment(photo.created_at, on),
        detail="",
        note=photo.caption,
        look="photo",
        href=href_of(photo),
        photo_src=small_src(photo),
    )


def view_timeline(rows: BatchRows, showing: Showing, photos: Iterable[Photo] = ()) -> tuple[LineView, ...]:
    """Return everything that happened to a batch, in order; a step without a time keeps its place."""
    batch = rows.batch
    last_id = rows.steps[-1].id if rows.steps else None
    lines: list[tuple[datetime, LineView]] = []
    moment = datetime.min.replace(tzinfo=UTC)
    for step in rows.steps:
        moment = aware(step.started_at) if step.started_at else moment
        lines.append((moment, step_line(rows, step, showing, undoable=step.id == last_id)))
    doubts = contradictions(rows.heat_notes, showing)
    lines += [
        (aware(note.noted_at), heat_line(note, showing, batch, doubts.get(row_id(note), "")))
        for note in rows.heat_notes
    ]
    of_events: dict[int, list[Photo]] = {row_id(event): [] for event in rows.events}
    for photo in photos:
        if photo.event_id in of_events:
            of_events[photo.event_id].append(photo)
        else:
            lines.append((aware(photo.created_at), photo_line(photo, showing, batch.day)))
    out = open_pause(pauses_of(rows.fire_events)) if batch.state != IN_THE_FIRE else None
    for event in rows.events:
        is_last_out = out is not None and (event.kind, aware(event.happened_at)) == (out.kind, out.began)
        doubt = NEVER_LIT if is_last_out else ""
        line = event_line(event, showing, batch.day, doubt, of_events[row_id(event)])
        lines.append((aware(event.happened_at), line))
    return tuple(line for _, line in sorted(lines, key=lambda pair: pair[0]))

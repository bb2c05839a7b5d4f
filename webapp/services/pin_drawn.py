"""The pin at the fire: drawn with one tap, and how deep its case looks on the break with another."""

from __future__ import annotations

from dataclasses import dataclass

from model.units import MM_m
from webapp.forms.numbers import amount
from webapp.services.batch_rows import BatchRows, own_steps, row_id
from webapp.services.cautions import cautions_for
from webapp.services.items import PIN_NAME, record_item_step
from webapp.services.readings import ReadingEntry, add_readings
from webapp.services.showing import Showing
from webapp.services.step_defaults import item_step_defaults
from webapp.services.step_rules import IN_THE_FIRE, StepRefused
from webapp.services.steps import StepEntry
from webapp.store.tables import Item
from webapp.store.unit_of_work import UnitOfWork

INCH_m = 0.0254
TENTHS_m = tuple(tenth * 0.1 * MM_m for tenth in range(1, 13))
THOUSANDTHS_m = tuple(place * 0.004 * INCH_m for place in range(1, 13))


@dataclass(frozen=True)
class PinView:
    """The pin as the run screen shows it: to be drawn, or with depths to tap, (words, what is sent)."""

    words: str
    href: str
    is_drawn: bool
    cautions: tuple[str, ...]
    depths: tuple[tuple[str, str], ...] = ()


def view_pin(rows: BatchRows, showing: Showing) -> PinView | None:
    """Return what can be done with a pin while the box soaks; None where there is none, or all is done."""
    if rows.batch.state != IN_THE_FIRE or not any(step.kind == "soak" for step in rows.steps):
        return None
    pins = [item for item in rows.items if item.is_pin and not item.scrapped_why]
    drawn = [pin for pin in pins if _waits_for_depth(rows, pin)]
    if drawn:
        pin = drawn[-1]
        return PinView(_words(pin), f"/items/{pin.id}", True, cautions_for("break"), _depths(showing))
    # one that was packed to be pulled comes before the pin that lies in every box
    inside = sorted((pin for pin in pins if not own_steps(rows, pin)), key=lambda pin: pin.name == PIN_NAME)
    return (
        PinView(_words(inside[0]), f"/items/{inside[0].id}", False, cautions_for("drawn")) if inside else None
    )


def _words(pin: Item) -> str:
    return f"{pin.mark} {pin.name}".strip()


def _waits_for_depth(rows: BatchRows, pin: Item) -> bool:
    """Return whether a pin was drawn and quenched, and nobody said yet how deep its case looks."""
    kinds = [step.kind for step in own_steps(rows, pin)]
    read = rows.readings.get(row_id(pin), [])
    return "quench" in kinds and not any(reading.kind == "depth" for reading in read)


def _depths(showing: Showing) -> tuple[tuple[str, str], ...]:
    """Return the depths to tap, the first of them none at all."""
    unit = showing.length_unit
    steps = TENTHS_m if unit == "mm" else THOUSANDTHS_m
    numbers = [amount(depth_m, unit, "length") for depth_m in steps]
    return (("no rim", f"0 {unit}"), *((f"{number}", f"{number} {unit}") for number in numbers))


def draw_pin(work: UnitOfWork, item_id: int) -> Item:
    """Note that a pin was drawn now and went straight into the bath."""
    bath_id = item_step_defaults(work.session, item_id, "drawn").get("bath_id")
    return record_item_step(work, item_id, "drawn", StepEntry(bath_id=bath_id, settings={"then": "quench"}))


def note_pin_depth(work: UnitOfWork, item_id: int, depth_m: float, typed: str) -> Item:
    """Note how deep the case of a pin looks on its break, once."""
    item = work.get(Item, item_id)
    if not item.is_pin:
        raise StepRefused("", "This piece is not a pin. Note its depth on its own page.")
    entry = ReadingEntry(
        "depth", "quench", value=depth_m, unit="m", details={"how": "break"}, typed={"value": typed}
    )
    add_readings(work, item_id, [entry])
    return item

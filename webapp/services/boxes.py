"""Boxes: what is kept of one, and whether it fits the forge with room for the flame."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import permutations
from typing import Any

from sqlmodel import col, select

from model.box_course import USUAL_SOAK_K, warm_up
from model.priors import nominal_lag_s
from webapp.forms.shop import FILLS, SEALS, BoxForm
from webapp.services.box_rows import packed
from webapp.services.sheets import Line, SheetKind, showing_of
from webapp.services.shop_cautions import cautions_named
from webapp.services.shop_view import ShopView
from webapp.services.showing import Showing, say_duration
from webapp.services.words import label_of, length_text, sizes_text
from webapp.store.tables import Batch, Box, Forge, Step
from webapp.store.unit_of_work import UnitOfWork

# The flame must get round a box, or one side stays cold. Common practice, no source.
ROOM_FOR_FLAME_m = 0.025
EVENLY_m = 1e-9


def box_fields(form: BoxForm) -> dict[str, Any]:
    """Return the row's fields of a box form; a blank height is the width."""
    return {
        "name": form.name,
        "shape": form.shape,
        "inner_length_m": form.inner_length_m,
        "inner_width_m": form.inner_width_m,
        "inner_height_m": form.inner_height_m or form.inner_width_m,
        "wall_m": form.wall_m,
        "seal": form.seal,
        "fill": form.fill,
        "note": form.note,
    }


def keep_past_packing(work: UnitOfWork, box: Box, fields: Mapping[str, Any]) -> None:
    """Note with the batches so far how the box was filled and closed, before that becomes another way."""
    changed = {name: getattr(box, name) for name in ("fill", "seal") if fields[name] != getattr(box, name)}
    if not changed:
        return
    went_in = work.session.exec(
        select(Step)
        .join(Batch, col(Batch.id) == Step.batch_id)
        .where(Batch.box_id == box.id, Step.kind == "box_in", col(Step.deleted_at).is_(None))
    )
    for step in went_in.all():
        if changed.keys() - step.settings.keys():
            work.change(step, settings=changed | step.settings)


def box_lines(box: Box, showing: Showing) -> tuple[Line, ...]:
    """Return what a box's card says."""
    return (
        Line("Inside", _inside(box, showing)),
        Line("Closed with", label_of(SEALS, box.seal)),
        Line("Pack", label_of(FILLS, box.fill)),
        Line("Warms through in about", say_duration(_warm_up_s(box))),
    )


def box_fits(forge: Forge, boxes: Sequence[Box], showing: Showing | None = None) -> str | None:
    """Return why these boxes do not stand in the forge with room for the flame, None if they do.

    Each box may lie any way round; several stand side by side, one room for the flame between them.
    """
    shown = showing or showing_of(ShopView())
    if not boxes or _stand_side_by_side(forge, boxes):
        return None
    room = length_text(shown, ROOM_FOR_FLAME_m)
    inside = sizes_text(shown, (forge.inside_length_m, forge.inside_width_m, forge.inside_height_m))
    if len(boxes) > 1 and all(_stand_side_by_side(forge, [box]) for box in boxes):
        return (
            f"Each of these boxes fits “{forge.name}” alone, but not side by side: inside it is {inside}, "
            f"and the flame needs {room} round each. Fire them one after the other."
        )
    wrong = next(box for box in boxes if not _stand_side_by_side(forge, [box]))
    return (
        f"“{wrong.name}” is {sizes_text(shown, _outside(wrong))} outside and “{forge.name}” {inside} inside. "
        f"The flame needs {room} all round. Use a smaller box, or correct the sizes in the shop."
    )


def _stand_side_by_side(forge: Forge, boxes: Sequence[Box]) -> bool:
    """Tell whether some way of laying the boxes leaves room for the flame, in a row along or across."""
    across = (
        (forge.inside_length_m, forge.inside_width_m),
        (forge.inside_width_m, forge.inside_length_m),
    )
    return any(
        _row_length(boxes, depth, forge.inside_height_m) <= along + EVENLY_m for along, depth in across
    )


def _row_length(boxes: Sequence[Box], depth_m: float, height_m: float) -> float:
    """Return the shortest row [m] that the boxes make, with the room between and at both ends."""
    free_depth, free_height = depth_m - 2 * ROOM_FOR_FLAME_m, height_m - 2 * ROOM_FOR_FLAME_m
    total = ROOM_FOR_FLAME_m
    for box in boxes:
        lying = [
            along
            for along, deep, high in permutations(_outside(box))
            if deep <= free_depth + EVENLY_m and high <= free_height + EVENLY_m
        ]
        if not lying:
            return float("inf")
        total += min(lying) + ROOM_FOR_FLAME_m
    return total


def _outside(box: Box) -> tuple[float, float, float]:
    both_walls = 2 * box.wall_m
    return (
        box.inner_length_m + both_walls,
        box.inner_width_m + both_walls,
        box.inner_height_m + both_walls,
    )


def _warm_up_s(box: Box) -> float:
    """Return how long a box takes with a usual pack and next to nothing in it [s]."""
    found = packed(box)
    if found is None:
        return nominal_lag_s(min(box.inner_length_m, box.inner_width_m, box.inner_height_m))
    return warm_up(found, USUAL_SOAK_K).at_heat_s


def _inside(box: Box, showing: Showing) -> str:
    if box.shape == "round":
        bore, length = (length_text(showing, size) for size in (box.inner_width_m, box.inner_length_m))
        return f"round, {bore} bore, {length} long"
    return sizes_text(showing, (box.inner_length_m, box.inner_width_m, box.inner_height_m))


def box_values(box: Box) -> dict[str, Any]:
    """Return a box's fields as its form takes them."""
    return {name: getattr(box, name) for name in BoxForm.model_fields}


BOXES = SheetKind(
    key="boxes",
    title="Boxes",
    one="box",
    teach="Its inside size sets how long the work takes to get hot; its lid, how much of the gas stays in.",
    row=Box,
    form=BoxForm,
    fields_of=box_fields,
    values_of=box_values,
    lines_of=box_lines,
    before_change=keep_past_packing,
    defaults={"shape": "rectangular", "seal": "fireclay"},
    cautions=cautions_named("zinc_fume", "never_sealed_tight", "damp_pack"),
)

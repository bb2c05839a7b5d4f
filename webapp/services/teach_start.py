"""A coupon that would teach, put where it will be packed: in a batch that waits, or in one started for it."""

from __future__ import annotations

from dataclasses import replace

from webapp.services.batch_rows import kept, row_id
from webapp.services.batches import BatchEntry, start_batch, usual_entry
from webapp.services.coupon_asked import CouponAsked
from webapp.services.items import PIN_DIAMETER_M, add_pin, next_mark
from webapp.services.marking import give_mark
from webapp.services.plan_rows import poison_in
from webapp.services.showing import Showing, say_duration
from webapp.services.step_rules import PLANNED, StepRefused
from webapp.store.errors import NotFound
from webapp.store.tables import Bar, Batch, Bath, Box, Fire, Instrument, Item, Mix, Plan
from webapp.store.unit_of_work import UnitOfWork

GONE = "Something of this coupon is no longer in the shop. Look at the page again and pick another."


def pack_coupons(
    work: UnitOfWork, pieces: tuple[CouponAsked, ...], plan_id: int | None, showing: Showing
) -> Batch:
    """Put coupons on the packing list of a batch that waits for such a box, or start one; return it.

    pieces : all of one box and one fire; plan_id : the plan they lie beside, None for a batch of their own
    """
    first = pieces[0]
    _refuse_gone(work, pieces)
    batch = _waiting(work, first, plan_id)
    is_new = batch is None
    if batch is None:
        batch = start_batch(work, _entry(work, first, plan_id, showing))
    for piece in pieces:
        work.add(_item(work, row_id(batch), piece))
    if is_new and not any(_is_standard(work, piece) for piece in pieces):
        add_pin(work, row_id(batch))
    return batch


def _refuse_gone(work: UnitOfWork, pieces: tuple[CouponAsked, ...]) -> None:
    for piece in pieces:
        try:
            for kind, record_id in (
                (Bar, piece.bar_id), (Mix, piece.mix_id), (Box, piece.box_id),
                (Bath, piece.bath_id), (Instrument, piece.heat_id),
            ):  # fmt: skip
                work.get(kind, record_id)
            stop = poison_in(work.get(Mix, piece.mix_id))
        except NotFound:
            raise StepRefused("", GONE) from None
        if stop:
            raise StepRefused("", stop)


def _waiting(work: UnitOfWork, piece: CouponAsked, plan_id: int | None) -> Batch | None:
    """Return the newest batch that is planned with this box, mix and heat (and for this plan)."""
    for batch in reversed(kept(work.session, Batch, Batch.state == PLANNED)):
        fire = work.session.get(Fire, batch.fire_id)
        same = (batch.box_id, batch.mix_id) == (piece.box_id, piece.mix_id)
        same_heat = fire is not None and fire.heat_instrument_id == piece.heat_id
        if same and same_heat and plan_id in (None, batch.plan_id):
            return batch
    return None


def _entry(work: UnitOfWork, piece: CouponAsked, plan_id: int | None, showing: Showing) -> BatchEntry:
    if plan_id is not None:
        work.get(Plan, plan_id)
        return replace(usual_entry(work.session, plan_id), with_pin=False)
    usual = usual_entry(work.session)
    note = f"Soak {say_duration(piece.soak_s)} at {showing.temperature(piece.temperature_K)}, to learn from."
    return replace(
        usual,
        box_id=piece.box_id,
        mix_id=piece.mix_id,
        heat_instrument_id=piece.heat_id,
        with_pin=False,
        note=note,
    )


def _item(work: UnitOfWork, batch_id: int, piece: CouponAsked) -> Item:
    bath, hours = work.get(Bath, piece.bath_id).name, say_duration(piece.hours_s)
    if piece.pull_s:
        name, way = f"coupon, pull at {hours}", f"Pull it at {hours} of the soak, straight into {bath}"
    else:
        name, way = "coupon to learn from", f"Leave it in to the end of {hours}, then quench it in {bath}"
    coupon = Item(
        batch_id=batch_id,
        kind="coupon",
        name=name,
        mark=next_mark(work.session, batch_id),
        bar_id=piece.bar_id,
        shape=piece.shape,
        size_m=piece.size_m,
        is_pin=piece.pull_s > 0.0,
        note=f"{way}. Break it and measure the rim.",
    )
    return give_mark(work.session, coupon)


def _is_standard(work: UnitOfWork, piece: CouponAsked) -> bool:
    """Return whether a coupon is what the standard pin would be: the first bar's rod, left in."""
    bars = kept(work.session, Bar)
    is_first = bool(bars) and row_id(bars[0]) == piece.bar_id
    return is_first and piece.shape == "rod" and piece.size_m == PIN_DIAMETER_M and not piece.pull_s

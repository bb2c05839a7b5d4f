"""What a shop can make a coupon of and read it with: its bars, boxes, mixes, baths, heats and testers."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session, col, select

from model.dated_changes import Loosened
from webapp.services.batch_rows import kept, last_of, row_id, steps_of
from webapp.services.boxes import box_fits
from webapp.services.dated_changes import changes_up_to_now
from webapp.services.items import PIN_DIAMETER_M
from webapp.services.plan_rows import USUAL_HEAT_K, poison_in
from webapp.store.tables import Bar, Batch, Bath, Box, Fire, Forge, Instrument, Item, Mix, Part
from webapp.store.unit_of_work import AnyRecord

USUAL_SOAK_S = 4 * 3600.0
SOLID = ("rod", "plate")
MOST_SECTIONS = 3
LATEST_COUPONS = 300  # the newest coupons, of which the sections are taken


@dataclass(frozen=True)
class Piece:
    """A section that the shop has of one of its bars."""

    bar_id: int
    shape: str
    size_m: float


@dataclass(frozen=True)
class ShopThings:
    """The shop's own things, what it used last in front; `loosened` by its dated changes up to now."""

    bars: dict[int, Bar]
    mixes: dict[int, Mix]
    boxes: dict[int, Box]
    baths: dict[int, Bath]
    heats: dict[int, Instrument]
    testers: dict[int, Instrument]
    ovens: dict[int, Instrument]
    sections: tuple[Piece, ...]
    temperature_K: float
    soak_s: float
    loosened: tuple[Loosened, ...] = ()

    @property
    def lacking(self) -> tuple[str, ...]:
        """What a coupon needs and the shop has not."""
        needed = {
            "a bar of known steel": self.bars,
            "a pack mix that may be used": self.mixes,
            "a box that fits its forge": self.boxes,
            "a bath": self.baths,
            "a way to tell heat": self.heats,
        }
        return tuple(words for words, rows in needed.items() if not rows)

    def hold(self, mix_id: int, box_id: int) -> bool:
        """Tell whether a mix may be used and a box fits."""
        return mix_id in self.mixes and box_id in self.boxes


def things_of(session: Session) -> ShopThings:
    """Return what the shop has, as its last batch used it first."""
    batch = last_of(session, Batch)
    fire = session.get(Fire, batch.fire_id) if batch else None
    forge = _forge(session, fire)
    steps = {step.kind: step for step in steps_of(session, batch_id=row_id(batch))} if batch else {}
    soak, quench = steps.get("soak"), steps.get("quench")
    bars = _rows(session, Bar)
    mixes = _rows(session, Mix, batch.mix_id if batch else None)
    boxes = _rows(session, Box, batch.box_id if batch else None)
    return ShopThings(
        bars=bars,
        mixes={key: mix for key, mix in mixes.items() if not poison_in(mix)},
        boxes={key: box for key, box in boxes.items() if _fits(forge, box)},
        baths=_rows(session, Bath, quench.bath_id if quench else None),
        heats=_instruments(session, "heat", fire.heat_instrument_id if fire else None),
        testers=_instruments(session, "hardness"),
        ovens=_instruments(session, "oven"),
        sections=_sections(session, bars),
        temperature_K=(soak.temperature_K if soak else None) or USUAL_HEAT_K,
        soak_s=USUAL_SOAK_S,
        loosened=changes_up_to_now(session),
    )


def _forge(session: Session, fire: Fire | None) -> Forge | None:
    """Return the forge that was lit last, or the first; None where there is none."""
    forges = _rows(session, Forge, fire.forge_id if fire else None)
    return next(iter(forges.values()), None)


def _fits(forge: Forge | None, box: Box) -> bool:
    return forge is None or box_fits(forge, [box]) is None


def _rows(
    session: Session, kind: type[AnyRecord], first: int | None = None, *conditions: object
) -> dict[int, AnyRecord]:
    """Return rows by id, one of them moved to the front."""
    rows = sorted(kept(session, kind, *conditions), key=lambda row: row.id != first)
    return {row_id(row): row for row in rows}


def _instruments(session: Session, role: str, first: int | None = None) -> dict[int, Instrument]:
    return _rows(session, Instrument, first, Instrument.role == role)


def _sections(session: Session, bars: dict[int, Bar]) -> tuple[Piece, ...]:
    """Return the solid sections that coupons were cut from, the standard pin first; parts' own where few."""
    if not bars:
        return ()
    coupons = (
        select(Item.bar_id, Item.shape, Item.size_m)
        .where(Item.kind == "coupon", Item.left_out_why == "", col(Item.deleted_at).is_(None))
        .order_by(col(Item.id).desc())
    )
    cut = [Piece(*one) for one in session.exec(coupons.limit(LATEST_COUPONS))]
    cut += [Piece(part.bar_id, part.shape, part.size_m) for part in kept(session, Part)]
    pin = Piece(next(iter(bars)), "rod", PIN_DIAMETER_M)
    found = dict.fromkeys((pin, *(one for one in cut if one.shape in SOLID and one.bar_id in bars)))
    return tuple(found)[:MOST_SECTIONS]

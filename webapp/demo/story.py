"""The demo's invented eight months: which boxes burned when, with what in them, and what was read."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Piece:
    """A coupon or some parts in a box; `drawn_h` is for one taken out hot in mid-soak and quenched."""

    name: str
    reads: tuple[str, ...] = ()
    bar: str = "rod"
    shape: str = "rod"
    size_mm: float = 10.0
    bore_mm: float | None = None
    place: str = "middle"
    drawn_h: float | None = None
    part: str = ""
    count: int = 1
    is_pin: bool = False
    left_out_why: str = ""
    bows_mm: tuple[float, ...] = ()


@dataclass(frozen=True)
class Load:
    """One box in one fire, as many days before now; `with_last` shares the fire of the load before."""

    days_ago: int
    box: str
    mix: str
    heat: str
    celsius: float
    hours: float
    pieces: tuple[Piece, ...]
    bath: str = "water"
    clock_from: str = "evenly_red"
    seal_failed: bool = False
    with_last: bool = False
    temper_C: float | None = None
    events: tuple[tuple[str, float], ...] = ()
    hours_doubt: float = 0.0
    note: str = ""
    state: str = "measured"


def pin(*reads: str, **changes: object) -> Piece:
    """Return the shop's standard pin."""
    return Piece("Standard pin", reads or ("HRC", "break"), is_pin=True, **changes)  # type: ignore[arg-type]


def drawn(hours: float, *reads: str) -> Piece:
    """Return a pin on a wire, drawn hot in mid-soak."""
    return Piece(f"Pin drawn at {hours:g} h", reads or ("break",), drawn_h=hours, place="end")


def slip(*reads: str, place: str = "middle") -> Piece:
    """Return a slip of the flat bar."""
    return Piece("Flat slip", reads or ("HRC", "break"), bar="flat", shape="plate", size_mm=6.0, place=place)


def ring(*reads: str) -> Piece:
    """Return a ring cut from a bush."""
    return Piece("Bush ring", reads or ("break",), shape="tube", size_mm=22.0, bore_mm=12.0, place="end")


def parts(name: str, count: int, *reads: str, bows_mm: tuple[float, ...] = ()) -> Piece:
    """Return some parts, by the name of their drawing; `bows_mm` of those laid on the flat."""
    return Piece(name, reads, part=name, count=count, bows_mm=bows_mm)


AFTER_TEMPER = " after temper"
TEMPERED = f"HRC{AFTER_TEMPER}"
NOT_HARD = "the bar does not harden at all: most likely not a plain steel"


def mystery(size_mm: float) -> Piece:
    """Return a coupon of the bar that turned out not to harden."""
    return Piece(
        "Rail coupon", ("soft",), bar="mystery", size_mm=size_mm, place="edge", left_out_why=NOT_HARD
    )


STORY: tuple[Load, ...] = (
    Load(
        241, "tube", "plain", "colour", 900, 3.0, (pin("files", "break"), slip("break")),
        clock_from="box_in", hours_doubt=0.5, note="Written up from the old notebook.",
    ),
    Load(
        229, "tube", "plain", "colour", 900, 4.0, (pin("files", "break"), parts("Pivot pin", 4)),
        clock_from="box_in", hours_doubt=0.5, note="Written up from the old notebook.",
    ),
    Load(212, "tube", "plain", "thermocouple", 915, 4.0, (pin(), drawn(2.0), slip())),
    Load(198, "tube", "soda", "thermocouple", 920, 3.0, (pin(), drawn(1.5), parts("Detent pawl", 6, "HRC"))),
    Load(
        183, "plate", "soda", "thermocouple", 920, 4.0,
        (pin("HRC", "break", TEMPERED), slip("HRC", "break", TEMPERED, place="end"), parts("Wear plate", 2)),
        temper_C=180.0,
    ),
    Load(
        165, "plate", "chalk", "thermocouple", 915, 4.0, (pin(), slip()),
        seal_failed=True, events=(("seal cracked", 1.2),), note="Clay dropped out of one corner.",
    ),
    Load(150, "plate", "chalk", "thermocouple", 915, 4.0, (pin(), slip(), ring())),
    Load(129, "tube", "soda", "thermocouple", 925, 5.0, (pin("HRC", "break"), drawn(3.0), mystery(10.0))),
    Load(113, "tube", "soda", "thermocouple", 925, 2.0, (pin(), mystery(12.0)), bath="brine"),
    Load(
        96, "tube", "plain", "thermocouple", 925, 6.0,
        (pin("HRC", "break", TEMPERED), drawn(3.0), parts("Pivot pin", 6, TEMPERED, bows_mm=(0.05, 0.08))),
        temper_C=180.0,
    ),
    Load(
        78, "plate", "soda", "thermocouple", 920, 5.0,
        (pin("HRC", "break", TEMPERED), ring(), parts("Bush", 4)),
        temper_C=170.0,
    ),
    Load(78, "tube", "chalk", "thermocouple", 920, 5.0, (pin(), slip()), with_last=True),
    Load(
        57, "tube", "soda", "thermocouple", 905, 3.0, (pin(), slip(), parts("Detent pawl", 6)),
        bath="brine",
    ),
    Load(
        35, "plate", "soda", "thermocouple", 920, 4.5,
        (
            pin("HRC", "traverse"), slip("HRC", "break", TEMPERED),
            parts("Wear plate", 3, "HRC", bows_mm=(0.18, 0.3)),
        ),
        temper_C=180.0, events=(("box turned", 2.0),),
    ),
    Load(
        14, "tube", "soda", "thermocouple", 920, 3.5,
        (pin(), drawn(2.0), slip(), parts("Pivot pin", 8, bows_mm=(0.06, 0.12))),
    ),
    Load(
        2, "plate", "chalk", "thermocouple", 920, 4.0, (pin(), slip(), parts("Bush", 4)), state="hardened",
        events=(("burner out", 1.4), ("lit again", 1.7)),
    ),
)  # fmt: skip

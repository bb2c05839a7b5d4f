"""How a shop knows its heat and its hardness: the ways, how far off each usually is, and heat by colour."""

from __future__ import annotations

from dataclasses import dataclass

NOTHING_PUBLISHED = "our judgement, no published source"
STUDY = "simulation study made for this model; judgement"


@dataclass(frozen=True)
class Method:
    """One way of telling heat or hardness: its name, its usual give or take (K or HRC), and why."""

    key: str
    label: str
    spread: float
    hint: str
    source: str


# The spreads are those behind model/data/priors.csv, less the 8 K kept there for the doubt in diffusion.
HEAT_METHODS = (
    Method(
        "colour",
        "By colour, in dim light",
        20.0,
        "Look at the box in shade: in sunlight everything seems colder than it is.",
        STUDY,
    ),
    Method(
        "thermocouple",
        "Thermocouple",
        7.0,
        "The tip sits in the box, or beside it. Check it in ice, in boiling water, or at a known melt.",
        STUDY,
    ),
    Method(
        "pyrometer",
        "Infrared or optical pyrometer",
        15.0,
        "Flame and smoke in the line of sight read wrong. Aim at the box, with the burner off for a moment.",
        NOTHING_PUBLISHED,
    ),
    Method(
        "cone",
        "Potter's cones",
        10.0,
        "A cone bends by time as well as by heat: note its number and how long it was in.",
        NOTHING_PUBLISHED,
    ),
    Method(
        "crayon",
        "Temperature crayons",
        9.0,
        "The heat lies between the crayon that melted and the next one that did not.",
        "makers state about 1 % of the marked temperature; value from memory",
    ),
    Method(
        "magnet",
        "Magnet, then by eye",
        30.0,
        "Iron lets go of a magnet at 770 °C (1418 °F). How far above that you are is a guess.",
        NOTHING_PUBLISHED,
    ),
)
HARDNESS_METHODS = (
    Method("rockwell", "Rockwell tester", 1.0, "Check it on a test block each time.", NOTHING_PUBLISHED),
    Method(
        "file_set",
        "Set of hardness files",
        1.5,
        "Files of stated hardness: the work lies between the last that skates and the first that bites.",
        "graded files are true to 2 HRC at best; handbook value from memory",
    ),
    Method(
        "one_file",
        "One old file",
        2.5,
        "A good file is near 65 HRC. It skates, just marks, or cuts: rough, and far better than nothing.",
        NOTHING_PUBLISHED,
    ),
    Method(
        "vickers", "Vickers tester", 0.8, "Small dents, so it can walk in through a case.", NOTHING_PUBLISHED
    ),
    Method(
        "lab",
        "Sent to a lab",
        0.5,
        "Ask for a traverse with its load, and for the certificate.",
        NOTHING_PUBLISHED,
    ),
)
OVEN_METHODS = (
    Method(
        "oven",
        "Tempering oven",
        12.0,
        "Kitchen ovens swing by 10 to 20 °C (20 to 35 °F). Check yours with an oven thermometer "
        "where the work lies.",
        NOTHING_PUBLISHED,
    ),
)
METHODS_BY_ROLE = {"heat": HEAT_METHODS, "hardness": HARDNESS_METHODS, "oven": OVEN_METHODS}
METHODS = {method.key: method for methods in METHODS_BY_ROLE.values() for method in methods}


@dataclass(frozen=True)
class Colour:
    """One heat colour as two old printed lists give it, in Celsius."""

    name: str
    earlier_list_C: int
    later_list_C: int | None


# White and Taylor, Trans. ASME 21 (1899-1900), values from memory; Stirling, A Book of Steam for
# Engineers (1905) p. 50, seen quoted. The same word differs by 150 to 200 C between them, and that
# is the lesson of the table: an eye is only as good as what it was checked against.
HEAT_COLOURS = (
    Colour("red just seen", 532, 525),
    Colour("dark cherry", 635, 800),
    Colour("full cherry", 746, 900),
    Colour("bright cherry", 843, 1000),
    Colour("salmon, orange", 899, 1100),
    Colour("light orange", 941, None),
    Colour("yellow", 996, None),
    Colour("light yellow", 1079, None),
)
COLOURS_SOURCE = (
    "White and Taylor, Trans. ASME 21 (1899–1900), values from memory; "
    "A Book of Steam for Engineers (1905), p. 50, seen quoted"
)

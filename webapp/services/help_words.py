"""The words of the trade: each in one sentence of our own, with its long page and where it comes from.

`forms` are patterns of the word as it stands on a page; the first there is marked (`webapp/marks.py`).
`key` is also the word's anchor on the long page `topic`.
"""

from __future__ import annotations

from dataclasses import dataclass

PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Word:
    """One word: how it is spoken of, how it stands on a page, what it means, where it is told at length."""

    key: str
    shown: str
    forms: tuple[str, ...]
    sentence: str
    topic: str
    source: str = PRACTICE

    @property
    def href(self) -> str:
        """Return the place of the long page where this word is told."""
        return f"/help/{self.topic}#{self.key}"


WORDS: tuple[Word, ...] = (
    Word(
        "soak",
        "soak",
        ("soak", "soaks", "soaking", "soaked"),
        "The hours that the steel spends red-hot in the packed box, while carbon goes in; they count "
        "from when the work itself is at heat.",
        "carbon",
    ),
    Word(
        "pack",
        "pack",
        ("pack", "packs"),
        "The charcoal round the work in the box, with whatever is mixed in: it makes the gas that "
        "brings the carbon to the steel.",
        "carbon",
        "Gaskell, Introduction to the Thermodynamics of Materials",
    ),
    Word(
        "rich",
        "how rich the pack is",
        ("how rich the pack is", "how rich", "richer", "richness"),
        "How much carbon the gas of the pack is willing to give, against pure graphite as the most "
        "there is; it caps the carbon of the skin.",
        "carbon",
        "Gustafson, Scand. J. Metall. 14 (1985) 259",
    ),
    Word(
        "gives",
        "how fast it gives",
        ("how fast it gives", "how fast the pack gives", "how fast your pack gives"),
        "How quickly carbon crosses from the gas into the skin; a slow pack leaves the skin short of "
        "carbon however long it is hot.",
        "carbon",
        "gas practice after Collin, Gunnarson and Thulin, JISI 210 (1972) 785",
    ),
    Word(
        "energizer",
        "energizer",
        ("energi[sz]ers?", "carbonates?"),
        "A carbonate (soda, chalk, shell) mixed into the charcoal that makes the gas quicker to form, "
        "so that the pack gives faster.",
        "carbon",
    ),
    Word(
        "warm-up",
        "warm-up",
        ("warm-up", "time before it is at heat", "at heat"),
        "A packed box is slow to heat through: from box in the fire to work at the soak's heat can take "
        "an hour and more, and little carbon goes in before.",
        "carbon",
        "Carslaw and Jaeger, Conduction of Heat in Solids (1959)",
    ),
    Word(
        "even-out",
        "let it even out",
        ("let it even out", "evens? out", "evening out"),
        "Hours of heat with nothing feeding the skin: the carbon moves inward, the skin comes down and "
        "the case gets deeper and tougher.",
        "carbon",
        "Crank, The Mathematics of Diffusion (1975)",
    ),
    Word(
        "case-depth",
        "case depth",
        ("case depths?", "effective case", "depth of case"),
        "How deep the hard skin goes, measured to a stated limit: to 550 HV or 50 HRC on a cut piece, "
        "or to where the rim ends by eye on a broken one.",
        "fracture",
        "ISO 18203:2016; SAE J423",
    ),
    Word(
        "case",
        "case",
        (r"(?<!in )(?<!any )case(?! by case)", "cased"),
        "The skin that took up carbon, and so comes hard out of the quench.",
        "carbon",
    ),
    Word(
        "core",
        "core",
        ("core", "cores"),
        "The steel under the case, which kept its low carbon: it stays tough and carries the blow.",
        "snap",
    ),
    Word(
        "rim",
        "rim",
        ("rim", "rims"),
        "The fine grey band round the coarser middle that you see on a broken coupon: the case, as the "
        "eye finds it.",
        "fracture",
    ),
    Word(
        "traverse",
        "traverse",
        ("traverses?",),
        "Hardness dents in a row from the skin inward on a cut and polished piece: the surest way to a "
        "case depth.",
        "fracture",
        "ISO 18203:2016",
    ),
    Word(
        "grain",
        "grain",
        ("grain size", "coarse grain", "grain grows", "grains?"),
        "The crystals that the steel is made of; hours of heat, and more so too much of it, make them "
        "coarse, and coarse grain breaks easily.",
        "fracture",
        "ASTM E112",
    ),
    Word(
        "austenite",
        "austenite",
        (r"(?<!retained )(?<!soft )austenite",),
        "What steel turns into when it is bright red: it can dissolve far more carbon than cold steel can.",
        "austenite",
    ),
    Word(
        "reheat",
        "reheat",
        ("reheats?", "reheated", "reheating"),
        "Heating the cased piece again, after a slow cool, to a heat that suits the skin, to quench it "
        "fine in the grain.",
        "austenite",
    ),
    Word(
        "slow-cool",
        "slow cool",
        ("slow cool", "slow-cool", "cool slowly", "cools slowly", "cooled slowly"),
        "Leaving the shut box to go cold by itself: nothing hardens, and the grain can be set right by "
        "a reheat.",
        "austenite",
    ),
    Word(
        "quench",
        "quench",
        ("quench", "quenched", "quenches", "quenching"),
        "Cooling the red-hot piece so fast in a bath that the carbon is caught in place and the case "
        "comes out hard.",
        "quench",
    ),
    Word(
        "martensite",
        "martensite",
        ("martensite",),
        "The hard structure that a quench makes; the more carbon, the harder, until about 0.6 % where "
        "more hardly helps.",
        "quench",
        "Hodge and Orehoski, Trans. AIME 167 (1946) 627",
    ),
    Word(
        "retained",
        "retained austenite",
        ("retained austenite", "soft austenite", "austenite left over"),
        "Austenite that a quench did not turn: soft, and found in a skin with too much carbon or "
        "quenched too hot.",
        "quench",
        "Koistinen and Marburger, Acta Metall. 7 (1959) 59",
    ),
    Word(
        "pearlite",
        "pearlite and bainite",
        ("pearlite", "bainite"),
        "Softer structures that form where the quench was too slow for the steel.",
        "quench",
        "Kirkaldy and Venugopalan (1984)",
    ),
    Word(
        "hardenability",
        "hardenability",
        ("hardenability", "hardenable"),
        "How slow a quench a steel forgives: plain low-carbon bar forgives little, alloy bar much.",
        "quench",
        "ASTM A255",
    ),
    Word(
        "vapour-film",
        "vapour film",
        ("vapour films?", "steam blanket", "film"),
        "The blanket of steam round hot work in water: while it stands the bath hardly cools, so stir.",
        "quench",
        "Dhir and Purohit, Nucl. Eng. Des. 47 (1978) 49",
    ),
    Word(
        "bite",
        "bite of the bath",
        ("bite", "bites", "how hard your bath quenches", "how hard the bath quenches"),
        "How fast a bath takes heat out of the work: brine bites hardest, then water, then oil; hot or "
        "still baths bite less.",
        "quench",
    ),
    Word(
        "temper",
        "temper",
        ("temper", "tempers", "tempered", "tempering"),
        "A mild heat after the quench that takes the glass out of the case for a little of its hardness.",
        "temper",
        "Hollomon and Jaffe, Trans. AIME 162 (1945) 223",
    ),
    Word(
        "hrc",
        "HRC",
        ("HRC", "Rockwell C"),
        "Rockwell C, from a diamond pressed in by 150 kg: the common scale for hard steel, too deep a "
        "dent for a thin case.",
        "hardness",
        "ASTM E18; ISO 6508-1",
    ),
    Word(
        "hra",
        "HRA",
        ("HRA", "Rockwell A"),
        "Rockwell A: the same diamond with 60 kg, so it feels less deep and suits a thinner case.",
        "hardness",
        "ASTM E18; ISO 6508-1",
    ),
    Word(
        "hr15n",
        "HR15N",
        ("HR15N", "15N"),
        "The light Rockwell scale, 15 kg on the diamond: it feels the skin alone on all but the "
        "thinnest case.",
        "hardness",
        "ASTM E18",
    ),
    Word(
        "hv",
        "HV",
        ("HV", "Vickers"),
        "Vickers hardness, from a small square dent measured under a glass: fine enough to walk a case "
        "from skin to core.",
        "hardness",
        "ISO 6507-1",
    ),
    Word(
        "file-test",
        "file test",
        ("file test", "a file", "file skates", "test files?"),
        "A good file on a clean skin: it skates over glass-hard steel, and cuts what is softer than "
        "itself, about 60 HRC.",
        "hardness",
    ),
    Word(
        "coupon",
        "coupon",
        ("coupons?",),
        "A scrap of the same bar that goes through the same fire, to be broken or tested in the part's "
        "place.",
        "coupon",
    ),
    Word(
        "give-or-take",
        "give or take",
        ("give or take",),
        "Nine times in ten the truth lies within this much either way, as far as the books and your "
        "coupons can tell.",
        "learning",
        "our own way of telling it",
    ),
    Word(
        "books",
        "the books say / your forge says",
        ("the books say", "the books", "your forge says"),
        "What published work lets one expect before any coupon, against what your own coupons have made "
        "of it.",
        "learning",
        "our own way of telling it",
    ),
    Word(
        "odd-one-out",
        "odd one out",
        ("odd ones? out",),
        "A batch whose readings lie far from what all the others foretell of it: a seal that failed, a "
        "slip of the pen, a heat misread.",
        "learning",
        "our own way of telling it",
    ),
)
BY_KEY = {word.key: word for word in WORDS}

"""The long pages of the help: which there are, and the words each one tells."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.services.help_words import WORDS, Word


@dataclass(frozen=True)
class Topic:
    """One long page: its key in the address, its title, and what it answers in a line."""

    key: str
    title: str
    lead: str

    @property
    def href(self) -> str:
        """Return the address of the page."""
        return f"/help/{self.key}"


TOPICS: tuple[Topic, ...] = (
    Topic("carbon", "Why carbon", "How charcoal in a hot box makes a hard skin possible."),
    Topic("austenite", "What austenite is", "Why it has to be red-hot, and why it is heated twice."),
    Topic("quench", "The quench", "How the skin gets hard, and what keeps it from it."),
    Topic("temper", "Why temper", "What an hour in the oven buys, and what it costs."),
    Topic("snap", "Why a deep case snaps", "How much case a section can carry."),
    Topic("fracture", "Reading a fracture", "What the broken face of a coupon tells."),
    Topic("hardness", "How hard is measured", "The scales, the file, and what a thin case does to both."),
    Topic("learning", "How the app learns", "Books, forge, coupons, and give or take."),
    Topic("coupon", "What a coupon is worth", "Why a scrap of bar is the best money in the box."),
)


@dataclass(frozen=True)
class TopicView:
    """A long page as it is shown: itself, its words by key, and the others."""

    topic: Topic
    words: dict[str, Word]
    others: tuple[Topic, ...]


@dataclass(frozen=True)
class IndexView:
    """The first page of the help: every long page, and every word from A to Z."""

    topics: tuple[Topic, ...]
    words: tuple[Word, ...]


def view_topic(key: str) -> TopicView | None:
    """Return a long page, or nothing where there is none of that name."""
    topic = next((one for one in TOPICS if one.key == key), None)
    if topic is None:
        return None
    words = {word.key: word for word in WORDS if word.topic == key}
    return TopicView(topic, words, tuple(one for one in TOPICS if one != topic))


def view_index() -> IndexView:
    """Return the first page of the help."""
    return IndexView(TOPICS, tuple(sorted(WORDS, key=lambda word: word.shown.lower())))

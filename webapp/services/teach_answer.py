"""What the worker found, asked for its best: which coupon for which want, and what it would take off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from model.experiment import Weighed, Worth
from webapp.services.coupon_offers import Offer
from webapp.services.showing import Showing
from webapp.services.teach import Question
from webapp.services.teach_words import cut_of, is_told, say_cost, say_doubt, say_effect, say_half, say_offer

NEARLY = 0.85  # of the best: an easier coupon that teaches so much is offered first
MOST_OTHERS = 8


@dataclass(frozen=True)
class OfferView:
    """One thing to do next: what, what it would do, what it takes, and what its button sends."""

    words: str
    effects: tuple[str, ...]
    cost: str
    key: str
    check_href: str


class Answer:
    """A question with its answer; places count the wants in their order."""

    def __init__(self, asked: Question, found: Weighed, showing: Showing) -> None:
        """Hold both."""
        self.asked, self.found, self.showing = asked, found, showing

    @cached_property
    def offers(self) -> dict[str, Offer]:
        """The offers that could be weighed, by key."""
        return {offer.key: offer for offer in self.asked.offers if offer.key in self.worths}

    @cached_property
    def worths(self) -> dict[str, Worth]:
        """What each offer is worth, by key."""
        return {worth.trial: worth for worth in self.found.worths}

    @cached_property
    def depths(self) -> tuple[int, ...]:
        """The places of the depths: what a part is packed for."""
        return tuple(place for place, one in enumerate(self.asked.wanted) if one.kind == "depth")

    def best_for(self, places: Sequence[int]) -> Worth:
        """Return the easiest of those that teach nearly most of some wants, on the mean."""

        def gain(worth: Worth) -> float:
            return sum(worth.gains[place] for place in places)

        most = max(gain(worth) for worth in self.found.worths)
        near = [worth for worth in self.found.worths if gain(worth) >= NEARLY * most]
        return min(near, key=lambda worth: (self.offers[worth.trial].effort, -gain(worth)))

    def tells(self, worth: Worth, places: Sequence[int]) -> bool:
        """Return whether it would take something worth a word off any of these doubts."""
        return any(self._is_told(place, worth) for place in places)

    def others(self, but: Worth) -> tuple[OfferView, ...]:
        """Return the other coupons and checks that tell something, each with its best reading."""
        shown, found = {self._done_with(but)}, []
        for worth in self.found.worths:
            done, moved = self._done_with(worth), self.most_moved(worth)
            if done not in shown and self.tells(worth, moved):
                shown.add(done)
                found.append(self.view(worth, moved))
        return tuple(found[:MOST_OTHERS])

    def most_moved(self, worth: Worth, first: Sequence[int] = ()) -> tuple[int, ...]:
        """Return the one or two wants that it would narrow most; `first` ones before others."""
        places = sorted(range(len(self.asked.wanted)), key=lambda k: (k not in first, -self._cut(k, worth)))
        told = tuple(k for k in places if self._is_told(k, worth))
        return told[:2] or tuple(places[:1])

    def view(self, worth: Worth, places: Sequence[int]) -> OfferView:
        """Return something to do with its effect on some of the wants."""
        offer, asked = self.offers[worth.trial], self.asked
        effects = tuple(
            say_effect(asked.wanted[k], self.found.doubts[k], worth.halves[k], self.showing) for k in places
        )
        return OfferView(
            self.say(worth), effects, say_cost(offer, asked.usual), offer.pieces_key, _check_href(offer)
        )

    def say(self, worth: Worth) -> str:
        """Return what would be done."""
        return say_offer(self.offers[worth.trial], self.asked.things, self.asked.usual, self.showing)

    def half(self, place: int, half: float) -> str:
        """Return a give or take of a want in words."""
        return say_half(self.asked.wanted[place], self.found.doubts[place], half, self.showing)

    def now(self, place: int) -> str:
        """Return how well a want is known now."""
        return say_doubt(self.asked.wanted[place], self.found.doubts[place], self.showing)

    def then(self, place: int, worth: Worth) -> str:
        """Return how well a want is known after it."""
        doubt = replace(self.found.doubts[place], half=worth.halves[place])
        return say_doubt(self.asked.wanted[place], doubt, self.showing)

    def _done_with(self, worth: Worth) -> tuple[str, str]:
        offer = self.offers[worth.trial]
        return offer.pieces_key, f"{offer.check}{offer.of_id}"

    def _cut(self, place: int, worth: Worth) -> float:
        return cut_of(self.found.doubts[place], worth.halves[place])

    def _is_told(self, place: int, worth: Worth) -> bool:
        return is_told(self.asked.wanted[place], self.found.doubts[place], worth.halves[place], self.showing)


def _check_href(offer: Offer) -> str:
    sheet = {"heat": "heats", "tester": "testers", "oven": "ovens"}.get(offer.check, "")
    return f"/shop/{sheet}/{offer.of_id}/checks" if sheet else ""

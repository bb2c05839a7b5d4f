"""Every family of pages of the demo logbook, and the one thing on each that must be in sight."""

from __future__ import annotations

from dataclasses import dataclass

SHEETS = ("forges", "heats", "boxes", "mixes", "baths", "ovens", "testers")
NOT_THERE = 404
NOT_ACCEPTED = 422


@dataclass(frozen=True)
class Look:
    """A page and the one thing on it that must be in sight: a button or link, else a heading."""

    address: str
    main: str
    role: str = "button"
    status: int = 200
    on_paper: bool = False
    """Always light, and its words are not marked."""


LOOKS = (
    Look("/", "Start a batch now"),
    Look("/plans", "Pivot pin", "link"),
    Look("/plans/new?part=1", "Save this plan"),
    Look("/plans/1", "Start this batch"),
    Look("/plans/1/teach", "Back to the plan", "link"),
    Look("/plans/1/schedule", "Lay it out"),
    Look("/plans/1/supplies", "Work it out"),
    Look("/batches/17/gas", "Keep the weights"),
    Look("/logbook", "New batch", "link"),
    Look("/logbook?q=pawl", "Detent pawl", "link"),
    Look("/logbook/compare?b=5&b=6", "Put beside"),
    Look("/logbook/compare?b=5", "Choose in the logbook", "link", NOT_ACCEPTED),
    Look("/bring-in", "Look at it"),
    Look("/batches/new", "Open the batch"),
    Look("/batches/write-up", "Put it in the logbook"),
    Look("/batches/1", "Add a coupon", "link"),
    Look("/batches/16", "Tempered"),
    Look("/batches/17", "Box in the fire"),
    Look("/batches/1/edit", "Save"),
    Look("/batches/17/events/new", "Seal cracked"),
    Look("/batches/17/items/new?kind=coupon", "Pack it"),
    Look("/batches/17/items/new?kind=part", "Pack it"),
    Look("/batches/17/give-up", "Give it up"),
    Look("/batches/1/set-aside", "Set it aside"),
    Look("/labels?batch=16", "Show the tags"),
    Look("/which-piece?kind=notches&sign=1", "Notches", "link"),
    Look("/items/1", "Add a reading", "link"),
    Look("/items/35/traverse", "Back to the piece", "link"),
    Look("/items/1/readings/new", "Save the reading"),
    Look("/items/1/readings/new?kind=traverse", "Save the reading"),
    Look("/items/1/readings/new?kind=hardness", "Save the reading"),
    Look("/readings/1", "Save"),
    Look("/forge/arguments", "Plan a trial", "link"),
    Look("/parts", "New part", "link"),
    Look("/parts/1", "Plan this part", "link"),
    Look("/parts/1/case-or-not", "Save the prices"),
    Look("/parts/3/card", "Make it again", on_paper=True),
    Look("/parts/new", "Save the part"),
    Look("/parts/1/edit", "Save the part"),
    Look("/shop", "Name, units, hours", "link"),
    Look("/shop/settings", "Save"),
    Look("/shop/prices", "Save the prices"),
    Look("/shop/reminders", "Remind me"),
    Look("/shop/own-lines", "Ask for it"),
    *(Look(f"/shop/{key}/new", "Save the") for key in SHEETS),
    Look("/shop/heats/1/checks", "Save"),
    Look("/shop/heats/1/changes", "Note the change"),
    Look("/forge/changes", "What was changed", "heading"),
    Look("/shop/colours", "Colours", "heading"),
    Look("/bars", "Add a bar", "link"),
    Look("/bars/new", "Save the bar"),
    Look("/bars/1", "Change it", "link"),
    Look("/bars/1/edit", "Save the bar"),
    Look("/bars/1/tests/quenched_scrap", "Next test"),
    Look("/forge", "This forge", "heading"),
    Look("/forge/charts", "Back to this forge", "link"),
    Look("/forge/teach", "Back to this forge", "link"),
    Look("/help", "Why carbon", "link"),
    Look("/help/carbon", "Why temper", "link"),
    Look("/help/fracture", "Four faces", "heading"),
    Look("/cautions", "What can hurt", "heading"),
    Look("/devices", "Keep this passcode"),
    Look("/condition", "Make a copy of everything"),
    Look("/bin", "What was removed", "heading"),
    Look("/history/part/1", "Who changed what", "heading"),
    Look("/no/such/page", "To the first page", "link", NOT_THERE),
)

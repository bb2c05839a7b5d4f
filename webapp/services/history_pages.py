"""Which record's history belongs on which page, by the page's address."""

from __future__ import annotations

import re

_PAGES = tuple(
    (re.compile(address), table)
    for address, table in (
        (r"/parts/([0-9]+)(?:/edit)?", "part"),
        (r"/plans/([0-9]+)(?:/supplies)?", "plan"),
        (r"/batches/([0-9]+)/(?:edit|gas)", "batch"),
        (r"/items/([0-9]+)(?:/edit)?", "item"),
        (r"/readings/([0-9]+)", "reading"),
        (r"/steps/([0-9]+)", "step"),
        (r"/photos/([0-9]+)", "photo"),
        (r"/bars/([0-9]+)(?:/edit)?", "bar"),
        (r"/shop/boxes/([0-9]+)(?:/changes)?", "box"),
        (r"/shop/mixes/([0-9]+)(?:/changes)?", "mix"),
        (r"/shop/baths/([0-9]+)(?:/changes)?", "bath"),
        (r"/shop/forges/([0-9]+)(?:/changes)?", "forge"),
        (r"/shop/(?:heats|ovens|testers)/([0-9]+)(?:/changes|/checks)?", "instrument"),
    )
)
_ONLY_ONE = {"/shop/settings": "/history/shop/1", "/shop/prices": "/history/prices/1"}


def history_of_page(path: str) -> str:
    """Return the address of the history that belongs on a page; empty where there is none."""
    for address, table in _PAGES:
        if found := address.fullmatch(path):
            return f"/history/{table}/{found[1]}"
    return _ONLY_ONE.get(path, "")

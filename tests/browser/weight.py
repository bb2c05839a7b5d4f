"""What a page's first load brings over the wire: bytes as served, and whom they were asked of."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Page

WITHOUT_CHARTS_kB, WITH_CHARTS_kB = 60.0, 400.0
CHARTS_BY = "/vendor/plot."  # the library that draws; a page without charts does not fetch it


class Weighed:
    """Counts what a browser page is sent, as a tablet that was never here would be."""

    def __init__(self, page: Page) -> None:
        self.bytes, self.asked = 0, list[str]()
        self._tab = page.context.new_cdp_session(page)
        self._tab.send("Network.enable")
        self._tab.send("Network.setCacheDisabled", {"cacheDisabled": True})
        self._tab.on("Network.requestWillBeSent", self._sent)
        self._tab.on("Network.loadingFinished", self._finished)

    def begin(self) -> None:
        """Count from nothing."""
        self.bytes = 0
        self.asked.clear()

    def faults(self, url: str) -> list[str]:
        """Return what is too heavy, and what was fetched from elsewhere."""
        elsewhere = [one for one in self.asked if urlsplit(one).netloc not in ("", urlsplit(url).netloc)]
        draws = any(CHARTS_BY in one for one in self.asked)
        most_kB = WITH_CHARTS_kB if draws else WITHOUT_CHARTS_kB
        heavy = [f"{self.bytes / 1e3:.0f} kB over the wire"] if self.bytes > 1e3 * most_kB else []
        return [*heavy, *(f"fetched from elsewhere: {one}" for one in elsewhere)]

    def _sent(self, told: dict[str, Any]) -> None:
        self.asked.append(told["request"]["url"])

    def _finished(self, told: dict[str, Any]) -> None:
        self.bytes += int(told["encodedDataLength"])

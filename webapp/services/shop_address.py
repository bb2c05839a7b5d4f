"""The address under which the shop's other devices find this computer, and whether only it finds itself."""

from __future__ import annotations

from ipaddress import ip_address
from urllib.parse import urlsplit

from webapp.services.sheets import NotAccepted
from webapp.services.shop_view import ShopView

ONLY_HERE = "Only this computer opens this code: it has no address yet that a tablet could reach."


def read_address(typed: str) -> str:
    """Return an address as it is kept, without its last slash; raises `NotAccepted` for what is none."""
    text = typed.strip()
    if not text:
        return ""
    whole = text if "://" in text else f"http://{text}"
    try:
        parts = urlsplit(whole)
        is_good = parts.scheme in ("http", "https") and bool(parts.hostname) and (parts.port or 1) > 0
    except ValueError:
        is_good = False
    more = (parts.path.strip("/"), parts.query, parts.fragment, parts.username) if is_good else ()
    if not is_good or any(more) or " " in text:
        raise NotAccepted({"address": f"“{typed[:40]}” is no address. Type it as http://192.168.1.20:8350."})
    return f"{parts.scheme}://{parts.netloc}"


def outside_address(shop: ShopView, asked_by: str) -> str:
    """Return the address that others are told: the one in the settings, else the one a page was asked by."""
    return shop.address or asked_by.rstrip("/")


def only_here(address: str) -> str:
    """Return a warning where an address leads every device to itself; empty for one that others reach."""
    host = urlsplit(address).hostname or ""
    if host == "localhost" or host.endswith(".localhost"):
        return ONLY_HERE
    try:
        own = ip_address(host)
    except ValueError:
        return ""
    return ONLY_HERE if own.is_loopback or own.is_unspecified else ""

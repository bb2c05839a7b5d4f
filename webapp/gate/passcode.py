"""The shop's passcode: which ones are refused, and how one is kept so that nobody can read it back.

scrypt (RFC 7914) with N = 2^15, r = 8, p = 3 takes 32 MB and a quarter of a second on the machine this was
measured on; a common recommendation for passwords, value from memory, and little enough for an old laptop.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import unicodedata
from itertools import pairwise

from webapp.settings import PASSCODE_COST

SHORTEST, LONGEST = 8, 200
BLOCK, LANES = 8, 3
SALT_BYTES = 16
MOST_MEMORY = 128 * 2**20
FEWEST_DIFFERENT = 4
WELL_KNOWN = ("password", "passcode", "casewright", "12345678", "qwertyui", "letmein")
WHY = "Wrong tries are slowed down: so eight signs hold against whoever stands by your Wi-Fi and guesses."
_one_at_a_time = threading.Lock()


def what_is_wrong(passcode: str) -> str:
    """Return why a new passcode will not do and what would; empty if it will."""
    text = plain(passcode)
    if len(text) < SHORTEST:
        return f"Give it {SHORTEST} signs or more; this has {len(text)}. {WHY}"
    if len(text) > LONGEST:
        return f"This has {len(text)} signs; {LONGEST} fit. Shorten it."
    if len(set(text.lower())) < FEWEST_DIFFERENT or is_a_run(text):
        return "One sign over and over, or signs in a row, are guessed first. Three odd words do well."
    if any(text.lower().startswith(known) for known in WELL_KNOWN):
        return "That one is guessed first. Three odd words do well."
    return ""


def is_a_run(text: str) -> bool:
    """Tell whether each sign follows the one before it, as in 12345678."""
    steps = {ord(after) - ord(before) for before, after in pairwise(text)}
    return len(steps) == 1


def plain(passcode: str) -> str:
    """Return a passcode as it counts: tablets add a space at the end, and write accents in two ways."""
    return unicodedata.normalize("NFKC", passcode).strip()


def keep(passcode: str, cost: int = PASSCODE_COST) -> str:
    """Return what is kept of a passcode: the method, its cost, a salt of its own and the hash."""
    salt = secrets.token_bytes(SALT_BYTES)
    digest = _hash(passcode, salt, cost, BLOCK, LANES)
    return f"scrypt${cost}${BLOCK}${LANES}${salt.hex()}${digest.hex()}"


def is_right(passcode: str, kept: str) -> bool:
    """Tell whether a passcode is the one that was kept; takes as long whether it is or not."""
    _, cost, block, lanes, salt, digest = kept.split("$")
    tried = _hash(passcode, bytes.fromhex(salt), int(cost), int(block), int(lanes))
    return hmac.compare_digest(tried, bytes.fromhex(digest))


def _hash(passcode: str, salt: bytes, cost: int, block: int, lanes: int) -> bytes:
    text = plain(passcode)[: LONGEST + 1].encode("utf-8", "surrogatepass")
    with _one_at_a_time:  # each takes its memory for a moment
        return hashlib.scrypt(text, salt=salt, n=cost, r=block, p=lanes, maxmem=MOST_MEMORY)

"""A photo as it comes from a camera, made into one to keep: upright, small, nothing but the picture.

Name and type that came with it are not believed: it is what it can be decoded as. Encoding it anew drops
where and when it was taken, the camera's number, and whatever else was hidden behind the picture.
"""

from __future__ import annotations

import io
import threading
from dataclasses import dataclass
from functools import cache
from typing import IO, Final

from PIL import Image, ImageOps, UnidentifiedImageError

MEGABYTE: Final = 1024 * 1024
MOST_FILE_BYTES: Final = 25 * MEGABYTE
MOST_PIXELS: Final = 40_000_000
LEAST_EDGE_PX: Final = 32
LONGEST_EDGE_PX: Final = 2000
SMALL_EDGE_PX: Final = 400
QUALITY: Final = 88
ALWAYS_READ: Final = ("JPEG", "PNG", "WEBP")
BOMBS: Final = (Image.DecompressionBombError, Image.DecompressionBombWarning)
# what a decoder says of a file that is cut off or damaged; all of them subclasses of these
BROKEN: Final = (OSError, SyntaxError, ValueError, IndexError, KeyError, TypeError, EOFError, ArithmeticError)

# a photo of 40 megapixels takes 120 MB while it is decoded, so they are decoded one after another
_one_at_a_time = threading.Lock()

EMPTY = "It is empty. Take the photo again."
USUAL_SIZE = "Set the camera to its usual size"
TOO_HEAVY = f"It is larger than {MOST_FILE_BYTES // MEGABYTE} MB. {USUAL_SIZE}, or send a smaller copy."
NOT_A_PICTURE = "It is not a picture that can be read here. Send a photo as JPEG, PNG or WebP."
HEIC = (
    "It is a HEIC photo, which is not read here. Set the camera to its most compatible format (JPEG) and take"
    " it again, or save a copy as JPEG."
)
TOO_MANY_PIXELS = (
    f"It has more than {MOST_PIXELS // 1_000_000} million pixels. {USUAL_SIZE} and take it again; a case is"
    " measured as well at 12."
)
TOO_FEW_PIXELS = f"It is smaller than {LEAST_EDGE_PX} pixels across: too small to show anything."
MOVING = "It is a moving picture. Send a still one."
TORN = "It is damaged or was cut off on its way. Send it again; if that does not help, take it again."


class NotAPhoto(Exception):
    """A file that cannot be kept as a photo; `str()` says why and what to do."""


@dataclass(frozen=True)
class Picture:
    """A photo made ready to keep: both files and the size of the larger one."""

    jpeg: bytes
    small_jpeg: bytes
    width_px: int
    height_px: int


def prepare(file: IO[bytes], size_bytes: int) -> Picture:
    """Return a photo made ready to keep, or raise `NotAPhoto`."""
    if size_bytes == 0:
        raise NotAPhoto(EMPTY)
    if size_bytes > MOST_FILE_BYTES:
        raise NotAPhoto(TOO_HEAVY)
    with _one_at_a_time:
        upright = _decode(file)
        small = upright.copy()
        small.thumbnail((SMALL_EDGE_PX, SMALL_EDGE_PX))
        return Picture(_encode(upright), _encode(small), upright.width, upright.height)


@cache
def readable() -> tuple[str, ...]:
    """Return the kinds of file that are read; HEIC by an extra, loaded with the first photo."""
    try:
        from pillow_heif import register_heif_opener
    except ImportError:
        return ALWAYS_READ
    register_heif_opener(thumbnails=False)
    return (*ALWAYS_READ, "HEIF")


def _decode(file: IO[bytes]) -> Image.Image:
    """Return the picture in a file, upright, no larger than is kept, and bare of all that came with it."""
    try:
        with Image.open(file, formats=readable()) as image:
            _check(image)
            image.draft("RGB", (LONGEST_EDGE_PX, LONGEST_EDGE_PX))  # a JPEG is decoded small at once
            image.load()
            image.thumbnail((LONGEST_EDGE_PX, LONGEST_EDGE_PX))  # before it is turned: that takes a copy
            return _bare(ImageOps.exif_transpose(image))
    except UnidentifiedImageError as problem:
        raise NotAPhoto(HEIC if _looks_like_heic(file) else NOT_A_PICTURE) from problem
    except BOMBS as problem:
        raise NotAPhoto(TOO_MANY_PIXELS) from problem
    except BROKEN as problem:
        raise NotAPhoto(TORN) from problem


def _check(image: Image.Image) -> None:
    if image.width * image.height > MOST_PIXELS:
        raise NotAPhoto(TOO_MANY_PIXELS)
    if min(image.size) < LEAST_EDGE_PX:
        raise NotAPhoto(TOO_FEW_PIXELS)
    # a camera's JPEG may hold a second, smaller picture beside the first; that does not make it move
    if image.format not in ("JPEG", "MPO", "HEIF") and getattr(image, "is_animated", False):
        raise NotAPhoto(MOVING)


def _bare(image: Image.Image) -> Image.Image:
    """Return nothing but the picture, on white where it was see-through."""
    bare = Image.new("RGB", image.size, "white")
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        seen = image.convert("RGBA")
        bare.paste(seen, mask=seen.getchannel("A"))
    else:
        bare.paste(image.convert("RGB"))
    return bare


def _encode(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


def _looks_like_heic(file: IO[bytes]) -> bool:
    """Tell the container of a tablet's own format by its first bytes (ISO/IEC 23008-12, from memory)."""
    file.seek(0)
    head = file.read(12)
    return head[4:8] == b"ftyp" and head[8:12] in (b"heic", b"heix", b"mif1", b"msf1", b"hevc")

"""Photos drawn for tests: a disc with a dark rim of known width, as a camera would hand it over."""

from __future__ import annotations

import io

from PIL import Image, ImageDraw

SECRET = b"invented maker"
TURNED = 6  # EXIF: stored lying, to be turned a quarter clockwise
ORIENTATION, MAKER, GPS = 0x0112, 0x010F, 0x8825


def disc(
    size: tuple[int, int] = (900, 600),
    radius: float = 200.0,
    rim: float = 40.0,
    middle: tuple[float, float] | None = None,
) -> Image.Image:
    """Return a light disc with a dark rim on grey; a red corner tells which way is up."""
    image = Image.new("RGB", size, "#8a8a86")
    pen = ImageDraw.Draw(image)
    x, y = middle or (size[0] / 2, size[1] / 2)
    pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill="#26262a")
    inner = radius - rim
    pen.ellipse((x - inner, y - inner, x + inner, y + inner), fill="#d8d6d0")
    pen.rectangle((0, 0, 40, 40), fill="#ff0000")
    return image


def as_camera(image: Image.Image, kind: str = "JPEG", turned: int = TURNED) -> bytes:
    """Return a picture as a camera writes it: turned, with where it was taken and by what."""
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKER] = turned, SECRET.decode()
    place = exif.get_ifd(GPS)
    place[1], place[2], place[3], place[4] = "N", (48.0, 12.0, 3.0), "E", (16.0, 20.0, 1.0)
    out = io.BytesIO()
    comment = {"comment": SECRET} if kind == "JPEG" else {}
    image.save(out, kind, exif=exif, **comment)
    return out.getvalue()


def plain(image: Image.Image, kind: str = "PNG", **more: object) -> bytes:
    """Return a picture with nothing beside it."""
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()

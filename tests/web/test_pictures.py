"""What comes from a camera is kept upright, small and bare; what is no photo is refused with a word."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from PIL import Image

from tests.web.drawn_photos import SECRET, as_camera, disc, plain
from webapp.services import pictures
from webapp.services.pictures import NotAPhoto, Picture, prepare


def prepared(content: bytes) -> Picture:
    return prepare(io.BytesIO(content), len(content))


def opened(jpeg: bytes) -> Image.Image:
    return Image.open(io.BytesIO(jpeg))


def is_red(pixel: object) -> bool:
    assert isinstance(pixel, tuple)
    return pixel[0] > 200 and max(pixel[1:3]) < 80


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_lying_photo_is_turned_upright_and_loses_all_that_came_with_it(kind: str) -> None:
    content = as_camera(disc(), kind)
    assert SECRET in content
    kept = prepared(content)
    for jpeg in (kept.jpeg, kept.small_jpeg):
        image = opened(jpeg)
        assert dict(image.getexif()) == {}
        assert not {"exif", "comment", "icc_profile", "xmp"} & set(image.info)
        for told in (SECRET, b"Exif", b"GPS"):
            assert told not in jpeg
        # turned a quarter clockwise, the corner at the top left comes to the top right
        assert image.height > image.width
        assert is_red(image.getpixel((image.width - 3, 3)))
    assert (kept.width_px, kept.height_px) == (600, 900)


def test_a_photo_of_a_tablets_own_format_is_read_where_its_reader_is_installed() -> None:
    pytest.importorskip("pillow_heif")
    kept = prepared(plain(disc(), "HEIF"))
    assert (kept.width_px, kept.height_px) == (900, 600)
    assert is_red(opened(kept.jpeg).getpixel((5, 5)))


def test_without_that_reader_the_word_says_what_to_set(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("pillow_heif")
    content = plain(disc(), "HEIF")
    monkeypatch.setattr(pictures, "readable", lambda: pictures.ALWAYS_READ)
    with pytest.raises(NotAPhoto, match="most compatible format"):
        prepared(content)


def test_a_large_photo_is_made_small_and_its_thumbnail_smaller() -> None:
    kept = prepared(plain(Image.new("L", (5000, 2500), 120), "JPEG"))
    assert (kept.width_px, kept.height_px) == (2000, 1000)
    assert opened(kept.jpeg).size == (2000, 1000)
    assert opened(kept.small_jpeg).size == (400, 200)


def test_what_is_see_through_is_laid_on_white() -> None:
    kept = prepared(plain(Image.new("RGBA", (100, 100), (0, 0, 0, 0))))
    assert min(opened(kept.jpeg).getpixel((50, 50))) > 250


def moving(kind: str) -> bytes:
    frames = [Image.new("RGB", (64, 64), colour) for colour in ("red", "blue")]
    return plain(frames[0], kind, save_all=True, append_images=frames[1:])


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few bytes that says it is huge."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


DRAWN = plain(disc())
WHOLE = plain(disc(), "JPEG")
REFUSED = {
    "empty": (b"", "empty"),
    "text": (b"#!/bin/sh\necho no picture", "not a picture"),
    "script in a drawing": (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "not a picture"),
    "table": (b"depth,hardness\n0.1,760\n", "not a picture"),
    "a page": (b"%PDF-1.7 ", "not a picture"),
    "a GIF": (plain(disc(), "GIF"), "not a picture"),
    "moving PNG": (moving("PNG"), "moving picture"),
    "moving WebP": (moving("WEBP"), "moving picture"),
    "41 megapixels": (bomb(8200, 5000), "more than 40 million"),
    "a bomb": (bomb(12000, 12000), "more than 40 million"),
    "a large bomb": (bomb(60000, 60000), "more than 40 million"),
    "a speck": (plain(Image.new("RGB", (20, 300))), "too small"),
    "cut off": (WHOLE[: len(WHOLE) // 2], "cut off"),
    "only a head": (WHOLE[:200], "."),
    "damaged": (DRAWN[:60] + b"\0" * 340 + DRAWN[400:], "damaged"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_photo_to_keep_is_refused_with_what_to_do(name: str) -> None:
    content, said = REFUSED[name]
    with pytest.raises(NotAPhoto, match=said) as refusal:
        prepared(content)
    assert str(refusal.value).endswith(".")


def test_a_file_over_the_limit_is_refused_before_it_is_read() -> None:
    with pytest.raises(NotAPhoto, match="larger than 25 MB"):
        prepare(io.BytesIO(b""), pictures.MOST_FILE_BYTES + 1)

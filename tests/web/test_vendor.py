"""Files of others are what VENDOR.md says they are, and a page's first load stays small."""

import gzip
import hashlib
import re

import pytest

from webapp.resources import static_folder

ROW = re.compile(r"\| `([\w.]+)` \| (\S+) \| (\S+) \| .*?\(`([\w.]+)`\) \| `([0-9a-f]{64})` \|")
VENDOR = static_folder() / "vendor"
ROWS = ROW.findall((VENDOR / "VENDOR.md").read_text(encoding="utf-8"))
FIRST_LOAD_BYTES = 60_000
WITH_CHARTS_BYTES = 400_000
CSS_BYTES = 27_000  # of which the search and the words of the trade, on every page, are 2
FRAME_SHEETS = ("tokens", "base", "layout", "parts", "form", "chart", "print")


def compressed(*patterns: str) -> int:
    """Bytes over the wire of all files that match."""
    files = [file for pattern in patterns for file in static_folder().glob(pattern)]
    assert files, patterns
    return sum(len(gzip.compress(file.read_bytes(), 6)) for file in files)


@pytest.mark.parametrize(("file", "package", "version", "licence", "sha256"), ROWS)
def test_a_vendored_file_is_the_one_that_was_looked_at(file, package, version, licence, sha256):
    content = (VENDOR / file).read_bytes()
    assert hashlib.sha256(content).hexdigest() == sha256
    assert (VENDOR / licence).stat().st_size > 200


def test_every_vendored_script_is_listed():
    assert {row[0] for row in ROWS} == {file.name for file in VENDOR.glob("*.js")}


def test_the_frames_style_sheets_stay_under_27_kB_before_compression():
    assert sum((static_folder() / f"css/{name}.css").stat().st_size for name in FRAME_SHEETS) < CSS_BYTES


def test_the_first_load_without_charts_stays_under_60_kB_over_the_wire():
    whole = compressed("css/*.css", "js/*.js", "img/*.svg", "vendor/htmx.min.js")
    assert whole - compressed("js/charts.js") < FIRST_LOAD_BYTES


def test_a_page_with_charts_stays_under_400_kB_over_the_wire():
    assert compressed("css/*.css", "js/*.js", "vendor/*.js") < WITH_CHARTS_BYTES

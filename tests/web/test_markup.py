"""Markup, quotes and a formula in every text of the logbook: shown as typed, on every page and paper."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections.abc import Iterator

import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from sqlalchemy import JSON
from sqlmodel import AutoString

from tests.browser.looks import LOOKS
from tests.web.fitted_demo import speaking_to_demo, store_of
from webapp.routes import PAGES
from webapp.settings import Settings
from webapp.store.checks import ALLOWED_WORDS
from webapp.store.tables import metadata
from webapp.store.word_index import FIELDS

MARK = '=1+1<zz a="b">\'&{{7*7}}'
"""Unlike anything the app writes itself; shown as it is, it would be an element with an attribute."""
ELEMENT, ATTRIBUTE = "<zz", 'zz a="b"'
ESCAPED = "&lt;zz a=&#34;b&#34;&gt;&#39;&amp;{{7*7}}"
# texts that are picked from a list, worked out, or made by the app: no hand writes them
CHOSEN = {
    *ALLOWED_WORDS,
    ("bath", "agitation"), ("bath", "medium"), ("box", "shape"), ("forge", "hot_end"),
    ("reminder", "list_key"), ("shop", "zone"), ("shop", "address"),
    ("part", "depth_definition"), ("part", "soft_kept"), ("part", "soft_area"),
    ("gasweighing", "valve"), ("gasweighing", "second_valve"), ("plansupplies", "valve"),
    ("item", "place"), ("item", "layer"), ("item", "steel_sign"), ("instrument", "method"),
    ("reading", "after"), ("reading", "place"), ("reading", "surface"), ("reading", "unit"),
    ("photo", "sha256"), ("broughtin", "sha256"), ("change", "table_name"), ("shopchange", "kind"),
    ("fit", "model_version"), ("fit", "fingerprint"), ("formuse", "form_id"), ("formuse", "location"),
    ("bar", "grade"), ("box", "seal"), ("box", "fill"), ("mix", "charcoal"), ("mix", "substance"),
    ("event", "kind"), ("forge", "fuel"), ("instrumentcheck", "against"),
}  # fmt: skip
WRITTEN = [
    (table.name, column.name)
    for table in metadata.sorted_tables
    for column in table.columns
    if isinstance(column.type, AutoString) and (table.name, column.name) not in CHOSEN
]
TYPED = [(table.name, column.name) for table in metadata.sorted_tables for column in table.columns
         if isinstance(column.type, JSON) and column.name == "typed"]  # fmt: skip
MORE = ("/batches/1/run-sheet", "/labels/sheet?which=open&skip=0", "/parts/1/card", "/cautions")


@pytest.fixture(scope="module")
def marked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The fitted demo with the mark in every text that a hand writes."""
    with speaking_to_demo(Settings(tmp_path_factory.mktemp("marked") / "data")) as client:
        with store_of(client).writer.begin() as connection:
            for table, column in WRITTEN:
                number = f"id || '{MARK.replace(chr(39), chr(39) * 2)}'"  # names must differ
                mark = number if column in ("name", "mark") else number[6:]
                connection.exec_driver_sql(f'UPDATE "{table}" SET "{column}" = {mark}')
            for table, column in TYPED:
                rows = connection.exec_driver_sql(f'SELECT id, "{column}" FROM "{table}"').all()
                for number, typed in rows:
                    told = json.dumps(dict.fromkeys(json.loads(typed or "{}"), MARK))
                    connection.exec_driver_sql(
                        f'UPDATE "{table}" SET "{column}" = ? WHERE id = ?', (told, number)
                    )
        yield client


def addresses() -> list[str]:
    """Return the addresses of all pages: those that are looked at, and every route on the first record."""
    routes = {
        re.sub(r"\{[^}]*\}", "1", route.path)
        for router in PAGES
        for route in router.routes
        if isinstance(route, APIRoute) and "GET" in route.methods
    }
    return sorted({look.address for look in LOOKS} | routes | set(MORE))


def test_every_text_column_is_written_by_hand_or_named_as_chosen() -> None:
    assert {("part", "name"), ("photo", "caption"), ("change", "device"), ("shop", "name")} <= set(WRITTEN)
    assert {(field.table, field.name) for field in FIELDS if field.name in ("name", "note")} <= set(WRITTEN)
    every = {(table.name, column.name) for table in metadata.sorted_tables for column in table.columns}
    assert every >= CHOSEN
    assert len(WRITTEN) > 40


def test_no_page_and_no_paper_lets_a_text_out_unescaped(marked: TestClient) -> None:
    shown, broken = set(), []
    for address in addresses():
        answer = marked.get(address)
        text = answer.text if answer.headers.get("content-type", "").startswith("text/html") else ""
        if answer.status_code >= 500 or ELEMENT in text or ATTRIBUTE in text:
            broken.append(f"{answer.status_code} {address}")
        if ESCAPED in text:
            shown.add(address)
    assert broken == []
    assert len(shown) > 40  # the mark did stand on them


def test_no_cell_of_a_table_begins_as_a_formula(marked: TestClient) -> None:
    tables = [marked.get(address).text for address in ("/logbook.csv", "/readings.csv")]
    with zipfile.ZipFile(io.BytesIO(marked.get("/everything.zip").content)) as packed:
        names = [name for name in packed.namelist() if name.endswith(".csv")]
        tables += [packed.read(name).decode("utf-8-sig") for name in names]
    cells = [cell for table in tables for row in csv.reader(io.StringIO(table)) for cell in row]
    assert sum(MARK in cell for cell in cells) > 40
    assert [cell for cell in cells if cell.startswith(("=", "+", "@"))] == []

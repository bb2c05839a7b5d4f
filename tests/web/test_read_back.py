"""Everything taken along makes the same logbook again, whatever was typed; what is no export is refused."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import typer
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from sqlmodel import select

from tests.conftest import A_SPRING_DAY
from tests.migrations.older import to_form
from tests.web.fitted_demo import speaking_to, speaking_to_demo, store_of
from webapp.commands.read_back import read_back as command
from webapp.services.export_files import JsonExport, ZipExport
from webapp.services.read_back import insert_all, read_back
from webapp.services.stored_rows import write_json
from webapp.services.table_text import FORMULA_STARTS, shielded, unshielded
from webapp.services.whole_columns import cells, csv_cells, csv_columns, value_of
from webapp.services.whole_export import document_pieces, kept_tables, write_tables
from webapp.settings import Settings
from webapp.store.engine import Store, open_store, read
from webapp.store.errors import LogbookNewer, Refused
from webapp.store.migrate import bring_up_to_date
from webapp.store.tables import Batch, Item, Shop
from webapp.store.unit_of_work import Actor, plain_fields, write

ODD_TEXTS = ("=1+1", "'quoted", 'a;b,c\t"d"\n\re', "Käthe – ½″ 漢字 🔥", "-", "'", "\u00a0", "null", "@\r\n")


@pytest.fixture(scope="module")
def odd_demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The fitted demo with texts that no table likes, a batch in the bin, and a piece from a later one."""
    with speaking_to_demo(Settings(data_folder=tmp_path_factory.mktemp("odd") / "data")) as client:
        with write(store_of(client), Actor("=cmd"), A_SPRING_DAY) as work:
            items = work.session.exec(select(Item).order_by(Item.id)).all()  # type: ignore[arg-type]
            for item, odd in zip(items, ODD_TEXTS, strict=False):
                work.change(item, name=odd, note=odd, typed={"size_m": odd, odd: odd})
            work.change(items[0], from_item_id=items[-1].id)
            work.remove(work.get(Batch, 9))
        yield client


def test_the_json_document_makes_a_logbook_whose_document_is_the_same_bytes(
    odd_demo: TestClient, tmp_path: Path
) -> None:
    document = odd_demo.get("/api/export").content
    (tmp_path / "whole.json").write_bytes(document)
    told = read_back(tmp_path / "whole.json", folder(tmp_path), A_SPRING_DAY)
    with speaking_to(Settings(data_folder=tmp_path / "new")) as again:
        assert again.get("/api/export").content == document
        assert again.get("/logbook").status_code == 200
    assert (told.batches, told.photos) == (16, 0)


def test_the_zip_of_tables_makes_the_same_logbook_too(odd_demo: TestClient, tmp_path: Path) -> None:
    answer = odd_demo.get("/everything.zip")
    assert answer.headers["content-type"] == "application/zip"
    (tmp_path / "whole.zip").write_bytes(answer.content)
    read_back(tmp_path / "whole.zip", folder(tmp_path), A_SPRING_DAY)
    with speaking_to(Settings(data_folder=tmp_path / "new")) as again:
        assert again.get("/everything.zip").content == answer.content
        assert again.get("/api/export").content == odd_demo.get("/api/export").content


def test_the_tables_say_their_units_and_run_no_formula(odd_demo: TestClient) -> None:
    archive = zipfile.ZipFile(io.BytesIO(odd_demo.get("/everything.zip").content))
    assert {f"{table.name}.csv" for table in kept_tables()} | {"about.json"} == set(archive.namelist())
    for name in archive.namelist():
        if name.endswith(".csv"):
            rows = list(csv.reader(io.StringIO(archive.read(name).decode("utf-8-sig"), newline="")))
            assert not [
                cell for row in rows for cell in row if cell.startswith(FORMULA_STARTS) and not number(cell)
            ]
            assert len(set(rows[0])) == len(rows[0])
    steps = list(csv.DictReader(io.StringIO(archive.read("step.csv").decode("utf-8-sig"), newline="")))
    assert float(next(s for s in steps if s["kind"] == "soak")["temperature (K)"]) > 1100.0
    assert "=1+1" in [unshielded(item["size (m), as typed"]) for item in lines_of(archive, "item")]


def lines_of(archive: zipfile.ZipFile, table: str) -> list[dict[str, str]]:
    content = archive.read(f"{table}.csv").decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(content, newline="")))


def number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def folder(tmp_path: Path) -> Path:
    made = tmp_path / "new"
    made.mkdir()
    return made


TEXTS = st.text(st.characters(codec="utf-8"), max_size=20)
FINITE = st.floats(allow_nan=False, allow_infinity=False)
JSONS = st.none() | st.booleans() | st.integers() | FINITE | TEXTS | st.lists(FINITE, max_size=2)
VALUES: dict[str, st.SearchStrategy[Any]] = {
    "JSON": st.dictionaries(TEXTS, JSONS, max_size=3) | st.lists(JSONS, max_size=3),
    "FLOAT": FINITE,
    "INTEGER": st.integers(),
    "BOOLEAN": st.booleans(),
    "DATETIME": st.datetimes(timezones=st.just(UTC)).map(datetime.isoformat),
    "VARCHAR": TEXTS | st.sampled_from(ODD_TEXTS),
}


@pytest.mark.property
@hypothesis_settings(max_examples=30, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
@pytest.mark.parametrize("name", ["item", "bar"])
def test_any_row_comes_back_from_its_cells(name: str, data: st.DataObject) -> None:
    table = next(table for table in kept_tables() if table.name == name)
    row = {
        column.name: data.draw(
            VALUES.get(str(column.type), TEXTS.filter(bool))
            | (st.none() if column.nullable else st.nothing())
        )
        for column in table.columns
    }
    columns = csv_columns(table)
    out = io.StringIO()
    kept = [write_json(row[c.name]) if str(c.type) == "JSON" else row[c.name] for c in table.columns]
    csv.writer(out, lineterminator="\r\n").writerow(cells(csv_cells(table, columns), kept))
    (line,) = csv.reader(io.StringIO(out.getvalue(), newline=""), strict=True)
    back = {
        told.column.name: value_of(told.column, cell)
        for told, cell in zip(columns, line, strict=True)
        if told.column is not None
    }
    assert json.dumps(back) == json.dumps(row)


@pytest.mark.property
@given(text=TEXTS)
def test_a_shielded_text_comes_back_and_never_begins_as_a_formula(text: str) -> None:
    assert unshielded(shielded(text)) == text
    assert not shielded(text).startswith(FORMULA_STARTS)


def small_document(store: Store) -> dict[str, Any]:
    """Return the document of an empty logbook, its shop put in."""
    shop = Shop(id=1, name="levers", created_at=A_SPRING_DAY, updated_at=A_SPRING_DAY)
    with read(store) as session:
        document: dict[str, Any] = json.loads(b"".join(document_pieces(session, A_SPRING_DAY)))
    document["tables"]["shop"] = [plain_fields(shop)]
    return document


def test_an_export_of_an_older_form_is_brought_up_to_date(tmp_path: Path) -> None:
    with closing(open_store(tmp_path / "older")) as store:
        bring_up_to_date(store, A_SPRING_DAY, upgrade=to_form("0002"))
        stamps = {"created_at": "2026-04-03T12:00:00+00:00", "updated_at": "2026-04-03T12:00:00+00:00"}
        with store.writer.connect() as connection:
            names = [
                name for (name,) in connection.exec_driver_sql("SELECT name FROM pragma_table_info('shop')")
            ]
            tables = [
                n for (n,) in connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type='table'")
            ]
    shop = (
        dict.fromkeys(names) | stamps | {"id": 1, "version": 4, "note": "", "name": "levers", "zone": "UTC"}
    )
    shop |= {"temperature_unit": "F", "length_unit": "in", "is_demo": False}
    rows: dict[str, list[Any]] = {name: [] for name in tables if name not in ("alembic_version", "formuse")}
    rows["shop"] = [shop]
    file = tmp_path / "older.json"
    file.write_text(json.dumps({"schema": 1, "revision": "0002", "tables": rows}))
    read_back(file, folder(tmp_path), A_SPRING_DAY)
    with closing(open_store(tmp_path / "new")) as store, read(store) as session:
        found = session.get(Shop, 1)
        assert found is not None
        assert (found.version, found.temperature_unit, found.mark_habit) == (4, "F", "")


FIRE = {
    "id": 1, "version": 1, "created_at": "2026-04-03T12:00:00+00:00", "deleted_at": None, "note": "",
    "updated_at": "2026-04-03T12:00:00+00:00", "forge_id": 1, "heat_instrument_id": 1,
}  # fmt: skip


def change(path: str, value: Any) -> Callable[[dict[str, Any]], None]:
    def act(document: dict[str, Any]) -> None:
        *way, last = path.split(".")
        place: Any = document
        for name in way:
            place = place[int(name)] if isinstance(place, list) else place[name]
        place[last] = value

    return act


@pytest.mark.parametrize(
    ("spoil", "error", "words"),
    [
        (change("schema", 2), LogbookNewer, "newer casewright"),
        (change("revision", "9999"), LogbookNewer, "newer casewright"),
        (change("revision", 7), Refused, "no whole export"),
    ],
)
def test_a_document_of_another_casewright_is_refused(
    store: Store, tmp_path: Path, spoil: Callable[[dict[str, Any]], None], error: type[Exception], words: str
) -> None:
    document = small_document(store)
    spoil(document)
    file = tmp_path / "spoilt.json"
    file.write_text(json.dumps(document))
    new = folder(tmp_path)
    with pytest.raises(error, match=words):
        read_back(file, new, A_SPRING_DAY)
    assert list(new.iterdir()) == []


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (change("tables", []), "has no list of the table"),
        (change("tables.shop", None), "has no list of the table shop"),
        (change("tables.shop.0.extra", 1), "Table shop, row 1: its columns"),
        (change("tables.shop.0.version", "one"), "Table shop, row 1, version: 'one' cannot stand"),
        (change("tables.shop.0.version", True), "row 1, version"),
        (change("tables.shop.0.version", 2**63), "row 1, version"),
        (change("tables.shop.0.name", "\ud800"), "row 1, name"),
        (change("tables.shop.0.created_at", "2026-04-03"), "row 1, created_at"),
        (change("tables.shop.0.length_unit", "ell"), "length_unit_word"),
        (change("tables.fire", [FIRE]), "FOREIGN KEY"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place_and_nothing_is_kept(
    store: Store, spoil: Callable[[dict[str, Any]], None], words: str
) -> None:
    document = small_document(store)
    spoil(document)
    with pytest.raises(Refused, match=words):
        insert_all(store, JsonExport(json.dumps(document).encode()))
    with read(store) as session:
        assert session.exec(select(Shop)).all() == []


@pytest.mark.parametrize(
    "content",
    [b"", b"[]", b"{", b"[" * 100_000, b'{"schema": NaN}', b"PK\x03\x04 cut short", b"\xff\xfe\x00"],
)
def test_what_is_no_export_is_refused_in_words(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "other.json"
    file.write_bytes(content)
    with pytest.raises(Refused, match="Take one along from the Logbook page"):
        read_back(file, folder(tmp_path), A_SPRING_DAY)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (b"levers", b"levers,more", "shop.csv, row 2: "),
        (b"id,version", b"id,versions", "shop.csv: the headings"),
        (b"\r\n1,1,", b"\r\n1,x,", "shop.csv, row 2, version: 'x'"),
        (b"levers", b"lev\xffers", "shop.csv is not a table"),
        (b"levers", b'"levers', "shop.csv is not a table"),
    ],
)
def test_a_changed_table_is_refused_with_row_and_column(
    store: Store, old: bytes, new: bytes, words: str
) -> None:
    insert_all(store, JsonExport(json.dumps(small_document(store)).encode()))
    with read(store) as session:
        write_tables(session, A_SPRING_DAY, made := io.BytesIO())
    whole = zipfile.ZipFile(made)
    changed = io.BytesIO()
    with zipfile.ZipFile(changed, "w") as spoilt:
        for name in whole.namelist():
            spoilt.writestr(
                name, whole.read(name).replace(old, new) if name == "shop.csv" else whole.read(name)
            )
    with pytest.raises(Refused, match=words):
        insert_all(store, ZipExport(changed.getvalue()))


def test_a_folder_that_holds_a_logbook_is_left_alone(
    store: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "whole.json"
    file.write_text(json.dumps(small_document(store)))
    command(file, folder(tmp_path))
    assert "1 rows, 0 batches" in capsys.readouterr().out
    with pytest.raises(typer.Exit):
        command(file, tmp_path / "new")
    with closing(open_store(tmp_path / "new")) as made, read(made) as session:
        assert [shop.name for shop in session.exec(select(Shop))] == ["levers"]
    assert "holds a logbook already" in capsys.readouterr().err

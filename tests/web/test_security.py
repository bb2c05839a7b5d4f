"""Who may ask, from where, how much, and what a browser may do with a page."""

from __future__ import annotations

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from webapp.dependencies import RawForm
from webapp.security import MOST_BODY_BYTES

EVERY_KIND = [
    "/",
    "/condition",
    "/nothing-here",
    "/api/openapi.json",
    "/api/nothing-here",
]


@pytest.mark.parametrize("path", EVERY_KIND)
def test_every_answer_carries_the_strict_policy(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = dict(part.split(" ", 1) for part in headers["content-security-policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert (policy["script-src"], policy["style-src"], policy["connect-src"]) == ("'self'",) * 3
    assert (policy["frame-ancestors"], policy["base-uri"], policy["form-action"]) == (
        "'none'",
        "'none'",
        "'self'",
    )
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert "access-control-allow-origin" not in headers


def test_a_style_sheet_or_a_script_opened_by_itself_may_do_nothing(client: TestClient) -> None:
    for path in ("/static/css/base.css", "/static/js/drafts.js", "/static/nothing-here.js"):
        headers = client.get(path).headers
        assert headers["content-security-policy"] == "default-src 'none'; frame-ancestors 'none'"
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cross-origin-resource-policy"] == "same-origin"
        assert "access-control-allow-origin" not in headers


@pytest.mark.parametrize("path", ["/", "/condition", "/nothing-here", "/api/openapi.json"])
def test_no_page_is_kept_by_a_cache(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    assert headers["cache-control"] == "no-store"
    assert "HX-Request" in headers["vary"]


def test_pages_hold_no_script_and_no_style_of_their_own(client: TestClient) -> None:
    for path in ("/", "/condition", "/nothing-here"):
        text = client.get(path).text.lower()
        assert "<style" not in text
        assert " style=" not in text
        assert " onclick=" not in text
        assert "<script>" not in text


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1:9999", "localhost:8350.evil.example", ""]
)
def test_a_name_that_is_not_ours_is_not_answered(client: TestClient, host: str) -> None:
    answer = client.get("/condition", headers={"host": host})
    assert answer.status_code == 400
    assert "127.0.0.1:8350" in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1:8350", "localhost:8350", "LOCALHOST:8350", "[::1]:8350"])
def test_each_of_our_own_names_is_answered(client: TestClient, host: str) -> None:
    assert client.get("/condition", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "same-origin", "origin": "http://evil.example"},
        {"origin": "http://evil.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "https://127.0.0.1:8350"},
        {"origin": "null"},
    ],
)
@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_another_sites_page_cannot_write(client: TestClient, method: str, headers: dict[str, str]) -> None:
    answer = client.request(method, "/theme", headers=headers)
    assert answer.status_code == 403
    assert answer.text.startswith("Not saved")


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"sec-fetch-site": "same-origin", "origin": "http://127.0.0.1:8350"},
        {"sec-fetch-site": "none"},
        {"origin": "http://localhost:8350"},
    ],
)
def test_our_own_pages_and_plain_programs_can_write(client: TestClient, headers: dict[str, str]) -> None:
    assert client.post("/theme", data={"theme": "night"}, headers=headers).status_code == 303


def test_a_body_that_is_too_large_is_refused_on_a_plain_page(client: TestClient) -> None:
    answer = client.post("/theme", data={"theme": "x" * (MOST_BODY_BYTES + 1)})
    assert answer.status_code == 413
    assert "larger than 2 MB" in answer.text
    assert "<h1>" in answer.text


def test_a_body_of_unknown_length_is_counted_as_it_comes(client: TestClient) -> None:
    def chunks() -> object:
        for _ in range(5):
            yield b"x" * (MOST_BODY_BYTES // 4)

    headers = {"content-type": "application/x-www-form-urlencoded"}
    assert client.post("/theme", content=chunks(), headers=headers).status_code == 413


def test_a_large_but_allowed_form_is_read_whole(app: FastAPI, client: TestClient) -> None:
    @app.post("/length")
    def measure(raw: RawForm) -> int:
        return len(raw["note"])

    size = MOST_BODY_BYTES - 1000
    assert client.post("/length", data={"note": "x" * size}).json() == size


def test_our_own_mistake_shows_no_trace_and_keeps_the_policy(app: FastAPI, client: TestClient) -> None:
    @app.get("/broken")
    def fail() -> None:
        raise LookupError("the secret inner word")

    answer = client.get("/broken")
    assert answer.status_code == 500
    assert "secret inner word" not in answer.text
    assert "Traceback" not in answer.text
    assert "What was saved before is safe" in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["cache-control"] == "no-store"

"""Templates and macros: everything escaped, nothing inline, every state told in words."""

import re
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Annotated

import pytest
from jinja2 import UndefinedError

from webapp.charts import Axis, Chart, Column, Line, Table
from webapp.forms.kit import Ask, Choice, Doubtful, Form, Units, blank_form, read_form
from webapp.resources import static_folder, templates_folder
from webapp.security import own_path
from webapp.templating import Saved, Shell, Undo, environment, page, render, theme_of

SCRIPT = "<script>alert(1)</script>\"'"
ESCAPED = "&lt;script&gt;alert(1)&lt;/script&gt;"
SHELL = Shell("Shed & Sons", datetime(2026, 3, 3, 11, 38, tzinfo=UTC), here="plan", path="/plan?a=1&b=2")
FORM = '{% from "parts/_form.html" import form, fields, actions %}'
PIECES = '{% from "parts/_pieces.html" import caution, tag, figure, empty, scale, run_clock, slider %}'


class Everything(Form):
    """Each kind of field once."""

    name: Annotated[str, Ask("Name", help="At the bench")]
    size_m: Annotated[float, Ask("Size", quantity="length")]
    heat_K: Annotated[float, Ask("Heat", quantity="temperature", kind="stepper", step=5)]
    soak_s: Annotated[Doubtful, Ask("Soak", quantity="duration")]
    few: Annotated[str, Ask("Few", choices=tuple(Choice(c, c) for c in "ab"))]
    many: Annotated[str, Ask("Many", choices=tuple(Choice(c, c) for c in "abcdefg"))]
    full: Annotated[bool, Ask("Full?")]
    at: Annotated[datetime, Ask("At")]
    secret: Annotated[str, Ask("", kind="hidden")] = "x"
    note: Annotated[str, Ask("Notes", kind="notes", folded=True)] = ""


class Tags(HTMLParser):
    """Collects the tags of a page with their attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))

    def ids(self) -> list[str]:
        return [attributes["id"] or "" for _, attributes in self.found if "id" in attributes]


def drawn(source: str, **context) -> str:
    return environment().from_string(source).render(**context)


def form_text(state) -> str:
    body = '{% call form(s, "/save", "thing-1") %}{{ fields(s) }}{{ actions("Save it") }}{% endcall %}'
    return drawn(FORM + body, s=state)


def refused(**raw: str):
    return read_form(Everything, raw, Units())


def test_what_is_typed_is_escaped_in_every_kind_of_field():
    raw = dict.fromkeys(Everything.model_fields, SCRIPT)
    text = form_text(refused(**raw))
    assert "<script" not in text
    assert text.count(ESCAPED) >= 6
    assert all(not name.startswith("on") for _, attributes in Tags(text).found for name in attributes)


def test_every_input_has_a_label_and_every_description_exists():
    text = form_text(refused(size_m="x", note="y"))
    tags = Tags(text)
    labelled = {a["for"] for tag, a in tags.found if tag == "label" and "for" in a}
    for tag, attributes in tags.found:
        if tag in ("input", "select", "textarea") and attributes.get("type") not in (
            "hidden",
            "radio",
            "checkbox",
        ):
            assert attributes["id"] in labelled or attributes.get("aria-label"), attributes
    described = [a["aria-describedby"] for _, a in tags.found if a.get("aria-describedby")]
    assert described
    assert {part for ids in described for part in (ids or "").split()} <= set(tags.ids())
    assert len(tags.ids()) == len(set(tags.ids()))


def test_a_refused_form_says_so_on_top_with_a_link_to_each_field():
    state = refused(size_m="x")
    text = form_text(state)
    assert text.index("Not saved yet") < text.index("<form")
    assert 'aria-invalid="true"' in text
    assert "data-answered" in text
    links = {a["href"] for tag, a in Tags(text).found if tag == "a"}
    assert links == {f"#{view.name}" for view in state.wrong}
    assert {link[1:] for link in links if link} <= set(Tags(text).ids())


def test_folded_fields_open_when_one_of_them_is_wrong():
    assert '<details class="more">' in form_text(refused())
    assert '<details class="more" open>' in form_text(refused(note="\x00"))


def test_numbers_are_text_fields_with_a_decimal_pad():
    tags = Tags(form_text(blank_form(Everything, Units()))).found
    numbers = [a for tag, a in tags if tag == "input" and a.get("inputmode") == "decimal"]
    assert [a["name"] for a in numbers] == ["size_m", "heat_K", "soak_s"]
    assert all("type" not in a for a in numbers)


def test_few_choices_are_big_buttons_and_many_a_list():
    tags = Tags(form_text(blank_form(Everything, Units()))).found
    assert sum(a.get("name") == "few" and a.get("type") == "radio" for _, a in tags) == 2
    assert [a["name"] for tag, a in tags if tag == "select"] == ["many"]


def test_a_form_carries_its_one_use_id_its_version_and_its_drafts_name():
    state = replace(blank_form(Everything, Units()), version=4)
    tags = Tags(form_text(state)).found
    hidden = {a["name"]: a["value"] for _, a in tags if a.get("type") == "hidden"}
    assert hidden == {"form_id": state.form_id, "version": "4", "secret": "x"}
    form = next(a for tag, a in tags if tag == "form")
    assert (form["action"], form["hx-post"], form["method"], form["data-draft"]) == (
        "/save", "/save", "post", "thing-1",
    )  # fmt: skip


def test_a_page_has_one_title_its_place_in_the_navigation_and_a_way_past_it():
    message = {
        "title": "Nothing here",
        "what": "No",
        "advice": "Go",
        "back": "/",
        "back_words": "Back",
        "kind": "warn",
        "send_to": "",
    }
    text = bytes(page("pages/message.html", SHELL, 404, message=message).body).decode()
    tags = Tags(text).found
    assert [tag for tag, _ in tags].count("h1") == 1
    assert [a["href"] for tag, a in tags if a.get("aria-current") == "page"] == ["/plans"]
    assert any(tag == "a" and a["href"] == "#main" for tag, a in tags)
    assert "<title>Nothing here · Shed &amp; Sons</title>" in text
    assert "Invented demo shop" not in text
    assert 'value="/plan?a=1&amp;b=2"' in text


def test_the_demo_the_saved_line_and_the_undo_are_on_the_page():
    shell = replace(
        SHELL, is_demo=True, saved=Saved("14:02", "box-new"), undo=Undo("Box removed", "/undo/3", "abc")
    )
    message = {
        "title": SCRIPT,
        "what": "No",
        "advice": "Go",
        "back": "/",
        "back_words": "Back",
        "kind": "stop",
        "send_to": "",
    }
    text = render("pages/message.html", shell=shell, message=message)
    assert "Invented demo shop: nothing here is a real result." in text
    assert 'data-saved-draft="box-new"' in text
    assert 'action="/undo/3"' in text
    assert "<script>alert" not in text


def test_a_page_is_not_kept_by_any_cache():
    message = dict.fromkeys(("title", "what", "advice", "back", "back_words", "send_to"), "") | {
        "kind": "note"
    }
    answer = page("pages/message.html", SHELL, 409, message=message)
    assert answer.status_code == 409
    assert answer.headers["cache-control"] == "no-store"
    assert "HX-Request" in answer.headers["vary"]


def test_a_missing_name_is_an_error_and_not_a_blank():
    with pytest.raises(UndefinedError):
        drawn("{{ nothing }}")


def test_state_is_told_by_word_and_shape():
    shapes = {
        look: drawn(PIECES + "{{ tag('x', look) }}", look=look) for look in ("hot", "wait", "done", "bad", "")
    }
    drawings = {re.search(r"<svg.*?</svg>", text, re.DOTALL)[0] for text in shapes.values()}
    assert len(drawings) == len(shapes)
    assert all("x</span>" in text for text in shapes.values())


def test_a_caution_carries_an_icon_its_title_and_its_why():
    text = drawn(PIECES + "{% call caution('Hot oil', 'stop') %}<p>{{ why }}</p>{% endcall %}", why=SCRIPT)
    assert "<svg" in text
    assert "<strong>Hot oil</strong>" in text
    assert ESCAPED in text


def test_a_run_clock_shows_its_time_without_script():
    at = datetime(2026, 3, 3, 13, 20, tzinfo=UTC)
    text = drawn(PIECES + "{{ run_clock('1:42', until=at) }}", at=at)
    assert 'data-until="2026-03-03T13:20:00+00:00"' in text
    assert ">1:42<" in text


def test_the_scale_of_a_batch_marks_the_present_step():
    text = drawn(PIECES + "{{ scale(['planned', 'in the fire', 'cooling'], 1) }}")
    assert '<li aria-current="step">in the fire</li>' in text
    assert '<li class="past">planned</li>' in text


def test_a_chart_is_data_that_cannot_break_out_of_its_script_and_has_its_table():
    line = Line("</script><b>", (0.0, 1.0), (1.0, None))
    table = Table("Case", (Column("Depth"),), (("<0.1",),))
    made = Chart("case", "Case", "Falls.", Axis("Depth"), Axis("HV"), table, lines=(line,))
    text = drawn('{% from "parts/_chart.html" import chart %}{{ chart(c) }}', c=made)
    assert text.count("</script>") == 1
    assert '<td class="number">&lt;0.1</td>' in text


def test_both_versions_of_a_record_are_shown_and_the_difference_told_in_words():
    rows = [{"label": "Name", "mine": SCRIPT, "theirs": "", "differs": True}]
    text = drawn('{% from "parts/_bars.html" import conflict %}{{ conflict(r, "14:02", "/x") }}', r=rows)
    assert "Changed meanwhile" in text
    assert "(differs)" in text
    assert ESCAPED in text
    assert "<dd>blank</dd>" in text


TEMPLATES = sorted(templates_folder().rglob("*.html"))


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_no_template_holds_inline_style_or_script(template: Path):
    text = template.read_text(encoding="utf-8")
    assert not re.search(r"\sstyle\s*=|<style|\son[a-z]+\s*=\s*[\"']|javascript:", text)
    for attributes in re.findall(r"<script([^>]*)>", text):
        assert "src=" in attributes or "application/json" in attributes


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_only_our_own_drawings_go_unescaped(template: Path):
    unescaped = re.findall(r"\|\s*safe\b|autoescape\s+false", template.read_text(encoding="utf-8"))
    assert len(unescaped) == (1 if template.name == "_icons.html" else 0)


def test_every_asset_that_a_template_names_exists():
    for template in TEMPLATES:
        for named in re.findall(r"asset\(['\"]([^'\"~]+)['\"]\)", template.read_text(encoding="utf-8")):
            assert (static_folder() / named).is_file(), named


def test_every_script_is_asked_for_by_the_frame_or_by_a_page_that_needs_it():
    frame = (templates_folder() / "base.html").read_text(encoding="utf-8")
    pages = "".join(template.read_text(encoding="utf-8") for template in TEMPLATES)
    for script in static_folder().glob("js/*.js"):
        assert f'"{script.stem}"' in frame or f"js/{script.name}" in pages, script.name


@pytest.mark.parametrize(
    ("cookie", "theme"), [("night", "night"), ("day", "day"), (None, "system"), ("x", "system")]
)
def test_the_theme_is_one_of_ours(cookie, theme):
    assert theme_of(cookie) == theme


@pytest.mark.parametrize("path", ["//evil.example", "/\\evil.example", "https://evil.example", "", "/a\nb"])
def test_the_way_back_after_the_theme_never_leads_out(path):
    assert own_path(path) == "/"


def test_the_theme_is_kept_and_the_page_comes_back(client):
    answer = client.post("/theme", data={"theme": "night", "back": "/plan?x=1"})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/plan?x=1"
    assert "theme=night" in answer.headers["set-cookie"]

"""What a slip, a confused browser or a stranger may put into a field: strategies of hypothesis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from hypothesis import strategies as st

from tests.abuse.page_walk import Field, Form

HANDLER, SUM = "onzq=", "zq16807"  # neither may ever stand in a page, bare in an attribute or worked out
MARKUP = (
    "<zqx>",
    "<zqx onload=alert(1)>",
    "</textarea></title><zqx>",
    "</script><zqx>",
    "]]><zqx>",
    "<!--<zqx>-->",
    "\"><zqx> '><zqx>",
    '" onzq="1',
    "' onzq='1",
    "`onzq=1`",
    "zq{{7**5}} zq${7**5} zq{% print(7**5) %}",
    "javascript:zqx()",
    "&lt;zqx&gt; &#60;zqx&#62;",
)
NUMBERS = (
    *("nan", "NaN", "-nan", "inf", "-inf", "Infinity", "1e999", "-1e999", "1e308", "1e-320", "0", "-0", "-1"),
    *("0.0000001", "-273.16", "9" * 400, "1,000,000", "1.5.5", "1/0", "0/0", "1/4 in", "1 1/2", "0x10"),
    *(
        "1_000",
        "٣٤",
        "１２",
        "²",
        "½",
        "−5",
        "+5",
        ".5",
        "5.",
        "5 mm mm",
        "1e5 mm",
        "1700 F",
        "3 days",
        "1:75",
    ),
    *(
        "400 h",
        "12 furlong",
        "%",
        "5 %",
        "1e",
        "e5",
        "--5",
        "5-",
        "1 000",
        "1\u00a0000",
        "true",
        "null",
        "[]",
    ),
)
MOMENTS = (
    *("2026-02-30", "0001-01-01T00:00", "9999-12-31T23:59", "0000-00-00", "10000-01-01", "-2026-01-01"),
    *("2026-03-29T02:30", "2026-10-25T02:30", "2026-04-03T25:00", "2026-04-03T12:02:60", "24:00", "12:60"),
    *("2026-04-03T12:02Z", "2026-04-03T12:02+99:99", "1969-12-31T23:59", "٢٠٢٦-٠٤-٠٣", "3.4.2026", "T", "12"),
)
IDS = (
    "0",
    "-1",
    "1",
    "2",
    "3",
    "7",
    "999999",
    "9" * 19,
    "9" * 40,
    "1e3",
    "1.0",
    "٣",
    " 1",
    "1;2",
    "None",
    "../1",
)
TEXTS = (
    *("", " ", "\t", "\n", "\r\n", "a\nb", "a" * 300, "Ω" * 2500, "x" * 20_000, "\x00", "a\x00b", "\x1b[31m"),
    *(
        "\ud800",
        "a\udfffb",
        "\ufffe",
        "\u202eabc\u202c",
        "ع\u0301ب",
        "e" + "\u0301" * 400,
        "👩‍👩‍👧‍👦",
        "𝕬",
        "ﷺ" * 50,
    ),
    *(
        "\u200b",
        "\u00ad",
        "\ufeff",
        "\u2028",
        "=1+1",
        "@SUM(A1)",
        "+cmd|' /C calc'!A0",
        "' OR 1=1 --",
        "%00",
        "%s",
    ),
    *(
        '"; DROP TABLE batch; --',
        "../../etc/passwd",
        "//evil.example",
        "C:\\nul",
        "${HOME}",
        "\\",
        "'",
        '"',
        "&amp;",
    ),
)
ODD_IDS = st.sampled_from(IDS)
ANY_TEXT = st.one_of(
    st.sampled_from(TEXTS),
    st.text(st.characters(), max_size=40),
    st.text(st.characters(categories=["Mn", "Cf", "Cc", "Cs", "Co", "Nd", "Sm"]), max_size=12),
)
ANY_NUMBER = st.one_of(
    st.sampled_from(NUMBERS),
    st.floats().map(repr),
    st.floats(-10.0, 2000.0).map("{:.4g}".format),
    st.integers(-5, 2000).map(str),
    st.integers().map(str),
)
ANY_MOMENT = st.one_of(
    st.sampled_from(MOMENTS), st.datetimes().map(lambda at: at.isoformat()[:16]), st.dates().map(str)
)
ANYTHING = st.one_of(st.sampled_from(MARKUP), ANY_NUMBER, ANY_TEXT, ANY_MOMENT, ODD_IDS)


VERSIONS = st.sampled_from(("0", "1", "2", "999999999", "-1", "1e9", "", "٣"))
OTHER_RECORDS = st.sampled_from(("0", "1", "2", "999999", "9" * 19, "-1", "x"))


@dataclass(frozen=True)
class Slip:
    """What is done to one field, whichever it is: how it is sent, and what is in it."""

    place: int
    how: int
    own_kind: bool
    number: str
    moment: str
    record: str
    version: str
    anything: str

    def text_for(self, one: Field) -> str:
        """Return what is put into a field: mostly what is wrong in the field's own way."""
        if one.offered and self.how > 4:
            return one.offered[self.place % len(one.offered)]
        if not self.own_kind:
            return self.anything
        if one.name == "version":
            return self.version
        if one.offered or one.name.endswith("_id"):
            return self.record
        return self.moment if one.kind in ("date", "time", "datetime-local") else self.number


@dataclass(frozen=True)
class Abuse:
    """All that is done to one form: slips, a field too many, the address of another record."""

    slips: list[Slip]
    everywhere: bool
    stranger: tuple[str, str] | None
    other_record: str | None
    by_htmx: bool

    def of(self, form: Form) -> list[tuple[str, str]]:
        """Return the fields of a form as they are sent; what no slip touches is as the page offers it."""
        names = [name for name in form.fields if name != "form_id"]
        pairs = {name: list(one.sent) for name, one in form.fields.items() if one.sent}
        for place, slip in enumerate(self.slips * len(names) if self.everywhere else self.slips):
            if not names:
                break
            name = names[(place if self.everywhere else slip.place) % len(names)]
            text = slip.text_for(form.fields[name])
            pairs[name] = [] if slip.how == 0 else [slip.anything, text] if slip.how == 1 else [text]
        if self.stranger:
            pairs[self.stranger[0]] = [self.stranger[1]]
        return [(name, text) for name, texts in pairs.items() for text in texts]

    def address(self, form: Form) -> str:
        """Return where a form is sent, now and then about another record or one that there cannot be."""
        steps = form.action.split("/")
        numbered = [place for place, step in enumerate(steps) if step.isdecimal()]
        if self.other_record is None or not numbered:
            return form.action
        steps[numbered[-1]] = self.other_record
        return "/".join(steps)


def _seldom(strategy: st.SearchStrategy[Any], one_in: int) -> st.SearchStrategy[Any]:
    return st.integers(1, one_in).flatmap(lambda drawn: strategy if drawn == one_in else st.none())


SLIPS = st.builds(
    Slip,
    st.integers(0, 999),
    st.integers(0, 9),
    st.booleans(),
    ANY_NUMBER,
    ANY_MOMENT,
    ODD_IDS,
    VERSIONS,
    ANYTHING,
)
ABUSE = st.builds(
    Abuse,
    slips=st.lists(SLIPS, max_size=3),
    everywhere=st.integers(0, 7).map(lambda drawn: drawn == 7),
    stranger=_seldom(st.tuples(ANY_TEXT, ANYTHING), 16),
    other_record=_seldom(OTHER_RECORDS, 10),
    by_htmx=st.booleans(),
)


def encoded(pairs: list[tuple[str, str]]) -> str:
    """Write fields as a browser does; half a character goes as the bytes that a broken one would send."""
    return urlencode(
        [
            (name.encode("utf-8", "surrogatepass"), text.encode("utf-8", "surrogatepass"))
            for name, text in pairs
        ]
    )

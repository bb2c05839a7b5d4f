"""Chart values: what cannot be drawn is refused, what can be is carried whole."""

import json

import pytest

from webapp.charts import Axis, Band, Chart, Column, Line, Points, Rule, Table

NAN = float("nan")


def chart_of(**parts) -> Chart:
    table = Table("Case", (Column("Depth, mm"), Column("Hardness, HV")), (("0.1", "800"),))
    return Chart("case", "Case", "Falls.", Axis("Depth", "mm"), Axis("Hardness", "HV"), table, **parts)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Line("a", (0.0, 1.0), (1.0,)),
        lambda: Line("a", (0.0, NAN), (1.0, 2.0)),
        lambda: Band("a", (0.0,), (1.0,), (float("inf"),)),
        lambda: Points("a", (0.0, 1.0), (1.0, 2.0), low=(1.0,)),
        lambda: Points("a", (0.0,), (1.0,), words=("one", "two")),
        lambda: Rule("a", NAN),
        lambda: Table("a", (Column("b"),), (("1", "2"),)),
    ],
)
def test_what_cannot_be_drawn_is_refused(make):
    with pytest.raises(ValueError, match="a: "):
        make()


def test_a_payload_is_json_with_gaps_and_without_the_table():
    made = chart_of(lines=(Line("here", (0.0, 1.0), (None, 2.0)),), rules=(Rule("550 HV", 550.0),))
    payload = json.loads(json.dumps(made.payload, allow_nan=False))
    assert payload["lines"][0]["y"] == [None, 2.0]
    assert payload["rules"][0] == {"words": "550 HV", "at": 550.0, "across": "y", "tone": "ember"}
    assert "table" not in payload


def test_the_key_names_each_series_that_wants_a_name_once():
    made = chart_of(
        lines=(Line("here", (0.0,), (1.0,)), Line("draw 3", (0.0,), (1.0,), named=False)),
        bands=(Band("give or take", (0.0,), (1.0,), (2.0,)),),
        points=(Points("readings", (0.0,), (1.0,)),),
    )
    assert [(mark.name, mark.kind) for mark in made.legend] == [
        ("here", "line"), ("give or take", "band"), ("readings", "points"),
    ]  # fmt: skip

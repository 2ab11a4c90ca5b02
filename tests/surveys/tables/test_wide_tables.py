"""Wide tables, and columns matched by hand: parsed, imported, told when they lack something."""

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from apps.common.tables.reading import UnreadableTable
from apps.surveys.recording import rows_of
from apps.surveys.tables.importing import UnsureColumns, parse_table
from apps.surveys.tables.wide_tables import unfold_wide
from tests.factories import make_survey
from tests.surveys.tables.test_importing import SURVEY, TABLE_TEXT

WANTED = {(10, 8, 5, 180), (30, 8, 5, 468.5), (10, 24, 5, 210), (10, 8, 20, 90), (30, 8, 20, 120)}
WIDE = {
    "semicolons": "depth;5 cm\n;10;30\n8;180;468,5\n24;210;\n\ndepth;20 cm\n;10;30\n8;90;120\n",
    "commas": "Depth (cm),5\ny \\ x,10,30\n8,180,468.5\n24,210,\nDepth (cm),20\n,10,30\n8,90,120",
    "tabs": "z = 5\t\t\n\t10\t30\n8\t180\t468.5\n24\t210\t\n\nz = 20\n\t10\t30\n8\t90\t120",
    "millimetres": "depth: 50 mm\nmm;100;300\n80;180;468,5\n240;210;\n"
    "depth: 200 mm\nmm;100;300\n80;90;120",
    "quotes and returns": '"depth";"5"\r\n"";"10";"30"\r\n"8";"180";"468,5"\r\n"24";"210";""\r\n'
    "depth 20 cm\r\n;10;30\r\n8;90;120\r\n",
}


def points(text):
    parsed = parse_table(unfold_wide(text), survey=SURVEY, unit="cm")
    assert not parsed.bad
    return {(r.row.x_cm, r.row.y_cm, r.row.depth_cm, r.row.value_umol) for r in parsed.good}


@pytest.mark.parametrize("text", WIDE.values(), ids=WIDE.keys())
def test_the_same_wide_table_in_many_forms(text):
    assert points(text) == WANTED


@pytest.mark.parametrize(
    "text", ["x,y,depth,par\n1,2,3,4", "10;8;5;180\n30;8;5;90", "", "depth 5\n1;2;3", "depth\n;1;2"]
)
def test_other_tables_are_left_alone(text):
    assert unfold_wide(text) is None


def test_a_bad_value_and_a_stray_line_are_told_in_place():
    text = "Saturday\ndepth;5\n;10;30\n8;180;bright\n"
    parsed = parse_table(unfold_wide(text), survey=SURVEY, unit="cm")
    assert [line.text for line in parsed.bad] == ["30;8;5;bright", "Saturday"]


@given(text=TABLE_TEXT | st.text())
def test_any_text_unfolds_or_is_left_alone(text):
    long = unfold_wide(f"depth;5\n;10;30\n8;1;2\n{text}")
    try:
        parse_table(long or text, survey=SURVEY, unit="cm")
    except UnreadableTable as problem:
        assert str(problem)


def test_matched_by_hand_any_order_and_headings_units():
    text = "how far (in);wie tief;quer;licht\n1;5;10;180"
    match = {"y": 0, "depth": 1, "x": 2, "par": 3}
    row = parse_table(text, survey=SURVEY, unit="cm", match=match).good[0].row
    assert (row.x_cm, row.y_cm, row.depth_cm, row.value_umol) == (10, 2.54, 5, 180)


def test_a_match_without_a_header_reads_the_first_line_too():
    match = {"par": 0, "x": 1, "y": 2, "depth": 3}
    parsed = parse_table("180;10;8;5\n90;30;8;5", survey=SURVEY, unit="cm", match=match)
    assert [line.row.value_umol for line in parsed.good] == [180, 90]


def test_a_match_that_lacks_a_column_is_told():
    with pytest.raises(UnsureColumns, match="depth and par"):
        parse_table("1;2;3;4", survey=SURVEY, unit="cm", match={"x": 0, "y": 1})


@pytest.fixture
def survey(tank):
    return make_survey(tank, readings=[])


def post(client, survey, **data):
    form = {"text": "", "bad": "", "unit": "cm", "how": "add", "version": "0"} | data
    return client.post(reverse("survey_import", args=[survey.pk]), form)


def test_an_unsure_header_asks_and_the_answer_imports(as_user, owner, survey):
    client, text = as_user(owner), "quer;front;wie tief;PAR\n10;8;5;180"
    response = post(client, survey, text=text)
    page = response.content.decode()
    assert response.status_code == 422 and 'name="column2"' in page and "wie tief" in page
    said = {"column0": "x", "column1": "y", "column2": "depth", "column3": "par"}
    shown = post(client, survey, text=text, check="1", **said).content.decode()
    assert 'data-good="1"' in shown
    post(client, survey, text=text, **said, **{"import": "1"})
    assert rows_of(survey)[0].depth_cm == 5


def test_a_wide_table_imports_and_is_seen_on_the_plan(as_user, co_keeper, survey):
    client, text = as_user(co_keeper), WIDE["semicolons"]
    page = post(client, survey, text=text, check="1").content.decode()
    assert 'data-good="5"' in page and page.count("point-dot--read") == 7
    post(client, survey, text=text, **{"import": "1"})
    assert len(rows_of(survey)) == 5


TITLED = {
    "a bare length": "5 cm\n;10;30\n8;180;468,5\n24;210;\n\n20 cm\n;10;30\n8;90;120\n",
    "deep": "5 cm deep\n;10;30\n8;180;468,5\n24;210;\n20 cm deep\n;10;30\n8;90;120\n",
    "below the surface": "PAR at 5 cm below the surface\n;10;30\n8;180;468,5\n24;210;\n"
    "PAR at 20 cm below the surface\n;10;30\n8;90;120\n",
    "in the corner": "depth 5 cm;10;30\n8;180;468,5\n24;210;\n\ndepth 20 cm;10;30\n8;90;120\n",
    "in the corner, bare": "5 cm;10;30\n8;180;468,5\n24;210;\n\n20 cm;10;30\n8;90;120\n",
}


@pytest.mark.parametrize("text", TITLED.values(), ids=TITLED.keys())
def test_a_grid_titled_by_its_depth_in_other_words(text):
    assert points(text) == WANTED

"""One typed row: what is read, what is told, what stays."""

import pytest

from apps.surveys.recording import ReadingRow
from apps.surveys.tables.typed_rows import TypedRow, read_row, typed_from
from tests.factories import make_survey
from tests.surveys.bad_rows import BAD_ROWS, ODD_ROWS


@pytest.fixture
def survey(tank):
    return make_survey(tank, readings=[])


@pytest.mark.parametrize(("cells", "at", "problem"), BAD_ROWS)
def test_bad_row_is_told_at_its_cell(survey, cells, at, problem):
    row = read_row(TypedRow(**cells), survey=survey, unit="cm")
    assert row.reading is None and list(row.errors) == [at]
    assert problem in row.errors[at]


def test_a_rows_problem_names_its_column_once(survey):
    for par in ("-5", "bright"):
        row = TypedRow(x="30", y="5", depth="5", par=par)
        row.errors = read_row(row, survey=survey, unit="cm").errors
        assert row.problem().startswith("PAR") and row.problem().count("PAR") == 1


@pytest.mark.parametrize(("cells", "value"), ODD_ROWS)
def test_odd_row_is_read(survey, cells, value):
    row = read_row(TypedRow(**cells), survey=survey, unit="cm")
    assert row.errors == {} and row.reading.value_umol == value


def test_sentence_names_the_tank_in_the_keepers_unit(survey):
    row = TypedRow(x="30", y="5", depth="5", par="100")
    assert "0 to 23 5/8 in" in read_row(row, survey=survey, unit="in").errors["x"]


def test_untouched_cells_keep_their_exact_number(survey):
    stored = ReadingRow(x_cm=30.0, y_cm=20.0, depth_cm=10.0, value_umol=150.123456789)
    shown = typed_from(stored, unit="in")
    shown.par = "140"
    row = read_row(shown, survey=survey, unit="in", stored={shown.client_id: stored})
    assert (row.reading.x_cm, row.reading.value_umol) == (30.0, 140.0)


def test_a_mark_that_is_none_is_replaced(survey):
    assert TypedRow(client_id="'; drop").client_id != TypedRow(client_id="'; drop").client_id

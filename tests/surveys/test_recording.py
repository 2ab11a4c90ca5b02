"""Saving readings as a whole: versions, undo, replays, refusals."""

import uuid
from dataclasses import replace

import pytest
from django.core.exceptions import ValidationError
from django.http import Http404

from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.models import Reading, Survey
from apps.surveys.recording import (
    InvalidRows,
    NothingToUndo,
    ReadingRow,
    StaleSurvey,
    rows_of,
    save_readings,
    undo_last_save,
)
from tests.factories import make_survey, make_tank
from tests.surveys.bad_rows import BAD_NUMBERS, GOOD_NUMBERS


@pytest.fixture
def survey(tank):
    return make_survey(tank, readings=[])


def some_rows(*values):
    return [
        ReadingRow(x_cm=10.0 + i, y_cm=20.0, depth_cm=5.0, value_umol=float(value))
        for i, value in enumerate(values)
    ]


def save(survey, rows, *, expected=0):
    return save_readings(survey=survey, rows=rows, expected_version=expected, by=survey.tank.owner)


def values(survey):
    return [row.value_umol for row in rows_of(survey)]


def test_rows_are_stored_in_their_order(survey):
    rows = some_rows(3, 1, 2)
    assert save(survey, rows).version == 1
    assert rows_of(survey) == rows


def test_sending_twice_stores_once(survey):
    rows = some_rows(100, 200)
    save(survey, rows)
    assert save(survey, rows).version == 1
    assert survey.readings.count() == 2 and survey.revisions.count() == 1


def test_a_survey_that_is_gone_meanwhile_is_not_there(survey):
    rows = some_rows(100)
    Survey.objects.filter(pk=survey.pk).delete()
    with pytest.raises(Http404):
        save(survey, rows)
    with pytest.raises(Http404):
        undo_last_save(survey=survey, by=survey.tank.owner)


def test_editing_a_row_keeps_its_reading(survey):
    rows = some_rows(100, 200)
    save(survey, rows)
    before = survey.readings.get(client_id=rows[0].client_id).pk
    save(survey, [replace(rows[0], value_umol=150.0)], expected=1)
    assert survey.readings.get().pk == before and values(survey) == [150.0]


def test_a_stale_save_writes_nothing(survey):
    save(survey, some_rows(100))
    with pytest.raises(StaleSurvey) as stale:
        save(survey, some_rows(999), expected=0)
    assert stale.value.survey.version == 1 and values(survey) == [100.0]


def test_undo_brings_back_what_stood_and_again_what_was_undone(survey):
    save(survey, some_rows(100))
    save(survey, some_rows(200, 300), expected=1)
    undo_last_save(survey=survey, by=survey.tank.owner)
    assert values(survey) == [100.0]
    undo_last_save(survey=survey, by=survey.tank.owner)
    assert values(survey) == [200.0, 300.0]


def test_undo_of_a_passed_save_is_refused(survey):
    save(survey, some_rows(100))
    save(survey, some_rows(200), expected=1)
    with pytest.raises(StaleSurvey):
        undo_last_save(survey=survey, by=survey.tank.owner, expected_version=1)
    assert values(survey) == [200.0]


def test_nothing_to_undo(survey):
    with pytest.raises(NothingToUndo):
        undo_last_save(survey=survey, by=survey.tank.owner)


def test_undo_brings_back_readings_of_a_tank_that_shrank(survey):
    save(survey, some_rows(100))
    save(survey, [], expected=1)
    survey.tank.length_cm = 10
    survey.tank.save()
    undo_last_save(survey=survey, by=survey.tank.owner)
    assert values(survey) == [100.0]


@pytest.mark.parametrize("change", BAD_NUMBERS)
def test_bad_numbers_are_refused_by_name_and_nothing_is_saved(survey, change):
    rows = [*some_rows(100), ReadingRow(**GOOD_NUMBERS | change)]
    with pytest.raises(InvalidRows) as invalid:
        save(survey, rows)
    assert list(invalid.value.by_row) == [1] and list(invalid.value.by_row[1]) == list(change)
    assert survey.readings.count() == 0


@pytest.mark.parametrize("change", BAD_NUMBERS)
def test_the_model_itself_refuses_bad_numbers(survey, change):
    reading = Reading(survey=survey, position=1, **GOOD_NUMBERS | change)
    with pytest.raises(ValidationError) as problem:
        reading.full_clean()
    assert next(iter(change)) in problem.value.message_dict


def test_a_mark_of_another_survey_leaves_that_one_alone(survey):
    other = make_survey(make_tank())
    taken = other.readings.first()
    save(survey, [replace(some_rows(5)[0], client_id=taken.client_id)])
    before = taken.value_umol
    taken.refresh_from_db()
    assert (taken.survey_id, taken.value_umol) == (other.pk, before) and values(survey) == [5.0]


def test_undo_does_not_reach_into_another_survey(survey):
    mark = uuid.uuid4()
    mine = save(survey, [replace(some_rows(5)[0], client_id=mark)])
    save(survey, some_rows(7), expected=mine.version)
    other = make_survey(survey.tank, readings=[])
    save(other, [replace(some_rows(9)[0], client_id=mark)])
    undo_last_save(survey=survey, by=survey.tank.owner)
    assert values(survey) == [5.0] and values(other) == [9.0]


def test_a_mark_twice_in_one_save_is_refused(survey):
    same = uuid.uuid4()
    with pytest.raises(InvalidRows) as invalid:
        save(survey, [replace(row, client_id=same) for row in some_rows(1, 2)])
    assert list(invalid.value.by_row) == [0, 1]


def test_a_full_survey_saves_and_one_more_is_refused(survey, django_assert_max_num_queries):
    rows = some_rows(*[7] * SURVEY_READINGS_MAX)
    rows = [replace(row, x_cm=10.0) for row in rows]
    # SQLite takes so many values at once: most of these are the rows, in pieces.
    with django_assert_max_num_queries(24):
        save(survey, rows)
    with pytest.raises(InvalidRows, match="1,000 readings at most"):
        save(survey, [*rows, *some_rows(8)], expected=1)
    assert survey.readings.count() == SURVEY_READINGS_MAX

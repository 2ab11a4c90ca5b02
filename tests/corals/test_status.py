"""Where a coral stands: its light against its band, and what is said without data."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.corals.coral.timeline import coral_timeline
from apps.corals.models import Band
from apps.corals.status import (
    FIRST_IN_NEED,
    OPEN_AT_MOST,
    CoralStatus,
    band_state,
    by_need,
    coral_statuses,
)
from apps.lightmap.lightmap import tank_light
from apps.lightmap.pins import BandState
from apps.lightmap.spot_light import SpotLight
from tests.factories import make_coral, make_light_change, make_note, make_survey, make_user

NOW = timezone.now()
BAND = Band(100.0, 200.0, "test")


def light(par, low, high):
    return SpotLight(par, low, high, False, None, 1, NOW, 0, False)


@pytest.mark.parametrize(
    ("found", "key", "words"),
    [
        (light(80, 70, 90), "below", "below its band"),
        (light(95, 80, 110), "below", "probably below its band"),
        (light(150, 120, 180), "within", "within its band"),
        (light(110, 90, 130), "within", "probably within its band"),
        (light(210, 180, 240), "above", "probably above its band"),
        (light(300, 250, 350), "above", "above its band"),
        (None, "unknown", "light unknown"),
    ],
)
def test_band_state_says_how_sure_it_is(found, key, words):
    state = band_state(found, BAND)
    assert (state.key, state.words) == (key, words)


def status_now(tank):
    (result,) = coral_statuses(tank, tank_light(tank), NOW)
    return result


def test_coral_without_spot_has_no_number_but_a_reason(tank):
    make_survey(tank)
    make_coral(tank, at_cm=None)
    result = status_now(tank)
    assert result.light is None and "where it sits" in result.rests_on


def test_tank_without_survey_says_so(tank):
    make_coral(tank)
    assert "No survey" in status_now(tank).rests_on


def test_what_the_light_rests_on_counts_changes(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=10))
    make_coral(tank)
    said = status_now(tank).rests_on
    assert said.startswith("predicted since ") and said.endswith("over one light change")


def test_days_since_note(tank):
    coral = make_coral(tank)
    make_note(coral, noted_on=tank.today() - dt.timedelta(days=9))
    make_note(coral, noted_on=tank.today() - dt.timedelta(days=4))
    assert status_now(tank).days_since_note == 4


def timeline_of(coral, notes=()):
    return coral_timeline(coral, tank_light(coral.tank), list(notes), now=NOW)


def test_timeline_steps_follow_change_and_move(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=100))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=50), factor=0.5)
    coral = make_coral(tank, since=tank.today() - dt.timedelta(days=90))
    coral.spots.create(x_cm=5, y_cm=5, depth_cm=40, since=tank.today() - dt.timedelta(days=20))
    steps = [s for s in timeline_of(coral).steps if s.light]
    pars = [s.light.par_umol for s in steps]
    assert len(steps) == 3
    assert pars[1] == pytest.approx(pars[0] / 2) and pars[2] < pars[1]


def test_survey_after_the_note_is_worked_back_and_says_so(as_user, owner, tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=2))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=30), factor=2.0)
    coral = make_coral(tank, since=tank.today() - dt.timedelta(days=60))
    make_note(coral, noted_on=tank.today() - dt.timedelta(days=40))
    page = as_user(owner).get(reverse("coral_detail", args=[coral.pk]))
    first = next(step for step in page.context["timeline"].steps if step.light)
    assert first.light.measured_later and first.rests_on in page.content.decode()


@pytest.mark.parametrize("measured", [True, False])
def test_coral_page_opens_without_spot_and_without_survey(as_user, owner, tank, measured):
    if measured:
        make_survey(tank)
    coral = make_coral(tank, at_cm=None)
    response = as_user(owner).get(reverse("coral_detail", args=[coral.pk]))
    assert response.status_code == 200


def test_note_can_be_edited_after_its_maker_left(tank):
    maker = make_user()
    note = make_note(make_coral(tank), created_by=maker)
    maker.delete()
    note.refresh_from_db()
    note.full_clean()
    assert note.created_by is None


def corals_in(tank, **numbers):
    """Return CoralStatuses of so many corals in each state."""
    coral = make_coral(tank)
    return [
        CoralStatus(coral, None, None, None, BandState(key, ""), "", None, None, None)
        for key, number in numbers.items()
        for _ in range(number)
    ]


def test_a_list_of_few_corals_stands_open(tank):
    groups = by_need(corals_in(tank, above=OPEN_AT_MOST - 4, within=4))
    assert not any(group.folds or group.rest for group in groups)


def test_of_many_corals_the_first_in_need_stand_open(tank):
    above, within = by_need(corals_in(tank, above=OPEN_AT_MOST - 3, within=4))
    assert len(above.first) == FIRST_IN_NEED and not above.folds
    assert above.first + above.rest == above.statuses
    assert within.folds and within.first == within.statuses

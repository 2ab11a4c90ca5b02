"""The review of a survey: disagreement, coverage, gain, change, shimmer, history; who may look."""

import datetime as dt
import json
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.surveys.models import Survey
from tests.factories import grid_readings, make_light_change, make_meter, make_rock, make_survey

pytestmark = pytest.mark.one_database

MONTH = dt.timedelta(days=30)


@pytest.fixture
def survey(tank):
    return make_survey(tank)


def review(client, survey, query=None):
    return client.get(reverse("survey_review", args=[survey.pk]), query)


def before(tank, share, **more):
    rows = [(x, y, d, v * share) for x, y, d, v in grid_readings(tank)]
    return make_survey(tank, readings=rows, taken_at=timezone.now() - MONTH, **more)


def test_sound_readings_are_said_to_fit(as_user, owner, survey):
    page = review(as_user(owner), survey)
    assert page.context["fitted"].field and not page.context["disagreeing"]
    assert page.context["to_check"] == 0
    assert 'id="disagreeing"' not in page.content.decode()


def test_a_check_of_two_readings_covers_what_the_survey_before_it_read(as_user, owner, tank):
    """The map rests on both: 27 readings at three depths, and the two of the check."""
    make_survey(tank, taken_at=timezone.now() - MONTH)
    alone = review(as_user(owner), tank.surveys.get()).context["covered"]
    two = make_survey(tank, readings=grid_readings(tank)[12:14])
    covered = review(as_user(owner), two).context["covered"]
    assert (covered.surveys, covered.readings, covered.depths) == (2, 29, 3)
    assert covered.far_cm == pytest.approx(alone.far_cm)
    assert covered.beyond_percent == pytest.approx(alone.beyond_percent)


@pytest.mark.parametrize(("count", "is_first"), [(27, True), (2, False)])
def test_only_a_survey_with_a_map_of_its_own_is_the_first(as_user, owner, tank, count, is_first):
    if not is_first:
        make_survey(tank, taken_at=timezone.now() - MONTH)
    survey = make_survey(tank, readings=grid_readings(tank)[:count])
    assert review(as_user(owner), survey).context["is_first"] == is_first


@pytest.mark.parametrize(("one_meter", "is_real"), [(True, True), (False, False)])
def test_one_meters_scale_cancels_in_what_changed(as_user, owner, tank, one_meter, is_real):
    """A tenth less light everywhere: of one meter it is real, of two it may be their scales."""
    meters = [make_meter(owner, uncertainty_percent=10) for _ in range(2)]
    before(tank, 1 / 0.8, meter=meters[0])
    now = make_survey(tank, meter=meters[0 if one_meter else 1])
    change = review(as_user(owner), now).context["change"]
    assert (change.dimmer_percent > 50) == is_real


def test_a_slipped_reading_is_named_with_what_was_expected(as_user, owner, tank):
    rows = grid_readings(tank)
    x, y, d, v = rows[13]
    rows[13] = (x, y, d, v * 4)
    disagreeing = review(as_user(owner), make_survey(tank, readings=rows)).context["disagreeing"]
    assert disagreeing[0].number == 14
    assert disagreeing[0].expected_umol == pytest.approx(v, rel=0.25)


def test_coverage_counts_depths_and_finds_the_farthest_spot(as_user, owner, tank):
    rows = [r for r in grid_readings(tank) if r[0] < 40]
    covered = review(as_user(owner), make_survey(tank, readings=rows)).context["covered"]
    assert covered.depths == 3 and 0 < covered.beyond_percent < 100
    # Read up to x = 30 of 60 cm: the farthest spot is at the right end.
    assert covered.far_x_cm == 60 and covered.far_cm > 30


def test_the_review_and_the_map_say_one_figure_beyond_the_readings(as_user, owner, tank):
    rows = [r for r in grid_readings(tank) if r[0] < 40]
    survey = make_survey(tank, readings=rows)
    client = as_user(owner)
    covered = review(client, survey).context["covered"]
    page = client.get(reverse("light_map", args=[tank.pk])).context["page"]
    assert page.beyond_percent == covered.beyond_percent


def test_both_pages_say_how_a_slipped_reading_differs_alike(as_user, owner, tank):
    rows = grid_readings(tank)
    x, y, d, v = rows[13]
    rows[13] = (x, y, d, v / 10)
    survey = make_survey(tank, readings=rows)
    client = as_user(owner)
    one = review(client, survey).context["disagreeing"][0]
    row = client.get(reverse("light_map", args=[tank.pk])).context["page"].worst[0]
    assert one.number == row.number == 14
    assert one.ratio == pytest.approx(row.ratio) == pytest.approx(0.1, rel=0.25)


def test_a_reading_inside_a_rock_is_one_to_check_too(as_user, owner, tank, survey):
    make_rock(tank, x_cm=0, y_cm=0, depth_cm=0, length_cm=20, width_cm=60, height_cm=50)
    context = review(as_user(owner), survey).context
    boxed = {one.number for one in context["within_rock"]}
    slipped = {one.number for one in context["disagreeing"]}
    assert boxed and context["to_check"] == len(boxed | slipped)


def test_spots_inside_rock_are_no_gap(as_user, owner, tank, survey):
    make_rock(tank, x_cm=0, y_cm=0, depth_cm=0, length_cm=20, width_cm=60, height_cm=50)
    assert review(as_user(owner), survey).context["covered"].far_x_cm >= 20


def test_three_more_points_make_the_map_surer_and_can_be_planned(as_user, owner, survey):
    client = as_user(owner)
    page = review(client, survey)
    gain = page.context["next"]
    assert len(gain.points) == 3 and gain.after_percent < gain.before_percent
    form = {"pattern": "suggested", "count": "3", "how": "add"}
    client.post(reverse("survey_plan", args=[survey.pk]), form)
    assert survey.planned_points.count() == 3


def test_a_dimmer_light_shows_as_real(as_user, viewer, tank, survey):
    before(tank, 1.5)
    shown = review(as_user(viewer), survey)
    change = shown.context["change"]
    assert change.middle == pytest.approx(1 / 1.5, rel=0.05)
    # The readings span some 70 % of the level; beyond them nothing is called sure.
    assert change.dimmer_percent > 60 and change.brighter_percent == 0


def test_the_same_light_again_is_noise(as_user, owner, tank, survey):
    before(tank, 1.01)
    change = review(as_user(owner), survey).context["change"]
    assert change.noise_percent == 100


def test_changes_noted_in_between_are_told(as_user, owner, tank, survey):
    before(tank, 1.2)
    make_light_change(tank, happened_at=timezone.now() - MONTH / 2, summary="New lenses")
    assert "New lenses" in review(as_user(owner), survey).content.decode()


def test_a_survey_of_one_channel_is_not_set_against_the_whole(as_user, owner, tank, survey):
    before(tank, 0.5, channel="blue")
    assert review(as_user(owner), survey).context["before"] is None
    part = Survey.objects.get(channel="blue")
    assert review(as_user(owner), part).status_code == 200


def test_the_survey_before_can_be_chosen(as_user, owner, tank, survey):
    old = before(tank, 2.0)
    Survey.objects.filter(pk=old.pk).update(taken_at=old.taken_at - MONTH)
    newer = before(tank, 1.2)
    client = as_user(owner)
    assert review(client, survey).context["before"] == newer
    assert review(client, survey, {"survey": old.pk}).context["before"] == old
    for odd in ("²", "999999", "-1"):
        assert review(client, survey, {"survey": odd, "depth": "deep"}).status_code == 200


def test_shimmer_is_drawn_in_percent_of_the_value(as_user, owner, survey):
    reading = survey.readings.first()
    reading.spread_umol = reading.value_umol / 4
    reading.save()
    page = review(as_user(owner), survey)
    assert [point.number for point in page.context["shimmer"]] == [25]
    assert '">25</text>' in page.content.decode()


def test_both_values_of_a_point_stay_in_the_history(as_user, owner, survey):
    client, point = as_user(owner), str(uuid.uuid4())
    for device, value in (("one", 111), ("two", 122)):
        edit = {
            "id": str(uuid.uuid4()), "point": point, "sequence": 1, "revision": 1, "x_cm": 10,
            "y_cm": 20, "depth_cm": 5, "value_umol": value, "spread_umol": None,
        }  # fmt: skip
        body = json.dumps({"keeper": owner.pk, "device": device, "edits": [edit]})
        client.post(reverse("survey_sync", args=[survey.pk]), body, content_type="application/json")
    (corrected,) = review(client, survey).context["corrected"]
    assert corrected.values == (111, 122) and corrected.standing.value_umol == 122


def test_a_survey_without_a_map_says_why(as_user, owner, tank):
    page = review(as_user(owner), make_survey(tank, readings=[])).content.decode()
    assert "no readings yet" in page


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_who_may_look(request, as_user, survey, who, status):
    response = review(as_user(request.getfixturevalue(who)), survey)
    assert response.status_code == status
    if who == "viewer":
        assert reverse("survey_enter", args=[survey.pk]) not in response.content.decode()

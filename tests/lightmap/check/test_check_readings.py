"""Check readings after a light change: when they are proposed, where, and what they changed."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lightmap.check import check_readings
from apps.lightmap.check.check_readings import (
    CheckOutcome,
    best_spots,
    check_outcome,
    check_proposal,
    is_uncertain,
    percent_words,
)
from apps.lightmap.lightmap import tank_light
from apps.lightmap.page.looks import half_width_percent
from apps.lightmap.pins import Pin
from apps.lightmap.plan_places import field_now, telling_places
from apps.photics.ground.scene import out_of_water
from apps.surveys.models import Survey
from apps.surveys.plan.patterns import Place
from tests.factories import (
    hang,
    make_coral,
    make_light_change,
    make_lit_survey,
    make_meter,
    make_rock,
    make_survey,
    make_survey_unlike_its_lamp,
)

NOW = timezone.now()


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def change_light(tank, days=5, **hung):
    """Hang the tank's panel otherwise, so many days ago."""
    change = make_light_change(
        tank, happened_at=days_ago(days), factor=1, summary="Raised", day_hours=None, ramp_hours=0
    )
    hang(change, tank.owner.fixtures.get(), **({"height_cm": 33, "beam_deg": 55} | hung))
    return change


def read(tank, places, **fields):
    """Read a survey of today at Places, half a tenth more light than any map foresees."""
    points = [(p.x_cm, p.y_cm, p.depth_cm) for p in places]
    par = [spot.par_umol for spot in tank_light(tank).at(points, NOW)]
    rows = [(*point, 1.05 * value) for point, value in zip(points, par, strict=True)]
    return make_survey(tank, **({"taken_at": days_ago(0), "readings": rows} | fields))


def mean_interval(tank, moment=NOW):
    """Return the mean half width of the intervals at the tank's corals [%]."""
    spots = [(s.x_cm, s.y_cm, s.depth_cm) for c in tank.corals.all() for s in c.spots.all()]
    lights = [one for one in tank_light(tank).at(spots, moment) if one is not None]
    return np.mean([half_width_percent(o.par_umol, o.low_umol, o.high_umol) for o in lights])


@pytest.fixture
def surveyed(tank):
    make_coral(tank, name="Under the panel", at_cm=(30, 30, 20))
    make_coral(tank, name="In the corner", at_cm=(8, 50, 38))
    return make_lit_survey(tank, taken_at=days_ago(20))


@pytest.fixture
def changed(tank, surveyed):
    """A panel surveyed 20 days ago over two corals, raised and given a lens 5 days ago."""
    return change_light(tank)


def test_nothing_is_proposed_where_nothing_changed(tank, surveyed):
    assert check_proposal(tank, NOW) is None


def test_two_or_three_spots_clear_of_glass_and_rock_are_proposed(tank, surveyed):
    make_rock(tank)
    change = change_light(tank)
    proposal = check_proposal(tank, NOW)
    assert [one.pk for one in proposal.changes] == [change.pk]
    assert 2 <= len(proposal.places) <= 3
    for place in proposal.places:
        at = (place.x_cm, place.y_cm, place.depth_cm)
        assert not out_of_water(tank.scene(), tank.scene_rocks(), *at)
        assert all(value == round(value) >= 3 for value in at)
        assert place.x_cm <= 57 and place.y_cm <= 57 and place.depth_cm <= 47


def test_half_width_before_is_that_of_the_intervals_at_the_corals(tank, changed):
    before = check_proposal(tank, NOW).spots.before_percent
    assert before == pytest.approx(mean_interval(tank), rel=1e-6)


def test_guessed_factor_and_meter_are_in_the_half_width(tank, owner, surveyed):
    surveyed.meter = make_meter(owner, uncertainty_percent=6)
    surveyed.save()
    make_light_change(tank, happened_at=days_ago(3), factor=0.8, reason="cleaned")
    spots = check_proposal(tank, NOW).spots
    assert spots.before_percent == pytest.approx(mean_interval(tank), rel=1e-6)
    # Readings tell the factor, and leave what the meter's own scale may be off.
    assert 1.645 * 6 < spots.after_percent < 0.8 * spots.before_percent


def test_spots_narrow_the_forecast_as_foreseen(tank, changed):
    proposal = check_proposal(tank, NOW)
    survey = read(tank, proposal.places)
    outcome = check_outcome(tank, survey)
    assert outcome.before_percent == pytest.approx(proposal.spots.before_percent, rel=0.01)
    assert outcome.after_percent == pytest.approx(mean_interval(tank), rel=1e-6)
    assert outcome.after_percent == pytest.approx(proposal.spots.after_percent, rel=0.3)
    assert outcome.after_percent < 0.8 * outcome.before_percent
    assert outcome.count == len(proposal.places)


def test_spots_tell_more_than_the_middle_of_the_tank(tank, changed):
    """What best spots bring is less than any one spot read twice would leave."""
    spots = check_proposal(tank, NOW).spots
    middle = check_readings.typical_half_widths(
        field_now(tank, NOW),
        np.array([(30, 30, 45), (31, 30, 45)], float),
        np.array([(30, 30, 20), (8, 50, 38)], float),
    )
    assert spots.after_percent < middle[1]


def test_uncertain_corals_draw_the_spots(tank, changed):
    corals = np.array([(8.0, 8.0, 40.0), (52.0, 52.0, 40.0)])
    field = field_now(tank, NOW)

    def apart(weights):
        spots = best_spots(field, corals, np.array(weights), 0)
        first = spots.places[0]
        return [np.hypot(first.x_cm - x, first.y_cm - y) for x, y, _ in corals]

    left, right = apart([300.0, 1.0]), apart([1.0, 300.0])
    assert left[0] < left[1] and right[1] < right[0]


def test_a_guessed_factor_is_read_where_the_light_is_and_not_in_a_corner(tank):
    """One scale for all of the water is told best where the rest of the map is surest."""
    make_lit_survey(tank, taken_at=days_ago(20))
    field, nobody = field_now(tank, NOW), np.zeros((0, 3))
    guessed = best_spots(field, nobody, np.ones(0), 1)
    sure = best_spots(field, nobody, np.ones(0), 0)
    deviations = [
        field.model.predict(np.array([[p.x_cm, p.y_cm, p.depth_cm]]))[1][0]
        for p in (guessed.places[0], sure.places[0])
    ]
    assert deviations[0] < deviations[1]


@pytest.mark.parametrize(
    ("band", "uncertain"),
    [((100, 130), True), ((100, 150), False), ((50, 99), True), ((None, None), False)],
)
def test_a_coral_is_uncertain_where_its_interval_crosses_an_end_of_its_band(tank, band, uncertain):
    make_lit_survey(tank)
    (light,) = tank_light(tank).at([(30, 30, 20)], NOW)
    light = replace(light, par_umol=120.0, low_umol=98.0 if band[0] == 50 else 110.0, high_umol=140)
    pin = Pin("Coral", 30, 30, 20, band_low_umol=band[0], band_high_umol=band[1])
    assert is_uncertain(pin, light) == uncertain


def test_corals_that_may_leave_their_band_are_named_and_count_three_times(
    tank, changed, monkeypatch
):
    under, corner = tank.corals.get(name="Under the panel"), tank.corals.get(name="In the corner")
    (light,) = tank_light(tank).at([(30, 30, 20)], NOW)
    under.band_low_umol, under.band_high_umol = light.par_umol * 0.99, light.par_umol * 3
    under.save()
    corner.band_low_umol, corner.band_high_umol = 1, 1900
    corner.save()
    weighed = {}

    def note(field, corals_cm, weights, vague):
        weighed.update(zip(map(tuple, corals_cm), weights, strict=True))
        return best_spots(field, corals_cm, weights, vague)

    monkeypatch.setattr(check_readings, "best_spots", note)
    assert check_proposal(tank, NOW).uncertain == ("Under the panel",)
    assert weighed == {(30, 30, 20): 3.0, (8, 50, 38): 1.0}


def test_without_corals_the_whole_water_counts(tank):
    make_lit_survey(tank, taken_at=days_ago(20))
    change_light(tank)
    proposal = check_proposal(tank, NOW)
    assert not proposal.by_corals and proposal.spots.after_percent < proposal.spots.before_percent


def test_one_reading_after_the_change_ends_the_proposal(tank, changed):
    read(tank, check_proposal(tank, NOW).places[:1])
    assert check_proposal(tank, NOW) is None


def test_a_survey_before_the_last_change_does_not(tank, changed):
    read(tank, check_proposal(tank, NOW).places, taken_at=days_ago(4))
    later = change_light(tank, days=2, height_cm=25)
    proposal = check_proposal(tank, NOW)
    assert [change.pk for change in proposal.changes] == [later.pk]


def test_a_survey_without_a_reading_does_not(tank, changed):
    make_survey(tank, taken_at=days_ago(1), readings=[])
    assert check_proposal(tank, NOW) is not None


def test_nothing_is_proposed_in_the_dark(tank, surveyed):
    change_light(tank, level_percent=0)
    assert check_proposal(tank, NOW) is None


def test_nothing_is_proposed_where_the_fixtures_were_not_known(tank):
    make_survey(tank, taken_at=days_ago(20))
    make_light_change(tank, happened_at=days_ago(5), factor=0.7, reason="cleaned")
    assert check_proposal(tank, NOW) is None


@pytest.fixture
def dimmed_unlike_its_lamp(tank):
    """A panel whose readings are not like its light, then turned down."""
    make_coral(tank, at_cm=(10, 25, 25))
    survey = make_survey_unlike_its_lamp(tank, taken_at=days_ago(20))
    change_light(tank, height_cm=20, beam_deg=None, level_percent=70)
    assert tank_light(tank).map_at(NOW).mapped.rig_fit is None
    return survey


def test_nothing_is_proposed_where_a_map_without_its_lamps_was_dimmed(tank, dimmed_unlike_its_lamp):
    assert check_proposal(tank, NOW) is None


@pytest.mark.parametrize("name", ["tank_detail", "light_change_list", "light_map_next"])
def test_pages_open_where_a_map_without_its_lamps_was_dimmed(
    as_user, owner, tank, dimmed_unlike_its_lamp, name
):
    assert as_user(owner).get(reverse(name, args=[tank.pk])).status_code == 200
    assert telling_places(tank, 3)


def test_readings_as_a_dimmed_map_without_its_lamps_foretold_are_not_doubted(
    as_user, owner, tank, dimmed_unlike_its_lamp
):
    check = read(tank, [Place(30, 25, 10), Place(30, 25, 30)])
    review = as_user(owner).get(reverse("survey_review", args=[check.pk]))
    assert review.context["to_check"] == 0
    assert check_outcome(tank, check) is None


def test_nothing_is_proposed_where_only_the_hours_changed(tank, surveyed):
    make_light_change(tank, happened_at=days_ago(5), factor=1, reason="hours", day_hours=8)
    assert check_proposal(tank, NOW) is None


def test_nothing_is_proposed_where_the_same_hangs_as_before(tank, surveyed):
    change = make_light_change(
        tank, happened_at=days_ago(5), factor=1, summary="", day_hours=None, ramp_hours=0
    )
    before = tank.light_changes.exclude(pk=change.pk).get().hung.get()
    before.pk, before.change = None, change
    before.save()
    change.tells_rig = True
    change.save()
    assert check_proposal(tank, NOW) is None


def test_a_tank_full_of_rock_has_no_spot_to_read(tank, surveyed):
    make_rock(tank, x_cm=0, y_cm=0, depth_cm=0, length_cm=60, width_cm=60, height_cm=50)
    change_light(tank)
    assert check_proposal(tank, NOW) is None


@pytest.mark.parametrize(
    ("widths", "words"),
    [((18.2, 7.4), ("± 18 %", "± 7 %")), ((7.4, 6.6), ("± 7.4 %", "± 6.6 %"))],
)
def test_percents_that_would_look_alike_have_a_decimal(widths, words):
    result = percent_words(*widths)
    assert tuple(text.replace("\u00a0", " ") for text in result) == words


def test_a_second_check_counts_all_readings_since_the_change(tank, changed):
    places = check_proposal(tank, NOW).places
    first = read(tank, places[:1], taken_at=days_ago(1))
    second = read(tank, places[1:])
    one, both = check_outcome(tank, first), check_outcome(tank, second)
    assert (one.count, both.count) == (1, len(places))
    assert both.after_percent < one.after_percent < one.before_percent
    assert both.before_percent == pytest.approx(one.before_percent, rel=0.01)


@pytest.mark.parametrize(
    ("before", "after", "is_contradicted"), [(18.0, 7.0, False), (19.0, 20.0, True)]
)
def test_a_check_that_makes_nothing_surer_says_so(before, after, is_contradicted):
    outcome = CheckOutcome(2, before, after, by_corals=False)
    assert outcome.is_contradicted == is_contradicted
    # Both numbers stand there either way, and only a check that helped "brought" something.
    assert f"{before:.0f}" in outcome.sentence and f"{after:.0f}" in outcome.sentence
    assert ("brought" in outcome.sentence) != is_contradicted


def test_readings_that_miss_the_forecast_both_ways_contradict_it(tank, surveyed):
    change_light(tank, height_cm=22, beam_deg=90)
    places = [Place(15, 15, 12), Place(45, 45, 14), Place(45, 15, 30)]
    foreseen = tank_light(tank).at([(p.x_cm, p.y_cm, p.depth_cm) for p in places], NOW)
    rows = [
        (p.x_cm, p.y_cm, p.depth_cm, off * light.par_umol)
        for p, light, off in zip(places, foreseen, (0.6, 1.6, 1.0), strict=True)
    ]
    outcome = check_outcome(tank, make_survey(tank, taken_at=days_ago(0), readings=rows))
    assert outcome.is_contradicted


def test_a_survey_that_was_no_check_has_no_outcome(tank, changed):
    first = tank.surveys.get()
    full = make_survey(tank, taken_at=days_ago(0))
    assert check_outcome(tank, first) is None and check_outcome(tank, full) is None


def test_a_survey_that_starts_anew_has_no_outcome(tank, changed):
    survey = read(tank, check_proposal(tank, NOW).places, starts_anew=True)
    assert check_outcome(tank, survey) is None


def start(client, tank, **data):
    return client.post(reverse("check_new", args=[tank.pk]), data)


@pytest.mark.parametrize("who", ["owner", "co_keeper"])
def test_button_plans_the_spots_and_leads_to_the_pad(request, as_user, tank, changed, who):
    user = request.getfixturevalue(who)
    proposal = check_proposal(tank, NOW)
    response = start(as_user(user), tank)
    survey = Survey.objects.latest("pk")
    assert response["Location"] == reverse("survey_enter", args=[survey.pk])
    planned = [(p.x_cm, p.y_cm, p.depth_cm) for p in survey.planned_points.all()]
    assert planned == [(p.x_cm, p.y_cm, p.depth_cm) for p in proposal.places]
    assert survey.created_by == user and survey.taken_at > changed.happened_at
    assert as_user(user).get(response["Location"]).status_code == 200


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_others_start_no_check(request, as_user, tank, changed, who, status):
    assert start(as_user(request.getfixturevalue(who)), tank).status_code == status
    assert Survey.objects.count() == 1


def test_pressed_again_it_takes_up_the_survey_without_readings(as_user, owner, tank, changed):
    led = {start(as_user(owner), tank)["Location"] for _ in range(2)}
    assert len(led) == 1 and Survey.objects.count() == 2
    assert Survey.objects.latest("pk").planned_points.count() == len(
        check_proposal(tank, NOW).places
    )


@pytest.mark.parametrize(("who", "factor"), [("owner", 1.2), ("co_keeper", 1.0)])
def test_own_meter_of_the_last_survey_is_taken_with_its_factor(
    request, as_user, owner, tank, changed, who, factor
):
    meter = make_meter(owner, correction_factor=1.2)
    tank.surveys.update(meter=meter)
    start(as_user(request.getfixturevalue(who)), tank)
    survey = Survey.objects.latest("pk")
    assert survey.meter == (meter if who == "owner" else None)
    assert survey.correction_factor == pytest.approx(factor)


def test_nothing_is_started_where_the_light_was_read_meanwhile(as_user, owner, tank, changed):
    read(tank, check_proposal(tank, NOW).places)
    response = start(as_user(owner), tank)
    assert response["Location"] == reverse("tank_detail", args=[tank.pk])
    assert Survey.objects.count() == 2


PAGES = ("tank_detail", "light_change_effect")


def shown(client, name, tank, change):
    address = tank.pk if name == "tank_detail" else change.pk
    return client.get(reverse(name, args=[address]))


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_friends_see_the_spots_and_writers_the_button(request, as_user, tank, changed, who, name):
    response = shown(as_user(request.getfixturevalue(who)), name, tank, changed)
    body = response.content.decode()
    proposal = check_proposal(tank, NOW)
    assert proposal.sentence in body
    # The tank's page leaves the spots to the page they are read on.
    for place in proposal.places if name == "light_change_effect" else ():
        assert f"{place.x_cm:.0f}\u00a0cm from the left" in body
    assert (reverse("check_new", args=[tank.pk]) in body) == (who != "viewer")


@pytest.mark.parametrize("name", PAGES)
def test_stranger_sees_no_spots(as_user, stranger, tank, changed, name):
    assert shown(as_user(stranger), name, tank, changed).status_code == 404


@pytest.mark.parametrize("name", PAGES)
def test_pages_propose_nothing_once_read(as_user, owner, tank, changed, name):
    read(tank, check_proposal(tank, NOW).places)
    body = shown(as_user(owner), name, tank, changed).content.decode()
    assert reverse("check_new", args=[tank.pk]) not in body


def test_page_of_an_older_change_proposes_nothing(as_user, owner, tank, changed):
    first = tank.light_changes.order_by("happened_at").first()
    assert first != changed
    context = shown(as_user(owner), "light_change_effect", tank, first).context
    assert context["proposal"] is None


@pytest.mark.parametrize("name", ["survey_review", "light_map"])
def test_review_and_map_say_what_a_check_changed(as_user, viewer, tank, changed, name):
    survey = read(tank, check_proposal(tank, NOW).places)
    outcome = check_outcome(tank, survey)
    address = survey.pk if name == "survey_review" else tank.pk
    body = as_user(viewer).get(reverse(name, args=[address])).content.decode()
    assert outcome.sentence in body


def test_map_as_changed_since_a_check_does_not_speak_of_it(as_user, owner, tank, changed):
    read(tank, check_proposal(tank, NOW).places, taken_at=days_ago(3))
    change_light(tank, days=1, height_cm=20)
    body = as_user(owner).get(reverse("light_map", args=[tank.pk])).content.decode()
    assert "check-outcome" not in body


def test_map_of_a_full_survey_says_nothing_of_a_check(as_user, owner, tank, surveyed):
    body = as_user(owner).get(reverse("light_map", args=[tank.pk])).content.decode()
    assert "check-outcome" not in body

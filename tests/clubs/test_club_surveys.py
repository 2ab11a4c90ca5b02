"""A survey that an officer took, handed to a member and taken into a tank the member keeps."""

import pytest
from django.urls import reverse

from apps.clubs.leaving import leave
from apps.surveys.models import Meter, Survey, SurveyOffer
from tests.factories import (
    make_club,
    make_club_meter,
    make_survey,
    make_survey_offer,
    make_tank,
    make_user,
)


@pytest.fixture
def member(db):
    return make_user()


@pytest.fixture
def club(owner, member):
    return make_club(owner, member)


@pytest.fixture
def given(tank, club):
    """A survey of the officer's, with the club's meter."""
    survey = make_survey(tank, meter=make_club_meter(club), level_percent=80)
    return survey


@pytest.fixture
def offer(club, given, member):
    return make_survey_offer(club, given, member)


def take(as_user, user, offer, **fields):
    at = reverse("club_survey_take", args=[offer.club_id, offer.pk])
    return as_user(user).post(at, fields)


def facts(survey):
    names = ("x_cm", "y_cm", "depth_cm", "value_umol", "spread_umol")
    return list(survey.readings.order_by("position").values_list(*names))


def test_an_officer_offers_a_survey_to_a_member(as_user, owner, member, club, given):
    at = reverse("survey_hand", args=[given.pk])
    as_user(owner).post(at, {"to": club.memberships.get(user=member).pk})
    offer = SurveyOffer.objects.get()
    assert (offer.survey, offer.to, offer.club) == (given, member, club)
    page = as_user(member).get(reverse("club_detail", args=[club.pk]))
    assert "surveys" in [part.key for part in page.context["parts"]]


def test_it_comes_whole_into_a_tank_the_member_keeps(as_user, member, given, offer):
    tank = make_tank(member)
    take(as_user, member, offer, tank=tank.pk)
    taken = Survey.objects.get(tank=tank)
    assert facts(taken) == facts(given) and facts(taken)
    assert (taken.taken_at, taken.meter, taken.level_percent) == (given.taken_at, given.meter, 80)
    assert taken.created_by == member
    assert not SurveyOffer.objects.exists()


def test_the_officers_own_stays_as_it_was(as_user, member, given, offer):
    before = facts(given)
    take(as_user, member, offer, tank=make_tank(member).pk)
    Survey.objects.exclude(pk=given.pk).get().readings.all().delete()
    assert facts(given) == before


def test_readings_outside_the_members_tank_are_refused(as_user, member, offer):
    small = make_tank(member, length_cm=20, width_cm=20, depth_cm=10)
    sent = take(as_user, member, offer, tank=small.pk)
    assert sent.status_code == 422 and "tank" in sent.context["form"].errors
    assert not small.surveys.exists() and SurveyOffer.objects.exists()


def test_lux_of_a_meter_that_is_not_the_members_is_refused(as_user, owner, member, club, tank):
    meter = Meter.objects.create(owner=owner, label="Lux", kind="lux", correction_factor=0.02)
    offer = make_survey_offer(club, make_survey(tank, meter=meter), member)
    assert take(as_user, member, offer, tank=make_tank(member).pk).status_code == 422


def test_it_is_not_taken_into_anothers_tank(as_user, member, offer, tank):
    sent = take(as_user, member, offer, tank=tank.pk)
    assert sent.status_code == 422 and tank.surveys.count() == 1


def test_declined_it_is_gone(as_user, member, offer):
    mine = make_tank(member)
    take(as_user, member, offer, decline="1")
    assert not SurveyOffer.objects.exists() and not mine.surveys.exists()


@pytest.mark.parametrize("who", ["owner", "stranger", "viewer"])
def test_nobody_else_sees_or_takes_it(request, as_user, offer, who):
    user = request.getfixturevalue(who)
    tank = make_tank(user)
    at = reverse("club_survey_take", args=[offer.club_id, offer.pk])
    assert as_user(user).get(at).status_code == 404
    assert take(as_user, user, offer, tank=tank.pk).status_code == 404
    assert not tank.surveys.exists()


@pytest.mark.parametrize("who", ["owner", "member"])
def test_it_ends_when_either_leaves_the_club(request, as_user, club, member, offer, who):
    user = request.getfixturevalue(who)
    leave(club=club, user=user, successor=club.memberships.exclude(user=user).first())
    assert not SurveyOffer.objects.exists()


def test_a_member_who_is_no_officer_hands_nothing(as_user, member, owner, club):
    survey = make_survey(make_tank(member))
    at = reverse("survey_hand", args=[survey.pk])
    to = club.memberships.get(user=owner).pk
    assert as_user(member).post(at, {"to": to}).status_code == 422
    assert not SurveyOffer.objects.exists()


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_a_survey_one_may_not_change_is_not_handed(request, as_user, given, who, status):
    at = reverse("survey_hand", args=[given.pk])
    assert as_user(request.getfixturevalue(who)).get(at).status_code == status

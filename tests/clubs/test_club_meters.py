"""A club's meter: who may do what, who has it, and surveys that follow its checks by date."""

import datetime as dt
import math

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.clubs.leaving import close, leave, leave_all
from apps.clubs.models import Club
from apps.surveys.lending.lending import TURN, bring_back, hand_over, lending_list
from apps.surveys.meters.following import follow
from apps.surveys.meters.scales import deviation_between, survey_deviation
from apps.surveys.models import Meter, MeterCheck, MeterLoan, Survey
from apps.transfer.account.leaving import leaving_of
from apps.transfer.archive.contents import own_contents
from tests.factories import (
    make_club,
    make_club_meter,
    make_meter,
    make_meter_check,
    make_survey,
    make_tank,
    make_user,
)

EVERYONE = ["owner", "member", "ex_member", "blocked", "stranger"]
CHECK = {"reference": "Lab sensor", "reference_percent": "3", "pairs": "100 110\n200 220"}
SURVEY_FORM = {"level_percent": "100", "spectral_factor": "1"}


@pytest.fixture
def meter(club):
    return make_club_meter(club, label="The stick", uncertainty_percent=5)


@pytest.fixture
def members_tank(member):
    return make_tank(member, name="Merle’s cube")


def page(name, meter):
    return reverse(name, args=[meter.club_id, meter.pk])


def at(day, tank):
    """Return noon of a day at a tank."""
    return dt.datetime.combine(day, dt.time(12), tank.zone)


def surveyed(tank, meter, day):
    """Make a survey as the form does: with the factor of its day."""
    survey = make_survey(tank, meter=meter, taken_at=at(day, tank))
    survey.take_meter_factor()
    survey.save()
    return survey


def enter_check(client, meter, day, **data):
    sent = CHECK | {"checked_on": day.isoformat()} | data
    return client.post(reverse("meter_check_new", args=[meter.pk]), sent)


def factor_of(survey):
    return Survey.objects.get(pk=survey.pk).correction_factor


# --- Who may do what ---------------------------------------------------------------------------
def test_members_look_at_a_clubs_meter(request, as_user, meter):
    asked = [as_user(request.getfixturevalue(who)) for who in EVERYONE]
    found = [client.get(page("club_meter", meter)).status_code for client in asked]
    assert found == [200, 200, 404, 404, 404]


@pytest.mark.parametrize("who", EVERYONE[1:])
def test_only_officers_keep_a_clubs_meter(request, as_user, club, meter, who):
    client = as_user(request.getfixturevalue(who))
    new = reverse("club_meter_new", args=[club.pk])
    assert client.post(new, {"label": "Mine"}).status_code == (403 if who == "member" else 404)
    check = make_meter_check(meter)
    for name, pk in [
        ("meter_edit", meter.pk), ("meter_check_new", meter.pk), ("meter_remove", meter.pk),
        ("meter_check_remove", check.pk),
    ]:  # fmt: skip
        assert client.post(reverse(name, args=[pk])).status_code == 404
    assert Meter.objects.present().count() == 1 and MeterCheck.objects.present().exists()


def test_an_officer_makes_edits_and_deletes_it(as_user, owner, club):
    client = as_user(owner)
    sent = {"label": "The stick", "kind": "quantum", "correction_factor": "1.05"}
    client.post(reverse("club_meter_new", args=[club.pk]), sent)
    meter = Meter.objects.get()
    assert (meter.club, meter.follows_checks) == (club, True)
    client.post(reverse("meter_edit", args=[meter.pk]), sent | {"label": "The other stick"})
    meter.refresh_from_db()
    assert meter.label == "The other stick" and meter.follows_checks
    client.post(reverse("meter_remove", args=[meter.pk]))
    assert client.get(page("club_meter", meter)).status_code == 404


def test_every_officer_keeps_it_whoever_made_it(as_user, member, club, meter):
    club.memberships.filter(user=member).update(role="officer")
    client = as_user(member)
    enter_check(client, meter, dt.date(2026, 5, 3))
    assert client.post(reverse("meter_remove", args=[meter.pk])).status_code == 302
    assert Meter.objects.get().removed_at


def test_who_made_it_keeps_it_no_more_once_they_are_no_officer(as_user, owner, member, club, meter):
    club.memberships.filter(user=member).update(role="officer")
    club.memberships.filter(user=owner).update(role="member")
    client = as_user(owner)
    for name in ("meter_edit", "meter_remove"):
        assert client.post(reverse(name, args=[meter.pk])).status_code == 404
    assert meter not in Meter.objects.owned_by(owner)


def test_a_clubs_meter_is_on_nobodys_own_list(as_user, owner, meter):
    assert as_user(owner).get(reverse("meter_list")).context["meters"] == []
    assert as_user(owner).get("/api/v1/meters/").json()["results"] == []


# --- Named on a survey -------------------------------------------------------------------------
def offered(client, tank):
    form = client.get(reverse("survey_new", args=[tank.pk])).context["form"]
    return list(form.fields["meter"].queryset)


def test_a_member_names_it_on_their_survey(as_user, member, members_tank, meter):
    client, day = as_user(member), dt.date(2026, 6, 1)
    make_meter_check(meter, checked_on=dt.date(2026, 5, 3))
    follow(meter=meter, change=lambda: None)
    assert offered(client, members_tank) == [meter]
    sent = SURVEY_FORM | {"taken_at": f"{day}T12:00", "meter": meter.pk}
    client.post(reverse("survey_new", args=[members_tank.pk]), sent)
    survey = Survey.objects.get()
    assert survey.meter == meter and survey.correction_factor == meter.factor_on(day) > 1.05


def test_nobody_outside_names_it(as_user, stranger, ex_member, meter):
    for user in (stranger, ex_member):
        tank = make_tank(user)
        assert offered(as_user(user), tank) == []
        sent = SURVEY_FORM | {"taken_at": "2026-06-01T12:00", "meter": meter.pk}
        refused = as_user(user).post(reverse("survey_new", args=[tank.pk]), sent)
        assert refused.status_code == 422
    assert not Survey.objects.exists()


@pytest.mark.parametrize(("who", "status"), [("member", 201), ("ex_member", 400)])
def test_the_api_takes_it_from_members_only(request, as_user, meter, who, status):
    user = request.getfixturevalue(who)
    tank = make_tank(user)
    sent = {"taken_at": "2026-06-01T12:00:00Z", "meter": meter.pk, "readings": []}
    answer = as_user(user).post(f"/api/v1/tanks/{tank.pk}/surveys/", sent, "application/json")
    assert answer.status_code == status


def test_a_survey_keeps_the_meter_after_its_keeper_left(as_user, member, club, meter, members_tank):
    survey = surveyed(members_tank, meter, dt.date(2026, 6, 1))
    leave(club=club, user=member)
    assert as_user(member).get(reverse("survey_detail", args=[survey.pk])).status_code == 200
    assert Survey.objects.get().meter == meter


# --- Checks by date ----------------------------------------------------------------------------
MAY, JULY = dt.date(2026, 5, 3), dt.date(2026, 7, 9)


def test_a_survey_takes_the_factor_that_held_on_its_day(as_user, owner, meter, members_tank):
    client = as_user(owner)
    enter_check(client, meter, MAY)
    enter_check(client, meter, JULY, pairs="100 90\n200 180")
    before, between, after = (
        surveyed(members_tank, Meter.objects.get(), day).correction_factor
        for day in (MAY - dt.timedelta(days=1), MAY, JULY)
    )
    assert before == 1.0 and 1.05 < between < 1.1 and 0.9 < after < 0.95


def test_the_factor_weighs_the_check_against_what_was_stated(as_user, owner, meter):
    """5 % were stated of the meter; the reference is good to 3 %, two pairs to 5 / sqrt 2 %."""
    enter_check(as_user(owner), meter, MAY)
    stated, seen = math.log(1.05) ** 2, math.log(1.03) ** 2 + 0.05**2 / 2
    weight = stated / (stated + seen)
    assert Meter.objects.get().factor_on(MAY) == pytest.approx(1.1**weight, rel=1e-6)


def test_surveys_follow_a_check_that_is_entered_later(as_user, owner, meter, tank, members_tank):
    early = surveyed(members_tank, meter, MAY - dt.timedelta(days=1))
    late = [surveyed(one, meter, MAY + dt.timedelta(days=1)) for one in (tank, members_tank)]
    enter_check(as_user(owner), meter, MAY)
    assert factor_of(early) == 1.0 and all(factor_of(survey) > 1.05 for survey in late)


def test_surveys_follow_a_check_that_is_deleted_and_restored(as_user, owner, meter, members_tank):
    client = as_user(owner)
    enter_check(client, meter, MAY)
    survey = surveyed(members_tank, Meter.objects.get(), JULY)
    checked, pk = factor_of(survey), MeterCheck.objects.get().pk
    client.post(reverse("meter_check_remove", args=[pk]))
    assert factor_of(survey) == 1.0
    client.post(reverse("meter_check_restore", args=[pk]))
    assert factor_of(survey) == checked


def test_a_survey_whose_factor_somebody_chose_keeps_it(as_user, owner, meter, members_tank):
    survey = surveyed(members_tank, meter, JULY)
    Survey.objects.update(correction_factor=1.3)
    enter_check(as_user(owner), meter, MAY)
    assert factor_of(survey) == 1.3


def test_the_colour_of_the_light_stays_a_factor_of_its_own(as_user, owner, meter, members_tank):
    survey = make_survey(members_tank, meter=meter, taken_at=at(JULY, members_tank))
    survey.spectral_factor = 1.2
    survey.take_meter_factor()
    survey.save()
    enter_check(as_user(owner), meter, MAY)
    held = Meter.objects.get().factor_on(JULY)
    assert factor_of(survey) == pytest.approx(1.2 * held)


def test_a_survey_moved_to_another_day_takes_that_days_factor(as_user, owner, member, meter):
    tank = make_tank(member)
    enter_check(as_user(owner), meter, MAY)
    survey = surveyed(tank, Meter.objects.get(), JULY)
    sent = SURVEY_FORM | {"taken_at": "2026-05-01T12:00", "meter": meter.pk}
    as_user(member).post(reverse("survey_edit", args=[survey.pk]), sent)
    assert factor_of(survey) == 1.0


def test_the_uncertainty_is_that_of_the_day_too(as_user, owner, meter, members_tank):
    enter_check(as_user(owner), meter, MAY)
    checked = Meter.objects.get()
    before, after, later = (
        surveyed(members_tank, checked, day) for day in (MAY - dt.timedelta(days=1), MAY, JULY)
    )
    assert survey_deviation(before) == pytest.approx(math.log(1.05))
    assert survey_deviation(after) < 0.8 * survey_deviation(before)
    # Between two checks a meter has one scale; across a check it has two.
    assert deviation_between(after, later) == 0
    apart = math.hypot(survey_deviation(before), survey_deviation(after))
    assert deviation_between(before, after) == pytest.approx(apart)


def test_an_old_check_is_cautioned_by_the_day_of_the_survey(as_user, owner, meter):
    enter_check(as_user(owner), meter, MAY)
    checked = Meter.objects.get()
    assert checked.check_caution(MAY - dt.timedelta(days=1)) and not checked.check_caution(JULY)
    assert checked.check_caution(MAY + dt.timedelta(days=366))


def test_a_keepers_own_meter_keeps_its_surveys_unless_told_to_follow(as_user, owner, tank):
    own = make_meter(owner, uncertainty_percent=5)
    survey, client = surveyed(tank, own, JULY), as_user(owner)
    enter_check(client, own, MAY)
    assert factor_of(survey) == 1.0 and MeterCheck.objects.get().factor is None
    sent = {
        "label": "Mine", "kind": "quantum", "correction_factor": "1", "uncertainty_percent": "5",
        "follows_checks": "on",
    }  # fmt: skip
    client.post(reverse("meter_edit", args=[own.pk]), sent)
    assert factor_of(survey) > 1.05


def test_meters_are_checked_against_those_of_the_same_club_only(as_user, owner, club, meter):
    make_meter(owner, label="Own")
    second = make_club_meter(club, label="Second")
    form = as_user(owner).get(reverse("meter_check_new", args=[meter.pk])).context["form"]
    assert list(form.fields["other"].queryset) == [second]


# --- Lending -----------------------------------------------------------------------------------
TODAY = timezone.localdate


def post(client, name, meter, **data):
    return client.post(page(name, meter), data)


def test_members_wait_in_the_order_in_which_they_asked(as_user, owner, member, meter):
    for user in (member, owner, member):
        post(as_user(user), "club_meter_ask", meter)
    assert [turn.keeper for turn in lending_list(meter).waiting] == [member, owner]
    post(as_user(member), "club_meter_ask", meter, withdraw="")
    assert [turn.keeper for turn in lending_list(meter).waiting] == [owner]


def test_one_tap_hands_it_to_the_next(as_user, owner, member, club, meter):
    post(as_user(member), "club_meter_ask", meter)
    hand_over(meter=meter, to=owner, day=TODAY() - dt.timedelta(days=9))
    next_ = lending_list(meter).next
    post(as_user(owner), "club_meter_hand_over", meter, to=next_.keeper_id)
    lent = lending_list(meter)
    assert (lent.held.keeper, lent.held.since, lent.held.until) == (
        member, TODAY(), TODAY() + TURN,
    )  # fmt: skip
    assert lent.waiting == () and [turn.ended_on for turn in lent.over] == [TODAY()]


def test_the_next_one_takes_it_and_others_do_not(as_user, club, owner, member, meter):
    other = make_user()
    club.memberships.create(user=other)
    post(as_user(member), "club_meter_ask", meter)
    refused = [
        post(as_user(other), name, meter, to=other.pk, until=TODAY().isoformat()).status_code
        for name in ("club_meter_hand_over", "club_meter_back", "club_meter_until")
    ]
    assert refused == [403] * 3 and lending_list(meter).held is None
    post(as_user(member), "club_meter_hand_over", meter, to=member.pk)
    assert lending_list(meter).held.keeper == member


@pytest.mark.parametrize("who", EVERYONE[2:])
def test_nobody_outside_asks_or_hands(request, as_user, meter, who):
    client = as_user(request.getfixturevalue(who))
    names = ("club_meter_ask", "club_meter_hand_over", "club_meter_back", "club_meter_until")
    assert {post(client, name, meter).status_code for name in names} == {404}
    assert not MeterLoan.objects.exists()


def test_it_is_handed_to_members_only(as_user, owner, stranger, meter):
    post(as_user(owner), "club_meter_hand_over", meter, to=stranger.pk)
    assert not MeterLoan.objects.exists()


def test_it_goes_back_to_the_club(as_user, member, meter):
    hand_over(meter=meter, to=member, day=TODAY())
    post(as_user(member), "club_meter_back", meter)
    assert lending_list(meter).held is None and len(lending_list(meter).over) == 1


def test_the_day_is_changed_within_a_year(as_user, member, meter):
    hand_over(meter=meter, to=member, day=TODAY())
    wanted = TODAY() + dt.timedelta(days=3)
    client = as_user(member)
    post(client, "club_meter_until", meter, until=wanted.isoformat())
    for wrong in (TODAY() - dt.timedelta(days=1), TODAY() + dt.timedelta(days=367)):
        post(client, "club_meter_until", meter, until=wrong.isoformat())
    assert lending_list(meter).held.until == wanted


@pytest.mark.parametrize(("days", "is_late"), [(14, False), (15, True)])
def test_a_turn_is_late_after_its_last_day(as_user, member, meter, days, is_late):
    hand_over(meter=meter, to=member, day=TODAY() - dt.timedelta(days=days))
    context = as_user(member).get(page("club_meter", meter)).context
    parts = as_user(member).get(reverse("club_detail", args=[meter.club_id])).context["parts"]
    (line,) = next(part for part in parts if part.key == "meters").lines
    assert context["is_late"] == line.is_due == is_late and "Merle" in line.words


def test_who_holds_it_again_begins_a_turn_of_its_own(owner, member, meter):
    hand_over(meter=meter, to=member, day=MAY)
    bring_back(meter=meter, day=MAY)
    hand_over(meter=meter, to=member, day=JULY)
    assert lending_list(meter).held.since == JULY and len(lending_list(meter).over) == 1


# --- Leaving -----------------------------------------------------------------------------------
def test_who_leaves_is_on_no_list_any_more_and_is_told_before(as_user, owner, member, club, meter):
    hand_over(meter=meter, to=member, day=MAY)
    hand_over(meter=meter, to=owner, day=JULY)
    hand_over(meter=meter, to=member, day=JULY)
    told = as_user(member).get(reverse("club_leave", args=[club.pk])).context["going_along"]
    assert len(told) == 2 and all("The stick" in words for words in told)
    as_user(member).post(reverse("club_leave", args=[club.pk]))
    assert [turn.keeper for turn in MeterLoan.objects.all()] == [owner]


def test_the_meter_stays_with_the_club_when_its_officer_leaves(owner, member, club, meter):
    leave(club=club, user=owner, successor=club.memberships.get(user=member))
    meter.refresh_from_db()
    assert (meter.owner, meter.club) == (member, club)


def test_an_account_that_ends_takes_no_clubs_meter_along(owner, member, club, meter):
    club.memberships.filter(user=member).update(role="officer")
    leave_all(owner)
    owner.delete()
    assert Meter.objects.get().owner == member


def test_a_closed_clubs_meter_is_its_last_officers_own(owner, member, club, meter, members_tank):
    survey = surveyed(members_tank, meter, JULY)
    close(club=club, by=owner)
    assert list(Meter.objects.owned_by(owner)) == [meter]
    assert Survey.objects.get().meter == meter and factor_of(survey) == survey.correction_factor


def test_a_closed_clubs_turns_with_its_meters_are_over(owner, member, club, meter):
    hand_over(meter=meter, to=member, day=JULY)
    close(club=club, by=owner)
    assert not MeterLoan.objects.exists()


@pytest.mark.parametrize("way", ["one", "many"])
def test_a_club_deleted_in_the_administration_is_closed(client, owner, member, meter, way):
    make_club(member, name="Another club")
    hand_over(meter=meter, to=member, day=JULY)
    admin = make_user(is_staff=True, is_superuser=True)
    client.force_login(admin)
    if way == "one":
        address, more = reverse("admin:clubs_club_delete", args=[meter.club_id]), {}
    else:
        address = reverse("admin:clubs_club_changelist")
        more = {"action": "delete_selected", "_selected_action": meter.club_id}
    assert client.post(address, {"post": "yes"} | more).status_code == 302
    assert [club.name for club in Club.objects.all()] == ["Another club"]
    assert list(Meter.objects.owned_by(owner)) == [meter] and not MeterLoan.objects.exists()


def test_another_clubs_meter_is_not_there(as_user, owner, stranger, meter):
    other = make_club(stranger, owner, name="Another club")
    address = reverse("club_meter", args=[other.pk, meter.pk])
    assert as_user(owner).get(address).status_code == 404


def test_a_clubs_meter_goes_into_no_zip_of_an_officers_account(owner, meter):
    own = make_meter(owner, label="Own")
    make_meter_check(meter)
    rows = own_contents(owner)
    assert list(rows[Meter]) == [own] and not rows[MeterCheck].exists()
    assert leaving_of(owner).meters == 1

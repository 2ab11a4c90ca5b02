"""An account deleted with all in it: after a week, called off by signing in."""

import datetime as dt

import pytest
from django.core import mail
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from knox.models import AuthToken

from apps.accounts.models import User
from apps.clubs.models import Membership as ClubMembership
from apps.corals.models import HealthNote, Photo
from apps.planning.models import Plan
from apps.surveys.models import Meter
from apps.tanks.models import Membership, Tank
from apps.transfer.account.leaving import purge_accounts
from tests.corals.shots import make_colour
from tests.factories import (
    PASSWORD,
    let_in,
    make_arrival,
    make_club,
    make_club_meter,
    make_coral,
    make_meter,
    make_note,
    make_plan,
    make_survey,
    make_tank,
    make_user,
)

PAGE = reverse("account_delete")


@pytest.fixture
def leaver(db):
    return make_user(email="leaver@example.org", display_name="Lea")


def ask(client, password=PASSWORD):
    return client.post(PAGE, {"password": password})


def after(days):
    return timezone.now() + dt.timedelta(days=days)


@pytest.mark.django_db(transaction=True)
def test_account_goes_after_a_week_and_not_before(as_user, leaver):
    tank = make_tank(leaver)
    make_colour(make_coral(tank))
    make_arrival(leaver)
    AuthToken.objects.create(leaver)
    assert ask(as_user(leaver)).status_code == 200
    assert purge_accounts(after(6.9)) == 0 and User.objects.filter(pk=leaver.pk).exists()
    assert purge_accounts(after(7.1)) == 1
    assert not User.objects.exists() and not Tank.objects.exists() and not Photo.objects.exists()
    assert default_storage.listdir("notes")[1] == default_storage.listdir("arrivals")[1] == []


@pytest.mark.django_db(transaction=True)
def test_mail_says_the_day_and_how_to_keep_it(as_user, leaver):
    ask(as_user(leaver))
    (sent,) = mail.outbox
    leaver.refresh_from_db()
    assert sent.to == [leaver.email]
    assert f"{leaver.leaves_at.day} " in sent.subject and "sign in" in sent.body


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("way", ["one", "many"])
def test_an_account_deleted_in_the_administration_leaves_others_theirs(client, leaver, way):
    other = make_user(email="other@example.org")
    club = make_club(leaver, other)
    meter = make_club_meter(club)
    club.memberships.update(role="officer")
    plan = make_plan(leaver, make_tank(other))
    make_arrival(leaver)
    client.force_login(make_user(is_staff=True, is_superuser=True))
    if way == "one":
        address, more = reverse("admin:accounts_user_delete", args=[leaver.pk]), {}
    else:
        address = reverse("admin:accounts_user_changelist")
        more = {"action": "delete_selected", "_selected_action": leaver.pk}
    assert client.post(address, {"post": "yes"} | more).status_code == 302
    meter.refresh_from_db()
    plan.refresh_from_db()
    assert not User.objects.filter(pk=leaver.pk).exists()
    assert meter.owner == plan.owner == other and default_storage.listdir("arrivals")[1] == []


def test_signing_in_keeps_it(as_user, leaver):
    ask(as_user(leaver))
    Client().post(reverse("account_login"), {"login": leaver.email, "password": PASSWORD})
    leaver.refresh_from_db()
    assert leaver.leaves_at is None and purge_accounts(after(30)) == 0


def test_wrong_password_deletes_nothing(as_user, leaver):
    answer = ask(as_user(leaver), "something else")
    leaver.refresh_from_db()
    assert answer.status_code == 422 and leaver.leaves_at is None
    assert as_user(leaver).post(PAGE).status_code == 422


def test_all_devices_are_signed_out(as_user, leaver, stranger):
    phone, desk, other = as_user(leaver), as_user(leaver), as_user(stranger)
    ask(desk)
    assert phone.get(reverse("tank_list")).status_code == 302
    assert desk.get(reverse("tank_list")).status_code == 302
    assert other.get(reverse("tank_list")).status_code == 200


def test_what_was_done_for_others_stays_with_them(as_user, leaver, tank):
    let_in(tank, leaver, Membership.Role.CO_KEEPER)
    note = make_note(make_coral(tank), created_by=leaver)
    meter = make_meter(leaver)
    survey = make_survey(tank, meter=meter, correction_factor=1.17)
    plan = make_plan(leaver, tank)
    shown = as_user(leaver).get(PAGE).context["leaving"]
    assert (shown.helped, shown.notes_left, shown.surveys_left) == ([tank], 1, 1)
    assert (shown.plans_left, shown.plans) == (1, 0)
    ask(as_user(leaver))
    assert purge_accounts(after(8)) == 1
    survey.refresh_from_db()
    assert survey.meter is None and survey.correction_factor == 1.17 and survey.readings.exists()
    assert HealthNote.objects.get(pk=note.pk).created_by is None
    assert Plan.objects.get(pk=plan.pk).owner == tank.owner
    assert not Meter.objects.exists() and not tank.memberships.exists()


def test_page_names_who_loses_a_tank(as_user, leaver, stranger):
    tank = make_tank(leaver, name="Shared one")
    let_in(tank, stranger)
    make_tank(leaver, name="Own one")
    shown = as_user(leaver).get(PAGE).context["leaving"]
    assert shown.shared_tanks == [tank] and len(shown.tanks) == 2


def test_last_officer_hands_the_club_over_first(as_user, leaver, stranger):
    club = make_club(leaver, stranger)
    assert ask(as_user(leaver)).status_code == 422
    ClubMembership.objects.filter(club=club, user=stranger).update(role="officer")
    assert ask(as_user(leaver)).status_code == 200


def test_command_does_it(as_user, leaver, capsys):
    ask(as_user(leaver))
    User.objects.update(leaves_at=timezone.now() - dt.timedelta(minutes=1))
    call_command("purge_deleted")
    assert not User.objects.filter(pk=leaver.pk).exists()
    assert "Accounts deleted" in capsys.readouterr().out


def test_visitor_has_none(db):
    assert Client().get(PAGE).status_code == 302

"""Clubs: who belongs to one and who looks after it."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError
from django.http import Http404
from django.urls import reverse

from apps.clubs.access import is_officer, officers_club, readable_club
from apps.clubs.models import Club, Membership
from tests.factories import PASSWORD, make_club, make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def club(owner, viewer):
    return make_club(owner, viewer)


def test_members_see_their_clubs_and_no_others(club, owner, viewer, stranger):
    make_club(stranger, name="Another club")
    seen = [list(Club.objects.visible_to(user)) for user in (owner, viewer)]
    assert seen == [[club], [club]]
    assert club not in Club.objects.visible_to(stranger)


def test_only_an_officer_leads(club, owner, viewer, stranger):
    assert [is_officer(user, club) for user in (owner, viewer, stranger)] == [True, False, False]
    assert list(Club.objects.led_by(owner)) == [club]


def test_an_officer_of_one_club_leads_no_other(club, owner, stranger):
    other = make_club(stranger, owner)
    assert is_officer(owner, club) and not is_officer(owner, other)


def test_a_stranger_does_not_learn_of_a_club(club, stranger):
    for ask in (readable_club, officers_club):
        with pytest.raises(Http404):
            ask(stranger, club.pk)


def test_a_member_reads_and_does_not_lead(club, owner, viewer):
    assert readable_club(viewer, club.pk) == club
    with pytest.raises(PermissionDenied):
        officers_club(viewer, club.pk)
    assert officers_club(owner, club.pk) == club


def test_nobody_belongs_twice(club, viewer):
    with pytest.raises(IntegrityError):
        Membership.objects.create(club=club, user=viewer)


def test_a_role_that_is_none_is_refused(club):
    with pytest.raises(IntegrityError):
        Membership.objects.create(club=club, user=make_user(), role="king")


@pytest.mark.parametrize("name", ["", "\u200b", "x" * 81])
def test_a_club_has_a_name_that_can_be_read(name):
    with pytest.raises(ValidationError) as refused:
        Club(name=name).full_clean()
    assert set(refused.value.message_dict) == {"name"}


def test_who_deletes_the_account_leaves_the_club(club, viewer):
    viewer.delete()
    assert Club.objects.filter(pk=club.pk).exists() and club.memberships.count() == 1


def test_the_administration_makes_a_club_with_its_officer(client, owner):
    admin = make_user(is_staff=True, is_superuser=True)
    assert client.login(username=admin.email, password=PASSWORD)
    rows = {"TOTAL_FORMS": 1, "INITIAL_FORMS": 0, "0-user": owner.pk, "0-role": "officer"}
    sent = {f"memberships-{name}": value for name, value in rows.items()} | {"name": "North reef"}
    answer = client.post(reverse("admin:clubs_club_add"), sent)
    assert answer.status_code == 302
    assert is_officer(owner, Club.objects.get(name="North reef"))

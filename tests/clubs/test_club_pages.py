"""The pages of a club: who is let in, inviting by a link, roles, removing, blocking, leaving."""

import datetime as dt
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.clubs.access import is_officer
from apps.clubs.joining import join
from apps.clubs.leaving import OfficerMissing, leave
from apps.clubs.models import Block, Club, ClubLink, Membership
from tests.factories import make_club, make_user

EVERYONE = ["owner", "member", "ex_member", "blocked", "stranger"]


def role_of(user, club):
    return club.memberships.filter(user=user).values_list("role", flat=True).first()


def place_of(user, club):
    return club.memberships.get(user=user)


def invited(client, club, **data):
    """Make a link on the page and return its path."""
    sent = {"label": "Spring meeting", "days": "30"} | data
    page = client.post(reverse("club_link_new", args=[club.pk]), sent).content.decode()
    return re.search(r"/clubs/join/[\w-]{43}/", page)[0]


@pytest.fixture
def link(as_user, owner, club):
    return invited(as_user(owner), club)


# --- Who is let in -----------------------------------------------------------------------------
# (officer, member, one who left, one who is blocked, stranger)
MATRIX = {
    "club_detail": (200, 200, 404, 404, 404),
    "club_leave": (200, 200, 404, 404, 404),
    "club_edit": (200, 403, 404, 404, 404),
    "club_link_list": (200, 403, 404, 404, 404),
}


@pytest.mark.parametrize("name", MATRIX)
def test_who_may_look(request, as_user, club, name):
    asked = [as_user(request.getfixturevalue(who)) for who in EVERYONE]
    address = reverse(name, args=[club.pk])
    assert tuple(client.get(address).status_code for client in asked) == MATRIX[name]


@pytest.mark.parametrize("who", EVERYONE[1:])
def test_only_an_officer_changes_anything(request, as_user, club, owner, who):
    user, refused = request.getfixturevalue(who), 403 if who == "member" else 404
    client, place = as_user(user), place_of(owner, club)
    sent = {
        reverse("club_edit", args=[club.pk]): {"name": "Mine now"},
        reverse("club_link_new", args=[club.pk]): {"days": "30"},
        reverse("club_member_edit", args=[club.pk, place.pk]): {"role": "member"},
        reverse("club_member_remove", args=[club.pk, place.pk]): {},
        reverse("club_member_block", args=[club.pk, place.pk]): {},
        reverse("club_unblock", args=[club.pk, club.blocks.get().pk]): {},
    }
    assert {client.post(url, data).status_code for url, data in sent.items()} == {refused}
    assert role_of(owner, club) == "officer" and club.blocks.exists() and not club.links.exists()


def test_rows_of_another_club_are_out_of_an_officers_reach(as_user, owner, stranger, club):
    other = make_club(stranger, name="Another club")
    client, theirs = as_user(owner), place_of(stranger, other)
    for name in ("club_member_edit", "club_member_remove", "club_member_block"):
        assert client.post(reverse(name, args=[club.pk, theirs.pk])).status_code == 404
    assert role_of(stranger, other) == "officer"


def test_list_shows_the_own_clubs_and_no_others(as_user, member, stranger, club):
    make_club(stranger, name="Another club")
    clubs = as_user(member).get(reverse("club_list")).context["clubs"]
    assert clubs == [(club, False)]


def test_search_leads_members_to_their_club(as_user, member, ex_member, club):
    def hits(user):
        page = as_user(user).get(reverse("search"), {"q": "harbour"})
        return [hit.url for group in page.context["groups"] for hit in group.hits]

    assert hits(member) == [reverse("club_detail", args=[club.pk])] and hits(ex_member) == []


def test_no_page_of_a_club_tells_an_email(as_user, owner, member, blocked, club):
    page = as_user(owner).get(reverse("club_detail", args=[club.pk])).content.decode()
    assert "Merle" in page and "Blasius" in page and "@example.org" not in page
    seen_by_member = as_user(member).get(reverse("club_detail", args=[club.pk]))
    assert "Blasius" not in seen_by_member.content.decode()


# --- Making one --------------------------------------------------------------------------------
def test_who_makes_a_club_is_its_officer(as_user, stranger):
    as_user(stranger).post(reverse("club_new"), {"name": "North reef"})
    assert is_officer(stranger, Club.objects.get(name="North reef"))


def test_a_name_that_cannot_be_read_is_refused_and_kept(as_user, owner, club):
    client, long = as_user(owner), "x" * 81
    for url in (reverse("club_new"), reverse("club_edit", args=[club.pk])):
        answer = client.post(url, {"name": long})
        assert answer.status_code == 422 and long in answer.content.decode()
    assert Club.objects.get().name == club.name


# --- Inviting ----------------------------------------------------------------------------------
def test_a_link_lets_any_number_in(as_user, club, link):
    guests = [make_user(), make_user()]
    for guest in guests:
        as_user(guest).post(link)
    assert [role_of(guest, club) for guest in guests] == ["member", "member"]


def test_looking_lets_nobody_in(as_user, stranger, club, link):
    page = as_user(stranger).get(link).content.decode()
    assert "Ottilie" in page and club.name in page and role_of(stranger, club) is None


def test_joining_needs_an_account_and_comes_back(client, club, link):
    assert f"/accounts/signup/?next={link}" in client.get(link).content.decode()
    answer = client.post(link)
    assert answer["Location"] == f"/accounts/login/?next={link}" and club.memberships.count() == 2


def test_a_link_is_stored_as_its_fingerprint_and_shown_once(as_user, owner, club, link):
    token = link.split("/")[-2]
    assert token not in ClubLink.objects.get().token_hash
    page = as_user(owner).get(reverse("club_link_list", args=[club.pk]))
    assert token not in page.content.decode()


def spoil(link, club, owner, how):
    if how == "ran out":
        ClubLink.objects.update(expires_at=timezone.now() - dt.timedelta(seconds=1))
    elif how == "revoked":
        ClubLink.objects.get().revoke()
    elif how == "closed":
        Club.objects.update(closed_at=timezone.now())
    elif how == "nobody leads":
        owner.delete()


@pytest.mark.parametrize("how", ["ran out", "revoked", "closed", "nobody leads"])
def test_a_link_that_is_over_lets_nobody_in(as_user, owner, stranger, club, link, how):
    spoil(link, club, owner, how)
    client = as_user(stranger)
    assert client.get(link).status_code == client.post(link).status_code == 404
    assert role_of(stranger, club) is None


def test_an_officer_revokes_a_link(as_user, owner, stranger, club, link):
    as_user(owner).post(reverse("club_link_revoke", args=[club.pk, ClubLink.objects.get().pk]))
    assert as_user(stranger).get(link).status_code == 404


def test_a_link_revoked_while_someone_reads_it_lets_them_not_in(stranger, club, link):
    seen = ClubLink.objects.open_now().get()
    ClubLink.objects.get().revoke()
    assert join(link=seen, user=stranger) is None and role_of(stranger, club) is None


def test_a_blocked_keeper_is_answered_as_if_there_were_no_link(as_user, blocked, club, link):
    client = as_user(blocked)
    gone = client.get(link.replace(link[13:20], "nolinks"))
    assert gone.status_code == client.get(link).status_code == client.post(link).status_code == 404
    assert role_of(blocked, club) is None


def test_who_was_removed_may_come_back_by_a_link(as_user, ex_member, club, link):
    as_user(ex_member).post(link)
    assert role_of(ex_member, club) == "member"


def test_an_officer_who_follows_a_link_stays_one(as_user, owner, club, link):
    as_user(owner).post(link)
    assert role_of(owner, club) == "officer"


# --- People ------------------------------------------------------------------------------------
def test_an_officer_makes_a_member_one_too(as_user, owner, member, club):
    edit = reverse("club_member_edit", args=[club.pk, place_of(member, club).pk])
    as_user(owner).post(edit, {"role": "officer"})
    assert role_of(member, club) == "officer"


def test_the_last_officer_stays_one(as_user, owner, club):
    edit = reverse("club_member_edit", args=[club.pk, place_of(owner, club).pk])
    assert as_user(owner).post(edit, {"role": "member"}).status_code == 422
    assert role_of(owner, club) == "officer"


def test_nobody_is_removed_by_themselves(as_user, owner, club):
    address = reverse("club_member_remove", args=[club.pk, place_of(owner, club).pk])
    assert as_user(owner).post(address).status_code == 404 and role_of(owner, club) == "officer"


def test_a_removed_member_sees_nothing_at_once(as_user, owner, member, club):
    client = as_user(member)
    assert client.get(reverse("club_detail", args=[club.pk])).status_code == 200
    as_user(owner).post(reverse("club_member_remove", args=[club.pk, place_of(member, club).pk]))
    assert client.get(reverse("club_detail", args=[club.pk])).status_code == 404


def test_a_blocked_member_is_out_until_they_are_unblocked(as_user, owner, member, club, link):
    officer = as_user(owner)
    officer.post(reverse("club_member_block", args=[club.pk, place_of(member, club).pk]))
    as_user(member).post(link)
    assert role_of(member, club) is None
    officer.post(reverse("club_unblock", args=[club.pk, Block.objects.get(user=member).pk]))
    as_user(member).post(link)
    assert role_of(member, club) == "member"


# --- Leaving -----------------------------------------------------------------------------------
def test_a_member_leaves(as_user, member, club):
    client, address = as_user(member), reverse("club_leave", args=[club.pk])
    client.get(address)
    assert role_of(member, club) == "member"
    client.post(address)
    assert role_of(member, club) is None and club.memberships.count() == 1


def test_the_last_officer_names_another(as_user, owner, member, club):
    client, address = as_user(owner), reverse("club_leave", args=[club.pk])
    assert client.post(address).status_code == 422 and role_of(owner, club) == "officer"
    client.post(address, {"successor": place_of(member, club).pk})
    assert (role_of(owner, club), role_of(member, club)) == (None, "officer")


def test_the_last_officer_names_nobody_from_elsewhere(as_user, owner, stranger, club):
    other = make_club(stranger, make_user(), name="Another club")
    address, place = reverse("club_leave", args=[club.pk]), other.memberships.last()
    assert as_user(owner).post(address, {"successor": place.pk}).status_code == 422
    assert place.role == "member"


def test_the_last_officer_may_close_the_club(as_user, owner, member, club, link):
    as_user(owner).post(reverse("club_leave", args=[club.pk]), {"close": ""})
    assert Club.objects.get().closed_at and not Membership.objects.exists()
    assert as_user(member).get(reverse("club_detail", args=[club.pk])).status_code == 404


def test_a_club_closes_with_its_only_member(as_user, stranger):
    club = make_club(stranger)
    as_user(stranger).post(reverse("club_leave", args=[club.pk]))
    assert Club.objects.get().closed_at and not Club.objects.visible_to(stranger).exists()


def test_only_the_last_officer_closes(as_user, member, club):
    as_user(member).post(reverse("club_leave", args=[club.pk]), {"close": ""})
    assert Club.objects.get().closed_at is None and role_of(member, club) is None


def test_an_officer_beside_another_just_leaves(as_user, owner, member, club):
    club.memberships.filter(user=member).update(role="officer")
    as_user(owner).post(reverse("club_leave", args=[club.pk]))
    assert role_of(owner, club) is None and Club.objects.get().closed_at is None


def test_no_way_out_leaves_a_club_without_an_officer(owner, club):
    with pytest.raises(OfficerMissing):
        leave(club=club, user=owner)
    assert role_of(owner, club) == "officer"

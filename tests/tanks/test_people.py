"""Invitations, roles, leaving. No page tells who has an account."""

import datetime as dt

import pytest
from allauth.account.models import EmailAddress
from django.urls import reverse
from django.utils import timezone

from apps.tanks.models import INVITATIONS_OPEN_MAX, Invitation, Membership
from apps.tanks.people.joining import accept_invitation
from tests.factories import make_tank, make_user


def invite(client, tank, email="friend@example.org", role="viewer"):
    """Make an invitation on the page and return the path of its link."""
    new = reverse("invitation_new", args=[tank.pk])
    page = client.post(new, {"email": email, "role": role}, follow=True).content.decode()
    return "/invitations/" + page.split("/invitations/")[1].split("<")[0]


@pytest.fixture
def link(as_user, owner, tank):
    return invite(as_user(owner), tank)


@pytest.fixture
def friend(db):
    return make_user(email="friend@example.org", display_name="Fenja")


def confirm_email(user):
    EmailAddress.objects.create(user=user, email=user.email, verified=True, primary=True)


def role_of(user, tank):
    return tank.memberships.filter(user=user).values_list("role", flat=True).first()


def test_link_lets_its_first_holder_in(as_user, friend, tank, link):
    as_user(friend).post(link, {"accept": ""})
    assert role_of(friend, tank) == "viewer"


def test_link_works_once(as_user, friend, stranger, tank, link):
    as_user(friend).post(link, {"accept": ""})
    response = as_user(stranger).post(link, {"accept": ""})
    assert response.status_code == 404 and role_of(stranger, tank) is None


def test_looking_at_the_link_lets_nobody_in(as_user, friend, tank, link):
    page = as_user(friend).get(link).content.decode()
    assert "Ottilie" in page and role_of(friend, tank) is None


def test_link_says_what_for_before_signing_in(client, link):
    page = client.get(link).content.decode()
    assert "Ottilie" in page and f"/accounts/login/?next={link}" in page


def test_link_survives_making_an_account(client, link):
    assert f"/accounts/signup/?next={link}" in client.get(link).content.decode()
    page = client.get(f"/accounts/signup/?next={link}").content.decode()
    assert f'value="{link}"' in page


def test_answering_needs_an_account(client, tank, link):
    response = client.post(link, {"accept": ""})
    assert response["Location"] == f"/accounts/login/?next={link}"
    assert not tank.memberships.exists()


def test_link_is_shown_once(as_user, owner, tank):
    client = as_user(owner)
    invite(client, tank)
    assert client.get(reverse("invitation_link", args=[tank.pk])).status_code == 302


def test_link_is_stored_hashed(link):
    assert link.split("/")[2] not in Invitation.objects.values_list("token_hash", flat=True)


def test_declined_link_opens_nothing(as_user, friend, tank, link):
    client = as_user(friend)
    client.post(link, {"decline": ""})
    assert client.get(link).status_code == 404 and role_of(friend, tank) is None


def test_old_link_opens_nothing(as_user, friend, link):
    Invitation.objects.update(expires_at=timezone.now() - dt.timedelta(seconds=1))
    assert as_user(friend).get(link).status_code == 404


def test_called_back_link_opens_nothing(as_user, owner, friend, tank, link):
    pk = Invitation.objects.get().pk
    as_user(owner).post(reverse("invitation_cancel", args=[tank.pk, pk]))
    assert as_user(friend).get(link).status_code == 404


def test_link_of_a_removed_tank_opens_nothing(as_user, friend, tank, link):
    tank.remove()
    assert as_user(friend).get(link).status_code == 404


def test_owner_following_the_own_link_stays_owner(as_user, owner, tank, link):
    as_user(owner).post(link, {"accept": ""})
    assert role_of(owner, tank) is None and Invitation.objects.open_now().count() == 1


def test_tank_given_to_the_invited_makes_them_no_member(friend, tank, link):
    invitation = Invitation.objects.get()
    tank.owner = friend
    tank.save()
    assert accept_invitation(invitation=invitation, user=friend) is None
    assert not Membership.objects.exists() and Invitation.objects.open_now().exists()


def test_new_invitation_to_an_address_stops_the_old_one(as_user, owner, friend, tank, link):
    second = invite(as_user(owner), tank, email="FRIEND@example.org", role="co_keeper")
    client = as_user(friend)
    assert client.get(link).status_code == 404
    client.post(second, {"accept": ""})
    assert role_of(friend, tank) == "co_keeper"


def test_invitation_changes_the_role_of_one_already_in(as_user, owner, viewer, tank):
    second = invite(as_user(owner), tank, email=viewer.email, role="co_keeper")
    as_user(viewer).post(second, {"accept": ""})
    assert role_of(viewer, tank) == "co_keeper" and tank.memberships.count() == 1


def test_two_taps_on_accept_let_in_once(friend, tank, link):
    invitation = Invitation.objects.get()
    assert accept_invitation(invitation=invitation, user=friend) is not None
    assert accept_invitation(invitation=invitation, user=friend) is None


def test_open_invitations_have_an_end(as_user, owner, tank):
    client = as_user(owner)
    for n in range(INVITATIONS_OPEN_MAX):
        invite(client, tank, email=f"friend{n}@example.org")
    new = reverse("invitation_new", args=[tank.pk])
    response = client.post(new, {"email": "more@example.org", "role": "viewer"})
    assert response.status_code == 422 and b'value="more@example.org"' in response.content


def test_answer_is_the_same_whether_an_account_exists(as_user, owner, friend, tank):
    client = as_user(owner)
    pages = []
    for email in (friend.email, "nobody@example.org"):
        new = reverse("invitation_new", args=[tank.pk])
        page = client.post(new, {"email": email, "role": "viewer"}, follow=True).content.decode()
        token = page.split("/invitations/")[1].split("/")[0]
        pages.append(page.split("<main")[1].split("</main")[0].replace(token, ""))
    assert pages[0] == pages[1]


# Without the link: only for an address shown to be one's own.


def test_confirmed_email_finds_the_invitation(as_user, friend, tank, link):
    confirm_email(friend)
    client = as_user(friend)
    answer = reverse("invitation_answer", args=[Invitation.objects.get().pk])
    assert answer in client.get(reverse("tank_list")).content.decode()
    client.post(answer, {"accept": ""})
    assert role_of(friend, tank) == "viewer"


def test_unconfirmed_email_finds_nothing(as_user, friend, tank, link):
    EmailAddress.objects.create(user=friend, email=friend.email, verified=False, primary=True)
    client = as_user(friend)
    answer = reverse("invitation_answer", args=[Invitation.objects.get().pk])
    assert answer not in client.get(reverse("tank_list")).content.decode()
    assert client.post(answer, {"accept": ""}).status_code == 404
    assert role_of(friend, tank) is None


def test_invitation_of_another_is_not_found(as_user, stranger, tank, link):
    confirm_email(stranger)
    answer = reverse("invitation_answer", args=[Invitation.objects.get().pk])
    assert as_user(stranger).post(answer, {"accept": ""}).status_code == 404


# Who may do what to whom.


@pytest.mark.parametrize(
    ("who", "status"), [("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_only_the_owner_invites(request, as_user, tank, who, status):
    client = as_user(request.getfixturevalue(who))
    new = reverse("invitation_new", args=[tank.pk])
    assert client.post(new, {"email": "x@example.org", "role": "viewer"}).status_code == status


def test_only_the_owner_sees_whom_was_invited(as_user, viewer, owner, tank, link):
    page = reverse("tank_settings", args=[tank.pk])
    assert "friend@example.org" in as_user(owner).get(page).content.decode()
    assert "friend@example.org" not in as_user(viewer).get(page).content.decode()


def test_owner_changes_a_role(as_user, owner, viewer, tank):
    membership = tank.memberships.get(user=viewer)
    edit = reverse("membership_edit", args=[tank.pk, membership.pk])
    as_user(owner).post(edit, {"role": "co_keeper"})
    assert role_of(viewer, tank) == Membership.Role.CO_KEEPER


def test_co_keeper_does_not_raise_a_viewer(as_user, co_keeper, viewer, tank):
    membership = tank.memberships.get(user=viewer)
    edit = reverse("membership_edit", args=[tank.pk, membership.pk])
    assert as_user(co_keeper).post(edit, {"role": "co_keeper"}).status_code == 403


def test_owner_removes_a_person(as_user, owner, viewer, tank):
    membership = tank.memberships.get(user=viewer)
    as_user(owner).post(reverse("membership_remove", args=[tank.pk, membership.pk]))
    assert as_user(viewer).get(reverse("tank_detail", args=[tank.pk])).status_code == 404


def test_owner_removes_nobody_from_another_tank(as_user, owner, tank):
    other = make_tank().memberships.create(user=make_user())
    remove = reverse("membership_remove", args=[tank.pk, other.pk])
    assert as_user(owner).post(remove).status_code == 404


def test_a_person_leaves_after_being_asked(as_user, viewer, tank):
    client, leave = as_user(viewer), reverse("membership_leave", args=[tank.pk])
    client.get(leave)
    assert role_of(viewer, tank) == "viewer"
    client.post(leave)
    assert role_of(viewer, tank) is None


@pytest.mark.parametrize("who", ["owner", "stranger"])
def test_leaving_is_for_members(request, as_user, tank, who):
    client = as_user(request.getfixturevalue(who))
    assert client.post(reverse("membership_leave", args=[tank.pk])).status_code == 404

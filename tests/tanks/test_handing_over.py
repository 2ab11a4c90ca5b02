"""A tank handed to another owner: offered by a link, accepted by the other, and then theirs."""

import datetime as dt

import pytest
from allauth.account.models import EmailAddress
from django.urls import reverse
from django.utils import timezone

from apps.outcomes.models import PoolShare
from apps.planning.models import Plan
from apps.sharing.models import CalendarLink, ShareLink
from apps.tanks.models import Invitation, ShownTank, Tank
from tests.factories import make_club, make_plan, make_survey, make_user


@pytest.fixture
def heir(db):
    return make_user(email="heir@example.org", display_name="Hedda")


def offer(client, tank, **data):
    """Offer a tank on its page and return the path of the link."""
    address = reverse("tank_hand_over", args=[tank.pk])
    page = client.post(address, {"email": "heir@example.org"} | data, follow=True)
    return "/invitations/" + page.content.decode().split("/invitations/")[1].split("<")[0]


@pytest.fixture
def link(as_user, owner, tank):
    return offer(as_user(owner), tank)


def owner_of(tank):
    return Tank.objects.get(pk=tank.pk).owner


def sees(as_user, user, tank):
    return as_user(user).get(reverse("tank_detail", args=[tank.pk])).status_code


@pytest.mark.parametrize(
    ("who", "status"), [("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_only_the_owner_offers_a_tank(request, as_user, tank, who, status):
    client = as_user(request.getfixturevalue(who))
    address = reverse("tank_hand_over", args=[tank.pk])
    assert client.get(address).status_code == client.post(address).status_code == status
    assert not Invitation.objects.exists()


def test_who_accepts_owns_it_and_the_one_before_keeps_nothing(as_user, owner, heir, tank, link):
    as_user(heir).post(link, {"accept": ""})
    assert owner_of(tank) == heir and not tank.memberships.exists()
    assert (sees(as_user, heir, tank), sees(as_user, owner, tank)) == (200, 404)


def test_the_one_before_may_stay_as_a_co_keeper(as_user, owner, heir, tank):
    link = offer(as_user(owner), tank, owner_stays="on")
    as_user(heir).post(link, {"accept": ""})
    assert owner_of(tank) == heir and tank.memberships.get().role == "co_keeper"
    assert sees(as_user, owner, tank) == 200


def test_until_it_is_accepted_nothing_changes(as_user, owner, heir, tank, link):
    page = as_user(heir).get(link).content.decode()
    assert "Ottilie" in page and owner_of(tank) == owner
    as_user(heir).post(link, {"decline": ""})
    assert owner_of(tank) == owner and as_user(heir).get(link).status_code == 404


def test_an_offer_is_withdrawn(as_user, owner, heir, tank, link):
    pk = Invitation.objects.get().pk
    as_user(owner).post(reverse("invitation_cancel", args=[tank.pk, pk]))
    as_user(heir).post(link, {"accept": ""})
    assert owner_of(tank) == owner


def test_an_offer_is_taken_once(as_user, heir, stranger, tank, link):
    as_user(heir).post(link, {"accept": ""})
    assert as_user(stranger).post(link, {"accept": ""}).status_code == 404
    assert owner_of(tank) == heir


def test_an_offer_shows_up_for_a_confirmed_address_as_what_it_is(as_user, heir, tank, link):
    EmailAddress.objects.create(user=heir, email=heir.email, verified=True, primary=True)
    invitation = Invitation.objects.get()
    page = as_user(heir).get(reverse("tank_list")).content.decode()
    assert invitation.offer_words() in page and "owner" in invitation.offer_words()
    as_user(heir).post(reverse("invitation_answer", args=[invitation.pk]), {"accept": ""})
    assert owner_of(tank) == heir


def test_a_member_who_becomes_the_owner_is_no_member_any_more(as_user, owner, co_keeper, tank):
    link = offer(as_user(owner), tank, email=co_keeper.email)
    as_user(co_keeper).post(link, {"accept": ""})
    assert owner_of(tank) == co_keeper and not tank.memberships.exists()


def test_others_who_were_let_in_stay(as_user, heir, viewer, tank, link):
    as_user(heir).post(link, {"accept": ""})
    assert sees(as_user, viewer, tank) == 200


def test_an_ordinary_invitation_hands_nothing_over(as_user, owner, heir, tank):
    new = reverse("invitation_new", args=[tank.pk])
    sent = {"email": heir.email, "role": "co_keeper", "hands_over": "on", "owner_stays": "on"}
    page = as_user(owner).post(new, sent, follow=True).content.decode()
    path = "/invitations/" + page.split("/invitations/")[1].split("<")[0]
    as_user(heir).post(path, {"accept": ""})
    assert owner_of(tank) == owner and tank.memberships.get().user == heir


def test_every_door_its_first_owner_opened_closes(as_user, owner, heir, tank, link):
    share = ShareLink(tank=tank, expires_at=timezone.now() + dt.timedelta(days=7))
    token = share.renew_token()
    share.save()
    calendar = CalendarLink.objects.create(tank=tank, keeper=owner, token_hash="0" * 64)
    ShownTank.objects.create(tank=tank, club=make_club(owner, heir))
    PoolShare.objects.create(tank=tank, agreed_by=owner)
    as_user(heir).post(link, {"accept": ""})
    assert as_user(owner).get(reverse("shared_map", args=[token])).status_code == 404
    assert not CalendarLink.objects.filter(pk=calendar.pk).exists()
    assert not ShownTank.objects.exists() and not PoolShare.objects.exists()
    assert not Invitation.objects.open_now().exists()


def test_what_is_in_the_tank_goes_along(as_user, owner, heir, tank, link):
    survey, plan, other = make_survey(tank), make_plan(owner, tank), make_plan(owner)
    as_user(heir).post(link, {"accept": ""})
    client = as_user(heir)
    assert client.get(reverse("survey_detail", args=[survey.pk])).status_code == 200
    assert Plan.objects.get(pk=plan.pk).owner == heir
    assert Plan.objects.get(pk=other.pk).owner == owner


def test_an_address_that_is_none_is_refused_and_kept(as_user, owner, tank):
    answer = as_user(owner).post(reverse("tank_hand_over", args=[tank.pk]), {"email": "nobody"})
    assert answer.status_code == 422 and 'value="nobody"' in answer.content.decode()

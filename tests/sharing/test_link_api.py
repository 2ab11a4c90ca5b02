"""Share links over the API: the owner's alone, and all that a token of that scope may write."""

import datetime as dt

import pytest
from django.contrib.auth.hashers import check_password
from django.test import Client
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.sharing.models import CalendarLink, ShareLink
from tests.factories import make_tank, make_user


def api(user):
    client = APIClient()
    client.force_authenticate(user)
    return client


def links_of(tank, pk=None):
    return f"/api/v1/tanks/{tank.pk}/share-links/" + (f"{pk}/" if pk else "")


def program(user, scope):
    instance, token = AuthToken.objects.create(user)
    TokenCard.objects.create(token=instance, name="Frame", scope=scope)
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {token}")
    return client


def opened(address):
    return Client().get(address.removeprefix("http://testserver")).status_code


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 201), ("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_the_owner_alone_makes_links(request, tank, who, status):
    sent = api(request.getfixturevalue(who)).post(links_of(tank), {"label": "Club"})
    assert sent.status_code == status
    assert ShareLink.objects.count() == (status == 201)


@pytest.mark.parametrize(("who", "status"), [("owner", 200), ("viewer", 403), ("stranger", 404)])
def test_the_owner_alone_sees_links(request, tank, who, status):
    assert api(request.getfixturevalue(who)).get(links_of(tank)).status_code == status


def test_the_address_is_told_once(owner, tank):
    made = api(owner).post(links_of(tank), {})
    assert opened(made.data["address"]) == 200
    assert made["Cache-Control"] == "private, no-store"
    assert api(owner).get(made["Location"]).data["address"] is None


def test_a_revoked_link_opens_nothing_and_stays_listed(owner, tank):
    made = api(owner).post(links_of(tank), {}).data
    assert api(owner).delete(links_of(tank, made["id"])).status_code == 204
    assert opened(made["address"]) == 404
    assert api(owner).get(links_of(tank)).data["results"][0]["revoked_at"]


def test_a_passphrase_is_kept_as_passwords_are(owner, tank):
    made = api(owner).post(links_of(tank), {"passphrase": "wavemaker"}).data
    assert made["has_passphrase"] and "passphrase" not in made
    assert check_password("wavemaker", ShareLink.objects.get().passphrase)


@pytest.mark.parametrize(
    "wrong", [{"days": 8}, {"passphrase": "short"}, {"as_of": "2999-01-01"}, {"token": "x"}]
)
def test_what_the_page_refuses_is_refused(owner, tank, wrong):
    refused = api(owner).post(links_of(tank), wrong)
    assert refused.status_code == 400 and list(refused.json()["errors"]) == list(wrong)
    assert not ShareLink.objects.exists()


def test_a_link_of_another_tank_is_not_found(owner, tank):
    made = api(owner).post(links_of(tank), {}).data
    other = make_tank(owner)
    assert api(owner).delete(links_of(other, made["id"])).status_code == 404


def test_a_token_to_share_makes_and_revokes_links_and_writes_nothing_else(owner, tank):
    client = program(owner, "share")
    made = client.post(links_of(tank), {})
    assert made.status_code == 201
    assert client.delete(links_of(tank, made.data["id"])).status_code == 204
    assert client.get("/api/v1/tanks/").status_code == 200
    assert client.patch(f"/api/v1/tanks/{tank.pk}/", {"name": "Mine"}).status_code == 403


def test_a_token_to_read_makes_no_link(owner, tank):
    assert program(owner, "read").post(links_of(tank), {}).status_code == 403


def test_a_token_shares_its_keepers_tanks_alone(tank):
    assert program(make_user(), "share").post(links_of(tank), {}).status_code == 404


# --- Prolonging -----------------------------------------------------------------------------
def prolong(user, tank, pk, **said):
    return api(user).post(f"{links_of(tank, pk)}prolong/", said, format="json")


def test_a_link_is_prolonged_under_its_address(owner, tank):
    made = api(owner).post(links_of(tank), {}).data
    ShareLink.objects.update(expires_at=timezone.now() - dt.timedelta(days=1))
    assert opened(made["address"]) == 404
    answer = prolong(owner, tank, made["id"], days=90)
    assert answer.status_code == 200 and answer.data["address"] is None
    left = ShareLink.objects.get().expires_at - timezone.now()
    assert left.days == 89 and opened(made["address"]) == 200


@pytest.mark.parametrize("said", [{}, {"days": 8}, {"days": None}, {"days": []}, {"day": 7}])
def test_a_link_is_prolonged_by_what_the_page_offers(owner, tank, said):
    made = api(owner).post(links_of(tank), {}).data
    before = ShareLink.objects.get().expires_at
    answer = prolong(owner, tank, made["id"], **said)
    assert answer.status_code == 400 and "days" in {*answer.json()["errors"], *said}
    assert ShareLink.objects.get().expires_at == before


def test_a_revoked_link_is_not_prolonged(owner, tank):
    made = api(owner).post(links_of(tank), {}).data
    api(owner).delete(links_of(tank, made["id"]))
    before = ShareLink.objects.get().expires_at
    answer = prolong(owner, tank, made["id"], days=30)
    assert answer.status_code == 400 and list(answer.json()["errors"]) == ["days"]
    assert ShareLink.objects.get().expires_at == before and opened(made["address"]) == 404


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_the_owner_alone_prolongs(request, owner, tank, who, status):
    made = api(owner).post(links_of(tank), {}).data
    assert prolong(request.getfixturevalue(who), tank, made["id"], days=7).status_code == status


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 200), ("write", 200)])
def test_which_tokens_prolong(owner, tank, scope, status):
    made = api(owner).post(links_of(tank), {}).data
    answer = program(owner, scope).post(f"{links_of(tank, made['id'])}prolong/", {"days": 7})
    assert answer.status_code == status


# --- Calendar -------------------------------------------------------------------------------
def calendar_of(tank):
    return f"/api/v1/tanks/{tank.pk}/calendar-link/"


def test_a_calendar_link_is_made_renewed_and_ended(owner, tank):
    client = api(owner)
    assert client.get(calendar_of(tank)).status_code == 404
    first = client.post(calendar_of(tank))
    assert first.status_code == 201 and first["Cache-Control"] == "private, no-store"
    assert client.get(calendar_of(tank)).data["address"] is None
    second = client.post(calendar_of(tank)).data
    assert opened(first.data["address"]) == 404 and opened(second["address"]) == 200
    assert client.delete(calendar_of(tank)).status_code == 204
    assert opened(second["address"]) == 404 and client.get(calendar_of(tank)).status_code == 404
    assert client.delete(calendar_of(tank)).status_code == 204


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 201), ("co_keeper", 201), ("viewer", 201), ("stranger", 404)]
)
def test_who_reads_a_tank_has_a_calendar_of_their_own(request, tank, who, status):
    answer = api(request.getfixturevalue(who)).post(calendar_of(tank))
    assert answer.status_code == status
    assert CalendarLink.objects.count() == (status == 201)


def test_a_calendar_link_ends_no_other_keepers(owner, viewer, tank):
    theirs = api(viewer).post(calendar_of(tank)).data
    api(owner).post(calendar_of(tank))
    api(owner).delete(calendar_of(tank))
    assert opened(theirs["address"]) == 200

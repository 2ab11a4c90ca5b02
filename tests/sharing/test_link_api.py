"""Share links over the API: the owner's alone, and all that a token of that scope may write."""

import pytest
from django.contrib.auth.hashers import check_password
from django.test import Client
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.sharing.models import ShareLink
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

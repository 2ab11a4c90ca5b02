"""Tokens: shown once, stored hashed, revoked at once; no way in by password."""

import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.token_views import TOKENS_MAX
from tests.factories import PASSWORD


@pytest.fixture
def signed_in(client, owner):
    """A keeper who has just said the password once more: making a token asks for that."""
    cache.clear()
    client.force_login(owner)
    client.post("/accounts/reauthenticate/", {"password": PASSWORD})
    return client


def make_token(client):
    page = client.post(reverse("token_new"), follow=True).content.decode()
    return page.split('<p class="token">')[1].split("<")[0]


def call(token):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    return client.get("/api/v1/tanks/")


def test_token_opens_what_its_keeper_may_see(signed_in, tank):
    assert [t["id"] for t in call(make_token(signed_in)).data["results"]] == [tank.pk]


def test_token_is_shown_once(signed_in):
    token = make_token(signed_in)
    assert token not in signed_in.get(reverse("token_list")).content.decode()


def test_token_is_stored_hashed(signed_in):
    assert make_token(signed_in) not in AuthToken.objects.values_list("digest", flat=True)


def test_revoked_token_opens_nothing(signed_in):
    token = make_token(signed_in)
    signed_in.post(reverse("token_revoke", args=[AuthToken.objects.get().token_key]))
    assert call(token).status_code == 401


def test_expired_token_opens_nothing(signed_in):
    token = make_token(signed_in)
    AuthToken.objects.update(expiry=timezone.now())
    assert call(token).status_code == 401


def test_token_of_another_is_not_revoked(signed_in, as_user, stranger):
    make_token(signed_in)
    revoke = reverse("token_revoke", args=[AuthToken.objects.get().token_key])
    assert as_user(stranger).post(revoke).status_code == 404


def test_making_a_token_asks_for_the_password(as_user, owner):
    response = as_user(owner).post(reverse("token_new"))
    assert reverse("account_reauthenticate") in response["Location"]
    assert not AuthToken.objects.exists()


def test_password_given_the_token_is_made_without_asking_again(as_user, owner):
    cache.clear()
    client = as_user(owner)
    ask = client.post(reverse("token_new"))["Location"]
    page = client.post(ask, {"password": PASSWORD}, follow=True).content.decode()
    assert '<p class="token">' in page and AuthToken.objects.count() == 1


def test_tokens_have_an_end(signed_in, owner):
    for _ in range(TOKENS_MAX):
        AuthToken.objects.create(owner)
    signed_in.post(reverse("token_new"))
    assert AuthToken.objects.count() == TOKENS_MAX


def test_guessed_token_opens_nothing(db):
    assert call("0" * 64).status_code == 401


def test_password_opens_nothing_here(owner):
    client = APIClient()
    assert client.login(email=owner.email, password="wrong") is False
    client.credentials(HTTP_AUTHORIZATION="Basic b3duZXI6d3Jvbmc=")
    assert client.get("/api/v1/tanks/").status_code == 401


def test_session_writes_need_the_csrf_mark(owner):
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(owner)
    body = {"name": "Cube", "length_cm": 40, "width_cm": 40, "depth_cm": 35}
    assert client.post("/api/v1/tanks/", body, format="json").status_code == 403


def test_too_many_calls_are_slowed(signed_in, monkeypatch):
    from rest_framework.throttling import UserRateThrottle

    monkeypatch.setattr(UserRateThrottle, "rate", "3/min", raising=False)
    token = make_token(signed_in)
    assert [call(token).status_code for _ in range(4)] == [200, 200, 200, 429]


def test_a_visitor_can_not_count_as_many_by_a_forged_address(db, monkeypatch):
    from rest_framework.throttling import AnonRateThrottle

    cache.clear()
    monkeypatch.setattr(AnonRateThrottle, "rate", "2/min", raising=False)
    client = APIClient()
    forged = [{"HTTP_X_FORWARDED_FOR": f"10.0.0.{n}"} for n in range(3)]
    answers = [client.get("/api/v1/schema/", **headers).status_code for headers in forged]
    assert answers == [200, 200, 429]


def test_schema_is_whole_and_of_its_version(client, db):
    cache.clear()
    schema = client.get("/api/v1/schema/").json()
    assert schema["openapi"] == "3.1.1"
    assert "/api/v1/tanks/{tank_pk}/surveys/{id}/" in schema["paths"]
    assert "knoxApiToken" in schema["components"]["securitySchemes"]

"""Tokens: shown once, stored hashed, revoked at once; no way in by password."""

import datetime as dt

import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.api.tokens.views import TOKENS_MAX
from tests.factories import PASSWORD


@pytest.fixture
def signed_in(client, owner):
    """A keeper who has just said the password once more: making a token asks for that."""
    cache.clear()
    client.force_login(owner)
    client.post("/accounts/reauthenticate/", {"password": PASSWORD})
    return client


NEW = {"name": "Logger", "scope": "write", "days": 183}


def make_token(client, **said):
    page = client.post(reverse("token_new"), NEW | said, follow=True).content.decode()
    return page.split('<p class="token">')[1].split("<")[0]


def program(token, scheme="Bearer"):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"{scheme} {token}")
    return client


def call(token):
    return program(token).get("/api/v1/tanks/")


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
    client.post(ask, {"password": PASSWORD})
    assert make_token(client) and AuthToken.objects.count() == 1


def test_the_page_says_what_a_token_to_write_may_do_at_worst(signed_in):
    page = signed_in.get(reverse("token_list")).content.decode()
    assert "give a tank away, let co-keepers in or close a club" in page


def test_tokens_have_an_end(signed_in, owner):
    for _ in range(TOKENS_MAX):
        AuthToken.objects.create(owner)
    assert signed_in.post(reverse("token_new"), NEW).status_code == 422
    assert AuthToken.objects.count() == TOKENS_MAX


@pytest.mark.parametrize("wrong", [{"name": ""}, {"scope": "all"}, {"days": 9999}])
def test_a_token_wrongly_described_is_not_made_and_nothing_typed_is_lost(signed_in, wrong):
    answer = signed_in.post(reverse("token_new"), NEW | {"name": "My logger"} | wrong)
    assert answer.status_code == 422 and not AuthToken.objects.exists()
    assert wrong.keys() <= answer.context["form"].errors.keys()
    assert "name" in wrong or "My logger" in answer.content.decode()


def test_a_token_to_read_writes_nothing(signed_in, tank):
    client = program(make_token(signed_in, scope="read"))
    assert client.get(f"/api/v1/tanks/{tank.pk}/").status_code == 200
    answers = [
        client.post("/api/v1/tanks/", {"name": "Cube"}),
        client.patch(f"/api/v1/tanks/{tank.pk}/", {"name": "Cube"}),
        client.delete(f"/api/v1/tanks/{tank.pk}/"),
    ]
    assert [answer.status_code for answer in answers] == [403] * 3


def test_a_token_to_read_may_ask_for_light_at_many_points(signed_in, tank):
    client = program(make_token(signed_in, scope="read"))
    body = {"points": [{"x_cm": 1, "y_cm": 1, "depth_cm": 1}]}
    answer = client.post(f"/api/v1/tanks/{tank.pk}/light/", body, format="json")
    assert answer.status_code == 200


def test_a_token_lives_as_long_as_was_chosen(signed_in):
    make_token(signed_in, days=30)
    left = AuthToken.objects.get().expiry - timezone.now()
    assert 29 < left.total_seconds() / 86400 <= 30


@pytest.mark.parametrize("scheme", ["Bearer", "bearer", "Token"])
def test_a_token_is_taken_after_either_scheme(signed_in, scheme):
    assert program(make_token(signed_in), scheme).get("/api/v1/tanks/").status_code == 200


def test_when_a_token_was_used_is_shown(signed_in):
    token = make_token(signed_in)
    assert TokenCard.objects.get().last_used_at is None
    call(token)
    assert timezone.now() - TokenCard.objects.get().last_used_at < dt.timedelta(minutes=1)


def test_a_program_learns_whose_token_it_has(signed_in, owner):
    me = program(make_token(signed_in, scope="read")).get("/api/v1/me/").json()
    assert me["id"] == owner.pk and me["token"]["scope"] == "read"
    assert owner.email not in str(me)


def test_a_token_from_before_there_were_names_may_still_write(owner, tank):
    client = program(AuthToken.objects.create(owner)[1])
    assert client.patch(f"/api/v1/tanks/{tank.pk}/", {"name": "Cube"}).status_code == 200


def test_the_page_for_programs_has_every_call(client, db):
    page = client.get(reverse("api_docs")).content.decode()
    cache.clear()
    paths = client.get("/api/v1/schema/").json()["paths"]
    assert len(paths) > 30 and all(path in page for path in paths)


def test_what_is_done_with_a_tank_stands_with_tanks(client, db):
    subjects = dict(client.get(reverse("api_docs")).context["subjects"])
    paths = {operation.path for operation in subjects["tanks"]}
    assert {"tanks/", "tanks/{id}/", "tanks/{id}/end/", "tanks/{id}/leave/"} <= paths
    assert "end" not in subjects and subjects["rocks"]


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
    assert schema["components"]["securitySchemes"]["token"]["scheme"] == "bearer"

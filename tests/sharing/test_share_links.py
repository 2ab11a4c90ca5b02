"""Making, seeing and revoking share links: the owner's alone."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.common.tokens import hash_token
from apps.sharing.models import ShareLink
from tests.sharing.links import make_link

NOW, DAY = timezone.now(), dt.timedelta(days=1)


def make(client, tank, **fields):
    data = {"label": "Club night", "days": 30, "show_corals": "on"} | fields
    return client.post(reverse("share_link_new", args=[tank.pk]), data)


def test_owner_makes_a_link_that_opens(as_user, owner, tank, client):
    response = make(as_user(owner), tank)
    address = response.context["address"]
    assert response.status_code == 200
    assert client.get(address.removeprefix("http://testserver")).status_code == 200


def test_address_is_shown_once_and_never_stored(as_user, owner, tank):
    keeper = as_user(owner)
    token = make(keeper, tank).context["address"].rstrip("/").rsplit("/", 1)[1]
    link = ShareLink.objects.get()
    assert link.token_hash == hash_token(token) and token not in link.token_hash
    assert token not in keeper.get(reverse("share_link_list", args=[tank.pk])).content.decode()


def test_answer_that_holds_the_address_is_not_kept_or_passed_on(as_user, owner, tank):
    response = make(as_user(owner), tank)
    assert "no-store" in response["Cache-Control"]
    assert response["Referrer-Policy"] == "no-referrer"


def test_code_for_a_phone_is_drawn_without_inline_style(as_user, owner, tank):
    body = make(as_user(owner), tank).content.decode()
    assert 'stroke="#000"' in body and " style=" not in body


@pytest.mark.parametrize("days", [7, 30, 90, 365])
def test_link_runs_out_when_chosen(as_user, owner, tank, days):
    make(as_user(owner), tank, days=days)
    left = ShareLink.objects.get().expires_at - timezone.now()
    assert dt.timedelta(days=days, minutes=-1) < left <= dt.timedelta(days=days)


def test_notes_and_photos_are_off_unless_chosen(as_user, owner, tank):
    make(as_user(owner), tank)
    link = ShareLink.objects.get()
    assert (link.show_corals, link.show_notes, link.show_photos) == (True, False, False)


def test_odd_expiry_is_refused_and_what_was_typed_stays(as_user, owner, tank):
    response = make(as_user(owner), tank, days=9999)
    assert response.status_code == 422 and "Club night" in response.content.decode()
    assert not ShareLink.objects.exists()


def test_revoked_link_no_longer_opens(as_user, owner, tank, client):
    link, token = make_link(tank)
    assert client.get(reverse("shared_map", args=[token])).status_code == 200
    as_user(owner).post(reverse("share_link_revoke", args=[link.pk]))
    assert client.get(reverse("shared_map", args=[token])).status_code == 404


def test_revoking_again_keeps_the_first_moment(tank):
    link, _ = make_link(tank)
    link.revoke()
    first = link.revoked_at
    link.revoke()
    link.refresh_from_db()
    assert link.revoked_at == first


def test_list_tells_the_state_of_each_link(as_user, owner, tank):
    make_link(tank, label="For Vida")
    make_link(tank, label="Last year", expires_at=timezone.now() - dt.timedelta(days=1))
    make_link(tank, label="Lost phone")[0].revoke()
    body = as_user(owner).get(reverse("share_link_list", args=[tank.pk])).content.decode()
    assert all(
        word in body for word in ("Opens until</strong>", "Ran out</strong>", "Revoked</strong>")
    )
    assert body.count('class="button--danger"') == 1


@pytest.mark.parametrize("reader", ["co_keeper", "viewer"])
def test_others_read_that_the_owner_shares_and_see_no_links(request, as_user, tank, reader):
    make_link(tank, label="For the club")
    client = as_user(request.getfixturevalue(reader))
    body = client.get(reverse("share_link_list", args=[tank.pk])).content.decode()
    assert "Only the owner" in body and "For the club" not in body


@pytest.mark.parametrize(
    ("reader", "status"), [("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_others_can_neither_make_nor_revoke(request, as_user, tank, reader, status):
    link, _ = make_link(tank)
    client = as_user(request.getfixturevalue(reader))
    assert make(client, tank).status_code == status
    assert client.post(reverse("share_link_revoke", args=[link.pk])).status_code == status
    link.refresh_from_db()
    assert link.revoked_at is None and ShareLink.objects.count() == 1


def test_making_and_revoking_need_a_post(as_user, owner, tank):
    link, _ = make_link(tank)
    client = as_user(owner)
    assert client.get(reverse("share_link_new", args=[tank.pk])).status_code == 405
    assert client.get(reverse("share_link_revoke", args=[link.pk])).status_code == 405


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"expires_at": NOW + DAY}, "Opens until"),
        ({"expires_at": NOW - DAY}, "Ran out"),
        ({"expires_at": NOW + DAY, "revoked_at": NOW - DAY}, "Revoked"),
        ({"expires_at": NOW - DAY, "revoked_at": NOW - 2 * DAY}, "Revoked"),
    ],
)
def test_a_link_says_whether_it_opens_and_of_when_that_is(fields, word):
    moment = fields.get("revoked_at", fields["expires_at"])
    assert ShareLink(**fields).state() == (word, moment)


def test_links_that_open_stand_apart_from_those_that_do_not(as_user, owner, tank):
    open_link = make_link(tank)[0]
    closed = [make_link(tank, expires_at=timezone.now() - dt.timedelta(days=1))[0]]
    closed.insert(0, make_link(tank)[0])
    closed[0].revoke()
    context = as_user(owner).get(reverse("share_link_list", args=[tank.pk])).context
    assert context["open_links"] == [open_link]
    assert set(context["closed_links"]) == set(closed)


def test_the_link_used_most_comes_first(as_user, owner, tank):
    links = [make_link(tank, openings=openings)[0] for openings in (1, 5, 3)]
    context = as_user(owner).get(reverse("share_link_list", args=[tank.pk])).context
    assert context["open_links"] == [links[1], links[2], links[0]]


@pytest.mark.parametrize("count", [0, 2])
def test_the_form_folds_where_there_are_links(as_user, owner, tank, count):
    for _ in range(count):
        make_link(tank)
    client = as_user(owner)
    body = client.get(reverse("share_link_list", args=[tank.pk])).content.decode()
    assert ('id="share-new"' in body) == bool(count) and 'name="label"' in body
    refused = make(client, tank, days=9999).content.decode()
    assert ('id="share-new" open' in refused) == bool(count)

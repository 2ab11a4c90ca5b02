"""What an owner chooses of a link besides what it shows, its picture and its count."""

import datetime as dt
import io

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from apps.sharing.models import ShareLink
from apps.sharing.passphrase import COOKIE
from tests.factories import make_lit_survey, make_rock
from tests.sharing.links import make_link
from tests.sharing.test_share_links import make

WORD = "gentle tide"


@pytest.fixture
def lit_tank(tank):
    make_lit_survey(tank)
    make_rock(tank)
    return tank


@pytest.fixture
def closed(as_user, owner, lit_tank):
    """Return the token of a link with a passphrase."""
    address = make(as_user(owner), lit_tank, passphrase=WORD).context["address"]
    return address.rstrip("/").rsplit("/", 1)[1]


def page(token):
    return reverse("shared_map", args=[token])


def picture(token):
    return reverse("shared_preview", args=[token])


def unlock(client, token, word=WORD):
    return client.post(reverse("shared_unlock", args=[token]), {"passphrase": word})


# --- Passphrase -----------------------------------------------------------------------------
def test_right_passphrase_opens_for_this_device(closed):
    client = Client()
    assert client.get(page(closed)).status_code == 403
    assert unlock(client, closed).url == page(closed)
    assert client.get(page(closed)).status_code == 200
    assert Client().get(page(closed)).status_code == 403


def test_its_cookie_is_short_lived_and_sent_to_this_link_alone(closed):
    (cookie,) = unlock(Client(), closed).cookies.values()
    assert cookie.key == COOKIE and cookie["path"] == page(closed)
    assert cookie["httponly"] and cookie["samesite"] == "Lax"
    assert 0 < int(cookie["max-age"]) <= 12 * 3600


def test_wrong_passphrase_opens_nothing_and_sets_no_cookie(closed):
    client = Client()
    answer = unlock(client, closed, "gentle tides")
    assert answer.status_code == 403 and not answer.cookies
    assert client.get(page(closed)).status_code == 403


def test_locked_page_reveals_nothing(closed, lit_tank):
    client = Client()
    for address in (page(closed), picture(closed)):
        body = client.get(address).content
        assert lit_tank.name.encode() not in body and b"og:" not in body and b"PNG" not in body


def test_guesses_are_slowed_down(closed):
    client = Client()
    codes = [unlock(client, closed, f"guess {n}").status_code for n in range(12)]
    assert codes[0] == 403 and codes[-1] == 429


def test_cookie_of_one_link_opens_no_other(as_user, owner, lit_tank, closed):
    address = make(as_user(owner), lit_tank, passphrase=WORD).context["address"]
    other = address.rstrip("/").rsplit("/", 1)[1]
    client = Client()
    value = unlock(client, closed).cookies[COOKIE].value
    client.cookies.clear()
    client.cookies[COOKIE] = value
    assert client.get(page(closed)).status_code == 200
    assert client.get(page(other)).status_code == 403


def test_passphrase_is_stored_as_a_password_is(closed):
    assert WORD not in ShareLink.objects.get().passphrase != ""


def test_short_passphrase_is_refused(as_user, owner, lit_tank):
    assert make(as_user(owner), lit_tank, passphrase="abc").status_code == 422


def test_revoked_link_asks_for_no_passphrase_and_takes_none(closed):
    client = Client()
    unlock(client, closed)
    ShareLink.objects.get().revoke()
    for answer in (client.get(page(closed)), client.get(picture(closed)), unlock(client, closed)):
        assert answer.status_code == 404 and not answer.cookies


def test_link_without_a_passphrase_sets_no_cookie_at_all(lit_tank):
    _, token = make_link(lit_tank)
    answer = Client().get(page(token))
    assert answer.status_code == 200 and not answer.cookies


# --- Preview --------------------------------------------------------------------------------
def test_page_names_a_picture_that_is_one(lit_tank):
    _, token = make_link(lit_tank)
    client = Client()
    body = client.get(page(token)).content.decode()
    assert f'property="og:image" content="http://testserver{picture(token)}"' in body
    assert f'property="og:title" content="Light map of {lit_tank.name}"' in body
    answer = client.get(picture(token))
    shown = Image.open(io.BytesIO(answer.content))
    assert answer["Content-Type"] == "image/png" and shown.size == (1200, 630)
    assert len(shown.convert("RGB").getcolors(100_000)) > 8 and len(answer.content) < 60_000
    assert not answer.cookies


def test_picture_of_a_closed_link_is_none(lit_tank):
    link, token = make_link(lit_tank)
    link.revoke()
    _, late = make_link(lit_tank, expires_at=timezone.now() - dt.timedelta(minutes=1))
    assert {Client().get(picture(t)).status_code for t in (token, late, "nothing")} == {404}


def test_tank_without_light_has_no_picture(tank):
    _, token = make_link(tank)
    assert Client().get(picture(token)).status_code == 404
    assert "og:image" not in Client().get(page(token)).content.decode()


# --- Count ----------------------------------------------------------------------------------
def test_openings_are_counted_and_nothing_else(as_user, owner, lit_tank):
    link, token = make_link(lit_tank)
    client = Client()
    client.get(page(token))
    client.get(page(token), {"depth": "10"})
    client.get(page(token), headers={"HX-Request": "true"})
    client.get(picture(token))
    client.head(page(token))
    Client().get(page(token))
    link.refresh_from_db()
    assert link.openings == 2
    listed = as_user(owner).get(reverse("share_link_list", args=[lit_tank.pk])).content.decode()
    assert 'data-openings="2"' in listed


# --- Longer ---------------------------------------------------------------------------------
def prolong(client, link, days="90"):
    return client.post(reverse("share_link_prolong", args=[link.pk]), {"days": days})


def test_link_is_prolonged_under_its_address(as_user, owner, lit_tank):
    link, token = make_link(lit_tank, expires_at=timezone.now() - dt.timedelta(days=1))
    assert Client().get(page(token)).status_code == 404
    prolong(as_user(owner), link)
    link.refresh_from_db()
    assert dt.timedelta(days=89) < link.expires_at - timezone.now() <= dt.timedelta(days=90)
    assert Client().get(page(token)).status_code == 200


def test_revoked_link_stays_revoked(as_user, owner, lit_tank):
    link, token = make_link(lit_tank)
    link.revoke()
    before = link.expires_at
    prolong(as_user(owner), link)
    link.refresh_from_db()
    assert link.expires_at == before and Client().get(page(token)).status_code == 404


def test_odd_length_changes_nothing(as_user, owner, lit_tank):
    link, _ = make_link(lit_tank)
    before = link.expires_at
    prolong(as_user(owner), link, "9999")
    link.refresh_from_db()
    assert link.expires_at == before


def test_only_the_owner_prolongs(as_user, co_keeper, viewer, stranger, lit_tank):
    link, _ = make_link(lit_tank)
    codes = [prolong(as_user(u), link).status_code for u in (co_keeper, viewer, stranger)]
    assert codes == [403, 403, 404]

"""What a share link opens, for a visitor without an account, and all it must not tell."""

import datetime as dt
import io
import logging
import re

import pytest
from django.core.files.base import ContentFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from apps.corals.models import HealthNote, Photo
from apps.lighting.models import HungFixture
from apps.lightmap.pins import PINS, Pin
from apps.sharing.open_views import NOTES_FIRST
from tests.factories import (
    make_coral,
    make_light_change,
    make_lit_survey,
    make_note,
    make_survey,
    make_tank,
)
from tests.sharing.links import make_link

NOW = timezone.now()


def open_link(client, token, query="", **options):
    return client.get(reverse("shared_map", args=[token]) + query, **options)


def make_photo(note):
    stated = io.BytesIO()
    Image.new("RGB", (8, 6), "teal").save(stated, "JPEG")
    photo = Photo(note=note)
    photo.image.save("image.jpg", ContentFile(stated.getvalue()), save=False)
    photo.thumbnail.save("small.jpg", ContentFile(stated.getvalue()), save=False)
    photo.save()
    return photo


@pytest.fixture
def shared_corals(monkeypatch):
    def pin_all(tank, day):
        return [Pin(coral.name, 30, 30, 25, url="/behind-sign-in/") for coral in tank.corals.all()]

    monkeypatch.setattr(PINS, "providers", [pin_all])


def test_visitor_sees_map_and_readings(client, tank):
    make_survey(tank)
    body = open_link(client, make_link(tank)[1]).content.decode()
    assert 'data-plane="plan"' in body
    assert body.count('<th scope="row">') >= 27


def test_visitor_sees_neither_log_text_nor_fixture_names(client, as_user, owner, tank):
    make_lit_survey(tank, taken_at=NOW - dt.timedelta(days=5))
    HungFixture.objects.update(name="Nightjar")
    yesterday = NOW - dt.timedelta(days=1)
    make_light_change(tank, happened_at=yesterday, summary="swapped at Jo’s", factor=0.8)
    body = open_link(client, make_link(tank)[1]).content.decode()
    assert "factor 0.8" in body
    assert "Jo’s" not in body and "Nightjar" not in body
    mine = as_user(owner).get(reverse("light_map", args=[tank.pk])).content.decode()
    assert "Jo’s" in mine and "Nightjar" in mine


def test_visitor_swaps_depth_like_a_keeper(client, tank):
    make_survey(tank)
    _, token = make_link(tank)
    response = open_link(client, token, "?depth=12&unit=in", headers={"HX-Request": "true"})
    assert 'id="map-plan"' in response.content.decode()
    assert "<html" not in response.content.decode()
    assert response["HX-Replace-Url"].startswith(f"/s/{token}/?survey=")
    assert response["HX-Replace-Url"].endswith("&unit=in")
    assert "no-store" in response["Cache-Control"]


@pytest.mark.parametrize("query", ["", "?depth=10"])
def test_headers_keep_the_link_to_itself(client, tank, query):
    make_survey(tank)
    response = open_link(client, make_link(tank)[1], query)
    assert response["X-Robots-Tag"] == "noindex, nofollow"
    assert response["Referrer-Policy"] == "no-referrer"
    assert response["Cache-Control"] == "private, no-store"
    assert '<meta name="robots" content="noindex, nofollow">' in response.content.decode()


def test_page_names_no_person(client, tank, owner, co_keeper, shared_corals):
    make_survey(tank, created_by=owner, notes="call me at owner@example.org")
    make_note(make_coral(tank), created_by=co_keeper, text="looks pale")
    _, token = make_link(tank, show_notes=True, show_photos=True)
    body = open_link(client, token).content.decode()
    for secret in ("@example.org", owner.display_name, co_keeper.display_name):
        assert secret not in body


def test_visitor_gets_no_link_behind_sign_in(client, tank, shared_corals):
    make_survey(tank)
    make_coral(tank, name="Torch")
    body = open_link(client, make_link(tank)[1]).content.decode()
    assert (
        "Torch" in body
        and "/behind-sign-in/" not in body
        and "/tanks/" not in body.split("<main")[1]
    )


def test_corals_stay_hidden_when_not_chosen(client, tank, shared_corals):
    make_survey(tank)
    make_note(make_coral(tank, name="Torch"), text="a little pale")
    body = open_link(client, make_link(tank, show_corals=False)[1]).content.decode()
    assert "Torch" not in body and "a little pale" not in body


def test_notes_show_only_when_chosen(client, tank):
    make_survey(tank)
    make_note(make_coral(tank, name="Torch"), text="a little pale")
    assert b"a little pale" not in open_link(client, make_link(tank)[1]).content
    body = open_link(client, make_link(tank, show_notes=True)[1]).content.decode()
    assert all(text in body for text in ("Torch", "a little pale", "paling", "clear"))


def test_removed_notes_and_notes_of_removed_corals_stay_hidden(client, tank):
    make_survey(tank)
    make_note(make_coral(tank), text="written by mistake").remove()
    gone = make_coral(tank)
    make_note(gone, text="coral taken back")
    gone.remove()
    body = open_link(client, make_link(tank, show_notes=True)[1]).content
    assert b"by mistake" not in body and b"taken back" not in body


@pytest.mark.parametrize("route", ["shared_photo", "shared_photo_small"])
def test_photo_opens_as_jpeg_only_when_chosen(client, tank, route):
    photo = make_photo(make_note(make_coral(tank)))
    _, shut = make_link(tank)
    _, shown = make_link(tank, show_photos=True)
    assert client.get(reverse(route, args=[shut, photo.key])).status_code == 404
    response = client.get(reverse(route, args=[shown, photo.key]))
    assert response["Content-Type"] == "image/jpeg" and "no-store" in response["Cache-Control"]
    assert Image.open(io.BytesIO(b"".join(response))).size == (8, 6)


def test_photo_of_another_tank_does_not_open(client, tank):
    other = make_photo(make_note(make_coral(make_tank())))
    _, token = make_link(tank, show_photos=True)
    assert client.get(reverse("shared_photo", args=[token, other.key])).status_code == 404


def test_photo_of_a_removed_note_does_not_open(client, tank):
    photo = make_photo(make_note(make_coral(tank)))
    photo.note.remove()
    _, token = make_link(tank, show_photos=True)
    assert client.get(reverse("shared_photo", args=[token, photo.key])).status_code == 404


def test_photo_whose_file_is_lost_is_not_an_error(client, tank):
    photo = make_photo(make_note(make_coral(tank)))
    photo.image.storage.delete(photo.image.name)
    _, token = make_link(tank, show_photos=True)
    assert client.get(reverse("shared_photo", args=[token, photo.key])).status_code == 404


def test_photos_without_notes_tell_no_words(client, tank):
    make_survey(tank)
    note = make_note(make_coral(tank, name="Torch"), text="a little pale")
    photo = make_photo(note)
    make_note(note.coral, text="no photo", seen=HealthNote.Seen.BROWNING)
    body = open_link(client, make_link(tank, show_photos=True)[1]).content.decode()
    assert str(photo.key) in body and "a little pale" not in body and "browning" not in body


def closed_answers(client, tank):
    """Return the answers to a wrong, an expired, a revoked link and one of a removed tank."""
    _, expired = make_link(tank, expires_at=NOW - dt.timedelta(minutes=1))
    link, revoked = make_link(tank)
    link.revoke()
    gone = make_tank(tank.owner)
    _, removed = make_link(gone)
    gone.remove()
    return [open_link(client, token) for token in ("wrong", expired, revoked, removed)]


def test_closed_links_all_meet_the_same_page(client, tank):
    answers = closed_answers(client, tank)
    assert [answer.status_code for answer in answers] == [404] * 4
    # The sign-up nonce and the form token differ with every answer.
    plain = {re.sub(r'(nonce=|X-CSRFToken": )"[^"]*"', "", a.content.decode()) for a in answers}
    assert len(plain) == 1
    assert all(a["Referrer-Policy"] == "no-referrer" for a in answers)


def test_tokens_stay_out_of_the_log(client, tank, caplog):
    caplog.set_level(logging.DEBUG)
    link, token = make_link(tank)
    link.revoke()
    open_link(client, token)
    assert token not in caplog.text


def test_visitor_may_only_look(client, tank):
    _, token = make_link(tank)
    assert client.post(reverse("shared_map", args=[token])).status_code == 405


def test_visitor_chooses_the_unit(client, tank):
    make_survey(tank)
    _, token = make_link(tank)
    assert "10\u00a0cm below" in open_link(client, token, "?depth=10cm").content.decode()
    assert (
        "3\u00a015/16\u00a0in below"
        in open_link(client, token, "?depth=10cm&unit=in").content.decode()
    )
    assert (
        "10\u00a0cm below" in open_link(client, token, "?depth=10cm&unit=furlong").content.decode()
    )


@pytest.mark.parametrize("readings", [None, [], [(10, 10, 10, 90)]])
def test_tank_without_a_map_opens_too(client, tank, readings):
    if readings is not None:
        make_survey(tank, readings=readings)
    response = open_link(client, make_link(tank)[1])
    assert response.status_code == 200 and b"data-plane" not in response.content


def test_stranger_with_an_account_is_a_visitor_too(as_user, stranger, tank):
    make_survey(tank)
    assert open_link(as_user(stranger), make_link(tank)[1]).status_code == 200


@pytest.mark.parametrize("reader", ["owner", "viewer"])
def test_those_let_in_may_open_the_link_as_well(request, as_user, tank, reader):
    make_survey(tank)
    client = as_user(request.getfixturevalue(reader))
    assert open_link(client, make_link(tank)[1]).status_code == 200


def test_older_notes_stand_behind_one_line(client, tank):
    make_survey(tank)
    coral = make_coral(tank)
    for days in range(9):
        make_note(coral, noted_on=tank.today() - dt.timedelta(days=days), text=f"note {days} ago")
    body = open_link(client, make_link(tank, show_notes=True)[1]).content.decode()
    shown, behind = (part.split("</ul>")[0] for part in body.split('<ul class="shared-notes">')[1:])
    assert (shown.count("<li"), behind.count("<li")) == (NOTES_FIRST, 9 - NOTES_FIRST)
    assert "note 0 ago" in shown and "note 8 ago" in behind


@pytest.mark.parametrize("table", ["lighting_runningcurve", "surveys_reading", "tanks_rock"])
def test_what_parts_of_the_page_share_is_read_once(client, tank, table):
    make_lit_survey(tank)
    token = make_link(tank)[1]
    with CaptureQueriesContext(connection) as queries:
        open_link(client, token)
    assert sum(f'FROM "{table}"' in query["sql"] for query in queries) == 1

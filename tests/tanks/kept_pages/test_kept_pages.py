"""A kept page is the page: the same for whom it was made, until anything in it changed."""

import datetime as dt
import re
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver, reverse
from django.utils import timezone

from apps.common import kept as store
from apps.tanks.kept_pages import pages
from apps.tanks.kept_pages.models import TankStamp
from apps.tanks.kept_pages.tables import watched_tables
from apps.tanks.models import Tank
from tests.factories import make_coral, make_note
from tests.test_every_address import Rows, walked
from tests.transfer.test_restoring import fill

KEPT = {
    "light_map", "light_map_why", "light_map_next", "light_map_png", "light_map_svg",
    "export_map_pdf", "tank_exports",
    "survey_detail", "survey_review", "forecast_scores", "log_detail",
    "coral_list", "coral_detail", "coral_gallery", "note_list", "water_event_list",
    "coral_case", "coral_case_proof", "outcome_list", "outcome_detail", "outcome_report",
    "outcome_weighing", "light_change_list", "light_change_effect", "tank_detail",
    "what_if", "what_if_detail", "place_coral", "acclimation_list",
}  # fmt: skip
# What says who asks, beside what the stamps watch.
OF_ASKING = {"django_session", "tanks_tankstamp"}
READ = re.compile(r'(?:FROM|JOIN) "(\w+)"')
DIFFERS = re.compile(
    rb'("X-CSRFToken": "|csrfmiddlewaretoken" value="|form_mark" value=")[A-Za-z0-9]+'
)


def alike(response):
    return DIFFERS.sub(rb"\1", response.content)


def without_lines(response):
    """Return a page without places in drawings: five minutes are a tenth of a pixel of a year."""
    return re.sub(rb' (d|x|x1|x2|cx|width|points|transform)="[^"]*"', b"", alike(response))


def headers(response):
    """Return the headers that a page has of its own."""
    of_request = ("Content-Security-Policy", "X-Request-ID")
    return {name: value for name, value in response.items() if name not in of_request}


def kept_names():
    found_at = {}
    for resolver_name, callback in named_views(get_resolver().url_patterns):
        if getattr(callback, "is_kept_page", False):
            found_at[resolver_name] = callback
    return found_at


def named_views(patterns):
    for pattern in patterns:
        if hasattr(pattern, "url_patterns"):
            yield from named_views(pattern.url_patterns)
        else:
            yield pattern.name, pattern.callback


@pytest.fixture
def full(tank):
    make_coral(fill(tank), name="Another", at_cm=(25, 25, 15))
    return tank


def test_every_page_that_is_kept_is_tried_here():
    assert set(kept_names()) == KEPT
    assert set(dict(walked(get_resolver().url_patterns))) >= KEPT


@pytest.mark.parametrize("name", sorted(KEPT))
def test_kept_page_rests_on_nothing_but_its_key(
    full, as_user, owner, kept_folder, monkeypatch, name
):
    address, client = Rows(full).address(name), as_user(owner)
    # At the end of five minutes of the clock it still is the page of their beginning.
    tomorrow = timezone.now() + dt.timedelta(days=1)
    start = tomorrow.replace(minute=20, second=1, microsecond=0)
    monkeypatch.setattr(timezone, "now", lambda: start)
    with CaptureQueriesContext(connection) as made:
        first = client.get(address)
    assert first.status_code == 200
    watched = {watched.name for watched in watched_tables()}
    assert {t for query in made for t in READ.findall(query["sql"])} <= watched | OF_ASKING
    with CaptureQueriesContext(connection) as looked_up:
        again = client.get(address)
    assert alike(again) == alike(first) and headers(again) == headers(first)
    assert len(looked_up) <= 6 < len(made)
    monkeypatch.setattr(timezone, "now", lambda: start + dt.timedelta(minutes=4, seconds=50))
    kept_folder.rename(kept_folder.with_name("as_it_was"))
    assert without_lines(client.get(address)) == without_lines(first)


def test_a_change_shows_at_once(full, as_user, owner, kept_folder):
    client, address = as_user(owner), reverse("tank_detail", args=[full.pk])
    client.get(address)
    Tank.objects.filter(pk=full.pk).update(name="Quite another name")
    assert b"Quite another name" in client.get(address).content


def test_nobody_is_given_anothers_page(full, owner, stranger, viewer, as_user, kept_folder):
    coral = full.corals.first()
    address = reverse("coral_detail", args=[coral.pk])
    new_note = reverse("note_new", args=[coral.pk]).encode()
    assert new_note in as_user(owner).get(address).content
    assert as_user(stranger).get(address).status_code == 404
    assert Client().get(address).status_code == 302
    seen = as_user(viewer).get(address)
    assert seen.status_code == 200
    assert new_note not in seen.content


def test_who_is_let_go_sees_it_no_more(full, co_keeper, as_user, kept_folder):
    client, address = as_user(co_keeper), reverse("light_map", args=[full.pk])
    assert client.get(address).status_code == 200
    full.memberships.all().delete()
    assert client.get(address).status_code == 404


def test_forms_of_a_kept_page_can_be_sent_and_are_told_apart(full, owner, kept_folder):
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    address = Rows(full).address("what_if")
    bodies = [client.get(address).content.decode() for _ in range(3)]
    marks = [re.findall(r'name="form_mark" value="(\w+)"', body) for body in bodies]
    assert all(marks) and len({m for page in marks for m in page}) == sum(map(len, marks))
    token = re.search(r'csrfmiddlewaretoken" value="(\w+)"', bodies[-1]).group(1)
    sent = client.post(reverse("what_if_save", args=[full.pk]), {"csrfmiddlewaretoken": token})
    assert sent.status_code != 403
    refused = Client(enforce_csrf_checks=True)
    refused.force_login(owner)
    assert refused.post(reverse("what_if_save", args=[full.pk]), {}).status_code == 403


def test_what_is_said_once_is_neither_kept_nor_kept_back(full, owner, as_user, kept_folder):
    client, coral = as_user(owner), full.corals.first()
    address = reverse("coral_detail", args=[coral.pk])
    client.get(address)
    note = make_note(coral)
    client.post(reverse("note_remove", args=[note.pk]))
    told = client.get(address)
    assert told.context is not None and list(told.context["messages"])
    assert b'role="status"' in told.content or b"message" in told.content
    quiet = client.get(address)
    assert alike(quiet) != alike(told)
    assert alike(client.get(address)) == alike(quiet)


def test_a_tank_without_a_stamp_is_not_kept(full, owner, as_user, kept_folder):
    TankStamp.objects.all().delete()
    client, address = as_user(owner), reverse("tank_detail", args=[full.pk])
    assert client.get(address).status_code == client.get(address).status_code == 200
    assert len(store.open_store("pages")) == 0


def test_another_secret_opens_no_page(full, owner, as_user, kept_folder, settings):
    client, address = as_user(owner), reverse("tank_detail", args=[full.pk])
    client.get(address)
    settings.SECRET_KEY = "another"
    client = as_user(owner)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    assert len(queries) > 6


def test_head_and_refused_pages_are_not_kept(full, owner, as_user, kept_folder):
    client = as_user(owner)
    assert client.head(reverse("tank_detail", args=[full.pk])).status_code in (200, 405)
    kept_pages = store.open_store("pages")
    assert len(kept_pages) == 0
    client.get(reverse("tank_detail", args=[full.pk]))
    assert len(kept_pages) == 1


def test_five_minutes_end_with_every_clocks_day():
    # No zone of today is off the full quarter of an hour (IANA time zone database).
    assert 15 % pages.MINUTES == 0


def test_a_worker_makes_two_pages_at_once_and_no_more(db, tank, rf, kept_folder, monkeypatch):
    monkeypatch.setattr(pages, "stamps_of", lambda tank_pk: {tank_pk: 1})
    # Each page that is made waits until a second is made beside it.
    pair, under_way, most = threading.Barrier(2), [], []

    def make():
        under_way.append(1)
        most.append(len(under_way))
        pair.wait(timeout=20)
        under_way.pop()
        return HttpResponse("a page", status=404)

    def ask(number):
        request = rf.get(f"/{number}/")
        request.user = tank.owner
        return pages.made_once(request, tank.pk, make).status_code

    with ThreadPoolExecutor(6) as keepers:
        assert list(keepers.map(ask, range(6))) == [404] * 6
    assert max(most) == 2

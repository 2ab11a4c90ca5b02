"""Addresses that open without an account are slowed for whoever asks too often."""

import datetime as dt
from types import SimpleNamespace

import pytest
from django.contrib.auth.hashers import make_password
from django.core.cache import caches
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from rest_framework.test import APIClient

from apps.common import throttling
from apps.common.throttling import network_of
from apps.corals.photos.links import photo_link
from apps.sharing.models import PlanLink
from apps.tanks.models import Invitation
from tests.corals.shots import make_colour
from tests.factories import make_coral
from tests.planning.questions import make_layout_plan
from tests.sharing.links import make_link
from tests.sharing.test_calendar import made as made_calendar

HERE, ELSEWHERE = {"REMOTE_ADDR": "203.0.113.7"}, {"REMOTE_ADDR": "203.0.113.8"}


@pytest.fixture(autouse=True)
def no_counts(db):
    for name in ("default", "paces"):
        caches[name].clear()
    yield
    caches["paces"].clear()


@pytest.fixture
def still(monkeypatch):
    """Hold the clock in the middle of a stretch, and return a function that moves it on."""
    now = [1_000_000_200.0]
    monkeypatch.setattr(throttling, "time", SimpleNamespace(time=lambda: now[0]))

    def move_on(seconds):
        now[0] += seconds

    return move_on


def wrong_tokens(count, **where):
    client = Client(**where)
    return [client.get(f"/s/guess{n}/").status_code for n in range(count)]


def ask_again(pace, times):
    """Count so many more requests at the one address that was opened, as if they had come."""
    (key,) = (key for key in caches["paces"]._cache if pace in key)
    caches["paces"].incr(key.split(":", 2)[2], times)


def invitation_of(tank):
    invitation = Invitation(tank=tank, email="guest@example.org")
    token = invitation.renew_token()
    invitation.save()
    return reverse("invitation_open", args=[token])


def plan_address(tank):
    link = PlanLink(plan=make_layout_plan(tank.owner, tank))
    link.expires_at = dt.datetime(2100, 1, 1, tzinfo=dt.UTC)
    token = link.renew_token()
    link.save()
    return reverse("shared_plan", args=[token])


def map_address(tank):
    return reverse("shared_map", args=[make_link(tank)[1]])


def photo_address(tank):
    return photo_link(make_colour(make_coral(tank)).photo)[0]


def calendar_address(tank):
    client = Client()
    client.force_login(tank.owner)
    return made_calendar(client, tank)


ADDRESSES = [map_address, plan_address, photo_address, calendar_address, invitation_of]


def wait_of(answer):
    return int(answer["Retry-After"])


@pytest.fixture
def three():
    """Let three requests be the most at any address."""
    paces = (throttling.PAGE, throttling.PHOTO, throttling.CALENDAR)
    before = [pace.most for pace in paces]
    for pace in paces:
        object.__setattr__(pace, "most", 3)
    yield
    for pace, most in zip(paces, before, strict=True):
        object.__setattr__(pace, "most", most)


@pytest.mark.parametrize("address_of", ADDRESSES)
def test_one_network_is_slowed_at_one_address_and_told_when_to_come_back(
    tank, still, three, address_of
):
    address, client = address_of(tank), Client(**HERE)
    assert [client.get(address).status_code for _ in range(4)] == [200, 200, 200, 429]
    answer = client.get(address)
    assert 0 < wait_of(answer) <= 3600 and "no-store" in answer["Cache-Control"]
    assert Client(**ELSEWHERE).get(address).status_code == 200
    still(wait_of(answer))
    assert client.get(address).status_code == 200


def test_other_address_of_the_same_network_goes_on(tank, still, three):
    client = Client(**HERE)
    for address in (map_address(tank), map_address(tank)):
        assert [client.get(address).status_code for _ in range(3)] == [200] * 3


def test_page_says_how_long_to_wait(tank, still, three):
    address, client = map_address(tank), Client(**HERE)
    for _ in range(4):
        page = client.get(address)
    minutes = -(-wait_of(page) // 60)
    assert f"again in {minutes} minutes" in page.content.decode()


def test_calendar_is_told_in_plain_text(tank, still, three):
    address, client = calendar_address(tank), Client(**HERE)
    for _ in range(4):
        answer = client.get(address)
    assert answer["Content-Type"].startswith("text/plain") and b"try again in" in answer.content


def test_guessing_is_slow(tank, still):
    most = throttling.WRONG.most
    assert wrong_tokens(most + 2, **HERE) == [404] * most + [429] * 2
    assert wrong_tokens(1, **ELSEWHERE) == [404]
    still(throttling.WRONG.within_s)
    assert wrong_tokens(1, **HERE) == [404]


def locked_address(tank):
    link = PlanLink(plan=make_layout_plan(tank.owner, tank), passphrase=make_password("wavemaker"))
    link.expires_at = dt.datetime(2100, 1, 1, tzinfo=dt.UTC)
    token = link.renew_token()
    link.save()
    return reverse("shared_plan_unlock", args=[token])


def words(address, count, word="nope", **where):
    client = Client(**where)
    return [client.post(address, {"passphrase": word}).status_code for _ in range(count)]


def test_words_are_counted_by_all_workers_together(tank, still):
    address, most = locked_address(tank), throttling.PASSPHRASE.most
    for _ in range(most):
        assert words(address, 1, **HERE) == [403]
        # What each worker counts for itself another one does not know.
        caches["paces"].clear()
    assert words(address, 1, "wavemaker", **HERE) == [429]
    assert words(address, 1, "wavemaker", **ELSEWHERE) == [302]
    still(throttling.PASSPHRASE.within_s)
    assert words(address, 1, "wavemaker", **HERE) == [302]


@pytest.mark.parametrize("pace", [throttling.PASSPHRASE, throttling.WRONG])
def test_of_many_guesses_at_once_none_is_lost(tank, still, monkeypatch, pace):
    # As two read it who come at once: each before the other has written.
    usual = type(caches["default"]).get
    monkeypatch.setattr(
        type(caches["default"]),
        "get",
        lambda self, key, default=None, version=None: (
            default if key.startswith("pace:") else usual(self, key, default, version)
        ),
    )
    counts = [throttling._count_each(pace, "somebody") for _ in range(pace.most + 2)]
    assert counts == [*range(1, pace.most + 1), pace.most + 1, pace.most + 1]


def test_many_networks_get_one_guesser_no_further(tank, still, monkeypatch):
    monkeypatch.setattr(throttling, "WRONG_WORDS", throttling.Pace("wrong-words", 3, 600))
    address, other = locked_address(tank), locked_address(tank)
    for n in range(3):
        assert words(address, 1, REMOTE_ADDR=f"198.51.100.{n}") == [403]
    assert words(address, 1, "wavemaker", **HERE) == [429]
    assert words(other, 1, "wavemaker", **HERE) == [302]


def test_right_words_shut_nobody_out(tank, still, monkeypatch):
    monkeypatch.setattr(throttling, "WRONG_WORDS", throttling.Pace("wrong-words", 3, 600))
    address = locked_address(tank)
    for n in range(5):
        assert words(address, 1, "wavemaker", REMOTE_ADDR=f"198.51.100.{n}") == [302]


def test_guesses_at_all_kinds_of_addresses_count_together(tank, still):
    client = Client(**HERE)
    guesses = ("/s/{}/", "/p/{}/", "/c/{}/steps.ics", "/photos/linked/{}/", "/invitations/{}/")
    for n in range(throttling.WRONG.most):
        assert client.get(guesses[n % 5].format(f"x{n}")).status_code == 404
    assert [client.get(guess.format("x")).status_code for guess in guesses] == [429] * 5


GUESSES = {
    "/api/v1/invitations/accept-link/": {}, "/api/v1/invitations/decline-link/": {},
    "/api/v1/clubs/join/": {}, "/api/v1/taken-plans/": {"tank": 1},
}  # fmt: skip


@pytest.mark.parametrize("at", GUESSES)
@pytest.mark.parametrize("key", [{}, {"Idempotency-Key": "k"}])
def test_a_programs_guesses_count_as_a_pages(stranger, still, at, key):
    client = APIClient(**HERE)
    client.force_authenticate(stranger)
    wrong_tokens(throttling.WRONG.most - 1, **HERE)
    sent = [{"address": f"/x/{n}/"} | GUESSES[at] for n in range(2)]
    answers = [client.post(at, body, format="json", headers=key) for body in sent]
    assert [answer.status_code for answer in answers] == [400, 429]
    assert answers[1]["Retry-After"] and wrong_tokens(1, **HERE) == [429]


def test_guesser_who_hits_is_not_told(tank, still):
    wrong_tokens(throttling.WRONG.most, **HERE)
    assert Client(**HERE).get(map_address(tank)).status_code == 429


def test_guesser_shuts_out_nobody_from_what_the_network_had_opened(tank, still):
    known, client = map_address(tank), Client(**HERE)
    assert client.get(known).status_code == 200
    wrong_tokens(throttling.WRONG.most + 5, **HERE)
    assert client.get(known).status_code == 200


def test_phones_of_one_home_that_poll_every_five_minutes_are_never_slowed(tank, still):
    address, client = calendar_address(tank), Client(**HERE)
    client.get(address)
    # Eight phones for an hour, and this one request more.
    ask_again("pace:calendar", 8 * 12)
    assert client.get(address).status_code == 200


def test_club_in_one_hall_clicking_through_a_map_is_never_slowed(tank, still):
    address, client = map_address(tank), Client(**HERE)
    client.get(address)
    # Twenty people with a hundred views each in ten minutes.
    ask_again("pace:page", 20 * 100)
    assert client.get(address).status_code == 200


def test_looking_at_a_shared_map_again_writes_nothing(tank, still):
    address, client = map_address(tank), Client(**HERE)
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        client.get(address)
    written = [q["sql"] for q in queries if q["sql"].startswith(("INSERT", "UPDATE", "DELETE"))]
    # That it was opened is counted, and nothing of who did.
    assert [sql for sql in written if "SET openings = openings + 1" not in sql] == []


def test_log_holds_no_token_of_a_slowed_address(tank, still, three, caplog):
    address, client = map_address(tank), Client(**HERE)
    for _ in range(5):
        client.get(address)
    assert address.split("/")[2] not in caplog.text


@pytest.mark.parametrize(
    ("proxies", "sent", "network"),
    [
        (0, {"REMOTE_ADDR": "203.0.113.7"}, "203.0.113.7"),
        (0, {"REMOTE_ADDR": "203.0.113.7", "HTTP_X_FORWARDED_FOR": "10.0.0.1"}, "203.0.113.7"),
        (1, {"REMOTE_ADDR": "10.0.0.9", "HTTP_X_FORWARDED_FOR": "9.9.9.9, 203.0.113.7"},
         "203.0.113.7"),
        (0, {"REMOTE_ADDR": "2001:db8:1:2:3:4:5:6"}, "2001:db8:1:2::/64"),
        (2, {"REMOTE_ADDR": "10.0.0.9", "HTTP_X_FORWARDED_FOR": "10.0.0.1"}, "unknown"),
        (0, {"REMOTE_ADDR": ""}, "unknown"),
    ],
)  # fmt: skip
def test_network_is_told_as_for_signing_in(rf, settings, proxies, sent, network):
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = proxies
    assert network_of(rf.get("/", **sent)) == network

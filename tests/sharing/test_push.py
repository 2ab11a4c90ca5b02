"""Reminders in browsers: by choice, locked for that browser alone, dropped where it is gone."""

import datetime as dt
import json
import socket
import time

import pytest
from django.core import mail
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apps.common.push import delivery
from apps.common.push.keys import make_key, public_text, read_key
from apps.sharing.models import PushBrowser, ReminderMail
from apps.sharing.push_models import BROWSERS_MOST
from apps.sharing.reminder_models import KINDS
from apps.sharing.reminding.browsers import browser_name
from apps.sharing.reminding.digest import send_digest
from apps.sharing.reminding.lines import Line
from apps.sharing.reminding.pushing import LINES_MOST, payload
from apps.tanks import reminding
from apps.tanks.reminding import Reminder
from tests.common.push.receiving import Browser, claims_of
from tests.factories import make_push_browser, make_user
from tests.sharing.push_service import HOST, make_certificate, running

SITE, DAY = "https://reef.example.org", dt.timedelta(days=1)
NOW = timezone.now()
AGENT = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"


@pytest.fixture
def push_key(settings):
    settings.PUSH_KEY, settings.CONTACT = make_key(), "mailto:host@example.org"
    return settings.PUSH_KEY


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    return make_certificate(tmp_path_factory.mktemp("push"))


@pytest.fixture
def service(certificate, monkeypatch, push_key):
    """A push service on this machine, which is reached as if it were on the open internet."""
    with running(certificate) as one:
        port = one.server_address[1]
        dial, made = socket.create_connection, delivery.ssl.create_default_context
        monkeypatch.setattr(delivery, "public_address", lambda host, port: "93.184.216.34")
        monkeypatch.setattr(
            delivery.socket, "create_connection", lambda to, *rest: dial(("127.0.0.1", port), *rest)
        )
        monkeypatch.setattr(
            delivery.ssl, "create_default_context", lambda: made(cafile=str(certificate))
        )
        yield one


@pytest.fixture
def due(monkeypatch, tank):
    """Return a list of Reminders that all tanks have."""
    rows = [Reminder("meter-1", tank.today(), "Check Ann’s meter", "A year old.", url="/meters/")]
    monkeypatch.setattr(reminding.REMINDERS, "providers", [lambda tank, now: rows])
    return rows


@pytest.fixture
def device(owner, push_key):
    return turned_on(owner, push_key)


def turned_on(keeper, push_key, kinds=tuple(KINDS)):
    """Return a Browser whose keeper wants reminders there."""
    browser = Browser()
    browser.endpoint = f"https://{HOST}/send/{browser.secret}"
    browser.row = make_push_browser(
        keeper,
        endpoint=browser.endpoint,
        key=browser.key,
        secret=browser.secret,
        site_key=public_text(read_key(push_key)),
    )
    ReminderMail.objects.update_or_create(
        keeper=keeper, defaults={"kinds": list(kinds), "by_mail": False}
    )
    return browser


def add(client, browser, **overrides):
    fields = {"endpoint": f"https://{HOST}/a", "key": browser.key, "secret": browser.secret}
    return client.post(
        reverse("push_browser_add"), fields | overrides, headers={"user-agent": AGENT}
    )


def test_the_browser_alone_reads_tank_and_kind(owner, tank, due, service, device, push_key):
    call_command("send_reminders", site=SITE)
    ((path, headers, body),) = service.taken
    assert path == f"/send/{device.secret}"
    assert json.loads(device.opened(body)) == {
        "title": "reeflog: 1 reminder",
        "body": f"{tank}: {KINDS['meter']}",
        "path": "/meters/",
    }
    assert b"Ann" not in device.opened(body) and owner.email.encode() not in body
    claims, key = claims_of(headers["Authorization"])
    assert key == public_text(read_key(push_key))
    assert claims["aud"] == f"https://{HOST}" and claims["sub"] == "mailto:host@example.org"
    assert 0 < claims["exp"] - timezone.now().timestamp() < 24 * 3600
    assert headers["Content-Encoding"] == "aes128gcm" and int(headers["TTL"]) == 24 * 3600
    assert mail.outbox == []


def test_it_comes_once_a_day_and_nothing_twice(owner, tank, due, service, device):
    for _ in range(3):
        call_command("send_reminders", site=SITE)
    assert len(service.taken) == 1
    due.append(Reminder("map-4", tank.today(), "Survey again", "± 40 %."))
    send_digest(owner, site=SITE, now=NOW + DAY)
    (_, _, body) = service.taken[1]
    assert json.loads(device.opened(body))["body"] == f"{tank}: {KINDS['map']}"


def test_mail_and_browser_say_the_same_digest(owner, due, service, device):
    ReminderMail.objects.update(by_mail=True)
    assert send_digest(owner, site=SITE, now=NOW) == 1
    assert len(mail.outbox) == len(service.taken) == 1


def test_only_chosen_kinds_come(owner, due, service, push_key):
    turned_on(owner, push_key, kinds=["trial"])
    assert send_digest(owner, site=SITE, now=NOW) == 0
    assert service.taken == []


@pytest.mark.parametrize(("status", "stays"), [(404, 0), (410, 0), (429, 1), (500, 1), (307, 1)])
def test_a_browser_that_is_gone_is_forgotten(owner, due, service, device, status, stays):
    service.status = status
    send_digest(owner, site=SITE, now=NOW)
    assert PushBrowser.objects.count() == stays
    assert len(service.taken) == 1  # no answer is followed elsewhere


def test_a_service_that_is_down_keeps_no_other_browser_from_its_own(
    owner, due, service, device, push_key, monkeypatch
):
    other, reach = turned_on(owner, push_key), delivery.public_address

    def known(host, port):
        if not service.taken:
            service.taken.append(("unreached", {}, b""))
            raise delivery.NotReached(host)
        return reach(host, port)

    monkeypatch.setattr(delivery, "public_address", known)
    send_digest(owner, site=SITE, now=NOW)
    assert [path for path, _, _ in service.taken] == ["unreached", f"/send/{other.secret}"]
    assert PushBrowser.objects.count() == 2


def test_a_service_that_drips_is_cut_off(owner, due, service, device, monkeypatch):
    monkeypatch.setattr(delivery, "PATIENCE_S", 0.3)
    service.drips = True
    begun = time.monotonic()
    send_digest(owner, site=SITE, now=NOW)
    # Each of its bytes comes well within the patience, and there is no end of them.
    assert time.monotonic() - begun < 5
    assert PushBrowser.objects.count() == 1


def test_a_name_that_leads_into_our_network_is_not_sent_to(owner, due, device, monkeypatch):
    inside = [(socket.AF_INET, socket.SOCK_STREAM, 6, "", ("10.0.0.7", 443))]
    monkeypatch.setattr(delivery.socket, "getaddrinfo", lambda *args, **kwargs: inside)
    dialled = []
    monkeypatch.setattr(delivery.socket, "create_connection", lambda *args: dialled.append(args))
    send_digest(owner, site=SITE, now=NOW)
    assert dialled == [] and not PushBrowser.objects.exists()


def test_a_certificate_of_another_name_is_not_trusted(owner, due, service, device):
    PushBrowser.objects.update(endpoint="https://other.example.org/a")
    send_digest(owner, site=SITE, now=NOW)
    assert service.taken == [] and PushBrowser.objects.exists()


def test_without_a_key_or_with_another_no_browser_is_told(owner, due, service, device, settings):
    settings.PUSH_KEY = make_key()
    assert send_digest(owner, site=SITE, now=NOW) == 0
    settings.PUSH_KEY = ""
    assert send_digest(owner, site=SITE, now=NOW) == 0
    assert service.taken == [] and ReminderMail.objects.get().sent_marks == []


def test_a_long_digest_is_short_in_a_browser():
    lines = [
        Line("comment", str(n), "Bo said so", "/x/", "珊" * 200) for n in range(LINES_MOST + 3)
    ]
    content = json.loads(payload(lines))
    assert content["body"].splitlines()[-1] == "and 3 more" and len(payload(lines)) < 3000
    assert content["path"] == reverse("tank_list") and "Bo" not in content["body"]


def test_a_keeper_turns_a_browser_on_and_sees_it(as_user, owner, push_key):
    client = as_user(owner)
    assert add(client, Browser()).status_code == 302
    row = PushBrowser.objects.get()
    assert (row.keeper, row.site_key) == (owner, public_text(read_key(push_key)))
    page = client.get(reverse("reminders")).content.decode()
    assert "Firefox on Linux" in page
    assert reverse("push_browser_remove", args=[row.pk]) in page


@pytest.mark.parametrize(
    "wrong",
    [
        {"endpoint": "http://push.example.org/a"}, {"endpoint": "https://127.0.0.1/a"},
        {"endpoint": "https://localhost:8000/a"}, {"endpoint": ""}, {"key": "AAAA"}, {"key": ""},
        {"secret": "AAAA"}, {"secret": "ä"}, {"secret": ""},
        {"endpoint": "https://push.example.org/a\0"}, {"key": "A\0"}, {"secret": "A\0"},
    ],
)  # fmt: skip
def test_what_is_no_browser_is_refused(as_user, owner, push_key, wrong):
    assert add(as_user(owner), Browser(), **wrong).status_code == 422
    assert not PushBrowser.objects.exists()


def test_nobody_has_more_than_the_most(as_user, owner, push_key):
    for _ in range(BROWSERS_MOST):
        make_push_browser(owner)
    assert add(as_user(owner), Browser()).status_code == 422
    assert PushBrowser.objects.count() == BROWSERS_MOST


def test_whoever_turns_a_browser_on_last_has_it(as_user, owner, stranger, push_key):
    browser = Browser()
    add(as_user(owner), browser)
    add(as_user(stranger), browser)
    assert [row.keeper for row in PushBrowser.objects.all()] == [stranger]


def test_only_its_keeper_removes_a_browser(as_user, owner, co_keeper, stranger, push_key):
    address = reverse("push_browser_remove", args=[make_push_browser(owner).pk])
    for other in (co_keeper, stranger):
        assert as_user(other).post(address).status_code == 404
    assert Client().post(address).status_code == 302
    assert PushBrowser.objects.exists()
    assert as_user(owner).get(address).status_code == 405
    assert as_user(owner).post(address).status_code == 302
    assert not PushBrowser.objects.exists()


def test_nothing_of_it_is_offered_where_the_host_set_no_key(as_user, owner):
    client = as_user(owner)
    assert "push-add" not in client.get(reverse("reminders")).content.decode()
    assert add(client, Browser()).status_code == 404


def test_mail_is_a_choice_where_there_is_another(as_user, owner, push_key):
    client, page = as_user(owner), reverse("reminders")
    client.post(page, {"kinds": ["meter"]})
    assert ReminderMail.objects.get().by_mail is False
    client.post(page, {"kinds": ["meter"], "by_mail": "on"})
    assert ReminderMail.objects.get().by_mail is True


@pytest.mark.parametrize("key_is_new", [False, True])
def test_a_choice_that_nothing_can_reach_is_told_so(as_user, device, owner, stranger, key_is_new):
    """Neither mails nor a browser, or only one of a key before: saved, and not called done."""
    if key_is_new:
        PushBrowser.objects.update(site_key="of before")
    for user, is_reached in ((owner, not key_is_new), (stranger, False)):
        page = as_user(user).post(reverse("reminders"), {"kinds": ["meter"]}, follow=True)
        (message,) = page.context["messages"]
        assert (message.level_tag == "success") is is_reached


def test_a_browser_of_a_key_before_is_shown_as_getting_nothing(as_user, owner, device):
    page = reverse("reminders")
    since = f"{device.row.added_at:%Y}"
    row = as_user(owner).get(page).content.decode().split('id="push-browsers"')[1]
    assert since in row.split("</li>")[0]
    PushBrowser.objects.update(site_key="of before")
    row = as_user(owner).get(page).content.decode().split('id="push-browsers"')[1]
    assert since not in row.split("</li>")[0] and "add it again" in row.split("</li>")[0]


def test_the_link_in_a_mail_ends_mails_and_leaves_browsers(owner, due, service, device):
    ReminderMail.objects.update(by_mail=True)
    send_digest(owner, site=SITE, now=NOW)
    off = mail.outbox[0].extra_headers["List-Unsubscribe"].strip("<>").removeprefix(SITE)
    Client().post(off)
    choice = ReminderMail.objects.get()
    assert choice.by_mail is False and choice.kinds == list(KINDS)


def test_browsers_go_with_their_keeper(db, push_key):
    keeper = make_user()
    make_push_browser(keeper)
    keeper.delete()
    assert not PushBrowser.objects.exists()


@pytest.mark.parametrize(
    ("agent", "name"),
    [
        (AGENT, "Firefox on Linux"),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) Version/18 Safari/604.1",
         "Safari on iPhone"),
        ("Mozilla/5.0 (Linux; Android 15) AppleWebKit/537.36 Chrome/140.0 Mobile Safari/537.36",
         "Chrome on Android"),
        ("Mozilla/5.0 (Windows NT 10.0) Chrome/140.0 Safari/537.36 Edg/140.0", "Edge on Windows"),
        ("", "A browser"),
        ("<script>" * 50, "A browser"),
    ],
)  # fmt: skip
def test_a_browser_has_a_name_in_words(agent, name):
    assert browser_name(agent) == name


def test_command_makes_a_pair(capsys):
    call_command("make_push_key")
    first, second = capsys.readouterr().out.splitlines()
    key = read_key(first.removeprefix("REEFLOG_PUSH_KEY="))
    assert second.endswith(public_text(key))

"""What a host sees of the site, and the one-time links by which hosts and officers help."""

import datetime as dt
import logging

import pytest
from django.contrib.auth import get_user
from django.core.cache import cache
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apps.accounts.models import User
from apps.hosting.backup.last import FILE, last_backup
from apps.hosting.site import facts, routes
from apps.hosting.watching import metrics
from tests.accounts.test_inviting import choose
from tests.accounts.test_sign_in import sign_in
from tests.clubs.conftest import blocked, club, ex_member, member  # noqa: F401
from tests.factories import PASSWORD, make_user
from tests.test_environment import SERVED, manage

NOW = timezone.now()


@pytest.fixture(autouse=True)
def fresh(db, settings, tmp_path):
    cache.clear()
    settings.DATA_DIR = tmp_path


def signed_in(user):
    """Sign in and confirm the password, as whoever makes a link has to."""
    client = Client()
    sign_in(client, email=user.email)
    client.post(reverse("account_reauthenticate"), {"password": PASSWORD})
    return client


@pytest.fixture
def host():
    return make_user(email="host@example.org", is_staff=True, is_superuser=True)


# --- The site now ---------------------------------------------------------------------------
def test_the_host_sees_what_is_there(as_user, host, tank):
    page = as_user(host).get(reverse("site_overview"))
    assert page.context["facts"].tanks == 1 and page.context["facts"].keepers == 2
    assert reverse("site_overview") in as_user(host).get(reverse("settings_edit")).content.decode()


@pytest.mark.parametrize("name", ["site_overview", "site_keeper"])
@pytest.mark.parametrize("who", ["owner", "viewer", "stranger", "clerk"])
def test_nobody_else_learns_that_there_is_such_a_page(as_user, request, name, who):
    user = make_user(is_staff=True) if who == "clerk" else request.getfixturevalue(who)
    assert as_user(user).get(reverse(name)).status_code == 404
    assert reverse(name) not in as_user(user).get(reverse("settings_edit")).content.decode()


def test_a_backup_is_put_down_and_one_that_is_old_needs_the_host(tmp_path):
    folder = tmp_path / "backups"
    folder.mkdir()
    assert any("backup" in need for need in facts.site_facts(NOW).needs)
    call_command("back_up", folder, verbosity=0)
    (made,) = folder.glob("reeflog-*.tar")
    there = last_backup()
    assert (there.name, there.size) == (made.name, made.stat().st_size)
    for age, is_named in ((dt.timedelta(hours=47), False), (dt.timedelta(hours=49), True)):
        needs = facts.site_facts(there.made_at + age).needs
        assert any("backup" in need for need in needs) is is_named


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"name": 1, "made_at": 2, "size": 3}'])
def test_what_is_no_word_of_a_backup_is_none(tmp_path, text):
    (tmp_path / FILE).write_text(text)
    assert last_backup() is None


@pytest.mark.parametrize(("free_gb", "is_named"), [(4.9, True), (5.1, False)])
def test_a_disk_that_fills_needs_the_host(monkeypatch, free_gb, is_named):
    usage = type("Usage", (), {"free": free_gb * facts.GB})
    monkeypatch.setattr(facts.shutil, "disk_usage", lambda _: usage)
    assert any("disk" in need for need in facts.site_facts(NOW).needs) is is_named


def test_sign_ups_are_counted_by_week(host):
    User.objects.update(date_joined=NOW - dt.timedelta(weeks=7))
    make_user(), make_user()
    assert sorted(count for _, count in facts.site_facts(NOW).sign_ups) == [1, 2]


def test_slow_broken_and_refused_requests_are_counted_by_address(settings):
    settings.METRICS_TOKEN = "token"
    before = {one.route: one for one in routes.routes()}
    assert "probe/" not in before
    for status, took_s in ((200, 0.1), (200, 2.6), (503, 0.1)):
        metrics.count_request("GET", "probe/", status, took_s)
    metrics.count_request("POST", "probe/", 409, 0.2)
    metrics.count_request("GET", "probe/", 404, 0.2)
    (line,) = (one for one in facts.site_facts(NOW).routes if one.route == "probe/")
    assert (line.count, line.slow, line.failed, line.refused) == (5, 1, 1, 1)
    assert line.mean_ms == pytest.approx(640)


def test_where_nothing_is_counted_the_page_says_how_to(as_user, host, settings):
    settings.METRICS_TOKEN = ""
    page = as_user(host).get(reverse("site_overview"))
    assert page.context["facts"].routes is None and b"REEFLOG_METRICS_TOKEN" in page.content


# --- Links for a new password ---------------------------------------------------------------
def test_a_host_makes_a_link_by_which_a_keeper_chooses_a_password(host, owner, caplog):
    caplog.set_level(logging.INFO, logger="reeflog.security")
    page = signed_in(host).post(reverse("site_keeper"), {"email": "OWNER@example.org"})
    assert ("reset link made by the host", owner.pk) in [
        (record.event, record.account) for record in caplog.records
    ]
    path = page.context["address"].removeprefix("http://testserver")
    choose(Client(), path, "a-password-after-this-58")
    again = Client()
    sign_in(again, password="a-password-after-this-58")
    assert get_user(again) == owner


def test_there_is_none_for_nobody(host):
    page = signed_in(host).post(reverse("site_keeper"), {"email": "nobody@example.org"})
    assert page.status_code == 422 and "address" not in page.context


def test_a_host_confirms_the_password_first(as_user, host, owner):
    page = as_user(host).post(reverse("site_keeper"), {"email": owner.email})
    assert page["Location"].startswith(reverse("account_reauthenticate"))


# --- By an officer --------------------------------------------------------------------------
@pytest.fixture
def address(club, member, settings):  # noqa: F811
    settings.OFFICERS_RESET = True
    return reverse("member_reset", args=[club.pk, club.memberships.get(user=member).pk])


def test_an_officer_helps_a_member_where_the_host_allows_it(owner, member, address, caplog):  # noqa: F811
    caplog.set_level(logging.INFO, logger="reeflog.security")
    client = signed_in(owner)
    assert address in client.get(address.removesuffix("reset/")).content.decode()
    page = client.post(address)
    choose(
        Client(), page.context["address"].removeprefix("http://testserver"), "quite-new-58-words"
    )
    assert User.objects.get(pk=member.pk).check_password("quite-new-58-words")
    assert "reset link made by an officer" in [record.event for record in caplog.records]


def test_without_the_hosts_word_there_is_no_such_page(owner, address, settings):
    settings.OFFICERS_RESET = False
    client = signed_in(owner)
    assert client.post(address).status_code == 404
    assert address not in client.get(address.removesuffix("reset/")).content.decode()


@pytest.mark.parametrize(
    ("who", "status"), [("member", 403), ("ex_member", 404), ("blocked", 404), ("stranger", 404)]
)
def test_who_leads_no_club_gets_no_link(request, address, who, status):
    assert signed_in(request.getfixturevalue(who)).post(address).status_code == status


@pytest.mark.parametrize("above", ["officer", "staff"])
def test_nobody_gets_a_link_of_one_who_may_do_more(owner, member, club, address, above):  # noqa: F811
    if above == "staff":
        User.objects.filter(pk=member.pk).update(is_staff=True)
    else:
        club.memberships.filter(user=member).update(role="officer")
    assert signed_in(owner).post(address).status_code == 403


def test_an_officer_confirms_the_password_first(as_user, owner, address):
    page = as_user(owner).post(address)
    assert page["Location"].startswith(reverse("account_reauthenticate"))


def test_officers_make_no_links_where_mails_do_it(tmp_path):
    both = {"REEFLOG_OFFICERS_RESET": "on", "REEFLOG_EMAIL_URL": "smtp://localhost:25"}
    done = manage("check", tmp_path=tmp_path, **SERVED | both)
    assert "REEFLOG_OFFICERS_RESET" in done.stderr.splitlines()[-1]

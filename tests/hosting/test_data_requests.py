"""Requests about data: put down, told to the host, answered, seen by nobody else."""

import datetime as dt

import pytest
from django.core import mail
from django.urls import reverse
from django.utils import timezone

from apps.hosting.models import WAITING_MOST, DataRequest
from apps.hosting.site.facts import site_facts
from tests.factories import make_user

ASK = {"kind": "correction", "words": "My name on Jo’s survey."}


@pytest.fixture
def host(db):
    return make_user(email="host@example.org", is_staff=True, is_superuser=True)


@pytest.fixture
def row(owner):
    return DataRequest.objects.create(keeper=owner, **ASK)


def ask(client, **overrides):
    return client.post(reverse("data_requests"), ASK | overrides)


def test_it_is_put_down_and_told_to_the_host(
    as_user, owner, host, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        assert ask(as_user(owner)).status_code == 302
    row = DataRequest.objects.get()
    assert (row.keeper, row.state) == (owner, DataRequest.State.WAITING)
    (message,) = mail.outbox
    assert message.to == [host.email] and reverse("site_overview") in message.body
    assert row.words not in message.body and owner.email not in message.body


def test_the_contact_is_told_where_there_is_one(
    as_user, owner, host, settings, django_capture_on_commit_callbacks
):
    settings.CONTACT = "mailto:data@example.org"
    with django_capture_on_commit_callbacks(execute=True):
        ask(as_user(owner))
    assert mail.outbox[0].to == ["data@example.org"]


def test_a_mail_that_is_refused_loses_nothing(
    as_user, owner, host, monkeypatch, django_capture_on_commit_callbacks
):
    def refuse(*args, **kwargs):
        raise OSError("no line")

    monkeypatch.setattr("apps.hosting.data_requests.asking.send_mail", refuse)
    with django_capture_on_commit_callbacks(execute=True):
        assert ask(as_user(owner)).status_code == 302
    assert DataRequest.objects.exists()


def test_a_label_reads_for_keeper_and_host_alike():
    """The keeper chooses it, the host reads it of another: none says “my”."""
    assert not any(" my " in f" {kind.label} " for kind in DataRequest.Kind)


@pytest.mark.parametrize("wrong", [{"words": ""}, {"kind": "money"}, {"words": "x" * 1001}])
def test_what_says_nothing_is_refused(as_user, owner, wrong):
    assert ask(as_user(owner), **wrong).status_code == 422
    assert not DataRequest.objects.exists()


def test_so_many_wait_and_no_more(as_user, owner):
    client = as_user(owner)
    answers = [ask(client, words=f"No. {n}").status_code for n in range(WAITING_MOST + 1)]
    assert answers == [302] * WAITING_MOST + [422]
    DataRequest.objects.update(state=DataRequest.State.DONE)
    assert ask(client).status_code == 302


def test_a_keeper_sees_their_own_alone(as_user, owner, co_keeper, stranger, row):
    page = reverse("data_requests")
    assert list(as_user(owner).get(page).context["requests"]) == [row]
    for other in (co_keeper, stranger):
        assert list(as_user(other).get(page).context["requests"]) == []


def test_the_host_sees_what_waits_and_since_when(as_user, host, row):
    DataRequest.objects.update(made_at=timezone.now() - dt.timedelta(days=3, hours=1))
    assert site_facts(timezone.now()).requests == [row]
    page = as_user(host).get(reverse("site_overview")).content.decode()
    assert reverse("site_request", args=[row.pk]) in page and "3 days" in page


def test_a_keeper_may_leave_for_the_page_of_a_large_account(as_user, owner):
    """A large account becomes a job: `download` would save the job's page as a file."""
    page = as_user(owner).get(reverse("data_requests")).content.decode()
    link = page.split(reverse("account_export"))[1].split(">")[0]
    assert "download" not in link


@pytest.mark.parametrize(
    ("ages", "words"),
    [
        ([0], "1 data request is waiting, since today"),
        ([1], "1 data request is waiting, for 1 day"),
        ([4, 0, 0], "3 data requests are waiting, the oldest for 4 days"),
    ],
)
def test_a_host_reads_how_many_wait_and_how_long(owner, ages, words):
    now = timezone.now()
    for age in ages:
        one = DataRequest.objects.create(keeper=owner, **ASK)
        DataRequest.objects.filter(pk=one.pk).update(made_at=now - dt.timedelta(days=age))
    assert words in site_facts(now).needs


def test_an_answer_is_seen_and_mailed_and_nothing_waits_then(
    as_user, owner, host, row, django_capture_on_commit_callbacks
):
    address = reverse("site_request", args=[row.pk])
    with django_capture_on_commit_callbacks(execute=True):
        sent = as_user(host).post(address, {"state": "done", "words": "Jo renamed it."})
    assert sent.status_code == 302
    row.refresh_from_db()
    assert row.state == DataRequest.State.DONE and row.answered_at is not None
    assert mail.outbox[0].to == [owner.email] and "Jo renamed it." in mail.outbox[0].body
    assert "Jo renamed it." in as_user(owner).get(reverse("data_requests")).content.decode()
    assert site_facts(timezone.now()).requests == []


@pytest.mark.parametrize("wrong", [{"state": "waiting"}, {"words": ""}])
def test_an_answer_says_something(as_user, host, row, wrong):
    address = reverse("site_request", args=[row.pk])
    answer = as_user(host).post(address, {"state": "done", "words": "Yes."} | wrong)
    assert answer.status_code == 422


@pytest.mark.parametrize("who", ["owner", "viewer", "stranger", "clerk"])
def test_nobody_else_answers_or_learns_of_the_page(as_user, request, row, who):
    user = make_user(is_staff=True) if who == "clerk" else request.getfixturevalue(who)
    address = reverse("site_request", args=[row.pk])
    assert as_user(user).get(address).status_code == 404
    assert as_user(user).post(address, {"state": "done", "words": "x"}).status_code == 404


def test_it_goes_with_the_account(owner, row):
    owner.delete()
    assert not DataRequest.objects.exists()

"""A large table is added behind the page: how far it is, what came of it, and what is left."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from apps.corals.history import large
from apps.corals.history.large import SentTable, read_sent
from apps.corals.history.table import Answers
from apps.corals.models import Coral, HistoryImport
from apps.later.models import Job
from apps.later.progress import read_progress
from apps.later.running import run_job
from apps.tanks.models import Membership
from tests.corals.history.test_views import TEXT, add, counts, url, written
from tests.factories import make_coral


@pytest.fixture(autouse=True)
def all_large(monkeypatch):
    """Let every table be a large one."""
    monkeypatch.setattr(large, "LINES_AT_ONCE", 1)


@pytest.fixture
def coral(tank):
    return make_coral(tank, at_cm=None, since=dt.date(2025, 1, 1))


@pytest.fixture
def client(as_user, owner):
    return as_user(owner)


@pytest.fixture
def added(client, tank, coral, django_capture_on_commit_callbacks):
    """Return a function that sends a table, and gives the page of the job that added it."""

    def send(text=TEXT, **more):
        with django_capture_on_commit_callbacks(execute=True):
            led = add(client, tank, text, **more)
        return client.get(led.url)

    return send


def test_a_large_table_is_added_behind_the_page(added, tank):
    page = added(source="two_years.xlsx")
    kept = HistoryImport.objects.get()
    assert kept.source == "two_years.xlsx" and kept.created_by == tank.owner
    assert kept.in_words() in page.context["answer"].words
    assert Coral.objects.filter(name="Red plate").exists()


def test_it_adds_the_same_as_a_small_one_does(
    client, tank, coral, added, monkeypatch, django_capture_on_commit_callbacks
):
    added()
    behind = written()
    HistoryImport.objects.get().remove()
    monkeypatch.setattr(large, "LINES_AT_ONCE", 500)
    Coral.objects.exclude(pk=coral.pk).delete()
    add(client, tank)
    assert HistoryImport.objects.present().get().counts() == HistoryImport.objects.first().counts()
    assert behind["HistoryImport"] == 1


def test_what_cannot_be_read_yet_is_led_back_to_with_all_that_was_said(added, client, tank):
    page = added(TEXT + "\nnonsense;8.4;;;;;")
    answer = page.context["answer"]
    assert answer.address.startswith(f"{url(tank)}?sent=")
    again = client.get(answer.address)
    assert counts(again)["refused"] == 1 and counts(again)["new"] == 0
    assert "nonsense;8.4" in again.context["form"]["text"].value()


def test_what_breaks_a_rule_adds_nothing_and_keeps_the_table(added, client, tank, monkeypatch):
    def refuse(*, change):
        raise ValidationError("The lamp is too high.")

    monkeypatch.setattr("apps.corals.history.recording.save_light_change", refuse)
    before = written()
    page = added()
    assert page.context["job"].problem == "Nothing was added: The lamp is too high."
    assert written() == before
    again = client.get(page.context["again"][0])
    assert counts(again)["new"] == 8


def test_delivered_twice_it_is_added_once(client, tank, coral):
    add(client, tank)
    job = Job.objects.get()
    assert run_job(job.pk) and not run_job(job.pk)
    Job.objects.update(state="waiting")
    assert run_job(job.pk) and HistoryImport.objects.count() == 1


def test_how_many_lines_are_in_is_said(added, kept_folder):
    added()
    done, of = read_progress(str(Job.objects.get().key))
    assert 0 <= done < of


def test_who_may_not_write_any_more_adds_nothing(as_user, co_keeper, tank, coral):
    add(as_user(co_keeper), tank)
    Membership.objects.all().delete()
    run_job(Job.objects.get().pk)
    assert Job.objects.get().problem == large.NOT_YOURS and not HistoryImport.objects.exists()


@pytest.mark.parametrize("who", ["co_keeper", "stranger", "viewer"])
def test_a_table_sent_is_its_senders_alone(as_user, request, added, tank, who):
    added(TEXT + "\nnonsense;8.4;;;;;")
    key = Job.objects.get().key
    page = as_user(request.getfixturevalue(who)).get(f"{url(tank)}?sent={key}")
    assert "nonsense" not in page.content.decode()
    assert reverse("job_page", args=[key]) not in page.content.decode()


@pytest.mark.parametrize("key", ["", "no key", "c48905d3-c184-4c4e-85f3-9404ab140c03"])
def test_a_table_that_is_not_there_is_an_empty_page(client, tank, key):
    assert client.get(f"{url(tank)}?sent={key}").context["form"]["text"].value() is None


def test_what_was_said_of_a_table_comes_back_whole():
    answers = Answers(
        roles={2: "note"}, units={1: "dKH"}, names={"red plate": "new:lps"}, earlier=frozenset({4})
    )
    sent = SentTable(TEXT, answers, "a.csv")
    assert read_sent(sent.stated()) == sent


@pytest.mark.parametrize(("lines", "is_large"), [(500, False), (501, True)])
def test_from_500_lines_on_a_table_is_large(monkeypatch, lines, is_large):
    monkeypatch.setattr(large, "LINES_AT_ONCE", 500)
    assert SentTable("\n" * lines, Answers()).is_large is is_large

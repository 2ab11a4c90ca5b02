"""A large table of the water log is read and added behind the page, by the rules of a small one."""

import pytest
from django.urls import reverse

from apps.corals.models import WaterEvent
from apps.corals.water import large
from apps.corals.water.importing import parse_events
from apps.later.models import Job
from apps.later.progress import read_progress
from apps.later.running import run_job
from apps.tanks.models import Membership
from apps.tanks.sent_tables import GONE, NOT_YOURS

TEXT = "date;kind;value;unit\n2026-03-01;kh;8,2;dKH\n2026-03-02;kh;8,3;dKH\nsoon;pest;;\n"


@pytest.fixture(autouse=True)
def all_large(monkeypatch):
    """Let every table be a large one."""
    monkeypatch.setattr(large, "READ_AT_ONCE_LINES", 1)
    monkeypatch.setattr(large, "ADDED_AT_ONCE_LINES", 1)


@pytest.fixture
def client(as_user, owner):
    return as_user(owner)


def url(tank):
    return reverse("water_event_import", args=[tank.pk])


@pytest.fixture
def followed(client, tank, django_capture_on_commit_callbacks):
    """Return a function that sends a table, and gives the page of the job that ran."""

    def send(text=TEXT, **pressed):
        with django_capture_on_commit_callbacks(execute=True):
            led = client.post(url(tank), {"text": text} | (pressed or {"check": "1"}))
        return client.get(led.url)

    return send


def test_a_large_table_is_looked_at_behind_the_page(client, tank, followed, monkeypatch):
    page = followed()
    assert not WaterEvent.objects.exists()
    seen = client.get(page.context["answer"].address)
    monkeypatch.setattr(large, "READ_AT_ONCE_LINES", 100)
    at_once = client.post(url(tank), {"text": TEXT, "check": "1"})
    assert seen.context["shown"] == at_once.context["shown"]
    assert (seen.context["shown"]["new_count"], seen.context["shown"]["bad"]) == (2, 1)
    assert seen.content.decode().count("soon;pest") == at_once.content.decode().count("soon;pest")


def test_it_is_added_behind_the_page_and_what_is_left_waits(client, tank, owner, followed):
    page = followed(**{"import": "1"})
    assert tank.water_events.count() == 2 and tank.water_events.first().created_by == owner
    assert Job.objects.get().outcome == {"added": 2, "known": 0, "left": 1}
    left = client.get(page.context["answer"].address)
    assert left.context["counts"]["left"] == 1
    assert left.context["form"].initial["text"].splitlines() == [
        TEXT.splitlines()[0],
        "soon;pest;;",
    ]


def test_sent_twice_it_adds_once(client, tank, followed):
    whole = TEXT.replace("soon;pest;;\n", "")
    first, second = followed(whole, **{"import": "1"}), followed(whole, **{"import": "1"})
    assert tank.water_events.count() == 2
    log = reverse("water_event_list", args=[tank.pk])
    assert first.context["answer"].address == second.context["answer"].address == log
    assert Job.objects.last().outcome["known"] == 2


def test_begun_twice_it_adds_once(client, tank):
    client.post(url(tank), {"text": TEXT, "import": "1"})
    job = Job.objects.get()
    assert run_job(job.pk) and not run_job(job.pk) and tank.water_events.count() == 2


def test_how_many_lines_are_read_is_said(tank, followed, kept_folder):
    followed()
    done, of, what = read_progress(str(Job.objects.get().key))
    assert 0 <= done <= of == 3 and what == "lines"
    heard = []
    parse_events(TEXT, tank=tank, progress=lambda *said: heard.append(said))
    assert heard == [(0, 3, "lines"), (1, 3, "lines"), (2, 3, "lines")]


def test_until_it_is_read_its_page_leads_to_how_far_it_is(client, tank):
    led = client.post(url(tank), {"text": TEXT, "check": "1"})
    key = Job.objects.get().key
    assert led.url == reverse("job_page", args=[key])
    assert client.get(f"{url(tank)}?sent={key}").url == led.url


def test_a_table_that_is_none_is_refused_before_any_job(client, tank):
    answer = client.post(url(tank), {"text": "PK\x03\x04\x00\n" * 3, "check": "1"})
    assert answer.status_code == 422 and not Job.objects.exists()


def test_who_may_no_longer_write_adds_nothing(as_user, co_keeper, tank):
    as_user(co_keeper).post(url(tank), {"text": TEXT, "import": "1"})
    Membership.objects.all().delete()
    run_job(Job.objects.get().pk)
    job = Job.objects.get()
    assert job.state == "failed" and job.problem == NOT_YOURS
    assert not WaterEvent.objects.exists()


@pytest.mark.parametrize("who", ["co_keeper", "stranger"])
def test_what_was_sent_is_its_keepers_alone(as_user, request, tank, who, followed):
    address = followed().context["answer"].address
    page = as_user(request.getfixturevalue(who)).get(address)
    assert page.status_code == (200 if who == "co_keeper" else 404)
    assert "soon;pest" not in page.content.decode()


def test_a_table_that_is_gone_is_said_to_be(client, tank):
    client.post(url(tank), {"text": TEXT, "import": "1"})
    job = Job.objects.get()
    job.file.storage.delete(job.file.name)
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.problem) == ("failed", GONE)
    assert client.get(f"{url(tank)}?sent={job.key}").status_code == 200


def test_what_takes_long_is_told_by_its_lines(monkeypatch):
    monkeypatch.undo()
    for most, to_add in ((8_000, False), (4_000, True)):
        text = "\n".join(["2026-03-01;kh;8;dKH"] * most)
        assert not large.SentLines(text).is_long(to_add=to_add)
        assert large.SentLines(text + "\n1").is_long(to_add=to_add)

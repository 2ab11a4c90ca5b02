"""A large table is added behind the page: how far it is, what came of it, and what is left."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from apps.corals.history import large, sent
from apps.corals.history.sent import SentTable, read_sent
from apps.corals.history.table import Answers
from apps.corals.models import Coral, HistoryImport
from apps.later.models import Job
from apps.later.progress import read_progress
from apps.later.running import run_job
from apps.tanks.models import Membership
from apps.tanks.sent_tables import GONE, NOT_YOURS
from tests.corals.history.test_views import NEW_PLATE, TEXT, add, counts, url, written
from tests.factories import make_coral


@pytest.fixture(autouse=True)
def all_large(monkeypatch):
    """Let every table be a large one."""
    monkeypatch.setattr(sent, "ADDED_AT_ONCE_CELLS", 1)


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
    monkeypatch.setattr(sent, "ADDED_AT_ONCE_CELLS", 2500)
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
    done, of, _ = read_progress(str(Job.objects.get().key))
    assert 0 <= done < of


def test_who_may_not_write_any_more_adds_nothing(as_user, co_keeper, tank, coral):
    add(as_user(co_keeper), tank)
    Membership.objects.all().delete()
    run_job(Job.objects.get().pk)
    assert Job.objects.get().problem == NOT_YOURS and not HistoryImport.objects.exists()


def test_a_table_whose_file_is_gone_is_asked_for_again(client, tank, coral):
    add(client, tank)
    job = Job.objects.get()
    job.file.storage.delete(job.file.name)
    assert run_job(job.pk) and Job.objects.get().problem == GONE
    assert client.get(f"{url(tank)}?sent={job.key}").status_code == 200


def test_one_that_was_no_table_to_add_comes_back_with_what_is_wrong(added, client):
    page = added(";\n;")
    assert page.context["job"].state == "failed"
    again = client.get(page.context["again"][0])
    assert again.context["form"]["text"].value() == ";\n;"
    assert page.context["job"].problem in again.content.decode()


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


@pytest.mark.parametrize(("lines", "is_long"), [(500, False), (501, True)])
def test_from_2500_cells_on_adding_is_long(monkeypatch, lines, is_long):
    monkeypatch.setattr(sent, "ADDED_AT_ONCE_CELLS", 2500)
    table = SentTable("\n".join(["a;b;c;d;e"] * lines), Answers())
    assert table.cells == 5 * lines and table.is_long_to_add is is_long


@pytest.mark.parametrize(("lines", "is_long"), [(3000, False), (3001, True)])
def test_from_15000_cells_on_reading_is_long(lines, is_long):
    assert SentTable("\n".join(["a\tb, c\td\te\tf"] * lines), Answers()).is_long_to_read is is_long


class TestTheLookBeforeIt:
    """A table that takes long to read is read behind the page, and shown as a small one is."""

    @pytest.fixture(autouse=True)
    def all_long(self, monkeypatch):
        monkeypatch.setattr(sent, "READ_AT_ONCE_CELLS", 1)

    @pytest.fixture
    def checked(self, client, tank, coral, django_capture_on_commit_callbacks):
        """Return a function that sends a table to look at, and gives the page of its job."""

        def send(text=TEXT, **more):
            with django_capture_on_commit_callbacks(execute=True):
                led = client.post(url(tank), {"text": text, **more})
            return client.get(led.url)

        return send

    def test_it_shows_what_a_small_one_does(self, checked, client, tank, monkeypatch):
        page = checked(source="two_years.xlsx")
        assert Job.objects.get().outcome == {"lines": 3, "new": 7, "asks": False}
        before = written()
        behind = client.get(page.context["answer"].address)
        monkeypatch.setattr(sent, "READ_AT_ONCE_CELLS", 1000)
        at_once = client.post(url(tank), {"text": TEXT})
        assert counts(behind) == counts(at_once) and written() == before
        assert behind.context["shown"] == at_once.context["shown"]
        assert behind.context["form"]["source"].value() == "two_years.xlsx"
        assert behind.context["form"]["text"].value() == TEXT

    def test_what_was_said_of_it_counts(self, checked, client):
        page = checked(**NEW_PLATE)
        behind = client.get(page.context["answer"].address)
        assert counts(behind) == {"new": 8, "known": 0, "refused": 0, "waiting": 0}
        assert behind.context["shown"]["new_corals"][0]["name"] == "Red plate"

    def test_a_question_about_the_whole_is_led_to(self, checked, client):
        page = checked("coral;seen\nGreen branching;pale")
        assert Job.objects.get().outcome["asks"]
        assert client.get(page.context["answer"].address).context["shown"]["problem"]

    def test_its_file_takes_the_place_of_what_was_sent(self, checked, settings):
        checked()
        files = [path.name for path in (settings.MEDIA_ROOT / "jobs").iterdir()]
        assert files == [Job.objects.get().file.name.removeprefix("jobs/")]

    def test_one_that_is_no_table_is_refused_and_comes_back(self, checked, client, tank):
        page = checked(";\n;")
        assert page.context["job"].state == "failed"
        again = client.get(page.context["again"][0])
        assert again.context["form"]["text"].value() == ";\n;"
        assert page.context["job"].problem in again.content.decode()

    def test_too_many_lines_are_refused_at_once(self, client, tank):
        response = client.post(url(tank), {"text": "a;b\n" * 20_001})
        assert response.status_code == 422 and not Job.objects.exists()

    def test_how_many_lines_are_read_is_said(self, checked, client, kept_folder):
        page = checked()
        job = page.context["job"]
        assert read_progress(str(job.key)) == (0, 3, "lines")
        Job.objects.update(state="running")
        assert client.get(page.request["PATH_INFO"]).context["parts"] == "0 of 3 lines"

    def test_until_it_is_read_its_table_leads_to_its_job(self, client, tank, coral):
        client.post(url(tank), {"text": TEXT})
        job = Job.objects.get()
        led = client.get(f"{url(tank)}?sent={job.key}")
        assert led.status_code == 302 and led.url == reverse("job_page", args=[job.key])

    def test_what_was_left_of_an_added_one_is_read_behind_the_page_too(
        self, added, client, tank, django_capture_on_commit_callbacks
    ):
        answer = added(TEXT + "\nnonsense;8.4;;;;;").context["answer"]
        with django_capture_on_commit_callbacks(execute=True):
            led = client.get(answer.address)
        again = client.get(client.get(led.url).context["answer"].address)
        assert counts(again) == {"new": 0, "known": 8, "refused": 1, "waiting": 0}

    def test_opened_again_it_is_read_by_the_one_job_under_way(self, added, client, settings):
        address = added(TEXT + "\nnonsense;8.4;;;;;").context["answer"].address
        first, second = client.get(address), client.get(address)
        assert first.url == second.url and Job.objects.filter(name=large.CHECK).count() == 1
        assert len(list((settings.MEDIA_ROOT / "jobs").iterdir())) == 2

    def test_once_read_it_is_led_back_to_without_another_job(
        self, added, client, settings, django_capture_on_commit_callbacks
    ):
        address = added(TEXT + "\nnonsense;8.4;;;;;").context["answer"].address
        with django_capture_on_commit_callbacks(execute=True):
            first = client.get(address)
        assert Job.objects.get(name=large.CHECK).state == Job.State.DONE
        files = sorted((settings.MEDIA_ROOT / "jobs").iterdir())
        assert client.get(address).url == first.url
        assert Job.objects.filter(name=large.CHECK).count() == 1
        assert sorted((settings.MEDIA_ROOT / "jobs").iterdir()) == files

    def test_one_that_failed_is_read_anew(self, added, client):
        address = added(TEXT + "\nnonsense;8.4;;;;;").context["answer"].address
        first = client.get(address)
        Job.objects.filter(name=large.CHECK).update(state=Job.State.FAILED)
        assert client.get(address).url != first.url

    def test_who_may_not_write_any_more_sees_nothing(self, as_user, co_keeper, tank, coral):
        as_user(co_keeper).post(url(tank), {"text": TEXT})
        Membership.objects.all().delete()
        run_job(Job.objects.get().pk)
        assert Job.objects.get().problem == NOT_YOURS

    @pytest.mark.parametrize("who", ["co_keeper", "stranger", "viewer"])
    def test_what_was_read_is_its_senders_alone(self, as_user, request, checked, tank, who):
        checked()
        key = Job.objects.get().key
        page = as_user(request.getfixturevalue(who)).get(f"{url(tank)}?sent={key}")
        assert "raised the lamps" not in page.content.decode()

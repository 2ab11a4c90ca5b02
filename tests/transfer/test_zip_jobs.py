"""Large zips go behind the pages: how far they are, what came of it, or why nothing did."""

import io

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import OperationalError
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import Photo
from apps.later.models import Job
from apps.later.progress import read_progress
from apps.later.running import LEASE, run_job
from apps.tanks.models import Tank
from apps.transfer.archive import jobs
from apps.transfer.archive.contents import tank_contents
from apps.transfer.archive.restoring import Restoring
from apps.transfer.archive.writing import write_tank
from apps.transfer.models import Arrival
from tests.corals.shots import make_photo
from tests.factories import (
    make_coral,
    make_note,
    make_rock,
    make_survey,
    make_tank,
    make_written_zip,
)
from tests.transfer.test_import_pages import account_zip, send, stored_zips
from tests.transfer.zips import canonical, exported, members, packed, with_row


@pytest.fixture
def all_large(monkeypatch):
    """Let every zip be a large one."""
    monkeypatch.setattr(jobs, "ROWS_BYTES", 1)
    monkeypatch.setattr(jobs, "INNER_BYTES", 1)
    monkeypatch.setattr(jobs, "AT_ONCE_ROWS", 0)


@pytest.fixture
def followed(all_large, django_capture_on_commit_callbacks):
    """Return a function that sends what leads to a job, and gives the page of the job that ran."""

    def follow(client, method, address):
        with django_capture_on_commit_callbacks(execute=True):
            led = getattr(client, method)(address)
        return client.get(led.url)

    return follow


@pytest.fixture
def full_tank(tank):
    make_survey(tank)
    make_rock(tank)
    make_note(make_coral(tank))
    return tank


# --- In -------------------------------------------------------------------------------------
def test_a_large_zip_becomes_a_tank_behind_the_page(as_user, stranger, full_tank, followed):
    client, content = as_user(stranger), exported(full_tank)
    page = followed(client, "post", send(client, content).url)
    tank = Tank.objects.get(owner=stranger)
    assert page.context["answer"].address == reverse("tank_detail", args=[tank.pk])
    assert canonical(exported(tank)) == canonical(content)


def test_until_it_is_in_its_page_leads_to_how_far_it_is(as_user, stranger, full_tank, all_large):
    client = as_user(stranger)
    preview = send(client, exported(full_tank)).url
    first, second = client.post(preview), client.post(preview)
    assert first.url == second.url == client.get(preview).url
    assert Job.objects.count() == 1 and not Tank.objects.filter(owner=stranger).exists()


def test_begun_twice_it_is_one_tank(as_user, stranger, full_tank, all_large):
    client = as_user(stranger)
    preview = send(client, exported(full_tank)).url
    client.post(preview)
    job = Job.objects.get()
    again = Job.objects.create(name=job.name, keeper=stranger, arguments=job.arguments)
    assert run_job(job.pk) and run_job(again.pk)
    assert Tank.objects.filter(owner=stranger).count() == 1


def test_how_many_rows_are_in_is_said(as_user, stranger, full_tank, followed, kept_folder):
    client = as_user(stranger)
    followed(client, "post", send(client, exported(full_tank)).url)
    done, of, _ = read_progress(str(Job.objects.get().key))
    assert 0 < done <= of


def test_how_many_rows_and_photos_are_out_is_said(owner, full_tank):
    make_photo(full_tank.corals.first())
    heard = []
    rows, photos, _ = write_tank(full_tank, io.BytesIO(), lambda *parts: heard.append(parts))
    assert [part for part in heard if part[2] == "rows"][-1][1] == rows
    assert [part[:2] for part in heard if part[2] == "photos"] == [(0, photos), (1, photos)]


def test_an_account_is_said_to_be_in_zip_by_zip(as_user, owner, stranger, full_tank, followed):
    make_tank(owner)
    client = as_user(stranger)
    page = followed(client, "post", send(client, account_zip(owner)).url)
    assert page.context["answer"].address == reverse("tank_list")
    assert Tank.objects.filter(owner=stranger).count() == 2


def test_a_zip_that_does_not_fit_writes_nothing_and_waits(as_user, stranger, full_tank, followed):
    client = as_user(stranger)
    preview = send(client, with_row(exported(full_tank), "reading", value_umol=-5)).url
    page = followed(client, "post", preview)
    assert page.context["job"].state == "failed" and page.context["job"].problem
    assert page.context["again"][0] == preview and len(stored_zips()) == 1
    assert not Tank.objects.filter(owner=stranger).exists()


def test_a_zip_sent_while_one_comes_in_does_not_take_its_place(
    as_user, stranger, full_tank, all_large
):
    client, content = as_user(stranger), exported(full_tank)
    client.post(send(client, content).url)
    job = Job.objects.get()
    assert send(client, content).url == reverse("job_page", args=[job.key])
    run_job(job.pk)
    job.refresh_from_db()
    assert job.state == "done" and Tank.objects.filter(owner=stranger).count() == 1
    assert send(client, content).url != reverse("job_page", args=[job.key])


def test_a_zip_of_another_keeper_is_not_held_up(as_user, owner, stranger, full_tank, all_large):
    content = exported(full_tank)
    client = as_user(stranger)
    client.post(send(client, content).url)
    sent = send(as_user(owner), content).url
    assert sent == reverse("tank_import_preview", args=[Arrival.objects.get(keeper=owner).key])


def test_a_database_that_is_busy_is_not_the_zips_fault(
    as_user, stranger, full_tank, all_large, monkeypatch
):
    def deadlock(*_args):
        raise OperationalError("deadlock detected")

    client = as_user(stranger)
    client.post(send(client, exported(full_tank)).url)
    job = Job.objects.get()
    with monkeypatch.context() as patched:
        patched.setattr(Restoring, "run", deadlock)
        run_job(job.pk)
    job.refresh_from_db()
    assert job.state == "running" and not job.problem
    Job.objects.update(alive_at=timezone.now() - LEASE * 2)
    run_job(job.pk)
    assert Tank.objects.filter(owner=stranger).count() == 1


def test_what_came_in_is_warmed(as_user, stranger, full_tank, followed, settings, monkeypatch):
    client = as_user(stranger)
    preview = send(client, exported(full_tank)).url
    settings.JOBS = "thread"
    followed(client, "post", preview)
    run_job(Job.objects.get(name=jobs.IMPORT).pk)
    assert Tank.objects.filter(owner=stranger).exists()


def test_what_takes_long_is_told_by_its_files(owner, stranger, full_tank):
    arrival = Arrival(keeper=stranger)
    for rows, is_long in ((b"0" * 300_000, False), (b"0" * 450_000, True)):
        arrival.file.save("", ContentFile(packed({"rows/coral.json": rows})), save=True)
        assert jobs.takes_long(arrival) is is_long
    arrival.file.save("", ContentFile(b"no zip"), save=True)
    assert not jobs.takes_long(arrival)


# --- Out ------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["tank_export", "account_export"])
def test_a_large_zip_is_written_behind_the_page(as_user, owner, full_tank, followed, name):
    client = as_user(owner)
    address = reverse(name, args=[full_tank.pk] if name == "tank_export" else [])
    answer = followed(client, "get", address).context["answer"]
    got = client.get(answer.address)
    content = b"".join(got.streaming_content)
    assert got["Content-Disposition"].endswith(f'filename="{answer.file_name}"')
    if name == "tank_export":
        assert canonical(content) == canonical(exported(full_tank))
    else:
        assert {"own.zip", "tanks/1.zip"} <= members(content).keys()


def test_pressed_twice_it_is_written_once(as_user, owner, full_tank, all_large):
    client, address = as_user(owner), reverse("tank_export", args=[full_tank.pk])
    assert client.get(address).url == client.get(address).url
    assert Job.objects.count() == 1


@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_a_written_zip_is_its_keepers_alone(as_user, request, owner, who):
    address = reverse("job_file", args=[make_written_zip(owner).key])
    assert as_user(request.getfixturevalue(who)).get(address).status_code == 404
    assert as_user(owner).get(address).status_code == 200


def test_a_tank_given_away_meanwhile_is_not_written(owner, stranger, full_tank):
    job = jobs.put_down_export(owner, full_tank)
    Tank.objects.update(owner=stranger)
    run_job(job.pk)
    job.refresh_from_db()
    assert job.state == "failed" and not job.file


def test_a_written_zip_of_a_tank_given_away_since_is_handed_to_nobody(
    as_user, owner, stranger, full_tank
):
    job = jobs.put_down_export(owner, full_tank)
    run_job(job.pk)
    address = reverse("job_file", args=[job.key])
    assert as_user(owner).get(address).status_code == 200
    Tank.objects.update(owner=stranger)
    assert as_user(owner).get(address).status_code == 404


def test_the_zip_of_an_account_is_withheld_once_one_of_its_tanks_is_given_away(
    as_user, owner, stranger, full_tank, django_capture_on_commit_callbacks
):
    client, given = as_user(owner), make_tank(owner)

    def written():
        with django_capture_on_commit_callbacks(execute=True):
            return reverse("job_file", args=[jobs.put_down_export(owner).key])

    before = written()
    full_tank.remove()
    assert client.get(before).status_code == 200
    Tank._base_manager.filter(pk=given.pk).update(owner=stranger)
    assert client.get(before).status_code == 404
    page = client.get(before.removesuffix("file/"))
    assert page.context["answer"].address == reverse("account_export")
    got = client.get(written())
    assert "tanks/2.zip" not in members(b"".join(got.streaming_content))


def test_the_zip_of_an_account_that_does_not_say_whose_tanks_it_holds_is_withheld(as_user, owner):
    job = make_written_zip(owner)
    job.outcome = {}
    job.save()
    assert as_user(owner).get(reverse("job_file", args=[job.key])).status_code == 404


def test_who_lost_a_zip_takes_back_only_their_own(owner, full_tank, monkeypatch):
    job, write = jobs.put_down_export(owner, full_tank), jobs.write_tank

    def slow(tank, out, progress):
        monkeypatch.setattr(jobs, "write_tank", write)
        Job.objects.update(alive_at=timezone.now() - LEASE * 2)
        assert run_job(job.pk)
        write(tank, out, progress)

    monkeypatch.setattr(jobs, "write_tank", slow)
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.tries) == ("done", 2)
    assert canonical(job.file.open().read()) == canonical(exported(full_tank))
    assert default_storage.listdir("jobs")[1] == [job.file.name.removeprefix("jobs/")]


def test_of_one_tank_one_written_zip_is_kept(owner, full_tank, django_capture_on_commit_callbacks):
    other = make_written_zip(owner)
    first = jobs.put_down_export(owner, full_tank)
    run_job(first.pk)
    first.refresh_from_db()
    with django_capture_on_commit_callbacks(execute=True):
        second = jobs.put_down_export(owner, full_tank)
    second.refresh_from_db()
    assert set(Job.objects.all()) == {other, second} and second.state == "done"
    assert not default_storage.exists(first.file.name) and default_storage.exists(second.file.name)


def test_photos_weigh(full_tank, monkeypatch):
    contents = tank_contents(full_tank)
    assert not jobs.is_large(contents)
    photo = Photo(note=make_note(make_coral(full_tank)))
    photo.image.save("coral.jpg", ContentFile(b"a picture"), save=True)
    monkeypatch.setattr(jobs, "PHOTO_BYTES", photo.image.size)
    assert not jobs.is_large(contents)
    monkeypatch.setattr(jobs, "PHOTO_BYTES", photo.image.size - 1)
    assert jobs.is_large(contents)
    photo.image.storage.delete(photo.image.name)
    assert not jobs.is_large(contents)


def test_a_zip_that_is_gone_is_not_found(as_user, owner):
    job = make_written_zip(owner)
    job.file.storage.delete(job.file.name)
    assert as_user(owner).get(reverse("job_file", args=[job.key])).status_code == 404

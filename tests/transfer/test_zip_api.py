"""Zips out and in by programs: a job to follow, the same refusals, nothing written when refused."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.db.models.fields.files import FieldFile
from django.urls import reverse
from rest_framework.test import APIClient

from apps.later.models import Job
from apps.later.running import run_job
from apps.tanks.models import Tank
from apps.transfer.archive.arrivals import GONE, REPLACED
from apps.transfer.models import Arrival
from tests.factories import make_coral, make_note, make_survey, make_tank
from tests.transfer.test_import_pages import account_zip, stored_zips
from tests.transfer.zips import canonical, exported, members, packed, with_row

IMPORTS, EXPORTS = reverse("api-import-list"), reverse("api-export-list")


def program(user):
    client = APIClient()
    client.force_authenticate(user)
    return client


@pytest.fixture
def full_tank(tank):
    make_survey(tank)
    make_note(make_coral(tank))
    return tank


@pytest.fixture
def send(django_capture_on_commit_callbacks):
    """Return a function that sends a zip, and lets what it leads to run."""

    def sent(client, content, *, runs=True, **headers):
        file = SimpleUploadedFile("reef.zip", content)
        with django_capture_on_commit_callbacks(execute=runs):
            return client.post(IMPORTS, {"file": file}, format="multipart", headers=headers)

    return sent


def refusal(answer):
    """Return the one sentence that a refused zip is answered with."""
    assert answer.status_code == 400 and answer["Content-Type"] == "application/problem+json"
    [sentence] = answer.json()["errors"]["file"]
    return sentence


# --- In -------------------------------------------------------------------------------------
def test_a_zip_becomes_a_tank_and_its_job_names_it(stranger, full_tank, send):
    client, content = program(stranger), exported(full_tank)
    answer = send(client, content)
    assert answer.status_code == 202 and answer.data["kind"] == "bring_in_zip"
    tank = Tank.objects.get(owner=stranger)
    job = client.get(answer["Location"]).data
    assert (job["state"], job["outcome"]["tanks"]) == ("done", [tank.pk])
    assert canonical(exported(tank)) == canonical(content)


def test_an_account_becomes_all_its_tanks(owner, stranger, full_tank, send):
    make_tank(owner)
    client = program(stranger)
    job = client.get(send(client, account_zip(owner))["Location"]).data
    made = list(Tank.objects.filter(owner=stranger).order_by("pk").values_list("pk", flat=True))
    assert job["outcome"]["tanks"] == made and len(made) == 2


@pytest.mark.parametrize("content", [b"", b"no zip", packed({"a.txt": b"1"})])
def test_what_is_no_zip_of_ours_is_refused_as_on_the_page(as_user, stranger, send, content):
    said = refusal(send(program(stranger), content))
    page = as_user(stranger).post(
        reverse("tank_import"), {"file": SimpleUploadedFile("reef.zip", content)}
    )
    assert page.context["form"].errors["file"] == [said]
    assert not Arrival.objects.exists() and not Job.objects.exists() and not stored_zips()


def test_one_that_is_too_large_is_refused(stranger, full_tank, send, settings):
    settings.ARRIVAL_BYTES_MAX = 10
    assert refusal(send(program(stranger), exported(full_tank))) and not Arrival.objects.exists()


def test_a_row_that_does_not_fit_fails_the_job_and_writes_nothing(stranger, full_tank, send):
    client = program(stranger)
    answer = send(client, with_row(exported(full_tank), "reading", value_umol=-5))
    job = client.get(answer["Location"]).data
    assert job["state"] == "failed" and job["problem"] and job["outcome"] == {}
    assert not Tank.objects.filter(owner=stranger).exists()


def test_a_second_zip_waits_for_the_first(stranger, full_tank, send):
    client, content = program(stranger), exported(full_tank)
    send(client, content, runs=False)
    refused = send(client, content, runs=False)
    assert (refused.status_code, refused.json()["code"]) == (409, "import_under_way")
    run_job(Job.objects.get().pk)
    assert send(client, content).status_code == 202
    assert Tank.objects.filter(owner=stranger).count() == 2


def test_sent_twice_by_one_key_it_is_one_tank(stranger, full_tank, send):
    client, content = program(stranger), exported(full_tank)
    key = {"Idempotency-Key": "one"}
    first, second = send(client, content, **key), send(client, content, **key)
    assert first.data == second.data and first["Location"] == second["Location"]
    assert Tank.objects.filter(owner=stranger).count() == 1
    assert send(client, account_zip(stranger), **key).status_code == 422


def test_what_is_not_kept_leaves_no_file(stranger, full_tank, send):
    client, content = program(stranger), exported(full_tank)
    send(client, content, runs=False, **{"Idempotency-Key": "one"})
    there = stored_zips()
    assert len(there) == 1
    # Refused while the first comes in, or the same again: stored, and gone.
    assert send(client, content, runs=False).status_code == 409 and stored_zips() == there
    again = send(client, content, runs=False, **{"Idempotency-Key": "one"})
    assert again.status_code == 202 and stored_zips() == there


def test_a_zip_is_stored_before_any_row_is_locked(stranger, full_tank, send, monkeypatch):
    begun, save = len(connection.savepoint_ids), FieldFile.save
    seen = []

    def noting(self, *args, **kwargs):
        seen.append(len(connection.savepoint_ids) - begun)
        return save(self, *args, **kwargs)

    monkeypatch.setattr(FieldFile, "save", noting)
    client, content = program(stranger), exported(full_tank)
    send(client, content, runs=False, **{"Idempotency-Key": "one"})
    assert seen == [0]


def test_a_zip_whose_place_was_taken_says_so(as_user, stranger, full_tank, send):
    page, content = as_user(stranger), exported(full_tank)
    page.post(reverse("tank_import"), {"file": SimpleUploadedFile("reef.zip", content)})
    waiting = Arrival.objects.get()
    send(program(stranger), content)
    answer = page.get(reverse("tank_import_preview", args=[waiting.key]), follow=True)
    [said] = answer.context["messages"]
    assert REPLACED in str(said) and GONE not in str(said)


def test_a_field_it_does_not_know_is_refused(stranger):
    answer = program(stranger).post(IMPORTS, {"zip": "1"}, format="multipart")
    assert answer.status_code == 400 and {"zip", "file"} == answer.data["errors"].keys()


# --- Out ------------------------------------------------------------------------------------
@pytest.fixture
def export(django_capture_on_commit_callbacks):
    """Return a function that has a zip written, and gives its job."""

    def written(client, **said):
        with django_capture_on_commit_callbacks(execute=True):
            answer = client.post(EXPORTS, said, format="json")
        return client.get(answer["Location"]).data

    return written


def test_a_written_zip_of_a_tank_is_all_of_it(owner, full_tank, export):
    client = program(owner)
    got = client.get(export(client, tank=full_tank.pk)["file"])
    assert canonical(b"".join(got.streaming_content)) == canonical(exported(full_tank))


def test_without_a_tank_it_is_the_account(owner, full_tank, export):
    client = program(owner)
    got = b"".join(client.get(export(client)["file"]).streaming_content)
    assert {"own.zip", "tanks/1.zip"} <= members(got).keys()


@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_only_its_owner_has_a_tank_written(request, full_tank, who):
    client = program(request.getfixturevalue(who))
    answer = client.post(EXPORTS, {"tank": full_tank.pk}, format="json")
    assert answer.status_code == 400 and "tank" in answer.data["errors"]
    assert not Job.objects.exists()


@pytest.mark.parametrize("form", ["application/octet-stream", "application/zip", "*/*"])
def test_a_written_zip_comes_whatever_its_caller_says_they_take(owner, full_tank, export, form):
    client = program(owner)
    job = export(client, tank=full_tank.pk)
    answer = client.get(job["file"], headers={"Accept": form})
    assert answer.status_code == 200 and b"".join(answer.streaming_content)[:2] == b"PK"

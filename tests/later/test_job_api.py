"""Jobs for programs: their keeper's alone, with how far each is and what came of it."""

import pytest
from django.urls import reverse
from django.utils import timezone
from rest_framework.test import APIClient

from apps.later.models import Job
from apps.later.progress import note_progress
from tests.factories import make_job, make_written_zip

LIST = reverse("api-job-list")


def address(job):
    return reverse("api-job-detail", args=[job.key])


@pytest.fixture
def client(owner):
    client = APIClient()
    client.force_authenticate(owner)
    return client


@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_a_job_and_its_file_are_its_keepers_alone(as_user, request, owner, who):
    job, other = make_written_zip(owner), as_user(request.getfixturevalue(who))
    for at in (address(job), address(job) + "file/"):
        assert other.get(at).status_code == 404
        assert as_user(owner).get(at).status_code == 200
    assert other.get(LIST).json()["count"] == 0


def test_a_job_of_the_sites_own_is_nobodys(client):
    make_job()
    assert client.get(LIST).json()["count"] == 0


def test_how_far_it_is_is_counted(client, owner, kept_folder):
    job = make_job(owner, name="bring_in_zip", state="running")
    assert client.get(address(job)).data["progress"] is None
    note_progress(str(job.key), 30, 120, "rows")
    assert client.get(address(job)).data["progress"] == {"done": 30, "of": 120, "what": "rows"}
    Job.objects.update(state="failed", problem="No.")
    answer = client.get(address(job)).data
    assert (answer["state"], answer["problem"], answer["progress"]) == ("failed", "No.", None)


def test_one_that_did_not_change_is_not_sent_again(client, owner):
    at = address(make_job(owner, name="bring_in_zip"))
    assert client.get(at, headers={"If-None-Match": client.get(at)["ETag"]}).status_code == 304


def test_its_file_is_where_it_says(client, owner):
    job = make_written_zip(owner)
    at = client.get(address(job)).data["file"]
    assert b"".join(client.get(at).streaming_content) == b"a zip"
    job.file.storage.delete(job.file.name)
    assert client.get(address(job)).data["file"] is None and client.get(at).status_code == 404


def test_one_that_an_older_version_knew_hides_no_other(client, owner):
    for name in ("fold_paper", "bring_in_zip"):
        make_job(owner, name=name, state="done", ended_at=timezone.now())
    listed = client.get(LIST)
    assert (
        listed.status_code == 200 and len({job["title"] for job in listed.json()["results"]}) == 2
    )
    assert client.get(address(Job.objects.get(name="fold_paper"))).json()["file"] is None


def test_they_are_listed_newest_first_and_by_their_state(client, owner):
    first = make_job(owner, name="write_zip", state="done", arguments={"tank_pk": None})
    second = make_job(owner, name="bring_in_zip")
    assert [row["key"] for row in client.get(LIST).data["results"]] == [
        str(second.key), str(first.key),
    ]  # fmt: skip
    waiting = client.get(LIST, {"state": "waiting"}).data["results"]
    assert [row["kind"] for row in waiting] == ["bring_in_zip"]

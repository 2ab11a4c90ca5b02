"""Photos in a bucket of a server that speaks S3, as the site's settings make it."""

import json

import boto3
import pytest
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import connection
from django.urls import reverse
from moto.server import ThreadedMotoServer

from apps.corals.models import Photo
from apps.corals.notes.noting import save_note, stored_photo
from apps.corals.photo_cleaning import clean_photo
from apps.hosting.doctor import checks
from apps.hosting.doctor.finding import State
from tests.corals.pictures import encoded, sent
from tests.factories import make_coral, make_note
from tests.test_environment import SERVED, manage

NAME = "photos"
READ_STORAGE = (
    "from django.conf import settings; import json; print(json.dumps(settings.STORAGES['default']))"
)


@pytest.fixture(scope="module")
def endpoint():
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    yield f"http://{host}:{port}"
    server.stop()


@pytest.fixture(scope="module")
def storage(endpoint, tmp_path_factory):
    """What the settings make of REEFLOG_S3_..."""
    stated = {
        "REEFLOG_PHOTO_STORE": "s3", "REEFLOG_S3_BUCKET": NAME, "REEFLOG_S3_ENDPOINT": endpoint,
        "REEFLOG_S3_REGION": "us-east-1", "REEFLOG_S3_ACCESS_KEY": "a",
        "REEFLOG_S3_SECRET_KEY": "b",
    }  # fmt: skip
    folder = tmp_path_factory.mktemp("settings")
    done = manage("shell", "-v0", "-c", READ_STORAGE, tmp_path=folder, **SERVED | stated)
    return json.loads(done.stdout)


@pytest.fixture
def bucket(endpoint, storage, settings):
    settings.STORAGES = settings.STORAGES | {"default": storage}
    options = {"region_name": "us-east-1", "aws_access_key_id": "a", "aws_secret_access_key": "b"}
    made = boto3.resource("s3", endpoint_url=endpoint, **options).Bucket(NAME)
    made.create()
    yield made
    made.objects.all().delete()
    made.delete()


def names(bucket):
    return {one.key for one in bucket.objects.all()}


@pytest.fixture
def photo(tank, bucket):
    note = make_note(make_coral(tank))
    save_note(note=note, photos=[stored_photo(clean_photo(sent(encoded()), bytes_max=10_000_000))])
    return note.photos.get()


def test_a_photo_goes_in_comes_out_and_is_nobody_elses(photo, bucket, as_user, owner, stranger):
    assert names(bucket) == {photo.image.name, photo.thumbnail.name}
    url = reverse("photo_show", args=[photo.key, "image"])
    answer = as_user(owner).get(url)
    assert (
        b"".join(answer.streaming_content) == bucket.Object(photo.image.name).get()["Body"].read()
    )
    assert as_user(stranger).get(url).status_code == 404


def test_a_photo_that_is_deleted_leaves_the_bucket(
    photo, bucket, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        photo.delete()
    assert names(bucket) == set()


def test_the_doctor_writes_reads_and_deletes_there(bucket, db):
    assert [one.state for one in checks.storage()] == [State.OK]
    assert names(bucket) == set()


def test_a_photo_that_the_bucket_lost_is_named(photo, bucket, capsys):
    bucket.Object(photo.thumbnail.name).delete()
    call_command("check_photos")
    missing = [line for line in capsys.readouterr().out.splitlines() if "missing:" in line]
    assert missing == [f"missing: {photo.thumbnail.name}"]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="What is restored is the database file.")
def test_a_backup_holds_the_bucket_and_a_restore_fills_it_again(
    site, bucket, tank, tmp_path, capsys
):
    note = make_note(make_coral(tank))
    save_note(note=note, photos=[stored_photo(clean_photo(sent(encoded()), bytes_max=10_000_000))])
    (photo,) = Photo.objects.all()
    content = bucket.Object(photo.image.name).get()["Body"].read()
    folder = tmp_path / "backups"
    folder.mkdir()
    call_command("back_up", folder)
    bucket.Object(photo.image.name).delete()
    bucket.put_object(Key=photo.thumbnail.name, Body=b"another")
    call_command("restore", *folder.glob("*.tar"))
    assert "proved" in capsys.readouterr().out
    assert bucket.Object(photo.image.name).get()["Body"].read() == content
    assert default_storage.size(photo.thumbnail.name) > len(b"another")

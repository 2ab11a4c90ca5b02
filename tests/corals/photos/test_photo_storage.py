"""Photos in S3-type storage: written to and read from a bucket over HTTP, and never public."""

import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from django.core.files.base import ContentFile
from django.urls import reverse

from apps.corals.models import Photo
from apps.corals.notes.noting import save_note, stored_photo
from apps.corals.photo_cleaning import clean_photo
from tests.corals.pictures import encoded, sent
from tests.factories import make_coral, make_note


class Bucket(BaseHTTPRequestHandler):
    """As much of an S3 server as keeping files takes."""

    kept = {}
    asked = []

    def answer(self, status, body=b""):
        self.send_response(status)
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Content-Type", "image/jpeg")
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def do_PUT(self):
        size = int(self.headers.get("Content-Length", 0))
        body = self.rfile.read(size)
        self.asked.append(dict(self.headers))
        self.kept[self.path.partition("?")[0]] = body
        self.answer(200)

    def do_GET(self):
        body = self.kept.get(self.path.partition("?")[0])
        self.answer(404) if body is None else self.answer(200, body)

    do_HEAD = do_GET

    def do_DELETE(self):
        self.kept.pop(self.path.partition("?")[0], None)
        self.answer(204)

    def log_message(self, *args):
        pass


@pytest.fixture
def bucket(settings):
    server = ThreadingHTTPServer(("127.0.0.1", 0), Bucket)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    Bucket.kept.clear()
    Bucket.asked.clear()
    options = {
        "bucket_name": "photos", "endpoint_url": f"http://127.0.0.1:{server.server_port}",
        "region_name": "nowhere-1", "access_key": "a", "secret_key": "b", "default_acl": None,
        "file_overwrite": False, "addressing_style": "path",
        # The server above keeps bodies as they come.
        "object_parameters": {}, "client_config": plain_bodies(),
    }  # fmt: skip
    settings.STORAGES = settings.STORAGES | {
        "default": {"BACKEND": "storages.backends.s3.S3Storage", "OPTIONS": options}
    }
    yield Bucket
    server.shutdown()


def plain_bodies():
    from botocore.config import Config

    return Config(
        s3={"addressing_style": "path", "payload_signing_enabled": True},
        signature_version="s3v4",
        request_checksum_calculation="when_required",
        response_checksum_validation="when_required",
    )


@pytest.fixture
def photo(tank, bucket):
    note = make_note(make_coral(tank))
    save_note(note=note, photos=[stored_photo(clean_photo(sent(encoded()), bytes_max=10_000_000))])
    return note.photos.get()


def test_photo_and_thumbnail_are_written_to_the_bucket(photo, bucket):
    assert set(bucket.kept) == {f"/photos/{photo.image.name}", f"/photos/{photo.thumbnail.name}"}
    assert all(body.startswith(b"\xff\xd8") for body in bucket.kept.values())


def test_nothing_is_made_public(photo, bucket):
    assert not any("x-amz-acl" in {name.lower() for name in query} for query in bucket.asked)


def test_photo_comes_through_the_view_that_checks_the_reader(photo, as_user, owner, stranger):
    url = reverse("photo_show", args=[photo.key, "image"])
    answer = as_user(owner).get(url)
    assert b"".join(answer.streaming_content).startswith(b"\xff\xd8")
    assert as_user(stranger).get(url).status_code == 404


def test_photo_lost_from_the_bucket_is_not_found(photo, bucket, as_user, owner):
    bucket.kept.clear()
    assert as_user(owner).get(reverse("photo_show", args=[photo.key, "image"])).status_code == 404


def test_second_photo_never_writes_over_the_first(photo):
    name = Photo._meta.get_field("image").storage.save(photo.image.name, ContentFile(b"other"))
    assert name != photo.image.name

"""Pages go out packed, files as they are."""

import gzip

import pytest
from django.http import FileResponse, HttpResponse
from django.test import RequestFactory

from reeflog.compressing import GZipPagesMiddleware

pytestmark = pytest.mark.one_database

WORDS = b"<p>How bright is it there? " * 200


def sent(response, accepts="gzip"):
    request = RequestFactory().get("/", headers={"accept-encoding": accepts})
    return GZipPagesMiddleware(lambda _: response)(request)


def test_a_page_is_packed():
    packed = sent(HttpResponse(WORDS))
    assert packed["Content-Encoding"] == "gzip" and gzip.decompress(packed.content) == WORDS
    assert len(packed.content) < len(WORDS) / 4


def test_a_device_that_cannot_unpack_gets_it_plain():
    assert sent(HttpResponse(WORDS), accepts="identity").content == WORDS


def test_a_photo_is_left_as_it_is():
    assert "Content-Encoding" not in sent(HttpResponse(WORDS, content_type="image/jpeg"))


def test_a_file_keeps_its_length(tmp_path):
    file = tmp_path / "table.csv"
    file.write_bytes(WORDS)
    with file.open("rb") as opened:
        handed = sent(FileResponse(opened, content_type="text/csv"))
    assert int(handed["Content-Length"]) == len(WORDS) and "Content-Encoding" not in handed


def test_it_is_on(client, db):
    answer = client.get("/", headers={"accept-encoding": "gzip"})
    assert answer["Content-Encoding"] == "gzip" and "Accept-Encoding" in answer["Vary"]

"""The mark of a camera: two photos are of one or not, and nothing else can be read from it."""

import io
import json
import zipfile

import pytest
from django.urls import reverse
from PIL import Image

from apps.corals.models import Photo
from apps.corals.notes.noting import save_note, stored_photo
from apps.corals.photo_cleaning import clean_photo
from tests.corals.pictures import encoded, picture, sent
from tests.factories import make_coral, make_note

CAMERA = {0x010F: "Maker", 0x0110: "Phone 1", 0x0131: "7.1"}
MODE = {0xA434: "wide lens", 0xA401: 0}


def photo_file(kind="JPEG", camera=CAMERA, mode=MODE):
    exif = Image.Exif()
    for tag, value in camera.items():
        exif[tag] = value
    for tag, value in mode.items():
        exif.get_ifd(0x8769)[tag] = value
    return encoded(kind, picture(), exif=exif)


def mark_of(content):
    return clean_photo(sent(content), bytes_max=10**7).camera_mark


def test_photos_of_one_camera_have_one_mark_in_every_format():
    marks = {mark_of(photo_file(kind)) for kind in ("JPEG", "PNG", "WEBP", "HEIF")}
    assert len(marks) == 1 and len(marks.pop()) == 64


@pytest.mark.parametrize(
    "other",
    [
        {"camera": CAMERA | {0x010F: "Another"}},
        {"camera": CAMERA | {0x0110: "Phone 2"}},
        {"camera": CAMERA | {0x0131: "7.2"}},
        {"mode": MODE | {0xA434: "tele lens"}},
        {"mode": MODE | {0xA401: 7}},
        {"mode": MODE | {0xA406: 3}},
        # The same letters parted otherwise.
        {"camera": CAMERA | {0x010F: "MakerPhone", 0x0110: " 1"}},
    ],
)
def test_another_camera_mode_or_software_is_another_mark(other):
    assert mark_of(photo_file()) != mark_of(photo_file(**other))


@pytest.mark.parametrize(
    "content", [encoded(), photo_file(camera={0x0131: "7.1"}), encoded("PNG")],
    ids=["no exif", "software only", "png"],
)  # fmt: skip
def test_without_a_camera_there_is_no_mark(content):
    assert mark_of(content) == ""


def test_mark_depends_on_the_secret_key(settings):
    before = mark_of(photo_file())
    settings.SECRET_KEY = "another key of this test, long enough to be one"
    assert mark_of(photo_file()) not in ("", before)


@pytest.fixture
def photo(tank):
    note = make_note(make_coral(tank), noted_on=tank.today(), seen="well")
    save_note(note=note, photos=[stored_photo(clean_photo(sent(photo_file()), bytes_max=10**7))])
    return note.photos.get()


def test_mark_is_kept_beside_the_photo_and_shown_nowhere(as_user, owner, photo):
    mark = Photo.objects.get().camera_mark
    assert mark == mark_of(photo_file())
    client, coral = as_user(owner), photo.note.coral
    pages = [
        reverse("photo_detail", args=[photo.key]),
        reverse("coral_detail", args=[coral.pk]),
        f"/api/v1/tanks/{coral.tank_id}/corals/{coral.pk}/notes/",
        f"/api/v1/tanks/{coral.tank_id}/corals/{coral.pk}/colours/",
    ]
    for page in pages:
        shown = client.get(page)
        assert shown.status_code == 200
        assert mark not in shown.content.decode() and "Phone 1" not in shown.content.decode()


def test_mark_is_in_no_export(as_user, owner, photo):
    answer = as_user(owner).get(reverse("tank_export", args=[photo.note.coral.tank_id]))
    archive = zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))
    rows = json.loads(archive.read("rows/photo.json"))
    assert rows and "camera_mark" not in rows[0]["fields"] and "image" in rows[0]["fields"]
    assert not any(photo.camera_mark.encode() in archive.read(name) for name in archive.namelist())

"""Photos of a coral's notes over the API: cleaned, refused and handed out as on the page."""

import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image
from rest_framework.test import APIClient

from apps.api.photos import views
from apps.corals.models import NOTE_PHOTOS_MAX, Photo
from apps.corals.pictures.decoder_lock import DecoderBusy
from tests.corals.pictures import GPS, HOSTILE, encoded, with_place_and_turn
from tests.corals.shots import make_photo
from tests.factories import make_coral, make_note


@pytest.fixture
def coral(tank):
    return make_coral(tank)


@pytest.fixture
def note(coral):
    return make_note(coral)


def program(user):
    client = APIClient()
    client.force_authenticate(user)
    return client


def at(coral, *rest):
    words = ("/api/v1/tanks", coral.tank_id, "corals", coral.pk, "photos", *rest, "")
    return "/".join(map(str, words))


def send(user, note, content=None, *, to=None, **headers):
    file = SimpleUploadedFile("reef.jpg", encoded() if content is None else content)
    body = {"note": note.pk, "file": file}
    address = at(to or note.coral)
    return program(user).post(address, body, format="multipart", headers=headers)


# --- Reading --------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_who_reads_photos_and_their_files(request, coral, who, status):
    photo = make_photo(coral)
    client = program(request.getfixturevalue(who))
    for rest in ((), (photo.key,), (photo.key, "image"), (photo.key, "thumbnail")):
        assert client.get(at(coral, *rest)).status_code == status


def test_a_photo_says_its_day_its_size_and_where_its_files_are(owner, coral):
    photo = make_photo(coral, days_ago=3)
    client = program(owner)
    [row] = client.get(at(coral)).json()["results"]
    assert row == client.get(at(coral, photo.key)).json()
    assert (row["key"], row["note"]) == (str(photo.key), photo.note_id)
    assert row["noted_on"] == str(photo.note.noted_on)
    assert (row["width_px"], row["height_px"]) == photo.size_px()
    for size, file in (("image", photo.image), ("thumbnail", photo.thumbnail)):
        answer = client.get(row[size])
        assert answer["Content-Type"] == "image/jpeg" and "private" in answer["Cache-Control"]
        assert b"".join(answer.streaming_content) == file.open("rb").read()


def test_a_file_that_is_gone_and_photos_of_deleted_notes_are_not_found(owner, coral):
    photo, other = make_photo(coral), make_photo(coral)
    photo.image.storage.delete(photo.image.name)
    assert program(owner).get(at(coral, photo.key, "image")).status_code == 404
    other.note.remove()
    assert program(owner).get(at(coral, other.key, "image")).status_code == 404
    assert program(owner).get(at(coral)).json()["count"] == 1


def test_photos_of_another_coral_are_not_here(owner, tank, coral):
    photo = make_photo(make_coral(tank))
    assert program(owner).get(at(coral)).json()["count"] == 0
    assert program(owner).get(at(coral, photo.key)).status_code == 404


def test_photos_are_filtered_by_note_and_day(owner, coral):
    old, new = make_photo(coral, days_ago=9), make_photo(coral)
    client = program(owner)

    def keys(**said):
        return [row["key"] for row in client.get(at(coral), said).json()["results"]]

    assert keys(note=old.note_id) == [str(old.key)]
    assert keys(note__noted_on__gte=str(new.note.noted_on)) == [str(new.key)]


def test_more_photos_take_no_more_queries(owner, coral):
    client, counts = program(owner), []
    for more in (1, 5):
        for _ in range(more):
            make_photo(coral)
        with CaptureQueriesContext(connection) as queries:
            client.get(at(coral))
        counts.append(sum("shared_cache" not in query["sql"] for query in queries))
    assert counts[0] == counts[1]


# --- Sending --------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("who", "status"), [("owner", 201), ("co_keeper", 201), ("viewer", 403), ("stranger", 404)]
)
def test_who_sends_a_photo(request, note, who, status):
    answer = send(request.getfixturevalue(who), note)
    assert answer.status_code == status
    assert note.photos.count() == (status == 201)


def test_what_is_kept_is_upright_and_bare(owner, note):
    answer = send(owner, note, with_place_and_turn())
    photo = note.photos.get()
    assert answer["Location"].endswith(at(note.coral, photo.key))
    assert (answer.data["width_px"], answer.data["height_px"]) == (40, 60)
    kept = b"".join(program(owner).get(answer.data["image"]).streaming_content)
    exif = Image.open(io.BytesIO(kept)).getexif()
    assert not exif and not exif.get_ifd(GPS)


@pytest.mark.parametrize("kind", HOSTILE)
def test_what_is_no_photo_is_refused_as_on_the_page(as_user, owner, note, kind):
    answer = send(owner, note, HOSTILE[kind])
    assert answer.status_code == 400 and answer["Content-Type"] == "application/problem+json"
    typed = {"noted_on": note.noted_on, "seen": "paling", "strength": "2"}
    file = SimpleUploadedFile("reef.jpg", HOSTILE[kind])
    page = as_user(owner).post(reverse("note_edit", args=[note.pk]), typed | {"photo": file})
    assert answer.json()["errors"] == {"file": page.context["form"].errors["photo"]}
    assert not Photo.objects.exists()


def test_too_many_bytes_are_refused(owner, note, settings):
    settings.PHOTO_BYTES_MAX = 10
    assert list(send(owner, note).json()["errors"]) == ["file"]


def test_a_full_note_takes_no_more(owner, note):
    for _ in range(NOTE_PHOTOS_MAX):
        assert send(owner, note).status_code == 201
    [sentence] = send(owner, note).json()["errors"]["file"]
    assert str(NOTE_PHOTOS_MAX) in sentence and note.photos.count() == NOTE_PHOTOS_MAX


def test_the_sites_bound_holds(owner, note, settings):
    settings.PHOTOS_MAX = 1
    send(owner, note)
    [sentence] = send(owner, note).json()["errors"]["file"]
    assert "2" in sentence and note.photos.count() == 1


@pytest.mark.parametrize("filled", [1, NOTE_PHOTOS_MAX])
def test_a_note_filled_while_a_photo_was_read_is_asked_again(
    owner, coral, note, monkeypatch, filled
):
    clean = views.clean_photo

    def meanwhile(file, *, bytes_max):
        photo = clean(file, bytes_max=bytes_max)
        for _ in range(filled):
            views.add_photo(note, views.stored_photo(photo))
        return photo

    monkeypatch.setattr(views, "clean_photo", meanwhile)
    room = filled < NOTE_PHOTOS_MAX
    assert send(owner, note).status_code == (201 if room else 400)
    assert note.photos.count() == filled + room


def test_the_note_is_a_present_one_of_this_coral(owner, tank, coral, note):
    other = make_note(make_coral(tank))
    assert list(send(owner, other, to=coral).json()["errors"]) == ["note"]
    note.remove()
    assert list(send(owner, note).json()["errors"]) == ["note"]
    assert not Photo.objects.exists()


@pytest.mark.parametrize("name", ["key", "width_px", "image", "created_at", "camera_mark"])
def test_no_more_is_told_of_a_new_photo(owner, note, name):
    file = SimpleUploadedFile("reef.jpg", encoded())
    body = {"note": note.pk, "file": file, name: "1"}
    answer = program(owner).post(at(note.coral), body, format="multipart")
    assert list(answer.json()["errors"]) == [name] and not Photo.objects.exists()


def test_a_photo_is_sent_as_a_form_with_its_file(owner, note):
    client, address = program(owner), at(note.coral)
    assert client.post(address, {"note": note.pk}, format="json").status_code == 415
    answer = client.post(address, {"note": note.pk}, format="multipart")
    assert list(answer.json()["errors"]) == ["file"]


def test_sent_again_under_its_key_it_is_kept_once(owner, note, monkeypatch):
    key = {"Idempotency-Key": "one"}
    first = send(owner, note, **key)
    read = []
    monkeypatch.setattr(views, "clean_photo", lambda *a, **k: read.append(a))
    again = send(owner, note, **key)
    assert again.status_code == 201 and again.json() == first.json() and not read
    assert again["Idempotency-Replayed"] == "true" and again["Location"] == first["Location"]
    assert send(owner, note, encoded("PNG"), **key).status_code == 422
    assert note.photos.count() == 1


@pytest.mark.django_db(transaction=True)
def test_it_is_decoded_before_a_transaction_begins(owner, note, monkeypatch):
    clean, within = views.clean_photo, []

    def watched(file, *, bytes_max):
        within.append(transaction.get_connection().in_atomic_block)
        return clean(file, bytes_max=bytes_max)

    monkeypatch.setattr(views, "clean_photo", watched)
    assert send(owner, note, **{"Idempotency-Key": "one"}).status_code == 201
    assert within == [False]


def test_where_others_are_being_worked_on_it_is_to_come_again(owner, note, monkeypatch):
    def busy(file, *, bytes_max):
        raise DecoderBusy

    monkeypatch.setattr(views, "clean_photo", busy)
    answer = send(owner, note, **{"Idempotency-Key": "one"})
    assert answer.status_code == 503 and int(answer["Retry-After"]) > 0
    assert answer.json()["code"] == "decoder_busy"
    monkeypatch.undo()
    assert send(owner, note, **{"Idempotency-Key": "one"}).status_code == 201


# --- Deleting -------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("who", "status"), [("owner", 204), ("co_keeper", 204), ("viewer", 403), ("stranger", 404)]
)
def test_who_deletes_a_photo_for_good(
    request, coral, who, status, django_capture_on_commit_callbacks
):
    photo = make_photo(coral)
    client = program(request.getfixturevalue(who))
    with django_capture_on_commit_callbacks(execute=True):
        assert client.delete(at(coral, photo.key)).status_code == status
    is_gone = status == 204
    assert photo.image.storage.exists(photo.image.name) != is_gone
    assert Photo.objects.filter(pk=photo.pk).exists() != is_gone


def test_a_photo_is_deleted_as_it_was_read(owner, coral):
    photo = make_photo(coral)
    client = program(owner)
    address = at(coral, photo.key)
    assert client.delete(address, headers={"If-Match": '"other"'}).status_code == 412
    tag = client.get(address)["ETag"]
    assert client.delete(address, headers={"If-Match": tag}).status_code == 204
    assert client.delete(at(coral, uuid.uuid4())).status_code == 404


@pytest.mark.parametrize("method", ["put", "patch"])
def test_a_kept_photo_is_not_changed(owner, coral, method):
    address = at(coral, make_photo(coral).key)
    assert getattr(program(owner), method)(address, {}).status_code == 405

"""Photos in bulk: sent many or one by one, dated by their Exif, matched by the keeper."""

import datetime as dt

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone
from PIL import ExifTags, Image

from apps.corals.history import photo_tray, photo_views
from apps.corals.history.photo_dates import taken_on
from apps.corals.models import HealthNote, HistoryImport, Photo, SentPhoto
from apps.corals.photo_files import stored_paths
from apps.corals.pictures.decoder_lock import DecoderBusy
from tests.corals.pictures import BROUGHT, HOSTILE, encoded, picture, with_place_and_turn
from tests.factories import make_coral, make_note, make_sent_photo, make_tank

TODAY = dt.date(2026, 6, 1)


@pytest.fixture
def coral(tank):
    return make_coral(tank, at_cm=None, since=dt.date(2025, 1, 1))


@pytest.fixture
def client(as_user, owner):
    return as_user(owner)


def url(tank):
    return reverse("history_photos", args=[tank.pk])


def photo(name="a.jpg", *, taken="2025:03:01 14:30:00", width=60, kind="JPEG"):
    exif = Image.Exif()
    if taken:
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal] = taken
        exif[ExifTags.Base.Make] = "Some camera"
    return SimpleUploadedFile(name, encoded(kind, picture(width), exif=exif))


def send(client, tank, *files):
    return client.post(url(tank), {"photos": list(files)}, follow=True)


def send_one(client, tank, file):
    return client.post(url(tank), {"photos": file, "one": "1"})


def match(client, tank, *choices, **more):
    """Say of each (SentPhoto, coral, day) whose it is, and store them."""
    data = {"store": "1", **more}
    for sent, coral, day in choices:
        data |= {f"coral-{sent.key}": getattr(coral, "pk", coral), f"day-{sent.key}": day}
    return client.post(url(tank), data)


def test_many_are_sent_and_wait_with_their_days(client, tank):
    page = send(client, tank, photo("a.jpg"), photo("b.jpg", taken="2025:04:02 09:00:00", width=61))
    assert [s.taken_on for s in tank.sent_photos.all()] == [
        dt.date(2025, 3, 1),
        dt.date(2025, 4, 2),
    ]
    assert 'data-count="2"' in page.content.decode() and not Photo.objects.exists()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_the_day_is_read_from_every_kind_of_file(kind):
    assert taken_on(photo(kind=kind), today=TODAY) == dt.date(2025, 3, 1)


@pytest.mark.parametrize(
    ("name", "taken", "day"),
    [
        ("IMG_20250301_143000.jpg", "", dt.date(2025, 3, 1)),
        ("2025-03-01 14.30.jpg", "", dt.date(2025, 3, 1)),
        ("reef.jpg", "", None),
        ("reef.jpg", "0000:00:00 00:00:00", None),
        ("reef.jpg", "2031:01:01 00:00:00", None),
        ("IMG_20250301.jpg", "1970:01:01 00:00:00", dt.date(2025, 3, 1)),
        ("12345678901.jpg", "", None),
    ],
)
def test_a_day_that_cannot_be_is_none_and_the_name_may_tell_it(name, taken, day):
    assert taken_on(photo(name, taken=taken), today=TODAY) == day


@pytest.mark.parametrize("content", HOSTILE.values(), ids=HOSTILE)
def test_what_is_no_photo_has_no_day(content):
    assert taken_on(SimpleUploadedFile("x.jpg", content), today=TODAY) is None


def test_nothing_of_the_camera_is_kept(client, tank):
    send(client, tank, SimpleUploadedFile("a.jpg", with_place_and_turn()))
    sent = tank.sent_photos.get()
    for field in (sent.image, sent.thumbnail):
        with field.open("rb") as file:
            content = file.read()
        assert not any(brought in content for brought in BROUGHT)
    assert "Some camera" not in str(sent.facts)


def test_matched_they_become_notes_with_photos(client, tank, coral):
    send(client, tank, photo("a.jpg"), photo("b.jpg", width=61))
    first, second = tank.sent_photos.all()
    match(client, tank, (first, coral, "2025-03-01"), (second, coral, "2025-03-02"))
    notes = HealthNote.objects.order_by("noted_on")
    assert [note.noted_on.day for note in notes] == [1, 2]
    assert [note.photos.count() for note in notes] == [1, 1]
    assert notes[0].photos.get().width_px == 60 and notes[0].created_by == tank.owner


@pytest.mark.django_db(transaction=True)
def test_no_file_stays_behind_of_what_was_matched(client, tank, coral):
    send(client, tank, photo())
    match(client, tank, (tank.sent_photos.get(), coral, "2025-03-01"))
    assert not list(stored_paths(default_storage, "waiting"))
    assert len(list(stored_paths(default_storage, "notes"))) == 2


@pytest.mark.django_db(transaction=True)
def test_matched_by_two_taps_at_once_it_is_stored_once(client, tank, coral, monkeypatch):
    send(client, tank, photo())
    choice, usual = (tank.sent_photos.get(), coral, "2025-03-01"), photo_tray.hold_tank

    def after_another(pk):
        monkeypatch.setattr(photo_tray, "hold_tank", usual)
        match(client, tank, choice)
        return usual(pk)

    monkeypatch.setattr(photo_tray, "hold_tank", after_another)
    match(client, tank, choice)
    assert Photo.objects.count() == HealthNote.objects.count() == 1
    assert len(list(stored_paths(default_storage, "notes"))) == 2


def test_two_of_one_coral_and_day_share_a_note(client, tank, coral):
    send(client, tank, photo("a.jpg"), photo("b.jpg", width=61))
    match(client, tank, *((sent, coral, "2025-03-01") for sent in tank.sent_photos.all()))
    assert HealthNote.objects.get().photos.count() == 2


def test_only_a_photo_joins_the_note_of_its_day_and_says_nothing_new(client, tank, coral):
    note = make_note(coral, noted_on=dt.date(2025, 3, 1), seen="paling")
    send(client, tank, photo())
    match(client, tank, (tank.sent_photos.get(), coral, "2025-03-01"))
    assert HealthNote.objects.get() == note and note.photos.count() == 1


def test_a_sign_said_with_it_makes_a_note_of_its_own(client, tank, coral):
    make_note(coral, noted_on=dt.date(2025, 3, 1), seen="paling")
    send(client, tank, photo())
    sent = tank.sent_photos.get()
    match(client, tank, (sent, coral, "2025-03-01"), **{f"seen-{sent.key}": "growth"})
    assert set(HealthNote.objects.values_list("seen", flat=True)) == {"paling", "growth"}


def test_one_without_a_coral_waits_on_and_one_to_be_deleted_goes(client, tank, coral):
    send(client, tank, photo("a.jpg"), photo("b.jpg", width=61), photo("c.jpg", width=62))
    first, second, third = tank.sent_photos.all()
    match(
        client, tank, (first, coral, "2025-03-01"), (second, "", "2025-03-01"), (third, "skip", "")
    )
    assert list(tank.sent_photos.filter(photo=None)) == [second]
    assert SentPhoto.objects.count() == 2 and Photo.objects.count() == 1


@pytest.mark.parametrize("day", ["", "2024-12-31", "2999-01-01", "soon"])
def test_a_day_that_does_not_fit_stops_that_photo_alone(client, tank, coral, day):
    send(client, tank, photo("a.jpg"), photo("b.jpg", width=61))
    first, second = tank.sent_photos.all()
    response = match(client, tank, (first, coral, day), (second, coral, "2025-03-01"))
    page = response.content.decode()
    assert response.status_code == 422 and f'value="{day}"' in page and "field__error" in page
    assert Photo.objects.count() == 1 and tank.sent_photos.filter(photo=None).get() == first


def test_a_file_that_fails_takes_no_other_along(client, tank):
    bad = SimpleUploadedFile("bad.jpg", HOSTILE["cut short"])
    page = send(client, tank, photo("a.jpg"), bad, photo("b.jpg", width=61)).content.decode()
    assert tank.sent_photos.count() == 2 and "bad.jpg" in page


def test_one_by_one_each_is_answered_for_itself(client, tank):
    assert send_one(client, tank, photo()).status_code == 200
    response = send_one(client, tank, SimpleUploadedFile("bad.jpg", b"not a photo"))
    assert response.status_code == 422 and response.json()["problem"]


def test_a_busy_machine_says_so_and_keeps_nothing(client, tank, monkeypatch):
    def busy(*args, **kwargs):
        raise DecoderBusy

    monkeypatch.setattr(photo_tray, "clean_photo", busy)
    assert send_one(client, tank, photo()).status_code == 503 and not tank.sent_photos.exists()


def test_the_same_file_again_waits_once_and_is_known_once_stored(client, tank, coral):
    for _ in range(2):
        assert send_one(client, tank, photo()).status_code == 200
    match(client, tank, (tank.sent_photos.get(), coral, "2025-03-01"))
    response = send_one(client, tank, photo())
    assert response.status_code == 422 and coral.name in response.json()["problem"]
    HealthNote.objects.get().remove()
    assert send_one(client, tank, photo()).status_code == 200


def test_undo_takes_the_new_notes_back(client, tank, coral):
    send(client, tank, photo())
    match(client, tank, (tank.sent_photos.get(), coral, "2025-03-01"))
    kept = HistoryImport.objects.get()
    client.post(reverse("history_import_remove", args=[kept.pk]))
    assert not HealthNote.objects.present().exists()
    client.post(reverse("history_import_restore", args=[kept.pk]))
    assert HealthNote.objects.present().get().photos.count() == 1


def test_a_coral_named_by_the_file_is_proposed(client, tank, coral):
    page = send(client, tank, photo("Green_branching-2025.jpg")).content.decode()
    assert f'value="{coral.pk}" selected' in page


def test_more_than_one_request_bears_are_told(client, tank, monkeypatch):
    monkeypatch.setattr(photo_views, "AT_ONCE", 1)
    page = send(client, tank, photo(), photo("b.jpg", width=61)).content.decode()
    assert tank.sent_photos.count() == 1 and "other 1" in page


@pytest.mark.parametrize(("days", "stays"), [(89, True), (91, False)])
def test_a_photo_waits_ninety_days_and_its_files_go_with_it(
    tank, days, stays, django_capture_on_commit_callbacks
):
    sent = make_sent_photo(tank)
    SentPhoto.objects.update(created_at=timezone.now() - dt.timedelta(days=days))
    with django_capture_on_commit_callbacks(execute=True):
        call_command("purge_deleted")
    assert SentPhoto.objects.exists() == stays
    assert sent.image.storage.exists(sent.image.name) == stays


def test_page_says_until_when_photos_wait(client, tank):
    make_sent_photo(tank)
    response = client.get(reverse("history_photos", args=[tank.pk]))
    assert response.context["first_end"] == tank.today() + dt.timedelta(days=90)


def test_a_full_tray_takes_no_more(client, tank, monkeypatch):
    monkeypatch.setattr(photo_tray, "WAITING_MAX", 1)
    send(client, tank, photo())
    assert send_one(client, tank, photo("b.jpg", width=61)).status_code == 422


def test_a_photo_too_large_is_refused(client, tank, settings):
    settings.PHOTO_BYTES_MAX = 10
    assert send_one(client, tank, photo()).status_code == 422


def test_a_coral_of_another_tank_cannot_be_chosen(client, tank):
    other = make_tank(tank.owner, name="Other")
    elsewhere = make_coral(other, since=dt.date(2025, 1, 1))
    send(client, tank, photo())
    match(client, tank, (tank.sent_photos.get(), elsewhere, "2025-03-01"))
    assert not Photo.objects.exists()


def test_who_may_send_and_see_what_waits(as_user, tank, co_keeper, viewer, stranger):
    assert send_one(as_user(co_keeper), tank, photo()).status_code == 200
    shown = reverse("sent_photo_show", args=[tank.sent_photos.get().key])
    assert as_user(co_keeper).get(shown).status_code == 200
    for user, status in ((viewer, 403), (stranger, 404)):
        client = as_user(user)
        assert client.get(url(tank)).status_code == status
        assert send_one(client, tank, photo("b.jpg", width=61)).status_code == status
        assert client.get(shown).status_code == status


def test_nothing_is_sent_without_a_file(client, tank):
    assert "Choose the photos" in send(client, tank).content.decode()

"""When a note was made and by whose eyes, several photos, and the words keepers have for signs."""

import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.corals.condition import Change, with_changes
from apps.corals.history.spellings import read_signs
from apps.corals.models import NOTE_PHOTOS_MAX, HealthNote, Photo
from apps.corals.notes.sign_words import SIGN_WORDS, sign_called
from tests.corals.notes.test_round import note_of, send
from tests.corals.pictures import encoded, sent
from tests.factories import make_coral, make_note


@pytest.fixture
def coral(tank):
    return make_coral(tank)


def filled(tank, **changed):
    yesterday = tank.today() - dt.timedelta(days=1)
    fields = {"condition": "3", "seen": "paling", "strength": "2", "noted_on": yesterday}
    return fields | changed


def save(client, coral, **changed):
    url = reverse("note_new", args=[coral.pk])
    return client.post(url, filled(coral.tank, **changed))


def test_note_takes_a_time_and_other_eyes(as_user, owner, coral):
    save(as_user(owner), coral, noted_time="18:30", noted_by="Tom from the club")
    note = HealthNote.objects.get()
    assert (note.noted_time, note.noted_by) == (dt.time(18, 30), "Tom from the club")
    page = as_user(owner).get(reverse("coral_detail", args=[coral.pk])).content.decode()
    head = page.split(f'id="note-{note.pk}"')[1].split("</p>")[0]
    assert all(words in head for words in ("18:30", note.noted_by, "Ottilie"))


@pytest.mark.parametrize(("minutes", "is_ahead"), [(-1, False), (2, True)])
def test_time_is_that_of_the_tank(coral, minutes, is_ahead):
    coral.tank.time_zone = "Pacific/Kiritimati"
    moment = timezone.now().astimezone(coral.tank.zone) + dt.timedelta(minutes=minutes)
    note = HealthNote(coral=coral, noted_on=moment.date(), noted_time=moment.time())
    assert note.is_ahead() == is_ahead


def test_time_to_come_is_refused_at_its_field(as_user, owner, coral, monkeypatch):
    monkeypatch.setattr(HealthNote, "is_ahead", lambda note: True)
    answer = save(as_user(owner), coral, noted_time="18:30", text="since Monday")
    assert answer.status_code == 422 and "noted_time" in answer.context["form"].errors
    assert "since Monday" in answer.content.decode()


@pytest.mark.parametrize(
    ("word", "sign"),
    [
        ("rtn", "tissue_loss"), ("STN", "tissue_loss"), ("bleaching", "bleaching"),
        ("browned  out", "browning"), ("pale", "paling"), ("Retr", "polyps_in"),
        ("tissue loss", "tissue_loss"), ("brown", "browning"), ("something else", "other"),
        ("", None), ("turquoise", None), ("n", None),
    ],
)  # fmt: skip
def test_sign_is_known_by_what_keepers_call_it(word, sign):
    assert sign_called(word) == sign


def test_no_word_means_two_signs():
    words = [word for words in SIGN_WORDS.values() for word in words]
    assert len(words) == len(set(words)) and set(SIGN_WORDS) == set(HealthNote.Seen)
    assert {sign_called(w) == s for s, words in SIGN_WORDS.items() for w in words} == {True}


def test_import_reads_none_of_these_words_as_another_sign():
    """A keeper’s word means the same when typed and when brought in with a spreadsheet."""
    read = {w: read_signs(w).signs[:1] for words in SIGN_WORDS.values() for w in words}
    other = {w: signs for w, signs in read.items() if signs and signs[0] != sign_called(w)}
    assert other == {}


def test_typed_word_stands_for_a_sign_that_was_not_chosen(as_user, owner, coral):
    save(as_user(owner), coral, seen="", called="rtn")
    assert HealthNote.objects.get().seen == "tissue_loss"


def test_chosen_sign_wins_over_a_typed_word(as_user, owner, coral):
    save(as_user(owner), coral, seen="paling", called="rtn")
    assert HealthNote.objects.get().seen == "paling"


@pytest.mark.parametrize(
    ("called", "field", "part"), [("turquoise", "called", "turquoise"), ("", "seen", "Choose")]
)
def test_word_nobody_knows_is_said_at_its_field(as_user, owner, coral, called, field, part):
    answer = save(as_user(owner), coral, seen="", called=called, text="since Monday")
    assert answer.status_code == 422 and part in answer.context["form"].errors[field][0]
    assert "since Monday" in answer.content.decode()


def test_words_stand_beside_each_sign(as_user, owner, coral):
    page = as_user(owner).get(reverse("note_new", args=[coral.pk])).content.decode()
    assert "<span>tissue loss</span> <small>rtn, stn, recession</small>" in page
    assert '<datalist id="sign-words">' in page and 'value="browned out"' in page


def test_note_takes_several_photos(as_user, owner, coral):
    save(as_user(owner), coral, photo=[sent(encoded()), sent(encoded())])
    assert HealthNote.objects.get().photos.count() == 2


def test_one_bad_photo_of_several_is_named(as_user, owner, coral):
    photos = [sent(encoded()), sent(b"not a photo", "holiday.jpg")]
    answer = save(as_user(owner), coral, photo=photos)
    assert answer.status_code == 422 and not HealthNote.objects.exists()
    assert answer.context["form"].errors["photo"][0].startswith("holiday.jpg: ")


def test_note_holds_so_many_photos_and_no_more(as_user, owner, coral):
    note = make_note(coral, created_by=owner)
    Photo.objects.bulk_create(Photo(note=note) for _ in range(NOTE_PHOTOS_MAX))
    url = reverse("note_edit", args=[note.pk])
    data = filled(coral.tank, photo=sent(encoded()))
    assert as_user(owner).post(url, data).status_code == 422
    data = filled(coral.tank, photo=sent(encoded()), photos_gone=[note.photos.first().pk])
    assert as_user(owner).post(url, data).status_code == 302
    assert note.photos.count() == NOTE_PHOTOS_MAX


def test_round_of_another_day_keeps_day_time_and_eyes(as_user, owner, tank, coral):
    day = tank.today() - dt.timedelta(days=9)
    note = note_of(coral, noted_on=day.isoformat(), noted_time="07:15", noted_by="Ida")
    answer = send(as_user(owner), tank, owner, [note]).json()
    row = HealthNote.objects.get()
    assert (row.noted_on, row.noted_time, row.noted_by) == (day, dt.time(7, 15), "Ida")
    standing = answer["standing"][note["id"]]
    assert (standing["noted_time"], standing["noted_by"]) == ("07:15", "Ida")


def test_round_without_a_time_is_as_before(as_user, owner, tank, coral):
    send(as_user(owner), tank, owner, [note_of(coral)])
    row = HealthNote.objects.get()
    assert (row.noted_time, row.noted_by) == (None, "")


@pytest.mark.parametrize("bad", [{"noted_time": "half six"}, {"noted_time": 7}, {"noted_by": 7}])
def test_unreadable_time_or_name_is_refused_whole(as_user, owner, tank, coral, bad):
    assert send(as_user(owner), tank, owner, [note_of(coral, **bad)]).status_code == 400
    assert not HealthNote.objects.exists()


def test_name_that_is_too_long_is_refused_for_its_note(as_user, owner, tank, coral):
    note = note_of(coral, noted_by="x" * 61)
    assert note["id"] in send(as_user(owner), tank, owner, [note]).json()["refused"]


def test_device_sends_the_photos_of_a_note_one_by_one(as_user, owner, tank, coral):
    client, keys = as_user(owner), [str(uuid.uuid4()) for _ in range(3)]
    note = note_of(coral)
    for key in [*keys, keys[-1]]:
        answer = send(client, tank, owner, [note | {"photo": key}], **{key: sent(encoded())})
        assert answer.json()["accepted"] == [note["id"]]
    assert {str(photo.key) for photo in Photo.objects.all()} == set(keys)
    row = HealthNote.objects.get()
    assert row.version == 1 and sorted(row.sent_photos) == sorted(keys)


def test_a_change_by_other_eyes_says_so(owner, co_keeper, coral):
    day = coral.tank.today() - dt.timedelta(days=9)
    make_note(coral, noted_on=day, condition=5, seen="well", created_by=owner)
    other = make_note(coral, condition=4, created_by=co_keeper)
    (newest, _) = with_changes(list(coral.notes.all()))
    assert newest.change == Change(steps=-1, other_eyes=True) and not newest.change.is_real
    other.created_by = owner
    other.save()
    own = with_changes(list(coral.notes.all()))[0].change
    assert not own.other_eyes and own.words != newest.change.words


@pytest.mark.parametrize(("one", "other", "same"), [
    ("Tom", " tom ", True), ("Tom", "Ida", False), ("", "Tom", False), ("", "", True),
])  # fmt: skip
def test_eyes_are_told_apart_by_account_and_name(owner, coral, one, other, same):
    notes = [HealthNote(coral=coral, created_by=owner, noted_by=name) for name in (one, other)]
    assert (notes[0].eyes == notes[1].eyes) == same


def test_version_kept_before_times_were_noted_still_reads(coral):
    note = make_note(coral, noted_time=dt.time(8, 0))
    said = {n: v for n, v in note.said().items() if n not in ("noted_time", "noted_by")}
    note.say(said)
    assert note.noted_time is None


def test_list_is_searched_by_what_a_sign_is_called_and_by_eyes(as_user, owner, coral):
    make_note(coral, seen="tissue_loss")
    make_note(coral, seen="paling", noted_by="Ida")
    client, url = as_user(owner), reverse("note_list", args=[coral.tank_id])
    shown = {
        words: [note.seen for note in client.get(url, {"words": words}).context["page"]]
        for words in ("rtn", "ida", "nothing of it")
    }
    assert shown == {"rtn": ["tissue_loss"], "ida": ["paling"], "nothing of it": []}


def test_api_reads_and_writes_time_and_eyes(as_user, owner, coral):
    url = f"/api/v1/tanks/{coral.tank_id}/corals/{coral.pk}/notes/"
    note = {
        "noted_on": (coral.tank.today() - dt.timedelta(days=1)).isoformat(), "seen": "paling",
        "noted_time": "18:30", "noted_by": "Ida",
    }  # fmt: skip
    answer = as_user(owner).post(url, note, content_type="application/json")
    assert answer.status_code == 201, answer.content
    assert (answer.json()["noted_time"], answer.json()["noted_by"]) == ("18:30:00", "Ida")

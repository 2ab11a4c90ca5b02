"""Photos: what is kept is made here, and nothing rides along."""

import io
import uuid
from types import SimpleNamespace

import pytest
from django.urls import reverse
from PIL import Image

from apps.corals import photo_cleaning
from apps.corals.photo_cleaning import IMAGE_SIDE, THUMBNAIL_SIDE, UnusablePhoto, clean_photo
from apps.corals.pictures.decoder_lock import DecoderBusy, decoder
from tests.corals.notes.test_round import note_of, send
from tests.corals.pictures import (
    BROUGHT,
    HOSTILE,
    LADEN,
    encoded,
    picture,
    sent,
    with_place_and_turn,
)
from tests.factories import make_coral

ROOM = 10_000_000


def opened(data):
    return Image.open(io.BytesIO(data))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_usual_kinds_become_jpeg(kind):
    clean = clean_photo(sent(encoded(kind)), bytes_max=ROOM)
    assert (opened(clean.image).format, opened(clean.thumbnail).format) == ("JPEG", "JPEG")


@pytest.mark.parametrize("content", HOSTILE.values(), ids=HOSTILE)
def test_hostile_files_are_refused_with_a_sentence(content):
    with pytest.raises(UnusablePhoto) as refused:
        clean_photo(sent(content), bytes_max=ROOM)
    assert str(refused.value).endswith(".")


def test_at_least_twenty_are_tried():
    assert len(HOSTILE) >= 20


@pytest.mark.parametrize("content", LADEN.values(), ids=LADEN)
def test_what_rides_along_is_gone(content):
    clean = clean_photo(sent(content), bytes_max=ROOM)
    assert len(opened(clean.image).getexif()) == 0
    for made in (clean.image, clean.thumbnail):
        assert not any(word in made for word in BROUGHT)


def test_picture_is_turned_upright():
    turned = opened(clean_photo(sent(with_place_and_turn()), bytes_max=ROOM).image)
    assert turned.size == (40, 60)
    # Turned right, the red left half lies on top.
    red, _, blue = turned.getpixel((20, 8))
    assert red > 200 > 60 > blue


def test_large_picture_is_made_smaller():
    clean = clean_photo(sent(encoded(made=picture(4000, 1000))), bytes_max=ROOM)
    assert opened(clean.image).size == (IMAGE_SIDE, IMAGE_SIDE // 4)
    assert max(opened(clean.thumbnail).size) == THUMBNAIL_SIDE
    assert (clean.width_px, clean.height_px) == opened(clean.image).size


def test_transparent_parts_become_white():
    clean = clean_photo(
        sent(encoded("PNG", Image.new("RGBA", (20, 20), (0, 0, 0, 0)))), bytes_max=ROOM
    )
    assert min(opened(clean.image).getpixel((10, 10))) > 250


def test_file_over_the_limit_is_refused_by_its_size():
    with pytest.raises(UnusablePhoto, match="MB"):
        clean_photo(sent(encoded()), bytes_max=100)


# --- How large, and how many at once ----------------------------------------------------------
MP = 1_000_000


@pytest.mark.parametrize(
    ("kind", "info", "most"),
    [
        ("JPEG", {}, 50 * MP),
        ("JPEG", {"progressive": 1}, 30 * MP),
        ("PNG", {}, 25 * MP),
        ("HEIF", {}, 25 * MP),
        ("WEBP", {}, 12.5 * MP),
    ],
)
def test_each_format_is_taken_up_to_what_memory_bears(kind, info, most):
    height = int(most // 1000)
    taken = SimpleNamespace(format=kind, info=info, width=1000, height=height)
    photo_cleaning.refuse_too_many_pixels(taken)
    with pytest.raises(UnusablePhoto, match=f"{most / 1e6:g} million"):
        taken.height += 1
        photo_cleaning.refuse_too_many_pixels(taken)


def test_every_format_that_is_read_has_a_bound():
    assert set(photo_cleaning.PIXELS_MAX) == set(photo_cleaning.FORMATS)


def test_a_second_photo_waits_for_the_first():
    with decoder(), pytest.raises(DecoderBusy), decoder(wait_s=0.1):
        raise AssertionError("two at once")
    with decoder(wait_s=0.1):
        pass


def test_without_a_place_to_lock_at_a_photo_is_still_kept(settings):
    settings.DATA_DIR = "/nowhere/at/all"
    assert clean_photo(sent(encoded()), bytes_max=ROOM).width_px == 60


@pytest.fixture
def busy(monkeypatch):
    def refused(file, *, bytes_max):
        raise DecoderBusy

    monkeypatch.setattr("apps.corals.notes.forms.clean_photo", refused)
    monkeypatch.setattr("apps.corals.notes.round_taking.clean_photo", refused)


def test_a_note_that_finds_it_busy_keeps_what_was_typed(busy, as_user, owner, tank):
    note = {"noted_on": tank.today(), "seen": "paling", "strength": "2", "text": "since Monday",
            "photo": sent(encoded())}  # fmt: skip
    answer = as_user(owner).post(reverse("note_new", args=[make_coral(tank).pk]), note)
    assert answer.status_code == 422 and "since Monday" in answer.content.decode()
    assert "photo" in answer.context["form"].errors


def test_a_device_that_finds_it_busy_keeps_its_notes_and_tries_again(busy, as_user, owner, tank):
    coral, key = make_coral(tank), str(uuid.uuid4())
    notes = [note_of(coral, photo=key)]
    answer = send(as_user(owner), tank, owner, notes, **{key: sent(encoded())})
    assert answer.status_code == 503 and int(answer["Retry-After"]) > 0
    assert not coral.notes.exists()

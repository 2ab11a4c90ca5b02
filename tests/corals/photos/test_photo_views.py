"""The page of a photo: who may see and mark it, what is measured, kept and said."""

import datetime as dt

import numpy as np
import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from apps.corals.colour_models import CoralSize, PhotoColour
from apps.corals.models import HealthNote, Photo
from apps.corals.notes.noting import save_note, stored_photo
from apps.corals.photo_cleaning import clean_photo
from apps.corals.pictures.icc_profile import icc_profile
from apps.photics.colour.ciede2000 import ciede2000
from apps.photics.colour.cielab import lab_of_linear, linear_of_srgb
from apps.photics.colour.colour_space import DISPLAY_P3
from tests.corals.pictures import encoded, sent
from tests.corals.shots import TYPED, TYPED_SIZE, make_photo, mark
from tests.factories import make_coral, make_note


@pytest.fixture
def coral(tank):
    return make_coral(tank)


@pytest.fixture
def photo(coral):
    return make_photo(coral)


def url(photo, name="photo_detail"):
    return reverse(name, args=[photo.key])


WRITES = ("photo_detail", "colour_remove", "colour_restore", "colour_answer", "photo_link_new")


@pytest.mark.parametrize("name", WRITES)
def test_only_writers_write(as_user, viewer, stranger, photo, name):
    assert as_user(viewer).post(url(photo, name), TYPED).status_code == 403
    assert as_user(stranger).post(url(photo, name), TYPED).status_code == 404
    assert Client().post(url(photo, name), TYPED).status_code == 302


def test_friends_see_the_page_and_strangers_do_not(as_user, owner, viewer, stranger, photo):
    pages = {user: as_user(user).get(url(photo)) for user in (owner, viewer, stranger)}
    assert [pages[user].status_code for user in (owner, viewer, stranger)] == [200, 200, 404]
    assert b"data-mark-form" in pages[owner].content
    assert b"data-mark-form" not in pages[viewer].content


@pytest.mark.parametrize("size", ["image", "thumbnail"])
def test_files_of_a_private_tank_are_not_found_by_strangers(as_user, stranger, photo, size):
    address = reverse("photo_show", args=[photo.key, size])
    assert as_user(stranger).get(address).status_code == 404
    assert Client().get(address).status_code == 302


def test_there_is_no_address_of_the_sent_file(as_user, owner, photo):
    for size in ("original", "raw", "full"):
        address = reverse("photo_show", args=[photo.key, size])
        assert as_user(owner).get(address).status_code == 404


@pytest.mark.parametrize("keeper", ["owner", "co_keeper"])
def test_marks_are_measured_and_kept(request, as_user, photo, keeper):
    client = as_user(request.getfixturevalue(keeper))
    assert client.post(url(photo), TYPED).status_code == 302
    colour = PhotoColour.objects.get()
    # As painted, less the shade between the branches.
    assert colour.lab == pytest.approx((60, 5, 27), abs=2.5)
    page = client.get(url(photo))
    assert page.context["point"].is_baseline and "box 8 58, 24 82" in page.content.decode()


def test_marking_anew_replaces_what_was_told(as_user, owner, photo):
    mark(photo)
    as_user(owner).post(url(photo), TYPED | {"reference_kind": "grey"})
    assert PhotoColour.objects.get().reference_kind == "grey"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"light": "blue"}, "Under blue light"),
        ({"reference": ""}, "No reference is marked"),
        ({"regions": ""}, "No part of the coral"),
        ({"reference": "box 8 58, 9 59"}, "reference is too small"),
    ],
)
def test_photo_that_cannot_be_measured_says_why(as_user, owner, photo, typed, said):
    client = as_user(owner)
    client.post(url(photo), TYPED | typed)
    page = client.get(url(photo)).content.decode()
    assert said in page and "can’t be measured" in page
    assert PhotoColour.objects.get().lab is None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"reference": "box 8 58 24"}, "pairs"),
        ({"reference": "blob 1 2 3 4"}, "no shape"),
        ({"reference": "8 58 24 820"}, "0 to 100"),
        ({"regions": "ellipse 45 38 71 74\noutline 1 2, 3 4"}, "Line 2"),
        ({"regions": "box 1 2 three 4"}, "not a number"),
        ({"light": "candle"}, "candle"),
        ({"whole": "ellipse 30 30 80 80"}, "whose length you know"),
        (TYPED_SIZE | {"scale": "8 90, 8 90"}, "two ends"),
        (TYPED_SIZE | {"scale": "8 90, 8.001 90", "scale_cm": "90"}, "no length"),
        (TYPED_SIZE | {"scale": "8 90, 8.3 90", "scale_cm": "90"}, "cm across"),
    ],
    ids=lambda value: "" if isinstance(value, dict) else value,
)
def test_what_cannot_be_read_is_told_and_kept(as_user, owner, photo, typed, said):
    answer = as_user(owner).post(url(photo), TYPED | typed)
    page = answer.content.decode()
    assert answer.status_code == 422 and said in page
    assert "ellipse 45 38 71 74" in page or "three" in page
    assert not PhotoColour.objects.exists()


def test_size_is_read_by_a_known_length(as_user, owner, photo):
    client = as_user(owner)
    client.post(url(photo), TYPED | TYPED_SIZE)
    size = CoralSize.objects.get()
    # 20 % of 720 pixels are 4 cm; the ellipse is 48 % of 720 across and 48 % of 540 high.
    assert size.diameter_cm == pytest.approx(9.6, rel=0.01)
    assert size.area_cm2 == pytest.approx(3.14159 / 4 * 9.6 * 7.2, rel=0.01)
    assert size.measured_on == photo.note.noted_on
    assert "9.6\u00a0cm" in client.get(url(photo)).content.decode()


def test_marking_nothing_is_told_at_both_fields(as_user, owner, photo):
    answer = as_user(owner).post(url(photo), TYPED | {"reference": "", "regions": ""})
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"reference", "regions"}
    assert not PhotoColour.objects.exists()


def test_size_alone_needs_no_colour(as_user, owner, photo):
    typed = TYPED | TYPED_SIZE | {"reference": "", "regions": ""}
    assert as_user(owner).post(url(photo), typed).status_code == 302
    assert CoralSize.objects.count() == 1 and not PhotoColour.objects.exists()


def test_next_photo_proposes_the_same_marks_where_they_are_now(as_user, owner, coral, photo):
    mark(photo)
    newer = make_photo(coral, shift=(0.06, -0.04), seed=3)
    page = as_user(owner).get(url(newer))
    marks = page.context["marks"]
    assert marks.aligned and marks.reference.ends() == pytest.approx(
        (0.14, 0.54, 0.30, 0.78), abs=0.01
    )
    assert marks.from_day == photo.note.noted_on
    assert not PhotoColour.objects.filter(photo=newer).exists()


def test_marks_stay_in_the_frame_where_photos_show_different_things(coral, photo, as_user, owner):
    mark(photo)
    other = make_photo(coral)
    other.thumbnail.save("other.jpg", plain_file(), save=True)
    page = as_user(owner).get(url(other))
    assert not page.context["marks"].aligned
    assert "Move them" in page.content.decode()


def plain_file():
    from django.core.files.base import ContentFile

    from tests.corals.pictures import encoded, picture

    return ContentFile(encoded(made=picture(720, 540)))


def test_colour_taken_away_comes_back(as_user, owner, photo):
    mark(photo)
    client = as_user(owner)
    client.post(url(photo, "colour_remove"))
    assert client.get(url(photo)).context["point"] is None
    client.post(url(photo, "colour_restore"))
    assert client.get(url(photo)).context["point"].is_baseline


def test_answer_seen_leads_to_a_note_and_writes_none(as_user, owner, photo):
    mark(photo)
    notes = HealthNote.objects.count()
    answer = as_user(owner).post(url(photo, "colour_answer"), {"answer": "seen", "seen": "paling"})
    assert answer["Location"].endswith("/notes/new/?seen=paling")
    assert HealthNote.objects.count() == notes
    assert PhotoColour.objects.get().answer == "seen"
    page = as_user(owner).get(answer["Location"])
    assert page.context["form"]["seen"].value() == "paling"


def test_answer_not_so_is_kept(as_user, owner, photo):
    mark(photo)
    as_user(owner).post(url(photo, "colour_answer"), {"answer": "not_so"})
    assert PhotoColour.objects.get().answer == "not_so"


def test_unknown_answer_is_not_found(as_user, owner, photo):
    mark(photo)
    assert as_user(owner).post(url(photo, "colour_answer"), {"answer": "x"}).status_code == 404


def test_photo_in_another_light_is_told_and_how_to_take_it(as_user, owner, coral, photo):
    mark(photo)
    mark(make_photo(coral, days_ago=9, seed=2))
    other = make_photo(coral, days_ago=3, seed=3)
    mark(other, light="mixed")
    page = as_user(owner).get(url(other))
    assert page.context["point"].compared is False
    assert page.context["series_words"] in " ".join(page.content.decode().split())


def test_size_of_an_older_photo_is_read_from_its_file(photo):
    Photo.objects.update(width_px=None, height_px=None)
    assert Photo.objects.get().size_px() == (720, 540)
    assert Photo.objects.get().width_px == 720


# --- Links ----------------------------------------------------------------------------------


@pytest.fixture
def link(as_user, owner, photo):
    client = as_user(owner)
    client.post(url(photo, "photo_link_new"))
    return client.get(url(photo)).context["link"]["url"]


def test_link_shows_the_photo_without_an_account(link):
    answer = Client().get(link)
    assert b"".join(answer.streaming_content).startswith(b"\xff\xd8")
    assert "no-store" in answer["Cache-Control"]


def test_link_ends(link, settings):
    later = timezone.now() + dt.timedelta(hours=settings.PHOTO_LINK_HOURS, minutes=1)
    with time_machine.travel(later, tick=False):
        assert Client().get(link).status_code == 404


def test_changed_link_is_not_found(link):
    assert Client().get(link[:-3] + "xx/").status_code == 404


@pytest.mark.parametrize("what", ["note", "coral", "tank"])
def test_link_dies_with_what_holds_the_photo(link, photo, what):
    held = {"note": photo.note, "coral": photo.note.coral, "tank": photo.note.coral.tank}
    held[what].remove()
    assert Client().get(link).status_code == 404


# --- Files of other colours -------------------------------------------------------------------


def sent_photo(coral, picture, kind="JPEG", **options):
    note = make_note(coral, noted_on=coral.tank.today(), seen="well")
    save_note(
        note=note,
        photos=[
            stored_photo(clean_photo(sent(encoded(kind, picture, **options)), bytes_max=10**7))
        ],
    )
    return note.photos.get()


def test_black_and_white_photo_stays_and_says_it_holds_no_colour(as_user, owner, coral):
    photo = sent_photo(coral, Image.new("L", (720, 540), 90))
    client = as_user(owner)
    assert client.post(url(photo), TYPED).status_code == 302
    page = client.get(url(photo)).content.decode()
    assert "black and white" in page and "can’t be measured" in page
    assert Photo.objects.filter(pk=photo.pk).exists()
    assert client.get(reverse("photo_show", args=[photo.key, "image"])).status_code == 200


def test_wide_colour_is_kept_and_measured_wide(as_user, owner, coral):
    codes = np.full((540, 720, 3), 200, np.uint8)
    codes[100:430, 300:560] = (20, 190, 60)
    wide = Image.fromarray(codes)
    colours = []
    for options in ({"icc_profile": icc_profile(DISPLAY_P3)}, {}):
        photo = sent_photo(coral, wide, "PNG", **options)
        as_user(owner).post(url(photo), TYPED)
        colours.append(PhotoColour.objects.get(photo=photo).lab)
    truth = lab_of_linear(DISPLAY_P3.linear_srgb(linear_of_srgb(np.array([20, 190, 60]) / 255)
                                                 / linear_of_srgb(200 / 255) * 0.9))  # fmt: skip
    assert ciede2000(colours[0], truth) < 1 < ciede2000(colours[1], truth)

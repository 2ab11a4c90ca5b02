"""The printed card: its page, marking it by numbers, and what comes of it."""

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from apps.corals.colour_models import PhotoColour
from apps.corals.notes.noting import save_note, stored_photo
from apps.corals.photo_cleaning import clean_photo
from apps.corals.photos.card_drawing import CHECKED, card_drawing, paper_part
from apps.corals.photos.colouring import proposed_marks
from apps.photics.colour.card_layout import PATCHES
from apps.photics.colour.ciede2000 import ciede2000
from tests.corals.pictures import encoded, sent
from tests.factories import make_coral, make_note
from tests.photics.phone_looks import QUADS, SIZE, Look, Scene, photograph
from tests.photics.rendered import coral as reflectance_of
from tests.photics.rendered import true_lab

REFLECTANCE = reflectance_of("green", 0.5)
VIVID = Look(saturation=1.25, contrast=0.35, gamma=0.95, sharpening=0.6)
RINGS = "outline 4 15, 48 15, 48 59, 4 59"
TYPED = {
    "reference_kind": "card", "light": "white", "reference": RINGS,
    "regions": "ellipse 56 15 94 85",
}  # fmt: skip


def card_photo(coral, look=VIVID, *, size=SIZE, **odd):
    scene = Scene(REFLECTANCE, quad=QUADS["straight"], exposure=0.6, **odd)
    picture = Image.fromarray(photograph(look, scene, size))
    note = make_note(coral, noted_on=coral.tank.today(), seen="well")
    save_note(
        note=note,
        photos=[stored_photo(clean_photo(sent(encoded("PNG", picture)), bytes_max=10**7))],
    )
    return note.photos.get()


@pytest.fixture
def photo(tank):
    return card_photo(make_coral(tank))


def url(photo):
    return reverse("photo_detail", args=[photo.key])


def test_any_keeper_may_print_the_card_and_no_visitor(as_user, stranger):
    page = reverse("colour_card")
    answer = as_user(stranger).get(page)
    assert answer.status_code == 200 and Client().get(page).status_code == 302
    drawn = answer.content.decode()
    assert all(patch.hex in drawn for patch in PATCHES) and 'width="100.0mm"' in drawn


def test_card_is_drawn_where_it_is_measured():
    card = card_drawing()
    for box, patch in zip(card.patches, PATCHES, strict=True):
        middle = ((box.x + box.width / 2 - 10) / 80, (box.y + box.height / 2 - 10) / 60)
        assert middle == pytest.approx(patch.middle, abs=1e-3) and box.hex == patch.hex
    assert card.rings == ((10, 10), (90, 10), (10, 70), (90, 70))
    assert card.ticks[-1] - card.ticks[0] == card.ruler_mm == 80


def test_lines_beside_a_grey_send_back_as_much():
    for lightness, check in zip(CHECKED, card_drawing().checks, strict=True):
        (first, second), pitch = check.lines[:2], 0.5
        assert second.x - first.x == pytest.approx(pitch)
        paper = 1 - first.width / pitch
        light = 0.90 * paper + 0.05 * (1 - paper)
        assert light == pytest.approx(((lightness + 16) / 116) ** 3, abs=0.005)
        assert 0.1 < paper_part(lightness) < 0.9


def test_card_marked_by_numbers_is_measured(as_user, owner, photo):
    client = as_user(owner)
    assert client.post(url(photo), TYPED).status_code == 302
    colour = PhotoColour.objects.get()
    assert ciede2000(colour.lab, true_lab(REFLECTANCE)) < 2.0
    assert np.array(colour.card_error["left"]).size == 3 * len(PATCHES)
    page = client.get(url(photo)).content.decode()
    assert "patches stay" in page and "it fits" in page and RINGS in page


@pytest.mark.parametrize(
    "marked", ["box 4 15 48 59", "outline 4 15, 48 15, 48 59", "4 15 48 59",
               "outline 4 15, 48 15, 48 59, 4 59, 3 30"],
)  # fmt: skip
def test_anything_but_four_rings_is_told_at_the_field(as_user, owner, photo, marked):
    answer = as_user(owner).post(url(photo), TYPED | {"reference": marked})
    assert answer.status_code == 422 and "reference" in answer.context["form"].errors
    assert marked in answer.content.decode() and not PhotoColour.objects.exists()


def test_rings_marked_elsewhere_say_the_card_is_unclear(as_user, owner, photo):
    client = as_user(owner)
    client.post(url(photo), TYPED | {"reference": "outline 60 15, 95 15, 95 59, 60 59"})
    assert PhotoColour.objects.get().problem_keys == ["card_unclear"]
    page = client.get(url(photo))
    (problem,) = page.context["point"].problems
    assert problem.words in page.content.decode() and problem.remedy in page.content.decode()


def test_marking_anew_without_the_card_forgets_its_error(as_user, owner, photo):
    client = as_user(owner)
    client.post(url(photo), TYPED)
    client.post(url(photo), TYPED | {"reference_kind": "white", "reference": "box 4 60 20 62"})
    assert PhotoColour.objects.get().card_error == {}


def test_two_phones_with_the_card_compare(as_user, owner, tank):
    coral = make_coral(tank)
    for look in (Look(), VIVID):
        as_user(owner).post(url(card_photo(coral, look)), TYPED)
    page = as_user(owner).get(reverse("coral_detail", args=[coral.pk]))
    point, text = page.context["colour"].points[-1], page.content.decode()
    assert (point.sure_words, point.less_sure_words) == ("", "")
    assert point.sentence in text and point.number_words in text


def test_next_photo_proposes_the_coral_but_not_where_a_hand_held_the_card(as_user, owner, photo):
    as_user(owner).post(url(photo), TYPED)
    marks = proposed_marks(card_photo(photo.note.coral))
    assert marks.reference is None and len(marks.regions) == 1
    assert marks.reference_kind == "card"


def test_api_gives_the_cards_error(as_user, owner, photo):
    client, coral = as_user(owner), photo.note.coral
    client.post(url(photo), TYPED)
    answer = client.get(reverse("api-photo-colour-list", args=[coral.tank_id, coral.pk]))
    (row,) = answer.json()["results"] if isinstance(answer.json(), dict) else answer.json()
    assert row["reference_kind"] == "card" and len(row["card_error"]["left"]) == 60

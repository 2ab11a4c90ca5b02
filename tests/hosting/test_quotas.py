"""How much one keeper may have on a site, in every way in."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from apps.corals.history.photo_tray import keep_waiting
from apps.corals.models import HealthNote, Photo
from apps.corals.notes.quota import photo_quota_problem
from apps.corals.photo_cleaning import UnusablePhoto
from apps.tanks.models import Tank
from apps.transfer.archive.account_in import bring_in
from apps.transfer.archive.form import Unfit, UnfitZip
from apps.transfer.archive.opening import OpenedZip
from tests.corals.pictures import encoded, sent
from tests.corals.shots import make_photo
from tests.factories import make_coral, make_sent_photo, make_tank
from tests.tanks.test_tanks import GOOD
from tests.transfer.zips import exported

API_BOX = {"name": "Second", "length_cm": 60, "width_cm": 60, "depth_cm": 50}


# --- Tanks ----------------------------------------------------------------------------------
@pytest.mark.parametrize(("most", "is_made"), [(0, True), (2, True), (1, False)])
def test_the_api_makes_as_many_as_the_site_allows(as_user, tank, settings, most, is_made):
    settings.TANKS_MAX = most
    answer = as_user(tank.owner).post("/api/v1/tanks/", API_BOX, content_type="application/json")
    assert answer.status_code == (201 if is_made else 400)
    assert is_made or "name" in answer.content.decode()


def test_the_form_says_so_at_the_field_and_keeps_what_was_typed(as_user, owner, tank, settings):
    settings.TANKS_MAX = 1
    page = as_user(owner).post(reverse("tank_new"), GOOD | {"name": "Second"})
    assert page.status_code == 422 and page.context["form"].errors["name"]
    assert b'value="Second"' in page.content and Tank.objects.count() == 1


def test_a_tank_that_is_there_can_be_changed(tank, settings):
    settings.TANKS_MAX = 1
    tank.name = "Renamed"
    tank.full_clean()


def test_a_deleted_tank_makes_room(tank, settings):
    settings.TANKS_MAX = 1
    tank.remove()
    assert Tank.objects.quota_problem(tank.owner) == ""


# --- Photos ---------------------------------------------------------------------------------
@pytest.fixture
def full(tank, settings):
    """A coral of a keeper who has as many photos as the site keeps."""
    coral = make_coral(tank)
    make_photo(coral)
    make_sent_photo(tank)
    settings.PHOTOS_MAX = 2
    return coral


def test_photos_in_notes_and_waiting_count_and_others_do_not(full, stranger):
    assert photo_quota_problem(full.tank, 0) == ""
    assert "at most 2" in photo_quota_problem(full.tank, 1)
    assert photo_quota_problem(make_tank(stranger), 2) == ""


def note(**more):
    return {"noted_on": str(timezone.now().date()), "seen": "paling", "strength": "2"} | more


def test_a_note_says_so_at_its_photo(as_user, owner, full):
    page = as_user(owner).post(
        reverse("note_new", args=[full.pk]), note(photo=[sent(encoded())], text="typed")
    )
    assert page.status_code == 422 and page.context["form"].errors["photo"]
    assert b"typed" in page.content and Photo.objects.count() == 1


def test_a_note_without_a_photo_is_welcome(as_user, owner, full):
    before = HealthNote.objects.count()
    as_user(owner).post(reverse("note_new", args=[full.pk]), note())
    assert HealthNote.objects.count() == before + 1


def test_the_tray_takes_no_more(full, owner):
    file = SimpleUploadedFile("a.jpg", encoded())
    with pytest.raises(UnusablePhoto, match="at most 2"):
        keep_waiting(tank=full.tank, file=file, by=owner, bytes_max=10**7)


# --- Zips -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("bound", "most"), [("TANKS_MAX", 1), ("PHOTOS_MAX", 1)], ids=["tanks", "photos"]
)
def test_a_zip_beyond_the_bound_brings_nothing_in(tank, owner, settings, bound, most):
    make_photo(make_coral(tank))
    content = io.BytesIO(exported(tank))
    setattr(settings, bound, most)
    with OpenedZip(content) as opened, pytest.raises(UnfitZip) as refused:
        bring_in(opened, keeper=owner)
    assert refused.value.code == Unfit.QUOTA
    assert (Tank.objects.count(), Photo.objects.count()) == (1, 1)

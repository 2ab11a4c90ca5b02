"""Who may open and change corals, spots, notes and photos, and what bad input meets."""

import datetime as dt

import pytest
from django.urls import reverse

from apps.corals.models import Coral, HealthNote, Photo
from apps.corals.notes.noting import save_note, stored_photo
from apps.corals.photo_cleaning import clean_photo
from tests.corals.pictures import SVG, encoded, sent
from tests.factories import make_coral, make_note, make_survey, make_tank

SPOT = {"spot-x_cm": "30", "spot-y_cm": "20", "spot-depth_cm": "10"}


def tomorrow(tank):
    return (tank.today() + dt.timedelta(days=2)).isoformat()


def coral_data(tank, **changed):
    fields = {"name": "Blue crown", "group": "sps", "added_on": tank.today().isoformat()}
    return fields | SPOT | changed


def note_data(tank, **changed):
    return {"seen": "paling", "strength": "2", "noted_on": tank.today().isoformat()} | changed


@pytest.fixture
def coral(tank):
    return make_coral(tank)


@pytest.fixture
def note(coral):
    return make_note(coral)


@pytest.fixture
def photo(note):
    save_note(note=note, photos=[stored_photo(clean_photo(sent(encoded()), bytes_max=10**6))])
    return Photo.objects.get()


def reads(tank, coral, photo):
    return [
        reverse("coral_list", args=[tank.pk]),
        reverse("coral_detail", args=[coral.pk]),
        reverse("photo_show", args=[photo.key, "image"]),
        reverse("photo_show", args=[photo.key, "thumbnail"]),
    ]


def writes(tank, coral, note):
    return [
        reverse("coral_new", args=[tank.pk]),
        reverse("coral_edit", args=[coral.pk]),
        reverse("coral_remove", args=[coral.pk]),
        reverse("coral_restore", args=[coral.pk]),
        reverse("spot_new", args=[coral.pk]),
        reverse("spot_edit", args=[coral.spots.get().pk]),
        reverse("spot_remove", args=[coral.spots.get().pk]),
        reverse("spot_restore", args=[coral.spots.get().pk]),
        reverse("note_new", args=[coral.pk]),
        reverse("note_edit", args=[note.pk]),
        reverse("note_remove", args=[note.pk]),
        reverse("note_restore", args=[note.pk]),
    ]


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_those_let_in_may_read(request, as_user, tank, coral, photo, who):
    client = as_user(request.getfixturevalue(who))
    assert {client.get(url).status_code for url in reads(tank, coral, photo)} == {200}


def test_strangers_find_nothing(as_user, stranger, tank, coral, note, photo):
    client = as_user(stranger)
    urls = reads(tank, coral, photo) + writes(tank, coral, note)
    assert {client.post(url).status_code for url in writes(tank, coral, note)} == {404}
    assert {client.get(url).status_code for url in urls} <= {404, 405}


def test_viewers_may_not_write(as_user, viewer, tank, coral, note):
    client = as_user(viewer)
    assert {client.post(url).status_code for url in writes(tank, coral, note)} == {403}
    assert Coral.objects.present().count() == 1


def test_visitors_are_sent_to_sign_in(client, tank, coral, note, photo):
    urls = reads(tank, coral, photo) + writes(tank, coral, note)
    assert {client.post(url).status_code for url in urls} == {302}


def test_viewer_sees_no_buttons_that_change(as_user, viewer, coral):
    page = as_user(viewer).get(reverse("coral_detail", args=[coral.pk])).content.decode()
    assert reverse("coral_edit", args=[coral.pk]) not in page
    assert reverse("note_new", args=[coral.pk]) not in page


def test_co_keeper_adds_a_coral_with_its_spot(as_user, co_keeper, tank):
    as_user(co_keeper).post(reverse("coral_new", args=[tank.pk]), coral_data(tank))
    coral = Coral.objects.get()
    spot = coral.spots.get()
    assert (spot.x_cm, spot.y_cm, spot.depth_cm, spot.since) == (30, 20, 10, tank.today())


def test_spot_is_typed_in_the_keepers_unit(as_user, owner, tank):
    owner.units = "in"
    owner.save()
    as_user(owner).post(
        reverse("coral_new", args=[tank.pk]), coral_data(tank, **{"spot-x_cm": "10"})
    )
    assert Coral.objects.get().spots.get().x_cm == pytest.approx(25.4)


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("spot-x_cm", "61", "Between 0 and 60 cm"),
        ("spot-depth_cm", "-1", "Between 0 and 50 cm"),
        ("spot-y_cm", "left", "not a number"),
        ("spot-y_cm", "", "all three"),
        ("added_on", "2999-01-01", "in the future"),
        ("name", "", "required"),
        ("group", "weed", "valid choice"),
        ("band_low_umol", "200", "both ends"),
        ("band_low_umol", "bright", "not a number"),
    ],
)
def test_bad_coral_is_told_at_its_field_and_keeps_what_was_typed(
    as_user, owner, tank, field, value, said
):
    data = coral_data(tank, genus="Acropora", **{field: value})
    response = as_user(owner).post(reverse("coral_new", args=[tank.pk]), data)
    page = response.content.decode()
    assert response.status_code == 422 and said in page
    assert 'value="Acropora"' in page and Coral.objects.count() == 0


def test_band_upside_down_is_refused(as_user, owner, tank):
    data = coral_data(tank, band_low_umol="300", band_high_umol="200")
    page = as_user(owner).post(reverse("coral_new", args=[tank.pk]), data)
    assert page.status_code == 422 and "above the lower" in page.content.decode()


def test_move_keeps_the_old_spot(as_user, owner, tank, coral):
    data = {"x_cm": "5", "y_cm": "6", "depth_cm": "7", "since": tank.today().isoformat()}
    as_user(owner).post(reverse("spot_new", args=[coral.pk]), data)
    assert [s.x_cm for s in coral.spots.order_by("since")] == [30, 5]


def test_second_spot_of_a_day_is_refused(as_user, owner, coral):
    since = coral.spots.get().since.isoformat()
    data = {"x_cm": "5", "y_cm": "6", "depth_cm": "7", "since": since}
    page = as_user(owner).post(reverse("spot_new", args=[coral.pk]), data)
    assert page.status_code == 422 and "already has a spot" in page.content.decode()


def test_spot_of_the_future_is_refused(as_user, owner, tank, coral):
    data = {"x_cm": "5", "y_cm": "6", "depth_cm": "7", "since": tomorrow(tank)}
    assert as_user(owner).post(reverse("spot_new", args=[coral.pk]), data).status_code == 422


def test_removed_spot_comes_back_by_undo(as_user, owner, coral):
    client = as_user(owner)
    page = client.post(reverse("spot_remove", args=[coral.spots.get().pk]), follow=True)
    assert coral.spots.count() == 0
    (message,) = page.context["messages"]
    client.post(message.extra_tags.removeprefix("undo "))
    assert coral.spots.get().x_cm == 30


@pytest.mark.parametrize("name", ["coral", "note"])
def test_removed_thing_comes_back_by_undo(request, as_user, owner, name):
    thing, client = request.getfixturevalue(name), as_user(owner)
    client.post(reverse(f"{name}_remove", args=[thing.pk]))
    thing.refresh_from_db()
    assert thing.removed_at is not None
    client.post(reverse(f"{name}_restore", args=[thing.pk]))
    thing.refresh_from_db()
    assert thing.removed_at is None


def test_removed_coral_is_gone_from_its_page(as_user, owner, coral):
    coral.remove()
    assert as_user(owner).get(reverse("coral_detail", args=[coral.pk])).status_code == 404


def test_note_with_photo_is_kept(as_user, owner, tank, coral):
    data = note_data(tank, photo=sent(encoded()))
    as_user(owner).post(reverse("note_new", args=[coral.pk]), data)
    note = HealthNote.objects.get()
    assert (note.seen, note.created_by, note.photos.count()) == ("paling", owner, 1)


def test_unusable_photo_is_told_at_its_field(as_user, owner, tank, coral):
    data = note_data(tank, text="tips first", photo=sent(SVG, "photo.svg"))
    response = as_user(owner).post(reverse("note_new", args=[coral.pk]), data)
    page = response.content.decode()
    assert response.status_code == 422
    assert list(response.context["form"].errors) == ["photo"] and "tips first" in page
    assert HealthNote.objects.count() == 0


def test_bad_note_says_that_the_photo_must_be_chosen_again(as_user, owner, tank, coral):
    data = note_data(tank, noted_on=tomorrow(tank), photo=sent(encoded()))
    page = as_user(owner).post(reverse("note_new", args=[coral.pk]), data).content.decode()
    assert "in the future" in page and "Choose photos again" in page


def test_photo_is_private_jpeg(as_user, owner, photo):
    response = as_user(owner).get(reverse("photo_show", args=[photo.key, "image"]))
    assert response["Content-Type"] == "image/jpeg" and "private" in response["Cache-Control"]
    assert response["X-Content-Type-Options"] == "nosniff"


def test_unknown_size_of_a_photo_is_not_there(as_user, owner, photo):
    assert as_user(owner).get(reverse("photo_show", args=[photo.key, "raw"])).status_code == 404


def test_photo_of_a_removed_note_is_not_there(as_user, owner, note, photo):
    note.remove()
    url = reverse("photo_show", args=[photo.key, "image"])
    assert as_user(owner).get(url).status_code == 404


def test_photo_can_be_deleted_for_good(
    as_user, owner, tank, note, photo, django_capture_on_commit_callbacks
):
    storage, names = photo.image.storage, [photo.image.name, photo.thumbnail.name]
    data = note_data(tank, photos_gone=[photo.pk])
    assert all(map(storage.exists, names))
    with django_capture_on_commit_callbacks(execute=True):
        as_user(owner).post(reverse("note_edit", args=[note.pk]), data)
    assert not Photo.objects.exists() and not any(map(storage.exists, names))


def test_photo_of_another_tank_can_not_be_deleted(as_user, stranger, photo):
    other = make_note(make_coral(make_tank(stranger)))
    data = note_data(other.coral.tank, photos_gone=[photo.pk])
    response = as_user(stranger).post(reverse("note_edit", args=[other.pk]), data)
    assert response.status_code == 422 and Photo.objects.count() == 1


def test_forty_corals_take_as_many_queries_as_two(
    as_user, owner, tank, django_assert_max_num_queries
):
    make_survey(tank)
    for n in range(40):
        make_note(make_coral(tank, name=f"Frag {n}"))
    client = as_user(owner)
    with django_assert_max_num_queries(20):
        client.get(reverse("coral_list", args=[tank.pk]))


def test_long_history_keeps_the_coral_page_short_of_queries(
    as_user, owner, tank, coral, django_assert_max_num_queries
):
    make_survey(tank)
    for n in range(60):
        make_note(coral, noted_on=tank.today() - dt.timedelta(days=3 * n))
    client = as_user(owner)
    with django_assert_max_num_queries(20):
        client.get(reverse("coral_detail", args=[coral.pk]))


def test_coral_whose_spot_is_outside_the_smaller_tank_is_not_brought_back(as_user, owner, tank):
    coral = make_coral(tank, at_cm=(50, 10, 10))
    coral.remove()
    tank.length_cm = 40
    tank.save()
    url = reverse("coral_restore", args=[coral.pk])
    answer = as_user(owner).post(url, follow=True)
    coral.refresh_from_db()
    assert coral.removed_at
    # The page that follows exists, and says why.
    assert answer.status_code == 200 and "outside the water" in answer.content.decode()


def test_band_may_carry_any_of_the_signs_for_micro(as_user, owner, tank):
    fields = {"name": "Blue crown", "group": "sps", "added_on": tank.today().isoformat()}
    for sign in ("µmol", "μmol", "umol"):
        typed = {"band_low_umol": f"100 {sign}", "band_high_umol": f"200 {sign}"}
        as_user(owner).post(reverse("coral_new", args=[tank.pk]), fields | typed)
    assert list(tank.corals.values_list("band_low_umol", flat=True)) == [100.0] * 3

"""Recently deleted: what waits, who may restore it, and what goes for good."""

import datetime as dt
import re

import pytest
from django.apps import apps
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from apps.common.removal import Removable
from apps.common.templatetags.reef import undo_url
from apps.corals.models import Coral, HealthNote, Photo, Spot
from apps.corals.notes.noting import add_photo, stored_photo
from apps.corals.photo_cleaning import clean_photo
from apps.lighting.models import LightChange
from apps.surveys.models import Meter, Survey
from apps.tanks.deleted import DELETED_KEPT_DAYS, deleted_of_keeper, deleted_of_tank
from apps.tanks.models import Tank
from apps.tanks.removable_kinds import REMOVABLE, kind_named
from tests.corals.pictures import encoded, sent
from tests.corals.shots import make_colour, make_photo
from tests.factories import (
    make_acclimation,
    make_coral,
    make_day_curve,
    make_fixture,
    make_history_import,
    make_light_change,
    make_log,
    make_meter,
    make_meter_check,
    make_note,
    make_plan,
    make_rock,
    make_size,
    make_survey,
    make_tank,
    make_tick,
    make_trial,
    make_water_event,
)


def age(row, days):
    """Let a row have been deleted some days ago."""
    when = timezone.now() - dt.timedelta(days=days)
    type(row)._base_manager.filter(pk=row.pk).update(removed_at=when)


def restore_url(key, row):
    return reverse("deleted_restore", args=[key, row.pk])


def noted_with_photo(tank):
    note = make_note(make_coral(tank), text="Tips pale")
    add_photo(note, stored_photo(clean_photo(sent(encoded()), bytes_max=10_000_000)))
    return note


def test_each_removable_model_is_a_kind():
    models = {model for model in apps.get_models() if issubclass(model, Removable)}
    assert models == {kind.model for kind in REMOVABLE.collect()}


def test_each_kind_lies_in_a_tank_or_is_a_keepers_own(owner):
    for kind in REMOVABLE.collect():
        assert kind.tank or kind.owner
        assert not kind.seen_by(owner).exists()


def test_deleted_rows_of_a_tank_wait_newest_first(tank):
    rock, note = make_rock(tank), make_note(make_coral(tank))
    for row in (rock, note):
        row.remove()
    age(rock, 2)
    result, more = deleted_of_tank(tank)
    assert [it.row for it in result] == [note, rock] and more == 0


@pytest.mark.parametrize(
    ("days", "waits"), [(DELETED_KEPT_DAYS - 1, True), (DELETED_KEPT_DAYS + 1, False)]
)
def test_a_row_waits_thirty_days(tank, days, waits):
    rock = make_rock(tank)
    age(rock, days)
    assert bool(deleted_of_tank(tank)[0]) == waits


def test_what_lies_in_a_deleted_coral_waits_with_it(tank):
    note = make_note(make_coral(tank))
    note.remove()
    note.coral.remove()
    assert [it.kind.key for it in deleted_of_tank(tank)[0]] == ["coral"]


def test_a_keepers_page_holds_tanks_meters_fixtures_and_plans_of_no_tank(owner, tank):
    for row in (make_meter(owner), make_fixture(owner), make_plan(owner), make_plan(owner, tank)):
        row.remove()
    tank.remove()
    kinds = sorted(it.kind.key for it in deleted_of_keeper(owner)[0])
    assert kinds == ["fixture", "meter", "plan", "tank"]


def test_restored_note_keeps_its_number_words_and_photo(as_user, co_keeper, tank):
    note = noted_with_photo(tank)
    image = note.photos.get().image.name
    note.remove()
    as_user(co_keeper).post(restore_url("note", note))
    back = HealthNote.objects.present().get(pk=note.pk)
    assert back.text == "Tips pale" and back.photos.get().image.name == image
    assert default_storage.exists(image)


def test_restored_light_change_takes_its_part_in_the_rigs_again(as_user, owner, tank):
    change = make_light_change(tank)
    change.remove()
    response = as_user(owner).post(restore_url("light-change", change))
    assert response["Location"] == reverse("light_change_list", args=[tank.pk])
    assert LightChange.objects.present().get() == change


def test_owner_restores_a_tank_with_all_that_is_in_it(as_user, owner, viewer, tank):
    survey = make_survey(tank, readings=[(10, 10, 10, 100)])
    tank.remove()
    page = as_user(owner).get(reverse("deleted_list")).content.decode()
    assert restore_url("tank", tank) in page
    as_user(owner).post(restore_url("tank", tank))
    assert Survey.objects.visible_to(viewer).get() == survey


@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_nobody_else_restores_a_tank(request, as_user, tank, who):
    tank.remove()
    client = as_user(request.getfixturevalue(who))
    assert restore_url("tank", tank) not in client.get(reverse("deleted_list")).content.decode()
    assert client.post(restore_url("tank", tank)).status_code == 404
    assert Tank.objects.get().removed_at


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_see_what_was_deleted_from_a_tank(request, as_user, tank, who, status):
    make_rock(tank).remove()
    client = as_user(request.getfixturevalue(who))
    assert client.get(reverse("tank_deleted", args=[tank.pk])).status_code == status


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 302), ("co_keeper", 302), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_restore_to_a_tank(request, as_user, tank, who, status):
    rock = make_rock(tank)
    rock.remove()
    client = as_user(request.getfixturevalue(who))
    assert client.post(restore_url("rock", rock)).status_code == status
    rock.refresh_from_db()
    assert (rock.removed_at is None) == (status == 302)


def test_an_unknown_kind_is_not_found(as_user, owner):
    url = reverse("deleted_restore", args=["nothing", 1])
    assert as_user(owner).post(url).status_code == 404


def test_restoring_twice_says_that_it_was_restored_already(as_user, owner, tank):
    spot = make_coral(tank).spots.get()
    spot.remove()
    client = as_user(owner)
    client.post(restore_url("spot", spot))
    page = client.post(restore_url("spot", spot), follow=True)
    assert page.status_code == 200 and "notice--info" in page.content.decode()
    assert Spot.objects.filter(pk=spot.pk).exists()


def test_a_note_of_a_deleted_coral_is_not_restored_alone(as_user, owner, tank):
    note = make_note(make_coral(tank))
    note.remove()
    note.coral.remove()
    for url in (restore_url("note", note), reverse("note_restore", args=[note.pk])):
        response = as_user(owner).post(url)
        assert response["Location"] == reverse("tank_deleted", args=[tank.pk])
    note.refresh_from_db()
    assert note.removed_at


# The two addresses of each kind.

ROWS = {
    "tank": lambda tank: tank,
    "rock": make_rock,
    "light-change": make_light_change,
    "day-curve": make_day_curve,
    "fixture": lambda tank: make_fixture(tank.owner),
    "survey": make_survey,
    "meter": lambda tank: make_meter(tank.owner),
    "meter-check": lambda tank: make_meter_check(make_meter(tank.owner)),
    "logger-series": make_log,
    "coral": make_coral,
    "spot": lambda tank: make_coral(tank).spots.get(),
    "note": lambda tank: make_note(make_coral(tank)),
    "size": lambda tank: make_size(make_coral(tank)),
    "photo-colour": lambda tank: make_colour(make_coral(tank)),
    "water-event": make_water_event,
    "history-import": make_history_import,
    "trial": make_trial,
    "plan": lambda tank: make_plan(tank.owner),
    "acclimation": lambda tank: make_acclimation(make_coral(tank)),
}


def test_each_kind_has_a_row_to_delete_here():
    assert ROWS.keys() == {kind.key for kind in REMOVABLE.collect()}


@pytest.mark.parametrize("key", ROWS)
def test_a_row_is_deleted_at_its_address_and_its_undo_brings_it_back(as_user, owner, tank, key):
    kind, row, client = kind_named(key), ROWS[key](tank), as_user(owner)
    page = client.post(address(kind, row, "remove"), follow=True)
    assert kind.rows().get(pk=row.pk).removed_at and page.status_code == 200
    (message,) = page.context["messages"]
    assert str(message).startswith("Deleted ") and undo_url(message)
    back = client.post(undo_url(message), follow=True)
    assert kind.rows().get(pk=row.pk).removed_at is None and back.status_code == 200


def address(kind, row, what):
    """Return one of the two addresses of a row: its words are read from the row itself."""
    words = re.findall(r"<\w+:(\w+)>", kind.at)
    looked_up = [kind.lookups.get(word, "pk") for word in words]
    values = kind.rows().filter(pk=row.pk).values_list(*looked_up)[0]
    return reverse(f"{kind.name}_{what}", kwargs=dict(zip(words, values, strict=True)))


def test_a_rock_is_not_deleted_by_the_address_of_another_tank(as_user, owner, tank):
    rock, other = make_rock(tank), make_tank(owner)
    url = reverse("rock_remove", args=[other.pk, rock.pk])
    assert as_user(owner).post(url).status_code == 404
    rock.refresh_from_db()
    assert rock.removed_at is None


@pytest.mark.parametrize("what", ["colour_remove", "colour_restore"])
def test_a_photo_without_a_colour_shows_itself(as_user, owner, tank, what):
    photo = make_photo(make_coral(tank))
    response = as_user(owner).post(reverse(what, args=[photo.key]))
    assert response["Location"] == reverse("photo_detail", args=[photo.key])


def test_looking_at_an_address_of_deletion_without_a_question_is_refused(as_user, owner, tank):
    note = make_note(make_coral(tank))
    assert as_user(owner).get(reverse("note_remove", args=[note.pk])).status_code == 405


# An Undo button on a page that the browser shows again.


@pytest.mark.parametrize("again", ["note_remove", "note_restore"])
def test_undo_sent_again_leads_on(as_user, owner, tank, again):
    note, client = make_note(make_coral(tank)), as_user(owner)
    if again == "note_restore":
        note.remove()
    client.post(reverse(again, args=[note.pk]))
    page = client.post(reverse(again, args=[note.pk]), follow=True)
    assert page.status_code == 200 and "notice--info" in page.content.decode()


def test_survey_restored_twice_leads_on(as_user, owner, tank):
    survey, client = make_survey(tank), as_user(owner)
    survey.remove()
    for _ in range(2):
        page = client.post(reverse("survey_restore", args=[survey.pk]), follow=True)
    assert page.status_code == 200 and Survey.objects.present().exists()


def test_undo_of_a_save_in_a_deleted_survey_leads_to_where_it_waits(as_user, owner, tank):
    survey = make_survey(tank, readings=[(10, 10, 10, 100)])
    survey.remove()
    url = reverse("survey_readings_undo", args=[survey.pk, 0])
    response = as_user(owner).post(url)
    assert response["Location"] == reverse("tank_deleted", args=[tank.pk])


def test_tick_undone_twice_leads_back_to_its_plan(as_user, owner, tank):
    plan = make_acclimation(make_coral(tank))
    tick, client = make_tick(plan, 1), as_user(owner)
    url = f"{reverse('acclimation_untick', args=[tick.pk])}?plan={plan.pk}"
    for _ in range(2):
        response = client.post(url)
    assert response["Location"] == reverse("acclimation_detail", args=[plan.pk])


@pytest.mark.parametrize(("who", "status"), [("viewer", 404), ("stranger", 404)])
def test_others_learn_nothing_of_what_is_deleted(request, as_user, tank, who, status):
    note = make_note(make_coral(tank))
    note.remove()
    client = as_user(request.getfixturevalue(who))
    assert client.post(reverse("note_remove", args=[note.pk])).status_code == status


# For good.


def test_purge_takes_what_waited_long_and_leaves_the_rest(tank, django_capture_on_commit_callbacks):
    old, late, here = (make_coral(tank, name=name) for name in ("Old", "Late", "Here"))
    age(old, DELETED_KEPT_DAYS + 1)
    age(late, DELETED_KEPT_DAYS - 1)
    with django_capture_on_commit_callbacks(execute=True):
        call_command("purge_deleted")
    assert set(Coral.objects.all()) == {late, here}


def test_purge_takes_photo_files_with_the_rows_and_never_before(
    tank, django_capture_on_commit_callbacks
):
    note = noted_with_photo(tank)
    photo = note.photos.get()
    names = [photo.image.name, photo.thumbnail.name]
    age(note.coral, 8)
    with django_capture_on_commit_callbacks(execute=True):
        call_command("purge_deleted", days=9)
    assert all(default_storage.exists(name) for name in names) and Photo.objects.exists()
    with django_capture_on_commit_callbacks() as callbacks:
        call_command("purge_deleted", days=7)
    assert not Photo.objects.exists() and all(default_storage.exists(name) for name in names)
    for callback in callbacks:
        callback()
    assert not any(default_storage.exists(name) for name in names)


def test_purge_keeps_a_meter_that_a_survey_names(owner, tank):
    used, unused = make_meter(owner), make_meter(owner)
    make_survey(tank, meter=used)
    for meter in (used, unused):
        age(meter, DELETED_KEPT_DAYS + 1)
    call_command("purge_deleted")
    assert Meter.objects.get() == used


def test_purge_takes_a_whole_tank(tank):
    make_survey(tank, readings=[(10, 10, 10, 100)])
    make_light_change(tank)
    make_acclimation(make_coral(tank))
    age(tank, DELETED_KEPT_DAYS + 1)
    call_command("purge_deleted")
    assert not Tank.objects.exists() and not Survey.objects.exists()

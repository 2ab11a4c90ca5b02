"""Two write of one row at once: each writes what is theirs, and takes back nothing of the other."""

import datetime as dt

import pytest
from django.db import transaction
from django.http import Http404
from django.urls import reverse
from django.utils import timezone

from apps.clubs.joining import join
from apps.clubs.leaving import leave
from apps.clubs.models import Club, ClubLink
from apps.common.model_forms import WholeModelForm
from apps.common.own_fields import save_own
from apps.common.programs.serializers import WholeModelSerializer
from apps.corals.notes.noting import save_note
from apps.lighting.fixture.optic_saving import save_fixture
from apps.lighting.hanging import save_light_change
from apps.surveys.models import Meter
from apps.tanks.forms import MembershipForm
from apps.tanks.models import Tank
from tests.factories import (
    make_club,
    make_coral,
    make_day_curve,
    make_fixture,
    make_light_change,
    make_meter,
    make_note,
    make_survey,
    make_tank,
    make_user,
)
from tests.lighting.day.test_day_curves import typed
from tests.test_every_address import link_of

TANK = {
    "name": "New name", "length_cm": "60", "width_cm": "60", "depth_cm": "50",
    "back_pane": "clear", "bottom": "sand", "time_zone": "Europe/Berlin",
}  # fmt: skip
SOON = timezone.now()


@pytest.fixture
def meanwhile(monkeypatch):
    """Return a function: what it is given is done to rows once a form or a call has read its own.

    Each thing is done once, before what was typed or sent is checked.
    """

    def do(change):
        todo = [change]

        def before(cls, name):
            usual = getattr(cls, name)

            def first(self, *args):
                while todo:
                    todo.pop()()
                return usual(self, *args)

            monkeypatch.setattr(cls, name, first)

        before(WholeModelForm, "_post_clean")
        before(WholeModelSerializer, "validate")

    return do


def set_of(row, **values):
    """Return a function that writes values to a row, as another request would."""
    return lambda: type(row)._base_manager.filter(pk=row.pk).update(**values)


def now(row):
    return type(row)._base_manager.get(pk=row.pk)


def test_who_edits_a_tank_takes_it_back_from_nobody(as_user, owner, stranger, tank, meanwhile):
    meanwhile(set_of(tank, owner=stranger, ended_on=dt.date(2026, 5, 1), removed_at=SOON))
    as_user(owner).post(reverse("tank_edit", args=[tank.pk]), TANK)
    stands = now(tank)
    assert (stands.owner, stands.ended_on) == (stranger, dt.date(2026, 5, 1))
    assert stands.name == "New name" and stands.removed_at == SOON


def test_a_program_that_edits_a_tank_takes_it_back_from_nobody(
    as_user, owner, stranger, tank, meanwhile
):
    meanwhile(set_of(tank, owner=stranger, bottom="bare"))
    address = f"/api/v1/tanks/{tank.pk}/"
    answer = as_user(owner).patch(address, {"name": "New name"}, "application/json")
    stands = now(tank)
    assert answer.status_code == 200
    assert (stands.name, stands.owner, stands.bottom) == ("New name", stranger, "bare")


def test_a_survey_whose_head_is_edited_keeps_the_version_of_its_readings(
    as_user, owner, tank, meanwhile
):
    survey = make_survey(tank)
    meanwhile(set_of(survey, version=7))
    data = {"taken_at": "2026-01-10T12:00", "level_percent": "100", "notes": "Cloudy"}
    as_user(owner).post(reverse("survey_edit", args=[survey.pk]), data)
    assert (now(survey).version, now(survey).notes) == (7, "Cloudy")


def test_a_day_curve_is_saved_with_its_points(as_user, owner, tank, meanwhile):
    curve = make_day_curve(tank)
    data = typed([("10:00", "0"), ("11:40", "80"), ("16:40", "0")], name="Later")
    meanwhile(set_of(curve, removed_at=SOON))
    as_user(owner).post(reverse("day_curve_edit", args=[curve.pk]), data)
    stands = now(curve)
    assert stands.points == [[600, 0.0], [700, 80.0], [1000, 0.0]]
    assert (stands.name, stands.removed_at) == ("Later", SOON)


def test_a_meters_uncertainty_sent_alone_is_stored_with_where_it_is_from(as_user, owner):
    meter = make_meter(owner, uncertainty_percent=5.0, uncertainty_from="usual")
    meter.refresh_from_db()
    assert meter.uncertainty_from == Meter.UncertaintyFrom.USUAL
    sent = {"uncertainty_percent": 3.0}
    as_user(owner).patch(f"/api/v1/meters/{meter.pk}/", sent, "application/json")
    assert now(meter).uncertainty_from == Meter.UncertaintyFrom.STATED


def test_a_fixture_deleted_while_it_is_described_stays_deleted(owner):
    fixture = make_fixture(owner)
    set_of(fixture, removed_at=SOON)()
    fixture.name = "Other"
    save_fixture(fixture=fixture)
    assert (now(fixture).name, now(fixture).removed_at) == ("Other", SOON)


def test_a_light_change_edited_keeps_the_rig_another_gave_it(tank):
    change = make_light_change(tank)
    set_of(change, tells_rig=True, taken_down=[3], removed_at=SOON)()
    change.summary = "Wiped"
    save_light_change(change=change)
    stands = now(change)
    assert (stands.tells_rig, stands.taken_down) == (True, [3])
    assert (stands.summary, stands.removed_at) == ("Wiped", SOON)


def test_a_note_edited_keeps_the_photos_a_device_sent_and_stays_deleted(tank):
    note = make_note(make_coral(tank))
    set_of(note, sent_photos=["a"], removed_at=SOON)()
    note.text = "Pale"
    save_note(note=note)
    assert (now(note).text, now(note).sent_photos, now(note).removed_at) == ("Pale", ["a"], SOON)


def test_who_was_put_out_is_not_let_in_by_a_new_role(tank, viewer):
    membership = tank.memberships.get(user=viewer)
    form = MembershipForm({"role": "co_keeper"}, instance=membership)
    assert form.is_valid()
    tank.memberships.all().delete()
    with pytest.raises(Http404), transaction.atomic():
        form.save()
    assert not tank.memberships.exists()


def test_a_new_row_is_saved_whole(owner):
    tank = make_tank(owner)
    new = Tank(owner=owner, name="Second", length_cm=60, width_cm=50, depth_cm=40,
               time_zone=tank.time_zone)  # fmt: skip
    save_own(new, ["name"])
    assert now(new).length_cm == 60


SAVES = {
    "fixture": (lambda tank: make_fixture(tank.owner), lambda row: save_fixture(fixture=row)),
    "light change": (make_light_change, lambda row: save_light_change(change=row)),
    "note": (lambda tank: make_note(make_coral(tank)), lambda row: save_note(note=row)),
}


@pytest.mark.parametrize("what", SAVES)
def test_what_is_deleted_for_good_while_it_is_edited_is_not_made_anew(tank, what):
    make, save = SAVES[what]
    row = make(tank)
    type(row)._base_manager.filter(pk=row.pk).delete()
    with pytest.raises(Http404):
        save(row)
    assert not type(row)._base_manager.exists()


def test_nobody_joins_or_leaves_a_club_that_is_gone(owner, stranger):
    club = make_club(owner, stranger)
    link = link_of(ClubLink, club=club, created_by=owner)
    Club.objects.filter(pk=club.pk).delete()
    assert join(link=link, user=make_user()) is None
    with pytest.raises(Http404):
        leave(club=club, user=stranger)

"""Fields fitted by the command are those that pages find, in any worker."""

import datetime as dt
from types import SimpleNamespace

import pytest
from django.core.cache import caches
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone

from apps.later import behind
from apps.later.models import Job
from apps.later.traffic import Traffic
from apps.lightmap import joint_input, warming
from tests.factories import (
    hang,
    make_fixture,
    make_light_change,
    make_rock,
    make_survey,
    make_tank,
    make_user,
)


@pytest.fixture
def fits(monkeypatch):
    """The tanks whose light was fitted, one entry a fit."""
    made, fit = [], joint_input.fit_light_field

    def counting(*args, **kwargs):
        made.append(kwargs["tank"])
        return fit(*args, **kwargs)

    monkeypatch.setattr(joint_input, "fit_light_field", counting)
    return made


def days_ago(n):
    return timezone.now() - dt.timedelta(days=n)


def measured(tank):
    make_survey(tank, taken_at=days_ago(20))
    return tank


def test_a_map_that_was_warmed_is_opened_without_a_fit(client, tank, kept_folder, fits, capsys):
    measured(tank)
    call_command("warm_fields")
    assert len(fits) == 1 and capsys.readouterr().out.startswith("1 light maps")
    caches["maps"].clear()
    client.force_login(tank.owner)
    assert client.get(reverse("light_map", args=[tank.pk])).status_code == 200
    assert len(fits) == 1


def test_the_light_of_now_is_warmed_too(client, tank, kept_folder, monkeypatch):
    hang(make_light_change(tank))
    measured(tank)
    hang(make_light_change(tank, happened_at=days_ago(5)), height_cm=45)
    call_command("warm_fields", verbosity=0)
    caches["maps"].clear()
    monkeypatch.setattr("apps.lightmap.survey_map.field_after", None)
    client.force_login(tank.owner)
    assert client.get(reverse("light_map", args=[tank.pk])).status_code == 200


def test_who_signed_in_last_goes_first_and_time_ends_it(db, kept_folder, fits, monkeypatch, capsys):
    tanks = [measured(make_tank(make_user())) for _ in range(2)]
    tanks[0].length_cm = 71
    tanks[0].save()
    tanks[1].owner.last_login = timezone.now()
    tanks[1].owner.save()
    clock = iter([0.0, 0.5, 7.0])
    monkeypatch.setattr(warming, "time", SimpleNamespace(monotonic=lambda: next(clock)))
    call_command("warm_fields", seconds=5)
    assert [tank.length_cm for tank in fits] == [tanks[1].length_cm]
    assert "1 left" in capsys.readouterr().out


def test_a_tank_without_a_map_and_one_that_is_dark_stop_nothing(tank, kept_folder, capsys):
    dark = measured(make_tank(tank.owner))
    hang(make_light_change(dark))
    make_light_change(dark, happened_at=days_ago(5), tells_rig=True)
    call_command("warm_fields")
    assert "of 2 tanks." in capsys.readouterr().out


@pytest.mark.parametrize("seconds", [0, -1, 90_000])
def test_seconds_are_bounded(db, seconds):
    with pytest.raises(CommandError, match="seconds"):
        call_command("warm_fields", seconds=seconds)


# --- After a save ---------------------------------------------------------------------------
@pytest.fixture
def saved(settings, monkeypatch, django_capture_on_commit_callbacks):
    """Return a function that saves as pages do, and gives the tanks that wait to be warmed."""
    settings.JOBS = "thread"
    monkeypatch.setattr(behind, "wake_when_quiet", lambda: None)
    # Pages that other tests asked for in this process are none of its own.
    monkeypatch.setattr(behind, "TRAFFIC", Traffic())

    def save(change):
        Job.objects.all().delete()
        with django_capture_on_commit_callbacks(execute=True):
            change()
        waiting = Job.objects.filter(name=warming.WARM, state="waiting")
        return [job.arguments["tank_pk"] for job in waiting]

    return save


def run_what_waits():
    Job.objects.update(due_at=timezone.now())
    return behind.run_due()


def test_a_tank_is_warmed_once_after_many_saves_in_a_row(tank, saved):
    survey = measured(tank).surveys.get()
    assert saved(lambda: [survey.save() for _ in range(30)]) == [tank.pk]


def test_whatever_its_light_rests_on_warms_a_tank(tank, saved):
    change = make_light_change(tank)
    fixture, rock = make_fixture(tank.owner), make_rock(tank)
    hang(change, fixture=fixture)
    for row in (tank, rock, fixture, change, measured(tank).surveys.get()):
        assert saved(row.save) == [tank.pk], row
    assert saved(rock.delete) == [tank.pk]


def test_a_lamp_that_hangs_nowhere_and_another_tanks_rows_warm_nothing_here(tank, saved):
    assert saved(make_fixture(tank.owner).save) == []
    other = make_tank(tank.owner)
    assert saved(lambda: make_rock(other)) == [other.pk]


def test_a_map_warmed_after_a_save_is_opened_without_a_fit(client, tank, kept_folder, fits, saved):
    saved(lambda: measured(tank))
    assert run_what_waits() == 1 and len(fits) == 1
    caches["maps"].clear()
    client.force_login(tank.owner)
    assert client.get(reverse("light_map", args=[tank.pk])).status_code == 200
    assert len(fits) == 1


def test_what_is_warmed_is_what_stands_then_not_what_was_saved_first(
    tank, kept_folder, fits, saved
):
    saved(lambda: measured(tank))
    tank.length_cm = 71
    saved(tank.save)
    assert run_what_waits() == 1
    assert [one.length_cm for one in fits] == [71]


def test_a_tank_that_is_gone_meanwhile_needs_no_warming(tank, saved):
    saved(tank.save)
    tank.delete()
    assert run_what_waits() == 1 and Job.objects.get().state == "done"


def test_without_anything_behind_the_pages_nobody_waits_for_a_warming(tank, settings, saved):
    settings.JOBS = "at-once"
    assert saved(tank.save) == [] and not Job.objects.exists()

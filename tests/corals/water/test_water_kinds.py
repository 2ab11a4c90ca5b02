"""Salinity, calcium and pH: kinds with bounds, alike by form, API and import."""

import importlib

import pytest
from django.apps import apps
from django.urls import reverse
from rest_framework.test import APIClient

from apps.corals.models import WaterEvent
from tests.factories import make_water_event

migration = importlib.import_module("apps.corals.migrations.0013_water_kinds")
SLIPS = [("ph", 82.0, "pH"), ("salinity", 35.0, "SG"), ("calcium", 4200.0, "mg/L")]
SOUND = [("ph", 8.1, "pH"), ("salinity", 1.026, "sg"), ("calcium", 420.0, "ppm")]
WHEN = "2026-05-03T18:30"


def by_form(as_user, owner, tank, kind, value, unit):
    sent = {"kind": kind, "value": str(value), "unit": unit, "happened_at": WHEN}
    url = reverse("water_event_new", args=[tank.pk])
    answer = as_user(owner).post(url, sent | {"could_hurt": "False"})
    return answer.status_code == 302


def by_api(as_user, owner, tank, kind, value, unit):
    client = APIClient()
    client.force_authenticate(owner)
    sent = {"kind": kind, "value": value, "unit": unit, "happened_at": f"{WHEN}:00Z"}
    answer = client.post(f"/api/v1/tanks/{tank.pk}/water-events/", sent, format="json")
    return answer.status_code == 201


def by_import(as_user, owner, tank, kind, value, unit):
    sent = {"text": f"2026-05-03,{kind},{value},{unit}", "import": "1"}
    as_user(owner).post(reverse("water_event_import", args=[tank.pk]), sent)
    return tank.water_events.exists()


@pytest.mark.parametrize("way", [by_form, by_api, by_import])
@pytest.mark.parametrize(("kind", "value", "unit"), SLIPS)
def test_slip_is_refused_whichever_way_it_comes(as_user, owner, tank, way, kind, value, unit):
    assert not way(as_user, owner, tank, kind, value, unit)
    assert not tank.water_events.exists()


@pytest.mark.parametrize("way", [by_form, by_api, by_import])
@pytest.mark.parametrize(("kind", "value", "unit"), SOUND)
def test_sound_value_is_taken_whichever_way_it_comes(as_user, owner, tank, way, kind, value, unit):
    assert way(as_user, owner, tank, kind, value, unit)
    assert tank.water_events.get().kind == kind


def test_ph_needs_no_unit(as_user, owner, tank):
    assert by_form(as_user, owner, tank, "ph", 8.1, "")
    assert tank.water_events.get().in_words() == "pH 8.1"


@pytest.mark.parametrize(
    ("text", "kind", "left"),
    [
        ("Salinity", "salinity", ""),
        ("pH, after the dose", "ph", "after the dose"),
        ("Ca", "calcium", ""),
        ("Magnesium", "other", "Magnesium"),
        ("salinity probe broke", "other", "salinity probe broke"),
    ],
)
def test_readings_of_before_get_the_kind_they_name(tank, text, kind, left):
    event = make_water_event(tank, kind="other", value=5.0, unit="x", text=text)
    migration.name_kinds(apps, None)
    event.refresh_from_db()
    assert (event.kind, event.text) == (kind, left)


def test_words_without_a_value_keep_their_kind(tank):
    event = make_water_event(tank, kind="other", value=None, unit="", text="Salinity")
    migration.name_kinds(apps, None)
    event.refresh_from_db()
    assert event.kind == WaterEvent.Kind.OTHER

"""A light change over the API says which day curves start with it."""

import pytest

from apps.lighting.models import LightChange
from tests.api.light_change_bodies import api, days_ago, entry, url
from tests.factories import make_day_curve, make_tank


@pytest.fixture
def client(owner):
    return api(owner)


def test_start_alone_needs_no_words(client, tank):
    curve = make_day_curve(tank)
    body = {"happened_at": days_ago(3).isoformat(), "starts": [curve.pk]}
    change = client.post(url(tank), body, format="json").data
    assert change["reason"] == "hours" and "“Summer day”" in change["summary"]
    again = client.put(url(tank, change["id"]), body | {"summary": "Summer"}, format="json")
    assert len(again.data["days"]) == 1
    curve.name = "Other"
    curve.save()
    patched = client.patch(url(tank, change["id"]), body, format="json")
    assert patched.status_code == 400 and "same channels" in patched.data["errors"]["starts"][0]


@pytest.mark.parametrize(
    ("fields", "wrong"), [({"day_hours": 9}, "day_hours"), ({"starts": [987654]}, "starts")]
)
def test_start_that_makes_no_day_is_refused(client, tank, fields, wrong):
    body = entry(3, starts=[make_day_curve(tank).pk]) | fields
    answer = client.post(url(tank), body, format="json")
    assert answer.status_code == 400 and wrong in answer.data["errors"]
    assert not LightChange.objects.exists()


def test_two_curves_for_the_same_channels_are_refused(client, tank):
    pks = [make_day_curve(tank, group=group).pk for group in ("", "blue")]
    answer = client.post(url(tank), entry(3, starts=pks), format="json")
    assert answer.status_code == 400 and "same channels" in answer.data["errors"]["starts"][0]


def test_curve_of_another_tank_is_told_like_none(client, tank, stranger):
    foreign = make_day_curve(make_tank(stranger))
    said = [
        client.post(url(tank), entry(3, starts=[pk]), format="json").data["errors"]["starts"][0]
        for pk in (foreign.pk, 987654)
    ]
    assert said[0].replace(str(foreign.pk), "987654") == said[1]


def test_curves_are_not_asked_of_the_database_by_the_thousand(
    client, tank, django_assert_max_num_queries
):
    curve = make_day_curve(tank)
    with django_assert_max_num_queries(20):
        answer = client.post(url(tank), entry(3, starts=[curve.pk] * 1000), format="json")
    assert answer.status_code == 400
    assert list(answer.data["errors"]) == ["starts"] and "50" in answer.data["errors"]["starts"][0]

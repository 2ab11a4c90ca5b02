"""Colours measured in photos and sizes over the API: friends read, writers write sizes."""

import pytest
from rest_framework.test import APIClient

from tests.corals.shots import make_colour
from tests.factories import make_coral


@pytest.fixture
def coral(tank):
    return make_coral(tank)


def signed_in(user):
    client = APIClient()
    client.force_authenticate(user)
    return client


def url(coral, kind):
    return f"/api/v1/tanks/{coral.tank_id}/corals/{coral.pk}/{kind}/"


def test_colours_are_read_with_what_they_are_worth(viewer, coral):
    colour = make_colour(coral, days_ago=3)
    (row,) = signed_in(viewer).get(url(coral, "colours")).json()["results"]
    assert row["photo"] == str(colour.photo.key) and len(row["covariance"]) == 9
    assert row["noted_on"] == str(colour.photo.note.noted_on)


def test_strangers_find_no_colours(stranger, coral):
    make_colour(coral)
    assert signed_in(stranger).get(url(coral, "colours")).status_code == 404


def test_colours_are_not_written_by_hand(owner, coral):
    answer = signed_in(owner).post(url(coral, "colours"), {"lightness": 50})
    assert answer.status_code == 405


def test_colours_of_notes_taken_away_are_gone(owner, coral):
    make_colour(coral).photo.note.remove()
    assert signed_in(owner).get(url(coral, "colours")).json()["count"] == 0


def test_size_is_bounded(owner, coral):
    answer = signed_in(owner).post(
        url(coral, "sizes"), {"measured_on": "2999-01-01", "diameter_cm": 900}
    )
    assert answer.status_code == 400
    assert set(answer.json()["errors"]) >= {"diameter_cm"}


def test_size_of_tomorrow_is_refused(owner, coral):
    answer = signed_in(owner).post(
        url(coral, "sizes"), {"measured_on": "2999-01-01", "diameter_cm": 9}
    )
    assert answer.status_code == 400 and "future" in str(answer.json()["errors"])

"""Health notes over the interface: which of them a sign asks for."""

import pytest

from apps.corals.models import HealthNote
from tests.factories import make_coral, make_note


@pytest.fixture
def notes(tank):
    coral = make_coral(tank)
    make_note(coral, seen="well")
    make_note(coral, seen="paling")
    make_note(coral, seen="other", also_seen=["polyps_in", "paling"])
    make_note(coral, seen="paling", also_seen=["growth"])
    make_note(coral, seen="growth").remove()
    return coral


def notes_page(client, coral, **params):
    url = f"/api/v1/tanks/{coral.tank_id}/corals/{coral.pk}/notes/"
    return client.get(url, params)


@pytest.mark.parametrize("sign", HealthNote.Seen.values)
def test_a_sign_asks_for_the_notes_that_show_it(as_user, owner, notes, sign):
    result = notes_page(as_user(owner), notes, seen=sign).json()["results"]
    wanted = [n.pk for n in notes.notes.present() if n.shows({sign})]
    assert [n["id"] for n in result] == wanted


def test_sign_and_day_are_asked_together(as_user, owner, notes):
    later = {"seen": "paling", "noted_on__gte": "2100-01-01"}
    assert notes_page(as_user(owner), notes, **later).json()["count"] == 0
    assert notes_page(as_user(owner), notes, seen="paling").json()["count"] == 3


@pytest.mark.parametrize("sign", ["weather", '"', "%", "pal"])
def test_what_is_no_sign_is_refused(as_user, owner, notes, sign):
    answer = notes_page(as_user(owner), notes, seen=sign)
    assert answer.status_code == 400 and "seen" in answer.json()["errors"]


def test_stranger_finds_no_notes(as_user, viewer, stranger, notes):
    assert notes_page(as_user(viewer), notes, seen="paling").json()["count"] == 3
    assert notes_page(as_user(stranger), notes, seen="paling").status_code == 404

"""The six conditions: what they go with, and when a change between two notes is real."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from apps.corals.condition import MEANINGS, change_between, strength_of, with_changes
from apps.corals.models import HealthNote
from tests.factories import make_coral, make_note


@pytest.mark.parametrize(
    ("earlier", "later", "real", "words"),
    [
        (5, 5, False, "as last time"),
        (5, 4, False, "one step worse: may be the eye alone"),
        (5, 3, True, "two steps worse: a real change"),
        (1, 6, True, "five steps better: a real change"),
    ],
)
def test_one_step_is_noise_and_two_are_real(earlier, later, real, words):
    """The rule of Siebeck et al. 2006 (Coral Reefs 25) for a six-step scale."""
    change = change_between(earlier, later)
    assert (change.is_real, change.words) == (real, words)


def test_change_is_against_the_last_condition_known(tank):
    coral, today = make_coral(tank), tank.today()
    for days, condition in ((30, 5), (20, None), (10, 3)):
        make_note(coral, noted_on=today - dt.timedelta(days=days), condition=condition)
    notes = with_changes(list(coral.notes.all()))
    assert [n.change and n.change.steps for n in notes] == [-2, None, None]


def test_every_condition_has_a_meaning_and_a_strength():
    assert set(MEANINGS) == set(HealthNote.Condition)
    assert [strength_of(c) for c in (6, 4, 3, 2, None)] == [1, 1, 2, 3, 2]


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"seen": "well"}, "looks well"),
        ({"seen": "well", "condition": 5}, "good"),
        ({"seen": "paling", "condition": 3, "where": "tips"},
         "poor, clear paling at the tips or edges"),
        ({"seen": "paling", "also_seen": ["polyps_in", "tissue_loss"], "where": "tips"},
         "clear paling, also polyps in and tissue loss at the tips or edges"),
    ],
)  # fmt: skip
def test_note_is_told_in_words(tank, fields, told):
    assert make_note(make_coral(tank), **fields).in_words() == told


def test_a_poor_coral_does_not_look_well(tank):
    note = HealthNote(coral=make_coral(tank), noted_on=tank.today(), seen="well", condition=3)
    with pytest.raises(ValidationError, match="well and be poor"):
        note.clean()


@pytest.mark.parametrize(
    ("seen", "also", "said"),
    [
        ("paling", ["paling"], "counts once"),
        ("paling", ["growth", "growth"], "counts once"),
        ("paling", ["weather"], "a list of what can be seen"),
        ("paling", ["well"], "a list of what can be seen"),
        ("paling", "growth", "a list of what can be seen"),
        ("paling", [["growth"]], "a list of what can be seen"),
        ("well", ["growth"], "no further sign"),
    ],
)
def test_further_signs_are_sound_or_refused(tank, seen, also, said):
    note = HealthNote(coral=make_coral(tank), noted_on=tank.today(), seen=seen, also_seen=also)
    with pytest.raises(ValidationError, match=said):
        note.clean()


def test_form_keeps_further_signs_and_shows_them_again(as_user, owner, tank):
    coral, client = make_coral(tank), as_user(owner)
    data = {"seen": "tissue_loss", "also_seen": ["paling", "polyps_in"], "strength": "3"}
    url = reverse("note_new", args=[coral.pk])
    assert client.post(url, data | {"noted_on": tank.today().isoformat()}).status_code == 302
    note = HealthNote.objects.get()
    assert note.signs == ("tissue_loss", "paling", "polyps_in")
    page = client.get(reverse("note_edit", args=[note.pk])).content.decode()
    assert '<details class="more-signs" open>' in page


def test_sign_named_twice_comes_back_with_its_reason(as_user, owner, tank):
    data = {"seen": "paling", "also_seen": ["paling"], "strength": "2"}
    data |= {"noted_on": tank.today().isoformat(), "text": "since Monday"}
    answer = as_user(owner).post(reverse("note_new", args=[make_coral(tank).pk]), data)
    page = answer.content.decode()
    assert answer.status_code == 422 and "counts once" in page and "since Monday" in page


def test_no_note_is_older_than_its_coral(as_user, owner, tank):
    coral = make_coral(tank)
    early = coral.added_on - dt.timedelta(days=1)
    data = {"seen": "paling", "strength": "2", "noted_on": early.isoformat()}
    answer = as_user(owner).post(reverse("note_new", args=[coral.pk]), data)
    assert answer.status_code == 422 and "It came on" in answer.content.decode()


def test_page_says_what_a_change_is_worth(as_user, owner, tank):
    coral, today = make_coral(tank), tank.today()
    make_note(coral, noted_on=today - dt.timedelta(days=9), seen="well", condition=5)
    make_note(coral, noted_on=today, condition=2)
    page = as_user(owner).get(reverse("coral_detail", args=[coral.pk]))
    change = page.context["notes"][0].change
    assert (change.steps, change.is_real) == (-3, True)
    assert change.words.capitalize() in page.content.decode()

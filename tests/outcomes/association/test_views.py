"""The outcomes room: who may look, what it says, what it costs."""

import csv
import datetime as dt

import pytest
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import HealthNote
from apps.outcomes.templatetags.outcomes import more_than, p_value
from tests.factories import (
    grid_readings,
    make_coral,
    make_light_change,
    make_note,
    make_rock,
    make_survey,
    make_tank,
    make_water_event,
)

TAKEN_ALONG = ["outcome_report", "outcome_export", "outcome_export_corals"]


def days_ago(n):
    return timezone.now() - dt.timedelta(days=n)


@pytest.fixture
def note(tank):
    """A coral that paled three weeks after the lamp was lowered, in a surveyed tank."""
    make_survey(tank, taken_at=days_ago(150), readings=grid_readings(tank))
    make_light_change(tank, happened_at=days_ago(35), factor=1.2, summary="Lowered the lamp")
    coral = make_coral(tank, name="Pink branching", at_cm=(30, 30, 10))
    make_coral(tank, name="Brown disc", group="soft", at_cm=(20, 20, 40))
    return make_note(coral, noted_on=tank.today() - dt.timedelta(days=20), text="Tips went <white>")


def list_url(tank):
    return reverse("outcome_list", args=[tank.pk])


def detail_url(note):
    return reverse("outcome_detail", args=[note.coral.tank_id, note.pk])


def words(response):
    return " ".join(response.content.decode().split())


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_those_let_in_see_list_and_event(request, as_user, note, who):
    client = as_user(request.getfixturevalue(who))
    assert client.get(list_url(note.coral.tank)).status_code == 200
    assert client.get(detail_url(note)).status_code == 200


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
@pytest.mark.parametrize("name", TAKEN_ALONG)
def test_those_let_in_may_take_it_along(request, as_user, note, who, name):
    url = reverse(name, args=[note.coral.tank_id])
    assert as_user(request.getfixturevalue(who)).get(url).status_code == 200


@pytest.mark.parametrize("name", TAKEN_ALONG)
def test_stranger_may_not_take_it_along(as_user, stranger, note, name):
    assert as_user(stranger).get(reverse(name, args=[note.coral.tank_id])).status_code == 404


def exported(as_user, owner, tank):
    answer = as_user(owner).get(reverse("outcome_export", args=[tank.pk]))
    return list(csv.DictReader(answer.content.decode().splitlines()))


def test_export_has_a_line_for_each_note(as_user, owner, note):
    make_note(note.coral, noted_on=note.noted_on + dt.timedelta(days=9))
    first, second = exported(as_user, owner, note.coral.tank)
    assert (first["event"], second["event"]) == ("lighter", "")
    assert float(first["ratio"]) > 1 and first["days_since_change"] == "15"


def test_export_leaves_unknown_light_empty(as_user, owner, tank):
    make_note(make_coral(tank))
    (row,) = exported(as_user, owner, tank)
    assert row["par_umol"] == row["ratio"] == "" and row["seen"] == "paling"


def test_exported_name_is_no_formula(as_user, owner, tank):
    make_note(make_coral(tank, name="=1+1"))
    assert exported(as_user, owner, tank)[0]["coral"] == "'=1+1"


def test_event_tells_the_light_it_was_used_to(as_user, owner, note):
    make_light_change(note.coral.tank, happened_at=days_ago(25), factor=1.5)
    text = words(as_user(owner).get(detail_url(note)))
    assert "stood <strong>above</strong> what the coral was used to" in text
    assert "Its last change of light was 5 days before" in text


def test_event_names_its_competing_causes(as_user, owner, note):
    happened = timezone.now() - dt.timedelta(days=25)
    make_water_event(note.coral.tank, happened_at=happened, text="heater stuck")
    assert "heater stuck" in words(as_user(owner).get(detail_url(note)))


def test_event_stands_beside_similar_ones(as_user, owner, note):
    other = make_coral(note.coral.tank, name="Blue tips", at_cm=(10, 10, 10))
    make_note(other, noted_on=note.noted_on - dt.timedelta(days=40))
    text = words(as_user(owner).get(detail_url(note)))
    assert "Blue tips</a>, " in text and "There is no other" not in text


def test_stranger_finds_no_event(as_user, stranger, note):
    assert as_user(stranger).get(detail_url(note)).status_code == 404


def test_visitor_is_asked_to_sign_in(client, note):
    assert "/accounts/login/" in client.get(detail_url(note))["Location"]


def test_event_of_another_tank_is_not_there(as_user, owner, note):
    other = make_tank(owner)
    assert (
        as_user(owner).get(reverse("outcome_detail", args=[other.pk, note.pk])).status_code == 404
    )


def test_note_of_looking_well_is_no_event(as_user, owner, note):
    well = make_note(note.coral, seen=HealthNote.Seen.WELL)
    assert as_user(owner).get(detail_url(well)).status_code == 404


def test_later_note_of_the_episode_opens_the_same_event(as_user, owner, note):
    later = make_note(note.coral, noted_on=note.noted_on + dt.timedelta(days=9))
    text = words(as_user(owner).get(detail_url(later)))
    assert "Pink branching paled" in text and "2 notes until" in text


def test_list_tells_the_change_with_its_factor(as_user, owner, note):
    text = words(as_user(owner).get(list_url(note.coral.tank)))
    assert "Lowered the lamp (light × 1.20 at its spot" in text
    assert "more than three weeks before" in text


def test_one_event_claims_nothing(as_user, owner, note):
    text = words(as_user(owner).get(list_url(note.coral.tank)))
    assert "Cannot tell:</strong> only one coral" in text
    assert "smallest p-value the test can give is 1.00" in text


def test_keepers_words_are_escaped(as_user, owner, note):
    text = words(as_user(owner).get(detail_url(note)))
    assert "Tips went &lt;white&gt;" in text and "<white>" not in text


def test_no_notes_says_so(as_user, owner, tank):
    assert "No coral has paled" in words(as_user(owner).get(list_url(tank)))


def test_no_survey_says_so(as_user, owner, tank):
    note = make_note(make_coral(tank))
    text = words(as_user(owner).get(list_url(tank)))
    assert "no survey of this tank gives a light map yet" in text
    assert "the light before this event is not known" in text
    assert as_user(owner).get(detail_url(note)).status_code == 200


def test_no_spot_says_so(as_user, owner, note):
    make_note(make_coral(note.coral.tank, name="Unplaced", at_cm=None))
    text = words(as_user(owner).get(list_url(note.coral.tank)))
    assert "no spot is entered for it before that day" in text


REASONS = {
    "no_map": "no survey of this tank gives a light map yet",
    "no_spot": "no spot is entered for it before that day",
    "just_came": "It came to this tank that very day",
    "gone": "it had left this tank before",
    "in_rock": "lies within a rock’s box",
}


@pytest.mark.parametrize("unknown", [*REASONS, "other"])
def test_each_reason_for_unknown_light_says_only_itself(unknown):
    found = {"event": {"verb": "paled", "first_on": dt.date(2025, 5, 1), "note_pks": [1]}}
    context = {"case": found | {"unknown": unknown}, "rules": {}}
    text = render_to_string("outcomes/association/_outcome_words.html", context)
    assert [key for key, words in REASONS.items() if words in text] == (
        [] if unknown == "other" else [unknown]
    )
    assert "not known" in text and "It had" not in text


def test_long_kept_coral_in_a_rock_did_not_just_come(as_user, owner, note):
    tank = note.coral.tank
    make_rock(tank, x_cm=20, y_cm=20, depth_cm=0, length_cm=20, width_cm=20, height_cm=15)
    for url in (list_url(tank), detail_url(note)):
        text = words(as_user(owner).get(url))
        assert REASONS["in_rock"] in text and REASONS["just_came"] not in text


def test_only_coral_has_nothing_to_compare_with(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(90))
    note = make_note(make_coral(tank))
    assert "There was no other coral" in words(as_user(owner).get(detail_url(note)))
    text = words(as_user(owner).get(list_url(tank)))
    assert "no other coral with known light to compare with either" in text


def test_all_paled_says_there_is_none_without(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(90))
    for depth in (10, 20, 30):
        make_note(make_coral(tank, name=f"At {depth}", at_cm=(30, 30, depth)))
    text = words(as_user(owner).get(list_url(tank)))
    assert "all 3 corals with known light did so" in text
    assert "3 of them began within 14 days of each other" in text


def test_survey_after_the_event_is_said(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(2))
    note = make_note(make_coral(tank), noted_on=tank.today() - dt.timedelta(days=20))
    assert "made <strong>after</strong> the event" in words(as_user(owner).get(detail_url(note)))


def test_clear_difference_is_told_with_its_limit(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(150), readings=grid_readings(tank))
    for depth in (6, 8, 10, 12, 30, 34, 38, 42):
        coral = make_coral(tank, name=f"At {depth}", at_cm=(30, 30, depth))
        if depth < 20:
            make_note(coral)
    text = words(as_user(owner).get(list_url(tank)))
    assert "had more light for their bands" in text and "p 0.029" in text
    assert "does not rule out" in text


def test_queries_do_not_grow_with_the_corals(as_user, owner, tank, django_assert_max_num_queries):
    make_survey(tank, taken_at=days_ago(150), readings=grid_readings(tank))
    for i in range(40):
        make_note(make_coral(tank, name=f"Coral {i}", at_cm=(30, 30, 4 + i)))
    client = as_user(owner)
    # Session, user, tank, corals, spots, notes, at most six of the light, four of the cases.
    with django_assert_max_num_queries(16):
        client.get(list_url(tank))


@pytest.mark.parametrize(
    ("value", "expected"), [(0.0004, "below 0.001"), (0.0286, "0.029"), (1 / 3, "0.33")]
)
def test_p_value_in_words(value, expected):
    assert p_value(value) == expected


@pytest.mark.parametrize(
    ("value", "expected"), [(55.2, "55 more than"), (-40, "40 less than"), (0.3, "the same as")]
)
def test_difference_in_words(value, expected):
    assert more_than(value) == expected


@pytest.mark.parametrize(
    ("condition", "said"),
    [
        (3, "A real fall</span>: its condition was good on"),
        (4, "Within what two looks may differ by</span>: its condition was good on"),
        (None, "How far its condition fell is not known"),
    ],
)
def test_event_page_says_what_its_fall_is_worth(as_user, owner, note, condition, said):
    make_note(note.coral, noted_on=note.noted_on - dt.timedelta(days=9), seen="well", condition=5)
    HealthNote.objects.filter(pk=note.pk).update(condition=condition)
    text = words(as_user(owner).get(detail_url(note)))
    assert said in text and "Siebeck" in text

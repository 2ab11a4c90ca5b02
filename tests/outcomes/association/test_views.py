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


def compared(response):
    """Return the comparisons of a page's tank that some event calls for."""
    return [one for one in response.context["outcomes"].comparisons if one.n_events]


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
    exposure = as_user(owner).get(detail_url(note)).context["case"].exposure
    assert (exposure.side, exposure.days_since_change) == ("above", 5)


def test_event_names_its_competing_causes(as_user, owner, note):
    happened = timezone.now() - dt.timedelta(days=25)
    make_water_event(note.coral.tank, happened_at=happened, text="heater stuck")
    assert "heater stuck" in words(as_user(owner).get(detail_url(note)))


def test_event_stands_beside_similar_ones(as_user, owner, note):
    other = make_coral(note.coral.tank, name="Blue tips", at_cm=(10, 10, 10))
    make_note(other, noted_on=note.noted_on - dt.timedelta(days=40))
    similar = as_user(owner).get(detail_url(note)).context["similar"]
    assert [case.event.coral_name for case in similar] == ["Blue tips"]


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
    event = as_user(owner).get(detail_url(later)).context["case"].event
    assert event.pk == note.pk and event.note_pks == (note.pk, later.pk)


def test_list_tells_the_change_with_its_factor(as_user, owner, note):
    (case,) = as_user(owner).get(list_url(note.coral.tank)).context["shown"]
    (step,) = case.steps
    assert (step.words, round(step.factor, 2)) == ("Lowered the lamp", 1.2)
    assert case.since_weeks_3.par_more_umol > 0


def test_one_event_claims_nothing(as_user, owner, note):
    (comparison,) = compared(as_user(owner).get(list_url(note.coral.tank)))
    assert comparison.verdict == "few_events" and comparison.affected == 1
    assert comparison.for_band.smallest_p_value == 1


def test_keepers_words_are_escaped(as_user, owner, note):
    text = words(as_user(owner).get(detail_url(note)))
    assert "Tips went &lt;white&gt;" in text and "<white>" not in text


def test_no_notes_says_so(as_user, owner, tank):
    assert not as_user(owner).get(list_url(tank)).context["outcomes"].events


def test_no_survey_says_so(as_user, owner, tank):
    note = make_note(make_coral(tank))
    page = as_user(owner).get(list_url(tank))
    assert [case.unknown for case in page.context["shown"]] == ["no_map"]
    assert [comparison.verdict for comparison in compared(page)] == ["no_light"]
    assert as_user(owner).get(detail_url(note)).status_code == 200


def test_no_spot_says_so(as_user, owner, note):
    make_note(make_coral(note.coral.tank, name="Unplaced", at_cm=None))
    shown = as_user(owner).get(list_url(note.coral.tank)).context["shown"]
    assert {case.event.coral_name: case.unknown for case in shown}["Unplaced"] == "no_spot"


REASONS = {
    "no_map": "no survey of this tank gives a light map yet",
    "no_spot": "no spot is entered for it before that day",
    "just_came": "It came to this tank that day",
    "gone": "it had already left this tank",
    "in_rock": "lies inside a rock",
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
    client = as_user(owner)
    (listed,) = client.get(list_url(tank)).context["shown"]
    assert listed.unknown == client.get(detail_url(note)).context["case"].unknown == "in_rock"


def test_only_coral_has_nothing_to_compare_with(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(90))
    note = make_note(make_coral(tank))
    assert not as_user(owner).get(detail_url(note)).context["case"].neighbours
    (comparison,) = compared(as_user(owner).get(list_url(tank)))
    assert (comparison.verdict, comparison.without) == ("few_events", 0)


def test_all_paled_says_there_is_none_without(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(90))
    for depth in (10, 20, 30):
        make_note(make_coral(tank, name=f"At {depth}", at_cm=(30, 30, depth)))
    (comparison,) = compared(as_user(owner).get(list_url(tank)))
    assert (comparison.verdict, comparison.affected) == ("none_without", 3)
    assert comparison.together == 3


def test_survey_after_the_event_is_said(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(2))
    note = make_note(make_coral(tank), noted_on=tank.today() - dt.timedelta(days=20))
    assert as_user(owner).get(detail_url(note)).context["case"].light.measured_later


def test_clear_difference_is_told_with_its_limit(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(150), readings=grid_readings(tank))
    for depth in (6, 8, 10, 12, 30, 34, 38, 42):
        coral = make_coral(tank, name=f"At {depth}", at_cm=(30, 30, depth))
        if depth < 20:
            make_note(coral)
    page = as_user(owner).get(list_url(tank))
    (comparison,) = compared(page)
    assert (comparison.verdict, comparison.direction) == ("fits", "lighter")
    assert comparison.for_band.p_value == pytest.approx(0.0286, abs=1e-4)


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


@pytest.mark.parametrize(("condition", "real"), [(3, True), (4, False), (None, None)])
def test_event_page_says_what_its_fall_is_worth(as_user, owner, note, condition, real):
    make_note(note.coral, noted_on=note.noted_on - dt.timedelta(days=9), seen="well", condition=5)
    HealthNote.objects.filter(pk=note.pk).update(condition=condition)
    page = as_user(owner).get(detail_url(note))
    decline = page.context["case"].event.decline
    assert (decline and decline.is_real) is real and "Siebeck" in page.content.decode()

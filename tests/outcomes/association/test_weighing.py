"""Changes of light weighed against notes: the rows they become, the verdict, and who may ask."""

import datetime as dt

import numpy as np
import pytest
from django.core.cache import caches
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import HealthNote
from apps.lightmap.lightmap import tank_light
from apps.outcomes.association import weighing
from apps.outcomes.association.competing_causes import competing_causes
from apps.outcomes.association.events import Direction, corals_with_notes
from apps.outcomes.association.weighing import MOVED_WORDS, visits_of, weigh_book
from apps.outcomes.exposure.exposure import LightBook
from apps.photics.causes.judgement import Ground
from tests.factories import (
    make_coral,
    make_light_change,
    make_note,
    make_survey,
    make_water_event,
)

NOW = timezone.now()
SEEN = HealthNote.Seen


def date_ago(tank, n):
    return tank.today() - dt.timedelta(days=n)


@pytest.fixture
def measured(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=150))
    make_light_change(
        tank, happened_at=NOW - dt.timedelta(days=160), factor=1, day_hours=10, ramp_hours=0
    )
    return tank


def watched(tank, *, brightened, events, weeks=16):
    """Ten corals noted weekly; half were moved up eight weeks ago, some paled after that."""
    for n in range(10):
        coral = make_coral(tank, name=f"Frag {n}", at_cm=(30, 30, 45))
        if n < brightened:
            coral.spots.create(x_cm=30, y_cm=30, depth_cm=5, since=date_ago(tank, 57))
        for week in range(weeks):
            ago = 7 * week
            paled = n < events and ago == 49
            make_note(coral, noted_on=date_ago(tank, ago), seen=SEEN.PALING if paled else SEEN.WELL)


def book_of(tank):
    return LightBook(tank, corals_with_notes(tank), tank_light(tank))


def weigh_tank(tank):
    return weigh_book(book_of(tank))


def visits(tank, direction=Direction.LIGHTER):
    return visits_of(book_of(tank), direction)


def test_tank_without_events_asks_nothing(measured):
    make_note(make_coral(measured), seen=SEEN.WELL)
    assert weigh_tank(measured) == ()


def test_first_note_is_the_event_and_the_rest_of_it_no_visit(measured):
    coral = make_coral(measured)
    for ago, seen in ((90, SEEN.WELL), (60, SEEN.PALING), (50, SEEN.PALING), (5, SEEN.WELL)):
        make_note(coral, noted_on=date_ago(measured, ago), seen=seen)
    found = visits(measured)
    days = [date_ago(measured, ago).toordinal() for ago in (90, 60, 5)]
    assert found.day.tolist() == days and found.event.tolist() == [0, 1, 0]


def test_two_notes_of_a_day_are_one_visit(measured):
    coral = make_coral(measured)
    for _ in range(2):
        make_note(coral, noted_on=date_ago(measured, 9))
    assert visits(measured).event.tolist() == [1]


def test_note_on_a_coral_without_spot_is_left_out_and_counted(measured):
    make_note(make_coral(measured, at_cm=None))
    (found,) = weigh_tank(measured)
    assert found.without_light == 1 and found.association.verdict == "cannot tell"


def test_unknown_hours_let_par_stand_for_daily_light(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=150))
    make_note(make_coral(tank))
    assert visits(tank).by_par


def test_two_events_carry_no_claim(measured):
    watched(measured, brightened=5, events=2)
    (found,) = weigh_tank(measured)
    assert found.association.verdict == "cannot tell" and not found.has_figures


def test_paling_of_just_the_corals_moved_up_points_to_light(measured):
    # The others were taken up as well and put back, so hands alone are no answer.
    watched(measured, brightened=5, events=5)
    for coral in measured.corals.filter(name__gte="Frag 5"):
        coral.spots.create(x_cm=30, y_cm=30, depth_cm=45, since=date_ago(measured, 57))
    (found,) = weigh_tank(measured)
    assert found.association.verdict in ("points to light", "enough to act")
    assert found.association.low > 1


def test_hands_and_light_that_came_together_are_not_told_apart(measured):
    watched(measured, brightened=5, events=5)
    (found,) = weigh_tank(measured)
    assert found.association.verdict == "cannot tell"
    assert Ground.MOVED in found.association.grounds


def test_visits_know_when_corals_came_and_moved_and_who_looked(measured, owner, co_keeper):
    coral = make_coral(measured, added_on=date_ago(measured, 100), at_cm=(30, 30, 45))
    coral.spots.create(x_cm=30, y_cm=30, depth_cm=5, since=date_ago(measured, 40))
    for ago, who in ((60, owner), (40, owner), (30, co_keeper)):
        seen = SEEN.PALING if ago == 30 else SEEN.WELL
        make_note(coral, noted_on=date_ago(measured, ago), seen=seen, created_by=who)
    found = visits(measured)
    assert set(found.arrived) == {date_ago(measured, 100).toordinal()}
    # A move on the day of a note answers what was seen.
    assert np.isnan(found.moved).tolist() == [True, True, False]
    assert found.moved[2] == date_ago(measured, 40).toordinal()
    assert found.keeper.tolist() == [str(owner.pk), str(owner.pk), str(co_keeper.pk)]


def test_paling_of_corals_left_alone_does_not_point_to_light(measured):
    # The five that paled are the last of the ten; the first five were moved up.
    watched(measured, brightened=5, events=0)
    for coral in measured.corals.filter(name__gte="Frag 5"):
        coral.notes.filter(noted_on=date_ago(measured, 49)).update(seen=SEEN.PALING)
    (found,) = weigh_tank(measured)
    assert found.association.verdict in ("cannot tell", "points elsewhere")


def weighing_url(tank):
    return reverse("outcome_weighing", args=[tank.pk])


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_those_let_in_may_ask(request, as_user, measured, who):
    watched(measured, brightened=5, events=5, weeks=10)
    page = as_user(request.getfixturevalue(who)).get(weighing_url(measured))
    (answer,) = page.context["answers"]
    assert answer.judged.within.association.n_events == 5 and answer.next_evidence


def test_strangers_find_nothing(as_user, stranger, measured):
    assert as_user(stranger).get(weighing_url(measured)).status_code == 404


def test_fragment_comes_alone(as_user, owner, measured):
    answer = as_user(owner).get(weighing_url(measured), headers={"HX-Request": "true"})
    assert b"<html" not in answer.content and b'id="outcome-weighing"' in answer.content


def test_more_notes_take_no_more_queries(as_user, owner, measured, django_assert_max_num_queries):
    watched(measured, brightened=5, events=5)
    client = as_user(owner)
    with django_assert_max_num_queries(20):
        client.get(weighing_url(measured))


def with_mishap(tank, *, ago):
    return make_water_event(
        tank, happened_at=NOW - dt.timedelta(days=ago), kind="temperature", could_hurt=True
    )


def test_mishap_competes_for_the_visits_after_it(measured):
    with_mishap(measured, ago=52)
    watched(measured, brightened=5, events=5)
    found = visits_of(
        LightBook(measured, corals_with_notes(measured), tank_light(measured)),
        Direction.LIGHTER,
        competing_causes(measured),
    )
    days = {date_ago(measured, ago).toordinal() for ago in (49, 42)}
    assert set(found.day[found.water_event > 0]) == days


def test_plain_reading_of_the_water_is_no_cause(measured):
    make_water_event(measured, could_hurt=False)
    assert competing_causes(measured) == ()


def test_light_and_mishap_stand_side_by_side(measured):
    with_mishap(measured, ago=52)
    watched(measured, brightened=5, events=5)
    (found,) = weigh_tank(measured)
    light, mishap, moved = found.suspects
    assert light.is_light and light.share.count == 5
    assert moved.words == MOVED_WORDS and moved.share.count == 5
    # Notes of two weeks lie within the fortnight; the five that paled have none in the second.
    assert (mishap.share.count, mishap.share.number, mishap.with_light) == (5, 15, 5)
    assert mishap.free.count == 0


def test_curve_and_groups_come_with_three_events(measured):
    watched(measured, brightened=5, events=5)
    (found,) = weigh_tank(measured)
    assert found.response.ratio > 1 and found.response.groups[0].group == "sps"


def test_strength_is_set_beside_the_change_of_light(measured):
    watched(measured, brightened=5, events=5)
    strengths = zip(measured.corals.all(), (1, 2, 3, 3, 2), strict=False)
    for coral, strength in strengths:
        coral.notes.filter(seen=SEEN.PALING).update(strength=strength)
        coral.spots.filter(depth_cm=5).update(depth_cm=20 - 4 * strength)
    (found,) = weigh_tank(measured)
    assert found.stronger.rho == pytest.approx(1) and found.stronger.exact


def test_another_worker_does_not_weigh_the_same_notes_again(
    measured, settings, tmp_path, monkeypatch
):
    settings.KEPT_DIR, settings.KEPT_MB_MAX = tmp_path / "kept", 64
    caches["maps"].clear()
    watched(measured, brightened=2, events=3)
    first, worked_out = weigh_tank(measured), []
    # What a worker has in memory, the next one has not.
    caches["maps"].clear()
    monkeypatch.setattr(weighing, "weigh_visits", lambda *given, **_: worked_out.append(given))
    again = weigh_tank(measured)
    assert worked_out == []
    assert again[0].association.p_value == first[0].association.p_value

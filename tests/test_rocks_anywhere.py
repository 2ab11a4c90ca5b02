"""Rocks are rough boxes: readings and corals come to lie inside them, and all pages still open."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from apps.corals.models import Spot
from apps.lighting.models import LightChange
from apps.sharing.models import ShareLink
from apps.surveys.models import Reading
from apps.tanks.models import Rock
from tests.factories import (
    hang,
    make_acclimation,
    make_coral,
    make_fixture,
    make_light_change,
    make_note,
    make_rock,
    make_survey,
)

pytestmark = pytest.mark.one_database

# Every page of a tank on which light is told.
OF_TANK = [
    "tank_detail", "light_change_list", "light_map", "light_map_next", "light_compare",
    "forecast_scores", "survey_list", "coral_list", "coral_wall", "outcome_list",
    "outcome_report", "outcome_weighing", "outcome_export", "what_if", "place_coral",
    "acclimation_tank_new", "acclimation_list", "trial_new", "coral_round", "channel_mix",
]  # fmt: skip
LOOKS = [
    "", "?seen=side", "?seen=3d", "?look=sure", "?look=hard", "?depth=20&y=30", "?compare=1",
    "?band=lps",
]  # fmt: skip


@pytest.fixture
def lived_in(tank):
    """A tank over two surveys and three changes of light, with corals that were noted."""
    now = timezone.now()
    begun = make_light_change(tank, happened_at=now - dt.timedelta(days=90), factor=1)
    panel = make_fixture(tank.owner)
    first = hang(begun, panel)
    make_survey(tank, taken_at=now - dt.timedelta(days=80))
    raised = make_light_change(tank, happened_at=now - dt.timedelta(days=40), factor=1)
    hang(raised, panel, number=first.number, height_cm=30)
    make_light_change(
        tank, happened_at=now - dt.timedelta(days=20), reason=LightChange.Reason.CLEANED
    )
    make_survey(tank, taken_at=now - dt.timedelta(days=5))
    for number in range(3):
        coral = make_coral(tank, name=f"Coral {number}")
        for days in (30, 15, 2):
            make_note(coral, noted_on=tank.today() - dt.timedelta(days=days))
    make_acclimation(coral)
    make_rock(tank)
    return tank


def pages(tank):
    """Yield the address of every page of the tank, its surveys, changes and corals."""
    for name in OF_TANK:
        yield reverse(name, args=[tank.pk])
    for look in LOOKS:
        yield reverse("light_map", args=[tank.pk]) + look
    yield reverse("light_map_why", args=[tank.pk]) + "?x=30&y=30&depth=25"
    yield reverse("spot_light", args=[tank.pk]) + "?x=30&y=30&depth=25"
    yield reverse("api-tank-detail", args=[tank.pk])
    yield reverse("tank_export", args=[tank.pk])
    for survey in tank.surveys.all():
        for name in ("survey_detail", "survey_review", "survey_plan", "survey_readings"):
            yield reverse(name, args=[survey.pk])
    for change in tank.light_changes.all():
        yield reverse("light_change_effect", args=[change.pk])
    for coral in tank.corals.all():
        for name in ("coral_detail", "coral_compare", "acclimation_new", "acclimation_of_coral"):
            yield reverse(name, args=[coral.pk])
        for note in coral.notes.all()[:1]:
            yield reverse("outcome_detail", args=[tank.pk, note.pk])
    for plan in tank.acclimations.all():
        yield reverse("acclimation_detail", args=[plan.pk])


def sides(low, high):
    return st.floats(low, high).map(lambda value: round(value, 1))


boxes = st.builds(
    dict,
    x_cm=sides(0, 50), y_cm=sides(0, 50), depth_cm=sides(0, 40),
    length_cm=sides(2, 60), width_cm=sides(2, 60), height_cm=sides(2, 50),
)  # fmt: skip
places = st.tuples(sides(0, 60), sides(0, 60), sides(0, 50))


def put_in(tank, rocks, reading_at, spots_at):
    """Give the tank these rocks, move a reading of each survey and the corals' spots."""
    tank.rocks.all().delete()
    Rock.objects.bulk_create(
        Rock(tank=tank, **(box | clipped(box, tank))) for box in rocks
    )  # fmt: skip
    Reading.objects.filter(survey__tank=tank, position=1).update(**named(reading_at))
    for spot, place in zip(Spot.objects.filter(coral__tank=tank), spots_at, strict=False):
        Spot.objects.filter(pk=spot.pk).update(**named(place))


def clipped(box, tank):
    """Return the sizes of a box, cut where it would leave the tank."""
    ends = (("x_cm", "length_cm"), ("y_cm", "width_cm"), ("depth_cm", "height_cm"))
    inner = (tank.length_cm, tank.width_cm, tank.depth_cm)
    return {
        size: round(min(box[size], end - box[start]), 1)
        for (start, size), end in zip(ends, inner, strict=True)
    }


def named(place):
    return dict(zip(("x_cm", "y_cm", "depth_cm"), place, strict=True))


def broken(client, tank):
    statuses = {path: client.get(path).status_code for path in pages(tank)}
    return {path: status for path, status in statuses.items() if status >= 400}


@settings(
    max_examples=5,
    derandomize=True,
    deadline=None,
    database=None,
    # An example asks for some seventy pages: the first one that breaks is told as it is.
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    rocks=st.lists(boxes, min_size=1, max_size=3),
    reading_at=places,
    spots_at=st.lists(places, min_size=3, max_size=3),
)
def test_every_page_opens_whatever_lies_in_the_rock(lived_in, as_user, rocks, reading_at, spots_at):
    put_in(lived_in, rocks, reading_at, spots_at)
    assert broken(as_user(lived_in.owner), lived_in) == {}


def test_every_page_opens_with_all_within_one_rock(lived_in, as_user):
    whole = {"x_cm": 0, "y_cm": 0, "depth_cm": 0, "length_cm": 60, "width_cm": 60, "height_cm": 50}
    put_in(lived_in, [whole], (30, 30, 25), [(30, 30, 25)] * 3)
    assert broken(as_user(lived_in.owner), lived_in) == {}


def test_a_shared_map_opens_with_its_corals_within_rock(lived_in, client):
    rock = {"x_cm": 5, "y_cm": 5, "depth_cm": 5, "length_cm": 50, "width_cm": 50, "height_cm": 40}
    put_in(lived_in, [rock], (30, 30, 25), [(30, 30, 25)] * 3)
    link = ShareLink(
        tank=lived_in, show_corals=True, expires_at=timezone.now() + dt.timedelta(days=7)
    )
    token = link.renew_token()
    link.save()
    assert client.get(reverse("shared_map", args=[token])).status_code == 200


def test_what_lies_within_rock_is_named_on_the_page_of_a_change(lived_in, as_user):
    rock = {"x_cm": 20, "y_cm": 20, "depth_cm": 20, "length_cm": 20, "width_cm": 20,
            "height_cm": 20}  # fmt: skip
    put_in(lived_in, [rock], (5, 5, 5), [(30, 30, 25), (5, 5, 10), (50, 5, 10)])
    change = lived_in.light_changes.order_by("happened_at").last()
    context = as_user(lived_in.owner).get(reverse("light_change_effect", args=[change.pk])).context
    on_corals = context["on_corals"]
    assert [coral.name for coral in on_corals.within_rock] == ["Coral 0"]
    assert {effect.coral.name for effect in on_corals.effects} == {"Coral 1", "Coral 2"}


def test_a_reading_within_rock_is_named_in_the_review(lived_in, as_user):
    rock = {"x_cm": 20, "y_cm": 20, "depth_cm": 20, "length_cm": 20, "width_cm": 20,
            "height_cm": 20}  # fmt: skip
    put_in(lived_in, [rock], (30, 30, 25), [(5, 5, 10)] * 3)
    survey = lived_in.surveys.order_by("taken_at").last()
    context = as_user(lived_in.owner).get(reverse("survey_review", args=[survey.pk])).context
    # The grid's middle lies there too.
    places = [(one.reading.x_cm, one.reading.depth_cm) for one in context["within_rock"]]
    assert places == [(30, 25), (30, 25)] and context["within_rock"][0].number == 1

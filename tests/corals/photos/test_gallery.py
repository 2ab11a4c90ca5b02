"""The tank wall: who sees it, and in which order."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.corals.models import Photo
from apps.corals.photos.gallery import order_words
from apps.corals.photos.gallery_views import UNSEEN_AT_FIRST
from tests.corals.shots import BROWN, PALE, make_colour
from tests.factories import make_coral, make_note, make_survey


def names(client, tank, by=""):
    context = client.get(reverse("coral_wall", args=[tank.pk]) + by).context
    tiles = [*context["page"], *context["unseen_first"], *context["unseen_more"]]
    return [tile.status.coral.name for tile in tiles]


def note_conditions(coral, *conditions):
    for days, condition in enumerate(reversed(conditions), start=1):
        day = coral.tank.today() - dt.timedelta(days=days)
        make_note(coral, noted_on=day, condition=condition)


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_who_may_see_the_wall(request, as_user, tank, who, status):
    make_coral(tank)
    client = as_user(request.getfixturevalue(who))
    assert client.get(reverse("coral_wall", args=[tank.pk])).status_code == status


def test_brightest_place_comes_first_and_the_unplaced_last(as_user, owner, tank):
    make_survey(tank)
    make_coral(tank, name="Deep", at_cm=(30, 30, 45))
    make_coral(tank, name="High", at_cm=(30, 30, 8))
    make_coral(tank, name="Loose", at_cm=None)
    make_coral(tank, name="Gone", gone_on=tank.today())
    assert names(as_user(owner), tank) == ["High", "Deep", "Loose"]


def test_real_changes_come_first_the_worse_before_the_better(as_user, owner, tank):
    for name, conditions in {
        "Steady": (5, 5), "Eye alone": (5, 4), "Better": (2, 5), "Worse": (6, 4), "New": (3,),
    }.items():  # fmt: skip
        note_conditions(make_coral(tank, name=name), *conditions)
    order = names(as_user(owner), tank, "?by=change")
    assert order == ["Worse", "Better", "Eye alone", "New", "Steady"]


def test_corals_without_a_photo_fold_beside_those_with_one(as_user, owner, tank):
    for n in range(UNSEEN_AT_FIRST + 2):
        make_coral(tank, name=f"Frag {n}")
    client, url = as_user(owner), reverse("coral_wall", args=[tank.pk])
    page = client.get(url)
    assert "empty--drawn" in page.content.decode()
    assert len(page.context["unseen_first"]) == UNSEEN_AT_FIRST
    assert len(page.context["unseen_more"]) == 2
    coral = tank.corals.get(name="Frag 3")
    Photo.objects.create(note=make_note(coral))
    page = client.get(url)
    assert [tile.status.coral for tile in page.context["page"]] == [coral]
    assert not page.context["unseen_first"] and "empty--drawn" not in page.content.decode()
    assert len(page.context["unseen_more"]) == UNSEEN_AT_FIRST + 1


def test_wall_asks_no_more_for_more_corals(as_user, owner, tank):
    client = as_user(owner)

    def count():
        with CaptureQueriesContext(connection) as queries:
            names(client, tank)
        return len(queries)

    note_conditions(make_coral(tank), 5, 4)
    count()
    few = count()
    for i in range(5):
        note_conditions(make_coral(tank, name=f"Coral {i}"), 5, 4)
    assert count() == few


def test_measured_colour_sorts_by_how_far_it_is_from_the_first_photo(as_user, owner, tank):
    for name, last in {"Pale": PALE, "Same": BROWN, "Alone": None}.items():
        coral = make_coral(tank, name=name)
        make_colour(coral, days_ago=30, lab=BROWN)
        if last is not None:
            make_colour(coral, days_ago=1, lab=last, seed=2)
    make_coral(tank, name="A dark one")
    assert names(as_user(owner), tank, "?by=colour") == ["Pale", "Same", "Alone", "A dark one"]
    page = as_user(owner).get(reverse("coral_wall", args=[tank.pk]) + "?by=colour")
    assert [bool(tile.colour) for tile in page.context["page"]] == [True, True, False]
    html = page.content.decode()
    assert html.count(', by\n            <span class="number">') == 2


def test_colour_is_offered_only_where_two_photos_compare(as_user, owner, tank):
    make_colour(make_coral(tank), days_ago=3)
    page = as_user(owner).get(reverse("coral_wall", args=[tank.pk])).content.decode()
    assert "by colour" not in page


@pytest.mark.parametrize(
    ("by", "has_colours", "rests_on", "words"),
    [
        ("light", False, "", "Without a survey"),
        ("light", True, "from the survey of 3 Mar 2026", "from the survey of 3 Mar 2026."),
        ("change", False, "", "condition changed most"),
        ("colour", True, "", "come first."),
        ("colour", False, "", "no coral has two photos"),
    ],
)
def test_the_order_is_said_in_words(by, has_colours, rests_on, words):
    assert words in order_words(by, has_colours=has_colours, rests_on=rests_on)

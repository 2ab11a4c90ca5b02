"""Sizes by calipers, growth in words, two photos compared."""

import datetime as dt

import pytest
from django.urls import reverse

from apps.corals.colour_models import CoralSize
from apps.corals.photos.sizing import growth_story
from tests.corals.shots import make_photo
from tests.factories import make_coral


@pytest.fixture
def coral(tank):
    return make_coral(tank)


def make_size(coral, days_ago, diameter_cm, **overrides):
    day = coral.tank.today() - dt.timedelta(days=days_ago)
    return CoralSize.objects.create(
        coral=coral, measured_on=day, diameter_cm=diameter_cm, **overrides
    )


def test_size_is_entered_by_writers_only(as_user, owner, co_keeper, viewer, stranger, coral):
    url = reverse("size_new", args=[coral.pk])
    typed = {"diameter_cm": "4,5", "measured_on": coral.tank.today()}
    answers = [
        as_user(u).post(url, typed).status_code for u in (owner, co_keeper, viewer, stranger)
    ]
    assert answers == [302, 302, 403, 404]
    assert [size.diameter_cm for size in CoralSize.objects.all()] == [4.5, 4.5]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"diameter_cm": "0"}, "Between"),
        ({"diameter_cm": "wide"}, "not a number"),
        ({"measured_on": "2999-01-01"}, "future"),
        ({"measured_on": "0001-01-01"}, "The year is"),
    ],
)
def test_wrong_size_is_told_and_kept(as_user, owner, coral, typed, said):
    fields = {"diameter_cm": "4.5", "measured_on": coral.tank.today()} | typed
    answer = as_user(owner).post(reverse("size_new", args=[coral.pk]), fields)
    assert answer.status_code == 422 and said in answer.content.decode()
    assert not CoralSize.objects.exists()


def test_size_is_shown_and_typed_in_inches(as_user, owner, coral):
    owner.units = "in"
    owner.save()
    size = make_size(coral, 3, 5.08)
    page = as_user(owner).get(reverse("size_edit", args=[size.pk])).content.decode()
    assert 'value="2"' in page


@pytest.mark.parametrize("name", ["size_edit", "size_remove", "size_restore"])
def test_sizes_are_changed_by_writers_only(as_user, viewer, stranger, coral, name):
    size = make_size(coral, 3, 5.0)
    url = reverse(name, args=[size.pk])
    assert as_user(viewer).post(url).status_code == 403
    assert as_user(stranger).post(url).status_code == 404


def test_size_taken_away_comes_back(as_user, owner, coral):
    size = make_size(coral, 3, 5.0)
    client = as_user(owner)
    client.post(reverse("size_remove", args=[size.pk]))
    assert growth_story(coral).sizes == ()
    client.post(reverse("size_restore", args=[size.pk]))
    assert growth_story(coral).sizes == (size,)


def test_growth_is_said_with_its_range(coral):
    for days_ago, size in ((180, 4.0), (120, 4.4), (60, 4.9), (0, 5.4)):
        make_size(coral, days_ago, size)
    story = growth_story(coral)
    assert "diameter grows" in story.words and "somewhere from" in story.words
    assert story.growth.factor == pytest.approx((5.4 / 4.0) ** (1 / 5.914), abs=0.003)


def test_standing_still_is_not_called_growth(coral):
    for days_ago, size in ((90, 5.0), (45, 5.1), (0, 5.0)):
        make_size(coral, days_ago, size)
    assert "can’t be told" in growth_story(coral).words


def test_two_sizes_tell_no_growth(coral):
    make_size(coral, 90, 4.0)
    make_size(coral, 0, 5.0)
    assert "3 different days" in growth_story(coral).words


def test_areas_are_used_when_photos_tell_all(coral):
    for days_ago, area in ((90, 10.0), (45, 14.0), (0, 20.0)):
        make_size(coral, days_ago, 4.0, area_cm2=area, method="photo", marks={"sd_log": 0.06})
    story = growth_story(coral)
    assert story.of == "area" and story.growth.factor > 1.2


def test_two_photos_are_compared(as_user, owner, viewer, stranger, coral):
    before, after = make_photo(coral, days_ago=40), make_photo(coral, shift=(0.05, 0.0), seed=4)
    url = reverse("coral_compare", args=[coral.pk])
    page = as_user(owner).get(url)
    result = page.context["comparison"]
    assert (result.before, result.after) == (before, after) and result.aligned
    # The later photo lies 5 % to the right of where the earlier one has the coral.
    assert float(result.matrix.split()[4]) == pytest.approx(-0.05 * 720, abs=4)
    codes = [as_user(user).get(url).status_code for user in (viewer, stranger)]
    assert codes == [200, 404]


def test_other_photos_may_be_chosen(as_user, owner, coral):
    photos = [make_photo(coral, days_ago=d, seed=d) for d in (40, 20, 0)]
    url = reverse("coral_compare", args=[coral.pk])
    page = as_user(owner).get(url, {"before": photos[1].key, "after": "nonsense"})
    result = page.context["comparison"]
    assert (result.before, result.after) == (photos[1], photos[2])


def test_one_photo_is_too_few_to_compare(as_user, owner, coral):
    make_photo(coral)
    page = as_user(owner).get(reverse("coral_compare", args=[coral.pk]))
    assert page.context["comparison"] is None and len(page.context["photos"]) == 1

"""What a map rests on, what contradicts, which rocks shade otherwise: in words, and who may act."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.history import light_history
from apps.lightmap.joint_input import Contribution
from apps.lightmap.page.joined_words import (
    contradiction_words,
    heading_words,
    rests_on_words,
    rock_words,
)
from apps.photics.field.rock_fit import RockFit
from tests.factories import make_light_change, make_lit_survey, make_survey

NOW = timezone.now()


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def words_of(tank, *counts, words=rests_on_words):
    rests_on = [
        Contribution(k, days_ago(10 * (len(counts) - k - 1)), count)
        for k, count in enumerate(counts)
    ]
    return words(rests_on, light_history(tank), tank.zone)


def test_a_survey_alone_needs_no_words(tank):
    assert words_of(tank, 27) == ""


def test_each_survey_is_named_with_the_changes_since(tank):
    make_light_change(tank, happened_at=days_ago(4), factor=0.9)
    make_light_change(tank, happened_at=days_ago(2), factor=0.9)
    words = words_of(tank, 27, 3)
    assert words.startswith("27 readings") and "2 light changes" in words
    assert " and 3 from " in words


def test_many_surveys_are_counted_together(tank):
    assert words_of(tank, 10, 5, 4, 2, 1).startswith("21 readings from 4 surveys since ")


@pytest.mark.parametrize(
    ("counts", "is_headed"),
    [((27, 2), True), ((27, 13), True), ((27, 14), False), ((4, 3), True), ((4, 4), False)],
)
def test_a_check_alone_does_not_head_the_map(tank, counts, is_headed):
    """Half of the largest survey's readings, and four, make a survey that carries its map."""
    words = words_of(tank, *counts, words=heading_words)
    assert words == (words_of(tank, *counts) if is_headed else "")


def test_the_heading_names_two_surveys_and_counts_more(tank):
    words = words_of(tank, 26, 27, 2, words=heading_words)
    assert words.startswith("53 readings from 2 surveys since ") and " and 2 from " in words


def test_a_checked_map_is_headed_by_all_it_rests_on(as_user, owner, tank):
    full = make_lit_survey(tank, taken_at=days_ago(20))
    rows = [(r.x_cm, r.y_cm, r.depth_cm, r.value_umol) for r in full.readings.all()]
    page = page_of(as_user(owner), tank, make_survey(tank, readings=rows[4:6])).context["page"]
    assert page.moment.title.endswith(page.rests_on) and page.rests_on
    assert page.reading_count == len(rows) + 2
    alone = page_of(as_user(owner), tank, full).context["page"]
    assert alone.moment.title.startswith("Measured")


@pytest.mark.parametrize(
    ("ratio", "words"), [(None, ""), (0.6, "40\u00a0% less light"), (1.25, "25\u00a0% more light")]
)
def test_a_contradiction_says_how_far_and_which_way(ratio, words):
    assert words in contradiction_words(ratio)
    assert bool(contradiction_words(ratio)) == bool(words)


@pytest.mark.parametrize(
    ("fit", "words"),
    [
        (RockFit(1, 0.0), "no shadow"),
        (RockFit(1, 0.75), "shades less"),
        (RockFit(1, 1.2), "shades more"),
        (RockFit(1, is_soft=True), "as a mound"),
    ],
)
def test_a_rock_that_shades_otherwise_is_named(fit, words):
    (note,) = rock_words([fit], ["arch", "step"])
    assert "“step”" in note and words in note


@pytest.fixture
def contradicting(tank):
    old = make_lit_survey(tank, taken_at=days_ago(20))
    rows = [(r.x_cm, r.y_cm, r.depth_cm, 0.6 * r.value_umol) for r in old.readings.all()]
    return make_survey(tank, taken_at=days_ago(1), readings=rows[::5])


def page_of(client, tank, survey):
    return client.get(reverse("light_map", args=[tank.pk]), {"survey": survey.pk})


def test_the_map_tells_the_contradiction_and_offers_to_start_afresh(
    as_user, owner, tank, contradicting
):
    response = page_of(as_user(owner), tank, contradicting)
    text = response.content.decode()
    assert 'id="contradiction"' in text and 'id="rests-on"' in text
    assert reverse("survey_start_afresh", args=[contradicting.pk]) in text
    review = as_user(owner).get(reverse("survey_review", args=[contradicting.pk]))
    assert 'id="contradiction"' in review.content.decode()


def test_a_viewer_reads_it_but_has_no_button(as_user, viewer, tank, contradicting):
    text = page_of(as_user(viewer), tank, contradicting).content.decode()
    assert 'id="contradiction"' in text
    assert reverse("survey_start_afresh", args=[contradicting.pk]) not in text


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 303), ("co_keeper", 303), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_start_afresh(request, as_user, contradicting, who, status):
    client = as_user(request.getfixturevalue(who))
    address = reverse("survey_start_afresh", args=[contradicting.pk])
    assert client.post(address, {"afresh": "on"}).status_code == status
    contradicting.refresh_from_db()
    assert contradicting.starts_anew == (status == 303)


def test_started_afresh_the_map_rests_on_it_alone_and_back(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(30))
    new = make_survey(tank, taken_at=days_ago(1))
    client, address = as_user(owner), reverse("survey_start_afresh", args=[new.pk])
    for value, alone in (("on", True), ("off", False)):
        client.post(address, {"afresh": value})
        page = page_of(client, tank, new).context["page"]
        assert (page.rests_on == "") == alone

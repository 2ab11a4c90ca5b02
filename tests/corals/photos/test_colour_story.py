"""A coral's colours together: baseline, own range, the question asked, what the page draws."""

import datetime as dt

import numpy as np
import pytest
from django.urls import reverse

from apps.corals.colour_models import PhotoColour
from apps.corals.coral.timeline import time_axis
from apps.corals.models import Photo
from apps.corals.photos.colour_drawing import colour_drawing
from apps.corals.photos.colour_story import (
    LESS_SURE,
    ColourPoint,
    colour_story,
    hue_words,
    sure_words,
)
from apps.photics.colour.scales import Value
from tests.corals.shots import BROWN, PALE, make_colour
from tests.factories import make_coral, make_note


@pytest.fixture
def coral(tank):
    return make_coral(tank)


def write_colours(coral, labs, *, every_days=7, **fields):
    """Write measured colours without photos' files: oldest first, the last today."""
    rng = np.random.default_rng(1)
    made = []
    for i, lab in enumerate(labs):
        day = coral.tank.today() - dt.timedelta(days=every_days * (len(labs) - 1 - i))
        photo = Photo.objects.create(note=make_note(coral, noted_on=day, seen="well"))
        stated = np.array(lab, float) + rng.normal(0, 0.5, 3)
        made.append(
            PhotoColour.objects.create(
                photo=photo,
                lightness=stated[0],
                a_star=stated[1],
                b_star=stated[2],
                covariance=np.diag([4.0, 1.0, 2.0]).ravel().tolist(),
                **({"reference_kind": "white", "light": "white"} | fields),
            )
        )
    return made


def test_no_photo_tells_nothing(coral):
    story = colour_story(coral)
    assert (story.points, story.question, story.compared_count) == ((), None, 0)


def test_first_photo_is_the_baseline_and_a_pale_one_is_told_paler(coral):
    make_colour(coral, days_ago=30, lab=BROWN)
    make_colour(coral, days_ago=1, lab=PALE, balance=(0.85, 1.0, 1.15), seed=2)
    first, second = colour_story(coral).points
    assert first.is_baseline and first.difference is None
    assert second.difference.low > 5 and "paler" in second.change_words


def test_same_colour_is_not_told_apart(coral):
    make_colour(coral, days_ago=30)
    make_colour(coral, exposure=0.5, seed=2)
    second = colour_story(coral).points[1]
    assert (second.difference.low, second.sure_words) == (0, "") and second.change_words


def test_other_light_is_not_compared(coral):
    write_colours(coral, [BROWN] * 3)
    write_colours(coral, [PALE], light="mixed")
    story = colour_story(coral)
    assert story.compared_count == 3 and story.others_count == 1
    (other,) = (p for p in story.points if not p.compared)
    assert other.is_baseline


def test_short_history_asks_nothing(coral):
    write_colours(coral, [BROWN] * 7 + [PALE])
    assert colour_story(coral).question is None


@pytest.mark.parametrize(
    ("lab", "words", "seen"),
    [
        (PALE, "paler", "paling"),
        ((50.0, 8.0, 32.0), "browner", "browning"),
        ((57.8, -4.0, -12.0), "less brown", "colour_gain"),
    ],
)
def test_newest_out_of_its_own_range_is_asked_about(coral, lab, words, seen):
    write_colours(coral, [BROWN] * 12 + [lab])
    question = colour_story(coral).question
    assert (question.words, question.seen) == (words, seen)


def test_within_its_range_asks_nothing(coral):
    write_colours(coral, [BROWN] * 13)
    assert colour_story(coral).question is None


@pytest.mark.parametrize("answer", ["seen", "not_so"])
def test_answered_question_is_not_asked_again(coral, answer):
    newest = write_colours(coral, [BROWN] * 12 + [PALE])[-1]
    PhotoColour.objects.filter(pk=newest.pk).update(answer=answer)
    assert colour_story(coral).question is None


def test_confirmed_event_stays_out_of_the_own_range(coral):
    rows = write_colours(coral, [BROWN] * 12 + [PALE])
    wide = colour_story(coral).ranges["paleness"]
    PhotoColour.objects.filter(pk=rows[-1].pk).update(answer="seen")
    narrow = colour_story(coral).ranges["paleness"]
    assert narrow.n == 12 and narrow.high - narrow.low < wide.high - wide.low


# --- Other cameras ------------------------------------------------------------------------------
NEARLY = (66.0, 4.0, 22.0)


def told(coral, marks, labs=(BROWN, NEARLY), **fields):
    """The newest point of colours whose photos bear these marks of their cameras."""
    rows = write_colours(coral, labs, **fields)
    for row, mark in zip(rows, marks, strict=True):
        Photo.objects.filter(pk=row.photo_id).update(camera_mark=mark)
    return colour_story(coral).points[-1]


def test_one_camera_tells_a_change_that_another_can_not(tank):
    same, other = (told(make_coral(tank), marks) for marks in (("a", "a"), ("a", "b")))
    assert same.difference.low > 0 and "paler" in same.change_words
    assert same.less_sure_words == "" and same.sentence.startswith(("Clearly", "Probably"))
    assert other.difference.low == 0 and other.less_sure_words == LESS_SURE[False]
    assert other.sentence and other.sure_words == ""


@pytest.mark.parametrize("marks", [("", ""), ("a", ""), ("", "b")])
def test_unknown_camera_is_less_sure_and_says_so(coral, marks):
    point = told(coral, marks)
    assert point.difference.low == 0 and point.less_sure_words == LESS_SURE[None]


def test_great_change_shows_by_another_camera_too(coral):
    point = told(coral, ("a", "b"), (BROWN, PALE))
    assert point.difference.low > 0 and point.less_sure_words


def test_printed_card_needs_no_same_camera(coral):
    error = {"left": [0.5] * 60, "covariance": np.eye(3).ravel().tolist()}
    point = told(coral, ("a", "b"), reference_kind="card", card_error=error)
    assert point.less_sure_words == "" and point.difference.low > 0


def test_another_camera_alone_asks_no_question(tank):
    asked = []
    for last in ("a", "b"):
        coral = make_coral(tank)
        told(coral, ["a"] * 12 + [last], [BROWN] * 12 + [(63.0, 5.0, 25.0)])
        asked.append(colour_story(coral).question)
    assert asked[0] is not None and asked[1] is None


@pytest.mark.parametrize(
    ("low", "words"), [(0.0, ""), (0.1, "probably"), (2.9, "probably"), (3.0, "clearly")]
)
def test_how_sure_goes_by_the_low_end(low, words):
    assert sure_words(Value(8.0, low, 12.0)) == words


def test_page_asks_writers_and_only_tells_viewers(as_user, owner, viewer, coral):
    write_colours(coral, [BROWN] * 12 + [PALE])
    page = reverse("coral_detail", args=[coral.pk])
    query, stated = (as_user(user).get(page).content.decode() for user in (owner, viewer))
    assert 'id="colour-question"' in query and 'value="not_so"' in query
    assert 'id="colour-question"' in stated and 'value="not_so"' not in stated


def test_removed_notes_leave_the_story(coral):
    rows = write_colours(coral, [BROWN] * 3)
    rows[1].photo.note.remove()
    assert len(colour_story(coral).points) == 2


def test_drawing_needs_two_colours(coral):
    write_colours(coral, [BROWN])
    axis = time_axis(coral, list(coral.notes.all()), now())
    assert colour_drawing(colour_story(coral), (), axis, coral.tank.zone) is None


def now():
    from django.utils import timezone

    return timezone.now()


def test_drawing_places_each_photo_on_the_axis(coral):
    write_colours(coral, [BROWN] * 9)
    axis = time_axis(coral, list(coral.notes.all()), now())
    drawing = colour_drawing(colour_story(coral), (), axis, coral.tank.zone)
    places = [patch.at for patch in drawing.patches]
    assert len(places) == 9 and places == sorted(places)
    assert drawing.usual and drawing.dots.count("M") == 9


@pytest.mark.parametrize(("last", "key"), [(PALE, "paleness"), (BROWN, "browning")])
def test_drawing_follows_what_the_coral_did(coral, last, key):
    first = BROWN if last is PALE else PALE
    write_colours(coral, [first, first, last])
    axis = time_axis(coral, list(coral.notes.all()), now())
    drawing = colour_drawing(colour_story(coral), (), axis, coral.tank.zone)
    assert drawing.key == key
    first_y, last_y = (float(drawing.dots.split("M")[at].split(" ")[1][:-2]) for at in (1, 3))
    assert last_y < first_y


@pytest.mark.parametrize(
    ("hue", "chroma", "words"),
    [(80, 20, "yellow-brown"), (250, 20, "blue"), (350, 20, "pink"), (80, 2, "nearly grey")],
)
def test_hue_words(hue, chroma, words):
    assert hue_words(hue, chroma) == words


def test_story_is_one_query(coral, django_assert_num_queries):
    write_colours(coral, [BROWN] * 9)
    with django_assert_num_queries(1):
        colour_story(coral)


@pytest.mark.parametrize(
    ("facts", "words", "remarks"),
    [
        ({"is_baseline": True, "compared": True}, "this photo is the baseline", ""),
        (
            {"change_words": "paler than its baseline", "compared": True},
            "paler than its baseline of 3 Mar 2026",
            "paler than its baseline",
        ),
        (
            {"change_words": "paler than its baseline"},
            "paler than its baseline of 3 Mar 2026",
            "paler than its baseline; other light or reference",
        ),
        ({}, "", "other light or reference"),
    ],
)
def test_a_colour_says_how_it_stands_to_its_baseline(facts, words, remarks):
    point = ColourPoint(None, None, None, (), baseline_day=dt.date(2026, 3, 3), **facts)
    assert (point.baseline_words, point.remarks) == (words, remarks)


# --- Two photos side by side ------------------------------------------------------------------


def compared_page(client, coral):
    return client.get(reverse("coral_compare", args=[coral.pk]))


@pytest.fixture
def seen(as_user, owner, coral, monkeypatch):
    # The rows have no files to lay on each other.
    monkeypatch.setattr("apps.corals.photos.comparing.thumbnail_codes", no_file)
    return lambda: compared_page(as_user(owner), coral)


def no_file(photo):
    raise FileNotFoundError


def sized(rows):
    Photo.objects.filter(colour__in=rows).update(width_px=40, height_px=30, image="x.jpg")
    return rows


def test_side_by_side_says_how_surely_the_colour_changed(seen, coral):
    sized(write_colours(coral, [BROWN, PALE]))
    page = seen()
    between, text = page.context["between"], page.content.decode()
    assert (between.sure_words, between.less_sure_words) == ("clearly", LESS_SURE[None])
    assert between.sentence in text and between.less_sure_words in text


def test_side_by_side_of_other_light_does_not_compare(seen, coral):
    sized(write_colours(coral, [BROWN], every_days=30))
    sized(write_colours(coral, [PALE], light="mixed"))
    assert seen().context["between"].sentence == ""


def test_side_by_side_without_a_colour_says_what_is_needed(seen, coral):
    rows = sized(write_colours(coral, [BROWN, PALE]))
    rows[0].remove()
    assert seen().context["between"] is None

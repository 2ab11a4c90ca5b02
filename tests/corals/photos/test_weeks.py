"""All corals by week: who sees it, who comes first, what is marked, and two dates side by side."""

import datetime as dt
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.corals.models import HealthNote, Photo
from apps.corals.photos.weeks import (
    FRESH_DAYS,
    WEEK,
    WEEKS_SHOWN,
    gallery,
    monday_of,
    pairs,
    sign_changes,
)
from tests.factories import make_coral, make_note


def ago(tank, days):
    return tank.today() - dt.timedelta(days=days)


def note(coral, days, seen="well", **more):
    return make_note(coral, noted_on=ago(coral.tank, days), seen=seen, **more)


def photo_of(note):
    return Photo.objects.create(note=note)


def url(tank, query=""):
    return reverse("coral_gallery", args=[tank.pk]) + query


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
@pytest.mark.parametrize("query", ["", "?first=2026-01-01&second=2026-03-01"])
def test_who_may_see_the_gallery(request, as_user, tank, who, status, query):
    photo_of(note(make_coral(tank), 3))
    assert as_user(request.getfixturevalue(who)).get(url(tank, query)).status_code == status


def test_most_unhappy_comes_first_and_never_noted_last(tank):
    note(make_coral(tank, name="Well"), 2)
    note(make_coral(tank, name="Pale"), 2, "paling", condition=3)
    note(make_coral(tank, name="Dying"), 5, "tissue_loss", condition=2)
    note(make_coral(tank, name="Unwell long ago"), FRESH_DAYS + 1, "tissue_loss")
    note(make_coral(tank, name="Unwell a month ago"), FRESH_DAYS, "polyps_in")
    make_coral(tank, name="New")
    make_coral(tank, name="Gone", gone_on=tank.today())
    rows = gallery(tank, until=None, by="worry").rows
    assert [row.coral.name for row in rows] == [
        "Dying", "Pale", "Unwell a month ago", "Unwell long ago", "Well", "New",
    ]  # fmt: skip
    names = [row.coral.name for row in gallery(tank, until=None, by="name").rows]
    assert names == sorted(names)


def changes(coral):
    notes = list(HealthNote.objects.filter(coral=coral).order_by("noted_on", "pk"))
    return [(change.way, change.words) for change in sign_changes(notes)]


def test_only_what_a_note_says_anew_is_marked(tank):
    coral = make_coral(tank)
    for days, seen in (
        (60, "well"), (50, "paling"), (45, "paling"), (40, "bleaching"), (35, "tissue_loss"),
        (30, "paling"), (25, "browning"), (20, "growth"), (10, "well"),
    ):  # fmt: skip
        note(coral, days, seen)
    assert changes(coral) == [
        ("worse", "paling"), ("worse", "bleaching"), ("worse", "tissue loss"),
        ("better", "paling"), ("other", "browning"), ("better", "looks well"),
    ]  # fmt: skip


def test_poor_condition_alone_is_a_change(tank):
    coral = make_coral(tank)
    note(coral, 9, "growth", condition=5)
    note(coral, 2, "growth", condition=4)
    assert changes(coral) == [("worse", "a little off")]


def test_first_note_that_it_looks_well_is_no_change(tank):
    coral = make_coral(tank)
    note(coral, 9)
    assert changes(coral) == []


def test_week_shows_its_newest_photo_and_how_many_more(tank):
    coral = make_coral(tank)
    monday = monday_of(tank.today()) - WEEK
    for days in (0, 6):
        made = make_note(coral, noted_on=monday + dt.timedelta(days=days), seen="well")
        newest = photo_of(made)
    cell = gallery(tank, until=monday, by="name").rows[0].cells[0]
    assert (cell.photo.key, cell.more, cell.monday) == (newest.key, 1, monday)


def test_gallery_ends_with_the_newest_photo_and_turns_back(as_user, owner, tank):
    coral = make_coral(tank, since=ago(tank, 500))
    for days in (400, 100):
        photo_of(note(coral, days))
    shown = gallery(tank, until=None, by="name")
    assert shown.mondays[0] == monday_of(ago(tank, 100)) and shown.later is None
    assert len(shown.mondays) == WEEKS_SHOWN and shown.earlier == shown.mondays[-1] - WEEK
    before = gallery(tank, until=shown.earlier, by="name")
    assert before.mondays[0] == shown.earlier and before.later == shown.mondays[0]
    page = as_user(owner).get(url(tank)).content.decode()
    assert f"until={shown.earlier:%Y-%m-%d}" in page


@pytest.mark.parametrize("until", ["soon", "0001-01-01", "9999-12-31", "2026-13-40"])
def test_unreadable_date_shows_the_newest_weeks(as_user, owner, tank, until):
    photo_of(note(make_coral(tank), 3))
    shown = as_user(owner).get(url(tank, f"?until={until}")).context["shown"]
    assert shown.mondays[0] == monday_of(ago(tank, 3))


def test_state_has_a_word_and_no_colour_alone(as_user, owner, tank):
    note(make_coral(tank), 3, "browning")
    page = as_user(owner).get(url(tank)).content.decode()
    mark = re.search(
        r'<span class="change change--worse" title.*?Worse: </span>\s*browning', page, re.S
    )
    assert mark


def test_two_dates_take_the_photos_nearest_to_them(tank):
    coral = make_coral(tank, since=ago(tank, 200))
    taken = {days: photo_of(note(coral, days)).key for days in (100, 60, 10)}
    make_coral(tank, name="Without a photo")
    (pair,) = pairs(tank, ago(tank, 90), ago(tank, 1))
    assert (pair.before.key, pair.after.key) == (taken[100], taken[10])
    (pair,) = pairs(tank, ago(tank, 12), ago(tank, 1))
    assert pair.is_one


def test_side_by_side_leads_to_one_over_the_other(as_user, owner, tank):
    coral = make_coral(tank, since=ago(tank, 200))
    first, second = (photo_of(note(coral, days)).key for days in (100, 10))
    page = as_user(owner).get(url(tank, f"?first={ago(tank, 100)}&second={ago(tank, 10)}"))
    compare = f"{reverse('coral_compare', args=[coral.pk])}?before={first}&amp;after={second}"
    assert compare in page.content.decode()


@pytest.mark.parametrize("query", ["?first=2026-01-01", "?first=soon&second=2026-01-01"])
def test_two_dates_that_are_not_say_so_at_their_field(as_user, owner, tank, query):
    photo_of(note(make_coral(tank), 3))
    answer = as_user(owner).get(url(tank, query))
    assert answer.status_code == 422 and answer.context["shown"] is not None
    assert "field__error" in answer.content.decode()


def test_deleted_note_shows_no_photo_and_no_change(tank):
    made = note(make_coral(tank), 3, "browning")
    photo_of(made)
    made.remove()
    (row,) = gallery(tank, until=None, by="worry").rows
    assert not any(cell.photo or cell.changes for cell in row.cells) and row.latest is None


def test_corals_with_nothing_to_see_in_these_weeks_are_named_below(as_user, owner, tank):
    seen, pale, quiet = (make_coral(tank, name=name) for name in ("Seen", "Pale", "Quiet"))
    photo_of(note(seen, 3))
    note(pale, 3, "paling")
    note(quiet, 3)
    page = as_user(owner).get(url(tank, "?by=name"))
    shown = page.context["shown"]
    assert [row.coral for row in page.context["page"]] == [pale, seen]
    assert [row.coral for row in shown.empty] == [quiet] and shown.with_photo == 1
    assert 'id="gallery-empty"' in page.content.decode()


@pytest.mark.parametrize(("query", "is_open"), [("", False), ("?by=name", True)])
def test_without_a_photo_the_first_thing_is_to_take_one(as_user, owner, tank, query, is_open):
    note(make_coral(tank), 3, "paling")
    page = as_user(owner).get(url(tank, query)).content.decode()
    assert "empty--drawn" in page and reverse("coral_round", args=[tank.pk]) in page
    assert ('id="weeks-of-notes" open' in page) == is_open


def test_tank_without_corals_says_so(as_user, owner, tank):
    assert "empty--drawn" in as_user(owner).get(url(tank)).content.decode()


def test_queries_do_not_grow_with_corals(as_user, owner, tank):
    client = as_user(owner)

    def queries():
        with CaptureQueriesContext(connection) as captured:
            assert client.get(url(tank)).status_code == 200
        return len(captured)

    photo_of(note(make_coral(tank), 3))
    queries()
    few = queries()
    for k in range(8):
        photo_of(note(make_coral(tank, name=f"Coral {k}"), 3, "paling"))
    assert queries() == few
